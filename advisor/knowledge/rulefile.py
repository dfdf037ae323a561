"""Rule files: entries as written to rules with their conditions and actions understood."""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import partial
from typing import Annotated, Any

from pydantic import Field, ValidationError, ValidatorFunctionWrapHandler, WrapValidator

from .accepted import AcceptedEntry, answers_at
from .conditions import All
from .evenly import is_evenly, read_evenly
from .fields import Entry, Reason, Text, Wrong, YesNo, entries, one_of, read_by
from .groups import read_alone, read_conditions
from .meaning import Reader
from .places import Fault, Place, did_you_mean
from .rules import (
    FIRST_STAGE,
    PLACEHOLDER,
    STAGES,
    Action,
    AddPart,
    Ask,
    Assume,
    Caution,
    Graveness,
    NextStep,
    Penalise,
    Recommend,
    Rule,
    RuleOut,
    Say,
    SetFact,
    Setting,
    Stage,
    is_visible,
    with_slopes,
)
from .slopes import Slope
from .source import Data, Document, Steps
from .told_figures import noted
from .vocabulary import FactDef

IN_BRACKETS = re.compile(r"\[([^\[\]]+)\]")
_RULE_NAME = r"^[^!-,.\/:-@\[-`{-~]*$"
_KEEPER = r"""^[\s\S]*[^\s.,;:'"()-][\s\S]*, \d{4}-(?:0[1-9]|1[0-2])$"""
_EQUATION = re.compile(r"(.+?)\s*(?:=|\bis\b)\s*(.+)")
TWO_BRACES = re.compile(r"\{\{([^{}]*)\}\}")
LONE_BRACE = re.compile(r"[{}]")


def _rule_name(words: str) -> str:
    if 0 < len(words) <= 80 and all(character.isalnum() or character in " -" for character in words):
        return words
    raise Wrong(f"'{words[:80]}' can't name a rule", "use words joined by hyphens, at most 80 characters")


def _keeper(words: str) -> str:
    if not words:
        raise Wrong("'kept by' is empty", "write it out, or leave the line out")
    name, _, date = words.rpartition(", ")
    if re.search(r"\w", name) and re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", date):
        return words
    raise Wrong(f"'{words}' is no keeper with a date", "write name, year and month, as in 'R. Aldous, 2026-11'")


def _points(value: object, alone: ValidatorFunctionWrapHandler) -> object:
    return value if isinstance(value, str) and is_evenly(value) else alone(value)


Points = Annotated[float, Field(gt=0, le=100), WrapValidator(_points)]
"""Points of 100; the text itself where they run with a figure."""


class ThenEntry(Entry):
    """What follows, as written."""

    set_facts: Annotated[dict[str, object], Field(alias="set", default_factory=dict)]
    assume: Annotated[dict[str, object], Field(default_factory=dict)]
    ask: tuple[Text, ...] = ()
    ask_first: tuple[Text, ...] = ()
    rule_out: Annotated[str, one_of("this candidate")] | None = None
    penalise: Points | None = None
    prefer: Points | None = None
    recommend: Text | None = None
    caution: Text | None = None
    severity: Annotated[Graveness, one_of("stop", "danger", "care", "note")] | None = None
    at_once: YesNo = False
    add_part: tuple[Text, ...] = ()
    next_step: Text | None = None
    say: Text


_LISTS = frozenset(("ask", "ask first", "add part"))
_KEYS = tuple(field.alias or name for name, field in ThenEntry.model_fields.items())


class RuleEntry(Entry):
    """A rule as written."""

    rule: Annotated[str, read_by(_rule_name, pattern=_RULE_NAME, minLength=1, maxLength=80)]
    stage: Annotated[Stage, one_of(*STAGES)]
    when: list[object]
    then: ThenEntry
    because: Reason
    basis: Reason
    kept_by: Annotated[Text, read_by(_keeper, pattern=_KEEPER)] = ""
    accepted: tuple[AcceptedEntry, ...] = ()


def read_rules(document: Document, reader: Reader) -> list[Rule]:
    """The rules of one file that could be understood; faults go to the document and the reader."""
    rules = []
    for path, entry in entries(RuleEntry, document, "rules", lambda path: _read_partly(document, path, reader)):
        when = read_conditions(document, (*path, "when"), reader)
        then = _Actions(document, (*path, "then"), entry.stage, entry.then, reader).read()
        if when is not None and then is not None:
            rules.append(_rule(entry, when, then, document, path))
    return rules


def _read_partly(document: Document, path: Steps, reader: Reader) -> None:
    """What is wrong inside a rule besides what keeps it from being read: its conditions, and what follows as far as
    that is written soundly."""
    rule: Any = document.data
    for step in path:
        rule = rule[step]
    if not isinstance(rule, dict):
        return
    if isinstance(rule.get("when"), list):
        read_conditions(document, (*path, "when"), reader)
    elif isinstance(rule.get("when"), str):
        read_alone(document, (*path, "when"), reader)
    then = rule.get("then")
    if not isinstance(then, dict):
        return
    sound = {"say": "-", **{key: value for key, value in then.items() if key in _KEYS}}
    if "caution" not in sound or rule.keys() & {"caution", "severity"}:
        sound = {key: value for key, value in sound.items() if key not in ("caution", "severity")}
    for _ in range(2):
        try:
            entry = ThenEntry.model_validate(sound)
        except ValidationError as error:
            wrong = {str(detail["loc"][0]) for detail in error.errors(include_url=False)}
            wrong |= {"caution", "severity"} if wrong & {"caution", "severity"} else set()
            alone = {key: [sound[key]] for key in wrong & _LISTS if isinstance(sound[key], str)}
            sound = {"say": "-", **{key: value for key, value in sound.items() if key not in wrong}, **alone}
        else:
            stage = next((stage for stage in STAGES if stage == rule.get("stage")), STAGES[-1])
            _Actions(document, (*path, "then"), stage, entry, reader).read()
            return


def _rule(entry: RuleEntry, when: All, then: Iterable[Action], document: Document, path: Steps) -> Rule:
    actions = tuple(then)
    slopes = [action.slope for action in actions if isinstance(action, Penalise) and action.slope is not None]
    return Rule(
        name=entry.rule,
        stage=entry.stage,
        when=with_slopes(when, slopes),
        then=actions,
        because=entry.because,
        basis=entry.basis,
        kept_by=entry.kept_by,
        place=document.place((*path, "rule")),
        accepted=answers_at(document, path, entry.accepted),
    )


class _Actions:
    """The `then` part of one rule while it is being understood."""

    def __init__(self, document: Document, path: Steps, stage: Stage, entry: ThenEntry, reader: Reader) -> None:
        self.document = document
        self.path = path
        self.stage = stage
        self.entry = entry
        self.reader = reader
        self.sound = True

    def fault(self, path: Steps, what: str, mend: str) -> None:
        self.note(self.document.place(path), what, mend)

    def read(self) -> list[Action] | None:
        entry, at = self.entry, self.at
        actions: list[Action] = []
        for fact, value in self.settings("set"):
            actions.append(SetFact(fact, value, place=at("set", fact)))
        for fact, value in self.settings("assume"):
            actions.append(Assume(fact, value, place=at("assume", fact)))
        if entry.ask_first:
            actions.append(Ask(self.asked("ask first", entry.ask_first), True, place=at("ask first")))
        if entry.ask:
            actions.append(Ask(self.asked("ask", entry.ask), False, place=at("ask")))
        if entry.rule_out is not None:
            actions.append(RuleOut(place=at("rule out")))
        taken: dict[str, float | str | None] = {"penalise": entry.penalise, "prefer": entry.prefer}
        for key, points in taken.items():
            if isinstance(points, float):
                actions.append(Penalise(-points if key == "prefer" else points, place=at(key)))
            elif points is not None and (slope := self.evenly(key, points)) is not None:
                actions.append(Penalise(slope.most, slope, place=at(key)))
        self.check_alone(actions)
        if entry.recommend is not None:
            actions.append(Recommend(entry.recommend, place=at("recommend")))
        if entry.caution is not None and entry.severity is not None:
            actions.append(Caution(entry.severity, entry.caution, entry.at_once, place=at("caution")))
        elif entry.caution is not None:
            self.fault((*self.path, "caution"), "'severity' is missing", "add stop, danger, care or note")
        elif entry.severity is not None:
            self.fault((*self.path, "severity"), "a severity without a caution", "add a line 'caution: ...'")
        if entry.at_once:
            self.check_at_once()
        for kind, count in Counter(entry.add_part).items():
            index = entry.add_part.index(kind)
            actions.append(AddPart(kind, count, place=at("add part", index)))
            if self.reader.parts is not None and kind not in self.reader.parts:
                mend = did_you_mean(kind, self.reader.parts, "use a kind of catalogue/fittings.yaml")
                self.reader.faults.append(Fault(actions[-1].place, f"there is no part of the kind '{kind}'", mend))
        if entry.next_step is not None:
            actions.append(NextStep(entry.next_step, place=at("next step")))
        actions.append(Say(entry.say, place=at("say")))
        for key in ("recommend", "caution", "next step", "say"):
            self.check_placeholders((*self.path, key))
        return actions if self.sound else None

    def check_at_once(self) -> None:
        """Only what stops or endangers is told before the advice, and only on what the caller said."""
        path = (*self.path, "at once")
        if self.entry.severity not in ("stop", "danger"):
            self.fault(path, "only a caution that says stop or danger is told at once", "leave it out")
        elif self.stage != "understand":
            mend = "use the stage understand, or leave it out"
            self.fault(path, f"nothing of the stage {self.stage} is told at once", mend)

    def evenly(self, key: str, words: str) -> Slope | None:
        """Points that run with a figure; None with a fault noted."""
        path = (*self.path, key)
        slope = read_evenly(words, key, self.reader, lambda offset: self.document.place_in(path, offset))
        self.sound &= slope is not None
        return slope

    def check_alone(self, actions: Iterable[Action]) -> None:
        """Points that run with a figure are the only points of a rule: it speaks where there are some."""
        points = [action for action in actions if isinstance(action, Penalise)]
        if len(points) > 1 and any(action.slope is not None for action in points):
            what = "points that run with a figure stand beside other points"
            mend = "write a rule for each, or points below 0 as in '-4 to 8 as ...'"
            self.note(max(action.place for action in points), what, mend)

    def at(self, *steps: str | int) -> Place:
        return self.document.place((*self.path, *steps))

    def check_placeholders(self, path: Steps) -> None:
        """Every `{fact}` in the text at `path` must be one that exists in this stage."""
        text = self.written(path)
        if not isinstance(text, str):
            return
        for found in PLACEHOLDER.finditer(text):
            name = " ".join(found[1].split())
            definition = self.reader.vocabulary.get(name)
            place = self.document.place_in(path, found.start(1))
            if not name:
                self.note(place, "there is nothing between '{' and '}'", "name a fact in the braces")
            elif definition is None:
                self.unknown_fact(place, name, " to put here")
            elif not is_visible(definition.source, self.stage):
                what = f"'{name}' is not there yet in the stage {self.stage}"
                self.note(place, what, f"move the rule to the stage {FIRST_STAGE[definition.source]} or later")
        for found in IN_BRACKETS.finditer(text):
            if found[1] in self.reader.vocabulary:
                place = self.document.place_in(path, found.start())
                self.note(place, f"'{found[0]}' is said as it stands", f"write '{{{found[1]}}}' for the fact's value")
        for twice in TWO_BRACES.finditer(text):
            what = f"'{twice[0]}' has a brace too many on either side"
            self.note(self.document.place_in(path, twice.start()), what, f"write '{{{twice[1].strip()}}}'")
        locate, about = partial(self.document.place_in, path), self.document.place((*self.path[:-1], "rule"))
        self.reader.notes += noted(text, self.reader.vocabulary, locate, about)
        rest = TWO_BRACES.sub(lambda match: " " * len(match[0]), text)
        for lone in LONE_BRACE.finditer(PLACEHOLDER.sub(lambda match: " " * len(match[0]), rest)):
            place = self.document.place_in(path, lone.start())
            self.note(place, f"a '{lone[0]}' without its partner", "write '{fact name}', or leave it out")

    def note(self, place: Place, what: str, mend: str) -> None:
        self.reader.faults.append(Fault(place, what, mend))

    def written(self, path: Steps) -> Data | None:
        """What stands in the file at `path`, None when nothing does."""
        data: Data | None = self.document.data
        for step in path:
            try:
                data = data[step]  # type: ignore[index]
            except (KeyError, IndexError, TypeError):
                return None
        return data

    def asked(self, key: str, names: tuple[str, ...]) -> tuple[str, ...]:
        for index, name in enumerate(names):
            definition = self.reader.vocabulary.get(name)
            if definition is None:
                self.unknown_fact(self.document.place((*self.path, key, index)), name)
            elif definition.source != "asked":
                what = f"'{name}' is nothing a caller is asked (source {definition.source})"
                self.fault((*self.path, key, index), what, "ask for a fact of source asked")
        return names

    def unknown_fact(self, place: Place, name: str, to_do: str = "") -> None:
        self.sound = False
        self.reader.unknown_fact(name, place, to_do)

    def settings(self, key: str) -> list[tuple[str, Setting]]:
        found: list[tuple[str, Setting]] = []
        written = self.entry.set_facts if key == "set" else self.entry.assume
        wanted = "rule" if key == "set" else "asked"
        for name in written:
            path = (*self.path, key, name)
            definition = self.reader.vocabulary.get(name)
            if definition is None and (parts := _EQUATION.fullmatch(name)):
                place = self.document.key_place(path)
                self.note(place, f"'{name}' has no ': '", f"write '{parts[1]}: {parts[2]}'")
                continue
            if definition is None and name[:1].isdigit() and self.is_torn(path, written):
                continue
            if definition is None:
                self.unknown_fact(self.document.key_place(path), name)
                continue
            if definition.source != wanted:
                other = "assume" if definition.source == "asked" else "leave it out"
                mend = f"use '{other}:'" if other == "assume" else other
                if key == "assume" and definition.source == "rule":
                    mend = "use 'set:'"
                what = f"'{name}' can't be {'set' if key == 'set' else 'assumed'} (source {definition.source})"
                self.note(self.document.key_place(path), what, mend)
                continue
            value = self.value(path, definition)
            if value is not None:
                found.append((name, value))
            else:
                self.sound = False
        return found

    def is_torn(self, path: Steps, written: Mapping[str, object]) -> bool:
        """Whether what stands for a name is digits that a comma in braces has torn off the figure before; told once."""
        name, names = str(path[-1]), list(written)
        key = names[names.index(name) - 1] if name != names[0] else ""
        if key[:1].isdigit():
            return True
        before = re.search(r"[\d.]+$", str(written.get(key, "")))
        if before is None:
            return False
        thousands = re.match(r"\d{3}\b", name)
        mend = "leave the comma out" if thousands else f"write decimals as in {before[0]}.{name}"
        place = self.document.place((*path[:-1], key))
        self.note(place, f"a comma tears '{before[0]}' and '{name}' apart", mend)
        return True

    def value(self, path: Steps, definition: FactDef) -> Setting | None:
        """The written value as the fact's kind wants it; None with a fault noted."""
        data = self.written(path)
        if definition.kind == "several":
            return self.several(path, data, definition)
        if not isinstance(data, str):
            self.fault(path, f"'{definition.name}' holds one value", "write it after the key")
            return None
        match definition.kind:
            case "number":
                return self.reader.amount(data, definition, lambda offset: self.document.place_in(path, offset))
            case "yes/no":
                if data in ("yes", "no"):
                    return data == "yes"
                mend = f"write {data.lower()}, in small letters" if data.lower() in ("yes", "no") else "write yes or no"
                self.fault(path, f"'{definition.name}' is yes or no", mend)
                return None
            case "choice":
                return self.reader.choice(data, definition, self.document.place(path))
            case _:
                return data

    def several(self, path: Steps, data: Data | None, definition: FactDef) -> frozenset[str] | None:
        written = data if isinstance(data, list) else [data]
        found = set()
        for index, part in enumerate(written):
            place = self.document.place((*path, index) if isinstance(data, list) else path)
            if not isinstance(part, str):
                self.fault(path, f"'{definition.name}' wants a list of choices", "write [a, b]")
                return None
            choice = self.reader.choice(part, definition, place)
            if choice is None:
                return None
            found.add(choice)
        return frozenset(found)
