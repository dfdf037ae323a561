"""Numbers with units as callers say them: a table of phrases, factors against pint and scipy.constants."""

import math
import subprocess
import sys
from pathlib import Path

import pint
import pytest
import scipy.constants
from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.units import (
    QUANTITIES,
    SPREAD,
    Range,
    Unclear,
    from_si,
    plausibility,
    read_number,
    show,
    show_computed,
    show_difference,
    sounds_alike,
    spoken,
    to_si,
)

PHRASES = Path(__file__).parent / "data" / "phrases.csv"
PINT = pint.UnitRegistry()
# SI by pint's names
BASE = {
    "length": "m",
    "area": "m**2",
    "volume": "m**3",
    "mass": "kg",
    "pressure": "Pa",
    "temperature": "kelvin",
    "power": "W",
    "torque": "newton * meter",
    "mass flow": "kg/s",
    "speed": "m/s",
    "rotation": "radian/s",
    "ratio": "dimensionless",
    "percent": "dimensionless",
    "altitude": "m",
    "time": "s",
    "count": "dimensionless",
    "angle": "radian",
}
# Wide enough for every bound in the table, in the unit given.
PLAUSIBLE = {
    "pressure": (0, 100, "psi"),
    "mass": (0, 80000, "lb"),
    "altitude": (0, 14000, "ft"),
    "power": (50, 3000, "hp"),
    "length": (10, 1000, "mm"),
    "temperature": (-40, 2000, "degF"),
    "speed": (0, 120, "mph"),
    "rotation": (0, 8000, "rpm"),
    "percent": (0, 400, "percent"),
    "time": (0, 100, "day"),
    "money": (0, 20000, "$"),
}


def outside(value: float, unit: str, quantity: str) -> float:
    """A figure in SI by pint."""
    if quantity == "money":
        return value
    name = {"newton_meter": "newton * meter", "rpm": "revolutions_per_minute"}.get(unit, unit)
    return float(PINT.Quantity(value, name).to(BASE[quantity]).magnitude)


def phrases() -> list[tuple[str, str, str, str]]:
    with PHRASES.open(encoding="utf-8", newline="") as lines:
        rows = [line.rstrip("\n").split("|") for line in lines if not line.startswith("#")]
    return [(row[0], row[1], row[2], row[3]) for row in rows]


def expected(text: str, quantity: str) -> Range:
    figures, _, unit = text.partition(" ")
    low_end, high_end, plausible_unit = PLAUSIBLE.get(quantity, (0, 0, ""))
    if figures[0] in "<>":
        bound = outside(float(figures[1:]), unit, quantity)
        if figures[0] == "<":
            return Range(outside(low_end, plausible_unit, quantity), bound)
        return Range(bound, outside(high_end, plausible_unit, quantity))
    if figures[0] == "~":
        middle = float(figures[1:])
        return Range(outside(0.95 * middle, unit, quantity), outside(1.05 * middle, unit, quantity))
    low, _, high = figures.partition("..")
    return Range(outside(float(low), unit, quantity), outside(float(high or low), unit, quantity))


def verdict(row: tuple[str, str, str, str]) -> str:
    """right, refused (asked again though it could be read) or wrong (a value that wasn't meant)."""
    quantity, unit, words, wanted = row
    plausible = None
    if quantity in PLAUSIBLE:
        low, high, name = PLAUSIBLE[quantity]
        plausible = Range(outside(low, name, quantity), outside(high, name, quantity))
    try:
        value = read_number(words, quantity, unit, plausible).value
    except Unclear:
        return "right" if wanted == "unclear" else "refused"
    if wanted == "unclear":
        return "wrong"
    meant = expected(wanted, quantity)
    same = all(
        math.isclose(a, b, rel_tol=2e-6, abs_tol=1e-9)
        for a, b in ((value.low, meant.low), (value.high, meant.high))
    )
    return "right" if same else "wrong"


def test_every_phrase_is_read_right_or_asked_again() -> None:
    rows = phrases()
    assert len(rows) >= 1500
    found = {row: verdict(row) for row in rows}
    wrong = [row for row, result in found.items() if result == "wrong"]
    refused = [row for row, result in found.items() if result == "refused"]
    assert not wrong
    assert len(refused) <= 0.01 * len(rows), refused


# Units of the table of quantities by pint's names.
PINT_NAMES = {
    "cu in": "inch**3",
    "mm3": "mm**3",
    "cm2": "cm**2",
    "in2": "inch**2",
    "t": "tonne",
    "ton": "short_ton",
    "inHg": "inHg",
    "°F": "degF",
    "°C": "degC",
    "K": "kelvin",
    "PS": "metric_horsepower",
    "lb ft": "foot_pound",
    "N m": "newton * meter",
    "lb/h": "lb/hour",
    "kg/h": "kg/hour",
    "km/h": "km/hour",
    "%": "percent",
    "rpm": "revolutions_per_minute",
    "h": "hour",
    "min": "minute",
    "mi": "mile",
    "weeks": "week",
    "months": "month",
    "deg": "degree",
    "": "dimensionless",
    "L": "liter",
}


@pytest.mark.parametrize(
    ("quantity", "unit"), [(q.name, u) for q in QUANTITIES.values() if q.name != "money" for u in q.units]
)
@pytest.mark.parametrize("figure", [0.0, 1.0, 37.5, 1300.0])
def test_factors_against_pint(quantity: str, unit: str, figure: float) -> None:
    expected_si = float(PINT.Quantity(figure, PINT_NAMES.get(unit, unit)).to(BASE[quantity]).magnitude)
    assert to_si(figure, unit, quantity) == pytest.approx(expected_si, rel=1e-6, abs=1e-12)
    assert from_si(to_si(figure, unit, quantity), unit, quantity) == pytest.approx(figure, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("quantity", "unit", "constant"),
    [
        ("length", "in", scipy.constants.inch),
        ("length", "ft", scipy.constants.foot),
        ("altitude", "mi", scipy.constants.mile),
        ("mass", "lb", scipy.constants.lb),
        ("mass", "ton", scipy.constants.short_ton),
        ("pressure", "psi", scipy.constants.psi),
        ("pressure", "bar", scipy.constants.bar),
        ("power", "hp", scipy.constants.hp),
        ("speed", "mph", scipy.constants.mph),
        ("speed", "km/h", scipy.constants.kmh),
        ("torque", "lb ft", scipy.constants.lbf * scipy.constants.foot),
        ("angle", "deg", scipy.constants.degree),
        ("time", "weeks", scipy.constants.week),
        ("volume", "L", scipy.constants.liter),
    ],
)
def test_factors_against_scipy(quantity: str, unit: str, constant: float) -> None:
    assert to_si(1.0, unit, quantity) == pytest.approx(constant, rel=1e-12)


def test_temperatures_against_scipy() -> None:
    for figure in (-40.0, 32.0, 1300.0):
        kelvin = scipy.constants.convert_temperature(figure, "Fahrenheit", "Kelvin")
        assert to_si(figure, "°F", "temperature") == pytest.approx(kelvin, rel=1e-12)


def test_aliases_of_one_quantity_name_its_own_units() -> None:
    for quantity in QUANTITIES.values():
        assert set(quantity.aliases.values()) <= set(quantity.units)
        for symbol in quantity.units:
            if symbol:
                figure = (
                    "$400"
                    if symbol == "$"
                    else f"400 {symbol}"
                    if quantity.name == "temperature"
                    else f"2 {symbol}"
                )
                assert read_number(figure, quantity.name, next(iter(quantity.units))).unit == symbol


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "shown"),
    [
        (
            Range(to_si(30, "psi", "pressure"), to_si(35, "psi", "pressure")),
            "psi",
            "pressure",
            "30 to 35 psi",
        ),
        (to_si(14000, "lb", "mass"), "lb", "mass", "14,000 lb"),
        (to_si(1300, "°F", "temperature"), "°F", "temperature", "1,300 °F"),
        (to_si(2.4, "bar", "pressure"), "bar", "pressure", "2.4 bar"),
        (to_si(35.26, "psi", "pressure"), "psi", "pressure", "35.3 psi"),
        (to_si(99.97, "psi", "pressure"), "psi", "pressure", "100 psi"),
        (3500.0, "$", "money", "$3,500"),
        (Range(3000.0, 3500.0), "$", "money", "$3,000 to $3,500"),
        (0.2, "%", "percent", "20 %"),
        (3.73, "", "ratio", "3.73"),
        (6.0, "", "count", "6"),
        (to_si(1, "days", "time"), "days", "time", "1 day"),
        (to_si(10, "days", "time"), "days", "time", "10 days"),
        (to_si(2, "weeks", "time"), "weeks", "time", "2 weeks"),
        (to_si(270, "deg", "angle"), "deg", "angle", "270 degrees"),
        (-1e-12, "%", "percent", "0 %"),
        (math.nan, "psi", "pressure", "not known"),
        (Range(to_si(500, "hp", "power"), math.inf), "hp", "power", "500 hp or more"),
    ],
)
def test_show(value: Range | float, unit: str, quantity: str, shown: str) -> None:
    assert show(value, unit, quantity) == shown


def test_show_with_fixed_decimals() -> None:
    assert show(0.9, "", "ratio", digits=2) == "0.90"
    assert show(to_si(1234.56, "psi", "pressure"), "psi", "pressure", digits=1) == "1,234.6 psi"


def test_differences_leave_the_zero_of_the_scale_out() -> None:
    assert show_difference(50.0, "°F", "temperature") == "90 °F"
    assert show_difference(to_si(1, "psi", "pressure"), "psi", "pressure") == "1 psi"


@pytest.mark.parametrize(
    ("said", "quantity", "unit", "shown"),
    [
        ("7 to 8,000 feet", "altitude", "ft", "7,000 to 8,000 ft"),
        ("12 to 14,000 pounds", "mass", "lb", "12,000 to 14,000 lb"),
        ("15 to 2,000 rpm", "rotation", "rpm", "1,500 to 2,000 rpm"),
        ("0 to 6,000 ft", "altitude", "ft", "0 to 6,000 ft"),
        ("20 ft to 6,000 ft", "altitude", "ft", "20 ft to 6,000 ft"),
        ("500 to 6,000 ft", "altitude", "ft", "500 to 6,000 ft"),
        ("-28 to 2,834 °F", "temperature", "°F", "-28 to 2,834 °F"),
    ],
)
def test_the_thousands_of_the_high_end_are_the_low_ones_too(said: str, quantity: str, unit: str, shown: str) -> None:
    """Common practice, no source: who says "7 to 8,000 feet" doesn't begin at seven feet."""
    assert show(read_number(said, quantity, unit).value, unit, quantity) == shown


UNITS = [(q.name, u) for q in QUANTITIES.values() for u in q.units]


@given(st.sampled_from(UNITS), st.floats(0.001, 1.0), st.floats(0.0, 0.9))
@settings(max_examples=600)
def test_what_is_shown_is_read_back(kind: tuple[str, str], height: float, width: float) -> None:
    """Showing what was read from a shown value changes nothing more: the figure read is the figure shown."""
    quantity, unit = kind
    row = QUANTITIES[quantity]
    low, high = max(row.floor, 0.0), row.ceiling
    top = low + (high - low) * (0.01 + 0.98 * height**4)
    bottom = max(low * 1.01, top * (1 - width))
    if quantity == "count":
        top, bottom = float(int(top)), float(int(bottom))
    for value in (Range(top, top), Range(bottom, top)):
        text = show(value, unit, quantity)
        heard = read_number(text, quantity, unit)
        assert show(heard.value, unit, quantity) == text
        assert heard.unit == unit
        assert not heard.approximate


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "shown"),
    [
        (to_si(1972, "rpm", "rotation"), "rpm", "rotation", "1,970 rpm"),
        (to_si(1294, "°F", "temperature"), "°F", "temperature", "1,295 °F"),
        (Range(0.0439, 0.1249), "%", "percent", "4 to 12 %"),
        (-0.001, "%", "percent", "0 %"),
        (0.893, "", "ratio", "0.89"),
        (1391.4, "$", "money", "$1,391"),
        (math.nan, "rpm", "rotation", "not known"),
    ],
)
def test_a_computed_figure_is_told_no_finer_than_it_is_known(value, unit: str, quantity: str, shown: str) -> None:
    assert show_computed(value, unit, quantity) == shown


@given(st.text(max_size=80), st.sampled_from(UNITS))
@settings(max_examples=500)
@example("¹¼", ("length", "mm"))
def test_any_text_is_read_or_refused(words: str, kind: tuple[str, str]) -> None:
    row = QUANTITIES[kind[0]]
    refusal = None
    try:
        value = read_number(words, *kind).value
    except Unclear as unclear:
        refusal = unclear
    else:
        assert row.floor <= value.low <= value.high <= row.ceiling
    assert refusal is None or (refusal.message and "\n" not in refusal.message and refusal.hint)


SPOKEN = [
    *[
        "a",
        "about",
        "and",
        "between",
        "five",
        "fifty",
        "fifteen",
        "half",
        "hundred",
        "k",
        "thousand",
        "to",
        "point",
        "oh",
        "twenty",
    ],
    *["35", "1/2", "2,4", "6.200", "psi", "bar", "lb", "-", "'s", "over", "under", "or", "~", "?"],
]


@given(
    st.lists(st.sampled_from(SPOKEN), max_size=9), st.sampled_from(["pressure", "mass", "length", "ratio"])
)
@settings(max_examples=1500)
def test_scrambled_speech_never_breaks(words: list[str], quantity: str) -> None:
    unit = next(iter(QUANTITIES[quantity].units))
    try:
        heard = read_number(" ".join(words), quantity, unit)
    except Unclear:
        return
    assert math.isfinite(heard.value.low)
    assert math.isfinite(heard.value.high)


@given(st.integers(1, 999))
def test_figures_in_words_are_the_figures_in_digits(number: int) -> None:
    """Three ways of saying a whole number below a thousand, spelled out here from the usual English names."""
    ones = [
        "",
        *[
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
        ],
    ]
    ones += ["sixteen", "seventeen", "eighteen", "nineteen"]
    tens = ["", "", *["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]]
    hundreds, rest = divmod(number, 100)
    small = ones[rest] if rest < 20 else f"{tens[rest // 10]} {ones[rest % 10]}".strip()
    ways = [" ".join(filter(None, (f"{ones[hundreds]} hundred" if hundreds else "", small)))]
    if hundreds and rest:
        ways.append(f"{ones[hundreds]} hundred and {small}")
    for way in ways:
        assert read_number(way, "power", "hp").value.mid == pytest.approx(to_si(number, "hp", "power"))
        if number > 900:
            continue
        thousands = read_number(f"{way} thousand", "rotation", "rpm").value.mid
        assert thousands == pytest.approx(to_si(1000 * number, "rpm", "rotation"))


@pytest.mark.parametrize(
    "words",
    ["9**9**9**9", "9" * 400, "1e400", "nan", "inf", "-inf psi", "(" * 400, "hundred " * 60, "1,000" * 80],
)
def test_absurd_figures_are_refused_at_once(words: str) -> None:
    with pytest.raises(Unclear):
        read_number(words, "pressure", "psi")


def test_what_is_heard() -> None:
    heard = read_number("about 2.4 bar", "pressure", "psi")
    assert heard.unit == "bar"
    assert heard.approximate
    assert heard.words == "about 2.4 bar"
    assert heard.value.low == pytest.approx((1 - SPREAD) * 2.4e5)
    assert heard.value.high == pytest.approx((1 + SPREAD) * 2.4e5)
    assert not read_number("35 psi", "pressure", "psi").approximate


@pytest.mark.parametrize(
    ("words", "quantity", "unit", "parts"),
    [
        ("2,4 bar", "pressure", "psi", ["2.4 bar", "24 bar"]),
        ("6.200 ft", "altitude", "ft", ["6.2 ft", "6,200 ft"]),
        ("1.234,5", "mass", "lb", ["1.234,5"]),
        ("5-600", "power", "hp", ["5", "500"]),
        ("373", "ratio", "", ["3.73", "373"]),
        ("0.2", "percent", "%", ["0.2 %", "20 %"]),
        ("35 mm", "pressure", "psi", ["length", "pressure"]),
        ("half ton", "mass", "lb", ["class of the truck"]),
    ],
)
def test_refusals_name_the_readings(words: str, quantity: str, unit: str, parts: list[str]) -> None:
    with pytest.raises(Unclear) as refusal:
        read_number(words, quantity, unit)
    assert all(part in refusal.value.message for part in parts)
    assert refusal.value.hint.startswith("for example")


def test_bounds_need_an_end() -> None:
    with pytest.raises(Unclear, match="and the most"):
        read_number("at least 500", "power", "hp")
    with pytest.raises(Unclear, match="and the least"):
        read_number("below 1200", "temperature", "°F")
    up_to = read_number("up to 500", "power", "hp").value
    assert (up_to.low, up_to.high) == (0.0, to_si(500, "hp", "power"))
    beyond = Range(to_si(100, "hp", "power"), to_si(400, "hp", "power"))
    above = read_number("at least 500", "power", "hp", beyond).value
    assert above.exact


def test_unknown_names_are_the_programmers_fault() -> None:
    with pytest.raises(ValueError, match="no quantity called 'charm'"):
        to_si(1.0, "psi", "charm")
    with pytest.raises(ValueError, match="no unit of pressure; its units are psi"):
        read_number("35", "pressure", "mm")
    with pytest.raises(ValueError, match="low end first"):
        Range(2.0, 1.0)


def si(low: float, high: float, unit: str, quantity: str) -> Range:
    return Range(to_si(low, unit, quantity), to_si(high, unit, quantity))


@pytest.mark.parametrize(
    ("figure", "unit", "quantity", "plausible", "asked"),
    [
        (
            3500,
            "psi",
            "pressure",
            si(5, 100, "psi", "pressure"),
            "that would be 3,500 psi; did you mean 35 psi?",
        ),
        (35, "psi", "pressure", si(5, 100, "psi", "pressure"), None),
        (
            240,
            "psi",
            "pressure",
            si(5, 100, "psi", "pressure"),
            "that would be 240 psi; did you mean 24 psi or 240 kPa (34.8 psi)?",
        ),
        (
            359,
            "L",
            "volume",
            si(3, 16, "L", "volume"),
            "that would be 359 L; did you mean 3.59 L or 359 cu in (5.88 L)?",
        ),
        (
            700,
            "°F",
            "temperature",
            si(900, 1600, "°F", "temperature"),
            "that would be 700 °F; did you mean 700 °C (1,292 °F)?",
        ),
        (
            2.4,
            "psi",
            "pressure",
            si(5, 100, "psi", "pressure"),
            "that would be 2.4 psi; did you mean 24 psi or 2.4 bar (34.8 psi)?",
        ),
        (
            14,
            "lb",
            "mass",
            si(2000, 40000, "lb", "mass"),
            "that would be 14 lb; did you mean 14,000 lb or 14 t (30,865 lb)?",
        ),
        (7, "", "count", Range(4, 6), "that would be 7; 4 to 6 is what we usually see. Is it right?"),
    ],
)
def test_implausible_values_are_questioned(
    figure: float, unit: str, quantity: str, plausible: Range, asked: str | None
) -> None:
    value = to_si(figure, unit, quantity)
    assert plausibility(Range(value, value), plausible, quantity, unit) == asked


@pytest.mark.parametrize(
    ("figure", "said"),
    [
        (13, "one three, thirteen"),
        (30, "three zero, thirty"),
        (15, "one five, fifteen"),
        (50, "five zero, fifty"),
        (90, "nine zero, ninety"),
        (19, "one nine, nineteen"),
        (115, "one hundred and fifteen"),
        (150, "one hundred and fifty"),
        (650, "six hundred and fifty"),
        (1500, "one five, fifteen hundred"),
        (1350, "one thousand three hundred and fifty"),
        (14000, "one four, fourteen thousand"),
        (40000, "four zero, forty thousand"),
        (15.5, "one five, fifteen point five"),
        (12, None),
        (20, None),
        (35, None),
        (500, None),
        (5000, None),
        (6200, None),
        (2.4, None),
        (0, None),
    ],
)
def test_figures_that_sound_alike(figure: float, said: str | None) -> None:
    assert sounds_alike(figure) == said


@given(st.integers(1, 99_999))
def test_a_figure_in_words_is_read_as_the_same_figure(figure: int) -> None:
    assert read_number(f"{spoken(figure)} kg", "mass", "lb").value.mid == figure


def test_figures_in_words() -> None:
    assert spoken(-40) == "minus forty"
    assert spoken(2.45) == "two point four five"
    assert spoken(7_716) == "seven thousand seven hundred and sixteen"
    assert spoken(12_045) == "twelve thousand and forty-five"
    assert sounds_alike(math.nan) is None
    assert sounds_alike(math.inf) is None


def test_reading_numbers_loads_no_heavy_library() -> None:
    script = "import sys, advisor.units; print(sorted({'numpy', 'scipy', 'pint', 'yaml'} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
