"""Answers that can't all be so, in a live call: which are asked about now, and what a reply to that settles."""

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from advisor import units
from advisor.at_odds import Odds, at_odds, told_figures
from advisor.hearing import agrees, understand
from advisor.hearing.surroundings import names_a_figure
from advisor.knowledge import FactDef
from advisor.outcome import Consultation, Understood
from advisor.units import Range
from advisor.words.endings import stem_of

ALL = re.compile(r"\b(?:both|all|each|every one)\b|\bas (?:i )?(?:said|told)\b|\bthey(?:'re| are)\b", re.IGNORECASE)
WRONG = re.compile(
    r"\b(?:not|wrong|off|slip|mistake|mistaken|incorrect|misspoke|too (?:high|low|much))\b|n't\b", re.IGNORECASE
)
FIRST = re.compile(r"\b(?:first|former)\b", re.IGNORECASE)
LAST = re.compile(r"\b(?:second|last|latter|other)\b", re.IGNORECASE)
SAME = 0.005
"""Parts by which a figure may differ that is said again."""
STILL = "That doesn't go with the other either."
HINT = "Say which one is right, say the right figure, or say that both are."


@dataclass(frozen=True, slots=True)
class Reply:
    """What was said to the question which is right: another figure (``heard``), one to be asked ``again``, that all of
    it ``stands``, or, with ``unclear``, nothing that settles it."""

    heard: Understood | None = None
    again: str = ""
    stands: bool = False
    unclear: str = ""


class AtOdds:
    """What is at odds and was left so is not asked again while the answers are the same."""

    def __init__(self, left: Iterable[str] = ()) -> None:
        self.left = set(left)

    def now(self, consultation: Consultation, vocabulary: Mapping[str, FactDef]) -> Odds | None:
        """The first answers at odds of which nobody said that they stand."""
        found = at_odds(consultation.understood, vocabulary)
        return next((odds for odds in found if odds.ask not in self.left), None)


def reply(odds: Odds, said: str, understood: Iterable[Understood], vocabulary: Mapping[str, FactDef]) -> Reply:
    """What the words settle."""
    told, sums = told_figures(understood), odds.against.sign == 0
    named, wrong = _named(odds, said), WRONG.search(said) is not None
    if names_a_figure(said):
        return _figure(odds, said, told, named, vocabulary)
    if units.is_unsure(said) or (ALL.search(said) and not wrong):
        return Reply(stands=True)
    if agrees(said) is False and not named:
        return Reply(again=odds.facts[-1])
    if len(named) != 1:
        return Reply(unclear=HINT)
    return Reply(again=named[0] if wrong or sums else _other(odds, named[0]))


def _figure(
    odds: Odds, said: str, told: Mapping[str, Range], named: Collection[str], vocabulary: Mapping[str, FactDef]
) -> Reply:
    """A figure is one that was told, and then the right one, or what one of them should have been: the one that is
    named, or that it puts right, of several the one told last."""
    readings = {fact: understand(vocabulary[fact], said) for fact in odds.facts}
    values = {
        fact: heard.fact.value
        for fact, heard in readings.items()
        if heard.fact is not None and not heard.doubt and isinstance(heard.fact.value, Range)
    }
    if not values:
        return Reply(unclear=HINT)
    right = [fact for fact, value in values.items() if fact in (named or values) and _same(value, told[fact])]
    if right:
        return Reply(again=_other(odds, right[0]))
    able = [fact for fact in named if fact in values] or [
        fact for fact, value in values.items() if odds.settled_by(fact, value, told)
    ]
    return Reply(heard=readings[able[-1]]) if able else Reply(unclear=f"{STILL} {HINT}")


def _same(one: Range, other: Range) -> bool:
    return abs(one.mid - other.mid) <= SAME * abs(other.mid)


def _other(odds: Odds, fact: str) -> str:
    return [other for other in odds.facts if other != fact][-1]


def _named(odds: Odds, said: str) -> list[str]:
    """The facts whose own words are said, or whose place in the order of telling is."""
    words = {stem_of(word) for word in re.findall(r"[a-z']+", said.lower())}
    own = {fact: {stem_of(word) for word in fact.split()} for fact in odds.facts}
    named = [
        fact
        for fact, stems in own.items()
        if words & (stems - {stem for other, others in own.items() if other != fact for stem in others})
    ]
    if named or len(odds.facts) != 2:
        return named
    return [fact for fact, mark in zip(odds.facts, (FIRST, LAST), strict=True) if mark.search(said)]
