"""Which values a condition leaves possible: enough reasoning to see that one can never hold, or always does.

Each thing that a leaf asks is a *key*: the value of a fact, whether it is known, whether a set holds a choice
or how two sums compare. A key has a universe of values, a leaf allows some.
"""

import math
import operator
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

from .conditions import (
    All,
    AnyOf,
    Between,
    Binary,
    Compare,
    Condition,
    Expr,
    FactRef,
    Flag,
    Includes,
    Is,
    Known,
    Leaf,
    Negate,
    NoneOf,
    Number,
)
from .vocabulary import FactDef

Cut: TypeAlias = tuple[float, int]
"""A point between numbers: just below (0) or just above (1) a value."""


@dataclass(frozen=True, slots=True)
class Numbers:
    """A set of numbers as sorted, disjoint stretches from cut to cut."""

    stretches: tuple[tuple[Cut, Cut], ...]

    @staticmethod
    def between(low: float, high: float, low_open: bool = False, high_open: bool = False) -> "Numbers":
        """The numbers from `low` to `high`, ends included unless open."""
        start, end = (low, 1 if low_open else 0), (high, 0 if high_open else 1)
        return Numbers(((start, end),) if start < end else ())

    def __and__(self, other: "Numbers") -> "Numbers":
        both = []
        for start, end in self.stretches:
            for other_start, other_end in other.stretches:
                low, high = max(start, other_start), min(end, other_end)
                if low < high:
                    both.append((low, high))
        return Numbers(tuple(sorted(both)))

    def __or__(self, other: "Numbers") -> "Numbers":
        joined: list[tuple[Cut, Cut]] = []
        for start, end in sorted((*self.stretches, *other.stretches)):
            if joined and start <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
            else:
                joined.append((start, end))
        return Numbers(tuple(joined))

    def __sub__(self, other: "Numbers") -> "Numbers":
        gaps = []
        start: Cut = (-math.inf, 0)
        for low, high in other.stretches:
            gaps.append((start, low))
            start = high
        gaps.append((start, (math.inf, 1)))
        return self & Numbers(tuple(gap for gap in gaps if gap[0] < gap[1]))

    def __bool__(self) -> bool:
        return bool(self.stretches)

    def example(self) -> float:
        """A number of the set, preferably one that isn't at its edge."""
        (low, _), (high, _) = self.stretches[0]
        if math.isinf(low) and math.isinf(high):
            return 0.0
        if math.isinf(low):
            return high - max(1.0, abs(high) / 10)
        if math.isinf(high):
            return low + max(1.0, abs(low) / 10)
        return (low + high) / 2


EVERY = Numbers.between(-math.inf, math.inf)
Values: TypeAlias = Numbers | frozenset[str]
_OPERATORS: dict[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
}
_YES_NO = frozenset(("yes", "no"))
_ORDER = frozenset(("<", "=", ">"))
_ALLOWED = {"<": "<", "<=": "<=", ">": ">", ">=": ">=", "=": "=", "!=": "<>"}
_FLIPPED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "=": "=", "!=": "!="}


@dataclass(frozen=True, slots=True)
class Key:
    """What a leaf asks about: `aspect` is value, known, has (a choice), order (of two sums) or between (of sums)."""

    aspect: str
    fact: str = ""
    detail: str | tuple[Expr, Expr] = ""


@dataclass(frozen=True, slots=True)
class Claim:
    """A leaf as a claim on one key; `in_none` where it is to be false by a group 'none'."""

    leaf: Leaf
    key: Key
    allowed: Values
    in_none: bool = False


@dataclass(frozen=True, slots=True)
class Both:
    parts: tuple["Claims", ...]


@dataclass(frozen=True, slots=True)
class Either:
    parts: tuple["Claims", ...]
    of: Condition


Claims: TypeAlias = Claim | Both | Either


class Universe:
    """All values that each key can take, given the vocabulary and what the rules set."""

    def __init__(self, vocabulary: Mapping[str, FactDef], settable: Mapping[str, frozenset[str]]) -> None:
        self.vocabulary = vocabulary
        self.settable = settable

    def of(self, key: Key, as_set: bool = True) -> Values:
        """Every value that the key can take; of a fact that rules set what they set it to, or (not `as_set`) all that
        the vocabulary has."""
        match key.aspect:
            case "known" | "has" | "between":
                return _YES_NO
            case "order":
                same = isinstance(key.detail, tuple) and key.detail[0] == key.detail[1]
                return frozenset(("=",)) if same else _ORDER
        definition = self.vocabulary[key.fact]
        if definition.kind == "number":
            plausible = definition.answerable
            if definition.source == "asked" and plausible is not None:
                return Numbers.between(plausible.low, plausible.high)
            return EVERY
        if as_set and key.fact in self.settable:
            return self.settable[key.fact]
        return _YES_NO if definition.kind == "yes/no" else frozenset(definition.choice_names)

    def span(self, expr: Expr) -> tuple[float, float]:
        """Between which ends a sum lies when what callers are asked lies within its plausible range (SI)."""
        match expr:
            case Number(si=si):
                return si, si
            case FactRef(name=name):
                definition = self.vocabulary[name]
                plausible = definition.answerable if definition.source == "asked" else None
                return (plausible.low, plausible.high) if plausible is not None else (-math.inf, math.inf)
            case Negate(of=of):
                low, high = self.span(of)
                return -high, -low
            case Binary(op=op, left=left, right=right):
                return _combined(op, self.span(left), self.span(right))

    def bounds(self, condition: Condition, figure: Expr) -> Numbers:
        """The values of a figure for which a comparison of it with numbers holds; none for any other condition."""
        match condition:
            case Compare(left=left, op=op, right=right) if left == figure and (limit := constant(right)) is not None:
                return _side(op, limit)
            case Compare(left=left, op=op, right=right) if right == figure and (limit := constant(left)) is not None:
                return _side(_FLIPPED[op], limit)
            case Between(expr=expr, low=low, high=high) if expr == figure:
                bottom, top = constant(low), constant(high)
                return Numbers(()) if bottom is None or top is None else Numbers.between(bottom, top)
            case _:
                return Numbers(())

    def claims(self, condition: Condition, holds: bool = True, in_none: bool = False) -> Claims:
        """The condition (or its opposite) as claims joined by both and either."""
        match condition:
            case All(parts=parts) | AnyOf(parts=parts) | NoneOf(parts=parts):
                turned = isinstance(condition, NoneOf)
                wanted = holds != turned
                denied = not wanted and (in_none or (turned and condition.text == "none"))
                inner = tuple(self.claims(part, wanted, denied) for part in parts)
                joined = holds if turned else isinstance(condition, All) == holds
                return Both(inner) if joined else Either(inner, condition)
            case _:
                key, allowed = self.claim(condition)
                return Claim(condition, key, allowed if holds else self.rest(key, allowed), in_none)

    def rest(self, key: Key, allowed: Values) -> Values:
        whole = self.of(key, as_set=False) if key.aspect != "value" or not isinstance(allowed, Numbers) else EVERY
        if isinstance(whole, Numbers) and isinstance(allowed, Numbers):
            return whole - allowed
        assert isinstance(whole, frozenset)
        assert isinstance(allowed, frozenset)
        return whole - allowed

    def claim(self, leaf: Leaf) -> tuple[Key, Values]:
        """Key of the leaf and the values for which it holds."""
        match leaf:
            case Known(fact=fact, negated=negated):
                return Key("known", fact), frozenset(("no",) if negated else ("yes",))
            case Flag(fact=fact, value=value):
                return Key("value", fact), frozenset(("yes",) if value else ("no",))
            case Includes(fact=fact, choice=choice, negated=negated):
                return Key("has", fact, choice), frozenset(("no",) if negated else ("yes",))
            case Is(fact=fact, choices=choices, negated=negated):
                key = Key("value", fact)
                return key, self.rest(key, choices) if negated else choices
            case Between(expr=FactRef(name=name), low=low, high=high):
                bottom, top = constant(low), constant(high)
                if bottom is not None and top is not None:
                    return Key("value", name), Numbers.between(bottom, top)
                return _between(leaf)
            case Between():
                return _between(leaf)
            case Compare(left=left, op=op, right=right):
                return _comparison(left, op, right)


def _between(leaf: Between) -> tuple[Key, Values]:
    ends = Binary("-", leaf.high, leaf.low, place=leaf.place, text="")
    return Key("between", "", (leaf.expr, ends)), frozenset(("yes",))


def _comparison(left: Expr, op: str, right: Expr) -> tuple[Key, Values]:
    limit, floor = constant(right), constant(left)
    if isinstance(left, FactRef) and limit is not None:
        return Key("value", left.name), _side(op, limit)
    if isinstance(right, FactRef) and floor is not None:
        return Key("value", right.name), _side(_FLIPPED[op], floor)
    if repr(right) < repr(left):
        return Key("order", "", (right, left)), frozenset(_ALLOWED[_FLIPPED[op]])
    return Key("order", "", (left, right)), frozenset(_ALLOWED[op])


def _side(op: str, value: float) -> Numbers:
    match op:
        case "<":
            return Numbers.between(-math.inf, value, high_open=True)
        case "<=":
            return Numbers.between(-math.inf, value)
        case ">":
            return Numbers.between(value, math.inf, low_open=True)
        case ">=":
            return Numbers.between(value, math.inf)
        case "=":
            return Numbers.between(value, value)
        case _:
            return EVERY - Numbers.between(value, value)


def constant(expr: Expr) -> float | None:
    """The value of a sum that reads no fact, else None."""
    match expr:
        case Number(si=si):
            return si
        case Negate(of=of):
            value = constant(of)
            return -value if value is not None else None
        case Binary(op=op, left=left, right=right):
            first, second = constant(left), constant(right)
            if first is None or second is None or (op == "/" and second == 0):
                return None
            return _OPERATORS[op](first, second)
        case _:
            return None


def _combined(op: str, one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    if op in "+-":
        return (one[0] + other[0], one[1] + other[1]) if op == "+" else (one[0] - other[1], one[1] - other[0])
    if op == "/":
        if other[0] <= 0 <= other[1]:
            return -math.inf, math.inf
        other = 1 / other[1], 1 / other[0]
    corners = [0.0 if 0.0 in (a, b) else a * b for a in one for b in other]
    return min(corners), max(corners)


def meet(one: Values, other: Values) -> Values:
    """What both allow."""
    if isinstance(one, Numbers) and isinstance(other, Numbers):
        return one & other
    assert isinstance(one, frozenset)
    assert isinstance(other, frozenset)
    return one & other


def union(one: Values, other: Values) -> Values:
    """What either allows."""
    if isinstance(one, Numbers) and isinstance(other, Numbers):
        return one | other
    assert isinstance(one, frozenset)
    assert isinstance(other, frozenset)
    return one | other


def conjunctions(claims: Claims, limit: int) -> Iterator[tuple[Claim, ...]]:
    """The ways in which the claims can come true, each as claims that all hold; at most `limit` of them."""
    match claims:
        case Claim():
            yield (claims,)
        case Either(parts=parts):
            for part in parts:
                yield from conjunctions(part, limit)
        case Both(parts=parts):
            ways = [list(_first(conjunctions(part, limit), limit)) for part in parts]
            for count, way in enumerate(product(*ways)):
                if count >= limit:
                    return
                yield tuple(claim for piece in way for claim in piece)


def _first(ways: Iterable[tuple[Claim, ...]], limit: int) -> Iterator[tuple[Claim, ...]]:
    for count, way in enumerate(ways):
        if count >= limit:
            return
        yield way
