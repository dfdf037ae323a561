"""The compressor map with the operating line: as characters and as SVG, without colour and without matplotlib."""

import re
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from calls import DAILY, call, shop

from advisor import maps, units
from advisor.outcome import OperatingLine
from advisor.sheet.html import call_sheet

OUTCOME = call({**DAILY, "duties": "daily and towing", "trailer weight": "9,000 lb"})
STRONG = {**DAILY, "request": "a 66", "duties": "strip", "power goal": "600 hp", "injector size": "100 over",
          "tune": "hot"}  # fmt: skip
CHART = maps.compressor_map(OUTCOME.recommended, shop())


@pytest.mark.parametrize("width", [60, 80, 120, 30])
def test_it_keeps_to_the_width_and_names_its_marks(width: int) -> None:
    drawn = maps.as_text(CHART, width)
    assert max(map(len, drawn)) <= max(width, maps.NARROWEST)
    assert all(line.isascii() for line in drawn)
    picture = "\n".join(drawn)
    told = " ".join(maps.legend(CHART))
    for sign, word in ((maps.SURGE, "surge"), (maps.SPEED, "one speed"), ("d", "daily"), ("t", "towing")):
        assert sign in picture
        assert f"{sign} {word}" in told or word in told


def test_the_operating_line_stands_where_its_figures_say() -> None:
    """Corrected flow by SAE J1826: air * sqrt(T / 298 K) / (p / 100 kPa), here over the row's own inlet pressure."""
    names = [name for name, _, _ in OUTCOME.recommended.line.columns]
    outside = (90.0 - 32.0) / 1.8 + 273.15
    ambient = 83_431.8  # Pa at 5,280 ft, U.S. Standard Atmosphere 1976
    points = dict(CHART.duties)
    for duty in ("daily", "towing"):
        own = (row for row in OUTCOME.recommended.line.rows if row[0] == duty and row[2])
        rows = [dict(zip(names, row[3], strict=True)) for row in own]
        for row, (flow, ratio) in zip(rows, points[duty], strict=True):
            inlet = ambient - 9_000.0 * row["air flow"] ** 2
            corrected = row["air flow"] * (outside / 298.15) ** 0.5 / (inlet / 100_000.0)
            assert units.to_si(flow, "lb/min", "mass flow") == pytest.approx(corrected, rel=2e-3)
            assert ratio == row["compressor pressure ratio"]
    columns = 100 - 7
    most, top = CHART.corner
    drawn = maps.as_text(CHART, 100)
    flow, ratio = points["towing"][-1]
    row = drawn[maps.HEIGHT - 1 - round((ratio - 1.0) / (top - 1.0) * (maps.HEIGHT - 1))]
    assert row[6 + round(flow / most * (columns - 1))] in "tdf"  # later marks may cover it


def test_surge_lies_left_of_every_point_with_a_margin() -> None:
    surge = sorted(CHART.surge, key=lambda point: point[1])
    for _, points in CHART.duties:
        for flow, ratio in points[-2:]:
            left = [at for at, height in surge if height <= ratio]
            assert flow > max(left)


def test_the_page_has_it_without_matplotlib(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    page = call_sheet(OUTCOME, shop())
    (svg,) = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    tree = ET.fromstring(svg)
    words = [element.text for element in tree.iter() if element.text]
    assert {"daily", "towing", "surge", "pressure ratio, absolute over absolute"} <= set(words)
    assert "Compressor map of" in tree.attrib["aria-label"]
    assert 'href="http' not in page
    assert "<script" not in page


def test_an_option_without_a_map_has_none() -> None:
    pair = replace(OUTCOME.recommended, role="two stage", code="A + B")
    assert maps.compressor_map(pair, shop()) is None
    assert maps.compressor_map(replace(OUTCOME.recommended, line=OperatingLine()), shop()) is None


def test_the_limit_of_the_wheel_is_marked_and_nothing_is_drawn_far_past_it() -> None:
    """The limit is the catalogue's rotor speed limit, or less by the wheel's material; lines are labelled in corrected
    turns, for inlet air of 298 K (SAE J1826 refers speed so), as compressor maps mostly are."""
    candidates = shop().catalogue.candidates()
    turbo = candidates.combinations[candidates.index(OUTCOME.recommended.code)]
    most = units.from_si(turbo.turbo.rotor_speed_limit, "rpm", "rotation")
    assert CHART.limit <= most * (1.0 + 1e-9)
    drawn = [speed for speed, _ in CHART.speeds]
    assert min(abs(speed - CHART.limit) for speed in drawn) < 1.0
    names = [name for name, _, _ in OUTCOME.recommended.line.columns]
    turned = max(row[3][names.index("tip speed")] for row in OUTCOME.recommended.line.rows if row[2])
    turned = units.from_si(turned / (turbo.compressor.exducer / 2.0), "rpm", "rotation")
    assert max(drawn) < 1.03 * max(CHART.limit, turned)
    assert any("=" in line for line in maps.as_text(CHART, 80))
    assert f"limit {CHART.limit / 1000.0:.0f}<" in maps.as_svg(CHART)
    assert f"{round(CHART.limit, -3):,.0f} rpm" in " ".join(maps.legend(CHART))


def test_a_measured_map_is_drawn_up_to_its_fastest_line_and_what_lies_past_it_is_said() -> None:
    """The file of the measured wheel names its speeds: the last of them is the top line."""
    outcome = call(STRONG)
    option = next(o for o in (outcome.recommended, outcome.requested, *outcome.alternatives) if o and "CG-66" in o.code)
    chart = maps.compressor_map(option, shop())
    candidates = shop().catalogue.candidates()
    wheel = int(candidates.geometry["wheel"][candidates.index(option.code)])
    tables = maps.tables_of(shop())
    fastest = float(tables.fastest[wheel]) * maps.reference_sound()
    turns = units.from_si(2.0 / float(tables.exducer[wheel]), "rpm", "rotation")  # of a tip that runs 1 m/s
    assert chart.speeds[-1][0] == pytest.approx(fastest * turns, rel=0.02)
    names = [name for name, _, _ in option.line.columns]
    tip = names.index("tip speed")
    beyond = {row[0] for row in option.line.rows if row[2] and turns * row[3][tip] > chart.speeds[-1][0]}
    assert beyond == set(chart.past)
    assert beyond
    assert "Past the fastest line of the map" in maps.legend(chart)[-1]
    assert "past" not in " ".join(maps.legend(CHART)).lower()
