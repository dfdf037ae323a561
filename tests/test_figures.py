"""Figures from outside: reading, refusals with places, the data, the picture."""

import json
import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.testing import assert_allclose

from advisor import figures, figures_text
from advisor.cli import main
from advisor.knowledge.places import KnowledgeError
from advisor.matching import air, gas, turbine
from advisor.matching.model import MODEL
from advisor.matching.statement import BANDED, FASTER, UNITS
from advisor.pictures import draw

ROOT = Path(__file__).parent.parent
GOOD = """\
engine:
  displacement: 6.7 L
  cylinders: 6
  compression ratio: 17.3
  rpm limit: 3,200 rpm
place:
  altitude: 1,500 ft
  temperature: 85 F
duty:
  power: 450 hp
  at: 2,800 rpm
  from: 1,400 rpm
  to: 3,200 rpm
turbos:
  - turbo: the 64
    compressor inducer: 64 mm
    compressor exducer: 88 mm
    turbine inducer: 74 mm
    turbine exducer: 65 mm
    housing ratio: 0.90
  - turbo: the 66 with a gate
    compressor inducer: 66 mm
    compressor exducer: 91 mm
    turbine inducer: 74 mm
    turbine exducer: 65 mm
    housing ratio: 0.90
    housing entry: divided
    wastegate: external
    gate bore: 38 mm
    material: milled
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "ask.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> dict:  # type: ignore[type-arg]
    return figures.read(written(tmp_path_factory.mktemp("figures"), GOOD)).line()


def test_the_line_is_json_with_a_unit_for_every_figure(line: dict) -> None:  # type: ignore[type-arg]
    again = json.loads(figures_text.as_json(line))
    assert again["units"] == dict(UNITS)
    assert [t["turbo"] for t in again["turbos"]] == ["the 64", "the 66 with a gate"]
    for turbo in again["turbos"]:
        assert len(turbo["points"]) == 12
        for point in turbo["points"]:
            assert set(UNITS) <= set(point)
            assert point["residual"] <= again["tolerance"]
            assert set(point["bands"]) == set(BANDED)
            for name, (low, high) in point["bands"].items():
                assert low is None or low <= point[name] + 1e-6 * abs(point[name])
                assert high is None or point[name] <= high + 1e-6 * abs(high)


def test_the_place_is_the_standard_atmospheres(line: dict) -> None:  # type: ignore[type-arg]
    """US Standard Atmosphere 1976 at 1,500 ft (457.2 m): 95,952 Pa (table: 95,953 at 457 m)."""
    assert line["place"]["pressure"] == pytest.approx(95_952.0, abs=2.0)
    assert line["place"]["temperature"] == pytest.approx((85.0 + 459.67) / 1.8)


def test_anyone_can_check_the_powers_from_the_data_alone(line: dict) -> None:  # type: ignore[type-arg]
    """Gas enthalpy drop = shaft power = air x cp x rise over the compressor, from the printed figures."""
    for turbo in line["turbos"]:
        for p in turbo["points"]:
            total, burnt = p["air"] + p["fuel"], gas.burnt_share(p["lam"])
            drop = gas.enthalpy(p["exhaust temperature"], burnt) - gas.enthalpy(p["turbine outlet temperature"], burnt)
            rise = p["compressor outlet temperature"] - line["place"]["temperature"]
            assert total * drop == pytest.approx(p["shaft power"], rel=1e-4)
            assert p["air"] * MODEL.air_specific_heat * rise == pytest.approx(p["shaft power"], rel=1e-9)


def test_gate_holds_what_the_demand_asks(line: dict) -> None:  # type: ignore[type-arg]
    gated = line["turbos"][1]["points"]
    held = [p for p in gated if p["gate holds"]]
    assert held
    assert_allclose([p["boost"] for p in held], line["demand"]["boost held by a gate"], rtol=1e-7)


def test_constants_may_be_set_to_follow_a_published_engine(tmp_path: Path) -> None:
    asked = figures.read(written(tmp_path, GOOD + "constants:\n  heat loss: 0.10\n  stoichiometric ratio: 14.75\n"))
    assert asked.model.heat_loss == 0.10
    cooler = asked.line()["turbos"][0]["points"][6]["exhaust temperature"]
    plain = figures.read(written(tmp_path, GOOD)).line()["turbos"][0]["points"][6]["exhaust temperature"]
    assert cooler < plain


def test_boost_limit_sets_the_gate(tmp_path: Path) -> None:
    asked = figures.read(written(tmp_path, GOOD.replace("  to: 3,200 rpm", "  to: 3,200 rpm\n  boost limit: 28 psi")))
    last = asked.line()["turbos"][1]["points"][-1]
    assert last["boost"] - asked.place.pressure == pytest.approx(28.0 * 6894.757, rel=1e-5)


def test_what_did_not_converge_has_no_figures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.matching.balance.TOLERANCE", -1.0)
    point = figures.read(written(tmp_path, GOOD)).line()["turbos"][0]["points"][0]
    assert point["converged"] is False
    assert set(point) == {"converged", "gate holds", "off the map", "engine speed", "residual"}


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("displacement: 6.7 L", "displacement: 6.7 furlongs", "ask.yaml:2:17: 'furlongs' is no unit"),
        ("cylinders: 6\n", "cylinders: six\n", "ask.yaml:3:14: 'six' is no whole number"),
        ("to: 3,200 rpm", "to: 1,200 rpm", "ask.yaml:13:7: 'to' is not above 'from'"),
        ("at: 2,800 rpm", "at: 3,900 rpm", "ask.yaml:11:7: 'at' is not between"),
        ("    gate bore: 38 mm\n", "", "ask.yaml:21:5: a wastegate without a bore"),
        (
            "compressor inducer: 64 mm",
            "compressor inducer: 94 mm",
            "ask.yaml:15:5: the compressor's inducer is not smaller",
        ),
        (
            "turbine exducer: 65 mm\n    housing ratio: 0.90\n  -",
            "turbine exducer: 85 mm\n    housing ratio: 0.90\n  -",
            "ask.yaml:15:5: the turbine's exducer is larger",
        ),
        ("    compressor inducer: 64 mm\n", "", "ask.yaml:15:5: neither a measured map nor"),
        ("    compressor inducer: 64 mm\n", "    measured map: none.csv\n", "ask.yaml:16:19: 'none.csv' can't be read"),
        (
            "duty:",
            "constants:\n  heat los: 0.1\nduty:",
            "'heat los' is no constant of the model; did you mean 'heat loss'?",
        ),
        ("housing ratio: 0.90\n  -", "housing ration: 0.90\n  -", "'housing ration' is not a key that is known here"),
    ],
)
def test_refusals_say_what_where_and_how_to_mend(tmp_path: Path, old: str, new: str, wanted: str) -> None:
    assert old in GOOD
    with pytest.raises(KnowledgeError) as refused:
        figures.read(written(tmp_path, GOOD.replace(old, new, 1)))
    assert any(wanted in str(fault) for fault in refused.value.faults), str(refused.value)
    assert all(fault.mend for fault in refused.value.faults)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="there is no such file"):
        figures.read(tmp_path / "gone.yaml")


def test_pictures_are_the_same_from_run_to_run(tmp_path: Path, line: dict) -> None:  # type: ignore[type-arg]
    asked = figures.read(written(tmp_path, GOOD))
    for name in ("a.svg", "b.svg"):
        draw(line, asked.tables, asked.rows, tmp_path / name)
    first = (tmp_path / "a.svg").read_bytes()
    assert first == (tmp_path / "b.svg").read_bytes()
    drawn = "".join(ElementTree.fromstring(first).itertext())
    for words in ("the 64 (predicted map)", "the 66 with a gate", "pressure ratio", "drive pressure", "engine speed"):
        assert words in drawn
    draw(line, asked.tables, asked.rows, tmp_path / "a.png")
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")


def test_other_kinds_of_picture_are_refused(tmp_path: Path, line: dict) -> None:  # type: ignore[type-arg]
    asked = figures.read(written(tmp_path, GOOD))
    with pytest.raises(ValueError, match=r"\.png or \.svg"):
        draw(line, asked.tables, asked.rows, tmp_path / "a.gif")


def test_expansion_of_the_data_passes_the_gas(line: dict) -> None:  # type: ignore[type-arg]
    """Swallowing of the 64's turbine (ungated) worked out from its sizes: the data's gas flow."""
    from advisor.matching.inputs import machines

    made = machines(
        {
            "wheel": 0,
            "compressor_exducer": 0.088,
            "turbine_inducer": 0.074,
            "turbine_exducer": 0.065,
            "housing_ratio": 0.9,
        }
    )
    area = float(turbine.effective_area(made)[0])
    for p in line["turbos"][0]["points"]:
        constant = float(air.gas_constant(p["lam"]))
        flow = turbine.swallowed(
            area, p["drive pressure"], p["exhaust temperature"], constant, p["expansion ratio"], MODEL
        )
        assert float(flow) == pytest.approx(p["air"] + p["fuel"], rel=1e-5)
        assert np.isfinite(p["boost"])


PAIR = (
    GOOD.replace(
        "    gate bore: 38 mm\n",
        "    gate bore: 38 mm\n    fed by: the big one\n    cooler between: 60 %\n",
    )
    + """\
  - turbo: the big one
    compressor inducer: 82 mm
    compressor exducer: 114 mm
    turbine inducer: 96 mm
    turbine exducer: 86 mm
    housing ratio: 1.25
"""
)


def test_a_turbo_fed_by_another_makes_a_pair(tmp_path: Path) -> None:
    line = figures.read(written(tmp_path, PAIR.replace("power: 450 hp", "power: 750 hp"))).line()
    assert [p["turbo"] for p in line["pairs"]] == ["the 66 with a gate fed by the big one"]
    solved = [p for p in line["pairs"][0]["points"] if p["converged"]]
    assert len(solved) == 12
    for point in solved:
        low, high = point["low"], point["high"]
        assert set(UNITS) <= set(low) & set(high)
        assert low["pressure ratio"] * high["pressure ratio"] == pytest.approx(point["pressure ratio"], rel=1e-9)
        assert low["shaft power"] + high["shaft power"] == pytest.approx(point["shaft power"], rel=1e-9)
        assert point["residual"] <= line["tolerance"]
        assert point["thrust index"] == max(low["thrust index"], high["thrust index"])
        assert set(point["bands"]) == set(BANDED)
    pair = line["pairs"][0]
    earliest, latest = pair["boost stands at band"]
    assert earliest <= pair["boost stands at"] <= (latest or np.inf)
    assert 0.1 < pair["seconds to boost"] < 20.0
    assert [t["turbo"] for t in line["turbos"]] == ["the 64"]
    assert "fed by the big one" in figures_text.as_text(line)


def test_a_wheel_that_turns_too_fast_is_told_in_words(tmp_path: Path) -> None:
    """Of a pair each stage by its turbo, at the engine speeds where its own margin is below nothing."""
    small = PAIR.replace("power: 450 hp", "power: 1,100 hp").replace("housing ratio: 1.25", "housing ratio: 0.90")
    small = small.replace("    wastegate: external\n    gate bore: 38 mm\n", "")
    line = figures.read(written(tmp_path, small)).line()
    said = " ".join(figures_text.as_text(line).split())
    pair = line["pairs"][0]
    for name in ("low", "high"):
        fast = [p[name]["tip speed margin"] < 0.0 for p in pair["points"] if name in p]
        assert (f"the {name} stage's wheel ({pair[name]}) turns past its safe tip speed" in said) == any(fast)
    assert "turns past its safe tip speed: it can burst." in said
    single = figures.read(written(tmp_path, GOOD.replace("power: 450 hp", "power: 300 hp"))).line()
    told = figures_text.as_text(single).count("the compressor wheel turns")
    fast = [any(p["tip speed margin"] < 0.0 for p in turbo["points"]) for turbo in single["turbos"]]
    assert told == sum(fast) == 1  # the one without a gate


def test_a_pair_is_drawn_on_both_maps(tmp_path: Path) -> None:
    asked = figures.read(written(tmp_path, PAIR.replace("power: 450 hp", "power: 750 hp")))
    assert asked.rows == (0, 2, 1)
    draw(asked.line(), asked.tables, asked.rows, tmp_path / "pair.svg")
    drawn = "".join(ElementTree.fromstring((tmp_path / "pair.svg").read_bytes()).itertext())
    for words in ("the big one, takes outside air", "the 66 with a gate, on the manifold", "the 64 (predicted map)"):
        assert words in drawn


def test_where_a_measured_map_says_nothing_there_are_no_figures(tmp_path: Path) -> None:
    """A 66 mm map of the demo shop on an engine that overspeeds it without a gate: refused past its fastest line, with
    the words; the same wheel's predicted map, which is good further, gives figures."""
    shutil.copy(ROOT / "rules" / "maps" / "qc66.csv", tmp_path / "qc66.csv")
    sizes = "    compressor inducer: 64 mm\n    compressor exducer: 88 mm\n"
    text = GOOD.replace(sizes, "    measured map: qc66.csv\n", 1).replace("ratio: 0.90", "ratio: 0.55", 1)
    line = figures.read(written(tmp_path, text.replace("power: 450 hp", "power: 600 hp"))).line()
    points = line["turbos"][0]["points"]
    refused = [p for p in points if p["off the map"] == FASTER]
    assert refused
    assert all(p["converged"] and "boost" not in p for p in refused)
    assert all("boost" in p for p in points if p["off the map"] is None)
    assert f"rpm {FASTER}" in " ".join(figures_text.as_text(line).split())
    predicted = figures.read(written(tmp_path, GOOD.replace("power: 450 hp", "power: 600 hp"))).line()
    assert all("boost" in p for turbo in predicted["turbos"] for p in turbo["points"])


def test_the_feeding_turbo_has_its_own_gate(tmp_path: Path) -> None:
    """It holds the pressure between the stages where its share of the whole says, and passes gas for it."""
    gated = PAIR.replace("power: 450 hp", "power: 750 hp").replace("housing ratio: 1.25", "housing ratio: 0.90")
    gated += "    wastegate: external\n    gate bore: 50 mm\n"
    share = gated.replace("cooler between: 60 %", "cooler between: 60 %\n    low stage share: 45 %")
    for text, part in ((gated, 0.55), (share, 0.45)):
        line = figures.read(written(tmp_path, text)).line()
        held = [p for p in line["pairs"][0]["points"] if p["converged"] and p["low"]["gate holds"]]
        assert held
        whole = line["demand"]["boost held by a gate"] / line["place"]["pressure"]
        assert_allclose([p["low"]["pressure ratio"] for p in held], whole**part, rtol=1e-6)
        assert all(p["low"]["gate share"] > 0.0 for p in held)


def test_the_example_for_developers_runs(tmp_path: Path) -> None:
    """The file in DEVELOPERS.md, beside the demo shop's `rules/`, and every key that it names."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("## Figures from outside")[1].split("\n## ")[0]
    (example,) = re.findall(r"```yaml\n(.*?)```", section, re.DOTALL)
    (tmp_path / "rules").symlink_to(ROOT / "rules")
    file = written(tmp_path, example)
    assert main(["figures", str(file)]) == 0
    line = figures.read(file).line()
    assert all(p["converged"] for p in line["pairs"][0]["points"])
    told = set(re.findall(r"^\| `(.*?)`", section, re.MULTILINE)) | {"demand"}
    assert told - {"points", "place`, `demand"} <= set(line)
    assert {"units", "tolerance", "place", "demand", "turbos", "pairs"} == set(line)
    pair = line["pairs"][0]
    assert {"map", "boost stands at", "seconds to boost", "points", "low", "high"} <= set(pair)


def test_an_unknown_feeder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        KnowledgeError, match="is not the name of one other turbo of this file; did you mean 'the big one'"
    ):
        figures.read(written(tmp_path, PAIR.replace("fed by: the big one", "fed by: the bigg one")))


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("fed by: the big one", "fed by: the 66 with a gate", "is not the name of one other turbo of this file; give"),
        ("ratio: 1.25\n", "ratio: 1.25\n    fed by: the 64\n", "'the big one' is itself fed by"),
        ("ratio: 0.90\n  -", "ratio: 0.90\n    fed by: the big one\n  -", "feeds more than one"),
    ],
)
def test_series_means_two(tmp_path: Path, old: str, new: str, wanted: str) -> None:
    assert old in PAIR
    with pytest.raises(KnowledgeError) as refused:
        figures.read(written(tmp_path, PAIR.replace(old, new, 1)))
    assert any(wanted in str(fault) for fault in refused.value.faults), str(refused.value)
