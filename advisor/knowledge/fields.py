"""Pydantic over text data: shared field types, and its refusals as placed faults in the trade's words."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    StringConstraints,
    ValidationError,
)

from . import patterns
from .places import Fault, Place, did_you_mean, listed, nearest, one_or_more
from .source import Document, Steps
from .yaml_text import DASHES

DEEPEST = 3
"""So many groups of an entry lie in each other."""
MOST_TOLD = 100
"""Faults of an entry, and of the entries of a file, that are told at once."""

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

_NO_REASONS = {"", "todo", "tbd", "tba", "?", "-", "none", "because", "fixme", "xxx"}


def _reason(words: str) -> str:
    if words and words.strip().lower().strip(".") in _NO_REASONS:
        raise Wrong(f"'{words}' is no reason", "say why, so that the next person can judge it")
    return words


_YES_NO = {"yes": True, "no": False, "true": True, "false": False}


def _yes_no(value: object) -> object:
    if isinstance(value, str) and value.lower() in _YES_NO:
        return _YES_NO[value.lower()]
    raise Wrong(_shown(value, "is neither yes nor no"), "write yes or no")


@dataclass(frozen=True, eq=False)
class Check:
    """A field's own check of what is written, and what a JSON Schema says of that: all that it can say."""

    reader: Callable[[object], object]
    schema: Mapping[str, Any]

    def __call__(self, value: object) -> object:
        return self.reader(value)


YesNo = Annotated[
    bool, BeforeValidator(Check(_yes_no, {"type": ["boolean", "string"], "pattern": patterns.YES_OR_NO}))
]


def one_of(*choices: str) -> BeforeValidator:
    """A text that must be one of `choices`; anything else is answered with the nearest."""

    def check(value: object) -> object:
        if isinstance(value, str) and value in choices:
            return value
        otherwise = f"write one of: {listed(choices)}" if len(choices) > 1 else f"write '{choices[0]}'"
        if value == "":
            raise Wrong("nothing is written here", otherwise)
        mend = did_you_mean(value, choices, otherwise) if isinstance(value, str) else otherwise
        raise Wrong(_shown(value, "is not known here"), mend)

    return BeforeValidator(Check(check, {"enum": list(choices)}))


def read_by(reader: Callable[[str], Any], **schema: Any) -> BeforeValidator:
    """A text that `reader` turns into the field's value; `reader` raises `Wrong`. `schema` is what a JSON Schema can
    say of the text, as `pattern` or `maxLength`."""

    def check(value: object) -> object:
        if isinstance(value, str):
            return reader(value)
        raise Wrong("a single value is wanted here", "write it on one line after the key")

    return BeforeValidator(Check(check, schema))


Reason = Annotated[Text, read_by(_reason, pattern=patterns.none_of(_NO_REASONS))]
"""A text that says why."""


def _shown(value: object, said: str) -> str:
    return f"'{value}' {said}" if isinstance(value, str) else f"what stands here {said}"


def validate(model: type[Model], document: Document, path: Steps = ()) -> Model | None:
    """The data at `path` as a `model`, or None with the refusals added to `document.faults`. Keys with a slip are put
    right in the document once they are told, so that what stands below them is looked at too."""
    data: Any = document.data
    for step in path:
        data = data[step]
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found = error.errors(include_url=False)
    details = _Refusals(found[:MOST_TOLD], data, model)
    document.faults.extend(_fault(detail, document, path, details) for detail in details.told())
    if len(found) > MOST_TOLD:
        what = f"{len(found) - MOST_TOLD:,} more faults of this entry are not told"
        document.faults.append(Fault(document.place(path), what, "mend the others first"))
        return None
    for _ in range(DEEPEST):
        slips = details.slips()
        for steps, key in slips.items():
            document.rename((*path, *steps), key)
        if not slips:
            break
        try:
            model.model_validate(data)
            break
        except ValidationError as error:
            details = _Refusals(error.errors(include_url=False)[:MOST_TOLD], data, model)
        faults = [_fault(detail, document, path, details) for detail in details.told()]
        document.faults.extend(fault for fault in faults if fault not in document.faults)
    return None


def entries(
    model: type[Model], document: Document, key: str, refused: Callable[[Steps], None] = lambda path: None
) -> list[tuple[Steps, Model]]:
    """The good entries of the list under the one top key `key`; refusals go to `document.faults`, and each entry with
    some is handed to `refused`."""
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
    told = len(document.faults)
    for index in range(len(found)):
        if len(document.faults) - told >= MOST_TOLD:
            what = f"from here on, {len(found) - index:,} entries of '{key}' are not looked at"
            document.faults.append(Fault(document.place((key, index)), what, "mend those above first"))
            break
        if (entry := validate(model, document, (key, index))) is not None:
            good.append(((key, index), entry))
        else:
            refused((key, index))
    return good


def _below(model: type[BaseModel], steps: Steps) -> type[BaseModel]:
    """The model of the group in which the last of the steps stands."""
    for step in steps[:-1]:
        if isinstance(step, str):
            found = next((field for name, field in model.model_fields.items() if field.alias == step), None)
            model = next(_models(found.annotation), model) if found else model
    return model


def _names(model: type[BaseModel]) -> list[str]:
    """The keys of an entry, what names it first and what all kinds share last."""
    names = [field.alias or name for name, field in model.model_fields.items()]
    return sorted(names, key=lambda key: key == "accepted")


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


class _Refusals:
    """What pydantic refuses of one entry, so that each slip is told once."""

    def __init__(self, details: Iterable[Any], data: Any, model: type[BaseModel]) -> None:
        self.details = list(details)
        self.data = data
        self.model = model
        self.unknown = {tuple(one["loc"]): one for one in self.details if one["type"] == "extra_forbidden"}

    def told(self) -> Iterator[Any]:
        """The refusals without those that only follow from another one."""
        meant = {(*steps[:-1], key) for steps in self.unknown if (key := self.meant(steps))}
        moved = {str(steps[-1]) for steps in self.unknown if self.moved(steps)}
        torn = {(*steps[:-1], whole[0]) for steps in self.unknown if (whole := self.torn(steps))}
        later = {steps for steps in self.unknown if (whole := self.torn(steps)) and not whole[2]}
        for detail in self.details:
            steps, kind = tuple(detail["loc"]), detail["type"]
            if kind == "missing" and (steps in meant or steps[-1] in moved):
                continue
            if kind == "too_short" and detail["input"]:
                continue
            if (steps in torn and kind != "extra_forbidden") or steps in later:
                continue
            yield detail

    def slips(self) -> dict[Steps, str]:
        """The unknown keys that are one of the known with a slip, and which: no two for the same."""
        found: dict[Steps, str] = {}
        for steps in self.unknown:
            key = self.meant(steps) if self.unknown[steps]["input"] != "" and not self.moved(steps) else ""
            if key and (*steps[:-1], key) not in {(*other[:-1], meant) for other, meant in found.items()}:
                found[steps] = key
        return found

    def known(self, steps: Steps) -> list[str]:
        """The keys that may stand beside the last of the steps."""
        return _names(_below(self.model, steps))

    def group(self, steps: Steps) -> Any:
        """What stands around the last of the steps."""
        data = self.data
        for step in steps[:-1]:
            data = data[step]
        return data

    def meant(self, steps: Steps) -> str:
        """The key that an unknown one was meant to be, where it is that key with a slip; else ""."""
        written, known = str(steps[-1]), self.known(steps)
        empty, first = self.unknown[steps]["input"] == "", next(iter(self.group(steps)))
        if empty and written == first and known[0] not in self.group(steps):
            return known[0]  # `- complaint:` for `- choice: complaint`
        if self.unknown[steps]["input"] == "":  # `{bearing journal 270}`: a key without its colon
            begun = [key for key in known if re.match(rf"{re.escape(key)}[ :]", written)]
            return max(begun, key=len, default="")
        close = self.other_word(steps) or self.nearest(steps) or ""
        return close if close not in self.group(steps) else ""

    def nearest(self, steps: Steps) -> str | None:
        """The known key that an unknown one is closest to: before others one that is missing, then one not there."""
        written, known, there = str(steps[-1]), self.known(steps), self.group(steps)
        beside = [detail for detail in self.details if tuple(detail["loc"][:-1]) == steps[:-1]]
        missing = [str(detail["loc"][-1]) for detail in beside if detail["type"] == "missing"]
        within = (missing, [key for key in known if key not in there], known)
        return next((close for keys in within if (close := nearest(written, keys))), None)

    def other_word(self, steps: Steps) -> str:
        """The key that an unknown one says in other words; else ""."""
        meant = _OTHER_WORDS.get(str(steps[-1]).lower(), "")
        return meant if meant in self.known(steps) else ""

    def moved(self, steps: Steps) -> str:
        """How to mend a key that belongs into another group of the entry; "" for any other."""
        written, here = str(steps[-1]), _below(self.model, steps)
        for field in here.model_fields.values():
            for model in _models(field.annotation):
                if model is not here and written in _names(model):
                    return f"indent it to stand below '{field.alias}:'"
        if len(steps) > 1 and written in _names(self.model):
            return "indent it less, like the keys above"
        return ""

    def torn(self, steps: Steps) -> tuple[str, str, bool] | None:
        """Key, value and place in its row of a piece that a comma has torn off inside braces (`{price: $1,485}`)."""
        group = self.group(steps)
        if not _is_piece(steps[-1]) or self.unknown[steps]["input"] != "":
            return None
        before = [key for key in list(group)[: list(group).index(steps[-1])] if group[key] or not _is_piece(key)]
        value = group[before[-1]] if before else ""
        if not isinstance(value, str) or not value[-1:].isdigit():
            return None
        return before[-1], value, list(group).index(steps[-1]) == list(group).index(before[-1]) + 1


# What people write for a key, in lower case.
_OTHER_WORDS = {
    "reason": "because", "why": "because", "explanation": "because", "source": "basis", "reference": "basis",
    "author": "kept by", "keeper": "kept by", "by": "kept by", "name": "rule", "title": "rule", "id": "rule",
    "if": "when", "condition": "when", "conditions": "when", "action": "then", "actions": "then", "do": "then",
    "warning": "caution", "warn": "caution", "danger": "caution", "tell": "say", "speak": "say", "words to say": "say",
    "advice": "recommend", "advise": "recommend", "parts": "add part", "part": "add part", "exclude": "rule out",
    "points": "prefer", "level": "severity", "gravity": "severity", "question": "ask", "options": "choices",
    "cost": "price", "days": "delivery",
}  # fmt: skip


def _is_piece(key: str | int) -> bool:
    return isinstance(key, str) and key[:1].isdigit()


def begin_each(lines: int) -> str:
    """How to mend so many lines that are read as one text where a list belongs; "" for one."""
    return f"begin each of the {lines} lines with '- '" if lines > 1 else ""


def _fault(detail: Any, document: Document, base: Steps, refusals: _Refusals) -> Fault:
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
            mend = f"add '{last}: ...' to the braces" if document.in_braces(path) else f"add a line '{last}: ...'"
            return Fault(place, f"'{last}' is missing", mend)
        case "extra_forbidden":
            return _unknown_key(last, tuple(detail["loc"]), document, path, refusals)
        case "value_error" if isinstance(cause, Wrong):
            return Fault(place, cause.what, cause.mend)
        case "string_too_short" if last.isdigit():
            return Fault(place, f"an entry of '{detail['loc'][-2]}' is empty", "write it out, or leave it out")
        case "string_too_short":
            return Fault(place, f"'{last}' is empty", "write it out")
        case "string_too_long":
            return Fault(place, f"'{last}' is too long", "say it shorter")
        case "too_short":
            return Fault(place, f"'{last}' is empty", "give at least one entry")
        case "string_type":
            return Fault(place, "a text is wanted here", "write it on one line, in quotes if it holds ': ' or '{'")
        case "list_type" | "tuple_type":
            lines = document.lines_of(path) if document.has(path) else []
            mend = _as_list(given, document.in_braces(path[:-1]))
            if isinstance(given, str) and given[:1].isalnum():
                mend = begin_each(len(lines)) or mend
            return Fault(place, f"'{last}' wants a list", mend)
        case "model_type" | "dict_type":
            return _no_group(last, given, place, _below(refusals.model, (*detail["loc"], 0)))
        case "int_parsing" | "int_type":
            return Fault(place, _shown(given, "is no whole number"), "write a number such as 12")
        case "float_parsing" | "float_type" | "finite_number":
            return Fault(place, _shown(given, "is not a number"), _number_alone(given, last))
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            return Fault(place, _shown(given, "is out of bounds"), f"write {_bound(detail)}")
        case _:
            return Fault(place, f"'{last}' can't be like this", "compare it with the other entries")


def _unknown_key(last: str, steps: Steps, document: Document, path: Steps, refusals: _Refusals) -> Fault:
    place = document.key_place(path)
    known = refusals.known(steps)
    if (whole := refusals.torn(steps)) is not None:
        key, value, _ = whole
        thousands = re.match(r"\d{3}\b", last) and value.lstrip("$") != "0"
        mend = "leave the comma out, or put the whole text in quotes" if thousands else "write decimals as in 2.5"
        return Fault(document.place((*path[:-1], key)), f"a comma tears '{value}' and '{last}' apart", mend)
    what = f"'{last}' is not a key that is known here"
    if refusals.unknown[steps]["input"] == "" and (key := refusals.meant(steps)):
        rest = last.removeprefix(key).lstrip(": ")
        return Fault(place, f"'{last}' has no ': '", f"write '{key}: {rest}'")
    if refusals.unknown[steps]["input"] == "":
        mend = "if it belongs to the text before the comma, put that whole text in quotes"
        return Fault(place, what, did_you_mean(last, known, mend))
    if other := refusals.other_word(steps):
        return Fault(place, what, f"did you mean '{other}'?")
    close, alike = refusals.nearest(steps), one_or_more(last, known)
    moved = "" if alike and alike not in refusals.group(steps) else refusals.moved(steps)
    return Fault(place, what, moved or (f"did you mean '{close}'?" if close else "leave it out"))


def _as_list(given: object, in_braces: bool) -> str:
    """How to mend a text that stands where a list belongs."""
    if isinstance(given, str) and given.startswith("- "):
        return "type a plain space after each '-', not a hard one"
    if isinstance(given, str) and given.startswith("-"):
        return "leave a space after each '-'"
    if isinstance(given, str) and given[:1] in DASHES:
        return f"begin each entry with '- ', not with '{given[0]}'"
    if isinstance(given, str) and given[:1].isalnum() and len(given) <= 60 and " - " not in given:
        if in_braces or ", " in given:
            return f"write [{given}]"
        return f"write '- {given}' on a line of its own below the key"
    return "begin each entry with '- ' on its own line, or write [a, b]"


def _no_group(key: str, given: object, place: Place, wanted: type[BaseModel]) -> Fault:
    """What is wrong where 'key: value' lines belong."""
    what = "a group of 'key: value' lines is wanted here"
    first = next(iter(_names(wanted)), "")
    if given == "" and (not key or key.isdigit()):
        return Fault(place, "nothing stands after this '-'", "write the entry after it, or take the '-' out")
    if given == "":
        return Fault(place, f"nothing stands below '{key}:'", "indent the lines that belong to it")
    if isinstance(given, list):
        return Fault(place, what, "leave the '- ' out")
    if isinstance(given, str) and (parts := re.fullmatch(r"(.+?)\s*(?:=|\bis\b)\s*(.+)", given)):
        return Fault(place, what, f"write '{parts[1]}: {parts[2]}' on a line of its own below '{key}:'")
    if key.isdigit() and isinstance(given, str):
        return Fault(place, what, f"write '{first}: {given}'")
    return Fault(place, what, "write 'key: value' lines")


def _number_alone(given: object, key: str) -> str:
    if key == "known" and isinstance(given, str) and (percent := re.fullmatch(r"(\d+(?:\.\d+)?)\s*%", given)):
        return f"write the share of 1: {float(percent[1]) / 100:g}"
    if isinstance(given, str) and (parts := re.fullmatch(r"(\d+),(\d+)", given)):
        return f"write decimals as in {parts[1]}.{parts[2]}"
    found = re.match(r"\d+(?:\.\d+)?|\.\d+", given) if isinstance(given, str) else None
    return f"write the number alone: {found[0]}" if found else "write a plain number such as 12"


_BOUNDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def _bound(detail: Any) -> str:
    return " and ".join(f"{_BOUNDS[name]} {value:g}" for name, value in detail["ctx"].items() if name in _BOUNDS)


def sorted_faults(documents: Iterable[Document]) -> list[Fault]:
    """The faults of all documents by place."""
    return sorted({fault for document in documents for fault in document.faults})
