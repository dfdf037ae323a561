"""Where the figures of a duty are read, in the words of the caller: what its place is called, its points, how long heat
is held there and how a wait for boost is felt (common practice, no source)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.matching.inputs import Duty


@dataclass(frozen=True, slots=True)
class ToldPlace:
    """The words for one place (`Duty.place`).

    named       after "lights sooner"
    goal, other its points, at an engine speed; in a duty with a goal on the road the first is the point of the goal
    held        how long the heat at the goal is held
    waiting     how a wait for boost is felt
    """

    named: str
    goal: str
    other: str
    held: str
    waiting: str


TOLD_PLACES = {
    "daily": ToldPlace(
        named="in everyday driving",
        goal="foot down on the road",
        other="foot down on the road",
        held="in bursts",
        waiting="you'd feel that pulling out and overtaking",
    ),
    "towing": ToldPlace(
        named="with the trailer on",
        goal="on the grade",
        other="with the trailer on",
        held="for minutes",
        waiting="it smokes and heats up until then, pulling away on a grade",
    ),
    "field": ToldPlace(
        named="in the field",
        goal="at full load",
        other="in the field",
        held="for hours",
        waiting="it smokes and lugs until then, each time the implement bites",
    ),
    "strip": ToldPlace(
        named="at the strip",
        goal="at the strip",
        other="at the strip",
        held="for seconds",
        waiting="it has to be built against the brake or the converter before the launch",
    ),
    "sled": ToldPlace(
        named="on the sled",
        goal="on the sled",
        other="on the sled",
        held="for seconds",
        waiting="it has to be up before the sled moves, and won't come back if it's dragged down",
    ),
}
TOLD_PLACES["loaded"] = replace(TOLD_PLACES["towing"], named="with its load", other="with its load")


def told_place(duty: Duty) -> ToldPlace:
    """The words for where the points of a duty lie."""
    return TOLD_PLACES[duty.place]


def heat_read_at(duties: Sequence[Duty], leading: Duty) -> dict[str, str]:
    """Where a figure of exhaust heat is read, in words; by fact. The one without a duty is the ``leading`` one's."""
    of_duties = {f"{duty.name} exhaust temperature": told_place(duty).goal for duty in duties}
    hottest = "where hottest" if len(duties) == 1 else f"where hottest {told_place(leading).named}"
    return {"exhaust temperature": hottest, **of_duties}
