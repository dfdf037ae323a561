"""What the uses of a vehicle ask: road load, engine speed on the road, the drag strip.

SI: kg, m, m/s, rad/s, W. Every function takes floats or arrays and broadcasts.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.matching.air import GRAVITY
from advisor.matching.inputs import Array, Number

POUND = 0.45359237
FOOT = 0.3048
MILE = 1609.344
HORSEPOWER = 550.0 * POUND * GRAVITY * FOOT
"""Mechanical horsepower [W], 550 foot-pounds a second."""
QUARTER_MILE = MILE / 4.0


@dataclass(frozen=True, slots=True)
class WheelLoad:
    """Power at the wheels [W] by part."""

    grade: Array
    rolling: Array
    drag: Array


def wheel_load(
    mass: Number, speed: Number, grade: Number, density: Number, drag_area: Number, rolling: Number
) -> WheelLoad:
    """Steady power at the wheels to move a mass [kg] up a grade (rise over run) at a speed [m/s] in air of a
    density.

    Gillespie, Fundamentals of Vehicle Dynamics 1992; Wong, Theory of Ground Vehicles (both from memory).
    """
    angle = np.arctan(np.asarray(grade))
    weight = np.asarray(mass) * GRAVITY
    return WheelLoad(
        grade=np.asarray(weight * np.sin(angle) * speed),
        rolling=np.asarray(weight * np.cos(angle) * rolling * np.asarray(speed)),
        drag=np.asarray(0.5 * density * np.asarray(drag_area) * np.asarray(speed) ** 3),
    )


def road_load(
    mass: Number,
    speed: Number,
    grade: Number,
    density: Number,
    drag_area: Number = 5.6,
    rolling: Number = 0.010,
    efficiency: Number = 0.85,
) -> Array:
    """The same at the crank [W]. drag_area: drag coefficient times frontal area [m2] (pickup 1.2 to 1.6, with
    a travel trailer 4 to 7); rolling resistance 0.006 to 0.010 truck, 0.010 to 0.015 light truck tyres;
    efficiency from crank to wheels 0.85 (0.80 automatic or four driven wheels). Hucho, Aerodynamics of Road
    Vehicles (memory).
    """
    load = wheel_load(mass, speed, grade, density, drag_area, rolling)
    return np.asarray((load.grade + load.rolling + load.drag) / efficiency)


def road_speed_to_engine_speed(speed: Number, tyre_diameter: Number, axle_ratio: Number, gear_ratio: Number) -> Array:
    """Engine speed [rad/s] at a road speed [m/s] with the converter locked; tyre diameter under load [m]."""
    return np.asarray(2.0 * np.asarray(speed) / tyre_diameter * axle_ratio * gear_ratio)


STRIP_FORMULAS: Mapping[str, tuple[float, float]] = {
    "Hale": (5.825, 234.0),
    "Huntington 1958": (6.290, 224.0),
    "Fox, Am. J. Phys. 41 (1973) 311": (6.269, 230.0),
}
"""Coefficients a and b of t = a (W/P)^(1/3) [s] and v = b (P/W)^(1/3) [mph], W in lb with driver, P in hp."""
CONSTANT_POWER_BOUND = (3.0 * QUARTER_MILE * HORSEPOWER / POUND) ** (1.0 / 3.0) * 3600.0 / MILE
"""Highest possible b: all the power accelerates from the start; v^3 = 3 P x / m."""


def strip(mass: Number, power: Number, formula: str = "Hale") -> tuple[Array, Array]:
    """Elapsed time [s] and trap speed [m/s] over a quarter mile for a mass [kg] with driver and power [W].

    The formulas of `STRIP_FORMULAS` are fits to timed runs; they differ by 8 %: traction and gearing are not
    in them.
    """
    time, trap = STRIP_FORMULAS[formula]
    ratio = np.cbrt(np.asarray(mass) / POUND / (np.asarray(power) / HORSEPOWER))
    return np.asarray(time * ratio), np.asarray(trap / ratio * MILE / 3600.0)


def eighth_mile(time: Number, trap: Number) -> tuple[Array, Array]:
    """Elapsed time [s] and speed [m/s] at the half distance of a run, for constant power: x ~ t^(3/2), v ~
    x^(1/3)."""
    return np.asarray(time * 0.5 ** (2.0 / 3.0)), np.asarray(trap * 0.5 ** (1.0 / 3.0))
