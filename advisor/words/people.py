"""Whom callers speak of besides themselves, in one list."""

FRIENDS = (
    "friend", "buddy", "mate", "pal", "neighbour", "neighbor", "brother", "cousin", "uncle", "dad", "father", "son",
    "nephew", "coworker", "colleague", "acquaintance",
)  # fmt: skip
"""Who stands for a friend."""
_NEAR = ("dad", "father", "son", "boss", "wife", "kid")
_OTHERS = ("guy", "fella", "bloke", "chap")
MATE = rf"(?:{'|'.join((*FRIENDS, *_NEAR, *_OTHERS, 'buddie'))})"
"""A pattern for one that he knows, behind which an "s" may stand."""
ANOTHER = rf"(?:{'|'.join((*(one for one in FRIENDS if one not in _NEAR), *_OTHERS, 'buddie'))})"
"""The same without those for whose truck he may well be calling."""
