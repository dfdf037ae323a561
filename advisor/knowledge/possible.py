"""What stays possible when claims hold together, or which of them clash.

Reasoning is per key, and over all comparisons of sums at once: what it calls impossible is impossible, and it doesn't
find everything that is.
"""

import math
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce
from itertools import islice
from typing import TypeAlias

from .conditions import Binary, FactRef, facts_in, walk
from .domains import Claim, Claims, Key, Numbers, Universe, Values, conjunctions, meet
from .inequalities import AtMostNought, Sum, at_odds, linear
from .places import Place


@dataclass(frozen=True, slots=True)
class Clash:
    """`later` can't hold where all that is `earlier` does (nothing: can't hold at all), as the facts `within` lie."""

    later: Claim
    earlier: tuple[Claim, ...] = ()
    within: tuple[str, ...] = ()


Possible: TypeAlias = dict[Key, tuple[Values, tuple[Claim, ...]]]
"""By key the values that are left, and what left them."""
_KNOWN: Values = frozenset(("yes",))
_SUMS = ("order", "between")
_WAYS = 256
_NONE: tuple[Values, tuple[Claim, ...]] = (frozenset(), ())
_NOWHERE = Place("", 1, 1)


def join(universe: Universe, claims: Iterable[Claim], known: Possible | None = None) -> Possible | Clash:
    """What stays possible when all claims hold, or the first clash; `known` is what holds already."""
    possible: Possible = dict(known or {})
    new = []
    for claim in claims:
        if (clash := _add(universe, possible, claim)) is not None:
            return clash
        new.append(claim)
    sums = [claim for key, (_, sources) in possible.items() if key.aspect in _SUMS for claim in sources]
    if not sums:
        return possible
    read = [node.name for claim in sums for node in walk(claim.leaf) if isinstance(node, FactRef)]
    bounded = [fact for fact in read if isinstance(possible.get(Key("value", fact), _NONE)[0], Numbers)]
    alone = len(sums) == 1 and not (bounded or sums[0].in_none or len(set(read)) < len(read))
    if alone or not any(claim.key.aspect in _SUMS or claim.key.fact in bounded for claim in new):
        return possible
    return _compared(universe, possible, frozenset(read)) or possible


def can_hold(universe: Universe, claims: Claims) -> bool:
    """Whether the claims can come true; yes where there are too many ways to try."""
    ways = list(islice(conjunctions(claims, _WAYS), _WAYS))
    return len(ways) == _WAYS or any(isinstance(join(universe, way), dict) for way in ways)


def _add(universe: Universe, possible: Possible, claim: Claim) -> Clash | None:
    steps = [(claim.key, claim.allowed)]
    if claim.key.aspect in ("value", "has"):
        steps.append((Key("known", claim.key.fact), _KNOWN))
    elif claim.key.aspect in _SUMS:
        steps += [(Key("known", fact), _KNOWN) for fact in sorted(facts_in(claim.leaf))]
    for key, allowed in steps:
        whole, earlier = possible.get(key, (universe.of(key), ()))
        left = meet(whole, allowed)
        if not left:
            alone = [one for one in earlier if one.key != key or not meet(one.allowed, allowed)]
            return Clash(claim, tuple(alone[:1]) or _fewest(universe.of(key), earlier, allowed))
        if left != whole or not earlier:
            possible[key] = (left, (*earlier, claim))
    return None


def _fewest(whole: Values, claims: tuple[Claim, ...], allowed: Values) -> tuple[Claim, ...]:
    """Of claims on a key that leave nothing of what is allowed as few as do so."""
    for claim in claims:
        less = tuple(one for one in claims if one is not claim)
        if not reduce(meet, (one.allowed for one in less), meet(whole, allowed)):
            claims = less
    return claims


def _compared(universe: Universe, possible: Possible, read: frozenset[str]) -> Clash | None:
    """A clash of comparisons of sums with each other, and with what is possible of the facts that they read."""
    claims: list[Claim] = []
    found: list[AtMostNought] = []
    for key, (values, sources) in possible.items():
        if key.aspect not in _SUMS and not (isinstance(values, Numbers) and key.fact in read):
            continue
        numbered = range(len(claims), len(claims) + len(sources))
        claims += sources
        for number, claim in zip(numbered, sources, strict=True):
            found += _inequalities(key, claim.allowed, frozenset((number,)))
        if len(sources) > 1:
            found += _inequalities(key, values, frozenset(numbered))
    beside: set[str] = set()
    for figure in sorted({figure for one in found for figure in one.sum.terms}, key=repr):
        beside |= facts_in(figure)
        found += _within(Sum({figure: Fraction(1)}), Numbers.between(*universe.span(figure)), facts_in(figure))
    names = at_odds(found, frozenset(beside))
    if names is None:
        return None
    *earlier, later = sorted((claims[name] for name in names if isinstance(name, int)), key=lambda one: one.leaf.place)
    return Clash(later, tuple(earlier), tuple(sorted(name for name in names if isinstance(name, str))))


def _inequalities(key: Key, values: Values, by: frozenset[Hashable]) -> Iterator[AtMostNought]:
    """What values of a key say of sums."""
    if isinstance(values, Numbers):
        figure = FactRef(key.fact, place=_NOWHERE, text="")
        yield from _within(Sum({figure: Fraction(1)}), values, by)
    elif isinstance(key.detail, tuple):
        one, other = key.detail
        if key.aspect == "between" and "yes" in values:
            assert isinstance(other, Binary)
            yield AtMostNought(linear(one).plus(linear(other.left), Fraction(-1)), False, by)
            yield AtMostNought(linear(other.right).plus(linear(one), Fraction(-1)), False, by)
        elif key.aspect == "order":
            apart = linear(one).plus(linear(other), Fraction(-1))
            if ">" not in values:
                yield AtMostNought(apart, "=" not in values, by)
            if "<" not in values:
                yield AtMostNought(Sum({}).plus(apart, Fraction(-1)), "=" not in values, by)


def _within(figure: Sum, values: Numbers, by: frozenset[Hashable]) -> Iterator[AtMostNought]:
    """What the ends of numbers say of a figure."""
    (low, above), (high, below) = values.stretches[0][0], values.stretches[-1][1]
    for end, sign, strictly in ((low, -1, above == 1), (high, 1, below == 0)):
        if math.isfinite(end):
            sum_ = Sum({}, Fraction(-sign * end), abs(Fraction(end))).plus(figure, Fraction(sign))
            yield AtMostNought(sum_, strictly, by)
