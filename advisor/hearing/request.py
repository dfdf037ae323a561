"""What a caller's name for a turbocharger fixes, and what it leaves open.

"A 64", "64/71", "63/68 .90 divided T4": the sizes are wheel diameters in millimetres (common practice, no
source): the first the inducer of the compressor, the second the turbine wheel. Nothing more than what was
said is fixed; every number that can be taken another way leaves a doubt.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from advisor.units import SPREAD, Range, show
from advisor.words.numerals import DIGIT_NAMES, mixed_fraction
from advisor.words.people import MATE
from advisor.words.speech import clean, plain

from . import litres
from .spelled import in_digits
from .volunteered import without_year

WIDEST = 1.22  # turbine wheel against compressor inducer of one turbo, beyond which two turbos may be meant
_ANOTHERS = rf"\b(?:same|whatever|what|like|one)\b.*\b(?:{MATE}|his|their)\b"
MM, INCH = 0.001, 0.0254  # m
WHEELS = Range(0.040, 0.130)  # m; wheel diameters that a pickup, truck or pulling engine can carry
AREA_RATIOS = Range(0.3, 1.6)  # A/R (in) of turbine housings for such wheels
FEET = ("T3", "T4", "T6")
OPEN_BY_NAME = (
    ("compressor inducer", "compressor wheel size"),
    ("turbine wheel", "turbine wheel size"),
    ("housing A/R", "housing A/R"),
    ("housing entry", "housing entry (open or divided)"),
    ("turbine foot", "turbine foot"),
    ("compressor outlet", "compressor outlet"),
    ("wastegate", "wastegate"),
    ("bearing", "bearing"),
    ("fit", "whether it suits the engine"),
)
_MILLIMETRES = r"mm|mils?|mill|millimet(?:re|er)s?"
_INCHES = r'in|inch|inches|ins|"'
_NOT_WHEELS = re.compile(
    r"\s*-?\s*(?:hp|bhp|horse\w*|kw|ps|psi|pounds?|lbs?|bar|kpa|lit(?:re|er)s?|l|cc|ci|cid|cu"
    r"|cubic|cyl\w*|valves?|rpm|mph|miles?|km|kg|kilos?|ton(?:ne)?s?|t(?!\d)|k|%"
    r"|percent|degrees?|deg|f|c|ft|feet|grand|bucks|dollars|years?|model|blades?|cm2?|square|over "
    r"(?:stock|injectors?)|injectors?|trim)(?![a-z])"
)
# "Twelve hundred to spend" is money, revs or power, and neither a 12 nor a 100.
_HUNDREDS = re.compile(
    rf"\b(?:\d\d?|{'|'.join(DIGIT_NAMES[2:])}|ten|eleven|twelve|\w+teen|twenty(?:[- ]\w+)?) hundred\b"
    rf"(?! ?(?:{_MILLIMETRES})\b)"
)
# Injectors "forty over", "the 48 RE auto": figures of no turbo.
_OTHERS = re.compile(r"\b\d{2,3}(?: ?%| percent)? over\b(?! an? \d| \d)|\b\d\d [a-z]{1,3} (?=auto|trans|gearbox)")
# "One of them sixty-eights": the plural of a size.
_SIZES = re.compile(
    rf"(?<=them |hose |hese )((?:fifty|sixty|seventy|eighty|ninety)[- ](?:{'|'.join(DIGIT_NAMES[1:])})|[4-9][1-9])s\b"
)
_PIPES = re.compile(
    r"(?:[a-z-]+ ){0,2}(?:exhaust|downpipe|down pipe|pipe|pipes|v-?band|outlet|inlet|tube|boots?"
    r"|intake|hood)\b"
)
_HOUSING_AFTER = re.compile(
    r"\s*(?:a/r|ar|a r|(?:exhaust |turbine |divided |open |t[346] )*(?:housing|hot side|hotside))(?![a-z])"
)
_HOUSING_BEFORE = re.compile(r"(?:a/r|(?<![a-z])ar|housing|hot ?side)(?: of| is|:)?(?: a| an)?\s*$")
_TURBINE_AFTER = re.compile(r"\s*(?:turbine|exhaust wheel|turbine wheel|hot wheel)(?! housing)(?![a-z])")
_TURBINE_BEFORE = re.compile(r"(?:turbine|exhaust wheel|turbine wheel)(?: of| is)?(?: a| an)?\s*$")
_AVERSE = re.compile(
    r"(?:\b(?:not?|never|isn't|than|instead of|rather than|without|except|anything but|over|under"
    r"|above|below|from|had|replaces?|replacing|was)"
    r"(?: an?| the| my)?)\s*$"
)
# "Nothing bigger than a 2.6" names the size that he may have.
_AT_MOST = re.compile(
    r"\b(?:no|not|nothing|none|never|isn't|can't|cannot|mustn't|won't|wouldn't|don't)\b(?: [a-z']+){0,3}"
    r" (?:over|above|past|than)(?: an?| the)?\s*$"
)
_WEIGHED_OR_MADE = re.compile(
    r"\b(?:caravan|camper|trailer|boat|fifth wheel|gooseneck)s?'?s?"
    r"(?: (?:of|is|at|about|around|weigh\w*|maybe|roughly|that|which|loaded))* $"
    r"|\b(?:makes?|making|made)(?: about| around| maybe)? $"
)
_NUMBER = re.compile(
    r"(?<![a-z\d.,/-])(?P<dollar>[$£€])?(?P<figure>\d+ \d/\d+(?!\d)|\d*\.\d+|\d+)(?P<comma>,"
    r"\d+)?(?![\d.]*\d)"
)
_GATES = (
    (
        "none",
        r"\b(?:non[- ]?(?:waste ?)?gated|un-?(?:waste ?)?gated|gateless|(?:no|without an?|without"
        r"|not?) (?:waste ?)?gated?)\b",
    ),
    ("internal", r"\binternal(?:ly)?[- ](?:waste ?)?gated?\b|\binternal gate\b"),
    ("external", r"\bexternal(?:ly)?[- ](?:waste ?)?gated?\b"),
)


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for: diameters in m, A/R in inches (the trade's number); None where the words leave it
    open.

    `inducer` and `exducer` are of the compressor; `turbine` is the turbine wheel, without saying which of its
    diameters. `count` is "compound" or "twins". `fixes` pairs what is fixed with its text; `leaves_open`
    names the rest; `doubts` are whole sentences.
    """

    said: str
    inducer: Range | None = None
    exducer: Range | None = None
    turbine: Range | None = None
    housing_ratio: Range | None = None
    entry: str | None = None
    foot: str | None = None
    gate: str | None = None
    count: str | None = None
    fixes: tuple[tuple[str, str], ...] = ()
    leaves_open: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Size:
    """A wheel diameter (m) heard at a place in the text, in the unit it was said in, and what the words
    around call it.
    """

    value: float
    start: int
    end: int
    unit: str
    role: str


def decode(words: object) -> Request:
    """Read the trade's shorthand for a turbocharger. Never raises; what can't be read fixes nothing."""
    said = _HUNDREDS.sub("so much", _SIZES.sub(r"\1", without_year(plain(words))))
    text = _OTHERS.sub(" ", litres.without(in_digits(said)))
    doubts: list[str] = []
    count = _count(text)
    entry, foot, gate = _entry(text, doubts), _foot(text, doubts), _gate(text, doubts)
    sizes, ratios = _sort(text, doubts)
    pair = _pair(text, sizes, count)
    if pair and count == "twins":
        doubts.append("twins of two sizes are taken as one behind the other; or does he mean two side by side?")
    count = "compound" if pair else count
    wheels = {} if pair or _one_or_two(text, sizes, count, doubts) else _wheels(text, sizes, count, doubts)
    if re.search(_ANOTHERS, text) and not sizes:
        doubts.append("what is on another truck fixes nothing until its tag is read; ask for size and housing")
    ratio = None
    if len(ratios) == 1:
        ratio = Range(ratios[0], ratios[0])
    elif ratios:
        doubts.append(f"{' and '.join(f'{r:.2f}' for r in ratios)} are both read as A/R; which one is it?")
    if re.search(
        r"\b(?!t-?[346]\b)(?!v-?(?:6|8|10|12)\b)[a-z]{1,4}-?\d{2,4}[a-z]*\b|\b[a-z]-something\b", text
    ):
        doubts.append("a maker's frame name alone doesn't fix a wheel or a housing; ask for the wheel sizes")
    bearing = re.search(r"\bball[- ]?bearings?\b|\bbb\b", text), re.search(r"\bjournal\b", text)
    fixed = {
        "compressor inducer": _span(wheels.get("inducer"), sizes),
        "compressor exducer": _span(wheels.get("exducer"), sizes),
        "turbine wheel": _span(wheels.get("turbine"), sizes),
        "housing A/R": f"{ratio.low:.2f}" if ratio else None,
        "housing entry": entry,
        "turbine foot": foot,
        "wastegate": gate,
        "bearing": "ball"
        if bearing[0] and not bearing[1]
        else "journal"
        if bearing[1] and not bearing[0]
        else None,
        "chargers": count,
        "compressors of the pair": " over ".join(show(size, "mm", "length") for size in pair) or None,
    }
    if pair:
        fixed["compressor inducer"] = fixed["turbine wheel"] = None

    return Request(
        clean(words),
        wheels.get("inducer"),
        wheels.get("exducer"),
        wheels.get("turbine"),
        ratio,
        entry,
        foot,
        gate,
        count,
        tuple((what, value) for what, value in fixed.items() if value is not None),
        tuple(name for what, name in OPEN_BY_NAME[bool(pair) :] if fixed.get(what) is None),
        tuple(dict.fromkeys(doubts)),
    )


def _span(value: Range | None, sizes: list[_Size]) -> str | None:
    """The diameter in the unit it was said in, with millimetres beside inches."""
    if value is None:
        return None
    inches = any(size.unit == "in" and value.low <= size.value <= value.high for size in sizes)
    shown = show(value, "mm", "length")
    return f"{show(value, 'in', 'length')} ({shown})" if inches else shown


def _pair(text: str, sizes: list[_Size], count: str | None) -> tuple[float, ...]:
    """The compressors (m) of two turbos in series, the smaller first: "62/80 compounds"."""
    bare = [size.value for size in sizes if not size.role]
    if count is None or len(bare) != 2 or not max(bare) >= 1.1 * min(bare):
        return ()
    return min(bare), max(bare)


def _one_or_two(text: str, sizes: list[_Size], count: str | None, doubts: list[str]) -> bool:
    """Whether two sizes lie too far apart to be taken for the wheels of one turbo ("62 over 80"); leaves a doubt."""
    bare = [size for size in sizes if not size.role]
    if count or len(sizes) != 2 or len(bare) != 2 or bare[1].value < WIDEST * bare[0].value or _either(text, bare):
        return False
    shown = [show(size.value, size.unit, "length") for size in bare]
    doubts.append(f"{shown[0]} and {shown[1]}: the two wheels of one turbo, or two turbos in series? Ask which")
    return True


def _count(text: str) -> str | None:
    if re.search(
        r"\bcompounds?\b|\bcompounded\b|\btwo[- ]stage\b|\b2[- ]stage\b|\bsequentials?\b|\bcompound set\b",
        text,
    ):
        return "compound"
    twins = r"\btwins?\b(?![- ]?(?:scroll|entry|volute|inlet))|\b(?:pair|set|two|2|couple) (?:of )?\d\d(?:mm)?'?s\b"
    return "twins" if re.search(twins, text) else None


def _entry(text: str, doubts: list[str]) -> str | None:
    bare = re.sub(
        r"\b(?:un|non[- ]|not )divided\b|\bsingle[- ](?:scroll|entry|volute)\b|\bopen (?:scroll"
        r"|entry|volute)\b",
        " open ",
        text,
    )
    divided = re.search(r"\bdivided\b|\b(?:twin|dual|double|split)[- ](?:scroll|entry|volute|inlet)\b", bare)
    whole = re.search(r"\bopen\b", bare)
    if divided and whole:
        doubts.append("both open and divided are named; which entry is it?")
        return None
    return "divided" if divided else "open" if whole else None


def _foot(text: str, doubts: list[str]) -> str | None:
    named = {match[1] for match in re.finditer(r"(?<![a-z\d])t-? ?(\d{1,2})(?![\d.])", text)}
    known = sorted(f"T{digit}" for digit in named if f"T{digit}" in FEET)
    if len(known) == 1 and len(named) == 1:
        if re.search(r"\b(?:not|no|isn't|than|instead of|from)(?: an?| the)? t-? ?\d", text):
            doubts.append(f"{known[0]} is named as what it is not, or was; which foot is it?")
            return None
        return known[0]
    if named:
        doubts.append(
            f"{' and '.join(f'T{digit}' for digit in sorted(named))}: the foot is T3, T4 or T6; which one?"
        )
    return None


def _gate(text: str, doubts: list[str]) -> str | None:
    found = [name for name, pattern in _GATES if re.search(pattern, text)]
    if len(found) == 1:
        return found[0]
    if found or re.search(r"\b(?:waste ?)?gated?\b|\bwastegates?\b", text):
        doubts.append("a wastegate is named, but not whether it is internal, external or left off")
    return None


def _numbers(text: str) -> Iterator[tuple[re.Match[str], float]]:
    """Figures that stand alone or in a chain such as 63/68; parts of names ("x55") are passed over."""
    chained = re.sub(r"(?<=\d)\s*(mm)?\s*[/x*-]\s*(?=\d{2}|\.\d)", lambda m: " " * len(m[0]), text)
    for match in _NUMBER.finditer(chained):
        figure = match["figure"]
        if "/" in figure:
            mixed = mixed_fraction(figure.replace("/", " / ").split(), 0)
            if mixed:
                yield match, mixed[0].value
        elif len(figure) <= 8:
            yield match, float(figure)


def _sort(text: str, doubts: list[str]) -> tuple[list[_Size], list[float]]:
    """Every figure as a wheel size or an A/R, or left with a doubt."""
    sizes: list[_Size] = []
    ratios: list[float] = []
    compared: list[str] = []
    at_most: list[_Size] = []
    for match, value in _numbers(text):
        figure = match["figure"]
        before, after = text[: match.start()], text[match.end() :]
        if re.search(r"(?<![a-z\d])t-? ?$", before) or match["dollar"]:
            continue
        if match["comma"]:
            doubts.append(f"{match.group()} can be read more than one way; ask for it again")
            continue
        unit = re.match(rf"\s*-?\s*(?:(?P<mm>{_MILLIMETRES})|(?P<inch>{_INCHES}))(?![a-z])", after)
        if re.match(r"\s*-?\s*(?:cm2?|square|sq)\b", after):
            doubts.append(f"{figure} cm is a housing's throat area, not its A/R; ask for the A/R")
            continue
        if not unit and (_NOT_WHEELS.match(after) or _WEIGHED_OR_MADE.search(before)):
            continue
        rest = after[unit.end() :] if unit else after
        housing = _HOUSING_AFTER.match(rest) or _HOUSING_BEFORE.search(before)
        if unit and unit["inch"] and _PIPES.match(rest.lstrip(" -")):
            continue
        if _AVERSE.search(before) and not _joined(before) and not _AT_MOST.search(before):
            compared.append(figure)
            continue
        if not unit and AREA_RATIOS.low <= value <= AREA_RATIOS.high and "." in figure:
            ratios.append(value)
        elif (
            not unit and housing and value.is_integer() and AREA_RATIOS.low <= value / 100 <= AREA_RATIOS.high
        ):
            ratios.append(value / 100)
            doubts.append(f"{figure} is said of the housing, so it is taken as {value / 100:.2f} A/R")
        elif housing and _HOUSING_AFTER.match(rest) and not _TURBINE_AFTER.match(rest):
            doubts.append(f"{figure} isn't an A/R we know; ask for it again")
        else:
            size = _size(figure, value, unit, rest, before, match, doubts)
            if size and _AT_MOST.search(before):
                at_most.append(size)
            elif size and not _said_again(size, sizes, text):
                sizes.append(size)
    sizes = sizes or at_most[:1]
    said = {text[one.start : one.end].strip() for one in sizes}
    doubts += [f"{figure} is named for comparison, so it fixes nothing" for figure in compared if figure not in said]
    return sizes, ratios


LEAST_POWER = 200
"""From here on a bare figure of three digits behind another one is power, not a wheel: "a 66, I want 450"."""


def _said_again(size: _Size, sizes: list[_Size], text: str) -> bool:
    """Whether a size is one that was said before, and no second wheel of the same: "the 2.6 class, I want a 2.6"."""
    same = [one for one in sizes if one.value == size.value and one.role in ("", size.role)]
    return any(re.search(r"[a-z]{3}", text[one.end : size.start].replace("over", "")) for one in same)


def _joined(before: str) -> bool:
    """Whether "over" stands between two sizes ("64 over 67")."""
    return re.search(rf"\d\s*(?:{_MILLIMETRES}|{_INCHES})?\s*over(?: an?| the)?\s*$", before) is not None


def _size(
    figure: str,
    value: float,
    unit: re.Match[str] | None,
    rest: str,
    before: str,
    match: re.Match[str],
    doubts: list[str],
) -> _Size | None:
    """A figure as a wheel diameter, or None with a doubt."""
    inches = unit is not None and unit["inch"] is not None
    if (unit is None and WHEELS.low <= value * INCH <= WHEELS.high and "." in figure) or "/" in figure:
        if not inches:
            doubts.append(f"{figure} is taken as inches; did he mean that?")
        inches = True
    metres = value * (INCH if inches else MM)
    if not WHEELS.low <= metres <= WHEELS.high:
        power = unit is None and value >= LEAST_POWER and re.search(r"\d", before) and figure.isdigit()
        if (unit is not None or value > 10) and not (power and len(figure) == len(str(LEAST_POWER))):
            hint = f"; {figure[:2]}/{figure[2:]} perhaps?" if re.fullmatch(r"[4-9]\d[4-9]\d", figure) else ""
            doubts.append(
                f"{figure} can't be a wheel of {show(WHEELS, 'mm', 'length')}{hint}"
                if len(figure) < 9
                else "a number is too long for a wheel"
            )
        return None
    role = ""
    following = re.sub(r"^[\s-]*(?:compressor|cover|wheel)\s+", " ", rest)
    if re.match(r"\s*exducer\b", following):
        role = "exducer"
    elif re.match(r"\s*(?:inducer|smooth[- ]?bore)\b", following) or (
        re.search(r"(?<!\d )(?<!mm )\binducer(?: of| is| limit)?\s*(?:an? )?$", before)
    ):
        role = "inducer"
    elif _TURBINE_AFTER.match(rest) or _TURBINE_BEFORE.search(before):
        role = "turbine"
    return _Size(metres, match.start(), match.end(), "in" if inches else "mm", role)


def _wheels(text: str, sizes: list[_Size], count: str | None, doubts: list[str]) -> dict[str, Range]:
    """Which wheel each size belongs to."""
    wheels: dict[str, Range] = {}
    for role in ("inducer", "exducer", "turbine"):
        named = [size.value for size in sizes if size.role == role]
        if named:
            wheels[role] = Range(min(named), max(named))
            if len(set(named)) > 1:
                doubts.append(f"more than one {role} is named; which one is it?")
    bare = [size for size in sizes if not size.role]
    shown = [show(size.value, size.unit, "length") for size in bare]
    if len(bare) > 1 and _either(text, bare):
        low, high = sorted((bare[0].value, bare[1].value))
        wheels.setdefault("inducer", Range(low, high))
        doubts.append(f"{shown[0]} or {shown[1]}: taken as compressor inducers to choose between")
        bare = bare[2:]
    elif len(bare) > 1 and count == "compound":
        doubts.append(
            f"{shown[0]} and {shown[1]} may be the two compressors of the pair, or one charger's wheels; ask"
        )
        return wheels
    elif bare:
        taken = {"inducer", "turbine"} - set(wheels)
        if "inducer" in taken:
            first = bare.pop(0)
            about = re.search(
                r"\b(?:about|around|roughly|something like|like|near) (?:an? )?$", text[: first.start]
            )
            by = SPREAD * first.value if about else 0.0
            wheels["inducer"] = Range(first.value - by, first.value + by)
            if not bare and "exducer" not in wheels and "turbine" not in wheels:
                doubts.append(
                    f"{shown[0]} is taken as the compressor inducer, the usual reading; some mean the exducer"
                )
        if bare and "turbine" in taken:
            second = bare.pop(0)
            wheels["turbine"] = Range(second.value, second.value)
            which = "inducer or exducer"
            doubts.append(
                f"{show(second.value, second.unit, 'length')} is taken as the turbine wheel; "
                f"whether {which} isn't said"
            )
            if second.value < 0.9 * wheels["inducer"].low:
                doubts.append(
                    "the turbine wheel would be much smaller than the compressor; were the "
                    "numbers said the other way round?"
                )
    if bare:
        doubts.append(
            f"{show(bare[0].value, bare[0].unit, 'length')} is one number too many; what does it stand for?"
        )
    return wheels


def _either(text: str, bare: list[_Size]) -> bool:
    """Whether the first two sizes are alternatives ("64 or 66", "64 to 66")."""
    between = text[bare[0].end : bare[1].start]
    return (
        re.fullmatch(
            rf"\s*(?:{_MILLIMETRES}|{_INCHES})?,?\s*(?:or|to|maybe|or maybe)\s*(?:an? |the )?", between
        )
        is not None
    )
