"""Rules edited while a call is being taken: taken up on request, what they change is said, broken ones are told."""

import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect
import pytest
from test_terminal import Window

from advisor.knowledge import shipped_folder

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
        seen.says("rules again", "new rule: house-of-the-hill")
        assert "Edited while he was on the line." in " ".join(seen.text.split())
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
