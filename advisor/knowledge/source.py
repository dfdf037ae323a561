"""YAML files as plain text data with the place of everything: the only door for the shop's files.

Scalars stay the text that was written (`no`, `1:30`, `0150`, `14,000`): the declared kind of a fact decides
later what they mean. The reader's events are walked without recursion, so that hostile files (aliases,
tags, depth, size, encoding) end in a placed fault before anything is built from them.
"""

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeAlias

import yaml

from .places import Fault, Place
from .yaml_text import BREAK, NEVER_OPENED, explain, raw_offset

MAX_BYTES = 1 << 20
MAX_DEPTH = 32

Data: TypeAlias = str | list[Any] | dict[str, Any]
Steps: TypeAlias = tuple[str | int, ...]

_SECOND, _KEY = -1, -2  # last steps of paths that no file can have
_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ufffe\uffff\ud800-\udfff]")
_INVISIBLE = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
_ODD_INDENT = re.compile("^(?: *)([\t\u00a0])", re.MULTILINE)
_HARD_SPACE = re.compile("[\u00a0\u2007\u2009\u202f]")
_DASH_BELOW = re.compile(r"(?:\r\n|[\r\n])[ ]*(- )")
CURLY = tuple("\u201c\u201d\u201e\u2018\u201a")
_UNOPENED = re.compile(r'[^"]+[^"\s\d]"')
_LOST_TEXT = re.compile(r"[ \t]+#(?=\w)")


@dataclass(slots=True)
class Document:
    """One file: its data (None when unreadable), what the reader met at each path, and the faults."""

    file: str
    source: str = ""
    data: Data | None = None
    nodes: dict[Steps, Any] = field(default_factory=dict, repr=False)
    keys: dict[Steps, Any] = field(default_factory=dict, repr=False)
    faults: list[Fault] = field(default_factory=list)
    lost: frozenset[str] = frozenset()
    """What may be the names of entries that could not be read."""
    written: tuple[str, ...] = ()
    """The lines as the file has them, where some were put right to be read."""

    def has(self, path: Steps) -> bool:
        """Whether something is written at `path`."""
        return path in self.nodes

    def in_braces(self, path: Steps) -> bool:
        """Whether what stands at `path` is written in braces or brackets."""
        return bool(getattr(self.nodes.get(path), "flow_style", False))

    def on_one_line(self, path: Steps) -> bool:
        """Whether what stands at `path` is written on one line."""
        event = self.nodes[path]
        return bool(event.start_mark.line == event.end_mark.line)

    def lines_of(self, path: Steps) -> list[tuple[str, Place]]:
        """The lines of a plain text at `path`, each with its place; none of what is in quotes or no text, nor where one
        begins with a dash."""
        event = self.nodes[path]
        if getattr(event, "style", "-"):
            return []
        lines = BREAK.split(self.source[event.start_mark.index : event.end_mark.index])
        indents = [event.start_mark.column, *(len(line) - len(line.lstrip()) for line in lines[1:])]
        first = event.start_mark.line + 1
        placed = ((line.strip(), Place(self.file, first + at, indents[at] + 1)) for at, line in enumerate(lines))
        found = [(line, self.in_file(place)) for line, place in placed if line]
        return [] if any(line.startswith("-") for line, _ in found) else found

    def rename(self, path: Steps, key: str) -> None:
        """Take what stands at `path` for what stands under another key there, and keep its places."""
        group: Any = self.data
        for step in path[:-1]:
            group = group[step]
        renamed = {key if name == path[-1] else name: value for name, value in group.items()}
        group.clear()
        group.update(renamed)
        for places in (self.nodes, self.keys):
            below = [steps for steps in places if steps[: len(path)] == path]
            places.update({(*path[:-1], key, *steps[len(path) :]): places[steps] for steps in below})

    def place(self, path: Steps = ()) -> Place:
        """Place of the value at `path`, or of the nearest thing above it that the file has."""
        while path not in self.nodes:
            if not path:
                return Place(self.file, 1, 1)
            path = path[:-1]
        return self.in_file(_place_of(self.nodes[path], self.file))

    def in_file(self, place: Place) -> Place:
        """The place, or the end of its line where the file's own line is shorter than what was read."""
        if place.line > len(self.written):
            return place
        return replace(place, column=min(place.column, len(self.written[place.line - 1]) + 1))

    def key_place(self, path: Steps) -> Place:
        """Place of the key that names the value at `path`; of the value itself in a list."""
        return self.in_file(_place_of(self.keys[path], self.file)) if path in self.keys else self.place(path)

    def place_in(self, path: Steps, offset: int) -> Place:
        """Place of character `offset` of the text at `path`, through quotes, escapes and folded lines."""
        event = self.nodes.get(path)
        if event is None or not hasattr(event, "style"):
            return self.place(path)
        start = self.place(path)
        raw = self.source[event.start_mark.index : event.end_mark.index]
        if not event.style and raw.startswith(event.value):
            return self.in_file(Place(self.file, start.line, start.column + offset))
        passed = raw[: raw_offset(raw, event.value, event.style, offset)]
        lines = BREAK.split(passed)
        if len(lines) == 1:
            return self.in_file(Place(self.file, start.line, start.column + len(passed)))
        return self.in_file(Place(self.file, start.line + len(lines) - 1, len(lines[-1]) + 1))


def _place_of(event: Any, file: str) -> Place:
    return Place(file, event.start_mark.line + 1, event.start_mark.column + 1)


def read_yaml(path: Path, name: str) -> Document:
    """Read one file; `name` is what places call it. Never raises for what the file holds."""
    try:
        if path.is_symlink() and not path.exists():
            return _refused(Place(name, 1, 1), "is a link to a file that is gone", "mend the link, or delete it")
        if not path.exists():
            return _refused(Place(name, 1, 1), "there is no such file", "put it there")
        if not path.is_file():
            return _refused(Place(name, 1, 1), "is not a file", "put a YAML file there")
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        return _refused(Place(name, 1, 1), f"can't be read ({error.strerror})", "see to its permissions")
    return parse_yaml(content, name)


def parse_yaml(content: bytes, name: str) -> Document:
    """Text data and places of one file's bytes."""
    start = Place(name, 1, 1)
    if len(content) > MAX_BYTES:
        return _refused(start, "is larger than 1 MiB", "split it into files by topic")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _refused(start, "is written in UTF-16", "save it as UTF-8")
    try:
        source = content.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        place = _place_at(name, content[: error.start].decode("utf-8", "replace"), error.start)
        what = f"this is not UTF-8 text (byte 0x{content[error.start]:02X})"
        return _refused(place, what, "save the file as UTF-8")
    document = Document(name, source)
    if (odd := _odd_character(source, name)) is not None:
        document.faults.append(odd)
    else:
        _Builder(document).build()
    return document


def _odd_character(source: str, name: str) -> Fault | None:
    """What no file of the shop may hold, where it does for the first time."""
    for pattern, what in ((_NOT_TEXT, "a control character"), (_INVISIBLE, "an invisible character")):
        if found := pattern.search(source):
            where = _place_at(name, source, found.start())
            return Fault(where, f"{what} (U+{ord(found[0]):04X})", "delete it and type the text anew")
    if found := _ODD_INDENT.search(source):
        what = "a tab in the indentation" if found[1] == "\t" else "a hard space in the indentation"
        return Fault(_place_at(name, source, found.start(1)), what, "indent with spaces")
    return None


def files_in(folder: Path, ending: str) -> list[Path]:
    """What in a folder ends so, in order, without what editors and systems leave beside a file (`.#x`, `~$x`); nothing
    where it can't be looked into."""
    try:
        names = sorted(os.listdir(folder))
    except OSError:
        return []
    return [folder / name for name in names if name.endswith(ending) and name[0] not in ".~#"]


def misnamed(folder: Path, ending: str, name: str = "") -> Iterator[Fault]:
    """A fault for each file of a folder that was meant to be read and isn't, because of how its name ends."""
    meant = (ending, f"{ending}.txt", ".yml", ".yml.txt") if ending == ".yaml" else (ending, f"{ending}.txt")
    for path in files_in(folder, ""):
        if path.name.lower().endswith(meant) and path.suffix != ending:
            place = Place(f"{name}{path.name}", 1, 1)
            yield Fault(place, f"is not read: its name doesn't end in {ending}", f"let it end in {ending}")


def text_of(path: Path, name: str, faults: list[Fault], parts: str = "points") -> str | None:
    """The text of a file that isn't YAML; None with a fault where it can't be read, of which it holds too many
    ``parts`` if it is too large."""
    try:
        content = path.read_bytes()
    except OSError as error:
        faults.append(Fault(Place(name, 1, 1), f"can't be read ({error.strerror})", "see to its permissions"))
        return None
    if len(content) > MAX_BYTES:
        faults.append(Fault(Place(name, 1, 1), "is larger than 1 MiB", f"leave out {parts}"))
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        faults.append(Fault(Place(name, line, 1), "this is not UTF-8 text", "save the file as UTF-8"))
        return None


def _refused(place: Place, what: str, mend: str) -> Document:
    return Document(place.file, faults=[Fault(place, what, mend)])


def _place_at(name: str, source: str, index: int) -> Place:
    lines = BREAK.split(source[:index])
    return Place(name, len(lines), len(lines[-1]) + 1)


@dataclass(slots=True)
class _Frame:
    """An open list or mapping while it is being filled."""

    into: list[Data] | dict[str, Data]
    path: Steps
    key: str | None = None


class _Hostile(Exception):
    """The file holds what is never followed; its fault is noted and the rest isn't read."""


class _Builder:
    """Builds the data of one document from the reader's events."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.stack: list[_Frame] = []
        self.below: list[Fault] = []
        self.has_hard_space = _HARD_SPACE.search(document.source) is not None
        self.has_lost_text = _LOST_TEXT.search(document.source) is not None

    def build(self) -> None:
        document = self.document
        documents = 0
        try:
            next_event = _Loader(document.source).get_event
            while (event := next_event()) is not None:
                kind = type(event)
                if kind is yaml.ScalarEvent:
                    self.check_node(event)
                    self.check_text(event)
                    self.take(self.value_of(event), event)
                elif kind is yaml.SequenceStartEvent or kind is yaml.MappingStartEvent:
                    self.check_node(event)
                    if len(self.stack) >= MAX_DEPTH:
                        self.fault(event, f"nested deeper than {MAX_DEPTH} levels", "write it flatter")
                        raise _Hostile
                    self.take([] if kind is yaml.SequenceStartEvent else {}, event)
                elif kind is yaml.SequenceEndEvent or kind is yaml.MappingEndEvent:
                    self.stack.pop()
                elif kind is yaml.AliasEvent:
                    mend = "put it in quotes, or write it out in full"
                    self.fault(event, "a text that begins with '*'", mend)
                    raise _Hostile
                elif kind is yaml.DocumentStartEvent:
                    documents += 1
                    if documents > 1:
                        self.fault(event, "a second document begins here", "keep one document in a file")
                        return
            document.faults += self.below
        except _Hostile:
            document.data = None
        except yaml.MarkedYAMLError as error:
            document.faults.append(explain(error, document.file, document.source))
            document.data = None
        except yaml.YAMLError:
            start = Place(document.file, 1, 1)
            document.faults.append(Fault(start, "is not readable as YAML", "retype the first lines"))
            document.data = None

    def fault(self, event: Any, what: str, mend: str) -> None:
        self.document.faults.append(Fault(_place_of(event, self.document.file), what, mend))

    def check_node(self, event: Any) -> None:
        if event.anchor is not None:
            self.fault(event, "a text that begins with '&'", "put it in quotes, or leave the '&' out")
            raise _Hostile
        if event.tag is not None:
            self.fault(event, "a text that begins with '!'", "put it in quotes, or leave the '!' out")
            raise _Hostile

    def check_text(self, event: Any) -> None:
        """`part #5` reads as `part`: a '#' glued to a word after a text is a comment nobody meant."""
        style, value = event.style, event.value
        if style == '"':
            if hidden := _NOT_TEXT.search(value):
                self.fault(event, f"a control character (U+{ord(hidden[0]):04X}) by escape", "leave it out")
        elif style:
            pass
        elif value.startswith(CURLY):
            self.fault(event, "a curly quote begins this text", 'write straight quotes: "..."')
        elif value.endswith('"') and _UNOPENED.fullmatch(value):
            self.fault(event, NEVER_OPENED, "open it where the text begins")
        elif self.has_lost_text:
            source, end = self.document.source, event.end_mark.index
            while end > event.start_mark.index and source[end - 1] in " \t":
                end -= 1
            if found := _LOST_TEXT.match(source, end):
                start, sign = event.start_mark.index, found.end() - 1
                before = BREAK.split(source[start - event.start_mark.column : sign])
                place = Place(self.document.file, event.start_mark.line + len(before), len(before[-1]) + 1)
                what = "from '#' on, this line is taken for a comment and lost"
                mend = "put the text in quotes; if a comment is meant, leave a space after '#'"
                self.document.faults.append(Fault(place, what, mend))

    def value_of(self, event: Any) -> str:
        """The text of an event, hard spaces outside of quotes read as plain ones; up to a line that begins an entry at
        an indentation where none can begin."""
        text: str = event.value
        if event.style:
            return text
        if event.start_mark.line != event.end_mark.line:
            raw = self.document.source[event.start_mark.index : event.end_mark.index]
            if raw[0].isalnum() and (dash := _DASH_BELOW.search(raw)):
                before = BREAK.split(raw[: dash.start(1)])
                place = Place(self.document.file, event.start_mark.line + len(before), len(before[-1]) + 1)
                mend = "line it up with its neighbours; if it begins a list, name its key on the line above"
                start = event.start_mark.index
                in_list = self.document.source[start - 2 : start] == "- "
                if in_list or place.column != event.start_mark.column + 1:  # else it is the text that lacks its '- '
                    self.below.append(Fault(place, "this line is read as part of the text above it", mend))
                    text = " ".join(raw[: dash.start()].split())
        return _HARD_SPACE.sub(" ", text).strip() if self.has_hard_space else text

    def take(self, value: Data, event: Any) -> None:
        """Put a value where it belongs: root, list entry, key or value of a mapping."""
        nodes = self.document.nodes
        path: Steps = ()
        if not self.stack:
            self.document.data = value
        else:
            frame = self.stack[-1]
            if isinstance(frame.into, list):
                path = (*frame.path, len(frame.into))
                frame.into.append(value)
            elif frame.key is None:
                path = self.take_key(frame, value, event)
            else:
                path = (*frame.path, frame.key)
                frame.into.setdefault(frame.key, value)
                if path in nodes:
                    path = (*path, _SECOND)
                frame.key = None
        nodes.setdefault(path, event)
        if not isinstance(value, str):
            self.stack.append(_Frame(value, path))

    def begin_another(self, frame: _Frame, event: Any) -> bool:
        """Where an entry of a list goes on with its first key a second time, the next one's '- ' was forgotten: what
        follows is read as an entry of its own. Says whether it is so."""
        above = self.stack[-2] if len(self.stack) > 1 else frame
        if not isinstance(above.into, list) or self.document.in_braces(frame.path):
            return False
        frame.into, frame.path = {}, (*above.path, len(above.into))
        above.into.append(frame.into)
        self.document.nodes.setdefault(frame.path, event)
        return True

    def take_key(self, frame: _Frame, value: Data, event: Any) -> Steps:
        """Remember the key; returns a path that stands for the key itself and meets no other."""
        keys = self.document.keys
        assert isinstance(frame.into, dict)
        if not isinstance(value, str):
            self.fault(event, "a '{' or '[' at the beginning of a text", "put the whole text in quotes")
            raise _Hostile
        frame.key = value
        path = (*frame.path, value)
        if path in keys:
            first = _place_of(keys[path], self.document.file)
            what = f"'{frame.key}' is here a second time (first in line {first.line}, column {first.column})"
            again = self.begin_another(frame, event) if value == next(iter(frame.into), "") else False
            mend = f"keep one of the two, or begin a new entry with '- {value}:'" if again else "keep one of the two"
            self.fault(event, what, mend)
            path = (*frame.path, value)
        keys.setdefault(path, event)
        return (*path, _KEY)
