"""What was edited between two states of the knowledge, and what that does to one call."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from advisor.conclusion import SETTLED, Change, Line, change, conclusion
from advisor.course import infer
from advisor.desk.entries import difference, entry
from advisor.desk.renames import Renames, renames
from advisor.inference.agenda import Agenda
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.catalogue import PIECES
from advisor.outcome import RECOMMENDED, Answer
from advisor.units import show

CATALOGUE, QUESTIONS = "the catalogue", "the questions"


@dataclass(frozen=True, slots=True)
class Edits:
    """Names of what is new, gone and changed: rules, facts of the vocabulary, wares of the catalogue, maps."""

    new_rules: tuple[str, ...]
    gone_rules: tuple[str, ...]
    changed_rules: tuple[str, ...]
    facts: tuple[str, ...]
    wares: tuple[str, ...]  # with what their prices were and are, where these differ
    maps: tuple[str, ...]
    renames: Renames = field(default_factory=Renames)
    new: frozenset[str] = frozenset()  # those of facts and wares that weren't there before
    gone: frozenset[str] = frozenset()  # those that are there no more
    how: Mapping[str, str] = field(default_factory=dict)  # of changed rules, behind a colon

    @property
    def rules(self) -> frozenset[str]:
        """Every rule that is new, gone or changed."""
        return frozenset((*self.new_rules, *self.gone_rules, *self.changed_rules))

    @property
    def of_stock(self) -> bool:
        """Whether catalogue or maps differ, so that the match does."""
        return bool(self.wares or self.maps)

    def behind(self, change: Change) -> tuple[str, ...]:
        """The edited rules that speak otherwise in a change, or else what was edited beside rules."""
        rules = tuple(rule for rule in change.rules if rule in self.rules)
        other = CATALOGUE if self.of_stock else QUESTIONS if self.facts else "what follows from it"
        return rules or (other,)

    def __bool__(self) -> bool:
        return bool(self.rules or self.facts or self.of_stock or self.renames)

    def lines(self) -> list[str]:
        """As lines of text."""
        found = [f"new rule: {name}" for name in self.new_rules]
        found += [f"rule gone: {name}" for name in self.gone_rules]
        found += [f"rule changed: {name}{self.how.get(name, '')}" for name in self.changed_rules]
        found += self.renames.lines()
        found += [f"{self._how(name, 'new fact', 'fact gone', 'fact changed')}: {name}" for name in self.facts]
        stock = ("new in the catalogue", "gone from the catalogue", "catalogue changed")
        found += [f"{self._how(name, *stock)}: {name}" for name in self.wares]
        return found + [f"map changed: {name}" for name in self.maps]

    def _how(self, name: str, new: str, gone: str, changed: str) -> str:
        return new if name in self.new else gone if name in self.gone else changed


def edits(old: Knowledge, new: Knowledge) -> Edits:
    """What differs between two states of the knowledge; places and layout are of no account, nor what is only called
    otherwise: that is told as renamed."""
    called = renames(old, new)
    before, after = {r.name: called.rule(r) for r in old.rules}, {r.name: r for r in new.rules}
    facts = [{called.facts.get(name, name) for name in old.vocabulary}, set(new.vocabulary)]
    wares = [
        {f"{field.replace('_', ' ')} {code}" for field in PIECES for code in getattr(side.catalogue, field)}
        for side in (old, new)
    ]
    changed = sorted(n for n in before.keys() & after.keys() if _differ(before[n], after[n]))
    words = {name: difference(entry(before[name], old), entry(after[name], new)) for name in changed}
    return Edits(
        new_rules=tuple(sorted(after.keys() - before.keys())),
        gone_rules=tuple(sorted(before.keys() - after.keys())),
        changed_rules=tuple(changed),
        facts=_facts(old, new, called),
        wares=tuple(
            f"{field.replace('_', ' ')} {code}{_priced(*sides, code)}"
            for field in PIECES
            for sides in [(getattr(old.catalogue, field), getattr(new.catalogue, field))]
            for code in _unlike(*sides)
        ),
        maps=_unlike(old.maps, new.maps),
        renames=called,
        new=frozenset(facts[1] - facts[0] | wares[1] - wares[0]),
        gone=frozenset(facts[0] - facts[1] | wares[0] - wares[1]),
        how={name: f": {how}" for name, how in words.items() if how},
    )


def _facts(old: Knowledge, new: Knowledge, called: Renames) -> tuple[str, ...]:
    """Names of facts that differ in more than what they, their choices, or the facts they wait for are called."""
    before = {}
    for name, fact in old.vocabulary.items():
        now = called.facts.get(name, name)
        choices = tuple(replace(one, name=called.choices.get((now, one.name), one.name)) for one in fact.choices)
        when = None if fact.ask_when is None else called.condition(fact.ask_when)
        before[now] = replace(fact, name=now, choices=choices, ask_when=when, heard_of_any=())
        if now != name and now in new.vocabulary:  # what was said to it stands under its old name
            before[now] = replace(before[now], heard=new.vocabulary[now].heard)
    return _unlike(before, {name: replace(fact, heard_of_any=()) for name, fact in new.vocabulary.items()})


def _priced(before: Mapping[str, Any], after: Mapping[str, Any], code: str) -> str:
    """What the ware cost, and what it does; "" where that is the same."""
    prices = [getattr(side.get(code), "price", None) for side in (before, after)]
    shown = [show(price, "$", "money") for price in prices if price is not None]
    return f": {shown[0]} before, now {shown[1]}" if len(set(shown)) == 2 else ""


def _differ(old: Rule, new: Rule) -> bool:
    return old != new or old.place.file != new.place.file


def _unlike(before: Mapping[str, object], after: Mapping[str, object]) -> tuple[str, ...]:
    return tuple(sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name)))


def sharing(new: Knowledge, old: Knowledge) -> Knowledge:
    """The new knowledge, taking over what the old one's facts hear where a fact is the same, and the old one's matches
    where nothing of catalogue and maps differs."""
    same = {name: had if (had := old.vocabulary.get(name)) == fact else fact for name, fact in new.vocabulary.items()}
    new = replace(new, vocabulary=same)
    if edits(old, new).of_stock:
        return new
    return replace(new, catalogue=old.catalogue, maps=old.maps, digest=old.digest)


@dataclass(frozen=True, slots=True)
class Reloaded:
    """What edited knowledge does to a call: what was edited, what is concluded otherwise, and the lines of what is
    concluded now."""

    edits: Edits
    change: Change
    now: tuple[Line, ...]

    def lines(self) -> list[str]:
        """As lines of text, for who tries an edit: what was edited, whether the advice stands, the grave first, last
        what rules do to candidates."""
        if not self.edits:
            return ["Nothing was edited."]
        if not self.change:
            return [*self.edits.lines(), "This call comes out as before."]
        points = [f"  {line}" for line in self.change.points()]
        heading = [f"Points and candidates: {len(points)} rule{'s do' if len(points) != 1 else ' does'} otherwise"]
        return [*self.edits.lines(), *self.advice(), *self.change.said().lines(), *(heading if points else []), *points]

    def told(self) -> list[str]:
        """As lines of text, for who takes the call: first whether the advice stands; points are counted only."""
        if not self.edits:
            return ["Nothing was edited."]
        counted = self.change.unsaid
        points = [f"points and numbers of candidates that differ: {counted}"] if counted else []
        return [*self.advice(), *self.edits.lines(), *self.change.said().lines(), *points]

    def advice(self) -> list[str]:
        """Whether the advice stands, and if not what it was, what it is and by what."""
        at = {line.kind: line.what for line in self.now if line.kind in SETTLED}
        was = {kind: self.change.of(kind)[0] or at[kind] for kind in SETTLED}
        if was == at:
            return [f"The advice is as before: {_advised(at)}."]
        by = [rule for rule in self.change.rules if rule in self.edits.rules]
        by = by or [*self.edits.wares, *self.edits.maps, *self.edits.facts]
        return [f"The advice was {_advised(was)}.", f"It is now {_advised(at)}, by {', '.join(by)}."]


def reload(
    answers: Sequence[Answer], old: Knowledge, new: Knowledge, agenda: Agenda, by_new_names: bool = False
) -> Reloaded:
    """What changes in a call when it goes on with edited knowledge; answers to facts that are gone fall away, or count
    for those that they were renamed to."""
    edited, shared = edits(old, new), sharing(new, old)
    called = edited.renames if by_new_names else Renames()
    before = called.lines_of(conclusion(infer([a for a in answers if a.fact in old.vocabulary], old, agenda), old))
    told = [called.answer(a) for a in answers]
    after = conclusion(infer([a for a in told if a.fact in new.vocabulary], shared, agenda), shared)
    return Reloaded(edited, change(before, after), after)


def _advised(settled: Mapping[str, str]) -> str:
    verdict, turbo = (settled[kind] for kind in SETTLED)
    return turbo if verdict == RECOMMENDED else verdict if turbo == "nothing" else f"{turbo} ({verdict})"
