"""Whom callers speak of besides themselves, in one list."""

FRIENDS = (
    "friend", "buddy", "mate", "pal", "neighbour", "neighbor", "brother", "cousin", "uncle", "dad", "father", "son",
    "nephew", "coworker", "colleague", "acquaintance",
)  # fmt: skip
"""Who stands for a friend."""
_OTHERS = ("boss", "wife", "guy", "fella", "kid", "bloke", "chap")
MATE = rf"(?:{'|'.join((*FRIENDS, *_OTHERS, 'buddie'))})"
"""A pattern for one that he knows, behind which an "s" may stand."""
