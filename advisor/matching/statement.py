"""The whole operating line of machines on an engine as plain data, so that anyone can check the computation.

`operating_line` is the match without a call: engine, place, plumbing, duty and machines in, every figure of
every point out, with its residual and its band. All values SI unless `UNITS` says otherwise; plain Python
numbers, ready for JSON. A point that did not converge is said so and has no figures.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.matching.air import AIR_GAS_CONSTANT
from advisor.matching.balance import TOLERANCE, Match, match
from advisor.matching.engine import FULL_LOAD, asked_by, points
from advisor.matching.inputs import (
    Array,
    Bools,
    Duty,
    Engine,
    Machines,
    Number,
    Place,
    Plumbing,
    Points,
)
from advisor.matching.model import MODEL, Model
from advisor.matching.shaft import GAMMA
from advisor.matching.spool import spool_time
from advisor.matching.standing import stands_from
from advisor.matching.tables import WheelTables
from advisor.matching.thrust import thrust_index
from advisor.matching.uncertainty import Drawn, band, draws

RPM = 30.0 / np.pi
UNITS: Mapping[str, str] = {
    "engine speed": "rpm",
    "pressure ratio": "",
    "boost": "Pa absolute",
    "drive pressure": "Pa absolute",
    "turbine outlet pressure": "Pa absolute",
    "expansion ratio": "",
    "shaft speed": "rpm",
    "tip speed": "m/s",
    "tip speed margin": "",
    "compressor efficiency": "",
    "turbine efficiency": "",
    "surge margin": "",
    "choke margin": "",
    "exhaust temperature": "K",
    "turbine outlet temperature": "K",
    "compressor outlet temperature": "K",
    "charge temperature": "K",
    "air": "kg/s",
    "corrected air": "kg/s at 298.15 K and 100 kPa",
    "fuel": "kg/s",
    "lam": "",
    "power": "W",
    "torque": "N m",
    "shaft power": "W",
    "gate share": "",
    "gate flow margin": "",
    "housing flow margin": "",
    "thrust index": "",
    "residual": "",
}
"""Unit of each figure of a point; "" is a plain ratio."""
Band = tuple[Array, Array, Array]
Off = tuple[NDArray[np.str_], Bools]
BANDED = ("boost", "drive pressure", "shaft speed", "exhaust temperature", "air", "power", "surge margin")
"""Figures that come with a band (5 to 95 % of the draws)."""
FASTER, BEYOND = "faster than the fastest speed line of its map", "right of the last flow of its map"
SLOWER, LEFT = "slower than the slowest speed line of its map", "left of the surge line of its map"
REFUSED = (FASTER, BEYOND)
"""Where nobody has measured what a wheel does: such a point of a measured map has no figures. Left of surge and below
the slowest line the map is continued by similarity, and the point says so."""
STANDS = "boost stands at"
"""Lowest engine speed [rpm] at which `spool_share` of the boost stands at full load."""


def operating_line(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    duty: Duty,
    names: Sequence[str],
    machines: Machines,
    tables: WheelTables,
    inducer: Array,
    model: Model = MODEL,
    count: int = 12,
    drawn: int = 48,
    boost_limit: float | None = None,
) -> dict[str, Any]:
    """Operating points of each machine over the duty's band of engine speed, `count` of them.

    names, inducer: of each machine (N,), inlet tip diameter in m; drawn: how many draws the bands rest on (0:
    no bands, fixed seed); boost_limit: manifold pressure [Pa abs] that the gate holds, else what the duty's
    power needs.
    """
    grid = grid_of(engine, place, plumbing, duty, model, count, boost_limit)
    asked = asked_by(engine, place, plumbing, duty, model)
    return {
        "units": dict(UNITS),
        "tolerance": TOLERANCE,
        "place": {"pressure": _number(place.pressure), "temperature": _number(place.temperature)},
        "demand": {
            "power": _number(asked.power),
            "engine speed": _number(duty.goal_speed * RPM),
            "fuel": _number(asked.fuel),
            "air": _number(asked.air),
            "corrected air": _number(asked.corrected_air),
            "boost": _number(asked.boost),
            "pressure ratio": _number(asked.pressure_ratio),
            "peak pressure": _number(asked.peak_pressure),
            "boost held by a gate": _number(grid.boost_target[grid.of(duty.name)[0]]),
        },
        "turbos": _lines((engine, place, plumbing), duty, grid, names, machines, tables, inducer, model, count, drawn)
        if names
        else [],
    }


def _lines(
    asked: tuple[Engine, Place, Plumbing],
    duty: Duty,
    grid: Points,
    names: Sequence[str],
    machines: Machines,
    tables: WheelTables,
    inducer: Array,
    model: Model,
    count: int,
    drawn: int,
) -> list[dict[str, Any]]:
    """What `operating_line` tells of each turbo."""
    _, place, _ = asked
    found = match(*asked, grid, machines, tables, model)
    figures = _figures(found, grid, machines, place, inducer, model)
    off = off_the_map(found, machines, tables, place.temperature)
    stands = stands_from(*asked, grid, machines, tables, found, gated_at(grid), model)[..., 0]
    seconds = spool_time(*asked, machines, tables, *pedal_of(grid, duty), model)
    bands: dict[str, Band] = {}
    if drawn:
        d = draws(*asked, machines, tables, model, drawn)
        spread = spread_grid(d, duty, count, grid)
        unsure = match(d.engine, d.place, d.plumbing, spread, d.machines, tables, d.model)
        bands = bands_of(unsure, _figures(unsure, spread, d.machines, d.place, inducer, d.model))
        drawn_asked = d.engine, d.place, d.plumbing
        of_draws = stands_from(*drawn_asked, spread, d.machines, tables, unsure, gated_at(spread), d.model)
        bands[STANDS] = band(of_draws[..., 0])
    return [
        {
            "turbo": name,
            "map": "predicted" if tables.predicted[machines.wheel[i]] else "measured",
            **spool_words(stands, seconds, bands, i),
            "points": [point_of(figures, bands, found, off, i, int(k)) for k in grid.of(duty.name)],
        }
        for i, name in enumerate(names)
    ]


def grid_of(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    duty: Duty,
    model: Model,
    count: int,
    boost_limit: float | None,
) -> Points:
    grid = points(engine, place, plumbing, (duty,), model, count)
    return grid if boost_limit is None else _gated_at(grid, np.full_like(grid.boost_target, boost_limit))


def _gated_at(grid: Points, target: Array) -> Points:
    return replace(grid, boost_target=target)


def spread_grid(d: Drawn, duty: Duty, count: int, grid: Points) -> Points:
    """The grid of drawn inputs; the gate is set once, whatever the truth is."""
    return _gated_at(points(d.engine, d.place, d.plumbing, (duty,), d.model, count), grid.boost_target)


def gated_at(grid: Points) -> Array:
    """Boost that the gate holds (..., 1) [Pa abs]: what stands when boost is said to."""
    return np.asarray(grid.boost_target)[..., grid.of(FULL_LOAD)[:1]]


def pedal_of(grid: Points, duty: Duty) -> tuple[Array, Array, Array, Array]:
    """Engine speed of the goal, boost held by the gate, fuel and smoke limit there, as `spool_time` takes them."""
    column = grid.of(duty.name)[grid.at_goal[grid.of(duty.name)]][:1]
    return (
        grid.speed[..., column],
        grid.boost_target[..., column],
        grid.fuel_asked[..., column],
        grid.smoke_lambda[..., column],
    )


def spool_words(stands: Array, seconds: Array, bands: Mapping[str, Band], i: int) -> dict[str, Any]:
    """What is said of a line as a whole; None: never."""
    said: dict[str, Any] = {STANDS: _number(stands[i] * RPM), "seconds to boost": _number(seconds[i])}
    if STANDS in bands:
        low, _, high = bands[STANDS]
        said[f"{STANDS} band"] = [_number(low[i] * RPM), _number(high[i] * RPM)]
    return said


def _figures(
    found: Match, grid: Points, machines: Machines, place: Place, inducer: Array, model: Model
) -> dict[str, Array]:
    """Figures (..., N, K) by the names of `UNITS`."""
    index = thrust_index(found, machines, place, inducer, model)
    return plain_figures(found, grid) | {"thrust index": index}


def plain_figures(found: Match, grid: Points) -> dict[str, Array]:
    """All but the thrust index."""
    given = {f.name.replace("_", " "): f.name for f in fields(Match)}
    own = {name: getattr(found, given[name]) for name in UNITS if name in given}
    own["engine speed"] = np.broadcast_to(grid.speed * RPM, found.boost.shape)
    own["shaft speed"] = found.shaft_speed * RPM
    return own


def bands_of(found: Match, figures: Mapping[str, Array]) -> dict[str, Band]:
    return {name: band(np.where(found.converged, figures[name], np.nan)) for name in BANDED}


def off_the_map(found: Match, machines: Machines, tables: WheelTables, inlet_temperature: Number) -> Off:
    """How points (N, K) lie off their map, in words; "" on it; and where that forbids any figure. A predicted map is
    good from standstill to a tip Mach number of 1.8; past it its figures stand, with the words."""
    wheel = machines.wheel[:, None]
    mach = found.tip_speed / np.sqrt(GAMMA * AIR_GAS_CONSTANT * np.asarray(inlet_temperature))
    scale = np.array([tables.reference_flow(int(row)) for row in machines.wheel]) * machines.parallel
    number = found.corrected_air / scale[:, None]
    surge, choke = tables.limits(wheel, mach)
    slowest = np.where(tables.predicted[wheel], 0.0, tables.slowest[wheel])
    where = (mach > tables.fastest[wheel], number > 1.001 * choke, number < 0.999 * surge, mach < slowest)
    words = np.select(where, (FASTER, BEYOND, LEFT, SLOWER), "")
    return words, ~tables.predicted[wheel] & np.isin(words, REFUSED)


def point_of(
    figures: Mapping[str, Array],
    bands: Mapping[str, Band],
    found: Match,
    off: Off,
    i: int,
    k: int,
) -> dict[str, Any]:
    whole = bool(found.converged[i, k])
    words, refused = off
    told = whole and not refused[i, k]
    shown = figures if told else ("engine speed", "residual")
    point: dict[str, Any] = {"converged": whole, "gate holds": whole and bool(found.at_target[i, k])}
    point["off the map"] = str(words[i, k]) if whole and words[i, k] else None
    point |= {name: _number(figures[name][i, k]) for name in shown}
    if told and bands:
        ends = {name: bands[name] for name in BANDED}
        point["bands"] = {n: [_number(low[i, k]), _number(high[i, k])] for n, (low, _, high) in ends.items()}
    return point


def _number(value: Any) -> float | None:
    """A plain number; None for one that is not finite (never reached, open band)."""
    plain = float(np.asarray(value).reshape(-1)[0])
    return plain if np.isfinite(plain) else None
