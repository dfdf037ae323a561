"""Words by which a number is told where another one is asked for: "same as stock" is the power it left the factory
with."""

from dataclasses import dataclass, field

from pydantic import Field

from .fields import Entry, Text
from .places import Place
from .source import Document, Steps


@dataclass(frozen=True, slots=True)
class ToldFor:
    """Phrases that mean a number where one of the facts ``asked`` is asked for, and what it is ``called`` to him."""

    asked: tuple[str, ...]
    words: tuple[str, ...]
    called: str
    place: Place = field(compare=False)


class ToldForEntry(Entry):
    """The same as written."""

    asked: tuple[Text, ...] = Field(min_length=1)
    words: tuple[Text, ...] = Field(min_length=1)
    called: Text


def read_told_for(entry: ToldForEntry | None, document: Document, path: Steps) -> ToldFor | None:
    """The entry as it stands, before the facts it names are known; None where there is none."""
    return None if entry is None else ToldFor(entry.asked, entry.words, entry.called, document.place(path))
