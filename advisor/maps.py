"""The compressor map of a turbo with its operating line: as characters for a terminal, as SVG for the sheet.

Both are drawn from the same plain data; what a mark means stands beside it, so that neither needs colour.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

import numpy as np

from advisor import units
from advisor.knowledge import Knowledge
from advisor.matched import tables_of
from advisor.matching.inputs import Array
from advisor.matching.tables import drawing, reference_sound
from advisor.outcome import Option

Point = tuple[float, float]
SURGE, SPEED, LIMIT = "#", ".", "="
NARROWEST, WIDEST, HEIGHT = 40, 110, 22
MARKS = {"daily": "d", "towing": "t", "strip": "s", "sled": "l", "full load": "f"}
_SPEEDS = np.array([0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8])
_NEXT = 0.02  # from the next speed line on
_MARGIN = 6
_DASHES = ("", "6 2", "2 2", "8 2 2 2", "1 3")
_WIDE, _HIGH, _LEFT, _LOW = 640, 400, 46, 40
_ROOM, _LINE_HEIGHT = 30.0, 10.0  # of a label


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """A map in what is read off its axes: corrected air flow [at 298 K and 100 kPa, in ``unit``] and pressure ratio.

    speeds   (corrected shaft speed [rpm], line) for each speed line; duties: (duty, points in order of engine speed)
    past     duties with points past the fastest line of the map, which go on in proportion
    limit    the speed [rpm] that the wheel may turn; its line is one of the speeds where the map reaches so far
    """

    title: str
    surge: tuple[Point, ...]
    speeds: tuple[tuple[float, tuple[Point, ...]], ...]
    duties: tuple[tuple[str, tuple[Point, ...]], ...]
    past: tuple[str, ...] = ()
    limit: float = np.inf
    unit: str = "lb/min"

    @property
    def corner(self) -> Point:
        """The largest flow and pressure ratio shown."""
        every = [*self.surge, *(point for _, line in (*self.speeds, *self.duties) for point in line)]
        return 1.04 * max(flow for flow, _ in every), 1.04 * max(ratio for _, ratio in every)


def compressor_map(option: Option, knowledge: Knowledge) -> CompressorMap | None:
    """The map of an option that is one turbo of the catalogue, drawn no further than its wheel may turn or the option
    would turn it; None for any other or without an operating line."""
    if not option.line.rows:
        return None
    candidates = knowledge.catalogue.candidates()
    if option.code not in candidates.codes:
        return None
    tables = tables_of(knowledge)
    row = candidates.index(option.code)
    wheel, limit = int(candidates.geometry["wheel"][row]), float(candidates.geometry["tip_speed_limit"][row])
    sound = reference_sound()
    unit = knowledge.vocabulary["corrected air flow"].unit
    scale = units.from_si(tables.reference_flow(wheel), unit, "mass flow")
    slowest, fastest = float(tables.slowest[wheel]), float(tables.fastest[wheel])
    turns = units.from_si(2.0 * sound / float(tables.exducer[wheel]), "rpm", "rotation")  # at a tip Mach number of 1
    known = _SPEEDS[(slowest <= _SPEEDS) & (fastest >= _SPEEDS)]
    if fastest - known[-1] > _NEXT and fastest < _SPEEDS[-1]:  # a measured map ends at a speed of its own
        known = np.append(known, fastest)
    names = [name for name, _, _ in option.line.columns]
    air, ratio, tip = (names.index(n) for n in ("corrected air flow", "compressor pressure ratio", "tip speed"))
    turned = [figures[tip] for _, _, sound_point, figures in option.line.rows if sound_point]
    end = known[-1] * sound
    sketch = drawing(tables, wheel, _up_to(known, limit / sound, max(turned, default=0.0) / sound))
    past: dict[str, None] = {}
    duties: dict[str, list[Point]] = {}
    for duty, _, sound_point, figures in option.line.rows:
        if sound_point:
            flow = units.from_si(figures[air], unit, "mass flow")
            duties.setdefault(duty, []).append((flow, figures[ratio]))
            if figures[tip] > end:
                past[duty] = None
    return CompressorMap(
        title=f"{option.title} ({option.code})",
        surge=tuple((float(flow) * scale, float(pressure)) for flow, pressure in sketch.surge),
        speeds=tuple(
            (float(mach) * turns, tuple((float(f) * scale, float(p)) for f, p in zip(flow, line, strict=True)))
            for mach, flow, line in zip(sketch.mach, sketch.flow, sketch.ratio, strict=True)
        ),
        duties=tuple((duty, tuple(points)) for duty, points in duties.items()),
        past=tuple(past),
        limit=limit / sound * turns,
        unit=unit,
    )


def _up_to(known: Array, limit: float, turned: float) -> Array:
    """The speed lines (tip Mach numbers) that are drawn: no further than the limit, or than the wheel is turned, and
    the limit's own in the place of one that lies beside it."""
    shown = known[known <= max(limit, turned) + _NEXT]
    shown = shown if shown.size else known[:1]
    if not known[0] <= limit <= known[-1]:
        return shown
    return np.sort(np.append(shown[np.abs(shown - limit) > _NEXT], limit))


def as_text(chart: CompressorMap, width: int) -> tuple[str, ...]:
    """The map as lines of at most ``width`` characters (40 to 110 are used)."""
    columns = min(max(width, NARROWEST), WIDEST) - _MARGIN - 1
    most, top = chart.corner
    cells = [[" "] * columns for _ in range(HEIGHT)]

    def mark(points: Iterable[Point], sign: str) -> None:
        for flow, ratio in points:
            column = round(flow / most * (columns - 1))
            row = round((ratio - 1.0) / (top - 1.0) * (HEIGHT - 1))
            if 0 <= column < columns and 0 <= row < HEIGHT:
                cells[HEIGHT - 1 - row][column] = sign

    for speed, line in chart.speeds:
        mark(_filled(line), LIMIT if _is_limit(chart, speed) else SPEED)
    mark(_filled(chart.surge), SURGE)
    for duty, points in chart.duties:
        mark(points, MARKS.get(duty, "o"))
    rows = []
    for number, row in enumerate(cells):
        ratio = 1.0 + (top - 1.0) * (HEIGHT - 1 - number) / (HEIGHT - 1)
        label = f"{ratio:4.1f} " if number % 3 == 0 else ""
        rows.append((label.rjust(_MARGIN - 1) + "|" + "".join(row)).rstrip())
    rows.append(" " * (_MARGIN - 1) + "+" + "-" * columns)
    rows.append(_ticks(most, columns))
    return tuple(rows)


def _is_limit(chart: CompressorMap, speed: float) -> bool:
    return abs(speed - chart.limit) < 1.0


def _turns(speed: float) -> str:
    return f"{round(speed, -3):,.0f} rpm"


def legend(chart: CompressorMap) -> tuple[str, ...]:
    """What the marks of the text mean, and the axes."""
    duties = ", ".join(f"{MARKS.get(duty, 'o')} {duty}" for duty, _ in chart.duties)
    told: tuple[str, ...] = (
        f"Upwards the pressure ratio, absolute over absolute, to the right the corrected air flow in {chart.unit}.",
        f"{SURGE} surge line, {SPEED} lines of one speed, ending where the wheel chokes; operating line: {duties}.",
    )
    drawn = any(_is_limit(chart, speed) for speed, _ in chart.speeds)
    if drawn:
        told += (f"{LIMIT} the speed that the wheel may turn at most: {_turns(chart.limit)}.",)
    if not chart.past:
        return told
    fastest, whose = chart.speeds[-1][0], " and ".join(chart.past)
    room = "" if drawn or not np.isfinite(chart.limit) else f"; the wheel itself may turn {_turns(chart.limit)}"
    return (*told, f"Past the fastest line of the map, {_turns(fastest)}, by rule: {whose}{room}.")


def as_svg(chart: CompressorMap) -> str:
    """The map as an SVG picture; lines are told apart by dash and by their labels."""
    most, top = chart.corner

    def at(point: Point) -> tuple[float, float]:
        flow, ratio = point
        across = _LEFT + flow / most * (_WIDE - _LEFT - 60)
        return across, (_HIGH - _LOW) - (ratio - 1.0) / (top - 1.0) * (_HIGH - _LOW - 12)

    def line(points: Sequence[Point], style: str) -> str:
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, points))
        return f'<polyline points="{path}" fill="none" {style}/>'

    def word(x: float, y: float, text: str, anchor: str = "start") -> str:
        return f'<text x="{x:.1f}" y="{y:.1f}" font-size="9" text-anchor="{anchor}">{escape(text)}</text>'

    grey, black = 'stroke="#999" stroke-width="0.7"', 'stroke="#222" stroke-width="1.4"'
    limit = 'stroke="#b00" stroke-width="1.6" stroke-dasharray="1 2"'
    parts = [line(points, limit if _is_limit(chart, speed) else grey) for speed, points in chart.speeds]
    told = -_ROOM
    for speed, points in chart.speeds:
        x, y = at(points[-1])
        last = "limit " if _is_limit(chart, speed) else ""
        if last or x - told >= _ROOM:  # a label that would lie on the one before is left out
            parts.append(word(x + 3, y - 3, f"{last}{speed / 1000.0:.0f}"))
            told = x
    parts.append(line(chart.surge, black))
    parts.append(word(at(chart.surge[-1])[0] - 4, at(chart.surge[-1])[1], "surge", "end"))
    x, y = _LEFT + 8.0, 16.0  # left of the surge line there is room to say which line is which
    for (duty, points), dash in zip(chart.duties, _DASHES * 2, strict=False):
        style = f'stroke="#8a3b12" stroke-width="1.6" stroke-dasharray="{dash or "none"}"'
        y += _LINE_HEIGHT
        parts += [line(points, style), f'<path d="M{x} {y}h24" fill="none" {style}/>', word(x + 29, y + 3, duty)]
        parts += [f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="2" fill="#8a3b12"/>' for cx, cy in map(at, points)]
    floor = _HIGH - _LOW
    parts.append(f'<path d="M{_LEFT} 8V{floor}H{_WIDE - 30}" fill="none" stroke="#222" stroke-width="0.8"/>')
    parts += [word(at((flow, 1.0))[0], floor + 13, f"{flow:g}", "middle") for flow in _round_steps(0.0, most)]
    parts += [word(_LEFT - 5, at((0.0, ratio))[1] + 3, f"{ratio:g}", "end") for ratio in _round_steps(1.0, top)]
    parts.append(word(_WIDE / 2, _HIGH - 6, f"corrected air flow, {chart.unit} at 298 K and 100 kPa", "middle"))
    parts.append(word(_WIDE - 30, 16, "lines of one speed: thousand rpm, corrected", "end"))
    parts.append(word(_LEFT + 4, 16, "pressure ratio, absolute over absolute"))
    label = escape(f"Compressor map of {chart.title} with its operating line", quote=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{label}" viewBox="0 0 {_WIDE} {_HIGH}" '
        f'width="{_WIDE}" height="{_HIGH}" font-family="sans-serif">{"".join(parts)}</svg>'
    )


def _filled(line: Sequence[Point]) -> Iterator[Point]:
    """A line as points so close that no cell between two of them stays empty."""
    for (flow, ratio), (next_flow, next_ratio) in pairwise(line):
        for step in range(24):
            share = step / 24.0
            yield flow + share * (next_flow - flow), ratio + share * (next_ratio - ratio)
    yield from line[-1:]


def _round_steps(low: float, high: float) -> list[float]:
    """Round figures from low to high, five to ten of them."""
    step = 10.0 ** np.floor(np.log10((high - low) / 5.0))
    step = next(size * step for size in (1.0, 2.0, 5.0, 10.0) if (high - low) / (size * step) <= 10.0)
    first = max(0.0, np.ceil(low / step - 1e-9))
    return [round(float(at) * step, 6) for at in np.arange(first, high / step + 1e-9)]


def _ticks(most: float, columns: int) -> str:
    """The figures under the flow axis."""
    row = [" "] * (_MARGIN + columns)
    for flow in _round_steps(0.0, most):
        text = f"{flow:g}"
        at = _MARGIN + round(flow / most * (columns - 1)) - len(text) // 2
        if at + len(text) <= len(row) and all(cell == " " for cell in row[max(0, at - 1) : at + len(text) + 1]):
            row[at : at + len(text)] = text
    return "".join(row).rstrip()
