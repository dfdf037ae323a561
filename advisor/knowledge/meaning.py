"""From a syntax tree to a condition: names looked up in the vocabulary, units and kinds made to agree."""

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import partial

from lark import Token

from .besides import (
    MOST_SLIPS,
    ONE_IS_ENOUGH,
    VERB,
    as_meant,
    as_spoken,
    before_verb,
    behind_name,
    certain,
    joined,
    misspelt,
    parted,
    spaced,
    trimmed,
    two_conditions,
    unsigned,
)
from .conditions import AnyOf, Between, Compare, Condition, Expr, Flag, Includes, Is, Known, NoneOf, Number, facts_in
from .grammar import Misread, Syntax, as_known, every, in_a_name, parse_condition, parse_sum, spoken
from .measure import agree, begins_in_words, in_digits, kind_of, wants
from .namesakes import ALIKE, NOTHING, Amiss, Back, Beside, as_named, beside, meant_by, mend_of, put
from .places import Fault, Place, did_you_mean, listed
from .regardless import choices, literals
from .source import CURLY
from .sums import Sums, name_of, start_of, unit_of
from .vocabulary import FactDef

_LISTED = re.compile(r"(?:(?P<no>none|neither)|any|either|on|oen|one|some)(?: off?)? |oneof |among ")
"""What people write for the end of 'is one of'."""
_COMMA = re.compile(r",(?!\d{3}\b)")


@dataclass(slots=True)
class Reader:
    """Reads the condition lines and values of one knowledge folder against its vocabulary."""

    vocabulary: Mapping[str, FactDef]
    faults: list[Fault]
    broken: frozenset[str] = frozenset()
    """Facts whose own entry is at fault: what reads them isn't understood, and isn't blamed."""
    blind: bool = False
    """No vocabulary could be read at all, so no fact is blamed for being unknown."""
    parts: Collection[str] | None = None
    """The kinds of parts that rules can add; None where the catalogue can't be read."""
    notes: list[Fault] = field(default_factory=list)
    """What is sound in what was read and perhaps not meant so."""

    mends: dict[tuple[str, str | None, Beside], str] = field(default_factory=dict)
    """What was said of names that are none: the next reader of a renamed fact is told the same."""

    def unknown_fact(
        self, name: str, place: Place, to_do: str = "", amiss: Amiss | None = None, value: Beside = NOTHING
    ) -> None:
        """Note that there is no such fact, unless its entry is just not readable; `value` is what stands beside it."""
        if self.blind or name.lower() in {known.lower() for known in self.broken}:
            return
        mend = "use a known fact"
        if len(self.mends) < MOST_MENDED or any(name == known for known, *_ in self.mends):
            meant = meant_by(name, (*self.vocabulary, *self.broken), amiss)
            told = (name, meant[0] if meant else None, value)
            if told not in self.mends:
                self.mends[told] = mend_of(*told[:2], self.vocabulary, value)
            mend = self.mends[told]
        self.faults.append(Fault(place, f"there is no fact '{name}'{to_do}", mend))

    def condition(self, text: str, locate: Callable[[int], Place]) -> Condition | None:
        """One written condition, or None with its faults noted; `locate` places a character of `text`."""
        if text.startswith(CURLY):  # told already where the text was read
            return None
        written, plain = text, True
        slips, text, back = trimmed(text)
        if slips:
            self.note(slips, locate)
            locate = _moved(locate, back)
        for _ in range(MOST_SLIPS):
            tree = None
            try:
                tree = parse_condition(text)
                condition = _Line(text, self, locate).condition(tree)
                if condition is not None:
                    return condition if text is written else None
                named = None if self.blind else self.as_named(text, tree)
                if named is None:
                    self.note((*literals(tree), *([] if self.blind else choices(tree, self.vocabulary))), locate)
                    break
                text, back, sure = named
                plain &= sure
            except Misread as misread:
                if text is not written and misread.what.startswith("a second comparison"):
                    break
                slip, meant = self.as_meant(text, misread)
                self.note([one for one in (slip, *misread.others) if plain or certain(one)], locate)
                if (halves := two_conditions(text, slip)) is not None:
                    for half, back in halves:
                        self.condition(half, _moved(locate, back))
                    break
                if meant is None:
                    if not (self.blind or tree):
                        self.names_in(text, slip, locate)
                    break
                text, back = meant
            locate = _moved(locate, back)
        return None

    def as_meant(self, text: str, misread: Misread) -> tuple[Misread, tuple[str, Back] | None]:
        """The slip as it is told, in the words of the fact where the form alone is vague, and the line as it was
        meant."""
        misread = behind_name(text, misread, self.vocabulary)
        if misread.vague:
            line = text, misread, self.vocabulary
            found = unsigned(*line, 1.0) or as_spoken(*line) or unsigned(*line, NEARLY)
            if found is not None:
                slip, better, back = found
                return slip, (better, back)
        return misread, as_meant(text, misread)

    def as_named(self, text: str, tree: Syntax) -> tuple[str, Back, bool] | None:
        """The line with the facts that its unknown names are meant to be; None where one is just not readable."""
        named = {name_of(fact.children[0]) for fact in tree.facts()}
        return None if named & self.broken else as_named(text, tree, self.vocabulary, self.amiss_in(text, tree))

    def amiss_in(self, text: str, tree: Syntax) -> Amiss:
        """How much is amiss with a line, were an unknown name in it a certain fact."""

        def amiss(_: str, fact: str) -> int:
            unknown = [one for one in tree.facts() if name_of(one.children[0]) not in self.vocabulary]
            if len(unknown) != 1:
                return 0
            better, _back = put(text, unknown[0].start, text[unknown[0].start : unknown[0].end], fact)
            try:
                _Line(better, self, lambda at: NOWHERE).condition(parse_condition(better))
            except Misread as misread:
                return 1 if certain(misread) else 2
            return 0

        return amiss

    def names_in(self, text: str, slip: Misread, locate: Callable[[int], Place]) -> None:
        """Tell the names that are no facts in a line that can't be read."""
        name = before_verb(text, slip, self.vocabulary)
        named = [(name, 0)] if name else list(misspelt(text, self.vocabulary))
        for name, at in named:
            self.unknown_fact(name, locate(at))

    def note(self, slips: Iterable[Misread], locate: Callable[[int], Place]) -> None:
        """Tell slips of a line, of each place the first."""
        told = {fault.place for fault in self.faults[-MOST_TOLD:] if not _LACKING.match(fault.what)}
        for slip in slips:
            if (place := locate(slip.offset)) not in told or _OF_KIND.search(slip.what):
                self.faults.append(Fault(place, slip.what, slip.mend))
                told.update(() if _LACKING.match(slip.what) else [place])

    def names_are_known(
        self, tree: Syntax, locate: Callable[[int], Place], base: int = 0, amiss: Amiss | None = None
    ) -> bool:
        """Whether all facts of a text exist; notes every one that doesn't."""
        good = True
        slips: list[Misread] = []
        for fact in tree.facts():
            name = name_of(fact.children[0])
            at = base + fact.start
            if name in self.vocabulary:
                continue
            if (instead := in_a_name(name) or spoken(name, self.vocabulary)) is not None:
                slips.append(Misread(at + instead.offset, instead.what, instead.mend))
            elif (figure := in_digits(name)) is not None:
                slips.append(Misread(at, f"'{name}' is a figure in words", f"write it in digits: {figure}"))
            elif fact.start and (said := begins_in_words(name)) and meant_by(name, self.vocabulary) is None:
                slips.append(Misread(at, f"'{said[0]}' is a figure in words", f"write it in digits: {said[1]}"))
            else:
                self.unknown_fact(name, locate(at), amiss=amiss, value=beside(tree))
                good = False
        if slips:
            raise Misread(slips[0].offset, slips[0].what, slips[0].mend, slips[1:])
        return good

    def amount(self, text: str, definition: FactDef, locate: Callable[[int], Place]) -> Expr | None:
        """A number for the fact `definition`: a value with its unit, a fact, or arithmetic between them."""
        try:
            return _Line(text, self, locate).amount(definition)
        except Misread as misread:
            self.faults.append(Fault(locate(misread.offset), misread.what, misread.mend))
            return None

    def choice(self, text: str, definition: FactDef, place: Place) -> str | None:
        """A choice of the fact `definition` by its name."""
        if text in definition.choice_names:
            return text
        self.faults.append(Fault(place, *unknown_choice(text, definition)))
        return None


def _moved(locate: Callable[[int], Place], back: Back) -> Callable[[int], Place]:
    return lambda offset: locate(back(offset))


_LACKING = re.compile("a (?:comparison|',') is missing")
"""What is told of a sign that is missing before something, which may be amiss itself."""
_OF_KIND = re.compile("can't be compared with|has no unit|is no unit|is wanted here")
"""What is told beside another fault at the same place."""
NOWHERE = Place("", 1, 1)
NEARLY = 0.8
"""How alike what stands right behind a fact must be to a value of it."""
MOST_MENDED, MOST_TOLD = 30, 20
"""Unknown names for which a known one is looked for, and faults of a line that are told."""


def unknown_choice(text: str, definition: FactDef, denied: bool = False) -> tuple[str, str]:
    """What to say about a choice that the fact doesn't have, and the mend; ``denied``: it stands behind "is not"."""
    what = f"'{definition.name}' has no choice '{text}'"
    if text in ("unknown", "not sure", "unanswered"):
        return what, f"write '{definition.name} is{'' if denied else ' not'} known'"
    for choice in definition.choices:
        if text.lower() == choice.name.lower() or text.lower() in (word.lower() for word in choice.words):
            return what, f"the choice is called '{choice.name}'"
    begun = [name for name in definition.choice_names if name.lower().startswith(f"{text.lower()} ")]
    if len(begun) > 1:
        return what, f"name the one that is meant, or all of them: 'is one of {', '.join(begun)}'"
    return what, did_you_mean(text, definition.choice_names, f"it has {listed(definition.choice_names)}")


class _Line(Sums):
    """One text while it is being understood."""

    def __init__(self, text: str, reader: Reader, locate: Callable[[int], Place]) -> None:
        super().__init__(text, reader.vocabulary, locate)
        self.reader = reader

    # --- conditions

    def condition(self, tree: Syntax) -> Condition | None:
        if not self.reader.names_are_known(tree, self.locate, amiss=self.reader.amiss_in(self.text, tree)):
            return None
        match tree.form, tree.children:
            case "compare", [Syntax() as left, Token() as sign, Syntax() as right]:
                return self.compare(left, sign, right)
            case "between", [Syntax() as middle, _, Syntax() as low, _, Syntax() as high]:
                return self.between(middle, low, high)
            case ("known" | "not_known") as form, [Syntax() as subject, _]:
                return Known(self.subject(subject).name, form == "not_known", **self.span())
            case ("includes" | "excludes") as form, [Syntax() as subject, _, Token() as phrase]:
                return self.includes(self.subject(subject), phrase, form == "excludes")
            case ("is" | "is_not") as form, [Syntax() as subject, Token() as sign, Token() as phrase]:
                return self.equals(subject, sign, phrase, form == "is_not")
            case ("one_of" | "not_one_of") as form, [Syntax() as subject, Token() as sign, Token() as phrase]:
                return self.one_of(subject, sign, phrase, form == "not_one_of")
            case _:
                raise AssertionError(tree)

    def compare(self, left: Syntax, sign: Token, right: Syntax, base: int = 0) -> Compare:
        first, second = self.agreeing(left, right, start_of(sign), right_base=base)
        match sign.value:
            case "<" | "<=" | ">" | ">=" | "=" | "!=":
                compared = Compare(first, sign.value, second, **self.span())
            case _:
                raise AssertionError(sign)
        if not facts_in(compared):
            raise Misread(0, "this compares numbers and reads no fact", "name the fact that it is about")
        return compared

    def agreeing(self, left: Syntax, right: Syntax, at: int, right_base: int = 0) -> tuple[Expr, Expr]:
        """Both sides of a comparison, checked against each other; a bare literal goes by the other side."""
        if left.literal:
            second, kind = self.expr(right, None, right_base)
            first, other = self.expr(left, kind, 0)
        else:
            first, kind = self.expr(left, None, 0)
            second, other = self.expr(right, kind, right_base)
        if not agree(kind, other):
            raise Misread(at, f"{kind.words} can't be compared with {other.words}", "compare like with like")
        return first, second

    def between(self, middle: Syntax, low: Syntax, high: Syntax) -> Between:
        expr, kind = self.expr(middle, None, 0)
        borrowed = unit_of(high) if unit_of(low) is None else None
        (top, high_kind), (bottom, low_kind) = every(
            (lambda: self.expr(high, kind, 0), lambda: self.expr(low, kind, 0, borrowed)), shared=unit_of(low) is None
        )
        for other, end in ((low_kind, low), (high_kind, high)):
            if not agree(kind, other):
                what = f"{kind.words} can't be compared with {other.words}"
                raise Misread(end.start, what, "compare like with like")
        if isinstance(bottom, Number) and isinstance(top, Number) and bottom.si >= top.si:
            raise Misread(low.start, "the lower end is not below the upper end", "swap the two")
        return Between(expr, bottom, top, **self.span())

    def includes(self, definition: FactDef, phrase: Token, negated: bool) -> Includes:
        name = phrase.value.strip()
        if definition.kind != "several":
            mend = f"write '{definition.name} is {name}'"
            raise Misread(0, f"'{definition.name}' holds one value, so nothing can be included in it", mend)
        return Includes(definition.name, self.choice(definition, name, start_of(phrase)), negated, **self.span())

    def equals(self, subject: Syntax, sign: Token, phrase: Token, negated: bool) -> Condition:
        definition = self.fact_of(subject)
        name = phrase.value.strip()
        known = definition.choice_names if definition is not None else ()
        slip = None if name in known else as_known(name, start_of(phrase))
        if slip is not None and not get_close_matches(name, known, 1, ALIKE):
            raise slip
        if definition is None or definition.kind == "number":
            return self.compare_phrase(subject, sign, name, start_of(phrase), negated)
        match definition.kind:
            case "yes/no":
                if name not in ("yes", "no"):
                    raise Misread(start_of(phrase), f"'{definition.name}' is yes or no", "write yes or no")
                return Flag(definition.name, (name == "yes") != negated, **self.span())
            case "choice":
                if (listed := _LISTED.match(name)) and self.is_list(name[listed.end() :], definition):
                    said = self.text[start_of(sign) : start_of(phrase) + listed.end()].strip()
                    no = " not" if negated or listed["no"] else ""
                    raise Misread(start_of(sign), f"'{said}' can't stand here", f"write 'is{no} one of'")
                choice = self.choice(definition, name, start_of(phrase))
                return Is(definition.name, frozenset((choice,)), negated, **self.span())
            case "several":
                verb = "do not include" if negated else "include"
                what = f"'{definition.name}' can hold several values at once"
                found = parted(name, start_of(phrase))
                mend = f"write '{definition.name} {verb} {name}'"
                if len(found) > 1:
                    mend = f"write a line for each, as in '{definition.name} {verb} {found[0][0]}'{ONE_IS_ENOUGH}"
                raise Misread(start_of(sign), what, mend, self.unknown_choices(found, definition))
            case _:
                what = f"'{definition.name}' is free text and can't be compared"
                raise Misread(start_of(sign), what, f"write '{definition.name} is known'")

    def is_list(self, name: str, definition: FactDef) -> bool:
        """Whether several choices stand in a phrase."""
        return len(parted(name, 0)) > 1 or len(spaced(name, 0, definition.choice_names)) > 1

    def one_of(self, subject: Syntax, sign: Token, phrase: Token, negated: bool) -> Condition:
        definition = self.fact_of(subject)
        pieces = self.pieces(phrase)
        if definition is None or definition.kind == "number":
            equals = (partial(self.compare_phrase, subject, sign, name, at, False) for name, at in pieces)
            equal = tuple(every(equals, shared=True))
            return NoneOf(equal, **self.span()) if negated else AnyOf(equal, **self.span())
        if definition.kind != "choice":
            mend = f"write a line for each under 'any:', as in '{definition.name} include {pieces[0][0]}'"
            if definition.kind != "several":
                mend = f"write '{definition.name} is ...'"
            raise Misread(start_of(sign), f"'is one of' is for choices, '{definition.name}' is none", mend)
        choices = frozenset(every(partial(self.choice, definition, name, at, True) for name, at in pieces))
        return Is(definition.name, choices, negated, **self.span())

    def compare_phrase(self, subject: Syntax, sign: Token, phrase: str, at: int, negated: bool) -> Compare:
        """`cylinders is 6`: the words after `is` read as a sum."""
        verb = "is not " if negated else "is "
        if (instead := spoken(verb + phrase)) is not None:
            behind = instead.offset - len(verb)
            raise Misread(start_of(sign) if behind < 0 else at + behind, instead.what, instead.mend)
        if (joint := joined(phrase, at)) is not None:
            raise joint
        try:
            tree = parse_sum(phrase)
        except Misread as misread:
            raise Misread(at + misread.offset, misread.what, misread.mend) from None
        unknown = [fact for fact in tree.facts() if name_of(fact.children[0]) not in self.vocabulary]
        if tree.form != "fact" and unknown:
            every(partial(self.plainly_no_fact, name_of(fact.children[0]), at + fact.start) for fact in unknown)
        if unknown:
            name = self.fact_of(subject)
            what = f"'{name.name}' is a number, '{phrase}' is none" if name else f"'{phrase}' is no number"
            figure = in_digits(phrase)
            raise Misread(at, what, f"write it in digits: {figure}" if figure else "write a number with its unit")
        operator = Token("COMPARE", "!=" if negated else "=", start_pos=start_of(sign))
        return self.compare(subject, operator, tree, at)

    def plainly_no_fact(self, name: str, at: int) -> None:
        """Raises `Misread` for a name that is plainly a fact with a slip."""
        meant = meant_by(name, self.vocabulary)
        if meant is not None and meant[1]:
            raise Misread(at, f"there is no fact '{name}'", f"did you mean '{meant[0]}'?")

    def pieces(self, phrase: Token) -> list[tuple[str, int]]:
        """The entries of a list with commas, each with the offset of its first character."""
        found = []
        at = start_of(phrase)
        for piece in _COMMA.split(phrase.value):
            name = piece.strip()
            if not name:
                raise Misread(at, "an entry of the list is empty", "write 'is one of a, b'")
            found.append((name, at + piece.index(name)))
            at += len(piece) + 1
        return found

    def choice(self, definition: FactDef, name: str, at: int, in_list: bool = False) -> str:
        if name in definition.choice_names:
            return name
        joint = joined(name, at)
        near = get_close_matches(name, definition.choice_names, 1, ALIKE)
        found = parted(name, at) if joint else spaced(name, at, definition.choice_names)
        if near or not found:
            raise Misread(at, *unknown_choice(name, definition, self.text[:at].endswith(" not ")))
        if joint is None and definition.kind == "several":
            mend = f"write each on its own line, as in '{definition.name} include {found[0][0]}'{ONE_IS_ENOUGH}"
            joint = Misread(at, f"'{name}' names several choices", mend)
        elif joint is None:
            mend = f"write '{', '.join(one for one, _ in found)}'"
            joint = Misread(found[1][1], f"a ',' is missing before '{found[1][0]}'", mend)
        elif VERB.search(name):
            raise joint
        slips = self.unknown_choices(found, definition)
        if in_list:
            mend = "write ','" if joint.what.endswith("here") else joint.mend
            raise Misread(joint.offset, joint.what, mend, slips)
        if definition.kind != "choice":
            raise Misread(joint.offset, joint.what, joint.mend, slips)
        verb = max(self.text.rfind(" is ", 0, at) + 1, 0)
        said = self.text[verb:at].strip()
        listing = ", ".join(one for one, _ in found)
        raise Misread(verb, f"'{said} {name}' names several choices", f"write '{said} one of {listing}'", slips)

    def unknown_choices(self, found: Iterable[tuple[str, int]], definition: FactDef) -> list[Misread]:
        known = definition.choice_names
        return [Misread(at, *unknown_choice(one, definition)) for one, at in found if one not in known]

    # --- sums and names

    def amount(self, definition: FactDef) -> Expr | None:
        tree = parse_sum(self.text)
        if not self.reader.names_are_known(tree, self.locate):
            return None
        wanted = kind_of(definition.quantity)
        expr, kind = self.expr(tree, wanted, 0)
        if not agree(wanted, kind):
            what = f"'{definition.name}' is {wanted.words}, this is {kind.words}"
            raise Misread(0, what, wants(definition.quantity))
        return expr

    def fact_of(self, tree: Syntax) -> FactDef | None:
        return self.vocabulary[name_of(tree.children[0])] if tree.form == "fact" else None

    def subject(self, tree: Syntax) -> FactDef:
        definition = self.fact_of(tree)
        if definition is None:
            raise Misread(tree.start, "only a single fact can stand here", "name one fact")
        return definition
