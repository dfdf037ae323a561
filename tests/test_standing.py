"""The engine speed from which boost stands: held against a sweep ten times finer, and free of jumps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matching_cases import HP, PSI, RPM, Array, Bench, bench, duty, single
from test_series import ENGINE, PLUMBING, TABLES, pair

from advisor.matching.air import standard_atmosphere
from advisor.matching.balance import match
from advisor.matching.engine import FULL_LOAD, points
from advisor.matching.inputs import Place, Points
from advisor.matching.series import match_series
from advisor.matching.standing import stands_from, stands_from_series

FOOT, FAHRENHEIT = 0.3048, 5.0 / 9.0
SHARE = 0.9
FINE = 10
CLOSE_RUNGS = (*np.arange(0.025, 1.5, 0.025).tolist(), 1.7, 2.2, 2.9, 4.2)
"""Pressure ratios, as logarithms, at which the fine sweep looks for a lower balance: none is stepped over."""


def truck(altitude: float, fahrenheit: float, goal: float = 520.0, smoke: float = 1.15) -> Bench:
    """Eight machines on a six, from one that lights at once to one that hardly does, nine speeds in the sweep."""
    made = single(
        turbine_inducer=np.linspace(0.066, 0.084, 8),
        turbine_exducer=np.linspace(0.058, 0.074, 8),
        housing_ratio=np.linspace(0.7, 1.3, 8),
        gate_bore=0.044,
    )
    place = Place(float(standard_atmosphere(altitude * FOOT)[0]), (fahrenheit - 32.0) * FAHRENHEIT + 273.15)
    asked = duty(goal * HP, 2900.0, low=1300.0 * RPM, high=3400.0 * RPM, smoke_lambda=smoke)
    return bench(place=place, duties=(asked,), made=made, count=9)


def stands(on: Bench) -> Array:
    """[rpm] (8,)"""
    asked = on.engine, on.place, on.plumbing
    target = on.points.boost_needed[..., :1]
    return stands_from(*asked, on.points, on.machines, on.tables, on.match(), target)[..., 0] / RPM


def finer(grid: Points) -> Points:
    """Its sweep alone, at ten times as many speeds."""
    sweep = grid.of(FULL_LOAD)
    at = grid.speed[sweep]
    speed = np.interp(np.arange(FINE * (len(sweep) - 1) + 1) / FINE, np.arange(len(sweep)), at)
    goal = sweep[grid.at_goal[sweep]][0]
    ones = np.ones_like(speed)
    return replace(
        grid,
        duty=np.full(speed.size, grid.duty[goal]),
        at_goal=np.zeros(speed.size, bool),
        speed=speed,
        fuel_asked=grid.fuel_asked[goal] * np.minimum(speed / grid.speed[goal], 1.0),
        **{name: getattr(grid, name)[goal] * ones for name in ("smoke_lambda", "boost_target", "boost_needed")},
    )


def outside(found: Array, speed: Array, boost: Array, wanted: float) -> Array:
    """By how much [rpm] a speed lies outside the two of a sweep between which boost comes to stand; where it stands at
    once or never, from the first speed or from never."""
    up = boost >= wanted
    first = up.argmax(axis=-1)
    ever = up.any(axis=-1)
    low, high = speed[np.maximum(first - 1, 0)] / RPM, speed[first] / RPM
    far = np.maximum(np.maximum(low - found, found - high), 0.0)
    return np.where(ever, far, np.where(np.isinf(found), 0.0, np.inf))


@settings(max_examples=15)
@given(
    altitude=st.floats(0.0, 11_000.0),
    fahrenheit=st.floats(-10.0, 115.0),
    goal=st.floats(380.0, 620.0),
    smoke=st.floats(1.02, 1.35),
)
def test_it_lies_where_a_ten_times_finer_sweep_has_it(
    altitude: float, fahrenheit: float, goal: float, smoke: float
) -> None:
    on = truck(altitude, fahrenheit, goal, smoke)
    fine = finer(on.points)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("advisor.matching.search._LADDER", CLOSE_RUNGS)
        swept = match(on.engine, on.place, on.plumbing, fine, on.machines, on.tables)
    assert swept.converged.all()
    outside_air = float(on.place.pressure)
    wanted = outside_air + SHARE * (float(on.points.boost_needed[0]) - outside_air)
    assert np.all(outside(stands(on), fine.speed, swept.boost, wanted) <= 3.0)


@settings(max_examples=8)
@given(altitude=st.floats(0.0, 9_000.0), fahrenheit=st.floats(20.0, 100.0), climbs=st.booleans())
def test_a_degree_or_a_hundred_feet_moves_it_evenly(altitude: float, fahrenheit: float, climbs: bool) -> None:
    """Read straight off the sweep it jumped by 60 to 90 rpm for a degree where boost comes up steeply. Only machines
    that are far from never lighting: towards that the speed runs away."""
    steps = np.arange(13.0)
    line = np.array(
        [stands(truck(altitude + 100.0 * s, fahrenheit) if climbs else truck(altitude, fahrenheit + s)) for s in steps]
    )
    lit = line[:, (line < 2900.0).all(axis=0)]
    assert lit.shape[1] >= 3
    assert np.abs(np.diff(lit, n=2, axis=0)).max() < 8.0


def test_what_stands_at_once_or_never_is_told_so() -> None:
    on = truck(0.0, 60.0)
    targets = np.array([on.place.pressure + 1.0 * PSI, on.place.pressure + 500.0 * PSI])
    asked = on.engine, on.place, on.plumbing
    found = stands_from(*asked, on.points, on.machines, on.tables, on.match(), targets[None])
    assert np.all(found[0, 0] == on.points.speed[on.points.of(FULL_LOAD)[0]])
    assert np.all(np.isinf(found[:, 1]))


@pytest.mark.parametrize("low_gate", [0.0, 0.050])
def test_pairs_in_series_stand_where_a_ten_times_finer_sweep_has_it(low_gate: float) -> None:
    low, high = pair(np.array([0.030, 0.044]), low_gate)
    asked = duty(800.0 * HP, 3200.0, low=1600.0 * RPM, high=3500.0 * RPM, smoke_lambda=1.1)
    for pressure, temperature in ((101_325.0, 288.0), (84_000.0, 303.0)):
        place = Place(pressure, temperature)
        grid = points(ENGINE, place, PLUMBING, (asked,), count=6)
        found = match_series(ENGINE, place, PLUMBING, grid, low, high, TABLES)
        target = grid.boost_needed[..., :1]
        on = stands_from_series(ENGINE, place, PLUMBING, grid, low, high, TABLES, found, target)[..., 0] / RPM
        fine = finer(grid)
        swept = match_series(ENGINE, place, PLUMBING, fine, low, high, TABLES).whole
        wanted = pressure + SHARE * (float(target[0]) - pressure)
        assert np.all(outside(on, fine.speed, np.where(swept.converged, swept.boost, 0.0), wanted) <= 3.0)
        sweep = grid.speed[grid.of(FULL_LOAD)] / RPM
        assert np.all((on > sweep[0]) & (on < sweep[-1]))
