"""What hangs on the ranges that the caller gave, in words: what is said of the turbo advised only in a part of them,
and closer figures that would settle it.

What holds over all of his ranges is said as it is, with figures as they lie there. What is open is said with what
decides it; of what isn't so at the middle only a few cautions are told, the gravest first, the others kept.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from advisor import telling, units
from advisor.course import Course
from advisor.hearing.understood import value_words
from advisor.inference.agenda import Firing
from advisor.inference.facts import FactBase
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import STAGES, Caution, Say
from advisor.matching.inputs import Bools
from advisor.matching.rank import HARD_LIMITS
from advisor.outcome import SEVERITIES, Depends, Option, Unsettled
from advisor.outcome import Caution as CautionLine
from advisor.spans import Spans, sign_of
from advisor.units import Range
from advisor.wording import LIMIT_WORDS, fill, first_sentence

MOST_MAYBE = 3
"""Cautions that are told though at the middle of what he gave they don't hold."""
WORTH_TELLING = ("stop", "danger", "care")
"""Severities of those."""
MOSTLY = 0.9
"""Share of his ranges past which what is so at the middle is said without where it isn't."""
DECIDING = 2
"""Ranges that are named as what decides something."""
MOST_STRETCHES = 4
"""Stretches of ranges that can be told in one breath; of more only the ranges are named."""
PULLS = 0.5
"""Share of the strongest pull from which on a range is named where none decides alone."""
OUT = "the turbo advised is out"


@dataclass(frozen=True, slots=True)
class Hanging:
    """What the rules say with his ranges in mind; the rules that are open there, or hold there though what they rest on
    is open; what a closer figure settles; cautions that may come true past those told; and of which candidates it hangs
    there whether they are out."""

    words: telling.Words
    depends: Mapping[str, Depends]
    unsettled: tuple[Unsettled, ...]
    slighter: tuple[CautionLine, ...]
    of_rows: Mapping[int, tuple[str, ...]]

    def of(self, option: Option, row: int, found: Spans) -> Option:
        """An option with what hangs on his ranges."""
        figures = tuple(replace(figure, over=found.over(figure.name, row)) for figure in option.figures)
        return replace(option, figures=figures, hangs=self.of_rows.get(row, ()))


def hanging(firings: Sequence[Firing], course: Course, found: Spans, knowledge: Knowledge) -> Hanging:
    """What these rules say of the turbo advised over the caller's ranges."""
    base, best = course.last.facts, found.rows[0]
    said = {f.rule: f for f in firings if f.mask is None or bool(f.mask[best])}
    open_ = {rule: depends(found, fires, knowledge) for rule, fires in found.fires.items() if found.sign(rule) == 0}
    at_middle = {rule: found.firings[rule] for rule, fires in found.fires.items() if fires[0] and rule not in said}
    everywhere = found.facts_over(np.ones(len(found.at), dtype=bool), base, knowledge)

    def where(rule: str) -> FactBase:
        return _where(found, found.fires[rule], base, knowledge) if rule in open_ else everywhere

    words = telling.Words([], [], [], [], [])
    for firing in _in_order({**said, **at_middle}.values(), knowledge):
        _add(words, _words(firing, open_.get(firing.rule), where(firing.rule), knowledge))
    warning = {rule.name for rule in knowledge.rules if any(isinstance(action, Caution) for action in rule.then)}
    maybe = [
        _words(found.firings[rule], on, where(rule), knowledge)
        for rule, on in open_.items()
        if rule in warning - said.keys() - at_middle.keys()
    ]
    maybe.sort(key=lambda one: _gravity(one.cautions[0], open_))
    grave = [one for one in maybe if one.cautions[0].severity in WORTH_TELLING]
    for one in grave[:MOST_MAYBE]:
        words.cautions += one.cautions
        words.say += one.say
    of_rows, hangs, as_told = {}, dict(open_), dict[str, str]()
    for place, row in enumerate(found.rows):
        if (lines := _whether_out(place, course, found, knowledge)) is not None:
            on, text, severity = lines
            of_rows[row] = (text,)
            hangs[name := f"whether {course.weighed.candidates.codes[row]} is out"] = on
            turbo = "the turbo advised" if place == 0 else f"the {course.weighed.candidates.words[row]}"
            as_told[name] = f"whether {turbo} is out"
            if place == 0:
                words.cautions.append(CautionLine(severity, text, OUT, only_if=on.condition))
    words.put_in_order()
    told = {caution.rule for caution in words.cautions} | {name for name in hangs if name not in open_}
    left = (*grave[MOST_MAYBE:], *(one for one in maybe if one not in grave))
    slighter = [caution for one in left for caution in one.cautions]
    for rule in told & open_.keys():
        plainly = telling.words_of([replace(found.firings[rule], mask=None)], knowledge, where(rule), None)
        quoted = first_sentence(plainly.cautions[0].text).rstrip(".")
        as_told[rule] = f"whether this holds: “{quoted}”"
    settled = _unsettled({name: on for name, on in hangs.items() if name in told}, as_told, found, knowledge)
    throughout = {rule: Depends(True, "", (), 1.0) for rule in at_middle if rule not in open_}
    return Hanging(words, open_ | throughout, settled, tuple(slighter), of_rows)


def _in_order(firings: Iterable[Firing], knowledge: Knowledge) -> list[Firing]:
    return sorted(firings, key=lambda firing: (STAGES.index(knowledge.rule(firing.rule).stage), firing.rule))


def _gravity(caution: CautionLine, open_: Mapping[str, Depends]) -> tuple[int, float, str]:
    return SEVERITIES.index(caution.severity), -open_[caution.rule].share, caution.rule


def _words(firing: Firing, on: Depends | None, facts: FactBase, knowledge: Knowledge) -> telling.Words:
    """What a rule says of the turbo advised, with facts as they lie where it fires."""
    words = telling.words_of([replace(firing, mask=None)], knowledge, facts, None)
    if on is None or (on.holds and on.share > MOSTLY):
        return words
    beside = bool(words.cautions or words.advice) and on.holds  # which say where it isn't so
    for lines in (words.advice, words.next_steps, *(() if beside else (words.say,))):
        lines[:] = [replace(line, text=on.said(line.text)) for line in lines]
    words.cautions[:] = [replace(one, text=on.said(one.text), only_if=on.condition) for one in words.cautions]
    return words


def _add(words: telling.Words, more: telling.Words) -> None:
    words.advice += more.advice
    words.say += more.say
    words.cautions += more.cautions
    words.parts += more.parts
    words.next_steps += more.next_steps


# ----------------------------------------------------------------------------------------------------- what decides


def depends(found: Spans, holds: Bools, knowledge: Knowledge) -> Depends:
    """What decides whether something (C,) holds that is open over his ranges: the ranges that do so alone, all else at
    the middle, or those whose ends do it together."""
    names, inside, share = list(found.given), bool(holds[0]), found.share(holds)
    deciding = found.alone(holds)[:DECIDING]
    if deciding:
        ends = [(names[n], _region(names[n], found, along, not inside, knowledge)) for n, along in deciding]
        where, facts = lie(ends, " or "), tuple(name for name, _ in ends)
        if where.count(" or ") > MOST_STRETCHES - len(facts):
            where = lie([(name, "") for name in facts], " or ") + "elsewhere in what he gave"
        return Depends(inside, where, facts, share)
    pull = found.pull(holds != inside)
    strong = np.argsort(-np.abs(pull), kind="stable")[: DECIDING + 1]
    strong = strong[np.abs(pull[strong]) >= PULLS * np.abs(pull).max()]
    ends = [(names[n], "high" if pull[n] > 0.0 else "low") for n in strong]
    where = f"{lie(ends, ' and ')}, within what he gave"
    return Depends(inside, where, tuple(name for name, _ in ends), share)


def lie(ends: Sequence[tuple[str, str]], and_: str) -> str:
    """Where some figures lie: "the trailer weight is high and the altitude low"."""
    words = []
    for later, (name, end) in enumerate(ends):
        verb = "are " if name.endswith("s") and not name.endswith("ss") else "is "
        words.append(f"the {name} {'' if later else verb}{end}")
    return and_.join(words)


def _runs(
    found: Spans, fact: str, along: Sequence[tuple[float, bool]], wanted: bool, outside: bool = False
) -> list[tuple[float, float]]:
    """The stretches of a range (SI) in which something is as ``wanted``; ``outside``: to the next figures at which it
    isn't."""
    span, more = found.given[fact], int(outside)
    values = [span.low + (span.high - span.low) * at for at, _ in along]
    runs, at = [], 0
    for as_wanted, group in groupby(so == wanted for _, so in along):
        size = len(list(group))
        if as_wanted:
            runs.append((values[max(at - more, 0)], values[min(at + size - 1 + more, len(values) - 1)]))
        at += size
    return runs


def _region(fact: str, found: Spans, along: Sequence[tuple[float, bool]], wanted: bool, knowledge: Knowledge) -> str:
    """A part of a range in words: "over about 14,500 lb". The figures named are the last at which it doesn't hold."""
    definition, span = knowledge.vocabulary[fact], found.given[fact]

    def words(low: float, high: float) -> str:
        shown = [units.show_computed(end, definition.unit, definition.quantity) for end in (low, high)]
        if shown[0] == shown[1]:
            return f"about {shown[0]}"
        if low <= span.low:
            return f"under about {shown[1]}"
        return f"over about {shown[0]}" if high >= span.high else f"between about {shown[0]} and {shown[1]}"

    return " or ".join(words(*run) for run in _runs(found, fact, along, wanted, outside=wanted))


def _where(found: Spans, holds: Bools, base: FactBase, knowledge: Knowledge) -> FactBase:
    """The facts as they lie where something holds: figures, and the range that decides it alone."""
    facts, alone = found.facts_over(holds, base, knowledge), found.alone(holds)
    if len(alone) == 1:
        name = list(found.given)[alone[0][0]]
        runs = _runs(found, name, alone[0][1], True)
        if name in base and len(runs) == 1:
            return facts.with_facts([replace(base[name], value=Range(*runs[0]))])
    return facts


# ------------------------------------------------------------------------------------------------- who is out where


def _whether_out(place: int, course: Course, found: Spans, knowledge: Knowledge) -> tuple[Depends, str, str] | None:
    """Where in his ranges a candidate is out or not, in words, with the severity of that; None where it is the same
    everywhere."""
    row, weighed = found.rows[place], course.weighed
    masks = {by: mask[:, place] for by, mask in found.out.items() if mask[:, place].any()}
    out = found.ruled_out(row)
    if sign_of(out) != 0 or any(mask[row] and by not in masks for by, mask in weighed.out_by.items()):
        return None
    if not weighed.kept[row]:
        on = depends(found, ~out, knowledge)
        return on, f"If {on.where}, nothing rules it out.", "note"
    on = depends(found, out, knowledge)
    rules = {rule.name: rule for rule in knowledge.rules}
    by = max(masks, key=lambda one: (int(masks[one].sum()), one in rules))
    if by in rules:
        words = [action.text for action in rules[by].then if isinstance(action, Say)]
        why = fill(words[0] if words else rules[by].because, weighed.facts.at(row), knowledge.vocabulary)
    else:
        why = LIMIT_WORDS.get(by, f"It {by}.")
    grave = by in HARD_LIMITS.values() or set(found.firings[by].columns if by in rules else ()) & found.figures.keys()
    out_ = "the turbo advised is out, so have that settled before it is ordered" if place == 0 else "it is out"
    return on, f"If {on.where}, {out_}: {why}", "danger" if grave else "care"


def _unsettled(
    hangs: Mapping[str, Depends], as_told: Mapping[str, str], found: Spans, knowledge: Knowledge
) -> tuple[Unsettled, ...]:
    """The ranges that something told hangs on, in the order of what hangs on them, with that ``as_told``."""
    by_fact: dict[str, list[str]] = {}
    for name, on in hangs.items():
        for fact in on.facts:
            by_fact.setdefault(fact, []).append(name)
    made = []
    for fact, names in by_fact.items():
        definition: FactDef = knowledge.vocabulary[fact]
        words = tuple(dict.fromkeys(as_told[name] for name in names))
        given = value_words(found.given[fact], definition)
        made.append(Unsettled(fact, given, definition.check_by, tuple(names), words))
    return tuple(sorted(made, key=lambda one: (-len(one.hanging), one.fact)))
