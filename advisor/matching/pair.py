"""The equations of two machines in series at trial pressure ratios, and the search for their balance.

As in `shaft` and `search`, but with two unknowns: the logarithms of the low and the high stage's pressure
ratio.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from advisor.matching import air, gas, turbine
from advisor.matching import engine as cylinder
from advisor.matching.inputs import Array, Bools, Number
from advisor.matching.shaft import GAMMA, Case, drawn_flow, head

_SCAN = (0.04, 0.1, 0.18, 0.28, 0.4, 0.55, 0.75, 1.0)
CEILING = float(np.log(8.0))
_SETTLE = 14
_SECANTS = 12
_NEWTON = 12
_STEP = 1e-5
NEARLY_NONE = 0.01
_ROUGH = 30.0
"""Surplus [J per kg of air] at which the nested search hands over to Newton's steps."""


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between the stages: a cooler's effectiveness (0: none) and its loss [Pa s2/kg2]."""

    effectiveness: Number = 0.0
    resistance: Number = 5_000.0


@dataclass(frozen=True, slots=True)
class Pair:
    low: Case
    high: Case
    between: Between

    def pick(self, chosen: Any) -> "Pair":
        return replace(self, low=self.low.pick(chosen), high=self.high.pick(chosen))


@dataclass(slots=True)
class State:
    """Everything at a trial of both pressure ratios.

    low_surplus, high_surplus: turbine less compressor power of each shaft [J per kg of air]; off: how far the
    efficiencies still are from the tables; asked: compressor power [W]; number: flow number; through: share
    of the gas in the high turbine; between, middle: air pressure [Pa] and temperature [K] between the stages.
    """

    low_surplus: Array
    high_surplus: Array
    boost: Array
    off: Array
    low_ratio: Array
    high_ratio: Array
    flow: Array
    inlet: Array
    charge: Array
    hot: Array
    fuel: Array
    temperature: Array
    burnt: Array
    lam: Array
    constant: Array
    outlet: Array
    drive: Array
    gas_between: Array
    air_between: Array
    through: Array
    turbine: Array
    asked_low: Array
    asked_high: Array
    mach_low: Array
    mach_high: Array
    sound: Array
    number_low: Array
    number_high: Array
    middle: Array
    total: Array
    ratio_high: Array


def state_at(pair: Pair, low: Array, high: Array, opened: Array | float) -> State:
    case, model, plumbing, place = pair.low, pair.low.model, pair.low.plumbing, pair.low.place
    k = air.AIR_GAS_CONSTANT / np.asarray(model.air_specific_heat)
    outside = np.asarray(place.temperature)
    first, second = np.exp(low), np.exp(high)
    full = first * second * place.pressure
    losses = (
        second * (first * plumbing.filter_resistance + pair.between.resistance) + plumbing.cooler_resistance
    )
    eta_low, eta_high = np.full(full.shape, 0.72), np.full(full.shape, 0.72)
    for turn in range(_SETTLE):
        lift_low = outside * np.expm1(k * low) / eta_low
        warm = outside + lift_low
        middle = warm - pair.between.effectiveness * np.maximum(warm - case.medium, 0.0)
        lift_high = middle * np.expm1(k * high) / eta_high
        hot = middle + lift_high
        charge = hot - plumbing.cooler_effectiveness * np.maximum(hot - case.medium, 0.0)
        flow = drawn_flow(case, case.trapping / charge, full, losses)
        inlet = place.pressure - plumbing.filter_resistance * flow * flow
        delivered = first * inlet - pair.between.resistance * flow * flow
        sound = np.sqrt(GAMMA * air.AIR_GAS_CONSTANT * middle)
        face = np.square(pair.high.machines.compressor_exducer) * pair.high.machines.parallel
        scale = air.AIR_GAS_CONSTANT * middle / (sound * face * pair.high.machines.flow_factor)
        number_low, number_high = flow * case.flow_scale / inlet, flow * scale / delivered
        new_low, mach_low = case.tables.at_head(case.machines.wheel, number_low, head(low))
        new_high, mach_high = case.tables.at_head(pair.high.machines.wheel, number_high, head(high))
        new_low, new_high = (
            new_low * case.machines.efficiency_factor,
            new_high * pair.high.machines.efficiency_factor,
        )
        off = np.maximum(np.abs(new_low - eta_low), np.abs(new_high - eta_high))
        if turn < _SETTLE - 1 and np.all(off < 1e-11):
            break
        ease = 1.0 if turn < 6 else 0.6
        eta_low, eta_high = eta_low + ease * (new_low - eta_low), eta_high + ease * (new_high - eta_high)
    mach_low, mach_high = mach_low * case.machines.speed_factor, mach_high * pair.high.machines.speed_factor
    fuel = np.minimum(case.fuel_most, flow * case.leanest)
    total = flow + fuel
    exhaust = cylinder.exhaust(case.engine, flow, fuel, charge, outside, model)
    constant = gas.gas_constant(exhaust.burnt)
    asked_low = flow * model.air_specific_heat * lift_low
    asked_high = flow * model.air_specific_heat * lift_high
    cooler = gas.temperature(
        gas.enthalpy(exhaust.temperature, exhaust.burnt) - asked_high / total, exhaust.burnt
    )
    outlet = place.pressure + plumbing.exhaust_resistance * total * total
    ratio_low, ideal_low, eff_low = _stage(
        case, total, cooler, exhaust.burnt, outlet, mach_low * case.sound, 0.0
    )
    gas_between = ratio_low * outlet
    ratio_high, ideal_high, eff_high = _stage(
        pair.high, total, exhaust.temperature, exhaust.burnt, gas_between, mach_high * sound, opened
    )
    through = pair.high.area / (pair.high.area + opened)
    made_low, made_high = total * ideal_low * eff_low, total * through * ideal_high * eff_high
    return State(
        low_surplus=(made_low - asked_low) / flow,
        high_surplus=(made_high - asked_high) / flow,
        boost=full - losses * flow * flow,
        off=off,
        low_ratio=first,
        high_ratio=second,
        flow=flow,
        inlet=inlet,
        charge=charge,
        hot=hot,
        fuel=fuel,
        temperature=exhaust.temperature,
        burnt=exhaust.burnt,
        lam=exhaust.lam,
        constant=constant,
        outlet=outlet,
        drive=ratio_high * gas_between,
        gas_between=gas_between,
        air_between=delivered,
        through=through,
        turbine=eff_high,
        asked_low=asked_low,
        asked_high=asked_high,
        mach_low=mach_low,
        mach_high=mach_high,
        sound=sound,
        number_low=number_low,
        number_high=number_high,
        middle=middle,
        total=total,
        ratio_high=ratio_high,
    )


def _stage(
    case: Case,
    flow: Array,
    temperature: Array,
    burnt: Array,
    outlet: Array,
    rim: Array,
    opened: Array | float,
) -> tuple[Array, Array, Array]:
    """Expansion ratio, isentropic drop [J/kg] and efficiency of one turbine; rim: tip speed of its
    compressor."""
    constant, heat = gas.gas_constant(burnt), gas.specific_heat(0.93 * temperature, burnt)
    x = turbine.flow_parameter(flow, temperature, constant, case.area + opened, outlet, case.model)
    ratio = turbine.expansion_ratio(x, case.model)
    ideal = heat * temperature * -np.expm1(-constant / heat * np.log(ratio))
    tip = rim * (case.machines.turbine_inducer / case.machines.compressor_exducer)
    eff = turbine.efficiency(tip / np.sqrt(2.0 * np.maximum(ideal, 1.0)), case.model) * case.work
    return ratio, ideal, eff


def low_balance(
    pair: Pair, top: Array, opened: Array, other: Callable[[Array], Array]
) -> tuple[Array, Bools]:
    """Lowest pressure ratio of the low stage (its logarithm) at which that shaft balances, searched from 0 to
    top; other(low): logarithm of the high stage's. Where it never does, top."""
    count = top.size
    left, right = np.zeros((2, count)), np.zeros((2, count))
    left[1] = 1.0
    found = np.zeros(count, bool)
    for share in _SCAN:
        y = top * share
        value = state_at(pair, y, other(y), opened).low_surplus
        minus = (value < 0.0) & ~found
        right = np.where(minus, (y, value), right)
        left = np.where(found | minus, left, (y, value))
        found |= minus
        if found.all():
            break
    a, fa, b, fb = left[0], left[1], np.where(found, right[0], top), np.where(found, right[1], -1.0)
    side = np.zeros(count)
    y = b
    for _ in range(_SECANTS):
        y = np.where(found, a + (b - a) * np.clip(fa / np.where(fa == fb, 1.0, fa - fb), 0.0, 1.0), top)
        value = state_at(pair, y, other(y), opened).low_surplus
        if np.all((np.abs(value) < _ROUGH) | ~found):
            break
        plus = value >= 0.0
        fb = np.where(plus, np.where(side > 0.0, 0.5 * fb, fb), value)
        fa = np.where(plus, value, np.where(side < 0.0, 0.5 * fa, fa))
        a, b, side = np.where(plus, y, a), np.where(plus, b, y), np.where(plus, 1.0, -1.0)
    return y, found


def gate_need(pair: Pair, low: Array, high: Array, state: State, held: Any) -> Array:
    """Gate area [m2] that leaves the high turbine just its compressor's power: bisection on the area."""
    least, most = np.zeros(low.size), 20.0 * np.broadcast_to(np.asarray(pair.high.area), low.shape)
    for _ in range(60):
        middle = 0.5 * (least + most)
        spare = state_at(pair, low, high, middle).high_surplus >= 0.0
        least, most = np.where(spare, middle, least), np.where(spare, most, middle)
        if np.all(most - least < 1e-14):
            break
    return 0.5 * (least + most)


def both(pair: Pair, opened: Array) -> tuple[Array, Array, Bools]:
    """Both shafts in balance with the gate area given: lowest high-stage ratio at which its surplus turns
    negative, the low stage being balanced at each trial."""
    count = opened.size
    top = np.full(count, CEILING)

    def at(high: Array) -> tuple[Array, Array]:
        low, _ = low_balance(pair, top, opened, lambda _: high)
        return state_at(pair, low, high, opened).high_surplus, low

    left, right = np.zeros((2, count)), np.zeros((2, count))
    left[1] = 1.0
    found = np.zeros(count, bool)
    for share in _SCAN:
        high = top * share
        value, _ = at(high)
        minus = (value < 0.0) & ~found
        right = np.where(minus, (high, value), right)
        left = np.where(found | minus, left, (high, value))
        found |= minus
        if found.all():
            break
    a, fa, b, fb = left[0], left[1], np.where(found, right[0], top), np.where(found, right[1], -1.0)
    side, high, low = np.zeros(count), b, b
    for _ in range(_SECANTS):
        high = a + (b - a) * np.clip(fa / np.where(fa == fb, 1.0, fa - fb), 0.0, 1.0)
        value, low = at(high)
        if np.all((np.abs(value) < _ROUGH) | ~found):
            break
        plus = value >= 0.0
        fb = np.where(plus, np.where(side > 0.0, 0.5 * fb, fb), value)
        fa = np.where(plus, value, np.where(side < 0.0, 0.5 * fa, fa))
        a, b, side = np.where(plus, high, a), np.where(plus, b, high), np.where(plus, 1.0, -1.0)
    return low, high, found


def newton(
    pair: Pair, low: Array, high: Array, opened: Array, target: Array, hold: Bools
) -> tuple[Array, Array]:
    """Last steps in both unknowns: the low shaft's balance, and the high shaft's (or, where held, the
    boost)."""

    def rest(first: Array, second: Array) -> tuple[Array, Array]:
        state = state_at(pair, first, second, opened)
        return state.low_surplus * 1e-5, np.where(
            hold, np.log(target / state.boost), state.high_surplus * 1e-5
        )

    for _ in range(_NEWTON):
        f, g = rest(low, high)
        if np.all((np.abs(f) < 1e-11) & (np.abs(g) < 1e-12)):
            break
        f1, g1 = rest(low + _STEP, high)
        f2, g2 = rest(low, high + _STEP)
        a, b, c, d = (f1 - f) / _STEP, (f2 - f) / _STEP, (g1 - g) / _STEP, (g2 - g) / _STEP
        det = a * d - b * c
        det = np.where(np.abs(det) < 1e-12, 1.0, det)
        low = np.clip(low - np.clip((d * f - b * g) / det, -0.1, 0.1), 1e-6, CEILING)
        high = np.clip(high - np.clip((a * g - c * f) / det, -0.1, 0.1), 1e-6, CEILING)
    return low, high
