"""What a rule reads, directly and through other rules: from which answers its conditions can be moved."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef, Knowledge, Rule
from advisor.knowledge.conditions import Between, Compare, Number, facts_in, leaves, walk
from advisor.knowledge.rules import Assume
from advisor.knowledge.strata import reads, writes
from advisor.units import Range, from_si, to_si

EDGE = 1e-3  # how far beyond a threshold is just beyond it, of the threshold


def feeders(knowledge: Knowledge, rule: Rule) -> list[Rule]:
    """The rules that set or assume what this one reads."""
    return [other for other in knowledge.rules if other.name != rule.name and writes(other) & reads(rule)]


def readers(knowledge: Knowledge, rule: Rule) -> list[Rule]:
    """The rules that read what this one sets or assumes."""
    return [other for other in knowledge.rules if other.name != rule.name and reads(other) & writes(rule)]


def asked_behind(knowledge: Knowledge, rules: Iterable[Rule]) -> list[str]:
    """The asked facts that the rules read, those behind the facts that other rules set included; nearest first."""
    found: dict[str, None] = {}
    seen: set[str] = set()
    level = list(rules)
    while level:
        following: list[Rule] = []
        for rule in level:
            seen.add(rule.name)
            for name in sorted(reads(rule)):
                definition = knowledge.vocabulary.get(name)
                if definition is not None and definition.source == "asked":
                    found.setdefault(name)
            following += [other for other in feeders(knowledge, rule) if other.name not in seen]
        level = list({rule.name: rule for rule in following if rule.name not in seen}.values())
    return list(found)


def view(rule: Rule, facts: FactBase) -> FactBase:
    """The facts of a stage as they were for this rule: without what was assumed of a fact that it assumes itself."""
    own = {action.fact for action in rule.then if isinstance(action, Assume)}
    return facts.without(name for name in own if name in facts and facts[name].origin.kind == "assumed")


@dataclass(frozen=True, slots=True)
class Literal:
    """A number that a leaf compares with: the leaf's facts, and the number in SI as written."""

    facts: frozenset[str]
    number: Number


def literals(rule: Rule) -> list[Literal]:
    """The numbers in the rule's comparisons, and the ends of its points, in written order."""
    return [
        Literal(facts_in(leaf), node)
        for leaf in (*leaves(rule.when), *(leaf for slope in rule.slopes for leaf in slope.reached()))
        if isinstance(leaf, Compare | Between)
        for node in walk(leaf)
        if isinstance(node, Number)
    ]


def words_for(definition: FactDef, value: float, digits: int = 6) -> str:
    """A number as an answer that is understood as it."""
    figure = float(f"{from_si(value, definition.unit, definition.quantity):.{digits}g}")
    shown = f"{figure:,.10f}".rstrip("0").rstrip(".")
    return f"${shown}" if definition.unit == "$" else f"{shown} {definition.unit}".rstrip()


def cuts(rules: Iterable[Rule], definition: FactDef) -> list[float]:
    """The numbers that rules compare this fact with directly, ascending."""
    return sorted({one.number.si for rule in rules for one in literals(rule) if one.facts == {definition.name}})


def trial_values(definition: FactDef, rules: Sequence[Rule], steps: int) -> list[float]:
    """Values worth trying for a number: between and just beside what rules compare it with, and evenly spread."""
    span = definition.plausible or definition.prior
    if span is None:
        return []
    edges = [span.low, *(cut for cut in cuts(rules, definition) if span.low < cut < span.high), span.high]
    values = [low + (high - low) / 2 for low, high in itertools.pairwise(edges)]
    for cut in edges[1:-1]:
        values += [cut, cut - abs(cut) * EDGE, cut + abs(cut) * EDGE]
    values += [span.low + (span.high - span.low) * step / steps for step in range(steps + 1)]
    return sorted({value for value in values if span.low <= value <= span.high})


BESIDE, BESIDE_DEGREES = 0.25, 60.0  # how far aside of an edge an answer is made up: of the edge, and K
READABLE = 5  # digits at most of an answer that is made up
GRID = 12


def readable_answers(definition: FactDef, rules: Sequence[Rule]) -> list[str]:
    """Answers that tell apart what rules ask of a fact: of a number in few digits, of sums an even spread of them;
    of choices each, of several of them the pairs too."""
    match definition.kind:
        case "number":
            return _readable_numbers(definition, rules)
        case "yes/no":
            return ["yes", "no"]
        case "several":
            pairs = itertools.combinations(definition.choice_names, 2)
            return [*definition.choice_names, *(", ".join(pair) for pair in pairs)]
        case _:
            return list(definition.choice_names)


def _readable_numbers(definition: FactDef, rules: Sequence[Rule]) -> list[str]:
    span = definition.plausible or definition.prior
    if span is None:
        return []
    compared = sorted({*cuts(rules, definition)})
    edges = [span.low, *(cut for cut in compared if span.low < cut < span.high), span.high]
    near = list(itertools.pairwise(edges))
    if len(edges) == 2 and definition.prior is not None:
        near = [(definition.prior.low, definition.prior.high)]
    if len(edges) > 2:  # outermost not far from the edge
        aside = [BESIDE_DEGREES if definition.quantity == "temperature" else BESIDE * abs(cut) for cut in edges]
        near[0] = (max(edges[0], edges[1] - aside[1]), edges[1])
        near[-1] = (edges[-2], min(edges[-1], edges[-2] + aside[-2]))
    found = [_readable(definition, low, high) for low, high in near if low < high]
    if any(definition.name in one.facts and len(one.facts) > 1 for rule in rules for one in literals(rule)):
        usual = definition.prior or span
        low, high = max(span.low, usual.low - BESIDE * abs(usual.low)), min(span.high, usual.high * (1 + BESIDE))
        found += [words_for(definition, low + (high - low) * number / GRID, 2) for number in range(GRID + 1)]
    return list(dict.fromkeys(found))


def _readable(definition: FactDef, low: float, high: float) -> str:
    """A number between two others, in as few digits as it takes."""
    for digits in range(1, READABLE + 1):
        for share in (0.5, 0.4, 0.6, 0.3, 0.7):
            wanted = from_si(low + share * (high - low), definition.unit, definition.quantity)
            value = to_si(float(f"{wanted:.{digits}g}"), definition.unit, definition.quantity)
            if low < value < high:
                return words_for(definition, value, digits)
    return words_for(definition, (low + high) / 2)


def width(definition: FactDef) -> float:
    """The width by which a change of a number is measured."""
    span = definition.prior or definition.plausible or Range(0.0, 1.0)
    return span.high - span.low or 1.0
