"""The parts list as it is shown: what each line costs, when it comes, and what all of it comes to."""

from collections.abc import Iterable, Sequence

from advisor import units
from advisor.knowledge.places import in_a_row
from advisor.outcome import Consultation, PartLine, parts_total
from advisor.sheet.layout import Block, Para, Table, heading


def money(amount: float) -> str:
    """A sum in the shop's currency."""
    return units.show(amount, "$", "money")


def budget_of(consultation: Consultation) -> units.Range | None:
    """What he wants to spend, where he said so."""
    fact = consultation.facts.get("budget")
    value = None if fact is None or fact.origin.kind != "answer" or fact.origin.source == "not sure" else fact.value
    return value if isinstance(value, units.Range) else None


WAITS = "Until what is told under STOP is settled, only what settles it is ordered."
STOPPED = f"What it would take. {WAITS}"


def proviso_of(consultation: Consultation) -> str:
    """What has to be said before the parts: while a caution says stop, they are no order."""
    return STOPPED if any(caution.severity == "stop" for caution in consultation.cautions) else ""


def part_count(part: PartLine) -> str:
    """How many, or a question mark while nobody can say what it takes."""
    return "?" if part.open else str(part.quantity)


def part_price(part: PartLine) -> str:
    """The price of the line, or that it is open."""
    return "open" if part.open or part.price is None else money(part.price * part.quantity)


def part_days(part: PartLine) -> str:
    """How long the line takes to come."""
    if part.days is None:
        return ""
    return "in stock" if part.days == 0 else f"{part.days:g} day{'' if part.days == 1 else 's'}"


def total_words(parts_: Sequence[PartLine], budget: units.Range | None = None) -> str:
    """The total in words: what is priced, what is still open, how long the slowest line takes, and whether it is
    more than he wants to spend."""
    total, unpriced = parts_total(parts_)
    words = money(total)
    if budget is not None and total > budget.high:
        words += f", which is {money(total - budget.high)} over his budget: tell him before he reads it"
    if unpriced:
        words += f", and {unpriced} line{'' if unpriced == 1 else 's'} still open"
        more = [part.open_price for part in parts_ if part.open_price is not None]
        if more:
            low, high = sum(one.low for one in more), sum(one.high for one in more)
            words += f" ({money(low)} more)" if low == high else f" ({money(low)} to {money(high)} more)"
    days = [part.days for part in parts_ if part.days]
    return words + (f"; the last part comes after {max(days):g} days" if days else "")


def parts(consultation: Consultation) -> Iterable[Block]:
    """The parts list with its total, held against the budget."""
    if not consultation.parts:
        return
    yield from heading("Parts")
    yield from _proviso(consultation)
    settled = [part for part in consultation.parts if not part.open]
    yield Table(
        ("no.", "part", "price", "comes in"),
        tuple(
            (str(part.quantity), f"{part.words} ({part.code})" if part.code else part.words, part_price(part),
             part_days(part))
            for part in settled
        ),
        frozenset((0, 2)),
    )  # fmt: skip
    for part in consultation.parts:
        if part.open:
            yield Para(f"{part.words} ({part.why})", "care", 2, "still open: ")
    yield Para(total_words(consultation.parts, budget_of(consultation)), "option", 2, "total: ")


def altogether(consultation: Consultation) -> Iterable[Block]:
    """The total alone, held against the budget; where no turbo is recommended, of which parts it is."""
    if consultation.parts:
        total = total_words(consultation.parts, budget_of(consultation))
        for_checks = consultation.verdict == "diagnosed" and not consultation.recommended
        named = in_a_row([part.words for part in consultation.parts])
        which = f"To find the cause, {named}" if for_checks else "All parts together"
        yield Para(f"{which}: {total}.", "option", 2)
        if proviso_of(consultation):
            yield Para(WAITS, "care", 2)


def _proviso(consultation: Consultation) -> Iterable[Block]:
    if proviso := proviso_of(consultation):
        yield Para(proviso, "care", 2)
