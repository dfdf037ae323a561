"""Two states of the knowledge over many calls: which calls change, by which rule, and which would nearly.

Most edits touch few calls. A call is run under the old state, as far as an edited rule could speak in it, and both
versions of each edited rule are held against its facts: where they do the same, the call comes out the same, and only
the others are run under the new state too. A rule over candidates counts as possible unless what all candidates share
already denies it. What the match reads of a shop is told apart from the rest: an edit of prices, delivery or joints
matches nothing anew. Nothing is sampled.
"""

import gc
import os
from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.conclusion import Change, change, conclusion
from advisor.course import Course, Opening, Reached, conclude, open_call
from advisor.desk.calls import RecordedCall
from advisor.desk.edits import Edits, edits, sharing
from advisor.desk.evidence import stage_facts
from advisor.desk.fresh import Fresh, Standing, machines, standings, told_of
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda
from advisor.inference.explain import needed
from advisor.inference.verdict import sign_of
from advisor.knowledge import Knowledge, Rule, load
from advisor.knowledge.closest import nearest
from advisor.knowledge.rules import Stage
from advisor.knowledge.strata import reads
from advisor.matched import match_ahead, stock_of
from advisor.requested import asked_of

WORTH_A_PROCESS = 16
TAKEN, LOT = 256, 64
"""Calls that a process takes at once, and how many of them are matched side by side: those with as many duties."""

# What of a fact's entry bears on what is concluded; the rest is how and when it is asked.
HEARD = ("source", "kind", "quantity", "unit", "plausible", "prior", "typical", "choices")
EARLY: tuple[Stage, ...] = ("understand", "demand")


class Pair:
    """Two states of the knowledge, held against each other on single calls."""

    def __init__(self, old: Knowledge, new: Knowledge, fires: Agenda) -> None:
        self.old, self.agenda = old, fires
        self.edits: Edits = edits(old, new)
        self.new = sharing(new, old)
        before, after = ({rule.name: rule for rule in side.rules} for side in (old, new))
        self.moved = [(before.get(name), after.get(name)) for name in sorted(self.edits.rules)]
        self.fresh = machines(self.edits.new)
        self.same_machines = stock_of(self.old) == stock_of(self.new)
        self.asked = {name for name, fact in old.vocabulary.items() if fact.source == "asked"}
        self.late = [one for one in self.rules if one.stage not in EARLY]
        self.called = self.edits.renames
        self.reworded = bool(self.called) or any(_heard_otherwise(old, new, name) for name in self.edits.facts)

    @property
    def rules(self) -> list[Rule]:
        """Both versions of every edited rule."""
        return [one for versions in self.moved for one in versions if one is not None]

    def change(self, call: RecordedCall) -> Change:
        """What the call concludes under one state only."""
        return self.changes([call])[0]

    def changes(self, calls: Sequence[RecordedCall]) -> list[Change]:
        """The same for each of some calls; those that need a match are matched side by side."""
        return [change for change, _ in self.run(calls)]

    def run(self, calls: Sequence[RecordedCall]) -> list["Ran"]:
        """The same with how new wares stand in each call."""
        begun = [self._begun(call) for call in calls]
        open_ = sorted(
            (number for number, one in enumerate(begun) if one is not None),
            key=lambda number: len(begun[number].opened.now.duties),  # type: ignore[union-attr]
        )
        found: list[Ran] = [(Change(), ())] * len(begun)
        for start in range(0, len(open_), LOT):
            lot = {number: one for number in open_[start : start + LOT] if (one := begun[number]) is not None}
            match_ahead([one.opened.now for one in lot.values()], self.old)
            anew = [one.reopened.now for one in lot.values() if not self.same_machines or one.reopened != one.opened]
            match_ahead(anew, self.new)
            for number, one in lot.items():
                found[number] = self._ended(one)
        return found

    def _begun(self, call: RecordedCall) -> "_Begun | None":
        """The call up to the match under both states; None where it comes out the same already."""
        before, after = call.under(self.old), call.by(self.called).under(self.new)
        opened = open_call(before, self.old, self.agenda)
        stocked = self.edits.of_stock
        apart = self.reworded or before != after
        if apart or not self._alike(opened, EARLY) or (stocked and not self._asked_alike(opened)):
            return _Begun(opened, open_call(after, self.new, self.agenda))
        if not stocked and not any(needed(rule, opened.second.facts).possible for rule in self.late):
            return None
        return _Begun(opened, opened)

    def _ended(self, begun: "_Begun") -> "Ran":
        opened, reopened = begun.opened, begun.reopened
        first = conclude(opened, self.old, self.agenda)
        if reopened is not opened:
            second = conclude(reopened, self.new, self.agenda)
        elif self.edits.of_stock or not self._alike(first, ("judge",)):
            second = conclude(opened, self.new, self.agenda, known=first, edited=self.edits.rules)
        elif self._alike(first, ("advise",)):
            return Change(), ()
        else:
            second = conclude(opened, self.new, self.agenda, first.weighed)
        alike = self._firings_alike(first, second)
        before, after = conclusion(first, self.old, alike), conclusion(second, self.new, alike)
        return change(self.called.lines_of(before), after), standings(second, self.fresh)

    def _firings_alike(self, first: Course, second: Course) -> set[int]:
        """Firings, by their `id`, of which the same lines follow under both states: of rules that aren't edited, told
        of the same candidate with the same facts."""
        of_one = len(first.weighed.candidates) == len(second.weighed.candidates) and first.advised == second.advised
        if not of_one or first.last is not second.last or self.edits.facts:
            return set()
        if first.provisional or second.provisional or first.weighed.lacks != second.weighed.lacks:
            return set()  # what is told then hangs on what other rules rest on
        own = [one for one in first.firings if one.rule not in self.edits.rules]
        return {id(one) for one in own} & {id(one) for one in second.firings}

    def _asked_alike(self, opened: Opening) -> bool:
        """Whether the part that was asked for is the same machine in both shops: all that is read of them before the
        match."""
        asked = asked_of(opened.request)
        rows = [nearest(side.catalogue.candidates(), asked) for side in (self.old, self.new)]
        return self.same_machines and len({found and found.indices[0] for found in rows}) == 1

    def _alike(self, course: Reached, stages: Sequence[Stage]) -> bool:
        """Whether both versions of every edited rule of these stages do the same in a call under the old state: then
        what they leave to the rules after them is the same too."""
        return all(
            _do_alike(old, new, course, self.asked)
            for old, new in self.moved
            if any(one is not None and one.stage in stages for one in (old, new))
        )


Ran = tuple[Change, tuple[Standing, ...]]
"""What a call concludes otherwise, and how new wares stand in it."""


@dataclass(frozen=True, eq=False, slots=True)
class _Begun:
    """A call up to the match under both states, one opening where it is the same."""

    opened: Opening
    reopened: Opening


def _heard_otherwise(old: Knowledge, new: Knowledge, name: str) -> bool:
    before, after = old.vocabulary.get(name), new.vocabulary.get(name)
    if before is None or after is None:
        return before is not None
    return any(getattr(before, field) != getattr(after, field) for field in HEARD)


def _do_alike(old: Rule | None, new: Rule | None, course: Reached, asked: AbstractSet[str]) -> bool:
    """Whether both versions of a rule do the same in a call, where these facts are asked of a caller."""
    if old is not None and new is not None and old.stage != new.stage:
        return False
    before, after = (_fires(one, course) for one in (old, new))
    if not np.any(before) and not np.any(after):
        return True
    if old is None or new is None or old.then != new.then or old.place.file != new.place.file:
        return False
    # Whether a rule may speak while nothing is advised hangs on all that it reads and nobody said.
    return bool(np.all(before == after)) and reads(old) - asked == reads(new) - asked


def _fires(rule: Rule | None, course: Reached) -> NDArray[np.bool_]:
    """For which candidates (or, as a single value, whether) the rule fires in a call; nowhere without a rule."""
    return np.asarray(rule is not None and np.equal(sign_of(rule.when, stage_facts(rule, course)), 1))


@dataclass(frozen=True, slots=True)
class CallChange:
    """A recorded call and what it concludes otherwise."""

    call: RecordedCall
    change: Change


@dataclass(frozen=True, slots=True)
class Comparison:
    """What was edited, every call that changes by it, of all that were run, and how what is new in the catalogue does
    in these."""

    edits: Edits
    count: int
    changed: tuple[CallChange, ...]
    fresh: tuple[Fresh, ...] = ()


def compare(
    calls: Sequence[RecordedCall], old: Path, new: Path, engine: str = "auto", processes: int | None = None
) -> Comparison:
    """Run every call under the knowledge in both folders. Raises KnowledgeError for either.

    engine: "auto" is the reference here: over thousands of calls the firing itself takes time, and it concludes the
    same (`tests/benchmarks/bench_inference.py`).
    """
    at_once = processes if processes is not None else min(os.cpu_count() or 1, 1 + len(calls) // WORTH_A_PROCESS)
    asked = (old, new, engine, next(_times))
    _prepare(*asked)
    assert _pair is not None
    if not _pair.edits:
        found: Iterable[Ran] = ((Change(), ()) for _ in calls)
    else:
        size = min(TAKEN, -(-len(calls) // max(at_once, 1)))
        lots = [calls[start : start + size] for start in range(0, len(calls), size)]
        if at_once <= 1:
            found = [one for lot in lots for one in _changed(lot)]
        else:
            with ProcessPoolExecutor(at_once, initializer=_prepare_process, initargs=asked) as pool:
                found = [one for ran in pool.map(_changed, lots) for one in ran]
    ran = list(zip(calls, found, strict=True))
    changed = tuple(CallChange(call, one) for call, (one, _) in ran if one)
    fresh = told_of(_pair.fresh, [(call.name, stood) for call, (_, stood) in ran], _pair.new)
    return Comparison(_pair.edits, len(calls), changed, tuple(fresh))


_times = count()
_pair: Pair | None = None
_time = -1


def _prepare(old: Path, new: Path, engine: str, time: int) -> None:
    global _pair, _time
    fires = agenda("reference" if engine == "auto" else engine)  # type: ignore[arg-type]
    _pair, _time = Pair(load(old), load(new), fires), time


def _prepare_process(old: Path, new: Path, engine: str, time: int) -> None:
    """The same in a process of its own: one that is forked has it by birth."""
    if _time != time:
        _prepare(old, new, engine, time)
    gc.freeze()


def _changed(calls: Sequence[RecordedCall]) -> list[Ran]:
    assert _pair is not None
    return _pair.run(calls)
