"""A figure that is reckoned from what is told: a tyre's height from its size, a gear's ratio from its teeth, a share
from what is left of all.

"235/85R16" is a width in mm, a height of the sidewall in percent of it and a rim in inches (ISO 4000-1); "35 by
twelve-fifty" is the height in inches first. "41 and 11 teeth" are a ratio of 3.727. A grade of 7 degrees rises
by 12.3 %.
"""

import re
from math import radians, tan

from advisor.words.numerals import read_numeral

_ONES = "one|two|three|four|five|six|seven|eight|nine"
_TEENS = r"ten|eleven|twelve|(?:thir|four|fif|six|seven|eigh|nine)teen"
_TENS = "twenty|thirty|fou?rty|fifty|sixty|seventy|eighty|ninety"
_SPOKEN = re.compile(rf"\b(?:(?:{_TENS})(?:[ -](?:{_ONES}))?|{_TEENS}|{_ONES})(?=(?:s|es|ies)?\b)", re.IGNORECASE)
_TIES = re.compile(r"(?<=[a-z]{3})ties\b", re.IGNORECASE)
_BETWEEN = r"(?:[\s/,x-]|\b(?:by|on(?: an?)?|over|slash|series|dash|zr|r)\b|(?<![a-z])z?r(?=\d))*"
_WIDTH = r"(?P<hundreds>[1-4])(?: ?hundred)?(?: and)?[ -]?(?P<rest>(?:oh |0 ?)?[05]|[1-9][05]|(?<=hundred))"
_RIM = r"(?P<rim>1[4-9]|2[0-4])(?:s|es)?(?P<half>(?: |\.| point )5)?"
_METRIC = re.compile(rf"(?<![\d.]){_WIDTH}{_BETWEEN}\b(?P<aspect>[3-9][05])s?{_BETWEEN}(?<!\d){_RIM}\b", re.IGNORECASE)
_FLOTATION = re.compile(
    r"(?<![\d.])(?P<height>[23]\d|4[0-9]|5[0-4])(?P<tenth>\.\d+)?s?(?:[\s,x/-]|\bby\b)+"
    r"(?:9|1\d)(?:[. -]|\bpoint\b)+(?:00|50|5|25|75)\b(?! ?(?:psi|pounds|hundred|thousand))",
    re.IGNORECASE,
)
_WHOLE = re.compile(r"(?<![\d.,])\d{1,2}(?![\d.]|,\d)")
_TEETH = re.compile(
    r"\b(?:teeth|tooth|toothed|ring|crown|pinion|counted|over|into)\b|\d ?[/:] ?\d|^\W*\d+ (?:to|by|and) \d+\W*$"
    r"|^\W*\d\d (?:1\d|[5-9])\W*$",
    re.IGNORECASE,
)
_ALL_BUT = re.compile(
    r"\b(?:all|every\w*|(?:the )?whole (?:lot|thing))(?: of (?:it|them|'?em))?,? (?:but|bar|except|minus|less|save)"
    r"(?: for)?(?: maybe| about| the)? (?P<rest>\d\d?)(?= ?(?:%|per ?cent)?\W*$| ?(?:%|per ?cent))",
    re.IGNORECASE,
)
_AND_A_HALF = re.compile(
    r"^\W*(?:in )?(?:an?|one|1) (?P<unit>[a-z]+),? (?:or |maybe |perhaps )*(?:an? |one |1 )?(?P=unit) and a half\W*$",
    re.IGNORECASE,
)
_BIT_OVER = re.compile(
    r",? (?:and )?(?:maybe )?(?:a )?(?:bit|little|touch|hair|shade|tad) (?:over|more|above)\W*$", re.IGNORECASE
)
_IN_ONE = re.compile(
    r"\bin (?P<about>about |around |roughly |maybe )?(?:an?|one) (?P<unit>day|week|month|year)\b(?! or | and a half)",
    re.IGNORECASE,
)
_OUT_OF = re.compile(
    r"\b(?P<some>\d{1,3}) (?!point\b)(?:[a-z]+ ){1,2}(?:out of|of every|in every) (?:every )?(?P<all>\d{1,4})\b",
    re.IGNORECASE,
)
_SLOPE = re.compile(r"(?<![\d.,/-])(?P<angle>\d\d?(?:\.\d)?) ?(?:degrees?|deg|°)(?!\w| ?[cf]\b)", re.IGNORECASE)
_BAR_EIGHT = re.compile(
    r"(?<![\d.])(?P<whole>\d) (?:bar|kilos?) (?P<tenth>\d)"
    r"(?!\d|\.\d|,\d|-| ?(?:[a-z%]+ ?)?\d| ?(?:bar|kilos?|psi|pounds|lbs?|kg|%))",
    re.IGNORECASE,
)
"""A unit in the place of the point; a kilo of pressure is one on the square centimetre, 0.98 bar."""
_LEAST_TEETH, _MOST_TEETH = 5, 20  # of a pinion; its ring gear has more


def plainly(words: str, quantity: str) -> str:
    """The figure in words that the grammar of figures takes, where it has to be reckoned; "" where it hasn't."""
    if more := _AND_A_HALF.match(words):
        return f"1 to 1.5 {more['unit']}s"
    if quantity != "percent" and (over := _BIT_OVER.search(words)) and re.search(r"\w", words[: over.start()]):
        return f"just over {words[: over.start()]}"
    if quantity == "time" and (one := _IN_ONE.search(words)) and not re.search(r"\d", words):
        return f"{one['about'] or ''}1 {one['unit']}"
    if quantity not in ("length", "ratio", "percent", "pressure"):
        return ""
    digits = _SPOKEN.sub(_in_digits, _TIES.sub("ty", words))
    if quantity == "percent" and (slope := _SLOPE.search(digits)):
        return f"{100 * tan(radians(float(slope['angle']))):.3g} percent"
    if quantity == "percent":
        if left := _ALL_BUT.search(digits):
            return f"{100 - int(left['rest'])} percent"
        part = _OUT_OF.search(digits)  # "six hooks out of sixty"
        return f"{100 * int(part['some']) / int(part['all']):.3g} percent" if part and int(part["all"]) else ""
    if quantity == "ratio":
        return _of_teeth(digits)
    if quantity == "pressure":
        middle = _BAR_EIGHT.search(digits)
        return f"{middle['whole']}.{middle['tenth']} bar" if middle else ""
    if metric := _METRIC.search(digits):
        rest = int(re.sub(r"\D", "", metric["rest"]) or 0)
        width, rim = 100 * int(metric["hundreds"]) + rest, int(metric["rim"]) + 0.5 * bool(metric["half"])
        return f"{2 * width * int(metric['aspect']) / 100 / 25.4 + rim:.1f} inches"
    if flotation := _FLOTATION.search(digits):
        return f"{flotation['height']}{flotation['tenth'] or ''} inches"
    return ""


def _of_teeth(digits: str) -> str:
    """The ratio of two counts of teeth."""
    counts = sorted(int(one) for one in _WHOLE.findall(digits))
    if len(counts) != 2 or not _TEETH.search(digits) or not _LEAST_TEETH <= counts[0] <= _MOST_TEETH < counts[1]:
        return ""
    return f"{counts[1] / counts[0]:.4g}"


def _in_digits(found: re.Match[str]) -> str:
    numeral = read_numeral(re.split(r"[ -]", found[0].lower()), 0)
    return found[0] if numeral is None else f"{numeral[0].value:.0f}"
