"""The stages of a call, in their order: what `consultation` puts into words, and the desk runs anew in part.

answers -> facts -> rules (understand) -> engine demand -> rules (demand) -> candidates matched, judged, ranked
-> rules (advise).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from advisor.at_odds import questioned
from advisor.hearing import understand
from advisor.hearing.chosen import plainly
from advisor.hearing.request import Request, decode
from advisor.inference.agenda import Agenda, Conflict, Firing
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.inference.stage import StageResult, run_stage
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.closest import Asked, nearest
from advisor.knowledge.rules import STAGES, Stage
from advisor.matched import choke_share
from advisor.matching.air import pipe_flow
from advisor.matching.engine import asked_by
from advisor.matching.inputs import Array, Bools, Duty, Number
from advisor.on_it import named, on_it
from advisor.outcome import DIAGNOSED, NOT_ENOUGH, NOTHING_FITS, RECOMMENDED, Answer, Understood
from advisor.requested import asked_of, wanted, words_of
from advisor.shares import completed
from advisor.situation import Situation, bears_on_situation, situation
from advisor.units import Range
from advisor.weighing import NOTHING, Before, Weighed, weigh

DEMANDED = Origin("computed", "engine demand", None, "mean-value engine model; see DEVELOPERS.md, models")
# Shares of the catalogue's points below which two set-ups count as equally good (common practice, no source).
CLOSE_POINTS = 5.0
CHEAPER = 150.0
"""Money by which another costs noticeably less (common practice, no source)."""
REACHED = 0.9
"""Share of the power goal from which on it counts as reached (common practice, no source)."""
IN_QUESTION = "turbo in question"
"""Set by rules once a complaint has come so far that another turbo is chosen."""
HEARD_OF_TROUBLE = Origin("computed", "heard in what bothers him today")
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

    @property
    def firings(self) -> tuple[Firing, ...]:
        """The rules that fired so far, by stage and name."""
        return (*self.first.firings, *self.second.firings)


@dataclass(frozen=True, eq=False, slots=True)
class Course:
    """What the stages of a call came to, in their order, before anything of it is put into words.

    ``best`` is the row of the first candidate that was kept, None without one; ``compared`` how the requested part does
    beside it; ``about`` what the last stage was asked of.
    """

    opening: Opening
    weighed: Weighed
    best: int | None
    verdict: str
    compared: str
    about: FactBase
    last: StageResult
    firings: tuple[Firing, ...]

    @property
    def understood(self) -> tuple[Understood, ...]:
        """What was made of the answers."""
        return self.opening.understood

    @property
    def provisional(self) -> bool:
        """Whether too little is known to recommend a turbo, though one is ahead."""
        lacking = bool(self.now.missing or self.best is None or self.diagnosing)
        return self.verdict == NOT_ENOUGH or (self.verdict == DIAGNOSED and lacking)

    @property
    def diagnosing(self) -> bool:
        """Whether a complaint's cause is looked for, and no turbo is chosen yet."""
        return self.verdict == DIAGNOSED and self.opening.second.facts.value(IN_QUESTION) is not True

    @property
    def advised(self) -> int | None:
        """The row of the candidate that is recommended, None without one."""
        return None if self.provisional else self.best

    @property
    def unchecked(self) -> bool:
        """Whether it is a complaint whose checks aren't done yet."""
        done = self.last.facts.value("boost leak checked") is True
        return self.diagnosing or (self.verdict == DIAGNOSED and not done)

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


Reached = Opening | Course
"""A call taken up to the match, or through it."""


def open_call(answers: Sequence[Answer], knowledge: Knowledge, agenda: Agenda) -> Opening:
    """The stages before the match. Raises ValueError for an answer to a fact that the vocabulary does not know."""
    understood = _understood(answers, knowledge)
    said = FactBase().with_facts(u.fact for u in understood if u.fact is not None)
    said = said.with_facts([*_trouble(said, knowledge), *named(said)])
    request = decode(wanted(said))
    first = run_stage("understand", knowledge, completed(said, knowledge.vocabulary), agenda)
    before = situation(first.facts, knowledge.vocabulary)
    demanded = _demand_facts(before, first.facts, asked_of(request), knowledge)
    second = run_stage("demand", knowledge, first.facts.with_facts(demanded), agenda)
    moved = any(
        first.facts.get(name) is not second.facts.get(name)
        for name, definition in knowledge.vocabulary.items()
        if bears_on_situation(definition)
    )
    now = situation(second.facts, knowledge.vocabulary) if moved else before
    return Opening(understood, request, said, first, demanded, second, now)


def open_anew(opening: Opening, knowledge: Knowledge, agenda: Agenda) -> Opening:
    """The opening of the same answers under knowledge that differs in its stage ``demand`` alone."""
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
        opening = open_anew(opening, knowledge, agenda)
    return conclude(opening, knowledge, agenda, known.weighed if known is not None and at > 2 else None)


def conclude(
    opening: Opening,
    knowledge: Knowledge,
    agenda: Agenda,
    weighed: Weighed | None = None,
    known: Course | None = None,
    edited: frozenset[str] = frozenset(),
) -> Course:
    """The stages after the opening; with candidates that are weighed already only the last one. With the same opening
    concluded already (``known``), by knowledge whose rules differ in those ``edited``, only what can be another."""
    now, first, second = opening.now, opening.first, opening.second
    if weighed is None:
        before = None if known is None else Before(known.weighed, edited)
        weighed = weigh(now, second.facts, asked_of(opening.request), knowledge, agenda, before)
    order = weighed.order
    best = order[0] if order else None
    compared = _request_verdict(now, weighed, best, weighed.requested)
    without = FactBase(dict(weighed.facts.facts), disputed=weighed.facts.disputed)
    about = without if best is None else weighed.facts.at(best)
    at_last = [Fact("request verdict", compared, MATCH_VERDICT), *_against_the_goal(now, weighed, best)]
    about = about.with_facts([*at_last, *_today(second.facts, now), *on_it(second.facts, now, weighed, knowledge)])
    last = None if known is None else _last_again(known, about, edited, knowledge)
    if last is None:
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
        about=about,
        last=last,
        firings=firings,
    )


def _last_again(
    known: Course, about: FactBase, edited: frozenset[str], knowledge: Knowledge
) -> StageResult | None:
    """The last stage of the known course, where it was asked of the same and no rule of it is edited."""
    if about.facts != known.about.facts or about.disputed != known.about.disputed:
        return None
    spoken = {firing.rule for firing in known.last.firings}
    own = {rule.name for layer in knowledge.layers("advise") for rule in layer}
    return None if edited & (spoken | own) else known.last


def _understood(answers: Sequence[Answer], knowledge: Knowledge) -> tuple[Understood, ...]:
    last: dict[str, Answer] = {}
    for answer in answers:
        if answer.fact not in knowledge.vocabulary:
            raise ValueError(f"nothing called {answer.fact!r} is in the fact vocabulary")
        last.pop(answer.fact, None)
        last[answer.fact] = answer
    heard = [heard_as(knowledge.vocabulary[answer.fact], answer.words) for answer in last.values()]
    return questioned(heard, knowledge.vocabulary)


def _trouble(said: FactBase, knowledge: Knowledge) -> list[Fact]:
    """What kinds of trouble the caller tells of: as his complaint, or in his own words by the words for complaints."""
    kinds, told = knowledge.vocabulary.get("complaint"), words_of(said, "today's trouble")
    if kinds is None or "trouble to cure" not in knowledge.vocabulary:
        return []
    heard = heard_as(kinds, told).fact if told else None
    own = heard.value & plainly(kinds, told) if heard and isinstance(heard.value, frozenset) else frozenset()
    complaint = said.value("complaint")
    troubles = own | complaint if isinstance(complaint, frozenset) else own
    return [Fact("trouble to cure", troubles, HEARD_OF_TROUBLE)] if troubles else []


@lru_cache(maxsize=4096)
def heard_as(definition: FactDef, words: str) -> Understood:
    """What `understand` makes of an answer; of one given before, what it made of it then."""
    return understand(definition, words)


def _verdict(now: Situation, facts: FactBase, best: int | None) -> str:
    if facts.value("call kind") == "complaint":
        return DIAGNOSED
    if now.missing:
        return NOT_ENOUGH
    return NOTHING_FITS if best is None else RECOMMENDED


def hardest_values(now: Situation, count: int) -> dict[str, Array]:
    """What the duty in which most power is asked for asks of the air side in each of ``count`` situations, (count,)
    each, were it asked for the whole goal; towing alone is asked for what the road takes."""

    def flat(value: Number) -> Array:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), (count, 1, 1))[:, 0, 0]

    duties = sorted(now.duties, key=lambda duty: duty.name != now.main)  # of two as hard the main one counts
    hardest = np.argmax([flat(duty.power) for duty in duties], axis=0)
    made: dict[str, Array] = {}
    for place in np.unique(hardest):
        duty = duties[place]
        if duty.name != "towing" or len(duties) > 1:
            duty = replace(duty, power=now.power_goal)
        for name, value in demand_values(now, duty).items():
            made[name] = np.where(hardest == place, flat(value), made.get(name, 0.0))
    return made


def _demand_facts(now: Situation, facts: FactBase, asked: Asked, knowledge: Knowledge) -> tuple[Fact, ...]:
    """What the power goal asks of the air side, as facts (SI). Where the caller gave a range, each figure is the range
    that follows from all the ends of what he gave."""
    cases = [hardest_values(now, 1)]
    if ends := _ends(now, facts, knowledge):
        over = situation(facts, knowledge.vocabulary, ends)
        cases.append(hardest_values(over, len(next(iter(ends.values())))))
    ranges = {
        name: (min(float(np.min(case[name])) for case in cases), max(float(np.max(case[name])) for case in cases))
        for name in cases[0]
    }
    share = _air_share(ranges["corrected air flow"], ranges["pressure ratio needed"], asked, knowledge)
    if share is not None:
        ranges["requested air flow share"] = share
    if asked.inducer is not None:
        ranges["requested inducer"] = (asked.inducer.low, asked.inducer.high)
    return tuple(Fact(name, Range(*span), DEMANDED) for name, span in ranges.items() if np.isfinite(span).all())


# Ranges of the caller whose ends are combined in every way; of further ones the ends are taken one at a time.
COMBINED = 4


def _ends(now: Situation, facts: FactBase, knowledge: Knowledge) -> dict[str, NDArray[np.float64]]:
    """The ends of the ranges that the caller gave, as drawn values (cases, 1, 1). What he was not sure of is no range
    of his: the middle of the usual one is taken, and said so."""
    spans = {
        taken.name: taken.value
        for taken in now.taken
        if taken.basis == "given" and isinstance(taken.value, Range) and not taken.value.exact
    }
    if not spans:
        return {}
    names = sorted(spans)
    if len(names) <= COMBINED:
        cases = list(product(*((spans[name].low, spans[name].high) for name in names)))
    else:
        middle = tuple(spans[name].mid for name in names)
        cases = [tuple(spans[name].low for name in names), tuple(spans[name].high for name in names)]
        for at, name in enumerate(names):
            cases += [(*middle[:at], end, *middle[at + 1 :]) for end in (spans[name].low, spans[name].high)]
    return {name: np.asarray([case[at] for case in cases]).reshape(-1, 1, 1) for at, name in enumerate(names)}


def demand_values(now: Situation, duty: Duty) -> dict[str, Number]:
    needs = asked_by(now.engine, now.place, now.plumbing, duty)
    ambient = now.place.pressure
    values: dict[str, Number] = {
        "ambient pressure": ambient,
        "air flow needed": needs.air,
        "fuel flow needed": needs.fuel,
        "fuel power": now.fuel_power,
        "parts fuel power": now.parts_power,
        "boost needed": needs.boost - ambient,
        "pressure ratio needed": needs.pressure_ratio,
        "goal outlet temperature": needs.compressor_outlet_temperature,
        "goal charge temperature": needs.charge_temperature,
        "manifold pressure needed": needs.boost,
        "peak pressure index": needs.peak_pressure,
        "brake mean pressure": needs.mean_pressure,
        "corrected air flow": needs.corrected_air,
        "crank goal": now.power_goal,
        "goal rpm": duty.goal_speed,
        "charge pipe speed": pipe_flow(needs.air, needs.boost, needs.charge_temperature, now.charge_pipe).velocity,
    }
    for each in now.duties:
        if each.name == "towing":
            values["towing road load"] = now.road_load
            values["towing rpm"] = each.goal_speed
    return values


def _air_share(
    air: tuple[float, float], ratio: tuple[float, float], asked: Asked, knowledge: Knowledge
) -> tuple[float, float] | None:
    """Choke flow of the wheel that was asked for, at the pressure ratio needed, over the air needed: (least, most)."""
    closest = nearest(knowledge.catalogue.candidates(), asked)
    if closest is None:
        return None
    shares = [choke_share(knowledge, closest.indices[0], flow, at) for flow, at in {*zip(air, ratio, strict=True)}]
    return min(shares), max(shares)


def _against_the_goal(now: Situation, weighed: Weighed, best: int | None) -> list[Fact]:
    """How much of the goal the best one makes, whether the one that was asked for may be sold for it, and when that
    one lights, where it does."""
    share = 0.0 if best is None else _goal_share(now, weighed, best)
    facts = [Fact("goal share", Range(share, share), MATCH_VERDICT)]
    facts.append(Fact("shop lacks", weighed.lacks if not now.missing else NOTHING, MATCH_VERDICT))
    if weighed.requested is not None:
        facts.append(Fact("request stands", bool(weighed.kept[weighed.requested]), MATCH_VERDICT))
        grooved = bool(weighed.candidates.facts["ported shroud"][weighed.requested])
        facts.append(Fact("requested groove", grooved, MATCH_VERDICT))
    lights = np.nan if weighed.requested is None else float(weighed.columns["spool rpm"][weighed.requested])
    if np.isfinite(lights):
        facts.append(Fact("requested spool rpm", Range(lights, lights), MATCH_VERDICT))
    if best is not None:
        facts.append(Fact("cheaper choice", bool(cheaper(weighed, best).any()), MATCH_VERDICT))
    if best is not None and "towing power" in weighed.columns:
        facts.append(Fact("cooler on the grade", bool(weighed.cooler_on_the_grade(best).any()), MATCH_VERDICT))
    return facts


def cheaper(weighed: Weighed, row: int) -> Bools:
    """Which other turbos (N,) may be put to him beside this one and cost noticeably less with the parts to fit them."""
    price, own = weighed.fitted_price, weighed.turbo(row)
    others = np.asarray([turbo != own for turbo in weighed.candidates.turbos])
    return np.asarray(weighed.beside(row) & others & (price < price[row] - CHEAPER))


def _today(facts: FactBase, now: Situation) -> list[Fact]:
    """What the engine makes today at the crank: as far as it is known, or its rating while the fuel is stock."""
    rated = facts.value("stock power") if facts.value("fuel stage") == "stock" else None
    power = now.power_today if now.power_today is not None else rated.mid if isinstance(rated, Range) else None
    return [] if power is None else [Fact("power today", Range(float(power), float(power)), MATCH_VERDICT)]


def _goal_share(now: Situation, weighed: Weighed, row: int) -> float:
    """Power made over the goal, both at the crank; nothing where no balance was found."""
    made = float(weighed.columns["power made"][row])
    return made / float(now.power_goal) if np.isfinite(made) else 0.0


def _request_verdict(now: Situation, weighed: Weighed, best: int | None, requested: int | None) -> str:
    """How the part that was asked for does beside the best one."""
    if requested is None or best is None:
        return "unknown"
    behind = float(weighed.points[best] - weighed.points[requested]) if weighed.kept[requested] else None
    share = max(_goal_share(now, weighed, row) for row in (best, requested))
    return beside_the_best(weighed, best, requested, behind, share)


def beside_the_best(weighed: Weighed, best: int, requested: int, behind: float | None, share: float) -> str:
    """How the requested part does that is so many points behind the best one (None: it is ruled out), where the better
    of the two makes that share of the goal."""
    if weighed.fits.facts["foot fit"][requested] == "none":
        return "does not bolt on"
    if behind is not None and weighed.turbo(requested) == weighed.turbo(best):
        return "right"
    if share < REACHED:
        return "short of the goal"
    if behind is not None and behind <= CLOSE_POINTS:
        return "close"
    inducer = weighed.candidates.facts["compressor inducer"]
    larger = inducer[requested] - inducer[best]
    return "too big" if larger > 5e-4 else "too small" if larger < -5e-4 else "close"
