"""Small wrong changes (mutants, by mutmut) of `advisor/inference` and `advisor/knowledge`, held against their tests.

    python tests/benchmarks/mutation.py FOLDER                    every mutant of every file, in about two hours
    python tests/benchmarks/mutation.py FOLDER --at-most 1000     of all files in proportion, drawn by --seed 1
    python tests/benchmarks/mutation.py FOLDER knowledge/sums     of one file
    python tests/benchmarks/mutation.py FOLDER --more             those that weren't tried yet
    python tests/benchmarks/mutation.py FOLDER --again            those that went unnoticed last time
    python tests/benchmarks/mutation.py FOLDER --show             what the unnoticed ones change, and the table

FOLDER takes a copy of the project and `outcome.tsv`. The tests are collected once; each runs by itself first, to see
which lines it touches. A mutant gets a fork of that process and the tests that touch its statement: those that
noticed its neighbours first, then the quick ones that touch lines of its function which few do, until one fails. What
runs while modules are imported has a process of its own. What no test notices in SPENT seconds of CPU time counts as
unnoticed, a test that takes fifteen times as long as it should as noticed. mutmut makes no mutants of decorated
functions, nor of what stands outside functions.
"""

import argparse
import ast
import functools
import gc
import hashlib
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import coverage
import hypothesis
import pytest
from _pytest.runner import runtestprotocol

ROOT = Path(__file__).parent.parent.parent
ROOMS = ("inference", "knowledge")
TESTS = ["test_catalogue.py", "test_durable.py", "test_inference_*.py", "test_knowledge_*.py", "test_review.py",
         "test_slopes.py", "test_at_odds.py", "test_smooth_rules.py"]
# What takes long or starts other processes.
LEFT_OUT = ["thousand", "long_files", "hash_seed", "process", "beyond", "random_rule_bases", "shipped_rules"]
LEFT_OUT += ["trying_every_answer", "test_knowledge_fuzz"]
SPENT = 6
NOTICED = ("failed", "timeout")
OPTIONS = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-profile=mutants", "--hypothesis-seed=0",
           "--assert=plain", "--tb=no"]

AT_WORK: dict[int, tuple[list, dict]] = {}
"""Of each function the version that is at work, None until it runs, and all its mutants."""
FRESH = ["", ""]
"""Module and name of a mutant that is at work from the first import on."""


def trampoline(mutants: dict, is_classmethod: bool = False):
    """In place of mutmut's own, as quick as can be."""

    def around(function):
        at = [None]
        AT_WORK[id(mutants)] = (at, mutants)

        @functools.wraps(function)
        def step(*args, **kwargs):
            if at[0] is None:
                fresh = mutants.get(FRESH[1])
                at[0] = fresh if fresh and fresh.__module__ == FRESH[0] else mutants["_mutmut_orig"]
            if is_classmethod:
                return getattr(args[0], at[0].__name__)(*args[1:], **kwargs)
            return at[0](*args, **kwargs)

        return step

    return around


def activate(mutant: str) -> None:
    """From here on the function of this process is that mutant."""
    module, _, name = mutant.rpartition(".")
    for at, mutants in AT_WORK.values():
        if name in mutants and mutants[name].__module__ == module:
            at[0] = mutants[name]
            return
    raise SystemExit(f"no mutant {mutant}")


def lay_out(folder: Path) -> dict:
    """Copy the project and put the mutants of both rooms into the copy; what is known of each file."""
    from mutmut.mutation.file_mutation import mutate_file_contents

    kept = folder / "mutants.json"
    before = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
    now = {}
    for name in ("advisor", "rules", "transcripts_demo", "tests"):
        shutil.rmtree(folder / name, ignore_errors=True)
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"):
        shutil.copy(ROOT / name, folder)
    os.chdir(folder)
    for path in sorted(path for room in ROOMS for path in (folder / "advisor" / room).glob("*.py")):
        name = path.relative_to(folder / "advisor").with_suffix("").as_posix()
        text = path.read_text("utf-8")
        now[name] = before.get(name, {})
        if now[name].get("text") != text:
            made = mutate_file_contents(str(path), text)
            module = "advisor." + name.replace("/", ".").removesuffix(".__init__")
            names = [f"{module}.{mutant}" for mutant in made.mutant_names]
            now[name] = {"text": text, "code": made.code, "names": names}
        path.write_text(now[name]["code"], "utf-8")
    kept.write_text(json.dumps(now), "utf-8")
    return now


class Changes:
    """What each mutant of a file changes: its lines, and where the original's statement stands."""

    def __init__(self, file: str, code: str) -> None:
        self.file = file
        self.lines = code.splitlines()
        functions = [node for node in ast.walk(ast.parse(code)) if isinstance(node, ast.FunctionDef)]
        self.at = {node.name: node for node in functions if "__mutmut_" in node.name}
        originals = [node for name, node in self.at.items() if name.endswith("__mutmut_orig")]
        self.home = {line: node for node in originals for line in range(node.lineno, node.end_lineno + 1)}
        self.known = {node.name: self._known(node) for node in originals}

    def _known(self, node: ast.FunctionDef) -> str:
        """The name of a function as it is now: another one once its text is changed."""
        text = "\n".join(self.lines[node.lineno - 1 : node.end_lineno])
        return f"{self.file} {node.name} {hashlib.sha256(text.encode()).hexdigest()[:8]}"

    def named(self, lines: range) -> list[str]:
        """The lines by function and line in it, so that they keep their names while other functions change."""
        inside = [line for line in lines if line in self.home]
        return [f"{self.known[self.home[line].name]} {line - self.home[line].lineno}" for line in inside]

    def _text(self, name: str) -> list[str]:
        node = self.at[name]
        return [line.replace(name + "(", "(") for line in self.lines[node.lineno - 1 : node.end_lineno]]

    def differ(self, mutant: str) -> tuple[int, list[str], list[str]]:
        """Line in the function, the lines as they are and as the mutant has them."""
        name = mutant.rpartition(".")[2]
        old, new = self._text(name.partition("__mutmut_")[0] + "__mutmut_orig"), self._text(name)
        first = next((at for at, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
        last = 0
        while last < min(len(old), len(new)) - first and old[-1 - last] == new[-1 - last]:
            last += 1
        return first, old[first : len(old) - last], new[first : len(new) - last]

    def around(self, mutant: str) -> tuple[range, range]:
        """The lines of the original's innermost statement around the change, its head when it has a body; all lines."""
        original = self.at[mutant.rpartition(".")[2].partition("__mutmut_")[0] + "__mutmut_orig"]
        line = original.lineno + self.differ(mutant)[0]
        found = whole = range(original.lineno, original.end_lineno + 1)
        for node in ast.walk(original):
            if node is not original and isinstance(node, ast.stmt | ast.match_case) and line in head(node):
                found = head(node)
        return found, whole


def head(node: ast.AST) -> range:
    if isinstance(node, ast.match_case):
        return range(node.pattern.lineno, node.body[0].lineno)
    inner = getattr(node, "body", None) or getattr(node, "cases", None)
    if isinstance(node, ast.FunctionDef) or not inner:
        return range(node.lineno, node.end_lineno + 1)
    below = inner[0].pattern if isinstance(inner[0], ast.match_case) else inner[0]
    return range(node.lineno, max(node.lineno + 1, below.lineno))


class Run:
    """A plugin of pytest: in place of running the tests, measures them and holds the mutants against them."""

    def __init__(self, folder: Path, known: dict, mutants: list[str], until: float) -> None:
        self.folder, self.known, self.mutants, self.until = folder, known, mutants, until
        self.changes = {file: Changes(file, kept["code"]) for file, kept in known.items()}

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise SystemExit("the tests can't be collected")
        gc.collect()
        self.caches = [kept for kept in gc.get_objects() if isinstance(kept, functools._lru_cache_wrapper)]
        for kept in self.caches:
            kept.cache_clear()
        gc.freeze()
        self.items = {item.nodeid: item for item in session.items}
        self.measure()
        self.hold_all()
        return True

    def apart(self, work, answer: Path) -> int:
        """Do the work in a silent process of its own, what it returns goes to the file; the status it ended with."""
        answer.unlink(missing_ok=True)
        child = os.fork()
        if not child:
            try:
                null = os.open(os.devnull, os.O_RDWR)
                for stream in (0, 1, 2):
                    os.dup2(null, stream)
                resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
                signal.alarm(900)
                answer.write_text(json.dumps(work()), "utf-8")
            finally:
                os._exit(0)
        return os.waitpid(child, 0)[1]

    def passes(self, name: str, after: str | None) -> bool:
        reports = runtestprotocol(self.items[name], log=False, nextitem=self.items[after] if after else None)
        return not any(report.failed for report in reports)

    def alone(self, names: list[str]) -> list[tuple[bool, float, list[str]]]:
        """Of each test whether it passes, its CPU time, and the lines of the rooms that it touches by itself."""
        include = [str(self.folder / "advisor" / room / "*.py") for room in ROOMS]
        cover = coverage.Coverage(data_file=None, include=include, config_file=False)
        found = []
        cover.start()
        for name in names:
            for kept in self.caches:
                kept.cache_clear()
            cover.switch_context(name)
            start = time.process_time()
            found.append((self.passes(name, None), time.process_time() - start))
        cover.stop()
        data = cover.get_data()
        lines: dict[str, list[str]] = defaultdict(list)
        for file in data.measured_files():
            changes = self.changes[Path(file).relative_to(self.folder / "advisor").with_suffix("").as_posix()]
            for line, tests in data.contexts_by_lineno(file).items():
                for name in tests:
                    lines[name].extend(changes.named(range(line, line + 1)))
        return [(passed, took, lines[name]) for name, (passed, took) in zip(names, found, strict=True)]

    def measure(self) -> None:
        """Each test by itself; what was measured stays good, by function and line in it, while its file and all
        functions that it touches are the same."""
        kept, answer = self.folder / "measured.json", self.folder / "answer.json"
        before = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
        now = {name for changes in self.changes.values() for name in changes.known.values()}
        by_file: dict[Path, list[str]] = defaultdict(list)
        for name, item in self.items.items():
            by_file[Path(item.path)].append(name)
        for path, names in by_file.items():
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            fresh = [
                name for name in names
                if before.get(name, ["", False])[:2] != [digest, True]
                or any(line.rpartition(" ")[0] not in now for line in before[name][3])
            ]  # fmt: skip
            if fresh:
                self.apart(lambda fresh=fresh: self.alone(fresh), answer)
                measured = json.loads(answer.read_text("utf-8"))
                before |= {name: [digest, *one] for name, one in zip(fresh, measured, strict=True)}
                kept.write_text(json.dumps(before), "utf-8")
            print(path.name, f"{sum(before[name][2] for name in names):.1f} s of CPU time", flush=True)
        self.took = {name: before[name][2] for name in self.items}
        self.by_line: dict[str, set[str]] = defaultdict(set)
        for name in self.items:
            if not before[name][1]:
                print("fails without any change, left out:", name)
            for line in before[name][3] if before[name][1] else ():
                self.by_line[line].add(name)
        print(f"{len(self.items)} tests, {sum(self.took.values()):.0f} s of CPU time", flush=True)

    def hold_all(self) -> None:
        """Each mutant against its tests, noted in `outcome.tsv`: mutant, outcome, by which test, of how many."""
        home = {name: file for file, kept in self.known.items() for name in kept["names"]}
        early = {(m["_mutmut_orig"].__module__, m["_mutmut_orig"].__name__) for at, m in AT_WORK.values() if at[0]}
        kills: Counter = Counter()
        with (self.folder / "outcome.tsv").open("a", encoding="utf-8") as out:
            for mutant in self.mutants:
                if time.time() > self.until:
                    return
                file = home[mutant]
                statement, whole = (self.changes[file].named(lines) for lines in self.changes[file].around(mutant))
                tests = set().union(*(self.by_line.get(line, ()) for line in statement))
                function, (module, _, name) = mutant.partition("__mutmut_")[0], mutant.rpartition(".")
                turns: Counter = Counter()  # of the parameters of one test first one, after all others the next
                few = {t: min(len(self.by_line[line]) for line in whole if t in self.by_line[line]) for t in tests}
                order = []
                for test in sorted(tests, key=lambda test: (few[test], self.took[test], test)):
                    turns[test.partition("[")[0]] += 1
                    cost = few[test] * turns[test.partition("[")[0]] * (self.took[test] + 0.02)
                    order.append((-kills[function, test], cost / (1 + min(2, kills[file, test])), test))
                order = [test for *_, test in sorted(order)]
                outcome, by = self.hold(mutant, order)
                while outcome == "failed" and not self.sound(by):
                    print("fails without any change:", by)
                    order.remove(by)
                    outcome, by = self.hold(mutant, order)
                late = (module, name.partition("__mutmut_")[0] + "__mutmut_orig") in early
                if outcome == "crashed" or (outcome not in NOTICED and late):
                    wider = set().union(*(self.by_line.get(line, ()) for line in whole))
                    outcome, by = self.hold_fresh(mutant, order or sorted(wider, key=self.took.get)), "by itself"
                kills[function, by] += outcome == "failed"
                kills[file, by] += outcome == "failed"
                out.write(f"{mutant}\t{outcome}\t{by}\t{len(tests)}\n")
                out.flush()

    @functools.cache  # noqa: B019
    def sound(self, test: str) -> bool:
        """Whether a test passes when no mutant is at work."""
        answer = self.folder / "answer.json"
        self.apart(lambda: self.passes(test, None), answer)
        return json.loads(answer.read_text("utf-8"))

    def hold(self, mutant: str, order: list[str]) -> tuple[str, str]:
        def work() -> tuple[str, str]:
            activate(mutant)
            start = time.process_time()
            for name, after in zip(order, [*order[1:], None], strict=True):
                signal.setitimer(signal.ITIMER_VIRTUAL, 3 + 15 * self.took[name])
                if not self.passes(name, after):
                    return "failed", name
                if time.process_time() - start > SPENT:
                    return "unnoticed", "given up"
            return "unnoticed", ""

        if not order:
            return "untouched", ""
        answer = self.folder / "answer.json"
        status = self.apart(work, answer)
        if os.WIFSIGNALED(status):
            return ("timeout" if os.WTERMSIG(status) in (signal.SIGVTALRM, signal.SIGALRM) else "crashed"), ""
        return tuple(json.loads(answer.read_text("utf-8"))) if answer.exists() else ("crashed", "")

    def hold_fresh(self, mutant: str, order: list[str]) -> str:
        """The tests in a process that has the mutant from the first import on: where a fork is too late or breaks."""
        order = order[:400] or sorted(self.items, key=self.took.__getitem__)[:1]
        command = [sys.executable, __file__, str(self.folder), *order, "--fresh"]

        @functools.cache
        def passes(at_work: str) -> bool:
            return not subprocess.run([*command, at_work], cwd=self.folder, capture_output=True, timeout=900).returncode

        if not passes(mutant) and not passes("no.mutant"):
            raise SystemExit(f"in a process of their own these fail without any change: {order}")
        return "unnoticed" if passes(mutant) else "failed"


def outcomes(folder: Path) -> dict[str, list[str]]:
    path = folder / "outcome.tsv"
    rows = [line.split("\t") for line in path.read_text("utf-8").splitlines()] if path.exists() else []
    return {row[0]: row[1:] for row in rows}


def table(known: dict, found: dict[str, list[str]]) -> None:
    whole: dict[str, Counter] = defaultdict(Counter)
    for file, kept in known.items():
        tried = [found[name][0] for name in kept["names"] if name in found]
        for part in (file, file.partition("/")[0] + ", all", "all"):
            whole[part].update(mutants=len(kept["names"]), tried=len(tried), noticed=sum(o in NOTICED for o in tried))
    for part, count in sorted(whole.items()):
        if count["tried"]:
            share = 100 * count["noticed"] / count["tried"]
            tried = f"{count['mutants']:6} mutants{count['tried']:6} tried"
            print(f"{part:30}{tried}{count['noticed']:6} noticed{share:6.1f} %")


def show(known: dict, found: dict[str, list[str]], files: list[str]) -> None:
    for file, kept in known.items():
        changes = Changes(file, kept["code"])
        for name in kept["names"]:
            if (files and file not in files) or name not in found or found[name][0] in NOTICED:
                continue
            _, old, new = changes.differ(name)
            print(file, name.rpartition(".")[2], *found[name])
            for sign, lines in (("-", old), ("+", new)):
                for line in lines:
                    print(f"    {sign} {line.strip()}")


def prepare(folder: Path) -> None:
    """What holds for this process and those it forks, before anything of the project is imported."""
    os.chdir(folder)
    sys.path[:0] = [str(folder), str(folder / "tests")]
    import mutmut.mutation.trampoline

    mutmut.mutation.trampoline.wrap_in_trampoline = trampoline
    phases, checks = [hypothesis.Phase.explicit, hypothesis.Phase.generate], list(hypothesis.HealthCheck)
    hypothesis.settings.register_profile(
        "mutants", database=None, deadline=None, phases=phases, suppress_health_check=checks
    )
    hypothesis.settings.load_profile("mutants")


def proportional(known: dict, seed: int) -> list[str]:
    """All mutants in an order of which every beginning has its share of each file."""
    ranked = []
    for file, kept in known.items():
        names = random.Random(f"{seed} {file}").sample(kept["names"], len(kept["names"]))
        ranked += [((at + 0.5) / len(names), name) for at, name in enumerate(names)]
    return [name for _, name in sorted(ranked)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("files", nargs="*", metavar="FILE")
    parser.add_argument("--at-most", type=int)
    parser.add_argument("--minutes", type=float, default=1e9)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="+", default=TESTS)
    for name in ("--again", "--show", "--more"):
        parser.add_argument(name, action="store_true")
    parser.add_argument("--fresh", help=argparse.SUPPRESS)
    wish = parser.parse_args()
    folder = wish.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    if wish.fresh:
        FRESH[:] = wish.fresh.rpartition(".")[::2]
        prepare(folder)
        return int(pytest.main([*OPTIONS, "-x", *wish.files]))
    until = time.time() + 60 * wish.minutes
    known = json.loads((folder / "mutants.json").read_text("utf-8")) if wish.show else lay_out(folder)
    found = outcomes(folder)
    if wish.show:
        show(known, found, wish.files)
        table(known, found)
        return 0
    mutants = proportional({file: known[file] for file in wish.files or known}, wish.seed)[: wish.at_most]
    if wish.again:
        mutants = [name for name in mutants if name in found and found[name][0] not in NOTICED]
    elif wish.more:
        mutants = [name for name in mutants if name not in found]
    elif (folder / "outcome.tsv").exists():
        (folder / "outcome.tsv").unlink()
    prepare(folder)
    tests = sorted(str(path) for name in wish.tests for path in (folder / "tests").glob(name))
    chosen = " and ".join(f"not {name}" for name in LEFT_OUT)
    pytest.main([*OPTIONS, "-k", chosen, *tests], plugins=[Run(folder, known, mutants, until)])
    table(known, outcomes(folder))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
