"""The trace of a call for people: each rule that fired, its reason, and what it rested on."""

from dataclasses import dataclass

from advisor.hearing.understood import value_words
from advisor.inference import explain
from advisor.inference.facts import FactBase
from advisor.knowledge import Knowledge
from advisor.outcome import Consultation


@dataclass(frozen=True, slots=True)
class Fired:
    """One rule that fired: its name, place and reason, and its facts with where each came from."""

    rule: str
    place: str
    because: str
    grounds: tuple[str, ...]


def fired(consultation: Consultation, knowledge: Knowledge, words: bool = True) -> list[Fired]:
    """Every rule that fired, in the order of the consultation; his own ``words`` beside what he told."""
    facts = fact_base(consultation)
    rules = {rule.name: rule for rule in knowledge.rules}
    entries = []
    for firing in consultation.firings:
        rule = rules.get(firing.rule)
        because = f"{rule.because} [{rule.basis}]" if rule else ""
        grounds = []
        for fact in firing.facts:
            step = explain.how(fact.name, facts, (), knowledge)
            said = value_words(fact.value, knowledge.vocabulary.get(fact.name))
            told = not words and fact.origin.kind == "answer"
            grounds.append(f"{step.what}: {step.why}" if step and not told else f"{fact.name} is {said}")
        if firing.columns:
            grounds.append(f"by candidate: {', '.join(firing.columns)}")
        if firing.unknown:
            grounds.append(f"not known: {', '.join(firing.unknown)}")
        entries.append(Fired(firing.rule, str(firing.place), because, tuple(grounds)))
    return entries


def row_of(consultation: Consultation, code: str) -> int | None:
    """The row of a candidate among the candidate facts."""
    codes = consultation.candidate_facts.columns.get("candidate code")
    return (
        next((row for row in range(len(codes)) if codes.at(row) == code), None) if codes is not None else None
    )


def fact_base(consultation: Consultation) -> FactBase:
    """The facts of a consultation as the explanations read them."""
    facts = consultation.facts
    return facts if isinstance(facts, FactBase) else FactBase(facts)
