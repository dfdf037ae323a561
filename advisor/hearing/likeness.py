"""How like the words are to those in which each meaning was said before: least squares over words and letters.

What callers said becomes a row of figures: its words, each two of them side by side, and each four letters of a word,
the rarer the heavier (by the logarithm of how few phrases hold them), words and letters each of length one. Ridge
regression (Hoerl and Kennard, Technometrics 12, 1970, pages 55 to 67) then gives each part a weight for each meaning;
its normal equations are solved over the phrases, of which there are fewer than parts. What the weights of the words
add up to becomes a share by the logistic function.
"""

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.words import speech

RIDGE = 0.3  # of a phrase's own likeness, 2; of 0.1, 0.3 and 1 the one that read unseen phrases best
STEEP = 10.0  # how fast a share rises; of 6 and 10 the one that read unseen phrases best
LETTERS = 4
_WORD = re.compile(r"[\w']+")


@dataclass(frozen=True, slots=True)
class Likeness:
    """The weights (parts, meanings) of a table of phrases.

    usual  share of the phrases that have each meaning
    heavy  how heavily a part counts
    """

    meanings: tuple[str, ...]
    usual: NDArray[np.float64]
    places: Mapping[str, int]
    heavy: NDArray[np.float64]
    weights: NDArray[np.float64]

    def scores(self, words: object) -> NDArray[np.float64]:
        """How much each meaning is borne out, about 0 to 1, (meanings,)."""
        where, values = _row(parted(words), self.places, self.heavy)
        return np.asarray(self.usual + values @ self.weights[where])

    def one(self, words: object) -> dict[str, float]:
        """How likely each meaning is where it is one of them, all together 1."""
        scores = self.scores(words)
        odds = np.exp(STEEP * (scores - scores.max()))
        return dict(zip(self.meanings, (odds / odds.sum()).tolist(), strict=True))

    def each(self, words: object) -> dict[str, float]:
        """How likely each meaning is by itself, where there may be any number of them."""
        shares = 1.0 / (1.0 + np.exp(-STEEP * (self.scores(words) - 0.5)))
        return dict(zip(self.meanings, shares.tolist(), strict=True))


def parted(words: object) -> tuple[Counter[str], Counter[str]]:
    """The words, and each two side by side; each four letters of the words, their ends among them, marked as such."""
    said = _WORD.findall(speech.clean(words).lower())
    letters: Counter[str] = Counter()
    for word in said:
        padded = f" {word} "
        letters.update("-" + padded[at : at + LETTERS] for at in range(max(1, len(padded) - LETTERS + 1)))
    return Counter((*said, *map(" ".join, pairwise(said)))), letters


def likeness(said: Sequence[tuple[str, str]], meanings: Sequence[str], several: bool) -> Likeness:
    """Learnt from pairs of words and what they meant, one of the meanings or (``several``) any number joined by "+"."""
    families = [parted(words) for words, _ in said]
    held = Counter(part for family in families for some in family for part in some)
    places = {part: at for at, part in enumerate(held)}
    heavy = np.array([1.0 + math.log((1 + len(said)) / (1 + count)) for count in held.values()])
    rows = [_row(family, places, heavy) for family in families]
    shared = np.array([count > 1 for count in held.values()])
    narrow = np.cumsum(shared) - 1
    wide = np.zeros((len(said), int(shared.sum())), np.float32)
    for at, (where, values) in enumerate(rows):
        often = shared[where]
        wide[at, narrow[where[often]]] = values[often]
    alike = (wide @ wide.T).astype(np.float64)
    alike[np.diag_indices(len(said))] = [float(values @ values) + RIDGE for _, values in rows]
    meant = np.array([[name in (what.split("+") if several else (what,)) for name in meanings] for _, what in said])
    usual = meant.mean(axis=0)
    told = np.linalg.solve(alike, meant - usual)
    weights = np.zeros((len(places), len(meanings)))
    for (where, values), own in zip(rows, told, strict=True):
        weights[where] += np.outer(values, own)
    return Likeness(tuple(meanings), usual, places, heavy, weights)


def _row(
    families: Sequence[Counter[str]], places: Mapping[str, int], heavy: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Where the parts of a phrase that are known stand, and what they count, each family of length one."""
    where, values = [np.zeros(0, np.int64)], [np.zeros(0)]
    for family in families:
        known = [(places[part], count) for part, count in family.items() if part in places]
        if known:
            at = np.array([place for place, _ in known])
            row = heavy[at] * np.array([1.0 + math.log(count) for _, count in known])
            where.append(at)
            values.append(row / np.linalg.norm(row))
    return np.concatenate(where), np.concatenate(values)
