"""How long a call keeps people waiting; run by hand: python tests/benchmarks/bench_call.py

The machine's own speed (a fixed numpy task) stands beside the times, and the processor's time beside the clock's: on a
busy machine only the processor's tells. Reports start to first question, as an installed program starts (its modules
compiled); answer to next question (median and 95th percentile) for 1, 2 and 8 times the catalogue and for 80 and 800
rules; and scripted calls a second on one process and on two. Nothing is worked out before its answer is there.
"""

import copy
import os
import subprocess
import sys
import tempfile
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
CALLS = ("mixed-duty", "high-altitude", "sled-inducer-limit")


def yardstick() -> float:
    """Seconds for a fixed task on this machine now."""
    values = np.random.default_rng(0).random(1_000_000)
    start = time.perf_counter()
    for _ in range(10):
        np.exp(values).sum()
    return time.perf_counter() - start


def first_question() -> float:
    """Seconds from the start of the process to the first question on its output, the least of some starts."""
    best = float("inf")
    with tempfile.TemporaryDirectory() as folder:
        compiled = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": folder}
        for _ in range(8):
            start = time.perf_counter()
            process = subprocess.Popen(
                [sys.executable, "-m", "advisor", "call", "--plain", "--calls", f"{folder}/calls"],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=os.environ | compiled,
            )  # fmt: skip
            while not process.stdout.readline().startswith("Say:"):
                pass
            best = min(best, time.perf_counter() - start)
            process.communicate("")
    return best


def waits(knowledge, scripts) -> np.ndarray:
    """Seconds from each answer of some calls to the next question, by the clock and of the processor (answers, 2)."""
    fires, found = agenda(), []
    for script in scripts:
        matched.forget_matches()
        for cache in (weighing._drawn, prospects._figures):
            cache.cache_clear()
        consult((), knowledge, fires, bands=False)
        for count in range(1, len(script.answers) + 1):
            start = time.perf_counter(), time.process_time()
            consult(script.answers[:count], knowledge, fires, bands=False)  # as a live call does
            found.append((time.perf_counter() - start[0], time.process_time() - start[1]))
    return np.asarray(found)


def larger(knowledge, times):
    """The shop with every combination several times over, each time in a housing a little larger."""
    candidates = knowledge.catalogue.candidates()

    def many(values, step=0.0):
        return np.concatenate([values * (1.0 + step * n) if step else values for n in range(times)])

    more = replace(
        candidates,
        combinations=candidates.combinations * times,
        facts={name: many(values) for name, values in candidates.facts.items()},
        geometry={
            name: many(values, 0.003 if name == "housing_ratio" else 0.0)
            for name, values in candidates.geometry.items()
        },
        more={name: many(values) for name, values in candidates.more.items()},
    )
    catalogue = copy.copy(knowledge.catalogue)
    catalogue.__dict__["_candidates"] = more
    return replace(knowledge, catalogue=catalogue, digest=f"{knowledge.digest} x{times}")


def with_rules(knowledge, count):
    """The shop with so many rules: every few of its own, or all of them and copies under other names."""

    def name(rule, copy_):
        return f"{rule.name}-{copy_}" if copy_ else rule.name

    whole = len(knowledge.rules)
    kept = {rule.name for rule in knowledge.rules[:: max(1, round(whole / count))]}
    extra = max(0, count - whole)
    copies = {rule.name: extra // whole + (number < extra % whole) for number, rule in enumerate(knowledge.rules)}
    strata = {
        stage: tuple(
            tuple(replace(r, name=name(r, n)) for r in layer if r.name in kept for n in range(copies[r.name] + 1))
            for layer in layers
        )
        for stage, layers in knowledge.strata.items()
    }
    rules = tuple(sorted((r for ls in strata.values() for layer in ls for r in layer), key=lambda r: r.name))
    return replace(knowledge, rules=rules, strata=strata, digest=f"{knowledge.digest} {count} rules")


def main() -> None:
    knowledge = shop()
    scripts = [read_script(DEMO / f"{name}.yaml", knowledge)[0] for name in CALLS]
    print(f"yardstick {yardstick() * 1000:.0f} ms")
    print(f"start to first question: {first_question():.2f} s")
    candidates, usual = len(knowledge.catalogue.candidates()), None
    for label, shop_ in (
        *((f"{n * candidates:5d} candidates", larger(knowledge, n)) for n in (1, 2, 8)),
        *((f"{len(shop_.rules):5d} rules", shop_) for shop_ in (with_rules(knowledge, n) for n in (80, 800))),
    ):
        times = waits(shop_, scripts) * 1000
        usual = times.mean(axis=0) if usual is None else usual
        middle, most = np.median(times, axis=0), np.quantile(times, 0.95, axis=0)
        print(
            f"{label}: answer to question, median {middle[0]:.0f} ms ({middle[1]:.0f} of the processor), "
            f"95 % {most[0]:.0f} ms ({most[1]:.0f}); on average {times.mean(axis=0)[1] / usual[1]:.2f} "
            "times the shop's own"
        )
    paths = scripts_in([DEMO]) * 4
    for processes in (1, 2):
        start = time.perf_counter()
        replay(paths, ROOT / "rules", processes=processes)
        print(f"{processes} process: {len(paths) / (time.perf_counter() - start):.1f} calls a second")


if __name__ == "__main__":
    main()
