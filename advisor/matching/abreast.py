"""Several situations matched side by side: one long column of machines, in which each has its own engine and place.

What numpy takes for a call is spent once for all of them. No point depends on what is matched beside it, so each
situation comes out as it does alone.
"""

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from advisor.matching.balance import Match
from advisor.matching.gates import set_at, settings
from advisor.matching.inputs import Array, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.spool import spool_time
from advisor.matching.summary import pedal
from advisor.matching.tables import WheelTables

Asked = tuple[Engine, Place, Plumbing]
Part = TypeVar("Part", Engine, Place, Plumbing)
_OF_A_GRID = ("speed", "fuel_asked", "smoke_lambda", "boost_target", "boost_needed")


def limited(
    asked: Sequence[Asked], grids: Sequence[Points], stocks: Sequence[Machines], tables: WheelTables
) -> list[tuple[Points, Match]]:
    """`gates.within_limits` for each of some situations: figures as plain numbers, grids (K,) of as many columns, and
    as many machines in each."""
    count = len(stocks[0])
    beside = _beside(asked, count)
    rows: dict[str, Any] = {
        name: np.repeat(np.stack([getattr(one, name) for one in grids]), count, axis=0) for name in _OF_A_GRID
    }
    grid = replace(grids[0], **rows)
    share, solved = settings(beside, grid, _column(stocks), tables)
    found = []
    for at, (one, own) in enumerate(zip(grids, asked, strict=True)):
        its = slice(at * count, (at + 1) * count)
        match = Match(**{f.name: getattr(solved, f.name)[its] for f in fields(Match)})
        found.append((set_at(one, share[its], own[1].pressure), match))
    return found


def seconds(
    asked: Sequence[Asked],
    grids: Sequence[Points],
    stocks: Sequence[Machines],
    tables: WheelTables,
    wanted: Sequence[tuple[str, Number | None]],
) -> list[Array]:
    """`spool.spool_time` of each, as `summary.summarise` asks for it; wanted: main duty and engine speed [rad/s]."""
    count = len(stocks[0])
    each = [pedal(grid, *of) for grid, of in zip(grids, wanted, strict=True)]
    speed, boost, fuel, smoke = (
        np.concatenate([np.broadcast_to(one[part], (count, 1)) for one in each]) for part in range(4)
    )
    found = spool_time(*_beside(asked, count), _column(stocks), tables, speed, boost, fuel, smoke)
    return [found[at * count : (at + 1) * count] for at in range(len(asked))]


def _column(stocks: Sequence[Machines]) -> Machines:
    names = [f.name for f in fields(Machines)]
    return Machines(**{name: np.concatenate([getattr(stock, name) for stock in stocks]) for name in names})


def _beside(asked: Sequence[Asked], count: int) -> Asked:
    """Engine, place and plumbing of every row (S N, 1); what is the same in all stays one number."""

    def spread(parts: Sequence[Part]) -> Part:
        own: dict[str, Any] = {}
        for f in fields(parts[0]):
            values = [getattr(part, f.name) for part in parts]
            if any(value != values[0] for value in values):
                own[f.name] = np.repeat(np.asarray(values, dtype=np.float64), count)[:, None]
        return replace(parts[0], **own)

    engines, places, plumbings = zip(*asked, strict=True)
    return spread(engines), spread(places), spread(plumbings)
