"""A power told as another one, without a figure: "same as stock" is what the engine left the factory with, "what it
makes now" what it makes today."""

import re
from collections.abc import Mapping
from dataclasses import replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Understood

from .understanding import understand

MOST_WORDS = 11  # of a saying that tells nothing else
_NO_SUCH = re.compile(
    r"\d|n't\b|\b(?:not|no|never|more|over|above|better|bigger|stronger|higher|hotter|than|twice|double|percent|less|under"
    r"|turbo|tune|injectors?|friend|buddy|his|until|depends?)\b",
    re.IGNORECASE,
)
_MEANT = {
    "stock power": (
        re.compile(
            r"\b(?:stock|factory|standard|original|book|rated|rating|sticker|off the lot|(?:when|was|as) new)\b"
            r"|\b(?:it|she|they) (?:came|left)\b",
            re.IGNORECASE,
        ),
        "what it left the factory with",
        "The year and the engine usually tell it.",
    ),
    "power now": (
        re.compile(
            r"\b(?:same|as (?:it|she) is|(?:makes?|making|has|got|does|puts?) (?:right )?(?:now|today)|as now|like now"
            r"|what (?:it|she)(?: has|'s got| makes))\b",
            re.IGNORECASE,
        ),
        "what it makes now",
        "A dynamometer sheet is best, and a guess will do.",
    ),
}
"""By fact, the words for it where a power is asked (common practice, no source), what it is called to him, and how he
finds it out."""
_ASKED = {"power goal": ("stock power", "power now"), "power now": ("stock power",)}
"""Where a power is asked that may be told as another, and as which."""


def same_as(
    vocabulary: Mapping[str, FactDef], definition: FactDef, said: str, answers: Mapping[str, str]
) -> Understood | None:
    """What is said to a question for a power that means another power: its figure, to be confirmed, or asked for again
    where nobody has told it. None where the words mean no other."""
    apart = len(said.split()) > MOST_WORDS or units.is_unsure(said) or _NO_SUCH.search(said)
    if definition.name not in _ASKED or apart:
        return None
    fact = next((fact for fact in _ASKED[definition.name] if fact in vocabulary and _MEANT[fact][0].search(said)), "")
    if not fact:
        return None
    _, called, from_where = _MEANT[fact]
    told = understand(vocabulary[fact], answers[fact]) if fact in answers else None
    if told is None or told.fact is None or told.doubt or told.not_sure:
        again = f"As much as {called}, then: how much is that? {from_where}"
        return replace(understand(definition, said), fact=None, doubt="", again=again)
    meant = understand(definition, told.answer.words)
    shown = meant.echo.removeprefix(f"{definition.name}: ")
    return replace(meant, doubt=f"As much as {called}, that is {shown}. Shall I take that?")
