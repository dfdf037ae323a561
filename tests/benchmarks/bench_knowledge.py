"""What loading and checking cost as rules grow; run by hand: python tests/benchmarks/bench_knowledge.py

Processor time without what was parsed before, best of three, beside a fixed task (reading the same text by PyYAML).
With `--fuzz 100000 [--first 0]`: so many random edits of a small folder, one a seed, each answered with placed faults
or sound knowledge; says how long the slowest check took.
"""

import argparse
import random
import shutil
import sys
import tempfile
import time
from pathlib import Path

import yaml

sys.path.insert(0, str(Path(__file__).parent.parent))

from test_knowledge_fuzz import FILES, SPICES, edited, examine
from test_knowledge_load import BASE, many_rules

from advisor.desk.review import review
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
    for count in (100, 300, 1_000, 2_000):
        with tempfile.TemporaryDirectory() as name:
            folder = many_rules(Path(name) / "shop", count)
            text = (folder / "extra.yaml").read_text("utf-8")
            plain = shortest(lambda text=text: yaml.load(text, yaml.CBaseLoader))
            loading = shortest(lambda folder=folder: load(folder))
            checking = shortest(lambda folder=folder: check(folder))
            reviewing = shortest(lambda folder=folder: review(folder))
            print(
                f"{count:5d} rules: load {loading:.2f} s, check {checking:.2f} s, review {reviewing:.2f} s, "
                f"{reviewing / plain:.1f} times reading the text"
            )
    for count in (100, 300, 1_000):
        with tempfile.TemporaryDirectory() as name:
            folder = setting_rules(Path(name) / "shop", count)
            reviewing = shortest(lambda folder=folder: review(folder))
            print(f"{count:5d} rules that set facts: review {reviewing:.2f} s")


def setting_rules(folder: Path, count: int) -> Path:
    """The small folder with `count` rules, five to a fact, that set facts which others read."""
    shutil.copytree(BASE, folder)
    facts, rules = [], ["rules:\n"]
    for number in range(count // 5):
        facts.append(
            f"  - {{fact: risk {number}, topic: x, source: rule, kind: choice, choices: "
            f"[{{choice: low}}, {{choice: raised}}, {{choice: high}}]}}\n"
        )
        before = f"risk {number - 1} is high" if number % 4 else "tune is hot"
        for index, (when, then) in enumerate(
            (
                (f"present boost < {20 + number % 50} psi", f"set: {{risk {number}: low}}"),
                (f"present boost is between {20 + number % 50} and 80 psi", f"set: {{risk {number}: raised}}"),
                (f"present boost > 80 psi, {before}", f"set: {{risk {number}: high}}"),
                (f"risk {number} is high, duties include towing", "ask: [tune]"),
                (f"risk {number} is raised, power goal > {300 + number} hp", "ask: [altitude]"),
            )
        ):
            rules.append(
                f"  - rule: extra-{number}-{index}\n    stage: understand\n    when: [{when}]\n"
                f'    then: {{{then}, say: "Rule {number}, {index}."}}\n'
                f"    because: Reason {number}.\n    basis: a test\n"
            )
    (folder / "extra.yaml").write_text("".join(rules), "utf-8")
    with (folder / "facts.yaml").open("a", encoding="utf-8") as file:
        file.writelines(facts)
    return folder


def fuzz(first: int, count: int) -> None:
    """Every seed is one folder: a file of the small folder with one to six edits, or with noise among its bytes."""
    taken = []
    for seed in range(first, first + count):
        chance = random.Random(seed)
        name = chance.choice(sorted(FILES))
        files = {file: text.encode() for file, text in FILES.items()}
        if seed % 5:
            kinds = ("insert", "delete", "replace", "repeat", "indent")
            edits = [
                (chance.choice(kinds), chance.random(), chance.randint(1, 30), chance.choice(SPICES))
                for _ in range(chance.randint(1, 6))
            ]
            files[name] = edited(FILES[name], edits).encode("utf-8", "surrogatepass")
        else:
            at = chance.randrange(len(files[name]))
            files[name] = files[name][:at] + chance.randbytes(chance.randint(1, 200)) + files[name][at:]
        started = time.process_time()
        try:
            examine(files)
        except BaseException:
            print(f"seed {seed} fails", flush=True)
            raise
        taken.append((time.process_time() - started, seed))
        if len(taken) % 10_000 == 0:
            print(f"{len(taken):,} so far, slowest {max(taken)[0]:.3f} s", flush=True)
    taken.sort()
    middle, (slowest, seed) = taken[len(taken) // 2][0], taken[-1]
    print(f"{count:,} files from seed {first}: median {middle:.4f} s, slowest {slowest:.3f} s (seed {seed})")


if __name__ == "__main__":
    options = argparse.ArgumentParser()
    options.add_argument("--fuzz", type=int, default=0)
    options.add_argument("--first", type=int, default=0)
    chosen = options.parse_args()
    if chosen.fuzz:
        fuzz(chosen.first, chosen.fuzz)
    else:
        main()
