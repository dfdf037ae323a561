"""What is said of a turbo: its own heat, the fuel behind its power, its faults where it works, differences with duty
and engine speed, assumptions with how to check them. Trade limits used here are common practice, no source."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from statistics import median

import pytest
from calls import DAILY, call, shop

from advisor.comparing import told_once
from advisor.knowledge.rules import Caution as CautionAct
from advisor.matching.engine import FULL_LOAD
from advisor.matching.gates import TIP_RESERVE
from advisor.outcome import Caution
from advisor.scripted import read_script
from advisor.sheet.aloud import SECTIONS, aloud
from advisor.sheet.cautions import in_short
from advisor.sheet.layout import lines
from advisor.sheet.parts import money
from advisor.sheet.steps import first_steps, last_steps, without_steps
from advisor.sheet.text import counted_on, shown, worth_saying, written
from advisor.wording import first_sentence

DEMO = Path(__file__).parent.parent / "transcripts_demo"
ALL_CALLS = sorted(path.stem for path in DEMO.glob("*.yaml"))
TOW = {
    **DAILY,
    "duties": "towing and daily",
    "towing share": "50 %",
    "towing effort": "steady",
    "boost wanted by": "1800 rpm",
    "trailer weight": "12,000 lb",
    "tow rating": "16,000 lb",
    "trailer brakes": "yes",
    "vehicle weight": "7,500 lb",
    "grade": "6 %",
    "towing speed": "50 mph",
    "tune": "mild",
    "injector size": "stock",
}
AT = "with the trailer on|on the grade|at the strip|on the sled|in the field|at full load"
PLACED = re.compile(f"everyday driving|on the road|{AT}")
UNPLACED = re.compile(r"with the parts to fit it|is here|quarter mile")


def figures(option):
    return {figure.name: figure for figure in option.figures}


def read_off(option, column, duty):
    """A figure of the operating line at every point of a duty (SI)."""
    at = [name for name, _, _ in option.line.columns].index(column)
    return [row[3][at] for row in option.line.rows if row[0] == duty and row[2]]


def test_the_outlet_temperature_told_is_that_of_the_turbo():
    outcome = call(TOW)
    main = outcome.facts["main duty"].value
    for option in (outcome.recommended, *outcome.alternatives):
        hottest = max(read_off(option, "compressor outlet temperature", main))
        assert figures(option)["compressor outlet temperature"].value.mid == pytest.approx(hottest, abs=0.01)
    goal = next(figure for figure in outcome.figures if figure.name == "goal outlet temperature")
    assert "until a turbo is chosen" in goal.assumption


def test_power_says_on_which_fuel_it_rests():
    known = figures(call({**TOW, "power goal": "700 hp", "must stay": "tune"}).recommended)
    assert known["power made"].note == "with the fuel he has"
    assert known["power with fuel for the goal"].value.mid > known["power made"].value.mid
    may_change = figures(call({**TOW, "power goal": "700 hp"}).recommended)["power made"]
    assert may_change.note == "with fuel for the goal"
    assert "nobody said that his stays" in may_change.assumption
    silent = {fact: words for fact, words in TOW.items() if fact not in ("tune", "injector size")}
    nobody = figures(call(silent).recommended)
    assert nobody["power made"].note == "with fuel for the goal"
    assert "nobody told of the fuel system" in nobody["power made"].assumption
    assert "power with fuel for the goal" not in nobody
    enough = figures(call({**TOW, "tune": "competition", "injector size": "100 over"}).recommended)
    assert "enough for the goal" in enough["power made"].assumption
    assert "power with fuel for the goal" not in enough
    text = written(call(TOW), shop())
    assert "power made, with fuel" in text


def test_the_requested_part_is_told_with_both_fuels():
    lines = " ".join(call({**TOW, "request": "a 69", "power goal": "700 hp", "must stay": "tune"}).requested_words)
    assert "on the fuel you have" in lines
    assert "With fuel for your goal it would make about" in lines


def test_what_is_left_of_the_surge_line_or_too_hot_is_called_so_with_its_place():
    outcome = call({**TOW, "request": "80 mil with a 1.15 T6 open", "working rpm low": "1500"})
    seen = 0
    for option in shown(outcome):
        said = " ".join(option.to_mind)
        points = {duty: min(read_off(option, "surge margin", duty), default=1.0) for duty in ("daily", "towing")}
        assert ("left of its predicted surge line" in said) == (min(points.values()) < 0.0)
        seen += min(points.values()) < 0.0
        for words in option.to_mind:
            assert PLACED.search(words), words
        # 950 K for minutes with a trailer on, at the engine speed of the grade.
        grade = figures(option)["towing exhaust temperature"].value.mid
        assert ("on the grade" in said and " hot: " in said) == (grade > 950.0 + 11.0)
    assert seen
    assert "mind: " in written(outcome, shop())


@pytest.mark.parametrize(
    "script", ["tow-only", "mixed-duty", "sled-and-tow", "strip", "high-altitude", "ploughing-tractor"]
)
def test_every_difference_names_its_duty_and_none_is_said_both_ways(script):
    outcome = told(script)
    for option in shown(outcome)[1:]:
        for words in (*option.gains, *option.loses):
            assert PLACED.search(words) or UNPLACED.search(words), words
        # Hotter and cooler at once only at different points.
        for gain in option.gains:
            for loss in option.loses:
                if re.search(r"(stays|runs) \S+ °F cooler", gain) and re.search(r"(gets|runs) \S+ °F hotter", loss):
                    assert place(gain) != place(loss)


def place(words):
    return re.search(f"(foot down|{AT})[^;]*", words)[0]


def test_with_an_implement_nothing_is_told_of_a_trailer_on_a_grade():
    """330 hp is more than it can hold all day, so heat is minded too."""
    script, _ = read_script(DEMO / "ploughing-tractor.yaml", shop())
    answers = {answer.fact: answer.words for answer in script.answers}
    for goal in ("225 hp", "330 hp"):
        outcome = call({**answers, "power goal": goal})
        compared = " ".join(words for one in shown(outcome) for words in (*one.gains, *one.loses, *one.to_mind))
        assert not re.search(r"trailer|grade|towing", compared), compared
        assert re.search(r"in the field|at full load at", compared)
        assert figures(outcome.recommended)["towing exhaust temperature"].note == "at full load"
        assert ("may be held for hours" in compared) == (goal == "330 hp")
    cart = call({**answers, "field work": "a grain cart on the road"})
    assert figures(cart.recommended)["towing exhaust temperature"].note == "on the grade"


@cache
def told(name):
    """What a scripted call of the demo shop comes to."""
    script, faults = read_script(DEMO / f"{name}.yaml", shop())
    assert script is not None, faults
    return call({answer.fact: answer.words for answer in script.answers})


def test_a_long_wait_for_boost_is_remarked_for_the_turbo_and_the_options():
    outcome = told("high-altitude")
    for option in (outcome.recommended, *outcome.alternatives):
        waits = figures(option)["spool time"].value.mid > 3.0
        assert any("full boost" in words or "later than wanted" in words for words in option.to_mind) == waits
    assert "slow-to-build" in {caution.rule for caution in outcome.cautions}


def test_an_assumption_after_not_sure_says_so_and_how_to_check():
    outcome = call({**DAILY, "manifold entry": "not sure", "exhaust size": "not sure"})
    told = {one.fact: one.text for one in outcome.rests_on}
    assert len(told) == len(outcome.rests_on)
    assert told["manifold entry"] == (
        "manifold entry taken as divided: he wasn't sure; check by a look into the flange with the turbo off: "
        "one opening or two"
    )
    assert "exhaust size taken as about 4 in: he wasn't sure; the middle of 3 to 5 in; check by" in told["exhaust size"]
    assert any(words.endswith(": the usual") for words in told.values())


def test_of_what_it_rests_on_only_what_may_move_the_advice_is_said():
    outcome = call({**DAILY, "manifold entry": "not sure", "exhaust size": "not sure"})
    aloud = counted_on(outcome)
    assert "manifold entry divided" in aloud
    assert not [one.fact for one in outcome.rests_on if not (one.unsure or one.moves) and one.fact in aloud]
    assert "manifold entry" not in counted_on(call(DAILY))


def test_a_complaint_about_nothing_known_proposes_no_turbo_and_no_parts():
    outcome = call({"call kind": "complaint", "complaint": "noise", "displacement": "5.9 litre"})
    assert outcome.verdict == "diagnosed"
    assert outcome.recommended is None
    assert outcome.parts == ()
    assert outcome.alternatives == ()
    text = written(outcome, shop())
    assert text.index("To be done first") < text.index("Cautions")
    assert "Shaft play" in outcome.next_steps[0].text  # what the gravest caution asks for comes first


def test_before_the_checks_of_a_complaint_only_they_are_listed():
    traced = {**DAILY, "call kind": "complaint", "complaint": "lazy down low"}
    wanted = {**traced, "turbo wanted": "yes"}
    tracing, before, after = call(traced), call(wanted), call({**wanted, "boost leak checked": "yes, it's tight"})
    assert [part.rule for part in before.parts] == ["leak-test-before-anything"]
    assert [part.rule for part in tracing.parts] == ["leak-test-before-anything"]
    assert (tracing.recommended, tracing.alternatives) == (None, ())
    assert before.recommended.title in before.verdict_words
    assert len(after.parts) > 5
    assert "leak-test-before-anything" not in [part.rule for part in after.parts]


def test_a_drive_pressure_says_that_gauges_read_more():
    told = figures(call(DAILY).recommended)
    assert "gauge" in told["drive pressure ratio"].assumption
    assert "gauge" not in told["boost made"].assumption


def test_who_minds_the_price_is_shown_a_cheaper_one():
    answers = {**DAILY, "objection": "price"}
    outcome = call(answers)

    def cost(option):
        of = figures(option)
        return of["candidate price"].value.mid + of["fitting cost"].value.mid

    assert any(cost(option) < cost(outcome.recommended) - 150 for option in outcome.alternatives)
    assert any("less with the parts to fit it" in gain for option in outcome.alternatives for gain in option.gains)


def test_with_a_budget_what_is_as_good_for_much_less_is_the_first_of_the_others():
    script, faults = read_script(DEMO / "strip.yaml", shop())
    assert script is not None, faults
    said = {answer.fact: answer.words for answer in script.answers}
    outcome = call({**said, "budget": "6,000 $"})
    first, best = outcome.alternatives[0], outcome.recommended
    assert best.points - 2.0 <= first.points
    assert figures(first)["candidate price"].value.mid < figures(best)["candidate price"].value.mid - 300
    without = call({fact: words for fact, words in said.items() if fact != "budget"})
    assert without.recommended.code == best.code
    assert without.alternatives[0].code != first.code


def test_open_joints_are_asked_about_and_not_counted():
    outcome = call({fact: words for fact, words in DAILY.items() if fact != "exhaust size"})
    joint = next(part for part in outcome.parts if part.words.startswith("exhaust joint"))
    assert (joint.open, joint.quantity) == (True, 0)
    assert "exhaust pipe 4 in goes straight on" in joint.words or "takes an adapter" in joint.words
    assert re.search(r"\$\d+ to \$\d+, by what is there", joint.why)


def test_nothing_is_said_twice_of_the_same_figure():
    """On the grade too hot: the caution says it, and no second line beside it."""
    text = written(told("tow-only"), shop())
    assert "[heat-stays]" in text
    assert "[too-hot-on-the-grade]" not in text


ROAD_LAW = {
    "controls-stay-on-the-road",
    "nobody-knows-of-the-controls",
    "built-without-controls",
    "competition-only-yet-on-the-road",
}
SHIELDS = {"competition-needs-shields", "competition-has-shields", "rotor-can-burst"}


@pytest.mark.parametrize("name", ALL_CALLS)
def test_the_cautions_that_a_call_needs_are_in_it(name):
    """Road law wherever it is driven on the road, the rating of the truck or a load below it where it tows, shields
    where it competes, speed where the wheel is near its limit, gas and oil wherever a turbo is advised."""
    outcome = told(name)
    said = {caution.rule for caution in outcome.cautions}
    facts = {fact: known.value for fact, known in outcome.facts.items()}
    duties = facts.get("duties", frozenset())
    if facts.get("road use") is True:
        assert said & ROAD_LAW
    if "towing" in duties and outcome.facts.get("tow rating") is None and "trailer behind it" not in facts:
        assert said & {"nobody-knows-the-tow-rating", "nobody-knows-what-the-tractor-may-pull"}
    if duties & {"strip", "sled"}:
        assert said & SHIELDS
    if outcome.recommended is not None:
        assert {"hot-gas-on-a-running-engine", "first-start-with-oil"} <= said
        gated = outcome.facts_of(outcome.recommended.code).value("wastegate") != "none"
        left = figures(outcome.recommended)["tip speed margin"].value.mid
        unheld = left < (TIP_RESERVE - 0.005 if gated else 0.06)
        assert ("too-little-speed-left-to-be-careless" in said) == unheld
        duties = {row[0] for row in outcome.recommended.line.rows} - {FULL_LOAD}
        barks = any(min(read_off(outcome.recommended, "surge margin", duty)) < 0.0 for duty in duties)
        assert ("may-bark-where-he-uses-it" in said) == barks
        steps = {step.rule for step in outcome.next_steps}
        assert ("gate-keeps-the-wheel-in-hand" in steps) == (gated and left < 0.06)
        assert ("gate-line-stays-connected" in said) == gated


SPEAKS_OF_PEOPLE = ("safety", "law", "towing")


ONE_LOOK, WITH_MORE = 54, 74
"""Lines of 80 columns for the end of a usual call, and of one with more that stops or more that he asks (own
judgement)."""


def aloud_of(outcome):
    return flat(aloud(outcome, shop()), 200)


def flat(blocks, width=80):
    """Blocks as one line of words."""
    return " ".join(" ".join(line for _, line in lines([*blocks], width)).split())


def section(name, outcome):
    return flat(SECTIONS[name](outcome, shop()), 200)


def left_in(name, said):
    """How many more of a section the last line promises."""
    found = re.search(rf"\b{name} \((\d+) more\)", said)
    return int(found[1]) if found else 0


def must_be_told(caution):
    return caution.severity in ("stop", "danger") or caution.topic in SPEAKS_OF_PEOPLE


@pytest.mark.parametrize("name", ALL_CALLS)
def test_what_stops_is_told_whole_what_endangers_in_a_sentence_and_the_rest_is_counted(name):
    outcome = told(name)
    said, words = aloud_of(outcome), {line.rule: line.text for line in outcome.say}
    for caution in outcome.cautions:
        if caution.severity == "stop":
            assert caution.text in said
            assert words.get(caution.rule, "") in said
        if must_be_told(caution):
            assert in_short(caution) in said
    untold = [caution for caution in outcome.cautions if in_short(caution) not in said]
    assert left_in("cautions", said) == len(untold)
    assert len(outcome.cautions) - len(untold) <= max(7, sum(map(must_be_told, outcome.cautions)))
    reachable, sheet = section("cautions", outcome), " ".join(written(outcome, shop(), 200).split())
    assert all(caution.text in reachable for caution in outcome.cautions)
    assert all(caution.text in sheet for caution in outcome.cautions if must_be_told(caution))


@pytest.mark.parametrize("name", ALL_CALLS)
def test_the_first_steps_and_the_weightiest_advice_are_told_and_the_rest_is_counted(name):
    outcome = told(name)
    said, reachable = aloud_of(outcome), section("steps", outcome)
    steps = [*first_steps(outcome), *last_steps(outcome)]
    assert left_in("steps", said) == sum(step.text not in said for step in steps)
    assert all(step.text in reachable for step in steps)
    grave = {caution.rule for caution in outcome.cautions if caution.severity in ("stop", "danger")}
    for place, step in enumerate(last_steps(outcome)):
        if place < 3 or step.rule in grave:
            assert first_sentence(step.text) in said
    words = {line.rule: line.text for line in outcome.say}
    beside = without_steps(worth_saying(outcome, shop()), outcome)
    advice = [*(words.get(line.rule, line.text) for line in outcome.advice), *(line.text for line in beside)]
    assert left_in("advice", said) == sum(" ".join(line.split()) not in said for line in advice)
    assert all(" ".join(line.split()) in section("advice", outcome) for line in advice)


@pytest.mark.parametrize("name", ALL_CALLS)
def test_each_choice_is_told_with_code_price_and_what_is_wrong_with_it(name):
    outcome = told(name)
    offered, said = shown(outcome), aloud_of(outcome).partition("His choice")[2].partition("Cautions")[0]
    reachable = section("choices", outcome)
    for at, option in enumerate(offered, 1):
        mine = option.code + said.partition(option.code)[2]
        mine = mine.partition(offered[at].code)[0] if at < len(offered) else mine
        assert f"{option.code}, {money(option.price)}" in mine
        hanging = option.hangs if option.role != "recommended" else ()
        minded = "mind: " in mine or any(words in mine for words in option.to_mind)
        assert minded is bool(option.to_mind)
        assert ("ruled out: " in mine) is bool(option.ruled_out_by)
        for where, becomes in (words.partition(":")[0][3:].rstrip(".").rsplit(", ", 1) for words in hanging):
            assert re.search(f"{becomes} (if {re.escape(where)}|in a part of what he gave)", mine)
        assert all(words in reachable for words in (*option.gains, *option.loses))


@pytest.mark.parametrize("name", ALL_CALLS)
def test_the_end_of_a_call_is_taken_in_at_one_look(name):
    """Without what stops, with its words, and without his own questions: these take what they take."""
    outcome = told(name)
    stopping = replace(outcome, cautions=tuple(one for one in outcome.cautions if one.severity != "stop"), asked=())
    assert len([*lines([*aloud(stopping, shop())], 80)]) <= WITH_MORE


def test_the_end_of_half_of_all_calls_fits_a_screen():
    recommended = [outcome for outcome in map(told, ALL_CALLS) if outcome.verdict == "recommended"]
    assert median(len([*lines([*aloud(outcome, shop())], 80)]) for outcome in recommended) <= ONE_LOOK


def test_a_grave_caution_says_in_two_lines_what_hurts_and_what_to_do():
    """At 80 columns; what stops is told whole."""
    for rule in shop().rules:
        for act in rule.then:
            if isinstance(act, CautionAct) and act.severity != "stop":
                told_ = Caution(act.severity, act.text, rule.name, rule.place.file.removesuffix(".yaml"))
                assert not must_be_told(told_) or len(first_sentence(act.text)) <= 140, rule.name


def test_steps_stand_in_the_order_of_doing():
    outcome = told("tow-only")
    rules = [step.rule for step in last_steps(outcome)]
    assert set(rules) == {step.rule for step in outcome.next_steps}
    ordered, driven = rules.index("trouble-today-comes-first"), rules.index("check-after-the-first-drives")
    grave = {caution.rule for caution in outcome.cautions if caution.severity in ("stop", "danger")}
    assert ordered < driven
    places = [place for place, rule in enumerate(rules) if rule in grave]
    assert places == list(range(len(places)))


def test_what_holds_for_all_choices_is_told_with_the_first_alone():
    outcome = told("trouble-heat-and-late")
    minded = told_once(option.to_mind for option in shown(outcome))
    before, after = (" ".join(words for one in each for words in one) for each in (
        [option.to_mind for option in shown(outcome)], minded))
    assert before.count("may be held in bursts") > 1 < before.count("may be held for minutes")
    assert after.count("may be held in bursts") == 1 == after.count("may be held for minutes")
    assert re.findall(r"[\d,]+ °F (?:on|foot)", after) == re.findall(r"[\d,]+ °F (?:on|foot)", before)
    assert written(outcome, shop()).count("may be held in") == 1


def test_none_that_barks_is_put_to_him_beside_one_that_does_not():
    """The caller with heat on the big hill, for whom a wheel past its surge line would run cooler."""
    outcome = told("trouble-heat-and-late")
    margins = {option.code: figures(option)["surge margin"].value.mid for option in
               (outcome.recommended, *outcome.alternatives)}
    assert len(margins) > 1
    assert min(margins.values()) >= 0.0


@pytest.mark.parametrize("name", ["mixed-duty", "trouble-heat-and-late", "high-altitude"])
def test_the_price_stands_early_and_what_a_step_says_is_not_said_beside_it(name):
    outcome = told(name)
    said = aloud_of(outcome)
    assert -1 < said.index("All parts together") < said.index("His choices")
    beside = said.partition("Tell him too")[2].partition("Cautions")[0]
    stepping = {step.rule for step in last_steps(outcome)} - {line.rule for line in outcome.advice}
    words = [line.text for line in outcome.say if line.rule in stepping]
    assert words
    assert not [text for text in words if " ".join(text.split()) in beside]


def test_a_set_up_for_one_duty_that_is_among_his_choices_is_told_by_its_number_and_nothing_twice():
    outcome = told("mixed-duty")
    heard = aloud_of(outcome)
    numbers = {option.code: at for at, option in enumerate(shown(outcome), 1)}
    best = outcome.recommended.code
    named = [one for one in outcome.trade if one.option.code in {*numbers} - {best}]
    assert named
    for one in named:
        number = numbers[one.option.code]
        assert re.search(rf"only for {one.duty} \(about \d+ % of his use\): number {number} of his choices", heard)
        assert section("choices", outcome).count("; ".join(one.gains)) >= 1
