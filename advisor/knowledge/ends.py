"""Names of the ends that fittings join: the vehicle's side, the turbo's side, and what lies between.

Pipe sizes in inches and bores in millimetres, as the trade names them; oil lines by dash size (SAE J514, from
memory: dash 4 is 7/16-20, dash 6 9/16-18, dash 10 7/8-14, dash 12 1 1/16-12).
"""

import re

from .places import did_you_mean

INCH = 0.0254

KINDS = {
    "manifold": r"manifold (T3|T4|T6|maker's own)",
    "foot": r"foot (T3|T4|T6)",
    "exhaust pipe": r"exhaust pipe SIZE in",
    "exhaust outlet": r"exhaust V-band SIZE in",
    "charge pipe": r"charge pipe SIZE in",
    "cover outlet": r"charge (hose|V-band) SIZE in",
    "cover inlet": r"intake SIZE in",
    "air": r"open air",
    "feed line": r"feed line dash (4|6)",
    "oil feed": r"oil feed (7/16-20|9/16-18)",
    "drain hose": r"drain hose dash (10|12)",
    "oil drain": r"oil drain (7/8-14|1 1/16-12)",
    "gate boss": r"gate boss SIZE mm (open|divided)",
    "gate inlet": r"gate inlet SIZE mm (open|divided)",
    "gate dump": r"gate dump SIZE mm",
    "branch": r"exhaust branch",
    "closed": r"closed",
    "boost source": r"boost source",
    "boost signal": r"boost signal",
}
_PATTERNS = {kind: re.compile(text.replace("SIZE", r"(\d{1,3}(?:\.\d)?)")) for kind, text in KINDS.items()}

FEED_LINES = {"small line": "feed line dash 4", "large line": "feed line dash 6"}
DRAIN_HOSES = {"small drain": "drain hose dash 10", "large drain": "drain hose dash 12"}


def kind_of(end: str) -> str | None:
    """Which kind of end a name is, None for no known one."""
    return next((kind for kind, pattern in _PATTERNS.items() if pattern.fullmatch(end)), None)


def likely_ends(end: str) -> str:
    """A mend for a name that is no end: how the ends are called that begin alike."""
    word = end.split()[0].lower()
    alike = [_as_written(text) for text in KINDS.values() if word == text.split()[0].lower()]
    if alike:
        return f"write {' or '.join(alike)}"
    return did_you_mean(word, {text.split()[0] for text in KINDS.values()}, "see the other fittings")


def _as_written(pattern: str) -> str:
    """`manifold (T3|T4)` as `'manifold T3', 'manifold T4'`."""
    found = re.search(r"\(([^)]*)\)", pattern)
    ways = [pattern.replace(found[0], one) for one in found[1].split("|")] if found else [pattern]
    return ", ".join(f"'{way}'" for way in ways).replace("SIZE", "3")


def size_of(end: str) -> float:
    """The size [m] of a pipe end; raises ValueError for an end without one."""
    found = re.search(r"([\d.]+) (in|mm)", end)
    if found is None:
        raise ValueError(f"{end!r} has no size")
    return float(found[1]) * (INCH if found[2] == "in" else 1e-3)


def pipe_end(what: str, size: float) -> str:
    """The end of a pipe, hose or V-band of `size` [m]: `pipe_end("intake", 0.1016)` is `intake 4 in`."""
    return f"{what} {round(size / INCH, 2):g} in"


def bore_end(what: str, size: float, entry: str = "") -> str:
    """A gate's end by bore [m], and by entry where its legs matter."""
    return f"{what} {round(size * 1e3, 1):g} mm {entry}".rstrip()
