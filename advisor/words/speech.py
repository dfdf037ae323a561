"""What a caller says, made safe to handle.

`clean` is the one sanitiser of caller's text. Choices are read in `choosing`, numbers in `units`.
"""

import re
import unicodedata
from functools import lru_cache

CAP = 500  # characters kept of anything a caller says
AT_HAND = 64  # texts at hand: an answer and its parts, which are looked through many times

# Terminal sequences: operating-system and other string commands up to their terminator, control sequences,
# two-byte escapes.
_ESCAPES = (
    r"(?:\x1b[\]PX^_]|[\x90\x98\x9d-\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"
    r"|(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]?"
    r"|\x1b[ -/]*[0-~]?"
)
_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
NEGATION = (
    r"\b(?:no|not|never|neither|nor|without|nothing|isn'?t|aren'?t|ain'?t|don'?t|doesn'?t|won'?t|hasn'?t|haven'?t"
    r"|can'?t|cannot|wouldn'?t|didn'?t|wasn'?t|weren'?t|shouldn'?t"
    r"|rather than|instead of|except|other than|anything but|no longer|none of|hardly|used to)\b"
)


class Unclear(ValueError):
    """Something said that has no single meaning here: one sentence for the caller, and an example."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


def clean(words: object) -> str:
    """Text without escape sequences, control, format, bidirectional and zero-width characters, white space
    folded, at most 500 long.

    Never raises; anything that isn't text is taken by its `str`, bytes as UTF-8.
    """
    if isinstance(words, (bytes, bytearray)):
        text = bytes(words[: 20 * CAP]).decode("utf-8", "replace")
    else:
        try:
            text = words if isinstance(words, str) else "" if words is None else str(words)
        except Exception:  # a foreign object may raise anything from its __str__
            return ""
    text = text[: 20 * CAP]
    if text.isascii() and text.isprintable():  # nothing to take out, and most of what is said
        return " ".join(text.split())[:CAP].rstrip()
    text = re.sub(_ESCAPES, " ", text)
    kept: list[str] = []
    marks = 0
    for character in text:
        category = unicodedata.category(character)
        if character in "\t\n\r\v\f" or category in ("Zs", "Zl", "Zp"):
            character = " "
        elif category in _UNSEEN or character in "\u115f\u1160\u3164\uffa0\u2800\ufe0e\ufe0f":
            continue
        marks = marks + 1 if category.startswith("M") else 0
        if marks <= 2:  # a longer pile of combining marks spills over its neighbours' lines
            kept.append(character)
    return " ".join("".join(kept).split())[:CAP].rstrip()


def plain(words: object) -> str:
    """Cleaned, lower-case text with typewriter quotes and dashes, for matching."""
    return _plain(words) if type(words) is str else _plain(clean(words))


@lru_cache(maxsize=AT_HAND)
def _plain(words: str) -> str:
    text = clean(words)
    return (text.replace("`", "'") if text.isascii() else text.translate(_TYPEWRITER)).lower()


_TYPEWRITER = str.maketrans(
    dict.fromkeys("\u2018\u2019\u02bc\u00b4\u2032`", "'")
    | dict.fromkeys("\u201c\u201d\u2033", '"')
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-")
    | dict.fromkeys("\u00ba\u02da", "\u00b0")
)


_OF_HIMSELF = {
    "i'm": "you're", "im": "you're", "i am": "you are", "i was": "you were", "i've": "you've", "i'd": "you'd",
    "i'll": "you'll", "i": "you", "me": "you", "my": "your", "mine": "yours", "myself": "yourself", "we're": "you're",
    "we've": "you've", "we'd": "you'd", "we'll": "you'll", "we": "you", "us": "you", "our": "your", "ours": "yours",
}  # fmt: skip
_HIMSELF = re.compile(
    rf"\b(?!i ?\d)(?:{'|'.join(sorted(_OF_HIMSELF, key=len, reverse=True))})\b(?!['-])", re.IGNORECASE
)


def to_him(words: str) -> str:
    """What a caller said of himself, as it is said to him: "my friend has one" is "your friend has one"."""
    return _HIMSELF.sub(lambda found: _OF_HIMSELF[found.group().lower()], words.replace("\u2019", "'"))
