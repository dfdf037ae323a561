"""The match: compressor and turbine power, gas continuity and gate for every candidate and point at once.

The unknown of a point is y, the logarithm of the compressor pressure ratio. For a trial y everything else
follows explicitly, so the surplus g(y) = turbine power - compressor power is a plain function and can be
bracketed:

- the gate shut, g has a first crossing from plus to minus below the boost target: the machine runs there;
- no crossing and g >= 0 at the target: the gate holds the target and passes what the turbine must not take;
- the gate wide open and still g > 0 at the target: boost creeps up to the first crossing with the gate open.

Without a gate there is no target: the machine finds its own boost. Of several roots the lowest stable one is
taken, as an engine coming up from low speed meets it first. A point without a bracket, or whose residual
stays above `TOLERANCE`, is marked as not converged; its values are finite but no figures.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from advisor.matching import air, turbine
from advisor.matching import engine as cylinder
from advisor.matching.alike import Kinds, each_of_rows, kinds
from advisor.matching.inputs import Array, Bools, Engine, IntArray, Machines, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.search import Run, careful, end_of_search, hold, nothing, run_up
from advisor.matching.shaft import Case, Tables, attempt, case_of, figures, in_blocks

TOLERANCE = 1e-7
"""Largest relative residual of the shaft's power balance and of the charge equation."""
PRESSURE_RATIO_LIMIT = 60.0
"""Highest pressure ratio looked for: far past any wheel, so that a machine without a gate shows by how much
it overspeeds."""
_CHUNK = 131_072
_TURNS = 40
"""Most steps that a point gets."""
_LEEWAY = 0.05


@dataclass(frozen=True, slots=True)
class Match:
    """The operating points found, arrays of shape (..., N, K), SI, pressures absolute.

    gate_share         share of the exhaust gas that the gate passes
    gate_flow_margin   what the open gate could pass over what holding the target asks, less 1 (at most 9)
    housing_flow_margin  what the turbine alone passes at `drive_ratio_limit` (by gauge) over all gas, less 1
    tip_speed_margin   the material's limit over the tip speed, less 1
    at_target          the boost target is held by the gate
    residual           |turbine - compressor power| / compressor power, or the charge equation's where larger
    turbine_outlet_temperature  wheel and gate gas mixed
    """

    pressure_ratio: Array
    inlet_pressure: Array
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

    def put(self, where: IntArray | slice, other: "Match") -> None:
        """Take over the points of another match, along the first axis."""
        for f in fields(Match):
            getattr(self, f.name)[where] = getattr(other, f.name)

    def rows(self, chosen: IntArray) -> "Match":
        """The rows chosen (n,) of the candidates."""
        return Match(**{f.name: np.take(getattr(self, f.name), chosen, axis=-2) for f in fields(Match)})


def match(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    model: Model = MODEL,
    higher: Match | None = None,
) -> Match:
    """Operating points of N machines at K points (and any draws in front): arrays of shape (..., N, K). No point
    depends on what is matched beside it.

    higher: the same machines at the same points, with gates set as high or higher; what it found with a gate that
    stays shut isn't looked for again.

    Work is done in blocks, so memory beyond the result stays below 100 MB.
    """
    alike = kinds(machines, (engine, place, plumbing, points))
    if alike is None:
        return _match(engine, place, plumbing, points, machines, tables, model, higher)
    few = each_of_rows((engine, place, plumbing, points), alike.first)
    each = machines.rows(alike.first)
    if higher is None:
        found = _match_kinds(*few, each, tables, model)
    else:
        found = _match(*few, each, tables, model, higher.rows(alike.first))
    return _with_own_gates(found, alike, *spread(engine, place, plumbing, points, machines, tables, model))


def _match_kinds(
    engine: Engine, place: Place, plumbing: Plumbing, points: Points, machines: Machines, tables: Tables, model: Model
) -> Match:
    """The match of rows that differ in more than the size of a gate. What runs without a gate is searched for first;
    the same machine with a gate runs alike until its boost is at the target, and is solved only past that."""
    asked = engine, place, plumbing, points
    bare = kinds(machines, asked, np.zeros(len(machines)))
    shape, case = spread(*asked, machines, tables, model)
    if bare is None or len(shape) > 2:
        return _match(*asked, machines, tables, model)
    first, free = bare.first.copy(), np.flatnonzero(machines.gate_bore == 0.0)
    first[bare.of[free]] = free
    count = len(first) * shape[-1]
    near = nothing(count, np.zeros(count))
    found = _match(*each_of_rows(asked, first), machines.rows(first), tables, model, near=near)
    whole: dict[str, Any] = {f.name: np.take(getattr(found, f.name), bare.of, axis=-2) for f in fields(Match)}
    at = (bare.of[:, None] * shape[-1] + np.arange(shape[-1])).reshape(shape)
    target = np.broadcast_to(case.points.boost_target, shape)
    shut = near.found[at] & (near.boost[at] <= target) & whole["converged"]
    gated = (first[bare.of] != np.arange(len(machines)))[:, None]
    for block in _points(gated & ~shut):
        found, _ = _solve(laid_out(case, shape, block), block[0].size, near.part(at[block]))
        _put(whole, block, found)
    return Match(**whole)


def _with_own_gates(found: Match, alike: Kinds, shape: tuple[int, ...], case: Case) -> Match:
    """The match of every row from that of its kind; points at which either one's gate is too small are solved anew."""
    whole: dict[str, Any] = {f.name: np.take(getattr(found, f.name), alike.of, axis=-2) for f in fields(Match)}
    gate, area = np.broadcast_to(case.gate, shape), np.broadcast_to(case.area, shape)
    passed, held = whole["gate_share"], whole["at_target"]
    need = _passing(area, passed)
    whole["gate_flow_margin"] = np.where(held, _spare(gate, need), whole["gate_flow_margin"])
    other = gate != gate[..., alike.first, :][..., alike.of, :]
    for block in _points(other & np.where(held, need > gate, passed > 0.0)):
        _put(whole, block, _solve(laid_out(case, shape, block), block[0].size)[0])
    return Match(**whole)


def _points(chosen: Bools) -> Iterator[tuple[Any, ...]]:
    """Index expressions of the points chosen (..., N, K), at most `_CHUNK` in each."""
    every = np.nonzero(chosen)
    for start in range(0, every[0].size, _CHUNK):
        yield tuple(axis[start : start + _CHUNK] for axis in every)


def _put(whole: dict[str, Any], block: tuple[Any, ...], found: Match) -> None:
    for name, values in whole.items():
        values[block] = getattr(found, name).reshape(values[block].shape)


def _match(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    model: Model,
    higher: Match | None = None,
    near: Run | None = None,
) -> Match:
    """The match of every row; ``near`` (N K,) is filled with what is found of them on the way up to the target."""
    shape, case = spread(engine, place, plumbing, points, machines, tables, model)
    whole: dict[str, Any] = {f.name: np.empty(shape, bool if f.type == Bools else float) for f in fields(Match)}
    at = None if near is None else np.arange(near.y.size).reshape(shape)
    for block in blocks(shape):
        count = np.broadcast_to(0.0, shape)[block].size
        known = None if higher is None else _known(higher, block)
        found, below = _solve(laid_out(case, shape, block), count, known)
        _put(whole, block, found)
        if near is not None and at is not None:
            near.put(at[block].reshape(-1), below)
    return Match(**whole)


def lay_out(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    model: Model,
) -> tuple[tuple[int, ...], Case]:
    """Shape (..., N, K) of what is asked together, and all of it laid out flat in one block."""
    shape, case = spread(engine, place, plumbing, points, machines, tables, model)
    return shape, laid_out(case, shape, (slice(None),) * len(shape))


def spread(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    model: Model,
) -> tuple[tuple[int, ...], Case]:
    """Shape (..., N, K) of what is asked together, and all of it with its axes in place."""
    columns = Machines(**{name: np.asarray(getattr(machines, name))[..., None] for name in figures(machines)})
    asked = (engine, place, plumbing, points, columns, model)
    values = (getattr(group, name) for group in asked for name in figures(group))
    every = {value.shape for value in values if isinstance(value, np.ndarray)}
    shape = np.broadcast_shapes((len(machines), points.speed.shape[-1]), *every)
    return shape, case_of(asked, tables)


def blocks(shape: tuple[int, ...]) -> Iterator[tuple[Any, ...]]:
    """Index expressions that cut (..., N, K) into blocks of at most about `_CHUNK` points, along as few axes
    as will do."""
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


def laid_out(case: Case, shape: tuple[int, ...], block: tuple[Any, ...]) -> Case:
    """What was asked, laid out flat over one block; what is the same everywhere becomes one number."""

    def flat(value: Any) -> Any:
        if not isinstance(value, np.ndarray):
            return value
        first = value.flat[0]
        return first.item() if (value == first).all() else np.broadcast_to(value, shape)[block].reshape(-1)

    return case.change(flat)


def _known(higher: Match, block: tuple[Any, ...]) -> Run:
    """What a match with gates set higher knows of some points: where they balance with the gate shut (found), or that
    they don't below its setting (beyond)."""

    def flat(values: Any) -> Any:
        return values[block].reshape(-1)

    solved, shut = flat(higher.converged), flat(higher.gate_share) == 0.0
    solved_shut = solved & shut & ~flat(higher.at_target)
    zeros = np.zeros(solved.shape)
    y, efficiency = np.log(flat(higher.pressure_ratio)), flat(higher.compressor_efficiency)
    return Run(y, efficiency, zeros, zeros.copy(), flat(higher.boost), solved_shut, solved & ~solved_shut)


def _solve(case: Case, count: int, known: Run | None = None) -> tuple[Match, Run]:
    """All figures of the points, and what was found of them on the way up to the target (where that was ``known``, it
    with the rest)."""
    gate = np.broadcast_to(np.asarray(case.gate, dtype=np.float64), (count,))
    target = np.broadcast_to(np.asarray(case.points.boost_target, dtype=np.float64), (count,))
    gated = gate > 0.0
    ceiling = float(np.log(PRESSURE_RATIO_LIMIT))
    low, high = np.zeros(count), np.clip(end_of_search(case, count), 0.02, ceiling)
    past = np.where(gated, high, ceiling)
    if known is None:
        below, run = run_up(case, low, high, np.zeros(count), _TURNS, past)
    else:
        below = run = known
        open_ = np.flatnonzero(~run.found & ~run.beyond)
        if open_.size:
            ends = low[open_], high[open_], np.zeros(open_.size)
            run.put(open_, run_up(case.pick(open_), *ends, _TURNS, past[open_])[1])
    end = past + _LEEWAY
    lost = np.flatnonzero(~run.found & ~run.beyond)
    if lost.size:
        run.put(lost, careful(case.pick(lost), low[lost], past[lost], run.opened[lost]))
    stands = gated & (run.beyond | (run.boost > target))
    need = np.zeros(count)
    held = np.flatnonzero(stands)
    if held.size:
        need[held], enough = hold(case.pick(held), run, held, _TURNS)
        stands[held] = enough & (need[held] <= gate[held])
        run.opened[held] = np.where(stands[held], need[held], 0.0)
        run.found[held], run.beyond[held] = stands[held], False
        end[held] = run.y[held]  # exactly at the target, where the turbine is short of power if it is not enough
        creeping = held[enough & (need[held] > gate[held])]
        if creeping.size:
            low[creeping], end[creeping] = run.y[creeping], ceiling
            ends = low[creeping], end[creeping], gate[creeping]
            run.put(creeping, run_up(case.pick(creeping), *ends, _TURNS)[1])
    found = _finish(case, run, need, stands)
    lost = np.flatnonzero(~found.converged & ~stands & ~run.beyond)
    if lost.size:
        part = case.pick(lost)
        run.put(lost, careful(part, low[lost], end[lost], run.opened[lost]))
        found.put(lost, _finish(part, run.part(lost), need[lost], stands[lost]))
    return found, below


def _finish(case: Case, run: Run, need: Array, stands: Bools) -> Match:
    """All figures of the points at the pressure ratios found, with what is left of the two equations."""
    whole = Match(**{f.name: np.empty(stands.size, bool if f.type == Bools else float) for f in fields(Match)})
    for at, some in in_blocks(case, stands.size):
        whole.put(at, _figures(some, run.part(at), need[at], stands[at]))
    return whole


def _figures(case: Case, run: Run, need: Array, stands: Bools) -> Match:
    """All figures of the points at the pressure ratios found, with what is left of the two equations."""
    trial = attempt(case, run.y, run.efficiency, run.echo, run.opened)
    charge, hot, mach = trial.air.charge, trial.hot, trial.air.mach
    machines, model, points = case.machines, case.model, case.points
    temperature, lam = hot.state.temperature, hot.state.lam
    floor = 0.01 * charge.air * case.model.air_specific_heat * case.place.temperature
    residual = np.maximum(np.abs(trial.power - hot.asked) / np.maximum(hot.asked, floor), trial.air.off)
    residual = np.where(stands, np.maximum(residual, np.abs(charge.boost / points.boost_target - 1.0)), residual)
    drive = trial.ratio * hot.outlet
    power = cylinder.brake_power(case.engine, hot.fuel, lam, points.speed, charge.boost, drive, model)
    tip = mach * case.sound
    number = charge.air * case.flow_scale / charge.inlet
    surge, choke = case.tables.margins(machines.wheel, number, mach / machines.speed_factor)
    through = case.area / (case.area + run.opened)
    most = case.place.pressure + model.drive_ratio_limit * np.maximum(charge.boost - case.place.pressure, 0.0)
    most = np.maximum(most, hot.outlet)
    able = turbine.swallowed(case.area, most, temperature, hot.constant, most / hot.outlet, model)
    mixed = hot.state.mixture.enthalpy(temperature) - trial.power / hot.gas
    return Match(
        pressure_ratio=charge.ratio,
        inlet_pressure=charge.inlet,
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
        turbine_outlet_temperature=hot.state.mixture.temperature(mixed),
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
        gate_flow_margin=_spare(case.gate, np.where(stands, _passing(case.area, 1.0 - through), need)),
        housing_flow_margin=able / hot.gas - 1.0,
        at_target=stands,
        residual=residual,
        converged=run.found & (residual <= TOLERANCE),
    )


def _passing(area: Array, share: Array) -> Array:
    """Gate area [m2] that passes a share of the gas beside a turbine's."""
    return area * share / (1.0 - share)


def _spare(gate: Array, need: Array) -> Array:
    """What an open gate area could pass over the area needed, less 1 (at most 9)."""
    most = np.minimum(gate / np.maximum(need, 0.1 * gate + 1e-12) - 1.0, 9.0)
    return np.where(need > 0.0, most, 9.0)
