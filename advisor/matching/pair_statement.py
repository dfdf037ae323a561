"""The operating lines of two machines in series as plain data, each stage told by itself beside the whole."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.matching.inputs import Array, Duty, Engine, IntArray, Machines, Place, Plumbing, Points, stacked
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import Between
from advisor.matching.series import SeriesMatch, best_split, match_series
from advisor.matching.spool import spool_time_series
from advisor.matching.standing import stands_from_series
from advisor.matching.statement import (
    STANDS,
    UNITS,
    Band,
    bands_of,
    gated_at,
    grid_of,
    off_the_map,
    pedal_of,
    plain_figures,
    point_of,
    spool_words,
    spread_grid,
)
from advisor.matching.tables import WheelTables
from advisor.matching.thrust import thrust_index
from advisor.matching.uncertainty import Drawn, band, draws

BETWEEN: Mapping[str, str] = {
    "air between": "Pa absolute",
    "temperature between": "K",
    "gas between": "Pa absolute",
    "low ratio of least work": "",
}
"""Further figures of a point of two machines in series; beside them stand all of `UNITS` for each stage alone."""


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
    grid = grid_of(*asked, duty, model, count, boost_limit)
    columns = grid.of(duty.name)
    lines = []
    for pair in stages:
        low, high = (machines.rows(np.array([i])) for i in (pair.low, pair.high))
        sizes = inducer[[pair.low]], inducer[[pair.high]]
        found = match_series(*asked, grid, low, high, tables, pair.between, model)
        figures, of_low, of_high = _pair_figures(found, grid, low, high, place, sizes, model)
        off_low = off_the_map(found.low, low, tables, place.temperature)
        off_high = off_the_map(found.high, high, tables, found.low.charge_temperature)
        off = (np.where(off_high[1] | (off_low[0] == ""), off_high[0], off_low[0]), off_low[1] | off_high[1])
        seconds = spool_time_series(*asked, low, high, tables, *pedal_of(grid, duty), pair.between, model)
        stands = stands_from_series(*asked, grid, low, high, tables, found, gated_at(grid), pair.between, model)
        bands: dict[str, Band] = {}
        if drawn:
            d, low_drawn, high_drawn = pair_draws(*asked, low, high, tables, model, drawn)
            drawn_asked = d.engine, d.place, d.plumbing
            spread = spread_grid(d, duty, count, grid)
            unsure = match_series(*drawn_asked, spread, low_drawn, high_drawn, tables, pair.between, d.model)
            every, *_ = _pair_figures(unsure, spread, low_drawn, high_drawn, d.place, sizes, d.model)
            bands = bands_of(unsure.whole, every)
            drawn_pair = low_drawn, high_drawn, tables
            gated = gated_at(spread)
            of_draws = stands_from_series(*drawn_asked, spread, *drawn_pair, unsure, gated, pair.between, d.model)
            bands[STANDS] = band(of_draws[..., 0])
        both = tables.predicted[machines.wheel[[pair.low, pair.high]]]
        rows = []
        for k in columns.tolist():
            point = point_of(figures, bands, found.whole, off, 0, k)
            for name, part, own, its in (("low", found.low, of_low, off_low), ("high", found.high, of_high, off_high)):
                if "boost" in point:
                    point[name] = point_of(own, {}, part, its, 0, k)
            rows.append(point)
        lines.append(
            {
                "turbo": pair.name,
                "low": pair.low_name,
                "high": pair.high_name,
                "map": "predicted" if both.any() else "measured",
                "cooler between": pair.between.effectiveness,
                "units": {**UNITS, **BETWEEN},
                **spool_words(stands[..., 0], seconds, bands, 0),
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
    whole = plain_figures(found.whole, grid) | {"thrust index": np.maximum(*loads)}
    warmer = found.low.charge_temperature / place.temperature
    whole["air between"] = found.high.inlet_pressure
    whole["temperature between"] = found.low.charge_temperature
    whole["gas between"] = found.low.drive_pressure
    whole["low ratio of least work"] = best_split(found.whole.pressure_ratio, warmer)[0]
    of_low = plain_figures(found.low, grid) | {"thrust index": loads[0]}
    return whole, of_low, plain_figures(found.high, grid) | {"thrust index": loads[1]}
