"""How long a call keeps people waiting; run by hand: python tests/benchmarks/bench_call.py

Ratios and counts rather than seconds where they can be: the machine's own speed (a fixed numpy task) stands beside
every time. Reports start to first question, answer to next question (median and 95th percentile) for 1, 2, 5 and
8 times the catalogue and 1, 3 and 8 times the rules, and scripted calls a second on one process and on two.
"""

import copy
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import shop

from advisor import matched, prospects, weighing
from advisor.consultation import consult
from advisor.inference.engines import agenda
from advisor.replay import replay, scripts_in
from advisor.scripted import read_script

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "transcripts_demo"


def yardstick() -> float:
    """Seconds for a fixed task on this machine now."""
    values = np.random.default_rng(0).random(1_000_000)
    start = time.perf_counter()
    for _ in range(10):
        np.exp(values).sum()
    return time.perf_counter() - start


def first_question() -> float:
    """Seconds from the start of the process to the first question on its output."""
    best = float("inf")
    for _ in range(7):
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", "advisor", "call", "--plain", "--calls", "/tmp/advisor-bench"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
        while not process.stdout.readline().startswith("Say:"):
            pass
        best = min(best, time.perf_counter() - start)
        process.kill()
        process.wait()
    return best


def waits(knowledge, script) -> list[float]:
    """Seconds from each answer of a script to the next question."""
    fires, found = agenda(), []
    for cache in (matched._solved, weighing._drawn, prospects._figures):
        cache.cache_clear()
    consult((), knowledge, fires)
    for count in range(1, len(script.answers) + 1):
        start = time.perf_counter()
        consult(script.answers[:count], knowledge, fires, bands=False)  # as a live call does
        found.append(time.perf_counter() - start)
    return found



def larger(knowledge, times):
    """The shop with every combination several times over."""
    candidates = knowledge.catalogue.candidates()

    def many(values):
        return np.concatenate([values] * times)

    more = replace(
        candidates,
        combinations=candidates.combinations * times,
        facts={name: many(values) for name, values in candidates.facts.items()},
        geometry={name: many(values) for name, values in candidates.geometry.items()},
        more={name: many(values) for name, values in candidates.more.items()},
    )
    catalogue = copy.copy(knowledge.catalogue)
    catalogue.__dict__["_candidates"] = more
    return replace(knowledge, catalogue=catalogue, digest=f"{knowledge.digest} x{times}")


def more_rules(knowledge, times):
    """The shop with its rules repeated under other names."""
    def again(layers):
        return tuple(
            tuple(replace(rule, name=f"{rule.name}-{n}" if n else rule.name) for n in range(times) for rule in layer)
            for layer in layers
        )

    strata = {stage: again(layers) for stage, layers in knowledge.strata.items()}
    rules = tuple(sorted((r for ls in strata.values() for layer in ls for r in layer), key=lambda r: r.name))
    return replace(knowledge, rules=rules, strata=strata, digest=f"{knowledge.digest} rules x{times}")


def main() -> None:
    knowledge = shop()
    script, _ = read_script(DEMO / "mixed-duty.yaml", knowledge)
    print(f"yardstick {yardstick() * 1000:.0f} ms")
    print(f"start to first question: {first_question():.2f} s")
    for label, shop_ in (
        *((f"{n * len(knowledge.catalogue.candidates()):5d} candidates", larger(knowledge, n)) for n in (1, 2, 8)),
        *((f"{n * len(knowledge.rules):5d} rules", more_rules(knowledge, n)) for n in (1, 3)),
    ):
        times = np.asarray(waits(shop_, script)) * 1000
        print(f"{label}: answer to question, median {np.median(times):.0f} ms, 95 % {np.quantile(times, 0.95):.0f} ms")
    paths = scripts_in([DEMO]) * 4
    for processes in (1, 2):
        start = time.perf_counter()
        replay(paths, ROOT / "rules", processes=processes)
        print(f"{processes} process: {len(paths) / (time.perf_counter() - start):.1f} calls a second")


if __name__ == "__main__":
    main()
