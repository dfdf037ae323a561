"""How far the advice holds, and the nearest change with which another turbo would be advised.

Both ask the stages of a call again with one answer changed, so nothing here can say other than the call itself
would. A boundary is looked for on a grid of round figures by halving: at the figure named the advice is the same, at
the next one on the grid it is not. That takes dozens of matches: it is for the written recommendation and for who
asks, not for every answer.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor, log10

from advisor import units
from advisor.course import NOT_ENOUGH, Course, infer
from advisor.hearing import value_words
from advisor.inference.agenda import Agenda
from advisor.inference.agenda import agenda as find_agenda
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import Answer, Consultation, Hold, Switch
from advisor.questions import influence
from advisor.units import Range

# How many facts the advice is followed along, and how many steps the grid has from the value to the end.
MOST_FACTS = 3
STEPS = 16
MOST_SWITCHES = 4
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


@dataclass(frozen=True, slots=True)
class _Asked:
    """A call that is asked again with other answers."""

    answers: dict[str, str]
    knowledge: Knowledge
    agenda: Agenda

    def best(self, fact: str = "", words: str = "") -> str | None:
        """The turbo advised with one answer changed; None where none is."""
        return _turbo(self.course(fact, words))

    def course(self, fact: str = "", words: str = "") -> Course:
        changed = {**self.answers, fact: words} if fact else self.answers
        return infer([Answer(*pair) for pair in changed.items()], self.knowledge, self.agenda)


def holds(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None) -> tuple[Hold, ...]:
    """Up to which values of the most influential figures that the caller gave the turbo advised stays the same; none
    while no turbo is advised."""
    call = _call(answers, knowledge, agenda)
    course = call.course()
    best = _turbo(course)
    if best is None:
        return ()
    given = {taken.name: taken.value for taken in course.now.taken if taken.name in call.answers}
    numbers = [
        definition
        for name, value in given.items()
        if isinstance(value, Range) and _ends(definition := knowledge.vocabulary[name]) is not None
    ]
    moves = influence(course.last.facts, course.now, course.weighed, numbers, knowledge)
    first = sorted(numbers, key=lambda definition: (-moves[definition.name], definition.order))[:MOST_FACTS]
    return tuple(_hold(definition, given[definition.name], best, call) for definition in first)


def switches(
    wanted: str, answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None
) -> tuple[Switch, ...]:
    """The nearest single changes, in what the caller can look up or alter, with which another turbo would be advised.

    wanted: code of a turbo or of a candidate, whose turbo is meant. The nearest first: how far a figure has to
    move, as a share of its usual range; another choice counts as half of it. Raises KeyError for an unknown code.
    """
    call = _call(answers, knowledge, agenda)
    course = call.course()
    turbo = _turbo_of(wanted, course)
    unsure = {taken.name for taken in course.now.taken if taken.basis == "assumed"}
    found: list[Switch] = []
    for name in (*ALTERABLE, *(name for name in IF_UNSURE if name in unsure)):
        definition = knowledge.vocabulary.get(name)
        if definition is None:
            continue
        fact = course.last.facts.get(name)
        now = fact.value if fact is not None else None
        said = name in call.answers and name not in unsure
        if definition.kind == "choice":
            found += _choice_switches(definition, now if isinstance(now, str) else "", said, turbo, call)
        elif definition.kind == "number" and _ends(definition):
            start = now if isinstance(now, Range) else _middle(definition)
            found += _number_switches(definition, start, said, turbo, call)
    return tuple(sorted(found, key=lambda switch: (switch.distance, switch.fact, switch.words))[:MOST_SWITCHES])


def followed(
    outcome: Consultation, answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None
) -> Consultation:
    """The consultation with how far its advice holds and, where another part was asked for, what would change that."""
    if outcome.recommended is None:
        return outcome
    wished = outcome.requested
    asked_for = "" if wished is None or outcome.requested_is == "right" else wished.code
    return replace(
        outcome,
        holds=holds(answers, knowledge, agenda),
        switches=switches(asked_for, answers, knowledge, agenda) if asked_for else (),
    )


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


def _grid(definition: FactDef, start: float, end: float) -> list[float]:
    """Round figures in the shop's unit from the one next to ``start`` to the one next to ``end`` (not past it)."""
    first, last = (units.from_si(value, definition.unit, definition.quantity) for value in (start, end))
    width = abs(last - first)
    if width <= 0.0:
        return []
    decade = 10.0 ** floor(log10(width / STEPS))
    step = next(size * decade for size in (1.0, 2.0, 5.0, 10.0) if size * decade >= width / STEPS)
    sign = 1.0 if last > first else -1.0
    at = floor(sign * first / step + 1e-9) + 1
    figures = []
    while at * step <= sign * last + 1e-9 * step:
        figures.append(sign * at * step)
        at += 1
    return figures


def _words(definition: FactDef, figure: float) -> str:
    """A figure of the grid as an answer, with as many decimals as it has."""
    exact = (count for count in range(MOST_DECIMALS) if abs(round(figure, count) - figure) < 1e-9)
    decimals = next(exact, MOST_DECIMALS)
    value = units.to_si(figure, definition.unit, definition.quantity)
    return units.show(value, definition.unit, definition.quantity, decimals)


def _boundary(grid: Sequence[float], same: Callable[[float], bool]) -> int:
    """Index of the first figure of the grid at which ``same`` no longer holds, by halving; its length where it
    holds at the end."""
    if not grid or same(grid[-1]):
        return len(grid)
    low, high = -1, len(grid) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if same(grid[middle]) else (low, middle)
    return high


def _hold(definition: FactDef, value: Range | str, best: str, call: _Asked) -> Hold:
    assert isinstance(value, Range)
    ends = _ends(definition)
    assert ends is not None

    def side(end: float) -> tuple[float, str]:
        """(last figure that holds, SI; the turbo advised at the next one, "" where it holds to the end)."""
        others: dict[float, str | None] = {}

        def same(figure: float) -> bool:
            others[figure] = call.best(definition.name, _words(definition, figure))
            return others[figure] == best

        grid = _grid(definition, value.mid, end)
        at = _boundary(grid, same)
        if at == 0 and grid:  # nearer than one step: once more between here and there
            grid = _grid(definition, value.mid, units.to_si(grid[0], definition.unit, definition.quantity))
            at = _boundary(grid, same)
        last = grid[at - 1] if at > 0 and grid else None
        si = value.mid if last is None else units.to_si(last, definition.unit, definition.quantity)
        return si, "" if at == len(grid) else others[grid[at]] or "nothing"

    (low, below), (high, above) = side(min(ends.low, value.mid)), side(max(ends.high, value.mid))
    return Hold(definition.name, definition.quantity, definition.unit, value, Range(low, high), below, above)


def _choice_switches(definition: FactDef, now: str, said: bool, turbo: str, call: _Asked) -> Iterator[Switch]:
    for name in definition.choice_names:
        if name != now and call.best(definition.name, name) == turbo:
            yield Switch(turbo, definition.name, name, _as_it_stands(now, said), "", 0.5)


def _as_it_stands(now: str, said: bool) -> str:
    if said or not now:
        return now or "not said"
    return f"{now}, as is assumed"


def _number_switches(definition: FactDef, now: Range, said: bool, turbo: str, call: _Asked) -> Iterator[Switch]:
    ends = _ends(definition)
    assert ends is not None
    for end in _sides(ends, now.mid):
        grid = _grid(definition, now.mid, end)
        wins = {figure: call.best(definition.name, _words(definition, figure)) == turbo for figure in _probes(grid)}
        first = next((figure for figure, won in wins.items() if won), None)
        if first is None:
            continue
        upto = grid.index(first)
        start = max((grid.index(figure) + 1 for figure in wins if grid.index(figure) < upto), default=0)

        def loses(figure: float) -> bool:
            return call.best(definition.name, _words(definition, figure)) != turbo

        figure = grid[start + _boundary(grid[start : upto + 1], loses)]
        value = units.to_si(figure, definition.unit, definition.quantity)
        yield Switch(
            turbo,
            definition.name,
            _words(definition, figure),
            _as_it_stands(value_words(now, definition), said),
            units.show_difference(abs(value - now.mid), definition.unit, definition.quantity),
            abs(value - now.mid) / (ends.high - ends.low),
        )


def _sides(ends: Range, middle: float) -> Iterable[float]:
    return (end for end, out in ((ends.low, ends.low < middle), (ends.high, ends.high > middle)) if out)


def _probes(grid: Sequence[float]) -> list[float]:
    """A near, a middle and the last figure of a grid."""
    last = len(grid) - 1
    return [grid[at] for at in dict.fromkeys((last // 4, last // 2, last))] if grid else []
