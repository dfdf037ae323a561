"""Knowledge with one rule changed or taken out, ready to be run without being loaded anew."""

from collections.abc import Iterable
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from advisor.conclusion import Line, conclusion, opened
from advisor.course import Course, Reached, infer, open_anew, open_call
from advisor.desk.evidence import stage_facts
from advisor.inference.agenda import Agenda, Firing
from advisor.inference.facts import FactBase
from advisor.inference.verdict import sign_of
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.rules import STAGES, Assume, Penalise, RuleOut, SetFact
from advisor.outcome import Answer


def without(knowledge: Knowledge, rule: Rule) -> Knowledge:
    """The knowledge without a rule. It shares everything else, so that matches are taken over."""
    return _with(knowledge, rule, ())


def varied(knowledge: Knowledge, rule: Rule, variant: Rule) -> Knowledge:
    """The knowledge with a variant in a rule's place, of the same stage, that reads and sets nothing more."""
    return _with(knowledge, rule, (variant,))


def _with(knowledge: Knowledge, rule: Rule, instead: Iterable[Rule]) -> Knowledge:
    def swapped(rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
        at = next((index for index, one in enumerate(rules) if one.name == rule.name), None)
        return rules if at is None else (*rules[:at], *instead, *rules[at + 1 :])

    layers = tuple(swapped(layer) for layer in knowledge.layers(rule.stage))
    strata = {**knowledge.strata, rule.stage: layers}
    return replace(knowledge, rules=swapped(knowledge.rules), strata=MappingProxyType(strata))


def fires_alike(rule: Rule, variant: Rule, course: Reached) -> bool:
    """Whether both fire for the same candidates of a call (or both don't), as far as this stage's facts go."""
    facts: FactBase = stage_facts(rule, course)
    one, other = sign_of(rule.when, facts), sign_of(variant.when, facts)
    return bool(np.all(np.equal(one, 1) == np.equal(other, 1)))


def fired(rule: Rule, course: Reached) -> bool:
    """Whether the rule fired in a call."""
    return any(firing.rule == rule.name for firing in course.firings)


def rerun(answers: tuple[Answer, ...], variant: Knowledge, rule: Rule, course: Reached, agenda: Agenda) -> Reached:
    """The call under a variant, as far as it was taken: only the stages from the rule's own on are run anew.

    A rule that sets no fact and weighs no candidate changes nothing but what it says itself: then nothing is run.
    """
    instead = next((one for one in variant.rules if one.name == rule.name), None)
    actions = (*rule.then, *(instead.then if instead is not None else ()))
    if any(isinstance(action, SetFact | Assume | RuleOut | Penalise) for action in actions):
        if isinstance(course, Course):
            return infer(answers, variant, agenda, course, rule.stage)
        return open_anew(course, variant, agenda) if rule.stage == "demand" else open_call(answers, variant, agenda)
    others = [firing for firing in course.firings if firing.rule != rule.name]
    own = [] if instead is None else _firing(instead, course)
    ordered = tuple(sorted((*others, *own), key=lambda one: (STAGES.index(variant.rule(one.rule).stage), one.rule)))
    if isinstance(course, Course):
        return replace(course, firings=ordered)
    early = [tuple(one for one in ordered if variant.rule(one.rule).stage == stage) for stage in STAGES[:2]]
    first, second = (replace(old, firings=new) for old, new in zip((course.first, course.second), early, strict=True))
    return replace(course, first=first, second=second)


def _firing(rule: Rule, course: Reached) -> list[Firing]:
    """The rule's own firing in a call, without its grounds; nothing when it doesn't fire."""
    fires = np.equal(sign_of(rule.when, stage_facts(rule, course)), 1)
    if not fires.any():
        return []
    return [Firing(rule.name, rule.place, (), (), mask=fires if fires.ndim else None)]


def concluded(course: Reached, knowledge: Knowledge) -> tuple[Line, ...]:
    """What a call concludes, as far as it was taken."""
    return conclusion(course, knowledge) if isinstance(course, Course) else opened(course, knowledge)


def deeds(lines: Iterable[Line], rule: Rule) -> tuple[Line, ...]:
    """What a conclusion holds beside the words to say; those count only for a rule that does nothing else."""
    speaks = len(rule.then) > 1
    return tuple(line for line in lines if line.kind != "says" or not (speaks and line.rule == rule.name))


def decided(rule: Rule, answers: tuple[Answer, ...], course: Course, knowledge: Knowledge, fires: Agenda) -> bool:
    """Whether the call would conclude otherwise without the rule."""
    if not fired(rule, course):
        return False
    gone = without(knowledge, rule)
    other = concluded(rerun(answers, gone, rule, course, fires), gone)
    return deeds(conclusion(course, knowledge), rule) != deeds(other, rule)
