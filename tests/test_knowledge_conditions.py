"""What a written condition means: kinds, units, structure. Factors are held against pint's unit registry."""

import itertools
import pickle
import re
from pathlib import Path

import pint
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from advisor.knowledge import FactDef, Fault, Place, load, patterns, shipped_folder
from advisor.knowledge.conditions import (
    AnyOf,
    Between,
    Binary,
    Compare,
    Condition,
    FactRef,
    Flag,
    Includes,
    Is,
    Known,
    Negate,
    NoneOf,
    Number,
    facts_in,
    leaves,
    walk,
)
from advisor.knowledge.meaning import Reader
from advisor.knowledge.measure import BARE, DIMENSIONS, Kind, agree, kind_of, product, quantities_of
from advisor.knowledge.places import nearest
from advisor.knowledge.source import read_yaml
from advisor.knowledge.vocabulary import read_vocabulary
from advisor.quantities import QUANTITIES

FACTS = read_vocabulary(read_yaml(Path(__file__).parent / "knowledge_base" / "facts.yaml", "facts.yaml"))
REFUSED = yaml.safe_load((Path(__file__).parent / "broken_rules" / "refused.yaml").read_text("utf-8"))["conditions"]
AT = {"place": Place("a.yaml", 1, 1), "text": ""}
PINT = pint.UnitRegistry()


def read(text: str, vocabulary: dict[str, FactDef] = FACTS) -> Condition:
    faults: list[Fault] = []
    condition = Reader(vocabulary, faults).condition(text, lambda offset: Place("a.yaml", 1, 1 + offset))
    assert not faults
    assert condition is not None
    return condition


def refused(text: str) -> str:
    faults: list[Fault] = []
    condition = Reader(FACTS, faults).condition(text, lambda offset: Place("a.yaml", 1, 1 + offset))
    assert condition is None
    (fault,) = faults
    return str(fault)


def test_choices_that_begin_alike_are_all_named() -> None:
    faults: list[Fault] = []
    shipped = load(shipped_folder()).vocabulary
    Reader(shipped, faults).condition("bearing is journal", lambda offset: Place("a.yaml", 1, 1 + offset))
    told = "'bearing' has no choice 'journal'; name the one that is meant, or all of them: "
    assert [str(fault) for fault in faults] == [f"a.yaml:1:12: {told}'is one of journal 270, journal 360'"]


@pytest.mark.parametrize(
    ("text", "perhaps"),
    [
        ("compressor wheel is cast", ", perhaps 'wheel material'"),
        ("wheel stuff is one of cast, titanium", ", perhaps 'wheel material'"),
        ("compressor wheel is purple", ", perhaps 'wheel material'"),
        ("turbine wheel is 71", ", perhaps 'turbine exducer' or 'turbine inducer'"),
        ("brake thing is yes", ", perhaps 'exhaust brake' or 'trailer brakes'"),
        ("brakes of it > 5 psi", ", perhaps 'brake mean pressure'"),
        ("compressor matter is known", ", such as 'compression ratio', 'compressor exducer' or 'compressor trim'"),
        ("the purple zebra is yes", ""),
    ],
)
def test_facts_that_speak_of_what_stands_beside_a_name_are_named(text: str, perhaps: str) -> None:
    faults: list[Fault] = []
    Reader(load(shipped_folder()).vocabulary, faults).condition(text, lambda offset: Place("a.yaml", 1, 1 + offset))
    assert [fault.mend for fault in faults] == [f"give it an entry in facts.yaml, or use a known fact{perhaps}"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # Of the facts that are called so, the one that has a choice like it, though another is nearer by name.
        ("air is larg", ["1: there is no fact 'air'; did you mean 'air filter'?",
                         "8: 'air filter' has no choice 'larg'; did you mean 'large'?"]),
        # 'with' is a word of the fact's name, and no verb.
        ("changed with it inlcudes turbo", ["17: 'inlcudes' can't stand here; write 'includes'"]),
        # A figure is no slip of the choice '270'.
        ("the zebra is 2700", ["1: there is no fact 'the zebra'; give it an entry in facts.yaml, or use a known fact"]),
    ],
)  # fmt: skip
def test_a_line_is_read_by_the_facts_that_there_are(text: str, told: list[str]) -> None:
    faults: list[Fault] = []
    Reader(load(shipped_folder()).vocabulary, faults).condition(text, lambda offset: Place("a.yaml", 1, 1 + offset))
    assert [f"{fault.place.column}: {fault.what}; {fault.mend}" for fault in sorted(set(faults))] == told


@pytest.mark.parametrize(
    ("word", "known", "close"),
    [
        ("QC06", ("QC106", "QC60", "QC66"), "QC60"),
        ("qc06", ("QC106", "QC60"), "QC60"),
        ("QC106", ("QC60", "QC160", "QC16"), "QC160"),
        ("QC66", ("QC60", "QC67"), "QC67"),
        ("abcd", ("badc", "abcx"), "abcx"),  # two swaps are two slips
        ("ab", ("ba",), "ba"),
        ("abc", ("abcd",), "abcd"),
    ],
)
def test_two_signs_that_changed_places_are_the_nearest(word: str, known: tuple[str, ...], close: str) -> None:
    """As in the distance of Damerau (1964), by which a swap of neighbours is one slip."""
    assert nearest(word, known) == close


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_a_schema_takes_every_unit_that_the_check_takes(quantity: str) -> None:
    """However an alias is spaced, and in small or large letters."""
    known = QUANTITIES[quantity]
    spelt = {name for alias in known.aliases for name in (alias, alias.upper(), alias.replace(" ", "   "))}
    spelt |= {name.replace(" / ", "/") for name in spelt} | {unit for unit in known.units if unit}
    taken = {unit for unit in spelt if quantity in quantities_of(unit)}
    assert {unit for unit in taken if not re.search(patterns.figure(quantity), f"14,000 {unit}")} == set()


def test_a_schema_takes_an_amount_of_money_with_its_sign_before_or_behind() -> None:
    taken = ["$38", "$1,485", "$ .50", "38 $", "1,485$", "38", "38 lb", "$1,48"]
    assert [words for words in taken if re.search(patterns.ware("money"), words)] == ["$38", "$1,485", "38 $", "1,485$"]


def number(si: float) -> Number:
    return Number(si, **AT)


def fact(name: str) -> FactRef:
    return FactRef(name, **AT)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("duties include towing", Includes("duties", "towing", **AT)),
        ("duties includes towing", Includes("duties", "towing", **AT)),
        ("duties do not include towing", Includes("duties", "towing", True, **AT)),
        ("tune is hot", Is("tune", frozenset({"hot"}), **AT)),
        ("tune is not hot", Is("tune", frozenset({"hot"}), True, **AT)),
        (
            "wastegate is one of internal, external",
            Is("wastegate", frozenset({"internal", "external"}), **AT),
        ),
        ("wastegate is not one of internal", Is("wastegate", frozenset({"internal"}), True, **AT)),
        ("is requested is yes", Flag("is requested", True, **AT)),
        ("is requested is not yes", Flag("is requested", False, **AT)),
        ("road use is no", Flag("road use", False, **AT)),
        ("request is known", Known("request", **AT)),
        ("is  requested   is not known", Known("is requested", True, **AT)),
        ("axle ratio >= 3.73", Compare(fact("axle ratio"), ">=", number(3.73), **AT)),
        ("3.73 < axle ratio", Compare(number(3.73), "<", fact("axle ratio"), **AT)),
        ("cylinders is 6", Compare(fact("cylinders"), "=", number(6), **AT)),
        ("cylinders is not 6", Compare(fact("cylinders"), "!=", number(6), **AT)),
        (
            "cylinders is one of 6, 8",
            AnyOf(tuple(Compare(fact("cylinders"), "=", number(n), **AT) for n in (6, 8)), **AT),
        ),
        (
            "cylinders is not one of 6, 8",
            NoneOf(tuple(Compare(fact("cylinders"), "=", number(n), **AT) for n in (6, 8)), **AT),
        ),
        ("axle ratio is between 3 and 4.1", Between(fact("axle ratio"), number(3), number(4.1), **AT)),
        (
            "fuel power < 0.9 * power goal",
            Compare(fact("fuel power"), "<", Binary("*", number(0.9), fact("power goal"), **AT), **AT),
        ),
        (
            "power now - fuel power > power goal / 2 + fuel power * 3",
            Compare(
                Binary("-", fact("power now"), fact("fuel power"), **AT),
                ">",
                Binary(
                    "+",
                    Binary("/", fact("power goal"), number(2), **AT),
                    Binary("*", fact("fuel power"), number(3), **AT),
                    **AT,
                ),
                **AT,
            ),
        ),
        (
            "(power now + fuel power) * 2 > -(power goal)",
            Compare(
                Binary("*", Binary("+", fact("power now"), fact("fuel power"), **AT), number(2), **AT),
                ">",
                Negate(fact("power goal"), **AT),
                **AT,
            ),
        ),
        ("injector size > 1.5 * axle ratio", None),
        ("axle ratio > 150 %", Compare(fact("axle ratio"), ">", number(1.5), **AT)),
    ],
)
def test_meaning(text: str, meaning: Condition | None) -> None:
    assert meaning is None or read(text) == meaning
    assert pickle.loads(pickle.dumps(read(text))) == read(text)


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("present boost > 35 psi", 35, "psi"),
        ("present boost > 2.4 bar", 2.4, "bar"),
        ("present boost > 2.4 BAR", 2.4, "bar"),
        ("trailer weight > 14,000 lb", 14_000, "lb"),
        ("trailer weight > 6.4 t", 6.4, "tonne"),
        ("power goal > 500 hp", 500, "hp"),
        ("power goal > 373 kW", 373, "kW"),
        ("altitude > 6,200 ft", 6_200, "ft"),
        ("altitude > -100 m", -100, "m"),
        ("air flow needed > 52 lb/min", 52, "lb/min"),
        ("summer temperature > 90 °F", 90, "degF"),
        ("summer temperature > -40 °C", -40, "degC"),
        ("injector size > 20 %", 20, "percent"),
    ],
)
def test_values_are_si(text: str, amount: float, unit: str) -> None:
    condition = read(text)
    assert isinstance(condition, Compare)
    assert isinstance(condition.right, Number)
    expected = PINT.Quantity(amount, unit).to_base_units().magnitude
    assert condition.right.si == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("charge temperature - summer temperature > 90 °F", 50.0),
        ("charge temperature > summer temperature + 90 °F", 50.0),
        ("charge temperature - 90 °F > summer temperature", 50.0),
        ("90 °F + summer temperature < charge temperature", 50.0),
        ("charge temperature > (charge temperature - summer temperature) + 90 °F + summer temperature", 50.0),
        ("charge temperature - summer temperature is between 9 and 90 °F", 50.0),
        ("2 * (charge temperature - summer temperature) > 50 °C", 50.0),
    ],
)
def test_degrees_between_temperatures_are_differences(text: str, kelvin: float) -> None:
    numbers = [node.si for node in walk(read(text)) if isinstance(node, Number)]
    assert numbers[-1] == pytest.approx(kelvin)


def test_the_lower_end_borrows_the_unit_of_the_upper() -> None:
    assert read("present boost is between 20 and 30 psi") == read("present boost is between 20 psi and 30 psi")


def test_nodes_know_their_place_and_words() -> None:
    condition = read("fuel power < 0.9 * power goal")
    assert condition.text == "fuel power < 0.9 * power goal"
    words = {node.text: node.place.column for node in walk(condition)}
    assert words["fuel power"] == 1
    assert words["0.9 * power goal"] == 14
    assert words["0.9"] == 14
    assert words["power goal"] == 20
    assert facts_in(condition) == {"fuel power", "power goal"}
    assert leaves(condition) == (condition,)


def test_leaves_of_the_same_meaning_are_equal_wherever_they_stand() -> None:
    one, other = read("present boost > 35 psi"), read("  present boost  >  35 psi")
    assert one == other
    assert hash(one) == hash(other)
    assert one.text != other.text


def test_squares_and_quotients_have_their_own_dimension() -> None:
    assert refused("power goal / trailer weight > 5 hp").startswith("a.yaml:1:29: ")
    assert read("power now * power now > power goal * fuel power")
    assert read("power now / power goal > 90 %")
    assert read("air flow needed / power goal > air flow needed / power now")


@given(st.sampled_from(sorted(DIMENSIONS)), st.sampled_from(sorted(DIMENSIONS)))
def test_multiplying_and_dividing_undo_each_other(one: str, other: str) -> None:
    there = product(kind_of(one), kind_of(other), 1)
    back = product(there, kind_of(other), -1)
    assert back.dimension == kind_of(one).dimension
    assert agree(kind_of(one), kind_of(one))
    assert agree(kind_of(one), kind_of(other)) == agree(kind_of(other), kind_of(one))


@pytest.mark.parametrize(
    ("one", "other", "may"),
    [
        ("ratio", "ratio", True),
        ("ratio", "percent", True),
        ("ratio", "count", True),
        ("count", "percent", False),
        ("angle", "angle", True),
        ("angle", "ratio", False),
        ("angle", "count", False),
        ("length", "altitude", True),
        ("length", "area", False),
        ("power", "torque", False),
    ],
)
def test_which_quantities_may_be_compared(one: str, other: str, may: bool) -> None:
    assert agree(kind_of(one), kind_of(other)) == agree(kind_of(other), kind_of(one)) == may


@pytest.mark.parametrize(
    ("quantity", "bare"), [("ratio", True), ("count", True), ("percent", False), ("angle", False), ("mass", False)]
)
def test_what_a_number_without_a_unit_may_stand_for(quantity: str, bare: bool) -> None:
    assert agree(kind_of(quantity), BARE) == bare


def test_kinds_in_words() -> None:
    said = {quantity: kind_of(quantity).words for quantity in DIMENSIONS}
    assert {words.split()[0] for words in said.values()} == {"a", "an"}
    assert said["altitude"] == "an altitude"
    assert said["percent"] == "a percentage"
    assert said["rotation"] == "a rotational speed"
    assert said["money"] == "an amount of money"
    assert said["mass flow"] == "a mass flow"
    assert [quantity for quantity, words in said.items() if words.startswith("an ")] == [
        "altitude",
        "area",
        "money",
        "angle",
    ]
    assert BARE.words == "a bare number"
    assert product(kind_of("mass"), kind_of("time"), 1).words == "a mixed quantity"
    assert Kind(kind_of("temperature").dimension, "temperature", True).words == "a temperature difference"


def test_every_quantity_has_the_dimension_that_pint_gives_it() -> None:
    names = ("[length]", "[mass]", "[time]", "[temperature]", "[money]")
    units = {"money": None, "percent": "", "ratio": "", "count": "", "angle": "degree"}
    samples = {
        "length": "mm", "altitude": "ft", "area": "cm**2", "volume": "L", "mass": "lb", "pressure": "psi",
        "temperature": "kelvin", "power": "hp", "torque": "N*m", "mass flow": "kg/s", "speed": "mph",
        "rotation": "rpm", "time": "s",
    }  # fmt: skip
    assert set(DIMENSIONS) == set(QUANTITIES) == {*units, *samples}
    for quantity, unit in samples.items():
        dimensionality = dict(PINT.Quantity(1, unit).dimensionality)
        assert tuple(dimensionality.get(name, 0) for name in names) == DIMENSIONS[quantity]
    for quantity, unit in units.items():
        if unit is not None:
            assert PINT.Quantity(1, unit).dimensionless
            assert DIMENSIONS[quantity] == (0, 0, 0, 0, 0)


def test_unlike_things_are_never_compared() -> None:
    """Every pair of number facts either agrees in dimension or is refused."""
    numbers = sorted(name for name, definition in FACTS.items() if definition.kind == "number")
    for one, other in itertools.permutations(numbers, 2):
        faults: list[Fault] = []
        condition = Reader(FACTS, faults).condition(f"{one} > {other}", lambda offset: Place("a", 1, offset))
        alike = DIMENSIONS[FACTS[one].quantity] == DIMENSIONS[FACTS[other].quantity]
        mixed = {FACTS[one].quantity, FACTS[other].quantity} == {"count", "percent"}
        assert (condition is not None) == (alike and not mixed)
        assert bool(faults) == (condition is None)


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["from"])
def test_refusals(case: dict[str, str]) -> None:
    assert refused(case["from"]) == case["told"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("power now > " + "(" * 600, "a.yaml:1:501: a condition longer than 500 characters; split it"),
        ("power now > 5 hp" + " " * 485, "a.yaml:1:501: a condition longer than 500 characters; split it"),
        ("power now > " + "(" * 21 + "5 hp" + ")" * 21, "a.yaml:1:13: more than 20 parentheses; split it"),
    ],
)
def test_long_lines_are_refused_before_they_are_parsed(text: str, told: str) -> None:
    assert refused(text) == told


@pytest.mark.parametrize("text", ["power now > 5 hp" + " " * 484, "power now > " + "(" * 20 + "5 hp" + ")" * 20])
def test_up_to_there_lines_are_read(text: str) -> None:
    assert facts_in(read(text)) == {"power now"}


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("power now is between power goal and 2 * fuel power", {"power now", "power goal", "fuel power"}),
        ("-(power now) < power goal - fuel power", {"power now", "power goal", "fuel power"}),
        ("duties do not include towing", {"duties"}),
        ("tune is one of stock, hot", {"tune"}),
        ("road use is yes", {"road use"}),
        ("altitude is not known", {"altitude"}),
    ],
)
def test_the_facts_that_a_condition_reads(text: str, facts: set[str]) -> None:
    assert facts_in(read(text)) == facts
