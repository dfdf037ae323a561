"""Spool time against closed forms and the trade's order."""

from dataclasses import replace

import numpy as np
import pytest
from matching_cases import RPM, bench, single
from numpy.testing import assert_allclose

from advisor.matching.model import MODEL
from advisor.matching.spool import rotor_inertia, spool_time


def test_inertia_of_the_open_engines_rotor() -> None:
    """Sivertsson & Eriksson, SIMS 55, 2014: 1.87e-4 kg m2 at a turbine of 65 mm; the compressor wheel is not published,
    90 mm taken. The law is good to about 35 %."""
    made, _ = single(turbine_inducer=0.065, compressor_exducer=np.array([0.090]))
    assert rotor_inertia(made)[0] == pytest.approx(1.87e-4, rel=0.35)
    double, _ = single(turbine_inducer=0.130, compressor_exducer=np.array([0.180]))
    assert_allclose(rotor_inertia(double), 32.0 * rotor_inertia(made))


def seconds(inertia: float = 1.0, fuel: float = 1.0, speed: float = 1900.0, **columns: object) -> np.ndarray:
    made = single(**columns)  # type: ignore[arg-type]
    on = bench(made=made)
    model = replace(
        MODEL,
        turbine_inertia=inertia * MODEL.turbine_inertia,
        compressor_inertia=inertia * MODEL.compressor_inertia,
    )
    goal = on.points.at_goal.argmax()
    return spool_time(
        on.engine,
        on.place,
        on.plumbing,
        on.machines,
        on.tables,
        speed * RPM,
        2.4e5,
        fuel * on.points.fuel_asked[goal],
        1.2,
        model,
    )


def test_time_is_proportional_to_inertia() -> None:
    """t = integral of J w dw / surplus (equation of motion): twice the inertia, twice the time."""
    assert_allclose(seconds(inertia=2.0), 2.0 * seconds(), rtol=1e-12)


def test_time_grows_with_housing_and_wheel_and_ends_in_a_hang() -> None:
    """Common practice, no source: tighter housings and smaller wheels come up quicker; one far too large hangs."""
    found = seconds(housing_ratio=np.array([0.7, 0.9, 1.1, 3.0]))
    assert np.all(np.diff(found[:3]) > 0.0)
    assert 0.05 < found[0] < 5.0
    assert found[3] == np.inf
    wheels = seconds(turbine_inducer=np.array([0.068, 0.074]), turbine_exducer=np.array([0.060, 0.065]))
    assert wheels[0] < wheels[1]


def test_the_integral_has_converged(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same integral over 400 steps changes it by less than 2 %."""
    coarse = seconds()
    monkeypatch.setattr("advisor.matching.spool._STEPS", 400)
    assert_allclose(coarse, seconds(), rtol=0.02)


def test_higher_engine_speed_spools_quicker() -> None:
    """Common practice, no source."""
    assert seconds(speed=2200.0)[0] < seconds(speed=1900.0)[0]
