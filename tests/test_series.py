"""Two machines in series: closed forms, conservation, two routes, what the stages are for."""

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matching_cases import HP, RPM, SIX, Array, duty, single, table_for
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve, minimize_scalar

from advisor.matching import air, gas, turbine
from advisor.matching.balance import lay_out, match
from advisor.matching.engine import brake_power, cycles, points, volumetric_efficiency
from advisor.matching.inputs import Machines, Place, Plumbing, machines
from advisor.matching.model import MODEL
from advisor.matching.pair import Between, Pair, shut, state_at
from advisor.matching.series import best_split, match_series
from advisor.matching.spool import light_and_full, rotor_inertia, spool_time_series

PLACE, PLUMBING = Place(), Plumbing()
TABLES = table_for([0.060, 0.082], [0.083, 0.114])
ENGINE = replace(SIX, compression_ratio=15.5, fuel_per_stroke=3.0e-4, speed_limit=3500.0 * RPM)
POINTS = points(
    ENGINE, PLACE, PLUMBING, (duty(800.0 * HP, 3200.0, low=1600.0 * RPM, high=3500.0 * RPM, smoke_lambda=1.1),)
)


def pair(gate: Array, low_gate: float = 0.0, low_ratio: float = 1.25) -> tuple[Machines, Machines]:
    count = len(gate)
    low = machines(
        {
            "wheel": np.ones(count, dtype=np.int64),
            "compressor_exducer": 0.114,
            "turbine_inducer": 0.096,
            "turbine_exducer": 0.086,
            "housing_ratio": low_ratio,
            "gate_bore": low_gate,
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
    assert_allclose(found.low.pressure_ratio * found.high.pressure_ratio, whole.pressure_ratio, rtol=1e-9)
    charge = whole.boost * volumetric_efficiency(ENGINE, whole.boost, POINTS.speed) * cycles(ENGINE, POINTS.speed)
    assert_allclose(charge / (air.AIR_GAS_CONSTANT * whole.charge_temperature), whole.air, rtol=1e-6)
    made = brake_power(ENGINE, whole.fuel, whole.lam, POINTS.speed, whole.boost, whole.drive_pressure)
    assert_allclose(made, whole.power, rtol=1e-9)
    inlet = found.low.pressure_ratio * whole.inlet_pressure - between.resistance * whole.air**2
    assert_allclose(found.high.inlet_pressure, inlet, rtol=1e-9)
    assert np.all(found.low.drive_pressure < whole.drive_pressure)
    assert np.all(found.low.drive_pressure > whole.turbine_outlet_pressure)


def random_pairs(seed: int, count: int) -> tuple[Any, ...]:
    """A random engine, place, duty and pairs, many of which have gates on both stages; most don't suit the engine."""
    random = np.random.default_rng(seed)
    inducer = random.uniform(0.045, 0.075, 20)
    inducer = np.append(inducer, inducer * random.uniform(1.2, 1.75, 20))
    exducer = inducer / random.uniform(0.68, 0.76, 40)

    def stage(wheel: Any) -> Machines:
        turbine_wheel = exducer[wheel] * random.uniform(0.78, 0.95, count)
        return machines(
            {
                "wheel": wheel,
                "compressor_exducer": exducer[wheel],
                "turbine_inducer": turbine_wheel,
                "turbine_exducer": turbine_wheel * random.uniform(0.82, 0.92, count),
                "housing_ratio": random.uniform(0.6, 1.4, count),
                "gate_bore": np.where(random.random(count) < 0.7, random.uniform(0.02, 0.06, count), 0.0),
            }
        )

    wheel = random.integers(0, 20, count)
    engine = replace(ENGINE, displacement=random.uniform(5e-3, 9e-3))
    place = Place(random.uniform(75e3, 102e3), random.uniform(260.0, 315.0))
    asked = duty(random.uniform(500.0, 1000.0) * HP, 3200.0, low=1500.0 * RPM, high=3500.0 * RPM, smoke_lambda=1.1)
    grid = points(engine, place, PLUMBING, (asked,), count=8)
    grid = grid.only(grid.of("strip"))
    return engine, place, PLUMBING, grid, stage(wheel + 20), stage(wheel), table_for(inducer, exducer)


@settings(max_examples=5)
@given(st.integers(0, 2**31), st.sampled_from([Between(), Between(0.7, 12_000.0)]))
def test_each_stage_keeps_mass_and_energy(seed: int, between: Between) -> None:
    """To 1e-6 in every stage of random pairs, from the figures alone: gas through wheel and gate, turbine and
    compressor power, and what one stage hands to the other."""
    engine, place, plumbing, grid, low, high, tables = random_pairs(seed, 30)
    found = match_series(engine, place, plumbing, grid, low, high, tables, between)
    ok = found.whole.converged
    assert ok.mean() > 0.93  # of thirty random pairs one or two don't light at every speed
    burnt = gas.burnt_share(found.whole.lam)
    constant, total = gas.gas_constant(burnt), found.whole.air + found.whole.fuel
    for stage, made in ((found.low, low), (found.high, high)):
        wide = replace(made, **{f.name: np.asarray(getattr(made, f.name))[:, None] for f in fields(made)})
        area = turbine.effective_area(wide)
        through = turbine.swallowed(
            area, stage.drive_pressure, stage.exhaust_temperature, constant, stage.expansion_ratio, MODEL
        )
        assert_allclose(through[ok], (total * (1.0 - stage.gate_share))[ok], rtol=1e-6)
        most = turbine.gate_area(wide) / (area + turbine.gate_area(wide))
        assert np.all(stage.gate_share[ok] <= np.broadcast_to(most, ok.shape)[ok] + 1e-9)
        heat = gas.specific_heat(0.93 * stage.exhaust_temperature, burnt)
        drop = heat * stage.exhaust_temperature * (1.0 - stage.expansion_ratio ** (-constant / heat))
        off = np.abs(through * drop * stage.turbine_efficiency - stage.shaft_power)
        floor = 0.01 * stage.air * MODEL.air_specific_heat * place.temperature
        assert np.all((off / np.maximum(stage.shaft_power, floor))[ok] < 1e-6)
    assert_allclose(found.low.exhaust_temperature[ok], found.high.turbine_outlet_temperature[ok], rtol=1e-9)
    assert_allclose(found.low.drive_pressure[ok], found.high.turbine_outlet_pressure[ok], rtol=1e-12)
    held = ok & found.low.at_target
    setting = (grid.boost_target / place.pressure) ** between.low_share
    assert_allclose(found.low.pressure_ratio[held], np.broadcast_to(setting, ok.shape)[held], rtol=1e-7)
    shut = ok & ~found.low.at_target & (found.low.gate_share == 0.0)
    gated = np.broadcast_to((low.gate_bore > 0.0)[:, None], ok.shape)
    assert np.all((found.low.pressure_ratio <= setting * (1.0 + 1e-7))[shut & gated])


def test_gate_of_the_low_stage_unloads_it() -> None:
    """A tight housing behind the low stage, with and without its gate: with it the low shaft turns slower and the high
    stage takes its part again, at the same boost."""
    free, gated = (
        match_series(ENGINE, PLACE, PLUMBING, POINTS, *pair(np.array([0.06]), bore, 0.85), TABLES)
        for bore in (0.0, 0.055)
    )
    at = int(POINTS.at_goal.argmax())
    assert free.whole.converged[0, at]
    assert gated.low.at_target[0, at]
    assert gated.low.shaft_speed[0, at] < 0.97 * free.low.shaft_speed[0, at]
    assert gated.high.pressure_ratio[0, at] > free.high.pressure_ratio[0, at]
    assert gated.low.gate_share[0, at] > 0.05


def pedal_at(speed: float) -> tuple[Any, ...]:
    need = POINTS.boost_target[:1]
    return np.array([speed]), need, POINTS.fuel_asked[POINTS.at_goal][:1] * speed / (3200.0 * RPM), np.array([1.1])


def test_spool_time_of_two_rotors_by_another_integrator() -> None:
    """scipy's LSODA on the same two equations of motion, with the tip speeds inverted by fsolve: within 6 %."""
    low, high = pair(np.array([0.0]))
    speed, need, fuel, lam = pedal_at(2200.0 * RPM)
    found = spool_time_series(ENGINE, PLACE, PLUMBING, low, high, TABLES, speed, need, fuel, lam)
    light, full, wanted = light_and_full(PLACE, speed, need, fuel, lam, MODEL)
    start = match_series(ENGINE, PLACE, PLUMBING, light, low, high, TABLES)
    cases = [lay_out(ENGINE, PLACE, PLUMBING, full, m, TABLES, MODEL)[1] for m in (low, high)]
    both = Pair(*cases, Between())
    inertia = [float(rotor_inertia(m)[0]) for m in (low, high)]

    def look(y: Array) -> Any:
        return state_at(both, y[:1], y[1:], shut(1))

    def rates(y: Array) -> Array:
        state = look(y)
        tips = float(state.low.tip[0]), float(state.high.tip[0])
        return 2.0 * np.array([tips[0] / 0.114, tips[1] / 0.083])

    y = np.log([start.low.pressure_ratio[0, 0], start.high.pressure_ratio[0, 0]])

    def at(turning: Array) -> Any:
        return look(fsolve(lambda at: rates(at) - turning, y + 0.5, xtol=1e-9))

    def slope(_: float, turning: Array) -> Array:
        state = at(turning)
        power = state.flow[0] * np.array([state.low_surplus[0], state.high_surplus[0]])
        return power / (np.array(inertia) * turning)

    def stands(_: float, turning: Array) -> float:
        return float(at(turning).boost[0] - wanted[0])

    stands.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(slope, (0.0, 20.0), rates(y), method="LSODA", rtol=1e-4, events=stands, max_step=0.05)
    assert run.t_events[0].size == 1
    assert found[0] == pytest.approx(run.t_events[0][0], rel=0.06)


def test_spool_time_of_a_pair_grows_with_inertia_and_falls_with_engine_speed() -> None:
    """Both rotors twice as heavy take twice the time; the pair lights sooner at a higher engine speed."""
    low, high = pair(np.array([0.0]))
    heavy = replace(
        MODEL, compressor_inertia=2.0 * MODEL.compressor_inertia, turbine_inertia=2.0 * MODEL.turbine_inertia
    )
    asked = ENGINE, PLACE, PLUMBING, low, high, TABLES
    plain = spool_time_series(*asked, *pedal_at(2200.0 * RPM))
    assert spool_time_series(*asked, *pedal_at(2200.0 * RPM), model=heavy) == pytest.approx(2.0 * plain, rel=1e-6)
    assert spool_time_series(*asked, *pedal_at(2600.0 * RPM))[0] < plain[0]
    assert np.isinf(spool_time_series(*asked, *pedal_at(1000.0 * RPM)))[0]


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
    fastest = max(both.low.tip_speed[0, best], both.high.tip_speed[0, best])
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
