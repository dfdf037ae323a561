"""What the fuel system feeds: no less than what the engine makes today."""

import numpy as np
import pytest
from calls import shop
from hypothesis import given
from hypothesis import strategies as st
from matching_cases import HP, SIX, duty

from advisor.consultation import consult
from advisor.course import infer
from advisor.fuelling import ENOUGH, UNLIMITED, as_it_counts, at_least, by_its_parts, fed_power
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
    told = TRUCK | {"power goal": "420 hp", "power measured at": "wheels", "altitude": "1,000 ft", "must stay": "tune"}

    def outcome(power: str) -> Consultation:
        return consult([Answer(*pair) for pair in (told | {"power now": power}).items()], shop())

    said = [any(line.rule == "no-power-gained" for line in outcome(power).advice) for power in ("280 hp", "290 hp")]
    assert said == [False, True]
    assert outcome("280 to 290 hp").depends["no-power-gained"].facts == ("power now",)


HIS_GOAL = {"call kind": "new turbo", "duties": "daily", "displacement": "6.4 litre", "power goal": "600 hp"}
STOCK = {"tune": "stock", "injector size": "stock", "injection pump": "stock"}


def chosen(told: dict[str, str]) -> str:
    """The turbo that is recommended."""
    option = consult([Answer(*pair) for pair in (HIS_GOAL | told).items()], shop()).recommended
    assert option is not None
    return option.code


@pytest.mark.parametrize("part", STOCK)
def test_one_stock_part_of_the_fuel_does_not_turn_the_choice(part: str) -> None:
    """Who names a goal and a stock pump hasn't said that he won't fuel it (common practice, no source)."""
    assert chosen({part: "stock"}) == chosen({})
    assert chosen({part: "stock", "must stay": "the tune"}) != chosen({})


@given(st.floats(0.5, 1.5), st.booleans(), st.booleans())
def test_fuel_holds_back_where_it_is_told_and_is_enough_or_stays(share: float, told: bool, stays: bool) -> None:
    asked, his = duty(), engine()
    fed = np.asarray([share * asked.power])
    counted, (served,), held = as_it_counts(his, [asked], fed, told, stays)
    assert held == (told and (stays or share >= ENOUGH))
    assert float(served.power) == pytest.approx(min(1.0, share) * asked.power if held else asked.power)
    assert float(counted.fuel_flow) == (his.fuel_flow if held else UNLIMITED)
