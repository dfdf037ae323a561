"""Where each gate is set: as high as the goal needs and the compressor wheel may turn, no higher."""

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from advisor.matching.alike import of_rows
from advisor.matching.balance import Match, match
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.tables import WheelTables

TIP_RESERVE = 0.04
"""How far below its material's limit a gate keeps the wheel that the goal's boost would turn faster."""
BOOST_PASSES = 10
_CLOSE = 1e-3
"""Tip speed off that reserve, as a share, with which a setting is found."""
_STEEPNESS = 0.5
"""Tip speed goes with the head to this power, until two settings tell better."""
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

    A gated machine that the goal's boost would take into the tip reserve gets the setting at which it just keeps it,
    by secant steps on head against tip speed between what is too much and what is safe: so the setting moves evenly
    with all that is asked. Where the tip speed leaps (a turbine that lights) the safe side of the leap is taken.
    """
    solved = match(*asked, grid, stock, tables)
    room = (1.0 + solved.tip_speed_margin.min(axis=-1)) / (1.0 + TIP_RESERVE)  # tip speed allowed over tip speed
    share = np.ones(room.shape)
    over = (stock.gate_bore > 0.0) & (room < 1.0)
    if not over.any():
        return share, solved
    first, place = solved.rows(np.flatnonzero(over)), np.cumsum(over) - 1
    head = solved.pressure_ratio.max(axis=-1) ** _HEAD - 1.0  # of the last setting tried
    tried, steepness = share.copy(), np.full(room.shape, _STEEPNESS)
    low, high = np.zeros(room.shape), share.copy()  # safe, and too much, over the goal's boost
    open_ = over
    for _ in range(BOOST_PASSES):
        rows = np.flatnonzero(open_)
        if not rows.size:
            break
        wanted = head[rows] * room[rows] ** (1.0 / steepness[rows])
        guess = tried[rows] * ((1.0 + wanted) / (1.0 + head[rows])) ** (1.0 / _HEAD)
        between = (guess > low[rows]) & (guess < high[rows])
        tried[rows] = np.where(between, guess, 0.5 * (low[rows] + high[rows]))
        some = of_rows(asked[0], rows), of_rows(asked[1], rows), of_rows(asked[2], rows)
        lower = _set(of_rows(grid, rows), tried[rows], some[1].pressure)
        again = match(*some, lower, stock.rows(rows), tables, higher=first.rows(place[rows]))
        left = (1.0 + again.tip_speed_margin.min(axis=-1)) / (1.0 + TIP_RESERVE)
        now = again.pressure_ratio.max(axis=-1) ** _HEAD - 1.0
        steepness[rows] = _between(head[rows], now, room[rows], left, steepness[rows])
        head[rows], room[rows] = now, left
        close = np.abs(left - 1.0) <= _CLOSE
        safe = close | (left > 1.0)
        better = safe | (low[rows] == 0.0)
        for field in fields(Match):
            getattr(solved, field.name)[rows[better]] = getattr(again, field.name)[better]
        share[rows[better]] = tried[rows[better]]
        low[rows[safe]], high[rows[~safe]] = tried[rows[safe]], tried[rows[~safe]]
        open_[rows[close]] = False
    return share, solved


def _between(before: Array, now: Array, room: Array, left: Array, usual: Array) -> Array:
    """Power of the head that the tip speed went with between two settings, within what a wheel does; as it was where
    hardly anything moved."""
    moved = np.log(np.maximum(now, 1e-6) / np.maximum(before, 1e-6))
    plain = np.abs(moved) > 1e-6
    return np.where(plain, np.clip(np.log(room / left) / np.where(plain, moved, 1.0), 0.2, 2.0), usual)


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
