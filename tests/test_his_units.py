"""A caller who speaks metric is told everything in metric units, one who doesn't nothing. Factors: 1.8 °F to a kelvin,
6.894757 kPa to a psi, 0.45359237 kg to a pound (NIST Special Publication 811)."""

import json
import re

import pytest
from calls import DAILY, call, shop

from advisor.bounds import followed
from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.his_units import his_units, in_his_units, told
from advisor.inference.engines import agenda
from advisor.outcome import Answer
from advisor.sheet.data import as_data
from advisor.sheet.html import call_sheet
from advisor.sheet.layout import plain
from advisor.sheet.text import recommendation, written

METRIC = {
    **DAILY,
    "duties": "towing and daily",
    "request": "a 64",
    "today's trouble": "gets hot on the pass",
    "trailer weight": "5.5 tonnes",
    "tow rating": "5,200 kg",
    "trailer brakes": "yes",
    "vehicle weight": "3,400 kg",
    "power goal": "330 kW",
    "power now": "250 kW",
    "stock power": "240 kW",
    "altitude": "1,600 m",
    "summer temperature": "34 °C",
    "towing speed": "80 km/h",
    "grade": "7 %",
    "exhaust size": "100 mm",
    "present boost": "2.0 bar",
    "present exhaust temperature": "740 °C",
    "gauges": "boost, exhaust temperature",
}
SHOPS = re.compile(r"\d (?:°F|psi|lb|lb/h|lb/min|hp|mph|ft)\b")


def test_a_metric_call_is_told_in_metric_units_throughout():
    answers = [Answer(*pair) for pair in METRIC.items()]
    outcome = followed(call(METRIC), answers, shop())
    text = plain(recommendation(outcome, shop()), 200)
    assert SHOPS.findall(text) == []
    assert "The trailer at 5,500 kg is over the rating of 5,200 kg" in text
    assert re.search(r"[67]\d\d °C on the grade", text)
    assert re.search(r"make about [23]\d\d kW at [\d.]+ bar of boost", text)
    whole = written(outcome, shop(), 200)
    assert "80 km/h" in whole
    page = re.sub(r"<[^>]+>", " ", call_sheet(outcome, shop()).split("What he told us")[0].split("<body>")[1])
    assert set(SHOPS.findall(page)) == set()
    figures = {figure["name"]: figure for figure in as_data(outcome, shop())["recommended"]["figures"]}
    assert figures["exhaust temperature"]["unit"] == "°C"
    json.dumps(as_data(outcome, shop()))


def test_the_advice_is_the_same_in_either_units():
    shops = {**METRIC, "trailer weight": "12,125.4 lb", "tow rating": "11,464 lb", "vehicle weight": "7,495.7 lb"}
    shops |= {"power goal": "442.54 hp", "power now": "335.26 hp", "stock power": "321.84 hp", "altitude": "5,249.3 ft"}
    shops |= {"summer temperature": "93.2 °F", "towing speed": "49.71 mph", "exhaust size": "3.937 in"}
    shops |= {"present boost": "29.008 psi", "present exhaust temperature": "1,364 °F"}
    here, there = call(shops), call(METRIC)
    assert here.recommended.code == there.recommended.code
    celsius = next(f for f in there.recommended.figures if f.name == "exhaust temperature")
    fahrenheit = next(f for f in here.recommended.figures if f.name == "exhaust temperature")
    assert celsius.value.mid == pytest.approx(fahrenheit.value.mid, abs=0.5)
    assert (celsius.unit, fahrenheit.unit) == ("°C", "°F")
    assert "°C" not in plain(recommendation(here, shop()), 200)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1,250 to 1,300 °F", "675 to 705 °C"),
        ("stays 36 °F cooler", "stays 20 °C cooler"),
        ("gets 90 °F hotter on the grade", "gets 50 °C hotter on the grade"),
        ("no more than about 20 psi, caps", "no more than about 1.4 bar, caps"),
        ("asks for 40 mph on a grade", "asks for 64 km/h on a grade"),
        ("60 lb/min and 60 lb", "0.454 kg/s and 27.2 kg"),
        ("2,900 rpm and $1,200, 4 psi-ish", "2,900 rpm and $1,200, 0.3 bar-ish"),
        ("at -4 °F", "at -20 °C"),
        ("12 psig, T4, 64/71 lbs", "12 psig, T4, 64/71 lbs"),
    ],
)
def test_figures_in_a_text(text: str, said: str):
    everything = his_units(call(METRIC).understood, shop().vocabulary)
    assert told(text, everything) == said


def test_a_difference_alone_has_no_zero():
    assert told("18 °F", {("temperature", "°F"): "°C"}, difference=True) == "10 °C"


def heard(**answers: str):
    vocabulary = shop().vocabulary
    named = {name.replace("_", " "): words for name, words in answers.items()}
    return his_units([understand(vocabulary[name], words) for name, words in named.items()], vocabulary)


def test_whose_units_they_are():
    assert heard(altitude="5,000 ft", trailer_weight="12,000 lb") == {}
    assert heard(displacement="5.9 litre", altitude="5,000 ft") == {}
    assert heard(summer_temperature="34 °C", altitude="5,000 ft") == {("temperature", "°F"): "°C"}
    assert heard(trailer_weight="5 t", vehicle_weight="7,000 lb", tow_rating="15,000 lb") == {}
    metric = heard(summer_temperature="34 °C", altitude="1,500 m")
    assert metric["mass", "lb"] == "kg"
    assert ("power", "hp") not in metric
    assert heard(summer_temperature="34 °C", altitude="1,500 m", power_goal="400 PS")["power", "hp"] == "PS"


def test_nothing_changes_for_a_caller_who_speaks_as_the_shop_does():
    outcome = call(DAILY)
    assert in_his_units(outcome, his_units(outcome.understood, shop().vocabulary), shop().vocabulary) is outcome


def live(*lines: str) -> tuple[Call, str]:
    """A call in the demo shop, and what the last line brought up."""
    quick = agenda("reference")
    taken = Call(lambda told: consult(told, shop(), quick, bands=False), shop())
    seen = taken.open()
    for line in lines:
        seen = taken.hear(line)
    return taken, " ".join(text.strip() for _, text in seen.lines(1000))


CAMPER = ("new turbo", "well what's on it is the original and I've got a camper, about 3500 kilos, it crawls")
SLOW = "change today's trouble = in second gear at 40 kilometres an hour it gets hot"


def test_units_are_heard_in_whatever_he_says_and_the_switch_is_told_at_once():
    taken, seen = live(*CAMPER)
    assert "He speaks metric" not in seen
    seen = " ".join(text for _, text in taken.hear(SLOW).lines(1000))
    assert "He speaks metric" in seen
    assert {answer.fact: answer.words for answer in taken.answers}["units"] == "kg"
    taken, seen = live("new turbo", "say it in degrees celsius please")
    assert "He speaks metric" in seen


def test_a_figure_of_his_is_not_told_again_in_the_shops_units():
    _, seen = live(*CAMPER, SLOW, "change trailer weight = 3.5 t")
    assert "= trailer weight: 3.5 t " in seen
    assert "lb" not in seen
    _, seen = live("new turbo", "change trailer weight = 3.5 t")
    assert "= trailer weight: 3.5 t (7,716 lb)" in seen


def test_the_exhaust_at_750_degrees():
    taken, _ = live(*CAMPER, SLOW, "change present exhaust temperature = 750 degrees")
    assert {answer.fact: answer.words for answer in taken.answers}["present exhaust temperature"] == "750 °C"
    _, seen = live("new turbo", "change present exhaust temperature = 750 degrees")
    assert "did you mean 750 °C (1,382 °F)?" in seen
    taken, _ = live("new turbo", "change present exhaust temperature = 1,300 degrees")
    assert {answer.fact: answer.words for answer in taken.answers}["present exhaust temperature"] == "1,300 degrees"


def test_the_prompt_names_his_unit():
    taken, _ = live(*CAMPER, SLOW)
    assert taken.hear("change present boost").prompt.label == "present boost, bar> "
    taken, _ = live("new turbo")
    assert taken.hear("change present boost").prompt.label == "present boost, psi> "


def test_most_of_what_he_names_decides_and_he_can_have_it_otherwise():
    taken, _ = live(*CAMPER, SLOW)
    back = " ".join(text for _, text in taken.hear("change units = pounds").lines(1000))
    assert "in the shop's units" in back
    assert heard(towing_speed="60 km/h", altitude="5,000 ft", trailer_weight="12,000 lb") == {("speed", "mph"): "km/h"}
    assert heard(altitude="1,500 m", trailer_weight="2 t", power_goal="230 hp")["pressure", "psi"] == "bar"
    assert "°C" in heard(altitude="1,500 m", trailer_weight="2 t", present_boost="20 psi").values()
    assert ("pressure", "psi") not in heard(altitude="1,500 m", trailer_weight="2 t", present_boost="20 psi")
