"""Every combination in the shop, matched to this caller's situation, judged by the rules, and put in order.

The rules may rule out and penalise; the hard limits of the match (overspeed, surge at the main duty's goal, a
point that did not converge) and of the fit (cannot be bolted on) hold whatever the rules say.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.fitting.ports import Fits, Vehicle, fit
from advisor.inference.agenda import Agenda, Conflict, Firing
from advisor.inference.facts import FactBase, Origin, column
from advisor.inference.stage import run_stage
from advisor.knowledge import Knowledge
from advisor.knowledge.catalogue import Candidates, Catalogue
from advisor.knowledge.closest import Asked, Closest, nearest
from advisor.knowledge.rules import Penalise, RuleOut
from advisor.matching.balance import Match, match
from advisor.matching.compressor import WheelTables
from advisor.matching.engine import points
from advisor.matching.inputs import Machines, Points, machines
from advisor.matching.rank import Ranking, rank, summarise
from advisor.situation import Situation
from advisor.units import Range

MATCHED = Origin("computed", "the match of this combination to the engine", None, "see the figures' sources")
LISTED = Origin("catalogue", "the catalogue")


@dataclass(frozen=True, eq=False, slots=True)
class Weighed:
    """All candidates (N) as this caller's situation and the rules leave them."""

    candidates: Candidates
    machines: Machines
    points: Points
    match: Match
    fits: Fits
    columns: Mapping[str, NDArray[np.float64]]
    facts: FactBase
    firings: tuple[Firing, ...]
    conflicts: tuple[Conflict, ...]
    out_by: Mapping[str, NDArray[np.bool_]]
    penalties: NDArray[np.float64]
    ranking: Ranking
    closest: Closest | None

    @property
    def kept(self) -> NDArray[np.bool_]:
        """Candidates that neither a rule nor a hard limit has ruled out."""
        out = np.zeros(len(self.candidates), dtype=bool)
        for mask in self.out_by.values():
            out |= mask
        return ~out

    @property
    def requested(self) -> int | None:
        """The row that comes closest to what the caller asked for."""
        return self.closest.indices[0] if self.closest is not None and self.closest.indices else None


def weigh(
    situation: Situation, facts: FactBase, asked: Asked, knowledge: Knowledge, agenda: Agenda
) -> Weighed:
    """Match, fit, judge and rank every combination of the catalogue."""
    catalogue = knowledge.catalogue
    candidates = catalogue.candidates()
    stock = _machines(catalogue)
    grid, matched, columns = _matched(situation, catalogue, knowledge)
    vehicle = vehicle_of(facts)
    fits = fit(candidates, vehicle, catalogue)
    closest = nearest(candidates, asked)
    requested = np.zeros(len(candidates), dtype=bool)
    if closest is not None and closest.indices:
        requested[closest.indices[0]] = True
    of_each = facts.with_columns({**candidates.facts, "is requested": requested}, LISTED)
    of_each = of_each.with_columns({name: column(values) for name, values in fits.facts.items()}, LISTED)
    known = {name: values for name, values in columns.items() if name in knowledge.vocabulary}
    of_each = of_each.with_columns(known, MATCHED)
    judged = run_stage("judge", knowledge, of_each, agenda)
    out_by, penalties = _sentences(judged.firings, knowledge, len(candidates))
    no_foot = np.asarray([verdict == "none" for verdict in fits.facts["foot fit"]])
    out_by.update({limit: mask for limit, mask in {"it cannot be bolted on": no_foot}.items() if mask.any()})
    ranking = rank(columns, situation.duties, main=situation.main, penalties=penalties)
    for limit, mask in ranking.limits.items():
        if mask.any():
            out_by[limit] = mask
    return Weighed(
        candidates=candidates,
        machines=stock,
        points=grid,
        match=matched,
        fits=fits,
        columns=columns,
        facts=judged.facts,
        firings=judged.firings,
        conflicts=judged.conflicts,
        out_by=dict(sorted(out_by.items())),
        penalties=penalties,
        ranking=ranking,
        closest=closest,
    )


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


def _sentences(
    firings: tuple[Firing, ...], knowledge: Knowledge, count: int
) -> tuple[dict[str, NDArray[np.bool_]], NDArray[np.float64]]:
    """Which rule rules out whom, and the points that rules take from each candidate."""
    out: dict[str, NDArray[np.bool_]] = {}
    points_off = np.zeros(count)
    for firing in firings:
        mask = np.ones(count, dtype=bool) if firing.mask is None else firing.mask
        for action in knowledge.rule(firing.rule).then:
            if isinstance(action, RuleOut):
                out[firing.rule] = mask
            elif isinstance(action, Penalise):
                points_off = points_off + np.where(mask, action.points, 0.0)
    return out, points_off


@lru_cache(maxsize=8)
def _machines(catalogue: Catalogue) -> Machines:
    return machines(catalogue.candidates().geometry)


@lru_cache(maxsize=8)
def tables_of(catalogue: Catalogue, maps: tuple[tuple[str, str], ...]) -> WheelTables:
    """Compressor tables of every wheel the shop sells; measured maps where the catalogue names one."""
    return WheelTables.of(catalogue.candidates().wheels, dict(maps))


@lru_cache(maxsize=64)
def _matched(
    situation: Situation, catalogue: Catalogue, knowledge: Knowledge
) -> tuple[Points, Match, Mapping[str, NDArray[np.float64]]]:
    stock = _machines(catalogue)
    tables = tables_of(catalogue, tuple(knowledge.maps.items()))
    grid = points(situation.engine, situation.place, situation.plumbing, situation.duties)
    solved = match(situation.engine, situation.place, situation.plumbing, grid, stock, tables)
    columns = summarise(
        solved, grid, stock, main_duty=situation.main, boost_wanted_by=situation.boost_wanted_by
    )
    return grid, solved, columns
