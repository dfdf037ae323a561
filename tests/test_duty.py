"""Road load on the towing test's grade, engine speed on the road, strip formulas."""

import numpy as np
import pytest
from matching_cases import HP, RPM

from advisor.matching.duty import (
    CONSTANT_POWER_BOUND,
    FOOT,
    HORSEPOWER,
    MILE,
    POUND,
    STRIP_FORMULAS,
    eighth_mile,
    road_load,
    road_speed_to_engine_speed,
    strip,
    wheel_load,
)

MPH = MILE / 3600.0


def test_road_load_on_the_towing_tests_grade() -> None:
    """SAE J2807 (read in published summaries): Davis Dam grade, 11.4 miles and about 3,500 ft of climb, at 40 mph.
    30,000 lb, CdA 5.6 m2, rolling 0.010, driveline 0.85, 1.05 kg/m3: 282.6 hp (computed by hand)."""
    grade = 3500.0 * FOOT / (11.4 * MILE)
    assert grade == pytest.approx(0.0581, abs=2e-4)
    parts = wheel_load(30_000 * POUND, 40 * MPH, 0.0581, 1.05, 5.6, 0.010)
    assert parts.grade / HP == pytest.approx(185.8, rel=2e-3)
    assert parts.rolling / HP == pytest.approx(32.0, rel=2e-3)
    assert parts.drag / HP == pytest.approx(22.5, rel=2e-3)
    power = road_load(30_000 * POUND, 40 * MPH, 0.0581, 1.05)
    assert power / HP == pytest.approx(282.6, rel=1e-3)


def test_engine_speed_on_the_road() -> None:
    """60 mph, 32 inch tyre, 3.73 axle, 0.67 top gear: 1,575 rpm (arithmetic)."""
    speed = road_speed_to_engine_speed(60 * MPH, 32 * 0.0254, 3.73, 0.67)
    assert speed / RPM == pytest.approx(1575.0, rel=1e-3)


@pytest.mark.parametrize(
    ("formula", "seconds", "mph"),
    [
        ("Hale", 10.815, 126.03),
        ("Huntington 1958", 11.678, 120.65),
        ("Fox, Am. J. Phys. 41 (1973) 311", 11.639, 123.88),
    ],
)
def test_strip_formulas(formula: str, seconds: float, mph: float) -> None:
    """3,200 lb, 500 hp by the three published fits."""
    time, trap = strip(3200 * POUND, 500 * HORSEPOWER, formula)
    assert time == pytest.approx(seconds, rel=1e-3)
    assert trap / MPH == pytest.approx(mph, rel=1e-3)


def test_no_fit_beats_constant_power() -> None:
    """v^3 = 3 P x / m with all the power at the wheels from the start: 281.1 (derived)."""
    assert pytest.approx(281.1, abs=0.1) == CONSTANT_POWER_BOUND
    assert all(b < CONSTANT_POWER_BOUND for _, b in STRIP_FORMULAS.values())


def test_eighth_mile_follows_from_constant_power() -> None:
    """Integrate m v dv/dt = P numerically over the quarter mile and read the half way point."""
    step, power, mass = 1e-3, 300e3, 1500.0
    time = np.arange(step, 30.0, step)
    speed = np.sqrt(2.0 * power * time / mass)
    way = np.cumsum(speed) * step
    full, half = (int(np.searchsorted(way, d)) for d in (MILE / 4.0, MILE / 8.0))
    seconds, trap = eighth_mile(time[full], speed[full])
    assert seconds == pytest.approx(time[half], rel=2e-3)
    assert trap == pytest.approx(speed[half], rel=2e-3)


def test_horsepower_is_the_mechanical_one() -> None:
    """550 ft lbf/s with standard gravity: 745.69987 W (NIST SP 811)."""
    assert pytest.approx(745.6998715822702, rel=1e-12) == HORSEPOWER
