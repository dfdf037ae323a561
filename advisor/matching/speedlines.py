"""Between the measured points of a compressor map: interpolation without wiggles, and its look-up table.

Each speed line is walked from surge to choke by the share of its length, flow and head both counted, so that
flat and vertical stretches are resolved alike. Along a line and across the lines the monotone cubic of
Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5 (1984) 300) joins the points: it never overshoots them.
"""

from collections.abc import Mapping, Sequence
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.matching.compressor import GAMMA, HEAD_EXPONENT, Prediction, wheels
from advisor.matching.measured import MeasuredMap, SpeedLine, read_map
from advisor.matching.tables import MACH, SHARES, WheelTables, build, join, tabulate

Array = NDArray[np.float64]

_STATIONS: Final = np.linspace(0.0, 1.0, 41)
MEASURED_SPREAD: Final[Mapping[str, float]] = {
    "efficiency": 0.012,
    "flow": 0.015,
    "surge": 0.05,
    "speed": 0.005,
}
"""Relative standard deviations of a measured map. Efficiency, flow and speed: gas-stand repeatability, from
memory of the trade's practice; surge: the same wheel surges elsewhere with other pipes (common practice, no
source)."""


def monotone_cubic(x: Array, y: Array, at: Array) -> Array:
    """Monotone piecewise cubic through (x, y), x (n,) growing, y (n, ...), at the points `at` (m,): (m, ...).

    Outside the range of x the end values are held.
    """
    extra = (1,) * (y.ndim - 1)
    if len(x) == 2:
        share = np.clip((at - x[0]) / (x[1] - x[0]), 0.0, 1.0).reshape(-1, *extra)
        return np.asarray(y[0] + share * (y[1] - y[0]))
    step = np.diff(x).reshape(-1, *extra)
    slope = np.diff(y, axis=0) / step
    before, after = slope[:-1], slope[1:]
    w_before, w_after = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    same = before * after > 0.0
    safe_before, safe_after = np.where(same, before, 1.0), np.where(same, after, 1.0)
    inner = np.where(same, (w_before + w_after) / (w_before / safe_before + w_after / safe_after), 0.0)
    first = _end_slope(step[0], step[1], slope[0], slope[1])
    last = _end_slope(step[-1], step[-2], slope[-1], slope[-2])
    tangent = np.concatenate([first[None], inner, last[None]])
    at = np.clip(at, x[0], x[-1])
    i = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    h = step[i]
    t = ((at - x[i]).reshape(-1, *extra)) / h
    cubic = tangent[i] + tangent[i + 1] - 2.0 * slope[i]
    square = 3.0 * slope[i] - 2.0 * tangent[i] - tangent[i + 1]
    result = y[i] + t * h * (tangent[i] + t * (square + t * cubic))
    low, high = np.minimum(y[i], y[i + 1]), np.maximum(y[i], y[i + 1])
    return np.asarray(np.clip(result, low, high))


def _end_slope(near: Array, far: Array, slope: Array, next_slope: Array) -> Array:
    """Three-point end slope, kept from overshooting."""
    guess = ((2.0 * near + far) * slope - near * next_slope) / (near + far)
    guess = np.where(guess * slope <= 0.0, 0.0, guess)
    return np.asarray(
        np.where((slope * next_slope <= 0.0) & (np.abs(guess) > 3.0 * np.abs(slope)), 3.0 * slope, guess)
    )


class SpeedLines:
    """The surface through a measured map, dimensionless: M, phi, head coefficient, efficiency."""

    def __init__(self, measured: MeasuredMap) -> None:
        self.measured = measured
        self.mach = np.array([float(measured.tip_mach(line.speed).mean()) for line in measured.lines])
        self._stations = np.stack([self._walk(line) for line in measured.lines])

    def _walk(self, line: SpeedLine) -> Array:
        """phi, psi and efficiency (stations, 3) along one line."""
        mach = self.measured.tip_mach(line.speed)
        phi = line.flow / self.measured.flow_scale / mach
        psi = (line.pressure_ratio**HEAD_EXPONENT - 1.0) / ((GAMMA - 1.0) * mach**2)
        columns = np.stack([phi, psi, line.efficiency], axis=-1)
        across = np.abs(np.diff(phi)) / np.ptp(phi)
        down = np.abs(np.diff(psi)) / max(float(np.ptp(psi)), 0.05 * float(psi.max()))
        length = np.concatenate([[0.0], np.cumsum(across + down)])
        return monotone_cubic(length / length[-1], columns, _STATIONS)

    def line(self, mach: Array) -> Array:
        """phi, psi and efficiency at equal shares of the way from surge to choke, (L, stations, 3), of tip
        Mach numbers (L,); beyond the slowest and fastest measured line the shape of that line is kept."""
        return monotone_cubic(self.mach, self._stations, mach)

    def at(self, mach: float, phi: Array) -> tuple[Array, Array]:
        """Pressure ratio and efficiency at one tip Mach number and flow coefficients (P,) on the map."""
        stations = self.line(np.array([mach]))[0]
        psi = np.interp(phi, stations[:, 0], stations[:, 1])
        efficiency = np.interp(phi, stations[:, 0], stations[:, 2])
        return (1.0 + (GAMMA - 1.0) * mach**2 * psi) ** (1.0 / HEAD_EXPONENT), efficiency

    def tables(self) -> WheelTables:
        """The look-up table of this one wheel."""
        stations = self.line(MACH)
        surge, choke = stations[:, 0, 0], stations[:, -1, 0]
        phi = choke[:, None] * SHARES
        psi, efficiency = np.empty_like(phi), np.empty_like(phi)
        for row, flow in enumerate(phi):
            psi[row] = np.interp(flow, stations[row, :, 0], stations[row, :, 1])
            efficiency[row] = np.interp(flow, stations[row, :, 0], stations[row, :, 2])
        stalled = np.clip(1.0 - phi / surge[:, None], 0.0, 1.0)
        return tabulate(
            np.array([self.measured.exducer]),
            surge[None],
            choke[None],
            psi[None],
            (efficiency * (1.0 - stalled**2))[None],
            {name: np.array([value]) for name, value in MEASURED_SPREAD.items()},
            (self.mach[:1] * 0.995, self.mach[-1:] * 1.005),
            predicted=False,
        )


class ListedWheel(Protocol):
    """What a catalogue says of a compressor wheel, SI; `map` names its measured map."""

    @property
    def inducer(self) -> float: ...

    @property
    def exducer(self) -> float: ...

    @property
    def tip_height(self) -> float: ...

    @property
    def hub_ratio(self) -> float: ...

    @property
    def full_blades(self) -> int: ...

    @property
    def splitter_blades(self) -> int: ...

    @property
    def backsweep(self) -> float: ...

    @property
    def material(self) -> str: ...

    @property
    def ported_shroud(self) -> bool: ...

    @property
    def map(self) -> str | None: ...


def tables_for(listed: Sequence[ListedWheel], maps: Mapping[str, str]) -> WheelTables:
    """Tables of the wheels of a catalogue, rows in its order: measured where a map is named, predicted
    elsewhere.

    maps: CSV text by name. Raises MapError for a map that can't be used.
    """
    columns = {
        "inducer": [w.inducer for w in listed],
        "exducer": [w.exducer for w in listed],
        "exit_width": [w.tip_height for w in listed],
        "hub_ratio": [w.hub_ratio for w in listed],
        "full_blades": [w.full_blades for w in listed],
        "splitters": [w.splitter_blades for w in listed],
        "backsweep": [w.backsweep for w in listed],
        "cast": [w.material == "cast" for w in listed],
        "ported": [w.ported_shroud for w in listed],
    }
    predicted = build(Prediction(wheels(columns)))
    read = {w.map: SpeedLines(read_map(maps[w.map], f"maps/{w.map}.csv")).tables() for w in listed if w.map}
    return join([read[w.map] if w.map else predicted.row(i) for i, w in enumerate(listed)])
