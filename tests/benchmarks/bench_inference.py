"""How fast conditions are judged and rules fire, as ratios; and the engines against each other at length.

By hand: `PYTHONPATH=.:tests python tests/benchmarks/bench_inference.py [--bases 100000] [--first 0]`.
"""

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Callable

import numpy as np
from inference_cases import (
    BUILT,
    SAID,
    Layered,
    compare,
    disagreement,
    outcome,
    random_case,
    random_joins,
    rule,
    some,
)

from advisor.inference.engines import ReferenceAgenda, agenda
from advisor.inference.facts import Fact, FactBase
from advisor.inference.stage import run_stage
from advisor.inference.verdict import judge
from advisor.quantities import Range


def median(work: Callable[[], object], times: int = 15) -> float:
    """Median seconds of a piece of work, once run beforehand."""
    work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return sorted(taken)[times // 2]


def shop(rules: int, names: list[str]) -> Layered:
    chance = random.Random(rules)

    def leaf():
        return compare(chance.choice(names), chance.choice("<>"), float(chance.randint(0, 9)))

    return Layered((tuple(rule(f"rule {at}", leaf(), leaf(), some(leaf(), leaf())) for at in range(rules)),))


def facts_of(candidates: int, shared: list[str], varying: list[str]) -> FactBase:
    numbers = np.random.default_rng(7)
    base = FactBase().with_facts(
        Fact(name, Range(float(low), float(low + 1)), SAID)
        for name, low in zip(shared, numbers.integers(0, 9, len(shared)), strict=True)
    )
    return base.with_columns({name: numbers.normal(5, 3, candidates) for name in varying}, BUILT)


def speed() -> None:
    shared, varying = [f"n{at}" for at in range(60)], [f"n of candidate {at}" for at in range(20)]
    plain = FactBase(facts_of(1, shared, []).facts)
    print("median milliseconds: verdicts alone; the stage with each engine, durable also without its memory")
    for rules in (80, 300, 800):
        timed(f"{rules} rules on shared facts", shop(rules, shared), plain)
    for rules, candidates in ((40, 400), (40, 4_000), (80, 400), (80, 4_000), (400, 400)):
        facts = facts_of(candidates, shared, varying)
        timed(f"{rules} rules on {candidates} candidates", shop(rules, varying + shared[:10]), facts)


def timed(what: str, layers: Layered, facts: FactBase) -> None:
    conditions = [one.when for one in layers.rows[0]]
    reference, other = ReferenceAgenda(), agenda("auto")
    taken = {
        "verdicts": median(lambda: [judge(one, facts) for one in conditions]),
        "reference": median(lambda: run_stage("judge", layers, facts, reference)),
        other.name: median(lambda: run_stage("judge", layers, facts, other)),
    }
    if other.name == "durable":
        from advisor.inference.durable import _fired

        def afresh() -> None:
            _fired.cache_clear()
            run_stage("judge", layers, facts, other)

        taken["durable afresh"] = median(afresh, 5)
    base = taken["reference"]
    shown = "; ".join(f"{name} {1e3 * value:.2f} ({value / base:.1f}x)" for name, value in taken.items())
    print(f"{what}: {shown}", flush=True)


def compare_engines(first: int, count: int) -> int:
    """Random rule bases through every engine and the naive oracle, and random joins; how many differ."""
    reference, other = ReferenceAgenda(), agenda("auto")
    seen: Counter[str] = Counter()
    for seed in range(first, first + count):
        if seed > first and (seed - first) % 5_000 == 0:
            print(f"{seed - first} rule bases: {seen['different']} differ", flush=True)
        case = random_case(random.Random(seed))
        one = run_stage("judge", Layered(case.layers), case.facts, reference)
        two = run_stage("judge", Layered(case.layers), case.facts, other)
        joins, holding = random_joins(random.Random(seed))
        seen["rules"] += sum(map(len, case.layers)) + len(joins.rules)
        seen["firings"] += len(one.firings)
        seen["conflicts"] += len(one.conflicts)
        wrong = disagreement(case, one)
        if (
            wrong
            or outcome(one) != outcome(two)
            or reference.fire(joins, holding) != other.fire(joins, holding)
        ):
            seen["different"] += 1
            print(f"seed {seed}: {wrong or 'the engines differ'}", flush=True)
    print(
        f"{count} rule bases from seed {first}, {reference.name} against {other.name}: {dict(seen)}, "
        f"{seen['different']} different"
    )
    return seen["different"]


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--bases", type=int, default=2_000, help="how many random rule bases to compare")
    options.add_argument("--first", type=int, default=0, help="the first seed")
    chosen = options.parse_args()
    speed()
    sys.exit(1 if compare_engines(chosen.first, chosen.bases) else 0)
