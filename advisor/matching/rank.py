"""The order of candidates: hard limits, a score by duty, what nothing else beats, and what cannot be told
apart.

A duty's score is a weighted mean of marks from 0 to 1; a mark runs linearly between a value that is poor and
one that is good. The marks are the shop's judgement (common practice, no source); the figures under them are
computed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.matching.inputs import Array, Bools, Duty, IntArray, Number
from advisor.matching.uncertainty import band

RPM = np.pi / 30.0


@dataclass(frozen=True, slots=True)
class Mark:
    """How one figure counts for a duty: value that earns nothing, value that earns everything, weight."""

    column: str
    poor: float
    good: float
    weight: float


PRICE = ("candidate price", 6000.0, 1000.0)
REACH = (0.35, 0.02)
"""Shortfall of power at which a duty's score is nothing, and up to which it counts whole: what does not do the
work earns little by running cool."""
MARKS: Mapping[str, tuple[Mark, ...]] = {
    "towing": (
        Mark("towing exhaust temperature", 1050.0, 900.0, 3.0),
        Mark("towing drive ratio", 1.8, 1.0, 2.0),
        Mark("towing spool rpm", 2800.0 * RPM, 1400.0 * RPM, 3.0),
        Mark("towing shortfall", 0.15, 0.0, 2.0),
        Mark("towing lambda", 1.20, 1.60, 2.0),
        Mark("choke margin", 0.0, 0.15, 1.0),
        Mark("tip speed margin", 0.0, 0.15, 1.0),
        Mark("surge margin", 0.0, 0.15, 1.0),
        Mark("spool time", 4.0, 1.0, 1.0),
        Mark(*PRICE, 0.7),
    ),
    "daily": (
        Mark("daily spool rpm", 2800.0 * RPM, 1200.0 * RPM, 4.0),
        Mark("daily shortfall", 0.15, 0.0, 2.0),
        Mark("daily lambda", 1.12, 1.35, 2.0),
        Mark("spool time", 4.0, 0.8, 2.0),
        Mark("daily drive ratio", 1.8, 1.0, 1.0),
        Mark("daily exhaust temperature", 1050.0, 900.0, 1.5),
        Mark("choke margin", 0.0, 0.15, 1.0),
        Mark("surge margin", 0.0, 0.15, 1.0),
        Mark(*PRICE, 0.7),
    ),
    "strip": (
        Mark("strip shortfall", 0.20, 0.0, 4.0),
        Mark("spool time", 5.0, 1.0, 1.0),
        Mark("tip speed margin", 0.0, 0.10, 1.0),
        Mark("choke margin", 0.0, 0.10, 1.5),
        Mark("strip drive ratio", 2.2, 1.2, 1.0),
        Mark(*PRICE, 0.4),
    ),
    "sled": (
        Mark("sled shortfall", 0.20, 0.0, 4.0),
        Mark("tip speed margin", 0.0, 0.10, 1.5),
        Mark("choke margin", 0.0, 0.10, 1.5),
        Mark("sled drive ratio", 2.2, 1.2, 1.0),
        Mark("sled exhaust temperature", 1250.0, 1050.0, 1.0),
        Mark(*PRICE, 0.4),
    ),
}
HARD_LIMITS: Mapping[str, str] = {
    "tip speed margin": "turns faster than its compressor wheel may",
    "goal surge margin": "runs left of the surge line where a duty needs its power",
}
"""Figures that must not be negative, and what a negative one means. No weight buys them back."""
ENOUGH = 0.75
TOO_LITTLE = "makes far less power in {} than others can"
NOT_SOLVED = "no balance was found for it"
BETTER_LOW = (
    "spool rpm",
    "spool time",
    "exhaust temperature",
    "drive pressure ratio",
    "power shortfall",
    "candidate price",
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
    limits     hard limit → True where a candidate breaks it
    unbeaten   no other passing candidate is at least as good in every figure and better in one
    level      True for those that the band cannot tell from the first
    confidence share of the draws in which the first beats each
    """

    order: IntArray
    score: Array
    low: Array
    high: Array
    by_duty: Mapping[str, Array]
    limits: Mapping[str, Bools]
    unbeaten: Bools
    level: Bools
    confidence: Array

    @property
    def tied_words(self) -> str:
        """One sentence if the uncertainty of the figures can't tell the first from others; "" if it can."""
        others = int(self.level[self.order[1:]].sum()) if self.order.size else 0
        if not others:
            return ""
        which = "the next one" if others == 1 else f"{others} others"
        return f"The uncertainty of the figures can't tell the first from {which}: take them as equals."


def score(columns: Mapping[str, Array], shares: Mapping[str, Number]) -> tuple[Array, dict[str, Array]]:
    """Score 0 to 100 over all duties by their shares, and each duty's own; a figure that is missing earns
    nothing."""
    own = {name: _mean(columns, name) for name, share in shares.items() if np.any(np.asarray(share) > 0.0)}
    total = sum(shares[name] for name in own)
    return np.asarray(sum(shares[name] / total * own[name] for name in own)), own


def _mean(columns: Mapping[str, Array], duty: str) -> Array:
    known = [m for m in MARKS[duty] if m.column in columns]
    earned = sum(m.weight * _mark(columns[m.column], m) for m in known)
    shortfall = f"{duty} shortfall"
    reach = _mark(columns[shortfall], Mark(shortfall, *REACH, 1.0)) if shortfall in columns else 1.0
    return np.asarray(100.0 * reach * earned / sum(m.weight for m in known))


def _mark(values: Array, mark: Mark) -> Array:
    finite = np.where(np.isfinite(values), values, mark.poor)
    return np.asarray(np.clip((finite - mark.poor) / (mark.good - mark.poor), 0.0, 1.0))


def broken_limits(
    columns: Mapping[str, Array], duties: Sequence[str] = (), out: Bools | None = None
) -> dict[str, Bools]:
    """Hard limit → candidates that break it, of nominal figures (N,). What is not solved breaks no other
    limit. In each of `duties` a candidate must make `ENOUGH` of what the best sound one makes that isn't out
    already."""
    solved = np.asarray(columns["solved"], dtype=bool)
    broken = {meaning: solved & (columns[name] < 0.0) for name, meaning in HARD_LIMITS.items()}
    sound = solved & ~np.any(np.stack(list(broken.values())), axis=0)
    sound = sound if out is None else sound & ~out
    for duty in duties:
        made = columns[f"{duty} power"]
        if sound.any():
            broken[TOO_LITTLE.format(duty)] = solved & (made < ENOUGH * float(made[sound].max()))
    return {NOT_SOLVED: ~solved, **broken}


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


def rank(
    columns: Mapping[str, Array],
    duties: Sequence[Duty],
    penalties: Array | None = None,
    out: Bools | None = None,
) -> Ranking:
    """Rank candidates by the figures of `summary.summarise`: of shape (N,), or (draws, N) with the nominal
    case first.

    The weight of each duty is its share; penalties: points of 100 taken from each candidate (N,), negative
    ones given; out: candidates that are ruled out already (N,).
    """
    drawn = {name: np.atleast_2d(values) for name, values in columns.items()}
    nominal = {name: values[0] for name, values in drawn.items()}
    whole, own = score(drawn, {duty.name: duty.weight for duty in duties})
    whole = whole - (0.0 if penalties is None else penalties)
    limits = broken_limits(
        nominal, [d.name for d in duties if d.weight > 0.0 and f"{d.name} power" in nominal], out
    )
    passing = ~np.any(np.stack(list(limits.values())), axis=0)
    points = whole[0]
    order = np.flatnonzero(passing)[np.argsort(-points[passing], kind="stable")]
    confidence = np.ones(points.shape)
    if order.size:
        first = whole[:, order[:1]]
        confidence = np.asarray((first > whole).mean(axis=0) + 0.5 * (first == whole).mean(axis=0))
    low, _, high = band(whole)
    return Ranking(
        order=order,
        score=points,
        low=low,
        high=high,
        by_duty={name: values[0] for name, values in own.items()},
        limits=limits,
        unbeaten=unbeaten(nominal, passing),
        level=passing & (confidence < SURE),
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
