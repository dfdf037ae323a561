"""Figures in texts that who speaks metric would be told as they stand, or wrongly: each is noted where it stands, with
what to write instead; and what isn't noted is told in metric.
"""

import re
import shutil
from pathlib import Path

import pytest
from test_knowledge_broken import BASE, SLIPS

from advisor.his_units import METRIC, told
from advisor.knowledge import check, shipped_folder

SAY = "The head needs studs first."
SLIPPED = [
    ("keep it under 250 degrees", "250 degrees", "write 250 °F, or deg for an angle"),
    ("under two hundred and fifty degrees", "two hundred and fifty degrees", "write 250 °F, or deg for an angle"),
    ("a 250-degree limit", "250-degree", "write 250 °F, or deg for an angle"),
    ("not above 350°F", "350°F", "write 350 °F"),
    ("not above 350 F", "350 F", "write 350 °F"),
    ("from 200-300 °F", "200-300 °F", "write 200 to 300 °F"),
    ("between 200 and 300 °F", "200 and 300 °F", "write 200 °F and 300 °F"),
    ("fifty psi is enough", "fifty psi", "write 50 psi"),
    ("thirty-five pounds of boost", "thirty-five pounds", "write 35 psi"),
    ("35 pounds is enough", "35 pounds", "write 35 lb or 35 psi"),
    ("a 14,000 lbs trailer", "14,000 lbs", "write 14,000 lb"),
    ("seven tons behind it", "seven tons", "write 14,000 lb"),
    ("5 to 7.5 tons behind it", "5 to 7.5 tons", "write 10,000 to 15,000 lb"),
    ("a few hundred pounds", "few hundred pounds", "write the figure in digits, as in 300 lb"),
    ("2 inches of pipe", "2 inches", "write 2 in"),
    ("above 5,000 feet", "5,000 feet", "write 5,000 ft"),
    ("in 20 miles", "20 miles", "write it both ways, as in 5 miles (8 km)"),
    ("it drops by 100 °F", "100 °F", "write it as a difference, as in '50 °F cooler', or hotter, less, more, away"),
    ("at {power now} hp", "hp", "leave 'hp' out"),
]
SOUND = [
    "keep it under 250 °F", "from 1,250 to 1,300 °F", "it runs 100 °F cooler", "by 50 to 60 °F hotter", "at 50 psi",
    "the 360 degrees of thrust", "a 90-degree elbow", "a sixty-foot time", "the quarter mile", "two in series",
    "the smallest one in the catalogue", "5 miles (8 km)", "64 mm (2.5 in)", "{power now} at the crank", "a 4 in pipe",
    "14,000 lb at 65 mph", "at 65 miles an hour", "a few hours", "turn 7 of 10", "1 of 3 does",
]  # fmt: skip
SHOPS = re.compile(r"°F|psi|\blb|\bft\b|mph|miles an hour")


def with_say(text: str, folder: Path) -> Path:
    shutil.copytree(BASE, folder)
    rule = SLIPS["rule"].replace(SAY, f'"{text}"')
    assert text in rule
    (folder / "slip.yaml").write_text(rule, "utf-8")
    return folder


@pytest.mark.parametrize(("text", "said", "mend"), SLIPPED)
def test_a_figure_that_is_not_told_in_metric_is_noted(text: str, said: str, mend: str, tmp_path: Path) -> None:
    (fault,) = check(with_say(text, tmp_path / "shop"))
    line = (tmp_path / "shop" / "slip.yaml").read_text("utf-8").splitlines()[fault.place.line - 1]
    assert line[fault.place.column - 1 :].startswith(said)
    assert (fault.severity, fault.finding, fault.mend) == ("note", "not metric", mend)
    assert f"'{said}'" in fault.what or mend.startswith("leave")


@pytest.mark.parametrize(("text", "said", "mend"), SLIPPED)
def test_what_is_to_be_written_is_told_in_metric(text: str, said: str, mend: str, tmp_path: Path) -> None:
    better = re.fullmatch(r"write (.*?)(?:, or deg for an angle| or 35 psi)?", mend)
    if better is None or not better[1][0].isdigit():
        return
    mended = text.replace(said, better[1])
    assert check(with_say(mended, tmp_path / "shop")) == ()
    assert not SHOPS.search(told(mended, METRIC))


@pytest.mark.parametrize("text", SOUND)
def test_what_is_told_in_metric_or_names_a_thing_is_let_be(text: str, tmp_path: Path) -> None:
    assert check(with_say(text, tmp_path / "shop")) == ()
    beside_its_metric = "(" in text or "in series" in text
    assert beside_its_metric or not SHOPS.search(told(text, METRIC))


def test_it_may_be_answered(tmp_path: Path) -> None:
    folder = with_say("a one ton truck", tmp_path / "shop")
    assert len(check(folder)) == 1
    answer = "\n    accepted: [{finding: not metric, because: a kind of truck}]\n"
    file = folder / "slip.yaml"
    file.write_text(file.read_text("utf-8").rstrip() + answer, "utf-8")
    assert check(folder) == ()


def test_the_words_of_questions_are_looked_at_too(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "shop")
    file = tmp_path / "shop" / "facts.yaml"
    text = file.read_text("utf-8")
    ask = re.search(r"    ask: .*", text)
    assert ask is not None
    file.write_text(text.replace(ask[0], "    ask: Is it over fifty psi?"), "utf-8")
    (fault,) = check(tmp_path / "shop")
    assert str(fault) == f"facts.yaml:{text[: ask.start()].count(chr(10)) + 1}:21: " + (
        "'fifty psi' stays so for who speaks metric; write 50 psi"
    )


def test_of_the_shipped_texts_every_figure_is_told_in_metric() -> None:
    assert [fault for fault in check(shipped_folder()) if fault.finding == "not metric"] == []
