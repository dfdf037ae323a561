"""Where something stands in the shop's files, and what is wrong there.

`KnowledgeError` is the one exception of this room: it carries every fault that was found, sorted by place.
"""

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import Literal

LONGEST = 400
Severity = Literal["error", "note"]


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a file of the knowledge folder; `file` is relative to it, counting starts at 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing to mend. An "error" keeps the folder from loading; a "note" is only shown by the check.

    A note may be one of the findings that can be answered in the file: `finding` says which kind, `about` at
    which entries (the places of their names) the answer may stand.
    """

    place: Place
    what: str
    mend: str = ""
    severity: Severity = "error"
    finding: str = field(default="", compare=False)
    about: tuple[Place, ...] = field(default=(), compare=False)
    answer: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        # What the files hold is repeated here: one line, and never long.
        object.__setattr__(self, "what", _one_line(self.what))
        object.__setattr__(self, "mend", _one_line(self.mend))

    def __str__(self) -> str:
        return f"{self.place}: {self.what}; {self.mend}" if self.mend else f"{self.place}: {self.what}"


def _one_line(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 4]} ..."


class KnowledgeError(Exception):
    """The folder can't be used; `faults` holds all reasons, sorted by place."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(set(faults)))
        super().__init__(self.faults)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name closest to `word`, or the shortest that holds it as a word; None when there is none. Of single
    slips two signs that changed places are nearer than one too many."""
    names = sorted(known)
    for name in names:
        if name.lower() == word.lower():
            return name
    swapped = (name for name in names if _swapped(word.lower(), name.lower()))
    if alike := one_or_more(word, names) or next(swapped, None):
        return alike
    if found := difflib.get_close_matches(word, names, n=50, cutoff=0.6):
        return max(found, key=lambda name: _nearness(word, name))
    return min((name for name in names if f" {word} " in f" {name} "), key=len, default=None)


def one_or_more(word: str, known: Iterable[str]) -> str | None:
    """The known name that is the word for one or for more of it: `choice` for `choices`, `duties` for `duty`."""
    return next((name for name in known if _singular(name) == _singular(word)), None)


def _singular(word: str) -> str:
    return re.sub("ies$", "y", word.lower()).removesuffix("s")


def _swapped(word: str, name: str) -> bool:
    """Whether two neighbouring signs of a word have changed places in the other."""
    unlike = [at for at, (one, other) in enumerate(zip(word, name, strict=False)) if one != other]
    at = unlike[0] if unlike else 0
    return unlike == [at, at + 1] and word == name[:at] + name[at + 1] + name[at] + name[at + 2 :]


def _nearness(word: str, name: str) -> tuple[float, int]:
    """How alike they are; of equals, how far they begin alike."""
    ratio = difflib.SequenceMatcher(None, name, word).ratio()
    return ratio, sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(word, name, strict=False)))


def did_you_mean(word: str, known: Iterable[str], otherwise: str = "") -> str:
    """A mend that names the nearest known name; `otherwise` when none is close."""
    close = nearest(word, known)
    return f"did you mean '{close}'?" if close else otherwise


_COPIED = re.compile(r"(?i)(?<![a-z])(copy|copies|backup|bak|old)(?![a-z])|\(\d+\)|[ _-]\d\.")


def looks_copied(file: str) -> bool:
    """Whether a file is called like a copy of another: `towing (2).yaml`, `towing - Copy.yaml`, `towing_old.yaml`."""
    return _COPIED.search(file) is not None


def in_a_row(words: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else "".join(words)


def listed(words: Sequence[str], limit: int = 8) -> str:
    """`a, b, c`, cut off politely when long."""
    shown = ", ".join(words[:limit])
    return shown if len(words) <= limit else f"{shown} and {len(words) - limit} more"
