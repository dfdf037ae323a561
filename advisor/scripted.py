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
        - may caution: slow-down           # a rule that warns in a part of the ranges he gave ("not sure": the usual)
        - asks: trailer weight             # a question that is still open
        - best: compressor inducer <= 64 mm
        - requested: choke margin < 10 %
        - ruled out: housing foot is T6    # every such candidate is out
        - known: duty conflict is hard     # a condition on the facts of the call
        - concludes: caution, next step [get-the-rule-book]   # lines of the outcome: kinds and their rule, or whole
        - fired for: wastegate is internal; gate share > 25 % [a-rule]   # the rule, for such candidates and no others
        - takes: 18 points for spool rpm >= 2,400 rpm [a-rule]           # so many or more, from such and no others
      must not: [ ...the same... ]
      figures:
        air flow needed: 40 to 55 lb/min
      outcome:                           # recorded whole, line by line; written by "advisor replay --accept"
        - "verdict: recommended"
    variants:                            # the same call with small differences, each with a conclusion of its own
      - but: on bolts that he never touched           # how it differs; left out, the answers say it
        answers: [head fasteners: stock bolts]        # instead of those above, or beside them
        without: [altitude]                           # of those above, not given here
        conclude: {must: [caution: studs-before-boost]}

Reading never raises for what a file holds: the faults, each with its place, say what is wrong and how to mend it.
"""

import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from advisor.expected import BEHIND, KINDS, OF_A_RULE, Expectation, Expecting, FigureRange, mend_of
from advisor.journal import ENDING
from advisor.knowledge import Fault, Knowledge, Place
from advisor.knowledge.catalogue_files import MODELS
from advisor.knowledge.places import nearest
from advisor.knowledge.source import Document, Steps, parse_yaml, read_yaml
from advisor.outcome import Answer

VERDICTS = ("recommended", "nothing fits", "not enough known", "diagnosed")
PARTS = ("call", "about", "answers", "conclude", "variants")
OF_A_VARIANT = ("but", "answers", "without", "conclude")
CONCLUDED = ("verdict", "must", "must not", "figures", "asks first", "outcome")


@dataclass(frozen=True, slots=True)
class Script:
    """A scripted call, or a variant of one, as read; ``place`` is where it begins."""

    file: str
    call: str
    about: str
    answers: tuple[Answer, ...]
    place: Place
    verdict: str | None = None
    expectations: tuple[Expectation, ...] = ()
    figures: tuple[FigureRange, ...] = ()
    verdict_place: Place | None = None
    order: tuple[str, ...] = field(default=())
    outcome: tuple[str, ...] | None = None
    outcome_place: Place | None = None
    places: Mapping[Answer, Place] = field(default_factory=dict, compare=False)

    def place_of(self, answer: Answer) -> Place:
        """Where the words of an answer stand."""
        return self.places.get(answer, self.place)

    @property
    def expects(self) -> bool:
        """Whether anything is to be concluded."""
        return bool(self.verdict or self.expectations or self.figures or self.order or self.outcome is not None)

    def rules(self) -> frozenset[str]:
        """The rules that the expectations and the recorded outcome name."""
        named = {one.words if one.kind in OF_A_RULE else one.rule for one in self.expectations} - {""}
        return frozenset(named | {found[1] for line in self.outcome or () if (found := BEHIND.search(line))})


def read_script(path: Path, knowledge: Knowledge, name: str | None = None) -> tuple[Script | None, tuple[Fault, ...]]:
    """The script in a file, without its variants; None with the faults that keep it from being used."""
    scripts, faults = read_scripts(path, knowledge, name)
    return next(iter(scripts), None), faults


def read_scripts(path: Path, knowledge: Knowledge, name: str | None = None) -> tuple[list[Script], tuple[Fault, ...]]:
    """The script in a file and its variants, in written order; none with the faults that keep it from being used."""
    return _read(read_yaml(path, name or str(path)), knowledge)


def parse_script(content: bytes, knowledge: Knowledge, name: str) -> tuple[Script | None, tuple[Fault, ...]]:
    """The script in some bytes, without its variants; None with the faults that keep it from being used."""
    scripts, faults = parse_scripts(content, knowledge, name)
    return next(iter(scripts), None), faults


def parse_scripts(content: bytes, knowledge: Knowledge, name: str) -> tuple[list[Script], tuple[Fault, ...]]:
    """The script in some bytes and its variants; none with the faults that keep it from being used."""
    return _read(parse_yaml(content, name), knowledge)


def _read(document: Document, knowledge: Knowledge) -> tuple[list[Script], tuple[Fault, ...]]:
    if (kept := kept_call(document)) is not None:
        return [], (kept,)
    if document.data is None and not document.faults:
        mend = "write 'call:', 'answers:' and 'conclude:'"
        document.faults.append(Fault(document.place(), "the file is empty", mend))
    if document.data is None:
        return [], tuple(sorted(document.faults))
    scripts = _Reading(document, knowledge).scripts()
    faults = tuple(sorted(set(document.faults)))
    return [] if faults else scripts, faults


def kept_call(document: Document) -> Fault | None:
    """What to say where the journal of a live call is given for a script."""
    if not document.file.endswith(ENDING):
        return None
    kept = Path(document.file)
    mend = f"type 'save NAME' in it to write it as a script: advisor call --resume {kept.stem}"
    mend += f" --calls {shlex.quote(str(kept.parent))}"
    return Fault(Place(document.file, 1, 1), "this is a kept call, not a script", mend)


def variant(
    call: str, answers: Sequence[Answer], given: Sequence[Answer], without: Sequence[str], but: str
) -> tuple[str, tuple[Answer, ...]]:
    """Name and answers of a variant: ``given`` stands for or beside the call's own answers, ``without`` is left out."""
    instead = {answer.fact: answer for answer in given}
    kept = [instead.pop(answer.fact, answer) for answer in answers if answer.fact not in without]
    words = but or ", ".join([*(f"{a.fact} {a.words}" for a in given), *(f"no {name}" for name in without)])
    return f"{call}: {words}", (*kept, *instead.values())


def again(fact: str, first: Place) -> tuple[str, str]:
    """What to say of a fact that is answered a second time, and the mend."""
    what = f"'{fact}' is answered a second time (first in line {first.line})"
    return what, "keep the answer that counts; what he says later goes into a variant"


def of_the_shop(document: Document) -> Fault | None:
    """The fault of a file that is none of scripted calls but one of a shop's."""
    data = document.data
    if not isinstance(data, dict) or data.keys() & {*PARTS}:
        return None
    found = (key for key in data if key in ("rules", "facts", *MODELS))
    mend = "name a file of scripted calls (a shop's folder goes with '--shop')"
    what = "this file holds the shop's {}, no scripted call"
    return next((Fault(document.key_place((key,)), what.format(key), mend) for key in found), None)


class _Reading(Expecting):
    def __init__(self, document: Document, knowledge: Knowledge) -> None:
        super().__init__(document, knowledge)
        self.places: dict[Answer, Place] = {}

    def scripts(self) -> list[Script]:
        data = self.document.data
        if not isinstance(data, dict):
            self.fault((), "a scripted call is wanted here", "write 'call:', 'answers:' and 'conclude:'")
            return []
        if (astray := of_the_shop(self.document)) is not None:
            self.document.faults.append(astray)
            return []
        meant = self.slips(data, PARTS, (), "is no part of a scripted call")
        if "answers" in meant:  # what hangs on them isn't blamed
            return []
        main = self.script(
            self.text(data, ("call",)) or Path(self.document.file).stem, self.answers(data.get("answers"), ()), data, ()
        )
        return [main, *self.variants(data.get("variants"), main)]

    def slips(self, data: Mapping[str, Any], known: Sequence[str], at: Steps, what: str) -> set[str]:
        """Note the keys that aren't known here; those that they were meant to be."""
        meant: set[str] = set()
        for key in data.keys() - {*known}:
            close = nearest(re.sub("[_-]", " ", key), [name for name in known if name not in data]) or ""
            mend = "" if close and key.startswith(close) else _elsewhere(key, known)
            if close and not mend:
                meant.add(close)
                mend = f"did you mean '{close}'?"
            self.fault((*at, key), f"'{key}' {what}", mend or mend_of(key, known), key=True)
        return meant

    def script(self, call: str, answers: tuple[Answer, ...], data: dict[str, Any], at: Steps) -> Script:
        conclude, under = data.get("conclude", {}), (*at, "conclude")
        if not isinstance(conclude, dict):
            mend = "write 'verdict:', 'must:' or 'figures:'"
            self.fault(under, "what must be concluded is wanted here", mend)
            conclude = {}
        allowed = CONCLUDED[:-1] if at else CONCLUDED  # the whole outcome is recorded of the call itself alone
        self.slips(conclude, allowed, under, "can't be concluded")
        verdict = conclude.get("verdict")
        if verdict is not None and verdict not in VERDICTS:
            self.fault((*under, "verdict"), f"'{verdict}' is no verdict", mend_of(str(verdict), VERDICTS))
        expectations = [self.expectations(conclude, key, under, key == "must") for key in ("must", "must not")]
        return Script(
            file=self.document.file,
            call=call,
            about="" if at else self.text(data, ("about",)),
            answers=answers,
            verdict=verdict if isinstance(verdict, str) else None,
            expectations=(*expectations[0], *expectations[1]),
            figures=self.figures(conclude, under),
            place=self.document.place(at),
            verdict_place=None if verdict is None else self.document.place((*under, "verdict")),
            order=self.order(conclude.get("asks first"), (*under, "asks first")),
            outcome=self.outcome(conclude.get("outcome"), (*under, "outcome")),
            outcome_place=self.document.key_place((*under, "outcome")),
            places=self.places,
        )

    def variants(self, listed: Any, main: Script) -> list[Script]:
        if listed is None:
            return []
        if not isinstance(listed, list) or not all(isinstance(entry, dict) for entry in listed):
            mend = "write each as '- answers: [altitude: \"6,000 ft\"]' with its 'conclude:' below"
            self.fault(("variants",), "a list of variants of the call is wanted here", mend)
            return []
        return [self.variant(entry, ("variants", index), main) for index, entry in enumerate(listed)]

    def variant(self, entry: dict[str, Any], at: Steps, main: Script) -> Script:
        meant = self.slips(entry, OF_A_VARIANT, at, "is no part of a variant")
        given = self.answers(entry.get("answers", []), at)
        left_out = self.left_out(entry.get("without", []), (*at, "without"), main)
        if not given and not left_out and not meant & {"answers", "without"}:
            mend = "write 'answers:' with what he says instead, or 'without:' with what he doesn't say"
            self.fault(at, "the variant differs in no answer from the call", mend)
        call, answers = variant(main.call, main.answers, given, left_out, self.text(entry, ("but",), at))
        told = len(self.document.faults)
        script = self.script(call, answers, entry, at)
        if not script.expects and "conclude" not in meant and len(self.document.faults) == told:
            self.fault(at, "the variant wants nothing concluded", "write 'conclude:' with 'must:' or 'must not:'")
        return script

    def left_out(self, listed: Any, at: Steps, main: Script) -> tuple[str, ...]:
        said = [answer.fact for answer in main.answers]
        names = self.facts(listed, at)
        for index, name in enumerate(names):
            if name not in said:
                self.fault((*at, index), f"the call has no answer to '{name}'", mend_of(name, said))
        return names

    def facts(self, listed: Any, at: Steps) -> tuple[str, ...]:
        if listed is None or (isinstance(listed, list) and all(isinstance(name, str) for name in listed)):
            return tuple(listed or ())
        self.fault(at, "a list of facts is wanted here", "write '[displacement, duties]'")
        return ()

    def outcome(self, listed: Any, at: Steps) -> tuple[str, ...] | None:
        if isinstance(listed, list) and all(isinstance(line, str) for line in listed):
            return tuple(listed)
        if listed is not None:
            self.fault(at, "a list of recorded lines is wanted here", "let 'advisor replay --accept' write it")
        return None

    def text(self, data: dict[str, Any], path: Steps, under: Steps = ()) -> str:
        key = path[-1]
        value = data.get(str(key), "")
        if not isinstance(value, str):
            mend = "write it in one line, in quotes if it holds ': '"
            self.fault((*under, *path), f"'{key}' is a line of text", mend)
            return ""
        return " ".join(value.split())

    def answers(self, listed: Any, at: Steps) -> tuple[Answer, ...]:
        if not isinstance(listed, list):
            self.fault((*at, "answers"), "a list of answers is wanted here", "write each as '- fact: \"his words\"'")
            return ()
        answers: list[Answer] = []
        said: dict[str, int] = {}
        for index, entry in enumerate(listed):
            path: Steps = (*at, "answers", index)
            if not isinstance(entry, dict) or len(entry) != 1:
                mend = "write '- displacement: \"5.9 litres\"'"
                self.fault(path, "an answer is one fact with the caller's words", mend)
                continue
            (fact, words), *_ = entry.items()
            if not isinstance(words, str):
                self.fault((*path, fact), "the caller's words are wanted here", "write them in one line, in quotes")
            elif fact in said:
                first = self.document.key_place((*at, "answers", said[fact], fact))
                self.fault((*path, fact), *again(fact, first), key=True)
            elif self.asked_fact(fact, (*path, fact)):
                said[fact] = index
                answers.append(Answer(fact, words))
                self.places.setdefault(answers[-1], self.document.place((*path, fact)))
        return tuple(answers)

    def order(self, listed: Any, at: Steps) -> tuple[str, ...]:
        names = self.facts(listed, at)
        good = [self.asked_fact(name, (*at, i), False) for i, name in enumerate(names)]
        return names if all(good) else ()


def _elsewhere(key: str, known: Sequence[str]) -> str:
    """How to mend a key that belongs deeper into the script; "" for any other."""
    if "conclude" in known and key in CONCLUDED:
        return "indent it to stand below 'conclude:'"
    if key in KINDS:
        return f"write it below 'must:' as '- {key}: ...'"
    return ""
