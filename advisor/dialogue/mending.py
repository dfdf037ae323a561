"""What is shown where a caller puts something right, or where his words were doubted twice."""

from collections.abc import Iterable, Iterator, Sequence

from advisor.dialogue.views import assumed
from advisor.hearing import example
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import Consultation
from advisor.sheet.layout import Block, Para


def not_understood(left: Sequence[str]) -> Iterator[Block]:
    """The parts of a correction of which nothing was made."""
    if left:
        yield Para(f"{', '.join(f'“{part}”' for part in left)}.", "warn", 2, "Not understood: ")


def what_can_change(answers: Iterable[str], consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """How to put something right at the read-back, by names that are understood."""
    told = [fact for fact in answers if not knowledge.vocabulary[fact].volunteered]
    names = dict.fromkeys((*told, *taken(consultation, knowledge)))
    yield Para(f"{', '.join(names)}.", "dim", 2, "What can be changed: ")
    yield Para("Yes concludes; change FACT corrects an answer, or type it by its name.", "warn")


def taken(consultation: Consultation, knowledge: Knowledge) -> list[str]:
    """The facts that he can be asked for and that are assumed, since nobody told them."""
    own, names = knowledge.vocabulary, (fact.name for fact in assumed(consultation, knowledge))
    return [name for name in names if name in own and own[name].source == "asked"]


def asked_plainly(definition: FactDef) -> Iterator[Block]:
    """A question with its choices, where what was heard has been doubted twice."""
    yield Para("That settles it neither way.", "warn")
    yield Para(f"“{definition.ask}”", "say", 0, "Say: ")
    if shown := example(definition):
        yield Para(f"{shown}.", "dim", 2, "Choices: " if definition.choices else "For example: ")
