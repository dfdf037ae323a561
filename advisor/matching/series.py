"""Two machines in series: the low-pressure one breathes outside air, the high-pressure one takes what it
delivers.

Air passes low, cooler between the stages (if there is one), high, charge cooler; gas passes high, then low.
The unknowns of a point are the logarithms of the two pressure ratios. The gate of the high-pressure turbine
holds the boost; what it passes still works in the low-pressure turbine. That one may have a gate of its own, which
holds the pressure between the stages (`Between.low_share`); without one it takes what it gets.

With cooling between the stages the least work has Pi_L/Pi_H = ((T_H/eta_H)/(T_L/eta_L))^(g/(g-1)), an
equal split if the air is cooled back to the outside (Cengel & Boles; Watson & Janota 1982, from memory); the
machines run where their shafts balance, and `best_split` says how far that is from the least work.
"""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from advisor.matching import air, gas, turbine
from advisor.matching import engine as cylinder
from advisor.matching.balance import TOLERANCE, Match, blocks, laid_out, spread
from advisor.matching.inputs import Array, Bools, Engine, Machines, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model
from advisor.matching.pair import (
    CEILING,
    NEARLY_NONE,
    Between,
    Gates,
    Pair,
    Stage,
    both,
    high_need,
    low_stage,
    settle,
    state_at,
)
from advisor.matching.shaft import GAMMA, Case, Tables

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
    """The whole as one machine, and each stage as a machine of its own; arrays (..., N, K).

    In `whole`, speeds and margins are those of the stage that is worse off; efficiency is that of the whole
    compression; turbine efficiency and gate are the high stage's. In `low` and `high`, boost is the pressure delivered
    (to the other stage, to the manifold), charge temperature what the air has behind the next cooler, and power,
    torque, fuel and lam are the engine's.
    """

    whole: Match
    low: Match
    high: Match


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
    shape, for_low = spread(engine, place, plumbing, points, low, tables, model)
    other_shape, for_high = spread(engine, place, plumbing, points, high, tables, model)
    shape = np.broadcast_shapes(shape, other_shape)
    found: list[tuple[Any, SeriesMatch]] = []
    for block in blocks(shape):
        pair = Pair(laid_out(for_low, shape, block), laid_out(for_high, shape, block), between)
        found.append((block, _solve(pair, int(np.empty(shape)[block].size))))
    return _assemble(found, shape)


def _assemble(found: list[tuple[Any, SeriesMatch]], shape: tuple[int, ...]) -> SeriesMatch:
    def joined(parts: list[tuple[Any, Match]]) -> Match:
        whole: dict[str, Any] = {f.name: np.empty(shape, bool if f.type == Bools else float) for f in fields(Match)}
        for block, part in parts:
            for name, values in whole.items():
                put = np.broadcast_to(getattr(part, name), values[block].size)
                values[block] = put.reshape(values[block].shape)
        return Match(**whole)

    names = [f.name for f in fields(SeriesMatch)]
    return SeriesMatch(**{name: joined([(block, getattr(part, name)) for block, part in found]) for name in names})


def _solve(pair: Pair, count: int) -> SeriesMatch:
    gate = np.broadcast_to(np.asarray(pair.high.gate, dtype=np.float64), (count,)).copy()
    target = np.broadcast_to(np.asarray(pair.low.points.boost_target, dtype=np.float64), (count,))
    asked = np.maximum(target / pair.low.place.pressure, 1.02)
    setting = low_setting(pair.low, pair.between, target)
    nothing = np.zeros(count)
    total = np.log(np.maximum(1.03 * asked, 1.05))
    low, lit, gates = low_stage(
        pair, setting, np.minimum(total, CEILING), nothing, lambda y: np.maximum(total - y, NEARLY_NONE)
    )
    high = np.maximum(total - low, NEARLY_NONE)
    gated = gate > 0.0
    low, high = settle(pair, low, high, gates, setting, target, gated & lit)
    state = state_at(pair, low, high, gates)
    stands = gated & lit & (state.high_surplus >= 0.0) & (high > 0.5 * NEARLY_NONE)
    need = np.where(stands, high_need(pair, state), 0.0)
    stands &= need <= gate
    gates.high = np.where(stands, need, np.where(gated & (~lit | (need > gate)), gate, 0.0))
    free = np.flatnonzero(~stands)
    if free.size:
        part = pair.pick(free)
        low[free], high[free], lit[free], found = both(part, setting[free], gates.high[free])
        low[free], high[free] = settle(
            part, low[free], high[free], found, setting[free], target[free], np.zeros(free.size, bool)
        )
        gates.low[free], gates.held[free] = found.low, found.held
    return _finish(pair, low, high, gates, need, stands, lit)


def low_setting(case: Case, between: Between, target: Array) -> Array:
    """Logarithm of the pressure ratio (P,) at which the low stage's own gate starts to hold, for the boost [Pa abs]
    that the high stage's holds; out of reach where it has none."""
    gate = np.broadcast_to(np.asarray(case.gate, dtype=np.float64), target.shape)
    asked = np.maximum(target / case.place.pressure, 1.02)
    return np.where(gate > 0.0, between.low_share * np.log(asked), 2.0 * CEILING)


def _finish(pair: Pair, low: Array, high: Array, gates: Gates, need: Array, stands: Bools, lit: Bools) -> SeriesMatch:
    state = state_at(pair, low, high, gates)
    case, flow = pair.low, state.flow
    model, place, points = case.model, case.place, case.points
    floor = 0.01 * model.air_specific_heat * place.temperature
    off = [np.abs(s.surplus(flow)) / np.maximum(s.hot.asked / flow, floor) for s in (state.low, state.high)]
    off[1] = np.where(stands, np.maximum(off[1], np.abs(state.boost / points.boost_target - 1.0)), off[1])
    residual = np.maximum(np.maximum(*off), state.off)
    converged = lit & (residual <= TOLERANCE)
    drive = state.high.expansion * state.high.hot.outlet
    burnt, lam = state.high.hot.state.burnt, state.high.hot.state.lam
    power = cylinder.brake_power(case.engine, state.low.hot.fuel, lam, points.speed, state.boost, drive, model)
    common: dict[str, Any] = {
        "air": flow,
        "fuel": state.low.hot.fuel,
        "lam": lam,
        "power": power,
        "torque": power / points.speed,
        "converged": converged,
    }

    def stage(own: Case, s: Stage, need: Array, holds: Bools, delivered: Array, behind: Array, left: Array) -> Match:
        machines = own.machines
        surge, choke = own.tables.margins(machines.wheel, s.number, s.mach / machines.speed_factor)
        before, outlet = s.hot.state.temperature, s.hot.outlet
        limit = place.pressure + model.drive_ratio_limit * np.maximum(delivered - place.pressure, 0.0)
        most = np.maximum(limit, outlet)
        able = turbine.swallowed(own.area, most, before, s.hot.constant, most / outlet, model)
        spare = np.minimum(own.gate / np.maximum(need, 0.1 * own.gate + 1e-12) - 1.0, 9.0)
        mixed = gas.enthalpy(before, burnt) - s.hot.asked / s.hot.gas
        return Match(
            pressure_ratio=s.ratio,
            inlet_pressure=s.inlet,
            boost=delivered,
            drive_pressure=s.expansion * outlet,
            turbine_outlet_pressure=outlet,
            expansion_ratio=s.expansion,
            shaft_speed=2.0 * s.tip / machines.compressor_exducer,
            tip_speed=s.tip,
            tip_speed_margin=machines.tip_speed_limit / np.maximum(s.tip, 1.0) - 1.0,
            compressor_efficiency=s.efficiency,
            turbine_efficiency=s.wheel,
            surge_margin=(1.0 + surge) / machines.surge_factor - 1.0,
            choke_margin=choke,
            exhaust_temperature=before,
            turbine_outlet_temperature=gas.temperature(mixed, burnt),
            compressor_outlet_temperature=s.outlet_temperature,
            charge_temperature=behind,
            corrected_air=air.corrected_flow(flow, s.inlet_temperature, s.inlet),
            shaft_power=s.hot.asked,
            gate_share=1.0 - own.area / (own.area + s.opened),
            gate_flow_margin=np.where(need > 0.0, spare, 9.0),
            housing_flow_margin=able / s.hot.gas - 1.0,
            at_target=holds,
            residual=left,
            **common,
        )

    held_low = np.where(gates.held, state.low_need, 0.0)
    first = stage(case, state.low, held_low, gates.held, state.high.inlet, state.high.inlet_temperature, off[0])
    second = stage(pair.high, state.high, need, stands, state.boost, state.charge, off[1])
    ratio = np.exp(low + high)
    k = air.AIR_GAS_CONSTANT / np.asarray(model.air_specific_heat)
    work = first.shaft_power + second.shaft_power
    lift = work / (flow * model.air_specific_heat)
    faster = second.tip_speed_margin < first.tip_speed_margin
    worse = {n: np.where(faster, getattr(second, n), getattr(first, n)) for n in ("shaft_speed", "tip_speed")}
    least = {
        n: np.minimum(getattr(first, n), getattr(second, n))
        for n in ("tip_speed_margin", "surge_margin", "choke_margin")
    }
    whole = replace(
        second,
        **worse,
        **least,
        pressure_ratio=ratio,
        inlet_pressure=state.low.inlet,
        turbine_outlet_pressure=state.low.hot.outlet,
        expansion_ratio=drive / state.low.hot.outlet,
        compressor_efficiency=place.temperature * np.expm1(k * np.log(ratio)) / np.maximum(lift, 1e-9),
        turbine_outlet_temperature=first.turbine_outlet_temperature,
        corrected_air=first.corrected_air,
        shaft_power=work,
        residual=residual,
    )
    return SeriesMatch(whole, first, second)
