"""Points that run evenly with a figure: how they are read and refused, what they come to, and what the desk says."""

import json
import re
import shutil
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from inference_cases import BUILT, PLACE, Layered, compare, known, ref, rule
from small_shop import edit, run, script, small_shop

from advisor.desk.mutants import mutants
from advisor.inference.agenda import Taken
from advisor.inference.engines import agenda
from advisor.inference.explain import how, points_words
from advisor.inference.facts import numbers
from advisor.inference.stage import run_stage
from advisor.inference.verdict import points_of
from advisor.knowledge import check, load
from advisor.knowledge.conditions import All, AnyOf, Condition, Number
from advisor.knowledge.rules import Penalise
from advisor.knowledge.slopes import Slope
from advisor.quantities import Range

BASE = Path(__file__).parent / "knowledge_base"
RULE = """\
rules:
  - rule: even
    stage: judge
    when:
      - {when}
    then:
      {points}
      say: "So it is."
    because: Heat breaks parts.
    basis: common practice, no source
"""
ROOM = "duties include towing"
EVEN = "0 to 8 as drive pressure ratio goes from 1.5 to 2"


def told(tmp_path: Path, points: str, when: str = ROOM) -> list[str]:
    """What is told of a rule with these points beside the small sound folder."""
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder, dirs_exist_ok=True)
    (folder / "even.yaml").write_text(RULE.format(when=when, points=points), "utf-8")
    return [str(fault) for fault in check(folder) if fault.place.file == "even.yaml"]


@pytest.mark.parametrize(("points", "line"), [
    ("penalise: 0 to 8", "7:17: 'as' and the figure are missing behind the points; write it as "
     "'0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 0 to 8 as drive pressure ratio", "7:17: 'goes from' is missing behind the points; write it as "
     "'0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 0 to 8 as drive ratio goes from 1.5 to 2", "7:27: there is no fact 'drive ratio'; "
     "did you mean 'drive pressure ratio'?"),
    ("penalise: 0 to 8 as tune goes from 1.5 to 2", "7:27: 'tune' is no number; write 'tune is stock'"),
    ("penalise: 0 to 8 as altitude goes from 10 ft to 20 psi", "7:55: 'psi' measures a pressure, an altitude is "
     "wanted here; write it in ft or m"),
    ("penalise: 0 to 8 as altitude goes from 10 to 20", "7:52: '20' has no unit, an altitude is wanted here; "
     "write it in ft or m"),
    ("penalise: 0 to 8 as altitude goes from 20 ft to -10", "7:55: '-10' has no unit, an altitude is wanted here; "
     "write it in ft or m"),
    ("penalise: 0 to 8 as 3 goes from 1.5 to 2", "7:27: this reads no fact; name the figure with which the points run"),
    ("penalise: 0 to 800 as altitude goes from 10 ft to 20 ft", "7:22: '800' is out of bounds; write at most 100"),
    ("penalise: none to 8 as drive pressure ratio goes from 1.5 to 2", "7:17: 'none' is no number of points; write it "
     "as '0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 0 to 8 points as drive pressure ratio goes from 1.5 to 2", "7:22: '8 points' is no number of points; "
     "write the number alone"),
    ("penalise: 8 to 8 as drive pressure ratio goes from 1.5 to 2", "7:17: the points are the same at every end; "
     "write the number alone: penalise: 8, or another end"),
    ("penalise: -8 to 0 as drive pressure ratio goes from 1.5 to 2", "7:17: 'penalise' with no points above 0; write "
     "'prefer:' and the points without '-'"),
    ("prefer: 0 to 8 as drive pressure ratio goes from 2 to 2", "7:61: an end is the same as the one before it; "
     "give each end a value of its own"),
    ("prefer: 0 to 8 to 9 as drive pressure ratio goes from 1.5 to 2 to 1.8", "7:73: the ends turn back here; "
     "write them in order, rising or falling"),
    ("penalise: 0 to 8 to 9 as drive pressure ratio goes from 1.5 to 2", "7:63: 3 figures of points for 2 ends; give "
     "each end its points, as in '0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 0 to 8 as drive pressure ratio goes from 1.5 to axle ratio", "7:65: 'axle ratio' is no fixed end; "
     "write a number with its unit; measure from a fact as in 'spool rpm - boost wanted by'"),
    ("penalise: 0 to 8 as altitude goes from 1,000 ft to 90,000 ft", "7:58: it never comes to 90,000 ft: 'altitude' "
     "lies between -300 ft and 14,500 ft; let the points run within that"),
    ("penalise: 0 to 8 as drive pressure ratio goes from 1.5", "7:58: 2 figures of points for 1 end; give "
     "each end its points, as in '0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 8 as drive pressure ratio goes from 1.5 to 2", "7:17: these points run nowhere; "
     "write the number alone: penalise: 8, or another end"),
    ("prefer: 2.5 to 2.5 as drive pressure ratio goes from 1.5 to 2", "7:15: the points are the same at every end; "
     "write the number alone: prefer: 2.5, or another end"),
    ("prefer: -3 to 0 as drive pressure ratio goes from 1.5 to 2", "7:15: 'prefer' with no points above 0; write "
     "'penalise:' and the points without '-'"),
    ("penalise: 0 to 8 as goes from 1.5 to 2", "7:17: these points can't be read; write it as "
     "'0 to 18 as surge margin goes from 10 % to 0 %'"),
    ("penalise: 0 to -101 as altitude goes from 10 ft to 20 ft", "7:22: '-101' is out of bounds; write at most 100"),
    ("penalise: 0 to 8 as drive pressure ratio + goes from 1.5 to 2", "7:49: a fact or a number is missing; "
     "write it here"),
    ("penalise: 0 to 8 as drive pressure ratio goes from 1.5 to (2", "7:65: a '(' is never closed; close it"),
    ("penalise: 0 to 8 as summer temperature * 2 goes from 10 to 20 °F", "7:46: a temperature can't be multiplied or "
     "divided; compare temperatures, or multiply a difference of two"),
    ("penalise: 0 to 8 as present boost goes from 10 psi to 10 ft * 2", "7:61: a pressure can't be compared with a "
     "length; give the ends in a unit of the figure"),
    ("penalise: 0 to 8 to 9 as drive pressure ratio goes from 2 to 1.8 to 1.8", "7:75: an end is the same as the one "
     "before it; give each end a value of its own"),
    ("penalise: 0 till 8 as drive pressure ratio goes from 1.5 to 2", "7:19: 'till' can't stand here; write 'to'"),
    (f"penalise: {EVEN}\n      prefer: 2", "8:15: points that run with a figure stand beside other points; "
     "write a rule for each, or points below 0 as in '-4 to 8 as ...'"),
])  # fmt: skip
def test_what_is_wrong_is_told_with_its_place_and_how_to_mend_it(tmp_path, points, line):
    assert told(tmp_path, points) == [f"even.yaml:{line}"]


@pytest.mark.parametrize(("points", "lines"), [
    ("altitude goes from 1.000 zorks to 5,000 ft", [
        "7:46: '1.000' can be read in two ways; write 1, or 1,000 for thousands",
        "7:46: 'zorks' is no unit; write it in ft or m",
    ]),
    ("altitude goes from 1.000 to 5,000 ft", [
        "7:46: '1.000' can be read in two ways; write 1, or 1,000 for thousands",
    ]),
    ("altitude + goes from axle ratio to 2", [
        "7:37: a fact or a number is missing; write it here",
        "7:48: 'axle ratio' is no fixed end; "
        "write a number with its unit; measure from a fact as in 'spool rpm - boost wanted by'",
    ]),
    ("zebra stripes goes from 2 to forty", [
        "7:27: there is no fact 'zebra stripes'; give it an entry in facts.yaml, or use a known fact",
        "7:56: 'forty' is no fixed end; write it in digits: 40",
    ]),
])  # fmt: skip
def test_each_slip_is_told_with_its_place(tmp_path, points, lines):
    assert told(tmp_path, f"penalise: 0 to 8 as {points}") == [f"even.yaml:{line}" for line in lines]


@pytest.mark.parametrize(("when", "out"), [
    ("drive pressure ratio > 1.5", []),
    ("drive pressure ratio > 1.7", ["7:58 1.5"]),
    ("1.7 < drive pressure ratio", ["7:58 1.5"]),
    ("1.7 > drive pressure ratio", ["7:65 2"]),
    ("drive pressure ratio is 1.7", ["7:58 1.5", "7:65 2"]),
    ("drive pressure ratio is between 1 and 1.8", ["7:65 2"]),
    ("drive pressure ratio is between 1.5 and 2", []),
    ("drive pressure ratio is not 1.7", []),
    ("drive pressure ratio > axle ratio", []),
    ("axle ratio > drive pressure ratio", []),
    ("drive pressure ratio is between axle ratio and 1.8", []),
    ("drive pressure ratio is between 1.6 and axle ratio", []),
    ("drive pressure ratio - axle ratio > 1.8", []),
    ("1.8 < 2 * drive pressure ratio", []),
])  # fmt: skip
def test_ends_that_the_rules_own_conditions_shut_out_are_told(tmp_path, when, out):
    assert told(tmp_path, f"penalise: {EVEN}", when) == [
        f"even.yaml:{place}: it never comes to {end} beside '{when}' in line 5; "
        "let the points run within that, or leave the condition out"
        for place, end in (line.split() for line in out)
    ]


@pytest.mark.parametrize(("slope", "between", "out"), [
    ("altitude goes from -300 ft to 14,500 ft", "", []),
    ("altitude goes from -301 ft to 14,501 ft", "-300 ft and 14,500 ft", ["7:46 -301 ft", "7:57 14,501 ft"]),
    ("power goal - power now goes from -2,900 hp to 2,920 hp", "", []),
    ("power goal - power now goes from -2,901 hp to 2,921 hp", "-2,900 hp and 2,920 hp",
     ["7:60 -2,901 hp", "7:73 2,921 hp"]),
    ("2 * power goal / power now goes from 0 to 80", "0.0667 and 75", ["7:64 0", "7:69 80"]),
    ("-present boost goes from -151 psi to -5 psi", "-150 psi and -5 psi", ["7:52 -151 psi"]),
    ("summer temperature - 50 °F goes from -11 °F to 80 °F", "-10 °F and 80 °F", ["7:64 -11 °F"]),
    ("8 ft - altitude goes from 308 ft to 309 ft", "-14,492 ft and 308 ft", ["7:63 309 ft"]),
    ("housing flow margin * 3 goes from -1,000 % to 1,000 %", "", []),  # nobody says how far a computed figure goes
])  # fmt: skip
def test_ends_out_of_reach_of_plausible_answers_are_told(tmp_path, slope, between, out):
    assert told(tmp_path, f"penalise: 0 to 8 as {slope}") == [
        f"even.yaml:{place}: it never comes to {end}: '{slope.partition(' goes ')[0]}' lies between {between}; "
        "let the points run within that"
        for place, end in (line.split(" ", 1) for line in out)
    ]


def test_points_only_where_there_are_candidates(tmp_path):
    folder = tmp_path / "shop"
    shutil.copytree(BASE, folder)
    (folder / "even.yaml").write_text(
        RULE.format(when=ROOM, points="penalise: 0 to 8 as altitude goes from 1,000 ft to 9,000 ft").replace(
            "judge", "understand"
        ),
        "utf-8",
    )
    assert [str(fault) for fault in check(folder) if fault.place.file == "even.yaml"] == [
        "even.yaml:7:17: there is no candidate to judge in the stage understand; move the rule to the stage judge"
    ]


def texts(condition: Condition) -> str | list:
    """What a condition says, a group as the list of its parts."""
    return [texts(part) for part in condition.parts] if isinstance(condition, All | AnyOf) else condition.text


@pytest.mark.parametrize(("points", "speaks", "ends"), [
    (EVEN, ["drive pressure ratio > 1.5"], [(1.5, 0.0), (2.0, 8.0)]),
    ("0 to 0.5 as drive pressure ratio goes from 1.5 to 2", ["drive pressure ratio > 1.5"], [(1.5, 0.0), (2.0, 0.5)]),
    ("8 to 0 as drive pressure ratio goes from 1.5 to 2", ["drive pressure ratio < 2"], [(1.5, 8.0), (2.0, 0.0)]),
    ("0 to 8 as drive pressure ratio goes from 2 to 1.5", ["drive pressure ratio < 2"], [(1.5, 8.0), (2.0, 0.0)]),
    ("2 to 8 as drive pressure ratio goes from 1.5 to 2", ["drive pressure ratio is known"], [(1.5, 2.0), (2.0, 8.0)]),
    ("-4 to 8 as drive pressure ratio goes from 1.5 to 2", ["drive pressure ratio is known"],
     [(1.5, -4.0), (2.0, 8.0)]),
    ("0 to 2 to 8 as drive pressure ratio goes from 1.5 to 1.6 to 2", ["drive pressure ratio > 1.5"],
     [(1.5, 0.0), (1.6, 2.0), (2.0, 8.0)]),
    ("8 to 0 to 0 to 8 as drive pressure ratio goes from 1 to 1.2 to 1.5 to 2",
     [["drive pressure ratio < 1.2", "drive pressure ratio > 1.5"]],
     [(1.0, 8.0), (1.2, 0.0), (1.5, 0.0), (2.0, 8.0)]),
    ("0 to 5 to 5 to 0 as drive pressure ratio goes from 1 to 1.2 to 1.5 to 2",
     [["drive pressure ratio > 1", "drive pressure ratio < 2"]], [(1.0, 0.0), (1.2, 5.0), (1.5, 5.0), (2.0, 0.0)]),
    ("0 to 5 to 0 to 0 to 5 to 0 as drive pressure ratio goes from 1 to 1.2 to 1.5 to 2 to 3 to 4",
     [[["drive pressure ratio > 1", "drive pressure ratio < 1.5"],
       ["drive pressure ratio > 2", "drive pressure ratio < 4"]]],
     [(1.0, 0.0), (1.2, 5.0), (1.5, 0.0), (2.0, 0.0), (3.0, 5.0), (4.0, 0.0)]),
    ("0 to 8 as drive pressure ratio - axle ratio goes from 1.5 to 2", ["drive pressure ratio - axle ratio > 1.5"],
     [(1.5, 0.0), (2.0, 8.0)]),
])  # fmt: skip
def test_a_rule_speaks_only_where_it_takes_points(tmp_path, points, speaks, ends):
    assert told(tmp_path, f"penalise: {points}") == []
    even = load(tmp_path / "shop").rule("even")
    (slope,) = even.slopes
    assert [(end.si, taken) for end, taken in slope.ends] == ends
    assert [texts(part) for part in even.when.parts[1:]] == speaks
    assert [part.text for part in even.written.parts] == [ROOM]


@pytest.mark.parametrize(("points", "ends", "most", "halfway", "reached"), [
    (EVEN, ["1.5: 0 (7:58)", "2: 8 (7:65)"], 8, ["4 at drive pressure ratio >= 1.75"], ["drive pressure ratio >= 2"]),
    ("100 to -100 as drive pressure ratio goes from 1.5 to 2", ["1.5: 100 (7:63)", "2: -100 (7:70)"], 100, [],
     ["drive pressure ratio <= 1.5", "drive pressure ratio <= 2"]),
    ("1 to 2.5 as drive pressure ratio goes from 150 % to 200 %", ["150 %: 1 (7:60)", "200 %: 2.5 (7:69)"], 2.5,
     ["1.75 at drive pressure ratio >= 175 %"], ["drive pressure ratio <= 150 %", "drive pressure ratio >= 200 %"]),
    ("0 to 9 to 3 to 3 as altitude goes from 9,000 ft to 6,000 to 3,000 to 1,000 ft",
     ["1,000 ft: 3 (7:86)", "3,000 ft: 3 (7:77)", "6,000 ft: 9 (7:68)", "9,000 ft: 0 (7:56)"], 9,
     ["6 at altitude >= 4,500 ft", "4.5 at altitude <= 7,500 ft"],
     ["altitude <= 1,000 ft", "altitude <= 3,000 ft", "altitude >= 6,000 ft"]),
    ("8 to 0 to 8 as summer temperature goes from 50 to 68 to 95 °F",
     ["50 °F: 8 (7:61)", "68 °F: 0 (7:67)", "95 °F: 8 (7:73)"], 8,
     ["4 at summer temperature <= 59 °F", "4 at summer temperature >= 81.5 °F"],
     ["summer temperature <= 50 °F", "summer temperature >= 95 °F"]),
    ("0 to 8 as summer temperature - charge temperature goes from 10 to 28 °F", ["10 °F: 0 (7:77)", "28 °F: 8 (7:83)"],
     8, ["4 at summer temperature - charge temperature >= 19 °F"],
     ["summer temperature - charge temperature >= 28 °F"]),
    ("0 to 8 as power now / power goal goes from 50 % to 80 %", ["50 %: 0 (7:60)", "80 %: 8 (7:68)"], 8,
     ["4 at power now / power goal >= 65 %"], ["power now / power goal >= 80 %"]),
    ("0 to 8 as cylinders goes from 4 to 6", ["4: 0 (7:47)", "6: 8 (7:52)"], 8, ["4 at cylinders >= 5"],
     ["cylinders >= 6"]),
    ("0 to 8 as present boost - 30 psi goes from -5 to 5 psi", ["-5 psi: 0 (7:60)", "5 psi: 8 (7:66)"], 8,
     ["4 at present boost - 30 psi >= 0 psi"], ["present boost - 30 psi >= 5 psi"]),
    # Of two quantities there is no unit to show it in, and no middle to name.
    ("0 to 8 as power now / altitude goes from 10 hp / 1 ft to 20 hp / 1 ft",
     ["10 hp / 1 ft: 0 (7:58)", "20 hp / 1 ft: 8 (7:74)"], 8, [], ["power now / altitude >= 20 hp / 1 ft"]),
    ("0 to 8 as altitude\n        goes from 1,000\n        to 9,000 ft",
     ["1,000 ft: 0 (8:19)", "9,000 ft: 8 (9:12)"], 8, ["4 at altitude >= 5,000 ft"], ["altitude >= 9,000 ft"]),
])  # fmt: skip
def test_the_ends_are_read_with_their_places_and_so_are_their_middles(tmp_path, points, ends, most, halfway, reached):
    assert told(tmp_path, f"penalise: {points}") == []
    (slope,) = load(tmp_path / "shop").rule("even").slopes
    place = "{0.line}:{0.column}".format
    assert [f"{end.text}: {taken:g} ({place(end.place)})" for end, taken in slope.ends] == ends
    unit = "/ altitude" not in points
    assert [slope.shown(end.si) for end, _ in slope.ends] == [end.text if unit else "" for end, _ in slope.ends]
    assert {(at.line, at.column) for at in slope.places} == {
        (7, points.index("as ") + 20), *((end.place.line, end.place.column) for end, _ in slope.ends)
    }  # fmt: skip
    assert (slope.most, slope.words) == (most, " ".join(points[points.index("as ") :].split()))
    assert [f"{taken:g} at {leaf.text}" for taken, leaf in slope.halfway()] == halfway
    assert [leaf.text for leaf in slope.reached()] == reached
    (turned,) = read_anew(tmp_path, f"prefer: {points}")
    assert [(end.si, -taken) for end, taken in turned.ends] == [(end.si, taken) for end, taken in slope.ends]


def read_anew(tmp_path: Path, points: str) -> tuple[Slope, ...]:
    shutil.rmtree(tmp_path / "shop")
    assert told(tmp_path, points) == []
    return load(tmp_path / "shop").rule("even").slopes


def ladder(*ends: tuple[float, float]) -> Slope:
    pairs = tuple((Number(at, place=PLACE, text=f"{at:g}"), points) for at, points in ends)
    return Slope(ref("heat"), pairs, "", "ratio", False, "", place=PLACE, text="as written")


LADDERS = st.lists(st.tuples(st.integers(-50, 50), st.integers(-40, 100)), min_size=2, max_size=5,
                   unique_by=lambda end: end[0]).map(sorted)  # fmt: skip


def straight(ends: list[tuple[int, int]], at: Fraction) -> Fraction:
    """Points at a value, by the rule of three in exact fractions."""
    if at <= ends[0][0]:
        return Fraction(ends[0][1])
    for (low, first), (high, last) in pairwise(ends):
        if at <= high:
            return first + (last - first) * (at - low) / (high - low)
    return Fraction(ends[-1][1])


@given(LADDERS, st.integers(-600, 600), st.integers(0, 300), st.integers(0, 8))
def test_points_of_a_range_are_those_of_the_values_in_it(ends, low, width, step):
    """In tenths; the fewest and the most are among those of the range's ends and of the values between."""
    facts = known(heat=Range(low / 10, (low + width) / 10))
    fewest, most = (float(end) for end in points_of(ladder(*ends), facts))
    inside = [Fraction(low, 10), Fraction(low + width, 10)]
    inside += [Fraction(at) for at, _ in ends if inside[0] <= at <= inside[1]]
    exact = [straight(ends, at) for at in inside]
    assert (fewest, most) == pytest.approx((float(min(exact)), float(max(exact))))
    between = float(straight(ends, Fraction(low, 10) + Fraction(width * step, 80)))
    assert fewest - 1e-9 <= between <= most + 1e-9
    sure = float(Taken(np.array(fewest), np.array(most)).sure)
    assert min(abs(fewest), abs(most)) == pytest.approx(abs(sure)) or sure == 0.0
    assert fewest <= sure <= most or sure == 0.0


@given(LADDERS, st.floats(-60, 60), st.floats(1e-6, 0.5))
def test_a_small_change_of_the_figure_is_a_small_change_of_the_points(ends, at, step):
    """No jump: what a step changes is at most what the steepest stretch climbs over it."""
    steepest = max(abs(last - first) / (high - low) for (low, first), (high, last) in pairwise(ends))
    found = [float(points_of(ladder(*ends), known(heat=value))[0]) for value in (at, at + step)]
    assert abs(found[1] - found[0]) <= steepest * step * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize("engine", ["reference", "auto"])
def test_each_candidate_loses_by_its_own_figure(engine):
    slope = ladder((1, 0), (2, 8))
    speaks = slope.conditions()
    even = rule("even", compare("load", ">", 3), *speaks, then=[Penalise(8.0, slope, place=PLACE)])
    columns = {"heat": numbers([0.5, 1.0, 1.25, 2.0, 9.0, float("nan")]), "load": numbers([4.0, 4, 4, 4, 2, 4])}
    found = run_stage("judge", Layered(((even,),)), known().with_columns(columns, BUILT), agenda(engine))
    (firing,) = found.firings
    assert firing.mask is not None
    assert firing.mask.tolist() == [False, False, True, True, False, False]
    assert firing.points == Taken(np.array([0, 0, 2.0, 8, 0, 0]), np.array([0, 0, 2.0, 8, 0, 0]))
    assert points_words(even, found.facts.at(2)) == "2 of 8 points off, at 1.25"


def test_over_a_range_only_what_is_sure_counts():
    slope = ladder((1, 0), (2, 8))
    even = rule("even", *slope.conditions(), then=[Penalise(8.0, slope, place=PLACE)])
    columns = {"heat": numbers([1.25, 0.5], [1.75, 1.75])}
    found = run_stage("judge", Layered(((even,),)), known().with_columns(columns, BUILT), agenda("reference"))
    (firing,) = found.firings
    assert firing.points is not None
    assert firing.points.sure.tolist() == [2.0, 0.0]
    assert firing.points.most.tolist() == [6.0, 0.0]
    assert points_words(even, found.facts.at(0)) == "2 to 6 of 8 points off, at 1.25 to 1.75"
    step = how("even", found.facts, found.firings, Shop((even,)), 0)
    assert step is not None
    assert step.lines()[1:3] == ["  2 to 6 of 8 points off, at 1.25 to 1.75", "  - as written > 1: true"]


class Shop:
    """Rules without a vocabulary."""

    vocabulary: dict[str, object] = {}  # noqa: RUF012

    def __init__(self, rules):
        self.rules = rules


# ---------------------------------------------------------------------------------------------------- the rules desk

NEAR_SURGE = RULE.replace("even", "near-surge").format(
    when="wastegate is external", points="penalise: 2 to 10 as surge margin goes from 40 % to 10 %"
)
CONCLUDE = """\
conclude:
  must:
    - takes: "10 points for wastegate is external; surge margin <= 10 % [near-surge]"
    - takes: "6 points for wastegate is external; surge margin <= 25 % [near-surge]"
    - takes: "2 points for wastegate is external [near-surge]"
    - fired for: "wastegate is external; surge margin is known [near-surge]"
"""


@pytest.fixture
def shop(tmp_path):
    folder = small_shop(tmp_path / "shop", "class", "law")
    (folder / "even.yaml").write_text(NEAR_SURGE, "utf-8")
    return folder


def test_a_script_says_who_loses_how_many_points(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "one.yaml", CONCLUDE)
    assert run(capsys, "replay", path, "--shop", shop)[0] == 0
    edit(path, "10 points", "9 points")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 1
    assert "the rule near-surge takes 9 points for" in out
    edit(path, "9 points for", "points for")
    code, out, _ = run(capsys, "replay", path, "--shop", shop)
    assert code == 2
    assert "so many points for such candidates are wanted here; write '18 points for" in out


def test_the_desk_sees_both_ends(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "one.yaml", CONCLUDE)
    _, out, _ = run(capsys, "cover", path, "--shop", shop, "--listing")
    line = next(line for line in out.splitlines() if "goes from 40 %" in line)
    assert line.count("both sides") == 2
    _, out, _ = run(capsys, "mutants", path, "--shop", shop)
    knowledge = load(shop)
    made = [mutant for mutant in mutants(knowledge.rule("near-surge"), knowledge) if "goes from" in mutant.words]
    assert [mutant.words.split(" in ")[0] for mutant in made] == [*["10 %", "10 points"] * 2, *["40 %", "2 points"] * 2]
    missed = [line for line in out.splitlines() if " in 'surge margin goes from" in line]
    assert len(missed) < len(made) / 2
    assert all("changes what 'one' concludes" in line for line in missed)
    document = tmp_path / "rules.md"
    assert run(capsys, "write-up", "near-surge", "--shop", shop, "--out", document)[0] == 0
    assert "2 to 10 points off the candidate as surge margin goes from 40 % to 10 %" in document.read_text("utf-8")
    assert run(capsys, "second-look", "near-surge", "--shop", shop)[0] == 0


def test_an_end_that_was_moved_is_a_call_that_changes(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "one.yaml")
    other = tmp_path / "other"
    shutil.copytree(shop, other)
    edit(other / "even.yaml", "to 10 %", "to 11 %")
    _, out, _ = run(capsys, "compare", other, path, "--shop", shop, "--points")
    before, after = re.findall(r"takes 2 to 10 points: (\d+) in all from 327 candidates", out)
    assert int(after) < int(before)
    assert "changes 1 of 1" in out
    _, out, _ = run(capsys, "try", "--answers", path, "--rules", shop, "--against", other, "--difference")
    was, now = (f"takes {int(total):,} points in all from 327 candidates (2 to 10 each)" for total in (before, after))
    assert f"near-surge: {was} before, now {now}\n" in out


def test_the_trace_says_from_how_few_to_how_many_points(shop, tmp_path, capsys):
    path = script(tmp_path / "calls" / "one.yaml")
    _, out, _ = run(capsys, "call", "--answers", path, "--json", "--shop", shop)
    (firing,) = [one for one in json.loads(out)["trace"] if one["rule"] == "near-surge"]
    assert firing["points"]["low"] == 2.0
    assert firing["points"]["high"] == 10.0
