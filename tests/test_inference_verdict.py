"""Three-valued verdicts: Kleene's tables, interval arithmetic, and soundness of verdicts on ranges."""

import itertools
import operator
import random
import warnings
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from inference_cases import (
    BUILT,
    HERE,
    SAID,
    compare,
    every,
    known,
    none,
    number,
    oracle_verdict,
    random_condition,
    random_expr,
    random_value,
    ref,
    some,
)

from advisor.inference.facts import Fact, FactBase
from advisor.inference.verdict import evaluate, judge
from advisor.knowledge.conditions import Between, Binary, Compare, Flag, Includes, Is, Known, Number, walk
from advisor.quantities import Range

TRUE, FALSE, OPEN = 1, 0, -1
LEAF = {
    TRUE: Flag("yes", True, **HERE),
    FALSE: Flag("yes", False, **HERE),
    OPEN: Flag("who knows", True, **HERE),
}
FACTS = known(yes=True)

# S. C. Kleene, Introduction to Metamathematics (1952), section 64, strong tables (from memory).
AND = {
    (TRUE, TRUE): TRUE, (TRUE, FALSE): FALSE, (TRUE, OPEN): OPEN,
    (FALSE, TRUE): FALSE, (FALSE, FALSE): FALSE, (FALSE, OPEN): FALSE,
    (OPEN, TRUE): OPEN, (OPEN, FALSE): FALSE, (OPEN, OPEN): OPEN,
}  # fmt: skip
OR = {
    (TRUE, TRUE): TRUE, (TRUE, FALSE): TRUE, (TRUE, OPEN): TRUE,
    (FALSE, TRUE): TRUE, (FALSE, FALSE): FALSE, (FALSE, OPEN): OPEN,
    (OPEN, TRUE): TRUE, (OPEN, FALSE): OPEN, (OPEN, OPEN): OPEN,
}  # fmt: skip
NOT = {TRUE: FALSE, FALSE: TRUE, OPEN: OPEN}


@pytest.mark.parametrize(("one", "other"), AND)
def test_kleene_tables(one, other):
    assert judge(every(LEAF[one], LEAF[other]), FACTS) == AND[one, other]
    assert judge(some(LEAF[one], LEAF[other]), FACTS) == OR[one, other]
    assert judge(none(LEAF[one], LEAF[other]), FACTS) == NOT[OR[one, other]]


conditions = st.integers(0, 2**32).map(
    lambda seed: random_condition(random.Random(seed), ["n1", "n2", "c1", "s1", "f1"])
)
fact_values = st.integers(0, 2**32).map(
    lambda seed: {
        name: random_value(random.Random(f"{seed}{name}"), name) for name in ("n1", "n2", "c1", "s1", "f1")
    }
)


def base(values):
    return FactBase().with_facts(
        Fact(name, value, SAID) for name, value in values.items() if value is not None
    )


@given(conditions, conditions, fact_values)
def test_kleene_laws(one, other, values):
    facts = base(values)

    def same(left, right):
        assert judge(left, facts) == judge(right, facts)

    same(every(one, other), every(other, one))
    same(some(one, other), some(other, one))
    same(none(one, other), every(none(one), none(other)))  # De Morgan
    same(none(every(one, other)), some(none(one), none(other)))
    same(none(none(one)), one)
    same(every(one, one), one)
    same(every(one, some(one, other)), one)  # absorption
    assert judge(every(), facts) == TRUE
    assert judge(some(), facts) == FALSE


@given(conditions, fact_values)
def test_verdict_is_the_oracle_s(condition, values):
    expected = {True: TRUE, False: FALSE, None: OPEN}[oracle_verdict(condition, values)]
    assert judge(condition, base(values)) == expected


@given(
    conditions,
    st.lists(fact_values, min_size=1, max_size=5),
    st.sets(st.sampled_from(["n1", "c1", "s1", "f1"])),
)
def test_columns_and_plain_facts_have_one_verdict(condition, rows, varying):
    shared = {name: value for name, value in rows[0].items() if name not in varying}
    facts = base(shared).with_columns({name: [row[name] for row in rows] for name in varying}, BUILT)
    verdict = judge(condition, facts)
    assert verdict.dtype == np.int8
    assert verdict.shape in ((), (len(rows),))
    for index, one in enumerate(np.broadcast_to(verdict, len(rows))):
        assert one == judge(condition, facts.at(index))


@pytest.mark.parametrize(
    ("low", "high", "op", "expected"),
    [
        (5, 8, "<", OPEN), (5, 7, "<", OPEN), (5, 6, "<", TRUE), (7, 8, "<", FALSE),
        (5, 7, "<=", TRUE), (7, 8, "<=", OPEN), (8, 9, "<=", FALSE),
        (7, 8, ">", OPEN), (8, 9, ">", TRUE), (5, 7, ">", FALSE),
        (7, 8, ">=", TRUE), (5, 7, ">=", OPEN), (5, 6, ">=", FALSE),
        (7, 7, "=", TRUE), (6, 8, "=", OPEN), (8, 9, "=", FALSE),
        (7, 7, "!=", FALSE), (6, 8, "!=", OPEN), (8, 9, "!=", TRUE),
    ],
)  # fmt: skip
def test_a_range_against_seven(low, high, op, expected):
    facts = known(boost=Range(low, high))
    assert judge(compare("boost", op, 7), facts) == expected


def test_equal_within_rounding():
    """3 * 0.1 is not 0.3 in binary, and 2.5 in is not exactly 63.5 mm; for `is` they are."""
    assert judge(compare("ratio", "=", 0.3), known(ratio=3 * 0.1)) == TRUE
    assert judge(compare("inducer", "=", 63.5e-3), known(inducer=2.5 * 25.4 * 1e-3)) == TRUE
    assert judge(compare("ratio", "=", 0.3), known(ratio=0.3001)) == FALSE


# R. E. Moore, R. B. Kearfott, M. J. Cloud, Introduction to Interval Analysis (2009), 2.3 (from memory).
@pytest.mark.parametrize(
    ("op", "one", "other", "expected"),
    [
        ("+", (0, 2), (-1, 1), (-1, 3)),
        ("-", (-1, 0), (1, 2), (-3, -1)),
        ("*", (-1, 0), (1, 2), (-2, 0)),
        ("/", (4, 10), (1, 2), (2, 10)),
    ],
)
def test_interval_arithmetic(op, one, other, expected):
    expr = Binary(op, ref("x"), ref("y"), **HERE)
    assert evaluate(expr, known(x=Range(*one), y=Range(*other))) == expected
    columns = FactBase().with_columns(
        {"x": (np.array([one[0]]), np.array([one[1]])), "y": (np.array([other[0]]), np.array([other[1]]))},
        BUILT,
    )
    low, high = evaluate(expr, columns)
    assert (low[0], high[0]) == expected


SPANS = [Range(low, high) for low, high in itertools.combinations_with_replacement([-12.0, -4.0, 0.0, 3.0, 24.0], 2)]
EXACTLY = {"+": operator.add, "-": operator.sub, "*": operator.mul, "/": operator.truediv}


@pytest.mark.parametrize("op", EXACTLY)
def test_arithmetic_on_ranges_of_every_sign(op):
    """The ends are the least and the most of what the four pairs of ends come to; by a range with 0 nothing divides."""
    expr = Binary(op, ref("x"), ref("y"), **HERE)
    pairs = [(x, y) for x, y in itertools.product(SPANS, SPANS) if op != "/" or not y.low <= 0.0 <= y.high]
    found = evaluate(expr, FactBase().with_columns(
        {name: tuple(np.array([getattr(pair[at], end) for pair in pairs]) for end in ("low", "high"))
         for at, name in enumerate("xy")}, BUILT))  # fmt: skip
    for row, (x, y) in enumerate(pairs):
        corners = [EXACTLY[op](Fraction(a), Fraction(b)) for a in (x.low, x.high) for b in (y.low, y.high)]
        exact = pytest.approx((float(min(corners)), float(max(corners))))
        assert evaluate(expr, known(x=x, y=y)) == exact
        assert (found[0][row], found[1][row]) == exact


HUGE, TINY = 1.7e308, 5e-324


@pytest.mark.parametrize(
    ("op", "one", "other"),
    [
        ("/", (1, 1), (0, 0)), ("/", (1, 2), (-1, 1)), ("/", (1, 2), (0, 5)), ("/", (0, 0), (-3, 0)),
        ("/", (1, 1), (TINY, TINY)), ("*", (HUGE, HUGE), (2, 2)), ("*", (-HUGE, 1), (2, HUGE)),
        ("+", (HUGE, HUGE), (HUGE, HUGE)), ("-", (-HUGE, 0), (HUGE, HUGE)),
    ],
)  # fmt: skip
def test_what_cannot_be_computed_is_not_known(op, one, other):
    expr = Binary(op, ref("x"), ref("y"), **HERE)
    plain = known(x=Range(*one), y=Range(*other))
    columns = FactBase().with_columns(
        {
            name: (np.array([low, 1.0]), np.array([high, 1.0]))
            for name, (low, high) in (("x", one), ("y", other))
        },
        BUILT,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert np.isnan(evaluate(expr, plain)).all()
        for test in ("<", "=", "!=", ">="):
            condition = Compare(expr, test, number(3.0), **HERE)
            assert judge(condition, plain) == OPEN
            assert judge(condition, columns).tolist() == [OPEN, judge(condition, columns.at(1))]
        low, high = evaluate(expr, columns)
    assert np.isnan(low).tolist() == np.isnan(high).tolist() == [True, False]


def test_a_number_beside_a_column_may_be_out_of_reach():
    facts = FactBase().with_columns({"x": (np.array([1.0, 2.0]), np.array([3.0, np.inf]))}, BUILT)
    low, high = evaluate(Binary("+", ref("x"), number(1.0), **HERE), facts)
    assert np.isnan(low).tolist() == np.isnan(high).tolist() == [False, True]


def test_numbers_that_are_none_never_reach_a_verdict():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        facts = FactBase().with_columns({"margin": np.array([np.inf, -np.inf, np.nan, 1.0])}, BUILT)
        assert judge(compare("margin", ">", 0.0), facts).tolist() == [OPEN, OPEN, OPEN, TRUE]
        assert judge(Known("margin", **HERE), facts).tolist() == [FALSE, FALSE, FALSE, TRUE]
        assert judge(Compare(Number(np.inf, **HERE), ">", number(1.0), **HERE), facts) == OPEN


@pytest.mark.parametrize("value", [Range(1.0, 2.0), "odd", True, frozenset({"odd"})])
@pytest.mark.parametrize("in_column", [False, True])
def test_a_value_of_another_kind_never_crashes(value, in_column):
    """What the fact can't be asked is left open; a choice that nobody ever heard of is just another one."""
    facts = FactBase().with_columns({"fact": [value, None]}, BUILT) if in_column else known(fact=value)
    leaves = [
        compare("fact", "<", 5.0),
        Between(ref("fact"), number(0.0), number(5.0), **HERE),
        Is("fact", frozenset({"odd", "even"}), **HERE),
        Includes("fact", "odd", **HERE),
        Flag("fact", True, **HERE),
        Known("fact", **HERE),
    ]
    verdicts = [np.atleast_1d(judge(leaf, facts))[0] for leaf in leaves]
    expected = {
        Range: [TRUE, TRUE, OPEN, OPEN, OPEN, TRUE],
        str: [OPEN, OPEN, TRUE, TRUE, OPEN, TRUE],
        bool: [OPEN, OPEN, OPEN, OPEN, TRUE, TRUE],
        frozenset: [OPEN, OPEN, FALSE, TRUE, OPEN, TRUE],
    }[type(value)]
    assert verdicts == expected


@settings(max_examples=300)
@given(st.integers(0, 2**32))
def test_a_definite_verdict_on_ranges_holds_for_every_point(seed):
    chance = random.Random(seed)
    names = ["n1", "n2", "n3"]
    condition = Compare(
        random_expr(chance, names, 3),
        chance.choice(("<", "<=", ">", ">=", "=", "!=")),
        random_expr(chance, names, 2),
        **HERE,
    )
    ranges = {}
    for name in names:
        low = chance.choice((chance.uniform(-5, 5), float(chance.randint(-3, 3))))
        ranges[name] = Range(low, low + chance.choice((0.0, 0.1, chance.uniform(0, 4))))
    verdict = judge(condition, base(ranges))
    for _ in range(20):
        point = {
            name: chance.choice((span.low, span.high, chance.uniform(span.low, span.high)))
            for name, span in ranges.items()
        }
        points = base({name: Range(value, value) for name, value in point.items()})
        assert verdict in (OPEN, judge(condition, points)), (condition, ranges, point)


@given(conditions, fact_values, st.sampled_from(["n1", "n2", "c1", "s1", "f1"]))
def test_learning_more_never_overturns_a_verdict(condition, values, name):
    """Monotone in information; "is known" itself is meant to turn."""
    assume(not any(isinstance(node, Known) for node in walk(condition)))
    less = judge(condition, base({**values, name: None}))
    assert less in (OPEN, judge(condition, base(values)))
