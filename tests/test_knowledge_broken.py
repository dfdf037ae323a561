"""Every broken folder in `broken_rules` is refused with exactly the faults that `expected.yaml` lists for it.

A slip of `slips.yaml` puts one text in the place of another, in a sound rule or in the vocabulary.
`rules/NAME.yaml` is added to the sound folder `knowledge_base`, `facts/NAME.yaml` is a vocabulary without
rules, and `folders/NAME` is a folder of its own. Adding a case adds a file and its lines in `expected.yaml`.
"""

import re
import shutil
from pathlib import Path

import pytest
import yaml

from advisor.knowledge import KnowledgeError, check, load

HERE = Path(__file__).parent
BROKEN = HERE / "broken_rules"
BASE = HERE / "knowledge_base"
EXPECTED: dict[str, list[str]] = yaml.safe_load((BROKEN / "expected.yaml").read_text("utf-8"))
FILES = sorted(path for part in ("rules", "facts") for path in (BROKEN / part).glob("*.yaml"))
FOLDERS = sorted(path for path in (BROKEN / "folders").iterdir() if path.is_dir())
CASES = {path.relative_to(BROKEN).with_suffix("").as_posix(): path for path in (*FILES, *FOLDERS)}
SLIPS = yaml.safe_load((BROKEN / "slips.yaml").read_text("utf-8"))
SLIPPED = {
    f"{where}: {name}": (where, slip) for where in ("in a rule", "in facts.yaml") for name, slip in SLIPS[where].items()
}
TOLD = EXPECTED | {
    name: [line if ".yaml:" in line else f"slip.yaml:{line}" for line in slip["told"]]
    for name, (_, slip) in SLIPPED.items()
}
LIBRARIES = re.compile(r"\b(pydantic|lark|validation|NoneType|dict|str|Traceback|token|input|parser|scalar)\b")


def lay_out(case: Path, folder: Path) -> Path:
    """The folder that the case stands for."""
    shutil.copytree(BASE / "catalogue", folder / "catalogue")
    match case.parent.name:
        case "rules" | "notes":
            shutil.copy(BASE / "facts.yaml", folder)
            shutil.copy(BASE / "rules.yaml", folder)
            shutil.copy(case, folder / case.name)
        case "facts":
            shutil.copy(case, folder / "facts.yaml")
        case _:
            shutil.copytree(case, folder, dirs_exist_ok=True)
    return folder


def test_every_case_has_its_faults_written_down() -> None:
    assert sorted(CASES) == sorted(EXPECTED)
    assert len(CASES) >= 80
    assert all(EXPECTED.values())


@pytest.mark.parametrize("name", CASES)
def test_broken(name: str, tmp_path: Path) -> None:
    folder = lay_out(CASES[name], tmp_path)
    faults = [str(fault) for fault in check(folder) if fault.severity == "error"]
    assert faults == EXPECTED[name]
    with pytest.raises(KnowledgeError) as refused:
        load(folder)
    assert str(refused.value).splitlines() == EXPECTED[name]


@pytest.mark.parametrize("name", SLIPPED)
def test_slip(name: str, tmp_path: Path) -> None:
    where, slip = SLIPPED[name]
    shutil.copytree(BASE, tmp_path / "shop")
    file = tmp_path / "shop" / ("slip.yaml" if where == "in a rule" else "facts.yaml")
    sound = SLIPS["rule"] if where == "in a rule" else file.read_text("utf-8")
    assert slip["from"] in sound
    file.write_text(sound.replace(slip["from"], slip["to"], 1), "utf-8")
    assert [str(fault) for fault in check(tmp_path / "shop") if fault.severity == "error"] == TOLD[name]


@pytest.mark.parametrize("condition", SLIPS["sound"])
def test_sound_conditions_are_left_alone(condition: str, tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    rule = SLIPS["rule"].replace("present boost > 45 psi", condition)
    (tmp_path / "shop" / "slip.yaml").write_text(rule, "utf-8")
    assert [str(fault) for fault in check(tmp_path / "shop") if fault.severity == "error"] == []


@pytest.mark.parametrize("name", TOLD)
def test_faults_speak_the_trades_language(name: str) -> None:
    for fault in TOLD[name]:
        place, what = fault.split(": ", 1)
        file, line, column = place.split(":")
        assert file.lower().endswith((".yaml", ".yml", ".yaml.txt", ".csv"))
        assert int(line) >= 1
        assert int(column) >= 1
        assert "; " in what
        assert not LIBRARIES.search(what)


NEW_FACT = "  - fact: spare wheels\n    topic: x\n    kind: text\n    ask: Any?\n    why: x\n  - fact: cylinders\n"
OTHERWISE = "write a rule that reads it, or leave it out"
LESS = ("rules.yaml", "axle ratio is known, ", "")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            [("facts.yaml", "      - choice: hot\n", "      - choice: mild\n      - choice: hot\n")],
            ["facts.yaml:97:17: no rule speaks of 'mild'; write what follows from it, or leave it out"],
        ),
        (
            [("facts.yaml", "  - fact: cylinders\n", NEW_FACT)],
            [f"facts.yaml:84:11: nothing needs the answer to 'spare wheels'; {OTHERWISE}"],
        ),
        (
            [("rules.yaml", "      - head risk is one of raised, high\n", "")],
            [f"facts.yaml:110:11: nothing reads 'head risk'; {OTHERWISE}"],
        ),
        ([LESS], [f"facts.yaml:77:11: nothing needs the answer to 'axle ratio'; {OTHERWISE}"]),
        # A text reads as well, a sum that is set, and what a question waits for; computed figures are there anyway.
        ([LESS, ("rules.yaml", "The head is in no danger.", "With {axle ratio} the head is in no danger.")], []),
        ([LESS, ("rules.yaml", "power now / power goal", "power now / power goal * axle ratio")], []),
        ([LESS, ("facts.yaml", "[duties include towing]", "[duties include towing, axle ratio > 3]")], []),
        ([("rules.yaml", "      - air flow needed is between 20 and 120 lb/min\n", "")], []),
    ],
)
def test_what_nothing_needs_is_noted(changes: list[tuple[str, str, str]], told: list[str], tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    for file, before, after in changes:
        path = tmp_path / "shop" / file
        text = path.read_text("utf-8")
        assert before in text
        path.write_text(text.replace(before, after, 1), "utf-8")
    found = check(tmp_path / "shop")
    assert [str(fault) for fault in found] == told
    assert all((fault.severity, len(fault.about)) == ("note", 1) for fault in found)


LATE = """\
rules:
  - {rule: reads, stage: understand, when: [head risk is low], then: {say: x}, because: x, basis: y}
  - {rule: b-sets, stage: %s, when: [tune is hot], then: {set: {head risk: high}, say: x}, because: x, basis: y}
  - {rule: a-sets, stage: %s, when: [tune is hot], then: {set: {head risk: high}, say: x}, because: x, basis: y}
"""


@pytest.mark.parametrize(
    ("stages", "setter", "stage"),
    [
        (("advise", "judge"), "a-sets", "judge"),
        (("judge", "advise"), "b-sets", "judge"),
        (("demand", "demand"), "a-sets", "demand"),
    ],
)
def test_of_several_that_set_a_fact_later_the_first_is_named(
    stages: tuple[str, str], setter: str, stage: str, tmp_path: Path
) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    (tmp_path / "shop" / "late.yaml").write_text(LATE % stages, "utf-8")
    assert [str(fault) for fault in check(tmp_path / "shop") if fault.place.file == "late.yaml"] == [
        f"late.yaml:2:45: 'head risk' is set only later, by '{setter}' in the stage {stage}; "
        f"move this rule to the stage {stage} or later, or that one earlier"
    ]


COPIES = ["rules (2).yaml", "rules - Copy.yaml", "copy of rules.yaml", "old rules.yaml", "rules_2.yaml", "rules2.yaml"]


@pytest.mark.parametrize("name", COPIES)
def test_a_copy_of_a_file_is_told_once_and_the_copy_is_blamed(name: str, tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    shutil.copy(BASE / "rules.yaml", tmp_path / "shop" / name)
    count = (BASE / "rules.yaml").read_text("utf-8").count("- rule:")
    assert [str(fault) for fault in check(tmp_path / "shop")] == [
        f"{name}:3:11: this file is likely a copy of rules.yaml: all its {count} rules have names of rules there; "
        "move one of the two files out of the folder, or give the rules other names"
    ]


@pytest.mark.parametrize("name", ["rules (2).yaml", "Copy of rules.yaml"])
def test_of_a_copy_with_a_rule_of_its_own_each_rule_is_told(name: str, tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    text = (BASE / "rules.yaml").read_text("utf-8")
    first = text[: text.index("  - rule:", text.index("- rule:") + 1)]
    (tmp_path / "shop" / name).write_text(first + SLIPS["rule"].removeprefix("rules:\n"), "utf-8")
    assert [str(fault) for fault in check(tmp_path / "shop")] == [
        f"{name}:3:11: this is likely a copy: a rule 'long-pull-is-sustained' stands at rules.yaml:3:11 too; "
        "give it a name of its own, or leave one of the two out"
    ]


def test_of_very_many_faults_the_first_hundred_are_told(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    file = tmp_path / "shop" / "many.yaml"
    file.write_text("rules:\n  - rule: a\n" + "".join(f"    kee{number}: x\n" for number in range(150)), "utf-8")
    told = [str(fault) for fault in check(tmp_path / "shop")]
    assert len(told) == 101
    assert "many.yaml:2:5: 55 more faults of this entry are not told; mend the others first" in told
    file.write_text("rules:\n" + "  - rule: a\n" * 150, "utf-8")
    told = [str(fault) for fault in check(tmp_path / "shop")]
    assert told[-1] == (
        "many.yaml:22:5: from here on, 130 entries of 'rules' are not looked at; mend those above first"
    )
    names = "".join(f"      - fact {number} of nothing > 3\n" for number in range(40))
    file.write_text(SLIPS["rule"].replace("      - present boost > 45 psi\n", names), "utf-8")
    told = [str(fault) for fault in check(tmp_path / "shop")]
    assert len(told) == 40
    assert sum(line.endswith("; use a known fact") for line in told) == 10


def test_a_number_that_is_too_long_to_be_read_is_told(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    file = tmp_path / "shop" / "facts.yaml"
    file.write_text(file.read_text("utf-8").replace("order: 20", f"order: {'9' * 5_000}"), "utf-8")
    told = [str(fault) for fault in check(tmp_path / "shop")]
    assert told == ["facts.yaml:28:12: 'order' can't be like this; compare it with the other entries"]


@pytest.mark.parametrize(
    ("keeper", "sound"),
    [
        ("R. Aldous, 2026-01", True),
        ("R. Aldous, S. Bray, 2026-12", True),
        ("R. Aldous, 2026-13", False),
        ("-, 2026-11", False),
        (", 2026-11", False),
        ("a, 2026-1" * 2000, False),
    ],
)
def test_a_keeper_has_a_name_and_a_month(keeper: str, sound: bool, tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    (tmp_path / "shop" / "kept.yaml").write_text(SLIPS["rule"].replace("R. Aldous, 2026-11", f"'{keeper}'"), "utf-8")
    told = [str(fault) for fault in check(tmp_path / "shop")]
    assert (told == []) == sound
    assert all("is no keeper with a date" in line or "2026-1a" in line for line in told)


@pytest.mark.parametrize(("slip", "right"), [("QT82", "QT83"), ("QT88", "QT87"), ("QT55", "QT56"), ("QT25", "QT52")])
def test_of_sizes_the_nearest_is_named_unless_figures_changed_places(slip: str, right: str, tmp_path: Path) -> None:
    """Who follows the mend fits that wheel."""
    shutil.copytree(HERE.parent / "rules", tmp_path / "shop")
    file = tmp_path / "shop" / "catalogue" / "turbos.yaml"
    file.write_text(file.read_text("utf-8").replace("turbine wheel: QT83", f"turbine wheel: {slip}", 1), "utf-8")
    (told,) = [fault.mend for fault in check(tmp_path / "shop") if f"there is no turbine wheel {slip}" in fault.what]
    assert told == f"did you mean '{right}'?"


@pytest.mark.parametrize(("sound", "slip"), [("wheel: QC60", "wheel: QC06"), ("wheel: QT52", "wheel: QT25")])
def test_a_code_with_two_figures_the_wrong_way_round_names_the_right_one(
    sound: str, slip: str, tmp_path: Path
) -> None:
    """Not QC106, which is one figure more."""
    shutil.copytree(HERE.parent / "rules", tmp_path / "shop")
    file = tmp_path / "shop" / "catalogue" / "turbos.yaml"
    text = file.read_text("utf-8")
    file.write_text(text.replace(sound, slip, 1), "utf-8")
    (told,) = [fault.mend for fault in check(tmp_path / "shop") if slip[-4:] in fault.what]
    assert told == f"did you mean '{sound[-4:]}'?"
