"""What else is wrong with a condition of which one slip is told: the line is read again as it was meant, where that is
plain, so that two slips on one line are told at once."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher

from .fields import Wrong
from .grammar import Misread, Syntax
from .measure import quantities_of, read_figure
from .places import nearest, one_or_more
from .vocabulary import FactDef

MOST_SLIPS = 5
"""Slips of a line that are taken for what was meant."""
_ALIKE = 0.84
"""How alike a name must be to a fact for it to be read as that."""

_WRITTEN = re.compile(r"'(?P<words>.+)' (?:can't stand here|is no unit|can be read in two ways|without 'is')")
_CHOICE = re.compile(r"'.+' has no choice '(?P<words>.+)'")
_SIGNS = r"[<>]=?|[*/-]|is|is not|is between|is one of|include"
_MEANT = re.compile(
    rf"write '(?P<sign>{_SIGNS})'(?: instead of .*|, as in .*)?|did you mean '(?P<word>[^*]+)'\?"
    r"|write decimals as in (?P<figure>[\d.]+).*"
)

Back = Callable[[int], int]
"""Where a character of the line as it was meant stands in the line as written."""


def as_meant(text: str, slip: Misread) -> tuple[str, Back] | None:
    """The line with what was meant in the place of a slip; None where that isn't plain."""
    found = _WRITTEN.match(slip.what) or _CHOICE.fullmatch(slip.what)
    at = text.find(found["words"], slip.offset) if found else -1
    if found is None or at < 0:
        return None
    if slip.mend.startswith("write 'is between 5") and re.search(r"\bis between\b", text[:at]):
        return _with(text, at, found["words"], " and ")
    if slip.mend.startswith("write 'is between 5") and found["words"] == "between":
        return _with(text, at, found["words"], "is between")
    if (meant := _MEANT.fullmatch(slip.mend)) is None:
        return None
    return _with(text, at, found["words"], meant["word"] or meant["figure"] or f" {meant['sign']} ")


def as_named(text: str, tree: Syntax, vocabulary: Mapping[str, FactDef]) -> tuple[str, Back] | None:
    """The line with the facts that its unknown names are meant to be; None where that isn't plain of all of them."""
    back: Sequence[Back] = ()
    for fact in sorted(tree.facts(), key=lambda fact: -fact.start):
        written = text[fact.start : fact.end]
        name = " ".join(written.split())
        if name in vocabulary:
            continue
        close = nearest(name, vocabulary) or ""
        if not one_or_more(name, [close]) and SequenceMatcher(None, name.lower(), close).ratio() < _ALIKE:
            return None
        text, one = _with(text, fact.start, written, close)
        back = (one, *back)
    return text, lambda at: _through(back, at)


def _through(back: Sequence[Back], at: int) -> int:
    for one in reversed(back):
        at = one(at)
    return at


def _with(text: str, start: int, written: str, meant: str) -> tuple[str, Back]:
    longer = len(meant) - len(written)
    end = start + len(meant)
    return text[:start] + meant + text[start + len(written) :], lambda at: (
        at if at < start else start if at < end else at - longer
    )


def literals(tree: Syntax) -> Iterator[Misread]:
    """The figures that can be read in two ways and the units that nobody knows, whatever facts are meant."""
    if tree.form == "number":
        figure, unit = str(tree.children[0]), str(tree.children[1]).strip() if len(tree.children) > 1 else ""
        try:
            read_figure(figure)
            if unit and not quantities_of(unit):
                raise Wrong(f"'{unit}' is no unit", "use a unit such as psi, lb, hp or °F")
        except Wrong as wrong:
            yield Misread(tree.start, wrong.what, wrong.mend)
    for child in tree.children:
        if isinstance(child, Syntax):
            yield from literals(child)
