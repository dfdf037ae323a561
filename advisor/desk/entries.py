"""A rule taken apart for reading: its conditions with their depth, and what it does, each in words."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.hearing.understood import value_words
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.conditions import All, AnyOf, Condition, NoneOf, leaves
from advisor.knowledge.rules import (
    AddPart,
    Ask,
    Assume,
    Caution,
    NextStep,
    Penalise,
    Recommend,
    RuleOut,
    Say,
    SetFact,
    Setting,
)
from advisor.units import Range

GROUPS = {All: "all of:", AnyOf: "one of:", NoneOf: "none of:"}


@dataclass(frozen=True, slots=True)
class Entry:
    """A rule as it is written up; conditions with their depth."""

    rule: Rule
    when: tuple[tuple[int, str], ...]
    then: tuple[str, ...]


def entry(rule: Rule, knowledge: Knowledge) -> Entry:
    """A rule taken apart for reading."""
    when = tuple(line for part in rule.written.parts for line in _conditions(part, 0))
    return Entry(rule, when, tuple(_actions(rule, knowledge)))


def _conditions(part: Condition, depth: int) -> Iterator[tuple[int, str]]:
    if isinstance(part, All | AnyOf | NoneOf):
        yield depth, GROUPS[type(part)]
        for inner in part.parts:
            yield from _conditions(inner, depth + 1)
    else:
        yield depth, part.text


def _actions(rule: Rule, knowledge: Knowledge) -> Iterator[str]:
    for action in rule.then:
        match action:
            case SetFact(fact=fact, value=value):
                yield f"{fact} is {_value(value, fact, knowledge)}"
            case Assume(fact=fact, value=value):
                yield f"{fact} is taken as {_value(value, fact, knowledge)} where nobody said"
            case Ask(facts=facts, urgent=urgent):
                yield f"ask {'first ' if urgent else ''}for {', '.join(facts)}"
            case RuleOut():
                yield "the candidate is out"
            case Penalise(points=points, slope=slope):
                size, even = (f"{abs(points):g}", "") if slope is None else (slope.points, f" {slope.words}")
                yield f"{size} points {'off' if points > 0 else 'for'} the candidate{even}"
            case Caution(severity=severity, text=text, at_once=at_once):
                yield f"caution ({severity}{', told at once' if at_once else ''}): {text}"
            case Recommend(text=text):
                yield f"advise: {text}"
            case NextStep(text=text):
                yield f"next step: {text}"
            case AddPart(kind=kind, quantity=quantity):
                yield f"add {quantity} x {kind}"
            case Say(text=text):
                yield f"say: “{text}”"


def _value(value: Setting, fact: str, knowledge: Knowledge) -> str:
    if isinstance(value, str | bool | frozenset):
        return value_words(value, knowledge.vocabulary.get(fact))
    number = getattr(value, "si", None)
    if number is not None:
        return value_words(Range(number, number), knowledge.vocabulary.get(fact))
    return value.text


MOST_LETTERS = 90
"""Of a condition or a text in a difference."""


def difference(before: Entry, after: Entry) -> str:
    """What of conditions and deeds is otherwise, in a line; "" for nothing. What is only called otherwise stays out."""
    sides = [(*leaves(one.rule.written), *one.rule.then) for one in (before, after)]
    words = [[*(leaf.text for leaf in leaves(one.rule.written)), *one.then] for one in (before, after)]
    gone, new = (
        [_short(text) for part, text in zip(sides[at], words[at], strict=True) if part not in sides[1 - at]]
        for at in (0, 1)
    )
    pairs = [f"{old} before, now {now}" for old, now in zip(gone, new, strict=False)]
    also = [f"no longer {old}" for old in gone[len(new) :]] + [f"now also {now}" for now in new[len(gone) :]]
    if not (gone or new) and before.rule.written != after.rule.written:
        also.append("its conditions hang together otherwise")
    return "; ".join((*pairs, *also))


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= MOST_LETTERS else f"{words[:MOST_LETTERS].rsplit(' ', 1)[0]} ..."
