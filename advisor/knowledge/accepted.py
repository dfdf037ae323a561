"""Findings that were looked at and are meant to be so: answered in the file, with a reason.

An entry (a rule, or a fact) may carry

    accepted:
      - finding: gap
        because: Without a trailer nobody needs it.

The finding is then not shown. An answer to something that isn't found is itself noted.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Protocol

from .fields import Entry, Reason, one_of
from .places import Fault, Place
from .source import Document, Steps

FINDINGS = ("overlap", "swallowed", "gap", "not known", "not needed", "unspoken choice")
"""What can be answered, the grave ones first."""


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
    """Errors by place, then notes by kind and place."""
    rank = {finding: number for number, finding in enumerate((*FINDINGS, ""))}
    return tuple(sorted(set(faults), key=lambda fault: (fault.severity != "error", rank[fault.finding], fault)))
