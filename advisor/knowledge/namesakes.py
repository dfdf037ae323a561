"""Which fact is meant by a name that is none."""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches

from lark import Token

from .grammar import Syntax
from .measure import quantities_of
from .places import in_a_row, nearest, one_or_more
from .vocabulary import FactDef

ALIKE = 0.84
"""How alike a name must be to a fact for it to be read as that."""
_NEAR, _MOST_NEAR = 0.6, 12
"""How alike a name must be to a fact that may be meant by it, and the facts that are looked at."""
_SMALL_WORDS = {"a", "an", "and", "for", "has", "he", "his", "in", "is", "it", "may", "of", "on", "the", "to", "what"}
_STEM, _MOST_WORDS, _MOST_NAMED = 5, 6, 3
"""Letters that tell a word, words of a name that are looked at, and facts named at most where none is near."""
_BY_NAME, _BY_CHOICE = 3, 4
"""How much more a word of a fact's name, and a choice of it, tell than a word it is asked with."""

Back = Callable[[int], int]
"""Where a character of a line as it was meant stands in the line as written."""
Amiss = Callable[[str, str], int]
"""How much is amiss with the line in which a name stands, were it this fact: 0 where nothing is."""


def meant_by(name: str, known: Collection[str], amiss: Amiss | None = None) -> tuple[str, bool] | None:
    """The fact that is likely meant by a name, and whether that is plain; None where none is near.

    Of several that may be meant, the nearest of those with which least is amiss.
    """
    close = nearest(name, known)
    if close is None or not alike(name, close):
        return None
    if plainly(name, close):
        return close, True
    others = [fact for fact in known if f" {name.lower()} " in f" {fact} "]
    others += (fact for fact in get_close_matches(name, known, _MOST_NEAR, _NEAR) if alike(name, fact))
    rivals = list(dict.fromkeys((close, *others)))[:_MOST_NEAR]
    if len(rivals) == 1 or amiss is None:
        return close, len(rivals) == 1 and f" {name.lower()} " in f" {close} "
    marks = {fact: amiss(name, fact) for fact in rivals}
    least = [fact for fact in rivals if marks[fact] == min(marks.values())]
    return close if close in least else nearest(name, least) or close, False


def plainly(name: str, fact: str) -> bool:
    """Whether a name is surely that fact with a slip: letters, number, or a word too many."""
    if sorted(name.lower()) == sorted(fact) or f" {fact} " in f" {name} ":
        return True
    return one_or_more(name, [fact]) is not None or likeness(name, fact) >= ALIKE


def alike(name: str, other: str) -> bool:
    """Whether names are near in those words, too, that they don't share."""
    one, two = name.lower().split(), other.lower().split()
    mine, theirs = ([word for word in words if word not in beside] for words, beside in ((one, two), (two, one)))
    if not mine or not theirs:
        return True
    least = 0.75 if mine == one and len(one) + len(two) > 2 else 0.6
    return SequenceMatcher(None, " ".join(mine), " ".join(theirs)).ratio() >= least


def likeness(name: str, other: str) -> float:
    """How alike two names are, from 0 to 1."""
    return SequenceMatcher(None, name.lower(), other).ratio()


def as_named(
    text: str, tree: Syntax, known: Collection[str], amiss: Amiss | None = None
) -> tuple[str, Back, bool] | None:
    """The line with the facts that its unknown names are meant to be, and whether that is plain of all of them; None
    where one of them is near no fact."""
    back: Sequence[Back] = ()
    plain = True
    for fact in sorted(tree.facts(), key=lambda fact: -fact.start):
        written = text[fact.start : fact.end]
        name = " ".join(written.split())
        if name in known:
            continue
        meant = meant_by(name, known, amiss)
        if meant is None:
            return None
        plain &= meant[1]
        text, one = put(text, fact.start, written, meant[0])
        back = (one, *back)
    return text, lambda at: _through(back, at), plain


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside a name that is none: the `kinds` of fact that it can be said of, and the choices `named`."""

    kinds: frozenset[str] = frozenset()
    named: tuple[str, ...] = ()


NOTHING = Beside()


def beside(tree: Syntax) -> Beside:
    """What the verb and the value of a condition say of its fact."""
    phrase = tree.children[-1]
    if not isinstance(phrase, Token) or phrase.type != "PHRASE":
        return Beside(frozenset(("number",)) if tree.form in ("compare", "between") else frozenset())
    if phrase in ("yes", "no"):
        return Beside(frozenset(("yes/no",)))
    if phrase[:1].isdigit():
        return Beside(frozenset(("number",)))
    return Beside(frozenset(("choice", "several")), tuple(part.strip() for part in phrase.split(",")))


def mend_of(name: str, meant: str | None, vocabulary: Mapping[str, FactDef], value: Beside) -> str:
    """The fact that is meant; else those that speak of what the name and the value beside it speak of, a few of them
    where they are many."""
    if meant is not None:
        return f"did you mean '{meant}'?"
    if quantities_of(name):
        return "write a unit without spaces, as in '52 lb/min'"
    if len(said := name.split()) > 1 and quantities_of(said[-1]):
        return f"if a figure is meant, write it in digits, as in '4,000 {said[-1]}'"
    stems = [word[:_STEM] for word in name.lower().split() if word not in _SMALL_WORDS][:_MOST_WORDS]
    marks = {fact.name: _speaks_of(fact, stems, value) for fact in vocabulary.values()}
    of_kind = {name: mark for name, mark in marks.items() if mark > 0 and vocabulary[name].kind in value.kinds}
    most = max((of_kind or marks).values(), default=0)
    best = [name for name, mark in (of_kind or marks).items() if mark == most > 0]
    if len(best) > _MOST_NAMED and most < _BY_NAME:
        best = []
    words = "perhaps" if len(best) <= _MOST_NAMED else "such as"
    some = sorted(sorted(best, key=lambda name: (len(name), name))[:_MOST_NAMED])
    perhaps = f", {words} {in_a_row([repr(one) for one in some], 'or')}" if some else ""
    return f"give it an entry in facts.yaml, or use a known fact{perhaps}"


def _speaks_of(fact: FactDef, stems: Iterable[str], value: Beside) -> int:
    """How much a fact speaks of words: by its name and the choices named first, then by what is said around it."""
    asked = (*fact.mentioned, *(words for said in fact.said_as for words in said.words), fact.ask, fact.listen_for)
    told = " ".join((*asked, fact.why, fact.check_by)).lower()
    taken = _BY_CHOICE * len({*value.named} & {*fact.choice_names})
    return taken + sum(_BY_NAME * _begins(stem, fact.name) or _begins(stem, told) for stem in stems)


def _begins(stem: str, text: str) -> bool:
    return re.search(rf"\b{re.escape(stem)}", text) is not None


def put(text: str, start: int, written: str, meant: str) -> tuple[str, Back]:
    """A line with what was meant in the place of what is written at `start`."""
    longer = len(meant) - len(written)
    end = start + len(meant)
    better = f"{text[:start]}{meant}{text[start + len(written) :]}"
    return better, lambda at: at if at < start else start if at < end else at - longer


def _through(back: Sequence[Back], at: int) -> int:
    for one in reversed(back):
        at = one(at)
    return at
