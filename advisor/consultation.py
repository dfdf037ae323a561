"""A call is its answers; everything else is recomputed from them, here and in this order.

answers -> facts -> rules (understand) -> engine demand -> rules (demand) -> candidates matched, judged, ranked
-> rules (advise) -> what is said, and the next question. A pure function: no input or output, no clock, no
randomness that isn't seeded.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from advisor import telling
from advisor.hearing import understand
from advisor.inference.agenda import Agenda
from advisor.inference.agenda import agenda as find_agenda
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import run_stage
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.closest import Asked, nearest
from advisor.knowledge.rules import STAGES
from advisor.matching.air import pipe_flow
from advisor.matching.engine import Demand, demand
from advisor.matching.inputs import Duty
from advisor.matching.rank import SURE
from advisor.outcome import Answer, Consultation, DutyTrade, Figure, Option, Understood
from advisor.questions import Asking, open_questions
from advisor.request import Request, decode
from advisor.situation import Situation, situation
from advisor.units import Range
from advisor.weighing import Uncertain, Weighed, choke_share, uncertain, weigh

DEMANDED = Origin("computed", "engine demand", None, "mean-value engine model; see DEVELOPERS.md, models")
# Shares of the catalogue's points below which two set-ups count as equally good (common practice, no source).
CLOSE_POINTS = 5.0
# How many of the first places are held against each other under uncertainty.
CONTENDERS = 5


def consult(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None) -> Consultation:
    """Everything that follows from the answers; of several answers to one fact the last one counts.

    Raises ValueError for an answer to a fact that the vocabulary does not know.
    """
    agenda = agenda or find_agenda()
    vocabulary = knowledge.vocabulary
    understood = _understood(answers, knowledge)
    said = FactBase().with_facts(u.fact for u in understood if u.fact is not None)
    request = decode(_text(said, "request"))
    asked = _asked(request)

    first = run_stage("understand", knowledge, said, agenda)
    now = situation(first.facts, vocabulary)
    demanded = _demand_facts(now, asked, knowledge)
    second = run_stage("demand", knowledge, first.facts.with_facts(demanded), agenda)
    now = situation(second.facts, vocabulary)

    weighed = weigh(now, second.facts, asked, knowledge, agenda)
    order = weighed.order
    best = order[0] if order else None
    requested = weighed.requested

    verdict = _verdict(now, second.facts, best)
    compared = _request_verdict(weighed, best, requested)
    about = (
        weighed.facts.at(best)
        if best is not None
        else FactBase(
            weighed.facts.facts, disputed=weighed.facts.disputed
        )
    )
    about = about.with_facts([Fact("request verdict", compared, MATCH_VERDICT)])
    last = run_stage("advise", knowledge, about, agenda)

    firings = tuple(
        sorted(
            (*first.firings, *second.firings, *weighed.firings, *last.firings),
            key=lambda f: (STAGES.index(knowledge.rule(f.rule).stage), f.rule),
        )
    )
    told = telling.words_of(firings, knowledge, last.facts, best)
    tradeoff = _trade(weighed, now, best, knowledge) if best is not None else ()
    others = _alternatives(weighed, order)
    rows = [
        row
        for row in dict.fromkeys((*order[:1], *others, requested, *order[1:CONTENDERS]))
        if row is not None
    ]
    spread = uncertain(now, weighed, rows, knowledge) if rows else None
    recommended = (
        telling.option(weighed, best, "recommended", knowledge, spread=spread) if best is not None else None
    )
    shown = tuple(telling.option(weighed, row, "alternative", knowledge, best, spread) for row in others)
    wished = (
        replace(
            telling.option(weighed, requested, "requested", knowledge, best, spread),
            closest_because="; ".join((*weighed.closest.differs, *weighed.closest.chosen)),
        )
        if requested is not None and weighed.closest is not None
        else None
    )
    provisional = verdict == NOT_ENOUGH
    return Consultation(
        verdict=verdict,
        verdict_words=_verdict_words(verdict, now, recommended, told.next_steps),
        understood=understood,
        request_fixes=request.fixes,
        request_leaves_open=request.leaves_open,
        request_doubts=request.doubts,
        facts=last.facts.facts,
        firings=firings,
        conflicts=(*first.conflicts, *second.conflicts, *weighed.conflicts, *last.conflicts),
        questions=open_questions(
            Asking(said, last.facts, understood, firings, now, weighed, best), knowledge
        ),
        figures=(*telling.taken_figures(now, vocabulary), *_demand_figures(demanded, vocabulary)),
        recommended=None if provisional else recommended,
        alternatives=() if provisional else shown,
        requested=wished,
        requested_words=_requested_words(compared, recommended, wished, provisional),
        kept=tuple(
            (weighed.candidates.codes[i], weighed.candidates.combinations[i].words, float(weighed.points[i]))
            for i in order
        ),
        ruled_out=telling.ruled_out(weighed, knowledge),
        trade=() if provisional else tradeoff,
        trade_words="" if provisional else _trade_words(tradeoff, last.facts),
        advice=tuple(told.advice),
        say=tuple(told.say),
        cautions=tuple(told.cautions),
        parts=()
        if provisional or best is None
        else telling.parts_of(weighed, best, told.parts, last.facts, knowledge),
        next_steps=tuple(told.next_steps),
        rests_on=tuple(
            telling.assumption_sentence(taken, vocabulary) for taken in now.taken if taken.basis == "assumed"
        ),
        separated=_separated(weighed, spread)
        if best is not None and spread is not None and not provisional
        else "",
        fired_by=agenda.describe(),
        knowledge_digest=knowledge.digest,
        candidate_facts=weighed.facts,
        requested_is=compared,
    )


RECOMMENDED, NOTHING_FITS, NOT_ENOUGH, DIAGNOSED = (
    "recommended",
    "nothing fits",
    "not enough known",
    "diagnosed",
)
MATCH_VERDICT = Origin("computed", "the requested part beside the best one", None, "the match")


def _understood(answers: Sequence[Answer], knowledge: Knowledge) -> tuple[Understood, ...]:
    last: dict[str, Answer] = {}
    for answer in answers:
        if answer.fact not in knowledge.vocabulary:
            raise ValueError(f"nothing called {answer.fact!r} is in the fact vocabulary")
        last.pop(answer.fact, None)
        last[answer.fact] = answer
    return tuple(_heard(knowledge, answer.fact, answer.words) for answer in last.values())


@lru_cache(maxsize=4096)
def _heard(knowledge: Knowledge, fact: str, words: str) -> Understood:
    return understand(knowledge.vocabulary[fact], words)


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


def _verdict_words(verdict: str, now: Situation, best: Option | None, steps: Sequence[object]) -> str:
    if verdict == NOT_ENOUGH:
        return f"Not enough is known to advise: find out {_listed(now.missing)} first."
    if verdict == NOTHING_FITS:
        return "Nothing in the catalogue does this job within its limits; see what ruled each one out."
    if verdict == DIAGNOSED and (best is None or now.missing):
        return "A complaint: what follows is the diagnosis; no turbo is proposed before the checks are done."
    assert best is not None
    if verdict == DIAGNOSED:
        return f"A complaint: do the checks first; if the turbo turns out to be the fault, {best.title} ({best.code})."
    return f"Recommended: {best.title} ({best.code})."


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# ---------------------------------------------------------------------------------------------- engine demand


def _goal_duty(now: Situation) -> Duty:
    """The duty in which most power is asked for, asked for the whole goal."""
    hardest = max(now.duties, key=lambda duty: (float(duty.power), duty.name == now.main))
    return (
        hardest
        if hardest.name == "towing" and len(now.duties) == 1
        else replace(hardest, power=now.power_goal)
    )


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
    return tuple(
        Fact(name, Range(value, value), DEMANDED) for name, value in values.items() if np.isfinite(value)
    )


def _air_share(needs: Demand, asked: Asked, knowledge: Knowledge) -> float | None:
    """Choke flow of the wheel that was asked for, at the pressure ratio needed, over the air needed."""
    closest = nearest(knowledge.catalogue.candidates(), asked)
    if closest is None:
        return None
    return float(
        choke_share(knowledge, closest.indices[0], float(needs.corrected_air), float(needs.pressure_ratio))
    )


def _demand_figures(facts: Sequence[Fact], vocabulary: Mapping[str, FactDef]) -> tuple[Figure, ...]:
    made = []
    for fact in facts:
        definition = vocabulary.get(fact.name)
        if definition is not None and isinstance(fact.value, Range):
            made.append(
                Figure(fact.name, fact.value, definition.quantity, definition.unit, "computed",
                       DEMAND_ASSUMPTIONS.get(fact.name, ""), definition.why, fact.origin.reference)
            )  # fmt: skip
    return tuple(made)


DEMAND_ASSUMPTIONS = {
    "air flow needed": "the lambda that the hardest duty is planned for, and humidity ignored",
    "boost needed": "compressor efficiency 0.74 until a turbo is chosen",
    "pressure ratio needed": "losses of filter and charge-air cooler as for their kind",
    "compressor outlet temperature": "compressor efficiency 0.74 until a turbo is chosen",
    "charge temperature": "effectiveness of the intercooler as for its kind",
    "fuel power": "the usual gain for each modification of the fuel system",
    "peak pressure index": "usual injection timing; it orders set-ups and is no measurement",
}

# ------------------------------------------------------------------------------------------ options and words


def _separated(weighed: Weighed, spread: Uncertain) -> str:
    """What to say when the uncertainty of the figures cannot tell the first turbo from the next ones."""
    first = weighed.turbo(spread.rows[0])
    level = [
        weighed.turbo(row)
        for row, sure in zip(spread.rows, spread.confidence, strict=True)
        if weighed.kept[row] and sure < SURE and weighed.turbo(row) != first
    ]
    if not level:
        return ""
    names = _listed(tuple(dict.fromkeys(level)))
    return (
        f"The figures are not sure enough to tell {first} from {names}; price, delivery and taste may decide."
    )


def _alternatives(weighed: Weighed, order: Sequence[int]) -> tuple[int, ...]:
    """Up to two other set-ups worth putting to him: one that lights sooner, one that breathes more freely."""
    if len(order) < 2:
        return ()
    best = order[0]
    others = [index for index in order[1:] if weighed.turbo(index) != weighed.turbo(best)]
    spool, power = weighed.columns["spool rpm"], weighed.columns["power made"]
    heat = weighed.columns["exhaust temperature"]
    picks: list[int] = []
    sooner = [i for i in others if spool[i] < spool[best] - SOONER]
    freer = [i for i in others if power[i] > power[best] + MORE_POWER or heat[i] < heat[best] - COOLER]
    for pool in (sooner, freer, others, order[1:]):
        fresh = [
            i for i in pool if i not in picks and weighed.turbo(i) not in {weighed.turbo(p) for p in picks}
        ]
        if fresh and len(picks) < 2:
            picks.append(fresh[0])
    return tuple(picks)


SOONER = 100.0 * np.pi / 30.0
MORE_POWER = 11_000.0
COOLER = 20.0


def _trade(weighed: Weighed, now: Situation, best: int, knowledge: Knowledge) -> tuple[DutyTrade, ...]:
    """For each of several duties, the set-up that serves it alone, beside the compromise."""
    if len(now.duties) < 2:
        return ()
    whole = sum(duty.weight for duty in now.duties)
    trades = []
    for duty in now.duties:
        if duty.name not in now.stated_duties:
            continue
        order = weighed.order_for(weighed.ranking.by_duty[duty.name] - weighed.penalties)
        if not order:
            continue
        option = telling.option(weighed, order[0], "alternative", knowledge, best)
        trades.append(DutyTrade(duty.name, duty.weight / whole, option, option.gains, option.loses))
    return tuple(trades) if len(trades) > 1 else ()


def _trade_words(trades: Sequence[DutyTrade], facts: FactBase) -> str:
    if not trades:
        return ""
    codes = {trade.option.code for trade in trades}
    enough = facts.value("one set-up enough")
    if enough is False:
        return "One set-up won't do all of that well. Say so plainly: either choose the duty that matters, or run two."
    if len(codes) == 1:
        return "His duties want the same set-up; nothing is given away."
    return "No one turbo is best at all of it; this is what a set-up for one duty alone would gain and lose."


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


def _requested_words(
    verdict: str, best: Option | None, wished: Option | None, provisional: bool
) -> tuple[str, ...]:
    """Three lines about the part he asked for that can be said aloud; if it is right, that comes first."""
    if wished is None or best is None or provisional:
        return ()
    made = {figure.name: figure.text for figure in wished.figures}
    does = "It would make about {} at {} of boost, and light at about {}.".format(
        *(made.get(name, "an unknown figure") for name in ("power made", "boost made", "spool rpm"))
    )
    if verdict == "right":
        return (
            "You picked well: that one is right for your engine.",
            does,
            "I'd go with it in this housing: " + best.title + ".",
        )
    pros = f"What speaks for it: it {_and(wished.gains)}." if wished.gains else ""
    cons = f"What it would cost you beside the one I'd fit: it {_and(wished.loses)}." if wished.loses else ""
    opening = {
        "close": "That one is close, and I can see why you'd want it.",
        "too big": "That's a fine turbo on an engine that can feed it.",
        "too small": "That one lights early, which is why people like it.",
        "does not bolt on": "That one won't bolt to what you have without changing the manifold side.",
    }.get(verdict, "Let me show you what that one would do on your engine.")
    return tuple(
        line
        for line in (
            f"{opening} {does}",
            pros,
            cons or "Beside the one I'd fit there is little between them.",
        )
        if line
    )


def _and(words: Sequence[str]) -> str:
    shown = list(words[:3])
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
