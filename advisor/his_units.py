"""What a call comes to, in the units that the caller speaks in.

Everything before this tells its figures in the units of the shop. Where a caller gives a quantity in metric units,
figures and texts that are told to him give it so as well; who names more figures in metric units than in others, and
two at least, is told all of them so. Names of goods ("4 in V-band clamp") stay as the shop writes them, and so does
power in hp unless he says kW or PS himself.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TypeAlias

from advisor import units
from advisor.hearing import understand
from advisor.knowledge import FactDef
from advisor.outcome import (
    Caution,
    Consultation,
    DutyTrade,
    Figure,
    Hold,
    Line,
    OpenQuestion,
    Option,
    Switch,
    Understood,
)
from advisor.quantities import unit_of
from advisor.words.measures import customary_named, metric_named

Instead: TypeAlias = Mapping[tuple[str, str], str]
"""The caller's unit for a quantity and a unit of the shop."""

METRIC: Instead = {
    ("temperature", "°F"): "°C",
    ("pressure", "psi"): "bar",
    ("mass", "lb"): "kg",
    ("altitude", "ft"): "m",
    ("speed", "mph"): "km/h",
    ("length", "in"): "mm",
    ("power", "hp"): "kW",
    ("torque", "lb ft"): "N m",
    ("mass flow", "lb/min"): "kg/s",
    ("mass flow", "lb/h"): "kg/h",
}
SAID: Mapping[str, str] = {"°C": "°C", "K": "°C", "bar": "bar", "kPa": "bar", "kg": "kg", "t": "kg", "m": "m",
                           "km/h": "km/h", "mm": "mm", "cm": "mm", "kW": "kW", "PS": "PS", "N m": "N m"}  # fmt: skip
"""Metric units that callers speak in, and the one that he is answered in."""
ONLY_IF_SAID = frozenset({("power", "hp")})
NO_SIGN = frozenset({("power", "hp"), ("length", "in")})
"""What is said in the shop's units by those too who speak metric: horsepower, the inches of a pipe."""
ENOUGH = 2
"""Figures named in metric units from which on a caller counts as one who speaks metric."""
_OF = {
    **{unit: key for key in METRIC for unit in (METRIC[key], key[1])},
    "metric": ("", ""),
}
_WORDS = {"°F": ("temperature", "°F"), "psi": ("pressure", "psi"), "lb/min": ("mass flow", "lb/min"),
          "lb/h": ("mass flow", "lb/h"), "lb ft": ("torque", "lb ft"), "lb": ("mass", "lb"), "hp": ("power", "hp"),
          "mph": ("speed", "mph"), "miles an hour": ("speed", "mph"), "in": ("length", "in"),
          "ft": ("altitude", "ft")}  # fmt: skip
_AT_HOME = re.compile(r" \([^()]*\)$")
_NUMBER = r"(?<![\d.,/-])-?\d[\d,]*(?:\.\d+)?"
_TOLD = re.compile(
    rf"(?P<low>{_NUMBER})(?: to (?P<high>{_NUMBER}))? (?P<unit>{'|'.join(map(re.escape, _WORDS))})(?![\w/])"
    r"(?P<difference> (?:cooler|hotter|less|more|away)\b)?"
)


def his_units(understood: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> Instead:
    """The units that the caller's answers are given in, where they are others than the shop's; all of them once most
    of what he names is metric, or where he asks for it."""
    spoken: dict[tuple[str, str], Counter[str]] = {}
    kept = ""
    for heard in understood:
        definition = vocabulary.get(heard.answer.fact)
        if definition is not None and definition.volunteered == "units":
            kept = heard.answer.words
            continue
        key = ("", "") if definition is None else (definition.quantity, definition.unit)
        his = SAID.get(heard.unit, "")
        if key in METRIC and (his or (heard.unit and customary_named(heard.answer.words))):
            spoken.setdefault(key, Counter())[his] += 1
        if heard.fact is not None and definition is not None and definition.kind != "number":
            for unit in metric_named(heard.answer.words):
                spoken.setdefault(_OF[unit], Counter())[SAID.get(unit, "")] += 1
            for unit in customary_named(heard.answer.words):
                spoken.setdefault(_OF[unit], Counter())[""] += 1
    parts = [part for part in kept.split(", ") if part]  # of what was said to no question, or beside one
    named = [unit for part in parts for unit in ((part,) if part in _OF else metric_named(part))]
    for unit in named:
        spoken.setdefault(_OF[unit], Counter({SAID.get(unit, ""): 1}))
    asked = "metric" in named
    refused = any(part not in _OF and not metric_named(part) for part in parts)
    spoken.pop(("", ""), None)
    instead = {}
    for key, said in spoken.items():
        most, count = said.most_common(1)[0]
        if most and count >= said[""]:
            instead[key] = most
    shops = spoken.keys() - instead.keys() - NO_SIGN
    signs = sum(spoken[key].total() for key in instead)
    if asked or (not refused and signs >= ENOUGH and len(instead) > len(shops)):
        rest = METRIC.keys() - ONLY_IF_SAID - instead.keys()
        instead |= {key: METRIC[key] for key in rest if asked or key not in spoken}
    return instead


def switched(before: Instead, now: Instead) -> str:
    """What to know when another way of telling figures begins; "" where none does."""
    was, is_ = (len(one) > len(METRIC) // 2 for one in (before, now))
    if was == is_:
        return ""
    if is_:
        return "He speaks metric: all is told so from now on. change units = pounds tells it in the shop's units."
    return "Most of what he names is in the shop's units: all is told so from now on. change units = metric undoes it."


def asked_for_unit(heard: Understood, definition: FactDef, instead: Instead) -> Understood:
    """An answer, doubted where it is a figure without a unit that may be meant in the caller's unit as well as in the
    shop's: "eighty", of one who tows two tonnes."""
    key = (definition.quantity, definition.unit)
    his = instead.get(key) or (METRIC.get(key) if definition.quantity == "temperature" else None)
    value = heard.fact.value if heard.fact is not None else None
    if his is None or heard.doubt or heard.unit != definition.unit or not isinstance(value, units.Range):
        return heard
    here, words = unit_of(definition.unit, definition.quantity), heard.answer.words
    with suppress(units.Unclear):  # a figure that holds its unit is the same whatever unit is assumed
        if units.read_number(words, definition.quantity, his).value == value:
            return heard
    end = value.mid if heard.echo.startswith(f"{definition.name}: about ") else None
    ends = [(each - here.offset) / here.factor for each in ([end] if end is not None else [value.low, value.high])]
    meant = units.Range(*(units.to_si(each, his, definition.quantity) for each in (ends[0], ends[-1])))
    about = "about " if end is not None else ""
    told = [
        f"{about}{units.show(span, unit, definition.quantity)}"
        for span, unit in ((meant, his), (units.Range(value.mid, value.mid) if about else value, definition.unit))
    ]
    both = [understand(definition, each) for each in told]
    if any(one.fact is None or one.doubt for one in both):
        return heard
    likely = [definition.usual(one) for one in (meant, value)]
    if likely == [True, False] and key in instead and definition.quantity == "temperature":
        return both[0]  # an exhaust at "750 degrees"
    if key not in instead and likely != [True, False]:
        return heard
    speaks = "He speaks metric and names no unit" if key in instead else "He names no unit"
    return replace(heard, doubt=f"{speaks}; did you mean {' or '.join(told)}?")


def echoed(heard: Understood, definition: FactDef | None, instead: Instead) -> Understood:
    """An answer whose echo doesn't tell him again in the shop's units what he said in his."""
    if definition is None or (definition.quantity, definition.unit) not in instead:
        return heard
    return replace(heard, echo=told(_AT_HOME.sub("", heard.echo), instead))


def in_his_units(outcome: Consultation, instead: Instead, vocabulary: Mapping[str, FactDef]) -> Consultation:
    """The same with its figures, its questions and what is told in the caller's units."""
    if not instead:
        return outcome

    def lines(said: tuple[Line, ...]) -> tuple[Line, ...]:
        return tuple(replace(line, text=told(line.text, instead)) for line in said)

    def texts(said: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(told(text, instead) for text in said)

    return replace(
        outcome,
        verdict_words=told(outcome.verdict_words, instead),
        figures=tuple(_figure(figure, instead) for figure in outcome.figures),
        recommended=_option(outcome.recommended, instead),
        alternatives=tuple(_told(option, instead) for option in outcome.alternatives),
        two_stage=_option(outcome.two_stage, instead),
        requested=_option(outcome.requested, instead),
        requested_words=texts(outcome.requested_words),
        trade=tuple(_trade(trade, instead) for trade in outcome.trade),
        trade_words=told(outcome.trade_words, instead),
        advice=lines(outcome.advice),
        say=lines(outcome.say),
        cautions=tuple(_caution(caution, instead) for caution in outcome.cautions),
        next_steps=lines(outcome.next_steps),
        rests_on=tuple(
            replace(one, taken=told(one.taken, instead), why=told(one.why, instead)) for one in outcome.rests_on
        ),
        stands=told(outcome.stands, instead),
        holds=tuple(_hold(hold, instead) for hold in outcome.holds),
        switches=tuple(_switch(switch, instead) for switch in outcome.switches),
        understood=tuple(echoed(one, vocabulary.get(one.answer.fact), instead) for one in outcome.understood),
        questions=tuple(_question(one, instead) for one in outcome.questions),
        depends={rule: replace(on, where=told(on.where, instead)) for rule, on in outcome.depends.items()},
        unsettled=tuple(replace(one, given=told(one.given, instead)) for one in outcome.unsettled),
        slighter=tuple(_caution(caution, instead) for caution in outcome.slighter),
    )


def told(text: str, instead: Instead, difference: bool = False) -> str:
    """A text with its figures in the caller's units; a difference of temperatures is known by the word that follows
    ("40 °F cooler"), or because all of the text is one."""

    def other(found: re.Match[str]) -> str:
        quantity, unit = _WORDS[found["unit"]]
        if (quantity, unit) not in instead:
            return found[0]
        his, ends = instead[quantity, unit], [float(end.replace(",", "")) for end in found.group("low", "high") if end]
        if difference or found["difference"]:
            factor = unit_of(unit, quantity).factor
            shown = [units.show_difference(end * factor, his, quantity) for end in ends]
            shown[:-1] = [each.removesuffix(his).rstrip() for each in shown[:-1]]
            return " to ".join(dict.fromkeys(shown)) + (found["difference"] or "")
        si = [units.to_si(end, unit, quantity) for end in ends]
        return units.show_computed(units.Range(min(si), max(si)), his, quantity)

    return _TOLD.sub(other, text)


def _caution(caution: Caution, instead: Instead) -> Caution:
    return replace(caution, text=told(caution.text, instead), only_if=told(caution.only_if, instead))


def _question(one: OpenQuestion, instead: Instead) -> OpenQuestion:
    ask, listen_for, reason = (told(text, instead) for text in (one.ask, one.listen_for, one.reason))
    return replace(one, ask=ask, listen_for=listen_for, reason=reason)


def _figure(figure: Figure, instead: Instead) -> Figure:
    unit = instead.get((figure.quantity, figure.unit), figure.unit)
    return replace(figure, unit=unit, assumption=told(figure.assumption, instead))


def _option(option: Option | None, instead: Instead) -> Option | None:
    return None if option is None else _told(option, instead)


def _told(option: Option, instead: Instead) -> Option:
    return replace(
        option,
        figures=tuple(_figure(figure, instead) for figure in option.figures),
        gains=tuple(told(text, instead) for text in option.gains),
        loses=tuple(told(text, instead) for text in option.loses),
        out_words=tuple(told(text, instead) for text in option.out_words),
        to_mind=tuple(told(text, instead) for text in option.to_mind),
        hangs=tuple(told(text, instead) for text in option.hangs),
    )


def _trade(trade: DutyTrade, instead: Instead) -> DutyTrade:
    option = _told(trade.option, instead)
    return replace(trade, option=option, gains=option.gains, loses=option.loses)


def _hold(hold: Hold, instead: Instead) -> Hold:
    return replace(hold, unit=instead.get((hold.quantity, hold.unit), hold.unit))


def _switch(switch: Switch, instead: Instead) -> Switch:
    words, now = told(switch.words, instead), told(switch.now, instead)
    also = tuple(_switch(other, instead) for other in switch.also)
    return replace(switch, words=words, now=now, margin=told(switch.margin, instead, difference=True), also=also)
