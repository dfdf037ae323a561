"""What a figure goes by, said as that figure: a fortnight, sea level, "four a side", "it won't go past 17"."""

import re

from advisor.words.numerals import DIGIT_NAMES

from .surroundings import names_a_figure

_NO_MORE = re.compile(r"(?<=\w),? (?:not|no|never) (?:any )?(?:more|higher)[.!]?$", re.IGNORECASE)
# What went up to a figure is at it, and not at most so much.
_UP_TO = re.compile(
    r"\b(?P<went>went|gone|going|moved|jumped|creeps?|climbs?|crawls?|rises?|gets?|goes) up to\b", re.IGNORECASE
)
_FORTNIGHT = re.compile(r"(?<!half a )(?<!half )\b(?:a |one |the )?fortnight\b", re.IGNORECASE)
_THIS_TIME = re.compile(r"\b(?:by |about )?this time next week\b", re.IGNORECASE)
_OF_THEM = re.compile(r"(?<=\w) of (?:them|those|'em)\b", re.IGNORECASE)  # of a hundred miles
_GEARS = re.compile(r"(?<=\d) gears?\b(?! (?:set|box))", re.IGNORECASE)  # "put 4.56 gears in it"
_DIGITS = re.compile(r"\d{3}")
_ONE_OF_THEM = re.compile(
    r"\bone (?=(?:\w+ )?(?:pass|place|spot|trip|hill|mountain|summit|town|farm|house|job|run|road)\b)", re.IGNORECASE
)
_ONE_OF_MANY = re.compile(r"\bone of (?:the|them|those|these|my|our|his)\b", re.IGNORECASE)
_WISHES = re.compile(  # "if I could say I've got six hundred I'd be a happy man"
    r"\bif (?:i|we) (?:could (?:say|see|get|have)(?: (?:that )?(?:i|we)(?:'ve got|'ve| have| had| got))?|had|got)\b",
    re.IGNORECASE,
)
_AT_SEA = re.compile(r"\b(?<!above )(?<!below )(?<!over )(?<!from )sea level\b", re.IGNORECASE)
# What a gauge reads at most is what it reads.
_AS_FAR_AS = re.compile(
    r"\b(?:wo(?:n't|nt)|will not|does(?:n't|nt| not)|can(?:'t|t|not))(?: even| ever)?"
    r" (?:go|get|climb|build|make|reach|show|read)(?:e?s)? (?:past|over|above|beyond|higher than|more than)\b",
    re.IGNORECASE,
)
_A_SIDE = re.compile(
    rf"\b(?P<one>[2-6]|{'|'.join(DIGIT_NAMES[2:7])})(?: cylinders?)?"
    r" (?:(?:on |in |to )?(?:each|a|every|either|both)|per) (?:sides?|banks?)\b",
    re.IGNORECASE,
)


def by_figure(words: str, quantity: str) -> str:
    """The words with a figure in the place of what goes by another name, where one of this quantity does; and without a
    "one" that counts something else beside figures ("one pass we cross tops out at 11,300")."""
    words = _NO_MORE.sub("", words)
    match quantity:
        case "time":
            return _FORTNIGHT.sub("two weeks", _THIS_TIME.sub("in a week", words))
        case "ratio":
            return _GEARS.sub("", words)
        case "percent":
            return _OF_THEM.sub("", words)
        case "pressure":
            return _AS_FAR_AS.sub("tops out at", words)
        case "length" | "temperature":
            return _UP_TO.sub(r"\g<went> to", words)
        case "count":
            words = _ONE_OF_MANY.sub("a", words)
            return _A_SIDE.sub(lambda found: _both_sides(found["one"]), words)
        case "power":
            return _WISHES.sub("I want", _ONE_OF_MANY.sub("a", words))
        case "altitude":
            words = _ONE_OF_THEM.sub("a ", words) if _DIGITS.search(words) else words
            at_sea = _AT_SEA.search(words) is not None and not names_a_figure(_AT_SEA.sub("", words))
            return "sea level" if at_sea else words
    return words


def _both_sides(one: str) -> str:
    """Cylinders of an engine that has so many on each side."""
    return str(2 * (int(one) if one.isdigit() else DIGIT_NAMES.index(one.lower())))
