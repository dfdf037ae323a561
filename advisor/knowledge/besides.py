"""What else is wrong with a condition of which one slip is told: the line is read again as it was meant, where that is
plain, so that two slips on one line are told at once."""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from difflib import get_close_matches

from .grammar import HOW, VAGUE, Misread, parse_condition
from .measure import in_digits
from .namesakes import ALIKE, Back, likeness, plainly, put
from .places import nearest, one_or_more
from .vocabulary import FactDef

MOST_SLIPS = 5
"""Slips of a line that are taken for what was meant."""
MOST_NAME, MOST_VERB = 6, 4
"""Words of a fact's name, and between it and a value, that are looked at."""
_ALIKE_CHOICE = 0.7
"""How alike words must be to a choice for them to be read as that."""

_WRITTEN = re.compile(
    r"'(?P<words>.+)' (?:can't stand here|is no unit|can be read in two ways|without 'is'|is torn apart"
    r"|is a figure (?:in words|with letters in it)|measures .*)"
)
_CHOICE = re.compile(r"'.+' has no choice '(?P<words>.+)'")
_SIGNS = r"[<>]=?|[*/+-]|,|and|includes?|do not(?: include)?|known|is(?: not)?(?: one of| known)?|is between"
_MEANT = re.compile(
    rf"write '(?P<sign>{_SIGNS})'(?: instead of .*|, as in .*)?|did you mean '(?P<word>[^*]+)'\?"
    r"|the choice is called '(?P<choice>.+)'|write decimals as in (?P<figure>[\d.]+).*"
    r"|write (?P<whole>[\d.]+), or .* for thousands|write it in digits: (?P<digits>.+)"
    r"|write it in (?P<unit>\S+)(?: or .*)?|write (?P<foot>ft|in) for .*"
    r"|(?P<gone>leave it out.*|leave the quotes out|write the number without a unit|write thousands as .*"
    r"|write 'is not', 'do not include' or 'is not known' after the fact)"
)

_SAID = re.compile(r"[A-Za-z'\u2019 ]+|[=:~]+")
_NO = re.compile(
    r"n['\u2019]t\b|\b(is|are|was|were|do|does|did|has|have|ca|wo|ai)nt\b|\bno(t|ne)?\b"
    r"|\b(neither|never|without|lacks?|excludes?)\b"
)
_NAMES = re.compile(
    r"(?:^|(?<=[<>=&|+*/(]))\s*(?P<name>[^\W\d][\w'-]*(?: [^\W\d][\w'-]*)*?)"
    r"(?=\s*(?:[<>=&|+*/)]|\b(?:is|includes?|do|does|and|or)\b|$))"
)
"""What may be the names of facts in a line that can't be read."""
VERB = re.compile(r"[<>=]|\b(is|includes?)\b")
_JOINT = re.compile(r"\s*(?P<sign>,(?!\d)|&+|\|+|;|(?i:\b(?:and|or)\b))\s*(?=\S)")
_OPERATOR = re.compile(r"(?<= )[+*/(-] *")
_OTHER_VERBS = {f"'{verb}' can't stand here" for verb in ("are", "was", "were", "equal", "equals")}
_FRONT = re.compile(r"(if|when|and|or|but)\s+(?=\S)", re.IGNORECASE)
_BACK = re.compile(r"(?<=\S)\s*(\b(?:and|or)|[.;,!]+)\s*$", re.IGNORECASE)
ONE_IS_ENOUGH = ", or under 'any:' where one of them is enough"
_LEFT_OUT = "leave it out, each line under 'when:' is a condition"


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
            return put(text, at, words, " and ")
        return put(text, at, words, "is between") if words == "between" else None
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
    return put(text, at, words, better)


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
                return meant, *put(text, meant.offset, said, f" {sign} ")
    return None


def unsigned(
    text: str, slip: Misread, vocabulary: Mapping[str, FactDef], least: float
) -> tuple[Misread, str, Back] | None:
    """What is told of a value that stands right behind a fact, with the line as it was meant; None where the line isn't
    a fact and what is at `least` so alike to a value of it."""
    if VERB.search(text) or not slip.vague:
        return None
    for start in (0, *(joint.end() for joint in _OPERATOR.finditer(text))):
        words = list(re.compile(r"\S+").finditer(text, start))
        for count, name in _facts_before(words, vocabulary):
            if count == len(words) or not words[count - 1][0][-1].isalnum():
                continue
            value = text[words[count].start() :]
            sign = _sign_before(value, vocabulary[name], False, False, least)
            if sign is None and vocabulary[name].kind == "number" and _begins_with_figure(value, vocabulary):
                sign = ">"
            if sign is not None:
                mend = "write '>', '<', '>=' or '<=' before the figure" if sign == ">" else f"write '{sign}' before it"
                meant = Misread(words[count].start(), "a comparison is missing", mend)
                return meant, *put(text, meant.offset, "", f"{sign} ")
    return None


def _begins_with_figure(text: str, vocabulary: Mapping[str, FactDef]) -> bool:
    """Whether a text begins with a fact that is a number, as far as letters go."""
    words = list(re.finditer(r"\S+", f"{text} ."))  # a name is looked for before the last word
    return any(
        vocabulary[name].kind == "number" and count == len(name.split())
        for count, name in _facts_before(words, vocabulary)
    )


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
    signed = VERB.search(text) is not None
    for found in _NAMES.finditer(text):
        name = " ".join(found["name"].split())
        close = name not in vocabulary and nearest(name, vocabulary)
        if close and plainly(name, close) and not _NO.search(name) and (signed or not name.startswith(f"{close} ")):
            yield name, found.start("name")


def before_verb(text: str, slip: Misread, vocabulary: Mapping[str, FactDef]) -> str | None:
    """The name that is no fact before a verb that can't stand in a line; None where no such name stands there."""
    name = " ".join(text[: slip.offset].split())
    if slip.what not in _OTHER_VERBS or name in vocabulary or re.fullmatch(r"[^\W\d][\w' -]*", name) is None:
        return None
    return name


def _facts_before(words: Sequence[re.Match[str]], vocabulary: Mapping[str, FactDef]) -> Iterator[tuple[int, str]]:
    """By how many words a line names a fact, and which: the longest that is named truly, and the nearest."""
    begun = [" ".join(word[0] for word in words[:count]) for count in range(min(len(words), MOST_NAME + 1))]
    if true := max((count for count, name in enumerate(begun) if name in vocabulary), default=0):
        yield true, begun[true]
    near = [(count, get_close_matches(name.lower(), vocabulary, 1, ALIKE)) for count, name in enumerate(begun)]
    near += [(count, [same]) for count, name in enumerate(begun) if (same := one_or_more(name, vocabulary))]
    found = [(likeness(begun[count], close[0]), count, close[0]) for count, close in near if close]
    if found:
        yield max(found)[1:]


def _sign_before(
    value: str, definition: FactDef, negated: bool, surely: bool, least: float = _ALIKE_CHOICE
) -> str | None:
    """What stands between a fact and such a value of it; None where the words, unless they `surely` are one, are no
    value of it."""
    no = " not" if negated else ""
    parts = [piece for piece, _ in spaced(value, 0, definition.choice_names) or parted(value, 0)]
    pieces = [piece.lower() for piece in parts or [value]]
    words = [word for choice in definition.choices for word in (choice.name, *choice.words)]
    known = [word.lower() for word in words or ("yes", "no", "true", "false")]
    near = [get_close_matches(piece, known, 1, least) for piece in pieces]
    match definition.kind:
        case "number":
            return ">" if re.match(r"-?\.?\d|\(", value) or in_digits(value) else None
        case "yes/no" if surely or all(near) or value in ("y", "n"):
            return f"is{no}"
        case "several" if len(pieces) == 1 and (surely or all(near)):
            return f"do{no} include" if negated else "include"
        case "choice" if len(pieces) > 1 and (any(near) if least == _ALIKE_CHOICE else all(near)):
            return f"is{no} one of"
        case "choice" if surely or all(near):
            return f"is{no}"
        case _:
            return None


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
        mend += ONE_IS_ENOUGH if joint["sign"] in (",", ";") else ""
    return Misread(at + joint.start("sign"), f"'{joint['sign']}' can't stand here", mend)


def parted(phrase: str, at: int) -> list[tuple[str, int]]:
    """What stands joined in a phrase that begins at `at`, each with its offset."""
    joints = list(_JOINT.finditer(phrase))
    starts = [0, *(joint.end() for joint in joints)]
    ends = [*(joint.start() for joint in joints), len(phrase)]
    return [(phrase[start:end], at + start) for start, end in zip(starts, ends, strict=True) if start < end]


def spaced(phrase: str, at: int, known: Collection[str]) -> list[tuple[str, int]]:
    """The choices that stand side by side in a phrase that begins at `at`, each with its offset; none where it is
    anything else."""
    words = list(re.finditer(r"\S+", phrase))
    found: list[tuple[str, int]] = []
    first = 0
    while first < len(words):
        for last in range(len(words) - 1, first - 1, -1):
            name = phrase[words[first].start() : words[last].end()]
            if name in known or get_close_matches(name, known, 1, ALIKE):
                found.append((name, at + words[first].start()))
                first = last + 1
                break
        else:
            return []
    return found if len(found) > 1 else []


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
    if (choice := _CHOICE.fullmatch(slip.what)) and (near := _MEANT.fullmatch(slip.mend)) and near["word"]:
        return likeness(choice["words"], near["word"]) >= ALIKE
    return slip.mend.startswith(("did you mean", "the choice is called")) or slip.what.endswith(
        ("is no unit", "in two ways", "in words", "letters in it", "can't stand here", "is missing")
    )
