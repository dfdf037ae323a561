"""Choices picked out of what a caller says, by the phrases of the vocabulary.

A phrase of the vocabulary is met by word, endings aside: "towing" by "I tow". In a phrase, "..." stands for up
to six words between ("foot ... floor"), "/" between words that do equally ("floor/metal"), "##" for the size of a
turbo ("64", "64/71"), and a phrase that begins with "~" counts only while nothing else was named ("~truck").
"""

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from advisor.words.kept import Kept
from advisor.words.speech import NEGATION, Unclear, plain

from .phrases import Laid, fold, laid, spans_in, stems_in

Choices = Sequence[tuple[str, Sequence[str]]]
KeptChoices = Kept[tuple[str, tuple[str, ...]]]

DENIES = "!"  # before a phrase that says that it isn't the choice ("!price ... fine")
_CLAUSE_WORDS = r"\b(?:(?<!anything )but|so much as|just|only|though|however|mostly|mainly)\b"
_TURNS = re.compile(f"{NEGATION}|{_CLAUSE_WORDS}")
NONE = frozenset({"none", "nothing"})  # what a choice of none is called
_NONE = (
    r"(?:no|nope|nah|none|nothing|neither|not any|without"
    r"|(?:it |he |i |we )?(?:doesnt|dont|hasnt|havent)(?: have| got)?)"
    r"(?: (?:of (?:them|those|it)|one|any|at all|i dont|it doesnt|sir|maam|there|fitted))*"
)
_JOINS = frozenset(["and", "plus", "or", "then"])  # "keep the manifold and the tune" names two
# What is said of all that wasn't named: "rods, everything else is stock".
_OF_THE_REST = re.compile(
    r"[,;.]?\s*\b(?:and |but )?(?:(?:every|any)thing else|all else|the rest|otherwise"
    r"|(?<=[,;.] )rest(?= (?:can|is|may|goes)\b)|(?:other|apart|aside) (?:than|from) that)\b[^,;.]*"
    r"|, (?:just |kind of |sort of |almost )?like (?:a|an|the|my|those|them|some)\b[^,;.]*"  # "black, like a train"
)
# The truck itself brought to an event: neither towing nor, beside another duty, what is done there.
_PLACE = r" to (?:the )?(?:track|strip|dragstrip|drags|events?|pulls?|fairs?)\b"
_CARRIED = re.compile(
    rf"\b(?:trailer queen|(?:trailered|trailer it)(?: there\b|(?={_PLACE}))?"
    rf"|(?:towed|hauled|carried|(?:tow|haul|carry) it)(?: there\b|(?={_PLACE})))(?P<to>{_PLACE})?"
)
_STRETCHES = re.compile(rf"[,;:.!?](?!\d)|{_CLAUSE_WORDS}")
_NEGATED, _NEGATED_LAST = re.compile(NEGATION), re.compile(rf"{NEGATION}[^,;.]*$")
_DENIAL = re.compile(r"\b(?:not|isnt|aint|never|no)(?: an?| the)? $")
_LETTERS = re.compile("[a-z]+")
_OF_EACH = re.compile(r"\b(?:bit|little|some) of (?:each|every ?thing|all|it all)\b")
# What names no choice though it holds the words of one, and what is left of it.
_NO_CHOICE = (
    # "bigger than stock" isn't stock
    (re.compile(r"\b(than|over|up from) (?:the )?(?:stock|factory|original|standard)\b"), r"\1"),
    (re.compile(r"\b(?<!other )(?<!rather )than (?:what|whatever|the one|it|she)\b[^,;.!?]*"), "than"),
    (re.compile(r"\bnot (?:just|only|merely) "), "not "),
    (re.compile(r"\b(?:wont|cant|doesnt|never) (?:stop|quit)s? (?=\w+ing?\b)"), ""),  # "it won't quit smoking"
    (re.compile(r"\b(?:wouldnt|dont|wont) (?:mind|object to|say no to|turn down|hurt)\b"), ""),
    (re.compile(r"\b(?:an? )?fair (?:bit|amount|few|while)\b"), ""),  # no county fair
    (re.compile(r"[,?] *(?:no|nope|nah)[.! ]*$"), " no"),  # "studs? no"
    (re.compile(r"^(?:no|nope|nah),? (?=(?:i|we|it|he|she|its|im|thats) )"), ""),  # to the asker, not to a choice
)
_ALL_BUT = re.compile(
    r"\b(?:everything|all(?: of (?:it|them|those)| (?:three|four|the rest))?|the lot|every one)(?: \w+){0,3}"
    r" (?:but|except(?: for)?|excepting|apart from|aside from|other than|bar|save for"
    r"|minus)\b(?!.*\b(?:chang|go\b|swap))"
    r"|(?<!nt )(?<!never )(?<!not )(?<!sees )(?<!does )(?<!do )(?<!see )\banything"
    r" (?:but|except|apart from|other than)\b"
)
# What is left out first: "not the strip, everything else".
_LEFT_OUT = re.compile(
    r"(?P<out>(?:(?:well|oh|um|uh|we|i|it)[, ]+)*(?:no|not|never|no more|doesn'?t|don'?t)\b[^,;.]*?)"
    r"(?:\s*[,;.]\s*(?:but |and |though )*|\s+but )(?:do(?:es)? |got |have |has )?"
    r"(?:everything else|all (?:of )?(?:the (?:rest|others)|else)|all the other\w*|every ?thing other than that)"
    r"(?: (?:though|then|yes|yeah|yep|on the list|you (?:said|named)|is (?:on it|there)))*[.!]?"
)
_ALL_OPENING = re.compile(
    r"(?:i(?:'ve)? |we(?:'ve)? |he |it )?(?:(?:have|has|got|does|is) )*(?:all (?:two|three|four|five"
    r"|six|of (?:them|those|that))"
    r"|the lot|every one of them)\b(?! but| except)"
)
_REFUSED = re.compile(r"\b(?:isnt|arent|aint|dont|doesnt|didnt|wasnt|hasnt|wont|no|not)\s*$")
# Behind a "no" that is said of a thing and not to the question: "no power".
_OF_A_THING = re.compile(r" (?:power|boost|guts|pull|smoke|good|fun|top end|bottom end|grunt|go|low end|pep)\b")
_REST_STAYS = re.compile(
    r"\b(?:(?:the )?(?:rest|others)|everything else|all else) (?:\w+ ){0,2}(?:stays?|same|remains?)\b"
)
# What "as it was built" sounds like, where one of the choices is stock.
_AS_BUILT = (
    "stock", "what/whatever/one/same ... came with/on/in", "what/whatever ... was/is there", "untouched", "unmolested",
    "never/not/hasnt/havent/nobodys/nobody/aint been ... touched/opened/apart/changed/off/out/messed/fooled/cracked",
    "nobody/never/hasnt/havent/didnt/not touched/changed/opened/messed/pulled/replaced/done/cracked/swapped",
    "as/like/how/way it/they/she came/left/was/were", "left ... dealer/dealership/factory/plant/works/line",
    "from new", "built with", "on it/there/her new", "since new", "no change/changes/mods/work",
    "nothing ... done", "nothing fancy/special", "havent done anything", "the/from/at plant", "born with", "showroom",
    "off the lot/line/showroom", "day ... drove/bought/picked/took", "since ... drove/bought/had/owned",
    "came/comes with", "normal/regular/ordinary/plain/basic one/type/kind",
    "nobody/nobodys ... in/into/inside there/it/her",
    "never/not ... been/gone/dug/went/opened/touched in/into/inside there/it/her",
    "no one ... touched/changed/opened/in",
    "as delivered/built", "was delivered with", "they put/built in/into it/there", "rolled out/off", "out the door",
)  # fmt: skip


def folded(words: object) -> str:
    """What is said as it is held against phrases: in small letters, without apostrophes and inner dashes."""
    return fold(plain(words))


@dataclass(frozen=True, slots=True, eq=False)
class _Named:
    """Phrases, each with the choice that it names, laid out."""

    pairs: tuple[tuple[str, str], ...]
    laid: Laid


@dataclass(frozen=True, slots=True, eq=False)
class _Sought:
    """What is looked for: every phrase, those that turn a sentence, longest first, and the others."""

    every: _Named
    turning: _Named
    others: _Named


def kept(choices: Choices) -> KeptChoices:
    """Choices as they are looked up by."""
    return choices if isinstance(choices, Kept) else Kept((name, tuple(aliases)) for name, aliases in choices)


@lru_cache(maxsize=1024)
def _sought(choices: KeptChoices, by_name: bool = True) -> _Sought:
    pairs = [pair for pair in _pairs(choices) if by_name or pair[0] != pair[1]]
    turning = sorted((pair for pair in pairs if _turning(pair[0])), key=lambda pair: -len(pair[0]))
    return _Sought(_named(pairs), _named(turning), _named([pair for pair in pairs if not _turning(pair[0])]))


def _pairs(choices: Choices) -> Iterable[tuple[str, str]]:
    """Every phrase with the choice that it names; a stock choice is also named by what "as built" sounds like."""
    found: dict[tuple[str, str], None] = {}
    for name, aliases in choices:
        named = () if f"~{name}" in aliases else (name,)
        found |= dict.fromkeys(
            (phrase.removeprefix(DENIES), DENIES * phrase.startswith(DENIES) + name) for phrase in (*named, *aliases)
        )
        if "stock" in (name, *aliases):
            found |= dict.fromkeys((phrase, name) for phrase in _AS_BUILT)
    return found


def _named(pairs: Sequence[tuple[str, str]]) -> _Named:
    return _Named(tuple(pairs), laid(tuple(phrase for phrase, _ in pairs)))


@lru_cache(maxsize=8192)
def _turning(phrase: str) -> bool:
    """Whether a phrase holds a negation or a clause word itself ("no gate", "race only")."""
    return _TURNS.search(fold(plain(phrase)).replace("/", " ")) is not None


def _mentions(text: str, sought: _Named) -> dict[str, int]:
    """Which choices a stretch of text names, with the length in words of the longest phrase (0 for one that
    counts only alone); a phrase inside a longer one of another choice, of no fewer words of its own, doesn't count.
    """
    stems = stems_in(text)
    stands = [
        (places[0], places[-1] + 1, frozenset(places), sought.pairs[number][1], sought.pairs[number][0][0] != "~")
        for number, places in sought.laid.standing(stems)
    ]
    best: dict[str, int] = {}
    for start, end, own, name, firm in stands:
        covered = any(
            s <= start and end <= e and (e - s, len(theirs)) > (end - start, len(own)) and len(theirs) >= len(own)
            and (own & theirs or _JOINS.isdisjoint(stems[s:e]))
            for s, e, theirs, other, _ in stands
            if other != name
        )
        if not covered or name.startswith(DENIES):
            best[name] = max(best.get(name, 0), (end - start) * firm)
    return best


def _clauses(text: str) -> list[tuple[bool, str]]:
    """The stretches of a sentence, each with whether it is negated.

    A negation reaches to the next comma, "but" or "just"; it also reaches over "or" ("no towing or sled").
    """
    parts: list[tuple[bool, str]] = []
    for stretch in _STRETCHES.split(text):
        negated = False
        at = 0
        for match in _NEGATED.finditer(stretch):
            parts.append((negated, stretch[at : match.start()]))
            negated, at = True, match.end()
        rest = stretch[at:]
        if not rest.strip() and parts and not parts[-1][0] and _REFUSED.search(stretch):  # "boost works, pyro doesn't"
            parts[-1] = (True, parts[-1][1])
        if negated and (turn := re.search(r"\band\b", rest)):
            # "no towing and daily driving" may mean either; taken apart only so that the reader can refuse it
            parts += [(True, rest[: turn.start()]), (True, rest[turn.end() :])]
        else:
            parts.append((negated, rest))
    return [(negated, part.strip()) for negated, part in parts if part.strip()]


def _offer(choices: Choices) -> str:
    names = [name for name, _ in choices]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _not_understood(text: str, choices: Choices) -> Unclear:
    shown = text if len(text) <= 60 else text[:57] + "..."
    every = ((name, phrase) for name, aliases in choices for phrase in (name, *aliases))
    phrases = {plain(phrase): name for name, phrase in every if not re.search(r"\.\.\.|[/~!]", phrase)}
    said = [] if text in ("yes", "no") else text.split()
    alike = 0.6 if len(text) > len("a van") else 0.75  # what is short looks like much: like "caravan"
    near = difflib.get_close_matches(text[:80], phrases, n=1, cutoff=alike) if said else []
    if not near and len(said) <= 3:  # a whole sentence holds a word near to any phrase
        for word in said:
            if len(word) > 2 and (near := difflib.get_close_matches(word, phrases, n=1, cutoff=0.72)):
                break
    if near:
        return Unclear(f'"{shown}" isn\'t one of them; did you mean {phrases[near[0]]}?', f"one of: {_offer(choices)}")
    return Unclear(f'"{shown}" doesn\'t say which it is', f"one of: {_offer(choices)}")


def _begun_alike(sought: _Named, stems: Sequence[str], places: Sequence[int], name: str) -> dict[str, int]:
    """The other choices that phrases name which begin where this one does and end before an "or" within it: "not
    touching the exhaust or the tune"."""
    joins = [at for at in range(places[0], places[-1]) if stems[at] in _JOINS and at not in places]
    return {
        sought.pairs[number][1]: own[-1] + 1 - own[0]
        for number, own in (sought.laid.standing(stems) if joins else ())
        if own[0] == places[0] and own[-1] < joins[-1] and sought.pairs[number][1] != name
    }


def heard(words: object, choices: Choices, by_name: bool = True) -> tuple[dict[str, int], set[str]]:
    """The choices said, with the length of the phrase, and the choices said with a negation."""
    text = folded(words)
    for no_choice, left in _NO_CHOICE:
        text = no_choice.sub(left, text)
    sought = _sought(kept(choices), by_name)
    rest = _OF_THE_REST.search(text)  # but not of "it never does anything else"
    if rest and "anything" in rest[0] and _NEGATED_LAST.search(text[: rest.start()]):
        rest = None
    if rest and (apart := heard(_OF_THE_REST.sub(" ", text), choices, by_name))[0]:
        return apart
    if _CARRIED.search(text) and not any("trailered" in phrase for phrase, _ in sought.every.pairs):
        apart = heard(_CARRIED.sub(" ", text), choices, by_name)
        return apart if apart[0] else heard(_CARRIED.sub(lambda carried: carried["to"] or " ", text), choices, by_name)
    if any(name == "none" for name, _ in choices) and re.fullmatch(_NONE, text.replace(",", "").rstrip(" .!")):
        return {"none": 1}, set()
    said: dict[str, int] = {}
    denied: set[str] = set()
    able = sought.turning.laid.able(stems_in(text))
    for number, (phrase, name) in enumerate(sought.turning.pairs):
        if number not in able:
            continue
        spans, limit = spans_in(text), len(text)
        for places in reversed(sought.turning.laid.each(stems_in(text), number)):
            start, end = places[0], places[-1] + 1
            at, after = spans[start][0], spans[end - 1][1]
            if after > limit or (phrase.lstrip("~") == "no" and _OF_A_THING.match(text, after)):
                continue
            limit = at
            denial = _DENIAL.search(text[:at])
            if denial:
                denied.add(name)
                at = denial.start()
            else:
                said |= _begun_alike(sought.turning, stems_in(text), places, name)
                said[name] = max(said.get(name, 0), (end - start) * (not phrase.startswith("~")))
            text = f"{text[:at]} , {text[after:]}"
            able = sought.turning.laid.able(stems_in(text))
    for negated, part in _clauses(text):
        found = _mentions(part, sought.others)
        if negated:
            denied |= set(found)
        else:
            for name, size in found.items():
                said[name] = max(said.get(name, 0), size)
    refused = {name.removeprefix(DENIES) for name in said if name.startswith(DENIES)}
    said = {name: size for name, size in said.items() if not name.startswith(DENIES) and name not in refused}
    denied |= refused
    denied = {name for name in denied if not name.startswith(DENIES)}
    if any(said.values()):
        said = {name: size for name, size in said.items() if size}
    if "both" in said and not denied:  # "both, the ripper in spring and a trailer in autumn"
        said = {"both": said["both"]}
    return said, denied


def read_choice(words: object, choices: Choices, by_name: bool = True) -> str:
    """The one choice that the words name, by its name or one of its phrases.

    `choices` are pairs of name and phrases; ``by_name=False``: the names aren't said. Raises Unclear for none,
    for several, and for a choice said with "not", with the nearest name.
    """
    if not plain(words):
        raise Unclear(f"which is it: {_offer(choices)}?", f"one of: {_offer(choices)}")
    said, denied = heard(words, choices, by_name)
    if len(said) == 1 and not set(said) & denied:
        return next(iter(said))
    if len(said) > 1:
        named = " and ".join(name for name, _ in choices if name in said)
        raise Unclear(f"that names {named}; which one is it?", f"one of: {_offer(choices)}")
    left = [name for name, _ in choices if name not in denied]
    if denied and len(left) == 1 and len(choices) > 1:
        raise Unclear(f"not {' or '.join(sorted(denied))}: is it {left[0]} then?", f"say {left[0]}")
    if denied:
        raise Unclear(f"not {' or '.join(sorted(denied))}; which is it then?", f"one of: {', '.join(left)}")
    raise _not_understood(plain(words), choices)


def left_over(text: str, choices: Choices) -> str:
    """A folded text without the words that belong to a phrase of a choice."""
    within = _within(stems_in(text), _sought(kept(choices)).every.laid)
    return " ".join(text[start:end] for at, (start, end) in enumerate(spans_in(text)) if at not in within)


def stems_of(words: object) -> tuple[str, ...]:
    """The words said, without their endings."""
    return stems_in(folded(words))


@lru_cache(maxsize=256)
def words_of(choices: tuple[tuple[str, tuple[str, ...]], ...]) -> frozenset[str]:
    """Every word of the phrases."""
    return frozenset(word for phrase, _ in _pairs(choices) for word in _LETTERS.findall(folded(phrase)))


def holds(words: object, phrases: Iterable[str]) -> bool:
    """Whether one of the phrases stands in the words, said or denied."""
    return any(True for _ in laid(_tuple(phrases)).standing(stems_of(words)))


def places(words: object, phrases: Iterable[str]) -> set[int]:
    """Which of the words said belong to one of the phrases, by their place."""
    return _within(stems_of(words), laid(_tuple(phrases)))


def _within(stems: Sequence[str], phrases: Laid) -> set[int]:
    """Which words belong to one of the phrases, or stand between its words."""
    return {at for _, places in phrases.standing(stems) for at in range(places[0], places[-1] + 1)}


def _tuple(phrases: Iterable[str]) -> tuple[str, ...]:
    return phrases if isinstance(phrases, tuple) else tuple(phrases)


def of_each(words: object) -> bool:
    """Whether some of each is said to be it: "a bit of everything"."""
    return _OF_EACH.search(plain(words)) is not None


def all_but(words: object) -> bool:
    """Whether all of them are said to be it, with exceptions: "everything but the exhaust", "not the exhaust,
    everything else"."""
    return _ALL_BUT.search(plain(words)) is not None or _LEFT_OUT.fullmatch(plain(words)) is not None


def takes_all(words: object) -> bool:
    """Whether a sentence begins with all of them, or says some of each: "I have all three, and ..."."""
    text = plain(words)
    if opening := _ALL_OPENING.match(text):
        return not re.search(NEGATION, fold(re.split(r"[,;]", text[opening.start() :])[0]))
    return of_each(text) and not re.search(NEGATION, fold(text))


def read_several(words: object, choices: Choices, by_name: bool = True) -> frozenset[str]:
    """All choices that the words name ("mostly towing, some strip"); "both" and "all of it" where the choices
    allow it.

    Raises Unclear when nothing is named, and when a choice is both said and denied.
    """
    text = plain(words)
    if not text:
        raise Unclear(f"which of them: {_offer(choices)}?", f"one or more of: {_offer(choices)}")
    words = re.sub(r"\bnot (?:just|only|merely)\b|[,;.]? (?:and |but )?(?:otherwise|rest of the time)(?= )", ",", text)
    every = frozenset(name for name, _ in choices) - NONE
    head = plain(str(words).partition(":")[0])  # "everything but sled: commute, haul"
    if (but := _ALL_BUT.search(head)) and (left_out := heard(head[but.end() :], choices, by_name)[0]):
        return every - frozenset(left_out)
    if (out := _LEFT_OUT.fullmatch(text)) and (not_these := heard(out["out"], choices, by_name)[1]):
        return every - not_these
    said, denied = heard(words, choices, by_name)
    if takes_all(text):  # "some of each, it's my work truck, I tow a trailer" names which
        return frozenset(said) if of_each(text) and len(said) > 1 and not denied else every
    clash = set(said) & denied
    if clash:
        raise Unclear(f"is {' and '.join(sorted(clash))} in or out?", f"one or more of: {_offer(choices)}")
    if re.search(r"\b(?:no|not)\b.*\band\b", text) and denied:
        tail = re.search(r"\b(?:no|not|without)\b[^,;.]*\band\b(?P<rest>[^,;.]*)", text)
        positive = tail and not re.search(NEGATION, fold(tail["rest"]))
        doubtful = _mentions(fold(tail["rest"]), _sought(kept(choices)).every) if tail and positive else {}
        if doubtful:
            raise Unclear(f"is {' and '.join(sorted(doubtful))} in or out?", f"one or more of: {_offer(choices)}")
    if len(said) > 1:  # "nothing, only the manifold" names the manifold
        said = {name: size for name, size in said.items() if name not in NONE}
    if said:
        return frozenset(said)
    names = [name for name, _ in choices if name != "none"]
    if not denied and not re.search(NEGATION, fold(text)):
        if len(names) > 2 and re.search(r"\b(?:(?:bit|little|some) of both|a mix|mixed)\b", text):
            raise Unclear(f"both of which: {_offer(choices)}?", f"for example {names[0]} and {names[-1]}")
        everything = re.search(
            r"\b(?:all of (?:it|them|the above)|everything|the lot|every one|all (?:two|three|four|five|six))\b",
            text,
        )
        if everything or (len(names) == 2 and re.search(r"\bboth\b", text)):
            return frozenset(names) - {"nothing"}
        if re.search(r"\bboth\b", text):
            raise Unclear(f"both of which: {_offer(choices)}?", f"for example {names[0]} and {names[-1]}")
    if denied:
        left = [name for name in names if name not in denied]
        if _REST_STAYS.search(text):
            return frozenset(left) - {"nothing"}
        raise Unclear(f"not {' or '.join(sorted(denied))}; which then?", f"one or more of: {', '.join(left)}")
    raise _not_understood(text, choices)
