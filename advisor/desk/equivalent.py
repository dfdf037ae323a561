"""Whether a mutant means the same as its rule: proven by trying every kind of situation that its conditions can tell
apart, or not claimed.

A number is tried at each value that a condition compares it with, between and beyond them, and as every range from
one of those to another; a choice as each choice; a set with each of the choices named in it and without; all of
them as not known too. A comparison of sums counts as true, false or not known, whatever else holds. So a proof covers
more than can happen, except for what is sure: a figure of a duty is known only to who has that duty.
"""

import itertools
import math
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from advisor.desk.mutants import Mutant
from advisor.inference.facts import FactBase, Origin, Value, column
from advisor.inference.verdict import every, sign_of, some
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.conditions import (
    All,
    AnyOf,
    Between,
    Compare,
    Condition,
    FactRef,
    Includes,
    Known,
    Leaf,
    NoneOf,
    facts_in,
    leaves,
)
from advisor.knowledge.domains import constant
from advisor.supplied import AT_THE_STRIP, COMPUTED_AT_TIMES, OF_A_DUTY
from advisor.units import Range

Signs = NDArray[np.int8]
MOST = 400_000  # situations tried of one mutant; what has more is not proven
STATED = ("towing", "strip", "sled")  # daily driving is added where nobody speaks of a duty
TRIED = Origin("answer", "a situation that is tried")
OF_TOWING = frozenset(name for name in COMPUTED_AT_TIMES if name.startswith("towing "))


def means_the_same(mutant: Mutant, knowledge: Knowledge) -> bool:
    """Whether mutant and rule fire alike in every situation. False where that isn't proven."""
    before, after = mutant.rule.when, mutant.variant.when
    if mutant.rule.then != mutant.variant.then:
        return False
    both = dict.fromkeys((*leaves(before), *leaves(after)))
    axes, read = _axes(tuple(both), knowledge.vocabulary)
    size = math.prod(axes.values())
    if size > MOST:
        return False
    steps = dict(zip(axes, itertools.accumulate((1, *axes.values()), lambda a, b: a * b), strict=False))
    row = np.arange(size)

    def sign(leaf: Leaf) -> Signs:
        axis, signs = read[leaf]
        found: Signs = signs[row // steps[axis] % axes[axis]]
        return found

    known = {leaf: sign(leaf) for leaf in both}
    differ = (_sign(before, known) == 1) != (_sign(after, known) == 1)
    return not bool((differ & _possible(read, sign)).any())


Axis = str | Leaf
"""A fact, or a comparison of sums."""


def _axes(
    conditions: tuple[Leaf, ...], vocabulary: Mapping[str, FactDef]
) -> tuple[dict[Axis, int], dict[Leaf, tuple[Axis, Signs]]]:
    """How many values are tried of each fact and each comparison of sums; of each leaf its axis and its signs there."""
    axes: dict[Axis, int] = {}
    read: dict[Leaf, tuple[Axis, Signs]] = {}
    alone = [leaf for leaf in conditions if _of_one(leaf)]
    for leaf in conditions:
        if leaf not in alone:
            axes[leaf] = 3
            read[leaf] = (leaf, np.array([-1, 0, 1], dtype=np.int8))
    for name in sorted({name for leaf in alone for name in facts_in(leaf)}):
        own = [leaf for leaf in alone if name in facts_in(leaf)]
        tried = _values(vocabulary[name], own)
        axes[name] = len(tried)
        facts = FactBase().with_columns({name: column(tried)}, TRIED)
        for leaf in own:
            read[leaf] = (name, np.broadcast_to(np.asarray(sign_of(leaf, facts), dtype=np.int8), len(tried)))
    return axes, read


def _of_one(leaf: Leaf) -> bool:
    """Whether a leaf asks about one fact, and of a number only how it stands to constants."""
    match leaf:
        case Compare(left=FactRef(), right=other) | Compare(left=other, right=FactRef()):
            return constant(other) is not None
        case Between(expr=FactRef(), low=low, high=high):
            return constant(low) is not None and constant(high) is not None
        case Compare() | Between():
            return False
        case _:
            return True


def _values(definition: FactDef, own: list[Leaf]) -> list[Value | None]:
    """Every kind of value that the leaves can tell apart; the last is "not known"."""
    tried: list[Value | None] = []
    match definition.kind:
        case "number":
            found = {end for leaf in own if isinstance(leaf, Compare | Between) for end in _constants(leaf)}
            ends = sorted(found) or [0.0]
            outside = (ends[0] - 1.0 - abs(ends[0]), ends[-1] + 1.0 + abs(ends[-1]))
            between = [low + (high - low) / 2 for low, high in itertools.pairwise(ends)]
            points = sorted((*ends, *between, *outside))
            tried += [Range(low, high) for at, low in enumerate(points) for high in points[at:]]
        case "yes/no":
            tried += [True, False]
        case "several":
            named = sorted({leaf.choice for leaf in own if isinstance(leaf, Includes)})
            others = [name for name in definition.choice_names if name not in named]
            whole = any(not isinstance(leaf, Includes | Known) for leaf in own)
            parts = definition.choice_names if whole else (*named, *others[:1])
            sizes = range(len(parts) + 1)
            tried += [frozenset(some_of) for size in sizes for some_of in itertools.combinations(parts, size)]
        case "choice":
            tried += definition.choice_names
        case _:
            tried.append("words")
    return [*tried, None]


def _constants(leaf: Compare | Between) -> list[float]:
    sides = (leaf.left, leaf.right) if isinstance(leaf, Compare) else (leaf.low, leaf.high)
    return [value for side in sides if (value := constant(side)) is not None]


def _sign(condition: Condition, known: Mapping[Leaf, Signs]) -> Signs:
    match condition:
        case All(parts=parts):
            return np.asarray(every(_sign(part, known) for part in parts), dtype=np.int8)
        case AnyOf(parts=parts):
            return np.asarray(some(_sign(part, known) for part in parts), dtype=np.int8)
        case NoneOf(parts=parts):
            return np.asarray(-some(_sign(part, known) for part in parts), dtype=np.int8)
        case _:
            return known[condition]


def _possible(read: Mapping[Leaf, tuple[Axis, Signs]], sign: Callable[[Leaf], Signs]) -> NDArray[np.bool_] | np.bool_:
    """Where no figure of a duty is read (true or false) by somebody who hasn't got that duty."""
    possible: NDArray[np.bool_] | np.bool_ = np.True_
    for has in read:
        if not isinstance(has, Includes) or has.fact != "duties" or has.choice not in STATED:
            continue
        hasnt = sign(has) != (-1 if has.negated else 1)
        for leaf in read:
            if any(_of_duty(name, has.choice) for name in facts_in(leaf)):
                possible = possible & ~(hasnt & (sign(leaf) != 0))
    return possible


def _of_duty(name: str, duty: str) -> bool:
    if (duty == "towing" and name in OF_TOWING) or (duty == "strip" and name in AT_THE_STRIP):
        return True
    return name in {f"{duty} {figure}" for figure in OF_A_DUTY}
