"""The equations of two machines in series at trial pressure ratios, and the search for their balance.

As in `shaft` and `search`, but with two unknowns: the logarithms of the low and the high stage's pressure
ratio. Each turbine may have its gate: the high stage's holds the boost, the low stage's the pressure between the
stages.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from advisor.matching import air, gas
from advisor.matching import engine as cylinder
from advisor.matching.inputs import Array, Bools
from advisor.matching.search import opening
from advisor.matching.shaft import GAMMA, Case, Hot, drawn_flow, expand, head

_SCAN = (0.04, 0.1, 0.18, 0.28, 0.4, 0.55, 0.75, 1.0)
CEILING = float(np.log(8.0))
_SETTLE = 30
_SECANTS = 12
_NEWTON = 12
_OPENING = 40
_CHANGES = 4
_STEP = 1e-5
NEARLY_NONE = 0.01
_LOOSE = 3e-5
_ROUGH = 30.0
"""Surplus [J per kg of air] at which the nested search hands over to Newton's steps."""


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between the stages.

    effectiveness  of the cooler between them; 0: none
    resistance     loss of pipe and cooler [Pa s2/kg2]
    low_share      share of the logarithm of the whole pressure ratio at which the low stage's own gate, if it has
                   one, starts to hold: a little over half (common practice, no source)
    """

    effectiveness: float = 0.0
    resistance: float = 5_000.0
    low_share: float = 0.55


@dataclass(frozen=True, slots=True)
class Pair:
    low: Case
    high: Case
    between: Between

    def pick(self, chosen: Any) -> "Pair":
        """The same for some of the points."""
        return replace(self, low=self.low.pick(chosen), high=self.high.pick(chosen))


@dataclass(slots=True)
class Gates:
    """What the gates do, each of shape (P,).

    high, low  opened area [m2] of the high and the low stage's gate
    held       True where the low stage's gate holds the pressure between the stages: its area then follows
    """

    high: Array
    low: Array
    held: Bools

    def pick(self, chosen: Any) -> "Gates":
        return Gates(self.high[chosen], self.low[chosen], self.held[chosen])


def shut(count: int) -> Gates:
    return Gates(np.zeros(count), np.zeros(count), np.zeros(count, bool))


@dataclass(slots=True)
class Stage:
    """One stage at a trial: state of the air in its compressor, whose tip Mach number is by the sound in its inlet; gas
    before and behind its turbine, area opened by its gate, expansion ratio, efficiency and power of its wheel."""

    ratio: Array
    efficiency: Array
    inlet: Array
    inlet_temperature: Array
    outlet_temperature: Array
    number: Array
    mach: Array
    tip: Array
    hot: Hot
    opened: Array
    expansion: Array
    wheel: Array
    power: Array

    def surplus(self, flow: Array) -> Array:
        """Turbine less compressor power [J per kg of air]."""
        return np.asarray((self.power - self.hot.asked) / flow)


@dataclass(slots=True)
class State:
    """Everything at a trial of both pressure ratios.

    off       how far the efficiencies still are from the tables
    low_need  gate area [m2] that would leave the low turbine just its compressor's power (where its gate holds)
    """

    low: Stage
    high: Stage
    boost: Array
    off: Array
    flow: Array
    charge: Array
    low_need: Array

    @property
    def low_surplus(self) -> Array:
        return self.low.surplus(self.flow)

    @property
    def high_surplus(self) -> Array:
        return self.high.surplus(self.flow)


def state_at(pair: Pair, low: Array, high: Array, gates: Gates, close: float = 1e-11) -> State:
    """Air through both stages, then gas through both turbines, the high stage's first; close: how well the efficiencies
    must agree with the tables."""
    case, model, plumbing, place = pair.low, pair.low.model, pair.low.plumbing, pair.low.place
    k = air.AIR_GAS_CONSTANT / np.asarray(model.air_specific_heat)
    outside = np.asarray(place.temperature)
    first, second = np.exp(low), np.exp(high)
    full = first * second * place.pressure
    losses = second * (first * plumbing.filter_resistance + pair.between.resistance) + plumbing.cooler_resistance
    eta_low, eta_high = np.full(full.shape, 0.72), np.full(full.shape, 0.72)
    for turn in range(_SETTLE):
        warm = outside + outside * np.expm1(k * low) / eta_low
        middle = warm - pair.between.effectiveness * np.maximum(warm - case.medium, 0.0)
        hot = middle + middle * np.expm1(k * high) / eta_high
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
        new_low = new_low * case.machines.efficiency_factor
        new_high = new_high * pair.high.machines.efficiency_factor
        off = np.maximum(np.abs(new_low - eta_low), np.abs(new_high - eta_high))
        if turn < _SETTLE - 1 and np.all(off < close):
            break
        ease = 1.0 if turn < 5 else 0.7
        eta_low, eta_high = eta_low + ease * (new_low - eta_low), eta_high + ease * (new_high - eta_high)
    mach_low, mach_high = mach_low * case.machines.speed_factor, mach_high * pair.high.machines.speed_factor
    fuel = np.minimum(case.fuel_most, flow * case.leanest)
    total = flow + fuel
    port = cylinder.exhaust(case.engine, flow, fuel, charge, outside, model)
    constant = gas.gas_constant(port.burnt)
    asked_low, asked_high = (flow * model.air_specific_heat * rise for rise in (warm - outside, hot - middle))
    spent = port.mixture.enthalpy(port.temperature) - asked_high / total
    between = replace(port, temperature=port.mixture.temperature(spent))

    def gas_side(state: cylinder.Exhaust, outlet: Array, asked: Array) -> Hot:
        heat = state.mixture.specific_heat(0.93 * state.temperature)
        return Hot(fuel=fuel, gas=total, state=state, constant=constant, heat=heat, outlet=outlet, asked=asked)

    behind = gas_side(between, place.pressure + plumbing.exhaust_resistance * total * total, asked_low)
    eased, need = gates.low, np.zeros(full.shape)
    if np.any(gates.held):
        need = opening(case, behind, mach_low, _OPENING)[0]
        eased = np.where(gates.held, np.minimum(need, case.gate), eased)
    expansion, wheel, power = expand(case, behind, mach_low, eased)
    ahead = gas_side(port, expansion * behind.outlet, asked_high)
    # `expand` takes speed against the sound outside.
    turning = mach_high * sound / pair.high.sound
    expansion_high, wheel_high, power_high = expand(pair.high, ahead, turning, gates.high)
    return State(
        low=Stage(
            ratio=first,
            efficiency=eta_low,
            inlet=inlet,
            inlet_temperature=outside + 0.0 * flow,
            outlet_temperature=warm,
            number=number_low,
            mach=mach_low,
            tip=mach_low * case.sound,
            hot=behind,
            opened=eased + 0.0 * flow,
            expansion=expansion,
            wheel=wheel,
            power=power,
        ),
        high=Stage(
            ratio=second,
            efficiency=eta_high,
            inlet=delivered,
            inlet_temperature=middle,
            outlet_temperature=hot,
            number=number_high,
            mach=mach_high,
            tip=mach_high * sound,
            hot=ahead,
            opened=gates.high + 0.0 * flow,
            expansion=expansion_high,
            wheel=wheel_high,
            power=power_high,
        ),
        boost=full - losses * flow * flow,
        off=off,
        flow=flow,
        charge=charge,
        low_need=need,
    )


def low_balance(
    pair: Pair, bottom: Array, top: Array, gates: Gates, other: Callable[[Array], Array]
) -> tuple[Array, Bools]:
    """Lowest pressure ratio of the low stage (its logarithm) at which that shaft balances, searched from bottom to
    top; other(low): logarithm of the high stage's. Where it never does, top."""
    count = top.size
    left, right = np.zeros((2, count)), np.zeros((2, count))
    left[0], left[1] = bottom, 1.0
    found = np.zeros(count, bool)
    for share in _SCAN:
        y = bottom + (top - bottom) * share
        value = state_at(pair, y, other(y), gates, _LOOSE).low_surplus
        minus = (value < 0.0) & ~found
        right = np.where(minus, (y, value), right)
        left = np.where(found | minus, left, (y, value))
        found |= minus
        if found.all():
            break
    return _between(lambda y: state_at(pair, y, other(y), gates, _LOOSE).low_surplus, left, right, found, top), found


def _between(value: Callable[[Array], Array], left: Array, right: Array, found: Bools, top: Array) -> Array:
    """Roughly where a surplus falls through zero between left and right (rows y, surplus); top where not found."""
    a, fa, b, fb = left[0], left[1], np.where(found, right[0], top), np.where(found, right[1], -1.0)
    side = np.zeros(top.size)
    y = b
    for _ in range(_SECANTS):
        y = np.where(found, a + (b - a) * np.clip(fa / np.where(fa == fb, 1.0, fa - fb), 0.0, 1.0), top)
        now = value(y)
        if np.all((np.abs(now) < _ROUGH) | ~found):
            break
        plus = now >= 0.0
        fb = np.where(plus, np.where(side > 0.0, 0.5 * fb, fb), now)
        fa = np.where(plus, now, np.where(side < 0.0, 0.5 * fa, fa))
        a, b, side = np.where(plus, y, a), np.where(plus, b, y), np.where(plus, 1.0, -1.0)
    return y


def low_stage(
    pair: Pair, setting: Array, top: Array, opened: Array, other: Callable[[Array], Array]
) -> tuple[Array, Bools, Gates]:
    """The low stage in balance with what its own gate does: shut below its setting (logarithm of its pressure ratio,
    past `top` where it has none), holding there, wide open beyond.

    opened: area of the high stage's gate. Returns its pressure ratio, whether it balances below top, the gates.
    """
    gates = replace(shut(top.size), high=opened)
    y, found = low_balance(pair, np.zeros(top.size), np.minimum(top, setting), gates, other)
    over = np.flatnonzero(~found & (setting < top))
    if not over.size:
        return y, found, gates
    part = pair.pick(over)
    wide = replace(shut(over.size), high=opened[over], low=np.broadcast_to(part.low.gate, over.shape).copy())

    def rest(low: Array) -> Array:
        whole = top.copy()
        whole[over] = low
        return other(whole)[over]

    creeps = state_at(part, setting[over], rest(setting[over]), wide, _LOOSE).low_surplus > 0.0
    found[over], y[over], gates.held[over] = True, setting[over], ~creeps
    far = over[creeps]
    if far.size:
        gates.low[far] = wide.low[creeps]

        def beyond(low: Array) -> Array:
            whole = top.copy()
            whole[far] = low
            return other(whole)[far]

        y[far], found[far] = low_balance(pair.pick(far), setting[far], top[far], gates.pick(far), beyond)
    return y, found, gates


def high_need(pair: Pair, state: State) -> Array:
    """Gate area [m2] that leaves the high stage's turbine just its compressor's power; 0 where it has no more."""
    turning = state.high.tip / pair.high.sound
    return opening(pair.high, state.high.hot, turning, _OPENING)[0]


def both(pair: Pair, setting: Array, opened: Array) -> tuple[Array, Array, Bools, Gates]:
    """Both shafts in balance with the high stage's gate area given: lowest high-stage ratio at which its surplus turns
    negative, the low stage being balanced at each trial."""
    count = opened.size
    top = np.full(count, CEILING)
    last: list[tuple[Array, Gates]] = []

    def at(high: Array) -> Array:
        low, _, gates = low_stage(pair, setting, top, opened, lambda _: high)
        last[:] = [(low, gates)]
        return state_at(pair, low, high, gates, _LOOSE).high_surplus

    left, right = np.zeros((2, count)), np.zeros((2, count))
    left[1] = 1.0
    found = np.zeros(count, bool)
    for share in _SCAN:
        high = top * share
        value = at(high)
        minus = (value < 0.0) & ~found
        right = np.where(minus, (high, value), right)
        left = np.where(found | minus, left, (high, value))
        found |= minus
        if found.all():
            break
    high = _between(at, left, right, found, top)
    at(high)
    low, gates = last[0]
    return low, high, found, gates


def newton(
    pair: Pair, low: Array, high: Array, gates: Gates, setting: Array, target: Array, hold: Bools
) -> tuple[Array, Array]:
    """Last steps in both unknowns: the low shaft's balance (or, where its gate holds, its setting), and the high
    shaft's (or, where its gate holds, the boost)."""

    def rest(first: Array, second: Array) -> tuple[Array, Array]:
        state = state_at(pair, first, second, gates)
        return (
            np.where(gates.held, first - setting, state.low_surplus * 1e-5),
            np.where(hold, np.log(target / state.boost), state.high_surplus * 1e-5),
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


def settle(
    pair: Pair, low: Array, high: Array, gates: Gates, setting: Array, target: Array, hold: Bools
) -> tuple[Array, Array]:
    """Newton's steps, and where the low stage's gate turns out not to do what was taken (`gates` is changed then) the
    same again with what it does: shut, holding its setting, or wide open."""
    low, high = newton(pair, low, high, gates, setting, target, hold)
    for _ in range(_CHANGES):
        state = state_at(pair, low, high, gates)
        left, enough = state.low_surplus, 1e-7 * state.low.hot.asked / state.flow
        wide = gates.low > 0.0
        to_hold = np.where(wide, low < setting - 1e-9, low > setting + 1e-9) & ~gates.held
        to_shut, to_open = gates.held & (left < -enough), gates.held & (left > enough)
        wrong = np.flatnonzero(to_hold | to_shut | to_open)
        if not wrong.size:
            break
        gates.held[wrong] = to_hold[wrong]
        gates.low[wrong] = np.where(to_open, pair.low.gate, 0.0)[wrong]
        low[wrong] = np.where(to_hold, setting, low)[wrong]
        low[wrong], high[wrong] = newton(
            pair.pick(wrong), low[wrong], high[wrong], gates.pick(wrong), setting[wrong], target[wrong], hold[wrong]
        )
    return low, high
