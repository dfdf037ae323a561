"""Situations that tell rules apart: for every number what lies at, below and above what they compare it with,
every choice that they name and one that they don't, and "not known".
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.desk.kinds import situations
from advisor.inference.engines import ReferenceAgenda
from advisor.inference.facts import FactBase, Origin, Value, column
from advisor.inference.stage import run_stage
from advisor.inference.verdict import evaluate
from advisor.knowledge import FactDef, Knowledge, Rule
from advisor.knowledge.conditions import Between, Binary, Compare, Expr, Includes, Is, Leaf, facts_in, leaves
from advisor.knowledge.domains import Numbers, Universe
from advisor.knowledge.rules import STAGES, Stage
from advisor.knowledge.strata import reads, writes
from advisor.units import Range

Mask = NDArray[np.bool_]
Figures = NDArray[np.float64]
TRIED = Origin("answer", "a situation that is tried")
_ROOTS, _GIVEN, _STEPS, _ROUNDS = 7, 24, 33, 12


@dataclass(frozen=True, slots=True)
class Bearing:
    """The rules that bear on a fact, directly or through other facts, in layers as a stage wants them."""

    rules: tuple[Rule, ...]
    knowledge: Knowledge

    def layers(self, stage: Stage) -> tuple[tuple[Rule, ...], ...]:
        """The rules of a stage in layers."""
        level = _index(self.knowledge).level
        kept: dict[int, list[Rule]] = defaultdict(list)
        for rule in self.rules:
            if rule.stage == stage:
                kept[level[rule.name]].append(rule)
        return tuple(tuple(sorted(kept[at], key=lambda rule: rule.name)) for at in sorted(kept))


@dataclass(frozen=True, slots=True)
class _Index:
    """Of each rule by name: its layer in its stage, the facts it reads, its leaves."""

    level: Mapping[str, int]
    reads: Mapping[str, frozenset[str]]
    leaves: Mapping[str, tuple[Leaf, ...]]


@lru_cache(maxsize=2)
def _index(knowledge: Knowledge) -> _Index:
    placed = ((rule, at) for stage in STAGES for at, layer in enumerate(knowledge.layers(stage)) for rule in layer)
    rules = knowledge.rules
    return _Index(
        {rule.name: at for rule, at in placed},
        {rule.name: reads(rule) for rule in rules},
        {rule.name: leaves(rule.when) for rule in rules},
    )


@dataclass(frozen=True, slots=True)
class Tried:
    """Facts after the rules have fired, one row for each situation (N,); where rules fired, where they disagreed."""

    after: FactBase
    fired: Mapping[str, Mask]
    clash: Mask
    values: Mapping[str, Sequence[Value | None]]
    complete: bool  # every kind of situation is among them

    def known(self, name: str) -> Mask:
        """Where something is known about a fact, (N,)."""
        if name in self.after.columns:
            return self.after.columns[name].known
        return np.full(self.clash.size, name in self.after.facts)


    def numbers(self, name: str) -> list[float]:
        """The numbers with which a fact was tried, ascending; none for one that rules set."""
        return sorted(value.mid for value in self.values.get(name, ()) if isinstance(value, Range))


def bearing_on(knowledge: Knowledge, fact: str, writers: Mapping[str, Sequence[Rule]], most: int = 200) -> Bearing:
    """Those of the writers of facts that write this one, with the rules behind what they read, nearest first, no
    more than `most`."""
    found: dict[str, Rule] = {}
    read = _index(knowledge).reads
    level = list(writers[fact])
    while level and len(found) < most:
        found |= {rule.name: rule for rule in level}
        behind = [other for rule in level for name in sorted(read[rule.name]) for other in writers.get(name, ())]
        level = list({rule.name: rule for rule in behind if rule.name not in found}.values())
    return Bearing(tuple(found.values()), knowledge)


def tried(bearing: Bearing, fact: str, near: Collection[str], unsure: Collection[str]) -> Tried:
    """The rules fired over situations. `near` are the facts the rules of `fact` read, `unsure` ones and
    those asked may be not known; `fact` itself is nowhere known beforehand unless a rule is told otherwise."""
    rules, vocabulary = bearing.rules, bearing.knowledge.vocabulary
    set_here = {name for rule in rules for name in writes(rule) if vocabulary[name].source == "rule"}
    read = _index(bearing.knowledge).reads
    inputs = sorted(frozenset().union(*(read[rule.name] for rule in rules)) - set_here - {fact})
    values = _values(bearing, inputs, unsure)
    found = situations(rules, {name: values[name] for name in (*near, *inputs) if name in values}, near)
    columns = found.columns
    size = next((len(one) for one in columns.values()), 1)
    facts = FactBase().with_columns(columns or {"": column([None])}, TRIED)
    fired: dict[str, Mask] = {}
    clash: Mask = np.zeros(size, dtype=bool)
    for stage in STAGES:
        if all(rule.stage != stage for rule in rules):
            continue
        result = run_stage(stage, bearing, facts, ReferenceAgenda())
        facts = result.facts
        fired |= {one.rule: one.among(size) for one in result.firings}
        for conflict in result.conflicts:
            if conflict.fact == fact:
                clash[... if conflict.candidates is None else list(conflict.candidates)] = True
    return Tried(facts, fired, clash, values, found.complete)


def _values(bearing: Bearing, inputs: Sequence[str], unsure: Collection[str]) -> dict[str, list[Value | None]]:
    vocabulary = bearing.knowledge.vocabulary
    written = _index(bearing.knowledge).leaves
    all_leaves = [leaf for rule in bearing.rules for leaf in written[rule.name]]
    numbers = _numbers(vocabulary, [name for name in inputs if vocabulary[name].kind == "number"], all_leaves)
    found: dict[str, list[Value | None]] = {}
    for name in inputs:
        definition = vocabulary[name]
        options: list[Value | None] = []
        match definition.kind:
            case "number":
                options += [Range(value, value) for value in numbers[name]]
            case "yes/no":
                options += [True, False]
            case "choice":
                options += _choices(definition, all_leaves)
            case "several":
                options += _sets(definition, all_leaves)
            case _:
                options.append("words")
        if definition.source == "asked" or name in unsure:
            options.append(None)
        found[name] = options
    return found


def _named(definition: FactDef, conditions: Iterable[Leaf]) -> tuple[list[str], list[str]]:
    """The choices that conditions name, and one that they don't."""
    named: set[str] = set()
    for leaf in conditions:
        match leaf:
            case Is(fact=fact, choices=choices) if fact == definition.name:
                named |= choices
            case Includes(fact=fact, choice=choice) if fact == definition.name:
                named.add(choice)
            case _:
                pass
    return [name for name in definition.choice_names if name in named], [
        name for name in definition.choice_names if name not in named
    ][:1]


def _choices(definition: FactDef, conditions: Iterable[Leaf]) -> list[str]:
    named, other = _named(definition, conditions)
    return [*named, *other]


def _sets(definition: FactDef, conditions: Iterable[Leaf]) -> list[frozenset[str]]:
    named, other = _named(definition, conditions)
    sizes = range(1, len(named) + 1) if len(named) <= 5 else (1, 2)
    sets = [frozenset(some) for size in sizes for some in itertools.combinations(named, size)]
    return [*sets, *(frozenset((one,)) for one in other)]


def _numbers(
    vocabulary: Mapping[str, FactDef], names: Sequence[str], conditions: Iterable[Leaf]
) -> dict[str, list[float]]:
    """Values of each number at and between the edges that conditions give it, other numbers at their values."""
    universe = Universe(vocabulary, {})
    edges: dict[str, set[float]] = {name: set() for name in names}
    sums: list[tuple[Expr, tuple[str, ...]]] = []
    for leaf in dict.fromkeys(leaf for leaf in conditions if isinstance(leaf, Compare | Between)):
        key, allowed = universe.claim(leaf)
        if key.aspect == "value" and isinstance(allowed, Numbers):
            ends = {end for stretch in allowed.stretches for end, _ in stretch if math.isfinite(end)}
            edges.get(key.fact, set()).update(ends)
        elif (facts := tuple(sorted(facts_in(leaf)))) and edges.keys() >= set(facts):
            sums += [(difference, facts) for difference in _differences(leaf)]
    values = {name: _between(vocabulary[name], edges[name]) for name in names}
    for difference, facts in sums:
        last = facts[-1]
        edges[last] |= _roots(difference, last, vocabulary[last], {name: values[name] for name in facts[:-1]})
        values[last] = _between(vocabulary[last], edges[last])
    return values


def _differences(leaf: Compare | Between) -> list[Expr]:
    """Sums that are nought where the condition changes over."""
    pairs = [(leaf.left, leaf.right)] if isinstance(leaf, Compare) else [(leaf.expr, leaf.low), (leaf.expr, leaf.high)]
    return [Binary("-", left, right, place=leaf.place, text="") for left, right in pairs]


def _span(definition: FactDef, edges: Collection[float]) -> tuple[float, float]:
    """Between which ends the number is tried."""
    if (span := definition.plausible or definition.prior) is not None:
        return span.low, span.high
    low, high = min(edges, default=0.0), max(edges, default=1.0)
    return low - (abs(low) / 2 or 1.0), high + (abs(high) / 2 or 1.0)


def _between(definition: FactDef, edges: Collection[float]) -> list[float]:
    low, high = _span(definition, edges)
    inside = sorted(edge for edge in edges if low < edge < high)
    ends = [low, *inside, high]
    middles = [one + (other - one) / 2 for one, other in itertools.pairwise(ends)]
    at_ends = [low, high] if definition.source == "asked" else []
    return sorted({*inside, *middles, *at_ends})


def _roots(
    difference: Expr, name: str, definition: FactDef, others: Mapping[str, Sequence[float]]
) -> set[float]:
    """Where the difference changes sign as the number runs over its span, for some values of the others."""
    given = np.array(list(itertools.islice(itertools.product(*others.values()), _GIVEN)), dtype=np.float64)
    grid = np.linspace(*_span(definition, ()), _STEPS)
    known = dict(zip(others, given.T, strict=True))
    signs = np.sign(_over(difference, name, np.broadcast_to(grid, (len(given), _STEPS)).T, known))
    at, row = np.nonzero(signs[:-1] * signs[1:] < 0)
    fixed = {other: numbers[row] for other, numbers in known.items()}
    found = set(_root(difference, name, (grid[at], grid[at + 1]), signs[at, row], fixed).tolist())
    found.update(grid[(signs == 0).any(axis=1)].tolist())
    inside = sorted(found)
    return set(inside[:: max(1, math.ceil(len(inside) / _ROOTS))])


def _root(
    difference: Expr, name: str, ends: tuple[Figures, Figures], below: Figures, known: Mapping[str, Figures]
) -> Figures:
    """Where the difference changes sign between ends (R,), with the others at these values (R,)."""
    step, every = np.arange(_STEPS)[:, None], np.arange(len(below))
    for _ in range(_ROUNDS if len(below) else 0):
        grid = step * ((ends[1] - ends[0]) / (_STEPS - 1)) + ends[0]
        grid[-1] = ends[1]
        past = np.sign(_over(difference, name, grid[1:-1], known)) != below
        at = np.where(past.any(axis=0), past.argmax(axis=0) + 1, _STEPS - 1)
        ends = grid[at - 1, every], grid[at, every]
    return ends[1]


def _over(difference: Expr, name: str, grid: Figures, known: Mapping[str, Figures]) -> Figures:
    """The difference with the number as in a grid (n, R) and the others at these values (R,)."""
    columns = {one: np.broadcast_to(value, grid.shape).reshape(-1) for one, value in {name: grid, **known}.items()}
    low, _ = evaluate(difference, FactBase().with_columns(columns, TRIED))
    return np.broadcast_to(np.asarray(low, dtype=np.float64), grid.size).reshape(grid.shape)
