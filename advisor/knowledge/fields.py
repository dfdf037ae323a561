"""Pydantic over text data: shared field types, and its refusals as placed faults in the trade's words."""

from collections.abc import Callable, Iterable, Iterator
from typing import Annotated, Any, TypeVar, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    StringConstraints,
    ValidationError,
)

from .places import Fault, did_you_mean, listed
from .source import Document, Steps

Model = TypeVar("Model", bound=BaseModel)


class Wrong(ValueError):
    """Raised by a field's own check: what is wrong, and how to mend it; both are shown as they stand."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}; {mend}")
        self.what = what
        self.mend = mend


class Entry(BaseModel):
    """Base of all entries: written keys may have spaces (`listen for`), unknown keys are refused."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        alias_generator=lambda name: name.replace("_", " "),
        allow_inf_nan=False,
    )


def _one_line(words: str) -> str:
    return " ".join(words.split())


Text = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=2000), AfterValidator(_one_line)]
"""A text of at least one character; line breaks of the file become spaces."""

_NO_REASONS = {"todo", "tbd", "tba", "?", "-", "none", "because", "fixme", "xxx", "..."}


def _reason(words: str) -> str:
    if words.strip().lower().strip(".") in _NO_REASONS:
        raise Wrong(f"'{words}' is no reason", "say why, so that the next person can judge it")
    return words


_YES_NO = {"yes": True, "no": False, "true": True, "false": False}


def _yes_no(value: object) -> object:
    if isinstance(value, str) and value.lower() in _YES_NO:
        return _YES_NO[value.lower()]
    raise Wrong(_shown(value, "is neither yes nor no"), "write yes or no")


YesNo = Annotated[bool, BeforeValidator(_yes_no)]


def one_of(*choices: str) -> BeforeValidator:
    """A text that must be one of `choices`; anything else is answered with the nearest."""

    def check(value: object) -> object:
        if isinstance(value, str) and value in choices:
            return value
        otherwise = f"write one of: {listed(choices)}"
        mend = did_you_mean(value, choices, otherwise) if isinstance(value, str) else otherwise
        raise Wrong(_shown(value, "is not known here"), mend)

    return BeforeValidator(check)


def read_by(reader: Callable[[str], Any]) -> BeforeValidator:
    """A text that `reader` turns into the field's value; `reader` raises `Wrong`."""

    def check(value: object) -> object:
        if isinstance(value, str):
            return reader(value)
        raise Wrong("a single value is wanted here", "write it on one line after the key")

    return BeforeValidator(check)


Reason = Annotated[Text, read_by(_reason)]
"""A text that says why."""


def _shown(value: object, said: str) -> str:
    return f"'{value}' {said}" if isinstance(value, str) else f"what stands here {said}"


def validate(model: type[Model], document: Document, path: Steps = ()) -> Model | None:
    """The data at `path` as a `model`, or None with the refusals added to `document.faults`."""
    data: Any = document.data
    for step in path:
        data = data[step]
    try:
        return model.model_validate(data)
    except ValidationError as error:
        document.faults.extend(_fault(detail, document, path, model) for detail in error.errors(include_url=False))
        return None


def entries(model: type[Model], document: Document, key: str) -> list[tuple[Steps, Model]]:
    """The good entries of the list under the one top key `key`; refusals go to `document.faults`."""
    data = document.data
    if not isinstance(data, dict):
        if not document.faults:
            document.faults.append(Fault(document.place(), f"the file has no '{key}:' list", f"begin it with '{key}:'"))
        return []
    for name in data:
        if name != key:
            what = f"'{name}' is no key of this file"
            document.faults.append(Fault(document.key_place((name,)), what, f"the only top key here is '{key}'"))
    found = data.get(key, [])
    if not isinstance(found, list):
        document.faults.append(Fault(document.place((key,)), f"'{key}' holds no list", "begin each entry with '- '"))
        return []
    good: list[tuple[Steps, Model]] = []
    for index in range(len(found)):
        if (entry := validate(model, document, (key, index))) is not None:
            good.append(((key, index), entry))
    return good


def _keys(model: type[BaseModel], steps: Steps) -> list[str]:
    """The keys that may stand beside the last of the steps below the model."""
    for step in steps[:-1]:
        if isinstance(step, str):
            found = next((field for name, field in model.model_fields.items() if field.alias == step), None)
            model = next(_models(found.annotation), model) if found else model
    return [field.alias or name for name, field in model.model_fields.items()]


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _fault(detail: Any, document: Document, base: Steps, model: type[BaseModel]) -> Fault:
    """One refusal of pydantic, placed where the file has it; steps that the file doesn't have are skipped."""
    path = base
    for step in detail["loc"]:
        if document.has((*path, step)):
            path = (*path, step)
    last = str(detail["loc"][-1]) if detail["loc"] else ""
    place = document.place(path)
    given = detail["input"]
    cause = detail.get("ctx", {}).get("error")
    match detail["type"]:
        case "missing":
            return Fault(place, f"'{last}' is missing", f"add a line '{last}: ...'")
        case "extra_forbidden":
            what = f"'{last}' is not a key that is known here"
            known = _keys(model, detail["loc"])
            if given == "":
                mend = "if it belongs to the text before the comma, put that whole text in quotes"
                return Fault(document.key_place(path), what, did_you_mean(last, known, mend))
            return Fault(document.key_place(path), what, did_you_mean(last, known, "leave it out"))
        case "value_error" if isinstance(cause, Wrong):
            return Fault(place, cause.what, cause.mend)
        case "string_too_short":
            return Fault(place, f"'{last}' is empty", "write it out")
        case "string_too_long":
            return Fault(place, f"'{last}' is too long", "say it shorter")
        case "too_short":
            return Fault(place, f"'{last}' is empty", "give at least one entry")
        case "string_type" | "string_sub_type":
            return Fault(place, "a text is wanted here", "write it on one line, in quotes if it holds ': ' or '{'")
        case "list_type" | "tuple_type":
            return Fault(place, f"'{last}' wants a list", "begin each entry with '- ' on its own line, or write [a, b]")
        case "model_type" | "dict_type" | "model_attributes_type":
            return Fault(place, "a group of 'key: value' lines is wanted here", "write 'key: value' lines")
        case "literal_error":
            return Fault(place, _shown(given, "is not known here"), f"write one of: {detail['ctx']['expected']}")
        case "int_parsing" | "int_type" | "int_from_float":
            return Fault(place, _shown(given, "is no whole number"), "write a number such as 12")
        case "float_parsing" | "float_type" | "finite_number":
            return Fault(place, _shown(given, "is not a number"), "write a plain number such as 12")
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            return Fault(place, _shown(given, "is out of bounds"), f"write {_bound(detail)}")
        case _:
            return Fault(place, _shown(given, "doesn't fit here"), f"compare '{last}' with the other entries")


_BOUNDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def _bound(detail: Any) -> str:
    return " and ".join(f"{_BOUNDS[name]} {value:g}" for name, value in detail["ctx"].items() if name in _BOUNDS)


def sorted_faults(documents: Iterable[Document]) -> list[Fault]:
    """The faults of all documents by place."""
    return sorted({fault for document in documents for fault in document.faults})
