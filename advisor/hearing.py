"""From a caller's words to a fact: what was understood, what to ask again, what to doubt, what to read
back."""

import re
from dataclasses import replace

from advisor import asides, choosing, leaning, present, slips, spoken, surroundings, units
from advisor.inference import explain
from advisor.inference.facts import Fact, Origin, Value
from advisor.knowledge import FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Range, Unclear

NOT_SURE = "not sure"
NO_FIGURE = re.compile(r"\b(same|like) (as |that of )?(my|his|her|their|the|a) ", re.IGNORECASE)
UNSURE_START = re.compile(
    r"^(?:i'?m |well )?(?:not (?:too |really |quite )?sure|no idea|(?:i )?don'?t know)[\s,;.:-]+(?:but )?",
    re.IGNORECASE,
)
NOT_MEASURED = re.compile(
    r"\b(?:never|not|haven'?t|hasn'?t|nobody)(?: (?:ever|been|had|has|actually|really|got|it|em|them|that|mine))*"
    r" (?:measured?|weigh(?:ed)?|check(?:ed)?|looked|counted|clocked|dyno(?:ed)?|tested|known?)\b"
    r"|\bdon'?t (?:know|have|recall|remember)\b|^(?:no|haven'?t|without) (?:(?:a|an|any|the|got) )*"
    r"(?:\w+ )?(?:gauges?|pyro|thermometer|tach(?:o|ometer)?|scales?|sheet|sticker|plate|sensor|probe)\b",
    re.IGNORECASE,
)
NO_IDEA = re.compile(
    r"(?:^|[,.;] |\b(?:i|we) )(?:really |honestly )?(?:don'?t|do not|couldn'?t|wouldn'?t|can'?t)"
    r" (?:know|tell y(?:ou|a)|say)(?:[,.;]|$)|\bno (?:idea|clue|notion)\b|\bfoggiest\b",
    re.IGNORECASE,
)
BOUNDED = re.compile(
    r"\b(?:less|more|better than|under|over|below|above|at (?:least|most)|up to)\b(?! or less)", re.IGNORECASE
)
KNOWN_AT_ALL = re.compile(r"\b(?:do you (?:know|have)|as near as you know)\b", re.IGNORECASE)
HOLES = re.compile(r"\b(?:\d|five|six|seven|eight|nine|ten)(?: holes?)?(?: ?x ?| by )", re.IGNORECASE)
LEANT = "Is that it?"
HEDGED = re.compile(
    r"\b(?:about|around|roughly|maybe|probably|(?:i|we) (?:suppose|guess|reckon|think|'d say)|ish)\b", re.IGNORECASE
)
UP_TO = re.compile(r"\bup to\b", re.IGNORECASE)
PAST = re.compile(r"\bwas\b", re.IGNORECASE)
EVER = re.compile(r"\bever\b", re.IGNORECASE)
ANOTHER_TIME = "Some of that is a plan, or past, or another truck's."
PATTERN = re.compile(r"\.\.\.|[/~]")  # what makes a phrase of the vocabulary more than words


def understand(definition: FactDef, words: str) -> Understood:
    """What ``words`` say about the fact.

    A number that isn't plausible is doubted, not refused: the fact is there and ``doubt`` asks. "Not sure"
    gives a number its prior range; a choice then stays unknown. Words that aren't understood give ``again``.
    """
    words = units.clean(words).strip()
    answer = Answer(definition.name, words)
    if not words:
        return _again(answer, "Nothing was said", definition)
    said = spoken.settle(words)
    if units.is_unsure(words) or units.is_unsure(said):
        return _not_sure(definition, answer)
    try:
        match definition.kind:
            case "number":
                return _figure(definition, answer, said)
            case "yes/no":
                return _yes_or_no(definition, answer, said)
            case "choice" | "several":
                return _chosen(definition, answer, said)
            case _:
                return _settled(definition, answer, words)
    except Unclear as unclear:
        meant = slips.mended(said, slips.known_words(definition)) if definition.kind in ("number", "yes/no") else said
        if meant != said and (taken := understand(definition, meant)).fact is not None:
            return _mended(definition, taken, answer)
        return _again(answer, str(unclear), definition, unclear.hint)


def _mended(definition: FactDef, taken: Understood, answer: Answer) -> Understood:
    """What was understood once slips of the typing finger were mended, for a yes."""
    if taken.fact is None or taken.not_sure:
        return replace(taken, answer=answer)
    asked = f"That looks like {value_words(taken.fact.value, definition)}. {LEANT}"
    fact = replace(taken.fact, origin=Origin("answer", answer.words))
    return replace(taken, answer=answer, fact=fact, doubt=taken.doubt or asked)


def value_words(value: Value, definition: FactDef | None) -> str:
    """A value as the shop says it, with the unit of the vocabulary."""
    return explain.words("", value, {} if definition is None else {"": definition})


def example(definition: FactDef) -> str:
    """An answer that would be understood."""
    match definition.kind:
        case "number":
            pick = definition.typical if definition.typical is not None else _middle(definition)
            pick = pick or _middle(definition)  # stock injectors, 0 % over, show nothing of how a figure is said
            return "" if pick is None else units.show(pick, definition.unit, definition.quantity)
        case "yes/no":
            return "yes"
        case "choice" | "several":
            return ", ".join(choice.name for choice in definition.choices)
        case _:
            return ""


def suggestions(doubt: str) -> tuple[str, ...]:
    """The answers that a doubt offers instead, in words that are understood."""
    offered = re.search(r"did you mean (.+)\?$", doubt)
    return tuple(offer.split(" (")[0] for offer in offered[1].split(" or ")) if offered else ()


def agrees(said: str) -> bool | None:
    """Yes, no, or neither was said."""
    try:
        return units.read_yes_no(said)
    except Unclear:
        return None


def _figure(definition: FactDef, answer: Answer, said: str) -> Understood:
    """The figure said; where that comes out otherwise once slips are mended, so, on a yes."""
    meant = slips.mended(said, slips.known_words(definition), slips.LONG)
    if meant == said:
        return _number(definition, answer, said)
    taken = understand(definition, meant)
    try:
        literal = _number(definition, answer, said)
    except Unclear:
        if taken.fact is None:
            raise
        return _mended(definition, taken, answer)
    same = taken.fact is None or (literal.fact is not None and literal.fact.value == taken.fact.value)
    return literal if same else _mended(definition, taken, answer)


def _number(definition: FactDef, answer: Answer, said: str) -> Understood:
    figured = surroundings.names_a_figure(said)
    if not figured and NO_IDEA.search(said):
        return _not_sure(definition, answer)
    for later in spoken.corrected(said):
        if definition.said_as and _said_as(definition, later, surroundings.names_a_figure(later)) is None:
            said = later  # "half, no, more like two thirds"
    if not (figured and BOUNDED.search(said)) and (standing := _said_as(definition, said, figured)):
        if standing.exact and HEDGED.search(said):
            standing = Range((1 - units.SPREAD) * standing.low, (1 + units.SPREAD) * standing.high)
        noted = _noted(definition, answer, units.Heard(standing, definition.unit, said, True))
        vague = standing.low < (1 - 2 * units.SPREAD) * standing.high and not noted.doubt
        taken_as = value_words(standing, definition)
        return replace(noted, doubt=f"That is taken as {taken_as}. {LEANT}") if vague else noted
    try:
        heard = surroundings.read(
            said,
            definition.quantity,
            definition.unit,
            definition.plausible,
            past=PAST.search(definition.ask) is not None,
        )
    except Unclear as unclear:
        if (told := _marked_clause(definition, said)) is not None:
            return replace(told, answer=answer)
        if definition.quantity == "percent" and HOLES.search(said):
            raise Unclear(
                "that is how many holes and how wide, not a percentage",
                "ask how much over stock they flow, or say 'not sure'",
            ) from unclear
        if UNSURE_START.match(said):
            about = understand(definition, "about " + UNSURE_START.sub("", said))
            if about.fact is not None:
                return replace(about, answer=answer)
        if NO_FIGURE.search(said):
            raise Unclear(
                "that isn't a figure yet", "ask what the other one has, or say 'not sure'"
            ) from unclear
        if not figured and (units.admits(said) or NOT_MEASURED.search(said) or _no_to_known(definition, said)):
            return _not_sure(definition, answer)
        raise
    if _measured_otherwise(definition, said, heard):
        raise Unclear("that figure was said with a unit of something else")
    if heard.bound is not None and (definition.limit or UP_TO.search(said)):
        heard = replace(heard, value=Range(heard.bound, heard.bound))
    return _noted(definition, answer, _in_thousands(definition, heard))


def _measured_otherwise(definition: FactDef, words: str, heard: units.Heard) -> bool:
    """Whether what was taken for the fact is said in the same words with a unit of another kind: "6000 feet, I live up
    at six thousand" is no power."""
    figures = list(asides.FIGURE.finditer(words))
    for figure in figures if len(figures) > 1 else ():
        if not asides.other_unit(re.findall(r"[^\s,;.]+", words[figure.end() :])[:3], definition.quantity):
            continue
        try:
            if units.read_number(figure.group(), definition.quantity, heard.unit).value == heard.value:
                return True
        except Unclear:
            continue
    return False


def _marked_clause(definition: FactDef, words: str) -> Understood | None:
    """Of several figures the one that the vocabulary marks as this fact's: "five inch pipe, four inch down pipe"."""
    marks = [phrase.replace("#", " ... ").strip(" .") for phrase in definition.mentioned if "..." not in phrase]
    clauses = [part.strip() for part in re.split(r"[,;](?!\d)|\b(?:and|with|but)\b", words) if part.strip()]
    marked = [clause for clause in clauses if surroundings.names_a_figure(clause) and choosing.holds(clause, marks)]
    return understand(definition, marked[0]) if len(clauses) > 1 and len(marked) == 1 else None


def _in_thousands(definition: FactDef, heard: units.Heard) -> units.Heard:
    """Engine speeds as they are called out: "three" is 3,000 rpm, "thirty four" 3,400; an altitude of "seven" is
    asked about."""
    within = definition.plausible
    bare = not re.search(r"[a-z]*(?:feet|foot|ft|m|met(?:er|re)s?)\b|'", heard.words, re.IGNORECASE)
    if definition.quantity == "altitude" and bare and 0 < units.from_si(heard.value.high, "ft", "altitude") < 100:
        figure = units.from_si(heard.value.mid, definition.unit, "altitude")
        unit = definition.unit
        raise Unclear(f"is that {figure:,.3g} {unit} or {1000 * figure:,.0f} {unit}?", "say the whole figure")
    if definition.quantity != "rotation" or within is None or re.search(r"rpm|rev|turns", heard.words, re.IGNORECASE):
        return heard
    for times in (1000.0, 100.0):
        value = Range(heard.value.low * times, heard.value.high * times)
        if heard.value.high < within.low and within.low <= value.low and value.high <= within.high:
            return replace(heard, value=value)
    return heard


def _said_as(definition: FactDef, words: str, figured: bool) -> Range | None:
    """The figure that words stand for in this shop ("mile high"); beside a figure only words that hold one
    themselves do ("half and half")."""
    phrases = [
        (str(index), tuple(phrase for phrase in said.words if not figured or surroundings.names_a_figure(phrase)))
        for index, said in enumerate(definition.said_as)
    ]
    phrases = [(index, kept) for index, kept in phrases if kept]
    try:
        found = choosing.read_several(words, phrases, by_name=False) if phrases else frozenset()
    except Unclear:
        return None
    if not found:
        return None
    # "hardly ever, a couple of times a year" says both
    values = [value for index in found if isinstance(value := definition.said_as[int(index)].value, Range)]
    low, high = max(value.low for value in values), min(value.high for value in values)
    return Range(low, high) if low <= high else None


def _no_to_known(definition: FactDef, words: str) -> bool:
    """Whether a plain no answers that he doesn't know the figure ("Do you know its stall speed?")."""
    try:
        return KNOWN_AT_ALL.search(definition.ask) is not None and not units.read_yes_no(words)
    except Unclear:
        return False


def _noted(definition: FactDef, answer: Answer, heard: units.Heard) -> Understood:
    shown = units.show(heard.value, heard.unit, definition.quantity)
    doubt = None
    if definition.plausible is not None:
        doubted = Range(heard.value.mid, heard.value.mid) if heard.approximate else heard.value
        doubt = units.plausibility(doubted, definition.plausible, definition.quantity, heard.unit)
        if doubt and not suggestions(doubt) and _impossible(doubted, definition):
            usual = units.show(definition.plausible, definition.unit, definition.quantity)
            raise Unclear(f"{shown} can't be right", f"{usual} is what we usually see")
    at_home = units.show(heard.value, definition.unit, definition.quantity)
    if heard.approximate:
        shown = f"about {units.show(heard.value.mid, heard.unit, definition.quantity)}, {shown}"
    echo = f"{definition.name}: {shown}" + ("" if at_home in shown else f" ({at_home})")
    fact = Fact(definition.name, heard.value, Origin("answer", answer.words))
    if not doubt and not definition.plans and not definition.limit and present.of_another_time(heard.words):
        doubt = f"{ANOTHER_TIME} Is it {at_home} today?"
    if not doubt and choosing.holds(heard.words, definition.denied_by):
        doubt = f"That may be another figure. Is the {definition.name} {at_home}?"
    return Understood(
        answer, fact, echo, doubt=_sentence(doubt or ""), read_back=_read_back(definition, heard), unit=heard.unit
    )


FAR_ABOVE, FAR_TOO_HOT, FAR_BELOW = 5.0, 2.0, 20.0
"""Times the top of the usual range (of a temperature in kelvin), and parts of its bottom, past which a figure can't be
right."""


def may_stand(definition: FactDef, doubted: Understood, denied: str) -> bool:
    """Whether a plain no to "did you mean" lets a figure stand; one that lies too far off to compute with does only
    where the same was said and denied before (``denied``)."""
    value = None if doubted.fact is None else doubted.fact.value
    far = isinstance(value, Range) and _impossible(value, definition)
    return bool(suggestions(doubted.doubt)) and (not far or doubted.answer.words == denied)


def _impossible(value: Range, definition: FactDef) -> bool:
    """Whether a figure (SI) lies so far off that nothing can be computed from it: a limit of 900,000 rpm, 0 litres."""
    usual = definition.plausible
    if usual is None:
        return False
    most = FAR_TOO_HOT if definition.quantity == "temperature" else FAR_ABOVE
    return value.high > most * usual.high > 0.0 or (usual.low > 0.0 and value.low < usual.low / FAR_BELOW)


def _settled(definition: FactDef, answer: Answer, value: Value) -> Understood:
    fact = Fact(definition.name, value, Origin("answer", answer.words))
    return Understood(answer, fact, f"{definition.name}: {value_words(value, definition)}")


def _not_sure(definition: FactDef, answer: Answer) -> Understood:
    if definition.kind == "number" and definition.prior is not None and not definition.left_open:
        fact = Fact(definition.name, definition.prior, Origin("answer", NOT_SURE))
        echo = f"{definition.name}: not sure, taken as {value_words(definition.prior, definition)}"
        return Understood(answer, fact, echo, not_sure=True)
    return Understood(answer, None, f"{definition.name}: not sure, left open", not_sure=True)


def _again(answer: Answer, what: str, definition: FactDef, hint: str = "") -> Understood:
    if not hint or (definition.kind == "number" and hint.startswith("for example")):
        shown = example(definition)
        kind = "one of:" if definition.kind in ("choice", "several") else "for example"
        hint = f"{kind} {shown}" if shown else "say it again in a few words"
    what, hint = _sentence(what.rstrip(" .")), hint.rstrip(" .")
    again = f"{what} {_sentence(hint)}." if what.endswith("?") else f"{what}; {hint}."
    return Understood(answer, None, "", again=again)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _yes_or_no(definition: FactDef, answer: Answer, said: str) -> Understood:
    """Yes or no, by the words for them or by those that the vocabulary has; what leans to one waits for a yes."""
    if units.admits(said) and not choosing.holds(said, ("yes/yeah/yep/yup/no/nope/nah",)):
        return _not_sure(definition, answer)
    try:
        yes = units.read_yes_no(said, EVER.search(definition.ask) is not None)
        apart = yes and not definition.plans and present.of_another_time(said)
        return replace(_settled(definition, answer, yes), doubt=f"{ANOTHER_TIME} Is it yes today?" if apart else "")
    except Unclear:
        standing = [("yes" if words.value else "no", words.words) for words in definition.said_as]
        if not standing:
            raise
        try:
            return _settled(definition, answer, choosing.read_choice(said, standing, by_name=False) == "yes")
        except Unclear:
            leant = leaning.lean(said, standing, by_name=False)
            if not leant.choice:
                raise
            taken = _settled(definition, answer, leant.choice == "yes")
            return replace(taken, doubt=f"That sounds like a {leant.choice}. Is it {leant.choice}?")


def _chosen(definition: FactDef, answer: Answer, said: str) -> Understood:
    """What was chosen; what the words only lean to is taken once somebody says yes to it."""
    choices = _choices(definition)
    try:
        if definition.kind == "several":
            chosen: Value = choosing.read_several(said, choices)
            named = choosing.read_several(said, choices)
        else:
            chosen = _one(definition, said)
            named = frozenset([chosen])
        taken = _settled(definition, answer, chosen)
        if (today := _as_it_stands(definition, answer, said)) is not None:
            return today
        rest = choosing.left_over(choosing.folded(said), choices)
        doubtful = leaning.thin(said, choices, named) or units.admits(rest)
        return replace(taken, doubt=_sounds_like(definition, named)) if doubtful else taken
    except Unclear as unclear:
        meant = slips.mended(said, choosing.words_of(tuple((name, tuple(phrases)) for name, phrases in choices)))
        if meant != said and (taken := understand(definition, meant)).fact is not None:
            return _mended(definition, taken, answer)
        if units.admits(said):
            return _not_sure(definition, answer)
        if (today := _as_it_stands(definition, answer, said)) is not None:
            return today
        leant = leaning.lean(said, choices)
        if leant.choice:
            named = frozenset([leant.choice])
            taken = _settled(definition, answer, named if definition.kind == "several" else leant.choice)
            return replace(taken, doubt=_sounds_like(definition, named))
        if 1 < len(leant.likely) < len(choices):
            which = f"is it {', '.join(leant.likely[:-1])} or {leant.likely[-1]}?"
            raise Unclear(which, f"one of: {', '.join(name for name, _ in choices)}") from unclear
        raise


def _as_it_stands(definition: FactDef, answer: Answer, said: str) -> Understood | None:
    """What is said of the truck today where plans, what was, or another truck are spoken of too; taken on a yes."""
    named, whole = present.told_apart(said, _choices(definition))
    if definition.plans or named == whole or (definition.kind == "choice" and len(named or whole) > 1):
        return None
    kept = named or whole
    taken = _settled(definition, answer, kept if definition.kind == "several" else next(iter(kept)))
    return replace(taken, doubt=f"{ANOTHER_TIME} {_sounds_like(definition, kept)}")


def _sounds_like(definition: FactDef, named: frozenset[str]) -> str:
    """The question whether that is it."""
    told = [f"{choice.name} ({choice.means})" if choice.means else choice.name for choice in definition.choices
            if choice.name in named]
    return f"That sounds like {' and '.join(told)}. {LEANT}"


def _one(definition: FactDef, words: str) -> str:
    """The choice that is named, or that only one name or phrase begins like."""
    try:
        return choosing.read_choice(words, _choices(definition))
    except Unclear:
        begun = {
            choice.name
            for choice in definition.choices
            if any(p.lower().startswith(words.lower()) for p in (choice.name, *choice.words) if not PATTERN.search(p))
        }
        if len(begun) != 1 or len(words) < 3:
            raise
        return begun.pop()


def _choices(definition: FactDef) -> list[tuple[str, tuple[str, ...]]]:
    return [
        (choice.name, (*choice.words, *(choosing.DENIES + phrase for phrase in choice.denied_by)))
        for choice in definition.choices
    ]


def _middle(definition: FactDef) -> float | None:
    prior = definition.prior or definition.plausible
    return None if prior is None else prior.mid


def _read_back(definition: FactDef, heard: units.Heard) -> str:
    """How to say the number back digit by digit, where another one sounds like it."""
    if not heard.value.exact:
        return ""
    digits = units.sounds_alike(round(units.from_si(heard.value.low, heard.unit, definition.quantity), 6))
    return f"{digits} {heard.unit}".rstrip() if digits else ""
