"""What is read back to the caller before the recommendation: all of it once, then what was put right and what is
assumed otherwise for that."""

from collections.abc import Iterator, Mapping, Sequence

from advisor.dialogue.views import assumed, left_open
from advisor.hearing.understood import value_words
from advisor.knowledge import Knowledge
from advisor.outcome import CLOSING, DIAGNOSED, NOT_ENOUGH, Consultation
from advisor.sheet.layout import GAP, Block, Para, Table
from advisor.sheet.text import as_understood, told
from advisor.words.speech import to_him

MOST_SAID = 3  # of what was put right, in the question whether the rest stands
TO_CONCLUDE = "yes concludes; change FACT corrects an answer"


class ReadBack:
    """What was read back last: ``told`` and ``taken``, by fact as he heard it; nothing before the first time."""

    def __init__(self) -> None:
        self._told: Mapping[str, str] = {}
        self._taken: Mapping[str, str] = {}

    def blocks(
        self, consultation: Consultation, knowledge: Knowledge, skipped: Sequence[str], enough: bool
    ) -> Iterator[Block]:
        """What to read to him now: the whole, or what isn't as it was read, where most of it still is."""
        own = knowledge.vocabulary
        heard = [one for one in consultation.understood if one.answer.fact not in CLOSING]
        now = {one.answer.fact: as_understood(one, own.get(one.answer.fact), consultation) for one in heard}
        taken = {one.name: value_words(one.value, own.get(one.name)) for one in assumed(consultation, knowledge)}
        told_before, taken_before, self._told, self._taken = self._told, self._taken, now, taken
        differs = _differences(told_before, now)
        if not told_before or 2 * len(differs) > len(now):
            yield from whole(consultation, knowledge, skipped, enough)
            return
        was = {fact: f"{value}, assumed" for fact, value in taken_before.items()}
        differs = {fact: (new, old or was.get(fact, "")) for fact, (new, old) in differs.items()}
        yield from changed(differs, _differences(taken_before, taken))


def _differences(before: Mapping[str, str], now: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """By fact, what is now and what was; "" for nothing."""
    both = {fact: (now.get(fact, ""), before.get(fact, "")) for fact in dict.fromkeys((*before, *now))}
    return {fact: (new, old) for fact, (new, old) in both.items() if new != old}


def changed(told_: Mapping[str, tuple[str, str]], taken: Mapping[str, tuple[str, str]]) -> Iterator[Block]:
    """What was put right and what is assumed otherwise for it, and whether the rest stands."""
    rows = [("told", fact, now or "taken back", before) for fact, (now, before) in told_.items()]
    rows += [("assumed", fact, now, before) for fact, (now, before) in taken.items() if now and fact not in told_]
    yield GAP
    if rows:
        yield Table(("", "fact", "now", "before"), tuple(rows))
    said = [f"{fact} {to_him(now)}" for fact, (now, _) in told_.items() if now]
    listed = f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else "".join(said)
    opens = f"So I have {listed} now. Does the rest stand" if 0 < len(said) <= MOST_SAID else "Does the rest stand"
    yield Para(f"“{opens} as I read it to you?”", "say", 0, "Say: ")
    yield Para(f"{TO_CONCLUDE}; summary shows all of it.", "dim", 2)


def whole(
    consultation: Consultation, knowledge: Knowledge, skipped: Sequence[str], enough: bool
) -> Iterator[Block]:
    """All that he told and that is assumed."""
    yield GAP
    if enough:
        yield Para("Stopped asking. What is not known is assumed, and said so.", "dim")
    elif consultation.verdict == NOT_ENOUGH:
        yield Para(f"{consultation.verdict_words} Nothing else that is open would help without it.", "dim")
    elif consultation.verdict == DIAGNOSED:
        yield Para("The checks come first. What a choice of turbo would still need is asked by more.", "dim")
    elif any(question.fact in skipped for question in consultation.questions):
        yield Para("Only what was left out could still change the advice.", "dim")
    elif consultation.stands or consultation.recommended is None:
        yield Para("Nothing that is still open is likely to change the advice.", "dim")
    else:
        yield Para("What could still change the advice can't be asked.", "dim")
    details = [q.fact for q in consultation.questions if q.settles == "detail" and q.fact not in (*skipped, *CLOSING)]
    if details and not enough and consultation.verdict not in (DIAGNOSED, NOT_ENOUGH):
        yield Para(f"{', '.join(details)}; more asks them.", "dim", 2, "Could only add a remark: ")
    yield from told(consultation, knowledge.vocabulary)
    yield from left_open(consultation, knowledge, skipped)
    yield GAP
    yield Para("“Let me read that back to you. Is all of it right?”", "say", 0, "Say: ")
    yield Para(f"{TO_CONCLUDE}.", "dim", 2)
