"""Where gates are set: evenly with what is asked, as high as the wheel may turn, no higher than the goal needs."""

from dataclasses import replace

import numpy as np
from matching_cases import HP, PSI, SIX, duty, table_for

from advisor.matching.balance import match
from advisor.matching.engine import points
from advisor.matching.gates import TIP_RESERVE, settings
from advisor.matching.inputs import Place, Plumbing, machines

PIPES = Plumbing()
RANDOM = np.random.default_rng(3)
COUNT = 60
INDUCER = RANDOM.uniform(0.050, 0.070, COUNT)
EXDUCER = INDUCER / RANDOM.uniform(0.68, 0.76, COUNT)
TURBINE = EXDUCER * RANDOM.uniform(0.80, 0.95, COUNT)
STOCK = machines(
    {
        "wheel": np.arange(COUNT),
        "compressor_exducer": EXDUCER,
        "turbine_inducer": TURBINE,
        "turbine_exducer": 0.87 * TURBINE,
        "housing_ratio": RANDOM.uniform(0.6, 1.1, COUNT),
        "gate_bore": np.full(COUNT, 0.045),
        "gate_external": np.ones(COUNT, dtype=bool),
        "tip_speed_limit": np.full(COUNT, 530.0),
    }
)
TABLES = table_for(INDUCER, EXDUCER)


def test_a_degree_moves_a_gate_by_a_fraction_of_a_psi() -> None:
    """Gates of machines that the goal's boost would turn too fast, in steps of half a degree Fahrenheit from 59 to 79:
    none moves by more than 0.2 psi a step, and each keeps just the tip reserve."""
    boost, lowered = [], []
    for kelvin in 288.15 + np.arange(41) * 5.0 / 18.0:
        place = Place(95e3, float(kelvin))
        grid = points(SIX, place, PIPES, (duty(power=560.0 * HP, goal=2900.0),))
        share, found = settings((SIX, place, PIPES), grid, STOCK, TABLES)
        boost.append(share * grid.boost_target.max() / PSI)
        lowered.append(share < 1.0)
        margin = found.tip_speed_margin.min(axis=-1)
        assert np.abs(margin - TIP_RESERVE).max() < 0.002
    assert np.abs(np.diff(boost, axis=0)).max() < 0.2
    assert np.all(lowered)


def test_a_gate_that_need_not_be_lowered_is_at_the_goals_boost() -> None:
    place = Place(95e3, 288.15)
    grid = points(SIX, place, PIPES, (duty(power=300.0 * HP, goal=2900.0),))
    plain = match(SIX, place, PIPES, grid, STOCK, TABLES)
    share, _ = settings((SIX, place, PIPES), grid, STOCK, TABLES)
    enough = plain.tip_speed_margin.min(axis=-1) >= TIP_RESERVE
    assert enough.sum() > 5
    assert np.array_equal(share == 1.0, enough)


def test_small_gates_are_set_where_a_scan_of_settings_would() -> None:
    """Gates through which boost creeps: each lets its wheel make the boost that the highest of 81 settings which keeps
    the tip reserve would, to one step of these; where none keeps it, it runs as at the lowest."""
    place = Place(95e3, 288.15)
    grid = points(SIX, place, PIPES, (duty(power=560.0 * HP, goal=2900.0),))
    stock = replace(STOCK, gate_bore=np.random.default_rng(2).uniform(0.016, 0.038, COUNT))
    share, found = settings((SIX, place, PIPES), grid, stock, TABLES)
    shares = np.linspace(0.2, 1.0, 81)
    tips, boosts = [], []
    for one in shares:
        lower = replace(grid, boost_target=np.maximum(grid.boost_target * one, place.pressure))
        scanned = match(SIX, place, PIPES, lower, stock, TABLES)
        tips.append(scanned.tip_speed_margin.min(axis=-1))
        boosts.append(scanned.boost.max(axis=-1))
    kept = np.asarray(tips) >= TIP_RESERVE - 1e-3
    able = kept.any(axis=0)
    assert able.sum() > 10
    assert (~able).sum() > 10
    highest = len(shares) - 1 - kept[::-1].argmax(axis=0)
    makes, most = found.boost.max(axis=-1), np.asarray(boosts)[highest, np.arange(COUNT)]
    assert np.all(found.tip_speed_margin.min(axis=-1)[able] >= TIP_RESERVE - 1.1e-3)
    assert np.all(makes[able] >= 0.997 * most[able])
    assert np.all(share[able] <= shares[highest][able] + 0.012)
    assert np.allclose(found.tip_speed_margin.min(axis=-1)[~able], tips[0][~able], atol=1e-6)
