"""The texts of rules filled with facts, and why a candidate is out of the question, in words."""

import re
from collections.abc import Iterator, Mapping

import numpy as np

from advisor import units
from advisor.hearing.understood import value_words
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import Say
from advisor.matching.rank import (
    HARD_LIMITS,
    NOT_SOLVED,
    SHORT_IN_CLASS,
    TOO_LARGE,
    TOO_LARGE_HERE,
    TOO_LITTLE,
    TOO_WEAK,
)
from advisor.told_places import told_place
from advisor.units import Range
from advisor.weighing import NO_FOOT, Weighed

_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")
_COMPARED = re.compile(r"(?P<fact>[^<>=]+?) (?P<sign><=|>=|<|>) (?P<limit>.+)")
_SENTENCE = re.compile(r"(?<=[.!?])\s(?![a-z])")


def counted(number: int, noun: str) -> str:
    """So many of something: "1 call", "1,200 calls"."""
    return f"{number:,} {noun}{'s' * (number != 1)}"


def first_sentence(text: str) -> str:
    """The first sentence of a text."""
    return _SENTENCE.split(text, maxsplit=1)[0]


def fill(text: str, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> str:
    """The text with each ``{fact name}`` replaced by its value in the caller's unit, a computed one no finer than it
    is known."""
    return _PLACEHOLDER.sub(lambda found: _value(found[1], facts, vocabulary), text)


def _value(name: str, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> str:
    known, definition = facts.value(name), vocabulary.get(name)
    if isinstance(known, Range) and definition is not None and definition.source in ("computed", "candidate"):
        return units.show_computed(known, definition.unit, definition.quantity)
    return "not yet known" if known is None else value_words(known, definition)


OF_LIMIT = {meaning: name.removeprefix("goal ") for name, meaning in HARD_LIMITS.items()}


def reasons_against(weighed: Weighed, row: int, knowledge: Knowledge) -> tuple[tuple[str, str], ...]:
    """Why a candidate is out: for each rule, then for each limit it breaks that no rule speaks of, a sentence that can
    be said aloud, and by how much the limit is passed, for the sheet ("" where that says nothing more)."""
    rules = {rule.name: rule for rule in knowledge.rules}
    firings = {firing.rule: firing for firing in weighed.firings}
    facts = weighed.facts.at(row)
    broken = [by for by, mask in weighed.out_by.items() if mask[row]]
    said = []
    for by in broken:
        if by in rules:
            words = [action.text for action in rules[by].then if isinstance(action, Say)]
            text = fill(words[0] if words else rules[by].because, facts, knowledge.vocabulary)
            passed = "; ".join(_passed(firings[by], row, facts, knowledge.vocabulary)) if by in firings else ""
            said.append((text, passed))
    spoken_of = {column for by in broken if by in firings for column in firings[by].columns}
    for by in broken:
        if by not in rules and OF_LIMIT.get(by) not in spoken_of:
            said.append((_limit_words(by, weighed, row), ""))
    return tuple(said)


def _passed(firing: Firing, row: int, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> Iterator[str]:
    """The figures of a candidate by which a rule fired: "surge margin -22 %, the limit is -15 %"."""
    for leaf in firing.leaves:
        found = _COMPARED.fullmatch(leaf.text)
        if found is None or found["fact"] not in firing.columns or leaf.at(row) != 1:
            continue
        limit = _value(found["limit"], facts, vocabulary) if found["limit"] in vocabulary else found["limit"]
        yield f"{found['fact']} {_value(found['fact'], facts, vocabulary)}, the limit is {limit}"


def _limit_words(limit: str, weighed: Weighed, row: int) -> str:
    def share(name: str) -> str:
        return units.show_computed(abs(float(weighed.columns[name][row])), "%", "percent")

    for duty in weighed.grid.duties:
        if limit == TOO_LITTLE.format(duty.name):
            made = weighed.columns[f"{duty.name} power"]
            own, most = (units.show_computed(float(power), "hp", "power")
                         for power in (made[row], np.max(made[weighed.kept], initial=made[row])))  # fmt: skip
            return f"It would make about {own} {told_place(duty).named}, where others make {most}."
    if limit == HARD_LIMITS["tip speed margin"]:
        return f"It would have to turn {share('tip speed margin')} faster than its wheel may."
    if limit == HARD_LIMITS["goal surge margin"]:
        passed = share("goal surge margin")
        return f"It would work {passed} left of its surge line just where you need the power, and bark."
    return LIMIT_WORDS.get(limit, f"It {limit.removeprefix('it ')}.")


LIMIT_WORDS = {
    NOT_SOLVED: "I can't get a sound figure for it on your engine.",
    NO_FOOT: "It can't be bolted on with the parts there are.",
    TOO_WEAK: "It would make far less than your engine makes today.",
    TOO_LARGE: "Your engine is too small for it, and for all that I sell: it would have its boost too late, or never.",
    SHORT_IN_CLASS: "Your class allows it, but it would stay far short of your goal.",
    TOO_LARGE_HERE: "It would have its boost too late on your engine, or never.",
}
