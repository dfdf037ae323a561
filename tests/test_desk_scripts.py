"""Scripted calls as a build sees them: one test each, JUnit XML, outcomes accepted on request."""

from pathlib import Path
from xml.etree import ElementTree

import pytest
from small_shop import ROOT, edit, run, script, small_shop

from advisor.inference.agenda import agenda
from advisor.knowledge import load
from advisor.replay import replayed
from advisor.scripted import read_script

SCRIPTS = sorted((ROOT / "transcripts_demo").glob("*.yaml"))


@pytest.fixture(scope="module")
def demo():
    return load(ROOT / "rules")


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_scripted_call(path: Path, demo):
    """Every scripted call of the demo shop comes out as it wants."""
    found, faults = read_script(path, demo, path.name)
    assert faults == ()
    assert found is not None
    assert [str(one) for one in replayed(found, demo, agenda()).differences] == []


@pytest.fixture
def shop(tmp_path):
    return small_shop(tmp_path / "shop", "class", "law")


CONCLUDE = """# what must come of it
conclude:
  verdict: nothing fits  # not today
  must:
    - fired: inducer-over-the-limit   # the gauge
    - fired: controls-stay-on-the-road
  must not:
    - fired: inducer-uses-the-limit
  figures:
    air flow needed: 10 to 12 lb/min  # far too little
"""


def test_a_changed_outcome_is_accepted_with_a_readable_difference(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "sled.yaml", CONCLUDE)
    before = path.read_text(encoding="utf-8")
    assert run(capsys, "replay", path, "--shop", shop)[0] == 1
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    after = path.read_text(encoding="utf-8")
    assert code == 0
    assert "-  verdict: nothing fits  # not today" in out
    assert "+  verdict: recommended  # not today" in out
    assert "-    - fired: controls-stay-on-the-road" in out
    assert before.split("conclude:")[0] == after.split("conclude:")[0]
    assert "# the gauge" in after
    assert "# far too little" in after
    assert "must not:" not in after
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    assert run(capsys, "replay", path, "--shop", shop, "--accept")[1] == "1 scripts, 0 rewritten\n"


@pytest.mark.parametrize("conclude", ["", "conclude:\n  verdict: recommended\n# the end\n"])
def test_a_recorded_outcome_tells_of_every_change(shop, tmp_path, capsys, conclude):
    path = script(tmp_path / "calls" / "sled.yaml", conclude)
    code, _, _ = run(capsys, "replay", path, "--shop", shop, "--record")
    assert code == 0
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    recorded = path.read_text(encoding="utf-8")
    edit(shop / "class.yaml", "prefer: 5", "prefer: 9")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "recorded, and not so any more: gives 5 points" in out
    assert "so now, and not recorded: gives 9 points" in out
    code, out, _ = run(capsys, "replay", path, "--shop", shop, "--accept")
    assert code == 0
    assert recorded.replace("gives 5 points", "gives 9 points") == path.read_text(encoding="utf-8")


def test_results_are_written_as_junit_xml(shop, tmp_path, capsys):
    script(tmp_path / "calls" / "good.yaml", "conclude:\n  verdict: recommended\n")
    script(tmp_path / "calls" / "wrong.yaml", "conclude:\n  verdict: nothing fits\n")
    (tmp_path / "calls" / "broken.yaml").write_text("answers: 5\n", "utf-8")
    code, _, _ = run(capsys, "replay", tmp_path / "calls", "--shop", shop, "--junit", tmp_path / "out" / "results.xml")
    top = ElementTree.parse(tmp_path / "out" / "results.xml").getroot()
    assert code == 2
    assert (top.get("tests"), top.get("failures"), top.get("errors")) == ("3", "1", "1")
    cases = {case.get("name"): [child.tag for child in case] for case in top.iter("testcase")}
    assert cases == {"good": [], "wrong": ["failure"], "broken": ["error"]}
    assert "the verdict is" in next(top.iter("failure")).get("message", "")


def test_a_line_of_the_outcome_can_be_wanted(shop, tmp_path, capsys):
    wanted = 'conclude:\n  {}:\n    - concludes: "gives 5 points [inducer-uses-the-limit]"\n'
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must"))
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must not"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "one.yaml:15:" in out
    path = script(tmp_path / "calls" / "one.yaml", wanted.format("must").replace("the-limit]", "the-limitt]"))
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert "did you mean 'inducer-uses-the-limit'?" in out
