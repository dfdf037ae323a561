"""Facts and choices that have another name in one of two states of the knowledge, and are the same otherwise."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any

from advisor.conclusion import Line
from advisor.knowledge import FactDef, Knowledge, Rule
from advisor.knowledge.conditions import Condition
from advisor.outcome import Answer

_NAMED = ("fact", "name")
"""Fields that hold the name of a fact in what a rule is made of."""


@dataclass(frozen=True, slots=True)
class Renames:
    """Old name of a fact → its new one, and (new name of the fact, old choice) → the new choice."""

    facts: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[tuple[str, str], str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.facts or self.choices)

    def lines(self) -> list[str]:
        """As lines of text."""
        found = [f"fact renamed: '{old}' is '{new}' now" for old, new in self.facts.items()]
        return found + [f"choice renamed: '{old}' of '{of}' is '{new}' now" for (of, old), new in self.choices.items()]

    def answer(self, answer: Answer) -> Answer:
        """The answer to the fact of the new name; a choice that was said by its name by its new one."""
        fact = self.facts.get(answer.fact, answer.fact)
        words = self.choices.get((fact, answer.words.strip()), answer.words)
        return answer if (fact, words) == (answer.fact, answer.words) else replace(answer, fact=fact, words=words)

    def rule(self, rule: Rule) -> Rule:
        """The rule as it reads by the new names."""
        return replace(rule, when=self._of(rule.when), then=self._of(rule.then)) if self else rule

    def condition(self, condition: Condition) -> Condition:
        """A condition as it reads by the new names."""
        named: Condition = self._of(condition)
        return named

    def lines_of(self, lines: Iterable[Line]) -> tuple[Line, ...]:
        """Lines of a conclusion as they read by the new names."""
        return tuple(self._line(line) for line in lines)

    def _line(self, line: Line) -> Line:
        if line.kind in ("asks", "asks first", "conflict"):
            return replace(line, what=self.facts.get(line.what, line.what))
        if line.kind not in ("fact", "assumption"):
            return line
        fact, verb, value = line.what.partition(" is ")
        fact = self.facts.get(fact, fact)
        said = ", ".join(self.choices.get((fact, one), one) for one in value.split(", "))
        return replace(line, what=f"{fact}{verb}{said}")

    def _of(self, part: Any, fact: str = "") -> Any:
        """A part of a rule by the new names; `fact` is the (new) name of the fact whose choices it may hold."""
        match part:
            case str():
                return self._text(self.choices.get((fact, part), part) if fact else part)
            case tuple() | frozenset():
                return type(part)(self.facts.get(one, self._of(one, fact)) if not fact and isinstance(one, str)
                                  else self._of(one, fact) for one in part)  # fmt: skip
            case _ if is_dataclass(part) and not isinstance(part, type):
                return self._node(part)
            case _:
                return part

    def _node(self, node: Any) -> Any:
        named = next((getattr(node, key) for key in _NAMED if isinstance(getattr(node, key, None), str)), "")
        new = self.facts.get(named, named)
        changed = {}
        for one in fields(node):
            value = getattr(node, one.name)
            changed[one.name] = new if one.name in _NAMED and value == named else self._of(value, new)
        return replace(node, **changed)

    def _text(self, words: str) -> str:
        for old, new in self.facts.items():
            words = words.replace(f"{{{old}}}", f"{{{new}}}")
        return words


def renames(old: Knowledge, new: Knowledge) -> Renames:
    """What is likely renamed: a fact that is gone beside a new one that is asked and answered alike, and choices that
    stand in the same place with the same phrases."""
    gone = [one for name, one in old.vocabulary.items() if name not in new.vocabulary]
    come = [one for name, one in new.vocabulary.items() if name not in old.vocabulary]
    facts = {}
    for one in gone:
        alike = [other for other in come if _alike(one, other)]
        if len(alike) == 1 and sum(_alike(other, alike[0]) for other in gone) == 1:
            facts[one.name] = alike[0].name
    choices = {}
    for name, one in old.vocabulary.items():
        now = new.vocabulary.get(facts.get(name, name))
        if now is None or len(now.choices) != len(one.choices):
            continue
        for before, after in zip(one.choices, now.choices, strict=True):
            fresh = before.name not in now.choice_names and after.name not in one.choice_names
            if fresh and (before.words == after.words or (before.means and before.means == after.means)):
                choices[now.name, before.name] = after.name
    return Renames(facts, choices)


def _alike(one: FactDef, other: FactDef) -> bool:
    """Whether two facts differ in little but their names."""
    sort = ("source", "kind", "quantity", "unit", "plausible")
    if any(getattr(one, name) != getattr(other, name) for name in sort):
        return False
    if one.source == "asked":
        return one.ask == other.ask or (one.why == other.why and one.prior == other.prior)
    return bool(one.choices) and one.choice_names == other.choice_names and one.topic == other.topic
