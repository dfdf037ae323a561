"""What callers said before and what they meant by it (`heard.csv`): `fact|words|meaning`, a line each.

A line that speaks of a fact or a choice which isn't there any more is left out, and noted.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from advisor.words.kept import Kept

from .places import Fault, Place, did_you_mean
from .source import text_of
from .vocabulary import FactDef

HEARD = "heard.csv"
NOT_SURE = "not sure"


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
    """A note for each line that speaks of what isn't there."""
    for number, parts in _lines(folder, []):
        if len(parts) != 3:
            continue
        name, words, meanings = parts
        if name not in vocabulary:
            mend = did_you_mean(name, vocabulary, "take the line out")
            yield Fault(Place(HEARD, number, 1), f"there is no fact '{name}'; the line isn't used", mend, "note")
        elif (meaning := _no_answer(meanings, vocabulary[name])) is not None:
            what = f"'{meaning}' is no answer to '{name}'; the line isn't used"
            mend = did_you_mean(meaning, _answers(vocabulary[name]), "take the line out")
            yield Fault(Place(HEARD, number, len(name) + len(words) + 3), what, mend, "note")


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
