"""What the engine does with air and fuel, and what a power goal asks of the turbocharger.

Mean-value equations of a four-stroke diesel (Wahlstrom & Eriksson, Proc. IMechE D 225(7), 2011, 960-986;
Sivertsson & Eriksson, SIMS 55, 2014; Heywood, Internal Combustion Engine Fundamentals, 1988). All functions
take floats or arrays and broadcast. SI; pressures absolute; engine speed in rad/s.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.matching import air, gas
from advisor.matching.inputs import Array, Duty, Engine, Number, Place, Plumbing, Points
from advisor.matching.model import MODEL, Model

LOSS_SHARE_LIMIT = 0.5
"""Most of the pressure that a loss growing with flow squared may take; an infeasible flow else goes below
zero."""
FULL_LOAD = "full load"
"""Name of the sweep over engine speed at full fuel that the spool figures are read from."""
_BOOST_CEILING = 8.0e5
_DEMAND_PASSES, _SETTLED, _LEAST_SLOPE = 40, 1e-13, 0.1


def cycles(engine: Engine, speed: Number) -> Array:
    """Charge volume swept per second [m3/s]: displacement once in two turns."""
    return np.asarray(engine.displacement * np.asarray(speed) / (4.0 * np.pi))


def volumetric_efficiency(engine: Engine, boost: Number, speed: Number, model: Model = MODEL) -> Array:
    """Air trapped over swept volume at manifold state; boost [Pa abs], speed [rad/s].

    Form of Wahlstrom & Eriksson 2011 with the numbers of the open 6.7 L diesel, times the engine's breathing. The gas
    left in the cylinder is in that fit as the open engine had it, at drive over boost pressures of 0.9 to 1.1. What an
    ideal four-stroke cycle would take off besides, 1 - (p_drive/p_boost - 1)/(1.35 (r - 1)) (Heywood 1988, ch. 5), is
    left out: it would tie the air to the turbine in every equation, and up to a ratio of 1.5 it is at most 2.5 %, less
    than one standard deviation of `breathing_level` (the tests hold it to that).
    """
    level = model.breathing_pressure * np.sqrt(boost) + model.breathing_speed * np.sqrt(speed) + model.breathing_level
    return np.asarray(engine.breathing * level)


def fuel_limit(engine: Engine, speed: Number) -> Array:
    """Most fuel [kg/s] that injectors and pump give at an engine speed [rad/s]."""
    injected = engine.fuel_per_stroke * np.asarray(engine.cylinders) * np.asarray(speed) / (4.0 * np.pi)
    return np.asarray(np.minimum(injected, engine.fuel_flow))


def indicated_efficiency(lam: Number, model: Model = MODEL) -> Array:
    """Indicated work over fuel heat by air-fuel equivalence ratio: level until `rich_onset`, then a quadratic
    fall."""
    short = np.maximum(0.0, (model.rich_onset - np.asarray(lam)) / (np.asarray(model.rich_onset) - 1.0))
    return np.asarray(model.indicated_efficiency * np.maximum(1.0 - model.rich_loss * short * short, 0.3))


def friction_pressure(speed: Number, model: Model = MODEL) -> Array:
    """Friction mean effective pressure [Pa] at an engine speed [rad/s]."""
    w = np.asarray(speed)
    return np.asarray(model.friction_quadratic * w * w + model.friction_linear * w + model.friction_level)


def brake_power(
    engine: Engine,
    fuel: Number,
    lam: Number,
    speed: Number,
    boost: Number,
    drive: Number,
    model: Model = MODEL,
) -> Array:
    """Power at the crank [W]: indicated work less friction and pumping (drive over boost pressure)."""
    indicated = fuel * np.asarray(model.fuel_heating_value) * indicated_efficiency(lam, model)
    lost = friction_pressure(speed, model) + np.asarray(drive) - boost
    return np.asarray(indicated - lost * cycles(engine, speed))


def wall_heat_share(engine: Engine, lam: Number, model: Model = MODEL) -> Array:
    """Share of the fuel's heat that the cylinder walls take; at most 0.35."""
    rich = 2.0 / np.maximum(np.asarray(lam), 1.0)
    return np.asarray(np.minimum(engine.heat_loss_factor * model.heat_loss * rich * rich, 0.35))


def manifold_conductance(engine: Engine, model: Model = MODEL) -> Array:
    """Heat given off by manifold and ports [W/K], by surface: displacement to the power 2/3 of the fitted 6.7
    L."""
    return np.asarray(
        engine.heat_loss_factor * model.manifold_cooling * np.cbrt(np.square(np.asarray(engine.displacement) / 6.7e-3))
    )


@dataclass(frozen=True, slots=True)
class Exhaust:
    """Exhaust gas before the turbine: temperature [K], equivalence ratio, the gas and its burnt share, indicated
    efficiency."""

    temperature: Array
    lam: Array
    mixture: gas.Mixture
    burnt: Array
    indicated: Array


def exhaust(
    engine: Engine,
    air_flow: Number,
    fuel: Number,
    charge_temperature: Number,
    outside: Number,
    model: Model = MODEL,
    conductance: Number | None = None,
) -> Exhaust:
    """State before the turbine from the energy balance of the cylinder and the cooling of the manifold.

    Enthalpy out = enthalpy in + fuel heat * (1 - indicated efficiency - wall share); then towards the outside
    temperature by exp(-hA/(m cp)) (Eriksson, SAE 2002-01-0374). Against the open 6.7 L diesel: within 35 K.
    Flows in kg/s, temperatures in K; conductance: `manifold_conductance`, where it is there already.
    """
    total = np.asarray(air_flow) + fuel
    lam = air_flow / (np.asarray(fuel) * model.stoichiometric_ratio)
    burnt = gas.burnt_share(lam)
    indicated = indicated_efficiency(lam, model)
    kept = 1.0 - indicated - wall_heat_share(engine, lam, model)
    heat = fuel * np.asarray(model.fuel_heating_value) * kept
    mixture = gas.Mixture(burnt)
    port = mixture.temperature((air_flow * gas.FRESH.enthalpy(charge_temperature) + heat) / total)
    given_off = manifold_conductance(engine, model) if conductance is None else conductance
    cooling = np.exp(-given_off / (total * mixture.specific_heat(port)))
    return Exhaust(outside + (port - outside) * cooling, lam, mixture, burnt, indicated)


def peak_pressure(
    engine: Engine, boost: Number, charge_temperature: Number, lam: Number, model: Model = MODEL
) -> Array:
    """Indication of the highest cylinder pressure [Pa] by the limited-pressure cycle (Heywood 1988, ch. 5).

    Injection timing moves it by tens of bar, so it orders set-ups and is no measurement.
    """
    n = model.compression_exponent
    ratio = np.asarray(engine.compression_ratio)
    compressed = charge_temperature * ratio ** (n - 1.0)
    heat = model.fuel_heating_value / (np.asarray(lam) * model.stoichiometric_ratio + 1.0)
    rise = model.constant_volume_share * heat / (900.0 * compressed)
    return np.asarray(boost * ratio**n * (1.0 + rise))


def loss(resistance: Number, flow: Number, pressure: Number) -> Array:
    """Pressure lost [Pa] over a resistance [Pa s2/kg2], at most `LOSS_SHARE_LIMIT` of the pressure ahead of
    it."""
    return np.asarray(np.minimum(resistance * np.square(np.asarray(flow)), LOSS_SHARE_LIMIT * np.asarray(pressure)))


@dataclass(frozen=True, slots=True)
class Demand:
    """What a power at an engine speed asks for; SI, arrays that broadcast together.

    corrected_air is at 298.15 K and 100 kPa; mean_pressure is the brake mean effective pressure.
    """

    power: Array
    fuel: Array
    air: Array
    lam: Array
    boost: Array
    pressure_ratio: Array
    compressor_outlet_temperature: Array
    charge_temperature: Array
    exhaust_temperature: Array
    corrected_air: Array
    peak_pressure: Array
    mean_pressure: Array


def demand(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    power: Number,
    speed: Number,
    lam: Number,
    model: Model = MODEL,
    compressor_efficiency: Number = 0.74,
) -> Demand:
    """Air, boost and temperatures for a brake power [W] at an engine speed [rad/s] and equivalence ratio.

    The machine is not known yet: its efficiency and the ratio of drive to boost pressure
    (`assumed_drive_ratio`) are assumed. Boost beyond 8 bar absolute is cut off there.
    """
    swept = cycles(engine, speed)
    outside = np.asarray(place.temperature)
    k = air.AIR_GAS_CONSTANT / np.asarray(model.air_specific_heat)
    efficiency = indicated_efficiency(lam, model)
    medium = outside + plumbing.coolant_rise
    friction, heat = friction_pressure(speed, model), model.fuel_heating_value * efficiency

    def at(boost: Array) -> tuple[Array, ...]:
        """Fuel, air, pressures and temperatures at a manifold pressure; last the pressure that this air needs."""
        pumping = (model.assumed_drive_ratio - 1.0) * np.maximum(boost - place.pressure, 0.0)
        fuel = (power + (friction + pumping) * swept) / heat
        flow = fuel * model.stoichiometric_ratio * np.asarray(lam)
        inlet = place.pressure - loss(plumbing.filter_resistance, flow, place.pressure)
        ratio = (boost + loss(plumbing.cooler_resistance, flow, boost)) / inlet
        outlet = outside * (1.0 + (np.maximum(ratio, 1.0) ** k - 1.0) / compressor_efficiency)
        charge = outlet - plumbing.cooler_effectiveness * np.maximum(outlet - medium, 0.0)
        trapped = volumetric_efficiency(engine, boost, speed, model) * swept / (air.AIR_GAS_CONSTANT * charge)
        return fuel, flow, inlet, ratio, outlet, charge, flow / trapped

    start = np.asarray(place.pressure * np.ones(np.broadcast_shapes(np.shape(power), np.shape(swept))))
    boost = _settled(lambda boost: at(boost)[-1], start)
    fuel, flow, inlet, ratio, outlet, charge, _ = at(boost)
    ones = np.ones_like(boost)
    return Demand(
        power=power * ones,
        fuel=fuel * ones,
        air=flow * ones,
        lam=lam * ones,
        boost=boost,
        pressure_ratio=ratio * ones,
        compressor_outlet_temperature=outlet * ones,
        charge_temperature=charge * ones,
        exhaust_temperature=exhaust(engine, flow, fuel, charge, outside, model).temperature * ones,
        corrected_air=air.corrected_flow(flow, outside, inlet) * ones,
        peak_pressure=peak_pressure(engine, boost, charge, lam, model) * ones,
        mean_pressure=power / swept * ones,
    )


LIGHT, STRAINED = 1.6e6, 3.2e6
"""Brake mean pressures [Pa] up to which an engine is fuelled about as it left the factory, and from which on it is
fuelled as hard as is driven on the road (common practice, no source)."""


def chosen_lambda(engine: Engine, duty: Duty) -> Array:
    """Equivalence ratio that the boost of a duty is chosen for: from its `target_lambda` at light mean pressures down
    to its `strained_lambda` at high ones, without an edge.

    The more an engine is fuelled the less excess air is run: the air for 1.5 would ask for boost that nobody runs, and
    for a head and a compressor to stand it (common practice, no source).
    """
    if duty.strained_lambda is None:
        return np.asarray(duty.target_lambda)
    pressure = np.asarray(duty.power) / cycles(engine, duty.goal_speed)
    share = np.clip((pressure - LIGHT) / (STRAINED - LIGHT), 0.0, 1.0)
    fall = np.asarray(duty.target_lambda) - duty.strained_lambda
    return np.asarray(duty.target_lambda - fall * share * share * (3.0 - 2.0 * share))


def asked_by(engine: Engine, place: Place, plumbing: Plumbing, duty: Duty, model: Model = MODEL) -> Demand:
    """What a duty's power asks for at its goal speed, at the lambda that its boost is chosen for."""
    return demand(engine, place, plumbing, duty.power, duty.goal_speed, chosen_lambda(engine, duty), model)


def _settled(needed: Callable[[Array], Array], start: Array) -> Array:
    """The manifold pressure that asks for itself, or the ceiling: by secant steps, the first one halfway. What has
    settled stays as it is, whatever stands beside it."""
    boost, before, short_before = start, start, np.zeros_like(start)
    for _ in range(_DEMAND_PASSES):
        short = needed(boost) - boost
        done = (np.abs(short) <= _SETTLED * boost) | ((boost == _BOOST_CEILING) & (short > 0.0))
        if done.all():
            break
        moved = boost - before
        slope = np.where(moved == 0.0, -2.0, (short - short_before) / np.where(moved == 0.0, 1.0, moved))
        step = np.maximum(short / np.maximum(-slope, _LEAST_SLOPE), -0.5 * boost)
        before, short_before = boost, short
        boost = np.where(done, boost, np.minimum(boost + step, _BOOST_CEILING))
    return boost


def points(
    engine: Engine,
    place: Place,
    plumbing: Plumbing,
    duties: Sequence[Duty],
    model: Model = MODEL,
    count: int = 12,
    sweep_count: int | None = None,
) -> Points:
    """The grid of operating points: `count` speeds for each duty and `sweep_count` (else as many) for a sweep
    at full load.

    Each duty's speeds run from low to high with one column exactly at its goal speed. Fuel asked for is what
    the power needs at the goal speed: as much per stroke below it, as much per second above it. The sweep
    asks for all the fuel of the hardest duty at that duty's smoke limit. One gate setting serves the vehicle:
    the highest manifold pressure that any duty needs.
    """
    each = [asked_by(engine, place, plumbing, duty, model) for duty in duties]
    hardest = int(np.argmax([float(np.mean(a.boost)) for a in each]))
    target = np.max(np.stack(np.broadcast_arrays(*[a.boost for a in each])), axis=0)
    top = duties[hardest]
    sweep = Duty(
        name=FULL_LOAD,
        low=0.75 * np.min(np.stack(np.broadcast_arrays(*[d.low for d in duties])), axis=0),
        high=np.max(np.stack(np.broadcast_arrays(*[d.high for d in duties])), axis=0),
        goal_speed=top.goal_speed,
        power=top.power,
        smoke_lambda=top.smoke_lambda,
        target_lambda=top.target_lambda,
        strained_lambda=top.strained_lambda,
        temperature_limit=top.temperature_limit,
        weight=0.0,
    )
    every = (*duties, sweep)
    needs = [*each, each[hardest]]
    counts = [*[count] * len(duties), sweep_count or count]
    columns = [_columns(d, need, n) for d, need, n in zip(every, needs, counts, strict=True)]
    speed, fuel_asked, smoke, needed = (_side_by_side([c[i] for c in columns]) for i in range(4))
    return Points(
        duties=every,
        duty=np.repeat(np.arange(len(every)), counts),
        at_goal=np.concatenate([c[4] for c in columns]) > 0.0,
        speed=speed,
        fuel_asked=fuel_asked,
        smoke_lambda=smoke,
        boost_target=np.broadcast_to(np.atleast_1d(target), (*np.shape(target)[:-1], speed.shape[-1])),
        boost_needed=needed,
    )


def layout(engine: Engine, place: Place, plumbing: Plumbing, duties: Sequence[Duty], count: int) -> Array:
    """What all draws of a grid have in common, as it would be for each alone: (draws, duties + 2). Column of the goal
    in each duty, the duty that needs the highest boost, the one that asks for most power; of drawn inputs
    (draws, 1, 1)."""
    needs = [asked_by(engine, place, plumbing, duty).boost for duty in duties]
    shares = [(d.goal_speed - d.low) / np.maximum(np.asarray(d.high) - d.low, 1e-9) for d in duties]
    boosts, powers = np.stack(np.broadcast_arrays(*needs)), np.stack(np.broadcast_arrays(*[d.power for d in duties]))
    columns = [*(_goal_column(share, count) for share in shares), boosts.argmax(axis=0), powers.argmax(axis=0)]
    return np.stack([np.ravel(column) for column in np.broadcast_arrays(*columns)], axis=-1)


def _goal_column(share: Number, count: int) -> Array:
    """Column at a share of the way from a duty's lowest speed to its highest."""
    return np.asarray(np.clip(np.round(np.asarray(share) * (count - 1)), 0, count - 1))


def _columns(duty: Duty, need: Demand, count: int) -> tuple[Array, ...]:
    """Speed, fuel asked, smoke limit, boost needed, and 1 in the column of the goal."""
    low, high, goal = (np.asarray(x, dtype=np.float64) for x in (duty.low, duty.high, duty.goal_speed))
    at = int(_goal_column(float(np.mean((goal - low) / np.maximum(high - low, 1e-9))), count))
    step = np.arange(count)
    below = step / max(at, 1)
    above = (step - at) / max(count - 1 - at, 1)
    speed = np.where(step <= at, low + (goal - low) * below, goal + (high - goal) * above)
    if at == 0:
        speed = np.where(step == 0, goal, speed)
    asked = np.asarray(need.fuel * np.minimum(speed / goal, 1.0))
    ones = np.ones_like(asked)
    return speed * ones, asked, duty.smoke_lambda * ones, need.boost * ones, 1.0 * (step == at)


def _side_by_side(blocks: list[Array]) -> Array:
    lead = np.broadcast_shapes(*[b.shape[:-1] for b in blocks])
    return np.concatenate([np.broadcast_to(b, (*lead, b.shape[-1])) for b in blocks], axis=-1)
