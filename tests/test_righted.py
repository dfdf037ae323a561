"""What a caller puts right in his own words: at the read-back, at the close and beside another answer."""

from collections.abc import Mapping

import pytest
from calls import offers
from test_elsewhere import shop

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.journal import Record

TOWS = {
    "call kind": "new turbo", "request": "a 69", "request reason": "a friend runs it",
    "today's trouble": "out of breath", "duties": "towing, daily", "displacement": "6.7", "cylinders": "6",
    "power goal": "750 hp", "power measured at": "wheels", "trailer weight": "16,000 lb", "towing share": "90 %",
    "daily share": "10 %",
}  # fmt: skip
CARAVAN = {
    "units": "kg", "call kind": "new turbo", "request": "something bigger", "today's trouble": "hot",
    "duties": "towing, daily", "displacement": "3 litres", "cylinders": "4", "power goal": "180 kW",
    "trailer weight": "2.5 t", "altitude": "2000 m", "vehicle kind": "pickup", "summer temperature": "25 C",
    "towing speed": "97 to 113 km/h", "tune": "stock",
}  # fmt: skip
PULLS = {
    "call kind": "new turbo", "request": "2.6 inducer", "today's trouble": "falls flat", "duties": "sled",
    "displacement": "5.9", "cylinders": "6", "power goal": "850 hp", "injection pump": "stock", "tune": "hot",
}  # fmt: skip


def call_from(given: Mapping[str, str], *lines: str, enough: bool = True) -> tuple[Call, list[str]]:
    """A call that goes on from answers, at its read-back unless more is asked, and what each line brought up."""
    record = Record(answers=dict(given), enough=enough)
    call = Call(lambda answers: consult(answers, shop(), bands=False), shop(), record)
    call.open()
    return call, ["\n".join(line for _, line in call.hear(line).lines(200)) for line in lines]


def answered(call: Call, fact: str) -> str:
    """What an answer comes to."""
    words = {answer.fact: answer.words for answer in call.answers}
    return understand(shop().vocabulary[fact], words[fact]).echo if fact in words else ""


@pytest.mark.parametrize(
    ("given", "said", "told"),
    [
        (TOWS, "nearly. It tows 80 percent of the time, and I don't need 750, 650 at the tires will do, and it makes"
         " 500 now",
         ["towing share: 80 %", "power goal: 650 hp", "power now: 500 hp"]),
        (PULLS, "all but one, the pump is a thirteen millimetre P pump, it's got seven hundred now, and the goal, make"
         " it 800", ["injection pump: larger", "power now: 700 hp", "power goal: 800 hp"]),
        (CARAVAN, "nearly: it's 2.98 litres, the dealer's chip, and thirty degrees in summer",
         ["displacement: 2.98 L", "tune: mild", "summer temperature: 30 °C"]),
        (TOWS, "yes, but the trailer's 12,000 and I go up a 7 percent grade",
         ["trailer weight: 12,000 lb", "grade: 7 %"]),
    ],
)  # fmt: skip
def test_several_things_put_right_in_one_sentence_are_read_back_together_and_take_one_yes(
    given: Mapping[str, str], said: str, told: list[str]
) -> None:
    call, seen = call_from(given, said, "yes")
    assert offers(seen[0]) == told
    assert "oes the rest stand as I read it to you?" in seen[-1]
    assert all(answered(call, echo.partition(":")[0]).startswith(echo) for echo in told)


@pytest.mark.parametrize(
    "said",
    ["no, make that 650 horse at the wheels", "and make it 650 at the tires, not 750", "no, my power goal is 650 now",
     "650 will do", "the goal, make it 650", "it's not 750, it's 650",
     "change the goal to 650", "everything but the goal, that's 650", "yes, except the goal should be 650",
     "I don't need 750, 650 is plenty", "650 instead of 750"],
)  # fmt: skip
def test_a_power_that_will_do_is_the_goal_and_not_what_it_makes_now(said: str) -> None:
    call, seen = call_from({**TOWS, "power now": "500 hp"}, said)
    assert "That makes power goal: 650 hp. Take it?" in seen[0]
    assert answered(call, "power goal").startswith("power goal: 750 hp")
    call.hear("yes")
    assert answered(call, "power goal").startswith("power goal: 650 hp")
    assert answered(call, "power now").startswith("power now: 500 hp")


@pytest.mark.parametrize(
    ("said", "offer"),
    [("two things: it's a 5.9 not a 6.7", "displacement: 5.9 L"),
     ("no, I said I tow 14,000, not 16", "trailer weight: 14,000 lb"),
     ("you got the trailer wrong, it's 14,000", "trailer weight: 14,000 lb"),
     ("you've got the power wrong, it's 650", "power goal: 650 hp"),
     ("the goal's wrong, it's 650", "power goal: 650 hp"),
     ("the duties are wrong, I only tow", "duties: towing"),
     ("thirteen thousand five hundred on the trailer", "trailer weight: 13,500 lb"),
     ("it's at the crank, not the wheels", "power measured at: crank")],
)  # fmt: skip
def test_one_thing_put_right_is_offered_for_its_fact(said: str, offer: str) -> None:
    call, seen = call_from(TOWS, said)
    assert f"That makes {offer}. Take it?" in seen[0]
    assert {answer.fact: answer.words for answer in call.answers} == TOWS
    call.hear("yes")
    assert answered(call, offer.partition(":")[0]) == offer


def test_what_is_said_to_an_offer_and_names_another_fact_is_offered_for_that_one() -> None:
    call, seen = call_from({**TOWS, "power now": "500 hp"}, "it makes 650 now", "no, my power goal is 650 now", "yes")
    assert "That makes power now: 650 hp. Take it?" in seen[0]
    assert "That makes power goal: 650 hp. Take it?" in seen[1]
    assert answered(call, "power now").startswith("power now: 500 hp")
    assert answered(call, "power goal").startswith("power goal: 650 hp")


def test_who_puts_the_next_one_right_while_one_is_on_offer_loses_none() -> None:
    said = "nearly, it tows 80 percent of the time and it makes 500 now"
    call, seen = call_from(TOWS, said, "and the goal is 650", "yes")
    told = ["power goal: 650 hp", "towing share: 80 %", "power now: 500 hp"]
    assert offers(seen[1]) == told
    assert all(answered(call, echo.partition(":")[0]).startswith(echo) for echo in told)


def test_after_what_was_put_right_only_that_is_read_back_with_what_is_assumed_otherwise() -> None:
    said = "nearly, it tows 80 percent of the time and 650 will do"
    call, seen = call_from(TOWS, said, "yes", "summary", "yes")
    assert "So I have power goal 650 hp and towing share 80 % now. Does the rest stand as I read it to you?" in seen[1]
    rows = [line.split() for line in seen[1].splitlines() if line.split()[:1] in (["told"], ["assumed"])]
    assert ["told", "towing", "share", "80", "%", "90", "%"] in rows
    assert all("displacement" not in row and "trailer" not in row for row in rows)
    assert "What he told us" not in seen[1]
    assert "displacement" in seen[2]  # the whole on request
    assert call.told
    _, seen = call_from(TOWS, "actually the tune is a tow tune", "yes")
    assert "stock, assumed" in seen[1]


def test_a_choice_that_is_only_denied_is_asked_again_after_what_is_offered() -> None:
    said = "nearly, it's 2.98 litres and it's no pickup"
    call, seen = call_from(CARAVAN, said, "yes", "a medium truck")
    assert "That makes displacement: 2.98 L. Take it?" in seen[0]
    assert "What are we putting it in" in seen[1]
    assert answered(call, "vehicle kind") == "vehicle kind: medium truck"


def test_what_is_not_understood_at_the_read_back_is_named_with_what_can_be_changed() -> None:
    call, seen = call_from(TOWS, "it's a fiddle", "nearly, common rail, and the goal is 650", "no", "yes")
    assert "Not understood: “it's a fiddle”." in seen[0]
    assert "What can be changed: call kind, request," in seen[0]
    assert "What he told us" not in seen[0]
    assert len(seen[0].splitlines()) < 12
    assert "Not understood: “common rail”." in seen[1]
    assert "That makes power goal: 650 hp. Take it?" in seen[1]
    assert call.told


@pytest.mark.parametrize("line", ["yes", "yes, that's right", "yes, all of it", "nearly, no, it's all right, yes"])
def test_who_only_agrees_concludes(line: str) -> None:
    call, seen = call_from(TOWS, line)
    assert "Take it?" not in seen[0]
    assert call.told or "What can be changed" in seen[0]


@pytest.mark.parametrize("at", [["skip"], ["none"]])
def test_a_new_goal_at_the_close_is_no_insisting(at: list[str]) -> None:
    call, seen = call_from(TOWS, "yes", *at, "actually how about 600 at the wheels, would a smaller one do", "yes")
    assert "That makes power goal: 600 hp. Take it?" in seen[2]
    assert "insists" not in seen[2].replace("Choices: accepted, will check, insists", "")
    assert answered(call, "power goal").startswith("power goal: 600 hp")
    assert answered(call, "request answer") == ""


@pytest.mark.parametrize(
    ("said", "goal"),
    [("actually how about 600 at the wheels", "600 hp"), ("I'd rather 610 hp", "610 hp"),
     ("I'd sooner have 600", "600 hp"),
     ("could you do 600 instead", "600 hp"), ("let's say 600 then", "600 hp"), ("can we go for 600?", "600 hp"),
     ("I'd be fine with 600", "600 hp")],
)  # fmt: skip
@pytest.mark.parametrize("at", [["yes"], ["yes", "skip", "skip"]])
def test_a_goal_wished_for_at_the_close_is_offered_as_the_goal(at: list[str], said: str, goal: str) -> None:
    call, seen = call_from(TOWS, *at, said, "yes")
    assert f"That makes power goal: {goal}. Take it?" in seen[-2]
    assert answered(call, "power goal").startswith(f"power goal: {goal}")


def test_money_wished_off_the_price_is_no_goal() -> None:
    _, seen = call_from(TOWS, "yes", "I'd take 500 off the price")
    assert "power goal" not in seen[-1]


def test_when_the_boost_should_come_is_heard_beside_an_objection() -> None:
    said = "it costs too much, I only want it to come in at 2000 revs"
    call, seen = call_from(TOWS, "yes", said, "yes")
    assert "objection: price" in seen[1]
    assert "boost wanted by: 2,000 rpm. Take it?" in seen[1]
    assert answered(call, "objection") == "objection: price"
    assert answered(call, "boost wanted by") == "boost wanted by: 2,000 rpm"


@pytest.mark.parametrize(
    ("given", "asked", "said", "kept", "offer"),
    [
        (CARAVAN, "present exhaust temperature", "780 at the top; and no, I said sixty kilometres an hour, not miles",
         "present exhaust temperature: 780 °C", "That makes towing speed: 60 km/h"),
        ({**TOWS, "injector size": "68 %"}, "gauges", "boost and egt; oh and the injectors are fifty over not 68",
         "gauges: boost, exhaust temperature", "That makes injector size: 50 %"),
        (TOWS, "altitude", "1,200 feet, and I said the displacement is 5.9, sorry", "altitude: 1,200 ft",
         "That makes displacement: 5.9 L"),
    ],
)  # fmt: skip
def test_what_is_put_right_beside_an_answer_is_offered_next(
    given: Mapping[str, str], asked: str, said: str, kept: str, offer: str
) -> None:
    _, seen = call_from(given, f"change {asked}", said, enough=False)
    assert f"= {kept}" in seen[1]
    assert f"{offer}. Take it?" in seen[1]


@pytest.mark.parametrize(
    ("asked", "said", "kept"),
    [("tow rating", "it's rated for 16,000 pounds, not 12", "tow rating"),
     ("altitude", "not far up, about 1,200 feet", "altitude"), ("summer temperature", "a hundred, no more", "summer")],
)  # fmt: skip
def test_what_answers_the_question_puts_nothing_else_right(asked: str, said: str, kept: str) -> None:
    _, seen = call_from(TOWS, f"change {asked}", said, enough=False)
    assert f"= {kept}" in seen[1] or "did you mean" in seen[1].lower()
    assert "That makes" not in seen[1]


RINGS = "yes hot, but really I want to buy a new turbo, the old one's fine, it's just small"


def test_who_says_that_he_rings_to_buy_is_offered_that_kind_of_call() -> None:
    complains = {"call kind": "complaint", "complaint": "heat"}
    for said in ("I want a new turbo, don't go looking for faults", "a new one please, one that is bigger"):
        call, seen = call_from(complains, said, "no, I want a new turbo", enough=False)
        assert "That makes call kind: new turbo. Take it?" in seen[0]
        assert "That sounds like" not in seen[0]
        assert "= call kind: new turbo" in seen[1]
        assert answered(call, "call kind") == "call kind: new turbo"
    _, seen = call_from({"call kind": "complaint"}, "it runs hot", RINGS, enough=False)
    assert "That makes call kind: new turbo. Take it?" in seen[1]
    opens = "it gets hot, 780 degrees on the long climbs"
    _, seen = call_from({}, opens, "well yes, but I'm thinking of a different turbo, that's why I ring", "new turbo",
                        enough=False)  # fmt: skip
    assert "Did you mean complaint or new turbo?" in seen[1]
    assert "= call kind: new turbo" in seen[2]


@pytest.mark.parametrize(
    "said",
    ["I want it to stop smoking", "I don't want a new turbo", "since the new turbo went on", "after I had it done"],
)
def test_who_speaks_of_his_turbo_rings_for_nothing_else(said: str) -> None:
    _, seen = call_from({"call kind": "complaint", "complaint": "heat"}, said, enough=False)
    assert "That makes call kind" not in seen[0]


def test_who_declines_another_kind_of_call_is_not_offered_it_again() -> None:
    complains = {"call kind": "complaint", "complaint": "heat"}
    call, seen = call_from(complains, "I want a new turbo", "no", "I want a new turbo", enough=False)
    assert "Has it always done that" in seen[1]
    assert "That makes call kind" not in seen[2]
    assert answered(call, "call kind") == "call kind: complaint"


def test_the_same_doubt_is_put_twice_and_then_the_question_plainly() -> None:
    said = "the first day of it"
    call, seen = call_from({"call kind": "complaint", "complaint": "heat"}, said, said, said, "always", enough=False)
    assert "That sounds like always" in seen[0]
    assert "That sounds like always" not in seen[2]
    assert "“Has it always done that, did it start after a change, or did it creep in?”" in seen[2]
    assert "Choices: always, after a change, gradually" in seen[2]
    assert answered(call, "complaint since") == "complaint since: always"


def test_a_goal_with_its_unit_and_where_it_is_measured_is_heard_at_once() -> None:
    asked = {fact: words for fact, words in CARAVAN.items() if fact != "power goal"}
    said = "240 like I said, metric horses, what's that in kilowatts, at the crank"
    _, seen = call_from(asked, "change power goal", said, enough=False)
    assert "= power goal: 240 PS" in seen[1]
    assert "He also said power measured at: crank. Take it?" in seen[1]


def test_a_unit_that_settles_what_was_meant_is_heard_before_what_else_is_said() -> None:
    asked = {fact: words for fact, words in CARAVAN.items() if fact != "towing speed"}
    said = "kilometres, and that's up a ten percent grade"
    call, seen = call_from(asked, "change towing speed", "60", said, "yes", enough=False)
    assert "did you mean 60 km/h or 60 mph?" in seen[1]
    assert "= towing speed: 60 km/h" in seen[2]
    assert "He also said grade: 10 %. Take it?" in seen[2]
    assert answered(call, "grade") == "grade: 10 %"


def test_the_share_that_is_asked_for_is_heard_beside_another_one() -> None:
    asked = {fact: words for fact, words in TOWS.items() if not fact.endswith(" share")}
    asked["duties"] = "towing, daily, strip"
    said = "about eighty percent, and ten percent strip on the saturdays"
    call, seen = call_from(asked, "change towing share", said, "yes", enough=False)
    assert "= towing share: about 80 %" in seen[1]
    assert "He also said strip share: 10 %. Take it?" in seen[1]
    assert answered(call, "strip share") == "strip share: 10 %"


@pytest.mark.parametrize(
    "lines",
    [
        ("change power goal 480 at the crank",),
        ("change power goal = 480 bhp",),
        ("change power goal", "480 crank hp"),
        ("change power measured at", "480 at the crank"),
        ("change power goal", "480 at the crank", "back", "", "enough"),
    ],
)
def test_a_goal_and_where_it_is_measured_are_put_right_as_one_change(lines: tuple[str, ...]) -> None:
    call, seen = call_from(TOWS, *lines, "yes", enough=False)
    assert sorted(offers(seen[-2])) == ["power goal: 480 hp", "power measured at: crank"]
    assert answered(call, "power goal") == "power goal: 480 hp"
    assert answered(call, "power measured at") == "power measured at: crank"


@pytest.mark.parametrize(("lines", "left"), [(("change power goal = 480 bhp", "no"), TOWS),
    (("change power goal = 480 at the wheels",), {**TOWS, "power goal": "480 at the wheels"})])  # fmt: skip
def test_where_the_goal_is_measured_stays_where_it_is_denied_or_told_again(
    lines: tuple[str, ...], left: Mapping[str, str]
) -> None:
    call, _ = call_from(TOWS, *lines, enough=False)
    assert {answer.fact: answer.words for answer in call.answers} == left
