"""A unit that tells otherwise of a figure: said by itself afterwards, "no, fahrenheit!", or beside the same figure in a
sentence, "6000 feet, I live up at six thousand"."""

import re
from contextlib import suppress

from advisor import units
from advisor.knowledge import FactDef
from advisor.quantities import unit_of
from advisor.units import Heard, Unclear

from . import surroundings
from .asides import FIGURE, other_unit

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


def measured_otherwise(definition: FactDef, words: str, heard: Heard) -> bool:
    """Whether what was taken for the fact is said in the same words with a unit of another kind: "6000 feet, I live up
    at six thousand" is no power."""
    if definition.quantity == "percent" and surroundings.in_percent(words) != words:
        return False
    figures = list(FIGURE.finditer(words))
    for figure in figures if len(figures) > 1 else ():
        if not other_unit(re.findall(r"[^\s,;.]+", words[figure.end() :])[:3], definition.quantity):
            continue
        try:
            if units.read_number(figure.group(), definition.quantity, heard.unit).value == heard.value:
                return True
        except Unclear:
            continue
    return False
