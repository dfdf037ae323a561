"""Figures in texts that can't be told in metric: in words, with a unit by another name, or without one. Who speaks
metric hears them as they stand, and takes "250 degrees" for 250 °C.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from advisor.quantities import from_si, to_si
from advisor.words.numerals import NUMBER_WORDS

from .measure import in_digits
from .places import Fault, Place
from .source import Document
from .vocabulary import FactDef

_UNITS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (r"degrees? ?(?:F|[Ff]ahrenheit)|deg\.? ?F|[Ff]ahrenheit|° ?F|F", ("°F",)),
    (r"degrees?|°(?! ?[CF])", ()),
    (r"foot[ -]pounds?|pound[ -]feet|ft[ -]?lbs?|lbs?[ -]ft", ("lb ft",)),
    (r"pounds? (?:a|per) minute|lbs?/min(?:ute)?", ("lb/min",)),
    (r"pounds? (?:an|per) hour|lbs?/h(?:r|our)?", ("lb/h",)),
    (r"(?:pounds?|lbs?)(?= (?:of )?(?:boost|pressure)\b)|psig?", ("psi",)),
    (r"pounds?|lbs?", ("lb", "psi")),
    (r"mph|miles (?:an|per) hour", ("mph",)),
    (r"horsepower|horses|[br]?hp", ("hp",)),
    (r"inch(?:es)?|in(?![ -][a-z])", ("in",)),
    (r"feet|foot|ft", ("ft",)),
    (r"(?:short )?tons?", ("tons",)),
    (r"miles?|gallons?|quarts?|ounces?|yards?", ("both",)),
)
_UNIT = "|".join(f"(?P<u{at}>{pattern})" for at, (pattern, _) in enumerate(_UNITS))
_FIGURE = r"\d[\d,]*(?:\.\d+)?"
_WORD = "|".join(sorted(NUMBER_WORDS - {"k", "half", "quarter", "quarters", "third", "thirds"}, key=len, reverse=True))
_JOINT = r"\s*(?:to|and|or|till|until|[-\u2013])\s*"
_TOLD = re.compile(
    rf"(?:(?<![\w.,/-])(?:(?P<low>{_FIGURE})(?P<joint>{_JOINT}))?(?P<high>{_FIGURE})(?P<gap>[ -]?)"
    rf"|\b(?P<words>(?:(?:few|couple(?: of)?|several) )?(?:{_WORD})(?:(?:[ -]| and )(?:{_WORD}))*) )"
    rf"(?:{_UNIT})(?![\w/])"
)
_MEANT = ("°F", "psi", "lb/min", "lb/h", "lb ft", "lb", "hp", "mph", "miles an hour", "in", "ft")
"""The units as they are told in metric."""
_VAGUE = re.compile(r"(?:few|couple(?: of)?|several|hundred|thousand|grand)\b")
_ANGLE = re.compile(r"[ -](?:of )?(?:thrust|bearing|journal|bend|elbow|turn|crank|angle)")
_BOTH_WAYS = re.compile(r"[ -]?\(\d")
_APART = re.compile(
    r"\b(by|within|another|extra|every|adds?|gains?|saves?|costs?|drops?|plus) (?:about |some |up to |a good )?$"
)
_DIFFERS = re.compile(r" (?:cooler|hotter|less|more|away)\b")
_IN_BRACES = re.compile(r"\{([^{}]*)\}")
_UNIT_AGAIN = re.compile(
    r" ?(?:°[FC]?|%|(?:degrees?(?: F)?|pounds?|lbs?|psi|mph|miles an hour|feet|foot|ft|inch(?:es)?|hp|horsepower|rpm"
    r"|percent)(?![\w/]))"
)
_POUNDS_IN_A_TON, _MOST_PSI = 2000, 200
_TEXTS = ("ask", "listen for", "why", "check by", "in short")
HOW_APART = "write it as a difference, as in '50 °F cooler', or hotter, less, more, away"


@dataclass(frozen=True, slots=True)
class Untold:
    """A figure at character `offset` that is told as it stands, or wrongly."""

    offset: int
    what: str
    mend: str


def noted(
    text: str, vocabulary: Mapping[str, FactDef], locate: Callable[[int], Place], about: Place
) -> Iterator[Fault]:
    """Notes on the figures of one text; `locate` places its characters, `about` is where its entry begins."""
    for one in (*untold(text), *_twice(text, vocabulary)):
        yield Fault(locate(one.offset), one.what, one.mend, "note", "not metric", (about,))


def of_questions(document: Document, vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Notes on the figures in what is said and explained of questions."""
    data = document.data
    listed = data.get("facts") if isinstance(data, dict) else None
    for index, entry in enumerate(listed if isinstance(listed, list) else ()):
        for key in _TEXTS if isinstance(entry, dict) else ():
            path = ("facts", index, key)
            if isinstance(entry, dict) and isinstance(text := entry.get(key), str):
                locate = partial(document.place_in, path)
                yield from noted(text, vocabulary, locate, document.place(("facts", index, "fact")))


def _twice(text: str, vocabulary: Mapping[str, FactDef]) -> Iterator[Untold]:
    """Units behind facts that are told with theirs."""
    for found in _IN_BRACES.finditer(text):
        definition = vocabulary.get(" ".join(found[1].split()))
        again = _UNIT_AGAIN.match(text, found.end())
        if again and definition is not None and definition.kind == "number" and definition.unit:
            what = f"'{found[0]}' is told with its unit, in {definition.unit} or what the caller speaks"
            yield Untold(again.end() - len(again[0].lstrip()), what, f"leave '{again[0].strip()}' out")


def untold(text: str) -> Iterator[Untold]:
    """The figures of a text that can't be told in metric, each with what to write instead."""
    plain = _IN_BRACES.sub(lambda found: "\0" * len(found[0]), text)
    for found in _TOLD.finditer(plain):
        at = next(at for at in range(len(_UNITS)) if found[f"u{at}"])
        said, units, rest = found[0], _UNITS[at][1], plain[found.end() :]
        if not units:
            if not _ANGLE.match(rest):
                figure = _written(found, "°F")
                what = f"'{said}' says nothing of Fahrenheit: who speaks metric takes it for °C"
                yield Untold(found.start(), what, f"write {figure}, or deg for an angle")
        elif units == ("both",):
            if not _BOTH_WAYS.match(rest) and plain[found.start() - 1 : found.start()] != "(":
                mend = f"write it both ways, as in {_BOTH[found[f'u{at}'].removesuffix('s')]}"
                yield Untold(found.start(), f"'{said}' is told so too to who speaks metric", mend)
        elif _is_amiss(found, found[f"u{at}"]):
            mends = dict.fromkeys(_written(found, unit) for unit in units)
            mend = " or ".join(mends if _value(found) <= _MOST_PSI else list(mends)[:1])
            what = f"'{said}' stays so for who speaks metric"
            if found["low"] is not None and found[f"u{at}"] in _MEANT and found["joint"].strip() in ("and", "or"):
                what = f"of '{said}' only the second is told in metric"
            yield Untold(found.start(), what, f"write {mend}")
        elif units == ("°F",) and (before := _APART.search(plain[: found.start()])) and not _DIFFERS.match(rest):
            degrees = from_si(to_si(float(found["high"].replace(",", "")), "°F", "temperature"), "°C", "temperature")
            what = f"'{said}' behind '{before[1]}' is told in metric as a temperature, about {degrees:.0f} °C"
            yield Untold(found.start(), what, HOW_APART)


_BOTH = {
    "mile": "5 miles (8 km)",
    "gallon": "4 gallons (15 L)",
    "quart": "2 quarts (1.9 L)",
    "ounce": "4 ounces (110 g)",
    "yard": "30 yards (27 m)",
}


def _is_amiss(found: re.Match[str], unit: str) -> bool:
    """Whether a figure isn't one that is told in metric: digits, two of them joined by 'to', and a unit by its name."""
    if found["words"] or unit not in _MEANT or not found["gap"]:
        return True
    return found["low"] is not None and found["joint"] != " to "


def _value(found: re.Match[str]) -> float:
    figure = found["high"] or in_digits(found["words"]) or "0"
    return float(figure.replace(",", ""))


def _written(found: re.Match[str], unit: str) -> str:
    """The figure as it is to be written, with this unit."""
    words, low, high = found.group("words", "low", "high")
    if words:
        figure = in_digits(words)
        if figure is None or _VAGUE.match(words):
            return f"the figure in digits, as in 300 {'lb' if unit in ('tons', 'psi') else unit}"
        high = figure
    if unit == "tons":
        unit, low, high = "lb", low and _in_pounds(low), _in_pounds(high)
    if low is None:
        return f"{high} {unit}"
    joint = found["joint"].strip()
    return f"{low} {unit} {joint} {high} {unit}" if joint in ("and", "or") else f"{low} to {high} {unit}"


def _in_pounds(tons: str) -> str:
    return f"{float(tons.replace(',', '')) * _POUNDS_IN_A_TON:,.10g}"
