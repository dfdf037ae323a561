"""What would stop or endanger the caller if what he told in passing is so: said before he has confirmed it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from advisor.dialogue import kept
from advisor.dialogue.turn import Consult
from advisor.knowledge import Knowledge
from advisor.knowledge.rules import Caution
from advisor.knowledge.strata import reads
from advisor.outcome import Answer, Consultation, Understood
from advisor.sheet import cautions
from advisor.sheet.layout import GAP, Block, Para

LEAD = "If so: "


class IfSo:
    """Tells each caution once in a call, and none that he has heard."""

    def __init__(self) -> None:
        self._told: set[str] = set()

    def blocks(
        self, waits: Iterable[Understood], now: Consultation, consult: Consult, knowledge: Knowledge
    ) -> list[Block]:
        """The cautions told at once that what ``waits`` for his yes would bring, were all of it so, but those
        that rest on what is asked next."""
        given = {heard.answer.fact: heard.answer.words for heard in now.understood}
        new = {heard.answer.fact: heard.answer.words for heard in waits if heard.fact is not None}
        if not any(given.get(fact) != new[fact] for fact in new.keys() & _read_at_once(knowledge)):
            return []
        so = consult(tuple(Answer(fact, words) for fact, words in (given | new).items()))
        heard_of = {*self._told, *kept.waiting(so), *(one.rule for one in now.cautions if one.at_once)}
        self._told.update(one.rule for one in so.cautions if one.at_once and one.rule not in heard_of)
        return [*map(_short, cautions.lines_at_once(so, heard_of))]


def under(offer: Sequence[Block], warned: Sequence[Block]) -> list[Block]:
    """An offer with what is warned of under its first line, the echo."""
    at = 1 + next((at for at, block in enumerate(offer) if block is not GAP), 0)
    return [*offer[:at], *warned, *offer[at:]]


def _short(line: Para) -> Block:
    return replace(line, first=f"{LEAD}{line.first}")


def _read_at_once(knowledge: Knowledge) -> frozenset[str]:
    """The facts that decide whether anything is told at once."""
    grave = (rule for rule in knowledge.rules if any(isinstance(act, Caution) and act.at_once for act in rule.then))
    return frozenset().union(*map(reads, grave))
