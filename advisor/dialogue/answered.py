"""The answers of a call as they stand, and what they come to."""

from threading import Lock

from advisor.dialogue import kept
from advisor.dialogue.turn import Consult, asked_of, remembering
from advisor.journal import Record
from advisor.knowledge import Knowledge
from advisor.outcome import DECIDED, Answer, Consultation, Understood


class Answered:
    """What a call consults with its answers; ``told`` once the advice was."""

    def __init__(self, consult: Consult, knowledge: Knowledge, record: Record, conclude: Consult | None) -> None:
        self.knowledge = knowledge
        self.told = False
        self._consult = consult
        self._conclude = remembering(conclude or consult)
        self._answers, self._unasked = asked_of(record.answers, knowledge)
        self._unasked_for = kept.Unasked()
        self._latest: Consultation | None = None
        self._consulting = Lock()

    @property
    def answers(self) -> tuple[Answer, ...]:
        """The answers as they stand."""
        return tuple(Answer(fact, words) for fact, words in self._answers.items())

    @property
    def consultation(self) -> Consultation:
        """What the answers come to. The first one is worked out when it is first needed, which may be in
        another thread while the opening question is on the screen."""
        with self._consulting:
            if self._latest is None:
                self._latest = self._consult(self.answers)
            return self._latest

    @property
    def fell_short(self) -> bool:
        """Whether the call was concluded and nothing could be advised."""
        return self.told and self.consultation.verdict not in DECIDED

    def _put(self, *heard: Understood) -> None:
        """Take answers, and before them what was said unasked, and see what follows."""
        unasked = {one.answer.fact: one.answer.words for one, _ in self._unasked_for.now}
        self._answers = unasked | self._answers | unasked | {each.answer.fact: each.answer.words for each in heard}
        self._latest = self._consult(self.answers)
