"""Invented callers for the tests, as answers in their own words."""

from dataclasses import replace
from functools import cache

from advisor.consultation import consult
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
