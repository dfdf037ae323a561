"""Lines with a slip or several are read as they were meant: `broken_rules/lines.yaml` says what is told of each."""

from pathlib import Path

import pytest
import yaml
from test_knowledge_conditions import FACTS

from advisor.knowledge import Fault, Place
from advisor.knowledge.meaning import Reader

LINES: dict[str, list[str]] = yaml.safe_load((Path(__file__).parent / "broken_rules" / "lines.yaml").read_text("utf-8"))


@pytest.mark.parametrize("line", LINES)
def test_all_that_is_wrong_with_a_line_is_told_in_its_place(line: str) -> None:
    faults: list[Fault] = []
    assert Reader(FACTS, faults).condition(line, lambda offset: Place("a.yaml", 1, 1 + offset)) is None
    assert [f"{one.place.column}: {one.what}; {one.mend}" for one in sorted(set(faults))] == LINES[line]
