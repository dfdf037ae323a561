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


class _Table:
    """The combinations so far: for each fact taken in, which of its values (N,)."""

    def __init__(self, rules: Sequence[Rule], options: Mapping[str, Column], seen: frozenset[str]) -> None:
        self.rules, self.options, self.seen = rules, options, seen
        self.picks: Picks = {}
        self.size = 1
        self.signs: dict[Leaf, Signs] = {}
        every_leaf = dict.fromkeys(leaf for rule in rules for leaf in leaves(rule.when))
        self.open = [leaf for leaf in every_leaf if facts_in(leaf) & options.keys()]
        given = [a.value for rule in rules for a in rule.then if isinstance(a, SetFact | Assume)]
        self.kept = frozenset().union(
            *(facts_in(value) for value in given if not isinstance(value, str | bool | frozenset))
        )

    def take_in(self, name: str) -> bool:
        """Combine with the values of a fact; False where not every kind could be kept."""
        count = len(self.options[name])
        self.picks = {other: np.repeat(picks, count) for other, picks in self.picks.items()}
        self.signs = {leaf: np.repeat(signs, count) for leaf, signs in self.signs.items()}
        self.picks[name] = np.tile(np.arange(count), self.size)
        self.size *= count
        for leaf in self.open:
            if name in (read := facts_in(leaf)) and read <= self.picks.keys():
                facts = FactBase().with_columns({one: self.options[one].take(self.picks[one]) for one in read}, _TRIED)
                sign = np.asarray(sign_of(leaf, facts), dtype=np.int8)
                self.signs[leaf] = np.broadcast_to(sign, (self.size,))
        self.open = [leaf for leaf in self.open if leaf not in self.signs]
        rows = self.distinct()
        complete = len(rows) <= MOST
        if not complete:
            rows = rows[np.linspace(0, len(rows) - 1, MOST).astype(np.intp)]
        self.picks = {other: picks[rows] for other, picks in self.picks.items()}
        self.signs = {leaf: signs[rows] for leaf, signs in self.signs.items()}
        self.size = len(rows)
        return complete

    def distinct(self) -> NDArray[np.intp]:
        """The first row of each kind."""
        marks = [mark for rule in self.rules for mark in self.marks(rule)]
        compared = self.kept.union(*(facts_in(leaf) for leaf in self.open))
        for name, picks in self.picks.items():
            if name in compared:
                marks.append(picks.astype(np.int64))
            elif name in self.seen:
                marks.append(self.options[name].known[picks].astype(np.int64))
        if not marks:
            return np.zeros(1, dtype=np.intp)
        codes, reach = np.zeros(self.size, dtype=np.int64), 1
        for mark in marks:
            radix = int(mark.max()) + 2  # marks begin at -1
            if reach * radix > _LARGEST:
                _, codes = np.unique(codes, return_inverse=True)
                reach = self.size
            codes, reach = codes * radix + mark + 1, reach * radix
        return np.sort(np.unique(codes, return_index=True)[1])

    def marks(self, rule: Rule) -> list[NDArray[np.int64]]:
        """What the rule may still do in each row; the same for all rows in which it is out."""
        parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
        signs = [self.sign(part) for part in parts]
        out = np.zeros(self.size, dtype=bool)
        for sign in signs:
            if sign is not None:
                out |= sign < 1
        inner = [mark for part, sign in zip(parts, signs, strict=True) if sign is None for mark in self.state(part)]
        return [out.astype(np.int64), *(np.where(out, 0, mark) for mark in inner)]

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

    def state(self, condition: Condition) -> list[NDArray[np.int64]]:
        """What is known of it in each row: its sign, or what is known of its parts."""
        sign = self.sign(condition)
        if sign is not None:
            return [sign.astype(np.int64)]
        if not isinstance(condition, All | AnyOf | NoneOf):
            return []
        settles = -1 if isinstance(condition, All) else 1
        below = [self.state(part) for part in condition.parts]
        whole = [sign for part in condition.parts if (sign := self.sign(part)) is not None]
        settled = np.any([sign == settles for sign in whole], axis=0) if whole else np.zeros(self.size, dtype=bool)
        return [np.asarray(settled, dtype=np.int64), *(np.where(settled, 0, mark) for part in below for mark in part)]
