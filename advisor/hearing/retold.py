"""What a caller told before and tells otherwise now: "I said black", another choice in place of an answer, or that one
of several isn't so ("no trailer at all")."""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence

from advisor.knowledge import Choice, FactDef
from advisor.knowledge.conditions import All, Condition, Includes, Known
from advisor.outcome import Understood
from advisor.quantities import Range
from advisor.words.speech import NEGATION

from . import choosing, denied, present
from .surroundings import names_a_figure
from .understanding import understand
from .understood import LEANT

_SAID = re.compile(
    r"(?<!\blike )(?<!\bas )\b(?:i|we) (?:(?:already|did) )?(?:said|say|told you|meant)\b,? *(?:it(?:'s| was) )?",
    re.IGNORECASE,
)
_NO = re.compile(r"^(?:no|nope|nah|wait|hang on|hold on|sorry|actually|correction)\b[,.: ]", re.IGNORECASE)

# That he rings to buy: "I want a new turbo", "a bigger one, please", "I'm thinking of a different one".
_RINGS = re.compile(
    r"\b(?:i|we)(?:'m|'d| am| would)?(?: (?:just|only|really|still|also))* (?:want|wanna|need|like|ring|rang|called"
    r"|calling|ringing|after|looking for|thinking (?:of|about))\b|\bplease\b",
    re.IGNORECASE,
)
_ANOTHER = re.compile(
    r"\b(?:new|bigger|larger|different|other|another) (?:turbo|charger|one)\b"
    r"|\b(?:buy|buying|want|need) (?:an?|another) (?:\w+ )?(?:turbo|charger)\b",
    re.IGNORECASE,
)
_PARTS = re.compile(r"[,;:.!?](?!\d)|\b(?:but|and|because|so|just|only|instead)\b", re.IGNORECASE)
_DROPS = re.compile(
    r"\b(?:forget|scrap|scratch|drop|skip|leave out|never mind)(?: about)?(?= (?:the|my|any|all|that)\b)"
    r"|\bno more(?= \w+ing\b)",
    re.IGNORECASE,
)
_COME_TO_THINK = re.compile(r",? (?:(?:come|now that i) (?:to )?think (?:of|about) it|as it happens)", re.IGNORECASE)
_HEAVY = re.compile(r"\b(?:heav\w+|much|often|lots?|far|hard|every\w*|always)\b", re.IGNORECASE)


def given_up(vocabulary: Mapping[str, FactDef], words: str, given: Mapping[str, str]) -> dict[str, frozenset[str]]:
    """Of facts ``given`` that hold several choices, what is left of them without those that a part of the sentence
    denies and says nothing else: "no trailer", "I don't go to any drag strip"."""
    left: dict[str, frozenset[str]] = {}
    plainly = _DROPS.sub("no", _COME_TO_THINK.sub("", present.own_clauses(words)))
    parts = [choosing.folded(part) for part in _PARTS.split(plainly)]
    parts = [part for part in parts if re.search(NEGATION, part) and not _HEAVY.search(part)]
    for name in given if parts else ():
        definition = vocabulary[name]
        fact = understand(definition, given[name]).fact if definition.kind == "several" else None
        if fact is None or not isinstance(fact.value, frozenset):
            continue
        told = [choice for choice in definition.choices if choice.name in fact.value]
        if gone := {choice.name for choice in told if any(denied.denies(part, _phrases(choice)) for part in parts)}:
            left[name] = fact.value - gone
    return left


def _phrases(choice: Choice) -> tuple[str, ...]:
    return (choice.name, *choice.words, *choice.hints)


def falls_away(definition: FactDef, left: Mapping[str, Collection[str]]) -> bool:
    """Whether a question is only asked of who has a choice that isn't ``left``."""

    def asks_for(condition: Condition | None) -> bool:
        if isinstance(condition, All):
            return any(map(asks_for, condition.parts))
        if not isinstance(condition, Includes) or condition.negated or condition.fact not in left:
            return False
        return condition.choice not in left[condition.fact]

    return asks_for(definition.ask_when)


def along(vocabulary: Mapping[str, FactDef], fact: str, words: str, given: Mapping[str, str]) -> Iterator[Understood]:
    """What was ``given`` before and words that answer ``fact`` tell otherwise, of a figure and the choice that is only
    asked once it is known: "480 at the crank" of a goal that was told at the wheels."""
    own = present.own_clauses(words)
    for name in given:
        definition = vocabulary[name]
        hangs = definition.kind == "choice" and hangs_on(definition, fact)
        figure = definition.kind == "number" and hangs_on(vocabulary[fact], name) and names_a_figure(own)
        if hangs or figure:
            more = understand(definition, own)
            if not more.doubt and _differs(definition, more, given):
                yield more


def hangs_on(definition: FactDef, fact: str) -> bool:
    """Whether a question is asked as soon as a fact is known, and for no other reason."""
    wanted = definition.ask_when.parts if isinstance(definition.ask_when, All) else ()
    return [(one.fact, one.negated) for one in wanted if isinstance(one, Known)] == [(fact, False)] and len(wanted) == 1


def otherwise(
    vocabulary: Mapping[str, FactDef], heard: Understood | str, told: Sequence[Understood], given: Mapping[str, str]
) -> Iterator[Understood]:
    """Choices ``given`` before that are told otherwise now, by words that answer nothing else or begin by taking
    something back; after "I said" the last one given that the words plainly name otherwise."""
    words = heard if isinstance(heard, str) else heard.answer.words
    if isinstance(heard, Understood) and heard.fact is not None and isinstance(heard.fact.value, Range):
        yield from along(vocabulary, heard.answer.fact, words, given)
    doubted = isinstance(heard, Understood) and (LEANT in heard.doubt or (heard.not_sure and heard.doubt != ""))
    answers_nothing = doubted or (isinstance(heard, Understood) and heard.again != "")
    if answers_nothing or _NO.match(words):
        choices = (more for more in told if vocabulary[more.answer.fact].kind == "choice")
        yield from (more for more in choices if _differs(vocabulary[more.answer.fact], more, given))
    if (said := _SAID.search(words)) is None:
        return
    known = {more.answer.fact for more in told}
    choosers = [fact for fact in given if vocabulary[fact].kind == "choice" and fact not in known]
    for fact in reversed(choosers):
        more = understand(vocabulary[fact], present.own_clauses(words[said.end() :]) or words)
        if not more.doubt and _differs(vocabulary[fact], more, given):
            yield more
            return


def rings_for(definition: FactDef, before: str, words: str, failed: bool = True) -> Understood | None:
    """What he rings for, where he says of himself that he wants another turbo, or what tells it anywhere (that his has
    ``failed``), and something else was taken at the opening (``definition``): "yes, it's hot, but I want to buy a new
    turbo"."""
    was = understand(definition, before).fact
    anywhere = tuple(phrase for choice in definition.choices for phrase in choice.rings_for)
    for part in _PARTS.split(present.own_clauses(words)) if was is not None else ():
        says = (_RINGS.search(part) and _ANOTHER.search(part)) or (failed and choosing.holds(part, anywhere))
        if not says or re.search(NEGATION, part.lower()):
            continue
        told = understand(definition, part.strip()).fact
        if told is not None and was is not None and told.value != was.value:
            return understand(definition, str(told.value))
    return None


def _differs(definition: FactDef, now: Understood, given: Mapping[str, str]) -> bool:
    """Whether one choice, or figure, is given and another one told."""
    if now.fact is None or now.not_sure or definition.name not in given:
        return False
    was = understand(definition, given[definition.name]).fact
    return was is not None and was.value != now.fact.value
