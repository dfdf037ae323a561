"""A figure read off a gauge that shows no more: "pegged, it only goes to 35" is 35 at least.

Where the needle is said to stand at a figure ("pegged at 35"), or nothing but the end of the scale is told, it may be
either, and is asked about.
"""

import re
from dataclasses import dataclass

from .asides import FIGURE

_GAUGE = r"(?:gauge|dial|scale|clock|pyro|pyrometer|thermometer)"
_END = rf"(?:end|{_GAUGE}|needle|top|last|stop|mark|pin|peg|numbers?|that|it)"
_BEYOND = re.compile(
    r"\b(?:peg(?:s|ged|ging)?|pin(?:s|ned|ning)?"
    r"|(?<!foot )(?<!foot's )(?<!boot )(?<!pedal )(?<!with it )bur(?:y|ies|ied|ying)(?! my foot)"
    r"|wraps? (?:it|around|round))\b"
    r"|(?:^|\b(?:go(?:es|ne|ing)?|went|runs?|is|it's|swings?|shoots?|clean|clear|right|way|well|needle's) )"
    rf"(?:off|past|beyond|over) (?:the |its |my |of )*{_END}\b"
    r"|(?:on|against|hits?) (?:the |its )(?:stop|pin|peg|end)\b",
    re.IGNORECASE,
)
_NEVER = re.compile(r"\b(?:never|not|\w+n't|no)\b[^,;.]*$", re.IGNORECASE)
_STANDS = re.compile(r"\b(?:pegs?|pegged|pegging|pins?|pinned|buries|buried)\b.*?\bat (?!least)", re.IGNORECASE)
_UNIT = r"(?:psi|pounds?|lbs?|bar|kpa|degrees?|celsius|fahrenheit|[°º]?[cf])"
_ENDS = re.compile(
    rf"\b{_GAUGE} (?:that |which |it )?(?:(?:only|just) (?:goes|reads|runs|shows)(?: up)?(?: to)?"
    r"|reads? (?:up )?to|goes up to|(?:stops|ends|quits|maxes out|tops out|runs out)(?: at)?)"
    rf" (?P<to>{FIGURE.pattern})(?: ?{_UNIT}\b)?"
    rf"|(?:\b(?:an?|my|the|of|on|in) )*(?P<of>{FIGURE.pattern})[ -]?(?:{_UNIT} )?(?:boost |pressure )?gauge\b",
    re.IGNORECASE,
)
MEASURED = frozenset(["pressure", "temperature"])


@dataclass(frozen=True, slots=True)
class Gauged:
    """What is said in a form that the grammar of figures takes, and whether it may be more than that."""

    words: str
    or_more: bool = False


def plainly(words: str) -> Gauged:
    """What a gauge shows, its scale set aside where both are told."""
    figures, ends = list(FIGURE.finditer(words)), _ENDS.search(words)
    beyond = _BEYOND.search(words)
    if beyond and _NEVER.search(words[: beyond.start()]):
        beyond = None
    if len(figures) == 1 and beyond:
        stands = _STANDS.search(words) and not ends
        figure = re.sub(r"[ -]?\bgauge\b.*", "", words[figures[0].start() :])
        return Gauged(words, True) if stands else Gauged(f"at least {_with_unit(figure)}")
    if ends and len(figures) == 1:
        return Gauged(_with_unit(words[figures[0].start() :]), True)
    if ends and not beyond and len(figures) == 2:
        return Gauged(re.sub(r"^\W+|\W+$", "", words[: ends.start()] + words[ends.end() :]))
    return Gauged(words)


def _with_unit(words: str) -> str:
    """The figure that opens the words, with its unit."""
    found = re.match(rf"(?:{FIGURE.pattern})(?:[ -]?{_UNIT}\b)*", words, re.IGNORECASE)
    return found[0].replace("-", " ") if found else words
