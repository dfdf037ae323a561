"""Situations matched side by side come out as each does alone, also where another shop's match is taken over."""

import shutil
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from advisor.course import open_call
from advisor.desk.calls import scripted_calls
from advisor.inference.engines import agenda
from advisor.knowledge import Knowledge, load
from advisor.matched import (
    Matched,
    forget_matches,
    installed,
    looked_at,
    match_ahead,
    matched,
    stock_of,
    tables_of,
)
from advisor.matching.abreast import limited
from advisor.matching.balance import Match
from advisor.matching.engine import points
from advisor.matching.gates import within_limits
from advisor.matching.summary import summarise
from advisor.situation import Situation

ROOT = Path(__file__).parent.parent
CALLS = ("mixed-duty", "tow-only", "high-altitude", "sled-inducer-limit", "strip")


def same(one: Matched, other: Matched) -> None:
    """To the last bit."""
    assert one.columns.keys() == other.columns.keys()
    pairs = [(name, values, other.columns[name]) for name, values in one.columns.items()]
    pairs += [(f.name, getattr(one.match, f.name), getattr(other.match, f.name)) for f in fields(Match)]
    pairs += [(name, getattr(one.grid, name), getattr(other.grid, name)) for name in ("boost_target", "boost_needed")]
    for name, mine, others in pairs:
        assert np.array_equal(mine, others, equal_nan=mine.dtype != bool), name


def step_by_step(now: Situation, knowledge: Knowledge):
    """The figures of one situation, each solved after the other by what solves one alone."""
    asked, (speeds, sweep) = (now.engine, now.place, now.plumbing), looked_at(now)
    grid = points(*asked, now.duties, count=speeds, sweep_count=sweep)
    stock, tables = installed(now, knowledge), tables_of(knowledge)
    grid, solved = within_limits(asked, grid, stock, tables)
    wanted = now.main, now.boost_wanted_by
    return summarise(*asked, grid, stock, tables, solved, stock_of(knowledge).inducer, *wanted)


@pytest.fixture
def nothing_kept():
    forget_matches()
    yield
    forget_matches()


@pytest.mark.usefixtures("nothing_kept")
def test_situations_side_by_side_come_out_as_alone():
    """Calls of one duty and of several, some with a divided manifold, one about which hardly anything is known."""
    knowledge, fires = load(ROOT / "rules"), agenda()
    recorded, _ = scripted_calls(sorted((ROOT / "transcripts_demo").glob("*.yaml")))
    whole = [next(call for call in recorded if Path(call.file).stem == name) for name in CALLS]
    answers = [call.under(knowledge) for call in whole] + [whole[0].under(knowledge)[:3]]
    now = [open_call(each, knowledge, fires).now for each in answers]
    assert len({len(each.duties) for each in now}) > 1
    assert len({each.divided_manifold for each in now}) > 1
    alone = []
    for each in now:
        forget_matches()
        alone.append(matched(each, knowledge))
    assert any(one.grid.boost_target.ndim > 1 for one in alone)  # gates that had to be lowered
    for each, one in zip(now, alone, strict=True):
        for name, values in step_by_step(each, knowledge).items():
            assert np.array_equal(values, one.columns[name], equal_nan=values.dtype != bool), name
    forget_matches()
    match_ahead(now, knowledge)
    for each, one in zip(now, alone, strict=True):
        same(matched(each, knowledge), one)


ADDED = (
    "  - {turbo: TN-4856, frame: tarn, compressor wheel: QC48, turbine wheel: QT56, bearing: journal 270, "
    "ported shroud: no, inlet: 3 in, outlet: 2 in, connection: hose, rotor speed limit: 150000 rpm, weight: 7.5 kg, "
    "price: $905, delivery: 3 days}\n"
)


def with_another_turbo(text: str) -> str:
    return text + ADDED


def without_a_turbo(text: str) -> str:
    return "".join(line for line in text.splitlines(keepends=True) if "turbo: TN-5156," not in line)


def with_a_wheel_that_may_turn_slower(text: str) -> str:
    return text.replace("rotor speed limit: 142500 rpm", "rotor speed limit: 120000 rpm", 1)


@pytest.mark.usefixtures("nothing_kept")
@pytest.mark.parametrize("edit", [with_another_turbo, without_a_turbo, with_a_wheel_that_may_turn_slower])
def test_what_two_shops_sell_is_matched_once_and_comes_out_as_alone(edit, tmp_path, monkeypatch):
    shutil.copytree(ROOT / "rules", tmp_path / "rules")
    turbos = tmp_path / "rules" / "catalogue" / "turbos.yaml"
    turbos.write_text(edit(turbos.read_text(encoding="utf-8")), encoding="utf-8")
    old, new = load(ROOT / "rules"), load(tmp_path / "rules")
    assert stock_of(old) != stock_of(new)
    recorded, _ = scripted_calls([ROOT / "transcripts_demo" / f"{name}.yaml" for name in CALLS])
    whole = [next(call for call in recorded if Path(call.file).stem == name) for name in CALLS]
    now = [open_call(call.under(old), old, agenda()).now for call in whole]
    alone = []
    for each in now:
        forget_matches()
        alone.append(matched(each, new))
    forget_matches()
    match_ahead(now, old)
    solved = []
    monkeypatch.setattr("advisor.matched.limited", counted(solved))
    match_ahead(now, new)
    assert sum(solved) < 0.2 * len(now) * len(stock_of(new).machines)
    for each, one in zip(now, alone, strict=True):
        same(matched(each, new), one)


def counted(solved: list[int]):
    """The match side by side, which notes how many machines it was asked for."""

    def noted(asked, grids, stocks, tables, wanted):
        solved.extend(map(len, stocks))
        return limited(asked, grids, stocks, tables, wanted)

    return noted
