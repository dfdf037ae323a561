"""Stages: layers in order, what rules set and assume, conflicts, candidates, and independence of order."""

import itertools
import os
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from inference_cases import (
    BUILT,
    HERE,
    PLACE,
    SAID,
    Layered,
    assumes,
    compare,
    disagreement,
    known,
    none,
    number,
    outcome,
    random_case,
    ref,
    rule,
    sets,
    some,
)

from advisor.inference.agenda import Conflict, Firing, Joins, Judged, Taken
from advisor.inference.engines import ReferenceAgenda
from advisor.inference.facts import Fact, Origin
from advisor.inference.stage import run_stage, wanted
from advisor.knowledge.conditions import Binary, Flag, Includes, Is, Known
from advisor.knowledge.places import Place
from advisor.quantities import Range

TOWS = Includes("duties", "towing", **HERE)
HOT = Is("tune", frozenset({"hot"}), **HERE)
NO_GATE = Is("wastegate", frozenset({"none"}), **HERE)
TIGHT = compare("housing flow margin", "<", 0.05)


def run(facts, *layers):
    return run_stage("judge", Layered(layers), facts, ReferenceAgenda())


def test_a_layer_reads_what_the_layer_below_set():
    result = run(
        known(duties=frozenset({"towing"})),
        (rule("sustained", TOWS, then=[sets("sustained load", True)]),),
        (
            rule("gate", Flag("sustained load", True, **HERE)),
            rule("no gate", Flag("sustained load", False, **HERE)),
        ),
    )
    assert [firing.rule for firing in result.firings] == ["gate", "sustained"]
    assert result.facts["sustained load"] == Fact(
        "sustained load", True, Origin("rule", "sustained", PLACE, "basis")
    )


def test_a_number_is_set_by_arithmetic_on_ranges():
    share = Binary("*", number(0.9), ref("power goal"), **HERE)
    facts = known(duties=frozenset({"towing"}), power_goal=Range(100.0, 200.0))
    result = run(facts, (rule("needs", TOWS, then=[sets("fuel needed", share)]),))
    assert result.facts.value("fuel needed") == Range(90.0, 180.0)


def test_what_cannot_be_computed_stays_not_known():
    ratio = Binary("/", ref("power goal"), ref("power now"), **HERE)
    result = run(
        known(duties=frozenset({"towing"}), power_goal=1.0), (rule("r", TOWS, then=[sets("ratio", ratio)]),)
    )
    assert [firing.rule for firing in result.firings] == ["r"]
    assert result.firings[0].unknown == ("power now",)
    assert "ratio" not in result.facts


def test_rules_of_one_stage_that_differ_are_a_conflict():
    result = run(
        known(tune="hot"),
        (rule("a", HOT, then=[sets("risk", "high")]), rule("b", HOT, then=[sets("risk", "low")])),
        (rule("c", Known("risk", **HERE)),),
    )
    assert result.conflicts == (Conflict("risk", {"a": "high", "b": "low"}),)
    assert result.facts.value("risk") is None
    assert result.facts.disputed == {"risk"}
    assert [firing.rule for firing in result.firings] == ["a", "b"]


def test_a_rule_against_the_caller_is_a_conflict_also_in_a_later_layer():
    result = run(
        known(tune="hot", risk="low"),
        (rule("a", HOT, then=[sets("risk", "low")]),),
        (rule("b", HOT, then=[sets("risk", "high")]),),
    )
    assert result.conflicts == (Conflict("risk", {"answer": "low", "a": "low", "b": "high"}),)
    assert result.facts.value("risk") is None


def test_a_rule_that_contradicts_itself_is_a_conflict():
    result = run(known(tune="hot"), (rule("a", HOT, then=[sets("risk", "low"), sets("risk", "high")]),))
    assert [sorted(conflict.values.values()) for conflict in result.conflicts] == [["high", "low"]]


def test_rules_that_agree_are_none():
    result = run(
        known(tune="hot"), (rule("b", HOT, then=[sets("x", True)]), rule("a", HOT, then=[sets("x", True)]))
    )
    assert not result.conflicts
    assert result.facts["x"].origin.source == "a"


def test_assumptions_yield_to_answers_and_to_rules():
    layer = (
        rule(
            "a",
            HOT,
            then=[
                assumes("altitude", number(500.0)),
                assumes("grade", number(0.06)),
                assumes("room", "tight"),
            ],
        ),
        rule("b", HOT, then=[sets("grade", number(0.02))]),
    )
    result = run(known(tune="hot", altitude=1600.0), layer)
    assert result.facts["altitude"].origin == SAID
    assert result.facts["grade"].origin == Origin("rule", "b", PLACE, "basis")
    assert result.facts["room"] == Fact("room", "tight", Origin("assumed", "a", PLACE, "basis"))
    assert not result.conflicts


def test_assumptions_that_differ_are_a_conflict():
    layer = tuple(rule(name, HOT, then=[assumes("room", name)]) for name in ("tight", "roomy"))
    result = run(known(tune="hot"), layer)
    assert result.conflicts == (Conflict("room", {"roomy": "roomy", "tight": "tight"}),)


def test_candidates_each_have_their_verdict():
    facts = known(duties=frozenset({"towing"})).with_columns(
        {
            "housing flow margin": [0.02, 0.02, 0.30, np.nan],
            "wastegate": ["none", "internal", "none", "none"],
        },
        BUILT,
    )
    result = run(
        facts,
        (rule("tight", TOWS, some(TIGHT), NO_GATE), rule("tows", TOWS), rule("open", TOWS, none(TIGHT))),
    )
    masks = {firing.rule: None if firing.mask is None else firing.mask.tolist() for firing in result.firings}
    assert masks == {
        "tight": [True, False, False, False], "tows": None, "open": [False, False, True, False]
    }  # fmt: skip
    tight = next(firing for firing in result.firings if firing.rule == "tight")
    assert [[leaf.at(index) for leaf in tight.leaves] for index in range(4)] == [
        [1, 1, 1], [1, 1, 0], [1, 0, 1], [1, -1, 1]
    ]  # fmt: skip
    assert [fact.name for fact in tight.facts] == ["duties"]
    assert tight.columns == ("housing flow margin", "wastegate")


def test_a_fact_set_for_some_candidates_and_disputed_for_others():
    facts = known(tune="hot").with_columns({"a": [1.0, 1.0, 0.0, 0.0], "b": [1.0, 0.0, 1.0, 0.0]}, BUILT)
    high_a, high_b = compare("a", ">", 0.5), compare("b", ">", 0.5)
    layer = (
        rule("by a", high_a, then=[sets("fit", "good"), sets("score", ref("a"))]),
        rule("by b", high_b, then=[sets("fit", "bad"), sets("score", number(3.0))]),
        rule("otherwise", HOT, then=[assumes("fit", "unknown")]),
    )
    result = run(facts, layer)
    values = [
        (result.facts.at(index).value("fit"), result.facts.at(index).value("score")) for index in range(4)
    ]
    assert values == [
        (None, None), ("good", Range(1.0, 1.0)), ("bad", Range(3.0, 3.0)), ("unknown", None)
    ]  # fmt: skip
    disputed = result.facts.columns["score"]
    assert np.isnan(disputed.low).tolist() == np.isnan(disputed.high).tolist() == [True, False, False, True]
    assert result.conflicts == (
        Conflict("fit", {"by a": "good", "by b": "bad"}, (0,)),
        Conflict("score", {"by a": Range(1.0, 1.0), "by b": Range(3.0, 3.0)}, (0,)),
    )


def test_assumptions_that_differ_are_a_conflict_of_those_for_whom_nothing_firm_is_given():
    facts = known(tune="hot").with_columns({"a": [1.0, 0.0, 0.0], "b": [0.0, 0.0, 1.0]}, BUILT)
    high_a, high_b = compare("a", ">", 0.5), compare("b", ">", 0.5)
    layer = (
        rule("by a", high_a, then=[sets("fit", "good")]),
        rule("most", HOT, then=[assumes("fit", "poor")]),
        rule("some", high_b, then=[assumes("fit", "bad")]),
    )
    result = run(facts, layer)
    assert [result.facts.at(index).value("fit") for index in range(3)] == ["good", "poor", None]
    assert result.conflicts == (Conflict("fit", {"most": "poor", "some": "bad"}, (2,)),)


def test_values_of_different_kinds_are_a_conflict():
    facts = known(tune="hot", grade="steep").with_columns({"margin": [1.0, np.nan]}, BUILT)
    layer = (rule("a", HOT, then=[sets("margin", "wide"), sets("grade", number(0.06))]),)
    result = run(facts, layer)
    assert result.conflicts == (
        Conflict("grade", {"answer": "steep", "a": Range(0.06, 0.06)}),
        Conflict("margin", {"the shelf": Range(1.0, 1.0), "a": "wide"}, (0,)),
    )
    assert [result.facts.at(index).value("margin") for index in range(2)] == [None, "wide"]


@pytest.mark.parametrize("many", [3, 31, 32, 33, 64, 65, 130])
def test_of_very_many_conditions_each_counts_for_each_candidate(many):
    """Candidates that differ in the first or the last of more conditions than a machine's word has bits."""
    columns = {f"c{at}": np.array([at == 0, False, at == many - 1, True]) for at in range(many)}
    rules = tuple(rule(name, Flag(name, True, **HERE)) for name in columns)
    masks = {one.rule: one.mask.tolist() for one in run(known().with_columns(columns, BUILT), rules).firings}
    assert masks == {name: column.tolist() for name, column in columns.items()}


def test_no_candidates_at_all():
    facts = known(duties=frozenset({"towing"})).with_columns({"housing flow margin": np.zeros(0)}, BUILT)
    result = run(facts, (rule("tight", TOWS, TIGHT), rule("tows", TOWS)))
    assert [firing.rule for firing in result.firings] == ["tows"]


def test_a_hundred_conditions_on_the_candidates():
    columns = {f"n{index}": np.arange(8.0) + index for index in range(100)}
    facts = known(tune="hot").with_columns(columns, BUILT)
    result = run(
        facts, (rule("all", *(compare(name, ">=", index + 5.0) for index, name in enumerate(columns))),)
    )
    assert result.firings[0].mask.tolist() == [False] * 5 + [True] * 3


def test_hundreds_of_rules_of_one_layer_all_fire():
    facts = known(tune="hot", load=4.0).with_columns({"margin": [1.0, 9.0]}, BUILT)
    when = (compare("load", ">", 3.0), compare("load", ">", 5.0), compare("margin", ">", 5.0))
    layer = tuple(rule(f"r{index:03}", HOT, when[index % 3]) for index in range(300))
    fired = [(one.rule, None if one.mask is None else one.mask.tolist()) for one in run(facts, layer).firings]
    assert fired == [
        (one.name, None if index % 3 == 0 else [False, True]) for index, one in enumerate(layer) if index % 3 != 1
    ]


def test_against_the_naive_oracle():
    for seed in range(400):
        case = random_case(random.Random(seed))
        result = run_stage("judge", Layered(case.layers), case.facts, ReferenceAgenda())
        assert disagreement(case, result) is None, f"seed {seed}"


def test_firings_are_alike_when_they_say_the_same():
    """What tells two calls apart: which rule, resting on what, for whom, and how many points it takes."""
    plain = {"leaves": (Judged("as written", PLACE, np.array(1, np.int8)),), "facts": (Fact("tune", "hot", SAID),)}

    def fired(rule="a", place=PLACE, **more):
        return Firing(rule, place, **(plain | more))

    elsewhere = Place("rules.yaml", 2, 1)
    taken = Taken(np.array([2.0, 0.0]), np.array([4.0, 0.0]))
    mask = np.array([True, False])
    others = [
        fired("b"), fired(place=elsewhere), fired(facts=()), fired(columns=("heat",)), fired(unknown=("heat",)),
        fired(leaves=()), fired(mask=mask), fired(mask=~mask), fired(mask=np.array([[True, False]])),
        fired(leaves=(Judged("other words", PLACE, np.array(1, np.int8)),)),
        fired(leaves=(Judged("as written", elsewhere, np.array(1, np.int8)),)),
        fired(leaves=(Judged("as written", PLACE, np.array(0, np.int8)),)),
        fired(leaves=(Judged("as written", PLACE, np.array([1, 1], np.int8)),)),
        fired(points=taken), fired(points=Taken(taken.fewest, taken.fewest)),
        fired(points=Taken(taken.most, taken.most)),
    ]  # fmt: skip
    for one, other in itertools.product([fired(), *others], repeat=2):
        assert (one == other) == (one is other)
    again = [fired(mask=mask.copy()), fired(points=Taken(taken.fewest.copy(), taken.most.copy())), fired()]
    assert again == [fired(mask=mask), fired(points=taken), fired()]
    assert [hash(one) for one in again] == [hash(fired())] * 3
    (leaf,) = plain["leaves"]
    assert hash(leaf) == hash(replace(leaf, verdict=np.array(0, np.int8)))
    assert [value == "as written" for value in (fired(), leaf, taken, Joins([[1]]))] == [False] * 4


def test_joins_are_alike_when_they_join_the_same():
    joins = Joins([[3, 1, 3], [], [1]])
    assert joins.rules == ((1, 3), (), (1,))
    assert joins.free == (1,)
    assert joins.readers == {1: [0, 2], 3: [0]}
    same = Joins([(1, 3), (), (1,)])
    assert (joins == same, hash(joins) == hash(same)) == (True, True)
    assert joins != Joins([(1, 3), (1,), ()])


def test_whose_words_are_said():
    """Of who loses or gains fewer than two points nothing is said; nor of whom it did not fire for."""
    points = Taken(np.array([2.0, 1.9, -2.0, -1.9, 1.0, 0.0]), np.array([2.0, 1.9, -2.0, -1.9, 9.0, 0.0]))
    mask = np.array([True, True, True, True, True, False])
    running = Firing("a", PLACE, (), (), mask=mask, points=points)
    assert [running.speaks_of(row) for row in range(6)] == [True, False, True, False, False, False]
    assert [running.fired_for(row) for row in range(6)] == mask.tolist()
    assert (running.fired_for(None), running.speaks_of(None)) == (False, False)
    alike = Firing("a", PLACE, (), (), points=Taken(np.array(1.5), np.array(1.5)))
    assert (alike.fired_for(None), alike.speaks_of(None), alike.speaks_of(0)) == (True, True, False)
    plain = Firing("a", PLACE, (), (), mask=mask)
    assert [plain.speaks_of(row) for row in (None, 0, 5)] == [False, True, False]
    assert running.among(6).tolist() == mask.tolist()
    assert alike.among(3).tolist() == [True] * 3
    assert points.sure.tolist() == [2.0, 1.9, -2.0, -1.9, 1.0, 0.0]
    assert Taken(np.array([-3.0, -1.0]), np.array([-1.0, 2.0])).sure.tolist() == [-1.0, 0.0]


def test_order_of_rules_and_facts_is_of_no_account():
    for seed in range(100):
        chance = random.Random(seed)
        case = random_case(chance)
        one = run(case.facts, *case.layers)
        shuffled = replace(
            case,
            layers=tuple(tuple(chance.sample(layer, len(layer))) for layer in case.layers),
            shared=dict(chance.sample(list(case.shared.items()), len(case.shared))),
        )
        assert outcome(run(shuffled.facts, *shuffled.layers)) == outcome(one), f"seed {seed}"


def test_hash_seed_is_of_no_account():
    program = (
        "import random, test_inference_stage as t\n"
        "for seed in range(20):\n"
        "    case = t.random_case(random.Random(seed))\n"
        "    print(t.outcome(t.run(case.facts, *case.layers)))\n"
    )
    here = Path(__file__).parent
    said = []
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": f"{here}{os.pathsep}{here.parent}"}
        done = subprocess.run(
            [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
        )
        said.append(done.stdout)
    assert said[0].count("\n") == 20
    assert said[0] == said[1]


@pytest.mark.parametrize("stage", ["judge", "advise"])
def test_what_open_rules_wait_for(stage):
    heavy = compare("trailer weight", ">", 5_000.0)
    layer = (
        rule("tow", TOWS, heavy),
        rule("tow high", TOWS, heavy, compare("altitude", ">", 1_500.0)),
        rule("settled", TOWS, heavy, HOT),  # false whatever the weight is
        rule("either", some(TOWS, Flag("road use", True, **HERE))),  # true whatever the road use is
        rule("vague", TOWS, compare("grade", ">", 0.06)),  # answered, too roughly: no open question
    )
    facts = known(duties=frozenset({"towing"}), tune="mild", grade=Range(0.05, 0.07)).with_facts(
        [Fact("altitude", Range(500.0, 500.0), Origin("assumed", "sea level", Place("rules.yaml", 1, 1)))]
    )
    assert wanted(Layered((layer,)), stage, facts) == {
        "altitude": ["tow high"],
        "trailer weight": ["tow", "tow high"],
    }


def test_stages_that_have_not_run_want_nothing():
    assert wanted(Layered(((rule("tow", TOWS),),)), "demand", known(tune="hot")) == {}
