"""The written form of one condition or sum: text to a syntax tree with positions, or a `Misread` with a mend.

The grammar knows no facts: names, units and choices are runs of words here and get their meaning elsewhere.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from lark import Lark, Token, Transformer, UnexpectedCharacters, UnexpectedEOF, UnexpectedToken

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
    """One node of what was written, from character `start` to `end` of the text."""

    form: str
    children: "tuple[Syntax | Token, ...]"
    start: int
    end: int

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
        return Syntax(form, tuple(children), start or 0, end or 0)

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
    """The text can't be read: `what` at character `offset`, and the `mend`."""

    def __init__(self, offset: int, what: str, mend: str) -> None:
        super().__init__(what)
        self.offset = offset
        self.what = what
        self.mend = mend


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
    ",": "write 'is one of a, b' for a list",
    "%": "leave a number before '%', as in '5 %'",
}
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
    except UnexpectedCharacters as error:
        wanted = set(error.allowed or ())
        raise _misread(text, error.pos_in_stream or 0, wanted, start) from None
    except UnexpectedEOF as error:
        raise _misread(text, len(text), set(error.expected), start) from None
    except UnexpectedToken as error:
        offset = len(text.rstrip()) if error.token.type == "$END" else error.token.start_pos or 0
        raise _misread(text, offset, set(error.accepts or error.expected), start) from None


def _misread(text: str, offset: int, wanted: set[str], start: str) -> Misread:
    rest = text[offset:].lstrip()
    offset = len(text) - len(rest) if rest else offset
    word = re.match(r"\w+|\W", rest)
    if rest.startswith("and") and " between " in text[:offset]:
        mend = "write 'is between 5 and 8 psi'"
        return Misread(text.index(" between ") + 1, "'between' without 'is'", mend)
    for sign, mend in _SIGNS.items():
        if rest.startswith(sign) and not (sign.isalpha() and word and word[0] != sign):
            return Misread(offset, f"'{sign}' can't stand here", mend)
    if text[:offset].count("(") > text[:offset].count(")"):
        return Misread(text.index("("), "a '(' is never closed", "close it")
    if not offset and rest.startswith(("<", ">")):
        return Misread(offset, "the fact is missing", f"name it before '{rest[0]}', as in 'boost > 5 psi'")
    if not rest:
        for terminal, what, mend in _WANTED:
            if terminal in wanted:
                return Misread(offset, what, mend)
    shown = word[0] if word else rest[:1]
    mend = "write 'fact > 5 psi', 'fact is choice' or 'fact is known'"
    if start == "sum":
        mend = "write a value with its unit, a fact, or arithmetic between them"
    return Misread(offset, f"'{shown}' can't stand here" if shown else "nothing is written here", mend)
