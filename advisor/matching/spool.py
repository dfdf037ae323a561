"""How quickly boost stands.

`spool_time` integrates the rotor's equation of motion at a fixed engine speed: t = integral of J w dw /
(turbine - compressor power), along the line that the match itself runs on, with smoke-limited fuel and the
gate shut.
"""

from typing import Any

import numpy as np

from advisor.matching.alike import each_of_rows, kinds
from advisor.matching.balance import lay_out, match
from advisor.matching.inputs import Array, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import Between, Pair, shut, state_at
from advisor.matching.series import UNCOOLED, match_series
from advisor.matching.shaft import Case, Tables, attempt, in_blocks
from advisor.matching.standing import standing_boost

LIGHT_LOAD = 0.2
"""Share of the full fuel that the engine burns before the pedal goes down (light cruise)."""
_STEPS = 24
_FIRST_GUESS = 0.72
_PACE, _MOST_STEPS, _NUDGE = 0.05, 90, 1e-4
"""Change of a pressure ratio's logarithm in a step of two rotors, most steps, and step of the slopes."""
_CLOSE = 1e-8


def rotor_inertia(machines: Machines, model: Model = MODEL) -> Array:
    """Moment of inertia of all rotors [kg m2]: k rho D^5 for each wheel; good to about 35 %."""
    turbine = model.turbine_inertia * np.asarray(model.turbine_density) * machines.turbine_inducer**5
    impeller = (
        model.compressor_inertia * np.asarray(model.compressor_density) * machines.compressor_exducer**5
    )
    return np.asarray(machines.parallel * (turbine + impeller))


def spool_time(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    machines: Machines,
    tables: Tables,
    speed: Number,
    target: Number,
    fuel: Number,
    smoke_lambda: Number,
    model: Model = MODEL,
) -> Array:
    """Seconds (..., N) from light load to `spool_share` of the target boost at one engine speed [rad/s].

    target: manifold pressure [Pa abs]; fuel: what the pedal asks for [kg/s]. inf where the surplus dies on
    the way: it hangs there. The pressure in the manifold is taken to follow the machine at once.
    """
    light, full, _ = light_and_full(place, speed, target, fuel, smoke_lambda, model)
    ratio = match(engine, place, plumbing, light, machines, tables, model).pressure_ratio
    alike = kinds(machines, (engine, place, plumbing, full), ratio[:, 0]) if ratio.ndim == 2 else None
    if alike is None:
        return _seconds(engine, place, plumbing, full, machines, tables, ratio, model)
    few = each_of_rows((engine, place, plumbing, full), alike.first)
    return _seconds(*few, machines.rows(alike.first), tables, ratio[alike.first], model)[..., alike.of]


def _seconds(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    full: Points,
    machines: Machines,
    tables: Tables,
    ratio: Array,
    model: Model,
) -> Array:
    """Seconds (..., N) from pressure ratios (..., N, 1) up to the boost that counts as standing, at full fuel."""
    shape, case = lay_out(engine, place, plumbing, full, machines, tables, model)
    start = np.log(np.broadcast_to(ratio, shape).reshape(-1))
    end = np.log(np.maximum(np.broadcast_to(full.boost_target, shape).reshape(-1) / case.place.pressure, 1.0))
    end = np.maximum(end, start)
    found = np.empty(start.shape)
    for at, part in in_blocks(case, start.size, _STEPS):
        found[at] = _along(part, start[at], end[at])
    return found.reshape(shape)[..., 0]


def _along(case: Case, start: Array, end: Array) -> Array:
    """Seconds (P,) between two logarithms of the pressure ratio."""
    share = np.linspace(0.0, 1.0, _STEPS)[:, None]
    y = start + (end - start) * share
    trial = attempt(case, y, np.full(y.shape, _FIRST_GUESS), None, 0.0)
    rotor = 2.0 * trial.air.mach * case.sound / case.machines.compressor_exducer
    surplus = trial.power - trial.hot.asked
    energy = 0.5 * rotor_inertia(case.machines, case.model) * np.square(rotor)
    rise = np.diff(energy, axis=0)
    inner = 0.5 * (surplus[1:] + surplus[:-1])
    hung = (surplus[1:] <= 0.0).any(axis=0) & (end > start)
    steps = np.maximum(rise, 0.0) / np.maximum(inner, 1.0)
    return np.where(hung, np.inf, np.cumsum(steps, axis=0)[-1])  # in one order, however many stand side by side


def light_and_full(
    place: Place, speed: Number, target: Number, fuel: Number, smoke_lambda: Number, model: Model
) -> tuple[Points, Points, Array]:
    """One point at light load and the same at full fuel, and the boost [Pa abs] that counts as standing."""
    wanted = standing_boost(target, place.pressure, model)
    line: list[Any] = [
        np.asarray(x, dtype=np.float64).reshape(*np.shape(x)[:-1], 1) for x in (speed, fuel, smoke_lambda, wanted)
    ]
    zero, one = np.zeros(1, np.int64), np.ones(1, bool)
    light = Points((), zero, one, line[0], LIGHT_LOAD * line[1], line[2], line[3], line[3])
    return light, Points((), zero, one, line[0], line[1], line[2], line[3], line[3]), wanted


def spool_time_series(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    low: Machines,
    high: Machines,
    tables: Tables,
    speed: Number,
    target: Number,
    fuel: Number,
    smoke_lambda: Number,
    between: Between = UNCOOLED,
    model: Model = MODEL,
) -> Array:
    """The same for N pairs in series (see `series.match_series`): both rotors' equations of motion, d(J w^2 / 2)/dt =
    turbine less compressor power, in linearly implicit steps.

    Gates are shut on the way; the gas before the low turbine is taken as if the high rotor were in balance.
    """
    light, full, wanted = light_and_full(place, speed, target, fuel, smoke_lambda, model)
    start = match_series(engine, place, plumbing, light, low, high, tables, between, model)
    shape, for_low = lay_out(engine, place, plumbing, full, low, tables, model)
    other_shape, for_high = lay_out(engine, place, plumbing, full, high, tables, model)
    shape = np.broadcast_shapes(shape, other_shape, np.shape(start.whole.boost))
    pair = Pair(for_low, for_high, between)
    y = np.stack(
        [np.log(np.broadcast_to(s.pressure_ratio, shape).reshape(-1)) for s in (start.low, start.high)]
    )
    goal = np.broadcast_to(wanted, shape).reshape(-1)
    closed = shut(y.shape[1])
    inertia = [0.5 * rotor_inertia(side.machines, side.model) for side in (pair.low, pair.high)]

    def look(at: Array) -> tuple[Array, Array, Array]:
        """Kinetic energies [J], powers left over [W] (2, ...) and boost [Pa] at logarithms of the ratios (2, ...)."""
        state = state_at(pair, at[0], at[1], closed, _CLOSE)
        turning = [
            2.0 * stage.tip / side.machines.compressor_exducer
            for stage, side in ((state.low, pair.low), (state.high, pair.high))
        ]
        energy = np.stack([half * np.square(rate) for half, rate in zip(inertia, turning, strict=True)])
        return energy, state.flow * np.stack([state.low_surplus, state.high_surplus]), state.boost

    seconds, reached = np.zeros(y.shape[1]), np.zeros(y.shape[1], bool)
    nudges = np.array([[0.0, _NUDGE, 0.0], [0.0, 0.0, _NUDGE]])[..., None]
    pace = np.full(y.shape[1], np.inf)
    last = np.zeros(y.shape[1])
    for turn in range(_MOST_STEPS):
        energy, power, boost = look(y[:, None] + nudges)
        boost = boost[0]
        arrived = ~reached & (boost >= goal)
        if turn:
            part = np.clip((goal - last) / np.where(boost == last, 1.0, boost - last), 0.0, 1.0)
            seconds += np.where(reached, 0.0, pace * np.where(arrived, part, 1.0))
        reached |= arrived
        if reached.all():
            break
        last = boost
        (a, b), (c, d) = (energy[:, 1:] - energy[:, :1]) / _NUDGE
        (e, f), (g, h) = (power[:, 1:] - power[:, :1]) / _NUDGE
        p, q = power[:, 0]
        # Free rates of both logarithms; the faster one sets the step.
        free = np.stack([d * p - b * q, a * q - c * p]) / (a * d - b * c)
        pace = _PACE / np.maximum(np.abs(free).max(axis=0), 1e-6)
        a, b, c, d = a - pace * e, b - pace * f, c - pace * g, d - pace * h
        step = pace * np.stack([d * p - b * q, a * q - c * p]) / (a * d - b * c)
        y = np.maximum(y + np.clip(step, -2.0 * _PACE, 2.0 * _PACE), 1e-6)
    return np.where(reached, seconds, np.inf).reshape(shape)[..., 0]
