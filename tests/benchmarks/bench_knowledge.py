"""What loading and checking cost as rules grow; run by hand: python tests/benchmarks/bench_knowledge.py

Processor time without what was parsed before, best of three, beside a fixed task (reading the same text by PyYAML).
"""

import sys
import tempfile
import time
from pathlib import Path

import yaml

sys.path.insert(0, str(Path(__file__).parent.parent))

from test_knowledge_load import many_rules

from advisor.knowledge import check, load
from advisor.knowledge.grammar import parse_condition, parse_sum


def shortest(work):
    """Seconds of processor time, the best of three runs."""
    times = []
    for _ in range(3):
        parse_condition.cache_clear()
        parse_sum.cache_clear()
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    for count in (100, 300, 1_000, 3_000):
        with tempfile.TemporaryDirectory() as name:
            folder = many_rules(Path(name) / "shop", count)
            text = (folder / "extra.yaml").read_text("utf-8")
            plain = shortest(lambda text=text: yaml.load(text, yaml.CBaseLoader))
            loading = shortest(lambda folder=folder: load(folder))
            checking = shortest(lambda folder=folder: check(folder))
            print(
                f"{count:5d} rules: load {loading:.2f} s, check {checking:.2f} s, "
                f"{checking / plain:.1f} times reading the text"
            )


if __name__ == "__main__":
    main()
