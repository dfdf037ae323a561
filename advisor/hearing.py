"""From a caller's words to a fact: what was understood, what to ask again, what to doubt, what to read
back."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from advisor import choosing, surroundings, units
from advisor.inference import explain
from advisor.inference.facts import Fact, Origin, Value
from advisor.knowledge import FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Range, Unclear

NOT_SURE = "not sure"
MOST_OFFERS = 4
MOST_SHARING = 3  # facts in whose phrases the name of a choice may stand and still tell which it is
LEAST_WORDS = 3  # of an answer that can hold another
NO_FIGURE = re.compile(r"\b(same|like) (as |that of )?(my|his|her|their|the|a) ", re.IGNORECASE)
UNSURE_START = re.compile(
    r"^(?:i'?m |well )?(?:not (?:too |really |quite )?sure|no idea|(?:i )?don'?t know)[\s,;.:-]+(?:but )?",
    re.IGNORECASE,
)
NOT_MEASURED = re.compile(
    r"\b(?:never|not|haven'?t|hasn'?t|nobody)(?: (?:ever|been|had|has|actually|really|got|it))*"
    r" (?:measured?|weigh(?:ed)?|check(?:ed)?|looked|counted|clocked|dyno(?:ed)?|tested|known?)\b"
    r"|\bdon'?t (?:know|have|recall|remember)\b",
    re.IGNORECASE,
)
KNOWN_AT_ALL = re.compile(r"\b(?:do you (?:know|have)|as near as you know)\b", re.IGNORECASE)
UP_TO = re.compile(r"\bup to\b", re.IGNORECASE)
PAST = re.compile(r"\bwas\b", re.IGNORECASE)
EVER = re.compile(r"\bever\b", re.IGNORECASE)
# Last words of a fact's name that also stand for other things.
GENERAL = frozenset(
    ["turbo", "kind", "end", "rule", "status", "answer", "reason", "since", "when", "by", "at", "stay", "loss"]
)
PATTERN = re.compile(r"\.\.\.|[/~]")  # what makes a phrase of the vocabulary more than words
SPAN = re.compile(
    r"(?<![\w.,/])\d[\d,.]*(?:\s?k\b)?(?:\s?(?:to|-|\u2013|and)\s?\d[\d,.]*(?:\s?k\b)?)?", re.IGNORECASE
)


def understand(definition: FactDef, words: str) -> Understood:
    """What ``words`` say about the fact.

    A number that isn't plausible is doubted, not refused: the fact is there and ``doubt`` asks. "Not sure"
    gives a number its prior range; a choice then stays unknown. Words that aren't understood give ``again``.
    """
    words = units.clean(words).strip()
    answer = Answer(definition.name, words)
    if not words:
        return _again(answer, "Nothing was said", definition)
    if units.is_unsure(words):
        return _not_sure(definition, answer)
    try:
        match definition.kind:
            case "number":
                return _number(definition, answer)
            case "yes/no":
                return _settled(definition, answer, units.read_yes_no(words, EVER.search(definition.ask) is not None))
            case "choice":
                return _settled(definition, answer, _one(definition, words))
            case "several":
                return _settled(definition, answer, choosing.read_several(words, _choices(definition)))
            case _:
                return _settled(definition, answer, words)
    except Unclear as unclear:
        return _again(answer, str(unclear), definition, unclear.hint)


def value_words(value: Value, definition: FactDef | None) -> str:
    """A value as the shop says it, with the unit of the vocabulary."""
    return explain.words("", value, {} if definition is None else {"": definition})


def example(definition: FactDef) -> str:
    """An answer that would be understood."""
    match definition.kind:
        case "number":
            pick = definition.typical if definition.typical is not None else _middle(definition)
            return "" if pick is None else units.show(pick, definition.unit, definition.quantity)
        case "yes/no":
            return "yes"
        case "choice" | "several":
            return ", ".join(choice.name for choice in definition.choices)
        case _:
            return ""


def suggestions(doubt: str) -> tuple[str, ...]:
    """The answers that a doubt offers instead, in words that are understood."""
    offered = re.search(r"did you mean (.+)\?$", doubt)
    return tuple(offer.split(" (")[0] for offer in offered[1].split(" or ")) if offered else ()


def take_all(definitions: Sequence[FactDef], words: str) -> list[Understood]:
    """Facts that a sentence clearly holds, to be confirmed one by one.

    A number counts when its unit was said and the words around it name one fact only, or when no other of the
    facts has that quantity; a choice counts when its words belong to this fact alone.
    """
    words = units.clean(words)
    found: dict[str, Understood] = {}
    for understood in (*_numbers_in(definitions, words), *_choices_in(definitions, words)):
        found.setdefault(understood.answer.fact, understood)
    return list(found.values())[:MOST_OFFERS]


def agrees(said: str) -> bool | None:
    """Yes, no, or neither was said."""
    try:
        return units.read_yes_no(said)
    except Unclear:
        return None


def also_said(
    vocabulary: Mapping[str, FactDef], heard: Understood | str, settled: Collection[str]
) -> list[Understood]:
    """Facts that a sentence holds, beside the one that it answers where it was understood, without those that are
    ``settled``; what it says of the one asked is not offered for another."""
    said = heard if isinstance(heard, str) else heard.answer.words
    asked = [
        definition
        for definition in vocabulary.values()
        if definition.source == "asked" and definition.name not in settled
    ]
    if len(said.split()) < LEAST_WORDS:
        return []
    value = heard.fact.value if isinstance(heard, Understood) and heard.fact is not None else None
    found = take_all(asked, said)
    return [more for more in found if more.fact is not None and more.fact.value != value]


def _number(definition: FactDef, answer: Answer) -> Understood:
    figured = surroundings.names_a_figure(answer.words)
    if standing := _said_as(definition, answer.words, figured):
        return _noted(definition, answer, units.Heard(standing, definition.unit, answer.words, True))
    try:
        heard = surroundings.read(
            answer.words,
            definition.quantity,
            definition.unit,
            definition.plausible,
            past=PAST.search(definition.ask) is not None,
        )
    except Unclear as unclear:
        if UNSURE_START.match(answer.words):
            about = understand(definition, "about " + UNSURE_START.sub("", answer.words))
            if about.fact is not None:
                return replace(about, answer=answer)
        if NO_FIGURE.search(answer.words):
            raise Unclear(
                "that isn't a figure yet", "ask what the other one has, or say 'not sure'"
            ) from unclear
        if not figured and (NOT_MEASURED.search(answer.words) or _no_to_known(definition, answer.words)):
            return _not_sure(definition, answer)
        raise
    if heard.bound is not None and (definition.limit or UP_TO.search(answer.words)):
        heard = replace(heard, value=Range(heard.bound, heard.bound))
    return _noted(definition, answer, _in_thousands(definition, heard))


def _in_thousands(definition: FactDef, heard: units.Heard) -> units.Heard:
    """Engine speeds as they are called out: "three" is 3,000 rpm, "thirty four" 3,400; an altitude of "seven" is
    asked about."""
    within = definition.plausible
    bare = not re.search(r"[a-z]*(?:feet|foot|ft|m|met(?:er|re)s?)\b|'", heard.words, re.IGNORECASE)
    if definition.quantity == "altitude" and bare and 0 < units.from_si(heard.value.high, "ft", "altitude") < 100:
        figure = units.from_si(heard.value.mid, definition.unit, "altitude")
        unit = definition.unit
        raise Unclear(f"is that {figure:,.3g} {unit} or {1000 * figure:,.0f} {unit}?", "say the whole figure")
    if definition.quantity != "rotation" or within is None or re.search(r"rpm|rev|turns", heard.words, re.IGNORECASE):
        return heard
    for times in (1000.0, 100.0):
        value = Range(heard.value.low * times, heard.value.high * times)
        if heard.value.high < within.low and within.low <= value.low and value.high <= within.high:
            return replace(heard, value=value)
    return heard


def _said_as(definition: FactDef, words: str, figured: bool) -> Range | None:
    """The figure that words stand for in this shop ("mile high"); beside a figure only words that hold one
    themselves do ("half and half")."""
    phrases = [
        (str(index), tuple(phrase for phrase in said.words if not figured or surroundings.names_a_figure(phrase)))
        for index, said in enumerate(definition.said_as)
    ]
    phrases = [(index, kept) for index, kept in phrases if kept]
    try:
        found = choosing.read_choice(words, phrases, by_name=False) if phrases else ""
    except Unclear:
        return None
    return definition.said_as[int(found)].value if found else None


def _no_to_known(definition: FactDef, words: str) -> bool:
    """Whether a plain no answers that he doesn't know the figure ("Do you know its stall speed?")."""
    try:
        return KNOWN_AT_ALL.search(definition.ask) is not None and not units.read_yes_no(words)
    except Unclear:
        return False


def _noted(definition: FactDef, answer: Answer, heard: units.Heard) -> Understood:
    shown = units.show(heard.value, heard.unit, definition.quantity)
    doubt = None
    if definition.plausible is not None:
        doubted = Range(heard.value.mid, heard.value.mid) if heard.approximate else heard.value
        doubt = units.plausibility(doubted, definition.plausible, definition.quantity, heard.unit)
    at_home = units.show(heard.value, definition.unit, definition.quantity)
    if heard.approximate:
        shown = f"about {units.show(heard.value.mid, heard.unit, definition.quantity)}, {shown}"
    echo = f"{definition.name}: {shown}" + ("" if at_home in shown else f" ({at_home})")
    fact = Fact(definition.name, heard.value, Origin("answer", answer.words))
    return Understood(
        answer, fact, echo, doubt=_sentence(doubt or ""), read_back=_read_back(definition, heard)
    )


def _settled(definition: FactDef, answer: Answer, value: Value) -> Understood:
    fact = Fact(definition.name, value, Origin("answer", answer.words))
    return Understood(answer, fact, f"{definition.name}: {value_words(value, definition)}")


def _not_sure(definition: FactDef, answer: Answer) -> Understood:
    if definition.kind == "number" and definition.prior is not None:
        fact = Fact(definition.name, definition.prior, Origin("answer", NOT_SURE))
        echo = f"{definition.name}: not sure, taken as {value_words(definition.prior, definition)}"
        return Understood(answer, fact, echo, not_sure=True)
    return Understood(answer, None, f"{definition.name}: not sure, left open", not_sure=True)


def _again(answer: Answer, what: str, definition: FactDef, hint: str = "") -> Understood:
    if not hint:
        shown = example(definition)
        kind = "one of" if definition.kind in ("choice", "several") else "for example"
        hint = f"{kind}: {shown}" if shown else "say it again in a few words"
    what, hint = _sentence(what.rstrip(" .")), hint.rstrip(" .")
    again = f"{what} {_sentence(hint)}." if what.endswith("?") else f"{what}; {hint}."
    return Understood(answer, None, "", again=again)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _one(definition: FactDef, words: str) -> str:
    """The choice that is named, or that only one name or phrase begins like."""
    try:
        return choosing.read_choice(words, _choices(definition))
    except Unclear:
        begun = {
            choice.name
            for choice in definition.choices
            if any(p.lower().startswith(words.lower()) for p in (choice.name, *choice.words) if not PATTERN.search(p))
        }
        if len(begun) != 1 or len(words) < 3:
            raise
        return begun.pop()


def _choices(definition: FactDef) -> list[tuple[str, tuple[str, ...]]]:
    return [(choice.name, choice.words) for choice in definition.choices]


def _middle(definition: FactDef) -> float | None:
    prior = definition.prior or definition.plausible
    return None if prior is None else prior.mid


def _read_back(definition: FactDef, heard: units.Heard) -> str:
    """How to say the number back digit by digit, where another one sounds like it."""
    if not heard.value.exact:
        return ""
    digits = units.sounds_alike(round(units.from_si(heard.value.low, heard.unit, definition.quantity), 6))
    return f"{digits} {heard.unit}".rstrip() if digits else ""


def _numbers_in(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    numbers = [definition for definition in definitions if definition.kind == "number"]
    for hit in SPAN.finditer(words):
        clause = _clause(words, hit.start(), hit.end())
        nearby = {_stem(word) for word in re.findall(r"[a-z]+", clause.lower())}
        readings = [understand(d, span) for d in numbers if (span := _with_unit(d, words, hit))]
        able = [reading for reading in readings if reading.fact is not None and not reading.doubt]
        named = [len(nearby & {_stem(word) for word in reading.answer.fact.split()}) for reading in able]
        best = list(_as_mentioned(numbers, words, hit, [reading.answer.fact for reading in able]))
        if len(best) != 1:
            best = [reading for reading, count in zip(able, named, strict=True) if count == max(named)]
        if len(best) == 1:
            yield best[0]


def _as_mentioned(
    numbers: Sequence[FactDef], words: str, hit: re.Match[str], among: Sequence[str]
) -> Iterable[Understood]:
    """The facts, ``among`` those where any are named, that the words around a figure stand for: "pull ... #"."""
    for definition in numbers:
        if not definition.mentioned or (among and definition.name not in among):
            continue
        marked = f"{words[: hit.start()]} FIGURE {words[hit.end() :]}"
        phrases = [phrase.replace("#.#", "FIGURE").replace("#", "FIGURE") for phrase in definition.mentioned]
        pointed = any("#.#" in phrase for phrase in definition.mentioned)
        if (pointed and not re.fullmatch(r"\d\.\d", hit.group(0))) or not choosing.holds(marked, phrases):
            continue
        reading = understand(definition, _with_unit(definition, words, hit) or hit.group(0))
        if reading.fact is not None and not reading.doubt:
            yield reading


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
            bare = units.read_number(hit.group(0), definition.quantity, definition.unit)
        except Unclear:
            continue
        if heard.words != bare.words:
            return stretch
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
        (fact.name, tuple((choice.name, tuple(map(str, choice.words))) for choice in fact.choices)) for fact in choosers
    )
    stems = choosing.stems_of(words)
    for definition, (heads, own) in zip(choosers, _telling(said_of), strict=True):
        if heads.isdisjoint(stems):
            continue
        try:
            said = choosing.read_several(words, own, by_name=False)
        except Unclear:
            continue
        if len(said) == 1 or (said and definition.kind == "several"):
            names = sorted(definition.choices[int(index)].name for index in said)
            yield understand(definition, " and ".join(names))


@lru_cache(maxsize=64)
def _telling(
    said_of: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...],
) -> tuple[tuple[frozenset[str], choosing.Choices], ...]:
    """Of each fact the phrases that tell by themselves which fact they are about, by the place of the choice, and
    the stems of their first words.

    These are names of choices that no other fact has, phrases of several words that no other fact has, single words
    that stand in no phrase of another fact, and a choice before the noun of its fact ("loose converter").
    """
    names: dict[str, set[str]] = {}
    phrases: dict[str, set[str]] = {}
    words: dict[str, set[str]] = {}
    for fact, choices in said_of:
        for name, others in choices:
            names.setdefault(name.lower(), set()).add(fact)
            for phrase in (name, *others):
                phrases.setdefault(phrase.lower(), set()).add(fact)
                for word in re.findall(r"[a-z0-9]+", phrase.lower()):
                    words.setdefault(choosing.stem_of(word), set()).add(fact)

    def telling(phrase: str, fact: str, is_name: bool) -> bool:
        lowered = phrase.lower()
        if PATTERN.search(phrase) or len(phrase) < 4:
            return False
        if not lowered.isalnum():
            return phrases[lowered] == {fact}
        return (sharing := words[choosing.stem_of(lowered)]) == {fact} or (is_name and len(sharing) <= MOST_SHARING)

    found = []
    for fact, choices in said_of:
        noun = fact.split()[-1]
        own = []
        for index, (name, others) in enumerate(choices):
            kept = [p for p in (name, *others) if telling(p, fact, p == name and names[p.lower()] == {fact})]
            if noun not in GENERAL:
                kept += [f"{p} {noun}" for p in (name, *others) if not PATTERN.search(p)]
            own.append((str(index), tuple(kept)))
        heads = frozenset(stem for _, kept in own for phrase in kept for stem in choosing.stems_of(phrase)[:1])
        found.append((heads, tuple(own)))
    return tuple(found)
