"""The whole operating line of machines on an engine as plain data, so that anyone can check the computation.

`operating_line` is the match without a call: engine, place, plumbing, duty and machines in, every figure of
every point out, with its residual and its band. All values SI unless `UNITS` says otherwise; plain Python
numbers, ready for JSON. A point that did not converge is said so and has no figures.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from advisor.matching.balance import TOLERANCE, Match, match
from advisor.matching.engine import FULL_LOAD, demand, points
from advisor.matching.inputs import Array, Duty, Engine, IntArray, Machines, Place, Plumbing, Points, stacked
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import Between
from advisor.matching.series import SeriesMatch, best_split, match_series
from advisor.matching.spool import spool_time, spool_time_series, threshold
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
BETWEEN: Mapping[str, str] = {
    "air between": "Pa absolute",
    "temperature between": "K",
    "gas between": "Pa absolute",
    "low ratio of least work": "",
}
"""Further figures of a point of two machines in series; beside them stand all of `UNITS` for each stage alone."""
_Band = tuple[Array, Array, Array]
BANDED = ("boost", "drive pressure", "shaft speed", "exhaust temperature", "air", "power", "surge margin")
"""Figures that come with a band (5 to 95 % of the draws)."""
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
    grid = _grid(engine, place, plumbing, duty, model, count, boost_limit)
    asked = demand(engine, place, plumbing, duty.power, duty.goal_speed, duty.target_lambda, model)
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
    stands = _stands(found, grid, place, model)
    seconds = spool_time(*asked, machines, tables, *_pedal(grid, duty), model)
    bands: dict[str, _Band] = {}
    if drawn:
        d = draws(*asked, machines, tables, model, drawn)
        spread = _spread(d, duty, count, grid)
        unsure = match(d.engine, d.place, d.plumbing, spread, d.machines, tables, d.model)
        bands = _bands(unsure, _figures(unsure, spread, d.machines, d.place, inducer, d.model))
        bands[STANDS] = band(_stands(unsure, spread, d.place, d.model))
    return [
        {
            "turbo": name,
            "map": "predicted" if tables.predicted[machines.wheel[i]] else "measured",
            **_spool(stands, seconds, bands, i),
            "points": [_point(figures, bands, found, i, int(k)) for k in grid.of(duty.name)],
        }
        for i, name in enumerate(names)
    ]


def _grid(
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


def _spread(d: Drawn, duty: Duty, count: int, grid: Points) -> Points:
    """The grid of drawn inputs; the gate is set once, whatever the truth is."""
    return _gated_at(points(d.engine, d.place, d.plumbing, (duty,), d.model, count), grid.boost_target)


def _stands(found: Match, grid: Points, place: Place, model: Model) -> Array:
    """Lowest engine speed [rad/s] at which the boost held by the gate stands at full load (..., N)."""
    sweep = grid.of(FULL_LOAD)
    boost = np.where(found.converged[..., sweep], found.boost[..., sweep], 0.0)
    target = np.asarray(grid.boost_target)[..., sweep[:1]]
    return threshold(grid.speed[..., sweep], boost, target, np.asarray(place.pressure), model.spool_share)


def _pedal(grid: Points, duty: Duty) -> tuple[Array, Array, Array, Array]:
    """Engine speed of the goal, boost held by the gate, fuel and smoke limit there, as `spool_time` takes them."""
    column = grid.of(duty.name)[grid.at_goal[grid.of(duty.name)]][:1]
    return (
        grid.speed[..., column],
        grid.boost_target[..., column],
        grid.fuel_asked[..., column],
        grid.smoke_lambda[..., column],
    )


def _spool(stands: Array, seconds: Array, bands: Mapping[str, _Band], i: int) -> dict[str, Any]:
    """What is said of a line as a whole; None: never."""
    said: dict[str, Any] = {STANDS: _number(stands[i] * RPM), "seconds to boost": _number(seconds[i])}
    if STANDS in bands:
        low, _, high = bands[STANDS]
        said[f"{STANDS} band"] = [_number(low[i] * RPM), _number(high[i] * RPM)]
    return said


@dataclass(frozen=True, slots=True)
class Stages:
    """Two machines of a line in series: rows of the one that breathes outside air and of the one it feeds."""

    low_name: str
    high_name: str
    low: int
    high: int
    between: Between

    @property
    def name(self) -> str:
        return f"{self.high_name} fed by {self.low_name}"


def pair_lines(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    duty: Duty,
    stages: Sequence[Stages],
    machines: Machines,
    tables: WheelTables,
    inducer: Array,
    model: Model = MODEL,
    count: int = 12,
    drawn: int = 24,
    boost_limit: float | None = None,
) -> list[dict[str, Any]]:
    """The same for machines in series, one line for each pair: every point has the figures of the whole, those of
    `BETWEEN`, and under "low" and "high" those of each stage alone.

    The low stage's ratio of least work is for equal efficiencies and the temperature found between the stages.
    """
    asked = engine, place, plumbing
    grid = _grid(*asked, duty, model, count, boost_limit)
    columns = grid.of(duty.name)
    lines = []
    for pair in stages:
        low, high = (machines.rows(np.array([i])) for i in (pair.low, pair.high))
        sizes = inducer[[pair.low]], inducer[[pair.high]]
        found = match_series(*asked, grid, low, high, tables, pair.between, model)
        figures, of_low, of_high = _pair_figures(found, grid, low, high, place, sizes, model)
        seconds = spool_time_series(*asked, low, high, tables, *_pedal(grid, duty), pair.between, model)
        bands: dict[str, _Band] = {}
        if drawn:
            d, low_drawn, high_drawn = pair_draws(*asked, low, high, tables, model, drawn)
            drawn_asked = d.engine, d.place, d.plumbing
            spread = _spread(d, duty, count, grid)
            unsure = match_series(*drawn_asked, spread, low_drawn, high_drawn, tables, pair.between, d.model)
            every, *_ = _pair_figures(unsure, spread, low_drawn, high_drawn, d.place, sizes, d.model)
            bands = _bands(unsure.whole, every)
            bands[STANDS] = band(_stands(unsure.whole, spread, d.place, d.model))
        both = tables.predicted[machines.wheel[[pair.low, pair.high]]]
        rows = []
        for k in columns.tolist():
            point = _point(figures, bands, found.whole, 0, k)
            for name, part, own in (("low", found.low, of_low), ("high", found.high, of_high)):
                if point["converged"]:
                    point[name] = _point(own, {}, part, 0, k)
            rows.append(point)
        lines.append(
            {
                "turbo": pair.name,
                "low": pair.low_name,
                "high": pair.high_name,
                "map": "predicted" if both.any() else "measured",
                "cooler between": pair.between.effectiveness,
                "units": {**UNITS, **BETWEEN},
                **_spool(_stands(found.whole, grid, place, model), seconds, bands, 0),
                "points": rows,
            }
        )
    return lines


def pair_draws(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    low: Machines,
    high: Machines,
    tables: WheelTables,
    model: Model,
    count: int,
    assumed: Mapping[str, float | tuple[float, float]] | None = None,
) -> tuple[Drawn, Machines, Machines]:
    """`uncertainty.draws` for pairs: one draw of the inputs, and the low and high machines as drawn with it."""
    d = draws(engine, place, plumbing, stacked(low, high), tables, model, count, assumed=assumed)
    rows: IntArray = np.arange(len(d.machines))
    return d, d.machines.rows(rows[: len(low)]), d.machines.rows(rows[len(low) :])


def pair_thrust(
    found: SeriesMatch, low: Machines, high: Machines, place: Place, sizes: tuple[Array, Array], model: Model
) -> tuple[Array, Array]:
    """Thrust index of the low and of the high machine (..., N, K); sizes: their inlet tip diameters [m]."""
    return (
        thrust_index(found.low, low, place, sizes[0], model),
        thrust_index(found.high, high, place, sizes[1], model, found.low.charge_temperature),
    )


def _pair_figures(
    found: SeriesMatch,
    grid: Points,
    low: Machines,
    high: Machines,
    place: Place,
    sizes: tuple[Array, Array],
    model: Model,
) -> tuple[dict[str, Array], dict[str, Array], dict[str, Array]]:
    """Figures of the whole, of the low and of the high stage."""
    loads = pair_thrust(found, low, high, place, sizes, model)
    whole = _plain_figures(found.whole, grid) | {"thrust index": np.maximum(*loads)}
    warmer = found.low.charge_temperature / place.temperature
    whole["air between"] = found.high.inlet_pressure
    whole["temperature between"] = found.low.charge_temperature
    whole["gas between"] = found.low.drive_pressure
    whole["low ratio of least work"] = best_split(found.whole.pressure_ratio, warmer)[0]
    of_low = _plain_figures(found.low, grid) | {"thrust index": loads[0]}
    return whole, of_low, _plain_figures(found.high, grid) | {"thrust index": loads[1]}


def _figures(
    found: Match, grid: Points, machines: Machines, place: Place, inducer: Array, model: Model
) -> dict[str, Array]:
    """Figures (..., N, K) by the names of `UNITS`."""
    index = thrust_index(found, machines, place, inducer, model)
    return _plain_figures(found, grid) | {"thrust index": index}


def _plain_figures(found: Match, grid: Points) -> dict[str, Array]:
    """All but the thrust index."""
    given = {f.name.replace("_", " "): f.name for f in fields(Match)}
    own = {name: getattr(found, given[name]) for name in UNITS if name in given}
    own["engine speed"] = np.broadcast_to(grid.speed * RPM, found.boost.shape)
    own["shaft speed"] = found.shaft_speed * RPM
    return own


def _bands(found: Match, figures: Mapping[str, Array]) -> dict[str, _Band]:
    return {name: band(np.where(found.converged, figures[name], np.nan)) for name in BANDED}


def _point(
    figures: Mapping[str, Array],
    bands: Mapping[str, _Band],
    found: Match,
    i: int,
    k: int,
) -> dict[str, Any]:
    whole = bool(found.converged[i, k])
    shown = figures if whole else ("engine speed", "residual")
    point: dict[str, Any] = {"converged": whole, "gate holds": whole and bool(found.at_target[i, k])}
    point |= {name: _number(figures[name][i, k]) for name in shown}
    if whole and bands:
        ends = {name: bands[name] for name in BANDED}
        point["bands"] = {n: [_number(low[i, k]), _number(high[i, k])] for n, (low, _, high) in ends.items()}
    return point


def _number(value: Any) -> float | None:
    """A plain number; None for one that is not finite (never reached, open band)."""
    plain = float(np.asarray(value).reshape(-1)[0])
    return plain if np.isfinite(plain) else None
