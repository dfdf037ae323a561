"""What it pulls asks of the engine: the power and the engine speed to hold a grade with a trailer, or those of an
implement that holds it at full load for hours."""

from collections.abc import Callable
from math import pi
from typing import NamedTuple

import numpy as np

from advisor.fuelling import RATED
from advisor.matching.air import AIR_GAS_CONSTANT
from advisor.matching.duty import road_load, road_speed_to_engine_speed
from advisor.matching.inputs import Engine, Number, Place

# Pickup with a tall trailer: drag area 5 m2 (travel trailers 4 to 7), rolling 0.010 (light truck tyres 0.010
# to 0.015, truck tyres 0.006 to 0.010): Gillespie, Fundamentals of Vehicle Dynamics, from memory.
DRAG_AREA, ROLLING = 5.0, 0.010
SHIFTS = 6
LUGGING = 1.7e6  # Pa of mean pressure; above it a driver shifts down (common practice, no source)
FIELD_WORK = {"trailer": 0.0, "both": 0.5, "implement": 1.0}
"""What stands behind a tractor; above 0 it is held at full load for hours."""


class Pull(NamedTuple):
    """Power at the crank [W] and engine speed [rad/s] of what it pulls or carries, and the place by which that is told
    where it isn't a trailer's (`told_places`)."""

    power: Number
    speed: Number
    place: str = ""


def asks(
    number: Callable[[str], Number], place: Place, engine: Engine, efficiency: Number, goal: Number, field: Number
) -> Pull:
    """What it pulls asks: with an implement (``field``, see `FIELD_WORK`) all of the goal [W] at rated speed, else what
    holds the grade. ``number`` gives a fact's figure."""
    in_the_field: tuple[Number, Number] = (goal, RATED * engine.speed_limit)
    if np.all(np.asarray(field) == FIELD_WORK["implement"]):
        return Pull(*in_the_field, "field")
    on_the_road = towing(number, place, engine, efficiency)
    if not np.any(field):
        return Pull(*on_the_road, "" if np.any(np.asarray(number("trailer weight")) > 0.0) else "loaded")
    power, speed = (np.where(np.asarray(field) > 0.0, *pair) for pair in zip(in_the_field, on_the_road, strict=True))
    return Pull(power, speed, "field" if np.all(np.asarray(field) > 0.0) else "")


def towing(
    number: Callable[[str], Number], place: Place, engine: Engine, efficiency: Number
) -> tuple[Number, Number]:
    """Power at the crank [W] and engine speed [rad/s] to hold the grade."""
    speed = number("towing speed")
    load = road_load(
        mass=number("vehicle weight") + number("trailer weight"),
        speed=speed,
        grade=number("grade"),
        density=place.pressure / (AIR_GAS_CONSTANT * place.temperature),
        drag_area=DRAG_AREA,
        rolling=ROLLING,
        efficiency=efficiency,
    )
    engine_speed: Number = road_speed_to_engine_speed(
        speed, number("tyre diameter"), number("axle ratio"), number("top gear ratio")
    )
    # On a real grade he shifts down, in steps of about a third, until the engine stands between about two
    # thirds and nine tenths of its limit and can pull what is asked (common practice, no source).
    limit = engine.speed_limit
    for _ in range(SHIFTS):
        lugs = load * 4.0 * pi / (engine.displacement * engine_speed) > LUGGING
        shifts = (engine_speed < 0.62 * limit) | (lugs & (engine_speed < RATED * limit))
        engine_speed = np.where(shifts, 1.33 * engine_speed, engine_speed)
    return load, np.minimum(engine_speed, RATED * limit)
