"""Facts that a text tells though nothing that its rule asks makes sure of them: "not yet known" is told in their place.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from advisor.desk.needed import NAMES
from advisor.knowledge import FactDef, Fault, Rule
from advisor.knowledge.conditions import All, AnyOf, Condition, Known, NoneOf, facts_in
from advisor.knowledge.places import in_a_row
from advisor.knowledge.rules import Assume, SetFact, placeholders, texts
from advisor.supplied import ON_IT

_OF_ON_IT = ("present boost", "present size")
"""What the figures of the turbo on the truck are computed from, beside what all are."""


def unknown_in_texts(vocabulary: Mapping[str, FactDef], rules: Sequence[Rule]) -> Iterator[Fault]:
    """Notes on texts that tell a fact that may not be known where their rule holds: one that callers are asked, or that
    rules set. What a rule assumes counts as known, what the rules that set what it reads asked for, and beside a
    computed figure what figures are computed from."""
    setters: dict[str, list[Rule]] = defaultdict(list)
    assumed: set[str] = set()
    for rule in rules:
        for action in rule.then:
            if isinstance(action, SetFact):
                setters[action.fact].append(rule)
            elif isinstance(action, Assume):
                assumed.add(action.fact)
    for rule in rules:
        told = {name: action for action in reversed(rule.then) for text in texts(action) for name in placeholders(text)}
        told = {name: action for name, action in told.items() if vocabulary[name].source in ("asked", "rule")}
        if told.keys() <= assumed:
            continue
        sure = _with_causes(known_by(rule.when), setters) | assumed
        sure |= {action.fact for action in rule.then if isinstance(action, SetFact)}
        if any(vocabulary[name].source in ("computed", "candidate") for name in sure):
            sure |= {*NAMES}
        if sure & {*ON_IT}:
            sure |= {*_OF_ON_IT}
        if missing := sorted((name for name in told if name not in sure), key=lambda name: told[name].place):
            what = f"the text tells {in_a_row([repr(name) for name in missing])}, which may not be known where "
            what += f"'{rule.name}' holds"
            mend = f"add '- {missing[0]} is known' to its conditions, or leave it out of the text"
            yield Fault(told[missing[0]].place, what, mend, "note", "not known", (rule.place,))


def known_by(condition: Condition, holds: bool = True) -> frozenset[str]:
    """The facts that are known whenever the condition holds, or whenever it is false."""
    match condition:
        case Known(fact=fact, negated=negated):
            return frozenset((fact,)) if negated != holds else frozenset()
        case All(parts=parts) | AnyOf(parts=parts) | NoneOf(parts=parts):
            each = holds != isinstance(condition, NoneOf)
            found = [known_by(part, each) for part in parts]
            if each == isinstance(condition, All) or (isinstance(condition, NoneOf) and not each):
                return frozenset().union(*found)
            return frozenset.intersection(*found)
        case _:
            return facts_in(condition)


def _with_causes(known: frozenset[str], setters: Mapping[str, Sequence[Rule]]) -> frozenset[str]:
    """The same with what is known wherever the rules that set these facts hold."""
    found, new = known, known
    while new:
        causes = [[known_by(rule.when) for rule in setters[fact]] for fact in new if fact in setters]
        new = frozenset().union(*(frozenset.intersection(*each) for each in causes)) - found
        found |= new
    return found
