"""Rules edited while a call is being taken: taken up on request, what they change is said, broken ones are told."""

import os
import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect
import pytest
from test_terminal import Window

from advisor.desk.calls import scripted_call
from advisor.desk.edits import reload
from advisor.inference.engines import agenda
from advisor.knowledge import load, shipped_folder

RULE = """
  - rule: house-of-the-hill
    stage: understand
    when:
      - duties include towing
    then:
      caution: "Edited while he was on the line."
      severity: care
      say: "Something new came up while we talk."
    because: A rule can be edited while a call is being taken.
    basis: common practice, no source
    kept by: R. Aldous, 2026-11
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return Path(shutil.copytree(shipped_folder(), tmp_path / "shop"))


@contextmanager
def window(shop: Path, *options: str, columns: int = 100) -> Iterator[Window]:
    """A call at the shop, in a window."""
    child = pexpect.spawn(
        sys.executable,
        ["-m", "advisor", "call", "--shop", str(shop), "--calls", str(shop.parent / "calls"), *options],
        cwd=str(shop.parent),
        env={**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(Path(__file__).parent.parent)},
        dimensions=(50, columns),
        encoding="utf-8",
        timeout=20,
    )
    try:
        yield Window(child, columns, 50)
    finally:
        child.close(force=True)


@pytest.mark.parametrize("options", [("--plain",), ()])
def test_edited_rules_are_taken_up_on_request(options: tuple[str, ...], shop: Path) -> None:
    with window(shop, *options) as seen:
        seen.until("call kind>")
        seen.says("new turbo", "= call kind: new turbo")
        seen.says("change duties = towing", "= duties: towing")
        seen.says("rules again", "Nothing was edited.")
        with (shop / "towing.yaml").open("a", encoding="utf-8") as rules:
            rules.write(RULE)
        seen.says("rules again", "Edited while he was on the line.")
        said = " ".join(seen.text.split())
        assert "as they are now The advice is as before: not enough known. new rule: house-of-the-hill" in said
        seen.child.send("quit\r")
        assert seen.ended() == 0


def test_another_advice_is_told_first_and_points_are_only_counted(shop: Path) -> None:
    """Through what the call is told when it reads the rules again: a turbo is advised, and then ruled out."""
    script = Path(__file__).parent.parent / "transcripts_demo" / "tow-only.yaml"
    call, _ = scripted_call(script)
    assert call is not None
    old = load(shop)
    edited = (shop / "towing.yaml").read_text(encoding="utf-8")
    barred = RULE.replace("stage: understand", "stage: judge")
    barred = re.sub(r"      caution: .*\n      severity: care\n", "      rule out: this candidate\n", barred)
    (shop / "towing.yaml").write_text(edited + barred, encoding="utf-8")
    said = reload(call.answers, old, load(shop), agenda()).told()
    assert re.fullmatch(r"The advice was [A-Z]{2}-\S+\.", said[0])
    assert said[1] == "It is now nothing fits, by house-of-the-hill."
    assert any(re.fullmatch(r"points and numbers of candidates that differ: \d+", line) for line in said)
    assert not any(re.match(r"[-+] (takes|gives|rules out)", line) for line in said)


def test_an_answer_to_a_fact_that_is_renamed_and_back_counts_again(shop: Path) -> None:
    files = {path: path.read_text(encoding="utf-8") for path in shop.glob("*.yaml")}
    with window(shop) as seen:
        seen.until("call kind>")
        seen.says("new turbo", "= call kind: new turbo")
        seen.says("change deadline = in two weeks", "= deadline: ")
        for path, text in files.items():
            path.write_text(re.sub(r"\bdeadline\b", "day wanted", text), encoding="utf-8")
        seen.says("rules again", "deadline is asked no more")
        for path, text in files.items():
            path.write_text(text, encoding="utf-8")
        seen.says("rules again", "deadline is asked again, so his answer counts: in two weeks")
        seen.child.send("quit\r")
        assert seen.ended() == 0


def test_broken_rules_are_told_with_their_place_and_the_call_goes_on(shop: Path) -> None:
    lines = len((shop / "towing.yaml").read_text(encoding="utf-8").splitlines())
    with window(shop, columns=60) as seen:
        seen.until("call kind>")
        seen.says("new turbo", "= call kind: new turbo")
        with (shop / "towing.yaml").open("a", encoding="utf-8") as rules:
            rules.write(RULE.replace("duties include towing", "dutys include towing"))
        seen.says("rules again", "goes on with the rules it had")
        assert f"towing.yaml:{lines + 5}:" in "".join(seen.text.split())
        seen.says("change duties = towing", "= duties: towing")
        seen.child.send("quit\r")
        assert seen.ended() == 0
        assert "Traceback" not in seen.raw
