"""For a mutant that no script notices: the answers of a call that would, and what it must conclude.

Tried are the recorded calls themselves, then the same with one answer changed that the rule hangs on.
"""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.conclusion import Line, conclusion
from advisor.course import infer
from advisor.desk.calls import RecordedCall, with_answer
from advisor.desk.mutants import Mutant, touches
from advisor.desk.reach import asked_behind, trial_values, words_for
from advisor.desk.variants import rerun, varied
from advisor.inference.agenda import Agenda
from advisor.knowledge import Knowledge
from advisor.outcome import Answer

STEPS = 4


@dataclass(frozen=True, slots=True)
class Offer:
    """Answers and an expectation that a mutant would fail; ``changed`` is the answer that differs from the call's."""

    mutant: Mutant
    call: RecordedCall
    answers: tuple[Answer, ...]
    changed: Answer | None
    expectation: str
    wanted: bool

    @property
    def title(self) -> str:
        """What a script with these answers may be called."""
        return self.call.name if self.changed is None else f"{self.call.name}, {self.changed.fact} {self.changed.words}"


def offer(
    mutant: Mutant, calls: Sequence[RecordedCall], knowledge: Knowledge, fires: Agenda, tries: int
) -> Offer | None:
    """The first situation found that tells the mutant from its rule; None when none of ``tries`` does."""
    for count, (call, changed) in enumerate(_situations(mutant, calls, knowledge)):
        if count >= tries:
            return None
        answers = call.under(knowledge)
        if changed is not None:
            answers = with_answer(answers, changed.fact, changed.words)
        course = infer(answers, knowledge, fires)
        if not touches(mutant, course):
            continue
        variant = varied(knowledge, mutant.rule, mutant.variant)
        other = conclusion(rerun(answers, variant, mutant.rule, course, fires), variant)
        found = _telling(conclusion(course, knowledge), other)
        if found is not None:
            return Offer(mutant, call, answers, changed, *found)
    return None


def _situations(
    mutant: Mutant, calls: Sequence[RecordedCall], knowledge: Knowledge
) -> Iterator[tuple[RecordedCall, Answer | None]]:
    for call in calls:
        yield call, None
    for name in asked_behind(knowledge, [mutant.rule]):
        definition = knowledge.vocabulary[name]
        words = list(definition.choice_names)
        if definition.kind == "yes/no":
            words = ["yes", "no"]
        elif definition.kind == "number":
            values = trial_values(definition, [mutant.rule, mutant.variant], STEPS)
            words = [words_for(definition, value, 4) for value in values]
        for said in words:
            for call in calls:
                yield call, Answer(name, said)


def _telling(right: Sequence[Line], wrong: Sequence[Line]) -> tuple[str, bool] | None:
    """A line that only one of the conclusions holds, as expectation: in the shortest form that tells them apart."""
    for lines, others, wanted in ((right, wrong, True), (wrong, right, False)):
        whole, short = {str(line) for line in others}, {line.short for line in others}
        for line in lines:
            if line.rule and line.short not in short:
                return line.short, wanted
        for line in lines:
            if str(line) not in whole:
                return str(line), wanted
    return None


def scripts(offers: Sequence[Offer]) -> dict[str, str]:
    """File name → script, ready to be kept: offers with the same answers share one."""
    together: dict[tuple[Answer, ...], list[Offer]] = {}
    for one in offers:
        together.setdefault(one.answers, []).append(one)
    files = {}
    for group in together.values():
        name = re.sub(r"[^a-z0-9]+", "-", group[0].title.lower()).strip("-")[:80]
        files[f"{name}.yaml"] = _script(group)
    return files


def _script(group: Sequence[Offer]) -> str:
    about = "about: Written to notice small wrong changes of the rules."
    lines = [f"call: {_quoted(group[0].title)}", about, "answers:"]
    lines += [f"  - {answer.fact}: {_quoted(answer.words)}" for answer in group[0].answers]
    lines.append("conclude:")
    for wanted, key in ((True, "must"), (False, "must not")):
        words = dict.fromkeys(one.expectation for one in group if one.wanted == wanted)
        if words:
            lines += [f"  {key}:", *(f"    - concludes: {_quoted(one)}" for one in words)]
    return "\n".join(lines) + "\n"


def _quoted(words: str) -> str:
    return json.dumps(words, ensure_ascii=False)
