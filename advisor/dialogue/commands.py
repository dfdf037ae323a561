"""What the salesperson can say to the tool during a call, told apart from what the caller says."""

import difflib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from advisor.hearing.asked_back import asks
from advisor.knowledge import NOT_SURE, FactDef
from advisor.outcome import IN_SERIES

SAID_BY_HIM = "If the caller said it, put a quotation mark before it."
QUOTES = '"“”„«'


@dataclass(frozen=True, slots=True)
class Form:
    """A command: its word, what follows it (empty, or named in capitals; in brackets when it may be left
    out), what it does, and an example where something must follow."""

    word: str
    follows: str
    does: str
    example: str = ""


FORMS = (
    Form("why", "", "why this question is asked now"),
    Form("why not", "X", "why a candidate, part or rule was not chosen", "why not a 64"),
    Form("how", "[X]", "how the advice, or a fact, figure or rule, came about"),
    Form("what if", "FACT = VALUE", "try a value without keeping it, side by side", "what if altitude = 7,000 ft"),
    Form("instead", "X", "the nearest change with which turbo X would be advised", "instead a 64"),
    Form("holds", "", "up to which values the advice stays the same"),
    Form("map", "[X]", "compressor map with the operating line, of the best or of X"),
    Form("in full", "[SECTION]", "the advice, or its choices, advice, cautions, parts, assumptions, limits or steps"),
    Form("back", "", "go to the answer before; Enter leaves it as it is"),
    Form("change", "FACT", "give another answer to an earlier question", "change altitude"),
    Form("summary", "", "what was said, what is assumed, the best so far"),
    Form("skip", "", "leave this question out; change FACT brings it back"),
    Form("enough", "", "stop asking and conclude"),
    Form("more", "", "ask on, about what could only add a remark"),
    Form("note", "TEXT", "keep a remark with the call", "note rings back on Friday"),
    Form("rules again", "", "take up rules edited meanwhile, and say what they change in this call"),
    Form("save", "[NAME]", "save the call as a script, people masked; F4 does the same"),
    Form("sheet", "[NAME]", "write the call sheet, .html or .txt, here or where a path says"),
    Form("help", "", "this list; ? does the same"),
    Form("quit", "", "leave; the call is kept"),
)
ALIASES = {"?": "help"}
_NOT_IN_SERIES = re.compile(
    r"(?:why (?:not|no)|how come(?: not| no)?|instead)(?: the| a)? (?:twins?|compounds?|two[- ]stages?"
    r"|two (?:turbos|chargers)(?: in series)?|two in series|pair of (?:turbos|chargers|them))\W*"
)
# "Yes, but why isn't it the 66 then?"
_NOT_THAT_ONE = re.compile(
    r"(?:(?:yes|yeah|yep|ok|okay|sure|and|but|so|then)[, ]+)*why (?:isn'?t it|is it not|not|ain'?t it)"
    r" (?:the|a|an|my|that) (?P<one>\d[\w/.]*)(?: (?:then|though|instead|now|mm|mil))*\W*(?:,.*)?"
)
# What begins like a command and is the caller's: "change of oil every 10k", "how high? up to 9,000 feet".
_HIS_OWN = re.compile(
    r"how [^?]*\?\s*[^\s?].*|change (?:of|in) .*|instead of .*|map (?:sensor|groove|width)\b.*|save (?:me|some|on) .*"
    r"|sheet metal.*"
)
SUGGESTS = re.compile(r"why not (?:just|use|go|put|do|run|fit|get|buy|try|make|you|i|we)\b")


@dataclass(frozen=True, slots=True)
class Command:
    """A command with what followed it."""

    word: str
    argument: str = ""


def parse(line: str, facts: Collection[str] = ()) -> Command | str:
    """A command, or the caller's words.

    A line that begins with a quotation mark is always the caller's words. The word of a command alone is the command
    (``lacking`` says what one needs); a command that takes nothing must stand alone. What follows "what if" without "="
    or a figure is one where it begins with the name of one of the ``facts`` and goes on.
    """
    text = line.strip()
    if text[:1] and text[0] in QUOTES:
        return text.strip(QUOTES).strip()
    lowered = re.sub(r"\s+", " ", text.lower()).rstrip()
    if _NOT_IN_SERIES.fullmatch(lowered):
        return Command("how", IN_SERIES)
    if asked := _NOT_THAT_ONE.fullmatch(lowered):
        return Command("why not", f"a {asked['one']}")
    bare = ALIASES.get(lowered, lowered.rstrip("?!. "))
    for form in sorted(FORMS, key=lambda form: -len(form.word)):
        if bare == form.word:
            return Command(form.word)
        if form.follows and lowered.startswith(form.word + " "):
            rest = re.sub(r"\s+", " ", text)[len(form.word) :].strip()
            values = "=" not in form.follows or re.search(r"[=\d]", rest) or parted(rest, facts)[1]
            if not values:  # "what if I don't like it?"
                continue
            his_own = SUGGESTS.match(lowered) or _HIS_OWN.fullmatch(lowered)
            if his_own or (form.word == "how" and asks(text.partition(",")[0])):  # "how much is it?"
                continue
            return Command(form.word, rest)
    return text


def lacking(command: Command) -> str:
    """What a command needs that isn't there, in a sentence; "" where it needs nothing more."""
    form = next(form for form in FORMS if form.word == command.word)
    if command.argument or not form.example:
        return ""
    return f"{form.word} {form.follows}: {form.does}, for example {form.example}. {SAID_BY_HIM}"


def lacking_equals(definition: FactDef, words: str) -> str:
    """How to try a value that stands behind the name of its fact with nothing between them; "" where it is an answer
    and nothing else: a choice, or several, as the vocabulary has them, yes or no, or anything with a figure."""
    said = {part.strip(" ?!.").lower() for part in re.split(r",|\band\b", words)}
    answers = {phrase.lower() for choice in definition.choices for phrase in (choice.name, *choice.words)}
    answers |= {NOT_SURE, *(("yes", "no") if definition.kind == "yes/no" else ())}
    if said <= answers or re.search(r"\d", words):
        return ""
    return f"Put = before the value: what if {definition.name} = {words.strip(' ?!.')}. {SAID_BY_HIM}"


def resolve(wanted: str, known: Iterable[str]) -> list[str]:
    """The known names that are meant: the exact one, else all that hold every word (or word beginning), else
    what is spelled alike."""
    names = list(dict.fromkeys(known))
    lowered = " ".join(wanted.lower().split())
    exact = [name for name in names if name.lower() == lowered]
    if exact or not lowered:
        return exact[:1]
    words = _parts(lowered)
    holding = [
        name for name in names if all(any(part.startswith(word) for part in _parts(name)) for word in words)
    ]
    if holding:
        return holding
    spelled = {name.lower(): name for name in names}
    return [spelled[name] for name in difflib.get_close_matches(lowered, spelled, n=3, cutoff=0.7)]


def parted(piece: str, names: Collection[str]) -> tuple[str, str]:
    """A fact and the value that is to be tried: "altitude = 7,000 ft", or with nothing between them."""
    words = piece.split()
    cuts = (at for at in range(len(words) - 1, 0, -1) if " ".join(words[:at]).lower() in names)
    if "=" in piece or (at := next(cuts, 0)) == 0:
        name, _, value = piece.partition("=")
        return name, value
    return " ".join(words[:at]), " ".join(words[at:])


def _parts(name: str) -> list[str]:
    return [part for part in re.split(r"[\s\-/.,()]+", name.lower()) if part]
