"""How people speak whatever they are asked: both ends of a figure, what is left out, what another has, questions that
are answers. The sentences are invented, the ways of speaking common, no source."""

import pytest
from calls import call_of, shop

from advisor.hearing import understand
from advisor.units import Range, from_si

VOCABULARY = shop().vocabulary


def figure(fact: str, words: str) -> tuple[float, float] | None:
    """The figure heard, in the unit of the vocabulary."""
    heard, definition = understand(VOCABULARY[fact], words), VOCABULARY[fact]
    if heard.fact is None or not isinstance(heard.fact.value, Range):
        return None
    ends = heard.fact.value.low, heard.fact.value.high
    return tuple(round(from_si(end, definition.unit, definition.quantity), 3) for end in ends)  # type: ignore[return-value]


def said(fact: str, words: str) -> str:
    """What is heard, "" for nothing, with a question mark where it waits for a yes."""
    heard = understand(VOCABULARY[fact], words)
    if heard.not_sure:
        return "not sure"
    return heard.echo.partition(": ")[2] + "?" * bool(heard.doubt) if not heard.again else ""


# both ends of a figure


@pytest.mark.parametrize(
    ("fact", "words", "low", "high"),
    [
        ("power goal", "at least four fifty and no more than five fifty", 450, 550),
        ("power goal", "minimum 700, maximum 800", 700, 800),
        ("power goal", "under 650 but over 600", 600, 650),
        ("present boost", "more than 35 but less than 40", 35, 40),
        ("present boost", "above 20 and below 24 psi", 20, 24),
        ("present exhaust temperature", "over 1,150, never past 1,250", 1150, 1250),
        ("trailer weight", "at least eight thousand, at most ten", 8000, 10000),
        ("stall speed", "no less than 1,800, no more than 2,000", 1800, 2000),
        ("deadline", "at least two weeks but less than four", 14, 28),
        ("budget", "more than three grand but under four", 3000, 4000),
    ],
)
def test_the_least_and_the_most_are_the_ends_of_a_span(fact: str, words: str, low: float, high: float) -> None:
    assert figure(fact, words) == pytest.approx((low, high), rel=2e-3)
    assert not understand(VOCABULARY[fact], words).doubt


@pytest.mark.parametrize(
    ("fact", "words", "low", "high"),
    [
        ("power goal", "550, 600 tops", 550, 600),
        ("present boost", "twenty-eight, thirty at the most", 28, 30),
        ("deadline", "three weeks, four at the outside", 21, 28),
    ],
)
def test_a_figure_and_the_most_that_it_may_be_wait_for_a_yes(fact: str, words: str, low: float, high: float) -> None:
    assert figure(fact, words) == pytest.approx((low, high), rel=2e-3)
    assert understand(VOCABULARY[fact], words).doubt


@pytest.mark.parametrize(
    ("fact", "words", "low", "high"),
    [
        ("power goal", "over 600, it makes 400 now", 600, 600),
        ("power goal", "at least 500", 500, 500),
        ("power goal", "600 horse, and under 4 grand", 600, 600),
        ("present boost", "under 40", 5, 40),
        ("trailer weight", "12,000, 14,000 at the most", 14000, 14000),
        ("altitude", "5,000 mostly, 7,000 at most", 7000, 7000),
        ("working rpm high", "2,900, 3,100 tops", 3100, 3100),
        ("working rpm high", "2,900, redline's 3,400", 2900, 2900),
        ("towing share", "ten percent at most", 0, 10),
        ("tow rating", "no more than 13,000", 13000, 13000),
        ("budget", "not over 2,500", 2500, 2500),
    ],
)
def test_one_end_alone_and_figures_of_other_things_make_no_span(
    fact: str, words: str, low: float, high: float
) -> None:
    assert figure(fact, words) == pytest.approx((low, high), rel=2e-3)


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("towing share", "every time I start it", 100),
        ("strip share", "every single trip", 100),
        ("daily share", "every other run", 50),
    ],
)
def test_a_share_is_told_by_how_often(fact: str, words: str, value: float) -> None:
    assert figure(fact, words) == (value, value)


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("towing share", "every time I go camping"),
        ("towing share", "every weekend in July"),
        ("injector size", "95 lb/min"),
        ("injector size", "a hundred lb/min"),
    ],
)
def test_what_is_no_share_is_not_taken_as_one(fact: str, words: str) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is None or heard.doubt or heard.fact.value != Range(1.0, 1.0)


@pytest.mark.parametrize("words", ["a hundred and three some days", "103 some days", "103, some afternoons"])
def test_what_it_is_at_times_is_offered(words: str) -> None:
    assert figure("summer temperature", words) == (103, 103)


# what is left out, what isn't known


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("duties", "not the sled, everything else", {"daily", "towing", "strip"}),
        ("duties", "no towing, all the rest", {"daily", "strip", "sled"}),
        ("duties", "anything but the strip", {"daily", "towing", "sled"}),
        ("gauges", "no drive pressure, but everything else", {"boost", "exhaust temperature"}),
        ("duties", "no towing, just daily driving", {"daily"}),
        ("must stay", "not the exhaust, that's got to go; keep the manifold", {"manifold"}),
    ],
)
def test_all_the_others_are_meant_where_one_is_left_out_first(fact: str, words: str, want: set[str]) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is not None
    assert heard.fact.value == frozenset(want)


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("shaft play", "haven't checked", "not sure"),
        ("probe place", "haven't looked", "not sure"),
        ("manifold entry", "not looked", "not sure"),
        ("converter", "whatever the gearbox shop put in", "not sure"),
        ("camshaft", "whatever the last owner fitted", "not sure"),
        ("converter", "whatever the factory put in it", "stock"),
        ("camshaft", "whatever came in the engine", "stock"),
        ("boost leak checked", "haven't checked", "no"),
        ("already checked", "haven't looked", "none"),
        ("engine health", "haven't checked", "never tested"),
        ("objection", "can't see anything wrong with it", "none"),
        ("objection", "can't complain", "none"),
    ],
)
def test_who_has_not_looked_does_not_know(fact: str, words: str, want: str) -> None:
    assert said(fact, words).split(",")[0].rstrip("?") == want


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("transmission", "manual, but I'm swapping to an auto this winter", "manual?"),
        ("transmission", "auto for now, going to a stick next year", "automatic?"),
        ("transmission", "swapped the auto for a stick", "manual?"),
    ],
)
def test_a_plan_is_no_answer_to_what_is_there(fact: str, words: str, want: str) -> None:
    assert said(fact, words) == want


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("gauges", "only boost and drive pressure", {"boost", "drive pressure"}),
        ("must stay", "just the tune and the exhaust", {"tune", "exhaust"}),
        ("duties", "farm truck through the week, strip on Saturdays", {"daily", "strip"}),
        ("gauges", "used to have a pyro, only boost now", {"boost"}),
        ("gauges", "boost and drive pressure", {"boost", "drive pressure"}),
    ],
)
def test_only_these_two_are_two(fact: str, words: str, want: set[str]) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.fact is not None
    assert heard.fact.value == frozenset(want)


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("boost leak checked", "my old mechanic may have", "not sure"),
        ("cooler between stages", "haven't thought about that", "not sure"),
        ("turbo wanted", "haven't made up my mind", "not sure"),
        ("turbo wanted", "not decided", "not sure"),
        ("boost leak checked", "the shop did it in May", "yes"),
        ("cooler between stages", "no, I thought about it", "no"),
        ("turbo wanted", "decided to wait", "no"),
        ("road use", "every day, it's my work truck", "yes"),
        ("exhaust smell", "most mornings", "yes"),
        ("exhaust smell", "never, not once", "no"),
    ],
)
def test_undecided_and_hearsay_are_not_known_and_every_day_is_a_yes(fact: str, words: str, want: str) -> None:
    assert said(fact, words).split(",")[0].rstrip("?") == want


@pytest.mark.parametrize("words", ["half, give or take", "half or so", "half or thereabouts"])
def test_a_hedge_behind_a_word_for_a_share_widens_it(words: str) -> None:
    assert figure("daily share", words) == (47.5, 52.5)
    assert figure("daily share", "half") == (50, 50)


# complaints told one after the other, and since when


@pytest.mark.parametrize(
    ("words", "want"),
    [
        ("slow to come in, and it smokes black till it does", {"late spool", "smoke"}),
        ("laggy, and a cloud of soot until it lights", {"late spool", "smoke"}),
        ("smokes till it lights", {"late spool"}),
        ("slow to come in and no smoke", {"late spool"}),
        ("slow to light, and hot on the hills", {"late spool", "heat"}),
        ("it gets hot, no lag at all", {"heat"}),
    ],
)
def test_smoke_beside_lateness_is_heard(words: str, want: set[str]) -> None:
    heard = understand(VOCABULARY["complaint"], words)
    assert heard.fact is not None
    assert heard.fact.value == frozenset(want)


@pytest.mark.parametrize(
    ("words", "want"),
    [
        ("ever since I had the injectors done", "after a change"),
        ("since we put the new exhaust on", "after a change"),
        ("ever since they fitted a bigger pump", "after a change"),
        ("since I got it", "always"),
        ("ever since I had it", "always"),
        ("ever since we bolted it on", "always"),
        ("since new", "always"),
    ],
)
def test_since_a_part_was_changed_is_not_since_ever(words: str, want: str) -> None:
    assert said("complaint since", words).rstrip("?") == want


@pytest.mark.parametrize(
    ("words", "want"),
    [
        ("took my gauge off and checked it against my brother's", {"gauge"}),
        ("new filter, and I compared the gauge with my mate's", {"filter", "gauge"}),
    ],
)
def test_held_against_anothers_is_his_own(words: str, want: set[str]) -> None:
    heard = understand(VOCABULARY["already checked"], words)
    assert heard.fact is not None
    assert heard.fact.value == frozenset(want)


# the opening


@pytest.mark.parametrize(
    ("words", "want"),
    [
        ("my neighbour runs a 66 and I want one", "new turbo"),
        ("a mate of mine fitted one, I'd like the same", "new turbo"),
        ("bloke at work has a 64, I'm keen on one too", "new turbo"),
        ("what would you put on a 5.9 for 600 horse?", "new turbo"),
        ("can you help me choose a turbo for towing?", "new turbo"),
        ("could you tell me why mine barks?", "complaint"),
        ("why would mine smoke so much?", "complaint"),
        ("can you replace a blown turbo?", "replacement"),
        ("I want the same again, mine's worn out", "replacement"),
        ("my cousin's blew up and so did mine", "replacement"),
        ("do you do rebuilds? mine's shot", "replacement"),
    ],
)
def test_an_opening_is_heard_though_it_asks_or_names_anothers(words: str, want: str) -> None:
    assert said("call kind", words).rstrip("?") == want


@pytest.mark.parametrize(
    "words",
    [
        "what's a replacement?",
        "what do you mean, complaint?",
        "why do you ask?",
        "are you open on Saturday?",
        "how much is a new turbo?",
        "what's the difference between a new one and a replacement?",
        "who am I talking to?",
    ],
)
def test_a_question_about_the_question_is_no_answer(words: str) -> None:
    assert understand(VOCABULARY["call kind"], words).again


@pytest.mark.parametrize(
    "words",
    [
        "my buddy runs a 62 and I want one, there's exhaust in my cab",
        "can you sort me a bigger turbo, I get fumes inside",
    ],
)
def test_a_wish_beside_a_danger_is_asked_about_and_the_danger_told_at_once(words: str) -> None:
    heard = understand(VOCABULARY["call kind"], words)
    assert heard.fact is None or heard.doubt
    answers, shown = call_of("", words)
    assert "call kind" not in answers
    assert "Exhaust in the cab can kill" in shown
    answers, shown = call_of("", words, "new turbo")
    assert answers["call kind"] == "new turbo"


# what there is none of
@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("sled share", "we don't pull sleds"),
        ("sled share", "it's not a sled truck"),
        ("strip share", "I don't race"),
        ("strip share", "it never sees the strip"),
        ("towing share", "doesn't tow anything any more"),
    ],
)
def test_who_denies_a_duty_and_says_nothing_else_has_none_of_it(fact: str, words: str) -> None:
    assert said(fact, words) == "0 %"


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("sled share", "all it does is pull sleds", "100 %"),
        ("towing share", "we don't tow much", "about 5 %, 0 to 10 %?"),
        ("towing share", "we don't tow heavy", ""),
        ("towing share", "I don't tow on weekends", ""),
        ("towing share", "no idea", "not sure"),
    ],
)
def test_who_says_more_than_that_has_not_said_none(fact: str, words: str, want: str) -> None:
    assert said(fact, words) == want


@pytest.mark.parametrize("words", ["don't have one", "I don't own one", "never had one", "we don't have one"])
def test_who_has_none_says_no_and_isn_t_unsure(words: str) -> None:
    assert said("exhaust brake", words).rstrip("?") == "no"
    assert said("lift pump", words).rstrip("?") == "none"
    assert said("must stay", "don't have any") == "nothing?"
    assert said("present drive pressure", words) == "not sure"  # of a gauge it is


@pytest.mark.parametrize(
    "words", ["the last shop might have, they didn't write it down", "he may have put air on it, I wasn't there"]
)
def test_what_somebody_may_have_done_is_not_taken_for_done_nor_for_undone(words: str) -> None:
    assert said("boost leak checked", words) == "not sure"
    assert said("boost leak checked", f"yes, {words}") != "no"


# how much, how long
@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("stock power", "three and a quarter, I believe", (308.75, 341.25)),
        ("power goal", "five and a half", (550, 550)),
        ("power goal", "5 to 600", (500, 600)),
        ("present exhaust temperature", "twelve and a half", (1250, 1250)),
        ("injector size", "they're thirty percent bigger, or thereabouts", (28.5, 31.5)),
        ("injector size", "50 more than stock", (50, 50)),
        ("injector size", "they flow thirty percent more, give or take", (28.5, 31.5)),
        ("injector size", "60 or more", (60, 500)),
        ("power now", "300 more or less", (285, 315)),
        ("towing share", "ten, fifteen percent", (10, 15)),
        ("present boost", "never better than 25", (5, 25)),
        ("deadline", "I've got a month before calving starts", (30.438, 30.438)),
        ("deadline", "two weeks until the pull", (14, 14)),
        ("deadline", "a week to ten days", (7, 10)),
        ("deadline", "I lose money every day it sits, so within a week", (7, 7)),
        ("deadline", "no later than a fortnight from today", (14, 14)),
        ("trailer weight", "it's 2.2 tonnes empty, but loaded it's more like 3.2", (6702.053, 7407.532)),
    ],
)
def test_a_figure_is_heard_as_it_is_told_in_passing(fact: str, words: str, want: tuple[float, float]) -> None:
    assert figure(fact, words) == want


def test_how_long_before_something_may_be_when_it_has_to_be_there() -> None:
    assert said("deadline", "three weeks before harvest").endswith("?")
    assert said("deadline", "we've got three weeks before harvest") == "3 weeks (21 days)"


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("compression ratio", "stock as far as I know", "about 16.8, 15.5 to 18?"),
        ("compression ratio", "stock, 17.3", "17.3"),
        ("top gear ratio", "top", "about 0.735, 0.62 to 0.85?"),
        ("top gear ratio", "one down", "about 0.875, 0.75 to 1?"),
        ("top gear ratio", "I lock out overdrive", "1"),
        ("top gear ratio", "one down, 0.85", "0.85"),
    ],
)
def test_what_the_question_itself_names_is_an_answer(fact: str, words: str, want: str) -> None:
    assert said(fact, words) == want


@pytest.mark.parametrize("words", ["my truck", "it's a truck", "a one ton", "one ton", "4x4"])
def test_what_may_be_several_trucks_waits_for_a_yes(words: str) -> None:
    assert said("vehicle kind", words).endswith("pickup?")
    assert said("vehicle kind", "my pickup") == "pickup"


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("oil feed", "I bought a bigger one but haven't fitted it"),
        ("daily effort", "depends on who's driving"),
        ("towing effort", "well, it depends on the load"),
        ("class rule", "not sure what class yet"),
        ("power goal", "500 for now, 700 later"),
        ("summer temperature", "110 last year, usually 100"),
        ("manifold entry", "it had two but somebody ground the wall out"),
    ],
)
def test_what_is_not_so_yet_or_hangs_on_something_is_never_taken_unasked(fact: str, words: str) -> None:
    heard = understand(VOCABULARY[fact], words)
    assert heard.doubt or heard.again or heard.not_sure


@pytest.mark.parametrize(
    ("fact", "words", "want"),
    [
        ("oil drain", "it used to be small, now it's big", "large drain?"),
        ("air filter", "it had a cone, I put the box back", "stock?"),
        ("tune", "it had a hot one, I went back to stock", "stock?"),
    ],
)
def test_what_it_is_now_stands_for_what_it_was(fact: str, words: str, want: str) -> None:
    assert said(fact, words) == want


@pytest.mark.parametrize(
    ("fact", "words", "told"),
    [
        ("present boost", "thirty odd pounds", "30 to 39 psi"),
        ("present boost", "fifty-odd", "50 to 59 psi"),
        ("present boost", "thirty something", "30 to 39 psi"),
        ("power goal", "six hundred odd", "600 to 690 hp"),
        ("power goal", "five hundred some odd at the wheels", "500 to 590 hp"),
        ("trailer weight", "twelve thousand odd", "12,000 to 12,900 lb"),
        ("trailer weight", "ten thousand odd", "10,000 to 10,900 lb"),
        ("present exhaust temperature", "thirteen hundred odd", "1,300 to 1,390 °F"),
    ],
)
def test_an_odd_figure_is_anything_short_of_the_next_round_one(fact: str, words: str, told: str) -> None:
    """Common practice, no source: who says thirty-odd means thirty and some, less than forty; it waits for a yes."""
    heard = understand(shop().vocabulary[fact], words)
    assert heard.doubt == f"That sounds like {told}. Is that it?"
    assert heard.fact is not None
