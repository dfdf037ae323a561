"""The open 6.7 L diesel with its turbocharger, all balances closed at once.

Sivertsson & Eriksson, SIMS 55, 2014 (steady states of its published model, see `data/open_diesel_steady.csv`). Given
are engine speed, fuel and, of the compressor, the published efficiency and speed of each state; the turbine's area
comes from the first state alone. Boost, air, drive pressure, power and exhaust temperature follow from the match.
"""

from dataclasses import replace

import numpy as np
from matching_cases import MODEL, RPM, SIX, Array, open_engine_states
from numpy.testing import assert_allclose

from advisor.matching import air, gas, turbine
from advisor.matching.balance import match
from advisor.matching.inputs import IntArray, Place, Plumbing, Points, machines

STATES = open_engine_states()
SPEED = STATES["rpm"] * RPM
FUEL = STATES["fuel_mg_per_cyl_cycle"] * 1e-6 * 6.0 * SPEED / (4.0 * np.pi)
SHUT = STATES["u_wg"] == 0.0
OPEN = replace(MODEL, stoichiometric_ratio=14.75, fuel_heating_value=42.9e6)
PLACE = Place(99_400.0, 293.15)
"""Pressure before its compressor and outside temperature, the same in all states."""
CHARGE, OUTLET = 292.09, 105_870.0
"""Charge temperature and pressure behind the turbine that all its states imply, each alone."""
WHEEL = 0.08
"""Any diameter: the published shaft speed is made a tip Mach number with it, and back."""


class Published:
    """The compressor of each state (row): its published efficiency and speed, whatever it is asked."""

    mach = STATES["N_tc_rpm"] * RPM * WHEEL / 2.0 / np.sqrt(1.4 * air.AIR_GAS_CONSTANT * float(PLACE.temperature))

    def at_head(self, wheel: IntArray, flow_number: Array, y: Array) -> tuple[Array, Array]:
        return STATES["eta_c"][wheel] + 0.0 * y, self.mach[wheel] + 0.0 * y

    def margins(self, wheel: IntArray, flow_number: Array, tip_mach: Array) -> tuple[Array, Array]:
        return 0.0 * flow_number, 0.0 * flow_number


def test_the_whole_engine_with_its_turbocharger() -> None:
    """Six states with the wastegate shut: boost, air and drive pressure within 4 %, power within 1 %, exhaust within 15
    K, though each follows from all the others."""
    states = len(SPEED)
    flow = STATES["m_air_kgs"] + FUEL
    constant = gas.gas_constant(gas.burnt_share(STATES["lambda"]))
    ratio = STATES["p_em_Pa"] / OUTLET
    unit = turbine.swallowed(1.0, STATES["p_em_Pa"], STATES["T_em_K"], constant, ratio, OPEN)
    area = (flow / unit)[0]
    open_share = np.pi / 4.0 * (1.0 - OPEN.exit_hub_ratio**2) * OPEN.exit_angle_cosine * OPEN.exit_blockage
    made = machines(
        {
            "wheel": np.arange(states),
            "compressor_exducer": WHEEL,
            "turbine_inducer": 0.065,
            "turbine_exducer": np.sqrt(area / open_share),
            "housing_ratio": 1e4,
        }
    )
    assert_allclose(turbine.effective_area(made, OPEN), area, rtol=1e-6)
    plumbing = Plumbing(0.0, 0.0, (OUTLET - PLACE.pressure) / flow**2, 1.0, CHARGE - PLACE.temperature)
    unlimited = np.full(states, 9e5)
    asked = Points(
        (), np.zeros(states, np.int64), np.ones(states, bool), SPEED, FUEL, np.ones(states), unlimited, unlimited
    )
    engine = replace(SIX, fuel_per_stroke=1.0, fuel_flow=1.0)
    found = match(engine, PLACE, plumbing, asked, made, Published(), OPEN)
    own = np.flatnonzero(SHUT)
    assert own.size == 6
    assert found.converged[own, own].all()
    assert_allclose(found.boost[own, own], STATES["p_im_Pa"][own], rtol=0.04)
    assert_allclose(found.air[own, own], STATES["m_air_kgs"][own], rtol=0.04)
    assert_allclose(found.drive_pressure[own, own], STATES["p_em_Pa"][own], rtol=0.04)
    assert_allclose(found.power[own, own], STATES["P_brake_W"][own], rtol=0.01)
    assert_allclose(found.exhaust_temperature[own, own], STATES["T_em_K"][own], atol=15.0)
