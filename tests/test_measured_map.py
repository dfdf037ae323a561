"""Measured maps: reading, faults with places, interpolation against open rigs, the shop's maps."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matching_cases import bench, single
from scipy.interpolate import PchipInterpolator

from advisor.matching.measured import MapError, MapFault, read_map
from advisor.matching.speedlines import SpeedLines, monotone_cubic, tables_for
from advisor.matching.statement import BEYOND, FASTER, LEFT, SLOWER, off_the_map

ROOT = Path(__file__).parent.parent
HEAD = "# reference temperature: 288.15 K\n# reference pressure: 101.325 kPa\n# exducer: {} mm\n"
COLUMNS = "speed line,corrected speed [rpm],corrected flow [kg/s],pressure ratio,efficiency [fraction]\n"
DIAMETER = {"HECC_vaneless": 431.8, "Eckardt_O": 400.0}


def rig_rows(rig: str) -> dict[str, list[dict[str, str]]]:
    """Measured points by percent speed, from surge to choke; the file's head names the sources."""
    lines: dict[str, list[dict[str, str]]] = {}
    with (ROOT / "tests" / "data" / "open_rig_maps.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(line for line in file if not line.startswith("#")):
            if row["rig"] == rig:
                lines.setdefault(row["speed_pct"], []).append(row)
    return {speed: sorted(lines[speed], key=lambda row: float(row["mcorr_kgs"])) for speed in sorted(lines, key=float)}


def rig_text(rig: str, without: str = "") -> str:
    rows = [row for speed, line in rig_rows(rig).items() if speed != without for row in line]
    points = (f"{r['speed_pct']},{r['Ncorr_rpm']},{r['mcorr_kgs']},{r['PR']},{r['eta']}\n" for r in rows)
    return HEAD.format(DIAMETER[rig]) + COLUMNS + "".join(points)


@pytest.mark.parametrize(
    ("rig", "speed", "ratio_error", "points"),
    [
        ("HECC_vaneless", "90", 0.004, 0.005),
        ("HECC_vaneless", "95", 0.004, 0.005),
        ("Eckardt_O", "75", 0.008, 0.005),
        ("Eckardt_O", "88", 0.008, 0.005),
        # the outermost lines: one speed step beyond what was measured
        ("HECC_vaneless", "85", 0.010, 0.020),
        ("HECC_vaneless", "100", 0.016, 0.016),
        ("Eckardt_O", "62", 0.010, 0.010),
        ("Eckardt_O", "100", 0.016, 0.014),
    ],
)
def test_a_speed_line_left_out(rig: str, speed: str, ratio_error: float, points: float) -> None:
    """Open rigs: a whole speed line left out is predicted from the others, pressure ratio (relative) and
    efficiency (absolute) within the error stated."""
    lines = SpeedLines(read_map(rig_text(rig, without=speed), rig))
    measured = lines.measured
    for row in rig_rows(rig)[speed]:
        mach = float(measured.tip_mach(np.array(float(row["Ncorr_rpm"]) * np.pi / 30.0)))
        phi = float(row["mcorr_kgs"]) / measured.flow_scale / mach
        ratio, efficiency = lines.at(mach, np.array([phi]))
        assert ratio[0] == pytest.approx(float(row["PR"]), rel=ratio_error)
        assert efficiency[0] == pytest.approx(float(row["eta"]), abs=points)


@pytest.mark.parametrize("rig", DIAMETER)
def test_measured_points_are_kept(rig: str) -> None:
    """On its own points the surface is within 0.3 % of the pressure ratio (speeds wander a little within a
    line), and the table made from it within 1 % of speed and a point of efficiency."""
    lines = SpeedLines(read_map(rig_text(rig), rig))
    table = lines.tables()
    assert not table.predicted[0]
    row = np.array([0])
    for line in rig_rows(rig).values():
        for point in line[1:-1]:
            mach = float(lines.measured.tip_mach(np.array(float(point["Ncorr_rpm"]) * np.pi / 30.0)))
            phi = float(point["mcorr_kgs"]) / lines.measured.flow_scale / mach
            ratio, efficiency = lines.at(mach, np.array([phi]))
            assert ratio[0] == pytest.approx(float(point["PR"]), rel=0.003)
            assert efficiency[0] == pytest.approx(float(point["eta"]), abs=0.003)
            found, tip = table.at(row, np.array([phi * mach]), np.array([float(point["PR"])]))
            assert tip[0] == pytest.approx(mach, rel=0.01)
            assert found[0] == pytest.approx(float(point["eta"]), abs=0.011)


def test_dimensionless_numbers_of_the_rig() -> None:
    """The rig's tip Mach number and flow coefficient, worked out by others, within their rounding."""
    measured = read_map(rig_text("HECC_vaneless"), "rig")
    for line in rig_rows("HECC_vaneless").values():
        for row in line:
            mach = float(measured.tip_mach(np.array(float(row["Ncorr_rpm"]) * np.pi / 30.0)))
            assert mach == pytest.approx(float(row["M"]), rel=5e-4)
            phi = float(row["mcorr_kgs"]) / measured.flow_scale / mach
            assert phi == pytest.approx(float(row["phi"]), rel=1e-3)


def test_refused_outside_with_a_clear_word() -> None:
    """Beyond what the rig measured a point has no figures; left of surge and below the slowest line it says so."""
    table = SpeedLines(read_map(rig_text("HECC_vaneless"), "the rig's map")).tables()
    points = [(1.37, 0.040), (1.1, 0.040), (1.6, 0.040), (1.37, 0.030), (1.37, 0.050)]
    on = [bool(table.on_map(np.array([0]), np.array([m * phi]), np.array([m]))[0]) for m, phi in points]
    assert on == [True, False, False, False, False]
    mach, number = np.array([points]).T
    stock, _ = single()
    found = replace(
        bench(made=(stock, table)).match(),
        tip_speed=mach.T * np.sqrt(1.4 * 287.05 * 288.15),
        corrected_air=(mach * number).T * table.reference_flow(0),
    )
    words, refused = off_the_map(found, stock, table, 288.15)
    assert words.tolist() == [["", SLOWER, FASTER, LEFT, BEYOND]]
    assert refused.tolist() == [[False, False, True, False, True]]


# --- interpolation


@given(st.lists(st.tuples(st.floats(0.05, 2.0), st.integers(-5000, 5000)), min_size=3, max_size=12))
def test_monotone_cubic_against_scipy(steps: list[tuple[float, int]]) -> None:
    """scipy's PchipInterpolator is the same interpolant; between points it stays between their values."""
    x = np.cumsum([step for step, _ in steps])
    y = np.array([value / 1000.0 for _, value in steps])
    at = np.linspace(x[0], x[-1], 57)
    ours = monotone_cubic(x, y, at)
    np.testing.assert_allclose(ours, PchipInterpolator(x, y)(at), rtol=1e-9, atol=1e-9)
    cell = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    low, high = np.minimum(y[cell], y[cell + 1]), np.maximum(y[cell], y[cell + 1])
    assert np.all((ours >= low) & (ours <= high))


def test_two_lines_are_joined_straight_and_ends_are_held() -> None:
    y = np.array([[1.0, 4.0], [3.0, 2.0]])
    found = monotone_cubic(np.array([1.0, 2.0]), y, np.array([0.0, 1.5, 9.0]))
    np.testing.assert_allclose(found, [[1.0, 4.0], [2.0, 3.0], [3.0, 2.0]])


# --- faults

GOOD = HEAD.format(91.6) + (
    "corrected speed [rpm],corrected flow [lb/min],pressure ratio,efficiency [%]\n"
    "60000,18.0,1.55,70.0\n60000,26.0,1.53,77.0\n60000,34.0,1.45,74.0\n60000,40.0,1.30,65.0\n"
    "90000,36.0,2.55,70.0\n90000,48.0,2.50,77.5\n90000,58.0,2.35,76.0\n90000,66.0,1.95,66.0\n"
)


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("# exducer: 91.6 mm\n", "", "1:1", "exducer is not stated; add a line '# exducer: 91.6 mm'"),
        ("288.15 K", "288.15", "1:26", "reference temperature needs a number and a unit"),
        ("288.15 K", "288.15 furlongs", "1:26", "no unit of temperature"),
        ("288.15 K", "15 K", "1:26", "can't be right"),
        ("# exducer: 91.6 mm\n", "# exducer: 91.6 mm\n# exducer: 92 mm\n", "4:1", "exducer is stated twice"),
        (",pressure ratio", "", "4:1", "the map lacks pressure ratio"),
        ("efficiency [%]", "efficiency", "4:62", "efficiency has no unit; write 'efficiency [%]'"),
        ("flow [lb/min]", "flow [cfm]", "4:23", "no unit of mass flow"),
        (
            "pressure ratio",
            "pressure ration",
            "4:47",
            "there is no column 'pressure ration'; did you mean 'pressure ratio'?",
        ),
        ("efficiency [%]", "efficiency [%],efficiency [%]", "4:77", "column 'efficiency' stands there twice"),
        ("26.0,1.53,77.0", "26.0,1.53", "6:1", "3 values where the heading names 4 columns"),
        ("26.0,1.53", "26.0, 1.5x", "6:13", "pressure ratio '1.5x' is no number"),
        ("26.0,1.53", "26.0,nan", "6:12", "pressure ratio 'nan' is no number"),
        ("26.0,1.53,77.0", "26.0,1.53,0.77", "6:17", "efficiency of 0.77 % can't be right"),
        ("60000,26.0", "60000,16.0", "6:1", "flow does not grow along the line at 60,000 rpm"),
        ("40.0,1.30", "40.0,1.52", "8:1", "pressure ratio rises again"),
        ("58.0,2.35,76.0", "58.0,2.35,31.0", "11:1", "this point takes more work"),
        ("91.6 mm", "9.16 in", "9:1", "this point takes less work"),
        (
            "90000,66.0,1.95,66.0\n",
            "90000,66.0,1.95,66.0\n99000,70.0,2.0,70.0\n",
            "13:1",
            "fewer than 3 points",
        ),
    ],
)
def test_faults_name_place_and_mend(old: str, new: str, place: str, words: str) -> None:
    assert old in GOOD
    with pytest.raises(MapError) as caught:
        read_map(GOOD.replace(old, new, 1), "maps/wheel.csv")
    lines = str(caught.value).splitlines()
    assert any(line.startswith(f"maps/wheel.csv:{place}: ") and words in line for line in lines), lines
    assert all("; " in line for line in lines)


def test_all_faults_at_once_in_order() -> None:
    text = GOOD.replace("26.0,1.53", "26.0,high").replace("288.15 K", "288.15").replace("[lb/min]", "[cfm]")
    with pytest.raises(MapError) as caught:
        read_map(text, "m.csv")
    assert [fault.line for fault in caught.value.faults] == [1, 4, 6]


def test_crossing_and_doubled_lines() -> None:
    with pytest.raises(MapError, match="crosses the slower one"):
        read_map(GOOD.replace("34.0,1.45", "36.5,1.53").replace("26.0,1.53", "26.0,1.54")
                 .replace("40.0,1.30", "40.0,1.52").replace("90000,36.0,2.55", "90000,36.0,1.50")
                 .replace("36.0,1.50,70.0", "36.0,1.50,40.0"), "m.csv")  # fmt: skip
    with pytest.raises(MapError, match="two lines at about 60,000 rpm"):
        read_map(GOOD + "60000,18.5,1.55,70.0\n60000,26.5,1.53,77.0\n60000,34.5,1.45,74.0\n", "m.csv")
    with pytest.raises(MapError, match="needs two speed lines"):
        read_map("".join(GOOD.splitlines(keepends=True)[:8]), "m.csv")
    with pytest.raises(MapError, match="has no points"):
        read_map(HEAD.format(80), "m.csv")


@settings(max_examples=300)
@given(st.text(max_size=300), st.integers(0, len(GOOD)))
def test_any_text_is_a_map_or_a_list_of_faults(noise: str, at: int) -> None:
    for text in (noise, GOOD[:at] + noise + GOOD[at:], GOOD[:at]):
        faults: tuple[MapFault, ...] = ()
        count = 0
        try:
            count = len(read_map(text, "m.csv").lines)
        except MapError as error:
            faults = error.faults
        assert count >= 2 or faults


def test_units_and_references_lead_to_the_same_map() -> None:
    """lb/min against kg/s, percent against fraction, and 302.8 K, 96.2 kPa against 288.15 K, 101.325 kPa: the
    same wheel in the same numbers without dimension."""
    other = GOOD.replace("288.15 K", "85.4 °F").replace("101.325 kPa", "96.2 kPa").replace("[%]", "[fraction]")
    factor = np.sqrt(288.15 / 302.817) * (96.2 / 101.325)
    speed = np.sqrt(302.817 / 288.15)
    rows = []
    for line in other.splitlines():
        if line[0].isdigit():
            n, flow, ratio, efficiency = (float(cell) for cell in line.split(","))
            kilograms = flow * factor * 0.45359237 / 60.0
            line = f"{n * speed},{kilograms},{ratio},{efficiency / 100.0}"
        rows.append(line)
    one = SpeedLines(read_map(GOOD, "a"))
    same = SpeedLines(read_map("\n".join(rows).replace("[lb/min]", "[kg/s]"), "b"))
    np.testing.assert_allclose(one.mach, same.mach, rtol=1e-5)
    np.testing.assert_allclose(one.line(one.mach), same.line(same.mach), rtol=1e-4)


# --- the shop's maps


class Listed:
    """A wheel as a catalogue lists it."""

    inducer, exducer, tip_height, hub_ratio = 0.066, 0.0916, 0.0065, 0.30
    full_blades, splitter_blades, backsweep = 6, 6, 0.663
    material, ported_shroud = "milled", True

    def __init__(self, map: str | None) -> None:
        self.map = map


@pytest.mark.parametrize("path", sorted((ROOT / "rules" / "maps").glob("*.csv")), ids=lambda path: path.stem)
def test_shop_maps_read_clean_and_say_they_are_invented(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "INVENTED" in text
    lines = SpeedLines(read_map(text, f"maps/{path.name}"))
    assert len(lines.mach) >= 6
    random = np.random.default_rng(5)
    flow, ratio = random.uniform(0.0, 1.0, 20_000), random.uniform(1.0, 8.0, 20_000)
    efficiency, tip = lines.tables().at(np.zeros(20_000, dtype=np.int64), flow, ratio)
    assert np.isfinite(efficiency).all()
    assert np.isfinite(tip).all()


def test_a_catalogue_mixes_measured_and_predicted() -> None:
    text = (ROOT / "rules" / "maps" / "qc66.csv").read_text(encoding="utf-8")
    table = tables_for([Listed(None), Listed("qc66"), Listed(None)], {"qc66": text})
    assert table.predicted.tolist() == [True, False, True]
    assert table.efficiency_spread[1] < table.efficiency_spread[0]
    rows = np.array([0, 1, 2])
    efficiency, tip = table.at(rows, np.full(3, 0.12), np.full(3, 2.4))
    assert tip[0] == tip[2]
    assert tip[1] == pytest.approx(tip[0], rel=0.05)
    assert efficiency[1] == pytest.approx(efficiency[0], abs=0.03)
