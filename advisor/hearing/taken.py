"""A figure that was heard, as a fact: its echo, what there is to doubt about it, and how to read it back."""

import re

from advisor import units
from advisor.inference.facts import Fact, Origin
from advisor.knowledge import FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Range, Unclear

from . import asides, choosing, present
from .chosen import ANOTHER_TIME

OR_HORSEPOWER = "Per cent or horsepower?"
_OVER = re.compile(r"\bovers?\b|^\W*\d+ (?:marine|horse|injectors?|nozzles?|sticks?|tips?)\b", re.IGNORECASE)
_SAYS_OVER = re.compile(r"\bovers?\b", re.IGNORECASE)  # who says so counts in percent
_AND_A_PART = re.compile(r"\w and (?:a |an |three )?(?:half|quarters?)\b", re.IGNORECASE)
_NAMED_AS_POWER = 0.75  # share over stock from which the same figure is as often the name of an injector in horsepower
_PERCENT = re.compile(r"%|\bper ?cent\b", re.IGNORECASE)


def suggestions(doubt: str) -> tuple[str, ...]:
    """The answers that a doubt offers instead, in words that are understood."""
    offered = re.search(r"[Dd]id you mean (.+)\?$", doubt)
    return tuple(offer.split(" (")[0] for offer in offered[1].split(" or ")) if offered else ()


def as_fact(definition: FactDef, answer: Answer, heard: units.Heard) -> Understood:
    """The answer with the figure (SI) that was heard in it, doubted where it is unusual, of another time, or may be
    another figure. Raises Unclear for one that can't be."""
    shown = units.show(heard.value, heard.unit, definition.quantity)
    doubt = None
    if definition.plausible is not None and not any(said.value == heard.value for said in definition.said_as):
        doubted = Range(heard.value.mid, heard.value.mid) if heard.approximate else heard.value
        doubt = units.plausibility(doubted, definition.plausible, definition.quantity, heard.unit)
        if doubt and not suggestions(doubt) and _impossible(doubted, definition):
            usual = units.show(definition.plausible, definition.unit, definition.quantity)
            raise Unclear(f"{shown} can't be right", f"{usual} is what we usually see")
    if len(meant := suggestions(doubt or "")) == 1 and _other_scale(definition, heard):
        told = meant[0] if heard.value.exact else f"about {meant[0]}"
        return as_fact(definition, answer, units.read_number(told, definition.quantity, definition.unit))
    at_home = units.show(heard.value, definition.unit, definition.quantity)
    if heard.bound is not None and not heard.value.exact and definition.plausible is not None:
        bound = units.show(Range(heard.bound, heard.bound), heard.unit, definition.quantity)
        shown = f"at {'least' if heard.bound == heard.value.low else 'most'} {bound}, {shown}"
    elif heard.approximate and not heard.value.exact:
        shown = f"about {units.show(heard.value.mid, heard.unit, definition.quantity)}, {shown}"
    echo = f"{definition.name}: {shown}" + ("" if at_home in shown else f" ({at_home})")
    fact = Fact(definition.name, heard.value, Origin("answer", answer.words))
    if not doubt and not definition.plans and not definition.limit and present.of_another_time(heard.words):
        doubt = f"{ANOTHER_TIME} Is it {at_home} today?"
    alone = len(asides.FIGURE.findall(heard.words)) < 2
    if not doubt and alone and choosing.holds(heard.words, definition.denied_by):
        doubt = f"That may be another figure. Is the {definition.name} {at_home}?"
    by_name = heard.value.exact and definition.quantity == "percent" and heard.value.low >= _NAMED_AS_POWER
    if not doubt and by_name and _OVER.search(heard.words) and not _PERCENT.search(heard.words):
        either = "" if _SAYS_OVER.search(heard.words) else f" or {at_home.removesuffix('%')}hp"
        doubt = f"{OR_HORSEPOWER} Did you mean {at_home}{either}?"
    return Understood(
        answer, fact, echo, doubt=sentence(doubt or ""), read_back=_read_back(definition, heard), unit=heard.unit
    )


def _other_scale(definition: FactDef, heard: units.Heard) -> bool:
    """Whether a bare length can't be in the shop's unit by an order of magnitude: the class of "2.6" is in inches; or
    hundreds are told by a part of one, "three and a quarter" horsepower."""
    usual = definition.plausible
    if definition.quantity in ("power", "temperature") and _AND_A_PART.search(heard.words):
        return True
    at_home = definition.quantity == "length" and heard.unit == definition.unit and usual is not None
    bare = re.fullmatch(r"[\s\d.]+", heard.words.strip()) is not None
    return at_home and bare and usual is not None and heard.value.high * 10 < usual.low


FAR_ABOVE, FAR_TOO_HOT, FAR_BELOW = 5.0, 2.0, 20.0
"""Times the top of the usual range (of a temperature in kelvin), and parts of its bottom, past which a figure can't be
right."""


def _impossible(value: Range, definition: FactDef) -> bool:
    """Whether a figure (SI) lies so far off that nothing can be computed from it: a limit of 900,000 rpm, 0 litres."""
    usual = definition.plausible
    if usual is None:
        return False
    most = FAR_TOO_HOT if definition.quantity == "temperature" else FAR_ABOVE
    return value.high > most * usual.high > 0.0 or (usual.low > 0.0 and value.low < usual.low / FAR_BELOW)


def sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _read_back(definition: FactDef, heard: units.Heard) -> str:
    """How to say the number back where another one sounds like it."""
    if not heard.value.exact:
        return ""
    said = units.sounds_alike(round(units.from_si(heard.value.low, heard.unit, definition.quantity), 6))
    return f"{said} {heard.unit}".rstrip() if said else ""
