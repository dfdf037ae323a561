"""The size of a turbo told beside something else: the one that is wanted, or the one that is on it."""

import re

from . import present
from .measured import WANTED
from .request import decode

LEAST_WORDS = 3  # of what can hold something else
_MILS = r"(?: ?mm| mil(?:limet\w+)?)\b"
ON_IT = re.compile(
    r"\b(?:got|have|has|had|runs?|running) an? (?P<size>[3-9]\d(?:/\d\d)?"
    rf"(?:{_MILS})?) (?:on (?:it|mine|her|there)|now)\b"
    rf"|\b(?:it's|its|it was) an? (?P<measured>[3-9]\d(?:/\d\d)?{_MILS})",
    re.IGNORECASE,
)
BOUGHT = re.compile(r"\b(?:bought|put|hung|fitted|installed|bolted|swapped|stuck|sold me)\b", re.IGNORECASE)
NAME = re.compile(r"\b\d+(?!mm\b)[a-z]{2,}\d*\b", re.IGNORECASE)  # of a gearbox or a frame, no size
CLAUSE = re.compile(r"(?:(?! (?:but|because|and) )[^,;.!?])+")


def asks_for_a_size(words: str) -> bool:
    """Whether an opening names the size of the turbo that is wanted: "looking for a 64", or the size alone; or wants
    two in series."""
    wanted = WANTED.search(words) is not None or len(words.split()) <= LEAST_WORDS
    named = decode(NAME.sub(" ", ON_IT.sub(" ", words)))
    return wanted and (named.inducer is not None or (named.count == "compound" and WANTED.search(words) is not None))


def size_now(words: str) -> str:
    """The size of the turbo that he says is on it: "I've got a 64 on it"; "" for none."""
    found = ON_IT.search(present.own_clauses(words))
    return "" if found is None else found["size"] or found["measured"]


def size_bought(words: str) -> str:
    """The size of the turbo that he complains of: "I bought one of them sixty-eights"; "" for none."""
    clauses = CLAUSE.findall(present.own_clauses(words))
    named = [dict(decode(NAME.sub(" ", clause)).fixes) for clause in clauses if BOUGHT.search(clause)]
    return next((one["compressor inducer"] for one in named if "compressor inducer" in one), "")
