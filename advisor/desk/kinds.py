"""Situations of every kind that some rules can tell apart: all combinations of values, but for those in which the
rules are bound to do the same.

Facts are taken in one after the other. What a rule does in a combination is told by the signs of its conditions as
far as their facts are taken in; of combinations that are alike in that, and in the facts that are still to be
compared, one is kept. A rule of which a condition does not hold is out, whatever its others come to.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.inference.facts import Column, FactBase, Origin, Value, column
from advisor.inference.verdict import every, sign_of, some
from advisor.knowledge import Rule
from advisor.knowledge.conditions import All, AnyOf, Condition, Leaf, NoneOf, facts_in, leaves
from advisor.knowledge.rules import Assume, SetFact

Signs = NDArray[np.int8]
Mark = NDArray[np.int8 | np.intp | np.bool_]  # what tells rows apart: small numbers from -1 on
Picks = dict[str, NDArray[np.intp]]
FEW, MOST = 6_000, 50_000  # combinations that are all taken, and kinds kept at once
_LARGEST = 2**62
_TRIED = Origin("answer", "a situation that is tried")


@dataclass(frozen=True, slots=True)
class Situations:
    """Columns of situations by fact, and whether every kind is among them."""

    columns: Mapping[str, Column]
    complete: bool


def situations(
    rules: Sequence[Rule], values: Mapping[str, Sequence[Value | None]], seen: Collection[str]
) -> Situations:
    """One situation of each kind, of all combinations of the ``values``; whether a fact of ``seen`` is known counts as
    well. Past `MOST` kinds an even part of them goes on."""
    options = {name: column(listed) for name, listed in values.items()}
    if math.prod(len(listed) for listed in options.values()) <= FEW:
        sizes = [len(listed) for listed in options.values()]
        grid = np.indices(sizes[::-1])[::-1]  # the first fact changes fastest
        picks = zip(options.items(), grid, strict=True)
        return Situations({name: listed.take(picked.reshape(-1)) for (name, listed), picked in picks}, True)
    table = _Table(rules, options, frozenset(seen))
    complete = True
    for name in _order(rules, values):
        complete &= table.take_in(name)
    return Situations({name: options[name].take(picks) for name, picks in table.picks.items()}, complete)


def _order(rules: Sequence[Rule], values: Mapping[str, Sequence[Value | None]]) -> list[str]:
    """The facts in such an order that rules are complete early: next those of the rule that wants fewest more."""
    wanted = [facts_in(rule.when) & values.keys() for rule in rules]
    order: dict[str, None] = {}
    while missing := [more for facts in wanted if (more := facts - order.keys())]:
        fewest = min(missing, key=lambda more: (math.prod(len(values[name]) for name in more), sorted(more)))
        order |= dict.fromkeys(sorted(fewest))
    return [*order, *(name for name in values if name not in order)]


@dataclass(slots=True)
class _Signed:
    """The signs of conditions in some rows, each (size,), as far as they are known."""

    signs: dict[Leaf, Signs]
    size: int

    def marks(self, rule: Rule) -> list[Mark]:
        """What the rule may still do in each row; the same for all rows in which it is out."""
        parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
        signs = [self.sign(part) for part in parts]
        out = np.zeros(self.size, dtype=bool)
        for sign in signs:
            if sign is not None:
                out |= sign < 1
        inner = [mark for part, sign in zip(parts, signs, strict=True) if sign is None for mark in self.state(part)]
        return [out, *(np.where(out, np.int8(0), mark) for mark in inner)]

    def sign(self, condition: Condition) -> Signs | None:
        """Its sign in each row, None while facts of it are missing."""
        match condition:
            case All(parts=parts) | AnyOf(parts=parts) | NoneOf(parts=parts):
                below = [sign for part in parts if (sign := self.sign(part)) is not None]
                if len(below) < len(parts):
                    return None
                joined = every(below) if isinstance(condition, All) else some(below)
                return np.asarray(-joined if isinstance(condition, NoneOf) else joined, dtype=np.int8)
            case _:
                return self.signs.get(condition)

    def state(self, condition: Condition) -> list[Mark]:
        """What is known of it in each row: its sign, or what is known of its parts."""
        sign = self.sign(condition)
        if sign is not None:
            return [sign]
        if not isinstance(condition, All | AnyOf | NoneOf):
            return []
        settles = -1 if isinstance(condition, All) else 1
        below = [self.state(part) for part in condition.parts]
        whole = [sign for part in condition.parts if (sign := self.sign(part)) is not None]
        settled = np.any([sign == settles for sign in whole], axis=0) if whole else np.zeros(self.size, dtype=bool)
        return [settled, *(np.where(settled, np.int8(0), mark) for part in below for mark in part)]


class _Table:
    """The combinations so far: for each fact taken in, which of its values (N,)."""

    def __init__(self, rules: Sequence[Rule], options: Mapping[str, Column], seen: frozenset[str]) -> None:
        self.rules, self.options, self.seen = rules, options, seen
        self.picks: Picks = {}
        self.rows = _Signed({}, 1)
        self.leaves = {rule.name: leaves(rule.when) for rule in rules}
        self.read = {leaf: facts_in(leaf) for below in self.leaves.values() for leaf in below}
        self.open = [leaf for leaf, read in self.read.items() if read & options.keys()]
        given = [a.value for rule in rules for a in rule.then if isinstance(a, SetFact | Assume)]
        self.kept = frozenset().union(
            *(facts_in(value) for value in given if not isinstance(value, str | bool | frozenset))
        )

    def take_in(self, name: str) -> bool:
        """Combine with the values of a fact; False where not every kind could be kept."""
        count = len(self.options[name])
        there = {*self.picks, name}
        done = {leaf for leaf in self.open if name in self.read[leaf] <= there}
        self.open = [leaf for leaf in self.open if leaf not in done]
        touched = [rule for rule in self.rules if not done.isdisjoint(self.leaves[rule.name])]
        # What the fact doesn't bear on is the same in all of a row's combinations, and told once.
        alike = [mark for rule in self.rules if rule not in touched for mark in self.rows.marks(rule)]
        _, codes = np.unique(_codes([*alike, *self.noted(self.picks)], self.rows.size), return_inverse=True)

        new = np.tile(np.arange(count), self.rows.size)
        wide = _Signed({leaf: self.over(leaf, name, count) for leaf in done}, self.rows.size * count)
        for leaf in {leaf for rule in touched for leaf in self.leaves[rule.name]} & self.rows.signs.keys():
            wide.signs[leaf] = np.repeat(self.rows.signs[leaf], count)
        marks = [mark for rule in touched for mark in wide.marks(rule)]
        codes = _codes([np.repeat(codes, count), *marks, *self.noted({name: new})], wide.size)

        rows = np.sort(np.unique(codes, return_index=True)[1])
        complete = len(rows) <= MOST
        if not complete:
            rows = rows[np.linspace(0, len(rows) - 1, MOST).astype(np.intp)]
        before = rows // count
        self.picks = {one: picks[before] for one, picks in self.picks.items()} | {name: new[rows]}
        signs = {leaf: sign[before] for leaf, sign in self.rows.signs.items()}
        self.rows = _Signed(signs | {leaf: wide.signs[leaf][rows] for leaf in done}, len(rows))
        return complete

    def over(self, leaf: Leaf, name: str, count: int) -> Signs:
        """Its sign in each row, once all are combined with the values of a new fact of that name."""
        rows = self.rows.size * count
        names = [*(one for one in sorted(self.read[leaf]) if one != name), name]
        sizes = [len(self.options[one]) for one in names]
        if (combinations := math.prod(sizes)) > rows:
            new = np.tile(np.arange(count), self.rows.size)
            picked = {one: np.repeat(self.picks[one], count) for one in names[:-1]} | {name: new}
            return self.found(leaf, picked, rows)
        grid = np.indices(sizes).reshape(len(sizes), -1)  # solved for each combination of its own facts, and looked up
        solved = self.found(leaf, dict(zip(names, grid, strict=True)), combinations).reshape(-1, count)
        before = tuple(self.picks[one] for one in names[:-1])
        at = np.ravel_multi_index(before, sizes[:-1]) if before else np.zeros(self.rows.size, dtype=np.intp)
        return solved[at].reshape(-1)

    def found(self, leaf: Leaf, picked: Picks, rows: int) -> Signs:
        """Its sign with these values of its facts."""
        facts = FactBase().with_columns({one: self.options[one].take(picks) for one, picks in picked.items()}, _TRIED)
        return np.broadcast_to(np.asarray(sign_of(leaf, facts), dtype=np.int8), (rows,))

    def noted(self, picks: Picks) -> list[Mark]:
        """What of these facts' values still counts: each of those to be compared, of others whether it is known."""
        compared = self.kept.union(*(self.read[leaf] for leaf in self.open))
        marks = [picked for name, picked in picks.items() if name in compared]
        known = [self.options[name].known[of] for name, of in picks.items() if name in self.seen - compared]
        return [*marks, *known]


def _codes(marks: Sequence[Mark], size: int) -> NDArray[np.int64]:
    """One number for each row (size,), the same in two rows where all their marks are."""
    codes, reach = np.zeros(size, dtype=np.int64), 1
    for mark in marks:
        radix = int(mark.max()) + 2  # marks begin at -1
        if reach * radix > _LARGEST:
            _, codes = np.unique(codes, return_inverse=True)
            reach = size
        codes *= radix
        codes += mark
        codes += 1
        reach *= radix
    return codes
