"""Two slips on one line, or in two lines of one rule, are both told: whatever is told of each alone stands among what
is told of both."""

import re
import shutil
from collections.abc import Iterable, Iterator
from itertools import combinations
from pathlib import Path

import pytest
import yaml

from advisor.knowledge import check

HERE = Path(__file__).parent
SLIPS = yaml.safe_load((HERE / "broken_rules" / "slips.yaml").read_text("utf-8"))
SOUND = "present boost > 45 psi"
# The parts of a condition in order, each with slips that leave the other parts what they are.
LINES: dict[str, list[tuple[str, list[str]]]] = {
    "a figure": [
        ("present boost", ["presnt boost", "present bost", "Present Boost"]),
        (" > ", [" => ", " >> ", " is over ", " ≥ "]),
        ("45 psi", ["45 spi", "45", "45 lb", "4,5 psi"]),
    ],
    "two ends": [
        ("trailer weight", ["trailer wieght", "Trailer weight"]),
        (" is between ", [" between ", " is betwen "]),
        ("5,000", ["5,00", "5 psi"]),
        (" and 8,000 lb", [" and 8,000 ibs", " and 8000 hp"]),
    ],
    "several choices": [
        ("duties", ["dutys", "duty", "Duties"]),
        (" include ", [" inclde ", " has "]),
        ("towing", ["toing", "haul"]),
    ],
    "a choice": [("tune", ["tunne", "Tune"]), (" is ", [" = ", " == "]), ("hot", ["hott", "warm"])],
    "a list": [("tune is one of ", ["tunne is one of "]), ("stock, ", ["stok, "]), ("hot", ["hott", "warm"])],
    "a sum": [
        ("power goal", ["power goa"]),
        (" / ", [" ÷ "]),
        ("power now", ["powr now"]),
        (" > ", [" => "]),
        ("1.2", ["1,2", "1.2 hp"]),
    ],
}


def pairs() -> Iterator[tuple[str, list[str]]]:
    """Each pair of slips as the line that holds both, with the lines that hold one."""
    for parts in LINES.values():
        slips = [(at, slip) for at, (_, slips) in enumerate(parts) for slip in slips]
        for (one, first), (two, second) in combinations(slips, 2):
            if one != two:
                alone = [_line(parts, {one: first}), _line(parts, {two: second})]
                yield _line(parts, {one: first, two: second}), alone


def _line(parts: list[tuple[str, list[str]]], slipped: dict[int, str]) -> str:
    return "".join(slipped.get(at, sound) for at, (sound, _) in enumerate(parts))


def told(rule: str, shop: Path) -> set[str]:
    """What is told, without the columns that another slip moves."""
    (shop / "slip.yaml").write_text(rule, "utf-8")
    faults = (fault for fault in check(shop) if fault.severity == "error")
    return {f"{fault.place.line}: {fault.what}; {fault.mend}" for fault in faults}


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Path:
    shutil.copytree(HERE / "knowledge_base", tmp_path / "shop")
    return tmp_path / "shop"


def missing(rules: Iterable[tuple[str, list[str]]], shop: Path) -> dict[str, set[str]]:
    """By rule with two slips, what is told of one of them alone and not of both."""
    alone: dict[str, set[str]] = {}
    left: dict[str, set[str]] = {}
    for both, ones in rules:
        for one in ones:
            alone.setdefault(one, told(one, shop))
            assert alone[one]
        if silent := set().union(*(alone[one] for one in ones)) - told(both, shop):
            left[both] = silent
    return left


def test_two_slips_in_one_condition_are_both_told(shop: Path) -> None:
    rule = SLIPS["rule"]
    found = [(both, ones) for both, ones in pairs()]
    assert len(found) >= 90
    rules = [(rule.replace(SOUND, both), [rule.replace(SOUND, one) for one in ones]) for both, ones in found]
    left = {re.search(r"when:\n *- (.*)", both)[1]: silent for both, silent in missing(rules, shop).items()}  # type: ignore[index]
    assert left == {}


# What keeps a rule's lines from being read, and is put right in reading on, beside a slip in each other part.
UNREADABLE = [
    ("    when:\n", "    when\n"),
    ("    then:\n", "    then\n"),
    ("say: The head needs studs first.", 'say: "The head needs studs first.'),
    ("say: The head needs studs first.", "say: First of all: the head needs studs."),
    ("say: The head needs studs first.", "say: % of heads need studs."),
    ("say: The head needs studs first.", "say:The head needs studs first."),
    ("because: Stock fasteners stretch.", "because: 'Stock fasteners stretch."),
    ("basis: common practice, no source", "basis common practice, no source"),
    ("    stage: understand", "\u00a0\u00a0\u00a0\u00a0stage: understand"),
    ("stage: understand", "stage:\u00a0understand"),
    ("      - present", "      -\tpresent"),
]
ELSEWHERE = [
    ("understand", "understnd"),
    ("45 psi", "45 spi"),
    ("recommend:", "recomend:"),
    ("head studs", "{hed} studs"),
    ("2026-11", "soon"),
    ("common practice, no source", "todo"),
]


def test_a_line_that_cant_be_read_hides_no_other_slip_of_its_rule(shop: Path) -> None:
    others = "".join(SLIPS["rule"].splitlines(keepends=True)[1:]).replace("studs-first", "studs-second")
    rule = SLIPS["rule"]
    found = [
        (rule.replace(*one).replace(*two), [rule.replace(*one, 1), rule.replace(*two, 1)])
        for one in UNREADABLE
        for two in ELSEWHERE
        if two[0] in rule.replace(*one)
    ]
    assert len(found) >= 60
    beside = ((both + others, [one + others for one in ones]) for both, ones in found)
    assert missing(beside, shop) == {}
