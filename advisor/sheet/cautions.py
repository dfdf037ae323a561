"""Cautions as they are shown: the gravest in full with the words to say, the rest in a sentence each."""

from collections.abc import Collection, Iterable, Sequence

from advisor.knowledge.places import in_a_row
from advisor.outcome import GRAVE, SEVERITIES, Caution, Consultation
from advisor.sheet.layout import Block, Para, heading
from advisor.wording import first_sentence

SEVERITY_WORDS = {
    "stop": "STOP",
    "danger": "DANGER",
    "care": "CARE",
    "note": "NOTE",
}
FIRST_TOPICS = ("safety", "law", "towing")
"""Topics that come first among cautions of one severity: what hurts people, and what the law decides."""
MOST_TOLD, NOTES_UP_TO = 7, 4
"""Cautions that a call tells by itself, unless more stop, endanger, or are about these, and up to how many of them mere
notes may fill up (own judgement)."""
IN_FULL = 8
"""Cautions that are told in full, unless more stop, endanger, or are about these; more than that nobody reads."""
CAUTION_NOTE = (
    "Fitting, testing and competition: the law of the place, the class rules and the workshop's own licensed "
    "practice come before anything said here."
)
NOTE_IN_SHORT = "Local law, class rules and licensed practice come before anything said here."
STOPS_FIRST = "Before anything else"
IN_SHORT = "Cautions in short"
CLOSER = "What a closer figure would settle"
SLIGHTER = "What may come true within what he gave"


def ranked(cautions: Sequence[Caution]) -> tuple[tuple[Caution, ...], tuple[Caution, ...]]:
    """The cautions in full and those in short, the gravest first. What stops, endangers, or is about safety, law or
    trailers is told in full."""
    ordered = _by_gravity(cautions)
    slighter = [one for one in ordered if not _must_be_told(one)]
    most = len(ordered) if len(ordered) <= IN_FULL + 1 else max(IN_FULL - len(ordered) + len(slighter), 0)
    short = slighter[most:]
    return tuple(one for one in ordered if one not in short), tuple(short)


def _by_gravity(cautions: Sequence[Caution]) -> tuple[Caution, ...]:
    def gravity(caution: Caution) -> tuple[int, int]:
        first = FIRST_TOPICS.index(caution.topic) if caution.topic in FIRST_TOPICS else len(FIRST_TOPICS)
        return SEVERITIES.index(caution.severity), first

    return tuple(sorted(cautions, key=gravity))


def in_short(caution: Caution) -> str:
    """The first sentence of a caution, and where it isn't so."""
    first = first_sentence(caution.text)
    unless = caution.only_if.removeprefix("unless ")
    return first if unless == caution.only_if or unless in first else f"{first} Not so if {unless}."


def is_grave(cautions: Iterable[Caution]) -> bool:
    """Whether one of them says stop or warns of danger."""
    return any(caution.severity in GRAVE for caution in cautions)


def stops(consultation: Consultation) -> tuple[Caution, ...]:
    """Those that say stop, which stand before all that is advised."""
    return tuple(one for one in _by_gravity(consultation.cautions) if one.severity == "stop")


def first(consultation: Consultation, rules: bool = True) -> Iterable[Block]:
    """What says stop, in full and with the words to say; with its ``rules`` on the sheet."""
    if found := stops(consultation):
        yield from heading(STOPS_FIRST)
        yield from _in_full(found, consultation, rules)


def told(consultation: Consultation, whole: bool = False) -> Iterable[Block]:
    """The gravest cautions but those that say stop in full, then the others in short; where the ``whole`` is wanted,
    all of them in full."""
    full, rest = (_by_gravity(consultation.cautions), ()) if whole else ranked(consultation.cautions)
    full = full if whole else tuple(one for one in full if one.severity != "stop")
    if full or rest:
        yield from heading("Cautions")
    yield from _in_full(full, consultation)
    if rest:
        yield from heading(IN_SHORT)
    for caution in rest:
        yield _line(caution, f"{in_short(caution)}  [{caution.rule}]")
    yield from _note(consultation)


def aloud(consultation: Consultation) -> Iterable[Block]:
    """Those for the telephone but what says stop, without their rules: in a sentence what endangers or is about safety,
    law or trailers, and of what else wants care the gravest."""
    apart = {*later(consultation), *stops(consultation)}
    left = [caution for caution in _by_gravity(consultation.cautions) if caution not in apart]
    if left:
        yield from heading("Cautions")
    for caution in left:
        yield _line(caution, in_short(caution))
    if is_grave(consultation.cautions):
        yield Para(NOTE_IN_SHORT, "dim", 2)


def later(consultation: Consultation) -> tuple[Caution, ...]:
    """Those that a call doesn't tell by itself."""
    ordered = _by_gravity(consultation.cautions)
    slighter = [one for one in ordered if not _must_be_told(one)]
    places = enumerate(slighter, len(ordered) - len(slighter))
    return tuple(one for place, one in places if place >= (NOTES_UP_TO if one.severity == "note" else MOST_TOLD))


def at_once(consultation: Consultation, waiting: Collection[str]) -> Iterable[Block]:
    """Those that wait for no advice, with the words to say, without those of rules that are ``waiting``."""
    yield from _in_full(_due(consultation, waiting), consultation)


def lines_at_once(consultation: Consultation, waiting: Collection[str]) -> Iterable[Para]:
    """The same without the words to say."""
    return (_line(one, one.text) for one in _due(consultation, waiting))


def _due(consultation: Consultation, waiting: Collection[str]) -> tuple[Caution, ...]:
    return ranked([one for one in consultation.cautions if one.at_once and one.rule not in waiting])[0]


def _must_be_told(caution: Caution) -> bool:
    """Whether it is told in every call."""
    return is_grave([caution]) or caution.topic in FIRST_TOPICS


def unsettled_in_short(consultation: Consultation) -> Iterable[Block]:
    """Which closer figures than he gave would settle something."""
    if consultation.unsettled:
        facts = in_a_row([one.fact for one in consultation.unsettled])
        yield Para(f"A closer figure would settle more: {facts}; in full cautions tells what.", "dim", 2)


def unsettled(consultation: Consultation) -> Iterable[Block]:
    """What a closer figure than he gave would settle, and how much more hangs on what he gave."""
    if not consultation.unsettled:
        return
    yield from heading(CLOSER)
    for one in consultation.unsettled:
        yield Para(one.text + ".", "", 2, "- ")
    if count := len(consultation.slighter):
        cautions, them = ("caution", "it") if count == 1 else ("cautions", "them")
        more = f"{count} slighter {cautions} may come true within what he gave; the workings tell {them}."
        yield Para(more, "dim", 2)


def the_rest(consultation: Consultation) -> Iterable[Block]:
    """In full, with the words to say, what `told` has in short."""
    _, rest = ranked(consultation.cautions)
    if rest:
        yield from heading("The other cautions in full")
        yield from _in_full(rest, consultation)
    if consultation.slighter:
        yield from heading(SLIGHTER)
        yield from _in_full(consultation.slighter, consultation)


def _in_full(cautions: Sequence[Caution], consultation: Consultation, rules: bool = True) -> Iterable[Block]:
    words = {line.rule: line.text for line in consultation.say}
    for caution in cautions:
        yield _line(caution, f"{caution.text}  [{caution.rule}]" if rules else caution.text)
        if caution.rule in words:
            yield _to_say(words.pop(caution.rule))


def _line(caution: Caution, words: str) -> Para:
    return Para(words, caution.severity, 2, f"{SEVERITY_WORDS[caution.severity]:<7} ")


def _to_say(words: str) -> Para:
    return Para(words, "say", 10, "Say: ")


def _note(consultation: Consultation) -> Iterable[Block]:
    if is_grave(consultation.cautions):
        yield Para(CAUTION_NOTE, "dim", 2)
