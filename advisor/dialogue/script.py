"""A live call as a scripted call: what was said, without the people it was said about, and what was
concluded."""

import re
from collections.abc import Iterator, Sequence
from typing import Any

import yaml

from advisor import units
from advisor.course import infer
from advisor.dialogue.masking import masked
from advisor.hearing import understand
from advisor.hearing.understood import value_words
from advisor.inference.engines import agenda
from advisor.inference.facts import Value, same
from advisor.knowledge import NOT_SURE, FactDef, Knowledge
from advisor.knowledge.rules import Caution
from advisor.outcome import Answer, Consultation
from advisor.sheet.trace import row_of
from advisor.spans import told_over

_WORDS = """
a about above all almost an and around at below between but by close exactly few from give half hundred it is
just k less like maybe more most near nearly of on or over per plus point probably quarter roughly say so take
the then thousand to under up zero one two three four five six seven eight nine ten eleven twelve thirteen
fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety
"""
BEST = ("compressor inducer", "housing ratio", "housing entry", "housing foot", "wastegate")
PLAIN_WORDS = frozenset(_WORDS.split())


def masked_answer(definition: FactDef, words: str) -> str:
    """The answer as it goes into a script: it says the same and no more. Only texts keep the caller's wording
    beyond figures and choices."""
    heard = understand(definition, words)
    if definition.kind == "text":
        return masked(words)
    if heard.not_sure:
        return NOT_SURE
    if heard.fact is None:
        return masked(words)
    if definition.kind == "number" and _only_figures(definition, words):
        return words
    for said in (value_words(heard.fact.value, definition), *_exact(heard.fact.value, definition)):
        again = understand(definition, said)
        if again.fact is not None and same(again.fact.value, heard.fact.value):
            return said
    return masked(words)


def as_script(name: str, answers: Sequence[Answer], consultation: Consultation, knowledge: Knowledge) -> str:
    """The call in the form of a scripted call, with what it concludes now as what it must conclude; what hangs on the
    caller's ranges only of a consultation with bands."""
    conclude: dict[str, Any] = {"verdict": consultation.verdict}
    said = [
        Answer(answer.fact, masked_answer(knowledge.vocabulary[answer.fact], answer.words)) for answer in answers
    ]
    fired = {firing.rule for firing in consultation.firings}
    must = [{"best": condition} for condition in _best(consultation, knowledge)]
    must += [{"caution": caution.rule} for caution in consultation.cautions if caution.rule in fired]
    must += [{"may caution": rule} for rule in (_open(said, knowledge) if consultation.depends else ())]
    if must:
        conclude["must"] = must
    script = {
        "call": masked(units.clean(name)),
        "about": "Saved from a call; say here in one sentence what it shows.",
        "answers": [{answer.fact: answer.words} for answer in said],
        "conclude": conclude,
    }
    return yaml.safe_dump(script, sort_keys=False, allow_unicode=True, width=100)


def _open(answers: Sequence[Answer], knowledge: Knowledge) -> Iterator[str]:
    """The rules of which it hangs on his ranges whether they warn, as a replay of these answers finds them."""
    found = told_over(infer(answers, knowledge, agenda()), knowledge)
    warning = (rule.name for rule in knowledge.rules if any(isinstance(action, Caution) for action in rule.then))
    yield from (rule for rule in warning if found is not None and found.sign(rule) == 0)


def _best(consultation: Consultation, knowledge: Knowledge) -> Iterator[str]:
    """The recommended turbo as conditions: wheel and housing, as near as makes it the same choice."""
    row = row_of(consultation, consultation.recommended.code) if consultation.recommended else None
    if row is None:
        return
    facts = consultation.candidate_facts.at(row)
    for name in BEST:
        value, definition = facts.value(name), knowledge.vocabulary.get(name)
        if definition is None:
            continue
        if isinstance(value, units.Range):
            figure = units.from_si(value.mid, definition.unit, definition.quantity)
            yield f"{name} is between {0.99 * figure:.4g} and {1.01 * figure:.4g} {definition.unit}".rstrip()
        elif isinstance(value, str):
            yield f"{name} is {value}"


def _only_figures(definition: FactDef, words: str) -> bool:
    """Whether the words are nothing but a figure: numbers, plain number words and units."""
    known = PLAIN_WORDS | {definition.unit.lower()}
    quantity = units.QUANTITIES[definition.quantity]
    known |= {part for alias in quantity.aliases for part in re.findall(r"[^\W\d_]+", alias)}
    return masked(words) == words and all(word in known for word in re.findall(r"[^\W\d_]+", words.lower()))


def _exact(value: Value, definition: FactDef) -> tuple[str, ...]:
    """A number in its unit with all its digits."""
    if not isinstance(value, units.Range):
        return ()
    low, high = (units.from_si(end, definition.unit, definition.quantity) for end in (value.low, value.high))
    return (
        (f"{low:.12g} {definition.unit}",)
        if value.exact
        else (f"{low:.12g} to {high:.12g} {definition.unit}",)
    )
