"""Measured compressor maps as text: reading and checking them.

A map is a CSV text. Lines that start with # are comments; three of them are needed and read as `name: value`:

    # reference temperature: 298.15 K
    # reference pressure: 100 kPa
    # exducer: 91.6 mm
    corrected speed [rpm],corrected flow [lb/min],pressure ratio,efficiency [%]
    60000,14.2,1.41,68.1

Flow and speed are corrected to the stated reference, m sqrt(T/Tref)/(p/pref) and N/sqrt(T/Tref); pressure
ratio and efficiency are total to total. Each unit stands in the column's heading. Rows of one speed line
follow each other in order of flow; a column `speed line` names the line where the speed wanders within it.
Every fault of a map is listed at once, with line and column.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Final

import numpy as np
from numpy.typing import NDArray

from advisor.matching.air import AIR_GAS_CONSTANT, Reference
from advisor.matching.compressor import GAMMA, HEAD_EXPONENT
from advisor.units import to_si

Array = NDArray[np.float64]

_HEADER: Final = re.compile(r"#\s*(reference temperature|reference pressure|exducer)\s*:\s*(.*?)\s*$")
_AMOUNT: Final = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*)?$")
_HEADING: Final = re.compile(r"\s*([a-z ]+?)\s*(?:\[\s*(.*?)\s*\])?\s*$")
_STATED: Final = {
    "reference temperature": ("temperature", 230.0, 330.0, "# reference temperature: 298.15 K"),
    "reference pressure": ("pressure", 80_000.0, 110_000.0, "# reference pressure: 100 kPa"),
    "exducer": ("length", 0.02, 1.0, "# exducer: 91.6 mm"),
}
_COLUMNS: Final = {
    "corrected speed": ("rotation", "rpm", 1.0, 40_000.0),
    "corrected flow": ("mass flow", "lb/min", 1e-4, 50.0),
    "pressure ratio": (None, "", 0.9, 12.0),
    "efficiency": ("percent", "%", 0.05, 0.95),
}
_LABEL: Final = "speed line"
_SAME_LINE: Final = 0.01
"""Rows whose speeds lie closer than this share belong to one line where no column names the lines."""
_RIPPLE: Final = 0.003
"""Share of the pressure ratio that a point may lie off a falling line: scatter of a good rig."""
_WORK: Final = (0.15, 1.10)
"""Work coefficients that a wheel can have: outside, a unit, the speed or the exducer is wrong."""


@dataclass(frozen=True, slots=True, order=True)
class MapFault:
    """One fault of a map and how to mend it; line and column count from 1."""

    line: int
    column: int
    what: str
    mend: str


class MapError(ValueError):
    """A map that can't be used. `faults` lists everything that is wrong with it."""

    def __init__(self, name: str, faults: Sequence[MapFault]) -> None:
        self.name = name
        self.faults = tuple(sorted(faults))
        super().__init__("\n".join(f"{name}:{f.line}:{f.column}: {f.what}; {f.mend}" for f in self.faults))


@dataclass(frozen=True, slots=True)
class SpeedLine:
    """A speed line from surge to choke: corrected speed [rad/s], flow [kg/s], ratio, efficiency (P,)."""

    speed: Array
    flow: Array
    pressure_ratio: Array
    efficiency: Array


@dataclass(frozen=True, slots=True)
class MeasuredMap:
    """A measured map: name, the reference that flow and speed are corrected to, wheel diameter [m]."""

    name: str
    reference: Reference
    exducer: float
    lines: tuple[SpeedLine, ...]

    @property
    def sound_speed(self) -> float:
        """Speed of sound [m/s] at the reference temperature."""
        return float(np.sqrt(GAMMA * AIR_GAS_CONSTANT * self.reference.temperature))

    @property
    def flow_scale(self) -> float:
        """Corrected flow [kg/s] of a flow number q = 1: rho01 a01 D2^2 at the reference."""
        density = self.reference.pressure / (AIR_GAS_CONSTANT * self.reference.temperature)
        return density * self.sound_speed * self.exducer**2

    def tip_mach(self, speed: Array) -> Array:
        """Tip Mach number of a corrected shaft speed [rad/s]."""
        return np.asarray(speed * self.exducer / 2.0 / self.sound_speed)


@dataclass(slots=True)
class _Reader:
    name: str
    faults: list[MapFault] = field(default_factory=list)
    stated: dict[str, float] = field(default_factory=dict)
    columns: dict[str, tuple[int, str]] = field(default_factory=dict)
    width: int = 0
    rows: list[tuple[int, str, dict[str, float]]] = field(default_factory=list)

    def fault(self, line: int, column: int, what: str, mend: str) -> None:
        self.faults.append(MapFault(line, column, what, mend))

    def comment(self, line: int, text: str) -> None:
        found = _HEADER.match(text)
        if found is None:
            return
        key, words = found[1], found[2]
        column = found.start(2) + 1
        quantity, low, high, example = _STATED[key]
        amount = _AMOUNT.match(words)
        if amount is None or amount[2] is None:
            self.fault(line, column, f"{key} needs a number and a unit", f"write '{example}'")
            return
        if key in self.stated:
            self.fault(line, 1, f"{key} is stated twice", "keep one of the two")
            return
        try:
            value = to_si(float(amount[1]), amount[2], quantity)
        except ValueError as error:
            self.fault(line, column, str(error), f"write '{example}'")
            return
        if not low <= value <= high:
            self.fault(line, column, f"{key} of {words} can't be right", "check the figure and its unit")
        self.stated[key] = value

    def heading(self, line: int, text: str) -> None:
        for cell, column in _cells(text):
            found = _HEADING.match(cell)
            name = found[1] if found else cell.strip()
            if found is None or (name not in _COLUMNS and name != _LABEL):
                near = get_close_matches(name, [*_COLUMNS, _LABEL], 1)
                mend = f"did you mean '{near[0]}'?" if near else f"the columns are {', '.join(_COLUMNS)}"
                self.fault(line, column, f"there is no column '{name}'", mend)
            elif name in self.columns:
                self.fault(line, column, f"column '{name}' stands there twice", "keep one of the two")
            else:
                self.columns[name] = (self.width, self.unit(line, column, name, found[2]))
            self.width += 1
        missing = [name for name in _COLUMNS if name not in self.columns]
        if missing:
            example = "corrected speed [rpm],corrected flow [lb/min],pressure ratio,efficiency [%]"
            self.fault(line, 1, f"the map lacks {', '.join(missing)}", f"head the columns like '{example}'")

    def unit(self, line: int, column: int, name: str, said: str | None) -> str:
        quantity, usual = _COLUMNS[name][:2] if name in _COLUMNS else (None, "")
        if quantity is None:
            return ""
        if said is None:
            self.fault(line, column, f"{name} has no unit", f"write '{name} [{usual}]'")
            return usual
        if quantity == "percent" and said == "fraction":
            return said
        try:
            to_si(1.0, said, quantity)
        except ValueError as error:
            self.fault(line, column, str(error), f"write '{name} [{usual}]'")
            return usual
        return said

    def row(self, line: int, text: str) -> None:
        cells = _cells(text)
        if len(cells) != self.width:
            what = f"{len(cells)} values where the heading names {self.width} columns"
            self.fault(line, 1, what, "give each column one value")
            return
        values: dict[str, float] = {}
        for name, (index, unit) in self.columns.items():
            words, column = cells[index]
            if name == _LABEL:
                continue
            quantity, _, low, high = _COLUMNS[name]
            amount = _AMOUNT.match(words.strip())
            if amount is None or amount[2] is not None:
                self.fault(
                    line, column, f"{name} '{words.strip()}' is no number", "write digits alone, as in 41.5"
                )
                continue
            value = float(amount[1])
            if quantity is not None and unit != "fraction":
                value = to_si(value, unit, quantity)
            if not low <= value <= high:
                what = f"{name} of {amount[1]} {unit}".rstrip() + " can't be right"
                self.fault(line, column, what, "check the figure and the column's unit")
                continue
            values[name] = value
        if len(values) == len(_COLUMNS):
            label = cells[self.columns[_LABEL][0]][0].strip() if _LABEL in self.columns else ""
            self.rows.append((line, label, values))

    def grouped(self) -> list[list[tuple[int, dict[str, float]]]]:
        groups: list[tuple[str, float, list[tuple[int, dict[str, float]]]]] = []
        for line, label, values in self.rows:
            speed = values["corrected speed"]
            if groups:
                last_label, last_speed, last = groups[-1]
                same = (
                    label == last_label
                    if _LABEL in self.columns
                    else abs(speed / last_speed - 1.0) <= _SAME_LINE
                )
                if same:
                    last.append((line, values))
                    continue
            groups.append((label, speed, [(line, values)]))
        return [rows for _, _, rows in groups]


def _cells(text: str) -> list[tuple[str, int]]:
    cells, start = [], 0
    for cell in text.split(","):
        cells.append((cell, start + 1 + len(cell) - len(cell.lstrip())))
        start += len(cell) + 1
    return cells


def read_map(text: str, name: str) -> MeasuredMap:
    """The map written in a CSV text; raises MapError with all faults, `name` in front of each."""
    reader = _Reader(name)
    heading = False
    for number, line in enumerate(text.splitlines(), start=1):
        if line.lstrip().startswith("#"):
            reader.comment(number, line)
        elif not line.strip():
            continue
        elif not heading:
            heading = True
            reader.heading(number, line)
        else:
            reader.row(number, line)
    for key, (_, _, _, example) in _STATED.items():
        if key not in reader.stated and not any(key in f.what for f in reader.faults):
            reader.fault(1, 1, f"the {key} is not stated", f"add a line '{example}'")
    if not heading:
        reader.fault(1, 1, "the map has no points", "see the columns in the maps that came with the shop")
    if reader.faults:
        raise MapError(name, reader.faults)
    groups = reader.grouped()
    reference = Reference(reader.stated["reference temperature"], reader.stated["reference pressure"])
    lines = tuple(
        SpeedLine(*(np.array([values[column] for _, values in rows]) for column in _COLUMNS))
        for rows in groups
    )
    order = sorted(range(len(lines)), key=lambda i: float(lines[i].speed.mean()))
    measured = MeasuredMap(name, reference, reader.stated["exducer"], tuple(lines[i] for i in order))
    faults = list(_checks(measured, [[line for line, _ in groups[i]] for i in order]))
    if faults:
        raise MapError(name, faults)
    return measured


def _checks(measured: MeasuredMap, places: list[list[int]]) -> Iterator[MapFault]:
    if len(measured.lines) < 2:
        yield MapFault(
            places[0][0] if places else 1, 1, "a map needs two speed lines or more", "add another speed"
        )
    for line, where in zip(measured.lines, places, strict=True):
        yield from _line_checks(measured, line, where)
    for (slow, _), (fast, where) in zip(
        zip(measured.lines, places, strict=True),
        list(zip(measured.lines, places, strict=True))[1:],
        strict=False,
    ):
        yield from _pair_checks(slow, fast, where[0])


def _line_checks(measured: MeasuredMap, line: SpeedLine, where: list[int]) -> Iterator[MapFault]:
    speed = f"{float(line.speed.mean()) * 30.0 / np.pi:,.0f} rpm"
    if len(where) < 3:
        yield MapFault(
            where[0], 1, f"the line at {speed} has fewer than 3 points", "add points or drop the line"
        )
        return
    if np.ptp(line.speed) > 0.03 * float(line.speed.mean()):
        yield MapFault(
            where[0], 1, "speeds within one line differ by more than 3 %", "put them on lines of their own"
        )
    for i in np.flatnonzero(np.diff(line.flow) <= 0.0):
        what = f"flow does not grow along the line at {speed}"
        yield MapFault(where[int(i) + 1], 1, what, "order its points from surge to choke")
    top = int(np.argmax(line.pressure_ratio))
    falling = np.minimum.accumulate(line.pressure_ratio[top:])
    for i in np.flatnonzero(line.pressure_ratio[top:] > falling * (1.0 + _RIPPLE)):
        what = f"pressure ratio rises again with flow on the line at {speed}"
        yield MapFault(where[top + int(i)], 1, what, "past its top a speed line falls; check this point")
    tip = line.speed * measured.exducer / 2.0
    heat = GAMMA / (GAMMA - 1.0) * AIR_GAS_CONSTANT * measured.reference.temperature
    work = heat * (line.pressure_ratio**HEAD_EXPONENT - 1.0) / line.efficiency / tip**2
    for i in np.flatnonzero((work > _WORK[1]) | ((work < _WORK[0]) & (line.pressure_ratio > 1.2))):
        kind = "more" if work[i] > _WORK[1] else "less"
        what = (
            f"this point takes {kind} work ({work[i]:.2f} of the tip speed squared) than a wheel can take in"
        )
        yield MapFault(where[int(i)], 1, what, "check the speed, the exducer and the units")


def _pair_checks(slow: SpeedLine, fast: SpeedLine, where: int) -> Iterator[MapFault]:
    speed = f"{float(fast.speed.mean()) * 30.0 / np.pi:,.0f} rpm"
    if float(fast.speed.mean()) < 1.01 * float(slow.speed.mean()):
        yield MapFault(
            where, 1, f"two lines at about {speed}", "put the points of one speed next to each other"
        )
        return
    common = np.linspace(max(slow.flow[0], fast.flow[0]), min(slow.flow[-1], fast.flow[-1]), 20)
    if common[-1] > common[0]:
        below = np.interp(common, slow.flow, slow.pressure_ratio)
        above = np.interp(common, fast.flow, fast.pressure_ratio)
        if np.any(above <= below):
            yield MapFault(
                where, 1, f"the line at {speed} crosses the slower one", "check the speeds of the two"
            )
    if float(fast.pressure_ratio.max()) <= float(slow.pressure_ratio.max()):
        yield MapFault(where, 1, f"the line at {speed} gives no more than the slower one", "check its speed")
