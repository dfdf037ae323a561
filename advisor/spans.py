"""The turbos that are told, over the ranges that the caller gave.

"12,000 to 16,000 lb", "about 35" and "not sure" (then the usual range) stand for many callers. All candidates are
matched at the middle; the few that are told are matched and judged, by every stage, for callers within his ranges,
each exactly as a call with those figures: at the middle, at both ends of each range, along those ranges that decide
something alone, all over between, and at the corners where figures have their extremes. What holds for all of them is
so, what holds for none isn't, and the rest is open. Which turbo is advised stays as it is at the middle.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.course import MATCH_VERDICT, Course, beside_the_best
from advisor.drawing import picked, round_figures
from advisor.fuelling import FUEL_FACTS
from advisor.inference.agenda import Firing
from advisor.inference.facts import Column, Fact, FactBase, Numbers, Value, coded, column, numbers, same
from advisor.inference.stage import run_stage
from advisor.knowledge import Knowledge
from advisor.knowledge.closest import nearest
from advisor.knowledge.rules import RuleOut
from advisor.matched import choke_shares
from advisor.matching.inputs import Array, Bools, IntArray
from advisor.matching.rank import HARD_LIMITS, NOT_SOLVED
from advisor.matching.uncertainty import HIGH, LOW, hypercube
from advisor.prospects import FIRES, Prospects, cannot_be_bolted_on, judged, opened
from advisor.requested import asked_of
from advisor.situation import NOT_SURE, Situation, spreads_of
from advisor.supplied import ON_IT
from advisor.units import Range, to_si
from advisor.weighing import NO_FOOT, Uncertain, Weighed, uncertain

# Callers drawn all over the ranges, and figures tried along a range that decides something alone.
DRAWN, ALONG = 65, 8
# Stretches of ranges that are looked at once more between two figures.
CELLS = 12
# Corners at which figures of the candidates told have their extremes, at most.
CORNERS = 32
# Share of its spread by which a figure has to move from the middle to an end before the end counts for the corners.
MOVED = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class Spans:
    """C callers within what he gave, the first at the middle of it all, and n candidates, the best one first.

    given     his ranges (SI) by fact, in the order of ``at``
    at        where each caller stands in each range, 0 to 1, (C, k)
    drawn     those who lie all over the ranges, evenly
    figures   figures of the match by name, (C, n), NaN where none is reached
    known     the number facts of each caller and of the best candidate for him, (C,)
    fires     the rules that fire for the best candidate of some of them, each with those (C,)
    firings   the same as they fired
    out       what rules out a candidate, a rule or a hard limit: (C, n)
    points    what each candidate comes to, -inf where it is out, (C, n)
    """

    given: Mapping[str, Range]
    at: Array
    drawn: IntArray
    rows: tuple[int, ...]
    figures: Mapping[str, Array]
    known: Mapping[str, Array]
    fires: Mapping[str, Bools]
    firings: Mapping[str, Firing]
    out: Mapping[str, Bools]
    points: Array

    @property
    def open(self) -> list[Bools]:
        """What holds for some of the callers only (C,): that a rule fires, that a candidate is out."""
        outs = (self.ruled_out(row) for row in self.rows)
        return [holds for holds in (*self.fires.values(), *outs) if sign_of(holds) == 0]

    def ruled_out(self, row: int) -> Bools:
        """For which of the callers (C,) a rule or a hard limit rules out a candidate."""
        place = self.rows.index(row)
        return np.asarray(np.any([mask[:, place] for mask in self.out.values()], axis=0), dtype=bool)

    def sign(self, rule: str) -> int:
        """1 where a rule fires for the best candidate over all of his ranges, -1 where it never does, 0 where that is
        open."""
        fires = self.fires.get(rule)
        return -1 if fires is None else sign_of(fires)

    def over(self, name: str, row: int) -> Range | None:
        """The figure of a candidate over his ranges, None where it is not reached everywhere or never moves."""
        if row not in self.rows or name not in self.figures:
            return None
        return _span(self.figures[name][:, self.rows.index(row)])

    def over_all(self, name: str) -> Range | None:
        """A number fact of the call over his ranges, None where it never moves."""
        return _span(self.known[name]) if name in self.known else None

    def facts_over(self, where: Bools, base: FactBase, knowledge: Knowledge) -> FactBase:
        """The facts of a call, figures as they lie with the best candidate for some of the callers (C,)."""
        wide = []
        for name, values in self.known.items():
            fact, definition = base.get(name), knowledge.vocabulary.get(name)
            computed = definition is not None and definition.source in ("computed", "candidate")
            if fact is not None and computed and (span := _span(values[where])) is not None:
                wide.append(replace(fact, value=span))
        return base.with_facts(wide)

    def alone(self, holds: Bools) -> list[tuple[int, list[tuple[float, bool]]]]:
        """The ranges that decide something (C,) alone, those that matter most to it first: the number of each, and
        whether it holds at the places along it (0 to 1), all else at the middle."""
        found = []
        for number in range(self.at.shape[1]):
            others = np.delete(self.at, number, axis=1)
            line = np.setdiff1d(np.flatnonzero((others == 0.5).all(axis=1)), self.drawn[1:])
            line = line[np.argsort(self.at[line, number], kind="stable")]
            along = dict(zip(self.at[line, number].tolist(), holds[line].tolist(), strict=True))
            if len(set(along.values())) > 1:
                found.append((number, list(along.items())))
        pull = self.pull(holds)
        return sorted(found, key=lambda one: -abs(pull[one[0]]))

    def pull(self, holds: Bools) -> Array:
        """How much higher in each range (k,) those lie for whom something holds than those for whom it doesn't."""
        if sign_of(holds) != 0:
            return np.zeros(self.at.shape[1])
        return np.asarray(self.at[holds].mean(axis=0) - self.at[~holds].mean(axis=0))

    def share(self, holds: Bools) -> float:
        """The share of his ranges in which something holds."""
        return float(holds[self.drawn].mean())


def sign_of(holds: Bools) -> int:
    """1 where it holds for all, -1 where for none, 0 for some."""
    return 1 if holds.all() else 0 if holds.any() else -1


def _span(values: Array) -> Range | None:
    if not np.isfinite(values).all():
        return None
    span = Range(float(values.min()), float(values.max()))
    return None if same(span, Range(span.low, span.low)) else span


def given(course: Course) -> dict[str, Range]:
    """The ranges that the caller gave, and the usual ones where he was not sure: of fuel only where his fuel counts."""
    return {
        name: fact.value
        for name, fact in course.opening.said.items()
        if isinstance(fact.value, Range)
        and not fact.value.exact
        and (course.now.fuel_limited or name not in FUEL_FACTS or fact.origin.source != NOT_SURE)
    }


@lru_cache(maxsize=4)
def told_over(course: Course, knowledge: Knowledge) -> Spans | None:
    """The turbo advised and the one asked for over the caller's ranges, as ``spans``: what a script holds of them."""
    rows = dict.fromkeys((course.best, course.weighed.requested))
    return None if course.best is None else spans(course, [row for row in rows if row is not None], knowledge)


def spans(course: Course, rows: Sequence[int], knowledge: Knowledge) -> Spans | None:
    """The candidates ``rows``, the best one first, over the caller's ranges; None where he gave none, or where no
    turbo is advised."""
    ranges = given(course)
    if not ranges or course.best is None or course.now.missing:
        return None
    count = len(ranges)
    cube = hypercube(DRAWN, count, seed=0)
    ends = np.full((2 * count, count), 0.5)
    ends[np.arange(count), np.arange(count)] = 0.0
    ends[count + np.arange(count), np.arange(count)] = 1.0
    drawn = np.arange(DRAWN)
    first = _among(course, ranges, np.vstack([cube, ends]), drawn, rows, knowledge)
    found = _with(first, np.vstack([_corners(first), _along(first, knowledge)]), course, knowledge)
    return _with(found, _between(found, knowledge), course, knowledge)


def _with(found: Spans, more: Array, course: Course, knowledge: Knowledge) -> Spans:
    """The same with callers at more places."""
    if not len(more):
        return found
    return _both(found, _among(course, found.given, more, found.drawn[:0], found.rows, knowledge))


def _corners(found: Spans) -> Array:
    """Corners of the ranges at which some figure of some candidate is highest or lowest, were it to rise or fall
    steadily: (corners, k)."""
    count = found.at.shape[1]
    if count < 2:
        return np.zeros((0, count))
    lows, highs = (DRAWN + half * count + np.arange(count) for half in (0, 1))
    kinds: dict[bytes, Array] = {}
    for place in range(len(found.rows)):
        for values in found.figures.values():
            own = values[:, place]
            if values.dtype == bool or not np.isfinite(own).all():
                continue
            rise = own[highs] - own[lows]
            corner = np.where(np.abs(rise) <= MOVED * max(np.ptp(own), 1e-12), 0.5, np.where(rise > 0.0, 1.0, 0.0))
            for each in (corner, 1.0 - corner):
                if (each != 0.5).sum() > 1:
                    kinds.setdefault(each.tobytes(), each)
    return np.asarray(list(kinds.values())[:CORNERS]).reshape(-1, count)


def _along(found: Spans, knowledge: Knowledge) -> Array:
    """Round figures along each range that decides something alone, all else at the middle: (places, k)."""
    deciding = sorted({number for holds in found.open for number, _ in found.alone(holds)})
    return _rounded(found, [(number, 0.0, 1.0) for number in deciding], knowledge)


def _between(found: Spans, knowledge: Knowledge) -> Array:
    """Round figures between two neighbours on such a range of which something holds for one only: (places, k)."""
    cells: dict[tuple[int, float, float], None] = {}
    for holds in found.open:
        for number, along in found.alone(holds):
            for (low, so), (high, other) in pairwise(along):
                if so != other:
                    cells[number, low, high] = None
    return _rounded(found, list(cells)[:CELLS], knowledge)


def _rounded(found: Spans, stretches: Sequence[tuple[int, float, float]], knowledge: Knowledge) -> Array:
    """Round figures on stretches of some ranges (number, from, to), ends left out, all else at the middle."""
    count, places = found.at.shape[1], []
    for number, low, high in stretches:
        name, span = list(found.given.items())[number]
        definition, width = knowledge.vocabulary[name], span.high - span.low
        for figure in round_figures(definition, span.low + low * width, span.low + high * width, ALONG):
            at = (to_si(figure, definition.unit, definition.quantity) - span.low) / width
            if low < at < high:
                places.append(np.where(np.arange(count) == number, at, 0.5))
    return np.asarray(places).reshape(-1, count)


def _among(
    course: Course, ranges: Mapping[str, Range], at: Array, drawn: IntArray, rows: Sequence[int], knowledge: Knowledge
) -> Spans:
    """What becomes of the candidates for callers at these places in his ranges (C, k)."""
    at = _whole(at, ranges, knowledge)
    said: dict[str, Column] = {
        name: numbers(span.low + (span.high - span.low) * at[:, number])
        for number, (name, span) in enumerate(ranges.items())
    }
    callers, early = opened(course, said, knowledge)
    figures = callers.as_alone(rows)
    size, count = len(at), len(rows)
    found = judged(callers, figures, np.asarray(rows, dtype=np.int64))
    firings = {firing.rule: firing for firing in early}
    fires = {firing.rule: firing.among(size) for firing in early}
    out = {}
    for firing in found.firings:
        mask = firing.among(size * count).reshape(size, count)
        firings[firing.rule], fires[firing.rule] = firing, mask[:, 0]
        if any(isinstance(action, RuleOut) for action in knowledge.rule(firing.rule).then):
            out[firing.rule] = mask
    out |= {limit: figures[name] < 0.0 for name, limit in HARD_LIMITS.items()}
    out[NO_FOOT] = cannot_be_bolted_on(found.facts).reshape(size, count)
    out[NOT_SOLVED] = figures["solved"] < 0.5
    about = _of_the_best(found.facts, figures, rows, callers)
    advised = run_stage("advise", knowledge, about, FIRES)
    firings |= {firing.rule: firing for firing in advised.firings}
    fires |= {firing.rule: firing.among(size) for firing in advised.firings}
    told = {name: values.low for name, values in about.columns.items() if isinstance(values, Numbers)}
    points = callers.points(rows, figures, found)
    return Spans(ranges, at, drawn, tuple(rows), figures, told, fires, firings, out, points)


def _whole(at: Array, ranges: Mapping[str, Range], knowledge: Knowledge) -> Array:
    """Places in ranges (C, k), those of what is counted at whole numbers; the middle is what the call takes."""
    made = at.copy()
    for number, (name, span) in enumerate(ranges.items()):
        if knowledge.vocabulary[name].quantity == "count":
            counted = np.round(span.low + (span.high - span.low) * at[:, number])
            places = np.clip((counted - span.low) / (span.high - span.low), 0.0, 1.0)
            made[:, number] = np.where(at[:, number] == 0.5, 0.5, places)
    return made


def _of_the_best(judged_: FactBase, figures: Mapping[str, Array], rows: Sequence[int], callers: Prospects) -> FactBase:
    """The facts with which the stage ``advise`` speaks of the first candidate, for each caller."""
    course, requested, knowledge = callers.course, callers.course.weighed.requested, callers.knowledge
    columns = {name: picked(values, np.arange(0, len(values), len(rows))) for name, values in judged_.columns.items()}
    goal = columns["crank goal"]
    assert isinstance(goal, Numbers)
    share = figures["power made"] / goal.low[:, None]
    share = np.where(np.isfinite(share), share, 0.0)
    beside: dict[str, Column] = {"goal share": numbers(share[:, 0])}
    middle: dict[str, Value] = {"request verdict": course.compared}
    if requested is not None and requested in rows:
        pair = [0, rows.index(requested)]
        own = {name: values[:, pair] for name, values in figures.items()}
        points = callers.points([rows[0], requested], own)
        behind = [float(best - its) if np.isfinite(its) else None for best, its in points]
        compared = [
            beside_the_best(course.weighed, rows[0], requested, less, most)
            for less, most in zip(behind, share[:, pair].max(axis=1).tolist(), strict=True)
        ]
        beside["requested spool rpm"] = numbers(own["spool rpm"][:, 1])
        beside["request verdict"] = coded(compared)
        beside["request stands"] = column(np.asarray([less is not None for less in behind]))
        del middle["request verdict"]
    rated = judged_.value("fuel stage") == "stock"
    for name in ("power now", "stock power")[: 1 + rated]:
        if name in columns and judged_.value("power now") is None:
            beside.setdefault("power today", _at_the_crank(columns[name], name, course))
    if "power today" not in beside and (today := course.last.facts.value("power today")) is not None:
        middle["power today"] = today
    steady = ("shop lacks", "cooler on the grade", "cheaper choice", "requested groove", *ON_IT)
    middle |= {name: fact.value for name in steady if (fact := course.last.facts.get(name)) is not None}
    closest = nearest(knowledge.catalogue.candidates(), asked_of(course.opening.request))
    air, ratio = columns["corrected air flow"], columns["pressure ratio needed"]
    if closest is not None and isinstance(air, Numbers) and isinstance(ratio, Numbers):
        beside["requested air flow share"] = numbers(choke_shares(knowledge, closest.indices[0], air.low, ratio.low))
    facts = FactBase(judged_.facts, columns, judged_.origins, judged_.disputed)
    facts = facts.with_facts(Fact(name, value, MATCH_VERDICT) for name, value in middle.items())
    return facts.with_columns(beside, MATCH_VERDICT)


def _at_the_crank(power: Column, name: str, course: Course) -> Column:
    """What the engine makes today at the crank, of a fact that tells it where it was measured."""
    told, today = course.last.facts.value(name), course.now.power_today
    if name != "power now" or today is None or not isinstance(told, Range) or not isinstance(power, Numbers):
        return power
    to_crank = float(today) / told.mid
    return numbers(to_crank * power.low, to_crank * power.high)


def _both(one: Spans, other: Spans) -> Spans:
    """The callers of both, those of one before those of the other."""

    def stacked(mine: Mapping[str, NDArray[Any]], theirs: Mapping[str, NDArray[Any]], absent: Any) -> dict[str, Any]:
        """Arrays by name one below the other; what one of them lacks is ``absent`` there."""
        made = {}
        for name in (*mine, *(name for name in theirs if name not in mine)):
            pair = [mine.get(name), theirs.get(name)]
            shape = next(values.shape[1:] for values in pair if values is not None)
            sizes = (len(one.at), len(other.at))
            made[name] = np.concatenate(
                [np.full((size, *shape), absent) if v is None else v for v, size in zip(pair, sizes, strict=True)]
            )
        return made

    return replace(
        one,
        at=np.vstack([one.at, other.at]),
        figures=stacked(one.figures, other.figures, np.nan),
        known=stacked(one.known, other.known, np.nan),
        fires=stacked(one.fires, other.fires, False),
        firings={**other.firings, **one.firings},
        out=stacked(one.out, other.out, False),
        points=np.vstack([one.points, other.points]),
    )


def banded(
    found: Spans | None, situation: Situation, weighed: Weighed, rows: Sequence[int], knowledge: Knowledge
) -> Uncertain:
    """The bands of the figures with what his ranges add, every place in them as likely: independent uncertainties add
    in squares (JCGM 100:2008, 5.1.2, from memory), below the figure and above it."""
    spread = uncertain(situation, weighed, rows, knowledge)
    if found is None:
        return spread
    taken = {one.name: one for one in situation.taken if one.name not in found.given}
    assumed = replace(situation, spreads=spreads_of(taken, knowledge.vocabulary))
    bare = uncertain(assumed, weighed, rows, knowledge)
    low, high = dict(bare.low), dict(bare.high)
    for name in bare.low.keys() & found.figures.keys():
        low[name], high[name] = low[name].copy(), high[name].copy()
        for place, row in enumerate(found.rows):
            at, own = rows.index(row), found.figures[name][:, place]
            drawn = np.where(np.isfinite(own), own, np.inf)[found.drawn]
            least, most = np.quantile(drawn, (LOW, HIGH), method="nearest")
            if np.isfinite(own[0]):
                floor = 0.0 if min(low[name][at], least) >= 0.0 else -np.inf
                low[name][at] = max(own[0] - np.hypot(own[0] - low[name][at], own[0] - least), floor)
                high[name][at] = own[0] + np.hypot(high[name][at] - own[0], most - own[0])
    return replace(spread, low=low, high=high)
