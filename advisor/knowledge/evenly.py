"""The written form of points that run evenly with a figure: `0 to 18 as spool rpm goes from 2,000 rpm to 3,000 rpm`."""

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from .conditions import Expr, Number
from .domains import constant
from .grammar import Misread, parse_sum
from .meaning import Reader
from .measure import Kind, agree, quantities_of, units_of
from .places import Fault, Place
from .slopes import Slope
from .sums import Sums, unit_of

FORM = "'0 to 18 as surge margin goes from 10 % to 0 %'"
MOST = 100.0
_WORDS = re.compile(r"\b(?:to|as|goes|from|at|by|between|with)\b")
_WHOLE = re.compile(r"\s*(?P<points>.*?)\s+as\s+(?P<figure>\S.*?)\s+goes\s+from\s+(?P<ends>\S.*?)\s*", re.DOTALL)
_TO = re.compile(r"\s+to\s+")
_POINTS = re.compile(r"-?\d+(?:\.\d+)?")


def is_evenly(words: str) -> bool:
    """Whether words in the place of points are meant to run with a figure."""
    return _WORDS.search(words) is not None


def read_evenly(words: str, key: str, reader: Reader, locate: Callable[[int], Place]) -> Slope | None:
    """The points after `key` ("penalise" or "prefer"), as points that are taken; None with faults in the reader."""
    try:
        return _Evenly(words, reader, locate).slope(key)
    except Misread as misread:
        reader.faults.append(Fault(locate(misread.offset), misread.what, misread.mend))
        return None


class _Evenly:
    """One such text while it is being understood."""

    def __init__(self, text: str, reader: Reader, locate: Callable[[int], Place]) -> None:
        self.text, self.reader, self.locate = text, reader, locate
        self.sums = Sums(text, reader.vocabulary, locate)

    def slope(self, key: str) -> Slope | None:
        whole = _WHOLE.fullmatch(self.text)
        if whole is None:
            raise self.unlike()
        points = self.points(whole["points"], whole.start("points"), key)
        figure, kind = self.figure(whole["figure"], whole.start("figure")) or (None, None)
        if figure is None or kind is None:
            return None
        ends = self.ends(whole["ends"], whole.start("ends"), kind)
        if len(points) != len(ends):
            what = f"{_counted(len(points), 'figure')} of points for {_counted(len(ends), 'end')}"
            raise Misread(whole.start("ends"), what, f"give each end its points, as in {FORM}")
        self.check_order(ends, whole["ends"], whole.start("ends"))
        sign = -1.0 if key == "prefer" else 1.0
        pairs = sorted(zip(ends, (sign * one for one in points), strict=True), key=lambda pair: pair[0].si)
        unit, quantity = _shown_in(kind, ends)
        span = self.sums.span(whole.start("figure"))
        return Slope(figure, tuple(pairs), unit, quantity, kind.difference, whole["points"], **span)

    def unlike(self) -> Misread:
        """What is missing of the form."""
        for word, what in ((r"\bas\b", "'as' and the figure are"), (r"\bgoes\s+from\b", "'goes from' is")):
            if re.search(word, self.text) is None:
                return Misread(0, f"{what} missing behind the points", f"write it as {FORM}")
        return Misread(0, "these points can't be read", f"write it as {FORM}")

    def points(self, words: str, base: int, key: str) -> list[float]:
        found = []
        for piece, at in _pieces(words, base):
            if _POINTS.fullmatch(piece) is None:
                mend = "write the number alone" if re.match(r"-?\d", piece) else f"write it as {FORM}"
                raise Misread(at, f"'{piece}' is no number of points", mend)
            if abs(float(piece)) > MOST:
                raise Misread(at, f"'{piece}' is out of bounds", f"write at most {MOST:g}")
            found.append(float(piece))
        if len(set(found)) == 1:
            what = "the points are the same at every end" if len(found) > 1 else "these points run nowhere"
            raise Misread(base, what, f"write the number alone: {key}: {found[0]:g}, or another end")
        if max(found) <= 0.0:
            other = "prefer" if key == "penalise" else "penalise"
            raise Misread(base, f"'{key}' with no points above 0", f"write '{other}:' and the points without '-'")
        return found

    def figure(self, words: str, base: int) -> tuple[Expr, Kind] | None:
        try:
            tree = parse_sum(words)
        except Misread as misread:
            raise Misread(base + misread.offset, misread.what, misread.mend) from None
        if not self.reader.names_are_known(tree, self.locate, base):
            return None
        if not tree.facts():
            raise Misread(base, "this reads no fact", "name the figure with which the points run")
        expr, kind = self.sums.expr(tree, None, base)
        return replace(expr, text=" ".join(words.split())), kind

    def ends(self, words: str, base: int, kind: Kind) -> list[Number]:
        pieces = _pieces(words, base)
        borrowed = None
        found = []
        for piece, at in reversed(pieces):
            try:
                tree = parse_sum(piece)
            except Misread as misread:
                raise Misread(at + misread.offset, misread.what, misread.mend) from None
            if tree.facts():
                mend = "write a number with its unit; measure from a fact as in 'spool rpm - boost wanted by'"
                raise Misread(at, f"'{piece}' is no fixed end", mend)
            expr, other = self.sums.expr(tree, kind, at, borrowed)
            if not agree(kind, other):
                what = f"{kind.words} can't be compared with {other.words}"
                raise Misread(at, what, "give the ends in a unit of the figure")
            value, unit = constant(expr), unit_of(tree)
            assert value is not None
            text = piece if unit is not None or borrowed is None else f"{piece} {borrowed}"
            found.append(Number(value, place=self.locate(at), text=text))
            borrowed = borrowed or unit
        return found[::-1]

    def check_order(self, ends: list[Number], words: str, base: int) -> None:
        steps = [(second.si - first.si) for first, second in pairwise(ends)]
        for (_, at), step in zip(_pieces(words, base)[1:], steps, strict=True):
            if step == 0.0:
                raise Misread(at, "an end is the same as the one before it", "give each end a value of its own")
            if (step > 0.0) != (steps[0] > 0.0):
                raise Misread(at, "the ends turn back here", "write them in order, rising or falling")


def _pieces(words: str, base: int) -> list[tuple[str, int]]:
    """What stands between the "to", each with the offset of its first character."""
    found, at = [], 0
    for mark in _TO.finditer(words):
        found.append((words[at : mark.start()], base + at))
        at = mark.end()
    return [*found, (words[at:], base + at)]


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _shown_in(kind: Kind, ends: list[Number]) -> tuple[str, str]:
    """Unit and quantity in which the figure is shown: those of the last end with a unit; "" where it has none."""
    words = re.sub(r"^-?[\d.,]+\s*", "", ends[-1].text)
    for quantity in quantities_of(words):
        if quantity == kind.quantity or (kind.quantity in (None, "ratio", "") and quantity in ("percent", "ratio")):
            return words, quantity
    if not words and kind.quantity in ("ratio", "count") and "" not in units_of(kind.quantity):
        return "", kind.quantity
    return "", ""
