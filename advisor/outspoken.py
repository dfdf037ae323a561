"""Of which rules that fired the caller is told: the one place that says so, for the advice of a call and for whoever
holds calls against each other."""

from advisor.course import Course
from advisor.inference.agenda import Firing
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.rules import Caution, NextStep, Recommend, Say
from advisor.knowledge.strata import reads, writes
from advisor.supplied import ON_IT
from advisor.weighing import NOTHING


def outspoken(course: Course, knowledge: Knowledge) -> tuple[Firing, ...]:
    """The rules that fired and may speak. While nothing can be advised those rest on no figure of a goal or a turbo
    that nobody has named; where the shop has no turbo for the engine, what the goal would take is nothing to him."""
    told = _founded(course.firings, knowledge) if course.provisional else course.firings
    if course.weighed.lacks == NOTHING:
        return told
    return tuple(firing for firing in told if knowledge.rule(firing.rule).stage != "demand")


def _founded(firings: tuple[Firing, ...], knowledge: Knowledge) -> tuple[Firing, ...]:
    hollow = {name for name, d in knowledge.vocabulary.items() if d.source in ("computed", "candidate")} - {*ON_IT}
    fired = {firing.rule: knowledge.rule(firing.rule) for firing in firings}
    while True:  # what rests on a hollow fact is hollow itself
        more = {fact for rule in fired.values() if reads(rule) & hollow for fact in writes(rule)}
        if more <= hollow:
            break
        hollow |= more
    sound = {name for name, rule in fired.items() if rule.stage != "judge" and not reads(rule) & hollow}
    return tuple(firing for firing in firings if firing.rule in sound)


def tells_early(rule: Rule) -> bool:
    """Whether all that he is told by the rule is settled before the match."""
    speaks = any(isinstance(action, Caution | Recommend | NextStep | Say) for action in rule.then)
    return rule.stage == "understand" or (rule.stage == "demand" and not speaks)


def lists_parts(course: Course) -> bool:
    """Whether he is told a list of parts: for the turbo advised, or of a complaint for its checks."""
    return course.best is not None and (course.diagnosing or not course.provisional)


def is_check(rule: Rule) -> bool:
    """Whether the rule sends him to look at something: what it takes is listed before the checks of a complaint are
    done, and nothing else."""
    return rule.stage == "understand" and any(isinstance(action, NextStep) for action in rule.then)
