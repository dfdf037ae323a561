"""Phrases that stand under two choices of one question, or for two figures: which of them a caller is taken to mean,
who says just that."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import lru_cache

from advisor.inference.explain import words
from advisor.knowledge import FactDef, Fault, Place
from advisor.knowledge.places import in_a_row
from advisor.words.endings import stem_of


def shared_phrases(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Notes on phrases, endings aside, that two choices of a question have, or two figures that are said in words."""
    for definition in vocabulary.values():
        under: dict[tuple[str, ...], dict[str, str]] = defaultdict(dict)
        for choice in definition.choices:
            for phrase in (choice.name, *choice.words):
                under[_as_met(phrase)].setdefault(choice.name, phrase)
        for said in definition.said_as:
            for phrase in said.words:
                under[_as_met(phrase)].setdefault(words("", said.value, {"": definition}), phrase)
        places = {choice.name: choice.place for choice in definition.choices}
        for phrases in under.values():
            if len(phrases) > 1:
                yield _note(definition, phrases, places)


def _as_met(phrase: str) -> tuple[str, ...]:
    """The words of a phrase as they are met, its marks among them."""
    last_resort = ("~",) if phrase.startswith("~") else ()  # counts only while nothing else was named
    return (*last_resort, *map(_stem, phrase.removeprefix("~").split()))


@lru_cache(maxsize=8192)
def _stem(word: str) -> str:
    return stem_of(word.lower().replace("'", ""))


def _note(definition: FactDef, phrases: Mapping[str, str], places: Mapping[str, Place | None]) -> Fault:
    *_, (last, phrase) = phrases.items()
    others = [f"'{name}'" + f" as '{other}'" * (other != phrase) for name, other in phrases.items() if name != last]
    what = f"'{phrase}' stands under '{last}' of '{definition.name}' and under {in_a_row(others)}"
    what += _taken_as(definition, phrase)
    place = places.get(last) or definition.place
    return Fault(place, what, "leave it under one of them", "note", "same phrase", (definition.place,))


def _taken_as(definition: FactDef, phrase: str) -> str:
    """What who says the phrase is taken to mean; nothing of one with gaps or forms, which nobody says as it stands."""
    if "..." in phrase or "/" in phrase:
        return ""
    from advisor.hearing import understand  # only for what there hardly ever is

    heard = understand(definition, phrase)
    if heard.fact is None:
        return ": who says it is asked again"
    return f": who says it means '{words('', heard.fact.value, {'': definition})}'"
