"""Numbers with units as people say them, to SI and back.

A closed grammar: every word of the phrase must be known, or the phrase is refused with a question (`Unclear`)
rather than half read. The parts it stands on are `quantities` (units and how values are shown), `numerals`
(single figures) and `speech` (cleaning); their public names are offered here too.
"""

from dataclasses import dataclass

from advisor.quantities import (
    QUANTITIES,
    Quantity,
    Range,
    Unit,
    from_si,
    plausibility,
    show,
    show_computed,
    show_difference,
    to_si,
    unit_of,
)
from advisor.words.amounts import Amount, AmountReader
from advisor.words.not_knowing import is_unsure
from advisor.words.numerals import read_numeral, sounds_alike, spoken
from advisor.words.plain_yes_no import read_yes_no
from advisor.words.speech import Unclear, clean

__all__ = [
    "QUANTITIES",
    "SPREAD",
    "Heard",
    "Quantity",
    "Range",
    "Unclear",
    "clean",
    "from_si",
    "is_unsure",
    "plausibility",
    "read_number",
    "read_yes_no",
    "show",
    "show_computed",
    "show_difference",
    "sounds_alike",
    "spoken",
    "to_si",
]

SPREAD = 0.05  # "about" is taken as this much either way of the figure said


@dataclass(frozen=True, slots=True)
class Heard:
    """What was understood: the SI range, the symbol of the unit it was said in, the words, whether "about" or
    the like was said, and the figure (SI) where only one end was named ("at most 35").
    """

    value: Range
    unit: str
    words: str
    approximate: bool
    bound: float | None = None


_LEADING = frozenset(
    [
        "it",
        "it's",
        "its",
        "is",
        "i",
        "i'm",
        "i'd",
        "i've",
        "we",
        "we're",
        "we've",
        "he's",
        "she's",
        "they",
        "they're",
        "that's",
        "the",
        "my",
        "our",
        "his",
        "a",
        "an",
        "at",
        "by",
        "on",
        "in",
        "for",
        "of",
        "has",
        "have",
        "got",
        "gets",
        "get",
        "makes",
        "making",
        "make",
        "made",
        "running",
        "runs",
        "run",
        "doing",
        "does",
        "do",
        "weighs",
        "want",
        "wants",
        "need",
        "needs",
        "be",
        "uh",
        "um",
        "er",
        "erm",
        "well",
        "so",
        "yeah",
        "okay",
        "ok",
        "sir",
        "ma'am",
        "with",
        "would",
        "should",
        "will",
        "set",
        "trailer",
        "truck",
        "pickup",
        "engine",
        "turbo",
        "motor",
        "there",
        "here",
        "see",
        "just",
        "hoping",
        "goes",
        "going",
        ",",
        "inline",
        "straight",
        "till",
        "til",
        "until",
        "gotta",
    ]
)
_TRAILING = frozenset(["please", "sir", "ma'am", "now", "total", "right", ",", ".", "there", "too"])


def read_number(words: object, quantity: str, unit: str, plausible: Range | None = None) -> Heard:
    """Read one number or range of a quantity, in SI.

    `unit` is assumed when none is said. "About" and its kin widen a single figure by 5 % of it either way
    ("almost" and "just over": to one side); "in the mid thirties" is 33 to 37. A bound ("at least 500") runs
    to the end of `plausible` (SI), or to zero. Raises Unclear for what is not understood or has two readings,
    with an example; ValueError for a quantity or unit that doesn't exist.
    """
    assumed = unit_of(unit, quantity)
    return _Reader(clean(words), QUANTITIES[quantity], assumed, plausible).read()


class _Reader(AmountReader):
    """One reading of one phrase."""

    def __init__(self, words: str, kind: Quantity, assumed: Unit, plausible: Range | None) -> None:
        super().__init__(words, kind, assumed, plausible)

    def read(self) -> Heard:
        tokens = self.tokens
        if len(tokens) > 40:
            raise self.lost()
        marks: list[str] = []
        while tokens:
            head = tokens[0]
            if head in ("~", "<=", ">=", "<<", ">>", "<", ">", "ormaybe"):
                marks.append(head)
            elif (head in ("a", "an") and self.unit_at(tokens, 1)) or head not in _LEADING:
                break
            tokens = tokens[1:]
        while tokens:
            tail = tokens[-1]
            if tail in ("~", "<=", ">="):
                marks.append(tail)
            elif (tail == "+" and len(tokens) > 1) or tail == "plus":
                marks.append(">=")
            elif not (tail in _TRAILING or tail in self.kind.nouns) or (tail == "there" and len(tokens) == 1):
                break
            tokens = tokens[:-1]
        while tokens and tokens[-1] in ("of", "the", "a") and len(tokens) > 1:
            tokens = tokens[:-1]
        if len(tokens) > 2 and tokens[-2] in ("~", "+") and self.unit_at(tokens, len(tokens) - 1):
            marks.append("~" if tokens[-2] == "~" else ">=")  # "35-ish psi", "600+ hp"
            tokens = [*tokens[:-2], tokens[-1]]
        if not tokens or ("grand" in tokens and self.kind.name not in ("money", "rotation")):
            raise self.lost()
        return self.settle(tokens, marks)

    def settle(self, tokens: list[str], marks: list[str]) -> Heard:
        """The range that tokens and marks stand for."""
        bounds = {{"<": "<=", ">": ">="}.get(mark, mark) for mark in marks if mark not in ("~", "ormaybe")}
        about = "~" in marks or "ormaybe" in marks or "~" in tokens
        if "+-" in tokens:
            middle, spread = self.pair(tokens, tokens.index("+-"))
            if bounds or spread.low != spread.high or middle.low != middle.high:
                raise self.lost()
            unit = middle.unit or spread.unit or self.assumed
            half = spread.low * (spread.unit or unit).factor / unit.factor
            return self.heard(middle.low - half, middle.high + half, unit, unit, about)
        first, second = self.ends(tokens)
        if second is None:
            low_unit = high_unit = first.unit or self.assumed
            low, high = first.low, first.high
            about = about or first.numeral.form == "couple"
        else:
            if (
                bounds
                or "couple" in (first.numeral.form, second.numeral.form)
                or first.low != first.high
                or second.low != second.high
            ):
                raise self.lost()
            low_unit = first.unit or second.unit or self.assumed
            high_unit = second.unit or first.unit or self.assumed
            low, high = self.shared(first, second), second.high
            if low * low_unit.factor + low_unit.offset > high * high_unit.factor + high_unit.offset:
                if high < low / 2 or low_unit is not high_unit or first.unit:
                    raise self.lost()
                low, high = high, low
        if len(bounds) > 1 or (bounds and low != high):
            raise self.lost()
        if bounds:
            return self.bounded(low, low_unit, bounds.pop())
        if about and second is None and low == high:
            about_by = SPREAD * abs(low)
            low, high = low - about_by, high + about_by
            if self.kind.name == "count":
                low, high = float(-(-low // 1)), float(high // 1)
        return self.heard(low, high, low_unit, high_unit, about)

    def bounded(self, figure: float, unit: Unit, mark: str) -> Heard:
        """A one-sided statement closed by the plausible range, or by the spread for "almost"."""
        if mark in ("<<", ">>"):
            by = SPREAD * abs(figure)
            return self.heard(figure - by * (mark == "<<"), figure + by * (mark == ">>"), unit, unit, True)
        end = self.heard(figure, figure, unit, unit, False).value.low
        if mark == ">=":
            if self.plausible is None:
                raise self.refuse("that names the least; and the most?")
            value = Range(end, max(end, self.plausible.high))
        else:
            if self.plausible is None and self.kind.floor != 0:
                raise self.refuse("that names the most; and the least?")
            value = Range(min(end, self.plausible.low if self.plausible else 0.0), end)
        return Heard(value, unit.symbol, self.words, True, end)

    def heard(self, low: float, high: float, low_unit: Unit, high_unit: Unit, about: bool) -> Heard:
        ends = (low * low_unit.factor + low_unit.offset, high * high_unit.factor + high_unit.offset)
        kind = self.kind
        if any(not kind.floor <= end <= kind.ceiling for end in ends) or ends[0] > ends[1]:
            raise self.refuse(f"{_listed(low, high, low_unit)} can't be right as a {kind.name}")
        if kind.name == "count" and any(end != int(end) for end in ends):
            raise self.refuse("that has to be a whole number")
        return Heard(Range(*ends), low_unit.symbol, self.words, about)

    def ends(self, tokens: list[str]) -> tuple[Amount, Amount | None]:
        """One amount, or the two ends of a range."""
        if tokens[0] in ("between", "from"):
            inner = tokens[1:]
            links = [i for i, token in enumerate(inner) if token in ("and", "to", "to-dash")]
            splits = []
            for link in links:
                if tokens[0] == "between" and inner[link] != "and" and any(inner[i] == "and" for i in links):
                    continue
                if tokens[0] == "from" and inner[link] == "and":
                    continue
                try:
                    splits.append(self.pair(inner, link))
                except Unclear:
                    continue
            if len(splits) != 1:
                raise self.lost()
            return splits[0]
        if (
            self.kind.name == "ratio"
            and len(tokens) > 2
            and tokens[-2] in (":", "to")
            and tokens[-1] in ("1", "one")
        ):
            inner = tokens[:-2]
            if any(token in ("to", "to-dash") for token in inner):
                return self.ends(inner)
            whole = self.amount(inner)
            if whole.low >= 1 or whole.numeral.form == "part":
                return whole, None
        if tokens[0] == "onein" and len(tokens) > 1:
            steep = self.amount(tokens[1:])
            if steep.unit or steep.low < 1:
                raise self.lost()
            return Amount(100 / steep.low, 100 / steep.high, None, steep.numeral), None
        links = [
            i for i, token in enumerate(tokens)
            if token in ("to", "to-dash", "ormaybe") and not (token == "to-dash" and _is_mixed(tokens, i))
        ]  # fmt: skip
        if not links:
            return self.amount(tokens), None
        link = links[0]
        width = 1
        if (len(links) == 2 and links[1] == link + 1) or (
            len(links) == 2 and links[1] == link + 2 and tokens[link + 1] == ","
        ):
            width = links[1] - link + 1
        elif len(links) > 1:
            raise self.lost()
        return self.pair(tokens, link, width)

    def pair(self, tokens: list[str], link: int, width: int = 1) -> tuple[Amount, Amount]:
        left = tokens[:link]
        right = tokens[link + width :]
        while left and left[-1] in (",", "~"):
            left = left[:-1]
        left, right = left[left[:1] == ["~"] :], right[right[:1] == ["~"] :]
        if not left or not right:
            raise self.lost()
        dash = tokens[link] == "to-dash" and left[-1].isdecimal() and right[0].replace(",", "").isdecimal()
        if dash and len(left) == 1:
            low, high = float(left[0]), float(right[0].replace(",", ""))
            if low < 100 <= high and high % 100 == 0 and high / 2 <= low * 100 < high:
                if not self.too_small(low):
                    raise self.refuse(
                        f'"{left[0]}-{right[0]}" may start at {left[0]} or at {left[0]}00; which is it?'
                    )
                left = [f"{left[0]}00"]  # "15-1600" of an engine speed
        second = self.amount(right)
        return self.amount(left, second.unit), second

    def shared(self, first: Amount, second: Amount) -> float:
        """The low end, in hundreds or thousands when only the high end names them ("12 to 14 thousand")."""
        low, high = first.numeral, second.numeral
        if (
            low.scale == 1.0
            and first.unit is None
            and high.scale > 1.0
            and low.value < high.mantissa
            and low.form == "plain"
        ):
            if high.scale == 100.0 and low.value < 10 <= high.mantissa:  # "one to twelve hundred"
                raise self.lost()
            return first.low * high.scale
        if low.form == "plain" and low.scale == 1.0 and first.unit is None and high.scale == 1000.0:
            if 10 <= low.value < 100 and high.value / 2 < 100 * low.value < high.value:  # "28 to 3 thousand"
                return first.low * 100
            if 0 < low.value < high.mantissa * 10:
                raise self.lost()
        bare = low.form == "plain" and low.scale == 1.0 and first.unit is None and low.value in range(1, 100)
        bare = bare and first.low > 0  # "-28 to 2,834 °F" begins below nought
        far = high.form in ("plain", "grouped") and high.scale == 1.0 and high.value >= max(1000.0, 50 * low.value)
        if bare and far:
            for times in (1000, 100):  # "7 to 8,000 feet", "15 to 2,000 rpm"
                if high.value / 4 <= times * low.value < high.value:
                    return first.low * times
        short = low.digits and low.form == "plain" and low.scale == 1.0 and not first.unit and self.kind.name == "power"
        if short and 1 <= low.value < 10 and 100 * low.value < high.value < 1000 and high.value % 50 == 0:
            return first.low * 100  # "5 to 600" horsepower
        spoken = not low.digits and not high.digits and low.scale == 1.0 and first.unit is None
        mixed_up = high.form == "hundreds" or high.scale > 1.0 or high.value >= 200
        if spoken and 0 < low.value < 10 and high.value >= 100 and mixed_up:  # "three to four fifty"
            raise self.lost()
        return first.low


def _is_mixed(tokens: list[str], at: int) -> bool:
    """Whether the dash at a token joins a whole number and a fraction ("1-1/2")."""
    if at == 0 or not tokens[at - 1].isdecimal() or (at > 1 and tokens[at - 2] == "/"):
        return False
    return (
        len(tokens) > at + 3
        and tokens[at + 2] == "/"
        and bool(read_numeral([tokens[at - 1], *tokens[at : at + 4]], 0))
    )


def _listed(low: float, high: float, unit: Unit) -> str:
    return (
        f"{low:,.6g} {unit.symbol}".strip()
        if low == high
        else f"{low:,.6g} to {high:,.6g} {unit.symbol}".strip()
    )
