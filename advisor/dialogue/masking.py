"""People taken out of what was said: telephone numbers, addresses, plates and names that something points
out."""

import re

from advisor.words.people import MATE

MASK = "(masked)"

_WORD = r"[A-Z][\w'\u2019-]*"
_WORD_OF_HIS = r"(?!(?:It|That|He|She|There|What|Who|Here|Let)\b)[A-Z][\w-]*['\u2019]s"
_PERSON = rf"{_WORD}(?:[ ]{_WORD})*"
_NOT_A_NAME = r"(?!(?:back|later|again|about|when|if|before|after|at|on|tomorrow|and|a|the|me|it)\b)"

# What is found alone.
_PATTERNS = (
    r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+",
    r"(?:https?://|www\.)\S+",
    # vehicle identification number: 17 letters and digits, never I, O or Q (ISO 3779)
    r"\b(?=[A-HJ-NPR-Za-hj-npr-z]*\d)(?=\d*[A-HJ-NPR-Za-hj-npr-z])[A-HJ-NPR-Za-hj-npr-z0-9]{17}\b",
    # telephone numbers, with and without area code; a comma would make it a figure
    r"(?<![\w.,])(?:\+?\d{1,3}[ .-]?)?(?:\(\d{2,5}\)[ ]?|\d{2,5}[ .-])\d{3,4}[ .-]?\d{3,4}(?!\w|,\d)",
    r"(?<![\w.,])\+?\d{7,15}(?![\w.]|,\d)",
    r"(?<![\w.,])\d{3}[ .-]\d{4}(?!\w|,\d)",
    r"\b\d{1,5}[ ](?:[A-Z]\w+[ ]){1,3}"
    r"(?:Street|St|Road|Rd|Avenue|Ave|Lane|Ln|Drive|Dr|Court|Ct|Way|Close)\b\.?",
    r"\b[A-Z]\w+[ ](?:Street|St|Road|Rd|Avenue|Ave|Lane|Ln|Drive|Dr|Court|Ct|Way|Close)\b\.?[ ]\d{1,5}\b",
    r"\b(?i:p\.?o\.?[ ]box)[ ]\d+\b",
    # plates as they are commonly written; EGT, RPM and the like before a figure are no plates
    r"\b(?!(?:EGT|RPM|PSI|HP|AR|CC|CI|TQ|WOT)\b)[A-Z]{2,3}[ -]\d{3,4}\b",
    r"\b\d[A-Z]{3}\d{3}\b|\b[A-Z]{2}\d{2}[ ]?[A-Z]{3}\b",
)
# What is found by what stands before it.
_AFTER = (
    (
        r"(?i:\b(?:plates?|registration|licen[cs]e)(?:[ ](?:is|number|no))*[ :]+)",
        r"(?=[A-Za-z -]*\d)[A-Za-z0-9]+(?:[ -][A-Z0-9]+)*",
    ),
    (r"(?i:\b(?:zip|post|postal)(?:[ ]?code)?(?:[ ]is)?[ :]+)", r"[A-Z0-9]*\d[A-Z0-9]*(?:[ -]\d[A-Z0-9]+)?"),
    (r"(?i:^(?:hi|hello|hey|yeah|morning)?,?[ ]*)", rf"{_PERSON}(?=[ ](?:here|speaking|calling)\b)"),
    (r"(?<!\w)", rf"{_WORD_OF_HIS}(?=[ ](?:truck|rig|pickup|shop|place|farm|tractor|dually|diesel|one|setup)\b)"),
    (
        r"(?i:\b(?:(?:my|the|his|her)[ ])?name(?:[ ]is|'s|\u2019s)?[ :]+)",
        rf"{_NOT_A_NAME}(?:{_PERSON}|[a-z'\u2019-]+)",
    ),
    (
        r"(?i:\b(?:call[ ]me|ask[ ]for|speak(?:ing)?[ ]to|regards,?|cheers,?|thanks,?)[ ])",
        rf"{_NOT_A_NAME}{_PERSON}",
    ),
    (
        r"\b(?i:this[ ]is|i[ ]am|i'm|it's|i\u2019m|it\u2019s)[ ]",
        rf"{_PERSON}(?=[ ]*(?:here|calling|from|speaking|[,.;]|$))",
    ),
    (r"\b(?:Mr|Mrs|Ms|Miss|Dr)\.?[ ]", _PERSON),
    (
        rf"\b(?i:{MATE}|husband)[ ]",
        _PERSON,
    ),
)
_FOUND = re.compile("|".join(_PATTERNS))
_NAMED = tuple(re.compile(f"({before})({what})") for before, what in _AFTER)


def masked(words: str) -> str:
    """The words without telephone numbers, e-mail and street addresses, plates and names.

    A name is found by what stands before it ("my name is", "Mr", "neighbour"); one dropped without such a
    sign stays, so whoever passes a saved call on reads it through.
    """
    words = _FOUND.sub(MASK, words)
    for pattern in _NAMED:
        words = pattern.sub(rf"\1{MASK}", words)
    return words
