"""Scripted calls: a caller's answers in a file, and what must be concluded from them.

    call: Heavy tow on a near-stock five-nine
    about: one sentence
    answers:
      - request: "my neighbour runs a 64"
      - displacement: 5.9 litres
    conclude:
      verdict: recommended
      must:
        - fired: tow-asks-trailer          # a rule
        - caution: sustained-heat          # a rule that warns
        - asks: trailer weight             # a question that is still open
        - best: compressor inducer <= 64 mm
        - requested: choke margin < 10 %
        - ruled out: housing foot is T6    # every such candidate is out
        - known: duty conflict is hard     # a condition on the facts of the call
        - concludes: next step [get-the-rule-book]   # a line of the outcome, whole or its kind and its rule
      must not: [ ...the same... ]
      figures:
        air flow needed: 40 to 55 lb/min
      outcome:                           # recorded whole, line by line; written by "advisor replay --accept"
        - "verdict: recommended"

Reading never raises for what a file holds: the faults, each with its place, say what is wrong and how to mend it.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from advisor.knowledge import Fault, Knowledge, Place
from advisor.knowledge.conditions import All
from advisor.knowledge.meaning import Reader
from advisor.knowledge.places import did_you_mean
from advisor.knowledge.source import Document, Steps, parse_yaml, read_yaml
from advisor.outcome import Answer
from advisor.units import Range, Unclear, read_number

VERDICTS = ("recommended", "nothing fits", "not enough known", "diagnosed")
PARTS = ("call", "about", "answers", "conclude")
CONCLUDED = ("verdict", "must", "must not", "figures", "asks first", "outcome")
OF_A_RULE = ("fired", "caution")
OF_A_CONDITION = ("best", "requested", "ruled out", "known")
KINDS = (*OF_A_RULE, "asks", "concludes", *OF_A_CONDITION)
BEHIND = re.compile(r"\[([^\[\]]+)\]$")


@dataclass(frozen=True, slots=True)
class Expectation:
    """One thing that must, or must not, be concluded; ``words`` is a rule's or fact's name, or the condition."""

    kind: str
    words: str
    wanted: bool
    place: Place
    condition: All | None = None


@dataclass(frozen=True, slots=True)
class FigureRange:
    """A figure of the call and the SI range it must lie in."""

    name: str
    low: float
    high: float
    words: str
    place: Place


@dataclass(frozen=True, slots=True)
class Script:
    """A scripted call as read."""

    file: str
    call: str
    about: str
    answers: tuple[Answer, ...]
    verdict: str | None = None
    expectations: tuple[Expectation, ...] = ()
    figures: tuple[FigureRange, ...] = ()
    verdict_place: Place | None = None
    order: tuple[str, ...] = field(default=())
    outcome: tuple[str, ...] | None = None
    outcome_place: Place | None = None

    @property
    def expects(self) -> bool:
        """Whether anything is to be concluded."""
        return bool(self.verdict or self.expectations or self.figures or self.order or self.outcome is not None)

    def rules(self) -> frozenset[str]:
        """The rules that the expectations and the recorded outcome name."""
        named = {one.words for one in self.expectations if one.kind in OF_A_RULE}
        lines = [*(one.words for one in self.expectations if one.kind == "concludes"), *(self.outcome or ())]
        return frozenset(named | {found[1] for line in lines if (found := BEHIND.search(line))})


def read_script(path: Path, knowledge: Knowledge, name: str | None = None) -> tuple[Script | None, tuple[Fault, ...]]:
    """The script in a file, None with the faults that keep it from being used."""
    return _read(read_yaml(path, name or str(path)), knowledge)


def parse_script(content: bytes, knowledge: Knowledge, name: str) -> tuple[Script | None, tuple[Fault, ...]]:
    """The script in some bytes, None with the faults that keep it from being used."""
    return _read(parse_yaml(content, name), knowledge)


def _read(document: Document, knowledge: Knowledge) -> tuple[Script | None, tuple[Fault, ...]]:
    if document.data is None and not document.faults:
        mend = "write 'call:', 'answers:' and 'conclude:'"
        document.faults.append(Fault(document.place(), "the file is empty", mend))
    if document.data is None:
        return None, tuple(sorted(document.faults))
    script = _Reading(document, knowledge).script()
    faults = tuple(sorted(set(document.faults)))
    return (None if faults else script), faults


class _Reading:
    def __init__(self, document: Document, knowledge: Knowledge) -> None:
        self.document = document
        self.knowledge = knowledge
        self.reader = Reader(knowledge.vocabulary, document.faults)

    def fault(self, path: Steps, what: str, mend: str, key: bool = False) -> None:
        place = self.document.key_place(path) if key else self.document.place(path)
        self.document.faults.append(Fault(place, what, mend))

    def script(self) -> Script | None:
        data = self.document.data
        if not isinstance(data, dict):
            self.fault((), "a scripted call is wanted here", "write 'call:', 'answers:' and 'conclude:'")
            return None
        for key in data:
            if key not in PARTS:
                self.fault((key,), f"'{key}' is no part of a scripted call", _mend(key, PARTS), key=True)
        answers = self.answers(data.get("answers"))
        conclude = data.get("conclude", {})
        if not isinstance(conclude, dict):
            mend = "write 'verdict:', 'must:' or 'figures:'"
            self.fault(("conclude",), "what must be concluded is wanted here", mend)
            conclude = {}
        for key in conclude:
            if key not in CONCLUDED:
                self.fault(("conclude", key), f"'{key}' can't be concluded", _mend(key, CONCLUDED), key=True)
        verdict = conclude.get("verdict")
        if verdict is not None and verdict not in VERDICTS:
            self.fault(("conclude", "verdict"), f"'{verdict}' is no verdict", _mend(str(verdict), VERDICTS))
        return Script(
            file=self.document.file,
            call=self.text(data, "call") or Path(self.document.file).stem,
            about=self.text(data, "about"),
            answers=answers,
            verdict=verdict if isinstance(verdict, str) else None,
            expectations=(*self.expectations(conclude, "must", True), *self.expectations(conclude, "must not", False)),
            figures=self.figures(conclude),
            verdict_place=self.document.place(("conclude", "verdict")),
            order=self.order(conclude.get("asks first")),
            outcome=self.outcome(conclude.get("outcome")),
            outcome_place=self.document.key_place(("conclude", "outcome")),
        )

    def outcome(self, listed: Any) -> tuple[str, ...] | None:
        if listed is None:
            return None
        if not isinstance(listed, list) or not all(isinstance(line, str) for line in listed):
            mend = "let 'advisor replay --accept' write it"
            self.fault(("conclude", "outcome"), "a list of recorded lines is wanted here", mend)
            return None
        return tuple(listed)

    def text(self, data: dict[str, Any], key: str) -> str:
        value = data.get(key, "")
        if not isinstance(value, str):
            self.fault((key,), f"'{key}' is a line of text", "write it in one line, in quotes if it holds ': '")
            return ""
        return " ".join(value.split())

    def answers(self, listed: Any) -> tuple[Answer, ...]:
        if not isinstance(listed, list):
            self.fault(("answers",), "a list of answers is wanted here", "write each as '- fact: \"his words\"'")
            return ()
        answers = []
        for index, entry in enumerate(listed):
            path: Steps = ("answers", index)
            if not isinstance(entry, dict) or len(entry) != 1:
                mend = "write '- displacement: \"5.9 litres\"'"
                self.fault(path, "an answer is one fact with the caller's words", mend)
                continue
            (fact, words), *_ = entry.items()
            if not isinstance(words, str):
                self.fault((*path, fact), "the caller's words are wanted here", "write them in one line, in quotes")
            elif self.asked_fact(fact, (*path, fact)):
                answers.append(Answer(fact, words))
        return tuple(answers)

    def asked_fact(self, name: str, path: Steps, key: bool = True) -> bool:
        definition = self.knowledge.vocabulary.get(name)
        if definition is not None and definition.source == "asked":
            return True
        if definition is None:
            self.fault(path, f"there is no fact '{name}'", _mend(name, self.knowledge.vocabulary), key=key)
        else:
            mend = "give what he says instead; this follows from it"
            self.fault(path, f"'{name}' is not asked of a caller", mend, key=key)
        return False

    def order(self, listed: Any) -> tuple[str, ...]:
        if listed is None:
            return ()
        if not isinstance(listed, list) or not all(isinstance(name, str) for name in listed):
            self.fault(("conclude", "asks first"), "a list of facts is wanted here", "write '[displacement, duties]'")
            return ()
        good = [self.asked_fact(name, ("conclude", "asks first", i), False) for i, name in enumerate(listed)]
        return tuple(listed) if all(good) else ()

    def expectations(self, conclude: dict[str, Any], key: str, wanted: bool) -> tuple[Expectation, ...]:
        listed = conclude.get(key, [])
        if not isinstance(listed, list):
            self.fault(("conclude", key), "a list is wanted here", "write each as '- fired: rule-name'")
            return ()
        made = []
        for index, entry in enumerate(listed):
            path: Steps = ("conclude", key, index)
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
        place = self.document.place(path)
        if kind in OF_A_RULE:
            names = [rule.name for rule in self.knowledge.rules]
            if words not in names:
                self.fault(path, f"there is no rule '{words}'", _mend(words, names))
                return None
            return Expectation(kind, words, wanted, place)
        if kind == "asks":
            return Expectation(kind, words, wanted, place) if self.asked_fact(words, path, False) else None
        if kind == "concludes":
            behind = BEHIND.search(words)
            names = [rule.name for rule in self.knowledge.rules]
            if behind is not None and behind[1] not in names:
                self.fault(path, f"there is no rule '{behind[1]}'", _mend(behind[1], names))
                return None
            return Expectation(kind, words, wanted, place)
        if kind in OF_A_CONDITION:
            condition = self.condition(words, path)
            return None if condition is None else Expectation(kind, words, wanted, place, condition)
        self.fault(path, f"'{kind}' is no kind of expectation", _mend(kind, KINDS), key=True)
        return None

    def condition(self, words: str, path: Steps) -> All | None:
        found = self.reader.condition(words, lambda offset: self.document.place_in(path, offset))
        return None if found is None else All((found,), place=self.document.place(path), text=words)

    def figures(self, conclude: dict[str, Any]) -> tuple[FigureRange, ...]:
        listed = conclude.get("figures", {})
        if not isinstance(listed, dict):
            mend = "write 'boost needed: 30 to 36 psi'"
            self.fault(("conclude", "figures"), "figures with their ranges are wanted here", mend)
            return ()
        made = []
        for name, words in listed.items():
            path: Steps = ("conclude", "figures", name)
            definition = self.knowledge.vocabulary.get(name)
            if definition is None or definition.kind != "number":
                self.fault(path, f"there is no figure '{name}'", _mend(name, self.knowledge.vocabulary), key=True)
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


def _mend(word: str, known: Sequence[str] | Any) -> str:
    names = tuple(known)
    few = f"write one of {', '.join(names)}" if len(names) <= 8 else "see the fact vocabulary and the rule files"
    return did_you_mean(word, names, few)


__all__ = ["Expectation", "FigureRange", "Script", "parse_script", "read_script"]
