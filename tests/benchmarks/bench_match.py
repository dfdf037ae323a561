"""How fast the match is: one vectorised call against the same equations one candidate at a time.

By hand: `PYTHONPATH=.:tests python tests/benchmarks/bench_match.py [--million]`; the latter also matches a million
random points and counts NaN, points not converged and memory.

The one-at-a-time route calls the very same equations (`shaft.attempt`) on one point and lets scipy's brentq find the
zero of the surplus to the same residual, after the same upward search for a bracket; a gate that holds is solved by
brentq on its area. It runs on a sample of the candidates, whose pressure ratios must agree. Times are processor times.
"""

import argparse
import resource
import time

import numpy as np
from matching_cases import HP, RPM, SIX, Bench, bench, duty, random_bench, table_for
from scipy.optimize import brentq

from advisor.matching.balance import TOLERANCE, lay_out
from advisor.matching.inputs import machines
from advisor.matching.search import _LADDER
from advisor.matching.shaft import Case, attempt

SAMPLE = 12


def shop(count: int) -> Bench:
    """Candidates of plausible sizes for a 6.7 litre six, 12 engine speeds."""
    random = np.random.default_rng(1)
    inducer = np.linspace(0.048, 0.090, 40)
    exducer = inducer / 0.72
    wheel = random.integers(0, 40, count)
    turbine = exducer[wheel] * random.uniform(0.80, 0.95, count)
    made = machines(
        {
            "wheel": wheel,
            "compressor_exducer": exducer[wheel],
            "turbine_inducer": turbine,
            "turbine_exducer": turbine * 0.87,
            "housing_ratio": random.uniform(0.7, 1.3, count),
            "gate_bore": np.where(random.random(count) < 0.6, random.uniform(0.02, 0.045, count), 0.0),
        }
    )
    on = bench(
        made=(made, table_for(inducer, exducer)), duties=(duty(500.0 * HP, 3000.0, high=3200.0 * RPM),), engine=SIX
    )
    return Bench(on.engine, on.place, on.plumbing, on.points.only(on.points.of("strip")), made, on.tables)


def one_at_a_time(case: Case, at: int) -> float:
    """Pressure ratio of one point by brentq over the same equations."""
    point = case.pick(np.array([at]))
    gate, target = float(np.asarray(point.gate).item()), float(np.asarray(point.points.boost_target).item())

    def surplus(y: float, opened: float) -> tuple[float, float]:
        trial = attempt(point, np.array([y]), np.array([0.72]), None, opened)
        while float(trial.air.off[0]) > TOLERANCE:
            trial = attempt(point, np.array([y]), trial.air.efficiency, None, opened)
        return float(trial.surplus[0]), float(trial.air.charge.boost[0])

    def lowest(low: float, high: float, opened: float) -> float:
        last = low
        for rung in (*_LADDER, np.inf):
            y = min(low + rung, high)
            if surplus(y, opened)[0] < 0.0:
                return float(brentq(lambda x: surplus(x, opened)[0], max(last, 1e-6), y, xtol=1e-10, rtol=1e-10))
            if y == high:
                break
            last = y
        return high

    end = 4.1
    if gate > 0.0:
        end = float(brentq(lambda y: surplus(y, 0.0)[1] - target, 1e-6, 3.0, xtol=1e-10, rtol=1e-10))
    y = lowest(0.0, end, 0.0)
    if gate > 0.0 and y == end:
        if surplus(y, gate)[0] > 0.0:
            return float(np.exp(lowest(y, 4.1, gate)))
        brentq(lambda opened: surplus(y, opened)[0], 0.0, gate, xtol=1e-12, rtol=1e-10)
    return float(np.exp(y))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--million", action="store_true")
    options = parser.parse_args()
    for count in (500, 1000, 2000, 4000):
        on = shop(count)
        spent = []
        for _ in range(5):
            start = time.process_time()
            found = on.match()
            spent.append(time.process_time() - start)
        each = min(spent) / count * 1e6
        print(f"{count:5d} candidates x 12: {each:6.1f} us a candidate, not converged {(~found.converged).sum()}")
        if count == 2000:
            vectorised, pressure_ratio = each, found.pressure_ratio
            case = lay_out(on.engine, on.place, on.plumbing, on.points, on.machines, on.tables, on.model)[1]
    chosen = np.linspace(0, 1999, SAMPLE).astype(int)
    start = time.process_time()
    alone = np.array([[one_at_a_time(case, int(i) * 12 + k) for k in range(12)] for i in chosen])
    each = (time.process_time() - start) / SAMPLE * 1e6
    worst = np.abs(alone / pressure_ratio[chosen] - 1.0).max()
    print(f"one at a time:        {each:9.0f} us a candidate ({SAMPLE} of them), pressure ratios agree to {worst:.1e}")
    print(f"faster by             {each / vectorised:9.0f} times")
    if options.million:
        on = random_bench(1, engines=50, candidates=1000, speeds=20)
        start = time.process_time()
        found = on.match()
        spent = time.process_time() - start
        bad = sum(int((~np.isfinite(np.asarray(v))).sum()) for v in (found.power, found.boost, found.drive_pressure))
        print(
            f"{found.power.size} random points: {spent:.1f} s, NaN {bad}, not converged {(~found.converged).sum()}, "
            f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB"
        )


if __name__ == "__main__":
    main()
