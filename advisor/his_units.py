"""What a call comes to, in the units that the caller speaks in.

Everything before this tells its figures in the units of the shop. Where a caller gives a quantity in metric units,
figures and texts that are told to him give it so as well; who speaks metric in two quantities and in no other way is
told all of them so. Names of goods ("4 in V-band clamp") stay as the shop writes them, and so does power in hp unless
he says kW or PS himself.
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
from advisor.outcome import Caution, Consultation, DutyTrade, Figure, Hold, Line, Option, Switch, Understood
from advisor.quantities import unit_of

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
ENOUGH = 2
"""Quantities given in metric units from which on a caller counts as one who speaks metric."""
_WORDS = {"°F": ("temperature", "°F"), "psi": ("pressure", "psi"), "lb/min": ("mass flow", "lb/min"),
          "lb/h": ("mass flow", "lb/h"), "lb ft": ("torque", "lb ft"), "lb": ("mass", "lb"), "hp": ("power", "hp"),
          "mph": ("speed", "mph"), "miles an hour": ("speed", "mph"), "in": ("length", "in"),
          "ft": ("altitude", "ft")}  # fmt: skip
_NUMBER = r"(?<![\d.,/-])-?\d[\d,]*(?:\.\d+)?"
_TOLD = re.compile(
    rf"(?P<low>{_NUMBER})(?: to (?P<high>{_NUMBER}))? (?P<unit>{'|'.join(map(re.escape, _WORDS))})(?![\w/])"
    r"(?P<difference> (?:cooler|hotter|less|more|away)\b)?"
)


def his_units(understood: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> Instead:
    """The units that the caller's answers are given in, where they are others than the shop's."""
    spoken: dict[tuple[str, str], Counter[str]] = {}
    for heard in understood:
        definition = vocabulary.get(heard.answer.fact)
        key = ("", "") if definition is None else (definition.quantity, definition.unit)
        if key in METRIC and heard.unit:
            spoken.setdefault(key, Counter())[SAID.get(heard.unit, "")] += 1
    instead = {}
    for key, said in spoken.items():
        most, count = said.most_common(1)[0]
        if most and count >= said[""]:
            instead[key] = most
    if len(instead) >= ENOUGH and instead.keys() == spoken.keys() - ONLY_IF_SAID | instead.keys():
        instead |= {key: unit for key, unit in METRIC.items() if key not in ONLY_IF_SAID and key not in instead}
    return instead


def asked_for_unit(heard: Understood, definition: FactDef, instead: Instead) -> Understood:
    """An answer, doubted where it is a figure without a unit that may be meant in the caller's unit as well as in the
    shop's: "eighty", of one who tows two tonnes."""
    his = instead.get((definition.quantity, definition.unit))
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
    return replace(heard, doubt=f"He speaks metric and names no unit; did you mean {' or '.join(told)}?")


def in_his_units(outcome: Consultation, instead: Instead) -> Consultation:
    """The same with its figures and what is told in the caller's units."""
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
        questions=tuple(replace(one, reason=told(one.reason, instead)) for one in outcome.questions),
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
