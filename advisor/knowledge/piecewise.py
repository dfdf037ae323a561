"""A file of entries that can't be read as a whole, read entry by entry: each slip is told where it is, and the sound
entries around it are still looked at, so that one missing comma is one fault. Where it is plain what a line was meant
to be, it is taken for that once it is told, and the rest of its entry is looked at too.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from .places import Fault
from .put_right import put_right
from .source import Document, parse_yaml, read_yaml
from .yaml_text import BREAK

MOST_BROKEN = 20
"""Entries that can't be read and are told at once."""
MOST_MENDED = 8
"""Lines of an entry that are taken for what they were meant to be."""

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
    broken = [piece for piece in pieces if _alone(lines, piece) is None]
    at = whole.faults[0].place.line - 1
    if not any(piece.start <= at < piece.end for piece in broken):
        return whole
    faults = _told(lines, broken, whole)
    lost = [piece for piece in broken if _alone(lines, piece) is None]
    rest = parse_yaml("".join(_blank(lines, lost)).encode(), name) if len(lost) < len(pieces) else whole
    if rest.data is None:
        rest = Document(name, whole.source)
    rest.written = tuple(BREAK.split(whole.source))
    rest.faults = [replace(fault, place=rest.in_file(fault.place)) for fault in (*rest.faults, *faults)]
    rest.lost = frozenset(found for piece in lost for found in _names(lines[piece.start]))
    return rest


def _pieces(lines: Sequence[str]) -> Iterator[_Piece]:
    """The entries: they begin with '- ' at the indentation of the first."""
    first = next((found[1] for line in lines if (found := _ENTRY.match(line))), None)
    if first is None:
        return
    starts = [number for number, line in enumerate(lines) if (found := _ENTRY.match(line)) and found[1] == first]
    yield from map(_Piece, starts, [*starts[1:], len(lines)])


def _alone(lines: Sequence[str], piece: _Piece) -> object:
    """What an entry holds when it is read by itself; None where it can't be."""
    return parse_yaml("".join(lines[piece.start : piece.end]).encode(), "").data


def _told(lines: list[str], broken: Sequence[_Piece], whole: Document) -> list[Fault]:
    """The faults of the entries that can't be read; lines of which it is plain what was meant are put right."""
    first = whole.faults[0]
    told: list[Fault] = []
    for piece in broken[:MOST_BROKEN]:
        within = [first] if piece.start <= first.place.line - 1 < piece.end else _read(lines, piece, whole.file)
        for _ in range(MOST_MENDED):
            told += within[:1]
            if not within or not put_right(lines, within[0], piece.start, piece.end):
                break
            if _alone(lines, piece) is not None:
                break
            within = _read(lines, piece, whole.file)
    if len(broken) > MOST_BROKEN:
        what = f"{len(broken) - MOST_BROKEN:,} more entries of this file can't be read"
        told.append(Fault(first.place, what, "mend the others first"))
    return told


def _read(lines: Sequence[str], piece: _Piece, name: str) -> list[Fault]:
    """What keeps an entry from being read, placed in its file."""
    text = "".join(_blank(lines[: piece.end], [_Piece(0, piece.start)]))
    return parse_yaml(text.encode(), name).faults[:1]


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
