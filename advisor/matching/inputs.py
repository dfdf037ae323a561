"""What the match is asked: engine, place, plumbing, duties, and the machines to judge.

SI throughout: m, m3, kg, kg/s, Pa (absolute), K, W, rad/s. Shapes follow one convention. The last axis is the
operating point (K), the one before it the candidate (N), anything further left is free (draws of unknown
inputs). Fields of `Engine`, `Place` and `Plumbing` are floats or arrays of shape (..., 1, 1); those of
`Machines` have shape (N,) or (..., N); those of `Points` have shape (K,) or (..., 1, K).
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
Bools = NDArray[np.bool_]
Number = float | Array


@dataclass(frozen=True)
class Engine:
    """A four-stroke direct-injection diesel as the match sees it.

    displacement        swept volume of all cylinders [m3]
    cylinders           number of cylinders
    compression_ratio   geometric compression ratio
    speed_limit         governed or safe engine speed [rad/s]
    breathing           factor on volumetric efficiency (valves, ported head, camshaft); 1 for two open valves
    fuel_per_stroke     most fuel the injectors can give, per cylinder and cycle [kg]
    fuel_flow           most fuel the pump can keep up [kg/s]
    heat_loss_factor    factor on the heat lost to the coolant; 1 for the fitted engine
    """

    displacement: Number
    cylinders: Number
    compression_ratio: Number
    speed_limit: Number
    breathing: Number = 1.0
    fuel_per_stroke: Number = 2.0e-4
    fuel_flow: Number = 1.0
    heat_loss_factor: Number = 1.0


@dataclass(frozen=True)
class Place:
    """The air it breathes: static pressure [Pa] and temperature [K]; humidity is ignored."""

    pressure: Number = 101_325.0
    temperature: Number = 298.15


@dataclass(frozen=True)
class Plumbing:
    """What stands between the machine and the engine and the open air.

    Losses follow dp = resistance * flow^2 [Pa s2/kg2] of the whole flow.
    filter_resistance    air filter and intake pipe
    cooler_resistance    charge-air cooler and charge pipes
    exhaust_resistance   downpipe, exhaust system (by gas flow)
    cooler_effectiveness (T2 - T_im) / (T2 - T_coolant); 0 without a cooler
    coolant_rise         temperature of the cooling medium above the outside air [K]
    """

    filter_resistance: Number = 8_000.0
    cooler_resistance: Number = 50_000.0
    exhaust_resistance: Number = 40_000.0
    cooler_effectiveness: Number = 0.75
    coolant_rise: Number = 5.0


@dataclass(frozen=True, slots=True)
class Duty:
    """One use of the vehicle.

    name           for example "towing"
    low, high      engine speed band that counts [rad/s]
    goal_speed     speed at which the power is asked for [rad/s]
    power          brake power at the crank asked for at goal_speed [W]
    smoke_lambda   least air-fuel equivalence ratio the fuelling may use (what the driver or the tune allows)
    target_lambda  the one the boost is chosen for up to the mean pressures that engines leave the factory with
    strained_lambda  the one it is chosen for on a strongly fuelled engine (`engine.chosen_lambda`); None: the same
    temperature_limit  turbine inlet temperature it may hold [K]
    weight         share of the vehicle's life, for the ranking
    told_as        the name of the place by which its points are told: "towing" with an implement is told as "field"
    """

    name: str
    low: Number
    high: Number
    goal_speed: Number
    power: Number
    smoke_lambda: Number = 1.25
    target_lambda: Number = 1.5
    strained_lambda: Number | None = None
    temperature_limit: Number = 950.0
    weight: float = 1.0
    told_as: str = ""

    @property
    def place(self) -> str:
        """What its points are told by: its own name unless told otherwise."""
        return self.told_as or self.name


@dataclass(frozen=True)
class Points:
    """The grid of (duty, engine speed) points, flattened to K columns; made by `engine.points`.

    duty            index into the duties of each column (K,)
    at_goal         True in the one column of each duty that stands at its goal speed (K,), of the rows of several
                    situations side by side (N, K)
    speed           engine speed [rad/s]
    fuel_asked      fuel that the duty asks for before any limit [kg/s]
    smoke_lambda    least lambda
    boost_target    manifold pressure at which the gate starts to hold [Pa abs]
    boost_needed    manifold pressure that the column's own duty needs at its goal [Pa abs]
    """

    duties: tuple[Duty, ...]
    duty: IntArray
    at_goal: Bools
    speed: Array
    fuel_asked: Array
    smoke_lambda: Array
    boost_target: Array
    boost_needed: Array

    def of(self, name: str) -> IntArray:
        """Columns of the duty of that name; empty if there is none."""
        wanted = [i for i, duty in enumerate(self.duties) if duty.name == name]
        return np.flatnonzero(self.duty == wanted[0] if len(wanted) == 1 else np.isin(self.duty, wanted))

    def only(self, columns: IntArray) -> "Points":
        """The same grid with the chosen columns alone."""
        rows = ("speed", "fuel_asked", "smoke_lambda", "boost_target", "boost_needed")
        cut = {name: getattr(self, name)[..., columns] for name in rows}
        return replace(self, duty=self.duty[columns], at_goal=self.at_goal[columns], **cut)


@dataclass(frozen=True)
class Machines:
    """Candidates as columns of shape (N,).

    wheel              row of the compressor tables (integer)
    compressor_exducer impeller tip diameter [m]
    turbine_inducer    turbine wheel tip diameter [m]
    turbine_exducer    turbine wheel exit tip diameter [m]
    housing_ratio      A/R as the trade states it (area over radius in inches)
    divided            True: twin-scroll housing on a divided manifold
    gate_bore          wastegate valve bore [m]; 0 without a gate (it then finds its own boost)
    gate_external      True: gate with its own outlet (better discharge)
    tip_speed_limit    impeller tip speed its material may hold [m/s]
    ball_bearing       True: rolling bearing (less friction)
    thrust_angle       angle of the thrust pads [rad]: 270 or 360 degrees
    parallel           number of equal machines side by side (twins: 2)

    Factors on the compressor tables, 1 unless drawn (see `uncertainty`):
    efficiency_factor, flow_factor (whole map wider), surge_factor (surge line further right), speed_factor
    """

    wheel: IntArray
    compressor_exducer: Array
    turbine_inducer: Array
    turbine_exducer: Array
    housing_ratio: Array
    divided: Bools
    gate_bore: Array
    gate_external: Bools
    tip_speed_limit: Array
    ball_bearing: Bools
    thrust_angle: Array
    parallel: Array
    efficiency_factor: Array
    flow_factor: Array
    surge_factor: Array
    speed_factor: Array

    def __len__(self) -> int:
        return int(np.shape(self.wheel)[-1])

    def rows(self, chosen: IntArray) -> "Machines":
        """The machines of the rows chosen (n,)."""
        return replace(self, **{f.name: getattr(self, f.name)[..., chosen] for f in fields(self)})


def stacked(first: Machines, second: Machines) -> Machines:
    """The rows of one after those of the other, for both (N,) columns alone."""
    names = [f.name for f in fields(Machines)]
    return Machines(**{name: np.concatenate([getattr(m, name) for m in (first, second)]) for name in names})


def machines(columns: Mapping[str, Any]) -> Machines:
    """Machines from plain columns; what is left out takes the plainest kind (open, ungated, journal,
    single)."""
    wheel = np.atleast_1d(np.asarray(columns["wheel"], dtype=np.int64))
    plain: dict[str, Any] = {
        "divided": False,
        "gate_bore": 0.0,
        "gate_external": False,
        "tip_speed_limit": 520.0,
        "ball_bearing": False,
        "thrust_angle": np.deg2rad(270.0),
        "parallel": 1.0,
        "efficiency_factor": 1.0,
        "flow_factor": 1.0,
        "surge_factor": 1.0,
        "speed_factor": 1.0,
    }
    whole = {**plain, **columns}
    kinds = {"divided": np.bool_, "gate_external": np.bool_, "ball_bearing": np.bool_}
    arrays = {
        name: np.broadcast_to(
            np.asarray(value, dtype=kinds.get(name, np.float64)),
            np.broadcast_shapes(wheel.shape, np.shape(value)),
        )
        for name, value in whole.items()
        if name != "wheel"
    }
    return Machines(wheel=wheel, **arrays)
