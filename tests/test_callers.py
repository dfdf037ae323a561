"""Callers' answers to the shop's own questions: read right, or asked again, and never silently wrong."""

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from small_shop import small_shop
from test_units import outside

from advisor.hearing import understand
from advisor.hearing.recalled import Past
from advisor.inference.facts import Value
from advisor.knowledge import FactDef, KnowledgeError, check, load, shipped_folder
from advisor.units import Range

CALLERS = Path(__file__).parent / "data" / "callers.csv"
PINT_NAMES = {
    "°F": "degF", "°C": "degC", "%": "percent", "days": "day", "": "dimensionless", "L": "liter",
    "mm3": "mm**3", "cu in": "inch**3", "in3": "inch**3", "PS": "metric_horsepower"}  # fmt: skip


def rows() -> list[tuple[str, str, str]]:
    parted = _parted(CALLERS) + _parted(shipped_folder() / "heard.csv")
    return [(fact, words, "unsure" if wanted == "not sure" else wanted) for fact, words, wanted in parted]


def _parted(path: Path) -> list[list[str]]:
    lines = path.read_text(encoding="utf-8").splitlines()
    return [line.split("|", 2) for line in lines if not line.startswith("#")]


def expected(definition: FactDef, text: str) -> Range:
    """A figure of the table in SI, by pint."""
    figures, _, unit = text.partition(" ")
    unit = unit or definition.unit
    unit = "dimensionless" if definition.quantity in ("ratio", "count") else PINT_NAMES.get(unit, unit)
    assert definition.plausible is not None
    if figures[0] == "<":
        return Range(definition.plausible.low, outside(float(figures[1:]), unit, definition.quantity))
    if figures[0] == ">":
        return Range(outside(float(figures[1:]), unit, definition.quantity), definition.plausible.high)
    if figures[0] == "~":
        middle = float(figures[1:])
        low, high = 0.95 * middle, 1.05 * middle
    else:
        first, _, second = figures.partition("..")
        low, high = float(first), float(second or first)
    return Range(outside(low, unit, definition.quantity), outside(high, unit, definition.quantity))


def same(definition: FactDef, value: Value, wanted: str) -> bool:
    match definition.kind:
        case "number":
            assert isinstance(value, Range)
            # where the most or the least is asked for, that figure is the answer
            meant = expected(definition, wanted.lstrip("<>") if definition.limit else wanted)
            pairs = ((value.low, meant.low), (value.high, meant.high))
            off = 0.005 if definition.quantity == "percent" else 1e-6  # shares and grades are said in whole percents
            return all(math.isclose(one, other, rel_tol=2e-3, abs_tol=off) for one, other in pairs)
        case "yes/no":
            return value is (wanted == "yes")
        case "several":
            return value == frozenset(wanted.split("+"))
        case _:
            return value == wanted


def verdict(definition: FactDef, words: str, wanted: str) -> str:
    """right, asked (again, or "did you mean") or wrong."""
    heard = understand(definition, words)
    found = []
    for one in wanted.split("||"):
        if one == "unsure":
            asked = heard.fact is None or heard.doubt
            found.append("right" if heard.not_sure else "asked" if asked else "wrong")
        elif heard.not_sure:
            found.append("wrong" if not heard.doubt else "right" if one == "unclear" else "asked")
        elif heard.fact is None:
            found.append("right" if one == "unclear" else "asked")
        elif one == "unclear":
            found.append("right" if heard.doubt else "wrong")
        else:
            found.append("right" if same(definition, heard.fact.value, one) else "asked" if heard.doubt else "wrong")
    return min(found, key=["right", "asked", "wrong"].index)


def test_callers_are_read_right_or_asked_again() -> None:
    vocabulary = load(shipped_folder()).vocabulary
    table = rows()
    assert len(table) >= 2000
    verdicts = {row: verdict(vocabulary[row[0]], row[1], row[2]) for row in table}
    count = Counter(verdicts.values())
    assert not [row for row, found in verdicts.items() if found == "wrong"]
    assert count["asked"] <= 0.0125 * len(table), [row for row, found in verdicts.items() if found == "asked"]


def test_every_question_is_in_the_table() -> None:
    asked = {name for name, fact in load(shipped_folder()).vocabulary.items() if fact.ask and fact.kind != "text"}
    assert asked <= {fact for fact, _, _ in rows()}


@pytest.mark.parametrize("part", range(3))
def test_past_calls_tell_what_others_meant(part: int) -> None:
    """Learnt from two thirds of what was heard, the rest is mostly what is then likeliest, and nearly always where it
    is called likely; figures kept from runs of this table."""
    count: Counter[str] = Counter()
    for definition in load(shipped_folder()).vocabulary.values():
        if definition.kind not in ("choice", "yes/no") or not definition.heard:
            continue
        learnt = tuple(one for at, one in enumerate(definition.heard) if at % 3 != part)
        choices = tuple((name, ()) for name in definition.choice_names or ("yes", "no"))
        past = Past(learnt, learnt, choices)
        for words, meaning in definition.heard[part::3]:
            meant = past.meant(words, several=False)
            right = meant.meaning == {meaning}
            count.update(["all", *["right"] * right, *["likely", *["likely right"] * right] * (meant.share > 0.95)])
    assert count["right"] >= 0.83 * count["all"], count
    assert count["likely right"] >= 0.92 * count["likely"], count
    assert count["likely"] >= 0.5 * count["all"], count


def kept(definition: FactDef, *heard: tuple[str, str]) -> FactDef:
    """The fact with these past calls alone."""
    return replace(definition, heard=heard, heard_of_any=heard)


def test_what_others_meant_who_spoke_alike_is_offered_and_never_taken() -> None:
    effort = load(shipped_folder()).vocabulary["towing effort"]
    words = "zigzag, how grandpa did"
    assert understand(kept(effort), words).fact is None
    like = kept(effort, ("the way grandpa did it", "gentle"), ("grandpa taught me", "gentle"), ("flat out", "flat out"))
    heard = understand(like, words)
    assert heard.fact is not None
    assert heard.fact.value == "gentle"
    assert heard.doubt.endswith("Is that it?")
    unlike = understand(like, "xylophone zeppelin")
    assert unlike.fact is None
    assert unlike.again


def test_who_speaks_like_those_that_are_not_sure_is_asked_whether_to_leave_it_open() -> None:
    vocabulary = load(shipped_folder()).vocabulary
    for name in ("rpm limit", "boost leak checked"):
        heard = understand(vocabulary[name], "tach's been on the fritz since before I owned it, sorry")
        assert heard.doubt or heard.again
    heard = understand(vocabulary["working rpm high"], "I don't watch the tach, sorry")
    assert heard.not_sure
    assert heard.doubt.endswith("Shall it be left open?")


def test_what_past_calls_make_unlikely_is_doubted() -> None:
    wheels = load(shipped_folder()).vocabulary["driven wheels"]
    words = "4x4 badge, no front shaft"
    calls = [(f"4x4 badge but the front shaft is {how}", "two") for how in ("out", "gone", "off", "sold", "in bits")]
    plain = understand(kept(wheels), words)
    doubted = understand(kept(wheels, *calls, ("yes it is", "four")), words)
    assert plain.fact is not None
    assert not plain.doubt
    assert doubted.fact is not None
    assert doubted.doubt


def test_lines_that_can_not_be_read_or_used_are_named(tmp_path: Path) -> None:
    folder = small_shop(tmp_path / "shop", "class", "law")
    assert not load(folder).vocabulary["transmission"].heard
    (folder / "heard.csv").write_text("# said\ntransmission|the stick|manual\ntransmission|slush box\n", "utf-8")
    with pytest.raises(KnowledgeError) as refused:
        load(folder)
    assert [str(fault) for fault in refused.value.faults] == [
        "heard.csv:3:1: this isn't a fact, words and what they meant; part the three by '|': fact|words|meaning"
    ]
    lines = ["transmission|the stick|manual", "transmision|a stick|manual", "transmission|dunno|manuel",
             "rpm limit|never looked|not sure"]  # fmt: skip
    (folder / "heard.csv").write_text("\n".join(lines), "utf-8")
    knowledge = load(folder)
    assert knowledge.vocabulary["transmission"].heard == (("the stick", "manual"),)
    assert knowledge.vocabulary["rpm limit"].heard == (("never looked", "not sure"),)
    assert [str(note) for note in check(folder) if note.place.file == "heard.csv"] == [
        "heard.csv:2:1: there is no fact 'transmision'; the line isn't used; did you mean 'transmission'?",
        "heard.csv:3:20: 'manuel' is no answer to 'transmission'; the line isn't used; did you mean 'manual'?",
    ]
    before = knowledge.digest
    (folder / "heard.csv").write_bytes(b"transmission|\xff|manual")
    with pytest.raises(KnowledgeError, match="not UTF-8"):
        load(folder)
    (folder / "heard.csv").unlink()
    assert load(folder).digest != before
