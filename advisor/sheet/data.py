"""The JSON of a call: everything that the dialogue shows, as plain data.

Numbers stand in the shop's unit, named beside them, as ``low`` and ``high`` (equal for a single value). The form
is documented in DEVELOPERS.md, "The JSON of a call".
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor import units
from advisor.hearing.understood import value_words
from advisor.his_units import his_units, speaking
from advisor.inference.agenda import Conflict, Firing, Taken
from advisor.inference.facts import Fact, Value
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import Caution, Consultation, Figure, Line, OpenQuestion, Option, PartLine, Resting, Understood
from advisor.sheet.text import request_answer
from advisor.units import Range

_VERDICTS = {1: "true", 0: "false", -1: "not yet known"}


def as_data(consultation: Consultation, knowledge: Knowledge) -> dict[str, Any]:
    """The call as JSON-able data."""
    knowledge = speaking(knowledge, his_units(consultation.understood, knowledge.vocabulary))
    vocabulary = knowledge.vocabulary
    c = consultation
    return {
        "verdict": c.verdict,
        "verdict words": c.verdict_words,
        "answers": [_understood(heard, vocabulary.get(heard.answer.fact)) for heard in c.understood],
        "request": {
            "fixes": [{"what": what, "value": value} for what, value in c.request_fixes],
            "leaves open": list(c.request_leaves_open),
            "doubts": list(c.request_doubts),
            "verdict": c.requested_is,
            "words": list(c.requested_words),
            "answer": request_answer(c),
        },
        "recommended": _option(c.recommended),
        "alternatives": [_option(option) for option in c.alternatives],
        "two stage": _option(c.two_stage),
        "requested": _option(c.requested),
        "candidates": {
            "kept": [{"code": code, "title": title, "points": round(points, 2)} for code, title, points in c.kept],
            "ruled out": [
                {"code": out.code, "title": out.title, "by": list(out.by), "words": list(out.words)}
                for out in c.ruled_out
            ],
            "separated": c.separated,
        },
        "trade": {
            "words": c.trade_words,
            "duties": [
                {
                    "duty": trade.duty,
                    "share": round(trade.share, 4),
                    "option": _option(trade.option),
                    "gains": list(trade.gains),
                    "loses": list(trade.loses),
                }
                for trade in c.trade
            ],
        },
        "figures": [_figure(figure) for figure in c.figures],
        "advice": _lines(c.advice),
        "say": _lines(c.say),
        "asked": [{"question": one.question, "answers": _lines(one.told)} for one in c.asked],
        "cautions": [_caution(caution) for caution in c.cautions],
        "slighter cautions": [_caution(caution) for caution in c.slighter],
        "open": {
            rule: {"holds": on.condition, "decided by": list(on.facts), "share": round(on.share, 2)}
            for rule, on in c.depends.items()
        },
        "closer figures": [
            {"fact": one.fact, "given": one.given, "check by": one.check}
            | {"settles": list(one.hanging), "text": one.text}
            for one in c.unsettled
        ],
        "parts": [_part(part) for part in c.parts],
        "next steps": _lines(c.next_steps),
        "rests on": [_resting(one) for one in c.rests_on],
        "stands": c.stands,
        "open questions": [_question(question) for question in c.questions],
        "facts": {name: _fact(fact, vocabulary.get(name)) for name, fact in sorted(c.facts.items())},
        "holds": [
            {
                "fact": hold.fact,
                "text": hold.text,
                "over": _span(hold.over, hold.unit, hold.quantity),
                "below": hold.below,
                "above": hold.above,
            }
            for hold in c.holds
        ],
        "instead": [
            {
                "turbo": switch.turbo,
                "fact": switch.fact,
                "value": switch.words,
                "now": switch.now,
                "margin": switch.margin,
                "also": [{"fact": other.fact, "value": other.words, "now": other.now} for other in switch.also],
                "text": switch.text,
            }
            for switch in c.switches
        ],
        "conflicts": [_conflict(conflict, vocabulary.get(conflict.fact)) for conflict in c.conflicts],
        "trace": [_firing(firing, knowledge) for firing in c.firings],
        "fired by": c.fired_by,
        "knowledge": c.knowledge_digest,
    }


def _value(value: Value, definition: FactDef | None) -> dict[str, Any]:
    shown: dict[str, Any] = {"text": value_words(value, definition)}
    match value:
        case Range() if definition is not None and definition.quantity:
            shown |= _span(value, definition.unit, definition.quantity)
        case Range():
            shown |= {"low": value.low, "high": value.high, "unit": ""}
        case frozenset():
            shown["value"] = sorted(value)
        case _:
            shown["value"] = value
    return shown


def _span(value: Range, unit: str, quantity: str) -> dict[str, Any]:
    low, high = (float(f"{units.from_si(end, unit, quantity):.6g}") for end in (value.low, value.high))
    return {"low": low, "high": high, "unit": unit}


def _fact(fact: Fact, definition: FactDef | None) -> dict[str, Any]:
    origin = fact.origin
    return _value(fact.value, definition) | {
        "origin": {
            "kind": origin.kind,
            "source": origin.source,
            "place": None if origin.place is None else str(origin.place),
            "reference": origin.reference,
        }
    }


def _understood(heard: Understood, definition: FactDef | None) -> dict[str, Any]:
    return {
        "fact": heard.answer.fact,
        "words": heard.answer.words,
        "understood": None if heard.fact is None else _value(heard.fact.value, definition),
        "echo": heard.echo,
        "ask again": heard.again,
        "doubt": heard.doubt,
        "not sure": heard.not_sure,
    }


def _resting(one: Resting) -> dict[str, Any]:
    return {
        "fact": one.fact,
        "taken as": one.taken,
        "why": one.why,
        "rule": one.rule,
        "check by": one.check,
        "not sure": one.unsure,
        "may change the turbo": one.moves,
        "text": one.text,
    }


def _caution(caution: Caution) -> dict[str, Any]:
    return {
        "severity": caution.severity,
        "text": caution.text,
        "rule": caution.rule,
        "only if": caution.only_if,
        "at once": caution.at_once,
    }


def _figure(figure: Figure) -> dict[str, Any]:
    value = None if figure.value is None else _span(figure.value, figure.unit, figure.quantity)
    return {
        "name": figure.name,
        "about": figure.about,
        "text": figure.text,
        **(value or {"low": None, "high": None, "unit": figure.unit}),
        "band": None if figure.band is None else _span(figure.band, figure.unit, figure.quantity),
        "over his ranges": None if figure.over is None else _span(figure.over, figure.unit, figure.quantity),
        "basis": figure.basis,
        "note": figure.note,
        "assumption": figure.assumption,
        "meaning": figure.meaning,
        "source": figure.source,
    }


def _option(option: Option | None) -> dict[str, Any] | None:
    if option is None:
        return None
    return {
        "role": option.role,
        "code": option.code,
        "title": option.title,
        "points": round(option.points, 2),
        "price": option.price,
        "figures": [_figure(figure) for figure in option.figures],
        "gains": list(option.gains),
        "loses": list(option.loses),
        "to mind": list(option.to_mind),
        "ruled out by": list(option.ruled_out_by),
        "ruled out because": list(option.out_words),
        "hangs": list(option.hangs),
        "closest because": option.closest_because,
        "operating line": [
            {
                "duty": duty,
                "engine speed": round(units.from_si(speed, "rpm", "rotation"), 1),
                "converged": converged,
                "figures": {
                    name: _span(Range(value, value), unit, quantity)
                    for (name, quantity, unit), value in zip(option.line.columns, values, strict=False)
                },
            }
            for duty, speed, converged, values in option.line.rows
        ],
    }


def _lines(lines: tuple[Line, ...]) -> list[dict[str, str]]:
    return [{"text": line.text, "rule": line.rule, "topic": line.topic} for line in lines]


def _part(part: PartLine) -> dict[str, Any]:
    return {
        "code": part.code,
        "words": part.words,
        "quantity": part.quantity,
        "price each": part.price,
        "days": part.days,
        "why": part.why,
        "rule": part.rule,
        "open": part.open,
        "open price": None if part.open_price is None else {"low": part.open_price.low, "high": part.open_price.high},
    }


def _question(question: OpenQuestion) -> dict[str, Any]:
    return {
        "fact": question.fact,
        "ask": question.ask,
        "listen for": question.listen_for,
        "why": question.why,
        "reason": question.reason,
        "urgent": question.urgent,
        "asked by": list(question.asked_by),
        "choices": [name for name, _ in question.choices],
        "worth": round(question.worth, 4),
        "settles": question.settles,
        "together": list(question.together),
        "in one breath": question.in_one_breath,
    }


def _conflict(conflict: Conflict, definition: FactDef | None) -> dict[str, Any]:
    values = {by: value_words(value, definition) for by, value in conflict.values.items()}
    return {
        "fact": conflict.fact,
        "values": values,
        "candidates": None if conflict.candidates is None else len(conflict.candidates),
    }


def _firing(firing: Firing, knowledge: Knowledge) -> dict[str, Any]:
    rule = knowledge.rule(firing.rule)
    return {
        "rule": firing.rule,
        "stage": rule.stage,
        "place": str(firing.place),
        "because": rule.because,
        "basis": rule.basis,
        "conditions": [
            {"text": leaf.text, "verdict": "by candidate" if leaf.verdict.ndim else _VERDICTS[leaf.at(None)]}
            for leaf in firing.leaves
        ],
        "facts": {fact.name: _fact(fact, knowledge.vocabulary.get(fact.name)) for fact in firing.facts},
        "candidate facts": list(firing.columns),
        "not known": list(firing.unknown),
        "candidates": None if firing.mask is None else int(np.count_nonzero(firing.mask)),
        "points": None if firing.points is None else _points(firing.points, firing.mask),
    }


def _points(taken: Taken, mask: NDArray[np.bool_] | None) -> dict[str, float]:
    """From how few to how many points are taken from the candidates that a rule fired for."""
    own = taken.sure if mask is None or not taken.sure.ndim else taken.sure[mask]
    return {"low": round(float(own.min()), 2), "high": round(float(own.max()), 2)}
