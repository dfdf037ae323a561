"""Compressor maps as tables, for thousands of look-ups at once.

A machine on an engine is asked for a flow and a pressure ratio and answers with efficiency and speed. Each wheel's
table stands over

    y = sqrt(Pi^((gamma-1)/gamma) - 1)      nearly proportional to speed
    z = q / q_right(y)                      q_right: flow number at which the map ends on the right at that y

and holds efficiency and M / y = 1 / sqrt((gamma-1) psi), which is nearly constant, so that linear interpolation
serves. Below the first row the map keeps its shape, so the table is good down to Pi = 1.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.compressor import FLOOR, GAMMA, HEAD_EXPONENT, Prediction, pressure_ratio

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.int64]

_Y: Final = np.linspace(0.05, 0.95, 46)
_Z: Final = np.linspace(0.0, 1.3, 53)
_MACH: Final = np.linspace(0.05, 2.45, 49)
_SHARES: Final = np.concatenate(
    [np.linspace(0.0, 0.9, 25), np.linspace(0.92, 1.0, 9), np.linspace(1.01, 1.13, 7)]
)


@dataclass(frozen=True, slots=True)
class WheelTables:
    """Look-up tables of W compressor wheels; `build` makes them.

    exducer             wheel diameter [m] (W,)
    predicted           True: from geometry; False: from a measured map (W,)
    efficiency_spread   one standard deviation of efficiency, relative (W,)
    flow_spread         the same of the choking flow (W,)
    surge_spread        the same of the surge flow (W,)
    speed_spread        the same of the speed at a given head (W,)
    """

    exducer: Array
    predicted: Bools
    efficiency_spread: Array
    flow_spread: Array
    surge_spread: Array
    speed_spread: Array
    _cells: Array
    _right: Array
    _limits: Array
    _slope: Array

    def __len__(self) -> int:
        return len(self.exducer)

    def at(self, wheel: Integers, flow_number: Array, pressure_ratio: Array) -> tuple[Array, Array]:
        """Efficiency and tip Mach number of each point; all three broadcast against each other.

        wheel: row of the table; flow_number: q = m / (rho01 a01 D2^2); pressure_ratio: total to total, 1 or more.
        Finite and continuous for any q >= 0; whether the point lies on the map is for `margins` to say.
        """
        y = np.sqrt(np.maximum(pressure_ratio, 1.0) ** HEAD_EXPONENT - 1.0)
        row = np.clip((y - _Y[0]) * ((len(_Y) - 1) / (_Y[-1] - _Y[0])), 0.0, len(_Y) - 1.000001)
        i = row.astype(np.int64)
        up = row - i
        line = wheel * len(_Y) + i
        right = self._right[line] + up * (self._right[line + 1] - self._right[line])
        right = right * np.clip(y / _Y[0], 1e-6, 1.0)
        z = flow_number / right
        column = np.clip(z * ((len(_Z) - 1) / _Z[-1]), 0.0, len(_Z) - 1.000001)
        j = column.astype(np.int64)
        across = (column - j)[..., None]
        near = line * len(_Z) + j
        low = self._cells[near] + across * (self._cells[near + 1] - self._cells[near])
        far = near + len(_Z)
        high = self._cells[far] + across * (self._cells[far + 1] - self._cells[far])
        both = low + up[..., None] * (high - low)
        beyond = self._slope[wheel] * right * np.maximum(z - _Z[-1], 0.0)
        return both[..., 0], both[..., 1] * np.maximum(y, 1e-6 * _Y[0]) + beyond

    def limits(self, wheel: Integers, tip_mach: Array) -> tuple[Array, Array]:
        """Flow numbers q of surge and of choke on the speed line of a tip Mach number."""
        place = np.clip(
            (tip_mach - _MACH[0]) * ((len(_MACH) - 1) / (_MACH[-1] - _MACH[0])), 0.0, len(_MACH) - 1.000001
        )
        k = place.astype(np.int64)
        near = wheel * len(_MACH) + k
        both = self._limits[near] + (place - k)[..., None] * (self._limits[near + 1] - self._limits[near])
        both = both * np.minimum(tip_mach / _MACH[0], 1.0)[..., None]
        return both[..., 0], both[..., 1]

    def margins(self, wheel: Integers, flow_number: Array, tip_mach: Array) -> tuple[Array, Array]:
        """Surge margin q/q_surge - 1 and choke margin 1 - q/q_choke, both along the speed line; negative: outside."""
        surge, choke = self.limits(wheel, tip_mach)
        return flow_number / surge - 1.0, 1.0 - flow_number / choke


def build(prediction: Prediction) -> WheelTables:
    """Tables of predicted maps. 40 wheels take about 0.05 s and 1.5 MB."""
    count = len(prediction.geometry)
    mach = _MACH[None, :]
    choke = prediction.choke_flow(np.broadcast_to(mach, (count, len(_MACH))))
    surge = prediction.surge_flow(np.broadcast_to(mach, (count, len(_MACH))))
    psi, efficiency = prediction.line(
        np.broadcast_to(mach[..., None], (count, len(_MACH), 1)), choke[..., None] * _SHARES
    )
    y = mach[..., None] * np.sqrt((GAMMA - 1.0) * np.maximum(psi, 1e-4))
    y = np.maximum.accumulate(y + 1e-9 * _MACH[None, :, None], axis=1)
    flow = _SHARES * (choke * mach)[..., None]
    cells = np.empty((count, len(_Y), len(_Z), 2))
    right = np.empty((count, len(_Y)))
    at_row = np.empty((3, len(_SHARES), len(_Y)))
    edge = int(np.searchsorted(_SHARES, 1.0))
    for w in range(count):
        for s in range(len(_SHARES)):
            faster = np.maximum(_Y / y[w, -1, s], 1.0)
            at_row[0, s] = np.interp(_Y, y[w, :, s], flow[w, :, s]) * faster
            at_row[1, s] = np.interp(_Y, y[w, :, s], efficiency[w, :, s])
            at_row[2, s] = np.interp(_Y, y[w, :, s], _MACH) * faster
        right[w] = at_row[0, edge]
        for i, row in enumerate(_Y):
            z = at_row[0, :, i] / right[w, i]
            cells[w, i, :, 0] = np.interp(_Z, z, at_row[1, :, i])
            cells[w, i, :, 1] = np.interp(_Z, z, at_row[2, :, i]) / row
    limits = np.stack([surge * mach, choke * mach], axis=-1)
    last = cells[:, :, -1, 1] * _Y
    slope = np.min(np.diff(last, axis=1, prepend=0.0) / np.diff(right * _Z[-1], axis=1, prepend=0.0), axis=1)
    spread = prediction.spread()
    return WheelTables(
        exducer=prediction.geometry.exducer,
        predicted=np.ones(count, dtype=np.bool_),
        efficiency_spread=spread["efficiency"],
        flow_spread=spread["flow"],
        surge_spread=spread["surge"],
        speed_spread=spread["speed"],
        _cells=cells.reshape(-1, 2),
        _right=right.reshape(-1),
        _limits=limits.reshape(-1, 2),
        _slope=slope,
    )


def join(parts: Sequence[WheelTables]) -> WheelTables:
    """One table of several, rows in the order given: predicted wheels and measured maps side by side."""
    names = WheelTables.__dataclass_fields__
    return WheelTables(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})
