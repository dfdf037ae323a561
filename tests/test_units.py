"""Numbers and choices as callers say them; factors against pint and scipy.constants."""

import csv
import math
from pathlib import Path

import pint
import pytest

from advisor import units
from advisor.units import QUANTITIES, Range, Unclear, read_number, to_si

PHRASES = Path(__file__).parent / "data" / "phrases.csv"
PINT = pint.UnitRegistry()
# SI by pint's names
BASE = {
    "length": "m", "area": "m**2", "volume": "m**3", "mass": "kg", "pressure": "Pa", "temperature": "kelvin", "power": "W",
    "torque": "newton * meter", "mass flow": "kg/s", "speed": "m/s", "rotation": "radian/s", "ratio": "dimensionless",
    "percent": "dimensionless", "altitude": "m", "time": "s", "count": "dimensionless", "angle": "radian",
}  # fmt: skip
# Wide enough for every bound in the table, in the unit given.
PLAUSIBLE = {
    "pressure": (0, 100, "psi"), "mass": (0, 80000, "lb"), "altitude": (0, 14000, "ft"), "power": (50, 3000, "hp"),
    "length": (10, 1000, "mm"), "temperature": (-40, 2000, "degF"), "speed": (0, 120, "mph"), "rotation": (0, 8000, "rpm"),
    "percent": (0, 400, "percent"), "time": (0, 100, "day"), "money": (0, 20000, "$"),
}  # fmt: skip


def outside(value: float, unit: str, quantity: str) -> float:
    """A figure in SI by pint."""
    if quantity == "money":
        return value
    name = {"newton_meter": "newton * meter", "rpm": "revolutions_per_minute"}.get(unit, unit)
    return float(PINT.Quantity(value, name).to(BASE[quantity]).magnitude)


def phrases() -> list[tuple[str, str, str, str]]:
    with PHRASES.open(encoding="utf-8", newline="") as lines:
        rows = [line.rstrip("\n").split("|") for line in lines if not line.startswith("#")]
    return [(row[0], row[1], row[2], row[3]) for row in rows]


def expected(text: str, quantity: str) -> Range:
    figures, _, unit = text.partition(" ")
    low_end, high_end, plausible_unit = PLAUSIBLE.get(quantity, (0, 0, ""))
    if figures[0] in "<>":
        bound = outside(float(figures[1:]), unit, quantity)
        if figures[0] == "<":
            return Range(outside(low_end, plausible_unit, quantity), bound)
        return Range(bound, outside(high_end, plausible_unit, quantity))
    if figures[0] == "~":
        middle = float(figures[1:])
        return Range(outside(0.95 * middle, unit, quantity), outside(1.05 * middle, unit, quantity))
    low, _, high = figures.partition("..")
    return Range(outside(float(low), unit, quantity), outside(float(high or low), unit, quantity))


def verdict(row: tuple[str, str, str, str]) -> str:
    """right, refused (asked again though it could be read) or wrong (a value that wasn't meant)."""
    quantity, unit, words, wanted = row
    plausible = None
    if quantity in PLAUSIBLE:
        low, high, name = PLAUSIBLE[quantity]
        plausible = Range(outside(low, name, quantity), outside(high, name, quantity))
    try:
        value = read_number(words, quantity, unit, plausible).value
    except Unclear:
        return "right" if wanted == "unclear" else "refused"
    if wanted == "unclear":
        return "wrong"
    meant = expected(wanted, quantity)
    same = all(math.isclose(a, b, rel_tol=2e-6, abs_tol=1e-9) for a, b in ((value.low, meant.low), (value.high, meant.high)))
    return "right" if same else "wrong"


def test_phrases() -> None:
    rows = phrases()
    assert len(rows) >= 500
    found = {row: verdict(row) for row in rows}
    wrong = [row for row, result in found.items() if result == "wrong"]
    refused = [row for row, result in found.items() if result == "refused"]
    assert not wrong
    assert len(refused) <= 0.01 * len(rows), refused
