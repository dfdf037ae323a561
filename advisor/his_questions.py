"""The caller's own questions, each with what the rules answer to it.

A rule answers a question by a condition that his questions include what it is about; where none speaks, the
salesperson owes the answer.
"""

from collections.abc import Iterator, Mapping, Sequence

from advisor.hearing import asked_back
from advisor.hearing.at_close import figures
from advisor.hearing.volunteered import split, topics_of
from advisor.knowledge import Knowledge
from advisor.knowledge.conditions import Includes, leaves
from advisor.outcome import Line, Understood, Wondered

OF_HIS = "the part asked for"
"""What stands for the rule behind words about the part that he asked for."""


def his_questions(
    understood: Sequence[Understood],
    said: Sequence[Line],
    knowledge: Knowledge,
    request: str = "",
    requested: Sequence[str] = (),
    price: str = "",
) -> tuple[Wondered, ...]:
    """His questions in his order; ``said`` are the words of all rules that speak, ``requested`` what is said of the
    part in his ``request``, ``price`` what that costs: they answer what names it by its figures and no other rule
    answers."""
    his = figures(request)

    def answers(question: str, about: frozenset[str], topics: Mapping[str, frozenset[str]]) -> tuple[Line, ...]:
        ruled = tuple(line for line in said if about & topics.get(line.rule, frozenset()))
        costs = asked_back.costs(question)
        if not his & figures(question) or (ruled and not costs):
            return ruled
        words = [price] if costs and price else requested
        return tuple(Line(line, OF_HIS, stage="advise") for line in words) or ruled

    return tuple(
        Wondered(question, answers(question, topics_of(definition, question), topics))
        for heard in understood
        if (definition := knowledge.vocabulary[heard.answer.fact]).volunteered == "questions"
        for topics in (dict(_answering(heard.answer.fact, knowledge)),)
        for question in split(heard.answer.words)
    )


def _answering(fact: str, knowledge: Knowledge) -> Iterator[tuple[str, frozenset[str]]]:
    """The rules that answer a question, with what it has to be about."""
    for rule in knowledge.rules:
        named = frozenset(
            leaf.choice
            for leaf in leaves(rule.when)
            if isinstance(leaf, Includes) and leaf.fact == fact and not leaf.negated
        )
        if named:
            yield rule.name, named

