"""What an answer that was kept brings up: what was understood, words to say at once, and what it moved."""

from collections.abc import Collection, Iterator, Mapping, Sequence

from advisor.dialogue import views
from advisor.dialogue.reasons import weighing
from advisor.hearing import asked_back
from advisor.hearing.volunteered import volunteered, without_questions, wondered
from advisor.his_questions import OF_HIS
from advisor.his_units import his_units, switched
from advisor.journal import Entry, entries_of
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import Assume
from advisor.outcome import CLOSING, Answer, Consultation, Line, Understood, Wondered
from advisor.sheet import cautions
from advisor.sheet.layout import Block, Para
from advisor.sheet.parts import altogether
from advisor.sheet.trace import row_of

STEADY = 3
"""Answers after which somebody has got used to the turbo that comes first (own judgement)."""
LEAST_POINTS = 1.0
MOST_REMARKS = 2
SHOW_THE_BEST = ("summary", "how", "map", "what if", "holds", "in full", "sheet")
"""Commands after which somebody has looked at the advice as it stands."""


class Unasked:
    """What the caller says that nobody asked for, with his own questions in it, until an answer takes it along."""

    def __init__(self) -> None:
        self.now: list[tuple[Understood, tuple[str, ...]]] = []
        self._once_advised: tuple[str, ...] = ()

    @property
    def once_advised(self) -> bool:
        """Whether what waits is asked of the advice."""
        return bool(self._once_advised)

    def ask(self, questions: Sequence[str], knowledge: Knowledge, answers: Mapping[str, str]) -> bool:
        """Take questions that he asks once he has heard the advice, new ones and those asked before; False where there
        are none, or nothing keeps them."""
        about = next((one for one in knowledge.vocabulary.values() if one.volunteered == "questions"), None)
        if about is None or not questions:
            return False
        marked = [f"{question.rstrip('?. ')}?" for question in questions]
        before = answers.get(about.name, "")
        words = " ".join([before, *(one for one in marked if one not in before)]).strip()
        self.now, self._once_advised = [(wondered(about, Answer(about.name, words)), tuple(marked))], tuple(marked)
        return True

    def hear(self, said: str, asked: FactDef | None, knowledge: Knowledge, answers: Mapping[str, str]) -> str:
        """The words without his own questions. What a closing question may be answered with is no question of his."""
        plainly = asked is None or not (asked.name in CLOSING or asked.volunteered)
        whole = asked is None or asked.kind != "text"
        self.now = list(volunteered(knowledge.vocabulary, said, answers, whole)) if plainly else []
        asked_of_us = [question for _, questions in self.now for question in questions]
        return asked_back.without_conversions(without_questions(said, asked_of_us))

    def entries(self) -> list[Entry]:
        """What goes to the journal."""
        return entries_of([heard.answer for heard, _ in self.now])

    def shown(self, asked: Sequence[Wondered]) -> Iterator[Block]:
        """That it is kept, and which question is answered later. Nothing is left after that."""
        at_once = {one.question for one in asked if any(line.stage == "understand" for line in one.answers)}
        for heard, questions in self.now:
            if not questions:
                yield Para(heard.echo, "echo", 0, "= ")
            for question in questions:
                later = "" if question in at_once else " Kept; say that you'll come to it."
                yield Para(f"“{question}”{later}", "echo", 0, "= he asks: ")
        self.now = []

    def answered(self, after: Consultation) -> Iterator[Block]:
        """His questions once there is advice, each with what the rules say to it, or that it is kept."""
        told = {one.question: one.told for one in after.asked}
        for question in self._once_advised:
            lines = told.get(question, ())
            later = "" if lines else " Kept: answer him before you close."
            yield Para(f"“{question}”{later}", "echo", 0, "= he asks: ")
            for line in lines:
                yield Para(line.text, "say", 0, "Say: ")
            ruled = any(line.rule != OF_HIS for line in lines)
            if ruled and asked_back.costs(question):
                yield from altogether(after)
        self.now, self._once_advised = [], ()


class Watched:
    """Whether anybody counts on the turbo that comes first: it was looked at, told, or has stayed for some answers."""

    def __init__(self) -> None:
        self.seen = False
        self._code, self._answers = "", 0

    def take(self, now: Consultation) -> None:
        """One more answer."""
        code = now.recommended.code if now.recommended else ""
        self._answers = self._answers + 1 if code and code == self._code else 0
        self._code = code

    @property
    def counted_on(self) -> bool:
        """Whether a change of it has to be told."""
        return bool(self._code) and (self.seen or self._answers >= STEADY)


def moved(before: Consultation, after: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """That another turbo comes first now, and why, in a line."""
    was, now = before.recommended, after.recommended
    if was is None or (now is not None and now.code == was.code):
        return
    why = _why(was.code, before, after, knowledge)
    short = "" if now is None else now.title.partition(",")[0]
    words = after.verdict_words if now is None else f"{now.code} ({short}), before it was {was.code}."
    yield Para(f"{words} {why}".strip(), "option", 2, "Best so far is now: ")


def _why(code: str, before: Consultation, after: Consultation, knowledge: Knowledge) -> str:
    """What put a turbo out, or the rule that took most from it beside the one that comes first now."""
    for out in after.ruled_out:
        if out.code == code:
            return out.words[0] if out.words else f"Ruled out by {out.by[0]}."
    if after.recommended is None:
        return ""
    behind = _behind(code, after.recommended.code, after, knowledge)
    earlier = _behind(code, after.recommended.code, before, knowledge)
    grown = {rule: points - earlier.get(rule, 0.0) for rule, points in behind.items()}
    most = max(grown, key=lambda rule: grown[rule], default="")
    if not most or grown[most] < LEAST_POINTS:
        return "It serves what he asks for better now; why not tells more."
    return f"{knowledge.rule(most).because} [{most}]"


def _behind(code: str, best: str, consultation: Consultation, knowledge: Knowledge) -> dict[str, float]:
    """By rule, how many points more it takes from one candidate than from another."""
    row, first = row_of(consultation, code), row_of(consultation, best)
    if row is None or first is None:
        return {}
    return {rule.name: float(taken[row] - taken[first]) for rule, taken in weighing(consultation, knowledge)}


def brought(
    heard: Understood | None,
    unasked: Unasked,
    before: Consultation,
    after: Consultation,
    knowledge: Knowledge,
    said: set[str],
) -> list[Block]:
    """What an answer brings up, and what was said unasked; the rules whose words are told join those ``said``."""
    late = heard is not None and heard.answer.fact in CLOSING
    said -= {one.rule for one in before.cautions if one.at_once} - {one.rule for one in after.cautions}
    blocks = told_at_once(after, said)
    if heard is not None and heard.answer.fact == "request" and not heard.not_sure:
        blocks += views.decoded(after)
    if unasked.once_advised:
        said |= {line.rule for one in after.asked for line in one.answers}
        return [*blocks, *unasked.answered(after)]
    blocks += unasked.shown(after.asked)
    if told := switched(*(his_units(one.understood, knowledge.vocabulary) for one in (before, after))):
        blocks.append(Para(told, "option", 2))
    blocks += views.unknown(after)
    new = remarks(before, after, knowledge, said, late)
    said.update(line.rule for line in new)
    blocks += [Para(line.text, "say", 0, "Say: ") for line in new]
    return [*blocks, *views.new_cautions(before, after)] if late else blocks


def told_at_once(now: Consultation, said: set[str]) -> list[Block]:
    """What stops or endangers him while he is on the line, once; its rules join those ``said``. What rests on
    something that is just being asked waits for the answer."""
    later = {*said, *waiting(now)}
    said.update(one.rule for one in now.cautions if one.at_once and one.rule not in later)
    return list(cautions.at_once(now, later))


def remarks(
    before: Consultation, after: Consultation, knowledge: Knowledge, said: Collection[str], late: bool
) -> list[Line]:
    """What to say at once to an answer: the words of the first rules that it made fire. What comes with the advice
    waits for it, unless it was told already (``late``), and so does what rests on something that was only assumed."""
    fired = {firing.rule for firing in before.firings} - waiting(before)
    stages = ("understand", "demand", "judge", "advise") if late else ("understand", "demand")
    assuming = {rule.name for rule in knowledge.rules if any(isinstance(act, Assume) for act in rule.then)}
    with_advice = {caution.rule for caution in after.cautions} | {line.rule for line in after.advice}
    with_it = set() if late else with_advice | _on_an_assumption(after)
    done = {*fired, *assuming, *with_it, *said, *waiting(after), *_no_news(before, after)}
    new = [line for line in after.say if line.rule not in done and line.stage in stages]
    return new if late else new[:MOST_REMARKS]


def _no_news(before: Consultation, after: Consultation) -> set[str]:
    """The rules that fired before as they do now, since something isn't known that is still to be asked."""
    earlier = {firing.rule for firing in before.firings}
    asked = {question.fact for question in after.questions}
    return {firing.rule for firing in after.firings if firing.rule in earlier and asked.intersection(firing.unknown)}


def waiting(consultation: Consultation) -> set[str]:
    """The rules that fire because something isn't known which is asked just now: they wait for the answer."""
    asked = {name for question in consultation.questions[:1] for name in (question.fact, *question.together)}
    return {firing.rule for firing in consultation.firings if asked.intersection(firing.unknown)}


def _on_an_assumption(consultation: Consultation) -> set[str]:
    """The rules that fire on something that nobody told: the caller may yet say otherwise."""
    fired = consultation.firings
    return {firing.rule for firing in fired if any(fact.origin.kind == "assumed" for fact in firing.facts)}
