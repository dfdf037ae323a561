"""Accepting what scripts conclude now: their `conclude` block is rewritten in place, and nothing else.

Answers, comments and layout stay as written. A verdict, a figure's range, the order of questions and a recorded outcome
take the value of today; in place of an expectation that fails stands what is concluded now (`renewed`), in the other
list where it is wanted the other way round. What nothing can stand for is taken out and told, and so is a variant that
wants nothing any more.
"""

import difflib
import json
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from advisor.conclusion import conclusion
from advisor.consultation import questions_of
from advisor.course import Course, Reached, infer
from advisor.desk.keeping import scalar
from advisor.desk.renewed import SLACK, Wanted, of_rules, other_cautions, renewed
from advisor.expected import Expectation, FigureRange
from advisor.inference.agenda import Agenda
from advisor.knowledge import Fault, Knowledge, Place
from advisor.knowledge.source import Document, Steps, parse_yaml
from advisor.replay import differences, facts_of, taken
from advisor.scripted import Script, parse_scripts
from advisor.units import Range, show


@dataclass(frozen=True, slots=True)
class Lost:
    """What was wanted and nothing that is concluded now can stand for: where, in words, and the rules it spoke of."""

    place: Place
    words: str
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Accepted:
    """A script before and after, or the faults that keep it from being read; what of it is lost, of which rules it
    wants the reverse now, and what differs even so."""

    path: Path
    before: str
    after: str
    faults: tuple[Fault, ...] = ()
    lost: tuple[Lost, ...] = ()
    turned: tuple[str, ...] = ()
    left: tuple[str, ...] = ()

    def difference(self) -> list[str]:
        """What changes, as lines of a unified difference."""
        old, new = self.before.splitlines(), self.after.splitlines()
        return list(difflib.unified_diff(old, new, str(self.path), str(self.path), lineterm="", n=1))

    def write(self) -> None:
        """Put the script in its place, in one piece. Raises OSError."""
        beside = self.path.with_name(f".{self.path.name}.new")
        beside.write_text(self.after, encoding="utf-8", newline="\n")
        os.replace(beside, self.path)


def accept(path: Path, knowledge: Knowledge, fires: Agenda, record: bool = False) -> Accepted:
    """The script with its conclusions as they are now; ``record`` writes the whole outcome too. Raises OSError."""
    content = path.read_bytes()
    scripts, faults = parse_scripts(content, knowledge, str(path))
    if faults:
        return Accepted(path, "", "", faults)
    document = parse_yaml(content, str(path))
    before = document.source
    text = before if before.endswith("\n") else before + "\n"
    named = frozenset().union(*(script.rules() for script in scripts))
    edits = []
    for number, script in enumerate(scripts):
        at: Steps = ("variants", number - 1, "conclude") if number else ("conclude",)
        edits.append(_Edit(script, at, document, text, taken(script, knowledge, fires), knowledge))
        edits[-1].work(named)
    parts = _with_emptied_variants(edits, text)
    for start, end, instead in sorted(parts, key=lambda part: part[:2], reverse=True):
        first, last = (start, end) if instead is not None else _item(text, start, end)
        text = text[:first] + (instead or "") + text[last:]
    kept = _without_empty_lists(text.splitlines())
    if record or scripts[0].outcome is not None:
        course = infer(scripts[0].answers, knowledge, fires)
        kept = _with_outcome(kept, [str(line) for line in conclusion(course, knowledge)])
    after = "\n".join(kept) + "\n"
    lost = tuple(one for edit in edits for one in edit.lost)
    left, faults = _left(after, path, edits, knowledge, fires) if after != before else ((), ())
    turned = tuple(dict.fromkeys(rule for edit in edits for rule in edit.turned))
    return Accepted(path, before, after, faults, lost, turned, left)


def _left(
    text: str, path: Path, edits: Sequence["_Edit"], knowledge: Knowledge, fires: Agenda
) -> tuple[tuple[str, ...], tuple[Fault, ...]]:
    """What of the script differs as it is written anew, and the faults with which it couldn't be read."""
    scripts, faults = parse_scripts(text.encode(), knowledge, str(path))
    known = {edit.script.answers: edit.course for edit in edits if isinstance(edit.course, Course)}
    courses = ((script, known.get(script.answers) or taken(script, knowledge, fires)) for script in scripts)
    left = (str(one) for script, course in courses for one in differences(script, course, knowledge))
    return tuple(dict.fromkeys(left)), faults


Part = tuple[int, int, str | None]
"""From where to where in a file, and what stands there instead; None takes an item out of its list."""
LISTS = {True: "must", False: "must not"}
NOTHING = "nothing that is concluded now can stand for it"
EMPTY_NOW = "would want nothing any more"
BESIDE = (*LISTS.values(), "figures", "asks first", "verdict")
EMPTIED = ("must:", "must not:", "figures:", "variants:")


@dataclass(slots=True)
class _Edit:
    """What is written anew of a call, or of a variant, whose conclusion stands ``at`` these steps."""

    script: Script
    at: Steps
    document: Document
    text: str
    course: Reached
    knowledge: Knowledge
    parts: list[Part] = field(default_factory=list)
    lost: list[Lost] = field(default_factory=list)
    done: set[Wanted] = field(default_factory=set)
    turned: list[str] = field(default_factory=list)
    more: dict[bool, list[str]] = field(default_factory=lambda: {True: [], False: []})
    wanted: int = 0  # things that are wanted then

    def work(self, named: frozenset[str]) -> None:
        """Find all of it; ``named`` are the rules that some script of the file speaks of."""
        script, course = self.script, self.course
        wrong = {difference.place for difference in differences(script, course, self.knowledge)}
        self.wanted = bool(script.verdict) + bool(script.order)
        if script.verdict_place in wrong and isinstance(course, Course):
            self.parts.append((*self._span((*self.at, "verdict")), course.verdict))
        for figure in script.figures:
            self.wanted += 1
            if figure.place in wrong:
                self._figure(figure)
        if script.order and isinstance(course, Course):
            self._order(script.order, tuple(one.fact for one in questions_of(course, self.knowledge)))
        gone = []
        for must, key in LISTS.items():
            for index, one in enumerate(each for each in script.expectations if each.wanted == must):
                if one.place in wrong:
                    gone.append(one)
                    self._instead(one, (*self.at, key, index))
                else:
                    self.wanted += 1
        for caution in other_cautions(gone, named, course, self.knowledge):
            self._also(caution)
        for must, items in reversed(self.more.items()):  # of two at the same place the one told last stands first
            if items:
                self.wanted += len(items)
                self.parts.append(self._added(LISTS[must], list(dict.fromkeys(items))))

    def _instead(self, one: Expectation, steps: Steps) -> None:
        """An expectation that fails gives way to what is concluded now."""
        start, end, braces = self._item(steps, one.kind)
        now = renewed(one, self.course, self.knowledge)
        here = [_written(new) for new in now if new.must == one.wanted and not self._wants(new)]
        if here:
            self.wanted += len(here)
            between = ", " if self.document.in_braces(steps[:-1]) else f"\n{self._before(start)}"
            self.parts.append((start, end, between.join(f"{{{item}}}" if braces else item for item in here)))
        else:
            self.parts.append((start, end, None))
        for new in now:
            if new.must != one.wanted:
                note = re.match(r"[ \t]+#[^\n]*", self.text[end:])
                keep = note and not here and not any(map(self.document.in_braces, self._lists()))
                self._also(new, note[0] if keep and note else "")
                self.turned += of_rules(one)
        if not now:
            rules = tuple(of_rules(one))
            self.lost.append(Lost(one.place, f"'{one.kind}: {one.words}'; {NOTHING}", rules))

    def _lists(self) -> list[Steps]:
        return [steps for key in LISTS.values() if self.document.has(steps := (*self.at, key))]

    def _wants(self, new: Wanted) -> bool:
        """Whether the script wants just that already; it does once this was asked."""
        wanted = {Wanted(one.kind, one.words, one.wanted) for one in self.script.expectations} | self.done
        self.done.add(new)
        return new in wanted

    def _also(self, new: Wanted, note: str = "") -> None:
        if not self._wants(new):
            self.more[new.must].append(_written(new) + note)

    def _figure(self, figure: FigureRange) -> None:
        """A figure takes the range of today; one that isn't known any more is wanted as such."""
        steps = (*self.at, "figures", figure.name)
        start, end = self._span(steps)
        if (now := _range(figure.name, self.course, self.knowledge)) is not None:
            self.parts.append((start, end, now))
            return
        self.wanted -= 1
        self.parts.append((self.document.keys[steps].start_mark.index, end, None))
        self._also(Wanted("known", f"{figure.name} is not known", True))

    def _order(self, order: Sequence[str], asked: Sequence[str]) -> None:
        """The first questions as they are asked now; left as it is where nothing is asked."""
        steps = (*self.at, "asks first")
        now = asked[: len(order)]
        if now == order or not now:
            return
        start, end = self._span((*steps, 0))[0], self._span((*steps, len(order) - 1))[1]
        between = ", " if self.document.in_braces(steps) else f"\n{self._before(start)}"
        self.parts.append((start, end, between.join(now)))

    def _added(self, key: str, items: Sequence[str]) -> Part:
        """Items at the end of a list, or a list of its own where there was none."""
        steps = (*self.at, key)
        if count := self._count(steps):
            (kind,) = self._listed(steps)[-1]
            start, end, braces = self._item((*steps, count - 1), kind)
            if self.document.in_braces(steps):
                return end, end, "".join(f", {{{item}}}" if braces else f", {item}" for item in items)
            line = self._line_after(end)
            return line, line, "".join(f"{self._before(start)}{item}\n" for item in items)
        if self.document.has(steps):  # an empty list in brackets
            start = self._span(steps)[0] + 1
            return start, start, ", ".join(items)
        beside = next(name for name in BESIDE if self.document.has((*self.at, name)))
        key_at = self.document.keys[(*self.at, beside)].start_mark.index
        follows = key == "must not" and beside == "must"
        if self.document.in_braces(self.at):
            start = self._end_of((*self.at, beside)) if follows else key_at
            listed = f"{key}: [{', '.join(items)}]"
            return start, start, f", {listed}" if follows else f"{listed}, "
        line = self.text.rfind("\n", 0, key_at) + 1
        indent = " " * (key_at - line)
        start = self._line_after(self._end_of((*self.at, beside))) if follows else line
        return start, start, f"{indent}{key}:\n" + "".join(f"{indent}  - {item}\n" for item in items)

    def _listed(self, steps: Steps) -> list[dict[str, str]]:
        value = self.document.data
        for step in steps:
            value = value[step]  # type: ignore[index]
        assert isinstance(value, list)
        return value

    def _count(self, steps: Steps) -> int:
        return len(self._listed(steps)) if self.document.has(steps) else 0

    def _end_of(self, steps: Steps) -> int:
        """Where a list ends, with its bracket."""
        count = self._count(steps)
        if not count:
            return self.text.index("]", self._span(steps)[0]) + 1
        (kind,) = self._listed(steps)[-1]
        end = self._item((*steps, count - 1), kind)[1]
        closed = re.compile(r"\s*,?\s*(?:#[^\n]*\s*)*\]").match(self.text, end)
        return closed.end() if closed and self.document.in_braces(steps) else end

    def _item(self, steps: Steps, kind: str) -> tuple[int, int, bool]:
        """From where to where the words of an item stand, with its braces if it has some."""
        start, end = self.document.keys[(*steps, kind)].start_mark.index, self._span((*steps, kind))[1]
        own = self._span(steps)[0]
        if self.text[own] != "{":
            return start, end, False
        return own, self.text.index("}", end) + 1, True

    def _span(self, steps: Steps) -> tuple[int, int]:
        event = self.document.nodes[steps]
        return event.start_mark.index, event.end_mark.index

    def _before(self, start: int) -> str:
        """What stands in the line before it."""
        return self.text[self.text.rfind("\n", 0, start) + 1 : start]

    def _line_after(self, end: int) -> int:
        return self.text.index("\n", end) + 1


def _written(new: Wanted) -> str:
    return f"{new.kind}: {scalar(new.words)}"


def _item(text: str, start: int, end: int) -> tuple[int, int]:
    """The whole item of a list whose words are given: its line, or between brackets with the comma."""
    line, alone = text.rfind("\n", 0, start) + 1, re.compile(r",?[ \t]*(?:#[^\n]*)?(?:\n|$)")
    if text[line:start].strip() in ("-", "") and (rest := alone.match(text, end)):
        return line, rest.end()
    if following := re.match(r"\s*,\s*", text[end:]):
        return start, end + following.end()
    before = re.search(r"\s*,\s*$", text[:start])
    return (before.start() if before else start), end


def _with_emptied_variants(edits: Sequence[_Edit], text: str) -> list[Part]:
    """All parts, with each variant that would want nothing any more taken out whole."""
    lines = [0, *(found.end() for found in re.finditer("\n", text))]
    starts = [lines[edit.script.place.line - 1] for edit in edits]
    kept = list(edits[0].parts)
    for edit, start, end in zip(edits[1:], starts[1:], [*starts[2:], _end_of_variants(text)], strict=False):
        if edit.wanted:
            kept += edit.parts
        else:
            kept.append((start, end, ""))
            edit.lost.append(Lost(edit.script.place, f"the variant '{edit.script.call}'; it {EMPTY_NOW}"))
    return kept


def _end_of_variants(text: str) -> int:
    """Where the next part of the script begins behind its variants."""
    found = re.search(r"^variants:.*\n(?:(?:[ #-].*)?(?:\n|$))*", text, re.MULTILINE)
    return found.end() if found else len(text)


def _range(name: str, course: Reached, knowledge: Knowledge) -> str | None:
    definition, value = knowledge.vocabulary[name], facts_of(course).value(name)
    if not isinstance(value, Range):
        return None
    slack = SLACK * max(abs(value.low), abs(value.high))
    around = Range(value.low - slack, value.high + slack)
    shown = show(around, definition.unit, definition.quantity)
    return json.dumps(shown) if "," in shown else shown  # between brackets a comma would end it


def _without_empty_lists(lines: list[str]) -> list[str]:
    found: list[str] = []
    for line, following in zip(lines, [*lines[1:], ""], strict=True):
        emptied = line.strip() in EMPTIED and _indent(following) <= _indent(line)
        if not emptied or following.strip().startswith("- "):
            found.append(_EMPTY.sub("", line))
    return found


_EMPTIED = r"(?:must(?: not)?: \[\]|figures: \{\})"
_EMPTY = re.compile(rf"{_EMPTIED}(?:, )?|, {_EMPTIED}(?=\}})")


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _with_outcome(lines: list[str], outcome: list[str]) -> list[str]:
    block = ["  outcome:", *(f"    - {json.dumps(line, ensure_ascii=False)}" for line in outcome)]
    at = next((index for index, line in enumerate(lines) if line.startswith("  outcome:")), None)
    if at is not None:
        end = at + 1
        while end < len(lines) and (_indent(lines[end]) > 2 or lines[end].startswith("  - ")):
            end += 1
        return [*lines[:at], *block, *lines[end:]]
    if not any(line.startswith("conclude:") for line in lines):
        lines = [*lines, "conclude:"]
    start = next(index for index, line in enumerate(lines) if line.startswith("conclude:"))
    end = start + 1
    while end < len(lines) and (not lines[end] or lines[end].startswith((" ", "#"))):
        end += 1
    return [*lines[:end], *block, *lines[end:]]
