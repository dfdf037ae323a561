"""What is concluded now, in place of what a script wants and doesn't get any more.

A condition takes the figure or the choice of today, a line the words of today, what a rule does to candidates the
conditions that it has today; what is so now and must not be, or isn't and must, is wanted the other way round. Nothing
is written that doesn't hold.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from advisor.conclusion import Line
from advisor.course import Course, Reached
from advisor.desk.offers import conditions, of_slopes
from advisor.expected import BEHIND, OF_A_RULE, Expectation, Expecting
from advisor.inference.facts import FactBase, Value
from advisor.inference.verdict import judge
from advisor.knowledge import FactDef, Knowledge, Rule
from advisor.knowledge.conditions import (
    AnyOf,
    Between,
    Compare,
    Condition,
    FactRef,
    Flag,
    Includes,
    Is,
    Number,
)
from advisor.knowledge.rules import Caution
from advisor.knowledge.source import Document
from advisor.knowledge.strata import reads
from advisor.quantities import Range, from_si, show, to_si
from advisor.replay import facts_of, lines_of, stands, warns

SLACK = 0.05  # of a figure, to both sides, in a range that is written anew
DIGITS = 3  # of a figure that is written anew as an edge


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is written: a kind of expectation, its words, and whether it must or must not be concluded."""

    kind: str
    words: str
    must: bool


def renewed(one: Expectation, course: Reached, knowledge: Knowledge) -> tuple[Wanted, ...]:
    """What stands for an expectation that the call doesn't meet; nothing where nothing can."""
    flipped = Wanted(one.kind, one.words, not one.wanted)
    if one.kind in ("asks", "fired", "caution"):
        return (flipped,)
    if one.kind == "concludes":
        return tuple(_of_lines(one, lines_of(course, knowledge)))
    ways: Iterable[Wanted]
    match one.kind:
        case "may caution":
            ways = _of_rule(one, flipped, course, knowledge)
        case "known":
            ways = [*_of_condition(one, facts_of(course), knowledge), flipped]
        case "best" | "requested":
            assert isinstance(course, Course)
            row = course.advised if one.kind == "best" else course.weighed.requested
            none = Wanted("concludes", "recommended: nothing", True)
            facts = None if row is None else course.weighed.facts.at(row)
            ways = [] if facts is None else [*_of_condition(one, facts, knowledge), flipped]
            ways = [*ways, none] if one.kind == "best" else ways
        case "ruled out":
            ways = [flipped]
        case _:
            ways = _of_candidates(one, flipped, course, knowledge)
    return tuple(way for way in ways if _holds(way, course, knowledge))[:1]


def _holds(way: Wanted, course: Reached, knowledge: Knowledge) -> bool:
    document = Document("offered")
    read = Expecting(document, knowledge).expectation(way.kind, way.words, way.must, ())
    return read is not None and not document.faults and stands(read, course, knowledge)


def _of_rule(one: Expectation, flipped: Wanted, course: Reached, knowledge: Knowledge) -> Iterator[Wanted]:
    if one.wanted and warns(knowledge.rule(one.words), course, knowledge):
        yield Wanted("caution", one.words, True)
    yield flipped


def _of_lines(one: Expectation, lines: Sequence[Line]) -> Iterator[Wanted]:
    """The line of the same kind as it is now; of several kinds of lines of a rule those that are concluded."""
    whole = {str(line): line for line in lines}
    own = [line for line in lines if line.rule == one.rule]
    kind, told, _ = BEHIND.sub("", one.words).partition(": ")
    if told:  # a line in full
        alike = [line for line in own if _alike(line, kind, told)]
        if not one.wanted and one.words in whole:
            yield Wanted("concludes", one.words, True)
        elif alike:
            yield from (Wanted("concludes", str(line), True) for line in alike)
        else:
            yield Wanted("concludes", one.words, False)
        return
    there = dict.fromkeys(line.kind for line in own)
    named = [each for each in kind.strip().split(", ") if each]
    kept = [each for each in named if each in there]
    gone = [each for each in named if each not in there]
    if one.wanted:
        points = [each for each in there if each not in named and any(_of_points(each, lost) for lost in gone)]
        gone = [each for each in gone if not any(_of_points(each, new) for new in points)]
        kept += points
    for kinds, must in ((kept, True), (gone, False)):
        if kinds:
            yield Wanted("concludes", f"{', '.join(kinds)} [{one.rule}]", must)


def _alike(line: Line, kind: str, told: str) -> bool:
    """Whether a line is of the kind of another that isn't concluded any more: of a fact, of the same."""
    if kind in ("fact", "assumption"):
        return line.kind == kind and line.what.split(" is ")[0] == told.split(" is ")[0]
    return line.kind == kind or _of_points(line.kind, kind)


def _of_points(one: str, other: str) -> bool:
    """Whether both kinds of lines are of points."""
    return all(kind.startswith(("takes ", "gives ")) for kind in (one, other))


def _of_candidates(one: Expectation, flipped: Wanted, course: Reached, knowledge: Knowledge) -> Iterator[Wanted]:
    """From which candidates a rule takes how much now: its own conditions, or its points from the same
    candidates, else the end that is nearest."""
    rule = knowledge.rule(one.rule)
    if not one.wanted:
        yield flipped
    elif not any(firing.rule == rule.name for firing in course.firings):
        yield Wanted("fired", rule.name, False)
    elif one.kind == "fired for":
        if (words := conditions(rule)) is not None:
            yield Wanted(one.kind, f"{words} [{rule.name}]", True)
    else:
        ends = [end for end in of_slopes(rule) if end.condition is not None]
        for end in sorted(ends, key=lambda end: (_from(end) != _from(one), abs(end.points - one.points))):
            yield Wanted(end.kind, end.words, True)


def _from(one: Expectation) -> str:
    """The candidates from which so many points are wanted to be taken."""
    return one.words.partition(" for ")[2]


def _of_condition(one: Expectation, facts: FactBase, knowledge: Knowledge) -> Iterator[Wanted]:
    """The condition with the figures and choices of today where it doesn't hold; the other way round for one that
    holds and must not."""
    if not one.wanted or one.condition is None:
        return
    pieces = []
    for part in one.condition.parts:
        if int(judge(part, facts)) == 1:
            pieces.append([part.text])
        else:
            first = part.parts[0] if isinstance(part, AnyOf) else part
            pieces.append(list(_now(first, facts, knowledge)))
    if all(pieces):
        for turn in range(max(map(len, pieces))):
            words = "; ".join(each[min(turn, len(each) - 1)] for each in pieces)
            yield Wanted(one.kind, words, True)


def _now(part: Condition, facts: FactBase, knowledge: Knowledge) -> Iterator[str]:
    """What a single condition may be written as, so that it holds: the tightest first."""
    match part:
        case Compare(left=FactRef(name=name), op=op, right=Number() as right):
            value, definition = facts.value(name), knowledge.vocabulary[name]
            if value is None:
                yield f"{name} is not known"
            elif isinstance(value, Range) and op != "!=":
                head = part.text[: len(part.text) - len(right.text)].rstrip()
                up = op in ("<", "<=")
                if op == "=":
                    yield f"{head} {show(value, definition.unit, definition.quantity)}"
                else:
                    ends = (_edge(value.high if up else value.low, definition, up, more) for more in (0, 1))
                    yield from (f"{head} {end}" for end in ends)
        case Between(expr=FactRef(name=name)):
            value, definition = facts.value(name), knowledge.vocabulary[name]
            if isinstance(value, Range):
                slack = SLACK * max(abs(value.low), abs(value.high))
                low = _edge(value.low - slack, definition, False, 0)
                yield f"{name} is between {low} and {_edge(value.high + slack, definition, True, 0)}"
            else:
                yield f"{name} is not known"
        case Is(fact=name) | Flag(fact=name) | Includes(fact=name):
            yield _is(name, facts.value(name), part)
        case _:
            return


def _is(name: str, value: Value | None, part: Condition) -> str:
    if value is None:
        return f"{name} is not known"
    if isinstance(value, bool):
        return f"{name} is {'yes' if value else 'no'}"
    if isinstance(value, frozenset):
        if isinstance(part, Includes) and not part.negated and not value:
            return f"{name} do not include {part.choice}"
        return "; ".join(f"{name} include {choice}" for choice in sorted(value))
    return f"{name} is {value}"


def _edge(si: float, definition: FactDef, up: bool, more: int) -> str:
    """A figure with few digits that isn't short of a value; ``more`` steps beyond it."""
    size = from_si(si, definition.unit, definition.quantity)
    step = 10.0 ** (math.floor(math.log10(abs(size))) - DIGITS + 1) if size else 1.0
    steps = math.ceil(round(size / step, 6)) + more if up else math.floor(round(size / step, 6)) - more
    return show(to_si(steps * step, definition.unit, definition.quantity), definition.unit, definition.quantity)


def other_cautions(
    gone: Iterable[Expectation], named: frozenset[str], course: Reached, knowledge: Knowledge
) -> Iterator[Wanted]:
    """In place of cautions that aren't told any more those of the same severity that are, on something that the rule of
    one that went looked at or in its file, and that no script of the file names."""
    lost = [rule for one in gone for rule in _warned_by(one, knowledge)]
    for line in lines_of(course, knowledge):
        if line.kind != "caution" or line.rule in named:
            continue
        rule = knowledge.rule(line.rule)
        near = [old for old in lost if old.place.file == rule.place.file or reads(old) & reads(rule)]
        if any(line.what in _severities(old) for old in near):
            yield Wanted("caution", line.rule, True)


def _warned_by(one: Expectation, knowledge: Knowledge) -> list[Rule]:
    of = one.kind in ("caution", "may caution") or (one.kind == "concludes" and "caution" in one.words)
    return [knowledge.rule(name) for name in of_rules(one) if of and one.wanted]


def _severities(rule: Rule) -> set[str]:
    return {action.severity for action in rule.then if isinstance(action, Caution)}


def of_rules(one: Expectation) -> list[str]:
    """The rule of which an expectation speaks, if it does of one."""
    name = one.words if one.kind in OF_A_RULE else one.rule
    return [name] if name else []
