"""The fact vocabulary (`facts.yaml`): what can be known in a call, and how the salesperson asks for it."""

import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import Field

from advisor.quantities import Range

from .accepted import Accepted, AcceptedEntry, answers_at
from .against import Against, AgainstEntry, read_against
from .conditions import Condition
from .fields import Entry, Text, Wrong, YesNo, entries, one_of, read_by
from .measure import DIMENSIONS, in_si, quantities_of, read_figure
from .names import CHOICE_SPELT, FACT_SPELT, choice_name, fact_name
from .places import Fault, Place
from .source import Document, Steps
from .told_for import ToldFor, ToldForEntry, read_told_for

Source = Literal["asked", "heard", "rule", "computed", "candidate"]
FactKind = Literal["number", "choice", "several", "yes/no", "text"]
Volunteered = Literal["", "questions", "year", "units"]


@dataclass(frozen=True, slots=True)
class Choice:
    """One value of a choice or several fact; `weight` is its share among callers, in no fixed scale; `denied_by` are
    phrases that hold its words and say that it isn't so, `hints` words that only lean to it; it `stands in for` what is
    no choice and comes nearest to it; `rings_for` are phrases said at another question that tell that he calls for it.
    """

    name: str
    words: tuple[str, ...] = ()
    weight: float = 1.0
    means: str = ""
    place: Place | None = field(default=None, compare=False)
    denied_by: tuple[str, ...] = ()
    hints: tuple[str, ...] = ()
    stands_in_for: tuple[str, ...] = ()
    rings_for: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Said:
    """Words that stand for a figure ("mile high"), in SI, or for yes or no."""

    words: tuple[str, ...]
    value: Range | bool


@dataclass(frozen=True)
class FactDef:
    """One thing that can be known. Ranges and numbers are SI; `unit` is how the shop shows them.

    `said_as` are words that stand for figures or for yes and no, `mentioned` phrases around a figure ("#") that name
    this fact, or those of its choices that name it in any sentence. `limit`: it is asked for the most or the least, so
    that "up to 14k" is 14k. `plans`: what he plans or wishes, what was, or another truck's answers it too, where else
    it is asked whether it is so today. `denied_by`: phrases that say that a figure is another's. `vague`: what is said
    of all its choices alike, so that a clause that is nothing else names none. `left_open`: who isn't
    sure of it leaves it unknown, where others are taken as usual. `check_by` says how a caller who isn't sure can find
    out. `held_against` are other answers with which it may not go together. `told_for`: the words by which it is told
    where another number is asked for.
    `heard` is what callers said to it before and what they meant, `heard_of_any` the same of all
    facts.
    `volunteered`: nobody asks for it; it is kept wherever he says it: his own "questions", the "year" of the truck, or
    the metric "units" that he names.
    Facts of one `together` may be asked in one breath, each in the words of `in_short`; one that goes `along` is, even
    before anybody can say what it is worth.
    """

    name: str
    topic: str
    source: Source
    kind: FactKind
    quantity: str
    unit: str
    plausible: Range | None
    prior: Range | None
    typical: float | None
    choices: tuple[Choice, ...]
    ask: str
    listen_for: str
    why: str
    seconds: float
    known: float
    ask_when: Condition | None
    order: int
    place: Place = field(compare=False)
    accepted: tuple[Accepted, ...] = field(default=(), compare=False)
    said_as: tuple[Said, ...] = ()
    limit: bool = False
    plans: bool = False
    denied_by: tuple[str, ...] = ()
    left_open: bool = False
    check_by: str = ""
    mentioned: tuple[str, ...] = ()
    together: str = ""
    in_short: str = ""
    along: bool = False
    held_against: tuple[Against, ...] = ()
    told_for: ToldFor | None = None
    heard: tuple[tuple[str, str], ...] = ()
    heard_of_any: tuple[tuple[str, str], ...] = ()
    volunteered: Volunteered = ""
    vague: tuple[str, ...] = ()

    def usual(self, value: Range) -> bool:
        """Whether nine of ten callers have such a figure."""
        return self.prior is not None and self.prior.low <= value.mid <= self.prior.high

    @cached_property
    def answerable(self) -> Range | None:
        """The plausible range, widened by the figures that words stand for ("no trailer": 0 lb)."""
        if self.plausible is None:
            return None
        figures = [self.plausible, *(said.value for said in self.said_as if isinstance(said.value, Range))]
        return Range(min(one.low for one in figures), max(one.high for one in figures))

    def __hash__(self) -> int:
        return hash(self.name)  # the rest is long, and what is heard is looked up by it again and again

    @cached_property
    def choice_names(self) -> tuple[str, ...]:
        """The names of the choices in written order."""
        return tuple(choice.name for choice in self.choices)


_FIGURES = ("quantity", "unit", "plausible", "prior", "typical")
_SPAN = re.compile(r"(?P<low>-?[\d.,]+)\s*(?P<low_unit>[^\d\s.,-].*?)?\s+to\s+(?P<high>-?[\d.,]+)\s*(?P<unit>\S.*)?")
_FIGURE = re.compile(r"(?P<figure>-?[\d.,]+)\s*(?P<unit>(?!to\b)[^\d\s.,].*)?")


class ChoiceEntry(Entry):
    """A choice as written."""

    choice: Annotated[str, read_by(choice_name, pattern=CHOICE_SPELT, minLength=1, maxLength=60)]
    words: tuple[Text, ...] = ()
    denied_by: tuple[Text, ...] = ()
    hints: tuple[Text, ...] = ()
    stands_in_for: tuple[Text, ...] = ()
    rings_for: tuple[Text, ...] = ()
    weight: Annotated[float, Field(ge=0, le=1000)] = 1.0
    means: Text = ""


class SaidEntry(Entry):
    """Words that stand for a figure, or for yes or no, as written."""

    words: tuple[Text, ...] = Field(min_length=1)
    means: Text


class FactEntry(Entry):
    """A fact as written; amounts stay text until quantity and unit are known to be sound."""

    fact: Annotated[str, read_by(fact_name, pattern=FACT_SPELT, maxLength=60)]
    topic: Text
    source: Annotated[Source, one_of("asked", "heard", "rule", "computed", "candidate")] = "asked"
    kind: Annotated[FactKind, one_of("number", "choice", "several", "yes/no", "text")]
    quantity: Annotated[str, one_of(*DIMENSIONS)] | None = None
    unit: Annotated[str, Field(max_length=20)] = ""
    plausible: Text | None = None
    prior: Text | None = None
    typical: Text | None = None
    choices: tuple[ChoiceEntry, ...] = ()
    said_as: tuple[SaidEntry, ...] = ()
    limit: YesNo = False
    plans: YesNo = False
    denied_by: tuple[Text, ...] = ()
    vague: tuple[Text, ...] = ()
    left_open: YesNo = False
    mentioned: tuple[Text, ...] = ()
    ask: Text = ""
    listen_for: Text = ""
    why: Text = ""
    check_by: Text = ""
    seconds: Annotated[float, Field(gt=0, le=600)] = 10.0
    known: Annotated[float, Field(ge=0, le=1)] = 0.9
    ask_when: list[object] | None = None
    order: Annotated[int, Field(ge=0, le=100_000)] = 1000
    together: Text = ""
    in_short: Text = ""
    along: YesNo = False
    held_against: tuple[AgainstEntry, ...] = ()
    told_for: ToldForEntry | None = None
    volunteered: Annotated[Volunteered, one_of("questions", "year", "units")] = ""
    accepted: tuple[AcceptedEntry, ...] = ()


def read_vocabulary(document: Document) -> dict[str, FactDef]:
    """The sound facts of `facts.yaml` by name, still without `ask when`; faults go to the document."""
    vocabulary: dict[str, FactDef] = {}
    first: dict[str, Place] = {}
    for path, entry in entries(FactEntry, document, "facts", lambda path: _read_figures(document, path)):
        place = document.place((*path, "fact"))
        if entry.fact in first:
            what = f"the fact '{entry.fact}' is here a second time (first in line {first[entry.fact].line})"
            document.faults.append(Fault(place, what, "keep one of the two"))
            continue
        first[entry.fact] = place
        before = len(document.faults)
        definition = _Definition(document, path, entry).read()
        if len(document.faults) == before:
            vocabulary[entry.fact] = definition
    return vocabulary


def _read_figures(document: Document, path: Steps) -> None:
    """What is wrong with the figures of a number fact besides what keeps its entry from being read."""
    written: Any = document.data["facts"][path[-1]]  # type: ignore[index, call-overload]
    told, before = {fault.place for fault in document.faults}, len(document.faults)
    keys = [key for key in _FIGURES if isinstance(written, dict) and isinstance(written.get(key), str)]
    figures: dict[str, Any] = {key: written[key] for key in keys}
    in_unit = not document.has((*path, "unit")) or document.place((*path, "unit")) not in told
    if in_unit and figures.get("quantity") in DIMENSIONS and written.get("kind") == "number":
        said = written["said as"] if isinstance(written.get("said as"), list) else []
        means = [one.get("means") if isinstance(one, dict) else None for one in said]
        if all(isinstance(one, str) for one in means):
            figures["said_as"] = [SaidEntry.model_construct(words=(), means=one) for one in means]
        entry = _Definition(document, path, FactEntry.model_construct(fact="", kind="number", **figures))
        entry.said_as(entry.figures()[0])
        document.faults[before:] = [fault for fault in document.faults[before:] if fault.place not in told]


def written_names(document: Document) -> frozenset[str]:
    """The names of all entries of `facts.yaml`, sound or not."""
    data = document.data.get("facts") if isinstance(document.data, dict) else None
    entries = [entry for entry in data if isinstance(entry, dict) and entry] if isinstance(data, list) else []
    written = [entry.get("fact", next(iter(entry.values()))) for entry in entries]  # "fakt" names one too
    return frozenset(name for name in written if isinstance(name, str)) | document.lost


class _Definition:
    """One entry while its parts are checked against each other."""

    def __init__(self, document: Document, path: Steps, entry: FactEntry) -> None:
        self.document = document
        self.path = path
        self.entry = entry

    def fault(self, key: str | int, what: str, mend: str, *steps: str | int) -> None:
        path = (*self.path, key, *steps)
        path = path if self.document.has(path) else self.path
        self.document.faults.append(Fault(self.document.place(path), what, mend))

    def read(self) -> FactDef:
        entry = self.entry
        self.check_asking()
        quantity, plausible, prior, typical = self.figures()
        if plausible is not None:
            if prior is not None and (prior.low < plausible.low or prior.high > plausible.high):
                self.fault("prior", "the prior reaches outside the plausible range", "widen one or narrow the other")
            if typical is not None and not plausible.low <= typical <= plausible.high:
                self.fault("typical", "the typical value is not plausible", "mend one of the two")
        return FactDef(
            name=entry.fact,
            topic=entry.topic,
            source=entry.source,
            kind=entry.kind,
            quantity=quantity or "",
            unit=entry.unit,
            plausible=plausible,
            prior=prior,
            typical=typical,
            choices=self.choices(),
            ask=entry.ask,
            listen_for=entry.listen_for,
            why=entry.why,
            seconds=entry.seconds,
            known=entry.known,
            ask_when=None,
            order=entry.order,
            place=self.document.place((*self.path, "fact")),
            accepted=answers_at(self.document, self.path, entry.accepted),
            said_as=self.said_as(quantity),
            limit=entry.limit,
            plans=entry.plans,
            denied_by=entry.denied_by,
            vague=entry.vague,
            left_open=entry.left_open,
            check_by=entry.check_by,
            mentioned=entry.mentioned,
            together=entry.together,
            in_short=entry.in_short,
            along=entry.along,
            held_against=self.held_against(),
            told_for=read_told_for(entry.told_for, self.document, (*self.path, "told for")),
            volunteered=entry.volunteered,
        )

    def figures(self) -> tuple[str | None, Range | None, Range | None, float | None]:
        """Quantity, plausible range, prior and typical value, as far as they are sound."""
        entry, quantity = self.entry, self.quantity()
        plausible = self.range("plausible", entry.plausible, quantity)
        prior = self.range("prior", entry.prior, quantity)
        return quantity, plausible, prior, self.figure("typical", entry.typical, quantity)

    def check_asking(self) -> None:
        entry = self.entry
        if entry.source == "asked":
            for key, words in (("ask", entry.ask), ("why", entry.why)):
                if not words:
                    self.fault(key, f"'{entry.fact}' is asked and has no '{key}' words", f"add a line '{key}: ...'")
            if bool(entry.together) != bool(entry.in_short) or (entry.along and not entry.together):
                what = f"'{entry.fact}' has only some of 'together', 'in short' and 'along'"
                self.fault("together", what, "write 'together' with 'in short', and 'along' only with both")
            self.check_volunteered()
        elif entry.ask or entry.ask_when or entry.check_by or entry.together or entry.in_short or entry.along:
            what = f"'{entry.fact}' is never asked (source {entry.source})"
            mend = "leave out 'ask', 'ask when', 'check by' and 'together', or make its source asked"
            self.fault("ask", what, mend)

    def check_volunteered(self) -> None:
        """The truck's year and his units are text; his questions need choices, the last one for those of no other."""
        entry = self.entry
        if entry.volunteered in ("year", "units") and entry.kind != "text":
            what = "a year is" if entry.volunteered == "year" else "units are"
            self.fault("volunteered", f"{what} kept as text, '{entry.fact}' is {_a(entry.kind)}", "make it text")
        catches_all = entry.kind == "several" and bool(entry.choices) and not entry.choices[-1].words
        if entry.volunteered == "questions" and not catches_all:
            what = f"nothing in '{entry.fact}' takes a question that no choice names"
            self.fault("volunteered", what, "make its kind several, with a last choice without words")

    def quantity(self) -> str | None:
        """The quantity of a number fact, its unit checked; None when there's no sound one."""
        entry = self.entry
        if entry.kind != "number":
            for key in (*_FIGURES, "said as", "denied by", "limit", "left open"):
                if getattr(entry, key.replace(" ", "_")) and (key, entry.kind) != ("said as", "yes/no"):
                    self.fault(key, f"'{key}' is for numbers, '{entry.fact}' is {_a(entry.kind)}", "leave it out")
            self.check_marked()
            return None
        if entry.quantity is None:
            what = f"the number '{entry.fact}' has no quantity"
            self.fault("fact", what, "add a line such as 'quantity: pressure'")
            return None
        try:
            in_si(1.0, entry.unit, entry.quantity)
        except Wrong as wrong:
            self.fault("unit", wrong.what, wrong.mend)
            return None if quantities_of(entry.unit) else entry.quantity
        return entry.quantity

    def held_against(self) -> tuple[Against, ...]:
        written = enumerate(self.entry.held_against)
        read = (read_against(entry, self.document, (*self.path, "held against", index)) for index, entry in written)
        return tuple(filter(None, read))

    def check_marked(self) -> None:
        """The marked phrases of a choice, or of yes and no, are phrases that it has."""
        phrases = {str(phrase) for choice in self.entry.choices for phrase in (choice.choice, *choice.words)}
        phrases |= {str(phrase) for said in self.entry.said_as for phrase in said.words}
        for index, marked in enumerate(self.entry.mentioned):
            if marked not in phrases:
                what = f"'{marked}' is no phrase of a choice of '{self.entry.fact}'"
                self.fault("mentioned", what, "write it as it stands in 'words', or leave it out", index)

    def said_as(self, quantity: str | None) -> tuple[Said, ...]:
        found = []
        for index, said in enumerate(self.entry.said_as):
            steps = (index, "means")
            if self.entry.kind == "yes/no":
                value: Range | bool | None = {"yes": True, "no": False}.get(said.means)
                if value is None:
                    self.fault("said as", f"'{said.means}' is neither yes nor no", "write it as 'yes'", *steps)
            elif _SPAN.fullmatch(said.means):
                value = self.range("said as", said.means, quantity, *steps)
            else:
                figure = self.figure("said as", said.means, quantity, *steps)
                value = None if figure is None else Range(figure, figure)
            if value is not None:
                found.append(Said(said.words, value))
        return tuple(found)

    def range(self, key: str, words: str | None, quantity: str | None, *steps: str | int) -> Range | None:
        if words is None or quantity is None:
            return None
        if not (found := _SPAN.fullmatch(words)):
            ends = re.sub(r"\s*[-\u2013]\s*(?=\d)|\s+and\s+", " to ", words.removeprefix("between "))
            mend = ends if ends != words and _SPAN.fullmatch(ends) else f"5 to 8 {self.entry.unit}"
            self.fault(key, f"'{words}' is no range", f"write it as '{mend}'", *steps)
            return None
        read: list[float] = []
        for end, unit in (("low", found["low_unit"] or found["unit"] or ""), ("high", found["unit"] or "")):
            try:
                read.append(_signed(found[end], unit, quantity))
            except Wrong as wrong:
                self.fault(key, wrong.what, wrong.mend, *steps)
        if len(read) == 2 and read[0] >= read[1]:
            self.fault(key, "the lower end is not below the upper end", "swap the two", *steps)
        return Range(*read) if len(read) == 2 and read[0] < read[1] else None

    def figure(self, key: str, words: str | None, quantity: str | None, *steps: str | int) -> float | None:
        if words is None or quantity is None:
            return None
        if not (found := _FIGURE.fullmatch(words)):
            self.fault(key, f"'{words}' is not one number", f"write it as '5 {self.entry.unit}'", *steps)
            return None
        try:
            return _signed(found["figure"], found["unit"] or "", quantity)
        except Wrong as wrong:
            self.fault(key, wrong.what, wrong.mend, *steps)
            return None

    def choices(self) -> tuple[Choice, ...]:
        entry = self.entry
        wanted = entry.kind in ("choice", "several")
        if wanted and len(entry.choices) < 2:
            self.fault("choices", f"'{entry.fact}' needs at least two choices", "list them under 'choices:'")
        elif not wanted and entry.choices:
            self.fault("choices", f"'{entry.fact}' is {_a(entry.kind)} and has no choices", "leave them out")
        if entry.choices and not any(choice.weight for choice in entry.choices):
            self.fault("choices", "all weights are 0", "give the usual choice a weight above 0")
        found: dict[str, Choice] = {}
        for index, choice in enumerate(entry.choices):
            place = self.document.place((*self.path, "choices", index, "choice"))
            if choice.choice in found:
                what = f"the choice '{choice.choice}' is here a second time"
                self.fault("choices", what, "keep one of the two", index, "choice")
            found[choice.choice] = Choice(
                choice.choice,
                choice.words,
                choice.weight,
                choice.means,
                place,
                choice.denied_by,
                choice.hints,
                choice.stands_in_for,
                choice.rings_for,
            )
        return tuple(found.values())


def _a(kind: str) -> str:
    return {"several": "a set of choices", "text": "free text", "yes/no": "yes or no"}.get(kind, f"a {kind}")


def _signed(figure: str, unit: str, quantity: str) -> float:
    sign = -1.0 if figure.startswith("-") else 1.0
    return in_si(sign * read_figure(figure.removeprefix("-")), unit.strip(), quantity)
