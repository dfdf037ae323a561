"""What the caller said unasked, as it is told: the year of his truck, and his own questions with their answers."""

from collections.abc import Collection, Iterator

from advisor.knowledge import Knowledge
from advisor.outcome import Consultation
from advisor.sheet.layout import Block, Para, heading

TITLE = "What he asked"
OWED = "Answer him before you close: "
NOT_ANSWERED = "no rule answers it"


def owed(consultation: Consultation) -> tuple[str, ...]:
    """His questions that no rule answers."""
    return tuple(one.question for one in consultation.asked if not one.answers)


def rules(consultation: Consultation) -> frozenset[str]:
    """The rules that answer his questions."""
    return frozenset(line.rule for one in consultation.asked for line in one.answers)


def answers(consultation: Consultation, heard: Collection[str] = (), whole: bool = True) -> Iterator[Block]:
    """His questions with what to say to them, without what he has ``heard`` (rules); on the ``whole`` last those that
    are owed."""
    open_ = [(one.question, [line for line in one.told if line.rule not in heard]) for one in consultation.asked]
    told = [(question, lines) for question, lines in open_ if lines]
    if told or (whole and owed(consultation)):
        yield from heading(TITLE)
    for question, lines in told:
        yield Para(f"“{question}”", "", 2, "- ")
        for line in lines:
            yield Para(line.text, "say", 4, "Say: ")
    yield from still_owed(consultation) if whole else ()


def still_owed(consultation: Consultation) -> Iterator[Block]:
    """What the salesperson has to answer himself."""
    if questions := owed(consultation):
        yield Para(" ".join(f"“{question}”" for question in questions), "care", 2, OWED)


def opening(consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """The year of the truck, at the head of the sheet."""
    for words in year(consultation, knowledge):
        yield Para(words, "", 2)


def year(consultation: Consultation, knowledge: Knowledge) -> list[str]:
    """The year that he told, in a sentence; nothing is computed from it."""
    return [
        f"{heard.answer.fact.capitalize()} {heard.fact.value}, as he told it; no figure here rests on it."
        for heard in consultation.understood
        if heard.fact is not None and knowledge.vocabulary[heard.answer.fact].volunteered == "year"
    ]
