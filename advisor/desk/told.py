"""A comparison call by call, the grave first: what is advised, grave cautions, other cautions, prices, words. Points
and numbers of candidates are counted only, unless they are asked for; of what is very much, the first is shown.
"""

from collections.abc import Iterable, Iterator

from advisor.conclusion import Change
from advisor.desk.compare import CallChange, Comparison
from advisor.desk.in_short import GRAVEST, POINTS, gravest
from advisor.wording import counted

MOST = 20  # calls of a kind, and lines of a call
ALL = "'--all' shows them"


def told(found: Comparison, points: bool, every: bool, brief: bool) -> Iterator[str]:
    """Every call that changes, each named with its place, in lines; calls that change alike stand together. ``points``:
    with those, ``every``: however many there are, ``brief``: the calls alone."""
    kinds: dict[str, list[CallChange]] = {kind: [] for kind in GRAVEST}
    for one in found.changed:
        kinds[gravest(one.change)].append(one)
    for kind, changed in kinds.items():
        if not changed:
            continue
        hidden = kind == POINTS and not points
        yield f"{kind}: {counted(len(changed), 'call')}" + "; '--points' shows them" * hidden
        if hidden:
            continue
        most = len(changed) if every else MOST
        alike: dict[tuple[str, ...], list[CallChange]] = {}
        for one in changed[:most]:
            alike.setdefault(tuple(lines_of(one.change, points, every)), []).append(one)
        for lines, calls in alike.items():
            yield from (f"  {one.call.where}: {one.call.name}," for one in calls[:-1])
            last = calls[-1]
            size = _differ(len(last.change.lines()))
            yield f"  {last.call.where}: {last.call.name}: {size}, by {', '.join(found.edits.behind(last.change))}"
            if not brief:
                yield from (f"    {line}" for line in lines)
        if len(changed) > most:
            yield f"  and {counted(len(changed) - most, 'more call')}; {ALL}"


def edited(found: Comparison, every: bool) -> Iterator[str]:
    """What was edited, in lines."""
    kinds: dict[str, list[str]] = {}
    for line in found.edits.lines() or ["nothing was edited"]:
        kinds.setdefault(line.partition(":")[0], []).append(line)
    for kind, lines in kinds.items():
        most = len(lines) if every else MOST
        yield from lines[:most]
        if len(lines) > most:
            yield f"{kind}: and {len(lines) - most} more; {ALL}"


def lines_of(change: Change, points: bool, every: bool) -> Iterable[str]:
    """What changes in a call, in lines."""
    lines = change.lines() if points else change.said().lines()
    rest = [] if points or not change.unsaid else [f"points and numbers of candidates: {_differ(change.unsaid)}"]
    if not every and len(lines) > MOST:
        rest = [f"and {counted(len(lines) - MOST, 'more line')}; {ALL}", *rest]
        lines = lines[:MOST]
    return [*lines, *rest]


def _differ(count: int) -> str:
    """How many lines differ."""
    return f"{counted(count, 'line')} differ{'s' * (count == 1)}"
