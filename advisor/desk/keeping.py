"""What is offered, as variants written into the scripts that they come from; what stands there stays as it is."""

import json
import re
from collections.abc import Iterable, Sequence

from advisor.desk.offers import Offered
from advisor.expected import Expectation

WIDTH = 118
PLAIN = re.compile(r"[A-Za-z0-9][^,\[\]{}:#\"'`&*!|%@]*")


def with_variants(text: str, offered: Sequence[Offered]) -> str:
    """The script with what is wanted of changed calls as variants at its end, and what is wanted of the call itself
    at the end of its own lists."""
    lines = text.splitlines()
    for one in offered:
        if not one.call.changes:
            for key, must in (("must", True), ("must not", False)):
                items = [f"    - {_item(wanted)}" for wanted in one.wanted if wanted.wanted == must]
                lines = _with_own(lines, key, items) if items else lines
    changed = [one for one in offered if one.call.changes]
    if changed and not any(line.startswith("variants:") for line in lines):
        lines.append("variants:")
    for one in changed:
        lines += _variant(one)
    return "\n".join(lines) + "\n"


def _with_own(lines: list[str], key: str, items: Sequence[str]) -> list[str]:
    """The lines with items at the end of a list of the call's own conclusion."""
    if not any(line.startswith("conclude:") for line in lines):
        at = next((number for number, line in enumerate(lines) if line.startswith("variants:")), len(lines))
        lines = [*lines[:at], "conclude:", *lines[at:]]
    start = next(number for number, line in enumerate(lines) if line.startswith("conclude:")) + 1
    end = _end(lines, start, 2)
    listed = next((number for number in range(start, end) if lines[number].split("#")[0].strip() == f"{key}:"), None)
    if listed is None:
        return [*lines[:end], f"  {key}:", *items, *lines[end:]]
    end = _end(lines, listed + 1, 4)
    return [*lines[:end], *items, *lines[end:]]


def _end(lines: Sequence[str], start: int, indent: int) -> int:
    """Where the block that begins at a line ends: lines that are indented at least so far."""
    end = start
    while end < len(lines) and lines[end].startswith(" " * indent):
        end += 1
    return end


def _variant(offered: Offered) -> list[str]:
    given = [f"{fact}: {scalar(words)}" for fact, words in offered.call.changes if words is not None]
    without = [fact for fact, words in offered.call.changes if words is None]
    parts = [_flow("answers", given, 4)] if given else []
    parts += [_flow("without", without, 4)] if without else []
    lines = [line for part in parts for line in part] + _conclude(offered.wanted)
    return ["  - " + lines[0].lstrip(), *lines[1:]]


def _conclude(wanted: Sequence[Expectation]) -> list[str]:
    must = [_item(one) for one in wanted if one.wanted]
    must_not = [_item(one) for one in wanted if not one.wanted]
    parts = [f"{key}: [{', '.join(items)}]" for key, items in (("must", must), ("must not", must_not)) if items]
    line = f"    conclude: {{{', '.join(parts)}}}"
    if len(line) <= WIDTH:
        return [line]
    found = ["    conclude:"]
    for key, items in (("must", must), ("must not", must_not)):
        if items:
            found += _flow(key, items, 6)
    return found


def _flow(key: str, items: Iterable[str], indent: int) -> list[str]:
    """A list in brackets where a line holds it, else an item a line."""
    line = f"{' ' * indent}{key}: [{', '.join(items)}]"
    if len(line) <= WIDTH:
        return [line]
    return [f"{' ' * indent}{key}:", *(f"{' ' * indent}  - {item}" for item in items)]


def _item(wanted: Expectation) -> str:
    return f"{wanted.kind}: {scalar(wanted.words)}"


def scalar(words: str) -> str:
    """Words as YAML, in quotes where they need them."""
    plain = PLAIN.fullmatch(words) is not None and words == words.strip()
    return words if plain else json.dumps(words, ensure_ascii=False)
