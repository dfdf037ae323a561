"""Cautions about life and limb, told while the caller is on the line and not first with the advice.

That exhaust in the cab kills: carbon monoxide, common knowledge of the trade; the sentences are of nobody's calls.
"""

from collections.abc import Sequence

import pytest

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.journal import Record
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation

KNOWLEDGE = load(shipped_folder())
LATE = {"call kind": "complaint", "complaint": "it spools late", "smoke colour": "black", "boost leak checked": "yes"}
TOWS = {"call kind": "new turbo", "request": "a 64", "duties": "towing", "trailer weight": "12,000 lb"}


def shown(turn: Turn) -> list[str]:
    return [line.strip() for _, line in turn.lines(300) if line.strip()]


def call_with(answers: dict[str, str], *lines: str) -> list[list[str]]:
    def quick(given: Sequence[Answer]) -> Consultation:
        return consult(given, KNOWLEDGE, bands=False)

    call = Call(quick, KNOWLEDGE, Record(answers=dict(answers)))
    return [shown(call.open()), *(shown(call.hear(line)) for line in lines)]


@pytest.mark.parametrize(
    ("answers", "line", "stops"),
    [
        (LATE, "change exhaust smell = sometimes at idle, the wife says", "STOP    Exhaust in the cab can kill."),
        ({"call kind": "complaint", "complaint": "noise"}, "scraping", "STOP    A new scraping or siren noise"),
        (TOWS, "change trailer brakes = no", "STOP    No working trailer brakes"),
        (TOWS, "change tow rating = 10,000 lb", "STOP    The trailer at 12,000 lb is over the rating of 10,000 lb."),
    ],
)
def test_what_can_kill_is_told_in_the_line_after_the_answer_that_brings_it(
    answers: dict[str, str], line: str, stops: str
) -> None:
    echo, caution, say, *_ = call_with(answers, line)[1]
    assert echo.startswith("= ")
    assert caution.startswith(stops)
    assert say.startswith("Say: ")


@pytest.mark.parametrize(
    ("answers", "line"), [(LATE, "change exhaust smell = no"), (TOWS, "change tow rating = 14,000 lb")]
)
def test_what_hurts_nobody_stops_nothing(answers: dict[str, str], line: str) -> None:
    assert not any(words.startswith(("STOP", "DANGER")) for words in call_with(answers, line)[1])


def test_it_is_told_once_and_again_after_he_took_it_back() -> None:
    smells = "change exhaust smell = yes"
    _, first, then, no, again = call_with(LATE, smells, "gradually", "change exhaust smell = no", smells)
    told = ["Exhaust in the cab can kill" in " ".join(turn) for turn in (first, then, again)]
    assert told == [True, False, True]
    assert any(words.startswith("No longer: Exhaust in the cab can kill") for words in no)


def test_who_goes_on_with_a_call_is_told_what_stops_it() -> None:
    opened = call_with({**LATE, "exhaust smell": "yes"})[0]
    assert any(words.startswith("STOP    Exhaust in the cab can kill") for words in opened)
