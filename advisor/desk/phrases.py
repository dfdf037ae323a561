"""Phrases that stand under two choices of one question, or for two figures: which of them a caller is taken to mean,
who says just that."""

import math
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import product

from advisor.inference.explain import words
from advisor.knowledge import FactDef, Fault, Place
from advisor.knowledge.places import in_a_row
from advisor.words.endings import stem_of

_MOST_WAYS = 64
_FRACTION = re.compile(r"\d/\d")


def shared_phrases(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Notes on phrases, endings aside, that two choices of a question have, or two figures that are said in words."""
    for definition in vocabulary.values():
        under: dict[tuple[str, ...], dict[str, str]] = defaultdict(dict)
        said_so: dict[tuple[str, ...], str] = {}
        means = [(choice.name, (choice.name, *choice.words)) for choice in definition.choices]
        means += [(words("", said.value, {"": definition}), said.words) for said in definition.said_as]
        for name, phrases in means:
            for phrase in phrases:
                for met, way in _met(phrase):
                    under[met].setdefault(name, phrase)
                    said_so.setdefault(met, way)
        places = {choice.name: choice.place for choice in definition.choices}
        told: set[tuple[tuple[str, str], ...]] = set()
        for met, shared in under.items():
            if len(shared) > 1 and (one := tuple(shared.items())) not in told:
                told.add(one)
                yield _note(definition, shared, said_so[met], places)


def _met(phrase: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """What a phrase is met by, and how that is said: its words, endings aside; of one without gaps whose words do
    equally ("grey/gray") each of them to the letter, since it stands for more than who wrote it may think of."""
    yield _as_met(phrase), phrase
    if "/" not in phrase:
        yield ("", *phrase.lower().replace("'", "").split()), phrase
        return
    forms = [part.split("/") for part in phrase.lower().replace("'", "").split()]
    if "..." not in phrase and math.prod(len(part) for part in forms) <= _MOST_WAYS and not _FRACTION.search(phrase):
        for way in product(*forms):
            yield ("", *way), " ".join(way)


def _as_met(phrase: str) -> tuple[str, ...]:
    """The words of a phrase as they are met, its marks among them."""
    last_resort = ("~",) if phrase.startswith("~") else ()  # counts only while nothing else was named
    return (*last_resort, *map(_stem, phrase.removeprefix("~").split()))


@lru_cache(maxsize=8192)
def _stem(word: str) -> str:
    return stem_of(word.lower().replace("'", ""))


def _note(
    definition: FactDef, phrases: Mapping[str, str], way: str, places: Mapping[str, Place | None]
) -> Fault:
    """`way` is what the phrases have in common, without forms."""
    *_, (last, phrase) = phrases.items()
    others = [f"'{name}'" + f" as '{other}'" * (other != phrase) for name, other in phrases.items() if name != last]
    what = f"'{phrase}' stands under '{last}' of '{definition.name}' and under {in_a_row(others)}"
    what += _taken_as(definition, way).replace("it", f"'{way}'" if way != phrase else "it", 1)
    place = places.get(last) or definition.place
    return Fault(place, what, "leave it under one of them", "note", "same phrase", (definition.place,))


def _taken_as(definition: FactDef, phrase: str) -> str:
    """What who says the phrase is taken to mean; nothing of one with gaps, which nobody says as it stands."""
    if "..." in phrase or "/" in phrase:
        return ""
    from advisor.hearing import understand  # only for what there hardly ever is

    heard = understand(definition, phrase)
    if heard.fact is None:
        return ": who says it is asked again"
    return f": who says it means '{words('', heard.fact.value, {'': definition})}'"
