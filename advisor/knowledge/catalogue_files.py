"""Reads the shop's catalogue from its files."""

import re
from collections.abc import Collection, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import Any

from .accepted import answers_at
from .catalogue import AnsweredWare, Catalogue
from .catalogue_checks import Written, check_entries, check_refused, check_whole
from .fields import entries, sorted_faults
from .piecewise import read_entries
from .places import Fault, Place, did_you_mean, listed, looks_copied, nearest
from .source import Document, Steps, files_in
from .wares import CompressorWheel, Frame, Gate, Housing, Part, TurbineWheel, Turbo, Ware

MODELS: Mapping[str, type[Ware]] = {
    "frames": Frame,
    "compressor wheels": CompressorWheel,
    "turbine wheels": TurbineWheel,
    "turbos": Turbo,
    "housings": Housing,
    "gates": Gate,
    "fittings": Part,
}
ESSENTIAL = ("frames", "compressor wheels", "turbine wheels", "turbos", "housings")
"""What no catalogue can do without."""


def read(folder: Path, faults: list[Fault]) -> Catalogue:
    """The catalogue in `folder`; all that is wrong with it is added to `faults`, placed in `catalogue/FILE`.

    With faults, the result holds what could be read and only serves to find more of them.
    """
    files = sorted(files_in(folder, ".yaml"), key=lambda file: (looks_copied(file.name), file.name))
    if not files:
        faults.append(Fault(Place(folder.name, 1, 1), "holds no catalogue files", "put the YAML files there"))
    documents = [read_entries(file, f"{folder.name}/{file.name}") for file in files]
    found: dict[str, dict[str, Ware]] = {key: {} for key in MODELS}
    located: dict[tuple[str, str], tuple[Document, Steps]] = {}
    answered: list[AnsweredWare] = []
    keys: set[str] = set()
    refused: list[tuple[str, Document, Steps]] = []
    for document in documents:
        key = _top_key(document)
        if key is None:
            continue
        keys.add(key)
        again: list[Fault] = []
        own = entries(MODELS[key], document, key, partial(_keep, refused, key, document))
        for path, entry in own:
            code, code_field = entry.code, entry.code_field()
            if code in found[key]:
                elsewhere, steps = located[key, code]
                first = elsewhere.place((*steps, code_field))
                what = f"{code_field} {code} is there a second time (first at {first})"
                here = document.place((*path, code_field))
                again.append(Fault(here, what, "give it a code of its own, or delete one"))
                continue
            if entry.accepted:
                answers = answers_at(document, path, entry.accepted)
                answered.append(AnsweredWare(document.place(path), answers))
                entry = entry.model_copy(update={"accepted": ()})  # whether it is meant so is nothing that is sold
            found[key][code] = entry
            located[key, code] = (document, path)
        if len(again) == len(own) > 1:
            what = f"this file is likely a copy: all its {len(own)} {key} stand in other files too"
            again = [Fault(again[0].place, what, "move it out of the folder, or give them codes of their own")]
        document.faults.extend(again)
    groups: dict[str, Any] = {
        key.replace(" ", "_"): MappingProxyType(dict(sorted(group.items()))) for key, group in found.items()
    }
    fields = {name: _fields(document, path) for name, (document, path) in located.items()}
    field_places = {(*name, field): place for name, own in fields.items() for field, place in own.items()}
    catalogue = Catalogue(
        **groups,
        places=MappingProxyType({name: document.place(path) for name, (document, path) in located.items()}),
        field_places=MappingProxyType(field_places),
        answered=tuple(answered),
    )
    misread = sorted_faults(documents)
    unread = frozenset(key for document in documents if _unread(document) for key in _keys_of(document))
    written = Written(located, {key: _written_codes(documents, key) for key in MODELS}, unread)
    astray = list(check_entries(catalogue, written))
    for key, document, path in refused:
        told = {fault.place for fault in document.faults}
        beside = check_refused(key, _data_at(document, path), partial(_place_in, document, path), written)
        astray += [fault for fault in beside if fault.place not in told]
    whole = [] if misread or astray else list(check_whole(catalogue, written))  # else what goes with what isn't known
    if whole and (gone := [key for key in ESSENTIAL if key not in keys]):  # all the rest follows from that
        what, mend = f"no file here holds the {listed(gone)}", f"put back the file that begins with '{gone[0]}:'"
        whole = [Fault(Place(folder.name, 1, 1), what, mend)]
    faults.extend((*misread, *astray, *whole))
    return catalogue


def _keep(refused: list[tuple[str, Document, Steps]], key: str, document: Document, path: Steps) -> None:
    """Keep an entry with faults, to look at the rest of it later."""
    if isinstance(_data_at(document, path), dict):
        refused.append((key, document, path))


def _data_at(document: Document, path: Steps) -> Any:
    data: Any = document.data
    for step in path:
        data = data[step]
    return data


def _place_in(document: Document, path: Steps, *steps: str | int) -> Place:
    return document.place((*path, *steps))


def _written_codes(documents: Sequence[Document], key: str) -> set[str]:
    """Codes under `key`, those of entries with faults too (in their keys as well): what refers to them is not at
    fault."""
    code_field = MODELS[key].code_field()
    data = [document.data for document in documents if isinstance(document.data, dict)]
    lists = [found for one in data for name, found in one.items() if (nearest(name, MODELS) or name) == key]
    rows = [entry for found in lists if isinstance(found, list) for entry in found if isinstance(entry, dict) and entry]
    codes = {code for entry in rows if isinstance(code := entry.get(code_field, next(iter(entry.values()))), str)}
    return codes.union(*(document.lost for document in documents if key in _keys_of(document)))


def _fields(document: Document, path: Steps) -> Mapping[str, Place]:
    """Where the values of an entry stand, by their keys."""
    entry: Any = document.data
    for step in path:
        entry = entry[step]
    return {field: document.place((*path, field)) for field in entry}


def _unread(document: Document) -> bool:
    return document.data is None and bool(document.faults)


def _keys_of(document: Document) -> Collection[str]:
    """The part of the catalogue that a file holds, as far as it can be told; every part where it can't."""
    top = re.search(r"^([a-z ]+):", document.source, re.MULTILINE)
    close = nearest(top[1], MODELS) if top else None
    return [close] if close is not None else list(MODELS)


def _top_key(document: Document) -> str | None:
    """The part of the catalogue that a file holds; None, with a fault, when it holds none."""
    if document.data is None and document.faults:
        return None
    keys = list(document.data) if isinstance(document.data, dict) else []
    key = next((key for key in keys if key in MODELS), None)
    if key is None:
        written = (
            f"'{keys[0]}' is no part of a catalogue" if keys else "the file holds no part of a catalogue"
        )
        mend = did_you_mean(keys[0] if keys else "", MODELS, f"begin it with one of: {listed(tuple(MODELS))}")
        document.faults.append(Fault(document.place(), written, mend))
    return key
