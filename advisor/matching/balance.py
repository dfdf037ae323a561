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
_CHUNK = 16384
_SHARES = (0.06, 0.15, 0.28, 0.45, 0.65, 0.85, 1.0)
"""Where, as a share of the way, a first crossing is looked for: denser where engines of low load run."""
_FIRST_GUESS = 0.72
_CLOSE = 2e-8
_STEPS = 15
_SETTLE = 8
_FINE = 48
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
    whole: dict[str, Array] = {f.name: np.empty(shape, bool if f.type == Bools else float) for f in fields(Match)}
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


@dataclass(slots=True)
class _Compressed:
    """The air side settled with the table: how strongly the table answers to the efficiency put in (echo) and by how
    much the two still disagreed."""

    charge: _Charge
    efficiency: Array
    mach: Array
    echo: Array
    off: Array


@dataclass(slots=True)
class _Trial:
    """What a trial pressure ratio gave; surplus is turbine less compressor power [J per kg of air]."""

    surplus: Array
    air: _Compressed
    hot: "_Hot"
    ratio: Array
    efficiency: Array
    power: Array


def _try(case: _Case, y: Array, guess: Array | float, echo: Array | None, opened: Array | float) -> _Trial:
    """Surplus at a trial y."""
    compressed = _compress(case, y, guess, echo)
    hot = _exhaust(case, compressed.charge)
    ratio, efficiency, power = _expand(case, hot, compressed.mach, opened)
    return _Trial((power - hot.asked) / compressed.charge.air, compressed, hot, ratio, efficiency, power)


def _compress(case: _Case, y: Array, guess: Array | float, echo: Array | None) -> _Compressed:
    """Air side at a trial y.

    Flow depends on efficiency by the charge temperature, efficiency on flow by the table. The table's echo (change
    of the efficiency found over change of the one put in) turns one look-up into a Newton step; without a known
    echo a second look-up measures it.
    """
    first, mach = _look_up(case, _charge(case, y, guess))
    off = first - guess
    if echo is None:
        second, _ = _look_up(case, _charge(case, y, first))
        safe = np.abs(off) > 1e-9
        echo = np.clip(np.where(safe, (second - first) / np.where(safe, off, 1.0), 0.0), -50.0, 0.7)
    efficiency = np.maximum(guess + off / (1.0 - echo), 0.05)
    return _Compressed(_charge(case, y, efficiency), efficiency, mach, echo, np.abs(off))


@dataclass(slots=True)
class _Hot:
    """The gas side: state before and pressure behind the turbine, and the compressor's power asked of it."""

    fuel: Array
    gas: Array
    state: cylinder.Exhaust
    constant: Array
    heat: Array
    outlet: Array
    asked: Array


def _expand(case: _Case, hot: _Hot, mach: Array, opened: Array | float) -> tuple[Array, Array, Array]:
    """Expansion ratio, turbine efficiency and power [W] with all the gas through wheel and an opened gate area [m2]."""
    area = case.area + opened
    x = turbine.flow_parameter(hot.gas, hot.state.temperature, hot.constant, area, hot.outlet, case.model)
    ratio = turbine.expansion_ratio(x, case.model)
    ideal, efficiency = _wheel(case, hot, ratio, mach)
    return ratio, efficiency, hot.gas * (case.area / area) * ideal * efficiency


def _exhaust(case: _Case, charge: _Charge) -> "_Hot":
    fuel = np.minimum(case.fuel_most, charge.air * case.leanest)
    state = cylinder.exhaust(
        case.engine, charge.air, fuel, charge.temperature, case.place.temperature, case.model
    )
    total = charge.air + fuel
    return _Hot(
        fuel=fuel,
        gas=total,
        state=state,
        constant=gas.gas_constant(state.burnt),
        heat=gas.specific_heat(0.93 * state.temperature, state.burnt),
        outlet=case.place.pressure + case.plumbing.exhaust_resistance * total * total,
        asked=charge.air * case.model.air_specific_heat * charge.lift,
    )


def _wheel(case: _Case, hot: _Hot, ratio: Array, mach: Array) -> tuple[Array, Array]:
    """Isentropic drop [J/kg] and efficiency of the turbine wheel; cp taken at 0.93 T3, its mean over the drop."""
    ideal = hot.heat * hot.state.temperature * -np.expm1(-hot.constant / hot.heat * np.log(ratio))
    rim = mach * case.sound * (case.machines.turbine_inducer / case.machines.compressor_exducer)
    speed_ratio = rim / np.sqrt(2.0 * np.maximum(ideal, 1.0))
    return ideal, turbine.efficiency(speed_ratio, case.model) * case.work


def _solve(
    engine: Engine, place: Place, plumbing: Plumbing, points: Points, machines: Machines, model: Model, tables: Tables
) -> Match:
    case = _case(engine, place, plumbing, points, machines, model, tables)
    count = max(np.size(v) for v in (points.speed, case.area, case.trapping, case.flow_scale, case.work))
    gate = np.broadcast_to(np.asarray(case.gate, dtype=np.float64), (count,))
    target = np.broadcast_to(np.asarray(points.boost_target, dtype=np.float64), (count,))
    gated = gate > 0.0
    ceiling = float(np.log(PRESSURE_RATIO_LIMIT))
    top = np.where(gated, np.clip(_target(case, count), 0.02, ceiling), ceiling)

    run = _run_up(case, np.zeros(count), top, np.zeros(count))
    stands = gated & (run.beyond | (run.boost > target))
    need = np.zeros(count)
    held = np.flatnonzero(stands)
    if held.size:
        need[held], enough = _hold(case.pick(held), run, held)
        run.opened[held] = np.where(enough, np.minimum(need[held], gate[held]), 0.0)
        stands[held] = enough & (need[held] <= gate[held])
        run.found[held] = stands[held]
        creeping = held[enough & (need[held] > gate[held])]
        if creeping.size:
            wide = _run_up(case.pick(creeping), run.y[creeping], np.full(creeping.size, ceiling), gate[creeping])
            run.put(creeping, wide)
        short = held[~enough]
        if short.size:
            run.put(short, _careful(case.pick(short), np.zeros(short.size), top[short] + 0.05, np.zeros(short.size)))
    return _finish(case, run, need, stands)


def _target(case: _Case, count: int) -> Array:
    """Logarithm of the pressure ratio at which the manifold reaches the boost target, good to about 1 %: the place
    where looking for a lower balance ends. `_hold` finds it exactly."""
    target = np.broadcast_to(np.asarray(case.points.boost_target, dtype=np.float64), (count,))
    y = np.log(np.maximum(target / case.place.pressure, 1.02))
    for _ in range(2):
        y = y + np.log(target / _charge(case, np.maximum(y, 0.01), 0.74).boost)
    return y


@dataclass(slots=True)
class _Run:
    """Where the points have been found so far.

    found: a balance was bracketed and met; beyond: none below the end of the search, turbine still in surplus there.
    """

    y: Array
    efficiency: Array
    echo: Array
    opened: Array
    boost: Array
    found: Bools
    beyond: Bools

    def put(self, where: IntArray, other: "_Run") -> None:
        for f in fields(self):
            getattr(self, f.name)[where] = getattr(other, f.name)


def _nothing(count: int, opened: Array) -> _Run:
    zeros = [np.zeros(count) for _ in range(4)]
    return _Run(zeros[0], zeros[1], zeros[2], opened.copy(), zeros[3], np.zeros(count, bool), np.zeros(count, bool))


def _run_up(case: _Case, low: Array, high: Array, opened: Array) -> _Run:
    """The first change of the surplus from plus to minus on the way from low (where it is positive) to high."""
    count = low.size
    run = _nothing(count, opened)
    left, right = np.zeros((3, count)), np.zeros((3, count))
    left[0] = low
    left[1] = np.nan
    live = np.arange(count)
    part, wide = case, opened
    efficiency: Array = np.full(count, _FIRST_GUESS)
    echo: Array | None = None
    open_ = np.ones(count, bool)
    for share in _SHARES:
        y = low[live] + (high[live] - low[live]) * share
        trial = _try(part, y, efficiency, echo, wide)
        efficiency, echo = trial.air.efficiency, trial.air.echo
        minus = trial.surplus < 0.0
        hit = minus & open_
        right[:, live[hit]] = y[hit], trial.surplus[hit], efficiency[hit]
        run.found[live[hit]] = True
        open_ &= ~minus
        on = live[open_]
        left[:, on] = y[open_], trial.surplus[open_], efficiency[open_]
        run.echo[on] = echo[open_]
        run.boost[on] = trial.air.charge.boost[open_]
        if not open_.any():
            break
        if open_.mean() < 0.75:
            keep = np.flatnonzero(open_)
            part, wide, live = part.pick(keep), wide[keep], live[keep]
            efficiency, echo, open_ = efficiency[keep], echo[keep], open_[keep]
    run.beyond[:] = ~run.found
    run.y[:], run.efficiency[:] = left[0], left[2]
    at = np.flatnonzero(run.found)
    if at.size:
        early = np.isnan(left[1])
        left[1:] = np.where(early, (-right[1], right[2]), left[1:])
        run.put(at, _root(case.pick(at), left[:, at], right[:, at], opened[at]))
        lost = at[~run.found[at]]
        if lost.size:
            run.put(lost, _careful(case.pick(lost), low[lost], high[lost], opened[lost]))
    return run


def _root(case: _Case, left: Array, right: Array, opened: Array) -> _Run:
    """Balance near or between left (plus) and right (minus), rows y, surplus, efficiency.

    Secant steps of at most half the bracket, while the efficiency settles along with them; points that are done drop
    out. The ends come from a coarse search whose efficiencies have not settled, so a step may leave the bracket.
    """
    run = _nothing(left.shape[1], opened)
    live = np.arange(left.shape[1])
    done = np.zeros(live.size, bool)
    width = right[0] - left[0]
    drift = (right[2] - left[2]) / width
    share = left[1] / np.where(left[1] == right[1], 1.0, left[1] - right[1])
    near = np.where(share < 0.5, left, right)
    last_y, last, settled = near
    y = left[0] + share * width
    guess = settled + drift * (y - last_y)
    echo: Array | None = None
    for turn in range(_STEPS):
        trial = _try(case, y, guess, echo if turn % 3 else None, opened)
        echo, value = trial.air.echo, trial.surplus
        done |= (np.abs(value) <= _CLOSE * trial.hot.asked / trial.air.charge.air) & (trial.air.off < _CLOSE)
        run.y[live], run.efficiency[live], run.echo[live] = y, trial.air.efficiency, echo
        run.boost[live], run.found[live] = trial.air.charge.boost, done
        if done.all():
            break
        change = value - last
        step = -value * (y - last_y) / np.where(change == 0.0, 1.0, change)
        step = np.clip(np.where(done, 0.0, step), -0.5 * width, 0.5 * width)
        moved = y - last_y
        drift = np.where(np.abs(moved) > 1e-9, (trial.air.efficiency - settled) / np.where(moved == 0, 1, moved), drift)
        last_y, last, settled = y, value, trial.air.efficiency
        y = np.maximum(y + step, 1e-6)
        guess = settled + drift * (y - last_y)
        if done.mean() > 0.3:
            keep = np.flatnonzero(~done)
            case, opened, live, echo, done = case.pick(keep), opened[keep], live[keep], echo[keep], done[keep]
            y, guess, width, drift = y[keep], guess[keep], width[keep], drift[keep]
            last_y, last, settled = last_y[keep], last[keep], settled[keep]
    return run


def _careful(case: _Case, low: Array, high: Array, opened: Array) -> _Run:
    """The same as `_run_up` for the few points that it lost (two balances close together, mostly): a finer search with
    settled efficiencies, then Illinois' false position inside the bracket."""
    run = _nothing(low.size, opened)

    def settled(y: Array, guess: Array) -> _Trial:
        for _ in range(_SETTLE):
            step = _compress(case, y, guess, None)
            guess = step.efficiency
            if np.all(step.off < 1e-12):
                break
        return _try(case, y, guess, step.echo, opened)

    share = np.linspace(0.0, 1.0, _FINE + 1)[:, None]
    grid = np.maximum(low + (high - low) * share, 1e-6)
    trial = settled(grid, np.full(grid.shape, _FIRST_GUESS))
    minus = trial.surplus[1:] < 0.0
    run.found |= minus.any(axis=0)
    run.beyond[:] = ~run.found
    first = np.where(run.found, minus.argmax(axis=0), _FINE - 1)
    at = np.arange(low.size)
    a, b, fa, fb = grid[first, at], grid[first + 1, at], trial.surplus[first, at], trial.surplus[first + 1, at]
    guess = trial.air.efficiency[first + 1, at]
    side = np.zeros(low.size)
    for _ in range(_FINE):
        y = np.where(run.found, a + (b - a) * np.clip(fa / np.where(fa == fb, 1.0, fa - fb), 0.0, 1.0), b)
        trial = settled(y, guess)
        value, guess = trial.surplus, trial.air.efficiency
        if np.all((np.abs(value) <= 1e-3 * _CLOSE * trial.hot.asked / trial.air.charge.air) | ~run.found):
            break
        plus = value >= 0.0
        fb = np.where(plus, np.where(side > 0.0, 0.5 * fb, fb), value)
        fa = np.where(plus, value, np.where(side < 0.0, 0.5 * fa, fa))
        a, b, side = np.where(plus, y, a), np.where(plus, b, y), np.where(plus, 1.0, -1.0)
    run.y[:], run.efficiency[:], run.echo[:], run.boost[:] = y, guess, trial.air.echo, trial.air.charge.boost
    return run


def _hold(case: _Case, run: _Run, held: IntArray) -> tuple[Array, Bools]:
    """Put the held points of the run at the boost target. Returns the gate area [m2] that leaves the turbine just the
    compressor's power, and whether the shut turbine has that much."""
    y, efficiency, echo = run.y[held], run.efficiency[held], run.echo[held]
    step, slope, before = np.zeros_like(y), np.ones_like(y), np.zeros_like(y)
    for turn in range(_STEPS):
        found = _compress(case, y, efficiency, echo if turn % 3 else None)
        efficiency, echo = found.efficiency, found.echo
        short = np.log(case.points.boost_target / found.charge.boost)
        if np.all((np.abs(short) < 1e-12) & (found.off < _CLOSE)):
            break
        if turn:
            moved = np.abs(step) > 1e-9
            slope = np.where(moved, np.clip((before - short) / np.where(moved, step, 1.0), 0.5, 2.0), slope)
        step, before = np.maximum(short / slope, 1e-4 - y), short
        y = y + step
    run.y[held], run.efficiency[held], run.echo[held], run.boost[held] = y, efficiency, found.echo, found.charge.boost
    hot = _exhaust(case, found.charge)
    x = turbine.flow_parameter(hot.gas, hot.state.temperature, hot.constant, case.area, hot.outlet, case.model)
    high = turbine.expansion_ratio(x, case.model)

    def power(ratio: Array) -> tuple[Array, Array]:
        """Turbine over compressor power to the power 2/3 (nearly a straight line), less 1; and the flow [kg/s]."""
        through = turbine.swallowed(
            case.area, ratio * hot.outlet, hot.state.temperature, hot.constant, ratio, case.model
        )
        ideal, wheel = _wheel(case, hot, ratio, found.mach)
        return np.cbrt(np.square(through * ideal * wheel / hot.asked)) - 1.0, through

    fb, through = power(high)
    enough = fb >= 0.0
    a, b, fa = np.ones_like(high), high, -np.ones_like(high)
    weight_a, weight_b = np.ones_like(high), np.ones_like(high)
    for _ in range(_STEPS):
        ratio = np.clip(a + (b - a) * fa * weight_a / (fa * weight_a - fb * weight_b), a, b)
        value, through = power(ratio)
        if np.all((np.abs(value) < 1e-11) | ~enough):
            break
        plus = value >= 0.0
        part = np.where(plus, value / np.where(fb == 0.0, 1.0, fb), value / fa)
        weight = np.where(part < 1.0, 1.0 - part, 0.5)
        weight_a, weight_b = np.where(plus, weight_a * weight, 1.0), np.where(plus, 1.0, weight_b * weight)
        a, fa = np.where(plus, a, ratio), np.where(plus, fa, value)
        b, fb = np.where(plus, ratio, b), np.where(plus, value, fb)
    need = case.area * np.maximum(hot.gas / np.maximum(through, 1e-12) - 1.0, 0.0)
    return np.where(enough, need, 0.0), enough


def _finish(case: _Case, run: _Run, need: Array, stands: Bools) -> Match:
    """All figures of the points at the pressure ratios found, with what is left of the two equations."""
    trial = _try(case, run.y, run.efficiency, run.echo, run.opened)
    charge, hot, mach = trial.air.charge, trial.hot, trial.air.mach
    machines, model, points = case.machines, case.model, case.points
    temperature, burnt, lam = hot.state.temperature, hot.state.burnt, hot.state.lam
    floor = 0.01 * charge.air * case.model.air_specific_heat * case.place.temperature
    residual = np.maximum(np.abs(trial.power - hot.asked) / np.maximum(hot.asked, floor), trial.air.off)
    residual = np.where(stands, np.maximum(residual, np.abs(charge.boost / points.boost_target - 1.0)), residual)
    drive = trial.ratio * hot.outlet
    power = cylinder.brake_power(case.engine, hot.fuel, lam, points.speed, charge.boost, drive, model)
    tip = mach * case.sound
    number = charge.air * case.flow_scale / charge.inlet
    surge, choke = case.tables.margins(machines.wheel, number, mach / machines.speed_factor)
    through = case.area / (case.area + run.opened)
    able = turbine.swallowed(
        case.area,
        model.drive_ratio_limit * charge.boost,
        temperature,
        hot.constant,
        np.maximum(model.drive_ratio_limit * charge.boost / hot.outlet, 1.0),
        model,
    )
    mixed = gas.enthalpy(temperature, burnt) - trial.power / hot.gas
    spare = np.minimum(case.gate / np.maximum(need, 0.1 * case.gate + 1e-12) - 1.0, 9.0)
    return Match(
        pressure_ratio=charge.ratio,
        boost=charge.boost,
        drive_pressure=drive,
        turbine_outlet_pressure=hot.outlet,
        expansion_ratio=trial.ratio,
        shaft_speed=2.0 * tip / machines.compressor_exducer,
        tip_speed=tip,
        tip_speed_margin=machines.tip_speed_limit / np.maximum(tip, 1.0) - 1.0,
        compressor_efficiency=trial.air.efficiency,
        turbine_efficiency=trial.efficiency,
        surge_margin=(1.0 + surge) / machines.surge_factor - 1.0,
        choke_margin=choke,
        exhaust_temperature=temperature,
        turbine_outlet_temperature=gas.temperature(mixed, burnt),
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
        gate_flow_margin=np.where(need > 0.0, spare, 9.0),
        housing_flow_margin=able / hot.gas - 1.0,
        at_target=stands,
        residual=residual,
        converged=run.found & (residual <= TOLERANCE),
    )
