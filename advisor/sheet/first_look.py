"""What of the advice can be taken in at one look: his choices in two or three lines each, duties that fight each other
in a line each, and the few sentences of advice that are worth saying aloud. All of it is told in full on request."""

import re
from collections.abc import Collection, Iterator

from advisor.comparing import WHY
from advisor.knowledge import Knowledge
from advisor.matching.engine import FULL_LOAD
from advisor.outcome import Consultation, Line, Option
from advisor.sheet import steps, text
from advisor.sheet.layout import Block, Para, heading
from advisor.sheet.parts import money
from advisor.told_places import TOLD_PLACES
from advisor.wording import first_sentence

ROOM = 75
"""Letters for what a choice gains and costs past the first of each: a line of a usual screen."""
MOST_SAID = 2
"""Pieces of advice that are said by themselves; with what it rests on, enough for one breath (own judgement)."""
HEAT = ("towing exhaust temperature", "exhaust temperature")
"""Of two heats of the first choice the one on the grade is told."""
FIRST = ("objections", "goal", "trouble", "complaint", "findings", "on-it", "replacement", "sled", "fuel", "housing")
"""Topics of what is said first: what is in his way, what his wish can't be, what bothers him."""
FIGHTING = "duty"
"""The topic of what is said where duties fight each other."""
_PLACES = "|".join({place for told in TOLD_PLACES.values() for place in (told.goal, told.other, told.named)})
_SPEED = re.compile(rf"({_PLACES}) (?:at|from) [\d,]+ rpm(?: to [\d,]+ rpm)?| from [\d,]+ rpm(?= (?:in|with|at|on) )")
_ONE = r"(?:(?!, | and ).)+"
_SEVERAL = re.compile(rf"({_ONE})((?:, {_ONE})*) and {_ONE}? ({_PLACES})")
_PLACE = re.compile(rf" (?:{_PLACES})$")
_ALWAYS_THERE = re.compile(r"lights |builds boost |takes \S+ s longer ")
"""What is read in the main duty, whichever is asked."""


def choices(consultation: Consultation) -> Iterator[Block]:
    """His choices: title, code and price, what weighs most of what each gains and costs, and what is wrong with it."""
    offered = text.shown(consultation)
    if not offered:
        return
    duties_ = {duty for duty, *_ in offered[0].line.rows} - {FULL_LOAD}
    yield from heading("His choices" if len(offered) > 1 else "His choice")
    for number, option in enumerate(offered, 1):
        mark = text.option_mark(option, consultation.verdict)
        title = "" if option.role == "recommended" else f"{option.short_title or option.title}, "
        named = f"{f'[{mark}] ' if mark else ''}{title}{option.code}, {money(option.price)}"
        yield Para(named, "option", 2, f"{number}  ")
        told = option.role == "requested" and consultation.requested_words  # in lines of their own
        yield from _about(option, " ".join(consultation.requested_words) if told else "", len(duties_) != 1)


def without_speeds(words: str) -> str:
    """Words without the engine speeds at which a difference is read: nobody takes them in by ear."""
    return _SPEED.sub(r"\1", words)


def _about(option: Option, told: str, placed: bool) -> Iterator[Block]:
    """What is to be known of a choice, without what is ``told`` of it already; each difference ``placed`` in a duty."""
    first = option.role == "recommended"
    compared = "" if told or first else _gains_and_costs(option, placed)
    if first and (figures := ", ".join(_figures(option))):
        yield Para(figures, "", 5)
    aside = "; ".join(option.not_as_asked) if option.role == "requested" else option.closest_because
    if aside and not first:
        yield Para(aside, "", 5)
    if option.ruled_out_by:
        new = [words for words in option.out_words if words not in told]
        yield Para(" ".join(map(first_sentence, new)) or "for what is told above", "care", 5, "ruled out: ")
    if compared:
        yield Para(compared, "", 5)
    minded = [words for words in map(_in_a_clause, option.to_mind) if words not in compared]
    if minded:
        yield Para("; ".join(minded), "care", 5, "mind: ")
    for words in () if first else map(_hanging, option.hangs):
        yield Para(words, "care", 5)


def _figures(option: Option) -> Iterator[str]:
    """The figures that a caller asks for first: power, where it lights, heat."""
    figures = {figure.name: figure for figure in option.figures}
    for name in ("power made", "spool rpm", next((heat for heat in HEAT if heat in figures), "")):
        if figure := figures.get(name):
            lights = "lights at " if name == "spool rpm" else ""
            yield f"{lights}{figure.text}{f' {figure.note}' if figure.note else ''}"


def _in_a_clause(words: str) -> str:
    """A fault without the engine speeds and why it is one, and only perhaps where it is one in a part of his ranges."""
    fault, not_everywhere, _ = without_speeds(WHY.sub("", words)).partition("; not so if ")
    fault, somewhere, _ = fault.partition(" if ")
    return f"perhaps {fault.rstrip(',')}" if somewhere or not_everywhere else fault


def _hanging(words: str) -> str:
    """What becomes of a choice in a part of his ranges, and where, if that is short; without why."""
    where, _, becomes = words.partition(": ")[0].rstrip(".").removeprefix("If ").rpartition(", ")
    return f"{becomes} {f'if {where}' if len(where) <= ROOM else 'in a part of what he gave'}"


def _first_of(words: str, placed: bool) -> tuple[str, int]:
    """The first of several differences that are read at one place, without the engine speed, and the place where it
    tells more; and how many others."""
    said, others = without_speeds(words), 0
    if several := _SEVERAL.fullmatch(said):
        said, others = f"{several[1]} {several[3]}", 1 + several[2].count(", ")
    return said if placed and not _ALWAYS_THERE.match(said) else _PLACE.sub("", said), others


def _gains_and_costs(option: Option, placed: bool) -> str:
    """The first of what it gains and costs, a second of each where there is room, and how many more there are."""
    sides = (option.gains, option.loses)
    most = [1, 1]

    def worded() -> str:
        told = [[_first_of(words, placed) for words in side[:count]] for side, count in zip(sides, most, strict=True)]
        more = sum(map(len, sides)) - sum(map(len, told)) + sum(others for side in told for _, others in side)
        both = ", but ".join("; ".join(words for words, _ in side) for side in told if side)
        return both + (f"; {more} more" if more else "")

    for at, side in enumerate(sides):
        most[at] += 1
        if len(worded()) > ROOM or most[at] > len(side):
            most[at] -= 1
    return worded() or text.LITTLE


def duties(consultation: Consultation) -> Iterator[Block]:
    """Duties that fight each other: what to say, and a line for the set-up that serves each alone."""
    apart = text.trades_apart(consultation)
    if not apart:
        return
    yield from heading("Duties against each other")
    saying = [words for line, words in _advised(consultation) if line.topic == FIGHTING] or [consultation.trade_words]
    for words in filter(None, saying):
        yield Para(words, "say", 2, "Say: ")
    numbers = {option.code: at for at, option in enumerate(text.shown(consultation), 1)}
    for trade in apart:
        at, option = numbers.get(trade.option.code), trade.option
        if text.is_best(trade, consultation):
            which = text.BEST_ALREADY
        else:
            which = f"number {at} of his choices" if at else f"{option.code}, {money(option.price)}"
        yield Para(f"only for {trade.duty} ({text.trade_share(trade)}): {which}", "option", 2, "- ")


def advice(
    consultation: Consultation, knowledge: Knowledge, said: Collection[str] = ()
) -> tuple[tuple[str, ...], int]:
    """The sentences of advice that are worth saying aloud, what is in his way or his wish can't be first; and how many
    more there are: what the lines about his part say too, and remarks about a turbo."""
    unsaid = steps.without_steps(text.worth_saying(consultation, knowledge, said), consultation)
    elsewhere = {FIGHTING} if text.trades_apart(consultation) else set()
    elsewhere |= {"request"} if consultation.requested_words else set()
    worth = [(line, words) for line, words in _advised(consultation) if line.topic not in elsewhere]
    worth += [(line, line.text) for line in unsaid if line.stage == "advise" and line.topic in (*FIRST, "request")]
    worth.sort(key=lambda one: FIRST.index(one[0].topic) if one[0].topic in FIRST else len(FIRST))
    told = tuple(words for _, words in worth[:MOST_SAID])
    here = sum(line.topic == FIGHTING for line in consultation.advice) if FIGHTING in elsewhere else 0
    return told, len(consultation.advice) + len(unsaid) - len(told) - here


def _advised(consultation: Consultation) -> list[tuple[Line, str]]:
    """The advice, each with the words for the caller."""
    words = {line.rule: line.text for line in consultation.say}
    return [(line, words.get(line.rule, line.text)) for line in consultation.advice]
