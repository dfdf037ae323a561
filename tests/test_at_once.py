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
OPENED = {"call kind": "new turbo", "request": "a 64"}
CREPT = {"call kind": "complaint", "complaint": "it spools late"}


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


SAID_ASIDE = {
    "exhaust in the cab can kill": [
        ({}, "I get fumes in the cab since the new turbo, and it's slow to spool"),
        ({}, "it's slow to spool and I can smell exhaust inside"),
        ({}, "there's a smell of diesel smoke in the cabin"),
        ({}, "new turbo smells like exhaust in the cab"),
        ({}, "I want a bigger turbo, and my cab stinks of exhaust"),
        (OPENED, "a friend runs one, mine fills the cab with fumes"),
        (OPENED, "my builder said so, and my kids get headaches riding in it"),
        (OPENED, "just a guess, exhaust is coming in the cab as well"),
        (CREPT, "gradually, and it gasses us out at idle"),
        (CREPT, "gradually, and there's exhaust coming through the vents"),
    ],
    "a wheel that touches": [
        ({}, "the shaft rubs on the housing"),
        ({}, "turbo's loose, the wheel's touching the housing"),
        (OPENED, "a friend runs one, on mine there's lots of play in the shaft"),
        (OPENED, "my builder said so, the compressor wheel is rubbing now"),
        (CREPT, "gradually, and the shaft moves in and out"),
    ],
    "a new scraping or siren noise": [
        (OPENED, "just a guess, mine makes a grinding noise"),
        (OPENED, "just a guess, the turbo screams like a siren"),
        ({}, "it makes a scraping noise"),
    ],
    "an engine that ran away": [
        ({}, "it ran away on me, wouldn't shut off with the key"),
        ({}, "need a replacement, it ran away and I had to choke it out"),
        ({}, "new turbo, the old one ran away on its own oil"),
        (OPENED, "just a guess, last week it revved up by itself"),
        (CREPT, "gradually, and then it kept running with the key off"),
        (CREPT, "gradually, had to stuff a rag in the intake to stop it"),
    ],
    "no working trailer brakes": [
        (TOWS, "a friend runs one, the trailer has no brakes"),
        (TOWS, "my builder said so, and I pull it without trailer brakes"),
        (TOWS, "just a guess, the brakes on the trailer aren't hooked up"),
        (TOWS, "just a guess, trailer brakes quit last fall"),
        ({}, "I want a bigger turbo, my trailer's got no brakes"),
        ({}, "need a turbo to tow, never had brakes on that trailer"),
    ],
}  # common knowledge of the trade, no source: each of these wordings is one of what can kill


@pytest.mark.parametrize(
    ("stop", "answers", "said"), [(stop, *each) for stop, every in SAID_ASIDE.items() for each in every]
)
def test_what_can_kill_is_heard_in_an_opening_and_in_an_aside(stop: str, answers: dict[str, str], said: str) -> None:
    _, *turns = call_with(answers, said, "yes", "yes", "yes")
    assert any(words.startswith(("STOP", "DANGER")) and stop in words.lower() for turn in turns for words in turn)


@pytest.mark.parametrize(
    ("stop", "answers", "said"), [(stop, *each) for stop, every in SAID_ASIDE.items() for each in every]
)
def test_what_can_kill_is_warned_of_before_he_confirms_it(stop: str, answers: dict[str, str], said: str) -> None:
    _, turn = call_with(answers, said)
    assert any(words.startswith("If so: STOP") and stop in words.lower() for words in turn)


def test_the_warning_stands_under_the_echo_once_and_its_words_come_with_the_yes() -> None:
    smells = "gradually, and it gasses us out at idle"
    *_, told, unsure, yes = call_with(CREPT, smells, "what was that?", "yes")
    echo = next(at for at, words in enumerate(told) if words.startswith("He also said exhaust smell"))
    assert told[echo + 1].startswith("If so: STOP    Exhaust in the cab can kill.")
    assert not any("can kill" in words for words in unsure)
    assert [words.split()[0] for words in yes if "can kill" in words or "don't drive it" in words] == ["STOP", "Say:"]


def test_two_figures_that_stop_together_warn_before_the_second_is_confirmed() -> None:
    over = call_with(TOWS, "a friend runs one, and the truck's tow rating is 10,000 lb")[1]
    under = call_with(TOWS, "a friend runs one, and the truck's tow rating is 14,000 lb")[1]
    assert any(words.startswith("If so: STOP    The trailer at 12,000 lb is over the rating") for words in over)
    assert not any("If so" in words for words in under)


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({}, "new turbo, no exhaust smell in the cab"),
        (OPENED, "a friend runs one, and he has fumes in the cab"),
        (OPENED, "just a guess, the exhaust brake switch is in the cab"),
        (OPENED, "just a guess, my exhaust gauge is out and the pyro is in the cab"),
        (OPENED, "my buddy ran away from me at the track"),
        (CREPT, "gradually, the shaft play is fine and the wheels don't touch the housing"),
        (TOWS, "a friend runs one, the trailer brakes work"),
        (TOWS, "just a guess, my trailer has its own brakes"),
    ],
)
def test_what_is_denied_or_anothers_stops_nothing(answers: dict[str, str], said: str) -> None:
    _, *turns = call_with(answers, said, "yes", "yes")
    assert not any(words.startswith(("If so", "STOP", "DANGER")) for turn in turns for words in turn)


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
