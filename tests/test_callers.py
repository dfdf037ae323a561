"""Callers' answers to the shop's own questions: read right, or asked again, and never silently wrong."""

import math
from collections import Counter
from pathlib import Path

from test_units import outside

from advisor.hearing import understand
from advisor.inference.facts import Value
from advisor.knowledge import FactDef, load, shipped_folder
from advisor.units import Range

CALLERS = Path(__file__).parent / "data" / "callers.csv"
PINT_NAMES = {
    "°F": "degF", "°C": "degC", "%": "percent", "days": "day", "": "dimensionless", "L": "liter",
    "mm3": "mm**3", "cu in": "inch**3", "in3": "inch**3"}  # fmt: skip


def rows() -> list[tuple[str, str, str]]:
    lines = CALLERS.read_text(encoding="utf-8").splitlines()
    parted = [line.split("|", 2) for line in lines if not line.startswith("#")]
    return [(fact, words, wanted) for fact, words, wanted in parted]


def expected(definition: FactDef, text: str) -> Range:
    """A figure of the table in SI, by pint."""
    figures, _, unit = text.partition(" ")
    unit = unit or definition.unit
    unit = "dimensionless" if definition.quantity in ("ratio", "count") else PINT_NAMES.get(unit, unit)
    assert definition.plausible is not None
    if figures[0] == "<":
        return Range(definition.plausible.low, outside(float(figures[1:]), unit, definition.quantity))
    if figures[0] == ">":
        return Range(outside(float(figures[1:]), unit, definition.quantity), definition.plausible.high)
    if figures[0] == "~":
        middle = float(figures[1:])
        low, high = 0.95 * middle, 1.05 * middle
    else:
        first, _, second = figures.partition("..")
        low, high = float(first), float(second or first)
    return Range(outside(low, unit, definition.quantity), outside(high, unit, definition.quantity))


def same(definition: FactDef, value: Value, wanted: str) -> bool:
    match definition.kind:
        case "number":
            assert isinstance(value, Range)
            # where the most or the least is asked for, that figure is the answer
            meant = expected(definition, wanted.lstrip("<>") if definition.limit else wanted)
            pairs = ((value.low, meant.low), (value.high, meant.high))
            off = 0.005 if definition.quantity == "percent" else 1e-6  # shares and grades are said in whole percents
            return all(math.isclose(one, other, rel_tol=2e-3, abs_tol=off) for one, other in pairs)
        case "yes/no":
            return value is (wanted == "yes")
        case "several":
            return value == frozenset(wanted.split("+"))
        case _:
            return value == wanted


def verdict(definition: FactDef, words: str, wanted: str) -> str:
    """right, asked (again, or "did you mean") or wrong."""
    heard = understand(definition, words)
    found = []
    for one in wanted.split("||"):
        if one == "unsure":
            asked = heard.fact is None or heard.doubt
            found.append("right" if heard.not_sure else "asked" if asked else "wrong")
        elif heard.not_sure:
            found.append("asked" if heard.doubt else "wrong")
        elif heard.fact is None:
            found.append("right" if one == "unclear" else "asked")
        elif one == "unclear":
            found.append("right" if heard.doubt else "wrong")
        else:
            found.append("right" if same(definition, heard.fact.value, one) else "asked" if heard.doubt else "wrong")
    return min(found, key=["right", "asked", "wrong"].index)


def test_callers_are_read_right_or_asked_again() -> None:
    vocabulary = load(shipped_folder()).vocabulary
    table = rows()
    assert len(table) >= 2000
    verdicts = {row: verdict(vocabulary[row[0]], row[1], row[2]) for row in table}
    count = Counter(verdicts.values())
    assert not [row for row, found in verdicts.items() if found == "wrong"]
    assert count["asked"] <= 0.01 * len(table), [row for row, found in verdicts.items() if found == "asked"]


def test_every_question_is_in_the_table() -> None:
    asked = {name for name, fact in load(shipped_folder()).vocabulary.items() if fact.ask and fact.kind != "text"}
    assert asked <= {fact for fact, _, _ in rows()}
