"""Engines, places and machines for the tests of the match; all invented unless a source stands beside it."""

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.matching.balance import Match, match
from advisor.matching.compressor import Prediction, wheels
from advisor.matching.engine import points
from advisor.matching.inputs import Duty, Engine, Machines, Place, Plumbing, Points, machines
from advisor.matching.model import MODEL, Model
from advisor.matching.tables import WheelTables, build

Array = NDArray[np.float64]
RPM = np.pi / 30.0
HP = 745.6998715822702
PSI = 6894.757293168
SIX = Engine(6.7e-3, 6.0, 17.3, 3200.0 * RPM)
"""A 6.7 litre six as trucks have it."""


@dataclass(frozen=True)
class Bench:
    """Everything that one match takes."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    points: Points
    machines: Machines
    tables: WheelTables
    model: Model = MODEL

    def match(self) -> Match:
        return match(self.engine, self.place, self.plumbing, self.points, self.machines, self.tables, self.model)


def table_for(inducer: Any, exducer: Any) -> WheelTables:
    return build(Prediction(wheels({"inducer": inducer, "exducer": exducer})))


def single(**columns: Any) -> tuple[Machines, WheelTables]:
    """One family of machines on a 64/88 mm compressor; what is named overrides."""
    table = table_for([0.064], [0.088])
    count = max(np.size(v) for v in columns.values()) if columns else 1
    plain: dict[str, Any] = {
        "wheel": np.zeros(count, dtype=np.int64),
        "compressor_exducer": 0.088,
        "turbine_inducer": 0.074,
        "turbine_exducer": 0.065,
        "housing_ratio": 0.9,
    }
    return machines(plain | columns), table


def duty(power: float = 450.0 * HP, goal: float = 2800.0, **more: Any) -> Duty:
    given = {"name": "strip", "low": 1400.0 * RPM, "high": 3200.0 * RPM, "smoke_lambda": 1.2, "target_lambda": 1.35}
    return Duty(goal_speed=goal * RPM, power=power, **(given | more))


def bench(
    engine: Engine = SIX,
    place: Place | None = None,
    duties: tuple[Duty, ...] = (),
    made: tuple[Machines, WheelTables] | None = None,
    count: int = 12,
) -> Bench:
    place, plumbing = place or Place(), Plumbing()
    stock, tables = made or single()
    return Bench(
        engine, place, plumbing, points(engine, place, plumbing, duties or (duty(),), count=count), stock, tables
    )


def random_bench(seed: int, engines: int, candidates: int, speeds: int) -> Bench:
    """Engines of 3 to 15 litres from sea level to 4,800 m with machines that often don't suit them."""
    random = np.random.default_rng(seed)
    inducer = random.uniform(0.045, 0.110, 60)
    exducer = inducer / random.uniform(0.66, 0.80, 60)
    wheel = random.integers(0, 60, candidates)
    turbine = exducer[wheel] * random.uniform(0.75, 1.15, candidates)
    stock = machines(
        {
            "wheel": wheel,
            "compressor_exducer": exducer[wheel],
            "turbine_inducer": turbine,
            "turbine_exducer": turbine * random.uniform(0.75, 0.95, candidates),
            "housing_ratio": random.uniform(0.4, 1.6, candidates),
            "gate_bore": np.where(random.random(candidates) < 0.6, random.uniform(0.01, 0.06, candidates), 0.0),
            "gate_external": random.random(candidates) < 0.5,
            "divided": random.random(candidates) < 0.5,
            "ball_bearing": random.random(candidates) < 0.3,
            "parallel": np.where(random.random(candidates) < 0.1, 2.0, 1.0),
        }
    )

    def between(low: float, high: float) -> Array:
        return random.uniform(low, high, (engines, 1, 1))

    size = between(3e-3, 15e-3)
    scale, limit = size / 6.7e-3, between(2200.0, 4500.0) * RPM
    engine = Engine(
        size,
        6.0,
        between(14.0, 19.0),
        limit,
        between(0.85, 1.1),
        between(5e-5, 3e-4) * scale,
        between(0.01, 0.06) * scale,
    )
    place = Place(between(55e3, 103e3), between(250.0, 320.0))
    plumbing = Plumbing(
        between(0.0, 2e4) / scale**2,
        between(0.0, 1e5) / scale**2,
        between(0.0, 1e5) / scale**2,
        between(0.0, 0.9),
        between(0.0, 30.0),
    )
    asked = Duty(
        "x",
        0.3 * limit,
        limit,
        limit * between(0.6, 0.95),
        size * between(20e6, 90e6),
        between(1.05, 1.8),
        between(1.2, 2.0),
    )
    grid = points(engine, place, plumbing, (asked,), count=speeds)
    return Bench(engine, place, plumbing, grid.only(grid.of("x")), stock, table_for(inducer, exducer))


def open_engine_states() -> dict[str, Array]:
    """Columns of the open 6.7 L diesel's steady states (source in the file)."""
    path = Path(__file__).parent / "data" / "open_diesel_steady.csv"
    with path.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(line for line in stream if not line.startswith("#")))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
