"""Lines that can't be read, put right where it is plain what was meant, so that what else is wrong with their entry is
told at once with them. What stands where in a line is kept as far as it can be.
"""

import re

from .places import Fault
from .yaml_text import BREAK, COLON, DASHES, GLUED_COLON, NEVER_OPENED, NOT_A_LINE, OPEN_QUOTE

_TEXT = re.compile(r"( *(?:- )?[a-z][a-z ]*: +)(\S+(?: +\S+){2,})$")
_WORDS = re.compile(r" *(?:- )?[a-z][a-z ]*")
_BEGUN = re.compile("a text (can't begin|that begins) with ")
_BAD_DASH = re.compile(rf"( *)(?:(?:[{''.join(DASHES)}]|--) *|-(?=[^\s-])|(?={{))(\S.*)")
_CURLY = "\u201c\u201d\u2018\u2019"


def put_right(lines: list[str], fault: Fault, start: int, end: int) -> bool:
    """Put right, in `lines` from `start` to before `end`, the one that the fault is about; says whether it could be."""
    at = fault.place.line - 1
    if not start <= at < end:
        return False
    line, ending = _parted(lines[at])
    below = next((text for text in lines[at + 1 : end] if text.strip()), "")
    if (better := _better(line, fault, _keys(lines), _indent(below) > len(_dashes(line)))) is None or better == line:
        return False
    lines[at] = better + ending
    return True


def _better(line: str, fault: Fault, keys: set[str], heads: bool) -> str | None:
    """The line as it was meant, None where that isn't plain; `heads`: the next line is indented below its key."""
    column = fault.place.column - 1
    if fault.what.startswith("a tab instead of the space"):
        return line[:column] + " " + line[column + 1 :]
    if fault.what.startswith("a hard space"):
        return re.sub(r"^([\w -]*:?)\s+", lambda found: found[0].replace(line[column], " "), line)
    if fault.what == OPEN_QUOTE:
        return _closed(line, column)
    if fault.what == NEVER_OPENED:
        return f'{line[:column]}"{line[column:]}'
    if fault.what == COLON and "quotes" in fault.mend and line[column : column + 1] == ":" and _TEXT.match(line):
        return line[:column] + ";" + line[column + 1 :]
    if fault.what == NOT_A_LINE and (begun := _BAD_DASH.fullmatch(line)):
        return f"{begun[1]}- {begun[2]}"
    if fault.what == NOT_A_LINE or fault.what.startswith("a line without its"):
        return f"{line.rstrip()}:" if heads and _WORDS.fullmatch(line) else _with_colon(line, keys)
    if fault.what.startswith("a ':' or ',' is missing") and line[column - 1 : column] == " ":
        return f"{line[: column - 1]}: {line[column:]}"
    if fault.what.endswith("is opened and never closed"):
        return _in_balance(line)
    if fault.mend.startswith("leave out the ':' in a condition"):
        return re.sub(r":(?=\s*[>|]\s*$)", " ", line[:column]) + line[column:]
    if _BEGUN.match(fault.what) and (text := _TEXT.match(line)):
        return f"{text[1]}'{text[2].rstrip().replace(chr(39), chr(39) * 2)}'"
    return None


def _closed(line: str, column: int) -> str | None:
    """A text whose quote was never closed, closed at the end of its line."""
    sign, rest = line[column], line[column + 1 :].rstrip()
    if not rest or sign in rest or sign not in "\"'":
        return None
    return line[: column + 1] + (rest[:-1] if rest[-1] in _CURLY else rest) + sign


def _in_balance(line: str) -> str | None:
    """A line with the one brace around 'key: value' closed at its end that is opened in it and not closed."""
    settings = ": " in line.rpartition("{")[2] and not re.search("[\"']", line)
    return f"{line.rstrip()}}}" if settings and line.count("{") == line.count("}") + 1 else None


def _with_colon(line: str, keys: set[str]) -> str | None:
    """A line that lacks the ':' behind its key, or the space after that."""
    indent, text = _dashes(line), line.lstrip(" -").rstrip()
    if glued := GLUED_COLON.match(text):
        return f"{indent}{glued[1]}: {glued[2]}"
    if text in keys:
        return f"{indent}{text}:"
    key = max((key for key in keys if text.startswith(f"{key} ")), key=len, default="")
    return f"{indent}{key}: {text.removeprefix(key).strip(' =;')}" if key else None


def _keys(lines: list[str]) -> set[str]:
    """The keys that the file writes."""
    return {found[1] for line in lines if (found := re.match(r" *(?:- )?([a-z][a-z ]*):(?:\s|$)", line))}


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _dashes(line: str) -> str:
    """What stands before the key of a line."""
    return line[: len(line) - len(line.lstrip(" -"))]


def _parted(line: str) -> tuple[str, str]:
    """A line and what ends it."""
    found = BREAK.search(line)
    return (line[: found.start()], line[found.start() :]) if found else (line, "")
