"""Shares of several duties that nobody told take what the told ones leave of the whole."""

import io
import re
from pathlib import Path

import numpy as np
import pytest
from calls import call, shop
from hypothesis import given
from hypothesis import strategies as st

from advisor.consultation import consult
from advisor.course import open_call
from advisor.dialogue import loop
from advisor.inference.engines import agenda
from advisor.inference.facts import Fact, FactBase, Numbers, Origin, numbers
from advisor.outcome import Answer
from advisor.shares import LEFT, completed
from advisor.units import Range

DUTIES = ("daily", "sled", "strip", "towing")


def shares(answers: dict[str, str]) -> dict[str, float]:
    """The share of each duty as the rules read it."""
    opening = open_call([Answer(*pair) for pair in answers.items()], shop(), agenda("reference"))
    facts = opening.second.facts
    return {duty: facts.value(f"{duty} share").mid for duty in DUTIES}  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("duties", "told", "wanted"),
    [
        ("daily and towing", {"towing share": "80 %"}, {"towing": 0.8, "daily": 0.2}),
        ("daily and towing", {"daily share": "90 %"}, {"towing": 0.1, "daily": 0.9}),
        # what is left is parted as usual: the vocabulary's 60 % of driving against 10 % of the strip
        ("daily, towing, strip", {"towing share": "40 %"}, {"towing": 0.4, "daily": 0.6 * 6 / 7, "strip": 0.6 / 7}),
        ("daily and sled", {"sled share": "100 %"}, {"sled": 1.0, "daily": 0.0}),
        ("daily and sled", {"sled share": "70", "daily share": "50"}, {"sled": 0.7, "daily": 0.5}),  # both as told
    ],
)
def test_what_nobody_told_is_what_is_left(duties: str, told: dict[str, str], wanted: dict[str, float]) -> None:
    found = shares({"duties": duties, **told})
    assert {duty: found[duty] for duty in wanted} == pytest.approx(wanted)
    assert all(found[duty] == 0.0 for duty in DUTIES if duty not in wanted)


def test_the_duty_that_leads_follows_from_what_is_left() -> None:
    """A trailer on a fifth of the miles: what he drives without it leads, though half of them would not have."""
    opening = open_call(
        [Answer("duties", "daily and towing"), Answer("towing share", "20 %")], shop(), agenda("reference")
    )
    assert opening.second.facts.value("main duty") == "daily"


def test_it_is_told_as_what_is_left() -> None:
    outcome = call(
        {"call kind": "new turbo", "duties": "daily and towing", "towing share": "70 %", "displacement": "6.7",
         "power goal": "400 hp", "trailer weight": "9,000 lb"}
    )  # fmt: skip
    (daily,) = [one for one in outcome.rests_on if one.fact == "daily share"]
    assert daily.taken == "30 %"
    assert daily.why == LEFT
    alone = call({"call kind": "new turbo", "duties": "daily", "displacement": "6.7", "power goal": "400 hp"})
    assert not any(one.fact.endswith("share") for one in alone.rests_on)


SHARE = st.one_of(st.just(np.nan), st.floats(0.0, 0.6))


@given(
    st.lists(st.tuples(SHARE, SHARE, SHARE, SHARE), min_size=1, max_size=5),
    st.sets(st.sampled_from(DUTIES), min_size=2),
)
def test_many_callers_at_once_are_completed_as_each_by_himself(rows, duties) -> None:
    said = Origin("answer", "")
    base = FactBase().with_facts([Fact("duties", frozenset(duties), said)])
    table = np.array(rows)
    at_once = completed(
        base.with_columns({f"{d} share": numbers(table[:, at].copy()) for at, d in enumerate(DUTIES)}, said),
        shop().vocabulary,
    )
    for number, row in enumerate(table.tolist()):
        own = [Fact(f"{d} share", Range(v, v), said) for d, v in zip(DUTIES, row, strict=True) if v == v]
        alone = completed(base.with_facts(own), shop().vocabulary)
        for duty in duties:
            value, column = alone.value(f"{duty} share"), at_once.columns[f"{duty} share"]
            assert isinstance(column, Numbers)
            one = value.mid if isinstance(value, Range) else np.nan
            assert column.low[number] == pytest.approx(one, nan_ok=True)
        known = [alone.value(f"{d} share") for d in duties]
        if len(own) and {f.name for f in own} <= {f"{d} share" for d in duties} and len(own) < len(duties):
            assert sum(value.mid for value in known if isinstance(value, Range)) == pytest.approx(
                max(1.0, sum(fact.value.mid for fact in own))
            )


@pytest.mark.parametrize(
    ("duties", "read_back"), [("daily", set()), ("daily and towing", {"daily share", "towing share"})]
)
def test_only_who_does_several_things_is_read_back_a_share(duties: str, read_back: set[str]) -> None:
    """Who only drives it has no share to read, and nobody has one of what he doesn't do."""
    lines = ["new turbo", f"change duties = {duties}", "change displacement = 5.9 litres", "change power goal = 400 hp"]
    out = io.StringIO()
    loop.run(
        lambda answers: consult(answers, shop(), agenda("reference"), bands=False),
        shop(),
        loop.Scripted([*lines, "enough"], out, 100),
        None,
        Path(),
    )
    back = out.getvalue().partition("Stopped asking.")[2].partition("Is all of it right?")[0]
    assert "daily effort" in back
    assert set(re.findall(r"(\w+ share):", " ".join(back.split()))) == read_back
