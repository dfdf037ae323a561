"""The shop's own rules let points run evenly: no figure of a candidate has an edge at which its points jump, and a few
degrees of summer heat don't turn the turbo."""

from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from advisor.consultation import consult
from advisor.course import Course, infer
from advisor.dialogue.reasons import how, why_not
from advisor.inference.engines import agenda
from advisor.inference.facts import FactBase, numbers
from advisor.inference.stage import run_stage
from advisor.knowledge import Knowledge, load
from advisor.knowledge.conditions import facts_in
from advisor.outcome import Answer
from advisor.scripted import read_script
from advisor.sheet.layout import Para
from advisor.sheet.trace import row_of
from advisor.units import Range, from_si
from advisor.weighing import MATCHED, sentences

ROOT = Path(__file__).parent.parent
FIRES = agenda("reference")
STEPS = 2_000
AT_ONCE = 0.5  # points, of the 20 or more that a figure costs from one end of what is tried to the other
CALLS = ("tow-only", "daily", "strip", "sled-inducer-limit", "complaint-surge", "trouble-heat-and-late", "mixed-duty")
# What he says otherwise, so that figures measured against it are ranges.
CALLED = {"tow-only": [Answer("boost wanted by", "1,600 to 1,900 rpm"), Answer("budget", "2,500 to 3,500 dollars")]}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load(ROOT / "rules")


def course(name: str, knowledge: Knowledge, *instead: Answer) -> Course:
    script, faults = read_script(ROOT / "transcripts_demo" / f"{name}.yaml", knowledge)
    assert script is not None, faults
    changed = {answer.fact for answer in instead}
    kept = [answer for answer in script.answers if answer.fact not in changed]
    return infer((*kept, *instead), knowledge, FIRES)


def spans(knowledge: Knowledge) -> dict[str, tuple[float, float]]:
    """Each figure of a candidate with which points run, from well short of their outermost ends to well past them; of
    a figure that others are measured against, round that one's usual value."""
    found: dict[str, list[float]] = {}
    for rule in knowledge.rules:
        for slope in rule.slopes:
            for name in facts_in(slope.figure):
                definition = knowledge.vocabulary[name]
                if definition.source == "candidate":
                    alone = len(facts_in(slope.figure)) == 1
                    ends = [end.si for end, _ in slope.ends] if alone else []
                    found.setdefault(name, []).extend(ends)
    ranges = {}
    for name, ends in found.items():
        low, high = (min(ends), max(ends)) if ends else (np.nan, np.nan)
        ranges[name] = (low - 0.3 * (high - low), high + 0.3 * (high - low))
    return ranges


def taken(facts: FactBase, row: int, name: str, values: np.ndarray, knowledge: Knowledge) -> np.ndarray:
    """What all rules take from a candidate (n,) while one of its figures takes these values and all else stays; NaN
    where a rule puts it out because of that figure, as a class does with a wheel past its limit: it has no points."""
    rows = np.full(len(values), row)
    columns = {other: column.take(rows) for other, column in facts.columns.items()}
    columns[name] = numbers(values)
    plain = FactBase(facts.facts, disputed=facts.disputed)
    judged = run_stage("judge", knowledge, plain.with_columns(columns, MATCHED), FIRES)
    out_by, points = sentences(judged.firings, knowledge, len(values))
    edges = [out for out in out_by.values() if not out.all()]
    return np.where(np.any([np.zeros(len(values), dtype=bool), *edges], axis=0), np.nan, points)


@pytest.mark.parametrize("name", CALLS)
def test_points_change_little_when_a_figure_changes_little(name: str, knowledge: Knowledge):
    called = course(name, knowledge, *CALLED.get(name, ()))
    row = called.weighed.order[len(called.weighed.order) // 2]  # one in the middle, with something against it
    moved = 0
    for figure, (low, high) in spans(knowledge).items():
        column = called.weighed.facts.columns.get(figure)
        if column is None or column.at(row) is None:
            continue
        if not np.isfinite(low):
            middle = column.at(row).mid  # type: ignore[union-attr]
            low, high = 0.3 * middle, 2.0 * middle
        points = taken(called.weighed.facts, row, figure, np.linspace(low, high, STEPS), knowledge)
        jump = np.nan_to_num(np.abs(np.diff(points)))
        assert jump.max() <= AT_ONCE, f"{figure} at {np.linspace(low, high, STEPS)[jump.argmax()]:g}"
        moved += bool(np.nanmax(points) - np.nanmin(points) > 1.0)
    assert moved >= 4


def test_a_few_degrees_of_summer_heat_do_not_turn_the_turbo(knowledge: Knowledge):
    """The heavy tow call, whose choice went back and forth between three turbos over this range while penalties rose
    in steps. Where heat is what bothers him a hotter summer may ask for a freer turbo, and never for the tighter one
    again."""

    def advised(*more: Answer) -> list[str]:
        turbos = []
        for degrees in range(70, 111, 4):
            found = course("tow-only", knowledge, Answer("summer temperature", f"{degrees} °F"), *more)
            assert found.best is not None
            turbos.append(found.weighed.turbo(found.best))
        return turbos

    assert len(set(advised(Answer("today's trouble", "it is just worn")))) == 1
    hot = advised()
    assert [turbo for turbo, _ in groupby(hot)] == list(dict.fromkeys(hot)), hot


def test_how_and_why_not_say_how_many_points_and_at_which_value(knowledge: Knowledge):
    script, _ = read_script(ROOT / "transcripts_demo" / "tow-only.yaml", knowledge)
    assert script is not None
    told = consult(script.answers, knowledge, FIRES)
    assert told.recommended is not None
    facts = told.candidate_facts
    codes = [code for code, _, _ in told.kept]
    heat = "towing exhaust temperature"
    rule = knowledge.rule("too-hot-on-the-grade")
    (slope,) = rule.slopes

    def expected(code: str) -> str:
        """By the rule of three, in °F, between the ends as written."""
        ends = [(from_si(end.si, "°F", "temperature"), points) for end, points in slope.ends]
        value = facts.at(row_of(told, code)).value(heat)  # type: ignore[arg-type]
        assert isinstance(value, Range)
        at = from_si(value.mid, "°F", "temperature")
        (low, first), (high, last), _ = ends
        assert low < at < high
        points = f"{first + (last - first) * (at - low) / (high - low):.1f}".removesuffix(".0")
        return f"{points} of {slope.most:g} points off, at {at:,.0f} °F"

    best = told.recommended.code
    lines = [block.first + block.text for block in how(rule.name, told, knowledge) if isinstance(block, Para)]
    assert expected(best) in lines
    (ours,) = [firing for firing in told.firings if firing.rule == rule.name]
    assert ours.points is not None
    lost = {code: float(ours.points.sure[row_of(told, code)]) for code in codes}
    alone = [code for code in codes if sum(another.startswith(code) for another in codes) == 1]
    other = next(code for code in alone if 0.5 < lost[code] < 12.0 and abs(lost[code] - lost[best]) > 1.0)
    lines = [block.first + block.text for block in why_not(other, told, knowledge) if isinstance(block, Para)]
    line = next(line for line in lines if f"[{rule.name}]" in line)
    assert line.removeprefix("- ").startswith(f"{expected(other)}, for this one; {expected(best)}, for the best: ")
