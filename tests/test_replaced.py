"""Figures that stand in the place of another one, and figures that have to be reckoned from what is told."""

import math

import pytest
from calls import shop
from test_callers import expected

from advisor.hearing import understand
from advisor.units import Range


def offered(fact: str, words: str) -> tuple[Range | None, str]:
    """What is heard, and the doubt with which it is offered."""
    heard = understand(shop().vocabulary[fact], words)
    assert heard.fact is None or isinstance(heard.fact.value, Range)
    return (None if heard.fact is None else heard.fact.value), heard.doubt


def is_about(value: Range | None, fact: str, wanted: str) -> bool:
    meant = expected(shop().vocabulary[fact], wanted)
    return value is not None and all(
        math.isclose(one, other, rel_tol=2e-3) for one, other in ((value.low, meant.low), (value.high, meant.high))
    )


@pytest.mark.parametrize(
    ("fact", "words", "wanted"),
    [
        ("tyre diameter", "I moved up from thirty-ones to thirty-fives when I lifted it", "35"),
        ("tyre diameter", "swapped the thirty-ones for thirty-threes", "33"),
        ("tyre diameter", "took the 35s off, back on 33s", "33"),
        ("axle ratio", "had 3.55s, put 4.10s in", "4.10"),
        ("axle ratio", "it left the factory with 3.42 and now has 4.10", "4.10"),
        ("rpm limit", "it'll spin 4,200 but I shift at 3,600", "3600"),
        ("rpm limit", "I raised it from 3,200 to 4,000", "4000"),
        ("present boost", "three bar absolute, two on the gauge", "2 bar"),
        ("present boost", "gauge reads three bar but that's absolute, so two", "2 bar"),
        ("power now", "made 380 last year and 430 this year after injectors", "430"),
        ("trailer weight", "moved up from a ten thousand pound trailer to fourteen", "14000"),
        ("altitude", "moved here from sea level to six thousand feet", "6000"),
        ("stall speed", "had a 2,200, threw a 2,600 in", "2600"),
        ("stock power", "it was 325 stock, makes 450 now", "325"),
        ("boost wanted by", "it lights at 2,400 now, I want 1,800", "1800"),
        # what is taken back as a figure of something else
        ("trailer weight", "twenty-one thousand, no that's truck and trailer, the trailer is thirteen five", "13500"),
        ("present boost", "forty-two, no, that's drive pressure. boost is thirty", "30"),
        ("working rpm low", "two thousand, no that's empty. with the trailer it's seventeen hundred", "1700"),
        ("stock power", "three fifty, no, that's after the tune. It left the factory with two seventy-five", "275"),
        # told with the other one of truck and trailer
        ("trailer weight", "21,000 on the scale with everything, truck's 8,000 of it", "13000"),
        ("trailer weight", "combined was 25,200 and the pickup goes 8,700 alone", "16500"),
        ("trailer weight", "twenty-two thousand all up, take off eight for the truck", "14000"),
        ("vehicle weight", "scaled 17,400 with the trailer on, trailer's 10,000", "7400"),
        ("vehicle weight", "22,000 combined, the truck's 8,200 of it", "8200"),
    ],
)
def test_the_figure_that_stands_is_offered(fact: str, words: str, wanted: str) -> None:
    value, doubt = offered(fact, words)
    assert is_about(value, fact, wanted), value
    assert doubt


@pytest.mark.parametrize(
    ("fact", "words", "wanted"),
    [
        ("power goal", "from 500 to 550 would be fine", "500..550"),
        ("tyre diameter", "33 to 35 inches", "33..35"),
        ("towing speed", "from 55 to 65", "55..65"),
        ("present boost", "it was 35 when I got it", "35"),
        ("axle ratio", "3.73 front and rear", "3.73"),
        ("working rpm high", "twenty-eight, twenty-nine hundred when I lean on it out of the valley", "2800..2900"),
        ("working rpm low", "14, 1500 before she'll pull with the float on", "1400..1500"),
        ("present exhaust temperature", "twelve, twelve fifty when I pull the grade with the load on", "1200..1250"),
        ("stock power", "245 I want to say, 245 or near there", "~245"),
        ("present boost", "thirty or right in there", "~30"),
        ("displacement", "four hundred cubes, it's been bored so don't quote me on that", "~400 cu in"),
        ("present boost", "I let off before it hits forty so never above", "<40"),
        ("present exhaust temperature", "I get out of it before 1,400 so it never goes over that", "<1400"),
    ],
)
def test_where_none_is_replaced_it_is_as_said(fact: str, words: str, wanted: str) -> None:
    value, _ = offered(fact, words)
    assert is_about(value, fact, wanted), value


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("present boost", "thirty in third and forty-five in fifth"),
        ("power now", "four ten on one dyno, three seventy on his"),
        ("altitude", "the house is at 4,200, the lake we go to is at 7,900"),
        ("towing speed", "sixty up the pass, seventy otherwise"),
    ],
)
def test_a_figure_beside_another_that_could_be_meant_waits_for_a_yes(fact: str, words: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    value = heard.fact.value if heard.fact is not None else None
    assert heard.doubt or heard.again or (isinstance(value, Range) and not value.exact)


@pytest.mark.parametrize(
    ("fact", "words", "wanted"),
    [
        # ISO 4000-1: twice the width by the height of the sidewall in percent of it, and the rim in inches:
        # 2 x 235 x 0.85 + 16 x 25.4 mm
        ("tyre diameter", "two thirty-five eighty-five sixteens", "805.9 mm"),
        ("tyre diameter", "265/70 on seventeen", "802.8 mm"),
        ("tyre diameter", "two-eighty-five, seventy, seventeen", "830.8 mm"),
        ("tyre diameter", "three oh five seventy sixteen", "833.4 mm"),
        ("tyre diameter", "245/70R19.5", "838.3 mm"),
        ("tyre diameter", "35 twelve fifty", "35"),
        ("tyre diameter", "thirty-two by eleven-fifty on fifteens", "32"),
        ("axle ratio", "41 teeth on the crown wheel and 11 on the pinion", "3.727"),
        ("axle ratio", "37 over 10", "3.7"),
        ("axle ratio", "four ten", "4.1"),
        ("compression ratio", "16 to 18", "16..18"),
        ("present exhaust temperature", "700, my gauge reads in C", "700 °C"),
        ("present boost", "1.6 on the metric dial", "1.6 bar"),
        ("trailer weight", "three and a half ton, kilos I mean", "3500 kg"),
        ("trailer weight", "two tonne six", "2600 kg"),
        ("vehicle weight", "seven six", "7600"),
    ],
)
def test_a_figure_is_reckoned_from_what_stands_on_the_part(fact: str, words: str, wanted: str) -> None:
    value, doubt = offered(fact, words)
    assert is_about(value, fact, wanted), value
    assert not doubt


def test_tons_that_may_be_metric_are_asked_about() -> None:
    value, doubt = offered("vehicle weight", "three ton four with all the camping gear in")
    assert is_about(value, "vehicle weight", "3400 kg")
    assert doubt


def test_a_figure_in_a_story_is_metric_where_that_is_said() -> None:
    words = "it touches 680 and then I lift, that's on the metric gauge"
    value, doubt = offered("present exhaust temperature", words)
    assert is_about(value, "present exhaust temperature", "680 °C")
    assert doubt


@pytest.mark.parametrize("words", ["45", "forty two, forty three in the outback", "50, out in the desert"])
def test_a_summer_as_cold_as_that_is_asked_about(words: str) -> None:
    _, doubt = offered("summer temperature", words)
    assert "°C" in doubt


@pytest.mark.parametrize("words", ["680 on the long hill", "720 with the caravan", "seven hundred"])
def test_an_exhaust_as_cool_as_that_is_asked_about(words: str) -> None:
    _, doubt = offered("present exhaust temperature", words)
    assert "°C" in doubt


def test_a_car_is_not_yet_one_for_the_strip() -> None:
    kind = shop().vocabulary["vehicle kind"]
    for words in ("just a car", "it's just an estate car, a diesel", "a saloon car with a diesel"):
        assert understand(kind, words).echo == "vehicle kind: van or car", words
    fact = understand(kind, "a drag car").fact
    assert fact is not None
    assert fact.value == "strip car"


@pytest.mark.parametrize(
    ("fact", "words", "wanted"),
    [
        ("daily share", "all of them bar ten", "90"),
        ("daily share", "everything except twenty percent", "80"),
        ("deadline", "a month, month and a half", "30.44..45.66"),
        ("deadline", "the first pull's in about a month", "~30.44"),
        ("present boost", "two bar, bit over", "2..2.1 bar"),
        ("budget", "2500, maybe up to 3000 if it's worth it", "2500..3000"),
        ("charge pipe size", "two and a half I think, could be two and three-quarter", "2.5..2.75"),
        ("present boost", "30, maybe 35 on a cold day", "30..35"),
    ],
)
def test_what_is_left_of_all_and_what_it_may_come_to_are_reckoned(fact: str, words: str, wanted: str) -> None:
    value, doubt = offered(fact, words)
    assert doubt == ""
    assert is_about(value, fact, wanted)


def test_what_is_perhaps_another_thing_is_no_end_of_a_span() -> None:
    value, _ = offered("present boost", "it's a 24 valve, maybe 30 pounds")
    assert is_about(value, "present boost", "~30")
