"""Who speaks metric sees no figure in the shop's units, whatever is shown: by each command, on the sheets, in what a
question offers; and each figure of his is the same wherever it stands. Factors: NIST Special Publication 811."""

import re
from collections.abc import Iterator, Mapping

import pytest
from calls import shop
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.his_units import METRIC, his_units, kept, speaking, told
from advisor.inference.engines import agenda
from advisor.journal import Record
from advisor.outcome import Answer
from advisor.units import from_si

_UNIT = r"(?:°F|psi|lbs?|lb/h|lb/min|lb ft|hp|mph|ft|in|inch|inches|feet|foot|pounds?|miles?)"
IN_SHOPS = re.compile(
    rf"(?<![\w.,/])\d[\d,]*(?:\.\d+)?[ -]{_UNIT}(?![\w/])|lb/min"
    r"|\b(?:horsepower|miles?|pounds|inch|inches|fahrenheit)\b"
)
ALLOWED = re.compile(
    rf"(?:mm|°C|bar) \(\d[\d,.]* {_UNIT}\)"  # what a part is called in metric countries too, beside his unit
    r"|quarter[- ]mile|change units = pounds|\bcu in\b|Cubic inches|in pounds and degrees Fahrenheit"
    r"|(?:how|why) [a-z ]*|\d in (?:the|a|stock)\b"
)
CARAVAN = {
    "call kind": "new turbo", "request": "a 50 mm", "today's trouble": "too hot on the pass with the caravan",
    "duties": "daily and towing", "power goal": "180 kW", "power measured at": "crank", "power now": "140 kW",
    "displacement": "2.98 litres", "cylinders": "4", "valves per cylinder": "four", "rpm limit": "4,400",
    "altitude": "2,000 metres", "vehicle weight": "2,300 kg", "tune": "mild", "intercooler": "stock",
    "towing speed": "60 to 70 km/h", "trailer weight": "2.5 tonnes", "trailer brakes": "yes", "tow rating": "2,400 kg",
    "grade": "10 to 12", "transmission": "automatic", "present boost": "1.6 bar", "exhaust size": "70 mm",
    "present exhaust temperature": "780 C", "gauges": "boost and exhaust temperature", "charge pipe size": "60 mm",
}  # fmt: skip
STRIP = {
    "call kind": "new turbo", "request": "64", "duties": "daily and strip", "power goal": "520 kW",
    "power measured at": "wheels", "power now": "360 kW", "displacement": "5.9", "cylinders": "6",
    "vehicle weight": "3,100 kg", "altitude": "about 300 m", "summer temperature": "36 °C", "intercooler": "large",
    "injector size": "100 over", "tune": "competition", "transmission": "manual", "air filter": "stock box",
}  # fmt: skip
HOT = {
    "call kind": "complaint", "complaint": "heat", "present exhaust temperature": "800 C", "altitude": "1,500 m",
    "trailer weight": "4,000 kg", "heat when": "long grade", "gauges": "exhaust temperature", "power now": "200 kW",
    "probe place": "behind the turbine",
}  # fmt: skip
CALLS = {"caravan": CARAVAN, "strip": STRIP, "complaint": HOT}
OUTCOMES: dict[str, tuple[Call, list[tuple[str, str]]]] = {}


def call_of(answers: Mapping[str, str]) -> Call:
    """A call that is gone on with, as far as it was answered."""
    quick = agenda("reference")
    told_ = Record(answers={fact: words for fact, words in answers.items() if fact in shop().vocabulary})
    return Call(
        lambda said: consult(said, shop(), quick, bands=False), shop(), told_, lambda said: consult(said, shop(), quick)
    )


def commands(call: Call) -> Iterator[str]:
    now = call.consultation
    yield from ("summary", "why", "how", "holds", "map", "in full", "sheet x.html", "sheet x.txt")
    yield from ("what if altitude = 1500", "what if trailer weight = 1800", "what if summer temperature = balmy")
    yield from (f"how {fact}" for fact in now.facts)
    yield from (f"how {figure.name}" for figure in now.figures)
    yield from (f"why not {rule.name}" for rule in shop().rules)
    yield from (f"why not {code}" for code, _, _ in now.kept[:4])
    yield from (f"why not {out.code}" for out in now.ruled_out[::150])
    yield from (f"instead {code}" for code, _, _ in now.kept[-1:])
    numbers = (one.name for one in shop().vocabulary.values() if one.kind == "number" and one.source == "asked")
    yield from (f"change {name}" for name in numbers)
    yield from ("change altitude = very high", "change power goal = 3 kW", "enough", "yes")


def shown(name: str) -> list[tuple[str, str]]:
    """What the commands of a call show, once for all tests: (line typed, all that is seen)."""
    if name not in OUTCOMES:
        call = call_of(CALLS[name])
        turn, seen = call.open(), []
        for line in ("", *commands(call)):
            turn = call.hear(line) if line else turn
            texts = [text for _, text in turn.lines(100_000)]
            texts += [re.sub(r"<style>.*?</style>|<[^>]+>|\s+", " ", page, flags=re.DOTALL) for _, page in turn.files]
            texts += [turn.prompt.label] if turn.prompt else []
            seen += [(line, text) for text in texts]
        OUTCOMES[name] = call, seen
    return OUTCOMES[name][1]


@pytest.mark.parametrize("name", CALLS)
def test_no_figure_in_the_shops_units_is_shown_to_who_speaks_metric(name: str) -> None:
    seen = shown(name)
    assert len(seen) > 500
    own = {words for words in CALLS[name].values() if IN_SHOPS.search(words)}
    assert own == set()
    leaks = {
        f"{line}: …{text[max(0, found.start() - 80) : found.end() + 40]}"
        for line, shows in seen
        for text in [ALLOWED.sub("", shows)]
        for found in IN_SHOPS.finditer(text)
    }
    assert sorted(leaks) == []


@pytest.mark.parametrize("name", ["caravan", "strip"])
def test_a_fact_is_told_in_one_figure_wherever_it_stands(name: str) -> None:
    seen = [text for line, text in shown(name) if line in ("sheet x.html", "sheet x.txt", "in full", "summary", "how")]
    call = OUTCOMES[name][0]
    definitions, several = shop().vocabulary, 0
    for fact in call.consultation.facts.values():
        definition = definitions[fact.name]
        if definition.kind != "number" or fact.origin.kind not in ("answer", "assumed"):
            continue
        unit = call.knowledge.vocabulary[fact.name].unit
        told_as = re.compile(rf"(?<![\w-] ){fact.name}:?(?: is| taken as)? +([\d.,]+) {re.escape(unit)}(?!\w)")
        places = [found for text in seen for found in told_as.findall(text)]
        assert len(set(places)) <= 1, fact.name
        several += len(places) > 1
    assert several >= 5


TEXTS = ("because", "ask", "listen_for", "why", "check_by", "in_short", "means", "text", "say", "reason", "words")


def texts_of(entry: object) -> Iterator[str]:
    """All that a rule, a fact or a piece of the catalogue may say to people, but for the words that it hears."""
    for name in TEXTS:
        said = getattr(entry, name, "")
        yield said if isinstance(said, str) else ""
    for within in ("then", "choices", "held_against"):
        for one in getattr(entry, within, ()):
            yield from texts_of(one)


def test_no_text_names_a_figure_in_words_or_a_unit_without_one() -> None:
    wares = [told(text, METRIC, goods=True) for entry in shop().catalogue.answered for text in texts_of(entry)]
    texts = [told(text, METRIC) for entry in (*shop().rules, *shop().vocabulary.values()) for text in texts_of(entry)]
    assert len([text for text in texts if text]) > 1000
    assert [text for text in (*wares, *texts) if IN_SHOPS.search(ALLOWED.sub("", text))] == []


NUMBERS = sorted(
    one.name
    for one in shop().vocabulary.values()
    if one.kind == "number" and one.source == "asked" and (one.quantity, one.unit) in METRIC
)
# What a unit of the shop is of his (NIST SP 811, appendix B): factor, and the shop's figure where his is nothing.
FACTORS = {"°F": (5 / 9, 32.0), "psi": (0.06894757, 0.0), "lb": (0.45359237, 0.0), "ft": (0.3048, 0.0),
           "mph": (1.609344, 0.0), "in": (25.4, 0.0), "hp": (0.7456999, 0.0)}  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(NUMBERS), st.floats(0.0, 1.0))
def test_a_bare_figure_is_his_or_asked_for_its_unit_and_kept_with_it(name: str, share: float) -> None:
    shops = shop().vocabulary[name]
    his = speaking(shop(), METRIC).vocabulary[name]
    assert shops.plausible is not None
    factor, zero = FACTORS[shops.unit]
    low, high = ((end - zero) * factor for end in _ends(name))
    figure = f"{low + share * (high - low):.3g}" if high < 100 else f"{low + share * (high - low):.0f}"
    heard = understand(his, figure)
    if heard.fact is None or heard.doubt:
        return
    taken = kept(heard, shops, METRIC)
    assert his.unit in taken.answer.words
    again = understand(shops, taken.answer.words).fact
    assert again is not None
    assert again.value.mid == pytest.approx(heard.fact.value.mid)
    assert shops.unit not in taken.echo.split()
    in_shops = float(figure) / factor + zero
    there = understand(shops, f"{in_shops:.9f} {shops.unit}").fact
    assert there is not None
    assert there.value.mid == pytest.approx(heard.fact.value.mid, rel=1e-5)


def _ends(name: str) -> tuple[float, float]:
    one = shop().vocabulary[name]
    assert one.plausible is not None
    return from_si(one.plausible.low, one.unit, one.quantity), from_si(one.plausible.high, one.unit, one.quantity)


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(sorted(FACTORS)), st.integers(30, 3000))
def test_any_figure_in_a_text_is_turned_into_his_and_the_goods_keep_theirs(unit: str, figure: int) -> None:
    factor, zero = FACTORS[unit]
    text = f"rated to about {figure:,} {unit}, no more"
    said = told(text, METRIC)
    assert not IN_SHOPS.search(said)
    found = re.search(r"about (-?[\d.,]+) (\S+),", said)
    assert found is not None
    assert float(found[1].replace(",", "")) == pytest.approx((figure - zero) * factor, abs=3.0, rel=0.03)
    both = told(text, METRIC, goods=True)
    assert f"({figure:,} {unit})" in both
    assert told(both, METRIC) == both


SPEAKS = ("change trailer weight = 2,500 kg", "change altitude = 2,000 metres")


@pytest.mark.parametrize(
    ("line", "shows", "words"),
    [
        ("change towing speed = sixty to seventy on the steep bits, the pass is ten to twelve percent",
         "did you mean 60 to 70 km/h or 60 to 70 mph?", None),
        ("change tow rating = yes, two and a half tonnes, and the car is rated 3500",
         "= tow rating: 3,500 kg", "3,500 kg"),
        ("change summer temperature = thirty", "= summer temperature: 30 °C", "30 °C"),
        ("change summer temperature = thirty, in August thirty-five in the valley", "35 °C", None),
        ("change summer temperature = green", "for example 30 °C", None),
        ("change present boost = 1.6", "= present boost: 1.6 bar", "1.6 bar"),
        ("change request = a 2.5 inch wheel", "compressor inducer 63.5 mm.", None),
        ("change altitude = 1,200 ft", "= altitude: 366 m", "1,200 ft"),
    ],
)  # fmt: skip
def test_what_a_bare_figure_is_taken_for(line: str, shows: str, words: str | None) -> None:
    call = call_of({"call kind": "new turbo"})
    call.open()
    for one in (*SPEAKS, line):
        seen = " ".join(text for _, text in call.hear(one).lines(1000))
    assert shows in seen
    fact = line.removeprefix("change ").partition(" =")[0]
    if words is not None:
        assert Answer(fact, words) in call.answers


def test_an_offer_is_in_his_unit() -> None:
    call = call_of({"call kind": "new turbo", "altitude": "2,000 m", "vehicle weight": "2,300 kg", "duties": "towing"})
    call.open()
    turn = call.hear("change trailer brakes = yes, overrun, and the car is rated 3500")
    seen = " ".join(text for _, text in turn.lines(1000))
    assert "He also said tow rating: 3,500 kg. Take it?" in seen
    call.hear("yes")
    assert Answer("tow rating", "3,500 kg") in call.answers
    assert his_units(call.consultation.understood, shop().vocabulary)["mass", "lb"] == "kg"
