"""Mutants held against scripts: which of them some call notices, and how.

Each call is taken as far as its script reaches, and only under mutants that fire otherwise in it; a mutant that one
call has noticed is held against no other. A mutant that fires otherwise in no situation at all is not counted.
"""

import os
from collections.abc import Collection, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from advisor.course import Course, Reached, conclude, open_call
from advisor.desk.equivalent import means_the_same
from advisor.desk.mutants import Mutant, all_mutants
from advisor.desk.variants import concluded, fired, fires_alike, rerun, varied
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda
from advisor.knowledge import Knowledge, load
from advisor.knowledge.strata import reads
from advisor.replay import EARLY, differences, settled_early
from advisor.scripted import Script, read_scripts
from advisor.wording import counted


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the scripts say of a mutant: the first whose expectations fail, the first whose conclusion changes;
    ``idle`` when it means the same as its rule."""

    mutant: Mutant
    noticed: str = ""
    moved: str = ""
    idle: bool = False


@dataclass(frozen=True, slots=True)
class Score:
    """All mutants with what the scripts, and their variants, say of them."""

    scripts: int
    verdicts: tuple[Verdict, ...]
    unsound: tuple[str, ...]  # calls that differ already: they notice nothing

    @property
    def counted(self) -> list[Verdict]:
        """The mutants that do not mean the same as their rule."""
        return [verdict for verdict in self.verdicts if not verdict.idle]

    @property
    def missed(self) -> list[Verdict]:
        """Those of them that make no expectation fail."""
        return [verdict for verdict in self.counted if not verdict.noticed]

    @property
    def share(self) -> float:
        """Share of the counted mutants that are noticed."""
        return 1.0 - len(self.missed) / len(self.counted) if self.counted else 1.0

    def lines(self) -> list[str]:
        """The score."""
        count, moved = len(self.counted), sum(bool(verdict.moved) for verdict in self.counted)
        same = len(self.verdicts) - count
        found = [f"not counted: {same} that mean the same as their rule in every situation"] if same else []
        noticed = count - len(self.missed)
        most = f"{moved} change what some call concludes ({moved / max(1, count):.1%})"
        held = f"{counted(count, 'mutant')}, {counted(self.scripts, 'call')}"
        return [*found, f"{held}: {noticed} noticed ({self.share:.1%}); {most}"]


def score(
    paths: Sequence[Path],
    folder: Path,
    engine: str = "auto",
    processes: int | None = None,
    of: Collection[str] = (),
) -> Score:
    """Hold every mutant of the rules in the folder, or ``of`` some of them, against the scripts, which must be
    readable. Raises KnowledgeError."""
    every = all_mutants(load(folder), of)
    noticed: dict[int, str] = {}
    moved: dict[int, str] = {}
    unsound: dict[str, None] = {}
    calls = 0
    count = max(1, min(processes or os.cpu_count() or 1, len(paths)))
    with ProcessPoolExecutor(count, initializer=_prepare, initargs=(folder, engine, of)) as pool:
        idle = [same for part in pool.map(_idle, range(count), [count] * count) for same in part]
        for own in (True, False):  # first each call against the rules that it names: those it notices mostly
            tasks = [_Task(path, frozenset((*noticed, *idle)), own) for path in paths]
            calls = 0
            for one in pool.map(_hold, tasks):
                calls += one.calls
                unsound |= dict.fromkeys(one.unsound)
                noticed = one.noticed | noticed
                moved = one.noticed | one.moved | moved
    verdicts = (Verdict(m, noticed.get(i, ""), moved.get(i, ""), i in idle) for i, m in enumerate(every))
    return Score(calls, tuple(verdicts), tuple(unsound))


@dataclass(frozen=True, slots=True)
class _Held:
    """What the calls of a file say: the number of each mutant with the call that notices it, or is moved by it."""

    calls: int
    unsound: tuple[str, ...]
    noticed: dict[int, str]
    moved: dict[int, str]


@dataclass(frozen=True, slots=True)
class _Task:
    """A file to hold against the mutants not in ``done``: those of the rules that a call names, or all others."""

    path: Path
    done: frozenset[int]
    own: bool


_shop: tuple[Knowledge, Agenda, list[Mutant]] | None = None
_noticed: set[int] = set()
_moved_before: set[int] = set()


def _prepare(folder: Path, engine: str, of: Collection[str]) -> None:
    global _shop
    knowledge = load(folder)
    every = all_mutants(knowledge, of)
    _shop = (knowledge, agenda(engine), every)  # type: ignore[arg-type]
    _noticed.clear()
    _moved_before.clear()


def _idle(part: int, parts: int) -> list[int]:
    """Every so-manieth mutant that means the same as its rule."""
    assert _shop is not None
    knowledge, _, every = _shop
    return [index for index in range(part, len(every), parts) if means_the_same(every[index], knowledge)]


def _hold(task: _Task) -> _Held:
    """The mutants that are still unnoticed, against a call and its variants."""
    assert _shop is not None
    knowledge = _shop[0]
    scripts, _ = read_scripts(task.path, knowledge)
    held = _Held(len(scripts), (), {}, {})
    unsound = []
    for script in scripts:
        if (not task.own or script.rules()) and not _hold_call(script, task, held):
            unsound.append(f"{task.path.name}: {script.call}: differs already")
    return _Held(held.calls, tuple(unsound), held.noticed, held.moved)


def _hold_call(script: Script, task: _Task, held: _Held) -> bool:
    """Whether the call is as it should be, so that it can notice anything; what it notices goes into ``held``. A call
    that no mutant reaches is taken no further than it takes to see that."""
    assert _shop is not None
    knowledge, fires, every = _shop
    named, early = script.rules(), settled_early(script, knowledge)
    left = [
        (index, mutant)
        for index, mutant in enumerate(every)
        if not (index in task.done or index in _noticed or (early and mutant.rule.stage not in EARLY))
        and (mutant.rule.name in named) == task.own
    ]
    opening = open_call(script.answers, knowledge, fires) if left else None
    left = [one for one in left if opening and (one[1].rule.stage not in EARLY or touches(one[1], opening))]
    if not left or opening is None:
        return True
    course = opening if early else conclude(opening, knowledge, fires)
    if any(differences(script, course, knowledge)):
        return False
    lines = concluded(course, knowledge)
    for index, mutant in left:
        if (not script.expects and index in _moved_before) or not touches(mutant, course):
            continue
        variant = varied(knowledge, mutant.rule, mutant.variant)
        other = rerun(script.answers, variant, mutant.rule, course, fires)
        if notices(script, other, variant):
            held.noticed[index] = script.call
            _noticed.add(index)
        elif index not in _moved_before and concluded(other, variant) != lines:
            held.moved[index] = script.call
            _moved_before.add(index)
    return True


def touches(mutant: Mutant, course: Reached) -> bool:
    """Whether the mutant can change anything in a call, as far as it was taken."""
    if not isinstance(course, Course) and mutant.rule.stage not in EARLY:
        return False
    if mutant.rule.then != mutant.variant.then and fired(mutant.rule, course):
        return True
    hollow = isinstance(course, Course) and course.provisional and reads(mutant.rule) != reads(mutant.variant)
    if hollow and fired(mutant.rule, course):  # while nothing is advised it may be told by what it rests on
        return True
    return not fires_alike(mutant.rule, mutant.variant, course)


def notices(script: Script, course: Reached, knowledge: Knowledge) -> bool:
    """Whether an expectation of the script fails."""
    return next(iter(differences(script, course, knowledge)), None) is not None
