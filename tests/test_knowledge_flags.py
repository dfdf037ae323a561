"""A flag that rules set: written into facts.yaml as the check says, it may be read as anybody writes it first, and
where no rule raises it that is told as what it may be.
"""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE

from advisor.desk.review import review
from advisor.knowledge import load

ENTRY = "  - fact: hard worker\n    topic: towing\n    kind: yes/no\n"
SOURCE = "    source: rule\n"
RULES = """\
rules:
  - rule: works-hard
    stage: understand
    when: [trailer weight > 12_000 lb, altitude > 5_000 ft]
    then: {set: {hard worker: yes}, say: That is hard work.}
    because: Thin air and weight.
    basis: common practice, no source
  - rule: of-hard-work
    stage: advise
    when:
      - CONDITION
    then: {next step: Look at the cooler., say: Look at the cooler.}
    because: It gets hot.
    basis: common practice, no source
""".replace("_", ",")
GONE = "put back the rule that sets it to no, or write one; or else mend this"
WELL = "for a flag that is only raised that is well; else write a rule that sets it to no there"
ONLY = "rules set 'hard worker' only to yes"


def shop(entry: str, condition: str, folder: Path) -> Path:
    shutil.copytree(BASE, folder)
    rules = RULES.replace("[trailer weight > 12,000 lb, altitude > 5,000 ft]", "['trailer weight > 12,000 lb']")
    (folder / "flag.yaml").write_text(rules.replace("CONDITION", condition), "utf-8")
    facts = folder / "facts.yaml"
    facts.write_text(facts.read_text("utf-8").rstrip() + f"\n{entry}", "utf-8")
    return folder


def told(folder: Path) -> list[str]:
    sound = {str(fault) for fault in review(BASE)}
    return [str(fault) for fault in review(folder) if str(fault) not in sound]


@pytest.mark.parametrize("why", ["", "    why: It is worked hard.\n"])
def test_an_entry_that_does_not_say_that_rules_set_it_is_told_so(why: str, tmp_path: Path) -> None:
    folder = shop(ENTRY + why, "hard worker is yes", tmp_path / "shop")
    (line,) = told(folder)
    number = (folder / "facts.yaml").read_text("utf-8").split("\n").index("  - fact: hard worker") + 1
    assert line == (
        f"facts.yaml:{number}:5: rules set 'hard worker', and its entry doesn't say so; "
        "add a line 'source: rule' (or 'ask: ...', if a caller is asked for it)"
    )


@pytest.mark.parametrize(
    "condition",
    ["hard worker is yes", "hard worker is known", "hard worker is not known", "none: [hard worker is known]"],
)
def test_a_flag_may_be_read_as_raised_or_as_known(condition: str, tmp_path: Path) -> None:
    folder = shop(ENTRY + SOURCE, condition, tmp_path / "shop")
    assert [line.split("; ", 1)[1] for line in told(folder)] == [WELL] * 2
    assert load(folder).vocabulary["hard worker"].source == "rule"


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ("hard worker is no", f"9: 'hard worker is no' can never hold: {ONLY}; write 'hard worker is not known' for"),
        ("hard worker is not yes", f"9: 'hard worker is not yes' can never hold: {ONLY}; write 'hard worker is not"),
        (
            "none: [hard worker is yes]",
            f"16: 'hard worker is yes' can never be false here: {ONLY}; write 'hard worker is known' under 'none:' for",
        ),
    ],
)
def test_that_it_is_not_raised_is_read_by_whether_it_is_known(condition: str, expected: str, tmp_path: Path) -> None:
    (line,) = told(shop(ENTRY + SOURCE, condition, tmp_path / "shop"))
    assert line.startswith(f"flag.yaml:11:{expected}")
    assert line.endswith(f" where none sets it; or {GONE}")


def test_where_its_value_is_told_it_must_be_set_everywhere(tmp_path: Path) -> None:
    folder = shop(ENTRY + SOURCE, "hard worker is yes", tmp_path / "shop")
    file = folder / "flag.yaml"
    file.write_text(file.read_text("utf-8").replace("Look at the cooler.}", "'Hard: {hard worker}.'}"), "utf-8")
    assert all("no rule sets 'hard worker', which 'of-hard-work' reads" in line for line in told(folder))
    assert [line.split("; ", 1)[1] for line in told(folder)] == ["write a rule for it, or widen one"] * 2
