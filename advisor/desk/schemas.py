"""A JSON Schema (draft 2020-12) for each kind of file, made from the models that load it, for completion in editors.

The loader takes every scalar as the text that was written, an editor takes `6` for a number: so a scalar may be
either in the schema. Names of facts, choices of keys and kinds of parts come from the shop's own knowledge.
"""

import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, BeforeValidator

from advisor.desk.condition_schema import names, of_conditions
from advisor.desk.fact_schema import of_facts
from advisor.desk.hover import FILES, KEYS, OF_KINDS, OF_SCRIPTS, SAID
from advisor.expected import KINDS
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.catalogue_files import MODELS
from advisor.knowledge.fields import Check
from advisor.knowledge.patterns import PLAIN
from advisor.knowledge.rulefile import RuleEntry
from advisor.knowledge.vocabulary import FactEntry
from advisor.scripted import CONCLUDED, OF_A_VARIANT, PARTS, VERDICTS

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SCALAR: Schema = {"type": ["string", "number", "boolean"]}


def schemas(knowledge: Knowledge) -> dict[str, Schema]:
    """File name → schema: facts, rules, catalogue and scripts of the shop."""
    facts = knowledge.vocabulary
    asked = {name: f"{fact.ask} {fact.why}" for name, fact in sorted(facts.items()) if fact.source == "asked"}
    condition = of_conditions(facts)
    vocabulary, rules = {"facts": {**_entry(FactEntry), **of_facts()}}, {"rules": _rule(knowledge, asked)}
    wares = {key: _entry(ware) for key, ware in MODELS.items()}
    return {
        "facts.schema.json": _whole("The fact vocabulary", vocabulary, ("facts",), condition),
        "rules.schema.json": _whole("A rule file", rules, ("rules",), condition),
        "catalogue.schema.json": _whole("A catalogue file", wares, ()),
        "scripts.schema.json": _script(asked),
    }


def as_text(schema: Schema) -> str:
    """The schema as a file holds it."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def in_an_editor(schemas_in: Path, shop: Path) -> list[str]:
    """How an editor comes to use the schemas of a folder, as lines of text: what to put into the files of a shop."""
    told = ["An editor that knows YAML completes and explains a file by the schema that its first line names:"]
    for files, folder, kind in (
        ("facts.yaml", shop, "facts"),
        ("files of rules", shop, "rules"),
        ("files of the catalogue", shop / "catalogue", "catalogue"),
        ("calls in a folder beside", shop.parent / "calls", "scripts"),
    ):
        schema = (schemas_in / f"{kind}.schema.json").resolve()
        try:
            found = os.path.relpath(schema, folder.resolve())
        except ValueError:  # on another drive
            found = str(schema)
        told.append(f"  {files + ':':<26}# yaml-language-server: $schema={Path(found).as_posix()}")
    return told


def _whole(title: str, lists: dict[str, Schema], required: Iterable[str], condition: Schema | None = None) -> Schema:
    """A file whose top keys hold lists of entries, with a `condition` where these have some."""
    definitions: Schema = {} if condition is None else {"condition": condition}
    properties = {}
    for key, entry in lists.items():
        definitions |= entry.pop("$defs", {})
        properties[key] = {"type": "array", "items": entry, "description": FILES[key]}
    limits: Schema = {"required": list(required)} if required else {"minProperties": 1, "maxProperties": 1}
    return {
        "$schema": DIALECT,
        "title": title,
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
        **limits,
        "$defs": definitions,
    }


_ALONE: Schema = {"exclusiveMinimum": 0, "maximum": 100}
_IN_WORDS: list[Schema] = [
    {"type": "string", "pattern": r"^\d+(\.\d+)?$"},
    {"type": "string", "pattern": r"^-?[\d.]+(\s+to\s+-?[\d.]+)+\s+as\s+.+\s+goes\s+from\s+.+\s+to\s+.+$"},
]


def _entry(model: type[BaseModel]) -> Schema:
    """The schema of one entry as its file has it."""
    schema = model.model_json_schema()
    for part in (schema, *schema.get("$defs", {}).values()):
        of = next((one for one in _models(model) if one.__name__ == part.get("title")), None)
        for key, value in part.get("properties", {}).items():
            said = _said(of, key) if of is not None else {}
            part["properties"][key] = _written(value, said) | {"description": KEYS[key]}
    for key in ("when", "ask when"):
        if key in schema["properties"]:
            schema["properties"][key] |= {"items": {"$ref": "#/$defs/condition"}, "minItems": 1}
    return schema


def _models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        for inner in _inner(field.annotation):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                yield from _models(inner)


def _inner(annotation: Any) -> Iterator[Any]:
    yield annotation
    for one in get_args(annotation):
        yield from _inner(one)


def _said(model: type[BaseModel], key: str) -> Schema:
    """What a field's own check says of the text, {} when it says nothing."""
    field = next((f for name, f in model.model_fields.items() if (f.alias or name) == key), None)
    return {} if field is None else _check_in((*field.metadata, *_inner(field.annotation)))


def _check_in(marks: Iterable[Any]) -> Schema:
    for mark in marks:
        for inner in (mark, *getattr(mark, "__metadata__", ())):
            if isinstance(inner, BeforeValidator) and isinstance(inner.func, Check):
                return dict(inner.func.schema)
    return {}


def _written(value: Schema, said: Schema) -> Schema:
    """A field as it may be written: absent rather than null, scalars as text or as what they look like."""
    if "anyOf" in value:
        rest = [one for one in value["anyOf"] if one.get("type") != "null"]
        value = {**{k: v for k, v in value.items() if k not in ("anyOf", "default")}, **rest[0]}
    if "enum" in said:
        return said
    match value.get("type"):
        case "array":
            items = value.get("items") or {}
            return {**value, "items": _written(items, said) if "type" in items else items}
        case _ if "type" in said:
            return said
        case "number" | "integer":
            return {**value, "pattern": PLAIN, **said, "type": [value["type"], "string"]}
        case "string" if "enum" not in value:
            return {**value, **said, "type": SCALAR["type"]}
    return value


def _rule(knowledge: Knowledge, asked: dict[str, str]) -> Schema:
    schema = _entry(RuleEntry)
    then = schema["$defs"]["ThenEntry"]["properties"]
    for key, source in (("set", "rule"), ("assume", "asked")):
        facts = {name: fact for name, fact in knowledge.vocabulary.items() if fact.source == source}
        then[key] = {
            "type": "object",
            "description": KEYS[key],
            "additionalProperties": False,
            "properties": {name: _value(fact) for name, fact in facts.items()},
        }
    for key in ("ask", "ask first"):
        then[key]["items"] = names(asked)
    for key in ("penalise", "prefer"):
        then[key] = {"anyOf": [{**_ALONE, "type": "number"}, *_IN_WORDS], "description": KEYS[key]}
    then["add part"]["items"] = {"enum": sorted(knowledge.catalogue.kinds)}
    schema["$defs"]["ThenEntry"]["dependentRequired"] = {
        "caution": ["severity"],
        "severity": ["caution"],
        "at once": ["caution"],
    }
    return schema


def _value(fact: FactDef) -> Schema:
    about: Schema = {"description": fact.why} if fact.why else {}
    match fact.kind:
        case "choice":
            return {**names(_means(fact)), **about}
        case "several":
            return {"anyOf": [*names(_means(fact))["anyOf"], {"type": "array", "items": names(_means(fact))}], **about}
        case "yes/no":
            return {"enum": [True, False, "yes", "no"], **about}
        case _:
            return {**SCALAR, **about}


def _means(fact: FactDef) -> dict[str, str]:
    """By choice what it means, and what the fact is: an editor shows the one in the place of the other."""
    return {choice.name: ": ".join(filter(None, (choice.means, fact.why))) for choice in fact.choices}


def _script(asked: dict[str, str]) -> Schema:
    """The schema of a scripted call, from what its reader knows."""
    said = {name: {**SCALAR, "description": f"{what} {SAID}"} for name, what in asked.items()}
    answers = {"type": "array", "items": _one_of(said)}
    wanted = {"type": "array", "items": _one_of({kind: {**SCALAR, "description": OF_KINDS[kind]} for kind in KINDS})}
    of_conclude: Schema = {
        "verdict": {"enum": list(VERDICTS)},
        "must": wanted,
        "must not": wanted,
        "figures": {"type": "object", "additionalProperties": SCALAR},
        "asks first": {"type": "array", "items": names(asked)},
        "outcome": {"type": "array", "items": {"type": "string"}},
    }
    conclude = {key: {**of_conclude[key], "description": OF_SCRIPTS[key]} for key in CONCLUDED}
    parts: Schema = {
        "call": SCALAR,
        "about": SCALAR,
        "answers": answers,
        "conclude": _closed(conclude),
        "but": SCALAR,
        "without": {"type": "array", "items": names(asked)},
    }
    of_a_variant = {key: {**parts[key], "description": OF_SCRIPTS[key]} for key in OF_A_VARIANT}
    parts["variants"] = {"type": "array", "items": _closed(of_a_variant)}
    return {
        "$schema": DIALECT,
        "title": "A scripted call",
        **_closed({key: {**parts[key], "description": OF_SCRIPTS[key]} for key in PARTS}),
        "required": ["answers"],
    }


def _closed(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _one_of(properties: Schema) -> Schema:
    """An entry of one key."""
    return {**_closed(properties), "minProperties": 1, "maxProperties": 1}
