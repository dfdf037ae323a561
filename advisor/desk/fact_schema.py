"""What a JSON Schema can say of a fact's keys beside each other: which go with its kind, source and quantity."""

from typing import Any

from advisor.knowledge.measure import DIMENSIONS
from advisor.knowledge.patterns import figure, needs_unit, span, unit
from advisor.quantities import QUANTITIES

Schema = dict[str, Any]

_WITH_CHOICES = {"required": ["kind"], "properties": {"kind": {"enum": ["choice", "several"]}}}
_A_NUMBER = {"required": ["kind"], "properties": {"kind": {"const": "number"}}}
_OTHER_KIND = {"required": ["kind"], "properties": {"kind": {"enum": ["choice", "several", "yes/no", "text"]}}}
_NO = {"enum": [False, "no", "No", "NO", "false", "False", "FALSE"]}
_NOTHING = {"required": ["weight"], "properties": {"weight": {"enum": [0, "0"]}}}
_CHOICES = {"minItems": 2, "contains": {"not": _NOTHING}}
_OF_ASKING = ("ask", "ask when", "check by", "together", "in short", "told for")
_NOT_ASKED = {"required": ["source"], "properties": {"source": {"enum": ["heard", "rule", "computed", "candidate"]}}}


def of_facts() -> Schema:
    """These conditions, as `allOf` of the schema of a fact."""
    none = dict.fromkeys(("quantity", "plausible", "prior", "typical"), False)
    rules: list[Schema] = [
        {"if": _WITH_CHOICES, "then": {"required": ["choices"], "properties": {"choices": _CHOICES}}},
        {"if": {"not": _WITH_CHOICES, "required": ["kind"]}, "then": {"properties": {"choices": {"maxItems": 0}}}},
        {"if": _A_NUMBER, "then": {"required": ["quantity"]}},
        {
            "if": _OTHER_KIND,
            "then": {
                "properties": {
                    **none,
                    "unit": {"maxLength": 0},
                    "denied by": {"maxItems": 0},
                    "limit": _NO,
                    "left open": _NO,
                    "told for": False,
                }
            },
        },
        {
            "if": {"required": ["kind"], "properties": {"kind": {"enum": ["choice", "several", "text"]}}},
            "then": {"properties": {"said as": {"maxItems": 0}}},
        },
        {
            "if": {"required": ["kind"], "properties": {"kind": {"const": "yes/no"}}},
            "then": {"properties": _said_as({"enum": [True, False, "yes", "no"]})},
        },
        {
            "if": _NOT_ASKED,
            "then": {"properties": dict.fromkeys(_OF_ASKING, False)},
            "else": {
                "required": ["ask", "why"],
                "dependentRequired": {"together": ["in short"], "in short": ["together"]},
            },
        },
    ]
    return {"allOf": [*rules, *map(_of_quantity, DIMENSIONS)]}


def _said_as(means: Schema) -> Schema:
    return {"said as": {"items": {"properties": {"means": means}}}}


def _of_quantity(quantity: str) -> Schema:
    """Units and figures of a number of this quantity."""
    text: Schema = {"type": "string"} if needs_unit(quantity) else {}
    symbol = rf"^{unit(quantity)}$" if any(QUANTITIES[quantity].units) else "^$"
    then: Schema = {
        "properties": {
            "unit": {"pattern": symbol if needs_unit(quantity) else f"{symbol}|^$"},
            "plausible": {"type": "string", "pattern": span(quantity)},
            "prior": {"type": "string", "pattern": span(quantity)},
            "typical": {**text, "pattern": figure(quantity)},
            **_said_as({**text, "anyOf": [{"pattern": figure(quantity)}, {"pattern": span(quantity)}]}),
        },
        **({"required": ["unit"]} if needs_unit(quantity) else {}),
    }
    return {"if": {"required": ["quantity"], "properties": {"quantity": {"const": quantity}}}, "then": then}
