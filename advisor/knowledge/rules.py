"""Rules: when something holds, what follows, the words for it, and why."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

from .accepted import Accepted
from .conditions import All, Between, Compare, Condition, Expr, Known, facts_in
from .places import Place
from .slopes import Slope

Stage = Literal["understand", "demand", "judge", "advise"]
STAGES: tuple[Stage, ...] = ("understand", "demand", "judge", "advise")
FIRST_STAGE: dict[str, Stage] = {
    "asked": "understand",
    "heard": "understand",
    "rule": "understand",
    "computed": "demand",
    "candidate": "judge",
}
"""The first stage that may read a fact, by where the fact comes from."""
Graveness = Literal["stop", "danger", "care", "note"]

Setting: TypeAlias = Expr | str | bool | frozenset[str]
"""What a fact is set to: a number expression in SI, a choice or text, a yes/no, or a set of choices."""


@dataclass(frozen=True, slots=True)
class _Action:
    place: Place = field(compare=False, repr=False, kw_only=True)


@dataclass(frozen=True, slots=True)
class SetFact(_Action):
    """The fact takes this value."""

    fact: str
    value: Setting


@dataclass(frozen=True, slots=True)
class Assume(_Action):
    """Stands in for an asked fact that nobody answered; shown under what the advice rests on."""

    fact: str
    value: Setting


@dataclass(frozen=True, slots=True)
class Ask(_Action):
    """The facts are worth a question now; `urgent` ones come before all others."""

    facts: tuple[str, ...]
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class RuleOut(_Action):
    """This candidate is not to be offered."""


@dataclass(frozen=True, slots=True)
class Penalise(_Action):
    """Points of 100 off this candidate's rank; negative points prefer it. On a `slope` they are its most."""

    points: float
    slope: Slope | None = None


@dataclass(frozen=True, slots=True)
class Recommend(_Action):
    text: str


@dataclass(frozen=True, slots=True)
class Caution(_Action):
    """`severity`: stop (never without it), danger (can hurt someone), care (can break parts), note. What is told
    `at_once` doesn't wait for the advice: it is about life and limb while he is on the line."""

    severity: Graveness
    text: str
    at_once: bool = False


@dataclass(frozen=True, slots=True)
class AddPart(_Action):
    """A part of this kind belongs on the parts list."""

    kind: str
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class NextStep(_Action):
    text: str


@dataclass(frozen=True, slots=True)
class Say(_Action):
    """Words to say aloud; may hold `{fact name}`."""

    text: str


Action: TypeAlias = SetFact | Assume | Ask | RuleOut | Penalise | Recommend | Caution | AddPart | NextStep | Say


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule as senior staff wrote it. `when` is always an `All` of the written list, and behind it of what its
    slopes ask: a rule speaks only where it takes or gives points."""

    name: str
    stage: Stage
    when: Condition
    then: tuple[Action, ...]
    because: str
    basis: str
    kept_by: str
    place: Place = field(compare=False)
    accepted: tuple[Accepted, ...] = field(default=(), compare=False)

    @property
    def slopes(self) -> tuple[Slope, ...]:
        """The points that run evenly with a figure."""
        return tuple(a.slope for a in self.then if isinstance(a, Penalise) and a.slope is not None)

    @property
    def written(self) -> All:
        """The conditions of the written list alone."""
        assert isinstance(self.when, All)
        places = {place for slope in self.slopes for place in slope.places}
        return replace(self.when, parts=tuple(part for part in self.when.parts if part.place not in places))

    def doing(self, then: Iterable[Action]) -> "Rule":
        """The rule with other actions, asking what their slopes do."""
        changed = replace(self, then=tuple(then))
        return replace(changed, when=with_slopes(self.written, changed.slopes))


def with_slopes(when: All, slopes: Iterable[Slope]) -> All:
    """The written conditions and what slopes ask beside them; what is written already isn't asked again."""
    asked = dict.fromkeys(part for slope in slopes for part in slope.conditions())
    compared = {fact for part in when.parts if isinstance(part, Compare | Between) for fact in facts_in(part)}
    new = [part for part in asked if part not in when.parts and not (isinstance(part, Known) and part.fact in compared)]
    return replace(when, parts=(*when.parts, *new))


PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


def placeholders(text: str) -> tuple[str, ...]:
    """The facts whose values a text shows, in written order."""
    return tuple(PLACEHOLDER.findall(text))


def texts(action: Action) -> tuple[str, ...]:
    """The words that an action shows or says."""
    match action:
        case Recommend(text=text) | Caution(text=text) | NextStep(text=text) | Say(text=text):
            return (text,)
        case _:
            return ()


def is_visible(source: str, stage: Stage) -> bool:
    """Whether facts of this source exist in the stage."""
    return STAGES.index(FIRST_STAGE[source]) <= STAGES.index(stage)
