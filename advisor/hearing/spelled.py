"""Numbers in words as digits, in the running text of a request."""

import re

from advisor.words.numerals import decimals_said, small_number
from advisor.words.speech import Unclear

_NUMBER_START = r"(?:point|oh|ten|eleven|twelve|\w+teen|twenty|thirty|hundred)$"


def in_digits(text: str) -> str:
    """The text with spoken numbers as digits: "sixty four seventy one" is "64 71", "point nine oh" is ".90",
    "one fifteen" is "115".
    """
    for old, new in (("½", " 1/2"), ("¼", " 1/4"), ("¾", " 3/4")):
        text = text.replace(old, new)
    text = re.sub(r"\btee[- ]?(?=three|four|six|[346]\b)", "t", text)
    text = re.sub(
        r"\bt[- ]?(three|four|six)\b", lambda m: {"three": "t3", "four": "t4", "six": "t6"}[m[1]], text
    )
    words = re.findall(r"[a-z]+(?:/[a-z]+)?|[^a-z]+", text)
    spoken = [word for word in words if word.strip(" -")]
    gaps: list[str] = []  # what stands between the spoken words, so that all else keeps its spacing
    for word in words:
        if word.strip(" -"):
            gaps.append("")
        elif gaps:
            gaps[-1] = word
    out: list[str] = []
    at = 0
    while at < len(spoken):
        number = _spoken(spoken, at)
        if number is None:
            out.append(spoken[at] + gaps[at])
            at += 1
        else:
            out.append(number[0] + (" " if gaps[number[1] - 1] else ""))
            at = number[1]
    return re.sub(r"\s+", " ", "".join(out)).strip()


def _spoken(words: list[str], at: int) -> tuple[str, int] | None:
    """One number in words as digits, and where it ends."""
    try:
        if words[at] == "point" and at + 1 < len(words):
            digits, end = decimals_said(words, at + 1)
            return "." + digits, end
        found = (1, at) if words[at] == "hundred" else small_number(words, at)
        if found is None or (
            words[at] in ("oh", "one")
            and (at + 1 >= len(words) or not re.match(_NUMBER_START, words[at + 1]))
        ):
            return None
        value, end = found
        if end < len(words) and words[end] == "point":
            digits, then = decimals_said(words, end + 1)
            if value >= 40 and len(digits) > 1:  # "sixty eight point nine oh": a wheel and an A/R
                return str(value), end
            return f"{value}.{digits}", then
        if words[end : end + 3] == ["and", "a", "half"]:
            return f"{value}.5", end + 3
        if value < 10:
            if end < len(words) and words[end] == "hundred":
                tail = small_number(words, end + 2 if words[end + 1 : end + 2] == ["and"] else end + 1)
                return (str(100 * value + tail[0]), tail[1]) if tail else (str(100 * value), end + 1)
            tail = small_number(words, end)
            if tail and tail[0] == 0 and (unit := small_number(words, tail[1])):
                return f"{value}0{unit[0]}", unit[1]
            if tail and tail[0] >= 10:
                return f"{value}{tail[0]}", tail[1]
    except Unclear:
        return None
    return str(value), end
