"""Accepting what scripts conclude now: their `conclude` block is rewritten in place, and nothing else.

Answers, comments and layout stay as written. A verdict, a figure's range and a recorded outcome take the value of
today; an expectation that fails is taken out, so that the difference shows what was given up.
"""

import difflib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from advisor.conclusion import conclusion
from advisor.course import Course, infer
from advisor.inference.agenda import Agenda
from advisor.knowledge import Fault, Knowledge, Place
from advisor.replay import differences
from advisor.scripted import parse_script
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
    script, faults = parse_script(content, knowledge, str(path))
    if script is None:
        return Accepted(path, "", "", faults)
    before = content.decode("utf-8-sig")
    course = infer(script.answers, knowledge, fires)
    wrong = {difference.place for difference in differences(script, course, knowledge)}
    lines: list[str | None] = list(before.splitlines())
    if script.verdict is not None and script.verdict_place in wrong and script.verdict_place is not None:
        _put(lines, script.verdict_place, course.verdict)
    for figure in script.figures:
        if figure.place in wrong:
            _put(lines, figure.place, _range(figure.name, course, knowledge))
    for expectation in script.expectations:
        if expectation.place in wrong:
            lines[expectation.place.line - 1] = None
    kept = _without_empty_lists(lines)
    if record or script.outcome is not None:
        kept = _with_outcome(kept, [str(line) for line in conclusion(course, knowledge)])
    return Accepted(path, before, "\n".join(kept) + "\n")


def _put(lines: list[str | None], place: Place, value: str) -> None:
    """The value at a place replaced; what stands behind it as a comment stays."""
    line = lines[place.line - 1]
    assert line is not None
    written, mark, comment = line[place.column - 1 :].partition(" #")
    gap = " " * (len(written) - len(written.rstrip()))
    lines[place.line - 1] = line[: place.column - 1] + value + gap + mark + comment


def _range(name: str, course: Course, knowledge: Knowledge) -> str:
    definition, value = knowledge.vocabulary[name], course.last.facts.value(name)
    if not isinstance(value, Range):
        return "not known"
    slack = SLACK * max(abs(value.low), abs(value.high))
    around = Range(value.low - slack, value.high + slack)
    return show(around, definition.unit, definition.quantity, 3)


def _without_empty_lists(lines: list[str | None]) -> list[str]:
    kept = [line for line in lines if line is not None]
    found: list[str] = []
    for line, following in zip(kept, [*kept[1:], ""], strict=True):
        emptied = line.strip() in ("must:", "must not:") and _indent(following) <= _indent(line)
        if not emptied or following.strip().startswith("- "):
            found.append(line)
    return found


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
