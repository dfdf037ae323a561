"""What a call asks now: a doubt, an offer, answers at odds, a question, or several in one breath."""

from advisor.at_odds import Odds
from advisor.dialogue import mending, views
from advisor.dialogue.answered import Answered
from advisor.dialogue.odds import AtOdds
from advisor.dialogue.reading_back import ReadBack
from advisor.dialogue.turn import Consult, Fresh, Prompt, Turn, asked_of, kept_for_later, remembering
from advisor.journal import Record
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import CLOSING, OpenQuestion, Understood
from advisor.sheet.layout import Block, Para


class Asking(Answered):
    """The answers of a call, with what was left out, is asked again, is doubted or is read back."""

    def __init__(self, consult: Consult, knowledge: Knowledge, record: Record, conclude: Consult | None) -> None:
        super().__init__(consult, knowledge, record, conclude)
        self.enough = record.enough
        self._skipped = [fact for fact in record.skipped if fact in knowledge.vocabulary]
        self._doubted: Understood | None = None
        self._doubts: set[str] = set()  # what was put since the last answer that was kept
        self._put_again = 0
        self._at_odds = AtOdds(record.stood)
        self._in_breath: set[str] = set()  # facts asked together with others once; what is left of them is asked singly
        self._reading_back = False
        self._read_back = ReadBack()
        self._more = False  # go on with what could only add a remark

    def _owed(self) -> list[str]:
        """The facts that he left open or that were left out."""
        return [*self._skipped, *self._left_open()]

    @property
    def _question(self) -> OpenQuestion | None:
        if not self._answers and not self.enough:
            opening = views.opening(self.knowledge)
            if opening.fact not in self._skipped:
                return opening
        passed = {*self._skipped, *self._answers}
        return views.due(self.consultation, passed, self._more, self.told, self.enough)

    @property
    def _odds(self) -> Odds | None:
        """Answers that can't all be so, to be asked about before anything else is."""
        waits = self._doubted is not None or self._offers.now or self._again or (self.enough and not self.told)
        return None if waits or self._latest is None else self._at_odds.now(self._latest, self.knowledge.vocabulary)

    @property
    def _asked(self) -> str | None:
        return self._again or (question.fact if (question := self._question) else None)

    @property
    def _together(self) -> tuple[str, ...]:
        """The facts that are asked in one breath now; none where one is asked by itself."""
        question = None if self._again else self._question
        names = tuple(name for name in question.together if name not in self._skipped) if question else ()
        return () if len(names) < 2 or self._in_breath.intersection(names) else names

    def _prompt(self, label: str) -> Prompt:
        waits = self._doubted is not None or self._offers.now or self._odds is not None or self._reading_back
        asked = () if waits or self._asked is None else self._asked_now(self._asked)
        return views.prompt(label, asked, len(self._answers), self._latest, self.knowledge)

    def _asked_now(self, fact: str) -> list[FactDef]:
        """What is asked now: the fact, or all that are asked in one breath; nothing where nothing is."""
        return [self._definition(name) for name in self._together or (fact,) if name]

    def _take_up(self, fresh: Fresh) -> list[Block]:
        """Go on with edited knowledge: what that changes, line by line, and which answers count no more, or again."""
        self._shops, self._consult, self._conclude = fresh.knowledge, fresh.consult, remembering(fresh.conclude)
        before = self._answers
        self._answers, self._unasked = asked_of(self._unasked | self._answers, self.knowledge)
        self._skipped = [fact for fact in self._skipped if fact in self.knowledge.vocabulary]
        self._doubted, self._offers.now, self._again, self._reading_back = None, [], "", False
        self._latest = self._consult(self.answers)
        self.told = self.told and (self._question is None or self._question.fact in CLOSING)
        return [*(Para(one, "", 2) for one in fresh.changes), *kept_for_later(before, self._answers)]

    def _put_too_often(self, ask: str, doubted: Understood) -> bool:
        """Whether what is to be asked puts a doubt for the third time."""
        self._put_again = self._put_again + 1 if ask.endswith(doubted.doubt) else 0
        return self._put_again > 1

    def _plainly(self, fact: str) -> Turn:
        """Ask plainly, with the choices, what was doubted twice for the same reason."""
        self._doubted, self._again, self._put_again = None, fact, 0
        asked = self._definition(fact)
        return Turn(tuple(mending.asked_plainly(asked)), self._prompt(views.label(asked)))
