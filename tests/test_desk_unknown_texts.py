"""A text that tells a fact that nobody may have told: the check notes it, and trying every answer agrees."""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE, SLIPS

from advisor.desk.review import review
from advisor.desk.situations import TRIED
from advisor.desk.unknown_texts import known_by
from advisor.inference.facts import Fact, FactBase
from advisor.inference.verdict import Conditions
from advisor.knowledge import load
from advisor.units import Range

SAY = "The head needs studs first."
MEND = " is known' to its conditions, or leave it out of the text"


def told(tmp_path: Path, *changes: tuple[str, str]) -> list[str]:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    rule = SLIPS["rule"]
    for before, after in changes:
        assert before in rule
        rule = rule.replace(before, after)
    (folder / "slip.yaml").write_text(rule, "utf-8")
    sound = {str(fault) for fault in review(BASE)}
    return [str(fault) for fault in review(folder) if str(fault) not in sound]


def test_a_text_with_a_fact_that_no_condition_asks_for_is_noted(tmp_path: Path) -> None:
    assert told(tmp_path, (SAY, "'At {power now} and {axle ratio} it needs studs.'")) == [
        "slip.yaml:8:12: the text tells 'power now' and 'axle ratio', which may not be known where 'studs-first' "
        f"holds; add '- power now{MEND}"
    ]


@pytest.mark.parametrize(
    "condition",
    [
        "power now is known",
        "power now > 200 hp",
        "any: [power now > 200 hp, power now < 100 hp]",
        "none: [power now > 200 hp]",
        "none: [power now is not known]",
        "power now / power goal > 0.5",
        "any: [all: [power now > 200 hp, tune is hot], power now is known]",
    ],
)
def test_where_a_condition_makes_sure_of_it_nothing_is_said(condition: str, tmp_path: Path) -> None:
    changed = ("present boost > 45 psi", f"present boost > 45 psi\n      - {condition}")
    assert told(tmp_path, (SAY, "'At {power now} it needs studs.'"), changed) == []


@pytest.mark.parametrize(
    "condition",
    [
        "power now is not known",
        "any: [power now > 200 hp, tune is hot]",
        "none: [power now is known]",
        "none: [all: [power now > 200 hp, tune is hot]]",
    ],
)
def test_where_it_may_be_missing_all_the_same_it_is_noted(condition: str, tmp_path: Path) -> None:
    changed = ("present boost > 45 psi", f"present boost > 45 psi\n      - {condition}")
    (line,) = told(tmp_path, (SAY, "'At {power now} it needs studs.'"), changed)
    assert line.startswith("slip.yaml:9:12: the text tells 'power now'")


def test_it_may_be_answered(tmp_path: Path) -> None:
    answer = "\n    accepted: [{finding: not known, because: he is asked before}]"
    kept = "kept by: R. Aldous, 2026-11"
    assert told(tmp_path, (SAY, "'At {power now} it needs studs.'"), (kept, kept + answer)) == []


def test_what_counts_as_known_is_known_in_every_situation_in_which_the_rule_holds(tmp_path: Path) -> None:
    """Of each rule of the small shop: without any one of the facts that are sure it does not hold."""
    knowledge = load(BASE)
    figures = {name: one for name, one in knowledge.vocabulary.items() if one.kind == "number"}
    tried = 0
    for rule in knowledge.rules:
        judged = Conditions([rule.when])
        for name in known_by(rule.when) & figures.keys():
            for value in (0.1, 1.0, 30.0, 1e3, 3e5, 1e6):
                others = (Fact(one, Range(value, value), TRIED) for one in figures if one != name)
                tried += 1
                assert judged.over(FactBase().with_facts(others)).sign(0) != 1
    assert tried > 20
