"""The part of the shop's catalogue closest to a caller's words, what was taken for him, and where it differs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.knowledge import shipped_folder
from advisor.knowledge.catalogue import Candidates
from advisor.knowledge.catalogue_files import read
from advisor.knowledge.closest import Asked, nearest
from advisor.units import Range


@pytest.fixture(scope="module")
def candidates() -> Candidates:
    return read(shipped_folder() / "catalogue", []).candidates()


def mm(low: float, high: float | None = None) -> Range:
    return Range(low / 1e3, (high or low) / 1e3)


NAMED = [
    (Asked(inducer=mm(64)), "CG-6471", 0.90, True),
    (Asked(inducer=mm(64), turbine=mm(71)), "CG-6471", 0.90, True),
    (Asked(mm(63), mm(68), Range(0.9, 0.9), "divided", "T4"), "CG-6368", 0.90, True),
    (Asked(inducer=mm(66), turbine=mm(84.2)), "CG-6673", 1.00, True),
    (Asked(inducer=mm(120)), "MR-106110B", 1.32, False),
    (Asked(inducer=mm(40)), "TN-4852", 0.63, False),
]


@pytest.mark.parametrize(("asked", "turbo", "ratio", "exact"), NAMED)
def test_named_part(candidates: Candidates, asked: Asked, turbo: str, ratio: float, exact: bool) -> None:
    found = nearest(candidates, asked)
    assert found is not None
    best = candidates.combinations[found.indices[0]]
    assert (best.turbo.turbo, best.housing.housing_ratio, found.exact) == (turbo, ratio, exact)


IN_FULL = [
    (
        Asked(inducer=mm(64)),
        ("CG-6471", "090D-T4", "none"),
        [
            "the turbine wheel was left open: 71 mm taken; there is also 65 mm",
            "the A/R was left open: 0.90 taken; there is also 0.80, 0.88, 1.00, 1.10",
            "open or divided was left open: divided is the only one for it",
            "the foot was left open: T4 is the only one for it",
            "the gate was left open: no gate taken; there is also external",
        ],
        [],
    ),
    (
        Asked(turbine=mm(71)),
        ("CG-6471", "090D-T4", "none"),
        [
            "the compressor wheel was left open: 64 mm taken; there is also 66 mm, 64.4 mm",
            "the A/R was left open: 0.90 taken; there is also 0.80, 0.88, 1.00, 1.10",
            "open or divided was left open: divided is the only one for it",
            "the foot was left open: T4 is the only one for it",
            "the gate was left open: no gate taken; there is also external",
            "the bearing was left open: 360 degree journal bearing taken; there is also ball bearings",
        ],
        [],
    ),
    (Asked(mm(64), mm(71), Range(0.9, 0.9), "divided", "T4", "none"), ("CG-6471", "090D-T4", "none"), [], []),
    (
        Asked(mm(120), mm(140), Range(2, 2.5), "open", "V-band", "external"),
        ("MR-106110B", "145D-T6", "external"),
        ["the second number was taken as the larger diameter of the turbine wheel"],
        [
            "compressor 106 mm, asked 120 mm",
            "turbine 110 mm, asked 140 mm",
            "A/R 1.45, asked 2 to 2.5",
            "divided housing, asked open",
            "T6 foot, asked V-band",
        ],
    ),
    (
        Asked(mm(62), gate="internal", foot="T3", entry="open"),
        ("CG-6268", "083SG-T3", "internal"),
        [
            "the turbine wheel was left open: 68 mm taken; there is also 65 mm",
            "the A/R was left open: 0.83 is the only one for it",
        ],
        [],
    ),
]


@pytest.mark.parametrize(("asked", "part", "chosen", "differs"), IN_FULL)
def test_what_was_taken_and_what_differs_is_told_in_full(
    candidates: Candidates, asked: Asked, part: tuple[str, str, str], chosen: list[str], differs: list[str]
) -> None:
    found = nearest(candidates, asked)
    assert found is not None
    best = candidates.combinations[found.indices[0]]
    assert (best.turbo.turbo, best.housing.short, best.wastegate) == part
    assert list(found.chosen) == chosen
    assert list(found.differs) == differs
    assert found.exact == (not differs)


@pytest.mark.parametrize(
    ("asked", "differs"),
    [
        (Asked(mm(106), gate="internal"), "no gate, asked internal gate"),
        (Asked(mm(62), mm(68), Range(0.83, 0.83), "open", "T3", "none"), "internal gate, asked no gate"),
        (Asked(mm(62), mm(68), Range(0.83, 0.83), "open", "T3", "external"), "internal gate, asked external gate"),
    ],
)
def test_a_gate_that_there_is_not_is_told(candidates: Candidates, asked: Asked, differs: str) -> None:
    found = nearest(candidates, asked)
    assert found is not None
    assert found.differs == (differs,)


def test_of_those_equally_close_the_most_preferred_comes_first(candidates: Candidates) -> None:
    asked = Asked(inducer=mm(64))
    rows = nearest(candidates, asked, limit=100).indices
    liked = np.zeros(len(candidates))
    liked[rows[-1]] = 1.0
    assert nearest(candidates, asked, preferred=liked).indices[:2] == (rows[-1], rows[0])


def test_what_was_left_open_is_said(candidates: Candidates) -> None:
    found = nearest(candidates, Asked(inducer=mm(64)))
    assert found is not None
    assert "the turbine wheel was left open: 71 mm taken; there is also 65 mm" in found.chosen
    assert "the A/R was left open: 0.90 taken; there is also 0.80, 0.88, 1.00, 1.10" in found.chosen
    assert found.differs == ()
    other = nearest(candidates, Asked(inducer=mm(64), turbine=mm(71), foot="T3"))
    assert other is not None
    assert other.differs == ("T4 foot, asked T3",)


@pytest.mark.parametrize("asked", [Asked(), Asked(foot="T4"), Asked(entry="divided", gate="none")])
def test_nothing_named_names_no_part(candidates: Candidates, asked: Asked) -> None:
    assert nearest(candidates, asked) is None


@given(data=st.data())
def test_a_part_of_the_shop_is_found_by_its_own_numbers(candidates: Candidates, data: st.DataObject) -> None:
    one = data.draw(st.sampled_from(candidates.combinations))
    asked = Asked(
        inducer=Range(one.compressor.inducer, one.compressor.inducer),
        turbine=Range(one.turbine.exducer, one.turbine.exducer),
        housing_ratio=Range(one.housing.housing_ratio, one.housing.housing_ratio),
        entry=one.housing.entry,
        foot=one.housing.foot,
        gate=one.wastegate,
    )
    found = nearest(candidates, asked, limit=len(candidates))
    assert found is not None
    assert found.exact
    assert one in {candidates.combinations[row] for row in found.indices}
    best = candidates.combinations[found.indices[0]]
    assert (best.compressor, best.turbine, best.housing.short) == (
        one.compressor,
        one.turbine,
        one.housing.short,
    )


@given(inducer=st.floats(30, 130), turbine=st.floats(40, 140))
def test_no_other_compressor_is_closer(candidates: Candidates, inducer: float, turbine: float) -> None:
    """By the inducer alone, the nearest wheel is the nearest wheel."""
    found = nearest(candidates, Asked(inducer=mm(inducer)))
    assert found is not None
    taken = candidates.combinations[found.indices[0]].compressor.inducer
    assert (
        abs(taken - inducer / 1e3)
        <= min(abs(one.compressor.inducer - inducer / 1e3) for one in candidates.combinations) + 1e-12
    )
    both = nearest(candidates, Asked(inducer=mm(inducer), turbine=mm(turbine)))
    assert both is not None
    assert both.exact == (not both.differs)


def test_every_part_of_a_name_that_the_shop_can_not_meet_is_said(candidates: Candidates) -> None:
    found = nearest(candidates, Asked(mm(63.4, 63.6), mm(60.5), Range(2.0, 2.5), "open", "T3", "internal"))
    assert found is not None
    assert not found.exact
    best = candidates.combinations[found.indices[0]]
    assert f"A/R {best.housing.housing_ratio:.2f}, asked 2 to 2.5" in found.differs
    assert any(line.startswith(("turbine ", "compressor ")) and "asked 60.5 mm" in line for line in found.differs)
    far = nearest(candidates, Asked(inducer=mm(120)))
    assert far is not None
    assert far.differs == ("compressor 106 mm, asked 120 mm",)


def test_the_gate_that_was_left_open_is_called_by_its_name(candidates: Candidates) -> None:
    found = nearest(candidates, Asked(mm(64), mm(71), Range(0.9, 0.9), "divided", "T4"))
    assert found is not None
    gates = {
        one.wastegate.replace("none", "no gate")
        for one in candidates.combinations
        if one.turbo.turbo == "CG-6471" and one.housing.short == "090D-T4"
    }
    taken = candidates.combinations[found.indices[0]].wastegate.replace("none", "no gate")
    rest = ", ".join(sorted(gates - {taken}, key=lambda word: (len(word), word)))
    assert f"the gate was left open: {taken} taken; there is also {rest}" in found.chosen
    fixed = nearest(candidates, Asked(mm(64), mm(71), Range(0.9, 0.9), "divided", "T4", "none"))
    assert fixed is not None
    assert not any(line.startswith("the gate") for line in fixed.chosen)
    foot = nearest(candidates, Asked(mm(64), mm(71), Range(0.9, 0.9), "divided"))
    assert foot is not None
    assert any(line.startswith("the foot was left open: ") for line in foot.chosen)


def test_no_more_than_three_rows_come_back_unless_asked(candidates: Candidates) -> None:
    asked = Asked(inducer=mm(64))
    assert len(nearest(candidates, asked).indices) == 3
    assert len(nearest(candidates, asked, limit=5).indices) == 5
