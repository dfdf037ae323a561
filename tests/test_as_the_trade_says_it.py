"""Figures as callers say them without their unit, or two of one kind: what each of them tells; common practice, no
source, where nothing else is said."""

import pytest
from calls import call_of, shop, told

from advisor.hearing import beside, understand
from advisor.hearing.request import decode
from advisor.units import Range, from_si

VOCABULARY = shop().vocabulary
ASKED = [one for one in VOCABULARY.values() if one.source == "asked" and not one.volunteered]


# a unit of another kind


@pytest.mark.parametrize(("fact", "words", "said_as"), [
    ("power goal", "675 C", "a temperature"), ("power goal", "500 F", "a temperature"),
    ("power now", "5.9 L", "a volume"),
    ("present boost", "it runs 600 C", "a temperature"), ("grade", "60 C", "a temperature"),
    ("displacement", "675 C", "a temperature"), ("power goal", "450 degrees", "a temperature"),
])  # fmt: skip
def test_a_figure_with_a_unit_of_another_kind_is_told_as_such(fact: str, words: str, said_as: str) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is None
    assert said_as in heard.again


@pytest.mark.parametrize(("fact", "words", "value"), [
    ("present exhaust temperature", "675 C", 675.0), ("summer temperature", "35 c", 35.0),
    ("displacement", "6.6 L", 6.6),
])  # fmt: skip
def test_the_same_letter_is_the_unit_where_it_measures_what_is_asked(fact: str, words: str, value: float) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is not None
    assert isinstance(heard.fact.value, Range)
    unit = "L" if fact == "displacement" else "°C"
    assert from_si(heard.fact.value.mid, unit, VOCABULARY[fact].quantity) == pytest.approx(value)


# litres without their unit


@pytest.mark.parametrize(("words", "litres"), [
    ("my turbo is dead, shaft snapped, 6.7", "6.7 L"), ("worn out, seals gone, 7.3", "7.3 L"),
    ("I need a turbo for my dads 5.9, 12 valve", "5.9 L"), ("my wife's 3.0 diesel wagon, needs a bit more", "3 L"),
    ("for my 6.7 tow truck, 500 hp", "6.7 L"), ("sledder here, 2.6 class, 6.7", "6.7 L"),
    ("want a 2.6 for my 5.9", "5.9 L"), ("8.3 in a medium duty truck", "8.3 L"), ("it revs to 3200, 6.0", "6 L"),
    ("2.8, four cylinder, daily only", "2.8 L"), ("got 3.73 gears and a 6.7", "6.7 L"),
    ("neighbor's truck makes 700, I have the same 6.7 but stock", "6.7 L"),
    ("the boss's 6.6 van lost a turbo", "6.6 L"),
    ("new turbo for my 2006 5.9, tow a 9k boat", "5.9 L"), ("stock 6.4, 5 inch exhaust", "6.4 L"),
    ("3.5 tonne trailer, 3.0 van", "3 L"), ("brother's 6.6 makes 500, mine's a 5.9", "5.9 L"),
])  # fmt: skip
def test_a_bare_decimal_that_names_an_engine_is_its_litres(words: str, litres: str) -> None:
    found = told(words)
    assert found["displacement"] == litres
    assert "power goal" not in found or found["power goal"] == "500 hp"


@pytest.mark.parametrize("words", [
    "it ran a 12.9 last year, want 11.5", "I've got 4.5 percent grades", "2.6 class puller",
    "looking for a 3.0 smooth bore",
    "3.5 inch exhaust", "boost is 1.8 bar", "the trailer is 3.5 t", "my brother's 6.6 makes 500", "a 2.6 inch charger",
    "3.7 gears", "compression is 16.5",
])  # fmt: skip
def test_decimals_of_other_things_are_no_litres(words: str) -> None:
    assert "displacement" not in told(words)


def test_litres_are_no_inches_of_a_wheel() -> None:
    assert decode("something for my wife's 3.0 diesel wagon").inducer is None
    assert decode("a 3.0 for the 5.9 truck").inducer == decode("a 3.0").inducer
    assert decode("2.6 class").inducer == decode("a 2.6").inducer


def test_litres_said_to_another_question_are_offered_as_such() -> None:
    _, shown = call_of("new turbo", "a 64", "skip", "skip", "5.9")
    assert "displacement: 5.9 L. Take it?" in " ".join(shown.split())


def test_the_valves_are_no_engine_speed() -> None:
    answers, shown = call_of("new turbo, it's on a 5.9 common rail, 24 valve", "yes", "yes", "yes")
    assert "rpm limit" not in {*answers, *" ".join(shown.split()).split(": ")}


# two figures of one kind


@pytest.mark.parametrize(("words", "found"), [
    ("I want to go from 450 to 600", {"power now": "450 hp", "power goal": "600 hp"}),
    ("looking at getting it from 350 hp to 500", {"power now": "350 hp", "power goal": "500 hp"}),
    ("300 hp now want 400", {"power now": "300 hp", "power goal": "400 hp"}),
    ("it lights at 2200 now which is too late, I want it by 1800", {"boost wanted by": "1,800 rpm"}),
    ("spools around 2400 now, I need it there by 1900", {"boost wanted by": "1,900 rpm"}),
    ("boost is down from 38 to 30", {"present boost": "30 psi"}),
    ("boost went from 40 psi to 28 psi", {"present boost": "28 psi"}),
])  # fmt: skip
def test_what_is_and_what_is_wanted_are_told_apart(words: str, found: dict[str, str]) -> None:
    assert {fact: value for fact, value in told(words).items() if fact in found} == found


@pytest.mark.parametrize(("fact", "words", "value"), [
    ("power goal", "from 450 to 600", "600 hp"), ("power now", "I want to go from 450 to 600", "450 hp"),
    ("present boost", "down from 38 to 30", "30 psi"), ("present boost", "used to see 38 now 30 pounds", "30 psi"),
    ("altitude", "we go from 2,000 to 9,000 feet", "2,000 to 9,000 ft"),
])  # fmt: skip
def test_the_one_that_is_asked_for_is_offered(fact: str, words: str, value: str) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.echo == f"{fact}: {value}"
    assert bool(heard.doubt) is (fact != "altitude")


def test_a_power_said_beside_a_wish_is_the_goal() -> None:
    assert told("need a turbo for my truck, 500 hp")["power goal"] == "500 hp"
    assert "power goal" not in told("it's on the truck, 500 hp")


# shares and loads


@pytest.mark.parametrize(("words", "found"), [
    ("70% daily 30% tow 12k", {"daily share": "70 %", "towing share": "30 %", "trailer weight": "12,000 lb"}),
    ("80 percent daily, 20 percent towing a 9k boat", {"daily share": "80 %", "towing share": "20 %"}),
    ("60% street 40% strip, want 600", {"daily share": "60 %", "strip share": "40 %", "duties": "daily, strip"}),
    ("pull 20k up 7 percent", {"trailer weight": "20,000 lb", "grade": "7 %", "duties": "towing"}),
])  # fmt: skip
def test_shares_and_what_is_pulled_tell_what_it_does(words: str, found: dict[str, str]) -> None:
    assert found.items() <= told(words).items()


def test_a_trailer_beside_its_duties_leaves_them_an_answer() -> None:
    heard = understand(VOCABULARY["duties"], "70% daily 30% tow 12k")
    more = beside.also_said(VOCABULARY, heard, {"duties"}, {})
    assert beside.beside_the_question(heard, more, VOCABULARY).fact == heard.fact


# another's truck


@pytest.mark.parametrize("words", [
    "Earl's makes 600 with that same 66 and never had a problem", "Bubba's truck runs 45 pounds on a 64",
    "my brother makes 700 at the wheels", "and Pete's pulls 20k at 65",
])  # fmt: skip
def test_the_figures_of_somebody_that_is_named_are_nobodys(words: str) -> None:
    numbers = {one.name for one in ASKED if one.kind == "number"}
    assert not numbers & told(words).keys()


def test_whose_truck_he_calls_for_is_his_own_until_he_speaks_of_one() -> None:
    assert told("my dad's 7.3 truck, want 400 horse")["displacement"] == "7.3 L"
    assert told("my dad's 7.3 is stock, mine's a 6.0")["displacement"] == "6 L"


# words of the trade


@pytest.mark.parametrize(("words", "found"), [
    ("3.73s and 35s", {"axle ratio": "3.73", "tyre diameter": "35 in"}), ("it's got 4.10s", {"axle ratio": "4.1"}),
    ("dual pumps and 100 over sticks", {"injection pump": "dual", "injector size": "100 %"}),
    ("auto with a built converter", {"transmission": "automatic"}), ("stock injectors", {"injector size": "0 %"}),
    ("I had the tuner turned all the way up", {"tune": "hot"}), ("the chip was on kill", {"tune": "hot"}),
    ("tuner was on the hottest setting", {"tune": "hot"}), ("ported head", {"cylinder head": "ported"}),
])  # fmt: skip
def test_what_the_trade_says_in_short_is_placed(words: str, found: dict[str, str]) -> None:
    assert found.items() <= told(words).items()


@pytest.mark.parametrize(("words", "fact"), [
    ("dual pumps", "vehicle kind"), ("in its 60s", "tyre diameter"), ("90s of boost", "tyre diameter"),
    ("stock injectors, 400 horse", "stock power"),
])  # fmt: skip
def test_what_sounds_alike_is_not(words: str, fact: str) -> None:
    assert fact not in told(words)


# what is no answer at all


@pytest.mark.parametrize(("fact", "words"), [
    ("duties", "there is play in the shaft, up and down, touches the housing"), ("duties", "300 thousand miles on it"),
    ("complaint since", "let me talk to your manager"), ("transmission", "put me a smaller one on then"),
    ("failure", "stock VGT with exhaust brake"), ("present turbo", "no exhaust smell"),
    ("safety gear", "I got a 13 mm pump, 5 by 18 injectors, runs 4800 rpm"),
    ("driven wheels", "thirty-two hundred he says"),
])  # fmt: skip
def test_what_is_like_no_answer_is_asked_again_and_no_choice_is_offered(fact: str, words: str) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is None


def test_what_says_nothing_of_the_question_is_answered_with_what_would() -> None:
    again = understand(VOCABULARY["transmission"], "put me a smaller one on then").again
    assert "answer something else" in again
    assert "manual" in again


@pytest.mark.parametrize(("words", "told_again"), [("yeah 450 at the wheels", True), ("it's 1350", False)])
def test_a_figure_marked_as_anothers_is_not_doubted_as_this_one(words: str, told_again: bool) -> None:
    heard = beside.unless_of_another(VOCABULARY, understand(VOCABULARY["present exhaust temperature"], words))
    assert ("That tells the power goal" in heard.again) is told_again


def test_the_same_figure_in_another_unit_tells_nothing_more() -> None:
    heard = understand(VOCABULARY["power goal"], "150 kW at the crank, 204 hp")
    assert "power now" not in {one.answer.fact for one in beside.also_said(VOCABULARY, heard, {"power goal"}, {})}
