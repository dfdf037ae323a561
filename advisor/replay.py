"""Scripted calls replayed: each is consulted, and what differs from what it must conclude is said in a line."""

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.conclusion import conclusion, fired_for
from advisor.consultation import questions_of
from advisor.course import NOT_ENOUGH, Course, infer
from advisor.hearing import value_words
from advisor.inference.agenda import Agenda
from advisor.inference.agenda import agenda as find_agenda
from advisor.inference.facts import FactBase
from advisor.inference.verdict import judge
from advisor.knowledge import Knowledge, Place, load
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.rules import Caution
from advisor.scripted import Expectation, FigureRange, Script, read_script
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
    fired: frozenset[str] = frozenset()
    verdict: str = ""
    best: str = ""


def scripts_in(paths: Sequence[Path]) -> list[Path]:
    """The script files that the paths name; of a folder all its ``.yaml`` files, in order."""
    found: list[Path] = []
    for path in paths:
        found += sorted(path.glob("*.yaml")) if path.is_dir() else [path]
    return list(dict.fromkeys(found))


def replay(paths: Sequence[Path], folder: Path, engine: str = "auto", processes: int | None = None) -> list[Replayed]:
    """Replay all files, on several processes where that pays; results in the order of ``paths``."""
    count = processes if processes is not None else min(os.cpu_count() or 1, 1 + len(paths) // WORTH_A_PROCESS)
    if count <= 1:
        _prepare(folder, engine)
        return [_replay_file(path) for path in paths]
    with ProcessPoolExecutor(count, initializer=_prepare, initargs=(folder, engine)) as pool:
        return list(pool.map(_replay_file, paths, chunksize=max(1, len(paths) // (4 * count))))


_shop: tuple[Knowledge, Agenda] | None = None


def _prepare(folder: Path, engine: str) -> None:
    global _shop
    _shop = (load(folder), find_agenda(engine))  # type: ignore[arg-type]


def _replay_file(path: Path) -> Replayed:
    assert _shop is not None
    knowledge, agenda = _shop
    script, faults = read_script(path, knowledge)
    if script is None:
        return Replayed(str(path), path.stem, refused=tuple(map(str, faults)))
    return replayed(script, knowledge, agenda)


def replayed(script: Script, knowledge: Knowledge, agenda: Agenda) -> Replayed:
    """One script against what the knowledge concludes from its answers."""
    course = infer(script.answers, knowledge, agenda)
    return Replayed(
        script.file,
        script.call,
        tuple(differences(script, course, knowledge)),
        fired=frozenset(firing.rule for firing in course.firings),
        verdict=course.verdict,
        best=course.weighed.candidates.codes[course.best] if course.best is not None else "",
    )


def differences(script: Script, course: Course, knowledge: Knowledge) -> Iterable[Difference]:
    """Everything that the script wants otherwise."""
    top = Place(script.file, 1, 1)
    for heard in course.understood:
        if heard.again:
            yield Difference(top, f"'{heard.answer.words}' was not understood as {heard.answer.fact}: {heard.again}")
    if script.verdict is not None and script.verdict != course.verdict and script.verdict_place is not None:
        yield Difference(script.verdict_place, f"the verdict is '{course.verdict}', not '{script.verdict}'")
    # Questions cost most to find, so what hangs on them comes last.
    asks = [expectation for expectation in script.expectations if expectation.kind == "asks"]
    for expectation in script.expectations:
        if expectation.kind != "asks" and (words := _against(expectation, course, (), knowledge)):
            yield Difference(expectation.place, words)
    for figure in script.figures:
        words = _outside(figure, course, knowledge)
        if words:
            yield Difference(figure.place, words)
    if script.outcome is not None:
        now = [str(line) for line in conclusion(course, knowledge)]
        for line in script.outcome:
            if line not in now:
                yield Difference(script.outcome_place or top, f"recorded, and not so any more: {line}")
        for line in now:
            if line not in script.outcome:
                yield Difference(script.outcome_place or top, f"so now, and not recorded: {line}")
    if not asks and not script.order:
        return
    asked = tuple(question.fact for question in questions_of(course, knowledge))
    for expectation in asks:
        if words := _against(expectation, course, asked, knowledge):
            yield Difference(expectation.place, words)
    if script.order and asked[: len(script.order)] != script.order:
        first = ", ".join(asked[: len(script.order)])
        yield Difference(top, f"asks first {first}, not {', '.join(script.order)}")


def _against(expectation: Expectation, course: Course, asked: Sequence[str], knowledge: Knowledge) -> str:
    """What differs, in words; "" when it is as wanted."""
    name, wanted = expectation.words, expectation.wanted
    match expectation.kind:
        case "fired":
            holds = any(firing.rule == name for firing in course.firings)
            return "" if holds == wanted else f"the rule {name} {'did not fire' if wanted else 'fired'}"
        case "caution":
            holds = any(firing.rule == name and fired_for(firing, course.best) for firing in course.firings) and any(
                isinstance(action, Caution) for action in knowledge.rule(name).then
            )
            return "" if holds == wanted else f"the rule {name} {'does not warn' if wanted else 'warns'}"
        case "concludes":
            lines = conclusion(course, knowledge)
            holds = any(name in (str(line), line.short) for line in lines)
            return "" if holds == wanted else f"'{name}' is {'not ' if wanted else ''}concluded"
        case "asks":
            return "" if (name in asked) == wanted else f"{name} is {'not asked' if wanted else 'asked'}"
        case "best":
            return _of_option(expectation, course.best, "nothing is recommended", course, knowledge)
        case "requested":
            row = course.weighed.requested
            return _of_option(expectation, row, "no part he asked for is known", course, knowledge)
        case "known":
            return _of_facts(expectation, course.last.facts, "", knowledge)
        case _:
            return _of_ruled_out(expectation, course)


def _of_option(expectation: Expectation, row: int | None, none: str, course: Course, knowledge: Knowledge) -> str:
    if row is None or (row == course.best and course.verdict == NOT_ENOUGH):
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


def _outside(wanted: FigureRange, course: Course, knowledge: Knowledge) -> str:
    definition = knowledge.vocabulary[wanted.name]
    value = course.last.facts.value(wanted.name)
    if not isinstance(value, Range):
        return f"{wanted.name} is not known; {wanted.words} is wanted"
    if wanted.low <= value.low and value.high <= wanted.high:
        return ""
    return f"{wanted.name} is {show(value, definition.unit, definition.quantity)}; {wanted.words} is wanted"
