"""The nearest situation to a recorded call at which two states of the knowledge part, though they agree on the call.

One answer of one call is changed at a time: numbers to the values between and beside what the edited rules compare
them with and over the plausible range, then by bisection towards what the caller said; choices one by one.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from advisor.conclusion import Change
from advisor.desk.calls import RecordedCall, with_answer
from advisor.desk.compare import Pair
from advisor.desk.reach import asked_behind, trial_values, width, words_for
from advisor.hearing import understand
from advisor.knowledge import FactDef
from advisor.units import Range, from_si, to_si

STEPS = 6  # evenly spread values tried of a number
HALVINGS = 12
DIGITS = (2, 3, 4, 6)
CHOICE, ADDED = 0.25, 0.1  # what another choice, and an answer nobody gave, count beside a number's whole width
STOCK_FACTS = ("power goal", "displacement", "altitude", "summer temperature")


@dataclass(frozen=True, slots=True)
class Flip:
    """A recorded call with one answer changed, where the two states part; ``distance`` is the size of the change."""

    call: RecordedCall
    fact: str
    said: str
    instead: str
    distance: float
    change: Change

    def __str__(self) -> str:
        was = f" instead of {self.said}" if self.said else ""
        return f"{self.call.name} at {self.fact} {self.instead}{was}"


def nearest_flips(calls: Sequence[RecordedCall], pair: Pair, tries: int, most: int = 3) -> list[Flip]:
    """The nearest flips, nearest first; at most ``tries`` situations are run, shared evenly among the calls."""
    found: list[Flip] = []
    facts = [name for name in asked_behind(pair.new, pair.rules) if name in pair.new.vocabulary]
    facts += [name for name in STOCK_FACTS if pair.edits.of_stock and name in pair.new.vocabulary]
    searches = [_Search(call, pair) for call in calls]
    walks = [(search, search.over([pair.new.vocabulary[name] for name in facts])) for search in searches]
    while walks and tries > 0:
        going = []
        for search, walk in walks:
            flip = next(walk, None)
            tries -= 1
            if flip is not None:
                found += [flip] if flip.change else []
                going.append((search, walk))
            if tries <= 0:
                break
        walks = going
    return sorted(found, key=lambda flip: (flip.distance, flip.call.name, flip.fact))[:most]


class _Search:
    """The situations one answer away from a call."""

    def __init__(self, call: RecordedCall, pair: Pair) -> None:
        self.call, self.pair = call, pair
        self.said = {answer.fact: answer.words for answer in call.answers}

    def over(self, facts: Sequence[FactDef]) -> Iterator[Flip]:
        """Every situation tried, one at a time; one with a change is a flip."""
        for definition in facts:
            if definition.kind == "number":
                yield from self.numbers(definition)
            else:
                yield from self.choices(definition)

    def at(self, definition: FactDef, words: str, distance: float) -> Flip:
        call = RecordedCall(self.call.name, self.call.file, with_answer(self.call.answers, definition.name, words))
        said = self.said.get(definition.name, "")
        return Flip(self.call, definition.name, said, words, distance, self.pair.change(call))

    def choices(self, definition: FactDef) -> Iterator[Flip]:
        said = self.said.get(definition.name, "")
        offered = definition.choice_names or (("yes", "no") if definition.kind == "yes/no" else ())
        for choice in offered:
            if choice != said:
                yield self.at(definition, choice, CHOICE if said else CHOICE + ADDED)

    def numbers(self, definition: FactDef) -> Iterator[Flip]:
        said = self.said.get(definition.name, "")
        here = _value(definition, said) if said else definition.typical
        if here is None:
            return
        values = trial_values(definition, self.pair.rules, STEPS)
        for value in sorted(values, key=lambda value: abs(value - here)):
            flip = self.at(definition, words_for(definition, value), 0.0)
            if flip.change:
                yield self.narrowed(definition, here, value, 0.0 if said else ADDED)
                return
            yield flip

    def narrowed(self, definition: FactDef, here: float, there: float, more: float) -> Flip:
        """The flip nearest to what was said, between there and there-abouts, in few digits."""
        near, far = here, there
        for _ in range(HALVINGS):
            middle = (near + far) / 2
            if self.at(definition, words_for(definition, middle), 0.0).change:
                far = middle
            else:
                near = middle
        for digits in DIGITS:
            words = words_for(definition, _rounded(definition, far, digits, far > here))
            value = _value(definition, words)
            if value is None or abs(value - here) > abs(there - here):
                continue
            flip = self.at(definition, words, abs(value - here) / width(definition) + more)
            if flip.change:
                return flip
        return self.at(definition, words_for(definition, far), abs(far - here) / width(definition) + more)


def _rounded(definition: FactDef, value: float, digits: int, up: bool) -> float:
    """The value in so many digits of the shop's unit, rounded up or down."""
    shown = from_si(value, definition.unit, definition.quantity)
    step = 10.0 ** (floor(log10(abs(shown))) - digits + 1) if shown else 1.0
    return to_si((ceil(shown / step) if up else floor(shown / step)) * step, definition.unit, definition.quantity)


def _value(definition: FactDef, words: str) -> float | None:
    fact = understand(definition, words).fact
    return fact.value.mid if fact is not None and isinstance(fact.value, Range) else None
