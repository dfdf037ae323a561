"""Cover, mutants and the second look."""

import re

import pytest
from small_shop import ROOT, edit, run, script, small_shop

from advisor.course import infer
from advisor.desk.calls import scripted_calls
from advisor.desk.equivalent import means_the_same
from advisor.desk.held import touches
from advisor.desk.mutants import all_mutants, mutants
from advisor.inference.engines import agenda
from advisor.knowledge import load

IDLE = """
  - rule: altitude-when-nobody-says
    stage: understand
    when:
      - displacement > 4 L
    then:
      assume: {altitude: 1000 ft}
      say: "I take it you are not far above the sea."
    because: Most callers are.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


@pytest.fixture
def shop(tmp_path):
    folder = small_shop(tmp_path / "shop", "class", "law")
    with (folder / "law.yaml").open("a", encoding="utf-8") as file:
        file.write(IDLE.lstrip("\n"))
    return folder


def share_of(out):
    """How much of the mutants is noticed, in %."""
    return float(out.split(" noticed (")[1].split("%")[0])


def row(out, rule):
    return next(line for line in out.splitlines() if line.startswith(rule + " "))


def test_a_rule_that_fires_and_decides_nothing_is_not_covered(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "told.yaml", altitude="3,000 ft")
    code, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop)
    assert code == 1
    assert row(out, "altitude-when-nobody-says").endswith("-")
    script(tmp_path / "calls" / "untold.yaml")
    _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop)
    assert row(out, "altitude-when-nobody-says").endswith("untold")


def test_a_threshold_counts_when_seen_from_both_sides(shop, tmp_path, capsys):
    def note():
        _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop, "--listing")
        return next(line.split("|")[0].strip() for line in out.splitlines() if line.endswith("- displacement > 4 L"))

    script(tmp_path / "calls" / "large.yaml")
    assert note() == "ONLY TRUE"
    script(tmp_path / "calls" / "small.yaml", displacement="3.9 litres")
    assert note() == "both sides"


def test_choices_that_no_call_reaches_are_named(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "one.yaml")
    _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop)
    assert "never reached: duties is towing" in out
    assert "never reached: duties is sled" not in out


def test_cover_of_one_rule_or_file_names_the_branches_that_are_not_reached(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "large.yaml")
    code, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop, "--of", "altitude-when-nobody-says")
    assert code == 0
    _, only, told, counts = out.splitlines()
    assert only.startswith("altitude-when-nobody-says ")
    assert re.fullmatch(
        rf"{shop}/law.yaml:\d+:9: altitude-when-nobody-says: 'displacement > 4 L' is not false in any call while the "
        "rest of the rule holds",
        told,
    )
    assert counts.startswith("1 call: 1 of 1 rules")
    assert counts.endswith(" 0 of 1 branches and 0 of 1 thresholds seen from both sides")
    script(tmp_path / "calls" / "small.yaml", displacement="3.9 litres")
    _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop, "--of", "altitude-when-nobody-says")
    assert "\nEvery branch is seen from both sides.\n" in out
    _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop, "--of", "class")
    names = {rule.name for rule in load(shop).rules if rule.place.file == "class.yaml"}
    assert {line.split()[0] for line in out.splitlines() if line.split()[0] in names} == names
    assert "altitude-when-nobody-says" not in out
    of = ("--of", "altitude-when-nobody-says", "--listing")
    _, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop, *of)
    head, first, *rest = [line for line in out.splitlines() if line.startswith("====") or " | " in line]
    assert (head, first.strip()) == ("==== law.yaml", "decided |   - rule: altitude-when-nobody-says")
    assert len(rest) > 5
    assert not [line for line in rest if " - rule: " in line]
    assert rest[-1].partition(" | ")[2].startswith("    kept by: ")
    code, _, errors = run(capsys, "cover", tmp_path / "calls", "--shop", shop, "--of", "clas")
    assert (code, "did you mean 'class'?" in errors) == (2, True)


def test_mutants_move_negate_and_drop(shop):
    knowledge = load(shop)
    found = {mutant.words for mutant in mutants(knowledge.rule("altitude-when-nobody-says"), knowledge)}
    assert found == {
        "'displacement > 4 L' negated",
        "'displacement > 4 L' dropped",
        "4 L in 'displacement > 4 L' moved up",
        "4 L in 'displacement > 4 L' moved down",
        "'assume altitude' dropped",
    }


IDLE_CONDITIONS = """
  - rule: thin-air-for-a-sled
    stage: understand
    when:
      - duties is known
      - duties include sled
      - altitude > 5,000 ft
      - altitude > 4,000 ft
    then:
      caution: Thin air.
      severity: note
      say: Thin air up there.
    because: Thin air asks a higher pressure ratio.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


def test_a_change_that_can_decide_nothing_is_proven_and_not_counted(shop, tmp_path, capsys):
    with (shop / "law.yaml").open("a", encoding="utf-8") as file:
        file.write(IDLE_CONDITIONS.lstrip("\n"))
    knowledge = load(shop)
    every = mutants(knowledge.rule("thin-air-for-a-sled"), knowledge)
    same = {mutant.words for mutant in every if means_the_same(mutant, knowledge)}
    assert same == {
        "'duties is known' dropped",
        "'altitude > 4,000 ft' dropped",
        "4,000 ft in 'altitude > 4,000 ft' moved up",
        "4,000 ft in 'altitude > 4,000 ft' moved down",
    }
    script(tmp_path / "calls" / "plain.yaml", "conclude:\n  verdict: recommended\n")
    _, out, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop)
    assert "not counted: 4 that mean the same as their rule in every situation\n" in out


def test_what_means_the_same_fires_alike_in_the_demo_calls():
    """Oracle: the rules fired in whole calls."""
    knowledge, fires = load(ROOT / "rules"), agenda()
    same = [mutant for mutant in all_mutants(knowledge) if means_the_same(mutant, knowledge)]
    assert len(same) > 5
    recorded, _ = scripted_calls(sorted((ROOT / "transcripts_demo").glob("*.yaml"))[::5])
    for call in recorded[:6]:
        course = infer(call.answers, knowledge, fires)
        assert [mutant.name for mutant in same if touches(mutant, course)] == [], call.name


def test_offered_scripts_hold_and_notice_what_nobody_noticed(shop, tmp_path, capsys):
    for topic in ("law", "class"):
        edit(shop / f"{topic}.yaml", "common practice, no source", "common practice")
    script(tmp_path / "calls" / "plain.yaml", "conclude:\n  verdict: recommended\n")
    first, out, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop, "--write", tmp_path / "more")
    assert out.splitlines()[-1].startswith(f"Next: look the scripts in {tmp_path / 'more'} over, ")
    score = share_of(out)
    offered = sorted((tmp_path / "more").glob("*.yaml"))
    assert first == 1
    assert offered
    code, out, _ = run(capsys, "replay", tmp_path / "more", "--shop", shop)
    assert code == 0, out
    _, out, _ = run(capsys, "mutants", tmp_path / "calls", tmp_path / "more", "--shop", shop)
    assert share_of(out) > score + 50.0


def test_a_script_that_differs_already_notices_nothing(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "wrong.yaml", "conclude:\n  verdict: nothing fits\n")
    _, out, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop)
    assert "wrong.yaml: wrong: differs already, so it notices nothing" in out
    assert ": 0 noticed" in out


def test_the_second_look_names_what_similar_rules_mention(tmp_path, capsys):
    shop = small_shop(tmp_path / "shop", "law")
    rules = []
    for number, altitude in enumerate(["- altitude > 5,000 ft\n"] * 4 + [""]):
        rules.append(
            f"  - rule: hot-{number}\n    stage: understand\n    when:\n      - summer temperature > {90 + number} °F\n"
            f"      {altitude}    then:\n      caution: Hot.\n      severity: care\n      say: Hot there.\n"
            "    because: Thin air.\n    basis: common practice\n".replace("\n          then", "\n    then")
        )
    (shop / "hot.yaml").write_text("rules:\n" + "".join(rules).replace("      " + "    then", "    then"), "utf-8")
    code, out, _ = run(capsys, "second-look", "hot-4", "--shop", shop)
    assert code == 0
    assert "4 of 4 such rules also look at altitude" in out
    _, out, _ = run(capsys, "second-look", "hot-3", "--shop", shop)
    assert out == (
        "Similar rules mention nothing that this one leaves out.\nLooked at:\n"
        "  in the same file: hot-0, hot-1, hot-2, hot-4\n"
        "  that it shares 'altitude' with: hot-0, hot-1, hot-2\n"
        "  that it shares 'summer temperature' with: hot-0, hot-1, hot-2, hot-4\n"
    )
    edit(shop / "hot.yaml", "caution: Hot.\n      severity: care\n      say", "recommend: Hot.\n      say")
    one = (shop / "hot.yaml").read_text("utf-8").replace("hot-4", "cold", 1)
    one = one[: one.index("recommend", one.index("cold"))] + "caution: Cold.\n      severity: note\n      say: Cold.\n"
    (shop / "hot.yaml").write_text(one + "    because: Thin air.\n    basis: common practice\n", "utf-8")
    _, out, _ = run(capsys, "second-look", "cold", "--shop", shop)
    assert out.startswith("Fewer than 3 rules do alike")
    assert "\n  in the same file, though few of them do alike: hot-0, hot-1, hot-2, hot-3\n" in out
    late = (shop / "hot.yaml").read_text("utf-8").replace("stage: understand", "stage: demand", 4)
    (shop / "hot.yaml").write_text(late.replace("altitude > 5,000 ft", "air flow needed > 30 lb/min"), "utf-8")
    _, out, _ = run(capsys, "second-look", "cold", "--shop", shop)
    assert "air flow needed" not in out  # computed only after the stage of this one
    code, _, errors = run(capsys, "second-look", "hot-44", "--shop", shop)
    assert code == 2
    assert "did you mean 'hot-" in errors


def test_mutants_of_one_rule_or_file_alone(shop, tmp_path, capsys):
    knowledge = load(shop)
    conclude = "conclude: {must: [fired: altitude-when-nobody-says], must not: [fired: no-class-to-obey]}\n"
    script(tmp_path / "calls" / "one.yaml", conclude)
    for named, rules in (
        ("altitude-when-nobody-says", ["altitude-when-nobody-says"]),
        ("class", [rule.name for rule in knowledge.rules if rule.place.file == "class.yaml"]),
    ):
        _, out, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop, "--of", named)
        *told, last, following = out.splitlines()
        folders = f"advisor mutants {tmp_path / 'calls'} --shop {shop} --of {named} --write FOLDER"
        assert following == f"Next: '{folders}' writes the scripts with variants that notice them."
        of = [mutant for mutant in all_mutants(knowledge) if mutant.rule.name in rules]
        same = sum(means_the_same(mutant, knowledge) for mutant in of)
        assert last.startswith(f"{len(of) - same} mutants, 1 call: ")
        assert {line.split(": ")[1] for line in told if "no script notices" in line} <= set(rules)
    _, whole, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop)
    of_one = [line for line in whole.splitlines() if ": altitude-when-nobody-says: " in line]
    _, out, _ = run(capsys, "mutants", tmp_path / "calls", "--shop", shop, "--of", "altitude-when-nobody-says")
    assert of_one == out.splitlines()[: len(of_one)]
    assert of_one
    _, out, _ = run(
        capsys, "mutants", tmp_path / "calls", "--shop", shop, "--of", "law.yaml", "--write", tmp_path / "more"
    )
    assert "fired: altitude-when-nobody-says" in (tmp_path / "more" / "one.yaml").read_text("utf-8")


@pytest.mark.parametrize(
    ("named", "told"),
    [
        (("--of", "altitude-when-nobody-say"), "did you mean 'altitude-when-nobody-says'?"),
        (("--of", "clas"), "there is no rule and no rule file 'clas'; did you mean 'class'?"),
        (("--of", "xyz"), "there is no rule and no rule file 'xyz'; name a rule, or a file of rules"),
        (("--write", "facts"), "facts: is a file, so nothing can be put into it; name a folder"),
        (("--write", "calls"), "calls/one.yaml: is there already and would be written over; name a folder without"),
        (("other", "--write", "new"), "one.yaml: two scripts are called so, and one would be written over the other"),
    ],
)
def test_mutants_of_what_there_is_not_are_refused(shop, tmp_path, capsys, named, told, monkeypatch):
    monkeypatch.chdir(tmp_path)
    script(tmp_path / "calls" / "one.yaml")
    script(tmp_path / "other" / "one.yaml")
    before = {path: path.read_bytes() for path in tmp_path.glob("*/*.yaml")}
    (tmp_path / "facts").write_text("", "utf-8")
    code, _, errors = run(capsys, "mutants", tmp_path / "calls", "--shop", shop, *named)
    assert code == 2
    assert told in errors
    assert {path: path.read_bytes() for path in tmp_path.glob("*/*.yaml")} == before


FAR = """rules:
  - rule: far-from-all
    stage: understand
    when:
      - altitude > 9,000 ft
      - displacement > 9 L
      - power goal > 1,500 hp
      - rpm limit < 2,000 rpm
      - inducer limit < 50 mm
      - summer temperature > 110 °F
    then:
      say: "That's a long way from anything."
    because: Six answers lie between.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


def test_where_nothing_is_offered_no_next_step_is_named(shop, tmp_path, capsys):
    (shop / "far.yaml").write_text(FAR, "utf-8")
    script(tmp_path / "calls" / "one.yaml")
    arguments = ("mutants", tmp_path / "calls", "--shop", shop, "--of", "far-from-all")
    assert "\nNext: 'advisor mutants" in run(capsys, *arguments)[1]
    code, out, _ = run(capsys, *arguments, "--write", tmp_path / "more")
    assert code == 1
    assert "; no situation found that tells it apart\n" in out
    assert out.endswith("\nNothing is offered: write a call that shows them.\n")
    assert not (tmp_path / "more").exists()


def test_what_no_call_comes_to_is_named(shop, tmp_path, capsys):
    """A threshold that no call is near, and a question whose time never comes."""
    edit(shop / "law.yaml", "displacement > 4 L", "power goal > 2500 hp")
    script(tmp_path / "calls" / "told.yaml", altitude="3,000 ft")
    code, out, _ = run(capsys, "cover", tmp_path / "calls", "--shop", shop)
    assert code == 1
    near = [line for line in out.splitlines() if line.startswith("never near: ")]
    assert [line.split(": ", 2)[2] for line in near if "2500 hp" in line] == [
        "in no call 'power goal' comes near '2500 hp'; it lies within (700 hp); look whether a digit slipped"
    ]
    unasked = {line.split(": ")[1].split(",")[0] for line in out.splitlines() if line.startswith("never asked: ")}
    assert "trailer weight" in unasked  # the only call is of sled pulling
    assert "inducer limit" not in unasked
