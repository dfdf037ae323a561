"""The advice as it is told over the telephone: what to say, the choices, what stops or endangers, the total and the
next step. The rest of the written recommendation is told a section at a time, on request."""

from collections.abc import Callable, Collection, Iterable, Mapping

from advisor.knowledge import Knowledge
from advisor.outcome import Consultation
from advisor.sheet import asked, cautions, steps, text
from advisor.sheet.layout import GAP, Block, Para, heading
from advisor.sheet.parts import altogether, parts

FIGURES = (
    "power made",
    "power with fuel for the goal",
    "spool rpm",
    "exhaust temperature",
    "towing exhaust temperature",
    "candidate price",
)
"""What a caller asks of each choice."""
MORE = "in full adds the rest, or one of: {}. The sheet has all of it."


def aloud(consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()) -> Iterable[Block]:
    """The advice in the order in which it is said, as short as is honest; ``said`` are rules whose words he has heard.

    Whatever says stop or danger, or is about safety, law or trailers, stands in full; of the other cautions the gravest
    in a sentence, and of the steps the first ones, as many as somebody can keep in mind. What a step says isn't said
    beside it."""
    yield from text.verdict(consultation)
    yield from altogether(consultation)
    yield from text.choices_of(consultation)
    yield from text.beside_each_other(text.shown(consultation), FIGURES)
    yield from text.trades(consultation, beside=True)
    yield from asked.answers(consultation, said, whole=False)
    words = {line.rule: line.text for line in consultation.say}
    saying = [*(words.get(line.rule, line.text) for line in consultation.advice)]
    unsaid = steps.without_steps(text.worth_saying(consultation, knowledge, said), consultation)
    saying += [line.text for line in unsaid]
    if saying:
        yield from heading("Tell him too")
    for sentence in saying:
        yield Para(sentence, "say", 2, "- ")
    yield from cautions.aloud(consultation)
    yield from cautions.unsettled(consultation)
    if counted := text.counted_on(consultation):
        yield from heading("What this rests on")
        yield Para(counted, "say", 2, "Say: ")
    yield from steps.aloud(consultation)
    yield GAP
    yield Para(MORE.format(", ".join(SECTIONS)), "dim")


SECTIONS: Mapping[str, Callable[[Consultation], Iterable[Block]]] = {
    "choices": lambda consultation: text.options(text.shown(consultation), consultation.verdict),
    "advice": text.advised,
    "cautions": lambda consultation: [*cautions.told(consultation), *cautions.unsettled(consultation)],
    "parts": parts,
    "assumptions": text.resting,
    "limits": text.followed,
    "steps": steps.after,
}
"""The sections that can be asked for by name."""
