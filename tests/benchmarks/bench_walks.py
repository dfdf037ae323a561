"""Two thousand wandering calls, and two hundred killed writers; run by hand:
python tests/benchmarks/bench_walks.py [WALKS [KILLS [PROCESSES]]]

Each walk answers, changes, steps back, leaves out, is closed and resumed; at its end a fresh run on its final answers,
in another order, and the replay of the saved call must say the same, and no recommendation may break a hard limit.
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
    walks, kills, processes = (
        int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 2_000), (2, 200), (3, 2))
    )
    start = time.perf_counter()
    with ProcessPoolExecutor(processes) as pool:
        found = []
        for walk in pool.map(one, range(walks), chunksize=20):
            found.append(walk)
            if len(found) % 100 == 0:
                print(f"{len(found)} walks, {time.perf_counter() - start:.0f} s", file=sys.stderr, flush=True)
    broken = [(seed, words) for seed, _, words in found if words]
    seen = sum((counts for _, counts, _ in found), Counter())
    print(f"{walks} walks, {len(broken)} broken, {time.perf_counter() - start:.0f} s; in all of them:")
    print(", ".join(f"{what} {count}" for what, count in seen.most_common()))
    for seed, words in broken[:5]:
        print(f"seed {seed}:\n{words}")
    with tempfile.TemporaryDirectory() as folder:
        print(f"{kills} times kill -9: {killed(Path(folder), kills)} answers on disk, none lost")


if __name__ == "__main__":
    main()
