"""What passes between a call and whoever asks: terminal, plain pipe, script or test."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from advisor.journal import Entry
from advisor.knowledge import Knowledge
from advisor.outcome import Answer, Consultation
from advisor.sheet.layout import Block, Para, lines


@dataclass(frozen=True, slots=True)
class Prompt:
    """One line is wanted: ``label`` stands before it; ``asked`` are the facts it is taken as an answer to, none where
    it settles a doubt, an offer or the read-back; ``choices`` are (name, caller's words, what it means); ``names``
    complete the commands that take a name."""

    label: str
    asked: tuple[str, ...] = ()
    choices: tuple[tuple[str, tuple[str, ...], str], ...] = ()
    names: tuple[str, ...] = ()
    status: str = ""


@dataclass(frozen=True, slots=True)
class Turn:
    """What came of a line: ``entries`` go to the journal before anything is shown, ``files`` (name, content)
    are written, ``show`` is shown; without a ``prompt`` the call is over."""

    show: tuple[Block, ...] = ()
    prompt: Prompt | None = None
    entries: tuple[Entry, ...] = ()
    files: tuple[tuple[str, str], ...] = ()

    def lines(self, width: int) -> Iterator[tuple[str, str]]:
        """(style, line) for what is shown."""
        return lines(self.show, width)


class Asker(Protocol):
    """Whoever shows and asks."""

    at_end: str
    """What the end of input means: "conclude" (a pipe ran out) or "leave" (somebody walked away)."""

    def show(self, turn: Turn) -> None:
        """Show what a turn has to say."""
        ...

    def ask(self, prompt: Prompt) -> str:
        """One line. Raises EOFError at the end of input, KeyboardInterrupt, or Ended for a signal."""
        ...

    def working(self) -> AbstractContextManager[None]:
        """Around work that may take long: shows that something is going on."""
        ...


Consult = Callable[[Sequence[Answer]], Consultation]


def remembering(consult: Consult) -> Consult:
    """The same, which keeps what it came to last."""
    kept = lru_cache(maxsize=1)(consult)
    return lambda answers: kept(tuple(answers))


@dataclass(frozen=True, slots=True)
class Fresh:
    """Knowledge that was read anew: how a call is consulted with it, and what that changes, line by line."""

    knowledge: Knowledge
    consult: Consult
    conclude: Consult
    changes: tuple[str, ...]


def asked_of(answers: Mapping[str, str], knowledge: Knowledge) -> tuple[dict[str, str], dict[str, str]]:
    """The answers to facts that the knowledge has, and the rest."""
    found = {fact: words for fact, words in answers.items() if fact in knowledge.vocabulary}
    return found, {fact: words for fact, words in answers.items() if fact not in found}


def kept_for_later(before: Mapping[str, str], now: Mapping[str, str]) -> list[Block]:
    """Of the answers by fact before and after the knowledge was read anew: which count no more, and which again."""
    gone = [f"{fact} is asked no more; its answer is kept for when it is." for fact in before if fact not in now]
    back = [f"{fact} is asked again, so his answer counts: {now[fact]}" for fact in now if fact not in before]
    return [*(Para(line, "warn", 2) for line in gone), *(Para(line, "echo", 2) for line in back)]


Reread = Callable[[Sequence[Answer], Knowledge], Fresh | tuple[str, ...]]
"""Reads the knowledge anew for a call with these answers, taken so far with that knowledge; the faults in lines
where it can't be used."""


class Ended(Exception):
    """The program was told to end by a signal."""

    def __init__(self, signal_number: int) -> None:
        super().__init__(signal_number)
        self.signal_number = signal_number
