"""From weighed candidates to what can be shown and said: options, differences in the caller's terms, lines, figures.

Everything here only reads what was concluded; thresholds below which a difference is not worth a word are the
desk's own (common practice, no source).
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor import units
from advisor.fitting.parts import Extra, parts_list
from advisor.hearing import value_words
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import AddPart, Caution, NextStep, Recommend, Say
from advisor.outcome import SEVERITIES, Figure, Line, OperatingLine, Option, PartLine, RuledOut
from advisor.outcome import Caution as CautionLine
from advisor.pairs import Paired
from advisor.situation import Situation, Taken
from advisor.units import Range
from advisor.weighing import Uncertain, Weighed, vehicle_of

DAY = 86_400.0
_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")

# The figures shown for an option, in this order, where there is a value.
SHOWN = (
    "power made",
    "boost made",
    "spool rpm",
    "spool time",
    "exhaust temperature",
    "towing power",
    "towing exhaust temperature",
    "towing drive ratio",
    "strip power",
    "quarter mile time",
    "quarter mile speed",
    "sled power",
    "drive pressure",
    "drive pressure ratio",
    "compressor efficiency",
    "surge margin",
    "choke margin",
    "tip speed margin",
    "gate share",
    "gate flow margin",
    "housing flow margin",
    "thrust index",
    "lambda at goal",
    "fitting cost",
    "candidate price",
    "delivery days",
)


OF_A_GATE = ("gate share", "gate flow margin")


@dataclass(frozen=True, slots=True)
class _Difference:
    """How a difference in one figure is said: from which size on, and the words for less and for more."""

    fact: str
    worth_saying: float
    less: str
    more: str
    less_is_better: bool


DIFFERENCES = (
    _Difference("spool rpm", 2 * np.pi, "lights {} sooner", "lights {} later", True),
    _Difference("power made", 7_500.0, "makes {} less", "makes {} more", False),
    _Difference("towing power", 7_500.0, "holds {} less on the grade", "holds {} more on the grade", False),
    _Difference("strip power", 7_500.0, "makes {} less at the strip", "makes {} more at the strip", False),
    _Difference(
        "quarter mile time", 0.05, "is {} quicker over the quarter mile", "is {} slower over the quarter mile", True
    ),
    _Difference("sled power", 7_500.0, "makes {} less on the sled", "makes {} more on the sled", False),
    _Difference("exhaust temperature", 14.0, "runs {} cooler", "runs {} hotter", True),
    _Difference(
        "towing exhaust temperature", 14.0, "stays {} cooler on the grade", "gets {} hotter on the grade", True
    ),
    _Difference(
        "drive pressure ratio",
        0.1,
        "needs {} psi less drive pressure for each psi of boost",
        "needs {} psi more drive pressure for each psi of boost",
        True,
    ),
    _Difference("surge margin", 0.05, "works {} nearer to surge", "works {} further from surge", False),
    _Difference("choke margin", 0.05, "has {} less air left at the top", "has {} more air left at the top", False),
    _Difference("candidate price", 50.0, "costs {} less", "costs {} more", True),
    _Difference("delivery days", 2 * DAY, "is here {} sooner", "is here {} later", True),
)


def fill(text: str, facts: FactBase, vocabulary: Mapping[str, FactDef]) -> str:
    """The text with each ``{fact name}`` replaced by its value in the caller's unit."""

    def value(found: re.Match[str]) -> str:
        known, definition = facts.value(found[1]), vocabulary.get(found[1])
        if isinstance(known, Range) and definition is not None and definition.source in ("computed", "candidate"):
            return units.show_computed(known, definition.unit, definition.quantity)
        return "not yet known" if known is None else value_words(known, definition)

    return _PLACEHOLDER.sub(value, text)


@dataclass(slots=True)
class Words:
    """What the fired rules say, add and warn of."""

    advice: list[Line]
    say: list[Line]
    cautions: list[CautionLine]
    parts: list[tuple[Extra, str]]
    next_steps: list[Line]


def words_of(
    firings: Iterable[Firing],
    knowledge: Knowledge,
    facts: FactBase,
    index: int | None,
) -> Words:
    """The words of every rule that fired; of rules that judge candidates only those that concern ``index``."""
    words = Words([], [], [], [], [])
    for firing in firings:
        if firing.mask is not None and (index is None or not bool(firing.mask[index])):
            continue
        rule = knowledge.rule(firing.rule)
        topic = rule.place.file.removesuffix(".yaml")
        for action in rule.then:
            match action:
                case Recommend(text=text):
                    words.advice.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case Say(text=text):
                    words.say.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case Caution(severity=severity, text=text):
                    said = fill(text, facts, knowledge.vocabulary)
                    words.cautions.append(CautionLine(severity, said, rule.name))
                case AddPart(kind=kind, quantity=quantity):
                    words.parts.append((Extra(kind, quantity, rule.because), rule.name))
                case NextStep(text=text):
                    words.next_steps.append(Line(fill(text, facts, knowledge.vocabulary), rule.name, topic, rule.stage))
                case _:
                    pass
    words.cautions.sort(key=lambda caution: (SEVERITIES.index(caution.severity), caution.rule))
    return words


def option(
    weighed: Weighed,
    index: int,
    role: str,
    knowledge: Knowledge,
    against: int | None = None,
    spread: Uncertain | None = None,
) -> Option:
    """A candidate as it is shown; gains and losses are against the row ``against``."""
    combination = weighed.candidates.combinations[index]
    gains, loses = differences(weighed, index, against, knowledge) if against not in (None, index) else ((), ())
    return Option(
        role=role,
        code=combination.code,
        title=combination.words,
        points=float(weighed.points[index]),
        price=float(combination.price),
        figures=figures_of(weighed, index, knowledge, spread),
        gains=gains,
        loses=loses,
        ruled_out_by=tuple(by for by, mask in weighed.out_by.items() if mask[index]),
        line=operating_line(weighed, index),
    )


def figures_of(
    weighed: Weighed, index: int, knowledge: Knowledge, spread: Uncertain | None = None
) -> tuple[Figure, ...]:
    """The figures of one candidate, in the order of ``SHOWN``; none that the match could not settle."""
    made = []
    ungated = weighed.candidates.combinations[index].wastegate == "none"
    row = spread.rows.index(index) if spread is not None and index in spread.rows else None
    for name in SHOWN:
        values = weighed.facts.columns.get(name)
        value = None if values is None else values.at(index)
        definition = knowledge.vocabulary.get(name)
        if definition is None or not isinstance(value, Range) or (ungated and name in OF_A_GATE):
            continue
        origin = weighed.facts.origins[name]
        computed = origin.kind == "computed"
        made.append(
            Figure(
                name=name,
                value=value,
                quantity=definition.quantity,
                unit=definition.unit,
                basis="computed" if computed else "given",
                assumption="",
                meaning=definition.why,
                source="the match of turbo and engine" if computed else "the shop's catalogue",
                about=weighed.candidates.codes[index],
                band=_band(spread, name, row, value) if spread is not None and row is not None else None,
            )
        )
    return tuple(made)


def _band(spread: Uncertain, name: str, row: int, value: Range) -> Range | None:
    if name not in spread.low:
        return None
    low, high = float(spread.low[name][row]), float(spread.high[name][row])
    if not (np.isfinite(low) and np.isfinite(high)):
        return None
    return Range(min(low, value.low), max(high, value.high))


# What an operating line shows: our name, the field of the match, quantity, unit, and what is taken off first.
_LINE = (
    ("boost", "boost", "pressure", "psi", True),
    ("drive pressure", "drive_pressure", "pressure", "psi", True),
    ("compressor pressure ratio", "pressure_ratio", "ratio", "", False),
    ("air flow", "air", "mass flow", "lb/min", False),
    ("corrected air flow", "corrected_air", "mass flow", "lb/min", False),
    ("power", "power", "power", "hp", False),
    ("exhaust temperature", "exhaust_temperature", "temperature", "°F", False),
    ("compressor outlet temperature", "compressor_outlet_temperature", "temperature", "°F", False),
    ("shaft speed", "shaft_speed", "rotation", "rpm", False),
    ("tip speed", "tip_speed", "speed", "m/s", False),
    ("compressor efficiency", "compressor_efficiency", "percent", "%", False),
    ("surge margin", "surge_margin", "percent", "%", False),
    ("choke margin", "choke_margin", "percent", "%", False),
    ("gate share", "gate_share", "percent", "%", False),
    ("lambda", "lam", "ratio", "", False),
)


def operating_line(weighed: Weighed, index: int) -> OperatingLine:
    """The candidate's operating line over all duties; pressures named "boost" and "drive pressure" over ambient."""
    grid, solved = weighed.grid, weighed.match
    columns = [
        getattr(solved, attribute)[index] - (weighed.ambient if gauge else 0.0) for _, attribute, _, _, gauge in _LINE
    ]
    values = np.stack(columns, axis=-1).tolist()
    converged = solved.converged[index].tolist()
    speeds = np.broadcast_to(grid.speed, solved.converged.shape)[index].tolist()
    return OperatingLine(
        tuple((name, quantity, unit) for name, _, quantity, unit, _ in _LINE),
        tuple(
            (grid.duties[duty].name, speed, sound, tuple(row) if sound else ())
            for duty, speed, sound, row in zip(grid.duty.tolist(), speeds, converged, values, strict=True)
        ),
    )


def pair_option(paired: Paired, weighed: Weighed, knowledge: Knowledge, against: int | None) -> Option:
    """Two turbos in series as one option, against the row ``against``."""
    high, low = (weighed.candidates.combinations[row] for row in (paired.high, paired.low))
    code = f"{high.code} + {low.code}"
    figures = tuple(
        Figure(
            name,
            Range(paired.figures[name], paired.figures[name]),
            knowledge.vocabulary[name].quantity,
            knowledge.vocabulary[name].unit,
            "given" if name == "candidate price" else "computed",
            "",
            knowledge.vocabulary[name].why,
            "the match of two turbos in series and engine",
            code,
        )
        for name in SHOWN
        if name in paired.figures
    )
    other = {} if against is None else {name: float(values[against]) for name, values in weighed.columns.items()}
    gains, loses = _said(
        ((kind, paired.figures.get(kind.fact), other.get(kind.fact)) for kind in DIFFERENCES), knowledge
    )
    return Option(
        role="two stage",
        code=code,
        title=f"two in series: on the manifold {high.words}; fed by {low.words}",
        points=paired.points,
        price=paired.figures["candidate price"],
        figures=figures,
        gains=gains,
        loses=loses,
        ruled_out_by=(),
        closest_because="crossover pipes and brackets between the two are made to measure and not in the price",
    )


def differences(
    weighed: Weighed, index: int, against: int | None, knowledge: Knowledge
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What candidate ``index`` gains and loses against candidate ``against``, in the caller's terms."""
    if against is None:
        return (), ()

    def of(row: int, fact: str) -> float | None:
        values = weighed.facts.columns.get(fact)
        value = None if values is None else values.at(row)
        return value.mid if isinstance(value, Range) else None

    return _said(((kind, of(index, kind.fact), of(against, kind.fact)) for kind in DIFFERENCES), knowledge)


def _said(
    compared: Iterable[tuple[_Difference, float | None, float | None]], knowledge: Knowledge
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Gains and losses in words; a figure that one of the two lacks is passed over."""
    gains: list[str] = []
    loses: list[str] = []
    told: set[tuple[str, str]] = set()
    for kind, mine, other in compared:
        if mine is None or other is None or not abs(mine - other) >= kind.worth_saying:
            continue
        definition = knowledge.vocabulary[kind.fact]
        size = units.show_difference(abs(mine - other), definition.unit, definition.quantity)
        if (definition.quantity, size) in told:
            continue  # the same difference, read in another duty
        told.add((definition.quantity, size))
        words = (kind.less if mine < other else kind.more).format(size)
        (gains if (mine < other) == kind.less_is_better else loses).append(words)
    return tuple(gains), tuple(loses)


def reasons_against(weighed: Weighed, row: int, knowledge: Knowledge) -> tuple[str, ...]:
    """Why a row is ruled out, as it is said aloud: the words of the rules, then the limits it breaks."""
    rules = {rule.name: rule for rule in knowledge.rules}
    facts = weighed.facts.at(row)
    said, limits = [], []
    for by, mask in weighed.out_by.items():
        if not mask[row]:
            continue
        if by not in rules:
            limits.append(f"It {by.removeprefix('it ')}.")
            continue
        words = [action.text for action in rules[by].then if isinstance(action, Say)]
        said.append(fill(words[0] if words else rules[by].because, facts, knowledge.vocabulary))
    return (*said, *limits)


def ruled_out(weighed: Weighed, knowledge: Knowledge) -> tuple[RuledOut, ...]:
    """Every candidate that is out, with the rules and limits that did it and their words."""
    made = []
    names = {rule.name: rule.because for rule in knowledge.rules}
    for index in np.flatnonzero(~weighed.kept):
        by = tuple(name for name, mask in weighed.out_by.items() if mask[index])
        combination = weighed.candidates.combinations[int(index)]
        made.append(RuledOut(combination.code, combination.words, by, tuple(names.get(n, n) for n in by)))
    return tuple(made)


def parts_of(
    weighed: Weighed, index: int, extras: Sequence[tuple[Extra, str]], facts: FactBase, knowledge: Knowledge
) -> tuple[PartLine, ...]:
    """The complete parts list for one candidate; joints that nobody can settle yet are marked open."""
    combination = weighed.candidates.combinations[index]
    merged: dict[str, tuple[Extra, str]] = {}
    for extra, rule in extras:
        merged.setdefault(extra.kind, (extra, rule))
    listed = parts_list(combination, vehicle_of(facts), knowledge.catalogue, [extra for extra, _ in merged.values()])
    rules = {kind: rule for kind, (_, rule) in merged.items()}
    lines = [
        PartLine(
            line.code,
            line.words,
            line.quantity,
            line.price / max(1, line.quantity),
            line.delivery / DAY,
            line.why,
            rules.get(line.kind, ""),
        )
        for line in listed.lines
    ]
    lines += [
        PartLine("", end.words, 1, None, None, "nobody has said what is there yet", "", True)
        for end in listed.open_ends
    ]
    return tuple(lines)


def taken_figures(situation: Situation, vocabulary: Mapping[str, FactDef]) -> tuple[Figure, ...]:
    """The inputs of the figures, each given or assumed."""
    made = []
    for taken in situation.taken:
        definition = vocabulary[taken.name]
        if not isinstance(taken.value, Range):
            continue
        made.append(
            Figure(
                taken.name,
                taken.value,
                definition.quantity,
                definition.unit,
                taken.basis,
                taken.assumption,
                definition.why,
                "the caller" if taken.basis == "given" else "assumption",
            )
        )
    return tuple(made)


def assumption_sentence(taken: Taken, vocabulary: Mapping[str, FactDef]) -> str:
    """An assumption in words, for what the advice rests on."""
    shown = value_words(taken.value, vocabulary[taken.name])
    return f"{taken.name} taken as {shown}: {taken.assumption}"
