"""Where turbine and compressor agree: the search for the balance of many points at once.

The surplus of a point is a plain function of y (see `shaft`), so it can be bracketed from below: of several
balances the lowest stable one is taken, as an engine coming up from low speed meets it first.
"""

from dataclasses import dataclass, fields

import numpy as np

from advisor.matching import turbine
from advisor.matching.inputs import Array, Bools, IntArray
from advisor.matching.shaft import (
    Case,
    Hot,
    Trial,
    air_step,
    attempt,
    charge_at,
    compress,
    hot_side,
    in_blocks,
    look_up,
    step,
    wheel_work,
)

_LADDER = (0.12, 0.29, 0.55, 0.88, 1.27, 1.7, 2.2, 2.9, 4.2)
"""Steps above the low end at which a first crossing is looked for: denser where engines of low load run."""
_RUNGS = np.asarray(_LADDER)
_FIRST_GUESS = 0.72
_CLOSE = 2e-8
_NEAR = 9e-8
"""Relative residual at which a point counts as met; one more secant step mostly ends far below `_CLOSE`."""
_EASY = 9
"""Steps after which the few points left over measure the table's answer every time."""
_STILL = 1e-6
"""Step in y below which the surplus changes by no more than its own rounding: no slope is read off it."""
_SETTLED = 1e-10
_ON_TARGET = 1e-12
_CROWD = 0.8
"""Share of the points still open below which the others are left behind."""
_FINE, _ROUNDS = 40, 6
_TURNS = 48


def end_of_search(case: Case, count: int) -> Array:
    """Logarithm of the pressure ratio at which the manifold reaches the boost target, good to about 1 %: the
    place where looking for a lower balance ends. `_hold` finds it exactly."""
    target = np.broadcast_to(np.asarray(case.points.boost_target, dtype=np.float64), (count,))
    y = np.log(np.maximum(target / case.place.pressure, 1.02))
    for _ in range(2):
        y = y + np.log(target / charge_at(case, np.maximum(y, 0.01), 0.74).boost)
    return np.asarray(y)


@dataclass(slots=True)
class Run:
    """Where the points have been found so far.

    found: a balance was bracketed and met; beyond: none below the end of the search, turbine still in surplus
    there.
    """

    y: Array
    efficiency: Array
    echo: Array
    opened: Array
    boost: Array
    found: Bools
    beyond: Bools

    def part(self, where: IntArray | slice) -> "Run":
        return Run(*(getattr(self, f.name)[where] for f in fields(self)))

    def put(self, where: IntArray, other: "Run") -> None:
        for f in fields(self):
            getattr(self, f.name)[where] = getattr(other, f.name)


def nothing(count: int, opened: Array) -> Run:
    zeros = [np.zeros(count) for _ in range(4)]
    return Run(zeros[0], zeros[1], zeros[2], opened.copy(), zeros[3], np.zeros(count, bool), np.zeros(count, bool))


def run_up(
    case: Case, low: Array, high: Array, opened: Array, turns: int, past: Array | None = None
) -> tuple[Run, Run]:
    """The first change of the surplus from plus to minus on the way from low (where it is positive) to high; and the
    first on the way on from there to ``past``, which is high or more (without it the same). A point that was lost on
    the way is neither found nor beyond."""
    count = low.size
    run = nothing(count, opened)
    left, right = np.zeros((3, count)), np.zeros((3, count))
    left[0], left[1], left[2] = low, np.nan, _FIRST_GUESS
    _climb(case, run, left, right, np.arange(count), np.zeros(count, np.int64), low, high)
    near = run.part(np.arange(count))
    near.beyond[:] = ~run.found
    near.y[:], near.efficiency[:] = left[0], left[2]
    past = high if past is None else past
    on = np.flatnonzero(near.beyond & (past > high))
    if on.size:
        rung = np.searchsorted(_LADDER, high[on] - low[on], side="right")
        _climb(case.pick(on), run, left, right, on, rung, low[on], past[on])
    run.beyond[:] = ~run.found
    run.y[:], run.efficiency[:] = left[0], left[2]
    at = np.flatnonzero(run.found)
    if at.size:
        early = np.isnan(left[1])
        left[1:] = np.where(early, (-right[1], right[2]), left[1:])
        met = root(case.pick(at), left[:, at], right[:, at], opened[at], turns)
        soon = np.flatnonzero(near.found[at])
        near.put(at[soon], met.part(soon))
        run.put(at, met)
    return near, run


def _climb(
    case: Case, run: Run, left: Array, right: Array, live: IntArray, rung: IntArray, bottom: Array, top: Array
) -> None:
    """Try points (those at ``live`` of the run) rung by rung, each from its own one, until the surplus turns or the top
    is reached. Put into rows of left and right: y, surplus and efficiency before and behind the turn."""
    wide, efficiency = run.opened[live], left[2, live]
    echo: Array | None = run.echo[live] if rung.any() else None
    open_ = np.ones(live.size, bool)
    for _ in _LADDER:
        y = np.minimum(bottom + _RUNGS.take(rung, mode="clip"), top)
        trial = step(case, y, efficiency, echo, wide)
        efficiency, echo = trial.efficiency, trial.echo
        minus = trial.surplus < 0.0
        hit = np.flatnonzero(minus & open_)
        right[:, live[hit]] = y[hit], trial.surplus[hit], efficiency[hit]
        run.found[live[hit]] = True
        open_ &= ~minus
        rest = np.flatnonzero(open_)
        on = live[rest]
        left[:, on] = y[rest], trial.surplus[rest], efficiency[rest]
        run.echo[on], run.boost[on] = echo[rest], trial.boost[rest]
        open_ &= y < top
        keep = np.flatnonzero(open_)
        if not keep.size:
            break
        rung = rung + 1
        if keep.size < _CROWD * live.size:
            case, wide, live = case.pick(keep), wide[keep], live[keep]
            rung, bottom, top = rung[keep], bottom[keep], top[keep]
            efficiency, echo, open_ = efficiency[keep], echo[keep], open_[keep]


def root(case: Case, left: Array, right: Array, opened: Array, turns: int) -> Run:
    """Balance near or between left (plus) and right (minus), rows y, surplus, efficiency.

    Secant steps, halving where they would leave the bracket, while the efficiency settles along with them;
    points that are done drop out, so that none depends on what is solved beside it. The ends come from a coarse search
    whose efficiencies have not settled: the bracket is taken three times as wide, and only what is sure narrows it. A
    zero where the surplus rises is no balance that lasts: it counts as lost.
    """
    run = nothing(left.shape[1], opened)
    live = np.arange(left.shape[1])
    width = right[0] - left[0]
    low, high = np.maximum(left[0] - width, 1e-6), right[0] + width
    drift = (right[2] - left[2]) / width
    share = left[1] / np.where(left[1] == right[1], 1.0, left[1] - right[1])
    near = np.where(share < 0.5, left, right)
    last_y, last, settled = near
    y = left[0] + share * width
    guess = _within(settled + drift * (y - last_y), 0.05, 1.0)
    echo: Array | None = None
    falling, open_ = np.ones(live.size, bool), np.ones(live.size, bool)
    for turn in range(turns):
        trial = step(case, y, guess, echo if turn % 3 and turn < _EASY else None, opened)
        echo, value = trial.echo, trial.surplus
        change, moved = value - last, y - last_y
        steady = np.abs(moved) < _STILL
        falling = np.where(steady, falling, change * moved < 0.0)
        done = (np.abs(value) <= _NEAR * trial.asked) & (trial.off < _NEAR)
        sure = np.abs(value) > 3.0 * trial.off * trial.asked
        low, high = np.where(sure & (value > 0.0), y, low), np.where(sure & (value < 0.0), y, high)
        new = y - value * moved / np.where(change == 0.0, 1.0, change)
        new = np.where((new <= low) | (new >= high), 0.5 * (low + high), new)
        new = np.where(done & (np.abs(new - y) > np.abs(moved)), y, new)
        drift = np.where(steady, drift, (trial.efficiency - settled) / np.where(steady, 1.0, moved))
        last_y, last, settled = y, value, trial.efficiency
        y = new
        guess = _within(settled + drift * (y - last_y), 0.05, 1.0)
        over = np.flatnonzero(open_ & done) if turn < turns - 1 else np.flatnonzero(open_)
        at = live[over]
        run.y[at], run.efficiency[at], run.echo[at] = y[over], guess[over], echo[over]
        run.boost[at], run.found[at] = trial.boost[over], (done & falling)[over]
        open_ &= ~done
        keep = np.flatnonzero(open_)
        if not keep.size:
            break
        if keep.size < _CROWD * live.size:
            case, opened, live, echo, open_ = case.pick(keep), opened[keep], live[keep], echo[keep], open_[keep]
            y, guess, drift, falling, low, high, last_y, last, settled = (
                values.take(keep) for values in (y, guess, drift, falling, low, high, last_y, last, settled)
            )
    return run


def _within(values: Array, low: float, high: float) -> Array:
    return np.minimum(np.maximum(values, low), high)


def settle(case: Case, y: Array, guess: Array) -> Array:
    """Efficiency that the table confirms at each y, for the few points that Newton's steps lose: what the table finds
    falls with what is put in, so it is bracketed; secant steps, halving where they would leave the bracket."""
    low, high = np.full(y.shape, 0.05), np.full(y.shape, 1.0)
    at, last, found = guess, guess - 1e-3, np.zeros(y.shape)
    for turn in range(_TURNS):
        before, found = found, look_up(case, charge_at(case, y, at))[0] - at
        if np.all(np.abs(found) <= _SETTLED):
            break
        low, high = np.where(found > 0.0, at, low), np.where(found < 0.0, at, high)
        change = np.where(found == before, 1.0, found - before) if turn else last - at
        new = at - found * (at - last) / change
        halve = ~((new > low) & (new < high)) | (turn % 8 == 7)
        stays = np.abs(found) <= _SETTLED
        last, at = np.where(stays, last, at), np.where(stays, at, np.where(halve, 0.5 * (low + high), new))
    return at


def careful(case: Case, low: Array, high: Array, opened: Array) -> Run:
    """The same as `run_up` for the few points that it lost (two balances close together, mostly): with settled
    efficiencies on a grid, then on a finer one between the two rungs where the surplus turns, and so on."""
    run = nothing(low.size, opened)

    def settled(y: Array, guess: Array) -> Trial:
        return attempt(case, y, settle(case, y, guess), np.zeros(y.shape), opened)

    rungs = np.linspace(0.0, 1.0, _FINE + 1)[:, None]
    left, right = np.maximum(low, 1e-6), np.maximum(high, 2e-6)
    at, efficiency = np.arange(low.size), np.full(low.size, _FIRST_GUESS)
    for _ in range(_ROUNDS):
        grid = left + (right - left) * rungs
        trial = settled(grid, np.broadcast_to(efficiency, grid.shape))
        minus = trial.surplus[1:] < 0.0
        run.found[:] = minus.any(axis=0)
        first = np.where(run.found, minus.argmax(axis=0), _FINE - 1)
        left, right = grid[first, at], grid[first + 1, at]
        fa, fb = trial.surplus[first, at], trial.surplus[first + 1, at]
        efficiency = trial.air.efficiency[first + 1, at]
    share = np.clip(fa / np.where(fa == fb, 1.0, fa - fb), 0.0, 1.0)
    run.beyond[:] = ~run.found
    run.y[:] = np.where(run.found, left + share * (right - left), right)
    trial = settled(run.y, efficiency)
    run.efficiency[:], run.boost[:] = trial.air.efficiency, trial.air.charge.boost
    return run


def hold(case: Case, run: Run, held: IntArray, turns: int) -> tuple[Array, Bools]:
    """Put the held points of the run at the boost target. Returns the gate area [m2] that leaves the turbine
    just the compressor's power, and whether the shut turbine has that much. ``case`` is that of the held points."""
    y, efficiency, echo = run.y[held], run.efficiency[held], run.echo[held]
    to_target(case, y, efficiency, echo, turns)
    run.y[held], run.efficiency[held], run.echo[held] = y, efficiency, echo
    need, enough = np.empty(held.size), np.empty(held.size, bool)
    for at, part in in_blocks(case, held.size):
        found = compress(part, y[at], efficiency[at], echo[at])
        run.boost[held[at]] = found.charge.boost
        need[at], enough[at] = opening(part, hot_side(part, found.charge), found.mach, turns)
    return need, enough


def to_target(
    case: Case, at_y: Array, at_efficiency: Array, at_echo: Array, turns: int, near: float = _ON_TARGET
) -> None:
    """Move points to where their boost is the target, to a part ``near`` of it: y, efficiency and echo, changed in
    place."""
    live = np.arange(at_y.size)
    y, efficiency, echo = at_y, at_efficiency, at_echo
    moved, slope, before = np.zeros_like(y), np.ones_like(y), np.zeros_like(y)
    for turn in range(turns):
        target = case.points.boost_target
        found = air_step(case, y, efficiency, echo if turn % 3 else None)
        short = np.log(target / found.boost)
        open_ = (np.abs(short) >= near) | (found.off >= _CLOSE)
        at_y[live], at_efficiency[live], at_echo[live] = y, found.efficiency, found.echo
        keep = np.flatnonzero(open_)
        if not keep.size:
            break
        if keep.size < live.size:
            case, live = case.pick(keep), live[keep]
        y, efficiency, echo, short = y[keep], found.efficiency[keep], found.echo[keep], short[keep]
        moved, slope, before = moved[keep], slope[keep], before[keep]
        if turn:
            far = np.abs(moved) > 1e-9
            slope = np.where(far, _within((before - short) / np.where(far, moved, 1.0), 0.5, 2.0), slope)
        moved, before = np.maximum(short / slope, 1e-4 - y), short
        y = y + moved


def opening(case: Case, hot: Hot, mach: Array, turns: int) -> tuple[Array, Bools]:
    """Gate area [m2] that leaves the turbine just the power asked of it, and whether the shut turbine has that much."""
    x = turbine.flow_parameter(hot.gas, hot.state.temperature, hot.constant, case.area, hot.outlet, case.model)
    high = turbine.expansion_ratio(x, case.model)

    def power(ratio: Array) -> tuple[Array, Array]:
        """Turbine over compressor power to the power 2/3 (nearly a straight line), less 1; and the flow
        [kg/s]."""
        through = turbine.swallowed(
            case.area, ratio * hot.outlet, hot.state.temperature, hot.constant, ratio, case.model
        )
        ideal, wheel = wheel_work(case, hot, ratio, mach)
        return np.cbrt(np.square(through * ideal * wheel / hot.asked)) - 1.0, through

    fb, through = power(high)
    enough = fb >= 0.0
    open_ = enough
    a, b, fa = np.ones_like(high), high, -np.ones_like(high)
    weight_a, weight_b = np.ones_like(high), np.ones_like(high)
    for _ in range(turns):
        ratio = np.clip(a + (b - a) * fa * weight_a / (fa * weight_a - fb * weight_b), a, b)
        value, passed = power(ratio)
        through = np.where(open_, passed, through)
        open_ = open_ & ~(np.abs(value) < 1e-11)
        if not open_.any():
            break
        plus = value >= 0.0
        part = np.where(plus, value / np.where(fb == 0.0, 1.0, fb), value / fa)
        weight = np.where(part < 1.0, 1.0 - part, 0.5)
        weight_a, weight_b = np.where(plus, weight_a * weight, 1.0), np.where(plus, 1.0, weight_b * weight)
        a, fa = np.where(plus, a, ratio), np.where(plus, fa, value)
        b, fb = np.where(plus, ratio, b), np.where(plus, value, fb)
    need = case.area * np.maximum(hot.gas / np.maximum(through, 1e-12) - 1.0, 0.0)
    return np.where(enough, need, 0.0), enough
