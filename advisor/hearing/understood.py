"""What was understood of an answer, in the shop's words: settled, not sure, mended, or a doubt with its question."""

from dataclasses import replace

from advisor.inference import explain
from advisor.inference.facts import Fact, Origin, Value
from advisor.knowledge import NOT_SURE, FactDef
from advisor.outcome import Answer, Understood

LEANT = "Is that it?"
ALL_OF_IT = "Is that all of it?"
YES_OR_NO = "Ask it again: yes or no?"
LOOKS_LIKE = "That looks like"


def value_words(value: Value, definition: FactDef | None) -> str:
    """A value as the shop says it, with the unit of the vocabulary."""
    return explain.words("", value, {} if definition is None else {"": definition})


def settled(definition: FactDef, answer: Answer, value: Value) -> Understood:
    fact = Fact(definition.name, value, Origin("answer", answer.words))
    return Understood(answer, fact, f"{definition.name}: {value_words(value, definition)}")


def not_sure(definition: FactDef, answer: Answer) -> Understood:
    if definition.kind == "number" and definition.prior is not None and not definition.left_open:
        fact = Fact(definition.name, definition.prior, Origin("answer", NOT_SURE))
        echo = f"{definition.name}: not sure, taken as {value_words(definition.prior, definition)}"
        return Understood(answer, fact, echo, not_sure=True)
    return Understood(answer, None, f"{definition.name}: not sure, left open", not_sure=True)


def perhaps_not_sure(definition: FactDef, answer: Answer) -> Understood:
    """Who seems not to know it, for a yes."""
    return replace(not_sure(definition, answer), doubt="That sounds like he doesn't know. Shall it be left open?")


def mended(definition: FactDef, taken: Understood, answer: Answer) -> Understood:
    """What was understood once slips of the typing finger were mended, for a yes."""
    if taken.fact is None or taken.not_sure:
        return replace(taken, answer=answer)
    asked = f"{LOOKS_LIKE} {value_words(taken.fact.value, definition)}. {LEANT}"
    fact = replace(taken.fact, origin=Origin("answer", answer.words))
    return replace(taken, answer=answer, fact=fact, doubt=taken.doubt or asked)


def sounds_like(definition: FactDef, value: Value) -> str:
    """The question whether that is it; for yes or no the question which."""
    if isinstance(value, bool):
        return f"That sounds like a {value_words(value, definition)}. {YES_OR_NO}"
    if isinstance(value, frozenset | str):
        return sounds_like_these(definition, frozenset([value]) if isinstance(value, str) else value)
    return f"That sounds like {value_words(value, definition)}. {LEANT}"


def sounds_like_these(definition: FactDef, named: frozenset[str], asked: str = LEANT) -> str:
    """The question whether that is it."""
    told = [f"{choice.name} ({choice.means})" if choice.means else choice.name for choice in definition.choices
            if choice.name in named]
    return f"That sounds like {' and '.join(told)}. {asked}"
