"""What a caller told before and tells otherwise now: "I said black", or another choice in place of an answer."""

import re
from collections.abc import Iterator, Mapping, Sequence

from advisor.knowledge import FactDef
from advisor.outcome import Understood

from . import present
from .chosen import LEANT
from .understanding import understand

_SAID = re.compile(
    r"\b(?:i|we) (?:(?:already|did) )?(?:said|say|told you|meant)\b,? *(?:it(?:'s| was) )?", re.IGNORECASE
)
_NO = re.compile(r"^(?:no|nope|nah|wait|hang on|hold on|sorry|actually|correction)\b[,.: ]", re.IGNORECASE)


def otherwise(
    vocabulary: Mapping[str, FactDef], heard: Understood | str, told: Sequence[Understood], given: Mapping[str, str]
) -> Iterator[Understood]:
    """Choices ``given`` before that are told otherwise now, by words that answer nothing else or begin by taking
    something back; after "I said" the last one given that the words plainly name otherwise."""
    words = heard if isinstance(heard, str) else heard.answer.words
    answers_nothing = isinstance(heard, Understood) and (heard.again != "" or LEANT in heard.doubt)
    if answers_nothing or _NO.match(words):
        yield from (more for more in told if _differs(vocabulary[more.answer.fact], more, given))
    if (said := _SAID.search(words)) is None:
        return
    known = {more.answer.fact for more in told}
    for fact in reversed([fact for fact in given if fact not in known]):
        more = understand(vocabulary[fact], present.own_clauses(words[said.end() :]) or words)
        if not more.doubt and _differs(vocabulary[fact], more, given):
            yield more
            return


def _differs(definition: FactDef, now: Understood, given: Mapping[str, str]) -> bool:
    """Whether one choice is given and another one told."""
    if definition.kind != "choice" or now.fact is None or definition.name not in given:
        return False
    was = understand(definition, given[definition.name]).fact
    return was is not None and was.value != now.fact.value
