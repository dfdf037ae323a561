"""Generated callers who know everything about themselves, and walks through a call that wander."""

import random
from collections.abc import Mapping, Sequence

from advisor import units
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

REQUESTS = ("a 64", "a 72", "64/71 .90 divided T4", "80 mil", "66 with a gate")
AFTER_ADVICE = ("request answer", "insists reason", "objection")
ADVICE = ("verdict", "recommended", "alternatives", "kept", "ruled_out", "cautions", "parts", "firings", "facts")
REFERENCE = agenda("reference")
HALF_INCH = 0.0127


def hidden(seed: int, knowledge: Knowledge) -> dict[str, str]:
    """All that one caller knows: fact -> his words, drawn from the priors."""
    chance = random.Random(seed)
    known = {}
    for definition in knowledge.vocabulary.values():
        if definition.source != "asked" or definition.name in AFTER_ADVICE:
            continue
        if definition.kind == "number":
            spread = definition.prior or definition.plausible
            value = chance.uniform(spread.low, spread.high)
            if definition.quantity == "length":  # pipes, tyres and class limits come in whole and half inches
                value = round(value / HALF_INCH) * HALF_INCH
            known[definition.name] = units.show(value, definition.unit, definition.quantity, digits=3)
        elif definition.kind == "choice":
            known[definition.name] = chance.choices(
                definition.choice_names, [choice.weight for choice in definition.choices]
            )[0]
        elif definition.kind == "several":
            picked = [choice.name for choice in definition.choices if chance.random() < choice.weight]
            known[definition.name] = " and ".join(picked or [definition.choice_names[0]])
        elif definition.kind == "yes/no":
            known[definition.name] = chance.choice(["yes", "no"])
        else:
            known[definition.name] = chance.choice(REQUESTS) if definition.name == "request" else "nothing more"
    return known


class Wanderer:
    """A call that wanders: answers, changes of mind, steps back, questions left out, windows closed and reopened.

    Every entry goes to a record, as to the journal; ``resume`` goes on from that record alone.
    """

    def __init__(self, seed: int, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.chance = random.Random(seed)
        self.known = hidden(seed, knowledge)
        self.record = Record()
        self.call = self._opened()

    def _opened(self) -> Call:
        def consulted(answers: Sequence[Answer]) -> Consultation:
            return consult(answers, self.knowledge, REFERENCE, bands=False)

        call = Call(consulted, self.knowledge, self.record)
        call.open()
        return call

    def hear(self, line: str) -> None:
        turn = self.call.hear(line)
        for entry in turn.entries:
            self.record.take(entry)

    def words(self, fact: str) -> str:
        """What he says to one question: exactly, roughly, not at all, or as something out of range."""
        exact = self.known.get(fact, "none")
        definition = self.knowledge.vocabulary[fact]
        if self.chance.random() < 0.12:
            return "not sure"
        if definition.kind == "number" and self.chance.random() < 0.3:
            return f"about {exact}"
        return exact

    def answer(self) -> None:
        fact = self.call._asked
        self.hear("yes" if fact is None or self.call._doubted or self.call._offers else self.words(fact))

    def change(self) -> None:
        if self.call.answers:
            fact = self.chance.choice(self.call.answers).fact
            other = hidden(self.chance.randrange(10_000), self.knowledge).get(fact, "none")
            self.hear(f"change {fact} = {other}")
            if self.call._doubted:
                self.hear("no")

    def back(self) -> None:
        self.hear("back")

    def skip(self) -> None:
        self.hear("skip")

    def resume(self) -> None:
        self.call = self._opened()

    def wander(self, steps: int) -> None:
        """Many steps, most of them answers."""
        for _ in range(steps):
            self.chance.choices((self.answer, self.change, self.back, self.skip, self.resume), (14, 3, 2, 1, 1))[0]()


def check(walk: Wanderer) -> None:
    """What must hold wherever a walk has got to."""
    knowledge, answers = walk.knowledge, list(walk.call.answers)
    now = walk.call.consultation
    assert {answer.fact: answer.words for answer in answers} == dict(walk.record.answers)
    same_advice(now, consult(answers, knowledge, REFERENCE, bands=False))
    walk.chance.shuffle(answers)
    same_advice(now, consult(answers, knowledge, REFERENCE, bands=False))
    within_limits(now)
    text = as_script("walk", walk.call.answers, now, knowledge)
    script, faults = parse_script(text.encode(), knowledge, "walk.yaml")
    assert script is not None, faults
    assert not list(differences(script, infer(script.answers, knowledge, REFERENCE), knowledge))


def same_advice(one: Consultation, other: Consultation) -> None:
    """The same conclusions from the same answers; the next question too, but for the topic it stays at."""
    for name in ADVICE:
        mine, theirs = getattr(one, name), getattr(other, name)
        assert (dict(mine) == dict(theirs)) if isinstance(mine, Mapping) else (mine == theirs), name
    assert {question.fact for question in one.questions} == {question.fact for question in other.questions}


def within_limits(outcome: Consultation) -> None:
    """Nothing is advised that overspeeds, runs in surge where a duty needs its power, or can't be bolted on."""
    for option in (outcome.recommended, *outcome.alternatives):
        if option is not None:
            facts = outcome.facts_of(option.code)
            assert facts.value("tip speed margin").low >= 0.0
            assert facts.value("foot fit") != "none"
            assert facts.value("solved") is not False
            assert not option.ruled_out_by


def walked(seed: int, knowledge: Knowledge, steps: int) -> int:
    """One walk with its checks; the number of answers at its end."""
    walk = Wanderer(seed, knowledge)
    walk.wander(steps)
    check(walk)
    return len(walk.call.answers)
