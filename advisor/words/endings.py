"""Words without their endings, and words that do for one another: what is compared of what is said."""

import re
from functools import lru_cache

from .people import FRIENDS

_COUNTED = ["two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"]
DIGITS = {word: str(figure) for figure, word in enumerate(_COUNTED, 2)}
# Words that do for one another wherever callers choose; common practice, no source.
_SAME = DIGITS | {
    word: meant
    for meant, words in {
        "friend": " ".join(["buddies", "buddys", *FRIENDS[1:]]),
        "guy": "fella fellow bloke dude man kid",
        "turbo": "turbocharger charger",
        "big": "large huge massive",
        "bigger": "larger oversize oversized",
        "small": "little tiny skinny",
        "tyre": "tire",
        "colour": "color",
        "litre": "liter",
        "stock": "factory original orig oem oe stocker",
        "exhaust": "exh",
        "manifold": "mani",
        "internet": "online web net",
        "aftermarket": "upgraded upgrade uprated uprate",
        "fine": "ok okay",
        "not": "dont doesnt didnt isnt arent aint wasnt werent wont wouldnt cant cannot couldnt hasnt havent hadnt "
        "shouldnt",
    }.items()
    for word in words.split()
}
# Words that without their endings would meet others: "pale" is no pal, "a note" no "not", "I don't care" no car.
_WHOLE = {
    "makes", "pale", "care", "cares", "note", "notes", "noted", "tone", "tones", "here", "bite", "site", "timing",
    "quite", "usually",
}  # fmt: skip


@lru_cache(maxsize=16384)
def stem_of(word: str) -> str:
    """A word without its ending, so that "towing" and "tow", "smoking" and "smoke" meet."""
    if word in _WHOLE or word in _SAME:
        return _SAME.get(word, word)
    bare = word
    if len(word) > 4:
        word = bare = re.sub(r"(?<=[klwntgv]in)$", "g", word)  # "lookin", "haulin"
    if len(word) > 3:
        bare = re.sub(r"(?<=\w{3})(?:ing|ed|s)$|(?<=\w{4})(?:ations?|ly)$", "", word)
        if bare != word and re.search(r"([bdgmnprt])\1$", bare):
            bare = bare[:-1]
        if len(bare) > 3:
            bare = bare.removesuffix("e")
    return _SAME.get(bare, bare)
