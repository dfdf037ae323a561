"""Gaps and overlaps: situations for which no rule sets a fact that others read, or two set it differently.

The rules that bear on the fact are fired over situations of every kind that they can tell apart, so what is found does
happen, and nothing is missed but where numbers are added or compared with each other: there as many values are tried
as change the outcome. "Not known" counts as a value.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from typing import TypeAlias

import numpy as np

from advisor.desk.situations import TRIED, Mask, Tried, bearing_on, tried
from advisor.inference.facts import Fact, FactBase, Value
from advisor.inference.verdict import Conditions
from advisor.knowledge import FactDef, Fault, Knowledge, Rule
from advisor.knowledge.conditions import Flag, Known, facts_in, leaves
from advisor.knowledge.rules import STAGES, Assume, SetFact, placeholders, texts
from advisor.knowledge.strata import reads, writes
from advisor.units import Range, show

_SHOWN, _HALVINGS, _BOTH = 3, 24, 4
_MEND = "write a rule for it, or widen one"
_MEND_OF_A_FLAG = "for a flag that is only raised that is well; else write a rule that sets it to no there"


Memory: TypeAlias = dict[str, tuple[object, tuple[Fault, ...]]]
"""By fact what was found of it, and all that this hangs on."""


def ranges(knowledge: Knowledge, unsure: Collection[str] = (), memory: Memory | None = None) -> list[Fault]:
    """Notes on all facts that rules set or assume; `unsure` names figures that may be not known. What hangs on nothing
    that changed since it was kept in the `memory` is taken from there."""
    writers: dict[str, list[Rule]] = defaultdict(list)
    reader: dict[str, Rule] = {}
    for rule in sorted(knowledge.rules, key=lambda rule: rule.place):
        shown = (name for action in rule.then for text in texts(action) for name in placeholders(text))
        for fact in {*reads(rule), *shown}:
            reader.setdefault(fact, rule)
        for fact in writes(rule):
            writers[fact].append(rule)
    flags = _flags(knowledge, writers)
    return [
        fault
        for fact in sorted(writers)
        if all(knowledge.vocabulary[name].source != "candidate" for name in _read(writers[fact]))
        for fault in _Group(knowledge, fact, writers, reader.get(fact), unsure, fact in flags).remembered(memory)
    ]


def _flags(knowledge: Knowledge, writers: Mapping[str, Sequence[Rule]]) -> frozenset[str]:
    """Facts that rules only ever say yes to and of which others ask no more than that: perhaps nothing is missing
    where none does."""
    raised = {
        fact
        for fact, rules in writers.items()
        if knowledge.vocabulary[fact].source == "rule" and all(_setting(rule, fact).value is True for rule in rules)
    }
    conditions = [rule.when for rule in knowledge.rules]
    conditions += [one.ask_when for one in knowledge.vocabulary.values() if one.ask_when is not None]
    for leaf in (leaf for condition in conditions for leaf in leaves(condition)):
        if not isinstance(leaf, Known) and not (isinstance(leaf, Flag) and leaf.value):
            raised -= facts_in(leaf)
    for rule in knowledge.rules:
        for action in rule.then:
            raised.difference_update(*map(placeholders, texts(action)))
    return frozenset(raised)


def _read(rules: Sequence[Rule]) -> frozenset[str]:
    return frozenset().union(*map(reads, rules))


class _Group:
    """One fact with the rules that set or assume it, tried over situations."""

    def __init__(
        self,
        knowledge: Knowledge,
        fact: str,
        writers: Mapping[str, Sequence[Rule]],
        reader: Rule | None,
        unsure: Collection[str],
        is_flag: bool,
    ) -> None:
        self.knowledge = knowledge
        self.definition = knowledge.vocabulary[fact]
        self.writers = writers
        self.setters = writers[fact]
        self.near = sorted(_read(self.setters) - {fact})
        self.reader = reader
        self.unsure = unsure
        self.is_flag = is_flag

    def remembered(self, memory: Memory | None) -> Iterable[Fault]:
        """Its faults, from the memory where they hang on nothing that changed."""
        if memory is None:
            return self.faults()
        name, basis = self.definition.name, self.basis()
        if name not in memory or memory[name][0] != basis:
            memory[name] = basis, tuple(self.faults())
        return memory[name][1]

    def basis(self) -> tuple[object, ...]:
        """All that its faults hang on."""
        bearing = bearing_on(self.knowledge, self.definition.name, self.writers)
        names = sorted({self.definition.name}.union(*(reads(rule) | set(writes(rule)) for rule in bearing.rules)))
        definitions = [self.knowledge.vocabulary[name] for name in names]
        return (
            [(rule, rule.place) for rule in bearing.rules],
            [[[rule.name for rule in layer] for layer in bearing.layers(stage)] for stage in STAGES],
            [(replace(one, heard=(), heard_of_any=()), one.place) for one in definitions],
            self.reader and self.reader.name,
            sorted(self.unsure),
            self.is_flag,
        )

    def faults(self) -> Iterator[Fault]:
        settings = [_setting(rule, self.definition.name) for rule in self.setters]
        wanted = self.definition.source == "rule" and self.reader is not None
        if not wanted and all(one == settings[0] for one in settings):
            return
        bearing = bearing_on(self.knowledge, self.definition.name, self.writers)
        run = tried(bearing, self.definition.name, self.near, self.unsure)
        yield from self.overlaps(run)
        if wanted:
            open_rows: Mask = ~run.known(self.definition.name) & ~run.clash
            yield from self.gap(run, open_rows)
            yield from self.unknown(run, open_rows)
        if not run.complete:
            what = f"'{self.definition.name}' hangs on too much for every kind of situation to be tried: a gap or an "
            what += "overlap may be missed"
            mend = "let fewer facts decide it, or set what they come to as a fact of its own"
            yield Fault(self.definition.place, what, mend, "note", "gap", (self.definition.place,))

    def overlaps(self, run: Tried) -> Iterator[Fault]:
        fact = self.definition.name
        nowhere = np.zeros(run.clash.size, dtype=bool)
        for index, later in enumerate(self.setters):
            for earlier in self.setters[:index]:
                if _setting(later, fact) == _setting(earlier, fact):
                    continue
                both = run.fired.get(later.name, nowhere) & run.fired.get(earlier.name, nowhere)
                rows = np.flatnonzero(run.clash & both)
                if rows.size:
                    example = self.described(run, int(rows[0]), (later, earlier), 1)
                    verb = "assume" if self.definition.source == "asked" else "set"
                    what = (
                        f"'{later.name}' and '{earlier.name}' ({earlier.place}) both hold and {verb} '{fact}' "
                        f"differently with {example}"
                    )
                    about = (later.place, earlier.place, self.definition.place)
                    yield Fault(later.place, what, "let one of them exclude the other", "note", "overlap", about)

    def gap(self, run: Tried, open_rows: Mask) -> Iterator[Fault]:
        """Situations in which all is known that the setters read, and none of them holds."""
        rows = open_rows.copy()
        for name in self.near:
            rows &= run.known(name)
        shown: list[str] = []
        while rows.any() and len(shown) < _SHOWN:
            row = int(np.flatnonzero(rows)[0])
            words = self.described(run, row, self.setters, -1)
            if words in shown:
                break
            shown.append(words)
            rows &= ~self.alike(run, row)
        if shown:
            examples = "; nor with ".join(shown)
            yield self.note(f"with {examples}", "gap")

    def unknown(self, run: Tried, open_rows: Mask) -> Iterator[Fault]:
        """Facts for want of which alone the fact stays open."""
        missing = {name: ~run.known(name) for name in self.near}
        count = sum((rows.astype(np.int64) for rows in missing.values()), np.zeros(open_rows.size, dtype=np.int64))
        alone = [
            name
            for name, rows in missing.items()
            # What other rules leave open is told where they do.
            if self.knowledge.vocabulary[name].source != "rule" and (open_rows & rows & (count == 1)).any()
        ]
        if alone:
            quoted = [f"'{name}'" for name in alone]
            names = " or ".join(part for part in (", ".join(quoted[:-1]), quoted[-1]) if part)
            yield self.note(f"while {names} is not known", "not known")

    def note(self, when: str, finding: str) -> Fault:
        assert self.reader is not None
        what = f"no rule sets '{self.definition.name}', which '{self.reader.name}' reads, {when}"
        mend = _MEND_OF_A_FLAG if self.is_flag else _MEND
        return Fault(self.definition.place, what, mend, "note", finding, (self.definition.place,))

    def described(self, run: Tried, row: int, rules: Sequence[Rule], sign: int) -> str:
        """What it takes, and no more, for the conditions of all the rules to have this sign (1 true, -1 false)."""
        there, proves = self.enough(run, row, rules, sign)
        words = []
        for name, value in list(there.items()):
            if not isinstance(value, Range):
                words.append(f"{name} {_word(value)}")
                continue

            def holds(number: float, name: str = name) -> bool:
                return proves({**there, name: Range(number, number)})

            span = _span(value.mid, run.numbers(name), holds)
            if proves({**there, name: span}):
                there[name] = span  # the next number is then as wide as it goes together with all of this one
            else:
                span = value
            words.append(_stretch(self.knowledge.vocabulary[name], span))
        return ", ".join(words) or "any answers"

    def enough(
        self, run: Tried, row: int, rules: Sequence[Rule], sign: int
    ) -> tuple[dict[str, Value], Callable[[Mapping[str, Value]], bool]]:
        """The facts of a row without those that make no difference to the sign; and what tells whether facts do."""
        there = {name: value for name in self.near if (value := _at(run, name, row)) is not None}
        whole, asks = dict(there), _asked_whether_known(rules)
        conditions = Conditions(rule.when for rule in rules)

        def proves(known: Mapping[str, Value]) -> bool:
            # A fact that is left out may be known or not: where that matters by itself, both must come to the same.
            either = [name for name in asks if name in whole and name not in known]
            for there in product((False, True), repeat=len(either)):
                added = {name: whole[name] for name, is_there in zip(either, there, strict=True) if is_there}
                facts = FactBase().with_facts(Fact(name, value, TRIED) for name, value in {**known, **added}.items())
                judged = conditions.over(facts)
                if any(judged.sign(number) != sign for number in range(len(rules))):
                    return False
            return True

        kept = _needed_otherwise(rules, asks)
        if proves(there):
            for name in list(there):
                less = {other: value for other, value in there.items() if other != name}
                if name not in kept and proves(less):
                    there = less
        return there, proves

    def alike(self, run: Tried, row: int) -> Mask:
        """The situations that share the row's choices: those told by one example."""
        same = np.ones(run.clash.size, dtype=bool)
        for name, value in self.enough(run, row, self.setters, -1)[0].items():
            if name in run.after.columns and not isinstance(value, Range):
                column = run.after.columns[name]
                same &= np.array([column.at(index) == value for index in range(run.clash.size)], dtype=bool)
        return same


def _asked_whether_known(rules: Sequence[Rule]) -> list[str]:
    """The facts of which conditions ask whether they are known."""
    found = {leaf.fact for rule in rules for leaf in leaves(rule.when) if isinstance(leaf, Known)}
    return sorted(found)


def _needed_otherwise(rules: Sequence[Rule], asks: Collection[str]) -> frozenset[str]:
    """Those of them whose value is asked too, or all when there are many: they stay in every example."""
    valued = (facts_in(leaf) for rule in rules for leaf in leaves(rule.when) if not isinstance(leaf, Known))
    return frozenset(asks) if len(asks) > _BOTH else frozenset(asks) & frozenset().union(*valued)


def _setting(rule: Rule, fact: str) -> SetFact | Assume:
    return next(action for action in rule.then if isinstance(action, SetFact | Assume) and action.fact == fact)


def _at(run: Tried, name: str, row: int) -> Value | None:
    return run.after.columns[name].at(row) if name in run.after.columns else run.after.value(name)


def _word(value: Value) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case frozenset():
            return ", ".join(sorted(value))
        case _:
            return str(value)


def _stretch(definition: FactDef, span: Range) -> str:
    """The numbers in words."""
    low, high = span.low, span.high
    if definition.quantity == "count":
        low, high = math.ceil(low), math.floor(high)
    first, last = (show(number, definition.unit, definition.quantity) for number in (low, high))
    return f"{definition.name} {first}" if first == last else f"{definition.name} from {first} to {last}"


def _span(value: float, tried: Sequence[float], holds: Callable[[float], bool]) -> Range:
    """The number as far each way as it makes no difference; `tried` in order, so that no hole is missed."""
    if not holds(value):
        return Range(value, value)
    low = _edge(value, [number for number in reversed(tried) if number < value], holds)
    high = _edge(value, [number for number in tried if number > value], holds)
    return Range(low, high)


def _edge(value: float, further: Sequence[float], holds: Callable[[float], bool]) -> float:
    """How far it holds along the numbers that were tried, and beyond the last good one toward the first bad one."""
    for end in further:
        if not holds(end):
            break
        value = end
    else:
        return value
    least = (end - value) / 2**_HALVINGS
    if holds(end - least):  # mostly the end itself is the edge, or where it held last
        return float(end - least)
    if not holds(value + least):
        return value
    for _ in range(_HALVINGS):
        middle = value + (end - value) / 2
        value, end = (middle, end) if holds(middle) else (value, middle)
    return value
