"""The nearest situations to recorded calls at which two states of the knowledge part, though they agree on the calls:
one for each edit.

One answer of one call is changed at a time: numbers to the values between and beside what the edited rules compare
them with and over the plausible range, then by bisection towards what the caller said; choices one by one. What an
edited rule reads of the answers is first put in the place of what the caller said: what it then denies in both states
is passed over, what tells them apart comes first. The tries are shared evenly among edits, and of each among calls.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, zip_longest
from math import ceil, floor, log10

from advisor.conclusion import Change
from advisor.course import Opening, heard_as, open_call
from advisor.desk.calls import RecordedCall, with_answer
from advisor.desk.compare import EARLY, CallChange, Pair
from advisor.desk.edits import CATALOGUE, QUESTIONS
from advisor.desk.reach import asked_behind, trial_values, view, width, words_for
from advisor.inference.explain import needed
from advisor.inference.facts import Fact, FactBase
from advisor.inference.verdict import sign_of
from advisor.knowledge import FactDef, Rule
from advisor.knowledge.strata import reads
from advisor.units import Range, from_si, to_si

STEPS = 6  # evenly spread values tried of a number
HALVINGS = 12
AT_ONCE = 8  # situations of an edit tried together
MORE = 4  # times as many situations, for who wants more tried
NARROWED = 5  # flips that are made as small as they can be
DIGITS = (2, 3, 4, 6)
CHOICE, ADDED = 0.25, 0.1  # what another choice, and an answer nobody gave, count beside a number's whole width
STOCK_FACTS = ("power goal", "displacement", "altitude", "summer temperature")
MATCH_FACTS = (*STOCK_FACTS, "trailer weight", "grade", "towing speed")  # for rules that read what is computed
TELLS, MAY_TELL, FROM_AFAR = range(3)


@dataclass(frozen=True, slots=True)
class Flip:
    """A recorded call with one answer changed, where the two states part by an edit; ``distance`` is the size of the
    change."""

    by: str
    call: RecordedCall
    fact: str
    said: str
    instead: str
    distance: float
    change: Change

    def __str__(self) -> str:
        was = f" instead of {self.said}" if self.said else ""
        return f"{self.call.name} at {self.fact} {self.instead}{was}"


@dataclass(frozen=True, slots=True)
class Nearby:
    """The nearest flip of each edit, nearest first; how many situations were tried; the edits for which none was found,
    and how many to try for more (0 where there are no more)."""

    flips: tuple[Flip, ...] = ()
    tried: int = 0
    none: tuple[str, ...] = ()
    more: int = 0


def nearest_flips(
    calls: Sequence[RecordedCall], pair: Pair, tries: int, changed: Sequence[CallChange] = ()
) -> Nearby:
    """The nearest flips beside calls of which those ``changed`` come out otherwise; ``tries`` situations at most."""
    apart = {one.call for one in changed}
    recorded = {frozenset(call.answers) for call in calls}
    openings: dict[RecordedCall, Opening] = {}
    walks, cut = {}, False
    for name, rules, facts in _edits(pair):
        shown = {one.call.file for one in changed if name in pair.edits.behind(one.change)}
        beside = _by_turns(call for call in calls if call.file not in shown)
        if not beside:  # every recorded call shows it
            continue
        cut = cut or len(beside) > tries
        trials = [
            trial
            for call in beside[:tries]
            for trial in _Search(call, pair, openings).trials(rules, facts)
            if frozenset(trial.changed.answers) not in recorded
        ]
        walks[name] = iter(_in_turn(trials))
    names, found, tried = list(walks), dict[str, Flip](), 0
    while walks and tried < tries:
        share = max(1, min(AT_ONCE, (tries - tried) // len(walks)))
        lots = {name: list(islice(walk, share)) for name, walk in islice(walks.items(), tries - tried)}
        lot = [(name, trial) for name, trials in lots.items() for trial in trials]
        tried += len(lot)
        for (name, trial), change in zip(lot, pair.changes([trial.changed for _, trial in lot]), strict=True):
            own = _by(name, change, pair, trial.call in apart)
            if own and (name not in found or trial.distance < found[name].distance):
                found[name] = trial.flip(name, own)
        done = [name for name, trials in lots.items() if name in found or not trials]
        walks = {name: walk for name, walk in walks.items() if name not in done}
    flips = sorted(found.values(), key=lambda flip: (flip.distance, flip.call.name, flip.fact))
    near = [_Search(flip.call, pair, openings).narrowed(flip, flip.call in apart) for flip in flips[:NARROWED]]
    near.sort(key=lambda flip: (flip.distance, flip.call.name, flip.fact))
    none = tuple(name for name in names if name not in found)
    return Nearby((*near, *flips[NARROWED:]), tried, none, MORE * tries if cut or walks else 0)


def _by(name: str, change: Change, pair: Pair, apart: bool) -> Change:
    """What of a change is an edit's doing: all of it where no other edited rule speaks otherwise, and no other edit
    changes the call as it was recorded (``apart``)."""
    by = pair.edits.behind(change)
    if not apart and (by == (name,) or not pair.edits.rules.intersection(by)):
        return change
    return change.of_rule(name)


def _edits(pair: Pair) -> Iterator[tuple[str, list[Rule], list[str]]]:
    """Each edit by its name, with the versions of its rule and the asked facts that it may hang on."""
    for before, after in pair.moved:
        rules = [one for one in (before, after) if one is not None]
        facts = asked_behind(pair.new, rules)
        sources = {d.source for rule in rules for name in reads(rule) if (d := pair.new.vocabulary.get(name))}
        computed = MATCH_FACTS if sources & {"computed", "candidate"} else ()
        yield rules[0].name, rules, list(dict.fromkeys((*facts, *computed)))
    if pair.edits.of_stock:
        yield CATALOGUE, [], list(STOCK_FACTS)
    elif pair.edits.facts and not pair.moved:
        yield QUESTIONS, [], [name for name in pair.edits.facts if _asked(pair, name)]


def _asked(pair: Pair, name: str) -> bool:
    return name in pair.new.vocabulary and pair.new.vocabulary[name].source == "asked"


def _by_turns(calls: Iterable[RecordedCall]) -> list[RecordedCall]:
    """The first call of every file, then the second ones, and so on."""
    files: dict[str, list[RecordedCall]] = {}
    for call in calls:
        files.setdefault(call.file, []).append(call)
    return [call for turn in zip_longest(*files.values()) for call in turn if call is not None]


@dataclass(frozen=True, slots=True)
class _Trial:
    """A call with one answer changed, not run yet: how likely it tells the states apart, the likely ones first, and how
    far it is from what was said."""

    call: RecordedCall
    fact: str
    said: str
    instead: str
    hope: int
    distance: float

    @property
    def changed(self) -> RecordedCall:
        return RecordedCall(self.call.name, self.call.file, with_answer(self.call.answers, self.fact, self.instead))

    def flip(self, by: str, change: Change) -> Flip:
        return Flip(by, self.call, self.fact, self.said, self.instead, self.distance, change)


def _in_turn(trials: Iterable[_Trial]) -> list[_Trial]:
    """The likely ones first; of those the nearest of every file, then the next ones."""
    turns: dict[tuple[str, int], int] = {}
    ranked = []
    for trial in sorted(trials, key=lambda one: one.distance):
        turn = turns[trial.call.file, trial.hope] = turns.get((trial.call.file, trial.hope), -1) + 1
        ranked.append((trial.hope, turn, trial))
    return [trial for *_, trial in sorted(ranked, key=lambda one: one[:2])]


class _Search:
    """The situations one answer away from a call."""

    def __init__(self, call: RecordedCall, pair: Pair, openings: dict[RecordedCall, Opening]) -> None:
        self.call, self.pair, self.openings = call, pair, openings
        self.said = {answer.fact: answer.words for answer in call.answers}

    def trials(self, rules: Sequence[Rule], facts: Sequence[str]) -> Iterator[_Trial]:
        """Those worth a try for an edit: of its rule, or (without one) of something else."""
        for name in facts:
            definition = self.pair.new.vocabulary.get(name)
            if definition is None:
                continue
            for words, distance in self._answers(definition, rules):
                hope = self._hope(rules, definition, words) if rules else MAY_TELL
                if hope is not None:
                    yield _Trial(self.call, name, self.said.get(name, ""), words, hope, distance)

    def _answers(self, definition: FactDef, rules: Sequence[Rule]) -> Iterator[tuple[str, float]]:
        """What else he may say, and how far that is from what he said."""
        said = self.said.get(definition.name, "")
        added = 0.0 if said else ADDED
        if definition.kind != "number":
            offered = definition.choice_names or (("yes", "no") if definition.kind == "yes/no" else ())
            yield from ((choice, CHOICE + added) for choice in offered if choice != said)
            return
        here = _value(definition, said) if said else definition.typical
        if here is not None:
            for value in trial_values(definition, rules, STEPS):
                yield words_for(definition, value), abs(value - here) / width(definition) + added

    def _hope(self, rules: Sequence[Rule], definition: FactDef, words: str) -> int | None:
        """Whether both versions of a rule do otherwise with an answer, as far as it is read before the match; None
        where both deny it."""
        if not any(definition.name in reads(rule) for rule in rules):
            return FROM_AFAR if any(self._open(rule) for rule in rules) else None
        fact = heard_as(definition, words).fact
        if fact is None:
            return None
        signs = [self._sign(rule, fact) for rule in rules]
        if max(signs) < 0:
            return None
        told = len(rules) == 1 or signs[0] != signs[1] or rules[0].then != rules[1].then
        return TELLS if told and max(signs) > 0 else MAY_TELL

    def _facts(self, rule: Rule) -> FactBase:
        """The facts of the call as a rule reads them before the match."""
        if self.call not in self.openings:
            answers = self.call.under(self.pair.old)
            self.openings[self.call] = open_call(answers, self.pair.old, self.pair.agenda)
        opening = self.openings[self.call]
        return view(rule, (opening.first if rule.stage == "understand" else opening.second).facts)

    def _open(self, rule: Rule) -> bool:
        """Whether a rule can fire by facts that follow from his answers; what he said himself stays."""
        facts = self._facts(rule)
        return needed(rule, facts.without(name for name in facts if facts[name].origin.kind != "answer")).possible

    def _sign(self, rule: Rule, fact: Fact) -> int:
        """Whether a rule fires (1), may by what the match comes to (0), or does not (-1)."""
        facts = self._facts(rule).with_facts([fact])
        if rule.stage not in EARLY:
            return 0 if needed(rule, facts).possible else -1
        sign = sign_of(rule.when, facts)
        return 1 if isinstance(sign, int) and sign > 0 else -1

    def narrowed(self, flip: Flip, apart: bool) -> Flip:
        """The flip nearest to what was said, between there and there-abouts, in few digits; another choice as it is.
        ``apart``: whether another edit changes the call as it was recorded."""
        definition = self.pair.new.vocabulary[flip.fact]
        here = _value(definition, flip.said) if flip.said else definition.typical
        there = _value(definition, flip.instead)
        if definition.kind != "number" or here is None or there is None:
            return flip
        more = 0.0 if flip.said else ADDED
        near, far = here, there
        for _ in range(HALVINGS):
            middle = (near + far) / 2
            if self._at(flip, apart, words_for(definition, middle)).change:
                far = middle
            else:
                near = middle
        for digits in DIGITS:
            words = words_for(definition, _rounded(definition, far, digits, far > here))
            value = _value(definition, words)
            if value is None or abs(value - here) > abs(there - here):
                continue
            found = self._at(flip, apart, words, abs(value - here) / width(definition) + more)
            if found.change:
                return found
        return self._at(flip, apart, words_for(definition, far), abs(far - here) / width(definition) + more)

    def _at(self, flip: Flip, apart: bool, words: str, distance: float = 0.0) -> Flip:
        answers = with_answer(self.call.answers, flip.fact, words)
        change = self.pair.change(RecordedCall(self.call.name, self.call.file, answers))
        return replace(flip, instead=words, distance=distance, change=_by(flip.by, change, self.pair, apart))


def _rounded(definition: FactDef, value: float, digits: int, up: bool) -> float:
    """The value in so many digits of the shop's unit, rounded up or down."""
    shown = from_si(value, definition.unit, definition.quantity)
    step = 10.0 ** (floor(log10(abs(shown))) - digits + 1) if shown else 1.0
    return to_si((ceil(shown / step) if up else floor(shown / step)) * step, definition.unit, definition.quantity)


def _value(definition: FactDef, words: str) -> float | None:
    fact = heard_as(definition, words).fact
    return fact.value.mid if fact is not None and isinstance(fact.value, Range) else None
