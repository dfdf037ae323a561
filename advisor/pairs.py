"""Two turbos in series, for goals past one stage: pairs from the catalogue, matched and put in order.

A small gated turbo on the manifold is fed by a large ungated one. Which pairs are tried is common practice, no
source: a large wheel that the air needed uses by half to nine tenths of its choking flow, a small one so that the
large is 1.25 to 1.7 times its inducer, the middle A/R of those that each turbo has.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from advisor.knowledge import Knowledge
from advisor.matching.engine import points
from advisor.matching.inputs import Array, IntArray
from advisor.matching.rank import HARD_LIMITS, score
from advisor.matching.series import match_series
from advisor.matching.summary import summarise
from advisor.situation import Situation
from advisor.weighing import NO_FOOT, Weighed, choke_share, installed, rows_of, tables_of

SMALLEST_STEP, LARGEST_STEP = 1.25, 1.7
LEAST_USED, MOST_USED = 0.5, 0.9
MOST_PAIRS = 32
PAIR_SPEEDS, PAIR_SWEEP = 2, 6
# Figures of one machine that say nothing of two.
OF_ONE = ("spool time", "thrust index")


@dataclass(frozen=True, eq=False, slots=True)
class Paired:
    """The best pair: rows of the turbo on the manifold and of the one that feeds it, its figures by name (SI), and
    how many pairs were tried and held every limit."""

    high: int
    low: int
    figures: Mapping[str, float]
    points: float
    tried: int
    sound: int


def best_pair(
    situation: Situation, weighed: Weighed, corrected_air: float, pressure_ratio: float, knowledge: Knowledge
) -> Paired | None:
    """The pair with most points among those that hold every hard limit and bolt on; None when none does.

    corrected_air [kg/s] and pressure_ratio: what the power goal needs.
    """
    joined = weighed.out_by.get(NO_FOOT)
    barred = frozenset(np.flatnonzero(joined).tolist()) if joined is not None else frozenset()
    return _best(situation, barred, corrected_air, pressure_ratio, knowledge)


@lru_cache(maxsize=32)
def _best(
    situation: Situation, barred: frozenset[int], corrected_air: float, pressure_ratio: float, knowledge: Knowledge
) -> Paired | None:
    high, low = _tried(barred, corrected_air, pressure_ratio, knowledge)
    if not high.size:
        return None
    stock = installed(situation, knowledge)
    upper, lower = rows_of(stock, high), rows_of(stock, low)
    tables = tables_of(knowledge)
    asked = (situation.engine, situation.place, situation.plumbing)
    grid = points(*asked, situation.duties, count=PAIR_SPEEDS, sweep_count=PAIR_SWEEP)
    solved = match_series(*asked, grid, lower, upper, tables).whole
    facts = knowledge.catalogue.candidates().facts
    columns = summarise(
        *asked,
        grid,
        upper,
        tables,
        solved,
        facts["compressor inducer"][high],
        situation.main,
        situation.boost_wanted_by,
    )
    price = facts["candidate price"][high] + facts["candidate price"][low]
    columns = {name: values for name, values in columns.items() if name not in OF_ONE} | {"candidate price": price}
    gained, _ = score(columns, {duty.name: duty.weight for duty in situation.duties})
    sound: Array = np.asarray(columns["solved"], dtype=bool)
    for name in HARD_LIMITS:
        sound = sound & np.greater_equal(columns[name], 0.0)
    if not sound.any():
        return None
    best = int(np.argmax(np.where(sound, gained, -np.inf)))
    figures = {
        name: float(values[best]) for name, values in columns.items() if name != "solved" and np.isfinite(values[best])
    }
    return Paired(int(high[best]), int(low[best]), figures, float(gained[best]), len(high), int(sound.sum()))


def _tried(
    barred: frozenset[int], corrected_air: float, pressure_ratio: float, knowledge: Knowledge
) -> tuple[IntArray, IntArray]:
    """Rows of the pairs worth trying: the turbo on the manifold, and the one that feeds it."""
    candidates = knowledge.catalogue.candidates()
    gated: dict[str, list[int]] = {}
    free: dict[str, list[int]] = {}
    for row, combination in enumerate(candidates.combinations):
        if combination.wastegate == "none":
            free.setdefault(combination.turbo.code, []).append(row)
        elif row not in barred:
            gated.setdefault(combination.turbo.code, []).append(row)
    ratio, inducer = candidates.facts["housing ratio"], candidates.facts["compressor inducer"]

    def middle(rows: list[int]) -> int:
        return sorted(rows, key=lambda row: (float(ratio[row]), row))[len(rows) // 2]

    share_of_ratio = float(np.sqrt(max(pressure_ratio, 1.2)))
    used = {
        row: 1.0 / choke_share(knowledge, row, corrected_air, share_of_ratio)
        for row in (middle(rows) for rows in free.values())
    }
    pairs = [
        (abs(use - 0.5 * (LEAST_USED + MOST_USED)), high, low)
        for low, use in used.items()
        for high in (middle(rows) for rows in gated.values())
        if LEAST_USED <= use <= MOST_USED and SMALLEST_STEP <= float(inducer[low] / inducer[high]) <= LARGEST_STEP
    ]
    both = np.asarray([pair[1:] for pair in sorted(pairs)[:MOST_PAIRS]], dtype=np.int64).reshape(-1, 2)
    return both[:, 0], both[:, 1]
