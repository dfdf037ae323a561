"""Conditions that can't hold because of how rules come to the facts that they read.

What a rule fact is, a rule has set it to, in this stage or an earlier one: so the conditions of one such rule held. Of
these only those count that can't have changed since: on what the caller is asked, and whether it is known where no rule
assumes it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from .conditions import All, Condition, facts_in
from .domains import Both, Claim, Claims, Either, Numbers, Universe, constant
from .places import Fault, in_a_row
from .possible import can_hold
from .rules import Assume, Rule, SetFact, Setting

_DEPTH, _NAMED = 3, 3
_ANYTHING = Both(())
_KNOWN = frozenset(("yes",))


@dataclass(frozen=True, slots=True)
class _Part:
    """One of the conditions that must all hold: what it claims, what must have held for that, and by which rules."""

    condition: Condition
    claims: Claims
    behind: Claims = _ANYTHING
    setters: tuple[Rule, ...] = ()


class Origins:
    """The rules that set facts, and what must hold where they do."""

    def __init__(self, universe: Universe, rules: Iterable[Rule]) -> None:
        self.universe = universe
        self.setters: dict[str, list[tuple[Rule, Setting]]] = defaultdict(list)
        self.assumed: set[str] = set()
        for rule in rules:
            for action in rule.then:
                if isinstance(action, SetFact):
                    self.setters[action.fact].append((rule, action.value))
                elif isinstance(action, Assume):
                    self.assumed.add(action.fact)
        self._behind: dict[tuple[str, frozenset[str]], Claims] = {}

    def faults(self, condition: Condition, claims: Claims) -> Iterator[Fault]:
        """A fault where the parts of a condition can't all hold, though nothing else was found wrong with what it
        claims."""
        if not isinstance(condition, All) or not isinstance(claims, Both):
            return
        if not self._sets_any(claims) and _choices(claims) < 2:  # of one group each way was looked at
            return
        parts = [_Part(part, claimed) for part, claimed in zip(condition.parts, claims.parts, strict=True)]
        if _choices(claims) > 1 and not self._can_hold(parts):
            yield _clash(self._fewest(parts))
            return
        parts = [self._with_origin(part) for part in parts]
        if any(part.setters for part in parts) and not self._can_hold(parts):
            fewest = self._fewest(parts)
            if len(fewest) > 1:
                yield _clash(fewest)

    def _sets_any(self, claims: Both) -> bool:
        return any(isinstance(part, Claim) and part.key.fact in self.setters for part in claims.parts)

    def _can_hold(self, parts: Iterable[_Part]) -> bool:
        return can_hold(self.universe, Both(tuple(one for part in parts for one in (part.claims, part.behind))))

    def _fewest(self, parts: Sequence[_Part]) -> list[_Part]:
        """Of parts that can't all hold as few as can't."""
        left = list(parts)
        for part in parts:
            less = [one for one in left if one is not part]
            if not self._can_hold(less):
                left = less
        return left

    def _with_origin(self, part: _Part) -> _Part:
        """The part with what must have held for it, where it is plainly about a fact that rules set."""
        if not isinstance(part.claims, Claim) or (setters := self._bring_about(part.claims)) is None:
            return part
        behind = self._origin(part.claims, frozenset())
        return part if behind == _ANYTHING else _Part(part.condition, part.claims, behind, tuple(setters))

    def _bring_about(self, claim: Claim) -> list[Rule] | None:
        """The rules that set a fact as it is claimed to be; None where it needn't be one."""
        key = claim.key
        if key.fact not in self.setters or (key.aspect == "known" and claim.allowed != _KNOWN):
            return None
        return [rule for rule, value in self.setters[key.fact] if _agrees(claim, value)]

    def _origin(self, claim: Claim, passed: frozenset[str]) -> Claims:
        """What held for certain where a fact came to be as it is claimed to be."""
        fact = claim.key.fact
        setters = self._bring_about(claim)
        if not setters or fact in passed or len(passed) >= _DEPTH:
            return _ANYTHING
        ways = tuple(self._of_rule(rule, passed | {fact}) for rule in setters)
        return _ANYTHING if _ANYTHING in ways else Either(ways, claim.leaf)

    def _of_rule(self, rule: Rule, passed: frozenset[str]) -> Claims:
        """What of a rule's conditions still holds; anything where they can't hold at all: that is told of it."""
        if (rule.name, passed) not in self._behind:
            claims = self._lasting(self.universe.claims(rule.when), passed)
            self._behind[rule.name, passed] = claims if can_hold(self.universe, claims) else _ANYTHING
        return self._behind[rule.name, passed]

    def _lasting(self, claims: Claims, passed: frozenset[str]) -> Claims:
        match claims:
            case Both(parts=parts):
                kept = tuple(self._lasting(part, passed) for part in parts)
                return Both(tuple(part for part in kept if part != _ANYTHING))
            case Either(parts=parts, of=of):
                ways = tuple(self._lasting(part, passed) for part in parts)
                return _ANYTHING if _ANYTHING in ways else Either(ways, of)
            case Claim(key=key, allowed=allowed, leaf=leaf):
                sources = {self.universe.vocabulary[fact].source for fact in facts_in(leaf)}
                if sources == {"rule"}:
                    return self._origin(claims, passed)
                opened = key.aspect == "known" and allowed != _KNOWN and key.fact in self.assumed
                return claims if sources <= {"asked", "heard"} and not opened else _ANYTHING


def _choices(claims: Claims) -> int:
    """How often one of several claims is enough."""
    return 0 if isinstance(claims, Claim) else isinstance(claims, Either) + sum(map(_choices, claims.parts))


def _agrees(claim: Claim, value: Setting) -> bool:
    """Whether a fact that is set to this value can be as it is claimed."""
    allowed, aspect = claim.allowed, claim.key.aspect
    match value:
        case bool() if aspect == "value" and not isinstance(allowed, Numbers):
            return ("yes" if value else "no") in allowed
        case str() if aspect == "value" and not isinstance(allowed, Numbers):
            return value in allowed
        case frozenset() if aspect == "has" and not isinstance(allowed, Numbers):
            return ("yes" if claim.key.detail in value else "no") in allowed
        case bool() | str() | frozenset():
            return True
    figure = constant(value)
    at = None if figure is None else Numbers.between(figure, figure)
    return at is None or not isinstance(allowed, Numbers) or bool(allowed & at)


def _clash(parts: Sequence[_Part]) -> Fault:
    """The fault of conditions that can't all hold."""
    *earlier, later = sorted(parts, key=lambda part: part.condition.place)
    names = [f"{_named(one)} in line {one.condition.place.line}{_brought_about(one)}" for one in earlier]
    together = f" can't go together with {in_a_row(names)}" if names else " can never hold"
    which = "two" if len(parts) == 2 else "conditions"
    mend = f"one of the {which} must go" if len(parts) > 1 else "mend it"
    if any(part.setters for part in parts):
        mend += ", or a rule must set the fact where the other holds"
    return Fault(later.condition.place, f"{_named(later)}{_brought_about(later)}{together}", mend)


def _named(part: _Part) -> str:
    text = part.condition.text
    return f"the group '{text}:'" if isinstance(part.claims, Both | Either) and " " not in text else f"'{text}'"


def _brought_about(part: _Part) -> str:
    """By which rules alone it comes to be so."""
    if not part.setters:
        return ""
    if len(part.setters) > _NAMED:
        return f" (none of the {len(part.setters)} rules that set it so can hold then)"
    setters = sorted(part.setters, key=lambda rule: rule.place)
    return f" (set so only by {in_a_row([f'{rule.name!r} ({rule.place})' for rule in setters])})"
