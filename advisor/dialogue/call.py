"""A call as a machine: a line in, a turn out. No terminal, no file, no clock.

The call is its answers: going back, changing one's mind and resuming are other answers, consulted again.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from advisor import units
from advisor.at_odds import Odds
from advisor.dialogue import commands, files, kept, owing, reasons, views
from advisor.dialogue.closing import Closing
from advisor.dialogue.commands import Command
from advisor.dialogue.odds import reply
from advisor.dialogue.offers import waiting
from advisor.dialogue.replies import after_yes, answer_to, settle
from advisor.dialogue.turn import Consult, Fresh, Reread, Turn
from advisor.hearing import agrees, asked_back, beside, listed, suggestions, understand
from advisor.hearing.righted import Where
from advisor.hearing.same_as import same_as
from advisor.hearing.together import apart, speaks_of_else
from advisor.hearing.understood import sounds_like
from advisor.journal import Entry, Record
from advisor.knowledge import Knowledge
from advisor.outcome import Understood
from advisor.sheet.aloud import aloud
from advisor.sheet.layout import Block, Para, heading
from advisor.sheet.text import recommendation, told

NOTHING_SAID = "Nothing was said: "
HINT = "Type the caller's words; ? lists what else can be typed."


class Call(Closing):
    """One call. ``consult`` follows each answer, ``conclude`` says the same with the bands of its figures once the
    advice is told, ``reread`` reads the knowledge anew. ``open`` first, then ``hear`` line by line until a turn has
    no prompt; ``finish`` at the end of input concludes with what is known."""

    def __init__(
        self,
        consult: Consult,
        knowledge: Knowledge,
        record: Record | None = None,
        conclude: Consult | None = None,
        reread: Reread | None = None,
    ) -> None:
        record = record or Record()
        super().__init__(consult, knowledge, record, conclude)
        self.name = record.call or "call"
        self.notes = list(record.notes)
        self._reread = reread
        self._beside = self._kept_beside()  # what was told beside answers, as it is in the journal
        self._denied = ""  # a figure to which he said no once

    def open(self) -> Turn:
        """The first turn."""
        owed = owing.to_find_out(self.consultation, self.knowledge, self._skipped) if self._answers else ()
        grave = kept.told_at_once(self.consultation, self._said) if self._answers else []
        begun = owing.resumed(self.name, len(self._answers), self._edited_since)
        return self._told(self._next([Para(HINT, "dim"), *begun, *grave, *owed]))

    def hear(self, line: str) -> Turn:
        """What comes of one line."""
        turn = self._told(self._hear(line), line, *self.notes)
        before, self._beside = self._beside, self._kept_beside()
        return turn if before == self._beside else replace(turn, entries=(*turn.entries, self._beside))

    def _hear(self, line: str) -> Turn:
        said = self._supposed(commands.parse(units.clean(line), reasons.askable(self.knowledge)))
        if isinstance(said, Command):
            return self._command(said)
        wishes = self._wishes(said)  # "can we go for 600?" asks nothing that the desk owes an answer
        if (turn := self._at_close(said) if said and not wishes else None) is not None:
            return turn
        fact = self._asked
        asked = self._definition(fact) if fact else None
        turn = self._heard(said if wishes else self._unasked_for.hear(said, asked, self.knowledge, self._answers))
        if not self._unasked_for.now:
            return turn
        blocks, entries = self._put_unasked()
        return replace(turn, show=(*blocks, *turn.show), entries=(*entries, *turn.entries))

    def _heard(self, said: str) -> Turn:
        """What comes of the caller's words."""
        if not said:
            return self._silent()
        if self._unasked_for.now and asked_back.asks(said):  # he answers nothing
            return self._stay(self._doubt())
        if (kind := self._rings_for(said, [one.name for one in self._asked_now(self._asked or "")])) is not None:
            if self._offers.now and self._offers.now[0].echo == kind.echo:  # said again: a yes to it
                return self._keep_on("yes", self._offers.now.pop(0))
            self._offers.held = [kind]
            if not (after_yes(said) and (self._doubted or self._offers.now)):
                self._doubted = None
                return self._next([])
        if self._doubted is not None and not self._offers.ahead:
            named = self._typed_by_name(said, {self._doubted.answer.fact, self._asked or "", *self._together})
            if named is None or not said.lower().startswith(named.answer.fact):  # "the exhaust brake, no" is said
                return self._after_doubt(self._doubted, said)
            return replace(turn := self._keep(named), show=(*turn.show, *self._doubt()))
        if self._offers.now:
            return self._after_offer(said)
        if (odds := self._odds) is not None:
            return self._after_odds(odds, said)
        if self._reading_back:
            return self._after_read_back(said)
        fact = self._asked
        if fact is None:
            return self._after_all(said)
        if nothing := views.nothing_said(said, self._asked_now(fact)):
            return self._stay([Para(nothing, "warn")])
        if (named := self._typed_by_name(said, {fact, *self._together})) is not None:
            return self._keep(named)
        self._asked_of = self._together
        return self._take_apart(self._together, said) if self._together else self._take(fact, said)

    def finish(self) -> Turn:
        """The end of input: conclude with what is known."""
        blocks: list[Block] = []
        if self._doubted is not None:
            blocks.append(Para(f"Left out, since nobody confirmed it: {self._doubted.echo}.", "warn"))
        if (odds := self._odds) is not None:
            blocks.append(Para(f"Left as it was told: {odds.ask}", "warn"))
        self._doubted, self._offers.now, self._again = None, [], ""
        if not self.told:
            blocks += told(self.consultation, self.knowledge.vocabulary)
            blocks += recommendation(self._conclude(self.answers), self.knowledge, self._said)
            self.told = True
        return self._told(Turn(tuple(blocks), entries=({"enough": True}, {"closed": True})))

    def _take(self, fact: str, said: str) -> Turn:
        if self._puts_right(fact, said):
            return self._next([])
        if not (said := self._set_apart([fact], said)):
            return self._next([])
        definition = self._definition(fact)
        heard = self._read(definition, said, fact == self._opening.name)
        if self._together and heard.fact is not None and not heard.doubt and speaks_of_else(definition, said):
            heard = replace(heard, doubt=sounds_like(definition, heard.fact.value))
        if heard.again:
            self._offers.now = self._also_said(heard, fact)
            several = self._offers.wait_by_unit(self.knowledge.vocabulary, heard, self._settled(fact))
            again = () if self._unasked_for.now else views.asked_again(heard, definition)
            return self._stay([*again, *waiting(several)])
        if heard.doubt in self._doubts and definition.kind != "number":
            return self._plainly(fact)
        if heard.doubt and not (definition.kind == "number" and said == self._denied):
            self._doubted = heard
            return self._next(self._doubt())
        if self._again == fact and (along := self._told_along(heard)):
            self._again, self._offers.now = "", [heard, *along]
            return self._next([])
        return self._keep(heard)

    def _take_apart(self, names: Sequence[str], said: str) -> Turn:
        """Keep what an answer to several questions plainly says to each; what it leaves open is asked singly."""
        if self._puts_right(names[0], said):
            return self._next([])
        if not (said := self._set_apart(names, said)):
            return self._next([])
        definitions = [self._definition(name) for name in names]
        found = beside.without_others(self.knowledge.vocabulary, apart(definitions, said))
        self._in_breath.update(names)
        if not found.heard:
            vocabulary = self.knowledge.vocabulary
            for own in definitions:
                if same_as(vocabulary, own, said, self._answers) is not None:
                    return self._take(own.name, said)
            able = [name for name in names if not understand(self._definition(name), said).again]
            return self._take(able[0] if able and not units.is_unsure(said) else str(self._asked), said)
        read = [self._in_his_units(one) for one in found.heard]
        if len(clear := [one for one in read if not one.doubt]) < len(read):
            self._doubted = next(one for one in read if one.doubt)
            if not clear:
                return self._next(self._doubt())
        known = self._settled(*(one.answer.fact for one in found.heard))
        self._offers.now = beside.also_said(self.knowledge.vocabulary, said, known, self._may_grow())
        turn = self._keep(*clear, left=() if self._offers.now else found.left)
        return replace(turn, show=(*turn.show, *self._doubt()))

    def _keep_on(self, said: str, heard: Understood, *more: Understood) -> Turn:
        """Keep what a yes confirms; what is said behind the yes is offered, or waits for its question."""
        several = self._behind_yes(after_yes(said), self._asked or "", heard, *more) if after_yes(said) else []
        turn = self._keep(self._grown(heard, after_yes(said)), *more)
        return replace(turn, show=(*waiting(several), *turn.show))

    def _silent(self) -> Turn:
        """Enter alone is nobody's answer, wherever it is typed: nothing is taken, dropped or closed by it, and what is
        asked again stays as it was answered."""
        if self._doubted is not None or self._offers.now or self._odds is not None:
            doubt = [] if self._offers.ahead else self._doubt()
            return self._next([Para(f"{NOTHING_SAID}yes takes it, no drops it.", "warn"), *doubt])
        if self._again:
            self._again = ""
            return self._next([])
        if self._asked is not None and not self._reading_back:
            return self._stay([Para(f"{NOTHING_SAID}skip leaves the question out.", "warn")])
        ends = "no closes the call" if self.told else "yes concludes"
        return self._stay([Para(f"{NOTHING_SAID}{ends}, change FACT corrects an answer.", "warn")])

    def _after_doubt(self, doubted: Understood, said: str) -> Turn:
        fact = doubted.answer.fact
        if either := self._either_kind(doubted, said):
            self._doubted = replace(doubted, doubt=either)
            return self._next([Para(either, "warn")])
        if picked := self._picked(doubted, said):
            self._doubted = None
            return self._take(fact, picked)
        if self._told_of_another(doubted, said):
            self._doubted = doubted if self._offers.ahead or not self._again else None
            return self._next([])
        settled = settle(doubted, said, self._definition(fact), reasons.askable(self.knowledge))
        if self._put_too_often(settled.ask, doubted):
            return self._plainly(fact)
        if settled.ask:
            self._doubted = replace(doubted, doubt=settled.doubt or doubted.doubt)
            return self._next([Para(settled.ask, "warn")])
        self._doubted = None
        if settled.keep:
            return self._keep_on(said, doubted)
        self._offers.now = self._also_said(doubted, fact) if settled.fact in ("", fact) else []
        if settled.words:
            self._again, self._doubts = settled.fact, self._doubts | {doubted.doubt}
            return self._take(settled.fact, settled.words)
        self._denied = doubted.answer.words
        return self._next([Para(settled.again, "warn")])

    def _after_offer(self, said: str) -> Turn:
        """Yes takes what is offered and no drops it; of a list the rest is taken without what is named or put right.
        Anything else passes over it all and answers the open question. What is said beside a no puts the offer right,
        or is such an answer."""
        offered = self._offers.listed
        facts, definition = [one.answer.fact for one in offered], self._definition(offered[0].answer.fact)
        if back := asked_back.reply(definition, said):
            return self._next([Para(back, "warn")])
        if len(offered) > 1 and (turn := self._after_list(offered, said)) is not None:
            return turn
        if units.is_unsure(said):
            return self._unsure_of(facts, said)
        told = answer_to(said, definition)
        if not told.yes and self._asked and self._puts_right(self._asked, said):  # "I don't tow" denies no cylinders
            self._offers.put_off(offered)
            self._offers.ahead = False
            return self._next([])
        where: Where = "beside" if self._asked else "read back"
        if not told.yes and self._rights_another(definition, told.beside or said, told.yes is False, where):
            return self._next([])
        asked = self._definition(self._asked or definition.name)
        if told.yes is None and (left := self._beside_offers(asked, definition, said)) is not None:
            return self._next(left)
        if told.yes:
            self._offers.take(facts)
            if offered[0].doubt:  # in which unit
                self._doubted = offered[0]
                return self._next(self._doubt())
            return self._keep_on(said, *offered)
        if told.yes is not None:
            self._offers.turn_down(facts, told.beside)
            if not told.beside:
                return self._next([])
            several = len(offered) > 1
            own = asked if several else definition
            if several or own.kind == "text":
                left = self._beside_offers(own, definition, told.beside)
                if left is not None:
                    return self._next(left)
            right = None if several else self._put_right(definition, told.beside)
            if right is not None and right.fact is not None and not right.doubt:
                more = beside.also_said(self.knowledge.vocabulary, told.beside, self._settled(definition.name))
                self._offers.put_first(more)
                return self._keep(right)
            if right is not None and suggestions(right.doubt):  # "no, it's rated for twelve"
                self._doubted = right
                return self._next(self._doubt())
        self._offers.pass_over()
        self._reading_back = self._asked is None and not self.told
        return self._hear(told.beside or said)

    def _unsure_of(self, facts: Sequence[str], said: str) -> Turn:
        """What is on offer waits for its question, where he doesn't know; at that question it is his answer."""
        self._offers.pass_over()
        own = self._asked in facts and not self._reading_back
        return self._hear(said) if own else self._next([Para(f"Not taken now: {', '.join(facts)}.", "echo")])

    def _after_list(self, offered: Sequence[Understood], said: str) -> Turn | None:
        """What words do with several facts that were read back; None where they name or put right none of them, or deny
        it all."""
        told = listed.reply(self.knowledge.vocabulary, offered, said)
        if told is None or told == listed.Listed():
            return None
        if told.which:
            return self._next([views.which_of(offered, told.which)])
        right = [self._in_his_units(one) for one in told.right]
        read = {one.answer.fact: replace(one, read_back="") for one in told.stands}
        read |= {one.answer.fact: one for one in right if not one.doubt}
        kept = [read[one.answer.fact] for one in offered if one.answer.fact in read]
        if doubt := next((one for one in right if one.doubt), None):
            self._doubted = doubt
        self._offers.take([one.answer.fact for one in (*told.stands, *right)])
        self._offers.turn_down(told.wrong, said)
        self._offers.add([one for one in told.beside if one.answer.fact not in self._settled(*read)])
        self._offers.then += told.wrong
        if len(told.stands) == len(offered):
            return self._keep_on(said, *kept)
        turn = self._keep(*kept) if kept else self._next([])
        return replace(turn, show=(*turn.show, *self._doubt())) if doubt else turn

    def _after_odds(self, odds: Odds, said: str) -> Turn:
        settled = reply(odds, said, self.consultation.understood, self.knowledge.vocabulary)
        if settled.heard is not None:
            return self._keep(settled.heard)
        self._again = settled.again
        if not settled.stands:
            return self._next([Para(settled.unclear, "warn")] if settled.unclear else [])
        self._at_odds.left.add(odds.ask)
        return self._next([Para("Left as it was told.", "echo")], [{"stands": odds.ask}])

    def _after_read_back(self, said: str) -> Turn:
        yes = agrees(said)
        words = after_yes(said) if yes else said
        if words and (right := self._corrects(words)) is not None:  # "no, the trailer is 12,000 lb"
            self._reading_back = False
            return self._next(right)
        if not yes:
            which = self._not_understood(said) if yes is None else [Para("Say what to correct: change FACT.", "warn")]
            return Turn(tuple(which), self._prompt("is that right?"))
        self._reading_back, self.told = False, True
        return self._next(aloud(self._conclude(self.answers), self.knowledge, self._said))

    # what is commanded --------------------------------------------------------------------------------------

    def _command(self, command: Command) -> Turn:
        if missing := commands.lacking(command):
            return self._stay([Para(missing, "warn")])
        self._watched.seen |= command.word in kept.SHOW_THE_BEST
        match command.word:
            case "help":
                return self._stay(views.helping())
            case "why":
                asked = [] if self._asked is None or self._reading_back else self._asked_now(self._asked)
                known = self._conclude(self.answers) if self._again in self._answers else self.consultation
                return self._stay(views.why(asked, known, self.knowledge))
            case "how" | "why not" | "what if" | "instead" | "holds" | "map":
                full = self._conclude(self.answers) if command.word in reasons.IN_FULL else self.consultation
                return self._stay(reasons.asked(command, self.answers, full, self._shops, self._consult))
            case "summary":
                full = self._conclude(self.answers)
                return self._stay(views.summary(full, self.knowledge, self._skipped, self.notes))
            case "in full":
                return self._stay(views.in_full(command.argument, self._conclude(self.answers), self.knowledge))
            case "back":
                return self._back()
            case "change":
                return self._change(command.argument)
            case "skip":
                return self._skip()
            case "enough":
                vital = self._vital()
                passed = vital if self.enough else ()
                self._skipped += passed
                if not self.enough:  # what waits is settled before the end
                    self._set_aside()
                self._offers.pass_over()
                self._doubted, self._again, self.enough = None, "", True
                entries: list[Entry] = [{"enough": True}, *({"skip": fact} for fact in passed)]
                return self._next(() if passed else views.lacks(vital), entries)
            case "more":
                self._more, self._reading_back = True, False
                return self._next([])
            case "note":
                self.notes.append(command.argument)
                return self._stay([Para(f"Noted: {command.argument}", "echo")], [{"note": command.argument}])
            case "rules again":
                return self._rules_again()
            case "save" | "sheet":
                return self._file(command.argument, files.KINDS[command.word])
            case _:
                return self._closed() if self.told else Turn(entries=())

    def _back(self) -> Turn:
        given = [fact for fact in self._answers if not self._definition(fact).volunteered]
        self._set_aside()
        at = given.index(self._again) if self._again in self._answers else len(given)
        if at == 0:
            return self._stay([Para("This is the first answer.", "warn")])
        self._again, self._reading_back = given[at - 1], False
        return self._next([])

    def _change(self, argument: str) -> Turn:
        askable = reasons.askable(self.knowledge)
        name, words = commands.parted(argument, askable)
        fact = reasons.one_of(name, askable, list(self._answers))
        if isinstance(fact, Para):  # "change the goal to 650"
            return self._next([]) if self._put_forward(argument) else self._stay([fact])
        if words and "=" not in argument:
            words = words.removeprefix("to ")
            if self._put_forward(f"{fact} {words}", fact):  # "change power goal 480 at the crank"
                return self._next([])
        self._set_aside(fact)
        self._reading_back, self._again = False, fact
        if words.strip():
            return self._take(fact, words.strip())
        self._offers.come_back([fact], self._answers.keys() - {fact})
        return self._next([])

    def _set_aside(self, anew: str = "") -> None:
        """What is doubted or on offer waits for its question, but for what is told ``anew``."""
        doubted, self._doubted = self._doubted, None
        self._offers.take([anew])
        self._offers.set_aside([doubted] if doubted is not None and doubted.answer.fact != anew else [])

    def _skip(self) -> Turn:
        if self._doubted is not None or self._offers.now:
            self._doubted = self._doubted if self._offers.ahead else None
            self._offers.pass_over()
            return self._next(self._doubt())
        if (odds := self._odds) is not None:
            return self._after_odds(odds, "both")
        if (fact := self._asked) is None or self._reading_back:
            return self._stay([Para("There is no question to leave.", "warn")])
        if self._again:
            return self._withdraw()
        gone = self._together or (fact,)
        self._skipped += gone
        words = Para(f"Left out: {', '.join(gone)}; change {fact} brings it back.", "echo")
        return self._next([words], [{"skip": name} for name in gone])

    def _withdraw(self) -> Turn:
        """Take back the answer that is asked again, if there is one."""
        fact, before, self._again = self._again, self.consultation, ""
        if fact not in self._answers:
            return self._next([])
        del self._answers[fact]
        self._skipped.append(fact)
        self._latest = self._consult(self.answers)
        words = Para(f"Taken back: {fact}; change {fact} brings it back.", "echo")
        return self._next([words, *views.changes(before, self.consultation)], [{"skip": fact}])

    def _rules_again(self) -> Turn:
        """Go on with edited knowledge, or with the old where it can't be used."""
        fresh = self._reread(self.answers, self._shops) if self._reread else ("There are no rules to read again.",)
        if not isinstance(fresh, Fresh):
            blocks = [Para(line, "warn", 2) for line in fresh]
            return self._stay([*blocks, Para("The call goes on with the rules it had.", "warn")])
        return self._next([*heading("The rules as they are now"), *self._take_up(fresh)])

    def _file(self, name: str, kind: Callable[[str, files.Told], files.File | Para]) -> Turn:
        made = kind(name or self.name, files.Told(self.name, self.answers, self._shops, self._conclude, self.notes))
        return self._stay([made]) if isinstance(made, Para) else self._stay([], files=[made])
