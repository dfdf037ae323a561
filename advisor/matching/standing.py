"""The engine speed from which boost stands, found between two columns of the sweep at full load.

The boost that counts as standing is less than the gate holds, so the gate is shut. With the compressor put at just that
boost, the turbine's power over the compressor's is a smooth function of engine speed; where the two are level, boost
stands, unless the turbine is short of power at some lower boost: there the machine hangs until that is made up. So the
speed hangs on nothing that jumps, such as which columns of the sweep it lies between.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from advisor.matching.alike import each_of_rows, kinds
from advisor.matching.balance import Match
from advisor.matching.engine import FULL_LOAD
from advisor.matching.inputs import Array, Bools, Engine, IntArray, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import NEARLY_NONE, Between, Gates, Pair, low_stage, settle, state_at
from advisor.matching.search import to_target
from advisor.matching.series import UNCOOLED, SeriesMatch, low_setting
from advisor.matching.shaft import Asked, Case, Tables, attempt, case_of, compress, figures

_FIRST_GUESS = 0.72
_ASIDE = 0.02
"""Part of an engine speed by which the second one tried differs from the first."""
_CLOSE = 1e-5
"""Last step, as a part of the engine speed, after which it counts as found: secant steps end far closer."""
_TURNS, _SOLVES, _HALVES = 40, 30, 8
_NEAR, _SHORT = 1e-8, 1e-5
"""Part of the boost wanted to which a compressor is put there, and lack of power that counts as one."""
_DIPS = 6
"""Parts of the way up to the boost between which a lack of power is looked for."""

Surplus = Callable[[Array, IntArray], Array]
Group = TypeVar("Group", Engine, Place, Plumbing, Machines, Model)


def stands_from(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    machines: Machines,
    tables: Tables,
    found: Match,
    targets: Array,
    model: Model = MODEL,
) -> Array:
    """Lowest engine speed [rad/s] (..., N, D) of the sweep at full load from which boost stands at `spool_share` of
    each target (..., N or 1, D) [Pa abs], by gauge pressure; found: the match of these machines at these points.

    The first column where it stands already there; inf where it never does. A column that did not converge doesn't
    stand.
    """
    wanted = standing_boost(targets, place.pressure, model)
    ends = bracket(points, found, wanted)
    alike = None
    if ends.first.ndim == 2:  # rows that stand between the same columns and differ in their gates alone go once
        code = ends.first @ (ends.count + 1.0) ** np.arange(ends.first.shape[1])
        alike = kinds(machines, (engine, place, plumbing, points), code)
    asked: Asked = (engine, place, plumbing, points, machines, model)
    wanted = np.broadcast_to(wanted, ends.first.shape)
    if alike is None:
        return _solved(asked, tables, wanted, ends)
    few = (*each_of_rows(asked[:4], alike.first), machines.rows(alike.first), model)
    return _solved(few, tables, wanted[alike.first], ends.rows(alike.first))[alike.of]


def standing_boost(target: Number, outside: Number, model: Model) -> Array:
    """The boost [Pa abs] that counts as standing."""
    return np.asarray(outside + model.spool_share * (np.asarray(target) - outside))


@dataclass(frozen=True, slots=True)
class Bracket:
    """Columns of a sweep between which boosts come to stand, (..., N, D).

    first        the first column at which it stands; their number where it never does
    low, high    engine speed of the column before and of this one [rad/s]; inf where there is none
    further      engine speed of the next one
    bottom       logarithm of the pressure ratio at the column before, 0 where that is not known
    """

    first: IntArray
    count: int
    low: Array
    high: Array
    further: Array
    bottom: Array

    @property
    def open(self) -> Bools:
        """Where it comes to stand between two columns."""
        return np.asarray((self.first > 0) & (self.first < self.count))

    def rows(self, chosen: IntArray) -> "Bracket":
        return Bracket(
            self.first[chosen], self.count, *(v[chosen] for v in (self.low, self.high, self.further, self.bottom))
        )


def bracket(points: Points, found: Match, wanted: Array) -> Bracket:
    """Between which columns of the sweep at full load the boost comes to stand."""
    sweep = points.of(FULL_LOAD)
    converged, count = found.converged[..., sweep], len(sweep)
    stands = np.where(converged, found.boost[..., sweep], 0.0)[..., None, :] >= wanted[..., None]
    first = np.where(stands.any(axis=-1), stands.argmax(axis=-1), count)

    def at(values: Array, column: IntArray) -> Array:
        every = np.broadcast_to(values[..., None, :], stands.shape)
        return np.take_along_axis(every, np.clip(column, 0, count - 1)[..., None], axis=-1)[..., 0]

    speed = points.speed[..., sweep]
    ratio = np.where(converged, np.maximum(found.pressure_ratio[..., sweep], 1.0), 1.0)
    return Bracket(
        first,
        count,
        at(speed, first - 1),
        np.where(first < count, at(speed, first), np.inf),
        at(speed, first + 1),
        np.log(at(ratio, first - 1)),
    )


def _solved(asked: Asked, tables: Tables, wanted: Array, ends: Bracket) -> Array:
    open_ = ends.open
    solved = ends.high.copy()
    if open_.any():
        sweep = _Sweep.of(asked, tables, wanted, open_)
        count = sweep.wanted.size
        line = _Line(sweep, ends.bottom[open_], sweep.head + 0.05, np.full(count, _FIRST_GUESS), np.zeros(count))
        solved[open_] = line.standing(ends.low[open_], ends.high[open_], ends.further[open_])
    return solved


@dataclass(frozen=True, slots=True)
class _Sweep:
    """Points (P,), each of a machine that runs along the sweep at full load: what is asked of it, fuel [kg/s] and
    engine speed at the goal, least lambda, and the boost wanted [Pa abs]."""

    groups: tuple[Engine, Place, Plumbing, Machines, Model]
    tables: Tables
    fuel: Array
    goal: Array
    smoke: Array
    wanted: Array

    @classmethod
    def of(cls, asked: Asked, tables: Tables, wanted: Array, where: Bools) -> "_Sweep":
        engine, place, plumbing, points, machines, model = asked
        at = np.nonzero(where)
        columns = Machines(**{name: np.asarray(getattr(machines, name))[..., None] for name in figures(machines)})

        def flat(group: Group) -> Group:
            return _changed(group, lambda value: np.broadcast_to(value, where.shape)[at])

        sweep = points.of(FULL_LOAD)
        goal = points.at_goal[..., sweep].argmax(axis=-1)[..., None]

        def at_goal(values: Array) -> Array:
            line = values[..., sweep]
            own = line[..., goal] if goal.ndim == 1 else np.take_along_axis(line, goal, axis=-1)
            return np.broadcast_to(own, where.shape)[at]

        fuel, speed, smoke = (at_goal(values) for values in (points.fuel_asked, points.speed, points.smoke_lambda))
        groups = (flat(engine), flat(place), flat(plumbing), flat(columns), flat(model))
        return cls(groups, tables, fuel, speed, smoke, wanted[at])

    @property
    def head(self) -> Array:
        """Logarithm of the boost wanted over the pressure outside."""
        return np.asarray(np.log(np.maximum(self.wanted / self.groups[1].pressure, 1.0)))

    def case(self, speed: Array, some: IntArray) -> Case:
        """The case of some points at other engine speeds, as `engine.points` lays out a sweep."""

        def part(group: Group) -> Group:
            return _changed(group, lambda value: value[some])

        engine, place, plumbing, machines, model = self.groups
        fuel = self.fuel[some] * np.minimum(speed / self.goal[some], 1.0)
        wanted = self.wanted[some]
        points = Points((), np.zeros(1, np.int64), np.ones(1, bool), speed, fuel, self.smoke[some], wanted, wanted)
        asked = part(engine), part(place), part(plumbing), points, part(machines), part(model)
        return case_of(asked, self.tables)


@dataclass(slots=True)
class _Line:
    """The points of a sweep with the logarithm of the pressure ratio below which nothing is looked for, and the one at
    the boost wanted, with its efficiency, as far as it was found."""

    sweep: _Sweep
    bottom: Array
    y: Array
    efficiency: Array
    echo: Array

    def surplus(self, speed: Array, some: IntArray) -> Array:
        """Turbine over compressor power less 1 at the boost wanted."""
        case = self.sweep.case(speed, some)
        own = self.y[some], self.efficiency[some], self.echo[some]
        to_target(case, *own, _TURNS, _NEAR)
        self.y[some], self.efficiency[some], self.echo[some] = own
        trial = attempt(case, *own, 0.0)
        return np.asarray(trial.power / trial.hot.asked - 1.0)

    def standing(self, low: Array, high: Array, further: Array) -> Array:
        """Engine speed (P,) at which each comes to stand, between low and high, or further where a lack of power that
        the match steps over holds it up."""
        every: IntArray = np.arange(low.size)
        found, slope = crossing(self.surplus, 0.5 * (low + high), low, high)
        dip = _Dip.of(self, found)
        held = every[dip.least < -_SHORT]
        if held.size:
            part = dip.pick(held)
            ends = found[held], np.maximum(further[held], found[held])
            start = np.clip(found[held] - part.least / np.maximum(slope[held], 1e-9), *ends)
            found[held] = crossing(lambda n, some: part.surplus(self.sweep, n, held[some], some), start, *ends)[0]
        return found


@dataclass(slots=True)
class _Dip:
    """Where on the way up to the boost wanted the turbine has least to spare: logarithm of the pressure ratio (P,), at
    most that of the end, step of the three places round it, efficiencies there (3, P), and what it has to spare."""

    y: Array
    end: Array
    step: Array
    efficiency: Array
    least: Array

    @classmethod
    def of(cls, line: _Line, speed: Array) -> "_Dip":
        every: IntArray = np.arange(speed.size)
        case = line.sweep.case(speed, every)
        bottom = np.minimum(line.bottom, line.y)
        step = np.maximum(line.y - bottom, 1e-3) / _DIPS
        grid = np.maximum(bottom + step * np.arange(1, _DIPS + 1)[:, None], 1e-3)
        values, efficiency = _spare(case, grid, np.broadcast_to(line.efficiency, grid.shape))
        at = np.clip(values.argmin(axis=0), 1, _DIPS - 2)
        places = at + np.array([-1, 0, 1])[:, None]
        offset, least = _vertex(values[places, every], 1.0)
        return cls(grid[at, every] + offset * step, line.y.copy(), 0.5 * step, efficiency[places, every], least)

    def pick(self, chosen: IntArray) -> "_Dip":
        return _Dip(self.y[chosen], self.end[chosen], self.step[chosen], self.efficiency[:, chosen], self.least[chosen])

    def surplus(self, sweep: _Sweep, speed: Array, rows: IntArray, own: IntArray) -> Array:
        """The least to spare at other engine speeds, followed from where it was last."""
        step = self.step[own]
        middle = np.clip(self.y[own], step + 1e-3, self.end[own] - step)  # past the end nothing holds it up
        grid = middle + step * np.array([-1.0, 0.0, 1.0])[:, None]
        values, self.efficiency[:, own] = _spare(sweep.case(speed, rows), grid, self.efficiency[:, own])
        offset, least = _vertex(values, 1.0)
        self.y[own] = middle + offset * step
        return least


def _spare(case: Case, y: Array, guess: Array) -> tuple[Array, Array]:
    """Turbine over compressor power less 1 (G, P) with the gate shut, and the efficiencies."""
    first = compress(case, y, guess, None)
    trial = attempt(case, y, first.efficiency, first.echo, 0.0)
    return np.asarray(trial.power / trial.hot.asked - 1.0), trial.air.efficiency


def _vertex(values: Array, most: float) -> tuple[Array, Array]:
    """Where a parabola through three values (3, P) a step apart is least, in steps from the middle one and at most so
    many, and how much it is there."""
    left, middle, right = values
    bend, slope = left - 2.0 * middle + right, 0.5 * (right - left)
    hollow = bend > 1e-12
    offset = np.where(hollow, -slope / np.where(hollow, bend, 1.0), -most * np.sign(slope))
    offset = np.clip(offset, -most, most)
    return offset, np.asarray(middle + offset * (slope + 0.5 * bend * offset))


def stands_from_series(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    low: Machines,
    high: Machines,
    tables: Tables,
    found: SeriesMatch,
    targets: Array,
    between: Between = UNCOOLED,
    model: Model = MODEL,
) -> Array:
    """The same for N pairs in series (see `series.match_series`): with the whole at the boost wanted and the low shaft
    in balance, the high turbine's power over its compressor's."""
    wanted = standing_boost(targets, place.pressure, model)
    ends = bracket(points, found.whole, wanted)
    open_, solved = ends.open, ends.high.copy()
    if not open_.any():
        return solved
    wanted = np.broadcast_to(wanted, open_.shape)
    of_low, of_high = (
        _Sweep.of((engine, place, plumbing, points, machines, model), tables, wanted, open_) for machines in (low, high)
    )
    goal = points.of(FULL_LOAD)[:1]
    held = np.broadcast_to(np.asarray(points.boost_target)[..., goal], open_.shape)[open_]
    setting = low_setting(of_low.case(ends.low[open_], np.arange(held.size)), between, held)
    y: list[Array] = []
    gates: list[Gates] = []

    def surplus(speed: Array, some: IntArray) -> Array:
        pair = Pair(of_low.case(speed, some), of_high.case(speed, some), between)
        target = of_low.wanted[some]
        if not y:
            total = of_low.head + 0.05
            first, _, own = low_stage(
                pair, setting, total, np.zeros(some.size), lambda at: np.maximum(total - at, NEARLY_NONE)
            )
            y[:], gates[:] = [first, np.maximum(total - first, NEARLY_NONE)], [own]
        own = gates[0].pick(some)
        one, other = settle(pair, y[0][some], y[1][some], own, setting[some], target, np.ones(some.size, bool))
        y[0][some], y[1][some] = one, other
        gates[0].low[some], gates[0].held[some] = own.low, own.held
        state = state_at(pair, one, other, own)
        return np.asarray(state.high.power / state.high.hot.asked - 1.0)

    start = 0.5 * (ends.low[open_] + ends.high[open_])
    solved[open_] = crossing(surplus, start, ends.low[open_], ends.high[open_])[0]
    return solved


def crossing(surplus: Surplus, start: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Engine speed (P,) between low and high at which a surplus turns from minus to plus, or the end past which it
    would, and its slope there; by secant steps, halving where they don't close in."""
    every: IntArray = np.arange(low.size)
    bottom, top = low.copy(), high.copy()
    last, before = start.copy(), surplus(start, every)
    slope = np.zeros(low.size)
    at = np.clip(np.where(before < 0.0, last * (1.0 + _ASIDE), last * (1.0 - _ASIDE)), low, high)
    live = every
    for turn in range(_SOLVES):
        x, value = at[live], surplus(at[live], live)
        plus = value >= 0.0
        top[live], bottom[live] = np.where(plus, x, top[live]), np.where(plus, bottom[live], x)
        moved = x - last[live]
        still = np.abs(moved) <= 1e-12 * x
        steep = np.where(still, slope[live], (value - before[live]) / np.where(still, 1.0, moved))
        slope[live] = steep
        rising = steep > 0.0
        new = np.where(rising, x - value / np.where(rising, steep, 1.0), np.where(plus, low[live], high[live]))
        new = np.clip(new, bottom[live], top[live])
        if turn >= _HALVES:
            new = np.where(np.abs(new - x) > 0.5 * (top[live] - bottom[live]), 0.5 * (bottom[live] + top[live]), new)
        last[live], before[live] = x, value
        at[live] = new
        live = live[np.abs(new - x) > _CLOSE * x]
        if not live.size:
            break
    return at, slope


def _changed(group: Group, change: Callable[[Array], Array]) -> Group:
    """Every figure of a group that differs from point to point, changed."""
    own: dict[str, Any] = {n: change(v) for n in figures(group) if isinstance(v := getattr(group, n), np.ndarray)}
    return replace(group, **own) if own else group
