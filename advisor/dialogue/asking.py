"""What a call asks now: a doubt, an offer, answers at odds, a question, or several in one breath; and how it goes on
from there, and from an answer that is kept."""

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from advisor.at_odds import Odds
from advisor.dialogue import if_so, kept, mending, owing, views
from advisor.dialogue.answered import Answered
from advisor.dialogue.odds import AtOdds
from advisor.dialogue.offers import waiting
from advisor.dialogue.reading_back import ReadBack
from advisor.dialogue.reasons import askable
from advisor.dialogue.turn import Consult, Fresh, Prompt, Turn, asked_of, kept_for_later, remembering
from advisor.hearing.elsewhere import typed_by_name
from advisor.journal import Entry, Record, entries_of
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import CLOSING, OpenQuestion, Understood
from advisor.questions import anew
from advisor.sheet.first_look import choices
from advisor.sheet.layout import GAP, Block, Para

AT_A_LOSS = 3
"""Things in a row that somebody doesn't know, after which less is asked at a time (own judgement)."""


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
        self._asked_of: tuple[str, ...] = ()  # the questions that the last answer was given to, if several
        self._put_before: set[str] = set()  # questions that were shown: nobody is greeted twice
        self._reading_back = False
        self._read_back = ReadBack()
        self._watched = kept.Watched()
        self._if_so = if_so.IfSo()
        self._more = False  # go on with what could only add a remark

    def _owed(self) -> list[str]:
        """The facts that he left open or that were left out."""
        return [*self._skipped, *self._left_open()]

    def _typed_by_name(self, said: str, asked: AbstractSet[str]) -> Understood | None:
        """What is typed by the name of a fact that isn't ``asked`` now: "injection pump stock"."""
        still_open = {*askable(self.knowledge)} - {*self._answers} - asked
        return typed_by_name(self.knowledge.vocabulary, said, {*self._owed()} - asked, still_open)

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
        if self.enough and names:
            names = tuple(name for name in self._vital() if name in names)
        return () if len(names) < 2 or self._at_a_loss or self._in_breath.intersection(names) else names

    @property
    def _at_a_loss(self) -> bool:
        """Whether he didn't know the last things that he was asked: then one is asked at a time, with where to look."""
        last = self.consultation.understood[-AT_A_LOSS:] if self._answers else ()
        return len(last) == AT_A_LOSS and all(heard.not_sure for heard in last)

    def _vital(self) -> tuple[str, ...]:
        """What can still be asked and nothing can be advised without."""
        return views.lacking(self.consultation, {*self._skipped, *self._answers})

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

    def _next(
        self, blocks: Iterable[Block], entries: Sequence[Entry] = (), files: Sequence[tuple[str, str]] = ()
    ) -> Turn:
        """The turn that goes on from here: a doubt, an offer, a question, the read-back, or what comes after."""
        shown, question, self._reading_back = list(blocks), self._question, False
        self._again = self._offers.let_go(self._doubted) or self._again
        shown += self._doubt() if self._offers.doubt_is_due() else []
        if self._doubted is None and not self._offers.now and not self._again:
            names = (question.fact, *question.together) if question and question.fact not in CLOSING else None
            self._offers.come_back(names, self._answers)
        if self._doubted is not None and not self._offers.ahead:
            fact = self._doubted.answer.fact
            label = views.doubting(self._definition(fact), fact in self._asked_of)
            shown += self._warned([self._doubted, *self._told_beside(self._doubted)])
        elif self._offers.now:
            self._offers.now = [self._offered(one) for one in self._offers.now]
            asked = self._definition(self._asked) if self._asked else None
            offer, label = views.offer(self._offers.listed, asked, self._answers)
            shown += if_so.under(offer, self._warned(self._offers.now))
        elif self._again:
            shown += views.asking_again(self._definition(self._again), self._answers.get(self._again, ""))
            label = views.label(self._definition(self._again))
        elif (odds := self._odds) is not None:
            shown += [GAP, Para(f"“{odds.ask}”", "warn", 0, "Say: ")]
            label = "the right one, or both"
        elif question:
            put, now = question.fact in self._put_before, self._asked_now(question.fact)
            shown += views.question(replace(question, ask=anew(question.ask)) if put else question, now)
            if self._at_a_loss and now[0].check_by:
                shown.append(Para(f"{now[0].check_by}.", "dim", 2, "He can find out by: "))
            self._put_before.add(question.fact)
            label = views.label(*now)
        elif not self.told:
            shown += self._read_back.blocks(self.consultation, self.knowledge, self._skipped, self.enough)
            self._reading_back = True
            label = "is that right?"
        else:
            shown += owing.afterwards(self.consultation, self.knowledge, self._skipped)
            label = "anything else?"
        return Turn(tuple(shown), self._prompt(label), tuple(entries), tuple(files))

    def _doubt(self) -> list[Block]:
        """What is doubted now, with the question that it is of where several were asked at once."""
        if (doubted := self._doubted) is None:
            return []
        fact = doubted.answer.fact
        return [Para(doubted.doubt, "warn", first=f"{fact}: " if fact in self._asked_of else "")]

    def _warned(self, waits: Iterable[Understood]) -> list[Block]:
        """What would stop or endanger him, were that so."""
        return self._if_so.blocks(map(self._as_kept, waits), self.consultation, self._consult, self.knowledge)

    def _stay(
        self, blocks: Iterable[Block], entries: Sequence[Entry] = (), files: Sequence[tuple[str, str]] = ()
    ) -> Turn:
        """Show something and ask the same again, in short."""
        fact = self._asked
        waits = self._doubted is not None or self._offers.now
        if self._reading_back or (fact is None and self.told and not waits):
            label = "is that right?" if self._reading_back else "anything else?"
            return Turn((*blocks, GAP), self._prompt(label), tuple(entries), tuple(files))
        if fact is not None and not waits and self._odds is None:
            asked = self._asked_now(fact)
            short, prompt = Para(f"“{views.asking(asked)}”", "say"), self._prompt(views.label(*asked))
            return Turn((*blocks, GAP, short), prompt, tuple(entries), tuple(files))
        return self._next(blocks, entries, files)

    def _keep(self, heard: Understood, *more: Understood, left: Sequence[str] = ()) -> Turn:
        """Keep an answer, or several given in one breath, say what was understood, and go on."""
        changed = any(each.answer.fact in self._answers for each in (heard, *more))
        before = self._conclude(self.answers) if changed and self.told else self.consultation
        heard, more = self._as_kept(heard), tuple(map(self._as_kept, more))
        blocks = views.heard((heard, *more), left)
        entries = self._unasked_for.entries()
        for each in (heard, *more):
            self._offers.taken(each)
        self._put(heard, *more)
        self._skipped = [name for name in self._skipped if name not in self._answers]
        self._again, self._doubts = "", set()
        rings_for_another = changed and any(each.answer.fact == self._opening.name for each in (heard, *more))
        self.enough = self.enough and not rings_for_another
        named = next((each for each in (heard, *more) if each.answer.fact == "request"), heard)
        blocks += kept.brought(named, self._unasked_for, before, self.consultation, self._shops, self._said)
        if (late := heard.answer.fact in CLOSING) and views.new_choices(before, self.consultation):
            blocks += choices(self._conclude(self.answers))
        if not changed and not late and (self.told or self._watched.counted_on):
            blocks += kept.moved(before, self.consultation, self.knowledge)
        self._watched.take(self.consultation)
        if changed:
            blocks += views.changes(before, self._conclude(self.answers) if self.told else self.consultation)
        elif self.consultation.stands and not before.stands:
            blocks += views.stands(self.consultation)
        if self.told and not late:  # told again when it opens a question
            self.enough = self.enough and not views.lacks_more(before, self.consultation)
            self.told = False
            self.told = self._question is None
        if not changed and not more:
            self._offers.add(self._told_beside(heard))
            blocks += waiting(self._offers.wait_for_either(self.knowledge.vocabulary, heard, self._settled()))
        return self._next(blocks, [*entries, *entries_of([each.answer for each in (heard, *more)])])
