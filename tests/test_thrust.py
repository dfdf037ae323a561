"""Axial load: signs, scaling and the pads."""

from dataclasses import replace

import numpy as np
import pytest
from matching_cases import bench, single
from numpy.testing import assert_allclose

from advisor.matching.thrust import _back, axial_load, pad_area, thrust_index

INDUCER = np.array([0.064, 0.064, 0.064])
SINGLE = single(thrust_angle=np.deg2rad([270.0, 360.0, 360.0]), ball_bearing=np.array([False, False, True]))


def test_pressure_behind_a_disc_by_integration() -> None:
    """p(r) = p_rim - rho/2 w^2 (r_rim^2 - r^2) summed over thin rings."""
    rim, density, swirl, outer, shaft = 2.5e5, 2.0, 4000.0, 0.045, 0.006
    edges = np.linspace(shaft, outer, 20_001)
    middle = 0.5 * (edges[1:] + edges[:-1])
    rings = np.pi * np.diff(edges**2)
    pressure = rim - 0.5 * density * swirl**2 * (outer**2 - middle**2)
    place = bench().place
    expected = (pressure * rings).sum() + np.pi * shaft**2 * place.pressure
    found = _back(np.asarray(rim), np.asarray(density), np.asarray(swirl), np.asarray(outer), np.asarray(shaft), place)
    assert found == pytest.approx(expected, rel=1e-6)


def test_full_pads_hold_a_third_more_than_three_quarters() -> None:
    made, _ = SINGLE
    area = pad_area(made)
    assert area[1] / area[0] == pytest.approx(4.0 / 3.0)
    on = bench(made=SINGLE)
    found = on.match()
    index = thrust_index(found, made, on.place, INDUCER)
    assert_allclose(index[0] / index[1], 4.0 / 3.0, rtol=1e-9)
    assert np.all(index[2] < index[1])


def test_load_grows_with_pressure_and_scales_with_area() -> None:
    """Same pressures and temperatures, wheels s times as large, flow s^2, speed 1/s: forces s^2 (similarity)."""
    on = bench(made=SINGLE)
    found = on.match()
    load = axial_load(found, on.machines, on.place, INDUCER)
    s = 1.5
    bigger = replace(
        on.machines,
        compressor_exducer=s * on.machines.compressor_exducer,
        turbine_inducer=s * on.machines.turbine_inducer,
        turbine_exducer=s * on.machines.turbine_exducer,
    )
    same = replace(found, air=s**2 * found.air, fuel=s**2 * found.fuel, shaft_speed=found.shaft_speed / s)
    assert_allclose(axial_load(same, bigger, on.place, s * INDUCER), s**2 * load, rtol=1e-9)
    best = found.boost[0].argmax()
    assert abs(load[0, best]) > abs(load[0, 0])
