"""Which of two rules makes the other one needless, told by what they do and by when they hold."""

from pathlib import Path

import pytest

from advisor.knowledge import Fault, Rule
from advisor.knowledge.domains import Universe
from advisor.knowledge.meaning import Reader
from advisor.knowledge.rulefile import read_rules
from advisor.knowledge.soundness import settable
from advisor.knowledge.source import parse_yaml, read_yaml
from advisor.knowledge.swallowed import swallowed
from advisor.knowledge.vocabulary import read_vocabulary

FACTS = read_vocabulary(read_yaml(Path(__file__).parent / "knowledge_base" / "facts.yaml", "facts.yaml"))


def rules(*written: tuple[str, str, str]) -> list[Rule]:
    """Rules r1, r2 ... of these stages, conditions and consequences."""
    entries = [
        f"  - rule: r{number}\n    stage: {stage}\n    when: {when}\n    then: {then}\n    because: x\n    basis: y\n"
        for number, (stage, when, then) in enumerate(written, 1)
    ]
    faults: list[Fault] = []
    document = parse_yaml(("rules:\n" + "".join(entries)).encode(), "a.yaml")
    found = read_rules(document, Reader(FACTS, faults))
    assert not faults
    assert not document.faults
    return found


def needless(*written: tuple[str, str, str]) -> list[tuple[str, str]]:
    """The needless rules, each with the one that makes it so."""
    found = rules(*written)
    universe = Universe(FACTS, settable(FACTS, found))
    faults = list(swallowed(universe, found))
    by_place = {rule.place: rule.name for rule in found}
    for fault in faults:
        one, other = (by_place[place] for place in fault.about)
        assert str(fault) == (
            f"{fault.about[0]}: '{one}' is swallowed by '{other}' ({fault.about[1]}): that one holds whenever this one "
            "does, and does as much; leave one of the two out, or narrow the wider one"
        )
        assert (fault.severity, fault.finding) == ("note", "swallowed")
    return [tuple(by_place[place] for place in fault.about) for fault in faults]


@pytest.mark.parametrize(
    ("stage", "wide", "narrow", "enough"),
    [
        ("understand", "recommend: Studs., say: a", "recommend: Studs., say: b", True),
        ("understand", "recommend: Studs., say: a", "recommend: Bolts., say: a", False),
        ("understand", "recommend: Studs., say: a", "next step: Studs., say: a", False),
        ("understand", "next step: Studs., say: a", "next step: Studs., say: b", True),
        ("understand", "say: a", "say: a", True),
        ("understand", "say: a", "say: b", False),
        ("understand", "recommend: Studs., say: a", "say: a", False),
        ("understand", "say: a", "recommend: Studs., say: a", False),
        ("understand", "caution: C, severity: stop, say: a", "caution: C, severity: danger, say: a", True),
        ("understand", "caution: C, severity: danger, say: a", "caution: C, severity: care, say: a", True),
        ("understand", "caution: C, severity: care, say: a", "caution: C, severity: note, say: a", True),
        ("understand", "caution: C, severity: care, say: a", "caution: C, severity: care, say: a", True),
        ("understand", "caution: C, severity: danger, say: a", "caution: C, severity: stop, say: a", False),
        ("understand", "caution: C, severity: note, say: a", "caution: C, severity: care, say: a", False),
        ("understand", "caution: C, severity: stop, say: a", "caution: D, severity: note, say: a", False),
        ("understand", "caution: C, severity: note, say: a", "recommend: C, say: a", False),
        ("understand", "ask: [tune, altitude], say: a", "ask: [tune], say: a", True),
        ("understand", "ask: [altitude, tune], say: a", "ask: [tune, altitude], say: a", True),
        ("understand", "ask: [tune], say: a", "ask: [tune, altitude], say: a", False),
        ("understand", "ask: [altitude], say: a", "ask: [tune, altitude], say: a", False),
        ("understand", "ask first: [tune], say: a", "ask: [tune], say: a", True),
        ("understand", "ask first: [tune], say: a", "ask first: [tune], say: a", True),
        ("understand", "ask: [tune], say: a", "ask first: [tune], say: a", False),
        ("understand", "set: {head risk: high}, say: a", "set: {head risk: high}, say: b", True),
        ("understand", "set: {head risk: high}, say: a", "set: {head risk: low}, say: b", False),
        ("understand", "set: {sustained load: yes}, say: a", "set: {head risk: low}, say: b", False),
        ("understand", "assume: {tune: hot}, say: a", "assume: {tune: hot}, say: b", True),
        ("understand", "assume: {tune: hot}, say: a", "assume: {tune: stock}, say: b", False),
        ("understand", "recommend: R, next step: N, say: a", "recommend: R, say: b", True),
        ("understand", "recommend: R, next step: N, say: a", "next step: N, recommend: R, say: b", True),
        ("understand", "recommend: R, say: a", "recommend: R, next step: N, say: a", False),
        ("advise", "add part: [foot kit, foot kit], say: a", "add part: [foot kit], say: b", True),
        ("advise", "add part: [foot kit], say: a", "add part: [foot kit], say: b", True),
        ("advise", "add part: [foot kit], say: a", "add part: [foot kit, foot kit], say: b", False),
        ("advise", "add part: [foot kit], say: a", "add part: [hose], say: b", False),
        ("judge", "rule out: this candidate, say: a", "rule out: this candidate, say: b", True),
        ("judge", "rule out: this candidate, say: a", "penalise: 5, say: b", True),
        ("judge", "rule out: this candidate, say: a", "prefer: 5, say: b", True),
        ("judge", "penalise: 5, say: a", "rule out: this candidate, say: b", False),
        ("judge", "penalise: 5, say: a", "penalise: 5, say: a", False),
        ("judge", "recommend: R, penalise: 5, say: a", "recommend: R, penalise: 5, say: a", False),
        ("judge", "rule out: this candidate, say: a", "recommend: R, say: a", False),
    ],
)
def test_what_the_wider_rule_does_must_be_enough(stage: str, wide: str, narrow: str, enough: bool) -> None:
    written = (
        (stage, "[power goal > 500 hp]", f"{{{wide}}}"),
        (stage, "[power goal > 700 hp]", f"{{{narrow}}}"),
    )
    assert needless(*written) == ([("r2", "r1")] if enough else [])
    assert needless(*reversed(written)) == ([("r1", "r2")] if enough else [])


EITHER = "{any: [tune is hot, present boost > 60 psi]}"


@pytest.mark.parametrize(
    ("one", "other", "swallowing"),
    [
        ("power goal >= 500 hp", "power goal > 500 hp", "one"),
        ("power goal is known", "power goal > 500 hp", "one"),
        ("power goal > 500 hp", "power goal < 500 hp", ""),
        ("tune is known", "tune is hot", "one"),
        ("tune is not known", "tune is not known", "one"),
        ("tune is not known", "tune is hot", ""),
        ("tune is hot", "tune is not stock", "one"),
        ("tune is hot", "road use is yes", ""),
        ("duties include towing", "duties include towing, tune is hot", "one"),
        ("duties include towing", "duties do not include strip", ""),
        ("power goal > 500 hp, tune is hot", "power goal > 600 hp, tune is hot", "one"),
        ("power goal > 500 hp, tune is hot", "power goal > 600 hp, tune is stock", ""),
        (EITHER, "tune is hot", "one"),
        (EITHER, "present boost > 70 psi", "one"),
        (EITHER, "present boost > 60 psi", "one"),
        (EITHER, "altitude > 5000 ft", ""),
        (EITHER, "{any: [tune is hot, present boost > 70 psi]}", "one"),
        (EITHER, "{any: [tune is hot, present boost > 50 psi]}", "other"),
        (EITHER, "{any: [tune is stock, present boost > 70 psi]}", ""),
        ("{none: [tune is hot, present boost > 60 psi]}", "tune is stock, present boost < 50 psi", "one"),
        ("{none: [tune is hot, present boost > 60 psi]}", "tune is stock", "other"),
        ("{all: [tune is hot]}", "tune is hot, altitude > 5000 ft", "one"),
        ("altitude > 4000 ft", "altitude > 5000 ft, " + ", ".join([EITHER] * 5), "one"),
        # Past 63 ways in which the narrow one can hold nothing is claimed.
        ("altitude > 4000 ft", "altitude > 5000 ft, " + ", ".join([EITHER] * 6), ""),
    ],
)
def test_the_wider_rule_must_hold_in_all_ways_in_which_the_other_can(one: str, other: str, swallowing: str) -> None:
    """Of two that hold alike the later one is needless."""
    then = "{recommend: Studs., say: a}"
    expected = {"one": [("r2", "r1")], "other": [("r1", "r2")], "": []}[swallowing]
    assert needless(("understand", f"[{one}]", then), ("understand", f"[{other}]", then)) == expected


def test_only_rules_of_the_same_stage_swallow_each_other() -> None:
    when, then = "[power goal > 500 hp]", "{recommend: Studs., say: a}"
    assert needless(("understand", when, then), ("demand", when, then), ("advise", when, then)) == []
    assert needless(("demand", when, then), ("understand", when, then), ("demand", when, then)) == [("r3", "r1")]


def test_of_three_alike_two_are_needless_and_each_is_told_once() -> None:
    when, then = "[power goal > 500 hp]", "{recommend: Studs., say: a}"
    assert needless(*[("understand", when, then)] * 3) == [("r3", "r1"), ("r2", "r1")]
