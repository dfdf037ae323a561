"""What else is wrong with a condition of which one slip is told: the line is read again as it was meant, where that is
plain, so that two slips on one line are told at once."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher, get_close_matches

from lark import Token

from .fields import Wrong
from .grammar import HOW, VAGUE, Misread, Syntax, parse_condition, spoken
from .measure import ALL_UNITS, in_digits, quantities_of, read_figure
from .places import did_you_mean, nearest, one_or_more
from .vocabulary import FactDef

MOST_SLIPS = 5
"""Slips of a line that are taken for what was meant."""
MOST_NAME, MOST_VERB = 6, 4
"""Words of a fact's name, and between it and a value, that are looked at."""
_ALIKE, _ALIKE_CHOICE = 0.84, 0.7
"""How alike a name must be to a fact, and to a choice, for it to be read as that."""

_WRITTEN = re.compile(
    r"'(?P<words>.+)' (?:can't stand here|is no unit|can be read in two ways|without 'is'|is torn apart"
    r"|is a figure in words|measures .*)"
)
_CHOICE = re.compile(r"'.+' has no choice '(?P<words>.+)'")
_SIGNS = r"[<>]=?|[*/+-]|,|and|includes?|do not(?: include)?|is(?: not)?(?: one of| known)?|is between"
_MEANT = re.compile(
    rf"write '(?P<sign>{_SIGNS})'(?: instead of .*|, as in .*)?|did you mean '(?P<word>[^*]+)'\?"
    r"|the choice is called '(?P<choice>.+)'|write decimals as in (?P<figure>[\d.]+).*"
    r"|write (?P<whole>[\d.]+), or .* for thousands|write it in digits: (?P<digits>.+)"
    r"|write it in (?P<unit>\S+)(?: or .*)?|write (?P<foot>ft|in) for .*"
    r"|(?P<gone>leave it out.*|leave the quotes out|write the number without a unit|write thousands as .*"
    r"|write 'is not', 'do not include' or 'is not known' after the fact)"
)

_SAID = re.compile(r"[A-Za-z'\u2019 ]+|[=:~]+")
_NO = re.compile(r"n['\u2019]?t\b|\bno(t|ne)?\b|\b(neither|never|without|lacks?|excludes?)\b")
_NAMES = re.compile(
    r"(?:^|(?<=[<>=&|+*/(]))\s*(?P<name>[^\W\d][\w'-]*(?: [^\W\d][\w'-]*)*?)"
    r"(?=\s*(?:[<>=&|+*/)]|\b(?:is|includes?|do|does|and|or)\b|$))"
)
"""What may be the names of facts in a line that can't be read."""
VERB = re.compile(r"[<>=]|\b(is|includes?)\b")
_JOINT = re.compile(r"\s*(?P<sign>,(?!\d)|&+|\|+|;|(?i:\b(?:and|or)\b))\s*(?=\S)")
_FRONT = re.compile(r"(if|when|and|or|but)\s+(?=\S)", re.IGNORECASE)
_BACK = re.compile(r"(?<=\S)\s*(\b(?:and|or)|[.;,!]+)\s*$", re.IGNORECASE)
_LEFT_OUT = "leave it out, each line under 'when:' is a condition"

Back = Callable[[int], int]
"""Where a character of the line as it was meant stands in the line as written."""


def trimmed(text: str) -> tuple[list[Misread], str, Back]:
    """What stands before and behind a condition and is none of it, and the line without that."""
    front, back = _FRONT.match(text), _BACK.search(text)
    slips = []
    if front:
        mend = "put this line and the one above it under 'any:'" if front[1].lower() == "or" else _LEFT_OUT
        slips.append(Misread(0, f"'{front[1]}' can't stand here", mend))
    if back:
        mend = _LEFT_OUT if back[1].isalpha() else "leave it out"
        slips.append(Misread(back.start(1), f"'{back[1]}' can't stand here", mend))
    start, end = front.end() if front else 0, back.start() if back else len(text)
    return slips, text[start:end], lambda at: at + start


def as_meant(text: str, slip: Misread) -> tuple[str, Back] | None:
    """The line with what was meant in the place of a slip; None where that isn't plain."""
    found = _WRITTEN.match(slip.what) or _CHOICE.fullmatch(slip.what)
    at = text.find(found["words"], slip.offset) if found else -1
    if found is None or at < 0:
        return None
    words = found["words"]
    if slip.mend.startswith("write 'is between 5"):
        if re.search(r"\bis between\b", text[:at]):
            return _with(text, at, words, " and ")
        return _with(text, at, words, "is between") if words == "between" else None
    if (meant := _MEANT.fullmatch(slip.mend)) is None:
        return None
    match meant.lastgroup:
        case "sign":
            better = f" {meant['sign']} "
        case "unit":
            better = meant["unit"]
        case "foot":
            better = f" {meant['foot']} "
        case "gone":
            better = ""
        case name:
            better = meant[name or 0]
    return _with(text, at, words, better)


def as_spoken(text: str, slip: Misread, vocabulary: Mapping[str, FactDef]) -> tuple[Misread, str, Back] | None:
    """What stands between a fact and its value and is none of the words of conditions, with the line as it was meant;
    None where the line isn't plainly a fact, such words, and a value."""
    words = list(re.finditer(r"\S+", text))
    for count, name in _facts_before(words, vocabulary):
        for at in range(count + 1, min(count + MOST_VERB + 1, len(words))):
            said = text[words[count].start() : words[at - 1].end()]
            if not _SAID.fullmatch(said):
                break
            surely = said in VAGUE or (slip.what == f"'{said}' can't stand here" and slip.mend != HOW)
            sign = _sign_before(text[words[at].start() :], vocabulary[name], _NO.search(said) is not None, surely)
            if sign == ">" and get_close_matches(said, ("is", "are", "was", "equals"), 1, _ALIKE_CHOICE):
                sign = "is"
            if sign is not None and said != sign:
                mend = f"write '{sign}'" if sign != ">" else "write '>', '<', '>=' or '<='"
                meant = Misread(words[count].start(), f"'{said}' can't stand here", mend)
                return meant, *_with(text, meant.offset, said, f" {sign} ")
    return None


def behind_name(text: str, slip: Misread, vocabulary: Mapping[str, FactDef]) -> Misread:
    """What can't be read behind the fact that a line begins with, where the slip was found in its very name."""
    name = next((text[:at] for at in range(len(text), slip.offset, -1) if text[:at] in vocabulary), "")
    try:
        parse_condition("x" * len(name) + text[len(name) :])
    except Misread as other:
        return other if other.offset >= len(name) > 0 else slip
    return slip


def misspelt(text: str, vocabulary: Mapping[str, FactDef]) -> Iterator[tuple[str, int]]:
    """The names in a line that are plainly facts with a slip, though the line can't be read, each with its offset."""
    for found in _NAMES.finditer(text):
        name = " ".join(found["name"].split())
        close = name not in vocabulary and nearest(name, vocabulary)
        if close and plainly(name, close) and not _NO.search(name):
            yield name, found.start("name")


def _facts_before(words: Sequence[re.Match[str]], vocabulary: Mapping[str, FactDef]) -> Iterator[tuple[int, str]]:
    """By how many words a line names a fact, and which: the longest that is named truly, and the nearest."""
    begun = [" ".join(word[0] for word in words[:count]) for count in range(min(len(words), MOST_NAME + 1))]
    if true := max((count for count, name in enumerate(begun) if name in vocabulary), default=0):
        yield true, begun[true]
    near = [(count, get_close_matches(name.lower(), vocabulary, 1, _ALIKE)) for count, name in enumerate(begun)]
    near += [(count, [same]) for count, name in enumerate(begun) if (same := one_or_more(name, vocabulary))]
    found = [(_likeness(begun[count], close[0]), count, close[0]) for count, close in near if close]
    if found:
        yield max(found)[1:]


def _likeness(name: str, other: str) -> float:
    return SequenceMatcher(None, name.lower(), other).ratio()


def _sign_before(value: str, definition: FactDef, negated: bool, surely: bool) -> str | None:
    """What stands between a fact and such a value of it; None where the words, unless they `surely` are one, are no
    value of it."""
    no = " not" if negated else ""
    pieces = [piece.strip().lower() for piece in value.split(",")]
    words = [word for choice in definition.choices for word in (choice.name, *choice.words)]
    known = [word.lower() for word in words or ("yes", "no", "true", "false")]
    near = [get_close_matches(piece, known, 1, _ALIKE_CHOICE) for piece in pieces]
    match definition.kind:
        case "number":
            return ">" if re.match(r"-?\.?\d|\(", value) or in_digits(value) else None
        case "yes/no" if surely or all(near) or value in ("y", "n"):
            return f"is{no}"
        case "several" if len(pieces) == 1 and (surely or all(near)):
            return f"do{no} include" if negated else "include"
        case "choice" if len(pieces) > 1 and any(near):
            return f"is{no} one of"
        case "choice" if surely or all(near):
            return f"is{no}"
        case _:
            return None


def as_named(text: str, tree: Syntax, vocabulary: Mapping[str, FactDef]) -> tuple[str, Back, bool] | None:
    """The line with the facts that its unknown names are meant to be, and whether that is plain of all of them; None
    where one of them is near no fact."""
    back: Sequence[Back] = ()
    plain = True
    for fact in sorted(tree.facts(), key=lambda fact: -fact.start):
        written = text[fact.start : fact.end]
        name = " ".join(written.split())
        if name in vocabulary:
            continue
        close = nearest(name, vocabulary) or ""
        if not close or not alike(name, close):
            return None
        plain &= plainly(name, close)
        text, one = _with(text, fact.start, written, close)
        back = (one, *back)
    return text, lambda at: _through(back, at), plain


def plainly(name: str, fact: str) -> bool:
    """Whether a name is surely that fact with a slip: letters, number, or a word too many."""
    if sorted(name.lower()) == sorted(fact) or f" {fact} " in f" {name} ":
        return True
    return one_or_more(name, [fact]) is not None or _likeness(name, fact) >= _ALIKE


def alike(name: str, other: str) -> bool:
    """Whether names are near in those words, too, that they don't share."""
    one, two = name.lower().split(), other.lower().split()
    mine, theirs = ([word for word in words if word not in beside] for words, beside in ((one, two), (two, one)))
    if not mine or not theirs:
        return True
    likeness = SequenceMatcher(None, " ".join(mine), " ".join(theirs)).ratio()
    return likeness >= (0.75 if mine == one and len(one) + len(two) > 2 else 0.6)


def joined(phrase: str, at: int) -> Misread | None:
    """What joins another condition, or another choice, to a phrase that begins at `at`; None where nothing does."""
    joint = _JOINT.search(phrase)
    if joint is None or not joint.start():
        return None
    mend = "write each condition on its own line"
    if joint["sign"].lower() in ("or", "|", "||"):
        mend = "write each on its own line under 'any:'"
    elif not VERB.search(phrase[joint.end() :]):
        mend = "write each on its own line, as in 'duties include towing'"
    return Misread(at + joint.start("sign"), f"'{joint['sign']}' can't stand here", mend)


def parted(phrase: str, at: int) -> list[tuple[str, int]]:
    """What stands joined in a phrase that begins at `at`, each with its offset."""
    joints = list(_JOINT.finditer(phrase))
    starts = [0, *(joint.end() for joint in joints)]
    ends = [*(joint.start() for joint in joints), len(phrase)]
    return [(phrase[start:end], at + start) for start, end in zip(starts, ends, strict=True) if start < end]


def two_conditions(text: str, slip: Misread) -> tuple[tuple[str, Back], tuple[str, Back]] | None:
    """The two conditions of a line that should be two lines; None for any other slip."""
    if "each" not in slip.mend or "on its own line" not in slip.mend:
        return None
    joint = _JOINT.search(text, max(slip.offset - 1, 0))
    if joint is None or not VERB.search(text[joint.end() :]):
        return None
    if not VERB.search(text[: joint.start()]) and text.count(" ", 0, joint.start()) < 2:
        return None
    return (text[: joint.start()], lambda at: at), (text[joint.end() :], lambda at: at + joint.end())


def certain(slip: Misread) -> bool:
    """Whether a slip is one whichever fact the line is about: or names, by being near, what confirms which it is."""
    return slip.mend.startswith(("did you mean", "the choice is called")) or slip.what.endswith(
        ("is no unit", "in two ways", "in words", "can't stand here")
    )


def _through(back: Sequence[Back], at: int) -> int:
    for one in reversed(back):
        at = one(at)
    return at


def _with(text: str, start: int, written: str, meant: str) -> tuple[str, Back]:
    longer = len(meant) - len(written)
    end = start + len(meant)
    return text[:start] + meant + text[start + len(written) :], lambda at: (
        at if at < start else start if at < end else at - longer
    )


def literals(tree: Syntax) -> Iterator[Misread]:
    """The figures that can be read in two ways, the units that nobody knows, and spoken comparisons, whatever facts are
    meant."""
    if tree.form in ("is", "is_not") and re.search(r"\d", words := str(tree.children[2])):
        instead = spoken(f"is {words}")
        if instead is not None and isinstance(sign := tree.children[1], Token):
            yield Misread(sign.start_pos or 0, instead.what, instead.mend)
    if tree.form == "number":
        figure, unit = str(tree.children[0]), str(tree.children[1]).strip() if len(tree.children) > 1 else ""
        try:
            read_figure(figure)
            if unit and not quantities_of(unit):
                mend = did_you_mean(unit, ALL_UNITS, "use a unit such as psi, lb, hp or °F")
                raise Wrong(f"'{unit}' is no unit", mend)
        except Wrong as wrong:
            yield Misread(tree.start, wrong.what, wrong.mend)
    for child in tree.children:
        if isinstance(child, Syntax):
            yield from literals(child)
