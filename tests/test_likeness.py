"""What words are like: the weights are those of ridge regression, and shares behave as shares do."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.hearing.likeness import RIDGE, Likeness, likeness, parted

SAID = (
    ("slow to light, nothing till two thousand", "late"),
    ("lazy off the line", "late"),
    ("black smoke under load", "smoke"),
    ("rolls coal up the hill", "smoke"),
    ("lazy and smokes black", "late+smoke"),
    ("no idea, the wife drives it", "none of it"),
)
MEANINGS = ("late", "smoke", "none of it")
WORDS = st.lists(st.sampled_from(["lazy", "smoke", "black", "hill", "the,", "no", "till", "zebra"]), max_size=8)


def rows(learnt: Likeness, sentences: list[str]) -> np.ndarray:
    """The figures of each sentence, families of length one, (sentences, parts)."""
    table = np.zeros((len(sentences), len(learnt.places)))
    for row, said in zip(table, sentences, strict=True):
        for family in parted(said):
            own = np.zeros(len(row))
            for part, count in family.items():
                own[learnt.places[part]] = learnt.heavy[learnt.places[part]] * (1.0 + math.log(count))
            row += own / np.linalg.norm(own)
    return table


@pytest.mark.parametrize("several", [True, False])
def test_the_weights_are_those_of_ridge_regression(several: bool) -> None:
    """Hoerl and Kennard (Technometrics 12, 1970): ordinary least squares on the table with the square root of the ridge
    put below it has the same solution; numpy's lstsq gives it by another way (singular values)."""
    learnt = likeness(SAID, MEANINGS, several)
    table = rows(learnt, [said for said, _ in SAID])
    meant = np.array([[name in (what.split("+") if several else (what,)) for name in MEANINGS] for _, what in SAID])
    below = math.sqrt(RIDGE) * np.eye(table.shape[1])
    wanted = np.vstack([meant - meant.mean(axis=0), np.zeros((table.shape[1], len(MEANINGS)))])
    weights, *_ = np.linalg.lstsq(np.vstack([table, below]), wanted, rcond=None)
    assert np.allclose(learnt.weights, weights, atol=1e-5)


@given(WORDS)
def test_shares_are_shares_and_the_order_of_what_was_kept_is_nothing_to_them(words: list[str]) -> None:
    said = " ".join(words)
    learnt, turned = likeness(SAID, MEANINGS, True), likeness(SAID[::-1], MEANINGS, True)
    one, each = learnt.one(said), learnt.each(said)
    assert math.isclose(sum(one.values()), 1.0)
    assert all(0.0 < share < 1.0 for share in each.values())
    assert all(math.isclose(share, turned.each(said)[name], abs_tol=1e-6) for name, share in each.items())


def test_what_was_said_before_is_likeliest_what_it_meant_then() -> None:
    learnt = likeness(SAID, MEANINGS, True)
    for said, meant in SAID:
        assert {name for name, share in learnt.each(said).items() if share > 0.5} == {*meant.split("+")}
    stranger = learnt.each("xylophone")
    assert max(stranger.values()) <= 0.5
