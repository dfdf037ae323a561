"""The engines: the reference that defines what rules mean, and which one fires here."""

from collections import Counter
from collections.abc import Iterable
from typing import Literal

from .agenda import Agenda, FiringError, Joins


class ReferenceAgenda:
    """Plain evaluation in Python: the meaning of the rules, and the oracle for any other engine."""

    name = "reference"

    def describe(self) -> str:
        return "reference evaluation (built in)"

    def fire(self, joins: Joins, holding: Iterable[int]) -> tuple[int, ...]:
        met = Counter(number for condition in set(holding) for number in joins.readers.get(condition, ()))
        fired = [number for number, count in met.items() if count == len(joins.rules[number])]
        return tuple(sorted([*joins.free, *fired]))


def agenda(kind: Literal["auto", "reference", "durable"] = "auto") -> Agenda:
    """The engine of this kind; "auto" takes durable-rules where it is there, the reference elsewhere."""
    if kind == "reference":
        return ReferenceAgenda()
    try:
        from .durable import DurableAgenda
    except ImportError as error:
        if kind == "auto":
            return ReferenceAgenda()
        raise FiringError(
            "durable-rules is not installed here (it needs a C compiler and Python 3.12 or earlier); "
            "install advisor[fire] or leave the choice of engine to the advisor"
        ) from error
    return DurableAgenda()
