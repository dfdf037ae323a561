"""Phrases of the vocabulary met in what is said, by word and endings aside; `choosing` says what their marks mean.

The phrases that are looked for are laid out once, by the words with which they can begin: of some hundred phrases only
those few are then tried that can stand in a sentence at all.
"""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from advisor.words.endings import DIGITS, stem_of
from advisor.words.speech import AT_HAND, plain

GAP = 6  # words that "..." can stand for
_PAUSE = ","  # a mark of punctuation among the words; no phrase reaches across it
# Wheel sizes as the trade names a turbo by them, in mm: one, or the compressor's and the turbine's.
_SIZES = frozenset(
    said
    for size in map(str, range(40, 90))
    for said in (size, f"{size}mm", *(f"{size}/{turbine}" for turbine in range(40, 110)))
)
# Within "thirty-two valves" nothing is said of two.
_TENS, _SMALL = frozenset(["twenty", "thirty", "forty", "fifty", "sixty"]), frozenset([*DIGITS.values(), "one"])
_CODE = re.compile(r"\b([b-z])[- ](\d)")
_NOT = re.compile(r"\b(?:do|does|did|is|are|am|was|were|has|have|had|can|could|would|should|will) not\b")
_WORD = re.compile(r"[a-z0-9./]*[a-z0-9]|[,;:.!?]")
_AT_DOTS = re.compile(r"(?<=[a-z])(?=\.\.\.)|(?<=\.\.\.)(?=[a-z])")
_ONE = re.compile(r"\d/\d{1,2}|[^/]*")

# Who says "standard" means what is stock, or the gearbox that a phrase calls so; who says "stock" never means that one.
_SAID_TOO = {"stock": frozenset(["stock", "standard"])}

Parts = tuple[frozenset[str] | None, ...]


@lru_cache(maxsize=AT_HAND)
def fold(text: str) -> str:
    """Plain text without apostrophes and inner dashes, "T-4" as "t4"."""
    text = _CODE.sub(r"\1\2", text.replace("'", "")).replace("-", " ")
    return _NOT.sub("dont", text) if " not" in text else text


@lru_cache(maxsize=AT_HAND)
def stems_in(text: str) -> tuple[str, ...]:
    """The words of a folded text as stems; punctuation as pauses."""
    return tuple([stem_of(word) if word[-1].isalnum() else _PAUSE for word in _WORD.findall(text)])


@lru_cache(maxsize=AT_HAND)
def spans_in(text: str) -> tuple[tuple[int, int], ...]:
    """Where each of these words begins and ends."""
    return tuple([match.span() for match in _WORD.finditer(text)])


@lru_cache(maxsize=8192)
def pattern(phrase: str) -> Parts:
    """A phrase as the stems that do at each place; None for "..."."""
    parts: list[frozenset[str] | None] = []
    for part in _AT_DOTS.sub(" ", fold(plain(phrase)).lstrip("~")).split():
        if part.isascii() and part.isalnum():
            stem = stem_of(part)
            parts.append(_SAID_TOO.get(stem) or frozenset((stem,)))
        elif part == "...":
            parts.append(None)
        elif part == "##":
            parts.append(_SIZES)
        else:
            either = [part] if _ONE.fullmatch(part) else part.split("/")
            stems = {stem for word in either for stem in stems_in(word)}
            parts.append(frozenset(stems.union(*(_SAID_TOO.get(stem, ()) for stem in stems))))
    return tuple(parts)


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Phrases in their order, laid out: the parts of each, and by a word those that can begin with it. ``anyhow``:
    those that can begin with nearly any."""

    parts: tuple[Parts, ...]
    by_first: Mapping[str, Sequence[int]]
    anyhow: Sequence[int]

    def standing(self, stems: Sequence[str]) -> Iterator[tuple[int, tuple[int, ...]]]:
        """Which phrases stand in a text, in their order, with the places of the words that meet it, for each time."""
        tried = [
            (number, at)
            for at, stem in enumerate(stems)
            if _begins(stems, at)
            for number in (*self.by_first.get(stem, ()), *self.anyhow)
        ]
        tried.sort()
        for number, at in tried:
            if places := _met(stems, at, self.parts[number]):
                yield number, places

    def each(self, stems: Sequence[str], number: int) -> list[tuple[int, ...]]:
        """The places of the words that meet one of the phrases, for each time it stands in a text."""
        starts = (at for at in range(len(stems)) if _begins(stems, at))
        return [places for at in starts if (places := _met(stems, at, self.parts[number]))]

    def able(self, stems: Sequence[str]) -> set[int]:
        """The phrases that may stand in a text."""
        return {number for stem in {*stems} for number in self.by_first.get(stem, ())}.union(self.anyhow)


@lru_cache(maxsize=2048)
def laid(phrases: tuple[str, ...]) -> Laid:
    """Phrases laid out."""
    parts = tuple(map(pattern, phrases))
    by_first: dict[str, list[int]] = defaultdict(list)
    anyhow = []
    for number, each in enumerate(parts):
        if each and (each[0] is None or each[0] is _SIZES):
            anyhow.append(number)
        for stem in each[0] or () if each and each[0] is not _SIZES else ():
            by_first[stem].append(number)
    return Laid(parts, dict(by_first), anyhow)


def _begins(stems: Sequence[str], at: int) -> bool:
    """Whether a phrase may begin at a word."""
    return not (at and stems[at] in _SMALL and stems[at - 1] in _TENS)


def _met(stems: Sequence[str], at: int, parts: Parts, part: int = 0) -> tuple[int, ...] | None:
    """The places of the words that meet a phrase, from one of its parts on, which begins at a word, or None."""
    if part == len(parts):
        return ()
    head = parts[part]
    if head is None:
        for over in range(GAP + 1):
            if (places := _met(stems, at + over, parts, part + 1)) is not None:
                return places
            if at + over >= len(stems) or stems[at + over] == _PAUSE:
                return None
        return None
    if at >= len(stems) or stems[at] not in head or (places := _met(stems, at + 1, parts, part + 1)) is None:
        return None
    return (at, *places)
