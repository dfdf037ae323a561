"""The written form of one condition or sum: text to a syntax tree with positions, or a `Misread` with a mend.

The grammar knows no facts: names, units and choices are runs of words here and get their meaning elsewhere.
"""

import difflib
import re
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

from lark import Lark, Token, Transformer, UnexpectedToken

from .measure import in_digits

_GRAMMAR = r"""
condition: sum COMPARE sum                  -> compare
         | sum IS_BETWEEN sum AND sum       -> between
         | sum IS_KNOWN                     -> known
         | sum IS_NOT_KNOWN                 -> not_known
         | sum IS_ONE_OF PHRASE             -> one_of
         | sum IS_NOT_ONE_OF PHRASE         -> not_one_of
         | sum IS PHRASE                    -> is
         | sum IS_NOT PHRASE                -> is_not
         | sum INCLUDES PHRASE              -> includes
         | sum EXCLUDES PHRASE              -> excludes

?sum: product
    | sum PLUS product                      -> binary
    | sum MINUS product                     -> binary
?product: atom
    | product TIMES atom                    -> binary
    | product OVER atom                     -> binary
?atom: NUMBER UNIT?                         -> number
     | NAME                                 -> fact
     | MINUS atom                           -> negate
     | "(" sum ")"

COMPARE: /<=|>=|<|>/
IS_NOT_KNOWN.9: /is\s+not\s+known(?=\s*$)/
IS_KNOWN.9: /is\s+known(?=\s*$)/
IS_NOT_ONE_OF.8: /is\s+not\s+one\s+of\b/
IS_ONE_OF.8: /is\s+one\s+of\b/
IS_BETWEEN.8: /is\s+between\b/
IS_NOT.7: /is\s+not\b/
IS.6: /is\b/
EXCLUDES.6: /(?:do|does)\s+not\s+include\b/
INCLUDES.6: /includes?\b/
AND.6: /and\b/
PLUS: "+"
MINUS: "-"
TIMES: "*"
OVER: "/"
PHRASE: /\S.*/s
NUMBER: /\d[\d.,]*|\.\d+/
UNIT: /(?!(?:and|or|is|includes?)\b)[^\W\d_%](?:[\w\/'"³²·^]*)(?:\s+(?!(?:and|or|is|includes?)\b)[^\W\d_][\w\/'"³²·^]*)*|%|\$|°\s*\w+|"/
NAME: /[^\W\d_][\w'-]*(?:\s+[^\W_][\w'-]*)*?(?=\s*(?:$|[<>=!≤≥≠+*\/(),&|])|\s+-|\s+(?:is|includes?|do|does|and|or)\b)/
%ignore /\s+/
"""  # noqa: E501


@dataclass(frozen=True, slots=True)
class Syntax:
    """One node of what was written, from character `start` to `end` of the text; `literal` where no fact is in it."""

    form: str
    children: "tuple[Syntax | Token, ...]"
    start: int
    end: int
    literal: bool

    def facts(self) -> "list[Syntax]":
        """The facts named in it, in written order."""
        if self.form == "fact":
            return [self]
        found: list[Syntax] = []
        for child in self.children:
            if isinstance(child, Syntax):
                found += child.facts()
        return found


def _node(form: str) -> Callable[[object, list[Syntax | Token]], Syntax]:
    def build(_: object, children: list[Syntax | Token]) -> Syntax:
        first, last = children[0], children[-1]
        start = first.start if isinstance(first, Syntax) else first.start_pos
        end = last.end if isinstance(last, Syntax) else last.end_pos
        literal = form != "fact" and all(child.literal for child in children if isinstance(child, Syntax))
        return Syntax(form, tuple(children), start or 0, end or 0, literal)

    return build


_FORMS = (
    "compare", "between", "known", "not_known", "one_of", "not_one_of", "is", "is_not", "includes", "excludes",
    "binary", "number", "fact", "negate",
)  # fmt: skip
# Nodes are built while parsing: half the time of building lark's own trees first.
_PARSER = Lark(
    _GRAMMAR,
    parser="lalr",
    lexer="contextual",
    start=["condition", "sum"],
    maybe_placeholders=False,
    transformer=type("Nodes", (Transformer,), {form: _node(form) for form in _FORMS})(),
)


class Misread(ValueError):
    """The text can't be read: `what` at character `offset`, and the `mend`; `others` are slips beside it. `vague` where
    the form alone doesn't tell what was meant."""

    def __init__(
        self, offset: int, what: str, mend: str, others: "Sequence[Misread]" = (), vague: bool = False
    ) -> None:
        super().__init__(what)
        self.offset = offset
        self.what = what
        self.mend = mend
        self.others = others
        self.vague = vague


Read = TypeVar("Read")


def every(readers: Iterable[Callable[[], Read]], shared: bool = False) -> list[Read]:
    """What each of the readers reads; raises the first `Misread` with those of the others. Where they have a unit in
    common (`shared`), what is wrong with that is told once."""
    read: list[Read] = []
    slips: dict[object, Misread] = {}
    for reader in readers:
        try:
            read.append(reader())
        except Misread as misread:
            for slip in (misread, *misread.others):
                of_unit = shared and not slip.what.endswith("in two ways")
                slips.setdefault(re.sub(r"[\d.,]+", "5", slip.what) if of_unit else (slip.offset, slip.what), slip)
    if slips:
        first, *others = slips.values()
        raise Misread(first.offset, first.what, first.mend, others)
    return read


_SIGNS = {
    "==": "write 'is' instead of '=='",
    "=>": "write '>='",
    "=<": "write '<='",
    "=": "write 'is' instead of '='",
    "!=": "write 'is not' instead of '!='",
    "<>": "write 'is not' instead of '<>'",
    "≤": "write '<='",
    "≥": "write '>='",
    "≠": "write 'is not'",
    "&": "write each condition on its own line",
    "|": "write each on its own line under 'any:'",
    "and": "write each condition on its own line",
    "or": "write each on its own line under 'any:'",
    ")": "open a '(' for it or leave it out",
    ",": "write 'is one of a, b' for a list, otherwise leave it out",
    "%": "leave a number before '%', as in '5 %'",
    ":": "write a ratio as one number, as in 3.73",
    ".": "leave it out",
    ";": "leave it out",
    "°": "write °F or °C",
}
# What people type or say in the place of what conditions are written with; looked for where a line can't be read.
_INSTEAD: tuple[tuple[str, str], ...] = (
    ("^(not|Not|NOT) ", "write 'is not', 'do not include' or 'is not known' after the fact"),
    (r"(?<=\d) ?['\u2019\u2032]", "write ft for feet"),
    (r"(?<=\d) ?[\u201d\u2033]", "write in for inches"),
    (r"[\u2018\u2019\u201c\u201d\u201e]", "leave the quotes out"),
    (r"(?<=\d) ?[\u2013\u2014] ?(?=\d)", "write 'is between 5 and 8 psi'"),
    (r"[\u2013\u2014\u2212]", "write '-'"),
    (r"\u00d7", "write '*'"),
    (r"\u00f7", "write '/'"),
    (r"[\u00bc-\u00be\u2153\u2154\u215b-\u215e]", "write it as in 0.75"),
    (r"(?<=[\w)%] )x(?= )|(?<=\d )x(?= *\d)", "write '*'"),
    (r"(?<=\d)[ ]\d{3}\b", "write thousands as in 14,000"),
    (r"\b(about|around|roughly|approximately|approx)(?= \d)", "leave it out"),
    (r"\bor (more|above|over|higher|greater)\b", "leave it out, and write '>=' for 'is'"),
    (r"\bor (less|below|under|lower|fewer)\b", "leave it out, and write '<=' for 'is'"),
    (r"<>", "write 'is not'"),
    (r">={2,}", "write '>='"),
    (r"<={2,}", "write '<='"),
    (r"\b(is )?(no|not) (more|greater|higher) than\b|\b(is )?(at most|up to)\b", "write '<='"),
    (r"\b(is )?(no|not) (less|lower|fewer) than\b|\b(is )?at least\b", "write '>='"),
    (r"\b(is )?(more|greater|higher|larger|bigger) than\b|\b(is )?(over|above)\b|\bexceeds?\b", "write '>'"),
    (r"\b(is )?(less|lower|smaller|fewer) than\b|\b(is )?(under|below)\b", "write '<'"),
    (r"\b(is )?gt\b", "write '>'"),
    (r"\b(is )?lt\b", "write '<'"),
    (r"\b(do|does)n['\u2019]?t\b( includ?e?s?\b)?|\bexcludes?\b", "write 'do not include'"),
    (r"\b(is|are)n['\u2019]?t\b|\bis no(?= (?!and\b|or\b)\w)", "write 'is not'"),
    (r"\b(is )?not (unknown|unanswered|unasked)$", "write 'is known'"),
    (r"\b(is )?(unknown|unanswered|unasked)$|(?<!is )\bnot known$", "write 'is not known'"),
    (r"(?<!is )(?<!not )\bknown$", "write 'is known'"),
    (r"\bis (?!between\b)be[a-z]*n\b|\bis (from|within|in)\b(?=.*\d.*(&| and | to ))", "write 'is between'"),
    (r">>", "write '>'"),
    (r"<<", "write '<'"),
    (r"(?<!is )\bnot one of\b(?=.*(,| or | and ))", "write 'is not one of'"),
    (r"(?<!is )(?<!not )\bone of\b(?=.*(,| or | and ))", "write 'is one of'"),
    (r"\b(And|AND)\b", "write each condition on its own line"),
    (r"\b(Or|OR)\b", "write each on its own line under 'any:'"),
    (r"\b(has|have|contains?|with)\b", "write 'include'"),
    (r"\b(are|was|were|equals?)\b", "write 'is', or 'include' for a fact that holds several choices"),
    (r"\bis between [^&]*?\d[^&]*?(?P<at>&| (an|adn|nad|or|till|until|plus) )\s*(?=[\d.])", "write 'and'"),
    (r"\bdivided by\b", "write '/'"),
    (r"\b(times|multiplied by)\b", "write '*'"),
    (r"\bplus\b", "write '+'"),
    (r"\bminus\b", "write '-'"),
    (r"(?<=\d)(?P<at> ?-) ?(?=\d)|\d[^\d<>]*(?P<to> to )\s*(?=\d)", "write 'is between 5 and 8 psi'"),
)
_IN_A_NAME = (
    (r" (do|does)n['\u2019]?t$| not$", "do not"),
    (" plus ", "+"),
    (" minus ", "-"),
    (" (times|x) ", "*"),
    (" divided by ", "/"),
)
"""What stands in what is taken for a fact's name, and is to be written instead."""
HOW = "write 'fact > 5 psi', 'fact is choice' or 'fact is known'"
_AS_KNOWN = ("answered", "given", "told")
VAGUE = ("has", "have", "contain", "contains", "with", "are", "was", "were", "equal", "equals")
"""Words for which the kind of the fact tells what to write."""
_WANTED = (
    ("PHRASE", "a choice is missing", "name it, as in 'duties include towing'"),
    ("AND", "'and' and the upper end are missing", "write 'is between 5 and 8 psi'"),
    ("COMPARE", "a comparison is missing", "write 'fact > 5 psi', 'fact is ...' or 'fact is known'"),
    ("RPAR", "a '(' is never closed", "close it"),
    ("NAME", "a fact or a number is missing", "write it here"),
)


@lru_cache(maxsize=4096)
def parse_condition(text: str) -> Syntax:
    """Syntax tree of one condition line; raises `Misread`."""
    return _parse(text, "condition")


@lru_cache(maxsize=1024)
def parse_sum(text: str) -> Syntax:
    """Syntax tree of a number, a fact, or arithmetic between them; raises `Misread`."""
    return _parse(text, "sum")


def _parse(text: str, start: str) -> Syntax:
    if len(text) > 500:
        raise Misread(500, "a condition longer than 500 characters", "split it")
    if text.count("(") > 20:
        raise Misread(text.index("("), "more than 20 parentheses", "split it")
    try:
        tree = _PARSER.parse(text, start=start)
        assert isinstance(tree, Syntax)
        return tree
    except UnexpectedToken as error:  # no character is unexpected: PHRASE begins with any
        offset = len(text.rstrip()) if error.token.type == "$END" else error.token.start_pos or 0
        raise _misread(text, offset, set(error.accepts or error.expected), start) from None


def spoken(text: str, known: Collection[str] | None = None) -> Misread | None:
    """What is typed or said in the place of a condition's words, and what to write; None where nothing is.

    With `known` names, only what leaves one of them when it is taken out.
    """
    for pattern, mend in _INSTEAD:
        found = re.search(pattern, text)
        if found and (known is None or (text[: found.start()] + text[found.end() :]).strip() in known):
            start, end = next((found.span(name) for name, part in found.groupdict().items() if part), found.span())
            words = text[start:end]
            at = start + len(words) - len(words.lstrip())
            return Misread(at, f"'{words.strip()}' can't stand here", mend, vague=words.strip() in VAGUE)
    return None


def in_a_name(name: str) -> Misread | None:
    """The first words in what is taken for a fact's name that are none of it; None where there are no such."""
    for pattern, sign in _IN_A_NAME:
        if found := re.search(pattern, name):
            return Misread(found.start() + 1, f"'{found[0].strip()}' can't stand here", f"write '{sign}'")
    return None


def as_known(phrase: str, at: int) -> Misread | None:
    """What stands behind 'is' in the place of 'known', at `at`; None for anything else."""
    near = phrase in _AS_KNOWN or difflib.get_close_matches(phrase, ("known",), 1, 0.8)
    if not near or phrase in ("known", "unknown") or not phrase.isalpha():
        return None
    return Misread(at, f"'{phrase}' can't stand here", "write 'known'")


_SHARE = re.compile(r"(?P<said>(?P<figure>\b\d+(?:\.\d+)?) ?% of(?: the| his)?) (?P<of>[a-z][a-z' -]*)")


def _slipped_verb(text: str) -> Misread | None:
    """A word in the middle of a line that is nearly one of those that conditions are written with."""
    for word in re.finditer(r"(?<= )[a-z]+(?= )", text):
        if word[0] not in _OTHERS and (close := difflib.get_close_matches(word[0], _VERBS, n=1, cutoff=0.75)):
            return Misread(word.start(), f"'{word[0]}' can't stand here", f"write '{close[0]}'")
    return None


_OTHERS = ("his", "this", "its")
_VERBS = ("include", "includes", "is", "is between", "do not include", "does not include")


def _misread(text: str, offset: int, wanted: set[str], start: str) -> Misread:
    if share := _SHARE.search(text):
        mend = f"write '{float(share['figure']) / 100:g} * {share['of'].strip()}'"
        return Misread(share.start(), f"'{share['said']}' can't stand here", mend)
    if (instead := spoken(text)) is not None:
        return instead
    rest = text[offset:].lstrip()
    offset = len(text) - len(rest) if rest else offset
    word = re.match(r"\w+|\W", rest)
    figure = re.match(r"([a-z][a-z -]*?)\s*(%|°\s*\w+)", rest)
    if figure and (digits := in_digits(f"{figure[1]} {figure[2]}")):
        return Misread(offset, f"'{figure[0]}' is a figure in words", f"write it in digits: {digits}")
    if " between " in text and not re.search(r"\bis +between\b", text):
        mend = "write 'is between 5 and 8 psi'"
        return Misread(text.index(" between ") + 1, "'between' without 'is'", mend)
    if (figure := re.search(r"\d+$", text[:offset])) and re.match(r",\d{3}", rest):
        mend = "write '>', '<', '>=' or '<=' before the figure"
        return Misread(figure.start(), "a comparison is missing", mend, vague=True)
    if rest.startswith((",", ";")) and re.search(r"[<>]|\b(is|includes?)\b", rest):
        return Misread(offset, f"'{rest[0]}' can't stand here", "write each condition on its own line")
    if rest.startswith("=") and (torn := re.search(r"[<>]\s+$", text[:offset])):
        return Misread(torn.start(), f"'{torn.group()}=' is torn apart", f"write '{torn.group().strip()}='")
    for sign, mend in _SIGNS.items():
        if rest.startswith(sign) and not (sign.isalpha() and word and word[0] != sign):
            return Misread(offset, f"'{sign}' can't stand here", mend, vague=sign == ",")
    if rest.startswith(("<", ">")) and re.search("[<>]|\\bis\\b", text[:offset]):
        mend = "write each condition on its own line after '- ', or 'is between' for two ends"
        return Misread(offset, "a second comparison in one condition", mend)
    if text[:offset].count("(") > text[:offset].count(")"):
        return Misread(text.index("("), "a '(' is never closed", "close it")
    if not offset and rest.startswith(("<", ">")):
        return Misread(offset, "the fact is missing", f"name it before '{rest[0]}', as in 'boost > 5 psi'")
    if not rest and "COMPARE" in wanted and (slip := _slipped_verb(text)) is not None:
        return slip
    if not rest:
        for terminal, what, mend in _WANTED:
            if terminal in wanted:
                return Misread(offset, what, mend, vague=terminal == "COMPARE")
    shown = word[0] if word else ""
    mend = "write a value with its unit, a fact, or arithmetic between them" if start == "sum" else HOW
    return Misread(offset, f"'{shown}' can't stand here" if shown else "nothing is written here", mend, vague=True)
