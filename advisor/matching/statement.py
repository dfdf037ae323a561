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
from advisor.matching.inputs import Array, Duty, Engine, Machines, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import Between
from advisor.matching.series import best_split, match_series
from advisor.matching.spool import threshold
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
STAGES: Mapping[str, str] = {
    "low ratio": "",
    "high ratio": "",
    "low tip speed": "m/s",
    "high tip speed": "m/s",
    "low surge margin": "",
    "high surge margin": "",
    "low choke margin": "",
    "high choke margin": "",
    "gas between": "Pa absolute",
    "air between": "Pa absolute",
    "temperature between": "K",
    "low ratio of least work": "",
}
"""Further figures of two machines in series, with their units."""
_Band = tuple[Array, Array, Array]
BANDED = ("boost", "drive pressure", "shaft speed", "exhaust temperature", "air", "power", "surge margin")
"""Figures that come with a band (5 to 95 % of the draws)."""


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
    grid = points(engine, place, plumbing, (duty,), model, count)
    if boost_limit is not None:
        grid = replace(grid, boost_target=np.full_like(grid.boost_target, boost_limit))
    found = match(engine, place, plumbing, grid, machines, tables, model)
    figures = _figures(found, grid, machines, place, inducer, model)
    bands: dict[str, _Band] = {}
    if drawn:
        d = draws(engine, place, plumbing, machines, tables, model, drawn)
        spread = points(d.engine, d.place, d.plumbing, (duty,), d.model, count)
        # The gate is set once, whatever the truth is.
        bands = _bands(d, replace(spread, boost_target=grid.boost_target), tables, inducer)
    asked = demand(engine, place, plumbing, duty.power, duty.goal_speed, duty.target_lambda, model)
    sweep = grid.of(FULL_LOAD)
    boost = np.where(found.converged[:, sweep], found.boost[:, sweep], 0.0)
    stands = threshold(grid.speed[sweep], boost, grid.boost_target[sweep[:1]], place.pressure, model.spool_share)
    line = grid.of(duty.name)
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
            "boost held by a gate": _number(grid.boost_target[line[0]]),
        },
        "turbos": [
            {
                "turbo": name,
                "map": "predicted" if tables.predicted[machines.wheel[i]] else "measured",
                "boost stands at": _number(stands[i] * RPM),
                "points": [_point(figures, bands, found, i, int(k)) for k in line],
            }
            for i, name in enumerate(names)
        ],
    }


@dataclass(frozen=True, slots=True)
class Stages:
    """Two machines of a line in series: rows of the one that breathes outside air and of the one it feeds."""

    name: str
    low: int
    high: int
    between: Between


def pair_lines(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    duty: Duty,
    stages: Sequence[Stages],
    machines: Machines,
    tables: WheelTables,
    model: Model = MODEL,
    count: int = 12,
    boost_limit: float | None = None,
) -> list[dict[str, Any]]:
    """The same for machines in series, with the figures of `STAGES` besides; without bands and thrust index.

    The low stage's ratio of least work is for equal efficiencies and the temperature found between the stages.
    """
    grid = points(engine, place, plumbing, (duty,), model, count)
    if boost_limit is not None:
        grid = replace(grid, boost_target=np.full_like(grid.boost_target, boost_limit))
    grid = grid.only(grid.of(duty.name))
    lines = []
    for pair in stages:
        low, high = (_row(machines, i) for i in (pair.low, pair.high))
        found = match_series(engine, place, plumbing, grid, low, high, tables, pair.between, model)
        figures = _plain_figures(found.whole, grid)
        figures |= {n: getattr(found, n.replace(" ", "_")) for n in STAGES if n != "low ratio of least work"}
        warmer = found.temperature_between / place.temperature
        figures["low ratio of least work"] = best_split(found.whole.pressure_ratio, warmer)[0]
        both = tables.predicted[machines.wheel[[pair.low, pair.high]]]
        lines.append(
            {
                "turbo": pair.name,
                "map": "predicted" if both.any() else "measured",
                "units": dict(STAGES),
                "points": [_point(figures, {}, found.whole, 0, k) for k in range(count)],
            }
        )
    return lines


def _row(machines: Machines, row: int) -> Machines:
    return Machines(**{f.name: getattr(machines, f.name)[row : row + 1] for f in fields(Machines)})


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


def _bands(d: Drawn, grid: Points, tables: WheelTables, inducer: Array) -> dict[str, _Band]:
    found = match(d.engine, d.place, d.plumbing, grid, d.machines, tables, d.model)
    figures = _figures(found, grid, d.machines, d.place, inducer, d.model)
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
        point["bands"] = {n: [_number(low[i, k]), _number(high[i, k])] for n, (low, _, high) in bands.items()}
    return point


def _number(value: Any) -> float | None:
    """A plain number; None for one that is not finite (never reached, open band)."""
    plain = float(np.asarray(value).reshape(-1)[0])
    return plain if np.isfinite(plain) else None
