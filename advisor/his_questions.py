"""The caller's own questions, each with what the rules answer to it.

A rule answers a question by a condition that his questions include what it is about; where none speaks, the
salesperson owes the answer.
"""

from collections.abc import Iterator, Sequence

from advisor.hearing.volunteered import split, topics_of
from advisor.knowledge import Knowledge
from advisor.knowledge.conditions import Includes, leaves
from advisor.outcome import Line, Understood, Wondered


def his_questions(
    understood: Sequence[Understood], said: Sequence[Line], knowledge: Knowledge
) -> tuple[Wondered, ...]:
    """His questions in his order; ``said`` are the words of all rules that speak."""
    return tuple(
        Wondered(question, tuple(line for line in said if about & topics.get(line.rule, frozenset())))
        for heard in understood
        if (definition := knowledge.vocabulary[heard.answer.fact]).volunteered == "questions"
        for topics in (dict(_answering(heard.answer.fact, knowledge)),)
        for question in split(heard.answer.words)
        for about in (topics_of(definition, question),)
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

