"""Two turbos in series, for goals past one stage: pairs from the catalogue, matched and put in order.

A small gated turbo on the manifold is fed by a large one, with or without a gate of its own. Which pairs are tried is
common practice, no source: a large wheel that the air needed uses by half to nine tenths of its choking flow, a small
one so that the large is 1.25 to 1.7 times its inducer, the middle A/R of those that each turbo has.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from advisor.knowledge import Knowledge
from advisor.matched import choke_share, installed, tables_of
from advisor.matching.engine import points
from advisor.matching.gates import rows_of
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import Between
from advisor.matching.pair_statement import pair_draws, pair_thrust
from advisor.matching.rank import HARD_LIMITS, score
from advisor.matching.series import match_series
from advisor.matching.spool import spool_time_series
from advisor.matching.standing import stands_from_series
from advisor.matching.summary import pedal, summarise, wanted_boosts
from advisor.matching.uncertainty import bands
from advisor.situation import Situation
from advisor.units import Range
from advisor.weighing import NO_FOOT, Weighed

SMALLEST_STEP, LARGEST_STEP = 1.25, 1.7
LEAST_USED, MOST_USED = 0.5, 0.9
MOST_PAIRS = 32
PAIR_SPEEDS, PAIR_SWEEP, PAIR_DRAWS = 2, 6, 17
UNCOOLED, COOLED = Between(), Between(0.70, 8_000.0)
"""Straight from one stage into the other, or through a cooler (effectiveness and loss: own estimate)."""


@dataclass(frozen=True, eq=False, slots=True)
class Paired:
    """The best pair: rows of the turbo on the manifold and of the one that feeds it, whether the air is cooled between
    them, its figures by name (SI) with their bands, and how many pairs were tried and held every limit."""

    high: int
    low: int
    cooled: bool
    figures: Mapping[str, float]
    bands: Mapping[str, Range]
    points: float
    tried: int
    sound: int


def best_pair(
    situation: Situation,
    weighed: Weighed,
    corrected_air: float,
    pressure_ratio: float,
    knowledge: Knowledge,
    cooled: bool = False,
) -> Paired | None:
    """The pair with most points among those that hold every hard limit and bolt on; None when none does.

    corrected_air [kg/s] and pressure_ratio: what the power goal needs; cooled: with a cooler between the stages.
    """
    joined = weighed.out_by.get(NO_FOOT)
    barred = frozenset(np.flatnonzero(joined).tolist()) if joined is not None else frozenset()
    return _best(situation, barred, corrected_air, pressure_ratio, knowledge, cooled)


@lru_cache(maxsize=32)
def _best(
    situation: Situation,
    barred: frozenset[int],
    corrected_air: float,
    pressure_ratio: float,
    knowledge: Knowledge,
    cooled: bool,
) -> Paired | None:
    high, low = _tried(barred, corrected_air, pressure_ratio, knowledge)
    if not high.size:
        return None
    stock, tables = installed(situation, knowledge), tables_of(knowledge)
    upper, lower = rows_of(stock, high), rows_of(stock, low)
    asked = (situation.engine, situation.place, situation.plumbing)
    grid = points(*asked, situation.duties, count=PAIR_SPEEDS, sweep_count=PAIR_SWEEP)
    columns = _figures(situation, asked, grid, (lower, low), (upper, high), cooled, knowledge, MODEL)
    gained, _ = score(columns, {duty.name: duty.weight for duty in situation.duties})
    sound: Array = np.asarray(columns["solved"], dtype=bool)
    for name in HARD_LIMITS:
        sound = sound & np.greater_equal(columns[name], 0.0)
    if not sound.any():
        return None
    best = int(np.argmax(np.where(sound, gained, -np.inf)))
    one = slice(best, best + 1)
    drawn, few_low, few_high = pair_draws(
        *asked, rows_of(lower, [best]), rows_of(upper, [best]), tables, MODEL, PAIR_DRAWS, dict(situation.spreads)
    )
    unsure = (drawn.engine, drawn.place, drawn.plumbing)
    spread = points(*unsure, situation.duties, drawn.model, count=PAIR_SPEEDS, sweep_count=PAIR_SWEEP)
    spread = replace(spread, boost_target=grid.boost_target)  # the gates are set once, for the nominal case
    of_draws = _figures(
        situation, unsure, spread, (few_low, low[one]), (few_high, high[one]), cooled, knowledge, drawn.model
    )
    ends = bands({name: values for name, values in of_draws.items() if name in columns and values.dtype != bool})
    figures = {
        name: float(values[best]) for name, values in columns.items() if name != "solved" and np.isfinite(values[best])
    }
    return Paired(
        int(high[best]),
        int(low[best]),
        cooled,
        figures,
        {
            name: Range(min(float(least[0]), figures[name]), max(float(most[0]), figures[name]))
            for name, (least, _, most) in ends.items()
            if name in figures and np.isfinite(least[0]) and np.isfinite(most[0])
        },
        float(gained[best]),
        len(high),
        int(sound.sum()),
    )


def _figures(
    situation: Situation,
    asked: tuple[Engine, Place, Plumbing],
    grid: Points,
    low: tuple[Machines, IntArray],
    high: tuple[Machines, IntArray],
    cooled: bool,
    knowledge: Knowledge,
    model: Model,
) -> dict[str, Array]:
    """Figures of pairs (..., N) as `summarise` gives them for one turbo; each side: machines and their rows."""
    tables, facts = tables_of(knowledge), knowledge.catalogue.candidates().facts
    between = COOLED if cooled else UNCOOLED
    solved = match_series(*asked, grid, low[0], high[0], tables, between, model)
    inducer = facts["compressor inducer"]
    pushed = pedal(grid, situation.main, situation.boost_wanted_by)
    targets = grid.boost_needed[..., list(wanted_boosts(grid, situation.main).values())]
    columns = summarise(
        *asked,
        grid,
        high[0],
        tables,
        solved.whole,
        inducer[high[1]],
        situation.main,
        situation.boost_wanted_by,
        model,
        seconds=spool_time_series(*asked, low[0], high[0], tables, *pushed, between, model),
        stands=stands_from_series(*asked, grid, low[0], high[0], tables, solved, targets, between, model),
    )
    pressed = pair_thrust(solved, low[0], high[0], asked[1], (inducer[low[1]], inducer[high[1]]), model)
    columns["thrust index"] = np.where(columns["solved"], np.maximum(*pressed).max(axis=-1), np.nan)
    price = facts["candidate price"][high[1]] + facts["candidate price"][low[1]]
    return columns | {"candidate price": np.broadcast_to(price, columns["solved"].shape)}


def _tried(
    barred: frozenset[int], corrected_air: float, pressure_ratio: float, knowledge: Knowledge
) -> tuple[IntArray, IntArray]:
    """Rows of the pairs worth trying: the turbo on the manifold, and the one that feeds it."""
    candidates = knowledge.catalogue.candidates()
    gated: dict[str, list[int]] = {}
    free: dict[tuple[str, bool], list[int]] = {}
    for row, combination in enumerate(candidates.combinations):
        with_gate = combination.wastegate != "none"
        free.setdefault((combination.turbo.code, with_gate), []).append(row)
        if with_gate and row not in barred:
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
