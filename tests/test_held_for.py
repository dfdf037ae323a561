"""What stands beside a recommendation, so that nothing told in one call speaks against another thing told in it: common
practice, no source, unless a source is named."""

import re
from dataclasses import replace

import pytest
from calls import DAILY, call, shop

from advisor import maps
from advisor.maps import CompressorMap
from advisor.sheet.aloud import aloud
from advisor.sheet.layout import plain
from advisor.sheet.text import written

TOWS = {
    "call kind": "new turbo",
    "request": "a 68",
    "duties": "daily and towing",
    "towing effort": "steady",
    "trailer weight": "14,000 lb",
    "power goal": "500 hp",
    "power measured at": "wheels",
    "power now": "350 hp",
    "displacement": "5.9 litre",
    "cylinders": "6",
    "rpm limit": "3200 rpm",
    "stock power": "305 hp",
    "tune": "hot",
    "injector size": "60 %",
    "grade": "6 %",
    "towing speed": "55 mph",
    "altitude": "9,000 ft",
    "summer temperature": "90 F",
    "manifold foot": "T3",
    "vehicle kind": "pickup",
    "road use": "yes",
    "present exhaust temperature": "1,200 F",
}
CLASS = {
    **DAILY,
    "request": "a 66",
    "duties": "sled",
    "displacement": "5.9 litres",
    "cylinders": "6",
    "rpm limit": "4200",
    "tune": "competition",
    "injector size": "200 over",
    "injection pump": "larger",
    "class rule": "inducer limit",
    "inducer limit": "66 mm",
    "groove rule": "it has to be a smooth bore",
    "power goal": "950 hp",
}


def told(answers: dict[str, str]) -> str:
    return " ".join(written(call(answers), shop()).split())


def test_the_place_that_the_figures_hold_for_stands_with_the_recommendation():
    assert "Its figures hold for 9,000 ft and 90 °F in summer." in told(TOWS)
    guessed = told({fact: words for fact, words in TOWS.items() if fact != "altitude"})
    assert "Its figures hold for 1,000 ft (nobody said) and 90 °F in summer." in guessed
    heard = " ".join(plain(list(aloud(call(TOWS), shop())), 80).split())
    assert "Its figures hold for 9,000 ft" in heard


def test_a_goal_at_the_wheels_is_told_once_as_he_named_it():
    """He asked for 500; answers that speak of the crank alone seem to be about another goal."""
    assert told(TOWS).count("is the 500 hp at the wheels that he asked for") == 1
    assert "at the wheels that he asked for" not in told({**TOWS, "power measured at": "crank"})


def test_nothing_is_given_away_only_where_no_duty_is_short_of_anything():
    late = call({**TOWS, "today's trouble": "it gets hot on the grade"})
    assert "daily-lights-too-late" in {line.rule for line in late.say}
    assert late.trade_words == "Of what there is the same one comes first for each of his duties."
    easy = {**TOWS, "power goal": "330 hp", "power measured at": "crank", "altitude": "500 ft", "tune": "stock",
            "injector size": "0 %", "power now": "305 hp", "trailer weight": "8,000 lb"}  # fmt: skip
    outcome = call({**easy, "boost wanted by": "2200 rpm"})
    assert outcome.trade_words == "His duties want the same set-up; nothing is given away."
    assert "daily-lights-too-late" not in {line.rule for line in outcome.say}


def test_the_hottest_and_the_grade_are_told_apart():
    notes = {figure.name: figure.note for figure in call(TOWS).recommended.figures}
    assert notes["exhaust temperature"] == "where hottest with the trailer on"
    assert notes["towing exhaust temperature"] == "on the grade"


def test_where_the_class_allows_nothing_that_comes_near_none_is_offered_and_the_strongest_named():
    outcome = call(CLASS)
    assert outcome.verdict == "nothing fits"
    assert outcome.recommended is None
    assert outcome.alternatives == ()
    assert outcome.verdict_words.startswith("Nothing is offered: the shop has no wheel in his class")
    assert "of 950 hp at the crank" in outcome.verdict_words
    assert call({**CLASS, "power goal": "640 hp"}).verdict == "recommended"
    assert call({**CLASS, "class rule": "open"}).verdict == "recommended"


def test_a_part_that_lights_later_in_its_housing_is_told_with_one_that_lights_sooner():
    by_housing = re.compile(r"When it lights hangs on its (?:turbine and )?housing: in a ")
    assert any(by_housing.search(line) for line in call(TOWS).requested_words)
    assert not any("When it lights hangs on" in line for line in call({**TOWS, "request": "a 60"}).requested_words)


@pytest.mark.parametrize("limit", [112_000.0, float("inf")])
def test_past_the_fastest_line_the_speed_that_the_wheel_may_turn_is_told(limit):
    line = ((0.1, 2.0), (0.2, 1.5))
    chart = CompressorMap("a turbo", line, ((109_000.0, line),), (("daily", line),), ("daily",))
    told = maps.legend(replace(chart, limit=limit))[-1]
    assert told.startswith("Past the fastest line of the map, 109,000 rpm")
    assert ("the wheel itself may turn 112,000 rpm" in told) == (limit == 112_000.0)
