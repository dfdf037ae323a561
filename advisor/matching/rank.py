"""What candidates earn: hard limits, and a score by duty.

A duty's score is a weighted mean of marks from 0 to 1; a mark runs linearly between a value that is poor and
one that is good. The marks are the shop's judgement (common practice, no source); the figures under them are
computed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.matching.inputs import Array, Bools, Duty, Number

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
TOO_WEAK = "makes far less power than the engine makes today"
TOO_LARGE = "has its boost too late on this engine, as all here have"
TOO_LARGE_HERE = "has its boost too late on this engine, as all have that are left"
SHORT_IN_CLASS = "stays far short of the goal in a class that keeps larger ones out"
AS_FED = 0.9
"""Share of the power that the fuel feeds from which on the fuel is what limits it (common practice, no source)."""
LIT_BY = 0.5
"""Share of the engine speeds of a duty by which some turbo must have its boost for any to be of use (common practice,
no source)."""
SURE = 0.9
"""Share of the draws in which the first must beat another for the two to count as told apart."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """What candidates earn; arrays of shape (N,).

    score      0 to 100 over all duties, less the penalties
    by_duty    score of each duty alone, without penalties
    limits     hard limit → True where a candidate breaks it
    """

    score: Array
    by_duty: Mapping[str, Array]
    limits: Mapping[str, Bools]


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


def too_large(columns: Mapping[str, Array], main: Duty, today: float, out: Bools) -> dict[str, Bools]:
    """Hard limit → candidates (N,) that break it on an engine where nothing is of use: all where none makes `ENOUGH`
    of ``today``, the power [W] that the engine makes and is to make, and where none has its boost by the middle of the
    engine speeds of the ``main`` duty, aside those that a hard limit of their own or a rule has put ``out``. Who makes
    little beside others counts: those others may be the ones that are too late."""
    solved = np.asarray(columns["solved"], dtype=bool)
    out = out | np.any(np.stack([columns[name] < 0.0 for name in HARD_LIMITS]), axis=0)
    middle = float(np.mean(main.low + LIT_BY * (main.high - main.low)))
    lit = solved & (columns["spool rpm"] <= middle)
    strong = solved & (columns["power made"] >= ENOUGH * today)
    broken = {} if (strong & ~out).any() else {TOO_WEAK: solved & ~strong}
    if not lit.any():
        return {**broken, TOO_LARGE: solved}
    return broken if (lit & ~out).any() else {**broken, TOO_LARGE_HERE: solved}


def short_in_class(
    columns: Mapping[str, Array], goal: float, fed: float, by_class: Bools, out: Bools
) -> dict[str, Bools]:
    """Hard limit → candidates (N,) that break it where a class puts out (``by_class``) what makes more than all that
    are left: those of them that make less than `ENOUGH` of the power ``goal`` [W] for want of air, so less than the
    fuel feeds (``fed`` [W]); ``out``: who is out, for whatever reason."""
    solved, made = np.asarray(columns["solved"], dtype=bool), columns["power made"]
    left = solved & ~out
    more = np.max(made, where=solved & by_class, initial=0.0) > np.max(made, where=left, initial=0.0)
    return {SHORT_IN_CLASS: left & (made < min(ENOUGH * goal, AS_FED * fed))} if more else {}


def rank(
    columns: Mapping[str, Array],
    duties: Sequence[Duty],
    penalties: Array | None = None,
    out: Bools | None = None,
) -> Ranking:
    """What each candidate earns by the figures of `summary.summarise`, of shape (N,).

    The weight of each duty is its share; penalties: points of 100 taken from each candidate (N,), negative
    ones given; out: candidates that are ruled out already (N,).
    """
    whole, own = score(columns, {duty.name: duty.weight for duty in duties})
    weighty = [d.name for d in duties if d.weight > 0.0 and f"{d.name} power" in columns]
    return Ranking(whole - (0.0 if penalties is None else penalties), own, broken_limits(columns, weighty, out))
