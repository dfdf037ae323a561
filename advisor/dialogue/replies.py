"""What is said to a doubt or an offer: yes, no, and what was said beside it."""

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from advisor import units
from advisor.dialogue.commands import resolve
from advisor.hearing import agrees, asked_back, example, present, suggestions, understand
from advisor.hearing.together import apart
from advisor.hearing.understood import ALL_OF_IT
from advisor.hearing.unit_named import in_the_unit_named
from advisor.knowledge import FactDef
from advisor.outcome import Consultation, Understood
from advisor.quantities import unit_of
from advisor.words.not_knowing import not_known
from advisor.words.plain_yes_no import SAYS_YES

_DENIES = re.compile(
    r"^(?:(?:well|uh|um|oh|er|actually|wait|sorry|hang on|hold on)[, ]+)*"
    r"(?:(?:no|nope|nah|negative|wrong)\b[\s,.;:!-]*)+"
    r"(?:(?:(?:that|it)(?:'s| is) (?:not (?:it|that|right|so)|wrong)|not (?:that|it|quite))\b[\s,.;:!-]*)?",
    re.IGNORECASE,
)
_AGREES = re.compile(
    rf"^(?:(?:well|uh|um|oh|er)[, ]+)*(?:(?:yes|yeah|yep|yup|yea|aye|sure|right|correct|exactly|ok|okay)\b"
    rf"|{SAYS_YES}(?=\W*$| *[,.;:!]))[\s,.;:!-]*"
    r"(?:(?:sir|ma'am|yes|yeah|sure|right|correct|exactly|and|so|also|but|plus"
    r"|(?:that|it)(?:'s| is) (?:it|right|correct|so)|that(?:'ll| will) do|it is|it does|i do|we do)\b[\s,.;:!-]*)*",
    re.IGNORECASE,
)
_ONLY_NO = re.compile(
    r"(?:(?:sir|ma'am|thanks?|thank you|you|not|really|at all|it|that|this|i|isn't|doesn't|don't|didn't|wasn't"
    r"|is|does|do|think|so|say|said|never|wrong|way|mean|sorry|man|problem|worries|doubt|idea|clue|none|nothing|of)\b[\s,.;!']*)*",
    re.IGNORECASE,
)
_JOINED = re.compile(r"(?:and|also|plus|then there's)\b", re.IGNORECASE)
_MEANT = re.compile(
    r"^(?:(?:i|we) (?:mean|meant)|i(?:'m| was) (?:talking|telling you) about|that(?:'s| was| is)) (?:the |my )?",
    re.IGNORECASE,
)
_PLACED = re.compile(
    r"(?:(?:that|it)(?:'s| is| would be) )?(?:the )?(?:(?P<first>first|former)|second|last|latter)(?: (?:one|figure))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Reply:
    """Yes, no or neither, and what was said beside a no."""

    yes: bool | None
    beside: str = ""


def answer_to(said: str, definition: FactDef) -> Reply:
    """What the words say to "is that it?" about a fact; its choices are no yes or no, even one that is called none."""
    if said.lower() in {choice.name for choice in definition.choices} or units.is_unsure(said):
        return Reply(None)
    denial = _DENIES.match(said)
    beside = said[denial.end() :] if denial else ""
    if beside and not _ONLY_NO.fullmatch(beside):
        return Reply(False, beside)
    return Reply(agrees(said))


def after_yes(said: str) -> str:
    """What is said behind a yes ("yeah, about 14 thousand pounds"); "" for nothing."""
    agreed = _AGREES.match(said)
    return said[agreed.end() :].strip() if agreed else ""


def on_condition(heard: Understood, consultation: Consultation) -> Understood:
    """The answer to the recommendation; where he accepts while a caution says stop, he is asked whether he does
    so with that settled first."""
    words = {line.rule: line.text for line in consultation.say}
    stops = [words.get(one.rule, one.text) for one in consultation.cautions if one.severity == "stop"]
    if not stops or heard.fact is None or heard.doubt or heard.fact.value != "accepted":
        return heard
    return replace(heard, doubt=f"{' '.join(stops)} With that settled first, and nothing else ordered before?")


@dataclass(frozen=True, slots=True)
class Settled:
    """What a reply does with what was doubted: it is kept (``keep``), other ``words`` are taken for ``fact``, it
    is still in doubt with more to ``ask`` (``doubt`` where it is now doubted otherwise), or it is denied, and asked
    ``again``."""

    keep: bool = False
    words: str = ""
    fact: str = ""
    ask: str = ""
    doubt: str = ""
    again: str = ""


def settle(doubted: Understood, said: str, definition: FactDef, askable: Sequence[str]) -> Settled:
    """What the words do with what was doubted. A plain no never lets a figure stand; to what can be yes or no, yes and
    no are the answer itself."""
    if not said:
        return Settled(ask=doubted.doubt)
    if back := asked_back.reply(definition, said):
        return Settled(ask=f"{back} {doubted.doubt}")
    fact, told = definition.name, answer_to(said, definition)
    if definition.kind == "yes/no" and told.yes is not None and doubted.fact is not None:
        return Settled(keep=told.yes == doubted.fact.value, words=said, fact=fact)
    if other := _meant(told.beside, definition, askable):
        return Settled(words=doubted.answer.words, fact=other)
    if told.yes is None and (more := _added(doubted, said, definition)):
        return Settled(words=more, fact=fact)
    offered = suggestions(doubted.doubt)
    if told.yes is None and len(offered) > 1 and (picked := _picked(definition, offered, said)):
        return Settled(words=picked, fact=fact)
    if meant := in_the_unit_named(definition, doubted.answer.words, said):
        if picked := _picked(definition, offered, meant.partition(" ")[2]):
            return Settled(words=picked, fact=fact)
        read = understand(definition, meant).fact
        same = read is not None and doubted.fact is not None and read.value == doubted.fact.value
        return Settled(keep=True) if same else Settled(words=meant, fact=fact)
    if told.beside or told.yes is None:
        return (None if told.beside else _unsettled(doubted, said, definition)) or Settled(
            words=told.beside or said, fact=fact
        )
    if told.yes and len(offered) > 1:
        named = understand(definition, after_yes(said)).fact if after_yes(said) else None
        if named is not None and str(named.value) in offered:  # "yeah, the guy in the next county runs it"
            return Settled(words=str(named.value), fact=fact)
        return Settled(ask=f"Which: {' or '.join(offered)}? Say the one that is right.")
    if told.yes:
        return Settled(words=offered[0], fact=fact) if offered else Settled(keep=True)
    shown, stands = example(definition), "; the same again lets it stand" if definition.kind == "number" else ""
    return Settled(again=f"Say it again, for example {shown}{stands}." if shown else "Say it again.")


def _added(doubted: Understood, said: str, definition: FactDef) -> str:
    """All choices, where words say more to the question whether that is all of it, or join more to it ("and it'll be
    loud"); "" where they don't."""
    if not (doubted.doubt.endswith(ALL_OF_IT) or _JOINED.match(said)) or doubted.fact is None:
        return ""
    heard = understand(definition, said)
    values = [one.value for one in (doubted.fact, heard.fact) if one is not None and isinstance(one.value, frozenset)]
    more = len(values) == 2 and not heard.doubt and not values[1] <= values[0] and "none" not in values[1]
    return " and ".join(sorted(values[0] | values[1])) if more else ""


def picked_first(doubted: Understood, said: str, definition: FactDef) -> tuple[str, str]:
    """The answer offered that the first words name by its unit or its place, and what is said behind them: "horses, at
    the crank". "" where they name none."""
    first, _, behind = said.partition(",")
    offered = suggestions(doubted.doubt)
    return (_picked(definition, offered, first) if len(offered) > 1 and behind.strip() else "", behind.strip())


def put_right(definition: FactDef, said: str) -> Understood:
    """What is said beside a no to an offer: all of it, or the piece that answers, as "2.98, and it was always slow"."""
    right = understand(definition, said)
    clear = right.fact is not None and not right.doubt
    return right if clear else next(iter(apart([definition], said).heard), right)


def _unsettled(doubted: Understood, said: str, definition: FactDef) -> Settled | None:
    """The doubt put again after words that are no answer to it, or tell of another's truck; with both choices where
    they only lean to another one. None where they answer, or are to be doubted themselves."""
    heard = None if definition.kind == "text" else understand(definition, said)
    if heard is None or (not heard.doubt and not heard.again):
        return None
    if heard.again:
        return Settled(ask=f"{heard.again} {doubted.doubt}")
    if present.of_others(said) or (heard.fact is None and not not_known(said).perhaps):
        return Settled(ask=doubted.doubt)
    if definition.kind != "choice" or heard.fact is None or doubted.fact is None:
        return None
    if heard.fact.value == doubted.fact.value:
        return Settled(ask=doubted.doubt)
    either = f"Did you mean {doubted.fact.value} or {heard.fact.value}?"
    return Settled(ask=either, doubt=either)


def _picked(definition: FactDef, offered: Sequence[str], said: str) -> str:
    """The one of the answers offered that is named by its place or by its unit alone ("the last one", "pounds")."""
    if len(offered) == 2 and (placed := _PLACED.fullmatch(said.strip(" .!"))):
        return offered[0] if placed["first"] else offered[1]
    word, named = said.strip(" .!").removeprefix("in "), list[str]()
    for spoken in dict.fromkeys((word, f"{word}/hour", word.split(" ")[0])):  # "kilometres" of a speed, "percent over"
        with suppress(ValueError):
            unit = unit_of(spoken, definition.quantity)
            told = [re.sub(r"^(?:about |to |[\d.,]+ ?)+", "", one) for one in offered]
            named += [one for one, its in zip(offered, told, strict=True) if unit_of(its, definition.quantity) == unit]
    return named[0] if len(named) == 1 else ""


def _meant(beside: str, definition: FactDef, askable: Sequence[str]) -> str:
    """The other fact that is named as the one that was meant ("no, I mean the altitude"), or ""."""
    named = _MEANT.match(beside)
    found = resolve(beside[named.end() :].strip(" .!"), askable) if named else []
    return found[0] if len(found) == 1 and found[0] != definition.name else ""
