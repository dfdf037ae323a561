"""Two thousand wandering calls, and two hundred killed writers; run by hand:
python tests/benchmarks/bench_walks.py [WALKS [KILLS]]

Each walk answers, changes, steps back, leaves out, is closed and resumed; at its end a fresh run on its final answers,
in another order, and the replay of the saved call must say the same, and no recommendation may break a hard limit.
"""

import sys
import tempfile
import time
import traceback
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import thinned
from test_journal import killed
from walks import walked

THINNED, STEPS = 20, 14


def one(seed: int) -> tuple[int, int, str]:
    try:
        return seed, walked(seed, thinned(THINNED), STEPS), ""
    except Exception:
        return seed, 0, traceback.format_exc()


def main() -> None:
    walks = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    kills = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    start = time.perf_counter()
    with ProcessPoolExecutor(2) as pool:
        found = list(pool.map(one, range(walks), chunksize=20))
    broken = [(seed, words) for seed, _, words in found if words]
    answers = sum(count for _, count, _ in found)
    print(f"{walks} walks, {answers} answers kept, {len(broken)} broken, {time.perf_counter() - start:.0f} s")
    for seed, words in broken[:5]:
        print(f"seed {seed}:\n{words}")
    with tempfile.TemporaryDirectory() as folder:
        print(f"{kills} times kill -9: {killed(Path(folder), kills)} answers on disk, none lost")


if __name__ == "__main__":
    main()
