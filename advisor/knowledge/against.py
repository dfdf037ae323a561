"""What one answer is held against: other answers that it can't be over, can't be under, or can't come to more with."""

import re
from dataclasses import dataclass, field

from .fields import Entry, Text
from .places import Fault, Place
from .source import Document, Steps

TOLD = "told"
"""In the words for shares that come to too much: each that was told, by name."""
_PERCENT = re.compile(r"(\d{1,3}(?:\.\d+)?) ?%")


@dataclass(frozen=True, slots=True)
class Against:
    """What a number is held against. ``sign`` 1: it is at most ``share`` of the one other; -1: it is at least that;
    0: with all the others together it comes to at most ``share`` (SI). ``say`` asks which is right."""

    sign: int
    others: tuple[str, ...]
    share: float
    say: str
    place: Place = field(compare=False)


class AgainstEntry(Entry):
    """The same as written."""

    at_most: Text | None = None
    at_least: Text | None = None
    adds_up_with: tuple[Text, ...] = ()
    share: Text | None = None
    comes_to: Text | None = None
    say: Text


def read_against(entry: AgainstEntry, document: Document, path: Steps) -> Against | None:
    """One entry as it stands, before the facts it names are known; faults go to the document."""

    def fault(key: str, what: str, mend: str) -> None:
        at = (*path, key)
        place = document.place(at if document.has(at) else path)
        document.faults.append(Fault(place, what, mend))

    ways = [way for way in (entry.at_most, entry.at_least, entry.adds_up_with) if way]
    if len(ways) != 1:
        what = "an answer is held against others in one way at a time"
        fault("say", what, "write one of 'at most', 'at least' and 'adds up with', another in an entry of its own")
        return None
    sums = bool(entry.adds_up_with)
    if (sums and entry.share is not None) or sums != (entry.comes_to is not None):
        mend = "write 'comes to: 110 %' with 'adds up with', 'share: 80 %' with 'at most' or 'at least'"
        fault("share" if entry.share else "comes to", "'adds up with' and 'comes to' belong together", mend)
        return None
    words = entry.comes_to or entry.share or "100 %"
    found = _PERCENT.fullmatch(words)
    if found is None:
        fault("comes to" if sums else "share", f"'{words}' is no percentage", "write it as '80 %'")
        return None
    share = float(found[1]) / 100.0
    others = entry.adds_up_with or tuple(filter(None, (entry.at_most, entry.at_least)))
    sign = 0 if sums else 1 if entry.at_most else -1
    return Against(sign, others, share, entry.say, document.place(path))
