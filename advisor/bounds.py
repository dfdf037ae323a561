"""How far the advice holds, and the nearest change with which another turbo would be advised.

Whole grids of round figures are tried at once, on the first candidates only (`prospects`), so that a region that is
left and entered again is seen; what is said is then asked of the call itself with that one answer changed, so nothing
here can say other than the call would. At the figure named the advice is the same, at the next one on the grid it is
not. It is for the written recommendation and for who asks, not for every answer.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice, pairwise

import numpy as np
from numpy.typing import NDArray

from advisor import units
from advisor.course import Course, infer
from advisor.drawing import joined, picked, round_figures
from advisor.hearing.understood import value_words
from advisor.his_units import his_units, in_his_units
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda as find_agenda
from advisor.inference.facts import Column, coded, numbers
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import NOT_ENOUGH, Answer, Consultation, Hold, Switch
from advisor.outlook import contenders, effects_of, worth_of_knowing
from advisor.prospects import prospects
from advisor.units import Range

# How many facts the advice is followed along, and how many steps the grid has from the value to the end.
MOST_FACTS = 3
STEPS = 16
# Points of lead below which it is looked at once more between two steps, at so many figures.
THIN, CLOSER = 2.0, 6
MOST_SWITCHES = 4
# Candidates that a grid is tried with, and those of a turbo that is asked about.
RIVALS, OWN_ROWS = 10, 4
# What a caller can look up again or alter; what he tows and where he lives he can only be unsure of.
ALTERABLE = (
    "power goal",
    "boost wanted by",
    "exhaust size",
    "intercooler",
    "tune",
    "injector size",
    "injection pump",
    "manifold foot",
    "budget",
    "acceptable loss",
    "class rule",
)
IF_UNSURE = ("altitude", "summer temperature", "stock power", "trailer weight", "grade")
MOST_DECIMALS = 4
# From how far away on two changes at once are tried, and how much nearer than a single one two have to be.
WORTH_TWO, MUCH_NEARER = 0.4, 0.5
# How many changes are put together, at how many places of each grid, how many pairs are told, and how many places of a
# pair are asked of the call itself.
MOST_TOGETHER, COARSE, MOST_PAIRS, MOST_ASKED = 6, 4, 2, 4
Tried = tuple[str, Column]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A call that is asked again with other answers."""

    answers: dict[str, str]
    knowledge: Knowledge
    agenda: Agenda

    def best(self, *changed: tuple[str, str]) -> str | None:
        """The turbo advised with these answers (fact, words) instead; None where none is."""
        return _turbo(self.course(*changed))

    def course(self, *changed: tuple[str, str]) -> Course:
        answers = {**self.answers, **dict(changed)}
        return infer([Answer(*pair) for pair in answers.items()], self.knowledge, self.agenda)


def holds(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None) -> tuple[Hold, ...]:
    """Up to which values of the most influential figures that the caller gave the turbo advised stays the same; none
    while no turbo is advised."""
    call = _call(answers, knowledge, agenda)
    course = call.course()
    best = _turbo(course)
    if best is None:
        return ()
    given = {taken.name: taken.value for taken in course.now.taken if taken.name in call.answers}
    figures = [
        definition
        for name, value in given.items()
        if isinstance(value, Range) and _ends(definition := knowledge.vocabulary[name]) is not None
    ]
    moves = _moves(course, figures, knowledge)
    first = sorted(figures, key=lambda definition: (-moves[definition.name], definition.order))[:MOST_FACTS]
    rows = contenders(course, RIVALS)
    sides = [(definition, _side(definition, given[definition.name], end)) for definition in first for end in (-1, 1)]
    seen = _along(sides, best, course, rows, knowledge)
    closer = [(d, _thin(d, given[d.name], lead)) for (d, _), lead in zip(sides, seen, strict=True)]
    seen = [lead | more for lead, more in zip(seen, _along(closer, best, course, rows, knowledge), strict=True)]
    ends = []
    for (definition, grid), lead in zip(sides, seen, strict=True):
        every = sorted(lead, reverse=grid[-1:] < grid[:1])
        wins = [lead[figure] >= 0.0 for figure in every]
        ends.append(_end(definition, given[definition.name], every, wins, best, course, rows, call))
    pairs = zip(first, ends[::2], ends[1::2], strict=True)
    return tuple(_hold(definition, given[definition.name], low, high) for definition, low, high in pairs)


def switches(
    wanted: str, answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None
) -> tuple[Switch, ...]:
    """The nearest changes, in what the caller can look up or alter, with which another turbo would be advised: single
    ones, and two together where no single one does it or two are much nearer.

    wanted: code of a turbo or of a candidate, whose turbo is meant. The nearest first: how far a figure has to
    move, as a share of its usual range; another choice counts as half of it. Raises KeyError for an unknown code.
    """
    call = _call(answers, knowledge, agenda)
    course = call.course()
    turbo = _turbo_of(wanted, course)
    unsure = {taken.name for taken in course.now.taken if taken.basis == "assumed"}
    names = (*ALTERABLE, *(name for name in IF_UNSURE if name in unsure))
    changes = [change for name in names for change in _changes(name, course, call, name not in unsure)]
    rows = list(dict.fromkeys((*contenders(course, RIVALS), *_rows_of(turbo, course))))
    leads = _lead(course, [dict([change.column]) for change in changes], rows, turbo, knowledge)
    found: list[Switch] = []
    for change, lead in zip(changes, leads, strict=True):

        def won(at: int, change: _Change = change) -> bool:
            return call.best((change.fact, change.words[at])) == turbo

        at = next(filter(won, np.flatnonzero(lead >= 0.0).tolist()), None)
        while at and won(at - 1):
            at -= 1
        if at is not None:
            found.append(change.switch(turbo, at))
    found.sort(key=_nearest)
    nearest = found[0].distance if found else np.inf
    if nearest > WORTH_TWO:
        two = _two_at_once(turbo, changes, course, rows, call, nearest)
        found = [*two, *found] if found else two
    return tuple(found[:MOST_SWITCHES])


def _nearest(switch: Switch) -> tuple[float, str, str]:
    return switch.distance, switch.fact, switch.words


def _two_at_once(
    turbo: str,
    changes: Sequence["_Change"],
    course: Course,
    rows: Sequence[int],
    call: _Asked,
    nearest: float,
) -> list[Switch]:
    """Two changes together that are much nearer than the ``nearest`` single one; only the few that bring the turbo
    furthest forward are put together, on a coarse grid first and then closer to what stands now."""
    alone = _lead(course, [{change.fact: change.column[1]} for change in changes], rows, turbo, call.knowledge)
    useful = sorted(range(len(changes)), key=lambda at: -float(np.max(alone[at], initial=-np.inf)))[:MOST_TOGETHER]
    pairs = [(changes[a], changes[b]) for a, b in combinations(sorted(useful), 2) if changes[a].fact != changes[b].fact]
    coarse = [(_every(len(one.words)), _every(len(other.words))) for one, other in pairs]
    found: list[Switch] = []
    reach = MUCH_NEARER * nearest
    for one, other, at, beside in _won(pairs, coarse, course, rows, turbo, call.knowledge):
        if len(found) == MOST_PAIRS or one.far[at] + other.far[beside] >= reach:
            break
        if any({one.fact, other.fact} == {two.fact, *(more.fact for more in two.also)} for two in found):
            continue
        closer = [(list(range(at + 1)), list(range(beside + 1)))]
        near = _won([(one, other)], closer, course, rows, turbo, call.knowledge)
        for _, _, at, beside in islice(near, MOST_ASKED):
            if call.best((one.fact, one.words[at]), (other.fact, other.words[beside])) == turbo:
                whole = one.far[at] + other.far[beside]
                also = other.switch(turbo, beside)
                found.append(replace(one.switch(turbo, at), distance=whole, also=(also,)))
                break
    return sorted(found, key=_nearest)


def _won(
    pairs: Sequence[tuple["_Change", "_Change"]],
    places: Sequence[tuple[Sequence[int], Sequence[int]]],
    course: Course,
    rows: Sequence[int],
    turbo: str,
    knowledge: Knowledge,
) -> list[tuple["_Change", "_Change", int, int]]:
    """Of each pair of changes the places in the grids of both at which the turbo comes first, the nearest first."""
    tried, where = [], []
    for (one, other), (left, right) in zip(pairs, places, strict=True):
        crossed = [(at, beside) for at in left for beside in right]
        every = np.array(crossed, dtype=np.intp).reshape(-1, 2)
        tried.append({one.fact: picked(one.column[1], every[:, 0]), other.fact: picked(other.column[1], every[:, 1])})
        where.append((one, other, crossed))
    leads = _lead(course, tried, rows, turbo, knowledge)
    found = [
        (one, other, at, beside)
        for (one, other, crossed), lead in zip(where, leads, strict=True)
        for (at, beside), ahead in zip(crossed, lead.tolist(), strict=True)
        if ahead >= 0.0
    ]
    return sorted(found, key=lambda won: (won[0].far[won[2]] + won[1].far[won[3]], won[0].fact, won[1].fact))


def _every(count: int) -> list[int]:
    """A few places of a grid, evenly, the last one among them."""
    return sorted({round((step + 1) * count / COARSE) - 1 for step in range(COARSE)} - {-1})


def _lead(
    course: Course, tried: Sequence[dict[str, Column]], rows: Sequence[int], turbo: str, knowledge: Knowledge
) -> list[NDArray[np.float64]]:
    """By how many points the turbo leads the others among some candidates, for the callers of each lot (-inf where it
    is ruled out)."""
    sizes = [len(next(iter(lot.values()))) for lot in tried]
    if not sum(sizes):
        return [np.zeros(0) for _ in sizes]
    callers = prospects(course, joined(tried, sizes), knowledge)
    points = callers.points(rows, callers.as_alone(rows))
    own = np.array([course.weighed.turbo(row) == turbo for row in rows])
    mine, others = (points[:, kept].max(axis=1, initial=-np.inf) for kept in (own, ~own))
    lead = np.full(len(mine), -np.inf)
    np.subtract(mine, others, out=lead, where=np.isfinite(mine))
    return np.split(lead, np.cumsum(sizes)[:-1])


def followed(
    outcome: Consultation, answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None
) -> Consultation:
    """The consultation with how far its advice holds and, where another part was asked for, what would change that."""
    if outcome.recommended is None:
        return outcome
    wished = outcome.requested
    asked_for = "" if wished is None or outcome.requested_is == "right" else wished.code
    told = replace(
        outcome,
        holds=holds(answers, knowledge, agenda),
        switches=switches(asked_for, answers, knowledge, agenda) if asked_for else (),
    )
    return in_his_units(told, his_units(outcome.understood, knowledge.vocabulary), knowledge.vocabulary)


def _moves(course: Course, figures: Sequence[FactDef], knowledge: Knowledge) -> dict[str, float]:
    """Points by which knowing each of these facts betters the choice, were they not known."""
    rows = contenders(course)
    if len(rows) < 2 or not figures:
        return dict.fromkeys((definition.name for definition in figures), 0.0)
    usual, effects = effects_of(course, figures, rows, knowledge)
    return worth_of_knowing(usual, {name: (chance, effect) for name, (_, chance, effect) in effects.items()})


def _call(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None) -> _Asked:
    return _Asked({answer.fact: answer.words for answer in answers}, knowledge, agenda or find_agenda("reference"))


def _turbo(course: Course) -> str | None:
    if course.best is None or course.verdict == NOT_ENOUGH or course.now.missing:
        return None
    return course.weighed.turbo(course.best)


def _turbo_of(wanted: str, course: Course) -> str:
    codes = course.weighed.candidates.codes
    if wanted in codes:
        return course.weighed.turbo(codes.index(wanted))
    if any(combination.turbo.code == wanted for combination in course.weighed.candidates.combinations):
        return wanted
    raise KeyError(wanted)


def _ends(definition: FactDef) -> Range | None:
    return definition.prior or definition.plausible


def _middle(definition: FactDef) -> Range:
    ends = _ends(definition)
    middle = definition.typical if definition.typical is not None else ends.mid if ends is not None else 0.0
    return Range(middle, middle)


def _words(definition: FactDef, figure: float) -> str:
    """A figure of the grid as an answer, with as many decimals as it has."""
    exact = (count for count in range(MOST_DECIMALS) if abs(round(figure, count) - figure) < 1e-9)
    decimals = next(exact, MOST_DECIMALS)
    value = units.to_si(figure, definition.unit, definition.quantity)
    return units.show(value, definition.unit, definition.quantity, decimals)


def _first_other(wins: Sequence[bool], confirmed: Callable[[int], bool]) -> int:
    """Index of the first figure of a grid that no longer wins, its length where all do. What the first candidates say
    (``wins``) is asked of the call itself (``confirmed``), and of the figures next to it where that knows better."""
    at = next((place for place, won in enumerate(wins) if not won), len(wins))
    while at > 0 and not confirmed(at - 1):
        at -= 1
    while at < len(wins) and confirmed(at):
        at += 1
    return at


def _numbers(definition: FactDef, grid: Sequence[float]) -> Tried:
    """Figures of a grid as answers of so many callers."""
    values = [units.to_si(figure, definition.unit, definition.quantity) for figure in grid]
    return definition.name, numbers(np.asarray(values, dtype=np.float64))


def _along(
    sides: Sequence[tuple[FactDef, Sequence[float]]],
    turbo: str,
    course: Course,
    rows: Sequence[int],
    knowledge: Knowledge,
) -> list[dict[float, float]]:
    """By how many points the turbo leads the others at each figure of each side."""
    tried = [dict([_numbers(definition, figures)]) for definition, figures in sides]
    leads = _lead(course, tried, rows, turbo, knowledge)
    return [dict(zip(figures, lead.tolist(), strict=True)) for (_, figures), lead in zip(sides, leads, strict=True)]


def _thin(definition: FactDef, value: Range | str, lead: Mapping[float, float]) -> list[float]:
    """More figures of a side where, before the turbo is beaten, its lead is so thin that it may be beaten between."""
    assert isinstance(value, Range)
    made: list[float] = []
    steps = [(units.from_si(value.mid, definition.unit, definition.quantity), np.inf), *lead.items()]
    for (start, before), (end, after) in pairwise(steps):
        if after < 0.0:
            break
        if min(before, after) < THIN:
            low, high = (units.to_si(figure, definition.unit, definition.quantity) for figure in (start, end))
            made += round_figures(definition, low, high, CLOSER)
    return made


def _side(definition: FactDef, value: Range | str, sign: int) -> list[float]:
    """The grid from a value to one end of what is usual."""
    ends = _ends(definition)
    assert isinstance(value, Range)
    assert ends is not None
    end = min(ends.low, value.mid) if sign < 0 else max(ends.high, value.mid)
    return round_figures(definition, value.mid, end, STEPS)


def _end(
    definition: FactDef,
    value: Range | str,
    grid: list[float],
    wins: Sequence[bool],
    best: str,
    course: Course,
    rows: Sequence[int],
    call: _Asked,
) -> tuple[float, str]:
    """(last figure that holds, SI; the turbo advised at the next one, "" where it holds to the end)."""
    assert isinstance(value, Range)
    others: dict[float, str | None] = {}

    def end(figures: Sequence[float], wins: Sequence[bool]) -> int:
        def confirmed(at: int) -> bool:
            if figures[at] not in others:
                others[figures[at]] = call.best((definition.name, _words(definition, figures[at])))
            return others[figures[at]] == best

        return _first_other(wins, confirmed)

    at = next((place for place, won in enumerate(wins) if not won), len(wins))
    if 0 < len(grid) > at:  # once more between the last figure that holds and the next
        start = units.to_si(grid[at - 1], definition.unit, definition.quantity) if at > 0 else value.mid
        other = units.to_si(grid[at], definition.unit, definition.quantity)
        between = round_figures(definition, start, other, STEPS)
        (finer,) = _along([(definition, between)], best, course, rows, call.knowledge)
        figures = [*grid[:at][-1:], *between]
        found = end(figures, [True] * (len(figures) - len(between)) + [lead >= 0.0 for lead in finer.values()])
        if (found > 0 or at == 0) and found < len(figures):
            si = units.to_si(figures[found - 1], definition.unit, definition.quantity) if found > 0 else value.mid
            return si, others[figures[found]] or "nothing"
    at = end(grid, wins)
    si = units.to_si(grid[at - 1], definition.unit, definition.quantity) if at > 0 and grid else value.mid
    return si, "" if at == len(grid) else others[grid[at]] or "nothing"


def _hold(definition: FactDef, value: Range | str, low: tuple[float, str], high: tuple[float, str]) -> Hold:
    assert isinstance(value, Range)
    over = Range(low[0], high[0])
    return Hold(definition.name, definition.quantity, definition.unit, value, over, low[1], high[1])


@dataclass(frozen=True, slots=True)
class _Change:
    """Other answers to one question, the nearest first: as columns and in words, with what stands now, how far each
    is away in words, and as a share of the usual range."""

    fact: str
    column: Tried
    words: Sequence[str]
    now: str
    margins: Sequence[str]
    far: Sequence[float]

    def switch(self, turbo: str, at: int) -> Switch:
        """The change to one of its answers, with which this turbo wins."""
        return Switch(turbo, self.fact, self.words[at], self.now, self.margins[at], self.far[at])


def _changes(name: str, course: Course, call: _Asked, sure: bool) -> Iterator[_Change]:
    definition = call.knowledge.vocabulary.get(name)
    if definition is None:
        return
    fact = course.last.facts.get(name)
    value = fact.value if fact is not None else None
    said = name in call.answers and sure
    if definition.kind == "choice":
        stands = value if isinstance(value, str) else ""
        for choice in definition.choice_names:
            if choice != stands:
                yield _Change(name, (name, coded([choice])), [choice], _as_it_stands(stands, said), [""], [0.5])
    elif definition.kind == "number" and (ends := _ends(definition)) is not None:
        start = value if isinstance(value, Range) else _middle(definition)
        for end in _sides(ends, start.mid):
            grid = round_figures(definition, start.mid, end, STEPS)
            away = [abs(units.to_si(figure, definition.unit, definition.quantity) - start.mid) for figure in grid]
            yield _Change(
                name,
                _numbers(definition, grid),
                [_words(definition, figure) for figure in grid],
                _as_it_stands(value_words(start, definition), said),
                [units.show_difference(far, definition.unit, definition.quantity) for far in away],
                [far / (ends.high - ends.low) for far in away],
            )


def _rows_of(turbo: str, course: Course) -> list[int]:
    """The best of a turbo's candidates, ruled out or not."""
    own = [row for row in range(len(course.weighed.candidates)) if course.weighed.turbo(row) == turbo]
    return sorted(own, key=lambda row: (-float(course.weighed.points[row]), row))[:OWN_ROWS]


def _as_it_stands(now: str, said: bool) -> str:
    if said or not now:
        return now or "not said"
    return f"{now}, as is assumed"


def _sides(ends: Range, middle: float) -> Iterable[float]:
    return (end for end, out in ((ends.low, ends.low < middle), (ends.high, ends.high > middle)) if out)
