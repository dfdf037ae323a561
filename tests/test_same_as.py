"""A power told as another one: "same as stock" where the goal is asked.

The wordings are common practice, no source; the sentences are of nobody's calls.
"""

from collections.abc import Sequence

import pytest

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.journal import Record
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation

KNOWLEDGE = load(shipped_folder())
AT_THE_GOAL = {"call kind": "new turbo", "request": "a 64", "request reason": "just a guess", "duties": "daily",
               "today's trouble": "nothing", "displacement": "5.9 L", "valves per cylinder": "four"}  # fmt: skip


def call_with(answers: dict[str, str], *lines: str) -> tuple[dict[str, str], str]:
    """The answers after these lines, and what was shown at the last."""

    def quick(given: Sequence[Answer]) -> Consultation:
        return consult(given, KNOWLEDGE, bands=False)

    call = Call(quick, KNOWLEDGE, Record(answers=answers))
    turn = call.open()
    for line in lines:
        turn = call.hear(line)
    seen = " ".join(" ".join(line for _, line in turn.lines(80)).split())
    return {answer.fact: answer.words for answer in call.answers}, seen


@pytest.mark.parametrize(
    "words",
    ["same as stock", "like it came", "what it had from the factory", "stock", "just stock power", "what it was rated",
     "as it left the factory", "I want what it had when new"],
)  # fmt: skip
def test_stock_power_is_taken_for_a_yes_where_it_is_known(words: str) -> None:
    known = {**AT_THE_GOAL, "stock power": "305 hp"}
    before, seen = call_with(known, f"change power goal = {words}")
    assert "power goal" not in before
    assert "As much as what it left the factory with, that is 305 hp. Shall I take that?" in seen
    after, _ = call_with(known, f"change power goal = {words}", "yes")
    assert after["power goal"] == "305 hp"
    refused, _ = call_with(known, f"change power goal = {words}", "no, 350")
    assert refused["power goal"] == "350"


def test_its_figure_is_asked_for_where_nobody_has_told_it() -> None:
    _, seen = call_with(AT_THE_GOAL, "same as stock")
    assert "how much is that? The year and the engine usually tell it." in seen
    after, _ = call_with(AT_THE_GOAL, "same as stock", "305")
    assert after["power goal"] == "305"
    unsure, _ = call_with({**AT_THE_GOAL, "stock power": "not sure"}, "change power goal = same as stock")
    assert "power goal" not in unsure


def test_what_it_makes_now_is_taken_for_the_goal_and_the_rating_for_what_it_makes_now() -> None:
    made = {**AT_THE_GOAL, "power now": "410 hp", "stock power": "305 hp"}
    assert call_with(made, "change power goal = same as it makes now", "yes")[0]["power goal"] == "410 hp"
    stock = {**AT_THE_GOAL, "power goal": "400 hp", "stock power": "305 hp"}
    assert call_with(stock, "change power now = still stock", "yes")[0]["power now"] == "305 hp"


@pytest.mark.parametrize(
    "words", ["more than stock", "100 over stock", "not stock", "whatever my friend's stock one makes", "not sure"]
)
def test_what_is_another_figure_is_not_taken_for_it(words: str) -> None:
    _, seen = call_with({**AT_THE_GOAL, "stock power": "305 hp"}, f"change power goal = {words}")
    assert "Shall I take that?" not in seen


@pytest.mark.parametrize(
    "words", ["it's a replacement, the turbo failed", "my turbo's shot, I need another", "the turbo died on me"]
)
def test_who_has_a_failed_turbo_at_the_goal_question_rings_for_a_replacement(words: str) -> None:
    """Then the goal is what it has: nobody is asked for a wish."""
    _, seen = call_with(AT_THE_GOAL, words)
    assert "That makes call kind: replacement. Take it?" in seen
    after, seen = call_with(AT_THE_GOAL, words, "yes")
    assert after["call kind"] == "replacement"
    assert "would you like it to make" not in seen
    assert "What was it rated at when it left the factory, and what does it make now?" in seen
    refused, seen = call_with(AT_THE_GOAL, words, "no")
    assert refused["call kind"] == "new turbo"
    assert "What power would you like it to make" in seen


@pytest.mark.parametrize("words", ["it's not a replacement", "my buddy's turbo failed", "the old one blew last year"])
def test_what_failed_elsewhere_or_before_makes_no_replacement(words: str) -> None:
    assert "call kind: replacement" not in call_with(AT_THE_GOAL, words)[1]
