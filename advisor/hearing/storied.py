"""A figure that stands somewhere in a story, for a question whether that is it.

The strict grammar of `units` reads the longest stretches around each figure that are an amount of what is asked. A
stretch counts where the words around it leave it a figure of this fact: no unit of something else, nothing counted,
no "not", a value that can be. Where one is left, or one opens the sentence and a story follows, that is offered;
nothing here is ever taken as said.
"""

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise

from advisor import units
from advisor.knowledge import FactDef
from advisor.quantities import QUANTITIES, Range
from advisor.units import Heard, Unclear
from advisor.words.numerals import TENS_SAID

from . import asides, choosing, more_or_less, present, reckoned, spoken, surroundings

BEFORE, AFTER = 3, 5  # words beside a figure that can belong to it
MOST_WORDS = 10  # of one stretch
OPENS = 4  # words before a figure that begins a sentence
_SMALL = "one|two|three|four|five|six|seven|eight|nine"
_TENS = rf"(?:{TENS_SAID}(?:[ -](?:{_SMALL}))?|\w+teen|ten|eleven|twelve)"
_WORD = re.compile(r"(?:\.(?=\d))?[^\s,;:.!?()\"]+(?:[.,:'/]\d[^\s,;:!?()\"]*)*|[,;\"]")
_PUT_ASIDE = re.compile(
    r"\b(?:not|isn't|ain't|wasn't|used to (?:be|have|make|run|weigh)|instead of|rather than"
    r"|number|model|age|aged|highway|route|since|in ')\s+(?:an? |the |at |about )?$",
    re.IGNORECASE,
)
_TURNED = re.compile(r"\b(?:turned|turning)\s+(?:an? |the |at |about )?$", re.IGNORECASE)  # years, but an engine revs
_NOT_PAST = re.compile(
    r"\b(?:never|not|no|don't|doesn't|won't|can't|cannot|hardly|rarely)(?: (?!and\b|but\b)\w+){0,4}"
    r" (?:past|over|above|beyond|more than|higher than) ",
    re.IGNORECASE,
)
_RESERVED = re.compile(rf"{spoken.HEDGED.pattern}|\b(?:nearly|near|almost)\b", re.IGNORECASE)
_IS = re.compile(rf"\b(?P<said>\d+|{_TENS}|{_SMALL}|hundred|thousand)'s\b", re.IGNORECASE)
_PAUSE = re.compile(r"[,;.:!?](?!\d)|\b(?:but|and)\b")
_NO_FIGURE = re.compile(r"(?:the |that |this |my |a |an |any |no |stock )*(?:ones?|point|oh|half|hundreds|thousands)")
_NEIGHBOURS = re.compile(r"\s*,\s+(?:or |to |maybe |perhaps |possibly |say )*|\s+(?:maybe|perhaps|or) ", re.IGNORECASE)
_SCALE = re.compile(r" (hundred|thousand|grand)\b", re.IGNORECASE)
_AND_FIVE = re.compile(rf"(?P<whole>{_TENS})[ -](?P<part>{_SMALL})", re.IGNORECASE)
_SHORT_END = re.compile(
    rf"(?:(?:between|from) )?(?P<low>{_SMALL})(?:,? (?:to|or|and|maybe)|,) (?P<high>.+)", re.IGNORECASE
)
_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}(?!\d))")  # "1,6 bar"
_BEFORE_NOW = re.compile(r"\bused to\b|\b(?:was|were|had|made)\b.*\b(?:before|until|till|back then)\b", re.IGNORECASE)
_PARTS = re.compile(rf"{asides.FIGURE.pattern}|\b(?:third|fifth|tenth)s?\b", re.IGNORECASE)
_DAYS_OF_SEVEN = re.compile(
    r"\b(?P<days>[1-7]|one|two|three|four|five|six|seven) (?:days?|nights?) (?:out of |of |in |per |a |every |each )+"
    r"(?:the |a |every |each )?week\b",
    re.IGNORECASE,
)
_SOME_DAYS = re.compile(r",? (?:on )?some (?:days|nights|weeks|months|years)\b", re.IGNORECASE)
_CLAUSES = re.compile(r"[,;](?!\d)|\b(?:but|when|while|with|at(?= the| \d))\b", re.IGNORECASE)
_BUT_SO_MUCH = re.compile(rf"\bbut\b.*?(?:{asides.FIGURE.pattern})", re.IGNORECASE)
# What he makes of it himself, at the end: "it's nine empty, and I put three in it, so twelve".
_CONCLUDED = re.compile(
    r"(?:[,;.]|--?|\w) so (?:(?:that's|that is|it's|it is|that makes|makes|that'd be|i'd say|i'll say|call it"
    r"|let's say|let's call it|say|we're at|we'll say|make it|figure) )*"
    r"(?P<made>(?:(?:about|around|roughly|maybe|an even|a good) )?"
    rf"(?:{asides.FIGURE.pattern})(?: [a-z]+)?(?: [a-z]+)?)[.!]?$",
    re.IGNORECASE,
)
# The one of several that will do: "I leave the line at three so 2500 is plenty early".
_SUITS = re.compile(
    rf"(?<!to )(?<!or )(?<!and )(?<!-)(?P<suits>(?:{asides.FIGURE.pattern})(?: [a-z]+)?)"
    r"(?:'s|'d be| is| would be| will be) (?:just |about |really )?"
    r"(?:plenty|enough|fine|good|okay|ok|right|all i (?:need|want|ask)|what i (?:want|need|'m after|am after))\b",
    re.IGNORECASE,
)
_IN_THOUSANDS = re.compile(r"\b(?:thousand|grand)\b|\dk\b|\d,\d{3}\b|\b\d{4,5}\b", re.IGNORECASE)
_FEW = re.compile(rf"(?:(?:about|around|roughly|maybe) )?(?:{_TENS}|{_SMALL}|\d{{1,2}}(?:\.\d)?)", re.IGNORECASE)
_DISTANCES = ("kilometre", "kilometer", "km", "klick", "mile")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a sentence that reads as an amount, with its place in the sentence in characters."""

    heard: Heard
    start: int
    end: int
    named: bool  # whether its unit was said


def concluded(words: str) -> str:
    """The figure that he makes of others himself, as the last thing he says, or the one that he says will do; "" where
    he makes none."""
    found = _CONCLUDED.search(words)
    if not found or not asides.FIGURE.search(words[: found.start()]):
        chosen = _SUITS.search(words) if len(asides.FIGURE.findall(words)) > 1 else None
        return chosen["suits"] if chosen else ""
    thousands = _IN_THOUSANDS.search(words[: found.start()]) and _FEW.fullmatch(found["made"])
    return f"{found['made']} thousand" if thousands else found["made"]


def figure_told(definition: FactDef, words: str) -> Heard | None:
    """The one figure among ``words`` that can be meant, in SI; None where there is none, or more than one."""
    for later in spoken.corrected(words):
        if (told := figure_told(definition, later)) is not None:
            return replace(told, words=words)
    if definition.quantity == "percent":
        words = _DAYS_OF_SEVEN.sub(_days_in_percent, surroundings.in_percent(words))
    if definition.quantity == "volume":
        words = surroundings.without_layout(words)
    if definition.quantity != "time":
        words = _SOME_DAYS.sub("", words)
    words = more_or_less.spanned(words)
    plainly = _NOT_PAST.sub("at most ", _IS.sub(lambda found: f"{found['said']} is", _COMMA.sub(".", words)))
    found = [one for one in _stretches(definition, plainly) if not _of_something_else(definition, plainly, one)]
    found = [one for one in found if _can_be(definition, one.heard.value)] or (found if len(found) == 1 else [])
    if any(one.named for one in found):
        found = [one for one in found if one.named]
    found = [one for one in found if _its_own_unit(definition, plainly[one.start : one.end], one)] or found
    if not found:
        return None
    first = found[0]
    if len({(round(one.heard.value.low, 6), round(one.heard.value.high, 6)) for one in found}) > 1:
        before, after = plainly[: first.start], _PAUSE.search(plainly, first.end)
        if definition.limit:
            first = max(found, key=lambda one: one.heard.value.high)
        elif len(before.split()) > OPENS or _PAUSE.search(before) or after is None:
            return None
    heard = first.heard
    if heard.bound is not None and definition.limit:
        heard = replace(heard, value=Range(heard.bound, heard.bound), approximate=False)
    if heard.value.exact and _RESERVED.search(plainly[max(0, first.start - 24) : first.end + 16]):
        middle = units.from_si(heard.value.mid, heard.unit, definition.quantity)
        ends = [(1 + by) * middle for by in (-units.SPREAD, units.SPREAD)]
        spread = Range(*(units.to_si(end, heard.unit, definition.quantity) for end in ends))
        heard = replace(heard, value=spread, approximate=True)
    return replace(heard, words=words)


def course(words: str) -> str:
    """How figures run that follow each other in a sentence, in a word: "at 40 and then it's at 35" falls; "" where that
    can't be told."""
    told = []
    for figure in asides.FIGURE.finditer(words):
        if not asides.all_aside(figure.group() + _PAUSE.split(words[figure.end() :])[0], "pressure"):
            with suppress(Unclear):
                told.append(units.read_number(figure.group(), "pressure", "psi").value.mid)
    if len(told) < 2:
        return ""
    if all(one == other for one, other in pairwise(told)):
        return "holds"
    return "falls" if all(one > other for one, other in pairwise(told)) else ""


def passed_over(definition: FactDef, words: str, value: Range, unit: str) -> bool:
    """Whether another figure among the words could be the answer as well, and nothing tells that it isn't."""
    said, quantity = spoken.settle(present.own_clauses(words) or words), definition.quantity
    if reckoned.plainly(said, quantity):
        return _BUT_SO_MUCH.search(said) is not None
    if definition.plausible is None or any(spoken.corrected(said)):
        return False
    if quantity == "percent" and surroundings.is_share(said):
        return False
    said = surroundings.without_layout(said) if quantity == "volume" else said
    figured = [part for part in _CLAUSES.split(said) if asides.FIGURE.search(part)]
    own = " , ".join(part for part in figured if not choosing.holds(part, definition.denied_by))
    if len(asides.FIGURE.findall(said)) < 2 or not own:
        return len(asides.FIGURE.findall(said)) > 1  # "a hundred horse tune on a 215 truck"
    said = own
    return asides.passed_over(said, value, quantity, unit or definition.unit, definition.plausible)


def in_words(definition: FactDef) -> frozenset[str]:
    """The phrases that stand for a figure of the fact."""
    return frozenset(phrase for said in definition.said_as for phrase in said.words)


def marked_in_words(definition: FactDef, words: str) -> str:
    """The first phrase among the words that stands for a figure and is marked as this fact's ("sea level"); ""
    without one."""
    marked = sorted(in_words(definition).intersection(definition.mentioned)) if definition.kind == "number" else ()
    return next((phrase for phrase in marked if choosing.holds(words, [phrase])), "")


def _days_in_percent(found: re.Match[str]) -> str:
    """So many days of the week as a percentage."""
    return f"{100 * units.read_number(found['days'], 'count', '').value.mid / 7:.4g} percent"


def in_thousands(definition: FactDef, heard: Heard) -> Heard:
    """Engine speeds and prices as they are called out: "three" is 3,000 rpm, "thirty four" 3,400; an altitude of
    "seven" is asked about."""
    within = definition.plausible
    bare = not re.search(r"[a-z]*(?:feet|foot|ft|m|met(?:er|re)s?)\b|'", heard.words, re.IGNORECASE)
    if definition.quantity == "altitude" and bare and 0 < units.from_si(heard.value.high, "ft", "altitude") < 100:
        figure = units.from_si(heard.value.mid, definition.unit, "altitude")
        unit = definition.unit
        raise Unclear(f"is that {figure:,.3g} {unit} or {1000 * figure:,.0f} {unit}?", "say the whole figure")
    told = re.search(r"rpm|rev|turns|[$]|dollar|buck", heard.words, re.IGNORECASE)
    if definition.quantity not in ("rotation", "money") or within is None or told:
        return heard
    for times in (1000.0, 100.0):
        value = Range(heard.value.low * times, heard.value.high * times)
        if heard.value.high < within.low and within.low <= value.low and value.high <= within.high:
            return replace(heard, value=value, bound=None if heard.bound is None else heard.bound * times)
    return heard


def _stretches(definition: FactDef, words: str) -> list[Stretch]:
    """The longest stretches of the words that read as amounts, in their order, none within another."""
    said = [(found.start(), found.end()) for found in _WORD.finditer(words)]
    figures = _PARTS if definition.quantity == "percent" else asides.FIGURE
    spots = [figure.span() for figure in figures.finditer(words)]
    holds = [any(begin < end and start < finish for begin, finish in spots) for start, end in said]
    elsewhere = _unit_apart(definition, words)
    taken: list[Stretch] = []
    done = 0
    for first in (at for at, figure in enumerate(holds) if figure):
        if first < done:
            continue
        lasts = [at for at in range(first, min(len(said), first + MOST_WORDS)) if holds[at]]
        for last in reversed(lasts):
            found = _longest(definition, words, said, (max(done, first - BEFORE), first), last, elsewhere)
            if found is not None:
                taken.append(found)
                done = next((at for at, (start, _) in enumerate(said) if start >= found.end), len(said))
                break
    return taken


def _longest(
    definition: FactDef, words: str, said: Sequence[tuple[int, int]], starts: tuple[int, int], last: int, unit: str
) -> Stretch | None:
    """The longest stretch up to the figure at ``last`` and some words after it that reads as an amount."""
    for right in range(min(last + AFTER, len(said) - 1), last - 1, -1):
        for left in range(starts[0], starts[1] + 1):
            start, end = said[left][0], said[right][1]
            text = words[start:end]
            inches = text[-1] == '"' and definition.quantity == "length"
            if text[0] in ',;"' or (text[-1] in ',;"' and not inches):
                continue
            for form, spans in _forms(definition, text, unit):
                try:
                    heard = units.read_number(form, definition.quantity, definition.unit, definition.plausible)
                except Unclear:
                    continue
                if not spans or not asides.apart(heard, definition.quantity):
                    scaled = in_thousands(definition, heard)
                    plain = form.replace("per cent", "percent")
                    named = names_its_unit(plain, heard.value, definition, definition.plausible)
                    return Stretch(scaled, start, end, named)
    return None


def _forms(definition: FactDef, text: str, unit: str) -> Iterator[tuple[str, bool]]:
    """The stretch as it stands, with the unit that is said elsewhere, and short forms of the trade written out; each
    with whether it holds only as a narrow span."""
    if unit:
        yield f"{text} {unit}", False
    yield text, False
    if (two := _NEIGHBOURS.split(text)) and len(two) == 2 and all(map(asides.FIGURE.search, two)):
        scale = _SCALE.search(text)
        low, high = (one if scale is None or _SCALE.search(one) else f"{one} {scale[1]}" for one in two)
        yield f"{low} to {high}", True
    if definition.quantity in ("mass", "ratio") and (short := _AND_FIVE.fullmatch(text)):
        yield f"{short['whole']} point {short['part']}" + " thousand" * (definition.quantity == "mass"), False
    if ends := _SHORT_END.fullmatch(text):  # "five to five fifty", "two to twenty-five hundred"
        yield from ((f"{ends['low']} {scale} to {ends['high']}", True) for scale in ("hundred", "thousand"))


def _unit_apart(definition: FactDef, words: str) -> str:
    """A unit of what is asked that is said somewhere: "thirty-eight in August, we count in Celsius"."""
    told = set()
    for word in re.findall(r"[a-z]+", words.lower()):
        if definition.quantity == "speed" and word.removesuffix("s") in _DISTANCES:
            told.add("mph" if word.startswith("mile") else "km/h")
        elif len(word) > 2 and word in QUANTITIES[definition.quantity].aliases and word not in ("ton", "tons"):
            told.add(word)
    return told.pop() if len(told) == 1 else ""


def names_its_unit(form: str, value: Range, definition: FactDef, plausible: Range | None = None) -> bool:
    """Whether a figure holds its unit itself: then it is the same whatever unit is assumed."""
    others = [symbol for symbol in QUANTITIES[definition.quantity].units if symbol not in ("", definition.unit)]
    if not others:
        return definition.quantity == "percent" and re.search(r"%|\bpercent\b", form) is not None
    try:
        return units.read_number(form, definition.quantity, others[0], plausible).value == value
    except Unclear:
        return False


def _its_own_unit(definition: FactDef, told: str, one: Stretch) -> bool:
    """Whether a stretch holds its unit itself, and hasn't got it from elsewhere in the sentence."""
    return names_its_unit(told.replace("per cent", "percent"), one.heard.value, definition, definition.plausible)


def _can_be(definition: FactDef, value: Range) -> bool:
    """Whether a figure is one of those usually seen."""
    usual = definition.plausible
    return usual is None or (usual.low <= value.mid <= usual.high)


def _of_something_else(definition: FactDef, words: str, one: Stretch) -> bool:
    """Whether the words beside a stretch make it a figure of another thing, or none that holds."""
    told = words[one.start : one.end]
    ahead = words[: one.start]
    aged = definition.quantity != "rotation" and _TURNED.search(ahead)
    if aged or _PUT_ASIDE.search(ahead) or _NO_FIGURE.fullmatch(told.lower()):
        return True
    before = [pause.end() for pause in _PAUSE.finditer(words, 0, one.start)]
    after = _PAUSE.search(words, one.end)
    clause = words[max(before, default=0) : after.start() if after else len(words)]
    if choosing.holds(clause, definition.denied_by) or _BEFORE_NOW.search(clause):
        return True
    if one.named or not asides.FIGURE.search(told):
        return False
    return asides.all_aside(told + re.split(r"[,;](?!\d)", words[one.end :])[0], definition.quantity)
