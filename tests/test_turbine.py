"""The turbine against the open engine's turbine, gas dynamics and handbook expansion."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matching_cases import RPM, open_engine_states, single
from numpy.testing import assert_allclose

from advisor.matching import air, gas, turbine
from advisor.matching.model import MODEL

STATES = open_engine_states()
SPEED = STATES["rpm"] * RPM
FUEL = STATES["fuel_mg_per_cyl_cycle"] * 1e-6 * 6.0 * SPEED / (4.0 * np.pi)
SHUT = STATES["u_wg"] == 0.0
OUTLET = 105_870.0
"""Pressure behind the open engine's turbine [Pa]: the one constant that flow and blade speed ratio of all its states
imply, each alone."""
STODOLA = replace(MODEL, swallowing_exponent=2.0)


def test_efficiency_of_the_open_engines_turbine() -> None:
    """Sivertsson & Eriksson, SIMS 55, 2014: the parabola in blade speed ratio, all seven states."""
    assert_allclose(turbine.efficiency(STATES["bsr"]), STATES["eta_tm"], rtol=1e-3)


def test_drive_pressure_of_the_open_engine_within_three_percent() -> None:
    """Its turbine area from the first state alone, the others predicted (wastegate shut)."""
    flow = STATES["m_air_kgs"] + FUEL
    burnt = gas.burnt_share(STATES["lambda"])
    constant = gas.gas_constant(burnt)
    unit = turbine.swallowed(1.0, STATES["p_em_Pa"], STATES["T_em_K"], constant, STATES["p_em_Pa"] / OUTLET, MODEL)
    area = (flow / unit)[0]
    x = turbine.flow_parameter(flow, STATES["T_em_K"], constant, area, OUTLET, MODEL)
    predicted = turbine.expansion_ratio(x) * OUTLET
    assert_allclose(predicted[SHUT], STATES["p_em_Pa"][SHUT], rtol=0.03)


def test_shaft_power_of_the_open_engine_balances() -> None:
    """Turbine and compressor power of the published states, each with our own gas: equal within 3 %, with one
    pressure before the compressor (99.4 kPa) for all states."""
    flow = STATES["m_air_kgs"]
    k = air.AIR_GAS_CONSTANT / MODEL.air_specific_heat
    asked = flow * MODEL.air_specific_heat * 293.15 * ((STATES["p_im_Pa"] / 99_400.0) ** k - 1.0) / STATES["eta_c"]
    burnt = gas.burnt_share(STATES["lambda"])
    constant, heat = gas.gas_constant(burnt), gas.specific_heat(0.93 * STATES["T_em_K"], burnt)
    drop = heat * STATES["T_em_K"] * (1.0 - (STATES["p_em_Pa"] / OUTLET) ** (-constant / heat))
    made = (flow + FUEL) * drop * STATES["eta_tm"]
    assert_allclose(made[SHUT], asked[SHUT], rtol=0.03)


def test_stodola_is_the_closed_form() -> None:
    parameter = np.linspace(0.0, 8.0, 200)
    assert_allclose(turbine.expansion_ratio(parameter, STODOLA), np.sqrt(1.0 + parameter**2), rtol=1e-14)


@given(st.floats(0.01, 10.0), st.floats(1.6, 3.0))
def test_expansion_ratio_inverts_the_flow(parameter: float, exponent: float) -> None:
    model = replace(MODEL, swallowing_exponent=exponent)
    ratio = turbine.expansion_ratio(parameter, model)
    assert ratio * np.sqrt(1.0 - ratio**-exponent) == pytest.approx(parameter, rel=1e-9)


def test_swallowing_stays_near_the_choked_nozzle() -> None:
    """Choked m sqrt(T)/(p A) = 0.039739 at gamma 1.33, R 286.5 (NACA 1135, computed): two nozzles in series at a high
    expansion ratio pass within 5 % of it, referred to the effective area."""
    flow = turbine.swallowed(1.0, 3.0e5, 900.0, 286.5, 6.0, MODEL)
    assert flow * np.sqrt(900.0) / 3.0e5 == pytest.approx(0.039739, rel=0.05)


def test_expansion_work_against_variable_heat() -> None:
    """cp at 0.93 T3 against the NASA polynomials along the expansion (`air.expansion`): within 0.5 %."""
    for ratio in (1.3, 2.0, 3.0):
        for temperature in (800.0, 1000.0, 1200.0):
            burnt = gas.burnt_share(1.5)
            constant, heat = gas.gas_constant(burnt), gas.specific_heat(0.93 * temperature, burnt)
            quick = heat * temperature * (1.0 - ratio ** (-constant / heat))
            _, exact = air.expansion(temperature, ratio, 1.0, 1.5)
            assert quick == pytest.approx(float(exact), rel=0.005)


def test_areas_in_series() -> None:
    """1/A^2 = 1/A_S^2 + 1/A_R^2: equal areas give A/sqrt(2); a far larger one drops out (closed form)."""
    made, _ = single(housing_ratio=np.array([0.6, 0.9, 1.2]))
    volute, rotor = turbine.throat_area(made), turbine.exit_area(made)
    assert_allclose(turbine.effective_area(made) ** -2.0, volute**-2.0 + rotor**-2.0, rtol=1e-12)
    assert np.all(np.diff(turbine.effective_area(made)) > 0.0)
    wide = replace(MODEL, throat_radius=1e6)
    assert_allclose(turbine.effective_area(made, wide), turbine.exit_area(made, wide), rtol=1e-6)


def test_gate_passes_by_bore_and_kind() -> None:
    made, _ = single(gate_bore=np.array([0.0, 0.03, 0.06, 0.03]), gate_external=np.array([False, False, False, True]))
    area = turbine.gate_area(made)
    assert area[0] == 0.0
    assert area[2] == pytest.approx(4.0 * area[1])
    assert area[3] > area[1]


def test_divided_entry_gains_at_low_speed_and_loses_at_the_limit() -> None:
    """Pulses 5 to 15 % at low engine speed, mixing loss 3 to 5 % (Watson & Janota 1982, from memory)."""
    low, high = turbine.work_factor(True, False, np.array([0.3, 1.0]))
    assert 1.0 < low < 1.15
    assert 0.95 <= high < 1.0
    assert turbine.work_factor(False, False, 0.5) == 1.0
    assert turbine.work_factor(False, True, 0.5) > 1.0


def test_floor_and_peak_of_efficiency() -> None:
    ratio = np.linspace(0.0, 2.0, 400)
    found = turbine.efficiency(ratio)
    assert found.min() == pytest.approx(MODEL.turbine_floor)
    assert ratio[found.argmax()] == pytest.approx(0.622, abs=0.01)
