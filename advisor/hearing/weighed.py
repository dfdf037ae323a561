"""A weight that is told with another one: of truck and trailer together, and of one of them by itself.

"I scaled at 23,400 all together and the truck is nine thousand of that" is a trailer of 14,400 lb; asked for the truck,
it is 9,000. What is reckoned here is only ever offered.
"""

import re
from collections.abc import Collection

from advisor import units
from advisor.units import Range, Unclear

from .asides import FIGURE

_BOTH = re.compile(
    r"\b(?:all (?:together|up|in|told)|altogether|combined|total|everything|gross\w*|both"
    r"|the (?:whole|entire) \w+|whole rig"
    r"|(?:with|and) (?:the |my )?(?:trailer|camper|truck)(?: (?:on|hooked|behind|attached))?|(?:the|cat|truck) scales?"
    r"|scaled|hooked up|rig)\b",
    re.IGNORECASE,
)
_HAULED = frozenset(["trailer", "camper", "gooseneck", "caravan", "float", "fifth wheel"])
_HAULING = frozenset(["truck", "pickup", "tractor", "van", "motorhome"])
_NAMED = re.compile(rf"\b(?:{'|'.join((*_HAULED, *_HAULING))})(?='?s?\b)", re.IGNORECASE)
_THOUSANDS = re.compile(r"\d,\d{3}\b|\b\d{4,6}\b|\bthousand\b|\d ?k\b|\bgrand\b", re.IGNORECASE)


def apart(words: str, marks: Collection[str], unit: str) -> Range | None:
    """The weight (kg) that is asked for, ``marks`` the phrases that tell it, of a sentence that tells both together and
    one of them; None where it isn't one of these."""
    figures = list(FIGURE.finditer(words))
    if len(figures) != 2 or not _BOTH.search(words):
        return None
    first, second = figures
    before = _NAMED.findall(words, first.end(), second.start())
    named = (before[-1:] or _NAMED.findall(words, second.end())[:1] or [""])[0].lower()
    together, alone = _read(words, first, unit), _read(words, second, unit)
    if not named or together is None or alone is None or not alone.high < together.low:
        return None
    asked = {noun for noun in (*_HAULED, *_HAULING) for mark in marks if re.search(rf"\b{noun}\b", mark)}
    if "trailer" in asked:
        asked -= _HAULING
    elif "truck" in asked:
        asked -= _HAULED
    else:
        return None
    return alone if named in asked else Range(together.low - alone.high, together.high - alone.low)


def _read(words: str, figure: re.Match[str], unit: str) -> Range | None:
    """A weight; of less than a hundred, in thousands as the other one is told."""
    try:
        value = units.read_number(figure.group(), "mass", unit).value
        small = units.from_si(value.high, unit, "mass") < 100 and _THOUSANDS.search(words)
        return units.read_number(f"{figure.group()} thousand", "mass", unit).value if small else value
    except Unclear:
        return None
