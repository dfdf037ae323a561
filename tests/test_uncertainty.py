"""Draws and bands: stratification, spreads, reproducibility, and what a band says."""

import re
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from calls import DAILY, call, shop
from matching_cases import SIX, bench, duty, single
from numpy.testing import assert_allclose

from advisor import weighing
from advisor.matched import tables_of
from advisor.matching.engine import points
from advisor.matching.inputs import Place, Plumbing
from advisor.matching.model import MODEL, constants
from advisor.matching.speedlines import MEASURED_SPREAD
from advisor.matching.uncertainty import Drawn, band, bands, deviates, draws, hypercube, with_every_surge_line


def test_latin_hypercube_has_one_draw_in_every_stratum() -> None:
    """McKay, Beckman & Conover 1979: each of n equal strata of each input is met once (the first row is moved to the
    middle, so one stratum may be empty)."""
    cube = hypercube(50, 6, seed=3)
    for column in cube.T:
        assert len(set(np.floor(column * 50).astype(int))) >= 49
    assert_allclose(cube[0], 0.5)
    assert_allclose(hypercube(50, 6, seed=3), cube)
    normal = deviates(hypercube(400, 3, seed=1))
    assert_allclose(normal.mean(axis=0), 0.0, atol=0.02)
    assert_allclose(normal.std(axis=0), 1.0, atol=0.03)


def test_every_constant_has_a_source_and_a_sound_spread() -> None:
    listed = constants()
    assert set(listed) == {field.name for field in fields(MODEL)}
    for name, constant in listed.items():
        assert len(constant.source) > 10, name
        assert 0.0 <= constant.spread < 0.6, name
        assert getattr(MODEL, name) == constant.value


def test_first_draw_is_nominal_and_the_rest_spread() -> None:
    made, tables = single()
    drawn = draws(SIX, Place(), Plumbing(), made, tables, count=40, assumed={"engine.breathing": 0.03})
    assert np.shape(drawn.engine.breathing) == (40, 1, 1)
    assert drawn.engine.breathing[0, 0, 0] == 1.0
    assert np.std(drawn.engine.breathing) == pytest.approx(0.03, rel=0.15)
    assert drawn.engine.displacement == SIX.displacement
    assert drawn.machines.efficiency_factor.shape == (40, 1)
    assert_allclose(drawn.machines.flow_factor[0], 1.0)
    assert drawn.model.turbine_peak[0, 0, 0] == MODEL.turbine_peak


def test_a_range_is_drawn_evenly() -> None:
    made, tables = single()
    drawn = draws(SIX, Place(), Plumbing(), made, tables, count=100, assumed={"place.temperature": (280.0, 320.0)})
    values = np.ravel(drawn.place.temperature)
    assert 280.0 <= values.min() < 282.0
    assert 318.0 < values.max() <= 320.0
    assert values[0] == 300.0


def test_more_spread_gives_a_wider_band() -> None:
    on = bench()
    widths = []
    for spread in (0.0, 0.02, 0.06):
        drawn = draws(
            SIX, on.place, on.plumbing, on.machines, on.tables, count=60, assumed={"model.turbine_peak": spread}
        )
        model = replace(MODEL, turbine_peak=drawn.model.turbine_peak)
        found = replace(on, model=model).match()
        assert found.power.shape[0] in (1, 60)
        low, middle, high = band(np.broadcast_to(found.boost, (60, *found.boost.shape[1:])))
        assert np.all((low <= middle) & (middle <= high))
        widths.append(float((high - low)[0, 8]))
    assert widths[0] == pytest.approx(0.0, abs=1.0)
    assert widths[1] < widths[2]


def test_predicted_maps_widen_the_band_of_the_tip_speed() -> None:
    on = bench(duties=(duty(),))
    drawn = draws(SIX, on.place, on.plumbing, on.machines, on.tables, count=30)
    grid = points(drawn.engine, drawn.place, drawn.plumbing, (duty(),), drawn.model)
    found = replace(
        on,
        engine=drawn.engine,
        place=drawn.place,
        plumbing=drawn.plumbing,
        points=grid,
        machines=drawn.machines,
        model=drawn.model,
    ).match()
    assert found.power.shape == (30, 1, 24)
    assert found.converged.mean() > 0.999
    low, _, high = band(found.tip_speed[..., 8])
    assert high[0] - low[0] > 5.0
    assert_allclose(found.power[0], on.match().power, rtol=1e-6)


def test_the_band_of_a_surge_margin_is_that_of_its_line() -> None:
    """A point at 1.2 times the surge flow, the line sure to 16 %: the normal distribution's table gives 1.645
    deviations for nine in ten, so 1.2 / (1 -+ 1.645 * 0.16) - 1; whatever lines were drawn with the points."""
    drawn = 1.0 + 0.16 * np.linspace(-2.0, 2.0, 33)[:, None]
    drawn = np.vstack([[[1.0]], drawn[1:]])
    margins = 1.2 / drawn - 1.0
    low, nominal, high = band(with_every_surge_line(margins, drawn, np.array([0.16])))
    assert nominal[0] == pytest.approx(0.2)
    assert low[0] == pytest.approx(1.2 / (1.0 + 1.645 * 0.16) - 1.0, abs=0.02)
    assert high[0] == pytest.approx(1.2 / (1.0 - 1.645 * 0.16) - 1.0, abs=0.04)


def test_missing_draws_open_the_band() -> None:
    values = np.arange(40.0)[:, None] * np.ones((1, 2))
    values[5:9, 1] = np.nan
    low, _, high = bands({"spool time": values})["spool time"]
    assert np.isfinite(high[0])
    assert high[1] == np.inf
    assert low[1] <= 4.0


def test_a_ranking_that_the_bands_cannot_separate_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual spreads leave the first places of this call level, and it says which; with a fiftieth of every spread
    the same call tells them apart and says nothing."""
    unsure = call(DAILY)
    assert unsure.recommended is not None
    told = re.fullmatch(r"The figures are not sure enough to tell (\S+) from (.+); price, .*", unsure.separated)
    assert told is not None
    assert unsure.recommended.code.startswith(told[1])
    level = re.split(", | and ", told[2])
    kept = [code for code, _, _ in unsure.kept]
    assert all(any(code.startswith(turbo) for code in kept) for turbo in level)

    def surer(*asked: Any, **more: Any) -> Drawn:
        drawn = draws(*asked, **more)
        nominal = draws(*asked, **{**more, "count": 1})

        def nearer(group: Any, middle: Any) -> Any:
            names = [f.name for f in fields(group) if np.asarray(getattr(group, f.name)).dtype.kind == "f"]
            moved = {n: getattr(middle, n) + (getattr(group, n) - getattr(middle, n)) / 50.0 for n in names}
            return replace(group, **moved)

        groups = ("engine", "place", "plumbing", "machines", "model")
        return Drawn(**{name: nearer(getattr(drawn, name), getattr(nominal, name)) for name in groups})

    monkeypatch.setattr("advisor.weighing.draws", surer)
    weighing._drawn.cache_clear()
    sure = call(DAILY)
    weighing._drawn.cache_clear()
    assert sure.recommended is not None
    assert sure.recommended.code == unsure.recommended.code
    assert all(turbo not in sure.separated for turbo in level)


def test_rules_and_figures_are_as_sure_of_a_surge_line_as_the_model() -> None:
    """1.645 standard deviations on either side hold nine in ten of a normal distribution (table): of a predicted line
    that is a quarter of the flow at best."""
    spreads = tables_of(shop()).surge_spread
    sure = 1.645 * spreads[spreads > MEASURED_SPREAD["surge"]]
    assert 0.25 <= sure.min() < 0.27
    assert sure.max() < 0.31
    reasons = [why for rule in shop().rules for why in (rule.because, rule.basis)]
    told = [why for why in reasons if re.search("surge line .*known to", why)]
    assert len(told) == 6
    assert all(re.search("predicted (one|surge line) is known to a quarter of the flow at best", why) for why in told)
    for wish, made in (("a 60", "predicted .* known to (2[5-9]|30) %"), ("a 75", "measured .* known to 8 %")):
        option = call({**DAILY, "request": wish}).requested
        assert option is not None
        words = next(figure.assumption for figure in option.figures if figure.name == "surge margin")
        assert re.search(made, words), words
