"""The answers of a call as they stand, and what they come to."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from threading import Lock

from advisor import his_units
from advisor.dialogue import kept, mending, views
from advisor.dialogue.commands import Command
from advisor.dialogue.offers import Offers
from advisor.dialogue.replies import on_condition, picked_first, put_right
from advisor.dialogue.turn import Consult, Turn, asked_of, remembering
from advisor.hearing import agrees, beside, elsewhere, retold, suggestions, understand
from advisor.hearing.elsewhere import answers_text
from advisor.hearing.leaning import telling
from advisor.hearing.righted import Righted, Where, righted
from advisor.hearing.same_as import same_as
from advisor.hearing.together import apart
from advisor.hearing.told import as_asked
from advisor.hearing.understood import LEANT
from advisor.journal import Entry, Record, told_beside
from advisor.knowledge import FactDef, Knowledge
from advisor.outcome import CLOSING, DECIDED, Answer, Consultation, Understood
from advisor.quantities import Range
from advisor.sheet.layout import Block, Para, reworded

_SUPPOSED = re.compile(r"(?:(?:so|and|but|well|hey)[, ]+)*what (?:if|would happen if|about if)\b", re.IGNORECASE)


class Answered:
    """What a call consults with its answers; ``told`` once the advice was."""

    def __init__(self, consult: Consult, knowledge: Knowledge, record: Record, conclude: Consult | None) -> None:
        self._shops = knowledge  # in the units of the shop
        self._edited_since = record.knowledge not in ("", knowledge.digest)  # the call was begun with other knowledge
        self.told = False
        self._consult = consult
        self._conclude = remembering(conclude or consult)
        self._answers, self._unasked = asked_of(record.answers, knowledge)
        self._unasked_for = kept.Unasked()
        self._again = ""  # the fact that is asked again by back or change, or because nothing is left of it
        self._said: set[str] = set()  # rules whose words the caller has heard
        self._latest: Consultation | None = None
        self._spoken_by: Consultation | None = None  # the one by which it is known what he speaks in
        self._instead: his_units.Instead = {}
        self._consulting = Lock()
        self._offers = Offers(*(self._beside_before(told) for told in (record.offered, record.waiting)))

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
    def knowledge(self) -> Knowledge:
        """The shop's, in the units that the caller speaks in: his figures are heard and told by it."""
        if self._latest is not self._spoken_by:
            self._spoken_by, understood = self._latest, self._latest.understood if self._latest else ()
            self._instead = his_units.his_units(understood, self._shops.vocabulary)
        return his_units.speaking(self._shops, self._instead)

    @property
    def fell_short(self) -> bool:
        """Whether the call was concluded and nothing could be advised."""
        return self.told and self.consultation.verdict not in DECIDED

    def _told(self, turn: Turn, *own: str) -> Turn:
        """A turn with every figure in his units but those in his ``own`` words."""
        if self._latest is None:
            return turn
        tell = his_units.teller(self._latest, self._shops.vocabulary, own)
        return replace(turn, show=tuple(reworded(turn.show, tell)))

    def _definition(self, fact: str) -> FactDef:
        return self.knowledge.vocabulary[fact]

    def _beside_before(self, told: Mapping[str, str]) -> list[Understood]:
        """What was told beside answers before the call was broken off, and not yet confirmed."""
        vocabulary = self._shops.vocabulary
        read = (understand(vocabulary[fact], words) for fact, words in told.items() if fact in vocabulary)
        return [replace(one, doubt="") for one in read if one.fact is not None]

    def _kept_beside(self) -> Entry:
        """What was told beside answers and isn't confirmed yet, as it goes to the journal."""
        return told_beside(*(map(self._as_kept, told) for told in self._offers.kept()))

    @property
    def _opening(self) -> FactDef:
        """The fact that every call opens with."""
        return self._definition(views.opening(self.knowledge).fact)

    def _read(self, definition: FactDef, said: str, opening: bool) -> Understood:
        """What is said to a question; what plainly tells something else is no answer to it, but to the ``opening``."""
        vocabulary = self.knowledge.vocabulary
        if (same := same_as(vocabulary, definition, said, self._answers)) is not None:
            return same
        heard = beside.unless_of_another(vocabulary, self._in_his_units(understand(definition, said)))
        if definition.name == "request answer":
            return on_condition(heard, self.consultation)
        beside_it = not opening and beside.may_be_beside(heard, definition)
        more = self._also_said(heard, definition.name) if beside_it else []
        if more and definition.kind == "number" and (own := self._own_part(definition, more, said)) is not None:
            return own
        return beside.beside_the_question(heard, more, vocabulary) if more else as_asked(vocabulary, heard)

    def _own_part(self, definition: FactDef, more: Sequence[Understood], said: str) -> Understood | None:
        """The figure that answers, of a sentence that holds ``more``, which is on offer next: "about eighty percent,
        and ten percent strip"."""
        others = [self._definition(one.answer.fact) for one in more]
        told = apart([definition, *others], said).heard
        own = next((one for one in told if one.answer.fact == definition.name and not one.doubt), None)
        if own is not None:
            self._offers.held = list(more)
        return own

    def _put(self, *heard: Understood) -> None:
        """Take answers, and before them what was said unasked, and see what follows."""
        unasked = {one.answer.fact: one.answer.words for one, _ in self._unasked_for.now}
        self._answers = unasked | self._answers | unasked | {each.answer.fact: each.answer.words for each in heard}
        self._latest = self._consult(self.answers)

    def _put_unasked(self) -> tuple[list[Block], list[Entry]]:
        """Take what he said unasked, where no answer took it along: what it brought, and the entries to keep."""
        before, entries = self.consultation, self._unasked_for.entries()
        self._put()
        return kept.brought(None, self._unasked_for, before, self.consultation, self._shops, self._said), entries

    def _also_said(self, heard: Understood, *more: str) -> list[Understood]:
        """What the words hold beside their answer, without what is known, is asked at the end, or was refused."""
        opening = heard.answer.fact == self._opening.name
        return beside.offers(self.knowledge.vocabulary, heard, self._settled(*more), opening, self._may_grow())

    def _told_beside(self, heard: Understood) -> list[Understood]:
        """What an answer that is kept holds beside itself, with figures that it reels off where it is none."""
        chosen = heard.fact is not None and not isinstance(heard.fact.value, Range)
        reeled = beside.reeled_off(self.knowledge.vocabulary, heard, self._settled()) if chosen else []
        return self._also_said(heard) or reeled

    def _told_along(self, heard: Understood) -> list[Understood]:
        """What the words of an answer tell otherwise of the fact that goes with it."""
        return [*retold.along(self.knowledge.vocabulary, heard.answer.fact, heard.answer.words, self._may_grow())]

    def _may_grow(self) -> dict[str, str]:
        """Answers to which more may be added."""
        return {fact: words for fact, words in self._answers.items() if fact not in {*CLOSING, *self._offers.denied}}

    def _supposed(self, said: Command | str) -> Command | str:
        """The trial of what he only supposes: "what if I had studs and a competition tune"."""
        supposed = _SUPPOSED.match(said) if isinstance(said, str) else None
        if supposed is None or isinstance(said, Command):
            return said
        told = beside.also_said(self.knowledge.vocabulary, said[supposed.end() :], CLOSING, self._may_grow())
        tried = [f"{one.answer.fact} = {one.answer.words}" for one in told if not one.doubt]
        return Command("what if", " and if ".join(tried)) if tried else said

    def _settled(self, *more: str) -> set[str]:
        known = {*self._answers, *CLOSING, *self._offers.settled, *more} - {*self._left_open()}.difference(more)
        return known | self._of_other_calls()

    def _of_other_calls(self) -> set[str]:
        """The facts that are never asked in a call of this kind."""
        opening = self._opening
        kind = understand(opening, self._answers[opening.name]).fact if opening.name in self._answers else None
        vocabulary = self.knowledge.vocabulary
        return beside.of_other_calls(vocabulary, opening.name, str(kind.value)) if kind is not None else set()

    def _left_open(self) -> list[str]:
        """The facts of which he wasn't sure."""
        understood = self.consultation.understood if self._answers else ()
        return [heard.answer.fact for heard in understood if heard.not_sure and heard.answer.fact not in CLOSING]

    def _in_his_units(self, heard: Understood) -> Understood:
        """An answer told in his unit, with the question for it where a figure fits that of the shop as well."""
        shops = self._shops.vocabulary[heard.answer.fact]
        return self._echoed(his_units.asked_for_unit(heard, shops, self._instead))

    def _offered(self, heard: Understood) -> Understood:
        """What is put to him: told in his unit, so that a yes settles it; where he has none yet, that is asked."""
        named = self._definition(heard.answer.fact).unit != self._shops.vocabulary[heard.answer.fact].unit
        return self._echoed(heard) if named else self._in_his_units(heard)

    def _echoed(self, heard: Understood) -> Understood:
        return his_units.echoed(heard, self._shops.vocabulary[heard.answer.fact], self._instead)

    def _as_kept(self, heard: Understood) -> Understood:
        return his_units.kept(heard, self._shops.vocabulary[heard.answer.fact], self._instead)

    def _puts_right(self, fact: str, said: str) -> bool:
        """Whether words at the question for ``fact`` say that an earlier answer isn't so: what is left of it is on
        offer then with what else they hold, or it is asked again where nothing is left."""
        vocabulary, opening = self.knowledge.vocabulary, self._opening
        if fact != opening.name and (right := beside.corrects(opening, self._answers.get(opening.name, ""), said)):
            self._offers.now = [right]
            return True
        given = {name: words for name, words in self._answers.items() if name not in {*CLOSING, fact}}
        left = retold.given_up(vocabulary, said, given)
        rest = [understand(vocabulary[name], " and ".join(sorted(stays))) for name, stays in left.items() if stays]
        told = beside.also_said(vocabulary, said, self._settled(*left)) if left else []
        if left:
            self._offers.now = [*rest, *(m for m in told if not retold.falls_away(vocabulary[m.answer.fact], left))]
        for name in [name for name, stays in left.items() if not stays]:
            self._offers.pass_over()
            self._again = name
        return bool(left)

    def _righted(self, said: str, where: Where, *asked: str) -> Righted:
        """What the words put right of what was answered, but for what is ``asked`` now, or read back."""
        vocabulary = self.knowledge.vocabulary
        known = {*self._answers} - {*CLOSING, *asked}
        given = {name: words for name, words in self._answers.items() if name in known.difference(self._left_open())}
        shown = [*known, *mending.taken(self.consultation, self.knowledge)]
        found = righted(vocabulary, said, given, shown, where)
        read = [self._in_his_units(one) for one in found.facts if one.answer.fact not in self._of_other_calls()]
        meant = ((one, suggestions(one.doubt)) for one in read)
        found.facts = [understand(vocabulary[one.answer.fact], his[0]) if his else one for one, his in meant]
        return found

    def _set_apart(self, asked: Sequence[str], said: str) -> str:
        """The words without what they put right of an earlier answer or, at the close, wish for: that is on offer
        next. "" where nothing is left to answer what is ``asked``."""
        closing = asked[0] in CLOSING
        found = self._righted(said, "close" if closing else "beside", *asked)
        facts = [one for one in found.facts if one.answer.fact not in self._offers.settled]
        own = understand(self._definition(asked[0]), said)
        answers = own.fact is not None and not own.doubt and not found.rest
        if not facts or (answers and not found.named.intersection(one.answer.fact for one in facts)):
            return said
        self._offers.held = facts
        if not closing:
            return found.rest
        read = (understand(self._definition(asked[0]), part) for part in found.left if asked[0] != "request answer")
        return " and ".join(one.answer.words for one in read if one.fact is not None and not one.doubt)

    def _corrects(self, said: str) -> list[Block] | None:
        """What to show where words at the read-back put something right, which is on offer then, or say that it isn't
        so; None where they do neither."""
        found, right = self._righted(said, "read back"), self._puts_right("", said)
        if not right:
            may_be = beside.also_said(self.knowledge.vocabulary, said, CLOSING, self._may_grow())
            self._offers.now = found.facts or may_be
            self._offers.then = found.denies
        if not (right or self._offers.now or self._offers.then) and agrees(said) is None:
            self._offers.now = self._in_the_way(said)
        if not (right or self._offers.now or self._offers.then):
            return None
        return list(mending.not_understood(found.left)) if found.facts or found.denies else []

    def _wishes(self, said: str) -> bool:
        """Whether words said once the advice is told wish for something else."""
        return self.told and bool(self._righted(said, "close").named)

    def _put_forward(self, said: str, own: str = "") -> bool:
        """Whether the words put something right, of ``own`` if that is named, which is on offer then."""
        right = self._righted(said, "read back").facts or beside.also_said(self.knowledge.vocabulary, said, CLOSING)
        if own and own not in {one.answer.fact for one in right}:
            return False
        self._offers.put_first(right)
        return bool(right)

    def _not_understood(self, said: str) -> list[Block]:
        """Which words at the read-back weren't understood, and what can be put right."""
        known = mending.what_can_change(self._answers, self.consultation, self.knowledge)
        return [*mending.not_understood(self._righted(said, "read back").left), *known]

    def _rights_another(self, own: FactDef, said: str, denied: bool, where: Where) -> bool:
        """Whether words said to an offer of ``own``, or beside a no to it (``denied``), put other facts right, which
        are offered first then."""
        found = self._righted(said, where)
        answers = self._put_right(own, said)
        others = [one.answer.fact for one in found.facts if one.answer.fact != own.name]
        if not others or (answers.fact is not None and not answers.doubt and not found.named.intersection(others)):
            return False
        if denied:
            self._offers.turn_down([one.answer.fact for one in self._offers.listed], said)
        self._offers.put_first(found.facts)
        return True

    def _put_right(self, own: FactDef, said: str) -> Understood:
        """What is said of ``own`` beside a no to an offer; no figure that its words mark as another fact's."""
        return beside.unless_of_another(self.knowledge.vocabulary, put_right(own, said))

    def _in_the_way(self, said: str) -> list[Understood]:
        """What words at the read-back say of what is asked once the advice is told: "that's too dear"."""
        asked = [self._definition(name) for name in sorted(CLOSING.intersection(self.knowledge.vocabulary))]
        several = [one for one in asked if one.kind == "several" and one.name not in self._answers]
        told = [understand(one, said) for one in several]
        nothing = frozenset({"none"})
        return [replace(one, doubt="") for one in told if one.fact is not None and one.fact.value != nothing]

    def _rings_for(self, said: str, asked: Sequence[str]) -> Understood | None:
        """What he rings for, where he says so beside what is ``asked`` and something else was taken at the opening."""
        opening, denied = self._opening, self._offers.denied
        if opening.name not in self._answers or opening.name in {*asked, *denied}:
            return None
        read = [understand(self._definition(fact), said) for fact in asked if self._definition(fact).kind != "text"]
        if any(one.fact is not None and not one.doubt for one in read):
            return None
        return retold.rings_for(opening, self._answers[opening.name], said)

    def _either_kind(self, doubted: Understood, said: str) -> str:
        """The question which of two he rings for, where he says something else to what was taken; "" elsewhere."""
        opening, taken = self._opening, doubted.fact.value if doubted.fact is not None else ""
        if doubted.answer.fact != opening.name:
            return ""
        other = retold.rings_for(opening, str(taken), said, failed=False)
        return f"Did you mean {taken} or {other.fact.value}?" if other is not None and other.fact is not None else ""

    def _picked(self, doubted: Understood, said: str) -> str:
        """The answer offered by a doubt that the first words name; what is said behind them is on offer next."""
        picked, behind = picked_first(doubted, said, self._definition(doubted.answer.fact))
        if picked:
            known = self._settled(doubted.answer.fact)
            self._offers.held = beside.also_said(self.knowledge.vocabulary, behind, known)
        return picked

    def _told_of_another(self, doubted: Understood, said: str) -> bool:
        """Whether what is said to a doubt answers another question: then that is offered first."""
        own, vocabulary = self._definition(doubted.answer.fact), self.knowledge.vocabulary
        if self._puts_right(own.name, said):
            if self._offers.now:
                self._offers.put_ahead(self._offers.now)
            else:  # nothing is left of what he denies, so that is asked before
                self._offers.wait(doubted)
            return True
        told = elsewhere.of_another(vocabulary, own, said, self._settled(own.name), self._may_grow())
        if told is not None:
            self._offers.put_ahead(told)
        return told is not None

    def _beside_offers(self, own: FactDef, offered: FactDef, said: str) -> list[Para] | None:
        """What to show where words said to an offer answer neither it nor what is asked, ``own``: nothing where they
        answer other questions, which are offered first, and what was on offer again. None where they may answer."""
        if self._offers.ahead:  # of a doubt, to which it may be said
            return None
        known, given = self._settled(own.name), self._may_grow()
        told = elsewhere.of_another(self.knowledge.vocabulary, own, said, known, given) or []
        self._offers.put_first(told)
        if told:
            return []
        bare = own is offered or len(telling(said)) < 2  # "that one there"
        unnamed = own.kind == "text" and bare and not answers_text(own, said)
        return [Para("Yes, no, or the part that he means.", "warn")] if unnamed else None

    def _behind_yes(self, behind: str, asked: str, heard: Understood, *more: Understood) -> list[Understood]:
        """Offer what is said behind a yes that confirms answers, before what was on offer, with what answers the
        question that is ``asked``; what could mean several facts waits for their questions, and is returned."""
        confirmed = {one.answer.fact: one.answer.words for one in (heard, *more)}
        before, known = self._offers.now or ([] if more else self._also_said(heard)), self._settled(*confirmed)
        told = beside.also_said(self.knowledge.vocabulary, behind, known, self._may_grow() | confirmed)
        facts = {one.answer.fact for one in told}
        if asked and asked not in {*facts, *known} and (own := self._answers_behind(self._definition(asked), behind)):
            told, facts = [own, *told], {*facts, asked}
        alone = replace(heard, answer=replace(heard.answer, words=behind))
        self._offers.now = told
        several = self._offers.wait_by_unit(self.knowledge.vocabulary, alone, known)
        self._offers.now = [*told, *(one for one in before if one.answer.fact not in facts)]
        return several

    def _answers_behind(self, asked: FactDef, behind: str) -> Understood | None:
        """What words behind a yes to something else plainly say to the question that is open: "yes, and I told you, a
        new turbo"."""
        own = understand(asked, behind) if asked.kind in ("choice", "several") else None
        if own is None or own.fact is None or own.not_sure or (own.doubt and LEANT not in own.doubt):
            return None
        return replace(own, doubt="")

    def _grown(self, heard: Understood, behind: str) -> Understood:
        """An answer of several choices with those that are named behind the yes to it: "yes, and the sled"."""
        definition = self._definition(heard.answer.fact)
        told = understand(definition, behind) if behind and definition.kind == "several" else None
        if told is None or told.doubt:
            return heard
        return beside.added(definition, told, heard.answer.words) or heard
