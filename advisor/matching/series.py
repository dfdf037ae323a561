"""Two machines in series: the low-pressure one breathes outside air, the high-pressure one takes what it
delivers.

Air passes low, cooler between the stages (if there is one), high, charge cooler; gas passes high, then low.
The unknowns of a point are the logarithms of the two pressure ratios. The gate of the high-pressure turbine
holds the boost; what it passes still works in the low-pressure turbine, whose own gate is taken as shut.

With cooling between the stages the least work has Pi_L/Pi_H = ((T_H/eta_H)/(T_L/eta_L))^(g/(g-1)), an
equal split if the air is cooled back to the outside (Cengel & Boles; Watson & Janota 1982, from memory); the
machines run where their shafts balance, and `best_split` says how far that is from the least work.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from advisor.matching import air, gas, turbine
from advisor.matching import engine as cylinder
from advisor.matching.balance import TOLERANCE, Match, blocks, spread, take
from advisor.matching.inputs import Array, Bools, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import (
    CEILING,
    NEARLY_NONE,
    Between,
    Pair,
    both,
    gate_need,
    low_balance,
    newton,
    state_at,
)
from advisor.matching.shaft import GAMMA, Case, Tables, case_of

UNCOOLED = Between()


def best_split(ratio: Number, ratio_temperature: Number = 1.0, ratio_efficiency: Number = 1.0) -> tuple[Array, Array]:
    """Pressure ratios of the low and the high stage with the least work for a total ratio with cooling
    between.

    ratio_temperature: inlet temperature of the high over that of the low stage; ratio_efficiency: efficiency
    of the high over that of the low stage.
    """
    share = (np.asarray(ratio_temperature) / ratio_efficiency) ** (GAMMA / (GAMMA - 1.0))
    low = np.sqrt(np.asarray(ratio) * share)
    return np.asarray(low), np.asarray(ratio / low)


@dataclass(frozen=True, slots=True)
class SeriesMatch:
    """The whole as one machine, and the pressure ratio, speeds and margins of each stage (..., N, K).

    In `whole`, speeds and margins are those of the stage that is worse off; efficiency is that of the whole
    compression; turbine efficiency is the high stage's.
    """

    whole: Match
    low_ratio: Array
    high_ratio: Array
    low_tip_speed: Array
    high_tip_speed: Array
    low_surge_margin: Array
    high_surge_margin: Array
    low_choke_margin: Array
    high_choke_margin: Array
    gas_between: Array
    air_between: Array
    temperature_between: Array


def match_series(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    points: Points,
    low: Machines,
    high: Machines,
    tables: Tables,
    between: Between = UNCOOLED,
    model: Model = MODEL,
) -> SeriesMatch:
    """Operating points of N pairs: row i of `low` feeds row i of `high`."""
    shape, for_low = spread(engine, place, plumbing, points, low, model)
    other_shape, for_high = spread(engine, place, plumbing, points, high, model)
    shape = np.broadcast_shapes(shape, other_shape)
    found: list[tuple[Any, SeriesMatch]] = []
    for block in blocks(shape):
        pair = Pair(
            case_of(take(for_low, shape, block), tables),
            case_of(take(for_high, shape, block), tables),
            between,
        )
        found.append((block, _solve(pair, int(np.empty(shape)[block].size))))
    return _assemble(found, shape)


def _assemble(found: list[tuple[Any, SeriesMatch]], shape: tuple[int, ...]) -> SeriesMatch:
    def whole(parts: list[tuple[Any, Any]]) -> Any:
        values = np.empty(shape, parts[0][1].dtype)
        for block, part in parts:
            values[block] = np.broadcast_to(part, values[block].size).reshape(values[block].shape)
        return values

    one = Match(**{f.name: whole([(b, getattr(s.whole, f.name)) for b, s in found]) for f in fields(Match)})
    rest = [f.name for f in fields(SeriesMatch) if f.name != "whole"]
    return SeriesMatch(one, **{name: whole([(b, getattr(s, name)) for b, s in found]) for name in rest})


def _solve(pair: Pair, count: int) -> SeriesMatch:
    gate = np.broadcast_to(np.asarray(pair.high.gate, dtype=np.float64), (count,)).copy()
    target = np.broadcast_to(np.asarray(pair.low.points.boost_target, dtype=np.float64), (count,))
    shut = np.zeros(count)
    total = np.log(np.maximum(target * 1.03 / pair.low.place.pressure, 1.05))
    low, lit = low_balance(pair, np.minimum(total, CEILING), shut, lambda y: np.maximum(total - y, NEARLY_NONE))
    high = np.maximum(total - low, NEARLY_NONE)
    gated = gate > 0.0
    low, high = newton(pair, low, high, shut, target, gated & lit)
    state = state_at(pair, low, high, shut)
    stands = gated & lit & (state.high_surplus >= 0.0) & (high > 0.5 * NEARLY_NONE)
    opened, need = np.zeros(count), np.zeros(count)
    held = np.flatnonzero(stands)
    if held.size:
        need[held] = gate_need(pair.pick(held), low[held], high[held], state, held)
        opened[held] = np.minimum(need[held], gate[held])
        stands[held] = need[held] <= gate[held]
    opened = np.where(gated & ~lit, gate, opened)  # the low stage alone makes more than the target: wide open
    free = np.flatnonzero(~stands)
    if free.size:
        part = pair.pick(free)
        low[free], high[free], lit[free] = both(part, opened[free])
        low[free], high[free] = newton(
            part, low[free], high[free], opened[free], target[free], np.zeros(free.size, bool)
        )
    return _finish(pair, low, high, opened, need, stands, lit)


def _finish(pair: Pair, low: Array, high: Array, opened: Array, need: Array, stands: Bools, lit: Bools) -> SeriesMatch:
    state = state_at(pair, low, high, opened)
    case = pair.low
    model, place, points, flow = case.model, case.place, case.points, state.flow
    floor = 0.01 * model.air_specific_heat * place.temperature
    parts = (
        (state.low_surplus, state.asked_low / flow),
        (state.high_surplus, state.asked_high / flow),
    )
    residual = np.max([np.abs(left) / np.maximum(asked, floor) for left, asked in parts], axis=0)
    residual = np.maximum(residual, state.off)
    residual = np.where(stands, np.maximum(residual, np.abs(state.boost / points.boost_target - 1.0)), residual)
    tips = state.mach_low * case.sound, state.mach_high * state.sound
    margins = [
        side.machines.tip_speed_limit / np.maximum(tip, 1.0) - 1.0
        for side, tip in zip((pair.low, pair.high), tips, strict=True)
    ]
    surge_low, choke_low = _margins(pair.low, state.number_low, state.mach_low)
    surge_high, choke_high = _margins(pair.high, state.number_high, state.mach_high)
    ratio = np.exp(low + high)
    k = air.AIR_GAS_CONSTANT / np.asarray(model.air_specific_heat)
    lift = (state.asked_low + state.asked_high) / (flow * model.air_specific_heat)
    power = cylinder.brake_power(case.engine, state.fuel, state.lam, points.speed, state.boost, state.drive, model)
    spent = (state.asked_low + state.asked_high) / state.total
    limit = place.pressure + model.drive_ratio_limit * np.maximum(state.boost - place.pressure, 0.0)
    limit = np.maximum(limit, state.gas_between)
    able = turbine.swallowed(pair.high.area, limit, state.temperature, state.constant, limit / state.gas_between, model)
    worst = margins[1] < margins[0]
    spare = np.minimum(pair.high.gate / np.maximum(need, 0.1 * pair.high.gate + 1e-12) - 1.0, 9.0)
    whole = Match(
        pressure_ratio=ratio,
        inlet_pressure=state.inlet,
        boost=state.boost,
        drive_pressure=state.drive,
        turbine_outlet_pressure=state.outlet,
        expansion_ratio=state.drive / state.outlet,
        shaft_speed=2.0
        * np.where(worst, tips[1] / pair.high.machines.compressor_exducer, tips[0] / case.machines.compressor_exducer),
        tip_speed=np.where(worst, tips[1], tips[0]),
        tip_speed_margin=np.minimum(*margins),
        compressor_efficiency=place.temperature * np.expm1(k * np.log(ratio)) / np.maximum(lift, 1e-9),
        turbine_efficiency=state.turbine,
        surge_margin=np.minimum(surge_low, surge_high),
        choke_margin=np.minimum(choke_low, choke_high),
        exhaust_temperature=state.temperature,
        turbine_outlet_temperature=gas.temperature(gas.enthalpy(state.temperature, state.burnt) - spent, state.burnt),
        compressor_outlet_temperature=state.hot,
        charge_temperature=state.charge,
        air=flow,
        corrected_air=air.corrected_flow(flow, place.temperature, state.inlet),
        fuel=state.fuel,
        lam=state.lam,
        power=power,
        torque=power / points.speed,
        shaft_power=state.asked_low + state.asked_high,
        gate_share=1.0 - state.through,
        gate_flow_margin=np.where(need > 0.0, spare, 9.0),
        housing_flow_margin=able / state.total - 1.0,
        at_target=stands,
        residual=residual,
        converged=lit & (residual <= TOLERANCE),
    )
    return SeriesMatch(
        whole=whole,
        low_ratio=state.low_ratio,
        high_ratio=state.high_ratio,
        low_tip_speed=tips[0],
        high_tip_speed=tips[1],
        low_surge_margin=surge_low,
        high_surge_margin=surge_high,
        low_choke_margin=choke_low,
        high_choke_margin=choke_high,
        gas_between=state.gas_between,
        air_between=state.air_between,
        temperature_between=state.middle,
    )


def _margins(case: Case, number: Array, mach: Array) -> tuple[Array, Array]:
    surge, choke = case.tables.margins(case.machines.wheel, number, mach / case.machines.speed_factor)
    return (1.0 + surge) / case.machines.surge_factor - 1.0, choke
