"""Two machines in series: closed forms, conservation, two routes, what the stages are for."""

from dataclasses import replace

import numpy as np
import pytest
from matching_cases import HP, RPM, SIX, Array, duty, single, table_for
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from advisor.matching import air, gas
from advisor.matching.balance import match
from advisor.matching.engine import brake_power, cycles, points, volumetric_efficiency
from advisor.matching.inputs import Machines, Place, Plumbing, machines
from advisor.matching.model import MODEL
from advisor.matching.pair import Between
from advisor.matching.series import best_split, match_series

PLACE, PLUMBING = Place(), Plumbing()
TABLES = table_for([0.060, 0.082], [0.083, 0.114])
ENGINE = replace(SIX, compression_ratio=15.5, fuel_per_stroke=3.0e-4, speed_limit=3500.0 * RPM)
POINTS = points(
    ENGINE, PLACE, PLUMBING, (duty(800.0 * HP, 3200.0, low=1600.0 * RPM, high=3500.0 * RPM, smoke_lambda=1.1),)
)


def pair(gate: Array) -> tuple[Machines, Machines]:
    count = len(gate)
    low = machines(
        {
            "wheel": np.ones(count, dtype=np.int64),
            "compressor_exducer": 0.114,
            "turbine_inducer": 0.096,
            "turbine_exducer": 0.086,
            "housing_ratio": 1.25,
        }
    )
    high = machines(
        {
            "wheel": np.zeros(count, dtype=np.int64),
            "compressor_exducer": 0.083,
            "turbine_inducer": 0.072,
            "turbine_exducer": 0.063,
            "housing_ratio": 0.85,
            "gate_bore": gate,
        }
    )
    return low, high


def stage_work(temperature: float, ratio: float, efficiency: float = 1.0) -> float:
    """Work of compression [J/kg] at constant heat capacity (closed form)."""
    return 1005.0 * temperature * (ratio ** (0.4 / 1.4) - 1.0) / efficiency


def test_ideal_cooling_between_equal_stages() -> None:
    """Cengel & Boles (closed form): total ratio 6.25 split 2.5/2.5, work 0.86984 of one stage's."""
    low, high = best_split(6.25)
    assert (low, high) == pytest.approx((2.5, 2.5))
    both = stage_work(300.0, float(low)) + stage_work(300.0, float(high))
    assert both / stage_work(300.0, 6.25) == pytest.approx(0.86984, rel=1e-5)


def test_best_split_is_the_least_work() -> None:
    """Against scipy's minimum, second stage breathing air at 340 K with another efficiency."""

    def work(low: float) -> float:
        return stage_work(300.0, low, 0.76) + stage_work(340.0, 6.0 / low, 0.72)

    low, high = best_split(6.0, 340.0 / 300.0, 0.72 / 0.76)
    found = minimize_scalar(work, bounds=(1.2, 5.0), method="bounded", options={"xatol": 1e-9})
    assert low == pytest.approx(found.x, rel=1e-5)
    assert low * high == pytest.approx(6.0)


def test_corrected_flow_of_the_high_stage() -> None:
    """90 lb/min at Pi 2.5 and 420 K: 42.73 lb/min at 298.15 K (closed form)."""
    assert 90.0 * np.sqrt(420.0 / 298.15) / 2.5 == pytest.approx(42.73, rel=1e-3)
    flow = air.corrected_flow(90.0, 420.0, 2.5 * air.SAE_REFERENCE.pressure)
    assert flow == pytest.approx(42.73, rel=1e-3)


@pytest.mark.parametrize("between", [Between(), Between(0.7, 20_000.0)], ids=["uncooled", "cooled"])
def test_mass_energy_and_charge_are_kept(between: Between) -> None:
    low, high = pair(np.array([0.0, 0.035, 0.05]))
    found = match_series(ENGINE, PLACE, PLUMBING, POINTS, low, high, TABLES, between)
    whole, ok = found.whole, found.whole.converged
    assert ok.all()
    total = whole.air + whole.fuel
    burnt = gas.burnt_share(whole.lam)
    left = gas.enthalpy(whole.exhaust_temperature, burnt) - gas.enthalpy(whole.turbine_outlet_temperature, burnt)
    assert_allclose(total * left, whole.shaft_power, rtol=1e-5)
    k = air.AIR_GAS_CONSTANT / float(MODEL.air_specific_heat)
    lift = whole.shaft_power / (whole.air * MODEL.air_specific_heat)
    assert_allclose(PLACE.temperature * (whole.pressure_ratio**k - 1.0) / whole.compressor_efficiency, lift, rtol=1e-9)
    assert_allclose(found.low_ratio * found.high_ratio, whole.pressure_ratio, rtol=1e-9)
    charge = whole.boost * volumetric_efficiency(ENGINE, whole.boost, POINTS.speed) * cycles(ENGINE, POINTS.speed)
    assert_allclose(charge / (air.AIR_GAS_CONSTANT * whole.charge_temperature), whole.air, rtol=1e-6)
    made = brake_power(ENGINE, whole.fuel, whole.lam, POINTS.speed, whole.boost, whole.drive_pressure)
    assert_allclose(made, whole.power, rtol=1e-9)
    inlet = found.low_ratio * whole.inlet_pressure - between.resistance * whole.air**2
    assert_allclose(found.air_between, inlet, rtol=1e-9)
    assert np.all((found.gas_between < whole.drive_pressure) & (found.gas_between > whole.turbine_outlet_pressure))


def test_gate_of_the_high_stage_holds_the_boost() -> None:
    low, high = pair(np.array([0.0, 0.06]))
    found = match_series(ENGINE, PLACE, PLUMBING, POINTS, low, high, TABLES).whole
    target = POINTS.boost_target[0]
    assert found.boost[0].max() > 1.05 * target
    held = found.at_target[1]
    assert held.any()
    assert_allclose(found.boost[1, held], target, rtol=1e-7)


def test_two_stages_beat_one_past_one_stage() -> None:
    """Common practice, no source: for a goal past one stage the pair turns each wheel slower than the one would."""
    low, high = pair(np.array([0.05]))
    both = match_series(ENGINE, PLACE, PLUMBING, POINTS, low, high, TABLES)
    alone, table = single(turbine_inducer=0.076, housing_ratio=np.array([0.8]))
    one = match(ENGINE, PLACE, PLUMBING, POINTS, alone, table)
    best = int(POINTS.at_goal.argmax())
    fastest = max(both.low_tip_speed[0, best], both.high_tip_speed[0, best])
    assert both.whole.boost[0, best] > 4.0e5
    assert one.tip_speed[0, best] > fastest
    assert both.whole.power[0, best] > one.power[0, best]


def test_cooling_between_the_stages_saves_work_and_heat() -> None:
    low, high = pair(np.array([0.0]))
    plain = match_series(ENGINE, PLACE, PLUMBING, POINTS, low, high, TABLES)
    cooled = match_series(ENGINE, PLACE, PLUMBING, POINTS, low, high, TABLES, Between(0.7, 5_000.0))
    last = int(POINTS.at_goal.argmax())
    ours, theirs = cooled.whole, plain.whole
    assert ours.compressor_outlet_temperature[0, last] < theirs.compressor_outlet_temperature[0, last]
    assert ours.exhaust_temperature[0, last] < theirs.exhaust_temperature[0, last]
    assert ours.compressor_efficiency[0, last] > theirs.compressor_efficiency[0, last]
