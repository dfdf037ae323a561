"""Several choices told in parts of a sentence: named, leant to, or all but those that are only."""

import re
from collections.abc import Sequence

from advisor.words.speech import plain

from . import choosing, leaning

PARTS = re.compile(r"[,;:.!?](?!\d)|\b(?:and|plus|but|then|also)\b|&", re.IGNORECASE)
# ... but not "it only makes 15 pounds" nor "just paid for the exhaust".
ONLY = re.compile(
    r"\b(?:only|(?<!it )(?<!he )just|nothing but|solely|strictly|purely)\b"
    r"(?! (?:ma[kd]es?|builds?|built|gets?|got|goes|hits?|does"
    r"|did|paid|bought|put|had|fitted|installed|spent|sees?|pulls|started|happened|seems|replaced|now|today|last|listed|said|named"
    r"|told|read|asked)\b)",
    re.IGNORECASE,
)
ONLY_THESE = re.compile(rf"(?:{ONLY.pattern})(?P<these>[^,;.:!?]*\band\b[^,;.:!?]*)[,;.:!?]?$", re.IGNORECASE)
THE_REST = re.compile(r"\s*(?:(?:the )?(?:rest|others)|(?:every|any)thing else|all else)\b", re.IGNORECASE)
WHOLE = 3.0  # times what a part of a sentence must lean to a choice to be offered beside another


def names_only(said: str, names: Sequence[str]) -> frozenset[str]:
    """The choices of words that are nothing but their names ("price and no gate, guarantee"); a "no" in
    a name denies nothing there. Empty elsewhere."""
    known = {plain(name): name for name in names if name not in choosing.NONE}
    one = "|".join(re.escape(name) for name in sorted(known, key=len, reverse=True))
    text = plain(said).strip(" .!")
    if not known or not re.fullmatch(rf"(?:{one})(?:(?:\s*[,;&+/]\s*|\s+)(?:(?:and|plus|also)\s+)?(?:{one}))*", text):
        return frozenset()
    return frozenset(known[found] for found in re.findall(rf"(?<!\w)(?:{one})(?!\w)", text))


def with_the_rest(
    said: str, choices: choosing.Choices, telling: choosing.Choices, named: frozenset[str]
) -> frozenset[str] | None:
    """Several choices for a yes: those named by "only", or those named with what other parts of the sentence lean to;
    None where all of it is plain."""
    parts = [part for part in PARTS.split(said) if part.strip()]
    if len(parts) < 2 or choosing.takes_all(said):
        return None
    only = [frozenset(choosing.heard(part, choices)[0]) for part in parts if ONLY.search(part)]
    listed = ONLY_THESE.search(said)  # "just boost and pyro" are two
    if listed and frozenset(choosing.heard(listed["these"], choices)[0]) == named:
        only = []
    if len(named) > 1 and len(only) == 1 and len(only[0]) == 1:
        return only[0]
    unplaced = [part for part in parts if leaning.untold(part, choices) and not THE_REST.match(part)]
    leant = {leaning.lean(part, telling, firmly=WHOLE).choice for part in unplaced} - {"", *choosing.NONE}
    return named | leant if unplaced else None
