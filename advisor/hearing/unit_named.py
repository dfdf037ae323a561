"""A unit said by itself, of a figure that was told and read in another one: "no, fahrenheit!"."""

import re
from contextlib import suppress

from advisor.knowledge import FactDef
from advisor.quantities import unit_of

from .asides import FIGURE

_ONLY_A_UNIT = re.compile(
    r"(?:(?:no|nope|nah|sorry|wait|hang on|well|oh|hey|actually|of course|i|we|mean|meant|said|say|that|it|that's|it's"
    r"|thats|its|was|is|in|not (?:in )?\w+|degrees?|all|these|those|were|are)\b[\s,.;:!-]*)*"
    r"(?:°\s*)?(?P<unit>[a-z]+(?:[ /][a-z]+){0,2}?)(?:[\s,]+(?:not (?:in )?\w+|of course|please|man|sir))?[\s.!]*",
    re.IGNORECASE,
)


def in_the_unit_named(definition: FactDef, words: str, said: str) -> str:
    """The one figure of ``words`` with the unit of its quantity that is all that is ``said``; "" where it is no such
    unit, or there are several figures."""
    named, figures = _ONLY_A_UNIT.fullmatch(said.strip()), FIGURE.findall(words)
    if definition.kind != "number" or named is None or len(figures) != 1:
        return ""
    unit = named["unit"].lower()
    for spoken in (unit, re.sub(r" (?:an?|per) hour$", "/hour", unit)):
        with suppress(ValueError):
            unit_of(spoken, definition.quantity)
            return f"{figures[0]} {spoken}"
    return ""
