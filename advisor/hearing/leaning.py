"""Which choice a sentence leans to, where no phrase of the vocabulary settles it.

Every word of the vocabulary tells something: a word that only one choice uses tells most, one that several share
little, and a word of a long phrase less than one that stands alone. A choice is leant to when its words weigh clearly
more than those of any other; it is then offered for a yes, never taken on its own. Else the likeliest are named.
"""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache

from advisor.words.endings import stem_of
from advisor.words.kept import Kept

from .choosing import DENIES, Choices, KeptChoices, heard, holds, kept, places, stems_of
from .phrases import pattern

LEAST = 0.15  # weight below which nothing was told
CLEAR = 1.1  # how many times the next choice's weight
MANY = 4  # words that no phrase knows, and...
MANY_TIMES = 3  # ... how many for each that one does, which leave a choice doubtful
RIVAL = 0.2  # share of its weight that another choice may have without making it doubtful sooner
LIKELY = 3  # choices named when it isn't clear
_NAMED = 0.7  # weight of a choice that a phrase names, for each word of it
_FEW = 60  # words that do at one place of a phrase; more are sizes of turbos
_WEAKLY = 0.3  # words' worth of a phrase that counts only alone

# Words that any answer may hold.
_SAID_ANYWHERE = """
    i me my mine we us our you your he his him she her it its they them their the a an and or of to in on at for with by
    from that this those these is are was were be been being am do does did have has had got get gets as so if then
    than just only really very pretty kind sort some any all there here what which when who how about up out off
    over down will would can could should may might im ive id thats theres want wants like one ones thing things go
    goes going went let lets well not never no nothing yes yeah
"""
_COMMON = frozenset(map(stem_of, _SAID_ANYWHERE.split()))
# What the truck does tells of another question only where a phrase is that alone.
_OF_JOBS = "tow towing trailer haul truck daily street strip drag race track sled pull pulling drive"
_JOBS = frozenset(map(stem_of, _OF_JOBS.split()))
_BESIDE_ANOTHER = _COMMON | _JOBS
# ... and what stands beside a choice and names none.
_SAID_BESIDE = """
    else pretty much mostly mainly mostly think guess whatever whichever happen just leave leaving keep keeping touch
    paid pay bought new brand fine happy change changing cut lots lot mind anywhere say says said told tell used coming
    off around about now yet today still again always once twice time times day days year years all every each
    summer winter week weekend long please thanks sir negative good bless anybody monkeying mess messing two three
    four one both few
    couple trailer truck load disturb only alone together first second last old same back way digital built made put
    another no going on started
"""
_OF_POWER = re.compile(
    r"\b(?:at|to|from|on|off) (?:the |my )?(?:rear )?(?:wheels|tires|tyres|rollers|crank|flywheel)\b"
    r"|\b\d[\d,]* ?(?:whp|b?hp|horse(?:power)?|ponies)\b",
    re.IGNORECASE,
)
_ABOUT_POWER = re.compile(r"power\b|\bhp\b|\d horse|\bwheels\b|crank|dyno|rollers", re.IGNORECASE)
SAID_BY = re.compile(r"(?:so )?(?:says|said|tells me) (?:\w+ ?){1,3}", re.IGNORECASE)
_BESIDE = frozenset(map(stem_of, _SAID_BESIDE.split()))


@dataclass(frozen=True, slots=True)
class Lean:
    """The choice leant to ("" where that isn't clear), and the likeliest ones in order."""

    choice: str
    likely: tuple[str, ...]


def lean(words: object, choices: Choices, by_name: bool = True, firmly: float = 1.0) -> Lean:
    """Which of the choices (pairs of name and phrases) the words lean to; ``by_name=False``: the names aren't said;
    ``firmly``: how many times what else would do."""
    weights = _weights(words, choices, by_name)
    said, denied = heard(words, choices, by_name)
    for name, length in said.items():
        weights[name] += _NAMED * max(_WEAKLY, length)
    for name in denied - set(said):
        weights[name] *= holds(words, filter(_denies, dict(choices)[name]))
    order = sorted((name for name in weights if weights[name] > 0), key=lambda name: -weights[name])
    if not order:
        return Lean("", ())
    first, rest = weights[order[0]], max((weights[name] for name in order[1:]), default=0.0)
    clear = first >= firmly * LEAST and first >= firmly * CLEAR * rest
    return Lean(order[0] if clear else "", tuple(name for name in order[:LIKELY] if 2 * weights[name] >= first))


def thin(words: object, choices: Choices, named: Collection[str]) -> bool:
    """Whether the phrases that name choices are little of what was said: most words mean something else, or tell more
    of another choice. A first clause that is the choice's own name in several words settles it, whatever story
    follows."""
    stems = stems_of(words)
    known = places(words, _every(kept(choices)))
    first, _, _ = re.split(r"([,;:.!](?=\s)|$)", str(words), maxsplit=1)
    own_words = places(words, named)
    beside = [stem not in _COMMON for at, stem in enumerate(stems_of(first)) if at not in own_words]
    if len(stems_of(first)) - len(beside) > 1 and not any(beside):
        return False
    telling = [(at in known) for at, stem in enumerate(stems) if stem not in _COMMON and stem.isalnum()]
    unknown = len(telling) - sum(telling)
    weights = _weights(words, choices, True)
    own = max((weights[name] for name in named), default=0.0)
    rival = max((weight for name, weight in weights.items() if name not in named), default=0.0)
    if rival > own:
        return True
    least = MANY if rival <= RIVAL * own else MANY - 1
    return unknown >= max(least, MANY_TIMES * sum(telling))


def loose(words: object, choices: Choices) -> bool:
    """Whether a word that tells something belongs to no phrase of a choice."""
    known = places(words, _every(kept(choices), "~!"))
    return any(stem not in _COMMON and stem.isalnum() and at not in known for at, stem in enumerate(stems_of(words)))


def untold(part: object, choices: Choices) -> bool:
    """Whether a part of a sentence tells something in words that no choice has, and not what is said beside any."""
    if SAID_BY.fullmatch(str(part).strip()):
        return False
    told = [stem for stem in stems_of(part) if stem not in _COMMON and stem not in _BESIDE and stem.isalnum()]
    return bool(told) and not holds(part, _every(kept(choices), "~!"))


@lru_cache(maxsize=1024)
def _every(choices: KeptChoices, without: str = "") -> Kept[str]:
    """Names and phrases of all choices, ``without`` some of their marks."""
    said = (phrase for name, phrases in choices for phrase in (name, *phrases))
    return Kept(phrase.lstrip(without) if without else phrase for phrase in said)


def telling(words: object) -> list[str]:
    """The words of a sentence that not any answer may hold, without their endings."""
    return [stem for stem in stems_of(words) if stem not in _COMMON and stem.isalnum()]


def about(words: object) -> list[str]:
    """The same without what is said beside any choice and names none."""
    return [stem for stem in telling(words) if stem not in _BESIDE]


def without_power(words: object, choices: Choices) -> str:
    """The words without how much power is spoken of, and where: "550 at the wheels" tells of no fifth wheel, and "600
    horse" of no horses. As they are where the choices are about power."""
    said = str(words)
    rest = _OF_POWER.sub(" ", said)
    if rest == said or any(_ABOUT_POWER.search(phrase) for phrase in _every(kept(choices))):
        return said
    return rest


def _weights(words: object, choices: Choices, by_name: bool) -> dict[str, float]:
    """What the words of a sentence tell of each choice."""
    told_by = told_of(choices, by_name)
    weights = {name: 0.0 for name, _ in choices}
    for stem in set(stems_of(words)):
        shares = told_by.get(stem, {})
        total = sum(shares.values())
        for name, share in shares.items():
            weights[name] += share * share / total
    return weights


def told_of(choices: Choices, by_name: bool = True) -> Mapping[str, Mapping[str, float]]:
    """What each word of the phrases tells: the choices that use it, each with the largest share that it has of one of
    their phrases."""
    return _telling(kept(choices), by_name)


def _denies(phrase: str) -> bool:
    """Whether a phrase itself begins with a denial: then denying names the choice ("don't touch the manifold")."""
    parts = pattern(phrase)
    return len(parts) > 1 and parts[0] is not None and stem_of("dont") in parts[0]


@lru_cache(maxsize=512)
def _telling(choices: KeptChoices, by_name: bool) -> Mapping[str, Mapping[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for name, phrases in choices:
        own = (phrase for phrase in phrases if not phrase.startswith(DENIES))
        for phrase in (name, *own) if by_name else own:
            parts = [stems for stems in pattern(phrase) if stems and len(stems) < _FEW]
            for stems in parts:
                for stem in stems - (_COMMON if len(parts) == 1 else _BESIDE_ANOTHER):
                    shares = found.setdefault(stem, {})
                    shares[name] = max(shares.get(name, 0.0), 1 / len(parts))
    return found

