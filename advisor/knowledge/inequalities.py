"""Whether comparisons of sums can hold together: linear inequalities, solved exactly by taking out one figure after
another (J. Fourier 1826, T. S. Motzkin 1936).

Numbers are SI. What isn't linear in the facts, such as the product of two, counts as a figure of its own. So what is
called impossible is impossible; of what isn't linear not all that is gets found.
"""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite

from .conditions import Binary, Expr, Negate, Number

MOST = 400
"""Inequalities at a time, beyond which nothing is said."""
_ROUNDING = Fraction(1, 10**12)

Terms = Mapping[Expr, Fraction]


@dataclass(frozen=True, slots=True)
class Sum:
    """Figures by how much each counts, and a number beside them; `size` is what that number was made of, for what is
    lost in rounding."""

    terms: Terms
    number: Fraction = Fraction(0)
    size: Fraction = Fraction(0)

    def plus(self, other: "Sum", times: Fraction = Fraction(1)) -> "Sum":
        """This sum and so many times another."""
        terms = dict(self.terms)
        for figure, count in other.terms.items():
            terms[figure] = terms.get(figure, Fraction(0)) + times * count
        left = {figure: count for figure, count in terms.items() if count}
        return Sum(left, self.number + times * other.number, self.size + abs(times) * other.size)


@dataclass(frozen=True, slots=True)
class AtMostNought:
    """The sum is nought or less, `strictly` less; `by` names what says so."""

    sum: Sum
    strictly: bool
    by: frozenset[Hashable]

    @property
    def broken(self) -> bool:
        """Whether it is wrong whatever the facts are."""
        lost = _ROUNDING * self.sum.size
        return not self.sum.terms and (self.sum.number >= -lost if self.strictly else self.sum.number > lost)


def linear(expr: Expr) -> Sum:
    """The sum of an expression (SI)."""
    match expr:
        case Number(si=si) if isfinite(si):
            return Sum({}, Fraction(si), abs(Fraction(si)))
        case Negate(of=of):
            return Sum({}).plus(linear(of), Fraction(-1))
        case Binary(op="+", left=left, right=right):
            return linear(left).plus(linear(right))
        case Binary(op="-", left=left, right=right):
            return linear(left).plus(linear(right), Fraction(-1))
        case Binary(op="*" | "/" as op, left=left, right=right):
            one, other = linear(left), linear(right)
            if not other.terms and (op == "*" or other.number):
                return Sum({}).plus(one, other.number if op == "*" else 1 / other.number)
            if not one.terms and op == "*":
                return Sum({}).plus(other, one.number)
    return Sum({expr: Fraction(1)})


def at_odds(
    inequalities: Iterable[AtMostNought], beside: frozenset[Hashable] = frozenset()
) -> frozenset[Hashable] | None:
    """What can't all be so together, by name, as little as is enough and least of what holds anyway, which is named
    `beside`; None where nothing is found."""
    given = list(inequalities)
    core = _broken(given)
    if core is None:
        return None
    kept = core | beside
    for name in (*sorted(core - beside, key=str), *sorted(beside, key=str)):
        if _broken([one for one in given if one.by <= kept - {name}]) is not None:
            kept -= {name}
    return kept


def _broken(given: Sequence[AtMostNought]) -> frozenset[Hashable] | None:
    """The names behind one that is broken, once all figures are taken out."""
    left = list(given)
    while left:
        if names := [one.by for one in left if one.broken]:
            return min(names, key=len)
        figure = _cheapest(left)
        if figure is None:
            return None
        above = [one for one in left if one.sum.terms.get(figure, 0) > 0]
        below = [one for one in left if one.sum.terms.get(figure, 0) < 0]
        rest = [one for one in left if figure not in one.sum.terms]
        if len(rest) + len(above) * len(below) > MOST:
            return None
        left = rest + [_without(figure, one, other) for one in above for other in below]
    return None


def _cheapest(given: Iterable[AtMostNought]) -> Expr | None:
    """The figure that leaves the fewest inequalities when it is taken out."""
    signs: dict[Expr, list[int]] = {}
    for one in given:
        for figure, count in one.sum.terms.items():
            signs.setdefault(figure, [0, 0])[count > 0] += 1
    return min(signs, key=lambda figure: signs[figure][0] * signs[figure][1], default=None)


def _without(figure: Expr, above: AtMostNought, below: AtMostNought) -> AtMostNought:
    """What two inequalities say together of all but a figure that one bounds from above and one from below."""
    times = -above.sum.terms[figure] / below.sum.terms[figure]
    return AtMostNought(above.sum.plus(below.sum, times), above.strictly or below.strictly, above.by | below.by)
