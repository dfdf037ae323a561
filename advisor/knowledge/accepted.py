"""Findings that were looked at and are meant to be so: answered in the file, with a reason.

An entry (a rule, or a fact) may carry

    accepted:
      - finding: gap
        because: Without a trailer nobody needs it.

The finding is then not shown. An answer to something that isn't found is itself noted.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Annotated, Protocol

from .fields import Entry, Reason, one_of
from .places import Fault, Place
from .source import Document, Steps

FINDINGS = (
    "overlap", "swallowed", "gap", "not known", "not metric", "exact figure", "far off", "other unit", "same phrase",
    "never asked", "not needed", "unspoken choice",
)  # fmt: skip
"""What can be answered, the grave ones first."""

OF_FIGURES = "of the figures"
"""Marks faults of facts that the figures read: told before all others, and never answered."""


class AcceptedEntry(Entry):
    """An answer as written."""

    finding: Annotated[str, one_of(*FINDINGS)]
    because: Reason


@dataclass(frozen=True, slots=True)
class Accepted:
    """An answer to one kind of finding about the entry that carries it."""

    finding: str
    because: str
    place: Place


class Answering(Protocol):
    """What can carry answers: a rule or a fact."""

    @property
    def place(self) -> Place: ...

    @property
    def accepted(self) -> tuple[Accepted, ...]: ...


def answers_at(document: Document, path: Steps, written: Iterable[AcceptedEntry]) -> tuple[Accepted, ...]:
    """The answers of the entry at `path`."""
    return tuple(
        Accepted(answer.finding, answer.because, document.place((*path, "accepted", index, "finding")))
        for index, answer in enumerate(written)
    )


def with_answer(fault: Fault, entries: Iterable[Answering]) -> Fault:
    """The finding with what to write where when it is meant so; any other fault as it is."""
    if not fault.finding or not fault.about:
        return fault
    place = fault.about[0]
    answered = any(entry.accepted for entry in entries if entry.place == place)
    line = f"line {place.line} of {place.file}"
    words = f"{{finding: {fault.finding}, because: ...}}"
    put = f"add '{words}' to 'accepted' of" if answered else f"add 'accepted: [{words}]' to"
    return replace(fault, answer=f"if it is meant so, {put} the entry in {line}, with the reason for '...'")


def unanswered(faults: Iterable[Fault], entries: Iterable[Answering]) -> list[Fault]:
    """The faults without those that are answered."""
    answered = {(entry.place, answer.finding) for entry in entries for answer in entry.accepted}
    return [fault for fault in faults if answered.isdisjoint((place, fault.finding) for place in fault.about)]


def idle_answers(faults: Iterable[Fault], entries: Iterable[Answering]) -> list[Fault]:
    """A note for each answer to something that isn't found, or that stands there twice."""
    found = {(place, fault.finding) for fault in faults for place in fault.about}
    notes = []
    for entry in entries:
        seen: set[str] = set()
        for answer in entry.accepted:
            if answer.finding in seen or (entry.place, answer.finding) not in found:
                what = f"'{answer.finding}' is answered here, and nothing of the kind is found"
                if answer.finding in seen:
                    what = f"'{answer.finding}' is answered here a second time"
                notes.append(Fault(answer.place, what, "leave the answer out", "note"))
            seen.add(answer.finding)
    return notes


def grave_first(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Errors by place, those of facts that the figures read first; then notes by kind and place."""
    rank = {finding: number for number, finding in enumerate((OF_FIGURES, *FINDINGS, ""))}
    return tuple(sorted(set(faults), key=lambda fault: (fault.severity != "error", rank[fault.finding], fault)))
