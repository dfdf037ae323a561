"""The part that was asked for: why it is out of the question, or three lines about it that can be said aloud."""

from dataclasses import dataclass

import numpy as np

from advisor import units
from advisor.comparing import RPM, Swings, differences, steady
from advisor.hearing.request import Request
from advisor.inference.facts import FactBase
from advisor.knowledge import Knowledge
from advisor.knowledge.closest import Asked
from advisor.matching.inputs import Array, Bools
from advisor.situation import Situation
from advisor.weighing import Weighed
from advisor.wording import reasons_against


@dataclass(frozen=True, eq=False, slots=True)
class Beside:
    """The part that was asked for beside the best one: their rows, how it does, and the power of every row with fuel
    for the goal, where the caller's own fuel holds it back; how the differences are over his ranges."""

    weighed: Weighed
    now: Situation
    requested: int
    best: int | None
    verdict: str
    fuelled: Array | None
    swings: Swings = steady


def wanted(said: FactBase) -> str:
    """His words for the part he wants: who has a turbo replaced as it was wants the size that is on it."""
    again = said.value("call kind") == "replacement" and said.value("replacement wish") != "more power"
    return words_of(said, "request") or (words_of(said, "present size") if again else "")


def words_of(facts: FactBase, name: str) -> str:
    """The words of a fact that is text; none where nobody said any."""
    value = facts.value(name)
    return value if isinstance(value, str) else ""


def asked_of(request: Request) -> Asked:
    """What the part that was asked for fixes, as the catalogue is searched for it."""
    return Asked(
        inducer=request.inducer,
        turbine=request.turbine,
        housing_ratio=request.housing_ratio,
        entry=request.entry,
        foot=request.foot,
        gate=request.gate,
    )


OPENINGS = {
    "close": "That one is close, and I can see why you'd want it.",
    "too big": "That's a fine turbo on an engine that can feed it.",
    "short of the goal": "On the engine as it stands, neither that one nor the one I'd fit makes your goal.",
    "too small": "That one lights early, which is why people like it.",
    "does not bolt on": "That one won't bolt to what you have without changing the manifold side.",
}
SHORT_OF_IT = "Of what there is, that one is the best for your engine as it stands, but it doesn't make your goal."
RIGHT = "You picked well: that one is right for your engine."
NO_GOOD_FIT = "Of what there is, that one comes nearest, but I wouldn't call it a good fit for your engine."
NOT_THAT = "I can't offer you that one for this."
NONE_OF_IT = "I have none of that size that I can offer you for this."
SAME_SIZE = 3e-4
"""Difference in inducer [m] up to which two are told as one size (common practice, no source)."""
LATE = 300.0 * RPM
"""Engine speed [rad/s] past the one by which boost is wanted from which on a turbo is no good fit, as in the rules."""
SOONER = 100.0 * RPM
"""Engine speed [rad/s] by which a housing lets a turbo light noticeably sooner (common practice, no source)."""
SHORT = 0.9
"""Share of the power goal from which on it is told as reached (common practice, no source)."""
GAINS_BY_FUEL = 1.03
"""Power with more fuel over power without from which on the fuel holds it back."""
SPOKEN = 3
"""Differences that can be said in one breath."""


def requested_lines(beside: Beside, knowledge: Knowledge, insists: bool = False) -> tuple[str, ...]:
    """Three lines about the part he asked for that can be said aloud; if it is right, or out of the question, that
    comes first. A fourth says what it comes to where he insists and it may be sold."""
    weighed, best = beside.weighed, beside.best
    title = "" if best is None else weighed.candidates.combinations[best].words
    against = tuple(words for words, _ in reasons_against(weighed, beside.requested, knowledge))
    if against:
        last = f"What I'd fit instead is the {title}." if title else "I'd sooner tell you now than sell you that one."
        solved = np.isfinite(weighed.columns["power made"][beside.requested])
        second = against[1:2] or ((_does(beside),) if solved else ())
        none = NONE_OF_IT if not weighed.kept[_as_large(weighed, beside.requested)].any() else NOT_THAT
        return (f"{none} {against[0]}", *second, last)
    if best is None:
        return ()
    if beside.verdict == "right":
        short = float(weighed.columns["power made"][best]) < SHORT * float(beside.now.power_goal)
        return (
            SHORT_OF_IT if short else NO_GOOD_FIT if _ill_at_ease(beside, best) else RIGHT,
            _does(beside),
            f"I'd go with it in this housing: {title}.",
        )
    gains, loses = differences(weighed, beside.requested, best, beside.now, knowledge, SPOKEN, beside.swings)
    sooner = weighed.columns["spool rpm"][beside.requested] < weighed.columns["spool rpm"][best]
    early = sooner and not _late(beside, beside.requested)
    known = beside.verdict in OPENINGS and (early or beside.verdict != "too small")
    opening = OPENINGS[beside.verdict] if known else "Let me show you what that one would do on your engine."
    return (
        f"{opening} {_does(beside)}",
        f"What speaks for it: it {', and it '.join(gains)}." if gains else "For your use I see no gain from it.",
        f"What it would cost you beside the one I'd fit: it {', and it '.join(loses)}.{_by_housing(beside, knowledge)}"
        if loses
        else "Beside the one I'd fit there is little between them.",
        *((_may_have_it(beside),) if insists else ()),
    )


def _as_large(weighed: Weighed, row: int) -> Bools:
    """Which of the candidates (N,) have a compressor wheel of the same size."""
    inducer = weighed.candidates.facts["compressor inducer"]
    return np.asarray(np.abs(inducer - inducer[row]) <= SAME_SIZE)


def _by_housing(beside: Beside, knowledge: Knowledge) -> str:
    """Where it lights later than the best one, and much sooner in another housing: in which, and what that costs."""
    weighed, row = beside.weighed, beside.requested
    lights = weighed.columns["spool rpm"]
    if not lights[row] > lights[beside.best] + SOONER:
        return ""
    same = weighed.kept & _as_large(weighed, row) & (lights < lights[row] - SOONER)
    if not same.any():
        return ""
    other = max(np.flatnonzero(same), key=lambda at: float(weighed.points[at]))
    its, own = (weighed.candidates.combinations[at] for at in (int(other), row))
    named = f"{its.housing.housing_ratio:.2f} {its.housing.entry} {its.housing.foot}"
    of_turbine = its.turbine.wheel != own.turbine.wheel
    hangs_on = "turbine and housing" if of_turbine else "housing"
    named += f" behind the {its.turbine.exducer * 1e3:g} mm turbine" if of_turbine else ""
    _, loses = differences(weighed, int(other), row, beside.now, knowledge, 1)
    at = units.show_computed(float(lights[other]), "rpm", "rotation")
    then = f", but there it {loses[0]}" if loses else ""
    return f" When it lights hangs on its {hangs_on}: in a {named} by {at}{then}."


def _ill_at_ease(beside: Beside, best: int) -> bool:
    """Whether it works left of its surge line, or lights long after boost is wanted."""
    return _late(beside, best) or float(beside.weighed.columns["surge margin"][best]) < 0.0


def _late(beside: Beside, row: int) -> bool:
    wanted_by = beside.now.boost_wanted_by
    return wanted_by is not None and float(beside.weighed.columns["spool rpm"][row]) > float(wanted_by) + LATE


def price_line(beside: Beside) -> str:
    """What the requested part comes to."""
    return f"That one comes to {_price(beside)} with what it takes to fit it."


def _price(beside: Beside) -> str:
    return units.show_computed(float(beside.weighed.fitted_price[beside.requested]), "$", "money")


def _may_have_it(beside: Beside) -> str:
    """What one within its limits comes to, for who insists on it."""
    return (
        f"It's within its limits, so you may have it: {_price(beside)} with what it takes to fit it. "
        "I write down that I advised another."
    )


def _does(beside: Beside) -> str:
    """What the requested part would do on this engine, and on which fuel."""
    columns, row = beside.weighed.columns, beside.requested
    power, boost, lights = (float(columns[name][row]) for name in ("power made", "boost made", "spool rpm"))
    shown = units.show_computed(power, "hp", "power"), units.show_computed(boost, "psi", "pressure")
    made = "It would make about {} at {}".format(*shown)
    does = (
        f"light at about {units.show_computed(lights, 'rpm', 'rotation')}"
        if np.isfinite(lights)
        else "never quite come up to what you want"
    )
    if beside.fuelled is not None and beside.fuelled[row] > GAINS_BY_FUEL * power:
        more = units.show_computed(float(beside.fuelled[row]), "hp", "power")
        return f"{made} of boost, and {does}, on the fuel you have. With fuel for your goal it would make about {more}."
    if beside.now.fuel_limited:
        return f"{made} of boost, and {does}, on the fuel you have."
    return f"{made} of boost, and {does}, given the fuel for it."
