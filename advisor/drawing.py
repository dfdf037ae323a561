"""Answers drawn from the priors of what is open: whole columns of them, for callers as this one might turn out.

The draws are even shares of each prior in an order of the fact's own: the same for a fact whatever else is open, and
in every call.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import compress
from math import ceil, floor, fsum, log10
from typing import Any
from zlib import crc32

import numpy as np

from advisor.fitting.joints import SIZE_TOLERANCE, connections
from advisor.inference.facts import Coded, Column, FactBase, Numbers, Origin, Value, coded, numbers
from advisor.inference.verdict import sign_of
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.ends import size_of
from advisor.matching.inputs import Array, Bools, IntArray
from advisor.units import Range, from_si

DRAWN = Origin("answer", "a caller like this one")
NOTHING_ELSE = frozenset(("none", "nothing"))  # who has one of these has no other
PIPES = {"exhaust size": "exhaust pipe", "charge pipe size": "charge pipe"}


def drawable(definition: FactDef) -> bool:
    """Whether answers to a question can be drawn from the vocabulary."""
    if definition.kind == "number":
        return definition.prior is not None
    return definition.kind == "yes/no" or (definition.kind in ("choice", "several") and len(definition.choices) > 0)


def draw(definitions: Sequence[FactDef], said: FactBase, count: int, knowledge: Knowledge) -> dict[str, Column]:
    """Answers of ``count`` callers to open questions: each fact from its prior, in even shares, and only where the
    question makes sense for what that caller said before. The same draws for a fact whatever else is open."""
    answers: dict[str, Column] = {}
    left = {definition.name: definition for definition in definitions}
    while left:
        ready = [d for d in left.values() if d.ask_when is None or not facts_in(d.ask_when) & left.keys()]
        for definition in ready or list(left.values()):  # a circle is cut where it is found
            del left[definition.name]
            answer = _answers(definition, count, knowledge)
            if definition.ask_when is not None:
                makes_sense = np.equal(sign_of(definition.ask_when, said.with_columns(answers, DRAWN)), 1)
                answer = _where(np.broadcast_to(makes_sense, (count,)), answer)
            answers[definition.name] = answer
    return answers


@lru_cache(maxsize=1024)
def shares(name: str, count: int) -> Array:
    """Even shares of a prior (count,), in an order of the fact's own."""
    order = np.random.RandomState(crc32(name.encode())).permutation(count)  # frozen: the same with any numpy (NEP 19)
    return (order + 0.5) / count


def _answers(definition: FactDef, count: int, knowledge: Knowledge) -> Column:
    share = shares(definition.name, count)
    if definition.kind == "number" and definition.prior is not None:
        if sizes := _sizes(definition, knowledge):
            return numbers(np.asarray(sizes)[np.floor(share * len(sizes)).astype(np.intp)])
        return numbers(definition.prior.low + (definition.prior.high - definition.prior.low) * share)
    if definition.kind == "yes/no":
        return Coded(np.asarray(share < 0.5, dtype=np.intp), (False, True))
    if definition.kind == "choice":
        edges = np.cumsum([choice.weight for choice in definition.choices])
        return Coded(np.searchsorted(edges / edges[-1], share).astype(np.intp), definition.choice_names)
    names = definition.choice_names
    picked = [shares(f"{definition.name} {choice.name}", count) < choice.weight for choice in definition.choices]
    sets = [frozenset(compress(names, has)) for has in zip(*picked, strict=True)]
    return coded([(some - NOTHING_ELSE) or some or frozenset(names[:1]) for some in sets])


def _sizes(definition: FactDef, knowledge: Knowledge) -> tuple[float, ...]:
    """Figures (SI) that there are within a prior: sizes that pipes are made in, whole numbers of what is counted; none
    where there is any figure."""
    kind, prior = PIPES.get(definition.name), definition.prior
    if prior is not None and definition.quantity == "count":
        return tuple(float(number) for number in range(ceil(prior.low), floor(prior.high) + 1))
    if kind is None or prior is None:
        return ()
    made = (size_of(end) for end in connections(knowledge.catalogue).known(kind))
    return tuple(size for size in made if prior.low - SIZE_TOLERANCE <= size <= prior.high + SIZE_TOLERANCE)


def levels(definition: FactDef, steps: int, knowledge: Knowledge) -> list[tuple[Any, float]]:
    """Answers (SI) that stand for the prior of a fact, each with its chance; of a number the middles of even shares,
    the outer ones drawn out towards the ends."""
    if definition.kind == "number" and definition.prior is not None:
        if sizes := _sizes(definition, knowledge):
            return [(size, 1.0 / len(sizes)) for size in sizes]
        low, high = definition.prior.low, definition.prior.high
        at = (np.arange(steps) + 0.5) / steps
        at[[0, -1]] += np.array([-1.0, 1.0]) * 0.3 / steps
        return [(float(low + (high - low) * share), 1.0 / steps) for share in at]
    if definition.kind == "yes/no":
        return [(False, 0.5), (True, 0.5)]
    whole = fsum(choice.weight for choice in definition.choices)
    several = definition.kind == "several"
    return [
        (frozenset((choice.name,)) if several else choice.name, choice.weight / whole) for choice in definition.choices
    ]


def round_figures(definition: FactDef, start: float, end: float, steps: int) -> list[float]:
    """Round figures in the shop's unit from the one next to ``start`` to the one next to ``end`` (SI, not past it), in
    about so many steps at most."""
    first, last = (from_si(value, definition.unit, definition.quantity) for value in (start, end))
    width = abs(last - first)
    if width <= 0.0:
        return []
    decade = 10.0 ** floor(log10(width / steps))
    step = next(size * decade for size in (1.0, 2.0, 5.0, 10.0) if size * decade >= width / steps)
    sign = 1.0 if last > first else -1.0
    at = floor(sign * first / step + 1e-9) + 1
    figures = []
    while at * step <= sign * last + 1e-9 * step:
        figures.append(sign * at * step)
        at += 1
    return figures


def _where(there: Bools, values: Column) -> Column:
    if isinstance(values, Numbers):
        return Numbers(np.where(there, values.low, np.nan), np.where(there, values.high, np.nan))
    return Coded(np.where(there, values.codes, -1), values.table)


def without(values: Column, start: int, count: int) -> Column:
    """A column with ``count`` callers from ``start`` on who did not say it."""
    there = np.ones(len(values), dtype=bool)
    there[start : start + count] = False
    return _where(there, values)


def otherwise(values: Column, value: Value | None) -> Column:
    """A column with that value where nothing is known."""
    if value is None:
        return values
    if isinstance(values, Numbers):
        assert isinstance(value, Range)
        known = values.known
        return Numbers(np.where(known, values.low, value.low), np.where(known, values.high, value.high))
    return Coded(np.where(values.known, values.codes, len(values.table)), (*values.table, value))


def picked(values: Column, at: IntArray) -> Column:
    if isinstance(values, Numbers):
        return Numbers(values.low[at], values.high[at])
    return Coded(values.codes[at], values.table)


def joined(parts: Sequence[Mapping[str, Column]], sizes: Sequence[int]) -> dict[str, Column]:
    """Columns of several lots of callers one below the other; what a lot does not hold is not known there."""
    made: dict[str, Column] = {}
    for name in dict.fromkeys(name for part in parts for name in part):
        first = next(part[name] for part in parts if name in part)
        if isinstance(first, Numbers):
            nothing = [np.full(size, np.nan) for size in sizes]
            found = [part.get(name) for part in parts]
            low = [f.low if isinstance(f, Numbers) else n for f, n in zip(found, nothing, strict=True)]
            high = [f.high if isinstance(f, Numbers) else n for f, n in zip(found, nothing, strict=True)]
            made[name] = Numbers(np.concatenate(low), np.concatenate(high))
        else:
            table: dict[Any, int] = {}
            codes = []
            for part, size in zip(parts, sizes, strict=True):
                values = part.get(name)
                if isinstance(values, Coded):
                    places = np.array([*(table.setdefault(entry, len(table)) for entry in values.table), -1])
                    codes.append(places[values.codes])
                else:
                    codes.append(np.full(size, -1, dtype=np.intp))
            made[name] = Coded(np.concatenate(codes), tuple(table))
    return made
