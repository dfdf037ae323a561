"""The turbo that is on the truck, judged on its engine."""

import numpy as np
import pytest

from advisor.course import Course, infer
from advisor.hearing.request import decode
from advisor.inference.engines import agenda
from advisor.knowledge.closest import nearest
from advisor.matched import machines_of, tables_of
from advisor.matching.engine import volumetric_efficiency
from advisor.outcome import Answer
from advisor.requested import asked_of
from advisor.sheet.text import as_understood
from advisor.supplied import ON_IT
from advisor.units import Range
from tests.calls import call, shop

LAZY = {
    "call kind": "complaint",
    "complaint": "late spool, surge, smoke",
    "surge when": "when I lift",
    "present turbo": "larger single",
    "present size": "a 68 over 74, T4 open, no gate",
    "displacement": "5.9 litres",
    "cylinders": "6",
    "injector size": "fifty over",
    "present boost": "38 psi",
    "boost leak checked": "yes",
    "duties": "daily, towing",
}
RPM = np.pi / 30.0


def course(**changed: str) -> Course:
    answers = {**LAZY, **{name.replace("_", " "): words for name, words in changed.items()}}
    return infer([Answer(*answer) for answer in answers.items()], shop(), agenda("reference"))


def figure(of: Course, name: str) -> float:
    value = of.last.facts.value(name)
    assert isinstance(value, Range)
    return value.mid


def test_a_larger_one_lights_later_and_a_smaller_one_sooner() -> None:
    """Watson & Janota 1982, from memory: what is larger needs more exhaust before it delivers."""
    lights = [figure(course(present_size=size), "present spool rpm") for size in ("a 60", "a 64", "a 68")]
    assert lights == sorted(lights)
    beside = course()
    assert figure(beside, "smaller inducer") < figure(beside, "present inducer") == pytest.approx(0.068)
    assert figure(beside, "smaller spool rpm") < figure(beside, "present spool rpm") - 200.0 * RPM


@pytest.mark.parametrize("pounds", [25.0, 38.0])
def test_at_the_speed_told_the_engine_draws_what_the_surge_line_holds(pounds: float) -> None:
    """Air of a four-stroke engine: volumetric efficiency times density times half the displacement a turn (Heywood
    1988, eq. 2.27); put to the reference of the map it stands on the surge line, where the margin is nothing."""
    of = course(present_boost=f"{pounds} psi")
    now, tables = of.now, tables_of(shop())
    boost = now.place.pressure + pounds * 6894.757
    found = nearest(of.weighed.candidates, asked_of(decode(LAZY["present size"])))
    assert found is not None
    row = found.indices[0]
    charge = float(of.weighed.columns["charge temperature"][row])
    turns = figure(of, "present surge rpm") / (2.0 * np.pi)
    efficiency = float(volumetric_efficiency(now.engine, boost, figure(of, "present surge rpm")))
    air = efficiency * boost / (287.05 * charge) * float(now.engine.displacement) * turns / 2.0
    at_reference = air * np.sqrt(now.place.temperature / 298.15) * 100_000.0 / now.place.pressure
    wheel = np.asarray([int(machines_of(shop()).wheel[row])])
    flow = np.asarray([at_reference / tables.reference_flow(int(wheel[0]))])
    _, mach = tables.at(wheel, flow, np.asarray([boost / now.place.pressure]))
    assert tables.margins(wheel, flow, mach)[0] == pytest.approx(0.0, abs=0.01)


def test_nothing_is_said_of_what_is_not_known() -> None:
    for changed in ({"present_size": "no idea"}, {"present_size": "a 140"}, {"displacement": "not sure"}):
        facts = course(**changed).last.facts
        assert not [name for name in ON_IT if name in facts.facts]
    assert course(present_boost="not sure").last.facts.get("present surge rpm") is None


def test_the_call_is_told_its_figures_before_anything_is_chosen() -> None:
    told = call(LAZY)
    by_rule = {advice.rule: advice.text for advice in told.advice}
    assert told.recommended is None
    assert "68 mm" in by_rule["at-this-size-it-lights-late"]
    assert "64 mm" in by_rule["beside-it-a-smaller-one"]
    assert next(iter(by_rule)) == "at-this-size-it-lights-late"
    steps = " ".join(step.text for step in told.next_steps)
    assert "order" not in steps.replace("in this order", "").replace("found in order", "")
    assert "gate closes" not in steps


@pytest.mark.parametrize(
    ("answers", "added"),
    [
        ({"injector size": "10 %"}, None),
        ({"injector size": "50 %"}, True),
        ({"injector size": "stock", "injection pump": "larger"}, True),
        ({"injector size": "stock", "changed with it": "the tune"}, True),
        ({"injector size": "stock", "changed with it": "the exhaust"}, None),
    ],
)
def test_the_tune_is_not_taken_as_stock_beside_fuel_that_was_added(answers: dict[str, str], added: bool | None) -> None:
    told = call({**LAZY, **answers})
    assert (told.facts["fuel added"].value if "fuel added" in told.facts else None) is added
    assert told.facts["tune"].value == ("hot" if added else "stock")


def test_what_he_isnt_sure_of_is_told_as_what_is_counted_on() -> None:
    told = call({**LAZY, "tune": "not sure"})
    heard = next(one for one in told.understood if one.answer.fact == "tune")
    assert as_understood(heard, shop().vocabulary["tune"], told) == "not sure; hot is counted on"
