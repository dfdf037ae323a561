"""What a caller says once he has heard the advice: no question decides, a change of mind opens the decision again.

The sentences are of nobody's calls; what they mean is common practice, no source.
"""

from collections.abc import Sequence
from functools import lru_cache

import pytest
from calls import DAILY

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.hearing import at_close, understand
from advisor.journal import Record
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation

KNOWLEDGE = load(shipped_folder())
ASKED_FOR = {**DAILY, "request": "a 72", "request reason": "friend", "power goal": "450 hp"}


@lru_cache(maxsize=64)
def remembered(answers: tuple[Answer, ...]) -> Consultation:
    return consult(answers, KNOWLEDGE, bands=False)


def quick(answers: Sequence[Answer]) -> Consultation:
    return remembered(tuple(answers))


def shown(turn: Turn) -> str:
    return " ".join(" ".join(line for _, line in turn.lines(120)).split())


def at_its_close(*lines: str) -> tuple[Call, list[str]]:
    """A call to which the advice was told, and what each line of it brings up."""
    call = Call(quick, KNOWLEDGE, Record(answers=dict(ASKED_FOR), enough=True))
    call.open()
    call.hear("yes")
    return call, [shown(call.hear(line)) for line in lines]


def answers(call: Call) -> dict[str, str]:
    return {answer.fact: answer.words for answer in call.answers}


def decision(call: Call) -> str:
    words = answers(call).get("request answer", "")
    fact = understand(KNOWLEDGE.vocabulary["request answer"], words).fact if words else None
    return str(fact.value) if fact is not None else ""


@pytest.mark.parametrize(
    "asks",
    [
        "can you ship to Norway",
        "why would 72 be bad",
        "hmm, what happens if I run the 72 anyway?",
        "how much is it?",
        "so what boost do I set",
        "what about I just wait until spring",
    ],
)
@pytest.mark.parametrize("before", [["no"], []])
def test_a_question_is_no_decision_and_is_answered_or_kept(asks: str, before: list[str]) -> None:
    call, seen = at_its_close(*before, asks)
    assert "he asks: “" in seen[-1]
    assert "request answer" not in answers(call)
    assert "Say: " in seen[-1] or "Kept: answer him before you close." in seen[-1]
    assert answers(call)["caller asks"].endswith("?")


def test_both_halves_of_a_double_question_are_heard() -> None:
    _, seen = at_its_close("no", "how long will it last and can you ship Friday?")
    assert "“how long will it last?”" in seen[1]
    assert "I can't promise you how long it lasts" in seen[1]
    assert "“can you ship Friday?”" in seen[1]
    assert "from the order, as it stands today" in seen[1]


def test_the_price_is_told_once_there_is_one() -> None:
    _, seen = at_its_close("no", "how much all in, shipped?")
    assert "You asked what it costs: $" in seen[1]
    assert "any figure" not in seen[1].lower()
    call, seen = at_its_close("I'd rather have the 72, what's it cost")
    assert "That one comes to $" in seen[0]
    assert decision(call) == "insists"


def test_an_answer_beside_a_question_is_taken() -> None:
    call, seen = at_its_close("no", "sounds good, when can you ship it")
    assert decision(call) == "accepted"
    assert "from the order, as it stands today" in seen[1]


@pytest.mark.parametrize(
    "asks",
    [
        "do I need a tune with that",
        "I guess I'd need a tune with that",
        "does the tune have to change",
        "need a tune for it, right?",
        "is a tune included",
        "it'll need a tune I suppose",
        "will my tune work with it",
        "what's the tune situation",
        "does that come with a tune",
        "can it run on the tune I've got",
    ],
)
def test_a_question_about_the_tune_is_no_objection_to_the_sound(asks: str) -> None:
    call, seen = at_its_close(asks)
    assert "Plan on having the tune looked at with it" in seen[0]
    assert "sound" not in seen[0]
    assert "objection" not in answers(call)


def test_the_wish_not_to_pay_for_a_tune_objects_to_the_price() -> None:
    heard = understand(KNOWLEDGE.vocabulary["objection"], "I don't want to pay for a tune")
    assert heard.fact is not None
    assert heard.fact.value == frozenset(["price"])


@pytest.mark.parametrize(
    "said",
    [
        "I'm pulling with the 72 anyway, I don't care",
        "no, I insist, I'm running the 72",
        "it's my truck and I'm running the seventy two",
        "I'd rather stay with my 72",
        "I'm keeping the one I asked for",
    ],
)
@pytest.mark.parametrize("before", [["no"], []])
def test_who_insists_is_heard_so_and_asked_why_once(said: str, before: list[str]) -> None:
    call, seen = at_its_close(*before, said)
    assert decision(call) == "insists"
    assert "Is there more behind it" in seen[-1]
    assert "Is there more behind it" not in shown(call.hear("I just like the whistle"))
    assert answers(call)["insists reason"] == "I just like the whistle"


@pytest.mark.parametrize("said", ["I don't want the 72 any more", "forget the 72", "I'd be happy without the 72"])
def test_who_lets_go_of_his_own_does_not_insist(said: str) -> None:
    assert not at_close.names_his_own(said, "a 72")


@pytest.mark.parametrize("word", ["yes", "yeah", "Yep."])
def test_a_plain_yes_to_three_ways_is_asked_again(word: str) -> None:
    call, seen = at_its_close("no", word)
    assert "Yes to which" in seen[1]
    assert decision(call) == ""


@pytest.mark.parametrize(
    ("said", "then"),
    [
        ("actually no wait, make it the ball bearing", ""),
        ("hold on", ""),
        ("no, forget it", ""),
        ("I'd rather stay with my 72", "insists"),
        ("actually let me think about it", "will check"),
    ],
)
def test_a_change_of_mind_opens_the_decision_again_and_closes_nothing(said: str, then: str) -> None:
    call, seen = at_its_close("no", "sold, order it", said)
    assert "anything else?" not in seen[2]
    assert "The call is closed." not in seen[2]
    assert decision(call) == then
    if not then:
        assert "The decision is open again; it was: accepted." in seen[2]
        assert "How does that sit with you" in seen[2]


def test_a_part_that_is_named_is_shown_and_a_decision_taken_back_stays_so_after_a_crash() -> None:
    call, _ = at_its_close("no", "sold, order it")
    record = Record(answers=answers(call), enough=True)
    turn = call.hear("actually no wait, make it the ball bearing")
    assert "With that, first comes: " in shown(turn)
    for entry in turn.entries:
        record.take(entry)
    assert "request answer" not in record.answers
    assert "request answer" not in record.skipped


@pytest.mark.parametrize("said", ["no", "no that's all, thanks", "nothing else", "thanks, bye"])
def test_only_who_has_nothing_else_closes_the_call(said: str) -> None:
    _, seen = at_its_close("no", "sold, order it", said)
    assert "The call is closed." in seen[2]


def test_what_nobody_understands_at_the_end_closes_nothing_and_says_what_stands() -> None:
    call, seen = at_its_close("no", "sold, order it", "the dog ate my gasket")
    assert "It stands as accepted" in seen[2]
    assert decision(call) == "accepted"


def test_enter_alone_is_nobodys_answer_wherever_it_is_typed() -> None:
    call = Call(quick, KNOWLEDGE, Record(answers=dict(ASKED_FOR), enough=True))
    call.open()
    assert "Nothing was said: yes concludes" in shown(call.hear(""))
    assert not call.told
    call.hear("yes")
    before = answers(call)
    assert "skip leaves the question out" in shown(call.hear(""))
    call.hear("no")
    call.hear("change power goal = 9 hp")  # doubted
    assert "Nothing was said: yes takes it, no drops it." in shown(call.hear(""))
    assert {**before, "objection": "no"} == answers(call)
    call.hear("skip")
    call.hear("")  # asked again, it stays as it was
    call.hear("sold, order it")
    assert "Nothing was said: no closes the call" in shown(call.hear(""))
    assert decision(call) == "accepted"


def test_noise_of_a_gate_is_answered_by_where_this_ones_gate_is() -> None:
    call, seen = at_its_close("no", "I don't like external gates, they're loud")
    assert understand(KNOWLEDGE.vocabulary["objection"], answers(call)["objection"]).fact.value == {"external gate"}
    assert "It can be done without" not in seen[1]
    assert "whistle" not in seen[1]
    assert "How does that sit with you" in seen[1]


def test_who_wants_his_money_back_is_told_a_kind_word_and_somebody_who_decides() -> None:
    _, seen = at_its_close("I want a refund, get me your manager")
    assert "I'm sorry" in seen[0]
    assert "find out who can and when they'd ring you" in seen[0]


@pytest.mark.parametrize(
    "said",
    [
        "twenty two hundred bucks? that's robbery, your competitor's got one for twelve hundred",
        "that's highway robbery",
        "I can get one for twelve hundred down the street",
        "the other shop wants 1200 for it",
    ],
)
def test_what_another_shop_takes_for_one_is_an_objection_to_the_price(said: str) -> None:
    call, seen = at_its_close(said)
    if "objection" not in answers(call):
        assert "That sounds like price" in seen[0]
        call.hear("yes")
    assert understand(KNOWLEDGE.vocabulary["objection"], answers(call)["objection"]).echo == "objection: price"


@pytest.mark.parametrize(
    "said",
    [
        "I just want the same one, can't you just sell me the same one",
        "no, like I said, the exact same factory part",
        "can't you just sell me the same one",
    ],
)
def test_who_wants_the_same_one_again_wants_no_used_one_nor_has_he_nothing_against_it(said: str) -> None:
    heard = understand(KNOWLEDGE.vocabulary["objection"], said)
    assert heard.fact is None
    assert heard.again


def test_who_would_take_a_used_one_still_does() -> None:
    for said in ("my buddy's selling me his", "can you sell me a rebuilt one", "I saw a used one online"):
        heard = understand(KNOWLEDGE.vocabulary["objection"], said)
        assert heard.fact is not None
        assert heard.fact.value == frozenset({"used turbo"})
