"""What is told of a turbo over ranges that the caller gave: differences as a band or with where they turn, what to mind
in a part of them, and where another would come first. Each held against calls with single figures."""

import math
import re
from dataclasses import dataclass

import pytest
from calls import shop
from test_spans import MIXED, TOW, told

from advisor.comparing import LATE as LATE_BY
from advisor.outcome import Consultation, Option
from advisor.sheet.html import call_sheet
from advisor.sheet.text import written


@dataclass(frozen=True)
class Told:
    """A call with a range, and the same with one figure of it."""

    base: dict[str, str]
    fact: str
    low: float
    high: float
    unit: str

    @property
    def outcome(self) -> Consultation:
        return told({**self.base, self.fact: f"{self.low:g} to {self.high:g} {self.unit}"})

    def at(self, figure: float) -> Consultation:
        return told({**self.base, self.fact: f"{figure:g} {self.unit}"})


TRAILER = Told(MIXED, "trailer weight", 6_000.0, 16_000.0, "lb")
ALTITUDE = Told(MIXED, "altitude", 0.0, 9_000.0, "ft")
GOAL = Told(MIXED, "power goal", 440.0, 600.0, "hp")
LATE = Told(TOW, "boost wanted by", 1_500.0, 2_300.0, "rpm")


def differs(outcome: Consultation, code: str, against: str, fact: str) -> float:
    mine, other = (outcome.facts_of(each)[fact].value.mid for each in (code, against))
    return mine - other


def option_with(outcome: Consultation, field: str, pattern: str) -> tuple[Option, re.Match[str]]:
    for option in (outcome.recommended, *outcome.alternatives):
        for line in getattr(option, field):
            if found := re.search(pattern, line):
                return option, found
    raise AssertionError(f"nobody is told {pattern} in {field}")


def number(words: str) -> float:
    return float(words.replace(",", ""))


def test_a_difference_that_runs_over_his_range_is_told_with_both_ends() -> None:
    """Calls with single figures all over nine tenths of his range lie between the ends, and come near them."""
    outcome = ALTITUDE.outcome
    option, words = option_with(outcome, "loses", r"makes (\d+) to (\d+) hp less at the strip")
    ends = [
        -differs(ALTITUDE.at(height), option.code, outcome.recommended.code, "strip power") / 745.7
        for height in (450.0, 1_800.0, 3_150.0, 4_500.0, 5_850.0, 6_750.0, 8_550.0)
    ]
    assert [min(ends), max(ends)] == pytest.approx([number(words[1]), number(words[2])], rel=0.1)
    assert words[0] in written(outcome, shop())


def test_a_difference_that_turns_says_so_and_where() -> None:
    """The wider turbine is cooler on the grade behind a heavy trailer, and hotter behind a light one."""
    outcome = TRAILER.outcome
    option, words = option_with(
        outcome,
        "gains",
        r"stays up to \d+ °F cooler .*, but gets up to \d+ °F hotter if the trailer weight is under about ([\d,]+) lb",
    )
    edge = number(words[1])
    heat = "towing exhaust temperature"
    below, above = (
        differs(TRAILER.at(weight), option.code, outcome.recommended.code, heat)
        for weight in (edge - 1_500.0, 15_500.0)
    )
    assert below > 14.0 > 0.0 > above
    aloud = " ".join(outcome.requested_words)
    assert "hotter if the trailer weight is under about" in aloud


def test_a_range_that_moves_nothing_is_told_as_one_figure() -> None:
    one, other = (told({**MIXED, "summer temperature": words}) for words in ("95 F", "94 to 96 F"))
    for mine, theirs in zip(one.alternatives, other.alternatives, strict=True):
        assert (mine.gains, mine.loses, mine.to_mind) == (theirs.gains, theirs.loses, theirs.to_mind)


def test_another_that_would_come_first_in_a_part_of_his_range_is_told_to() -> None:
    outcome = GOAL.outcome
    option, words = option_with(outcome, "hangs", r"If the power goal is over about (\d+) hp, it comes before the one")
    past = GOAL.at(number(words[1]) + 20.0)
    points = {code: score for code, _, score in past.kept}
    assert points[option.code] > points[outcome.recommended.code]
    assert differs_in_points(GOAL.at(520.0), option.code, outcome.recommended.code) < 0.0
    assert words[0] in " ".join(written(outcome, shop()).split())
    assert words[0] in " ".join(call_sheet(outcome, shop()).split())


def differs_in_points(outcome: Consultation, code: str, against: str) -> float:
    points = {code: score for code, _, score in outcome.kept}
    return points[code] - points[against]


def lights_late(call: Consultation, code: str, wanted: float) -> bool:
    """Whether a turbo lights later than wanted [rpm], whether or not it is told in that call."""
    return bool(call.facts_of(code).value("spool rpm").mid > wanted * math.pi / 30.0 + LATE_BY)


def test_what_has_to_be_minded_in_a_part_of_his_range_says_in_which() -> None:
    outcome = LATE.outcome
    option, words = option_with(
        outcome, "to_mind", r"later than wanted.*; not so if the boost wanted by is over about ([\d,]+) rpm"
    )
    edge = number(words[1])

    def late(figure: float) -> bool:
        return lights_late(LATE.at(figure), option.code, figure)

    assert late(edge - 60.0)
    assert not late(edge + 60.0)


def test_who_wants_it_earlier_than_the_middle_hears_that_it_comes_late() -> None:
    """At the middle it lights within what is felt of the rpm wanted; who would have it later never waits longer."""
    wanted = Told(TOW, "boost wanted by", 1_700.0, 2_400.0, "rpm")
    option, words = option_with(
        wanted.outcome, "to_mind", r"comes up to boost late if the boost wanted by is under about ([\d,]+) rpm$"
    )
    edge = number(words[1])

    def late(figure: float) -> bool:
        return lights_late(wanted.at(figure), option.code, figure)

    assert late(edge - 60.0)
    assert not late(edge + 60.0)


def test_what_is_minded_at_the_middle_says_where_it_is_not_so() -> None:
    outcome = Told(MIXED, "power goal", 500.0, 640.0, "hp").outcome
    hot = r"(?:runs a little|gets too) hot: .*; not so if the power goal is under about (\d+) hp"
    _, words = option_with(outcome, "to_mind", hot)
    assert 500.0 < number(words[1]) < 640.0


def test_what_is_never_below_nothing_has_no_band_below_it() -> None:
    outcome = told({**MIXED, "power goal": "440 to 600 hp", "trailer weight": "6,000 to 16,000 lb"})
    for option in (outcome.recommended, *outcome.alternatives):
        band = next(figure.band for figure in option.figures if figure.name == "gate share")
        assert 0.0 <= band.low < band.high


def test_who_speaks_metric_is_told_both_ends_in_his_units() -> None:
    masses = {"trailer weight": "2,700 to 7,300 kg", "vehicle weight": "3400 kg", "tow rating": "6,000 kg"}
    heat = {"summer temperature": "35 C", "present exhaust temperature": "700 C"}
    outcome = told({**MIXED, **masses, **heat, "altitude": "400 m", "towing speed": "88 km/h"})
    lines = [line for option in outcome.alternatives for line in (*option.gains, *option.loses)]
    assert any(re.search(r"\d+ to \d+ °C (hotter|cooler)", line) for line in lines)
    assert not any("°F" in line for line in lines)
