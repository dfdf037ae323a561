"""The equations of one turbocharger on one engine at a trial pressure ratio, for many points at once.

The unknown of a point is y, the logarithm of the compressor pressure ratio. For a trial y everything else
follows explicitly: the air that the engine draws, the fuel, the exhaust, the speed of the wheel, and what the
turbine makes of the gas. `attempt` returns the surplus of turbine over compressor power; `search` looks for
its zero.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from typing import Any, Protocol, TypeVar

import numpy as np

from advisor.matching import air, gas, turbine
from advisor.matching import engine as cylinder
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Place, Plumbing, Points
from advisor.matching.model import Model

GAMMA = 1.4
"""Ratio of specific heats that the compressor tables are made with."""


class Tables(Protocol):
    """What the match asks of the compressor tables (rows are wheels)."""

    def at_head(self, wheel: IntArray, flow_number: Array, y: Array) -> tuple[Array, Array]:
        """Efficiency and tip Mach number U2/a01 at a flow number m/(rho01 a01 D2^2) and a head y =
        sqrt(Pi^((gamma-1)/gamma) - 1)."""
        ...

    def margins(self, wheel: IntArray, flow_number: Array, tip_mach: Array) -> tuple[Array, Array]:
        """Surge and choke margin along constant speed."""
        ...


Group = TypeVar("Group")
Asked = tuple[Engine, Place, Plumbing, Points, Machines, Model]


@dataclass(frozen=True, eq=False)
class Case:
    """What was asked of some points, and what of it the equations use again and again (`cooling`: conductance of the
    exhaust manifold)."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    points: Points
    machines: Machines
    model: Model
    tables: Tables
    trapping: Any
    trapping_level: Any
    medium: Any
    sound: Any
    flow_scale: Any
    fuel_most: Any
    leanest: Any
    area: Any
    gate: Any
    work: Any
    cooling: Any

    def pick(self, chosen: IntArray | slice) -> "Case":
        """The same for some of the points, of a case that is laid out flat."""
        own = _picked(self, _OWN, chosen)
        for name, read in _READ.items():
            part = getattr(self, name)
            own[name] = _made(part, _picked(part, read, chosen))
        return _made(self, own)

    def change(self, cut: Callable[[Any], Any]) -> "Case":
        """Every figure that the equations read, changed."""
        own = {name: cut(getattr(self, name)) for name in _OWN}
        for name, read in _READ.items():
            part = getattr(self, name)
            own[name] = _made(part, {each: cut(getattr(part, each)) for each in read})
        return _made(self, own)


_UNREAD: dict[type, tuple[str, ...]] = {
    Engine: ("cylinders", "compression_ratio", "speed_limit", "breathing", "fuel_per_stroke", "fuel_flow"),
    Plumbing: ("coolant_rise",),
    Points: ("duties", "duty", "at_goal", "fuel_asked", "smoke_lambda", "boost_needed"),
    Machines: (
        "turbine_exducer", "housing_ratio", "divided", "gate_bore", "gate_external", "ball_bearing", "thrust_angle",
    ),
}  # fmt: skip
"""What only `case_of` reads, or nobody: it is left as it is."""

_PARTS = ("engine", "place", "plumbing", "points", "machines", "model")
_READ = {
    part: tuple(f.name for f in fields(kind) if f.name not in _UNREAD.get(kind, ()))
    for part, kind in zip(_PARTS, (Engine, Place, Plumbing, Points, Machines, Model), strict=True)
}
_OWN = tuple(f.name for f in fields(Case) if f.name not in (*_PARTS, "tables"))


def _picked(group: Any, names: tuple[str, ...], chosen: IntArray | slice) -> dict[str, Any]:
    """Those figures of a group that differ from point to point, for some of the points."""
    values = vars(group)
    return {
        name: value[chosen] if isinstance(chosen, slice) else value.take(chosen)
        for name in names
        if type(value := values[name]) is np.ndarray and value.ndim
    }


def _made(group: Group, changed: dict[str, Any]) -> Group:
    """`dataclasses.replace` without its checks, which take longer than what small cases are picked for."""
    made = object.__new__(type(group))
    vars(made).update(vars(group) | changed)
    return made


def figures(group: Any) -> list[str]:
    """Names of a group's fields that hold figures."""
    labels = ("duties", "duty", "at_goal") if isinstance(group, Points) else ()
    return [f.name for f in fields(group) if f.name not in labels]


def case_of(asked: Asked, tables: Tables) -> Case:
    engine, place, plumbing, points, machines, model = asked
    speed, outside = points.speed, np.asarray(place.temperature)
    sound = np.sqrt(GAMMA * air.AIR_GAS_CONSTANT * outside)
    face = np.square(machines.compressor_exducer) * machines.parallel * machines.flow_factor
    return Case(
        engine,
        place,
        plumbing,
        points,
        machines,
        model,
        tables,
        trapping=engine.breathing * cylinder.cycles(engine, speed) / air.AIR_GAS_CONSTANT,
        trapping_level=model.breathing_speed * np.sqrt(speed) + model.breathing_level,
        medium=outside + plumbing.coolant_rise,
        sound=sound,
        flow_scale=air.AIR_GAS_CONSTANT * outside / (sound * face),
        fuel_most=np.minimum(points.fuel_asked, cylinder.fuel_limit(engine, speed)),
        leanest=1.0 / (points.smoke_lambda * np.asarray(model.stoichiometric_ratio)),
        area=turbine.effective_area(machines, model),
        gate=turbine.gate_area(machines, model),
        work=turbine.work_factor(machines.divided, machines.ball_bearing, speed / engine.speed_limit, model),
        cooling=cylinder.manifold_conductance(engine, model),
    )


@dataclass(slots=True)
class Charge:
    """The air side at a trial pressure ratio and efficiency."""

    y: Array
    ratio: Array
    air: Array
    boost: Array
    inlet: Array
    lift: Array
    temperature: Array


def drawn_flow(case: Case, draw: Array, full: Array, losses: Array) -> Array:
    """Air drawn [kg/s] where the boost is `full` [Pa] less `losses` [Pa s2/kg2] times the flow squared: closed form,
    then two Newton steps for the pressure in the volumetric efficiency."""
    slope = np.asarray(case.model.breathing_pressure)
    plain = draw * (slope * np.sqrt(full) + case.trapping_level)
    flow = 2.0 * plain * full / (1.0 + np.sqrt(1.0 + 4.0 * plain * plain * losses * full))
    for _ in range(2):
        lost = losses * flow
        boost = full - lost * flow
        root = slope * np.sqrt(boost)
        level = root + case.trapping_level
        flow = flow - (flow - draw * boost * level) / (1.0 + 2.0 * lost * draw * (level + 0.5 * root))
    return np.asarray(flow)


def charge_at(case: Case, y: Array, efficiency: Array | float) -> Charge:
    """Air flow that the engine draws through filter, compressor and cooler (error below 1e-12)."""
    k = air.AIR_GAS_CONSTANT / np.asarray(case.model.air_specific_heat)
    ratio = np.exp(y)
    outside = case.place.temperature
    lift = outside * np.expm1(k * y) / efficiency
    out = outside + lift
    charge = out - case.plumbing.cooler_effectiveness * np.maximum(out - case.medium, 0.0)
    draw = case.trapping / charge
    full = ratio * case.place.pressure
    losses = ratio * case.plumbing.filter_resistance + case.plumbing.cooler_resistance
    flow = drawn_flow(case, draw, full, losses)
    return _charge(case, y, ratio, flow, lift, charge, full - losses * flow * flow)


def _charge(case: Case, y: Array, ratio: Array, flow: Array, lift: Array, charge: Array, boost: Array) -> Charge:
    inlet = case.place.pressure - case.plumbing.filter_resistance * flow * flow
    return Charge(y=y, ratio=ratio, air=flow, boost=boost, inlet=inlet, lift=lift, temperature=charge)


_FAR = 0.3
"""Change of density past which a first-order step is cut, so that losses stay below the pressure there is."""


def moved(case: Case, charge: Charge, share: Array) -> Charge:
    """The same air side with the rise over the compressor times `share`, good to first order: the flow answers to the
    charge temperature as d ln m = -d ln T / (1 + 2 * 1.05 * loss / boost)."""
    outside = case.place.temperature
    lift = charge.lift * share
    out = outside + lift
    temperature = out - case.plumbing.cooler_effectiveness * np.maximum(out - case.medium, 0.0)
    losses = charge.ratio * case.plumbing.filter_resistance + case.plumbing.cooler_resistance
    lost = losses * charge.air * charge.air
    denser = np.clip(charge.temperature / temperature - 1.0, -_FAR, _FAR)
    flow = charge.air * (1.0 + denser / (1.0 + 2.1 * lost / charge.boost))
    boost = charge.boost + lost - losses * flow * flow
    return _charge(case, charge.y, charge.ratio, flow, lift, temperature, boost)


def head(y: Array) -> Array:
    """What the compressor tables stand over, of the logarithm of a pressure ratio (0 or more)."""
    return np.sqrt(np.expm1((GAMMA - 1.0) / GAMMA * y))


def look_up(case: Case, charge: Charge) -> tuple[Array, Array]:
    number = charge.air * case.flow_scale / charge.inlet
    efficiency, mach = case.tables.at_head(case.machines.wheel, number, head(charge.y))
    return efficiency * case.machines.efficiency_factor, mach * case.machines.speed_factor


@dataclass(slots=True)
class Compressed:
    """The air side settled with the table: how strongly the table answers to the efficiency put in (echo) and
    by how much the two still disagreed."""

    charge: Charge
    efficiency: Array
    mach: Array
    echo: Array
    off: Array


@dataclass(slots=True)
class Trial:
    """What a trial pressure ratio gave; surplus is turbine less compressor power [J per kg of air]."""

    surplus: Array
    air: Compressed
    hot: "Hot"
    ratio: Array
    efficiency: Array
    power: Array


def attempt(case: Case, y: Array, guess: Array | float, echo: Array | None, opened: Array | float) -> Trial:
    """Surplus at a trial y."""
    compressed = compress(case, y, guess, echo)
    hot = hot_side(case, compressed.charge)
    ratio, efficiency, power = expand(case, hot, compressed.mach, opened)
    return Trial((power - hot.asked) / compressed.charge.air, compressed, hot, ratio, efficiency, power)


_BLOCK = 6_144
"""Points tried at once: what a processor's cache holds of them."""


def in_blocks(case: Case, count: int, each: int = 1) -> Iterator[tuple[slice, Case]]:
    """The points of a case cut into blocks of nearly the same size; each: trials of every point."""
    pieces = max(1, -(-count * each // _BLOCK))
    for piece in range(pieces):
        at = slice(count * piece // pieces, count * (piece + 1) // pieces)
        yield at, case if pieces == 1 else case.pick(at)


@dataclass(slots=True)
class Step:
    """What a search needs of a trial, each (P,): surplus and the compressor's power [J per kg of air], efficiency, its
    echo, by how much it disagreed, boost."""

    surplus: Array
    asked: Array
    efficiency: Array
    echo: Array
    off: Array
    boost: Array


def step(case: Case, y: Array, guess: Array, echo: Array | None, opened: Array) -> Step:
    """`attempt` for many points (P,), block by block."""
    found = np.empty((6, y.size))
    for at, part in in_blocks(case, y.size):
        trial = attempt(part, y[at], guess[at], None if echo is None else echo[at], opened[at])
        air_side = trial.air
        found[0, at], found[1, at] = trial.surplus, trial.hot.asked / air_side.charge.air
        found[2, at], found[3, at] = air_side.efficiency, air_side.echo
        found[4, at], found[5, at] = air_side.off, air_side.charge.boost
    return Step(*found)


def air_step(case: Case, y: Array, guess: Array, echo: Array | None) -> Step:
    """The same without the gas side: surplus and power are left at nothing."""
    found = np.zeros((6, y.size))
    for at, part in in_blocks(case, y.size):
        air_side = compress(part, y[at], guess[at], None if echo is None else echo[at])
        found[2, at], found[3, at] = air_side.efficiency, air_side.echo
        found[4, at], found[5, at] = air_side.off, air_side.charge.boost
    return Step(*found)


def compress(case: Case, y: Array, guess: Array | float, echo: Array | None) -> Compressed:
    """Air side at a trial y.

    Flow depends on efficiency by the charge temperature, efficiency on flow by the table. The table's echo
    (change of the efficiency found over change of the one put in) turns one look-up into a Newton step;
    without a known echo a second look-up measures it.
    """
    charge = charge_at(case, y, guess)
    first, mach = look_up(case, charge)
    off = first - guess
    if echo is None:
        second, _ = look_up(case, moved(case, charge, guess / first))
        safe = np.abs(off) > 1e-9
        echo = np.clip(np.where(safe, (second - first) / np.where(safe, off, 1.0), 0.0), -50.0, 0.7)
    efficiency = np.maximum(guess + off / (1.0 - echo), 0.05)
    return Compressed(moved(case, charge, guess / efficiency), efficiency, mach, echo, np.abs(off))


@dataclass(slots=True)
class Hot:
    """The gas side: state before and pressure behind the turbine, and the compressor's power asked of it."""

    fuel: Array
    gas: Array
    state: cylinder.Exhaust
    constant: Array
    heat: Array
    outlet: Array
    asked: Array


def expand(case: Case, hot: Hot, mach: Array, opened: Array | float) -> tuple[Array, Array, Array]:
    """Expansion ratio, turbine efficiency and power [W] with all the gas through wheel and an opened gate
    area [m2]."""
    area = case.area + opened
    x = turbine.flow_parameter(hot.gas, hot.state.temperature, hot.constant, area, hot.outlet, case.model)
    ratio = turbine.expansion_ratio(x, case.model)
    ideal, efficiency = wheel_work(case, hot, ratio, mach)
    return ratio, efficiency, hot.gas * (case.area / area) * ideal * efficiency


def hot_side(case: Case, charge: Charge) -> "Hot":
    fuel = np.minimum(case.fuel_most, charge.air * case.leanest)
    state = cylinder.exhaust(
        case.engine, charge.air, fuel, charge.temperature, case.place.temperature, case.model, case.cooling
    )
    total = charge.air + fuel
    return Hot(
        fuel=fuel,
        gas=total,
        state=state,
        constant=gas.gas_constant(state.burnt),
        heat=state.mixture.specific_heat(0.93 * state.temperature),
        outlet=case.place.pressure + case.plumbing.exhaust_resistance * total * total,
        asked=charge.air * case.model.air_specific_heat * charge.lift,
    )


def wheel_work(case: Case, hot: Hot, ratio: Array, mach: Array) -> tuple[Array, Array]:
    """Isentropic drop [J/kg] and efficiency of the turbine wheel; cp taken at 0.93 T3, its mean over the
    drop."""
    ideal = hot.heat * hot.state.temperature * -np.expm1(-hot.constant / hot.heat * np.log(ratio))
    rim = mach * case.sound * (case.machines.turbine_inducer / case.machines.compressor_exducer)
    speed_ratio = rim / np.sqrt(2.0 * np.maximum(ideal, 1.0))
    return ideal, turbine.efficiency(speed_ratio, case.model) * case.work
