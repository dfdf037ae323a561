"""Why a conclusion stands, why a rule did not fire, and what it would still take: readers of the trace."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from advisor.knowledge.conditions import (
    All,
    AnyOf,
    Condition,
    Known,
    NoneOf,
    facts_in,
)
from advisor.knowledge.places import Place
from advisor.knowledge.rules import Penalise, Rule
from advisor.knowledge.slopes import Slope
from advisor.knowledge.vocabulary import FactDef
from advisor.quantities import Range, show

from .agenda import Firing
from .facts import Fact, FactBase, Origin, Value
from .verdict import Sign, as_verdict, evaluate, every, is_open, judge, points_of, sign_of, some

VERDICTS = {1: "true", 0: "false", -1: "not yet known"}


class Shop(Protocol):
    """What an explanation needs of the knowledge: rules and fact vocabulary."""

    @property
    def rules(self) -> Sequence[Rule]: ...

    @property
    def vocabulary(self) -> Mapping[str, FactDef]: ...


@dataclass(frozen=True, slots=True)
class Test:
    """A written condition, or a group of them with its parts below it (one ``depth`` further in), and its verdict."""

    text: str
    verdict: int
    depth: int = 0

    @property
    def line(self) -> str:
        """As one line of text."""
        return f"{self.text}: {VERDICTS[self.verdict]}"


@dataclass(frozen=True, slots=True)
class Step:
    """A node of an explanation: what stands, why, and below it what that rests on; `points` are those that a rule
    takes from the candidate that is spoken of, in words."""

    what: str
    why: str
    place: Place | None
    tests: tuple[Test, ...] = ()
    rests_on: tuple["Step", ...] = ()
    points: str = ""

    def lines(self) -> list[str]:
        """The tree as indented lines of text."""
        return list(self._lines(0))

    def _lines(self, depth: int) -> Iterator[str]:
        margin = "  " * depth
        at = f" ({self.place})" if self.place is not None else ""
        yield f"{margin}{self.what}: {self.why}{at}"
        if self.points:
            yield f"{margin}  {self.points}"
        for test in self.tests:
            yield f"{margin}  {'  ' * test.depth}- {test.line}"
        for step in self.rests_on:
            yield from step._lines(depth + 1)


def words(name: str, value: Value, vocabulary: Mapping[str, FactDef]) -> str:
    """A value as a person reads it, numbers in the unit that the shop uses for the fact."""
    if isinstance(value, Range):
        known = vocabulary.get(name)
        if known is None or not known.quantity:
            return f"{value.low:g}" if value.low == value.high else f"{value.low:g} to {value.high:g}"
        return show(value, known.unit, known.quantity)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "none"
    return value


def points_words(rule: Rule, facts: FactBase) -> str:
    """The points that a rule takes from the one candidate whose facts these are, and of points that run with a figure
    of how many, and at which value: "8 of 18 points off, at 1,340 °F"; "" for a rule without points."""
    taking = (action for action in rule.then if isinstance(action, Penalise))
    return ", ".join(
        f"{abs(one.points):g} points {'off' if one.points > 0 else 'for it'}"
        if one.slope is None
        else _evenly(one.slope, facts)
        for one in taking
    )


def _evenly(slope: Slope, facts: FactBase) -> str:
    fewest, most = (float(end) for end in points_of(slope, facts))
    if np.isnan(fewest):
        return f"{slope.figure.text} is not known, so no points"
    sizes = list(dict.fromkeys(_tenths(abs(end)) for end in sorted((fewest, most), key=abs)))
    side = "off" if (fewest + most or slope.most) > 0 else "for it"
    low, high = (float(end) for end in evaluate(slope.figure, facts))
    ends = list(dict.fromkeys(_reached(slope, end) for end in (low, high)))
    at = f", at {' to '.join(ends)}" if ends != [""] else ""
    return f"{' to '.join(sizes)} of {abs(slope.most):g} points {side}{at}"


def _reached(slope: Slope, value: float) -> str:
    """A value of the figure that points run with; of a difference how much less or more it is."""
    if not slope.difference or not slope.unit:
        return slope.shown(value)
    return f"{slope.shown(abs(value))} {'less' if value < 0.0 else 'more'}"


def _tenths(points: float) -> str:
    return f"{points:.1f}".removesuffix(".0") if points == 0.0 or points >= 0.05 else "less than 0.1"


def how(
    name: str, facts: FactBase, firings: Iterable[Firing], knowledge: Shop, candidate: int | None = None
) -> Step | None:
    """How a fact, or the conclusion of the rule of that name, came about, down to the caller's own words.

    `candidate` says for which candidate. None when nothing is known of the name.
    """
    return _Teller(facts, firings, knowledge, candidate).tell(name)


class _Teller:
    def __init__(
        self, facts: FactBase, firings: Iterable[Firing], knowledge: Shop, candidate: int | None
    ) -> None:
        self._facts = facts if candidate is None else facts.at(candidate)
        self._firings = {firing.rule: firing for firing in firings}
        self._rules = {rule.name: rule for rule in knowledge.rules}
        self._vocabulary = knowledge.vocabulary
        self._candidate = candidate
        self._told: set[str] = set()

    def tell(self, name: str) -> Step | None:
        fact = self._facts.get(name)
        if fact is not None:
            return self._fact(fact)
        firing = self._firings.get(name)
        if firing is None or not self._concerns(firing):
            return None
        return self._firing(f"conclusion {name}", firing)

    def _concerns(self, firing: Firing) -> bool:
        return firing.mask is None or self._candidate is None or bool(firing.mask[self._candidate])

    def _fact(self, fact: Fact) -> Step:
        what = f"{fact.name} is {words(fact.name, fact.value, self._vocabulary)}"
        if fact.name in self._told:
            return Step(what, "as explained above", None)
        self._told.add(fact.name)
        firing = self._firings.get(fact.origin.source) if fact.origin.kind in ("rule", "assumed") else None
        if firing is None:
            return Step(what, _because(fact.origin), fact.origin.place)
        return self._firing(what, firing, assumed=fact.origin.kind == "assumed")

    def _firing(self, what: str, firing: Firing, assumed: bool = False) -> Step:
        rule = self._rules.get(firing.rule)
        reason = "" if rule is None else f"; {rule.because} [{rule.basis}]"
        why = f"assumed by rule {firing.rule}{reason}" if assumed else f"rule {firing.rule}{reason}"
        below = [self._fact(fact) for fact in firing.facts]
        below += [self._column(name) for name in firing.columns]
        below += [self._unknown(name) for name in firing.unknown]
        judged = [(leaf.text, leaf.at(self._candidate)) for leaf in firing.leaves]
        tests = tuple(Test(*one) for one in judged) if rule is None else tuple(_tests(rule.when, iter(judged)))
        told = "" if rule is None or self._candidate is None else points_words(rule, self._facts)
        return Step(what, why, firing.place, tests, tuple(below), told)

    def _unknown(self, name: str) -> Step:
        if name in self._facts:  # assumed or set since, by this very rule perhaps
            return Step(f"{name} was not known then", "nobody had answered it", None)
        return Step(f"{name} is not known", "nobody has answered or set it", None)

    def _column(self, name: str) -> Step:
        fact = self._facts.get(name)
        if fact is not None:
            return self._fact(fact)
        if self._candidate is None:
            return Step(name, "differs from candidate to candidate", None)
        return Step(f"{name} is not known", "not known for this candidate", None)


def _tests(condition: Condition, judged: Iterator[tuple[str, int]], depth: int = -1) -> list[Test]:
    """The condition as written, groups before their parts; ``judged`` are its leaves in written order. The list of a
    rule itself goes without saying."""
    if not isinstance(condition, All | AnyOf | NoneOf):
        return [Test(*next(judged), max(depth, 0))]
    below = [_tests(part, judged, depth + 1) for part in condition.parts]
    signs = [_SIGNS[tests[0].verdict] for tests in below]
    match condition:
        case AnyOf():
            sign, words = some(signs), "any of these"
        case NoneOf():
            sign, words = -some(signs), "none of these"
        case _:
            sign, words = every(signs), "all of these"
    listed = [test for tests in below for test in tests]
    return listed if depth < 0 else [Test(words, int(as_verdict(sign)), depth), *listed]


_SIGNS = {1: 1, 0: -1, -1: 0}


def _because(origin: Origin) -> str:
    reference = f" [{origin.reference}]" if origin.reference else ""
    match origin.kind:
        case "answer":
            return f'the caller said "{origin.source}"'
        case "computed":
            return f"computed: {origin.source}{reference}"
        case "catalogue":
            return (
                "from the catalogue"
                if origin.source in ("", "the catalogue")
                else f"from the catalogue: {origin.source}{reference}"
            )
        case "assumed":
            return f"assumed: {origin.source}{reference}"
        case "rule":
            return f"rule {origin.source}{reference}"


@dataclass(frozen=True, slots=True)
class Hindrance:
    """A written condition that keeps a rule from firing. `wanted` is the verdict it would take (1 or, inside
    `none`, 0); `values` are the facts it reads, in words."""

    text: str
    place: Place
    verdict: int
    wanted: int
    values: tuple[tuple[str, str], ...]

    @property
    def line(self) -> str:
        """As one line of text."""
        state = "not yet known" if self.verdict < 0 else "so, and must not be" if self.verdict else "not so"
        values = "; ".join(f"{name}: {value}" for name, value in self.values)
        return f"{self.text}: {state} ({values})"


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why a rule did not fire; without hindrances it did."""

    rule: str
    place: Place
    verdict: int
    hindrances: tuple[Hindrance, ...]

    def lines(self) -> list[str]:
        """As lines of text."""
        if self.verdict == 1:
            return [f"rule {self.rule} does fire ({self.place})"]
        state = "does not fire" if self.verdict == 0 else "is still open"
        return [f"rule {self.rule} {state} ({self.place})", *(f"  - {one.line}" for one in self.hindrances)]


def why_not(
    rule: Rule, facts: FactBase, vocabulary: Mapping[str, FactDef], candidate: int | None = None
) -> WhyNot:
    """The written conditions that are false or not yet known, with the values they have.

    `candidate` is needed when the rule reads candidate facts. Raises ValueError when it is missing.
    """
    one = facts if candidate is None else facts.at(candidate)
    verdict = judge(rule.when, one)
    if verdict.ndim:
        raise ValueError(f"rule {rule.name} reads candidate facts; say for which candidate")
    return WhyNot(rule.name, rule.place, int(verdict), tuple(_hindrances(rule.when, 1, one, vocabulary)))


def _hindrances(
    condition: Condition, want: int, facts: FactBase, vocabulary: Mapping[str, FactDef]
) -> Iterator[Hindrance]:
    verdict = int(judge(condition, facts))
    if verdict == want:
        return
    match condition:
        case All(parts=parts) | AnyOf(parts=parts):
            for part in parts:
                yield from _hindrances(part, want, facts, vocabulary)
        case NoneOf(parts=parts):
            for part in parts:
                yield from _hindrances(part, 1 - want, facts, vocabulary)
        case _:
            values = tuple((name, _shown(name, facts, vocabulary)) for name in sorted(facts_in(condition)))
            yield Hindrance(condition.text, condition.place, verdict, want, values)


def _shown(name: str, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> str:
    value = facts.value(name)
    if value is not None:
        return words(name, value, vocabulary)
    return "two sources differ" if name in facts.disputed else "not known"


@dataclass(frozen=True, slots=True)
class Needed:
    """What would complete a rule. `possible`: whether it can still fire; `facts` nobody knows yet; `vague`
    ones that are known as a range too wide to tell."""

    rule: str
    possible: bool
    facts: tuple[str, ...]
    vague: tuple[str, ...]

    def lines(self) -> list[str]:
        """As lines of text."""
        if not self.possible:
            return [f"rule {self.rule} can't fire any more with what is known"]
        wants = [f"  - {name}: not known" for name in self.facts]
        wants += [f"  - {name}: known too roughly" for name in self.vague]
        return [f"rule {self.rule} waits for:", *wants] if wants else [f"rule {self.rule} has all it needs"]


def needed(rule: Rule, facts: FactBase) -> Needed:
    """The facts whose knowledge could complete the rule, for one candidate at least."""
    names: set[str] = set()
    sign = _possible(rule.when, facts, names)
    if bool(np.all(np.equal(sign, -1))):
        return Needed(rule.name, False, (), ())
    unknown = {name for name in names if name not in facts and name not in facts.columns}
    return Needed(rule.name, True, tuple(sorted(unknown)), tuple(sorted(names & facts.facts.keys())))


def _possible(condition: Condition, facts: FactBase, names: set[str]) -> Sign:
    """The sign of the condition where "is (not) known" may still turn as well; adds the names of the facts
    that keep it open."""
    below: set[str] = set()
    match condition:
        case All(parts=parts):
            sign = every([_possible(part, facts, below) for part in parts])
        case AnyOf(parts=parts):
            sign = some([_possible(part, facts, below) for part in parts])
        case NoneOf(parts=parts):
            sign = -some([_possible(part, facts, below) for part in parts])
        case Known(fact=name) if name not in facts and name not in facts.columns:
            sign, below = 0, {name}
        case _:
            sign = sign_of(condition, facts)
            below = {name for name in facts_in(condition) if not _exact(facts.value(name))}
    if is_open(sign):
        names |= below
    return sign


def _exact(value: Value | None) -> bool:
    return value is not None and not (isinstance(value, Range) and value.low != value.high)
