"""The least and the most of one figure, each told by itself: "at least five hundred, no more than six".

What is found here is said again as a span, "five hundred to six hundred", and read by the grammar of `units`.
"""

import re
from collections.abc import Iterator
from contextlib import suppress

from advisor import units
from advisor.quantities import QUANTITIES
from advisor.units import Unclear
from advisor.words.numerals import NUMBER_WORDS

from .asides import FIGURE, carried

FAR = 5.0  # times the least that the most can be
NEAR = 2.0  # ... where only the most is told as such: "a week, two at the most"
_AMOUNT = re.compile(
    rf"{FIGURE.pattern}|\ban? (?:week|fortnight|month|day|year|ton|tonne|grand|hundred|thousand)\b", re.IGNORECASE
)
_BOUND = re.compile(
    r"\b(?:(?P<least>(?:at|as) (?:the )?(?:very )?(?:least|minimum)(?: of)?|(?:a )?min(?:imum)?(?: of)?"
    r"|(?:no|not|never|nothing) (?:any )?(?:less|lower|under|below)(?: than)?|(?:more|better|higher|bigger) than|over"
    r"|above|north of|upwards? of)"
    r"|(?P<most>(?:at|on) (?:the )?(?:very )?(?:most|outside|maximum)(?: of)?|(?:a )?max(?:imum)?(?: of)?|tops"
    r"|(?:no|not|never|nothing) (?:any )?(?:more|over|above|past|higher|bigger)(?: than)?|(?:less|lower) than|under"
    r"|up to|below|south of))\b",
    re.IGNORECASE,
)
_JOINT = re.compile(r"\s*[,;](?!\d)\s*(?:(?:and|but|or|maybe)\b\s*)*|\s+(?:and|but)\s+", re.IGNORECASE)
_ENDS = re.compile(r"\b(?:between|from|give or take)\b", re.IGNORECASE)
_OR_SO = re.compile(r"\bor (?:so|thereabouts)\W*$|\w-?ish\W*$", re.IGNORECASE)
# When it is the other one: "eighteen or so, twenty if it's cold out".
_AT_TIMES = re.compile(
    r"\s+(?:if|when|whenever|some ?times|at times|once in a while|on (?:a|the) (?:good|bad|cold|hot|warm|clear))\b"
    r"[^\d]*$",
    re.IGNORECASE,
)
_BESIDE = re.compile(
    r"\b(?:about|around|roughly|maybe|probably|say|or so|or thereabouts|it's|its|it|i'd|i|we|want|like|to|be|the|an?"
    r"|somewhere|anywhere|anything)\b",
    re.IGNORECASE,
)


def span(words: str, quantity: str, unit: str, most_asked: bool) -> tuple[str, bool]:
    """The words as a span where its ends are told apart, else "", and whether both were told as ends: "six fifty, seven
    hundred tops" tells one; ``most_asked``: the most is what is asked for, so that this is no span."""
    for joint in _JOINT.finditer(words):
        clauses = [words[: joint.start()], words[joint.end() :]]
        bounds = [_BOUND.search(clause) for clause in clauses]
        kinds = [bound.lastgroup if bound else "" for bound in bounds]
        if kinds == ["", ""] and _OR_SO.search(clauses[0]) and _AT_TIMES.search(clauses[1]):
            clauses[1] = _AT_TIMES.sub("", clauses[1])
        elif kinds == ["most", "least"]:
            clauses.reverse()
        elif kinds != ["least", "most"] and (most_asked or kinds != ["", "most"]):
            continue
        low, high = (_BOUND.sub(" ", clause, count=1).strip(" .!") for clause in clauses)
        if _alone(low, quantity) and _alone(high, quantity):
            for form in _joined(low, high, quantity, unit):
                with suppress(Unclear):
                    heard = units.read_number(form, quantity, unit).value
                    if 0 < heard.low < heard.high <= (FAR if all(kinds) else NEAR) * heard.low:
                        return form, all(kinds)
    return "", False


def each(words: str, quantity: str) -> list[str]:
    """The clauses that tell a figure each of something: "home's at 400 feet, and the pass is 9,000"; none where one
    figure is told in two."""
    parted = [] if _ENDS.search(words) else _JOINT.split(words)
    figured = [clause for clause in parted if FIGURE.search(clause)]
    return figured if all(_of_something(clause, quantity) for clause in figured) else []


def _of_something(clause: str, quantity: str) -> bool:
    """Whether a clause says what its figure is of."""
    rest = re.findall(r"[a-z]+", _BESIDE.sub(" ", _AMOUNT.sub(" ", clause)).lower())
    return any(word not in QUANTITIES[quantity].aliases and word not in NUMBER_WORDS for word in rest)


def _alone(clause: str, quantity: str) -> bool:
    """Whether one figure, its unit, and what stands beside any figure, are all that is said."""
    told = _AMOUNT.findall(clause)
    rest = _BESIDE.sub(" ", _AMOUNT.sub(" ", clause)).split()
    return len(told) == 1 and all(word.lower() in QUANTITIES[quantity].aliases for word in rest)


def _joined(low: str, high: str, quantity: str, unit: str) -> Iterator[str]:
    """Both ends in one, the second also with the unit or the scale of the first."""
    for end in carried(high, low, quantity, unit):
        yield f"{low} to {end}"
