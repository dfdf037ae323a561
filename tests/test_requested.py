"""The part a caller asks for: every verdict on it, three lines that can be said aloud, his answer kept."""

import re
from dataclasses import replace

import pytest
from calls import DAILY, shop
from walks import REFERENCE

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.journal import Record
from advisor.outcome import Answer
from advisor.sheet.data import as_data
from advisor.sheet.html import call_sheet
from advisor.sheet.text import written

# Words that would make a caller feel foolish.
BELITTLING = re.compile(r"\b(wrong|silly|stupid|foolish|junk|toy|useless|mistake|bad idea)\b", re.IGNORECASE)
DOES = re.compile(r"make about [\d,]+ hp at [\d.]+ psi of boost, and light at about [\d,]+ rpm")


def without_adapters():
    """The shop when it sells nothing that joins one foot to another."""
    knowledge = shop()
    fittings = {code: part for code, part in knowledge.catalogue.fittings.items() if part.kind != "foot adapter"}
    return replace(knowledge, catalogue=replace(knowledge.catalogue, fittings=fittings), digest="no adapters")


def said(knowledge=None, **more: str):
    answers = {**DAILY, **{name.replace("_", " "): words for name, words in more.items()}}
    return consult([Answer(*pair) for pair in answers.items()], knowledge or shop(), REFERENCE, bands=False)


@pytest.mark.parametrize(
    ("request_", "verdict"),
    [("the best", "right"), ("62/68 .93", "close"), ("80 mil with a 1.15 T6 open", "too big"), ("48", "too small")],
)
def test_every_verdict_has_its_lines(request_: str, verdict: str) -> None:
    if request_ == "the best":
        request_ = re.findall(r"([\d.]+) mm compressor, ([\d.]+) mm", said().recommended.title)[0]
        request_ = "/".join(request_)
    outcome = said(request=request_)
    assert outcome.requested_is == verdict
    lines = outcome.requested_words
    assert 2 <= len(lines) <= 3
    assert not BELITTLING.search(" ".join(lines))
    assert outcome.requested.ruled_out_by or DOES.search(" ".join(lines))
    assert (lines[0] == "You picked well: that one is right for your engine.") == (verdict == "right")


@pytest.mark.parametrize("altitude", ["1,500 ft", "3,100 ft", "5,500 ft"])
def test_what_reaches_the_goal_as_little_as_the_best_one_is_neither_too_big_nor_too_small(altitude: str) -> None:
    """Which of the two is larger changes with the altitude; what is said of the one asked for does not."""
    told = {"duties": "daily, towing", "trailer weight": "14k", "power goal": "500 hp at the wheels", "tune": "mild"}
    outcome = said(**{**told, "injector size": "0 %", "boost wanted by": "1,700 rpm", "transmission": "automatic"},
                   request="a 64", altitude=altitude, must_stay="tune")  # fmt: skip
    goal = outcome.facts["crank goal"].value.high
    for option in (outcome.recommended, outcome.requested):
        assert outcome.facts_of(option.code).value("power made").high < 0.9 * goal
    assert outcome.requested_is == "short of the goal"
    told_of = " ".join(line.text for line in (*outcome.advice, *outcome.say)) + outcome.requested_words[0]
    assert "either" in told_of
    assert "more turbo than this goal" not in told_of
    assert "small side" not in told_of


@pytest.mark.parametrize(("wanted_by", "early"), [("3,600 rpm", True), ("900 rpm", False)])
def test_a_part_that_lights_late_is_not_said_to_light_early(wanted_by: str, early: bool) -> None:
    for request in ("48", "51", "54"):
        outcome = said(request=request, boost_wanted_by=wanted_by, power_goal="420 hp")
        first = outcome.requested_words[0]
        if outcome.requested_is == "too small" and not outcome.requested.ruled_out_by:
            assert first.startswith("That one lights early") == early, (request, first)
            break
    else:
        raise AssertionError("none of them is too small")


def test_a_part_that_cannot_be_bolted_on_is_said_to_be_so() -> None:
    outcome = said(without_adapters(), request="80 mil with a 1.15 T6 open")
    assert outcome.requested_is == "does not bolt on"
    assert "bolt" in " ".join(outcome.requested_words)
    assert outcome.requested.ruled_out_by


def test_a_request_that_fixes_nothing_is_unknown() -> None:
    outcome = said(request="a bigger one")
    assert outcome.requested_is == "unknown"
    assert outcome.requested_words == ()


@pytest.mark.parametrize(
    ("answer", "reason", "kept"),
    [
        ("accepted", "", "accepted"),
        ("will check", "", "will check"),
        ("insists", "my brother runs it", "insists, because: my brother runs it"),
    ],
)
def test_his_answer_is_kept_on_the_sheet(answer: str, reason: str, kept: str) -> None:
    more = {"insists_reason": reason} if reason else {}
    outcome = said(request="a 72", request_answer=answer, **more)
    assert f"His answer: {kept}" in " ".join(written(outcome, shop()).split())
    assert f"His answer: {kept}" in " ".join(call_sheet(outcome, shop()).split())
    assert as_data(outcome, shop())["request"]["answer"] == kept
    insists = any(caution.rule == "he-insists" for caution in outcome.cautions)
    assert insists == (answer == "insists")


def test_who_insists_is_told_whether_he_may_have_it_and_what_it_comes_to() -> None:
    plain, insisted = said(request="62/68 .93"), said(request="62/68 .93", request_answer="insists")
    assert insisted.requested_words[:3] == plain.requested_words
    assert re.fullmatch(
        r"It's within its limits, so you may have it: \$[\d,]+ with what it takes to fit it\. .+",
        insisted.requested_words[3],
    )
    wanted = next(f for f in plain.requested.figures if f.name == "candidate price").value.mid
    told = float(re.findall(r"\$([\d,]+)", insisted.requested_words[3])[0].replace(",", ""))
    assert told > wanted
    refused = said(without_adapters(), request="80 mil with a 1.15 T6 open", request_answer="insists").requested_words
    assert refused[0].startswith("I have none of that size that I can offer you for this.")
    assert not any("you may have it" in line for line in refused)


def at_its_close(*more: Answer) -> Call:
    """A daily driver's call after the recommendation, to which he has no objection."""
    answers = DAILY | {answer.fact: answer.words for answer in more}
    call = Call(lambda given: consult(given, shop(), bands=False), shop(), Record(answers=answers, enough=True))
    call.open()
    call.hear("yes")
    call.hear("nothing in the way")
    return call


def told(call: Call, line: str) -> str:
    return "\n".join(words for _, words in call.hear(line).lines(200))


def test_who_accepts_while_something_stops_is_asked_whether_that_is_settled_first() -> None:
    stopped = Answer("emissions status", "controls fitted")
    for ends, kept in (("yes", "accepted"), ("no", None)):
        call = at_its_close(stopped)
        asked = told(call, "sounds good, let's do it")
        assert "With that settled first" in asked
        assert "request answer" not in {answer.fact for answer in call.answers}
        told(call, ends)
        answer = {one.fact: one.words for one in call.answers}.get("request answer")
        assert (answer and understand(shop().vocabulary["request answer"], answer).fact.value) == kept
    assert "= request answer: accepted" in told(at_its_close(), "sounds good, let's do it")
    assert "= request answer: will check" in told(at_its_close(stopped), "I'll sleep on it")
