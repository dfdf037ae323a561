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
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.compressor import FLOOR, GAMMA, HEAD_EXPONENT, Prediction
from advisor.matching.compressor import pressure_ratio as pressure_ratio_of

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Pairs = NDArray[np.complex128]
"""Two real figures in one number, so that a look-up fetches both at once: efficiency and M/y, for one."""
Integers = NDArray[np.int64]

_ROWS: Final = np.linspace(0.05, 0.95, 46)
_STEPS: Final = np.linspace(0.0, 1.0, 37)
_COLUMNS: Final = 1.0 - (1.0 - _STEPS) ** 2
"""Columns crowd at the right end, where efficiency falls steeply."""
MACH: Final = np.linspace(0.05, 2.45, 49)
"""Speed lines that a table is made from."""
SHARES: Final = 1.0 - np.linspace(1.0, 0.0, 41) ** 2
"""Flows along a speed line, as shares of its choking flow."""
_CHOKES: Final = np.linspace(0.0, 1.0, 65)
_CLEAR: Final = 1.004
"""Choked speed over the table's: hides the table's rounding where speed hardly changes with head."""


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
        z = np.minimum(flow_number / (right * np.clip(y * (1.0 / _ROWS[0]), 1e-6, 1.0)), 1.0)
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
    position = np.clip((value - axis[0]) * (last / (axis[-1] - axis[0])), 0.0, last)
    cell = np.minimum(position.astype(np.int64), last - 1)
    return cell, position - cell


def _between(table: Any, start: Integers, fraction: Array) -> Any:
    """Linear between neighbouring entries of a flat table."""
    first = table.take(start)
    return first + fraction * (table.take(start + 1) - first)


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
    flow = (choke * MACH)[..., None] * SHARES
    flow = np.maximum.accumulate(flow, axis=1)
    cells = np.empty((count, len(_ROWS), len(_STEPS), 2))
    right = np.empty((count, len(_ROWS)))
    choked = np.empty((count, len(_CHOKES), 2))
    lines = np.empty((3, len(SHARES), len(_ROWS)))
    for w in range(count):
        for s in range(len(SHARES)):
            faster = np.maximum(_ROWS / y[w, -1, s], 1.0)
            lines[0, s] = np.interp(_ROWS, y[w, :, s], flow[w, :, s]) * faster
            lines[1, s] = np.interp(_ROWS, y[w, :, s], efficiency[w, :, s])
            lines[2, s] = np.interp(_ROWS, y[w, :, s], MACH) * faster
        right[w] = lines[0, -1]
        for i, row in enumerate(_ROWS):
            z = lines[0, :, i] / right[w, i]
            cells[w, i, :, 0] = np.interp(_COLUMNS, z, lines[1, :, i])
            cells[w, i, :, 1] = np.interp(_COLUMNS, z, lines[2, :, i]) / row
        at_right = np.concatenate([[0.0], right[w]])
        axis = _CHOKES * right[w, -1]
        choked[w, :, 0] = _CLEAR * np.interp(axis, at_right, np.concatenate([[0.0], lines[2, -1]]))
        choked[w, :, 1] = np.interp(axis, at_right, np.concatenate([[0.0], _ROWS]))
    return WheelTables(
        exducer=exducer,
        predicted=np.full(count, predicted),
        efficiency_spread=spread["efficiency"],
        flow_spread=spread["flow"],
        surge_spread=spread["surge"],
        speed_spread=spread["speed"],
        slowest=known[0],
        fastest=known[1],
        _cells=(cells[..., 0] + 1j * cells[..., 1]).reshape(-1),
        _right=right.reshape(-1),
        _limits=np.asarray((surge + 1j * choke) * MACH, dtype=np.complex128).reshape(-1),
        _choked=(choked[..., 0] + 1j * choked[..., 1]).reshape(-1),
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


def drawing(tables: WheelTables, wheel: int, mach: Array, points: int = 60, grid: int = 120) -> Drawing:
    """Speed lines at the tip Mach numbers given (L,), border lines and an efficiency grid of one wheel."""
    surge, choke = tables.limits(np.full(mach.shape, wheel), mach)
    flow = surge[:, None] + (choke - surge)[:, None] * (1.0 - np.linspace(1.0, 0.0, points) ** 2)
    low, high = np.ones_like(flow), np.full_like(flow, pressure_ratio_of(np.asarray(2.5), np.asarray(0.8)))
    rows = np.full(flow.shape, wheel)
    for _ in range(40):  # bisection: M grows with the pressure ratio at a given flow
        middle = 0.5 * (low + high)
        above = tables.at(rows, flow, middle)[1] > mach[:, None]
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    ratio = 0.5 * (low + high)
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
