"""What a caller puts right in his own words: several answers in one sentence, at the read-back, at the close or beside
another answer ("nearly; it tows 80 percent of the time, and 650 will do").

A sentence is taken apart, and each piece is read as what it names: a fact by its whole name before all else, then a
power that he wishes for, what the vocabulary marks, one word of a name ("the pump"), the figure that it takes the place
of ("not 68"), the unit alone. Nothing is taken: all of it is offered.
"""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from advisor.inference.facts import Value
from advisor.knowledge import FactDef
from advisor.outcome import CLOSING, Understood
from advisor.quantities import QUANTITIES, Range
from advisor.words.endings import stem_of
from advisor.words.numerals import NUMBER_WORDS
from advisor.words.speech import plain

from . import beside, choosing, present, retold
from .mentions import as_corrected
from .surroundings import names_a_figure
from .taken import suggestions
from .understanding import understand
from .unit_named import in_the_unit_named

_AND = rf"(?<!hundred )(?<!thousand )\band\b(?! (?:a half|a quarter|three quarters|{'|'.join(NUMBER_WORDS)})\b)"
_BREAKS = re.compile(
    rf"[;:!?]|[.,](?!\d)|{_AND}|\band\b(?= (?:the|it|i|my)\b)|(?<=,) and\b|\b(?:but|also|plus|because)\b"
    r"|\s(?=(?:it|she|he|that)'?s (?:an?|the|not|no)\b)|\s(?=i (?:said|told you|meant?)\b)",
    re.IGNORECASE,
)
_OPENS = re.compile(
    r"^(?:(?:no|nope|nah|nearly|almost|not quite|yes|yeah|well|wait|sorry|hang on|hold on|actually|correction|oh|okay"
    r"|ok|all but (?:one|that|the last|two|a few)|all (?:right|of it)|right|except(?: for)?|then|so|just|only|one thing"
    r"|another thing|and|like i said|as i said|(?:i|we) (?:(?:already|did|do) )*(?:said|told you|meant?|say)|that)"
    r"(?:$|[ ,.;:]+))+",
    re.IGNORECASE,
)
_TAKES_BACK = re.compile(
    r"^(?:(?:well|oh|and|but|so|no)[, ]+)*(?:sorry|actually|correction|wait|hang on|hold on|scratch that)\b"
    r"|\b(?:i|we) (?:(?:already|did) )?(?:said|told you|meant)\b",
    re.IGNORECASE,
)
_INSTEAD = re.compile(r"(?:^|[ ,])(?:not|instead of|rather than|never) (?!sure\b|quite\b|yet\b)(?P<was>.+)$", re.I)
_NOT_WANTED = re.compile(
    r"^(?:i |we |he )?(?:really )?(?:don'?t|do not|doesn'?t|no longer) (?:really )?(?:need|want|have to have)"
    r" (?P<was>.+)$",
    re.IGNORECASE,
)
_IS_NOT = re.compile(r"^(?:(?:it|she|he|that|there)(?:'?s| is) )?(?:no|not|isn'?t)\b", re.IGNORECASE)
_POWER = re.compile(
    r"\b(?:hp|horse\w*|kw|kilowatts?|power|goal|(?:at|to) the (?:wheels?|tyres?|tires?|crank|flywheel))\b",
    re.IGNORECASE,
)
# Around what is put right, or said of nothing: "the rest is right", "thanks".
_SAYS_NOTHING = re.compile(
    r"(?:(?:the|all|rest|others?|other|everything|else|is|are|was|it|its|it's|that|thats|that's|what|i|you|we|have|has|got"
    r"|right|wrong|fine|good|correct|ok|okay|otherwise|thanks?|thank|mate|please|quite|not|a|few|bit|some|of|one|thing"
    r"|things|two|so|far|there|here|yes|no|then|to|be|change|correct|put)\b\W*)*",
    re.IGNORECASE,
)
_ONLY = re.compile(r"\b(?:only|just|nothing but)\b", re.IGNORECASE)
_IT = re.compile(r"(?:it|that|this|there)(?:'?s| is| was)?", re.IGNORECASE)
_WRONG = re.compile(
    r"(?:(?:you|they|i)(?:'ve|'re| have)? (?:got |have |had )*)?(?P<named>(?:the|my|his|our) [a-z' ]+?)"
    r"(?: (?:is|are|was|were))? (?:all )?(?:wrong|not right|isn't right|aren't right|off)",
    re.IGNORECASE,
)
_WISH = re.compile(
    r"\b(?:will do|would do|'ll do|is enough|be enough|is plenty|be plenty|make (?:it|that|this)|call it|how about"
    r"|what about|goal|instead of|i(?:'d| would)? (?:only |just |rather |really )*(?:want|like|need|take|have)"
    r"|(?:be )?(?:happy|fine|ok|okay) with|settle for|aim (?:for|at)|rather|sooner"
    r"|(?:could|can) (?:you|we) (?:do|go)|go (?:for|with)|let'?s (?:say|do|go))\b",
    re.IGNORECASE,
)
_PRICE = re.compile(r"\b(?:price|money|dollars?|bucks|grand|pay\w*|cost\w*|off the)\b|\$", re.IGNORECASE)
_BEFORE_WISHED = re.compile(
    r"^.*?\b(?:make (?:it|that|this)|how about|what about|call it|rather|sooner"
    r"|(?:could|can) (?:you|we) (?:do|go)|go (?:for|with)|let'?s (?:say|do|go)|(?:happy|fine|ok|okay) with)"
    r"(?: (?:have|for|with))?\b",
    re.IGNORECASE,
)
_NOW = re.compile(r"[ ,]+(?:now|then|please|instead|really|actually|from now on|rather)$", re.IGNORECASE)
_IS = re.compile(
    r"^(?:[\s:=,-]|(?:is|are|was|were|it'?s|that'?s|'s|should be|ought to be|to be|needs to be|make (?:it|that))\b)+",
    re.IGNORECASE,
)
_OF_HIS = re.compile(r"\b(?:the|my|his|her|its|our)\s+(?P<word>[a-z]+)(?:'s)?\b", re.IGNORECASE)
_MOST_CHOICES = 2
_ONLY_A_NAME = re.compile(r"(?:the|my|his|our) [a-z]+(?: [a-z]+)?", re.IGNORECASE)
_OPENING = re.compile(r"^all but (?:one|that|two|a few)\b[,.: ]*", re.IGNORECASE)
# A power by itself: "five hundred at the wheels".
_OF_POWER = re.compile(
    rf"(?:about |around |more like |only )?(?:[\d,.]+|(?:{'|'.join(NUMBER_WORDS)}|hundred|and|[- ])+)"
    r"(?: ?(?:hp|horse\w*|kw|ps))?(?: (?:at|to) the (?:wheels?|tyres?|tires?|crank|flywheel))?",
    re.IGNORECASE,
)
LATELY = 2  # answers back that "no, wait" may be about
_LEAST = 3  # letters of a word by which a fact is named
# Words of names that stand in any sentence.
_GENERAL = frozenset(
    ["truck", "engine", "turbo", "rpm", "answer", "when", "by", "at", "low", "high", "kind", "now", "top"]
)


Where = Literal["read back", "close", "beside"]
"""Where it is said: at the read-back all of it may put something right; at the close also what he wishes for; beside
an answer only what takes something back or names a fact that is given otherwise."""


@dataclass(slots=True)
class Righted:
    """What a sentence puts right, in its order, and which of it is ``named`` or wished for in so many words; the facts
    that it only ``denies``; ``left`` are the pieces of which
    nothing was made, ``rest`` the sentence without what is put right."""

    facts: list[Understood] = field(default_factory=list)
    named: set[str] = field(default_factory=set)
    denies: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    rest: str = ""


@dataclass(frozen=True, slots=True)
class _Piece:
    words: str
    text: str  # as it was said
    was: str = ""  # what it takes the place of
    back: bool = False  # it begins by taking something back


def righted(
    vocabulary: Mapping[str, FactDef],
    said: str,
    given: Mapping[str, str],
    shown: Collection[str] = (),
    where: Where = "read back",
) -> Righted:
    """What the words put right of the answers ``given`` and of what else was ``shown`` to him."""
    found, rest = Righted(), list[str]()
    said = as_corrected(said)
    asked = [one for one in vocabulary.values() if one.source == "asked" and not one.volunteered]
    own = {one.name: one for one in asked if one.name not in CLOSING}
    known = {name: own[name] for name in (*given, *shown) if name in own}
    told_of = set[str]()
    if (named := _in_another_unit(own, given, said)) is not None:
        return Righted([named], {named.answer.fact})
    pieces = list(_pieces(present.own_clauses(said)))
    for piece in pieces:
        if _SAYS_NOTHING.fullmatch(piece.words):
            rest.append(piece.text)
            continue
        told = list(_told(vocabulary, own, known, piece, given, where))
        told_of |= {one.answer.fact for one in told}
        if told and (_by_name(own, piece.words, where == "beside") or _wished(own, piece)):
            found.named.add(told[0].answer.fact)
        if where == "beside":
            told = [one for one in told if one.answer.fact in given]
        fresh = [one for one in told if _otherwise(own[one.answer.fact], one, given)]
        for one in fresh:
            if one.answer.fact not in {other.answer.fact for other in found.facts}:
                found.facts.append(one)
        if not fresh:
            rest.append(piece.text)
        if not told:
            found.left.append(piece.words)
    denied = [piece.was for piece in pieces if _IS_NOT.match(piece.was)] if where == "read back" else []
    found.denies = [name for name in known if name not in told_of and _denied(known[name], given.get(name, ""), denied)]
    found.rest = ", ".join(rest)
    return found


def _in_another_unit(own: Mapping[str, FactDef], given: Mapping[str, str], said: str) -> Understood | None:
    """The latest figure given that is told otherwise by the unit that is all that is ``said``: "no, fahrenheit!"."""
    for name in reversed(tuple(given)):
        if name in own and (meant := in_the_unit_named(own[name], given[name], said)):
            told = understand(own[name], meant)
            return told if _otherwise(own[name], told, given) else None
    return None


def _pieces(said: str) -> Iterator[_Piece]:
    """The sentence piece by piece, each with what it takes the place of and without what only opens it."""
    found, was, back, named = list[_Piece](), "", False, ""
    for part in filter(None, (part.strip() for part in _BREAKS.split(_OPENING.sub("", said)) if part)):
        back = back or _TAKES_BACK.search(part) is not None
        words = _OPENS.sub("", part).strip()
        if unwanted := _NOT_WANTED.match(words):
            was = unwanted["was"]
            continue
        if wrong := _WRONG.fullmatch(words):  # "you've got the trailer wrong, it's 14,000"
            named, back = wrong["named"], True
            continue
        if instead := _INSTEAD.search(words):
            before, told = words[: instead.start()].strip(), instead["was"]
            if not before and found and (names_a_figure(told) or len(told.split()) == 1):  # "sixty, not miles"
                found[-1] = replace(found[-1], was=told, back=True)
                continue
            words, was, back = before, told if before else words, True
            if _IT.fullmatch(words):  # "it's not 750, it's 650"
                continue
        if not words:
            continue
        if _IS_NOT.match(words) and not names_a_figure(words):
            was, back = words, True
            continue
        words = f"{named} {words}".strip()
        named = words if _ONLY_A_NAME.fullmatch(words) else ""
        if not named:
            found.append(_Piece(words, part, was, back))
            was, back = "", False
    if named or was:
        found.append(_Piece(named, named, was, back))
    yield from found


def _told(
    vocabulary: Mapping[str, FactDef],
    own: Mapping[str, FactDef],
    known: Mapping[str, FactDef],
    piece: _Piece,
    given: Mapping[str, str],
    where: Where,
) -> list[Understood]:
    """The facts that a piece tells, by the surest way in which it tells any."""
    if named := _by_name(own, piece.words, where == "beside"):
        return [*named, *retold.along(vocabulary, named[0].answer.fact, piece.words, given)]
    marked = list[Understood]()
    just_now = piece.back and "power goal" in tuple(given)[-LATELY:]
    spoken_of = just_now or (_POWER.search(piece.words) and "power goal" in given)
    wished = _wished(own, piece, just_now) if where != "beside" or spoken_of else []
    if wished or where != "beside":
        marked = beside.also_said(vocabulary, piece.words, CLOSING, given, least=1)
        taken = {vocabulary[one.answer.fact].quantity or one.answer.fact for one in wished}
        marked = [one for one in marked if vocabulary[one.answer.fact].topic != "call"]
        marked = [one for one in marked if (vocabulary[one.answer.fact].quantity or one.answer.fact) not in taken]
        if wished or any(_otherwise(vocabulary[one.answer.fact], one, given) for one in marked):
            return [*wished, *marked]
    if marked or (where != "read back" and not piece.back):
        return _in_place_of(known, piece, given) or marked
    ways = (_by_a_word(known, piece.words), _in_place_of(known, piece, given), _by_unit(known, piece.words))
    return next(filter(None, ways), _by_choice(known, piece.words) if where == "read back" else [])


def _by_name(own: Mapping[str, FactDef], words: str, plainly: bool) -> list[Understood]:
    """The fact that is named in full, with what is said of it: "my power goal is 650 now"; ``plainly`` only where it
    says so of it."""
    said = plain(words)
    tells = r"(?= (?:is|are|was|should be|ought to be)\b)" if plainly else r"\b"
    for name in sorted(own, key=len, reverse=True):
        if hit := re.search(rf"(?:\b(?:the|my|his|our) )?\b{re.escape(name)}s?{tells}", said):
            return _clear(own[name], said, hit)
    return []


def _by_a_word(own: Mapping[str, FactDef], words: str) -> list[Understood]:
    """The fact of which one word is said ("the pump", "it tows 80 percent"), where only one can be so."""
    said = plain(words)
    for hit in _OF_HIS.finditer(said):
        stem = stem_of(hit["word"])
        able = [one for one in own.values() if stem in stems(one.name) and len(stem) >= _LEAST]
        if len(told := [one for definition in able for one in _clear(definition, said, hit)]) == 1:
            return told
    words_ = {stem_of(word) for word in re.findall(r"[a-z]+", said)}
    able = [one for one in own.values() if one.kind == "number" and words_ & stems(one.name)]
    return _one(one for definition in able for one in _measured(definition, said))


def _clear(definition: FactDef, said: str, hit: re.Match[str]) -> list[Understood]:
    """What is said of a fact around its name, where that is plain; by what stands behind it before all."""
    for words in (said[hit.end() :], f"{said[: hit.start()]} {said[hit.end() :]}"):
        told = understand(definition, _NOW.sub("", _IS.sub("", words.strip())))
        if told.fact is not None and not told.doubt and not told.not_sure:
            return [told]
    return []


def _wished(own: Mapping[str, FactDef], piece: _Piece, just_now: bool = False) -> list[Understood]:
    """The power that he wishes for ("650 at the tires will do"), or puts right where he told it ``just_now``."""
    wishes = _WISH.search(piece.words) or piece.was or (just_now and _OF_POWER.fullmatch(piece.words))
    if not names_a_figure(piece.words) or not wishes or _PRICE.search(piece.words):
        return []
    words = _NOW.sub("", _BEFORE_WISHED.sub("", piece.words))
    told = understand(own["power goal"], words.strip()) if "power goal" in own else None
    return [told] if told is not None and told.fact is not None and not told.doubt else []


def _in_place_of(own: Mapping[str, FactDef], piece: _Piece, given: Mapping[str, str]) -> list[Understood]:
    """The figure given that this one takes the place of: "fifty over, not 68"."""
    if not piece.was:
        return []
    found = []
    for name, definition in own.items():
        if name not in given or definition.kind != "number":
            continue
        was, now = (understand(definition, words).fact for words in (piece.was, piece.words))
        before = understand(definition, given[name]).fact
        if now is None or was is None or before is None:
            continue
        if was.value == before.value or _in_short(was.value, before.value):
            found.append(understand(definition, piece.words))
    return found if len(found) == 1 else []


def _in_short(said: Value, meant: Value) -> bool:
    """Whether a figure is another one in thousands: "not 16" of 16,000 lb."""
    if not isinstance(said, Range) or not isinstance(meant, Range):
        return False
    return abs(1000.0 * said.mid - meant.mid) <= 1e-6 * abs(meant.mid)


def _by_unit(own: Mapping[str, FactDef], words: str) -> list[Understood]:
    """The one fact shown that is measured so."""
    return _one(one for definition in own.values() for one in _measured(definition, words))


_OF_ANY = frozenset(["both", "none", "no", "nothing", "all", "yes", "either", "neither", "one", "two"])
"""Words that are a choice of many facts, and tell of none which."""


def _by_choice(own: Mapping[str, FactDef], words: str) -> list[Understood]:
    """The facts shown of which a choice is named by most of the words, and half of them: "the dealer's chip"."""
    telling = [word for word in re.findall(r"[\w']+", plain(words)) if not _SAYS_NOTHING.fullmatch(word)]
    found: dict[str, tuple[int, Understood]] = {}
    for name, definition in own.items():
        if definition.kind != "choice" or definition.topic == "call":
            continue
        told = understand(definition, words)
        if told.fact is None or told.doubt or told.not_sure:
            continue
        chosen = next(choice for choice in definition.choices if choice.name == told.fact.value)
        sure = [phrase for phrase in (chosen.name, *chosen.words) if phrase[0] != "~" and phrase not in _OF_ANY]
        count = len(choosing.places(words, sure))
        if 2 * count >= len(telling):
            found[name] = (count, told)
    most = max((count for count, _ in found.values()), default=0)
    best = [told for count, told in found.values() if count == most and most]
    return best if len(best) <= _MOST_CHOICES else []


def _measured(definition: FactDef, words: str) -> list[Understood]:
    """What a piece tells of a figure with the unit that it is measured in: the same whatever unit is taken for it."""
    told = understand(definition, words) if definition.kind == "number" else None
    degrees = definition.quantity == "temperature" and re.search(r"\bdegrees?\b", words, re.IGNORECASE) is not None
    if told is not None and degrees and len(meant := suggestions(told.doubt)) == 1:
        told = understand(definition, meant[0])
    if told is None or told.fact is None or told.doubt or told.not_sure:
        return []
    symbols = [symbol for symbol in QUANTITIES[definition.quantity].units if symbol not in ("", definition.unit)]
    if degrees:
        named = True
    elif symbols:
        other = understand(replace(definition, unit=symbols[0], plausible=None), words).fact
        named = other is not None and other.value == told.fact.value
    else:
        aliases = map(re.escape, QUANTITIES[definition.quantity].aliases)
        named = re.search(rf"(?<![a-z])(?:{'|'.join(aliases)})(?![a-z])", plain(words)) is not None
    return [told] if named else []


def _one(found: Iterable[Understood]) -> list[Understood]:
    """The only one, or none."""
    told = list(found)
    return told if len(told) == 1 else []


def stems(name: str) -> set[str]:
    """The words of a fact's name that tell it from others, without their endings."""
    return {stem_of(word) for word in name.split() if word not in _GENERAL}


def _denied(definition: FactDef, given: str, denied: Sequence[str]) -> bool:
    """Whether the choice that is given is denied, and nothing said in its place: "it's no pickup"."""
    told = understand(definition, given).fact if given and definition.kind == "choice" and denied else None
    chosen = [choice for choice in definition.choices if told is not None and choice.name == told.value]
    return any(choosing.holds(words, (one.name, *one.words)) for one in chosen for words in denied)


def _otherwise(definition: FactDef, told: Understood, given: Mapping[str, str]) -> bool:
    """Whether it isn't given so already."""
    name = told.answer.fact
    was = understand(definition, given[name]).fact if name in given else None
    if was is None or told.fact is None:
        return True
    if isinstance(was.value, Range) and isinstance(told.fact.value, Range):
        return abs(was.value.mid - told.fact.value.mid) > 1e-6 * abs(was.value.mid)
    if isinstance(was.value, frozenset) and isinstance(told.fact.value, frozenset):
        return not told.fact.value <= was.value or _ONLY.search(told.answer.words) is not None
    return was.value != told.fact.value
