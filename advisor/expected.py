"""What must, or must not, be concluded from a scripted call: one expectation, or the range of a figure, read.

The kinds are shown in `scripted`. Faults go to the document of the script.
"""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from advisor.knowledge import Fault, Knowledge, Place
from advisor.knowledge.conditions import All, AnyOf
from advisor.knowledge.meaning import Reader
from advisor.knowledge.places import did_you_mean
from advisor.knowledge.source import Document, Steps
from advisor.units import Range, Unclear, read_number

OF_A_RULE = ("fired", "caution", "may caution")
OF_A_CONDITION = ("best", "requested", "ruled out", "known")
OF_POINTS = ("takes", "gives")
OF_CANDIDATES = ("fired for", *OF_POINTS)
KINDS = (*OF_A_RULE, "asks", "concludes", *OF_A_CONDITION, *OF_CANDIDATES)
LINES = (
    "verdict", "recommended", "requested part", "turbo price", "order total", "conflict", "fact", "assumption",
    "caution", "advice", "next step", "says", "part", "asks", "asks first", "rules out",
)  # fmt: skip
"""The kinds of lines that a call concludes, beside those of points; what stands there is a `conclusion.Line`."""
_POINTS_LINE = re.compile(r"(?:takes|gives) \S.* points")
_MEANT = {
    "set": "fact", "sets": "fact", "assume": "assumption", "assumes": "assumption", "recommend": "advice",
    "recommends": "advice", "say": "says", "add part": "part", "parts": "part", "ask": "asks",
    "ask first": "asks first", "rule out": "rules out", "warns": "caution",
    "penalise": "takes 5 points", "prefer": "gives 5 points",
}  # fmt: skip
"""How the lines are called of what stands so in a rule."""
SO_MANY = re.compile(r"(\d+(?:\.\d+)?) points? for (?=\S)")
TAKEN_OUT = "if the rule was taken out, take the line out too"
_CODE = re.compile(r"[A-Z]{2,}-?\d[A-Z\d-]*")
BEHIND = re.compile(r"\[([^\[\]]+)\]$")


@dataclass(frozen=True, slots=True)
class Expectation:
    """One thing that must, or must not, be concluded; ``words`` is a rule's or fact's name, a line, or the condition;
    ``rule`` the rule behind it; ``points`` how many it takes at least, negative ones given."""

    kind: str
    words: str
    wanted: bool
    place: Place
    condition: All | None = None
    rule: str = ""
    points: float = 0.0


@dataclass(frozen=True, slots=True)
class FigureRange:
    """A figure of the call and the SI range it must lie in."""

    name: str
    low: float
    high: float
    words: str
    place: Place


class Expecting:
    """A script while what it expects is read."""

    def __init__(self, document: Document, knowledge: Knowledge) -> None:
        self.document = document
        self.knowledge = knowledge
        self.reader = Reader(knowledge.vocabulary, document.faults)

    def fault(self, path: Steps, what: str, mend: str, key: bool = False) -> None:
        place = self.document.key_place(path) if key else self.document.place(path)
        self.document.faults.append(Fault(place, what, mend))

    def asked_fact(self, name: str, path: Steps, key: bool = True) -> bool:
        definition = self.knowledge.vocabulary.get(name)
        if definition is not None and definition.source == "asked":
            return True
        if definition is None:
            self.fault(path, f"there is no fact '{name}'", mend_of(name, self.knowledge.vocabulary), key=key)
        else:
            mend = "give what he says instead; this follows from it"
            self.fault(path, f"'{name}' is not asked of a caller", mend, key=key)
        return False

    def expectations(self, conclude: dict[str, Any], key: str, at: Steps, wanted: bool) -> tuple[Expectation, ...]:
        listed = conclude.get(key, [])
        if not isinstance(listed, list):
            self.fault((*at, key), "a list is wanted here", "write each as '- fired: rule-name'")
            return ()
        made = []
        for index, entry in enumerate(listed):
            path: Steps = (*at, key, index)
            if not isinstance(entry, dict) or len(entry) != 1 or not all(isinstance(v, str) for v in entry.values()):
                mend = f"write one of {', '.join(KINDS)} with what it holds"
                self.fault(path, "one expectation is wanted here", mend)
                continue
            (kind, words), *_ = entry.items()
            expectation = self.expectation(kind, words, wanted, (*path, kind))
            if expectation is not None:
                made.append(expectation)
        return tuple(made)

    def expectation(self, kind: str, words: str, wanted: bool, path: Steps) -> Expectation | None:
        place, names = self.document.place(path), [rule.name for rule in self.knowledge.rules]
        if kind in OF_A_RULE:
            if words not in names:
                self.fault(path, f"there is no rule '{words}'", _or_gone(words, names))
                return None
            return Expectation(kind, words, wanted, place)
        if kind == "asks":
            return Expectation(kind, words, wanted, place) if self.asked_fact(words, path, False) else None
        if kind == "concludes" or kind in OF_CANDIDATES:
            behind = BEHIND.search(words)
            if behind is not None and behind[1] not in names:
                self.fault(path, f"there is no rule '{behind[1]}'", _or_gone(behind[1], names))
                return None
            rule = "" if behind is None else behind[1]
            if kind == "concludes" and not self.lines_are_known(words, path):
                return None
            if kind == "concludes":
                return Expectation(kind, words, wanted, place, rule=rule)
            return self.of_candidates(kind, words, wanted, path, rule)
        if kind in ("best", "requested") and _CODE.fullmatch(words.strip()):
            mend = "write what it is, as in 'compressor inducer is 66 mm', or its whole code, as in "
            mend += f"'concludes: \"recommended: {words.strip()}\"'"
            self.fault(path, f"'{words.strip()}' is a code, a condition is wanted here", mend)
            return None
        if kind in OF_A_CONDITION:
            condition = self.condition(words, path)
            return None if condition is None else Expectation(kind, words, wanted, place, condition)
        mend = did_you_mean(kind, KINDS, f"write one of {', '.join(KINDS)}")
        if kind in LINES or kind in _MEANT:
            mend = f"write 'concludes: \"{_MEANT.get(kind, kind)} [rule-name]\"'"
            mend += f", or 'known: {words}'" if _MEANT.get(kind, kind) == "fact" else ""
        self.fault(path, f"'{kind}' is no kind of expectation", mend, key=True)
        return None

    def lines_are_known(self, words: str, path: Steps) -> bool:
        """Whether all kinds of lines are some that a call can conclude; of others a `must not` would never fail."""
        line = BEHIND.sub("", words).partition(": ")[0].strip()
        for kind in line.split(", "):
            if kind not in LINES and not _POINTS_LINE.fullmatch(kind):
                kinds = (*LINES, "takes 5 points", "gives 5 points")
                mend = did_you_mean(kind, kinds, f"write one of {', '.join(kinds)}")
                mend = f"write '{_MEANT[kind]}'" if kind in _MEANT else mend
                self.fault(path, f"'{kind}' is no kind of line that a call concludes", mend)
                return False
        return True

    def of_candidates(self, kind: str, words: str, wanted: bool, path: Steps, rule: str) -> Expectation | None:
        if not rule:
            self.fault(path, "the rule is wanted behind the conditions", "write 'gate share > 25 % [rule-name]'")
            return None
        points, start = 0.0, 0
        if kind in OF_POINTS:
            if (many := SO_MANY.match(words)) is None or not float(many[1]):
                mend = "write '18 points for spool rpm >= 2,400 rpm [rule-name]'"
                self.fault(path, "so many points for such candidates are wanted here", mend)
                return None
            points, start = float(many[1]) * (1.0 if kind == "takes" else -1.0), many.end()
        condition = self.condition(BEHIND.sub("", words)[start:], path, start)
        return None if condition is None else Expectation(kind, words, wanted, condition.place, condition, rule, points)

    def condition(self, words: str, path: Steps, base: int = 0) -> All | None:
        """The condition, or several: those with semicolons between must all hold, of those with "or" one."""
        place, parts = self.document.place(path), []
        for start, piece in _pieces(words, ";"):
            either = [
                self.reader.condition(one, partial(self._place_from, path, base + start + offset))
                for offset, one in _pieces(piece, " or ")
            ]
            found = tuple(one for one in either if one is not None)
            if len(found) < len(either):
                return None
            parts.append(found[0] if len(found) == 1 else AnyOf(found, place=place, text=piece))
        return All(tuple(parts), place=place, text=words.strip())

    def _place_from(self, path: Steps, start: int, offset: int) -> Place:
        return self.document.place_in(path, start + offset)

    def figures(self, conclude: dict[str, Any], at: Steps) -> tuple[FigureRange, ...]:
        listed = conclude.get("figures", {})
        if not isinstance(listed, dict):
            mend = "write 'boost needed: 30 to 36 psi'"
            self.fault((*at, "figures"), "figures with their ranges are wanted here", mend)
            return ()
        made = []
        for name, words in listed.items():
            path: Steps = (*at, "figures", name)
            definition = self.knowledge.vocabulary.get(name)
            if definition is None or definition.kind != "number":
                self.fault(path, f"there is no figure '{name}'", mend_of(name, self.knowledge.vocabulary), key=True)
                continue
            try:
                span: Range = read_number(words, definition.quantity, definition.unit).value
            except (Unclear, TypeError):
                self.fault(path, f"'{words}' is no range of figures", f"write it as '30 to 36 {definition.unit}'")
                continue
            if span.exact:
                self.fault(path, f"'{words}' is a single figure", "give the range it must lie in, as '30 to 36'")
                continue
            made.append(FigureRange(name, span.low, span.high, words, self.document.place(path)))
        return tuple(made)


def _pieces(words: str, mark: str) -> Iterator[tuple[int, str]]:
    """What stands between the marks, without spaces around it, and where it begins."""
    at = 0
    for piece in words.split(mark):
        yield at + len(piece) - len(piece.lstrip()), piece.strip()
        at += len(piece) + len(mark)


def mend_of(word: str, known: Sequence[str] | Any) -> str:
    """The nearest name; else all of them where they are few."""
    names = tuple(known)
    few = f"write one of {', '.join(names)}" if len(names) <= 8 else "see the fact vocabulary and the rule files"
    return did_you_mean(word, names, few)


def _or_gone(name: str, names: Collection[str]) -> str:
    """How to mend the name of a rule that isn't there: it may be misspelt, or the rule was taken out or renamed."""
    near = did_you_mean(name, names)
    return f"{near} If the rule was taken out, take the line out too" if near else TAKEN_OUT
