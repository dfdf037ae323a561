"""A comparison in short, for who says yes or no to an edit: how grave it is, by what, and what nobody recorded."""

import textwrap
from collections import Counter
from collections.abc import Iterable

from advisor.conclusion import PRICES, SETTLED, Change
from advisor.desk.compare import CallChange, Comparison
from advisor.desk.nearest import NARROWED, Nearby
from advisor.outcome import GRAVE
from advisor.wording import counted

WIDTH = 80
MOST_MOVES = 5
ADVICE, GRAVE_CAUTIONS, CAUTIONS, SUMS, WORDS, POINTS = (
    "new advice",
    "other grave cautions",
    "other cautions",
    "other prices",
    "other words, parts or steps",
    "points or counts alone",
)
GRAVEST = (ADVICE, GRAVE_CAUTIONS, CAUTIONS, SUMS, WORDS, POINTS)


def gravest(change: Change) -> str:
    """The gravest of what changes: what is advised, what is warned of (grave or not), what it costs, what else is said
    or sold, or only points and how many candidates they concern."""
    lines = [line for line in (*change.gone, *change.new) if not line.unsaid]
    kinds = {line.kind for line in lines}
    if kinds & set(SETTLED):
        return ADVICE
    if "caution" in kinds:
        return GRAVE_CAUTIONS if any(line.kind == "caution" and line.what in GRAVE for line in lines) else CAUTIONS
    if kinds & set(PRICES):
        return SUMS
    return WORDS if kinds else POINTS


def unwarned(changed: Iterable[CallChange]) -> list[tuple[str, str, list[str]]]:
    """Grave cautions that are told no more, or no more as such: severity, rule, and in which calls; `stop` first."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in changed:
        still = {(line.what, line.rule) for line in one.change.new if line.kind == "caution"}
        gone = {(line.what, line.rule) for line in one.change.gone if line.kind == "caution"}
        for severity, rule in gone - still:
            if severity in GRAVE:
                found.setdefault((severity, rule), []).append(one.call.name)
    return sorted(((*pair, calls) for pair, calls in found.items()), key=lambda one: (GRAVE.index(one[0]), one[1]))


def moves(changed: Iterable[CallChange]) -> list[tuple[str, str, list[str]]]:
    """What was advised, what is, and in which calls; what happens most first."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in changed:
        for kind in SETTLED[::-1]:
            before, after = one.change.of(kind)
            if before or after:
                found.setdefault((before, after), []).append(one.call.name)
                break
    return sorted(((*pair, calls) for pair, calls in found.items()), key=lambda entry: (-len(entry[2]), entry[:2]))


def in_short(found: Comparison, nearby: Nearby) -> list[str]:
    """The lines of it, none longer than 80 columns."""
    size = Counter(gravest(one.change) for one in found.changed)
    first = f"changes {len(found.changed):,} of {counted(found.count, 'call')}"
    parts = [f"{kind} in {size[kind]}" for kind in GRAVEST if size[kind]]
    lines = _wrapped(first + (f": {', '.join(parts)}" if parts else ""))
    for severity, rule, calls in unwarned(found.changed):
        more = f" and {len(calls) - 1} more" if len(calls) > 1 else ""
        lines += _wrapped(f"no longer says '{severity}' by {rule} in {calls[0]}{more}", 2)
    lines += _by_rule(found)
    switched = moves(found.changed)
    for before, after, calls in switched[:MOST_MOVES]:
        more = f" and {len(calls) - 1} more" if len(calls) > 1 else ""
        lines += _wrapped(f"{before} gives way to {after} in {calls[0]}{more}", 2)
    if len(switched) > MOST_MOVES:
        rest = sum(len(calls) for _, _, calls in switched[MOST_MOVES:])
        lines += _wrapped(f"other changes of the advice in {counted(rest, 'call')}", 2)
    for ware in found.fresh[:MOST_MOVES]:
        lines += _wrapped(f"new {ware}", 2)
    if (rest := len(found.fresh) - MOST_MOVES) > 0:
        lines += _wrapped(f"and {rest} more that are new in the catalogue", 2)
    return lines + _unrecorded(nearby)


def _unrecorded(nearby: Nearby) -> list[str]:
    """The nearest situation that nobody recorded, of several edits one for each, and for which none was found."""
    several = len(nearby.flips) + len(nearby.none) > 1
    lines = []
    for flip in nearby.flips[:NARROWED]:
        by = f" by {flip.by}" if several else ""
        lines += _wrapped(f"nearest unrecorded{by}: {flip} ({gravest(flip.change)})")
    if rest := len(nearby.flips) - NARROWED:
        lines += _wrapped(f"and of {rest} more edits; '--all' shows them") if rest > 0 else []
    if not nearby.none:
        return lines
    of = f" by {', '.join(nearby.none[:NARROWED])}" if several else ""
    if (rest := len(nearby.none) - NARROWED) > 0:
        of += f" and {rest} more"
    if nearby.more:
        size = f" among the {nearby.tried} nearest tried; '--near {nearby.more}' tries more"
    else:
        size = f": no recorded call is one answer away from one ({nearby.tried} tried)"
    return lines + _wrapped(f"no unrecorded situation{of}{size}")


def _by_rule(found: Comparison) -> list[str]:
    """Each of what was edited with the calls that it changes, and those of them that get new advice."""
    calls: Counter[str] = Counter()
    advised: Counter[str] = Counter()
    for one in found.changed:
        names = found.edits.behind(one.change)
        calls.update(names)
        if gravest(one.change) == ADVICE:
            advised.update(names)
    lines = []
    for name in sorted(calls, key=lambda name: (-advised[name], -calls[name], name)):
        lines += _wrapped(f"by {name}: {calls[name]}" + (f", new advice in {advised[name]}" * bool(advised[name])), 2)
    idle = sorted(found.edits.rules - calls.keys())
    return lines + (_wrapped(f"changes no call: {', '.join(idle)}", 2) if idle and calls else [])


def _wrapped(text: str, indent: int = 0) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2), break_on_hyphens=False
    )
