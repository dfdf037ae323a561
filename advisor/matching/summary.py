"""From operating points to the figures that a candidate is judged by.

One number per candidate and figure, by the names that the rules use; SI, pressures as a gauge reads them
where the name says boost or drive pressure. A candidate whose points did not all converge is not solved: its
figures are NaN.
"""

import numpy as np

from advisor.matching.balance import Match
from advisor.matching.engine import FULL_LOAD
from advisor.matching.inputs import Array, Bools, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.shaft import Tables
from advisor.matching.spool import spool_time
from advisor.matching.standing import stands_from
from advisor.matching.thrust import thrust_index
from advisor.supplied import DUTIES

GAUGE_FLOOR = 35_000.0
"""Boost [Pa gauge] below which the ratio of drive to boost pressure says nothing (5 psi)."""


def summarise(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    match: Match,
    inducer: Array,
    main_duty: str,
    boost_wanted_by: Number | None = None,
    model: Model = MODEL,
    seconds: Array | None = None,
    stands: Array | None = None,
) -> dict[str, Array]:
    """Figures of each candidate (..., N) from a match of the same inputs, and "solved": whether all that they
    rest on converged (yes or no).

    inducer: compressor inlet tip diameter [m] (N,); main_duty: name of the duty that the overall figures are for
    (power, boost and what is read at the power goal: for the duty that asks for most; surge and the reserves of speed
    and gate: for all duties); boost_wanted_by: engine speed [rad/s] at which the spool time is asked, else the lowest
    speed of the main duty; seconds: spool times (..., N), and stands: engine speeds (..., N, D) from which the boosts
    of `wanted_boosts` stand, where they are there already.
    """
    if seconds is None:
        pushed = pedal(points, main_duty, boost_wanted_by)
        seconds = spool_time(engine, place, plumbing, machines, tables, *pushed, model)
    outside = np.asarray(place.pressure)
    main = points.of(main_duty)
    goal = hardest(points, main_duty)
    asked = np.setdiff1d(np.arange(points.duty.size), points.of(FULL_LOAD))
    at_goals = asked[points.at_goal[asked]]
    solved: Bools = np.asarray(match.converged[..., asked].all(axis=-1))
    boost = match.boost - outside
    ratio = (match.drive_pressure - outside) / np.maximum(boost, GAUGE_FLOOR)
    duty = points.duties[int(points.duty[goal])]
    power = match.power[..., goal]
    wanted = wanted_boosts(points, main_duty)
    if stands is None:
        targets = points.boost_needed[..., list(wanted.values())]
        stands = stands_from(engine, place, plumbing, points, machines, tables, match, targets, model)
    lit = {name: stands[..., at] for at, name in enumerate(wanted)}
    columns = {
        "power made": power,
        "power shortfall": np.maximum(1.0 - power / _flat(duty.power), 0.0),
        "spool rpm": lit[main_duty],
        "spool time": seconds,
        "boost made": boost[..., goal],
        "drive pressure": (match.drive_pressure - outside)[..., goal],
        "drive pressure ratio": ratio[..., main].max(axis=-1),
        "exhaust temperature": match.exhaust_temperature[..., main].max(axis=-1),
        "tip speed margin": _least(match.tip_speed_margin, match.converged),
        "surge margin": match.surge_margin[..., asked].min(axis=-1),
        "goal surge margin": _least(match.surge_margin[..., at_goals], match.converged[..., at_goals]),
        "choke margin": match.choke_margin[..., main].min(axis=-1),
        "gate share": match.gate_share[..., main].max(axis=-1),
        "gate flow margin": match.gate_flow_margin[..., asked].min(axis=-1),
        "housing flow margin": match.housing_flow_margin[..., goal],
        "compressor efficiency": match.compressor_efficiency[..., goal],
        "compressor outlet temperature": match.compressor_outlet_temperature[..., main].max(axis=-1),
        "charge temperature": match.charge_temperature[..., main].max(axis=-1),
        "thrust index": thrust_index(match, machines, place, inducer, model)[..., asked].max(axis=-1),
        "lambda at goal": match.lam[..., goal],
    }
    for name in DUTIES:
        own = points.of(name)
        if not own.size:
            continue
        at = int(own[points.at_goal[own]][0])
        columns[f"{name} power"] = match.power[..., at]
        columns[f"{name} lambda"] = match.lam[..., at]
        asked_of_it = _flat(points.duties[int(points.duty[at])].power)
        columns[f"{name} shortfall"] = np.maximum(1.0 - match.power[..., at] / asked_of_it, 0.0)
        hottest = match.exhaust_temperature[..., own].max(axis=-1)
        # On a grade the driver chooses the gear: what he holds for minutes is the heat at the goal speed.
        columns[f"{name} exhaust temperature"] = match.exhaust_temperature[..., at] if name == "towing" else hottest
        outlet = match.compressor_outlet_temperature
        columns[f"{name} outlet temperature"] = outlet[..., at] if name == "towing" else outlet[..., own].max(axis=-1)
        columns[f"{name} drive ratio"] = ratio[..., own].max(axis=-1)
        columns[f"{name} spool rpm"] = lit[name]
    return {name: np.where(solved, values, np.nan) for name, values in columns.items()} | {"solved": solved}


def pedal(
    points: Points, main_duty: str, boost_wanted_by: Number | None = None
) -> tuple[Array, Array, Array, Array]:
    """What the spool time is asked for, each (..., 1): engine speed [rad/s], boost [Pa abs], fuel [kg/s], least lambda;
    arguments as in `summarise`."""
    goal = hardest(points, main_duty)
    duty = points.duties[int(points.duty[goal])]
    speed = _line(duty.low if boost_wanted_by is None else boost_wanted_by)
    fuel = _pick(points.fuel_asked, goal) * np.minimum(speed / _pick(points.speed, goal), 1.0)
    return speed, _pick(points.boost_needed, goal), fuel, _pick(points.smoke_lambda, goal)


def hardest(points: Points, main_duty: str) -> int:
    """Goal column of the duty that asks for most power; of equals the main duty."""
    asked = [
        (float(np.mean(duty.power)), duty.name == main_duty, index)
        for index, duty in enumerate(points.duties)
        if duty.name != FULL_LOAD
    ]
    index = max(asked)[2]
    return int(np.flatnonzero(points.at_goal & (points.duty == index))[0])


def _flat(value: Number) -> Array:
    """A figure of shape (..., 1, 1) without its column axis."""
    array = np.asarray(value)
    return array[..., 0] if array.ndim else array


def _line(value: Number) -> Array:
    """A figure as an array (..., 1) with one column."""
    return np.atleast_1d(np.asarray(value, dtype=np.float64))


def _pick(values: Array, column: int) -> Array:
    return np.asarray(values)[..., column : column + 1]


def wanted_boosts(points: Points, main_duty: str) -> dict[str, int]:
    """For each duty whose spool speed is asked for, by its name, the first of its columns: boost stands when it stands
    at what is needed there."""
    return {name: int(points.of(name)[0]) for name in dict.fromkeys((main_duty, *DUTIES)) if points.of(name).size}


def _least(values: Array, converged: Bools) -> Array:
    return np.asarray(np.where(converged, values, np.inf).min(axis=-1))
