"""What callers said before and what they meant by it (`heard.csv`): `fact|words|meaning`, a line each.

A line that speaks of a fact or a choice which isn't there any more is left out, and noted.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from advisor.words.kept import Kept

from .namesakes import likeness
from .places import Fault, Place, did_you_mean, nearest
from .source import text_of
from .vocabulary import FactDef

HEARD = "heard.csv"
NOT_SURE = "not sure"
SLIPPED = 0.85
"""How alike a name must be for many lines to have it with a slip: who writes many copies the name."""


def with_heard(folder: Path, vocabulary: Mapping[str, FactDef], faults: list[Fault]) -> dict[str, FactDef]:
    """The vocabulary with what was said to each fact; what can't be read is added to the faults."""
    heard: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for number, parts in _lines(folder, faults):
        if len(parts) != 3 or not all(parts):
            mend = "part the three by '|': fact|words|meaning"
            faults.append(Fault(Place(HEARD, number, 1), "this isn't a fact, words and what they meant", mend))
        elif parts[0] in vocabulary and _no_answer(parts[2], vocabulary[parts[0]]) is None:
            heard[parts[0]].append((parts[1], parts[2]))
    every = Kept(one for said in heard.values() for one in said)
    return {
        name: replace(definition, heard=Kept(heard.get(name, ())), heard_of_any=every)
        for name, definition in vocabulary.items()
    }


def unused(folder: Path, vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """A note for the lines that speak of a fact, or of an answer to it, that isn't there: of all such lines once."""
    of_fact: dict[str, list[tuple[int, str]]] = defaultdict(list)
    of_answer: dict[tuple[str, str], list[Place]] = defaultdict(list)
    spoken: set[str] = set()
    for number, parts in _lines(folder, []):
        if len(parts) != 3:
            continue
        name, words, meanings = parts
        spoken.add(name)
        if name not in vocabulary:
            of_fact[name].append((number, meanings))
        elif (meaning := _no_answer(meanings, vocabulary[name])) is not None:
            of_answer[name, meaning].append(Place(HEARD, number, len(name) + len(words) + 3))
    for name, lines in of_fact.items():
        fitting = [one for one in vocabulary.values() if all(_no_answer(said, one) is None for _, said in lines)]
        what = f"there is no fact '{name}'; {_lines_of([number for number, _ in lines])} used"
        yield Fault(Place(HEARD, lines[0][0], 1), what, _called_now(name, fitting, spoken, len(lines)), "note")
    for (name, meaning), places in of_answer.items():
        what = f"'{meaning}' is no answer to '{name}'; {_lines_of([place.line for place in places])} used"
        otherwise = "take the line out" if len(places) == 1 else "write the name it has now, or take the lines out"
        mend = did_you_mean(meaning, _answers(vocabulary[name]), otherwise)
        yield Fault(places[0], what, mend, "note")


def _lines_of(numbers: Sequence[int]) -> str:
    return "the line isn't" if len(numbers) == 1 else f"{len(numbers)} lines, the last {numbers[-1]}, aren't"


def _called_now(name: str, fitting: Sequence[FactDef], spoken: Collection[str], count: int) -> str:
    """How to mend lines of a fact that isn't there: it may be called otherwise now, if what was meant answers that."""
    close = nearest(name, [one.name for one in fitting])
    if close and (count == 1 or likeness(name, close) >= SLIPPED):
        return f"did you mean '{close}'?"
    if count == 1:
        return "take the line out"
    fresh = [one.name for one in fitting if one.name not in spoken and one.source == "asked"]
    alike = [one for one in fresh if {*one.split()} & {*name.split()}]
    now = next((some[0] for some in (alike, fresh) if len(some) == 1), "")
    if now:
        return f"if it is called '{now}' now, replace the name in all of them; else take them out"
    return "if the fact has another name now, replace it in all of them; else take them out"


def _lines(folder: Path, faults: list[Fault]) -> Sequence[tuple[int, list[str]]]:
    """The lines that hold something, each with its number, in parts."""
    text = text_of(folder / HEARD, HEARD, faults, "lines") if (folder / HEARD).exists() else None
    return _parted(text or "")


@lru_cache(maxsize=1)
def _parted(text: str) -> Sequence[tuple[int, list[str]]]:
    """The same of a text."""
    lines = enumerate(text.splitlines(), 1)
    return [
        (number, [part.strip() for part in line.split("|")])
        for number, line in lines
        if line.strip() and not line.startswith("#")
    ]


def _answers(definition: FactDef) -> tuple[str, ...]:
    return ("yes", "no") if definition.kind == "yes/no" else definition.choice_names


def _no_answer(meanings: str, definition: FactDef) -> str | None:
    """The one of the meanings that is no answer to a fact."""
    if meanings == NOT_SURE:
        return None
    named = meanings.split("+") if definition.kind == "several" else [meanings]
    return next((meaning for meaning in named if meaning not in _answers(definition)), None)
