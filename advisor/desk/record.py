"""Accepting what scripts conclude now: their `conclude` block is rewritten in place, and nothing else.

Answers, comments and layout stay as written. A verdict, a figure's range and a recorded outcome take the value of
today; an expectation that fails is taken out, so that the difference shows what was given up, and so is a variant
that wants nothing any more.
"""

import difflib
import json
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.conclusion import conclusion
from advisor.course import Course, Reached, infer
from advisor.inference.agenda import Agenda
from advisor.knowledge import Fault, Knowledge
from advisor.knowledge.source import Document, Steps, parse_yaml
from advisor.replay import differences, taken
from advisor.scripted import Script, parse_scripts
from advisor.units import Range, show

SLACK = 0.05  # of a figure, to both sides, in a range that is written anew


@dataclass(frozen=True, slots=True)
class Accepted:
    """A script before and after; ``faults`` keep it from being read."""

    path: Path
    before: str
    after: str
    faults: tuple[Fault, ...] = ()

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
    parts = [part for script in scripts for part in _parts(script, document, knowledge, fires)]
    text = before
    for start, end, instead in sorted(_with_emptied_variants(parts, scripts, before), reverse=True):
        first, last = (start, end) if instead is not None else _item(text, start, end)
        text = text[:first] + (instead or "") + text[last:]
    kept = _without_empty_lists(text.splitlines())
    if record or scripts[0].outcome is not None:
        course = infer(scripts[0].answers, knowledge, fires)
        kept = _with_outcome(kept, [str(line) for line in conclusion(course, knowledge)])
    return Accepted(path, before, "\n".join(kept) + "\n")


Part = tuple[int, int, str | None]
"""From where to where in a file, and what stands there instead; None takes an item out of its list."""


def _parts(script: Script, document: Document, knowledge: Knowledge, fires: Agenda) -> Iterable[Part]:
    """What is written anew of a call, or of a variant."""
    course = taken(script, knowledge, fires)
    wrong = {difference.place for difference in differences(script, course, knowledge)}
    values = {document.place(steps): steps for steps, event in document.nodes.items() if hasattr(event, "style")}
    if script.verdict_place in wrong and script.verdict_place is not None and isinstance(course, Course):
        yield *_span(document, values[script.verdict_place]), course.verdict
    for figure in script.figures:
        if figure.place in wrong:
            yield *_span(document, values[figure.place]), _range(figure.name, course, knowledge)
    for expectation in script.expectations:
        if expectation.place in wrong:
            steps = values[expectation.place]
            yield document.keys[steps].start_mark.index, _span(document, steps)[1], None


def _span(document: Document, steps: Steps) -> tuple[int, int]:
    event = document.nodes[steps]
    return event.start_mark.index, event.end_mark.index


def _item(text: str, start: int, end: int) -> tuple[int, int]:
    """The whole item of a list whose words are given: its line, or between brackets with the comma."""
    line = text.rfind("\n", 0, start) + 1
    if text[line:start].strip() == "-":
        after = text.find("\n", end)
        return line, len(text) if after < 0 else after + 1
    if following := re.match(r"\s*,\s*", text[end:]):
        return start, end + following.end()
    before = re.search(r"\s*,\s*$", text[:start])
    return (before.start() if before else start), end


def _with_emptied_variants(parts: Sequence[Part], scripts: Sequence[Script], text: str) -> list[Part]:
    """The parts, with each variant that would want nothing any more taken out whole."""
    lines = [0, *(found.end() for found in re.finditer("\n", text))]
    ends = [*(lines[script.place.line - 1] for script in scripts[2:]), _end_of_variants(text)]
    kept = list(parts)
    for script, end in zip(scripts[1:], ends, strict=False):
        start = lines[script.place.line - 1]
        inside = [part for part in kept if start <= part[0] < end]
        wanted = len(script.expectations) + len(script.figures) + bool(script.verdict) + bool(script.order)
        if wanted == sum(instead is None for _, _, instead in inside):
            kept = [part for part in kept if part not in inside] + [(start, end, "")]
    return kept


def _end_of_variants(text: str) -> int:
    """Where the next part of the script begins behind its variants."""
    found = re.search(r"^variants:.*\n(?:(?:[ #-].*)?(?:\n|$))*", text, re.MULTILINE)
    return found.end() if found else len(text)


def _range(name: str, course: Reached, knowledge: Knowledge) -> str:
    facts = course.last.facts if isinstance(course, Course) else course.second.facts
    definition, value = knowledge.vocabulary[name], facts.value(name)
    if not isinstance(value, Range):
        return "not known"
    slack = SLACK * max(abs(value.low), abs(value.high))
    around = Range(value.low - slack, value.high + slack)
    shown = show(around, definition.unit, definition.quantity)
    return json.dumps(shown) if "," in shown else shown  # between brackets a comma would end it


def _without_empty_lists(lines: list[str]) -> list[str]:
    found: list[str] = []
    for line, following in zip(lines, [*lines[1:], ""], strict=True):
        emptied = line.strip() in ("must:", "must not:", "variants:") and _indent(following) <= _indent(line)
        if not emptied or following.strip().startswith("- "):
            found.append(_EMPTY.sub("", line))
    return found


_EMPTY = re.compile(r"must(?: not)?: \[\](?:, )?|, must(?: not)?: \[\](?=\})")


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
