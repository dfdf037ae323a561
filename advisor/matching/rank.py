"""The order of candidates: hard limits, a score by duty, what nothing else beats, and what cannot be told
apart.

A duty's score is a weighted mean of marks from 0 to 1; a mark runs linearly between a value that is poor and
one that is good. The marks are the shop's judgement (common practice, no source); the figures under them are
computed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.matching.inputs import Array, Bools, IntArray

RPM = np.pi / 30.0


@dataclass(frozen=True, slots=True)
class Mark:
    """How one figure counts for a duty: value that earns nothing, value that earns everything, weight."""

    column: str
    poor: float
    good: float
    weight: float


MARKS: Mapping[str, tuple[Mark, ...]] = {
    "towing": (
        Mark("towing exhaust temperature", 1050.0, 900.0, 3.0),
        Mark("towing drive ratio", 1.8, 1.0, 2.0),
        Mark("towing spool rpm", 2400.0 * RPM, 1400.0 * RPM, 2.5),
        Mark("power shortfall", 0.15, 0.0, 2.0),
        Mark("tip speed margin", 0.0, 0.15, 1.0),
        Mark("surge margin", 0.0, 0.15, 1.0),
        Mark("spool time", 4.0, 1.0, 1.0),
    ),
    "daily": (
        Mark("daily spool rpm", 2200.0 * RPM, 1200.0 * RPM, 3.0),
        Mark("spool time", 4.0, 0.8, 2.0),
        Mark("daily drive ratio", 1.8, 1.0, 1.0),
        Mark("daily exhaust temperature", 1000.0, 800.0, 1.0),
        Mark("surge margin", 0.0, 0.15, 1.0),
    ),
    "strip": (
        Mark("power shortfall", 0.20, 0.0, 4.0),
        Mark("spool time", 5.0, 1.0, 1.0),
        Mark("tip speed margin", 0.0, 0.10, 1.0),
        Mark("choke margin", 0.0, 0.10, 1.5),
        Mark("strip drive ratio", 2.2, 1.2, 1.0),
    ),
    "sled": (
        Mark("power shortfall", 0.20, 0.0, 4.0),
        Mark("tip speed margin", 0.0, 0.10, 1.5),
        Mark("choke margin", 0.0, 0.10, 1.5),
        Mark("sled drive ratio", 2.2, 1.2, 1.0),
        Mark("sled exhaust temperature", 1250.0, 1050.0, 1.0),
    ),
}
HARD_LIMITS: Mapping[str, str] = {
    "tip speed margin": "turns faster than its compressor wheel may",
    "surge margin": "runs left of the surge line in the main duty",
}
"""Figures that must not be negative, and what a negative one means. No weight buys them back."""
BETTER_LOW = (
    "spool rpm",
    "spool time",
    "exhaust temperature",
    "drive pressure ratio",
    "power shortfall",
    "price",
)
BETTER_HIGH = ("tip speed margin", "surge margin", "choke margin")
SURE = 0.9
"""Share of the draws in which the first must beat another for the two to count as told apart."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """Candidates in order; arrays of shape (N,) by candidate unless said otherwise.

    order      candidates from best to worst, those that pass the hard limits only (M,)
    score      0 to 100, nominal
    low, high  band of the score over the draws
    by_duty    score of each duty alone
    barred     why a candidate is out, "" where it is not
    unbeaten   no other passing candidate is at least as good in every figure and better in one
    level      True for those that the band cannot tell from the first
    confidence share of the draws in which the first beats each
    """

    order: IntArray
    score: Array
    low: Array
    high: Array
    by_duty: Mapping[str, Array]
    barred: tuple[str, ...]
    unbeaten: Bools
    level: Bools
    confidence: Array

    @property
    def separable(self) -> bool:
        """Whether the first can be told from the second."""
        return len(self.order) < 2 or not bool(self.level[self.order[1:]].any())


def score(columns: Mapping[str, Array], shares: Mapping[str, float]) -> tuple[Array, dict[str, Array]]:
    """Score 0 to 100 over all duties by their shares, and each duty's own; a figure that is missing earns
    nothing."""
    own = {name: _mean(columns, MARKS[name]) for name, share in shares.items() if share > 0.0}
    total = sum(shares[name] for name in own)
    return np.asarray(sum(shares[name] / total * own[name] for name in own)), own


def _mean(columns: Mapping[str, Array], marks: Sequence[Mark]) -> Array:
    known = [m for m in marks if m.column in columns]
    earned = sum(m.weight * _mark(columns[m.column], m) for m in known)
    return np.asarray(100.0 * earned / sum(m.weight for m in known))


def _mark(values: Array, mark: Mark) -> Array:
    finite = np.where(np.isfinite(values), values, mark.poor)
    return np.asarray(np.clip((finite - mark.poor) / (mark.good - mark.poor), 0.0, 1.0))


def bars(columns: Mapping[str, Array], solved: Bools) -> tuple[str, ...]:
    """Why each candidate may never be recommended, "" where nothing bars it; nominal figures (N,)."""
    reasons = np.full(solved.shape, "", dtype=object)
    for name, meaning in HARD_LIMITS.items():
        reasons = np.where((columns[name] < 0.0) & (reasons == ""), meaning, reasons)
    return tuple(str(r) for r in np.where(solved, reasons, "no balance found for it"))


def unbeaten(columns: Mapping[str, Array], passing: Bools) -> Bools:
    """Passing candidates that no passing candidate dominates over the figures of `BETTER_LOW` and
    `BETTER_HIGH`."""
    low = [columns[n] for n in BETTER_LOW if n in columns]
    high = [-columns[n] for n in BETTER_HIGH if n in columns]
    at = np.flatnonzero(passing)
    cost = np.stack([np.where(np.isfinite(c[at]), c[at], np.inf) for c in (*low, *high)])
    kept = np.zeros(passing.shape, bool)
    for i in range(at.size):
        own = cost[:, i, None]
        kept[at[i]] = not bool(((cost <= own).all(axis=0) & (cost < own).any(axis=0)).any())
    return kept


def rank(columns: Mapping[str, Array], solved: Bools, shares: Mapping[str, float]) -> Ranking:
    """Rank candidates by figures of shape (N,), or (draws, N) with the nominal case first.

    shares: weight of each duty; they need not add up to 1.
    """
    drawn = {name: np.atleast_2d(values) for name, values in columns.items()}
    nominal = {name: values[0] for name, values in drawn.items()}
    alive = np.atleast_2d(solved)
    whole, own = score(drawn, shares)
    barred = bars(nominal, alive[0])
    passing = np.array([not reason for reason in barred])
    points = whole[0]
    order = np.flatnonzero(passing)[np.argsort(-points[passing], kind="stable")]
    confidence = np.ones(points.shape)
    if order.size:
        first = whole[:, order[:1]]
        confidence = ((first > whole).mean(axis=0) + 0.5 * (first == whole).mean(axis=0)).astype(np.float64)
    level = passing & (confidence < SURE)
    last = len(whole) - 1
    ordered = np.sort(whole, axis=0)
    return Ranking(
        order=order,
        score=points,
        low=ordered[int(np.floor(0.05 * last))],
        high=ordered[int(np.ceil(0.95 * last))],
        by_duty={name: values[0] for name, values in own.items()},
        barred=barred,
        unbeaten=unbeaten(nominal, passing),
        level=level,
        confidence=confidence,
    )


@dataclass(frozen=True, slots=True)
class Focus:
    """The best candidate for one duty alone, and what it changes against the first: figure by figure, SI; a
    figure that one of the two has no value for is left out."""

    duty: str
    candidate: int
    changes: Mapping[str, float]


def focused(ranking: Ranking, columns: Mapping[str, Array], names: Sequence[str]) -> tuple[Focus, ...]:
    """For each duty the best passing candidate for it alone, with the differences to the first in the named
    figures."""
    if not ranking.order.size:
        return ()
    first = int(ranking.order[0])
    nominal = {n: np.atleast_2d(columns[n])[0] for n in names if n in columns}
    found = []
    for duty, own in ranking.by_duty.items():
        best = int(ranking.order[np.argmax(own[ranking.order])])
        both = {
            n: (float(v[best]), float(v[first]))
            for n, v in nominal.items()
            if np.isfinite(v[[best, first]]).all()
        }
        found.append(Focus(duty, best, {n: new - old for n, (new, old) in both.items()}))
    return tuple(found)
