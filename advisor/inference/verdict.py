"""The verdict on a condition: true, false or not yet known.

Kleene's strong three-valued logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64) over
intervals: a condition is true (false) only when it is true (false) for every value that the facts leave
possible. Rounding in binary arithmetic is monotone, so a definite verdict on a range holds exactly for every
point in it.

Inside this module a verdict is a *sign*: 1 true, 0 not yet known, -1 false, so that "and" is the minimum,
"or" the maximum and "not" the negation. `judge` and everything shown outside use 1 true, 0 false, -1 not yet
known. One implementation serves plain facts (Python numbers) and candidate columns (numpy arrays).
"""

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from math import isfinite, nan
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.conditions import (
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
from advisor.knowledge.slopes import Slope
from advisor.quantities import Range

from .facts import ROUNDING, Coded, FactBase, Numbers, Value

Float: TypeAlias = float | NDArray[np.float64]
Interval: TypeAlias = tuple[Float, Float]
Sign: TypeAlias = int | NDArray[np.int8]
Verdict: TypeAlias = NDArray[np.int8]
Reader: TypeAlias = Callable[[FactBase], Interval]
Judge: TypeAlias = Callable[[FactBase], Sign]

UNKNOWN: Interval = (nan, nan)


def judge(condition: Condition, facts: FactBase) -> Verdict:
    """1 true, 0 false, -1 not yet known; int8, shape () when all candidates share it, (N,) else."""
    return as_verdict(sign_of(condition, facts))


def sign_of(condition: Condition, facts: FactBase) -> Sign:
    """The sign of the condition: 1 true, 0 not yet known, -1 false."""
    return _alone(condition).over(facts).sign(0)


def is_open(sign: Sign) -> bool:
    """Whether it is not yet known, for one candidate at least."""
    return sign == 0 if isinstance(sign, int) else bool((sign == 0).any())


def as_verdict(sign: Sign) -> Verdict:
    """A sign (1, 0 not known, -1 false) as verdict (1, 0 false, -1 not known)."""
    if isinstance(sign, int):
        return _OF_ALL[sign + 1]
    return _VERDICTS[sign + 1]


_VERDICTS = np.array([0, -1, 1], dtype=np.int8)
_OF_ALL = tuple(np.array(verdict, dtype=np.int8) for verdict in (0, -1, 1))
for _verdict in _OF_ALL:
    _verdict.setflags(write=False)  # every call is told the same ones


class Conditions:
    """Conditions compiled together, by number; each distinct leaf among them is judged once at most."""

    def __init__(self, conditions: Iterable[Condition]) -> None:
        self.leaf_numbers: dict[Leaf, int] = {}
        self.trees = [self._tree(condition) for condition in conditions]
        self.judges = [_leaf(leaf) for leaf in self.leaf_numbers]

    def over(self, facts: FactBase) -> "Judgement":
        """The verdicts over these facts."""
        return Judgement(self, facts)

    def _tree(self, condition: Condition) -> "_Tree":
        match condition:
            case All(parts=parts):
                trees = [self._tree(part) for part in parts]
                return lambda judgement: every(tree(judgement) for tree in trees)
            case AnyOf(parts=parts):
                trees = [self._tree(part) for part in parts]
                return lambda judgement: some(tree(judgement) for tree in trees)
            case NoneOf(parts=parts):
                trees = [self._tree(part) for part in parts]
                return lambda judgement: -some(tree(judgement) for tree in trees)
            case _:
                number = self.leaf_numbers.setdefault(condition, len(self.leaf_numbers))
                return lambda judgement: judgement.leaf(number)


class Judgement:
    """The signs of some conditions over one fact base."""

    __slots__ = ("_conditions", "_facts", "_leaves")

    def __init__(self, conditions: Conditions, facts: FactBase) -> None:
        self._conditions = conditions
        self._facts = facts
        self._leaves: list[Sign | None] = [None] * len(conditions.judges)

    def sign(self, number: int) -> Sign:
        """The sign of a condition: 1 true, 0 not yet known, -1 false."""
        return self._conditions.trees[number](self)

    def leaf(self, number: int) -> Sign:
        """The sign of a leaf by its number in `Conditions.leaf_numbers`."""
        sign = self._leaves[number]
        if sign is None:
            judged = self._conditions.judges[number]
            if self._facts.columns:
                with np.errstate(all="ignore"):
                    sign = judged(self._facts)
            else:
                sign = judged(self._facts)
            self._leaves[number] = sign
        return sign


_Tree: TypeAlias = Callable[[Judgement], Sign]


@lru_cache(maxsize=4_096)
def _alone(condition: Condition) -> Conditions:
    return Conditions((condition,))


def every(signs: Iterable[Sign]) -> Sign:
    """Kleene's "and": true when all are, false when one is. Stops at the first that settles it for all."""
    result: Sign = 1
    for sign in signs:
        plain = isinstance(sign, int) and isinstance(result, int)
        result = min(result, sign) if plain else np.minimum(result, sign)
        if isinstance(result, int) and result < 0:
            break
    return result


def some(signs: Iterable[Sign]) -> Sign:
    """Kleene's "or": true when one is, false when all are."""
    return -every(-sign for sign in signs)


@lru_cache(maxsize=16_384)
def _leaf(leaf: Leaf) -> Judge:
    match leaf:
        case Compare(left=left, op=op, right=right):
            return _comparison(_reader(left), op, _reader(right))
        case Between(expr=expr, low=low, high=high):
            value = _reader(expr)
            above, below = _comparison(value, ">=", _reader(low)), _comparison(value, "<=", _reader(high))
            return lambda facts: every((above(facts), below(facts)))
        case Known(fact=name, negated=negated):
            return _known(name, -1 if negated else 1)
        case Is(fact=name, choices=choices, negated=negated):
            return _by_value(name, lambda value: _is(value, choices), negated)
        case Includes(fact=name, choice=choice, negated=negated):
            return _by_value(name, lambda value: _includes(value, choice), negated)
        case Flag(fact=name, value=wanted):
            return _by_value(
                name, lambda value: (1 if value is wanted else -1) if isinstance(value, bool) else 0, False
            )


def _is(value: Value | None, choices: frozenset[str]) -> int:
    if isinstance(value, str):
        return 1 if value in choices else -1
    if isinstance(value, frozenset):
        return 1 if value == choices else -1
    return 0


def _includes(value: Value | None, choice: str) -> int:
    if isinstance(value, frozenset):
        return 1 if choice in value else -1
    if isinstance(value, str):
        return 1 if value == choice else -1
    return 0


def _by_value(name: str, verdict: Callable[[Value | None], int], negated: bool) -> Judge:
    turn = -1 if negated else 1

    def judge_value(facts: FactBase) -> Sign:
        values = facts.columns.get(name)
        if isinstance(values, Coded):
            # One verdict for each entry of the table; code -1 (not known) takes the last.
            return np.array([turn * verdict(entry) for entry in (*values.table, None)], np.int8)[values.codes]
        return turn * verdict(facts.value(name))

    return judge_value


def _known(name: str, when_known: int) -> Judge:
    def judge_known(facts: FactBase) -> Sign:
        values = facts.columns.get(name)
        if values is not None:
            return np.where(values.known, when_known, -when_known).astype(np.int8)
        return when_known if name in facts.facts else -when_known

    return judge_known


def _comparison(left: Reader, op: Literal["<", "<=", ">", ">=", "=", "!="], right: Reader) -> Judge:
    if op in (">", ">="):
        return _comparison(right, "<" if op == ">" else "<=", left)
    if op == "!=":
        equal = _comparison(left, "=", right)
        return lambda facts: -equal(facts)

    # Not known is NaN, for which every comparison is false: neither true nor false remains.
    def less(facts: FactBase) -> Sign:
        (low, high), (other_low, other_high) = left(facts), right(facts)
        return _sign(high < other_low, low >= other_high)

    def at_most(facts: FactBase) -> Sign:
        (low, high), (other_low, other_high) = left(facts), right(facts)
        return _sign(high <= other_low, low > other_high)

    def equals(facts: FactBase) -> Sign:
        (low, high), (other_low, other_high) = left(facts), right(facts)
        sizes = [_highest(end, -end) for end in (low, high, other_low, other_high)]
        smallest, largest = _lowest(*sizes), _highest(*sizes)
        apart = _highest(high - other_low, other_high - low)
        gap = _highest(other_low - high, low - other_high)
        return _sign(apart <= ROUNDING * smallest, gap > ROUNDING * largest)

    return {"<": less, "<=": at_most, "=": equals}[op]


def _sign(true: bool | NDArray[np.bool_], false: bool | NDArray[np.bool_]) -> Sign:
    if isinstance(true, np.ndarray) and isinstance(false, np.ndarray):
        sign: NDArray[np.int8] = true.view(np.int8) - false.view(np.int8)
        return sign
    return int(true) - int(false)


@lru_cache(maxsize=16_384)
def _reader(expr: Expr) -> Reader:
    """A function that reads the expression as SI interval, NaN where not known."""
    match expr:
        case Number(si=si):
            literal = (float(si), float(si)) if isfinite(si) else UNKNOWN
            return lambda facts: literal
        case FactRef(name=name):
            return lambda facts: interval(facts, name)
        case Negate(of=of):
            inner = _reader(of)

            def negated(facts: FactBase) -> Interval:
                low, high = inner(facts)
                return -high, -low

            return negated
        case Binary(op=op, left=left, right=right):
            one, other, combine = _reader(left), _reader(right), _ARITHMETIC[op]
            return lambda facts: _finite(*combine(one(facts), other(facts)))


def interval(facts: FactBase, name: str) -> Interval:
    """A number fact as SI interval (floats, or arrays of shape (N,)); NaN where not known."""
    values = facts.columns.get(name)
    if isinstance(values, Numbers):
        return values.low, values.high
    value = facts.value(name)
    if isinstance(value, Range) and value.low <= value.high:
        return float(value.low), float(value.high)
    return UNKNOWN


def evaluate(expr: Expr, facts: FactBase) -> Interval:
    """The expression as SI interval; NaN where not known, where it divides by a range that holds zero, and
    where the result isn't finite."""
    with np.errstate(all="ignore"):
        return _finite(*_reader(expr)(facts))


def points_of(slope: Slope, facts: FactBase) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The fewest and the most points that the facts leave possible, negative ones given: shape () where all
    candidates share the figure, (N,) else; NaN where it isn't known."""
    low, high = (np.asarray(end, dtype=np.float64) for end in evaluate(slope.figure, facts))
    at, taken = [end.si for end, _ in slope.ends], [points for _, points in slope.ends]
    ends = [np.interp(low, at, taken), np.interp(high, at, taken)]
    fewest, most = np.minimum(*ends), np.maximum(*ends)
    for value, points in zip(at[1:-1], taken[1:-1], strict=True):
        between = (low < value) & (value < high)
        fewest = np.where(between, np.minimum(fewest, points), fewest)
        most = np.where(between, np.maximum(most, points), most)
    return np.asarray(fewest), np.asarray(most)


def _add(one: Interval, other: Interval) -> Interval:
    return one[0] + other[0], one[1] + other[1]


def _subtract(one: Interval, other: Interval) -> Interval:
    return one[0] - other[1], one[1] - other[0]


def _multiply(one: Interval, other: Interval) -> Interval:
    corners = (one[0] * other[0], one[0] * other[1], one[1] * other[0], one[1] * other[1])
    return _lowest(*corners), _highest(*corners)


def _divide(one: Interval, other: Interval) -> Interval:
    low, high = other
    if isinstance(low, np.ndarray) or isinstance(high, np.ndarray):
        holds_zero = (low <= 0) & (high >= 0)
        low, high = np.where(holds_zero, nan, low), np.where(holds_zero, nan, high)
    elif low <= 0 <= high:
        return UNKNOWN
    corners = (one[0] / low, one[0] / high, one[1] / low, one[1] / high)
    return _lowest(*corners), _highest(*corners)


_ARITHMETIC = {"+": _add, "-": _subtract, "*": _multiply, "/": _divide}


def _lowest(*values: Float) -> Float:
    if any(isinstance(value, np.ndarray) for value in values):
        return _folded(np.minimum, values)
    return nan if any(value != value for value in values) else min(values)


def _highest(*values: Float) -> Float:
    if any(isinstance(value, np.ndarray) for value in values):
        return _folded(np.maximum, values)
    return nan if any(value != value for value in values) else max(values)


def _folded(take: np.ufunc, values: Sequence[Float]) -> NDArray[np.float64]:
    result: NDArray[np.float64] = np.asarray(values[0], dtype=np.float64)
    for value in values[1:]:
        result = take(result, value)
    return result


def _finite(low: Float, high: Float) -> Interval:
    if isinstance(low, np.ndarray) or isinstance(high, np.ndarray):
        sound = np.isfinite(low) & np.isfinite(high)
        if sound.all():
            return low, high
        return np.where(sound, low, nan), np.where(sound, high, nan)
    return (low, high) if isfinite(low) and isfinite(high) else UNKNOWN
