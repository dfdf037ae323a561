"""Numbers in conditions: literals with units, facts, and arithmetic whose kinds must agree."""

import re
from collections.abc import Callable, Mapping
from typing import TypedDict

from lark import Token

from .conditions import Binary, Expr, FactRef, Negate, Number
from .domains import constant
from .fields import Wrong
from .grammar import Misread, Syntax, every
from .measure import (
    BARE,
    Kind,
    agree,
    difference_in_si,
    in_si,
    kind_of,
    lettered,
    no_unit,
    product,
    quantities_of,
    read_figure,
    wants,
    with_article,
)
from .places import Place
from .vocabulary import FactDef

_SIGNS = {"x": "*", "times": "*", "multiplied by": "*", "divided by": "/", "plus": "+", "minus": "-"}


class Span(TypedDict):
    """Place and text of a node, as its constructor wants them."""

    place: Place
    text: str


class Sums:
    """Reads the sums of one text; offsets are characters of the text. All facts named are in the vocabulary."""

    def __init__(self, text: str, vocabulary: Mapping[str, FactDef], locate: Callable[[int], Place]) -> None:
        self.text = text
        self.vocabulary = vocabulary
        self.locate = locate

    def expr(self, tree: Syntax, hint: Kind | None, base: int, borrowed: str | None = None) -> tuple[Expr, Kind]:
        """The sum and its kind; `hint` is the kind that the surroundings want a literal to be."""
        at = base + tree.start
        span = self.span(at, base + tree.end)
        literal = literal_of(tree)
        if literal is not None:
            sign, number, unit = literal
            words = unit.value.strip() if unit is not None else borrowed or ""
            return self.literal(sign, number.value, words, hint, at, span)
        match tree.form, tree.children:
            case "fact", [Token() as name]:
                definition = self.vocabulary[name_of(name)]
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
        at = base + start_of(operator)
        if left.literal and not right.literal:
            second, right_kind = self.expr(right, None, base)
            first, left_kind = self.expr(left, _step(right_kind), base)
        elif left.literal:
            first, left_kind = self.expr(left, hint, base)
            second, right_kind = self.expr(right, hint, base)
        else:
            first, left_kind = self.expr(left, None, base)
            literal = right.literal
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
        at = base + start_of(operator)
        (first, left_kind), (second, right_kind) = every(
            (lambda: self.expr(left, None, base), lambda: self.expr(right, None, base))
        )
        if left_kind.is_point or right_kind.is_point:
            mend = "compare temperatures, or multiply a difference of two"
            raise Misread(at, "a temperature can't be multiplied or divided", mend)
        over = operator.type == "OVER"
        if over and _comes_to_nothing(second):
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
                    mixed = f"write it with its units, as in '{figure} hp / 1 lb'"
                    mend = mixed if hint.quantity is None else wants(hint.quantity)
                    raise Wrong(f"'{figure}' has no unit, {hint.words} is wanted here", mend)
                return Number(value, **span), BARE
            measured = quantities_of(unit)
            if not measured and (word := re.match(r"(x|times|multiplied by|divided by|plus|minus)\s", unit)):
                told = f"'{word[1]}' can't stand here", f"write '{_SIGNS[word[1]]}'"
                raise Misread(self.text.find(word[1], at), *told)
            if (wrong := lettered(figure, unit)) is not None:
                raise wrong
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
        return no_unit(unit, hint.quantity or "").mend

    def span(self, start: int = 0, end: int | None = None) -> Span:
        """Place and text of a node, for its constructor."""
        return Span(place=self.locate(start), text=self.text[start:end].strip())


def name_of(token: "Token | Syntax") -> str:
    return " ".join(str(token).split())


def start_of(token: Token) -> int:
    return token.start_pos or 0


def literal_of(tree: Syntax) -> tuple[int, Token, Token | None] | None:
    """Sign, number and unit of `5`, `5 psi` or `-5 psi`; None for anything else."""
    match tree.form, tree.children:
        case "number", [Token() as number]:
            return 1, number, None
        case "number", [Token() as number, Token() as unit]:
            return 1, number, unit
        case "negate", [_, Syntax() as inner]:
            found = literal_of(inner)
            return (-found[0], found[1], found[2]) if found else None
        case _:
            return None


def unit_of(tree: Syntax) -> str | None:
    found = literal_of(tree)
    return found[2].value.strip() if found is not None and found[2] is not None else None


def _comes_to_nothing(expr: Expr) -> bool:
    """Whether the sum is nought whatever the facts are."""
    return constant(expr) == 0.0 or (isinstance(expr, Binary) and expr.op == "-" and expr.left == expr.right)


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
