"""What the fuel system feeds: no less than what the engine makes today."""

import numpy as np
import pytest
from calls import shop
from hypothesis import given
from hypothesis import strategies as st
from matching_cases import HP, SIX, duty

from advisor.consultation import consult
from advisor.course import infer
from advisor.fuelling import at_least, by_its_parts, fed_power
from advisor.inference.engines import agenda
from advisor.matching.inputs import Engine, Place, Plumbing
from advisor.outcome import Answer, Consultation
from advisor.units import Range

PLACE, PIPES = Place(), Plumbing()


def engine(tune: float = 1.0, injectors: float = 0.0) -> Engine:
    return by_its_parts(SIX, 250.0 * HP, tune, 1.9, injectors, None)


@given(st.floats(100.0, 900.0), st.floats(1.0, 1.55), st.floats(0.0, 1.0))
def test_what_makes_a_power_has_fuel_for_it(power: float, tune: float, injectors: float) -> None:
    """The fuel is the greater of what the parts feed and what today's power takes: to half a percent, as the drive
    pressure is counted with either power's own boost."""
    told, main = engine(tune, injectors), duty()
    parts = float(fed_power(told, PLACE, PIPES, main))
    more = at_least(told, power * HP, PLACE, PIPES, main)
    feeds = float(fed_power(more, PLACE, PIPES, main))
    assert feeds == pytest.approx(max(parts, power * HP), rel=5e-3)


def test_nobody_said_what_it_makes() -> None:
    told = engine()
    again = at_least(told, np.nan, PLACE, PIPES, duty())
    assert again.fuel_flow == told.fuel_flow
    assert again.fuel_per_stroke == told.fuel_per_stroke


TRUCK = {
    "call kind": "new turbo",
    "duties": "daily",
    "power goal": "620 hp",
    "displacement": "5.9 litre",
    "tune": "mild",
    "stock power": "305 hp",
    "injector size": "0 percent",
    "transmission": "automatic",
}


@pytest.mark.parametrize(("measured", "crank"), [("crank", 500.0), ("wheels", 500.0 / 0.80)])
def test_what_it_makes_at_the_wheels_is_more_at_the_crank(measured: str, crank: float) -> None:
    """An automatic and an axle take a fifth (common practice, no source)."""
    told = TRUCK | {"power now": "500 hp", "power measured at": measured}
    answers = tuple(Answer(fact, words) for fact, words in told.items())
    course = infer(answers, shop(), agenda())
    figures = {name: course.last.facts.value(name) for name in ("power today", "fuel power", "parts fuel power")}
    low = {name: value.low for name, value in figures.items() if isinstance(value, Range)}
    assert low["power today"] == pytest.approx(crank * HP, rel=1e-9)
    assert low["fuel power"] >= 0.995 * crank * HP
    assert low["parts fuel power"] < crank * HP


def test_over_a_range_power_today_is_at_the_crank_as_well() -> None:
    """That another turbo gains him no power holds at one end of what he told and not at the other: so it is said what
    it hangs on."""
    told = TRUCK | {"power goal": "420 hp", "power measured at": "wheels", "altitude": "1,000 ft"}

    def outcome(power: str) -> Consultation:
        return consult([Answer(*pair) for pair in (told | {"power now": power}).items()], shop())

    said = [any(line.rule == "no-power-gained" for line in outcome(power).advice) for power in ("280 hp", "290 hp")]
    assert said == [False, True]
    assert outcome("280 to 290 hp").depends["no-power-gained"].facts == ("power now",)
