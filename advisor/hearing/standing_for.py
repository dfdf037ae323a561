"""Words that stand for a figure in this shop: "mile high"."""

from advisor.knowledge import FactDef
from advisor.units import Range, Unclear

from . import choosing, surroundings


def stands_for(definition: FactDef, words: str, figured: bool) -> Range | None:
    """The figure that words stand for in this shop ("mile high"); beside a figure only words that hold one
    themselves do ("half and half")."""
    phrases = [
        (str(index), tuple(phrase for phrase in said.words if not figured or surroundings.names_a_figure(phrase)))
        for index, said in enumerate(definition.said_as)
    ]
    phrases = [(index, kept) for index, kept in phrases if kept]
    if not phrases:
        return None
    named, denied = choosing.heard(words, phrases, by_name=False)
    try:
        found = frozenset(named) if named and not denied else choosing.read_several(words, phrases, by_name=False)
    except Unclear:
        return None
    named_in = [(index, kept) for index, kept in phrases if index in found]
    if not found or (figured and surroundings.names_a_figure(choosing.left_over(choosing.folded(words), named_in))):
        return None  # "six weeks or so" is no week or so
    # "hardly ever, a couple of times a year" says both
    values = [value for index in found if isinstance(value := definition.said_as[int(index)].value, Range)]
    low, high = max(value.low for value in values), min(value.high for value in values)
    return Range(low, high) if low <= high else None
