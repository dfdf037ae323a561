"""Slips of the typing finger: a word one letter away from one that is known here is read as that.

Who types while somebody talks drops a letter, doubles it, hits the key beside it or swaps two. Short words are left,
for too many others are a letter away; so is a word that is near to two.
"""

import re
from collections import Counter
from collections.abc import Collection
from functools import lru_cache

from advisor.knowledge import FactDef
from advisor.quantities import QUANTITIES
from advisor.words.endings import stem_of
from advisor.words.numerals import NUMBER_WORDS

from .choosing import Choices, KeptChoices, kept, words_of

OFTEN = 4  # phrases of past callers that hold a word which is then no slip of another
LONG = 5  # letters of a word that is mended even where a figure can be read beside it ("fourten thousand")
HEDGES = "about around between maybe probably roughly over under somewhere almost tomorrow"
# Words that are said beside figures, yes and no, and are no slips of others.
PLAIN_WORDS = """
    yes yeah nope never sure stock with that from have want what when where then there their these those which would
    could seen been second fourth sixth seventh ninth eleventh twelfth twentieth thirtieth truck trailer fires house
    horse mount forth weight height right light might night sight cold hold told sold good food road load hand land kind
    mind find mine line fine hill mile hours threw only wish foot feet
"""
SHORTEST = 4  # letters of a word that is mended, and of what it is mended to
_FIGURES = str.maketrans("013", "oie")
_WORD = re.compile(r"[a-z][a-z0-9']*", re.IGNORECASE)


@lru_cache(maxsize=512)
def known_words(definition: FactDef) -> frozenset[str]:
    """The words with which the fact can be answered."""
    own = [phrase for said in definition.said_as for phrase in said.words]
    if definition.kind == "number":
        own += [*NUMBER_WORDS, HEDGES, *QUANTITIES[definition.quantity].aliases]
    return words_of((("", (*own, PLAIN_WORDS)),))


def known_beside(choices: Choices) -> frozenset[str]:
    """The words of the choices and those that are said beside any answer."""
    return _beside(kept(choices))


@lru_cache(maxsize=512)
def _beside(choices: KeptChoices) -> frozenset[str]:
    return words_of((*choices, ("", (PLAIN_WORDS,))))


@lru_cache(maxsize=16)
def said_often(heard: tuple[tuple[str, str], ...]) -> frozenset[str]:
    """The words that past callers said at least ``OFTEN``, to whatever question: "tune" is no slip of "tone"."""
    count = Counter(word for said, _ in heard for word in {*_WORD.findall(said.lower())})
    return frozenset(word for word, times in count.items() if times >= OFTEN)


def mended(
    words: str, known: Collection[str], shortest: int = SHORTEST, usual: Collection[str] = frozenset()
) -> str:
    """The words with slips mended to ``known`` words (in small letters), but for ``usual`` ones; as they are where none
    is."""
    return _WORD.sub(lambda found: found[0] if found[0].lower() in usual else _mended(found[0], known, shortest), words)


def _mended(said: str, known: Collection[str], shortest: int) -> str:
    word = said.lower()
    if len(word) < SHORTEST or word in known or stem_of(word) in known or word.removesuffix("s") in known:
        return said
    if (spelled := word.translate(_FIGURES)) != word and (spelled in known or stem_of(spelled) in known):
        return spelled
    near = [other for other in known if len(other) >= SHORTEST and one_off(word, other)]
    near = [other for other in near if max(len(word), len(other)) >= shortest]
    return near[0] if len({stem_of(other) for other in near}) == 1 else said


def one_off(one: str, other: str) -> bool:
    """Whether two words differ by one letter put in, left out or changed after the first, or by two swapped."""
    if abs(len(one) - len(other)) > 1 or one == other:
        return False
    start = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    one, other = one[start:], other[start:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    if len(one) == len(other) == 2:
        return one == other[::-1]
    return start > 0 and len(one) <= 1 and len(other) <= 1
