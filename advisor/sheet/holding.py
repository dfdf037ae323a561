"""What the figures were worked out for, in a line beside the recommendation: altitude, summer, and his own figure."""

from collections.abc import Iterable

from advisor.outcome import Consultation, Figure
from advisor.sheet.layout import Block, Para
from advisor.units import show_computed

PLACE = ("altitude", "summer temperature")
NOBODY_SAID = " (nobody said)"


def holding(consultation: Consultation) -> Iterable[Block]:
    """The place that the figures hold for; and the goal at the crank beside the one at the wheels that he named."""
    best = consultation.recommended
    if best is None:
        return
    figures = {figure.name: figure for figure in consultation.figures}
    if all(name in figures for name in PLACE):
        high, hot = (_told(figures[name]) for name in PLACE)
        yield Para(f"Its figures hold for {high} and {hot} in summer.", "", 2)
    goal, crank = figures.get("power goal"), figures.get("crank goal")
    measured = consultation.facts.get("power measured at")
    if goal and crank and crank.value and measured is not None and measured.value == "wheels" and goal.basis == "given":
        at_crank = show_computed(crank.value.mid, crank.unit, crank.quantity)
        yield Para(f"The goal, {at_crank} at the crank, is the {goal.text} at the wheels that he asked for.", "", 2)


def _told(figure: Figure) -> str:
    return figure.text + (NOBODY_SAID if figure.basis == "assumed" else "")
