"""What a JSON Schema says of conditions and of names: each with what it means, so that an editor offers them as they
are typed and explains them as the pointer rests on them.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from advisor.knowledge import FactDef
from advisor.units import show

Schema = dict[str, Any]

_GROUPS = (("all", "All of these hold."), ("any", "At least one holds."), ("none", "None holds."))


def names(meanings: Mapping[str, str]) -> Schema:
    """One of these names, each with what it means ("" where that goes without saying)."""
    return {"anyOf": [{"const": name, **_about(means)} for name, means in meanings.items()]}


def of_conditions(vocabulary: Mapping[str, FactDef]) -> Schema:
    """A condition or a group of them: any text, since only the check reads it, with those that can be written of the
    facts as they are, and what each fact is."""
    facts = [one for fact in vocabulary.values() for one in _of_fact(fact)]
    inner = {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/condition"}}
    groups: Schema = {
        "type": "object",
        "minProperties": 1,
        "maxProperties": 1,
        "additionalProperties": False,
        "properties": {word: {**inner, "description": means} for word, means in _GROUPS},
    }
    return {"anyOf": [{"type": "string", "minLength": 1}, *facts, groups]}


def _of_fact(fact: FactDef) -> Iterator[Schema]:
    """The conditions of a fact: those that hang on a value, whether it is known, and all that begin with its name."""
    for condition, means in _values(fact):
        yield {"const": condition, **_about(means)}
    yield {"enum": [f"{fact.name} is known", f"{fact.name} is not known"], **_about(fact.why)}
    yield {"type": "string", "pattern": rf"^{re.escape(fact.name)}\b", **_about(fact.why)}


def _values(fact: FactDef) -> Iterator[tuple[str, str]]:
    """Conditions on the value of a fact, each with what it means."""
    verb = "include" if fact.kind == "several" else "is"
    for choice in fact.choices:
        yield f"{fact.name} {verb} {choice.name}", choice.means or fact.why
    if fact.kind == "yes/no":
        yield f"{fact.name} is yes", fact.why
        yield f"{fact.name} is no", fact.why
    figure = fact.typical if fact.typical is not None or fact.prior is None else fact.prior.mid
    if figure is not None:
        shown = re.sub(r"^\$(.*)", r"\1 $", show(figure, fact.unit, fact.quantity).replace(",", ""))
        yield f"{fact.name} > {shown}", fact.why
        yield f"{fact.name} < {shown}", fact.why


def _about(means: str) -> Schema:
    return {"description": means} if means else {}
