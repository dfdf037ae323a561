"""What is said of any choice alike ("it's a dog", "no power") and so names none: to be asked about again."""

import re
from collections.abc import Sequence

from advisor.words.endings import stem_of

from .choosing import holds, places, stems_of

_CLAUSES = re.compile(
    r"\s*(?:[,;:.!?](?!\d)|\b(?:and|but|since|ever since|because|after|with|now|when)\b)\s*", re.IGNORECASE
)
# What stands beside it and tells no more.
_FILLERS = """
    i you he she it we they its hes shes im ive id my mine the a an this that is are was be been has have had got just
    only really very pretty so well oh kind kinda sort sorta of plain all any anymore at in on to for as like man honest
    honestly truth tell told ya truck turbo charger thing one new old engine motor rig lately today again still always
    right now dang damn darn bloody flat simply basically total complete absolute real big little bit
"""
_TELLS_NO_MORE = frozenset(stem_of(word) for word in _FILLERS.split())


def without_vague(words: str, vague: Sequence[str]) -> str:
    """The words without clauses that say no more than the ``vague`` phrases do ("it's a dog, and hot" is hot); as they
    are where none does."""
    if not vague or not holds(words, vague):
        return words
    clauses = _CLAUSES.split(words)
    kept = [clause for clause in clauses if not _only_vague(clause, vague)]
    return ", ".join(kept) if len(kept) < len(clauses) else words


def _only_vague(clause: str, vague: Sequence[str]) -> bool:
    within = places(clause, vague)
    rest = (stem for at, stem in enumerate(stems_of(clause)) if at not in within and stem.isalnum())
    return bool(within) and _TELLS_NO_MORE.issuperset(rest)
