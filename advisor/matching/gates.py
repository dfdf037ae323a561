"""Where each gate is set: as high as the goal needs and the compressor wheel may turn, no higher."""

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from advisor.matching.alike import each_of_rows
from advisor.matching.balance import Match, match
from advisor.matching.inputs import Array, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.shaft import figures
from advisor.matching.tables import WheelTables

Asked = tuple[Engine, Place, Plumbing]
Figures = TypeVar("Figures", Points, Match)

TIP_RESERVE = 0.04
"""How far below its material's limit a gate keeps the wheel that the goal's boost would turn faster."""
BOOST_PASSES = 10
_CLOSE = 1e-3
"""Tip speed off that reserve, as a share, with which a setting is found; and what is left between safe and too much."""
_STEEPNESS = 0.5
"""Tip speed goes with the head to this power, until two settings tell better."""
_HEAD = 0.4 / 1.4


def within_limits(
    asked: Asked, grid: Points, stock: Machines, tables: WheelTables
) -> tuple[Points, Match]:
    """The match with each gate set as high as the goal needs and the compressor wheel may turn, no higher."""
    share, solved = settings(asked, grid, stock, tables)
    return set_at(grid, share, asked[1].pressure), solved


def settings(
    asked: Asked, grid: Points, stock: Machines, tables: WheelTables
) -> tuple[Array, Match]:
    """Share of the goal's boost at which each gate is set (N,), and the match with these.

    A gated machine that the goal's boost would take into the tip reserve gets the setting at which it just keeps it: so
    the setting moves evenly with all that is asked. It is sought at the point where the wheel turns fastest, and at
    all of them where another is the fastest then.
    """
    solved = match(*asked, grid, stock, tables)
    share = np.ones(len(stock))
    over = np.flatnonzero((stock.gate_bore > 0.0) & (_room(solved) < 1.0))
    if not over.size:
        return share, solved
    engine, place, plumbing, whole = each_of_rows((*asked, grid), over)
    few = engine, place, plumbing
    gated, first = stock.rows(over), solved.rows(over)
    fastest = first.tip_speed_margin.argmin(axis=-1)[:, None]
    column, known = _taken(whole, fastest), _taken(first, fastest)
    there, most, _ = _lower(few, column, gated, tables, known, share[over])
    share[over], _, lower = _lower(few, whole, gated, tables, first, most, there)
    solved.put(over, lower)
    return share, solved


def _lower(
    asked: Asked,
    grid: Points,
    stock: Machines,
    tables: WheelTables,
    first: Match,
    high: Array,
    start: Array | None = None,
) -> tuple[Array, Array, Match]:
    """Share (N,) at which each machine just keeps the tip reserve, the least known to be too much, and the match there.

    Secant steps on head against tip speed between what is too much and what is safe. Where the tip speed leaps (a
    turbine that lights) the safe side of the leap is taken; where boost stays below its setting, or creeps past it with
    the gate wide open, steps go on from that boost, and end where a creeping one is too much. first: the match at the
    goal's boost; start: the shares to try first.
    """
    room, head = _room(first), _head(first)
    share, tried, runs_at = np.ones((3, room.size))
    steepness = np.full(room.shape, _STEEPNESS)
    low, high = np.zeros(room.shape), high.copy()  # safe, and too much, over the goal's boost
    found, open_ = first.rows(np.arange(room.size)), np.ones(room.shape, dtype=bool)
    for _ in range(BOOST_PASSES):
        rows = np.flatnonzero(open_)
        if not rows.size:
            break
        if start is None:
            wanted = head[rows] * room[rows] ** (1.0 / steepness[rows])
            guess = runs_at[rows] * ((1.0 + wanted) / (1.0 + head[rows])) ** (1.0 / _HEAD)
        else:
            guess, start = start, None
        between = (guess > low[rows]) & (guess < high[rows])
        tried[rows] = np.where(between, guess, 0.5 * (low[rows] + high[rows]))
        engine, place, plumbing, points = each_of_rows((*asked, grid), rows)
        lower = _set(points, tried[rows], place.pressure)
        again = match(engine, place, plumbing, lower, stock.rows(rows), tables, higher=first.rows(rows))
        left, now = _room(again), _head(again)
        steepness[rows] = _between(head[rows], now, room[rows], left, steepness[rows])
        head[rows], room[rows] = now, left
        over = _over_setting(again, lower)
        close = np.abs(left - 1.0) <= _CLOSE
        safe = close | (left > 1.0)
        better = safe | (low[rows] == 0.0)
        found.put(rows[better], again.rows(np.flatnonzero(better)))
        share[rows[better]] = tried[rows[better]]
        low[rows[safe]], high[rows[~safe]] = tried[rows[safe]], tried[rows[~safe]]
        runs_at[rows] = tried[rows] * np.where(safe, np.maximum(over, 1.0), over)
        stuck = ~safe & (over > 1.0 + _CLOSE)
        open_[rows] = ~close & ~stuck & (high[rows] - low[rows] > _CLOSE * high[rows])
    return share, high, found


def _room(solved: Match) -> Array:
    """Tip speed allowed over the highest of each machine (N,)."""
    return np.asarray((1.0 + solved.tip_speed_margin.min(axis=-1)) / (1.0 + TIP_RESERVE))


def _head(solved: Match) -> Array:
    return np.asarray(solved.pressure_ratio.max(axis=-1) ** _HEAD - 1.0)


def _over_setting(solved: Match, grid: Points) -> Array:
    """Boost over what the gate is set to (N,), where the wheel turns fastest."""
    fastest = solved.tip_speed_margin.argmin(axis=-1)[:, None]
    return np.asarray(np.take_along_axis(solved.boost / grid.boost_target, fastest, axis=-1)[:, 0])


def _taken(whole: Figures, columns: IntArray) -> Figures:
    """The figures of one column (N, 1) of each row."""
    count = len(columns)
    values = {name: getattr(whole, name) for name in figures(whole)}
    each: dict[str, Any] = {
        name: np.take_along_axis(np.broadcast_to(value, (count, value.shape[-1])), columns, axis=-1)
        for name, value in values.items()
    }
    return replace(whole, **each)


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
