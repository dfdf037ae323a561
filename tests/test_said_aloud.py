"""What callers said in calls taken aloud: nothing of it is lost, taken for something else or asked again.

The sentences are of nobody's calls; what they mean is common practice, no source.
"""

from collections.abc import Sequence

import pytest
from calls import offers

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.hearing import understand
from advisor.hearing.mentions import take_all
from advisor.hearing.request import decode
from advisor.hearing.volunteered import topics_of
from advisor.journal import Record
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation

KNOWLEDGE = load(shipped_folder())
VOCABULARY = KNOWLEDGE.vocabulary
ASKED = [one for one in VOCABULARY.values() if one.source == "asked" and not one.volunteered]


def shown(turn: Turn) -> str:
    return " ".join(" ".join(line for _, line in turn.lines(80)).split())


def call_with(*lines: str) -> tuple[Call, str]:
    def quick(answers: Sequence[Answer]) -> Consultation:
        return consult(answers, KNOWLEDGE, bands=False)

    call = Call(quick, KNOWLEDGE)
    seen = shown(call.open())
    for line in lines:
        seen = shown(call.hear(line))
    return call, seen


def told(call: Call) -> dict[str, str]:
    return {answer.fact: answer.words for answer in call.answers}


HOT = ("new turbo", "skip", "towing", "change duties = strip", "it gets hot on long pulls at 8,000 ft")
METRIC = ("new turbo", "change trailer weight = 2 tonnes", "change power goal = 150 kW")


def test_what_is_said_behind_a_yes_is_offered() -> None:
    call, seen = call_with(*HOT)
    assert "altitude: 8,000 ft. Take it?" in seen
    turn = call.hear("yes, and the caravan is about two tonnes")
    assert told(call)["altitude"] == "8,000 ft"
    assert "He also said trailer weight: 2 t. Take it?" in shown(turn)


def test_a_figure_behind_a_yes_that_may_be_several_facts_waits_for_their_questions() -> None:
    call, _ = call_with(*HOT)
    assert "“8 thousand pounds” is kept until its question comes" in shown(call.hear("yeah, about 8 thousand pounds"))
    call.hear("change duties = towing")
    call, seen = call_with("new turbo", "skip", "change today's trouble = it gets hot on long pulls at 8,000 ft", "yes")
    assert "is kept" not in seen  # a bare yes keeps nothing


@pytest.mark.parametrize(
    ("words", "fixes"),
    [
        ("I got a '97 and want a new turbo for it", ()),
        ("a 64 for my 1997 truck", ("compressor inducer",)),
        ("it's an 06, I want a 64/71", ("compressor inducer", "turbine wheel")),
        ("a 97", ("compressor inducer",)),
    ],
)
def test_the_year_of_the_truck_is_no_wheel(words: str, fixes: tuple[str, ...]) -> None:
    assert tuple(what for what, _ in decode(words).fixes) == fixes


@pytest.mark.parametrize(
    ("words", "echoes"),
    [
        ("I pull sleds and I need a 2.6 inch turbo", {"duties: sled"}),
        ("it's a 2.6 with a manual", {"displacement: 2.6 L", "transmission: manual"}),
        ("I've got a 3 litre four cylinder", {"displacement: 3 L", "cylinders: 4"}),
        ("the caravan weighs 2 tonnes", {"trailer weight: 2 t (4,409 lb)"}),
        ("rated for three and a half", {"tow rating: 3,500 lb"}),
    ],
)
def test_what_a_sentence_holds(words: str, echoes: set[str]) -> None:
    assert {one.echo for one in take_all(ASKED, words)} >= echoes
    assert len(take_all(ASKED, words)) == len(echoes)


def test_boost_is_no_price() -> None:
    asks = VOCABULARY["caller asks"]
    assert "price" not in topics_of(asks, "how much boost will it make?")
    assert "price" in topics_of(asks, "how much is it?")
    assert "price" in topics_of(asks, "how much would that run me?")


@pytest.mark.parametrize(("words", "open_"), [
    ("no idea, I was hoping you'd tell me. What would you suggest?", True),
    ("whatever you recommend", True),
    ("no idea what it's called, a 64 something", False),
])  # fmt: skip
def test_who_leaves_the_size_to_the_shop_asked_for_none(words: str, open_: bool) -> None:
    assert understand(VOCABULARY["request"], words).not_sure is open_


def test_a_bare_figure_of_who_speaks_metric_is_his_or_asked_for_its_unit() -> None:
    call, seen = call_with(*METRIC, "change towing speed = I'd like to hold sixty")
    assert "did you mean 60 km/h or 60 mph?" in seen
    call.hear("kilometres")
    assert told(call)["towing speed"] == "60 km/h"
    call, seen = call_with(*METRIC, "change towing speed = sixty", "mph")
    assert told(call)["towing speed"] == "60 mph"
    call, seen = call_with(*METRIC, "change towing speed = I'd like to hold ninety-five")
    assert told(call)["towing speed"] == "95 km/h"
    call, seen = call_with("new turbo", "change trailer weight = 14,000 lb", "change towing speed = eighty")
    assert "towing speed: 80 mph" in seen
    assert "did you mean" not in seen


def test_what_puts_an_offer_right_is_heard_behind_any_no() -> None:
    call, _ = call_with(*HOT)
    call.hear("actually no, wait, it's six thousand feet")
    assert told(call)["altitude"].endswith("six thousand feet")


def test_a_yes_before_what_counts_as_a_no_is_asked_again() -> None:
    checked = VOCABULARY["boost leak checked"]
    assert understand(checked, "yeah I looked at the boots").doubt
    assert not understand(checked, "yes, the shop put air on it").doubt


BARE = "a friend runs one, 140 kilowatts at the wheels"


def test_a_power_that_may_be_made_or_wished_for_is_offered_as_the_wish_and_taken_by_a_yes_alone() -> None:
    call, seen = call_with("new turbo", "a 64", BARE)
    assert {"power goal: 140 kW", "power measured at: wheels"} <= {*offers(seen)}
    assert not {"power goal", "power now"} & {*told(call)}
    call.hear("yes")
    assert told(call)["power goal"] == "140 kilowatts"
    assert "power now" not in told(call)
    refused, _ = call_with("new turbo", "a 64", BARE, "no")
    assert "power goal" not in told(refused)


@pytest.mark.parametrize(
    ("words", "fact"),
    [
        ("a friend runs one, and I want 450 at the wheels", "power goal"),
        ("a friend runs one, mine makes 450 at the wheels", "power now"),
        ("a friend runs one, it's 450 at the wheels", "power now"),
        ("a friend runs one, I'm hoping for 450 at the crank", "power goal"),
        ("a friend runs one, 450 at the tires would do me", "power goal"),
    ],
)
def test_a_power_whose_words_say_which_it_is_is_offered_for_that(words: str, fact: str) -> None:
    heard = {one.answer.fact for one in take_all(ASKED, words)}
    assert heard & {"power goal", "power now"} == {fact}


def test_who_knows_nothing_is_asked_one_thing_at_a_time_and_told_where_to_look() -> None:
    tows = {"call kind": "new turbo", "request": "a 64", "request reason": "just a guess", "today's trouble": "nothing",
            "duties": "towing", "displacement": "5.9", "power goal": "400 hp", "vehicle kind": "pickup",
            "must stay": "the tune"}  # fmt: skip
    call = Call(lambda answers: consult(answers, KNOWLEDGE, bands=False), KNOWLEDGE, Record(answers=tows))
    opened = call.open()
    assert opened.prompt is not None
    assert len(opened.prompt.asked) > 1
    for _ in range(3):
        assert "He can find out by:" not in shown(call.hear("not sure"))
    turn = call.hear("not sure")
    assert turn.prompt is not None
    assert turn.prompt.asked == ("tune",)
    assert "He can find out by: asking whoever wrote it." in shown(turn)
    turn = call.hear("stock")
    assert "He can find out by:" not in shown(turn)
