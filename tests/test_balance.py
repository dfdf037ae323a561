"""The match: conservation, a second route by scipy, the trade's monotonies, gates, similarity, shapes."""

import math
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matching_cases import HP, RPM, SIX, Array, Bench, bench, duty, random_bench, single
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from advisor.matching import air, gas, turbine
from advisor.matching.balance import TOLERANCE, Match, lay_out, match
from advisor.matching.engine import brake_power, cycles, exhaust, fuel_limit, volumetric_efficiency
from advisor.matching.inputs import Place, Plumbing
from advisor.matching.model import MODEL
from advisor.matching.shaft import attempt
from advisor.matching.standing import stands_from

K = air.AIR_GAS_CONSTANT / float(MODEL.air_specific_heat)


def column(values: Array) -> Array:
    return np.asarray(values)[..., None]


@settings(max_examples=12)
@given(st.integers(0, 2**31))
def test_mass_and_energy_are_kept(seed: int) -> None:
    """To 1e-6 at every converged point of 2,000 random engines and as many machines in all, every engine of an example
    with every machine of it, worked out again from the figures alone."""
    on = random_bench(seed, engines=170, candidates=170, speeds=2)
    found = on.match()
    ok = found.converged
    made = replace(on.machines, **{f.name: column(getattr(on.machines, f.name)) for f in fields(on.machines)})
    total = found.air + found.fuel
    burnt = gas.burnt_share(found.lam)
    constant = gas.gas_constant(burnt)
    # gas: what turbine and gate swallow is what the engine gives
    wheel = turbine.swallowed(
        turbine.effective_area(made),
        found.drive_pressure,
        found.exhaust_temperature,
        constant,
        found.expansion_ratio,
        MODEL,
    )
    assert_allclose(wheel[ok], (total * (1.0 - found.gate_share))[ok], rtol=1e-6)
    assert np.all((found.gate_share >= 0.0) & (found.gate_share < 1.0))
    open_gate = turbine.gate_area(made) / (turbine.effective_area(made) + turbine.gate_area(made))
    assert np.all(found.gate_share <= open_gate + 1e-9)
    # shaft: turbine power = compressor power
    heat = gas.specific_heat(0.93 * found.exhaust_temperature, burnt)
    drop = heat * found.exhaust_temperature * (1.0 - found.expansion_ratio ** (-constant / heat))
    lift = found.compressor_outlet_temperature - on.place.temperature
    power = found.air * MODEL.air_specific_heat * lift
    floor = 0.01 * found.air * MODEL.air_specific_heat * on.place.temperature
    assert np.all((np.abs(wheel * drop * found.turbine_efficiency - power) / np.maximum(power, floor))[ok] < 1e-6)
    # gas enthalpy: what leaves the turbine lacks just the shaft's power
    left = gas.enthalpy(found.exhaust_temperature, burnt) - gas.enthalpy(found.turbine_outlet_temperature, burnt)
    assert np.all((np.abs(total * left - power) / (total * 1150.0 * found.exhaust_temperature))[ok] < 1e-6)
    # compressor and charge air
    ideal = on.place.temperature * (found.pressure_ratio**K - 1.0)
    assert_allclose((ideal / found.compressor_efficiency)[ok], lift[ok], rtol=1e-6)
    charge = found.boost * volumetric_efficiency(on.engine, found.boost, on.points.speed)
    drawn = charge * cycles(on.engine, on.points.speed) / (air.AIR_GAS_CONSTANT * found.charge_temperature)
    assert_allclose(drawn[ok], found.air[ok], rtol=1e-6)
    state = exhaust(on.engine, found.air, found.fuel, found.charge_temperature, on.place.temperature)
    assert_allclose(state.temperature[ok], found.exhaust_temperature[ok], rtol=1e-9)
    brake = brake_power(on.engine, found.fuel, found.lam, on.points.speed, found.boost, found.drive_pressure)
    assert_allclose(brake, found.power, rtol=1e-9)


def test_many_random_points_are_solved_or_marked() -> None:
    """No NaN, fewer than 1 in 10,000 not converged; the benchmark does the same over a million points."""
    on = random_bench(11, engines=20, candidates=250, speeds=20)
    found = on.match()
    for f in fields(Match):
        assert np.isfinite(getattr(found, f.name)).all(), f.name
    assert found.residual[found.converged].max() <= TOLERANCE
    assert (~found.converged).mean() < 1e-4


def test_a_second_route_by_bracketing_one_point_at_a_time() -> None:
    """The same physics written anew with scalars, nested brentq for the charge and the shaft: same pressure ratio."""
    made, tables = single(turbine_inducer=np.array([0.070, 0.074, 0.080]), housing_ratio=np.array([0.75, 0.9, 1.1]))
    on = bench(made=(made, tables))
    found = on.match()
    area = turbine.effective_area(made)
    for i in range(3):
        for k in range(0, 12, 3):
            ratio = _alone(on, float(area[i]), float(made.turbine_inducer[i]), k, found.pressure_ratio[i, k])
            assert ratio == pytest.approx(found.pressure_ratio[i, k], rel=2e-6)


def _alone(on: Bench, area: float, turbine_inducer: float, k: int, near: float) -> float:
    """Pressure ratio of an ungated machine at one point, searched near the one given."""
    speed, outside, pressure = float(on.points.speed[k]), float(on.place.temperature), float(on.place.pressure)
    most = min(float(on.points.fuel_asked[k]), float(fuel_limit(on.engine, speed)))
    sound = math.sqrt(1.4 * air.AIR_GAS_CONSTANT * outside)
    plumbing = on.plumbing

    def air_side(ratio: float, flow: float) -> tuple[float, float, float, float]:
        """Flow that the manifold draws, charge temperature, rise over the compressor, tip Mach number."""
        inlet = pressure - float(plumbing.filter_resistance) * flow**2
        number = flow * air.AIR_GAS_CONSTANT * outside / (inlet * sound * 0.088**2)
        efficiency, mach = on.tables.at(np.array([0]), np.array([number]), np.array([ratio]))
        rise = outside * (ratio**K - 1.0) / float(efficiency[0])
        warm = outside + rise
        medium = outside + float(plumbing.coolant_rise)
        charge = warm - float(plumbing.cooler_effectiveness) * max(warm - medium, 0.0)
        boost = ratio * inlet - float(plumbing.cooler_resistance) * flow**2
        density = boost / (air.AIR_GAS_CONSTANT * charge)
        drawn = float(volumetric_efficiency(on.engine, boost, speed) * cycles(on.engine, speed)) * density
        return drawn, charge, rise, float(mach[0])

    def surplus(ratio: float) -> float:
        flow = brentq(lambda m: air_side(ratio, m)[0] - m, 0.01, 0.9, xtol=1e-13, rtol=1e-13)
        _, charge, rise, mach = air_side(ratio, flow)
        fuel = min(most, flow / (float(on.points.smoke_lambda[k]) * 14.5))
        state = exhaust(on.engine, flow, fuel, charge, outside)
        hot, burnt, total = float(state.temperature), float(state.burnt), flow + fuel
        constant, heat = float(gas.gas_constant(burnt)), float(gas.specific_heat(0.93 * hot, burnt))
        behind = pressure + float(plumbing.exhaust_resistance) * total**2
        swallow = area * 0.6859 * behind / math.sqrt(constant * hot)
        expansion = brentq(
            lambda e: swallow * e * math.sqrt(1.0 - e**-2.3633) - total, 1.0, 50.0, xtol=1e-14, rtol=1e-14
        )
        drop = heat * hot * (1.0 - expansion ** (-constant / heat))
        blade = mach * sound * turbine_inducer / 0.088 / math.sqrt(2.0 * drop)
        made = total * drop * max(0.7075 - 2.0245 * (blade - 0.622) ** 2, 0.10)
        return made - flow * float(MODEL.air_specific_heat) * rise

    return float(brentq(surplus, near - 0.02, near + 0.02, xtol=1e-12, rtol=1e-13))


def test_the_lowest_balance_is_taken() -> None:
    """No point has a change from plus to minus before the one that was found, looked for on a fine grid."""
    on = random_bench(5, engines=5, candidates=60, speeds=6)
    found = on.match()
    free = found.converged & ~found.at_target & (found.gate_share == 0.0)
    shape, case = lay_out(on.engine, on.place, on.plumbing, on.points, on.machines, on.tables, on.model)
    end = np.log(found.pressure_ratio).reshape(-1)
    earlier = np.zeros(end.size, bool)
    for share in np.linspace(0.02, 0.98, 60):
        efficiency = np.full(end.size, 0.7)
        for _ in range(6):
            trial = attempt(case, end * share, efficiency, None, 0.0)
            efficiency = trial.air.efficiency
        earlier |= trial.surplus < 0.0
    assert (earlier.reshape(shape) & free).mean() < 1e-3


def test_open_gate_holds_and_small_gate_creeps() -> None:
    made = single(gate_bore=np.array([0.0, 0.010, 0.045]), turbine_inducer=0.070, housing_ratio=0.7)
    on = bench(made=made)
    found = on.match()
    target = on.points.boost_target[0]
    none, small, wide = (found.boost[i, 11] for i in range(3))
    assert none > small > target * 1.02
    assert wide == pytest.approx(target, rel=1e-7)
    assert found.at_target[2, 11]
    assert not found.at_target[:2, 11].any()
    assert found.gate_flow_margin[1, 11] < 0.0 < found.gate_flow_margin[2, 11]
    assert np.all(found.boost[2] <= target * (1.0 + 1e-7))


def test_smaller_housings_spool_earlier_with_more_drive_pressure_and_speed() -> None:
    """Common practice, no source: smaller A/R and smaller wheels come in earlier and push back harder."""
    by_housing = bench(made=single(housing_ratio=np.linspace(0.6, 1.4, 9)))
    by_wheel = bench(
        made=single(turbine_inducer=np.linspace(0.066, 0.082, 9), turbine_exducer=np.linspace(0.058, 0.072, 9))
    )
    for on in (by_housing, by_wheel):
        found = on.match()
        asked = on.engine, on.place, on.plumbing, on.points, on.machines, on.tables
        stands = stands_from(*asked, found, np.array([[2.0e5]]))[:, 0]
        assert np.all(np.diff(stands) > 0.0)
        assert np.all(np.diff(found.drive_pressure[:, 11]) < 0.0)
        assert np.all(np.diff(found.shaft_speed[:, 11]) < 0.0)


def test_thin_air_turns_the_shaft_faster_at_the_same_boost() -> None:
    """Common practice, no source."""
    speeds = []
    for pressure in (101e3, 90e3, 80e3):
        on = bench(place=Place(pressure, 298.0), made=single(gate_bore=0.045, housing_ratio=0.7))
        on = replace(on, points=replace(on.points, boost_target=np.full(24, 2.6e5)))
        found = on.match()
        assert found.at_target[0, 10]
        speeds.append(float(found.shaft_speed[0, 10]))
    assert speeds == sorted(speeds)


def test_more_fuel_is_hotter_at_the_same_boost() -> None:
    """Common practice, no source: unless more air comes with it."""
    found = [
        bench(duties=(duty(power=p * HP, smoke_lambda=1.05),), made=single(gate_bore=0.05, housing_ratio=0.7))
        for p in (350.0, 400.0, 450.0)
    ]
    held = [replace(on, points=replace(on.points, boost_target=np.full(24, 2.8e5))).match() for on in found]
    assert all(m.at_target[0, 8] for m in held)
    heat = [float(m.exhaust_temperature[0, 8]) for m in held]
    assert heat == sorted(heat)
    assert heat[2] - heat[0] > 30.0


def test_similarity() -> None:
    """Lengths s times, areas and flows s^2, losses 1/s^4, shaft speed 1/s: the same pressure ratio and efficiency."""
    s = 1.6
    model = replace(MODEL, manifold_cooling=0.0)
    made, tables = single()
    on = replace(bench(made=(made, tables)), model=model)
    big = replace(SIX, displacement=SIX.displacement * s**2)
    losses = Plumbing()
    plumbing = replace(
        losses,
        filter_resistance=losses.filter_resistance / s**4,
        cooler_resistance=losses.cooler_resistance / s**4,
        exhaust_resistance=losses.exhaust_resistance / s**4,
    )
    larger = replace(
        made,
        compressor_exducer=s * made.compressor_exducer,
        turbine_inducer=s * made.turbine_inducer,
        turbine_exducer=s * made.turbine_exducer,
        housing_ratio=s * made.housing_ratio,
    )
    points = replace(on.points, fuel_asked=s**2 * on.points.fuel_asked)
    engine = replace(big, fuel_per_stroke=s**2 * SIX.fuel_per_stroke, fuel_flow=s**2 * SIX.fuel_flow)
    scaled = Bench(engine, on.place, plumbing, points, larger, tables, model).match()
    plain = on.match()
    assert_allclose(scaled.pressure_ratio, plain.pressure_ratio, rtol=1e-7)
    assert_allclose(scaled.compressor_efficiency, plain.compressor_efficiency, rtol=1e-6)
    assert_allclose(scaled.shaft_speed, plain.shaft_speed / s, rtol=1e-7)
    assert_allclose(scaled.power, s**2 * plain.power, rtol=1e-6)


def test_twins_are_two_machines_on_half_the_gas() -> None:
    one = single(gate_bore=0.03)
    two = (replace(one[0], parallel=np.array([2.0])), one[1])
    halved = replace(SIX, displacement=SIX.displacement / 2.0)
    thin = Plumbing(32_000.0, 200_000.0, 160_000.0)
    asked = duty(power=500.0 * HP)
    model = replace(MODEL, manifold_cooling=0.0)
    whole = replace(bench(made=two, duties=(asked,)), model=model)
    half = replace(whole, engine=halved, plumbing=thin, machines=one[0])
    half = replace(half, points=replace(whole.points, fuel_asked=whole.points.fuel_asked / 2.0))
    engine = replace(SIX, fuel_per_stroke=1.0)
    whole, half = replace(whole, engine=engine), replace(half, engine=replace(halved, fuel_per_stroke=1.0))
    assert_allclose(whole.match().pressure_ratio, half.match().pressure_ratio, rtol=1e-7)


def test_draws_in_front_give_the_same_as_one_by_one() -> None:
    on = random_bench(3, engines=4, candidates=7, speeds=5)
    together = on.match()

    def one(group: Any, d: int) -> Any:
        cut = {
            f.name: np.asarray(getattr(group, f.name))[d].item()
            for f in fields(group)
            if np.ndim(getattr(group, f.name))
        }
        return replace(group, **cut)

    for d in range(4):
        points = replace(
            on.points,
            **{
                n: getattr(on.points, n)[d, 0]
                for n in ("speed", "fuel_asked", "smoke_lambda", "boost_target", "boost_needed")
            },
        )
        alone = Bench(one(on.engine, d), one(on.place, d), one(on.plumbing, d), points, on.machines, on.tables).match()
        assert alone.boost.shape == (7, 5)
        assert_allclose(alone.pressure_ratio, together.pressure_ratio[d], rtol=1e-6)


def test_blocks_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    on = random_bench(8, engines=3, candidates=20, speeds=6)
    whole = on.match()
    monkeypatch.setattr("advisor.matching.balance._CHUNK", 50)
    assert_allclose(on.match().power, whole.power, rtol=1e-6, atol=1.0)


def test_speed_limit_shows_as_a_negative_margin() -> None:
    on = bench(made=single(turbine_inducer=0.066, housing_ratio=0.6, tip_speed_limit=np.array([520.0])))
    found = on.match()
    assert found.tip_speed_margin.min() < 0.0
    assert_allclose(found.tip_speed * (1.0 + found.tip_speed_margin), 520.0, rtol=1e-9)
    assert_allclose(found.shaft_speed * 0.088 / 2.0, found.tip_speed, rtol=1e-12)
    assert found.boost[0, 0] < found.boost[0, 6]
    assert found.power.max() / HP > 300.0
    assert on.points.speed[0] == pytest.approx(1400.0 * RPM)


def same(one: Match, other: Match) -> None:
    """Both give the same wherever both converged, and they converge at the same points."""
    assert np.array_equal(one.converged, other.converged)
    for field in fields(Match):
        values = (np.where(one.converged, getattr(found, field.name), 0.0) for found in (one, other))
        assert_allclose(*values, rtol=2e-6, atol=1e-6, err_msg=field.name)


def several_gates(seed: int) -> Bench:
    """Six machines, each with no gate, a far too small one, two that creep here and there, and a large one."""
    on = random_bench(seed, engines=1, candidates=6, speeds=7)
    bores = np.array([0.0, 0.008, 0.018, 0.025, 0.06])
    rows = np.repeat(np.arange(6), len(bores))
    return replace(on, machines=replace(on.machines.rows(rows), gate_bore=np.tile(bores, 6)))


@pytest.mark.parametrize("seed", [1, 2])
def test_machines_that_differ_in_their_gate_alone_come_out_as_if_matched_alone(seed: int) -> None:
    on = several_gates(seed)
    together = on.match()
    held, creeping = together.at_target, (together.gate_share > 0.0) & ~together.at_target
    assert held.any()
    assert creeping.any()
    for row in range(len(on.machines)):
        rows = np.array([row])
        alone, beside = replace(on, machines=on.machines.rows(rows)).match(), together.rows(rows)
        same(alone, beside)
        sure = alone.converged
        for field in fields(Match):  # to the last bit
            assert np.array_equal(getattr(alone, field.name)[sure], getattr(beside, field.name)[sure]), field.name


@pytest.mark.parametrize("seed", [1, 2])
def test_a_lower_gate_comes_out_the_same_with_what_a_higher_one_found(seed: int) -> None:
    on = several_gates(seed)
    on = replace(on, points=replace(on.points, boost_target=on.points.boost_target * 1.3))
    higher = on.match()
    for share in (0.9, 0.7, 0.5):
        lower = replace(on.points, boost_target=on.points.boost_target * share)
        asked = (on.engine, on.place, on.plumbing, lower, on.machines, on.tables)
        same(match(*asked, higher=higher), match(*asked))


@pytest.mark.parametrize("seed", [1, 2])
def test_no_point_depends_on_what_is_matched_beside_it(seed: int) -> None:
    """To the last bit, so that many situations may be matched at once and each comes out as alone."""
    on, chance = several_gates(seed), np.random.default_rng(seed)
    whole = on.match()
    for count in (1, 2, 11):
        rows = chance.choice(len(on.machines), count, replace=False)
        part = replace(on, machines=on.machines.rows(rows)).match()
        for field in fields(Match):
            some = getattr(whole, field.name)[..., rows, :]
            assert np.array_equal(getattr(part, field.name), some, equal_nan=True), field.name
