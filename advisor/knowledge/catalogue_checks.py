"""What can be wrong with a catalogue whose entries are each well written: references, geometry, orphans.

Bounds of plausible geometry are common practice, no source.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from .catalogue import Catalogue
from .ends import INCH, kind_of, likely_ends
from .places import Fault, Place, did_you_mean, listed
from .source import Document, Steps
from .wares import TIP_SPEED_LIMIT, CompressorWheel, Frame, Gate, Housing, Part, TurbineWheel, Turbo

At = Callable[..., Place]
"""The place of what stands at some steps within an entry."""
REFERENCES: Mapping[str, Mapping[str, str]] = {
    "turbos": {"frame": "frames", "compressor wheel": "compressor wheels", "turbine wheel": "turbine wheels"},
    "housings": {"frame": "frames", "turbine wheels": "turbine wheels"},
}
"""The fields of entries that hold codes of others, and of which."""

COMPRESSOR_TRIM = (35.0, 75.0)
TURBINE_EXDUCER_SHARE = (0.70, 0.95)
COMPRESSOR_TIP_SHARE = (0.03, 0.14)
TURBINE_TIP_SHARE = (0.06, 0.25)
TIP_SPEED_TOLERANCE = 1.005
SLOWEST_TIP = 300.0
THROAT_RADIUS = (1.2, 2.4)
"""Radius to the middle of the volute's throat over that of the wheel: the throat's area over A/R and wheel radius."""


@dataclass(frozen=True, slots=True)
class Written:
    """How the catalogue was written: where each (top key, code) stands, and which codes each key has,
    those of entries that could not be read among them; `unread` are keys of which a file could not be read at all."""

    located: Mapping[tuple[str, str], tuple[Document, Steps]]
    codes: Mapping[str, Collection[str]]
    unread: Collection[str] = ()

    def at(self, key: str, code: str) -> At:
        """Places within one entry."""
        document, path = self.located[key, code]
        return lambda *steps: document.place((*path, *steps))


def check_entries(catalogue: Catalogue, written: Written) -> Iterator[Fault]:
    """References that lead nowhere and geometry that can't be."""
    at = written.at
    for code, frame in catalogue.frames.items():
        place = at("frames", code)
        if frame.largest_inducer <= frame.smallest_inducer:
            yield Fault(
                place("largest inducer"), "is not above the smallest inducer", "swap or correct the two"
            )
        if frame.largest_housing_ratio <= frame.smallest_housing_ratio:
            yield Fault(
                place("largest housing ratio"),
                "is not above the smallest housing ratio",
                "swap or correct the two",
            )
    for code, wheel in catalogue.compressor_wheels.items():
        yield from _compressor(wheel, at("compressor wheels", code))
    for code, turbine in catalogue.turbine_wheels.items():
        yield from _turbine(turbine, at("turbine wheels", code))
    for code, turbo in catalogue.turbos.items():
        yield from _turbo(catalogue, turbo, at("turbos", code), written)
    for code, housing in catalogue.housings.items():
        yield from _housing(catalogue, housing, at("housings", code), written)
    for code, part in catalogue.fittings.items():
        yield from _part(part, at("fittings", code))


def check_refused(key: str, data: Mapping[str, object], place: At, written: Written) -> Iterator[Fault]:
    """References that lead nowhere from an entry that has other faults, as it is written."""
    for field, other in REFERENCES.get(key, {}).items():
        codes = data.get(field)
        if isinstance(codes, str):
            yield from _known(other, codes, written, place(field))
        for index, code in enumerate(codes if isinstance(codes, list) else ()):
            if isinstance(code, str):
                yield from _known(other, code, written, place(field, index))
    for field in ("from", "to") if key == "fittings" else ():
        ends = data.get(field)
        if isinstance(ends, list):
            yield from _ends(field, [end for end in ends if isinstance(end, str)], place)


def check_whole(catalogue: Catalogue, written: Written) -> Iterator[Fault]:
    """Pieces that go with nothing; only sensible once every entry could be read."""
    at = written.at
    for code, turbo in catalogue.turbos.items():
        if not any(_mate(turbo, housing) for housing in catalogue.housings.values()):
            what = f"no housing fits turbine wheel {turbo.turbine_wheel} in frame {turbo.frame}"
            yield Fault(at("turbos", code)("turbo"), what, "add the wheel to the housings it fits")
    for code, housing in catalogue.housings.items():
        yield from _lonely_housing(catalogue, housing, at("housings", code))
    for code, gate in catalogue.gates.items():
        if not any(housing.takes(gate) for housing in catalogue.housings.values()):
            what = f"no {gate.entry} housing has a boss for this gate of {_mm(gate.gate_bore)}"
            yield Fault(at("gates", code)("gate"), what, "add such a housing, or take the gate out")
    yield from _unjoined(catalogue, at)


def _compressor(wheel: CompressorWheel, place: At) -> Iterator[Fault]:
    if wheel.exducer <= wheel.inducer:
        what = f"exducer {_mm(wheel.exducer)} is not larger than the inducer {_mm(wheel.inducer)}"
        yield Fault(
            place("exducer"), what, "on a compressor wheel the inducer is the smaller one; swap them?"
        )
    elif not COMPRESSOR_TRIM[0] <= wheel.trim <= COMPRESSOR_TRIM[1]:
        what = (
            f"inducer {_mm(wheel.inducer)} and exducer {_mm(wheel.exducer)} make a trim of {wheel.trim:.0f}"
        )
        yield Fault(
            place("exducer"), what, "wheels lie from {:.0f} to {:.0f}; measure again".format(*COMPRESSOR_TRIM)
        )
    yield from _share(wheel.tip_height, wheel.exducer, COMPRESSOR_TIP_SHARE, "exducer", place)


def _turbine(wheel: TurbineWheel, place: At) -> Iterator[Fault]:
    share = wheel.exducer / wheel.inducer
    if share >= 1.0:
        what = f"exducer {_mm(wheel.exducer)} is not smaller than the inducer {_mm(wheel.inducer)}"
        yield Fault(place("exducer"), what, "on a turbine wheel the inducer is the larger one; swap them?")
    elif not TURBINE_EXDUCER_SHARE[0] <= share <= TURBINE_EXDUCER_SHARE[1]:
        what = f"exducer {_mm(wheel.exducer)} is {share:.2f} of the inducer {_mm(wheel.inducer)}"
        mend = "turbine wheels lie from {:.2f} to {:.2f}; measure again".format(*TURBINE_EXDUCER_SHARE)
        yield Fault(place("exducer"), what, mend)
    yield from _share(wheel.tip_height, wheel.inducer, TURBINE_TIP_SHARE, "inducer", place)


def _share(
    height: float, diameter: float, bounds: tuple[float, float], which: str, place: At
) -> Iterator[Fault]:
    low, high = bounds
    if not low <= height / diameter <= high:
        what = f"tip height {_mm(height)} doesn't suit an {which} of {_mm(diameter)}"
        yield Fault(
            place("tip height"), what, f"write something from {_mm(low * diameter)} to {_mm(high * diameter)}"
        )


def _turbo(catalogue: Catalogue, turbo: Turbo, place: At, written: Written) -> Iterator[Fault]:
    yield from _known("frames", turbo.frame, written, place("frame"))
    yield from _known("compressor wheels", turbo.compressor_wheel, written, place("compressor wheel"))
    yield from _known("turbine wheels", turbo.turbine_wheel, written, place("turbine wheel"))
    frame = catalogue.frames.get(turbo.frame)
    wheel = catalogue.compressor_wheels.get(turbo.compressor_wheel)
    if frame and wheel and not frame.smallest_inducer <= wheel.inducer <= frame.largest_inducer:
        what = f"inducer {_mm(wheel.inducer)} of {wheel.wheel} is outside frame {frame.frame}"
        mend = f"that frame takes {_mm(frame.smallest_inducer)} to {_mm(frame.largest_inducer)}"
        yield Fault(place("compressor wheel"), what, mend)
    if wheel:
        tip, most = turbo.rotor_speed_limit * wheel.exducer / 2.0, TIP_SPEED_LIMIT[wheel.material]
        if not SLOWEST_TIP <= tip <= most * TIP_SPEED_TOLERANCE:
            what = f"the rotor speed limit runs the tip of {wheel.wheel} at {tip:.0f} m/s"
            mend = f"a {wheel.material} wheel may hold {SLOWEST_TIP:.0f} to {most:.0f} m/s"
            yield Fault(place("rotor speed limit"), what, mend)


def _housing(catalogue: Catalogue, housing: Housing, place: At, written: Written) -> Iterator[Fault]:
    yield from _known("frames", housing.frame, written, place("frame"))
    for index, wheel in enumerate(housing.turbine_wheels):
        yield from _known("turbine wheels", wheel, written, place("turbine wheels", index))
    frame = catalogue.frames.get(housing.frame)
    if frame and not frame.smallest_housing_ratio <= housing.housing_ratio <= frame.largest_housing_ratio:
        what = f"housing ratio {housing.housing_ratio:.2f} is outside frame {frame.frame}"
        mend = f"that frame takes {frame.smallest_housing_ratio:.2f} to {frame.largest_housing_ratio:.2f}"
        yield Fault(place("housing ratio"), what, mend)
    if housing.gate == "none" and housing.gate_bore is not None:
        yield Fault(place("gate bore"), "a housing without a gate has no gate bore", "take the line out")
    if housing.gate != "none" and housing.gate_bore is None:
        what = f"gate is {housing.gate}, and its bore is missing"
        yield Fault(place("gate"), what, "add a line 'gate bore: ...'")
    wheels = [catalogue.turbine_wheels[code] for code in housing.turbine_wheels if code in catalogue.turbine_wheels]
    yield from _proportions(housing, wheels, place)
    for other in catalogue.housings.values():
        if other.housing < housing.housing and other.frame == housing.frame and other.short == housing.short:
            shared = sorted(set(other.turbine_wheels) & set(housing.turbine_wheels))
            if shared:
                what = f"with {listed(shared)} it makes the same combination as {other.housing}"
                yield Fault(place("housing"), what, "let a wheel have one of the two")


def _proportions(housing: Housing, wheels: Sequence[TurbineWheel], place: At) -> Iterator[Fault]:
    """A throat or a gate that doesn't suit the wheels of a housing."""
    for wheel in wheels:
        least, most = (share * housing.housing_ratio * INCH * wheel.inducer / 2.0 for share in THROAT_RADIUS)
        if housing.throat_area is not None and not least <= housing.throat_area <= most:
            what = f"throat area {_cm2(housing.throat_area)} doesn't suit A/R {housing.housing_ratio:.2f}"
            mend = f"with wheel {wheel.wheel} write something from {_cm2(least)} to {_cm2(most)}"
            yield Fault(place("throat area"), what, mend)
            break
    for wheel in wheels:
        if housing.gate_bore is not None and housing.gate_bore >= wheel.exducer:
            what = f"gate bore {_mm(housing.gate_bore)} is not smaller than the exducer of {wheel.wheel}"
            yield Fault(place("gate bore"), what, f"write something below {_mm(wheel.exducer)}")
            break


def _lonely_housing(catalogue: Catalogue, housing: Housing, place: At) -> Iterator[Fault]:
    turned = {turbo.turbine_wheel for turbo in catalogue.turbos.values() if turbo.frame == housing.frame}
    for wheel in housing.turbine_wheels:
        if wheel in catalogue.turbine_wheels and wheel not in turned:
            what = f"no turbo of frame {housing.frame} has turbine wheel {wheel}: with it, this fits nothing"
            yield Fault(place("turbine wheels"), what, "correct the wheel or the frame")
    boss = housing.gate_bore if housing.gate == "boss" else None
    if boss is not None and not any(housing.takes(gate) for gate in catalogue.gates.values()):
        what = f"no {housing.entry} gate fits the {_mm(boss)} boss"
        yield Fault(place("gate"), what, "add such a gate, or write 'gate: none'")


def _part(part: Part, place: At) -> Iterator[Fault]:
    if bool(part.from_) != bool(part.to):
        yield Fault(
            place("fitting"), "it has an end on one side only", "write both 'from' and 'to', or neither"
        )
    for field, ends in (("from", part.from_), ("to", part.to)):
        yield from _ends(field, ends, place)
    if part.either_way and not part.to:
        yield Fault(place("either way"), "a fitting without ends has no way round", "take the line out")


def _ends(field: str, ends: Sequence[str], place: At) -> Iterator[Fault]:
    for index, end in enumerate(ends):
        if kind_of(end) is None:
            yield Fault(place(field, index), f"'{end}' is no end that is known here", likely_ends(end))


def _unjoined(catalogue: Catalogue, at: Callable[[str, str], At]) -> Iterator[Fault]:
    """Ends of turbos, housings and gates that no fitting of the shop meets."""
    pairs = {pair for part in catalogue.fittings.values() for pair in part.joins}
    met = {far for _, far in pairs}
    pieces: tuple[tuple[str, Mapping[str, Frame | Turbo | Housing | Gate]], ...] = (
        ("frames", catalogue.frames),
        ("turbos", catalogue.turbos),
        ("housings", catalogue.housings),
        ("gates", catalogue.gates),
    )
    for key, group in pieces:
        for code, piece in group.items():
            for joint, end in piece.ends.items():
                if end not in met:
                    what = f"no fitting leads to its {joint} end, '{end}'"
                    yield Fault(at(key, code)(key[:-1]), what, "add a fitting with that end on its 'to' side")
    for code, housing in catalogue.housings.items():
        for gate in filter(housing.takes, catalogue.gates.values()):
            boss = housing.ends["gate boss"]
            if (boss, gate.ends["gate"]) not in pairs:
                what = f"no gate plumbing joins its boss to gate {gate.gate}"
                yield Fault(at("housings", code)("gate"), what, f"add '{boss}' to the ends of the plumbing")


def idle(catalogue: Catalogue) -> Iterator[Fault]:
    """Notes: frames and wheels that no turbo has."""
    turbos = catalogue.turbos.values()
    groups: tuple[tuple[str, Collection[str], set[str]], ...] = (
        ("frames", catalogue.frames, {turbo.frame for turbo in turbos}),
        ("compressor wheels", catalogue.compressor_wheels, {turbo.compressor_wheel for turbo in turbos}),
        ("turbine wheels", catalogue.turbine_wheels, {turbo.turbine_wheel for turbo in turbos}),
    )
    for key, codes, used in groups:
        for code in sorted({*codes} - used):
            mend = f"add a turbo with that {key.split()[-1][:-1]}, or leave it out"
            place = catalogue.places[key, code]
            yield Fault(place, f"no turbo has {key[:-1]} {code}", mend, "note", "not needed", (place,))


def _mate(turbo: Turbo, housing: Housing) -> bool:
    return housing.frame == turbo.frame and turbo.turbine_wheel in housing.turbine_wheels


def _known(key: str, code: str, written: Written, place: Place) -> Iterator[Fault]:
    codes = sorted(written.codes[key])
    if code not in codes and key not in written.unread:
        otherwise = f"known: {listed(codes)}" if codes else f"list it under '{key}:' in a file of the catalogue"
        size = _next_size(code, codes)
        mend = f"did you mean '{size}'?" if size else did_you_mean(code, codes, otherwise)
        yield Fault(place, f"there is no {key[:-1]} {code}", mend)


def _next_size(code: str, codes: Iterable[str]) -> str | None:
    """Of codes that differ from one in their last figure alone the nearest in size; of two as near the smaller."""
    series = [one for one in codes if len(one) == len(code) and one[:-1] == code[:-1] and one[-1].isdigit()]
    if not code[-1].isdigit() or any(sorted(one) == sorted(code) for one in codes):
        return None
    return min(series, key=lambda one: (abs(int(one[-1]) - int(code[-1])), one), default=None)


def _cm2(area: float) -> str:
    return f"{area * 1e4:.1f} cm2"


def _mm(length: float) -> str:
    return f"{length * 1e3:.1f} mm"
