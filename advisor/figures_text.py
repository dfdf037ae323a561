"""Figures from outside as JSON and as tables in the trade's units."""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from advisor.sheet.layout import Block, Para, Table, heading, plain
from advisor.units import show


def as_json(line: Mapping[str, Any]) -> str:
    """The operating line as JSON text, one figure a line."""
    return json.dumps(line, indent=2, ensure_ascii=False, allow_nan=False)


# A text table's columns: head, figure of a point, quantity and unit, whether it is over the outside pressure.
_COLUMNS = (
    ("boost", "boost", "pressure", "psi", True),
    ("drive", "drive pressure", "pressure", "psi", True),
    ("ratio", "pressure ratio", "ratio", "", False),
    ("air", "air", "mass flow", "lb/min", False),
    ("power", "power", "power", "hp", False),
    ("exhaust", "exhaust temperature", "temperature", "°F", False),
    ("surge", "surge margin", "percent", "%", False),
    ("choke", "choke margin", "percent", "%", False),
    ("tip speed", "tip speed margin", "percent", "%", False),
    ("gate", "gate share", "percent", "%", False),
)


def as_text(line: Mapping[str, Any], width: int = 100) -> str:
    """The operating line in the trade's units, a table for each turbo; points that did not converge say
    so."""
    outside = line["place"]["pressure"]
    blocks: list[Block] = []
    for turbo in (*line["turbos"], *line["pairs"]):
        blocks += heading(f"{turbo['turbo']} ({turbo['map']} map)")
        blocks.append(Para(_spool_words(turbo)))
        rows = []
        for point in turbo["points"]:
            shown = [
                show(point[name] - (outside if gauge else 0.0), unit, quantity).removesuffix(unit).rstrip()
                if name in point
                else ("no balance" if not point["converged"] else "-")
                for _, name, quantity, unit, gauge in _COLUMNS
            ]
            rows.append((f"{point['engine speed']:,.0f}", *shown))
        heads = ("rpm", *(f"{head} {unit}".rstrip() for head, _, _, unit, _ in _COLUMNS))
        blocks.append(Table(heads, tuple(rows), frozenset(range(len(heads)))))
        for words in dict.fromkeys(point["off the map"] for point in turbo["points"] if point["off the map"]):
            there = [p["off the map"] == words for p in turbo["points"]]
            blocks.append(Para(f"{_where(turbo, there)} {words}."))
        blocks += _too_fast(turbo)
    blocks.append(Para("Boost and drive pressure by gauge, the ratio absolute over absolute."))
    blocks.append(Para("--json gives every figure, residual and band."))
    return plain(blocks, width)


def _too_fast(turbo: Mapping[str, Any]) -> Iterator[Block]:
    """At which engine speeds a compressor wheel turns past its safe tip speed, of a pair each stage's."""
    stages = {name: f"the {name} stage's wheel ({turbo[name]})" for name in ("low", "high") if name in turbo}
    for name, wheel in stages.items() or (("", "the compressor wheel"),):
        points = [point.get(name, {}) if name else point for point in turbo["points"]]
        there = [(point.get("tip speed margin") or 0.0) < 0.0 for point in points]
        if any(there):
            yield Para(f"{_where(turbo, there)} {wheel} turns past its safe tip speed: it can burst.")


def _where(turbo: Mapping[str, Any], there: Sequence[bool]) -> str:
    """The engine speeds of some of the points: "At 1,500 and 1,700 rpm", "From 2,300 to 3,600 rpm"."""
    speeds = [f"{point['engine speed']:,.0f}" for point in turbo["points"]]
    first, last = there.index(True), len(there) - 1 - there[::-1].index(True)
    if all(there[first : last + 1]) and last > first + 1:
        return f"From {speeds[first]} to {speeds[last]} rpm"
    return f"At {', '.join(speed for speed, hit in zip(speeds, there, strict=True) if hit)} rpm"


def _spool_words(turbo: Mapping[str, Any]) -> str:
    """When the boost that the gate holds stands, and how quickly, in a sentence."""
    rpm, seconds = turbo["boost stands at"], turbo["seconds to boost"]
    if rpm is None:
        return "The boost asked for does not stand at full load anywhere in the band."
    low, high = turbo["boost stands at band"]
    until = f"{high:,.0f} rpm" if high is not None else "never"
    quick = "it hangs there" if seconds is None else f"{seconds:.1f} s from light load at the goal's engine speed"
    return f"Boost stands from {rpm:,.0f} rpm (nine times in ten: {low:,.0f} rpm to {until}); {quick}."
