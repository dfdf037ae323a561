"""How early and how quickly boost stands.

`threshold` reads the lowest engine speed at which the target boost stands off a sweep at full load.
`spool_time` integrates the rotor's equation of motion at a fixed engine speed: t = integral of J w dw /
(turbine - compressor power), along the line that the match itself runs on, with smoke-limited fuel and the
gate shut.
"""

import numpy as np

from advisor.matching.balance import lay_out, match
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.shaft import Tables, attempt, case_of

LIGHT_LOAD = 0.2
"""Share of the full fuel that the engine burns before the pedal goes down (light cruise)."""
_STEPS = 24
_FIRST_GUESS = 0.72


def rotor_inertia(machines: Machines, model: Model = MODEL) -> Array:
    """Moment of inertia of all rotors [kg m2]: k rho D^5 for each wheel; good to about 35 %."""
    turbine = model.turbine_inertia * np.asarray(model.turbine_density) * machines.turbine_inducer**5
    impeller = (
        model.compressor_inertia * np.asarray(model.compressor_density) * machines.compressor_exducer**5
    )
    return np.asarray(machines.parallel * (turbine + impeller))


def threshold(speed: Array, boost: Array, target: Number, outside: Number, share: Number = 0.9) -> Array:
    """Lowest engine speed [rad/s] from which boost stands at `share` of the target, by gauge pressure.

    speed (..., K) rising; boost (..., N, K) and target in Pa absolute. Linear between columns. The first
    column where it stands already there; inf where it never does.
    """
    wanted = outside + share * (np.asarray(target) - outside)
    short = boost - np.asarray(wanted)
    stands = short >= 0.0
    first = stands.argmax(axis=-1)
    before = np.maximum(first - 1, 0)
    speeds = np.broadcast_to(speed, short.shape)

    def at(values: Array, column: IntArray) -> Array:
        return np.take_along_axis(values, column[..., None], axis=-1)[..., 0]

    high, low = at(short, first), at(short, before)
    part = np.where(first > 0, high / np.where(high == low, 1.0, high - low), 0.0)
    found = at(speeds, first) - np.clip(part, 0.0, 1.0) * (at(speeds, first) - at(speeds, before))
    return np.where(stands.any(axis=-1), found, np.inf)


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
    wanted = place.pressure + model.spool_share * (np.asarray(target) - place.pressure)
    line = [
        np.asarray(x, dtype=np.float64).reshape(*np.shape(x)[:-1], 1)
        for x in (speed, fuel, smoke_lambda, wanted)
    ]
    single = Points(
        (), np.zeros(1, np.int64), np.ones(1, bool), line[0], LIGHT_LOAD * line[1], line[2], line[3], line[3]
    )
    light = match(engine, place, plumbing, single, machines, tables, model)
    full = Points((), single.duty, single.at_goal, line[0], line[1], line[2], line[3], line[3])
    shape, asked = lay_out(engine, place, plumbing, full, machines, model)
    case = case_of(asked, tables)
    start = np.log(np.broadcast_to(light.pressure_ratio, shape).reshape(-1))
    end = np.log(np.maximum(np.broadcast_to(wanted, shape).reshape(-1) / case.place.pressure, 1.0))
    end = np.maximum(end, start)
    share = np.linspace(0.0, 1.0, _STEPS)[:, None]
    y = start + (end - start) * share
    trial = attempt(case, y, np.full(y.shape, _FIRST_GUESS), None, 0.0)
    rotor = 2.0 * trial.air.mach * case.sound / case.machines.compressor_exducer
    surplus = trial.power - trial.hot.asked
    energy = 0.5 * rotor_inertia(case.machines, case.model) * np.square(rotor)
    rise = np.diff(energy, axis=0)
    inner = 0.5 * (surplus[1:] + surplus[:-1])
    hung = (surplus[1:] <= 0.0).any(axis=0) & (end > start)
    seconds = (np.maximum(rise, 0.0) / np.maximum(inner, 1.0)).sum(axis=0)
    return np.where(hung, np.inf, seconds).reshape(shape)[..., 0]
