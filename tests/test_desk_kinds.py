"""Situations of every kind: nothing that rules can do is missing among them."""

import random
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from inference_cases import HERE, SAID, compare, every, none, ref, rule, some
from test_knowledge_broken import BROKEN, lay_out

from advisor.desk import kinds
from advisor.desk.kinds import situations
from advisor.desk.review import review
from advisor.inference.facts import Fact, FactBase
from advisor.inference.verdict import sign_of
from advisor.knowledge.conditions import Compare, Condition, Known
from advisor.knowledge.rules import Rule
from advisor.quantities import Range

NAMES = [f"n{at}" for at in range(5)]
VALUES = {name: [*(Range(value, value) for value in (2.0, 5.0, 8.0)), None] for name in NAMES}


def random_condition(chance: random.Random, depth: int) -> Condition:
    if depth and chance.random() < 0.5:
        group = chance.choice((every, some, none))
        return group(*(random_condition(chance, depth - 1) for _ in range(chance.randint(1, 3))))
    name, other = chance.sample(NAMES, 2)
    match chance.randrange(4):
        case 0:
            return Known(name, chance.random() < 0.5, **HERE)
        case 1:
            return Compare(ref(name), "<", ref(other), **HERE)
        case _:
            return compare(name, chance.choice("<>"), chance.choice((3.0, 6.0)))


def does(rules: list[Rule], values: dict[str, Range | None]) -> tuple[bool, ...]:
    """Which rules fire, and what is known of the first fact."""
    known = [Fact(name, value, SAID) for name, value in values.items() if value is not None]
    facts = FactBase().with_facts(known)
    return *(sign_of(one.when, facts) == 1 for one in rules), "n0" in facts


@pytest.mark.parametrize("seed", range(25))
def test_whatever_rules_can_do_they_do_in_one_of_them(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Oracle: all combinations tried one by one."""
    chance = random.Random(seed)
    rules = [rule(f"r{at}", *(random_condition(chance, 2) for _ in range(chance.randint(1, 3)))) for at in range(4)]
    monkeypatch.setattr(kinds, "FEW", 0)
    found = situations(rules, VALUES, ("n0",))
    assert found.complete
    count = len(next(iter(found.columns.values())))
    rows = [{name: column.at(row) for name, column in found.columns.items()} for row in range(count)]
    everything = [dict(zip(NAMES, values, strict=True)) for values in product(*VALUES.values())]
    assert count < len(everything)
    assert {does(rules, row) for row in rows} == {does(rules, values) for values in everything}  # type: ignore[arg-type]


def test_one_hole_among_sixty_thousand_combinations_is_found() -> None:
    """Ten facts, each high, low or not known; a rule for every one that is low while those before it are high. Where
    all are high none holds: one combination of three to the tenth."""
    names = [f"m{at}" for at in range(10)]
    values = dict.fromkeys(names, VALUES["n0"][1:])
    rules = [
        rule(f"low {name}", *(compare(other, ">", 6.0) for other in names[:at]), compare(name, "<", 6.0))
        for at, name in enumerate(names)
    ]
    found = situations(rules, values, names)
    assert found.complete
    rows = FactBase().with_columns(found.columns, SAID)
    holes = np.all([sign_of(one.when, rows) == -1 for one in rules], axis=0)
    assert holes.sum() == 1


def test_what_hangs_on_too_much_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = BROKEN / "ranges" / "gap-hole"
    monkeypatch.setattr(kinds, "FEW", 0)
    monkeypatch.setattr(kinds, "MOST", 2)
    said = [str(fault) for fault in review(lay_out(folder, tmp_path))]
    assert any("'head risk' hangs on too much for every kind of situation to be tried" in line for line in said)
