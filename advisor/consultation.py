"""A call is its answers; everything else is recomputed from them, here and in this order.

answers -> facts -> rules (understand) -> engine demand -> rules (demand) -> candidates matched, judged, ranked
-> rules (advise) -> what is said, and the next question. A pure function: no input or output, no clock, no
randomness that isn't seeded.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from advisor import telling, units
from advisor.comparing import Swings, steady
from advisor.course import Course, cheaper, infer
from advisor.hanging import hanging
from advisor.his_questions import his_questions
from advisor.his_units import his_units, in_his_units, speaking
from advisor.inference.agenda import Agenda
from advisor.inference.engines import agenda as find_agenda
from advisor.inference.facts import Fact, FactBase
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.places import in_a_row
from advisor.knowledge.rules import Penalise
from advisor.matched import power_with_fuel
from advisor.matching.inputs import Array, Bools
from advisor.matching.rank import SURE
from advisor.outcome import (
    DIAGNOSED,
    IN_SERIES,
    NOT_ENOUGH,
    NOTHING_FITS,
    Answer,
    Consultation,
    DutyTrade,
    Figure,
    OpenQuestion,
    Option,
    PartLine,
)
from advisor.outspoken import lists_parts, outspoken
from advisor.pairs import Paired, best_pair
from advisor.questions import still_open
from advisor.requested import GAINS_BY_FUEL, SHORT, Beside, price_line, requested_lines, wanted
from advisor.situation import Situation
from advisor.spans import Spans, banded, spans
from advisor.swings import comes_first, minding_of, swings_of
from advisor.units import Range
from advisor.weighing import NOTHING, Uncertain, Weighed

# How many of the first places are held against each other under uncertainty.
CONTENDERS = 5
# What an open question settles, so that its answer may change the turbo.
MOVING = ("essential", "first", "choice")


@np.errstate(over="ignore", invalid="ignore", divide="ignore")  # a doubted figure past all sense: no balance is found
def consult(
    answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda | None = None, bands: bool = True
) -> Consultation:
    """Everything that follows from the answers; of several answers to one fact the last one counts.

    Without ``bands`` the figures of the candidates come without their bands, nobody looks whether the first ones can
    be told apart, and no pair is matched: enough while questions are asked, and quicker. Raises ValueError for an
    answer to a fact that the vocabulary does not know.
    """
    agenda = agenda or find_agenda()
    course = infer(answers, knowledge, agenda)
    now, weighed, best, last, firings = course.now, course.weighed, course.best, course.last, course.firings
    request, verdict, compared = course.request, course.verdict, course.compared
    order, requested = weighed.order, weighed.requested
    provisional = course.provisional
    speaking_up = outspoken(course, knowledge)
    stays = _stays(weighed, best, knowledge)
    others = _alternatives(weighed, order, last.facts, stays)
    rows = [row for row in dict.fromkeys((*order[:1], *others, requested, *order[1:CONTENDERS])) if row is not None]
    shown_rows = [row for row in dict.fromkeys((*order[:1], *others, requested)) if row is not None]
    found = spans(course, shown_rows, knowledge) if bands and not provisional else None
    spread = banded(found, now, weighed, rows, knowledge) if rows and bands else None
    fuelled = None if now.missing or not bands else power_with_fuel(now, knowledge)
    left = still_open(course, knowledge)
    instead = his_units(course.understood, knowledge.vocabulary)
    shops, knowledge = knowledge, speaking(knowledge, instead)  # from here on all is told
    vocabulary = knowledge.vocabulary
    hangs = None if found is None else hanging(speaking_up, course, found, knowledge)
    told = telling.words_of(speaking_up, knowledge, last.facts, best) if hangs is None else hangs.words

    def over(row: int | None) -> Swings:
        among = found is not None and best is not None and row in found.rows and best in found.rows
        return swings_of(found, row, best, knowledge) if among else steady  # type: ignore[arg-type]

    def option(row: int, role: str) -> Option:
        minding = None if found is None else minding_of(found, row, now, knowledge)
        made = telling.option(weighed, row, role, now, knowledge, best, spread, fuelled, over(row), minding)
        if hangs is None or found is None:
            return made
        made = hangs.of(made, row, found)
        return replace(made, hangs=(*made.hangs, *comes_first(found, row, knowledge)))

    tradeoff = _trade(weighed, now, best, knowledge, over) if best is not None else ()
    recommended = None if best is None else option(best, "recommended")
    marred = any(firing.takes_from(best) and knowledge.rule(firing.rule).place.file == DUTIES for firing in firings)
    unchecked = course.unchecked
    pair = None if now.missing or not bands or unchecked else _pair(now, weighed, last.facts, knowledge)
    shown = tuple(
        replace(option(row, "alternative"), closest_because=_eased(stays, order[0], row)) for row in others
    )
    wished = (
        replace(
            option(requested, "requested"),
            closest_because="; ".join((*weighed.closest.differs, *weighed.closest.chosen)),
            not_as_asked=weighed.closest.differs,
        )
        if requested is not None and weighed.closest is not None and not provisional
        else None
    )
    beside = None if requested is None else Beside(weighed, now, requested, best, compared, fuelled, over(requested))
    told_of_his = beside is not None and not provisional
    insists = last.facts.value("request answer") == "insists"
    about_his = requested_lines(beside, knowledge, insists) if beside is not None and told_of_his else ()
    its_price = price_line(beside) if beside is not None and told_of_his else ""
    short = _there_is(now, weighed) if best is None else _short_of(now, weighed, best, fuelled)
    outcome = Consultation(
        verdict=verdict,
        verdict_words=_verdict_words(
            verdict, now, None if provisional else recommended, short, course.diagnosing, weighed.lacks
        ),
        understood=course.understood,
        request_fixes=request.fixes,
        request_leaves_open=() if course.opening.said.value("request") is None else request.leaves_open,
        request_doubts=request.doubts,
        facts=last.facts.facts,
        firings=firings,
        conflicts=course.conflicts,
        questions=left.questions,
        stands=left.stands,
        figures=(*telling.taken_figures(now, vocabulary), *_demand_figures(course.opening.demanded, vocabulary, found)),
        recommended=None if provisional else recommended,
        alternatives=() if provisional else shown,
        two_stage=None if pair is None else telling.pair_option(pair, weighed, now, knowledge, best),
        requested=wished,
        requested_words=about_his,
        kept=tuple(
            (weighed.candidates.codes[i], weighed.candidates.words[i], float(weighed.points[i]))
            for i in order
        ),
        ruled_out=telling.ruled_out(weighed, knowledge),
        trade=() if provisional else tradeoff,
        trade_words="" if provisional else _trade_words(tradeoff, last.facts, marred),
        advice=tuple(told.advice),
        say=tuple(told.say),
        cautions=tuple(told.cautions),
        parts=()
        if best is None or not lists_parts(course)
        else _parts(weighed, best, told, last.facts, knowledge, unchecked),
        next_steps=tuple(told.next_steps),
        rests_on=telling.resting_on(
            now,
            course.understood,
            knowledge,
            advised=not provisional,
            moving={question.fact for question in left.questions if question.settles in MOVING},
        ),
        separated=_separated(weighed, spread) if best is not None and spread is not None and not provisional else "",
        fired_by=agenda.describe(),
        knowledge_digest=knowledge.digest,
        candidate_facts=weighed.facts,
        requested_is=compared,
        depends={} if hangs is None else hangs.depends,
        unsettled=() if hangs is None else hangs.unsettled,
        slighter=() if hangs is None else hangs.slighter,
        asked=his_questions(course.understood, told.say, knowledge, wanted(course.opening.said), about_his, its_price),
    )
    return in_his_units(outcome, instead, shops.vocabulary)


def questions_of(course: Course, knowledge: Knowledge) -> tuple[OpenQuestion, ...]:
    """What is still worth asking after the stages of a call."""
    return still_open(course, knowledge).questions


LACKING = {
    "a smaller turbo": "Nothing is offered: the shop has no turbo small enough for this engine. Every one here has its "
    "boost too late on it, or never.",
    "as much power": "Nothing is offered: within its limits no turbo here makes what this engine makes today.",
    "a wheel for the class": "Nothing is offered: the shop has no wheel in his class that comes near the goal.",
}


def _verdict_words(verdict: str, now: Situation, best: Option | None, short: str, diagnosing: bool, lacks: str) -> str:
    if verdict == NOT_ENOUGH:
        return f"Not enough is known to advise: find out {in_a_row(now.missing)} first."
    if verdict == NOTHING_FITS:
        nothing = "Nothing in the catalogue does this job within its limits; see what ruled each one out."
        return f"{LACKING.get(lacks, nothing)}{short}"
    if verdict == DIAGNOSED and best is None and not diagnosing:
        lacking = f"find out {in_a_row(now.missing)} first" if now.missing else "nothing here fits within its limits"
        return f"A complaint: what follows is the diagnosis. For a turbo worked out beside it: {lacking}."
    if verdict == DIAGNOSED and best is None:
        return "A complaint: what follows is the diagnosis; no turbo is proposed before the checks are done."
    assert best is not None
    if verdict == DIAGNOSED:
        return f"A complaint: do the checks first; if the turbo turns out to be the fault, {best.title} ({best.code})."
    return f"Recommended: {best.title} ({best.code}){short}.{_until_fuelled(now, best)}"


def _until_fuelled(now: Situation, best: Option) -> str:
    """What it makes until the fuel for the goal is there, where what he told of his fuel system is well short of it and
    holds this one back."""
    if now.fuel_limited or not now.fuel_told or float(now.fuel_power) >= SHORT * float(now.power_goal):
        return ""
    made = next((figure.value for figure in best.figures if figure.name == "power made"), None)
    if made is not None and float(now.fuel_power) >= made.mid:
        return ""
    feeds = units.show_computed(float(now.fuel_power), "hp", "power")
    return f" That is with fuel for the goal: the fuel he told of makes about {feeds} at the crank with any turbo."


def _there_is(now: Situation, weighed: Weighed) -> str:
    """What there is where nothing is offered because all that the class allows stays far short of the goal."""
    row = weighed.strongest_in_class
    if row is None:
        return ""
    powers = float(weighed.columns["power made"][row]), float(now.power_goal)
    made = " of ".join(units.show(power, "hp", "power", 0) for power in powers)
    named = f"{weighed.candidates.words[row]} ({weighed.candidates.codes[row]})"
    return f" The most that there is makes {made} at the crank: {named}."


DUTIES = "duty.yaml"
"""Whose rules say what a turbo is short of in one of his duties."""
ALL_BUT = 0.97


def _short_of(now: Situation, weighed: Weighed, best: int, fuelled: Array | None) -> str:
    """What the first line adds where the goal is missed: by how much, and what holds it back."""
    made, goal = float(weighed.columns["power made"][best]), float(now.power_goal)
    if made >= SHORT * goal:
        return ""
    most = float(np.nanmax(weighed.columns["power made"][weighed.kept]))
    hp = [units.show(value, "hp", "power", 0) for value in (made, goal)]
    cause = "others here make more, at a cost elsewhere"
    if fuelled is not None and fuelled[best] > GAINS_BY_FUEL * made:
        more = units.show_computed(float(fuelled[best]), "hp", "power")
        cause = f"the fuel as it is feeds no more (with fuel for the goal it would make about {more})"
        if float(fuelled[best]) < SHORT * goal:
            cause = f"the fuel as it is feeds no more, and with fuel for the goal it would still make only about {more}"
    elif fuelled is None and now.fuel_limited and float(now.fuel_power) < goal:
        cause = "the fuel as it is feeds no more"
    elif made >= ALL_BUT * most:
        cause = "no single turbo here makes more within its limits"
    return f", but it falls short of the goal: {hp[0]} of {hp[1]} at the crank; {cause}"


# ---------------------------------------------------------------------------------------------- engine demand


def _demand_figures(
    facts: Sequence[Fact], vocabulary: Mapping[str, FactDef], found: Spans | None
) -> tuple[Figure, ...]:
    made = []
    for fact in facts:
        definition = vocabulary.get(fact.name)
        if definition is not None and isinstance(fact.value, Range):
            made.append(
                Figure(fact.name, fact.value, definition.quantity, definition.unit, "computed",
                       DEMAND_ASSUMPTIONS.get(fact.name, ""), definition.why, fact.origin.reference,
                       over=None if found is None else found.over_all(fact.name))
            )  # fmt: skip
    return tuple(made)


DEMAND_ASSUMPTIONS = {
    "air flow needed": "the lambda that the hardest duty is planned for, and humidity ignored",
    "boost needed": "compressor efficiency 0.74 until a turbo is chosen",
    "pressure ratio needed": "losses of filter and charge-air cooler as for their kind",
    "goal outlet temperature": "compressor efficiency 0.74 until a turbo is chosen",
    "goal charge temperature": "effectiveness of the intercooler as for its kind",
    "fuel power": "the usual gain for each modification of the fuel system",
    "peak pressure index": "usual injection timing; it orders set-ups and is no measurement",
}

# ------------------------------------------------------------------------------------------ options and words


def _parts(
    weighed: Weighed, best: int, told: telling.Words, facts: FactBase, knowledge: Knowledge, unchecked: bool
) -> tuple[PartLine, ...]:
    checks = {step.rule for step in told.next_steps if step.stage == "understand"}
    return telling.parts_of(weighed, best, told.parts, facts, knowledge, checks if unchecked else None)


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
    names = in_a_row(tuple(dict.fromkeys(level)))
    his = "" if weighed.requested is None else weighed.turbo(weighed.requested)
    told = f"The figures are not sure enough to tell {first} from {names}; price, delivery and taste may decide."
    return f"{told} What he asked for, {his}, is as good as far as anyone can tell." if his in level else told


# Class rules under which a pair would be turned away: one turbo, or one inducer that all the air passes.
ONE_TURBO = ("single turbo only", "inducer limit")


def _pair(now: Situation, weighed: Weighed, facts: FactBase, knowledge: Knowledge) -> Paired | None:
    """Two in series where the rules advise it and no class rule forbids it."""
    if facts.value(IN_SERIES) is not True or facts.value("class rule") in ONE_TURBO:
        return None
    if weighed.lacks != NOTHING:
        return None
    air, ratio = facts.value("corrected air flow"), facts.value("pressure ratio needed")
    if not isinstance(air, Range) or not isinstance(ratio, Range):
        return None
    return best_pair(now, weighed, air.mid, ratio.mid, knowledge, facts.value("cooler between stages") is True)


def _money_matters(weighed: Weighed, best: int, facts: FactBase) -> bool:
    """Whether he should be shown a cheaper one: he said so, or the best one is over his budget."""
    objections, budget = facts.value("objection"), facts.value("budget")
    if isinstance(objections, frozenset) and "price" in objections:
        return True
    return isinstance(budget, Range) and bool(weighed.fitted_price[best] > budget.high)


def _cheaper(weighed: Weighed, best: int, others: Sequence[int], facts: FactBase) -> list[int]:
    """Those that cost noticeably less with fitting, the ones within his budget first."""
    price, budget, less = weighed.fitted_price, facts.value("budget"), cheaper(weighed, best)
    most = budget.high if isinstance(budget, Range) else 0.0
    return sorted((row for row in others if less[row]), key=lambda row: bool(price[row] > most))


def _saving(weighed: Weighed, best: int, others: Sequence[int]) -> list[int]:
    """Those that are as good as the best one for much less with fitting."""
    price, points = weighed.fitted_price, weighed.points
    return [i for i in others if points[i] >= points[best] - AS_GOOD and price[i] < price[best] - MUCH_CHEAPER]


TROUBLE = "trouble to cure includes "


def _stays(weighed: Weighed, best: int | None, knowledge: Knowledge) -> Mapping[str, Bools]:
    """What bothers the caller today, and which candidates (N,) a rule marks down because it would stay with them; of
    heat also what is noticeably less of it than with the best one counts as eased."""
    stays: dict[str, Bools] = {}
    for firing in weighed.firings:
        kinds = [leaf.text.removeprefix(TROUBLE) for leaf in firing.leaves if leaf.text.startswith(TROUBLE)]
        if kinds and any(isinstance(action, Penalise) for action in knowledge.rule(firing.rule).then):
            mask = firing.among(len(weighed.candidates))
            for kind in kinds:
                stays[kind] = stays.get(kind, np.zeros_like(mask)) | mask
    if "heat" in stays and best is not None and stays["heat"][best]:
        stays["heat"] = stays["heat"] & ~weighed.cooler_on_the_grade(best)
    return stays


def _eased(stays: Mapping[str, Bools], best: int, row: int) -> str:
    """What of the caller's trouble a candidate eases and the best one leaves, in words; "" for nothing."""
    eased = [kind for kind, mask in stays.items() if mask[best] and not mask[row]]
    if not eased or any(mask[row] and not mask[best] for mask in stays.values()):
        return ""
    also = " as well" if any(not mask[best] for mask in stays.values()) else ""
    return f"does more against the {' and the '.join(eased)}{also}, at the cost of what stands below"


def _alternatives(
    weighed: Weighed, order: Sequence[int], facts: FactBase, stays: Mapping[str, Bools]
) -> tuple[int, ...]:
    """Up to two other set-ups worth putting to him: one that cures what bothers him and the best leaves, one that
    lights sooner, one that breathes more freely; early a cheaper one where money matters, and before all others one
    that is as good for much less where he named a budget."""
    if len(order) < 2:
        return ()
    best, *further = order
    further = [index for index in further if weighed.beside(best)[index]]
    others = [index for index in further if weighed.turbo(index) != weighed.turbo(best)]
    spool, power = weighed.columns["spool rpm"], weighed.columns["power made"]
    heat = weighed.columns["exhaust temperature"]
    picks: list[int] = []
    sooner = [i for i in others if spool[i] < spool[best] - SOONER]
    freer = [i for i in others if power[i] > power[best] + MORE_POWER or heat[i] < heat[best] - COOLER]
    costs_less = _cheaper(weighed, best, others, facts) if _money_matters(weighed, best, facts) else []
    curing = [i for i in others if _eased(stays, best, i)]
    saving = _saving(weighed, best, others) if isinstance(facts.value("budget"), Range) else []
    for pool in (saving, curing, costs_less, sooner, freer, others, further):
        fresh = [i for i in pool if i not in picks and weighed.turbo(i) not in {weighed.turbo(p) for p in picks}]
        if fresh and len(picks) < 2:
            picks.append(fresh[0])
    return tuple(picks)


MUCH_CHEAPER, AS_GOOD = 300.0, 2.0
"""Money and points of 100 by which another is as good for much less (common practice, no source)."""
SOONER = 100.0 * np.pi / 30.0
MORE_POWER = 11_000.0
COOLER = 20.0


def _trade(
    weighed: Weighed, now: Situation, best: int, knowledge: Knowledge, over: Callable[[int], Swings]
) -> tuple[DutyTrade, ...]:
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
        option = telling.option(weighed, order[0], "alternative", now, knowledge, best, swings=over(order[0]))
        trades.append(DutyTrade(duty.name, duty.weight / whole, option, option.gains, option.loses))
    return tuple(trades) if len(trades) > 1 else ()


def _trade_words(trades: Sequence[DutyTrade], facts: FactBase, marred: bool) -> str:
    if not trades:
        return ""
    codes = {trade.option.code for trade in trades}
    enough = facts.value("one set-up enough")
    if enough is False:
        same = ", though of what there is the same one comes first for each" if len(codes) == 1 else ""
        way = "Say so plainly: either choose the duty that matters, or run two."
        return f"One set-up won't do all of that well{same}. {way}"
    if len(codes) == 1 and marred:
        return "Of what there is the same one comes first for each of his duties."
    if len(codes) == 1:
        return "His duties want the same set-up; nothing is given away."
    return "No one turbo is best at all of it; this is what a set-up for one duty alone would gain and lose."
