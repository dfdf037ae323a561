"""Compressor maps as tables, for thousands of look-ups at once.

A machine on an engine is asked for a flow and a pressure ratio and answers with efficiency and speed. Each
wheel's table stands over

    y = sqrt(Pi^((gamma-1)/gamma) - 1)    nearly proportional to speed
    z = q / q_right(y)                    q_right: flow number at which the map ends on the right at that y

and holds efficiency and M / y = 1 / sqrt((gamma-1) psi), which varies little, so that linear interpolation
serves. Below its first row a map keeps its shape, so the table is good down to a pressure ratio of 1. Past
its right end the machine is choked: the speed is the lowest that still swallows the flow, whatever the
pressure ratio, and the work of that speed is spent, so efficiency falls with the head.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from hashlib import blake2b
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.air import AIR_GAS_CONSTANT, SAE_REFERENCE
from advisor.matching.compressor import FLOOR, GAMMA, HEAD_EXPONENT, Prediction
from advisor.matching.compressor import pressure_ratio as pressure_ratio_of

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Pairs = NDArray[np.complex128]
"""Two real figures in one number, so that a look-up fetches both at once: efficiency and M/y, for one."""
Integers = NDArray[np.int64]

_ROWS: Final = np.linspace(0.05, 0.95, 46)
_STEPS: Final = np.linspace(0.0, 1.0, 45)
_COLUMNS: Final = 1.0 - (1.0 - _STEPS) ** 2
"""Columns crowd at the right end, where efficiency falls steeply."""
MACH: Final = np.linspace(0.05, 2.45, 49)
"""Speed lines that a table is made from."""
SHARES: Final = 1.0 - np.linspace(1.0, 0.0, 49) ** 2
"""Flows along a speed line, as shares of its choking flow."""
_CHOKES: Final = np.linspace(0.0, 1.0, 65)
_CLEAR: Final = 1.004
"""Choked speed over the table's: hides the table's rounding where speed hardly changes with head."""


def reference_sound() -> float:
    """Speed of sound [m/s] at `SAE_REFERENCE`: a tip Mach number times it is a tip speed."""
    return float(np.sqrt(GAMMA * AIR_GAS_CONSTANT * SAE_REFERENCE.temperature))


@dataclass(frozen=True, slots=True)
class WheelTables:
    """Look-up tables of W compressor wheels; `tabulate` and `build` make them.

    exducer             wheel diameter [m] (W,)
    predicted           True: from geometry; False: from a measured map (W,)
    efficiency_spread   one standard deviation of efficiency, relative (W,)
    flow_spread         the same of the choking flow (W,)
    surge_spread        the same of the surge flow (W,)
    speed_spread        the same of the speed at a given head (W,)
    slowest, fastest    tip Mach numbers between which the map holds (W,)
    """

    exducer: Array
    predicted: Bools
    efficiency_spread: Array
    flow_spread: Array
    surge_spread: Array
    speed_spread: Array
    slowest: Array
    fastest: Array
    _cells: Pairs
    _right: Array
    _limits: Pairs
    _choked: Pairs
    _largest: Array

    def __len__(self) -> int:
        return len(self.exducer)

    def row(self, wheel: int) -> "WheelTables":
        """The table of one wheel alone."""

        def cut(name: str) -> Any:
            values = getattr(self, name)
            each = len(values) // len(self)
            return values[wheel * each : (wheel + 1) * each]

        return WheelTables(**{f.name: cut(f.name) for f in fields(WheelTables)})

    def digest(self) -> bytes:
        """The same for tables that hold the same figures."""
        made = blake2b(digest_size=16)
        for f in fields(WheelTables):
            made.update(np.ascontiguousarray(getattr(self, f.name)).tobytes())
        return made.digest()

    def reference_flow(self, wheel: int) -> float:
        """Corrected flow [kg/s at `SAE_REFERENCE`] of a wheel for each unit of its flow number."""
        density = SAE_REFERENCE.pressure / (AIR_GAS_CONSTANT * SAE_REFERENCE.temperature)
        return density * reference_sound() * float(self.exducer[wheel]) ** 2

    def at(self, wheel: Integers, flow_number: Array, pressure_ratio: Array) -> tuple[Array, Array]:
        """Efficiency and tip Mach number of each point; all three broadcast against each other.

        wheel: row of the table; flow_number: q = m / (rho01 a01 D2^2); pressure_ratio: total to total; below
        1 counts as 1. Finite and continuous for every q >= 0, and M never falls as the pressure ratio grows.
        Whether the point lies on the map is for `margins` and `on_map` to say.
        """
        y = np.sqrt(np.maximum(pressure_ratio, 1.0) ** HEAD_EXPONENT - 1.0)
        return self.at_head(wheel, flow_number, y)

    def at_head(self, wheel: Integers, flow_number: Array, y: Array) -> tuple[Array, Array]:
        """The same as `at` for a head y = sqrt(Pi^((gamma-1)/gamma) - 1) of 0 or more."""
        i, up = _place(y, _ROWS)
        line = wheel * len(_ROWS) + i
        right = _between(self._right, line, up)
        z = np.minimum(flow_number / (right * np.minimum(np.maximum(y * (1.0 / _ROWS[0]), 1e-6), 1.0)), 1.0)
        j, across = _place(1.0 - np.sqrt(1.0 - z), _STEPS)
        near = line * len(_STEPS) + j
        low = _between(self._cells, near, across)
        both = low + up * (_between(self._cells, near + len(_STEPS), across) - low)
        share = flow_number / self._largest.take(wheel)
        k, on = _place(share, _CHOKES)
        choked = _between(self._choked, wheel * len(_CHOKES) + k, on) * np.maximum(share, 1.0)
        lost = np.minimum(y / np.maximum(choked.imag, 1e-9), 1.0) ** 2
        return np.maximum(both.real * lost, FLOOR), np.maximum(both.imag * y, choked.real)

    def limits(self, wheel: Integers, tip_mach: Array) -> tuple[Array, Array]:
        """Flow numbers q of surge and of choke on the speed line of a tip Mach number."""
        k, on = _place(tip_mach, MACH)
        both = _between(self._limits, wheel * len(MACH) + k, on) * np.clip(tip_mach / MACH[0], 1e-6, 1.0)
        return both.real, both.imag

    def margins(self, wheel: Integers, flow_number: Array, tip_mach: Array) -> tuple[Array, Array]:
        """Surge margin q/q_surge - 1 and choke margin 1 - q/q_choke at constant speed; negative: outside."""
        surge, choke = self.limits(wheel, tip_mach)
        return flow_number / surge - 1.0, 1.0 - flow_number / choke

    def on_map(self, wheel: Integers, flow_number: Array, tip_mach: Array) -> Bools:
        """True between surge, choke, and the slowest and fastest speed that the map is known for."""
        surge, choke = self.limits(wheel, tip_mach)
        known = (tip_mach >= self.slowest[wheel]) & (tip_mach <= self.fastest[wheel])
        return np.asarray(known & (flow_number >= surge) & (flow_number <= choke))


def _place(value: Array, axis: Array) -> tuple[Integers, Array]:
    """Cell and fraction of each value on an equally spaced axis; beyond the ends, the end."""
    last = len(axis) - 1
    position = np.minimum(np.maximum((value - axis[0]) * (last / (axis[-1] - axis[0])), 0.0), last)
    cell = np.minimum(position.astype(np.int64), last - 1)
    return cell, position - cell


def _between(table: Any, start: Integers, fraction: Array) -> Any:
    """Linear between neighbouring entries of a flat table; a fraction that is no number gives none."""
    first = table.take(start, mode="clip")
    return first + fraction * (table.take(start + 1, mode="clip") - first)


def _resample(x: Array, values: Sequence[Array], at: Array) -> list[Array]:
    """Linear interpolation along the last axis: x (..., n) growing, each of values (..., n), at (m,).

    Ends are held. Rows are searched all at once by setting them far apart on one line.
    """
    n = x.shape[-1]
    rows = x.reshape(-1, n)
    apart = 10.0 * (1.0 + float(np.abs(rows).max())) * np.arange(len(rows))[:, None]
    found = np.searchsorted((rows + apart).reshape(-1), (at + apart).reshape(-1), side="right")
    first = np.arange(len(rows))[:, None] * n
    start = np.clip(found.reshape(len(rows), -1) - 1, first, first + n - 2)
    low = rows.take(start)
    step = rows.take(start + 1) - low
    share = np.clip((at - low) / np.where(step > 0.0, step, 1.0), 0.0, 1.0)
    shape = (*x.shape[:-1], len(at))
    return [_between(np.ascontiguousarray(v).reshape(-1), start, share).reshape(shape) for v in values]


def tabulate(
    exducer: Array,
    surge: Array,
    choke: Array,
    psi: Array,
    efficiency: Array,
    spread: Mapping[str, Array],
    known: tuple[Array, Array],
    predicted: bool,
) -> WheelTables:
    """Tables from speed lines at `MACH`.

    exducer (W,) [m]; surge and choke phi (W, L); psi and efficiency (W, L, S) at `SHARES` of the choking
    flow; spread: relative standard deviations "efficiency", "flow", "surge", "speed" (W,); known: slowest
    and fastest M (W,).
    """
    count = len(exducer)
    y = MACH[:, None] * np.sqrt((GAMMA - 1.0) * np.maximum(psi, 1e-4))
    y = np.maximum.accumulate(y, axis=1) + 1e-9 * MACH[:, None]
    flow = np.maximum.accumulate((choke * MACH)[..., None] * SHARES, axis=1)
    rising = y.transpose(0, 2, 1)  # along the last axis, speed by speed: (W, S, L)
    # Past the fastest line flow and speed go on in proportion to y.
    faster = np.maximum(_ROWS / rising[..., -1:], 1.0)
    speeds = np.broadcast_to(MACH, rising.shape)
    known_there = (flow.transpose(0, 2, 1), efficiency.transpose(0, 2, 1), speeds)
    flow, efficiency, mach = (row.transpose(0, 2, 1) for row in _resample(rising, known_there, _ROWS))
    flow, mach = flow * faster.transpose(0, 2, 1), mach * faster.transpose(0, 2, 1)  # (W, rows, S)
    right = flow[..., -1].copy()
    efficiency, mach = _resample(flow / right[..., None], (efficiency, mach), _COLUMNS)
    cells = efficiency + 1j * mach / _ROWS[:, None]
    at_right = np.concatenate([np.zeros((count, 1)), right], axis=1)
    axis = at_right / at_right[:, -1:]
    ends = (np.concatenate([np.zeros((count, 1)), mach[..., -1]], axis=1), np.append(0.0, _ROWS) + 0.0 * axis)
    speed, head = _resample(axis, ends, _CHOKES)
    choked = _CLEAR * speed + 1j * head
    return WheelTables(
        exducer=exducer,
        predicted=np.full(count, predicted),
        efficiency_spread=spread["efficiency"],
        flow_spread=spread["flow"],
        surge_spread=spread["surge"],
        speed_spread=spread["speed"],
        slowest=known[0],
        fastest=known[1],
        _cells=cells.reshape(-1),
        _right=right.reshape(-1),
        _limits=np.asarray((surge + 1j * choke) * MACH, dtype=np.complex128).reshape(-1),
        _choked=choked.reshape(-1),
        _largest=right[:, -1].copy(),
    )


def build(prediction: Prediction) -> WheelTables:
    """Tables of predicted maps, held good from a tip Mach number of 0.1 to 1.8."""
    count = len(prediction.geometry)
    mach = np.broadcast_to(MACH, (count, len(MACH)))
    choke = prediction.choke_flow(mach)
    psi, efficiency = prediction.line(mach[..., None], choke[..., None] * SHARES)
    known = np.full(count, 0.1), np.full(count, 1.8)
    surge = prediction.surge_flow(mach)
    return tabulate(
        prediction.geometry.exducer, surge, choke, psi, efficiency, prediction.spread(), known, predicted=True
    )


def join(parts: Sequence[WheelTables]) -> WheelTables:
    """One table of several, rows in the order given: predicted wheels and measured maps side by side."""
    names = [f.name for f in fields(WheelTables)]
    return WheelTables(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a picture of one wheel's map needs; flow numbers q (scale with rho01 a01 D2^2), pressure ratios.

    mach                tip Mach number of each speed line (L,)
    flow, ratio         speed lines from surge to choke (L, P)
    surge, choke        the two border lines, (q, pressure ratio) pairs (L, 2)
    grid_flow, grid_ratio, efficiency   grid for efficiency islands (G,), (H,), (H, G); NaN off the map
    """

    mach: Array
    flow: Array
    ratio: Array
    surge: Array
    choke: Array
    grid_flow: Array
    grid_ratio: Array
    efficiency: Array


def surge_line(tables: WheelTables, wheel: int, mach: Array) -> Array:
    """Flow number q and pressure ratio at which each speed line (L,) of a wheel surges: (L, 2)."""
    surge, _ = tables.limits(np.full(mach.shape, wheel), mach)
    return np.stack([surge, _ratio_at(tables, wheel, surge, mach)], axis=-1)


def _ratio_at(tables: WheelTables, wheel: int, flow: Array, mach: Array) -> Array:
    """Pressure ratio of a wheel at a flow number and a tip Mach number, all three of one shape."""
    low, high = np.ones_like(flow), np.full_like(flow, pressure_ratio_of(np.asarray(2.5), np.asarray(0.8)))
    rows = np.full(flow.shape, wheel)
    for _ in range(40):  # bisection: M grows with the pressure ratio at a given flow
        middle = 0.5 * (low + high)
        above = tables.at(rows, flow, middle)[1] > mach
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray(0.5 * (low + high))


def drawing(tables: WheelTables, wheel: int, mach: Array, points: int = 60, grid: int = 120) -> Drawing:
    """Speed lines at the tip Mach numbers given (L,), border lines and an efficiency grid of one wheel."""
    surge, choke = tables.limits(np.full(mach.shape, wheel), mach)
    flow = surge[:, None] + (choke - surge)[:, None] * (1.0 - np.linspace(1.0, 0.0, points) ** 2)
    ratio = _ratio_at(tables, wheel, flow, np.broadcast_to(mach[:, None], flow.shape))
    grid_flow = np.linspace(0.0, 1.03 * float(choke.max()), grid)
    grid_ratio = np.linspace(1.0, 1.03 * float(ratio.max()), grid)
    q, pi = np.meshgrid(grid_flow, grid_ratio)
    rows = np.full(q.shape, wheel)
    efficiency, tip = tables.at(rows, q, pi)
    left, right = tables.limits(rows, tip)
    on = (q >= left) & (q <= right) & (tip <= mach.max())
    return Drawing(
        mach=mach,
        flow=flow,
        ratio=ratio,
        surge=np.stack([surge, ratio[:, 0]], axis=-1),
        choke=np.stack([choke, ratio[:, -1]], axis=-1),
        grid_flow=grid_flow,
        grid_ratio=grid_ratio,
        efficiency=np.where(on, efficiency, np.nan),
    )
