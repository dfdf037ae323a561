"""From facts to what the match is asked: engine, place, plumbing and duties.

Every input that nobody stated is taken from a rule's assumption or from the vocabulary's typical value, and is
listed with its assumption. The factors between a modification and its effect are workshop experience (common
practice, no source); each is a named table here, so that it can be argued with.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef
from advisor.matching.air import standard_atmosphere
from advisor.matching.duty import road_load, road_speed_to_engine_speed
from advisor.matching.inputs import Duty, Engine, Place, Plumbing
from advisor.units import Range

RPM = pi / 30.0
HORSEPOWER = 745.699872
INCH = 0.0254

# Common practice, no source: what each modification does to the fuel the system can give, over stock.
TUNE_FUEL = {"stock": 1.0, "mild": 1.2, "hot": 1.4, "competition": 1.55}
PUMP_FLOW = {"stock": 1.9, "larger": 2.8, "dual": 4.5}
LIFT_PUMP_FLOW = {"none": 1.6, "stock": 2.0, "upgraded": 10.0}
# Common practice, no source: breathing against a four-valve head in good order.
VALVE_BREATHING = {"two": 0.95, "four": 1.0}
HEAD_BREATHING = {"stock": 1.0, "ported": 1.04, "ring-sealed": 1.04}
CAM_BREATHING = {"stock": 1.0, "street": 1.01, "competition": 1.03}
# Common practice, no source: effectiveness and resistance [Pa s2/kg2] of the charge-air cooler.
COOLER = {
    "none": (0.0, 5_000.0),
    "stock": (0.72, 60_000.0),
    "large": (0.80, 35_000.0),
    "water": (0.92, 30_000.0),
}
WHEEL_SHARE = {"manual": 0.85, "automatic": 0.80}
STOCK_BSFC = 0.215 / 3.6e6  # kg/J at rated power; direct-injection diesel 195-225 g/kWh (Heywood ch. 15, from memory)
FUEL_DENSITY = 840.0  # kg/m3, within EN 590's 820-845 (from memory)

# Band of engine speed as shares of the limit, goal speed, target lambda, smoke lambda, temperature limit [K].
# Common practice, no source: lambda 1.5 and more sustained, 1.2 and more on the street, 1.0-1.1 in competition;
# 1,250 degF held for minutes, 1,400 degF in bursts, 1,600 degF and more for seconds.
HABITS: Mapping[str, tuple[float, float, float, float, float, float]] = {
    "daily": (0.38, 0.85, 0.80, 1.40, 1.20, 1_033.0),
    "towing": (0.48, 0.80, 0.66, 1.60, 1.35, 950.0),
    "strip": (0.62, 1.00, 0.90, 1.20, 1.05, 1_144.0),
    "sled": (0.70, 1.00, 0.88, 1.12, 1.00, 1_200.0),
}
COMPETITION = frozenset({"strip", "sled"})
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
    """What the match is asked for this caller."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    duties: tuple[Duty, ...]
    main: str
    power_goal: float
    boost_wanted_by: float | None
    road_load: float
    charge_pipe: float
    stated_duties: tuple[str, ...]
    taken: tuple[Taken, ...]
    missing: tuple[str, ...]


class _Reader:
    """Reads facts, falling back on what is typical, and keeps note of what it took."""

    def __init__(self, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> None:
        self.facts = facts
        self.vocabulary = vocabulary
        self.taken: dict[str, Taken] = {}

    def number(self, name: str, otherwise: float | None = None, because: str = "") -> float:
        fact = self.facts.get(name)
        if fact is not None and isinstance(fact.value, Range):
            self._note(name, fact.value, fact.origin.kind, fact.origin.source)
            return fact.value.mid
        definition = self.vocabulary[name]
        value = otherwise if otherwise is not None else definition.typical
        if value is None:
            raise KeyError(f"the vocabulary gives no typical value for {name!r}")
        self.taken[name] = Taken(
            name, Range(value, value), "assumed", because or "nobody said; the usual value is taken"
        )
        return value

    def choice(self, name: str, otherwise: str) -> str:
        fact = self.facts.get(name)
        if fact is not None and isinstance(fact.value, str):
            self._note(name, fact.value, fact.origin.kind, fact.origin.source)
            return fact.value
        self.taken[name] = Taken(name, otherwise, "assumed", "nobody said; the usual kind is taken")
        return otherwise

    def known(self, name: str) -> bool:
        fact = self.facts.get(name)
        return fact is not None and isinstance(fact.value, Range)

    def _note(self, name: str, value: Range | str, kind: str, source: str) -> None:
        if kind == "answer" and source != "not sure":
            self.taken[name] = Taken(name, value, "given", "")
        elif kind == "answer":
            self.taken[name] = Taken(
                name, value, "assumed", "he is not sure; the middle of the likely range is taken"
            )
        else:
            self.taken[name] = Taken(name, value, "assumed", f"by the rule {source}")


def situation(facts: FactBase, vocabulary: Mapping[str, FactDef]) -> Situation:
    """What the match is asked for these facts (SI); what nobody stated is assumed, and listed in ``taken``."""
    read = _Reader(facts, vocabulary)
    engine = _engine(read)
    altitude = read.number("altitude")
    temperature = read.number("summer temperature")
    pressure, _ = standard_atmosphere(altitude)
    effectiveness, cooler_resistance = COOLER[read.choice("intercooler", "stock")]
    exhaust = read.number("exhaust size")
    plumbing = Plumbing(
        filter_resistance=8_000.0,
        cooler_resistance=cooler_resistance,
        exhaust_resistance=40_000.0 * (4.0 * INCH / exhaust) ** 4,
        cooler_effectiveness=effectiveness,
        coolant_rise=15.0 if effectiveness else 0.0,
    )
    goal = read.number("power goal")
    if read.choice("power measured at", "crank") == "wheels":
        goal /= WHEEL_SHARE[read.choice("transmission", "automatic")]
    load = _towing(read, float(pressure), float(engine.speed_limit)) if _includes(facts, "towing") else (0.0, 0.0)
    duties, main = _duties(read, facts, goal, engine, load)
    wanted = read.number("boost wanted by") if read.known("boost wanted by") else None
    missing = tuple(name for name in ESSENTIAL if not _stated(facts, name))
    return Situation(
        engine=engine,
        place=Place(pressure=float(pressure), temperature=temperature),
        plumbing=plumbing,
        duties=duties,
        main=main,
        power_goal=goal,
        boost_wanted_by=wanted,
        road_load=load[0],
        charge_pipe=read.number("charge pipe size"),
        stated_duties=tuple(sorted(_chosen(facts))),
        taken=tuple(read.taken.values()),
        missing=missing,
    )


def _chosen(facts: FactBase) -> frozenset[str]:
    value = facts.value("duties")
    return value if isinstance(value, frozenset) else frozenset()


def _includes(facts: FactBase, duty: str) -> bool:
    return duty in _chosen(facts)


def _stated(facts: FactBase, name: str) -> bool:
    fact = facts.get(name)
    return fact is not None and fact.origin.kind == "answer" and fact.origin.source != "not sure"


def _engine(read: _Reader) -> Engine:
    displacement = read.number("displacement")
    cylinders = read.number("cylinders")
    limit = read.number("rpm limit")
    stock_power = read.number("stock power")
    stock_flow = stock_power * STOCK_BSFC
    tune = TUNE_FUEL[read.choice("tune", "stock")]
    pump = PUMP_FLOW[read.choice("injection pump", "stock")]
    lift = LIFT_PUMP_FLOW[read.choice("lift pump", "stock")]
    if read.known("injected volume"):
        per_stroke = read.number("injected volume") * FUEL_DENSITY
    else:
        over = read.number("injector size")
        rated = 0.88 * limit
        strokes = cylinders * rated / (4.0 * pi)
        per_stroke = stock_flow * tune * (1.0 + over) / strokes
    breathing = (
        VALVE_BREATHING[read.choice("valves per cylinder", "four")]
        * HEAD_BREATHING[read.choice("cylinder head", "stock")]
        * CAM_BREATHING[read.choice("camshaft", "stock")]
    )
    return Engine(
        displacement=displacement,
        cylinders=cylinders,
        compression_ratio=read.number("compression ratio"),
        speed_limit=limit,
        breathing=breathing,
        fuel_per_stroke=per_stroke,
        fuel_flow=stock_flow * min(pump, lift),
    )


def _duties(
    read: _Reader, facts: FactBase, goal: float, engine: Engine, load: tuple[float, float]
) -> tuple[tuple[Duty, ...], str]:
    names = sorted(_chosen(facts)) or ["daily"]
    competes = bool(COMPETITION & set(names))
    if not competes and "daily" not in names:
        names.append("daily")  # a truck that tows is also driven; that is where its full power is asked
    stated = {name: read.number(f"{name} share") for name in names if read.known(f"{name} share")}
    rest = max(0.05, 1.0 - sum(stated.values())) / max(1, len(names) - len(stated))
    weights = {name: stated.get(name, rest) for name in names}
    main_fact = facts.get("main duty")
    main = str(main_fact.value) if main_fact is not None and main_fact.value in names else ""
    main = main or max(sorted(names), key=lambda name: weights[name])
    low_said = read.number("working rpm low") if read.known("working rpm low") else None
    high_said = read.number("working rpm high") if read.known("working rpm high") else None
    limit = float(engine.speed_limit)
    duties = []
    for name in names:
        low, high, at, target, smoke, hottest = HABITS[name]
        first, last, goal_speed = low * limit, high * limit, at * limit
        power = goal
        if name == "daily" and competes:
            power = 0.7 * goal
        if name == "towing":
            power, goal_speed = min(load[0], goal), load[1]
            first, last = min(first, 0.8 * goal_speed), max(last, min(limit, 1.15 * goal_speed))
        if name == main or (main == "towing" and name == "daily" and not competes):
            if low_said is not None:
                first = min(low_said, 0.9 * limit)
            if high_said is not None:
                last = max(min(high_said, 1.05 * limit), 1.15 * first)
            if name != "towing":
                goal_speed = min(max(goal_speed, first), last)
        duties.append(
            Duty(
                name=name,
                low=first,
                high=last,
                goal_speed=min(max(goal_speed, first), last),
                power=power,
                smoke_lambda=smoke,
                target_lambda=target,
                temperature_limit=hottest,
                weight=weights[name],
            )
        )
    return tuple(duties), main


def _towing(read: _Reader, pressure: float, limit: float) -> tuple[float, float]:
    """Power at the crank [W] and engine speed [rad/s] to hold the grade."""
    mass = read.number("vehicle weight") + read.number("trailer weight")
    speed = read.number("towing speed")
    density = pressure / (287.05 * read.number("summer temperature"))
    efficiency = WHEEL_SHARE[read.choice("transmission", "automatic")]
    power = road_load(
        mass=mass, speed=speed, grade=read.number("grade"), density=density, efficiency=efficiency
    )
    engine_speed = road_speed_to_engine_speed(
        speed=speed,
        tyre_diameter=read.number("tyre diameter"),
        axle_ratio=read.number("axle ratio"),
        gear_ratio=read.number("top gear ratio"),
    )
    # On a real grade he shifts down: the box keeps the engine between half and four fifths of its limit.
    while engine_speed < 0.55 * limit:
        engine_speed *= 1.33
    return float(power), float(min(engine_speed, 0.85 * limit))
