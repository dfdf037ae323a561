"""What the recorded calls reach of the knowledge: rules that decided, branches from both sides, choices, questions.

A rule is covered when some call would conclude otherwise without it; that it fired is not enough. A question is reached
when it was answered, or its `ask when` held. A threshold that no call comes near, over all candidates, is told apart.
"""

import os
from collections.abc import Collection, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from advisor.course import Course, Reached, conclude, open_call
from advisor.desk.calls import RecordedCall
from advisor.desk.compare import EARLY, LOT
from advisor.desk.evidence import Branch, branches, shown
from advisor.desk.variants import decided
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda
from advisor.inference.facts import FactBase, Numbers
from advisor.inference.verdict import sign_of
from advisor.knowledge import Fault, Knowledge, Place, Rule, load
from advisor.knowledge.source import MAX_BYTES
from advisor.knowledge.unlike import unreached
from advisor.matched import match_ahead
from advisor.outcome import Answer
from advisor.units import Range
from advisor.wording import counted

LACKS = {(True, False): "not false", (False, True): "not true", (False, False): "neither true nor false"}


@dataclass(frozen=True, slots=True)
class RuleCover:
    """A rule: in how many calls it fired, the first call that it decided ("" for none), its branches."""

    rule: str
    stage: str
    place: Place
    fired: int
    decided: str
    branches: tuple[Branch, ...]

    @property
    def covered(self) -> bool:
        """It decided something, and each of its thresholds was seen from both sides."""
        return bool(self.decided) and all(branch.covered for branch in self.branches if branch.threshold)


@dataclass(frozen=True, slots=True)
class ChoiceCover:
    """A choice of a fact, and whether a call has come to it."""

    fact: str
    choice: str
    reached: bool


@dataclass(frozen=True, slots=True)
class Cover:
    """Everything the calls reach."""

    calls: int
    rules: tuple[RuleCover, ...]
    choices: tuple[ChoiceCover, ...]
    unasked: tuple[str, ...] = ()
    far: tuple[Fault, ...] = ()

    def share(self) -> str:
        """The counts in a line."""
        every = [branch for rule in self.rules for branch in rule.branches]
        edges = [branch for branch in every if branch.threshold]
        choices = f", {_of([c for c in self.choices if c.reached], self.choices)} choices reached" * bool(self.choices)
        return f"{counted(self.calls, 'call')}: " + (
            f"{_of([r for r in self.rules if r.decided], self.rules)} rules decided something, "
            f"{_of([b for b in every if b.covered], every)} branches and "
            f"{_of([b for b in edges if b.covered], edges)} thresholds seen from both sides{choices}"
        )

    def short_of(self, folder: Path) -> list[str]:
        """Each branch that isn't seen from both sides, with its place and what no call shows of it."""
        return [
            f"{folder}/{branch.place}: {rule.rule}: '{branch.text}' is {LACKS[branch.held, branch.failed]} in any "
            "call while the rest of the rule holds"
            for rule in self.rules
            for branch in rule.branches
            if not branch.covered
        ]

    def table(self) -> list[str]:
        """The rules as lines of a table, those that lack something first."""
        width = max((len(rule.rule) for rule in self.rules), default=4)
        head = f"{'rule':<{width}}  {'stage':<10}  fired  branches  decided"
        rows = [
            f"{rule.rule:<{width}}  {rule.stage:<10}  {rule.fired:>5}  "
            f"{sum(b.covered for b in rule.branches):>3} of {len(rule.branches):<3} {rule.decided or '-'}"
            for rule in sorted(self.rules, key=lambda rule: (rule.covered, bool(rule.decided), rule.rule))
        ]
        missing = [f"never reached: {one.fact} is {one.choice}" for one in self.choices if not one.reached]
        missing += [f"never asked: {name}, whose 'ask when' holds in no call" for name in self.unasked]
        return [head, *rows, *missing, *(f"never near: {fault}" for fault in self.far)]


def _of(some: Sequence[object], every: Sequence[object]) -> str:
    return f"{len(some)} of {len(every)}"


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a single call shows; travels between processes."""

    fired: frozenset[str]
    decided: frozenset[str]
    branches: dict[tuple[str, Place], tuple[bool, bool]]
    values: frozenset[tuple[str, str]]
    asked: frozenset[str]
    spans: dict[str, tuple[float, float]]


def cover(
    calls: Sequence[RecordedCall],
    folder: Path,
    engine: str = "auto",
    processes: int | None = None,
    of: Collection[str] = (),
) -> Cover:
    """What the calls reach of the knowledge in the folder, or ``of`` some of its rules. Raises KnowledgeError."""
    knowledge = load(folder)
    count = min(processes or os.cpu_count() or 1, len(calls) or 1)
    size = min(LOT, max(1, -(-len(calls) // count)))
    lots = [calls[start : start + size] for start in range(0, len(calls), size)]
    if count <= 1:
        _prepare(folder, engine, of)
        seen = [one for lot in lots for one in _see(lot)]
    else:
        with ProcessPoolExecutor(count, initializer=_prepare, initargs=(folder, engine, of)) as pool:
            seen = [one for lot in pool.map(_see, lots) for one in lot]
    rules = tuple(_covered(rule, calls, seen) for rule in knowledge.rules if not of or rule.name in of)
    reached = {pair for one in seen for pair in one.values}
    choices = tuple(
        ChoiceCover(name, choice, (name, choice) in reached)
        for name, definition in knowledge.vocabulary.items()
        if definition.source in ("asked", "rule") and not of
        for choice in definition.choice_names
    )
    asked = frozenset[str]().union(*(one.asked for one in seen))
    unasked = [
        name
        for name, definition in knowledge.vocabulary.items()
        if definition.ask_when is not None and name not in asked and not of
    ]
    far = unreached([knowledge.rule(rule.rule) for rule in rules], knowledge.vocabulary, [one.spans for one in seen])
    return Cover(len(calls), rules, choices, tuple(unasked), tuple(far))


def _covered(rule: Rule, calls: Sequence[RecordedCall], seen: Sequence[_Seen]) -> RuleCover:
    parts = []
    for branch in branches(rule):
        sides = [one.branches.get((rule.name, branch.place), (False, False)) for one in seen]
        parts.append(replace(branch, held=any(true for true, _ in sides), failed=any(false for _, false in sides)))
    names = (call.name for call, one in zip(calls, seen, strict=True) if rule.name in one.decided)
    fired = sum(rule.name in one.fired for one in seen)
    return RuleCover(rule.name, rule.stage, rule.place, fired, next(names, ""), tuple(parts))


_shop: tuple[Knowledge, Agenda] | None = None
_named: frozenset[str] = frozenset()
_settled: set[str] = set()


def _prepare(folder: Path, engine: str, of: Collection[str]) -> None:
    global _shop, _named
    _shop, _named = (load(folder), agenda(engine)), frozenset(of)  # type: ignore[arg-type]
    _settled.clear()


def _see(calls: Sequence[RecordedCall]) -> list[_Seen]:
    """What each call shows; those that need a match are matched side by side. Of rules before the match alone no more
    of a call is run than tells what they decide."""
    assert _shop is not None
    knowledge, fires = _shop
    answers = [call.under(knowledge) for call in calls]
    opened = [open_call(own, knowledge, fires) for own in answers]
    wanted = [rule for rule in knowledge.rules if not _named or rule.name in _named]
    early = bool(_named) and all(rule.stage in EARLY for rule in wanted)
    if early:
        return [_seen(own, one, wanted) for own, one in zip(answers, opened, strict=True)]
    found = []
    for start in range(0, len(calls), LOT):
        lot = range(start, min(start + LOT, len(calls)))
        match_ahead([opened[at].now for at in lot], knowledge)
        found += [_seen(answers[at], conclude(opened[at], knowledge, fires), wanted) for at in lot]
    return found


def _seen(answers: tuple[Answer, ...], reached: Reached, wanted: Sequence[Rule]) -> _Seen:
    assert _shop is not None
    knowledge, fires = _shop
    sides = {
        (rule.name, place): (held, failed)
        for rule in wanted
        for place, held, failed in shown(rule, reached)
        if held or failed
    }
    names = frozenset(firing.rule for firing in reached.firings)
    open_ = [rule for rule in wanted if rule.name in names and rule.name not in _settled]
    course = reached if isinstance(reached, Course) or not open_ else conclude(reached, knowledge, fires)
    deciding = frozenset(
        rule.name for rule in open_ if isinstance(course, Course) and decided(rule, answers, course, knowledge, fires)
    )
    _settled.update(deciding)
    if not isinstance(reached, Course):
        return _Seen(names, deciding, sides, frozenset(), frozenset(), _spans(reached.second.facts))
    spans = _spans(reached.weighed.facts) | _spans(reached.last.facts)
    if _named:
        return _Seen(names, deciding, sides, frozenset(), frozenset(), spans)
    asked = {answer.fact for answer in answers} | {
        name
        for name, definition in knowledge.vocabulary.items()
        if definition.ask_when is not None and np.any(np.equal(sign_of(definition.ask_when, reached.last.facts), 1))
    }
    return _Seen(names, deciding, sides, frozenset(_values(reached)), frozenset(asked), spans)


def _spans(facts: FactBase) -> dict[str, tuple[float, float]]:
    """Between which ends (SI) each number of a call lies, over all candidates."""
    found = {}
    for name, column in facts.columns.items():
        if isinstance(column, Numbers) and column.known.any():
            found[name] = float(np.nanmin(column.low)), float(np.nanmax(column.high))
    for name, fact in facts.facts.items():
        if isinstance(fact.value, Range):
            found[name] = fact.value.low, fact.value.high
    return found


def _values(course: Course) -> Iterable[tuple[str, str]]:
    for name, fact in course.last.facts.items():
        for choice in fact.value if isinstance(fact.value, frozenset) else (fact.value,):
            if isinstance(choice, str):
                yield name, choice


def listing(found: Cover, folder: Path, alone: bool = False) -> list[str]:
    """The rule files with what was seen of each rule and condition beside its line; ``alone``: nothing of other rules.
    """
    notes: dict[tuple[str, int], str] = {}
    for rule in found.rules:
        notes[rule.place.file, rule.place.line] = "decided" if rule.decided else "fired" if rule.fired else "NEVER"
        for branch in rule.branches:
            at = (branch.place.file, branch.place.line)
            words = branch.words if branch.covered else branch.words.upper()
            notes[at] = f"{notes[at]}; {words}" if at in notes else words
    lines = []
    for file in sorted({rule.place.file for rule in found.rules}):
        lines.append(f"==== {file}")
        text = (folder / file).read_bytes()[:MAX_BYTES].decode("utf-8-sig").splitlines()
        begins = {rule.place.line for rule in found.rules if rule.place.file == file}
        own = {number for begin in begins for number in _entry(text, begin)}
        for number, line in enumerate(text, 1):
            if alone and number not in own:
                continue
            lines.append(f"{notes.get((file, number), ''):>22} | {line}".rstrip())
    return lines


def _entry(text: Sequence[str], begin: int) -> Iterable[int]:
    """The numbers of the lines of a list's entry that begins in a line: those that are indented further."""
    indent = len(text[begin - 1]) - len(text[begin - 1].lstrip())
    end = begin
    while end < len(text) and (not text[end].strip() or text[end].startswith(" " * (indent + 1))):
        end += 1
    while not text[end - 1].strip():
        end -= 1
    return range(begin, end + 1)
