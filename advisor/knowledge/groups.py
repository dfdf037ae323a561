"""Written lists of conditions with their groups (`all`, `any`, `none`) as one condition."""

import re
from dataclasses import replace

from .conditions import All, AnyOf, Condition, NoneOf
from .fields import begin_each
from .meaning import Reader
from .places import Fault, Place, did_you_mean
from .source import Data, Document, Steps
from .yaml_text import DASHES

_VERB = re.compile(r"[<>]|\b(is|includes?)\b")
_ALONE = re.compile(rf"[-{''.join(DASHES)}*]* ?([^,]*(?:{_VERB.pattern})[^,]*)")
_GROUPS: dict[str, type[All] | type[AnyOf] | type[NoneOf]] = {"all": All, "any": AnyOf, "none": NoneOf}


def read_conditions(document: Document, path: Steps, reader: Reader) -> All | None:
    """The list at `path`, all of which must hold; None, with faults in the reader, when any can't be read."""
    data = document.data
    for step in path:
        data = data[step]  # type: ignore[index]
    parts = _parts(data, document, path, reader)
    return All(parts, place=document.place(path), text="") if parts is not None else None


def read_alone(document: Document, path: Steps, reader: Reader) -> None:
    """What is wrong with the one condition that stands at `path` where a list of them belongs."""
    data = document.data
    for step in path:
        data = data[step]  # type: ignore[index]
    if isinstance(data, str) and (found := _ALONE.fullmatch(data)) and document.on_one_line(path):
        reader.condition(found[1], lambda offset: document.place_in(path, found.start(1) + offset))
    else:
        _read_lines(_conditions(document, path), reader)


def _conditions(document: Document, path: Steps) -> list[tuple[str, Place]]:
    """The lines of a text of which each is a condition, since their '- ' was left out; none of any other text."""
    lines = document.lines_of(path)
    return lines if len(lines) > 1 and all(_VERB.search(text) for text, _ in lines) else []


def _read_lines(lines: list[tuple[str, Place]], reader: Reader) -> None:
    """What is wrong with each of some conditions."""
    for text, place in lines:
        reader.condition(text, lambda offset, place=place: replace(place, column=place.column + offset))  # type: ignore[misc]


def _parts(data: Data | None, document: Document, path: Steps, reader: Reader) -> tuple[Condition, ...] | None:
    if not isinstance(data, list):
        lines = _conditions(document, path)
        mend = begin_each(len(lines)) or "write each condition on its own line after '- '"
        reader.faults.append(Fault(document.place(path), "a list of conditions is wanted here", mend))
        _read_lines(lines, reader)
        return None
    if not data:
        reader.faults.append(Fault(document.place(path), "no condition is listed here", "write at least one"))
        return None
    parts: list[Condition | None] = []
    for index, part in enumerate(data):
        if index and _is_torn(data[index - 1], part):
            parts.append(None)
        elif index + 1 < len(data) and _is_torn(part, data[index + 1]):
            what = f"a comma tears '{part}' and '{data[index + 1]}' apart"
            mend = "put the whole condition in quotes, or on a line of its own"
            decimal = re.search(r"(\d+),((?!\d{3}\b)\d+)", f"{part},{data[index + 1]}")
            if decimal and " one of " not in part:
                mend = f"write decimals as in {decimal[1]}.{decimal[2]}"
            reader.faults.append(Fault(document.place((*path, index)), what, mend))
            parts.append(None)
        else:
            parts.append(_condition(part, document, (*path, index), reader))
    good = tuple(part for part in parts if part is not None)
    return good if len(good) == len(parts) else None


def _is_torn(before: Data, part: Data) -> bool:
    """Whether a comma inside brackets has cut one condition in two: `[altitude > 5,000 ft]`, `[grade > 5,5 %]`."""
    if not isinstance(before, str) or not isinstance(part, str) or _VERB.search(part):
        return False
    return " one of " in before or (before[-1:].isdigit() and part[:1].isdigit())


def _condition(data: Data, document: Document, path: Steps, reader: Reader) -> Condition | None:
    if isinstance(data, str) and (lines := _conditions(document, path)):
        what = f"{len(lines)} conditions are read as one here"
        reader.faults.append(Fault(document.place(path), what, begin_each(len(lines))))
        _read_lines(lines, reader)
        return None
    if isinstance(data, str):
        return reader.condition(data, lambda offset: document.place_in(path, offset))
    place = document.place(path)
    if isinstance(data, dict) and len(data) == 1:
        (word, inner), *_ = data.items()
        if word in _GROUPS and not inner and not isinstance(inner, list):
            mend = f"write what belongs to it after '- ' below it, indented further than '{word}:'"
            reader.faults.append(Fault(place, f"'{word}:' holds no conditions", mend))
            return None
        if word in _GROUPS:
            parts = _parts(inner, document, (*path, word), reader)
            return _GROUPS[word](parts, place=place, text=word) if parts is not None else None
        if isinstance(inner, str):
            mend = did_you_mean(word, _GROUPS, f"write '{word} is {inner}'")
        else:
            mend = did_you_mean(word, _GROUPS, "write all, any or none")
        reader.faults.append(Fault(place, f"'{word}' is no group of conditions", mend))
        return None
    mend = "write each condition on its own line, groups as 'any:' with a list below"
    reader.faults.append(Fault(place, "this is no condition", mend))
    return None
