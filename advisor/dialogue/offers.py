"""What a caller said beside his answer: read back in one list, once, and once more when its question or the end
comes."""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from advisor.hearing import beside
from advisor.hearing.understood import LEANT
from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.sheet.layout import Block, Para

HEDGE = re.compile(r"^(?:(?:it's|about|around|roughly|maybe|some) )+", re.IGNORECASE)


class Offers:
    """``now`` are the offers to be answered, of which those that are ``listed`` are put to him, ``ahead`` of a doubt
    that waits where that was answered with them; ``held`` what was put right beside an answer, which comes first once
    that is settled, and ``then`` facts to be asked again once nothing is on offer; ``settled`` the facts that were
    offered twice or turned down, which nobody offers again; ``denied`` those that were turned down."""

    def __init__(self, offered: Iterable[Understood] = (), waiting: Iterable[Understood] = ()) -> None:
        self.now = list(offered)
        self.ahead = False
        self.held: list[Understood] = []
        self.then: list[str] = []
        self.settled: set[str] = set()
        self.denied: set[str] = set()
        self._passed = {one.answer.fact: one for one in waiting}
        self._one_of: dict[str, frozenset[str]] = {}  # by words that mean one of several facts, these
        for one in self._passed.values():
            facts = frozenset(fact for fact, other in self._passed.items() if other.answer.words == one.answer.words)
            self._one_of |= {one.answer.words: facts} if len(facts) > 1 else {}

    @property
    def listed(self) -> list[Understood]:
        """What is read back now and takes one yes: all that is clear, or the first by itself where it is doubted."""
        alone = self.now[:1] if self.now and self.now[0].doubt else []
        return alone or [one for one in self.now if not one.doubt]

    def kept(self) -> tuple[list[Understood], list[Understood]]:
        """What is on offer and what waits for its question, not to be lost."""
        return [*self.now, *self.held], list(self._passed.values())

    def take(self, facts: Iterable[str]) -> None:
        """These are taken, or told otherwise."""
        gone = {*facts}
        self.now = [one for one in self.now if one.answer.fact not in gone]

    def turn_down(self, facts: Collection[str], otherwise: str = "") -> None:
        """These aren't so, but perhaps as it is said ``otherwise``."""
        self.take(facts)
        self.settled |= set() if otherwise else {*facts}
        self.denied.update(facts)
        self._passed = {fact: one for fact, one in self._passed.items() if fact not in facts}

    def add(self, told: Sequence[Understood]) -> None:
        """Told in the same breath as an answer while others wait."""
        waiting = {one.answer.fact for one in self.now}
        self.now += [one for one in told if one.answer.fact not in waiting]

    def pass_over(self) -> None:
        """Something else was said: what is offered waits for its question."""
        self.put_off(self.now)
        self.now, self.ahead = [], False

    def set_aside(self, doubted: Sequence[Understood]) -> None:
        """Nothing was said to what is on offer or ``doubted``: all of it waits, even what was offered twice."""
        self.now += [one for one in doubted if one.fact is not None]
        self.settled -= {one.answer.fact for one in self.now} - self.denied
        self.pass_over()

    def put_off(self, told: Iterable[Understood]) -> None:
        """These wait for their questions."""
        self._passed |= {more.answer.fact: more for more in told if more.answer.fact not in self.settled}

    def put_ahead(self, told: Sequence[Understood]) -> None:
        """What was said to a doubt comes before it is put again."""
        self.pass_over()
        self.now, self.ahead = list(told), True

    def put_first(self, told: Sequence[Understood]) -> None:
        """What was said to an offer comes before it is put again."""
        facts = {one.answer.fact for one in told}
        self.now = [*told, *(one for one in self.now if one.answer.fact not in facts)]

    def let_go(self, doubted: Understood | None) -> str:
        """Put what was held on offer, unless a doubt is to be settled before; the fact to be asked again, if its time
        has come."""
        if doubted is None:
            self.put_first(self.held)
            self.held = []
        if doubted is not None or self.now:
            return ""
        return self.then.pop(0) if self.then else ""

    def doubt_is_due(self) -> bool:
        """Whether a doubt waited for what was ahead of it, and that is settled now."""
        due = self.ahead and not self.now
        self.ahead = self.ahead and not due
        return due

    def wait(self, doubted: Understood) -> None:
        """What was leant to is offered when its question comes."""
        if LEANT in doubted.doubt:
            self._passed[doubted.answer.fact] = replace(doubted, doubt="")

    def wait_for_one_of(self, readings: Collection[Understood]) -> None:
        """Words that mean one of several facts wait for the question of each."""
        facts = frozenset(one.answer.fact for one in readings)
        self._passed = {one.answer.fact: one for one in readings} | self._passed
        self._one_of |= {one.answer.words: facts for one in readings}

    def wait_for_either(
        self, vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]
    ) -> list[Understood]:
        """A figure that may be meant for several facts alike, which waits for their questions."""
        alike = beside.either_of(vocabulary, heard.answer.words, settled)
        self.wait_for_one_of(alike)
        return alike

    def wait_by_unit(
        self, vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]
    ) -> list[Understood]:
        """A figure by itself that nothing on offer holds, kept for the questions that it may answer by its unit; or
        figures that are reeled off, each kept for its question, and on offer where that is asked now."""
        if alike := self.wait_for_either(vocabulary, heard, settled):
            return alike
        bare = replace(heard, answer=replace(heard.answer, words=HEDGE.sub("", heard.answer.words)))
        several = [] if self.now else beside.by_unit_alone(vocabulary, bare, settled)
        self.wait_for_one_of(several)
        if several or self.now:
            return several
        reeled = beside.reeled_off(vocabulary, heard, set(settled) - {heard.answer.fact})
        self.now = [one for one in reeled if one.answer.fact == heard.answer.fact]
        later = [one for one in reeled if one not in self.now]
        self._passed |= {one.answer.fact: one for one in later}
        return later

    def taken(self, heard: Understood) -> None:
        """An answer: nothing waits for its question any more, and what the same words could mean beside it they
        don't."""
        self._passed.pop(heard.answer.fact, None)
        others = self._one_of.get(heard.answer.words, frozenset())
        if heard.answer.fact in others:
            self._passed = {fact: one for fact, one in self._passed.items() if fact not in others}
            del self._one_of[heard.answer.words]

    def come_back(self, asked: Iterable[str] | None, known: Collection[str]) -> None:
        """What waited for the facts ``asked`` now, or, with None, for the end, is on offer; of what
        is asked, unless it is ``known``. What is told otherwise than it was answered waits for the end."""
        if asked is None:  # which of several facts it is can't be told any more
            several = frozenset[str]().union(*self._one_of.values())
            self._passed = {fact: one for fact, one in self._passed.items() if fact not in several}
        waited = [self._passed.pop(name) for name in asked or tuple(self._passed) if name in self._passed]
        self.settled.update(more.answer.fact for more in waited)
        self.now = [more for more in waited if asked is None or more.answer.fact not in known]


def waiting(several: Sequence[Understood]) -> Iterator[Block]:
    """That words which may mean several facts, or figures that were reeled off, are kept for their questions."""
    if len({one.answer.words for one in several}) > 1:
        yield Para(f"{'; '.join(one.echo for one in several)}.", "echo", 2, "Kept until their questions come: ")
    elif several:
        kept = f"“{several[0].answer.words}” is kept until its question comes: "
        yield Para(f"{', '.join(one.answer.fact for one in several)}.", "echo", 2, kept)
