"""The parts list: everything that has to be bought to run a combination on this vehicle, and what stays open.

Money in the shop's currency, delivery in s.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from advisor.knowledge.catalogue import Catalogue, Combination, bearing_words
from advisor.knowledge.wares import Part
from advisor.quantities import Range

from .joints import JointFit, Vehicle, connections, joints_of

COMMON = "common practice, no source"
FROM_CATALOGUE = "shop catalogue"
REASONS = {
    "foot": "bolts the turbo to the manifold",
    "exhaust": "joins the turbine outlet to the exhaust",
    "charge pipe": "joins the compressor outlet to the charge pipe",
    "oil feed": "brings oil to the bearings",
    "oil drain": "lets the oil back into the engine",
    "intake": "filters the air at the compressor inlet",
    "gate boss": "closes the boss, as no gate is fitted",
    "gate": "brings exhaust from the housing to the gate",
    "dump": "leads the gate's exhaust away",
    "boost line": "lets boost work the gate",
}


@dataclass(frozen=True, slots=True)
class Extra:
    """A part that a rule adds, by kind."""

    kind: str
    quantity: int = 1
    why: str = ""
    basis: str = COMMON


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `price` is for the whole quantity, `joins` the ends (vehicle's side, turbo's side)."""

    code: str
    kind: str
    words: str
    quantity: int
    price: float
    delivery: float
    why: str
    basis: str
    joins: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """An end of the turbo that the list leaves open, why, what each still possible answer would take, and what it
    would cost."""

    joint: str
    end: str
    words: str
    possibilities: tuple[str, ...]
    price: Range


@dataclass(frozen=True, slots=True)
class PartsList:
    """All lines, and the ends that they leave open. `price_high` counts the dearest way to close those."""

    lines: tuple[Line, ...]
    open_ends: tuple[OpenEnd, ...]
    price: float
    price_high: float
    delivery: float

    @property
    def complete(self) -> bool:
        """Whether every end of the turbo is joined."""
        return not self.open_ends


def parts_list(
    combination: Combination, vehicle: Vehicle, catalogue: Catalogue, extras: Sequence[Extra] = ()
) -> PartsList:
    """Everything needed to run `combination` on `vehicle`, and the `extras`.

    Raises ValueError for an extra of a kind that the catalogue doesn't have.
    """
    lines = list(_pieces(combination))
    open_ends = []
    low = high = 0.0
    for joint in joints_of(combination, vehicle, connections(catalogue)):
        if len(joint.near) == 1 and joint.chains[0] is not None:
            lines.extend(_chain_lines(joint))
        else:
            open_ends.append(_open(joint))
            low, high = low + joint.price.low, high + joint.price.high
    lines.extend(always(combination, catalogue))
    for extra in extras:
        if all(line.kind != extra.kind for line in lines):
            lines.append(_extra_line(extra, catalogue))
    price = sum(line.price for line in lines)
    delivery = max(line.delivery for line in lines)
    return PartsList(tuple(lines), tuple(open_ends), price + low, price + high, delivery)


def always(combination: Combination, catalogue: Catalogue) -> Iterator[Line]:
    """Parts that go with every turbo of its kind and join nothing."""
    wanted = [Extra("first start kit", why="the bearings must not start dry")]
    if combination.turbo.bearing == "ball":
        wanted.insert(0, Extra("oil restrictor", why="ball bearings want less oil than journals"))
    for extra in wanted:
        if extra.kind in catalogue.kinds:
            yield _extra_line(extra, catalogue)


def _pieces(combination: Combination) -> Iterator[Line]:
    turbo, housing, gate = combination.turbo, combination.housing, combination.gate
    words = (
        f"turbo, {combination.compressor.inducer * 1e3:g} mm compressor, "
        f"{combination.turbine.exducer * 1e3:g} mm turbine, {bearing_words(turbo.bearing)}"
    )
    yield Line(
        turbo.turbo, "turbo", words, 1, turbo.price, turbo.delivery, "the turbo itself", FROM_CATALOGUE
    )
    words = f"{housing.housing_ratio:.2f} {housing.entry} {housing.foot} turbine housing"
    if housing.gate == "internal":
        words += f" with {combination.gate_bore * 1e3:g} mm internal gate"
    yield Line(
        housing.housing, "turbine housing", words, 1, housing.price, housing.delivery,
        "sets how the turbine takes the exhaust", FROM_CATALOGUE,
    )  # fmt: skip
    if gate is not None:
        legs = "two-leg" if gate.entry == "divided" else "one-leg"
        yield Line(
            gate.gate, "external gate", f"{gate.gate_bore * 1e3:g} mm {legs} external gate", 1, gate.price,
            gate.delivery, "limits boost and shaft speed", FROM_CATALOGUE,
        )  # fmt: skip


def _chain_lines(joint: JointFit) -> Iterator[Line]:
    chain = joint.chains[0]
    assert chain is not None
    for part, ends in zip(chain.parts, pairwise(chain.ends), strict=True):
        yield _line(part, 1, REASONS[joint.joint], FROM_CATALOGUE, ends)


def _open(joint: JointFit) -> OpenEnd:
    possibilities = tuple(
        f"{near}: {chain.words if chain else 'nothing in the catalogue joins it'}"
        for near, chain in zip(joint.near, joint.chains, strict=True)
    )
    return OpenEnd(joint.joint, joint.far, joint.words, possibilities, joint.price)


def _extra_line(extra: Extra, catalogue: Catalogue) -> Line:
    """The cheapest part of the kind."""
    parts = [part for part in catalogue.fittings.values() if part.kind == extra.kind]
    if not parts:
        raise ValueError(f"the catalogue has no fitting of kind {extra.kind!r}")
    part = min(parts, key=lambda part: (part.price, part.fitting))
    return _line(part, extra.quantity, extra.why, extra.basis)


def _line(part: Part, quantity: int, why: str, basis: str, joins: tuple[str, str] | None = None) -> Line:
    return Line(
        part.fitting, part.kind, part.words, quantity, part.price * quantity, part.delivery, why, basis, joins
    )
