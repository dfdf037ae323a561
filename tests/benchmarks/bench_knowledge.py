"""What loading and checking cost as rules grow; run by hand: python tests/benchmarks/bench_knowledge.py

Processor time without what was parsed before, best of three, beside a fixed task (reading the same text by PyYAML).
"""

import shutil
import sys
import tempfile
import time
from pathlib import Path

import yaml

sys.path.insert(0, str(Path(__file__).parent.parent))

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
        before = f"risk {number - 1} is low" if number % 4 else "tune is hot"
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


if __name__ == "__main__":
    main()
