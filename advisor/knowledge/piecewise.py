"""A file of entries that can't be read as a whole, read entry by entry: each slip is told where it is, and the sound
entries around it are still looked at, so that one missing comma is one fault.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from .places import Fault
from .source import Document, parse_yaml, read_yaml
from .yaml_text import BREAK

MOST_BROKEN = 20
"""Entries that can't be read and are told at once."""

_ENTRY = re.compile(r"( *)- +(?:\{|(?!(?:all|any|none):)[\w ]+:)")
_NAMED = re.compile(r"""\s*- +\{?\s*(?:[^:,{}]*:)?\s*["']?(?P<name>[^,:{}"'#\n]+)""")
_BARE = re.compile(r"\s*- +\{?\s*[\w ]*? (?P<name>[^\s,:{}]+)\s*[,}\n]")


@dataclass(frozen=True, slots=True)
class _Piece:
    """An entry as the lines it is written in; counting starts at 0, `end` is past the last."""

    start: int
    end: int


def read_entries(path: Path, name: str) -> Document:
    """The document of a file that holds one list of entries; entries that can't be read are left out, with a fault for
    each, and `lost` holds what may be their names."""
    whole = read_yaml(path, name)
    if whole.data is not None or not whole.source or not whole.faults:
        return whole
    lines = [found[0] for found in re.finditer(rf"(?s).*?(?:{BREAK.pattern})|.+$", whole.source)]
    pieces = list(_pieces(lines))
    broken = [piece for piece in pieces if _alone(lines, piece, name) is None]
    at = whole.faults[0].place.line - 1
    if not any(piece.start <= at < piece.end for piece in broken):
        return whole
    rest = parse_yaml("".join(_blank(lines, broken)).encode(), name) if len(broken) < len(pieces) else whole
    if rest.data is None:
        rest = Document(name, whole.source)
    rest.faults += _told(lines, broken, whole)
    rest.lost = frozenset(found for piece in broken for found in _names(lines[piece.start]))
    return rest


def _pieces(lines: Sequence[str]) -> Iterator[_Piece]:
    """The entries: they begin with '- ' at the indentation of the first."""
    first = next((found[1] for line in lines if (found := _ENTRY.match(line))), None)
    if first is None:
        return
    starts = [number for number, line in enumerate(lines) if (found := _ENTRY.match(line)) and found[1] == first]
    yield from map(_Piece, starts, [*starts[1:], len(lines)])


def _alone(lines: Sequence[str], piece: _Piece, name: str) -> object:
    """What an entry holds when it is read by itself; None where it can't be."""
    return parse_yaml("".join(lines[piece.start : piece.end]).encode(), name).data


def _told(lines: Sequence[str], broken: Sequence[_Piece], whole: Document) -> Iterator[Fault]:
    """A fault for each entry that can't be read: for the first one that of the whole file."""
    first = whole.faults[0]
    for piece in broken[:MOST_BROKEN]:
        if piece.start <= first.place.line - 1 < piece.end:
            yield first
            continue
        text = "".join(_blank(lines[: piece.end], [_Piece(0, piece.start)]))
        yield from parse_yaml(text.encode(), whole.file).faults[:1]
    if len(broken) > MOST_BROKEN:
        what = f"{len(broken) - MOST_BROKEN:,} more entries of this file can't be read"
        yield Fault(first.place, what, "mend the others first")


def _blank(lines: Sequence[str], broken: Sequence[_Piece]) -> list[str]:
    """The lines with those of broken entries emptied, so that all others stay where they are."""
    kept = list(lines)
    for piece in broken:
        for number in range(piece.start, piece.end):
            kept[number] = re.sub(r"[^\r\n\x85\u2028\u2029]", " ", kept[number])
    return kept


def _names(line: str) -> Iterator[str]:
    """What may be the name of an entry, from its first line."""
    for pattern in (_NAMED, _BARE):
        if found := pattern.match(line):
            yield from {found["name"].strip(), found["name"].split()[0] if found["name"].split() else ""} - {""}
