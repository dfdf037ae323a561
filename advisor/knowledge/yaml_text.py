"""Two awkward sides of YAML: where a text's characters stand in the file, and its errors in plain words."""

import re
from itertools import pairwise

import yaml

from .places import Fault, Place

_ESCAPE = re.compile(r"\\(?:x.{2}|u.{4}|U.{8}|(?:\r\n|\n|\r)[ \t]*|.)", re.DOTALL)
_FOLD = re.compile(r"[ \t]*(?:\r\n|\n|\r)\s*")


def raw_offset(raw: str, value: str, style: str | None, offset: int) -> int:
    """Index in `raw` (quotes and all) of character `offset` of the text `value` that it stands for."""
    if style and raw[1:-1] == value:
        return offset + 1
    places = _double_quoted(raw) if style == '"' else _aligned(raw, value, style)
    if offset < len(places):
        return places[offset]
    return places[-1] + 1 if places else min(1, len(raw))


def _double_quoted(raw: str) -> list[int]:
    places: list[int] = []
    index = 1
    while index < len(raw) - 1:
        if escape := _ESCAPE.match(raw, index):
            if escape[0][1] not in "\r\n":
                places.append(index)
            index = escape.end()
        elif fold := _FOLD.match(raw, index):
            breaks = len(re.findall("\r\n|\n|\r", fold[0]))
            places.extend([index] * max(1, breaks - 1))
            index = fold.end()
        else:
            places.append(index)
            index += 1
    return places


def _aligned(raw: str, value: str, style: str | None) -> list[int]:
    """Plain, single-quoted and block texts: the same characters in the same order, but for white space."""
    index = 0
    if style == "'":
        index = 1
    elif style in ("|", ">"):
        index = raw.find("\n") + 1
    places: list[int] = []
    for character in value:
        if not character.isspace():
            index = max(raw.find(character, index), index)
        places.append(index)
        index += 1
    return [min(place, following) for place, following in pairwise([*places, len(raw)])]


_QUOTES = "put the whole text in quotes"
_COLON = "a ': ' inside a text"
_MISFIT = "this line doesn't fit the indentation above it"
_EARLIER = re.compile("opened|this sign|neither")
_TEXT_OPENED = re.compile(r"""(?:^|[:-])[ ]+(["'{\[])""")
_BARE_KEY = re.compile(r"[ -]*[^:]+")
_AFTER_CLOSED = {
    "{": ("a text can't begin with '{'", _QUOTES),
    "[": ("a text can't begin with '['", _QUOTES),
    "'": ("the text goes on after its closing quote", "double any ' inside a text in single quotes"),
    '"': ("the text goes on after its closing quote", 'put single quotes around a text that holds "'),
}
# What the YAML reader says (C and pure Python wording), what it means at the desk, how to mend it.
_WORDS: tuple[tuple[str, str, str], ...] = (
    ("mapping values are not allowed", _COLON, _QUOTES),
    ("unexpected end of stream|unexpected document indicator", "a quote is opened and never closed",
     "close it, and double any ' inside a text in single quotes"),
    ("expected (chomping|a comment or a line break)|expected comment or line break",
     "a text can't begin with '>' or '|'",
     "name the fact before it, as in 'present boost > 35 psi', or put the text in quotes"),
    (r"expected ',' or '\]'", "a '[' is opened and never closed", f"close it, or {_QUOTES}"),
    (r"expected ',' or '\}'", "a '{' at the beginning of a text", _QUOTES),
    ("unknown escape character|expected escape sequence|invalid Unicode character escape|expected hexdecimal",
     "a backslash that means nothing here", "write the text in single quotes"),
    ("could not find expected ':'", "a line that is neither 'key: value' nor part of a text",
     f"add ': ' after the key, or {_QUOTES}"),
    ("alphabetic or numeric|unexpected character", "a text can't begin with this sign", _QUOTES),
    ("expected key|expected '-' indicator|expected <block end>|block sequence entries are not allowed|"
     "block collections|block mapping keys|expected the node content|expected node content",
     _MISFIT, "line it up with its neighbours"),
    ("depth|exceeded", "nested too deep", "write it flatter"),
    ("cannot start any token", "a text can't begin with this sign", _QUOTES),
    ("directive|expected URI|tag|document start", "a line can't begin like this", _QUOTES),
)  # fmt: skip


def explain(error: yaml.MarkedYAMLError, file: str, source: str) -> Fault:
    """A syntax error of the YAML reader as a placed fault in plain words."""
    said = f"{error.problem} {error.context or ''}"
    what, mend = "this is not readable as YAML", "compare it with the lines above"
    for pattern, meaning, remedy in _WORDS:
        if re.search(pattern, said):
            what, mend = meaning, remedy
            break
    mark = error.problem_mark
    if _EARLIER.search(what) and error.context_mark is not None:
        mark = error.context_mark
    if mark is None:
        return Fault(Place(file, 1, 1), what, mend)
    lines = re.split("\r\n|[\n\r\x85\u2028\u2029]", source)
    index, line, column = mark.index, mark.line + 1, mark.column + 1
    if line > len(lines):
        line, column = len(lines), len(lines[-1]) + 1
    before = source[index - mark.column : index]
    if what == _MISFIT and (opened := _TEXT_OPENED.search(before)):
        what, mend = _AFTER_CLOSED[opened[1]]
        column = opened.start(1) + 1
    elif what == _COLON and _BARE_KEY.fullmatch(before):
        what, mend = _MISFIT, "give the line above its ': ', or indent this line like its neighbours"
    elif what.endswith("this sign"):
        what = f"a text can't begin with '{source[index : index + 1].strip()}'"
    return Fault(Place(file, line, column), what, mend)
