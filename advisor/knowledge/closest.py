"""The combination closest to a part asked for by name, and what was chosen where the name is silent."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.units import Range

from .catalogue import Candidates, Combination, bearing_words

# How far a difference sets a combination apart, in millimetres of inducer (common practice, no source): the
# compressor's size is what a caller means first; A/R, entry and foot change with the housing alone.
TURBINE_WEIGHT = 0.7
HOUSING_RATIO_WEIGHT = 15.0
ENTRY_WEIGHT = 1.5
FOOT_WEIGHT = 2.0
GATE_WEIGHT = 1.0

SAME_SIZE = 0.5e-3
SAME_RATIO = 0.005
GATE_ORDER = {"none": 0, "internal": 1, "external": 2}


@dataclass(frozen=True, slots=True)
class Asked:
    """What a caller's name for a part fixes (SI; A/R in inches); None is left open. `turbine` may mean either
    diameter of the turbine wheel."""

    inducer: Range | None = None
    turbine: Range | None = None
    housing_ratio: Range | None = None
    entry: str | None = None
    foot: str | None = None
    gate: str | None = None

    @property
    def anything(self) -> bool:
        """Whether a wheel or the A/R is fixed: foot, entry or gate alone name no part."""
        return self.inducer is not None or self.turbine is not None or self.housing_ratio is not None


@dataclass(frozen=True, slots=True)
class Closest:
    """Rows of the candidates, best first; what was chosen for him; where the part differs from his words."""

    indices: tuple[int, ...]
    exact: bool
    chosen: tuple[str, ...]
    differs: tuple[str, ...]


def nearest(
    candidates: Candidates,
    asked: Asked,
    limit: int = 3,
    preferred: NDArray[np.float64] | None = None,
) -> Closest | None:
    """The combinations that come closest to `asked`; None when it names no part or nothing is for sale.

    All rows returned are equally close in what was asked. The first takes the middle of what was left open, or
    what is most `preferred` (N,) of it: a caller who names a wheel means it with the gate and A/R that suit.
    """
    if not asked.anything or len(candidates) == 0:
        return None
    distance = _distance(candidates, asked)
    tied = np.flatnonzero(distance <= distance.min() + 1e-9)
    order = _middle_first(candidates, tied)
    if preferred is not None:
        order.sort(key=lambda row: -float(preferred[row]))
    best = candidates.combinations[order[0]]
    pool = [candidates.combinations[row] for row in tied]
    differs = _differs(best, asked)
    return Closest(
        indices=tuple(int(row) for row in order[:limit]),
        exact=not differs,
        chosen=_chosen(best, pool, asked),
        differs=differs,
    )


def _distance(candidates: Candidates, asked: Asked) -> NDArray[np.float64]:
    facts = candidates.facts
    total = np.zeros(len(candidates))
    if asked.inducer is not None:
        total += 1e3 * _outside(facts["compressor inducer"], asked.inducer)
    if asked.turbine is not None:
        by_exducer = _outside(facts["turbine exducer"], asked.turbine)
        total += (
            1e3 * TURBINE_WEIGHT * np.minimum(by_exducer, _outside(facts["turbine inducer"], asked.turbine))
        )
    if asked.housing_ratio is not None:
        total += HOUSING_RATIO_WEIGHT * _outside(facts["housing ratio"], asked.housing_ratio)
    for name, choice, weight in (
        ("housing entry", asked.entry, ENTRY_WEIGHT),
        ("housing foot", asked.foot, FOOT_WEIGHT),
        ("wastegate", asked.gate, GATE_WEIGHT),
    ):
        if choice is not None:
            total += weight * (facts[name] != choice)
    return total


def _outside(values: NDArray[np.float64], wanted: Range) -> NDArray[np.float64]:
    return np.maximum(np.maximum(wanted.low - values, values - wanted.high), 0.0)


def _middle_first(candidates: Candidates, rows: NDArray[np.int64]) -> list[int]:
    """Rows by how ordinary they are: the middle wheel and A/R, no gate, the cheaper, then by code."""
    facts = candidates.facts

    def middle(name: str) -> float:
        values = sorted(set(facts[name][rows].tolist()))
        return float(values[len(values) // 2])

    exducer, ratio = middle("turbine exducer"), middle("housing ratio")
    return sorted(
        (int(row) for row in rows),
        key=lambda row: (
            abs(facts["turbine exducer"][row] - exducer),
            abs(facts["housing ratio"][row] - ratio),
            GATE_ORDER[str(facts["wastegate"][row])],
            facts["candidate price"][row],
            row,
        ),
    )


def _chosen(best: Combination, pool: Sequence[Combination], asked: Asked) -> tuple[str, ...]:
    """What was taken for each thing left open, out of what there is for the rest of what he asked."""
    said: list[str] = []

    def open_(what: str, show: Callable[[Combination], str], among: Sequence[Combination]) -> None:
        options = sorted({show(one) for one in among}, key=lambda word: (len(word), word))
        others = [option for option in options if option != show(best)]
        if others:
            said.append(f"{what} was left open: {show(best)} taken; there is also {', '.join(others)}")
        else:
            said.append(f"{what} was left open: {show(best)} is the only one for it")

    if asked.inducer is None:
        open_("the compressor wheel", lambda one: f"{one.compressor.inducer * 1e3:g} mm", pool)
    if asked.turbine is None:
        open_("the turbine wheel", lambda one: f"{one.turbine.exducer * 1e3:g} mm", pool)
    elif abs(best.turbine.inducer - asked.turbine.mid) < abs(best.turbine.exducer - asked.turbine.mid):
        said.append("the second number was taken as the larger diameter of the turbine wheel")
    same_wheels = [one for one in pool if one.turbo == best.turbo]
    if asked.housing_ratio is None:
        open_("the A/R", lambda one: f"{one.housing.housing_ratio:.2f}", same_wheels)
    same_ratio = [one for one in same_wheels if one.housing.housing_ratio == best.housing.housing_ratio]
    if asked.entry is None:
        open_("open or divided", lambda one: one.housing.entry, same_ratio)
    if asked.foot is None:
        open_("the foot", lambda one: one.housing.foot, same_ratio)
    if asked.gate is None:
        same_housing = [one for one in same_wheels if one.housing == best.housing]
        open_("the gate", lambda one: one.wastegate.replace("none", "no gate"), same_housing)
    bearings = sorted({one.turbo.bearing for one in pool})
    if len(bearings) > 1:
        open_("the bearing", lambda one: bearing_words(one.turbo.bearing), pool)
    return tuple(said)


def _differs(best: Combination, asked: Asked) -> tuple[str, ...]:
    said: list[str] = []
    compressor, turbine, housing = best.compressor, best.turbine, best.housing
    if asked.inducer is not None and _away(compressor.inducer, asked.inducer) > SAME_SIZE:
        said.append(f"compressor {compressor.inducer * 1e3:g} mm, asked {_shown(asked.inducer, 1e3)} mm")
    if (
        asked.turbine is not None
        and min(_away(turbine.exducer, asked.turbine), _away(turbine.inducer, asked.turbine)) > SAME_SIZE
    ):
        said.append(f"turbine {turbine.exducer * 1e3:g} mm, asked {_shown(asked.turbine, 1e3)} mm")
    if asked.housing_ratio is not None and _away(housing.housing_ratio, asked.housing_ratio) > SAME_RATIO:
        said.append(f"A/R {housing.housing_ratio:.2f}, asked {_shown(asked.housing_ratio, 1.0)}")
    if asked.entry is not None and housing.entry != asked.entry:
        said.append(f"{housing.entry} housing, asked {asked.entry}")
    if asked.foot is not None and housing.foot != asked.foot:
        said.append(f"{housing.foot} foot, asked {asked.foot}")
    if asked.gate is not None and best.wastegate != asked.gate:
        said.append(
            f"{best.wastegate.replace('none', 'no')} gate, asked {asked.gate.replace('none', 'no')} gate"
        )
    return tuple(said)


def _away(value: float, wanted: Range) -> float:
    return max(wanted.low - value, value - wanted.high, 0.0)


def _shown(wanted: Range, scale: float) -> str:
    low, high = (f"{round(bound * scale, 2):g}" for bound in (wanted.low, wanted.high))
    return low if low == high else f"{low} to {high}"
