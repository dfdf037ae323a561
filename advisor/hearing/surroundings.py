"""A figure in the middle of what else is said: "dynoed at 412", "8,200 with me in it", "redline, 3400".

`units` reads a phrase whole or refuses it. Here the words around a figure are set aside, unless one of them
could change what the figure means ("not", "was", "plus", "when it's cold", a second figure).
"""

import re
from collections.abc import Iterator
from dataclasses import replace

from advisor import units
from advisor.quantities import QUANTITIES, Range
from advisor.units import Heard, Unclear
from advisor.words.not_knowing import not_known
from advisor.words.numerals import DIGIT_NAMES

from . import asides, reckoned, spoken

MOST_WORDS = 12  # around a figure
_LETTER = re.compile(r" ?(?P<unit>[cfl])(?![\w'-])", re.IGNORECASE)  # a unit by itself
_FOOT = re.compile(r"[ -]?(?:foot|footer|footers|ft)\b", re.IGNORECASE)  # of what is so long: "a 22 foot"
_LEFT = _RIGHT = 5  # words beside a figure that can belong to it: "somewhere around", "pounds per square inch"
_SMALL = r"two|three|four|five|six|seven|eight|nine"
_COUNTING = (
    rf"(?:{_SMALL}|ten|eleven|twelve|\w+teen|twenty|thirty|fou?rty|fifty|sixty|seventy|eighty|ninety"
    r"|(?:twent|thirt|fort|fift|sixt|sevent|eight|ninet)ies|hundreds?|thousands?|grand|half|quarters?|thirds?"
    r"|tenth|oh|zero|point|dozen)"
)


def _any(*patterns: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{'|'.join(patterns)})\b", re.IGNORECASE)


_FIGURE = re.compile(rf"\d|[\u00bc-\u00be]|\b(?:{_COUNTING}|one (?=[a-z]*(?:{_COUNTING})))(?:s|ish)?\b", re.IGNORECASE)
# Words that could change what a figure near them means.
_CHANGES = _any(
    r"no|not|never|neither|nor|without|none|nothing|\w+n't|cannot|but|or|and|was|were|used|before|then|after|than",
    "less|more|plus|minus|times|twice|double|triple|per|each|apiece|either|every|absolute|empty|dry",
    "if|when|while|unless|until|till|something|odd|some|couple|few|extra|another|instead|except|should be|supposed",
    "hoping|wait|scratch|spikes?|sometimes|occasionally|good day|cold|lighter|heavier|higher|lower|bigger|smaller",
    "pl(?:y|ys|ies)",
)
# ... and what does so only right beside it.
_BESIDE = _any("over|under|above|below|short|shy|past")
# What is counted is no share of anything.
_COUNTED = _any(
    "times?|pass(?:es)?|hooks?|trips?|runs?|days?|weekends?|pulls?|loads?|miles?|hours?",
    "(?:a|per|each) (?:year|season|month|week|summer)",
)
_CYLINDERS = re.compile(
    r"[ ,]+(?:lit(?:re|er)s? )?(?:(?:straight|inline|in-line|v)[ -]?)?(?:six|eight|v-?8|v-?6|i-?6|4|6|8)"
    r"(?:[ -]cylinders?)?[.!]?$",
    re.IGNORECASE,
)
_METRIC = {"temperature": "°C", "pressure": "bar", "mass": "kg", "speed": "km/h", "altitude": "m"}
_IN_METRIC = re.compile(
    r"\bmetric\b(?! ton)|\bkilos (?:i mean|that is|of course)\b|\b(?:'s|is|are|reads|in|on) (?:degrees )?c\b"
    r"|\bc gauge\b|\bkilomet(?:re|er)s? (?:clock|dial|speedo\w*)\b",
    re.IGNORECASE,
)
_COUNTS_IN = re.compile(  # "we count in kilowatts, so 300 of those"
    r"^(?:(?:.*?\b(?:count|talk|go|work|reckon|speak|measure|think|figure)(?:s|ing)? (?:it |that |everything )?)?in "
    r"|(?=[a-z]+,))(?P<unit>[a-z]{2,})[, ]+(?:so )?(?P<rest>.*?)(?: of (?:those|them|'em))?$",
    re.IGNORECASE,
)
_HINT = re.compile(
    rf"(?:\b(?:on|by|with|in|it's|that's|is|reads) )*(?:\b(?:an?|the|my) )?(?:{_IN_METRIC.pattern})"
    r"(?: (?:gauge|dial|scale|units?|one|pyro))?",
    re.IGNORECASE,
)
_TONS = re.compile(r"\btons?\b", re.IGNORECASE)
# "Two tonne six", "three ton four".
_SHORT_TONS = re.compile(
    rf"\b(?P<whole>\d|one|{_SMALL}) ton(?:ne)?s? (?P<part>\d|{_SMALL})\b(?! ?(?:{_COUNTING}|k)\b)", re.IGNORECASE
)
# What stands between litres told roughly and the same to the hundredth.
_TOLD_FINER = re.compile(
    r"(?P<unit>[ -]?lit(?:re|er)s?\b),? *(?:(?:or|well|so|exactly|to be exact|actually|that is|i mean|it's)[, ]+)*",
    re.IGNORECASE,
)
_ROUNDED = 0.05  # by how much litres told roughly are off at most
# How an engine is built, which is no size of it.
_LAYOUT = re.compile(
    r"\b(?:(?:straight|inline|in-line|v)[ -]?(?:six|eight|6|8)|[vi]-?[68]"
    r"|(?:four|six|eight|4|6|8)[ -](?:bangers?|pots?)"
    r"|(?:(?:a|an|the|diesel|turbo|old|big) )+(?:six|eight)(?=$|[,.!]| (?:diesel|cylinder|banger|pot|one(?! now))\b)"
    r"|(?:(?:2|3|4|6|8|twelve|sixteen|twenty[ -]four"
    r"|thirty[ -]two|four|two|six|eight|12|16|24|32)[ -]?(?:valves?|cylinders?|cyl|v)))\b",
    re.IGNORECASE,
)
_BUILT = re.compile(
    r"\b(?:straight|inline|in-line|v)[ -]?(?P<in_a_row>four|five|six|eight|ten|[4568]|10)(?:e?s)?\b"
    r"|\b(?P<counted>four|five|six|eight|ten|[4568]|10)[ -](?:cylinders?|cyl|pots?|banger)\b",
    re.IGNORECASE,
)
_STRIP = re.compile(r"\b(?:quarter|eighth|1/4|1/8)[ -](?:of a )?miles?\b", re.IGNORECASE)
_PERCENT = re.compile(r"\d ?%|\bpercent\b", re.IGNORECASE)
_OF = rf"\d{{1,4}}|one|{_SMALL}|ten|eleven|twelve|\w+teen|twenty|thirty|fifty|hundred|half"
_SHARE = _any(rf"({_OF}) (?:\w+ )?(?:out of|in)(?: every)?(?: a)? ({_OF})")
_TEEN_FIVE = re.compile(rf"\b(ten|eleven|twelve|\w+teen)[ -](one|{_SMALL})\b(?! (?:hundred|thousand))", re.IGNORECASE)
_PARTED = re.compile(r"(?<![\d.])([2-7]) (\d\d)(?![\d.])")  # "3 73"
_NUMERAL = (
    rf"\d{{1,4}}|(?:{_SMALL}|ten|eleven|twelve|\w+teen|twenty|thirty|fou?rty|fifty|sixty|seventy|eighty|ninety)"
    rf"(?:[ -](?:{_SMALL}|one))?"
)
_PAIR = re.compile(
    rf"\b(?P<low>{_NUMERAL}),? (?:or )?(?P<high>{_NUMERAL})(?P<scale> hundred| thousand| grand)\b", re.IGNORECASE
)
_PERHAPS = re.compile(
    r",?(?: (?:i think|i guess|i'd say))?,? (?:or )?(?:maybe|possibly|perhaps|(?:could|might) (?:be|go|stretch))"
    r"(?: up| as much as| even| to)* ",
    re.IGNORECASE,
)
_IF = re.compile(r",? (?:if|when|on a)\b.*", re.IGNORECASE)
_SHORT_AND_LONG = re.compile(r"\b(?P<low>[1-9]\d),? (?:or |to |maybe )?(?P<high>[1-9]\d)00\b")  # "16, 1700"
# "Twelve, twelve fifty", "thirteen to thirteen fifty".
_TEEN_AND_MORE = re.compile(
    r"\b(?P<low>ten|eleven|twelve|\w+teen)(?:,| to| or)+ (?:maybe )?"
    r"(?P<high>(?:ten|eleven|twelve|\w+teen)[ -]\w+ty(?:[ -]five)?)\b",
    re.IGNORECASE,
)
_YEAR = re.compile(
    r"\b(?:it's|its|it is|she's|i have|i've got|got)? ?an? '?(?:0\d|[89]\d|(?:19|20)\d\d)\b"
    r"(?=,| (?:so|model|truck|and)\b)",
    re.IGNORECASE,
)
_AGE = re.compile(
    rf",? ?\b(?:i'?m|i am|he's|she's) (?:{_NUMERAL})(?: years?)?(?: old| young)?(?=$|[,.;!]| (?:and|but|so)\b)",
    re.IGNORECASE,
)
# What stands beside a figure as a matter of course and measures something else.
_ASIDE = {
    "power": (re.compile(
        r"[, ]+(?:and )?\d[\d,]* (?:of )?(?:torque|foot[ -]?pounds?|ft[ -]?lbs?|pound[ -]feet|lb[ -]?ft)"
        r"(?: of torque)?\b",
        re.IGNORECASE,
    ), re.compile(
        r",? (?:at|@) (?:\d,?\d{3}|\w+(?:[ -]\w+)? (?:hundred|thousand|grand))(?: (?:rpm|revs?))?\b", re.IGNORECASE
    )),
}  # fmt: skip
_OF_A_HUNDRED = _any("(?:miles )?(?:out of|in|of) (?:a |one |every |the |each )?(?:hundred|100)(?: miles)?")
# How often, or when at most: "ten percent, fifteen at a push".
_AT_TIMES = re.compile(
    r"\b(?:usually|mostly|normally|generally|typically|most (?:days|times|weeks|years|of the time)|as a rule|at a push"
    r"|at (?:the )?(?:very )?(?:most|outside|worst|best)|tops|(?:in|during|over|at) (?:the )?(?:summer|winter|spring"
    r"|fall|autumn|harvest|season|busy season|hills|mountains)(?: ?time)?|(?:on|in) an? (?:really |very )?(?:good|bad"
    r"|cold|hot|busy|slow|wet|dry|big|long) (?:day|night|week|month|season|year|run|pull|grade|hill)|some (?:days|weeks"
    r"|months|years)|sometimes|now and then|when (?:it's|i'm|we're) (?:really )?\w+"
    r"|if (?:i|you|we) push(?: it)?|in places)\b",
    re.IGNORECASE,
)
_TWICE = re.compile(r"\s*(?:[,;](?!\d)|\b(?:but|or|maybe|perhaps)\b)(?: (?:and|but|or|maybe|perhaps|up to))*\s*")
_FAR = 3.0  # times the usual figure at which another one isn't the same at times
_APART = 1.5  # ... from which it is asked whether both are meant
# An engine speed, or a weight, by its first two figures: "three two" is 3,200.
_SHORT_SPEED, _SHORT_WEIGHT = (
    re.compile(
        rf"(?<![\w.-])(?<!point )(?<!hundred )(?<!thousand )(?<!ty )(?P<thousands>{'|'.join(DIGIT_NAMES[1:most])})[ -]"
        rf"(?P<hundreds>{'|'.join(DIGIT_NAMES[1:])})\b(?![ -]+(?:{_COUNTING}|one|k|percent)\b)(?! ?[%/\d])",
        re.IGNORECASE,
    )
    for most in (7, 10)
)


def with_hundreds(words: str) -> str:
    """The words with the first of two neighbours told in hundreds: "twelve, twelve fifty" is "twelve hundred to"."""
    return _TEEN_AND_MORE.sub(r"\g<low> hundred to \g<high>", words)


_NOT_TILL = re.compile(r"\b(?:not|nothing|nothin'?) (?:until|till?|before)\b", re.IGNORECASE)  # where boost comes in


def with_speeds(words: str) -> str:
    """The words with engine speeds that are said by two figures written out. Raises Unclear for two that follow each
    other: "two three" may be 2,300, and "two or three" thousand."""

    def written(found: re.Match[str]) -> str:
        high, low = (DIGIT_NAMES.index(found[part].lower()) for part in ("thousands", "hundreds"))
        if low == high + 1:
            raise Unclear(f"is that {high},{low}00 rpm, or {high},000 to {low},000 rpm?", "say the whole figure")
        return f"{high}{low}00"

    words = _NOT_TILL.sub("at", words)
    words = _SHORT_AND_LONG.sub(
        lambda pair: f"{pair['low']}00 to {pair['high']}00" if pair["low"] < pair["high"] else pair[0], words
    )
    return _SHORT_SPEED.sub(written, words)


def far_apart_at_times(heard: Heard, words: str, quantity: str) -> bool:
    """Whether a span is of what is usual and what is at times, and its ends are far apart."""
    low, high = (units.from_si(end, heard.unit, quantity) for end in (heard.value.low, heard.value.high))
    return _AT_TIMES.search(words) is not None and len(asides.FIGURE.findall(words)) > 1 and high > _APART * low


def may_be_short_tons(words: str) -> bool:
    """Whether tons that were taken for metric ones ("three ton four") may be others."""
    found = _SHORT_TONS.search(words)
    return found is not None and "tonne" not in found[0].lower()


def names_a_figure(words: str) -> bool:
    """Whether there is a figure among the words, in digits or spoken."""
    return _FIGURE.search(words) is not None


def read(words: str, quantity: str, unit: str, plausible: Range | None, past: bool = False) -> Heard:
    """What `units.read_number` makes of the words or, failing that, of the figure among them.

    ``past``: it was asked how it was, so that "it was a 235" says how it is.
    """
    if past:
        words = re.sub(r"\b(?:it|they|he|truck) (?:was|were)\b", "it's", words, flags=re.IGNORECASE)
    if quantity == "volume" and (exactly := finer(words)) != words:
        return replace(read(exactly, quantity, unit, plausible, past), words=words)
    if quantity == "volume" and (rest := without_layout(words)) != words:
        if not names_a_figure(rest):
            raise Unclear("that tells how it is built, not how many litres", "for example 6.6 litres")
        return replace(read(rest.strip(" ,"), quantity, unit, plausible, past), words=words)
    if worked_out := reckoned.plainly(words, quantity):
        reckoning = units.read_number(worked_out, quantity, unit, plausible)
        if plausible is None or plausible.low <= reckoning.value.mid <= plausible.high:
            return replace(reckoning, words=words)
    if (more := _perhaps_more(words, quantity, unit, plausible)) is not None:
        return replace(more, words=words)
    try:
        return units.read_number(words, quantity, unit, plausible)
    except Unclear:
        for later, first in asides.corrected(words, quantity, unit):
            heard = _tried(later, quantity, unit, plausible)
            if heard is not None and asides.same_size(heard, first):
                return replace(heard, words=words)
        for span in asides.neighbours(words):
            heard = _tried(span, quantity, unit, plausible)
            if heard is not None and not asides.apart(heard, quantity):
                return replace(heard, words=words)
        for span in _at_times(words):
            heard = _tried(span, quantity, unit, plausible)
            if heard is not None and 0 < heard.value.high <= _FAR * heard.value.low:
                return replace(heard, words=words)
        for plainer in (*_plainer(words, quantity), *asides.plainer(words, quantity)):
            said = plainer.strip(" ,")
            heard = None if said == words.strip(" ,") else _tried(said, quantity, unit, plausible)
            if heard is not None:
                return replace(heard, words=words)
        found = _within(words, quantity, unit, plausible)
        if found is None:
            raise
        return found


def _perhaps_more(words: str, quantity: str, unit: str, plausible: Range | None) -> Heard | None:
    """A figure and what it may come to at most ("2,500, maybe up to 3,000"), as a span."""
    told = _PERHAPS.search(words)
    if told is None:
        return None
    first, more = words[: told.start()], _IF.sub("", words[told.end() :])
    try:
        units.read_number(first, quantity, unit, plausible)
        heard = units.read_number(f"{first} to {more}", quantity, unit, plausible)
    except Unclear:
        return None
    return heard if 0 < heard.value.low < heard.value.high <= _FAR * heard.value.low else None


def in_metric(words: str, quantity: str) -> tuple[str, str] | None:
    """The words without a remark that the figure is metric ("that's on the metric gauge"), or in which unit he counts,
    and the unit that it has then; None without one."""
    counts, aliases = _COUNTS_IN.match(words), QUANTITIES[quantity].aliases
    if counts and (unit := aliases.get(counts["unit"].lower())) and names_a_figure(counts["rest"]):
        return counts["rest"], unit
    hint = _IN_METRIC.search(words) if quantity in _METRIC else None
    if hint is None or (quantity == "mass" and hint[0].lower().startswith("kilo") and not _TONS.search(words)):
        return None
    clauses = re.split(r"[,;](?!\d)", words)
    kept = ",".join(clause for clause in clauses if names_a_figure(clause) or not _IN_METRIC.search(clause))
    rest = _TONS.sub("tonnes", _HINT.sub(" ", kept)).strip(" ,")
    return (rest, _METRIC[quantity]) if names_a_figure(rest) and not _IN_METRIC.search(rest) else None


def finer(words: str) -> str:
    """The words with litres that are told roughly and then to the hundredth said once: "three litre, two point nine
    eight" is "two point nine eight litre"."""
    for rough in asides.FIGURE.finditer(words):
        told = _TOLD_FINER.match(words, rough.end())
        exact = asides.FIGURE.match(words, told.end()) if told else None
        if told is None or exact is None:
            continue
        try:
            first, second = (units.read_number(one.group(), "volume", "L").value for one in (rough, exact))
        except Unclear:
            continue
        if first.exact and second.exact and first != second and abs(first.low / second.low - 1) < _ROUNDED:
            return f"{words[: rough.start()]}{exact.group()}{told['unit']}{words[exact.end() :]}"
    return words


def without_strip(words: str) -> str:
    """The words without how long the drag strip is, which is no height: "eleven flat in the quarter mile"."""
    return _STRIP.sub("strip", words)


def without_layout(words: str) -> str:
    """The words without those for how the engine is built: "a six point seven straight six"."""
    return _LAYOUT.sub(" ", words)


def _tried(words: str, quantity: str, unit: str, plausible: Range | None) -> Heard | None:
    try:
        return read(words, quantity, unit, plausible)
    except Unclear:
        return None


def _at_times(words: str) -> Iterator[str]:
    """What is said to be so usually and what at times, as the ends of a span."""
    clauses = [_AT_TIMES.sub("", clause).strip(" ,;.") for clause in _TWICE.split(words)]
    ends = [clause for clause in clauses if clause]
    if _AT_TIMES.search(words) and len(ends) == 2 and all(map(names_a_figure, ends)):
        yield from (" to ".join(ends) + scale for scale in ("", " thousand", " hundred"))


def _plainer(words: str, quantity: str) -> Iterator[str]:
    """The same said in a form that the grammar of figures takes, where the trade has one of its own."""
    if quantity == "volume" and (engine := _CYLINDERS.search(words)) and engine.start():
        yield words[: engine.start()]
    if quantity == "count" and (built := _BUILT.search(words)):
        yield built["in_a_row"] or built["counted"]
    if quantity == "percent" and (of := _OF_A_HUNDRED.search(words)):
        yield f"{words[: of.start()]} percent {words[of.end() :]}"
    if quantity == "percent" and (shares := in_percent(words)) != words:
        yield shares
    if quantity == "ratio" and (parted := _PARTED.search(words)):
        yield f"{words[: parted.start()]}{parted[1]}.{parted[2]}{words[parted.end() :]}"
    if quantity == "ratio" and (short := _TEEN_FIVE.search(words)):
        yield f"{words[: short.start()]}{short[1]} point {short[2]}{words[short.end() :]}"
    if (pair := _PAIR.search(words)) and pair["low"] != pair["high"]:
        scale = pair["scale"] or ""
        yield f"{words[: pair.start()]}{pair['low']}{scale} to {pair['high']}{scale}{words[pair.end() :]}"
    if aside := [pattern for pattern in (_YEAR, _AGE, *_ASIDE.get(quantity, ())) if pattern.search(words)]:
        yield aside[0].sub(" ", words, count=1)
    alone = len(asides.FIGURE.findall(words)) == 1
    if quantity == "mass" and alone and (short := _SHORT_WEIGHT.search(words)) and _apart_by_more(short):
        yield f"{words[: short.start()]}{short['thousands']} point {short['hundreds']} thousand{words[short.end() :]}"
    if quantity == "mass" and (short := _SHORT_TONS.search(words)):
        tonnes = f"{short['whole']} point {short['part']} tonnes"
        yield f"{words[: short.start()]}{tonnes}{words[short.end() :]}"
    if quantity in ("mass", "altitude") and (short := _TEEN_FIVE.search(words)):
        yield f"{words[: short.start()]}{short[1]} point {short[2]} thousand{words[short.end() :]}"
    # what is said before a pause leaves the figure after it as it is: "not much, 5 percent"
    clauses = re.split(r"[,;](?!\d)\s*| - | but ", words)
    if len(clauses) > 1 and names_a_figure(clauses[-1]) and not any(map(names_a_figure, clauses[:-1])):
        yield clauses[-1]


def _apart_by_more(two: re.Match[str]) -> bool:
    """Whether two figures in a row don't follow each other, as "seven eight" do."""
    first, second = (DIGIT_NAMES.index(two[part].lower()) for part in ("thousands", "hundreds"))
    return second != first + 1


def in_percent(words: str) -> str:
    """The words with a part of so many ("nine days out of ten") as a percentage."""
    for share in _SHARE.finditer(words):
        try:
            part, whole = (units.read_number(said, "count", "").value for said in share.groups())
        except Unclear:
            continue
        if part.exact and whole.exact and part.high <= whole.low:
            return f"{words[: share.start()]}{100 * part.low / whole.low:.4g} percent{words[share.end() :]}"
    return words


def is_share(words: str) -> bool:
    """Whether a part of so many is told: "three out of four"."""
    return in_percent(words) != words or _OF_A_HUNDRED.search(words) is not None


def _within(words: str, quantity: str, unit: str, plausible: Range | None) -> Heard | None:
    """The one figure among words that leave it as it is."""
    said = words.split()
    spots = [
        (len(words[: figure.start()].split()) - (figure.start() > 0 and not words[figure.start() - 1].isspace()))
        for figure in _FIGURE.finditer(words)
    ]
    if not spots or len(said) > MOST_WORDS + _LEFT + _RIGHT:
        return None
    first, last = spots[0], spots[-1]
    for right in range(min(_RIGHT, len(said) - 1 - last), -1, -1):
        for left in range(min(_LEFT, first), -1, -1):
            start, end = first - left, last + 1 + right
            around = " ".join((*said[:start], ",", *said[end:]))
            beside = " ".join((*said[max(0, start - 2) : start], ",", *said[end : end + 1]))
            changed = _CHANGES.search(around) or _BESIDE.search(beside) or asides.other_unit(said[end:], quantity)
            changed = changed or own_unit(said[end:], quantity)
            counted = quantity == "percent" and not _PERCENT.search(words) and _COUNTED.search(around)
            if len(said) - (end - start) > MOST_WORDS or changed or counted:
                continue
            try:
                phrase = " ".join(said[start:end]).lstrip(",;").rstrip(",;.")
                heard = units.read_number(phrase, quantity, unit, plausible)
                if spoken.HEDGED.search(around) and heard.value.exact:
                    heard = units.read_number("about " + phrase, quantity, unit, plausible)
                return replace(heard, words=words)
            except Unclear:
                continue
    return None


def own_unit(after: list[str], quantity: str) -> bool:
    """Whether a unit of what is measured stands apart from the figure: "2.6, in inches"."""
    said = [word.lower().strip(".,;") for word in after]
    return any(len(word) > 2 and word in QUANTITIES[quantity].aliases for word in said)


def of_another_letter(words: str, quantity: str) -> str:
    """The only figure of the words with the letter behind it that is a unit of something else, "675 C", or a weight
    that is told as a length, "22 foot"; else ""."""
    figures = list(asides.FIGURE.finditer(words))
    if len(figures) == 1 and quantity == "mass" and _FOOT.match(words, figures[0].end()):
        unknown = not_known(words)
        weighed = not (unknown.openly or unknown.admitted or unknown.lacks or unknown.unmeasured or unknown.perhaps)
        return f"{figures[0].group()} ft" if weighed else ""
    letter = _LETTER.match(words, figures[0].end()) if len(figures) == 1 else None
    if letter is None or letter["unit"].lower() in QUANTITIES[quantity].aliases:
        return ""
    return f"{figures[0].group()} {letter['unit']}"
