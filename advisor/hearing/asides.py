"""A sentence with a figure, said more plainly: without what was taken back, and without figures of other things.

"five, no, six percent" says 6 %; "2,200, it's a 12 inch converter" holds one engine speed; "1,350, 1,400 on the pyro"
is a span. Every form offered here is read by the strict grammar of `units` afterwards.
"""

import re
from collections.abc import Iterator
from itertools import pairwise

from advisor import units
from advisor.quantities import QUANTITIES, Range, as_alias
from advisor.units import Heard, Unclear
from advisor.words.numerals import LONGEST, TENS_SAID

from . import spoken

NEIGHBOURS = 1.35  # two figures said in a row are the ends of a span when they are no further apart than this
FIVE = 5.0  # percent, by which, or twice that, a share may be told as two in a row
NEARLY = 1.1  # two figures of one thing in two units are no further apart
NEAR = 4.0  # a corrected figure is of the size of the one that it replaces

_SMALL = r"(?:one|two|three|four|five|six|seven|eight|nine)"
_TEN = rf"(?:ten|eleven|twelve|\w+teen|{TENS_SAID})"
_SPOKEN = rf"(?:{_TEN}|{_SMALL}|hundred|thousand|grand|point|oh|half|quarter)"
FIGURE = re.compile(
    rf"\$?\d[\d,.]*(?<![,.])(?:/\d+)?(?:k\b)?(?: (?:hundred|thousand|grand)\b)?"
    r"|\b(?:twent|thirt|fort|fift|sixt|sevent|eight|ninet)ies\b"
    rf"|\b{_SPOKEN}(?:(?: |-|,? and (?:a )?){_SPOKEN})*s?\b",
    re.IGNORECASE,
)
# What is counted or numbered beside the figure asked for.
_NOUN = (
    r"pl(?:y|ys|ies)|valves?|dis[ck]s?|plates?|speeds?|pass(?:es)?|hooks?|runs?|pulls?|trips?|times?|weekends?|wheels?|rims?|ty?ires?"
    r"|tyres?|holes?|years?|yrs?|months?|models?|manual|gears?|doors?|axles?|horses?|footers?|trailers?|trucks?|head|cattle|cows"
    r"|people|bales?|kids|passengers|fridays|nights|days|events?|out of(?! the| my| it)"
    r"|cylinders?|cyl|ratio|converter|studs?|bolts?"
    r"|owners?|boost|drive|of (?:them|those|these)|pieces?|per (?:bank|side)"
    r"|(?:valve )?springs?|marine|injectors?|a side|each|rows?|packs?|stages?|lifts?|down\b(?! pipe)|gear down"
)
_LINK = (
    r"(?:at|on|to|in|for|with|by|from|and|or|the|when|while|once|before|after|if|till|until|where|because|as|so|but"
    r"|i|we|he|she|it)\b"
)
_COUNTED = re.compile(rf"(?:(?!{_LINK}|last |this |next )\S+ ){{0,2}}(?:{_NOUN})\b", re.IGNORECASE)
_NTH = r"(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth)"
_ORDINAL = re.compile(
    rf"\b\d+(?:st|nd|rd|th)\b|\b(?:in|top|into) (?:\w+ )?{_NTH}\b|\b{_NTH} gear\b",
    re.IGNORECASE,
)
_YEAR = re.compile(
    r"(?:^|\b(?:in|an?|the|from|since|of|it's|is)\s+)(?:'?(?:19|20)\d\d|'[0189]\d)"
    r"(?:\s+(?:model|manual|truck|year|book))?\b",
    re.IGNORECASE,
)
_CUT = re.compile(
    r"\s*[,;](?!\d)\s*(?:and |so |but |that's |with |it's |its )*"
    r"|\s+(?:and (?=it's)|(?=(?:at|on|with|w/|in|from|same|behind|off|running|for|because|since|under)\s))",
    re.IGNORECASE,
)
_AT_MOST = re.compile(
    r",? (?:and )?(?:no|not|never) (?:an? )?(?:\w+ )?(?:more|later|bigger|higher|over|larger|heavier"
    r"|faster|steeper|hotter|above|past)"
    r"(?: than (?:that|it))?(?:[.,;!] ?[^\d]*)?$",
    re.IGNORECASE,
)
_AT_LEAST = re.compile(
    r",? (?:and )?(?:no|not|never) (?:less|lower|smaller|under|below)(?: than (?:that|it))?[.!]?$", re.IGNORECASE
)
_PLACE = re.compile(
    r"\s(?:over|up|at|on|across|through) the (?:pass|top|hill|summit|mountains?|(?:continental )?divide|needle|gauge"
    r"|dial|scales?|dyno|rollers|clock)\b",
    re.IGNORECASE,
)
_VERBS = (
    r"(?:(?:like|want|care|try|need|have) to )?(?:be|do|go|make|get|see|weigh|run|rev|turn|show|have"
    r"|let|push|take|drop|dip|fall)"
)
_CANNOT = re.compile(
    r"\b(?:it |she |he |they |i |we )?(?:can't|cannot|won't|couldn't|doesn't|don't|shouldn't|mustn't|hasn't"
    r"|haven't|ain't|never|hardly ever|rarely)"
    rf" (?:{_VERBS}s?|been|gone|seen|had)(?: it| her)? (?:any )?"
    r"(?:more|over|past|above|higher|bigger|beyond)"
    r"(?: than)?\s|\b(?:never|doesn't|don't|won't|can't) exceeds? |\bnot to exceed ",
    re.IGNORECASE,
)
_NOT_EVEN = re.compile(r"^(?:it's |that's )?not even (?=\d|\w+ ?(?:percent|%|hundred|thousand))", re.IGNORECASE)
_GOES_PAST = re.compile(
    r"^(?:it'?(?:ll|s)?|she'?(?:ll|s)?) (?:can |will )?(?:goe?s?|gets?|runs?|climbs?) past (?=\d)", re.IGNORECASE
)
_NEVER_LESS = re.compile(
    r"\b(?:it |she |he |they |i |we )?(?:can't|won't|doesn't|don't|never|hardly ever|rarely)"
    rf" {_VERBS}s?(?: it| her)? (?:any )?(?:less|under|below|lower)(?: than)?\s",
    re.IGNORECASE,
)
# "Not the V8, the six"; "3.55, not 3.73".
_NOT_THAT = re.compile(
    r"^(?:it's |no,? )?not (?:a |an |the )?[^,;]+[,;]\s*|[,;]?\s+not (?:a |an |the )?[^,;]+$", re.IGNORECASE
)
# "17.2 from the factory, but he dropped it to sixteen".
_CHANGED_TO = re.compile(
    r"\b(?:dropped|cut|raised|lowered|bumped|changed|brought|turned|pulled|opened|stretched|swapped)"
    r"(?: (?:it|them|her|that|the \w+))?(?: (?:down|up|out|back))? (?:to|for) (?!the\b)",
    re.IGNORECASE,
)
_THE_MOST = re.compile(r"(?:'s| is| was) the (?:most|best|max|highest|hottest|heaviest)\b[^\d]*$", re.IGNORECASE)
_PARTED_HUNDREDS = re.compile(r"(?<=thousand),\s+(?=\w+ hundred\b)", re.IGNORECASE)
_BY_THEN = re.compile(r"^(?:well |just |any ?time )?before (?=\d|\w+ (?:hundred|thousand|grand)|\w+teen)", re.I)
_HOW_OFTEN = re.compile(
    r"\b(?:once|twice|(?:a )?(?:couple|few)(?: of)? times) (?:a|every|each) (?:year|month|season|summer|week)\b,?"
    r"|,? (?:every|each) (?:single )?time\b(?=\W*$|[,;])",
    re.IGNORECASE,
)
_DUE = re.compile(rf"\bin ((?:a |an )?(?:{_SPOKEN}|\d+)? ?(?:days?|weeks?|months?))\b(?! and a half)", re.IGNORECASE)
_TIME_CLAUSES = re.compile(r"[,;] *(?:(?:so|and|but) )?")
_FROM_NOW = re.compile(r" from (?:today|now|tomorrow)\W*$", re.IGNORECASE)
_SOME_TIME = re.compile(r"\ban? (?:day|week|month|year)\b", re.IGNORECASE)
_NOT_MEASURED = re.compile(
    r",? (?:but )?(?:i |we )?(?:didn't|never|haven't|not)(?: \w+)? (?:measured?|weighed?|checked?"
    r"|looked|sure)(?: it| them)?$",
    re.IGNORECASE,
)
# What is said after a figure and leaves it as it is: "fifty-five if I can", "8 thousand with me and the tools".
_LEFT_ASIDE = re.compile(
    r",? (?:if (?:i|we|you|it|that|possible|need be|i'm)\b[^\d]*|(?:once|whenever|while|because|since"
    r"|so) (?:i|we|it|the|that|you)"
    r"(?:'s|'re|'m)? [^\d]*|per (?:the|unit|my|truck)\b[^\d]*|according to [^\d]*|or (?:i|it|we|they|else|the)\b[^\d]*"
    r"|and an? (?!half|quarter|third|bit|little|hundred|thousand|few|couple)\w+[.!]?|with (?:me|us"
    r"|the|a|my|full|everything|all|kids|gear|tools|fuel|driver"
    r"|both|two people)\b[^\d]*)$",
    re.IGNORECASE,
)
PER_TIME = re.compile(r"(?:lbs?|kg|g|l|gal|cc|pounds)/(?:min(?:ute)?|s(?:ec)?|hr?)\b", re.IGNORECASE)  # "60 lb/min"
_DISTANCE = re.compile(r"\s?(?:kilomet(?:er|re)s?|kms?|klicks|miles)\.?$", re.IGNORECASE)
_ON_RIMS = re.compile(r"\b(\d\d)(?:s|'s)? (?:on|over|around) (?:\d\d)(?:s|'s)?\b", re.IGNORECASE)
_THE_REST = re.compile(r",? (?:and )?(?:the )?(?:other|rest|remaining|remainder)\b.*$", re.IGNORECASE)
# How he drives, said after a figure: "3000, I don't rev it towing", "3600 it pulls till".
_HABIT = re.compile(
    r",\s*(?:i|we) (?:don't|never|rarely) (?:rev|wind|lug|push) (?:it|her|mine)\b[^\d]*$"
    r"|,?\s+(?:it|she) (?:pulls|runs|revs|goes) (?:till|until|to)$",
    re.IGNORECASE,
)
_UNIT_AFTER = re.compile(r",? (?:measured )?in (?=[a-z]+(?: [a-z]+)?[.]?$)", re.IGNORECASE)


def plainer(words: str, quantity: str) -> Iterator[str]:
    """Forms of the sentence with one figure, or with one span, the likeliest first."""
    if _AT_MOST.search(words):
        yield "at most " + _AT_MOST.sub("", words)
    if _AT_LEAST.search(words):
        yield "at least " + _AT_LEAST.sub("", words)
    if habit := _HABIT.search(words):
        yield words[: habit.start()]
    if _NOT_EVEN.search(words):
        yield _NOT_EVEN.sub("at most ", words)
    if _GOES_PAST.search(words):
        yield _GOES_PAST.sub("at least ", words)
    if _CANNOT.search(words):
        yield _CANNOT.sub("at most ", words)
    if (denied := _NOT_THAT.search(words)) and FIGURE.search(denied[0]):
        kept = (words[: denied.start()] + words[denied.end() :]).strip(" ,;")
        if FIGURE.search(kept):
            yield kept
    if changed := _CHANGED_TO.search(words):
        yield words[changed.end() :]
    if the_most := _THE_MOST.search(words):
        yield words[: the_most.start()]
    if parted := _PARTED_HUNDREDS.search(words):
        yield f"{words[: parted.start()]} {words[parted.end() :]}"
    if quantity == "rotation" and _BY_THEN.match(words):
        yield _BY_THEN.sub("under ", words)
    if quantity != "percent" and _HOW_OFTEN.search(words):
        yield _HOW_OFTEN.sub("", words)
    if quantity == "time" and len(due := list(_DUE.finditer(words))) == 1:
        yield due[0][1]
    if quantity == "time" and (from_now := _FROM_NOW.search(words)):
        yield words[: from_now.start()]
    if quantity == "time":  # "I lose money every day it sits, so within a week"
        yield from (clause for clause in reversed(_TIME_CLAUSES.split(words)) if _SOME_TIME.search(clause))
    if quantity == "percent":
        clauses = re.split(r"\s*[,;](?!\d)\s*", words)
        shares = [clause for clause in clauses if re.search(r"%|\bper ?cent\b", clause)]
        beside = [clause for clause in clauses if clause not in shares]
        if len(shares) == 1 and beside and all(all_aside(one, quantity) for one in beside):
            hedged = any(map(spoken.HEDGED.fullmatch, beside))  # "..., give or take"
            yield f"about {shares[0]}" if hedged else shares[0]
    if guessed := _NOT_MEASURED.search(words):
        yield words[: guessed.start()]
    if _NEVER_LESS.search(words):
        yield _NEVER_LESS.sub("at least ", words)
    left = _LEFT_ASIDE.search(words)
    if left and FIGURE.search(words[: left.start()]) and not FIGURE.search(left[0]):
        yield words[: left.start()]
    if len(FIGURE.findall(words)) == 1 and re.search(r",\s", words):
        yield re.sub(r",(?=\s)", "", words)  # "15.5 thousand... pounds"
    if (rest := _THE_REST.search(words)) and FIGURE.search(words[: rest.start()]):
        yield words[: rest.start()]
    unit, _, half = words.partition(" and a ")
    if unit.lower() in QUANTITIES[quantity].aliases and re.match(r"half|quarter|third", half, re.IGNORECASE):
        yield f"a {words}"  # "bar and a half"
    if quantity == "speed" and _DISTANCE.search(words):
        yield _DISTANCE.sub(lambda found: " km/h" if found[0].strip()[0] in "kK" else " mph", words)
    if quantity == "length" and (tyre := _ON_RIMS.search(words)):
        yield f"{tyre[1]} inches"
    if _UNIT_AFTER.search(words):
        yield _UNIT_AFTER.sub(" ", words)
    if re.search(r"\beither\b.* or ", words, re.IGNORECASE):
        yield re.sub(r"\beither\s+(?:about )?", "", words, flags=re.IGNORECASE)
    if quantity in ("mass", "altitude") and re.search(r"\bgrand\b", words, re.IGNORECASE):
        yield re.sub(r"\bgrand\b", "thousand", words, flags=re.IGNORECASE)
    if _PLACE.search(words):
        yield _PLACE.sub(" ", words)
    yield from _without_asides(words, quantity)


def corrected(words: str, quantity: str, unit: str) -> Iterator[tuple[str, Heard | None]]:
    """What is left when something was taken back, with the figure that was replaced where that can be read; what is
    left takes its unit or "hundred" from it."""
    for later in spoken.corrected(words):
        earlier = words[: words.rindex(later.removeprefix("about "))]
        if not (FIGURE.search(later) and FIGURE.search(earlier)):
            continue
        first = _first_figure(earlier, quantity, unit)
        yield from ((form, first) for form in _carried(later, earlier, first))


def carried(later: str, earlier: str, quantity: str, unit: str) -> Iterator[str]:
    """The words for a figure in the place of an earlier one, also with the unit or the scale of that."""
    return _carried(later, earlier, _first_figure(earlier, quantity, unit))


def _carried(later: str, earlier: str, first: Heard | None) -> Iterator[str]:
    yield later
    if first is not None:
        for scale in ("hundred", "thousand", "grand", "k"):
            if re.search(rf"(?:\b|\d){scale}\b", earlier, re.IGNORECASE):
                yield f"{later} {scale}"
        if re.search(r"\d,\d{3}\b|\b\d{4,6}\b", earlier):
            yield f"{later} thousand"
        yield f"{later} {first.unit}"


def neighbours(words: str) -> Iterator[str]:
    """Two figures in a row as the ends of a span."""
    for comma in re.finditer(r"\s*,\s+(?:maybe |perhaps |or |about )?", words):
        before, after = words[: comma.start()], words[comma.end() :]
        last = list(FIGURE.finditer(before))
        if last and last[-1].end() == len(before) and FIGURE.match(after):
            yield f"{before} to {after}"


def apart(heard: Heard, quantity: str) -> bool:
    """Whether the ends of a span are further apart than those of neighbours: "two, three weeks" are some."""
    low, high = (units.from_si(end, heard.unit, quantity) for end in (heard.value.low, heard.value.high))
    counted = low >= 2 and round(high - low, 6) == 1 and round(low, 6) == int(low + 0.5)
    counted = counted or (quantity == "percent" and low >= FIVE and round(high - low, 6) in (FIVE, 2 * FIVE))
    return heard.value.low <= 0 or (heard.value.high > NEIGHBOURS * heard.value.low and not counted)


def same_size(heard: Heard, first: Heard | None) -> bool:
    """Whether a corrected figure can stand for the one that it replaces."""
    if first is None or first.value.mid <= 0 or heard.value.mid <= 0:
        return True
    by = heard.value.mid / first.value.mid
    return any(1 / NEAR <= by / times <= NEAR for times in (1, 100, 1000))  # "fourteen, no, sixteen thousand"


def _first_figure(earlier: str, quantity: str, unit: str) -> Heard | None:
    found = list(FIGURE.finditer(earlier))
    if not found:
        return None
    for text in (earlier.strip(" ,;."), earlier[found[-1].start() :].strip(" ,;."), found[-1].group()):
        try:
            return units.read_number(text, quantity, unit)
        except Unclear:
            continue
    return None


def _without_asides(words: str, quantity: str) -> Iterator[str]:
    for cut in _CUT.finditer(words):
        head, tail = words[: cut.start()].strip(" ,;"), words[cut.end() :].strip(" ,;.")
        if not head or not tail:
            continue
        figures = [FIGURE.search(head), FIGURE.search(tail)]
        if figures[0] and figures[1]:
            if all_aside(tail, quantity) and not all_aside(head, quantity):
                yield head
            elif all_aside(head, quantity) and not all_aside(tail, quantity):
                yield tail


def all_aside(clause: str, quantity: str) -> bool:
    """Whether every figure of a clause measures or numbers something else."""
    rest = _ORDINAL.sub(" ", clause)
    if not FIGURE.search(rest):
        return True
    for figure in FIGURE.finditer(rest):
        if len(figure.group()) > LONGEST * 2:
            return False
        after = re.findall(r"[^\s,;.-]+", re.split(r"[,;](?!\d)", rest[figure.end() :])[0])[:3]
        if quantity == "power" and after and after[0].lower().startswith("horse"):
            return False
        noun = quantity != "count" or not re.match(r"cyl", " ".join(after), re.IGNORECASE)
        if rest[figure.end() :].startswith("s") and quantity != "length" and re.fullmatch(r"[23]\d", figure.group()):
            continue  # "1,600 with the 35s"
        if quantity != "length" and re.match(r"(?:in|mm|cm)\b", rest[figure.end() :], re.IGNORECASE):
            continue  # "12in converter"
        if quantity == "count" and "." in figure.group():
            continue
        counted = noun and _COUNTED.match(" ".join(after))
        year = any(
            year.start() <= figure.start() < year.end() for year in _YEAR.finditer(rest)
        )
        if not (counted or year or other_unit(after, quantity)):
            return False
    return True


_PAUSE = re.compile(r" ?(?P<unit>[a-z]*)\s*(?:\.{2,}|\u2026)\s*", re.IGNORECASE)


def undecided(words: str, quantity: str) -> bool:
    """Whether figures apart from each other are told in units of the quantity, or one of them right after a pause
    behind another, with nothing that says which of them counts."""
    figures = list(FIGURE.finditer(words))
    if len(figures) < 2 or any(spoken.corrected(words)):
        return False
    told = [_in_own_unit(hit, words, quantity) for hit in figures]
    middles = [one.value.mid for one in told if one is not None]
    between = (_PAUSE.fullmatch(words[one.end() : other.start()]) for one, other in pairwise(figures))
    paused = any(one and one["unit"].lower() in ("", *QUANTITIES[quantity].aliases) for one in between)
    return paused or (len(middles) > 1 and max(middles) > NEARLY * min(middles))


_NOT = re.compile(r"\b(?:not|isn't|ain't|wasn't|instead of|rather than|than) (?:an? |the |at )?$", re.IGNORECASE)


# What a figure measures, or is a part of: "35 on a 60 psi gauge", "2 bar and half".
_OF_MORE = re.compile(r"[ -]?\w*[ -]gauge\b|[ -]?\w* and (?:a )?(?:half|quarter)\b", re.IGNORECASE)


def passed_over(words: str, value: Range, quantity: str, unit: str, plausible: Range) -> bool:
    """Whether a figure that could be the answer as well stands among the words and isn't in what was taken."""
    words = _THE_REST.sub("", words)
    figures = list(FIGURE.finditer(words))
    gaps = [re.sub(r"\band\b", "", words[one.end() : other.start()]).strip() for one, other in pairwise(figures)]
    joined = [not gap or gap.lower() in QUANTITIES[quantity].aliases for gap in gaps]  # "3 1/2", "two tonne six"
    for figure, before, after in zip(figures, [False, *joined], [*joined, False], strict=True):
        if before or after:
            continue
        rest = re.split(r"[,;](?!\d)", words[figure.end() :])[0]
        own = _in_own_unit(figure, words, quantity) is not None  # "a ten thousand foot pass"
        aside = (all_aside(figure.group() + rest, quantity) and not own) or _NOT.search(words[: figure.start()])
        aside = aside or _OF_MORE.match(rest)
        if aside or figure.group().lower() in ("one", "half", "quarter") or _ORDINAL.match(words, figure.start()):
            continue
        try:
            told = units.read_number(figure.group(), quantity, unit).value
        except Unclear:
            continue
        times = (1, 100, 1000) if quantity in ("rotation", "mass", "money", "altitude") else (1, 100)
        ends = [(by * told.low, by * told.high) for by in times]
        if any(low <= value.high * 1.01 and high >= value.low * 0.99 for low, high in ends):
            continue
        could = ends if quantity == "rotation" else ends[:1]  # "fourteen" is an engine speed as it stands
        if any(plausible.low <= low and high <= plausible.high for low, high in could):
            return True
    return False


def _in_own_unit(hit: re.Match[str], words: str, quantity: str) -> Heard | None:
    """A figure with its unit, where it has one of the quantity behind it."""
    after = re.split(r"[ -]", words[hit.end() :].strip(" -"))
    for count in (3, 2, 1):
        if (unit := QUANTITIES[quantity].aliases.get(as_alias(" ".join(after[:count]).strip(".,;")))) is not None:
            try:
                return units.read_number(hit.group(), quantity, unit)
            except Unclear:
                return None
    return None


def unit_told(words: str, quantity: str) -> str:
    """The unit of the quantity that is said with the first figure that has one; "" where none has."""
    told = (_in_own_unit(figure, words, quantity) for figure in FIGURE.finditer(words))
    return next((one.unit for one in told if one is not None), "")


def other_unit(after: list[str], quantity: str) -> bool:
    """Whether the words after a figure begin with the unit of another quantity, and not with one of this; of any where
    it is none ("")."""
    own = QUANTITIES[quantity].aliases if quantity else {}
    if quantity not in ("speed", "length", "altitude") and after and _DISTANCE.fullmatch(f" {after[0]}"):
        return True
    if after and PER_TIME.match(after[0]):
        return True
    for count in (3, 2, 1):
        said = " ".join(after[:count]).lower().strip(".,;").replace("/", " / ")
        if said in own and said not in ("in", "k"):
            return False
        told = (len(said) > 1 and said != "in") or said in ('"', "%")
        if told and any(said in kind.aliases for name, kind in QUANTITIES.items() if name != quantity):
            return True
    return False


_PAYS = r"\b(?:spend\w*|budget|costs?|price\w*|pay(?:ing)?|paid|cash|money|buys?|gets? me|saved)\b"
_SUM = r"\b(?:grand|thousand|\d+k)\b"
_MONEY = re.compile(
    rf"[$] ?\d|\b(?:bucks?|dollars?|euros?)\b|{_PAYS}.*{_SUM}|{_SUM}.*{_PAYS}", re.IGNORECASE
)
_SHARE = re.compile(rf"(?:\d|{_SPOKEN}) ?(?:%|per ?cent\b)", re.IGNORECASE)


def is_money(words: str) -> bool:
    """Whether a figure among the words is a sum of money."""
    return _MONEY.search(words) is not None


def is_share(words: str) -> bool:
    """Whether a percentage is among the words, which no choice is told by."""
    return _SHARE.search(words) is not None
