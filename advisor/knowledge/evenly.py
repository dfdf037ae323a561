"""The written form of points that run evenly with a figure: `0 to 18 as spool rpm goes from 2,000 rpm to 3,000 rpm`."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import TypeVar

from .besides import as_meant, certain
from .conditions import Expr, Number
from .domains import constant
from .grammar import Misread, Syntax, every, parse_sum
from .meaning import Reader
from .measure import Kind, agree, in_digits, quantities_of, units_of
from .namesakes import as_named
from .places import Place
from .regardless import literals
from .slopes import Slope
from .sums import Sums, unit_of

FORM = "'0 to 18 as surge margin goes from 10 % to 0 %'"
MOST = 100.0
Read = TypeVar("Read")
_WORDS = re.compile(r"\b(?:to|as|goes|from|at|by|between|with)\b")
_WHOLE = re.compile(
    r"\s*(?P<points>.*?)\s+(?P<as>as)\s+(?P<figure>\S.*?)\s+(?P<goes>goes\s+from)\s+(?P<ends>\S.*?)\s*", re.DOTALL
)
_JOINT = r"(?:to|too|till?|until|through|thru)"
_MEANT = re.compile(
    rf"\s*(?P<points>(?!as\b)\S+(?:\s+points?)?(?:\s+{_JOINT}\s+\S+(?:\s+points?)?)*)"
    r"(?:\s+(?P<as>as|when|if|while|where|with|for|sa|es))?"
    rf"\s+(?P<figure>(?!{_JOINT}\b|as\b|points?\b|goes\b)\S.*?)"
    r"\s+(?P<goes>(?:(?:go(?:es)?|gose|goe|is|runs?|rises?|falls?|drops?|climbs?|moves?)\s+)?(?:from|form|frm))"
    r"\s+(?P<ends>\S.*?)\s*",
    re.DOTALL,
)
_TO = re.compile(rf"\s+{_JOINT}\s+|(?<=\d)-(?=\d)|(?<=[\d%])\s*[\u2013\u2014]\s*(?=\d)")
_POINTS = re.compile(r"-?\d+(?:\.\d+)?")


def is_evenly(words: str) -> bool:
    """Whether words in the place of points are meant to run with a figure."""
    return _WORDS.search(words) is not None


def read_evenly(words: str, key: str, reader: Reader, locate: Callable[[int], Place]) -> Slope | None:
    """The points after `key` ("penalise" or "prefer"), as points that are taken; None with faults in the reader."""
    try:
        return _Evenly(words, reader, locate).slope(key)
    except Misread as misread:
        reader.note([misread, *misread.others], locate)
        return None


class _Evenly:
    """One such text while it is being understood."""

    def __init__(self, text: str, reader: Reader, locate: Callable[[int], Place]) -> None:
        self.text, self.reader, self.locate = text, reader, locate
        self.sums = Sums(text, reader.vocabulary, locate)

    def slope(self, key: str) -> Slope | None:
        whole = _WHOLE.fullmatch(self.text) or _MEANT.fullmatch(self.text)
        if whole is None:
            raise self.unlike()
        slips = list(self.other_words(whole))
        points = _read(slips, lambda: self.points(whole["points"], whole.start("points"), key))
        found = _read(slips, lambda: self.figure(whole["figure"], whole.start("figure")))
        plain, meant = (True, found[1]) if found else self.meant(whole["figure"])
        beside: list[Misread] = []
        ends = _read(beside, lambda: self.ends(whole["ends"], whole.start("ends"), meant))
        slips += [slip for slip in beside if plain or certain(slip)]
        if slips:
            raise Misread(slips[0].offset, slips[0].what, slips[0].mend, slips[1:])
        if points is None or found is None or ends is None:
            return None
        figure, kind = found
        if len(points) != len(ends):
            what = f"{_counted(len(points), 'figure')} of points for {_counted(len(ends), 'end')}"
            raise Misread(whole.start("ends"), what, f"give each end its points, as in {FORM}")
        self.check_order(ends, whole["ends"], whole.start("ends"))
        sign = -1.0 if key == "prefer" else 1.0
        pairs = sorted(zip(ends, (sign * one for one in points), strict=True), key=lambda pair: pair[0].si)
        unit, quantity = _shown_in(kind, ends)
        span = self.sums.span(whole.start("figure"))
        return Slope(figure, tuple(pairs), unit, quantity, kind.difference, whole["points"], **span)

    def other_words(self, whole: re.Match[str]) -> Iterator[Misread]:
        """What stands in the place of the words of the form."""
        if whole["as"] is None:
            yield Misread(whole.end("points"), "'as' is missing behind the points", f"write it as {FORM}")
        for name, word in (("as", "as"), ("goes", "goes from")):
            if whole[name] and " ".join(whole[name].split()) != word:
                yield Misread(whole.start(name), f"'{whole[name]}' can't stand here", f"write '{word}'")
        for name in ("points", "ends"):
            for joint in _TO.finditer(whole[name]):
                if (said := joint[0].strip()) != "to":
                    at = whole.start(name) + joint.start() + joint[0].index(said)
                    yield Misread(at, f"'{said}' can't stand here", "write 'to'")

    def unlike(self) -> Misread:
        """What is missing of the form."""
        for word, what in ((r"\bas\b", "'as' and the figure are"), (r"\bgoes\s+from\b", "'goes from' is")):
            if re.search(word, self.text) is None:
                return Misread(0, f"{what} missing behind the points", f"write it as {FORM}")
        return Misread(0, "these points can't be read", f"write it as {FORM}")

    def meant(self, words: str) -> tuple[bool, Kind | None]:
        """Whether it is plain what a figure that can't be read was meant to be, and its kind; where nothing is near
        none, so that what is said of the ends holds of any."""
        try:
            tree = parse_sum(words)
            named = as_named(words, tree, self.reader.vocabulary)
            if named is None:
                return True, None
            return named[2], Sums(named[0], self.reader.vocabulary, self.locate).expr(parse_sum(named[0]), None, 0)[1]
        except Misread:
            return True, None

    def points(self, words: str, base: int, key: str) -> list[float]:
        found = every(partial(self.number_of_points, piece, at) for piece, at in _pieces(words, base))
        if len(set(found)) == 1:
            what = "the points are the same at every end" if len(found) > 1 else "these points run nowhere"
            raise Misread(base, what, f"write the number alone: {key}: {found[0]:g}, or another end")
        if max(found) <= 0.0:
            other = "prefer" if key == "penalise" else "penalise"
            raise Misread(base, f"'{key}' with no points above 0", f"write '{other}:' and the points without '-'")
        return found

    def number_of_points(self, piece: str, at: int) -> float:
        if _POINTS.fullmatch(piece) is None:
            mend = "write the number alone" if re.match(r"-?\d", piece) else f"write it as {FORM}"
            raise Misread(at, f"'{piece}' is no number of points", mend)
        if abs(float(piece)) > MOST:
            raise Misread(at, f"'{piece}' is out of bounds", f"write at most {MOST:g}")
        return float(piece)

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

    def ends(self, words: str, base: int, kind: Kind | None) -> list[Number] | None:
        """The ends; None, once the slips in them are told, where the kind of the figure isn't known."""
        pieces = _pieces(words, base)
        if kind is None:
            every(partial(self.end_alone, *piece) for piece in pieces)
            return None
        units = [_unit_of(piece) for piece, _ in pieces]
        later = [next((unit for unit in units[index + 1 :] if unit), None) for index in range(len(units))]
        ends = [partial(self.end, *piece, unit, kind) for piece, unit in zip(pieces, later, strict=True)]
        return every(reversed(ends), shared=None in units)[::-1]

    def fixed_end(self, piece: str, at: int) -> Syntax:
        try:
            tree = parse_sum(piece)
        except Misread as misread:
            raise Misread(at + misread.offset, misread.what, misread.mend) from None
        if tree.facts():
            figure = in_digits(piece)
            mend = "write a number with its unit; measure from a fact as in 'spool rpm - boost wanted by'"
            raise Misread(at, f"'{piece}' is no fixed end", f"write it in digits: {figure}" if figure else mend)
        return tree

    def end_alone(self, piece: str, at: int) -> None:
        """Raises what is wrong with an end whatever the figure is."""
        for slip in literals(self.fixed_end(piece, at)):
            raise Misread(at + slip.offset, slip.what, slip.mend)

    def end(self, piece: str, at: int, borrowed: str | None, kind: Kind) -> Number:
        """One end; `borrowed` is the unit of a later one, which holds where this has none."""
        tree = self.fixed_end(piece, at)
        try:
            expr, other = self.sums.expr(tree, kind, at, borrowed)
        except Misread as misread:
            what, offset = misread.what, misread.offset
            if piece.startswith("-") and what.startswith(f"'{piece[1:].lstrip()}' has no unit"):
                what, offset = what.replace("'", "'-", 1), at
            raise Misread(offset, what, misread.mend, self.unit_too(piece, at, misread, kind)) from None
        if not agree(kind, other):
            what = f"{kind.words} can't be compared with {other.words}"
            raise Misread(at, what, "give the ends in a unit of the figure")
        value, unit = constant(expr), unit_of(tree)
        assert value is not None
        text = piece if unit is not None or borrowed is None else f"{piece} {borrowed}"
        return Number(value, place=self.locate(at), text=text)

    def unit_too(self, piece: str, at: int, misread: Misread, kind: Kind) -> list[Misread]:
        """What is wrong with the unit of an end whose figure can be read in two ways."""
        meant = as_meant(piece, Misread(misread.offset - at, misread.what, misread.mend))
        if meant is None or not misread.what.endswith("in two ways"):
            return []
        try:
            Sums(meant[0], self.reader.vocabulary, self.locate).expr(parse_sum(meant[0]), kind, 0)
        except Misread as other:
            return [Misread(at, other.what, other.mend)] if _unit_of(piece) else []
        return []

    def check_order(self, ends: list[Number], words: str, base: int) -> None:
        steps = [(second.si - first.si) for first, second in pairwise(ends)]
        for (_, at), step in zip(_pieces(words, base)[1:], steps, strict=True):
            if step == 0.0:
                raise Misread(at, "an end is the same as the one before it", "give each end a value of its own")
            if (step > 0.0) != (steps[0] > 0.0):
                raise Misread(at, "the ends turn back here", "write them in order, rising or falling")


def _read(slips: list[Misread], reader: Callable[[], Read]) -> Read | None:
    """What a reader reads; None, with its slips kept, where it can't."""
    try:
        return reader()
    except Misread as misread:
        slips += [misread, *misread.others]
        return None


def _unit_of(piece: str) -> str | None:
    """The unit that is written behind an end, as far as it can be read."""
    try:
        return unit_of(parse_sum(piece))
    except Misread:
        return None


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
