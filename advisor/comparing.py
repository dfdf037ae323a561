"""What sets one candidate apart from another, and what to mind about each: in the caller's terms, with duty and engine
speed named.

Thresholds below which a difference is not worth a word, and above which something has to be minded, are the desk's own
(common practice, no source).
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from advisor import units
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.places import in_a_row
from advisor.matching.inputs import Array, Bools, IntArray
from advisor.matching.summary import GAUGE_FLOOR, hardest
from advisor.pairs import Paired
from advisor.situation import Situation
from advisor.told_places import TOLD_PLACES, told_place
from advisor.units import Range
from advisor.weighing import Weighed

DAY = 86_400.0
RPM = np.pi / 30.0
FITTED_PRICE = "price with fitting"
WITH_PARTS = " with the parts to fit it"

Which = Literal["goal", "most", "least", "duty", ""]


@dataclass(frozen=True, slots=True)
class _Difference:
    """How a difference in one figure is said: from which size on, the words for less and for more, and at which point
    both are read: the goal of all or of a duty, or at the worst point of the worse of the two in the main duty."""

    fact: str
    worth_saying: float
    less: str
    more: str
    less_is_better: bool
    at: Which = ""
    duty: str = ""


DIFFERENCES = (
    _Difference("spool rpm", 60.0 * RPM, "lights {} sooner", "lights {} later", True, "duty"),
    _Difference("spool time", 0.7, "builds boost {} quicker", "takes {} longer to build boost", True, "duty"),
    _Difference("power made", 7_500.0, "makes {} less", "makes {} more", False, "goal"),
    _Difference("towing power", 7_500.0, "holds {} less", "holds {} more", False, "goal", "towing"),
    _Difference("strip power", 7_500.0, "makes {} less", "makes {} more", False, "goal", "strip"),
    _Difference(
        "quarter mile time", 0.1, "is {} quicker over the quarter mile", "is {} slower over the quarter mile", True
    ),
    _Difference("sled power", 7_500.0, "makes {} less", "makes {} more", False, "goal", "sled"),
    _Difference("towing exhaust temperature", 14.0, "stays {} cooler", "gets {} hotter", True, "goal", "towing"),
    _Difference("exhaust temperature", 14.0, "runs {} cooler", "runs {} hotter", True, "most"),
    _Difference("compressor outlet temperature", 20.0, "heats the intake air {} less", "heats the intake air {} more",
                True, "most"),
    _Difference("drive pressure ratio", 0.1, "needs {} less drive pressure for the same boost",
                "needs {} more drive pressure for the same boost", True, "most"),
    _Difference("surge margin", 0.05, "works {} nearer to surge", "works {} further from surge", False, "least"),
    _Difference("choke margin", 0.05, "has {} less air left", "has {} more air left", False, "least"),
    _Difference(FITTED_PRICE, 50.0, "costs {} less" + WITH_PARTS, "costs {} more" + WITH_PARTS, True),
    _Difference("delivery days", 2 * DAY, "is here {} sooner", "is here {} later", True),
)  # fmt: skip
SIZE_STEP = {"rpm": 10.0, "%": 1.0, "s": 0.1, "$": 5.0, "psi": 0.5}
# Words for a difference, and its place with a space before.
Placed = tuple[str, str]
WIDE = 1.5
"""Largest over least size of a difference, over the caller's ranges, from which on both are told."""
UNCLEAR = 2.0
"""How much more a difference must come to in a part of his ranges to be told where it is nothing at the middle."""


@dataclass(frozen=True, slots=True)
class Swing:
    """A difference in one figure (SI) over the ranges that the caller gave: from ``least`` to ``most`` nine times in
    ten; and where in them it lies clearly ``below`` and ``above`` nothing, in words, "" where it hardly ever does."""

    least: float
    most: float
    below: str = ""
    above: str = ""


Swings: TypeAlias = Callable[[str, float, float], Swing | None]
"""The swing of a difference: of which figure, the difference at the middle of his ranges, and from which size on it is
worth a word. None where it doesn't move."""
MINDED = ("surge", "choke", "speed", "heat", "late")
"""What may have to be minded about a candidate."""
Minding: TypeAlias = Callable[[str, bool], str]
"""Where in the caller's ranges one of these is otherwise than at the middle, where it is so or isn't: in words, ""
where it is all but everywhere as at the middle."""


def steady(_fact: str, _middle: float, _worth: float) -> None:
    """Differences over no ranges."""


def differences(
    weighed: Weighed,
    index: int,
    against: int,
    now: Situation,
    knowledge: Knowledge,
    most: int | None = None,
    swings: Swings = steady,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What candidate ``index`` gains and loses against candidate ``against``, in the caller's terms; what is read at
    one place stands together. ``most`` keeps the first few of each, enough to be said aloud."""

    def of(row: int, fact: str) -> float | None:
        if fact == FITTED_PRICE:
            return float(weighed.fitted_price[row])
        values = weighed.facts.columns.get(fact)
        value = None if values is None else values.at(row)
        return value.mid if isinstance(value, Range) else None

    def at_one_point(kind: _Difference) -> tuple[_Difference, float | None, float | None]:
        mine, other = of(index, kind.fact), of(against, kind.fact)
        if kind.at in ("most", "least") and mine is not None and other is not None:
            column = _worse(kind, weighed, index, against, now)
            mine, other = (float(_read(kind.fact, weighed, row)[column]) for row in (index, against))
        return kind, mine, other

    gains, loses = _said(
        (at_one_point(kind) for kind in DIFFERENCES),
        lambda kind: _where(kind, weighed, index, against, now),
        float(weighed.columns["boost made"][index]),
        knowledge,
        swings,
    )
    lights, lit = of(index, "spool rpm"), of(against, "spool rpm")
    mainly = told_place(now.leading).named
    if lights is None and lit is not None:
        loses = [(f"never comes up to the boost of the goal {mainly}", ""), *loses]
    if lights is not None and lit is None:
        gains = [(f"comes up to the boost of the goal {mainly}, by {_rpm(lights)}", ""), *gains]
    return _grouped(gains[:most]), _grouped(loses[:most])


def pair_differences(
    paired: Paired, weighed: Weighed, against: int, now: Situation, knowledge: Knowledge
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The same for two turbos in series; without fitting, which is made to measure, and without points."""
    other = {name: float(values[against]) for name, values in weighed.columns.items() if values.dtype != bool}
    mine = dict(paired.figures)
    mine[FITTED_PRICE], other[FITTED_PRICE] = mine["candidate price"], other["candidate price"]

    duties = {duty.name: duty for duty in now.duties}

    def placed(kind: _Difference) -> str:
        return f" {told_place(duties.get(kind.duty, now.leading)).named}" if kind.at else ""

    compared = ((kind, mine.get(kind.fact), other.get(kind.fact)) for kind in DIFFERENCES)
    gains, loses = (
        [(words.replace(WITH_PARTS, " before pipes and fitting"), where) for words, where in each]
        for each in _said(compared, placed, paired.figures.get("boost made", 0.0), knowledge)
    )
    return _grouped(gains), _grouped(loses)


def _said(
    compared: Iterable[tuple[_Difference, float | None, float | None]],
    where: Callable[[_Difference], str],
    boost: float,
    knowledge: Knowledge,
    swings: Swings = steady,
) -> tuple[list[Placed], list[Placed]]:
    """Gains and losses in words, each with its place; what one of the two lacks or never reaches is passed over.
    ``boost`` is what the described one makes [Pa]."""
    gains: list[Placed] = []
    loses: list[Placed] = []
    told: set[tuple[str, str]] = set()
    for kind, mine, other in compared:
        if mine is None or other is None or not np.isfinite(abs(mine) + abs(other)):
            continue
        middle = mine - other
        swing = swings(kind.fact, middle, kind.worth_saying) or Swing(middle, middle)
        clear = abs(middle) >= kind.worth_saying
        told_at = middle if clear else max(swing.least, swing.most, key=abs)
        if abs(told_at) < (1.0 if clear else UNCLEAR) * kind.worth_saying:
            continue
        definition = knowledge.vocabulary["candidate price" if kind.fact == FITTED_PRICE else kind.fact]
        less = told_at < 0.0
        ends = sorted((abs(swing.least), abs(swing.most)))
        if swing.least * swing.most < 0.0:
            ends = [0.0, abs(swing.least if less else swing.most)]
        size = _extent(kind, abs(middle) if clear else 0.0, ends[0], max(ends[1], abs(told_at)), boost, definition)
        if (definition.quantity, size) in told:
            continue  # the same difference, read in another duty
        told.add((definition.quantity, size))
        words, place = (kind.less if less else kind.more).format(size), where(kind)
        if turned := swing.above if less else swing.below:
            most = _size_of(kind, abs(swing.most if less else swing.least), boost, definition)
            contrary = (kind.more if less else kind.less).format(f"up to {most}")
            words, place = f"{words}{place}, but {contrary} if {turned}", ""
        (gains if less == kind.less_is_better else loses).append((words, place))
    return gains, loses


def _extent(
    kind: _Difference, middle: float, least: float, most: float, boost: float, definition: FactDef
) -> str:
    """How large a difference is: "250 rpm", or where that says too little "200 to 400 rpm", "up to 400 rpm"."""
    low, size, high = (_size_of(kind, value, boost, definition) for value in (least, middle, most))
    if middle >= kind.worth_saying and (most - least < kind.worth_saying or most < WIDE * least):
        return size
    if least < kind.worth_saying:
        return f"up to {high}"
    unit = high.partition(" ")[2]
    return high if low == high else f"{low.removesuffix(unit).rstrip()} to {high}"


def _grouped(said: Iterable[Placed]) -> tuple[str, ...]:
    """What is read at one place in one phrase: "stays 38 °F cooler and has 19 % more air left on the grade"."""
    places: dict[str, list[str]] = {}
    for number, (words, where) in enumerate(said):
        places.setdefault(where or str(number), []).append(words)
    return tuple(in_a_row(words) + ("" if where.isdigit() else where) for where, words in places.items())


def _size_of(kind: _Difference, value: float, boost: float, definition: FactDef) -> str:
    """The size of a difference in the caller's terms: a ratio of pressures as a pressure, at the boost made [Pa]."""
    if kind.fact == "drive pressure ratio":
        return _size(value * boost, "psi", "pressure")
    return _size(value, definition.unit, definition.quantity)


def _size(value: float, unit: str, quantity: str) -> str:
    """The size of a difference as it is said: to two digits, and no finer than one can feel."""
    step = SIZE_STEP.get(unit)
    if step is None:
        return units.show_difference(value, unit, quantity)
    scale = units.QUANTITIES[quantity].units[unit].factor
    return units.show_difference(max(1, round(value / scale / step)) * step * scale, unit, quantity)


def _where(kind: _Difference, weighed: Weighed, index: int, against: int, now: Situation) -> str:
    """Where the figures of two rows are read: duty and engine speed, with a space before."""
    if kind.at == "":
        return ""
    if kind.at == "duty":
        since = f" from {_rpm(wanted_by(now))}" if kind.fact == "spool time" else ""
        return f"{since} {told_place(now.leading).named}"
    if kind.at == "goal":
        own = weighed.grid.of(kind.duty) if kind.duty else np.array([hardest(weighed.grid, now.main)])
        column = int(own[weighed.grid.at_goal[own]][0])
    else:
        column = _worse(kind, weighed, index, against, now)
    return f" {at_point(weighed, index, column)}"


def _worse(kind: _Difference, weighed: Weighed, index: int, against: int, now: Situation) -> int:
    """The point of the main duty, of surge in all duties, at which the worse of two rows has its worst: there both are
    read."""
    duties = [duty.name for duty in now.duties] if kind.fact == "surge margin" else [now.main]
    own = np.concatenate([weighed.grid.of(duty) for duty in duties])
    both = np.stack([_read(kind.fact, weighed, row)[own] for row in (index, against)])
    at = np.argmax(both) if kind.at == "most" else np.argmin(both)
    return int(own[np.unravel_index(at, both.shape)[1]])


def _read(fact: str, weighed: Weighed, row: int) -> Array:
    """A figure of one row at every point."""
    match = weighed.match
    by_name = {
        "exhaust temperature": match.exhaust_temperature,
        "compressor outlet temperature": match.compressor_outlet_temperature,
        "surge margin": match.surge_margin,
        "choke margin": match.choke_margin,
    }
    if fact in by_name:
        return np.asarray(by_name[fact][row])
    boost = np.maximum(match.boost[row] - weighed.ambient, GAUGE_FLOOR)
    return np.asarray((match.drive_pressure[row] - weighed.ambient) / boost)


def _speeds(weighed: Weighed, row: int) -> Array:
    return np.asarray(np.broadcast_to(weighed.grid.speed, weighed.match.converged.shape)[row])


def _rpm(speed: float) -> str:
    return units.show_computed(speed, "rpm", "rotation")


def at_point(weighed: Weighed, row: int, column: int) -> str:
    """An operating point as it is said: "on the grade at 2,800 rpm"."""
    told = told_place(weighed.grid.duties[int(weighed.grid.duty[column])])
    where = told.goal if weighed.grid.at_goal[column] else told.other
    return f"{where} at {_rpm(float(_speeds(weighed, row)[column]))}"


def wanted_by(now: Situation) -> float:
    """Engine speed [rad/s] by which boost is wanted: said, or the bottom of the main duty's range."""
    if now.boost_wanted_by is not None:
        return float(now.boost_wanted_by)
    return float(now.leading.low)


# ------------------------------------------------------------------------------------------------ what to mind

OUT_OF_BREATH = 0.03
CLOSE_TO_SPEED = 0.03
OVER = 11.0  # K; nearer than that the figure is not known
A_LITTLE = 28.0  # K, 50 °F: hardly to be seen on a gauge
LATE = 150.0 * RPM
SLOW = 3.0
"""Seconds from which on the wait for boost is felt as a fault, whatever the duty (common practice, no source)."""
BARKS = ": it may bark there"
_HELD = rf", where \S+ \S+ may be held (?:{'|'.join(told.held for told in TOLD_PLACES.values())})"
WHY = re.compile("|".join((_HELD, BARKS, *(f": {told.waiting}" for told in TOLD_PLACES.values()))))
"""What stands behind a fault: how long a heat may be held, how a wait is felt."""


def told_once(minded: Iterable[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """What to mind about each of several candidates, with what holds for all of them (how long a heat may be held, how
    a wait is felt) where it is first told alone."""
    heard: set[str] = set()

    def first(found: re.Match[str]) -> str:
        known = found[0] in heard
        heard.add(found[0])
        return "" if known else found[0]

    return tuple(tuple(WHY.sub(first, words) for words in one) for one in minded)


def to_mind(weighed: Weighed, row: int, now: Situation, minding: Minding | None = None) -> tuple[str, ...]:
    """What is not as it should be at the operating points of a candidate: surge, choke, speed, heat and late boost;
    with ``minding`` also where in the caller's ranges it isn't so, or is though at the middle it isn't."""
    own = _points(weighed, row, now)
    match = weighed.match
    said = {
        "surge": _where_it_is(weighed, row, own, match.surge_margin[row] < 0.0,
                              "works left of its predicted surge line {}" + BARKS),
        "choke": _where_it_is(weighed, row, own, match.choke_margin[row] < OUT_OF_BREATH,
                              "is out of breath, close to choke, {}"),
        "speed": _too_fast(weighed, row, own),
        "heat": _too_hot(weighed, row, own, now),
        "late": _late(weighed, row, now),
    }  # fmt: skip
    lines = []
    for kind in MINDED:
        at_middle = list(said[kind])
        where = minding(kind, bool(at_middle)) if minding else ""
        if where:
            at_middle = [f"{words}; not so if {where}" for words in at_middle] or [MAYBE[kind].format(where)]
        lines += at_middle
    return tuple(lines)


MAYBE = {
    "surge": "works left of its predicted surge line if {}" + BARKS,
    "choke": "is out of breath, close to choke, if {}",
    "speed": "runs close to its safe speed if {}",
    "heat": "gets too hot if {}",
    "late": "comes up to boost late if {}",
}
"""How each is said where it isn't so at the middle of the caller's ranges."""


def _points(weighed: Weighed, row: int, now: Situation) -> IntArray:
    """The points of the duties at which a candidate came to rest."""
    own = np.concatenate([weighed.grid.of(duty.name) for duty in now.duties])
    return np.asarray(own[weighed.match.converged[row][own]])


def _where_it_is(weighed: Weighed, row: int, own: IntArray, bad: Bools, words: str) -> Iterator[str]:
    """The words with the stretches, duty by duty, at which something is so."""
    found = own[bad[own]]
    duty = weighed.grid.duty[found]
    places = [_stretch(weighed, row, found[duty == each]) for each in dict.fromkeys(duty.tolist())]
    if places:
        yield words.format(in_a_row(places))


def _too_fast(weighed: Weighed, row: int, own: IntArray) -> Iterator[str]:
    margin = weighed.match.tip_speed_margin[row][own]
    if not own.size or margin.min() >= CLOSE_TO_SPEED:
        return
    where = at_point(weighed, row, int(own[np.argmin(margin)]))
    left = float(margin.min())
    if left < 0.0:
        yield f"turns faster than its wheel may {where}"
    elif left < 0.01:
        yield f"runs right at its safe speed {where}"
    else:
        yield f"runs within {units.show_computed(left, '%', 'percent')} of its safe speed {where}"


def _too_hot(weighed: Weighed, row: int, own: IntArray, now: Situation) -> Iterator[str]:
    places, most_over = [], 0.0
    for duty in now.duties:
        # On a grade the driver chooses the gear: what he holds for minutes is the heat at the goal.
        held = own[np.isin(own, weighed.grid.of(duty.name))]
        held = held[weighed.grid.at_goal[held]] if duty.name == "towing" else held
        heat = weighed.match.exhaust_temperature[row][held]
        limit = float(duty.temperature_limit)
        if heat.size and heat.max() > limit + OVER:
            shown, most = (units.show_computed(value, "°F", "temperature") for value in (float(heat.max()), limit))
            where = at_point(weighed, row, int(held[np.argmax(heat)]))
            most_over = max(most_over, float(heat.max()) - limit)
            places.append(f"{shown} {where}, where {most} may be held {told_place(duty).held}")
    if places:
        yield f"{'runs a little hot' if most_over <= A_LITTLE else 'gets too hot'}: {'; '.join(places)}"


def _late(weighed: Weighed, row: int, now: Situation) -> Iterator[str]:
    asked, told = wanted_by(now), told_place(now.leading)
    lights, seconds = (float(weighed.columns[name][row]) for name in ("spool rpm", "spool time"))
    if not np.isfinite(lights):
        yield f"never comes up to the boost of the goal {told.named}"
    elif lights > asked + LATE:
        late = units.show_difference(lights - asked, "rpm", "rotation")
        yield f"lights at {_rpm(lights)} {told.named}, {late} later than wanted: {told.waiting}"
    elif lights < asked - LATE and seconds > SLOW:  # nearer to where it lights the last of the boost always creeps in
        shown = units.show_computed(seconds, "s", "time")
        yield f"takes {shown} from {_rpm(asked)} to full boost {told.named}: {told.waiting}"


def _stretch(weighed: Weighed, row: int, columns: IntArray) -> str:
    """A stretch of points of one duty as it is said."""
    speeds = _speeds(weighed, row)[columns]
    first = at_point(weighed, row, int(columns[np.argmin(speeds)]))
    low, high = _rpm(float(speeds.min())), _rpm(float(speeds.max()))
    return first if low == high else first.replace(f"at {low}", f"from {low} to {high}")
