"""Figures by what they are measured in: the stretch from a number to its unit, and the fact that a figure tells by its
unit alone, in the company of what else a sentence tells ("12,000 lb trailer, 6 percent, 65 mph").
"""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.units import Range, Unclear

from . import asides, choosing, storied, surroundings
from .taken import suggestions
from .understanding import understand

SPAN = re.compile(
    r"(?<![\w.,/])\d(?:[\d,.]*\d)?(?:\s?k\b)?(?:\s?(?:to|-|\u2013|and)\s?\d(?:[\d,.]*\d)?(?:\s?k\b)?)?", re.IGNORECASE
)
MONEY = ("grand", *units.QUANTITIES["money"].aliases)
DEGREES = re.compile(r" ?(?:°|degrees?\b)", re.IGNORECASE)
# What may be told by its unit: lengths, times and money are said of too much else.
_TELLING = ("pressure", "temperature", "mass", "altitude", "speed", "percent", "rotation", "power")
_BY_ITSELF = frozenset({"temperature", "altitude", "mass"})  # told so whatever else is said
_AT = re.compile(r" (?:(?:at|to) the (?:wheels?|tyres?|tires?|ground|crank|flywheel)|r?whp)\b", re.IGNORECASE)
WANTED = re.compile(
    r"\b(?:look|lookin|looking|shopping|hunting|want|wants|wanting|need|needs|after|thinking|interested)\b",
    re.IGNORECASE,
)
LEAST_WEIGHT = 1800.0  # kg; of a bare figure that tells a trailer in pounds, in the company of what tells of towing


def with_unit(definition: FactDef, words: str, hit: re.Match[str]) -> str:
    """The stretch of words from a number to its unit, where one was said; else ""."""
    after = re.match(r"((?:[ -]?[^\s,;.\d]+){0,3})", words[hit.end() :])
    tail = re.findall(r"[ -]?[^\s,;.\d-]+", after.group(0)) if after else []
    for count in range(len(tail), 0, -1):
        if tail[count - 1].strip(" -").lower() in ("of", "the", "a"):
            continue
        stretch = hit.group(0) + "".join(tail[:count])
        try:
            heard = units.read_number(stretch, definition.quantity, definition.unit)
            told = definition.quantity == "money" and tail[count - 1].strip(" -").lower() in MONEY
            if told or storied.names_its_unit(stretch, heard.value, definition):
                return stretch
        except Unclear:
            continue
    return ""


def by_unit(
    vocabulary: Mapping[str, FactDef], words: str, taken: Collection[int], told: Mapping[str, Understood]
) -> Iterator[Understood]:
    """Facts that figures tell by their unit, but those at the places ``taken``: the only one that may be so much of the
    topics of what is ``told`` already; a weight, height or heat of the usual size whatever is told."""
    worded = {name for name, one in told.items() if not surroundings.names_a_figure(one.answer.words)}
    worded = {name for name in worded if vocabulary[name].kind == "number"}  # "stock injectors" is no company
    topics = {vocabulary[name].topic for name in told if name not in worded}
    topics |= {"towing" for one in told.values() if _tows(one)}
    found: dict[str, Understood] = {}
    hits = [hit for hit in SPAN.finditer(words) if hit.start() not in taken]
    waiting = [(hit, able) for hit in hits if (able := _able(vocabulary, words, hit))]
    for hit, able in (*waiting, *waiting):  # what one tells may be the company of one before it
        if any(one in found.values() for one in able):
            continue
        about = topics | {vocabulary[name].topic for name in found}
        about |= {"place"} if "towing" in about else set()
        left = [one for one in able if one.answer.fact not in {*told, *found}]
        usual = [one for one in left if is_usual(vocabulary[one.answer.fact], one)]
        near = [one for one in left if vocabulary[one.answer.fact].topic in about]
        near = near if len(near) < 2 else [one for one in near if one in usual]
        planned = [one for one in left if vocabulary[one.answer.fact].plans and vocabulary[one.answer.fact].limit]
        if len(planned) == 1 and WANTED.search(words):  # "need a turbo for my truck, 500 hp"
            near = planned
        measured = {vocabulary[one.answer.fact].quantity for one in usual if one.answer.words != hit.group()}
        one = _first(vocabulary, near) or (_first(vocabulary, usual) if measured and measured <= _BY_ITSELF else None)
        if one is not None:
            found[one.answer.fact] = one
    yield from found.values()


def _able(vocabulary: Mapping[str, FactDef], words: str, hit: re.Match[str]) -> list[Understood]:
    """What a figure may tell by its unit, or, of a trailer, by its thousands."""
    after, found = words[hit.end() :], list[Understood]()
    for definition in vocabulary.values():
        if definition.kind != "number" or definition.quantity not in _TELLING or _adds_up(vocabulary, definition):
            continue
        stretch = with_unit(definition, words, hit)
        if definition.quantity == "temperature" and DEGREES.match(after):
            stretch = f"{hit.group()} degrees"
        elif definition.quantity == "power" and _AT.match(after):
            stretch = hit.group()
        elif definition.quantity == "mass" and not stretch and not _of_other_units(after):
            stretch = hit.group() if _in_thousands(definition, hit.group()) else ""
        reading = understand(definition, stretch) if stretch else None
        if reading is not None and len(meant := suggestions(reading.doubt)) == 1 and stretch.endswith("degrees"):
            reading = understand(definition, meant[0])
        denied = choosing.holds(clause_at(words, hit.start(), hit.end()), definition.denied_by)
        if reading is not None and not reading.doubt and not denied and not _is_far_below(definition, reading):
            found.append(reading)
    return found


def _is_far_below(definition: FactDef, heard: Understood) -> bool:
    """Whether nothing was heard, or a figure too small to be told by its unit: the height of "a 22 foot trailer"."""
    value, usual = heard.fact.value if heard.fact is not None else None, definition.prior
    return not isinstance(value, Range) or (usual is not None and 2 * value.high < usual.low)


def _of_other_units(after: str) -> bool:
    return asides.other_unit(after.split(), "mass")


def _in_thousands(definition: FactDef, figure: str) -> bool:
    """Whether a figure without a unit can be the pounds of a trailer: "12k", "13,500"."""
    value = understand(definition, figure).fact
    return value is not None and isinstance(value.value, Range) and value.value.low >= LEAST_WEIGHT


def _adds_up(vocabulary: Mapping[str, FactDef], definition: FactDef) -> bool:
    """Whether it is one of several shares of a whole, each of which is told by its name."""
    sums = ((one.name, against) for one in vocabulary.values() for against in one.held_against if against.sign == 0)
    return any(definition.name in (name, *against.others) for name, against in sums)


def _tows(heard: Understood) -> bool:
    """Whether a choice of what it does is towing."""
    return heard.fact is not None and isinstance(heard.fact.value, frozenset) and "towing" in heard.fact.value


def _first(vocabulary: Mapping[str, FactDef], readings: Sequence[Understood]) -> Understood | None:
    """The only one; of several that are asked together the one that is asked first."""
    groups = {vocabulary[one.answer.fact].together or one.answer.fact for one in readings}
    by_order = sorted(readings, key=lambda one: vocabulary[one.answer.fact].order)
    return by_order[0] if len(groups) == 1 else None


def is_usual(definition: FactDef, heard: Understood) -> bool:
    """Whether what was heard is a figure that most callers have."""
    return heard.fact is not None and isinstance(heard.fact.value, Range) and definition.usual(heard.fact.value)


def clause_at(words: str, start: int, end: int) -> str:
    """The clause around a number."""
    breaks = list(re.finditer(r"[;.,](?=\s)|\b(?:and|but|with)\b", words))
    left = max((hit.end() for hit in breaks if hit.end() <= start), default=0)
    right = min((hit.start() for hit in breaks if hit.start() >= end), default=len(words))
    return words[left:right]
