"""Walks through a call that wander, by generated callers, and what must hold wherever they get to."""

import random
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import fields

from invented import hidden

from advisor.consultation import consult
from advisor.course import infer
from advisor.dialogue.call import Call
from advisor.dialogue.script import as_script
from advisor.inference.engines import agenda
from advisor.journal import Record
from advisor.knowledge import Knowledge
from advisor.outcome import Answer, Consultation
from advisor.replay import differences
from advisor.scripted import parse_script

AFTER_ADVICE = ("request answer", "insists reason", "objection")
JOB = ("call kind", "duties", "displacement", "power goal")
REFERENCE = agenda("reference")
# What a yes or no settles, by the label of its prompt.
SETTLED = {
    "yes, no, or the right one> ": "doubt",
    "yes, no (it stands), or the right one> ": "doubt",
    "yes or no> ": "offer",
    "yes, no, or the answer> ": "offer",
    "the right one, or both> ": "odds",
    "is that right?> ": "read-back",
    "anything else?> ": "end",
}


class Wanderer:
    """A call that wanders: answers, changes of mind, steps back, questions left out, windows closed and reopened.
    Every other one goes on from a call broken off once the job was known, so that it soon has something to advise.

    Every entry goes to a record, as to the journal; ``resume`` goes on from that record alone. ``seen`` counts what
    really came about, not what was tried.
    """

    def __init__(self, seed: int, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.chance = random.Random(seed)
        self.known = hidden(seed, knowledge)
        self.record = Record(answers={fact: self.known[fact] for fact in JOB} if seed % 2 else {})
        self.seen: Counter[str] = Counter()
        self.open()

    def open(self) -> None:
        """The call of the record, in a new window."""

        def consulted(answers: Sequence[Answer]) -> Consultation:
            return consult(answers, self.knowledge, REFERENCE, bands=False)

        self.call = Call(consulted, self.knowledge, self.record)
        self.turn = self.call.open()

    def hear(self, line: str) -> None:
        self.turn = self.call.hear(line)
        for entry in self.turn.entries:
            self.record.take(entry)

    @property
    def asked(self) -> tuple[str, ...]:
        """The facts asked now; none while a doubt, an offer or the read-back is settled."""
        return self.turn.prompt.asked if self.turn.prompt else ()

    @property
    def settles(self) -> str:
        """What a yes or no would settle now."""
        label = self.turn.prompt.label if self.turn.prompt else ""
        return SETTLED.get(label.rpartition(": ")[2], "")  # at several questions it says which of them is doubted

    def words(self, fact: str) -> str:
        """What he says to one question: exactly, roughly, not at all, or a figure with a nought too many or few."""
        exact = self.known[fact]
        if self.chance.random() < 0.1:
            return "not sure"
        if self.knowledge.vocabulary[fact].kind == "number" and exact[0].isdigit():
            slip = self.chance.random()
            if slip < 0.2:
                return re.sub(r"^[\d,.]+", lambda found: f"{float(found[0].replace(',', '')) * 10:.10g}", exact)
            if slip < 0.45:
                return f"about {exact}"
        return exact

    def answer(self) -> None:
        before = len(self.call.answers)
        if asked := self.asked:
            self.hear(", ".join(self.words(fact) for fact in asked))
            self.seen["doubt"] += self.settles == "doubt"
            kept = not self.record.answers.keys().isdisjoint(asked)
            shown = " ".join(text for _, text in self.turn.lines(2_000))
            past_belief = self.asked == asked and "can't be right" in shown  # a nought too many, asked again
            assert kept or past_belief or self.settles in ("doubt", "offer") or len(self.asked) == 1 < len(asked)
        elif self.turn.prompt is not None:
            self.seen[self.settles] += 1
            self.hear(self.chance.choice(["yes", "yes", "no"]) if self.settles in ("doubt", "offer") else "yes")
        self.seen["answer"] += max(0, len(self.call.answers) - before)
        self.seen["breath"] += len(self.call.answers) > before + 1

    def change(self) -> None:
        before = self.call.answers
        if before:
            fact = self.chance.choice(before).fact
            other = hidden(self.chance.randrange(10_000), self.knowledge)[fact]
            self.hear(f"change {fact} = {other}")
            self.seen["change"] += self.call.answers != before

    def back(self) -> None:
        asked = self.asked
        self.hear("back")
        self.seen["back"] += self.asked != asked and self.asked[0] in self.record.answers

    def skip(self) -> None:
        before = list(self.record.skipped)
        self.hear("skip")
        self.seen["skip"] += list(self.record.skipped) != before

    def ask(self) -> None:
        """Look at something: that must change nothing."""
        before = self.call.answers, self.call.consultation, self.asked
        line = self.chance.choice(
            ["why", "summary", "how advice", f"what if altitude = {self.chance.randrange(1, 9)},000 ft"]
        )
        self.hear(line)
        assert (self.call.answers, self.call.consultation, self.asked) == before, line
        self.seen["look"] += 1

    def resume(self) -> None:
        before = self.call.answers
        self.open()
        assert self.call.answers == before
        self.seen["resume"] += bool(before)

    def wander(self, steps: int) -> None:
        """Many steps, most of them answers."""
        ways = (self.answer, self.change, self.back, self.skip, self.ask, self.resume)
        for _ in range(steps):
            self.chance.choices(ways, (14, 3, 2, 1, 1, 1))[0]()


def check(walk: Wanderer) -> None:
    """What must hold wherever a walk has got to."""
    knowledge, answers = walk.knowledge, list(walk.call.answers)
    now = walk.call.consultation
    assert {answer.fact: answer.words for answer in answers} == dict(walk.record.answers)
    shuffled = walk.chance.sample(answers, len(answers))
    last_kept = [answer for answer in shuffled if answer != answers[-1]] + answers[-1:]
    for again in (answers, shuffled, last_kept):
        same_advice(now, consult(again, knowledge, REFERENCE, bands=False))
    within_limits(now)
    text = as_script("walk", walk.call.answers, now, knowledge)
    script, faults = parse_script(text.encode(), knowledge, "walk.yaml")
    assert script is not None, faults
    assert not list(differences(script, infer(script.answers, knowledge, REFERENCE), knowledge))


def same_advice(one: Consultation, other: Consultation) -> None:
    """The same conclusions from the same answers; the same open questions too, in the same order where the last answer
    is the same, since a call stays at its topic."""
    for name in (field.name for field in fields(Consultation)):
        mine, theirs = getattr(one, name), getattr(other, name)
        if name not in ("understood", "candidate_facts", "questions"):
            assert (dict(mine) == dict(theirs)) if isinstance(mine, Mapping) else (mine == theirs), name
    mine, theirs = one.questions, other.questions
    if one.understood[-1:] != other.understood[-1:]:
        mine, theirs = (sorted(found, key=lambda question: question.fact) for found in (mine, theirs))
    assert mine == theirs


def within_limits(outcome: Consultation) -> None:
    """Nothing is advised that overspeeds, runs in surge where a duty needs its power, or can't be bolted on."""
    for option in (outcome.recommended, *outcome.alternatives):
        if option is not None:
            facts = outcome.facts_of(option.code)
            assert facts.value("tip speed margin").low >= 0.0
            assert facts.value("foot fit") != "none"
            assert facts.value("solved") is not False
            assert not option.ruled_out_by


def walked(seed: int, knowledge: Knowledge, steps: int) -> Counter[str]:
    """One walk with its checks; what came about in it, with the answers kept and whether a turbo was advised."""
    walk = Wanderer(seed, knowledge)
    walk.wander(steps)
    check(walk)
    advised = walk.call.consultation.recommended is not None
    return walk.seen + Counter({"kept": len(walk.call.answers), "advised": int(advised)})
