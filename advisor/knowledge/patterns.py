"""How figures, units and names may be spelt, as regular expressions that a JSON Schema can hold (ECMA-262 and Python
read them alike). Each takes all that the check takes, and of what it refuses whatever the spelling alone shows.
"""

import re
from collections.abc import Iterable

from advisor.quantities import QUANTITIES

NUMBER = r"(?![1-9]\d{0,2}\.\d00(?!\d))(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?|\.\d+)"
"""A figure that can be read in one way: thousands with commas, decimals with a point."""
PLAIN = r"^\s*[+-]?(?:\d[\d_]*(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?\s*$"
"""A number without a unit, where it is written as a text."""
YES_OR_NO = "^(?:[yY][eE][sS]|[nN][oO]|[tT][rR][uU][eE]|[fF][aA][lL][sS][eE])$"


def unit(quantity: str) -> str:
    """The units of a quantity; aliases in small or large letters."""
    measure = QUANTITIES[quantity]
    others = {symbol for other in QUANTITIES.values() for symbol in other.units} - measure.units.keys()
    symbols = [re.escape(symbol) for symbol in measure.units if symbol]
    aliases = [any_case(alias) for alias in measure.aliases if alias not in others]
    return f"(?:{'|'.join(sorted({*symbols, *aliases}, key=lambda one: (-len(one), one)))})"


def needs_unit(quantity: str) -> bool:
    """Whether a figure of the quantity is nothing without a unit."""
    return "" not in QUANTITIES[quantity].units


def figure(quantity: str) -> str:
    """One figure with its unit, in a fact."""
    return f"^-?{NUMBER}{_behind(quantity)}$"


def span(quantity: str) -> str:
    """Two figures with `to` between them; the unit may stand behind the last alone."""
    before = rf"(?:\s*{unit(quantity)})?" if any(QUANTITIES[quantity].units) else ""
    return rf"^-?{NUMBER}{before}\s+to\s+-?{NUMBER}{_behind(quantity)}$"


def ware(quantity: str) -> str:
    """One figure with its unit, in the catalogue: money with its sign before or behind."""
    behind = rf"{NUMBER} ?{unit(quantity)}"
    return rf"^(?:\${NUMBER}(?: ?[^\d\s.,-].*)?|{behind})$" if quantity == "money" else f"^{behind}$"


def _behind(quantity: str) -> str:
    if not any(QUANTITIES[quantity].units):
        return ""
    return rf"\s*{unit(quantity)}" if needs_unit(quantity) else rf"(?:\s*{unit(quantity)})?"


def any_case(words: str) -> str:
    """The words in small or large letters; a slash may have spaces around it."""
    letters = (f"[{one}{one.upper()}]" if one.isascii() and one.isalpha() else re.escape(one) for one in words)
    return re.sub(r"(?:\\ )*/(?:\\ )*", r"\\s*/\\s*", "".join(letters)).replace(r"\ ", r"\s+")


def none_of(words: Iterable[str]) -> str:
    """Any text but these, whatever their case, and dots around them."""
    return rf"^(?!\s*\.*(?:{'|'.join(map(any_case, sorted(words)))})\.*\s*$)"
