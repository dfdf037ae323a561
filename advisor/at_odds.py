"""Answers held against each other: which can't all be so, and what to ask then.

Only what certainly contradicts is questioned: of ranges the ends that come nearest each other, and nothing that the
caller wasn't sure of.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.knowledge.against import TOLD, Against
from advisor.knowledge.places import in_a_row
from advisor.knowledge.rules import PLACEHOLDER
from advisor.outcome import Understood
from advisor.units import Range

SLACK = 1e-6
"""Parts of a figure by which rounding may make it larger."""
ABOUT = ": about "


@dataclass(frozen=True, slots=True)
class Odds:
    """Answers that can't all be so, in the order in which they were told, with the question which of them is right;
    ``holder`` is the fact whose entry says so."""

    facts: tuple[str, ...]
    ask: str
    against: Against
    holder: str

    def settled_by(self, fact: str, value: Range, told: Mapping[str, Range]) -> bool:
        """Whether they go together once one of them is another figure."""
        return not _contradicts(self.holder, self.against, {**told, fact: value})


def told_figures(understood: Iterable[Understood]) -> dict[str, Range]:
    """The figures that the caller gave and is sure of (SI), in the order in which they were told."""
    return {
        heard.answer.fact: heard.fact.value
        for heard in understood
        if heard.fact is not None and not heard.not_sure and isinstance(heard.fact.value, Range)
    }


def at_odds(understood: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> Iterator[Odds]:
    """Every two answers, or more, that can't all be so."""
    told, by_fact = told_figures(understood), {heard.answer.fact: heard for heard in understood}
    for name, definition in vocabulary.items():
        for against in definition.held_against:
            if _contradicts(name, against, told):
                yield _odds(name, against, told, by_fact, vocabulary)


def questioned(understood: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> tuple[Understood, ...]:
    """The answers, with the question which is right as the doubt of the last one of those that can't all be so."""
    doubts: dict[str, str] = {}
    for odds in at_odds(understood, vocabulary):
        doubts.setdefault(odds.facts[-1], odds.ask)
    return tuple(
        replace(heard, doubt=doubts[heard.answer.fact]) if heard.answer.fact in doubts and not heard.doubt else heard
        for heard in understood
    )


def _odds(
    name: str,
    against: Against,
    told: Mapping[str, Range],
    heard: Mapping[str, Understood],
    vocabulary: Mapping[str, FactDef],
) -> Odds:
    facts = tuple(fact for fact in told if fact in (name, *against.others))

    def shown(fact: str) -> str:
        if fact == TOLD:
            return in_a_row([f"{shown(one)} {one.removesuffix(' share')}" for one in facts])
        if fact not in told:
            return "nothing"
        definition, value = vocabulary[fact], told[fact]
        unit = heard[fact].unit or definition.unit
        if ABOUT in heard[fact].echo:
            return f"about {units.show(value.mid, unit, definition.quantity)}"
        return units.show(value, unit, definition.quantity)

    return Odds(facts, PLACEHOLDER.sub(lambda found: shown(found[1]), against.say), against, name)


def _contradicts(name: str, against: Against, told: Mapping[str, Range]) -> bool:
    if against.sign == 0:
        parts = [told[fact] for fact in (name, *against.others) if fact in told]
        return sum(part.low for part in parts) > against.share * (1.0 + SLACK)
    other, own = told.get(against.others[0]), told.get(name)
    if own is None or other is None:
        return False
    if against.sign > 0:
        return own.low > against.share * other.high + SLACK * abs(other.high)
    return own.high < against.share * other.low - SLACK * abs(other.low)
