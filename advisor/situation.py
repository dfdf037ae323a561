"""From facts to what the match is asked: engine, place, plumbing and duties.

Every input that nobody stated is taken from a rule's assumption or from the vocabulary's typical value, and is
listed with its assumption. The factors between a modification and its effect are workshop experience (common
practice, no source); each is a named table here, so that it can be argued with.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi

from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef
from advisor.matching.air import AIR_GAS_CONSTANT, standard_atmosphere
from advisor.matching.duty import road_load, road_speed_to_engine_speed
from advisor.matching.engine import brake_power, demand, fuel_limit
from advisor.matching.inputs import Duty, Engine, Place, Plumbing
from advisor.matching.model import MODEL
from advisor.units import Range

RPM = pi / 30.0
HORSEPOWER = 745.699872
INCH = 0.0254

# Common practice, no source: what each modification does to the fuel the system can give, over stock.
TUNE_FUEL = {"stock": 1.0, "mild": 1.2, "hot": 1.4, "competition": 1.55}
PUMP_FLOW = {"stock": 1.9, "larger": 2.8, "dual": 4.5}
LIFT_PUMP_FLOW = {"none": 1.6, "stock": 2.0, "upgraded": 10.0}
# Common practice, no source: breathing against the open 6.7 L diesel that the volumetric efficiency is from.
VALVE_BREATHING = {"two": 0.98, "four": 1.03}
HEAD_BREATHING = {"stock": 1.0, "ported": 1.04, "ring-sealed": 1.04}
CAM_BREATHING = {"stock": 1.0, "street": 1.01, "competition": 1.03}
# Common practice, no source: effectiveness and resistance [Pa s2/kg2] of the charge-air cooler.
COOLER = {
    "none": (0.0, 5_000.0),
    "stock": (0.78, 50_000.0),
    "large": (0.85, 35_000.0),
    "water": (0.92, 30_000.0),
}
WHEEL_SHARE = {"manual": 0.85, "automatic": 0.80}
# Pickup with a tall trailer: drag area 5 m2 (travel trailers 4 to 7), rolling 0.010 (light truck tyres 0.010 to
# 0.015, truck tyres 0.006 to 0.010): Gillespie, Fundamentals of Vehicle Dynamics, from memory.
DRAG_AREA, ROLLING = 5.0, 0.010
STOCK_BSFC = 0.215 / 3.6e6  # kg/J at rated power; direct-injection diesel 195-225 g/kWh (Heywood ch. 15, from memory)
FUEL_DENSITY = 840.0  # kg/m3, within EN 590's 820-845 (from memory)

# Band of engine speed as shares of the limit, goal speed, target lambda, smoke lambda, temperature limit [K].
# Common practice, no source: lambda 1.5 and more sustained, 1.2 and more on the street, 1.0-1.1 in competition;
# 1,250 degF held for minutes, 1,400 degF in bursts, 1,600 degF and more for seconds.
HABITS: Mapping[str, tuple[float, float, float, float, float, float]] = {
    "daily": (0.38, 0.92, 0.88, 1.25, 1.12, 1_033.0),
    "towing": (0.48, 0.80, 0.66, 1.60, 1.12, 950.0),
    "strip": (0.62, 1.00, 0.90, 1.12, 1.02, 1_144.0),
    "sled": (0.70, 1.00, 0.88, 1.05, 0.98, 1_200.0),
}
COMPETITION = frozenset({"strip", "sled"})
FUEL_FACTS = ("tune", "injector size", "injection pump", "injected volume")
UNLIMITED = 1.0  # kg a stroke, kg/s: far more than any engine here burns
LUGGING = 1.7e6  # Pa of mean pressure; above it a driver shifts down (common practice, no source)
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
    fuel_power: float
    boost_wanted_by: float | None
    road_load: float
    divided_manifold: bool
    charge_pipe: float
    stated_duties: tuple[str, ...]
    spreads: tuple[tuple[str, float], ...]
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
        coolant_rise=5.0 if effectiveness else 0.0,
    )
    goal = read.number("power goal")
    if read.choice("power measured at", "crank") == "wheels":
        goal /= WHEEL_SHARE[read.choice("transmission", "automatic")]
    load = (0.0, 0.0)
    if "towing" in _chosen(facts):
        load = _towing(read, float(pressure), float(engine.speed_limit), float(engine.displacement))
    place = Place(pressure=float(pressure), temperature=temperature)
    duties, main = _duties(read, facts, goal, engine, load)
    fed = any(_answered(facts, name) for name in FUEL_FACTS)
    duties = tuple(_as_fed(duty, engine, place, plumbing, fed) for duty in duties)
    fuel_power = max(
        fed_power(engine, place, plumbing, float(duty.goal_speed), float(duty.target_lambda)) for duty in duties
    )
    engine = engine if fed else replace(engine, fuel_per_stroke=UNLIMITED, fuel_flow=UNLIMITED)
    wanted = read.number("boost wanted by") if read.known("boost wanted by") else None
    missing = tuple(name for name in ESSENTIAL if not _answered(facts, name))
    return Situation(
        engine=engine,
        place=place,
        plumbing=plumbing,
        duties=duties,
        main=main,
        power_goal=goal,
        fuel_power=fuel_power,
        boost_wanted_by=wanted,
        road_load=load[0],
        divided_manifold=read.choice("manifold entry", "divided") == "divided",
        charge_pipe=read.number("charge pipe size"),
        stated_duties=tuple(sorted(_chosen(facts))),
        spreads=_spreads(read.taken, vocabulary),
        taken=tuple(read.taken.values()),
        missing=missing,
    )


# The input of the match that an assumed fact moves, and how much of the fact's relative spread reaches it.
_MOVES = {
    "displacement": ("engine.displacement", 1.0),
    "compression ratio": ("engine.compression_ratio", 1.0),
    "valves per cylinder": ("engine.breathing", 1.0),
    "injector size": ("engine.fuel_per_stroke", 1.0),
    "stock power": ("engine.fuel_per_stroke", 1.0),
    "tune": ("engine.fuel_per_stroke", 1.0),
    "altitude": ("place.pressure", 1.0),
    "summer temperature": ("place.temperature", 1.0),
    "intercooler": ("plumbing.cooler_effectiveness", 1.0),
    "exhaust size": ("plumbing.exhaust_resistance", 4.0),
}
# Relative standard deviations of assumed choices, and of altitude as pressure (common practice, no source).
_CHOICE_SPREAD = {"valves per cylinder": 0.02, "tune": 0.15, "intercooler": 0.06, "injector size": 0.2, "altitude": 0.05}


def _spreads(taken: Mapping[str, Taken], vocabulary: Mapping[str, FactDef]) -> tuple[tuple[str, float], ...]:
    """Relative standard deviations of the inputs that rest on an assumption; several on one input add in squares."""
    found: dict[str, float] = {}
    for name, (moved, power) in _MOVES.items():
        if name not in taken or taken[name].basis != "assumed":
            continue
        prior = vocabulary[name].prior
        if name in _CHOICE_SPREAD:
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


def _answered(facts: FactBase, name: str) -> bool:
    fact = facts.get(name)
    return fact is not None and fact.origin.kind == "answer" and fact.origin.source != "not sure"


def fed_power(engine: Engine, place: Place, plumbing: Plumbing, speed: float, lam: float) -> float:
    """Power [W] that the fuel system can feed at an engine speed [rad/s] and lambda, pumping losses as `demand`."""
    fuel = fuel_limit(engine, speed)
    ambient = place.pressure
    freely = brake_power(engine, fuel, lam, speed, ambient, ambient)
    boost = demand(engine, place, plumbing, freely, speed, lam).boost
    drive = boost + (MODEL.assumed_drive_ratio - 1.0) * (boost - ambient)
    return float(brake_power(engine, fuel, lam, speed, boost, drive))


def _as_fed(
    duty: Duty, engine: Engine, place: Place, plumbing: Plumbing, fed: bool
) -> Duty:
    """The duty as the fuel system that the caller told of can feed it; where he told of none, as he wants it."""
    if not fed:
        return duty
    most = fed_power(engine, place, plumbing, float(duty.goal_speed), float(duty.target_lambda))
    return replace(duty, power=min(float(duty.power), most))


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


def _towing(read: _Reader, pressure: float, limit: float, displacement: float) -> tuple[float, float]:
    """Power at the crank [W] and engine speed [rad/s] to hold the grade."""
    mass = read.number("vehicle weight") + read.number("trailer weight")
    speed = read.number("towing speed")
    density = pressure / (AIR_GAS_CONSTANT * read.number("summer temperature"))
    load = road_load(
        mass=mass,
        speed=speed,
        grade=read.number("grade"),
        density=density,
        drag_area=DRAG_AREA,
        rolling=ROLLING,
        efficiency=WHEEL_SHARE[read.choice("transmission", "automatic")],
    )
    engine_speed = road_speed_to_engine_speed(
        speed, read.number("tyre diameter"), read.number("axle ratio"), read.number("top gear ratio")
    )
    # On a real grade he shifts down, in steps of about a third, until the engine stands between about two thirds
    # and nine tenths of its limit and is not asked for more than it can pull (common practice, no source).
    highest = 0.88 * limit
    while engine_speed < 0.62 * limit or (
        float(load) * 4.0 * pi / (displacement * engine_speed) > LUGGING and engine_speed < highest
    ):
        engine_speed *= 1.33
    return float(load), float(min(engine_speed, highest))
