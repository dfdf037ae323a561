"""The shop's machines matched to a situation: every candidate's operating points, and the figures read off them.

What the match reads of a shop is kept apart from prices, delivery and words, so that knowledge which differs in
these alone shares its matches. So is what it reads of a situation: an answer that says what was taken anyway, other
shares of the duties, or what only rules read, leaves the match as it is.
"""

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from hashlib import blake2b
from statistics import NormalDist
from typing import Any

import numpy as np

from advisor.knowledge import Knowledge
from advisor.knowledge.catalogue import TableWheel
from advisor.matching.abreast import SET_BY_GATES, limited
from advisor.matching.balance import Match
from advisor.matching.duty import strip
from advisor.matching.engine import points
from advisor.matching.inputs import (
    Array,
    Duty,
    Engine,
    IntArray,
    Machines,
    Number,
    Place,
    Plumbing,
    Points,
    machines,
)
from advisor.matching.model import MODEL, Model
from advisor.matching.speedlines import tables_for
from advisor.matching.summary import summarise
from advisor.matching.tables import WheelTables
from advisor.matching.uncertainty import HIGH
from advisor.situation import Situation, fuelled
from advisor.supplied import AT_THE_STRIP

# Engine speeds looked at in each duty, and in the full-load sweep that spool is read from.
SPEEDS = 5
SWEEP = 9
FEW = 2
_CHOKE_PASSES = 12
QUARTER_MILE_BY = "Hale"


@dataclass(frozen=True, eq=False, slots=True)
class Stock:
    """What the match reads of a shop; two are equal when it reads the same, whatever else differs."""

    machines: Machines
    wheels: tuple[TableWheel, ...]
    maps: tuple[tuple[str, str], ...]
    inducer: Array
    digest: bytes

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Stock) and other.digest == self.digest

    def __hash__(self) -> int:
        return hash(self.digest)


@lru_cache(maxsize=8)
def stock_of(knowledge: Knowledge) -> Stock:
    """What the match reads of the shop's catalogue and maps."""
    candidates = knowledge.catalogue.candidates()
    built = machines(candidates.geometry)
    maps = tuple(sorted(knowledge.maps.items()))
    digest = blake2b(repr((candidates.wheels, maps)).encode(), digest_size=16)
    inducer = candidates.facts["compressor inducer"]
    for values in (inducer, *(getattr(built, field.name) for field in fields(built))):
        digest.update(np.ascontiguousarray(values).tobytes())
    return Stock(built, candidates.wheels, maps, inducer, digest.digest())


@lru_cache(maxsize=8)
def _tables(stock: Stock) -> WheelTables:
    return tables_for(stock.wheels, dict(stock.maps))


def tables_of(knowledge: Knowledge) -> WheelTables:
    """Compressor tables of every wheel the shop sells; measured maps where the catalogue names one."""
    return _tables(stock_of(knowledge))


def surge_line_known_to(knowledge: Knowledge, row: int) -> float:
    """Share of the flow by which a candidate's surge line lies off at most, nine times in ten."""
    spread = tables_of(knowledge).surge_spread[machines_of(knowledge).wheel[row]]
    return NormalDist().inv_cdf(HIGH) * float(spread)


def choke_share(knowledge: Knowledge, row: int, corrected_air: float, pressure_ratio: float) -> float:
    """Choking flow of a candidate's compressor at a pressure ratio, over a corrected air flow [kg/s]."""
    return float(choke_shares(knowledge, row, np.asarray([corrected_air]), np.asarray([pressure_ratio]))[0])


def choke_shares(knowledge: Knowledge, row: int, corrected_air: Array, ratio: Array) -> Array:
    """The same for several air flows and pressure ratios, (C,) each."""
    tables = tables_of(knowledge)
    wheel: IntArray = np.full(len(ratio), machines_of(knowledge).wheel[row])
    asked = corrected_air / tables.reference_flow(int(wheel[0]))
    choke = asked
    for _ in range(_CHOKE_PASSES):
        _, mach = tables.at(wheel, choke, ratio)
        choke = tables.limits(wheel, mach)[1]
    return np.asarray(choke / asked)


def machines_of(knowledge: Knowledge) -> Machines:
    return stock_of(knowledge).machines


@dataclass(frozen=True, eq=False, slots=True)
class Matched:
    """Operating points of every candidate on a grid, its gates as they were set, and figures by name, each (N,)."""

    grid: Points
    match: Match
    columns: Mapping[str, Array]


def matched(situation: Situation, knowledge: Knowledge) -> Matched:
    """The match of every candidate, with its price and what it does at the strip: these don't come from the match."""
    found = _solved(_Question.of(situation), stock_of(knowledge))
    beside = _priced(knowledge, slice(None), found.columns) | at_the_strip(found.columns, situation)
    return replace(found, columns={**found.columns, **beside})


@dataclass(frozen=True, slots=True)
class _Question:
    """What the match reads of a situation; each duty counts 1 here."""

    engine: Engine
    place: Place
    plumbing: Plumbing
    duties: tuple[Duty, ...]
    main: str
    boost_wanted_by: Number | None
    divided_manifold: bool
    speeds: tuple[int, int]

    @classmethod
    def of(cls, situation: Situation) -> "_Question":
        return cls(
            situation.engine,
            situation.place,
            situation.plumbing,
            tuple(replace(duty, weight=1.0) for duty in situation.duties),
            situation.main,
            situation.boost_wanted_by,
            situation.divided_manifold,
            looked_at(situation),
        )


_Key = tuple[_Question, Stock]
_kept: OrderedDict[_Key, Matched] = OrderedDict()
"""The last matches: the same for all shops that sell the same machines."""
MOST_KEPT = 64
_POINTS = 150_000
"""Operating points matched side by side, about: enough to spare numpy's calls, and memory for them below 200 MB."""


def _solved(question: _Question, stock: Stock) -> Matched:
    """The match of every candidate."""
    key = (question, stock)
    if key not in _kept:
        _keep([key], _match_all([key]))
    _kept.move_to_end(key)
    return _kept[key]


def match_ahead(situations: Iterable[Situation], knowledge: Knowledge) -> None:
    """Match several situations side by side, so that `matched` finds them matched: as it would alone, and quicker. At
    most `MOST_KEPT` are kept. Of machines that are matched already for another shop no more is done."""
    stock = stock_of(knowledge)
    keys = {(_Question.of(situation), stock): None for situation in situations}
    others = {other for _, other in _kept if other != stock}
    lots: dict[tuple[int, int, int, Stock | None], list[tuple[_Key, Matched | None]]] = {}
    for key in keys:
        if key in _kept:
            _kept.move_to_end(key)
            continue
        donor = next((other for other in others if (key[0], other) in _kept), None)
        known = None if donor is None else _kept[(key[0], donor)]
        lots.setdefault((len(key[0].duties), *key[0].speeds, donor), []).append((key, known))
    for (duties, speeds, sweep, donor), lot in lots.items():
        alike = None if donor is None else _in_both(donor, stock)
        count = len(stock.machines) if alike is None else len(alike.new)
        pieces = max(1, round(len(lot) * (duties * speeds + sweep) * count / _POINTS))
        for piece in range(pieces):
            part = lot[len(lot) * piece // pieces : len(lot) * (piece + 1) // pieces]
            some = [key for key, _ in part]
            found = _match_all(some, None if alike is None else alike.new)
            if alike is not None:
                had = [known for _, known in part if known is not None]
                found = [_joined(*both, alike) for both in zip(had, found, strict=True)]
            _keep(some, found)


def forget_matches() -> None:
    """Leave nothing matched."""
    _kept.clear()


def _keep(keys: Sequence[_Key], found: Sequence[Matched]) -> None:
    for key, one in zip(keys, found, strict=True):
        _kept[key] = one
        if len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)


def _match_all(keys: Sequence[_Key], rows: IntArray | None = None) -> list[Matched]:
    """Match situations with as many operating points on the same machines, or some rows of them."""
    questions, stock = [question for question, _ in keys], keys[0][1]
    tables, bare, inducer = _tables(stock), stock.machines, stock.inducer
    if rows is not None:
        bare, inducer = bare.rows(rows), inducer[rows]
    asked = [(one.engine, one.place, one.plumbing) for one in questions]
    working = [_installed(one.divided_manifold, bare) for one in questions]
    grids = [
        points(*of, one.duties, count=one.speeds[0], sweep_count=one.speeds[1])
        for of, one in zip(asked, questions, strict=True)
    ]
    wanted = [(one.main, one.boost_wanted_by) for one in questions]
    found = limited(asked, grids, working, tables, wanted)
    return [
        Matched(
            one.grid,
            one.match,
            summarise(
                *asked[at], one.grid, working[at], tables, one.match, inducer, *wanted[at],
                seconds=one.seconds, stands=one.stands,
            ),
        )
        for at, one in enumerate(found)
    ]  # fmt: skip


@dataclass(frozen=True, eq=False, slots=True)
class _InBoth:
    """Rows of a shop that are in another too: for each of its own (N,) the row there, or -1, and those that are new."""

    there: IntArray
    new: IntArray


@lru_cache(maxsize=8)
def _in_both(other: Stock, stock: Stock) -> _InBoth:
    """Which machines both shops sell, with the same compressor tables. Machines that differ in gate or entry alone are
    matched together: where one of them is new they all count as new."""
    kinds: list[dict[tuple[Any, ...], list[tuple[Any, int]]]] = [{}, {}]
    for found, side in zip(kinds, (other, stock), strict=True):
        tables = _tables(side)
        wheels = [tables.row(wheel).digest() for wheel in range(len(side.wheels))]
        columns = {f.name: getattr(side.machines, f.name).tolist() for f in fields(Machines) if f.name != "wheel"}
        for row, wheel in enumerate(side.machines.wheel.tolist()):
            own = {name: values[row] for name, values in columns.items()}
            shared = tuple(value for name, value in own.items() if name not in _TOGETHER)
            apart = (*(own[name] for name in _TOGETHER), float(side.inducer[row]))
            found.setdefault((wheels[wheel], *shared), []).append((apart, row))
    there: IntArray = np.full(len(stock.machines), -1, dtype=np.int64)
    for kind, rows in kinds[1].items():
        before = kinds[0].get(kind, [])
        if [one for one, _ in before] == [one for one, _ in rows]:
            there[[row for _, row in rows]] = [row for _, row in before]
    for rows in kinds[1].values():
        if np.count_nonzero(there < 0) >= _LEAST:
            break
        there[[row for _, row in rows]] = -1
    return _InBoth(there, np.flatnonzero(there < 0))


_TOGETHER = ("divided", "gate_bore", "gate_external", "thrust_angle")
"""What may differ between machines that are matched as one (see `matching.alike`)."""
_LEAST = 8
"""Machines that are matched anew at least: of very few `matching.alike` looks for none that are alike."""


def _joined(known: Matched, fresh: Matched, alike: _InBoth) -> Matched:
    """The match of a shop from that of another, and that of the machines which are new."""
    old = alike.there >= 0
    taken = alike.there[old]

    def whole(mine: Array, added: Array) -> Array:
        made = np.empty((len(old), *mine.shape[1:]), mine.dtype)
        made[old], made[alike.new] = mine[taken], added
        return made

    grid: Any = known.grid
    if any(one.grid.boost_target.ndim > 1 for one in (known, fresh)):
        mine, added = ({name: _of_each(one, name) for name in SET_BY_GATES} for one in (known, fresh))
        grid = replace(grid, **{name: whole(mine[name], added[name]) for name in SET_BY_GATES})
    parts: Any = {f.name: whole(getattr(known.match, f.name), getattr(fresh.match, f.name)) for f in fields(Match)}
    columns = {name: whole(values, fresh.columns[name]) for name, values in known.columns.items()}
    return Matched(grid, Match(**parts), columns)


def _of_each(found: Matched, name: str) -> Array:
    """A figure of the grid for each machine (N, K)."""
    return np.broadcast_to(getattr(found.grid, name), found.match.boost.shape)


def power_with_fuel(situation: Situation, knowledge: Knowledge) -> Array | None:
    """Power of every candidate (N,) [W] were there fuel enough for the goal, never less than without; None where the
    fuel holds nothing back."""
    fed = fuelled(situation)
    if fed is None:
        return None
    with_it, without = (matched(each, knowledge).columns["power made"] for each in (fed, situation))
    return np.asarray(np.fmax(with_it, without))


def looked_at(situation: Situation) -> tuple[int, int]:
    """Engine speeds looked at in each duty and in the sweep; fewer while too little is known to advise anything."""
    return (FEW, 2 * FEW) if situation.missing else (SPEEDS, SWEEP)


def installed(situation: Situation, knowledge: Knowledge) -> Machines:
    """The machines as they would work on this manifold: a divided housing on an open manifold works as an open one."""
    return _installed(situation.divided_manifold, machines_of(knowledge))


def _installed(divided_manifold: bool, bare: Machines) -> Machines:
    return bare if divided_manifold else replace(bare, divided=np.zeros_like(bare.divided))


def figures_of(
    situation: Situation,
    asked: tuple[Engine, Place, Plumbing],
    grid: Points,
    stock: Machines,
    solved: Match,
    rows: slice | list[int] | IntArray,
    knowledge: Knowledge,
    model: Model = MODEL,
) -> dict[str, Array]:
    """What rules and ranking read of a match of ``rows`` of the catalogue, with the price of each."""
    tables, inducer = tables_of(knowledge), stock_of(knowledge).inducer[rows]
    wanted = situation.boost_wanted_by
    figures = summarise(*asked, grid, stock, tables, solved, inducer, situation.main, wanted, model)
    return figures | _priced(knowledge, rows, figures)


def _priced(knowledge: Knowledge, rows: slice | list[int] | IntArray, figures: Mapping[str, Array]) -> dict[str, Array]:
    price = knowledge.catalogue.candidates().facts["candidate price"][rows]
    return {"candidate price": np.broadcast_to(price, figures["solved"].shape)}


def at_the_strip(figures: Mapping[str, Array], situation: Situation) -> dict[str, Array]:
    """Time and speed over the quarter mile, for callers who go to the strip."""
    if "strip power" not in figures:
        return {}
    time, speed = strip(situation.vehicle_mass, figures["strip power"], QUARTER_MILE_BY)
    return dict(zip(AT_THE_STRIP, (time, speed), strict=True))
