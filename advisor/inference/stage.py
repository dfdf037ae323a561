"""One stage: its layers of rules judged, fired and applied in order.

Within a layer no rule reads what another one sets, so that "not known" and `none` are sound and the order of
rules or files is of no account. A rule over candidate facts fires once for each distinct pattern of verdicts.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Generic, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.conditions import (
    All,
    Binary,
    Condition,
    FactRef,
    Leaf,
    Negate,
    Number,
    facts_in,
    leaves,
)
from advisor.knowledge.rules import STAGES, Assume, Penalise, Rule, SetFact, Stage
from advisor.quantities import Range

from .agenda import Agenda, Conflict, Firing, Joins, Judged, Taken
from .explain import needed
from .facts import Column, Fact, FactBase, Origin, Value, numbers
from .settle import Given, settle
from .verdict import Conditions, Judgement, as_verdict, evaluate, is_open, points_of, sign_of

_BLOCK = (
    32  # rules fired together: few enough for a quick session, and most blocks outlive an edit of the rules
)
_SHORT = 8  # conditions of which all patterns are counted rather than sorted


class Rulebook(Protocol):
    """What a stage needs of the knowledge: the rules of each stage in layers, lowest first."""

    def layers(self, stage: Stage, /) -> Sequence[tuple[Rule, ...]]: ...


@dataclass(frozen=True, slots=True)
class StageResult:
    """The facts after the stage, what fired (by rule name), and the facts left open by a conflict."""

    facts: FactBase
    firings: tuple[Firing, ...]
    conflicts: tuple[Conflict, ...]


def run_stage(stage: Stage, knowledge: Rulebook, facts: FactBase, agenda: Agenda) -> StageResult:
    """Fire the rules of a stage over the facts. Raises FiringError when the engine fails."""
    book = _Book(facts)
    firings: list[Firing] = []
    for layer in knowledge.layers(stage):
        plan = _plan(Same(layer))
        judgement = plan.conditions.over(book.facts)
        fired = _fire(plan, judgement, book.facts.size, agenda)
        firings += [
            _firing(plan.lines[number], judgement, book.facts, mask) for number, mask in fired.items()
        ]
        book.apply([(plan.lines[number].rule, mask) for number, mask in fired.items()])
    firings.sort(key=lambda firing: firing.rule)
    return StageResult(
        book.facts, tuple(firings), tuple(book.conflicts[name] for name in sorted(book.conflicts))
    )


def wanted(knowledge: Rulebook, stage: Stage, facts: FactBase) -> dict[str, list[str]]:
    """The facts nobody knows that rules up to this stage wait for, each with the names of those rules.

    What was only assumed counts as not known: an answer could still change it.
    """
    firm = facts.without(name for name, fact in facts.items() if fact.origin.kind == "assumed")
    waiting: dict[str, list[str]] = {}
    for earlier in STAGES[: STAGES.index(stage) + 1]:
        for layer in knowledge.layers(earlier):
            for line in _plan(Same(layer)).lines:
                if firm.columns.keys().isdisjoint(line.reads):
                    names = _waits_for(line, tuple(firm.value(name) for name in line.reads))
                else:
                    names = _needed_if_open(line.rule, firm)
                for name in names:
                    waiting.setdefault(name, []).append(line.rule.name)
    return {name: sorted(waiting[name]) for name in sorted(waiting)}


@lru_cache(maxsize=16_384)
def _waits_for(line: "_Line", values: tuple[Value | None, ...]) -> tuple[str, ...]:
    """What a rule waits for with these values of the facts that it reads: most stay the same from answer to answer."""
    known = zip(line.reads, values, strict=True)
    return _needed_if_open(line.rule, FactBase().with_facts(Fact(n, v, _AS_GIVEN) for n, v in known if v is not None))


def _needed_if_open(rule: Rule, facts: FactBase) -> tuple[str, ...]:
    """The facts that a rule which is not decided yet (for one candidate at least) waits for."""
    return needed(rule, facts).facts if is_open(sign_of(rule.when, facts)) else ()


_AS_GIVEN = Origin("answer", "as given")


@dataclass(frozen=True, eq=False, slots=True)
class _Line:
    """A rule of a layer: the numbers of its parts and leaves, and the facts it reads."""

    rule: Rule
    parts: tuple[int, ...]
    leaves: tuple[tuple[Leaf, int], ...]
    reads: tuple[str, ...]


Held = TypeVar("Held")


class Same(Generic[Held]):
    """A layer, or all knowledge, as key: the same object, not an equal one (comparing it costs more than it saves)."""

    __slots__ = ("it",)

    def __init__(self, it: Held) -> None:
        self.it = it

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.it is other.it

    def __hash__(self) -> int:
        return id(self.it)


class _Plan:
    """A layer, prepared: distinct conditions and leaves by number, and, in blocks, which rule joins which."""

    def __init__(self, layer: Iterable[Rule]) -> None:
        rules = sorted(layer, key=lambda rule: rule.name)
        numbers: dict[Condition, int] = {}
        parts = [
            tuple(dict.fromkeys(numbers.setdefault(part, len(numbers)) for part in _parts(rule)))
            for rule in rules
        ]
        self.conditions = Conditions(numbers)
        self.blocks = [Joins(parts[at : at + _BLOCK]) for at in range(0, len(parts), _BLOCK)]
        self.lines = [
            _Line(
                rule,
                joined,
                tuple((leaf, self.conditions.leaf_numbers[leaf]) for leaf in leaves(rule.when)),
                _reads(rule),
            )
            for rule, joined in zip(rules, parts, strict=True)
        ]


@lru_cache(maxsize=512)
def _plan(key: Same[tuple[Rule, ...]]) -> _Plan:
    return _Plan(key.it)


def _parts(rule: Rule) -> tuple[Condition, ...]:
    return rule.when.parts if isinstance(rule.when, All) else (rule.when,)


def _reads(rule: Rule) -> tuple[str, ...]:
    names = set(facts_in(rule.when))
    for action in rule.then:
        if isinstance(action, SetFact | Assume) and isinstance(action.value, _EXPRESSIONS):
            names |= facts_in(action.value)
    return tuple(sorted(names))


_EXPRESSIONS = (Number, FactRef, Binary, Negate)


def _fire(
    plan: _Plan, judgement: Judgement, size: int | None, agenda: Agenda
) -> dict[int, NDArray[np.bool_] | None]:
    """The lines that fire, by number, each with the candidates it fires for (None: all).

    Rules on shared facts fire in one session; a rule on candidate facts fires once for each distinct pattern
    in which its own conditions hold.
    """
    signs = [judgement.sign(part) for part in range(len(plan.conditions.trees))]
    shared = {part for part, sign in enumerate(signs) if isinstance(sign, int) and sign > 0}
    fired: dict[int, NDArray[np.bool_] | None] = {}
    for at, block in enumerate(plan.blocks):
        fired |= dict.fromkeys(
            at * _BLOCK + index for index in agenda.fire(block, shared & block.readers.keys())
        )
    if not size:
        return fired
    varying = {part: np.equal(sign, 1) for part, sign in enumerate(signs) if isinstance(sign, np.ndarray)}
    for number, line in enumerate(plan.lines):
        own = [part for part in line.parts if part in varying]
        if not own or not shared.issuperset(part for part in line.parts if part not in varying):
            continue
        agreed = shared.intersection(line.parts)
        block, index = plan.blocks[number // _BLOCK], number % _BLOCK
        first, pattern_of = _patterns([varying[part] for part in own])
        fires = [
            index in agenda.fire(block, agreed.union(part for part in own if varying[part][candidate]))
            for candidate in first.tolist()
        ]
        if any(fires):
            fired[number] = np.array(fires, dtype=np.bool_)[pattern_of]
    return dict(sorted(fired.items()))


def _patterns(holds: Sequence[NDArray[np.bool_]]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """For (N,) rows of what holds: the first candidate of each distinct pattern, shape (P,), and for each of
    the N candidates the number of its pattern."""
    codes = np.zeros(len(holds[0]), dtype=np.int64)
    if len(holds) <= _SHORT:
        for row in holds:
            codes = 2 * codes + row
        first_of = np.full(2 ** len(holds), -1)
        first_of[codes[::-1]] = np.arange(len(codes))[::-1]
        there = first_of >= 0
        return first_of[there], (np.cumsum(there) - 1)[codes]
    for count, row in enumerate(holds, 1):
        codes = 2 * codes + row
        if count % 32 == 0:  # far from what 64 bits hold
            codes = np.unique(codes, return_inverse=True)[1].reshape(-1)
    _, first, pattern_of = np.unique(codes, return_index=True, return_inverse=True)
    return first, pattern_of.reshape(-1)


def _firing(line: _Line, judgement: Judgement, facts: FactBase, mask: NDArray[np.bool_] | None) -> Firing:
    judged = (
        Judged(leaf.text, leaf.place, as_verdict(judgement.leaf(number))) for leaf, number in line.leaves
    )
    return Firing(
        line.rule.name,
        line.rule.place,
        tuple(judged),
        tuple(facts[name] for name in line.reads if name in facts),
        tuple(name for name in line.reads if name in facts.columns),
        tuple(name for name in line.reads if name not in facts and name not in facts.columns),
        mask,
        _taken(line.rule, facts, mask),
    )


def _taken(rule: Rule, facts: FactBase, mask: NDArray[np.bool_] | None) -> Taken | None:
    """The points of all that the rule takes and gives, None where it does neither."""
    taking = [action for action in rule.then if isinstance(action, Penalise)]
    if not taking:
        return None
    fewest = most = np.zeros(())
    for action in taking:
        few, many = (np.asarray(action.points),) * 2 if action.slope is None else points_of(action.slope, facts)
        fewest, most = fewest + few, most + many
    if mask is not None:
        fewest, most = np.where(mask, fewest, 0.0), np.where(mask, most, 0.0)
    return Taken(np.asarray(fewest), np.asarray(most))


@dataclass(slots=True)
class _Book:
    """The facts as the stage goes on, with all that its rules have given for each."""

    facts: FactBase
    conflicts: dict[str, Conflict] = field(default_factory=dict)
    _before: FactBase = field(init=False)
    _set: dict[str, list[Given]] = field(default_factory=dict)
    _assumed: dict[str, list[Given]] = field(default_factory=dict)
    _disputed_before: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self._before = self.facts
        self._disputed_before = self.facts.disputed

    def _given_before(self, name: str) -> list[Given]:
        """What was known of a fact before the stage."""
        if name in self._before.columns:
            origin = self._before.origins[name]
            return [Given(_source(origin), self._before.columns[name], origin)]
        fact = self._before.get(name)
        return [] if fact is None else [Given(_source(fact.origin), fact.value, fact.origin)]

    def apply(self, fired: Sequence[tuple[Rule, NDArray[np.bool_] | None]]) -> None:
        """Take in what the rules of one layer set and assume."""
        facts = self.facts
        touched = set()
        for rule, mask in fired:
            for action in rule.then:
                if not isinstance(action, SetFact | Assume):
                    continue
                value = _value(action, facts)
                if value is None:
                    continue
                setting = isinstance(action, SetFact)
                origin = Origin("rule" if setting else "assumed", rule.name, action.place, rule.basis)
                given = Given(rule.name, value, origin, mask)
                (self._set if setting else self._assumed).setdefault(action.fact, []).append(given)
                touched.add(action.fact)
        for name in sorted(touched - self._disputed_before):
            self._settle(name)

    def _settle(self, name: str) -> None:
        firm = [*self._given_before(name), *sorted(self._set.get(name, ()), key=lambda given: given.by)]
        assumed = sorted(self._assumed.get(name, ()), key=lambda given: given.by)
        size = self.facts.size
        settled = settle(name, firm or assumed, size)
        if firm and assumed and settled.column is not None:
            # Candidates for which nobody gave anything firm may still take what is assumed.
            gaps = ~settled.column.known
            if settled.conflict is not None and settled.conflict.candidates is not None:
                gaps[list(settled.conflict.candidates)] = False
            filled = [Given(name, settled.column, settled.origin)]
            filled += [replace(one, mask=gaps if one.mask is None else gaps & one.mask) for one in assumed]
            merged = settle(name, filled, size)
            settled = replace(merged, conflict=settled.conflict or merged.conflict)
        if settled.conflict is not None:
            self.conflicts[name] = settled.conflict
        if settled.fact is not None:
            self.facts = self.facts.with_facts([settled.fact])
        elif settled.column is not None:
            self.facts = self.facts.with_columns({name: settled.column}, settled.origin)
        else:
            self.facts = self.facts.without([name], disputed=True)


def _source(origin: Origin) -> str:
    return "answer" if origin.kind == "answer" else origin.source or origin.kind


def _value(action: SetFact | Assume, facts: FactBase) -> Value | Column | None:
    """What the action gives, None when that isn't known."""
    if not isinstance(action.value, _EXPRESSIONS):
        return action.value
    low, high = evaluate(action.value, facts)
    if isinstance(low, np.ndarray) or isinstance(high, np.ndarray):
        lows, highs = np.broadcast_arrays(low, high)
        return numbers(lows, highs)
    return None if np.isnan(low) or np.isnan(high) else Range(low, high)
