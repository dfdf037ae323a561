"""Callers as this one might turn out: the stages of a call run for all of them at once, so that the rules speak for
each as they would for him.

A prospect is one such caller; what is open stands in columns (R,), as the facts of candidates do in a call. Only
some candidates are matched for them; past a hard limit, or ruled out, they have no points.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from hashlib import blake2b
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from advisor.course import DEMANDED, Course, hardest_values
from advisor.drawing import DRAWN, joined, otherwise, picked
from advisor.fitting.joints import Vehicle
from advisor.fitting.ports import fit
from advisor.fuelling import FUEL_FACTS
from advisor.inference.agenda import Firing
from advisor.inference.engines import agenda
from advisor.inference.facts import Coded, Column, Fact, FactBase, Numbers, numbers
from advisor.inference.stage import Same, StageResult, run_stage
from advisor.knowledge import Knowledge
from advisor.knowledge.rules import Assume, SetFact
from advisor.matched import SPEEDS, SWEEP, figures_of, machines_of, tables_of
from advisor.matching.engine import layout, points
from advisor.matching.gates import rows_of, within_limits
from advisor.matching.inputs import Array, Bools, Duty, Engine, IntArray, Number, Place, Plumbing, Points
from advisor.matching.rank import ENOUGH, HARD_LIMITS, score
from advisor.quantities import Range
from advisor.shares import completed
from advisor.situation import FUEL_COUNTED, Situation, situation, unstated
from advisor.weighing import LISTED, MATCHED, sentences, usual_vehicle

FIRES = agenda("reference")
VEHICLE = (
    ("manifold foot",),
    ("manifold entry",),
    ("exhaust size",),
    ("charge pipe size",),
    ("oil feed", "oil drain"),
)
FIELDS = {name: name.replace(" ", "_") for group in VEHICLE for name in group}


# --------------------------------------------------------------------------------------- the stages, for all at once


@dataclass(frozen=True, eq=False, slots=True)
class Prospects:
    """R callers after the stages before the match: their facts in columns, the lots they are matched in, and the
    share of each duty (R,)."""

    course: Course
    knowledge: Knowledge
    facts: FactBase
    lots: Sequence["_Lot"]
    shares: Mapping[str, Array]
    size: int

    def figures(self, rows: Sequence[int], speeds: int, sweep: int) -> dict[str, Array]:
        """Figures (R, n) of the candidates ``rows`` (n,), matched at so many engine speeds of each duty and of the
        sweep at full load."""
        figures: dict[str, Array] = {}
        place = {row: at for at, row in enumerate(sorted(rows))}
        back = [place[row] for row in rows]
        for lot in self.lots:
            found = _figures(_Key(lot, lot.digest, tuple(sorted(rows)), speeds, sweep, self.knowledge))
            for name, values in found.items():
                whole = figures.setdefault(name, np.full((self.size, len(rows)), np.nan))
                whole[lot.rows] = values[lot.inverse][:, back]
        return figures

    def as_alone(self, rows: Sequence[int]) -> dict[str, Array]:
        """Figures (R, n) as the call matches them: callers whose operating points are laid out alike are matched
        together, so that each of them comes out as in a call of his own."""
        kinds: dict[tuple[float, ...], list[int]] = {}
        for number, lot in enumerate(self.lots):
            now = lot.now
            duties = sorted(now.duties, key=lambda duty: duty.name != now.main)  # of two as hard the main one counts
            own = layout(now.engine, now.place, now.plumbing, duties, SPEEDS)
            own = np.broadcast_to(own, (lot.size, len(duties) + 2))
            for row, kind in zip(lot.rows.tolist(), own[lot.inverse].tolist(), strict=True):
                kinds.setdefault((number, *kind), []).append(row)
        figures: dict[str, Array] = {}
        for some in kinds.values():
            which = np.asarray(sorted(some))
            for name, values in self.of(which).figures(rows, SPEEDS, SWEEP).items():
                figures.setdefault(name, np.full((self.size, len(rows)), np.nan))[which] = values
        return figures

    def points(
        self, rows: Sequence[int], figures: Mapping[str, Array], verdict: StageResult | None = None
    ) -> Array:
        """Points (R, n) of the candidates with these figures, less what the rules take; -inf for those that a rule
        or a hard limit rules out. ``verdict``: what the rules make of them, where that is known."""
        at = np.asarray(rows, dtype=np.int64)
        out, taken = _left(self, verdict or judged(self, figures, at), len(at))
        total = sum(self.shares.values(), start=np.zeros(self.size))
        flat = {name: values.reshape(-1) for name, values in figures.items()}
        weights = {name: np.repeat(share / total, len(at)) for name, share in self.shares.items()}
        earned, own = score(flat, {name: share for name, share in weights.items() if f"{name} power" in figures})
        out = out | (figures["solved"] < 0.5)
        for name in HARD_LIMITS:
            out = out | (figures[name] < 0.0)
        for duty in own:
            made = np.where(out, -np.inf, figures[f"{duty} power"])
            out = out | (figures[f"{duty} power"] < ENOUGH * made.max(axis=1, keepdims=True))
        return np.where(out, -np.inf, earned.reshape(self.size, -1) - taken)

    def of(self, which: IntArray) -> "Prospects":
        """Some of them (r,), none twice, as if they were all."""
        columns = {name: picked(values, which) for name, values in self.facts.columns.items()}
        facts = FactBase(self.facts.facts, columns, self.facts.origins, self.facts.disputed)
        place = np.full(self.size, -1)
        place[which] = np.arange(len(which))
        lots = [lot.only(place) for lot in self.lots if (place[lot.rows] >= 0).any()]
        shares = {name: share[which] for name, share in self.shares.items()}
        return Prospects(self.course, self.knowledge, facts, lots, shares, len(which))


def prospects(course: Course, answers: Mapping[str, Column], knowledge: Knowledge) -> Prospects:
    """R callers who said these answers in columns (R,), and else what was said in the course."""
    return opened(course, answers, knowledge)[0]


def opened(
    course: Course, answers: Mapping[str, Column], knowledge: Knowledge
) -> tuple[Prospects, tuple[Firing, ...]]:
    """The same, with the rules that fired before the match."""
    size = len(next(iter(answers.values())))
    said = course.opening.said
    heard = said.with_columns({name: otherwise(values, said.value(name)) for name, values in answers.items()}, DRAWN)
    understood = run_stage("understand", knowledge, completed(heard, knowledge.vocabulary), FIRES)
    first = understood.facts
    fed = np.full(size, course.now.fuel_limited)
    for name in answers.keys() & set(FUEL_FACTS):
        fed |= answers[name].known
    lots = _lots(first, fed, course, knowledge)
    demanded = joined([lot.demanded for lot in lots], [len(lot.rows) for lot in lots])
    back = np.argsort(np.concatenate([lot.rows for lot in lots]), kind="stable")
    demanded = {name: picked(values, back) for name, values in demanded.items()}
    named = [fact for fact in course.opening.demanded if fact.name == "requested inducer"]
    asked = run_stage("demand", knowledge, first.with_columns(demanded, DEMANDED).with_facts(named), FIRES)
    second = asked.facts
    if _sets_inputs(knowledge, course.now):
        lots = _lots(second, fed, course, knowledge)
    shares = {duty.name: np.zeros(size) for duty in course.now.duties}
    for lot in lots:
        for duty in lot.now.duties:
            shares[duty.name][lot.rows] = np.broadcast_to(np.asarray(duty.weight), (lot.size, 1, 1))[lot.inverse, 0, 0]
    return Prospects(course, knowledge, second, lots, shares, size), (*understood.firings, *asked.firings)


def judged(callers: Prospects, figures: Mapping[str, Array], at: IntArray) -> StageResult:
    """What the rules that judge make of each pair of caller and candidate, in columns (R * n,), caller by caller."""
    course, knowledge, facts, size = callers.course, callers.knowledge, callers.facts, callers.size
    count = len(at)
    caller, candidate = np.repeat(np.arange(size), count), np.tile(at, size)
    weighed = course.weighed
    shown = (*weighed.candidates.facts, "is requested")
    columns: dict[str, Column] = {name: picked(values, caller) for name, values in facts.columns.items()}
    listed = weighed.facts.columns
    columns |= {name: picked(listed[name], candidate) for name in shown if name in listed}
    columns |= _fits(facts, caller, candidate, knowledge)
    for name, values in figures.items():
        if name == "solved":
            columns[name] = Coded(np.asarray(values.reshape(-1) > 0.5, dtype=np.intp), (False, True))
        elif name in knowledge.vocabulary and name not in weighed.candidates.facts:
            columns[name] = numbers(values.reshape(-1))
    plain = FactBase(facts.facts, disputed=facts.disputed)
    return run_stage("judge", knowledge, plain.with_columns(columns, MATCHED), FIRES)


def _left(callers: Prospects, found: StageResult, count: int) -> tuple[Bools, Array]:
    """What the rules that judge leave of so many candidates: who is out (R, n), points taken (R, n)."""
    size = callers.size
    out_by, taken = sentences(found.firings, callers.knowledge, size * count)
    out = cannot_be_bolted_on(found.facts)
    for mask in out_by.values():
        out |= mask
    return out.reshape(size, count), taken.reshape(size, count)


def cannot_be_bolted_on(facts: FactBase) -> Bools:
    """The pairs of caller and candidate that no parts join."""
    foot = facts.columns["foot fit"]
    assert isinstance(foot, Coded)
    return np.isin(foot.codes, [code for code, word in enumerate(foot.table) if word == "none"])


@dataclass(frozen=True, eq=False, slots=True)
class _Lot:
    """Callers of one main duty, with or without a word on their fuel. ``rows`` (r,) of all callers; ``now`` their
    situations, each different one once (u of them), and ``inverse`` (r,) which each has."""

    rows: IntArray
    inverse: IntArray
    size: int
    now: Situation
    divided: Bools
    demanded: Mapping[str, Column]

    @property
    def digest(self) -> bytes:
        """What the match makes of the situations, in short: the same for those that are the same to it."""
        digest = blake2b(self.divided.tobytes(), digest_size=16)
        asked: tuple[Any, ...] = (self.now.engine, self.now.place, self.now.plumbing, *self.now.duties)
        for group in asked:
            for one in fields(group):
                value = getattr(group, one.name)
                if one.name != "weight":
                    plain = isinstance(value, str)
                    digest.update(value.encode() if plain else np.asarray(value, dtype=np.float64).tobytes())
        wanted = self.now.boost_wanted_by
        digest.update(b"" if wanted is None else np.asarray(wanted, dtype=np.float64).tobytes())
        digest.update(self.now.main.encode())
        return digest.digest()

    def only(self, place: IntArray) -> "_Lot":
        """Those of the lot that have a place among other callers (at that place of all callers; -1: none)."""
        kept = np.flatnonzero(place[self.rows] >= 0)
        used, inverse = np.unique(self.inverse[kept], return_inverse=True)
        now = self.now if len(used) == self.size else _of_some(self.now, used, self.size)
        demanded = {name: picked(values, kept) for name, values in self.demanded.items()}
        return _Lot(place[self.rows[kept]], inverse.reshape(-1), len(used), now, self.divided[used], demanded)


Drawn = TypeVar("Drawn")


def _of_some(part: Drawn, used: IntArray, size: int) -> Drawn:
    """A situation of ``size`` callers, or a part of one, for those ``used`` alone."""
    if isinstance(part, np.ndarray) and part.ndim == 3 and len(part) == size:
        return part[used]  # type: ignore[return-value]
    if isinstance(part, tuple):
        return tuple(_of_some(one, used, size) for one in part)  # type: ignore[return-value]
    if isinstance(part, Situation | Engine | Place | Plumbing | Duty):
        return replace(part, **{one.name: _of_some(getattr(part, one.name), used, size) for one in fields(part)})
    return part


@dataclass(frozen=True, slots=True, eq=False)
class _Key:
    """What the figures of a lot follow from; equal when all of it is the same."""

    lot: _Lot
    digest: bytes
    rows: tuple[int, ...]
    speeds: int
    sweep: int
    knowledge: Knowledge

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and self._plain() == other._plain()

    def __hash__(self) -> int:
        return hash(self._plain())

    def _plain(self) -> tuple[Any, ...]:
        return self.digest, self.rows, self.speeds, self.sweep, id(self.knowledge)


@lru_cache(maxsize=32)
def _figures(key: _Key) -> dict[str, Array]:
    lot = key.lot
    at = np.asarray(key.rows, dtype=np.int64)
    return figures_of_pairs(lot.now, lot.size, at, lot.divided, key.speeds, key.sweep, key.knowledge)


def _lots(facts: FactBase, fed: Bools, course: Course, knowledge: Knowledge) -> list[_Lot]:
    size = len(fed)
    main = facts.columns.get("main duty")
    if isinstance(main, Coded):
        mains: NDArray[np.intp] = main.codes
        names: list[str | None] = [*(str(entry) for entry in main.table)]
    else:
        mains, value = np.zeros(size, dtype=np.intp), facts.value("main duty")
        names = [value if isinstance(value, str) else None]
    key = 2 * mains + fed
    lots = []
    for value in np.unique(key):
        rows = np.flatnonzero(key == value)
        which = int(value) // 2
        lots.append(_lot(facts, rows, names[which] if which >= 0 else None, bool(value % 2), course, knowledge))
    return lots


def _lot(
    facts: FactBase, rows: IntArray, main: str | None, fed: bool, course: Course, knowledge: Knowledge
) -> _Lot:
    read = read_by(course.now)
    drawn: dict[str, NDArray[Any]] = {}
    for name, values in facts.columns.items():
        if name in read and (fed or name not in FUEL_FACTS):
            drawn[name] = _values(name, picked(values, rows), course.now, knowledge)
    distinct, inverse = _distinct(drawn, len(rows))
    cut = {name: values[distinct].reshape(-1, 1, 1) for name, values in drawn.items()}
    plain = FactBase(facts.facts)
    if main is not None:
        plain = plain.with_facts([Fact("main duty", main, DRAWN)])
    now = situation(plain, knowledge.vocabulary, cut or {"altitude": np.reshape(_altitude(course.now), (1, 1, 1))})
    entry = cut.get("manifold entry")
    divided = np.full(len(distinct), course.now.divided_manifold) if entry is None else entry[:, 0, 0] == "divided"
    demanded = {name: numbers(values[inverse]) for name, values in hardest_values(now, len(distinct)).items()}
    divided = np.asarray(divided, dtype=bool)
    return _Lot(rows, inverse, len(distinct), now, divided, demanded)


def _altitude(now: Situation) -> float:
    value = next(taken.value for taken in now.taken if taken.name == "altitude")
    assert isinstance(value, Range)
    return value.mid


def read_by(now: Situation) -> frozenset[str]:
    """Names of the facts that a situation is read from."""
    return frozenset((*(taken.name for taken in now.taken), *unstated(now), *READ_IF_KNOWN))


def _sets_inputs(knowledge: Knowledge, now: Situation) -> bool:
    return bool(_set_in_demand(Same(knowledge)) & read_by(now))


@lru_cache(maxsize=8)
def _set_in_demand(book: Same[Knowledge]) -> frozenset[str]:
    layers = book.it.layers("demand")
    actions = (action for layer in layers for rule in layer for action in rule.then)
    return frozenset(action.fact for action in actions if isinstance(action, SetFact | Assume))


def _values(name: str, values: Column, now: Situation, knowledge: Knowledge) -> NDArray[Any]:
    """A column as the situation takes it; where nothing is known, what is taken as usual, NaN where nothing is."""
    usual = next((taken.value for taken in now.taken if taken.name == name), None)
    if isinstance(values, Numbers):
        stands = unstated(now).get(name, np.nan)
        if isinstance(usual, Range):
            stands = usual.mid
        elif name not in OPTIONAL and knowledge.vocabulary[name].typical is not None:
            stands = knowledge.vocabulary[name].typical or 0.0
        middle = 0.5 * (values.low + values.high)
        return np.where(np.isnan(middle), stands, middle)
    word = usual if isinstance(usual, str) else knowledge.vocabulary[name].choice_names[0]
    return np.asarray([*values.table, word], dtype=object)[values.codes]


READ_IF_KNOWN = ("boost wanted by", FUEL_COUNTED, "injected volume", "manifold entry")
OPTIONAL = ("injected volume", "power now", "working rpm low", "working rpm high")


def _distinct(drawn: Mapping[str, NDArray[Any]], size: int) -> tuple[IntArray, IntArray]:
    """First place of each different row, and which of them each row is."""
    if not drawn:
        return np.zeros(1, dtype=np.int64), np.zeros(size, dtype=np.int64)
    codes = [np.unique(values.astype(str) if values.dtype == object else values, return_inverse=True)[1].reshape(-1)
             for values in drawn.values()]  # fmt: skip
    _, first, inverse = np.unique(np.stack(codes), axis=1, return_index=True, return_inverse=True)
    return np.asarray(first, dtype=np.int64), np.asarray(inverse, dtype=np.int64).reshape(-1)


Flat = TypeVar("Flat", Engine, Place, Plumbing, Points, Duty)


def figures_of_pairs(
    situation: Situation, count: int, rows: IntArray, divided: Bools, speeds: int, sweep: int, knowledge: Knowledge
) -> dict[str, Array]:
    """Figures (u, n) of some rows (n,) of the catalogue in each of u situations at once, as arrays (u, 1, 1);
    ``divided`` (u,) says whose manifold is. Every pair is matched as a candidate of its own."""

    def flat(value: Number) -> Number:
        array = np.asarray(value, dtype=np.float64)
        if array.ndim < 3:
            return value
        return np.repeat(np.broadcast_to(array, (count, *array.shape[1:]))[:, 0, :], len(rows), axis=0)

    def spread(part: Flat) -> Flat:
        labels = ("name", "told_as", "duties", "duty", "at_goal")
        own: dict[str, Any] = {f.name: flat(getattr(part, f.name)) for f in fields(part) if f.name not in labels}
        return replace(part, **own)

    asked = (situation.engine, situation.place, situation.plumbing)
    grid = points(*asked, situation.duties, count=speeds, sweep_count=sweep)
    grid = replace(spread(grid), duties=tuple(spread(duty) for duty in grid.duties))
    stock = rows_of(machines_of(knowledge), np.tile(rows, count))
    stock = replace(stock, divided=stock.divided & np.repeat(divided, len(rows)))
    flattened = spread(asked[0]), spread(asked[1]), spread(asked[2])
    grid, solved = within_limits(flattened, grid, stock, tables_of(knowledge))
    wanted = situation.boost_wanted_by
    alike = replace(situation, boost_wanted_by=None if wanted is None else flat(wanted))
    figures = figures_of(alike, flattened, grid, stock, solved, np.tile(rows, count), knowledge)
    return {name: np.reshape(values, (count, len(rows))) for name, values in figures.items()}


# ------------------------------------------------------------------------------------------------------------- joints


@dataclass(frozen=True, slots=True)
class _End:
    """One or two ends of a vehicle, as far as they are known."""

    names: tuple[str, ...]
    values: tuple[Any, ...]
    book: Same[Knowledge]


def _fits(facts: FactBase, caller: IntArray, candidate: IntArray, knowledge: Knowledge) -> dict[str, Column]:
    """How each pair of caller and candidate fits, in columns."""
    book = Same(knowledge)
    made: dict[str, Column] = {}
    cost: NDArray[np.float64] = _ends(_End((), (), book))["fitting cost"].low[candidate]  # type: ignore[union-attr]
    bare = cost
    for group, names in zip(VEHICLE, FIT_NAMES, strict=True):
        columns = [facts.columns.get(name) for name in group]
        plain = tuple(facts.value(name) for name in group)
        if all(column is None for column in columns):
            found = _ends(_End(group, plain, book))
            for name in names:
                made[name] = picked(found[name], candidate)
            cost = cost + found["fitting cost"].low[candidate] - bare  # type: ignore[union-attr]
            continue
        keys = [
            tuple(column.at(row) if column is not None else value for column, value in zip(columns, plain, strict=True))
            for row in range(int(caller[-1]) + 1)
        ]
        numbered = {key: number for number, key in enumerate(dict.fromkeys(keys))}
        which = np.asarray([numbered[key] for key in keys])[caller]
        every = [_ends(_End(group, key, book)) for key in numbered]
        for name in names:
            stacked = joined([{name: one[name]} for one in every], [len(one[name]) for one in every])[name]
            made[name] = picked(stacked, which * len(every[0][name]) + candidate)
        prices = np.stack([one["fitting cost"].low for one in every])  # type: ignore[union-attr]
        cost = cost + prices[which, candidate] - bare
    made["fitting cost"] = numbers(cost)
    return made


FIT_NAMES = (("foot fit",), ("entry fit",), ("exhaust fit",), ("outlet fit",), ("oil fit",))


@lru_cache(maxsize=512)
def _ends(end: _End) -> dict[str, Column]:
    """How every candidate fits when only these ends are known."""
    knowledge = end.book.it
    known = {FIELDS[name]: value for name, value in zip(end.names, end.values, strict=True) if value is not None}
    fits = fit(knowledge.catalogue.candidates(), Vehicle(**known), knowledge.catalogue, usual_vehicle(knowledge))
    base = FactBase().with_columns(fits.facts, LISTED)
    return dict(base.columns)
