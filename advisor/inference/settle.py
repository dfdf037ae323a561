"""What a fact comes to when several sources give it: one value, or a conflict that leaves it not known."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.quantities import Range

from .agenda import Conflict
from .facts import ROUNDING, Coded, Column, Fact, Numbers, Origin, Value, same


@dataclass(frozen=True, slots=True)
class Given:
    """One source's value for a fact: the source's name, where it holds (None: everywhere), and the origin."""

    by: str
    value: Value | Column
    origin: Origin
    mask: NDArray[np.bool_] | None = None


@dataclass(frozen=True, slots=True)
class Settled:
    """The fact, or the column, that came out (None: not known), and the conflict if there was one."""

    fact: Fact | None
    column: Column | None
    origin: Origin
    conflict: Conflict | None


def settle(name: str, given: Sequence[Given], size: int | None) -> Settled:
    """One outcome from all that is given for a fact, the first source's origin with it; order is of no other
    account. `size` is the number of candidates."""
    origin = given[0].origin
    plain = [one.value for one in given if one.mask is None and not isinstance(one.value, Numbers | Coded)]
    if len(plain) == len(given):
        if all(same(plain[0], value) for value in plain[1:]):
            return Settled(Fact(name, plain[0], origin), None, origin, None)
        return Settled(None, None, origin, Conflict(name, dict(zip(_names(given), plain, strict=True))))
    column, clash = _joined(given, size or 0)
    if not clash.any():
        return Settled(None, column, origin, None)
    first = int(np.flatnonzero(clash)[0])
    values = {by: value for by, value in ((one.by, _at(one, first)) for one in given) if value is not None}
    return Settled(None, column, origin, Conflict(name, values, tuple(np.flatnonzero(clash).tolist())))


def _names(given: Sequence[Given]) -> list[str]:
    """The sources' names; a rule that gives one fact twice is told apart by a count."""
    names: list[str] = []
    for one in given:
        again = sum(name == one.by or name.startswith(f"{one.by} (") for name in names)
        names.append(f"{one.by} ({again + 1})" if again else one.by)
    return names


def _at(one: Given, candidate: int) -> Value | None:
    if one.mask is not None and not one.mask[candidate]:
        return None
    return one.value.at(candidate) if isinstance(one.value, Numbers | Coded) else one.value


def _joined(given: Sequence[Given], size: int) -> tuple[Column, NDArray[np.bool_]]:
    """The column in which each candidate has what is given for it, and where sources differ (not known)."""
    if all(isinstance(one.value, Numbers | Range) for one in given):
        return _joined_numbers(given, size)
    table: dict[Value, int] = {}
    codes = np.full(size, -1, dtype=np.intp)
    clash = np.zeros(size, dtype=np.bool_)
    for one in given:
        new = _codes(one.value, table, size)
        there = new >= 0
        if one.mask is not None:
            there &= one.mask
        clash |= there & (codes >= 0) & (codes != new)
        codes = np.where(there & (codes < 0), new, codes)
    return Coded(np.where(clash, -1, codes), tuple(table)), clash


def _codes(value: Value | Column, table: dict[Value, int], size: int) -> NDArray[np.intp]:
    if isinstance(value, Coded):
        codes = [table.setdefault(entry, len(table)) for entry in value.table]
        return np.array([*codes, -1], dtype=np.intp)[value.codes]
    if isinstance(value, Numbers):
        items = [value.at(candidate) for candidate in range(size)]
        return np.array([-1 if v is None else table.setdefault(v, len(table)) for v in items], dtype=np.intp)
    return np.full(size, table.setdefault(value, len(table)), dtype=np.intp)


def _joined_numbers(given: Sequence[Given], size: int) -> tuple[Numbers, NDArray[np.bool_]]:
    low, high = np.full(size, np.nan), np.full(size, np.nan)
    clash = np.zeros(size, dtype=np.bool_)
    for one in given:
        new_low, new_high = _ends(one.value, size)
        there = ~(np.isnan(new_low) | np.isnan(new_high))
        if one.mask is not None:
            there &= one.mask
        empty = np.isnan(low)
        clash |= there & ~empty & ~(_close(low, new_low) & _close(high, new_high))
        low, high = np.where(there & empty, new_low, low), np.where(there & empty, new_high, high)
    return Numbers(np.where(clash, np.nan, low), np.where(clash, np.nan, high)), clash


def _ends(value: Value | Column, size: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if isinstance(value, Numbers):
        return value.low, value.high
    assert isinstance(value, Range)
    return np.full(size, value.low), np.full(size, value.high)


def _close(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.bool_]:
    return np.isclose(one, other, rtol=ROUNDING, atol=0.0)
