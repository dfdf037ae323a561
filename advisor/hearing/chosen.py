"""Yes or no, or one of the choices, as the answer to its question: what is taken, and what waits for a yes."""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache

from advisor import units
from advisor.inference.facts import Value
from advisor.knowledge import NOT_SURE, FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Unclear
from advisor.words.kept import Kept
from advisor.words.not_knowing import not_known, without_not_knowing
from advisor.words.speech import NEGATION

from . import asides, choosing, leaning, present, recalled, replaced, several, slips, spoken, storied, vague
from .understood import (
    ALL_OF_IT,
    LEANT,
    LOOKS_LIKE,
    YES_OR_NO,
    mended,
    not_sure,
    perhaps_not_sure,
    settled,
    sounds_like,
    sounds_like_these,
)

NEAREST = "No answer here is that; the nearest is"
ANOTHER_TIME = "Some of that is a plan, or past, or another truck's."
PLAIN_ANSWER = re.compile(
    r"\b(?:yes|yeah|yep|yup|nope|nah|sometimes|no(?! (?:idea|clue|notion|way of|paper))|^never)\b", re.IGNORECASE
)
OPENS = re.compile(
    r"(?:(?:well|oh|uh|um|er|hell|sure|honestly|of course)[, ]+)*(?:yes|yeah|yep|yup|yessir|aye|absolutely|always|sure"
    r"|no|nope|nah|never|not|none|negative)\b",
    re.IGNORECASE,
)
NOBODY = re.compile(r"(?:well, )?(?:nobody|no one)\b(?!.*\b(?:but|till|until|except|beside\w*)\b)", re.IGNORECASE)
# How likely past calls must make a meaning to be offered where nothing is read...
OFFERED = 0.4
# ... and where another is read that is doubtful anyhow, if that one is no likelier than the second
INSTEAD = (0.5, 0.2)
# ... and where another is read without doubt
SURER = (0.9, 0.2)
# ... and what is read, not to be doubted
TRUSTED = 0.5
CONJECTURE = re.compile(r"\b(?:could|might|may)(?:'ve| have) been\b|\b(?:could|might) be\b", re.IGNORECASE)
DENIED = re.compile(rf"{NEGATION}|\b(?:nobody|no one|none)\b", re.IGNORECASE)
NOT_DONE = re.compile(
    r"\b(?:nobody|no one|never|not|havent|hasnt|aint)\b.*\b(?:checked|looked|tested|measured|touched|lifted)\b"
    r"|^(?:untested|nobody|no one)$"
)
TAKEN_BACK = re.compile(
    r"(?:\bbut|,) (?:it'?s not|it is not|it isn'?t|mine isn'?t|mine'?s not|it ain'?t|(?:i |we )?never did"
    r"|not any ?more)\W*$",
    re.IGNORECASE,
)
OF_DEEDS = re.compile(r"\bbeen (?:looked at|checked|tested|changed)\b|\bchanged\b", re.IGNORECASE)  # asks what was done
_OR = re.compile(
    r"(?<=\w) or (?!so\b|something|some\b|whatever|anything|thereabouts|not\b|less|more|better)", re.IGNORECASE
)
HARDLY = 2  # words that tell something and are all of not knowing: "haven't checked"
SHORT = 4  # words that tell something; in more of them a "not" may belong to anything
TAKEN_AS = "That is taken as"
PATTERN = re.compile(r"\.\.\.|[/~]")  # what makes a phrase of the vocabulary more than words


def chosen(definition: FactDef, answer: Answer, said: str) -> Understood:
    """What was chosen, by the phrases of the vocabulary held against past calls; what the words only lean to is taken
    once somebody says yes to it. Raises Unclear for what may be said of any choice."""
    if definition.kind == "several" and (listed := several.names_only(said, definition.choice_names)):
        return settled(definition, answer, listed)
    clear = vague.without_vague(said, definition.vague)
    if not clear.strip(" ,.;!?"):
        raise Unclear("that may be any of them: what does it do, and when", f"one of: {_names(definition)}")
    if clear != said and not (choosing.heard(clear, _choices(definition))[0]):
        raise Unclear("that doesn't say yet what it does, and when", f"one of: {_names(definition)}")
    said = clear
    for later in (*spoken.corrected(said), *filter(None, [replaced.later(said)])):
        if definition.kind == "choice" and choosing.heard(later, _choices(definition))[0]:
            with suppress(Unclear):
                taken = chosen(definition, answer, later)
                if taken.fact is not None:
                    return replace(taken, doubt=taken.doubt or sounds_like(definition, taken.fact.value))
    try:
        heard = held_against_past(definition, answer, said, _chosen, _telling(definition))
    except Unclear:
        if not (by_part := _of_its_parts(definition, answer, said)):
            raise
        return replace(settled(definition, answer, by_part), doubt=sounds_like_these(definition, by_part))
    if heard.doubt and heard.fact is not None and not heard.not_sure:
        named, by_part = _named(heard.fact.value), _of_its_parts(definition, answer, said)
        if not by_part <= named and not named & choosing.NONE:
            whole = named | by_part
            return replace(settled(definition, answer, whole), doubt=sounds_like_these(definition, whole, ALL_OF_IT))
    nearest = [one for one in definition.choices if choosing.holds(said, one.stands_in_for)]
    if len(nearest) != 1 or heard.fact is None or LEANT not in heard.doubt:
        return heard
    if definition.kind == "several" and heard.fact.value != frozenset([nearest[0].name]):
        return heard
    told = f"{nearest[0].name} ({nearest[0].means})" if nearest[0].means else nearest[0].name
    value: Value = heard.fact.value if definition.kind == "several" else nearest[0].name
    return replace(settled(definition, answer, value), doubt=f"{NEAREST} {told}. {LEANT}")


def _of_its_parts(definition: FactDef, answer: Answer, said: str) -> frozenset[str]:
    """Of several choices those that parts of a sentence name plainly, each part by itself; none where it says all but
    some, only these, or takes something back."""
    told = frozenset[str]()
    if definition.kind != "several" or choosing.all_but(said) or choosing.takes_all(said):
        return told
    if several.ONLY.search(said) or TAKEN_BACK.search(said) or any(spoken.corrected(said)):
        return told
    for part in several.PARTS.split(said):
        if present.of_another_time(part) and not definition.plans:
            continue
        with suppress(Unclear):
            taken = held_against_past(definition, answer, part.strip(), _chosen, _telling(definition))
            if taken.fact is not None and not taken.doubt:
                told |= _named(taken.fact.value)
    today, whole = present.told_apart(said, _choices(definition))
    of_then = frozenset[str]() if OF_DEEDS.search(definition.ask) else whole - today
    return told.difference(choosing.heard(said, _choices(definition))[1], choosing.NONE, of_then)


def _names(definition: FactDef) -> str:
    return ", ".join(choice.name for choice in definition.choices)


@lru_cache(maxsize=512)
def _telling(definition: FactDef) -> choosing.KeptChoices:
    """The choices with their phrases and the words that only lean to them."""
    hints = {choice.name: choice.hints for choice in definition.choices}
    return choosing.kept([(name, (*phrases, *hints[name])) for name, phrases in _choices(definition)])


def held_against_past(
    definition: FactDef,
    answer: Answer,
    said: str,
    read: Callable[[FactDef, Answer, str], Understood],
    choices: choosing.Choices,
) -> Understood:
    """What is read, held against past calls: what these make likely is offered where nothing is read, or something
    unlikely that is doubtful anyhow; else the unlikely is doubted. Raises Unclear for what is like no answer at all."""
    heard = _held_against_past(definition, answer, said, read, choices)
    if heard.fact is None:
        return heard
    if isinstance(heard.fact.value, bool):
        plain = PLAIN_ANSWER.search(said) is not None or DENIED.search(said) is not None
    else:
        named = _named(heard.fact.value)
        plain = plainly(definition, said) == named or CONJECTURE.search(said) is not None
        plain = plain or _by_course(said, _choices(definition)) in named
        plain = plain or _the_other(definition, said) in named
    leant = LEANT in heard.doubt or YES_OR_NO in heard.doubt
    if plain or not leant or heard.doubt.startswith((LOOKS_LIKE, ANOTHER_TIME)):
        return heard
    past, named = recalled.Past(definition.heard, definition.heard_of_any, choices), _named(heard.fact.value)
    surely = past.topical(said) and past.meant(said, definition.kind == "several").share_of(named) > TRUSTED
    if surely or past.resembles(said, named):
        return heard
    unknown = not_known(said)
    if unknown.admitted or unknown.perhaps:
        return perhaps_not_sure(definition, answer)
    raise Unclear("that seems to answer something else")


def _held_against_past(
    definition: FactDef,
    answer: Answer,
    said: str,
    read: Callable[[FactDef, Answer, str], Understood],
    choices: choosing.Choices,
) -> Understood:
    said = leaning.without_power(said, choices)
    unread = heard = None
    try:
        heard = read(definition, answer, said)
    except Unclear as unclear:
        unread = unclear
    unknown = not_known(said)
    last = re.split(r"[,;.](?=\s)", said)[-1]
    if heard is not None and last != said and units.is_unsure(last):  # "a box, I couldn't swear to it"
        if heard.fact is None or heard.doubt:
            return perhaps_not_sure(definition, answer)
        return replace(heard, doubt=sounds_like(definition, heard.fact.value))
    if (heard is None or heard.doubt or unknown.follows) and unknown.openly and not _tells(definition, said):
        return perhaps_not_sure(definition, answer)
    if heard is not None and heard.doubt and (meant_words := _without_slips(definition, said, choices)) != said:
        with suppress(Unclear):
            if (taken := read(definition, answer, meant_words)).fact is not None and not taken.doubt:
                return mended(definition, taken, answer)
    past = recalled.Past(definition.heard, definition.heard_of_any, choices)
    left = choosing.left_over(choosing.folded(said), choices)
    if definition.heard and past.knows(said) and (heard is None or leaning.telling(left)):
        meant = past.meant(said, definition.kind == "several")
        if heard is None and meant.share > OFFERED and (meant.meaning == {NOT_SURE} or past.tells(said, meant.meaning)):
            return _offered(definition, answer, meant.meaning)
        held = frozenset([NOT_SURE]) if heard is None or heard.fact is None else _named(heard.fact.value)
        if heard is not None and not _settles_it(definition, heard, said):
            sure = heard.fact is not None and not heard.doubt
            more = definition.kind == "several" and held < meant.meaning
            known = more and not past.tells(left, meant.meaning - held)  # what names the others is all heard
            known = known or (heard.fact is not None and meant.meaning == {NOT_SURE})  # who names one knows something
            if meant.meaning and not known and meant.rather(held, SURER if sure else INSTEAD):
                return _offered(definition, answer, meant.meaning)
            if heard.fact is not None and sure and meant.share_of(held) < TRUSTED:
                return replace(heard, doubt=sounds_like(definition, heard.fact.value))
    if heard is None:
        assert unread is not None
        raise unread
    return heard


def _settles_it(definition: FactDef, heard: Understood, said: str) -> bool:
    """Whether past calls can't tell otherwise: of who opens with not knowing it, with a plain yes or no ("yup, made a
    plug, not a hiss"), says all but one or what a choice stands in for, or tells today apart from other times."""
    unknown = not_known(said)
    if heard.not_sure and unknown.opens:
        return True
    if any(choosing.holds(said, one.stands_in_for) for one in definition.choices):
        return True
    if definition.kind == "yes/no":
        plain = heard.fact is not None and not heard.doubt
        opens = OPENS.match(said) is not None or NOBODY.match(said) is not None
        return (heard.not_sure and unknown.admitted) or (plain and opens)
    if definition.kind == "choice" and heard.not_sure and unknown.admitted and not heard.doubt:
        return len(leaning.telling(said)) <= HARDLY
    told_apart = definition.kind == "several" or present.told_apart(said, _choices(definition))[0]
    return choosing.all_but(said) or (bool(told_apart) and heard.doubt.startswith(ANOTHER_TIME))


def _without_slips(definition: FactDef, said: str, choices: choosing.Choices) -> str:
    """The words with slips mended to those of the choices, but for words that callers use."""
    return slips.mended(said, slips.known_beside(choices), usual=slips.said_often(definition.heard_of_any))


def _refused(definition: FactDef, said: str) -> frozenset[str]:
    """The choices that a short answer only names to say that it isn't them."""
    if len(leaning.telling(said)) > SHORT or not DENIED.search(said):
        return frozenset()
    named, denied = choosing.heard(said, _choices(definition)) if definition.choices else ({}, set())
    if TAKEN_BACK.search(said):
        return frozenset(named)
    return frozenset(denied - set(named))


def _the_other(definition: FactDef, said: str) -> str:
    """The one of two choices that is left where the other is refused: "not stock"; "" elsewhere."""
    left = [choice.name for choice in definition.choices if choice.name not in _refused(definition, said)]
    return left[0] if definition.kind == "choice" and len(definition.choices) == 2 and len(left) == 1 else ""


def _tells(definition: FactDef, said: str) -> bool:
    """Whether a yes or a no, or a choice by the vocabulary's own words, is among what is said."""
    if definition.kind == "yes/no":
        return PLAIN_ANSWER.search(said) is not None
    if not_known(said).follows:
        return False
    phrases, of_not_done = _own_phrases(definition)
    if choosing.holds(said, of_not_done):
        return True  # "no one's ever checked" is an answer where that is one of the choices
    return choosing.holds(without_not_knowing(said), phrases)


@lru_cache(maxsize=512)
def _own_phrases(definition: FactDef) -> tuple[Kept[str], Kept[str]]:
    """Names and phrases of the choices, and those of the phrases that say that nobody looked."""
    phrases = Kept(phrase for one in definition.choices for phrase in (one.name, *one.words))
    of_not_done = Kept(phrase for one in definition.choices for phrase in one.words if NOT_DONE.search(phrase))
    return phrases, of_not_done


def _named(value: Value) -> frozenset[str]:
    """The choices of a value; yes or no by their words."""
    if isinstance(value, frozenset):
        return value
    return frozenset([("no", "yes")[value] if isinstance(value, bool) else str(value)])


def _offered(definition: FactDef, answer: Answer, meaning: frozenset[str]) -> Understood:
    """A likely meaning for a yes."""
    if meaning == {NOT_SURE}:
        return perhaps_not_sure(definition, answer)
    one = next(iter(meaning))
    value: Value = meaning if definition.kind == "several" else one == "yes" if definition.kind == "yes/no" else one
    return replace(settled(definition, answer, value), doubt=sounds_like(definition, value))


def _chosen(definition: FactDef, answer: Answer, said: str) -> Understood:
    unknown = not_known(said)
    if unknown.opens:  # whatever he names in it
        return perhaps_not_sure(definition, answer) if "," in said else not_sure(definition, answer)
    choices = _choices(definition)
    telling = _telling(definition)
    if later := next((later for later in spoken.corrected(said) if choosing.heard(later, choices)[0]), ""):
        taken = chosen(definition, answer, later)
        assert taken.fact is not None
        return replace(taken, doubt=taken.doubt or sounds_like(definition, taken.fact.value))
    try:
        if definition.kind == "several":
            named = choosing.read_several(said, choices)
            value: Value = named
        else:
            value = _one(definition, said)
            named = frozenset([value])
        taken = settled(definition, answer, value)
        if (today := _as_it_stands(definition, answer, said)) is not None:
            return today
        if definition.kind == "several" and (whole := several.with_the_rest(said, choices, telling, named)) is not None:
            return replace(settled(definition, answer, whole), doubt=sounds_like_these(definition, whole, ALL_OF_IT))
        rest = choosing.left_over(choosing.folded(said), choices)
        his = present.without_mates(said)
        own = his if frozenset(choosing.heard(his, choices)[0]) == named else said
        doubtful = leaning.thin(own, telling, named) or not_known(rest).admitted or choosing.of_each(said)
        doubtful = doubtful or (definition.kind == "choice" and _either(said, choices))
        doubtful = doubtful or asides.is_share(said) or CONJECTURE.search(said) is not None
        return replace(taken, doubt=sounds_like_these(definition, named)) if doubtful else taken
    except Unclear as unclear:
        meant = _without_slips(definition, said, telling)
        if meant != said:
            try:
                return mended(definition, chosen(definition, answer, meant), answer)
            except Unclear:
                pass
        leant = leaning.lean(said, telling)
        if unknown.lacks and (none := next((name for name in definition.choice_names if name in choosing.NONE), "")):
            return _offered(definition, answer, frozenset([none]))
        if unknown.lacks:
            return perhaps_not_sure(definition, answer)
        if unknown.admitted:
            return perhaps_not_sure(definition, answer) if leant.choice else not_sure(definition, answer)
        open_ = unknown.perhaps and not choosing.heard(said, choices)[0]
        if open_ and not leaning.lean(said, telling, firmly=several.WHOLE).choice:
            return perhaps_not_sure(definition, answer)
        if any(choice.name == "none" for choice in definition.choices) and _says_yes(said):
            some = [choice.name for choice in definition.choices if choice.name != "none"]
            raise Unclear("then what is it?", f"one of: {', '.join(some)}") from unclear
        if (today := _as_it_stands(definition, answer, said)) is not None:
            return today
        if value := _by_course(said, choices):
            return replace(settled(definition, answer, value), doubt=sounds_like(definition, value))
        opening = _opening(said, choices) if definition.kind == "choice" else ""
        if choice := _the_other(definition, said) or opening or leant.choice:
            named = frozenset([choice])
            taken = settled(definition, answer, named if definition.kind == "several" else choice)
            return replace(taken, doubt=sounds_like_these(definition, named))
        if 1 < len(leant.likely) < len(choices):
            which = f"is it {', '.join(leant.likely[:-1])} or {leant.likely[-1]}?"
            raise Unclear(which, f"one of: {', '.join(name for name, _ in choices)}") from unclear
        raise


def _either(said: str, choices: choosing.KeptChoices) -> bool:
    """Whether one of two things is said, of which only one names a choice: "stock turbo or two and a half inch"."""
    either = _OR.search(said)
    if either is None:
        return False
    halves = (said[: either.start()], said[either.end() :])
    unnamed = [half for half in halves if not choosing.heard(half, choices)[0]]
    return len(unnamed) == 1 and len(leaning.about(unnamed[0])) > 1


def _by_course(said: str, choices: choosing.Choices) -> str:
    """The choice that figures name by how they run, where it is asked whether something holds or falls; else ""."""
    named = {how: choosing.heard(how, choices)[0] for how in ("holds", "falls")}
    course = storied.course(said)
    apart = all(len(one) == 1 for one in named.values()) and named["holds"] != named["falls"]
    return next(iter(named[course])) if course and apart else ""


def said_before(definition: FactDef, said: str, choice: str) -> bool:
    """Whether past callers who spoke alike meant this choice."""
    past = recalled.Past(definition.heard, (), _telling(definition))
    meant = past.meant(said, several=False) if definition.heard and past.knows(said) else None
    return meant is not None and meant.meaning == {choice} and past.resembles(said, meant.meaning)


def plainly(definition: FactDef, said: str) -> frozenset[str]:
    """The choices that phrases of the vocabulary name, without those that the words only lean to."""
    return frozenset(choosing.heard(said, _choices(definition))[0])


def _opening(said: str, choices: choosing.Choices) -> str:
    """The one choice that the first words before a pause name by themselves: "original, two hundred thousand miles"."""
    first, pause, _ = re.split(r"([,;.](?=\s)|$)", said, maxsplit=1)
    named, denied = choosing.heard(first, choices)
    alone = bool(pause) and len(named) == 1 and not denied and not leaning.loose(first, choices)
    return next(iter(named)) if alone else ""


def _as_it_stands(definition: FactDef, answer: Answer, said: str) -> Understood | None:
    """What is said of the truck today where plans, what was, or another truck are spoken of too; taken on a yes."""
    named, whole = present.told_apart(said, _choices(definition))
    if definition.plans or named == whole or (definition.kind == "choice" and len(named or whole) > 1):
        return None
    kept = (named or whole) - choosing.NONE or named or whole
    taken = settled(definition, answer, kept if definition.kind == "several" else next(iter(kept)))
    return replace(taken, doubt=f"{ANOTHER_TIME} {sounds_like_these(definition, kept)}")


def _says_yes(said: str) -> bool:
    """Whether a plain yes is all that was said."""
    try:
        return units.read_yes_no(said)
    except Unclear:
        return False


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
        elsewhere = any(words.lower() in choice.hints for choice in definition.choices if choice.name not in begun)
        if len(begun) != 1 or len(words) < 4 or words.lower() == "man" or elsewhere:
            raise
        return begun.pop()


@lru_cache(maxsize=512)
def _choices(definition: FactDef) -> choosing.KeptChoices:
    """The choices with their phrases, those that deny them marked so."""
    return choosing.kept(
        [
            (choice.name, (*choice.words, *(choosing.DENIES + phrase for phrase in choice.denied_by)))
            for choice in definition.choices
        ]
    )
