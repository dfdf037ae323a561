"""Joints and parts lists: chains meet, none is dearer than it must be, and no end of a turbo is forgotten.

Which sizes adapt to which and what they cost belongs to the invented shop; that a turbo has these joints is
common practice, no source.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.fitting.joints import NEAR_KIND, Chain, Connections, connections, days, joints_of, vehicle_ends
from advisor.fitting.parts import Extra, parts_list
from advisor.fitting.ports import Vehicle, fit
from advisor.knowledge import shipped_folder
from advisor.knowledge.catalogue import Candidates, Catalogue
from advisor.knowledge.catalogue_files import read
from advisor.knowledge.ends import kind_of
from advisor.knowledge.wares import Part
from advisor.units import Range

INCH = 0.0254
DAY = 86_400.0


def inches(low: float, high: float | None = None) -> Range:
    return Range(low * INCH, (high or low) * INCH)


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return read(shipped_folder() / "catalogue", [])


@pytest.fixture(scope="module")
def candidates(catalogue: Catalogue) -> Candidates:
    return catalogue.candidates()


KNOWN = Vehicle("T4", "divided", inches(4), inches(3), "small line", "large drain")

vehicles = st.builds(
    Vehicle,
    manifold_foot=st.sampled_from([None, "T3", "T4", "T6", "maker's own"]),
    manifold_entry=st.sampled_from([None, "open", "divided"]),
    exhaust_size=st.one_of(st.none(), st.sampled_from([2.5, 3, 3.5, 4, 4.5, 5, 6]).map(inches)),
    charge_pipe_size=st.one_of(st.none(), st.sampled_from([2, 2.5, 3, 3.25, 3.5, 4]).map(inches)),
    oil_feed=st.sampled_from([None, "small line", "large line"]),
    oil_drain=st.sampled_from([None, "small drain", "large drain"]),
)


def part(code: str, near: list[str], far: list[str], price: int, either_way: bool = False) -> Part:
    written: dict[str, object] = {
        "fitting": code, "kind": "piece", "words": "a piece", "price": f"${price}", "delivery": "1 day",
        "from": near, "to": far, "either way": "yes" if either_way else "no",
    }  # fmt: skip
    return Part.model_validate(written)


def shop_of(parts: list[Part]) -> Catalogue:
    return Catalogue({}, {}, {}, {}, {}, {}, {one.fitting: one for one in parts}, {})


def all_chains(
    parts: list[Part], near: str, far: str, passed: tuple[str, ...] = ()
) -> Iterator[tuple[float, int]]:
    """Price and length of every chain without a loop: the brute-force search."""
    if near == far:
        yield 0.0, 0
        return
    for one in parts:
        for start, end in one.joins:
            if start == near and end not in (*passed, near):
                for price, length in all_chains(parts, end, far, (*passed, near)):
                    yield price + one.price, length + 1


def assert_meets(chain: Chain, near: str, far: str) -> None:
    assert chain.ends[0] == near
    assert chain.ends[-1] == far
    assert len(chain.ends) == len(chain.parts) + 1
    for index, one in enumerate(chain.parts):
        assert (chain.ends[index], chain.ends[index + 1]) in one.joins


NODES = [f"end {letter}" for letter in "abcdef"]
random_parts = st.lists(
    st.tuples(
        st.lists(st.sampled_from(NODES), min_size=1, max_size=2),
        st.lists(st.sampled_from(NODES), min_size=1, max_size=2),
        st.integers(1, 9),
        st.booleans(),
    ),
    max_size=9,
).map(lambda rows: [part(f"P{number}", *row) for number, row in enumerate(rows)])


@given(parts=random_parts, near=st.sampled_from(NODES), far=st.sampled_from(NODES))
def test_chain_meets_and_none_is_cheaper(parts: list[Part], near: str, far: str) -> None:
    if near == far:
        return
    chain = Connections(shop_of(parts)).chain(near, far)
    every = list(all_chains(parts, near, far))
    if chain is None:
        assert not every
        return
    assert_meets(chain, near, far)
    assert (chain.price, len(chain.parts)) == min(every)


def test_shipped_chains_against_brute_force(catalogue: Catalogue) -> None:
    shop, parts = connections(catalogue), list(catalogue.fittings.values())
    turbo_kinds = {"foot": "foot", "exhaust": "exhaust outlet", "charge pipe": "cover outlet",
                   "oil feed": "oil feed", "oil drain": "oil drain"}  # fmt: skip
    compared = 0
    for joint, kind in NEAR_KIND.items():
        of_joint = [
            one for one in parts if any(kind_of(end) in (kind, turbo_kinds[joint]) for end in one.from_)
        ]
        for near in shop.known(kind):
            for far in shop.known(turbo_kinds[joint]):
                chain = shop.chain(near, far)
                every = list(all_chains(of_joint, near, far))
                assert (chain is None) == (not every), (near, far)
                if chain is not None:
                    assert_meets(chain, near, far)
                    assert (chain.price, len(chain.parts)) == min(every)
                compared += 1
    assert compared > 60


def test_an_adapter_by_hand(catalogue: Catalogue) -> None:
    """T3 manifold to T4 foot: adapter plate $145 in 3 days, foot kit $28 in 1 day, 32 mm higher."""
    chain = connections(catalogue).chain("manifold T3", "foot T4")
    assert chain is not None
    assert [one.fitting for one in chain.parts] == ["FA-34", "FK-T4"]
    assert (chain.price, chain.delivery, chain.verdict) == (173, 3 * DAY, "adapter")
    assert chain.height == pytest.approx(0.032)
    assert "32 mm" in chain.words
    assert "$173, 3 days" in chain.words


def test_chain_is_said_part_by_part(catalogue: Catalogue) -> None:
    near, far = "feed line dash 6", "oil feed 7/16-20"
    chain = connections(catalogue).chain(near, far)
    assert chain is not None
    assert chain.words == (
        "reducer from a dash 6 feed line to dash 4 and dash 4 braided oil feed line with 7/16-20 flare nut "
        "($67, 2 days)"
    )


@pytest.mark.parametrize(
    ("delivery", "said"), [(0, "in stock"), (1, "1 day"), (2, "2 days"), (35, "35 days")]
)
def test_days_as_one_says_them(delivery: int, said: str) -> None:
    assert days(delivery * DAY) == said


def test_equally_dear_parts_are_taken_by_code() -> None:
    shop = Connections(
        shop_of([part("A", ["x"], ["y"], 5), part("B", ["x"], ["y"], 5), part("C", ["x"], ["y"], 4)])
    )
    chain = shop.chain("x", "y")
    assert chain is not None
    assert [one.fitting for one in chain.parts] == ["C"]
    shop = Connections(shop_of([part("A", ["x"], ["y"], 5), part("B", ["x"], ["y"], 5)]))
    chain = shop.chain("x", "y")
    assert chain is not None
    assert [one.fitting for one in chain.parts] == ["A"]


@pytest.mark.parametrize(
    ("said", "sizes"),
    [
        (inches(3, 4), ["3", "3.5", "4"]),
        (inches(3.2, 3.3), ["3.25"]),
        (inches(2.6, 2.9), ["2.5", "3"]),
        (inches(3.87, 3.88), ["4"]),
    ],
)
def test_a_range_of_sizes_leaves_the_pipes_in_it(catalogue: Catalogue, said: Range, sizes: list[str]) -> None:
    ends = vehicle_ends("exhaust", Vehicle(exhaust_size=said), connections(catalogue))
    assert ends == tuple(f"exhaust pipe {size} in" for size in sizes)


def test_pieces_are_said_in_words(catalogue: Catalogue, candidates: Candidates) -> None:
    def words(code: str) -> list[str]:
        listed = parts_list(candidates.combinations[candidates.index(code)], KNOWN, catalogue)
        return [line.words for line in listed.lines[:3]]

    assert words("CG-6471-090D-T4-X44D") == [
        "turbo, 64 mm compressor, 71 mm turbine, 360 degree journal bearing",
        "0.90 divided T4 turbine housing",
        "44 mm two-leg external gate",
    ]
    assert words("CG-6368B-083SG-T3")[:2] == [
        "turbo, 63.4 mm compressor, 68 mm turbine, ball bearings",
        "0.83 open T3 turbine housing with 36 mm internal gate",
    ]
    assert words("MR-9196-128S-T6-X60")[2] == "60 mm one-leg external gate"


def test_like_to_like_is_direct(catalogue: Catalogue, candidates: Candidates) -> None:
    row = candidates.index("CG-6471-090D-T4-X44D")
    fits = fit(candidates, KNOWN, catalogue)
    facts = {name: column[row] for name, column in fits.facts.items()}
    assert facts["foot fit"] == facts["exhaust fit"] == facts["oil fit"] == "direct"
    assert facts["outlet fit"] == "adapter"
    assert facts["entry fit"] == "match"
    # foot kit 28, clamp 49, reducing boot 37, feed 48, drain 78, filter 94, gate plumbing 181, dump tube 89,
    # boost line 27, first start kit 34
    assert facts["fitting cost"] == 28 + 49 + 37 + 48 + 78 + 94 + 181 + 89 + 27 + 34 == fits.cost_high[row]


def test_entry_is_judged_apart_from_the_foot(catalogue: Catalogue, candidates: Candidates) -> None:
    fits = fit(candidates, Vehicle("T4", "open"), catalogue)
    entry, foot = candidates.facts["housing entry"], candidates.facts["housing foot"]
    assert np.array_equal(fits.facts["entry fit"] == "match", entry == "open")
    assert np.array_equal(fits.facts["foot fit"] == "direct", foot == "T4")
    assert set(fit(candidates, Vehicle(), catalogue).facts["entry fit"]) == {""}


def test_a_size_that_no_pipe_has_is_not_rounded(catalogue: Catalogue, candidates: Candidates) -> None:
    fits = fit(candidates, Vehicle(exhaust_size=inches(4.5)), catalogue)
    assert set(fits.facts["exhaust fit"]) == {"none"}
    listed = parts_list(candidates.combinations[0], Vehicle(exhaust_size=inches(4.5)), catalogue)
    (gap,) = [end for end in listed.open_ends if end.joint == "exhaust"]
    assert gap.words.startswith("nothing in the catalogue joins exhaust pipe 4.5 in")


def test_pipes_that_nobody_told_of_cost_what_the_usual_ones_do(catalogue: Catalogue, candidates: Candidates) -> None:
    usual = Vehicle(exhaust_size=inches(4), charge_pipe_size=inches(3))
    counted, told = fit(candidates, Vehicle("T4"), catalogue, usual), fit(
        candidates, Vehicle("T4", None, usual.exhaust_size, usual.charge_pipe_size), catalogue, usual
    )
    assert np.array_equal(counted.facts["fitting cost"], told.facts["fitting cost"])
    assert (counted.facts["fitting cost"] > fit(candidates, Vehicle("T4"), catalogue).facts["fitting cost"]).any()
    assert (counted.cost_high >= counted.facts["fitting cost"]).all()
    assert "" in set(counted.facts["exhaust fit"]) - {"none"}


def test_a_pipe_measured_over_its_wall_is_the_nominal_one(
    catalogue: Catalogue, candidates: Candidates
) -> None:
    measured = fit(candidates, Vehicle(exhaust_size=inches(3.95)), catalogue)
    nominal = fit(candidates, Vehicle(exhaust_size=inches(4)), catalogue)
    assert np.array_equal(measured.facts["exhaust fit"], nominal.facts["exhaust fit"])


def test_unknown_ends_say_every_possibility(catalogue: Catalogue, candidates: Candidates) -> None:
    listed = parts_list(candidates.combinations[candidates.index("CG-6471-090D-T4")], Vehicle(), catalogue)
    assert not listed.complete
    foot = next(end for end in listed.open_ends if end.joint == "foot")
    assert [words.split(":")[0] for words in foot.possibilities] == [
        "manifold T3", "manifold T4", "manifold T6", "manifold maker's own",
    ]  # fmt: skip
    assert "manifold T4 goes straight on; manifold T3, T6 or maker's own takes an adapter" in foot.words
    assert (foot.price.low, foot.price.high) == (28.0, 238.0)  # the gasket kit alone, and with the dearest adapter
    assert listed.price < listed.price_high


@given(data=st.data(), vehicle=vehicles)
def test_no_end_of_the_turbo_is_forgotten(
    catalogue: Catalogue, candidates: Candidates, data: st.DataObject, vehicle: Vehicle
) -> None:
    one = data.draw(st.sampled_from(candidates.combinations))
    listed = parts_list(one, vehicle, catalogue)
    pieces = [one.frame, one.turbo, one.housing, *([one.gate] if one.gate else [])]
    ends = {end for piece in pieces for end in piece.ends.values()}
    if one.wastegate != "none":
        ends.add("boost signal")
    joined = {end for line in listed.lines if line.joins for end in line.joins}
    left_open = {gap.end for gap in listed.open_ends}
    assert ends <= joined | left_open
    assert not joined & left_open
    assert listed.complete == (not left_open)
    for line in listed.lines:
        if line.joins:
            assert line.joins in catalogue.fittings[line.code].joins
    assert {one.turbo.turbo, one.housing.housing} <= {line.code for line in listed.lines}


@given(data=st.data(), vehicle=vehicles)
def test_list_and_columns_agree(
    catalogue: Catalogue, candidates: Candidates, data: st.DataObject, vehicle: Vehicle
) -> None:
    row = data.draw(st.integers(0, len(candidates) - 1))
    one, fits = candidates.combinations[row], fit(candidates, vehicle, catalogue)
    listed = parts_list(one, vehicle, catalogue)
    assert listed.price == pytest.approx(one.price + fits.facts["fitting cost"][row])
    assert listed.price_high == pytest.approx(one.price + fits.cost_high[row])
    assert listed.delivery == max(line.delivery for line in listed.lines)
    joints = {joint.joint: joint for joint in fits.of(row)}
    assert set(joints.values()) == set(joints_of(one, vehicle, connections(catalogue)))
    gaps = {gap.joint for gap in listed.open_ends}
    for joint, name in (("foot", "foot fit"), ("exhaust", "exhaust fit"), ("charge pipe", "outlet fit")):
        assert fits.facts[name][row] == joints[joint].verdict
        if joints[joint].verdict == "none":
            assert joint in gaps
        if len(joints[joint].near) == 1 and joints[joint].verdict != "none":
            assert joint not in gaps
    oil = {joints["oil feed"].verdict, joints["oil drain"].verdict}
    order = ["none", "", "adapter", "direct"]
    assert fits.facts["oil fit"][row] == min(oil, key=order.index)


@given(vehicles, st.sampled_from(["T3", "T4", "T6", "maker's own"]), st.sampled_from([3, 3.5, 4, 5]))
def test_knowing_more_never_contradicts(
    catalogue: Catalogue, candidates: Candidates, vehicle: Vehicle, foot: str, size: float
) -> None:
    """What holds while an end is unknown holds for each end it may turn out to be."""
    known = replace(vehicle, manifold_foot=foot, exhaust_size=inches(size))
    unknown = replace(vehicle, manifold_foot=None, exhaust_size=None)
    after, before = fit(candidates, known, catalogue), fit(candidates, unknown, catalogue)
    for name in ("foot fit", "exhaust fit"):
        said = before.facts[name] != ""
        assert np.array_equal(before.facts[name][said], after.facts[name][said])
    makeable = (after.facts["foot fit"] != "none") & (after.facts["exhaust fit"] != "none")
    assert np.all(before.facts["fitting cost"][makeable] <= after.facts["fitting cost"][makeable] + 1e-9)
    assert np.all(after.cost_high[makeable] <= before.cost_high[makeable] + 1e-9)


def test_known_vehicle_gets_a_complete_list_for_most_of_the_shop(
    catalogue: Catalogue, candidates: Candidates
) -> None:
    lists = [parts_list(one, KNOWN, catalogue) for one in candidates.combinations]
    assert sum(listed.complete for listed in lists) == len(candidates)
    for one, listed in zip(candidates.combinations, lists, strict=True):
        kinds = {line.kind for line in listed.lines}
        assert ("oil restrictor" in kinds) == (one.turbo.bearing == "ball")
        assert ("gate plumbing" in kinds) == (one.wastegate == "external")
        assert ("boost line" in kinds) == (one.wastegate != "none")
        assert ("gate block-off" in kinds) == (one.housing.gate == "boss" and one.gate is None)


def test_extras_are_added_once(catalogue: Catalogue, candidates: Candidates) -> None:
    one = candidates.combinations[0]
    plain = parts_list(one, KNOWN, catalogue)
    extras = [
        Extra("head stud kit", 1, "high peak pressure", "a rule"),
        Extra("foot kit"),
        Extra("boost gauge", 2),
    ]
    listed = parts_list(one, KNOWN, catalogue, extras)
    assert [line.code for line in listed.lines[len(plain.lines) :]] == ["HS-1", "BG-1"]
    assert listed.lines[-2].why == "high peak pressure"
    assert listed.price == plain.price + 485 + 2 * 72
    with pytest.raises(ValueError, match="no fitting of kind 'flux capacitor'"):
        parts_list(one, KNOWN, catalogue, [Extra("flux capacitor")])


def test_every_line_says_why_and_on_what_basis(catalogue: Catalogue, candidates: Candidates) -> None:
    for combination in candidates.combinations[::25]:
        for line in parts_list(combination, KNOWN, catalogue).lines:
            assert line.why
            assert line.basis
            assert line.words
            assert line.quantity >= 1


@pytest.mark.parametrize("far", ["foot T3", "foot T4", "foot T6"])
def test_makers_own_flange_reaches_every_foot(catalogue: Catalogue, far: str) -> None:
    chain = connections(catalogue).chain("manifold maker's own", far)
    assert chain is not None
    assert chain.verdict == "adapter"
    assert chain.ends[0] == "manifold maker's own"
