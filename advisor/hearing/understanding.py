"""From a caller's words to a fact: what was understood, what to ask again, what to doubt, what to read
back."""

import re
from contextlib import suppress
from dataclasses import replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import CLOSING, Answer, Understood
from advisor.units import Range, Unclear
from advisor.words.not_knowing import not_known
from advisor.words.plain_yes_no import plainly_opened, read_assent

from . import (
    asides,
    asked_back,
    between,
    choosing,
    counted,
    gauged,
    in_figures,
    moved,
    percent,
    present,
    recalled,
    replaced,
    slips,
    spoken,
    storied,
    surroundings,
    unit_named,
    until,
    volunteered,
    weighed,
)
from .chosen import OPENS, TAKEN_AS, TRUSTED, chosen
from .nothing import says_nothing
from .request import decode
from .standing_for import stands_for
from .taken import as_fact, sentence, suggestions
from .understood import LEANT, mended, not_sure, perhaps_not_sure, settled, sounds_like, value_words
from .yes_no import besides, yes_or_no

NO_FIGURE = re.compile(
    r"\b(same|like) (as |that of )?(my|his|her|their|the|a(?! (?:hundred|thousand)\b)) "
    r"|\b(?:stock|factory) power\b|\blike it came\b",
    re.IGNORECASE,
)
UNSURE_START = re.compile(
    r"^(?:i'?m |well )?(?:not (?:too |really |quite )?sure|no idea|(?:i )?don'?t know)[\s,;.:-]+(?:but )?",
    re.IGNORECASE,
)
LEAVES_IT_TO_US = re.compile(
    r"(?:(?:well|uh|um|oh|honestly|really|i|i've|got|have|rightly)[, ]+)*"
    r"(?:no (?:idea|clue|notion)|(?:don'?t|do not) (?:rightly |really |even )?know|nothing in (?:mind|particular)"
    r"|you tell me"
    r"|(?:what(?:ever)?|that's what) (?:do |would )?you(?:'d|'re)? (?:think|recommend|suggest|reckon|say|here|for)\b)",
    re.IGNORECASE,
)
BOUNDED = re.compile(
    r"\b(?:(?<!more or )less|more|better than|under|over|below|above|at (?:least|most)|up to)\b(?! or less)",
    re.IGNORECASE,
)
KNOWN_AT_ALL = re.compile(r"\b(?:do you (?:know|have)|as near as you know)\b", re.IGNORECASE)
HORSE = re.compile(r"\b(?:horse(?:s|power)?|hp)\b", re.IGNORECASE)
HOLES = re.compile(r"\b(?:\d|five|six|seven|eight|nine|ten)(?: holes?)?(?: ?x ?| by )", re.IGNORECASE)
LIMIT_ABOUT = re.compile(r"\b(?:up to|(?:no|not) (?:more|over) than) (?:about|around|roughly)\b", re.IGNORECASE)
FOR_NOW = re.compile(r"\b(?:for now|to (?:start|begin) with|at first|later)\b", re.IGNORECASE)
UP_TO = re.compile(r"\bup to\b", re.IGNORECASE)
ELSE_APART = re.compile(r"(?:[,;.](?=\s)|\b(?:and|but|so)\b).*\belse\b", re.IGNORECASE)  # "a tow rig, nothing else"
ADDED = re.compile(r"\bplus (?:whatever|what|the|a|some)\b", re.IGNORECASE)  # "stock 325 plus whatever the tune adds"
ALL_UP = re.compile(r"\b(?:gross(?:es|ing)?|all[ -]up|combined|g[cv]wr?)\b", re.IGNORECASE)
ANOTHERS = "That is told of somebody else's."
PAST = re.compile(r"\bwas\b", re.IGNORECASE)
MOST_ASKED = re.compile(r"\b(?:heaviest|worst|highest|under|up to|limit|governed|rated)\b", re.IGNORECASE)


def understand(definition: FactDef, words: str) -> Understood:
    """What ``words`` say about the fact.

    A number that isn't plausible is doubted, not refused: the fact is there and ``doubt`` asks. "Not sure"
    gives a number its prior range; a choice then stays unknown. Words that aren't understood give ``again``.
    """
    words = units.clean(words).strip()
    answer = Answer(definition.name, words)
    if not words:
        return _again(answer, "Nothing was said", definition)
    if definition.kind == "text":
        said = spoken.settle(words)
        if says_nothing(said):
            return Understood(answer, None, f"{definition.name}: nothing", not_sure=True)
        if definition.volunteered == "year" and (year := volunteered.year_in(words, alone=True)):
            return settled(definition, answer, year)
        unsure = units.is_unsure(words) or units.is_unsure(said)
        if definition.name == "request" and LEAVES_IT_TO_US.match(said):
            unsure = not decode(said).fixes
        return not_sure(definition, answer) if unsure else settled(definition, answer, words)
    if definition.volunteered == "questions":
        unsure = units.is_unsure(words) and not asked_back.asks(words)
        return not_sure(definition, answer) if unsure else volunteered.wondered(definition, answer)
    if back := asked_back.reply(definition, words):
        if definition.kind == "number" and definition.left_open and asked_back.what_is_that(words):
            return replace(not_sure(definition, answer), doubt=f"{back} Shall it be left open?")
        sought = _heard(definition, answer, words) if asked_back.rings_for(definition, words) else None
        if sought is not None and sought.fact is not None:
            return replace(sought, doubt=sought.doubt or sounds_like(definition, sought.fact.value))
        return Understood(answer, None, "", again=back)
    whole = definition.name in CLOSING or asked_back.rings_for(definition, words)
    heard = _of_his_own(definition, answer, words if whole else asked_back.answered(words))
    doubtful = asked_back.doubtful(words) or asked_back.unsure_which(definition, words) or spoken.hums(words)
    doubtful = doubtful or counted.counts_another(definition, words)
    told = definition.kind == "number" or definition.name in CLOSING or OPENS.match(words) is not None
    told = told or words.lower() in definition.choice_names
    if heard.fact is not None and not heard.doubt and not told:
        doubtful = doubtful or recalled.rather_not_sure(definition.heard_of_any, words)
    if definition.kind == "number" and heard.fact is not None and isinstance(value := heard.fact.value, Range):
        doubtful = doubtful or (value.exact and asides.undecided(words, definition.quantity))
        doubtful = doubtful or storied.passed_over(definition, words, value, heard.unit)
    if heard.fact is None or heard.doubt or heard.not_sure or not doubtful:
        return heard
    return replace(heard, doubt=sounds_like(definition, heard.fact.value))


def _of_his_own(definition: FactDef, answer: Answer, words: str) -> Understood:
    """What is said of his own truck where another's is spoken of too; what is told of another's alone waits for a
    yes, but where it is asked about others."""
    own = present.own_clauses(words)
    if own == words or _asks_about_others(definition):
        return _heard(definition, answer, words)
    if own and (heard := _heard(definition, answer, own)).fact is not None:
        return heard
    heard = _heard(definition, answer, words)
    if heard.fact is None or heard.doubt or heard.not_sure:
        return heard
    return replace(heard, doubt=f"{ANOTHERS} {sounds_like(definition, heard.fact.value)}")


def _asks_about_others(definition: FactDef) -> bool:
    """Whether one of the choices is about somebody he knows."""
    return any(choosing.holds("friend", choice.words) for choice in definition.choices)


def _heard(definition: FactDef, answer: Answer, words: str) -> Understood:
    """What is said about the fact where something is."""
    said = spoken.settle(words)
    if units.is_unsure(words) or units.is_unsure(said):
        return not_sure(definition, answer)
    try:
        match definition.kind:
            case "number":
                return _gauged(definition, answer, said)
            case "yes/no":
                return yes_or_no(definition, answer, said)
            case _:
                return chosen(definition, answer, said)
    except Unclear as unclear:
        meant = slips.mended(said, slips.known_words(definition)) if definition.kind in ("number", "yes/no") else said
        if meant != said and (taken := understand(definition, meant)).fact is not None:
            return mended(definition, taken, answer)
        heard = definition.heard_of_any
        figured = definition.kind != "number" or surroundings.names_a_figure(said)
        if heard and not figured and " " in said and recalled.likely_not_sure(heard, said) > TRUSTED:
            return perhaps_not_sure(definition, answer)
        return _again(answer, str(unclear), definition, unclear.hint)


def example(definition: FactDef) -> str:
    """An answer that would be understood."""
    match definition.kind:
        case "number":
            pick = definition.typical if definition.typical is not None else _middle(definition)
            pick = pick or _middle(definition)  # stock injectors, 0 % over, show nothing of how a figure is said
            return "" if pick is None else units.show_computed(pick, definition.unit, definition.quantity)
        case "yes/no":
            return "yes"
        case "choice" | "several":
            return ", ".join(choice.name for choice in definition.choices)
        case _:
            return ""


def agrees(said: str) -> bool | None:
    """Yes, no, or neither was said; a question back is neither, nor is what speaks of something else."""
    if (plainly := read_assent(said)) is not None:
        return plainly
    said = plainly_opened(said)
    if asked_back.asks(said) or len(besides(said)) > 1:
        return None
    try:
        return units.read_yes_no(asked_back.answered(said))
    except Unclear:
        return None


def _gauged(definition: FactDef, answer: Answer, said: str) -> Understood:
    """The figure said, as a gauge shows it; whether it is more than the gauge can show is asked where that is open."""
    shown = gauged.plainly(said) if definition.quantity in gauged.MEASURED else gauged.Gauged(said)
    heard = _figure(definition, answer, shown.words)
    if not shown.or_more or heard.fact is None or not isinstance(heard.fact.value, Range) or suggestions(heard.doubt):
        return heard
    most = units.show(heard.fact.value, heard.unit, definition.quantity)
    return replace(heard, doubt=f"That may be as far as the gauge goes. Did you mean {most} or at least {most}?")


def _figure(definition: FactDef, answer: Answer, said: str) -> Understood:
    """The figure said; where that comes out otherwise once slips are mended, so, on a yes."""
    yearless = volunteered.without_year(said)
    if asides.FIGURE.search(yearless):  # "550, it's a 2008"
        said = yearless
    meant = slips.mended(said, slips.known_words(definition), slips.LONG)
    if meant == said:
        return _number(definition, answer, said)
    taken = understand(definition, meant)
    try:
        literal = _number(definition, answer, said)
    except Unclear:
        if taken.fact is None:
            raise
        return mended(definition, taken, answer)
    same = taken.fact is None or (literal.fact is not None and literal.fact.value == taken.fact.value)
    return literal if same else mended(definition, taken, answer)


def _number(definition: FactDef, answer: Answer, said: str) -> Understood:
    if definition.quantity != "money" and asides.is_money(said):
        raise Unclear("that is said as money")
    if otherwise := surroundings.of_another_letter(said, definition.quantity):
        units.read_number(otherwise, definition.quantity, definition.unit)  # raises, and says what it is said as
    if definition.quantity == "percent" and (few := percent.all_but(said)):
        fact = _number(definition, answer, few).fact
        if fact is not None and isinstance(fact.value, Range):
            most = Range(1.0 - fact.value.high, 1.0 - fact.value.low)
            return replace(settled(definition, answer, most), doubt=sounds_like(definition, most))
    said = in_figures.by_figure(said, definition.quantity)
    if definition.quantity == "percent":
        said = percent.over(said, definition.ask)
    if definition.quantity == "time" and (so_long := until.left(said)):
        with suppress(Unclear):
            until_then = _number(definition, answer, so_long.words)
            if until_then.fact is not None:
                doubt = sounds_like(definition, until_then.fact.value) if so_long.perhaps else ""
                return replace(until_then, doubt=until_then.doubt or doubt)
    if definition.quantity in ("rotation", "temperature"):
        said = surroundings.with_hundreds(said)
    if definition.quantity == "altitude" and (up := surroundings.without_strip(said)) != said:
        if not surroundings.names_a_figure(up):
            raise Unclear("that is how long the strip is, not how high")
        said = up
    if definition.quantity == "rotation":
        said = surroundings.with_speeds(said)
    if metric := surroundings.in_metric(said, definition.quantity):
        return replace(_number(replace(definition, unit=metric[1]), answer, metric[0]), answer=answer)
    said = spoken.bounded(said, backs_off=definition.quantity != "rotation")
    if (held := spoken.without_reserve(said)) and surroundings.names_a_figure(held):
        return _loosely(definition, answer, held)
    most_asked = MOST_ASKED.search(definition.ask) is not None
    span, ends_told = between.span(said, definition.quantity, definition.unit, most_asked)
    if most_asked and definition.quantity == "altitude" and len(clauses := between.each(said, definition.quantity)) > 1:
        read = [_number(definition, answer, part).fact for part in clauses]
        heights = [one.value for one in read if one is not None and isinstance(one.value, Range)]
        if len(heights) == len(clauses):
            highest = max(heights, key=lambda height: height.mid)
            return replace(settled(definition, answer, highest), doubt=sounds_like(definition, highest))
    if span and (both := _number(definition, answer, span)).fact is not None:
        return both if ends_told else replace(both, doubt=both.doubt or sounds_like(definition, both.fact.value))
    figured, unknown = surroundings.names_a_figure(said), not_known(said)
    if not figured and (none := percent.none_of_it(definition, said)) is not None:
        return settled(definition, answer, none)
    if not figured and unknown.openly:
        known_not = unknown.admitted or unknown.lacks
        return not_sure(definition, answer) if known_not else perhaps_not_sure(definition, answer)
    if made := storied.concluded(said):
        with suppress(Unclear):
            if (own := _number(definition, answer, made)).fact is not None and not own.doubt:
                return replace(own, answer=answer, doubt=sounds_like(definition, own.fact.value))
    if (left := moved.without_changes(said)) != said and not surroundings.names_a_figure(left):
        raise Unclear("that tells by how much it changed, not what it is", "ask what it is now")
    if stands := moved.standing(said, definition.plans, definition.quantity):
        with suppress(Unclear):
            moved_to = _number(definition, answer, stands)
            if moved_to.fact is not None:
                return replace(moved_to, doubt=moved_to.doubt or sounds_like(definition, moved_to.fact.value))
    for later in spoken.corrected(said) if spoken.denied(said) is None else ():
        if definition.said_as and surroundings.names_a_figure(later) and stands_for(definition, later, True) is None:
            said = later  # "half, no, more like two thirds"
    counted = figured and not (ELSE_APART.search(said) and asides.all_aside(said, definition.quantity))
    if not (figured and BOUNDED.search(said)) and (standing := stands_for(definition, said, counted)):
        if standing.exact and spoken.HEDGED.search(said) and counted == figured:
            standing = Range((1 - units.SPREAD) * standing.low, (1 + units.SPREAD) * standing.high)
        noted = as_fact(definition, answer, units.Heard(standing, definition.unit, said, True))
        vague = standing.low < (1 - 2 * units.SPREAD) * standing.high and not noted.doubt
        if standing == definition.prior and (unknown.admitted or unknown.perhaps):  # "stock, whatever that is"
            return not_sure(definition, answer) if unknown.admitted else perhaps_not_sure(definition, answer)
        taken_as = value_words(standing, definition)
        whole = definition.quantity == "percent" and standing.low == 1.0 and ELSE_APART.search(said) is not None
        doubtful = vague or unknown.admitted or whole
        return replace(noted, doubt=noted.doubt or f"{TAKEN_AS} {taken_as}. {LEANT}") if doubtful else noted
    if definition.quantity == "mass" and (one := weighed.apart(said, definition.mentioned, definition.unit)):
        noted = as_fact(definition, answer, units.Heard(one, definition.unit, said, False))
        return replace(noted, doubt=noted.doubt or sounds_like(definition, one))
    if (standing_now := _in_its_place(definition, answer, said)) is not None:
        return standing_now
    # "it's a 16 foot stock trailer, never weighed it"
    open_ = unknown.openly or unknown.admitted or unknown.lacks or unknown.unmeasured or unknown.perhaps
    unmeasured = figured and open_ and asides.all_aside(said, definition.quantity)
    several = len(asides.FIGURE.findall(said)) > 1
    if several and definition.denied_by and (told := _without_others(definition, said)) is not None:
        return replace(told, answer=answer)
    try:
        heard = surroundings.read(
            said,
            definition.quantity,
            definition.unit,
            definition.plausible,
            past=PAST.search(definition.ask) is not None,
        )
    except Unclear as unclear:
        told = _marked_clause(definition, said) or _without_others(definition, said)
        if told is not None:
            return replace(told, answer=answer)
        named = {HOLES: "how many holes and how wide", HORSE: "horsepower"} if definition.quantity == "percent" else {}
        if what := next((what for form, what in named.items() if form.search(said)), ""):
            over = "ask how much over stock they flow, or say 'not sure'"
            raise Unclear(f"that is {what}, not a percentage", over) from unclear
        if UNSURE_START.match(said):
            about = understand(definition, "about " + UNSURE_START.sub("", said))
            if about.fact is not None:
                return replace(about, answer=answer)
        if NO_FIGURE.search(said):
            raise Unclear("that isn't a figure yet", "ask what the other one has, or say 'not sure'") from unclear
        if not figured and (unknown.admitted or unknown.lacks or _no_to_known(definition, said)):
            return not_sure(definition, answer)
        if (not figured and (unknown.perhaps or unknown.unmeasured)) or unmeasured:
            return perhaps_not_sure(definition, answer)
        first = storied.figure_told(definition, said)
        if first is None:
            raise
        noted = as_fact(definition, answer, first)
        return replace(noted, doubt=noted.doubt or f"That sounds like {value_words(first.value, definition)}. {LEANT}")
    if unit_named.measured_otherwise(definition, said, heard):
        raise Unclear("that figure was said with a unit of something else")
    if heard.bound is not None and (definition.limit or UP_TO.search(said)):
        around = units.SPREAD if LIMIT_ABOUT.search(said) else 0.0
        heard = replace(heard, value=Range((1 - around) * heard.bound, (1 + around) * heard.bound))
    scaled = storied.in_thousands(definition, heard)
    added = ADDED.search(said) is not None and not heard.value.exact
    noted = as_fact(definition, answer, scaled)
    if noted.doubt and unmeasured:
        return perhaps_not_sure(definition, answer)
    if not noted.doubt and definition.quantity == "mass" and ALL_UP.search(said) and "rated" not in definition.ask:
        together = f"That may be truck and trailer together. Is the {definition.name}"
        return replace(noted, doubt=f"{together} {value_words(scaled.value, definition)}?")
    american = definition.quantity == "mass" and surroundings.may_be_short_tons(said)
    if not noted.doubt and (added or american or surroundings.far_apart_at_times(scaled, said, definition.quantity)):
        return replace(noted, doubt=sounds_like(definition, scaled.value))
    if definition.quantity != "money" or scaled is heard or noted.doubt:
        return noted
    return replace(noted, doubt=f"{TAKEN_AS} {value_words(scaled.value, definition)}. {LEANT}")


def _loosely(definition: FactDef, answer: Answer, said: str) -> Understood:
    """The figure of one who doesn't want to be held to it."""
    taken = _number(definition, answer, said)
    value = taken.fact.value if taken.fact is not None else None
    if not isinstance(value, Range) or not value.exact or definition.limit or taken.not_sure:
        return taken
    about = Range((1 - units.SPREAD) * value.low, (1 + units.SPREAD) * value.high)
    noted = as_fact(definition, answer, units.Heard(about, definition.unit, said, True))
    return replace(noted, doubt=taken.doubt and sounds_like(definition, about))


def _in_its_place(definition: FactDef, answer: Answer, said: str) -> Understood | None:
    """The figure that stands in the place of another one, for a yes."""
    past = PAST.search(definition.ask) is not None
    doubted = None
    for words in replaced.standing(said, definition.quantity, definition.unit, past, definition.plans):
        with suppress(Unclear):
            heard = _number(definition, answer, words)
            if heard.fact is None or heard.not_sure:
                continue
            if LEANT in (heard.doubt or LEANT):
                return replace(heard, doubt=heard.doubt or sounds_like(definition, heard.fact.value))
            doubted = doubted or heard
    return doubted


def _marked_clause(definition: FactDef, words: str) -> Understood | None:
    """Of several figures the one that the vocabulary marks as this fact's: "five inch pipe, four inch down pipe"."""
    marks = [phrase.replace("#", " ... ").strip(" .") for phrase in definition.mentioned if "..." not in phrase]
    joints = r"[,;](?!\d)|\b(?:with|but)\b" + ("" if re.search(r"\bbetween\b", words, re.IGNORECASE) else r"|\band\b")
    clauses = [part.strip() for part in re.split(joints, words) if part.strip()]
    marked = [clause for clause in clauses if surroundings.names_a_figure(clause) and choosing.holds(clause, marks)]
    rest = [clause.split() for clause in clauses if clause not in marked and not surroundings.names_a_figure(clause)]
    if any(surroundings.own_unit(clause, definition.quantity) for clause in rest):  # "44 in the shade, celsius"
        return None
    return understand(definition, marked[0]) if len(clauses) > 1 and len(marked) == 1 else None


MOST = re.compile(
    r"\b(?:at (?:the )?(?:most|highest|heaviest|steepest|hottest|worst|fastest|outside)|tops"
    r"|max(?:imum)?|loaded|full)\b",
    re.IGNORECASE,
)


def _without_others(definition: FactDef, words: str) -> Understood | None:
    """The figure that is left without clauses that tell of another one, as the vocabulary marks them; of the most that
    it can be, where that was asked."""
    parts = re.split(r"[,;](?!\d)|\b(?:and(?! a )|with|but|when|while)\b", words)
    clauses = [part.strip() for part in parts if part.strip()]
    kept = [clause for clause in clauses if not choosing.holds(clause, definition.denied_by)]
    figures = [clause for clause in kept if surroundings.names_a_figure(clause)]
    if definition.limit and len(most := [clause for clause in figures if MOST.search(clause)]) == 1:
        kept = figures = most
    if len(kept) == len(clauses) or len(figures) != 1:
        return None
    left_out = " , ".join(clause for clause in clauses if clause not in kept)
    unit = asides.unit_told(left_out, definition.quantity)
    if unit and not asides.unit_told(figures[0], definition.quantity):  # "2,800 kilos empty, loaded 3,200"
        in_it = understand(definition, f"{figures[0]} {unit}")
        if in_it.fact is not None and not suggestions(in_it.doubt):
            return in_it
    taken = understand(definition, figures[0])
    if taken.fact is None or not FOR_NOW.search(words):
        return taken
    return replace(taken, doubt=taken.doubt or sounds_like(definition, taken.fact.value))


def _no_to_known(definition: FactDef, words: str) -> bool:
    """Whether a plain no answers that he doesn't know the figure ("Do you know its stall speed?")."""
    try:
        return KNOWN_AT_ALL.search(definition.ask) is not None and not units.read_yes_no(words)
    except Unclear:
        return False


def _again(answer: Answer, what: str, definition: FactDef, hint: str = "") -> Understood:
    if not hint or (definition.kind == "number" and hint.startswith("for example")):
        shown = example(definition)
        kind = "one of:" if definition.kind in ("choice", "several") else "for example"
        hint = f"{kind} {shown}" if shown else "say it again in a few words"
    what, hint = sentence(what.rstrip(" .")), hint.rstrip(" .")
    again = f"{what} {sentence(hint)}." if what.endswith("?") else f"{what}; {hint}."
    return Understood(answer, None, "", again=again)


def _middle(definition: FactDef) -> float | None:
    prior = definition.prior or definition.plausible
    return None if prior is None else prior.mid
