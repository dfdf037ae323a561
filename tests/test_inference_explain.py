"""How a conclusion came about, why a rule did not fire, and what it would take."""

from dataclasses import dataclass, replace

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
    known,
    none,
    number,
    ref,
    rule,
    sets,
    some,
)

from advisor.inference.engines import ReferenceAgenda
from advisor.inference.explain import how, needed, points_words, why_not, words
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import run_stage
from advisor.knowledge.conditions import Compare, Flag, Includes, Is, Known
from advisor.knowledge.places import Place
from advisor.knowledge.rules import Penalise
from advisor.knowledge.slopes import Slope
from advisor.knowledge.vocabulary import FactDef
from advisor.quantities import Range

TOWS = Includes("duties", "towing", place=Place("rules.yaml", 4, 7), text="duties include towing")
HEAVY = compare("trailer weight", ">", 5_000.0)
SUSTAINED = Flag("sustained load", True, place=Place("rules.yaml", 9, 7), text="sustained load is yes")
NO_GATE = Is("wastegate", frozenset({"none"}), place=Place("rules.yaml", 10, 7), text="wastegate is none")


def fact_def(name, kind="choice", quantity="", unit=""):
    return FactDef(
        name,
        "topic",
        "asked",
        kind,
        quantity,
        unit,
        None,
        None,
        None,
        (),
        "",
        "",
        "",
        1.0,
        1.0,
        None,
        0,
        Place("f", 1, 1),
    )


VOCABULARY = {
    one.name: one
    for one in (
        fact_def("duties", "several"),
        fact_def("trailer weight", "number", "mass", "lb"),
        fact_def("sustained load", "yes/no"),
        fact_def("wastegate"),
    )
}


@dataclass(frozen=True)
class Shop:
    rules: tuple
    vocabulary: dict


LAYERS = (
    (rule("weight", TOWS, then=[assumes("trailer weight", number(14_000 * 0.45359237))]),),
    (rule("load", TOWS, HEAVY, then=[sets("sustained load", True)], place=Place("rules.yaml", 3, 3)),),
    (rule("gate", SUSTAINED, NO_GATE, place=Place("rules.yaml", 8, 3)),),
)
SHOP = Shop(tuple(one for layer in LAYERS for one in layer), VOCABULARY)
CALL = (
    FactBase()
    .with_facts([Fact("duties", frozenset({"towing"}), Origin("answer", "pulls a fifth wheel"))])
    .with_columns({"wastegate": ["none", "internal", None]}, BUILT)
)


def told():
    result = run_stage("judge", Layered(LAYERS), CALL, ReferenceAgenda())
    return result.facts, result.firings


def test_how_goes_down_to_the_caller_s_own_words():
    step = how("gate", *told(), SHOP, candidate=0)
    assert step.lines() == [
        "conclusion gate: rule gate; because [basis] (rules.yaml:8:3)",
        "  - sustained load is yes: true",
        "  - wastegate is none: true",
        "  sustained load is yes: rule load; because [basis] (rules.yaml:3:3)",
        "    - duties include towing: true",
        "    - trailer weight > 5000: true",
        '    duties is towing: the caller said "pulls a fifth wheel"',
        "    trailer weight is 14,000 lb: assumed by rule weight; because [basis] (rules.yaml:1:1)",
        "      - duties include towing: true",
        "      duties is towing: as explained above",
        "  wastegate is none: from the catalogue: the shelf",
    ]


def test_how_tells_which_branch_held_and_which_did_not():
    light = compare("trailer weight", "<", 5_000.0)
    told = Known("duties", False, place=Place("rules.yaml", 5, 7), text="duties is known")
    layered = Layered(((rule("load", some(light, told, none(TOWS, HEAVY)), HEAVY, none(light, NO_GATE)),),))
    weight = Fact("trailer weight", Range(6_000.0, 6_000.0), Origin("answer", "six tonnes"))
    call = FactBase(dict(CALL.facts)).with_facts([weight])
    result = run_stage("judge", layered, call.with_columns({"wastegate": ["internal"]}, BUILT), ReferenceAgenda())
    step = how("load", result.facts, result.firings, Shop(layered.rows[0], VOCABULARY), candidate=0)
    assert step.lines()[1:11] == [
        "  - any of these: true",
        "    - trailer weight < 5000: false",
        "    - duties is known: true",
        "    - none of these: false",
        "      - duties include towing: true",
        "      - trailer weight > 5000: true",
        "  - trailer weight > 5000: true",
        "  - none of these: true",
        "    - trailer weight < 5000: false",
        "    - wastegate is none: false",
    ]


def test_how_of_what_did_not_come_about():
    assert how("gate", *told(), SHOP, candidate=1) is None
    assert how("never heard of", *told(), SHOP) is None


def test_how_over_all_candidates_says_that_they_differ():
    lines = how("gate", *told(), SHOP).lines()
    assert "  - wastegate is none: not yet known" in lines
    assert "  wastegate: differs from candidate to candidate" in lines


@pytest.mark.parametrize(
    ("origin", "expected"),
    [
        (Origin("answer", "a 64"), 'the caller said "a 64"'),
        (Origin("computed", "gas law", None, "handbook"), "computed: gas law [handbook]"),
        (Origin("catalogue", ""), "from the catalogue"),
        (Origin("catalogue", "the catalogue"), "from the catalogue"),
        (Origin("catalogue", "wheels", None, "as built"), "from the catalogue: wheels [as built]"),
        (Origin("assumed", "typical"), "assumed: typical"),
        (Origin("assumed", "typical", Place("f.yaml", 3, 4), "practice"), "assumed: typical [practice] (f.yaml:3:4)"),
        (Origin("rule", "elsewhere", None, "practice"), "rule elsewhere [practice]"),
        (Origin("rule", "of another base"), "rule of another base"),
    ],
)
def test_every_origin_has_words(origin, expected):
    facts = FactBase().with_facts([Fact("tune", "hot", origin)])
    assert how("tune", facts, (), SHOP).lines() == [f"tune is hot: {expected}"]


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("trailer weight", Range(4535.9237, 5443.10844), "10,000 to 12,000 lb"),
        ("no such fact", Range(1.0, 2.0), "1 to 2"),
        ("no such fact", Range(1.5, 1.5), "1.5"),
        ("wastegate", Range(1.0, 2.0), "1 to 2"),
        ("sustained load", False, "no"),
        ("sustained load", True, "yes"),
        ("duties", frozenset({"towing", "daily"}), "daily, towing"),
        ("duties", frozenset(), "none"),
        ("wastegate", "internal", "internal"),
    ],
)
def test_values_in_words(name, value, expected):
    assert words(name, value, VOCABULARY) == expected


HEAT = replace(ref("heat"), text="heat")


@pytest.mark.parametrize(
    ("ends", "heat", "expected"),
    [
        ([(1, 0), (2, 8)], Range(1.25, 1.25), "2 of 8 points off, at 1.25"),
        ([(1, 0), (2, 8)], Range(1.25, 1.75), "2 to 6 of 8 points off, at 1.25 to 1.75"),
        ([(1, 0), (2, 8)], Range(3.0, 9.0), "8 of 8 points off, at 3 to 9"),
        ([(1, 0), (2, 8)], Range(1.001, 1.001), "less than 0.1 of 8 points off, at 1"),
        ([(1, 0), (2, 8)], Range(1.00625, 1.00625), "0.1 of 8 points off, at 1.01"),
        ([(1, 0), (2, 8)], Range(0.5, 0.5), "0 of 8 points off, at 0.5"),
        ([(1, 0), (2, -8)], Range(0.5, 0.5), "0 of 8 points for it, at 0.5"),
        ([(1, 0), (2, -8)], Range(1.5, 2.0), "4 to 8 of 8 points for it, at 1.5 to 2"),
        ([(1, -4), (2, 8)], Range(1.0, 1.0), "4 of 8 points for it, at 1"),
        ([(1, -4), (2, 8)], Range(1.0, 2.0), "4 to 8 of 8 points off, at 1 to 2"),
        ([(1, 0), (2, 8)], None, "heat is not known, so no points"),
    ],
)
def test_points_that_run_with_a_figure_in_words(ends, heat, expected):
    pairs = tuple((number(float(at)), float(points)) for at, points in ends)
    slope = Slope(HEAT, pairs, "", "ratio", False, "", place=PLACE, text="as written")
    facts = FactBase() if heat is None else FactBase().with_facts([Fact("heat", heat, SAID)])
    assert points_words(rule("r", TOWS, then=[Penalise(slope.most, slope, place=PLACE)]), facts) == expected
    bare = replace(slope, quantity="")  # without a unit of its own the figure isn't shown
    expected = expected.partition(", at ")[0]
    assert points_words(rule("r", TOWS, then=[Penalise(slope.most, bare, place=PLACE)]), facts) == expected


@pytest.mark.parametrize(
    ("unit", "quantity", "heat", "expected"),
    [
        ("°F", "temperature", Range(-5.0, -5.0), "5 of 8 points off, at 9 °F less"),
        ("°F", "temperature", Range(5.0, 5.0), "0 of 8 points off, at 9 °F more"),
        ("", "ratio", Range(-5.0, -5.0), "5 of 8 points off, at -5"),
    ],
)
def test_points_that_run_with_a_difference_in_words(unit, quantity, heat, expected):
    """5 K are 9 °F; a difference of bare numbers is told as it is."""
    pairs = ((number(-8.0), 8.0), (number(0.0), 0.0))
    slope = Slope(HEAT, pairs, unit, quantity, True, "", place=PLACE, text="as written")
    facts = FactBase().with_facts([Fact("heat", heat, SAID)])
    assert points_words(rule("r", TOWS, then=[Penalise(slope.most, slope, place=PLACE)]), facts) == expected


def test_fixed_points_in_words():
    given = [Penalise(5.0, place=PLACE), sets("sustained load", True), Penalise(-2.5, place=PLACE)]
    assert points_words(rule("r", TOWS, then=given), FactBase()) == "5 points off, 2.5 points for it"
    assert points_words(rule("r", TOWS), FactBase()) == ""


def test_how_tells_the_points_only_where_a_candidate_is_spoken_of():
    taking = rule("gate", NO_GATE, then=[Penalise(5.0, place=PLACE)])
    result = run_stage("judge", Layered(((taking,),)), CALL, ReferenceAgenda())
    shop = Shop((taking,), VOCABULARY)
    told = [how("gate", result.facts, result.firings, shop, candidate).lines() for candidate in (0, None)]
    assert told == [
        [
            "conclusion gate: rule gate; because [basis] (rules.yaml:1:1)",
            "  5 points off",
            "  - wastegate is none: true",
            "  wastegate is none: from the catalogue: the shelf",
        ],
        [
            "conclusion gate: rule gate; because [basis] (rules.yaml:1:1)",
            "  - wastegate is none: not yet known",
            "  wastegate: differs from candidate to candidate",
        ],
    ]
    # A rule that has gone since leaves what was judged, one condition after the other.
    assert how("gate", result.facts, result.firings, Shop((), VOCABULARY), 0).lines() == [
        "conclusion gate: rule gate (rules.yaml:1:1)",
        "  - wastegate is none: true",
        "  wastegate is none: from the catalogue: the shelf",
    ]


def test_words_that_are_called_like_a_rule_are_words_all_the_same():
    facts, firings = told()
    facts = facts.with_facts([Fact("tune", "hot", Origin("answer", "gate"))])
    assert how("tune", facts, firings, SHOP, 0).lines() == ['tune is hot: the caller said "gate"']


def test_how_says_what_nobody_knows_of_the_call_and_of_the_candidate():
    layered = Layered(((rule("either", some(TOWS, HEAVY, NO_GATE)),),))
    result = run_stage("judge", layered, CALL, ReferenceAgenda())
    assert how("either", result.facts, result.firings, Shop(layered.rows[0], VOCABULARY), 2).lines() == [
        "conclusion either: rule either; because [basis] (rules.yaml:1:1)",
        "  - any of these: true",
        "    - duties include towing: true",
        "    - trailer weight > 5000: not yet known",
        "    - wastegate is none: not yet known",
        '  duties is towing: the caller said "pulls a fifth wheel"',
        "  wastegate is not known: not known for this candidate",
        "  trailer weight is not known: nobody has answered or set it",
    ]


GATE = rule("gate", TOWS, some(HEAVY, SUSTAINED), none(NO_GATE, Flag("road use", True, **HERE)))


def test_why_not_names_what_is_false_and_what_is_open_with_the_values():
    facts = known(duties=frozenset({"daily"}), trailer_weight=4_535.9237, wastegate="none")
    answer = why_not(GATE, facts, VOCABULARY)
    assert answer.lines() == [
        "rule gate does not fire (rules.yaml:1:1)",
        "  - duties include towing: not so (duties: daily)",
        "  - trailer weight > 5000: not so (trailer weight: 10,000 lb)",
        "  - sustained load is yes: not yet known (sustained load: not known)",
        "  - wastegate is none: so, and must not be (wastegate: none)",
        "  - as written: not yet known (road use: not known)",
    ]
    assert [(one.verdict, one.wanted) for one in answer.hindrances] == [
        (0, 1),
        (0, 1),
        (-1, 1),
        (1, 0),
        (-1, 0),
    ]


def test_why_not_leaves_out_what_does_not_hinder():
    facts = known(duties=frozenset({"towing"}), trailer_weight=9_000.0, road_use=False)
    assert why_not(GATE, facts, VOCABULARY).lines() == [
        "rule gate is still open (rules.yaml:1:1)",
        "  - wastegate is none: not yet known (wastegate: not known)",
    ]
    settled = known(
        duties=frozenset({"towing"}), trailer_weight=9_000.0, road_use=False, wastegate="internal"
    )
    assert why_not(GATE, settled, VOCABULARY).lines() == ["rule gate does fire (rules.yaml:1:1)"]


def test_why_not_says_that_two_sources_differ():
    facts = FactBase().with_facts(
        [Fact("duties", frozenset({"daily"}), SAID), Fact("duties", frozenset({"towing"}), SAID)]
    )
    assert why_not(rule("tow", TOWS), facts, VOCABULARY).lines()[1] == (
        "  - duties include towing: not yet known (duties: two sources differ)"
    )


def test_why_not_for_one_candidate():
    one = rule("open", NO_GATE)
    assert why_not(one, CALL, VOCABULARY, candidate=1).lines()[1] == (
        "  - wastegate is none: not so (wastegate: internal)"
    )
    with pytest.raises(ValueError, match="say for which candidate"):
        why_not(one, CALL, VOCABULARY)


def test_needed_names_the_facts_that_could_complete_a_rule():
    facts = known(duties=frozenset({"towing"}), trailer_weight=Range(4_000.0, 6_000.0))
    want = needed(GATE, facts)
    assert (want.possible, want.facts, want.vague) == (
        True, ("road use", "sustained load", "wastegate"), ("trailer weight",)
    )  # fmt: skip
    assert want.lines()[1:] == [
        "  - road use: not known",
        "  - sustained load: not known",
        "  - wastegate: not known",
        "  - trailer weight: known too roughly",
    ]


def test_needed_knows_when_a_rule_is_past_hope_or_complete():
    past = needed(GATE, known(duties=frozenset({"daily"})))
    assert (past.possible, past.facts, past.lines()) == (
        False, (), ["rule gate can't fire any more with what is known"]
    )  # fmt: skip
    done = known(duties=frozenset({"towing"}), trailer_weight=9_000.0, road_use=False, wastegate="internal")
    assert needed(GATE, done).lines() == ["rule gate has all it needs"]


def test_of_what_keeps_a_rule_open_only_the_vague_is_named_vague():
    wide = known(duties=frozenset({"towing"}), trailer_weight=Range(4_000.0, 6_000.0), sustained_load=True)
    heavier = Compare(ref("trailer weight"), ">", ref("load"), **HERE)
    want = needed(rule("r", heavier, TOWS), wide.with_facts([Fact("load", Range(5_000.0, 5_000.0), SAID)]))
    assert (want.facts, want.vague) == ((), ("trailer weight",))


def test_is_known_may_still_turn():
    assert needed(rule("r", Known("altitude", **HERE)), known(tune="hot")).facts == ("altitude",)
    assert needed(rule("r", Known("altitude", True, **HERE)), known(altitude=5.0)).possible is False
    assert needed(rule("r", none(Known("altitude", **HERE))), known(tune="hot")).facts == ("altitude",)
    assert needed(rule("r", none(Known("altitude", **HERE))), known(altitude=5.0)).possible is False


def test_needed_for_some_candidates():
    facts = known(tune="hot").with_columns({"margin": np.array([1.0, 9.0])}, BUILT)
    far = compare("margin", ">", 20.0)
    near = compare("margin", ">", 5.0)
    assert needed(rule("r", far, TOWS), facts).possible is False
    assert needed(rule("r", near, TOWS), facts).facts == ("duties",)


def test_how_says_what_was_not_known_when_it_was_assumed_and_asks_nothing_twice():
    unasked = Known("altitude", True, **HERE)
    first = rule("take-sea-level", unasked, some(unasked, TOWS), then=(assumes("altitude", number(0.0)),))
    facts = known(duties=frozenset({"towing"}))
    result = run_stage("judge", Layered(((first,),)), facts, ReferenceAgenda())
    lines = how("altitude", result.facts, result.firings, Shop((first,), VOCABULARY)).lines()
    assert lines[0].startswith("altitude is ")
    assert "assumed by rule take-sea-level" in lines[0]
    assert len([line for line in lines if line.startswith("  - as written: ")]) == 1
    assert "  altitude was not known then: nobody had answered it" in lines
    assert not any("altitude is not known" in line for line in lines)
