"""Compare over many recorded calls, run by hand: python tests/benchmarks/bench_compare.py [CALLS [PROCESSES]]

The calls are the demo calls with goal, weight, altitude and summer drawn anew, so that no two share a match. Each edit
is of another kind; the time is given for all calls, as core time too (what it would take on cores that have nothing
else to do), and that as a ratio to running every call once.
"""

import os
import random
import re
import shutil
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from advisor import matched
from advisor.course import infer
from advisor.desk.calls import RecordedCall, scripted_calls, with_answer
from advisor.desk.compare import compare
from advisor.inference.engines import agenda
from advisor.knowledge import load

ROOT = Path(__file__).parent.parent.parent
SEED = 2026
EDITS = (
    ("words of an early rule", "fuel.yaml", "From what it makes, the", "By what it makes, the"),
    ("a threshold before the match", "place.yaml", "altitude >= 4000 ft", "altitude >= 4500 ft"),
    ("a threshold over candidates", "wastegate.yaml", "gate flow margin < 10 %", "gate flow margin < 12 %"),
    ("points over candidates", "wastegate.yaml", "penalise: 8", "penalise: 9"),
    ("points that run evenly", "wastegate.yaml", "gate share goes from 20 %", "gate share goes from 22 %"),
    ("a threshold at the end", "class.yaml", "compressor inducer >= 0.99", "compressor inducer >= 0.98"),
    ("a price", "catalogue/turbos.yaml", "price: $1", "price: $2"),
)


def drawn(count: int) -> list[RecordedCall]:
    """Recorded calls, no two alike."""
    chance = random.Random(SEED)
    recorded, _ = scripted_calls(sorted((ROOT / "transcripts_demo").glob("*.yaml")))
    calls = []
    for number in range(count):
        call = replace(chance.choice(recorded), file=f"call {number}")
        said = next((answer.words for answer in call.answers if answer.fact == "power goal"), "")
        goal = float((re.search(r"\d{3,4}", said) or ["450"])[0]) * chance.uniform(0.85, 1.15)
        answers = with_answer(call.answers, "power goal", f"{goal:.0f} hp")
        answers = with_answer(answers, "vehicle weight", f"{chance.uniform(5500, 9500):.0f} lb")
        answers = with_answer(answers, "altitude", f"{chance.uniform(0, 6000):.0f} ft")
        answers = with_answer(answers, "summer temperature", f"{chance.uniform(70, 110):.0f} F")
        calls.append(replace(call, answers=answers))
    return calls


def edited(rules: Path, folder: Path, file: str, old: str, new: str) -> Path:
    """A copy of the rules in which the first place of a text reads otherwise. Raises SystemExit where it is missing."""
    made = folder / "rules"
    shutil.copytree(rules, made)
    text = (made / file).read_text(encoding="utf-8")
    if old not in text:
        raise SystemExit(f"'{old}' no longer stands in {rules / file}; give EDITS a text that does")
    (made / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    return made


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    calls, rules = drawn(count), ROOT / "rules"
    few = calls[:: max(1, count // 40)]
    knowledge, fires = load(rules), agenda()
    start = time.process_time()
    for call in few:
        infer(call.under(knowledge), knowledge, fires)
    once = (time.process_time() - start) / len(few)
    print(f"{count} calls, {processes} processes; running one once takes {once * 1000:.0f} ms of a core")
    with tempfile.TemporaryDirectory() as folder:
        after = [edited(rules, Path(folder) / str(at), *edit[1:]) for at, edit in enumerate(EDITS)]
        for (what, *_), new in zip(EDITS, after, strict=True):
            matched.forget_matches()  # forked processes would take it over
            start, before = time.perf_counter(), os.times()
            found = compare(calls, rules, new, processes=processes)
            took, spent = time.perf_counter() - start, os.times()
            cores = sum(spent[:4]) - sum(before[:4])
            print(f"{what:<32} {took:6.1f} s; {cores / processes:6.1f} s on {processes} free cores, "
                  f"{cores / (count * once):4.2f} of running each once; changes {len(found.changed)}")  # fmt: skip


if __name__ == "__main__":
    main()
