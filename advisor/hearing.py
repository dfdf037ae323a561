"""From a caller's words to a fact: what was understood, what to ask again, what to doubt, what to read
back."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from advisor import units
from advisor.inference import explain
from advisor.inference.facts import Fact, Origin, Value
from advisor.knowledge import FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Range, Unclear

NOT_SURE = "not sure"
MOST_OFFERS = 4
AS_BUILT = re.compile(
    r"(they'?re |all |it'?s |the )?(stock|standard|factory|original)( ones| size| injectors)?\.?", re.IGNORECASE
)
NO_FIGURE = re.compile(r"\b(same|like) (as |that of )?(my|his|her|their|the|a) ", re.IGNORECASE)
UNSURE_START = re.compile(
    r"^(?:i'?m |well )?(?:not (?:too |really |quite )?sure|no idea|(?:i )?don'?t know)[\s,;.:-]+(?:but )?",
    re.IGNORECASE,
)
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
                return _settled(definition, answer, units.read_yes_no(words))
            case "choice":
                return _settled(definition, answer, _one(definition, words))
            case "several":
                return _settled(definition, answer, units.read_several(words, _choices(definition)))
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


def _number(definition: FactDef, answer: Answer) -> Understood:
    if definition.quantity == "percent" and "stock" in definition.ask.lower() and AS_BUILT.fullmatch(answer.words):
        return replace(_number(definition, Answer(answer.fact, "0 %")), answer=answer)
    try:
        heard = units.read_number(answer.words, definition.quantity, definition.unit, definition.plausible)
    except Unclear as unclear:
        if UNSURE_START.match(answer.words):
            about = understand(definition, "about " + UNSURE_START.sub("", answer.words))
            if about.fact is not None:
                return replace(about, answer=answer)
        if NO_FIGURE.search(answer.words):
            raise Unclear(
                "that isn't a figure yet", "ask what the other one has, or say 'not sure'"
            ) from unclear
        raise
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
        return units.read_choice(words, _choices(definition))
    except Unclear:
        begun = {
            choice.name
            for choice in definition.choices
            if any(phrase.lower().startswith(words.lower()) for phrase in (choice.name, *choice.words))
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
        best = [reading for reading, count in zip(able, named, strict=True) if count == max(named)]
        if len(best) == 1:
            yield best[0]


def _with_unit(definition: FactDef, words: str, hit: re.Match[str]) -> str:
    """The stretch of words from a number to its unit, where one was said; else ""."""
    after = re.match(r"((?:[ -]?[^\s,;.\d]+){0,3})", words[hit.end() :])
    tail = re.findall(r"[ -]?[^\s,;.\d-]+", after.group(0)) if after else []
    for count in range(len(tail), 0, -1):
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
    lowered = words.lower()
    owners: dict[str, set[str]] = {}
    for definition in definitions:
        for choice in definition.choices:
            for phrase in (choice.name, *choice.words):
                owners.setdefault(phrase.lower(), set()).add(definition.name)
    for definition in definitions:
        if definition.kind not in ("choice", "several"):
            continue
        own = [
            (
                choice.name,
                tuple(p for p in (choice.name, *choice.words) if len(p) >= 4 and len(owners[p.lower()]) == 1),
            )
            for choice in definition.choices
        ]
        own = [(name, phrases) for name, phrases in own if any(p.lower() in lowered for p in phrases)]
        try:
            said = units.read_several(words, own) if own else frozenset()
        except Unclear:
            continue
        if len(said) == 1 or (said and definition.kind == "several"):
            yield understand(definition, " and ".join(sorted(said)))
