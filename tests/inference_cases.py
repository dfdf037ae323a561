"""Random rule bases and fact bases, and a naive oracle that says what must come out, for the inference tests.

The oracle shares no code with the package: it takes one candidate after the other, knows True, False and
None, and computes numbers as exact fractions. Divisors in these cases are powers of two, so that floats are
exact as well.
"""

import json
import random
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from itertools import product

import numpy as np

from advisor.inference.agenda import Joins
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import StageResult
from advisor.knowledge.conditions import (
    All,
    AnyOf,
    Between,
    Binary,
    Compare,
    FactRef,
    Flag,
    Includes,
    Is,
    Known,
    Negate,
    NoneOf,
    Number,
)
from advisor.knowledge.places import Place
from advisor.knowledge.rules import Assume, Rule, RuleOut, SetFact
from advisor.quantities import Range

PLACE = Place("rules.yaml", 1, 1)
HERE = {"place": PLACE, "text": "as written"}
SAID = Origin("answer", "his words")
BUILT = Origin("catalogue", "the shelf")
CHOICES = ("red", "green", "blue")


def number(si):
    return Number(si, **HERE)


def ref(name):
    return FactRef(name, **HERE)


def compare(name, op, si):
    return Compare(ref(name), op, number(si), place=PLACE, text=f"{name} {op} {si:g}")


def every(*parts):
    return All(tuple(parts), **HERE)


def some(*parts):
    return AnyOf(tuple(parts), **HERE)


def none(*parts):
    return NoneOf(tuple(parts), **HERE)


def rule(name, *when, then=(), stage="judge", place=PLACE):
    return Rule(
        name,
        stage,
        every(*when),
        tuple(then) or (RuleOut(place=PLACE),),
        "because",
        "basis",
        "kept by",
        place,
    )


def sets(fact, value):
    return SetFact(fact, value, place=PLACE)


def assumes(fact, value):
    return Assume(fact, value, place=PLACE)


def known(**values):
    """Facts of these values; underscores in names stand for spaces."""
    return FactBase().with_facts(
        Fact(name.replace("_", " "), Range(value, value) if isinstance(value, float) else value, SAID)
        for name, value in values.items()
    )


@dataclass(frozen=True)
class Layered:
    """Knowledge of one stage: its layers, lowest first."""

    rows: tuple[tuple[Rule, ...], ...]
    stage: str = "judge"

    def layers(self, stage):
        return self.rows if stage == self.stage else ()


def random_expr(chance: random.Random, names: Sequence[str], depth: int = 2):
    kind = chance.random()
    if depth == 0 or kind < 0.45:
        return ref(chance.choice(names))
    if kind < 0.6:
        return number(float(chance.randint(-6, 6)))
    if kind < 0.7:
        return Negate(random_expr(chance, names, depth - 1), **HERE)
    op = chance.choice("+-*/")
    left = random_expr(chance, names, depth - 1)
    right = (
        number(chance.choice((-8.0, -2.0, 0.0, 2.0, 4.0)))
        if op == "/"
        else random_expr(chance, names, depth - 1)
    )
    return Binary(op, left, right, **HERE)


def random_leaf(chance: random.Random, names: Sequence[str]):
    """A leaf on these facts; a name begins with its kind: n number, c choice, s several, f yes/no."""
    name = chance.choice(names)
    if chance.random() < 0.12:
        return Known(name, chance.random() < 0.5, **HERE)
    numbers = [one for one in names if one[0] == "n"]
    match name[0]:
        case "n" if chance.random() < 0.25:
            low, high = sorted((chance.randint(-6, 6), chance.randint(-6, 6)))
            return Between(ref(name), number(float(low)), number(float(high)), **HERE)
        case "n":
            op = chance.choice(("<", "<=", ">", ">=", "=", "!="))
            return Compare(random_expr(chance, numbers), op, random_expr(chance, numbers, 1), **HERE)
        case "c":
            choices = frozenset(chance.sample((*CHOICES, "never heard of"), chance.randint(1, 2)))
            return Is(name, choices, chance.random() < 0.4, **HERE)
        case "s":
            return Includes(name, chance.choice((*CHOICES, "never heard of")), chance.random() < 0.4, **HERE)
        case _:
            return Flag(name, chance.random() < 0.5, **HERE)


def random_condition(chance: random.Random, names: Sequence[str], depth: int = 2):
    if depth == 0 or chance.random() < 0.65:
        return random_leaf(chance, names)
    parts = tuple(random_condition(chance, names, depth - 1) for _ in range(chance.randint(1, 3)))
    return chance.choice((All, AnyOf, NoneOf))(parts, **HERE)


def random_value(chance: random.Random, name: str):
    """A value of the fact's kind, or None: not known."""
    if chance.random() < 0.2:
        return None
    match name[0]:
        case "n":
            low = chance.randint(-6, 6)
            return Range(float(low), float(low + chance.choice((0, 0, 0, 1, 3))))
        case "c":
            return chance.choice(CHOICES)
        case "s":
            return frozenset(chance.sample(CHOICES, chance.randint(0, 3)))
        case _:
            return chance.random() < 0.5


@dataclass(frozen=True)
class Case:
    """Rules in layers, shared values and one dict of values per candidate."""

    layers: tuple[tuple[Rule, ...], ...]
    shared: dict
    candidates: tuple[dict, ...]

    @property
    def facts(self) -> FactBase:
        base = FactBase().with_facts(
            Fact(name, value, SAID) for name, value in self.shared.items() if value is not None
        )
        if not self.candidates:
            return base
        names = self.candidates[0]
        return base.with_columns({name: [one[name] for one in self.candidates] for name in names}, BUILT)


def random_case(chance: random.Random) -> Case:
    """A rule base of 1 to 3 layers with conditions shared between rules, and a fact base."""
    shared = [f"{kind}{index}" for kind in "ncsf" for index in range(3)]
    varying = (
        [f"{kind} of candidate {index}" for kind in "ncf" for index in range(2)]
        if chance.random() < 0.6
        else []
    )
    names = [*shared, *varying]
    layers = []
    for level in range(chance.randint(1, 3)):
        pool = [random_condition(chance, names) for _ in range(chance.randint(2, 10))]
        derived = [f"{kind} derived {level}" for kind in "ncsf"]
        rules = []
        for index in range(chance.randint(1, 12) if chance.random() < 0.95 else chance.randint(33, 80)):
            actions = []
            for _ in range(chance.randint(0, 2)):
                target = chance.choice([*derived, *shared[:4]])
                reads = [one for one in names if one[0] == "n" and one != target]
                value = random_expr(chance, reads) if target[0] == "n" else random_value(chance, target)
                if value is not None:
                    actions.append(sets(target, value) if target in derived else assumes(target, value))
            when = [chance.choice(pool) for _ in range(chance.choice((1, 1, 2, 2, 3, 17)))]
            rules.append(rule(f"rule {level} {index}", *when, then=actions))
        chance.shuffle(rules)
        layers.append(tuple(rules))
        names = [*names, *derived]
    candidates = tuple(
        {name: random_value(chance, name) for name in varying} for _ in range(chance.randint(1, 6))
    )
    return Case(
        tuple(layers),
        {name: None if chance.random() < 0.15 else random_value(chance, name) for name in shared},
        candidates if varying else (),
    )


def random_joins(chance: random.Random) -> tuple[Joins, list[int]]:
    """Rules over shared conditions, now and then more of them than an engine may like, and what holds."""
    size = chance.choice((3, 8, 30, 120))
    conditions = [chance.randrange(2_000) for _ in range(size)]
    rules = [
        chance.choices(conditions, k=chance.choice((0, 1, 1, 2, 2, 3, 4, chance.randint(5, 25))))
        for _ in range(chance.choice((1, 4, 12, 40)) if chance.random() < 0.96 else chance.randint(41, 300))
    ]
    share = chance.choice((0.1, 0.5, 0.8, 0.95, 1.0))
    return Joins(rules), [condition for condition in conditions if chance.random() < share]


def outcome(result: StageResult) -> str:
    """All that a result says in one line of JSON, in the order in which it says it (but for mappings)."""
    facts = result.facts
    return json.dumps(
        _plain([result.firings, result.conflicts, dict(facts.facts), dict(facts.columns), facts.disputed]),
        sort_keys=True,
    )


def _plain(value):
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, np.ndarray):
        return [str(value.dtype), value.tolist()]
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


# The oracle.


def _ends(expr, values):
    """The expression's exact (low, high), None where not known."""
    match expr:
        case Number(si=si):
            return Fraction(si), Fraction(si)
        case FactRef(name=name):
            value = values.get(name)
            return None if value is None else (Fraction(value.low), Fraction(value.high))
        case Negate(of=of):
            ends = _ends(of, values)
            return None if ends is None else (-ends[1], -ends[0])
        case Binary(op=op, left=left, right=right):
            one, other = _ends(left, values), _ends(right, values)
            if one is None or other is None or (op == "/" and other[0] <= 0 <= other[1]):
                return None
            do = {
                "+": lambda a, b: a + b,
                "-": lambda a, b: a - b,
                "*": lambda a, b: a * b,
                "/": lambda a, b: a / b,
            }
            corners = [do[op](a, b) for a, b in product(one, other)]
            return min(corners), max(corners)


def _compare(op, one, other):
    if one is None or other is None:
        return None
    do = {
        "<": lambda a, b: a < b,
        "<=": lambda a, b: a <= b,
        ">": lambda a, b: a > b,
        ">=": lambda a, b: a >= b,
        "=": lambda a, b: a == b,
        "!=": lambda a, b: a != b,
    }
    outcomes = {do[op](a, b) for a, b in product(one, other)}
    if op in ("=", "!=") and max(one[0], other[0]) <= min(one[1], other[1]):
        outcomes.add(op == "=")  # the ranges overlap
    return outcomes.pop() if len(outcomes) == 1 else None


def _not(verdict):
    return None if verdict is None else not verdict


def oracle_verdict(condition, values):
    """True, False or None for plain values by name."""
    match condition:
        case All(parts=parts):
            found = [oracle_verdict(part, values) for part in parts]
            return False if False in found else None if None in found else True
        case AnyOf(parts=parts):
            found = [oracle_verdict(part, values) for part in parts]
            return True if True in found else None if None in found else False
        case NoneOf(parts=parts):
            return _not(oracle_verdict(AnyOf(parts, **HERE), values))
        case Compare(left=left, op=op, right=right):
            return _compare(op, _ends(left, values), _ends(right, values))
        case Between(expr=expr, low=low, high=high):
            both = (Compare(expr, ">=", low, **HERE), Compare(expr, "<=", high, **HERE))
            return oracle_verdict(All(both, **HERE), values)
        case Known(fact=name, negated=negated):
            return (values.get(name) is None) == negated
        case Is(fact=name, choices=choices, negated=negated):
            value = values.get(name)
            return None if value is None else (value in choices) != negated
        case Includes(fact=name, choice=choice, negated=negated):
            value = values.get(name)
            return None if value is None else (choice in value) != negated
        case Flag(fact=name, value=wanted):
            value = values.get(name)
            return None if value is None else value == wanted


def oracle_run(case: Case, candidate: dict) -> tuple[set[str], dict]:
    """The rules that fire for one candidate, and its values after the stage."""
    before = {**case.shared, **candidate}
    values = dict(before)
    fired, given, assumed = set(), {}, {}
    for layer in case.layers:
        ready = [one for one in layer if oracle_verdict(one.when, values) is True]
        fired |= {one.name for one in ready}
        for one in ready:
            for action in one.then:
                if isinstance(action, RuleOut):
                    continue
                value = action.value
                if isinstance(value, Number | FactRef | Negate | Binary):
                    ends = _ends(value, values)
                    value = None if ends is None else Range(float(ends[0]), float(ends[1]))
                if value is not None:
                    (given if isinstance(action, SetFact) else assumed).setdefault(action.fact, []).append(
                        value
                    )
        for name in {*given, *assumed}:
            firm = [*([] if before.get(name) is None else [before[name]]), *given.get(name, [])]
            found = firm or assumed[name]
            values[name] = found[0] if all(value == found[0] for value in found) else None
    return fired, values


def disagreement(case: Case, result: StageResult) -> str | None:
    """What differs between a result and the oracle, None when nothing does."""
    for index, candidate in enumerate(case.candidates or ({},)):
        fired, values = oracle_run(case, candidate)
        got = {one.rule for one in result.firings if one.mask is None or one.mask[index]}
        if got != fired:
            return f"candidate {index}: fired {sorted(got ^ fired)} differ"
        facts = result.facts.at(index) if case.candidates else result.facts
        for name, value in values.items():
            if facts.value(name) != value:
                return f"candidate {index}: {name} is {facts.value(name)}, not {value}"
    return None
