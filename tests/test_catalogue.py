"""The catalogue: what is refused and where, what it makes, and the part closest to a caller's words.

Bounds of geometry are common practice, no source, unless a source is named beside the check.
"""

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from advisor.knowledge import check, load, shipped_folder
from advisor.knowledge.catalogue import Candidates, Catalogue
from advisor.knowledge.catalogue_files import MODELS, read
from advisor.knowledge.ends import kind_of, pipe_end, size_of
from advisor.knowledge.places import Fault

SHIPPED = shipped_folder() / "catalogue"

DATA = Path(__file__).parent / "data"
FAULTS = yaml.safe_load((DATA / "catalogue_faults.yaml").read_text(encoding="utf-8"))


def small(folder: Path, *changes: tuple[str, str, str]) -> Path:
    """The small catalogue, with each change (file, before, after) made in the one place where it fits."""
    copy = folder / "catalogue"
    shutil.copytree(DATA / "small_catalogue", copy)
    for file, before, after in changes:
        text = (copy / file).read_text(encoding="utf-8")
        assert text.count(before) == 1, before
        (copy / file).write_text(text.replace(before, after), encoding="utf-8")
    return copy


def row_of(file: str, code: str) -> str:
    """The line of the small catalogue that begins with a code."""
    lines = (DATA / "small_catalogue" / file).read_text(encoding="utf-8").splitlines(keepends=True)
    return next(line for line in lines if f": {code}," in line[:40])


def faults_of(folder: Path) -> list[str]:
    faults: list[Fault] = []
    read(folder, faults)
    return [str(fault) for fault in sorted(faults)]


def test_a_turbo_that_no_housing_fits_is_told_once_all_names_are_right(tmp_path):
    """A wheel that there isn't is told alone; what goes with nothing because of it follows when it is mended."""
    other = ("housings.yaml", "turbine wheels: [QT56]", "turbine wheels: [QT58]")
    (astray,) = faults_of(small(tmp_path / "astray", other))
    assert "there is no turbine wheel QT58; did you mean 'QT56'?" in astray
    row = row_of("turbines.yaml", "QT56")
    added = ("turbines.yaml", row, row + row.replace("QT56", "QT58"))
    folder = small(tmp_path / "mended", other, added)
    what = "no housing fits turbine wheel QT56 in frame tarn; add the wheel to the housings it fits"
    (fault,) = [fault for fault in faults_of(folder) if what in fault]
    line, column = map(int, fault.split(":")[1:3])
    written = (folder / "turbos.yaml").read_text("utf-8").splitlines()[line - 1]
    assert written[column - 1 :].startswith("TN-")


@pytest.mark.parametrize("ends", ["from: [manifold T3]", "to: [foot T3]"])
def test_ends_of_a_fitting_are_looked_at_though_its_price_can_not_be_read(ends, tmp_path):
    row = row_of("fittings.yaml", "FK-T3")
    slipped = row.replace(ends, ends.replace("T3", "T33")).replace("$24", "24")
    faults = faults_of(small(tmp_path, ("fittings.yaml", row, slipped)))
    told = [fault.split(": ", 1)[1] for fault in faults]
    end = ends.partition("[")[2].removesuffix("]")
    assert told[0].startswith(f"'{end}3' is no end that is known here; ")
    assert told[1:] == ["'24' has no unit; write it as in '$38'"]


def test_an_answered_piece_is_the_same_piece(tmp_path):
    row = row_of("fittings.yaml", "FK-T3")
    answer = row.replace("}", ", accepted: [{finding: far off, because: The last of the old sort are sold off.}]}")
    sound = read(small(tmp_path / "sound"), [])
    answered = read(small(tmp_path / "answered", ("fittings.yaml", row, answer)), [])
    assert answered.fittings == sound.fittings
    assert ([len(one.answered) for one in (sound, answered)]) == [0, 1]


@pytest.fixture(scope="module")
def shipped() -> Catalogue:
    faults: list[Fault] = []
    catalogue = read(SHIPPED, faults)
    assert [str(fault) for fault in faults] == []
    return catalogue


@pytest.fixture(scope="module")
def candidates(shipped: Catalogue) -> Candidates:
    return shipped.candidates()


def test_small_catalogue_is_sound(tmp_path: Path) -> None:
    assert faults_of(small(tmp_path)) == []


def test_frames_and_wheels_that_no_turbo_has_are_noted(tmp_path: Path) -> None:
    shutil.copytree(SHIPPED.parent, tmp_path / "shop")
    said = {}
    for file, key, code, new in (
        ("frames", "frame", "tarn", "cove"),
        ("compressor-wheels", "compressor wheel", "QC51", "QC99"),
        ("turbine-wheels", "turbine wheel", "QT52", "QT99"),
    ):
        path = tmp_path / "shop" / "catalogue" / f"{file}.yaml"
        lines = path.read_text("utf-8").splitlines()
        row = next(line for line in lines if f": {code}," in line)
        path.write_text("\n".join([*lines, row.replace(code, new)]) + "\n", "utf-8")
        mend = f"add a turbo with that {key.split()[-1]}, or leave it out"
        said[f"catalogue/{file}.yaml:{len(lines) + 1}"] = f"no turbo has {key} {new}; {mend}"
    found = [fault for fault in check(tmp_path / "shop") if "no turbo has" in fault.what]
    assert [(fault.severity, fault.finding, fault.about) for fault in found] == [
        ("note", "not needed", (fault.place,)) for fault in found
    ]
    notes = [str(fault) for fault in found]
    assert [(note.rsplit(":", 2)[0], note.split(": ", 1)[1]) for note in notes] == sorted(said.items())
    load(tmp_path / "shop")


def position(fault: str) -> tuple[str, int, int, str]:
    """By which faults are sorted."""
    file, line, column, words = fault.split(":", 3)
    return file, int(line), int(column), words


@pytest.mark.parametrize("case", FAULTS, ids=lambda case: case["says"][:50])
def test_fault_is_placed_and_says_how_to_mend_it(tmp_path: Path, case: dict[str, Any]) -> None:
    folder = small(tmp_path, (case["in"], case["from"], case["to"]))
    lines = (folder / case["fault in"]).read_text(encoding="utf-8").splitlines()
    line, column = next(
        (row, text.index(case["at"]) + 1) for row, text in enumerate(lines, 1) if case["at"] in text
    )
    expected = f"catalogue/{case['fault in']}:{line}:{column}: {case['says']}"
    assert faults_of(folder) == sorted([expected, *case.get("also", [])], key=position)


@pytest.mark.parametrize("name", ["fittings (2).yaml", "a copy.yaml"])
def test_a_copy_of_a_file_is_told_once_and_the_copy_is_blamed(tmp_path: Path, name: str) -> None:
    folder = small(tmp_path)
    shutil.copy(folder / "fittings.yaml", folder / name)
    count = (folder / "fittings.yaml").read_text("utf-8").count("{fitting:")
    assert faults_of(folder) == [
        f"catalogue/{name}:2:15: this file is likely a copy: all its {count} fittings stand in other files too; "
        "move it out of the folder, or give them codes of their own"
    ]


@pytest.mark.parametrize("content", ["", "# nothing yet\n", "turbos\n"])
def test_a_file_that_holds_no_part_of_a_catalogue_is_told_so(tmp_path: Path, content: str) -> None:
    folder = small(tmp_path)
    (folder / "more.yaml").write_text(content, "utf-8")
    (told,) = faults_of(folder)
    assert told.startswith("catalogue/more.yaml:1:1: the file holds no part of a catalogue; begin it with one of: ")


ALLOWED = [
    ("frames.yaml", "largest inducer: 56 mm", "largest inducer: 51.2 mm"),
    ("frames.yaml", "smallest inducer: 48 mm", "smallest inducer: 51.2 mm"),
    ("frames.yaml", "smallest housing ratio: 0.55", "smallest housing ratio: 0.63"),
    ("frames.yaml", "largest housing ratio: 0.85", "largest housing ratio: 0.63"),
    ("gates.yaml", "gate bore: 38 mm", "gate bore: 38.0 mm"),
    ("turbos.yaml", "price: $985", "price: $100"),
    ("turbos.yaml", "price: $985", "price: $50000"),
    ("gates.yaml", "price: $325", "price: $10"),
    ("fittings.yaml", "price: $24", "price: $1"),
    ("frames.yaml", "smallest housing ratio: 0.55", "smallest housing ratio: 0.2"),
    ("housings.yaml", "weight: 4.1 kg", "throat area: 6.4 cm2, weight: 4.1 kg"),
    ("housings.yaml", "weight: 4.1 kg", "throat area: 12.6 cm2, weight: 4.1 kg"),
]


@pytest.mark.parametrize(("file", "before", "after"), ALLOWED)
def test_bounds_themselves_are_allowed(tmp_path: Path, file: str, before: str, after: str) -> None:
    assert faults_of(small(tmp_path, (file, before, after))) == []


def test_duplicate_code_names_both_places(tmp_path: Path) -> None:
    row = row_of("fittings.yaml", "BL-1")
    (fault,) = faults_of(small(tmp_path, ("fittings.yaml", row, row + row.replace("BL-1", "GB-1"))))
    assert fault == (
        "catalogue/fittings.yaml:12:15: fitting GB-1 is there a second time (first at catalogue/fittings.yaml:10:15); "
        "give it a code of its own, or delete one"
    )


def test_same_combination_twice(tmp_path: Path) -> None:
    row = row_of("housings.yaml", "TN063D-T3")
    (fault,) = faults_of(small(tmp_path, ("housings.yaml", row, row + row.replace("TN063D", "TN063E"))))
    assert fault == (
        "catalogue/housings.yaml:3:15: with QT56 it makes the same combination as TN063D-T3; "
        "let a wheel have one of the two"
    )


def test_the_same_housing_for_another_wheel_is_no_repetition(tmp_path: Path) -> None:
    turbine, turbo, housing = (
        row_of(*of) for of in (("turbines.yaml", "QT56"), ("turbos.yaml", "TN-5156"), ("housings.yaml", "TN063D-T3"))
    )
    changes = (
        ("turbines.yaml", turbine, turbine + turbine.replace("QT56", "QT57")),
        ("turbos.yaml", turbo, turbo + turbo.replace("TN-5156", "TN-5157").replace("QT56", "QT57")),
        ("housings.yaml", housing, housing + housing.replace("TN063D", "TN063E").replace("QT56", "QT57")),
    )
    assert faults_of(small(tmp_path, *changes)) == []


def test_wheel_nobody_uses_in_a_housing(tmp_path: Path) -> None:
    row = row_of("turbines.yaml", "QT56")
    lonely = (
        ("turbines.yaml", row, row + row.replace("QT56", "QT57")),
        ("housings.yaml", "[QT56]", "[QT56, QT57]"),
    )
    (fault,) = faults_of(small(tmp_path, *lonely))
    assert fault == (
        "catalogue/housings.yaml:2:55: no turbo of frame tarn has turbine wheel QT57: with it, this fits nothing; "
        "correct the wheel or the frame"
    )


def test_entry_that_cannot_be_read_is_not_missed_elsewhere(tmp_path: Path) -> None:
    broken = ("wheels.yaml", "51.2 mm", "wide"), ("housings.yaml", "frame: tarn", "frame: tam")
    found = faults_of(small(tmp_path, *broken))
    assert len(found) == 2
    assert not any("QC51" in fault for fault in found)


def test_no_folder(tmp_path: Path) -> None:
    assert faults_of(tmp_path / "catalogue") == [
        "catalogue:1:1: holds no catalogue files; put the YAML files there"
    ]


def test_shop_is_as_large_as_a_real_counter(shipped: Catalogue, candidates: Candidates) -> None:
    assert len(shipped.frames) >= 5
    assert len(shipped.turbos) >= 25
    assert 450 <= len(candidates) <= 700
    assert len(set(candidates.codes)) == len(candidates)
    for turbo in shipped.turbos.values():
        housings = {one.housing.housing for one in candidates.combinations if one.turbo == turbo}
        assert 3 <= len(housings) <= 6, turbo.turbo


def test_geometry_lies_where_the_trade_knows_it(candidates: Candidates) -> None:
    """Common practice, no source: trim 50 to 58, turbine exducer share 0.82 to 0.90, A/R 0.55 to 1.45."""
    facts = candidates.facts
    trim = 100 * (facts["compressor inducer"] / facts["compressor exducer"]) ** 2
    assert trim == pytest.approx(facts["compressor trim"])
    assert trim.min() >= 50
    assert trim.max() <= 58
    share = facts["turbine exducer"] / facts["turbine inducer"]
    assert share.min() >= 0.82
    assert share.max() <= 0.90
    assert facts["housing ratio"].min() >= 0.55
    assert facts["housing ratio"].max() <= 1.45
    assert facts["compressor inducer"].min() == pytest.approx(0.048)
    assert facts["compressor inducer"].max() == pytest.approx(0.106)


def test_rotor_limit_keeps_each_wheel_below_its_material(candidates: Candidates) -> None:
    """Tip speed limits by material are trade figures, no source; rounding down loses little."""
    material = {"cast": 520.0, "forged": 550.0, "milled": 560.0, "titanium": 615.0}
    rotor = candidates.more["rotor_speed_limit"]
    tip = rotor * candidates.facts["compressor exducer"] / 2
    limit = np.array([material[name] for name in candidates.facts["wheel material"]])
    assert np.all(tip <= limit)
    assert np.all(tip > 0.98 * limit)
    assert candidates.geometry["tip_speed_limit"] == pytest.approx(tip)


def test_throat_areas_belong_to_their_ratios(shipped: Catalogue) -> None:
    """A/R is the throat's area over its radius, which must lie outside the wheel, but not far."""
    listed = [one for one in shipped.housings.values() if one.throat_area is not None]
    assert len(listed) >= 5
    for one in listed:
        radius = one.throat_area / (one.housing_ratio * 0.0254)
        wheels = [shipped.turbine_wheels[wheel].inducer / 2 for wheel in one.turbine_wheels]
        assert max(wheels) < radius < 2.5 * min(wheels)


def test_units_of_the_files_against_pint(candidates: Candidates) -> None:
    unit = pint.UnitRegistry()
    row = candidates.index("CG-6471-090D-T4-X44D")
    one, facts = candidates.combinations[row], candidates.facts
    assert one.turbo.rotor_speed_limit == pytest.approx(unit.Quantity(112500, "rpm").to("rad/s").magnitude)
    assert facts["turbine outlet size"][row] == pytest.approx(unit.Quantity(4, "inch").to("m").magnitude)
    assert facts["delivery days"][row] == pytest.approx(unit.Quantity(2, "day").to("s").magnitude)
    assert one.compressor.backsweep == pytest.approx(unit.Quantity(35, "degree").to("rad").magnitude)
    assert facts["compressor inducer"][row] == pytest.approx(unit.Quantity(64, "mm").to("m").magnitude)
    throat = next(one.throat_area for one in (c.housing for c in candidates.combinations) if one.throat_area)
    assert 5e-4 < throat < 60e-4


def test_a_combination_by_hand(candidates: Candidates) -> None:
    """64.0 mm over 88.2 mm is a trim of 52.65; turbo $1,620, housing $425, gate $385."""
    row = candidates.index("CG-6471-090D-T4-X44D")
    facts = {name: column[row] for name, column in candidates.facts.items()}
    assert facts["compressor trim"] == pytest.approx(52.653, abs=1e-3)
    assert facts["candidate price"] == 1620 + 425 + 385
    assert (facts["housing entry"], facts["housing foot"], facts["wastegate"]) == (
        "divided",
        "T4",
        "external",
    )
    assert facts["gate bore"] == pytest.approx(0.044)
    assert candidates.combinations[row].words == (
        "64 mm compressor, 71 mm turbine, 0.90 divided T4, 44 mm external gate, 360 degree journal bearing"
    )
    assert candidates.geometry["divided"][row]
    assert candidates.geometry["gate_external"][row]
    wheel = candidates.wheels[candidates.geometry["wheel"][row]]
    assert (wheel.code, wheel.exducer) == ("QC64", pytest.approx(0.0882))


def test_every_figure_of_the_files_arrives_in_si(tmp_path: Path) -> None:
    """By hand: an inch is 25.4 mm, a day 86,400 s, 138,000 rpm 14,451.3 rad/s, 33 degrees 0.57596 rad."""
    changes = (
        ("turbos.yaml", "bearing: journal 270, ported shroud: no", "bearing: ball, ported shroud: yes"),
        ("housings.yaml", "housing ratio: 0.63", "housing ratio: 0.63, throat area: 6.5 cm2"),
        ("wheels.yaml", "material: cast", "material: forged"),
    )
    faults: list[Fault] = []
    found = read(small(tmp_path, *changes), faults).candidates()
    assert not faults
    expected = {
        "candidate code": ["TN-5156-063D-T3", "TN-5156-063D-T3-X38D"], "frame": "tarn", "compressor inducer": 0.0512,
        "compressor exducer": 0.0705, "compressor trim": 52.74262, "wheel material": "forged", "ported shroud": True,
        "turbine inducer": 0.066, "turbine exducer": 0.056, "housing ratio": 0.63, "housing entry": "divided",
        "housing foot": "T3", "wastegate": ["none", "external"], "gate bore": [0.0, 0.038], "bearing": "ball",
        "compressor outlet size": 0.0508, "turbine outlet size": 0.0762, "candidate price": [1260.0, 1585.0],
        "delivery days": 518_400.0, "two stage": False, "wheel": 0, "compressor_exducer": 0.0705,
        "turbine_inducer": 0.066, "turbine_exducer": 0.056, "housing_ratio": 0.63, "divided": True,
        "gate_bore": [0.0, 0.038], "gate_external": [False, True], "tip_speed_limit": 14_451.326 * 0.0705 / 2,
        "ball_bearing": True, "thrust_angle": 2 * np.pi, "parallel": 1.0, "compressor_inducer": 0.0512,
        "turbine_tip_height": 0.0089, "turbine_blades": 11.0, "rotor_speed_limit": 14_451.326, "throat_area": 6.5e-4,
        "weight": [12.0, 13.7],
    }  # fmt: skip
    columns = {**found.facts, **found.geometry, **found.more}
    assert columns.keys() == expected.keys()
    for name, values in expected.items():
        wanted = values if isinstance(values, list) else [values, values]
        if columns[name].dtype == np.float64:
            assert columns[name] == pytest.approx(wanted, rel=1e-6), name
        else:
            assert columns[name].tolist() == wanted, name
    (wheel,) = found.wheels
    assert (wheel.code, wheel.full_blades, wheel.splitter_blades, wheel.ported_shroud) == ("QC51", 6, 6, True)
    sizes = (wheel.inducer, wheel.exducer, wheel.tip_height, wheel.hub_ratio, wheel.backsweep)
    assert sizes == pytest.approx((0.0512, 0.0705, 0.0047, 0.33, 0.575959))
    assert found.combinations[1].words == (
        "51.2 mm compressor, 56 mm turbine, 0.63 divided T3, 38 mm external gate, ball bearings"
    )


def test_gates_suit_their_housing(candidates: Candidates) -> None:
    """A gate needs a boss of its entry and of at least its bore; no gate, no bore."""
    for one in candidates.combinations:
        if one.gate is not None:
            assert one.housing.gate == "boss"
            assert one.gate.entry == one.housing.entry
            assert one.gate.gate_bore <= one.housing.gate_bore
        assert (one.wastegate == "none") == (one.gate_bore == 0)


def test_columns_are_whole_and_cannot_be_written(candidates: Candidates) -> None:
    for columns in (candidates.facts, candidates.geometry, candidates.more):
        for name, column in columns.items():
            assert column.shape == (len(candidates),), name
            if column.dtype == np.float64 and name != "throat_area":
                assert np.isfinite(column).all(), name
            with pytest.raises(ValueError, match="read-only"):
                column[0] = column[1]


def test_order_of_files_and_rows_makes_no_difference(tmp_path: Path, candidates: Candidates) -> None:
    turned = tmp_path / "catalogue"
    turned.mkdir()
    for number, file in enumerate(sorted(SHIPPED.glob("*.yaml"), reverse=True)):
        text = file.read_text(encoding="utf-8")
        head, *rows = text.split("\n  - ")
        (turned / f"{number}.yaml").write_text(
            "\n  - ".join([head, *(row.rstrip("\n") for row in reversed(rows))])
        )
    faults: list[Fault] = []
    again = read(turned, faults).candidates()
    assert faults == []
    assert again.codes == candidates.codes
    for name, column in candidates.facts.items():
        assert np.array_equal(column, again.facts[name]), name


def test_measured_maps_are_named_on_their_wheels(shipped: Catalogue, candidates: Candidates) -> None:
    assert len(shipped.map_names) >= 2
    for wheel in candidates.wheels:
        assert wheel.map == shipped.map_names.get(wheel.code)
    assert all((SHIPPED.parent / "maps" / f"{name}.csv").is_file() for name in shipped.map_names.values())


def test_reading_leaves_no_model_out(shipped: Catalogue) -> None:
    assert {key for key, _ in shipped.places} == set(MODELS)


@pytest.mark.parametrize(
    ("dash", "thread"),
    [(4, "7/16-20"), (6, "9/16-18"), (10, "7/8-14"), (12, "1 1/16-12")],
)
def test_oil_threads_follow_the_flare_standard(shipped: Catalogue, dash: int, thread: str) -> None:
    """SAE J514, 37 degree flare: dash size and thread (from memory)."""
    lines = [
        pair for part in shipped.fittings.values() for pair in part.joins if pair[1].endswith(f" {thread}")
    ]
    assert lines
    assert all(near.endswith(f"dash {dash}") for near, _ in lines)


@given(st.sampled_from([2, 2.5, 3, 3.5, 4, 5, 6]), st.sampled_from(["exhaust pipe", "charge pipe", "intake"]))
def test_pipe_names_and_sizes_agree(size: float, what: str) -> None:
    end = pipe_end(what, size * 0.0254)
    assert kind_of(end) is not None
    assert size_of(end) == pytest.approx(size * 0.0254)


def test_a_file_that_is_gone_is_named_and_not_what_lacks_it(tmp_path: Path) -> None:
    folder = small(tmp_path)
    (folder / "turbos.yaml").unlink()
    faults: list[Fault] = []
    read(folder, faults)
    assert [str(fault) for fault in faults] == [
        f"{folder.name}:1:1: no file here holds the turbos; put back the file that begins with 'turbos:'"
    ]
