"""A number told as another one, without a figure: "same as stock" is what the engine left the factory with. Which may
be told so, and by what words, the vocabulary says (``told for``)."""

import re
from collections.abc import Mapping
from dataclasses import replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Understood

from . import choosing
from .understanding import understand

MOST_WORDS = 11  # of a saying that tells nothing else
_NO_SUCH = re.compile(
    r"\d|n't\b|\b(?:not|no|never|more|over|above|better|bigger|stronger|higher|hotter|than|twice|double|percent|less|under"
    r"|turbo|tune|injectors?|friend|buddy|his|until|depends?)\b",
    re.IGNORECASE,
)


def same_as(
    vocabulary: Mapping[str, FactDef], definition: FactDef, said: str, answers: Mapping[str, str]
) -> Understood | None:
    """What is said to a question and means another number: its figure, to be confirmed, or asked for again where
    nobody has told it. None where the words mean no other."""
    apart = len(said.split()) > MOST_WORDS or units.is_unsure(said) or _NO_SUCH.search(said)
    others = sorted(vocabulary.values(), key=lambda one: one.order)
    able = [(one, one.told_for) for one in others if one.told_for and definition.name in one.told_for.asked]
    meaning = [(one, told_for) for one, told_for in able if choosing.holds(said, told_for.words)]
    if not meaning or apart:
        return None
    other, told_for = meaning[0]
    told = understand(other, answers[other.name]) if other.name in answers else None
    if told is None or told.fact is None or told.doubt or told.not_sure:
        again = f"As much as {told_for.called}, then: how much is that? {other.listen_for}".strip()
        return replace(understand(definition, said), fact=None, doubt="", again=again)
    meant = understand(definition, told.answer.words)
    shown = meant.echo.removeprefix(f"{definition.name}: ")
    return replace(meant, doubt=f"As much as {told_for.called}, that is {shown}. Shall I take that?")
