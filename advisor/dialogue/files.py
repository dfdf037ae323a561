"""The files that a call can leave: itself as a script, and its sheet; and where they go."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from advisor import units
from advisor.dialogue.masking import masked
from advisor.dialogue.script import as_script
from advisor.dialogue.turn import Consult
from advisor.knowledge import Knowledge
from advisor.outcome import Answer
from advisor.sheet.layout import Para

File = tuple[str, str]
"""Path and content."""


@dataclass(frozen=True, slots=True)
class Told:
    """A call as far as it has been told; ``conclude`` gives its figures with their bands."""

    name: str
    answers: Sequence[Answer]
    knowledge: Knowledge
    conclude: Consult
    notes: Sequence[str]


def script(said: str, told: Told) -> File | Para:
    """The call as a scripted call."""
    path = target(said, (".yaml",))
    if isinstance(path, Para):
        return path
    return path, as_script(said, told.answers, told.conclude(told.answers), told.knowledge)


def sheet(said: str, told: Told) -> File | Para:
    """The written recommendation."""
    from advisor.bounds import followed  # the first question need not wait for these
    from advisor.sheet.html import call_sheet
    from advisor.sheet.text import written

    path = target(said, (".html", ".txt"))
    if isinstance(path, Para):
        return path
    title = f"Call sheet {told.name}"
    outcome = followed(told.conclude(told.answers), told.answers, told.knowledge)
    if path.lower().endswith(".txt"):
        return path, written(outcome, told.knowledge, 80, title)
    return path, call_sheet(outcome, told.knowledge, title=title, notes=told.notes)


KINDS = {"save": script, "sheet": sheet}
"""The files by the command that writes them."""


def target(said: str, endings: Sequence[str]) -> str | Para:
    """Where a file goes: a path as it was said, or, of a bare name, one that any file system takes, with the first
    of the endings where it has none; words of refusal for any other ending."""
    said = units.clean(said).strip("\"' ")
    ending = next((ending for ending in endings if said.lower().endswith(ending)), "")
    bare = said[: len(said) - len(ending)]
    if re.search(r"[/\\]|^[A-Za-z]:|^~", said):
        if not ending and re.search(r"\.\w{1,5}$", said):
            return Para(f"{said}: it is written as {' or '.join(endings)}; give the name that ending.", "warn")
        return bare + (ending or endings[0])
    slug = re.sub(r"[^a-z0-9]+", "-", masked(bare).lower()).strip("-")[:60]
    return (slug or "call") + (ending or endings[0])
