"""Loading a folder: what comes out, in which order rules stand."""

import copy
import os
import pickle
import random
import shutil
from concurrent.futures import ProcessPoolExecutor
from dataclasses import fields, replace
from multiprocessing import get_context
from pathlib import Path

import pytest

from advisor import knowledge as room
from advisor.knowledge import Fault, Knowledge, Place, Rule, check, load, read_maps, shipped_folder
from advisor.knowledge.against import Against
from advisor.knowledge.conditions import All, FactRef, Flag, Known, Number
from advisor.knowledge.meaning import Reader
from advisor.knowledge.rulefile import read_rules
from advisor.knowledge.rules import (
    AddPart,
    Ask,
    Assume,
    Caution,
    NextStep,
    Penalise,
    Recommend,
    RuleOut,
    Say,
    SetFact,
    placeholders,
)
from advisor.knowledge.source import parse_yaml, read_yaml
from advisor.knowledge.strata import arrange, reads, waits_for, writes
from advisor.knowledge.told_for import ToldFor
from advisor.knowledge.vocabulary import Choice, FactDef, Said, read_vocabulary
from advisor.quantities import Range, to_si

BASE = Path(__file__).parent / "knowledge_base"


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load(BASE)


def rule(knowledge: Knowledge, name: str) -> Rule:
    return next(rule for rule in knowledge.rules if rule.name == name)


def test_the_small_folder_is_sound() -> None:
    assert check(BASE) == ()


def test_the_shipped_folder_is_that_of_the_package_or_of_the_checkout(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(room, "__file__", str(tmp_path / "advisor" / "knowledge" / "__init__.py"))
    assert shipped_folder() == tmp_path / "rules"
    (tmp_path / "advisor" / "shop" / "rules").mkdir(parents=True)
    assert shipped_folder() == tmp_path / "advisor" / "shop" / "rules"


def test_the_shipped_folder_is_sound() -> None:
    assert [str(fault) for fault in check(shipped_folder()) if fault.severity == "error"] == []


def test_facts(knowledge: Knowledge) -> None:
    trailer = knowledge.vocabulary["trailer weight"]
    assert trailer.plausible == Range(to_si(1_000, "lb", "mass"), to_si(60_000, "lb", "mass"))
    assert trailer.prior == Range(to_si(6_000, "lb", "mass"), to_si(18_000, "lb", "mass"))
    assert trailer.typical == to_si(12_000, "lb", "mass")
    assert (trailer.quantity, trailer.unit, trailer.order, trailer.source) == ("mass", "lb", 20, "asked")
    assert trailer.ask_when is not None
    assert trailer.place == Place("facts.yaml", 17, 11)
    altitude = knowledge.vocabulary["altitude"]
    assert altitude.plausible is not None
    assert altitude.plausible.low == pytest.approx(-300 * 0.3048)
    duties = knowledge.vocabulary["duties"]
    assert duties.choice_names == ("daily", "towing", "strip")
    assert duties.choices[1].words == ("tow", "haul", "fifth wheel")
    assert duties.choices[1].weight == 0.4
    assert duties.choices[1].means == "pulls a trailer"
    wastegate = knowledge.vocabulary["wastegate"]
    assert (wastegate.source, wastegate.ask, wastegate.choice_names) == (
        "candidate", "", ("none", "internal", "external"),
    )  # fmt: skip
    with pytest.raises(TypeError):
        knowledge.vocabulary["new"] = trailer  # type: ignore[index]


WHOLE = """\
facts:
  - {fact: other, topic: x, kind: number, unit: lb, quantity: mass, ask: x, why: x, together: weights, in short: other}
  - fact: load
    topic: towing
    source: asked
    kind: number
    quantity: mass
    unit: lb
    plausible: 0 to 10 kg
    prior: 1 to 2 kg
    typical: 1.5 kg
    said as: [{words: [a ton], means: 7 kg}]
    limit: yes
    plans: yes
    denied by: [tongue, price]
    left open: yes
    mentioned: ["pull #"]
    ask: How much?
    listen for: The scale ticket.
    why: It sets the load.
    check by: Weigh it.
    seconds: 7
    known: 0.4
    order: 12
    together: weights
    in short: how much
    along: yes
    held against: [{at most: other, say: Which?}]
    told for: {asked: [other], words: [as much], called: what it was}
    accepted: [{finding: gap, because: Nothing follows from it.}]
  - {fact: bare, topic: y, kind: several, choices: [{choice: a, hints: [b]}, {choice: c, denied by: [d]}], ask: e,
     why: f, vague: [h]}
  - {fact: near, topic: y, kind: choice, choices: [{choice: a, stands in for: [g]}, {choice: c, rings for: [i]}],
     ask: e, why: f}
"""


def test_everything_that_is_written_of_a_fact_is_read() -> None:
    document = parse_yaml(WHOLE.encode(), "facts.yaml")
    facts = read_vocabulary(document)
    assert not document.faults
    place = Place("facts.yaml", 3, 11)
    assert facts["load"] == FactDef(
        "load", "towing", "asked", "number", "mass", "lb", Range(0.0, 10.0), Range(1.0, 2.0), 1.5, (), "How much?",
        "The scale ticket.", "It sets the load.", 7.0, 0.4, None, 12, place, (), (Said(("a ton",), Range(7.0, 7.0)),),
        True, True, ("tongue", "price"), True, "Weigh it.", ("pull #",), "weights", "how much", True,
        (Against(1, ("other",), 1.0, "Which?", place),), ToldFor(("other",), ("as much",), "what it was", place),
    )  # fmt: skip
    assert facts["load"].place == place
    assert [(one.finding, one.because) for one in facts["load"].accepted] == [("gap", "Nothing follows from it.")]
    choices = (Choice("a", hints=("b",)), Choice("c", denied_by=("d",)))
    plain = ("bare", "y", "asked", "several", "", "", None, None, None, choices, "e", "", "f", 10.0, 0.9, None, 1000)
    assert facts["bare"] == FactDef(*plain, place, vague=("h",))
    assert facts["near"].choices == (Choice("a", stands_in_for=("g",)), Choice("c", rings_for=("i",)))


@pytest.mark.parametrize(("typical", "sound"), [("1 lb", True), ("9 lb", True), ("0.9 lb", False), ("9.1 lb", False)])
def test_a_typical_value_lies_between_the_plausible_or_at_an_end(typical: str, sound: bool) -> None:
    entry = "{fact: load, topic: x, kind: number, quantity: mass, unit: lb, plausible: 1 to 9 lb, ask: x, why: x"
    document = parse_yaml(f"facts:\n  - {entry}, typical: {typical}}}\n".encode(), "a.yaml")
    assert ("load" in read_vocabulary(document)) == sound
    assert [fault.what for fault in document.faults] == ([] if sound else ["the typical value is not plausible"])


SPOKEN = f"""\
facts:
  - {{fact: {"a" * 60}, topic: x, kind: text, ask: x, why: x}}
  - {{fact: b, topic: x, kind: choice, choices: [{{choice: {"c" * 60}}}, {{choice: d}}], ask: x, why: x}}
  - fact: height
    topic: x
    kind: number
    quantity: altitude
    unit: ft
    said as: [{{words: [mile high, up a mile], means: "5,280 ft"}}, {{words: [low], means: -100 to 500 ft}}]
    ask: x
    why: x
  - fact: road
    topic: x
    kind: yes/no
    said as: [{{words: [sure], means: yes}}, {{words: [nope], means: no}}]
    ask: x
    why: x
"""


def test_words_that_stand_for_a_value() -> None:
    document = parse_yaml(SPOKEN.encode(), "a.yaml")
    facts = read_vocabulary(document)
    assert not document.faults
    assert list(facts) == ["a" * 60, "b", "height", "road"]
    assert facts["b"].choice_names == ("c" * 60, "d")
    high, low = facts["height"].said_as
    assert (high.words, low.words) == (("mile high", "up a mile"), ("low",))
    assert (high.value.low, high.value.high) == pytest.approx((1_609.344, 1_609.344))
    assert (low.value.low, low.value.high) == pytest.approx((-30.48, 152.4))
    assert [(said.words, said.value) for said in facts["road"].said_as] == [(("sure",), True), (("nope",), False)]


def test_rules(knowledge: Knowledge) -> None:
    assert [rule.name for rule in knowledge.rules] == sorted(rule.name for rule in knowledge.rules)
    pull = rule(knowledge, "long-pull-is-sustained")
    assert pull.stage == "understand"
    assert isinstance(pull.when, All)
    assert [part.text for part in pull.when.parts] == ["duties include towing", "trailer weight > 8,000 lb"]
    assert pull.because == "A loaded trailer on a grade holds full load for minutes."
    assert pull.basis == "common practice, no source"
    assert pull.kept_by == "R. Aldous, 2026-11"
    assert pull.place == Place("rules.yaml", 3, 11)
    assert pull.when.parts[1].place == Place("rules.yaml", 7, 9)


def test_actions(knowledge: Knowledge) -> None:
    place = Place("rules.yaml", 1, 1)
    here = {"place": place, "text": ""}
    then = {name: rule(knowledge, name).then for name in (
        "long-pull-is-sustained", "stock-tune-on-the-road", "fuel-short-of-goal", "hot-charge",
        "tight-housing-needs-gate", "gate-preferred", "request-noted",
    )}  # fmt: skip
    assert then["long-pull-is-sustained"][0] == SetFact("sustained load", True, place=place)
    assert then["stock-tune-on-the-road"][:3] == (
        Assume("tune", "stock", place=place),
        Assume("injector size", Number(0.0, **here), place=place),
        Ask(("tune",), False, place=place),
    )
    assert then["fuel-short-of-goal"] == (
        Ask(("injector size",), True, place=place),
        Caution("note", "The fuel feeds {fuel power}, not {power goal}.", place=place),
        Say("The fuel won't feed that.", place=place),
    )
    assert then["hot-charge"][0] == Recommend("A larger intercooler.", place=place)
    assert then["tight-housing-needs-gate"][0] == RuleOut(place=place)
    assert then["gate-preferred"][0] == Penalise(-5.0, place=place)
    assert then["request-noted"][:2] == (
        AddPart("foot kit", 1, place=place),
        NextStep("Write down '{request}' and send the list.", place=place),
    )
    assert then["request-noted"][0].place == Place("rules.yaml", 113, 18)
    assert placeholders("{a} of {b c}") == ("a", "b c")


EVERYTHING = """\
rules:
  - rule: everything
    stage: judge
    when: [tune is hot]
    then:
      set: {head risk: high, sustained load: yes}
      assume:
        tune: stock
      ask first: [tune]
      ask: [altitude,
        road use]
      rule out: this candidate
      penalise: 5
      prefer: 2.5
      recommend: Studs.
      caution: Mind the head.
      severity: danger
      add part: [foot kit, hose, foot kit]
      next step: Order.
      say: So be it.
    because: x
    basis: y
"""


def test_a_value_may_be_assumed_up_to_the_ends_of_what_is_plausible(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    for value, sound in (("5 psi", True), ("150 psi", True), ("4.9 psi", False), ("150.1 psi", False)):
        text = EVERYTHING[: EVERYTHING.index("    then:")] + f"""\
    then:
      assume: {{present boost: {value}}}
      say: x
    because: x
    basis: y
"""
        (tmp_path / "shop" / "more.yaml").write_text(text.replace("judge", "understand"), "utf-8")
        told = [str(fault) for fault in check(tmp_path / "shop") if "plausible range" in fault.what]
        assert (told == []) == sound, value


def test_every_action_stands_where_it_is_written() -> None:
    faults: list[Fault] = []
    vocabulary = read_vocabulary(read_yaml(BASE / "facts.yaml", "facts.yaml"))
    (rule,) = read_rules(parse_yaml(EVERYTHING.encode(), "a.yaml"), Reader(vocabulary, faults))
    assert not faults
    written = [(type(action).__name__, action.place.line, action.place.column) for action in rule.then]
    assert written == [
        ("SetFact", 6, 24), ("SetFact", 6, 46), ("Assume", 8, 15), ("Ask", 9, 18), ("Ask", 10, 12), ("RuleOut", 12, 17),
        ("Penalise", 13, 17), ("Penalise", 14, 15), ("Recommend", 15, 18), ("Caution", 16, 16), ("AddPart", 18, 18),
        ("AddPart", 18, 28), ("NextStep", 19, 18), ("Say", 20, 12),
    ]  # fmt: skip
    assert [action.points for action in rule.then if isinstance(action, Penalise)] == [5.0, -2.5]
    assert [(action.kind, action.quantity) for action in rule.then if isinstance(action, AddPart)] == [
        ("foot kit", 2),
        ("hose", 1),
    ]
    assert [(action.facts, action.urgent) for action in rule.then if isinstance(action, Ask)] == [
        (("tune",), True),
        (("altitude", "road use"), False),
    ]


def test_numbers_are_set_by_sums(knowledge: Knowledge) -> None:
    value = next(
        action.value for action in rule(knowledge, "head-risk-low").then
        if isinstance(action, SetFact) and action.fact == "share of goal"
    )  # fmt: skip
    assert value.text == "power now / power goal"
    assert reads(rule(knowledge, "head-risk-low")) >= {"power now", "power goal", "present boost"}


def test_equal_when_the_files_are(knowledge: Knowledge, tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "copy")
    again = load(tmp_path / "copy")
    assert again == knowledge
    assert hash(again) == hash(knowledge)
    facts = tmp_path / "copy" / "facts.yaml"
    facts.write_text(facts.read_text("utf-8") + "# reviewed\n", "utf-8")
    assert load(tmp_path / "copy") != knowledge
    assert knowledge != knowledge.digest


def test_the_digest_tells_files_apart_by_name(tmp_path: Path) -> None:
    for name in ("one", "other"):
        shutil.copytree(BASE, tmp_path / name)
        (tmp_path / name / f"{name}.yaml").write_text("rules: []\n")
    assert load(tmp_path / "one") != load(tmp_path / "other")


def test_maps_are_given_as_text(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    (tmp_path / "shop" / "maps").mkdir()
    (tmp_path / "shop" / "maps" / "bench.csv").write_bytes("\ufeffflow,ratio\n0.2,1.9\n".encode())
    knowledge = load(tmp_path / "shop")
    assert dict(knowledge.maps) == {"bench": "flow,ratio\n0.2,1.9\n"}
    assert knowledge != load(BASE)


def test_what_cannot_be_read_counts_in_the_digest_by_what_keeps_it(tmp_path: Path) -> None:
    found = {room.digest(tmp_path)}
    (tmp_path / "a.yaml").mkdir()
    found.add(room.digest(tmp_path))
    (tmp_path / "a.yaml").rmdir()
    (tmp_path / "a.yaml").symlink_to(tmp_path / "gone")
    found.add(room.digest(tmp_path))
    assert len(found) == 3


def digest(knowledge: Knowledge) -> str:
    assert knowledge.vocabulary["duties"].choice_names
    return knowledge.digest


def test_a_copy_is_whole_and_as_read_only(knowledge: Knowledge) -> None:
    copied = pickle.loads(pickle.dumps(knowledge))
    for one, other in ((copied, knowledge), (copied.catalogue, knowledge.catalogue)):
        for field in fields(one):
            value, same = getattr(one, field.name), getattr(other, field.name)
            assert type(value) is type(same), field.name
            assert field.name == "catalogue" or value == same, field.name
    with pytest.raises(TypeError):
        copied.vocabulary["tune"] = None
    assert replace(knowledge, strata={}).layers("understand") == ()


def test_travels_to_another_process(knowledge: Knowledge) -> None:
    copied = pickle.loads(pickle.dumps(knowledge))
    assert copied == knowledge
    assert copied.rules == knowledge.rules
    assert copied.vocabulary == knowledge.vocabulary
    assert copied.layers("understand") == knowledge.layers("understand")
    assert copy.deepcopy(knowledge) == knowledge
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        assert pool.submit(digest, knowledge).result() == knowledge.digest


def test_a_rule_stands_above_all_that_settle_what_it_reads(knowledge: Knowledge) -> None:
    for stage in ("understand", "demand", "judge", "advise"):
        layers = knowledge.layers(stage)
        for height, layer in enumerate(layers):
            for reader in layer:
                for other in layers[height:]:
                    assert not any(waits_for(reader) & writes(setter) for setter in other)
    assert sorted(rule.name for stage in knowledge.strata.values() for layer in stage for rule in layer) == [
        rule.name for rule in knowledge.rules
    ]


HERE = {"place": Place("a.yaml", 1, 1), "text": ""}


def made(name: str, needs: list[str], sets: list[str], assumes: tuple[str, ...] = ()) -> Rule:
    when = All(tuple(Flag(fact, True, **HERE) for fact in needs), **HERE)
    place = Place("a.yaml", int(name) + 1, 1)
    then = [SetFact(fact, True, place=place) for fact in sets]
    then += [Assume(fact, True, place=place) for fact in assumes]
    return Rule(name, "understand", when, tuple(then), "why", "basis", "", place)


def test_strata_of_random_rules() -> None:
    """Rules without a circle are put in order; one more rule that closes a circle is found out."""
    for seed in range(200):
        chance = random.Random(seed)
        facts = [f"f{number}" for number in range(8)]
        rules = []
        for number in range(12):
            target = chance.randrange(1, len(facts))
            needs = chance.sample(facts[:target], chance.randint(0, min(2, target)))
            rules.append(made(str(number), needs, [facts[target]]))
        faults: list[Fault] = []
        layers = arrange(rules, faults)["understand"]
        assert not faults
        height = {rule.name: level for level, layer in enumerate(layers) for rule in layer}
        for reader in rules:
            for setter in rules:
                if reads(reader) & writes(setter):
                    assert height[setter.name] < height[reader.name]
        reader = chance.choice([rule for rule in rules if reads(rule)])
        closing = made("99", sorted(writes(reader)), sorted(reads(reader)))
        arrange([*rules, closing], faults)
        assert len(faults) == 1
        assert "wait for each other" in faults[0].what


def test_asking_whether_an_assumed_fact_is_known_is_no_circle() -> None:
    unknown = Known("f", True, **HERE)
    rules = [
        Rule(
            name, "understand", All((unknown,), **HERE), (Assume("f", True, place=HERE["place"]),), "why", "basis", "",
            Place("a.yaml", 1, 1),
        )
        for name in ("one", "other")
    ]  # fmt: skip
    faults: list[Fault] = []
    assert [[rule.name for rule in layer] for layer in arrange(rules, faults)["understand"]] == [["one", "other"]]
    assert not faults
    assert waits_for(made("1", ["f"], [], ("f",))) == {"f"}


def test_sets_that_read_numbers_wait_for_them() -> None:
    number = FactRef("g", **HERE)
    setter = Rule(
        "r", "understand", All((Flag("x", True, **HERE),), **HERE), (SetFact("f", number, place=HERE["place"]),),
        "why", "basis", "", Place("a.yaml", 1, 1),
    )  # fmt: skip
    assert reads(setter) == {"x", "g"}


def many_rules(folder: Path, count: int) -> Path:
    """The small folder with `count` rules of mixed sorts added."""
    shutil.copytree(BASE, folder)
    text = ["rules:\n"]
    for number in range(count):
        text.append(
            f"  - rule: extra-{number}\n    stage: demand\n    when:\n"
            f"      - duties include {('towing', 'strip', 'daily')[number % 3]}\n"
            f"      - trailer weight > {1_001 + number} lb\n"
            f"      - any:\n          - fuel power < 0.{number % 10}5 * power goal\n"
            f"          - air flow needed is between {number + 1} and {number + 40} lb/min\n"
            f"      - none: [tune is hot, summer temperature > {50 + number % 60} °F]\n"
            f'    then:\n      caution: "At {{power goal}} mind the head, rule {number}."\n      severity: care\n'
            f'      say: "Mind the head."\n    because: Reason number {number}.\n    basis: none, a test\n'
        )
    (folder / "extra.yaml").write_text("".join(text), "utf-8")
    return folder


def test_a_thousand_sound_rules_load(tmp_path: Path) -> None:
    folder = many_rules(tmp_path / "shop", 1_000)
    assert check(folder) == ()
    assert len(load(folder).rules) == 1_011


def test_faults_of_all_files_come_at_once_and_in_order(tmp_path: Path) -> None:
    folder = many_rules(tmp_path / "shop", 3)
    extra = folder / "extra.yaml"
    extra.write_text(extra.read_text("utf-8").replace("duties include", "duty includes"), "utf-8")
    (folder / "rules.yaml").write_text("rules:\n  - rule: a\n", "utf-8")
    faults = check(folder)
    assert [fault.place.file for fault in faults] == ["extra.yaml"] * 3 + ["rules.yaml"] * 5
    assert list(faults) == sorted(faults)


def test_notes_keep_nothing_from_loading(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    rules = tmp_path / "shop" / "rules.yaml"
    rules.write_text(rules.read_text("utf-8").replace("          - duties include strip\n", ""), "utf-8")
    rules.write_text(rules.read_text("utf-8").replace("      - altitude > 5,000 ft\n", ""), "utf-8")
    assert [(str(fault), fault.severity) for fault in check(tmp_path / "shop")] == [
        ("facts.yaml:14:18: no rule speaks of 'strip'; write what follows from it, or leave it out", "note"),
        (
            "facts.yaml:61:11: nothing needs the answer to 'altitude'; write a rule that reads it, or leave it out",
            "note",
        ),
    ]
    assert load(tmp_path / "shop").rules
    assert check(tmp_path / "shop", needed_elsewhere={"altitude", "duties"}) == ()


def test_each_map_that_cannot_be_read_is_named_and_the_others_are_there(tmp_path: Path) -> None:
    maps = tmp_path / "maps"
    maps.mkdir()
    (maps / "a.csv").write_bytes(b"x" * ((1 << 20) + 1))
    (maps / "b.csv").mkdir()
    (maps / "c.csv").write_bytes(b"# bench\nflow,ratio\n1,\xe9\n")
    (maps / "d.csv").write_bytes(b"# bench, old\n\nflow;ratio\n1;2\n")
    (maps / "e.csv").write_bytes(b"flow\tratio\n1\t2\n")
    (maps / "f.csv").write_bytes("\ufeff# bench\nflow,ratio;note\n".encode())
    (maps / "g.csv").write_bytes(b"x" * (1 << 20))
    (maps / "h.txt").write_bytes(b"flow;ratio\n")
    (maps / "i.csv").write_bytes(b"# bench; nothing yet\n\n")
    faults: list[Fault] = []
    assert read_maps(tmp_path, faults) == {
        "f": "# bench\nflow,ratio;note\n", "g": "x" * (1 << 20), "i": "# bench; nothing yet\n\n"
    }  # fmt: skip
    assert [str(fault) for fault in faults] == [
        "maps/a.csv:1:1: is larger than 1 MiB; leave out points",
        "maps/b.csv:1:1: can't be read (Is a directory); see to its permissions",
        "maps/c.csv:3:1: this is not UTF-8 text; save the file as UTF-8",
        "maps/d.csv:3:5: the columns are parted by semicolons; save the map with commas between the columns",
        "maps/e.csv:1:5: the columns are parted by tabs; save the map with commas between the columns",
    ]


def test_a_fault_without_a_mend_says_what_is_wrong_alone() -> None:
    assert str(Fault(Place("a.yaml", 1, 2), "is odd")) == "a.yaml:1:2: is odd"


def test_the_condition_of_a_rule_stands_where_its_list_begins(knowledge: Knowledge) -> None:
    rule = knowledge.rule("long-pull-is-sustained")
    assert str(rule.when.place) == "rules.yaml:6:7"


def test_the_conditions_of_a_group_stand_where_their_list_begins() -> None:
    vocabulary = read_vocabulary(read_yaml(BASE / "facts.yaml", "facts.yaml"))
    text = "rules:\n  - rule: a\n    stage: understand\n    when:\n      - none:\n          - tune is hot\n"
    text += "    then: {say: x}\n    because: x\n    basis: y\n"
    (rule,) = read_rules(parse_yaml(text.encode(), "a.yaml"), Reader(vocabulary, []))
    assert isinstance(rule.when, All)
    (group,) = rule.when.parts
    assert str(group.place) == "a.yaml:5:9"


LEFT_BEHIND = ["._{}", ".#{}", "~${}", "#{}", ".{}.swp", "{}~", "{}.bak", "{}.orig"]


def test_what_editors_and_systems_leave_behind_is_passed_over(knowledge: Knowledge, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder)
    for file in ("rules.yaml", "catalogue/fittings.yaml"):
        for name in LEFT_BEHIND:
            (folder / file).with_name(name.format(Path(file).name)).write_bytes(b"\xff not yaml: [")
    (folder / "maps").mkdir()
    (folder / "maps" / "._bench.csv").write_bytes(b"\xff")
    assert check(folder) == ()
    assert load(folder) == knowledge
    assert load(folder).digest == knowledge.digest


def test_a_link_that_leads_nowhere_is_told(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    (tmp_path / "shop" / "more.yaml").symlink_to(tmp_path / "gone.yaml")
    assert [str(fault) for fault in check(tmp_path / "shop")] == [
        "more.yaml:1:1: is a link to a file that is gone; mend the link, or delete it"
    ]


@pytest.mark.parametrize("part", ["", "catalogue", "maps"])
def test_a_folder_that_can_not_be_looked_into_is_told(part: str, tmp_path: Path, monkeypatch) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder)
    (folder / "maps").mkdir()
    look = os.listdir

    def closed(path: object) -> list[str]:
        if Path(str(path)) == folder / part:
            raise PermissionError(13, "Permission denied")
        return look(str(path))

    monkeypatch.setattr(os, "listdir", closed)
    assert [str(fault) for fault in check(folder)] == [
        f"{part or 'facts.yaml'}:1:1: the folder '{folder / part}' can't be read (Permission denied); "
        "see to its permissions"
    ]
    assert read_maps(folder, []) == {}
