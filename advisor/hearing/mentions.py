"""What a sentence tells plainly, whatever was asked.

A figure is taken with its unit and the words that name its fact, or as the vocabulary marks it (``mentioned``); a
choice by a phrase that the vocabulary marks, or before the noun of its fact ("loose converter"). What two facts could
mean is nobody's.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import lru_cache

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.units import Range, Unclear
from advisor.words.numerals import DIGIT_NAMES
from advisor.words.people import ANOTHER, MATE

from . import asides, choosing, gauged, litres, moved, percent, present, spelled, spoken, storied, surroundings
from .chosen import PATTERN
from .measured import DEGREES, SPAN, by_unit, clause_at, is_usual, with_unit
from .taken import suggestions
from .understanding import understand

MOST_OFFERS = 9  # as many as are read back in one list
# Last words of a fact's name that also stand for other things.
GENERAL = frozenset(
    ["turbo", "kind", "end", "rule", "status", "answer", "reason", "since", "when", "by", "at", "stay", "loss", "room",
     "wheels", "cylinder", "foot", "entry", "colour", "size"]
)  # fmt: skip
# Whose truck it may be that is spoken of.
OTHERS = re.compile(rf"\b(?:his|their|everybody|everyone|{ANOTHER})(?:'?s)?\b", re.IGNORECASE)
# The turbo that is wanted, told by whose truck has one, in the midst of what tells of his own.
LIKE_HIS = re.compile(
    r"\b(?:the|an?|that|one of (?:the|those)) (?:same )?(?:\d[\d./]*(?: ?mm)?|one|ones|turbo|size)(?: turbo| mil\w*)?"
    rf" (?:that |which |as |like )?(?:my |the |a )?(?:\w+ )?{MATE}s?(?:'s| is| has)?"
    r" (?:has|have|got|runs?|running|uses?|using|put on|bought|swears by)(?: (?:on|in) his(?: truck)?)?\b",
    re.IGNORECASE,
)
# Two pipes in words are nobody's; "a four inch exhaust" is the exhaust's.
INCHES = re.compile(r"[ -]?inch(?!(?:es)? (?:exhaust|downpipe|down pipe)\b(?!.*\binch))", re.IGNORECASE)
_DIGIT = "|".join(DIGIT_NAMES)
SPOKEN_DECIMAL = re.compile(
    rf"(?<!point )\b(?P<whole>{_DIGIT})[- ](?P<tenths>{_DIGIT})\b(?![- ](?:hundred|thousand|point|{_DIGIT}))",
    re.IGNORECASE,
)
FIRST_END = re.compile(r"(?<![\w.,])\d(?:[\d,.]*\d)?(?=, $)")  # "1350, 1400 on the pyro"
# "EGTs 1350, 1400 with the trailer"
LAST_END = re.compile(
    r", \d(?:[\d,]*\d)?(?![\w.,]*\d)(?= (?:with|on|when|up|loaded|towing|pulling|under|at)\b|[.;]|$)"
)
PAST = re.compile(r"\b(?:over|above|past|more than) $", re.IGNORECASE)
THOUSANDS = re.compile(r"k$", re.IGNORECASE)
FEW_DIGITS = re.compile(r"\d\d?(?:\.\d+)?")  # so many thousands, as weights are said: "rated 13"
_SMALL = rf"\d\d?(?:\.\d+)?|{_DIGIT}|ten|eleven|twelve|(?:thir|four|fif|six|seven|eigh|nine)teen|twenty"
OF_BOTH_ENDS = re.compile(
    rf"\b(?:between (?P<between>{_SMALL}) and |(?P<low>{_SMALL}) to |(?P<figure>\d\d?) ?[-\u2013] ?(?=\d))"
    rf"(?P<high>{_SMALL})[ -](?P<scale>thousand|hundred)\b",
    re.IGNORECASE,
)
"""Thousands or hundreds that are said of the upper end alone and meant of both."""
THOUSAND = re.compile(r"^\d+(?:\.\d+)? (?:thousand|hundred)$", re.IGNORECASE)
WHEELS = re.compile(
    r"\b(?:[4-9]\d|1[01]\d)(?:\.\d)? over (?:[4-9]\d|1[01]\d)(?:\.\d)?\b(?! ?(?:psi|pounds|boost|percent|%))"
)
"""Compressor over turbine wheel: "68 over 74" tells neither injectors nor pressures."""
# What parts things that are named one after the other, and what is said before one of them.
JOINED = re.compile(r"[,;:.!?](?!\d)|\b(?:and|plus|then|also)\b|&|\+", re.IGNORECASE)
ALONE = re.compile(
    r"^(?:\W|\b(?:some|a bit of|a little|bit of|little|mostly|mainly|also|just|it's|its|my|the|an? occasional"
    r"|occasional|occasionally|a lot of|weekend|do|does|run|on|of|for)\b)+|(?:\W|\b(?:too|as well|also|driving|stuff"
    r"|sometimes|use|some|mostly|mainly|duty)\b)+$",
    re.IGNORECASE,
)
ROUND = {-1, 1}  # the words beside a figure, as seen from it
# What class of pickup it is, which is no weight.
_TRUCK_TONS = re.compile(
    r"\b(?:half|three[ -]quarters?|3/4)[ -]ton(?: (?:pick-?up|truck))?\b(?! (?:trailer|load|of)\b)", re.IGNORECASE
)
_LAYOUT = re.compile(r"(?<![\w-])(?P<row>v)-?(?P<count>6|8|10)(?![\w-])", re.IGNORECASE)  # "a V8"
# Where what is said of a figure ends: "lazy below 2,000 and I tow a fifth wheel".
_GOES_ON = re.compile(r"(?<![,;])(?= (?:and|but) (?:i|we|he|she|it|it's|they|my|that)\b)", re.IGNORECASE)
SHARE = " share"  # of its life that one of several duties has
SHORT = {  # "3.73s and 35s" are gears and tyres, where such are usual
    form: re.compile(figure + r"'?s\b(?! (?:of|and over|over|in the|psi|percent))")
    for form, figure in {"#.#s": r"\d\.\d\d", "#s": r"\d\d"}.items()
}
_STANDS = re.compile(
    r"(?:(?:no|sorry|wait)[, ]+)*(?:(?:the|an?|it's|about|around|more like|maybe) )*"
    rf"(?P<figure>{SPAN.pattern}) ?(?P<next>[a-z%]*)"
)
_HUMS = re.compile(r"(?:[,\s]*\b(?:er|uh|um|ah|oh|no|wait|sorry)\b)*[,\s]*$")
_CLAUSE_ENDS = re.compile(r"[,;.](?=\s)")
_COUNTS = re.compile(r"(?:valve|speed|door|hole|cylinder|inch|year|head|foot|feet)s?$")
GAP_AT_FIGURE = re.compile(r"#\s*\.\.\.|\.\.\.\s*#")
# A comma before a figure that is said by itself: "pull the fifth wheel on weekends, about 14k".
LONE_FIGURE = re.compile(r",\s*(?:(?:a?bout|around|maybe|roughly|say|call it) )?FIGURE(?= *(?:[,.;]|$))")


def take_all(definitions: Sequence[FactDef], words: str, together: str = "") -> list[Understood]:
    """Facts that a sentence plainly holds, to be confirmed; what is said of another's truck is left, but for
    facts with a mark that speaks of another's truck itself ("friend ... runs a ##").

    ``definitions`` are all that can be asked, those known already too: their figures must not pass for another's. A
    figure with its unit that could be several facts is the one that is asked ``together`` with the question at hand.
    """
    words = _TRUCK_TONS.sub("pickup", units.clean(words))
    own = _his_own(words)
    told: list[Understood] = []
    if OTHERS.search(words):
        marks = {d.name: [phrase for phrase in d.mentioned if OTHERS.search(phrase)] for d in definitions}
        sized = spelled.in_digits(words)  # "my buddy runs a sixty four"
        told = list(_choices_in([d for d in definitions if choosing.holds(sized, marks[d.name])], sized))
        if not own.strip(" .,"):
            return told
    found: dict[str, Understood] = {}
    digits = _figured(own)
    figures = dict(_numbers_in(definitions, digits, together))
    worded = (*_on_a_gauge(definitions, own), *_figures_in_words(definitions, own))
    chosen = (*_choices_in(definitions, own), *_yes_or_no_in(definitions, own))
    for understood in (*told, *figures.values(), *worded, *chosen):
        found.setdefault(understood.answer.fact, understood)
    placed = {*figures, *_marked_alike(definitions, digits)}
    for understood in by_unit({one.name: one for one in definitions}, digits, placed, found):
        found[understood.answer.fact] = understood
    weight = found.get("trailer weight")
    if weight is not None or "trailer brakes" in found:  # who tows 14k tows a trailer
        several = [one for one in definitions if one.kind == "several"]
        towed = f"{digits}, tow a trailer" if weight is None else digits.replace(weight.answer.words, "a trailer")
        found |= {one.answer.fact: one for one in _choices_in(several, towed)}
    for definition in definitions:
        if definition.kind == "several" and definition.name in found:
            found[definition.name] = _with_those_beside(definition, found[definition.name], digits)
    jobs = {name.removesuffix(SHARE) for name in found if name.endswith(SHARE)}
    if jobs and (told_of := found.get("duties")) is not None and told_of.fact is not None:
        jobs |= told_of.fact.value if isinstance(told_of.fact.value, frozenset) else set()
    if jobs:  # "60% street 40% strip"
        found |= {one.name: understand(one, " and ".join(sorted(jobs))) for one in definitions if one.name == "duties"}
    return list(found.values())[:MOST_OFFERS]


def either(definitions: Sequence[FactDef], words: str) -> list[Understood]:
    """The facts of one quantity that the words around a figure mark alike: "250 at the wheels" is what it makes now, or
    what is wished for."""
    return next(iter(_marked_alike(definitions, _figured(_his_own(units.clean(words)))).values()), [])


def _marked_alike(definitions: Sequence[FactDef], digits: str) -> dict[int, list[Understood]]:
    """The same of each such figure, by its place."""
    numbers = [one for one in definitions if one.kind == "number"]
    hits = {hit.start(): widest(list(as_mentioned(numbers, digits, hit))) for hit in SPAN.finditer(digits)}
    quantities = {at: {_of(numbers, one).quantity for one in marked} for at, marked in hits.items()}
    return {at: marked for at, marked in hits.items() if len(marked) > 1 and len(quantities[at]) == 1}


def _his_own(words: str) -> str:
    """The words without what is said of others' trucks."""
    own = present.without_hearsay(present.own_clauses(LIKE_HIS.sub(", my buddy has one, ", words)))
    if OTHERS.search(words) and (own == words or OTHERS.search(own)):  # "it was on a buddy's truck, and I tow 12k"
        own = ", ".join(part for part in present.of_himself(own).split(", ") if not OTHERS.search(part))
    return own


def _figured(own: str) -> str:
    digits = in_digits(surroundings.without_strip(moved.as_told(surroundings.finer(own))))
    return WHEELS.sub(" ", percent.by_horsepower(_as_corrected(digits)))


def as_corrected(words: str) -> str:
    """The words with each figure that is taken back in the same breath left out; as they are where none is."""
    digits = in_digits(words)
    corrected = _as_corrected(digits)
    return words if corrected == digits else corrected


def _as_corrected(digits: str) -> str:
    """The words with the figure that stands in place of one taken back: "50 over injectors, er, no sorry, 15 over"."""
    for back in spoken.taken_back(digits):
        before, stands = _HUMS.sub("", digits[: back.start()]), _STANDS.match(digits, back.end())
        figures = list(SPAN.finditer(before))
        if not figures or stands is None or _COUNTS.match(stands["next"]):
            continue
        if _CLAUSE_ENDS.search(before, (wrong := figures[-1]).end()):  # it told something else since
            continue
        followed = before[wrong.end() :].split()
        if followed and stands["next"] and followed[0] != stands["next"]:
            continue
        digits = before[: wrong.start()] + stands["figure"] + before[wrong.end() :] + digits[stands.end("figure") :]
    return digits


def in_digits(words: str) -> str:
    """The words with spoken figures as digits: "a five-nine" is "a 5.9", "twelve thousand" is "12000"."""

    def written(found: re.Match[str]) -> str:
        figured = found.group()[0].isdecimal() and not THOUSAND.search(found.group())
        inches = INCHES.match(found.string[found.end() :]) and "point" not in found.group().lower()
        if figured or found.group()[0] == "$" or inches:
            return found.group()
        try:
            value = units.read_number(found.group(), "money", "$").value
        except Unclear:
            return found.group()
        return f"{value.low:.10g}" if value.exact else found.group()

    words = _LAYOUT.sub(r"\g<row> \g<count>", words)
    words = OF_BOTH_ENDS.sub(_of_both_ends, words)
    decimals = SPOKEN_DECIMAL.sub(
        lambda found: f"{DIGIT_NAMES.index(found['whole'].lower())}.{DIGIT_NAMES.index(found['tenths'].lower())}", words
    )
    return asides.FIGURE.sub(written, decimals)


def _of_both_ends(found: re.Match[str]) -> str:
    """The words with the thousands at both ends: "between 5 and 6 thousand"."""
    scale = found["scale"]
    return f"{found['between'] or found['low'] or found['figure']} {scale} to {found['high']} {scale}"


def _numbers_in(definitions: Sequence[FactDef], words: str, together: str) -> Iterable[tuple[int, Understood]]:
    """What figures tell, each with its place; one without a unit that is told of another fact with its unit tells that
    alone: "the two six, our class says 2.6 inches"."""
    numbers = [definition for definition in definitions if definition.kind == "number"]
    found = [(hit, one) for hit in SPAN.finditer(words) if (one := _number_at(numbers, words, hit, together))]
    spans = {hit.start(): with_unit(_of(numbers, one), words, hit) for hit, one in found}
    in_full = {(hit.group(), one.answer.fact) for hit, one in found if spans[hit.start()]}
    for hit, one in found:
        others = {fact for figure, fact in in_full if figure == hit.group()} - {one.answer.fact}
        if spans[hit.start()] or not others:
            yield hit.start(), one


def _of(definitions: Sequence[FactDef], heard: Understood) -> FactDef:
    return next(one for one in definitions if one.name == heard.answer.fact)


def _number_at(numbers: Sequence[FactDef], words: str, hit: re.Match[str], together: str) -> Understood | None:
    """The one fact that a figure plainly tells."""
    if litres.stands_at(words, hit.start()):
        told = [understand(one, hit.group(0)) for one in numbers if one.quantity == "volume"]
        told = [one for one in told if one.fact is not None and not one.doubt]
        return told[0] if len(told) == 1 else None
    marked = widest(list(as_mentioned(numbers, words, hit)))
    if len({_of(numbers, one).quantity for one in marked}) > 1:  # "1,300 on the grade and 35 pounds" weighs nothing
        marked = [one for one in marked if is_usual(_of(numbers, one), one)]
    if len(marked) > 1 and len({_of(numbers, one).topic for one in marked}) == 1:  # "450 at the crank" is wished for
        marked = [one for one in marked if _of(numbers, one).plans] or marked
    if len(marked) == 1:
        return marked[0]
    nearby = {_stem(word) for word in re.findall(r"[a-z]+", clause_at(words, hit.start(), hit.end()).lower())}
    readings = [understand(d, span) for d in numbers if (span := with_unit(d, words, hit))]
    able = [reading for reading in readings if reading.fact is not None and not reading.doubt]
    named = [len(nearby & {_stem(word) for word in reading.answer.fact.split()}) for reading in able]
    most = max(named, default=0)
    best = [reading for reading, count in zip(able, named, strict=True) if count == most]
    if most:
        return best[0] if len(best) == 1 else None
    partners = [one for one in able if together and _of(numbers, one).together == together]
    return partners[0] if len(partners) == 1 else None


def _figures_in_words(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    """Figures said in words that the vocabulary marks as this fact's: "sea level"."""
    return (understand(one, told) for one in definitions if (told := storied.marked_in_words(one, words)))


def _on_a_gauge(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    """What a gauge shows of which its end is told: "pegged, it only goes to 35", by what is usually so much."""
    measured = [one for one in definitions if one.quantity in gauged.MEASURED and one.topic == "present"]
    for definition in sorted(measured, key=lambda one: one.order) if gauged.plainly(words).words != words else ():
        told = understand(definition, words)
        value, usual = told.fact.value if told.fact is not None else None, definition.prior
        if isinstance(value, Range) and usual is not None and usual.low <= value.low <= usual.high and not told.doubt:
            yield told
            return


def widest(marked: Sequence[tuple[Understood, set[int]]]) -> list[Understood]:
    """Of the facts that the words around a figure stand for, with the places of these words in its clause, those whose
    words aren't within another's ("want to make 700" is wanted, not made); of these those whose words stand beside the
    figure on both sides, where there are such: "hauling with a 9,000 pound truck" weighs no trailer."""
    left = [(reading, places) for reading, places in marked if not any(places < wider for _, wider in marked)]
    around = [(reading, places) for reading, places in left if places & ROUND == ROUND]
    return [reading for reading, _ in around or left]


def as_mentioned(numbers: Sequence[FactDef], words: str, hit: re.Match[str]) -> Iterable[tuple[Understood, set[int]]]:
    """The facts that the words around a figure stand for ("pull ... #"), with the places of these in its clause as seen
    from the figure.

    Words apart from the figure count only where its unit was said, or thousands of a weight, or where the fact is
    usually so much.
    """
    marked = _GOES_ON.sub(",", f"{words[: hit.start()]}FIGURE{words[hit.end() :]}")
    said = LONE_FIGURE.sub(" FIGURE", marked)
    clause = clause_at(words, hit.start(), hit.end())
    for definition in numbers:
        if not definition.mentioned or choosing.holds(clause, definition.denied_by):
            continue
        span = with_unit(definition, words, hit)
        after = re.split(r"[ -]+", words[hit.end() :].strip(" -"))
        hot = definition.quantity == "temperature" and DEGREES.match(words[hit.end() :])
        if not span and not hot and asides.other_unit(after, definition.quantity):  # "a 2.6 inch"
            continue
        if definition.quantity == "volume" and not span and litres.elsewhere(words, *hit.span()):
            continue
        weighed = (
            definition.quantity == "mass"
            and THOUSANDS.search(hit.group(0))
            and not asides.other_unit(words[hit.end() :].split(), definition.quantity)
        )
        likely = span or weighed or hot or _unit_beside(definition, words, hit)
        likely = likely or is_usual(definition, understand(definition, hit.group(0)))
        phrases = [
            phrase.replace("#.#", "FIGURE").replace("#", "FIGURE")
            for phrase in definition.mentioned
            if phrase not in SHORT
            and phrase not in storied.in_words(definition)
            and ("#.#" not in phrase or re.fullmatch(r"\d\.\d\d?", hit.group(0)))
            and (likely or not GAP_AT_FIGURE.search(phrase))
        ]
        without_unit = f"{words[: hit.start()]}FIGURE{words[hit.start() + len(span) :]}"
        joined = LONE_FIGURE.sub(" FIGURE", without_unit) if span else said  # "just the van, 3.5 tonnes"
        held = {text: len(found) for text in (said, joined) if (found := choosing.places(text, phrases))}
        told = max(held, key=lambda text: held[text], default="")
        in_short = any(form in definition.mentioned and each.match(words, hit.start()) for form, each in SHORT.items())
        if in_short and is_usual(definition, understand(definition, hit.group(0))):
            told = told or said
        if not told:
            continue
        alone = span or hit.group(0)
        last = LAST_END.match(words, hit.end()) if definition.quantity == "temperature" and not span else None
        reading = understand(definition, _leading(words[: hit.start()]) + alone + (last.group() if last else ""))
        if reading.fact is None or reading.doubt:
            reading = understand(definition, alone)
        meant = suggestions(reading.doubt)
        few = definition.quantity == "mass" and FEW_DIGITS.fullmatch(hit.group(0)) is not None
        thousands = few and not asides.other_unit(words[hit.end() :].split(), "mass")
        inches = definition.quantity == "length" and "." in hit.group(0)
        alike = hot or inches  # "780 degrees" in °C, "2.6 inducer" in inches
        if meant and (thousands or (alike and len(meant) == 1)):  # "rated 13"
            reading = understand(definition, meant[0])
        if reading.fact is not None and not reading.doubt:
            at = told.index("FIGURE")
            clause = clause_at(told, at, at + len("FIGURE"))
            own = min(choosing.places(clause, ["FIGURE"]))
            yield reading, {place - own for place in choosing.places(clause, phrases)}


def _leading(before: str) -> str:
    """What stands before a figure and belongs to it: a bound, or the other end of a narrow span."""
    first = FIRST_END.search(before)
    return "over " if PAST.search(before) else f"{first.group()}, " if first else ""


def _unit_beside(definition: FactDef, words: str, hit: re.Match[str]) -> bool:
    """Whether another figure of the sentence is said with a unit of what the fact measures: "190 horse now, I'd like
    230"."""
    return any(with_unit(definition, words, other) for other in SPAN.finditer(words) if other.span() != hit.span())


def _stem(word: str) -> str:
    return re.sub(r"(ing|ed|s)$", "", word) if len(word) > 4 else word


def _with_those_beside(definition: FactDef, told: Understood, words: str) -> Understood:
    """The choices told by a mark with those that are named alone beside it: "towing 14k and daily"."""
    value = told.fact.value if told.fact is not None else None
    parts = [ALONE.sub("", part).strip(" -") for part in JOINED.split(words)]
    alone = {
        choice.name
        for choice in definition.choices
        for phrase in (choice.name, *choice.words)
        if not PATTERN.search(phrase) and any(part.lower() == phrase.lower() for part in parts)
    }
    if not isinstance(value, frozenset) or alone <= value or "nothing" in value | alone:
        return told
    return understand(definition, " and ".join(one.name for one in definition.choices if one.name in value | alone))


def _yes_or_no_in(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    """The yes or no that marked phrases stand for ("which one would you put on it?"), said or denied."""
    for definition in definitions:
        if definition.kind != "yes/no" or not choosing.holds(words, definition.mentioned):
            continue
        marked = [(said.value, {*said.words} & {*definition.mentioned}) for said in definition.said_as]
        standing = [("yes" if value else "no", tuple(sorted(phrases))) for value, phrases in marked]
        said, denied = choosing.heard(words, standing, by_name=False)
        told = {*said} or {"no" if one == "yes" else "yes" for one in denied}
        if len(told) == 1 and denied.isdisjoint(said):
            yield understand(definition, told.pop())


def _choices_in(definitions: Sequence[FactDef], words: str) -> Iterable[Understood]:
    choosers = [definition for definition in definitions if definition.kind in ("choice", "several")]
    said_of = tuple(
        (fact.name, tuple((choice.name, tuple(map(str, choice.words))) for choice in fact.choices), fact.mentioned)
        for fact in choosers
    )
    taken: set[int] = set()
    for definition, telling in zip(choosers, _telling(said_of), strict=True):
        denied = {str(at) for at, one in enumerate(definition.choices) if choosing.holds(words, one.denied_by)}
        own = [(at, phrases) for at, phrases in telling if at not in denied]
        places = choosing.places(words, [phrase for _, phrases in own for phrase in phrases])
        if not places or (places & taken and not choosing.places(words, definition.mentioned)):
            continue
        try:
            said = choosing.read_several(words, own, by_name=False)
        except Unclear:
            continue
        named = [choice for index, choice in enumerate(definition.choices) if str(index) in said]
        nearest = [choice for choice in named if choosing.holds(words, choice.stands_in_for)]
        if definition.kind == "choice" and len(said) > 1 and len(nearest) == 1:  # "ported head and fire rings"
            named, said = nearest, frozenset(["nearest"])
        if len(said) == 1 or (said and definition.kind == "several"):
            taken |= places
            yield understand(definition, " and ".join(sorted(choice.name for choice in named)))


@lru_cache(maxsize=64)
def _telling(
    said_of: tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...], tuple[str, ...]], ...],
) -> tuple[choosing.Choices, ...]:
    """Of each fact the phrases that tell by themselves which fact they are about, by the place of the choice: those
    that the vocabulary marks, and a choice before the noun of its fact, where that isn't a figure and no phrase or
    noun of another fact."""
    nouns = Counter(fact.split()[-1] for fact, _, _ in said_of)
    phrases: dict[str, set[str]] = {}
    for fact, choices, _ in said_of:
        for name, others in choices:
            for phrase in (name, *others):
                phrases.setdefault(phrase.lower(), set()).add(fact)
    found = []
    for fact, choices, mentioned in said_of:
        noun = fact.split()[-1]
        own = []
        for index, (name, others) in enumerate(choices):
            kept = [phrase for phrase in (name, *others) if phrase in mentioned]
            if noun not in GENERAL and nouns[noun] == 1:
                kept += [
                    f"{phrase} {noun}"
                    for phrase in (name, *others)
                    if not PATTERN.search(phrase)
                    and not surroundings.names_a_figure(phrase)
                    and phrases.get(f"{phrase} {noun}".lower(), {fact}) == {fact}
                ]
            own.append((str(index), tuple(kept)))
        found.append(tuple(own))
    return tuple(found)
