"""Well-known kinds of build, and whether the match gives what experienced people expect of them.

All ranges are common practice, no source: what owners and tuners of such trucks read off their gauges, from memory and
taken wide. Drive pressure alone stands apart: gauges read 0.9 to 1.3 times the boost, the match 0.65 to 1.0, since its
turbine efficiency is that of a published heavy-duty engine (see `matching/model.py`) and gauges feel pulses too.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from advisor import figures
from advisor.matching.pair_statement import pair_lines
from advisor.matching.statement import operating_line

Range = tuple[float, float]
PSI, HP, POUND_MINUTE = 6894.757293168, 745.6998715822702, 0.45359237 / 60.0


@dataclass(frozen=True)
class Build:
    """Engine (litres, cylinders, compression ratio, rpm limit, mm3 a stroke), altitude ft and day °F, duty (hp at rpm,
    band, smoke and target lambda), turbo in mm (inducer, exducer, turbine inducer and exducer, A/R, entry, gate bore);
    and what comes out at the goal: hp, boost psi, exhaust °F, shaft thousand rpm, rpm from which boost stands."""

    name: str
    engine: tuple[float, int, float, int, float]
    place: tuple[int, int]
    duty: tuple[int, int, int, int, float, float]
    turbo: tuple[float, float, float, float, float, str, float]
    power: Range
    boost: Range
    heat: Range
    shaft: Range
    stands: Range

    def text(self) -> str:
        litres, cylinders, compression, limit, fuel = self.engine
        power, at, low, high, smoke, lam = self.duty
        return (
            f"engine: {{displacement: {litres} L, cylinders: {cylinders}, compression ratio: {compression}, "
            f"rpm limit: {limit} rpm, fuel per stroke: {fuel} mm3}}\n"
            f"place: {{altitude: {self.place[0]} ft, temperature: {self.place[1]} F}}\n"
            f"duty: {{power: {power} hp, at: {at} rpm, from: {low} rpm, to: {high} rpm, smoke lambda: {smoke}, "
            f"target lambda: {lam}}}\n"
            f"turbos:\n{turbo_text('it', *self.turbo)}"
        )


def turbo_text(
    name: str, inducer: float, exducer: float, into: float, out: float, ratio: float, entry: str, gate: float
) -> str:
    gated = f", wastegate: external, gate bore: {gate} mm" if gate else ""
    return (
        f"  - {{turbo: {name}, compressor inducer: {inducer} mm, compressor exducer: {exducer} mm, "
        f"turbine inducer: {into} mm, turbine exducer: {out} mm, housing ratio: {ratio}, housing entry: {entry}, "
        f"material: milled{gated}}}\n"
    )


BUILDS = (
    Build(
        "five-nine near stock, 54 mm",
        (5.9, 6, 17.2, 3200, 130.0),
        (500, 80),
        (325, 2900, 1400, 3200, 1.35, 1.5),
        (54.0, 78.0, 65.0, 58.0, 0.80, "open", 28.0),
        power=(300, 350),
        boost=(22, 32),
        heat=(1150, 1400),
        shaft=(105, 140),
        stands=(1400, 1900),
    ),
    Build(
        "five-nine daily, 57 mm",
        (5.9, 6, 17.0, 3200, 150.0),
        (500, 80),
        (350, 2800, 1400, 3200, 1.25, 1.4),
        (57.0, 81.0, 68.0, 60.0, 0.80, "divided", 30.0),
        power=(325, 375),
        boost=(24, 35),
        heat=(1200, 1450),
        shaft=(100, 130),
        stands=(1500, 1950),
    ),
    Build(
        "five-nine street, 62.5 mm",
        (5.9, 6, 17.0, 3200, 190.0),
        (500, 80),
        (450, 2800, 1400, 3200, 1.20, 1.3),
        (62.5, 86.0, 74.0, 65.0, 0.90, "divided", 34.0),
        power=(425, 500),
        boost=(30, 42),
        heat=(1300, 1550),
        shaft=(98, 125),
        stands=(1750, 2300),
    ),
    Build(
        "six-seven towing, 63.5 mm",
        (6.7, 6, 17.3, 3200, 170.0),
        (500, 90),
        (400, 2700, 1400, 3200, 1.35, 1.55),
        (63.5, 88.0, 74.0, 65.0, 0.90, "divided", 38.0),
        power=(375, 440),
        boost=(28, 38),
        heat=(1200, 1400),
        shaft=(95, 125),
        stands=(1650, 2200),
    ),
    Build(
        "six-seven street, 66 mm",
        (6.7, 6, 16.5, 3400, 260.0),
        (500, 80),
        (600, 3000, 1500, 3400, 1.12, 1.2),
        (66.0, 91.0, 80.0, 71.0, 1.0, "divided", 46.0),
        power=(560, 660),
        boost=(35, 50),
        heat=(1350, 1650),
        shaft=(95, 122),
        stands=(1800, 2500),
    ),
    Build(
        "sled of the 2.6 inch class",
        (5.9, 6, 15.5, 4500, 400.0),
        (800, 80),
        (700, 3800, 2800, 4500, 1.05, 1.1),
        (66.0, 95.0, 83.0, 74.0, 1.1, "divided", 50.0),
        power=(640, 770),
        boost=(40, 60),
        heat=(1450, 1800),
        shaft=(100, 128),
        stands=(2100, 3000),
    ),
    Build(
        "strip, 80 mm",
        (6.7, 6, 15.5, 4200, 450.0),
        (500, 75),
        (900, 3600, 2600, 4200, 1.05, 1.1),
        (80.0, 112.0, 96.0, 87.0, 1.1, "divided", 50.0),
        power=(830, 1000),
        boost=(45, 65),
        heat=(1400, 1750),
        shaft=(85, 110),
        stands=(2600, 3500),
    ),
    Build(
        "V8 of 6.6 litres, 63.5 mm",
        (6.6, 8, 16.5, 3400, 160.0),
        (500, 80),
        (500, 3000, 1500, 3400, 1.15, 1.25),
        (63.5, 88.0, 74.0, 65.0, 0.90, "open", 44.0),
        power=(470, 550),
        boost=(27, 40),
        heat=(1300, 1600),
        shaft=(95, 125),
        stands=(1550, 2200),
    ),
    Build(
        "V8 of 7.3 litres, 66 mm",
        (7.3, 8, 17.5, 3300, 150.0),
        (500, 80),
        (375, 2800, 1500, 3300, 1.2, 1.35),
        (66.0, 88.0, 76.0, 67.0, 1.0, "open", 38.0),
        power=(350, 410),
        boost=(17, 28),
        heat=(1200, 1500),
        shaft=(80, 112),
        stands=(1550, 2100),
    ),
    Build(
        "heavy six of 12.7 litres without a gate",
        (12.7, 6, 16.0, 2100, 300.0),
        (500, 80),
        (500, 1800, 1100, 2100, 1.4, 1.55),
        (76.0, 109.0, 90.0, 80.0, 1.25, "divided", 0.0),
        power=(470, 550),
        boost=(24, 36),
        heat=(1050, 1350),
        shaft=(72, 98),
        stands=(1150, 1750),
    ),
)
COMPOUND = Build(
    "six-seven with 62 over 83",
    (6.7, 6, 16.5, 3600, 330.0),
    (500, 80),
    (800, 3100, 1500, 3600, 1.1, 1.2),
    (62.0, 86.0, 72.0, 64.0, 0.85, "divided", 44.0),
    power=(750, 880),
    boost=(48, 70),
    heat=(1300, 1650),
    shaft=(70, 125),
    stands=(1300, 2000),
)


def asked(folder: Path, text: str) -> figures.Asked:
    (folder / "build.yaml").write_text(text, encoding="utf-8")
    return figures.read(folder / "build.yaml")


def goal_point(build: Build, line: Any) -> dict[str, Any]:
    points = [p for p in line["points"] if p["converged"]]
    return min(points, key=lambda p: abs(p["engine speed"] - build.duty[1]))


def single(build: Build, folder: Path, **place: Any) -> tuple[dict[str, Any], dict[str, Any], float]:
    a = asked(folder, build.text())
    given = a.engine, a.place, a.plumbing, a.duty, a.names, a.machines, a.tables, a.inducer
    line = operating_line(*given, drawn=0)
    turbo = line["turbos"][0]
    return turbo, goal_point(build, turbo), line["place"]["pressure"]


def check(build: Build, line: dict[str, Any], point: dict[str, Any], outside: float) -> None:
    found = {
        "power": point["power"] / HP,
        "boost": (point["boost"] - outside) / PSI,
        "heat": point["exhaust temperature"] * 1.8 - 459.67,
        "shaft": point["shaft speed"] / 1000.0,
        "stands": line["boost stands at"],
    }
    wrong = {name: value for name, value in found.items() if not in_range(value, getattr(build, name))}
    assert not wrong, f"{build.name}: {wrong}"


def in_range(value: float | None, ends: Range) -> bool:
    return value is not None and ends[0] <= value <= ends[1]


@pytest.mark.parametrize("build", BUILDS, ids=lambda b: b.name)
def test_a_build_comes_out_as_the_trade_expects(build: Build, tmp_path: Path) -> None:
    """Common practice, no source; with them: 8.5 to 11.5 hp for a pound of air a minute at street and strip fuelling,
    less when lean, and a drive pressure of 0.6 to 1.3 times the boost."""
    line, point, outside = single(build, tmp_path)
    check(build, line, point, outside)
    drive = (point["drive pressure"] - outside) / (point["boost"] - outside)
    assert 0.6 < drive < 1.3
    per_pound = point["power"] / HP / (point["air"] / POUND_MINUTE)
    assert 7.2 < per_pound < 11.5
    assert 0.68 < point["compressor efficiency"] < 0.81
    assert point["choke margin"] > 0.0 < point["surge margin"]


def test_a_compound_comes_out_as_the_trade_expects(tmp_path: Path) -> None:
    """Common practice, no source: the big one makes 2 to 4.3 to one (half the boost and more), the small one the rest,
    neither overspeeds, and they light hundreds of rpm before one turbo that makes the power would."""
    text = COMPOUND.text().rstrip("}\n") + ", fed by: big}\n" + turbo_text("big", 83, 114, 96, 88, 1.32, "divided", 0)
    a = asked(tmp_path, text)
    given = a.engine, a.place, a.plumbing, a.duty
    line = pair_lines(*given, a.stages, a.machines, a.tables, a.inducer, drawn=0)[0]
    point = goal_point(COMPOUND, line)
    check(COMPOUND, line, point, float(a.place.pressure))
    assert 2.0 < point["low"]["pressure ratio"] < 4.3
    assert 1.2 < point["high"]["pressure ratio"] < 2.6
    assert point["tip speed margin"] > 0.0
    alone, _, _ = single(BUILDS[6], tmp_path)
    assert line["boost stands at"] < alone["boost stands at"] - 500.0


def test_a_mile_and_a_half_up_the_same_truck_turns_its_turbo_faster_and_hotter(tmp_path: Path) -> None:
    """Common practice, no source: some 2 to 3 % of shaft speed for a thousand feet at the same power."""
    low = BUILDS[3]
    high = Build(**{**{n: getattr(low, n) for n in low.__dataclass_fields__}, "place": (8000, 90)})
    _, below, _ = single(low, tmp_path)
    _, above, _ = single(high, tmp_path)
    assert 1.08 < above["shaft speed"] / below["shaft speed"] < 1.30
    assert above["compressor outlet temperature"] > below["compressor outlet temperature"] + 20.0
    assert np.isclose(above["power"], below["power"], rtol=0.08)
