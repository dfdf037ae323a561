"""Quantities in the shop's files: which unit means what, and what may be added to or compared with what."""

import re
from dataclasses import dataclass
from functools import lru_cache

from advisor.quantities import QUANTITIES, as_alias, to_si
from advisor.words.numerals import read_numeral
from advisor.words.speech import Unclear

from .fields import Wrong
from .places import did_you_mean

# Exponents of length, mass, time, temperature, money.
Dimension = tuple[int, int, int, int, int]
NONE: Dimension = (0, 0, 0, 0, 0)
DIMENSIONS: dict[str, Dimension] = {
    "length": (1, 0, 0, 0, 0),
    "altitude": (1, 0, 0, 0, 0),
    "area": (2, 0, 0, 0, 0),
    "volume": (3, 0, 0, 0, 0),
    "mass": (0, 1, 0, 0, 0),
    "pressure": (-1, 1, -2, 0, 0),
    "temperature": (0, 0, 0, 1, 0),
    "power": (2, 1, -3, 0, 0),
    "torque": (2, 1, -2, 0, 0),
    "mass flow": (0, 1, -1, 0, 0),
    "speed": (1, 0, -1, 0, 0),
    "rotation": (0, 0, -1, 0, 0),
    "time": (0, 0, 1, 0, 0),
    "money": (0, 0, 0, 0, 1),
    "ratio": NONE,
    "percent": NONE,
    "count": NONE,
    "angle": NONE,
}
ALL_UNITS = tuple(sorted({unit for quantity in QUANTITIES.values() for unit in quantity.units if unit}))
_THOUSANDS = re.compile(r"(k|thousand|hundred|grand)\b")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}\.\d00")
_NUMBER = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+")


@dataclass(frozen=True, slots=True)
class Kind:
    """What sort of number a sum is. `quantity` is "" for a bare number, None for one without a name."""

    dimension: Dimension
    quantity: str | None
    difference: bool = False

    @property
    def is_point(self) -> bool:
        """A temperature on a scale: it has differences, but no sums and no multiples."""
        return self.dimension == DIMENSIONS["temperature"] and not self.difference

    @property
    def words(self) -> str:
        if self.difference:
            return "a temperature difference"
        if self.quantity == "":
            return "a bare number"
        return with_article(self.quantity) if self.quantity else "a mixed quantity"


def with_article(quantity: str) -> str:
    """`a pressure`, `an altitude`."""
    named = {"percent": "percentage", "rotation": "rotational speed", "money": "amount of money"}
    name = named.get(quantity, quantity)
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


BARE = Kind(NONE, "")


def kind_of(quantity: str) -> Kind:
    return Kind(DIMENSIONS[quantity], quantity)


def agree(one: Kind, other: Kind) -> bool:
    """Whether the two may be compared or added."""
    if one.dimension != other.dimension or one.difference != other.difference:
        return False
    if one.dimension != NONE or one.quantity == other.quantity:
        return True
    pair = {one.quantity, other.quantity}
    return not (pair & {"angle"} or pair in ({"", "percent"}, {"count", "percent"}))


def product(one: Kind, other: Kind, sign: int) -> Kind:
    """The kind of `one * other` (sign 1) or `one / other` (sign -1)."""
    both = zip(one.dimension, other.dimension, strict=True)
    a, b, c, d, e = (left + sign * right for left, right in both)
    dimension: Dimension = (a, b, c, d, e)
    if one.dimension == NONE and other.dimension == NONE:
        return BARE if one.quantity == other.quantity == "" else Kind(NONE, "ratio")
    if dimension == one.dimension:
        return Kind(dimension, one.quantity, one.difference)
    if dimension == other.dimension:
        return Kind(dimension, other.quantity, other.difference)
    return Kind(dimension, "ratio" if dimension == NONE else None)


@lru_cache(maxsize=512)
def quantities_of(unit: str) -> tuple[str, ...]:
    """The quantities that are measured in this unit; empty when nobody knows the unit, or not which is meant.

    What callers say loosely ("35 lb" of boost) is no unit here: a symbol always means the same in a rule.
    """
    found = [name for name, quantity in QUANTITIES.items() if unit and unit in quantity.units]
    if not found:
        alias = as_alias(unit)
        found = [name for name, quantity in QUANTITIES.items() if alias in quantity.aliases]
        if len({DIMENSIONS[name] for name in found}) > 1:
            return ()
    return tuple(found)


def read_figure(words: str) -> float:
    """`14,000` or `3.73`; raises `Wrong` where it is unclear which number is meant."""
    if _TWO_WAYS.fullmatch(words):
        whole = words.replace(".", ",")
        raise Wrong(f"'{words}' can be read in two ways", f"write {float(words):g}, or {whole} for thousands")
    if _NUMBER.fullmatch(words):
        value = float(words.replace(",", ""))
        if value < 1e15:
            return value
        raise Wrong(f"'{words}' is larger than anything on a truck", "write the true value")
    dotted = ".".join(words.replace(",", ".").strip(".").split(".")[:2])
    raise Wrong(f"'{words}' can be read in two ways", f"write decimals as in {dotted}, thousands as in 14,000")


def in_digits(words: str) -> str | None:
    """A figure in words with its unit, or none, as it is to be written: `4,000 ft`; None for anything else."""
    written = words.replace("-", " ").split()
    said = [word.lower() for word in written]
    try:
        found = read_numeral(said, 0)
    except Unclear:
        return None
    unit = " ".join(written[found[1] :]) if found else ""
    if found is None or (unit and not quantities_of(unit)):
        return None
    return f"{found[0].value:,.10g} {unit}".strip()


def begins_in_words(words: str) -> tuple[str, str] | None:
    """A figure in words with which a text begins, and it in digits; None where it begins with none."""
    said = words.split()
    found = next((count for count in range(len(said) - 1, 0, -1) if in_digits(" ".join(said[:count]))), 0)
    figure = " ".join(said[:found])
    return (figure, in_digits(figure) or "") if found else None


def lettered(figure: str, unit: str) -> Wrong | None:
    """What to say about letters that stand for the last digits of a figure, and are read as its unit: `4O psi`."""
    found = re.match(r"[oOlI]+(?=\s|$)", unit)
    if found is None or quantities_of(unit):
        return None
    digits = "".join("0" if letter in "oO" else "1" for letter in found[0])
    return Wrong(f"'{figure}{found[0]}' is a figure with letters in it", f"write it in digits: {figure}{digits}")


def units_of(quantity: str) -> list[str]:
    """The symbols of the units of a quantity; none for a bare number."""
    return [unit for unit in QUANTITIES[quantity].units if unit] if quantity in QUANTITIES else []


def wants(quantity: str) -> str:
    """How to mend a missing or wrong unit."""
    usual = units_of(quantity)
    return f"write it in {' or '.join(usual[:2])}" if usual else "write the number without a unit"


def no_unit(unit: str, quantity: str) -> Wrong:
    """What to say about a unit that nobody knows."""
    if _THOUSANDS.match(unit):
        return Wrong(f"'{unit}' is no unit", "write the number in full, as in 14,000")
    return Wrong(f"'{unit}' is no unit", did_you_mean(unit, units_of(quantity), wants(quantity)))


def in_si(value: float, unit: str, quantity: str) -> float:
    """A value in SI; raises `Wrong` for a unit that doesn't measure the quantity."""
    measured = quantities_of(unit)
    if quantity in measured or (not unit and "" in QUANTITIES[quantity].units):
        return to_si(value, unit, quantity)
    if not unit:
        raise Wrong(f"{with_article(quantity)} without its unit", wants(quantity))
    if measured and unit != "k":
        what = f"'{unit}' measures {with_article(measured[0])}, {with_article(quantity)} is wanted"
        raise Wrong(what, wants(quantity))
    raise no_unit(unit, quantity)


def difference_in_si(value: float, unit: str, quantity: str) -> float:
    """As `in_si` for the distance between two values: 9 °F are 5 K."""
    return in_si(value, unit, quantity) - in_si(0.0, unit, quantity)
