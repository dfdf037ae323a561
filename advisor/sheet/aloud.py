"""The advice as it is told over the telephone, on one screen: what to say, the choices, what stops or endangers, the
total and the next step. The rest of the written recommendation is told a section at a time, on request."""

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import chain

from advisor.knowledge import Knowledge
from advisor.outcome import Consultation
from advisor.sheet import asked, cautions, first_look, steps, text
from advisor.sheet.layout import GAP, Block, Para, heading, reworded
from advisor.sheet.parts import altogether, parts

MORE = "in full adds the rest, or one of: {}. The sheet has all of it."


def aloud(consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()) -> Iterable[Block]:
    """The advice in the order in which it is said, as short as is honest; ``said`` are rules whose words he has heard.

    Whatever says stop comes first, in full; what warns of danger or is about safety, law or trailers in a sentence, as
    do the gravest of the other cautions, and the first steps. Of what is left out the last line tells how much, and
    where."""
    his = reworded(text.asked_for(consultation), first_look.without_speeds)
    advice, more = first_look.advice(consultation, knowledge, said)
    looks = (
        [cautions.first(consultation, rules=False)],
        [text.verdict(consultation), altogether(consultation), steps.checks_aloud(consultation), his],
        [first_look.choices(consultation), first_look.duties(consultation)],
        [asked.answers(consultation, said, whole=False)],
        [cautions.aloud(consultation)],
        [_saying(consultation, advice), steps.aloud(consultation)],
    )
    for look in looks:
        yield from _close(chain.from_iterable(look))
    left = {"advice": more, "cautions": len(cautions.later(consultation)), "steps": steps.left(consultation)}
    named = (f"{name} ({left[name]} more)" if left.get(name) else name for name in SECTIONS)
    yield Para(MORE.format(", ".join(named)), "dim")


def _saying(consultation: Consultation, advice: Collection[str]) -> Iterable[Block]:
    """What of the advice is worth saying, and what it all rests on."""
    sentences = [*filter(None, (*advice, text.counted_on(consultation)))]
    if sentences:
        yield from heading("Tell him too")
    for sentence in sentences:
        yield Para(sentence, "say", 2, "- ")
    yield from cautions.unsettled_in_short(consultation)


def _close(blocks: Iterable[Block]) -> Iterable[Block]:
    """The blocks without empty lines but the first."""
    for at, block in enumerate(blocks):
        if at == 0 or block != GAP:
            yield block


SECTIONS: Mapping[str, Callable[[Consultation, Knowledge], Iterable[Block]]] = {
    "choices": lambda consultation, _: text.choosing(consultation),
    "advice": text.advised,
    "cautions": lambda consultation, _: [*cautions.told(consultation, True), *cautions.unsettled(consultation)],
    "parts": lambda consultation, _: parts(consultation),
    "assumptions": lambda consultation, _: text.resting(consultation),
    "limits": lambda consultation, _: text.followed(consultation),
    "steps": lambda consultation, _: [*steps.before(consultation), *steps.after(consultation)],
}
"""The sections that can be asked for by name."""
