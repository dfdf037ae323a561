"""Scripted calls replayed: each is consulted, and what differs from what it must conclude is said in a line."""

import os
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.consultation import consult
from advisor.hearing import value_words
from advisor.inference.agenda import Agenda
from advisor.inference.agenda import agenda as find_agenda
from advisor.inference.facts import FactBase
from advisor.inference.verdict import judge
from advisor.knowledge import Knowledge, Place, load
from advisor.outcome import Consultation, Option
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


def replay(
    paths: Sequence[Path], folder: Path, engine: str = "auto", processes: int | None = None
) -> list[Replayed]:
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
    outcome = consult(script.answers, knowledge, agenda)
    return Replayed(
        script.file,
        script.call,
        tuple(differences(script, outcome, knowledge)),
        fired=frozenset(firing.rule for firing in outcome.firings),
        verdict=outcome.verdict,
        best=outcome.recommended.code if outcome.recommended else "",
    )


def differences(script: Script, outcome: Consultation, knowledge: Knowledge) -> Iterable[Difference]:
    """Everything that the script wants otherwise."""
    for heard in outcome.understood:
        if heard.again:
            words = f"'{heard.answer.words}' was not understood as {heard.answer.fact}: {heard.again}"
            yield Difference(Place(script.file, 1, 1), words)
    if script.verdict is not None and script.verdict != outcome.verdict and script.verdict_place is not None:
        yield Difference(script.verdict_place, f"the verdict is '{outcome.verdict}', not '{script.verdict}'")
    for expectation in script.expectations:
        words = _against(expectation, outcome, knowledge)
        if words:
            yield Difference(expectation.place, words)
    for figure in script.figures:
        words = _outside(figure, outcome, knowledge)
        if words:
            yield Difference(figure.place, words)
    asked = tuple(question.fact for question in outcome.questions[: len(script.order)])
    if script.order and asked != script.order:
        yield Difference(Place(script.file, 1, 1), f"asks first {', '.join(asked)}, not {', '.join(script.order)}")


def _against(expectation: Expectation, outcome: Consultation, knowledge: Knowledge) -> str:
    """What differs, in words; "" when it is as wanted."""
    name, wanted = expectation.words, expectation.wanted
    match expectation.kind:
        case "fired":
            holds = any(firing.rule == name for firing in outcome.firings)
            return "" if holds == wanted else f"the rule {name} {'did not fire' if wanted else 'fired'}"
        case "caution":
            holds = any(caution.rule == name for caution in outcome.cautions)
            return "" if holds == wanted else f"the rule {name} {'does not warn' if wanted else 'warns'}"
        case "asks":
            holds = any(question.fact == name for question in outcome.questions)
            return "" if holds == wanted else f"{name} is {'not asked' if wanted else 'asked'}"
        case "best":
            return _of_option(expectation, outcome.recommended, "nothing is recommended", outcome, knowledge)
        case "requested":
            return _of_option(expectation, outcome.requested, "no part he asked for is known", outcome, knowledge)
        case "known":
            return _of_facts(expectation, FactBase(outcome.facts), "", knowledge)
        case _:
            return _of_ruled_out(expectation, outcome, knowledge)


def _of_option(
    expectation: Expectation, option: Option | None, none: str, outcome: Consultation, knowledge: Knowledge
) -> str:
    if option is None:
        return f"{none}, so '{expectation.words}' {'fails' if expectation.wanted else 'cannot be told'}"
    return _of_facts(expectation, outcome.facts_of(option.code), f"{option.code}: ", knowledge)


def _of_facts(expectation: Expectation, facts: FactBase, about: str, knowledge: Knowledge) -> str:
    assert expectation.condition is not None
    holds = int(judge(expectation.condition, facts)) == 1
    if holds == expectation.wanted:
        return ""
    name, value = _first_value(expectation, facts, knowledge)
    return f"{about}'{expectation.words}' {'does not hold' if expectation.wanted else 'holds'} ({name} {value})"


def _first_value(expectation: Expectation, facts: FactBase, knowledge: Knowledge) -> tuple[str, str]:
    from advisor.knowledge.conditions import facts_in

    assert expectation.condition is not None
    name = min(facts_in(expectation.condition))
    value = facts.value(name)
    return name, "is not known" if value is None else value_words(value, knowledge.vocabulary.get(name))


def _of_ruled_out(expectation: Expectation, outcome: Consultation, knowledge: Knowledge) -> str:
    assert expectation.condition is not None
    columns = outcome.candidate_facts
    verdicts = np.broadcast_to(judge(expectation.condition, columns), columns.size or 0)
    out = {ruled.code for ruled in outcome.ruled_out}
    codes = [columns.at(int(i)).value("candidate code") for i in np.flatnonzero(verdicts == 1)]
    if not codes:
        return f"no candidate has '{expectation.words}'"
    kept = [code for code in codes if code not in out]
    if expectation.wanted and kept:
        return f"{len(kept)} of {len(codes)} candidates with '{expectation.words}' are not ruled out, such as {kept[0]}"
    if not expectation.wanted and len(kept) < len(codes):
        gone = next(code for code in codes if code in out)
        count = f"{len(codes) - len(kept)} of {len(codes)}"
        return f"{count} candidates with '{expectation.words}' are ruled out, such as {gone}"
    return ""


def _outside(wanted: FigureRange, outcome: Consultation, knowledge: Knowledge) -> str:
    definition = knowledge.vocabulary[wanted.name]
    fact = outcome.facts.get(wanted.name)
    if fact is None or not isinstance(fact.value, Range):
        return f"{wanted.name} is not known; {wanted.words} is wanted"
    if wanted.low <= fact.value.low and fact.value.high <= wanted.high:
        return ""
    return f"{wanted.name} is {show(fact.value, definition.unit, definition.quantity)}; {wanted.words} is wanted"
