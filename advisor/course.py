"""The stages of a call, in their order: what `consultation` puts into words, and the desk runs anew in part.

answers -> facts -> rules (understand) -> engine demand -> rules (demand) -> candidates matched, judged, ranked
-> rules (advise).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from advisor.hearing import understand
from advisor.inference.agenda import Agenda, Conflict, Firing
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import StageResult, run_stage
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.closest import Asked, nearest
from advisor.knowledge.rules import STAGES, Stage
from advisor.matching.air import pipe_flow
from advisor.matching.engine import Demand, demand
from advisor.matching.inputs import Duty
from advisor.outcome import Answer, Understood
from advisor.request import Request, decode
from advisor.situation import Situation, situation
from advisor.units import Range
from advisor.weighing import Weighed, choke_share, weigh

DEMANDED = Origin("computed", "engine demand", None, "mean-value engine model; see DEVELOPERS.md, models")
# Shares of the catalogue's points below which two set-ups count as equally good (common practice, no source).
CLOSE_POINTS = 5.0
RECOMMENDED, NOTHING_FITS, NOT_ENOUGH, DIAGNOSED = (
    "recommended",
    "nothing fits",
    "not enough known",
    "diagnosed",
)
MATCH_VERDICT = Origin("computed", "the requested part beside the best one", None, "the match")


@dataclass(frozen=True, eq=False, slots=True)
class Opening:
    """The part of a call that needs no match: the stages understand and demand. ``said``: the caller's own facts."""

    understood: tuple[Understood, ...]
    request: Request
    said: FactBase
    first: StageResult
    demanded: tuple[Fact, ...]
    second: StageResult
    now: Situation


@dataclass(frozen=True, eq=False, slots=True)
class Course:
    """What the stages of a call came to, in their order, before anything of it is put into words.

    ``best`` is the row of the first candidate that was kept, None without
    one; ``compared`` how the requested part does beside it.
    """

    opening: Opening
    weighed: Weighed
    best: int | None
    verdict: str
    compared: str
    last: StageResult
    firings: tuple[Firing, ...]

    @property
    def understood(self) -> tuple[Understood, ...]:
        """What was made of the answers."""
        return self.opening.understood

    @property
    def request(self) -> Request:
        """The part that was asked for, taken apart."""
        return self.opening.request

    @property
    def now(self) -> Situation:
        """What the match was asked."""
        return self.opening.now

    @property
    def conflicts(self) -> tuple[Conflict, ...]:
        """What rules of one stage give differently."""
        early = (*self.opening.first.conflicts, *self.opening.second.conflicts)
        return (*early, *self.weighed.conflicts, *self.last.conflicts)


def open_call(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda) -> Opening:
    """The stages before the match. Raises ValueError for an answer to a fact that the vocabulary does not know."""
    understood = _understood(answers, knowledge)
    said = FactBase().with_facts(u.fact for u in understood if u.fact is not None)
    request = decode(_text(said, "request"))
    first = run_stage("understand", knowledge, said, agenda)
    demanded = _demand_facts(situation(first.facts, knowledge.vocabulary), _asked(request), knowledge)
    second = run_stage("demand", knowledge, first.facts.with_facts(demanded), agenda)
    now = situation(second.facts, knowledge.vocabulary)
    return Opening(understood, request, said, first, demanded, second, now)


def _demand_anew(opening: Opening, knowledge: Knowledge, agenda: Agenda) -> Opening:
    second = run_stage("demand", knowledge, opening.first.facts.with_facts(opening.demanded), agenda)
    return replace(opening, second=second, now=situation(second.facts, knowledge.vocabulary))


def infer(
    answers: Sequence[Answer],
    knowledge: Knowledge,
    agenda: Agenda,
    known: Course | None = None,
    since: Stage = "understand",
) -> Course:
    """The stages of a call. With a course that is ``known`` only those ``since`` a stage are run anew.

    Raises ValueError for an answer to a fact that the vocabulary does not know.
    """
    at = STAGES.index(since) if known is not None else 0
    opening = known.opening if known is not None and at > 0 else open_call(answers, knowledge, agenda)
    if at == 1:
        opening = _demand_anew(opening, knowledge, agenda)
    return conclude(opening, knowledge, agenda, known.weighed if known is not None and at > 2 else None)


def conclude(opening: Opening, knowledge: Knowledge, agenda: Agenda, weighed: Weighed | None = None) -> Course:
    """The stages after the opening; with candidates that are weighed already only the last one."""
    now, first, second = opening.now, opening.first, opening.second
    if weighed is None:
        weighed = weigh(now, second.facts, _asked(opening.request), knowledge, agenda)
    order = weighed.order
    best = order[0] if order else None
    compared = _request_verdict(weighed, best, weighed.requested)
    about = (
        weighed.facts.at(best)
        if best is not None
        else FactBase(dict(weighed.facts.facts), disputed=weighed.facts.disputed)
    )
    about = about.with_facts([Fact("request verdict", compared, MATCH_VERDICT)])
    last = run_stage("advise", knowledge, about, agenda)
    firings = tuple(
        sorted(
            (*first.firings, *second.firings, *weighed.firings, *last.firings),
            key=lambda f: (STAGES.index(knowledge.rule(f.rule).stage), f.rule),
        )
    )
    return Course(
        opening=opening,
        weighed=weighed,
        best=best,
        verdict=_verdict(now, second.facts, best),
        compared=compared,
        last=last,
        firings=firings,
    )


def _understood(answers: Sequence[Answer], knowledge: Knowledge) -> tuple[Understood, ...]:
    last: dict[str, Answer] = {}
    for answer in answers:
        if answer.fact not in knowledge.vocabulary:
            raise ValueError(f"nothing called {answer.fact!r} is in the fact vocabulary")
        last.pop(answer.fact, None)
        last[answer.fact] = answer
    return tuple(_heard(knowledge.vocabulary[answer.fact], answer.words) for answer in last.values())


@lru_cache(maxsize=4096)
def _heard(definition: FactDef, words: str) -> Understood:
    return understand(definition, words)


def _text(facts: FactBase, name: str) -> str:
    value = facts.value(name)
    return value if isinstance(value, str) else ""


def _asked(request: Request) -> Asked:
    return Asked(
        inducer=request.inducer,
        turbine=request.turbine,
        housing_ratio=request.housing_ratio,
        entry=request.entry,
        foot=request.foot,
        gate=request.gate,
    )


def _verdict(now: Situation, facts: FactBase, best: int | None) -> str:
    if facts.value("call kind") == "complaint":
        return DIAGNOSED
    if now.missing:
        return NOT_ENOUGH
    return NOTHING_FITS if best is None else RECOMMENDED


def _goal_duty(now: Situation) -> Duty:
    """The duty in which most power is asked for, asked for the whole goal."""
    hardest = max(now.duties, key=lambda duty: (float(duty.power), duty.name == now.main))
    return hardest if hardest.name == "towing" and len(now.duties) == 1 else replace(hardest, power=now.power_goal)


def _demand_facts(now: Situation, asked: Asked, knowledge: Knowledge) -> tuple[Fact, ...]:
    """What the power goal asks of the air side, as facts (SI)."""
    duty = _goal_duty(now)
    needs = demand(now.engine, now.place, now.plumbing, duty.power, duty.goal_speed, duty.target_lambda)
    ambient = float(now.place.pressure)
    values: dict[str, float] = {
        "ambient pressure": ambient,
        "air flow needed": float(needs.air),
        "fuel flow needed": float(needs.fuel),
        "fuel power": float(now.fuel_power),
        "boost needed": float(needs.boost) - ambient,
        "pressure ratio needed": float(needs.pressure_ratio),
        "compressor outlet temperature": float(needs.compressor_outlet_temperature),
        "charge temperature": float(needs.charge_temperature),
        "manifold pressure needed": float(needs.boost),
        "peak pressure index": float(needs.peak_pressure),
        "brake mean pressure": float(needs.mean_pressure),
        "corrected air flow": float(needs.corrected_air),
        "charge pipe speed": float(
            pipe_flow(needs.air, needs.boost, needs.charge_temperature, now.charge_pipe).velocity
        ),
    }
    for each in now.duties:
        if each.name == "towing":
            values["towing road load"] = float(now.road_load)
            values["towing rpm"] = float(each.goal_speed)
    share = _air_share(needs, asked, knowledge)
    if share is not None:
        values["requested air flow share"] = share
    return tuple(Fact(name, Range(value, value), DEMANDED) for name, value in values.items() if np.isfinite(value))


def _air_share(needs: Demand, asked: Asked, knowledge: Knowledge) -> float | None:
    """Choke flow of the wheel that was asked for, at the pressure ratio needed, over the air needed."""
    closest = nearest(knowledge.catalogue.candidates(), asked)
    if closest is None:
        return None
    return float(choke_share(knowledge, closest.indices[0], float(needs.corrected_air), float(needs.pressure_ratio)))


def _request_verdict(weighed: Weighed, best: int | None, requested: int | None) -> str:
    """How the part that was asked for does beside the best one."""
    if requested is None or best is None:
        return "unknown"
    if weighed.fits.facts["foot fit"][requested] == "none":
        return "does not bolt on"
    kept = bool(weighed.kept[requested])
    if kept and weighed.turbo(requested) == weighed.turbo(best):
        return "right"
    if kept and weighed.points[best] - weighed.points[requested] <= CLOSE_POINTS:
        return "close"
    inducer = weighed.candidates.facts["compressor inducer"]
    if inducer[requested] > inducer[best] + 5e-4:
        return "too big"
    return "too small" if inducer[requested] < inducer[best] - 5e-4 else "close"
