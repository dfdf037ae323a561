"""Which branches of a rule's condition a call has shown: each leaf true, and false, while the rest of the rule held.

"The rest held" means that the rule hangs on this leaf alone: it fires with the leaf true and doesn't with it false
(or, inside `none`, the other way round). Over candidates, one candidate is enough. Points that run with a figure are
shown beyond an end, and short of it, where the rule's written conditions hold.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from advisor.course import Course, Reached
from advisor.desk.reach import view
from advisor.inference.facts import FactBase
from advisor.inference.verdict import Sign, every, sign_of, some
from advisor.knowledge import Place, Rule
from advisor.knowledge.conditions import All, AnyOf, Between, Compare, Condition, Leaf, NoneOf, leaves


@dataclass(frozen=True, slots=True)
class Branch:
    """A leaf as written, and whether the calls have shown it on both sides."""

    rule: str
    place: Place
    text: str
    threshold: bool
    held: bool = False
    failed: bool = False

    @property
    def covered(self) -> bool:
        """Seen from both sides while the rest of the rule held."""
        return self.held and self.failed

    @property
    def words(self) -> str:
        """What was seen of it."""
        return {(True, True): "both sides", (True, False): "only true", (False, True): "only false"}.get(
            (self.held, self.failed), "never"
        )


def stage_facts(rule: Rule, course: Reached) -> FactBase:
    """The facts of a call as this rule could read them; of one taken up to the match those of its stages alone."""
    opening = course.opening if isinstance(course, Course) else course
    if rule.stage == "understand":
        return view(rule, opening.first.facts)
    if rule.stage == "demand" or not isinstance(course, Course):
        return view(rule, opening.second.facts)
    return view(rule, course.weighed.facts if rule.stage == "judge" else course.last.facts)


def shown(rule: Rule, course: Reached) -> list[tuple[Place, bool, bool]]:
    """Of each leaf: its place, whether the call shows it true, and false, with the rule hanging on it."""
    facts = stage_facts(rule, course)
    found = []
    for leaf in leaves(rule.when):
        with_it, without = _sign(rule.when, facts, leaf, 1), _sign(rule.when, facts, leaf, -1)
        hangs = np.not_equal(np.equal(with_it, 1), np.equal(without, 1))
        own = sign_of(leaf, facts)
        found.append((leaf.place, bool(np.any(hangs & np.equal(own, 1))), bool(np.any(hangs & np.equal(own, -1)))))
    for slope in rule.slopes:
        speaks = np.equal(sign_of(rule.written, facts), 1)
        for leaf in slope.reached():
            come, short = (speaks & np.equal(sign_of(leaf, facts), side) for side in (1, -1))
            found.append((leaf.place, bool(np.any(come)), bool(np.any(short))))
    return found


def _sign(condition: Condition, facts: FactBase, leaf: Leaf, forced: int) -> Sign:
    """The sign of the condition with one written leaf forced."""
    below: Callable[[Condition], Sign] = lambda part: _sign(part, facts, leaf, forced)  # noqa: E731
    match condition:
        case All(parts=parts):
            return every([below(part) for part in parts])
        case AnyOf(parts=parts):
            return some([below(part) for part in parts])
        case NoneOf(parts=parts):
            return -some([below(part) for part in parts])
        case _:
            return forced if condition is leaf else sign_of(condition, facts)


def branches(rule: Rule) -> list[Branch]:
    """The leaves of a rule, and the ends of its points that it doesn't hang on, not yet seen."""
    own = [*leaves(rule.when), *(leaf for slope in rule.slopes for leaf in slope.reached())]
    return [Branch(rule.name, leaf.place, leaf.text, isinstance(leaf, Compare | Between)) for leaf in own]
