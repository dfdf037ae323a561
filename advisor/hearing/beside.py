"""Facts that a sentence holds beside the one that it answers: offered one by one, and only where it is plain.

A figure is taken with its unit and the words that name its fact, or as the vocabulary marks it (``mentioned``); a
choice by a phrase that the vocabulary marks, or before the noun of its fact ("loose converter"). What two facts could
mean is nobody's.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.units import Range, Unclear
from advisor.words.numerals import DIGIT_NAMES

from . import asides, choosing, present, retold, storied, surroundings
from .chosen import LEANT, PATTERN
from .request import decode
from .taken import suggestions
from .together import Apart
from .understanding import understand

MOST_OFFERS = 6
LEAST_WORDS = 3  # of an answer that can hold another
# Last words of a fact's name that also stand for other things.
GENERAL = frozenset(
    ["turbo", "kind", "end", "rule", "status", "answer", "reason", "since", "when", "by", "at", "stay", "loss", "room",
     "wheels", "cylinder", "foot", "entry", "colour", "size"]
)  # fmt: skip
SPAN = re.compile(
    r"(?<![\w.,/])\d(?:[\d,.]*\d)?(?:\s?k\b)?(?:\s?(?:to|-|\u2013|and)\s?\d(?:[\d,.]*\d)?(?:\s?k\b)?)?", re.IGNORECASE
)
WANTED = re.compile(
    r"\b(?:look|lookin|looking|shopping|hunting|want|wants|wanting|need|needs|after|thinking|interested)\b",
    re.IGNORECASE,
)
HIS_FRIENDS = re.compile(
    r"\b(?:friend|buddy|mate|pal|neighbou?r|cousin|brother|uncle|boss|guy|fella)\b.*\b(?:(?:runs|running) an? \d"
    r"|(?:has|have|had|got) an? [4-8]\d(?=$|[,.;!/]| (?:and|but|on|in|with|that|which)\b))",
    re.IGNORECASE,
)
# Whose truck it may be that is spoken of.
OTHERS = re.compile(
    r"\b(?:his|their|everybody|everyone|guys|budd(?:y|ies)|cousin|neighbou?r|brother|friend)(?:'?s)?\b", re.IGNORECASE
)
NAME = re.compile(r"\b\d+(?!mm\b)[a-z]{2,}\d*\b", re.IGNORECASE)  # of a gearbox or a frame, no size
CLAUSE = re.compile(r"(?:(?! (?:but|because|and) )[^,;.!?])+")
INCHES = re.compile(r"[ -]?inch", re.IGNORECASE)  # two pipes in words are nobody's
_DIGIT = "|".join(DIGIT_NAMES)
SPOKEN_DECIMAL = re.compile(
    rf"\b(?P<whole>{_DIGIT})[- ](?P<tenths>{_DIGIT})\b(?![- ](?:hundred|thousand|point|{_DIGIT}))", re.IGNORECASE
)
MONEY = ("grand", *units.QUANTITIES["money"].aliases)
THOUSANDS = re.compile(r"k$", re.IGNORECASE)
GAP_AT_FIGURE = re.compile(r"#\s*\.\.\.|\.\.\.\s*#")
# A comma before a figure that is said by itself: "pull the fifth wheel on weekends, about 14k".
LONE_FIGURE = re.compile(r",\s*(?:(?:a?bout|around|maybe|roughly|say|call it) )?FIGURE(?= *(?:[,.;]|$))")


def also_said(
    vocabulary: Mapping[str, FactDef],
    heard: Understood | str,
    settled: Collection[str],
    given: Mapping[str, str] | None = None,
    least: int = LEAST_WORDS,
) -> list[Understood]:
    """Facts that a sentence of at ``least`` so many words holds, beside the one that it answers where it was
    understood, without those that are ``settled``; what it says of the one asked is not offered for another. Of several
    choices ``given`` before, what it adds is offered with them."""
    said = heard if isinstance(heard, str) else heard.answer.words
    asked = [one for one in vocabulary.values() if one.source == "asked" and not one.volunteered]
    if len(said.split()) < least:
        if isinstance(heard, str) or not (heard.again or LEANT in heard.doubt):
            return []
        if surroundings.names_a_figure(said):
            return alone if len(alone := by_unit_alone(vocabulary, heard, settled)) == 1 else []
    value = heard.fact.value if isinstance(heard, Understood) and heard.fact is not None else None
    own = heard.answer.fact if isinstance(heard, Understood) else ""
    told = [more for more in take_all(asked, said) if more.fact is not None and more.answer.fact != own]
    grown = (_added(vocabulary[more.answer.fact], more, (given or {}).get(more.answer.fact, "")) for more in told)
    return [
        *(more for more in grown if more is not None),
        *retold.otherwise(vocabulary, heard, told, given or {}),
        *(
            more
            for more in told
            if more.answer.fact not in settled
            and more.fact is not None
            and not (isinstance(value, Range) and more.fact.value == value)
        ),
    ]


def _added(definition: FactDef, more: Understood, before: str) -> Understood | None:
    """The choices given before with those that are told now too; None where nothing is added."""
    was = understand(definition, before).fact if before and definition.kind == "several" else None
    if was is None or more.fact is None or not isinstance(was.value, frozenset):
        return None
    whole = was.value.union(more.fact.value) if isinstance(more.fact.value, frozenset) else was.value
    names = [choice.name for choice in definition.choices if choice.name in whole]
    return understand(definition, " and ".join(names)) if whole > was.value else None


def by_unit_alone(
    vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]
) -> list[Understood]:
    """A figure by itself that doesn't answer its question, for the facts that are measured in its unit and can be so
    much: "1,200 ft". Where there are several, for those that it is usual for, and of these for the one that is asked
    about the same thing ("3200 rpm" said of the engine)."""
    said = heard.answer.words
    hit = SPAN.match(said)
    numbers = [one for one in vocabulary.values() if one.source == "asked" and one.kind == "number"]
    readings = [understand(one, said) for one in numbers if hit and _all_with_unit(one, said, hit)]
    found = [one for one in readings if one.fact is not None and not one.doubt and one.answer.fact != heard.answer.fact]
    usual = [one for one in found if _is_usual(vocabulary[one.answer.fact], one)] if len(found) > 1 else found
    topic = vocabulary[heard.answer.fact].topic
    near = [one for one in usual if vocabulary[one.answer.fact].topic == topic]
    return [one for one in (near if len(near) == 1 else usual) if one.answer.fact not in settled]


def _all_with_unit(definition: FactDef, said: str, hit: re.Match[str]) -> bool:
    """Whether words are a number with a unit of what a fact measures alone."""
    units_ = units.QUANTITIES[definition.quantity]
    unit = said[hit.end() :].strip(" -").lower()
    return _with_unit(definition, said, hit) == said or (len(units_.units) == 1 and unit in units_.aliases)


def unless_of_another(vocabulary: Mapping[str, FactDef], heard: Understood) -> Understood:
    """An answer, but no figure that the words around it mark as another fact's of another kind: "about 14k, truck's
    rated 13" holds no displacement."""
    own = vocabulary[heard.answer.fact]
    words = _in_digits(heard.answer.words)
    if own.kind != "number" or heard.fact is None or heard.doubt or len(words.split()) < 2:
        return heard
    numbers = [one for one in vocabulary.values() if one.source == "asked" and one.kind == "number"]
    found: list[Understood] = []
    for hit in SPAN.finditer(words):
        taken = understand(own, _with_unit(own, words, hit) or hit.group(0)).fact
        if taken is None or taken.value != heard.fact.value:
            continue
        marked = _widest(list(_as_mentioned(numbers, words, hit)))
        if len(marked) != 1 or vocabulary[marked[0].answer.fact].quantity == own.quantity:
            return heard
        found.append(marked[0])
    return _not_this(heard, found) if found else heard


def without_others(vocabulary: Mapping[str, FactDef], found: Apart) -> Apart:
    """An answer to several questions taken apart, without what its words mark as another fact's."""
    return replace(found, heard=tuple(one for one in found.heard if not unless_of_another(vocabulary, one).again))


def _is_usual(definition: FactDef, heard: Understood) -> bool:
    return heard.fact is not None and isinstance(heard.fact.value, Range) and definition.usual(heard.fact.value)


def asks_for_a_size(words: str) -> bool:
    """Whether an opening names the size of the turbo that is wanted: "looking for a 64", or the size alone."""
    wanted = WANTED.search(words) is not None or len(words.split()) <= LEAST_WORDS
    return wanted and decode(NAME.sub(" ", words)).inducer is not None


def offers(
    vocabulary: Mapping[str, FactDef],
    heard: Understood,
    settled: Collection[str],
    opening: bool,
    given: Mapping[str, str] | None = None,
) -> list[Understood]:
    """What a sentence holds beside its answer; an ``opening`` that names a size is the request too, of who wants a new
    turbo also that of a friend's, and what troubles him goes to today's trouble; of who complains to what it does."""
    found = also_said(vocabulary, heard, settled, given)
    if not opening:
        return found
    words = heard.answer.words
    wants = heard.fact is not None and heard.fact.value == "new turbo"
    told = {
        "request": words if asks_for_a_size(words) or (wants and HIS_FRIENDS.search(words)) else "",
        "today's trouble": trouble_told(words, vocabulary) if wants else "",
    }
    texts = [
        understand(vocabulary[fact], said)
        for fact, said in told.items()
        if said and fact in vocabulary and fact not in settled
    ]
    complains = heard.fact is not None and heard.fact.value == "complaint" and "complaint" not in settled
    return [*texts, *(_complained_of(words, vocabulary) if complains else ()), *found]


def _complained_of(words: str, vocabulary: Mapping[str, FactDef]) -> list[Understood]:
    """What an opening already says of what it does, so that nobody has to tell it twice: "it barks since ..."."""
    definition = vocabulary.get("complaint")
    try:
        choices = () if definition is None else [(choice.name, choice.words) for choice in definition.choices]
        named = choosing.read_several(words, choices, by_name=False) if choices else frozenset[str]()
    except Unclear:
        return []
    return [understand(definition, " and ".join(sorted(named)))] if definition and named else []


def may_be_beside(heard: Understood, definition: FactDef) -> bool:
    """Whether the words may mean something else than was asked: free text, or what only leans to a choice; not a wish
    that names what it is about."""
    wish = definition.name == "request" and (WANTED.search(heard.answer.words) or decode(heard.answer.words).fixes)
    free = definition.kind == "text" and not wish and heard.fact is not None
    return free or LEANT in heard.doubt or (heard.not_sure and heard.doubt != "")


def beside_the_question(heard: Understood, more: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> Understood:
    """Free text that plainly says ``more`` and nothing that anybody complains of, doubted as the answer; words that
    plainly say ``more`` and only lean to a choice are no answer."""
    if LEANT in heard.doubt or heard.not_sure:
        return replace(_not_this(heard, more), not_sure=False)
    about = " and ".join(one.answer.fact for one in more)
    if choosing.holds(heard.answer.words, _troubles(vocabulary)):
        return heard
    return replace(heard, doubt=f"That tells the {about}. Is it the answer to this question too?")


def _not_this(heard: Understood, more: Sequence[Understood]) -> Understood:
    """Words that say ``more`` and nothing of what was asked."""
    about = " and ".join(one.answer.fact for one in more)
    return replace(heard, fact=None, doubt="", again=f"That tells the {about}, and no answer that I can make out.")


def trouble_told(words: str, vocabulary: Mapping[str, FactDef]) -> str:
    """What an opening tells of a trouble of his own truck, from its clause to the end ("mine runs hot on the grades");
    "" for nothing."""
    for clause in CLAUSE.finditer(words):
        elsewhere = WANTED.search(clause[0]) or OTHERS.search(clause[0])
        if choosing.holds(clause[0], _troubles(vocabulary)) and not elsewhere:
            return words[clause.start() :].strip()
    return ""


def _troubles(vocabulary: Mapping[str, FactDef]) -> tuple[str, ...]:
    """What callers say of each thing that they complain of."""
    definition = vocabulary.get("complaint")
    choices = () if definition is None else definition.choices
    return tuple(phrase for choice in choices for phrase in (choice.name, *choice.words))


def corrects(definition: FactDef, before: str, words: str) -> Understood | None:
    """The choice that the opening's answer should have been, from words at another question that deny it by its name
    and name another ("no, it's not a complaint, I want a new turbo")."""
    was = understand(definition, before).fact
    if was is None or not choosing.holds(words, [str(was.value)]):
        return None
    said, denied = choosing.heard(words, [(choice.name, choice.words) for choice in definition.choices])
    other = next(iter(said)) if len(said) == 1 else was.value
    return understand(definition, str(other)) if was.value in denied and other != was.value else None


def take_all(definitions: Sequence[FactDef], words: str) -> list[Understood]:
    """Facts that a sentence plainly holds, to be confirmed one by one; what is said of another's truck is left, but for
    facts with a mark that speaks of another's truck itself ("friend ... runs a ##").

    ``definitions`` are all that can be asked, those known already too: their figures must not pass for another's.
    """
    words = units.clean(words)
    own = present.own_clauses(words)
    told: list[Understood] = []
    if OTHERS.search(words):
        marks = {d.name: [phrase for phrase in d.mentioned if OTHERS.search(phrase)] for d in definitions}
        told = list(_choices_in([d for d in definitions if choosing.holds(words, marks[d.name])], words))
        if own == words or not own or OTHERS.search(own):
            return told
    found: dict[str, Understood] = {}
    figures = (*_numbers_in(definitions, _in_digits(own)), *_figures_in_words(definitions, own))
    for understood in (*told, *figures, *_choices_in(definitions, own)):
        found.setdefault(understood.answer.fact, understood)
    return list(found.values())[:MOST_OFFERS]


def _in_digits(words: str) -> str:
    """The words with spoken figures as digits: "a five-nine" is "a 5.9", "twelve thousand" is "12000"."""

    def written(found: re.Match[str]) -> str:
        if found.group()[0].isdecimal() or found.group()[0] == "$" or INCHES.match(found.string[found.end() :]):
            return found.group()
        try:
            value = units.read_number(found.group(), "money", "$").value
        except Unclear:
            return found.group()
        return f"{value.low:.10g}" if value.exact else found.group()

    decimals = SPOKEN_DECIMAL.sub(
        lambda found: f"{DIGIT_NAMES.index(found['whole'].lower())}.{DIGIT_NAMES.index(found['tenths'].lower())}", words
    )
    return asides.FIGURE.sub(written, decimals)


def _numbers_in(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    numbers = [definition for definition in definitions if definition.kind == "number"]
    for hit in SPAN.finditer(words):
        clause = _clause(words, hit.start(), hit.end())
        nearby = {_stem(word) for word in re.findall(r"[a-z]+", clause.lower())}
        readings = [understand(d, span) for d in numbers if (span := _with_unit(d, words, hit))]
        able = [reading for reading in readings if reading.fact is not None and not reading.doubt]
        marked = _widest(list(_as_mentioned(numbers, words, hit)))
        if len(marked) == 1:
            yield marked[0]
            continue
        named = [len(nearby & {_stem(word) for word in reading.answer.fact.split()}) for reading in able]
        best = [reading for reading, count in zip(able, named, strict=True) if count == max(named)]
        if len(best) == 1 and max(named):
            yield best[0]


def _figures_in_words(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    """Figures said in words that the vocabulary marks as this fact's: "sea level"."""
    return (understand(one, told) for one in definitions if (told := storied.marked_in_words(one, words)))


def _widest(marked: Sequence[tuple[Understood, set[int]]]) -> list[Understood]:
    """Of the facts that the words around a figure stand for, with the places of these words in its clause, those whose
    words aren't within another's: "want to make 700" is wanted, not made."""
    return [reading for reading, places in marked if not any(places < wider for _, wider in marked)]


def _as_mentioned(
    numbers: Sequence[FactDef], words: str, hit: re.Match[str]
) -> Iterable[tuple[Understood, set[int]]]:
    """The facts that the words around a figure stand for ("pull ... #"), with the places of these in its clause.

    Words apart from the figure count only where its unit was said, or thousands of a weight.
    """
    marked = f"{words[: hit.start()]}FIGURE{words[hit.end() :]}"
    said = LONE_FIGURE.sub(" FIGURE", marked)
    clause = _clause(marked, hit.start(), hit.start() + len("FIGURE"))
    for definition in numbers:
        if not definition.mentioned:
            continue
        span = _with_unit(definition, words, hit)
        after = re.split(r"[ -]+", words[hit.end() :].strip(" -"))
        if not span and surroundings.other_unit(after, definition.quantity):  # "a 2.6 inch"
            continue
        weighed = (
            definition.quantity == "mass"
            and THOUSANDS.search(hit.group(0))
            and not surroundings.other_unit(words[hit.end() :].split(), definition.quantity)
        )
        phrases = [
            phrase.replace("#.#", "FIGURE").replace("#", "FIGURE")
            for phrase in definition.mentioned
            if phrase not in storied.in_words(definition)
            and ("#.#" not in phrase or re.fullmatch(r"\d\.\d", hit.group(0)))
            and (span or weighed or not GAP_AT_FIGURE.search(phrase))
        ]
        without_unit = f"{words[: hit.start()]}FIGURE{words[hit.start() + len(span) :]}"
        alone = LONE_FIGURE.sub(" FIGURE", without_unit) if span else said  # "just the van, 3.5 tonnes"
        if not choosing.holds(said, phrases) and not choosing.holds(alone, phrases):
            continue
        reading = understand(definition, span or hit.group(0))
        meant = suggestions(reading.doubt)
        thousands = definition.quantity == "mass" and not surroundings.other_unit(words[hit.end() :].split(), "mass")
        if meant and (thousands or ("." in hit.group(0) and len(meant) == 1)):  # "rated 13", "2.6 inducer" in inches
            reading = understand(definition, meant[0])
        if reading.fact is not None and not reading.doubt:
            yield reading, choosing.places(clause, phrases)


def _with_unit(definition: FactDef, words: str, hit: re.Match[str]) -> str:
    """The stretch of words from a number to its unit, where one was said; else ""."""
    after = re.match(r"((?:[ -]?[^\s,;.\d]+){0,3})", words[hit.end() :])
    tail = re.findall(r"[ -]?[^\s,;.\d-]+", after.group(0)) if after else []
    for count in range(len(tail), 0, -1):
        if tail[count - 1].strip(" -").lower() in ("of", "the", "a"):
            continue
        stretch = hit.group(0) + "".join(tail[:count])
        try:
            heard = units.read_number(stretch, definition.quantity, definition.unit)
            told = definition.quantity == "money" and tail[count - 1].strip(" -").lower() in MONEY
            if told or storied.names_its_unit(stretch, heard.value, definition):
                return stretch
        except Unclear:
            continue
    return ""


def _clause(words: str, start: int, end: int) -> str:
    """The clause around a number."""
    breaks = list(re.finditer(r"[;.,](?=\s)|\b(?:and|but|with)\b", words))
    left = max((hit.end() for hit in breaks if hit.end() <= start), default=0)
    right = min((hit.start() for hit in breaks if hit.start() >= end), default=len(words))
    return words[left:right]


def _stem(word: str) -> str:
    return re.sub(r"(ing|ed|s)$", "", word) if len(word) > 4 else word


def _choices_in(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    choosers = [definition for definition in definitions if definition.kind in ("choice", "several")]
    said_of = tuple(
        (fact.name, tuple((choice.name, tuple(map(str, choice.words))) for choice in fact.choices), fact.mentioned)
        for fact in choosers
    )
    taken: set[int] = set()
    for definition, own in zip(choosers, _telling(said_of), strict=True):
        places = choosing.places(words, [phrase for _, phrases in own for phrase in phrases])
        if not places or (places & taken and not choosing.places(words, definition.mentioned)):
            continue
        try:
            said = choosing.read_several(words, own, by_name=False)
        except Unclear:
            continue
        if len(said) == 1 or (said and definition.kind == "several"):
            taken |= places
            names = sorted(definition.choices[int(index)].name for index in said)
            yield understand(definition, " and ".join(names))


@lru_cache(maxsize=64)
def _telling(
    said_of: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...], tuple[str, ...]], ...],
) -> tuple[choosing.Choices, ...]:
    """Of each fact the phrases that tell by themselves which fact they are about, by the place of the choice: those
    that the vocabulary marks, and a choice before the noun of its fact, where that isn't a figure and no phrase or
    noun of another fact."""
    nouns = Counter(fact.split()[-1] for fact, _, _ in said_of)
    phrases: dict[str, set[str]] = {}
    for fact, choices, _ in said_of:
        for name, others in choices:
            for phrase in (name, *others):
                phrases.setdefault(phrase.lower(), set()).add(fact)
    found = []
    for fact, choices, mentioned in said_of:
        noun = fact.split()[-1]
        own = []
        for index, (name, others) in enumerate(choices):
            kept = [phrase for phrase in (name, *others) if phrase in mentioned]
            if noun not in GENERAL and nouns[noun] == 1:
                kept += [
                    f"{phrase} {noun}"
                    for phrase in (name, *others)
                    if not PATTERN.search(phrase)
                    and not surroundings.names_a_figure(phrase)
                    and phrases.get(f"{phrase} {noun}".lower(), {fact}) == {fact}
                ]
            own.append((str(index), tuple(kept)))
        found.append(tuple(own))
    return tuple(found)
