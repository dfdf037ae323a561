"""Small wrong changes of the rules ("mutants").

Each number that a condition compares with is moved up and down by a step, each condition is negated or dropped,
each action is dropped. Points that run with a figure get each end moved and each number of points changed.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from advisor.knowledge import Knowledge, Place, Rule
from advisor.knowledge.conditions import (
    All,
    AnyOf,
    Between,
    Binary,
    Compare,
    Condition,
    Expr,
    Known,
    Negate,
    NoneOf,
    Number,
    facts_in,
    walk,
)
from advisor.knowledge.rules import Action, Penalise, Say
from advisor.knowledge.slopes import Slope

STEP = 0.1  # of the number
QUARTER = 0.25  # of the way to the nearest end of points that run with a figure, and of the points
DEGREES = 28.0  # K, of a temperature: 50 °F
ONE = ("count",)


@dataclass(frozen=True, slots=True)
class Mutant:
    """A rule with one wrong change: where it is, what was done, and the rule as changed."""

    rule: Rule
    place: Place
    words: str
    variant: Rule

    @property
    def moves(self) -> bool:
        """Whether it does what its rule does, only elsewhere: no action is dropped."""
        return len(self.rule.then) == len(self.variant.then)

    @property
    def name(self) -> str:
        """The rule and what was done to it."""
        return f"{self.rule.name}: {self.words}"


def mutants(rule: Rule, knowledge: Knowledge) -> list[Mutant]:
    """Every small change of a rule that means something else."""
    made = _conditions(rule, knowledge)
    found = [Mutant(rule, place, words, replace(rule, when=when)) for place, words, when in made]
    if len(rule.then) > 1:
        for at, action in enumerate(rule.then):
            if not isinstance(action, Say):
                then = (*rule.then[:at], *rule.then[at + 1 :])
                found.append(Mutant(rule, action.place, f"'{_named(action)}' dropped", rule.doing(then)))
    for action in rule.then:
        if isinstance(action, Penalise) and action.slope is not None:
            for words, slope in _slopes(action.slope):
                changed = replace(action, slope=slope, points=slope.most)
                then = tuple(changed if one is action else one for one in rule.then)
                found.append(Mutant(rule, action.place, words, rule.doing(then)))
    return [mutant for mutant in found if mutant.variant != rule]


def all_mutants(knowledge: Knowledge, of: Collection[str] = ()) -> list[Mutant]:
    """The mutants of all rules, or of those with the names, in a fixed order."""
    return [mutant for rule in knowledge.rules if not of or rule.name in of for mutant in mutants(rule, knowledge)]


def _named(action: Action) -> str:
    kind = type(action).__name__
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in kind).strip()
    of = getattr(action, "fact", None) or getattr(action, "kind", None) or ", ".join(getattr(action, "facts", ()))
    return f"{words} {of}".strip()


def _conditions(rule: Rule, knowledge: Knowledge) -> Iterator[tuple[Place, str, All]]:
    """Place, words and whole condition of each change."""
    assert isinstance(rule.when, All)
    asked = {place for slope in rule.slopes for place in slope.places}
    for path in _paths(rule.when, ()):
        part = _at(rule.when, path)
        if part.place in asked:  # what its slopes ask changes with these
            continue
        if path:
            negated = NoneOf((part,), place=part.place, text="none")
            yield part.place, f"'{_text(part)}' negated", _put(rule.when, path, negated)
            if not _idle(rule.when, path):
                yield part.place, f"'{_text(part)}' dropped", _put(rule.when, path, None)
        if isinstance(part, Compare | Between):
            for number in (node for node in walk(part) if isinstance(node, Number)):
                for sign, word in ((1.0, "up"), (-1.0, "down")):
                    moved = number.si + sign * _step(number, part, knowledge)
                    changed = _moved(part, number, moved)
                    yield part.place, f"{number.text} in '{part.text}' moved {word}", _put(rule.when, path, changed)


def _slopes(slope: Slope) -> Iterator[tuple[str, Slope]]:
    """What was done, and the slope as changed."""
    for at, (end, points) in enumerate(slope.ends):
        step = QUARTER * min(abs(other.si - end.si) for other, _ in slope.ends if other is not end)
        for sign, word in ((1.0, "up"), (-1.0, "down")):
            yield f"{end.text} in '{slope.text}' moved {word}", slope.moved(at, end.si + sign * step, points)
            if points:
                changed = points + sign * QUARTER * abs(points)
                yield f"{abs(points):g} points in '{slope.text}' moved {word}", slope.moved(at, end.si, changed)


def _text(part: Condition) -> str:
    if isinstance(part, All | AnyOf | NoneOf):
        return f"{part.text or 'all'}: [{'; '.join(_text(inner) for inner in part.parts)}]"
    return part.text


def _step(number: Number, part: Condition, knowledge: Knowledge) -> float:
    """A sensible step: one for what is counted, 50 °F for a temperature, a tenth for the rest."""
    quantities = {knowledge.vocabulary[name].quantity for name in facts_in(part) if name in knowledge.vocabulary}
    plain = isinstance(part, Compare) and number in (part.left, part.right)
    if plain and quantities <= {"temperature"}:
        return DEGREES
    if plain and quantities and quantities <= set(ONE):
        return 1.0
    return abs(number.si) * STEP or STEP


def _moved(part: Compare | Between, number: Number, value: float) -> Condition:
    def swap(expr: Expr) -> Expr:
        if expr is number:
            return replace(number, si=value)
        if isinstance(expr, Binary):
            return replace(expr, left=swap(expr.left), right=swap(expr.right))
        return replace(expr, of=swap(expr.of)) if isinstance(expr, Negate) else expr

    if isinstance(part, Compare):
        return replace(part, left=swap(part.left), right=swap(part.right))
    return replace(part, expr=swap(part.expr), low=swap(part.low), high=swap(part.high))


Path_ = tuple[int, ...]


def _paths(condition: Condition, path: Path_) -> Iterator[Path_]:
    yield path
    if isinstance(condition, All | AnyOf | NoneOf):
        for index, part in enumerate(condition.parts):
            yield from _paths(part, (*path, index))


def _at(condition: Condition, path: Path_) -> Condition:
    for index in path:
        assert isinstance(condition, All | AnyOf | NoneOf)
        condition = condition.parts[index]
    return condition


def _put(condition: All, path: Path_, part: Condition | None) -> All:
    """The condition with another part at the path, or (None) without it; a group left empty goes too."""
    found = _replaced(condition, path, part)
    return found if isinstance(found, All) else replace(condition, parts=())


def _replaced(condition: Condition, path: Path_, part: Condition | None) -> Condition | None:
    if not path:
        return part
    assert isinstance(condition, All | AnyOf | NoneOf)
    at, *rest = path
    inner = _replaced(condition.parts[at], tuple(rest), part)
    instead = () if inner is None else (inner,)
    parts = (*condition.parts[:at], *instead, *condition.parts[at + 1 :])
    return replace(condition, parts=parts) if parts else None


def _idle(whole: All, path: Path_) -> bool:
    """Whether the part only says that a fact is known which a neighbour needs known anyway: without it nothing
    fires otherwise. Inside `none` it matters, there "not known" and "not so" part."""
    part, group = _at(whole, path), _at(whole, path[:-1])
    inside_none = any(isinstance(_at(whole, path[:depth]), NoneOf) for depth in range(len(path)))
    if inside_none or not isinstance(part, Known) or part.negated or not isinstance(group, All):
        return False
    others = [other for other in group.parts if other is not part and isinstance(other, Compare | Between)]
    return any(part.fact in facts_in(other) for other in others)
