"""What a figure counts, and words that a question has never been answered with.

"It's a 24 valve" tells no share and "a four door" no valves; where several questions were asked at once, a piece with a
word that none of this one's answers holds ("standard cab") may well speak of something else.
"""

import re
from functools import lru_cache

from advisor.knowledge import FactDef
from advisor.quantities import QUANTITIES

from .asides import FIGURE
from .choosing import stems_of
from .leaning import telling
from .surroundings import names_a_figure

BARE = ("percent", "ratio", "count")
"""What is said as a bare figure, so that no unit tells it from other figures."""
_BEHIND = re.compile(r"(?:[ -]+(?:of|more|whole))*[ -]+(?P<counted>[a-z']+)", re.IGNORECASE)
# What stands behind a bare figure and counts nothing.
_BESIDE = frozenset(stems_of(
    "half third quarter even flat easy easily maybe tops max maximum minimum give again plus ish gear gears overdrive"
    " final stock factory percent percenter procent last now currently today mostly year years usually already"
))  # fmt: skip
_UNITS = frozenset(word for kind in QUANTITIES.values() for alias in kind.aliases for word in alias.lower().split())


def counts_another(definition: FactDef, words: str) -> bool:
    """Whether each figure among the words counts something that the question doesn't ask for."""
    figures = list(FIGURE.finditer(words)) if _bare(definition) else []
    behind = [_BEHIND.match(words, figure.end()) for figure in figures]
    return bool(behind) and all(found is not None and _foreign(definition, found["counted"]) for found in behind)


@lru_cache(maxsize=256)
def _bare(definition: FactDef) -> bool:
    """Whether the question is answered by a bare figure, or by a choice that is called by one."""
    if definition.kind == "number":
        return definition.quantity in BARE
    return any(FIGURE.fullmatch(phrase) for choice in definition.choices for phrase in (choice.name, *choice.words))


def _foreign(definition: FactDef, word: str) -> bool:
    told = telling(word) if word.lower() not in _UNITS else []
    return bool(told) and not _BESIDE.union(_own(definition)).issuperset(told)


def strange(definition: FactDef, words: str) -> bool:
    """Whether a word that tells something, and no figure, was never said to the question and is none of its own."""
    told = (stem for stem in telling(words) if not names_a_figure(stem))
    return not _ever_said(definition).issuperset(told)


@lru_cache(maxsize=256)
def _own(definition: FactDef) -> frozenset[str]:
    """The words of a question, of its choices and hints, without their endings."""
    choices = (phrase for one in definition.choices for phrase in (one.name, one.means, *one.words))
    standing = (phrase for one in definition.said_as for phrase in one.words)
    asked = (definition.name, definition.ask, definition.in_short, definition.listen_for, *definition.mentioned)
    return frozenset(stem for phrase in (*asked, *choices, *standing) for stem in stems_of(phrase))


@lru_cache(maxsize=256)
def _ever_said(definition: FactDef) -> frozenset[str]:
    """The same with the words of all that was answered to it before."""
    return _own(definition).union(stem for phrase, _ in definition.heard for stem in stems_of(phrase))
