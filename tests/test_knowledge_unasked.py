"""Questions that are never asked in the ordinary course, noted by the check of a small folder."""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE

from advisor.knowledge import check

FACT = "  - {{fact: {name}, topic: x, kind: yes/no, ask: Is it?, why: x, ask when: [{when}]}}\n"
READS = """\
  - rule: {name}
    stage: advise
    when: [{when}]
    then: {then}
    because: x
    basis: x
"""
SAYS = "{say: x}"
FAILS = "what it waits for is asked only where its 'ask when' fails; widen 'ask when', or wait for something else"
NO_RULE = (
    "no rule that reads it can hold where its 'ask when' does; widen 'ask when', or write a rule for where it holds"
)


def told(tmp_path: Path, questions: dict[str, str], *rules: tuple[str, str]) -> list[str]:
    """What is noted of yes/no questions, each with its `ask when`, beside rules, each with its `when` and `then`."""
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    facts = "".join(FACT.format(name=name, when=when) for name, when in questions.items())
    (folder / "facts.yaml").write_text((BASE / "facts.yaml").read_text("utf-8") + facts, "utf-8")
    written = [READS.format(name=f"r-{at}", when=when, then=then) for at, (when, then) in enumerate(rules)]
    if written:
        (folder / "reads.yaml").write_text("rules:\n" + "".join(written), "utf-8")
    first = (BASE / "facts.yaml").read_text("utf-8").count("\n") + 1
    found = check(folder)
    assert all(fault.severity == "note" for fault in found), found
    notes = [fault for fault in found if fault.finding == "never asked"]
    assert all(fault.about == (fault.place,) and fault.place.column == 12 for fault in notes)
    return [f"{fault.place.line - first}: {fault.what}; {fault.mend}" for fault in notes]


READ = ("dolly is yes", SAYS)


@pytest.mark.parametrize(
    ("waits", "never"),
    [
        ("duties do not include towing, trailer weight is known", True),
        ("duties do not include towing, trailer weight > 5000 lb", True),
        ("duties do not include towing, trailer weight is not known", False),
        ("duties include towing, trailer weight is known", False),
        ("duties do not include towing, tune is hot", False),
    ],
)
def test_a_question_that_waits_for_one_that_is_asked_elsewhere(waits: str, never: bool, tmp_path: Path) -> None:
    """The trailer's weight is asked of those alone who tow."""
    assert told(tmp_path, {"dolly": waits}, READ) == ([f"0: 'dolly' is never asked: {FAILS}"] if never else [])


def test_questions_that_wait_in_a_row(tmp_path: Path) -> None:
    row = {"dolly": "duties do not include towing, brakes is yes", "brakes": "trailer weight is known"}
    both = (READ, ("brakes is no", SAYS))
    assert told(tmp_path, row, *both) == [f"0: 'dolly' is never asked: {FAILS}"]
    row["dolly"] = "duties include strip, brakes is yes"
    assert told(tmp_path, row, *both) == []


@pytest.mark.parametrize(
    ("rules", "never"),
    [
        ([("duties include towing, dolly is yes", SAYS)], True),
        ([("duties include towing, dolly is yes", SAYS), ("duties include strip, dolly is no", SAYS)], False),
        ([("duties include towing", "{say: 'Dolly: {dolly}.'}")], True),
        ([("duties include strip", "{say: 'Dolly: {dolly}.'}")], False),
        ([("duties include towing", "{say: x, ask: [dolly]}")], True),
        ([("duties include strip", "{say: x, ask: [dolly]}")], False),
        ([("duties include towing", "{say: x, ask first: [dolly]}")], True),
        ([], False),  # what nothing reads at all is told otherwise
    ],
)
def test_a_question_that_nothing_reads_where_it_is_asked(
    rules: list[tuple[str, str]], never: bool, tmp_path: Path
) -> None:
    questions = {"dolly": "duties do not include towing"}
    assert told(tmp_path, questions, *rules) == ([f"0: 'dolly' is never asked: {NO_RULE}"] if never else [])


def test_a_question_that_another_waits_for_is_read_there(tmp_path: Path) -> None:
    rules = (("duties include towing, dolly is yes", SAYS), ("brakes is no", SAYS))
    questions = {"dolly": "duties do not include towing", "brakes": "dolly is yes"}
    assert told(tmp_path, questions, *rules) == []
    questions["brakes"] = "dolly is yes, duties include towing"
    assert told(tmp_path, questions, *rules) == [
        f"0: 'dolly' is never asked: {NO_RULE}",
        f"1: 'brakes' is never asked: {FAILS}",
    ]


def test_what_the_desk_knows_to_be_needed_is_not_noted(tmp_path: Path) -> None:
    questions = {"dolly": "duties do not include towing, trailer weight is known"}
    assert len(told(tmp_path, questions, READ)) == 1
    assert [fault for fault in check(tmp_path / "shop", ("dolly",)) if fault.finding == "never asked"] == []
