"""What is still worth asking, and in which order.

A question is worth what knowing its answer would change: how much better the choice of turbo could become
(expected value of partial perfect information, estimated from one set of draws of everything that is not known:
Strong & Oakley, Medical Decision Making 34, 2014, 311), and which rules wait for it. Rules may force a question
first (safety, fit, the law). What nothing depends on any more is not asked.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
from advisor.situation import Situation, situation
from advisor.weighing import Weighed, figures_of_draws

# Draws of what is not known, candidates held against each other, and engine speeds looked at in each duty.
DRAWS = 32
CONTENDERS = 24
SPEEDS = 3
SEED = 20_141
BINS = 4
BARRED = -50.0
# What a rule that waits for the answer is worth, in points of rank; by what it would do. The desk's judgement
# (common practice, no source).
WORTH_OF_CAUTION = {"stop": 6.0, "danger": 4.0, "care": 1.5, "note": 0.5}
WORTH_OF_RULING_OUT = 3.0
WORTH_OF_PART = 1.0
WORTH_OF_ADVICE = 0.8
WORTH_OF_FACT = 0.8
WORTH_OF_WORDS = 0.2
# A fired rule asks for it: that is worth as much as a good reason; without the essentials nothing can be said.
WORTH_OF_ASKING = 3.0
WORTH_OF_ESSENTIAL = 100.0
# Points below which a question is not worth a caller's time, for each second it takes.
WORTH_ASKING = 0.02
SAME_TOPIC = 1.3


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
        opening = definition.order if asking.now.missing else 0
        rank = (name not in urgent, opening, -pace * (SAME_TOPIC if definition.topic == topic else 1.0))
        ranked.append(((*rank, definition.order), question))
    return tuple(question for _, question in sorted(ranked, key=lambda entry: entry[0]))


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
                stake += abs(points) / 10.0
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
    """Points by which knowing each fact would better the choice, from one match over draws of all of them."""
    rows = _contenders(asking.weighed)
    if len(rows) < 2:
        return {}
    read = {taken.name for taken in asking.now.taken}
    wanted_facts = [
        definition for definition in possible if definition.name in read and _drawable(definition)
    ]
    if not wanted_facts:
        return {}
    drawn = _draws(wanted_facts)
    points_of = _points(asking, rows, drawn, knowledge)
    if points_of is None:
        return {}
    return {
        definition.name: value_of_knowing(points_of, drawn[definition.name].ravel())
        for definition in wanted_facts
    }


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


def _draws(definitions: Sequence[FactDef]) -> dict[str, NDArray[Any]]:
    """Values of each fact (draws, 1, 1) from its prior, spread evenly and shuffled by a fixed seed."""
    drawn: dict[str, NDArray[Any]] = {}
    for definition in definitions:
        chance = np.random.default_rng([SEED, *definition.name.encode()])
        share = (chance.permutation(DRAWS) + 0.5) / DRAWS
        if definition.prior is not None and definition.kind == "number":
            values: NDArray[Any] = (
                definition.prior.low + (definition.prior.high - definition.prior.low) * share
            )
        else:
            weights = np.asarray([choice.weight for choice in definition.choices])
            edges = np.cumsum(weights / weights.sum())
            names = np.asarray(definition.choice_names, dtype=object)
            values = names[np.minimum(np.searchsorted(edges, share), len(names) - 1)]
        drawn[definition.name] = values.reshape(DRAWS, 1, 1)
    return drawn


def _points(
    asking: Asking, rows: Sequence[int], drawn: Mapping[str, NDArray[Any]], knowledge: Knowledge
) -> NDArray[np.float64] | None:
    """Points of the contenders (draws, n) in each draw; a broken hard limit costs more than any merit."""
    drawn_now = situation(asking.facts, knowledge.vocabulary, drawn)
    shares = {duty.name: np.reshape(duty.weight, (-1, 1)) for duty in drawn_now.duties}
    found = figures_of_draws(drawn_now, rows, shares, SPEEDS, knowledge)
    barred: NDArray[np.bool_] = np.logical_not(found.columns["solved"])
    for name in HARD_LIMITS:
        barred = barred | np.less(found.columns[name], 0.0)
    return np.where(barred, BARRED, found.score) - asking.weighed.penalties[list(rows)]


def value_of_knowing(points: NDArray[np.float64], values: NDArray[Any]) -> float:
    """Expected gain of the best choice from knowing one input, from draws.

    points (draws, choices): worth of each choice in each draw; values (draws,): the input in each draw.
    The bias of taking the best of few draws is measured on the same draws with the input shuffled, and taken
    off (Strong & Oakley 2014 use a regression instead; the partition serves at this number of draws).
    """
    groups = _groups(values)
    if len(groups) < 2:
        return 0.0
    shuffled = np.random.default_rng(SEED).permutation(len(points))
    gain = _gain(points, groups)
    chance = _gain(points, [shuffled[group] for group in groups])
    return max(0.0, gain - chance)


def _groups(values: NDArray[Any]) -> list[NDArray[np.intp]]:
    if values.dtype == object:
        return [np.flatnonzero(values == value) for value in sorted(set(values.tolist()))]
    order = np.argsort(values, kind="stable")
    return [part for part in np.array_split(order, BINS) if len(part)]


def _gain(points: NDArray[np.float64], groups: Sequence[NDArray[np.intp]]) -> float:
    known = sum(len(group) * float(points[group].mean(axis=0).max()) for group in groups)
    return known / len(points) - float(points.mean(axis=0).max())


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
    return "The figures need it; until then the usual value is taken."
