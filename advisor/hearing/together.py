"""Several questions asked in one breath: their words, and one answer taken apart for all of them.

Only what is plain is taken: as many pieces as questions, each read by its own one in the order asked; or a piece that
one of them alone can read. What two could mean is left, to be asked singly.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from advisor import units
from advisor.knowledge import NOT_SURE, FactDef
from advisor.outcome import Understood
from advisor.quantities import Range
from advisor.words.endings import stem_of
from advisor.words.speech import NEGATION

from .asides import other_unit
from .choosing import holds
from .chosen import TAKEN_AS
from .counted import counts_another, strange
from .request import decode
from .surroundings import names_a_figure
from .taken import OR_HORSEPOWER
from .understanding import understand

# What parts the pieces of an answer: not "two and a half", "between 500 and 600", "6,200", "3/4".
_BETWEEN = re.compile(r"\bbetween (\S+) and (\S+)", re.IGNORECASE)
_COUNTED = r"(?:\d|(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|\w+ty)\b)"
_BREAKS = re.compile(
    r"\s*(?:(?:;|(?<!\.)\.)(?=\s|$)|,(?!\d{3}\b)"
    rf"|(?:(?<!hundred )(?<!thousand )\band\b|\band\b(?! {_COUNTED}))"
    r"(?! (?:a|an|one|two|three)[ -](?:half|quarter|third|bit)|$))\s*",
    re.IGNORECASE,
)
_FINER = re.compile(r"\s*\b(?:with|but|at|by)\b\s*", re.IGNORECASE)
_ENDS = re.compile(
    r"^(?:from |between |about )?(\S+) ?(?:(?:up |down )?to|till|until|through|-|\u2013|and) ?(\S+)(?: (.*))?$"
)
_ALL = re.compile(
    r"^(?:it'?s |they'?re |that'?s )?(?:(?:all|both|everything)(?:'?s| is| are)? (?:of (?:it|that|them) )?(?:still )?)?"
    r"(?:(?:the |my )?(?:engine|motor)(?:'?s| is)? )?(?:an? |the )?(?:(?:bone|completely|totally|all|dead|perfectly"
    r"|plain|entirely|fully|100 percent|just|bog) )*(?P<word>stock|factory|original|standard)"
    r"(?: (?:engine|motor))?(?: throughout| all (?:round|through)| inside| in there)?"
    r"(?:,? (?:everything|all of (?:it|them|that)|the (?:whole|entire) (?:truck|rig|engine|motor|thing|lot)|every bit"
    r"(?: of it)?|top to bottom|front to back))?$",
    re.IGNORECASE,
)
_EVERY = re.compile(r"\b(?:all|both|everything|bone|completely|totally|entirely|fully)\b", re.IGNORECASE)
_BUT = re.compile(r"\b(?:but|except|apart|besides|only the|other than)\b", re.IGNORECASE)
_FELLOW = re.compile(r"[ ,]+(?:bro|man|mate|buddy|sir|dude)$", re.IGNORECASE)
_UNOPENED = re.compile(
    r"(?:it'?s |it has |the (?:engine|motor)(?:'?s| has)? )?(?:never|not|hasn'?t) (?:been )?"
    r"(?:opened(?: up)?|open|apart|touched|cracked open|cracked|taken apart|torn down)"
    r"|(?:it'?s |an? |the )*(?:completely |totally )?(?:untouched|unopened|unmolested)(?: engine| motor)?"
    r"|nothing(?:'?s| is| was| has)?(?: ever)?(?: been)? done(?: to (?:it|the engine|the motor|that))?",
    re.IGNORECASE,
)
_REST = re.compile(
    r"^(?:(?:the )?(?:rest|others?)(?:'?s| is| are)?|otherwise|everything else(?:'?s| is)?)(?: all)? (?P<word>.+)$",
    re.IGNORECASE,
)
_AGAINST = re.compile(r"\b(?:no|nor?t|never|none|without|bad|broke\w*|only|some\w*)\b|n't\b", re.IGNORECASE)
_TAKES_BACK = re.compile(
    r"(?:no,? )?(?:wait|hang on|hold on|scratch that|make that)(?: a (?:minute|sec))?", re.IGNORECASE
)
_MORE_OR_LESS = re.compile(
    r"give or take|or so|or thereabouts|more or less|roughly|(?:near|close) enough|tops|at (?:the )?most|max(?:imum)?"
    r"|no more(?: than that)?",
    re.IGNORECASE,
)
_OPENS = re.compile(r"(?:no|nope|nah|oh|well|uh|um|so|at least|at most)", re.IGNORECASE)
_UNSURE = re.compile(
    r"^(?:i'?m )?(?:not (?:too |real(?:ly)? )?sure|no (?:idea|clue)|(?:i )?(?:don'?t|couldn'?t) \w+)\b", re.IGNORECASE
)
_LOOSE = re.compile(r"\.\.\.|#\.#")
SHORTEST = 3  # letters with which a word of a fact's name begins where it stands for it: "cam"
_SMALL = frozenset(
    ["the", "a", "is", "it", "what", "when", "by", "on", "now", "rpm", "size", "power", "wanted", "at",
     "air"]
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Apart:
    """What an answer says to each of several questions, and the pieces that nobody could place."""

    heard: tuple[Understood, ...]
    left: tuple[str, ...]


def words_for(definitions: Sequence[FactDef]) -> str:
    """The questions in one breath, in the order given."""
    parts = [definition.in_short for definition in definitions]
    asked = f"{', '.join(parts[:-1])}, and {parts[-1]}?"
    return asked[:1].upper() + asked[1:]


def apart(definitions: Sequence[FactDef], words: str) -> Apart:
    """An answer to several questions taken apart; nothing is heard where no piece is plain."""
    words = units.clean(words).strip(" .")
    if units.is_unsure(words):
        return Apart((), ())
    if (found := _ALL.match(_all_of_it(definitions, words))) or _UNOPENED.fullmatch(words):
        built = found["word"] if found else "stock"
        return Apart(tuple(filter(None, (_read(d, built) for d in definitions))), ())
    pieces = [piece for piece in _BREAKS.split(_BETWEEN.sub(r"\1 to \2", words)) if piece]
    if len(pieces) > len(definitions):
        pieces = _openings_joined(pieces)
    rest = next((found["word"] for piece in pieces if (found := _REST.match(piece))), "")
    pieces = _ends_apart([piece for piece in pieces if not _REST.match(piece)], definitions)
    table = _table(pieces, definitions)
    taken = None if rest else _in_order(table)
    if taken is None:
        if len(pieces) < len(definitions):
            pieces = [finer for piece in pieces for finer in _in_two(piece, definitions)]
            table = _table(pieces, definitions)
        taken = _in_order(table) or _as_far_as_sure(table, pieces, definitions) or _one_by_one(table)
    heard = {at: reading for piece, at in taken.items() if (reading := table[piece][at]) is not None}
    for at, definition in enumerate(definitions):
        if rest and at not in heard and (reading := _read(definition, rest)) is not None:
            heard[at] = reading
    loose = [piece for at, piece in enumerate(pieces) if at not in taken and (any(table[at]) or names_a_figure(piece))]
    left = tuple(loose) if heard else ()
    return Apart(_low_before_high([heard[at] for at in sorted(heard)], definitions), left)


def _all_of_it(definitions: Sequence[FactDef], words: str) -> str:
    """What is said of all at once, without what is said behind it and answers none: "all stock bro, just the turbo"."""
    first, _, rest = words.partition(",")
    first = _FELLOW.sub("", first)
    another = names_a_figure(rest) and decode(rest).inducer is None
    if not rest or not _EVERY.search(first) or _BUT.search(rest) or another:
        return words
    return words if any(_read(one, rest) for one in definitions) else first


def _openings_joined(pieces: Sequence[str]) -> list[str]:
    """The pieces with a "no" or "oh" that only opens the next one ("no, bone stock") beside it, and with what takes
    one back ("four hundred, hang on, four fifty") or leaves a figure open ("350, give or take")."""
    joined: list[str] = []
    for piece in pieces:
        last = joined[-1].rpartition(", ")[2] if joined else ""
        opened = any(form.fullmatch(last) for form in (_OPENS, _TAKES_BACK))
        if joined and (opened or any(form.fullmatch(piece) for form in (_TAKES_BACK, _MORE_OR_LESS))):
            joined[-1] = f"{joined[-1]}, {piece}"
        else:
            joined.append(piece)
    return joined


def _table(pieces: Sequence[str], definitions: Sequence[FactDef]) -> list[list[Understood | None]]:
    """What each piece says to each question."""
    return [[_reading(definition, piece, definitions) for definition in definitions] for piece in pieces]


def _low_before_high(heard: Sequence[Understood], definitions: Sequence[FactDef]) -> tuple[Understood, ...]:
    """The two ends of a range the right way round."""
    ends = [understood.fact.value for understood in heard if understood.fact is not None]
    if not _ask_for_ends(definitions) or len(heard) != 2 or len(ends) != 2:
        return tuple(heard)
    low, high = ends
    if isinstance(low, Range) and isinstance(high, Range) and low.mid > high.mid:
        return tuple(understand(d, one.answer.words) for d, one in zip(definitions, reversed(heard), strict=True))
    return tuple(heard)


def _ask_for_ends(definitions: Sequence[FactDef]) -> bool:
    return [definition.name.rpartition(" ")[2] for definition in definitions] == ["low", "high"]


def _read(definition: FactDef, words: str) -> Understood | None:
    """What the words say to one question, where that is beyond doubt."""
    heard = understand(definition, words)
    if heard.doubt.startswith(TAKEN_AS):  # it is said as far as it can be
        heard = replace(heard, doubt="")
    clear = not heard.doubt or heard.doubt.startswith(OR_HORSEPOWER)  # it is asked about once the rest is taken
    sure = not heard.again and clear and (heard.fact is not None or heard.not_sure)
    return heard if sure and definition.kind != "text" else None


def _reading(definition: FactDef, piece: str, definitions: Sequence[FactDef]) -> Understood | None:
    """What a piece says to one of the questions; nothing where it names another one of them, or where it is a figure
    and this one doesn't ask for any."""
    named = [other.name for other in definitions if _names(other, piece, definitions)]
    if definition.name in named and _UNSURE.match(piece) and not names_a_figure(piece):  # "not sure what it's rated"
        return _read(definition, NOT_SURE)
    if definition.kind == "number" and any(_counts(other, piece) for other in definitions):
        return None
    if named and definition.name not in named:
        return None
    if definition.kind != "yes/no":
        told = _read(definition, piece)
        return None if told is not None and told.fact is not None and speaks_of_else(definition, piece) else told
    heard = None if names_a_figure(piece) else _read(definition, piece)
    if heard is None and named and not _AGAINST.search(piece):  # "it's got brakes"
        return _read(definition, f"yes, {piece}")
    return heard


def speaks_of_else(definition: FactDef, piece: str) -> bool:
    """Whether words said to several questions may answer nothing at this one, for they hold one that it never had; what
    tells a figure is told by that."""
    return (bool(definition.choices) or not names_a_figure(piece)) and strange(definition, piece)


def _in_two(piece: str, definitions: Sequence[FactDef]) -> list[str]:
    """A piece that speaks of several facts ("T4 divided", "500 at the wheels by 1800"), parted where each part speaks
    of one; else as it is."""
    parts = [part for part in _FINER.split(piece) if part]
    if len(parts) > 1 and all(any(_reading(d, part, definitions) for d in definitions) for part in parts):
        return parts
    able = [d.kind for d in definitions if d.kind != "yes/no" and _reading(d, piece, definitions) is not None]
    if len(able) == 1 or set(able) == {"number"}:
        return [piece]
    words, counted = piece.split(), any(counts_another(definition, piece) for definition in definitions)
    found: dict[tuple[tuple[int, object], ...], list[str]] = {}
    for at in range(1, len(words)):
        halves = [" ".join(words[:at]), " ".join(words[at:])]
        if re.search(NEGATION, halves[0]):  # it may reach into the other half: "never been opened up"
            continue
        if "number" in able and all(map(names_a_figure, halves)):
            continue
        counts = counted or other_unit(words[at : at + 3], "")
        if counts and names_a_figure(words[at - 1]):  # "three and a half tonnes", "four door"
            continue
        read = [
            [(n, r) for n, d in enumerate(definitions) if d.kind != "yes/no" and (r := _reading(d, half, definitions))]
            for half in halves
        ]
        ways = [(one, other) for one in read[0] for other in read[1] if one[0] != other[0]]
        if len(ways) == 1:
            found.setdefault(tuple((n, _said(r)) for n, r in ways[0]), halves)
    return next(iter(found.values())) if len(found) == 1 else [piece]


def _names(definition: FactDef, piece: str, definitions: Sequence[FactDef]) -> bool:
    """Whether a piece has a word of the fact's name that none of the others has."""
    others = {word for other in definitions if other is not definition for word in _stems(other.name)}
    marks = [phrase.replace("#", " ... ").strip(" .") for phrase in definition.mentioned if not _LOOSE.search(phrase)]
    if definition.kind == "number" and names_a_figure(piece) and holds(piece, marks):
        return True
    own = _stems(definition.name) - others
    return any(one.startswith(said) for one in own for said in _stems(piece) - others if len(said) >= SHORTEST)


def _counts(definition: FactDef, piece: str) -> bool:
    """Whether the figure in a piece belongs to the words for a choice: "six speed"."""
    phrases = [phrase for choice in definition.choices for phrase in choice.words if names_a_figure(phrase)]
    return holds(piece, phrases)


def _stems(words: str) -> set[str]:
    return {stem_of(word) for word in re.findall(r"[a-z']+", words.lower())} - _SMALL


def _in_order(table: Sequence[Sequence[Understood | None]]) -> dict[int, int] | None:
    """Piece by piece to the questions in their order, where there are as many and all can be read so."""
    if not table or len(table) != len(table[0]) or not all(table[at][at] is not None for at in range(len(table))):
        return None
    return {at: at for at in range(len(table))}


def _as_far_as_sure(
    table: Sequence[Sequence[Understood | None]], pieces: Sequence[str], definitions: Sequence[FactDef]
) -> dict[int, int]:
    """The sure ones of as many pieces as questions, where each other figure would be doubted in its place: it is no
    answer to another question."""
    if len(pieces) != len(definitions) or any(d.kind != "number" for d in definitions):
        return {}
    pairs = [understand(definition, piece) for definition, piece in zip(definitions, pieces, strict=True)]
    if any(heard.fact is None for heard in pairs):
        return {}
    return {at: at for at in range(len(table)) if table[at][at] is not None}


def _one_by_one(table: Sequence[Sequence[Understood | None]]) -> dict[int, int]:
    """Pieces that one question alone can read, where no other piece says something else to it; then the figures in the
    order of the questions, as early as they can stand."""
    taken: dict[int, int] = {}
    while True:
        free = {
            piece: able
            for piece, row in enumerate(table)
            if piece not in taken
            and (able := [at for at, reading in enumerate(row) if reading is not None and at not in taken.values()])
        }
        sole = [(piece, able[0]) for piece, able in free.items() if len(able) == 1]
        sure = [(piece, at) for piece, at in sole if len({_said(table[p][at]) for p, a in sole if a == at}) == 1]
        if not sure:
            break
        taken |= dict(sure[:1])
    disputed = {at for _, at in sole}
    open_ = [p for p, able in free.items() if not disputed.intersection(able) and _figure(table[p][able[0]])]
    columns = sorted({at for piece in open_ for at in free[piece]})
    for way in combinations(columns, len(open_)):
        if all(at in free[piece] for piece, at in zip(open_, way, strict=True)):
            return taken | dict(zip(open_, way, strict=True))
    return taken


def _figure(heard: Understood | None) -> bool:
    return isinstance(_said(heard), Range)


def _said(heard: Understood | None) -> object:
    return None if heard is None or heard.fact is None else heard.fact.value


def _ends_apart(pieces: list[str], definitions: Sequence[FactDef]) -> list[str]:
    """A range where its two ends were asked for, as two pieces."""
    if not _ask_for_ends(definitions) or len(pieces) >= len(definitions):
        return pieces
    made: list[str] = []
    for piece in pieces:
        found = _ENDS.match(piece)
        unit = f" {found[3]}" if found and found[3] else ""
        made += [f"{found[1]}{unit}", f"{found[2]}{unit}"] if found else [piece]
    return made
