"""Figures far from all others of their kind: a price of a tenth among turbos of its size, a threshold ten times those
of the other rules. Sound each by itself, and more likely a slip of the hand than meant so.

How far is far is common practice, no source.
"""

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from advisor.quantities import QUANTITIES, Range, from_si, show, to_si

from .catalogue import Catalogue
from .conditions import Between, Compare, FactRef, Leaf, Number, leaves
from .measure import quantities_of
from .places import Fault, Place
from .rules import Rule
from .vocabulary import FactDef
from .wares import Part, Turbo, Ware

FAR = 1.7
"""So many times above the dearest, heaviest ... of its neighbours, or below the cheapest, is far."""
FAR_IN_DAYS = 5.0
FAR_FOR_A_THRESHOLD = 2.5
NEAR_THE_END = 0.5
"""Past this share of the way from all others to where the fact ends, hardly any caller is met."""
NEIGHBOURS, FEWEST = 6, 3
MEASURED = frozenset(
    ("temperature", "pressure", "mass", "altitude", "power", "torque", "mass flow", "speed", "rotation")
)
_FIGURE = re.compile(r"\d[\d,]*(?:\.\d+)?|\.\d+")
_SIZES = ("inducer", "housing_ratio", "gate_bore", "largest_inducer", "height")
_SHOWN = {"price": ("$", "money"), "weight": ("kg", "mass"), "delivery": ("days", "time"),
          "backsweep": ("deg", "angle"), "rotor_speed_limit": ("rpm", "rotation"),
          "throat_area": ("cm2", "area"), "inlet": ("in", "length"),
          "outlet": ("in", "length"), "hub_ratio": ("", "ratio")}  # fmt: skip
_COUNTED = ("full_blades", "splitter_blades", "blades")


def odd_wares(catalogue: Catalogue) -> Iterator[Fault]:
    """Notes on figures of the catalogue; each wants at least `FEWEST` others of its kind to be held against."""
    for key, group in catalogue.groups.items():
        kinds: dict[str, list[Ware]] = defaultdict(list)
        for ware in group.values():
            kinds[ware.kind if isinstance(ware, Part) else ""].append(ware)
        for wares in kinds.values():
            if len(wares) > FEWEST:
                sized = [(_size(catalogue, ware), ware) for ware in wares]
                for size, ware in sized:
                    apart = [(abs(other - size), at) for at, (other, one) in enumerate(sized) if one is not ware]
                    beside = [wares[at] for _, at in sorted(apart)[:NEIGHBOURS]]
                    yield from _odd_fields(catalogue, key, ware, beside)


def _size(catalogue: Catalogue, ware: Ware) -> float:
    """How large a piece is beside others of its kind, as a logarithm."""
    if isinstance(ware, Turbo):
        wheel = catalogue.compressor_wheels.get(ware.compressor_wheel)
        return math.log(wheel.inducer) if wheel else 0.0
    size = next((value for name in _SIZES if (value := getattr(ware, name, None))), 1.0)
    return math.log(size)


def _odd_fields(catalogue: Catalogue, key: str, ware: Ware, beside: Sequence[Ware]) -> Iterator[Fault]:
    for field in (*_SHOWN, *_COUNTED):
        if not (value := getattr(ware, field, None)):
            continue
        others = [figure for one in beside if (figure := getattr(one, field, None))]
        if len(others) < FEWEST:
            continue
        low, high = min(others), max(others)
        far = FAR_IN_DAYS if field == "delivery" else FAR
        if low / far <= value <= high * far:
            continue
        name = field.replace("_", " ")
        what = f"{name} {_shown(field, value)} is far from that of its neighbours, {_shown(field, low)}"
        what += f" to {_shown(field, high)}" if high > low else ""
        meant = [one for one in (value * 10, value / 10) if low / 1.2 <= one <= high * 1.2]
        mend = f"did you mean {_shown(field, meant[0])}?" if meant else "look whether a digit slipped"
        place = catalogue.places[key, ware.code]
        at = catalogue.field_places.get((key, ware.code, name), place)
        yield Fault(at, what, mend, "note", "far off", (place,))


def _shown(field: str, value: float) -> str:
    if field in _COUNTED:
        return f"{value:g}"
    unit, quantity = _SHOWN[field]
    return show(value, unit, quantity)


@dataclass(frozen=True, slots=True)
class _Threshold:
    """A figure that a rule holds a fact against, in the unit of the fact."""

    value: float
    text: str
    rule: Rule
    place: Place


def stocked(catalogue: Catalogue) -> dict[str, Range]:
    """Between which ends (SI) the figures of the shop's wares lie, by the fact that holds them for a candidate."""
    columns = catalogue.candidates().facts
    figures = {name: column[np.isfinite(column)] for name, column in columns.items() if column.dtype.kind == "f"}
    return {name: Range(float(some.min()), float(some.max())) for name, some in figures.items() if some.size}


def odd_thresholds(
    rules: Iterable[Rule], vocabulary: Mapping[str, FactDef], stock: Mapping[str, Range] = MappingProxyType({})
) -> Iterator[Fault]:
    """Notes on thresholds far from those of all other rules on the same fact, and from what callers usually answer or
    the shop's wares have (`stock`); on those where hardly any caller is, and on units in which nobody else writes that
    fact."""
    for fact, thresholds in _thresholds(rules, vocabulary).items():
        definition = vocabulary[fact]
        span = definition.prior or stock.get(fact)
        usual = _ends(definition, span) if span else ()
        met: list[tuple[float, Rule | None]] = [(end, None) for end in usual]
        met = sorted([*met, *((one.value, one.rule) for one in thresholds)], key=lambda pair: pair[0])
        for one in thresholds:
            low = next((value for value, rule in met if rule is not one.rule), 0.0)
            high = next((value for value, rule in reversed(met) if rule is not one.rule), 0.0)
            if 0 < low < high and _is_far(one.value, (low, high)):
                what = f"'{one.text}' is far from what '{fact}' usually is or is held against elsewhere"
                by = {rule.name: rule for _, rule in met if rule is not None and rule is not one.rule}
                if not usual and len(by) == 1:
                    ((name, rule),) = by.items()
                    what = f"'{one.text}' is far from what '{name}' ({rule.place}) holds '{fact}' against"
                yield _astray(one, definition, (low, high), what)
            elif usual and definition.prior and low < high and _is_at_the_far_end(one.value, definition, (low, high)):
                yield _hardly_met(one, definition, (low, high))
            else:
                yield from _in_another_unit(one, definition, thresholds)


def exact_figures(rules: Iterable[Rule], vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Notes on conditions that a measured figure be exactly so much, or not just so much: hardly anybody's is. Nought
    is something else, and what is counted, has a size by design or is bought is often exactly so."""
    for rule in rules:
        for leaf in leaves(rule.written):
            if not isinstance(leaf, Compare) or leaf.op not in ("=", "!="):
                continue
            for fact, number in _compared(leaf):
                if vocabulary[fact].quantity not in MEASURED or number.si == 0.0:
                    continue
                what = f"'{leaf.text}' holds for exactly {number.text}, which hardly anybody's figure is"
                if leaf.op == "!=":
                    what = f"'{leaf.text}' holds for nearly everybody, since hardly anybody's figure is exactly that"
                mend = f"write '{fact} >= {number.text}' or '<=', or 'is between' with two ends"
                yield Fault(leaf.place, what, mend, "note", "exact figure", (rule.place,))


def _is_at_the_far_end(value: float, definition: FactDef, others: tuple[float, float]) -> bool:
    """Whether a threshold lies past all others and what callers usually answer, nearer to where the fact ends."""
    if definition.plausible is None:
        return False
    (low, high), (least, most) = others, _ends(definition, definition.plausible)
    above = high < most and value > high + NEAR_THE_END * (most - high)
    return above or (least < low and value < low - NEAR_THE_END * (low - least))


def _hardly_met(one: _Threshold, definition: FactDef, others: tuple[float, float]) -> Fault:
    own = _worded(definition, one.value)
    low, high = (_worded(definition, end) for end in others)
    so = "" if _unit_of(one.text) in _same_units(definition) else f" ({own})"
    what = f"hardly any caller's '{definition.name}' is near '{one.text}'{so}: usually, and in other rules, it is {low}"
    figure = _FIGURE.search(one.text) if so else None
    bare = float(figure[0].replace(",", "")) if figure else math.nan
    meant = f"did you mean {_worded(definition, bare)}?" if others[0] <= bare <= others[1] else ""
    return Fault(one.place, f"{what} to {high}", meant or "look whether it is meant so", "note", "far off",
                 (one.rule.place,))  # fmt: skip


def _in_another_unit(one: _Threshold, definition: FactDef, thresholds: Iterable[_Threshold]) -> Iterator[Fault]:
    """A note where a threshold stands in a unit in which no other rule writes the fact, nor does facts.yaml."""
    unit = _unit_of(one.text)
    if not unit or not definition.unit or unit in _same_units(definition) or not quantities_of(unit):
        return
    if any(other.rule is not one.rule and _unit_of(other.text) == unit for other in thresholds):
        return
    what = f"'{one.text}' is {_worded(definition, one.value)}, and '{definition.name}' stands in {definition.unit}"
    mend = f"write {definition.unit} if that is meant, so that all can compare it"
    yield Fault(one.place, f"{what} everywhere else", mend, "note", "other unit", (one.rule.place,))


def _same_units(definition: FactDef) -> set[str]:
    """The fact's own unit as it may be written."""
    aliases = QUANTITIES[definition.quantity].aliases
    return {definition.unit.lower(), *(word for word, symbol in aliases.items() if symbol == definition.unit)}


def _unit_of(text: str) -> str:
    return " ".join(_FIGURE.sub("", text, count=1).strip(" -+").lower().split())


def unreached(
    rules: Iterable[Rule], vocabulary: Mapping[str, FactDef], calls: Sequence[Mapping[str, tuple[float, float]]]
) -> Iterator[Fault]:
    """Notes on thresholds that no call comes near; of each call the ends (SI) between which its figures lie."""
    for fact, thresholds in _thresholds(rules, vocabulary).items():
        definition = vocabulary[fact]
        met = [end for call in calls if fact in call for end in _ends(definition, Range(*call[fact]))]
        for one in thresholds:
            if met and min(met) > 0 and _is_far(one.value, met):
                yield _astray(one, definition, met, f"in no call '{fact}' comes near '{one.text}'; it lies within")


def _is_far(value: float, others: Sequence[float]) -> bool:
    return not min(others) / FAR_FOR_A_THRESHOLD <= value <= max(others) * FAR_FOR_A_THRESHOLD


def _astray(one: _Threshold, definition: FactDef, others: Sequence[float], what: str) -> Fault:
    low, high = min(others), max(others)
    ends = " to ".join(_worded(definition, end) for end in dict.fromkeys((low, high)))
    slips = [one.value * 10.0**power for power in (1, -1, 2, -2)]
    meant = [_worded(definition, value) for value in slips if low / 1.5 <= value <= high * 1.5]
    mend = f"did you mean {meant[0]}?" if meant else "look whether a digit slipped"
    return Fault(one.place, f"{what} ({ends})", mend, "note", "far off", (one.rule.place,))


def _thresholds(rules: Iterable[Rule], vocabulary: Mapping[str, FactDef]) -> dict[str, list[_Threshold]]:
    """All plain figures above 0 that rules hold a fact against, by fact."""
    found: dict[str, list[_Threshold]] = defaultdict(list)
    for rule in rules:
        for leaf in leaves(rule.written):
            for fact, number in _compared(leaf):
                value = _in_unit(vocabulary[fact], number.si)
                found[fact].append(_Threshold(value, number.text, rule, leaf.place))
        for slope in rule.slopes:
            if isinstance(slope.figure, FactRef):
                definition = vocabulary[slope.figure.name]
                ends = [_Threshold(_in_unit(definition, end.si), end.text, rule, end.place) for end, _ in slope.ends]
                found[definition.name] += ends
    return {fact: [one for one in thresholds if one.value > 0] for fact, thresholds in found.items()}


def _ends(definition: FactDef, span: Range) -> tuple[float, float]:
    return _in_unit(definition, span.low), _in_unit(definition, span.high)


def _compared(leaf: Leaf) -> Iterator[tuple[str, Number]]:
    """The plain numbers that one fact is held against in a leaf."""
    match leaf:
        case Compare(left=FactRef(name=fact), right=Number() as number):
            yield fact, number
        case Compare(left=Number() as number, right=FactRef(name=fact)):
            yield fact, number
        case Between(expr=FactRef(name=fact), low=low, high=high):
            yield from ((fact, end) for end in (low, high) if isinstance(end, Number))
        case _:
            pass


def _in_unit(definition: FactDef, value: float) -> float:
    return from_si(value, definition.unit, definition.quantity)


def _worded(definition: FactDef, value: float) -> str:
    return show(to_si(value, definition.unit, definition.quantity), definition.unit, definition.quantity)
