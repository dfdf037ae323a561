"""Situations matched side by side come out as each does alone."""

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from advisor.course import open_call
from advisor.desk.calls import scripted_calls
from advisor.inference.engines import agenda
from advisor.knowledge import load
from advisor.matched import Matched, forget_matches, match_ahead, matched
from advisor.matching.balance import Match

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
    forget_matches()
    match_ahead(now, knowledge)
    for each, one in zip(now, alone, strict=True):
        same(matched(each, knowledge), one)
