"""What `advisor check` finds beyond faults: against written-down expectations, and against trying every answer.

`broken_rules/notes` are rule files beside the sound small folder, `broken_rules/ranges` folders of their own.
"""

import re
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

import pytest
import yaml
from calls import shop
from test_knowledge_broken import BASE, BROKEN, lay_out
from test_knowledge_soundness import FACTS, SITUATIONS, Writer, holds

from advisor.course import infer
from advisor.desk.needed import CHOICES, NUMBERS
from advisor.desk.ranges import ranges
from advisor.desk.review import review
from advisor.inference.engines import agenda
from advisor.inference.facts import Fact, FactBase
from advisor.knowledge import Fault, Knowledge, Place, Rule, check, load, shipped_folder
from advisor.knowledge.accepted import FINDINGS
from advisor.knowledge.conditions import All, Condition, Is, NoneOf, facts_in
from advisor.knowledge.domains import Universe
from advisor.knowledge.rules import NextStep, Say, SetFact
from advisor.knowledge.soundness import settable
from advisor.knowledge.strata import arrange
from advisor.knowledge.swallowed import swallowed
from advisor.outcome import Answer
from advisor.shell import MOST_FAULTS, Refused, knowledge_in, listed
from advisor.situation import situation as situation_of
from advisor.supplied import COMPUTED, COMPUTED_AT_TIMES, of_candidates

EXPECTED: dict[str, list[str]] = yaml.safe_load((BROKEN / "review.yaml").read_text("utf-8"))
CASES = {f"{part}/{path.stem}": path for part in ("notes", "ranges") for path in sorted((BROKEN / part).iterdir())}
ANSWER = re.compile(r"if it is meant so, add '(.*)' to the entry in line (\d+) of (.*), with the reason for '\.\.\.'")
EVERYTHING = {
    "call kind": "new turbo",
    "request": "63/68 .90 divided T4",
    "duties": "daily, towing, strip and sled",
    "today's trouble": "late, and hot on the grade",
    "displacement": "5.9 litres",
    "power goal": "600 hp",
    "power now": "350 hp",
    "trailer weight": "12,000 lb",
    "manifold foot": "T4",
    "present size": "a 68 over 74",
    "present boost": "38 psi",
}


@cache
def said_of_the_sound_folder() -> frozenset[str]:
    return frozenset(str(fault) for fault in review(BASE))


def test_every_case_is_written_down() -> None:
    assert sorted(CASES) == sorted(EXPECTED)


@pytest.mark.parametrize("name", CASES)
def test_what_is_found(name: str, tmp_path: Path) -> None:
    found = review(lay_out(CASES[name], tmp_path))
    lines = [str(fault) for fault in found]
    if name.startswith("notes/"):
        lines = [line for line in lines if line not in said_of_the_sound_folder()]
    assert lines == EXPECTED[name]
    assert name.startswith("ranges/") or {fault.severity for fault in found if str(fault) in lines} == {"note"}


def test_the_shipped_rules_leave_nothing_open() -> None:
    assert review(shipped_folder()) == ()


def test_every_answer_in_the_shipped_rules_keeps_something_back(tmp_path: Path) -> None:
    """Without its answers the folder has as many notes as there were answers, and nothing else; one answer may hold for
    several phrases."""
    folder = tmp_path / "shop"
    shutil.copytree(shipped_folder(), folder)
    answers = sum(len(entry.accepted) for entry in load(folder).entries)
    for path in folder.glob("*.yaml"):
        data = yaml.load(path.read_text("utf-8"), yaml.BaseLoader)
        for entry in data.get("facts", data.get("rules")):
            entry.pop("accepted", None)
        path.write_text(yaml.safe_dump(data, sort_keys=False, allow_unicode=True), "utf-8")
    found = review(folder)
    kinds = {(fault.place, re.sub(r"'[^']*'", "", fault.what)) for fault in found}
    assert len(kinds) == answers > 0
    assert all(fault.severity == "note" and fault.finding in FINDINGS for fault in found)


def test_the_grave_ones_come_first(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder)
    for name in ("swallowed-by-wider", "steps-overlap", "gap-between-steps"):
        text = (BROKEN / "notes" / f"{name}.yaml").read_text("utf-8")
        (folder / f"{name}.yaml").write_text(text.replace("rule: ", f"rule: {name}-"), "utf-8")
    kinds = [fault.finding for fault in review(folder) if fault.severity == "note"]
    assert kinds == sorted(kinds, key=FINDINGS.index)
    assert len(set(kinds)) == 4


def test_answered_findings_are_not_in_the_plain_check_either(tmp_path: Path) -> None:
    folder = lay_out(CASES["notes/answered-and-idle"], tmp_path)
    assert check(folder) == ()


def test_a_long_list_is_cut_with_a_count(tmp_path: Path) -> None:
    (tmp_path / "facts.yaml").write_text("facts:\n" + "  - {fact: A, topic: x, kind: text}\n" * 3_000, "utf-8")
    found = review(tmp_path)
    lines = listed(tmp_path, found)
    assert len(found) > MOST_FAULTS
    assert len(lines) == MOST_FAULTS + 1
    assert lines[-1] == f"{tmp_path}: and {len(found) - MOST_FAULTS:,} more, once these are mended"
    assert listed(tmp_path, found[:MOST_FAULTS]) == lines[:-1]


def test_what_is_said_to_be_supplied_is_what_a_call_supplies() -> None:
    """A caller who does everything is given all figures there are; one who does little the steady ones."""
    course = infer([Answer(*answer) for answer in EVERYTHING.items()], shop(), agenda("reference"))
    facts = course.weighed.facts
    computed = {name for name, fact in course.last.facts.items() if shop().vocabulary[name].source == "computed"}
    assert computed == {*COMPUTED, *COMPUTED_AT_TIMES}
    known = of_candidates(course.weighed.candidates.facts)
    given = {name for name in facts.columns if shop().vocabulary[name].source == "candidate"}
    assert {*course.weighed.columns, *given} == known
    little = {"call kind": "new turbo", "displacement": "5.9 litres", "power goal": "500 hp"}
    course = infer([Answer(*answer) for answer in little.items()], shop(), agenda("reference"))
    computed = {name for name, fact in course.last.facts.items() if shop().vocabulary[name].source == "computed"}
    assert computed == {*COMPUTED}


def test_facts_that_the_figures_read_are_theirs() -> None:
    """Everything that a situation asks the fact base for, found by watching it, stands in the lists."""
    asked: set[str] = set()

    class Watched(FactBase):
        def get(self, name: str) -> Fact | None:
            asked.add(name)
            return super().get(name)

    for said in (EVERYTHING, {"duties": "daily"}, {"duties": "towing", "vehicle kind": "tractor"}):
        answers = [Answer(*answer) for answer in said.items()]
        facts = infer(answers, shop(), agenda("reference")).last.facts
        situation_of(Watched(dict(facts.facts)), shop().vocabulary)
    assert asked - {"duties", "main duty"} == {*NUMBERS, *CHOICES} | {f for f in asked if f.endswith(" effort")}


def test_a_fact_that_the_figures_read_keeps_its_name_and_choices(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(shipped_folder(), folder)
    for path in folder.glob("*.yaml"):
        path.write_text(path.read_text("utf-8").replace("exhaust size", "downpipe size"), "utf-8")
    facts = folder / "facts.yaml"
    text = facts.read_text("utf-8")
    tune = text.index("- fact: tune")
    more = text[tune:].replace("    choices:\n", "    choices:\n      - choice: radical\n", 1)
    facts.write_text(text[:tune] + more, "utf-8")
    wanted = [
        "the figures read 'exhaust size', and no fact has that name; if 'downpipe size' was it, give it that name",
        "the figures don't know 'radical' of 'tune'; its choices are stock, mild, hot",
    ]
    told = [str(fault) for fault in review(folder)]
    assert all(any(words in line for line in told) for words in wanted), told
    with pytest.raises(Refused) as refused:
        knowledge_in(folder)
    assert len(refused.value.lines) == 2
    assert all(words in line for words, line in zip(wanted, refused.value.lines, strict=True))


DESK = yaml.safe_load((BROKEN / "desk.yaml").read_text("utf-8"))


@pytest.mark.parametrize("name", DESK)
def test_slips_in_the_shipped_shop(name: str, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(shipped_folder(), folder)
    for slip in DESK[name]["edits"]:
        path = folder / slip["file"]
        text = path.read_text("utf-8")
        assert slip["from"] in text
        path.write_text(text.replace(slip["from"], slip["to"], 1), "utf-8")
    wanted = []
    for told in DESK[name]["told"]:
        place = place_of(folder, told["file"], told["at"], told.get("back", 0), told.get("first", ""))
        answer = ""
        if "of" in told:
            file, line, _ = place_of(folder, told["file"], told["of"]).rsplit(":", 2)
            answer = (
                f"if it is meant so, add 'accepted: [{{finding: {told['finding']}, because: ...}}]' to the entry in "
                f"line {line} of {file}, with the reason for '...'"
            )
        wanted.append((f"{place}: {told['says']}", answer))
    assert [(str(fault), fault.answer) for fault in review(folder)] == wanted


def place_of(folder: Path, file: str, text: str, back: int = 0, first: str = "") -> str:
    """Where a text stands first in a file, or first after the beginning of another one; ``back`` columns before it."""
    whole = (folder / file).read_text("utf-8")
    before = whole[: whole.index(text, whole.index(first))]
    return f"{file}:{before.count(chr(10)) + 1}:{len(before) - before.rfind(chr(10)) - back}"


def test_what_is_to_be_written_to_answer_is_an_answer(tmp_path: Path) -> None:
    """What the check says to write, written where it says, is taken."""
    folder = lay_out(CASES["notes/gap-between-steps"], tmp_path)
    (fault,) = (fault for fault in review(folder) if fault.place.file == "gap-between-steps.yaml")
    words, line, file = ANSWER.fullmatch(fault.answer).groups()  # type: ignore[union-attr]
    lines = (folder / file).read_text("utf-8").splitlines()
    indent = " " * (len(lines[int(line) - 1]) - len(lines[int(line) - 1].lstrip(" -")))
    lines.insert(int(line), indent + words.replace("...", "It is warm in between."))
    (folder / file).write_text("\n".join(lines) + "\n", "utf-8")
    assert fault not in review(folder)
    assert len(listed(folder, [fault])) == 2


def random_rules(seed: int, plain: bool) -> tuple[Rule, Rule]:
    writer = Writer(seed)
    rules = []
    for name in ("one", "other"):
        count = writer.chance.randint(1, 2)
        when = All(tuple(writer.leaf() if plain else writer.condition() for _ in range(count)), **writer.at())
        place = Place("a.yaml", next(writer.lines), 1)
        then = (NextStep("Look.", place=place), Say(name, place=place))
        rules.append(Rule(name, "understand", when, then, "why", "basis", "", place))
    return rules[0], rules[1]


def implied(one: Condition, other: Condition) -> bool:
    mine = [situation for situation in SITUATIONS if holds(one, situation)]
    return bool(mine) and all(holds(other, situation) for situation in mine)


@pytest.mark.parametrize("plain", [True, False])
def test_swallowed_is_what_holds_less_often(plain: bool) -> None:
    """In lists of plain conditions exactly; with groups whatever is called swallowed is."""
    universe = Universe(FACTS, settable(FACTS, ()))
    seen = set()
    for seed in range(600):
        one, other = random_rules(seed, plain)
        found = {fault.place for fault in swallowed(universe, (one, other))}
        truly = {rule.place for rule, by in ((one, other), (other, one)) if implied(rule.when, by.when)}
        assert found <= truly, (one.when, other.when)
        if plain:
            assert bool(found) == bool(truly), (one.when, other.when)
        seen.add(bool(found))
    assert seen == {True, False}


def random_base(seed: int) -> Knowledge:
    """Up to three rules that set one fact by random conditions, and one that reads it."""
    writer = Writer(seed)
    rules = []
    for number in range(writer.chance.randint(1, 3)):
        rule = writer.rule(f"sets-{number}", writer.chance.choice(["low", "high"]))
        rules.append(replace(rule, when=All((writer.condition(),), **writer.at())))
    reads = All((Is("head risk", frozenset({"low"}), **writer.at()),), **writer.at())
    place = Place("b.yaml", 1, 1)
    rules.append(Rule("reads", "advise", reads, (Say("x", place=place),), "why", "basis", "", place))
    base = load(BASE)
    strata = MappingProxyType(arrange(rules, []))
    return replace(base, rules=tuple(rules), strata=strata, digest=f"random {seed}")


@pytest.mark.parametrize("start", range(0, 400, 100))
def test_gaps_and_overlaps_are_those_that_trying_every_answer_finds(start: int) -> None:
    seen = set()
    for seed in range(start, start + 100):
        knowledge = random_base(seed)
        setters = [rule for rule in knowledge.rules if rule.name != "reads"]
        facts = frozenset().union(*(facts_in(rule.when) for rule in setters))
        gap, unknown, overlaps = False, False, set()
        for situation in SITUATIONS:
            holding = [rule for rule in setters if holds(rule.when, situation)]
            values = {action.value for rule in holding for action in rule.then if isinstance(action, SetFact)}
            missing = sum(situation[name] is None for name in facts)
            gap |= not values and missing == 0
            unknown |= not values and missing == 1
            overlaps |= {
                frozenset((one.name, other.name))
                for one in holding
                for other in holding
                if one.then != other.then
            }
        found = ranges(knowledge)
        assert ("gap" in {fault.finding for fault in found}) == gap, seed
        assert ("not known" in {fault.finding for fault in found}) == unknown, seed
        assert sum(fault.finding == "overlap" for fault in found) == len(overlaps), seed
        seen |= {("gap", gap), ("not known", unknown), ("overlap", bool(overlaps))}
    assert len(seen) == 6


def test_none_of_a_sum_between_two_numbers_is_no_contradiction_in_itself(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder)
    text = (BROKEN / "notes" / "swallowed-by-wider.yaml").read_text("utf-8")
    text = text.replace("- power goal > 500 hp", "- none: [power goal - power now is between 10 and 50 hp]")
    (folder / "sums.yaml").write_text(text, "utf-8")
    (rule,) = [rule for rule in load(folder).rules if rule.name == "studs-for-power"]
    assert isinstance(rule.when, All)
    assert isinstance(rule.when.parts[0], NoneOf)


OVERLAP = ("goal.yaml", " is not known", " is known")
GAP = ("goal.yaml", " <= ", " < ")
LOWER = [("goal.yaml", "\nrules:\n", "\n\nrules:\n"), ("facts.yaml", "\nfacts:\n", "\n\nfacts:\n")]
EDITS = [
    [("towing.yaml", "grade >= 5 %", "grade >= 6 %")],
    [OVERLAP],
    [OVERLAP, LOWER[0]],
    [OVERLAP, LOWER[1]],
    [GAP],
    [GAP, ("facts.yaml", "plausible: 100 to 3,000 hp", "plausible: 900 to 3,000 hp")],
    [GAP, LOWER[1]],
    [],
]


def test_what_a_review_keeps_in_mind_for_the_next_changes_nothing_that_is_told(tmp_path: Path) -> None:
    memory: dict[str, tuple[object, tuple[Fault, ...]]] = {}
    told = []
    for number, edits in enumerate(EDITS):
        folder = tmp_path / str(number)
        shutil.copytree(shipped_folder(), folder)
        for file, before, after in edits:
            text = (folder / file).read_text("utf-8")
            assert before in text, file
            (folder / file).write_text(text.replace(before, after), "utf-8")
        told.append(review(folder, memory))
        assert told[-1] == review(folder), edits
    assert len({tuple(map(str, faults)) for faults in told}) == len(EDITS) - 1
    before = dict(memory)
    review(tmp_path / "0", memory)
    taken = [fact for fact in before if memory[fact] is before[fact]]
    assert len(taken) >= len(memory) // 2  # most facts hang on no grade
