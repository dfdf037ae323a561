"""Scripted calls replayed: each is consulted, and what differs from what it must conclude is said in a line.

A call, or a variant of one, is taken as far as what it must conclude reaches: what hangs on the stages before the
match alone is not matched.
"""

import os
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from advisor.conclusion import Line, conclusion, opened
from advisor.consultation import questions_of
from advisor.course import Course, Reached, conclude, open_call
from advisor.expected import BEHIND, Expectation, FigureRange
from advisor.hearing.understood import value_words
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda as find_agenda
from advisor.inference.facts import FactBase
from advisor.inference.verdict import judge
from advisor.knowledge import Knowledge, Place, Rule, load
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.rules import FIRST_STAGE, Caution, Stage
from advisor.knowledge.source import files_in
from advisor.knowledge.strata import writes
from advisor.matched import MOST_KEPT, match_ahead
from advisor.outspoken import outspoken, tells_early
from advisor.scripted import Script, read_scripts
from advisor.spans import told_over
from advisor.supplied import COMPUTED_AT_LAST
from advisor.units import Range, show

# Below this many calls a second process costs more than it saves.
WORTH_A_PROCESS = 8


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not as the script wants it."""

    place: Place
    words: str

    def __str__(self) -> str:
        return f"{self.place}: {self.words}"


@dataclass(frozen=True, slots=True)
class Replayed:
    """A scripted call after its replay: refused (faults, as lines), differing, or as it should be."""

    file: str
    call: str
    differences: tuple[Difference, ...] = ()
    refused: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()  # what is odd about an answer that was understood, with its place
    idle: str = ""  # told of a call that, with all its variants, checks nothing
    fired: frozenset[str] = frozenset()
    verdict: str = ""
    best: str = ""


def scripts_in(paths: Sequence[Path]) -> list[Path]:
    """The script files that the paths name; of a folder all its ``.yaml`` files, in order."""
    found: list[Path] = []
    for path in paths:
        found += files_in(path, ".yaml") if path.is_dir() else [path]
    return list(dict.fromkeys(found))


def replay(paths: Sequence[Path], folder: Path, engine: str = "auto", processes: int | None = None) -> list[Replayed]:
    """Replay all files, on several processes where that pays; results in the order of ``paths``, each call before
    its variants."""
    count = processes if processes is not None else min(os.cpu_count() or 1, 1 + len(paths) // WORTH_A_PROCESS)
    if count <= 1:
        _prepare(folder, engine)
        return [one for path in paths for one in _replay_file(path)]
    with ProcessPoolExecutor(count, initializer=_prepare, initargs=(folder, engine)) as pool:
        return [one for found in pool.map(_replay_file, paths) for one in found]


_shop: tuple[Knowledge, Agenda] | None = None


def _prepare(folder: Path, engine: str) -> None:
    global _shop
    _shop = (load(folder), find_agenda(engine))  # type: ignore[arg-type]


def _replay_file(path: Path) -> list[Replayed]:
    assert _shop is not None
    knowledge, agenda = _shop
    scripts, faults = read_scripts(path, knowledge)
    if faults:
        return [Replayed(str(path), path.stem, refused=tuple(map(str, faults)))]
    courses = side_by_side(scripts, knowledge, agenda)
    found = [_held(script, course, knowledge) for script, course in zip(scripts, courses, strict=True)]
    if not any(script.expects for script in scripts):
        mend = "write 'must:', 'must not:' or 'figures:' under 'conclude:', or let --record write all it concludes"
        found[0] = replace(found[0], idle=f"{scripts[0].place}: this call checks nothing; {mend}")
    return found


def replayed(script: Script, knowledge: Knowledge, agenda: Agenda) -> Replayed:
    """One script against what the knowledge concludes from its answers."""
    return _held(script, taken(script, knowledge, agenda), knowledge)


def _held(script: Script, course: Reached, knowledge: Knowledge) -> Replayed:
    differing = tuple(differences(script, course, knowledge))
    fired = frozenset(firing.rule for firing in course.firings)
    doubts = tuple(
        f"{script.place_of(heard.answer)}: {heard.answer.fact}: {heard.doubt}"
        for heard in course.understood
        if heard.doubt
    )
    if not isinstance(course, Course):
        return Replayed(script.file, script.call, differing, doubts=doubts, fired=fired)
    best = "" if course.advised is None else course.weighed.candidates.codes[course.advised]
    return Replayed(
        script.file, script.call, differing, doubts=doubts, fired=fired, verdict=course.verdict, best=best
    )


def taken(script: Script, knowledge: Knowledge, agenda: Agenda) -> Reached:
    """The script's call, taken as far as what it must conclude reaches."""
    return next(side_by_side([script], knowledge, agenda))


def side_by_side(scripts: Sequence[Script], knowledge: Knowledge, agenda: Agenda) -> Iterator[Reached]:
    """The same for each of some scripts; what they need matched is matched side by side."""
    for start in range(0, len(scripts), MOST_KEPT):
        lot = scripts[start : start + MOST_KEPT]
        openings = [open_call(script.answers, knowledge, agenda) for script in lot]
        further = [not settled_early(script, knowledge) for script in lot]
        match_ahead([opening.now for opening, on in zip(openings, further, strict=True) if on], knowledge)
        for opening, on in zip(openings, further, strict=True):
            yield conclude(opening, knowledge, agenda) if on else opening


EARLY: tuple[Stage, ...] = ("understand", "demand")
UNTOLD = ("fact", "assumption", "asks", "asks first")
"""Kinds of lines that stand whether or not anything is told."""


def settled_early(script: Script, knowledge: Knowledge) -> bool:
    """Whether all that the script wants is settled before the match."""
    if not script.expects or script.verdict or script.order or script.outcome is not None:
        return False
    of_facts = [name for one in script.expectations if one.condition is not None for name in facts_in(one.condition)]
    sources = {knowledge.vocabulary[name].source for name in of_facts}
    if _late(knowledge) & {*of_facts, *(figure.name for figure in script.figures)}:
        return False
    if any(FIRST_STAGE[source] not in EARLY for source in sources):
        return False
    return all(_of_early(one, knowledge) for one in script.expectations)


@lru_cache(maxsize=8)
def _late(knowledge: Knowledge) -> frozenset[str]:
    """Facts that are settled by the match or after it."""
    rules = (rule for rule in knowledge.rules if rule.stage not in EARLY)
    return COMPUTED_AT_LAST.union(*map(writes, rules))


def _of_early(expectation: Expectation, knowledge: Knowledge) -> bool:
    if expectation.kind == "known":
        return True
    if expectation.kind == "fired":
        return knowledge.rule(expectation.words).stage in EARLY
    if expectation.kind == "caution":
        return tells_early(knowledge.rule(expectation.words))
    behind = BEHIND.search(expectation.words) if expectation.kind == "concludes" else None
    if behind is None or knowledge.rule(behind[1]).stage not in EARLY:
        return False
    kinds = {*expectation.words[: behind.start()].partition(": ")[0].strip().split(", ")}
    return "part" not in kinds and (kinds <= {*UNTOLD} or tells_early(knowledge.rule(behind[1])))


def differences(script: Script, course: Reached, knowledge: Knowledge) -> Iterable[Difference]:
    """Everything that the script wants otherwise. An opening is enough for what is settled before the match."""
    for heard in course.understood:
        if heard.again:
            words = f"'{heard.answer.words}' was not understood as {heard.answer.fact}: {heard.again}"
            yield Difference(script.place_of(heard.answer), words)
    # Questions cost most to find, so what hangs on them comes last.
    asks = [expectation for expectation in script.expectations if expectation.kind == "asks"]
    for expectation in script.expectations:
        if expectation.kind != "asks" and (words := _against(expectation, course, (), knowledge)):
            yield Difference(expectation.place, words)
    for figure in script.figures:
        words = _outside(figure, facts_of(course), knowledge)
        if words:
            yield Difference(figure.place, words)
    if isinstance(course, Course):
        yield from _of_the_whole(script, asks, course, knowledge)


def _of_the_whole(
    script: Script, asks: Sequence[Expectation], course: Course, knowledge: Knowledge
) -> Iterable[Difference]:
    """What differs in verdict, recorded outcome and questions."""
    if script.verdict is not None and script.verdict != course.verdict:
        words = f"the verdict is '{course.verdict}', not '{script.verdict}'"
        yield Difference(script.verdict_place or script.place, words)
    if script.outcome is not None:
        now = [str(line) for line in conclusion(course, knowledge)]
        at = script.outcome_place or script.place
        for line in script.outcome:
            if line not in now:
                yield Difference(at, f"recorded, and not so any more: {line}")
        for line in now:
            if line not in script.outcome:
                yield Difference(at, f"so now, and not recorded: {line}")
    if not asks and not script.order:
        return
    asked = tuple(question.fact for question in questions_of(course, knowledge))
    for expectation in asks:
        if words := _against(expectation, course, asked, knowledge):
            yield Difference(expectation.place, words)
    if script.order and asked[: len(script.order)] != script.order:
        first = ", ".join(asked[: len(script.order)])
        yield Difference(script.place, f"asks first {first}, not {', '.join(script.order)}")


def facts_of(course: Reached) -> FactBase:
    """The facts as far as the call was taken."""
    return course.last.facts if isinstance(course, Course) else course.second.facts


def lines_of(course: Reached, knowledge: Knowledge) -> tuple[Line, ...]:
    """What is concluded as far as the call was taken."""
    return conclusion(course, knowledge) if isinstance(course, Course) else opened(course, knowledge)


def warns(rule: Rule, course: Reached, knowledge: Knowledge) -> bool:
    """Whether the rule's caution is told."""
    if not _is_caution(rule) or not any(firing.rule == rule.name for firing in course.firings):
        return False
    best, told = None, course.firings
    if isinstance(course, Course):
        best, told = course.advised, outspoken(course, knowledge)
    return any(firing.rule == rule.name and firing.fired_for(best) for firing in told)


def _is_caution(rule: Rule) -> bool:
    return any(isinstance(action, Caution) for action in rule.then)


def stands(expectation: Expectation, course: Reached, knowledge: Knowledge) -> bool:
    """Whether one thing that hangs on no question is as wanted."""
    return not _against(expectation, course, (), knowledge)


def _against(expectation: Expectation, course: Reached, asked: Sequence[str], knowledge: Knowledge) -> str:
    """What differs, in words; "" when it is as wanted."""
    name, wanted = expectation.words, expectation.wanted
    match expectation.kind:
        case "fired":
            holds = any(firing.rule == name for firing in course.firings)
            return "" if holds == wanted else f"the rule {name} {'did not fire' if wanted else 'fired'}"
        case "caution":
            holds = warns(knowledge.rule(name), course, knowledge)
            return "" if holds == wanted else f"the rule {name} {'does not warn' if wanted else 'warns'}"
        case "concludes":
            return _of_lines(expectation, lines_of(course, knowledge))
        case "asks":
            return "" if (name in asked) == wanted else f"{name} is {'not asked' if wanted else 'asked'}"
        case "known":
            return _of_facts(expectation, facts_of(course), "", knowledge)
    assert isinstance(course, Course)
    match expectation.kind:
        case "may caution":
            found = told_over(course, knowledge)
            open_ = found is not None and found.sign(name) == 0 and _is_caution(knowledge.rule(name))
            words = "doesn't hang on a range that he gave" if wanted else "hangs on a range that he gave"
            return "" if open_ == wanted else f"whether the rule {name} warns {words}"
        case "best":
            return _of_option(expectation, course.advised, "nothing is recommended", course, knowledge)
        case "requested":
            row = course.weighed.requested
            return _of_option(expectation, row, "no part he asked for is known", course, knowledge)
        case "fired for":
            return _of_fired(expectation, course)
        case "takes" | "gives":
            return _of_points(expectation, course)
        case _:
            return _of_ruled_out(expectation, course)


def _of_lines(expectation: Expectation, lines: Iterable[Line]) -> str:
    """Against a line in full or short form, or several kinds of lines of one rule."""
    forms = {form for line in lines for form in (str(line), line.short)}
    words, wanted = expectation.words, expectation.wanted
    several = [words]
    if words not in forms and (behind := BEHIND.search(words)) is not None:
        several = [f"{kind} {behind[0]}" for kind in words[: behind.start()].strip().split(", ")]
    wrong = [one for one in several if (one in forms) != wanted]
    return f"'{wrong[0]}' is {'not ' if wanted else ''}concluded" if wrong else ""


def _of_option(expectation: Expectation, row: int | None, none: str, course: Course, knowledge: Knowledge) -> str:
    if row is None or (row == course.best and course.provisional):
        return f"{none}, so '{expectation.words}' {'fails' if expectation.wanted else 'cannot be told'}"
    about = f"{course.weighed.candidates.codes[row]}: "
    return _of_facts(expectation, course.weighed.facts.at(row), about, knowledge)


def _of_facts(expectation: Expectation, facts: FactBase, about: str, knowledge: Knowledge) -> str:
    assert expectation.condition is not None
    holds = int(judge(expectation.condition, facts)) == 1
    if holds == expectation.wanted:
        return ""
    name, value = _first_value(expectation, facts, knowledge)
    return f"{about}'{expectation.words}' {'does not hold' if expectation.wanted else 'holds'} ({name} {value})"


def _first_value(expectation: Expectation, facts: FactBase, knowledge: Knowledge) -> tuple[str, str]:
    assert expectation.condition is not None
    name = min(facts_in(expectation.condition))
    value = facts.value(name)
    return name, "is not known" if value is None else value_words(value, knowledge.vocabulary.get(name))


def _of_ruled_out(expectation: Expectation, course: Course) -> str:
    assert expectation.condition is not None
    weighed = course.weighed
    codes = weighed.candidates.codes
    named = np.flatnonzero(np.broadcast_to(judge(expectation.condition, weighed.facts), len(codes)) == 1)
    if not named.size:
        return f"no candidate has '{expectation.words}'"
    kept, gone = named[weighed.kept[named]], named[~weighed.kept[named]]
    count = f"of {named.size} candidates with '{expectation.words}' are"
    if expectation.wanted and kept.size:
        return f"{kept.size} {count} not ruled out, such as {codes[kept[0]]}"
    if not expectation.wanted and gone.size:
        return f"{gone.size} {count} ruled out, such as {codes[gone[0]]}"
    return ""


def _of_fired(expectation: Expectation, course: Course) -> str:
    """Against the candidates for which a rule fired: those with the condition, and no others."""
    assert expectation.condition is not None
    codes, name = course.weighed.candidates.codes, expectation.rule
    shape = len(codes)
    named = np.broadcast_to(judge(expectation.condition, course.weighed.facts), shape) == 1
    masks = [firing.among(shape) for firing in course.firings if firing.rule == name]
    fired = masks[0] if masks else np.zeros(shape, dtype=bool)
    if np.array_equal(named, fired) == expectation.wanted:
        return ""
    if not expectation.wanted:
        return f"the rule {name} fired for exactly those with '{expectation.words}'"
    more, fewer = np.flatnonzero(fired & ~named), np.flatnonzero(named & ~fired)
    if more.size:
        return f"the rule {name} fired for {more.size} more than those with that, such as {codes[more[0]]}"
    return f"the rule {name} did not fire for {fewer.size} of those with that, such as {codes[fewer[0]]}"


def _of_points(expectation: Expectation, course: Course) -> str:
    """Against the candidates from which a rule takes so many points or more: those with the condition, no others."""
    assert expectation.condition is not None
    codes, name, size = course.weighed.candidates.codes, expectation.rule, abs(expectation.points)
    named = np.broadcast_to(judge(expectation.condition, course.weighed.facts), len(codes)) == 1
    found = [f.points.sure for f in course.firings if f.rule == name and f.points is not None]
    taken = np.sign(expectation.points) * np.broadcast_to(found[0] if found else np.zeros(()), len(codes))
    so_many = taken >= size - 1e-9
    if np.array_equal(named, so_many) == expectation.wanted:
        return ""
    verb = "take" if expectation.points > 0 else "give"
    if not expectation.wanted:
        return f"the rule {name} {verb}s {size:g} points for exactly those with '{expectation.words}'"
    more, fewer = np.flatnonzero(so_many & ~named), np.flatnonzero(named & ~so_many)
    at = int(more[0] if more.size else fewer[0])
    count, whose = (more.size, "more than those") if more.size else (fewer.size, "of those")
    does = f"{verb}s" if more.size else f"does not {verb}"
    return f"the rule {name} {does} {size:g} points for {count} {whose} with that, such as {codes[at]} ({taken[at]:g})"


def _outside(wanted: FigureRange, facts: FactBase, knowledge: Knowledge) -> str:
    definition = knowledge.vocabulary[wanted.name]
    value = facts.value(wanted.name)
    if not isinstance(value, Range):
        return f"{wanted.name} is not known; {wanted.words} is wanted"
    if wanted.low <= value.low and value.high <= wanted.high:
        return ""
    return f"{wanted.name} is {show(value, definition.unit, definition.quantity)}; {wanted.words} is wanted"
