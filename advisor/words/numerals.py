"""Figures as they are written and spoken, one at a time: "14.5k", "1 1/2", "three fifty", "six two zero
zero".

Which of two readings is meant can depend on what is measured, so a numeral keeps both; `units` settles it or
asks. How numbers sound is here too, for reading them back.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from .speech import Unclear

_ONES = {
    w: i for i, w in enumerate(["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"], 1)
}
_TEENS = {
    w: i
    for i, w in enumerate(
        [
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ],
        10,
    )
}
_TENS = {
    w: 10 * i
    for i, w in enumerate(["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], 2)
}
_TENS["fourty"] = 40
TENS_SAID = rf"(?:{'|'.join(_TENS)})"  # in a pattern
_ZERO = {"zero": 0, "oh": 0, "nought": 0, "naught": 0}
_SCALES = {"hundred": 100.0, "thousand": 1000.0, "grand": 1000.0, "k": 1000.0}
_PARTS = {"half": 2, "third": 3, "quarter": 4, "fifth": 5, "eighth": 8, "tenth": 10, "sixteenth": 16}
_PARTS |= {f"{part}s": count for part, count in _PARTS.items() if part != "half"} | {"halves": 2}
NUMBER_WORDS = frozenset([*_ONES, *_TEENS, *_TENS, *_SCALES, *_PARTS])
_DENOMINATORS = frozenset((2, 3, 4, 8, 16, 32, 64))
LONGEST = 15  # digits; more than that is no figure anyone says


@dataclass(frozen=True, slots=True)
class Numeral:
    """One figure as said.

    `value` is the usual reading, `other` a second one. `form` says how it was put: "plain"; "point" (1.234:
    thousands or decimals), "comma" (2,4), "grouped" (2,400), "hundreds" ("three fifty": 350 or 3.50), "pair"
    ("five nine": 5.9 or nothing), "couple", "part" (less than one, in words or as a fraction). `mantissa` and
    `scale` are kept so that "12 to 14 thousand" can share the scale.
    """

    value: float
    form: str = "plain"
    other: float | None = None
    mantissa: float = 0.0
    scale: float = 1.0
    digits: bool = False


def _unreadable(said: str) -> Unclear:
    return Unclear(
        f'"{said}" can be taken more than one way; please say the whole figure', "for example 1,250"
    )


def _digits(text: str) -> Numeral:
    """A figure in digits, with its second reading where a point or comma leaves one."""
    if sum(c.isdecimal() for c in text) > LONGEST:
        raise Unclear("that is too long for a figure", "for example 1,250")
    if re.fullmatch(r"\d*\.\d+|\d+", text):
        value = float(text)
        form = "point" if re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", text) else "plain"
        other = float(text.replace(".", "")) if form == "point" else None
        return Numeral(value, form, other, value, digits=True)
    if re.fullmatch(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?", text):
        value = float(text.replace(",", ""))
        single = re.fullmatch(r"\d+,\d{3}", text)
        return Numeral(
            value,
            "grouped" if single else "plain",
            float(text.replace(",", ".")) if single else None,
            value,
            digits=True,
        )
    if re.fullmatch(r"\d+,\d+", text):
        return Numeral(
            float(text.replace(",", ".")),
            "comma",
            float(text.replace(",", "")),
            float(text.replace(",", ".")),
            digits=True,
        )
    raise Unclear(
        f'"{text}" can be taken more than one way; please say the figure again', "for example 1,250.5"
    )


def small_number(words: Sequence[str], at: int) -> tuple[int, int] | None:
    """A whole number of 0 to 99 in words (or one to 99 in digits), and where the next word stands."""
    if at >= len(words):
        return None
    word = words[at]
    if word in _TENS:
        if at + 1 < len(words) and words[at + 1] in _ONES:
            return _TENS[word] + _ONES[words[at + 1]], at + 2
        return _TENS[word], at + 1
    for table in (_ONES, _TEENS, _ZERO):
        if word in table:
            return table[word], at + 1
    return None


def decimals_said(words: Sequence[str], at: int) -> tuple[str, int]:
    """The digits said after "point"."""
    digits = ""
    while at < len(words) and (words[at] in _ONES or words[at] in _ZERO):
        digits += str(_ONES.get(words[at], 0))
        at += 1
    if not digits and (tail := small_number(words, at)):
        digits, at = str(tail[0]), tail[1]
    if not digits:
        raise Unclear('a figure is missing after "point"', "for example two point four")
    if len(digits) > 6:
        raise Unclear("that is too long for a figure", "for example two point four")
    return digits, at


def mixed_fraction(words: Sequence[str], at: int) -> tuple[Numeral, int] | None:
    """ "1 1/2", "1-1/2", "3/4": fractions as tradesmen write them."""

    def fraction(i: int) -> float | None:
        if i + 2 < len(words) and words[i + 1] == "/" and words[i].isdecimal() and words[i + 2].isdecimal():
            if max(len(words[i]), len(words[i + 2])) > 2:
                return None
            top, bottom = int(words[i]), int(words[i + 2])
            if bottom in _DENOMINATORS and 0 < top < bottom:
                return top / bottom
        return None

    if not words[at].isdecimal():
        return None
    part = fraction(at)
    if part is not None:
        return Numeral(part, "part", mantissa=part, digits=True), at + 3
    gap = 1 if at + 1 < len(words) and words[at + 1] == "to-dash" else 0
    part = fraction(at + 1 + gap)
    if part is not None and len(words[at]) <= 3 and int(words[at]) > 0:
        value = int(words[at]) + part
        return Numeral(value, mantissa=value, digits=True), at + 4 + gap
    return None


def and_part(words: Sequence[str], at: int) -> tuple[float, int] | None:
    """ "and a half", "and three quarters", "and 1/2": the part after a whole number."""
    if at >= len(words) or words[at] != "and":
        return None
    at += 1
    if (
        at < len(words)
        and words[at] in ("a", "an", "one")
        and at + 1 < len(words)
        and words[at + 1] in _PARTS
    ):
        return 1 / _PARTS[words[at + 1]], at + 2
    if at < len(words) and words[at].isdecimal():
        mixed = mixed_fraction(words, at)
        return (mixed[0].value, mixed[1]) if mixed and mixed[0].form == "part" else None
    top = small_number(words, at)
    if top and top[1] < len(words) and words[top[1]] in _PARTS:
        value = top[0] / _PARTS[words[top[1]]]
        return (value, top[1] + 1) if 0 < value < 1 else None
    return None


def _group(words: Sequence[str], at: int) -> tuple[Numeral, int] | None:
    """A number below a thousand scale: small, hundreds, "three fifty", digit by digit."""
    run = at
    while run < len(words) and (words[run] in _ONES or words[run] in _ZERO):
        run += 1
    after = words[run] if run < len(words) else ""
    if run - at >= 3 and after not in _SCALES and after not in _TEENS and after not in _TENS:
        if run - at > 6:
            raise Unclear("that is too long for a figure", "for example 1,250")
        value = float("".join(str(_ONES.get(word, 0)) for word in words[at:run]))
        if run - at == 3 and words[at + 1] in _ZERO and value >= 100:  # three oh eight
            return Numeral(value, "hundreds", value / 100, value), run
        return Numeral(value, mantissa=value), run
    if (
        run - at >= 2
        and after not in _TEENS
        and after not in _TENS
        and after not in _SCALES
        and after != "point"
    ):
        first = words[at]
        if first in _ONES and run - at == 2:
            return Numeral(float(f"{_ONES[first]}.{_ONES.get(words[at + 1], 0)}"), "pair"), run
    first_number = small_number(words, at)
    if first_number is None:
        return None
    head, at = first_number
    if at < len(words) and words[at] == "hundred":
        return _after_hundred(float(head), words, at + 1)
    second = small_number(words, at)
    if second is None:
        return Numeral(float(head), mantissa=float(head)), at
    tail, then = second
    if head in range(1, 100) and tail == 0 and (unit := small_number(words, then)) and 0 < unit[0] < 10:
        tail, then = unit[0], unit[1]  # one oh five
    elif tail < 10 or head == 0:
        raise _unreadable(" ".join(words[at - 1 : then]))
    if then < len(words) and (words[then] in _SCALES or words[then] == "point" or small_number(words, then)):
        raise _unreadable(" ".join(words[at - 1 : then + 1]))
    return _hundreds(head, tail, " ".join(words[at - 1 : then])), then


def _hundreds(head: int, tail: int, said: str) -> Numeral:
    """ "three fifty", "twelve fifty"; refused where it can also be a range, as in "fifteen twenty"."""
    rising = head >= 10 and head < tail <= head + 10
    if rising or head == tail or (head >= 20 and head % 10 == 0 and tail % 10 == 0):
        raise _unreadable(said)
    value = 100.0 * head + tail
    return Numeral(value, "hundreds", head + tail / 100, value)


def _after_hundred(head: float, words: Sequence[str], at: int) -> tuple[Numeral, int]:
    joined = at + 1 if at < len(words) and words[at] == "and" else at
    tail = small_number(words, joined)
    if tail and tail[0] > 0 and not (tail[1] < len(words) and words[tail[1]] in _PARTS):
        if tail[1] < len(words) and (words[tail[1]] == "hundred" or small_number(words, tail[1])):
            if joined == at:
                raise _unreadable(" ".join(words[at - 1 : tail[1] + 1]))
            return Numeral(100 * head, mantissa=head, scale=100.0), at
        value = 100 * head + tail[0]
        return Numeral(value, mantissa=value), tail[1]
    return Numeral(100 * head, mantissa=head, scale=100.0), at


def _start(words: Sequence[str], at: int, scales: bool) -> tuple[Numeral, int] | None:
    """The figure before any thousand."""
    word = words[at]
    if word[0].isdecimal() or (word[0] in ".," and len(word) > 1):
        mixed = mixed_fraction(words, at)
        if mixed:
            return mixed
        numeral = _digits(word)
        at += 1
        follows = words[at] if at < len(words) else ""
        if follows == "hundred":
            if numeral.form != "plain" or numeral.value >= 100:
                raise _unreadable(f"{word} hundred")
            return _after_hundred(numeral.value, words, at + 1)
        if follows in _TENS or follows in _TEENS:
            tail = small_number(words, at)
            if tail and word.isdecimal() and 0 < numeral.value < 100:
                return _hundreds(int(word), tail[0], f"{word} {follows}"), tail[1]
        if re.fullmatch(r"\d{3}", follows) and re.fullmatch(r"[1-9]\d{0,2}", word):
            value = float(word + follows)  # thousands parted by a space, as the SI brochure has it
            return Numeral(value, "grouped", float(f"{word}.{follows}"), value, digits=True), at + 1
        return numeral, at
    if word == "point":
        digits, at = decimals_said(words, at + 1)
        return Numeral(float("0." + digits), mantissa=float("0." + digits)), at
    if word == "hundred":
        return _after_hundred(1.0, words, at + 1)
    if word in ("thousand", "grand"):
        return Numeral(1.0, mantissa=1.0), at
    if word == "couple":
        step = 2 if at + 1 < len(words) and words[at + 1] == "of" else 1
        if at + step < len(words) and words[at + step] == "hundred":
            return Numeral(200.0, "couple", mantissa=2.0, scale=100.0), at + step + 1
        return Numeral(2.0, "couple", mantissa=2.0), at + step
    if word in _PARTS:
        value = 1 / _PARTS[word]
        return Numeral(value, "part", mantissa=value), at + 1
    small = small_number(words, at)
    if (
        small
        and small[1] < len(words)
        and words[small[1]] in _PARTS
        and 0 < small[0] < _PARTS[words[small[1]]]
    ):
        value = small[0] / _PARTS[words[small[1]]]
        return Numeral(value, "part", mantissa=value), small[1] + 1
    group = _group(words, at)
    if group and group[1] < len(words) and words[group[1]] == "point" and group[0].form == "plain":
        digits, at = decimals_said(words, group[1] + 1)
        value = float(f"{group[0].value:.0f}.{digits}")
        return Numeral(value, mantissa=value), at
    return group


def read_numeral(words: Sequence[str], at: int, scales: bool = True) -> tuple[Numeral, int] | None:
    """The figure that begins at a token and where it ends, or None when none begins there; Unclear for a
    figure with no one reading.

    `scales` False leaves "k" alone (for temperatures, where it means kelvin).
    """
    if at >= len(words):
        return None
    started = _start(words, at, scales)
    if started is None:
        return None
    numeral, at = started
    part = and_part(words, at)
    if part and numeral.form == "plain" and numeral.value == int(numeral.value):
        value = numeral.value + part[0] * numeral.scale
        numeral, at = Numeral(value, mantissa=numeral.mantissa + part[0], scale=numeral.scale), part[1]
    scale = _SCALES.get(words[at], 0.0) if at < len(words) else 0.0
    if part and scale == 100.0 and 1 <= numeral.mantissa < 100:  # two and a half hundred
        value = 100 * numeral.mantissa
        return Numeral(value, mantissa=numeral.mantissa, scale=100.0), at + 1
    if not scale or (words[at] == "k" and not scales):
        return numeral, at
    if scale == 100.0 or numeral.form in ("pair", "part", "comma"):
        raise _unreadable(" ".join(words[max(0, at - 2) : at + 1]))
    at += 1
    value = numeral.value * 1000
    other = None if numeral.other is None else numeral.other * 1000
    numeral = Numeral(value, numeral.form, other, numeral.value, 1000.0, numeral.digits)
    part = and_part(words, at) if words[at - 1] == "grand" and numeral.mantissa == 1 else None
    if part:  # a grand and a half
        value += 1000 * part[0]
        return Numeral(value, mantissa=value), part[1]
    if words[at - 1] != "thousand" or numeral.form != "plain":
        return numeral, at
    joined = at + 1 if at < len(words) and words[at] == "and" else at
    tail = _group(words, joined) if joined < len(words) and words[joined] != "hundred" else None
    if (
        joined + 1 < len(words)
        and words[joined].isdecimal()
        and words[joined + 1] == "hundred"
        and len(words[joined]) == 1
    ):
        tail = _after_hundred(float(words[joined]), words, joined + 2)
    if tail is None:
        return numeral, at
    size = tail[0].value
    if joined != at and tail[1] < len(words) and words[tail[1]] in _SCALES:
        return numeral, at  # "between five thousand and six thousand"
    if tail[0].form not in ("plain", "hundreds") or size >= 1000 or (size < 10 and joined == at):
        raise _unreadable(" ".join(words[at - 1 : tail[1]]))
    return Numeral(value + size, mantissa=value + size), tail[1]


def singular(word: str) -> str | None:
    """The number that a word is the plural of, as "thirty" for "thirties" and "ten" for "tens"; else None."""
    stem = (
        word[:-3] + "y" if word.endswith("ies") else word[:-2] if word == "sixes" else word.removesuffix("s")
    )
    known = stem in _ONES or stem in _TEENS or stem in _TENS or stem in ("hundred", "thousand")
    return stem if known and stem != word else None


DIGIT_NAMES = ("zero", *_ONES)
_TY = {value: word for word, value in _TENS.items() if word != "fourty"}
_BELOW_TWENTY = [*DIGIT_NAMES, *_TEENS]
_GROUPS = ((10**9, "billion"), (10**6, "million"), (1000, "thousand"))


def spoken(value: float) -> str:
    """A figure in words, to a millionth: 650 is "six hundred and fifty", 1,500 "fifteen hundred", 2.4 "two point
    four"."""
    text = f"{abs(value):.6f}".rstrip("0").rstrip(".")
    whole, _, decimals = text.partition(".")
    said = _whole(int(whole))
    if decimals:
        said += " point " + " ".join(DIGIT_NAMES[int(digit)] for digit in decimals)
    return f"minus {said}" if value < 0 else said


def _whole(number: int) -> str:
    if number < 20:
        return _BELOW_TWENTY[number]
    if number < 100:
        return _TY[number // 10 * 10] + (f"-{DIGIT_NAMES[number % 10]}" if number % 10 else "")
    if number < 1000 or (number < 2000 and number % 100 == 0 and number % 1000):
        return f"{_whole(number // 100)} hundred" + (f" and {_whole(number % 100)}" if number % 100 else "")
    size, name = next(group for group in _GROUPS if number >= group[0])
    rest = number % size
    joint = " and " if rest < 100 else " "
    return f"{_whole(number // size)} {name}" + (f"{joint}{_whole(rest)}" if rest else "")


def sounds_alike(value: float) -> str | None:
    """How a figure is read back that is easily misheard, else None: -teen or a bare -ty digit by digit and as a word
    ("one five, fifteen"), also in thousands and hundreds ("one four, fourteen thousand"); one with such a part further
    back plainly ("six hundred and fifty").
    """
    whole = int(min(abs(value), 1e15)) if value == value else 0
    pairs = [whole // 1000**step % 100 for step in range(6)]
    hundreds = whole // 100 if whole % 100 == 0 and 1000 <= whole < 2000 else 0
    if not any(map(_alike, (*pairs, hundreds))):
        return None
    front = next(part for part in (hundreds, *(whole // 1000**step for step in range(5, -1, -1))) if part)
    digits = " ".join(DIGIT_NAMES[int(digit)] for digit in str(front))
    return f"{digits}, {spoken(value)}" if front < 100 and _alike(front) else spoken(value)


def _alike(pair: int) -> bool:
    return 13 <= pair <= 19 or (pair >= 30 and pair % 10 == 0)
