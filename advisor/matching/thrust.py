"""Axial load on the thrust bearing.

Gas pushes each wheel outward, the two against each other. Behind a wheel pressure falls towards the shaft
with the swirl of the gap, p(r) = p_rim - rho/2 (K w)^2 (r_rim^2 - r^2) (Guelich, Centrifugal Pumps; Nguyen-
Schaefer, Rotordynamics of Automotive Turbochargers, Springer 2015; both from memory). In front it rises from
the eye to the rim. The absolute load is good to about 50 %, so the index serves to compare machines and
settings, not to size a bearing.
"""

import numpy as np

from advisor.matching import air
from advisor.matching.balance import Match
from advisor.matching.inputs import Array, Machines, Number, Place
from advisor.matching.model import MODEL, Model

REACTION = 0.6
"""Share of the stage's temperature rise in the impeller (Casey & Robinson 2013, from memory)."""
_SHAFT = 0.12
"""Shaft seal radius over turbine wheel radius, typical (memory)."""
PAD_OUTER, PAD_INNER = 0.34, 0.20
"""Diameters of the thrust pads over the turbine wheel's, typical (memory)."""
BALL_GAIN = 2.0
"""Axial load of rolling bearings over that of full pads of the same frame; common practice, no source."""


def pad_area(machines: Machines) -> Array:
    """Area of the thrust pads [m2] by wheel size and the angle that they cover (270 or 360 degrees)."""
    full = np.pi / 4.0 * (PAD_OUTER**2 - PAD_INNER**2) * np.square(machines.turbine_inducer)
    return np.asarray(full * machines.thrust_angle / (2.0 * np.pi))


def axial_load(
    match: Match,
    machines: Machines,
    place: Place,
    inducer: Array,
    model: Model = MODEL,
    inlet_temperature: Number | None = None,
) -> Array:
    """Net axial force of one machine [N], positive towards the compressor; shape (..., N, K).

    inducer: compressor inlet tip diameter [m] (N,); inlet_temperature: of the air in its compressor [K], else the
    outside's.
    """
    entering = np.asarray(place.temperature if inlet_temperature is None else inlet_temperature)

    def column(values: Array) -> Array:
        return np.asarray(values)[..., None]

    r1, r2 = column(inducer) / 2.0, column(machines.compressor_exducer) / 2.0
    r3, r4 = column(machines.turbine_inducer) / 2.0, column(machines.turbine_exducer) / 2.0
    shaft = _SHAFT * r3
    flow = match.air / column(machines.parallel)
    inlet = match.inlet_pressure
    lift = (match.compressor_outlet_temperature - entering) / entering
    rim = inlet * (1.0 + REACTION * match.compressor_efficiency * lift) ** 3.5
    rim_density = rim / (air.AIR_GAS_CONSTANT * entering * (1.0 + REACTION * lift))
    swirl = model.back_face_swirl * match.shaft_speed
    eye_density = inlet / (air.AIR_GAS_CONSTANT * entering)
    compressor = (
        _back(rim, rim_density, swirl, r2, shaft, place)
        - np.pi * r1**2 * inlet
        - np.pi * (r2**2 - r1**2) * 0.5 * (inlet + rim)
        - flow**2 / (eye_density * np.pi * r1**2)
    )
    hub = model.exit_hub_ratio * r4
    entry = match.turbine_outlet_pressure + 0.5 * (match.drive_pressure - match.turbine_outlet_pressure)
    gas_density = entry / (air.AIR_GAS_CONSTANT * match.exhaust_temperature)
    gas = (match.air + match.fuel) * (1.0 - match.gate_share) / column(machines.parallel)
    exit_density = match.turbine_outlet_pressure / (air.AIR_GAS_CONSTANT * match.turbine_outlet_temperature)
    back = _back(entry, gas_density, swirl, r3, shaft, place)
    scallops = (1.0 - model.turbine_scallop) * np.pi * (r3**2 - shaft**2)
    turbine = (
        back
        - scallops * (entry - match.turbine_outlet_pressure)
        - np.pi * r4**2 * match.turbine_outlet_pressure
        - np.pi * (r3**2 - r4**2) * 0.5 * (match.turbine_outlet_pressure + entry)
        - gas**2 / (exit_density * np.pi * (r4**2 - hub**2))
    )
    return np.asarray(compressor - turbine)


def thrust_index(
    match: Match,
    machines: Machines,
    place: Place,
    inducer: Array,
    model: Model = MODEL,
    inlet_temperature: Number | None = None,
) -> Array:
    """Axial load over what the pads hold (`pad_pressure` on their area; rolling bearings `BALL_GAIN` of full
    pads)."""
    full = np.where(machines.ball_bearing, BALL_GAIN * 2.0 * np.pi / machines.thrust_angle, 1.0)
    rating = model.pad_pressure * (pad_area(machines) * full)[..., None]
    return np.asarray(np.abs(axial_load(match, machines, place, inducer, model, inlet_temperature)) / rating)


def _back(rim: Array, density: Array, swirl: Array, radius: Array, shaft: Array, place: Place) -> Array:
    """Force [N] behind a wheel: from the shaft seal to the rim, swirl in rad/s, and the outside pressure
    within."""
    span = radius**2 - shaft**2
    within = np.pi * shaft**2 * place.pressure
    return np.asarray(np.pi * span * rim - np.pi / 4.0 * density * swirl**2 * span**2 + within)
