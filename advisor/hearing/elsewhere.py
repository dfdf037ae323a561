"""What is said to a doubt or an offer and answers another question: "towing mostly", "it's a 5.9", "brakes yes"."""

import re
from collections.abc import Collection, Mapping

from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.words.endings import stem_of
from advisor.words.speech import plain

from . import leaning
from .beside import also_said, by_unit_alone
from .request import decode
from .understanding import agrees, understand

_BEFORE_YES_OR_NO = re.compile(
    r"^(?:the |my |(?:it|he|she)'?s? (?:has |got )?)*(?P<named>[a-z' ]+?)[,:]? +(?:is |are )?"
    r"(?:(?P<yes>yes|yeah|yep|yup)|no|nope|nah)\W*$|^no (?P<lacks>[a-z' ]+?)\W*$"
)
_BREAKS = re.compile(r"\s*[,;](?!\d)\s*(?:and |but )?|\s+(?:and|but)\s+", re.IGNORECASE)
_LEADS = re.compile(r"^(?:(?:oh|so|and|well|okay|ok|about|now|yes)[, ]+)*(?:(?:the|my|his)\s+)?", re.IGNORECASE)
_IS = re.compile(r"^[\s:=,-]*(?:(?:is|are|was|it's|it is)\b\s*)?", re.IGNORECASE)


def of_another(
    vocabulary: Mapping[str, FactDef],
    own: FactDef,
    said: str,
    settled: Collection[str],
    given: Mapping[str, str],
) -> list[Understood] | None:
    """What the words plainly say of other facts than the one that is asked about, without those that are ``settled``;
    None where they are an answer to it, or say nothing of any. ``given`` as in ``also_said``."""
    whole = _by_name(vocabulary, own, said) is not None
    parts = [said] if whole else [part for part in _BREAKS.split(said) if part.strip()]
    named = [(part, one) for part in parts if (one := _by_name(vocabulary, own, part)) is not None]
    if named:
        found = [one for _, one in named if one.answer.fact not in settled]
        rest = ", ".join(part for part in parts if part not in dict(named))
        known = {own.name, *settled, *(one.answer.fact for one in found)}
        return [*found, *(also_said(vocabulary, rest, known, given, least=1) if rest else ())]
    if agrees(said) is not None:
        return None
    if own.kind == "text":
        beside_it = [] if answers_text(own, said) else also_said(vocabulary, said, {own.name, *settled}, given, least=1)
        return beside_it or None
    heard = understand(own, said)
    if (heard.fact is not None or heard.not_sure) and not heard.doubt:
        return None
    told = also_said(vocabulary, heard, settled, given, least=1)
    return told or (by_unit_alone(vocabulary, heard, settled) if heard.again else []) or None


def answers_text(own: FactDef, said: str) -> bool:
    """Whether words can be what is asked for in a caller's own words: of the part asked for some of it has to be
    named."""
    return own.name != "request" or bool(decode(said).fixes) or understand(own, said).not_sure


def by_name(vocabulary: Mapping[str, FactDef], said: str, names: Collection[str]) -> Understood | None:
    """What is said of the fact of these ``names`` that opens the words: "altitude 6,200 ft", "the tune is hot"."""
    text = _LEADS.sub("", said)
    opening = [name for name in names if re.match(rf"{re.escape(name)}\b", text, re.IGNORECASE)]
    if not opening:
        return None
    name = max(opening, key=len)
    told = understand(vocabulary[name], _IS.sub("", text[len(name) :]))
    clear = told.fact is not None and not told.doubt and not told.not_sure
    return told if clear else None


def typed_by_name(
    vocabulary: Mapping[str, FactDef], said: str, owed: Collection[str], others: Collection[str]
) -> Understood | None:
    """The same of a fact that is ``owed``; of ``others`` where nothing else can be meant: the name is of several words,
    or = or : stands behind it."""
    marked = [name for name in others if " " in name or re.match(rf"{re.escape(name)}\s*[:=]", said, re.IGNORECASE)]
    return by_name(vocabulary, said, {*owed, *marked})


def _by_name(vocabulary: Mapping[str, FactDef], own: FactDef, said: str) -> Understood | None:
    """The yes or no to the one question that is named before it, by all its name or the last word of it that its own
    words ask for."""
    found = _BEFORE_YES_OR_NO.match(plain(said))
    words = re.findall(r"[a-z']+", (found["named"] or found["lacks"]) if found else "")
    words = [word for word in words if leaning.telling(word)]
    asked = [one for one in vocabulary.values() if one.source == "asked" and one.kind == "yes/no"]
    named = {one.name: sum(word in one.name.split() for word in words) for one in asked if words and _names(one, words)}
    best = [name for name, count in named.items() if count == max(named.values())]
    if found is None or len(best) != 1 or best[0] == own.name:
        return None
    return understand(vocabulary[best[0]], "yes" if found["yes"] else "no")


def _names(definition: FactDef, words: Collection[str]) -> bool:
    """Whether the words are of a fact's name, and its last one among them, which its question asks for."""
    own, stems = [stem_of(word) for word in definition.name.split()], {stem_of(word) for word in words}
    return own[-1] in stems <= set(own) and definition.name.split()[-1] in definition.ask.lower()
