"""Two awkward sides of YAML: where a text's characters stand in the file, and its errors in plain words."""

import re
from collections import Counter
from itertools import pairwise

import yaml

from .places import Fault, Place

_ESCAPE = re.compile(r"\\(?:x.{2}|u.{4}|U.{8}|(?:\r\n|\n|\r)[ \t]*|.)", re.DOTALL)
BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
"""What ends a line for the YAML reader."""
_FOLD = re.compile(r"[ \t]*(?:\r\n|\n|\r)\s*")


def raw_offset(raw: str, value: str, style: str | None, offset: int) -> int:
    """Index in `raw` (quotes and all) of character `offset` of the text `value` that it stands for."""
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
COLON = "a ': ' inside a text"
MISFIT = "this line doesn't fit the indentation above it"
OPEN_QUOTE = "a quote is opened and never closed"
_CLOSE_QUOTE = "close it, and double any ' inside a text in single quotes"
_BLOCK = "a text can't begin with '>' or '|'"
NOT_A_LINE = "a line that is neither 'key: value' nor part of a text"
_ENTRY = re.compile(r" *- (?:rule|fact)\b")
_EARLIER = re.compile("opened|this sign|neither")
_CURLY_CLOSED = re.compile(r"[^\s\d]([\u201c\u201d\u2019])\s*$")
_TEXT_OPENED = re.compile(r"""(?:^|[:-])[ ]+(["'{\[])""")
_QUOTE_OPENED = re.compile(r"""(?:^|[:-])[ ]+(["'])""")
NEVER_OPENED = "a quote is closed and never opened"
_NEVER_OPENED = re.compile(r'( *(?:- )?[a-z][a-z ]*: +)[^"\']+[^"\'\s\d]"\s*$')
_SETTING = re.compile(r"[ -]*(set|assume): +([\w ]+: +[^:]*\S)\s*")
_HARD_SPACE = re.compile(r"^ *(?:- )?[a-z][a-z ]*:([\u00a0\u2007\u2009\u202f])")
_RUN_ON = re.compile(r".*[^\s-].*?(- (?:rule|fact))")
_BARE_KEY = re.compile(r"[ -]*[^:]+")
GLUED_COLON = re.compile(r"(?:- )?([a-z][a-z ]*):(\S.*)")
_AFTER_CLOSED = {
    "{": ("a text can't begin with '{'", _QUOTES),
    "[": ("a text can't begin with '['", _QUOTES),
    "'": ("the text goes on after its closing quote", "double any ' inside a text in single quotes"),
    '"': ("the text goes on after its closing quote", 'put single quotes around a text that holds "'),
}
DASHES = ("\u2013", "\u2014", "\u2212", "\u2022", "\u00b7")
_CLOSING = {"{": "}", "[": "]"}
# What the YAML reader says (C and pure Python wording), what it means at the desk, how to mend it.
_WORDS: tuple[tuple[str, str, str], ...] = (
    ("mapping values are not allowed", COLON, _QUOTES),
    ("unexpected end of stream|unexpected document indicator", OPEN_QUOTE, _CLOSE_QUOTE),
    ("expected (chomping|a comment or a line break)|expected comment or line break", _BLOCK, _QUOTES),
    ("unknown escape character|expected escape sequence|invalid Unicode character escape|expected hexdecimal",
     "a backslash that means nothing here", "write the text in single quotes"),
    ("could not find expected ':'", NOT_A_LINE, f"add ': ' after the key, or {_QUOTES}"),
    ("alphabetic or numeric|unexpected character|mapping keys are not allowed|sequence entries are not allowed",
     "a text can't begin with this sign", _QUOTES),
    ("expected key|expected '-' indicator|expected <block end>|"
     "block collections|block mapping keys|expected the node content|expected node content",
     MISFIT, "line it up with its neighbours"),
    ("depth|exceeded", "nested too deep", "write it flatter"),
    ("cannot start any token", "a text can't begin with this sign", _QUOTES),
    ("directive|expected URI|tag|document start", "a line can't begin like this", _QUOTES),
)  # fmt: skip


def explain(error: yaml.MarkedYAMLError, file: str, source: str) -> Fault:
    """A syntax error of the YAML reader as a placed fault in plain words."""
    said = f"{error.problem} {error.context or ''}"
    lines = BREAK.split(source)
    if error.problem_mark is not None and error.context_mark is not None and re.search("expected ',' or", said):
        return _in_brackets(error.context_mark, error.problem_mark, file, lines)
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
    line, column = mark.line, mark.column
    if line >= len(lines):
        line, column = len(lines) - 1, len(lines[-1])
    before, after = lines[line][:column], lines[line][column:]
    if what == MISFIT and (quote := _open_quote(lines, line, before)) is not None:
        what, mend, (line, column) = OPEN_QUOTE, _CLOSE_QUOTE, quote
    elif what == MISFIT and (opened := _TEXT_OPENED.search(before)):
        what, mend = _AFTER_CLOSED[opened[1]]
        column = opened.start(1)
    elif what == COLON and (run_on := _RUN_ON.fullmatch(before)):
        what, mend = "an entry begins in the middle of this line", f"begin '{run_on[1]}:' on a line of its own"
        column = run_on.start(1)
    elif what == COLON and _BARE_KEY.fullmatch(before):
        what, mend, line, column = _bare_key(lines, line)
    elif what == COLON and (never := _NEVER_OPENED.match(lines[line])):
        what, mend, column = NEVER_OPENED, "open it where the text begins", never.end(1)
    elif what == COLON and (setting := _SETTING.fullmatch(lines[line])):
        mend = f"write '{setting[2]}' on a line of its own below '{setting[1]}:'"
    elif what == _BLOCK:
        mend = _begun_with_sign(before)
    elif what == NOT_A_LINE and (hard := _HARD_SPACE.search(lines[line])):
        what, mend, column = "a hard space after this sign", "type a plain space in its place", hard.start(1)
    elif what == NOT_A_LINE:
        mend = _not_a_line(lines[line].strip(), mend)
    elif what.endswith("this sign") and after[:1] == "\t":
        what, mend = "a tab instead of the space that belongs here", "type a space"
    elif what.endswith("this sign"):
        what = f"a text can't begin with '{after[:1].strip()}'"
        if after[:1] == "*" and not before.strip():
            what, mend = "an entry can't begin with '*'", "begin it with '- '"
    if what == MISFIT and (bad := [at for at in (line, line - 1) if at >= 0 and _bad_dash(lines[at])]):
        mend = _bad_dash(lines[bad[0]])
        line, column = bad[0], column if bad[0] == line else _indent(lines[bad[0]])
    elif what == MISFIT and (better := _of_entry(lines, line)):
        mend = better
    elif what == MISFIT and (bare := [at for at in (line, line - 1) if at >= 0 and lines[at].lstrip()[:1] == "{"]):
        mend, line, column = "begin it with '- '", bare[0], _indent(lines[bare[0]])
    elif what == MISFIT and _some_dashes(lines, line):
        mend = "of the lines at this indentation begin each with '- ', or none"
    if what == OPEN_QUOTE and (curly := _CURLY_CLOSED.search(lines[line], column)):
        mend = f"write {lines[line][column]} for the curly {curly[1]} that closes it"
    return Fault(Place(file, line + 1, column + 1), what, mend)


def _in_brackets(opened: yaml.Mark, stopped: yaml.Mark, file: str, lines: list[str]) -> Fault:
    """What is wrong inside a '{' or '[': not closed on its line, or its entries are not parted as they should be."""
    sign = lines[opened.line][opened.column : opened.column + 1]
    if opened.line != stopped.line or _CLOSING.get(sign, "") not in lines[opened.line][stopped.column :]:
        place = Place(file, opened.line + 1, opened.column + 1)
        return Fault(place, f"a '{sign}' is opened and never closed", f"close it, or {_QUOTES}")
    place = Place(file, stopped.line + 1, stopped.column + 1)
    found = lines[stopped.line][stopped.column]
    if found in _CLOSING:
        return Fault(place, f"a ':' or ',' is missing before this '{found}'", f"add it, or {_QUOTES}")
    mend = "put ', ' between the entries, and quotes around a text that holds ': ' or ', '"
    return Fault(place, "the entries in brackets are not parted here", mend)


def _open_quote(lines: list[str], line: int, before: str) -> tuple[int, int] | None:
    """Line and column of a quote of an earlier line that was only closed in this one, by the next quote."""
    for number in range(line - 1, -1, -1):
        for opened in _QUOTE_OPENED.finditer(lines[number]):
            sign, rest = opened[1], lines[number][opened.end() :].replace("\\" + opened[1], "")
            if rest.count(sign) % 2 == 0:
                within = [before, *lines[number + 1 : line]]
                closed = before.count(sign) == 1 and not any(sign in text for text in within[1:])
                return (number, opened.start(1)) if closed else None
    return None


def _bare_key(lines: list[str], line: int) -> tuple[str, str, int, int]:
    """A line 'key: value' that was taken as the end of the text above: fault, mend and place."""
    above = line - 1
    while above > 0 and not lines[above].split("#")[0].strip():
        above -= 1
    if above >= 0 and not re.search(r":(?:\s|$)", lines[above]):
        text = lines[above]
        if re.search(r"[<>]|\b(is|includes?)\b", text):
            return MISFIT, "indent it like its neighbours", above, len(text) - len(text.lstrip(" -"))
        mend = _not_a_line(text.strip(), "add it after the key")
        return "a line without its ': '", mend, above, len(text) - len(text.lstrip(" -"))
    text = lines[line]
    return MISFIT, "indent it like its neighbours", line, len(text) - len(text.lstrip(" -"))


def _bad_dash(line: str) -> str:
    """How to mend a line that begins with another dash than '- '; "" for any other."""
    text = line.strip()
    if re.match(r"-[^\s-]", text):
        return "leave a space after the '-'"
    if text[:1] in DASHES or text.startswith("--"):
        return f"begin it with '- ', not with '{text[: 2 if text[0] == '-' else 1]}'"
    return ""


def _of_entry(lines: list[str], line: int) -> str:
    """How to mend a line that begins an entry elsewhere than those of the file begin, or stands where these begin and
    is none; "" for any other."""
    indents = Counter(_indent(text) for text in lines if _ENTRY.match(text)).most_common(1)
    text = lines[line]
    if not indents:
        return ""
    usual = indents[0][0]
    if _ENTRY.match(text) and _indent(text) != usual:
        return f"begin it in column {usual + 1}, like the other entries"
    if _indent(text) == usual and not text.lstrip().startswith("- "):
        return f"indent it to column {usual + 3}, like the keys of its entry"
    return ""


def _some_dashes(lines: list[str], line: int) -> bool:
    """Whether of a line and those beside it with its indentation some begin with '- ' and some don't."""
    near = (lines[at] for at in (line - 1, line, line + 1) if 0 <= at < len(lines))
    return len({one.lstrip().startswith("- ") for one in near if _indent(one) == _indent(lines[line])}) > 1


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _begun_with_sign(before: str) -> str:
    if re.match(r""" *- +(["']).*\1 *[>|]? *$""", before):
        return "leave the quotes out, or put them around the whole condition"
    if not before.strip(" ->|"):
        return "name the fact before it, as in 'present boost > 35 psi'"
    if re.match(r" *- +\{", before):
        return "leave out the braces in a condition, as in 'present boost > 35 psi'"
    if re.match(r" *- ", before):
        return "leave out the ':' in a condition, as in 'present boost > 35 psi'"
    return _QUOTES


def _not_a_line(text: str, otherwise: str) -> str:
    if dash := "begin it with '- '" if text.startswith("{") else _bad_dash(text):
        return dash
    if glued := GLUED_COLON.match(text):
        return f"leave a space after the ':', as in '{glued[1]}: {glued[2][:20].strip()}'"
    if re.match("(and|or) ", text):
        return "write each condition on its own line after '- ', those of which one is enough under 'any:'"
    if re.fullmatch(r"[a-z][a-z -]* (?:[<>]=? .*|is .*|includes? .*)", text):
        return "begin it with '- ' where it is a condition, else add ': ' after the key"
    return otherwise
