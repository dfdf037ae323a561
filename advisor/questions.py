"""Which questions are still worth asking, in which order, and why each is asked now.

A question is asked because nothing can be proposed without it, because a rule puts it first (safety, fit, the law),
because the choice of turbo hangs on it (`outlook`), or because the joints of the turbo that stands, or a grave
caution, do. What could only add a remark or a care is left to who wants to go on. What nothing depends on any
more is not asked. In a complaint what traces its cause comes before all this, in the order in which the rules list
it; the rest is asked once they put the turbo in question.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from advisor.course import Course
from advisor.fuelling import FUEL_FACTS
from advisor.hearing.together import words_for
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.inference.stage import wanted
from advisor.inference.verdict import judge
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.conditions import Condition, Is, facts_in, leaves
from advisor.knowledge.rules import (
    AddPart,
    Ask,
    Assume,
    Caution,
    NextStep,
    Penalise,
    Recommend,
    Rule,
    RuleOut,
    SetFact,
)
from advisor.outcome import CLOSING, DIAGNOSED, GRAVE, OpenQuestion
from advisor.outlook import Outlook, outlook
from advisor.situation import ESSENTIAL
from advisor.units import from_si, show, to_si
from advisor.weighing import JOINT_OF, Weighed

_BEFORE_IT = re.compile(r"^(?:[^.?!]*[.!] )+(?=.*\?)")

# What a rule that waits for the answer is worth, by what it would do. The desk's judgement (common practice, no
# source).
WORTH_OF_CAUTION = {"stop": 6.0, "danger": 4.0, "care": 1.5, "note": 0.5}
WORTH_OF_RULING_OUT = 5.0
POINTS_OF_ONE = 4.0
WORTH_OF_PART = 1.0
WORTH_OF_ADVICE = 0.8
WORTH_OF_FACT = 0.8
WORTH_OF_WORDS = 0.2
# A fired rule asks for it: that is worth something in points of rank.
WORTH_OF_ASKING = 0.5
GRAVE_HANGS_ON_IT = "A grave caution hangs on the answer."
# How much more a question counts that stays at the topic of the last answer, and one that comes early in a good
# call: the vocabulary's order, first to last.
SAME_TOPIC = 1.5
EARLY = 6.0
# From what worth on a question that the choice of turbo hangs on is asked in one breath with another.
ALONG = 0.03
# What a question settles, in the order in which it is asked.
CAUSE, ESSENTIALS, FIRST, CHOICE = "cause", "essential", "first", "choice"
SAFETY, PARTS, DETAIL = "safety", "parts", "detail"
SETTLES = (CAUSE, ESSENTIALS, FIRST, CHOICE, SAFETY, PARTS, DETAIL)
COMPLAINT = "complaint"  # the topic of what is asked to trace one


@dataclass(frozen=True, slots=True)
class Open:
    """What is open in a call: the questions, those worth asking first; what the choice of turbo hangs on; and, once
    the turbo stands, a sentence that says so."""

    questions: tuple[OpenQuestion, ...]
    outlook: Outlook
    stands: str


def still_open(course: Course, knowledge: Knowledge) -> Open:
    """What is still worth asking, the most urgent first; each with the reason why it is asked now."""
    answered = {heard.answer.fact for heard in course.understood}
    said, facts = _part_named(course), course.last.facts
    asked_by, urgent = _asked_by(course.firings, knowledge)
    waiting = wanted(knowledge, "advise", facts)
    asking = [d for d in knowledge.vocabulary.values() if d.source == "asked" and not d.volunteered]
    left = [definition for definition in asking if definition.name not in answered]
    verdicts = {d.name: _makes_sense(d, said) for d in left}
    possible = [d for d in left if verdicts[d.name] == 1]
    later = [d for d in left if verdicts[d.name] == -1]
    tracing = course.diagnosing  # which turbo to take is asked once it is in question
    ahead = NOTHING if course.now.missing or tracing else outlook(course, possible, later, knowledge)
    traced = causes(course, knowledge)
    joints = _open_joints(course)
    grave = _grave_facts(waiting, knowledge)
    first = min((knowledge.vocabulary[name].order for name in ESSENTIAL), default=0)
    topic = knowledge.vocabulary[course.understood[-1].answer.fact].topic if course.understood else ""
    last = max(definition.order for definition in asking)
    ranked = []
    for definition in possible:
        name = definition.name
        rules = [knowledge.rule(rule) for rule in waiting.get(name, ())]
        worth = ahead.worth.get(name, 0.0)
        settles = DETAIL
        if name in traced:
            settles = CAUSE
        elif tracing:
            settles = DETAIL
        elif name in course.now.missing or (course.now.missing and definition.order < first):
            settles = ESSENTIALS
        elif name in urgent:
            settles = FIRST
        elif worth > 0.0 and not ahead.stands:
            settles = CHOICE
            worth += WORTH_OF_ASKING if name in asked_by else 0.0
        elif name in grave and not course.now.missing:
            settles = SAFETY
        elif name in joints and not course.now.missing:
            settles = PARTS
        if settles in (SAFETY, PARTS) or (settles == DETAIL and (ahead.stands or worth == 0.0)):
            worth = math.log1p(math.fsum(map(_stake, rules))) + (WORTH_OF_ASKING if name in asked_by else 0.0)
        if settles == DETAIL and worth == 0.0:
            continue
        pace = worth * definition.known / definition.seconds
        pace *= (SAME_TOPIC if definition.topic == topic else 1.0) * EARLY ** (1.0 - definition.order / last)
        question = OpenQuestion(
            fact=name,
            ask=definition.ask,
            listen_for=definition.listen_for,
            why=definition.why,
            reason=_reason(definition, settles, asked_by.get(name, ()), ahead, course, knowledge),
            urgent=name in urgent,
            asked_by=tuple(sorted(asked_by.get(name) or waiting.get(name) or ())),
            choices=tuple((choice.name, choice.means) for choice in definition.choices),
            worth=worth,
            settles=settles,
        )
        place = {CAUSE: float(traced.get(name, 0)), ESSENTIALS: 0.0}.get(settles, -pace)
        ranked.append(((SETTLES.index(settles), place, definition.order), question))
    questions = tuple(question for _, question in sorted(ranked, key=lambda entry: entry[0]))
    questions = _in_one_breath(questions, left, course, knowledge)
    return Open(questions, ahead, _stands(questions, ahead, course, knowledge))


def _in_one_breath(
    questions: Sequence[OpenQuestion], left: Sequence[FactDef], course: Course, knowledge: Knowledge
) -> tuple[OpenQuestion, ...]:
    """The questions, each with those that are asked along with it: of its own group, worth asking themselves."""
    worthy = {q.fact: q.settles for q in questions if q.settles not in (CHOICE, DETAIL) or q.worth >= ALONG}
    groups: dict[str, list[FactDef]] = {}
    for definition in sorted(left, key=lambda definition: definition.order):
        if definition.together:
            groups.setdefault(definition.together, []).append(definition)
    made = []
    for question in questions:
        lead = knowledge.vocabulary[question.fact]
        breath = [
            d
            for d in groups.get(lead.together, ())
            if d is lead
            or (d.name in worthy and (worthy[d.name] == DETAIL) == (question.settles == DETAIL))
            or (question.settles != CAUSE and _along(d, lead, course))
        ]
        if len(breath) > 1:
            names = tuple(definition.name for definition in breath)
            question = replace(question, together=names, in_one_breath=words_for(breath))
        made.append(question)
    return tuple(made)


def _along(definition: FactDef, lead: FactDef, course: Course) -> bool:
    """Whether a question goes along with another one before its worth is known: nothing can be proposed yet, and it
    makes sense as soon as the other one is answered."""
    hangs_on = frozenset() if definition.ask_when is None else facts_in(definition.ask_when)
    return bool(course.now.missing) and definition.along and hangs_on <= {lead.name}


NOTHING = Outlook((), np.zeros(0), {}, {}, 1.0, 0.0, stands=False)


def _stands(questions: Sequence[OpenQuestion], ahead: Outlook, course: Course, knowledge: Knowledge) -> str:
    """That the turbo stands, and what else is open, in an order in which a call's last topic has no say; else ""."""
    if course.best is None or course.now.missing or not ahead.stands:
        return ""
    settling = [question.fact for question in questions if question.settles in (CAUSE, FIRST, SAFETY, PARTS)]
    left = sorted({*settling} - {*CLOSING}, key=lambda fact: knowledge.vocabulary[fact].order)
    words = "The turbo stands: nothing still open is likely to change it; the choices beside it may yet change places."
    if left:
        count = f"{len(left)} question{'s' * (len(left) > 1)}"
        words += f" {count} would still settle parts lines or cautions: {', '.join(left)}."
    return words


def causes(course: Course, knowledge: Knowledge) -> dict[str, int]:
    """What traces the cause of a complaint, and at which place: as the rules that look at complaints list it, in the
    order of their files."""
    if course.verdict != DIAGNOSED:
        return {}
    topic = {name for name, definition in knowledge.vocabulary.items() if definition.topic == COMPLAINT}
    rules = sorted((knowledge.rule(firing.rule) for firing in course.firings), key=lambda rule: rule.place)
    listed = [
        name
        for rule in rules
        if facts_in(rule.when) & topic or any(_of_complaints(leaf) for leaf in leaves(rule.when))
        for action in rule.then
        if isinstance(action, Ask) and action.urgent
        for name in action.facts
    ]
    return {name: place for place, name in enumerate(dict.fromkeys(listed))}


def _of_complaints(leaf: Condition) -> bool:
    return isinstance(leaf, Is) and leaf.fact == "call kind" and COMPLAINT in leaf.choices


def _grave(rule: Rule) -> bool:
    return any(isinstance(action, Caution) and action.severity in GRAVE for action in rule.then)


def _grave_facts(waiting: Mapping[str, Sequence[str]], knowledge: Knowledge) -> frozenset[str]:
    """Facts that rules with a grave caution wait for, and those that rules wait for which set one of them."""
    reached = {name for name, rules in waiting.items() if any(_grave(knowledge.rule(rule)) for rule in rules)}
    while True:
        more = {
            name
            for name, rules in waiting.items()
            if any(isinstance(a, SetFact) and a.fact in reached for rule in rules for a in knowledge.rule(rule).then)
        }
        if more <= reached:
            return frozenset(reached)
        reached |= more


def _part_named(course: Course) -> FactBase:
    """What the caller said; without his request where it names no part, since nothing can be asked about that one."""
    said = course.opening.said
    return said if course.request.fixes else said.without({"request"})


def _open_joints(course: Course) -> frozenset[str]:
    """Facts about the vehicle's ends without which a joint of the best candidate can be made in different ways."""
    if course.best is None:
        return frozenset()
    fits = {one.joint: one for one in course.weighed.fits.of(course.best)}
    found = {
        fact
        for fact, joint in JOINT_OF.items()
        if joint in fits and len({None if chain is None else chain.words for chain in fits[joint].chains}) > 1
    }
    entry = course.weighed.facts.columns.get("entry fit")
    if entry is None or entry.at(course.best) is None:
        found.add("manifold entry")
    return frozenset(found)


def anew(ask: str) -> str:
    """The words of a question that is put once more: nobody is greeted twice."""
    return _BEFORE_IT.sub("", ask)


def applies(definition: FactDef, facts: FactBase) -> bool:
    """Whether the question makes sense for what is known."""
    return _makes_sense(definition, facts) == 1


def _makes_sense(definition: FactDef, facts: FactBase) -> int:
    """The verdict on `ask when`: 1, 0, or -1 where that isn't known yet."""
    return 1 if definition.ask_when is None else int(judge(definition.ask_when, facts))


def _asked_by(firings: Sequence[Firing], knowledge: Knowledge) -> tuple[dict[str, list[str]], set[str]]:
    asked_by: dict[str, list[str]] = {}
    urgent: set[str] = set()
    for firing in firings:
        for action in knowledge.rule(firing.rule).then:
            if isinstance(action, Ask):
                for name in action.facts:
                    asked_by.setdefault(name, []).append(firing.rule)
                    if action.urgent:
                        urgent.add(name)
    return asked_by, urgent


@lru_cache(maxsize=4096)
def _stake(rule: Rule) -> float:
    """What hangs on a rule, in points of rank."""
    stake = WORTH_OF_WORDS
    for action in rule.then:
        match action:
            case Caution(severity=severity):
                stake += WORTH_OF_CAUTION[severity]
            case RuleOut():
                stake += WORTH_OF_RULING_OUT
            case Penalise(points=points):
                stake += abs(points) / POINTS_OF_ONE
            case AddPart():
                stake += WORTH_OF_PART
            case Recommend() | NextStep():
                stake += WORTH_OF_ADVICE
            case SetFact() | Assume() | Ask():
                stake += WORTH_OF_FACT
            case _:
                pass
    return stake / math.sqrt(max(1, len(rule.then)))


# ------------------------------------------------------------------------------------------------ why it is asked


def _reason(
    definition: FactDef,
    settles: str,
    asked_by: Sequence[str],
    ahead: Outlook,
    course: Course,
    knowledge: Knowledge,
) -> str:
    """Why it is asked now, in words."""
    name = definition.name
    if name in course.now.missing:
        return "Without it no turbo can be proposed."
    if settles == ESSENTIALS:
        return definition.why
    if settles in (CAUSE, FIRST) and asked_by:
        rules = map(knowledge.rule, sorted(asked_by))
        about_it = [rule for rule in rules if _asks_only_of(rule, definition, knowledge)]
        return about_it[0].because if about_it else definition.why
    if settles == CHOICE and course.best is None:
        return f"Nothing in the shop fits so far; this may bring one in. {definition.why}"
    if settles == CHOICE:
        return _what_it_decides(name, definition, ahead, course)
    if settles == PARTS:
        return "The turbo stands; until this is known the parts list stays open at that joint."
    return f"{definition.why} {GRAVE_HANGS_ON_IT}" if settles == SAFETY else definition.why


def _asks_only_of(rule: Rule, definition: FactDef, knowledge: Knowledge) -> bool:
    """Whether all that a rule wants first is asked in one breath with this fact."""
    first = {fact for act in rule.then if isinstance(act, Ask) and act.urgent for fact in act.facts}
    same = {one.name for one in knowledge.vocabulary.values() if one.together and one.together == definition.together}
    return first <= {definition.name, *same}


def _what_it_decides(name: str, definition: FactDef, ahead: Outlook, course: Course) -> str:
    """Which turbos its answers put first, from the points with each answer tried."""
    if name not in ahead.effects:
        return definition.why
    winners = ahead.winners(name)
    rows = list(dict.fromkeys(row for _, row in winners))
    if len(rows) > 1:
        usual = ahead.rows[int(np.argmax(ahead.usual))]
        one = usual if usual in rows else rows[0]
        other = next(row for row in rows if row != one)
        value = next(value for value, row in winners if row == other)
        apart, said = _difference(course.weighed, one, other), _answer(value, definition)
        return f"This decides {apart}: {said} speaks for the latter."
    if rows and name in FUEL_FACTS and course.best is not None and rows[0] != course.best:  # no matter what he says
        apart = _difference(course.weighed, course.best, rows[0])
        return f"This decides {apart}: what his fuel feeds counts from then on."
    one, other = ahead.torn(name)
    return f"Together with other answers it can still decide {_difference(course.weighed, one, other)}."


def _answer(value: object, definition: FactDef) -> str:
    if isinstance(value, float):
        unit, quantity = definition.unit, definition.quantity
        rounded = float(f"{from_si(value, unit, quantity):.2g}")
        return f"about {show(to_si(rounded, unit, quantity), unit, quantity)}"
    word = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f"“{' and '.join(sorted(value)) if isinstance(value, frozenset) else word}”"


def _difference(weighed: Weighed, one: int, other: int) -> str:
    """What sets two candidates apart, in the words of the trade."""
    listed = weighed.candidates.facts

    def of(fact: str) -> tuple[Any, Any]:
        return listed[fact][one], listed[fact][other]

    def sizes(fact: str) -> tuple[str, str]:
        return f"{1000.0 * listed[fact][one]:.0f}", f"{1000.0 * listed[fact][other]:.0f}"

    if weighed.turbo(one) == weighed.turbo(other):
        small, large = (f"{float(ratio):.2f}".lstrip("0") for ratio in of("housing ratio"))
        if small != large:
            return f"between the {small} and the {large} housing"
        gates = of("wastegate")
        if gates[0] != gates[1]:
            return f"between {_gate(gates[0])} and {_gate(gates[1])}"
        return f"between {weighed.candidates.codes[one]} and {weighed.candidates.codes[other]}"
    inducers = sizes("compressor inducer")
    if inducers[0] != inducers[1]:
        return f"between the {inducers[0]} and the {inducers[1]} wheel"
    turbines = sizes("turbine exducer")
    if turbines[0] != turbines[1]:
        return f"between the {turbines[0]} and the {turbines[1]} turbine"
    bearings = of("bearing")
    if bearings[0] != bearings[1]:
        return f"between a {bearings[0]} bearing and a {bearings[1]} one"
    return f"between {weighed.turbo(one)} and {weighed.turbo(other)}"


def _gate(kind: object) -> str:
    return "no gate" if kind == "none" else f"an {kind} gate"
