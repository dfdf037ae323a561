"""What is wrong among facts, each of them sound in itself, once all are known."""

from collections import Counter
from collections.abc import Iterator, Mapping

from .against import TOLD
from .places import Fault, did_you_mean
from .rules import placeholders
from .vocabulary import FactDef


def faults_among(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Faults of what is asked together, what an answer is held against, and what is told in another's place."""
    yield from _alone(vocabulary)
    for definition in vocabulary.values():
        yield from _held_against(definition, vocabulary)
        yield from _told_for(definition, vocabulary)


def _alone(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """What is asked together is at least two facts."""
    count = Counter(definition.together for definition in vocabulary.values())
    for definition in vocabulary.values():
        if definition.together and count[definition.together] < 2:
            what = f"'{definition.name}' is alone in what is asked together as '{definition.together}'"
            yield Fault(definition.place, what, "name another fact's 'together' or leave it out")


def _held_against(definition: FactDef, vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """What is wrong with what a fact is held against."""
    for against in definition.held_against:
        if definition.kind != "number" or definition.source != "asked":
            what = f"'{definition.name}' is no number that is asked, and is held against others"
            yield Fault(against.place, what, "leave 'held against' out")
            continue
        asked = {name: one for name, one in vocabulary.items() if one.kind == "number" and one.source == "asked"}
        for name in against.others:
            if name not in asked or name == definition.name:
                what = f"'{name}' is no other number that is asked"
                others = asked.keys() - {definition.name}
                yield Fault(against.place, what, did_you_mean(name, others, "name a number that is asked"))
            elif asked[name].quantity != definition.quantity:
                what = f"'{name}' is a {asked[name].quantity}, '{definition.name}' a {definition.quantity}"
                yield Fault(against.place, what, "hold it against a fact of the same quantity")
        if against.share != 1.0 and definition.quantity == "temperature":
            what = "a share of a temperature means nothing"
            yield Fault(against.place, what, "leave 'share' out")
        if against.sign == 0 and definition.quantity != "percent":
            what = f"'{definition.name}' is no share, and only shares add up"
            yield Fault(against.place, what, "write 'at most' or 'at least'")
        for name in placeholders(against.say):
            if name not in (definition.name, *against.others, *([TOLD] if against.sign == 0 else [])):
                what = f"'{{{name}}}' is not among what is held against each other here"
                yield Fault(
                    against.place, what, f"write one of {{{definition.name}}}, {{{'}, {'.join(against.others)}}}"
                )


def _told_for(definition: FactDef, vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """What is wrong with the facts for which a number may be told."""
    told = definition.told_for
    if told is None:
        return
    if definition.kind != "number" or definition.source != "asked":
        what = f"'{definition.name}' is no number that is asked, and is told for others"
        yield Fault(told.place, what, "leave 'told for' out")
        return
    alike = [one for one in vocabulary.values() if one.source == "asked" and one.quantity == definition.quantity]
    others = {one.name for one in alike if one.kind == "number"} - {definition.name}
    for name in told.asked:
        if name not in others:
            what = f"'{name}' is no other {definition.quantity} that is asked"
            yield Fault(told.place, what, did_you_mean(name, others, f"name a {definition.quantity} that is asked"))
