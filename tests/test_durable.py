"""Every agenda fires the same: the reference, and durable-rules where it runs (Python 3.12 and earlier).

Random joins and random rule bases, with the engine's known limits among them.
`tests/benchmarks/bench_inference.py` runs the same comparison on any number of rule bases.
"""

import multiprocessing
import pickle
import random
import subprocess
import sys
import threading
from collections import OrderedDict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from inference_cases import Layered, outcome, random_case, random_joins

from advisor.inference.agenda import Firing, FiringError, Joins, Judged
from advisor.inference.engines import ReferenceAgenda, agenda
from advisor.inference.facts import Fact, Origin
from advisor.inference.stage import run_stage
from advisor.knowledge.places import Place

HAS_DURABLE = sys.version_info < (3, 13)
ENGINES = ["reference", "durable"] if HAS_DURABLE else ["reference"]
every_engine = pytest.mark.parametrize("engine", ENGINES)


def naive(joins, holding):
    held = set(holding)
    return tuple(number for number, needs in enumerate(joins.rules) if held >= set(needs))


def test_the_engine_is_there_where_it_can_be():
    chosen = agenda("auto")
    if HAS_DURABLE:
        assert chosen.describe() == "durable-rules 2.0.28"
    else:
        assert chosen.describe() == "reference evaluation (built in)"
        with pytest.raises(FiringError, match=r"install advisor\[fire\]"):
            agenda("durable")


@every_engine
def test_random_joins(engine):
    fires = agenda(engine).fire
    for seed in range(2_000):
        joins, holding = random_joins(random.Random(seed))
        assert fires(joins, holding) == naive(joins, holding), f"seed {seed}"


@every_engine
def test_random_rule_bases_byte_for_byte(engine):
    fires = agenda(engine)
    for seed in range(500):
        case = random_case(random.Random(seed))
        one = outcome(run_stage("judge", Layered(case.layers), case.facts, ReferenceAgenda()))
        other = outcome(run_stage("judge", Layered(case.layers), case.facts, fires))
        assert one.encode() == other.encode(), f"seed {seed}"


@every_engine
@pytest.mark.parametrize(
    "rules",
    [
        pytest.param([()], id="no condition"),
        pytest.param([(), (1,), ()], id="some without condition"),
        pytest.param([(5, 5, 5)], id="one condition repeated"),
        pytest.param([(7, number) for number in range(8, 708)], id="700 rules share a condition"),
        pytest.param([(3,)] * 600, id="600 rules are one condition"),
        pytest.param([()] * 600, id="600 rules without condition"),
        pytest.param([(number,) for number in range(9_001)], id="9,001 rules"),
        pytest.param([tuple(range(k, k + 16)) for k in range(40)], id="16 conditions"),
        pytest.param([tuple(range(60)), tuple(range(1, 60)), tuple(range(20, 80))], id="60 conditions"),
        pytest.param([(10**9,), (10**12, 0)], id="large numbers"),
    ],
)
def test_beyond_the_limits_of_the_engine(engine, rules):
    fires = agenda(engine).fire
    joins = Joins(rules)
    conditions = sorted({condition for needs in rules for condition in needs})
    chance = random.Random(1)
    for share in (0.0, 0.5, 0.95, 1.0):
        holding = [condition for condition in conditions if chance.random() < share]
        assert fires(joins, holding) == naive(joins, holding)
    for spared in conditions[:3]:
        holding = [condition for condition in conditions if condition != spared]
        assert fires(joins, holding) == naive(joins, holding)


@every_engine
def test_conditions_that_no_rule_reads_and_order_do_not_matter(engine):
    fires = agenda(engine).fire
    joins = Joins([(4, 2), (9,)])
    assert fires(joins, [99, 2, 4, 2, 4]) == (0,)
    assert fires(joins, iter([4, 99, 2])) == (0,)
    assert fires(joins, []) == ()
    assert fires(Joins([]), [1]) == ()


@every_engine
def test_many_rule_bases_one_after_the_other(engine):
    """More than are kept compiled, each fired again after it was dropped."""
    fires = agenda(engine).fire
    bases = [Joins([(number, number + 1), (number,)]) for number in range(300)]
    for extra in (1_000, 2_000):
        for number, joins in enumerate(bases):
            assert fires(joins, [number, extra]) == (1,)


@every_engine
def test_threads(engine):
    fires = agenda(engine).fire
    wrong = []

    def work(first):
        for seed in range(first, first + 60):
            joins, holding = random_joins(random.Random(seed))
            if fires(joins, holding) != naive(joins, holding):
                wrong.append(seed)

    threads = [threading.Thread(target=work, args=(50_000 + 40 * number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def fires_right(engine, seed):
    """Whether a pickled engine fires rightly in the process that runs this."""
    joins, holding = random_joins(random.Random(seed))
    return engine.fire(joins, holding) == naive(joins, holding)


@every_engine
@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_worker_processes(engine, start):
    if start not in multiprocessing.get_all_start_methods():
        start = "spawn"  # the only way on some platforms
    chosen = agenda(engine)
    assert fires_right(chosen, 0)
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(start)) as pool:
        assert all(pool.map(fires_right, [chosen] * 20, range(60_000, 60_020)))
    assert pickle.loads(pickle.dumps(chosen)).describe() == chosen.describe()


@every_engine
def test_nothing_is_printed(engine, capfd):
    fires = agenda(engine).fire
    for seed in range(70_000, 70_050):
        fires(*random_joins(random.Random(seed)))
    assert capfd.readouterr() == ("", "")


def test_without_the_engine_the_reference_fires(monkeypatch):
    monkeypatch.setitem(sys.modules, "advisor.inference.durable", None)
    monkeypatch.delattr("advisor.inference.durable", raising=False)
    assert isinstance(agenda("auto"), ReferenceAgenda)
    with pytest.raises(FiringError) as refused:
        agenda("durable")
    assert str(refused.value) == (
        "durable-rules is not installed here (it needs a C compiler and Python 3.12 or earlier); "
        "install advisor[fire] or leave the choice of engine to the advisor"
    )


BROKEN = """
import sys
from advisor.inference import durable
from advisor.inference.agenda import FiringError, Joins
from durable.engine import Ruleset
{harm}
try:
    print("fired", durable.DurableAgenda().fire(Joins([(1,), (2,)]), [1, 2]))
except FiringError as error:
    print("refused:", error)
except KeyboardInterrupt:
    print("interrupted")
"""
HARM = {
    "the engine refuses a fact": (
        "def refuse(self, fact): raise Exception('error code 9')\nRuleset.assert_fact = refuse",
        "refused: durable-rules failed (Exception: error code 9)",
    ),
    "an action goes wrong": (
        "class Full(list):\n    def append(self, item): raise MemoryError('full')\n"
        "made = durable._Set.__init__\n"
        "def full(self, rules):\n    made(self, rules)\n    self._noted = Full()\n"
        "durable._Set.__init__ = full",
        "refused: durable-rules failed (MemoryError: full)",
    ),
    "Ctrl-C in an action": (
        "class Full(list):\n    def append(self, item): raise KeyboardInterrupt\n"
        "made = durable._Set.__init__\n"
        "def full(self, rules):\n    made(self, rules)\n    self._noted = Full()\n"
        "durable._Set.__init__ = full",
        "interrupted",
    ),
    "the engine drops an action": (
        "from durable.engine import Closure\nClosure._has_completed = lambda self: True",
        "refused: durable-rules failed (RuntimeError: the session did not run to its end)",
    ),
    "the engine fires nothing": (
        "Ruleset.do_actions = lambda self, handle, complete: complete(None, None)",
        "refused: durable-rules failed (RuntimeError: a rule fired twice, or the sentinel did not fire once)",
    ),
}


if HAS_DURABLE:

    @pytest.mark.parametrize("harm", HARM)
    def test_a_failing_engine_is_never_silently_wrong(harm):
        """In a process of its own: the engine's state is not to be trusted afterwards."""
        change, expected = HARM[harm]
        program = [sys.executable, "-c", BROKEN.format(harm=change)]
        done = subprocess.run(program, capture_output=True, text=True, timeout=60, check=False)
        assert done.stdout.startswith(expected)
        assert (done.stdout.count("\n"), done.stderr, done.returncode) == (1, "", 0)


    class Engine:
        """In the place of the engine: takes in every fact and fires nothing."""

        def __init__(self, *_):
            pass

        def assert_fact(self, _fact):
            return 0

        def do_actions(self, _handle, complete):
            complete(None, None)

    def test_what_the_engine_fires_wrongly_is_told_with_the_way_on(monkeypatch):
        monkeypatch.setattr("advisor.inference.durable.Ruleset", Engine)
        monkeypatch.setattr("advisor.inference.durable._sets", OrderedDict())
        with pytest.raises(FiringError) as refused:
            agenda("durable").fire(Joins([(31, 41), (59,)]), [26])
        assert str(refused.value) == (
            "durable-rules failed (RuntimeError: a rule fired twice, or the sentinel did not fire once), "
            "so nothing is concluded; choose the reference engine, which gives the same results"
        )


def test_the_reference_is_had_by_name():
    assert isinstance(agenda("reference"), ReferenceAgenda)
    assert agenda("reference").describe() == "reference evaluation (built in)"


def test_joins_are_told_apart_by_what_they_join():
    assert Joins([(1, 2), (3,)]) == Joins([(2, 1, 1), (3,)])
    assert hash(Joins([(1, 2)])) == hash(Joins([(2, 1)]))
    assert Joins([(1, 2)]) != Joins([(1,)])
    assert Joins([(1, 2)]) != ((1, 2),)


def test_firings_are_told_apart_by_all_that_they_rest_on():
    place, other = Place("a.yaml", 1, 1), Place("a.yaml", 2, 1)
    leaf = Judged("tune is hot", place, np.array(1, np.int8))
    assert leaf == Judged("tune is hot", place, np.array(1, np.int8))
    assert hash(leaf) == hash(Judged("tune is hot", place, np.array(0, np.int8)))
    differing = (leaf, Judged("b", place, leaf.verdict), Judged("tune is hot", other, leaf.verdict))
    assert len({hash(one) for one in differing}) == 3
    for unlike in (
        Judged("tune is stock", place, leaf.verdict),
        Judged("tune is hot", other, leaf.verdict),
        Judged("tune is hot", place, np.array(0, np.int8)),
        "tune is hot",
    ):
        assert leaf != unlike
    fact = Fact("tune", "hot", Origin("answer", "hot"))
    mask = np.array([True, False])
    firing = Firing("r", place, (leaf,), (fact,), ("gate",), ("boost",), mask)
    assert firing == Firing("r", place, (leaf,), (fact,), ("gate",), ("boost",), mask.copy())
    assert hash(firing) == hash(Firing("r", place, (), ()))
    assert hash(firing) != hash(Firing("s", place, (), ()))
    for change in (
        {"rule": "s"},
        {"place": other},
        {"leaves": ()},
        {"facts": ()},
        {"columns": ()},
        {"unknown": ()},
        {"mask": None},
        {"mask": np.array([True, True])},
    ):
        assert firing != replace(firing, **change), change
    assert replace(firing, mask=None) == replace(firing, mask=None)
    assert firing != "r"
