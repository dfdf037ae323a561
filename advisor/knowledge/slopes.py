"""Points that run evenly with a figure: between two or more values of it, and no further beyond the outermost."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from advisor.quantities import show, show_difference, unit_of

from .conditions import All, AnyOf, Compare, Condition, Expr, Known, Number, Operator, facts_in
from .places import Place


@dataclass(frozen=True, slots=True)
class Slope:
    """`ends` are values of the figure (SI) in ascending order, each with the points taken there: negative ones are
    given. `points` and `text` are the words as written; `unit` and `quantity` show the figure, as a distance where it
    is a `difference`; "" for a figure without a unit of its own."""

    figure: Expr
    ends: tuple[tuple[Number, float], ...]
    unit: str = field(compare=False)
    quantity: str = field(compare=False)
    difference: bool = field(compare=False)
    points: str = field(compare=False)
    place: Place = field(compare=False, repr=False, kw_only=True)
    text: str = field(compare=False, repr=False, kw_only=True)

    @property
    def places(self) -> frozenset[Place]:
        """Where what it asks is written."""
        return frozenset((self.place, *(end.place for end, _ in self.ends)))

    @property
    def words(self) -> str:
        """What stands behind the points: "as surge margin goes from 10 % to 0 %"."""
        return f"as {' '.join(self.text.split())}"

    @property
    def most(self) -> float:
        """The most points that are taken, or (negative) given."""
        return max((points for _, points in self.ends), key=abs)

    def shown(self, value: float) -> str:
        """A value of the figure in words; "" where it has no unit of its own."""
        if not self.quantity:
            return ""
        return (show_difference if self.difference else show)(value, self.unit, self.quantity)

    def halfway(self) -> tuple[tuple[float, Compare], ...]:
        """For each stretch that climbs the points in its middle, and the condition that the figure has come so far from
        where fewer are taken; none for a figure without a unit of its own."""
        found = []
        for (low, first), (high, last) in pairwise(self.ends):
            middle = (low.si + high.si) / 2.0
            if self.quantity and abs(first) != abs(last) and first * last >= 0.0:
                op: Operator = ">=" if abs(last) > abs(first) else "<="
                end = replace(low, si=middle, text=self.exactly(middle))
                found.append(((first + last) / 2.0, self.at(op, end)))
        return tuple(found)

    def exactly(self, value: float) -> str:
        """A value of the figure with all its digits."""
        scale = unit_of(self.unit, self.quantity)
        figure = f"{round((value - (0.0 if self.difference else scale.offset)) / scale.factor, 6):,}".removesuffix(".0")
        return f"${figure}" if scale.symbol == "$" else f"{figure} {self.unit}".rstrip()

    def at(self, op: Operator, end: Number) -> Compare:
        """How the figure stands to one of the ends, as a condition."""
        return Compare(self.figure, op, end, place=end.place, text=f"{self.figure.text} {op} {end.text}")

    def reached(self) -> tuple[Compare, ...]:
        """For each end with points the condition that the figure has come that far, from where fewer are taken."""
        found = []
        for number, (end, points) in enumerate(self.ends):
            fewer = [abs(other) < abs(points) for _, other in self.ends]
            if points:
                found.append(self.at(">=" if any(fewer[:number]) else "<=", end))
        return tuple(found)

    def speaks(self) -> Condition | None:
        """Where it takes or gives any points; None where that is everywhere. A single value without points between
        others counts as one with them."""
        ways = [self._stretch(low, high) for low, high in self._stretches()]
        if ways and ways[0] is None:
            return None
        good = tuple(way for way in ways if way is not None)
        return good[0] if len(good) == 1 else AnyOf(good, place=self.place, text="any")

    def _stretches(self) -> Iterator[tuple[Number | None, Number | None]]:
        """From which end to which there are points; None for no end."""
        pieces: list[tuple[Number | None, bool]] = [(None, self.ends[0][1] != 0.0)]
        pieces += [(end, points != 0.0 or after != 0.0) for (end, points), (_, after) in pairwise(self.ends)]
        pieces.append((self.ends[-1][0], self.ends[-1][1] != 0.0))
        begun: list[Number | None] = []
        for low, some in pieces:
            if some and not begun:
                begun = [low]
            elif not some and begun:
                yield begun[0], low
                begun = []
        if begun:
            yield begun[0], None

    def _stretch(self, low: Number | None, high: Number | None) -> Condition | None:
        ends = [*([self.at(">", low)] if low else []), *([self.at("<", high)] if high else [])]
        if len(ends) < 2:
            return ends[0] if ends else None
        return All(tuple(ends), place=self.place, text="all")

    def conditions(self) -> tuple[Condition, ...]:
        """What a rule with these points asks beside its own conditions: there are points, and the figure is known."""
        where = self.speaks()
        if where is not None:
            return (where,)
        names = sorted(facts_in(self.figure))
        return tuple(Known(name, place=self.place, text=f"{name} is known") for name in names)

    def moved(self, at: int, end: float, points: float) -> "Slope":
        """With another value (SI) or other points at one of the ends."""
        number, _ = self.ends[at]
        instead = (replace(number, si=end), points)
        return replace(self, ends=(*self.ends[:at], instead, *self.ends[at + 1 :]))
