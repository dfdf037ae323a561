"""Quantities of the trade: their units, factors to SI, and how a value is shown.

A table of our own, because the units a caller may use are few and every alias must be known beforehand.
Factors are exact by definition (inch 0.0254 m, pound 0.45359237 kg, standard gravity 9.80665 m/s2) unless
noted; the tests hold each one against pint and scipy.constants.
"""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

INCH, FOOT, MILE = 0.0254, 0.3048, 1609.344  # m
POUND, STANDARD_GRAVITY = 0.45359237, 9.80665  # kg, m/s2
PSI = POUND * STANDARD_GRAVITY / INCH**2  # Pa
INCH_OF_MERCURY = 3386.388640341  # Pa; conventional: mercury at 13,595.1 kg/m3 and standard gravity
HORSEPOWER = 550 * FOOT * POUND * STANDARD_GRAVITY  # W
METRIC_HORSEPOWER = 75 * STANDARD_GRAVITY  # W
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0  # s


@dataclass(frozen=True, slots=True)
class Range:
    """A value known to lie between two bounds, in SI; a single value has low == high."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.high:
            raise ValueError(f"a range needs its low end first: {self.low:g} to {self.high:g}")

    @property
    def exact(self) -> bool:
        """Whether both bounds are the same."""
        return self.low == self.high

    @property
    def mid(self) -> float:
        """The middle of the range."""
        return self.low if self.exact else self.low + (self.high - self.low) / 2


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = factor * value + offset."""

    symbol: str
    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of measure: its units, the words callers use for them, and where a figure stops making sense.

    `floor` and `ceiling` (SI) are no plausible range: a figure outside is a slip of the tongue whatever the
    question was, and they settle which reading of "6.200" or "2,756" can be meant. `nouns` are words that may
    follow the figure and change nothing.
    """

    name: str
    units: Mapping[str, Unit]
    aliases: Mapping[str, str]
    floor: float
    ceiling: float
    example: str
    nouns: frozenset[str]


def _quantity(
    name: str,
    example: str,
    bounds: tuple[float, float],
    units: Iterable[tuple[str, float | tuple[float, float], str]],
    nouns: str = "",
) -> Quantity:
    """Build a quantity from rows of symbol, factor (or factor and offset) and aliases parted by commas."""
    table: dict[str, Unit] = {}
    aliases: dict[str, str] = {}
    for symbol, factor, words in units:
        table[symbol] = Unit(symbol, *factor) if isinstance(factor, tuple) else Unit(symbol, factor)
        aliases |= dict.fromkeys((word.strip() for word in words.split(",") if word.strip()), symbol)
    return Quantity(
        name, MappingProxyType(table), MappingProxyType(aliases), *bounds, example, frozenset(nouns.split())
    )


_ROWS = (
    _quantity(
        "length",
        "4 inch",
        (0.0, 10.0),
        [
            ("mm", 0.001, "mm,mil,mils,mill,millimetre,millimetres,millimeter,millimeters"),
            ("cm", 0.01, "cm,centimetre,centimetres,centimeter,centimeters"),
            ("in", INCH, 'in,inch,inches,ins,"'),
            ("ft", FOOT, "ft,foot,feet,'"),
            ("m", 1.0, "m,metre,metres,meter,meters"),
        ],
        "pipe pipes exhaust downpipe tube tubing tyre tyres tire tires tall inducer exducer diameter across",
    ),
    _quantity(
        "area",
        "12 cm2",
        (0.0, 1.0),
        [
            (
                "cm2",
                1e-4,
                "cm2,sq cm,square cm,square centimetres,square centimeters,square centimetre,"
                "square centimeter",
            ),
            ("in2", INCH**2, "in2,sq in,square in,square inch,square inches"),
        ],
    ),
    _quantity(
        "volume",
        "5.9 litres",
        (0.0, 1.0),
        [
            ("L", 1e-3, "l,litre,litres,liter,liters,ltr"),
            ("cc", 1e-6, "cc,ccs,ccm,cm3,cubic centimetre,cubic centimetres,cubic centimeter,cubic centimeters"),
            ("cu in", INCH**3, "cu in,cubic inch,cubic inches,cubic in,ci,cid,cui,in3,cubes"),
            (
                "mm3",
                1e-9,
                "mm3,cubic millimetre,cubic millimetres,cubic millimeter,cubic millimeters,cubic mm,"
                "mm cubed,mil cubed,millimetres cubed,millimeters cubed",
            ),
        ],
        "engine motor diesel",
    ),
    _quantity(
        "mass",
        "14,000 lb",
        (0.0, 1e5),
        [
            ("lb", POUND, "lb,lbs,pound,pounds,#"),
            ("kg", 1.0, "kg,kgs,kilo,kilos,kilogram,kilograms,kilogramme,kilogrammes"),
            ("t", 1000.0, "t,tonne,tonnes,metric ton,metric tons,metric tonnes"),
            ("ton", 2000 * POUND, "ton,tons,short ton,short tons,us ton,us tons"),
        ],
        "loaded gross total trailer",
    ),
    _quantity(
        "pressure",
        "35 psi",
        (0.0, 1e8),
        [
            ("psi", PSI, "psi,psig,lb,lbs,pound,pounds,#,p s i,pounds / square inch,lb / in2,psis"),
            ("bar", 1e5, "bar,bars"),
            ("kPa", 1e3, "kpa,kilopascal,kilopascals"),
            (
                "inHg",
                INCH_OF_MERCURY,
                "inhg,in hg,inch hg,inches hg,inch of mercury,inches of mercury,inches mercury",
            ),
        ],
        "boost gauge pressure",
    ),
    _quantity(
        "temperature",
        "1,300 °F",
        (150.0, 3000.0),
        [
            (
                "°F",
                (5 / 9, 459.67 * 5 / 9),
                "f,°f,° f,deg f,degree f,degrees f,fahrenheit,deg fahrenheit,degrees fahrenheit",
            ),
            (
                "°C",
                (1.0, 273.15),
                "c,°c,° c,deg c,degree c,degrees c,celsius,centigrade,degrees celsius,degrees "
                "centigrade,deg celsius",
            ),
            ("K", 1.0, "k,kelvin,kelvins,degrees kelvin"),
        ],
        "outside",
    ),
    _quantity(
        "power",
        "500 hp",
        (0.0, 1e7),
        [
            ("hp", HORSEPOWER,
             "hp,bhp,whp,rwhp,horse,horses,horsepower,ponies,h p,brake horsepower,wheel horsepower"),
            ("kW", 1e3, "kw,kilowatt,kilowatts"),
            ("PS", METRIC_HORSEPOWER, "ps,metric horsepower,metric horses,metric hp,pk,ch,cv,hk"),
        ],
        "power",
    ),
    _quantity(
        "torque",
        "900 lb ft",
        (0.0, 1e5),
        [
            (
                "lb ft",
                POUND * STANDARD_GRAVITY * FOOT,
                "lb ft,lbs ft,ft lb,ft lbs,lbft,ftlb,ftlbs,foot pound,foot pounds,pound foot,"
                "pound feet,pounds feet,lb,lbs,pounds",
            ),
            ("N m", 1.0, "nm,n m,newton metre,newton metres,newton meter,newton meters"),
        ],
        "torque",
    ),
    _quantity(
        "mass flow",
        "52 lb/min",
        (0.0, 20.0),
        [
            (
                "lb/min",
                POUND / MINUTE,
                "lb / min,lbs / min,lb / minute,lbs / minute,pounds / minute,pound / minute,pounds / min",
            ),
            (
                "lb/h",
                POUND / HOUR,
                "lb / h,lb / hr,lbs / h,lbs / hr,lb / hour,lbs / hour,pounds / hour,pounds / hr",
            ),
            ("kg/s", 1.0, "kg / s,kg / sec,kg / second,kilograms / second,kilos / second"),
            ("g/s", 1e-3, "g / s,g / sec,gram / second,grams / second"),
            ("kg/h", 1 / HOUR, "kg / h,kg / hr,kg / hour,kilograms / hour,kilos / hour"),
        ],
        "air",
    ),
    _quantity(
        "speed",
        "65 mph",
        (0.0, 200.0),
        [
            ("mph", MILE / HOUR, "mph,m p h,mile / hour,miles / hour,mi / h"),
            (
                "km/h",
                1000 / HOUR,
                "km / h,km / hr,km / hour,kms / hour,kms / h,kph,kmh,km,kms,kays,ks,k's,clicks,klicks,k / h,ks / hour,"
                "k's / hour,kilometre / hour,kilometres / hour,kilometer / hour,kilometers / hour",
            ),
            ("ft/s", FOOT, "ft / s,foot / second,feet / second"),
            ("m/s", 1.0, "m / s,metre / second,metres / second,meter / second,meters / second"),
        ],
    ),
    _quantity(
        "rotation",
        "2,200 rpm",
        (0.0, 1e5),
        [
            (
                "rpm",
                2 * math.pi / MINUTE,
                "rpm,rpms,r p m,rev,revs,rev / min,revs / min,revs / minute,rev / minute,turns,revolutions",
            )
        ],
    ),
    _quantity(
        "ratio",
        "3.73",
        (0.0, 100.0),
        [("", 1.0, "")],
        "gear gears axle axles ratio a/r housing",
    ),
    _quantity(
        "percent",
        "20 %",
        (0.0, 10.0),
        [("%", 0.01, "%,percent,per cent,pct")],
        "grade hill slope injector injectors",
    ),
    _quantity(
        "altitude",
        "6,200 ft",
        (-500.0, 12000.0),
        [
            ("ft", FOOT, "ft,foot,feet,'"),
            ("m", 1.0, "m,metre,metres,meter,meters"),
            ("km", 1000.0, "km,kms,kilometre,kilometres,kilometer,kilometers"), ("mi", MILE, "mi,mile,miles"),
        ],
        "elevation altitude high up",
    ),
    _quantity(
        "time",
        "10 days",
        (0.0, 20 * 365.25 * DAY),
        [
            ("s", 1.0, "s,sec,secs,second,seconds"),
            ("min", MINUTE, "min,mins,minute,minutes"),
            ("h", HOUR, "h,hr,hrs,hour,hours"),
            ("days", DAY, "day,days"),
            ("weeks", 7 * DAY, "week,weeks,wk,wks"),
            ("fortnights", 14 * DAY, "fortnight,fortnights"),
            ("months", 365.25 / 12 * DAY, "month,months,mo,mos"),
        ],
    ),
    _quantity("money", "$3,500", (0.0, 1e6), [("$", 1.0, "$,dollar,dollars,bucks,buck,usd")]),
    _quantity(
        "count", "6", (0.0, 1000.0), [("", 1.0, "")],
        "cylinder cylinders cyl valves valve pot pots popper banger holer lunger / of them",
    ),
    _quantity(
        "angle",
        "270 degrees",
        (-4 * math.pi, 4 * math.pi),
        [("deg", math.pi / 180, "deg,degree,degrees,°")],
        "thrust bearing",
    ),
)

QUANTITIES: Mapping[str, Quantity] = MappingProxyType({row.name: row for row in _ROWS})


def as_alias(unit: str) -> str:
    """A unit's name as the aliases have it: "ft/s" is "ft / s", however it is spaced; a tab in it makes it none."""
    return " ".join(filter(None, unit.lower().replace("/", " / ").split(" ")))


def unit_of(unit: str, quantity: str) -> Unit:
    """The unit named by symbol or alias; ValueError says which units there are."""
    try:
        kind = QUANTITIES[quantity]
    except KeyError:
        raise ValueError(f"there is no quantity called {quantity!r}; there are {', '.join(QUANTITIES)}") from None
    if unit in kind.units:
        return kind.units[unit]
    alias = kind.aliases.get(as_alias(unit))
    if alias is None:
        known = ", ".join(symbol or "none" for symbol in kind.units)
        raise ValueError(f"{unit!r} is no unit of {quantity}; its units are {known}")
    return kind.units[alias]


def to_si(value: float, unit: str, quantity: str) -> float:
    """A figure in the given unit as SI (percent: fraction; angle: rad; rotation: rad/s; money, count, ratio:
    unchanged).
    """
    scale = unit_of(unit, quantity)
    return scale.factor * value + scale.offset


def from_si(value: float, unit: str, quantity: str) -> float:
    """An SI figure in the given unit."""
    scale = unit_of(unit, quantity)
    return (value - scale.offset) / scale.factor


STEPS = {  # how finely a computed figure is worth telling, in its unit
    ("rotation", "rpm"): 10.0,
    ("temperature", "°F"): 5.0,
    ("temperature", "°C"): 5.0,
    ("percent", "%"): 1.0, ("speed", "km/h"): 1.0, ("speed", "ft/s"): 1.0, ("speed", "m/s"): 1.0, ("length", "mm"): 1.0,
    ("pressure", "psi"): 1.0, ("pressure", "bar"): 0.1,
    ("power", "hp"): 5.0, ("power", "kW"): 5.0, ("power", "PS"): 5.0,
    ("time", "s"): 0.1,
    ("mass flow", "lb/min"): 1.0, ("mass flow", "lb/h"): 5.0, ("mass flow", "kg/h"): 2.0,
    ("ratio", ""): 0.01,
}


def _figure(value: float, digits: int | None) -> str:
    """A figure with thousands commas: the given decimals, or three significant digits and never less than the
    whole number.
    """
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "no limit" if value > 0 else "minus no limit"
    if digits is not None:
        shown = f"{value:,.{digits}f}"
    else:
        size = abs(value)
        decimals = 0 if size >= 99.95 or size == 0 else min(6, 2 - math.floor(math.log10(size)))
        shown = f"{value:,.{decimals}f}"
        if "." in shown:
            shown = shown.rstrip("0").rstrip(".")
    return shown.lstrip("-") if float(shown.replace(",", "")) == 0 else shown


def show(value: Range | float, unit: str, quantity: str, digits: int | None = None) -> str:
    """An SI value or range in the caller's unit: "30 to 35 psi", "14,000 lb", "$3,500"; `digits` fixes the decimals."""
    scale = unit_of(unit, quantity)
    low, high = (value.low, value.high) if isinstance(value, Range) else (value, value)
    ends = [_figure((end - scale.offset) / scale.factor, digits) for end in (low, high)]
    if scale.symbol == "$":
        ends = [f"-${end[1:]}" if end.startswith("-") else f"${end}" for end in ends]
    if re.fullmatch(r"[1-9]\d?", ends[0]) and "," in ends[1]:  # "7 to 8,000" would be read as 7,000 to 8,000
        ends[0] = f"{ends[0]} {scale.symbol}"
    text = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    more = math.isinf(high) and math.isfinite(low)
    if more:
        text = ends[0]
    if scale.symbol not in ("", "$") and not math.isnan(low):
        one = text == "1"
        names = {"deg": "degrees"} | {f"{name}s": name if one else f"{name}s" for name in ("day", "week", "month")}
        text = f"{text} {names.get(scale.symbol, scale.symbol)}"
    return f"{text} or more" if more else text


def show_computed(value: Range | float, unit: str, quantity: str) -> str:
    """A computed figure as `show` writes it, no finer than a model can know it (STEPS)."""
    step = STEPS.get((quantity, unit_of(unit, quantity).symbol))
    if step is None:
        return show(value, unit, quantity)

    def rounded(end: float) -> float:
        return to_si(round(from_si(end, unit, quantity) / step) * step, unit, quantity) if math.isfinite(end) else end

    ends = Range(rounded(value.low), rounded(value.high)) if isinstance(value, Range) else rounded(value)
    return show(ends, unit, quantity)


def show_difference(value: float, unit: str, quantity: str) -> str:
    """A difference in SI with its unit, to two digits: where a scale has an offset (degrees), it takes no part."""
    scale = unit_of(unit, quantity)
    return show(to_si(float(f"{value / scale.factor:.2g}"), unit, quantity), unit, quantity)


def plausibility(value: Range, plausible: Range, quantity: str, unit: str) -> str | None:
    """The question to ask back when a value lies outside the plausible range, or None when it lies inside.

    Offers what may have been meant: the figure with its point moved by one to three places, or in another
    unit of the same quantity. `value` and `plausible` are SI; `unit` is the one the caller used.
    """
    if plausible.low <= value.low and value.high <= plausible.high:
        return None
    said = f"that would be {show(value, unit, quantity)}"
    scale = unit_of(unit, quantity)
    low, high = ((end - scale.offset) / scale.factor for end in (value.low, value.high))

    def lands(number: float, other: Unit) -> bool:
        return plausible.low <= number * other.factor + other.offset <= plausible.high

    offers: list[str] = []
    for power in (1000.0, 10.0, 100.0) if quantity == "mass" and high < 100 else (10.0, 100.0, 1000.0):
        moved = [by for by in (1 / power, power) if lands(low * by, scale) and lands(high * by, scale)]
        if moved:
            meant = Range(*(end * moved[0] * scale.factor + scale.offset for end in (low, high)))
            offers.append(show(meant, unit, quantity))
            break
    for other in QUANTITIES[quantity].units.values():
        if other.symbol != scale.symbol and lands(low, other) and lands(high, other):
            meant = Range(*(end * other.factor + other.offset for end in (low, high)))
            offers.append(f"{show(meant, other.symbol, quantity)} ({show(meant, unit, quantity)})")
            break
    if offers:
        return f"{said}; did you mean {' or '.join(offers)}?"
    return f"{said}; {show(plausible, unit, quantity)} is what we usually see. Is it right?"
