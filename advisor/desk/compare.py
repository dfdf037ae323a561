"""Two states of the knowledge over many calls: which calls change, by which rule, and which would nearly.

Most edits touch few calls, so a call is matched only when an edited rule could speak in it: the stages before the
match are run under both states, and a rule over candidates counts as possible unless what all candidates share
already denies it. A call that is passed over that way comes out the same; nothing is sampled.
"""

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from advisor.conclusion import Change, change, conclusion
from advisor.course import Opening, conclude, infer, open_call
from advisor.desk.calls import RecordedCall
from advisor.desk.edits import Edits, edits, sharing
from advisor.inference.agenda import Agenda, agenda
from advisor.inference.explain import needed
from advisor.inference.facts import FactBase
from advisor.inference.stage import StageResult
from advisor.knowledge import Knowledge, Rule, load
from advisor.outcome import Answer

WORTH_A_PROCESS = 16


class Pair:
    """Two states of the knowledge, held against each other on single calls."""

    def __init__(self, old: Knowledge, new: Knowledge, fires: Agenda) -> None:
        self.old, self.agenda = old, fires
        self.edits: Edits = edits(old, new)
        self.new = sharing(new, old)
        versions = [rule for side in (old, new) for rule in side.rules if rule.name in self.edits.rules]
        self.late = [rule for rule in versions if rule.stage in ("judge", "advise")]
        self.moved = frozenset(rule.name for rule in versions)
        self.reworded = bool(set(self.edits.facts) & old.vocabulary.keys())

    @property
    def rules(self) -> list[Rule]:
        """Both versions of every edited rule."""
        return [rule for side in (self.old, self.new) for rule in side.rules if rule.name in self.moved]

    def change(self, call: RecordedCall) -> Change:
        """What the call concludes under one state only."""
        before, after = call.under(self.old), call.under(self.new)
        if self.edits.of_stock or self.reworded:
            return self._whole(before, after)
        opened, reopened = open_call(before, self.old, self.agenda), open_call(after, self.new, self.agenda)
        if not self._may_differ(opened, reopened):
            return Change()
        first, second = conclude(opened, self.old, self.agenda), conclude(reopened, self.new, self.agenda)
        return change(conclusion(first, self.old), conclusion(second, self.new))

    def _whole(self, before: Sequence[Answer], after: Sequence[Answer]) -> Change:
        first, second = infer(before, self.old, self.agenda), infer(after, self.new, self.agenda)
        return change(conclusion(first, self.old), conclusion(second, self.new))

    def _may_differ(self, opened: Opening, reopened: Opening) -> bool:
        if opened.now != reopened.now or opened.said.facts != reopened.said.facts:
            return True
        for old, new in ((opened.first, reopened.first), (opened.second, reopened.second)):
            if _fired(old) != _fired(new) or _values(old.facts) != _values(new.facts):
                return True
            if not self.moved.isdisjoint(_fired(old)):
                return True
        return any(needed(rule, opened.second.facts).possible for rule in self.late)


def _fired(result: StageResult) -> list[str]:
    return [firing.rule for firing in result.firings]


def _values(facts: FactBase) -> dict[str, object]:
    return {name: (fact.value, fact.origin.kind, fact.origin.source) for name, fact in facts.items()}


@dataclass(frozen=True, slots=True)
class CallChange:
    """A recorded call and what it concludes otherwise."""

    call: RecordedCall
    change: Change


@dataclass(frozen=True, slots=True)
class Comparison:
    """What was edited, and every call that changes by it, of all that were run."""

    edits: Edits
    count: int
    changed: tuple[CallChange, ...]


def compare(
    calls: Sequence[RecordedCall], old: Path, new: Path, engine: str = "auto", processes: int | None = None
) -> Comparison:
    """Run every call under the knowledge in both folders. Raises KnowledgeError for either."""
    count = processes if processes is not None else min(os.cpu_count() or 1, 1 + len(calls) // WORTH_A_PROCESS)
    _prepare(old, new, engine)
    assert _pair is not None
    if not _pair.edits:
        found: Iterable[Change] = (Change() for _ in calls)
    elif count <= 1:
        found = map(_changed, calls)
    else:
        with ProcessPoolExecutor(count, initializer=_prepare, initargs=(old, new, engine)) as pool:
            found = list(pool.map(_changed, calls, chunksize=max(1, len(calls) // (8 * count))))
    changed = tuple(CallChange(call, one) for call, one in zip(calls, found, strict=True) if one)
    return Comparison(_pair.edits, len(calls), changed)


_pair: Pair | None = None


def _prepare(old: Path, new: Path, engine: str) -> None:
    global _pair
    _pair = Pair(load(old), load(new), agenda(engine))  # type: ignore[arg-type]


def _changed(call: RecordedCall) -> Change:
    assert _pair is not None
    return _pair.change(call)
