"""What callers who spoke like this one meant: the likeliest reading by what the shop keeps of past calls.

Each word, and each two words side by side, tells something of a meaning: how many of the phrases kept for it
(`heard.csv`) hold them, set beside how many of the other meanings' do. The words and hints of the vocabulary count as
one such phrase at most. How likely each meaning then is follows by Bayes' rule, words taken for independent. It is
offered, or makes doubtful what phrases of the vocabulary say; nothing is ever taken on it.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache

from advisor.knowledge import NOT_SURE

from .choosing import Choices, stems_of
from .leaning import about, telling, told_of
from .surroundings import names_a_figure

SMOOTHED = 3.0  # phrases of each meaning that hold a word as often as those of all meanings do
NOT_SURE_ELSEWHERE = 0.2  # of a phrase, what one counts by which somebody wasn't sure of any question
NOT_SURE_ALONE = 0.05  # share of callers that aren't sure of a question, where few were kept
ANSWERED = 600  # answers set beside what is said by who isn't sure

# Share of the words that tell something which has to be a meaning's, for it to be offered, and of all two words side by
# side that has to be known at this question else; measured by leaving each phrase of `heard.csv` out, and on what was
# said to other questions: of these three in four are offered no longer, of the others one in ten.
ALIKE, ALIKE_FIGURED = 0.34, 0.49
SIDE_BY_SIDE, SIDE_BY_SIDE_FIGURED = 0.4, 0.6

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
    """What was said before: to the question, and by who wasn't sure of whatever; and the phrases of the vocabulary."""

    heard: Phrases
    not_sure: Phrases
    choices: Choices

    def knows(self, words: object) -> bool:
        """Whether a word that tells something was said before, or stands in the vocabulary."""
        said = (_counted(self.heard)[1], _counted(self.not_sure)[1], told_of(self.choices))
        return any(stem in known for stem in telling(words) for known in said)

    def tells(self, words: object, meaning: Collection[str]) -> bool:
        """Whether a word that tells something was said of a meaning, or stands among its phrases, and at least as often
        among what meant it as among all that was said."""
        phrases, holding = _counted(self.heard)
        listed, every = told_of(self.choices), sum(phrases.values())
        for stem in about(words):
            held = holding.get(stem, {})
            for name in meaning:
                own = sum(count for each, count in held.items() if name in each.split("+"))
                size = sum(count for each, count in phrases.items() if name in each.split("+"))
                if name in listed.get(stem, {}) or (own and own * every >= sum(held.values()) * size):
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
        pairs = [part for part in parts(words) if " " in part and not {*part.split()} & {"^", "$"}]
        known = sum(part in holding for part in pairs)
        return known > (SIDE_BY_SIDE_FIGURED if figured else SIDE_BY_SIDE) * len(pairs)

    def meant(self, words: object, several: bool) -> Meant:
        """What the words are likely to mean; ``several``: any number of the choices."""
        if not several:
            each = self._likely(words)
            likeliest = max(each, key=lambda meaning: each[meaning])
            return Meant(frozenset([likeliest]), each[likeliest], each, False)
        each = {name: self._in_or_out(name)._likely(words).get(name, 0.0) for name, _ in self.choices}
        meaning = frozenset(name for name, share in each.items() if share > 0.5)
        if len(meaning) > 1:
            meaning -= {"none", "nothing"}
        return Meant(meaning, Meant(meaning, 0.0, each, True).share_of(meaning), each, True)

    def _likely(self, words: object) -> dict[str, float]:
        """How likely each meaning of the words is, all together 1."""
        phrases, holding = _counted(self.heard)
        unsure, by_unsure = _counted(self.not_sure)
        sums: dict[str, float] = {name: 1.0 for name, _ in self.choices}
        sums.update(phrases)
        if unsure:
            sums[NOT_SURE] = phrases.get(NOT_SURE, 0.0) + NOT_SURE_ELSEWHERE * unsure[NOT_SURE]
        total = sum(sums.values())
        listed = told_of(self.choices)
        logs = {meaning: math.log(count) for meaning, count in sums.items()}
        if unsure:
            logs[NOT_SURE] = math.log(phrases.get(NOT_SURE, 0.0) + NOT_SURE_ALONE * sum(phrases.values()) + 1e-9)
        for part in parts(words):
            told = (holding.get(part, {}), listed.get(part, {}), by_unsure.get(part, {}))
            held = sum(told[0].values()) + sum(told[1].values()) + NOT_SURE_ELSEWHERE * sum(told[2].values())
            usual = held / total
            for meaning, count in sums.items() if held else ():
                with_it = told[0].get(meaning, 0.0) + told[1].get(meaning, 0.0)
                with_it += NOT_SURE_ELSEWHERE * told[2].get(meaning, 0.0)
                logs[meaning] += math.log((with_it + SMOOTHED * usual) / (count + SMOOTHED))
        most = max(logs.values(), default=0.0)
        odds = {meaning: math.exp(log - most) for meaning, log in logs.items()}
        return {meaning: odd / sum(odds.values()) for meaning, odd in odds.items()}

    def _in_or_out(self, name: str) -> "Past":
        """The same, of one choice and all that is said without it."""
        heard = tuple((said, name if name in meaning.split("+") else "") for said, meaning in self.heard)
        own = dict(self.choices)[name]
        others = tuple(phrase for other, phrases in self.choices if other != name for phrase in phrases)
        return Past(heard, (), ((name, own), ("", others)))


def parts(words: object) -> frozenset[str]:
    """The words without their endings, and each two side by side, the ends of the sentence among them."""
    stems = [stem for stem in stems_of(words) if stem.isalnum()]
    return frozenset((*stems, *map(" ".join, zip(["^", *stems], [*stems, "$"], strict=True))))


def _of(each: str, meaning: Collection[str]) -> bool:
    """Whether what was meant, one choice or several, holds one of a meaning's."""
    return not {*each.split("+")}.isdisjoint(meaning)


def likely_not_sure(heard_of_any: Phrases, words: object) -> float:
    """How likely who says so isn't sure, by all that was said to any question."""
    return Past(_answered_or_not(heard_of_any), (), ())._likely(words).get(NOT_SURE, 0.0)


@lru_cache(maxsize=16)
def not_sure_among(heard: Phrases) -> Phrases:
    """What was said by who wasn't sure."""
    return tuple(one for one in heard if one[1] == NOT_SURE)


@lru_cache(maxsize=16)
def _answered_or_not(heard: Phrases) -> Phrases:
    """Each of those who weren't sure, and some of the others."""
    answered = [said for said, meaning in heard if meaning != NOT_SURE]
    some = answered[:: max(1, len(answered) // ANSWERED)]
    return (*not_sure_among(heard), *((said, "") for said in some))


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
