"""Conditions that can't hold because of how rules come to the facts that they read: through the check of a folder."""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE

from advisor.knowledge import check

FACTS = """\
  - {fact: wants, topic: x, source: rule, kind: several, choices: [{choice: cooler}, {choice: studs}, {choice: gauge}]}
  - {fact: reserve, topic: x, source: rule, kind: number, quantity: percent, unit: "%"}
  - {fact: remark, topic: x, source: rule, kind: text}
  - {fact: calm, topic: x, source: rule, kind: yes/no}
  - {fact: mode, topic: x, source: rule, kind: choice, choices: [{choice: easy}, {choice: hard}]}
  - {fact: mentioned gate, topic: x, source: heard, kind: choice, choices: [{choice: plain}, {choice: twin}]}
"""
SETTERS = (
    ("wants-studs", "understand", "present boost > 60 psi", "set: {wants: [studs, gauge]}"),
    ("wants-cooler", "understand", "altitude > 5000 ft", "set: {wants: cooler}"),
    ("reserve-is-ten", "understand", "present boost < 30 psi", "set: {reserve: 10 %}"),
    ("reserve-as-told", "understand", "present boost > 80 psi", "set: {reserve: injector size / 2}"),
    ("remark-it", "understand", "tune is hot", "set: {remark: loud}"),
    ("calm-by-low", "demand", "head risk is low", "set: {calm: yes}"),
    ("not-calm", "demand", "head risk is not low", "set: {calm: no}"),
    ("easy-since-calm", "advise", "calm is yes", "set: {mode: easy}"),
    ("hard-unheard", "understand", "tune is not known", "set: {mode: hard}"),
    ("hard-unheard-too", "understand", "axle ratio is not known", "set: {mode: hard}"),
)


def rule(name: str, stage: str, when: list[str], then: str) -> str:
    lines = "".join(f"      - {line}\n" for line in when)
    rest = f"    then: {{{then}, say: x}}\n    because: y\n    basis: z\n"
    return f"  - rule: {name}\n    stage: {stage}\n    when:\n{lines}{rest}"


def told(tmp_path: Path, *when: str, more: tuple[tuple[str, str, str, str], ...] = ()) -> list[str]:
    """What is said of a rule with these conditions, beside rules that set facts."""
    shop = tmp_path / "shop"
    shutil.copytree(BASE, shop, dirs_exist_ok=True)
    (shop / "facts.yaml").write_text((BASE / "facts.yaml").read_text("utf-8") + FACTS, "utf-8")
    sets = [rule(name, stage, [when], then) for name, stage, when, then in (*SETTERS, *more)]
    (shop / "sets.yaml").write_text("rules:\n" + "".join(sets), "utf-8")
    (shop / "reads.yaml").write_text("rules:\n" + rule("reads", "advise", list(when), "ask: [tune]"), "utf-8")
    errors = [str(fault) for fault in check(shop) if fault.severity == "error"]
    return [one for one in errors if "can both hold" not in one]


def by(name: str, shown: str = "") -> str:
    at = 2 + 7 * [setter[0] for setter in SETTERS].index(name)
    return f"'{name}' (sets.yaml:{at}:11){shown}"


TWO = "one of the two must go, or a rule must set the fact where the other holds"
LOW = "'head-risk-low' (rules.yaml:37:11)"


@pytest.mark.parametrize(
    ("when", "said"),
    [
        # a set: only what holds the choice, or doesn't
        (["wants include studs", "present boost < 50 psi"], by("wants-studs")),
        (["wants do not include studs", "altitude < 3000 ft"], by("wants-cooler")),
        (["wants include cooler", "altitude < 3000 ft"], by("wants-cooler")),
        (["wants include studs", "altitude < 3000 ft"], ""),
        (["wants is known", "altitude < 3000 ft"], ""),
        # a number: a constant that lies there, or a sum, which may
        (["reserve is 10 %", "present boost is between 40 psi and 60 psi"],
         f"{by('reserve-is-ten')} and {by('reserve-as-told')}"),
        (["reserve > 20 %", "present boost < 40 psi"], by("reserve-as-told")),
        (["reserve < 20 %", "present boost < 20 psi"], ""),
        (["reserve is known", "present boost is between 40 psi and 60 psi"],
         f"{by('reserve-is-ten')} and {by('reserve-as-told')}"),
        (["reserve is not known", "present boost is between 40 psi and 60 psi"], ""),
        (["reserve < 8 %", "present boost < 60 psi"], by("reserve-as-told")),
        # any text
        (["remark is known", "tune is stock"], by("remark-it")),
        (["remark is not known", "tune is stock"], ""),
        # through other rules' facts, and stages
        (["calm is yes", "present boost > 50 psi"], by("calm-by-low")),
        (["mode is easy", "present boost > 50 psi"], by("easy-since-calm")),
        (["calm is no", "present boost < 20 psi"], by("not-calm")),
        (["calm is no", "present boost > 50 psi"], ""),
        (["share of goal > 0.5", "present boost > 50 psi"], LOW),
        # nobody assumes the axle ratio, and the tune somebody may after the rule fired
        (["mode is hard", "axle ratio > 3", "tune is known"], ""),
        # where there are several of the conditions only those that matter are named
        (["altitude > 100 ft", "calm is yes", "cylinders is 6", "present boost > 50 psi"], by("calm-by-low")),
    ],
)  # fmt: skip
def test_what_the_rules_that_set_a_fact_asked_must_hold_too(when: list[str], said: str, tmp_path: Path) -> None:
    found = told(tmp_path, *when)
    if not said:
        assert found == []
        return
    (fault,) = found
    first, last = (f"'{when[at]}'" for at in ((0, 1) if len(when) == 2 else (1, 3)))
    at, beside = 4 + len(when), 5 if len(when) == 2 else 6
    assert fault == (
        f"reads.yaml:{at}:9: {last} can't go together with {first} in line {beside} (set so only by {said}); {TWO}"
    )


def test_what_was_not_known_when_a_rule_fired_may_be_assumed_since(tmp_path: Path) -> None:
    """In the small folder a rule assumes the tune, none the axle ratio."""
    more = (("hard-for-want-of-both", "understand", "axle ratio is not known", "set: {remark: loud}"),)
    assert told(tmp_path, "mode is hard", "tune is hot", "axle ratio > 3") == []
    assert told(tmp_path, "remark is known", "tune is stock", "axle ratio < 3", more=more) != []
    assert told(tmp_path, "remark is known", "tune is stock", more=more) == []


def test_of_very_many_rules_the_number_is_told(tmp_path: Path) -> None:
    """And what stands before is the later condition, wherever the fact is read."""
    more = tuple((f"loud-{at}", "understand", f"present boost > {90 + at} psi", "set: {calm: yes}") for at in range(3))
    (fault,) = told(tmp_path, "present boost is between 50 psi and 80 psi", "calm is yes", more=more)
    assert fault == (
        "reads.yaml:6:9: 'calm is yes' (none of the 4 rules that set it so can hold then) can't go together with "
        f"'present boost is between 50 psi and 80 psi' in line 5; {TWO}"
    )
    some = more[:2]
    (fault,) = told(tmp_path, "present boost is between 50 psi and 80 psi", "calm is yes", more=some)
    named = ", ".join((by("calm-by-low"), "'loud-0' (sets.yaml:72:11)")) + " and 'loud-1' (sets.yaml:79:11)"
    assert f"'calm is yes' (set so only by {named}) can't go" in fault


def test_a_rule_that_can_not_hold_is_blamed_and_not_what_reads_its_fact(tmp_path: Path) -> None:
    more = (("never", "understand", "present boost > 400 psi", "set: {wants: [cooler, gauge]}"),)
    (fault,) = told(tmp_path, "wants include cooler", "wants include gauge", more=more)
    assert fault.startswith("sets.yaml:75:9: 'present boost > 400 psi' can never hold")


def test_facts_that_hang_on_each_other_in_a_long_row_are_followed_three_deep(tmp_path: Path) -> None:
    more = (("so-remarked", "advise", "mode is easy", "set: {reserve: 3 %}"),)
    assert told(tmp_path, "reserve is 3 %", "present boost > 50 psi", more=more) == []
    assert len(told(tmp_path, "mode is easy", "altitude > 100 ft", "present boost > 50 psi", more=more)) == 1


@pytest.mark.parametrize("stock", ["stock", "hot"])
def test_groups_are_held_against_how_a_fact_comes_about(stock: str, tmp_path: Path) -> None:
    group = "any: [present boost > 50 psi, present boost > 45 psi]"
    (fault,) = told(tmp_path, "calm is yes", f"tune is {stock}", group)
    assert fault == (
        f"reads.yaml:7:9: the group 'any:' can't go together with 'calm is yes' in line 5 (set so only by "
        f"{by('calm-by-low')}); {TWO}"
    )
    assert told(tmp_path, "calm is yes", f"tune is {stock}", group.replace("45", "35")) == []


def test_what_hangs_on_a_rule_that_can_not_hold_is_not_blamed_beside_others(tmp_path: Path) -> None:
    more = (("never", "understand", "present boost > 400 psi", "set: {calm: yes}"),)
    (fault,) = told(tmp_path, "calm is yes", "present boost > 50 psi", more=more)
    assert "'present boost > 400 psi' can never hold" in fault


def test_rules_that_wait_for_each_other_are_told_and_followed_no_further(tmp_path: Path) -> None:
    more = (("calm-since-easy", "advise", "mode is easy", "set: {calm: yes}"),)
    found = told(tmp_path, "mode is easy", "present boost > 50 psi", more=more)
    assert any("these rules wait for each other" in fault for fault in found)
    assert not any("can't go together" in fault for fault in found)


def test_what_may_have_changed_or_hung_on_something_else_is_not_held_against_it(tmp_path: Path) -> None:
    """A computed figure isn't the caller's; where one of several was enough, each of them counts."""
    either = "any: [present boost < 20 psi, {}]"
    open_, asked = either.format("fuel power > 300 hp"), either.format("tune is hot")
    when = ("remark is known", "present boost > 50 psi", "tune is stock")
    assert told(tmp_path, *when, more=(("remark-more", "demand", open_, "set: {remark: loud}"),)) == []
    (fault,) = told(tmp_path, *when, more=(("remark-more", "demand", asked, "set: {remark: loud}"),))
    assert fault == (
        "reads.yaml:7:9: 'tune is stock' can't go together with 'remark is known' in line 5 (set so only by "
        f"{by('remark-it')} and 'remark-more' (sets.yaml:72:11)) and 'present boost > 50 psi' in line 6; "
        "one of the conditions must go, or a rule must set the fact where the other holds"
    )


def test_two_groups_of_which_no_ways_meet_are_told(tmp_path: Path) -> None:
    low, high = "present boost < 10 psi, present boost > 100 psi", "present boost is 25 psi, present boost is 45 psi"
    (fault,) = told(tmp_path, "tune is hot", f"any: [{low}]", f"any: [{high}]")
    assert fault == (
        "reads.yaml:7:9: the group 'any:' can't go together with the group 'any:' in line 6; one of the two must go"
    )
    assert told(tmp_path, "tune is hot", f"any: [{low}]", f"any: [{high}, present boost is 5 psi]") == []


def test_a_group_of_which_no_way_holds_is_told_alone(tmp_path: Path) -> None:
    low, high = "present boost < 10 psi, present boost > 100 psi", "present boost is 25 psi, present boost is 45 psi"
    group = f"all: [any: [{low}], any: [{high}]]"
    for beside in ([], ["tune is hot"]):
        assert told(tmp_path, *beside, group) == [
            f"reads.yaml:{5 + len(beside)}:9: the group 'all:' can never hold; mend it"
        ]
    assert told(tmp_path, group.replace("45", "5")) == []


def test_what_was_heard_lasts_as_what_was_asked(tmp_path: Path) -> None:
    """And what was computed for a candidate doesn't."""
    heard = (("remark-by-gate", "understand", "mentioned gate is twin", "set: {remark: loud}"),)
    (fault,) = told(tmp_path, "remark is known", "tune is stock", "mentioned gate is plain", more=heard)
    assert fault.startswith("reads.yaml:7:9: 'mentioned gate is plain' can't go together with 'remark is known'")
    assert told(tmp_path, "remark is known", "tune is stock", "mentioned gate is twin", more=heard) == []
    computed = (("remark-by-air", "demand", "air flow needed > 30 lb/min", "set: {remark: loud}"),)
    assert told(tmp_path, "remark is known", "tune is stock", "air flow needed < 25 lb/min", more=computed) == []


def test_of_several_conditions_that_rules_brought_about_one_that_matters_is_named(tmp_path: Path) -> None:
    (fault,) = told(tmp_path, "wants include gauge", "wants include studs", "present boost < 50 psi")
    assert "7:9: 'present boost < 50 psi' can't go together with 'wants include studs' in line 6 (set so" in fault
    (fault,) = told(tmp_path, "wants include cooler", "wants include studs", "altitude < 5000 ft")
    assert "7:9: 'altitude < 5000 ft' can't go together with 'wants include cooler' in line 5 (set so" in fault
