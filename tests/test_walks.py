"""Calls that wander: whatever was answered, changed, taken back, left out or resumed, the advice follows from the
final answers alone; and nothing outside the answers and the knowledge makes a difference."""

import json
import os
import random
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import ClassVar

import pytest
import yaml
from calls import thinned
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test
from walks import Wanderer, check, walked, within_limits

ROOT = Path(__file__).parent.parent
SHOP = thinned(20)


class Calls(RuleBasedStateMachine):
    """A call in any order of doing things; its checks at the end of each."""

    seen: ClassVar[Counter[str]] = Counter()

    @initialize(seed=st.integers(0, 1_000_000), times=st.integers(5, 8))
    def open(self, seed: int, times: int) -> None:
        """A call that has come some way, so that there is something to change, take back and resume."""
        self.walk = Wanderer(seed, SHOP)
        self.answer(times)

    @rule(times=st.integers(1, 6))
    def answer(self, times: int) -> None:
        for _ in range(times):
            self.walk.answer()

    @rule(times=st.integers(1, 6))
    def change(self, times: int) -> None:
        for _ in range(times):
            self.walk.change()

    @rule()
    def back(self) -> None:
        self.walk.back()

    @rule(times=st.integers(1, 3))
    def skip(self, times: int) -> None:
        for _ in range(times):
            self.walk.skip()

    @rule()
    def resume(self) -> None:
        self.walk.resume()

    def teardown(self) -> None:
        if hasattr(self, "walk"):
            check(self.walk)
            Calls.seen.update(self.walk.seen)


CALLS = settings(max_examples=12, stateful_step_count=10)


def test_calls_in_any_order_of_doing_things() -> None:
    run_state_machine_as_test(Calls, settings=CALLS)
    assert Calls.seen["answer"] >= 3 * CALLS.max_examples
    assert not [way for way in ("change", "back", "skip", "resume") if not Calls.seen[way]], Calls.seen


def test_walks_wander_and_end_as_a_fresh_run_in_another_order() -> None:
    """Walks that hardly answer, or never change, step back, are doubted or resumed, would check nothing."""
    walks, steps = 12, 14
    seen = sum((walked(seed, SHOP, steps) for seed in range(40, 40 + walks)), Counter())
    assert seen["answer"] >= 0.5 * walks * steps
    assert seen["kept"] >= 0.5 * walks * steps
    assert seen["advised"] >= walks / 3
    assert not [way for way in ("change", "back", "skip", "look", "resume", "doubt", "breath") if seen[way] < 2], seen


def test_a_broken_limit_would_be_noticed() -> None:
    walk = Wanderer(1, SHOP)
    for fact in ("duties", "displacement", "power goal"):
        walk.hear(f"change {fact} = {walk.known[fact]}")
    walk.hear("change call kind = new turbo")
    outcome = walk.call.consultation
    within_limits(outcome)
    out = outcome.ruled_out[0].code
    object.__setattr__(outcome.recommended, "code", out)
    object.__setattr__(outcome.recommended, "ruled_out_by", ("some limit",))
    with pytest.raises(AssertionError):
        within_limits(outcome)


SAYS = """
import json, sys
from pathlib import Path
from advisor.consultation import consult
from advisor.inference.engines import agenda
from advisor.knowledge import load
from advisor.scripted import read_script
from advisor.sheet.data import as_data
from advisor.sheet.text import written
knowledge = load(Path(sys.argv[1]))
script, _ = read_script(Path(sys.argv[2]), knowledge)
outcome = consult(script.answers, knowledge, agenda("reference"))
sys.stdout.buffer.write(json.dumps([as_data(outcome, knowledge), written(outcome, knowledge, 2_000)]).encode())
"""


def says(folder: Path, **environment: str) -> bytes:
    script = ROOT / "transcripts_demo" / "mixed-duty.yaml"
    return subprocess.run(
        [sys.executable, "-c", SAYS, str(folder), str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        check=True,
    ).stdout


def test_nothing_depends_on_hash_seed_locale_or_the_order_of_rules(tmp_path: Path) -> None:
    """Byte for byte over hash seeds and locales; with every rule file shuffled, all but places and digest."""
    first = says(ROOT / "rules", PYTHONHASHSEED="0", LC_ALL="C")
    elsewhere = {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Asia/Kolkata"}
    assert says(ROOT / "rules", PYTHONHASHSEED="77", **elsewhere) == first
    shutil.copytree(ROOT / "rules", tmp_path / "shop")
    chance = random.Random(5)
    for path in sorted((tmp_path / "shop").glob("*.yaml")):
        if path.name != "facts.yaml":
            data = yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader)
            chance.shuffle(data["rules"])
            path.write_text(yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=10_000), encoding="utf-8")
    plain, shuffled = (without_places(found) for found in (first, says(tmp_path / "shop", PYTHONHASHSEED="3")))
    assert shuffled == plain


def without_places(found: bytes) -> object:
    data, text = json.loads(found)
    data.pop("knowledge")

    def bare(value: object) -> object:
        if isinstance(value, dict):
            return {key: bare(inner) for key, inner in value.items() if key != "place"}
        return [bare(inner) for inner in value] if isinstance(value, list) else value

    return bare(data), re.sub(r"\s+", " ", re.sub(r"\w[\w-]*\.yaml:\d+:\d+|knowledge \w+", "", text))
