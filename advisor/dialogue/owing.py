"""What is owed where a call goes on and where it ends: what stops it, what he has to find out, what he asked."""

from collections.abc import Collection, Iterator

from advisor.knowledge import Knowledge
from advisor.outcome import CLOSING, Consultation
from advisor.sheet.asked import still_owed
from advisor.sheet.cautions import in_short
from advisor.sheet.layout import GAP, Block, Para

OTHER_RULES = (
    "The rules or the catalogue are others than when it was begun: edited since, or another shop's. What is told now"
    " goes by these, and may differ from what he was told; summary tells all of it."
)


def resumed(name: str, count: int, edited: bool) -> Iterator[Block]:
    """That a call goes on that has answers, and that the knowledge was ``edited`` since it was begun."""
    if count:
        yield Para(f"Going on with call {name}: {count} answer{'s' * (count != 1)} so far.")
    if count and edited:
        yield Para(OTHER_RULES, "warn")


def to_find_out(consultation: Consultation, knowledge: Knowledge, skipped: Collection[str]) -> Iterator[Block]:
    """What he wasn't sure of, with how he can find out, and what was left out; and how it is told later."""
    unsure = [heard.answer.fact for heard in consultation.understood if heard.not_sure]
    left = [fact for fact in dict.fromkeys((*unsure, *skipped)) if fact not in CLOSING]
    checks = ((fact, knowledge.vocabulary[fact].check_by) for fact in left)
    words = [f"{fact} (by {check})" if check else fact for fact, check in checks]
    if words:
        yield Para("; ".join(words) + ".", "care", 2, "Still to find out: ")
        yield Para(f"Whenever he knows, type it by name, for example: {left[0]} ...", "dim", 2)


def afterwards(consultation: Consultation, knowledge: Knowledge, skipped: Collection[str]) -> Iterator[Block]:
    """What can be done once the recommendation has been told, what still stops it, what he has to find out, and what
    he is owed."""
    yield GAP
    for caution in consultation.cautions:
        if caution.severity == "stop":
            yield Para(in_short(caution), "stop", 2, "STOP still stands: ")
    yield from to_find_out(consultation, knowledge, skipped)
    yield from still_owed(consultation)
    yield Para(
        "no closes the call. Before that: how, why not, what if, change, save, sheet (? explains).",
        "dim",
    )
