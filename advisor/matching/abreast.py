"""Several situations matched side by side: one long column of machines, in which each has its own engine and place.

What numpy takes for a call is spent once for all of them. No point depends on what is matched beside it, so each
situation comes out as it does alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from advisor.matching.balance import Match
from advisor.matching.gates import set_at, settings
from advisor.matching.inputs import Array, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.spool import spool_time
from advisor.matching.standing import stands_from
from advisor.matching.summary import pedal, wanted_boosts
from advisor.matching.tables import WheelTables

Asked = tuple[Engine, Place, Plumbing]
Part = TypeVar("Part", Engine, Place, Plumbing)
SET_BY_GATES = ("boost_target", "boost_needed")
"""What of a grid the gates' setting moves."""
_OF_A_GRID = ("at_goal", "speed", "fuel_asked", "smoke_lambda", *SET_BY_GATES)


@dataclass(frozen=True, eq=False, slots=True)
class Alone:
    """One of the situations: its grid with the gates as they were set, its match, and what `summary.summarise` would
    else solve of each machine: seconds (N,) to the boost asked for, engine speeds (N, D) [rad/s] from which boost
    stands."""

    grid: Points
    match: Match
    seconds: Array
    stands: Array


def limited(
    asked: Sequence[Asked],
    grids: Sequence[Points],
    stocks: Sequence[Machines],
    tables: WheelTables,
    wanted: Sequence[tuple[str, Number | None]],
) -> list[Alone]:
    """`gates.within_limits` for each of some situations, and all that is solved after it: figures as plain numbers,
    grids (K,) of as many duties with as many columns, and as many machines in each; wanted: main duty, and engine speed
    [rad/s] at which the spool time is asked."""
    count = len(stocks[0])
    beside, column = _beside(asked, count), _column(stocks)
    rows: dict[str, Any] = {
        name: np.repeat(np.stack([getattr(one, name) for one in grids]), count, axis=0) for name in _OF_A_GRID
    }
    whole = replace(grids[0], **rows)
    share, solved = settings(beside, whole, column, tables)
    each = [slice(at * count, (at + 1) * count) for at in range(len(grids))]
    set_ = [set_at(one, share[its], own[1].pressure) for one, its, own in zip(grids, each, asked, strict=True)]
    pushed = [pedal(one, *of) for one, of in zip(set_, wanted, strict=True)]
    speed, boost, fuel, smoke = (_each([one[part] for one in pushed], count) for part in range(4))
    seconds = spool_time(*beside, column, tables, speed, boost, fuel, smoke)
    boosts = [
        one.boost_needed[..., list(wanted_boosts(one, main).values())]
        for one, (main, _) in zip(set_, wanted, strict=True)
    ]
    as_set: dict[str, Any] = {name: _each([getattr(one, name) for one in set_], count) for name in SET_BY_GATES}
    stands = stands_from(*beside, replace(whole, **as_set), column, tables, solved, _each(boosts, count))
    matches = [Match(**{f.name: getattr(solved, f.name)[its] for f in fields(Match)}) for its in each]
    return [
        Alone(grid, match, seconds[its], stands[its])
        for grid, match, its in zip(set_, matches, each, strict=True)
    ]


def _each(columns: Sequence[Array], count: int) -> Array:
    """Columns of each situation, the same of all its machines or not, in one below the other (S N, C)."""
    return np.concatenate([np.broadcast_to(own, (count, own.shape[-1])) for own in columns])


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
