"""What the fuel system feeds: by what is told of tune, injectors and pumps, and by what the engine makes today."""

from collections.abc import Sequence
from dataclasses import replace
from math import pi

import numpy as np

from advisor.inference.facts import Value
from advisor.matching.engine import asked_by, brake_power, chosen_lambda, demand, fuel_limit
from advisor.matching.inputs import Array, Bools, Duty, Engine, Number, Place, Plumbing
from advisor.matching.model import MODEL
from advisor.units import Range

# Common practice, no source: what each modification does to the fuel the system can give, over stock.
TUNE_FUEL = {"stock": 1.0, "mild": 1.2, "hot": 1.4, "competition": 1.55}
PUMP_FLOW = {"stock": 1.9, "larger": 2.8, "dual": 4.5}
LIFT_PUMP_FLOW = {"none": 1.6, "stock": 2.0, "upgraded": 10.0}
STOCK_LAMBDA = 1.45  # at rated power as it left the factory (common practice, no source)
FUEL_DENSITY = 840.0  # kg/m3, within EN 590's 820-845 (from memory)
RATED = 0.88  # engine speed of rated power over the limit (common practice, no source)
UNLIMITED = 1.0  # kg a stroke, kg/s: far more than any engine here burns
ENOUGH = 0.98  # part of the power asked for from which on there is fuel for it (common practice, no source)
SMALL = 3.5e-3  # m3 below which an engine isn't rated like those of pickups (common practice, no source)
TRACTOR = "tractor"
FOR_HOURS = 2.1e7  # W/m3, 28 hp a litre: tractors are rated for hours, at some 22 to 34 (common practice, no source)
FUEL_FACTS = ("tune", "injector size", "injection pump", "injected volume")


def usual_rating(rating: float, size: Value | None, usual: float | None, kind: Value | None) -> float:
    """The usual rating [W]; of an engine of less than `SMALL` in proportion to its size, both sizes [m3], and of a
    tractor by `FOR_HOURS`. kind: of the vehicle."""
    if kind == TRACTOR and usual is not None:
        return FOR_HOURS * (size.mid if isinstance(size, Range) else usual)
    small = isinstance(size, Range) and usual is not None and size.mid < SMALL
    return rating * size.mid / usual if small else rating  # type: ignore[union-attr,operator]


def by_its_parts(
    bare: Engine, stock_power: Number, tune: Number, pumps: Number, injectors: Number | None, volume: Number | None
) -> Engine:
    """The engine with its fuel system: stock fuel is what makes the stock power [W], modifications multiply it.

    tune, pumps: fuel over stock (see the tables); injectors: flow over stock, less 1; volume: of a stroke [m3], which
    tells more than tune and injectors, NaN where nobody said it.
    """
    rated = RATED * bare.speed_limit
    stock_flow = demand(bare, Place(), Plumbing(), stock_power, rated, STOCK_LAMBDA).fuel
    strokes = bare.cylinders * rated / (4.0 * pi)
    per_stroke: Number = np.nan
    if injectors is not None:
        per_stroke = stock_flow * tune * (1.0 + injectors) / strokes
    if volume is not None:
        per_stroke = np.where(np.isnan(volume), per_stroke, volume * FUEL_DENSITY)
    return replace(bare, fuel_per_stroke=per_stroke, fuel_flow=stock_flow * pumps)


def at_least(engine: Engine, power: Number, place: Place, plumbing: Plumbing, duty: Duty) -> Engine:
    """The engine with no less fuel than takes the power [W] that it makes today (NaN where nobody said it): what an
    engine makes it burns fuel for, whatever its parts are called. The same engine where it has that."""
    takes = asked_by(engine, place, plumbing, replace(duty, power=power)).fuel
    share = takes / fuel_limit(engine, duty.goal_speed)
    if not np.any(share > 1.0):
        return engine
    more = np.where(share > 1.0, share, 1.0)
    return replace(engine, fuel_per_stroke=engine.fuel_per_stroke * more, fuel_flow=engine.fuel_flow * more)


def feeds(engine: Engine, place: Place, plumbing: Plumbing, duties: Sequence[Duty]) -> Array:
    """Power [W] that the fuel system can feed in each duty, at its goal speed and chosen lambda: (D, ...)."""
    each = [fed_power(engine, place, plumbing, duty) for duty in duties]
    return np.stack(np.broadcast_arrays(*each))


def fed_power(engine: Engine, place: Place, plumbing: Plumbing, duty: Duty) -> Array:
    """Power [W] that the fuel system can feed at a duty's goal speed and the lambda chosen for it, at most as rich as
    for the power asked; pumping as in `demand`."""
    fuel = fuel_limit(engine, duty.goal_speed)
    speed, ambient = duty.goal_speed, place.pressure
    power: Array = np.asarray(duty.power)
    for _ in range(2):  # with the lambda of what is asked, then with that of what of it is fed
        lam = chosen_lambda(engine, replace(duty, power=power))
        freely = brake_power(engine, fuel, lam, speed, ambient, ambient)
        boost = demand(engine, place, plumbing, freely, speed, lam).boost
        drive = boost + (MODEL.assumed_drive_ratio - 1.0) * (boost - ambient)
        fed = brake_power(engine, fuel, lam, speed, boost, drive)
        power = np.minimum(duty.power, fed)
    return fed


def as_it_counts(
    engine: Engine, duties: Sequence[Duty], fed: Array, told: bool, stays: bool | Bools
) -> tuple[Engine, tuple[Duty, ...], bool]:
    """Engine and duties with the fuel that counts in the match, and whether that is everywhere what he has: what his
    fuel system feeds, ``fed`` (D, ...) [W], where he told of it and it is enough or stays as it is; else fuel for what
    is asked, as who names a goal hasn't said that he won't fuel it."""
    short = np.any([most < ENOUGH * duty.power for duty, most in zip(duties, fed, strict=True)], axis=0)
    his = np.asarray(told & (stays | ~short))
    served = tuple(
        replace(duty, power=np.where(his, np.minimum(duty.power, most), duty.power))
        for duty, most in zip(duties, fed, strict=True)
    )
    stroke, flow = (np.where(his, most, UNLIMITED) for most in (engine.fuel_per_stroke, engine.fuel_flow))
    return replace(engine, fuel_per_stroke=stroke, fuel_flow=flow), served, bool(his.all())
