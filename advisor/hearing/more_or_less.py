"""Figures that are said with a little more or less behind them: "3k and change", "thirty-odd"."""

import re

from advisor import units
from advisor.units import Unclear

from . import asides

# "3k and change", "two grand or a hair over".
_A_LITTLE = r"(?:hair|touch|bit|little|shade|tad|smidge|smidgen|whisker)"
_AND_MORE = re.compile(
    rf"(?P<said>{asides.FIGURE.pattern})(?:[ -](?:and (?:some )?change|and then some|and (?:a )?{_A_LITTLE}"
    rf"|plus change)|,? (?:or|and|maybe)(?: maybe| just| perhaps)? (?:a )?{_A_LITTLE}"
    r" (?:over|more|above|better|higher))\b",
    re.IGNORECASE,
)
# "Five hundred some odd", "thirty something".
_ODD = re.compile(
    rf"(?P<said>{asides.FIGURE.pattern})[ -](?:(?:some)?[ -]?odd\b"
    r"|some(?:thing)?\b(?! (?:time|times|day|days|where|place|ago|like|in|of|on)\b))",
    re.IGNORECASE,
)
_OR_LESS = re.compile(
    rf"(?P<said>{asides.FIGURE.pattern}),? (?:or|and|maybe)(?: maybe| just| perhaps)? (?:a )?{_A_LITTLE}"
    r" (?:under|less|below|lower|shy|short)\b",
    re.IGNORECASE,
)


def spanned(words: str) -> str:
    """The words with "just over" or "just under" before a figure that is said with a little more or less behind it, and
    as a span where it is odd."""
    words = _ODD.sub(_odd, words)
    return _OR_LESS.sub(r"just under \g<said>", _AND_MORE.sub(r"just over \g<said>", words))


def _odd(found: re.Match[str]) -> str:
    """An odd figure ("thirty-odd", "six hundred odd") as the span up to the next one that would be told so: of the last
    place that it is told in, or of the place below where it is one of its first (common practice, no source)."""
    try:
        least = units.read_number(found["said"], "money", "$").value.low
    except Unclear:
        return found[0]
    places = [10.0**place for place in range(6) if least % 10.0**place == 0 and 2 * 10.0**place <= least]
    return f"{least:.10g} to {least + 0.9 * places[-1]:.10g}" if places else found[0]
