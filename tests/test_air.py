"""Air, exhaust gas, corrected quantities and pipes against standards, handbooks and reference libraries."""

import math

import ambiance
import cantera as ct
import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from advisor.matching import air

POUND = 0.45359237
INCH_OF_PRESSURE = 6894.757293168


# --- the standard atmosphere


@pytest.mark.parametrize(
    ("altitude", "temperature", "pressure", "density"),
    [
        # U.S. Standard Atmosphere 1976, table I, geometric altitude (printed figures from memory)
        (0.0, 288.150, 1.01325e5, 1.2250),
        (1000.0, 281.651, 8.9876e4, 1.1117),
        (2000.0, 275.154, 7.9501e4, 1.0066),
        (3000.0, 268.659, 7.0121e4, 9.0925e-1),
        (4000.0, 262.166, 6.1660e4, 8.1935e-1),
        (5000.0, 255.676, 5.4048e4, 7.3643e-1),
    ],
)
def test_standard_atmosphere_by_the_printed_table(
    altitude: float, temperature: float, pressure: float, density: float
) -> None:
    p, t = air.standard_atmosphere(altitude)
    assert float(t) == pytest.approx(temperature, abs=1e-3)
    assert float(p) == pytest.approx(pressure, rel=2e-5)
    assert float(air.density_of_day(altitude, t)) == pytest.approx(density, rel=6e-5)


@given(st.floats(-500.0, 5000.0))
def test_standard_atmosphere_by_two_libraries(altitude: float) -> None:
    p, t = air.standard_atmosphere(altitude)
    for library in (ambiance.Atmosphere(altitude), ATMOSPHERE_1976(altitude)):
        pressure = float(np.ravel(getattr(library, "pressure", getattr(library, "P", None)))[0])
        temperature = float(np.ravel(getattr(library, "temperature", getattr(library, "T", None)))[0])
        assert float(p) == pytest.approx(pressure, rel=1e-5)
        assert float(t) == pytest.approx(temperature, rel=1e-5)


def test_geopotential_height_is_not_skipped() -> None:
    """At 5,280 ft the geometric altitude put into the formula errs by 0.03 % in pressure."""
    p, _ = air.standard_atmosphere(1609.344)
    skipped = 101_325.0 * (1.0 - 0.0065 * 1609.344 / 288.15) ** 5.25588
    assert float(p) == pytest.approx(83_431.8, rel=1e-5)  # ambiance 1.3.1
    assert float(p) / skipped - 1.0 == pytest.approx(5e-5, abs=3e-5)


def test_hot_day_is_thin_at_the_same_pressure() -> None:
    cold, hot = air.density_of_day(1500.0, np.array([273.15, 308.15]))
    assert cold / hot == pytest.approx(308.15 / 273.15)


# --- gas properties


@pytest.mark.parametrize("temperature", [220.0, 260.0, 300.0, 350.0, 400.0, 500.0, 700.0, 1000.0])
def test_air_against_the_real_gas(temperature: float) -> None:
    """CoolProp's air (Lemmon et al. 2000) without pressure, and at 1 atm where the real gas is up to 0.35 %
    off."""
    cp = float(air.cp_air(temperature))
    assert cp == pytest.approx(PropsSI("C", "T", temperature, "P", 100.0, "Air"), rel=1e-3)
    assert cp == pytest.approx(PropsSI("C", "T", temperature, "P", 101_325.0, "Air"), rel=3.5e-3)
    cv = PropsSI("O", "T", temperature, "P", 100.0, "Air")
    assert float(air.gamma_air(temperature)) == pytest.approx(
        PropsSI("C", "T", temperature, "P", 100.0, "Air") / cv, rel=5e-4
    )


def test_air_by_a_printed_table() -> None:
    """Cengel & Boles, table A-17, ideal-gas air: enthalpies (from memory: 300.19 at 300 K, 503.02 at 500 K,
    1046.04 at 1000 K, kJ/kg)."""
    h = air.enthalpy(np.array([300.0, 500.0, 1000.0]))
    assert h[1] - h[0] == pytest.approx(202.83e3, rel=2e-3)
    assert h[2] - h[0] == pytest.approx(745.85e3, rel=2e-3)


def burnt(lam: float) -> ct.Solution:
    """Complete products of CH1.8 with air at lam >= 1 by atom balance, in Cantera's gri30."""
    gas = ct.Solution("gri30.yaml")
    oxygen = 1.0 + 1.8 / 4.0
    share = lam * oxygen / 0.2095
    gas.X = {
        "CO2": 1.0 + 0.0004 * share,
        "H2O": 0.9,
        "O2": (lam - 1.0) * oxygen,
        "N2": 0.7808 * share,
        "AR": 0.0093 * share,
    }
    return gas


@pytest.mark.parametrize("lam", [1.0, 1.1, 1.3, 1.5, 2.0, 3.0, 6.0])
@pytest.mark.parametrize("temperature", [400.0, 600.0, 800.0, 999.0, 1001.0, 1200.0, 1400.0])
def test_exhaust_against_cantera(lam: float, temperature: float) -> None:
    gas = burnt(lam)
    gas.TP = temperature, 101_325.0
    assert float(air.cp_exhaust(temperature, lam)) == pytest.approx(gas.cp_mass, rel=2.5e-3)
    assert float(air.gamma_exhaust(temperature, lam)) == pytest.approx(gas.cp_mass / gas.cv_mass, rel=1e-3)
    assert float(air.gas_constant(lam)) == pytest.approx(
        ct.gas_constant / gas.mean_molecular_weight, rel=2e-4
    )
    rise = gas.enthalpy_mass
    gas.TP = 298.15, 101_325.0
    assert float(air.enthalpy(temperature, lam)) == pytest.approx(rise - gas.enthalpy_mass, rel=2.5e-3)


@pytest.mark.parametrize("lam", [0.85, 0.9, 0.95])
def test_rich_exhaust_is_close_enough(lam: float) -> None:
    """Richer than stoichiometric counts as stoichiometric: near Cantera's equilibrium products, frozen."""
    gas = ct.Solution("gri30.yaml")
    share = lam * 1.45 / 0.2095
    # CH1.8 as C2H4 and C2H2 in the same atom ratio: equilibrium forgets where the atoms came from
    gas.TPX = 1700.0, 101_325.0, {"C2H4": 0.4, "C2H2": 0.1, "O2": 0.2095 * share, "N2": 0.79 * share}
    gas.equilibrate("TP")
    gas.TP = 1000.0, None
    assert float(air.cp_exhaust(1000.0, lam)) == pytest.approx(gas.cp_mass, rel=0.025)


def test_stoichiometric_ratio() -> None:
    """Heywood 1988, table D.4 (from memory): 14.5 for light diesel."""
    assert pytest.approx(14.5, rel=2e-3) == air.STOICHIOMETRIC_RATIO


# --- compression and expansion


def test_compressor_of_the_textbook() -> None:
    """Cengel & Boles, "effect of efficiency on compressor power": 100 to 800 kPa from 12 C, 0.2 kg/s, 80 %:
    569.5 K and 58.0 kW (from memory; Cantera gives 569.52 K and 58.013 kW)."""
    outlet, work = air.compression(285.15, 8.0, 0.80)
    assert float(outlet) == pytest.approx(569.5, rel=3e-4)
    assert 0.2 * float(work) == pytest.approx(58.0e3, rel=1e-3)


def test_turbine_of_the_textbook() -> None:
    """Cantera's products at lam 1.8 through a turbine of 72 %, 900 K, expansion 2.4."""
    gas = burnt(1.8)
    gas.TP = 900.0, 2.4e5
    start, entropy = gas.enthalpy_mass, gas.entropy_mass
    gas.SP = entropy, 1.0e5
    work = 0.72 * (start - gas.enthalpy_mass)
    gas.HP = start - work, 1.0e5
    outlet, ours = air.expansion(900.0, 2.4, 0.72, 1.8)
    assert float(ours) == pytest.approx(work, rel=2e-3)
    assert float(outlet) == pytest.approx(gas.T, abs=0.5)


@given(st.floats(250.0, 400.0), st.floats(1.0, 8.0), st.floats(0.3, 0.9))
def test_isentropic_compression_against_coolprop(temperature: float, ratio: float, efficiency: float) -> None:
    """Real air from CoolProp at one tenth of the pressure, where it is nearly ideal."""
    entropy = PropsSI("S", "T", temperature, "P", 1e4, "Air")
    start = PropsSI("H", "T", temperature, "P", 1e4, "Air")
    ideal = PropsSI("H", "P", 1e4 * ratio, "S", entropy, "Air") - start
    outlet, work = air.compression(temperature, ratio, efficiency)
    assert float(work) == pytest.approx(ideal / efficiency, rel=2e-3, abs=30.0)
    assert float(outlet) == pytest.approx(
        PropsSI("T", "H", start + ideal / efficiency, "P", 1e4 * ratio, "Air"), abs=1.5
    )


@given(st.floats(210.0, 2500.0), st.one_of(st.none(), st.floats(0.8, 8.0)))
def test_enthalpy_and_its_inverse(temperature: float, lam: float | None) -> None:
    back = float(air.temperature_of(air.enthalpy(temperature, lam), lam))
    assert back == pytest.approx(temperature, rel=1e-7)


@given(st.floats(300.0, 1300.0), st.floats(1.01, 6.0), st.floats(1.0, 5.0))
def test_isentropes_lead_back(temperature: float, ratio: float, lam: float) -> None:
    there = air.isentropic_temperature(temperature, ratio, lam)
    assert float(air.isentropic_temperature(there, 1.0 / ratio, lam)) == pytest.approx(temperature, rel=1e-7)


# --- corrected quantities


def test_references_of_maps() -> None:
    """Arithmetic on 545 degrees Rankine and 13.949 psi against 298.15 K, 100 kPa and the standard day."""
    assert air.reference_factor(air.TRADE_REFERENCE, air.SAE_REFERENCE) == pytest.approx(
        math.sqrt(545.0 / 1.8 / 298.15) * 100_000.0 / (13.949 * INCH_OF_PRESSURE), rel=1e-9
    )
    assert air.reference_factor(air.TRADE_REFERENCE, air.STANDARD_DAY) == pytest.approx(1.0800, abs=1e-4)


def test_corrected_flow_of_a_second_stage() -> None:
    """90 lb/min behind a first stage of 2.5 and 420 K: 42.73 lb/min (closed form)."""
    flow = air.corrected_flow(90.0 * POUND / 60.0, 420.0, 2.5e5)
    assert float(flow) * 60.0 / POUND == pytest.approx(42.73, rel=1e-3)


@given(st.floats(0.01, 3.0), st.floats(230.0, 330.0), st.floats(5e4, 1.1e5))
def test_corrected_flow_keeps_the_flow_number(flow: float, temperature: float, pressure: float) -> None:
    """The standard's definition: the same m sqrt(T)/p at the reference."""
    corrected = float(air.corrected_flow(flow, temperature, pressure))
    here = flow * math.sqrt(temperature) / pressure
    assert corrected * math.sqrt(298.15) / 1e5 == pytest.approx(here, rel=1e-12)
    assert float(air.corrected_speed(1000.0, temperature)) == pytest.approx(
        1000.0 * math.sqrt(298.15 / temperature), rel=1e-12
    )


# --- pipes


@pytest.mark.parametrize(
    ("flow", "gauge", "temperature", "bore"),
    [
        (0.49, 35.0, 323.0, 0.073),
        (0.49, 35.0, 323.0, 0.086),
        (0.30, 20.0, 330.0, 0.051),
        (0.05, 0.0, 300.0, 0.098),
    ],
)
def test_pipes_against_fluids(flow: float, gauge: float, temperature: float, bore: float) -> None:
    """Velocity and Mach number by hand, friction by Colebrook's formula as `fluids` solves it."""
    pressure = 101_325.0 + gauge * INCH_OF_PRESSURE
    ours = air.pipe_flow(flow, pressure, temperature, bore)
    density = pressure / (287.05 * temperature)
    velocity = flow / (density * math.pi / 4.0 * bore**2)
    reynolds = fluids.Reynolds(
        V=velocity, D=bore, rho=density, mu=PropsSI("V", "T", temperature, "P", 1e5, "Air")
    )
    friction = fluids.friction_factor(Re=reynolds, eD=45e-6 / bore, Method="Colebrook")
    assert float(ours.velocity) == pytest.approx(velocity, rel=1e-3)
    assert float(ours.mach) == pytest.approx(velocity / math.sqrt(1.4 * 287.05 * temperature), rel=2e-3)
    assert float(ours.loss) == pytest.approx(friction / bore * density * velocity**2 / 2.0, rel=0.025)


def test_laminar_pipe() -> None:
    """Hagen and Poiseuille: 32 mu V / d^2 per metre."""
    ours = air.pipe_flow(5e-5, 101_325.0, 300.0, 0.01)
    assert float(ours.loss) == pytest.approx(
        32.0 * float(air.viscosity(300.0)) * float(ours.velocity) / 1e-4, rel=1e-9
    )


@pytest.mark.parametrize("temperature", [250.0, 300.0, 500.0, 900.0])
def test_viscosity(temperature: float) -> None:
    """CoolProp's air; Sutherland's formula is 3.6 % low at 900 K."""
    assert float(air.viscosity(temperature)) == pytest.approx(
        PropsSI("V", "T", temperature, "P", 1e5, "Air"), rel=0.04
    )
