"""How every candidate fits a vehicle: columns for the rules, judged once for each distinct pair of ends."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Candidates, Catalogue
from advisor.units import Range

from .joints import JointFit, Vehicle, connections, joint_fit, wanted_ends
from .parts import always

__all__ = ["Fits", "Vehicle", "fit"]

Ends = tuple[str, str]
NOTHING_KNOWN = Vehicle()
Words = NDArray[np.object_]


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """How each candidate fits: `facts` by the names that rules use, columns of shape (N,).

    Choices are objects of str, empty where it hangs on something not known. "fitting cost" is the lowest it may come
    to, with pipes of the usual size where nobody told; `cost_high` the highest; equal once all is known. A joint that
    nothing makes costs nothing.
    """

    facts: Mapping[str, NDArray[Any]]
    cost_high: NDArray[np.float64]
    _joints: Mapping[str, Sequence[JointFit]]
    _rows: Mapping[str, NDArray[np.int64]]

    def of(self, index: int) -> tuple[JointFit, ...]:
        """All joints of one candidate."""
        rows = ((joint, int(which[index])) for joint, which in self._rows.items())
        return tuple(self._joints[joint][row] for joint, row in rows if row >= 0)


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """Distinct ends of each joint over the candidates, and which each candidate has (-1: no such joint)."""

    ends: Mapping[str, tuple[Ends, ...]]
    rows: Mapping[str, NDArray[np.int64]]
    steady: NDArray[np.float64]


@lru_cache(maxsize=8)
def _plan(candidates: Candidates, catalogue: Catalogue) -> _Plan:
    wanted = [wanted_ends(combination) for combination in candidates.combinations]
    joints = list(dict.fromkeys(joint for ends in wanted for joint in ends))
    distinct: dict[str, dict[Ends, int]] = {joint: {} for joint in joints}
    rows = {joint: np.full(len(wanted), -1, dtype=np.int64) for joint in joints}
    for index, ends in enumerate(wanted):
        for joint, pair in ends.items():
            rows[joint][index] = distinct[joint].setdefault(pair, len(distinct[joint]))
    steady = [sum(line.price for line in always(one, catalogue)) for one in candidates.combinations]
    pairs = {joint: tuple(found) for joint, found in distinct.items()}
    return _Plan(pairs, rows, np.array(steady, dtype=np.float64))


def fit(candidates: Candidates, vehicle: Vehicle, catalogue: Catalogue, usual: Vehicle = NOTHING_KNOWN) -> Fits:
    """Judge every candidate's joints on this vehicle. For pipes that nobody told of, the cost counts on those of the
    ``usual`` vehicle, as the match does."""
    shop, plan = connections(catalogue), _plan(candidates, catalogue)
    joints = {
        joint: [joint_fit(joint, near, far, vehicle, shop) for near, far in ends]
        for joint, ends in plan.ends.items()
    }
    counted = replace(
        vehicle,
        exhaust_size=vehicle.exhaust_size or usual.exhaust_size,
        charge_pipe_size=vehicle.charge_pipe_size or usual.charge_pipe_size,
    )
    low, high = plan.steady.copy(), plan.steady.copy()
    for joint, fits in joints.items():
        least = [joint_fit(joint, near, far, counted, shop).price.low for near, far in plan.ends[joint]]
        prices = [Range(lowest, max(lowest, one.price.high)) for lowest, one in zip(least, fits, strict=True)]
        # The last, nought, is for candidates without such a joint.
        low += np.array([*(price.low for price in prices), 0.0])[plan.rows[joint]]
        high += np.array([*(price.high for price in prices), 0.0])[plan.rows[joint]]

    def verdicts(joint: str) -> Words:
        distinct: Words = np.array([one.verdict for one in joints.get(joint, [])], dtype=object)
        return distinct[plan.rows[joint]] if len(candidates) else distinct

    facts: dict[str, NDArray[Any]] = {
        "foot fit": verdicts("foot"),
        "entry fit": _entry_fit(candidates.facts["housing entry"], vehicle.manifold_entry),
        "outlet fit": verdicts("charge pipe"),
        "exhaust fit": verdicts("exhaust"),
        "oil fit": _worst(verdicts("oil feed"), verdicts("oil drain")),
        "fitting cost": low,
    }
    return Fits(MappingProxyType(facts), high, joints, plan.rows)


def _entry_fit(entry: Words, manifold: str | None) -> Words:
    verdict = np.where(entry == manifold, "match", "mismatch") if manifold else np.full(entry.shape, "")
    return verdict.astype(object)


def _worst(one: Words, other: Words) -> Words:
    """The worse of two verdicts; open while an open one could still be the worse."""
    worse = np.full(one.shape, "direct", dtype=object)
    for verdict in ("adapter", "", "none"):
        worse[(one == verdict) | (other == verdict)] = verdict
    return worse
