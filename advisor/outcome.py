"""What a consultation concludes: plain, immutable data that the dialogue, the sheet and the tests only read.

Numbers are SI inside (``units.Range``); ``unit`` and ``quantity`` say how to show them. ``sheet.data`` gives the
documented JSON form.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from advisor import units
from advisor.inference.agenda import Conflict, Firing
from advisor.inference.facts import Fact, FactBase

IN_SERIES = "two stage advised"
"""Set by rules: whether two turbos in series are advised."""
CLOSING = frozenset({"request answer", "insists reason", "objection"})
"""Facts that are asked once the recommendation is told."""
SEVERITIES = ("stop", "danger", "care", "note")
GRAVE = SEVERITIES[:2]
"""What can stop or hurt somebody."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing the caller said: the fact it answers and his words."""

    fact: str
    words: str


@dataclass(frozen=True, slots=True)
class Understood:
    """What was made of an answer. ``fact`` is None while the words are not understood; ``again`` then says
    what to ask. ``doubt`` questions a value that was understood and looks odd ("did you mean 35 psi?")."""

    answer: Answer
    fact: Fact | None
    echo: str
    again: str = ""
    doubt: str = ""
    read_back: str = ""
    not_sure: bool = False
    unit: str = ""  # in which a figure was said, the shop's where he named none


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A question that nobody has answered, with the reason why it is asked now, and what it settles: "cause" (of a
    complaint), "essential" (nothing can be proposed without it), "first" (a rule wants it first), "choice" (of the
    turbo), "safety" (a grave caution), "parts" (a joint of the turbo that stands), or "detail" (a remark at most; not
    asked unless wanted).
    ``together``: the facts, its own among them, that are asked with it in the words ``in_one_breath``."""

    fact: str
    ask: str
    listen_for: str
    why: str
    reason: str
    urgent: bool
    asked_by: tuple[str, ...]
    choices: tuple[tuple[str, str], ...] = ()
    worth: float = 0.0
    settles: str = "choice"
    together: tuple[str, ...] = ()
    in_one_breath: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """An engineering figure: never without unit, basis (given, assumed or computed) and its assumption.

    ``band`` is where the figure lies nine times in ten, from the spreads of all that is assumed and the ranges that the
    caller gave; ``over`` where it lies over these ranges alone, the whole of it; ``note`` what has to stand beside it.
    """

    name: str
    value: units.Range | None
    quantity: str
    unit: str
    basis: str
    assumption: str
    meaning: str
    source: str
    about: str = "engine"
    band: units.Range | None = None
    note: str = ""
    over: units.Range | None = None

    @property
    def text(self) -> str:
        """The value in the caller's unit, or "not known"."""
        if self.value is None:
            return "not known"
        show = units.show_computed if self.basis == "computed" else units.show
        return show(self.value, self.unit, self.quantity)

    @property
    def band_text(self) -> str:
        """The band in the caller's unit, or "" without one."""
        return "" if self.band is None else units.show_computed(self.band, self.unit, self.quantity)

    @property
    def over_text(self) -> str:
        """Where it lies over the ranges that he gave, "" where these don't show in it."""
        if self.over is None:
            return ""
        shown = units.show_computed(self.over, self.unit, self.quantity)
        return "" if shown == self.text else shown


@dataclass(frozen=True, slots=True)
class Depends:
    """What decides something that is open over the ranges that the caller gave: whether it is so at the middle of them
    all, ``where`` it is otherwise ("the trailer weight is over about 14,500 lb"; "" nowhere), which ranges
    decide that, and in what share of all he gave it is so."""

    holds: bool
    where: str
    facts: tuple[str, ...]
    share: float

    @property
    def condition(self) -> str:
        """Under which it is so: "if the trailer weight is over about 14,500 lb"."""
        return f"{'unless' if self.holds else 'if'} {self.where}" if self.where else "for all that he gave"

    def said(self, text: str) -> str:
        """Words that are so at the middle with where they aren't; others under their condition."""
        if not self.where:
            return text
        return f"{text} Not so if {self.where}." if self.holds else f"If {self.where}: {text}"


@dataclass(frozen=True, slots=True)
class Unsettled:
    """A range that the caller gave and a closer figure for which settles something: the fact, what he gave, how he can
    find out, the rules and candidates that hang on it, and that in words."""

    fact: str
    given: str
    check: str
    hanging: tuple[str, ...]
    words: tuple[str, ...]

    @property
    def text(self) -> str:
        """In a sentence: "trailer weight, 12,000 to 16,000 lb (check by a public scale): whether the turbo is out"."""
        check = f" (check by {self.check})" if self.check else ""
        return f"{self.fact}, {self.given}{check}: {'; '.join(self.words)}"


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning with its severity (stop, danger, care, note) and the rule or limit behind it. What holds in a part of
    the ranges that he gave says so in its text, and ``only_if`` says it alone. One told ``at_once`` doesn't wait for
    the advice."""

    severity: str
    text: str
    rule: str
    topic: str = ""
    only_if: str = ""
    at_once: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """Words to say or write, with the rule they come from."""

    text: str
    rule: str
    topic: str = ""
    stage: str = ""


@dataclass(frozen=True, slots=True)
class Wondered:
    """A question of the caller's own, in his words, with what rules answer; none where the salesperson has to."""

    question: str
    answers: tuple[Line, ...] = ()

    @property
    def told(self) -> tuple[Line, ...]:
        """The answers once there is advice: what was said before there was any is left out where it tells more."""
        advised = tuple(line for line in self.answers if line.stage == "advise")
        return advised or self.answers


@dataclass(frozen=True, slots=True)
class PartLine:
    """A line of the parts list; ``open`` marks a joint that nobody can settle yet, with quantity 0, and
    ``open_price`` what it would cost, by what is there."""

    code: str
    words: str
    quantity: int
    price: float | None
    days: float | None
    why: str
    rule: str = ""
    open: bool = False
    open_price: units.Range | None = None


def parts_total(parts: Sequence[PartLine]) -> tuple[float, int]:
    """The sum of the priced lines, and how many lines have no price yet."""
    priced = [part.price * part.quantity for part in parts if part.price is not None and not part.open]
    return sum(priced), len(parts) - len(priced)


@dataclass(frozen=True, slots=True)
class Resting:
    """What the advice rests on without being told: a fact, what it is taken as, and why or by which rule; whether he
    wasn't sure and how he can check it; whether the answer may change the turbo."""

    fact: str
    taken: str
    why: str
    rule: str = ""
    check: str = ""
    unsure: bool = False
    moves: bool = False

    @property
    def grounds(self) -> str:
        """In words: "he wasn't sure; check by a look into the flange", "the usual"."""
        rule = f" [{self.rule}]" if self.rule else ""
        unsure = "he wasn't sure" if self.unsure else ""
        check = f"check by {self.check}" if self.unsure and self.check else ""
        return "; ".join(words for words in (unsure, self.why + rule, check) if words)

    @property
    def text(self) -> str:
        """In a sentence: "tune taken as stock: the usual"."""
        return f"{self.fact} taken as {self.taken}: {self.grounds}"


@dataclass(frozen=True, slots=True)
class RuledOut:
    """A candidate that is out, with every rule or hard limit that did it."""

    code: str
    title: str
    by: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OperatingLine:
    """A candidate's operating line. ``columns`` name each figure with its quantity and unit; a row holds the duty,
    the engine speed [rad/s], whether the point converged, and the figures (SI), none where it did not."""

    columns: tuple[tuple[str, str, str], ...] = ()
    rows: tuple[tuple[str, float, bool, tuple[float, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Option:
    """A candidate that is shown: what it is, what it does on this engine, what it costs against the best."""

    role: str  # recommended, alternative, requested, two stage
    code: str
    title: str
    points: float
    price: float
    figures: tuple[Figure, ...]
    gains: tuple[str, ...]
    loses: tuple[str, ...]
    ruled_out_by: tuple[str, ...]
    line: OperatingLine = OperatingLine()
    closest_because: str = ""
    out_words: tuple[str, ...] = ()  # why it is ruled out, and by how much a limit is passed
    to_mind: tuple[str, ...] = ()  # what is not as it should be at its operating points, with duty and engine speed
    hangs: tuple[str, ...] = ()  # whether it is ruled out hangs on the ranges that he gave: where in them, and by what
    short_title: str = ""  # "62/65 mm, 0.93 divided T4, external gate"
    not_as_asked: tuple[str, ...] = ()  # in what it isn't what he asked for


@dataclass(frozen=True, slots=True)
class DutyTrade:
    """What a set-up focused on one duty gains and loses against the compromise, in the caller's terms."""

    duty: str
    share: float
    option: Option
    gains: tuple[str, ...]
    loses: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hold:
    """From where to where one fact may lie with the same turbo advised, all else as it is (SI). ``below`` and
    ``above`` are the turbos advised past the ends, "" where the usual range of the fact ends there."""

    fact: str
    quantity: str
    unit: str
    value: units.Range
    over: units.Range
    below: str
    above: str

    @property
    def text(self) -> str:
        """In words: "altitude 5,280 ft: holds to 7,400 ft (then BK-6065)"."""

        def end(value: float) -> str:
            return units.show(value, self.unit, self.quantity)

        low, high = end(self.over.low), end(self.over.high)
        past = [f"below that {self.below}" if self.below else "", f"above that {self.above}" if self.above else ""]
        match bool(self.below), bool(self.above):
            case False, True:
                reach = f"to {high}"
            case True, False:
                reach = f"down to {low}"
            case _:
                reach = f"from {low} to {high}"
        then = "; ".join(words for words in past if words) or "as far as is usual"
        return f"{self.fact} {units.show(self.value, self.unit, self.quantity)}: holds {reach} ({then})"


@dataclass(frozen=True, slots=True)
class Switch:
    """A change with which another turbo would be advised: the fact, the answer that does it, what stands now, and how
    far that is away ("" for a choice). ``distance`` is the same as a share of the usual range; with changes that are
    made ``also``, of all of them together."""

    turbo: str
    fact: str
    words: str
    now: str
    margin: str
    distance: float
    also: tuple["Switch", ...] = ()

    @property
    def text(self) -> str:
        """In words: "power goal 460 hp instead of 400 hp (60 hp away)", and what is changed with it."""
        away = f" ({self.margin} away)" if self.margin else ""
        both = "".join(f", and with it {other.text}" for other in self.also)
        return f"{self.fact} {self.words} instead of {self.now}{away}{both}"


RECOMMENDED, NOTHING_FITS, NOT_ENOUGH, DIAGNOSED = "recommended", "nothing fits", "not enough known", "diagnosed"
"""The verdicts of a call."""
DECIDED = (RECOMMENDED, DIAGNOSED)
"""Verdicts with which a call has come to something; after the others it has fallen short."""


@dataclass(frozen=True, slots=True)
class Consultation:
    """Everything a call has come to so far."""

    verdict: str  # recommended, nothing fits, not enough known
    verdict_words: str
    understood: tuple[Understood, ...]
    request_fixes: tuple[tuple[str, str], ...]
    request_leaves_open: tuple[str, ...]
    request_doubts: tuple[str, ...]
    facts: Mapping[str, Fact]
    firings: tuple[Firing, ...]
    conflicts: tuple[Conflict, ...]
    questions: tuple[OpenQuestion, ...]
    figures: tuple[Figure, ...]
    recommended: Option | None
    alternatives: tuple[Option, ...]
    two_stage: Option | None  # the best pair in series, where rules advise two stages
    requested: Option | None
    requested_words: tuple[str, ...]
    kept: tuple[tuple[str, str, float], ...]  # code, title, points, best first
    ruled_out: tuple[RuledOut, ...]
    trade: tuple[DutyTrade, ...]
    trade_words: str
    advice: tuple[Line, ...]
    say: tuple[Line, ...]
    cautions: tuple[Caution, ...]
    parts: tuple[PartLine, ...]
    next_steps: tuple[Line, ...]
    rests_on: tuple[Resting, ...]
    separated: str  # "", or a sentence when the uncertainty cannot tell the first places apart
    fired_by: str
    knowledge_digest: str
    candidate_facts: FactBase
    requested_is: str  # right, close, too big, too small, short of the goal, does not bolt on, unknown
    stands: str = ""  # a sentence once nothing still open is likely to change the turbo
    holds: tuple[Hold, ...] = ()  # filled in for the written recommendation only (``bounds``)
    switches: tuple[Switch, ...] = ()  # the same, for the turbo that was asked for
    depends: Mapping[str, Depends] = field(default_factory=dict)  # rules that are open over the ranges that he gave
    unsettled: tuple[Unsettled, ...] = ()  # closer figures that would settle it, what is grave first
    slighter: tuple[Caution, ...] = ()  # cautions that may come true within his ranges, past those told
    asked: tuple[Wondered, ...] = ()  # his own questions, with what the rules answer

    def facts_of(self, code: str) -> FactBase:
        """The facts of the call as they stand for one candidate; KeyError for a code the shop does not have."""
        codes = self.candidate_facts.columns["candidate code"]
        for row in range(len(codes)):
            if codes.at(row) == code:
                return self.candidate_facts.at(row)
        raise KeyError(code)
