"""How far figures may be off: draws of everything that is assumed, and the bands that follow.

Each constant of the model, each predicted map and each assumed input has a spread. `draws` varies them all at
once (Latin hypercube, McKay, Beckman & Conover, Technometrics 21, 1979, 239), one match then gives all bands.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any, Protocol

import numpy as np

from advisor.matching.inputs import Array, Engine, Machines, Place, Plumbing
from advisor.matching.model import MODEL, Model, constants

SHARED = 0.5
"""Share of the variance of predicted maps that all wheels have in common (same equations, same
calibration)."""
LOW, HIGH = 0.05, 0.95
"""Quantiles of a band."""
_CUT = 2.5
_LEAST = 0.3  # of a factor that is drawn
_LINES = 32
_WHEEL_SPREADS = {
    "efficiency_factor": "efficiency_spread",
    "flow_factor": "flow_spread",
    "surge_factor": "surge_spread",
    "speed_factor": "speed_spread",
}


class Spreads(Protocol):
    """Relative standard deviations of each wheel's map (W,)."""

    @property
    def efficiency_spread(self) -> Array: ...
    @property
    def flow_spread(self) -> Array: ...
    @property
    def surge_spread(self) -> Array: ...
    @property
    def speed_spread(self) -> Array: ...


def hypercube(count: int, dimensions: int, seed: int) -> Array:
    """Latin hypercube over the unit cube (count, dimensions); the first row is moved to the middle."""
    random = np.random.default_rng(seed)
    cells = np.argsort(random.random((dimensions, count)), axis=1).T
    cube = (cells + random.random((count, dimensions))) / count
    cube[0] = 0.5
    return np.asarray(cube, dtype=np.float64)


def deviates(uniform: Array) -> Array:
    """Standard normal deviates of uniform ones, cut at 2.5 deviations."""
    normal = NormalDist()
    values = np.array([normal.inv_cdf(u) for u in uniform.ravel().tolist()])
    return np.asarray(np.clip(values.reshape(uniform.shape), -_CUT, _CUT))


@dataclass(frozen=True, slots=True)
class Drawn:
    """The inputs of a match with a leading axis of draws, the first of which is the nominal case."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    machines: Machines
    model: Model


def draws(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    machines: Machines,
    tables: Spreads,
    model: Model = MODEL,
    count: int = 64,
    seed: int = 0,
    assumed: Mapping[str, float | tuple[float, float]] | None = None,
) -> Drawn:
    """Inputs drawn `count` times.

    assumed: spreads of assumed inputs by "engine.breathing", "place.temperature",
    "plumbing.cooler_effectiveness" and the like: a relative standard deviation, or the lowest and highest
    value (then every value between is as likely, and the middle is the nominal case). What was told exactly
    is left out.
    """
    varied: dict[str, float | tuple[float, float]] = {
        f"model.{name}": c.spread for name, c in constants().items() if c.spread > 0.0
    }
    varied |= assumed or {}
    wheels = len(tables.efficiency_spread)
    cube = hypercube(count, len(varied) + len(_WHEEL_SPREADS) * (1 + wheels), seed)
    groups: dict[str, Any] = {"engine": engine, "place": place, "plumbing": plumbing, "model": model}
    for i, (name, spread) in enumerate(varied.items()):
        room, field = name.split(".")
        if isinstance(spread, tuple):
            value = (spread[0] + (spread[1] - spread[0]) * cube[:, i])[:, None, None]
        else:
            value = getattr(groups[room], field) * (1.0 + spread * deviates(cube[:, i]))[:, None, None]
        groups[room] = replace(groups[room], **{field: value})
    at = len(varied)
    factors = {}
    for factor, column in _WHEEL_SPREADS.items():
        normal = deviates(cube[:, at : at + 1 + wheels])
        mixed = np.sqrt(SHARED) * normal[:, :1] + np.sqrt(1.0 - SHARED) * normal[:, 1:]
        drawn = np.maximum(1.0 + getattr(tables, column) * mixed, _LEAST)
        factors[factor] = getattr(machines, factor) * drawn[:, machines.wheel]
        at += 1 + wheels
    return Drawn(machines=replace(machines, **factors), **groups)


def with_every_surge_line(margins: Array, drawn: Array, spread: Array) -> Array:
    """Surge margins (D, N) of draws, each with the surge line all over its spread: (D * L, N), the nominal case first.

    drawn: where the line lies in each draw (D, N), the first the nominal case; spread: its relative standard deviation
    (N,). Nothing of a match but the margin hangs on the line, so this gives the band of many more draws.
    """
    middles = (np.arange(_LINES) + 0.5) / _LINES
    normal = deviates(np.concatenate([[0.5], middles]))
    lines = drawn[0] * np.maximum(1.0 + spread * normal[:, None], _LEAST)
    ahead = (1.0 + margins) * drawn
    return np.asarray((ahead[:, None] / lines[None] - 1.0).reshape(-1, margins.shape[1]))


def band(values: Array) -> tuple[Array, Array, Array]:
    """Low (5 %), nominal and high (95 %) of values (draws, ...), the first draw being the nominal case.

    Draws that are not finite (not converged, never reached) count as such: where more than one in twenty is
    missing the band is open (inf) on the side of the worse values, which for every such figure is the high
    side.
    """
    worst = np.where(np.isfinite(values), values, np.inf)
    ordered = np.sort(worst, axis=0)
    last = len(values) - 1
    return ordered[int(np.floor(LOW * last))], values[0], ordered[int(np.ceil(HIGH * last))]


def bands(columns: Mapping[str, Array]) -> dict[str, tuple[Array, Array, Array]]:
    """`band` of every column (draws, N)."""
    return {name: band(values) for name, values in columns.items()}
