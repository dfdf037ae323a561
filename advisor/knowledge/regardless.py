"""What is wrong with a condition whichever facts the names in it are meant to be."""

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from lark import Token

from .besides import joined, parted
from .fields import Wrong
from .grammar import Misread, Syntax, as_known, spoken
from .measure import ALL_UNITS, lettered, quantities_of, read_figure
from .namesakes import ALIKE
from .places import did_you_mean
from .vocabulary import FactDef


def literals(tree: Syntax) -> Iterator[Misread]:
    """The figures that can be read in two ways, the units that nobody knows, spoken comparisons, and what stands for
    'known'."""
    if tree.form in ("is", "is_not") and isinstance(phrase := tree.children[2], Token):
        if slip := as_known(phrase.value.strip(), phrase.start_pos or 0):
            yield slip
        instead = spoken(f"is {phrase}") if re.search(r"\d", phrase) else None
        if instead is not None and isinstance(sign := tree.children[1], Token):
            yield Misread(sign.start_pos or 0, instead.what, instead.mend)
    if tree.form == "number":
        figure, unit = str(tree.children[0]), str(tree.children[1]).strip() if len(tree.children) > 1 else ""
        try:
            read_figure(figure)
            if unit and (wrong := lettered(figure, unit)):
                raise wrong
            if unit and not quantities_of(unit):
                mend = did_you_mean(unit, ALL_UNITS, "use a unit such as psi, lb, hp or °F")
                raise Wrong(f"'{unit}' is no unit", mend)
        except Wrong as wrong:
            yield Misread(tree.start, wrong.what, wrong.mend)
    for child in tree.children:
        if isinstance(child, Syntax):
            yield from literals(child)


def choices(tree: Syntax, vocabulary: Mapping[str, FactDef]) -> Iterator[Misread]:
    """The choices that no fact has and that are nearly one, and what parts those of a list in the place of a comma."""
    phrase = tree.children[-1]
    if not isinstance(phrase, Token) or phrase.type != "PHRASE":
        return
    known = {choice.name for fact in vocabulary.values() for choice in fact.choices}
    said = {word for fact in vocabulary.values() for choice in fact.choices for word in choice.words}
    at = phrase.start_pos or 0
    in_list = tree.form.endswith("one_of")
    for piece in re.finditer(r"[^,\s][^,]*[^,\s]|[^,\s]", phrase.value):
        joint = joined(piece[0], at + piece.start()) if in_list and piece[0] not in known else None
        if joint is not None and joint.what[1:-1].startswith(("or'", "and'")):
            yield Misread(joint.offset, joint.what, "write ','")
        for name, start in parted(piece[0], at + piece.start()) if joint else [(piece[0], at + piece.start())]:
            if name in known | said or not name[0].isalpha():
                continue
            if close := get_close_matches(name, sorted(known), 1, ALIKE):
                yield Misread(start, f"no fact has a choice '{name}'", f"did you mean '{close[0]}'?")
