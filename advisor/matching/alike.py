"""Rows of a match that are alike but for their gate: they run alike wherever no gate is too small.

A shop sells each turbine with several gates. Where the boost target is held, or never reached, the operating point
is the same with each of them; only where a gate is too small does the boost creep, by its size. So one row of each
kind is solved, and the others take its points over.
"""

from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.matching.inputs import Array, Engine, IntArray, Machines, Place, Plumbing, Points
from advisor.matching.turbine import gate_area

_FEW = 4
_ODD = np.uint64(0x9E3779B97F4A7C15)
_OF_THE_GATE = ("gate_bore", "gate_external", "thrust_angle")
"""What of a machine says nothing of where it runs while its gate is large enough (thrust is judged afterwards)."""

Part = TypeVar("Part", Engine, Place, Plumbing, Points)
AskedOfAll = tuple[Engine, Place, Plumbing, Points]


@dataclass(frozen=True, slots=True)
class Kinds:
    """One row of each kind (R,), and for every row the position of its kind's row among these (N,)."""

    first: IntArray
    of: IntArray


def kinds(machines: Machines, asked: AskedOfAll, shut: Array | None = None) -> Kinds | None:
    """The kinds of rows, each shown by the row with the largest gate; None where no two rows are alike, or where
    inputs are drawn for each row.

    asked: what is asked of all rows, or (N, K) of each. Rows with a gate and without are of two kinds; where the gate
    stays shut they aren't, and ``shut`` (N,) is what else those of a kind have in common.
    """
    count = len(machines)
    own = [getattr(machines, field.name) for field in fields(Machines) if field.name not in _OF_THE_GATE]
    own.append(machines.gate_bore > 0.0 if shut is None else shut)
    each = [value for part in asked for value in _figures(part) if value.ndim > 1 and value.shape[-2] > 1]
    if count < _FEW or any(value.ndim > 1 for value in own) or any(value.ndim > 2 for value in each):
        return None
    own += each
    key = [np.asarray(value, dtype=np.float64).reshape(count, -1) for value in own]
    largest = np.argsort(-gate_area(machines), kind="stable")
    _, first, of = np.unique(_mixed(key)[largest], return_index=True, return_inverse=True)
    shown = largest[first][of]
    if not all(np.array_equal(value[shown], value[largest]) for value in key):
        return None  # two that differ came to the same number
    if len(first) == count:
        return None
    place = np.empty(count, np.int64)
    place[largest] = of.reshape(-1)
    return Kinds(largest[first], place)


def _mixed(key: list[Array]) -> NDArray[np.uint64]:
    """A number for each row (N,) of some columns (N, c): the same for rows that are the same, and else hardly ever."""
    mixed = np.zeros(len(key[0]), dtype=np.uint64)
    for values in key:
        for bits in np.ascontiguousarray(values.T).view(np.uint64):
            mixed = (mixed ^ bits ^ (bits >> np.uint64(29))) * _ODD
            mixed ^= mixed >> np.uint64(32)
    return mixed


def _figures(part: Any) -> list[Array]:
    values = (getattr(part, field.name) for field in fields(part))
    return [value for value in values if isinstance(value, np.ndarray)]


def of_rows(asked: Part, rows: IntArray) -> Part:
    """What is asked of some rows: of figures that each row has to itself (..., N, K), those rows."""
    own: dict[str, Any] = {
        field.name: np.take(value, rows, axis=-2)
        for field in fields(asked)
        if isinstance(value := getattr(asked, field.name), np.ndarray) and value.ndim > 1 and value.shape[-2] > 1
    }
    return replace(asked, **own) if own else asked


def each_of_rows(asked: AskedOfAll, rows: IntArray) -> AskedOfAll:
    """All of it for some rows."""
    engine, place, plumbing, points = asked
    return of_rows(engine, rows), of_rows(place, rows), of_rows(plumbing, rows), of_rows(points, rows)
