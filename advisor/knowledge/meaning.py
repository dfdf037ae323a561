"""From a syntax tree to a condition: names looked up in the vocabulary, units and kinds made to agree."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypedDict

from lark import Token

from .conditions import (
    AnyOf,
    Between,
    Binary,
    Compare,
    Condition,
    Expr,
    FactRef,
    Flag,
    Includes,
    Is,
    Known,
    Negate,
    NoneOf,
    Number,
    facts_in,
)
from .fields import Wrong
from .grammar import Misread, Syntax, parse_condition, parse_sum
from .measure import (
    BARE,
    Kind,
    agree,
    difference_in_si,
    in_si,
    kind_of,
    product,
    quantities_of,
    read_figure,
    units_of,
    wants,
    with_article,
)
from .places import Fault, Place, did_you_mean, listed, nearest
from .vocabulary import FactDef

_COMMA = re.compile(r",(?!\d{3}\b)")
_JOINED = re.compile(r"\s(and|or)\s")
_OPERATORS = {"PLUS": "+", "MINUS": "-", "TIMES": "*", "OVER": "/"}


class Span(TypedDict):
    """Place and text of a node, as its constructor wants them."""

    place: Place
    text: str


@dataclass(slots=True)
class Reader:
    """Reads the condition lines and values of one knowledge folder against its vocabulary."""

    vocabulary: Mapping[str, FactDef]
    faults: list[Fault]
    broken: frozenset[str] = frozenset()
    """Facts whose own entry is at fault: what reads them isn't understood, and isn't blamed."""
    blind: bool = False
    """No vocabulary could be read at all, so no fact is blamed for being unknown."""

    def unknown_fact(self, name: str, place: Place, to_do: str = "") -> None:
        """Note that there is no such fact, unless its entry is just not readable."""
        if name not in self.broken and not self.blind:
            otherwise = "give it an entry in facts.yaml, or use a known fact"
            if quantities_of(name):
                otherwise = "write a unit without spaces, as in '52 lb/min'"
            mend = did_you_mean(name, (*self.vocabulary, *self.broken), otherwise)
            self.faults.append(Fault(place, f"there is no fact '{name}'{to_do}", mend))

    def condition(self, text: str, locate: Callable[[int], Place]) -> Condition | None:
        """One written condition, or None with its faults noted; `locate` places a character of `text`."""
        try:
            return _Line(text, self, locate).condition()
        except Misread as misread:
            self.faults.append(Fault(locate(misread.offset), misread.what, misread.mend))
            return None

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


def unknown_choice(text: str, definition: FactDef) -> tuple[str, str]:
    """What to say about a choice that the fact doesn't have, and the mend."""
    what = f"'{definition.name}' has no choice '{text}'"
    for choice in definition.choices:
        if text.lower() == choice.name.lower() or text.lower() in (word.lower() for word in choice.words):
            return what, f"the choice is called '{choice.name}'"
    return what, did_you_mean(text, definition.choice_names, f"it has {listed(definition.choice_names)}")


class _Line:
    """One text while it is being understood; offsets are characters of the text."""

    def __init__(
        self,
        text: str,
        reader: Reader,
        locate: Callable[[int], Place],
    ) -> None:
        self.text = text
        self.reader = reader
        self.vocabulary = reader.vocabulary
        self.locate = locate

    # --- conditions

    def condition(self) -> Condition | None:
        tree = parse_condition(self.text)
        if not self.names_are_known(tree, 0):
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
        first, second = self.agreeing(left, right, _start(sign), right_base=base)
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
        if _is_literal(left):
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
        borrowed = _unit(high) if _unit(low) is None else None
        bottom, low_kind = self.expr(low, kind, 0, borrowed)
        top, high_kind = self.expr(high, kind, 0)
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
        return Includes(definition.name, self.choice(definition, name, _start(phrase)), negated, **self.span())

    def equals(self, subject: Syntax, sign: Token, phrase: Token, negated: bool) -> Condition:
        definition = self.fact_of(subject)
        name = phrase.value.strip()
        if definition is None or definition.kind == "number":
            return self.compare_phrase(subject, sign, name, _start(phrase), negated)
        match definition.kind:
            case "yes/no":
                if name not in ("yes", "no"):
                    raise Misread(_start(phrase), f"'{definition.name}' is yes or no", "write yes or no")
                return Flag(definition.name, (name == "yes") != negated, **self.span())
            case "choice":
                choice = self.choice(definition, name, _start(phrase))
                return Is(definition.name, frozenset((choice,)), negated, **self.span())
            case "several":
                verb = "do not include" if negated else "include"
                what = f"'{definition.name}' can hold several values at once"
                raise Misread(_start(sign), what, f"write '{definition.name} {verb} {name}'")
            case _:
                what = f"'{definition.name}' is free text and can't be compared"
                raise Misread(_start(sign), what, f"write '{definition.name} is known'")

    def one_of(self, subject: Syntax, sign: Token, phrase: Token, negated: bool) -> Condition:
        definition = self.fact_of(subject)
        pieces = self.pieces(phrase)
        if definition is None or definition.kind == "number":
            equal = tuple(self.compare_phrase(subject, sign, name, at, False) for name, at in pieces)
            return NoneOf(equal, **self.span()) if negated else AnyOf(equal, **self.span())
        if definition.kind != "choice":
            mend = f"write a line for each under 'any:', as in '{definition.name} include {pieces[0][0]}'"
            if definition.kind != "several":
                mend = f"write '{definition.name} is ...'"
            raise Misread(_start(sign), f"'is one of' is for choices, '{definition.name}' is none", mend)
        choices = frozenset(self.choice(definition, name, at) for name, at in pieces)
        return Is(definition.name, choices, negated, **self.span())

    def compare_phrase(self, subject: Syntax, sign: Token, phrase: str, at: int, negated: bool) -> Compare:
        """`cylinders is 6`: the words after `is` read as a sum."""
        if _JOINED.search(phrase):
            raise Misread(at, "two conditions on one line", "write each condition on its own line")
        try:
            tree = parse_sum(phrase)
        except Misread as misread:
            raise Misread(at + misread.offset, misread.what, misread.mend) from None
        if any(_name(fact.children[0]) not in self.vocabulary for fact in tree.facts()):
            name = self.fact_of(subject)
            what = f"'{name.name}' is a number, '{phrase}' is none" if name else f"'{phrase}' is no number"
            raise Misread(at, what, "write a number with its unit")
        operator = Token("COMPARE", "!=" if negated else "=", start_pos=_start(sign))
        return self.compare(subject, operator, tree, at)

    def pieces(self, phrase: Token) -> list[tuple[str, int]]:
        """The entries of a list with commas, each with the offset of its first character."""
        found = []
        at = _start(phrase)
        for piece in _COMMA.split(phrase.value):
            name = piece.strip()
            if not name:
                raise Misread(at, "an entry of the list is empty", "write 'is one of a, b'")
            found.append((name, at + piece.index(name)))
            at += len(piece) + 1
        return found

    def choice(self, definition: FactDef, name: str, at: int) -> str:
        if name in definition.choice_names:
            return name
        what, mend = unknown_choice(name, definition)
        if _JOINED.search(name) and nearest(name, definition.choice_names) is None:
            mend = "write each condition on its own line, under 'any:' where one is enough"
        elif "," in name:
            mend = "write each on its own line, or 'is one of a, b' for a fact that holds one choice"
        raise Misread(at, what, mend)

    # --- sums

    def amount(self, definition: FactDef) -> Expr | None:
        tree = parse_sum(self.text)
        if not self.names_are_known(tree, 0):
            return None
        wanted = kind_of(definition.quantity)
        expr, kind = self.expr(tree, wanted, 0)
        if not agree(wanted, kind):
            what = f"'{definition.name}' is {wanted.words}, this is {kind.words}"
            raise Misread(0, what, wants(definition.quantity))
        return expr

    def expr(self, tree: Syntax, hint: Kind | None, base: int, borrowed: str | None = None) -> tuple[Expr, Kind]:
        """The sum and its kind; `hint` is the kind that the surroundings want a literal to be."""
        at = base + tree.start
        span = self.span(at, base + tree.end)
        literal = _literal(tree)
        if literal is not None:
            sign, number, unit = literal
            words = unit.value.strip() if unit is not None else borrowed or ""
            return self.literal(sign, number.value, words, hint, at, span)
        match tree.form, tree.children:
            case "fact", [Token() as name]:
                definition = self.vocabulary[_name(name)]
                if definition.kind != "number":
                    raise Misread(at, f"'{definition.name}' is no number", _instead(definition))
                return FactRef(definition.name, **span), kind_of(definition.quantity)
            case "negate", [_, Syntax() as inner]:
                of, kind = self.expr(inner, hint, base)
                if kind.is_point:
                    raise Misread(at, "a temperature can't be turned negative", "write the number itself")
                return Negate(of, **span), kind
            case "binary", [Syntax() as left, Token() as operator, Syntax() as right]:
                if operator.type in ("PLUS", "MINUS"):
                    return self.sum(left, operator, right, hint, base, span)
                return self.product(left, operator, right, base, span)
            case _:
                raise AssertionError(tree)

    def sum(
        self,
        left: Syntax,
        operator: Token,
        right: Syntax,
        hint: Kind | None,
        base: int,
        span: Span,
    ) -> tuple[Expr, Kind]:
        at = base + _start(operator)
        if _is_literal(left) and not _is_literal(right):
            second, right_kind = self.expr(right, None, base)
            first, left_kind = self.expr(left, _step(right_kind), base)
        elif _is_literal(left):
            first, left_kind = self.expr(left, hint, base)
            second, right_kind = self.expr(right, hint, base)
        else:
            first, left_kind = self.expr(left, None, base)
            literal = _is_literal(right)
            second, right_kind = self.expr(right, _step(left_kind) if literal else None, base)
        minus = operator.type == "MINUS"
        joined = Binary("-" if minus else "+", first, second, **span)
        if left_kind.is_point and right_kind.is_point:
            if minus:
                return joined, Kind(left_kind.dimension, left_kind.quantity, True)
            raise Misread(at, "two temperatures can't be added", "add a number of degrees to one of them")
        if left_kind.is_point and right_kind.difference:
            return joined, left_kind
        if right_kind.is_point and left_kind.difference and not minus:
            return joined, right_kind
        if not agree(left_kind, right_kind):
            verb = "subtracted" if minus else "added"
            what = f"{left_kind.words} and {right_kind.words} can't be {verb}"
            raise Misread(at, what, "add and subtract like with like")
        quantity = left_kind.quantity if left_kind.quantity == right_kind.quantity else None
        if left_kind.dimension == BARE.dimension and quantity is None:
            quantity = "ratio"
        return joined, Kind(left_kind.dimension, quantity, left_kind.difference)

    def product(
        self,
        left: Syntax,
        operator: Token,
        right: Syntax,
        base: int,
        span: Span,
    ) -> tuple[Expr, Kind]:
        at = base + _start(operator)
        first, left_kind = self.expr(left, None, base)
        second, right_kind = self.expr(right, None, base)
        if left_kind.is_point or right_kind.is_point:
            mend = "compare temperatures, or multiply a difference of two"
            raise Misread(at, "a temperature can't be multiplied or divided", mend)
        over = operator.type == "OVER"
        if over and isinstance(second, Number) and second.si == 0.0:
            raise Misread(at, "this divides by nothing", "divide by a number that isn't 0")
        joined = Binary("/" if over else "*", first, second, **span)
        return joined, product(left_kind, right_kind, -1 if over else 1)

    def literal(
        self,
        sign: int,
        figure: str,
        unit: str,
        hint: Kind | None,
        at: int,
        span: Span,
    ) -> tuple[Number, Kind]:
        try:
            value = sign * read_figure(figure)
            if not unit:
                if hint is not None and not agree(hint, BARE):
                    quantity = hint.quantity or "quantity"
                    raise Wrong(f"'{figure}' has no unit, {hint.words} is wanted here", wants(quantity))
                return Number(value, **span), BARE
            measured = quantities_of(unit)
            if not measured:
                raise Wrong(f"'{unit}' is no unit", self.no_unit(figure, unit, hint))
            kind = kind_of(self.chosen(measured, unit, hint))
            if hint is not None and hint.difference and kind.is_point:
                si = difference_in_si(value, unit, kind.quantity or "")
                return Number(si, **span), hint
            return Number(in_si(value, unit, kind.quantity or ""), **span), kind
        except Wrong as wrong:
            raise Misread(at, wrong.what, wrong.mend) from None

    def chosen(self, measured: tuple[str, ...], unit: str, hint: Kind | None) -> str:
        """Which of the quantities with this unit is meant; raises `Wrong` when the hint allows none."""
        if hint is None or (hint.quantity is None and hint.dimension != BARE.dimension):
            return measured[0]
        for quantity in measured:
            if quantity == hint.quantity:
                return quantity
        for quantity in measured:
            kind = kind_of(quantity)
            if kind.dimension == hint.dimension and agree(kind, Kind(hint.dimension, hint.quantity)):
                return quantity
        raise Wrong(
            f"'{unit}' measures {with_article(measured[0])}, {hint.words} is wanted here",
            wants(hint.quantity or ""),
        )

    def no_unit(self, figure: str, unit: str, hint: Kind | None) -> str:
        if unit in self.vocabulary:
            return f"did you mean '{figure} * {unit}'?"
        if hint is None:
            return "use a unit such as psi, lb, hp or °F"
        return did_you_mean(unit, units_of(hint.quantity or ""), wants(hint.quantity or ""))

    # --- names and places

    def names_are_known(self, tree: Syntax, base: int) -> bool:
        """Note every unknown fact of the line."""
        good = True
        for fact in tree.facts():
            name = _name(fact.children[0])
            if name not in self.vocabulary:
                self.reader.unknown_fact(name, self.locate(base + fact.start))
                good = False
        return good

    def fact_of(self, tree: Syntax) -> FactDef | None:
        return self.vocabulary[_name(tree.children[0])] if tree.form == "fact" else None

    def subject(self, tree: Syntax) -> FactDef:
        definition = self.fact_of(tree)
        if definition is None:
            raise Misread(tree.start, "only a single fact can stand here", "name one fact")
        return definition

    def span(self, start: int = 0, end: int | None = None) -> Span:
        """Place and text of a node, for its constructor."""
        return Span(place=self.locate(start), text=self.text[start:end].strip())


def _name(token: "Token | Syntax") -> str:
    return " ".join(str(token).split())


def _start(token: Token) -> int:
    return token.start_pos or 0


def _literal(tree: Syntax) -> tuple[int, Token, Token | None] | None:
    """Sign, number and unit of `5`, `5 psi` or `-5 psi`; None for anything else."""
    match tree.form, tree.children:
        case "number", [Token() as number]:
            return 1, number, None
        case "number", [Token() as number, Token() as unit]:
            return 1, number, unit
        case "negate", [_, Syntax() as inner]:
            found = _literal(inner)
            return (-found[0], found[1], found[2]) if found else None
        case _:
            return None


def _unit(tree: Syntax) -> str | None:
    found = _literal(tree)
    return found[2].value.strip() if found is not None and found[2] is not None else None


def _is_literal(tree: Syntax) -> bool:
    return not tree.facts()


def _step(kind: Kind) -> Kind:
    """What may be added to this kind: degrees to a temperature, otherwise the same."""
    return Kind(kind.dimension, kind.quantity, True) if kind.is_point else kind


def _instead(definition: FactDef) -> str:
    match definition.kind:
        case "choice":
            return f"write '{definition.name} is {definition.choice_names[0]}'"
        case "several":
            return f"write '{definition.name} include {definition.choice_names[0]}'"
        case "yes/no":
            return f"write '{definition.name} is yes'"
        case _:
            return f"write '{definition.name} is known'"
