"""The demo calls: each concludes what it must, together they reach every rule, and all of it is accounted for."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from advisor.consultation import consult
from advisor.inference.engines import agenda
from advisor.inference.facts import Fact
from advisor.knowledge import Knowledge, load
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.rules import Assume, Caution, NextStep, Recommend, RuleOut, SetFact
from advisor.outcome import Consultation
from advisor.replay import Replayed, replay, scripts_in
from advisor.replay import replayed as replayed_call
from advisor.scripted import Script, parse_script, read_script
from advisor.shares import COMPLETED
from advisor.sheet.text import worth_saying

ROOT = Path(__file__).parent.parent
RULES = ROOT / "rules"
DEMO = ROOT / "transcripts_demo"
FILES = scripts_in([DEMO])
NAMES = [path.stem for path in FILES]
# The kinds of calls that a desk gets, and the calls that stand for them.
KINDS = {
    "tow only": "tow-only",
    "daily": "daily",
    "strip": "strip",
    "sled class with an inducer limit": "sled-inducer-limit",
    "mixed duty in conflict": "mixed-duty",
    "request too big": "request-too-big",
    "request too small": "request-too-small",
    "high altitude": "high-altitude",
    "stock fuel with a big goal": "stock-fuel-big-goal",
    "unknown everything": "unknown-everything",
    "wrong foot": "wrong-foot",
    "complaint about a part that he runs": "complaint-late-spool",
}


@dataclass(frozen=True)
class Call:
    """A scripted call with what is concluded from it."""

    script: Script
    outcome: Consultation


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load(RULES)


@pytest.fixture(scope="module")
def calls(knowledge: Knowledge) -> Mapping[str, Call]:
    engine = agenda("reference")
    made = {}
    for path in FILES:
        script, faults = read_script(path, knowledge)
        assert script is not None, "; ".join(map(str, faults))
        made[path.stem] = Call(script, consult(script.answers, knowledge, engine))
    return made


@pytest.fixture(scope="module")
def replayed() -> list[Replayed]:
    return replay(FILES, RULES, engine="reference", processes=2)


def test_there_is_a_call_of_every_kind():
    assert len(FILES) >= 15
    assert set(KINDS.values()) <= set(NAMES)


def test_every_call_concludes_what_it_must(replayed: list[Replayed]):
    said = [str(line) for call in replayed for line in (*call.refused, *call.differences)]
    assert not said, "\n".join(said)
    assert list(dict.fromkeys(Path(call.file).stem for call in replayed)) == NAMES


def test_together_the_calls_reach_every_rule(replayed: list[Replayed], knowledge: Knowledge):
    fired = frozenset().union(*(call.fired for call in replayed))
    assert sorted({rule.name for rule in knowledge.rules} - fired) == []


def test_the_calls_reach_every_verdict(calls: Mapping[str, Call]):
    verdicts = {call.outcome.verdict for call in calls.values()}
    assert verdicts == {"recommended", "nothing fits", "not enough known", "diagnosed"}


def test_every_script_wants_something_and_refuses_something(calls: Mapping[str, Call]):
    for name, call in calls.items():
        wanted = {expectation.wanted for expectation in call.script.expectations}
        assert wanted == {True, False}, name
        assert call.script.verdict, name
        assert call.script.figures, name


@pytest.mark.parametrize("name", NAMES)
def test_every_conclusion_has_its_rule_its_facts_and_their_origin(
    name: str, calls: Mapping[str, Call], knowledge: Knowledge
):
    outcome = calls[name].outcome
    for firing in outcome.firings:
        rule = knowledge.rule(firing.rule)
        assert firing.place == rule.place
        # What a rule read is in the trace: known facts with their value, the candidate's, or noted as unknown.
        named = {fact.name for fact in firing.facts}
        assert facts_in(rule.when) <= named | set(firing.columns) | set(firing.unknown), firing.rule
        assert all(known_origin(fact) for fact in firing.facts), firing.rule
    assert all(known_origin(fact) for fact in outcome.facts.values())


def known_origin(fact: Fact) -> bool:
    """Whether it is said where a fact comes from; what a rule says has the rule's place."""
    origin = fact.origin
    by_rule = origin.kind in ("rule", "assumed") and origin != COMPLETED
    return bool(origin.source) and (origin.place is not None or not by_rule)


@pytest.mark.parametrize("name", NAMES)
def test_everything_told_comes_from_a_rule_that_fired(name: str, calls: Mapping[str, Call], knowledge: Knowledge):
    outcome = calls[name].outcome
    fired = {firing.rule for firing in outcome.firings} | outcome.depends.keys()  # these in a part of his ranges
    told = [(caution.rule, Caution) for caution in outcome.cautions]
    told += [(line.rule, Recommend) for line in outcome.advice] + [(line.rule, NextStep) for line in outcome.next_steps]
    for rule, action in told:
        assert rule in fired
        assert any(isinstance(each, action) for each in knowledge.rule(rule).then), rule
    names = {rule.name: rule for rule in knowledge.rules}
    for ruled_out in outcome.ruled_out:
        assert ruled_out.by
        for by in ruled_out.by:  # a rule that fired, or a hard limit in words
            if by in names:
                assert by in fired
                assert any(isinstance(each, RuleOut) for each in names[by].then)
    for fact in outcome.facts.values():
        if fact.origin.source in names:
            settings = [each for each in names[fact.origin.source].then if isinstance(each, SetFact | Assume)]
            assert fact.name in {each.fact for each in settings}


def test_a_recommendation_can_be_told_in_few_lines(calls: Mapping[str, Call], knowledge: Knowledge):
    """Beside advice, cautions and next steps, which stand by themselves, the last two stages leave nine lines at most,
    and with what is said of the next steps seventeen: one of them says that it stays short of his power also where the
    first line doesn't, which tells it from a tenth on."""
    for name, call in calls.items():
        steps = {line.rule for line in call.outcome.next_steps}
        lines = worth_saying(call.outcome, knowledge)
        last = [line.rule for line in lines if knowledge.rule(line.rule).stage in ("judge", "advise")]
        assert len(last) <= 17, (name, last)
        assert len([rule for rule in last if rule not in steps]) <= 9, (name, last)


def test_rules_agree_in_every_call(calls: Mapping[str, Call]):
    assert {name: call.outcome.conflicts for name, call in calls.items() if call.outcome.conflicts} == {}


def test_what_is_recommended_is_kept_and_worth_its_points(calls: Mapping[str, Call]):
    """Penalties order the choice; a realistic call without over-large wishes leaves its best some points."""
    for name, call in calls.items():
        best = call.outcome.recommended
        if call.outcome.verdict == "recommended":
            assert best is not None, name
            assert best.ruled_out_by == (), name
            assert best.points > 0.0, name


def test_the_mixed_call_shows_what_each_duty_alone_would_take(calls: Mapping[str, Call]):
    outcome = calls["mixed-duty"].outcome
    assert outcome.verdict == "recommended"
    assert {trade.duty for trade in outcome.trade} == {"daily", "towing", "strip"}
    assert sum(trade.share for trade in outcome.trade) == pytest.approx(1.0)
    assert len({trade.option.code for trade in outcome.trade}) > 1
    assert all(trade.gains or trade.option.code == outcome.recommended.code for trade in outcome.trade)
    assert outcome.trade_words


def test_the_towing_call_shows_the_part_that_was_asked_for(calls: Mapping[str, Call]):
    outcome = calls["tow-only"].outcome
    assert outcome.requested is not None
    assert outcome.requested.code != outcome.recommended.code
    assert outcome.requested_words


def test_a_wrong_expectation_is_told_with_its_place(knowledge: Knowledge):
    """A replay that could not fail would prove nothing: each kind of expectation is turned round once."""
    text = (DEMO / "tow-only.yaml").read_text(encoding="utf-8")
    turned = (
        text.replace("  must:\n", "  MUST\n").replace("  must not:\n", "  must:\n").replace("  MUST\n", "  must not:\n")
    )
    script, faults = parse_script(turned.encode(), knowledge, "turned.yaml")
    assert script is not None, faults
    found = replayed_call(script, knowledge, agenda("reference")).differences
    assert len(found) == len(script.expectations)
    assert {difference.place for difference in found} == {expectation.place for expectation in script.expectations}
