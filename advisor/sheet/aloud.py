"""The advice as it is told over the telephone: what to say, the choices, what stops or endangers, the total and the
next step. The rest of the written recommendation is told a section at a time, on request."""

from collections.abc import Callable, Collection, Iterable, Mapping

from advisor.knowledge import Knowledge
from advisor.outcome import Caution, Consultation
from advisor.sheet import cautions, text
from advisor.sheet.layout import GAP, Block, Para, heading
from advisor.sheet.parts import budget_of, parts, proviso_of, total_words

FIGURES = ("power made", "power with fuel for the goal", "spool rpm", "exhaust temperature", "candidate price")
"""What a caller asks of each choice."""
MORE = "in full adds the rest, or one of: {}. The sheet has all of it."


def aloud(consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()) -> Iterable[Block]:
    """The advice in the order in which it is said, as short as is honest; ``said`` are rules whose words he has heard.

    Whatever says stop or danger, or is about safety, law or trailers, stands in full, other cautions in a sentence."""
    yield from text.verdict(consultation)
    offered = text.shown(consultation)
    yield from text.choices(offered, consultation.verdict)
    yield from text.beside_each_other(offered, FIGURES)
    if consultation.trade_words or consultation.trade:
        yield from text.trades(consultation)
    words = {line.rule: line.text for line in consultation.say}
    saying = [*(words.get(line.rule, line.text) for line in consultation.advice)]
    saying += [line.text for line in text.worth_saying(consultation, knowledge, said)]
    if saying:
        yield from heading("Tell him too")
    for sentence in saying:
        yield Para(sentence, "say", 2, "- ")
    yield from _cautions(cautions.ranked(consultation.cautions), words)
    yield from cautions.unsettled(consultation)
    if consultation.parts:
        yield from heading("All parts together")
        if proviso := proviso_of(consultation):
            yield Para(proviso, "care", 2)
        yield Para(total_words(consultation.parts, budget_of(consultation)), "option", 2)
    if counted := text.counted_on(consultation):
        yield from heading("What this rests on")
        yield Para(counted, "say", 2, "Say: ")
    yield from text.steps(text.last_steps(consultation), "Next step")
    yield GAP
    yield Para(MORE.format(", ".join(SECTIONS)), "dim")


def _cautions(
    ranked: tuple[tuple[Caution, ...], tuple[Caution, ...]], words: Mapping[str, str]
) -> Iterable[Block]:
    every = [*ranked[0], *ranked[1]]
    if every:
        yield from heading("Cautions")
    for caution in every:
        full = cautions.is_grave([caution]) or caution.topic in cautions.FIRST_TOPICS
        label = cautions.SEVERITY_WORDS[caution.severity]
        yield Para(caution.text if full else cautions.in_short(caution), caution.severity, 2, f"{label:<7} ")
        if caution.severity == "stop" and caution.rule in words:
            yield Para(words[caution.rule], "say", 10, "Say: ")
    if cautions.is_grave(every):
        yield Para(cautions.CAUTION_NOTE, "dim", 2)


def _advice(consultation: Consultation) -> Iterable[Block]:
    return text.spoken(consultation.advice, "Advice", {line.rule: line.text for line in consultation.say})


SECTIONS: Mapping[str, Callable[[Consultation], Iterable[Block]]] = {
    "choices": lambda consultation: text.options(text.shown(consultation), consultation.verdict),
    "advice": _advice,
    "cautions": lambda consultation: [*cautions.told(consultation), *cautions.unsettled(consultation)],
    "parts": lambda it: parts(it.parts, budget_of(it), proviso_of(it)),
    "assumptions": text.resting,
    "limits": text.followed,
}
"""The sections that can be asked for by name."""
