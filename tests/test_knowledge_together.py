"""What the check says can't go together over several facts: against linear programming (scipy), against the engine over
drawn facts, and against rules that are fired over every situation."""

import itertools
from collections.abc import Iterable, Iterator
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from test_knowledge_soundness import SITUATIONS, Writer, faults_of

from advisor.inference.engines import ReferenceAgenda
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import run_stage
from advisor.inference.verdict import sign_of
from advisor.knowledge import FactDef, Fault, Place, Rule
from advisor.knowledge.conditions import All, AnyOf, Binary, Compare, Condition, Expr, FactRef, Flag, Is, Known, NoneOf
from advisor.knowledge.conditions import Number as Literal
from advisor.knowledge.inequalities import MOST, AtMostNought, Sum, at_odds, linear
from advisor.knowledge.meaning import Reader
from advisor.knowledge.rules import STAGES, Assume, SetFact
from advisor.knowledge.soundness import check_conditions
from advisor.knowledge.source import parse_yaml
from advisor.knowledge.strata import Strata, arrange
from advisor.knowledge.vocabulary import read_vocabulary
from advisor.quantities import Range

SAID = Origin("answer", "drawn")
NAMES = ("one", "two", "three")
LEAST, MOST_OF_IT = 1.0, 9.0
"""Between these lie `one` and `two` as they are asked; nobody says how far `three` goes."""
NUMBERS: dict[str, FactDef] = read_vocabulary(
    parse_yaml(
        b"facts:\n"
        + "".join(
            f"  - {{fact: {name}, topic: x, kind: number, quantity: ratio, "
            + ("source: computed}\n" if name == "three" else "plausible: 1 to 9, ask: x, why: x}\n")
            for name in NAMES
        ).encode(),
        "facts.yaml",
    )
)
TOLD = ("can't go together", "can never")


class Sums(Writer):
    """Random comparisons of sums of three numbers."""

    def term(self) -> Expr:
        fact = FactRef(self.chance.choice(NAMES), **self.at())
        match self.chance.randrange(5):
            case 0:
                times = Literal(self.chance.choice((0.5, 2.0, 3.0)), **self.at())
                sides = (times, fact) if self.chance.random() < 0.5 else (fact, times)
                return Binary("*", *sides, **self.at())
            case 1:
                other = FactRef(self.chance.choice(NAMES), **self.at())
                return Binary(self.chance.choice("+-"), fact, other, **self.at())
            case 2:
                return Binary("/", fact, Literal(self.chance.choice((2.0, -4.0)), **self.at()), **self.at())
            case _:
                return fact

    def comparison(self) -> Compare:
        figure = Literal(float(self.chance.randint(0, 10)), **self.at())
        right = figure if self.chance.random() < 0.4 else self.term()
        sign = self.chance.choice(("<", "<=", ">", ">=", "="))
        return Compare(self.term(), sign, right, **self.at())


def reading(condition: Condition, name: str = "r") -> Rule:
    whole = condition if isinstance(condition, All) else All((condition,), place=Place("a.yaml", 1, 1), text="")
    return Rule(name, "demand", whole, (), "why", "basis", "", Place("a.yaml", 1, 1))


def told(vocabulary: dict[str, FactDef], *rules: Rule) -> list[Fault]:
    found = check_conditions(vocabulary, rules)
    return [fault for fault in found if any(words in fault.what for words in TOLD)]


def weights(expr: Expr) -> np.ndarray:
    """How much each of the names counts in a sum, and the number beside them."""
    match expr:
        case Literal(si=si):
            return np.array([0.0, 0.0, 0.0, si])
        case FactRef(name=name):
            return np.array([*(float(name == one) for one in NAMES), 0.0])
        case Binary(op="+", left=left, right=right):
            return weights(left) + weights(right)
        case Binary(op="-", left=left, right=right):
            return weights(left) - weights(right)
        case Binary(op="*", left=Literal(si=si), right=other) | Binary(op="*", left=other, right=Literal(si=si)):
            return si * weights(other)
        case Binary(op="/", left=left, right=Literal(si=si)):
            return weights(left) / si
    raise AssertionError(expr)


def feasible(comparisons: Iterable[Compare]) -> bool:
    """Oracle: the room that is left to all strict comparisons, by linear programming."""
    above, equal = [], []
    for one in comparisons:
        apart = weights(one.left) - weights(one.right)
        strictly = one.op in ("<", ">")
        if one.op == "=":
            equal.append(apart)
        else:
            above.append((apart if one.op in ("<", "<=") else -apart, strictly))
    found = linprog(
        [0, 0, 0, -1],
        A_ub=[[*apart[:3], float(strictly)] for apart, strictly in above] or None,
        b_ub=[-apart[3] for apart, _ in above] or None,
        A_eq=[[*apart[:3], 0.0] for apart in equal] or None,
        b_eq=[-apart[3] for apart in equal] or None,
        bounds=[(LEAST, MOST_OF_IT), (LEAST, MOST_OF_IT), (-1e4, 1e4), (0, 1)],
    )
    return bool(found.status == 0 and (found.x[3] > 1e-7 or not any(strictly for _, strictly in above)))


@pytest.mark.parametrize("block", range(8))
def test_comparisons_are_called_impossible_exactly_when_no_numbers_fulfil_them(block: int) -> None:
    seen: set[bool] = set()
    for seed in range(block * 100, block * 100 + 100):
        writer = Sums(seed)
        comparisons = [writer.comparison() for _ in range(writer.chance.randint(2, 5))]
        if any(one.left == one.right for one in comparisons):
            continue
        possible = feasible(comparisons)
        found = told(NUMBERS, reading(All(tuple(comparisons), **writer.at())))
        assert bool(found) != possible, [f"{one.left} {one.op} {one.right}" for one in comparisons]
        seen.add(possible)
    assert seen == {True, False}


def groups(writer: Sums, depth: int = 2) -> Condition:
    if depth == 0 or writer.chance.random() < 0.5:
        if writer.chance.random() < 0.2:
            return Known(writer.chance.choice(NAMES), writer.chance.random() < 0.5, **writer.at())
        return writer.comparison()
    group = writer.chance.choice((All, AnyOf, NoneOf))
    return group(tuple(groups(writer, depth - 1) for _ in range(writer.chance.randint(1, 3))), **writer.at("none"))


GRID = [None, *(Range(float(at), float(at)) for at in (1, 2, 3, 4, 5, 6, 7, 8, 9)), Range(2.0, 3.0)]
WIDER = [None, *(Range(at / 2, at / 2) for at in range(-8, 25))]
EVERY = [*itertools.product(GRID, GRID, WIDER)]
DRAWN = FactBase().with_columns({name: [row[at] for row in EVERY] for at, name in enumerate(NAMES)}, SAID)


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 10**6), st.lists(st.integers(0, len(EVERY) - 1), max_size=3))
def test_what_is_called_impossible_never_holds_on_drawn_facts(seed: int, rows: list[int]) -> None:
    """Of a condition of which one branch alone is dead it is that branch that never holds: here only whole ones."""
    writer = Sums(seed)
    parts = tuple(groups(writer) for _ in range(writer.chance.randint(2, 4)))
    whole = All(parts, **writer.at())
    plain = all(isinstance(part, Compare | Known) for part in parts)
    faults = told(NUMBERS, reading(whole))
    fulfilled = bool((np.atleast_1d(sign_of(whole, DRAWN)) == 1).any())
    if faults and (plain or any("the group" in fault.what for fault in faults)):
        assert not fulfilled, faults
        for row in rows:
            known = zip(NAMES, EVERY[row], strict=True)
            facts = FactBase().with_facts(Fact(name, value, SAID) for name, value in known if value is not None)
            assert sign_of(whole, facts) != 1


def test_what_never_holds_is_named_and_nothing_more() -> None:
    """Every condition that is named is needed: without one of them the others can hold."""
    count = 0
    for seed in range(600):
        writer = Sums(seed)
        comparisons = [writer.comparison() for _ in range(4)]
        for fault in told(NUMBERS, reading(All(tuple(comparisons), **writer.at()))):
            lines = [fault.place.line, *map(int, _lines(fault.what))]
            named = [one for one in comparisons if one.place.line in lines]
            assert not feasible(named)
            assert all(feasible([one for one in named if one is not left]) for left in named if len(named) > 1)
            count += 1
    assert count > 100


def _lines(what: str) -> Iterator[str]:
    words = what.replace(",", " ").split()
    return (words[at + 1] for at, word in enumerate(words) if word == "line")


# --- how rule facts come about

RISKS = ("low", "raised", "high")


class Chains(Writer):
    """Random rules that set facts, read them, and assume what nobody told."""

    def chained(self, facts: tuple[str, ...]) -> Condition:
        match self.chance.choice(("risk", "load", *facts)):
            case "risk":
                picked = frozenset(self.chance.sample(RISKS, self.chance.randint(1, 2)))
                return Is("head risk", picked, self.chance.random() < 0.2, **self.at())
            case "load":
                return Flag("sustained load", self.chance.random() < 0.5, **self.at())
            case _:
                return self.condition(1)

    def a_rule(self, name: str, stage: str, then: tuple, *parts: Condition) -> Rule:
        return Rule(name, stage, All(parts, **self.at()), then, "why", "basis", "", self.at()["place"])

    def rules(self) -> list[Rule]:
        chance = self.chance
        made = []
        for at in range(chance.randint(1, 3)):
            sets = (SetFact("head risk", chance.choice(RISKS), place=self.at()["place"]),)
            stage = chance.choice(STAGES[:2])
            made.append(self.a_rule(f"risk-{at}", stage, sets, self.condition(1), self.leaf()))
        for at in range(chance.randint(1, 2)):
            sets = (SetFact("sustained load", chance.random() < 0.5, place=self.at()["place"]),)
            reads = self.chained(("other",)) if chance.random() < 0.5 else self.leaf()
            made.append(self.a_rule(f"load-{at}", "demand", sets, reads, self.leaf()))
        if chance.random() < 0.5:
            assumes = (Assume("tune", chance.choice(("stock", "hot")), place=self.at()["place"]),)
            stage = chance.choice(STAGES[:3])
            made.append(self.a_rule("assumes", stage, assumes, Known("tune", True, **self.at()), self.leaf()))
        parts = [self.chained(("other", "other")) for _ in range(chance.randint(2, 4))]
        return [*made, self.a_rule("reads", "advise", (), *parts)]


class Book:
    """The layers of some rules."""

    def __init__(self, rules: list[Rule]) -> None:
        self.faults: list[Fault] = []
        self.strata: Strata = arrange(rules, self.faults)

    def layers(self, stage: str) -> tuple[tuple[Rule, ...], ...]:
        return self.strata[stage]


def fired(book: Book) -> set[str]:
    """The rules that fire in any situation."""
    columns = {name: [_value(situation[name]) for situation in SITUATIONS] for name in SITUATIONS[0]}
    facts = FactBase().with_columns(columns, SAID)
    found: set[str] = set()
    for stage in STAGES:
        result = run_stage(stage, book, facts, ReferenceAgenda())
        found |= {firing.rule for firing in result.firings}
        facts = result.facts
    return found


def _value(value: object) -> object:
    return Range(value, value) if isinstance(value, float) else value


@pytest.mark.parametrize("block", range(4))
def test_a_rule_called_impossible_by_how_its_facts_come_about_never_fires(block: int) -> None:
    """Rules of all stages, with assumptions between them, fired over every situation."""
    said = fires = silent = 0
    for seed in range(block * 150, block * 150 + 150):
        rules = Chains(seed).rules()
        book = Book(rules)
        if book.faults:
            continue
        lines = {rule.name: (rule.when.place.line, rule.place.line) for rule in rules}
        faults = [fault for fault in faults_of(*rules) if "(set so only" in fault.what or "(none of" in fault.what]
        reads = rules[-1]
        whole = {part.place.line for part in reads.when.parts}
        blamed = any(fault.place.line in whole for fault in faults)
        found = fired(book)
        assert not (blamed and "reads" in found), (seed, faults, lines)
        said, fires, silent = said + blamed, fires + ("reads" in found), silent + ("reads" not in found)
    assert said > 2
    assert fires > 10


def test_very_many_comparisons_are_given_up() -> None:
    """Each of many figures is below and above many others: what would be too much to solve is called possible."""
    at = {"place": Place("a.yaml", 1, 1), "text": ""}
    figures = [FactRef(f"f{number}", **at) for number in range(12)]
    below = [
        AtMostNought(linear(one).plus(linear(other), Fraction(-3, 2)), True, frozenset((number,)))
        for number, (one, other) in enumerate(itertools.permutations(figures, 2))
    ]
    assert len(below) > MOST // 4
    assert at_odds(below) is None
    assert at_odds([AtMostNought(Sum({}), True, frozenset("a"))]) == frozenset("a")
    assert at_odds([AtMostNought(Sum({}), False, frozenset("a"))]) is None


def test_rounding_is_no_contradiction() -> None:
    """0.1 + 0.2 is 0.30000000000000004 in binary arithmetic (IEEE 754, known): not over 0.3, nor under it."""
    at = {"place": Place("a.yaml", 1, 1), "text": ""}
    figure = FactRef("one", **at)
    third = Binary("+", Literal(0.1, **at), Literal(0.2, **at), **at)

    def says(op: str, right: Expr, name: str) -> AtMostNought:
        sign = 1 if op == "<=" else -1
        apart = linear(figure).plus(linear(right), Fraction(-1))
        return AtMostNought(Sum({}).plus(apart, Fraction(sign)), op not in ("<=", ">="), frozenset((name,)))

    exact = Literal(0.3, **at)
    assert at_odds([says("<=", exact, "a"), says(">=", third, "b")]) is None
    assert at_odds([says("<=", exact, "a"), says(">", exact, "b")]) == frozenset("ab")
    assert at_odds([says("<=", exact, "a"), says(">=", Literal(0.31, **at), "b")]) == frozenset("ab")


def of_figures(*texts: str) -> list[str]:
    faults: list[Fault] = []
    reader = Reader(NUMBERS, faults)
    read = [
        reader.condition(text, lambda at, line=line: Place("a.yaml", line, 1 + at))
        for line, text in enumerate(texts, 1)
    ]
    assert not faults
    parts = tuple(one for one in read if one is not None)
    return [fault.what for fault in told(NUMBERS, reading(All(parts, place=Place("a.yaml", 1, 1), text="")))]


@pytest.mark.parametrize(
    ("texts", "count"),
    [
        (("one * two > 50", "one < 9"), 0),  # 81 at most
        (("one * two > 50", "one < 2"), 0),  # not found: what isn't linear counts as a figure of its own
        (("one * two > three", "three > one * two"), 1),
        (("one * two > 2 * three", "three >= one * two"), 1),  # unless the product were below nought
        (("one * three > 2 * two", "two >= one * three", "two > 0"), 1),
        (("one * three > 2 * two", "three > 5"), 0),
        (("8 / one > three", "three > 7"), 0),
        (("8 / one > three", "three > 8"), 1),
        (("8 / one > three", "three > 8 / one"), 1),
        (("one * 0 > three", "three > 1"), 1),
        (("one / two > three", "three > 9"), 1),  # 9 at most, by the plausible ranges
        (("one - one > 0 * two", "three > 1"), 1),
        (("one * 4 > three", "three > 35"), 0),  # 36 at most
        (("4 * one > three", "three > 35"), 0),
        (("one * 4 > three", "three > 36"), 1),
        (("4 * one > three", "three > 36"), 1),
        (("one / 4 > three", "three > 2.2"), 0),  # 2.25 at most
        (("one / 4 > three", "three > 2.3"), 1),
        (("one + two > three", "three > 17"), 0),  # 18 at most
        (("one + two > three", "three > 18"), 1),
        (("one - two > three", "three > 7"), 0),  # 8 at most
        (("one - two > three", "three > 8"), 1),
        (("-(one + two) > three", "three > -3"), 0),  # -2 at most
        (("-(one + two) > three", "three > -2"), 1),
        (("-(one) > three", "three > -1"), 1),
        (("-(one) > three", "three > -5"), 0),
        (("three is between one and two", "three < one"), 1),
        (("three is between one and two", "three > two"), 1),
        (("three is between one and two", "three < two", "one < three"), 0),
        (("three is between one and two", "two < one"), 1),
        (("three is between one and two", "three is one", "three is two"), 0),
    ],
)
def test_products_and_quotients_count_as_figures_of_their_own(texts: tuple[str, ...], count: int) -> None:
    assert len(of_figures(*texts)) == count, of_figures(*texts)


def test_a_sum_with_a_fact_that_comes_twice_is_told_with_what_it_is_about() -> None:
    assert of_figures("2 * one < one", "two > 3") == ["'2 * one < one' can never hold (one lies between 1 and 9)"]


def test_of_a_product_the_ranges_of_what_is_multiplied_are_told() -> None:
    assert of_figures("8 / one > three", "three > 8") == [
        "'three > 8' can't go together with '8 / one > three' in line 1 (one lies between 1 and 9)"
    ]
