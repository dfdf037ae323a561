"""Where each gate is set: as high as the goal needs and the compressor wheel may turn, no higher."""

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from advisor.matching.alike import of_rows
from advisor.matching.balance import Match, match
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.tables import WheelTables

TIP_RESERVE = 0.035
"""How far below its material's limit a gate keeps the wheel."""
TIP_SLACK = 0.03
"""Tip speed left unused beyond that from which a lowered gate is raised again."""
BOOST_PASSES = 6
_HEAD = 0.4 / 1.4


def within_limits(
    asked: tuple[Engine, Place, Plumbing], grid: Points, stock: Machines, tables: WheelTables
) -> tuple[Points, Match]:
    """The match with each gate set as high as the goal needs and the compressor wheel may turn, no higher."""
    share, solved = settings(asked, grid, stock, tables)
    return set_at(grid, share, asked[1].pressure), solved


def settings(
    asked: tuple[Engine, Place, Plumbing], grid: Points, stock: Machines, tables: WheelTables
) -> tuple[Array, Match]:
    """Share of the goal's boost at which each gate is set (N,), and the match with these.

    A gated machine that would overspeed at the goal's boost gets a lower setting: head goes with tip speed squared.
    Where that leaves speed unused, as it does when the goal's boost lay far in choke, the setting is raised again
    between what was too much and what was safe.
    """
    solved = match(*asked, grid, stock, tables)
    room = (1.0 + solved.tip_speed_margin.min(axis=-1)) / (1.0 + TIP_RESERVE)  # tip speed allowed over tip speed
    ratio, tried = solved.pressure_ratio.max(axis=-1), np.ones(room.shape)  # of the last setting tried
    kept, unused = tried.copy(), room.copy()  # the setting that stands, and the room it leaves
    over = (stock.gate_bore > 0.0) & (room < 1.0)
    if not over.any():
        return kept, solved
    first, place = solved.rows(np.flatnonzero(over)), np.cumsum(over) - 1
    low, high = np.zeros(room.shape), np.where(room < 1.0, 1.0, np.inf)  # safe, and too much, over the goal's boost
    for _ in range(BOOST_PASSES):
        open_ = over & ((low == 0.0) | ((unused > 1.0 + TIP_SLACK) & (low < 0.97 * high)))
        rows = np.flatnonzero(open_)
        if not rows.size:
            break
        head = (ratio[rows] ** _HEAD - 1.0) * room[rows] ** 2
        guess = tried[rows] * (1.0 + head) ** (1.0 / _HEAD) / ratio[rows]
        between = (guess > low[rows]) & (guess < high[rows])
        tried[rows] = np.where(between, guess, 0.5 * (low[rows] + high[rows]))
        some = of_rows(asked[0], rows), of_rows(asked[1], rows), of_rows(asked[2], rows)
        lower = _set(of_rows(grid, rows), tried[rows], some[1].pressure)
        again = match(*some, lower, stock.rows(rows), tables, higher=first.rows(place[rows]))
        room[rows] = (1.0 + again.tip_speed_margin.min(axis=-1)) / (1.0 + TIP_RESERVE)
        ratio[rows] = again.pressure_ratio.max(axis=-1)
        safe = room[rows] >= 1.0
        better = safe | (low[rows] == 0.0)
        for field in fields(Match):
            getattr(solved, field.name)[rows[better]] = getattr(again, field.name)[better]
        kept[rows[better]], unused[rows[better]] = tried[rows[better]], room[rows[better]]
        low[rows[safe]], high[rows[~safe]] = tried[rows[safe]], tried[rows[~safe]]
    return kept, solved


def set_at(grid: Points, share: Array, outside: Number) -> Points:
    """The grid with each gate (N,) at a share of the goal's boost, never below the pressure outside [Pa]; as it is
    where all are at the goal's."""
    return grid if np.all(share == 1.0) else _set(grid, share, outside)


def _set(grid: Points, share: Array, floor: Number) -> Points:
    target = np.maximum(grid.boost_target * share[:, None], floor)
    return replace(grid, boost_target=target, boost_needed=np.minimum(grid.boost_needed, target))


def rows_of(stock: Machines, rows: Sequence[int] | IntArray) -> Machines:
    picked = np.asarray(rows, dtype=np.int64)
    return replace(stock, **{field.name: getattr(stock, field.name)[picked] for field in fields(stock)})
