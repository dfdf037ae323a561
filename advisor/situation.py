"""From facts to what the match is asked: engine, place, plumbing and duties.

Every input that nobody stated is taken from a rule's assumption or from the vocabulary's typical value, and
is listed with its assumption; or it is drawn many times over, to find what asking for it is worth. The factors
between a modification and its effect are workshop experience (common practice, no source); each is a named
table here, so that it can be argued with.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor import fuelling, pulling
from advisor.fuelling import ENOUGH, FUEL_FACTS, LIFT_PUMP_FLOW, PUMP_FLOW, TRACTOR, TUNE_FUEL, UNLIMITED
from advisor.inference.facts import FactBase
from advisor.inference.verdict import judge
from advisor.knowledge import FactDef
from advisor.matching.air import standard_atmosphere
from advisor.matching.inputs import Duty, Engine, Number, Place, Plumbing
from advisor.pulling import FIELD_WORK
from advisor.units import Range

INCH = 0.0254

# Common practice, no source: breathing against the open 6.7 L diesel that the volumetric efficiency is from.
VALVE_BREATHING = {"two": 0.98, "four": 1.03}
HEAD_BREATHING = {"stock": 1.0, "ported": 1.04, "ring-sealed": 1.04}
CAM_BREATHING = {"stock": 1.0, "street": 1.01, "competition": 1.03}
# Common practice, no source: effectiveness and resistance [Pa s2/kg2] of charge-air cooler and filter.
COOLER_EFFECTIVENESS = {"none": 0.0, "stock": 0.78, "large": 0.85, "water": 0.92}
COOLER_RESISTANCE = {"none": 5_000.0, "stock": 50_000.0, "large": 35_000.0, "water": 30_000.0}
FILTER_RESISTANCE = {"stock": 9_000.0, "large": 5_000.0}
EXHAUST_RESISTANCE = 40_000.0  # Pa s2/kg2 at a 4 in system; falls with the fourth power of the size
DRIVELINE = {"manual": 0.85, "automatic": 0.80}
# Band of engine speed as shares of the limit, goal speed, target lambda, the one on a strongly fuelled engine, smoke
# lambda, temperature limit [K]. Common practice, no source: lambda 1.5 and more sustained and at stock output, down
# to 1.2 on strongly fuelled street trucks, 1.0-1.1 in competition; 1,250 degF held for minutes, 1,400 degF in bursts,
# 1,600 degF and more for seconds.
HABITS: Mapping[str, tuple[float, float, float, float, float, float, float]] = {
    "daily": (0.38, 0.92, 0.88, 1.50, 1.20, 1.12, 1_033.0),
    "towing": (0.48, 0.80, 0.66, 1.60, 1.35, 1.12, 950.0),
    "strip": (0.62, 1.00, 0.90, 1.15, 1.15, 1.02, 1_144.0),
    "sled": (0.70, 1.00, 0.88, 1.10, 1.10, 0.98, 1_200.0),
}
COMPETITION = frozenset({"strip", "sled"})
NOT_SURE = "not sure"
FUEL_COUNTED = "fuel counted"
BY_RULE = "by the rule "
# What nobody can be advised without.
ESSENTIAL = ("displacement", "power goal", "duties")


@dataclass(frozen=True, slots=True)
class Taken:
    """An input as the figures took it (SI): given by the caller, set by a rule, or assumed and why."""

    name: str
    value: Range | str
    basis: str
    assumption: str


@dataclass(frozen=True, slots=True)
class Situation:
    """What the match is asked for this caller; SI. Plain floats, or arrays (draws, 1, 1) of drawn inputs.

    power_goal       power at the crank that he wants [W]
    fuel_power       what his fuel system can feed [W]; parts_power: by what he told of its parts alone
    power_today      power at the crank that it makes now [W], None where nobody said
    road_load        power at the crank to hold the grade [W], 0 without towing
    boost_wanted_by  engine speed [rad/s], None where he did not say
    spreads          relative standard deviation of each input of the match that rests on an assumption
    missing          what nobody can be advised without, and nobody has said
    """

    engine: Engine
    place: Place
    plumbing: Plumbing
    duties: tuple[Duty, ...]
    main: str
    power_goal: Number
    fuel_power: Number
    parts_power: Number
    power_today: Number | None
    fuel_limited: bool  # he told of his fuel system, and it is enough or stays: so it limits the match
    fuel_told: bool
    asked_powers: tuple[Number, ...]  # of each duty, before the fuel limits it [W]
    boost_wanted_by: Number | None
    road_load: Number
    vehicle_mass: Number
    charge_pipe: Number
    divided_manifold: bool
    stated_duties: tuple[str, ...]
    spreads: tuple[tuple[str, float], ...]
    taken: tuple[Taken, ...]
    missing: tuple[str, ...]

    @property
    def leading(self) -> Duty:
        """The main duty."""
        return next(duty for duty in self.duties if duty.name == self.main)


def bears_on_situation(definition: FactDef) -> bool:
    """Whether a situation may hang on the fact: what callers are asked, and the duty that rules put first."""
    return definition.source == "asked" or definition.name == "main duty"


class _Reader:
    """Reads facts, falling back on what is typical, and keeps note of what it took."""

    def __init__(
        self, facts: FactBase, vocabulary: Mapping[str, FactDef], drawn: Mapping[str, NDArray[Any]]
    ) -> None:
        self.facts = facts
        self.vocabulary = vocabulary
        self.drawn = drawn
        self.taken: dict[str, Taken] = {}

    def number(self, name: str) -> Number:
        if name in self.drawn:
            return np.asarray(self.drawn[name], dtype=np.float64)
        if (fact := self.facts.get(name)) is not None and isinstance(fact.value, Range):
            self._note(name, fact.value, fact.origin.kind, fact.origin.source)
            return fact.value.mid
        if (value := self.vocabulary[name].typical) is None:
            raise KeyError(f"the vocabulary gives no typical value for {name!r}")
        if name == "stock power":
            usual = self.vocabulary["displacement"].typical
            size, kind = self.facts.value("displacement"), self.facts.value("vehicle kind")
            value = fuelling.usual_rating(value, size, usual, kind)
        self.taken[name] = Taken(name, Range(value, value), "assumed", "nobody said; the usual value is taken")
        return value

    def number_or_none(self, name: str) -> Number | None:
        """The number where somebody gave it, a rule assumed it, or it is drawn."""
        fact = self.facts.get(name)
        known = name in self.drawn or (fact is not None and isinstance(fact.value, Range))
        return self.number(name) if known else None

    def choice(self, name: str, usual: str) -> str:
        fact = self.facts.get(name)
        if fact is not None and isinstance(fact.value, str):
            self._note(name, fact.value, fact.origin.kind, fact.origin.source)
            return fact.value
        self.taken[name] = Taken(name, usual, "assumed", "nobody said; the usual kind is taken")
        return usual

    def factor(self, name: str, table: Mapping[str, float], usual: str) -> Number:
        """What a choice stands for in a table."""
        if name in self.drawn:
            words = self.drawn[name]
            return np.asarray([table[word] for word in words.ravel()]).reshape(words.shape)
        return table[self.choice(name, usual)]

    def _note(self, name: str, value: Range | str, kind: str, source: str) -> None:
        if kind == "answer" and source != NOT_SURE:
            self.taken[name] = Taken(name, value, "given", "")
            return
        assumption = BY_RULE + source
        if kind == "answer":
            assumption = "he is not sure; the middle of the likely range is taken"
        self.taken[name] = Taken(name, value, "assumed", assumption)


def situation(
    facts: FactBase, vocabulary: Mapping[str, FactDef], drawn: Mapping[str, NDArray[Any]] | None = None
) -> Situation:
    """What the match is asked for these facts; what nobody stated is assumed, and listed in ``taken``.

    ``drawn`` gives facts many values at once: arrays (draws, 1, 1) of SI numbers or of choices.
    """
    read = _Reader(facts, vocabulary, drawn or {})
    engine = _engine(read)
    pressure, _ = standard_atmosphere(read.number("altitude"))
    place = Place(pressure=pressure, temperature=read.number("summer temperature"))
    plumbing = _plumbing(read)
    goal = read.number("power goal")
    at_the_wheels = read.factor("power measured at", {"crank": 0.0, "wheels": 1.0}, "crank")
    efficiency = read.factor("transmission", DRIVELINE, "automatic")
    to_crank = 1.0 / np.where(np.asarray(at_the_wheels) > 0.0, efficiency, 1.0)
    goal = goal * to_crank
    if (today := read.number_or_none("power now")) is not None and _told(facts, "power now"):
        today = today * to_crank  # a rating that a rule takes for it is at the crank
    load = pulling.Pull(0.0, 0.0)
    if "towing" in _chosen(facts):
        field = read.factor("field work", FIELD_WORK, "trailer") if facts.value("vehicle kind") == TRACTOR else 0.0
        load = pulling.asks(read.number, place, engine, efficiency, goal, field)
    duties, main = _duties(read, facts, goal, engine, load)
    by_parts = fed_powers = fuelling.feeds(engine, place, plumbing, duties)
    if today is not None:
        leading = next(duty for duty in duties if duty.name == main)
        as_built, engine = engine, fuelling.at_least(engine, today, place, plumbing, leading)
        if engine is not as_built:
            fed_powers = fuelling.feeds(engine, place, plumbing, duties)
    told = any(_answered(facts, vocabulary[name]) or name in read.drawn for name in FUEL_FACTS)
    asked_powers = tuple(duty.power for duty in duties)
    stays = np.asarray(read.drawn.get(FUEL_COUNTED, facts.value(FUEL_COUNTED)) == "as it is")
    engine, duties, held = fuelling.as_it_counts(engine, duties, fed_powers, told, stays)
    found = Situation(
        engine=engine,
        place=place,
        plumbing=plumbing,
        duties=duties,
        main=main,
        power_goal=goal,
        fuel_power=np.max(fed_powers, axis=0),
        parts_power=np.max(by_parts, axis=0),
        power_today=today,
        fuel_limited=held,
        fuel_told=told,
        asked_powers=asked_powers,
        boost_wanted_by=read.number_or_none("boost wanted by"),
        road_load=load.power,
        vehicle_mass=read.number("vehicle weight"),
        charge_pipe=read.number("charge pipe size"),
        divided_manifold=read.choice("manifold entry", "divided") == "divided",
        stated_duties=tuple(sorted(_chosen(facts))),
        spreads=spreads_of(read.taken, vocabulary),
        taken=tuple(read.taken.values()),
        missing=tuple(name for name in ESSENTIAL if not _answered(facts, vocabulary[name])),
    )
    return found if drawn else _plain(found)


def fuelled(now: Situation) -> Situation | None:
    """The same with fuel enough for what is asked; None where the fuel holds nothing back."""
    pairs = zip(now.duties, now.asked_powers, strict=True)
    if not now.fuel_limited or all(np.all(np.asarray(duty.power) >= ENOUGH * power) for duty, power in pairs):
        return None
    whole = zip(now.duties, now.asked_powers, strict=True)
    duties = tuple(replace(duty, power=power) for duty, power in whole)
    engine = replace(now.engine, fuel_per_stroke=UNLIMITED, fuel_flow=UNLIMITED)
    return replace(now, engine=engine, duties=duties, fuel_limited=False)


Plain = TypeVar("Plain")


def _plain(value: Plain) -> Plain:
    """The same with every number a float, so that it can be compared and kept by value."""
    if is_dataclass(value) and not isinstance(value, type | Taken):
        return replace(value, **{f.name: _plain(getattr(value, f.name)) for f in fields(value)})
    if isinstance(value, tuple):
        return tuple(_plain(part) for part in value)  # type: ignore[return-value]
    if isinstance(value, np.ndarray | np.floating):
        return float(value)  # type: ignore[return-value]
    return value


SCALE_HEIGHT = 8_400.0  # m: air pressure falls by one e-th, near the ground (standard atmosphere)
# The input of the match that an assumed fact moves, and how much of the fact's relative spread reaches it.
_MOVES = {
    "displacement": ("engine.displacement", 1.0),
    "compression ratio": ("engine.compression_ratio", 1.0),
    "valves per cylinder": ("engine.breathing", 1.0),
    "injector size": ("engine.fuel_per_stroke", 1.0),
    "stock power": ("engine.fuel_per_stroke", 1.0),
    "tune": ("engine.fuel_per_stroke", 1.0),
    "altitude": ("place.pressure", 1.0),
    "summer temperature": ("place.temperature", 0.1),
    "intercooler": ("plumbing.cooler_effectiveness", 1.0),
    "exhaust size": ("plumbing.exhaust_resistance", 4.0),
}
# Relative standard deviations of assumed choices, of altitude as pressure and of temperature in kelvin.
_CHOICE_SPREAD = {
    "valves per cylinder": 0.02,
    "tune": 0.15,
    "intercooler": 0.06,
    "injector size": 0.2,
    "altitude": 0.05,
    "summer temperature": 0.02,
}


def spreads_of(taken: Mapping[str, Taken], vocabulary: Mapping[str, FactDef]) -> tuple[tuple[str, float], ...]:
    """Relative standard deviations of inputs that rest on assumptions, or on a range that the caller gave and that
    is taken to hold nine of ten; several on one input add in squares."""
    found: dict[str, float] = {}
    for name, (moved, power) in _MOVES.items():
        value = taken[name].value if name in taken else None
        given = name in taken and taken[name].basis == "given"
        if value is None or (given and (isinstance(value, str) or value.exact)):
            continue
        prior = vocabulary[name].prior
        if given and isinstance(value, Range):
            middle = SCALE_HEIGHT if name == "altitude" else 1.0 + value.mid if name == "injector size" else value.mid
            power = 1.0 if name == "summer temperature" else power
            spread = power * (value.high - value.low) / (2 * 1.645 * middle)
        elif name in _CHOICE_SPREAD:
            spread = _CHOICE_SPREAD[name]
        elif prior is not None and prior.mid > 0.0:
            spread = power * (prior.high - prior.low) / (2 * 1.645 * prior.mid)  # a prior holds nine of ten
        else:
            continue
        found[moved] = (found.get(moved, 0.0) ** 2 + spread**2) ** 0.5
    return tuple(sorted(found.items()))


def _chosen(facts: FactBase) -> frozenset[str]:
    value = facts.value("duties")
    return value if isinstance(value, frozenset) else frozenset()


def _answered(facts: FactBase, definition: FactDef) -> bool:
    """Whether the caller said it; or a rule did, where nobody is to be asked."""
    fact, asked = facts.get(definition.name), definition.ask_when
    if fact is None or fact.origin.source == NOT_SURE or fact.origin.kind == "answer":
        return fact is not None and fact.origin.source != NOT_SURE
    return asked is not None and not np.any(judge(asked, facts) == 1)


def _engine(read: _Reader) -> Engine:
    """The engine with the fuel system that he told."""
    bare = Engine(
        displacement=read.number("displacement"),
        cylinders=read.number("cylinders"),
        compression_ratio=read.number("compression ratio"),
        speed_limit=read.number("rpm limit"),
        breathing=read.factor("valves per cylinder", VALVE_BREATHING, "four")
        * read.factor("cylinder head", HEAD_BREATHING, "stock")
        * read.factor("camshaft", CAM_BREATHING, "stock"),
    )
    pumps = np.minimum(
        read.factor("injection pump", PUMP_FLOW, "stock"), read.factor("lift pump", LIFT_PUMP_FLOW, "stock")
    )
    tune, stock_power = read.factor("tune", TUNE_FUEL, "stock"), read.number("stock power")
    volume = read.number_or_none("injected volume")
    injectors = read.number("injector size") if volume is None or np.any(np.isnan(volume)) else None
    return fuelling.by_its_parts(bare, stock_power, tune, pumps, injectors, volume)


def _told(facts: FactBase, name: str) -> bool:
    """Whether the caller said it, or it is drawn as what he might say."""
    fact = facts.get(name)
    return fact is None or fact.origin.kind == "answer"


def _plumbing(read: _Reader) -> Plumbing:
    effectiveness = read.factor("intercooler", COOLER_EFFECTIVENESS, "stock")
    return Plumbing(
        filter_resistance=read.factor("air filter", FILTER_RESISTANCE, "stock"),
        cooler_resistance=read.factor("intercooler", COOLER_RESISTANCE, "stock"),
        exhaust_resistance=EXHAUST_RESISTANCE * (4.0 * INCH / read.number("exhaust size")) ** 4,
        cooler_effectiveness=effectiveness,
        coolant_rise=np.where(np.asarray(effectiveness) > 0.0, 5.0, 0.0),
    )


def _duties(
    read: _Reader, facts: FactBase, goal: Number, engine: Engine, load: pulling.Pull
) -> tuple[tuple[Duty, ...], str]:
    names = sorted(_chosen(facts)) or ["daily"]
    competes = bool(COMPETITION & set(names))
    if not competes and "daily" not in names:
        names.append("daily")  # a truck that tows is also driven; that is where its full power is asked
    weights = _weights(read, names)
    chosen = _chosen(facts)
    for name in names:  # nothing is assumed of a duty that he does not have, or of the only one
        taken = read.taken.get(f"{name} share")
        if taken and (name not in chosen or (len(chosen) == 1 and taken.basis == "assumed")):
            del read.taken[taken.name]
    main_fact = facts.get("main duty")
    main = str(main_fact.value) if main_fact is not None and main_fact.value in names else ""
    main = main or max(sorted(names), key=lambda name: float(np.mean(weights[name])))
    low_said, high_said = read.number_or_none("working rpm low"), read.number_or_none("working rpm high")
    limit = engine.speed_limit
    duties = []
    for name in names:
        low, high, at, target, strained, smoke, hottest = HABITS[name]
        first, last, speed = low * limit, high * limit, at * limit
        power: Number = 0.7 * goal if name == "daily" and competes else goal
        if name == "towing":
            power, speed = np.minimum(load.power, goal), load.speed
            first = np.minimum(first, 0.8 * speed)
            last = np.maximum(last, np.minimum(limit, 1.15 * speed))
        if name == main or (main == "towing" and name == "daily" and not competes):
            if low_said is not None:
                first = _unless_nan(low_said, np.minimum(low_said, 0.9 * limit), first)
            if high_said is not None:
                most = np.minimum(high_said, 1.05 * limit)
                last = _unless_nan(high_said, np.maximum(most, 1.15 * first), last)
        duties.append(
            Duty(
                name=name,
                low=first,
                high=last,
                goal_speed=np.minimum(np.maximum(speed, first), last),
                power=power,
                smoke_lambda=smoke,
                target_lambda=target,
                strained_lambda=strained,
                temperature_limit=hottest,
                weight=weights[name],  # type: ignore[arg-type]
                told_as=load.place if name == "towing" else "",
            )
        )
    return tuple(duties), main


def _unless_nan(said: Number, follows: Number, usual: Number) -> Number:
    """What follows from a figure, or the usual where it is NaN: among drawn values that is one nobody said."""
    missing = np.isnan(said)
    return np.where(missing, usual, follows) if np.any(missing) else follows


def unstated(now: Situation) -> dict[str, float]:
    """Facts that change the situation once somebody states them, and what stands for each until then (SI; NaN where
    the habits of a duty do)."""
    whole = sum(float(duty.weight) for duty in now.duties)
    shares = {f"{duty.name} share": float(duty.weight) / whole for duty in now.duties} if len(now.duties) > 1 else {}
    return {**dict.fromkeys(("working rpm low", "working rpm high", "power now"), float("nan")), **shares}


def _weights(read: _Reader, names: list[str]) -> dict[str, Number]:
    """Share of each duty; those that nobody gave share what is left."""
    stated = {name: share for name in names if (share := read.number_or_none(f"{name} share")) is not None}
    total: Number = sum(stated.values(), start=0.0)
    rest = np.maximum(0.05, 1.0 - total) / max(1, len(names) - len(stated))
    return {name: np.maximum(stated.get(name, rest), 0.01) for name in names}
