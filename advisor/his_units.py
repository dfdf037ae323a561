"""What a call comes to, in the units that the caller speaks in.

Where a caller gives a quantity in metric units, figures and texts that are told to him give it so as well; who names
more figures in metric units than in others, and two at least, is told all of them so, and means them by a figure
without a unit. What tells a fact takes the knowledge ``speaking`` his units; figures that stand in texts are turned
into them here (``told``). Sizes that name goods in metric countries too ("4 in V-band clamp") are told both ways, and
power stays in hp unless he says kW or PS himself.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import TypeAlias

from advisor import units
from advisor.hearing import understand
from advisor.knowledge import FactDef, Knowledge
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
    ("speed", "ft/s"): "m/s",
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
_BESIDE_HIS = "".join(rf"(?<!{re.escape(unit)} \()" for unit in {*METRIC.values(), *SAID})
_NUMBER = rf"(?<![\d.,/-]){_BESIDE_HIS}-?\d[\d,]*(?:\.\d+)?"
_IN_A_PLACE = r"(?! in (?:the|a|an|all|stock|his|it|this|that|its|which|place)\b)"
_TOLD = re.compile(
    rf"(?P<low>{_NUMBER})(?: to (?P<high>{_NUMBER}))?{_IN_A_PLACE}[ -](?P<unit>{'|'.join(map(re.escape, _WORDS))})"
    r"(?![\w/])"
    r"(?P<difference> (?:cooler|hotter|less|more|away)\b)?"
)
_BETWEEN_UNITS = re.compile(r"[Dd]id you mean |^Which: ")
_INCHES_FIRST = re.compile(rf"{_NUMBER} in \(({_NUMBER} mm)\)")
_COMPARED = re.compile(r"(?: - [a-z][a-z' ]* [<>]=?| [+-]) $")
"""What stands before a difference in a condition: "this temperature - that one >= 50 °F"."""


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


def speaking(knowledge: Knowledge, instead: Instead) -> Knowledge:
    """The same knowledge with its figures in the caller's units: to tell them, and to hear what he says without a
    unit. It is equal to the shop's own, so nothing that is kept by knowledge may hold words."""
    return _speaking(knowledge, tuple(instead.items())) if instead else knowledge


@lru_cache(maxsize=8)
def _speaking(knowledge: Knowledge, instead: tuple[tuple[tuple[str, str], str], ...]) -> Knowledge:
    his = dict(instead)
    own = {name: in_unit(definition, his) for name, definition in knowledge.vocabulary.items()}
    return replace(knowledge, vocabulary=MappingProxyType(own))


def in_unit(definition: FactDef, instead: Instead) -> FactDef:
    """A fact as he measures it."""
    his = instead.get((definition.quantity, definition.unit))
    return definition if his is None else replace(definition, unit=his)


def asked_for_unit(heard: Understood, shops: FactDef, instead: Instead) -> Understood:
    """An answer, heard in his unit of the ``shops`` fact, doubted where it is a figure without a unit that the shop's
    unit fits as well: "eighty", of one who tows two tonnes. Of an exhaust at "750 degrees" everybody is asked."""
    key = (shops.quantity, shops.unit)
    speaks = key in instead
    his = instead.get(key) or (METRIC.get(key) if shops.quantity == "temperature" else None)
    if his is None or (heard.doubt and not speaks):
        return heard
    words = heard.answer.words
    metric = heard if speaks else understand(replace(shops, unit=his), words)
    shop = understand(shops, words) if speaks else heard
    ones = [one for one in (metric, shop) if one.fact is not None and not one.not_sure]
    values = [one.fact.value for one in ones if one.fact is not None and isinstance(one.fact.value, units.Range)]
    if not values or len(set(values)) == 1 < len(ones):  # a figure that holds its unit is the same by either
        return heard
    named = [_said_figure(one, his if one is metric else shops.unit, shops) for one in ones]
    if metric.fact is None:
        return replace(shop, doubt=f"He speaks metric and names no unit; did you mean {named[0]}?") if speaks else heard
    likely = [shops.usual(value) for value in values]
    either = f"did you mean {' or '.join(named)}?"
    if not speaks:
        return replace(heard, doubt=f"He names no unit; {either}") if likely == [True, False] else heard
    if len(ones) == 1 or not likely[1]:
        return heard
    return replace(heard, doubt=f"He speaks metric and names no unit; {either}")


def kept(heard: Understood, shops: FactDef, instead: Instead) -> Understood:
    """An answer heard in his units as it is kept: told in one figure, and in words that mean the same to the shop; a
    figure without a unit gets his."""
    heard, his = echoed(heard, shops, instead), instead.get((shops.quantity, shops.unit))
    if his is None or heard.fact is None or heard.not_sure:
        return heard
    there = understand(shops, heard.answer.words).fact
    if there is not None and there.value == heard.fact.value:
        return heard
    return replace(heard, answer=replace(heard.answer, words=_said_figure(heard, his, shops)))


def _said_figure(heard: Understood, unit: str, definition: FactDef) -> str:
    """A figure as an answer: "about 60 km/h"."""
    value = heard.fact.value if heard.fact is not None else None
    if not isinstance(value, units.Range):
        return heard.answer.words
    if heard.echo.startswith(f"{definition.name}: about "):
        return f"about {units.show(value.mid, unit, definition.quantity)}"
    return units.show(value, unit, definition.quantity)


def echoed(heard: Understood, shops: FactDef | None, instead: Instead) -> Understood:
    """An answer whose echo tells one figure, in a unit of his."""
    if shops is None or heard.fact is None or not isinstance(heard.fact.value, units.Range):
        return heard
    his = instead.get((shops.quantity, shops.unit))
    if his is None:
        return heard
    if heard.unit in SAID and not heard.not_sure:
        return replace(heard, echo=_AT_HOME.sub("", heard.echo))
    figure = units.show(heard.fact.value, his, shops.quantity)
    not_sure = "not sure, taken as " if heard.not_sure else ""
    return replace(heard, echo=f"{shops.name}: {not_sure}{figure}", read_back="")


def teller(outcome: Consultation, vocabulary: Mapping[str, FactDef], own: Iterable[str] = ()) -> Callable[[str], str]:
    """What turns the figures of a text into his units, but for what he said himself, and other words of his ``own``."""
    instead = his_units(outcome.understood, vocabulary)
    if not instead:
        return str
    said = {heard.answer.words for heard in outcome.understood} | {*own}
    kept = sorted((words for words in said if told(words, instead) != words), key=len, reverse=True)
    quoted = re.compile("|".join(rf"(?<=[“\"]){re.escape(words)}(?=[”\"])" for words in kept)) if kept else None

    def tell(text: str) -> str:
        if text in said or _BETWEEN_UNITS.search(text):
            return text
        if quoted is None:
            return told(text, instead)
        parts, at = list[str](), 0
        for found in quoted.finditer(text):
            parts += [told(text[at : found.start()], instead), found[0]]
            at = found.end()
        return "".join((*parts, told(text[at:], instead)))

    return tell


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
        holds=tuple(hold_told(hold, instead) for hold in outcome.holds),
        switches=tuple(switch_told(switch, instead) for switch in outcome.switches),
        understood=tuple(echoed(one, vocabulary.get(one.answer.fact), instead) for one in outcome.understood),
        questions=tuple(_question(one, instead) for one in outcome.questions),
        depends={rule: replace(on, where=told(on.where, instead)) for rule, on in outcome.depends.items()},
        unsettled=tuple(
            replace(one, given=told(one.given, instead), words=texts(one.words)) for one in outcome.unsettled
        ),
        parts=tuple(
            replace(part, words=told(part.words, instead, goods=True), why=told(part.why, instead, goods=True))
            for part in outcome.parts
        ),
        separated=told(outcome.separated, instead),
        ruled_out=tuple(replace(out, words=texts(out.words)) for out in outcome.ruled_out),
        asked=tuple(replace(one, answers=lines(one.answers)) for one in outcome.asked),
        slighter=tuple(_caution(caution, instead) for caution in outcome.slighter),
    )


def told(text: str, instead: Instead, difference: bool = False, goods: bool = False) -> str:
    """A text with its figures in the caller's units; a difference of temperatures is known by the word that follows
    ("40 °F cooler") or the condition before it, or because all of the text is one. The sizes that name ``goods`` stand
    beside his: "76 mm (3 in)"."""

    def other(found: re.Match[str]) -> str:
        quantity, unit = _WORDS[found["unit"]]
        if (quantity, unit) not in instead:
            return found[0]
        his, ends = instead[quantity, unit], [float(end.replace(",", "")) for end in found.group("low", "high") if end]
        if difference or found["difference"] or _COMPARED.search(text, 0, found.start()):
            factor = unit_of(unit, quantity).factor
            apart = [units.show_difference(end * factor, his, quantity) for end in ends]
            apart[:-1] = [each.removesuffix(his).rstrip() for each in apart[:-1]]
            return " to ".join(dict.fromkeys(apart)) + (found["difference"] or "")
        si = [units.to_si(end, unit, quantity) for end in ends]
        span = units.Range(min(si), max(si))
        shown = (units.show if goods and quantity == "length" else units.show_computed)(span, his, quantity)
        if any(shown.startswith("0 ") and end for end in ends):  # "60 lb / 1 hp"
            shown = units.show(span, his, quantity)
        return f"{shown} ({found[0]})" if goods and all(end * 4 % 1 == 0 for end in ends) else shown

    if ("length", "in") in instead and not goods:
        text = _INCHES_FIRST.sub(r"\1", text)
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


def hold_told(hold: Hold, instead: Instead) -> Hold:
    """How far a figure holds, in his units."""
    return replace(hold, unit=instead.get((hold.quantity, hold.unit), hold.unit))


def switch_told(switch: Switch, instead: Instead) -> Switch:
    """A change with which another turbo would be advised, in his units."""
    words, now = told(switch.words, instead), told(switch.now, instead)
    also = tuple(switch_told(other, instead) for other in switch.also)
    return replace(switch, words=words, now=now, margin=told(switch.margin, instead, difference=True), also=also)
