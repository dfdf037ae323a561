"""What callers said before (`heard.csv`), read with a small folder: what is kept of it, refused and noted."""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE

from advisor.knowledge import KnowledgeError, check, load
from advisor.knowledge.source import MAX_BYTES


def shop(tmp_path: Path, lines: str | bytes) -> Path:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    (folder / "heard.csv").write_bytes(lines if isinstance(lines, bytes) else lines.encode())
    return folder


def test_what_was_said_is_kept_with_its_fact_in_its_order(tmp_path: Path) -> None:
    lines = (
        "# what callers said\n"
        "tune| as it came |stock\n"
        "\n"
        "   \n"
        "road use|on the road now and then|yes\r\n"
        "road use|never leaves the field|no\n"
        "duties|groceries and the camper|daily+towing\n"
        "trailer weight|no clue|not sure\n"
        "tune|hot as can be|hot\n"
        "road use|couldn't say|not sure"
    )
    folder = shop(tmp_path, lines)
    vocabulary = load(folder).vocabulary
    heard = {name: tuple(definition.heard) for name, definition in vocabulary.items() if definition.heard}
    assert heard == {
        "tune": (("as it came", "stock"), ("hot as can be", "hot")),
        "road use": (
            ("on the road now and then", "yes"), ("never leaves the field", "no"), ("couldn't say", "not sure"),
        ),
        "duties": (("groceries and the camper", "daily+towing"),),
        "trailer weight": (("no clue", "not sure"),),
    }  # fmt: skip
    of_any = sorted(pair for said in heard.values() for pair in said)
    assert all(sorted(definition.heard_of_any) == of_any for definition in vocabulary.values())
    assert check(folder) == ()


@pytest.mark.parametrize(
    "line", ["tune|stock", "tune|as it came|stock|hot", "tune||stock", "|as it came|stock", "tune|as it came| ", "tune"]
)
def test_a_line_without_its_three_parts_is_refused(line: str, tmp_path: Path) -> None:
    folder = shop(tmp_path, f"tune|as it came|stock\n\n# more\n{line}\n")
    with pytest.raises(KnowledgeError) as refused:
        load(folder)
    (fault,) = refused.value.faults
    assert fault.severity == "error"
    assert str(fault) == (
        "heard.csv:4:1: this isn't a fact, words and what they meant; part the three by '|': fact|words|meaning"
    )


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("tunes|as it came|stock", "1: there is no fact 'tunes'; the line isn't used; did you mean 'tune'?"),
        ("bearing|as it came|stock", "1: there is no fact 'bearing'; the line isn't used; take the line out"),
        ("tune|as it came|stok", "17: 'stok' is no answer to 'tune'; the line isn't used; did you mean 'stock'?"),
        ("tune|as it came|purple", "17: 'purple' is no answer to 'tune'; the line isn't used; take the line out"),
        ("tune|one|hot+stock+hot",
         "10: 'hot+stock+hot' is no answer to 'tune'; the line isn't used; take the line out"),
        ("road use|now and then|maybe",
         "23: 'maybe' is no answer to 'road use'; the line isn't used; take the line out"),
        ("road use|sure|yess", "15: 'yess' is no answer to 'road use'; the line isn't used; did you mean 'yes'?"),
        ("duties|all|daily+racing", "12: 'racing' is no answer to 'duties'; the line isn't used; take the line out"),
        ("altitude|high|5,000 ft",
         "15: '5,000 ft' is no answer to 'altitude'; the line isn't used; take the line out"),
    ],
)  # fmt: skip
def test_a_line_that_speaks_of_what_is_not_there_is_left_out_and_noted(line: str, told: str, tmp_path: Path) -> None:
    folder = shop(tmp_path, f"tune|hot as can be|hot\n\n{line}\n")
    (note,) = check(folder)
    assert note.severity == "note"
    assert str(note) == f"heard.csv:3:{told}"
    assert {name: tuple(one.heard) for name, one in load(folder).vocabulary.items() if one.heard} == {
        "tune": (("hot as can be", "hot"),)
    }


RENAMED = "axle ratio|as it came|yes\naxle ratio|none|no\ntune|hot as can be|hot\naxle ratio|dunno|not sure\n"
KIND = "    kind: yes/no\n    ask: Any?\n    why: x\n"


@pytest.mark.parametrize(
    ("new", "mend"),
    [
        ("rear axle", "if it is called 'rear axle' now, replace the name in all of them; else take them out"),
        ("diff", "if the fact has another name now, replace it in all of them; else take them out"),
    ],
)
def test_of_many_lines_of_a_fact_that_is_gone_one_note_is_told(new: str, mend: str, tmp_path: Path) -> None:
    """Never a fact to which that is no answer, however near its name: what callers said of one thing would teach
    another."""
    folder = shop(tmp_path, RENAMED.replace("axle ratio", "axle lock"))
    facts = folder / "facts.yaml"
    facts.write_text(facts.read_text("utf-8").rstrip() + f"\n  - fact: {new}\n    topic: x\n{KIND}", "utf-8")
    (note,) = [fault for fault in check(folder) if fault.place.file == "heard.csv"]
    assert str(note) == f"heard.csv:1:1: there is no fact 'axle lock'; 3 lines, the last 4, aren't used; {mend}"


def test_of_many_lines_of_an_answer_that_is_gone_one_note_is_told(tmp_path: Path) -> None:
    folder = shop(tmp_path, "tune|as it came|stok\ntune|none|stok\ntune|mad|wild\ntune|madder|wild\n")
    assert [str(fault) for fault in check(folder)] == [
        "heard.csv:1:17: 'stok' is no answer to 'tune'; 2 lines, the last 2, aren't used; did you mean 'stock'?",
        "heard.csv:3:10: 'wild' is no answer to 'tune'; 2 lines, the last 4, aren't used; "
        "write the name it has now, or take the lines out",
    ]


def test_a_file_that_can_not_be_read_is_refused_by_its_place(tmp_path: Path) -> None:
    folder = shop(tmp_path, b"tune|as it came|stock\ntune|\xff|hot\n")
    assert [str(fault) for fault in check(folder)] == ["heard.csv:2:1: this is not UTF-8 text; save the file as UTF-8"]
    line = "tune|as it came|stock\n"
    shop(tmp_path, line * (MAX_BYTES // len(line) + 1))
    assert [str(fault) for fault in check(folder)] == ["heard.csv:1:1: is larger than 1 MiB; leave out lines"]
