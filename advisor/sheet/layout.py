"""Paragraphs and tables, laid out for a given number of columns.

Whoever has something to show says it as blocks; only here does a width matter, so that terminal, plain pipe
and file differ in nothing but width and colour. A style is a name ("say", "dim", "stop"); plain output drops
it, and no meaning hangs on it alone.
"""

import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

NARROWEST = 24


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph. ``first`` stands before its first line, and the other lines hang under the text."""

    text: str
    style: str = ""
    indent: int = 0
    first: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under heads; ``right`` names the columns that are set flush right."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    indent: int = 2


@dataclass(frozen=True, slots=True)
class Sketch:
    """A drawing in characters: ``paint`` gives its lines for a number of columns."""

    paint: Callable[[int], Sequence[str]]
    style: str = ""


Block = Para | Table | Sketch
GAP = Para("")


def reworded(blocks: Iterable[Block], say: Callable[[str], str]) -> Iterator[Block]:
    """The blocks with every text as ``say`` puts it; a drawing stays."""
    for block in blocks:
        if isinstance(block, Para):
            yield replace(block, text=say(block.text), first=say(block.first))
        elif isinstance(block, Table):
            yield replace(block, rows=tuple(tuple(map(say, row)) for row in block.rows))
        else:
            yield block


def heading(text: str) -> tuple[Para, Para]:
    """A heading with an empty line before it."""
    return GAP, Para(text, "head")


def lines(blocks: Iterable[Block], width: int) -> Iterator[tuple[str, str]]:
    """(style, line) for every line of the blocks, none longer than ``width`` columns (at least 24)."""
    width = max(width, NARROWEST)
    for block in blocks:
        if isinstance(block, Table):
            yield from _table(block, width)
        elif isinstance(block, Sketch):
            yield from ((block.style, line[:width]) for line in block.paint(width))
        else:
            for line in _wrapped(block.text, width, " " * min(block.indent, width // 4) + block.first):
                yield block.style, line


def plain(blocks: Iterable[Block], width: int) -> str:
    """The blocks as plain text."""
    return "\n".join(line for _, line in lines(blocks, width)) + "\n"


def _wrapped(text: str, width: int, before: str) -> list[str]:
    after = " " * len(before)
    if len(before) > width // 2:
        after = "    "
    made = textwrap.wrap(
        text,
        width,
        initial_indent=before,
        subsequent_indent=after,
        break_on_hyphens=False,
        break_long_words=True,
    )
    return [line.rstrip() for line in made] or [before.rstrip()]


def _table(table: Table, width: int) -> Iterator[tuple[str, str]]:
    if not table.rows:
        return
    room = width - table.indent - 2 * (len(table.heads) - 1)
    widths = _fit([[row[i] for row in (table.heads, *table.rows)] for i in range(len(table.heads))], room)
    if widths is None:
        yield from _stacked(table, width)
        return
    if any(table.heads):
        for line in _row(table.heads, widths, table):
            yield "dim", line
    for row in table.rows:
        for line in _row(row, widths, table):
            yield "", line


def _fit(columns: Sequence[Sequence[str]], room: int) -> list[int] | None:
    """Column widths that fit the room, the widest narrowed first; None when a column would be too narrow to
    read (its longest word, or 10 columns, whichever is less)."""
    widths = [max(map(len, cells)) for cells in columns]
    least = [
        min(10, max((len(word) for cell in cells for word in cell.split()), default=0)) for cells in columns
    ]
    while sum(widths) > room:
        slack = [w - least_ for w, least_ in zip(widths, least, strict=True)]
        widest = max(range(len(widths)), key=lambda i: (slack[i] > 0, widths[i]))
        if slack[widest] <= 0:
            return None
        widths[widest] -= 1
    return widths


def _row(cells: Sequence[str], widths: Sequence[int], table: Table) -> Iterator[str]:
    stacks = [textwrap.wrap(cell, w) or [""] if w else [""] for cell, w in zip(cells, widths, strict=True)]
    for depth in range(max(map(len, stacks))):
        parts = []
        for column, (stack, w) in enumerate(zip(stacks, widths, strict=True)):
            text = stack[depth] if depth < len(stack) else ""
            parts.append(text.rjust(w) if column in table.right else text.ljust(w))
        yield (" " * table.indent + "  ".join(parts)).rstrip()


def _stacked(table: Table, width: int) -> Iterator[tuple[str, str]]:
    """One short paragraph a row, for screens too narrow for the table."""
    for row in table.rows:
        for line in _wrapped(row[0], width, " " * table.indent):
            yield "", line
        for head, cell in zip(table.heads[1:], row[1:], strict=True):
            if cell:
                for line in _wrapped(cell, width, " " * (table.indent + 2) + (f"{head}: " if head else "")):
                    yield "", line
