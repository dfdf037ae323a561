"""What is told of a share, or of what is over stock, in other words than by its percentage."""

import re

from advisor.knowledge import FactDef
from advisor.quantities import from_si
from advisor.units import Range, Unclear, read_number

from . import asides, choosing, denied, surroundings

_ALL_BUT = re.compile(r"\ball (?:of (?:it|them) )?(?:but|except) (?P<few>.+)", re.IGNORECASE)
_OVER_ASKED = re.compile(r"\bhow much over\b", re.IGNORECASE)
_MORE = re.compile(
    rf"(?P<said>(?:{asides.FIGURE.pattern})(?: ?%| ?per ?cent\b)?) (?:bigger|larger|more|hotter|higher)(?: flow)?"
    r"(?: than (?:the )?(?:stock|factory|standard)(?: ones| injectors)?)?(?=\W*$|[,;.]| (?:or|give|i|we)\b)",
    re.IGNORECASE,
)
_BY_HORSEPOWER = re.compile(
    rf"(?P<said>{asides.FIGURE.pattern}) ?(?:hp|horse(?:s|power)?|pony|ponies)(?:er)?s? "
    r"(?:injectors?|sticks|nozzles|tips)\b",
    re.IGNORECASE,
)
_LEAST_RATED, _MOST_RATED = 215.0, 400.0  # hp that such engines left the factory with, nine times in ten
_NONE = "none"
_THOUSANDS = re.compile(r"\b(?:thousand|grand)\b", re.IGNORECASE)
_SOME = re.compile(r"\b(?:hardly|used to|except|than|instead)\b", re.IGNORECASE)


def all_but(words: str) -> str:
    """What is left out of all: "all but ten percent"; "" where no figure is."""
    few = _ALL_BUT.search(words)
    return few["few"] if few and surroundings.names_a_figure(few["few"]) else ""


def over(words: str, ask: str) -> str:
    """The words with what is bigger by so much said to be over, where that is asked: "thirty percent bigger than
    stock". Raises Unclear for thousands."""
    if _THOUSANDS.search(words):
        raise Unclear("that is said of no share", "20 percent")
    return _MORE.sub(r"\g<said> over", words) if _OVER_ASKED.search(ask) else words


def by_horsepower(words: str) -> str:
    """Injectors that go by the power they add said as over stock: that much of what the engine was rated at (common
    practice, no source). For what is offered in passing; who is asked for them tells which he means."""

    def over_stock(found: re.Match[str]) -> str:
        try:
            power = from_si(read_number(found["said"], "power", "hp").value.mid, "hp", "power")
        except Unclear:
            return found[0]
        return f"{100 * power / _MOST_RATED:.0f} to {100 * power / _LEAST_RATED:.0f} percent over injectors"

    return _BY_HORSEPOWER.sub(over_stock, words)


def none_of_it(definition: FactDef, words: str) -> Range | None:
    """What "none" stands for, where somebody only says that there is none of a share: "we don't pull sleds"; else
    None."""
    none = next((said.value for said in definition.said_as if _NONE in said.words), None)
    if definition.quantity != "percent" or not isinstance(none, Range) or _SOME.search(words):
        return None
    marks = [mark.removeprefix("# ").removeprefix("percent ") for mark in definition.mentioned if mark.startswith("#")]
    return none if denied.denies(choosing.folded(words), marks) else None
