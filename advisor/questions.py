"""What is still worth asking, and in which order.

A question is worth what knowing its answer would change: how much better the choice of turbo could become
(expected value of partial perfect information; Strong & Oakley, Medical Decision Making 34, 2014, 311, estimate it
by regression of the outcomes on the inputs), and which rules wait for it. Rules may force a question first (safety,
fit, the law). What nothing depends on any more is not asked.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.inference.stage import wanted
from advisor.inference.verdict import judge
from advisor.knowledge import FactDef, Knowledge
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
from advisor.matching.rank import HARD_LIMITS
from advisor.outcome import OpenQuestion, Understood
from advisor.situation import ESSENTIAL, FUEL_FACTS, UNLIMITED, Situation, situation, unstated
from advisor.units import Range
from advisor.weighing import JOINTS, Weighed, figures_of_draws

# Answers tried for a number that is not known, candidates held against each other, engine speeds looked at in each
# duty; the first choices that an answer may move against each other, and the share of that which counts.
LEVELS = 3
CONTENDERS = 12
SPEEDS = 2
LEADERS = 5
LEAN = 0.25
# How far past a hard limit a candidate has lost all points here: the figures are no surer than that.
NEAR_LIMIT = 0.05
# What a rule that waits for the answer is worth, in points of rank; by what it would do. The desk's judgement
# (common practice, no source).
WORTH_OF_CAUTION = {"stop": 6.0, "danger": 4.0, "care": 1.5, "note": 0.5}
WORTH_OF_RULING_OUT = 5.0
POINTS_OF_ONE = 4.0
WORTH_OF_PART = 1.0
WORTH_OF_JOINT = 1.0
WORTH_OF_ADVICE = 0.8
WORTH_OF_FACT = 0.8
WORTH_OF_WORDS = 0.2
# A fired rule asks for it: that is worth as much as a good reason; without the essentials nothing can be said.
WORTH_OF_ASKING = 3.0
WORTH_OF_ESSENTIAL = 100.0
# Points below which a question is not worth a caller's time, for each second it takes.
WORTH_ASKING = 0.015
SAME_TOPIC = 1.3
LATER = 1_000_000


@dataclass(frozen=True, slots=True)
class Asking:
    """What the questions follow from: the caller's own facts, all facts, what was heard, the rules that fired,
    the situation, the candidates, and the best of them."""

    said: FactBase
    facts: FactBase
    understood: Sequence[Understood]
    firings: Sequence[Firing]
    now: Situation
    weighed: Weighed
    best: int | None


def open_questions(asking: Asking, knowledge: Knowledge) -> tuple[OpenQuestion, ...]:
    """What is still worth asking, the most urgent first; each with the reason why it is asked now."""
    answered = {heard.answer.fact for heard in asking.understood}
    topic = knowledge.vocabulary[asking.understood[-1].answer.fact].topic if asking.understood else ""
    asked_by, urgent = _asked_by(asking.firings, knowledge)
    waiting = wanted(knowledge, "advise", asking.facts)
    possible = [
        definition
        for name, definition in knowledge.vocabulary.items()
        if definition.source == "asked" and name not in answered and applies(definition, asking.said)
    ]
    gained = _gained(asking, possible, knowledge) if not asking.now.missing else {}
    ranked = []
    for definition in possible:
        name = definition.name
        by_rules = sum(_stake(knowledge.rule(rule)) for rule in waiting.get(name, ()))
        worth = (
            gained.get(name, 0.0)
            + math.log1p(by_rules)
            + (WORTH_OF_ASKING if name in asked_by else 0.0)
            + (WORTH_OF_JOINT if name in JOINTS else 0.0)
            + (WORTH_OF_ESSENTIAL if name in asking.now.missing else 0.0)
        )
        pace = worth * definition.known / definition.seconds
        if pace < WORTH_ASKING and name not in urgent:
            continue
        question = OpenQuestion(
            fact=name,
            ask=definition.ask,
            listen_for=definition.listen_for,
            why=definition.why,
            reason=_reason(
                name, asked_by.get(name, ()), waiting.get(name, ()), gained.get(name, 0.0), asking, knowledge
            ),
            urgent=name in urgent,
            asked_by=tuple(sorted(asked_by.get(name) or waiting.get(name) or ())),
            choices=tuple((choice.name, choice.means) for choice in definition.choices),
            worth=worth,
        )
        opening = _opening(definition, asking, knowledge)
        rank = (name not in urgent, opening, -pace * (SAME_TOPIC if definition.topic == topic else 1.0))
        ranked.append(((*rank, definition.order), question))
    return tuple(question for _, question in sorted(ranked, key=lambda entry: entry[0]))


def _opening(definition: FactDef, asking: Asking, knowledge: Knowledge) -> int:
    """Place among the questions that a call opens with, in the order of the vocabulary: what the caller wants and
    why, then what no turbo can be proposed without. After them worth decides."""
    if not asking.now.missing:
        return 0
    first = min(knowledge.vocabulary[name].order for name in ESSENTIAL)
    opens = definition.order < first or definition.name in asking.now.missing
    return definition.order if opens else LATER


def applies(definition: FactDef, facts: FactBase) -> bool:
    """Whether the question makes sense for what is known."""
    return definition.ask_when is None or int(judge(definition.ask_when, facts)) == 1


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


# ------------------------------------------------------------------------- the value of knowing, by the match


def _gained(asking: Asking, possible: Sequence[FactDef], knowledge: Knowledge) -> dict[str, float]:
    """Points by which knowing each fact would better the choice, from one match over answers to all of them."""
    read = {taken.name for taken in asking.now.taken} | unstated(asking.now).keys()
    wanted_facts = [definition for definition in possible if definition.name in read and _drawable(definition)]
    return influence(asking.facts, asking.now, asking.weighed, wanted_facts, knowledge)


def influence(
    facts: FactBase, now: Situation, weighed: Weighed, definitions: Sequence[FactDef], knowledge: Knowledge
) -> dict[str, float]:
    """Points by which knowing each of these facts would better the choice among the first candidates; nothing where
    there is no choice. The facts are numbers with a prior or choices, and the situation read them."""
    rows = sorted(_contenders(weighed))
    effects: dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    if len(rows) < 2 or not definitions:
        return dict.fromkeys((definition.name for definition in definitions), 0.0)
    usual: NDArray[np.float64] | None = None
    for together in _apart(definitions, now):
        names = tuple(definition.name for definition in together)
        points = _tried(_Trial(now, tuple(rows), names, knowledge, facts))
        points = points - weighed.penalties[rows]
        usual, at = points[0] if usual is None else usual, 1
        for definition in together:
            chance = np.asarray([share for _, share in _levels(definition)])
            effects[definition.name] = chance, points[at : at + len(chance)] - usual
            at += len(chance)
    return {} if usual is None else worth_of_knowing(usual, effects)


def _apart(definitions: Sequence[FactDef], now: Situation) -> Iterator[list[FactDef]]:
    """The facts that are tried together. Until the first word on the fuel system it limits nothing: what that word
    would do is tried on its own."""
    limited = np.all(np.asarray(now.engine.fuel_per_stroke) < UNLIMITED)
    yield [definition for definition in definitions if limited or definition.name not in FUEL_FACTS]
    fuel = [definition for definition in definitions if definition.name in FUEL_FACTS]
    if fuel and not limited:
        yield fuel


def _contenders(weighed: Weighed) -> list[int]:
    """The first places, one gate and housing of a turbo after the other, so that many turbos are among them."""
    seen: dict[str, int] = {}
    keyed = []
    for place, row in enumerate(weighed.order):
        turbo = weighed.turbo(row)
        seen[turbo] = seen.get(turbo, 0) + 1
        keyed.append((seen[turbo], place, row))
    return [row for _, _, row in sorted(keyed)[:CONTENDERS]]


def _drawable(definition: FactDef) -> bool:
    if definition.kind == "number":
        return definition.prior is not None
    return definition.kind == "choice" and len(definition.choices) > 1


def _levels(definition: FactDef) -> tuple[tuple[float | str, float], ...]:
    """Answers that stand for the prior of a fact, each with its chance."""
    if definition.kind == "number" and definition.prior is not None:
        low, high = definition.prior.low, definition.prior.high
        return tuple((low + (high - low) * (step + 0.5) / LEVELS, 1.0 / LEVELS) for step in range(LEVELS))
    whole = sum(choice.weight for choice in definition.choices)
    return tuple((choice.name, choice.weight / whole) for choice in definition.choices)


@dataclass(frozen=True, slots=True)
class _Trial:
    """What the trial match follows from: the situation, the contenders, the facts that are tried. ``facts`` only
    says again what the situation was read from, so it stays out of the comparison."""

    now: Situation
    rows: tuple[int, ...]
    names: tuple[str, ...]
    knowledge: Knowledge
    facts: FactBase = field(compare=False)


@lru_cache(maxsize=64)
def _tried(trial: _Trial) -> NDArray[np.float64]:
    """Points (1 + levels, n) of the contenders as things are taken now, then with each level of each fact in turn,
    before rules take any; past a hard limit they fade to none."""
    vocabulary, rows = trial.knowledge.vocabulary, list(trial.rows)
    taken = unstated(trial.now) | {entry.name: entry.value for entry in trial.now.taken}
    levels = [(name, value) for name in trial.names for value, _ in _levels(vocabulary[name])]
    drawn: dict[str, NDArray[Any]] = {}
    for name in trial.names:
        now = taken[name]
        usual = now.mid if isinstance(now, Range) else now
        values = [usual, *(value if tried == name else usual for tried, value in levels)]
        kind: type = float if vocabulary[name].kind == "number" else object
        drawn[name] = np.asarray(values, dtype=kind).reshape(-1, 1, 1)
    tried = situation(trial.facts, vocabulary, drawn)
    shares = {duty.name: np.reshape(duty.weight, (-1, 1)) for duty in tried.duties}
    found = figures_of_draws(tried, rows, shares, SPEEDS, trial.knowledge)
    within = np.where(found.columns["solved"], 1.0, 0.0)
    for name in HARD_LIMITS:
        margin = np.where(np.isfinite(found.columns[name]), found.columns[name], 0.0)
        within = within * np.clip(1.0 + margin / NEAR_LIMIT, 0.0, 1.0)
    return np.broadcast_to(within * found.score, (1 + len(levels), len(rows)))


def worth_of_knowing(
    usual: NDArray[np.float64], effects: Mapping[str, tuple[NDArray[np.float64], NDArray[np.float64]]]
) -> dict[str, float]:
    """What knowing each input is worth to the choice, in points.

    usual (choices,): points of each choice with every input as it is taken now; effects: for each input the chance
    of each level (levels,) and what the level adds to each choice (levels, choices). Effects of several inputs are
    taken to add up. An input is worth how much better the best choice becomes on average when it alone is known,
    and a share of how far it moves the first choices against each other, since inputs decide together as well.
    """
    mean = usual + sum(chance @ effect for chance, effect in effects.values())
    leaders = np.argsort(-mean, kind="stable")[:LEADERS]
    made = {}
    for name, (chance, effect) in effects.items():
        own = effect - chance @ effect
        gain = float(chance @ (mean + own).max(axis=1) - mean.max())
        apart = own[:, leaders] - own[:, leaders[:1]]
        made[name] = max(0.0, gain) + LEAN * float(np.sqrt(chance @ apart**2)[1:].mean())
    return made


def _reason(
    name: str,
    asked_by: Sequence[str],
    waiting: Sequence[str],
    gain: float,
    asking: Asking,
    knowledge: Knowledge,
) -> str:
    """Why it is asked now, in words."""
    if name in asking.now.missing:
        return "Without it no turbo can be proposed."
    if asked_by:
        return knowledge.rule(min(asked_by)).because
    if gain >= 1.0:
        turbos = list(dict.fromkeys(asking.weighed.turbo(row) for row in asking.weighed.order))[:2]
        return f"It moves the choice most now, between turbos such as {' and '.join(turbos)}."
    if waiting:
        first = max(waiting, key=lambda rule: (_stake(knowledge.rule(rule)), rule))
        return knowledge.rule(first).because
    if name in JOINTS:
        return "Until it is known the parts list stays open at that joint."
    return "The figures need it; until then the usual value is taken."
