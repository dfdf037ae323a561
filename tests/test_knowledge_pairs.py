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
        ("", ["if ", "and "]),
        ("present boost", ["presnt boost", "present bost", "Present Boost", "the present boost"]),
        (" > ", [" => ", " >> ", " is over ", " ≥ ", " >== ", " exceeds ", " gt ", " of "]),
        ("45 psi", ["45 spi", "45", "45 lb", "4,5 psi", "45.000 psi"]),
    ],
    "two ends": [
        ("trailer weight", ["trailer wieght", "Trailer weight"]),
        (" is between ", [" between ", " is betwen ", " is from "]),
        ("5,000", ["5,00", "5 psi"]),
        (" and ", [" & "]),
        ("8,000 lb", ["8,000 ibs", "8000 hp"]),
        ("", [".", " and"]),
    ],
    "several choices": [
        ("duties", ["dutys", "duty", "Duties"]),
        (" include ", [" inclde ", " has ", " inlcudes ", " contain "]),
        ("towing", ["toing", "haul", "purple"]),
        ("", [".", " or", ", road use is yes", " and road use is yes"]),
    ],
    "choices left out": [
        ("duties", ["dutys", "Duties"]),
        (" do not include ", [" doesnt include ", " do not inclde ", " not include ", " exclude "]),
        ("towing", ["toing", "haul"]),
    ],
    "a choice": [
        ("", ["if ", "when "]),
        ("tune", ["tunne", "Tune"]),
        (" is ", [" = ", " == ", " equals ", " was ", " iss "]),
        ("hot", ["hott", "warm"]),
    ],
    "a list": [
        ("tune", ["tunne"]),
        (" is one of ", [" one of ", " is any of ", " is on of ", " in "]),
        ("stock, ", ["stok, "]),
        ("hot", ["hott", "warm"]),
    ],
    "a fact that is known": [
        ("road use", ["rode use", "Road use"]),
        (" is not known", [" not known", " is unknown"]),
        ("", [";", " and"]),
    ],
    "a sum": [
        ("power goal", ["power goa"]),
        (" / ", [" ÷ ", " divided by "]),
        ("power now", ["powr now"]),
        (" > ", [" => "]),
        ("1.2", ["1,2", "1.2 hp"]),
    ],
}
EVENLY: list[tuple[str, list[str]]] = [
    ("0", ["0 points", "none"]),
    (" to ", [" through ", " too "]),
    ("8", ["800", "x"]),
    (" as ", [" when ", " "]),
    ("power goal", ["powr goal", "Power goal"]),
    (" goes from ", [" from ", " rises from ", " goes form "]),
    ("500 hp", ["500 ph", "500 psi", "5,00 hp"]),
    (" to ", [" until "]),
    ("700 hp", ["700 ibs", "seven hundred hp"]),
]
ENTRIES = {
    "catalogue/housings.yaml": [
        ("housing: ", ["housng: "]),
        ("frame: tarn, ", ["frame: tern, ", "frme: tarn, "]),
        ("turbine wheels: [QT56", ["turbine wheels: [QT99", "turbin wheels: [QT56"]),
        ("foot: ", ["fot: "]),
        ("outlet: 3 in", ["outlet: 3 ni", "outlet: 3,5 in"]),
    ],
    "facts.yaml": [
        ("  plausible: ", ["  plausibel: "]),
        ("1,000", ["1.000", "1,00"]),
        (" to 60,000 lb\n    prior: ", [" to 60,000 ibs\n    prior: ", " to 60,000 psi\n    prior: "]),
        ("6,000", ["6,00"]),
    ],
}


def pairs() -> Iterator[tuple[str, list[str]]]:
    """Each pair of slips in one condition as the line that holds both, with the lines that hold one."""
    for parts in LINES.values():
        yield from in_pairs(parts)


def in_pairs(parts: list[tuple[str, list[str]]]) -> Iterator[tuple[str, list[str]]]:
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
    assert len(found) >= 370
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


def test_two_slips_in_points_that_run_with_a_figure_are_both_told(shop: Path) -> None:
    rule = SLIPS["rule"].replace("stage: understand", "stage: judge")
    rules = [
        tuple(rule.replace("recommend: Fit head studs first.", f"penalise: {line}") for line in (both, *ones))
        for both, ones in in_pairs(EVENLY)
    ]
    assert len(rules) >= 150
    assert missing(((both, ones) for both, *ones in rules), shop) == {}


def test_two_slips_in_one_entry_are_both_told(shop: Path) -> None:
    shutil.copytree(HERE / "data" / "small_catalogue", shop / "catalogue", dirs_exist_ok=True)
    assert [fault for fault in check(shop) if fault.severity == "error"] == []
    left, count = {}, 0
    for name, parts in ENTRIES.items():
        file = shop / name
        sound = file.read_text("utf-8")
        assert all(part in sound for part, _ in parts)

        def told_of(edits: Iterable[tuple[str, str]], file: Path = file, sound: str = sound) -> set[str]:
            text = sound
            for part, slip in edits:
                text = text.replace(part, slip, 1)
            file.write_text(text, "utf-8")
            found = check(shop)
            return {f"{fault.place.line}: {fault.what}; {fault.mend}" for fault in found if fault.severity == "error"}

        slips = [(part, slip) for part, slips in parts for slip in slips]
        for one, two in combinations(slips, 2):
            if one[0] != two[0]:
                count += 1
                if silent := (told_of([one]) | told_of([two])) - told_of([one, two]):
                    left[one, two] = silent
        file.write_text(sound, "utf-8")
    assert count >= 30
    assert left == {}
