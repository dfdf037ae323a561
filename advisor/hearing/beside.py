"""Facts that a sentence holds beside the one that it answers: to be read back, and only where it is plain."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.knowledge.conditions import All, AnyOf, Condition, Is, Known
from advisor.outcome import Understood
from advisor.units import Range, Unclear
from advisor.words.endings import stem_of
from advisor.words.people import MATE

from . import choosing, chosen, litres, retold, spoken, surroundings, vague
from .asides import FIGURE
from .chosen import NEAREST
from .measured import SPAN, WANTED, is_usual, with_unit
from .mentions import GENERAL, OTHERS, as_mentioned, either, in_digits, take_all, widest
from .request import decode
from .sizes import CLAUSE, LEAST_WORDS, asks_for_a_size, size_bought, size_now
from .taken import suggestions
from .together import Apart
from .understanding import understand
from .understood import LEANT, perhaps_not_sure, sounds_like

NEARLY = 0.02  # by which a figure said in two units differs from itself
LEAST_HEIGHT = units.to_si(100.0, "ft", "altitude")
SAFETY = "safety"  # the topic of what is about life and limb
SIZES = ("request", "present size")  # facts told as the size of a turbo
HIS_FRIENDS = re.compile(
    rf"\b{MATE}\b.*\b(?:(?:runs|running) an? \d"
    r"|(?:has|have|had|got) an? [4-8]\d(?=$|[,.;!/]| (?:and|but|on|in|with|that|which)\b))",
    re.IGNORECASE,
)
REELED = re.compile(r"\s*(?:,(?!\d{3}\b)|;|\band\b|\bby\b)\s*", re.IGNORECASE)
FIGURE_ALONE = re.compile(rf"(?:(?:about|around|maybe|say|roughly) )?(?:{FIGURE.pattern})", re.IGNORECASE)
# What it is that somebody doesn't know: "don't know what cam".
NOT_KNOWN_WHAT = re.compile(
    r"\b(?:know|sure|idea|clue|tell|say|remember|recall)\b"
    r"(?: (?:you|about|of|on|for|the|my|what|which|whose|size|kind|sort|how|big|hot|much|many|it|is))*?"
    r" (?:what|which|about|the|my) (?P<what>[a-z]{3,})",
    re.IGNORECASE,
)


def also_said(
    vocabulary: Mapping[str, FactDef],
    heard: Understood | str,
    settled: Collection[str],
    given: Mapping[str, str] | None = None,
    least: int = LEAST_WORDS,
) -> list[Understood]:
    """Facts that a sentence of at ``least`` so many words holds, beside the one that it answers where it was
    understood, without those that are ``settled``; what it says of the one asked is not offered for another. Of several
    choices ``given`` before, what it adds is offered with them."""
    said = heard if isinstance(heard, str) else heard.answer.words
    asked = [one for one in vocabulary.values() if one.source == "asked" and not one.volunteered]
    if len(said.split()) < least:
        if isinstance(heard, str) or not (heard.again or LEANT in heard.doubt):
            return []
        alone = by_unit_alone(vocabulary, heard, settled) if surroundings.names_a_figure(said) else []
        if len(alone) == 1:
            return alone
    own = heard.answer.fact if isinstance(heard, Understood) else ""
    group = vocabulary[own].together if own in vocabulary else ""
    told = [more for more in take_all(asked, said, group) if more.fact is not None and more.answer.fact != own]
    told = [more for more in told if own not in SIZES or not _is_its_inducer(more, said)]
    told = [more for more in told if not _taken_back(more, said)]
    grown = (added(vocabulary[more.answer.fact], more, (given or {}).get(more.answer.fact, "")) for more in told)
    return [
        *(more for more in grown if more is not None),
        *retold.otherwise(vocabulary, heard, told, given or {}),
        *(
            more
            for more in told
            if more.answer.fact not in settled
            and more.fact is not None
            and not _same_figure(vocabulary, more, heard)
        ),
    ]


def _same_figure(vocabulary: Mapping[str, FactDef], more: Understood, heard: Understood | str) -> bool:
    """Whether what is told beside an answer is its own figure again, in whatever unit: "150 kW, 204 hp"."""
    value = heard.fact.value if isinstance(heard, Understood) and heard.fact is not None else None
    other = more.fact.value if more.fact is not None else None
    if isinstance(heard, str) or not isinstance(value, Range) or not isinstance(other, Range):
        return False
    alike = vocabulary[more.answer.fact].quantity == vocabulary[heard.answer.fact].quantity
    return other == value or (alike and abs(other.mid - value.mid) <= NEARLY * value.mid)


def _taken_back(more: Understood, said: str) -> bool:
    """Whether a figure was taken back and told again as one of something else: "8,000 ft, sorry, 8,000 lb I mean"."""
    figure = SPAN.search(more.answer.words)
    after = [in_digits(later) for later in spoken.corrected(said)] if figure else []
    again = [later for later in after if figure and figure[0] in (hit[0] for hit in SPAN.finditer(later))]
    return any(more.answer.words not in later for later in again)


def _is_its_inducer(more: Understood, size: str) -> bool:
    """Whether a figure in litres is the inducer, in inches, of a turbo that is named: "a 2.6"."""
    inducer, value = decode(size).inducer, None if more.fact is None else more.fact.value
    if more.answer.fact != "displacement" or inducer is None or not isinstance(value, Range):
        return False
    return abs(units.from_si(value.mid, "L", "volume") - units.from_si(inducer.mid, "in", "length")) < 0.01


def added(definition: FactDef, more: Understood, before: str) -> Understood | None:
    """The choices given before with those that are told now too; None where nothing is added."""
    was = understand(definition, before).fact if before and definition.kind == "several" else None
    if was is None or more.fact is None or not isinstance(was.value, frozenset):
        return None
    whole = was.value.union(more.fact.value) if isinstance(more.fact.value, frozenset) else was.value
    names = [choice.name for choice in definition.choices if choice.name in whole]
    return understand(definition, " and ".join(names)) if whole > was.value else None


def by_unit_alone(
    vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]
) -> list[Understood]:
    """A figure by itself that doesn't answer its question, for the facts that are measured in its unit and can be so
    much: "1,200 ft"; a bare decimal for the litres of the engine. Where there are several, for those that it is usual
    for, and of these for the one that is asked about the same thing ("3200 rpm" said of the engine)."""
    said = heard.answer.words
    hit = SPAN.match(said)
    numbers = [one for one in vocabulary.values() if one.source == "asked" and one.kind == "number"]
    bare = bool(hit and hit.group() == said.strip(" .,") and litres.stands_at(said, hit.start()))
    able = [one for one in numbers if hit and (_all_with_unit(one, said, hit) or (bare and one.quantity == "volume"))]
    readings = [understand(one, said) for one in able]
    found = [one for one in readings if one.fact is not None and not one.doubt and one.answer.fact != heard.answer.fact]
    found = [one for one in found if not _is_length(vocabulary[one.answer.fact], one)]
    usual = [one for one in found if is_usual(vocabulary[one.answer.fact], one)] if len(found) > 1 else found
    topic = vocabulary[heard.answer.fact].topic
    near = [one for one in usual if vocabulary[one.answer.fact].topic == topic]
    return [one for one in (near if len(near) == 1 else usual) if one.answer.fact not in settled]


def _is_length(definition: FactDef, heard: Understood) -> bool:
    """Whether a height is so little that it is the length of something: "22 foot"."""
    value = heard.fact.value if heard.fact is not None else None
    return definition.quantity == "altitude" and isinstance(value, Range) and 0 < value.high < LEAST_HEIGHT


def either_of(vocabulary: Mapping[str, FactDef], said: str, settled: Collection[str]) -> list[Understood]:
    """The facts for which a figure may be meant alike, where none of them is ``settled``: "250 at the wheels" is what
    it makes, or what is wished for."""
    alike = either([one for one in vocabulary.values() if one.source == "asked"], said)
    return [] if any(one.answer.fact in settled for one in alike) else alike


def reeled_off(vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]) -> list[Understood]:
    """Figures that are reeled off without a unit ("38 and 1400" of the gauges), in the order in which they are asked:
    each for the first fact of the topic of the question that is usually so much."""
    topic = vocabulary[heard.answer.fact].topic
    numbers = [one for one in vocabulary.values() if one.kind == "number" and one.topic == topic]
    asked = (one for one in numbers if one.source == "asked" and one.name not in settled)
    left = sorted(asked, key=lambda one: one.order)
    own = vocabulary[heard.answer.fact]
    found: list[Understood] = []
    for piece in REELED.split(heard.answer.words):
        if chosen.plainly(own, piece):  # "four" of the valves is no engine speed
            continue
        told = (understand(one, piece) for one in left if FIGURE_ALONE.fullmatch(piece))
        if (fits := next((one for one in told if is_usual(vocabulary[one.answer.fact], one)), None)) is not None:
            found.append(fits)
            left = [one for one in left if one.name != fits.answer.fact]
    return found


def _all_with_unit(definition: FactDef, said: str, hit: re.Match[str]) -> bool:
    """Whether words are a number with a unit of what a fact measures alone."""
    units_ = units.QUANTITIES[definition.quantity]
    unit = said[hit.end() :].strip(" -").lower()
    return with_unit(definition, said, hit) == said or (len(units_.units) == 1 and unit in units_.aliases)


def unless_of_another(vocabulary: Mapping[str, FactDef], heard: Understood) -> Understood:
    """An answer, but no figure that the words around it mark as another fact's of another kind: "about 14k, truck's
    rated 13" holds no displacement."""
    own = vocabulary[heard.answer.fact]
    words = in_digits(heard.answer.words)
    odd = heard.doubt and not suggestions(heard.doubt)  # "yeah 450 at the wheels" is no 450 °F, nor °C
    if heard.not_sure and not heard.doubt and own.kind in ("choice", "several", "number"):
        return perhaps_not_sure(own, heard.answer) if _asks_of_another(vocabulary, own, heard.answer.words) else heard
    if own.kind == "choice":
        return _by_its_own_words(vocabulary, heard)
    if own.kind != "number" or heard.fact is None or odd or len(words.split()) < 2:
        return heard
    numbers = [one for one in vocabulary.values() if one.source == "asked" and one.kind == "number"]
    found: list[Understood] = []
    for hit in SPAN.finditer(words):
        taken = understand(own, with_unit(own, words, hit) or hit.group(0)).fact
        if taken is None or taken.value != heard.fact.value:
            continue
        marked = widest(list(as_mentioned(numbers, words, hit)))
        alike = {vocabulary[one.answer.fact].quantity for one in marked}
        if len(alike) != 1 or own.name in {one.answer.fact for one in marked}:
            return heard
        if not heard.doubt and vocabulary[marked[0].answer.fact].quantity == own.quantity:
            return heard
        found.append(marked[0])
    return _not_this(heard, found) if found else heard


def _by_its_own_words(vocabulary: Mapping[str, FactDef], heard: Understood) -> Understood:
    """A choice, where words name it that aren't part of what the vocabulary marks as another fact's: "it's just the
    factory turbo" tells of no pump. One word in the same clause as such a mark only leans to it: "24 valve it says on
    the engine" tells hardly where power was measured."""
    own, words = vocabulary[heard.answer.fact], heard.answer.words
    if heard.fact is None or heard.doubt or choosing.places(words, own.mentioned):
        return heard
    phrases = next(((one.name, *one.words) for one in own.choices if one.name == heard.fact.value), ())
    places = choosing.places(words, phrases)
    others = [one for one in vocabulary.values() if one.source == "asked" and not one.volunteered and one is not own]
    if not places or len(words.split()) < LEAST_WORDS:
        return heard
    choosers = [one for one in others if one.kind in ("choice", "several") and one.mentioned and one.topic != own.topic]
    marks = {one.name: choosing.places(words, one.mentioned) for one in choosers}
    told = [one for one in take_all([one for one in choosers if marks[one.name]], words) if one.fact is not None]
    stems, his = choosing.stems_of(words), _words_of(own)
    wider = [one for one in told if places < (mark := marks[one.answer.fact]) and {stems[at] for at in mark} - his]
    if wider:
        return _not_this(heard, wider)
    ends = [at for at, stem in enumerate(stems) if not stem.isalnum()]
    clause = {sum(end < at for end in ends) for at in places}
    beside_it = any(clause == {sum(end < at for end in ends) for at in marks[one.answer.fact]} for one in told)
    if len(places) > 1 or not beside_it or chosen.said_before(own, words, str(heard.fact.value)):
        return heard
    return replace(heard, doubt=sounds_like(own, heard.fact.value))


def _words_of(definition: FactDef) -> set[str]:
    """The words by which a fact is asked for and chosen, without their endings."""
    his = _asked_by(definition)
    his |= choosing.words_of(tuple((one.name, (*one.words, *one.hints)) for one in definition.choices))
    return {stem_of(word) for word in his}


def _asked_by(definition: FactDef) -> set[str]:
    """The words of a fact's name and of its questions."""
    return set(re.findall(r"[a-z]+", f"{definition.name} {definition.ask} {definition.check_by}".lower()))


def _asks_of_another(vocabulary: Mapping[str, FactDef], own: FactDef, words: str) -> bool:
    """Whether what somebody doesn't know is another fact, by a word of its name: "don't know what cam"."""
    asked = [one.name for one in vocabulary.values() if one.source == "asked" and one is not own]
    if any(" " in name and choosing.holds(words, [name]) for name in asked):
        return True
    his = _asked_by(own)
    said = {found["what"].lower().removesuffix("s") for found in NOT_KNOWN_WHAT.finditer(words)} - his
    names = {word for name in asked for word in name.split()} - his - GENERAL
    return any(name.startswith(one) for one in said for name in names)


def without_others(vocabulary: Mapping[str, FactDef], found: Apart) -> Apart:
    """An answer to several questions taken apart, without what its words mark as another fact's."""
    return replace(found, heard=tuple(one for one in found.heard if not unless_of_another(vocabulary, one).again))


def offers(
    vocabulary: Mapping[str, FactDef],
    heard: Understood,
    settled: Collection[str],
    opening: bool,
    given: Mapping[str, str] | None = None,
) -> list[Understood]:
    """What a sentence holds beside its answer, the size that is on it among that; an ``opening`` that names a size is
    the request too, of who wants a new turbo also that of a friend's, and what troubles him goes to today's trouble;
    of who complains to what it does."""
    found, words = also_said(vocabulary, heard, settled, given), heard.answer.words
    complains = heard.fact is not None and heard.fact.value == "complaint"
    now = size_now(words) or (size_bought(words) if opening and complains else "")
    now = now if "present size" in vocabulary and "present size" not in settled else ""
    found += [understand(vocabulary["present size"], now)] if now and heard.answer.fact != "present size" else []
    found += _reasons(vocabulary, heard, {*settled, *(one.answer.fact for one in found)})
    if not opening:
        return found
    wants = heard.fact is not None and heard.fact.value == "new turbo"
    told = {
        "request": words if (asks_for_a_size(words) and not complains) or (wants and HIS_FRIENDS.search(words)) else "",
        "today's trouble": trouble_told(words, vocabulary) if wants else "",
    }
    texts = [
        understand(vocabulary[fact], said)
        for fact, said in told.items()
        if said and fact in vocabulary and fact not in settled
    ]
    does = _complained_of(words, vocabulary) if complains and "complaint" not in settled else ()
    return [*texts, *does, *found]


def _reasons(vocabulary: Mapping[str, FactDef], heard: Understood, settled: Collection[str]) -> list[Understood]:
    """What free text tells plainly of the choice that is asked as soon as it is known: "the 64 my buddy runs"."""
    if heard.fact is None or vocabulary[heard.answer.fact].kind != "text":
        return []
    found = []
    for one in vocabulary.values():
        if one.kind == "choice" and one.name not in settled and retold.hangs_on(one, heard.answer.fact):
            told, words = understand(one, heard.answer.words), heard.answer.words
            value = told.fact.value if told.fact is not None and not told.doubt else ""
            phrases = [phrase for choice in one.choices if choice.name == value for phrase in choice.words]
            found += [told] if choosing.places(words, [each for each in phrases if each[0] != "~"]) else []
    return found


def of_other_calls(vocabulary: Mapping[str, FactDef], opening: str, kind: str) -> set[str]:
    """The facts that are only asked in calls of another ``kind`` than this one, as the fact ``opening`` tells it; none
    about life and limb, which are heard in any call."""

    def never(condition: Condition | None) -> bool:
        match condition:
            case All(parts=parts):
                return any(map(never, parts))
            case AnyOf(parts=parts):
                return all(map(never, parts))
            case Is(fact=fact, choices=choices, negated=negated):
                return fact == opening and (kind in choices) is negated
            case Known(fact=fact, negated=negated):
                return negated and fact == opening
            case _:
                return False

    return {one.name for one in vocabulary.values() if one.topic != SAFETY and never(one.ask_when)}


def _complained_of(words: str, vocabulary: Mapping[str, FactDef]) -> list[Understood]:
    """What an opening already says of what it does, so that nobody has to tell it twice: "it barks since ..."."""
    definition = vocabulary.get("complaint")
    words = words if definition is None else vague.without_vague(words, definition.vague)
    try:
        choices = () if definition is None else [(choice.name, choice.words) for choice in definition.choices]
        named = choosing.read_several(words, choices, by_name=False) if choices else frozenset[str]()
    except Unclear:
        return []
    return [understand(definition, " and ".join(sorted(named)))] if definition and named else []


def may_be_beside(heard: Understood, definition: FactDef) -> bool:
    """Whether the words may mean something else than was asked: free text, or what only leans to a choice; not a wish
    that names what it is about."""
    words = heard.answer.words
    wish = definition.name == "request" and (WANTED.search(words) is not None or bool(decode(words).fixes))
    wish = wish or (definition.name in SIZES and decode(words).inducer is not None)
    free = definition.kind == "text" and not wish and heard.fact is not None
    return free or _leans(heard) or (heard.not_sure and heard.doubt != "")


def _leans(heard: Understood) -> bool:
    """Whether words only lean to a choice, or to yes or no."""
    yes_or_no = heard.fact is not None and isinstance(heard.fact.value, bool)
    return LEANT in heard.doubt or (yes_or_no and heard.doubt != "")


def beside_the_question(heard: Understood, more: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> Understood:
    """Free text that plainly says ``more`` and nothing that anybody complains of, doubted as the answer; words that
    plainly say ``more`` and only lean to a choice with it are no answer."""
    if _leans(heard) or heard.not_sure:
        value = None if heard.fact is None else heard.fact.value
        named = chosen.plainly(vocabulary[heard.answer.fact], heard.answer.words) if heard.fact is not None else None
        if value and isinstance(value, frozenset) and value == named:  # "70% daily 30% tow 12k"
            return heard
        if heard.doubt.startswith(NEAREST):  # "a tractor that ploughs"
            return heard
        return heard if _leans_apart(heard, more, vocabulary) else replace(_not_this(heard, more), not_sure=False)
    about = " and ".join(one.answer.fact for one in more)
    if choosing.holds(heard.answer.words, _troubles(vocabulary)):
        return heard
    return replace(heard, doubt=f"That tells the {about}. Is it the answer to this question too?")


def _leans_apart(heard: Understood, more: Sequence[Understood], vocabulary: Mapping[str, FactDef]) -> bool:
    """Whether a clause that tells nothing of what else is told leans to the same: "could have been boost, he turned it
    up to 45"."""

    def told_in(clause: str, one: Understood, plainly: bool) -> bool:
        told = understand(vocabulary[one.answer.fact], clause)
        if told.fact is None or one.fact is None:
            return False
        clear, value = told.fact.value, one.fact.value
        same = clear == value
        if isinstance(clear, Range) and isinstance(value, Range):  # "190 on the plate, I'd like 220 or so"
            same = clear.low <= value.low and value.high <= clear.high
        return same and not (plainly and told.doubt)

    parts = re.split(r"[,;.!?](?!\d)|\b(?:but|because|and|that|which)\b", heard.answer.words)
    clauses = [clause.strip() for clause in parts if clause.strip()]
    return any(told_in(one, heard, False) and not any(told_in(one, other, True) for other in more) for one in clauses)


def _not_this(heard: Understood, more: Sequence[Understood]) -> Understood:
    """Words that say ``more`` and nothing of what was asked."""
    about = " and ".join(one.answer.fact for one in more)
    return replace(heard, fact=None, doubt="", again=f"That tells the {about}, and no answer that I can make out.")


def trouble_told(words: str, vocabulary: Mapping[str, FactDef]) -> str:
    """What an opening tells of a trouble of his own truck, from its clause to the end ("mine runs hot on the grades");
    "" for nothing."""
    for clause in CLAUSE.finditer(words):
        elsewhere = WANTED.search(clause[0]) or OTHERS.search(clause[0])
        if choosing.holds(clause[0], _troubles(vocabulary)) and not elsewhere:
            return words[clause.start() :].strip()
    return ""


def _troubles(vocabulary: Mapping[str, FactDef]) -> tuple[str, ...]:
    """What callers say of each thing that they complain of, or of any."""
    definition = vocabulary.get("complaint")
    if definition is None:
        return ()
    return (*(phrase for choice in definition.choices for phrase in (choice.name, *choice.words)), *definition.vague)


def corrects(definition: FactDef, before: str, words: str) -> Understood | None:
    """The choice that the opening's answer should have been, from words at another question that deny it by its name
    and name another ("no, it's not a complaint, I want a new turbo")."""
    was = understand(definition, before).fact
    if was is None or not choosing.holds(words, [str(was.value)]):
        return None
    said, denied = choosing.heard(words, [(choice.name, choice.words) for choice in definition.choices])
    other = next(iter(said)) if len(said) == 1 else was.value
    return understand(definition, str(other)) if was.value in denied and other != was.value else None
