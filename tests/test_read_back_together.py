"""Facts that a caller tells in one sentence are read back in one list: one yes takes them all, and what he leaves out
or puts right costs him only that."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
from calls import offers, shop
from test_righted import answered, call_from

from advisor.consultation import consult
from advisor.course import infer
from advisor.dialogue import loop
from advisor.dialogue.call import Call
from advisor.dialogue.replies import settle
from advisor.hearing import listed, understand
from advisor.hearing.mentions import take_all
from advisor.hearing.understood import ALL_OF_IT
from advisor.inference.engines import agenda
from advisor.journal import Journal, Record, read
from advisor.replay import differences
from advisor.scripted import parse_script

RICH = "600 horse out of my 2008 with the manual, tow 14k and daily it, it makes 450 now on the rollers"
TOLD = {
    "power goal": "600 hp", "trailer weight": "14,000 lb", "power now": "450 hp", "duties": "daily, towing",
    "transmission": "manual",
}  # fmt: skip
WANTS = {"call kind": "new turbo", "request": "a 64"}


def rich(*replies: str) -> tuple[Call, list[str]]:
    """A call in which all of that is told at the question why that turbo, and what the replies bring up."""
    return call_from(WANTS, f"I want {RICH}", *replies, enough=False)


def taken(call: Call) -> dict[str, str]:
    """What the answers since come to."""
    told = [one.fact for one in call.answers if one.fact not in {*WANTS, "model year"}]
    return {fact: answered(call, fact).removeprefix(f"{fact}: ") for fact in told}


def test_all_that_a_rich_sentence_tells_takes_one_yes() -> None:
    call, seen = rich("yes")
    assert dict(echo.split(": ") for echo in offers(seen[0])) == TOLD
    assert "(one four, fourteen thousand lb)" in " ".join(seen[0].split())  # not forty
    assert taken(call) == TOLD
    assert offers(seen[1]) == []


def test_no_takes_none_and_what_is_declined_is_not_offered_again() -> None:
    call, seen = rich("no", "no idea")
    assert taken(call).keys() <= {"request reason"}
    assert offers(seen[1]) == offers(seen[2]) == []


@pytest.mark.parametrize(
    ("reply", "left"),
    [
        ("yes but not the trailer", ["trailer weight"]), ("all but 2", ["trailer weight"]),
        ("2 is wrong", ["trailer weight"]), ("no, number two is wrong", ["trailer weight"]),
        ("everything except the trailer", ["trailer weight"]), ("the second one isn't right", ["trailer weight"]),
        ("the trailer's off, the rest is right", ["trailer weight"]), ("yes, no trailer though", ["trailer weight"]),
        ("all good but the manual", ["transmission"]), ("all right except the last one", ["transmission"]),
        ("4 and 5 are wrong", ["duties", "transmission"]), ("all but the power", ["power goal", "power now"]),
    ],
)  # fmt: skip
def test_what_he_leaves_out_is_asked_and_the_rest_is_taken(reply: str, left: list[str]) -> None:
    said = "I want 600 horse, tow 14k, it makes 450 now, I daily it and it's a manual"
    places = ["power goal", "trailer weight", "power now", "duties", "transmission"]
    told = {one.answer.fact: one for one in take_all([*shop().vocabulary.values()], said)}
    reading = listed.reply(shop().vocabulary, [told[fact] for fact in places], reply)
    assert reading is not None
    assert [*reading.wrong] == left
    assert [one.answer.fact for one in reading.stands] == [fact for fact in places if fact not in left]


def test_a_fact_that_is_left_out_is_asked_at_once() -> None:
    call, seen = rich("yes but not the trailer", "12,000")
    assert "What does the heaviest trailer weigh, loaded?" in seen[1]
    assert taken(call) == {**TOLD, "trailer weight": "12,000 lb"}


@pytest.mark.parametrize(
    ("reply", "right"),
    [
        ("no, it's 12k", {"trailer weight": "12,000 lb"}), ("12k, not 14", {"trailer weight": "12,000 lb"}),
        ("no, the trailer is 12,000", {"trailer weight": "12,000 lb"}),
        ("all right except the trailer weight, that's 12k", {"trailer weight": "12,000 lb"}),
        ("yes but it's an automatic", {"transmission": "automatic"}),
        ("it makes 480 now, the rest is right", {"power now": "480 hp"}),
        ("right but I want 650", {"power goal": "650 hp"}),
        ("right but it's an automatic and the trailer 12k",
         {"transmission": "automatic", "trailer weight": "12,000 lb"}),
    ],
)  # fmt: skip
def test_what_he_puts_right_is_taken_so_and_the_rest_as_it_was_read(reply: str, right: dict[str, str]) -> None:
    call, seen = rich(reply)
    assert taken(call) == {**TOLD, **right}
    assert offers(seen[1]) == []


def test_a_place_in_the_list_is_put_right_by_its_number() -> None:
    call, seen = rich()
    place = 1 + [echo.partition(":")[0] for echo in offers(seen[0])].index("trailer weight")
    call.hear(f"{place} should be 12k")
    assert taken(call) == {**TOLD, "trailer weight": "12,000 lb"}


def test_a_figure_that_may_be_either_of_two_is_asked_about() -> None:
    call, seen = rich("no, it's 650 horse", "yes")
    assert "Which one is that: " in seen[1]
    assert taken(call) == TOLD


def test_what_he_tells_behind_the_yes_is_read_back_next() -> None:
    call, seen = rich("yes, and it's a 5.9")
    assert offers(seen[1]) == ["displacement: 5.9 L"]
    assert taken(call) == TOLD


def test_what_answers_the_question_passes_over_the_list_which_waits_for_its_questions() -> None:
    call, seen = rich("a friend runs it", "nothing really")
    assert taken(call).keys() == {"request reason", "today's trouble"}
    assert offers(seen[1]) == []
    assert "What does the truck do for a living" in seen[2]
    assert "You said daily, towing; is that it?" in seen[2]


def test_a_list_that_was_read_back_outlives_a_call_that_is_broken_off(tmp_path: Path) -> None:
    def take(lines: list[str], journal: Journal) -> str:
        out = io.StringIO()
        asker = loop.Scripted(lines, out)
        asker.at_end = "leave"
        with journal:
            loop.run(lambda told: consult(told, shop(), bands=False), shop(), asker, journal, tmp_path)
        return " ".join(out.getvalue().split())

    first = take(["new turbo", "a 64", f"I want {RICH}"], Journal.start(tmp_path))
    (path,) = tmp_path.glob("*.call")
    again = take(["yes"], Journal.resume(path))
    assert offers(again)[:5] == offers(first)
    told = read(path).answers
    assert [understand(shop().vocabulary[fact], told[fact]).echo for fact in TOLD] == [
        f"{fact}: {value}" for fact, value in TOLD.items()
    ]
    assert read(path).offered == {}


def test_a_call_with_a_list_replays_from_its_script_with_the_same_outcome() -> None:
    call, _ = rich("yes")
    call.hear("change displacement = 5.9 litres")
    ((name, text),) = call.hear("save rich").files
    script, faults = parse_script(text.encode(), shop(), name)
    assert faults == ()
    assert script is not None
    assert {one.fact for one in script.answers} >= {*TOLD}
    assert list(differences(script, infer(script.answers, shop(), agenda()), shop())) == []


def test_a_choice_told_otherwise_beside_a_no_is_put_right_and_the_rest_stands() -> None:
    given = {"call kind": "complaint", "complaint": "smoke"}
    call, seen = call_from(given, "since the turbo went on", "no, it was the tune", enough=False)
    assert offers(seen[0]) == ["changed with it: turbo", "complaint since: after a change"]
    assert answered(call, "changed with it") == "changed with it: fuel"
    assert answered(call, "complaint since") == "complaint since: after a change"


def test_who_does_not_know_at_the_list_loses_nothing_of_it() -> None:
    """It waits for the questions of each."""
    call, seen = rich("I don't know", "enough")
    assert "Not taken now: power goal, trailer weight" in seen[1]
    assert taken(call) == {}
    assert "You said daily, towing; is that it?" in " ".join(seen[2].split())


def test_what_is_doubted_waits_where_he_goes_back() -> None:
    told = WANTS | {"displacement": "5.9 L", "power goal": "400 hp", "duties": "daily"}
    call, seen = call_from(told, "change tune = a box, I couldn't swear to it", "back", "a 64", "enough")
    assert "That sounds like mild" in seen[0]
    assert "tune" not in {one.fact for one in call.answers}
    assert any("tune: mild" in shown for shown in seen[1:])


def test_nobody_is_greeted_twice() -> None:
    call = Call(lambda answers: consult(answers, shop(), bands=False), shop(), Record())
    opened, again = ("\n".join(line for _, line in turn.lines(200)) for turn in (call.open(), call.hear("xyzzy")))
    assert "Good to have you on the line." in opened
    assert "Are we choosing a new turbo" in again
    assert "Good to have you" not in again


def test_who_rings_for_something_else_is_asked_on_after_enough() -> None:
    told = {"call kind": "new turbo", "displacement": "5.9 L", "power goal": "400 hp", "duties": "daily"}
    call, seen = call_from(told, "change call kind = replacement")
    assert not call.enough
    assert "is that right?" not in seen[0]


def test_what_is_added_to_a_doubt_whether_that_is_all_leaves_nothing_out() -> None:
    objection = shop().vocabulary["objection"]
    doubted = understand(objection, "that's a lot of money for me right now")
    assert doubted.fact is not None
    assert doubted.doubt
    for doubt, said in ((doubted.doubt, "and it'll be loud"), (f"Price. {ALL_OF_IT}", "it'll be loud")):
        settled = settle(replace(doubted, doubt=doubt), said, objection, ())
        told = understand(objection, settled.words)
        assert told.fact is not None
        assert told.fact.value == {"price", "sound"}
    assert settle(doubted, "it'll be loud", objection, ()).words == "it'll be loud"
