"""What a try of one call shows: what the caller is told, in short or in full, and the trace of all rules or of one."""

import textwrap
from collections.abc import Iterator

from advisor.desk.entries import entry
from advisor.hanging import OUT
from advisor.his_units import his_units, speaking, teller
from advisor.inference.explain import why_not
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.rules import Caution, NextStep, Recommend, Say
from advisor.outcome import Consultation
from advisor.sheet.aloud import aloud
from advisor.sheet.layout import plain, reworded
from advisor.sheet.text import written
from advisor.sheet.trace import fact_base, fired
from advisor.wording import fill

WIDTH = 100
MORE = "'--in-full' shows the written recommendation, '--trace' why each rule fired, '--trace RULE' why one did or not"


def in_short(outcome: Consultation, knowledge: Knowledge, name: str) -> Iterator[str]:
    """What he is told, as at the end of a call, and the rules behind all that is told."""
    tell = teller(outcome, knowledge.vocabulary, (name,))
    *blocks, _ = aloud(outcome, speaking(knowledge, his_units(outcome.understood, knowledge.vocabulary)))
    yield from (name, "", plain(reworded(blocks, tell), WIDTH).rstrip("\n"), "")
    told = sorted(told_by(outcome))
    words = f"Rules that tell him something ({len(told)}): {', '.join(told) or 'none'}"
    yield from textwrap.wrap(words, WIDTH, subsequent_indent="  ", break_on_hyphens=False)
    yield MORE


def in_full(outcome: Consultation, knowledge: Knowledge, name: str) -> Iterator[str]:
    """The written recommendation."""
    yield written(outcome, knowledge, WIDTH, name).rstrip("\n")


def told_by(outcome: Consultation) -> frozenset[str]:
    """The rules whose words are told."""
    lines = (*outcome.advice, *outcome.next_steps, *outcome.say)
    return frozenset({line.rule for line in lines} | {caution.rule for caution in outcome.cautions} - {OUT}) - {""}


def trace(outcome: Consultation, knowledge: Knowledge, of: str = "") -> Iterator[str]:
    """Each rule that fired, or one: what it rests on, what it does, and whether he is told; why one did not fire."""
    yield "Trace"
    told, there = told_by(outcome), False
    for firing, one in zip(outcome.firings, fired(outcome, knowledge), strict=True):
        if of and of != one.rule:
            continue
        there = True
        rule = knowledge.rule(one.rule)
        yield f"  {one.rule} ({one.place}): {one.because}"
        yield from (f"      {ground}" for ground in one.grounds)
        deeds = [deed for deed in entry(rule, knowledge).then if not deed.startswith("say: ")]
        so = fill("; ".join(deeds) or "only words to say", fact_base(outcome), knowledge.vocabulary)
        among = "" if firing.mask is None else f", for {firing.mask.sum()} of {firing.mask.size} candidates"
        yield f"      so: {so}{among}"
        if _speaks(rule) and rule.name not in told:
            yield "      he is told nothing of it in this call"
    if of and not there:
        rule = knowledge.rule(of)
        found = why_not(rule, fact_base(outcome), knowledge.vocabulary).hindrances
        yield f"  {rule.name} ({rule.place}) did not fire"
        yield from (f"      {one.line}" for one in found)
        if not found:
            yield "      its facts are not complete: nothing in it is false"


def _speaks(rule: Rule) -> bool:
    return any(isinstance(action, Caution | NextStep | Recommend | Say) for action in rule.then)
