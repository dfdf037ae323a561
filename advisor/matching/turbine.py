"""The turbine: how much gas wheel, housing and gate swallow, and what work the wheel takes from it.

Swallowing follows m = A C sqrt(1 - ER^-K) p3 / sqrt(R T3) (K = 2 is Stodola's ellipse; K and C from the open
6.7 L diesel of Sivertsson & Eriksson 2014). A gate is a second area behind the same pressures, so that
turbine and gate together follow the same law with the sum of the areas.
"""

import numpy as np

from advisor.matching.inputs import Array, Bools, Machines, Number
from advisor.matching.model import MODEL, Model

INCH = 0.0254
_HALLEY_STEPS = 2
_AREA_FLOOR = 1e-7


def throat_area(machines: Machines, model: Model = MODEL) -> Array:
    """Volute throat area [m2]: A/R times the radius of the volute's centroid, which is `throat_radius` wheel
    radii."""
    radius = model.throat_radius * np.asarray(machines.turbine_inducer) / 2.0
    return np.asarray(machines.housing_ratio * INCH * radius)


def exit_area(machines: Machines, model: Model = MODEL) -> Array:
    """Flow area of the rotor exit [m2]: annulus of the exducer times the cosine of the exit angle and
    blockage."""
    annulus = np.pi / 4.0 * np.square(machines.turbine_exducer) * (1.0 - np.square(model.exit_hub_ratio))
    return np.asarray(annulus * model.exit_angle_cosine * model.exit_blockage)


def effective_area(machines: Machines, model: Model = MODEL) -> Array:
    """Area [m2] of volute throat and rotor exit as two nozzles in series: 1/A^2 = 1/A_S^2 + 1/A_R^2.

    Line of Serrano et al., Energy Conversion and Management 49 (2008) 3729 (memory). All machines side by
    side.
    """
    volute, rotor = throat_area(machines, model), exit_area(machines, model)
    return np.asarray(machines.parallel * np.maximum(volute * rotor / np.hypot(volute, rotor), _AREA_FLOOR))


def gate_area(machines: Machines, model: Model = MODEL) -> Array:
    """Effective area [m2] of the open gate, all machines side by side; 0 without one."""
    discharge = np.where(machines.gate_external, model.gate_discharge_external, model.gate_discharge_internal)
    return np.asarray(machines.parallel * discharge * np.pi / 4.0 * np.square(machines.gate_bore))


def swallowed(
    area: Number, drive: Number, temperature: Number, gas_constant: Number, ratio: Number, model: Model
) -> Array:
    """Gas flow [kg/s] through an effective area at inlet state and expansion ratio (inlet over outlet
    pressure)."""
    shape = np.sqrt(np.maximum(1.0 - np.asarray(ratio) ** -np.asarray(model.swallowing_exponent), 0.0))
    return np.asarray(
        area * np.asarray(drive) * model.swallowing_level * shape / np.sqrt(gas_constant * temperature)
    )


def flow_parameter(
    flow: Number, temperature: Number, gas_constant: Number, area: Number, outlet: Number, model: Model
) -> Array:
    """m sqrt(R T3) / (A C p4): what fixes the expansion ratio."""
    return np.asarray(
        flow * np.sqrt(gas_constant * temperature) / (area * np.asarray(outlet) * model.swallowing_level)
    )


def expansion_ratio(parameter: Number, model: Model = MODEL) -> Array:
    """Expansion ratio that passes a flow parameter x: the root of ER^2 - ER^(2-K) = x^2.

    For K = 2 it is sqrt(1 + x^2) (Stodola's ellipse, closed form); Halley's steps from there for other K reach
    1e-12.
    """
    square = np.square(np.asarray(parameter))
    ratio = np.sqrt(1.0 + square)
    rest = 2.0 - np.asarray(model.swallowing_exponent)
    if not np.any(rest):
        return np.asarray(ratio)
    bend = rest * (rest - 1.0)
    for _ in range(_HALLEY_STEPS):
        power, whole = np.exp(rest * np.log(ratio)), ratio * ratio
        # The equation's value, and its derivatives times the ratio and the ratio squared.
        off, slope = whole - power - square, 2.0 * whole - rest * power
        ratio = ratio - 2.0 * off * slope * ratio / (2.0 * slope * slope - off * (2.0 * whole - bend * power))
    return np.asarray(ratio)


def efficiency(blade_speed_ratio: Number, model: Model = MODEL) -> Array:
    """Total-to-static efficiency with bearing loss by blade speed ratio U3/c_s: a parabola, not below the
    floor."""
    off = np.asarray(blade_speed_ratio) - model.turbine_best_ratio
    return np.asarray(
        np.maximum(model.turbine_peak - model.turbine_curvature * off * off, model.turbine_floor)
    )


def work_factor(
    divided: Bools | bool, ball_bearing: Bools | bool, speed_share: Number, model: Model = MODEL
) -> Array:
    """Factor on turbine power for divided entry (steady loss, gain from pulses that fades towards rated
    engine speed) and rolling bearings; speed_share is engine speed over its limit."""
    pulses = 1.0 + model.pulse_gain * np.clip(1.0 - np.asarray(speed_share), 0.0, 1.0)
    entry = np.where(divided, pulses * (1.0 - np.asarray(model.divided_loss)), 1.0)
    return np.asarray(entry * np.where(ball_bearing, 1.0 + np.asarray(model.ball_bearing_gain), 1.0))
