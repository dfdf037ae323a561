"""The shop's catalogue, and every combination of turbo, housing and gate that can be built from it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .accepted import Accepted
from .frozen import Frozen
from .places import Place
from .wares import (
    THRUST_ANGLE,
    TIP_SPEED_LIMIT,
    CompressorWheel,
    Frame,
    Gate,
    Housing,
    Part,
    TurbineWheel,
    Turbo,
    Ware,
)

Column = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Combination:
    """A turbo with one of its housings and, where the housing has a boss for it, an external gate or none."""

    code: str
    turbo: Turbo
    compressor: CompressorWheel
    turbine: TurbineWheel
    housing: Housing
    gate: Gate | None
    frame: Frame

    @property
    def wastegate(self) -> str:
        """none, internal or external."""
        if self.gate is not None:
            return "external"
        return "internal" if self.housing.gate == "internal" else "none"

    @property
    def gate_bore(self) -> float:
        """Bore of the valve that lets gas past the turbine [m]; 0 without one."""
        if self.gate is not None:
            return self.gate.gate_bore
        return (self.housing.gate_bore or 0.0) if self.housing.gate == "internal" else 0.0

    @property
    def pieces(self) -> tuple[Turbo | Housing | Gate, ...]:
        """What is bought: turbo, housing, and the gate if there is one."""
        return (self.turbo, self.housing, *((self.gate,) if self.gate else ()))

    @property
    def price(self) -> float:
        """Turbo, housing and gate, without fittings."""
        return sum(piece.price for piece in self.pieces)

    @property
    def delivery(self) -> float:
        """Time until the last of turbo, housing and gate is there [s]."""
        return max(piece.delivery for piece in self.pieces)

    @property
    def weight(self) -> float:
        """Mass of turbo, housing and gate [kg]."""
        return sum(piece.weight for piece in self.pieces)

    @property
    def tip_speed_limit(self) -> float:
        """Impeller tip speed [m/s] allowed by the wheel's material and by the rotor speed limit."""
        by_rotor = self.turbo.rotor_speed_limit * self.compressor.exducer / 2.0
        return min(TIP_SPEED_LIMIT[self.compressor.material], by_rotor)

    @property
    def wheels(self) -> str:
        """Compressor and turbine as they are said in passing."""
        return f"{self.compressor.inducer * 1e3:g}/{self.turbine.exducer * 1e3:g} mm"

    @property
    def short_words(self) -> str:
        """The combination as it is said in passing: wheels, housing, gate, and ball bearings where it has them."""
        housing, balls = self.housing, ("ball bearings",) if self.turbo.bearing == "ball" else ()
        return ", ".join(
            (
                self.wheels,
                f"{housing.housing_ratio:.2f} {housing.entry} {housing.foot}",
                "no gate" if self.wastegate == "none" else f"{self.wastegate} gate",
                *balls,
            )
        )

    @property
    def words(self) -> str:
        """The combination as one says it."""
        gate = "no gate" if self.wastegate == "none" else f"{self.gate_bore * 1e3:g} mm {self.wastegate} gate"
        return ", ".join(
            (
                f"{self.compressor.inducer * 1e3:g} mm compressor",
                f"{self.turbine.exducer * 1e3:g} mm turbine",
                f"{self.housing.housing_ratio:.2f} {self.housing.entry} {self.housing.foot}",
                gate,
                bearing_words(self.turbo.bearing),
            )
        )


def bearing_words(bearing: str) -> str:
    """The bearing as one says it."""
    return (
        "ball bearings" if bearing == "ball" else f"{bearing.removeprefix('journal ')} degree journal bearing"
    )


@dataclass(frozen=True, slots=True)
class TableWheel:
    """A compressor wheel under its cover: one row of the compressor tables. Lengths m, backsweep rad."""

    code: str
    inducer: float
    exducer: float
    tip_height: float
    hub_ratio: float
    full_blades: int
    splitter_blades: int
    backsweep: float
    material: str
    ported_shroud: bool
    map: str | None


@dataclass(frozen=True, eq=False)
class Candidates:
    """All combinations, by code, and their columns of shape (N,).

    facts      by the names that rules use (SI; objects of str for choices)
    geometry   what the match takes; `housing_ratio` in inches, `divided` speaks of the housing alone
    more       compressor_inducer [m], turbine_tip_height [m], turbine_blades, rotor_speed_limit [rad/s],
               throat_area [m2], NaN where the catalogue lists none, weight [kg]
    wheels     rows of the compressor tables, to which `geometry["wheel"]` points
    """

    combinations: tuple[Combination, ...]
    wheels: tuple[TableWheel, ...]
    facts: Mapping[str, Column]
    geometry: Mapping[str, Column]
    more: Mapping[str, Column]

    def __len__(self) -> int:
        return len(self.combinations)

    @cached_property
    def codes(self) -> tuple[str, ...]:
        """The shop's names of the combinations, in order."""
        return tuple(combination.code for combination in self.combinations)

    @cached_property
    def words(self) -> tuple[str, ...]:
        """The combinations as one says them, in order."""
        return tuple(combination.words for combination in self.combinations)

    @cached_property
    def turbos(self) -> tuple[str, ...]:
        """The code of each combination's turbo, in order."""
        return tuple(combination.turbo.code for combination in self.combinations)

    def index(self, code: str) -> int:
        """Row of a code; raises KeyError for an unknown one."""
        return self._rows[code]

    @cached_property
    def _rows(self) -> Mapping[str, int]:
        return {code: row for row, code in enumerate(self.codes)}


@dataclass(frozen=True, slots=True)
class AnsweredWare:
    """A piece that answers findings: where its entry stands, and the answers."""

    place: Place
    accepted: tuple[Accepted, ...]


PIECES = ("frames", "compressor_wheels", "turbine_wheels", "turbos", "housings", "gates", "fittings")
"""The fields of a catalogue that hold what is sold."""


@dataclass(frozen=True, eq=False)
class Catalogue(Frozen):
    """Everything the shop can sell, by code; `places` says where each (top key, code) stands, `field_places` where each
    field of theirs, `answered` which of them answer findings."""

    frames: Mapping[str, Frame]
    compressor_wheels: Mapping[str, CompressorWheel]
    turbine_wheels: Mapping[str, TurbineWheel]
    turbos: Mapping[str, Turbo]
    housings: Mapping[str, Housing]
    gates: Mapping[str, Gate]
    fittings: Mapping[str, Part]
    places: Mapping[tuple[str, str], Place]
    field_places: Mapping[tuple[str, str, str], Place] = field(default_factory=dict)
    answered: tuple[AnsweredWare, ...] = ()

    @property
    def groups(self) -> Mapping[str, Mapping[str, Ware]]:
        """All pieces by the top key of their files, and by code."""
        return {name.replace("_", " "): getattr(self, name) for name in PIECES}

    @cached_property
    def kinds(self) -> frozenset[str]:
        """Kinds of fittings, by which rules add parts."""
        return frozenset(part.kind for part in self.fittings.values())

    @cached_property
    def map_names(self) -> Mapping[str, str]:
        """Compressor wheel → name of its measured map, for those that have one."""
        return {code: wheel.map for code, wheel in self.compressor_wheels.items() if wheel.map}

    def candidates(self) -> Candidates:
        """Every combination and its columns; built once."""
        return self._candidates

    @cached_property
    def _candidates(self) -> Candidates:
        combinations = tuple(sorted(self._combine(), key=lambda combination: combination.code))
        return _columns(combinations)

    def _combine(self) -> Iterable[Combination]:
        for turbo in self.turbos.values():
            for housing in self.housings.values():
                if housing.frame != turbo.frame or turbo.turbine_wheel not in housing.turbine_wheels:
                    continue
                for gate in (None, *(gate for gate in self.gates.values() if housing.takes(gate))):
                    yield Combination(
                        code="-".join((turbo.turbo, housing.short, *((gate.gate,) if gate else ()))),
                        turbo=turbo,
                        compressor=self.compressor_wheels[turbo.compressor_wheel],
                        turbine=self.turbine_wheels[turbo.turbine_wheel],
                        housing=housing,
                        gate=gate,
                        frame=self.frames[turbo.frame],
                    )


def _columns(combinations: tuple[Combination, ...]) -> Candidates:
    rows: dict[tuple[str, bool], int] = {}
    wheels: list[TableWheel] = []
    wheel_row = {}
    for one in combinations:
        key = (one.compressor.wheel, one.turbo.ported_shroud)
        if key not in rows:
            rows[key] = len(wheels)
            wheels.append(_table_wheel(one.compressor, one.turbo.ported_shroud))
        wheel_row[one.code] = rows[key]

    def column(value: Callable[[Combination], object], dtype: Any = np.float64) -> Column:
        array = np.array([value(one) for one in combinations], dtype=dtype)
        array.setflags(write=False)
        return array

    facts = {
        "candidate code": column(lambda one: one.code, object),
        "frame": column(lambda one: one.frame.frame, object),
        "compressor inducer": column(lambda one: one.compressor.inducer),
        "compressor exducer": column(lambda one: one.compressor.exducer),
        "compressor trim": column(lambda one: one.compressor.trim),
        "wheel material": column(lambda one: one.compressor.material, object),
        "ported shroud": column(lambda one: one.turbo.ported_shroud, np.bool_),
        "turbine inducer": column(lambda one: one.turbine.inducer),
        "turbine exducer": column(lambda one: one.turbine.exducer),
        "housing ratio": column(lambda one: one.housing.housing_ratio),
        "housing entry": column(lambda one: one.housing.entry, object),
        "housing foot": column(lambda one: one.housing.foot, object),
        "wastegate": column(lambda one: one.wastegate, object),
        "gate bore": column(lambda one: one.gate_bore),
        "bearing": column(lambda one: one.turbo.bearing, object),
        "compressor outlet size": column(lambda one: one.turbo.outlet),
        "turbine outlet size": column(lambda one: one.housing.outlet),
        "candidate price": column(lambda one: one.price),
        "delivery days": column(lambda one: one.delivery),
        "two stage": column(lambda one: False, np.bool_),
    }
    geometry = {
        "wheel": column(lambda one: wheel_row[one.code], np.int64),
        "compressor_exducer": facts["compressor exducer"],
        "turbine_inducer": facts["turbine inducer"],
        "turbine_exducer": facts["turbine exducer"],
        "housing_ratio": facts["housing ratio"],
        "divided": column(lambda one: one.housing.entry == "divided", np.bool_),
        "gate_bore": facts["gate bore"],
        "gate_external": column(lambda one: one.wastegate == "external", np.bool_),
        "tip_speed_limit": column(lambda one: one.tip_speed_limit),
        "ball_bearing": column(lambda one: one.turbo.bearing == "ball", np.bool_),
        "thrust_angle": column(lambda one: THRUST_ANGLE[one.turbo.bearing]),
        "parallel": column(lambda one: 1.0),
    }
    more = {
        "compressor_inducer": facts["compressor inducer"],
        "turbine_tip_height": column(lambda one: one.turbine.tip_height),
        "turbine_blades": column(lambda one: one.turbine.blades),
        "rotor_speed_limit": column(lambda one: one.turbo.rotor_speed_limit),
        "throat_area": column(
            lambda one: np.nan if one.housing.throat_area is None else one.housing.throat_area
        ),
        "weight": column(lambda one: one.weight),
    }
    return Candidates(
        combinations, tuple(wheels), *(MappingProxyType(columns) for columns in (facts, geometry, more))
    )


def _table_wheel(wheel: CompressorWheel, ported: bool) -> TableWheel:
    return TableWheel(
        code=wheel.wheel,
        inducer=wheel.inducer,
        exducer=wheel.exducer,
        tip_height=wheel.tip_height,
        hub_ratio=wheel.hub_ratio,
        full_blades=wheel.full_blades,
        splitter_blades=wheel.splitter_blades,
        backsweep=wheel.backsweep,
        material=wheel.material,
        ported_shroud=ported,
        map=wheel.map,
    )
