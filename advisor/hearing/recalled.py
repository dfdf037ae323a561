"""What callers who spoke like this one meant: the likeliest reading by what the shop keeps of past calls.

How like the words are to the phrases kept for each meaning (`heard.csv`), and to the words and hints of the
vocabulary, tells how likely it is (`likeness`). It is offered, or makes doubtful what phrases of the vocabulary say;
nothing is ever taken on it.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from advisor.knowledge import NOT_SURE
from advisor.words.endings import stem_of
from advisor.words.numerals import NUMBER_WORDS

from .choosing import DENIES, NONE, Choices, stems_of
from .leaning import about, telling, told_of
from .likeness import Likeness, likeness
from .surroundings import names_a_figure

SURELY = 0.8  # how likely, by all that was said to any question, who may not be sure of this one has to be unsure
# ... from which an answer of so many words waits for a yes; of 609 unseen ones 3 did for nothing
UNSURE, FEW = 0.8, 3
NOT_SURE_ELSEWHERE = 12  # one in so many phrases of those who weren't sure of another question counts as said to this

# Share of the words that tell something which has to be a meaning's, for it to be offered, and of all two words side by
# side that has to be known at this question else; measured by leaving each phrase of `heard.csv` out, and on what was
# said to other questions: of these three in four are offered no longer, of the others one in ten.
ALIKE, ALIKE_FIGURED = 0.34, 0.49
SIDE_BY_SIDE, SIDE_BY_SIDE_FIGURED = 0.4, 0.6

OWN = 2  # times that a word was said to a question, to be one of its own

_HAS_NONE = re.compile(
    r"(?:(?:i|we|it|he|she) )?(?:ai|do|does|have|has)n't (?:got |have |own )?(?:one|any|it|that)[.!]?", re.IGNORECASE
)
_FIGURES = frozenset(map(stem_of, NUMBER_WORDS))
Phrases = tuple[tuple[str, str], ...]  # words and what they meant


@dataclass(frozen=True, slots=True)
class Meant:
    """The likeliest meaning (of several choices all that are likelier than not), how likely that is, and how likely
    each meaning is by itself."""

    meaning: frozenset[str]
    share: float
    each: Mapping[str, float]
    several: bool

    def share_of(self, meaning: Collection[str]) -> float:
        """How likely a meaning is; of several choices the least likely one decides."""
        if not self.several:
            return max((self.each.get(name, 0.0) for name in meaning), default=0.0)
        return min((share if name in meaning else 1.0 - share for name, share in self.each.items()), default=0.0)

    def rather(self, meaning: Collection[str], odds: tuple[float, float]) -> bool:
        """Whether it is as likely as the first of ``odds``, and another meaning no likelier than the second."""
        return self.share > odds[0] and self.share_of(meaning) < odds[1]


@dataclass(frozen=True, slots=True)
class Past:
    """What was said before: to the question, and to any; and the phrases of the vocabulary."""

    heard: Phrases
    of_any: Phrases
    choices: Choices

    @property
    def not_sure(self) -> Phrases:
        """What was said by who wasn't sure of whatever."""
        return not_sure_among(self.of_any)

    def knows(self, words: object) -> bool:
        """Whether a word that tells something was said before, or stands in the vocabulary."""
        said = (_counted(self.heard)[1], _counted(self.not_sure)[1], told_of(self.choices))
        return any(stem in known for stem in telling(words) for known in said)

    def tells(self, words: object, meaning: Collection[str]) -> bool:
        """Whether a word that tells something, and no figure, was said of a meaning, of a choice more than once, or
        stands among its phrases, and at least as often among what meant it as among all that was said."""
        phrases, holding = _counted(self.heard)
        listed, every = told_of(self.choices), sum(phrases.values())
        for stem in about(words):
            if stem in _FIGURES or stem.isdigit():
                continue
            held = holding.get(stem, {})
            for name in meaning:
                own = sum(count for each, count in held.items() if name in each.split("+"))
                size = sum(count for each, count in phrases.items() if name in each.split("+"))
                enough = own > (name not in ("yes", "no"))
                if name in listed.get(stem, {}) or (enough and own * every >= sum(held.values()) * size):
                    return True
        return False

    def resembles(self, words: object, meaning: Collection[str]) -> bool:
        """Whether enough of the words that tell something was said of a meaning, or stands among its phrases, for it to
        be offered: more than a third of them, more than half where a figure is said; or many words side by side were
        said to the question before."""
        told, listed = about(words), told_of(self.choices)
        _, holding = _counted(self.heard)
        said_of = ((*holding.get(stem, ()), *listed.get(stem, ())) for stem in told)
        own = sum(any(_of(each, meaning) for each in every) for every in said_of)
        figured = names_a_figure(str(words))
        if not told or own > (ALIKE_FIGURED if figured else ALIKE) * len(told):
            return True
        pairs = [part for part in parts(words) if " " in part]
        known = sum(part in holding for part in pairs)
        return known > (SIDE_BY_SIDE_FIGURED if figured else SIDE_BY_SIDE) * len(pairs)

    def topical(self, words: object) -> bool:
        """Whether a word that tells something is mostly said to this question: no fewer times than ``OWN``, and in half
        of all phrases that hold it."""
        own, every = _counted(self.heard)[1], _counted(self.of_any)[1]
        counts = ((sum(own.get(stem, {}).values()), sum(every.get(stem, {}).values())) for stem in about(words))
        return any(count >= OWN and 2 * count >= of_all for count, of_all in counts)

    def meant(self, words: object, several: bool) -> Meant:
        """What the words are likely to mean; ``several``: any number of the choices."""
        learnt = _learnt(self, several)
        if not several:
            each = learnt.one(words)
            unsure = each.get(NOT_SURE, 0.0)
            if self.of_any and unsure > 0.5 and likely_not_sure(self.of_any, words) < SURELY:
                # "I don't like it" begins as who isn't sure, but is none of those
                each = {name: 0.0 if name == NOT_SURE else share / (1.0 - unsure) for name, share in each.items()}
            likeliest = max(each, key=lambda meaning: each[meaning])
            return Meant(frozenset([likeliest]), each[likeliest], each, False)
        each = learnt.each(words)
        meaning = frozenset(name for name, share in each.items() if share > 0.5)
        if len(meaning) > 1:
            meaning -= {*NONE, NOT_SURE}
        return Meant(meaning, Meant(meaning, 0.0, each, True).share_of(meaning), each, True)


def parts(words: object) -> frozenset[str]:
    """The words without their endings, and each two side by side."""
    stems = [stem for stem in stems_of(words) if stem.isalnum()]
    return frozenset((*stems, *map(" ".join, pairwise(stems))))


def _of(each: str, meaning: Collection[str]) -> bool:
    """Whether what was meant, one choice or several, holds one of a meaning's."""
    return not {*each.split("+")}.isdisjoint(meaning)


@lru_cache(maxsize=256)
def _learnt(past: Past, several: bool) -> Likeness:
    """What past calls tell of the meanings; a phrase of the vocabulary counts as one, but those that deny a choice."""
    own = {words for words, _ in past.heard}
    listed = [(one, name) for name, phrases in past.choices for one in (name, *phrases) if not one.startswith(DENIES)]
    unsure = [one for one in past.not_sure if one[0] not in own][::NOT_SURE_ELSEWHERE]
    said = (*past.heard, *listed, *unsure)
    names = [*(name for name, _ in past.choices), NOT_SURE] if several else {meaning for _, meaning in said}
    return likeness(said, sorted(names), several)


def likely_not_sure(heard_of_any: Phrases, words: object) -> float:
    """How likely who says so isn't sure, by all that was said to any question."""
    return _sure_or_not(heard_of_any).one(words)[NOT_SURE]


def rather_not_sure(heard_of_any: Phrases, words: object) -> bool:
    """Whether who says so most likely isn't sure, so that a choice that a word of it names is to be asked about; of a
    word or two nobody can tell, and who has none of it says no more."""
    short = len(str(words).split()) < FEW or _HAS_NONE.fullmatch(str(words)) is not None
    return bool(heard_of_any) and not short and likely_not_sure(heard_of_any, words) > UNSURE


@lru_cache(maxsize=16)
def _sure_or_not(heard_of_any: Phrases) -> Likeness:
    """What tells of not being sure, by those who weren't and twice as many others; of more it tells no better."""
    unsure = not_sure_among(heard_of_any)
    answered = [(said, "") for said, meaning in heard_of_any if meaning != NOT_SURE]
    return likeness((*unsure, *answered[:: max(1, len(answered) // (2 * max(1, len(unsure))))]), ["", NOT_SURE], False)


@lru_cache(maxsize=16)
def not_sure_among(heard: Phrases) -> Phrases:
    """What was said by who wasn't sure."""
    return tuple(one for one in heard if one[1] == NOT_SURE)


@lru_cache(maxsize=1024)
def _counted(heard: Phrases) -> tuple[Mapping[str, float], Mapping[str, Mapping[str, float]]]:
    """How many phrases there are of each meaning, and how many of them hold a word or two."""
    phrases: Counter[str] = Counter()
    holding: dict[str, dict[str, float]] = defaultdict(dict)
    for words, meaning in heard:
        phrases[meaning] += 1
        for part in parts(words):
            holding[part][meaning] = holding[part].get(meaning, 0.0) + 1.0
    return phrases, holding
