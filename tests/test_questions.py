"""The next question: by its worth, urgent ones first, the same for the same answers, and none when none can matter.

The value of knowing is held against its definition (expected value of partial perfect information; Strong & Oakley,
Medical Decision Making 34, 2014, 311), worked out by going through every combination of all inputs.
"""

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest
from calls import DAILY, thinned
from walks import AFTER_ADVICE, REFERENCE, hidden

from advisor import questions
from advisor.consultation import consult, questions_of
from advisor.course import infer
from advisor.dialogue.call import Call
from advisor.journal import Record
from advisor.outcome import Answer

SHOP = thinned(20)
TOWING = {
    "call kind": "new turbo",
    "request": "a 64",
    "duties": "towing",
    "power goal": "400 hp",
    "displacement": "5.9 litres",
}


def asked(answers: dict[str, str], knowledge=SHOP) -> list[str]:
    course = infer([Answer(*pair) for pair in answers.items()], knowledge, REFERENCE)
    return [question.fact for question in questions_of(course, knowledge)]


def test_the_same_answers_give_the_same_next_question() -> None:
    first = asked(TOWING)
    questions._tried.cache_clear()
    assert asked(TOWING) == first
    last, *rest = reversed(TOWING)  # the topic that the call is at may come first; so the last answer stays last
    random.Random(1).shuffle(rest)
    assert asked({name: TOWING[name] for name in (*rest, last)}) == first


def test_urgent_questions_come_first_and_say_why() -> None:
    outcome = consult([Answer(*pair) for pair in TOWING.items()], SHOP, REFERENCE)
    urgent = [question.urgent for question in outcome.questions]
    assert urgent[0]
    assert urgent == sorted(urgent, reverse=True)
    assert {question.fact for question in outcome.questions if question.urgent} >= {"trailer weight", "trailer brakes"}
    assert all(question.reason for question in outcome.questions)


def test_without_the_essentials_the_call_opens_with_his_wish_then_asks_for_them() -> None:
    answers: dict[str, str] = {"call kind": "new turbo"}
    while not {"displacement", "power goal", "duties"} <= answers.keys():
        fact = asked(answers)[0]
        answers[fact] = {**DAILY, "request reason": "just a guess"}.get(fact, "nothing")
    assert len(answers) <= 8


@pytest.mark.parametrize("change", [{"seconds": 200.0}, {"known": 0.001}])
def test_a_question_that_takes_long_or_that_few_can_answer_waits(change: dict[str, float]) -> None:
    answers = {**TOWING, "trailer weight": "9,000 lb", "trailer brakes": "yes", "tow rating": "14,000 lb"}
    before = asked(answers)
    fact = before[0]
    slower = {**SHOP.vocabulary, fact: replace(SHOP.vocabulary[fact], **change)}
    after = asked(answers, replace(SHOP, vocabulary=slower))
    assert fact not in after[: len(before) // 2]


def test_when_nothing_open_can_change_the_advice_the_call_says_so_and_stops() -> None:
    known, answers = hidden(11, SHOP), {"call kind": "new turbo"}
    while fact := next((name for name in asked(answers) if name not in AFTER_ADVICE), None):
        answers[fact] = known[fact]
    unasked = [name for name in known if name not in answers]
    assert unasked  # not every question was worth asking
    call = Call(lambda said: consult(said, SHOP, REFERENCE), SHOP, Record(call="x", answers=answers))
    shown = "\n".join(line for _, line in call.open().lines(80))
    assert "Nothing that is still open can change the advice." in shown
    assert "Is all of it right?" in shown


def test_the_value_of_knowing_is_that_of_its_definition() -> None:
    """Three inputs with two or three levels, effects that add up: all 12 worlds gone through."""
    chance = np.random.default_rng(3)
    usual = np.array([50.0, 48.0, 45.0])
    effects = {
        name: (np.asarray(weights), chance.normal(0.0, size, (len(weights), 3)))
        for name, weights, size in (("a", (0.3, 0.7), 6.0), ("b", (0.2, 0.5, 0.3), 3.0), ("c", (0.6, 0.4), 0.5))
    }
    worlds = list(itertools.product(*(range(len(weights)) for weights, _ in effects.values())))
    share = {w: np.prod([weights[i] for i, (weights, _) in zip(w, effects.values(), strict=True)]) for w in worlds}
    points = {w: usual + sum(e[i] for i, (_, e) in zip(w, effects.values(), strict=True)) for w in worlds}
    blind = sum(share[w] * points[w] for w in worlds).max()
    found = questions.worth_of_knowing(usual, effects)
    for at, (name, (weights, effect)) in enumerate(effects.items()):
        knowing = 0.0
        for level in range(len(weights)):
            here = [w for w in worlds if w[at] == level]
            knowing += sum(share[w] * points[w] for w in here).max()
        order = np.argsort(-sum(share[w] * points[w] for w in worlds))
        own = effect - weights @ effect
        apart = [np.sqrt(weights @ (own[:, i] - own[:, order[0]]) ** 2) for i in order[1:]]
        assert found[name] == pytest.approx(knowing - blind + questions.LEAN * np.mean(apart))
    assert found["a"] > found["c"]


def test_what_changes_nothing_is_worth_nothing() -> None:
    level = (np.array([0.5, 0.5]), np.zeros((2, 3)))
    same = (np.array([0.5, 0.5]), np.array([[4.0] * 3, [-4.0] * 3]))  # moves all alike
    found = questions.worth_of_knowing(np.array([3.0, 2.0, 1.0]), {"nothing": level, "all alike": same})
    assert found == pytest.approx({"nothing": 0.0, "all alike": 0.0})
