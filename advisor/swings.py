"""How what is told of a turbo swings over the ranges that the caller gave: how far it differs from the one advised,
where that turns, what has to be minded only in a part of them, and where it would come first."""

import numpy as np

from advisor.comparing import CLOSE_TO_SPEED, LATE, OUT_OF_BREATH, OVER, SLOW, Minding, Swing, Swings, wanted_by
from advisor.hanging import MOSTLY, depends
from advisor.knowledge import Knowledge
from advisor.matching.inputs import Array, Bools
from advisor.matching.uncertainty import HIGH, LOW
from advisor.situation import Situation
from advisor.spans import Spans, sign_of

A_FEW = 0.02
"""Share of a margin by which it has to move to be worth a word."""
AHEAD = 1.0
"""Points of 100 by which another has to lead to be told to come first."""


def swings_of(found: Spans, row: int, against: int, knowledge: Knowledge) -> Swings:
    """The differences of candidate ``row`` from ``against`` over his ranges, both among those looked at.

    What is read at one operating point of both moves as the figures of the two do that hold over all points.
    """
    place, other = found.rows.index(row), found.rows.index(against)

    def swing(fact: str, middle: float, worth: float) -> Swing | None:
        values = found.figures.get(fact)
        if values is None:
            return None
        own = values[:, place] - values[:, other]
        own = np.where(np.isfinite(own), own - own[0] + middle, np.nan)
        drawn = own[found.drawn]
        if not np.isfinite(own[0]) or np.isfinite(drawn).mean() < MOSTLY:
            return None
        least, most = np.nanquantile(drawn, (LOW, HIGH), method="nearest").tolist()
        below, above = (_where(found, mask, knowledge) for mask in (own <= -worth, own >= worth))
        return Swing(min(least, middle), max(most, middle), below, above)

    return swing


def minding_of(found: Spans, row: int, now: Situation, knowledge: Knowledge) -> Minding:
    """Where in his ranges something about candidate ``row`` has to be minded, or hasn't; of the turbo advised only
    where it hasn't: where it has, cautions of the rules say so."""
    masks = _to_mind(found, row, now)

    def where(kind: str, at_middle: bool) -> str:
        mask = masks[kind]
        if bool(mask[0]) != at_middle or (row == found.rows[0] and not at_middle):
            return ""
        return _where(found, ~mask if at_middle else mask, knowledge)

    return where


def comes_first(found: Spans, row: int, knowledge: Knowledge) -> tuple[str, ...]:
    """Where in his ranges candidate ``row`` would come before the turbo advised, in words."""
    ahead = found.points[:, found.rows.index(row)] > found.points[:, 0] + AHEAD
    where = _where(found, ahead, knowledge) if row != found.rows[0] else ""
    return (f"If {where}, it comes before the one recommended.",) if where else ()


def _where(found: Spans, mask: Bools, knowledge: Knowledge) -> str:
    """Where something (C,) is so that isn't at the middle, in words; "" where it hardly ever is."""
    if mask[0] or sign_of(mask) != 0 or found.share(mask) <= 1.0 - MOSTLY:
        return ""
    return depends(found, mask, knowledge).where


def _to_mind(found: Spans, row: int, now: Situation) -> dict[str, Bools]:
    """For which callers (C,) each of what may have to be minded is so; what hardly moves is so as at the middle."""
    place, size = found.rows.index(row), len(found.at)

    def passed(name: str, limit: Array | float, felt: float, over: bool = True) -> Bools:
        if name not in found.figures:
            return np.zeros(size, dtype=bool)
        beyond = (found.figures[name][:, place] - limit) * (1.0 if over else -1.0)
        drawn = beyond[found.drawn]
        moves = np.isnan(drawn).any() or np.ptp(drawn) >= felt
        return np.asarray(beyond > 0.0) if moves else np.full(size, beyond[0] > 0.0)

    asked = found.known.get("boost wanted by", np.full(size, wanted_by(now)))
    asked = np.where(np.isfinite(asked), asked, wanted_by(now))
    hot = [passed(f"{duty.name} exhaust temperature", duty.temperature_limit + OVER, OVER) for duty in now.duties]
    lit = np.isfinite(found.figures["spool rpm"][:, place])
    slow = passed("spool rpm", asked - LATE, LATE / 3.0, False) & passed("spool time", SLOW, SLOW / 6.0)
    slow &= slow[0]  # who wants it later never waits longer: a wait is told where it is so at the middle
    return {
        "surge": passed("surge margin", 0.0, A_FEW, False) | passed("goal surge margin", 0.0, A_FEW, False),
        "choke": passed("choke margin", OUT_OF_BREATH, A_FEW, False),
        "speed": passed("tip speed margin", CLOSE_TO_SPEED, A_FEW, False),
        "heat": np.any(hot, axis=0),
        "late": ~lit | passed("spool rpm", asked + LATE, LATE / 3.0) | slow,
    }
