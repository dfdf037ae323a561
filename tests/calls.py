"""Invented callers for the tests, as answers in their own words, and what a call offers them."""

import re
from dataclasses import replace
from functools import cache

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing.mentions import take_all
from advisor.inference.engines import agenda
from advisor.knowledge import Knowledge, load, shipped_folder
from advisor.outcome import Answer, Consultation

DAILY = {
    "call kind": "new turbo",
    "request": "a 64",
    "duties": "daily",
    "displacement": "6.6 litres",
    "cylinders": "8",
    "valves per cylinder": "four",
    "rpm limit": "3300",
    "compression ratio": "17",
    "power goal": "400 hp",
    "power measured at": "crank",
    "altitude": "5,280 feet",
    "summer temperature": "90 F",
    "intercooler": "stock",
    "air filter": "stock",
    "exhaust size": "four inch",
    "charge pipe size": "3 in",
    "manifold foot": "T4",
    "manifold entry": "divided",
    "cylinder head": "stock",
    "camshaft": "stock",
}


@cache
def shop() -> Knowledge:
    """The demo shop, loaded once."""
    return load(shipped_folder())


@cache
def thinned(every: int) -> Knowledge:
    """The demo shop with one turbo in ``every``, for tests that consult many times."""
    knowledge = shop()
    turbos = dict(list(knowledge.catalogue.turbos.items())[::every])
    catalogue = replace(knowledge.catalogue, turbos=turbos)
    return replace(knowledge, catalogue=catalogue, digest=f"{knowledge.digest} one in {every}")


def call(answers: dict[str, str]) -> Consultation:
    """What follows from these answers; the reference evaluation fires."""
    return consult([Answer(fact, words) for fact, words in answers.items()], shop(), agenda("reference"))


ONE = re.compile(r"(?:He also said|That makes) (.+?)\. Take it\?")
LIST = re.compile(r"“You told me too: (.+)\. Is all of that right\?”")


def offers(shown: str) -> list[str]:
    """The facts, as they are echoed, that are on offer in what is shown: one by itself, or several in one list."""
    words = " ".join(shown.split())
    if (found := LIST.search(words)) is None:
        return [str(echo) for echo in ONE.findall(words)]
    return [re.sub(r"^\d, | \([a-z][^)]*\)| instead$", "", item) for item in found[1].split("; ")]


def told(words: str) -> dict[str, str]:
    """What a sentence tells beside an answer, by fact, as it is read back."""
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    return {one.answer.fact: one.echo.partition(": ")[2] for one in take_all(asked, words)}


def call_of(*lines: str) -> tuple[dict[str, str], str]:
    """The answers of a call with these lines at a thinned shop, and what it shows last."""
    knowledge, reference = thinned(20), agenda("reference")
    call = Call(lambda answers: consult(answers, knowledge, reference, bands=False), knowledge)
    turn = call.open()
    for line in lines:
        turn = call.hear(line)
    return {answer.fact: answer.words for answer in call.answers}, "\n".join(line for _, line in turn.lines(2000))
