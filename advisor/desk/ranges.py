"""Gaps and overlaps: situations for which no rule sets a fact that others read, or two set it differently.

The rules that bear on the fact are fired over situations, so what is found does happen; not everything that can
happen is tried. "Not known" counts as a value.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

import numpy as np

from advisor.desk.situations import TRIED, Mask, Tried, assumes, bearing_on, tried
from advisor.inference.facts import Fact, FactBase, Value
from advisor.inference.verdict import sign_of
from advisor.knowledge import FactDef, Fault, Knowledge, Rule
from advisor.knowledge.rules import placeholders, texts
from advisor.knowledge.strata import reads, writes
from advisor.units import Range, show

_SHOWN, _HALVINGS = 3, 40
_MEND = "write a rule for it, or widen one"


def ranges(knowledge: Knowledge, unsure: Collection[str] = ()) -> list[Fault]:
    """Notes on all facts that rules set or assume; `unsure` names figures that may be not known."""
    writers: dict[str, list[Rule]] = defaultdict(list)
    for rule in knowledge.rules:
        for fact in writes(rule):
            writers[fact].append(rule)
    return [
        fault
        for fact in sorted(writers)
        if all(knowledge.vocabulary[name].source != "candidate" for name in _read(writers[fact]))
        for fault in _Group(knowledge, fact, writers[fact], unsure).faults()
    ]


def _read(rules: Sequence[Rule]) -> frozenset[str]:
    return frozenset().union(*map(reads, rules))


class _Group:
    """One fact with the rules that set or assume it, tried over situations."""

    def __init__(self, knowledge: Knowledge, fact: str, setters: Sequence[Rule], unsure: Collection[str]) -> None:
        self.knowledge = knowledge
        self.definition = knowledge.vocabulary[fact]
        self.setters = sorted(setters, key=lambda rule: rule.place)
        self.near = sorted(_read(setters) - {fact})
        self.unsure = unsure

    def faults(self) -> Iterator[Fault]:
        values = [_value(rule, self.definition.name) for rule in self.setters]
        reader = self.reader()
        is_set = self.definition.source == "rule" and reader is not None
        if not is_set and all(value == values[0] for value in values):
            return
        bearing = bearing_on(self.knowledge, self.setters)
        run = tried(bearing, self.definition.name, self.near, self.unsure)
        yield from self.overlaps(run)
        if is_set and reader is not None:
            open_rows: Mask = ~run.known(self.definition.name) & ~run.clash
            yield from self.gap(run, open_rows, reader)
            yield from self.unknown(run, open_rows, reader)

    def reader(self) -> Rule | None:
        """The first rule that reads the fact or shows it."""
        readers = [
            rule
            for rule in self.knowledge.rules
            if self.definition.name in reads(rule)
            or any(self.definition.name in placeholders(text) for action in rule.then for text in texts(action))
        ]
        return min(readers, key=lambda rule: rule.place, default=None)

    def overlaps(self, run: Tried) -> Iterator[Fault]:
        fact = self.definition.name
        for index, later in enumerate(self.setters):
            for earlier in self.setters[:index]:
                if _value(later, fact) == _value(earlier, fact) or assumes(later, fact) != assumes(earlier, fact):
                    continue
                nowhere = np.zeros(run.clash.size, dtype=bool)
                both = run.fired.get(later.name, nowhere) & run.fired.get(earlier.name, nowhere)
                rows = np.flatnonzero(run.clash & both)
                if rows.size:
                    pair = (later, earlier)
                    example = self.described(run, int(rows[0]), pair, 1)
                    verb = "assume" if assumes(later, fact) else "set"
                    what = (
                        f"'{later.name}' and '{earlier.name}' ({earlier.place}) both hold and {verb} '{fact}' "
                        f"differently with {example}"
                    )
                    about = (later.place, earlier.place, self.definition.place)
                    yield Fault(later.place, what, "let one of them exclude the other", "note", "overlap", about)

    def gap(self, run: Tried, open_rows: Mask, reader: Rule) -> Iterator[Fault]:
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
            what = f"no rule sets '{self.definition.name}', which '{reader.name}' reads, with {examples}"
            yield self.note(what, "gap")

    def unknown(self, run: Tried, open_rows: Mask, reader: Rule) -> Iterator[Fault]:
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
            names = " or ".join(f"'{name}'" for name in alone)
            what = f"no rule sets '{self.definition.name}', which '{reader.name}' reads, while {names} is not known"
            yield self.note(what, "not known")

    def note(self, what: str, finding: str) -> Fault:
        return Fault(self.definition.place, what, _MEND, "note", finding, (self.definition.place,))

    def described(self, run: Tried, row: int, rules: Sequence[Rule], sign: int) -> str:
        """What it takes, and no more, for the conditions of all the rules to have this sign (1 true, -1 false)."""
        there, proves = self.enough(run, row, rules, sign)
        words = []
        for name, value in there.items():
            definition = self.knowledge.vocabulary[name]
            if isinstance(value, Range):

                def holds(number: float, name: str = name, there: Mapping[str, Value] = there) -> bool:
                    return proves({**there, name: Range(number, number)})

                words.append(_stretch(definition, value.mid, run.span(name), holds))
            else:
                words.append(f"{name} {_word(value)}")
        return ", ".join(words) or "any answers"

    def enough(
        self, run: Tried, row: int, rules: Sequence[Rule], sign: int
    ) -> tuple[dict[str, Value], Callable[[Mapping[str, Value]], bool]]:
        """The facts of a row without those that make no difference to the sign; and what tells whether facts do."""
        there = {name: value for name in self.near if (value := _at(run, name, row)) is not None}

        def proves(known: Mapping[str, Value]) -> bool:
            facts = FactBase().with_facts(Fact(name, value, TRIED) for name, value in known.items())
            return all(sign_of(rule.when, facts) == sign for rule in rules)

        if proves(there):
            for name in list(there):
                if proves(less := {other: value for other, value in there.items() if other != name}):
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


def _value(rule: Rule, fact: str) -> object:
    return next(
        action.value for action in rule.then if hasattr(action, "value") and getattr(action, "fact", None) == fact
    )


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


def _stretch(
    definition: FactDef, value: float, span: tuple[float, float], holds: Callable[[float], bool]
) -> str:
    """The number in words, as far each way as it makes no difference."""
    low, high = (_edge(value, end, holds) for end in span)
    shown, first, last = (show(number, definition.unit, definition.quantity) for number in (value, low, high))
    if not holds(value) or first == last:
        return f"{definition.name} {shown}"
    return f"{definition.name} from {first} to {last}"


def _edge(value: float, end: float, holds: Callable[[float], bool]) -> float:
    """The last number toward the end of the span for which it still holds."""
    if holds(end):
        return end
    for _ in range(_HALVINGS):
        middle = value + (end - value) / 2
        value, end = (middle, end) if holds(middle) else (value, middle)
    return value
