"""What is known in a call: facts with their origin, and one column per candidate fact.

A fact that nobody knows, or that two sources give differently, is simply absent: "not known".
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import isclose
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from advisor.knowledge.places import Place
from advisor.quantities import Range

Value: TypeAlias = Range | str | bool | frozenset[str]
ROUNDING = 1e-9  # numbers that differ by less, relative to their size, are the same
Kind: TypeAlias = Literal["answer", "rule", "computed", "assumed", "catalogue"]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a value came from: the caller's words, a rule and its place, a computation and its reference, a
    rule's assumption, or the catalogue."""

    kind: Kind
    source: str
    place: Place | None = None
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is known. Numbers are SI ranges."""

    name: str
    value: Value
    origin: Origin


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """A number per candidate, as SI range: `low` and `high` of shape (N,), NaN where not known."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.low)

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Numbers)
            and np.array_equal(self.low, other.low, equal_nan=True)
            and np.array_equal(self.high, other.high, equal_nan=True)
        )

    __hash__ = None  # type: ignore[assignment]

    def at(self, index: int) -> Value | None:
        """The value of one candidate, None where not known."""
        low, high = float(self.low[index]), float(self.high[index])
        return None if np.isnan(low) or np.isnan(high) else Range(low, high)

    def take(self, rows: NDArray[np.intp]) -> "Numbers":
        """The column of these rows of this one, shape (len(rows),); a row may come again."""
        return Numbers(self.low[rows], self.high[rows])

    @property
    def known(self) -> NDArray[np.bool_]:
        """Where there is a value, shape (N,)."""
        return ~(np.isnan(self.low) | np.isnan(self.high))


@dataclass(frozen=True, slots=True, eq=False)
class Coded:
    """A choice, yes/no or set per candidate: `codes` of shape (N,) count into `table`, -1 where not known."""

    codes: NDArray[np.intp]
    table: tuple[Value, ...]

    def __len__(self) -> int:
        return len(self.codes)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Coded) or len(self) != len(other):
            return False
        return all(self.at(i) == other.at(i) for i in range(len(self)))

    __hash__ = None  # type: ignore[assignment]

    def at(self, index: int) -> Value | None:
        """The value of one candidate, None where not known."""
        code = int(self.codes[index])
        return None if code < 0 else self.table[code]

    def take(self, rows: NDArray[np.intp]) -> "Coded":
        """The column of these rows of this one, shape (len(rows),); a row may come again."""
        return Coded(self.codes[rows], self.table)

    @property
    def known(self) -> NDArray[np.bool_]:
        """Where there is a value, shape (N,)."""
        return self.codes >= 0


Column: TypeAlias = Numbers | Coded
Columnar: TypeAlias = Column | ArrayLike | Sequence[Value | None] | tuple[ArrayLike, ArrayLike]


def numbers(low: ArrayLike, high: ArrayLike | None = None) -> Numbers:
    """A column of SI numbers, shape (N,); with `high` of ranges. What isn't finite, or stands the wrong way
    round, is not known."""
    lows = np.array(low, dtype=np.float64)
    highs = lows if high is None else np.array(high, dtype=np.float64)
    if lows.ndim != 1 or lows.shape != highs.shape:
        raise ValueError(f"a candidate fact needs one row of numbers, not shapes {lows.shape}, {highs.shape}")
    sound = np.isfinite(lows) & np.isfinite(highs) & (lows <= highs)
    if not sound.all():
        lows, highs = np.where(sound, lows, np.nan), np.where(sound, highs, np.nan)
    return Numbers(lows, highs)


def coded(values: Iterable[Value | None]) -> Coded:
    """A column of choices, yes/no or sets; None (and "") is not known."""
    table: dict[Value, int] = {}
    codes = [-1 if value is None or value == "" else table.setdefault(value, len(table)) for value in values]
    return Coded(np.array(codes, dtype=np.intp), tuple(table))


def column(values: Columnar) -> Column:
    """The column that an array stands for: floats (or a pair of low and high) become `Numbers`; strings,
    bools and sets become `Coded`."""
    if isinstance(values, Numbers | Coded):
        return values
    if isinstance(values, tuple) and len(values) == 2 and isinstance(values[0], np.ndarray):
        return numbers(values[0], values[1])
    array = values if isinstance(values, np.ndarray) else np.array(values, dtype=object)
    if array.dtype.kind in "fiu":
        return numbers(array)
    items = array.tolist()
    kinds = set(map(type, items))
    if Range in kinds:
        return numbers(
            [item.low if isinstance(item, Range) else np.nan for item in items],
            [item.high if isinstance(item, Range) else np.nan for item in items],
        )
    if any(issubclass(kind, int | float) and kind is not bool for kind in kinds):
        return numbers(items)
    return coded(items)


@dataclass(frozen=True, slots=True)
class FactBase(Mapping[str, Fact]):
    """The facts of a call, by name, and the candidate columns. Immutable: `with_...` gives a new one.

    `disputed` names the facts that two sources give differently; they are not known until that is settled.
    """

    facts: Mapping[str, Fact] = field(default_factory=lambda: MappingProxyType({}))
    columns: Mapping[str, Column] = field(default_factory=lambda: MappingProxyType({}))
    origins: Mapping[str, Origin] = field(default_factory=lambda: MappingProxyType({}))
    disputed: frozenset[str] = frozenset()

    def __getitem__(self, name: str) -> Fact:
        return self.facts[name]

    def __contains__(self, name: object) -> bool:
        return name in self.facts

    def __iter__(self) -> Iterator[str]:
        return iter(self.facts)

    def __len__(self) -> int:
        return len(self.facts)

    @property
    def size(self) -> int | None:
        """How many candidates the columns hold, None without columns."""
        return next((len(column) for column in self.columns.values()), None)

    def value(self, name: str) -> Value | None:
        """The value of a fact that all candidates share, None where not known."""
        fact = self.facts.get(name)
        return None if fact is None else fact.value

    def origin(self, name: str) -> Origin | None:
        """Where the fact or the candidate column came from."""
        fact = self.facts.get(name)
        return self.origins.get(name) if fact is None else fact.origin

    def with_facts(self, facts: Iterable[Fact]) -> "FactBase":
        """These facts too; a fact takes the place of one with the same name. Facts given twice with different
        values, and those already in dispute, are not known."""
        new: dict[str, Fact] = {}
        disputed = set(self.disputed)
        for fact in facts:
            if fact.name in new and not same(new[fact.name].value, fact.value):
                disputed.add(fact.name)
            new.setdefault(fact.name, fact)
        merged = {name: fact for name, fact in {**self.facts, **new}.items() if name not in disputed}
        return FactBase(MappingProxyType(merged), self.columns, self.origins, frozenset(disputed))

    def with_columns(self, columns: Mapping[str, Columnar], origin: Origin) -> "FactBase":
        """These candidate columns too, all of one length and with one origin."""
        new = {name: column(values) for name, values in columns.items()}
        merged = {**self.columns, **new}
        lengths = {len(values) for values in merged.values()}
        if len(lengths) > 1:
            raise ValueError(f"candidate columns differ in length: {sorted(lengths)}")
        origins = {**self.origins, **dict.fromkeys(new, origin)}
        kept = {name: fact for name, fact in self.facts.items() if name not in new}
        return FactBase(
            MappingProxyType(kept), MappingProxyType(merged), MappingProxyType(origins), self.disputed
        )

    def without(self, names: Iterable[str], disputed: bool = False) -> "FactBase":
        """All but these, columns included; with `disputed` they are marked as such and stay not known."""
        gone = frozenset(names)
        return FactBase(
            MappingProxyType({name: fact for name, fact in self.facts.items() if name not in gone}),
            MappingProxyType({name: values for name, values in self.columns.items() if name not in gone}),
            MappingProxyType({name: origin for name, origin in self.origins.items() if name not in gone}),
            self.disputed | gone if disputed else self.disputed - gone,
        )

    def at(self, candidate: int) -> "FactBase":
        """The facts as they stand for one candidate: every column becomes a plain fact."""
        of_one = dict(self.facts)
        for name, values in self.columns.items():
            value = values.at(candidate)
            if value is not None:
                of_one[name] = Fact(name, value, self.origins[name])
        return FactBase(MappingProxyType(of_one), disputed=self.disputed)


def same(one: Value, other: Value) -> bool:
    """Whether two values say the same; numbers within rounding."""
    if isinstance(one, Range) and isinstance(other, Range):
        return isclose(one.low, other.low, rel_tol=ROUNDING) and isclose(
            one.high, other.high, rel_tol=ROUNDING
        )
    return type(one) is type(other) and one == other
