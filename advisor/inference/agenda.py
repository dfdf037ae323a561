"""Which rules fire: the interface of an agenda, and what is noted of a rule that fired.

A rule joins conditions by number: it fires when all of them hold. What a condition means was settled
before (see `verdict`); an agenda only joins, orders and fires. Rules come out by number, so that their order
never depends on the engine.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.places import Place

from .facts import Fact, Value

WORTH_A_WORD = 2.0
"""Points that a rule takes or gives at least where its words are said."""


class FiringError(Exception):
    """The rule engine failed, so nothing may be concluded; the message says what and how to go on."""


class Joins:
    """For each rule, by number, the numbers of the conditions that it joins."""

    __slots__ = ("_hash", "free", "readers", "rules")

    def __init__(self, rules: Iterable[Iterable[int]]) -> None:
        self.rules = tuple(tuple(sorted(set(needs))) for needs in rules)
        self.free = tuple(number for number, needs in enumerate(self.rules) if not needs)
        self.readers: dict[int, list[int]] = {}  # the rules that read each condition
        for number, needs in enumerate(self.rules):
            for condition in needs:
                self.readers.setdefault(condition, []).append(number)
        self._hash = hash(self.rules)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Joins) and (self is other or self.rules == other.rules)

    def __hash__(self) -> int:
        return self._hash


class Agenda(Protocol):
    """Fires joins. `name` says which engine it is, `describe` more of it."""

    @property
    def name(self) -> str: ...

    def describe(self) -> str:
        """The engine with its version, for people."""
        ...

    def fire(self, joins: Joins, holding: Iterable[int]) -> tuple[int, ...]:
        """The numbers of the rules all of whose conditions hold, ascending. Raises FiringError."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A leaf of a rule that fired: its text, its place and its verdict (1 true, 0 false, -1 not yet known):
    int8, shape () when all candidates share it, (N,) else."""

    text: str
    place: Place
    verdict: NDArray[np.int8]

    def at(self, candidate: int | None) -> int:
        """The verdict for one candidate; not yet known when candidates differ and none is named."""
        if self.verdict.ndim == 0:
            return int(self.verdict)
        return -1 if candidate is None else int(self.verdict[candidate])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Judged):
            return NotImplemented
        return (self.text, self.place) == (other.text, other.place) and np.array_equal(
            self.verdict, other.verdict
        )

    def __hash__(self) -> int:
        return hash((self.text, self.place))


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Points that a rule takes from candidates, negative ones given: as few and as many as what is known of the
    figures leaves possible, float64, shape () when all share them, (N,) else; 0 for whom the rule didn't fire."""

    fewest: NDArray[np.float64]
    most: NDArray[np.float64]

    @property
    def sure(self) -> NDArray[np.float64]:
        """What is taken or given however the figures turn out within what is known: this counts."""
        return np.minimum(np.maximum(0.0, self.fewest), self.most)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Taken):
            return NotImplemented
        return np.array_equal(self.fewest, other.fewest) and np.array_equal(self.most, other.most)

    __hash__ = None  # type: ignore[assignment]


@dataclass(frozen=True, slots=True, eq=False)
class Firing:
    """One rule that fired, with what it rested on.

    `mask` of shape (N,) says for which candidates, None for all. `facts` are the shared facts it read,
    `columns` the names of the candidate facts it read, `unknown` those it read that nobody knows, `points` what it
    takes.
    """

    rule: str
    place: Place
    leaves: tuple[Judged, ...]
    facts: tuple[Fact, ...]
    columns: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    mask: NDArray[np.bool_] | None = None
    points: Taken | None = None

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Firing):
            return NotImplemented
        return self._plain() == other._plain()

    def __hash__(self) -> int:
        return hash((self.rule, self.place))

    def among(self, count: int) -> NDArray[np.bool_]:
        """For which of so many candidates it fired, (count,)."""
        return np.ones(count, dtype=bool) if self.mask is None else self.mask

    def fired_for(self, row: int | None) -> bool:
        """Whether the rule fired for everybody, or for this candidate."""
        return self.mask is None or (row is not None and bool(self.mask[row]))

    def speaks_of(self, row: int | None) -> bool:
        """Whether its words are worth saying of a candidate: it fired for it, and by what it takes or gives counts."""
        if not self.fired_for(row) or self.points is None or row is None:
            return self.fired_for(row)
        sure = self.points.sure
        return abs(float(sure[row] if sure.ndim else sure)) >= WORTH_A_WORD

    def takes_from(self, row: int | None) -> bool:
        """Whether it takes so many points from a candidate that its words are worth saying of it."""
        if self.points is None or row is None or not self.fired_for(row):
            return False
        sure = self.points.sure
        return float(sure[row] if sure.ndim else sure) >= WORTH_A_WORD

    def _plain(self) -> tuple[object, ...]:
        mask = None if self.mask is None else (self.mask.shape, self.mask.tobytes())
        return self.rule, self.place, self.leaves, self.facts, self.columns, self.unknown, mask, self.points


@dataclass(frozen=True, slots=True)
class Conflict:
    """A fact that rules (by name), or a rule and "answer", give differently: it is not known until settled.

    `candidates` are the numbers of the candidates concerned, None when it concerns the whole call.
    """

    fact: str
    values: Mapping[str, Value]
    candidates: tuple[int, ...] | None = None
