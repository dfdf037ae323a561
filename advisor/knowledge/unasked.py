"""Questions that are never asked in the ordinary course: when they may be asked, nothing wants the answer, or what they
wait for isn't asked.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from .conditions import Condition, Known, Leaf, facts_in
from .domains import Both, Universe
from .places import Fault
from .possible import can_hold
from .rules import Ask, Rule, placeholders, texts
from .strata import reads
from .vocabulary import FactDef


def unasked(universe: Universe, rules: Sequence[Rule], needed_elsewhere: Collection[str] = ()) -> Iterator[Fault]:
    """Notes on questions whose `ask when` never holds together with what would want them asked."""
    vocabulary = universe.vocabulary
    wanted = _wanted(vocabulary, rules)
    for definition in vocabulary.values():
        if definition.ask_when is None or definition.name in needed_elsewhere:
            continue
        waits = list(_waits(vocabulary, definition, {definition.name}))
        wants = wanted[definition.name]
        if not can_hold(universe, _all(universe, waits)):
            what = f"'{definition.name}' is never asked: what it waits for is asked only where its 'ask when' fails"
            mend = "widen 'ask when', or wait for something else"
        elif wants and not any(can_hold(universe, _all(universe, (*waits, want))) for want in wants):
            what = f"'{definition.name}' is never asked: no rule that reads it can hold where its 'ask when' does"
            mend = "widen 'ask when', or write a rule for where it holds"
        else:
            continue
        yield Fault(definition.place, what, mend, "note", "never asked", (definition.place,))


def _wanted(vocabulary: Mapping[str, FactDef], rules: Iterable[Rule]) -> dict[str, list[Condition]]:
    """By fact the conditions of all that reads it."""
    wanted: dict[str, list[Condition]] = defaultdict(list)
    for rule in rules:
        asked = {name for action in rule.then if isinstance(action, Ask) for name in action.facts}
        shown = {name for action in rule.then for text in texts(action) for name in placeholders(text)}
        for name in reads(rule) | asked | shown:
            wanted[name].append(rule.when)
    for definition in vocabulary.values():
        if definition.ask_when is not None:
            for name in facts_in(definition.ask_when):
                wanted[name].append(definition.ask_when)
    return wanted


def _waits(vocabulary: Mapping[str, FactDef], definition: FactDef, passed: set[str]) -> Iterator[Condition]:
    """The `ask when` of a question, and of each question whose answer that can't do without."""
    if definition.ask_when is None:
        return
    yield definition.ask_when
    for part in getattr(definition.ask_when, "parts", ()):
        if isinstance(part, Leaf) and not (isinstance(part, Known) and part.negated):
            for name in sorted(facts_in(part) - passed):
                passed.add(name)
                yield from _waits(vocabulary, vocabulary[name], passed)


def _all(universe: Universe, conditions: Iterable[Condition]) -> Both:
    return Both(tuple(map(universe.claims, conditions)))
