"""The shares of what a truck does that nobody told: they take what the told ones leave of the whole."""

from collections.abc import Mapping

import numpy as np

from advisor.inference.facts import Column, Fact, FactBase, Numbers, Origin, numbers
from advisor.knowledge import FactDef
from advisor.matching.inputs import Array
from advisor.quantities import Range

LEFT = "what the shares told leave of the whole"
COMPLETED = Origin("assumed", LEFT)


def completed(facts: FactBase, vocabulary: Mapping[str, FactDef]) -> FactBase:
    """The facts with the share (0 to 1) of each of his duties: those that nobody told part what is left, as they
    usually do. None is completed before one share is told."""
    duties = facts.value("duties")
    if not isinstance(duties, frozenset) or len(duties) < 2:
        return facts
    names = [name for duty in sorted(duties) if (name := f"{duty} share") in vocabulary]
    told = {name: values for name in names if (values := _told(facts, name)) is not None}
    if len(told) == len(names) and not any(np.isnan(values).any() for values in told.values()):
        return facts
    every = np.stack(np.broadcast_arrays(*(told.get(name, np.array([np.nan])) for name in names)))
    open_ = np.isnan(every)
    usual = np.array([vocabulary[name].typical or 1.0 for name in names])[:, None] * open_
    left = np.maximum(0.0, 1.0 - np.nansum(every, axis=0))
    with np.errstate(invalid="ignore"):  # where all are told nothing is parted
        parted = left * usual / usual.sum(axis=0)
    sure = (~open_).any(axis=0)
    values = np.where(open_, np.where(sure, parted, np.nan), every)
    if not facts.columns:
        plain = zip(names, values[:, 0].tolist(), open_[:, 0].tolist(), strict=True)
        return facts.with_facts(
            Fact(name, Range(value, value), COMPLETED) for name, value, parts in plain if parts and value == value
        )
    size = facts.size or 1
    columns: dict[str, Column] = {
        name: numbers(np.broadcast_to(row, (size,)).copy())
        for name, row, parts in zip(names, values, open_, strict=True)
        if parts.any()
    }
    return facts.with_columns(columns, COMPLETED)


def _told(facts: FactBase, name: str) -> Array | None:
    """What was told of a share, for each candidate or for all of them; None where nobody told anything."""
    value, column = facts.value(name), facts.columns.get(name)
    if isinstance(value, Range):
        return np.array([value.mid])
    return 0.5 * (column.low + column.high) if isinstance(column, Numbers) else None
