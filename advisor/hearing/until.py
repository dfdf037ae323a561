"""How long it is until something: "I've got a month before calving starts"."""

import re
from typing import NamedTuple

from . import surroundings

_LEFT = re.compile(
    r"(?:(?P<has>.*\b(?:got|have|has|gives? (?:me|us)|there(?:'s| is| are))) )?(?P<left>.*?\b(?:days?|weeks?|months?)"
    r"(?: tops)?),? (?:left )?(?:(?P<before>before)|till?|until|'til|to) (?P<event>.*)",
    re.IGNORECASE,
)


class Left(NamedTuple):
    """The words for how long it is; ``perhaps``: or how long before something it has to be, "three weeks before
    harvest"."""

    words: str
    perhaps: bool


def left(words: str) -> Left | None:
    """How long is left until what has no figure itself; None where nothing of the kind is said."""
    found = _LEFT.fullmatch(words)
    if found is None or surroundings.names_a_figure(found["event"]):
        return None
    return Left(found["left"], bool(found["before"]) and not found["has"])
