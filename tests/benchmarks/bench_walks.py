"""Two thousand wandering calls, and two hundred killed writers; run by hand:
python tests/benchmarks/bench_walks.py [WALKS [KILLS [PROCESSES [FIRST]]]]

Each walk answers, changes, steps back, leaves out, is closed and resumed; at its end a fresh run on its final answers,
in another order, and the replay of the saved call must say the same, and no recommendation may break a hard limit.
A walk that breaks is told as soon as it does: what was run of them counts when the rest is broken off, and FIRST goes
on from there.
"""

import sys
import tempfile
import time
import traceback
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import thinned
from test_journal import killed
from walks import walked

THINNED, STEPS = 20, 14


def one(seed: int) -> tuple[int, Counter[str], str]:
    try:
        return seed, walked(seed, thinned(THINNED), STEPS), ""
    except Exception:
        return seed, Counter(), traceback.format_exc()


def main() -> None:
    walks, kills, processes, first = (
        int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 2_000), (2, 200), (3, 2), (4, 0))
    )
    start = time.perf_counter()
    with ProcessPoolExecutor(processes) as pool:
        found: list[tuple[int, Counter[str], str]] = []
        broken: list[int] = []
        for walk in pool.map(one, range(first, first + walks), chunksize=5):
            found.append(walk)
            seed, _, words = walk
            if words:
                broken.append(seed)
                print(f"seed {seed}:\n{words}", flush=True)
            if len(found) % 100 == 0:
                told = f"{len(found)} walks, {len(broken)} broken, {time.perf_counter() - start:.0f} s"
                print(told, file=sys.stderr, flush=True)
    seen = sum((counts for _, counts, _ in found), Counter())
    print(f"{walks} walks, {len(broken)} broken, {time.perf_counter() - start:.0f} s; in all of them:")
    print(", ".join(f"{what} {count}" for what, count in seen.most_common()))
    with tempfile.TemporaryDirectory() as folder:
        print(f"{kills} times kill -9: {killed(Path(folder), kills)} answers on disk, none lost")


if __name__ == "__main__":
    main()
