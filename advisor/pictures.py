"""Pictures of an operating line: compressor map, boost, drive pressure, temperature and speed over engine
speed.

Drawn from the plain data of a figures file (`figures.Asked.line`) and the compressor tables; PNG or SVG by the file's
name. Two turbos in series have a map each, with their own share of the work on it. Lines are told apart by dash and
by a label at their end, so that a grey print reads as well.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from advisor.matching.tables import WheelTables, drawing, reference_sound

PSI = 6894.757293168
POUND_PER_MINUTE = 0.45359237 / 60.0
KINDS = (".png", ".svg")
MOST = 4
"""Maps that one picture shows; more would not be read."""
_DASHES = ("-", "--", "-.", ":", (0, (6, 1.5, 1, 1.5, 1, 1.5)))
_INK, _PALE, _LINE = "#222222", "#9a9a9a", "#8a3b12"
_SPEEDS = np.array([0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8])
_PANELS = (
    ("boost", "boost [psi gauge]"),
    ("drive pressure", "drive pressure [psi gauge]"),
    ("exhaust temperature", "exhaust before turbine [°F]"),
    ("shaft speed", "shaft speed [thousand rpm]"),
)


def draw(line: Mapping[str, Any], tables: WheelTables, rows: Sequence[int], path: Path) -> None:
    """Write one picture of an operating line to a .png or .svg file: its first turbos and pairs, as many as `MOST` maps
    hold.

    rows: row of the tables for each turbo of the line, then for the low and the high stage of each pair
    (`figures.Asked.rows`). Raises ValueError for another kind of file.
    """
    if path.suffix.lower() not in KINDS:
        raise ValueError(f"a picture is written as {' or '.join(KINDS)}, not as '{path.suffix}'")
    import matplotlib as mpl
    from matplotlib.figure import Figure

    singles = line["turbos"][:MOST]
    pairs = line["pairs"][: (MOST - len(singles)) // 2]
    charts = [(turbo, f"{turbo['turbo']} ({turbo['map']} map)", turbo["points"]) for turbo in singles]
    for pair in pairs:
        for stage, words in (("low", "takes outside air"), ("high", "on the manifold")):
            points = [p[stage] for p in _solved(pair)]
            charts.append((pair, f"{pair[stage]}, {words} ({pair['map']} map)", points))
    skipped = len(line["turbos"]) - len(singles)
    shown = [*rows[: len(singles)], *rows[len(singles) + skipped :]]
    with mpl.rc_context({"svg.hashsalt": "advisor", "svg.fonttype": "none", "font.size": 8.0, "axes.edgecolor": _PALE}):
        figure = Figure(figsize=(13.6, 7.4), layout="constrained")
        halves: Any = figure.subfigures(2, 1, height_ratios=(1.25, 1.0))
        maps, curves = halves
        for axes, row, (_, title, points) in zip(_row(maps, len(charts)), shown, charts, strict=False):
            _map(axes, title, points, tables, int(row))
        for axes, (name, label) in zip(_row(curves, len(_PANELS)), _PANELS, strict=True):
            _over_speed(axes, line, [*singles, *pairs], name, label)
        metadata = {"Date": None} if path.suffix.lower() == ".svg" else {"Software": None}
        figure.savefig(path, dpi=150, metadata=metadata)


def _row(figure: Any, count: int) -> list[Any]:
    return list(figure.subplots(1, count, squeeze=False)[0])


def _solved(turbo: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [p for p in turbo["points"] if "boost" in p]


def _map(axes: Any, title: str, points: Sequence[Mapping[str, Any]], tables: WheelTables, row: int) -> None:
    """Speed lines, surge and choke line, islands of efficiency in grey, and the operating line."""
    sound = reference_sound()
    scale = tables.reference_flow(row) / POUND_PER_MINUTE
    known = _SPEEDS[(tables.slowest[row] <= _SPEEDS) & (tables.fastest[row] >= _SPEEDS)]
    sketch = drawing(tables, row, known)
    for mach, flow, ratio in zip(sketch.mach, sketch.flow, sketch.ratio, strict=True):
        axes.plot(flow * scale, ratio, color=_PALE, linewidth=0.8)
        axes.annotate(f"{mach * sound:.0f} m/s", (flow[0] * scale, ratio[0]), fontsize=6, color=_PALE, ha="right")
    for border in (sketch.surge, sketch.choke):
        axes.plot(border[:, 0] * scale, border[:, 1], color=_INK, linewidth=1.0)
    middle = sketch.surge[len(sketch.surge) // 2]
    axes.annotate("surge ", (middle[0] * scale, middle[1]), (0, 8), textcoords="offset points", fontsize=7, ha="right")
    islands = axes.contour(
        sketch.grid_flow * scale,
        sketch.grid_ratio,
        np.ma.masked_invalid(sketch.efficiency),
        levels=[0.60, 0.65, 0.70, 0.74, 0.77],
        colors=_PALE,
        linewidths=0.5,
        linestyles="dotted",
    )
    axes.clabel(islands, fontsize=6, fmt=lambda share: f"{100.0 * share:.0f} %")
    points = [p for p in points if "boost" in p]
    flow = [p["corrected air"] / POUND_PER_MINUTE for p in points]
    ratio = [p["pressure ratio"] for p in points]
    axes.plot(flow, ratio, color=_LINE, marker="o", markersize=3, linewidth=1.4)
    if points:
        axes.annotate(f"{points[-1]['engine speed']:.0f} rpm", (flow[-1], ratio[-1]), fontsize=6, color=_LINE)
    axes.set_title(title, fontsize=8, color=_INK)
    axes.set_xlabel("corrected air [lb/min at 298 K, 100 kPa]")
    axes.set_ylabel("pressure ratio, absolute over absolute")


def _over_speed(axes: Any, line: Mapping[str, Any], turbos: Sequence[Mapping[str, Any]], name: str, label: str) -> None:
    outside = line["place"]["pressure"]
    for i, turbo in enumerate(turbos):
        points = _solved(turbo)
        speed = [p["engine speed"] for p in points]
        dash: Any = _DASHES[i % len(_DASHES)]
        if name == "shaft speed" and "low" in turbo:  # two shafts
            curves = [(turbo[stage], [p[stage][name] for p in points]) for stage in ("low", "high")]
        else:
            curves = [(turbo["turbo"], [p[name] for p in points])]
        for words, values in curves:
            heights = [_shown(value, name, outside) for value in values]
            axes.plot(speed, heights, color=_LINE, linestyle=dash, linewidth=1.3)
            if points:
                end = (speed[-1], heights[-1])
                axes.annotate(words, end, (0, 3), textcoords="offset points", fontsize=6, ha="right", va="bottom")
        if len(curves) == 1 and points and name in points[0].get("bands", {}):
            ends = [[_shown(v, name, outside) for v in p["bands"][name]] for p in points]
            low, high = zip(*ends, strict=True)
            axes.fill_between(speed, low, high, color=_PALE, alpha=0.18, linewidth=0)
    axes.margins(y=0.10)
    axes.set_xlabel("engine speed [rpm]")
    axes.set_ylabel(label)
    axes.grid(color=_PALE, linewidth=0.3)


def _shown(value: float | None, name: str, outside: float) -> float:
    """A figure in the unit of its panel; an open band end is not drawn."""
    if value is None:
        return float("nan")
    if name == "exhaust temperature":
        return value * 1.8 - 459.67
    if name == "shaft speed":
        return value / 1000.0
    return (value - outside) / PSI
