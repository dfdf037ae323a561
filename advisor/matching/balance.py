"""The match: compressor and turbine power, gas continuity and gate for every candidate and point at once.

The unknown of a point is y, the logarithm of the compressor pressure ratio. For a trial y everything else follows
explicitly, so the surplus g(y) = turbine power - compressor power is a plain function and can be bracketed:

- the gate shut, g has a first crossing from plus to minus below the boost target: the machine runs there;
- no crossing and g >= 0 at the target: the gate holds the target and passes what the turbine must not take;
- the gate wide open and still g > 0 at the target: boost creeps up to the first crossing with the gate open.

Without a gate there is no target: the machine finds its own boost. Of several roots the lowest stable one is taken,
as an engine coming up from low speed meets it first. A point without a bracket, or whose residual stays above
`TOLERANCE`, is marked as not converged; its values are finite but no figures.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any, Protocol

import numpy as np

from advisor.matching import air, engine as cylinder, gas, turbine
from advisor.matching.inputs import Array, Bools, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model

TOLERANCE = 1e-7
"""Largest relative residual of the shaft's power balance and of the charge equation."""
PRESSURE_RATIO_LIMIT = 7.0
"""Highest single-stage pressure ratio looked for."""
_CHUNK = 4096
_SCAN = 8
_STEPS = 40
_GAMMA = 1.4


class Tables(Protocol):
    """What the match asks of the compressor tables (rows are wheels)."""

    def at(self, wheel: IntArray, flow_number: Array, pressure_ratio: Array) -> tuple[Array, Array]:
        """Efficiency and tip Mach number U2/a01 at flow number m/(rho01 a01 D2^2) and total pressure ratio."""
        ...

    def margins(self, wheel: IntArray, flow_number: Array, tip_mach: Array) -> tuple[Array, Array]:
        """Surge and choke margin along constant speed."""
        ...


@dataclass(frozen=True, slots=True)
class Match:
    """The operating points found, arrays of shape (..., N, K), SI, pressures absolute.

    gate_share         share of the exhaust gas that the gate passes
    gate_flow_margin   what the open gate could pass over what holding the target asks, less 1 (at most 9)
    housing_flow_margin  what the turbine alone passes at `drive_ratio_limit` over all the gas, less 1
    tip_speed_margin   the material's limit over the tip speed, less 1
    at_target          the boost target is held by the gate
    residual           |turbine - compressor power| / compressor power, or the charge equation's where larger
    turbine_outlet_temperature  wheel and gate gas mixed
    """

    pressure_ratio: Array
    boost: Array
    drive_pressure: Array
    turbine_outlet_pressure: Array
    expansion_ratio: Array
    shaft_speed: Array
    tip_speed: Array
    tip_speed_margin: Array
    compressor_efficiency: Array
    turbine_efficiency: Array
    surge_margin: Array
    choke_margin: Array
    exhaust_temperature: Array
    turbine_outlet_temperature: Array
    compressor_outlet_temperature: Array
    charge_temperature: Array
    air: Array
    corrected_air: Array
    fuel: Array
    lam: Array
    power: Array
    torque: Array
    shaft_power: Array
    gate_share: Array
    gate_flow_margin: Array
    housing_flow_margin: Array
    at_target: Bools
    residual: Array
    converged: Bools


def match(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    model: Model = MODEL,
) -> Match:
    """Operating points of N machines at K points (and any draws in front): arrays of shape (..., N, K).

    Work is done in blocks of about four thousand points, so memory beyond the result stays below 60 MB.
    """
    columns = _columns(machines)
    asked = (engine, place, plumbing, points, columns, model)
    shape = np.broadcast_shapes((len(machines), points.speed.shape[-1]), *(np.shape(v) for v in _leaves(asked)))
    whole: dict[str, Array] = {f.name: np.empty(shape, bool if "Bools" in str(f.type) else float) for f in fields(Match)}
    for block in _blocks(shape):
        part = _take((engine, place, plumbing, points, columns, model), shape, block)
        found = _solve(*part, tables)
        for name, values in whole.items():
            values[block] = getattr(found, name).reshape(values[block].shape)
    return Match(**whole)


def _columns(machines: Machines) -> Machines:
    return Machines(**{f.name: np.asarray(getattr(machines, f.name))[..., None] for f in fields(Machines)})


def _leaves(groups: tuple[Any, ...]) -> Iterator[Any]:
    for group in groups:
        for f in fields(group):
            if not (isinstance(group, Points) and f.name in ("duties", "duty", "at_goal")):
                yield getattr(group, f.name)


def _blocks(shape: tuple[int, ...]) -> Iterator[tuple[Any, ...]]:
    """Index expressions that cut (..., N, K) into blocks of at most about `_CHUNK` points, along as few axes as will do."""
    inner = 1
    axis = len(shape)
    while axis > 0 and inner * shape[axis - 1] <= _CHUNK:
        axis -= 1
        inner *= shape[axis]
    if axis == 0:
        yield (slice(None),) * len(shape)
        return
    step = max(1, _CHUNK // max(inner, 1))
    for lead in np.ndindex(*shape[: axis - 1]):
        for start in range(0, shape[axis - 1], step):
            yield (*lead, slice(start, start + step))


def _take(groups: tuple[Any, ...], shape: tuple[int, ...], block: tuple[Any, ...]) -> tuple[Any, ...]:
    """The same groups with every array laid out flat over one block; what is one number stays one number."""

    def flat(value: Any) -> Any:
        array = np.asarray(value)
        return array.item() if array.size == 1 else np.broadcast_to(array, shape)[block].reshape(-1)

    def group(one: Any) -> Any:
        skip = ("duties", "duty", "at_goal") if isinstance(one, Points) else ()
        return replace(one, **{f.name: flat(getattr(one, f.name)) for f in fields(one) if f.name not in skip})

    return tuple(group(one) for one in groups)


@dataclass(frozen=True, slots=True)
class _Case:
    """One block of points, flat: what was asked, and what of it the equations use again and again."""

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

    def pick(self, chosen: Array | Bools | IntArray) -> "_Case":
        """The same for some of the points."""

        def cut(value: Any) -> Any:
            return value[chosen] if isinstance(value, np.ndarray) and value.ndim else value

        def group(one: Any) -> Any:
            skip = ("duties", "duty", "at_goal") if isinstance(one, Points) else ()
            return replace(one, **{f.name: cut(getattr(one, f.name)) for f in fields(one) if f.name not in skip})

        groups = {n: group(getattr(self, n)) for n in ("engine", "place", "plumbing", "points", "machines", "model")}
        rest = {f.name: cut(getattr(self, f.name)) for f in fields(self) if f.name not in (*groups, "tables")}
        return replace(self, **groups, **rest)


def _case(
    engine: Engine, place: Place, plumbing: Plumbing, points: Points, machines: Machines, model: Model, tables: Tables
) -> _Case:
    speed, outside = points.speed, np.asarray(place.temperature)
    sound = np.sqrt(_GAMMA * air.AIR_GAS_CONSTANT * outside)
    face = np.square(machines.compressor_exducer) * machines.parallel * machines.flow_factor
    return _Case(
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
    )


@dataclass(slots=True)
class _Charge:
    """The air side at a trial pressure ratio and efficiency."""

    ratio: Array
    air: Array
    boost: Array
    inlet: Array
    lift: Array
    temperature: Array


def _charge(case: _Case, y: Array, efficiency: Array) -> _Charge:
    """Air flow that the engine draws through filter, compressor and cooler: closed form, then two Newton steps for
    the pressure in the volumetric efficiency (error below 1e-12)."""
    k = air.AIR_GAS_CONSTANT / np.asarray(case.model.air_specific_heat)
    ratio = np.exp(y)
    outside = case.place.temperature
    lift = outside * np.expm1(k * y) / efficiency
    out = outside + lift
    charge = out - case.plumbing.cooler_effectiveness * np.maximum(out - case.medium, 0.0)
    draw = case.trapping / charge
    full = ratio * case.place.pressure
    losses = ratio * case.plumbing.filter_resistance + case.plumbing.cooler_resistance
    slope = np.asarray(case.model.breathing_pressure)
    plain = draw * (slope * np.sqrt(full) + case.trapping_level)
    flow = 2.0 * plain * full / (1.0 + np.sqrt(1.0 + 4.0 * plain * plain * losses * full))
    for _ in range(2):
        boost = full - losses * flow * flow
        root = slope * np.sqrt(boost)
        off = flow - draw * boost * (root + case.trapping_level)
        flow = flow - off / (1.0 + 2.0 * losses * flow * draw * (1.5 * root + case.trapping_level))
    square = flow * flow
    return _Charge(
        ratio,
        flow,
        full - losses * square,
        case.place.pressure - case.plumbing.filter_resistance * square,
        lift,
        charge,
    )


def _look_up(case: _Case, charge: _Charge) -> tuple[Array, Array]:
    number = charge.air * case.flow_scale / charge.inlet
    efficiency, mach = case.tables.at(case.machines.wheel, number, charge.ratio)
    return efficiency * case.machines.efficiency_factor, mach * case.machines.speed_factor


def _compress(case: _Case, y: Array, guess: Array | float, rounds: int) -> tuple[_Charge, Array, Array, Array]:
    """Air side, efficiency and tip Mach number that agree with the table at a trial y.

    Flow depends on efficiency by the charge temperature, efficiency on flow by the table: Steffensen's iteration,
    two look-ups a round. Also returns by how much efficiency still disagrees.
    """
    efficiency = np.asarray(guess, dtype=np.float64)
    for _ in range(rounds):
        first, _ = _look_up(case, _charge(case, y, efficiency))
        charge = _charge(case, y, first)
        second, mach = _look_up(case, charge)
        one, two = first - efficiency, second - first
        bend = two - one
        safe = np.abs(bend) > 1e-12
        jump = np.where(safe, two * two / np.where(safe, bend, 1.0), 0.0)
        off = np.abs(two)
        efficiency = np.maximum(second - np.clip(jump, -0.1, 0.1), 0.05)
    return _charge(case, y, efficiency), efficiency, mach, off


@dataclass(slots=True)
class _Hot:
    """The gas side: state before the turbine and what the wheel makes of a given share of the gas."""

    fuel: Array
    gas: Array
    temperature: Array
    burnt: Array
    constant: Array
    outlet: Array
    ratio: Array
    ideal: Array
    efficiency: Array
    power: Array
    asked: Array


def _exhaust(case: _Case, charge: _Charge) -> tuple[Array, Array, Array, Array, Array, Array, Array]:
    fuel = np.minimum(case.fuel_most, charge.air * case.leanest)
    total = charge.air + fuel
    temperature = cylinder.exhaust_temperature(
        case.engine, charge.air, fuel, charge.temperature, case.place.temperature, case.model
    )
    burnt = gas.burnt_share(charge.air / (fuel * case.model.stoichiometric_ratio))
    constant = gas.gas_constant(burnt)
    outlet = case.place.pressure + case.plumbing.exhaust_resistance * total * total
    heat = gas.specific_heat(0.93 * temperature, burnt)
    return fuel, total, temperature, burnt, constant, outlet, heat


def _expand(case: _Case, charge: _Charge, mach: Array, opened: Array | float) -> _Hot:
    """Turbine with all the gas through wheel and an opened gate area [m2]."""
    fuel, total, temperature, burnt, constant, outlet, heat = _exhaust(case, charge)
    area = case.area + opened
    x = turbine.flow_parameter(total, temperature, constant, area, outlet, case.model)
    ratio = turbine.expansion_ratio(x, case.model)
    ideal, efficiency = _wheel(case, temperature, constant, heat, ratio, mach)
    power = total * (case.area / area) * ideal * efficiency
    asked = charge.air * case.model.air_specific_heat * charge.lift
    return _Hot(fuel, total, temperature, burnt, constant, outlet, ratio, ideal, efficiency, power, asked)


def _wheel(
    case: _Case, temperature: Array, constant: Array, heat: Array, ratio: Array, mach: Array
) -> tuple[Array, Array]:
    """Isentropic drop [J/kg] and efficiency of the turbine wheel; cp taken at 0.93 T3, its mean over the drop."""
    ideal = heat * temperature * -np.expm1(-constant / heat * np.log(ratio))
    rim = mach * case.sound * (case.machines.turbine_inducer / case.machines.compressor_exducer)
    speed_ratio = rim / np.sqrt(2.0 * np.maximum(ideal, 1.0))
    return ideal, turbine.efficiency(speed_ratio, case.model) * case.work


def _surplus(case: _Case, y: Array, guess: Array | float, opened: Array | float, rounds: int = 1) -> tuple[Array, Array]:
    """Turbine less compressor power at a trial y, over the heat capacity flow of the air; and the efficiency found."""
    charge, efficiency, mach, _ = _compress(case, y, guess, rounds)
    hot = _expand(case, charge, mach, opened)
    return (hot.power - hot.asked) / charge.air, efficiency


def _solve(
    engine: Engine, place: Place, plumbing: Plumbing, points: Points, machines: Machines, model: Model, tables: Tables
) -> Match:
    case = _case(engine, place, plumbing, points, machines, model, tables)
    count = max(np.size(v) for v in (points.speed, case.area, case.trapping, case.flow_scale, case.work))
    gated = np.broadcast_to(np.asarray(case.gate) > 0.0, (count,))
    ceiling = float(np.log(PRESSURE_RATIO_LIMIT))
    top = np.where(gated, np.minimum(_target(case, count), ceiling), ceiling)

    y, guess, slope, crossed, stands = _first_crossing(case, np.zeros(count), top, 0.0)
    opened = np.zeros(count)
    need = np.zeros(count)
    held = np.flatnonzero(gated & stands)
    if held.size:
        part = case.pick(held)
        y[held], guess[held], need[held], enough = _hold(part, top[held], guess[held])
        gate = np.broadcast_to(np.asarray(case.gate), (count,))
        opened[held] = np.where(enough, np.minimum(need[held], gate[held]), 0.0)
        crossed[held] = True
        creeping = held[enough & (need[held] > gate[held])]
        if creeping.size:
            wide = case.pick(creeping)
            y[creeping], guess[creeping], slope[creeping], crossed[creeping], _ = _first_crossing(
                wide, y[creeping], np.full(creeping.size, ceiling), gate[creeping]
            )
        stands[held] = enough & (need[held] <= gate[held])
    free = np.flatnonzero(crossed & ~(gated & stands))
    if free.size:
        y[free], guess[free] = _polish(case.pick(free), y[free], guess[free], slope[free], opened[free])
    return _finish(case, y, guess, opened, need, crossed, gated & stands)


def _target(case: _Case, count: int) -> Array:
    """Logarithm of the pressure ratio at which the manifold reaches the boost target, good to about 1e-3."""
    target = np.broadcast_to(np.asarray(case.points.boost_target), (count,))
    y = np.log(np.maximum(target / case.place.pressure, 1.02))
    efficiency: Array | float = 0.72
    for _ in range(3):
        charge = _charge(case, y, efficiency)
        efficiency, _ = _look_up(case, charge)
        y = np.maximum(y + np.log(target / charge.boost), 0.02)
    return y


def _first_crossing(
    case: _Case, low: Array, high: Array, opened: Array | float
) -> tuple[Array, Array, Array, Bools, Bools]:
    """First change of the surplus from plus to minus between low and high, where it is positive at low.

    Returns y, efficiency there, the slope of the surplus, whether there was a crossing, and whether there was none
    and the surplus is not negative at high (then y is high).
    """
    share = (np.arange(1, _SCAN + 1) / _SCAN)[:, None]
    grid = low + (high - low) * share
    surplus, efficiency = _surplus(case, grid, 0.72, opened)
    below = surplus < 0.0
    crossed = np.asarray(below.any(axis=0))
    first = np.where(crossed, below.argmax(axis=0), _SCAN - 1)
    columns = np.arange(low.size)
    step = (high - low) / _SCAN
    y, guess = grid[first, columns], efficiency[first, columns]
    before = np.maximum(first - 1, 0)
    slope = (surplus[first, columns] - surplus[before, columns]) / np.maximum(step, 1e-9)
    at = np.flatnonzero(crossed)
    if at.size:
        part = case.pick(at)
        wide = opened[at] if isinstance(opened, np.ndarray) else opened
        row = first[at]
        start = np.where(row > 0, grid[before[at], at], low[at])
        left, left_efficiency = surplus[before[at], at], efficiency[before[at], at]
        early = np.flatnonzero(row == 0)
        if early.size:
            some = wide[early] if isinstance(wide, np.ndarray) else wide
            edge = np.maximum(start[early], 1e-6)
            left[early], left_efficiency[early] = _surplus(part.pick(early), edge, 0.72, some)
        y[at], guess[at], slope[at] = _illinois(
            part, start, left, left_efficiency, y[at], surplus[row, at], guess[at], wide
        )
    return y, guess, slope, crossed, ~crossed & (surplus[-1] >= 0.0)


def _illinois(
    case: _Case, a: Array, ga: Array, ea: Array, b: Array, gb: Array, eb: Array, opened: Array | float
) -> tuple[Array, Array, Array]:
    """Root of the surplus between a (plus) and b (minus): Illinois' false position; points that are done drop out."""
    origin, width, first, rise = a.copy(), np.maximum(b - a, 1e-12), ea, eb - ea
    y, efficiency, slope = b.copy(), eb.copy(), (gb - ga) / width
    a, ga, b, gb = a.copy(), ga.copy(), b.copy(), gb.copy()
    live = np.arange(a.size)
    side = np.zeros(a.size)
    for _ in range(_STEPS):
        new = np.clip((a * gb - b * ga) / np.where(gb == ga, 1.0, gb - ga), np.minimum(a, b), np.maximum(a, b))
        new = np.where(gb == ga, 0.5 * (a + b), new)
        value, found = _surplus(case, new, first + rise * (new - origin) / width, opened)
        done = (np.abs(value) < 3e-5 * 1.2e5 * np.maximum(new, 0.03)) | (b - a < 1e-10)
        y[live], efficiency[live] = new, found
        slope[live] = (gb - ga) / np.maximum(b - a, 1e-12)
        plus = value >= 0.0
        gb = np.where(plus, np.where(side > 0, 0.5 * gb, gb), value)
        ga = np.where(plus, value, np.where(side < 0, 0.5 * ga, ga))
        a, b = np.where(plus, new, a), np.where(plus, b, new)
        side = np.where(plus, 1.0, -1.0)
        if done.all():
            break
        if done.mean() > 0.3:
            keep = np.flatnonzero(~done)
            case = case.pick(keep)
            opened = opened[keep] if isinstance(opened, np.ndarray) else opened
            a, ga, b, gb, side, live = a[keep], ga[keep], b[keep], gb[keep], side[keep], live[keep]
            origin, width, first, rise = origin[keep], width[keep], first[keep], rise[keep]
    return y, efficiency, slope


def _polish(case: _Case, y: Array, efficiency: Array, slope: Array, opened: Array) -> tuple[Array, Array]:
    """Last steps of the secant method with the table look-up fully settled."""
    last_y, last = y, np.full_like(y, np.nan)
    for _ in range(4):
        value, efficiency = _surplus(case, y, efficiency, opened, rounds=2)
        moved = y - last_y
        secant = np.where(np.abs(moved) > 1e-11, (value - last) / np.where(moved == 0.0, 1.0, moved), slope)
        slope = np.where(secant < 0.0, secant, slope)
        last_y, last = y, value
        y = np.maximum(y - np.clip(value / np.where(slope < 0.0, slope, -1e5), -0.02, 0.02), 1e-9)
        if np.all(np.abs(y - last_y) < 1e-12):
            break
    return y, efficiency


def _hold(case: _Case, y: Array, efficiency: Array) -> tuple[Array, Array, Array, Bools]:
    """The gate holds the boost target: y and efficiency there, the gate area [m2] that leaves the turbine just the
    compressor's power, and whether the shut turbine has that much."""
    for _ in range(5):
        charge, efficiency, mach, _ = _compress(case, y, efficiency, 1)
        off = np.log(case.points.boost_target / charge.boost)
        y = np.maximum(y + off, 1e-3)
        if np.all(np.abs(off) < 1e-11):
            break
    charge, efficiency, mach, _ = _compress(case, y, efficiency, 1)
    fuel, total, temperature, burnt, constant, outlet, heat = _exhaust(case, charge)
    asked = charge.air * case.model.air_specific_heat * charge.lift

    def power(ratio: Array) -> tuple[Array, Array]:
        through = turbine.swallowed(case.area, ratio * outlet, temperature, constant, ratio, case.model)
        ideal, wheel = _wheel(case, temperature, constant, heat, ratio, mach)
        return through * ideal * wheel, through

    x = turbine.flow_parameter(total, temperature, constant, case.area, outlet, case.model)
    high = turbine.expansion_ratio(x, case.model)
    most, through = power(high)
    enough = most >= asked
    a, b = np.ones_like(high), high
    fa, fb = -asked, most - asked
    side = np.zeros_like(high)
    ratio = high
    for _ in range(_STEPS):
        ratio = np.clip((a * fb - b * fa) / np.where(fb == fa, 1.0, fb - fa), a, b)
        made, through = power(ratio)
        value = made - asked
        if np.all((np.abs(value) < 1e-10 * asked) | ~enough):
            break
        plus = value >= 0.0
        fb = np.where(plus, value, np.where(side < 0, 0.5 * fb, fb))
        fa = np.where(plus, np.where(side > 0, 0.5 * fa, fa), value)
        a, b = np.where(plus, a, ratio), np.where(plus, ratio, b)
        side = np.where(plus, 1.0, -1.0)
    need = case.area * np.maximum(total / np.maximum(through, 1e-12) - 1.0, 0.0)
    return y, efficiency, np.where(enough, need, 0.0), enough


def _finish(
    case: _Case, y: Array, guess: Array, opened: Array, need: Array, crossed: Bools, stands: Bools
) -> Match:
    """All figures of the points at the pressure ratios found, with what is left of the two equations."""
    charge, efficiency, mach, off = _compress(case, y, guess, 2)
    hot = _expand(case, charge, mach, opened)
    machines, model, points = case.machines, case.model, case.points
    floor = 0.01 * charge.air * case.model.air_specific_heat * case.place.temperature
    residual = np.maximum(np.abs(hot.power - hot.asked) / np.maximum(hot.asked, floor), off)
    residual = np.where(stands, np.maximum(residual, np.abs(charge.boost / points.boost_target - 1.0)), residual)
    drive = hot.ratio * hot.outlet
    lam = charge.air / (hot.fuel * model.stoichiometric_ratio)
    power = cylinder.brake_power(case.engine, hot.fuel, lam, points.speed, charge.boost, drive, model)
    tip = mach * case.sound
    number = charge.air * case.flow_scale / charge.inlet
    surge, choke = case.tables.margins(machines.wheel, number, mach / machines.speed_factor)
    through = case.area / (case.area + opened)
    loose = np.maximum(need, 0.1 * np.maximum(case.gate, 1e-12))
    limit = model.drive_ratio_limit * charge.boost
    able = turbine.swallowed(case.area, limit, hot.temperature, hot.constant, np.maximum(limit / hot.outlet, 1.0), model)
    left = hot.power / np.maximum(hot.gas * through, 1e-12)
    mixed = gas.enthalpy(hot.temperature, hot.burnt) - left * through
    return Match(
        pressure_ratio=charge.ratio,
        boost=charge.boost,
        drive_pressure=drive,
        turbine_outlet_pressure=hot.outlet,
        expansion_ratio=hot.ratio,
        shaft_speed=2.0 * tip / machines.compressor_exducer,
        tip_speed=tip,
        tip_speed_margin=machines.tip_speed_limit / np.maximum(tip, 1.0) - 1.0,
        compressor_efficiency=efficiency,
        turbine_efficiency=hot.efficiency,
        surge_margin=(1.0 + surge) / machines.surge_factor - 1.0,
        choke_margin=choke,
        exhaust_temperature=hot.temperature,
        turbine_outlet_temperature=gas.temperature(mixed, hot.burnt),
        compressor_outlet_temperature=case.place.temperature + charge.lift,
        charge_temperature=charge.temperature,
        air=charge.air,
        corrected_air=air.corrected_flow(charge.air, case.place.temperature, charge.inlet),
        fuel=hot.fuel,
        lam=lam,
        power=power,
        torque=power / points.speed,
        shaft_power=hot.asked,
        gate_share=1.0 - through,
        gate_flow_margin=np.where(need > 0.0, np.minimum(case.gate / loose - 1.0, 9.0), 9.0),
        housing_flow_margin=able / hot.gas - 1.0,
        at_target=stands,
        residual=residual,
        converged=crossed & (residual <= TOLERANCE),
    )
