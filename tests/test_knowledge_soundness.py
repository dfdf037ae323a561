"""What the check calls impossible, idle or contradictory, against trying every answer one by one."""

import itertools
import operator
import random
import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_knowledge_broken import BASE, SLIPS

from advisor.knowledge import FactDef, Fault, KnowledgeError, Place, Rule, check, load
from advisor.knowledge.conditions import (
    All,
    AnyOf,
    Between,
    Compare,
    Condition,
    FactRef,
    Flag,
    Includes,
    Is,
    Known,
    NoneOf,
    Number,
)
from advisor.knowledge.domains import EVERY, Numbers, Universe, conjunctions, constant
from advisor.knowledge.meaning import Reader
from advisor.knowledge.possible import join
from advisor.knowledge.rules import Say, SetFact
from advisor.knowledge.soundness import check_conditions
from advisor.knowledge.source import read_yaml
from advisor.knowledge.vocabulary import read_vocabulary
from advisor.quantities import to_si

FACTS = read_vocabulary(read_yaml(Path(__file__).parent / "knowledge_base" / "facts.yaml", "facts.yaml"))
BOOSTS = (5, 35, 60, 150)  # psi; the ends of the plausible range among them
BETWEEN = (20, 50, 100)
SEEDS = range(400)

ANY = All((Known("tune", place=Place("a.yaml", 1, 1), text=""),), place=Place("a.yaml", 1, 1), text="")
Situation = Mapping[str, object]


def psi(value: float) -> float:
    return to_si(value, "psi", "pressure")


VALUES: dict[str, tuple[object, ...]] = {
    "tune": (None, "stock", "hot"),
    "road use": (None, True, False),
    "duties": (
        None,
        frozenset(),
        frozenset({"towing"}),
        frozenset({"strip"}),
        frozenset({"towing", "strip"}),
    ),
    "present boost": (None, *(psi(boost) for boost in (*BOOSTS, *BETWEEN))),
}
SITUATIONS = [dict(zip(VALUES, values, strict=True)) for values in itertools.product(*VALUES.values())]
OPERATORS = {
    "<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge,
    "=": operator.eq, "!=": operator.ne,
}  # fmt: skip


def holds(condition: Condition, situation: Situation) -> bool | None:
    """The naive meaning: True, False, or None where an answer is missing."""
    match condition:
        case All(parts=parts):
            return every([holds(part, situation) for part in parts])
        case AnyOf(parts=parts):
            return opposite(every([opposite(holds(part, situation)) for part in parts]))
        case NoneOf(parts=parts):
            return every([opposite(holds(part, situation)) for part in parts])
        case Known(fact=fact, negated=negated):
            return (situation[fact] is not None) != negated
        case Compare(left=FactRef(name=name)) | Between(expr=FactRef(name=name)):
            return None if situation[name] is None else number(condition, situation[name])
        case Is(fact=fact, choices=choices, negated=negated):
            return None if situation[fact] is None else (situation[fact] in choices) != negated
        case Includes(fact=fact, choice=choice, negated=negated):
            return None if situation[fact] is None else (choice in situation[fact]) != negated
        case Flag(fact=fact, value=value):
            return None if situation[fact] is None else situation[fact] == value
        case _:
            raise AssertionError(condition)


def number(condition: Condition, value: object) -> bool:
    match condition:
        case Between(low=Number(si=low), high=Number(si=high)):
            return low <= value <= high
        case Compare(op=op, right=Number(si=limit)):
            return OPERATORS[op](value, limit)
        case _:
            raise AssertionError(condition)


def every(verdicts: list[bool | None]) -> bool | None:
    return False if False in verdicts else None if None in verdicts else True


def opposite(verdict: bool | None) -> bool | None:
    return None if verdict is None else not verdict


class Writer:
    """Random conditions, each node in a line of its own."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.lines = itertools.count(1)

    def at(self, text: str = "") -> dict[str, object]:
        return {"place": Place("a.yaml", next(self.lines), 1), "text": text}

    def leaf(self) -> Condition:
        pick = self.chance.choice
        match pick(["is", "flag", "includes", "known", "compare", "compare", "between"]):
            case "is":
                return Is("tune", frozenset({pick(["stock", "hot"])}), pick([True, False]), **self.at())
            case "flag":
                return Flag("road use", pick([True, False]), **self.at())
            case "includes":
                return Includes("duties", pick(["towing", "strip"]), pick([True, False]), **self.at())
            case "known":
                return Known(pick(list(VALUES)), pick([True, False]), **self.at())
            case "between":
                low, high = sorted(self.chance.sample(BOOSTS, 2))
                return Between(self.boost(), self.psi(low), self.psi(high), **self.at())
            case _:
                return Compare(self.boost(), pick(list(OPERATORS)), self.psi(pick(BOOSTS)), **self.at())

    def boost(self) -> FactRef:
        return FactRef("present boost", **self.at())

    def psi(self, value: float) -> Number:
        return Number(psi(value), **self.at())

    def condition(self, depth: int = 2) -> Condition:
        if depth == 0 or self.chance.random() < 0.4:
            return self.leaf()
        group = self.chance.choice([All, AnyOf, NoneOf])
        parts = tuple(self.condition(depth - 1) for _ in range(self.chance.randint(1, 3)))
        return group(parts, **self.at())

    def rule(self, name: str, value: str) -> Rule:
        when = All((self.condition(), self.leaf()), **self.at())
        then = (SetFact("head risk", value, place=Place("a.yaml", next(self.lines), 1)),)
        return Rule(name, "understand", when, then, "why", "basis", "", Place("a.yaml", next(self.lines), 1))


def possible(condition: Condition) -> bool:
    return any(holds(condition, situation) for situation in SITUATIONS)


def faults_of(*rules: Rule) -> list[Fault]:
    return list(check_conditions(FACTS, rules))


def conditions() -> Iterator[Condition]:
    for seed in SEEDS:
        yield Writer(seed).condition()


def test_a_condition_is_possible_exactly_when_some_answers_fulfil_it() -> None:
    universe = Universe(FACTS, {})
    seen = set()
    for condition in conditions():
        ways = conjunctions(universe.claims(condition), 10_000)
        found = any(isinstance(join(universe, way), dict) for way in ways)
        assert found == possible(condition), condition
        seen.add(found)
    assert seen == {True, False}


def test_what_can_never_hold_is_said_and_nothing_else_is_called_impossible() -> None:
    """In lists of plain conditions exactly; in groups every impossible leaf, branch or pair is truly so."""
    seen = set()
    for seed in SEEDS:
        writer = Writer(seed)
        parts = tuple(writer.leaf() for _ in range(3))
        when = All(parts, **writer.at())
        rule = Rule("r", "understand", when, (), "why", "basis", "", Place("a.yaml", 1, 1))
        dead = any("never" in fault.what or "can't go together" in fault.what for fault in faults_of(rule))
        assert dead == (not possible(when)), when
        seen.add(dead)
    assert seen == {True, False}


def test_a_single_condition_is_idle_exactly_when_every_answer_fulfils_it() -> None:
    seen = set()
    for seed in SEEDS:
        writer = Writer(seed)
        leaf = writer.leaf()
        rule = Rule("r", "understand", All((leaf,), **writer.at()), (), "why", "basis", "", Place("a", 1, 1))
        idle = any("always holds" in fault.what for fault in faults_of(rule))
        verdicts = {holds(leaf, situation) for situation in SITUATIONS}
        assert idle == (False not in verdicts), leaf
        seen.add(idle)
    assert seen == {True, False}


def test_two_rules_contradict_exactly_when_some_answers_fulfil_both() -> None:
    seen = set()
    for seed in SEEDS:
        writer = Writer(seed)
        one, other = writer.rule("one", "low"), writer.rule("other", "high")
        both = any(holds(one.when, situation) and holds(other.when, situation) for situation in SITUATIONS)
        found = [fault for fault in faults_of(one, other) if "can both hold" in fault.what]
        assert len(found) == int(both), (one.when, other.when)
        seen.add(both)
    assert seen == {True, False}


RANGES = {"power now": (80.0, 3_000.0), "power goal": (100.0, 3_000.0), "altitude": (-300.0, 14_500.0)}


@pytest.mark.parametrize(
    ("text", "of"),
    [
        ("power goal + power now {} {} hp", lambda at: at["power goal"] + at["power now"]),
        ("power goal - power now {} {} hp", lambda at: at["power goal"] - at["power now"]),
        ("-power goal {} {} hp", lambda at: -at["power goal"]),
        ("power goal / 2 {} {} hp", lambda at: at["power goal"] / 2),
        ("2 * power goal {} {} hp", lambda at: 2 * at["power goal"]),
        ("power goal / power now {} {}", lambda at: at["power goal"] / at["power now"]),
        ("altitude * -2 {} {} ft", lambda at: at["altitude"] * -2),
    ],
)
@pytest.mark.parametrize("sign", ["<", "<=", ">", ">="])
def test_sums_are_settled_exactly_when_all_plausible_answers_agree(text: str, of: Callable, sign: str) -> None:
    """These sums take their extremes at corners of the plausible ranges."""
    compare = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge}[sign]
    corners = [dict(zip(RANGES, ends, strict=True)) for ends in itertools.product(*RANGES.values())]
    sums = [of(corner) for corner in corners]
    middle = of({name: (low + high) / 2 for name, (low, high) in RANGES.items()})
    for edge in {min(sums), max(sums)}:
        for limit in (edge - abs(edge) / 10 - 1, edge, edge + abs(edge) / 10 + 1):
            line = text.format(sign, f"{limit:.9f}")
            held = {compare(found, float(f"{limit:.9f}")) for found in (*sums, middle)}
            said = told_of(line)
            assert ("can never hold" in said) == (held == {False}), (line, said)
            assert ("always holds" in said) == (held == {True}), (line, said)


def told_of(line: str) -> str:
    """What the check says about a rule with this one condition."""
    faults: list[Fault] = []
    condition = Reader(FACTS, faults).condition(line, lambda offset: Place("a.yaml", 1, 1 + offset))
    assert condition is not None, faults
    whole = All((condition,), place=condition.place, text="")
    says = (Say("x", place=condition.place),)
    rule = Rule("a", "understand", whole, says, "because", "basis", "", place=condition.place)
    return " ".join(fault.what for fault in check_conditions(FACTS, [rule]))


def test_sums_between_and_of_figures() -> None:
    assert "can never hold" in told_of("power goal + power now is between 7,000 and 8,000 hp")
    assert "can never hold" in told_of("power goal + power now is between 20 and 50 hp")
    assert "always holds" in told_of("power goal + power now is between 100 and 7,000 hp")
    assert told_of("power goal + power now is between 1,000 and 7,000 hp") == ""
    assert "can never hold" in told_of("power goal + power now is 9,000 hp")
    assert "always holds" in told_of("power goal + power now is not 9,000 hp")
    for end in ("180 hp", "6,000 hp"):  # the least and the most that it comes to
        assert told_of(f"power goal + power now is {end}") == told_of(f"power goal + power now is not {end}") == ""
    assert told_of("power goal + fuel power > 9,000 hp") == ""  # nobody says how far a computed figure goes
    assert told_of("power goal / altitude > 9,000 hp / 1 ft") == ""  # the altitude may be nought


def test_a_choice_that_no_rule_sets_can_never_hold() -> None:
    writer = Writer(1)
    sets = writer.rule("sets", "low")
    when = All((Is("head risk", frozenset({"high"}), **writer.at("head risk is high")),), **writer.at())
    reads = Rule("reads", "advise", when, (Say("x", place=sets.place),), "why", "basis", "", sets.place)
    (fault,) = [fault for fault in faults_of(sets, reads) if "never" in fault.what]
    assert fault.what == "'head risk is high' can never hold: rules set 'head risk' only to low"
    assert fault.mend == "put back the rule that sets it to high, raised, or write one; or else mend this"


def test_a_choice_that_no_rule_sets_harms_nothing_where_nothing_hangs_on_it() -> None:
    writer = Writer(1)
    sets = writer.rule("sets", "low")
    when = All((Is("head risk", frozenset({"low"}), **writer.at("head risk is low")),), **writer.at())
    reads = Rule("reads", "advise", when, (Say("x", place=sets.place),), "why", "basis", "", sets.place)
    other = writer.rule("sets it too", "high")
    assert not [fault for fault in faults_of(sets, other, reads) if "can both hold" not in fault.what]


def test_a_rule_that_alone_set_a_value_is_missed_in_one_line(tmp_path: Path) -> None:
    """When the rule is gone that says the load is sustained, all that hangs on it is one fault, at the first place."""
    shop = tmp_path / "shop"
    shutil.copytree(Path(__file__).parents[1] / "rules", shop)
    towing = (shop / "towing.yaml").read_text("utf-8")
    start, end = (towing.index(f"  - rule: load-{name}\n") for name in ("is-sustained", "comes-in-bursts"))
    (shop / "towing.yaml").write_text(towing[:start] + towing[end:], "utf-8")
    with pytest.raises(KnowledgeError) as raised:
        load(shop)
    (fault,) = raised.value.faults
    texts = {path.name: path.read_text("utf-8") for path in shop.glob("*.yaml")}
    hang = [(name, number) for name, text in sorted(texts.items()) for number, line in enumerate(text.split("\n"), 1)
            if name != "facts.yaml" and re.search(r"sustained load is (yes|no)\b", line)]  # fmt: skip
    assert (fault.place.file, fault.place.line) == hang[0]
    assert fault.what == f"rules set 'sustained load' only to no, and {len(hang)} conditions hang on that, first here"
    assert fault.mend.startswith("put back the rule that sets it to yes, or write one; or else mend ")


GONE = "put back the rule that sets it to {}, or write one; or else mend "


@pytest.mark.parametrize(
    ("file", "rule", "following", "told"),
    [
        (
            "duty.yaml",
            "duties-agree",
            "duties-pull-apart",
            "rules set 'duty conflict' only to hard, mild, and 3 conditions hang on that, first here; "
            + GONE.format("none"),
        ),
        (
            "thrust.yaml",
            "three-quarter-thrust-bearing-will-do",
            "",
            "'thrust need is 360' holds wherever 'thrust need' is known: rules set it only to 360; write 'thrust need "
            "is known' if that is meant, or the rule that sets it to 270 (if there was one, put it back)",
        ),
    ],
)
def test_of_a_rule_that_is_gone_only_that_is_told(
    file: str, rule: str, following: str, told: str, tmp_path: Path
) -> None:
    """Not what could no longer be false, nor go together, since it is gone."""
    shop = tmp_path / "shop"
    shutil.copytree(Path(__file__).parents[1] / "rules", shop)
    text = (shop / file).read_text("utf-8")
    start = text.index(f"  - rule: {rule}\n")
    end = text.index(f"  - rule: {following}\n") if following else text.index("  - rule:", start + 1)
    (shop / file).write_text(text[:start] + text[end:], "utf-8")
    (fault,) = check(shop)
    assert f"{fault.what}; {fault.mend}".startswith(told)


@pytest.mark.parametrize(
    ("group", "told"),
    [
        ("any: [head risk is low, head risk is raised]", ["one of these always holds: {only}; {gone}this"]),
        ("none: [head risk is not high]", ["'{}' can never be false here: {only}; {gone}this"]),
        ("none: [head risk is low, head risk is raised]", [
            "'head risk is raised' under 'none:' can't go together with 'head risk is low' under 'none:' in line 5: "
            "{only}; {gone}this"
        ]),
        ("any: [head risk is low, head risk is not low]", [
            "one of these always holds; leave a gap between them, or leave the group out"
        ]),
        ("none: [head risk is low, head risk is not low]", [
            "'head risk is not low' under 'none:' can't go together with 'head risk is low' under 'none:' in line 5; "
            "one of the two always holds: leave one out of 'none:'"
        ]),
    ],
)  # fmt: skip
def test_what_always_holds_by_what_rules_set_names_the_rule_that_is_gone(
    group: str, told: list[str], tmp_path: Path
) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    rules = (BASE / "rules.yaml").read_text("utf-8")
    start = rules.index("  - rule: head-risk-high\n")
    rules = rules[:start] + rules[rules.index("  - rule:", start + 1) :]
    rules = rules.replace("      - head risk is one of raised, high\n", "      - head risk is raised\n")
    (tmp_path / "shop" / "rules.yaml").write_text(rules, "utf-8")
    slip = SLIPS["rule"].replace("present boost > 45 psi", group)
    (tmp_path / "shop" / "slip.yaml").write_text(slip, "utf-8")
    only, gone = "rules set 'head risk' only to low, raised", GONE.format("high")
    words = group.partition("[")[2].rstrip("]")
    expected = [one.format(words, only=only, gone=gone) for one in told]
    found = [fault for fault in check(tmp_path / "shop") if fault.severity == "error"]
    assert [f"{fault.what}; {fault.mend}" for fault in found] == expected


@pytest.mark.parametrize(("value", "never"), [(True, "is no"), (False, "is yes")])
def test_a_yes_or_no_that_no_rule_sets_can_never_hold(value: bool, never: str) -> None:
    at = Writer(1).at()["place"]
    sets = Rule("sets", "understand", ANY, (SetFact("sustained load", value, place=at),), "why", "basis", "", at)
    reads = [
        Rule(text, "advise", All((Flag("sustained load", text == "is yes", place=at, text=text),), place=at, text=""),
             (), "why", "basis", "", at)
        for text in ("is yes", "is no")
    ]  # fmt: skip
    told = [fault.what for read in reads for fault in faults_of(sets, read) if "never" in fault.what]
    only = "yes" if value else "no"
    assert told == [f"'{never}' can never hold: rules set 'sustained load' only to {only}"]


@pytest.mark.parametrize(
    ("text", "value"),
    [("6 / 3 * 5", 10.0), ("6 - -4", 10.0), ("-(2 + 3)", -5.0), ("2 * axle ratio", None)],
)
def test_constants(text: str, value: float | None) -> None:
    faults: list[Fault] = []
    amount = Reader(FACTS, faults).amount(text, FACTS["axle ratio"], lambda offset: Place("a", 1, offset))
    assert not faults
    assert amount is not None
    assert constant(amount) == value


def test_figures_have_no_plausible_range_to_be_caught_by() -> None:
    """What the program computes may leave every range, and rules must be able to say so."""
    writer = Writer(1)
    hot = Number(3000.0, **writer.at())
    leaf = Compare(FactRef("charge temperature", **writer.at()), ">", hot, **writer.at())
    rule = Rule("r", "demand", All((leaf,), **writer.at()), (), "why", "basis", "", Place("a", 1, 1))
    assert not faults_of(rule)


ENDS = st.integers(-3, 3).map(float)
STRETCHES = st.tuples(ENDS, ENDS, st.booleans(), st.booleans()).map(lambda ends: Numbers.between(*ends))
SETS = st.lists(STRETCHES, max_size=3).map(lambda sets: join_all(sets))
POINTS = [quarter / 4 for quarter in range(-16, 17)]


def join_all(sets: list[Numbers]) -> Numbers:
    total = Numbers(())
    for numbers in sets:
        total = total | numbers
    return total


def inside(numbers: Numbers) -> set[float]:
    return {point for point in POINTS if numbers & Numbers.between(point, point)}


@given(SETS, SETS)
def test_sets_of_numbers_behave_like_sets(one: Numbers, other: Numbers) -> None:
    assert inside(one & other) == inside(one) & inside(other)
    assert inside(one | other) == inside(one) | inside(other)
    assert inside(one - other) == inside(one) - inside(other)
    assert inside(EVERY - one) == set(POINTS) - inside(one)
    assert bool(one) == bool(one.stretches)
    assert (one & other) == (other & one)
    assert (one | other) == (other | one)
    if one:
        assert one & Numbers.between(one.example(), one.example())


@pytest.mark.parametrize(
    ("numbers", "example"),
    [
        (EVERY, 0.0),
        (Numbers.between(2.0, float("inf")), 3.0),
        (Numbers.between(float("-inf"), -20.0), -22.0),
        (Numbers.between(2.0, 4.0), 3.0),
        (Numbers.between(2.0, 2.0), 2.0),
    ],
)
def test_examples_lie_well_inside(numbers: Numbers, example: float) -> None:
    assert numbers.example() == example


def test_the_vocabulary_of_these_tests_is_the_small_one() -> None:
    assert all(isinstance(FACTS[name], FactDef) for name in VALUES)
    assert all(FACTS[name].source == "asked" for name in VALUES)
