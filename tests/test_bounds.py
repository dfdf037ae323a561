"""How far the advice holds and what would change it, each held against the call itself with that answer given."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from calls import DAILY, shop, thinned
from walks import REFERENCE

from advisor import bounds, units
from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.journal import Record
from advisor.outcome import Answer
from advisor.scripted import read_script
from advisor.sheet.data import as_data
from advisor.sheet.text import written

SHOP = thinned(3)
ANSWERS = [Answer(*pair) for pair in DAILY.items()]


def turbo(**changed: str) -> str | None:
    answers = {**DAILY, **{name.replace("_", " "): words for name, words in changed.items()}}
    outcome = consult([Answer(*pair) for pair in answers.items()], SHOP, REFERENCE, bands=False)
    return None if outcome.recommended is None else bounds._turbo_of(outcome.recommended.code, infer_daily())


def infer_daily():
    return bounds._call(ANSWERS, SHOP, None).course()


def test_the_turbo_is_the_same_at_each_end_and_another_past_it() -> None:
    found = bounds.holds(ANSWERS, SHOP)
    assert len(found) == bounds.MOST_FACTS
    best = turbo()
    for hold in found:
        assert hold.over.low <= hold.value.mid <= hold.over.high
        name = hold.fact.replace(" ", "_")
        assert turbo(**{name: units.show(hold.over.low, hold.unit, hold.quantity, 4)}) == best
        assert turbo(**{name: units.show(hold.over.high, hold.unit, hold.quantity, 4)}) == best
        width = SHOP.vocabulary[hold.fact].prior.high - SHOP.vocabulary[hold.fact].prior.low
        for other, end, sign in ((hold.below, hold.over.low, -1), (hold.above, hold.over.high, 1)):
            if other:
                    steps = [end + sign * width * step for step in (1 / 256, 1 / 128, 1 / 64, 1 / 32, 1 / 16, 1 / 8)]
                    near = [units.show(step, hold.unit, hold.quantity, 4) for step in steps]
                    assert {turbo(**{name: words}) for words in near} - {best}
    assert any(hold.below or hold.above for hold in found)
    assert all(re.search(r"holds (to|down to|from) \S+ .*\(", hold.text) for hold in found)


def test_what_would_change_it_changes_it() -> None:
    kept = [code for code, _, _ in consult(ANSWERS, SHOP, REFERENCE, bands=False).kept]
    others = [code for code in kept if bounds._turbo_of(code, infer_daily()) != turbo()]
    found = bounds.switches(others[0], ANSWERS, SHOP)
    assert found
    for switch in found:
        assert turbo(**{switch.fact.replace(" ", "_"): switch.words}) == switch.turbo
        assert switch.fact in (*bounds.ALTERABLE, *bounds.IF_UNSURE)
        assert switch.words in switch.text
        assert SHOP.vocabulary[switch.fact].kind == "choice" or switch.margin
    assert list(found) == sorted(found, key=lambda switch: switch.distance)


def test_two_changes_are_told_where_no_single_one_does_it() -> None:
    """Both together bring the turbo, neither alone does so near, and what has to move is told of both."""
    script, _ = read_script(Path(__file__).parent.parent / "transcripts_demo" / "tow-only.yaml", shop())
    assert script is not None
    answers = {answer.fact: answer.words for answer in script.answers}

    def advised(**changed: str) -> str | None:
        call = bounds._call([Answer(*pair) for pair in (answers | changed).items()], shop(), REFERENCE)
        return bounds._turbo(call.course())

    course = bounds._call(script.answers, shop(), REFERENCE).course()
    turbos = list(dict.fromkeys(course.weighed.turbo(row) for row in course.weighed.order))[1:]
    tried = (bounds.switches(turbo, script.answers, shop(), REFERENCE) for turbo in turbos)
    found = next(switches for switches in tried if any(switch.also for switch in switches))
    assert list(found) == sorted(found, key=lambda switch: switch.distance)
    for single in (switch.distance for switch in found if not switch.also):
        assert all(switch.distance < bounds.MUCH_NEARER * single for switch in found if switch.also)
    for switch in (switch for switch in found if switch.also):
        (other,) = switch.also
        assert advised(**{switch.fact: switch.words, other.fact: other.words}) == switch.turbo
        assert switch.turbo not in (advised(**{switch.fact: switch.words}), advised(**{other.fact: other.words}))
        assert switch.fact != other.fact
        assert switch.distance > other.distance > 0.0
        assert switch.text.endswith(f", and with it {other.text}")
    data = as_data(replace(consult(script.answers, shop(), REFERENCE, bands=False), switches=found), shop())
    told = [[beside["fact"] for beside in kept.get("also", ())] for kept in data["instead"]]
    assert told == [[beside.fact for beside in switch.also] for switch in found]


@pytest.mark.parametrize(
    ("file", "fact", "within"),
    [
        ("medium-truck.yaml", "displacement", [6.0, 7.5]),
        ("high-altitude.yaml", "displacement", [6.0, 7.0]),
        ("saturdays-at-the-strip.yaml", "power goal", [557, 625]),
    ],
)
def test_nothing_else_is_advised_between_the_ends_where_two_turbos_are_nearly_level(
    file: str, fact: str, within: list[float]
) -> None:
    """Narrow places in which another turbo comes first aren't stepped over."""
    script, _ = read_script(Path(__file__).parent.parent / "transcripts_demo" / file, shop())
    assert script is not None
    call = bounds._call(script.answers, shop(), REFERENCE)
    (hold,) = (one for one in bounds.holds(script.answers, shop(), REFERENCE) if one.fact == fact)
    for figure in within:
        value = units.to_si(figure, hold.unit, hold.quantity)
        inside = hold.over.low <= value <= hold.over.high
        assert not inside or call.best((fact, units.show(value, hold.unit, hold.quantity, 1))) == call.best()


def test_nothing_holds_before_anything_is_advised() -> None:
    assert bounds.holds(ANSWERS[:2], SHOP) == ()
    outcome = consult(ANSWERS[:2], SHOP, REFERENCE)
    assert bounds.followed(outcome, ANSWERS[:2], SHOP) == outcome


def test_an_unknown_code_is_refused() -> None:
    with pytest.raises(KeyError, match="no-such"):
        bounds.switches("no-such", ANSWERS, SHOP)


def test_it_stands_in_the_written_recommendation_and_in_the_data() -> None:
    outcome = bounds.followed(consult(ANSWERS, SHOP, REFERENCE), ANSWERS, SHOP)
    text = " ".join(written(outcome, SHOP).split())
    data = as_data(outcome, SHOP)
    assert outcome.holds
    for hold, kept in zip(outcome.holds, data["holds"], strict=True):
        assert hold.text in text
        assert kept["over"]["low"] <= kept["over"]["high"]
    assert [kept["text"] for kept in data["instead"]] == [switch.text for switch in outcome.switches]


def test_a_range_runs_through_figures_and_rules() -> None:
    """"450 to 550": the air needed is the range between both ends, and a rule in between stays open."""

    def air(words: str):
        outcome = consult([*ANSWERS, Answer("power goal", words)], SHOP, REFERENCE, bands=False)
        (found,) = [figure for figure in outcome.figures if figure.name == "air flow needed"]
        return found

    low, high, both = air("450 hp"), air("550 hp"), air("between 450 and 550 hp")
    assert (both.value.low, both.value.high) == pytest.approx((low.value.mid, high.value.mid), rel=1e-9)
    assert both.text == f"{units.show_computed(both.value, 'lb/min', 'mass flow')}"
    assert low.value.exact
    assert not both.value.exact


def test_the_commands_of_a_call() -> None:
    def opened(answers: dict[str, str]) -> Call:
        call = Call(lambda said: consult(said, SHOP, REFERENCE), SHOP, Record(call="x", answers=answers))
        call.open()
        return call

    def says(line: str, to: Call | None = None) -> str:
        return " ".join(" ".join(text for _, text in (to or call).hear(line).lines(100)).split())

    early = opened({"call kind": "new turbo", "request": "a 64"})
    for line in ("holds", "map", "map 64"):
        assert "No turbo is advised yet." in says(line, early)
    call = opened(dict(DAILY))
    assert "How far the advice holds" in says("holds")
    best = call.consultation.recommended
    assert "It is the one recommended." in says(f"instead {best.code}")
    out = call.consultation.ruled_out[0]
    candidates = SHOP.catalogue.candidates()
    for code in (out.code, *(code for code, *_ in call.consultation.kept[1:4])):
        own = candidates.combinations[candidates.index(code)].turbo.code
        assert f"What would have to change for {own} " in f"{says(f'instead {code.lower()}')} "
    assert "Nothing here is called" in says("instead xyzzy")
    assert best.code in says("map")
    assert "Kept, but in place" in says(f"why not {call.consultation.kept[1][0]}")
    big = max(SHOP.catalogue.candidates().facts["compressor inducer"]) * 1000.0
    assert re.search(r"\d+ in the catalogue, \d+ of them ruled out", says(f"why not a {big:.0f}"))
    assert "The catalogue has no wheel of 41 mm" in says("why not a 41")
    assert "The catalogue has no wheel of 41 mm" in says("instead a 41")
    assert "head risk is high" in says("why not head gasket set")
    assert "It is on the parts list" in says("why not foot kit")
    assert "converter: not known) - duties include towing: not so" in says("why not torque converter")
    assert "operating line: d daily" in says("map")
