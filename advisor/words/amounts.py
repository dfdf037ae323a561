"""One figure with its unit, out of the tokens of a phrase: "14.5k lb", "an inch and a half", "mid thirties".

A figure with a second reading ("6.200", "three fifty", "five nine") is settled by what is measured, or asked
about.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.quantities import QUANTITIES, Quantity, Range, Unit

from .numerals import Numeral, and_part, read_numeral
from .phrasing import QUALIFIER, normal, tokens
from .speech import Unclear

_SMALLER = {("ft", "in"): 12, ("h", "min"): 60, ("min", "s"): 60, ("weeks", "days"): 7, ("days", "h"): 24}


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure with its unit, in that unit; `unit` is None when none was said."""

    low: float
    high: float
    unit: Unit | None
    numeral: Numeral


# What is measured, as it is said; the others are called by the name of the quantity.
_SAID_AS = {
    "rotation": "an engine speed",
    "mass": "a weight",
    "money": "a price",
    "count": "a number",
    "percent": "a percentage",
    "ratio": "a ratio",
    "angle": "a temperature or an angle",
}


def _called(quantity: str) -> str:
    return _SAID_AS.get(quantity, f"{'an' if quantity[0] in 'aeiou' else 'a'} {quantity}")


class AmountReader:
    """Reads single amounts of one quantity; keeps the phrase for its refusals."""

    def __init__(self, words: str, kind: Quantity, assumed: Unit, plausible: Range | None = None) -> None:
        self.words, self.kind, self.assumed, self.plausible = words, kind, assumed, plausible
        self.tokens = tokens(normal(words, kind))

    def refuse(self, why: str) -> Unclear:
        return Unclear(why, f"for example {self.kind.example}")

    def lost(self) -> Unclear:
        """Says what is wanted, and what a unit of the wrong kind measures."""
        if not self.words:
            return self.refuse("nothing was said")
        shown = self.words if len(self.words) <= 60 else self.words[:57] + "..."
        for at, token in enumerate(self.tokens):
            if (
                at
                and token not in self.kind.aliases
                and (self.tokens[at - 1][-1:].isdecimal() or token in ("psi", "bar", "hp", "rpm"))
            ):
                for other in QUANTITIES.values():
                    if token in other.aliases and other is not self.kind and token != "k":
                        return self.refuse(
                            f'"{shown}" is said as {_called(other.name)}, and this is {_called(self.kind.name)}'
                        )
        return self.refuse(f'"{shown}" isn\'t understood as {_called(self.kind.name)}')

    def unit_at(self, tokens: Sequence[str], at: int) -> tuple[Unit, int] | None:
        """The longest unit name that begins at a token, and where it ends."""
        for end in range(min(len(tokens), at + 5), at, -1):
            symbol = self.kind.aliases.get(" ".join(tokens[at:end]))
            if symbol is not None:
                return self.kind.units[symbol], end
        return None

    def amount(self, tokens: list[str], hint: Unit | None = None) -> Amount:
        """One figure with its unit; every token must be used."""
        at, sign = 0, 1.0
        if tokens[0] in ("minus", "negative") and len(tokens) > 1:
            at, sign = 1, -1.0
        unit: Unit | None = None
        if tokens[at] == "$" and self.kind.name == "money":
            unit, at = self.kind.units["$"], at + 1
        elif tokens[at] in ("the", "a", "an") and at + 1 < len(tokens) and not self.unit_at(tokens, at + 1):
            at += 1
        step = (0.0, 1.0)
        stepped = False
        if tokens[at : at + 1] and tokens[at] in QUALIFIER and at + 1 < len(tokens):
            step, stepped, at = QUALIFIER[tokens[at]], True, at + 1
        if (
            at + 1 < len(tokens)
            and tokens[at] in ("a", "an", "one")
            and (named := self.unit_at(tokens, at + 1))
        ):
            unit, at = named
            part = and_part(tokens, at)
            value, at = (1.0 + part[0], part[1]) if part else (1.0, at)
            if at != len(tokens) or stepped:
                raise self.lost()
            return Amount(sign * value, sign * value, unit, Numeral(value, mantissa=value))
        if tokens[at : at + 1] == ["°"]:
            raise self.lost()
        found = read_numeral(tokens, at, self.kind.name != "temperature")
        if found is None:
            raise self.lost()
        numeral, at = found
        plural = at < len(tokens) and tokens[at] == "~s"
        at += plural
        if numeral.form == "part" or numeral.form == "couple":
            at += at < len(tokens) and tokens[at] == "of"
            at += at < len(tokens) and tokens[at] in ("a", "an") and self.unit_at(tokens, at + 1) is not None
        named = self.unit_at(tokens, at)
        if named:
            if unit is not None and named[0] is not unit:
                raise self.lost()
            unit, at = named
            if (part := and_part(tokens, at)) and numeral.value == 1:
                numeral, at = Numeral(1 + part[0], mantissa=1 + part[0]), part[1]
        elif (
            self.kind.name == "temperature"
            and at < len(tokens)
            and tokens[at] in ("degrees", "degree", "deg", "°")
        ):
            at += 1
        value = self.chosen(numeral, unit or hint or self.assumed, unit is not None, plural) * sign
        if at < len(tokens) and unit is not None:
            value, at = self.compound(value, unit, tokens, at)
        if at != len(tokens):
            raise self.lost()
        # "fifties" of injectors are 50 % over
        bare = self.kind.name == "percent" and not stepped and " the " not in f" {self.words} "
        if plural and self.kind.name not in ("length", "ratio") and not bare:
            if stepped and value < 20 and self.kind.name in ("power", "temperature", "rotation", "money"):
                value *= 100  # "mid sixes", "low fourteens"
            size = 10 if value < 100 else 100 if value < 2000 or value % 1000 else 1000
            if value % size or value < 20 or value == 100 or sign < 0:
                raise self.lost()
            return Amount(value + step[0] * size, value + step[1] * size, unit, numeral)
        if stepped:
            raise self.lost()
        return Amount(value, value, unit, numeral)

    def compound(self, value: float, unit: Unit, tokens: list[str], at: int) -> tuple[float, int]:
        """A second, smaller unit after the first: 6'2", 1 h 30 min."""
        tail = tokens[at + 1 :] if tokens[at] == "and" else tokens[at:]
        found = read_numeral(tail, 0)
        if found is None or value != int(value):
            raise self.lost()
        named = self.unit_at(tail, found[1])
        smaller = (
            named[0]
            if named
            else self.kind.units["in"]
            if unit.symbol == "ft" and "in" in self.kind.units
            else None
        )
        per = _SMALLER.get((unit.symbol, smaller.symbol)) if smaller else None
        if (
            per is None
            or not found[0].value < per
            or found[0].other is not None
            or (named or found)[1] != len(tail)
        ):
            raise self.lost()
        return value + found[0].value / per, len(tokens)

    def too_small(self, value: float, unit: Unit | None = None) -> bool:
        """Whether a figure is less than the least that can be."""
        meant = unit or self.assumed
        return self.plausible is not None and value * meant.factor + meant.offset < self.plausible.low

    def chosen(self, numeral: Numeral, unit: Unit, said: bool, plural: bool) -> float:
        """The one reading of a figure that its quantity and unit leave; Unclear when two are left."""
        name, form, value, other = self.kind.name, numeral.form, numeral.value, numeral.other
        first, second = f"{value:,.6g}", f"{other or 0:,.10g}"

        def absurd(figure: float) -> bool:
            return abs(figure * unit.factor + unit.offset) >= self.kind.ceiling

        symbol = f" {unit.symbol}" if unit.symbol else ""
        if form in ("point", "grouped", "comma") and other is not None:
            open_point = form == "point" and not absurd(other)
            open_group = form == "grouped" and absurd(value)
            if form == "comma" or open_point or open_group:
                raise self.refuse(f"is that {first}{symbol} or {second}{symbol}?")
        if form == "hundreds" and (name in ("ratio", "length") or unit.symbol == "L"):
            if name == "ratio" and value < 1000 and other is not None:
                return other
            raise self.refuse(f"is that {second}{symbol} or {value:,.0f}{symbol}?")
        ends_in_ten = form == "hundreds" and 300 <= value < 1000 and value % 100 == 10
        if ends_in_ten and not self.too_small(value // 100, unit):  # no power is "4 to 10 hp"
            raise self.refuse(f"is that {value:.0f}{symbol} or {value // 100:.0f} to 10{symbol}?")
        within = self.plausible
        if form == "pair":
            only = within is not None and within.low <= value <= within.high and 10 * value > within.high
            if unit.symbol == "L" or (name == "ratio" and only):
                return value
            raise self.refuse(f"is that {value:g} or {value * 10:g}{symbol}?")
        if name == "ratio" and absurd(value) and within and within.low <= value / 100 <= within.high:
            return value / 100  # "373"
        if name == "ratio" and absurd(value):
            raise self.refuse(f"is that {value / 100:g} or {value:,.6g}?")
        if name == "percent" and 0 < value < 1 and not said:
            if form == "part":
                return 100 * value
            raise self.refuse(f"is that {value:g} % or {100 * value:g} %?")
        if unit.symbol == "ton" and (form == "part" or plural):
            raise self.refuse("that names the class of the truck, not what it weighs")
        return value
