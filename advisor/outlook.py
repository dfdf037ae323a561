"""What the choice of turbo still hangs on.

Each open question is tried on its own, answer by answer, round the caller as he is taken now; what each answer adds
to the points of the first candidates gives the question's worth. Once little seems to hang on them, all that is
open is drawn together, and those callers are matched and judged as the call itself would: the share of them who
would be advised another turbo is the chance that the advice still changes.

The worth of knowing: expected value of partial perfect information (Strong & Oakley, Medical Decision Making 34,
2014, 311). The draws are even shares of each prior, the same for the same question in every call.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np

from advisor.course import Course
from advisor.drawing import draw, drawable, joined, levels, picked, shares, without
from advisor.fuelling import FUEL_FACTS
from advisor.inference.facts import Column, column, numbers
from advisor.inference.stage import Same
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.rules import Assume, SetFact, Stage
from advisor.matched import SPEEDS, SWEEP
from advisor.matching.inputs import Array, Bools, IntArray
from advisor.matching.rank import ENOUGH, HARD_LIMITS, TOO_LITTLE
from advisor.prospects import Prospects, prospects, read_by
from advisor.weighing import JOINTS

# Answers tried for a number, candidates held against each other, engine speeds looked at in each duty and in the sweep.
# What only rules read costs no match: more answers are tried.
LEVELS, FINE_LEVELS = 3, 8
CONTENDERS, HOUSINGS, MISSES = 6, 2, 16
# How far past a hard limit a candidate may be that an answer can bring within it.
HARDLY = 0.05
FEW_SPEEDS, FEW_SWEEP = 2, 5
# The first choices that an answer may move against each other, and the share of that which counts: answers decide
# together as well.
LEADERS = 5
LEAN = 0.25
# Decimals of a worth; what is less is rounding, and puts no question before another.
FIGURED = 9
# Points that a candidate loses here by being ruled out: more than any good mark makes up for.
OUT = 40.0
# Points below the first at which some other candidate stands in, or none, when all of these fall out.
ANOTHER = 15.0
# Callers drawn by adding up what each answer does; from this share of others among them on, the choice is plainly
# open. Below it callers are matched in full, in lots: no more of them once so many are others that it can't stand.
ADDED, PLAINLY = 256, 0.6
CALLERS, LOTS = 192, (24, 12, 6, 3, 1)
# Callers with another turbo for whom each answer is taken back in turn, and how much more such a question counts: it
# is what the rest hangs on.
TRACED, TRACE = 4, 4.0
# From here on some question is plainly worth asking, whatever else there is.
WORTH_A_QUESTION = 0.3
# When it could stand: so many candidates down the list are looked at for rivals, those further down for one caller in
# so many of these; those that come within so many points of the first for some caller, at most so many of them.
FURTHER, FEWER, NEAR, RIVALS = 32, 4, 2.0, 6
# The advice stands when at most this share of the callers who may be on the line would be advised another turbo: when
# so few of those drawn would be that the share of all of them is hardly larger. And when knowing everything would
# better the choice by less than this many points of a hundred on average: less than the price of a good set-up
# against a dear one moves them (common practice, no source).
CHANGE, REGRET = 1 / 64, 0.5
FEW = 0.5 * CHANGE
# What is given away beyond that, to another housing mostly, is let go when no single question is worth this much.
LITTLE = 0.1


@dataclass(frozen=True, eq=False, slots=True)
class Outlook:
    """What hangs on the open questions. ``rows``: the candidates held against each other, ``usual`` (n,) their points
    with the caller as he is taken now; ``effects``: for each question the answers tried, their chances (levels,) and
    what each adds (levels, n); ``worth`` in points; ``change``: the chance that another turbo would be advised once
    everything is known, ``regret`` the points then given away; ``stands``: whether that is little enough."""

    rows: tuple[int, ...]
    usual: Array
    effects: Mapping[str, tuple[list[Any], Array, Array]]
    worth: Mapping[str, float]
    change: float
    regret: float
    stands: bool

    def winners(self, fact: str) -> list[tuple[Any, int]]:
        """Each answer tried with the row that it puts first."""
        values, _, effect = self.effects[fact]
        first = np.argmax(self.usual + effect, axis=1)
        return [(value, self.rows[int(row)]) for value, row in zip(values, first, strict=True)]

    def torn(self, fact: str) -> tuple[int, int]:
        """The first candidate and the one that the answers move most against it, by what it has to make up."""
        first = int(np.argmax(self.usual))
        gap = self.usual[first] - self.usual
        _, _, effect = self.effects[fact]
        made_up = (effect - effect[:, first : first + 1]).max(axis=0) - gap
        made_up[first] = -np.inf
        return self.rows[first], self.rows[int(np.argmax(made_up))]


def outlook(course: Course, possible: Sequence[FactDef], later: Sequence[FactDef], knowledge: Knowledge) -> Outlook:
    """What hangs on the questions that can be asked now (``possible``) and on those that their answers may open."""
    moving = influential(Same(knowledge), read_by(course.now))
    asked = [d for d in possible if d.name in moving and drawable(d)]
    if (best := course.best) is None and asked:
        return _brought_in(course, asked, knowledge)
    rows = list(dict.fromkeys((*contenders(course), *yardsticks(course))))
    if best is None or not asked:
        return Outlook(tuple(rows), np.zeros(len(rows)), {}, {}, 0.0, 0.0, stands=True)
    every = [*asked, *(d for d in later if d.ask_when is not None and d.name in moving and drawable(d))]
    trial, drawn = _trial(course, asked, knowledge), draw(every, course.opening.said, CALLERS, knowledge)
    callers = prospects(course, joined([*trial.parts, drawn], [*trial.sizes, CALLERS]), knowledge)
    tried = sum(trial.sizes)
    usual, effects = trial.effects(callers.of(np.arange(tried)), rows)
    if course.now.fuel_limited:  # then the caller as he is taken now has been matched at more speeds already
        usual = course.weighed.points[rows]
    worth = worth_of_knowing(
        np.append(usual, usual.max() - ANOTHER),
        {name: (chance, np.pad(effect, ((0, 0), (0, 1)))) for name, (_, chance, effect) in effects.items()},
    )
    if not course.now.fuel_limited:  # any word on his fuel makes it count, and then another turbo may come first
        for name in worth.keys() & set(FUEL_FACTS):
            worth[name] = round(worth[name] + float(usual.max() - usual[rows.index(best)]), FIGURED)
    change, regret = _changed(_added_up(usual, effects), rows, course)
    nothing_plain = max(worth.values()) < WORTH_A_QUESTION
    if change < PLAINLY or nothing_plain:
        most = REGRET if max(worth.values()) >= LITTLE else np.inf
        full = _matched(callers.of(np.arange(tried, tried + CALLERS)), rows, course, most)
        change, regret = float(full.others.mean()), float(full.lost.mean())
        hangs = _traced(course, drawn, full, knowledge) if nothing_plain else {}
        for definition in every:
            opens = {definition.name} if definition.name in worth else _opened_by(definition) & worth.keys()
            for name in opens:
                worth[name] = round(worth[name] + TRACE * hangs.get(definition.name, 0.0), FIGURED)
    settled = regret <= REGRET or max(worth.values()) < LITTLE
    return Outlook(tuple(rows), usual, effects, worth, change, regret, change <= FEW and settled)


def _brought_in(course: Course, asked: Sequence[FactDef], knowledge: Knowledge) -> Outlook:
    """What hangs on the open questions where nothing fits: how likely it is that their answers bring one in."""
    rows, trial = near_misses(course), _trial(course, asked, knowledge)
    callers = prospects(course, joined(trial.parts, trial.sizes), knowledge)
    points = _points(callers, rows, callers.figures(rows, FEW_SPEEDS, FEW_SWEEP))
    fits: Bools = np.asarray(np.isfinite(points).any(axis=1))
    worth = {name: round(OUT * float(chance @ fits[own]), FIGURED) for name, _, chance, own in trial.each()}
    change = max(worth.values()) / OUT
    return Outlook((), np.zeros(0), {}, worth, change, 0.0, stands=change <= FEW)


def near_misses(course: Course) -> list[int]:
    """Of those that are out, the ones that the fewest rules and limits speak against, the first in points first; of
    those that can be matched at all, where one can."""
    weighed = course.weighed
    against = np.stack(list(weighed.out_by.values())).sum(axis=0)
    solved = np.flatnonzero(weighed.columns["solved"] > 0.5)
    solved = solved if solved.size else np.arange(len(against))
    return [int(row) for row in solved[np.lexsort((-weighed.points[solved], against[solved]))][:MISSES]]


def _opened_by(definition: FactDef) -> frozenset[str]:
    return frozenset() if definition.ask_when is None else frozenset(facts_in(definition.ask_when))


def effects_of(
    course: Course, definitions: Sequence[FactDef], rows: Sequence[int], knowledge: Knowledge
) -> tuple[Array, dict[str, tuple[list[Any], Array, Array]]]:
    """Points (n,) of the candidates as the caller is taken now, and what each answer to each question adds to them."""
    trial = _trial(course, definitions, knowledge)
    return trial.effects(prospects(course, joined(trial.parts, trial.sizes), knowledge), rows)


@dataclass(frozen=True, eq=False, slots=True)
class _Trial:
    """Callers with each answer to each question in turn, after one as he is taken now: answers in columns, lot by lot,
    how many callers each lot holds, and the answers tried, with their chances."""

    parts: list[Mapping[str, Column]]
    sizes: list[int]
    tried: list[tuple[str, list[tuple[Any, float]]]]

    def effects(
        self, callers: Prospects, rows: Sequence[int]
    ) -> tuple[Array, dict[str, tuple[list[Any], Array, Array]]]:
        """What `effects_of` says, from these callers."""
        points = _points(callers, rows, callers.figures(rows, FEW_SPEEDS, FEW_SWEEP))
        points = np.where(np.isfinite(points), points, np.nanmax(np.where(np.isfinite(points), points, np.nan)) - OUT)
        effects = {name: (values, chance, points[own] - points[0]) for name, values, chance, own in self.each()}
        return points[0], effects

    def each(self) -> Iterator[tuple[str, list[Any], Array, slice]]:
        """Each question with the answers tried, their chances (levels,) and the callers that gave them."""
        at = 1
        for name, answers in self.tried:
            values, chances = zip(*answers, strict=True)
            yield name, list(values), np.asarray(chances), slice(at, at + len(answers))
            at += len(answers)


def _trial(course: Course, definitions: Sequence[FactDef], knowledge: Knowledge) -> _Trial:
    read = read_by(course.now)
    tried = [(d, levels(d, LEVELS if d.name in read else FINE_LEVELS, knowledge)) for d in definitions]
    base = _fuel_as_usual(course, knowledge)
    parts: list[Mapping[str, Column]] = [base]
    for definition, answers in tried:
        values = [value for value, _ in answers]
        own = numbers(np.asarray(values, dtype=float)) if definition.kind == "number" else column(_objects(values))
        parts.append({**{name: _repeated(one, len(values)) for name, one in base.items()}, definition.name: own})
    sizes = [1, *(len(answers) for _, answers in tried)]
    return _Trial(parts, sizes, [(definition.name, answers) for definition, answers in tried])


def _objects(values: Sequence[Any]) -> Any:
    made = np.empty(len(values), dtype=object)
    made[:] = values
    return made


def _repeated(one: Column, count: int) -> Column:
    value = one.at(0)
    return column(_objects([value] * count))


def _fuel_as_usual(course: Course, knowledge: Knowledge) -> dict[str, Column]:
    """Answers that make fuel count as told of where nobody told: the usual ones."""
    if course.now.fuel_limited:
        return {}
    usual = {taken.name: taken.value for taken in course.now.taken if taken.name in FUEL_FACTS}
    return {name: column(_objects([value])) for name, value in usual.items()}


def contenders(course: Course, count: int = CONTENDERS) -> list[int]:
    """The first places, with many turbos among them: of a turbo the best one, of each foot and entry while the
    manifold's are not known, then its next; and the next housings of the first turbo."""
    weighed = course.weighed
    listed = weighed.candidates.facts
    open_ends = [fact for fact, end in ENDS.items() if course.last.facts.value(end) is None]
    seen: dict[tuple[str, ...], int] = {}
    keyed = []
    for place, row in enumerate(weighed.order):
        kind = (weighed.turbo(row), *(str(listed[fact][row]) for fact in open_ends))
        seen[kind] = seen.get(kind, 0) + 1
        keyed.append((seen[kind], place, row))
    rows = [row for _, _, row in sorted(keyed)[:count]]
    housings = {float(listed["housing ratio"][row]) for row in rows[:1]}
    for row in weighed.order:
        ratio = float(listed["housing ratio"][row])
        if len(housings) <= HOUSINGS and ratio not in housings and weighed.turbo(row) == weighed.turbo(rows[0]):
            housings.add(ratio)
            rows.append(row)
    return list(dict.fromkeys(rows))


def yardsticks(course: Course) -> Iterator[int]:
    """The strongest in each duty, of those that were kept and of those that are hardly past a hard limit: whoever makes
    far less than the strongest within the limits is out, and which one that is may change with every answer."""
    weighed, kept = course.weighed, course.weighed.kept
    past = np.min([weighed.columns[name] for name in HARD_LIMITS], axis=0)
    hardly = (weighed.columns["solved"] > 0.5) & (past < 0.0) & (past >= -HARDLY)
    made = [weighed.columns[name] for duty in course.now.duties if (name := f"{duty.name} power") in weighed.columns]
    for power, some in product(made, (kept, hardly)):
        if some.any():
            yield int(np.argmax(np.where(some, power, -np.inf)))


ENDS = {"housing foot": "manifold foot", "housing entry": "manifold entry"}


def worth_of_knowing(usual: Array, effects: Mapping[str, tuple[Array, Array]]) -> dict[str, float]:
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
        moved = float(np.sqrt(chance @ apart**2)[1:].mean()) if len(leaders) > 1 else 0.0
        made[name] = round(max(0.0, gain) + LEAN * moved, FIGURED)
    return made


def _added_up(usual: Array, effects: Mapping[str, tuple[list[Any], Array, Array]]) -> Array:
    """Points (draws, n) of callers drawn from all answers, with what each answer adds."""
    points = np.tile(usual, (ADDED, 1))
    for name, (_, chance, effect) in effects.items():
        points += effect[np.searchsorted(np.cumsum(chance)[:-1], shares(name, ADDED))]
    return np.where(points < usual.max() - ANOTHER, -np.inf, points)


def _changed(points: Array, rows: Sequence[int], course: Course) -> tuple[float, float]:
    """Share of the callers (draws, n) who would be advised another turbo, and the points given away on average."""
    others, lost = _losses(points, rows, course)
    return float(others.mean()), float(lost.mean())


def _losses(points: Array, rows: Sequence[int], course: Course) -> tuple[Bools, Array]:
    """Who would be advised another turbo, and what the one advised now gives away there, at most `OUT`."""
    assert course.best is not None
    turbos = np.asarray([course.weighed.turbo(row) for row in rows])
    first, own = points.max(axis=1), points[:, list(rows).index(course.best)]
    fits = np.isfinite(first)
    others = ~fits | (turbos[points.argmax(axis=1)] != course.weighed.turbo(course.best))
    both = fits & np.isfinite(own)
    return others, np.minimum(np.where(both, first - np.where(both, own, 0.0), OUT), OUT)


@dataclass(frozen=True, eq=False, slots=True)
class _Full:
    """Callers (r,) of those drawn who were matched and judged in full, with the candidates ``rows``: who would be
    advised another turbo, and the points that the one advised now gives away there."""

    rows: tuple[int, ...]
    which: IntArray
    others: Bools
    lost: Array


def _matched(callers: Prospects, rows: Sequence[int], course: Course, most: float) -> _Full:
    """As many of the callers drawn as it takes to see whether the turbo can stand, giving away so many points at most
    on average, in lots; when it can, all of them again with whoever else might come first."""
    which: IntArray = np.zeros(0, dtype=np.int64)
    lots, points = [], np.empty((0, len(rows)))
    for step in LOTS:
        fresh = np.setdiff1d(np.arange(0, CALLERS, step), which)
        lots.append(callers.of(fresh))
        which, points = np.append(which, fresh), np.vstack((points, _in_full(lots[-1], rows)))
        others, lost = _losses(points, rows, course)
        if others.sum() > FEW * CALLERS or lost.sum() > most * CALLERS:
            return _Full(tuple(rows), which, others, lost)
    rivals = _rivals(callers, rows, course)
    if rivals:
        others, lost = _losses(np.vstack([_in_full(lot, rows, rivals) for lot in lots]), (*rows, *rivals), course)
    return _Full((*rows, *rivals), which, others, lost)


def _rivals(callers: Prospects, rows: Sequence[int], course: Course) -> list[int]:
    """Candidates further down the list that come near the first one for some of the callers, the nearest first: by
    what the rules say to each of them of the figures as they are now, and by the figures of a few; whatever is further
    down than `FURTHER` by those of fewer."""
    further = [row for row in _within_reach(course) if row not in rows]
    behind = np.full(len(further), np.inf)
    for some, step in ((slice(None, FURTHER), LOTS[1]), (slice(FURTHER, None), LOTS[1] * FEWER)):
        if not further[some]:
            continue
        every, few = [*rows, *further[some]], callers.of(np.arange(0, CALLERS, step))
        found = [_points(few, every, few.figures(every, FEW_SPEEDS, FEW_SWEEP))]
        if step == LOTS[1]:
            columns = course.weighed.columns.items()
            as_now = {name: np.tile(values[every], (callers.size, 1)) for name, values in columns}
            found.append(_points(callers, every, as_now))
        points = np.maximum(np.vstack(found), -OUT)
        behind[some] = (points[:, : len(rows)].max(axis=1, keepdims=True) - points[:, len(rows) :]).min(axis=0)
    return [further[at] for at in np.argsort(behind, kind="stable")[:RIVALS] if behind[at] < NEAR]


def _within_reach(course: Course) -> list[int]:
    """The rows that were kept and those that are out for nothing but little power beside others, best first."""
    weighed = course.weighed
    little = {TOO_LITTLE.format(duty.name) for duty in course.now.duties}
    return weighed.order_for(weighed.points, weighed.kept_but_for(little))


def _points(callers: Prospects, rows: Sequence[int], figures: Mapping[str, Array]) -> Array:
    """Points (R, n) of the candidates, the strongest of the shop for them among the rows: none for a caller whose
    engine makes far more today, and is to make that, than all that are left for him."""
    points = callers.points(rows, figures)
    today = np.zeros(callers.size)
    for lot in callers.lots:
        if lot.now.power_today is not None:
            least = np.minimum(lot.now.power_today, lot.now.power_goal)
            today[lot.rows] = np.nan_to_num(np.broadcast_to(least, (lot.size, 1, 1))[lot.inverse, 0, 0])
    strong = np.isfinite(points) & (figures["power made"] >= ENOUGH * today[:, np.newaxis])
    return np.where(strong.any(axis=1, keepdims=True), points, -np.inf)


def _in_full(callers: Prospects, *rows: Sequence[int]) -> Array:
    """Points of some candidates, in lots that are matched by themselves."""
    found = [callers.figures(some, SPEEDS, SWEEP) for some in rows]
    figures = {name: np.hstack([one[name] for one in found]) for name in found[0]}
    return _points(callers, [row for some in rows for row in some], figures)


def _traced(course: Course, drawn: Mapping[str, Column], full: _Full, knowledge: Knowledge) -> dict[str, float]:
    """Points given away, over all callers, that are no longer when one answer is taken back: for each question."""
    traced = np.flatnonzero(full.others)[:TRACED]
    if not traced.size:
        return {}
    names = list(drawn)
    answers = {
        name: without(picked(values, np.tile(full.which[traced], len(names))), at * len(traced), len(traced))
        for at, (name, values) in enumerate(drawn.items())
    }
    again, _ = _losses(_in_full(prospects(course, answers, knowledge), full.rows), full.rows, course)
    undone = np.where(again, 0.0, np.tile(np.maximum(full.lost[traced], WORTH_A_QUESTION), len(names)))
    shares_of = undone.reshape(len(names), len(traced)).mean(axis=1) * float(full.others.mean())
    return dict(zip(names, shares_of.tolist(), strict=True))


@lru_cache(maxsize=64)
def influential(book: Same[Knowledge], read: frozenset[str]) -> frozenset[str]:
    """Facts that can move points: the figures read them (``read``), the rules that judge, the joints, or rules that
    set such facts."""
    reached = {*JOINTS, *read}
    for layer in book.it.layers("judge"):
        for rule in layer:
            reached |= facts_in(rule.when)
    stages: tuple[Stage, ...] = ("understand", "demand")
    early = [rule for stage in stages for layer in book.it.layers(stage) for rule in layer]
    while True:
        setting = (r for r in early if any(isinstance(a, SetFact | Assume) and a.fact in reached for a in r.then))
        more = {name for rule in setting for name in facts_in(rule.when)}
        if more <= reached:
            return frozenset(reached)
        reached |= more
