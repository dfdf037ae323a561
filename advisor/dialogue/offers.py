"""What a caller said beside his answer: offered once, and once more when its question or the end comes."""

from collections.abc import Collection, Iterable

from advisor.outcome import Understood


class Offers:
    """``now`` are the offers to be answered, the first one first; ``settled`` the facts that were offered twice or
    turned down, which nobody offers again."""

    def __init__(self) -> None:
        self.now: list[Understood] = []
        self.settled: set[str] = set()
        self._passed: dict[str, Understood] = {}

    def turn_down(self) -> None:
        """The first one isn't so."""
        fact = self.now.pop(0).answer.fact
        self.settled.add(fact)
        self._passed.pop(fact, None)

    def pass_over(self) -> None:
        """Something else was said: what is offered waits for its question."""
        self._passed |= {more.answer.fact: more for more in self.now if more.answer.fact not in self.settled}
        self.now = []

    def come_back(self, asked: Iterable[str] | None, known: Collection[str]) -> None:
        """What waited for the facts ``asked`` now, or, with None, for the end, is on offer unless it is ``known``."""
        waited = [self._passed.pop(name) for name in asked or tuple(self._passed) if name in self._passed]
        self.settled.update(more.answer.fact for more in waited)
        self.now = [more for more in waited if more.answer.fact not in known]
