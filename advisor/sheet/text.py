"""The written recommendation as text, for the terminal, a pipe or a file."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from advisor import units
from advisor.comparing import told_once
from advisor.hearing.understood import value_words
from advisor.his_units import his_units, speaking, teller
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.rules import Assume
from advisor.outcome import Consultation, DutyTrade, Figure, Line, Option, Understood
from advisor.sheet import asked, cautions, steps
from advisor.sheet.holding import holding
from advisor.sheet.layout import GAP, Block, Para, Table, heading, plain, reworded
from advisor.sheet.parts import money, parts
from advisor.sheet.trace import fired

# Figures of a turbo that the trade talks about; the others stand in the workings.
TALKED_OF = (
    "power made",
    "power with fuel for the goal",
    "boost made",
    "spool rpm",
    "spool time",
    "exhaust temperature",
    "drive pressure ratio",
    "towing power",
    "towing exhaust temperature",
    "quarter mile time",
    "sled power",
    "compressor outlet temperature",
    "surge margin",
    "choke margin",
    "tip speed margin",
    "fitting cost",
    "candidate price",
    "delivery days",
)
BANDS_TALKED_OF = ("power made", "spool rpm", "exhaust temperature", "towing exhaust temperature")
# What rules of the earlier stages say belongs to the moment at which they fire.
AT_THE_END = ("judge", "advise")
BEST_ALREADY = "the one recommended"
LITTLE = "beside the first there is little between them"


def written(
    consultation: Consultation, knowledge: Knowledge, width: int = 80, title: str = "", workings: bool = False
) -> str:
    """The written recommendation: the advice, then what was said; with ``workings`` also every figure, its band, what
    was considered and the trace."""
    tell = teller(consultation, knowledge.vocabulary, (title,))
    knowledge = speaking(knowledge, his_units(consultation.understood, knowledge.vocabulary))
    blocks: list[Block] = [Para(title or "Call sheet", "head"), *asked.opening(consultation, knowledge)]
    blocks += recommendation(consultation, knowledge)
    blocks += told(consultation, knowledge.vocabulary)
    if workings:
        blocks += cautions.the_rest(consultation)
        blocks += figures(consultation.figures, "Figures for this engine")
        blocks += option_figures(shown(consultation))
        blocks += candidates(consultation)
        blocks += traced(consultation, knowledge)
    return plain(reworded(blocks, tell), width)


def told(consultation: Consultation, vocabulary: Mapping[str, FactDef]) -> Iterable[Block]:
    """What the caller said, by topic, to be read back to him."""
    yield from heading("What he told us")
    topics: dict[str, list[tuple[str, str]]] = {}
    for heard in consultation.understood:
        definition = vocabulary.get(heard.answer.fact)
        topic = definition.topic if definition else ""
        said = as_understood(heard, definition, consultation)
        topics.setdefault(topic, []).append((heard.answer.fact, said))
    yield from () if topics else (Para("Nothing yet.", indent=2),)
    yield Table(
        ("topic", "fact", "as understood"),
        tuple(
            (topic if first else "", name, said)
            for topic, entries in topics.items()
            for first, (name, said) in zip((True, *[False] * len(entries)), entries, strict=False)
        ),
    )
    if not any(heard.answer.fact == "request" for heard in consultation.understood):
        return
    if consultation.request_fixes:
        fixes = "; ".join(f"{what} {value}" for what, value in consultation.request_fixes)
        yield Para(fixes + ".", indent=2, first="His shorthand fixes: ")
    if consultation.request_leaves_open:
        yield Para(", ".join(consultation.request_leaves_open) + ".", indent=2, first="It leaves open: ")
    for doubt in consultation.request_doubts:
        yield Para(sentence(doubt), indent=2)


def sentence(words: str) -> str:
    """Words with a capital letter and a full stop."""
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "?")) else ".")


def as_understood(heard: Understood, definition: FactDef | None, consultation: Consultation) -> str:
    """What was understood of an answer: "about 520 hp, 494 to 546 hp", "not sure; left open", or what is counted on
    in its place."""
    counted = [f"{one.taken} is counted on" for one in consultation.rests_on if one.fact == heard.answer.fact]
    said = value_words(heard.fact.value, definition) if heard.fact else next(iter(counted), "left open")
    if heard.not_sure or (definition is not None and definition.volunteered == "questions"):
        return f"not sure; {said}" if heard.not_sure else f"“{heard.answer.words}”"
    number = definition is not None and definition.kind == "number" and heard.fact is not None
    return heard.echo.removeprefix(f"{heard.answer.fact}: ") if number else said


def recommendation(consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()) -> Iterable[Block]:
    """The advice, in the order in which it is told to the caller; ``said`` are rules whose words he has
    heard."""
    yield from cautions.first(consultation)
    yield from verdict(consultation)
    yield from steps.before(consultation)
    yield from asked_for(consultation)
    yield from choosing(consultation)
    yield from asked.answers(consultation, said)
    yield from advised(consultation, knowledge, said)
    yield from cautions.told(consultation)
    yield from cautions.unsettled(consultation)
    yield from parts(consultation)
    yield from resting(consultation)
    yield from followed(consultation)
    saying = worth_saying(consultation, knowledge, said)
    yield from steps.after(consultation, {line.rule: line.text for line in saying})


def verdict(consultation: Consultation) -> Iterable[Block]:
    """What is recommended, for where, and what it can't be told apart from."""
    yield from heading("Recommendation")
    yield Para(consultation.verdict_words, "verdict", 2)
    yield from holding(consultation)
    if consultation.separated:
        yield Para(consultation.separated, indent=2)


def asked_for(consultation: Consultation) -> Iterable[Block]:
    """The part he asked for, in lines to say, and what he says to them."""
    if consultation.requested_words:
        yield from heading("About the one he asked for")
        for words in consultation.requested_words:
            yield Para(words, "say", 2, "Say: ")
        if answer := request_answer(consultation):
            yield Para(answer, "", 2, "His answer: ")


COUNTED_ON = 3
"""Assumptions that can be said in one breath."""


def counted_on(consultation: Consultation) -> str:
    """The assumptions that may change the advice, to be said aloud; "" without one."""
    asked = {question.fact: place for place, question in enumerate(consultation.questions)}
    resting = sorted(consultation.rests_on, key=lambda one: (not one.unsure, asked.get(one.fact, len(asked))))
    matter = [one for one in resting if one.unsure or one.moves][:COUNTED_ON]
    if not matter:
        return ""
    names = ", ".join(f"{one.fact} {one.taken}" for one in matter)
    what = "the choice" if consultation.recommended else "what I make of it"
    return f"I've counted on {names}. If it's otherwise, {what} may change."


def resting(consultation: Consultation) -> Iterable[Block]:
    """What matters of what the advice rests on, to be said; then all of it, with why and how to check."""
    if not consultation.rests_on:
        return
    yield from heading("What this rests on")
    if words := counted_on(consultation):
        yield Para(words, "say", 2, "Say: ")
    yield Table(
        ("not told", "taken as", "because"),
        tuple((one.fact, one.taken, one.grounds) for one in consultation.rests_on),
    )


def request_answer(consultation: Consultation) -> str:
    """What he said to the advice about the part he asked for: accepted, will check, or insists, and why."""
    said = {heard.answer.fact: heard for heard in consultation.understood if heard.fact is not None}
    if "request answer" not in said:
        return ""
    fact = said["request answer"].fact
    words = str(fact.value) if fact is not None else ""
    reason = said["insists reason"].answer.words if "insists reason" in said else ""
    return f"{words}, because: {reason}" if words and reason else words


def followed(consultation: Consultation) -> Iterable[Block]:
    """How far the advice holds, and what would change it for the part he asked for."""
    if consultation.holds:
        yield from heading("How far it holds")
        for hold in consultation.holds:
            yield Para(hold.text + ".", "", 2, "- ")
    if consultation.switches:
        yield from heading(f"What would have to change for {consultation.switches[0].turbo}")
        for switch in consultation.switches:
            yield Para(switch.text + ".", "", 2, "- ")


def shown(consultation: Consultation) -> tuple[Option, ...]:
    """The options worth putting to him, the recommended one first and no candidate twice."""
    first = (consultation.recommended,) if consultation.recommended else ()
    last = (consultation.requested,) if consultation.requested else ()
    options_: dict[str, Option] = {}
    pair = (consultation.two_stage,) if consultation.two_stage else ()
    for option in (*first, *consultation.alternatives, *pair, *last):
        options_.setdefault(option.code, option)
    return tuple(options_.values())


def option_mark(option: Option, verdict: str) -> str:
    """What stands beside an option's name; in a complaint no turbo is recommended before the checks are done."""
    best = "if it is the turbo" if verdict == "diagnosed" else "recommended"
    return {"recommended": best, "requested": "asked for"}.get(option.role, "")


def choosing(consultation: Consultation) -> Iterable[Block]:
    """The options of a consultation with their figures, and duties that fight each other."""
    yield from options(shown(consultation), consultation.verdict)
    yield from trades(consultation)


def choices(offered: Sequence[Option], verdict: str) -> Iterable[Block]:
    """The options with what each gains and costs him, and what to mind about it."""
    if not offered:
        return
    yield from heading("His choices" if len(offered) > 1 else "His choice")
    minded = told_once(option.to_mind for option in offered)
    for number, option in enumerate(offered, 1):
        role = f" [{mark}]" if (mark := option_mark(option, verdict)) else ""
        yield Para(f"{option.title} ({option.code}), {money(option.price)}{role}", "option", 2, f"{number}  ")
        if option.closest_because:
            yield Para(option.closest_because, "", 5)
        if option.ruled_out_by:
            yield Para(" ".join(option.out_words), "care", 5, "ruled out: ")
            yield Para(", ".join(option.ruled_out_by), "dim", 5, "by: ")
        if option.gains:
            yield Para("; ".join(option.gains), "", 5, "gains: ")
        if option.loses:
            yield Para("; ".join(option.loses), "", 5, "costs him: ")
        if number > 1 and not (option.gains or option.loses):
            yield Para(LITTLE, "", 5)
        for words in minded[number - 1]:
            yield Para(words, "care", 5, "mind: ")
        for words in option.hangs if option.role != "recommended" else ():
            yield Para(words, "care", 5, "hangs: ")


def options(offered: Sequence[Option], verdict: str) -> Iterable[Block]:
    """The options, then their figures side by side."""
    if not offered:
        return
    yield from choices(offered, verdict)
    yield from beside_each_other(offered, TALKED_OF)
    banded = {figure.name: figure.band_text for figure in offered[0].figures if figure.band_text}
    told_ = [f"{name} {banded[name]}" for name in BANDS_TALKED_OF if name in banded]
    if told_:
        yield Para("; ".join(told_) + ".", "dim", 2, "nine times in ten, 1 has: ")
    moved = {figure.name: figure.over_text for figure in offered[0].figures if figure.over_text}
    if over := [f"{name} {moved[name]}" for name in BANDS_TALKED_OF if name in moved]:
        yield Para("; ".join(over) + ".", "dim", 2, "over all he gave as a range, 1 has: ")
    yield from assumptions(figure for option in offered for figure in option.figures)


def beside_each_other(offered: Sequence[Option], names: Iterable[str]) -> Iterable[Block]:
    """The figures of those names, an option a column."""
    of_each = [{figure.name: figure for figure in option.figures} for option in offered]
    rows = []
    for name in names:
        found = [figures_.get(name) for figures_ in of_each]
        bases = dict.fromkeys(figure.basis for figure in found if figure is not None)
        notes = dict.fromkeys(figure.note for figure in found if figure is not None and figure.note)
        if bases:
            shown_ = (figure.text if figure else "" for figure in found)
            rows.append((", ".join((name, *notes)), *shown_, ", ".join(bases)))
    if rows:
        yield GAP
        numbers = range(1, len(offered) + 1)
        yield Table(("figure", *map(str, numbers), "basis"), tuple(rows), frozenset(numbers))


def option_figures(offered: Sequence[Option]) -> Iterable[Block]:
    """Every figure of the options, and where those of the first lie nine times in ten, from the spreads of all that is
    assumed."""
    if not offered:
        return
    yield from heading("Figures of the choices")
    for number, option in enumerate(offered, 1):
        yield Para(f"{option.title} ({option.code})", "", 2, f"{number}  ")
    yield from beside_each_other(offered, dict.fromkeys(f.name for option in offered for f in option.figures))
    rows = tuple((f.name, f.band_text, f.over_text) for f in offered[0].figures if f.band_text or f.over_text)
    if rows:
        yield GAP
        yield Para(f"{offered[0].code}: nine times in ten its figures lie within these bands.", "dim", 2)
        yield Table(("figure", "band", "over what he gave as a range"), rows, frozenset((1, 2)))


def assumptions(figures_: Iterable[Figure]) -> Iterable[Block]:
    """Each assumption once, with the figures that rest on it."""
    resting: dict[str, dict[str, None]] = {}
    for figure in figures_:
        if figure.assumption:
            resting.setdefault(figure.assumption, {})[figure.name] = None
    for assumption, names in resting.items():
        yield Para(f"{assumption} ({', '.join(names)})", "dim", 2, "assumed: ")


def trades(consultation: Consultation) -> Iterable[Block]:
    """Duties that fight each other: what a set-up for one of them gains and loses."""
    if not (consultation.trade_words or consultation.trade):
        return
    yield from heading("Duties against each other")
    if consultation.trade_words:
        yield Para(consultation.trade_words, "say", 2)
    for trade in trades_apart(consultation):
        title = trade_title(trade, consultation)
        yield Para(f"only for {trade.duty} ({trade_share(trade)}): {title}", "option", 2, "- ")
        if trade.gains:
            yield Para("; ".join(trade.gains), "", 6, "gains: ")
        if trade.loses:
            yield Para("; ".join(trade.loses), "", 6, "costs him: ")
        if not (trade.gains or trade.loses or is_best(trade, consultation)):
            yield Para(LITTLE, "", 6)


def trades_apart(consultation: Consultation) -> tuple[DutyTrade, ...]:
    """The set-ups for one duty alone; none where the one recommended is the best for each."""
    return () if all(is_best(trade, consultation) for trade in consultation.trade) else consultation.trade


def trade_share(trade: DutyTrade) -> str:
    """The duty's share of his use, as it is said."""
    return f"about {units.show_computed(trade.share, '%', 'percent')} of his use"


def is_best(trade: DutyTrade, consultation: Consultation) -> bool:
    """Whether the set-up for one duty is the one recommended."""
    best = consultation.recommended
    return best is not None and trade.option.code == best.code


def trade_title(trade: DutyTrade, consultation: Consultation) -> str:
    """The set-up for one duty, or that it is the one recommended."""
    return BEST_ALREADY if is_best(trade, consultation) else f"{trade.option.title} ({trade.option.code})"


def worth_saying(
    consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()
) -> tuple[Line, ...]:
    """What rules have to say and nothing else says: not what he has heard (rules ``said``), not the words
    that stand with a caution or advice, not an assumption, which stands under what the advice rests on, and nothing of
    the figures of a turbo that a caution, advice or next step speaks of."""
    elsewhere = {caution.rule for caution in consultation.cautions} | {line.rule for line in consultation.advice}
    assuming = {rule.name for rule in knowledge.rules if any(isinstance(act, Assume) for act in rule.then)}
    stages = {rule.name: rule.stage for rule in knowledge.rules}
    spoken_of = elsewhere | {line.rule for line in consultation.next_steps}
    advised = [
        {fact.name for fact in firing.facts}
        for firing in consultation.firings
        if firing.rule in spoken_of and stages.get(firing.rule) == "advise"
    ]
    covered = {
        firing.rule
        for firing in consultation.firings
        if firing.columns and any(set(firing.columns) <= facts for facts in advised)
    }
    done = {*elsewhere, *assuming, *said, *covered, *asked.rules(consultation)}
    if consultation.requested_words:  # three lines of their own speak of the part he asked for
        done |= {line.rule for line in consultation.say if line.topic == "request" and line.stage == "judge"}
    return tuple(line for line in consultation.say if line.rule not in done and line.stage in AT_THE_END)


def spoken(said: Sequence[Line], title: str, words: Mapping[str, str] | None = None) -> Iterable[Block]:
    """Sentences, each with the rule it comes from and, by rule, the words for the caller."""
    if said:
        yield from heading(title)
    for line in said:
        yield Para(line.text + (f"  [{line.rule}]" if line.rule else ""), "" if words else "say", 2, "- ")
        if words and line.rule in words:
            yield Para(words[line.rule], "say", 4, "Say: ")


def advised(consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()) -> Iterable[Block]:
    """What else he is told, then the advice, each with the words for the caller."""
    saying = steps.without_steps(worth_saying(consultation, knowledge, said), consultation)
    yield from spoken(saying, "Also tell him")
    yield from spoken(consultation.advice, "Advice", {line.rule: line.text for line in consultation.say})


def figures(figures_: Sequence[Figure], title: str) -> Iterable[Block]:
    """Figures, each with unit, basis and assumption."""
    if not figures_:
        return
    yield from heading(title)
    yield Table(
        ("figure", "value", "basis", "what it is"),
        tuple((figure.name, figure.text, figure.basis, figure.meaning) for figure in figures_),
        frozenset((1,)),
    )
    yield from assumptions(figures_)


def candidates(consultation: Consultation) -> Iterable[Block]:
    """What was considered: the first places, and how many each rule put out."""
    yield from heading("What was considered")
    yield Table(
        ("place", "candidate", "code", "points"),
        tuple(
            (str(place), title, code, f"{points:.0f}")
            for place, (code, title, points) in enumerate(consultation.kept[:10], 1)
        ),
        frozenset((0, 3)),
    )
    yield Para(f"{len(consultation.kept)} kept, {len(consultation.ruled_out)} ruled out.", indent=2)
    for rule, count in tally(consultation):
        yield Para(f"{count} by {rule}", "", 4)


def tally(consultation: Consultation) -> list[tuple[str, int]]:
    """How many candidates each rule or hard limit put out, most first."""
    counts = Counter(rule for out in consultation.ruled_out for rule in out.by)
    return sorted(counts.items(), key=lambda entry: (-entry[1], entry[0]))


def traced(consultation: Consultation, knowledge: Knowledge) -> Iterable[Block]:
    """Every rule that fired, with its facts and where each came from."""
    if not consultation.firings:
        return
    yield from heading("How it came about")
    for entry in fired(consultation, knowledge):
        yield Para(f"{entry.rule} ({entry.place}): {entry.because}", "option", 2, "- ")
        for ground in entry.grounds:
            yield Para(ground, "dim", 6)
    yield Para(
        f"Rules fired by {consultation.fired_by}; knowledge {consultation.knowledge_digest}.", "dim", 2
    )


def best_line(consultation: Consultation) -> str:
    """The best so far, in one line."""
    best = consultation.recommended
    if best is None:
        return consultation.verdict_words
    return f"{best.title} ({best.code}), {money(best.price)}"
