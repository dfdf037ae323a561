"""Rules of one file that differ in the range of one number only: whether the ranges join as they should.

One range inside another is how a rule adds to a milder one. A gap between two, or two that run into each other,
is more likely a slip.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, pairwise

from advisor.quantities import show

from .conditions import All, Between, Compare, Condition, FactRef
from .domains import Cut, Numbers, Universe
from .places import Fault
from .rules import Rule, Stage
from .strata import writes
from .vocabulary import FactDef


def ladders(rules: Sequence[Rule], vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Notes about gaps and overlaps, each at the later rule of two neighbours.

    Rules that set a fact are left to where they are fired: others may set it in between.
    """
    universe = Universe(vocabulary, {})
    steps: dict[tuple[str, Stage, str, frozenset[Condition]], list[tuple[Numbers, Rule]]] = defaultdict(list)
    for rule in rules:
        if writes(rule):
            continue
        for fact, numbers, others in _ranges(universe, rule):
            steps[rule.place.file, rule.stage, fact, others].append((numbers, rule))
    for (_, _, fact, _), ladder in steps.items():
        if len(ladder) > 1:
            yield from _gaps(vocabulary[fact], ladder)
            yield from _overlaps(vocabulary[fact], ladder)


def _ranges(universe: Universe, rule: Rule) -> Iterator[tuple[str, Numbers, frozenset[Condition]]]:
    """Each number that the rule's conditions bound, what they leave of it, and its other conditions."""
    parts = rule.when.parts if isinstance(rule.when, All) else ()
    bounds: dict[str, Numbers] = {}
    of: dict[str, set[int]] = defaultdict(set)
    for index, part in enumerate(parts):
        if isinstance(part, Compare | Between):
            key, allowed = universe.claim(part)
            if key.aspect == "value" and isinstance(allowed, Numbers):
                bounds[key.fact] = bounds[key.fact] & allowed if key.fact in bounds else allowed
                of[key.fact].add(index)
    for fact, numbers in bounds.items():
        if len(numbers.stretches) == 1:
            yield fact, numbers, frozenset(part for index, part in enumerate(parts) if index not in of[fact])


def _gaps(definition: FactDef, ladder: Sequence[tuple[Numbers, Rule]]) -> Iterator[Fault]:
    covered = Numbers(())
    for numbers, _ in ladder:
        covered = covered | numbers
    for (_, low), (high, _) in pairwise(covered.stretches):
        below = next(rule for numbers, rule in ladder if numbers.stretches[0][1] == low)
        above = next(rule for numbers, rule in ladder if numbers.stretches[0][0] == high)
        what = f"neither '{below.name}' nor '{above.name}' speaks of '{definition.name}' {span(definition, low, high)}"
        yield _note(below, above, what, "let one begin where the other ends", "gap")


def _overlaps(definition: FactDef, ladder: Sequence[tuple[Numbers, Rule]]) -> Iterator[Fault]:
    for (one, first), (other, second) in combinations(ladder, 2):
        both = one & other
        if both and both not in (one, other):
            low, high = both.stretches[0]
            runs = [_runs(rule, definition.name) for rule in (first, second)]
            if all(runs) and runs[0] != runs[1]:
                what = f"'{first.name}' takes more points as '{definition.name}' {runs[0]}, '{second.name}' as it "
                what += runs[1]
                yield _note(first, second, what, "if that isn't meant, turn the points of one of them round", "overlap")
                continue
            what = f"'{first.name}' and '{second.name}' both speak of '{definition.name}' {span(definition, low, high)}"
            yield _note(first, second, what, "let one begin where the other ends", "overlap")


def _runs(rule: Rule, fact: str) -> str:
    """How the points that a rule takes run with a fact; "" where they don't."""
    for slope in rule.slopes:
        if isinstance(slope.figure, FactRef) and slope.figure.name == fact:
            (_, least), (_, most) = slope.ends[0], slope.ends[-1]
            return "rises" if most > least else "falls" if most < least else ""
    return ""


def span(definition: FactDef, low: Cut, high: Cut) -> str:
    """The numbers from cut to cut in the shop's unit."""
    first, last = (show(end, definition.unit, definition.quantity) for end in (low[0], high[0]))
    if low[0] == high[0]:
        return f"of exactly {first}"
    return f"between {first} and {last}"


def _note(one: Rule, other: Rule, what: str, mend: str, finding: str) -> Fault:
    earlier, later = sorted((one, other), key=lambda rule: rule.place)
    return Fault(later.place, f"{what} ({earlier.place})", mend, "note", finding, (later.place, earlier.place))
