"""From weighed candidates to what can be shown and said: options, lines, figures, parts, all of it only read."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor import units
from advisor.comparing import Minding, Swings, differences, pair_differences, steady, to_mind
from advisor.fitting.parts import Extra, parts_list
from advisor.hearing.understood import value_words
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import AddPart, Caution, NextStep, Recommend, Say
from advisor.matched import surge_line_known_to
from advisor.matching.inputs import Array
from advisor.outcome import SEVERITIES, Figure, Line, OperatingLine, Option, PartLine, Resting, RuledOut, Understood
from advisor.outcome import Caution as CautionLine
from advisor.pairs import Paired
from advisor.shares import LEFT
from advisor.situation import BY_RULE, Situation
from advisor.told_places import heat_read_at
from advisor.units import Range
from advisor.weighing import Uncertain, Weighed, vehicle_of
from advisor.wording import fill, reasons_against

DAY = 86_400.0

# The figures shown for an option, in this order, where there is a value.
SHOWN = (
    "power made",
    "boost made",
    "spool rpm",
    "spool time",
    "exhaust temperature",
    "towing power",
    "towing exhaust temperature",
    "towing drive ratio",
    "strip power",
    "quarter mile time",
    "quarter mile speed",
    "sled power",
    "drive pressure",
    "drive pressure ratio",
    "compressor efficiency",
    "compressor outlet temperature",
    "charge temperature",
    "surge margin",
    "choke margin",
    "tip speed margin",
    "gate share",
    "gate flow margin",
    "housing flow margin",
    "thrust index",
    "lambda at goal",
    "fitting cost",
    "candidate price",
    "delivery days",
)


OF_A_GATE = ("gate share", "gate flow margin")


@dataclass(slots=True)
class Words:
    """What the fired rules say, add and warn of."""

    advice: list[Line]
    say: list[Line]
    cautions: list[CautionLine]
    parts: list[tuple[Extra, str]]
    next_steps: list[Line]

    def put_in_order(self) -> None:
        """The gravest cautions first, and the steps that belong to them."""
        self.cautions.sort(key=lambda caution: (SEVERITIES.index(caution.severity), caution.rule))
        gravity = {caution.rule: SEVERITIES.index(caution.severity) for caution in self.cautions}
        self.next_steps.sort(key=lambda step: gravity.get(step.rule, len(SEVERITIES)))


def words_of(
    firings: Iterable[Firing],
    knowledge: Knowledge,
    facts: FactBase,
    index: int | None,
) -> Words:
    """The words of every rule that fired; of rules that judge candidates only those that concern ``index``, and aloud
    only where they count."""
    words = Words([], [], [], [], [])
    for firing in firings:
        if not firing.fired_for(index):
            continue
        rule = knowledge.rule(firing.rule)
        topic = rule.place.file.removesuffix(".yaml")
        for action in rule.then:
            match action:
                case Recommend(text=text):
                    words.advice.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case Say(text=text) if firing.speaks_of(index):
                    words.say.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case Caution(severity=severity, text=text, at_once=at_once):
                    said = fill(text, facts, knowledge.vocabulary)
                    words.cautions.append(CautionLine(severity, said, rule.name, topic, at_once=at_once))
                case AddPart(kind=kind, quantity=quantity):
                    words.parts.append((Extra(kind, quantity, rule.because), rule.name))
                case NextStep(text=text):
                    words.next_steps.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case _:
                    pass
    words.put_in_order()
    return words


def option(
    weighed: Weighed,
    index: int,
    role: str,
    now: Situation,
    knowledge: Knowledge,
    against: int | None = None,
    spread: Uncertain | None = None,
    fuelled: Array | None = None,
    swings: Swings = steady,
    minding: Minding | None = None,
) -> Option:
    """A candidate as it is shown; gains and losses are against the row ``against``. ``fuelled``: power of each row
    with fuel for the goal [W], where the caller's own fuel holds it back; ``swings`` and ``minding``: how it is over
    the caller's ranges."""
    combination = weighed.candidates.combinations[index]
    gains: tuple[str, ...] = ()
    loses: tuple[str, ...] = ()
    if against is not None and against != index:
        gains, loses = differences(weighed, index, against, now, knowledge, swings=swings)
    return Option(
        role=role,
        code=combination.code,
        title=combination.words,
        points=float(weighed.points[index]),
        price=float(combination.price),
        figures=figures_of(weighed, index, now, knowledge, spread, fuelled),
        gains=gains,
        loses=loses,
        ruled_out_by=tuple(by for by, mask in weighed.out_by.items() if mask[index]),
        line=operating_line(weighed, index),
        out_words=tuple(
            f"{words.removesuffix('.')} ({passed})." if passed else words
            for words, passed in reasons_against(weighed, index, knowledge)
        ),
        to_mind=to_mind(weighed, index, now, minding),
        short_title=combination.short_words,
    )


# Power and what follows from it: they hang on the fuel.
BY_FUEL = ("power made", "towing power", "strip power", "quarter mile time", "quarter mile speed", "sled power")
GAUGES_READ_MORE = (
    "read by gauge, the ratio where worst; a turbine as published: a truck's gauge often reads 1 to 1.5 times boost"
)
BY_A_TURBINE = dict.fromkeys(("drive pressure", "drive pressure ratio", "towing drive ratio"), GAUGES_READ_MORE)
"""Figures that a worn or dirty turbine, pulses and joints make worse (common practice, no source)."""
SURGE_LINE = "a surge line {} that nine times in ten is known to {} of the flow either way; pipes move it too"
"""What a surge margin rests on; the spreads stand with the maps (`matching.compressor`, `matching.speedlines`)."""
WITH_FUEL = "power with fuel for the goal"


def fuel_words(now: Situation) -> tuple[str, str]:
    """On which fuel the power figures rest: a few words, and a sentence."""
    feeds = units.show_computed(float(now.fuel_power), "hp", "power")
    if not now.fuel_limited:
        counted = "nobody told of the fuel system, so fuel enough for the goal is counted on"
        if now.fuel_told:
            counted = f"fuel for the goal, as nobody said that his stays, which feeds about {feeds}"
        elif float(now.fuel_power) < float(now.power_goal):
            counted += f"; as it left the factory it would feed about {feeds}"
        return "with fuel for the goal", counted
    enough = "" if float(now.fuel_power) < float(now.power_goal) else " and so is enough for the goal"
    return "with the fuel he has", f"the fuel system as it is, which feeds about {feeds}{enough}"


def figures_of(
    weighed: Weighed,
    index: int,
    now: Situation,
    knowledge: Knowledge,
    spread: Uncertain | None = None,
    fuelled: Array | None = None,
) -> tuple[Figure, ...]:
    """The figures of one candidate, in the order of ``SHOWN``; none that the match could not settle."""
    made = []
    note, assumption = fuel_words(now)
    heat_at = heat_read_at(now.duties, now.leading)
    combination = weighed.candidates.combinations[index]
    ungated = combination.wastegate == "none"
    line = "predicted from the wheel" if combination.compressor.map is None else "measured on a gas stand"
    rests_on = {
        **dict.fromkeys(BY_FUEL, assumption),
        **BY_A_TURBINE,
        "surge margin": SURGE_LINE.format(line, units.show(surge_line_known_to(knowledge, index), "%", "percent", 0)),
    }
    row = spread.rows.index(index) if spread is not None and index in spread.rows else None
    for name in SHOWN:
        values = weighed.facts.columns.get(name)
        value = None if values is None else values.at(index)
        definition = knowledge.vocabulary.get(name)
        if definition is None or not isinstance(value, Range) or (ungated and name in OF_A_GATE):
            continue
        origin = weighed.facts.origins[name]
        computed = origin.kind == "computed"
        made.append(
            Figure(
                name=name,
                value=value,
                quantity=definition.quantity,
                unit=definition.unit,
                basis="computed" if computed else "given",
                assumption=rests_on.get(name, ""),
                meaning=definition.why,
                source="the match of turbo and engine" if computed else "the shop's catalogue",
                about=weighed.candidates.codes[index],
                band=_band(spread, name, row, value) if computed and spread is not None and row is not None else None,
                note=note if name in BY_FUEL else heat_at.get(name, ""),
            )
        )
        if name == "power made" and fuelled is not None and np.isfinite(fuelled[index]):
            power = Range(float(fuelled[index]), float(fuelled[index]))
            made.append(
                Figure(
                    WITH_FUEL,
                    power,
                    definition.quantity,
                    definition.unit,
                    "computed",
                    "fuel enough for the goal, with the same turbo",
                    "The power it would make once the fuel system feeds the goal.",
                    "the match of turbo and engine",
                    weighed.candidates.codes[index],
                )
            )
    return tuple(made)


def _band(spread: Uncertain, name: str, row: int, value: Range) -> Range | None:
    if name not in spread.low:
        return None
    low, high = float(spread.low[name][row]), float(spread.high[name][row])
    if not (np.isfinite(low) and np.isfinite(high)):
        return None
    return Range(min(low, value.low), max(high, value.high))


# What an operating line shows: our name, the field of the match, quantity, unit, and what is taken off first.
_LINE = (
    ("boost", "boost", "pressure", "psi", True),
    ("drive pressure", "drive_pressure", "pressure", "psi", True),
    ("compressor pressure ratio", "pressure_ratio", "ratio", "", False),
    ("air flow", "air", "mass flow", "lb/min", False),
    ("corrected air flow", "corrected_air", "mass flow", "lb/min", False),
    ("power", "power", "power", "hp", False),
    ("exhaust temperature", "exhaust_temperature", "temperature", "°F", False),
    ("compressor outlet temperature", "compressor_outlet_temperature", "temperature", "°F", False),
    ("shaft speed", "shaft_speed", "rotation", "rpm", False),
    ("tip speed", "tip_speed", "speed", "m/s", False),
    ("compressor efficiency", "compressor_efficiency", "percent", "%", False),
    ("surge margin", "surge_margin", "percent", "%", False),
    ("choke margin", "choke_margin", "percent", "%", False),
    ("gate share", "gate_share", "percent", "%", False),
    ("lambda", "lam", "ratio", "", False),
)


def operating_line(weighed: Weighed, index: int) -> OperatingLine:
    """The candidate's operating line over all duties; pressures named "boost" and "drive pressure" over ambient."""
    grid, solved = weighed.grid, weighed.match
    columns = [
        getattr(solved, attribute)[index] - (weighed.ambient if gauge else 0.0) for _, attribute, _, _, gauge in _LINE
    ]
    values = np.stack(columns, axis=-1).tolist()
    converged = solved.converged[index].tolist()
    speeds = np.broadcast_to(grid.speed, solved.converged.shape)[index].tolist()
    return OperatingLine(
        tuple((name, quantity, unit) for name, _, quantity, unit, _ in _LINE),
        tuple(
            (grid.duties[duty].name, speed, sound, tuple(row) if sound else ())
            for duty, speed, sound, row in zip(grid.duty.tolist(), speeds, converged, values, strict=True)
        ),
    )


def pair_option(
    paired: Paired, weighed: Weighed, now: Situation, knowledge: Knowledge, against: int | None
) -> Option:
    """Two turbos in series as one option, against the row ``against``."""
    high, low = (weighed.candidates.combinations[row] for row in (paired.high, paired.low))
    code = f"{high.code} + {low.code}"
    figures = tuple(
        Figure(
            name,
            Range(paired.figures[name], paired.figures[name]),
            knowledge.vocabulary[name].quantity,
            knowledge.vocabulary[name].unit,
            "given" if name == "candidate price" else "computed",
            "",
            knowledge.vocabulary[name].why,
            "the match of two turbos in series and engine",
            code,
            None if name == "candidate price" else paired.bands.get(name),
        )
        for name in SHOWN
        if name in paired.figures
    )
    gains, loses = ((), ()) if against is None else pair_differences(paired, weighed, against, now, knowledge)
    return Option(
        role="two stage",
        code=code,
        title=f"two in series: on the manifold {high.words}; fed by {low.words}"
        + ("; with a cooler between them" if paired.cooled else ""),
        points=paired.points,
        price=paired.figures["candidate price"],
        figures=figures,
        gains=gains,
        loses=loses,
        ruled_out_by=(),
        closest_because="pipes and brackets between the two are made to measure and not in the price",
        short_title=f"two in series, {high.wheels} fed by {low.wheels}",
    )


def ruled_out(weighed: Weighed, knowledge: Knowledge) -> tuple[RuledOut, ...]:
    """Every candidate that is out, with the rules and limits that did it and their words."""
    made = []
    names = {rule.name: rule.because for rule in knowledge.rules}
    for index in np.flatnonzero(~weighed.kept):
        by = tuple(name for name, mask in weighed.out_by.items() if mask[index])
        code, words = weighed.candidates.codes[index], weighed.candidates.words[index]
        made.append(RuledOut(code, words, by, tuple(names.get(n, n) for n in by)))
    return tuple(made)


def parts_of(
    weighed: Weighed,
    index: int,
    extras: Sequence[tuple[Extra, str]],
    facts: FactBase,
    knowledge: Knowledge,
    checks: Collection[str] | None = None,
) -> tuple[PartLine, ...]:
    """The complete parts list for one candidate; joints that nobody can settle yet are marked open. ``checks``:
    of a complaint whose checks aren't done, the rules behind these; only what they take is listed."""
    combination = weighed.candidates.combinations[index]
    merged: dict[str, tuple[Extra, str]] = {}
    for extra, rule in extras:
        merged.setdefault(extra.kind, (extra, rule))
    listed = parts_list(combination, vehicle_of(facts), knowledge.catalogue, [extra for extra, _ in merged.values()])
    rules = {kind: rule for kind, (_, rule) in merged.items()}
    lines = [
        PartLine(
            line.code,
            line.words,
            line.quantity,
            line.price / max(1, line.quantity),
            line.delivery / DAY,
            line.why,
            rules.get(line.kind, ""),
        )
        for line in listed.lines
    ]
    lines += [
        PartLine("", f"{end.joint} joint: {end.words}", 0, None, None, _open_price(end.price), "", True, end.price)
        for end in listed.open_ends
    ]
    return tuple(line for line in lines if checks is None or line.rule in checks)


def _open_price(price: Range) -> str:
    low, high = (units.show(end, "$", "money") for end in (price.low, price.high))
    return f"{low} to {high}, by what is there" if low != high else f"{low}, whatever is there"


def taken_figures(situation: Situation, vocabulary: Mapping[str, FactDef]) -> tuple[Figure, ...]:
    """The inputs of the figures, each given or assumed."""
    made = []
    for taken in situation.taken:
        definition = vocabulary[taken.name]
        if not isinstance(taken.value, Range):
            continue
        made.append(
            Figure(
                taken.name,
                taken.value,
                definition.quantity,
                definition.unit,
                taken.basis,
                taken.assumption,
                definition.why,
                "the caller" if taken.basis == "given" else "assumption",
            )
        )
    return tuple(made)


THE_USUAL = "the usual"


def resting_on(
    situation: Situation,
    understood: Sequence[Understood],
    knowledge: Knowledge,
    advised: bool,
    moving: Collection[str],
) -> tuple[Resting, ...]:
    """Every assumption: first what he was not sure of, then what rules take, then what nobody spoke of. While nothing
    is advised, only the first. ``moving`` are facts that are open and may change the turbo."""
    unsure = {heard.answer.fact for heard in understood if heard.not_sure}
    reasons = {rule.name: rule.because for rule in knowledge.rules}
    found = []
    for taken in situation.taken:
        if taken.basis != "assumed":
            continue
        definition = knowledge.vocabulary[taken.name]
        shown = value_words(taken.value, definition)
        rule = taken.assumption.removeprefix(BY_RULE)
        doubted = taken.name in unsure
        middle = isinstance(taken.value, Range) and not taken.value.exact
        why = _begun(reasons[rule]) if rule in reasons else "" if doubted else LEFT if rule == LEFT else THE_USUAL
        if middle and isinstance(taken.value, Range):
            why = "; ".join(words for words in (f"the middle of {shown}", why) if words)
            at = taken.value.mid
            shown = f"about {value_words(Range(at, at), definition)}"
        found.append(
            Resting(
                taken.name,
                shown,
                why,
                rule if rule in reasons else "",
                definition.check_by,
                doubted,
                taken.name in moving,
            )
        )
    found.sort(key=lambda one: (not one.unsure, not one.rule))
    return tuple(one for one in found if advised or one.unsure)


def _begun(sentence: str) -> str:
    """A sentence as it goes on after a colon: no full stop, and a small letter where it is a plain word."""
    first = sentence.split(" ", 1)[0]
    plain = first == "A" or first[1:].islower()
    return (sentence[:1].lower() + sentence[1:] if plain else sentence).removesuffix(".")
