"""A power told as another one: "same as stock" where the goal is asked.

The wordings are common practice, no source; the sentences are of nobody's calls.
"""

from collections.abc import Sequence
from pathlib import Path

import pytest

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing.same_as import same_as
from advisor.journal import Record
from advisor.knowledge import check, load, shipped_folder
from advisor.knowledge.source import read_yaml
from advisor.knowledge.vocabulary import read_vocabulary
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
    assert "how much is that? The year and the litres usually tell it." in seen
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


FACTS = """\
facts:
  - {fact: goal, topic: goal, kind: number, unit: hp, quantity: power, ask: How much?, why: It counts.}
  - {fact: rated, topic: fuel, kind: number, unit: hp, quantity: power, ask: Was?, why: It counts., told for:
      {asked: [goal], words: [as it/she left, book], called: what the book has}, listen for: The book tells it.}
  - {fact: speed, topic: goal, kind: number, unit: rpm, quantity: rotation, ask: Where?, why: It counts.}
  - {fact: road, topic: goal, kind: yes/no, ask: Is it?, why: It counts.}
"""


def test_which_number_may_be_told_for_which_the_vocabulary_says(tmp_path: Path) -> None:
    """Of facts that no shop has."""
    (tmp_path / "facts.yaml").write_text(FACTS, "utf-8")
    vocabulary = read_vocabulary(read_yaml(tmp_path / "facts.yaml", "facts.yaml"))
    told = same_as(vocabulary, vocabulary["goal"], "what the book says", {"rated": "300"})
    assert told is not None
    assert told.doubt == "As much as what the book has, that is 300 hp. Shall I take that?"
    asked = same_as(vocabulary, vocabulary["goal"], "as she left", {})
    assert asked is not None
    assert asked.again == "As much as what the book has, then: how much is that? The book tells it."
    assert same_as(vocabulary, vocabulary["goal"], "three hundred", {"rated": "300"}) is None
    assert same_as(vocabulary, vocabulary["rated"], "what the book says", {"goal": "300"}) is None


@pytest.mark.parametrize(
    ("of", "asked", "line"),
    [
        ("rated", "goals", "4:7: 'goals' is no other power that is asked; did you mean 'goal'?"),
        ("rated", "speed", "4:7: 'speed' is no other power that is asked; name a power that is asked"),
        ("rated", "rated", "4:7: 'rated' is no other power that is asked; name a power that is asked"),
        ("road", "goal", "6:85: 'road' is no number that is asked, and is told for others; leave 'told for' out"),
    ],
)
def test_a_slip_in_what_is_told_for_what_is_named_with_its_place(
    of: str, asked: str, line: str, tmp_path: Path
) -> None:
    facts = FACTS.replace("{asked: [goal]", f"{{asked: [{asked}]")
    if of == "road":
        own = "told for: {asked: [goal], words: [book], called: it}"
        facts = FACTS.replace("ask: Is it?, why: It counts.", f"ask: Is it?, why: It counts., {own}")
    (tmp_path / "facts.yaml").write_text(facts, "utf-8")
    faults = [str(one) for one in check(tmp_path) if one.severity == "error" and one.place.file == "facts.yaml"]
    assert faults == [f"facts.yaml:{line}"]
