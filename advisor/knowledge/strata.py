"""The order of rules inside a stage: whoever reads a fact comes after all who set or assume it."""

from collections import defaultdict
from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter

from .conditions import Known, facts_in, leaves
from .places import Fault
from .rules import STAGES, Assume, Rule, SetFact, Stage

Strata = dict[Stage, tuple[tuple[Rule, ...], ...]]


def reads(rule: Rule) -> frozenset[str]:
    """The facts that the rule's condition and its settings read."""
    found = set(facts_in(rule.when))
    for action in rule.then:
        if isinstance(action, SetFact | Assume) and not isinstance(action.value, str | bool | frozenset):
            found |= facts_in(action.value)
    return frozenset(found)


def writes(rule: Rule) -> frozenset[str]:
    """The facts that the rule sets or assumes."""
    return frozenset(action.fact for action in rule.then if isinstance(action, SetFact | Assume))


def waits_for(rule: Rule) -> frozenset[str]:
    """The facts that must be settled before the rule may be judged.

    A rule that assumes a fact may ask whether it is known: that means "has anybody said", and waits for no
    other assumption of the same fact.
    """
    assumed = {action.fact for action in rule.then if isinstance(action, Assume)}
    otherwise = set(reads(rule))
    for fact in assumed & otherwise:
        readers = [leaf for leaf in leaves(rule.when) if fact in facts_in(leaf)]
        if all(isinstance(leaf, Known) for leaf in readers):
            otherwise.discard(fact)
    return frozenset(otherwise)


def arrange(rules: Iterable[Rule], faults: list[Fault]) -> Strata:
    """Strata of every stage, each sorted by rule name; a circle of rules is a fault."""
    by_stage: dict[Stage, list[Rule]] = {stage: [] for stage in STAGES}
    for rule in rules:
        by_stage[rule.stage].append(rule)
    return {stage: _stage(members, faults) for stage, members in by_stage.items()}


def _stage(rules: list[Rule], faults: list[Fault]) -> tuple[tuple[Rule, ...], ...]:
    # A graph of two sorts of nodes, rules (by index) and facts (by name), keeps the number of edges low.
    before: dict[int | str, set[int | str]] = defaultdict(set)
    written = {fact for rule in rules for fact in writes(rule)}
    for index, rule in enumerate(rules):
        before[index] = {*(waits_for(rule) & written)}
        for fact in writes(rule):
            before[fact].add(index)
    try:
        order = tuple(TopologicalSorter(before).static_order())
    except CycleError as error:
        circle = [rules[node] for node in dict.fromkeys(error.args[1]) if isinstance(node, int)]
        faults.append(_circle(circle))
        return ()
    depth: dict[int | str, int] = {}
    strata: dict[int, list[Rule]] = defaultdict(list)
    for node in order:
        depth[node] = 1 + max((depth[earlier] for earlier in before[node]), default=0)
        if isinstance(node, int):
            strata[depth[node]].append(rules[node])
    return tuple(tuple(sorted(strata[level], key=lambda rule: rule.name)) for level in sorted(strata))


def _circle(rules: list[Rule]) -> Fault:
    first = min(rules, key=lambda rule: rule.name)
    if len(rules) == 1:
        facts = sorted(writes(first) & waits_for(first))
        what = f"the rule '{first.name}' reads '{facts[0]}', which it sets itself"
        return Fault(first.place, what, "set another fact, or leave it out of the condition")
    names = ", ".join(f"'{rule.name}' ({rule.place})" for rule in sorted(rules, key=lambda rule: rule.name))
    what = f"these rules wait for each other: {names}"
    return Fault(first.place, what, "let one of them read a fact that the others don't set")
