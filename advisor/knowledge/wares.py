"""What the shop sells, piece by piece, as its catalogue files write it; SI once read.

Lengths m, areas m2, masses kg, angles rad, rotor speed rad/s, delivery s, money in the shop's currency.
"""

import re
from math import pi
from typing import Annotated

from pydantic import BeforeValidator, Field

from . import patterns
from .accepted import AcceptedEntry
from .ends import bore_end, pipe_end
from .fields import Entry, Text, Wrong, YesNo, one_of, read_by
from .measure import in_si, read_figure

TIP_SPEED_LIMIT = {"cast": 520.0, "forged": 550.0, "milled": 560.0, "titanium": 615.0}
"""Impeller tip speed [m/s] that a compressor wheel of each material may hold (trade figures, no source)."""

THRUST_ANGLE = {"journal 270": 1.5 * pi, "journal 360": 2.0 * pi, "ball": 2.0 * pi}
"""Angle [rad] over which the bearing takes axial load; ball bearings take it all round."""

LEAST_GATE_SHARE = 0.72
"""A gate smaller than this share of the boss isn't sold with it (common practice, no source)."""

RATIOS = (0.2, 3.0)
"""A/R that there may be [in]."""

FEET = ("T3", "T4", "T6")
_MEASURED = re.compile(r"(?P<before>\$?)(?P<number>[\d.,]+)(?: ?(?P<after>[^\d\s-].*))?")

ENTRIES = ("open", "divided")


def measured(quantity: str, unit: str, low: float, high: float, usual: str) -> BeforeValidator:
    """One number with its unit, within plausible bounds (given in `unit`); SI once read. `usual` is an example."""

    def read(words: str) -> float:
        found = _MEASURED.fullmatch(words)
        if found is None:
            if words.replace("$", "").lstrip().startswith("-"):
                raise Wrong(f"'{words}' is below zero", f"write it without the '-', as in '{usual}'")
            raise Wrong(f"'{words}' is no {quantity}", f"write a number and its unit, as in '{usual}'")
        written = found["before"] or found["after"] or ""
        if not written:
            raise Wrong(f"'{words}' has no unit", f"write it as in '{usual}'")
        value = in_si(read_figure(found["number"]), written, quantity)
        least, most = in_si(low, unit, quantity), in_si(high, unit, quantity)
        if not least <= value <= most:
            bounds = f"${low:,g} to ${high:,g}" if unit == "$" else f"{low:g} to {high:g} {unit}"
            raise Wrong(f"'{words}' is out of bounds", f"write something from {bounds}")
        return value

    return read_by(read, type="string", pattern=patterns.ware(quantity))


def spelt(pattern: str, what: str, mend: str) -> BeforeValidator:
    """A text of at most 40 characters that is spelt like `pattern`."""

    def read(words: str) -> str:
        if len(words) > 40 or not re.fullmatch(pattern, words):
            raise Wrong(f"'{words}' is no {what}", mend)
        return words

    return read_by(read, pattern=f"^(?:{pattern})$", maxLength=40)


def _ratio(words: str) -> str:
    """An A/R given in hundredths is told how it is written."""
    if words.isdecimal() and len(words) <= 4 and RATIOS[0] <= int(words) / 100 <= RATIOS[1]:
        raise Wrong(f"'{words}' is out of bounds", f"write the A/R in inches, {int(words) / 100:.2f}")
    return words


Code = Annotated[
    str, spelt("[A-Z0-9]+(-[A-Z0-9]+)*", "code", "use capitals, digits and hyphens, as in CG-6471")
]
Name = Annotated[str, spelt("[a-z][a-z0-9 -]*", "name", "use small letters, as in 'charge boot'")]
Wheel = Annotated[float, measured("length", "mm", 20, 300, "64 mm")]
Blade = Annotated[float, measured("length", "mm", 1, 60, "5.9 mm")]
Bore = Annotated[float, measured("length", "mm", 10, 150, "38 mm")]
TurboPrice = Annotated[float, measured("money", "$", 100, 50_000, "$1485")]
PiecePrice = Annotated[float, measured("money", "$", 10, 10_000, "$345")]
PartPrice = Annotated[float, measured("money", "$", 1, 10_000, "$38")]
Delivery = Annotated[float, measured("time", "days", 0, 365, "3 days")]
Weight = Annotated[float, measured("mass", "kg", 0.1, 200, "7.9 kg")]
Height = Annotated[float, measured("length", "mm", 1, 300, "12 mm")]
Ratio = Annotated[float, Field(ge=RATIOS[0], le=RATIOS[1]), read_by(_ratio)]
HubRatio = Annotated[float, Field(ge=0.1, le=0.6)]
Blades = Annotated[int, Field(ge=3, le=24)]
PipeSize = Annotated[float, measured("length", "in", 1, 8, "4 in")]
Entrance = Annotated[str, one_of(*ENTRIES)]
Foot = Annotated[str, one_of(*FEET)]
FeedThread = Annotated[str, one_of("7/16-20", "9/16-18")]
DrainThread = Annotated[str, one_of("7/8-14", "1 1/16-12")]


class Ware(Entry):
    """Base of all pieces; the first field of each own is its code."""

    accepted: tuple[AcceptedEntry, ...] = ()

    @classmethod
    def code_field(cls) -> str:
        """Name of the field that holds the code."""
        return next(name for name in cls.model_fields if name != "accepted")

    @property
    def code(self) -> str:
        """What the shop calls it."""
        return str(getattr(self, self.code_field()))


class Frame(Ware):
    """A frame size: what its centre section takes, and the flare threads of its oil ports (SAE J514)."""

    frame: Name
    smallest_inducer: Wheel
    largest_inducer: Wheel
    smallest_housing_ratio: Ratio
    largest_housing_ratio: Ratio
    oil_feed: FeedThread
    oil_drain: DrainThread

    @property
    def ends(self) -> dict[str, str]:
        """Joint → end that a fitting has to meet; likewise of turbo, housing and gate."""
        return {"oil feed": f"oil feed {self.oil_feed}", "oil drain": f"oil drain {self.oil_drain}"}


class CompressorWheel(Ware):
    """A compressor wheel. Tip height is the axial blade height at the exducer, backsweep from the radial."""

    wheel: Code
    inducer: Wheel
    exducer: Wheel
    tip_height: Blade
    hub_ratio: HubRatio
    full_blades: Blades
    splitter_blades: Annotated[int, Field(ge=0, le=24)]
    backsweep: Annotated[float, measured("angle", "deg", 0, 60, "35 deg")]
    material: Annotated[str, one_of(*TIP_SPEED_LIMIT)]
    map: Name | None = None

    @property
    def trim(self) -> float:
        """Inducer over exducer area, in hundredths, as the trade gives it."""
        return 100.0 * (self.inducer / self.exducer) ** 2


class TurbineWheel(Ware):
    """A turbine wheel: gas comes in at the inducer (larger) and leaves at the exducer."""

    wheel: Code
    inducer: Wheel
    exducer: Wheel
    tip_height: Blade
    hub_ratio: HubRatio
    blades: Blades
    material: Annotated[str, one_of("standard", "high heat")]


class Turbo(Ware):
    """A turbo without its turbine housing."""

    turbo: Code
    frame: Name
    compressor_wheel: Code
    turbine_wheel: Code
    bearing: Annotated[str, one_of(*THRUST_ANGLE)]
    ported_shroud: YesNo
    inlet: PipeSize
    outlet: PipeSize
    connection: Annotated[str, one_of("hose", "V-band")]
    rotor_speed_limit: Annotated[float, measured("rotation", "rpm", 10_000, 400_000, "116000 rpm")]
    weight: Weight
    price: TurboPrice
    delivery: Delivery

    @property
    def ends(self) -> dict[str, str]:
        """Joint → end on the compressor cover."""
        return {
            "intake": pipe_end("intake", self.inlet),
            "charge pipe": pipe_end(f"charge {self.connection}", self.outlet),
        }


class Housing(Ware):
    """A turbine housing. The ratio is A/R in inches; `gate`: none, internal (bore of the valve seat), or boss
    (bore of the port that takes an external gate). A throat area, where listed, was measured."""

    housing: Code
    frame: Name
    turbine_wheels: Annotated[tuple[Code, ...], Field(min_length=1)]
    housing_ratio: Ratio
    entry: Entrance
    foot: Foot
    outlet: PipeSize
    gate: Annotated[str, one_of("none", "internal", "boss")]
    gate_bore: Bore | None = None
    throat_area: Annotated[float, measured("area", "cm2", 1, 200, "12.5 cm2")] | None = None
    weight: Weight
    price: PiecePrice
    delivery: Delivery

    @property
    def ends(self) -> dict[str, str]:
        """Joint → end on the turbine housing; the boss for a gate is one of them."""
        ends = {"foot": f"foot {self.foot}", "exhaust": pipe_end("exhaust V-band", self.outlet)}
        if self.gate == "boss" and self.gate_bore is not None:
            ends["gate boss"] = bore_end("gate boss", self.gate_bore, self.entry)
        return ends

    @property
    def short(self) -> str:
        """A/R in hundredths, D(ivided) or S(ingle), G for an internal gate, and the foot: `090D-T4`."""
        entry = "D" if self.entry == "divided" else "S"
        gate = "G" if self.gate == "internal" else ""
        return f"{round(self.housing_ratio * 100):03d}{entry}{gate}-{self.foot}"

    def takes(self, gate: "Gate") -> bool:
        """Whether it has a boss for this external gate: as many legs, bore enough but not far too much."""
        if self.gate != "boss" or self.gate_bore is None or gate.entry != self.entry:
            return False
        return LEAST_GATE_SHARE * self.gate_bore <= gate.gate_bore <= self.gate_bore


class Gate(Ware):
    """An external gate; a divided one has two legs, so that the scrolls stay apart."""

    gate: Code
    entry: Entrance
    gate_bore: Bore
    weight: Weight
    price: PiecePrice
    delivery: Delivery

    @property
    def ends(self) -> dict[str, str]:
        """Joint → end on the gate."""
        return {
            "gate": bore_end("gate inlet", self.gate_bore, self.entry),
            "dump": bore_end("gate dump", self.gate_bore),
        }


class Part(Ware):
    """A fitting. One with ends joins any of its `from` ends (vehicle's side) to any of its `to` ends."""

    fitting: Code
    kind: Name
    words: Text
    from_: Annotated[tuple[Text, ...], Field(alias="from")] = ()
    to: tuple[Text, ...] = ()
    either_way: YesNo = False
    height: Height | None = None
    price: PartPrice
    delivery: Delivery

    @property
    def joins(self) -> tuple[tuple[str, str], ...]:
        """Every pair of ends it joins, as (vehicle's side, turbo's side)."""
        pairs = tuple((near, far) for near in self.from_ for far in self.to)
        return pairs + tuple((far, near) for near, far in pairs) if self.either_way else pairs
