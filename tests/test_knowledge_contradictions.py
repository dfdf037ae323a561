"""Two rules that can both hold and make a fact different things: what is told of each sort of fact, and for instance of
which answers."""

import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE
from test_knowledge_origins import FACTS, rule

from advisor.knowledge import check

READS = ("wants is known", "reserve is known", "remark is known", "calm is known", "mode is known")


def told(tmp_path: Path, *sets: tuple[str, str]) -> list[str]:
    """What is said of rules with one condition that set facts, beside a rule that reads all these facts."""
    shop = tmp_path / "shop"
    shutil.copytree(BASE, shop)
    (shop / "facts.yaml").write_text((BASE / "facts.yaml").read_text("utf-8") + FACTS, "utf-8")
    text = "".join(rule(f"r-{at}", "understand", [when], f"set: {{{to}}}") for at, (when, to) in enumerate(sets))
    (shop / "sets.yaml").write_text("rules:\n" + text, "utf-8")
    (shop / "reads.yaml").write_text("rules:\n" + rule("reads", "advise", list(READS), "ask: [tune]"), "utf-8")
    found = [str(fault) for fault in check(shop) if fault.place.file == "sets.yaml"]
    return [one for one in found if "can both hold" in one]


BOTH = "sets.yaml:9:11: 'r-1' and 'r-0' (sets.yaml:2:11) can both hold and make {}; let one of them exclude the other"


@pytest.mark.parametrize(
    ("sets", "said"),
    [
        ([("tune is known", "wants: cooler"), ("road use is known", "wants: [studs, cooler]")],
         "'wants' 'cooler' and 'cooler, studs', for instance with any answers"),
        ([("tune is hot", "reserve: 10 %"), ("road use is yes", "reserve: 12 %")],
         "'reserve' '10 %' and '12 %', for instance with road use yes, tune hot"),
        ([("tune is hot", "reserve: injector size / 2"), ("road use is no", "reserve: 5 %")],
         "'reserve' '5 %' and 'injector size / 2', for instance with road use no, tune hot"),
        ([("tune is known", "remark: loud"), ("axle ratio is known", "remark: quiet")],
         "'remark' 'loud' and 'quiet', for instance with any answers"),
        ([("tune is not known", "calm: yes"), ("axle ratio is 5", "calm: no")],
         "'calm' 'no' and 'yes', for instance with axle ratio 5, tune not known"),
        ([("tune is not known", "calm: yes"), ("tune is hot", "calm: no")], ""),
        ([("duties include towing", "mode: easy"), ("duties do not include strip", "mode: hard")],
         "'mode' 'easy' and 'hard', for instance with duties without strip, duties with towing"),
        ([("duties include towing", "mode: easy"), ("duties do not include towing", "mode: hard")], ""),
        ([("tune is hot", "mode: easy"), ("road use is yes", "mode: easy")], ""),
    ],
)  # fmt: skip
def test_rules_that_make_a_fact_different_things(sets: list[tuple[str, str]], said: str, tmp_path: Path) -> None:
    assert told(tmp_path, *sets) == ([BOTH.format(said)] if said else [])
