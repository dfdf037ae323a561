"""What a call concludes, line by line: short enough to be kept in a script and read in a difference.

A line names what follows and the rule behind it, never a figure of the match: what a rule does to how many
candidates is counted, so that a conclusion moves when a rule decides otherwise. What the turbo and the whole order cost
stands there too: it is told to the caller.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from advisor.course import Course, Opening
from advisor.fitting.parts import Extra
from advisor.hearing.understood import value_words
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.knowledge import Knowledge
from advisor.knowledge.rules import AddPart, Ask, Caution, NextStep, Penalise, Recommend, RuleOut, Say
from advisor.outcome import SEVERITIES, parts_total
from advisor.outspoken import is_check, lists_parts, outspoken, tells_early
from advisor.telling import parts_of
from advisor.units import show
from advisor.wording import fill

SETTLED = ("verdict", "recommended")
UNSAID = ("rules out", "takes ", "gives ")
PRICES = ("turbo price", "order total")


@dataclass(frozen=True, slots=True, order=True)
class Line:
    """One thing that follows: its kind, what it is, and the rule behind it ("" for none); ``text`` are the words
    said or written, left out of the short form."""

    kind: str
    what: str
    rule: str = ""
    text: str = field(default="", compare=False)

    def __str__(self) -> str:
        return f"{self.kind}: {self.what}" + (f" [{self.rule}]" if self.rule else "")

    @property
    def short(self) -> str:
        """Its kind and the rule behind it."""
        return f"{self.kind} [{self.rule}]"

    @property
    def unsaid(self) -> bool:
        """Whether it is of points or of a number of candidates, which nobody tells the caller."""
        return self.kind.startswith(UNSAID)

    @property
    def whole(self) -> str:
        """The short form with the words."""
        return f'{self}: "{self.text}"' if self.text else str(self)


def conclusion(course: Course, knowledge: Knowledge, but: Collection[int] = ()) -> tuple[Line, ...]:
    """Everything that a call concludes, in a fixed order; ``but`` for what follows from some firings, by their `id`."""
    weighed = course.weighed
    best = course.advised
    told = "nothing" if best is None else weighed.candidates.codes[best]
    requested = "unknown" if course.provisional else course.compared
    lines = [Line("verdict", course.verdict), Line("recommended", told), Line("requested part", requested)]
    lines += [] if best is None else _prices(course, best, knowledge)
    lines += [Line("conflict", conflict.fact) for conflict in course.conflicts]
    lines += _settled(course.last.facts, knowledge)
    speaking = {id(firing) for firing in outspoken(course, knowledge)}
    for firing in course.firings:
        if id(firing) in but:
            continue
        count = len(weighed.candidates) if firing.mask is None else int(firing.mask.sum())
        lines += _of_rule(firing, count, knowledge)
        if id(firing) in speaking:
            lines += _told(firing, best, course.last.facts, knowledge)
            lines += _parts(firing, course, knowledge)
    return tuple(lines)


def _prices(course: Course, best: int, knowledge: Knowledge) -> Iterable[Line]:
    """What the turbo advised costs, and all that is settled of the order."""
    fired = [knowledge.rule(firing.rule) for firing in course.firings if firing.fired_for(best)]
    extras = [(Extra(a.kind, a.quantity), rule.name) for rule in fired for a in rule.then if isinstance(a, AddPart)]
    checks = {rule.name for rule in fired if is_check(rule)}
    weighed, of = course.weighed, checks if course.unchecked else None
    parts = parts_of(weighed, best, extras, course.last.facts, knowledge, of)
    turbo, order = weighed.candidates.combinations[best].price, parts_total(parts)[0]
    return (Line(kind, show(cost, "$", "money")) for kind, cost in zip(PRICES, (turbo, order), strict=True))


def opened(opening: Opening, knowledge: Knowledge) -> tuple[Line, ...]:
    """Those lines of a conclusion that are settled before the match."""
    facts = opening.second.facts
    lines = list(_settled(facts, knowledge))
    for firing in opening.firings:
        lines += _of_rule(firing, 0, knowledge)
        if tells_early(knowledge.rule(firing.rule)):
            lines += _told(firing, None, facts, knowledge)
    return tuple(lines)


def _settled(facts: FactBase, knowledge: Knowledge) -> Iterable[Line]:
    for name, fact in sorted(facts.items()):
        if fact.origin.kind in ("rule", "assumed"):
            said = value_words(fact.value, knowledge.vocabulary.get(name))
            kind = "fact" if fact.origin.kind == "rule" else "assumption"
            yield Line(kind, f"{name} is {said}", fact.origin.source if fact.origin.place else "")


def _of_rule(firing: Firing, count: int, knowledge: Knowledge) -> Iterable[Line]:
    """What a rule does beside what it tells the caller."""
    rule = knowledge.rule(firing.rule)
    for action in rule.then:
        match action:
            case RuleOut():
                yield Line("rules out", f"{count} candidates", rule.name)
            case Penalise(points=points, slope=slope):
                verb = "takes" if points > 0 else "gives"
                size, whole = f"{abs(points):g}", ""
                if slope is not None and firing.points is not None:
                    size, whole = slope.points, f"{abs(float(firing.points.sure.sum())):.0f} in all from "
                yield Line(f"{verb} {size} points", f"{whole}{count} candidates", rule.name)
            case Ask(facts=facts, urgent=urgent):
                for name in facts:
                    yield Line("asks first" if urgent else "asks", name, rule.name)
            case _:
                pass


def _told(firing: Firing, best: int | None, known: FactBase, knowledge: Knowledge) -> Iterable[Line]:
    """What a rule that may speak tells the caller."""
    rule, concerns = knowledge.rule(firing.rule), firing.fired_for(best)
    topic = rule.place.file.removesuffix(".yaml")

    def text(words: str) -> str:
        return fill(words, known, knowledge.vocabulary)

    for action in rule.then:
        match action:
            case Caution(severity=severity, text=words, at_once=at_once) if concerns:
                yield Line("caution", severity, rule.name, f"{text(words)}{' (told at once)' if at_once else ''}")
            case Recommend(text=words) if concerns:
                yield Line("advice", topic, rule.name, text(words))
            case NextStep(text=words) if concerns:
                yield Line("next step", topic, rule.name, text(words))
            case Say(text=words) if firing.speaks_of(best):
                yield Line("says", rule.stage, rule.name, text(words))
            case _:
                pass


def _parts(firing: Firing, course: Course, knowledge: Knowledge) -> Iterable[Line]:
    """What a rule that may speak puts on the list of parts."""
    rule = knowledge.rule(firing.rule)
    if lists_parts(course) and firing.fired_for(course.best) and (is_check(rule) or not course.unchecked):
        for action in rule.then:
            if isinstance(action, AddPart):
                yield Line("part", f"{action.quantity} x {action.kind}", rule.name)


@dataclass(frozen=True, slots=True)
class Change:
    """What stands in one conclusion only, or stands there with other words."""

    gone: tuple[Line, ...] = ()
    new: tuple[Line, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.gone or self.new)

    @property
    def rules(self) -> tuple[str, ...]:
        """The rules behind what changed."""
        return tuple(dict.fromkeys(line.rule for line in (*self.gone, *self.new) if line.rule))

    def lines(self) -> list[str]:
        """As lines of text, the grave ones first."""
        moved = {kind: found for kind in PRICES if all(found := self.of(kind))}
        ranked = [(_gravity(line), f"- {line.whole}") for line in self.gone if line.kind not in moved]
        ranked += [(_gravity(line), f"+ {line.whole}") for line in self.new if line.kind not in moved]
        for kind, (before, after) in moved.items():
            ranked.append((_gravity(Line(kind, after)), f"  {kind}: {before} before, now {after}"))
        return [words for _, words in sorted(ranked, key=lambda entry: entry[0])]

    @property
    def unsaid(self) -> int:
        """How many lines are of points or of numbers of candidates alone."""
        return sum(line.unsaid for line in (*self.gone, *self.new))

    def points(self) -> list[str]:
        """What rules do to candidates otherwise, a line for each rule: before, and now."""
        rules = dict.fromkeys(line.rule for line in (*self.gone, *self.new) if line.unsaid)
        sides = [
            {rule: " and ".join(_deed(line) for line in side if line.unsaid and line.rule == rule) for rule in rules}
            for side in (self.gone, self.new)
        ]
        return [f"{rule}: {sides[0][rule] or 'nothing'} before, now {sides[1][rule] or 'nothing'}" for rule in rules]

    def said(self) -> "Change":
        """Without these."""
        gone, new = (tuple(line for line in side if not line.unsaid) for side in (self.gone, self.new))
        return Change(gone, new)

    def of_rule(self, rule: str) -> "Change":
        """What a rule is behind of it."""
        gone, new = (tuple(line for line in side if line.rule == rule) for side in (self.gone, self.new))
        return Change(gone, new)

    def of(self, kind: str) -> tuple[str, str]:
        """What stood, and what stands, in the first changed line of a kind; "" for no such line."""
        before, after = (next((line.what for line in side if line.kind == kind), "") for side in (self.gone, self.new))
        return before, after


def _deed(line: Line) -> str:
    """What a rule does to candidates: "takes 14,890 points in all from 36 candidates (80 to 8 to 0 each)"."""
    total, _, count = line.what.rpartition(" in all from ")
    count = count if count != "1 candidates" else "1 candidate"
    verb, _, size = line.kind.partition(" ")
    if line.kind == "rules out":
        return f"{line.kind} {count}"
    to = "to" if verb == "gives" else "from"
    if total:
        return f"{verb} {int(total):,} points in all {to} {count} ({size.removesuffix(' points')} each)"
    return f"{line.kind} {to} {count}"


def _gravity(line: Line) -> tuple[int, str]:
    if line.kind in SETTLED:
        return 0, line.kind
    if line.kind == "caution":
        return 1 + SEVERITIES.index(line.what), line.rule
    if line.kind in PRICES:
        return 5, f"{PRICES.index(line.kind)}"
    return 9, line.kind


def change(before: Iterable[Line], after: Iterable[Line]) -> Change:
    """What differs between two conclusions, words included."""
    old, new = {(line, line.text): line for line in before}, {(line, line.text): line for line in after}
    return Change(
        tuple(line for key, line in old.items() if key not in new),
        tuple(line for key, line in new.items() if key not in old),
    )
