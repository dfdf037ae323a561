"""The fact base: values with their origin, candidate columns, disputes."""

import numpy as np
import pytest
from inference_cases import BUILT, SAID, known

from advisor.inference.facts import Coded, Fact, FactBase, Numbers, Origin, column, numbers
from advisor.quantities import Range

ALSO = Origin("rule", "some rule")


def test_facts_are_found_by_name_with_their_origin():
    facts = known(tune="hot", power_goal=450_000.0)
    assert sorted(facts) == ["power goal", "tune"]
    assert facts["tune"] == Fact("tune", "hot", SAID)
    assert facts.value("power goal") == Range(450_000.0, 450_000.0)
    assert facts.value("nobody asked") is None
    assert facts.origin("tune") is SAID


def test_a_fact_base_never_changes():
    facts = known(tune="hot")
    more = facts.with_facts([Fact("tune", "mild", SAID)]).with_columns(
        {"ported shroud": [True, False]}, BUILT
    )
    less = more.without(["tune", "ported shroud"])
    assert (facts.value("tune"), facts.columns) == ("hot", {})
    assert (more.value("tune"), more.size) == ("mild", 2)
    assert (len(less), less.size, dict(less.origins)) == (0, None, {})
    with pytest.raises(TypeError):
        facts.facts["tune"] = Fact("tune", "mild", SAID)


def test_two_sources_that_differ_leave_a_fact_not_known():
    facts = known(tune="hot").with_facts([Fact("tune", "mild", SAID), Fact("tune", "stock", ALSO)])
    assert facts.value("tune") is None
    assert facts.disputed == {"tune"}
    assert facts.with_facts([Fact("tune", "hot", SAID)]).value("tune") is None, "settled silently"
    assert facts.without(["tune"]).with_facts([Fact("tune", "hot", SAID)]).value("tune") == "hot"


def test_two_sources_that_agree_are_one_fact():
    inch = Range(0.1 + 0.2, 0.1 + 0.2)
    facts = FactBase().with_facts([Fact("size", inch, SAID), Fact("size", Range(0.3, 0.3), ALSO)])
    assert facts["size"].origin is SAID
    assert not facts.disputed


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (np.array([1.0, np.nan, np.inf]), [Range(1.0, 1.0), None, None]),
        (np.array([1, 2]), [Range(1.0, 1.0), Range(2.0, 2.0)]),
        ((np.array([1.0, 3.0]), np.array([2.0, 2.0])), [Range(1.0, 2.0), None]),
        ([Range(1.0, 2.0), None], [Range(1.0, 2.0), None]),
        ([1.5, None], [Range(1.5, 1.5), None]),
        (np.array(["none", "internal", ""]), ["none", "internal", None]),
        (np.array(["none", None], dtype=object), ["none", None]),
        (np.array([True, False]), [True, False]),
        ([True, None, False], [True, None, False]),
        ([frozenset({"late spool"}), None], [frozenset({"late spool"}), None]),
        ([None, None], [None, None]),
    ],
)
def test_columns_from_arrays_and_lists(given, expected):
    made = column(given)
    assert [made.at(index) for index in range(len(made))] == expected
    assert made.known.tolist() == [value is not None for value in expected]
    assert column(made) is made


def test_a_column_of_numbers_is_one_of_floats_and_holds_what_is_known():
    whole = numbers([1, None, 3])
    assert whole.low.dtype == whole.high.dtype == np.float64
    assert [whole.at(row) for row in range(3)] == [Range(1.0, 1.0), None, Range(3.0, 3.0)]
    ranges = numbers([1, 2, None, 4, -np.inf, 0], [2, 1, 3, None, 0, 0])
    assert [ranges.at(row) for row in range(6)] == [Range(1.0, 2.0), None, None, None, None, Range(0.0, 0.0)]
    for wrong in (([1.0], [1.0, 2.0]), (1.0, None), ([[1.0]], None)):
        with pytest.raises(ValueError, match=r"needs one row of numbers, not shapes \("):
            numbers(*wrong)


def test_columns_are_compared_by_what_they_say():
    assert column(["red", "blue"]) == Coded(np.array([1, 0]), ("blue", "red"))
    assert column(["red", None]) != column(["red", "red"])
    assert column(["red"]) != column(["red", "red"])
    assert column(["red"]) != ["red"]
    assert numbers([1.0, np.nan]) == numbers([1.0, np.inf])
    assert numbers([1.0]) != Numbers(np.array([1.0]), np.array([2.0]))


def test_columns_have_one_length():
    facts = FactBase().with_columns({"ported shroud": [True, False]}, BUILT)
    with pytest.raises(ValueError, match=r"differ in length: \[2, 3\]"):
        facts.with_columns({"gate bore": np.zeros(3)}, BUILT)
    with pytest.raises(ValueError, match="one row of numbers"):
        facts.with_columns({"gate bore": np.zeros((2, 2))}, BUILT)


def test_one_candidate_as_plain_facts():
    facts = known(tune="hot").with_columns({"wastegate": ["none", None], "gate bore": [0.05, 0.06]}, BUILT)
    assert {name: fact.value for name, fact in facts.at(0).items()} == {
        "tune": "hot", "wastegate": "none", "gate bore": Range(0.05, 0.05)
    }  # fmt: skip
    assert facts.at(0)["wastegate"].origin is BUILT
    assert "wastegate" not in facts.at(1)


def test_rows_of_a_column_taken_again():
    for values in ([1.0, 2.0, None], ["hot", None, "stock"], [True, False, None]):
        whole = column([Range(value, value) if isinstance(value, float) else value for value in values])
        picked = whole.take(np.array([2, 0, 0, 1]))
        assert len(picked) == 4
        assert [picked.at(row) for row in range(4)] == [whole.at(row) for row in (2, 0, 0, 1)]
        assert picked.known.tolist() == [whole.known[row] for row in (2, 0, 0, 1)]
