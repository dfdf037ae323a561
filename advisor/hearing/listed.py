"""What is said to several facts that were read back in a numbered list: all of them stand, none does, or the rest does
without those that are named or put right ("yes but not the trailer", "all but 2", "2 is wrong", "no, it's 12k")."""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from advisor.inference.facts import same
from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.words.endings import stem_of
from advisor.words.numerals import DIGIT_NAMES
from advisor.words.speech import plain

from .beside import SIZES
from .chosen import plainly
from .measured import is_usual
from .righted import Righted, righted, stems
from .sizes import asks_for_a_size
from .surroundings import names_a_figure
from .understanding import agrees, understand

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_NUMBER = rf"(?:\d|{'|'.join(DIGIT_NAMES[1:])})\b(?![.,]\d)"
_NUMBERS = rf"{_NUMBER}(?:(?: ?, ?| )(?:(?:and|or) )?{_NUMBER})*"
_WITHOUT = (
    r"(?:but(?: not)?|except(?: for)?|excepting|bar|apart from|other than|besides|without|minus|not|isn't|no|drop"
    r"|scratch|strike|forget(?: about)?|leave (?:out|off)|cross (?:out|off)|skip|lose|wrong (?:is|are))"
)
_WRONG = (
    r"(?:'s|'re| is| are| was| were|)(?: (?:all|just|plain|not quite|a bit))*"
    r"(?: (?:wrong|not right|not so|not true|off|incorrect|nonsense|should be|ought to be|needs to be)"
    r"| ?(?:isn't|aren't|ain't|wasn't) (?:right|so|true|correct|it|mine|ours|me|my truck))\b"
)
_RIGHT = r"(?:'s|'re| is| are|)(?: (?:all|just|both))* (?:right|so|true|correct|yes|good|fine|ok|okay)\b"
# A place in the list, where it is spoken of as one: "all but 2", "2 is wrong", "number two should be 12k".
_PLACES = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?P<lead>\b(?:numbers?|no\.|items?|points?|lines?) ?|#)(?P<at>{_NUMBERS})",
        rf"\b(?:{_WITHOUT}|only|just|to) (?P<at>{_NUMBERS})"
        r"(?=\W*$|[,;.!] |,? (?:and|it|it's|that|that's|which|is|though)\b)",
        rf"(?:^|[,;.!] |\b(?:yes|yeah|yep|no|nope|but|and|right|only|just) )(?P<at>{_NUMBERS})"
        rf"(?={_WRONG}|{_RIGHT}|'s\b| (?:is|are|was|should|ought|needs|has)\b)",
        rf"(?P<lead>\bthe )(?P<at>first (?:{'|'.join(DIGIT_NAMES[2:])})\b|(?:{'|'.join(ORDINALS)}|last)\b)(?: one\b)?"
        r"(?! (?:gear|year|time))",
    )
)
_OUT = re.compile(rf"\b{_WITHOUT} (?P<what>[^,;.!?]+)|(?P<named>[^,;.!?]+?){_WRONG}")
_IN = re.compile(rf"\b(?:only|just|yes to) (?P<what>[^,;.!?]+)|(?P<named>[^;.!?]+?){_RIGHT}")
_JOINS = frozenset(("and", "or"))
_JOIN = re.compile(rf"\b(?:{'|'.join(_JOINS)}|but)\b|,")


@dataclass(frozen=True, slots=True)
class Listed:
    """What a reply makes of a list: which facts of it stand, which are put ``right`` with their new value, which are
    only ``wrong``, those of which it can't be told ``which`` is meant, and what is told ``beside`` the list. With none
    of these it was denied."""

    stands: tuple[Understood, ...] = ()
    right: tuple[Understood, ...] = ()
    wrong: tuple[str, ...] = ()
    which: tuple[str, ...] = ()
    beside: tuple[Understood, ...] = ()


def reply(vocabulary: Mapping[str, FactDef], listed: Sequence[Understood], said: str) -> Listed | None:
    """What words do with the facts ``listed``; None where they say nothing of any."""
    if (named := _in_names(listed, said)) is None:
        return None
    own = {one.answer.fact: one for one in listed}
    found = righted(vocabulary, named, {fact: one.answer.words for fact, one in own.items()})
    right = [one for one in found.facts if one.answer.fact in own]
    if not right:
        figured = names_a_figure(named) or _named(vocabulary, listed, named, _OUT)
        right = list((_fitting if figured else _chosen)(vocabulary, listed, found))
    if which := _either(vocabulary, own, right, found, named):
        return Listed(which=which)
    known = {one.answer.fact for one in right}
    wrong = _named(vocabulary, listed, named, _OUT) - known
    if right or wrong:
        stands = tuple(one for fact, one in own.items() if fact not in known | wrong)
        more = tuple(one for one in found.facts if one.answer.fact not in own)
        return Listed(stands, tuple(right), tuple(fact for fact in own if fact in wrong), beside=more)
    agreed, stays = agrees(said), _named(vocabulary, listed, named, _IN)
    if stays:
        return Listed(tuple(one for fact, one in own.items() if fact in stays))
    return None if agreed is None else Listed(tuple(listed) if agreed else ())


def _in_names(listed: Sequence[Understood], said: str) -> str | None:
    """The words with places in the list as the names of the facts that stand there; None where there is no such
    place."""
    text = plain(said)
    for place in _PLACES:
        while found := place.search(text):
            places = _numbers(found["at"], len(listed))
            if max(places) > len(listed):
                return None
            names = " and ".join(f"the {listed[number - 1].answer.fact}" for number in places)
            start = found.start("lead" if "lead" in place.groupindex else "at")
            text = f"{text[:start]}{names}{text[found.end() :]}"
    return text


def _numbers(words: str, count: int) -> list[int]:
    """The places, from 1, that words tell of a list of so many."""
    first, *more = re.findall(r"\d|[a-z]+", words)
    if first == "last":
        return [count]
    if first in ORDINALS:
        return [*range(1, DIGIT_NAMES.index(more[0]) + 1)] if more else [ORDINALS.index(first) + 1]
    told = (int(word) if word.isdecimal() else DIGIT_NAMES.index(word) for word in (first, *more) if word not in _JOINS)
    return [number for number in told if number]


def _named(
    vocabulary: Mapping[str, FactDef], listed: Sequence[Understood], said: str, where: re.Pattern[str]
) -> set[str]:
    """The facts that are named ``where`` they are left out, or are right."""
    told = (what for found in where.finditer(said) for what in _JOIN.split(found["what"] or found["named"]))
    return {fact for what in told for fact in _meant(vocabulary, listed, what)}


def _meant(vocabulary: Mapping[str, FactDef], listed: Sequence[Understood], what: str) -> list[str]:
    """The facts that are spoken of: those of whose name most words are said, or whose value is."""
    words = {stem_of(word) for word in re.findall(r"[a-z']+", what)}
    told = {one.answer.fact: len(words & _stems(one.answer.fact)) for one in listed if words & stems(one.answer.fact)}
    if told:
        return [fact for fact, count in told.items() if count == max(told.values())]
    return [one.answer.fact for one in listed if _says(vocabulary[one.answer.fact], one, what.strip())]


def _stems(fact: str) -> set[str]:
    """All words of a fact's name but the shortest, without their endings."""
    return {stem_of(word) for word in fact.split() if len(word) > 2}


def _says(definition: FactDef, one: Understood, what: str) -> bool:
    """Whether words tell the value that was read back."""
    if definition.kind == "text" or one.fact is None:
        return False
    told = understand(definition, re.sub(r"^(?:the|my|a|an) ", "", what))
    return told.fact is not None and not told.doubt and same(told.fact.value, one.fact.value)


def _fitting(vocabulary: Mapping[str, FactDef], listed: Sequence[Understood], found: Righted) -> Iterator[Understood]:
    """The facts that a figure by itself may be of: "no, it's 12k", "no, a 66"."""
    for words in found.left:
        for one in listed:
            definition = vocabulary[one.answer.fact]
            told = understand(definition, words)
            fits = definition.name in SIZES and asks_for_a_size(words)
            if fits or (is_usual(definition, told) and not told.doubt):
                yield told


def _chosen(vocabulary: Mapping[str, FactDef], listed: Sequence[Understood], found: Righted) -> list[Understood]:
    """The one fact of which a plain choice is told otherwise: "no, it was the tune"."""
    chosen = [(vocabulary[one.answer.fact], one) for one in listed if vocabulary[one.answer.fact].choices]
    told = [
        (one, heard)
        for words in found.left
        for definition, one in chosen
        if plainly(definition, words) and (heard := understand(definition, words)).fact is not None and not heard.doubt
    ]
    other = [heard for one, heard in told if one.fact and heard.fact and not same(one.fact.value, heard.fact.value)]
    return other if len(told) == 1 else []


def _either(
    vocabulary: Mapping[str, FactDef],
    own: Mapping[str, Understood],
    right: Sequence[Understood],
    found: Righted,
    said: str,
) -> tuple[str, ...]:
    """The facts one of which a figure that names none puts right, where there are several."""
    figures = [one for one in right if vocabulary[one.answer.fact].kind == "number"]
    unnamed = [one for one in figures if not (_named_in(one.answer.fact, own, said) or one.answer.fact in found.named)]
    if len(unnamed) != len(figures) or not unnamed or re.search(r"\b(?:not|instead of|rather than)\b", said):
        return ()
    able = {one.answer.fact: one for one in unnamed}
    for one in unnamed:
        for fact, other in own.items():
            definition = vocabulary[fact]
            told = understand(definition, one.answer.words) if definition.kind == "number" else None
            if told is not None and told.fact is not None and not told.doubt:
                able.setdefault(fact, other)
    return tuple(fact for fact in own if fact in able) if len(able) > 1 else ()


def _named_in(fact: str, own: Collection[str], said: str) -> bool:
    """Whether a word of the fact's name is said that no other of the list has."""
    others = set[str]().union(*(_stems(other) for other in own if other != fact))
    return bool((_stems(fact) - others) & {stem_of(word) for word in re.findall(r"[a-z']+", said)})
