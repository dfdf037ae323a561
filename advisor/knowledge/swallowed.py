"""Rules that another rule of the stage swallows: whenever they hold it holds too, and it does at least as much.

Words to say aloud don't count as an effect, unless a rule has no other.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

from .conditions import All, facts_in, leaves
from .domains import Both, Claim, Claims, Universe, conjunctions, meet
from .places import Fault
from .possible import Possible, join
from .rules import (
    Action,
    AddPart,
    Ask,
    Assume,
    Caution,
    NextStep,
    Penalise,
    Recommend,
    Rule,
    RuleOut,
    Say,
    SetFact,
    Stage,
)

_WAYS = 64
_Mark: TypeAlias = tuple[Stage, str, str | None]
"""Stage of an effect and what it is about, and the rarest fact without which the rule that has it can't hold."""
_GRAVENESS = ("note", "care", "danger", "stop")


def swallowed(universe: Universe, rules: Sequence[Rule]) -> Iterator[Fault]:
    """A note for each rule that another one makes needless."""
    effects = {rule.name: _effects(rule) for rule in rules}
    reader = _Reader(universe)
    having: dict[_Mark, list[Rule]] = defaultdict(list)
    common = Counter(fact for rule in rules for fact in reader.needs(rule))
    for rule in rules:
        needed = min(reader.needs(rule), key=lambda fact: (common[fact], fact), default=None)
        for kind in {kind for effect in effects[rule.name] for kind in _offers(effect)}:
            having[rule.stage, kind, needed].append(rule)
    needless: set[str] = set()
    for rule in sorted(rules, key=lambda rule: rule.place, reverse=True):  # of two that are alike the later one
        for other in _candidates(rule, effects[rule.name], reader.reads(rule), having):
            if other is rule or other.name in needless:
                continue
            enough = all(any(_covers(theirs, mine) for theirs in effects[other.name]) for mine in effects[rule.name])
            if enough and reader.implies(rule, other):
                needless.add(rule.name)
                what = (
                    f"'{rule.name}' is swallowed by '{other.name}' ({other.place}): that one holds whenever this "
                    "one does, and does as much"
                )
                mend = "leave one of the two out, or narrow the wider one"
                yield Fault(rule.place, what, mend, "note", "swallowed", (rule.place, other.place))
                break


def _effects(rule: Rule) -> tuple[Action, ...]:
    silent = tuple(action for action in rule.then if not isinstance(action, Say))
    return silent or rule.then


def _wants(effect: Action) -> str:
    """Under which mark to look for actions that could cover this one, or not."""
    match effect:
        case SetFact(fact=name) | Assume(fact=name) | AddPart(kind=name):
            return name
        case Recommend(text=text) | Caution(text=text) | NextStep(text=text) | Say(text=text):
            return text
        case Ask(facts=facts):
            return min(facts)
        case RuleOut() | Penalise():
            return ""


def _offers(effect: Action) -> tuple[str, ...]:
    """The marks under which the action is found as one that could cover others."""
    match effect:
        case Ask(facts=facts):
            return facts
        case Penalise():
            return ()  # points add up: a rule that takes some is swallowed at most by one that rules out
        case _:
            return (_wants(effect),)


def _candidates(
    rule: Rule, effects: Sequence[Action], reads: Iterable[str], having: Mapping[_Mark, Sequence[Rule]]
) -> Sequence[Rule]:
    """The rules that share the rarest of the effects and need nothing that the rule doesn't read."""
    needed = (None, *reads)
    marks = ([(rule.stage, _wants(effect), fact) for fact in needed] for effect in effects)
    return min(([one for mark in some for one in having.get(mark, ())] for some in marks), key=len)


def _covers(wide: Action, narrow: Action) -> bool:
    """Whether an action does at least what the other does, with nothing left for that one to add."""
    match wide, narrow:
        case Ask(facts=more, urgent=pressing), Ask(facts=fewer, urgent=urgent):
            return set(fewer) <= set(more) and pressing >= urgent
        case Caution(severity=grave, text=text, at_once=now), Caution(severity=light, text=same, at_once=then):
            return text == same and _GRAVENESS.index(grave) >= _GRAVENESS.index(light) and now >= then
        case AddPart(kind=kind, quantity=many), AddPart(kind=same, quantity=few):
            return kind == same and many >= few
        case RuleOut(), RuleOut() | Penalise():
            return True
        case _:
            return wide == narrow


class _Reader:
    """Conditions of rules, each taken apart once."""

    def __init__(self, universe: Universe) -> None:
        self.universe = universe
        self._ways: dict[str, list[Possible]] = {}
        self._needs: dict[str, frozenset[str]] = {}
        self._reads: dict[str, frozenset[str]] = {}

    def implies(self, rule: Rule, other: Rule) -> bool:
        """Whether `other` provably holds in all ways in which `rule` can."""
        if not self.needs(other) <= self.reads(rule):
            return False
        claims = self.universe.claims(other.when)
        ways = self.ways(rule)
        return bool(ways) and all(holds_in(self.universe, claims, way) for way in ways)

    def reads(self, rule: Rule) -> frozenset[str]:
        if rule.name not in self._reads:
            self._reads[rule.name] = facts_in(rule.when)
        return self._reads[rule.name]

    def needs(self, rule: Rule) -> frozenset[str]:
        """The facts without which the rule can't hold."""
        if rule.name not in self._needs:
            parts = rule.when.parts if isinstance(rule.when, All) else ()
            plain = [part for part in parts if part in leaves(part)]
            self._needs[rule.name] = frozenset(fact for part in plain for fact in facts_in(part))
        return self._needs[rule.name]

    def ways(self, rule: Rule) -> list[Possible]:
        """All ways in which the rule can hold; none where there are too many to look at."""
        if rule.name not in self._ways:
            found = list(conjunctions(self.universe.claims(rule.when), _WAYS))
            joined = [join(self.universe, way) for way in found] if len(found) < _WAYS else []
            self._ways[rule.name] = [way for way in joined if isinstance(way, dict)]
        return self._ways[rule.name]


def holds_in(universe: Universe, claims: Claims, possible: Possible) -> bool:
    """Whether the claims hold for all values that are possible."""
    match claims:
        case Claim(key=key, allowed=allowed):
            if key not in possible and key.aspect != "known":
                return False
            values = possible[key][0] if key in possible else universe.of(key)
            return meet(values, allowed) == values
        case Both(parts=parts):
            return all(holds_in(universe, part, possible) for part in parts)
        case _:
            return any(holds_in(universe, part, possible) for part in claims.parts)
