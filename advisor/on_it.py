"""The turbo that is on the truck now, judged on this engine from the way the caller names its size: where it has its
boost, where it stands at its surge line, and what a smaller one would do.

The shop's turbo that comes nearest stands for it, where one is near enough. Only the engine's size has to be known:
from which speed boost stands hardly hangs on a goal.
"""

import numpy as np

from advisor.hearing.request import decode
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.knowledge import Knowledge
from advisor.knowledge.closest import nearest
from advisor.matched import machines_of, tables_of
from advisor.matching.air import AIR_GAS_CONSTANT, corrected_flow
from advisor.matching.engine import cycles, volumetric_efficiency
from advisor.matching.inputs import Array
from advisor.matching.tables import surge_line
from advisor.requested import asked_of, words_of
from advisor.situation import Situation
from advisor.supplied import FUEL_ADDED, GATE_ON_IT
from advisor.units import Range
from advisor.weighing import Weighed

JUDGED = Origin("computed", "the turbo that is on it, on this engine", None, "the match")
NAMED = Origin("computed", "heard in the size that is on it")
ADDED = Origin("computed", "heard in what he told of a strong tune, injectors, pump or changes")
LARGER_INJECTORS = 0.2
"""Part over stock from which on injectors are seldom run without a tune (common practice, no source)."""
NEAR = 2.0e-3
"""Difference in inducer [m] up to which a turbo of the shop stands for the one on it (common practice, no source)."""
SMALLER, SOONER, BY = 2.5e-3, 200.0 * np.pi / 30.0, 1800.0 * np.pi / 30.0
"""From which difference in inducer [m] and in engine speed [rad/s] another counts as smaller and as sooner; and the
engine speed by which boost is wanted on the road where nobody said it (common practice, no source)."""
SPEEDS = np.linspace(600.0, 6000.0, 271) * np.pi / 30.0
SPEED_LINES = np.linspace(0.3, 1.8, 76)


def named(said: FactBase) -> list[Fact]:
    """What answers tell beside their own question of the truck as it stands, `HEARD_BESIDE`: the gate of the turbo on
    it, where he named it with the size; and that fuel was added."""
    gate = decode(words_of(said, "present size")).gate
    facts = [] if gate is None else [Fact(GATE_ON_IT, gate, NAMED)]
    injectors, changed = said.value("injector size"), said.value("changed with it")
    larger = isinstance(injectors, Range) and injectors.low >= LARGER_INJECTORS
    pump = said.value("injection pump") in ("larger", "dual")
    tuned = said.value("tune") in ("hot", "competition")
    if larger or pump or tuned or (isinstance(changed, frozenset) and "fuel" in changed):
        facts.append(Fact(FUEL_ADDED, True, ADDED))
    return facts


def on_it(said: FactBase, now: Situation, weighed: Weighed, knowledge: Knowledge) -> list[Fact]:
    """The figures of `ON_IT` as far as they are known, SI."""
    asked = asked_of(decode(words_of(said, "present size")))
    found = nearest(weighed.candidates, asked) if asked.inducer and "displacement" not in now.missing else None
    if found is None or asked.inducer is None:
        return []
    row, inducer = found.indices[0], np.asarray(weighed.candidates.facts["compressor inducer"])
    if abs(float(inducer[row]) - asked.inducer.mid) > NEAR:
        return []
    lights = np.asarray(weighed.columns["spool rpm"])
    figures = {"present inducer": asked.inducer.mid}
    if np.isfinite(lights[row]):
        figures["present spool rpm"] = float(lights[row])
        smaller = _smaller(now, weighed, row, inducer, lights)
        if smaller is not None:
            figures |= {"smaller inducer": float(inducer[smaller]), "smaller spool rpm": float(lights[smaller])}
    boost = said.value("present boost")
    if isinstance(boost, Range) and np.isfinite(at := _surge_speed(now, weighed, row, boost.mid, knowledge)):
        figures["present surge rpm"] = at
    return [Fact(name, Range(value, value), JUDGED) for name, value in figures.items()]


def _smaller(now: Situation, weighed: Weighed, row: int, inducer: Array, lights: Array) -> int | None:
    """The largest of the smaller ones that has its boost when it is wanted, of these the one with most points; where
    none has, the one that has it first. None where none is noticeably sooner."""
    sooner = weighed.kept & (inducer < inducer[row] - SMALLER) & (lights < lights[row] - SOONER)
    if not sooner.any():
        return None
    wanted = BY if now.boost_wanted_by is None else float(now.boost_wanted_by)
    in_time = np.flatnonzero(sooner & (lights <= wanted))
    if not in_time.size:
        rows = np.flatnonzero(sooner)
        return int(rows[np.argmin(lights[rows])])
    return int(max(in_time, key=lambda at: (round(float(inducer[at]), 4), float(weighed.points[at]))))


def _surge_speed(now: Situation, weighed: Weighed, row: int, boost: float, knowledge: Knowledge) -> float:
    """Engine speed [rad/s] at which the engine draws just what the compressor's surge line holds at a boost [Pa gauge],
    losses on the way aside; NaN where it lies past the speeds looked at or off the map."""
    tables, wheel = tables_of(knowledge), int(machines_of(knowledge).wheel[row])
    outside, charge = float(now.place.pressure), float(weighed.columns["charge temperature"][row])
    known = SPEED_LINES[(tables.slowest[wheel] <= SPEED_LINES) & (tables.fastest[wheel] >= SPEED_LINES)]
    flow, ratio = surge_line(tables, wheel, known).T
    absolute = outside + boost
    at_surge = np.interp(absolute / outside, ratio, flow, left=np.nan, right=np.nan) * tables.reference_flow(wheel)
    trapped = volumetric_efficiency(now.engine, absolute, SPEEDS) * cycles(now.engine, SPEEDS)
    drawn = corrected_flow(
        trapped * absolute / (AIR_GAS_CONSTANT * charge), float(now.place.temperature), outside
    )
    return float(np.interp(at_surge, drawn, SPEEDS, left=np.nan, right=np.nan))
