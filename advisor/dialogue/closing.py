"""What a caller says once he has heard the advice: his questions are answered or kept, and decide nothing; a change of
mind opens the decision again; only when he has nothing else is the call closed."""

import re
from abc import abstractmethod
from collections.abc import Iterator
from dataclasses import replace

from advisor.dialogue import reasons, views
from advisor.dialogue.asking import Asking
from advisor.dialogue.turn import Turn
from advisor.hearing import asked_back, at_close, elsewhere, understand
from advisor.hearing.mentions import take_all
from advisor.hearing.request import decode
from advisor.hearing.volunteered import topics_of
from advisor.knowledge import Knowledge
from advisor.outcome import CLOSING, Consultation, Understood
from advisor.questions import applies
from advisor.sheet.layout import Block, Para
from advisor.sheet.trace import fact_base

DECISION, REASON, OBJECTION = "request answer", "insists reason", "objection"
NEAR = 0.01
"""Parts by which a size may differ from the one that is named."""
WHICH = "Yes to which: go with it, think it over, or stay with his own?"


_BALL, _JOURNAL = re.compile(r"\bball\b"), re.compile(r"\bjournal\b|\bsleeve bearing")


class Closing(Asking):
    """A call whose advice was told."""

    @abstractmethod
    def _heard(self, said: str) -> Turn:
        """What comes of the caller's words at what is asked."""

    @abstractmethod
    def _skip(self) -> Turn:
        """What comes of leaving a question out."""

    @abstractmethod
    def _take(self, fact: str, said: str) -> Turn:
        """What comes of an answer."""

    def _at_close(self, said: str) -> Turn | None:
        """What comes of words once the advice is told; None where they are to be heard as anywhere else."""
        about = self._doubted.answer.fact if self._doubted is not None else self._asked
        if not self.told or self._reading_back or self._odds is not None or about not in (None, *CLOSING):
            return None
        asked = [] if self._objects(said) else [one for one in at_close.questions(said) if not self._tells(one)]
        if not asked and self._supposes(said):
            asked = [said]
        left = at_close.without(said, asked) if asked else said
        of_his = self._is_for_his_own(left)
        asked = [self._of_which(question, left) if of_his else question for question in asked]
        if not self._unasked_for.ask(asked, self.knowledge, self._answers):
            return self._decided(said)
        shown, entries = self._put_unasked()
        turn = (self._decided(left) or self._heard(left)) if left else self._again_as_it_was()
        return replace(turn, show=(*shown, *turn.show), entries=(*entries, *turn.entries))

    def _tells(self, question: str) -> bool:
        """Whether a question tells what only he decides: "which one would you put on it?" of a diagnosis."""
        vocabulary, known = self.knowledge.vocabulary.values(), fact_base(self.consultation)
        his = [d for d in vocabulary if d.kind == "yes/no" and d.source == "asked" and d.name not in self._answers]
        return bool(take_all([one for one in his if applies(one, known)], question))

    def _supposes(self, said: str) -> bool:
        """Whether words that decide nothing suppose something that he may ask about: "I guess I'd need a tune"."""
        about = next((one for one in self.knowledge.vocabulary.values() if one.volunteered == "questions"), None)
        if about is None or not at_close.supposes(said) or self._objects(said):
            return False
        return topics_of(about, said) != {about.choices[-1].name}

    def _again_as_it_was(self) -> Turn:
        return self._stay(self._doubt())

    def _objects(self, said: str) -> bool:
        """Whether words at the question what is in the way are plainly that, though they ask: "what if it breaks?"."""
        if self._asked != OBJECTION or asked_back.costs(said):
            return False
        return bool(_named_in(understand(self._definition(OBJECTION), said.rstrip("? "))) - {"none"})

    def _also_objects(self, said: str) -> Understood | None:
        """What is plainly in the way, of words at the question how he takes it, which they don't answer."""
        if OBJECTION not in self.knowledge.vocabulary:
            return None
        own, heard = understand(self._definition(DECISION), said), understand(self._definition(OBJECTION), said)
        named = _named_in(heard) - {"none"}
        if own.fact is not None or own.not_sure or not named:
            return None
        both = understand(self._definition(OBJECTION), f"{self._answers.get(OBJECTION, '')}, {said}")
        return both if _named_in(both) > named and "none" not in _named_in(both) else heard

    def _is_for_his_own(self, said: str) -> bool:
        """Whether the words are for the part that he asked for."""
        return at_close.names_his_own(said, self._answers.get("request", ""))

    def _of_which(self, question: str, said: str) -> str:
        """A question about "it" behind words for his own part, told as one about that."""
        named = sorted(at_close.figures(said) & at_close.figures(self._answers.get("request", "")))
        return f"{question.rstrip('? ')}, the {'/'.join(named)}?" if named else question

    def _decided(self, said: str) -> Turn | None:
        """What follows from words that decide, or take a decision back; None where they do neither."""
        if DECISION not in self.knowledge.vocabulary or self._offers.now:
            return None
        definition, decision = self._definition(DECISION), self._decision()
        open_to_all = self._asked in (None, *CLOSING) and not self._objects(said)
        if not open_to_all or not applies(definition, fact_base(self.consultation)):
            return None
        if self._asked == REASON and at_close.nothing_else(said):
            return self._skip()
        if self._asked == DECISION and self._doubted is None and views.YES_ALONE.fullmatch(said):
            return self._stay([Para(WHICH, "warn")])
        if self._is_for_his_own(said):
            value = "accepted" if self.consultation.requested_is == "right" else "insists"
            if decision == value:
                return None
            self._doubted = None
            return self._take(DECISION, value)
        if self._asked == DECISION and not decision and (objects := self._also_objects(said)) is not None:
            return self._keep(objects)
        if not decision and (named := list(_named(said, self.consultation, self.knowledge))) and at_close.turns(said):
            self._doubted = None
            return self._stay(named)
        again = self._asked != DECISION and (decision or DECISION in self._skipped)
        if not again or at_close.nothing_else(said) or not at_close.turns(said, opening=self._asked == REASON):
            return None
        return self._next([]) if self._put_forward(said) else self._reopened(said, decision)

    def _decision(self) -> str:
        """What he decided, "" where he hasn't."""
        if DECISION not in self._answers:
            return ""
        fact = understand(self._definition(DECISION), self._answers[DECISION]).fact
        return str(fact.value) if fact is not None else ""

    def _reopened(self, said: str, decision: str) -> Turn:
        """The decision anew: as the words plainly make it, or asked again."""
        self._doubted = None
        heard = self._read(self._definition(DECISION), said, opening=False)
        named = list(_named(said, self.consultation, self.knowledge))
        plainly = heard.fact is not None and not heard.doubt and not named and not at_close.turns_only(said)
        if plainly and heard.fact is not None and heard.fact.value != decision:
            return self._keep(heard)
        gone = [fact for fact in (DECISION, REASON) if fact in self._answers or fact in self._skipped]
        self._skipped = [fact for fact in self._skipped if fact not in gone]
        for fact in gone:
            self._answers.pop(fact, None)
        self._latest = self._consult(self.answers)
        was = f"The decision is open again; it was: {decision}." if decision else "The decision is open again."
        return self._next([Para(was, "warn"), *named], [{"reopen": fact} for fact in gone])

    def _after_all(self, said: str) -> Turn:
        """What comes of words when nothing more is asked."""
        if at_close.nothing_else(said):
            return self._closed()
        vocabulary = self.knowledge.vocabulary
        named = elsewhere.by_name(vocabulary, said, reasons.askable(self.knowledge))
        if named is not None and named.answer.fact not in {*self._answers} - {*self._left_open()}:
            return self._keep(named)
        if self._put_forward(said):
            return self._next([])
        stands = f"It stands as {decision}; " if (decision := self._decision()) else ""
        words = f"Nothing here is changed by that. {stands}change FACT reopens an answer, note keeps a remark,"
        return self._stay([Para(f"{words} no closes the call.", "warn")])

    def _closed(self) -> Turn:
        return Turn((Para("The call is closed."),), entries=({"closed": True},))


def _named_in(heard: Understood) -> frozenset[str]:
    """The choices that are named for sure."""
    sure = heard.fact is not None and not heard.doubt
    return heard.fact.value if sure and heard.fact and isinstance(heard.fact.value, frozenset) else frozenset()


def _named(said: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """The first of the candidates that hold what the words name: a wheel's size, a housing, a bearing; nothing where
    they name none."""
    words, wanted = said.lower(), decode(said)
    every = knowledge.catalogue.candidates()
    marks = {"bearing": "ball" if _BALL.search(words) else "journal" if _JOURNAL.search(words) else None}
    marks |= {"wastegate": wanted.gate, "housing entry": wanted.entry, "turbine foot": wanted.foot}
    sizes = {"compressor inducer": wanted.inducer, "housing ratio": wanted.housing_ratio}
    if not any([*marks.values(), *sizes.values()]):
        return
    rows = {code: row for row, code in enumerate(every.codes)}
    for place, (code, title, points) in enumerate(consultation.kept):
        if (row := rows.get(code)) is None:  # worked out before the catalogue was edited
            continue
        alike = all(str(every.facts[fact][row]).startswith(mark) for fact, mark in marks.items() if mark)
        own = {fact: float(every.facts[fact][row]) for fact in sizes}
        near = all(abs(own[fact] - size.mid) <= NEAR * size.mid for fact, size in sizes.items() if size is not None)
        if alike and near:
            behind = consultation.kept[0][2] - points
            told = "the one recommended" if place == 0 else f"{behind:.1f} points behind; why not {code} tells why"
            yield Para(f"{title} ({code}), {told}.", "option", 2, "With that, first comes: ")
            return
    yield Para("No turbo with that is left for this engine; why not tells why.", "warn", 2)
