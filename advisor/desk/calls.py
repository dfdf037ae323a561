"""Recorded calls: the answers of scripts and journals, without what was concluded from them then."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from advisor.desk.renames import Renames
from advisor.hearing import understand
from advisor.journal import ENDING, JournalError
from advisor.journal import read as read_journal
from advisor.knowledge import Fault, Knowledge, Place
from advisor.knowledge.places import did_you_mean
from advisor.knowledge.source import Document, Steps, read_yaml
from advisor.outcome import Answer
from advisor.scripted import again, kept_call, of_the_shop, variant


@dataclass(frozen=True, slots=True)
class RecordedCall:
    """A call that can be run again: what it is called, the file it stands in, and its answers."""

    name: str
    file: str
    answers: tuple[Answer, ...]
    places: Mapping[Answer, Place] = field(default_factory=dict, compare=False)
    place: Place | None = field(default=None, compare=False)

    @property
    def where(self) -> str:
        """The file and the line in which it begins; of a journal the file."""
        return self.file if self.place is None else f"{self.file}:{self.place.line}"

    def place_of(self, answer: Answer) -> Place | str:
        """Where the words of an answer stand; the file where that isn't known."""
        return self.places.get(answer, self.file)

    def by(self, called: Renames) -> "RecordedCall":
        """The same call by the new names of facts and choices."""
        if not called:
            return self
        places = {called.answer(answer): place for answer, place in self.places.items()}
        return replace(self, answers=tuple(map(called.answer, self.answers)), places=places)

    def under(self, knowledge: Knowledge) -> tuple[Answer, ...]:
        """The answers to facts that this knowledge asks for."""
        return tuple(a for a in self.answers if _is_asked(knowledge, a.fact))


def _is_asked(knowledge: Knowledge, name: str) -> bool:
    definition = knowledge.vocabulary.get(name)
    return definition is not None and definition.source == "asked"


def scripted_call(path: Path) -> tuple[RecordedCall | None, tuple[Fault, ...]]:
    """The answers of a script, whatever it wants concluded; None with the faults that keep it from being read."""
    calls, faults = _with_variants(path)
    return next(iter(calls), None), faults


def _with_variants(path: Path) -> tuple[list[RecordedCall], tuple[Fault, ...]]:
    """The call of a script, and each of its variants as a call of its own."""
    document = read_yaml(path, str(path))
    data = document.data
    if (kept := kept_call(document)) is not None:
        return [], (kept,)
    if document.faults or not isinstance(data, dict) or not isinstance(data.get("answers"), list):
        fault = of_the_shop(document) or Fault(document.place(), "holds no answers", "begin it with 'answers:'")
        return [], tuple(document.faults) or (fault,)
    faults: list[Fault] = []
    answers = _answers(document, data["answers"], (), faults)
    name = data.get("call")
    name = name if isinstance(name, str) else path.stem
    main = RecordedCall(name, str(path), tuple(answers), answers, document.place())
    calls, listed = [main], data.get("variants")
    for index, entry in enumerate(listed if isinstance(listed, list) else ()):
        if isinstance(entry, dict):
            given = _answers(document, entry.get("answers", []), ("variants", index), faults)
            without = tuple(map(str, entry.get("without", [])))
            calls.append(_variant(main, given, without, entry.get("but"), document.place(("variants", index))))
    return ([] if faults else calls), tuple(faults)


def _variant(
    main: RecordedCall, given: Mapping[Answer, Place], without: Sequence[str], but: Any, place: Place
) -> RecordedCall:
    name, answers = variant(main.name, main.answers, tuple(given), without, but if isinstance(but, str) else "")
    return RecordedCall(name, main.file, answers, {**given, **main.places}, place)


def _answers(document: Document, listed: Any, at: Steps, faults: list[Fault]) -> dict[Answer, Place]:
    answers: dict[Answer, Place] = {}
    first: dict[str, Place] = {}
    for index, entry in enumerate(listed if isinstance(listed, list) else ()):
        if isinstance(entry, dict) and len(entry) == 1 and isinstance(words := next(iter(entry.values())), str):
            fact = next(iter(entry))
            place = document.key_place((*at, "answers", index, fact))
            if fact in first:
                faults.append(Fault(place, *again(fact, first[fact])))
            first.setdefault(fact, place)
            answers[Answer(fact, words)] = document.place((*at, "answers", index, fact))
        else:
            what = "an answer is one fact with the caller's words"
            mend = "write '- displacement: \"5.9 litres\"'"
            faults.append(Fault(document.place((*at, "answers", index)), what, mend))
    return answers


def logged_calls(folder: Path) -> tuple[list[RecordedCall], list[str]]:
    """The calls whose journals lie in a folder, and a line for each journal that can't be read."""
    calls, unread = [], []
    for path in sorted(folder.glob("*" + ENDING)):
        try:
            record = read_journal(path)
        except JournalError as error:
            unread.append(str(error))
            continue
        answers = tuple(Answer(fact, words) for fact, words in record.answers.items())
        if answers:
            calls.append(RecordedCall(record.call or path.stem, str(path), answers))
    return calls, unread


def scripted_calls(paths: Iterable[Path]) -> tuple[list[RecordedCall], list[Fault]]:
    """The calls of scripts and their variants, and the faults of those that can't be read."""
    calls: list[RecordedCall] = []
    faults: list[Fault] = []
    for path in paths:
        read, found = _with_variants(path)
        faults += found
        calls += read
    return calls, faults


def unheard(calls: Iterable[RecordedCall], knowledge: Knowledge) -> list[str]:
    """A line for each answer in a script that this knowledge doesn't ask for or doesn't understand: its place, and how
    to mend it."""
    lines = {}
    for place, answer in {call.places[a]: a for call in calls for a in call.answers if a in call.places}.items():
        fact, words = answer.fact, answer.words
        if not _is_asked(knowledge, fact):
            asked = [name for name in knowledge.vocabulary if _is_asked(knowledge, name)]
            mend = did_you_mean(fact, asked, "take it out, or name a fact that facts.yaml has asked")
            lines[place] = f"'{fact}' is not asked, so its answer was passed over; {mend}"
        elif misheard := understand(knowledge.vocabulary[fact], words).again:
            lines[place] = f"'{words}' was not understood as {fact}: {misheard}"
    return [f"{place}: {line}" for place, line in lines.items()]


def with_answer(answers: Sequence[Answer], fact: str, words: str | None) -> tuple[Answer, ...]:
    """The answers with one of them changed, added, or (None) taken away; the others keep their order."""
    if words is None:
        return tuple(answer for answer in answers if answer.fact != fact)
    new = Answer(fact, words)
    if any(answer.fact == fact for answer in answers):
        return tuple(new if answer.fact == fact else answer for answer in answers)
    return (*answers, new)
