"""Next steps as they are shown: what stops or endangers first, then in the order of doing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from advisor.knowledge.rules import STAGES
from advisor.outcome import DECIDED, GRAVE, Consultation, Line
from advisor.sheet.layout import Block, Para, heading
from advisor.wording import first_sentence

MOST_TOLD, MOST_CHECKS = 3, 7
"""Steps, and checks of a complaint, that a call tells by itself; more nobody keeps in mind (own judgement)."""
BY_LAW = ("safety", "law")
DOING = ("fit", "wastegate", "compressor", "towing", "next-steps")
"""Topics of what is done once it is ordered, in the order of doing; every other step comes before the order."""
OUT_OF_IT = "next-steps"
"""The topic of what helps where nothing can be advised."""
TITLE, CHECKS_TITLE = "Next step", "To be done first"


def before(consultation: Consultation) -> Iterable[Block]:
    """What a complaint asks for before any part is thought of."""
    return shown(first_steps(consultation), CHECKS_TITLE)


def after(consultation: Consultation, words: Mapping[str, str] | None = None) -> Iterable[Block]:
    """All that comes after the recommendation, with the words for the caller by rule."""
    return shown(last_steps(consultation), TITLE, words)


def without_steps(saying: Iterable[Line], consultation: Consultation) -> list[Line]:
    """What is to be told, but for the words that stand under a step of the same rule."""
    with_a_step = {step.rule for step in last_steps(consultation)}
    return [line for line in saying if line.rule not in with_a_step]


def checks_aloud(consultation: Consultation) -> Iterable[Block]:
    """The first of what a complaint asks for, each in a sentence where a turbo is told beside it."""
    yield from shown(_checks(consultation), CHECKS_TITLE)


def aloud(consultation: Consultation) -> Iterable[Block]:
    """The first of what comes after the recommendation, each in a sentence."""
    yield from shown(_told(last_steps(consultation), consultation, MOST_TOLD), TITLE)


def left(consultation: Consultation) -> int:
    """How many steps a call doesn't tell by itself, or not to their end."""
    checks, after = first_steps(consultation), last_steps(consultation)
    told = (*_checks(consultation), *_told(after, consultation, MOST_TOLD))
    return len({*checks, *after} - {*told})


def _checks(consultation: Consultation) -> tuple[Line, ...]:
    return _told(first_steps(consultation), consultation, MOST_CHECKS, whole=consultation.recommended is None)


def _told(steps: Sequence[Line], consultation: Consultation, most: int, whole: bool = False) -> tuple[Line, ...]:
    grave = sum(_rank(step, consultation)[0] == 0 for step in steps)
    told = steps if len(steps) == most + 1 else steps[: max(most, grave)]
    return tuple(told) if whole else tuple(replace(step, text=first_sentence(step.text)) for step in told)


def first_steps(consultation: Consultation) -> tuple[Line, ...]:
    """What a complaint asks for before any part is thought of: the steps that follow from his own words."""
    if consultation.verdict != "diagnosed":
        return ()
    steps = consultation.next_steps
    return _in_order((step for step in steps if step.stage == "understand" and step.topic != "fit"), consultation)


def last_steps(consultation: Consultation) -> tuple[Line, ...]:
    """The steps that come after the recommendation."""
    first = first_steps(consultation)
    return _in_order((step for step in consultation.next_steps if step not in first), consultation)


def shown(lines: Sequence[Line], title: str, words: Mapping[str, str] | None = None) -> Iterable[Block]:
    """Steps under a heading, each with the words for the caller, by rule."""
    if lines:
        yield from heading(title)
    unsaid = dict(words or {})
    for step in lines:
        yield Para(step.text, "", 2, "- ")
        if said := unsaid.pop(step.rule, ""):
            yield Para(said, "say", 4, "Say: ")


def _in_order(steps: Iterable[Line], consultation: Consultation) -> tuple[Line, ...]:
    """Each step once, in the order of doing."""
    once = {step.text: step for step in steps}
    return tuple(sorted(once.values(), key=lambda step: _rank(step, consultation)))


def _rank(step: Line, consultation: Consultation) -> tuple[int, int, int]:
    """What stops, endangers or is law; where nothing is advised, what helps out of that; then what comes before the
    order, stage by stage; then what is done."""
    grave = any(caution.rule == step.rule and caution.severity in GRAVE for caution in consultation.cautions)
    done = 1 + DOING.index(step.topic) if step.topic in DOING and step.stage == "advise" else 0
    if consultation.verdict not in DECIDED and step.topic == OUT_OF_IT:
        done = -1
    stage = [*STAGES, step.stage].index(step.stage)
    return int(not (grave or step.topic in BY_LAW)), done, stage
