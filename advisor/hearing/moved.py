"""What changes from one figure to another: "go from 450 to 600" is one of today and one that is wanted, "boost is down
from 38 to 30" and "used to see 38, now 30" tell what it is now.
"""

import re

from .asides import FIGURE

_SAID = rf"(?:about |around |maybe |like )?(?:{FIGURE.pattern})"
_UNIT = r"(?: ?(?:psi|pounds?|lbs?|bar|hp|horse(?:power)?|whp|rwhp|kw|ps|rpm|degrees?|°?[cf]|percent|%)(?![\w]))?"
_WISHED = re.compile(
    r"\b(?:wants?|wanna|like|love|need|trying|hoping|hope|looking|wish|plan\w*|goal)\b"
    r"(?:(?! and | but )[^,;.]){0,40}? from "
    rf"(?P<now>{_SAID})(?P<unit>{_UNIT})(?: (?:at the wheels|now|today))? (?:up )?to (?P<then>{_SAID})(?P<of>{_UNIT})",
    re.IGNORECASE,
)
_FELL = re.compile(
    r"\b(?:is |has |it |it's |she's )?(?:down|dropped|fell|fallen|gone|went|off|lost|sagged|slipped)"
    r"(?: (?:off|down|way|some))?"
    rf",? from {_SAID}{_UNIT} (?:down )?to (?P<then>{_SAID})(?P<of>{_UNIT})",
    re.IGNORECASE,
)
_FELL_BY = re.compile(
    rf"\b(?:down|dropped|fell|lost|off)(?: by)? {_SAID} ?(?:psi|pounds?|lbs?|bar|hp|horse(?:power)?|kw|degrees?)"
    rf"(?: of boost)?,? (?:down )?to (?P<then>{_SAID})(?P<of>{_UNIT})",
    re.IGNORECASE,
)
_USED_TO = re.compile(
    rf"\bused to (?:see|make|get|run|hit|be|show|have|read|do) {_SAID}{_UNIT}(?:,| and| but)*"
    r" (?:now|today)(?:,| it's| it is| i get| i see| only| just| maybe| barely| about| makes| runs)* "
    rf"(?P<then>{_SAID})(?P<of>{_UNIT})",
    re.IGNORECASE,
)
_FROM_TO = re.compile(
    rf"(?:(?:go|going|get|take|up|it|me|well|just) )*from (?P<now>{_SAID})(?P<unit>{_UNIT}) (?:up )?to "
    rf"(?P<then>{_SAID})(?P<of>{_UNIT})",
    re.IGNORECASE,
)
# "16 pounds, used to be 28", "down to 16 from 28": what stands is the first.
_ONCE = re.compile(
    rf"(?P<then>{_SAID})(?P<of>{_UNIT})(?: now)?(?:,| and| but| where| when)*(?: (?:it|she|that))?"
    r" (?:used to (?:be|see|make|get|run|hit|show|have|read|do)|down from"
    r"|(?:was|had been)(?=.*\b(?:before|new|last)\b))"
    rf" {_SAID}(?P<unit>{_UNIT})(?: (?:before|(?:when|from) new|last (?:year|season|week|month|summer|winter)))?",
    re.IGNORECASE,
)
# By how much it changed, which is no figure of it: "lost ten pounds of boost", "it's down 8 psi".
_BY = re.compile(
    r"\b(?P<how>lost|lose|loses|losing|down|dropped|gained|gains|picked up|up)(?: (?:by|some|a good|a|at least))* "
    rf"{_SAID}(?: ?(?:psi|pounds?|lbs?|bar|hp|horse(?:power)?|whp|rwhp|kw|ps|degrees?)(?![\w]))"
    r"(?: (?:less|more))?(?! (?:to|at)\b)"
    rf"|{_SAID}(?: ?(?:psi|pounds?|lbs?|bar|hp|horse(?:power)?|kw|ps|degrees?)(?![\w]))(?: of boost)? "
    r"(?:less|lower|more|higher|short|shy|down)(?: of)?(?= (?:than|on|from|what|it|normal|usual)\b|\W*$)",
    re.IGNORECASE,
)
FAR = 1.25  # times a power that a range of it ends at, at most: "from 500 to 550 would be fine"
# Where a clause about today ends: "300 hp now want 400".
_NOW_WANTED = re.compile(
    r"\b(?:now|today|currently|at the moment)"
    r"(?= (?:(?:and|but|i|we|he) )*(?:(?:i|we|he)'d |would )?(?:want|need|like|look)\w*\b)",
    re.IGNORECASE,
)


def as_told(words: str) -> str:
    """The words with what changes told as it is now, and as it is wanted."""

    def wished(found: re.Match[str]) -> str:
        unit = found["unit"] or found["of"]
        return f"has {found['now']}{unit} now, want {found['then']}{found['of'] or unit}"

    for form in (_FELL, _FELL_BY, _USED_TO):
        words = form.sub(lambda found: f"is {found['then']}{found['of']} now", words)
    words = _ONCE.sub(lambda found: f"{found['then']}{found['of'] or found['unit']} now", words)
    words = without_changes(words)
    return _WISHED.sub(wished, _NOW_WANTED.sub(r"\g<0>,", words))


def standing(words: str, plans: bool, quantity: str) -> str:
    """The figure that is asked for of two of which one was or is and the other is to be, for what he ``plans`` or for
    what is so today; "" without two such figures. Of a power that he plans "from 450 to 600" is no range."""
    bare = [found for found in [_FROM_TO.match(words)] if plans and quantity == "power" and _is_far(found)]
    for found in (*(form.search(words) for form in (_FELL, _FELL_BY, _USED_TO, _ONCE, _WISHED)), *bare):
        if found is not None:
            if found.re is _ONCE:
                return str(found["then"] + (found["of"] or found["unit"]))
            today = found.re is _WISHED and not plans
            return str(found["now"] + found["unit"] if today else found["then"] + found["of"])
    return ""


def without_changes(words: str) -> str:
    """The words without by how much something changed: "lost ten pounds of boost" is "lost some of boost"."""
    return _BY.sub(lambda found: f"{found['how'] or ''} some", words)


def _is_far(found: re.Match[str] | None) -> bool:
    """Whether two figures are too far apart for the ends of a range."""
    ends = [re.sub(r"\D", "", found[end]) for end in ("now", "then")] if found else []
    return len(ends) == 2 and all(ends) and int(ends[1]) > FAR * int(ends[0])
