"""That something isn't so, and nothing else: "no trailer", "we don't pull sleds", "it never sees the strip"."""

import re
from collections import Counter
from collections.abc import Iterable

from advisor.words.speech import NEGATION

from . import choosing

_DENYING = NEGATION.removeprefix(r"\b").removesuffix(r"\b").replace("'?", "")
_DENIAL = re.compile(rf"{_DENYING}|nope|nah", re.IGNORECASE)
# All that may stand beside what isn't so; "don't tow heavy" and "no trailer brakes" say something else.
_ONLY_DENIES = re.compile(
    rf"(?:(?:{_DENYING}|i|ive|we|weve|you|it|its|truck|van|this|that|theres?|is|was|have|has|had|got|own|do|does|go|goes"
    r"|going|been|sees?|seen|touch|touches|touched|will|take|use|need|want|to|for|with|on|at|behind|near|any|anything"
    r"|anywhere|anymore|any more|a|an|the|my|all|ever|really|actually|even|whatsoever|of|me|us|mean|more|nope|nah|well"
    r"|oh|sorry|ones?|sort|kind|stuff)\b\W*)*",
    re.IGNORECASE,
)


def denies(part: str, phrases: Iterable[str]) -> bool:
    """Whether a folded part of a sentence denies what one of the phrases names, and says nothing else."""
    if not re.search(NEGATION, part):
        return False
    rest = choosing.left_over(part, [("it", tuple(phrases))])
    named = Counter(part.split()) - Counter(rest.split())
    return any(not _DENIAL.fullmatch(word) for word in named) and _ONLY_DENIES.fullmatch(rest.strip()) is not None
