"""Every combination in the shop, matched to this caller's situation, judged by the rules, and put in order.

The rules may rule out and penalise; the hard limits of the match (overspeed, surge in the main duty, a balance
that was not found) and of the fit (cannot be bolted on) hold whatever the rules say.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from advisor.fitting.joints import Vehicle
from advisor.fitting.ports import Fits, fit
from advisor.inference.agenda import Agenda, Conflict, Firing
from advisor.inference.facts import Coded, Column, FactBase, Numbers, Origin, column
from advisor.inference.stage import Same, StageResult, run_stage
from advisor.knowledge import Knowledge
from advisor.knowledge.catalogue import Candidates, Catalogue
from advisor.knowledge.closest import Asked, Closest, nearest
from advisor.knowledge.rules import Assume, Rule, RuleOut, SetFact, Stage
from advisor.knowledge.strata import reads
from advisor.matched import (
    at_the_strip,
    figures_of,
    installed,
    looked_at,
    machines_of,
    matched,
    tables_of,
)
from advisor.matching.balance import Match, match
from advisor.matching.engine import points
from advisor.matching.gates import rows_of
from advisor.matching.inputs import Array, Bools, Duty, Machines, Points
from advisor.matching.rank import (
    SHORT_IN_CLASS,
    TOO_LARGE,
    TOO_WEAK,
    Ranking,
    rank,
    score,
    short_in_class,
    too_large,
)
from advisor.matching.uncertainty import bands, draws, with_every_surge_line
from advisor.situation import Situation
from advisor.units import Range

MATCHED = Origin("computed", "the match of this combination to the engine")
LISTED = Origin("catalogue", "the catalogue")
NO_FOOT = "it can't be bolted on with the parts there are"
DRAWS = 33
SURGE_MARGINS = ("surge margin", "goal surge margin")
OUT_OF_THE_RUNNING = 1_000.0
NOTHING = "nothing"
COMPETING, COMPETES = ("strip", "sled"), 0.25
"""Duties that a class rules, and their share from which on they aren't for fun alone (common practice, no source)."""
AS_STRONG, COOLER = 0.97, 14.0
"""Share of another's power on the grade with which one holds it as well, and kelvin (25 °F) by which one runs
noticeably cooler (common practice, no source)."""


@dataclass(frozen=True, eq=False, slots=True)
class Weighed:
    """All candidates (N) as this caller's situation and the rules leave them.

    columns     figures of the match by name, each (N,), NaN where no balance was found
    out_by      rules and hard limits that rule out somebody, each with its mask (N,)
    penalties   points that rules take off, (N,)
    points      score 0 to 100 less the penalties, (N,)
    """

    candidates: Candidates
    machines: Machines
    grid: Points
    match: Match
    fits: Fits
    columns: Mapping[str, Array]
    facts: FactBase
    firings: tuple[Firing, ...]
    conflicts: tuple[Conflict, ...]
    out_by: Mapping[str, Bools]
    penalties: Array
    points: Array
    ranking: Ranking
    closest: Closest | None
    ambient: float

    @property
    def kept(self) -> Bools:
        """Candidates that neither a rule nor a hard limit has ruled out."""
        return self.kept_but_for(())

    def kept_but_for(self, limits: Collection[str]) -> Bools:
        """Candidates that nothing has ruled out but these rules or hard limits."""
        return ~_any({by: mask for by, mask in self.out_by.items() if by not in limits}, len(self.candidates))

    @property
    def order(self) -> list[int]:
        """The rows that were kept, best first; what is level in points stands in the order of the catalogue."""
        return self.order_for(self.points)

    def order_for(self, by: Array, which: Bools | None = None) -> list[int]:
        """The rows that were kept, or ``which`` (N,), best first by another score."""
        rows = np.flatnonzero(self.kept if which is None else which)
        return [int(row) for row in rows[np.argsort(-np.round(by[rows], 6), kind="stable")]]

    @property
    def lacks(self) -> str:
        """What the shop lacks for this engine where nothing was kept: "a smaller turbo" where none has its boost in
        time, "as much power" where what else does makes far less than the engine makes today, "a wheel for the class"
        where what the class allows stays far short of the goal; else `NOTHING`."""
        if self.kept.any():
            return NOTHING
        if TOO_LARGE in self.out_by:
            return "a smaller turbo"
        if SHORT_IN_CLASS in self.out_by:
            return "a wheel for the class"
        weak = self.out_by.get(TOO_WEAK, np.zeros(len(self.candidates), dtype=bool))
        return "as much power" if (weak & self.kept_but_for({TOO_WEAK})).any() else NOTHING

    @property
    def strongest_in_class(self) -> int | None:
        """The row that makes the most of those that the class allows, where all of them stay far short of the goal."""
        if self.lacks != "a wheel for the class":
            return None
        return int(np.argmax(np.where(self.out_by[SHORT_IN_CLASS], self.columns["power made"], -np.inf)))

    @property
    def fitted_price(self) -> Array:
        """What each candidate (N,) costs with the parts to fit it, $."""
        return np.asarray(self.columns["candidate price"] + self.fits.facts["fitting cost"])

    @property
    def requested(self) -> int | None:
        """The row that comes closest to what the caller asked for."""
        return self.closest.indices[0] if self.closest is not None and self.closest.indices else None

    def beside(self, row: int) -> Bools:
        """Which of the candidates (N,) that were kept may be put to him beside this one: none that works past its surge
        line where this one does not."""
        margin = self.columns["surge margin"]
        return np.asarray(self.kept & ((margin >= 0.0) | (margin[row] < 0.0)))

    def cooler_on_the_grade(self, row: int) -> Bools:
        """Which of the candidates (N,) that may be put to him beside this one hold the grade as well and run noticeably
        cooler on it; none where nothing is towed."""
        if "towing power" not in self.columns:
            return np.zeros(len(self.candidates), dtype=bool)
        heat, power = self.columns["towing exhaust temperature"], self.columns["towing power"]
        return np.asarray(self.beside(row) & (power >= AS_STRONG * power[row]) & (heat <= heat[row] - COOLER))

    def turbo(self, row: int) -> str:
        """The code of the row's turbo, without its housing and gate."""
        return self.candidates.turbos[row]


@dataclass(frozen=True, eq=False, slots=True)
class Before:
    """The same call, up to the match, weighed under knowledge that differs in some rules (by name), and perhaps in its
    catalogue."""

    weighed: Weighed
    edited: frozenset[str]


def weigh(
    situation: Situation,
    facts: FactBase,
    asked: Asked,
    knowledge: Knowledge,
    agenda: Agenda,
    before: Before | None = None,
) -> Weighed:
    """Match, fit, judge and rank every combination of the catalogue; what was judged ``before`` isn't judged again."""
    catalogue = knowledge.catalogue
    candidates = catalogue.candidates()
    found = matched(situation, knowledge)
    fits, joined = _fitted(vehicle_of(facts), catalogue, usual_vehicle(knowledge))
    known = {
        name: values
        for name, values in found.columns.items()
        if name in knowledge.vocabulary and name not in candidates.facts
    }
    requested = {"is requested": _requested(asked, catalogue)}
    of_each = facts.with_columns({**_listed(catalogue), **joined, **requested}, LISTED)
    of_each = of_each.with_columns(known, MATCHED)
    matched_before = before is not None and before.weighed.match is found.match
    judged = _judged(of_each, knowledge, agenda, before, known if matched_before else ())
    out_by, penalties = sentences(judged.firings, knowledge, len(candidates))
    out_by[NO_FOOT] = np.asarray(fits.facts["foot fit"] == "none", dtype=bool)
    ranking = rank(found.columns, situation.duties, penalties, _any(out_by, len(candidates)))
    out_by |= too_large(found.columns, *_main_and_today(situation), _any(out_by, len(candidates)))
    out_by |= ranking.limits
    if of_class := _of_class(situation, facts, out_by, knowledge):
        fed = float(situation.fuel_power) if situation.fuel_limited else np.inf
        by_class, so_far = (_any(masks, len(candidates)) for masks in (of_class, out_by))
        out_by |= short_in_class(found.columns, float(situation.power_goal), fed, by_class, so_far)
    out_by = {limit: mask for limit, mask in out_by.items() if mask.any()}
    out = _any(out_by, len(candidates))
    closest = nearest(candidates, asked, preferred=np.where(out, ranking.score - OUT_OF_THE_RUNNING, ranking.score))
    return Weighed(
        candidates=candidates,
        machines=machines_of(knowledge),
        grid=found.grid,
        match=found.match,
        fits=fits,
        columns=found.columns,
        facts=judged.facts,
        firings=judged.firings,
        conflicts=judged.conflicts,
        out_by=dict(sorted(out_by.items())),
        penalties=penalties,
        points=ranking.score,
        ranking=ranking,
        closest=closest,
        ambient=float(situation.place.pressure),
    )


def _main_and_today(situation: Situation) -> tuple[Duty, float]:
    """The main duty, and what the engine makes today as far as that is wanted of it [W], 0 where nobody said."""
    today = 0.0 if situation.power_today is None else float(situation.power_today)
    return situation.leading, min(today, float(situation.power_goal))


def _of_class(
    situation: Situation, facts: FactBase, out_by: Mapping[str, Bools], knowledge: Knowledge
) -> dict[str, Bools]:
    """Whom rules put out for the limit, where he told it, of the class that he competes in; by rule."""
    weights = {duty.name: float(duty.weight) for duty in situation.duties}
    competing = sum(weights.get(name, 0.0) for name in COMPETING)
    if competing < COMPETES * sum(weights.values()) or not isinstance(facts.value("inducer limit"), Range):
        return {}
    of_class = {rule.name for rule in knowledge.rules if "class rule" in reads(rule)}
    return {by: mask for by, mask in out_by.items() if by in of_class}


def _judged(
    of_each: FactBase, knowledge: Knowledge, agenda: Agenda, before: Before | None, same: Iterable[str]
) -> StageResult:
    """The stage that judges. With the same call judged before, only the edited rules are fired and those that read
    what is another (columns that are the ``same`` aren't looked at): no rule that judges may set facts then, so that
    each speaks for itself."""
    known = None if before is None else before.weighed.facts
    if before is None or known is None or known.facts != of_each.facts or known.disputed != of_each.disputed:
        return run_stage("judge", knowledge, of_each, agenda)
    if _sets_facts(Same(knowledge)):
        return run_stage("judge", knowledge, of_each, agenda)
    names = (known.columns.keys() | of_each.columns.keys()).difference(same)
    other = frozenset(n for n in names if not _alike(known.columns.get(n), of_each.columns.get(n)))
    anew = _anew(Same(knowledge), before.edited, other)
    again = {rule.name for rule in anew.rules} | before.edited
    kept = [firing for firing in before.weighed.firings if firing.rule not in again]
    fired = run_stage("judge", anew, of_each, agenda).firings
    firings = tuple(sorted((*kept, *fired), key=lambda firing: firing.rule))
    return StageResult(of_each if other else known, firings, ())


def _alike(one: Column | None, other: Column | None) -> bool:
    if one is other:
        return True
    if isinstance(one, Numbers) and isinstance(other, Numbers):
        pairs = ((one.low, other.low), (one.high, other.high))
        return all(np.array_equal(*pair, equal_nan=True) for pair in pairs)
    if isinstance(one, Coded) and isinstance(other, Coded):
        return one.table == other.table and np.array_equal(one.codes, other.codes)
    return False


@lru_cache(maxsize=8)
def _sets_facts(book: Same[Knowledge]) -> bool:
    """Whether a rule that judges sets or takes a fact."""
    actions = (action for layer in book.it.layers("judge") for rule in layer for action in rule.then)
    return any(isinstance(action, SetFact | Assume) for action in actions)


@dataclass(frozen=True, slots=True)
class _Some:
    """Some of the rules that judge, all of one layer."""

    rules: tuple[Rule, ...]

    def layers(self, stage: Stage, /) -> Sequence[tuple[Rule, ...]]:
        return (self.rules,) if self.rules else ()


@lru_cache(maxsize=64)
def _anew(book: Same[Knowledge], edited: frozenset[str], other: frozenset[str]) -> _Some:
    """The rules that are edited, or read one of these facts."""
    every = (rule for layer in book.it.layers("judge") for rule in layer)
    return _Some(tuple(rule for rule in every if rule.name in edited or reads(rule) & other))


@lru_cache(maxsize=8)
def _listed(catalogue: Catalogue) -> Mapping[str, Column]:
    """What the catalogue says of each candidate, as rules read it."""
    return {name: column(values) for name, values in catalogue.candidates().facts.items()}


@lru_cache(maxsize=256)
def _fitted(vehicle: Vehicle, catalogue: Catalogue, usual: Vehicle) -> tuple[Fits, Mapping[str, Column]]:
    """How each candidate fits a vehicle, and that as rules read it."""
    fits = fit(catalogue.candidates(), vehicle, catalogue, usual)
    return fits, {name: column(values) for name, values in fits.facts.items()}


@lru_cache(maxsize=256)
def _requested(asked: Asked, catalogue: Catalogue) -> Column:
    """Which candidates come closest to what was asked for."""
    candidates = catalogue.candidates()
    alike = nearest(candidates, asked, limit=len(candidates))
    requested = np.zeros(len(candidates), dtype=bool)
    if alike is not None:
        requested[list(alike.indices)] = True
    return column(requested)


@dataclass(frozen=True, slots=True)
class Uncertain:
    """Bands of the figures of some rows: (low, high) by name, each (n,), and how surely the first row of them
    beats each of the others."""

    rows: tuple[int, ...]
    low: Mapping[str, Array]
    high: Mapping[str, Array]
    confidence: Array


def uncertain(situation: Situation, weighed: Weighed, rows: Sequence[int], knowledge: Knowledge) -> Uncertain:
    """What the spreads of assumed inputs, model constants and predicted maps make of the figures of ``rows``."""
    found = _drawn(situation, tuple(rows), knowledge)
    gained = found.score - weighed.penalties[list(rows)]
    first = gained[:, :1]
    confidence = (first > gained).mean(axis=0) + 0.5 * (first == gained).mean(axis=0)
    columns = {name: values for name, values in found.columns.items() if values.dtype != bool}
    columns |= {name: with_every_surge_line(columns[name], *found.surge_lines) for name in SURGE_MARGINS}
    spread = bands(columns)
    low = {name: low for name, (low, _, _) in spread.items()}
    high = {name: high for name, (_, _, high) in spread.items()}
    return Uncertain(tuple(rows), low, high, confidence)


JOINT_OF = {
    "manifold foot": "foot",
    "exhaust size": "exhaust",
    "charge pipe size": "charge pipe",
    "oil feed": "oil feed",
    "oil drain": "oil drain",
}
"""The joint at which each of the vehicle's ends is met."""
JOINTS = (*JOINT_OF, "manifold entry")
"""Facts that `vehicle_of` reads: while one is unknown a joint of the parts list stays open."""


def vehicle_of(facts: FactBase) -> Vehicle:
    """What the truck offers to bolt to; what nobody knows stays None."""

    def word(name: str) -> str | None:
        value = facts.value(name)
        return value if isinstance(value, str) else None

    def size(name: str) -> Range | None:
        value = facts.value(name)
        return value if isinstance(value, Range) else None

    return Vehicle(
        manifold_foot=word("manifold foot"),
        manifold_entry=word("manifold entry"),
        exhaust_size=size("exhaust size"),
        charge_pipe_size=size("charge pipe size"),
        oil_feed=word("oil feed"),
        oil_drain=word("oil drain"),
    )


def usual_vehicle(knowledge: Knowledge) -> Vehicle:
    """The pipes that the match takes where nobody told of them: what they need to be joined is paid for as well."""

    def size(name: str) -> Range | None:
        definition = knowledge.vocabulary.get(name)
        usual = None if definition is None else definition.typical
        return None if usual is None else Range(usual, usual)

    return Vehicle(exhaust_size=size("exhaust size"), charge_pipe_size=size("charge pipe size"))


def _any(masks: Mapping[str, Bools], count: int) -> Bools:
    """Where any of the masks is set."""
    return np.asarray(np.any(np.stack([np.zeros(count, dtype=bool), *masks.values()]), axis=0), dtype=bool)


def sentences(
    firings: tuple[Firing, ...], knowledge: Knowledge, count: int
) -> tuple[dict[str, Bools], Array]:
    """Which rule rules out whom, and the points that rules take from each candidate."""
    out: dict[str, Bools] = {}
    points_off = np.zeros(count)
    for firing in firings:
        mask = firing.among(count)
        for action in knowledge.rule(firing.rule).then:
            if isinstance(action, RuleOut):
                out[firing.rule] = mask
        if firing.points is not None:
            points_off = points_off + firing.points.sure
    return out, points_off


@dataclass(frozen=True, eq=False, slots=True)
class _Drawn:
    """Figures by name and the score of draws and rows, each (D, n); where the surge lines lie in them (D, n), and their
    spread (n,)."""

    columns: Mapping[str, Array]
    score: Array
    surge_lines: tuple[Array, Array]


@lru_cache(maxsize=64)
def _drawn(situation: Situation, rows: tuple[int, ...], knowledge: Knowledge) -> _Drawn:
    tables = tables_of(knowledge)
    picked = list(rows)
    few = rows_of(installed(situation, knowledge), picked)
    setting = matched(situation, knowledge).grid
    drawn = draws(
        situation.engine,
        situation.place,
        situation.plumbing,
        few,
        tables,
        count=DRAWS,
        assumed=dict(situation.spreads),
    )
    asked = (drawn.engine, drawn.place, drawn.plumbing)
    speeds, sweep = looked_at(situation)
    grid = points(*asked, situation.duties, drawn.model, count=speeds, sweep_count=sweep)
    if setting.boost_target.ndim > 1:  # the gates are set once, for the nominal case
        grid = replace(
            grid,
            boost_target=setting.boost_target[picked],
            boost_needed=np.minimum(grid.boost_needed, setting.boost_target[picked]),
        )
    solved = match(*asked, grid, drawn.machines, tables, drawn.model)
    figures = figures_of(situation, asked, grid, drawn.machines, solved, picked, knowledge, drawn.model)
    figures = figures | at_the_strip(figures, situation)
    gained, _ = score(figures, {duty.name: duty.weight for duty in situation.duties})
    lines = np.asarray(drawn.machines.surge_factor), tables.surge_spread[few.wheel]
    return _Drawn(figures, gained, lines)
