"""For mutants that no script notices: recorded calls with an answer or few changed that would.

Situations are found without running them: what a rule reads of the answers is put in the place of what the caller
said, and everything else is taken as a call had it. What then seems to tell the mutant from its rule is run.
"""

import itertools
import os
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.course import Reached, conclude, open_call
from advisor.desk.evidence import stage_facts
from advisor.desk.held import touches
from advisor.desk.mutants import Mutant, all_mutants
from advisor.desk.reach import readable_answers, words_for
from advisor.desk.variants import concluded, fired, rerun, varied
from advisor.expected import Expectation
from advisor.hearing import understand
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda
from advisor.inference.facts import Column, Fact, FactBase, Numbers, Origin, Value, column
from advisor.inference.verdict import points_of, sign_of
from advisor.knowledge import Knowledge, Place, Rule, load
from advisor.knowledge.conditions import All, AnyOf, Condition, NoneOf, facts_in
from advisor.knowledge.rules import AddPart
from advisor.outcome import Answer
from advisor.outspoken import tells_early
from advisor.replay import stands
from advisor.scripted import Script, read_scripts, variant
from advisor.units import Range

GOALS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.1, 1.2, 1.3, 1.45, 1.6, 1.8, 2.1)  # shares of the power goal tried of each call
MOST_CHANGED = 3  # answers
MOST_TRIED = 2_000  # changes weighed of one mutant; over candidates
MOST_OVER_CANDIDATES = 60
RUNS = 8  # of them run at most
TRIED = Origin("answer", "a situation that is tried")

NOWHERE = Place("", 1, 1)

Change = tuple[str, str | None]
"""A fact with what is said of it; None where nothing is."""


@dataclass(frozen=True, slots=True)
class Changed:
    """A recorded call with some answers changed."""

    script: Script
    changes: tuple[Change, ...] = ()

    @property
    def answers(self) -> tuple[Answer, ...]:
        """What he says then."""
        given = [Answer(fact, words) for fact, words in self.changes if words is not None]
        without = [fact for fact, words in self.changes if words is None]
        return variant("", self.script.answers, given, without, "")[1]

    def also(self, more: Iterable[Change]) -> "Changed":
        """With further answers changed; what comes out as the call itself has it is no change."""
        said: dict[str, str | None] = {answer.fact: answer.words for answer in self.script.answers}
        changes = {**dict(self.changes), **dict(more)}
        return Changed(self.script, tuple((f, w) for f, w in sorted(changes.items()) if said.get(f) != w))


@dataclass(frozen=True, slots=True)
class Offered:
    """A call, and what it is offered to want."""

    call: Changed
    wanted: tuple[Expectation, ...]


@dataclass(slots=True)
class Run:
    """A call that was run, up to the match or through it, and what of it is offered to be wanted."""

    call: Changed
    course: Reached
    wanted: dict[Expectation, None] = field(default_factory=dict)


class Offers:
    """Looks for situations that tell mutants from their rules, and gathers what is offered.

    ``scripts`` are those of each file, the call before its variants. A rule is at home in a file that speaks of it, and
    in a call in which it fires: what such a call says of it is understood best.
    """

    def __init__(self, scripts: Sequence[Sequence[Script]], knowledge: Knowledge, fires: Agenda) -> None:
        self.knowledge, self.fires = knowledge, fires
        self.calls = [Changed(each[0]) for each in scripts]
        self.named = {each[0].file: frozenset().union(*(one.rules() for one in each)) for each in scripts}
        self.pools: dict[bool, dict[Changed, Run]] = {}
        self.offered: dict[bool, list[Run]] = {True: [], False: []}

    def offer(self, mutant: Mutant) -> bool:
        """Whether a situation was found that tells the mutant from its rule; then it is among the offers."""
        whole = _at_last(mutant.rule)
        if any(self._fails(run.wanted, mutant, run) for run in self.offered[whole] if _speaks_of(run, mutant)):
            return True
        pool = self._pool(whole)
        likely = sorted(self._likely(mutant, pool.values()), key=lambda one: one[:2])
        for call in list(dict.fromkeys(call for _, _, call in likely))[:RUNS]:
            run = pool.get(call) or self._run(call, whole)
            if wanted := next((one for one in self._wanted(mutant, run) if self._tells(one, mutant, run)), None):
                if not run.wanted:
                    self.offered[whole].append(run)
                run.wanted[wanted] = None
                pool[call] = run
                return True
        return False

    def gathered(self) -> list[Offered]:
        """What is offered so far."""
        return [Offered(run.call, tuple(run.wanted)) for run in (*self.offered[False], *self.offered[True])]

    def _run(self, call: Changed, whole: bool) -> Run:
        opening = open_call(call.answers, self.knowledge, self.fires)
        return Run(call, conclude(opening, self.knowledge, self.fires) if whole else opening)

    def _pool(self, whole: bool) -> dict[Changed, Run]:
        """The calls, and each at other power goals."""
        if whole not in self.pools:
            goals = [other for call in self.calls for other in self._goals(call, GOALS[1::2] if whole else GOALS)]
            self.pools[whole] = {call: self._run(call, whole) for call in (*self.calls, *goals)}
        return self.pools[whole]

    def _goals(self, call: Changed, shares: Sequence[float]) -> Iterator[Changed]:
        definition = self.knowledge.vocabulary.get("power goal")
        for answer in call.script.answers:
            if definition is not None and answer.fact == definition.name:
                heard = understand(definition, answer.words).fact
                if heard is not None and isinstance(heard.value, Range):
                    for share in shares:
                        yield call.also([(answer.fact, words_for(definition, heard.value.mid * share, 2))])

    def _likely(self, mutant: Mutant, runs: Iterable[Run]) -> Iterator[tuple[float, int, Changed]]:
        """What may tell the mutant: how much it asks of a reader, a number that keeps the order, and the call."""
        rule = mutant.rule
        read = sorted(facts_in(rule.when) | facts_in(mutant.variant.when))
        trials = _Trials(mutant, self.knowledge)
        seen: set[object] = set()
        for number, run in enumerate(runs):
            facts = stage_facts(rule, run.course)
            alike = tuple(facts.value(name) for name in read)
            if alike in seen and not run.wanted and not facts.columns:
                continue
            seen.add(alike)
            away = self._away(rule, run)
            for change in trials.telling(facts):
                call = run.call.also(change)
                known = bool(run.wanted) and not change and not away
                yield len(call.changes) + len(change) + away - known, number, call

    def _away(self, rule: Rule, run: Run) -> float:
        """How far from home a rule is in a call."""
        if rule.name in self.named[run.call.script.file]:
            return 0.0
        main = self.pools[_at_last(rule)][Changed(run.call.script)]
        return 0.5 if fired(rule, main.course) else 2.0 if run.call.changes else 3.0

    def _wanted(self, mutant: Mutant, run: Run) -> Iterator[Expectation]:
        """What could be wanted of the call so that the mutant fails: what is told best comes first."""
        rule, course = mutant.rule, run.course
        lines = concluded(course, self.knowledge)
        own = dict.fromkeys(line.kind for line in lines if line.rule == rule.name and line.kind != "says")
        if not fired(rule, course):
            yield Expectation("fired", rule.name, False, NOWHERE)
        elif rule.stage == "judge" and mutant.moves:
            yield from of_slopes(rule)
            if (words := conditions(rule)) is not None:
                yield Expectation("fired for", f"{words} [{rule.name}]", True, NOWHERE, _all(rule), rule.name)
        else:
            if own:
                yield _line(f"{', '.join(own)} [{rule.name}]", rule.name)
            yield Expectation("fired", rule.name, True, NOWHERE)
        other, under = self._mutated(mutant, run)
        without = {str(line) for line in concluded(other, under)}
        for line in lines:
            counts = line.what.endswith(" candidates")  # a number that a change of the catalogue moves
            if line.rule and not counts and str(line) not in without:
                yield _line(str(line), line.rule)

    def _tells(self, wanted: Expectation, mutant: Mutant, run: Run) -> bool:
        """Whether it is as wanted under the rules, and not with the mutant."""
        return stands(wanted, run.course, self.knowledge) and self._fails((wanted,), mutant, run)

    def _fails(self, wanted: Iterable[Expectation], mutant: Mutant, run: Run) -> bool:
        if not touches(mutant, run.course):
            return False
        other, under = self._mutated(mutant, run)
        return not all(stands(one, other, under) for one in wanted)

    def _mutated(self, mutant: Mutant, run: Run) -> tuple[Reached, Knowledge]:
        under = varied(self.knowledge, mutant.rule, mutant.variant)
        return rerun(run.call.answers, under, mutant.rule, run.course, self.fires), under


def offers(
    missed: Sequence[int],
    paths: Sequence[Path],
    folder: Path,
    engine: str = "auto",
    processes: int | None = None,
    of: Collection[str] = (),
) -> tuple[dict[str, list[Offered]], list[Mutant]]:
    """What is offered for the mutants with these numbers, counted among those ``of`` the rules that are named, by the
    file of the script that it belongs to, and those of them for which nothing was found. Raises KnowledgeError."""
    every = all_mutants(load(folder), of)
    topics: dict[str, list[int]] = {}
    for number in missed:
        topics.setdefault(every[number].place.file, []).append(number)
    parts = sorted(topics.values(), key=len, reverse=True)
    count = max(1, min(processes or os.cpu_count() or 1, len(parts)))
    found: dict[Changed, dict[Expectation, None]] = {}
    lost: list[Mutant] = []
    with ProcessPoolExecutor(count, initializer=_prepare, initargs=(tuple(paths), folder, engine, of)) as pool:
        for gathered, left in pool.map(_of_topic, parts):
            lost += [every[number] for number in left]
            for one in gathered:
                found.setdefault(one.call, {}).update(dict.fromkeys(one.wanted))
    by_file: dict[str, list[Offered]] = {}
    for call, wanted in found.items():
        by_file.setdefault(call.script.file, []).append(Offered(call, tuple(wanted)))
    return by_file, lost


_at_work: tuple[Offers, list[Mutant]] | None = None


def _prepare(paths: Sequence[Path], folder: Path, engine: str, of: Collection[str]) -> None:
    global _at_work
    knowledge = load(folder)
    scripts = [scripts for path in paths if (scripts := read_scripts(path, knowledge)[0])]
    fires: Agenda = agenda(engine)  # type: ignore[arg-type]
    _at_work = (Offers(scripts, knowledge, fires), all_mutants(knowledge, of))


def _of_topic(numbers: Sequence[int]) -> tuple[list[Offered], list[int]]:
    """Everything offered so far by this process, and the mutants of these for which nothing was found."""
    assert _at_work is not None
    at_work, every = _at_work
    lost = [number for number in numbers if not at_work.offer(every[number])]
    return at_work.gathered(), lost


def _speaks_of(run: Run, mutant: Mutant) -> bool:
    return any(mutant.rule.name in (one.words, one.rule) for one in run.wanted)


def _at_last(rule: Rule) -> bool:
    """Whether something that the rule does or tells is settled by the match or after it."""
    return not tells_early(rule) or any(isinstance(action, AddPart) for action in rule.then)


def _line(words: str, rule: str) -> Expectation:
    return Expectation("concludes", words, True, NOWHERE, rule=rule)


def _all(rule: Rule) -> All:
    assert isinstance(rule.when, All)
    return rule.when


def conditions(rule: Rule) -> str | None:
    """The rule's conditions in a line, as those that must all hold, each with its alternatives; None for what a line
    can't hold."""
    found = _alternatives(rule.when)
    return None if found is None else "; ".join(" or ".join(either) for either in found)


def of_slopes(rule: Rule) -> Iterator[Expectation]:
    """From whom the rule takes the points of each end of a slope, or more, and of the middle between ends."""
    written = [] if (found := _alternatives(rule.written)) is None else found
    for slope in rule.slopes:
        own = zip((points for _, points in slope.ends if points), slope.reached(), strict=True)
        for points, leaf in (*own, *slope.halfway()):
            words = "; ".join(" or ".join(either) for either in (*written, (leaf.text,)))
            kind = "takes" if points > 0 else "gives"
            every = replace(rule.written, parts=(*rule.written.parts, leaf))
            line = f"{abs(points):g} points for {words} [{rule.name}]"
            yield Expectation(kind, line, True, NOWHERE, every, rule.name, points)


def _alternatives(part: Condition) -> list[tuple[str, ...]] | None:
    """A condition as a list of alternatives of which each must hold; None where `none` is in it."""
    match part:
        case NoneOf():
            return None
        case All(parts=parts):
            every = [_alternatives(one) for one in parts]
            return None if None in every else list(dict.fromkeys(either for one in every for either in one or ()))
        case AnyOf(parts=parts):
            each = [_alternatives(one) for one in parts]
            if None in each:
                return None
            ways = itertools.product(*(one or () for one in each))
            return list(dict.fromkeys(tuple(dict.fromkeys(itertools.chain(*way))) for way in ways))
        case _:
            return [(part.text,)]


class _Trials:
    """Changes of the answers that a rule reads, one to three at a time, weighed together."""

    def __init__(self, mutant: Mutant, knowledge: Knowledge) -> None:
        self.mutant = mutant
        read = sorted(facts_in(mutant.rule.when) | facts_in(mutant.variant.when))
        asked = [name for name in read if knowledge.vocabulary[name].source == "asked"]
        rules = (mutant.rule, mutant.variant)
        self.options: dict[str, list[str | None]] = {
            name: [*readable_answers(knowledge.vocabulary[name], rules), None] for name in asked
        }
        self.values: dict[str, list[Value | None]] = {
            name: [_value(knowledge, name, words) for words in options] for name, options in self.options.items()
        }
        self.changes = list(itertools.islice(self._changes(), MOST_TRIED))
        none = dict.fromkeys(asked, -1)
        rows = [none | dict(change) for change in self.changes]
        self.picked = {name: np.array([row[name] for row in rows], dtype=np.intp) for name in asked}

    def _changes(self) -> Iterator[tuple[tuple[str, int], ...]]:
        for count in range(min(MOST_CHANGED, len(self.options)) + 1):
            for names in itertools.combinations(self.options, count):
                for picked in itertools.product(*(range(len(self.options[name])) for name in names)):
                    yield tuple(zip(names, picked, strict=True))

    def telling(self, facts: FactBase) -> Iterator[tuple[Change, ...]]:
        """The smallest changes with which these facts would tell the mutant from its rule."""
        if facts.columns:
            few = range(min(len(self.changes), MOST_OVER_CANDIDATES))
            found = [row for row in few if self._over(facts, row)]
        else:
            found = np.flatnonzero(self._differ(facts.with_columns(self._columns(facts), TRIED))).tolist()
        for row in found[:3]:
            yield tuple((name, self.options[name][at]) for name, at in self.changes[row])

    def _over(self, facts: FactBase, row: int) -> bool:
        change = {name: self.values[name][at] for name, at in self.changes[row]}
        said = [Fact(name, value, TRIED) for name, value in change.items() if value is not None]
        return bool(np.any(self._differ(facts.without(change).with_facts(said))))

    def _columns(self, facts: FactBase) -> Mapping[str, Column]:
        found: dict[str, Column] = {}
        for name, picked in self.picked.items():
            each = column([*self.values[name], facts.value(name)])
            if isinstance(each, Numbers):
                found[name] = Numbers(each.low[picked], each.high[picked])
            else:
                found[name] = type(each)(each.codes[picked], each.table)
        return found

    def _differ(self, facts: FactBase) -> NDArray[np.bool_]:
        one, other = (_does(rule, facts) for rule in (self.mutant.rule, self.mutant.variant))
        return np.atleast_1d(one != 0.0 if not self.mutant.moves else ~np.isclose(one, other))


def _does(rule: Rule, facts: FactBase) -> NDArray[np.float64]:
    """What a rule does to each candidate: the points of its slope, 1 where it fires without one, 0 where it doesn't."""
    fires = np.equal(sign_of(rule.when, facts), 1)
    points = [points_of(slope, facts)[0] for slope in rule.slopes] or [np.ones(())]
    return np.where(fires, points[0], 0.0)


def _value(knowledge: Knowledge, name: str, words: str | None) -> Value | None:
    heard = None if words is None else understand(knowledge.vocabulary[name], words).fact
    return None if heard is None else heard.value
