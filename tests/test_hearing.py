"""From words to facts: what is understood, asked again, doubted, read back, and taken along."""

import re
from collections.abc import Mapping
from functools import cache
from itertools import combinations, product

import pytest
from desk import FACTS, VOCABULARY, choice, fact
from hypothesis import given
from hypothesis import strategies as st

from advisor.hearing import example, suggestions, understand
from advisor.hearing.beside import also_said, offers
from advisor.hearing.mentions import take_all
from advisor.hearing.together import apart
from advisor.hearing.understood import value_words
from advisor.knowledge import FactDef, load, shipped_folder
from advisor.units import Range, from_si

OTHERS = [definition for definition in FACTS if definition.source == "asked" and definition.name != "request"]


@cache
def shops() -> Mapping[str, FactDef]:
    """The vocabulary of the demo shop."""
    return load(shipped_folder()).vocabulary


def in_units(name: str, words: str, vocabulary: Mapping[str, FactDef] = VOCABULARY) -> tuple[float, float]:
    heard = understand(vocabulary[name], words)
    assert heard.fact is not None, heard.again
    assert isinstance(heard.fact.value, Range)
    definition = vocabulary[name]
    ends = (heard.fact.value.low, heard.fact.value.high)
    return tuple(round(from_si(end, definition.unit, definition.quantity), 6) for end in ends)  # type: ignore[return-value]


def test_nothing_but_names_of_choices_is_those_choices() -> None:
    """As the choices are shown, typed or completed: a "no" in a name denies nothing of what stands beside it."""
    several = [one for one in shops().values() if one.kind == "several"]
    for definition in several:
        names = [name for name in definition.choice_names if name not in ("none", "nothing")]
        for size, joined in product((1, 2, 3), (" and ", ", ", " + ")):
            for some in combinations(names, size):
                heard = understand(definition, joined.join(some))
                assert heard.fact is not None, some
                assert (heard.fact.value, heard.doubt) == (frozenset(some), ""), some
    assert any("no gate" in definition.choice_names for definition in several)


@pytest.mark.parametrize(
    ("name", "words", "low", "high"),
    [
        ("trailer weight", "14k", 14_000, 14_000),
        ("trailer weight", "about 14k", 13_300, 14_700),
        ("trailer weight", "between 12,000 and 15,000", 12_000, 15_000),
        ("present boost", "35 pounds", 35, 35),
        ("present boost", "2.4 bar", 34.80905, 34.80905),  # 1 bar = 14.50377 psi (NIST SP 811, appendix B)
        ("altitude", "6,200 feet", 6_200, 6_200),
        ("displacement", "359 cubic inches", 5.882956, 5.882956),  # 1 cu in = 16.387064 cm3 (NIST SP 811)
    ],
)
def test_numbers_as_callers_say_them(name: str, words: str, low: float, high: float) -> None:
    assert in_units(name, words) == pytest.approx((low, high), rel=1e-6)


@pytest.mark.parametrize(
    ("name", "words", "value"),
    [
        ("transmission", "it's a stick", "manual"),
        ("transmission", "auto", "automatic"),
        ("road use", "yeah", True),
        ("road use", "no", False),
        ("duties", "mostly street, a bit of drag", frozenset({"daily", "strip"})),
        ("duties", "towing but no drag", frozenset({"towing"})),
        ("request", "a 64/71", "a 64/71"),
    ],
)
def test_choices_and_texts(name: str, words: str, value: object) -> None:
    heard = understand(VOCABULARY[name], words)
    assert heard.fact is not None
    assert heard.fact.value == value
    assert heard.fact.origin.kind == "answer"
    assert heard.fact.origin.source == words


def test_the_echo_has_the_unit_that_was_said_and_the_shops() -> None:
    assert understand(VOCABULARY["present boost"], "2.4 bar").echo == "present boost: 2.4 bar (34.8 psi)"
    assert understand(VOCABULARY["present boost"], "35").echo == "present boost: 35 psi"
    assert understand(VOCABULARY["duties"], "tow and street").echo == "duties: daily, towing"
    assert understand(VOCABULARY["road use"], "nope").echo == "road use: no"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("trailer weight", "heavy"),
        ("transmission", "the good one"),
        ("road use", "on Sundays"),
        ("duties", "a bit of both"),
        ("request", "   "),
    ],
)
def test_what_is_not_understood_is_asked_again_with_an_example(name: str, words: str) -> None:
    heard = understand(VOCABULARY[name], words)
    assert heard.fact is None
    assert not heard.not_sure
    assert heard.again.endswith((".", "?"))
    assert name == "request" or any(part in heard.again.lower() for part in ("example", "one of", "or", "yes"))


@pytest.mark.parametrize(
    ("name", "words", "low", "high"),
    [
        ("present exhaust temperature", "1350, 1400 on the pyro", 1350, 1400),
        ("present boost", "28, wait no, 32 pounds", 32, 32),
        ("tow rating", "fourteen, no wait, sixteen thousand", 16_000, 16_000),
        ("altitude", "oh, uh, we're up about... about sixty-five hundred feet", 6175, 6825),
        ("stall speed", "2200 rpm, it's a 12 inch converter", 2200, 2200),
        ("working rpm high", "28 to 3 thousand", 2800, 3000),
        ("axle ratio", "either 3.55 or 3.73", 3.55, 3.73),
    ],
)
def test_corrections_fillers_and_figures_of_other_things(name: str, words: str, low: float, high: float) -> None:
    assert in_units(name, words, shops()) == pytest.approx((low, high), rel=1e-6)


@pytest.mark.parametrize(
    ("name", "words", "low", "high"),
    [
        ("strip share", "ten percent, fifteen at a push", 10, 15),
        ("strip share", "zero, I'm seventy-two years old", 0, 0),
        ("towing share", "a third usually, half at harvest", 100 / 3, 50),
        ("trailer weight", "usually 8,000, nine in the summer", 8_000, 9_000),
        ("stall speed", "2,200, twenty-three at a push", 2_200, 2_300),
        ("present boost", "32 usually, 35 on a cold day", 32, 35),
        ("cylinders", "it's only a four-banger", 4, 4),
        ("working rpm high", "I never spin it past three", 3_000, 3_000),
    ],
)
def test_what_is_usual_and_what_is_at_times_are_the_ends_of_a_span(
    name: str, words: str, low: float, high: float
) -> None:
    assert in_units(name, words, shops()) == pytest.approx((low, high), rel=1e-3)
    far = understand(shops()["strip share"], "5 percent, 60 at the outside")
    assert far.fact is None or far.doubt


@pytest.mark.parametrize(
    "words",
    ["it's a three-horse slant, never had it on a scale", "it's a 16 foot stock trailer, never weighed it",
     "a 28 footer, haven't weighed it"],
)  # fmt: skip
def test_figures_of_something_else_beside_an_unknown_one_are_no_figure_of_it(words: str) -> None:
    heard = understand(shops()["trailer weight"], words)
    assert heard.not_sure
    assert heard.doubt.endswith("Shall it be left open?")
    assert understand(shops()["trailer weight"], "12k, never weighed it").fact is not None


@pytest.mark.parametrize(
    "words",
    ["yeah I checked the boots, they look fine", "yes, checked every clamp by hand", "yep all the clamps are tight",
     "yeah, went over the boots with a torch"],
)  # fmt: skip
def test_who_only_looked_has_put_no_pressure_on_it(words: str) -> None:
    heard = understand(shops()["boost leak checked"], words)
    assert heard.doubt.endswith("yes or no?")
    assert not understand(shops()["boost leak checked"], "yes, pressure tested the pipes last week").doubt


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("present boost", "30, it was 40 before"),
        ("power goal", "500, no more than 600"),
        ("power now", "500 at the crank, 420 at the wheels"),
        ("exhaust size", "4 inch, 5 further back"),
    ],
)
def test_two_figures_that_both_could_be_it_are_asked_about(name: str, words: str) -> None:
    heard = understand(shops()[name], words)
    assert heard.fact is None or heard.doubt


def test_what_only_leans_to_a_choice_waits_for_a_yes() -> None:
    clear = understand(VOCABULARY["transmission"], "stick")
    leaning = understand(VOCABULARY["transmission"], "she has one of them sticks with a worn old knob my uncle carved")
    for heard in (clear, leaning):
        assert heard.fact is not None
        assert heard.fact.value == "manual"
    assert not clear.doubt
    assert leaning.doubt.startswith("That sounds like manual (")
    assert leaning.doubt.endswith("Is that it?")


@pytest.mark.parametrize(
    ("name", "words", "today"),
    [
        ("head fasteners", "I'm getting studs put in next month", "studs"),
        ("head fasteners", "stock bolts, the studs are on the shelf", "stock bolts"),
        ("present turbo", "stock, want compounds", "stock"),
        ("transmission", "automatic, wish it was a manual", "automatic"),
        ("gauges", "boost, and I had a pyro, but it broke", frozenset({"boost"})),
        ("exhaust brake", "had one, I'm going to fit it again", False),
        ("exhaust brake", "came with one but it's seized", False),
        ("manifold foot", "going to T4", "T4"),
    ],
)
def test_plans_the_past_and_other_trucks_are_never_taken_without_asking(name: str, words: str, today: object) -> None:
    heard = understand(shops()[name], words)
    assert (heard.fact and heard.fact.value) == today
    assert heard.doubt or heard.fact is None


@pytest.mark.parametrize(
    ("name", "words", "shown"),
    [
        ("present turbo", "my buddy's truck has compounds, mine's stock", "stock"),
        ("displacement", "my brother's is a 6.7, mine's a 5.9", "5.9 L"),
        ("power goal", "my cousin makes 800, I'd be happy with 500", "500 hp"),
        ("altitude", "the guy at the track lives at 7,000 feet, I'm at sea level", "0 ft"),
        ("duties", "my boss tows, I just drive it to work", "daily"),
    ],
)
def test_beside_what_another_has_his_own_is_taken(name: str, words: str, shown: str) -> None:
    heard = understand(shops()[name], words)
    assert heard.echo == f"{name}: {shown}"
    assert not heard.doubt


@pytest.mark.parametrize(
    ("name", "words"),
    [("displacement", "the guy at the track runs a 6.6"), ("power now", "a guy at work makes six hundred"),
     ("trailer weight", "the boss pulls 20,000"), ("present boost", "my buddy sees 40 psi"),
     ("manifold foot", "the fella at the track has a T4"), ("rpm limit", "my uncle revs his to 4,000"),
     ("altitude", "my brother lives at 7000 feet"), ("transmission", "neighbour has a manual"),
     ("budget", "my buddy spent five grand"), ("injector size", "a mate of mine runs 100 over"),
     ("smoke colour", "well my buddy said it was bad"), ("smoke colour", "well, my buddy"),
     ("smoke colour", "my brother's blows white")],
)  # fmt: skip
def test_what_belongs_to_others_is_never_taken_for_his_own(name: str, words: str) -> None:
    heard = understand(shops()[name], words)
    assert heard.doubt or heard.fact is None


YES_OR_NO = [one.name for one in load(shipped_folder()).vocabulary.values() if one.ask and one.kind == "yes/no"]


@pytest.mark.parametrize("name", YES_OR_NO)
@pytest.mark.parametrize("words", ["nobody did that", "no one has", "never had it done", "nobody's done it",
                                   "never did", "not been done", "no one's ever done it"])  # fmt: skip
def test_what_nobody_did_is_never_heard_as_a_yes(name: str, words: str) -> None:
    heard = understand(load(shipped_folder()).vocabulary[name], words)
    assert heard.fact is not None
    assert heard.fact.value is False


@pytest.mark.parametrize(("words", "value"), [
    ("trailer's about twelve, has brakes", True), ("brakes work", True), ("it's got its own brakes", True),
    ("they work", True), ("it has brakes", True), ("has no brakes", False), ("it doesn't have brakes", False),
    ("they don't work", False), ("they work most of the time", False),
])  # fmt: skip
def test_a_trailer_s_brakes_are_heard_by_their_own_words(words: str, value: bool) -> None:
    heard = understand(load(shipped_folder()).vocabulary["trailer brakes"], words)
    assert heard.fact is not None
    assert heard.fact.value is value


@pytest.mark.parametrize(("name", "words", "shown", "asked"), [
    ("rpm limit", "three two", "3,200 rpm", False), ("stall speed", "two four", "2,400 rpm", False),
    ("boost wanted by", "by one eight", "1,800 rpm", False),
    ("working rpm high", "one six to two four", "1,600 to", False),
    ("rpm limit", "I lift about three two", "about 3,200 rpm", False),
    ("boost wanted by", "two three thousand", "2,000 to 3,000 rpm", False),
    ("power goal", "six bills", "600 hp", False), ("power goal", "eleven bills", "1,100 hp", False),
    ("grade", "eleven k of six percent", "6 %", True), ("grade", "five miles of eight percent", "8 %", True),
    ("grade", "4, 12 in summer", "4 to 12 %", True), ("grade", "six, seven in places", "6 to 7 %", False),
    ("trailer weight", "12 thousand, 25 when it's wet", "12,000 to 25,000 lb", True),
    ("trailer weight", "12 thousand, 14 when it's wet", "12,000 to 14,000 lb", False),
    ("present exhaust temperature", "900, 1400 in summer", "900 to 1,400", True),
    ("summer temperature", "80, 95 in summer", "80 to 95", False),
])  # fmt: skip
def test_figures_said_in_short_and_at_times(name: str, words: str, shown: str, asked: bool) -> None:
    heard = understand(load(shipped_folder()).vocabulary[name], words)
    assert heard.echo.startswith(f"{name}: {shown}")
    assert (heard.doubt != "") is asked


def test_two_figures_that_follow_each_other_are_asked_about() -> None:
    heard = understand(load(shipped_folder()).vocabulary["boost wanted by"], "two three")
    assert heard.fact is None
    assert heard.again == "Is that 2,300 rpm, or 2,000 to 3,000 rpm? Say the whole figure."


@pytest.mark.parametrize(("words", "meant"), [
    ("the wife hates whistle", {"sound"}), ("my wife can't stand the whistle", {"sound"}),
    ("too much noise", {"sound"}),
    ("bit dear for me mate", {"price"}), ("the wife will kill me", {"price"}), ("a friend runs it", {"friend runs it"}),
])  # fmt: skip
def test_an_objection_is_what_is_said_and_no_price_beside_it(words: str, meant: set[str]) -> None:
    heard = understand(load(shipped_folder()).vocabulary["objection"], words)
    assert heard.fact is not None
    assert heard.fact.value == meant
    assert not heard.doubt


@pytest.mark.parametrize(("name", "words"), [
    ("valves per cylinder", "sea level"), ("valves per cylinder", "blue with chrome bits"),
    ("valves per cylinder", "my wife drives it"), ("present turbo", "it smokes on the hills"),
    ("present turbo", "my trailer is twelve thousand"), ("already checked", "I put new tyres on it"),
    ("already checked", "the dealer had it for a week"),
])  # fmt: skip
def test_nothing_is_offered_on_words_that_are_not_about_the_question(name: str, words: str) -> None:
    assert understand(load(shipped_folder()).vocabulary[name], words).fact is None


@pytest.mark.parametrize(("name", "words"), [
    ("emissions status", "I really don't know what it's supposed to have"),
    ("complaint since", "can't tell you, I only bought the truck in March"),
    ("transmission", "no idea whether it's a manual"),
])  # fmt: skip
def test_who_begins_with_not_knowing_is_taken_for_none_of_what_he_names(name: str, words: str) -> None:
    assert understand(load(shipped_folder()).vocabulary[name], words).not_sure


def test_of_a_number_in_words_no_part_counts_alone() -> None:
    valves = load(shipped_folder()).vocabulary["valves per cylinder"]
    for words in ("thirty-two valves, V8", "twenty-four valve"):
        heard = understand(valves, words)
        assert heard.fact is not None
        assert heard.fact.value == "four"


def test_a_flange_without_bolts_is_asked_about() -> None:
    for words in ("v-band", "v-band of all things"):
        heard = understand(load(shipped_folder()).vocabulary["manifold foot"], words)
        assert heard.fact is None or heard.doubt


def test_words_without_their_endings_meet_no_others() -> None:
    assert understand(shops()["smoke colour"], "pale").echo == "smoke colour: white"
    for name, words in (("smoke colour", "pal"), ("vehicle kind", "I don't care"), ("vehicle kind", "no care")):
        heard = understand(shops()[name], words)
        assert heard.fact is None or heard.doubt


@pytest.mark.parametrize(("name", "words"), [("present boost", "want 40"), ("exhaust size", "going to 5 inch"),
                                             ("power now", "used to make 400"), ("trailer weight", "truck weighs 8000"),
                                             ("present boost", "35 when it's cold"),
                                             ("power goal", "it makes 400 now")])  # fmt: skip
def test_a_figure_of_another_time_or_thing_is_never_taken_without_asking(name: str, words: str) -> None:
    heard = understand(shops()[name], words)
    assert heard.doubt or heard.fact is None


@pytest.mark.parametrize(
    ("name", "words", "value"),
    [
        ("must stay", "manifold stays, exhaust can go", frozenset({"manifold"})),
        ("must stay", "keep the manifold and the tune", frozenset({"manifold", "tune"})),
        ("must stay", "the manifold can go, the rest stays", frozenset({"exhaust", "charge pipe", "tune"})),
        ("must stay", "everything", frozenset({"manifold", "exhaust", "charge pipe", "tune"})),
        ("gauges", "everything but drive pressure", frozenset({"boost", "exhaust temperature"})),
        ("gauges", "boost works, pyro doesn't", frozenset({"boost"})),
        ("objection", "the money's fine, just the noise", frozenset({"sound"})),
        ("head fasteners", "studs? no", None),
        ("emissions status", "yes but they're deleted", "controls removed"),
        ("sled effort", "not just for fun", None),
        ("manifold foot", "bigger than a T3", None),
        ("complaint", "it won't stop smoking", frozenset({"smoke"})),
        ("must stay", "the manifold, no, you know what, change whatever you want", frozenset({"nothing"})),
        ("tune", "is that the little box under the dash? then no", None),
    ],
)
def test_what_is_let_go_is_not_what_is_kept(name: str, words: str, value: object) -> None:
    heard = understand(shops()[name], words)
    assert (heard.fact and heard.fact.value) == value or heard.doubt


@pytest.mark.parametrize(
    ("name", "words", "value"),
    [
        ("transmission", "automtic", "automatic"),
        ("head fasteners", "bolst", "stock bolts"),
        ("duties", "tow1ng", frozenset({"towing"})),
        ("intercooler", "facotry air to air", "stock"),
        ("exhaust brake", "yeha", True),
        ("deadline", "tomorow", Range(86_400.0, 86_400.0)),
        ("trailer weight", "fourten thousand", Range(14_000 * 0.45359237, 14_000 * 0.45359237)),  # NIST SP 811
    ],
)
def test_a_word_one_letter_off_is_read_on_a_yes(name: str, words: str, value: object) -> None:
    heard = understand(shops()[name], words)
    assert heard.fact is not None
    if isinstance(value, Range):
        assert isinstance(heard.fact.value, Range)
        assert heard.fact.value.low == pytest.approx(value.low)
    else:
        assert heard.fact.value == value
    assert heard.doubt


@pytest.mark.parametrize("words", ["no clue, never had the cover off", "couldn't tell you", "haven't paid attention"])
def test_who_admits_that_he_does_not_know_is_not_asked_again(words: str) -> None:
    for name in ("valves per cylinder", "manifold foot", "boost leak checked", "axle ratio"):
        assert understand(shops()[name], words).not_sure


def test_what_stands_for_a_wide_range_of_figures_is_read_back() -> None:
    assert understand(shops()["grade"], "pretty steep").doubt == "That is taken as 6 to 8 %. Is that it?"
    assert not understand(shops()["altitude"], "mile high").doubt


@pytest.mark.parametrize(("name", "words"), [("altitude", "6.200 ft"), ("present boost", "2,4 bar")])
def test_an_ambiguous_figure_is_asked_about_never_guessed(name: str, words: str) -> None:
    heard = understand(VOCABULARY[name], words)
    assert "Is that" in heard.doubt + heard.again or "for example" in heard.again.lower()


@pytest.mark.parametrize("words", ["same as my neighbour's", "like the other one has"])
def test_a_comparison_is_no_figure(words: str) -> None:
    assert "isn't a figure yet" in understand(VOCABULARY["present boost"], words).again


@pytest.mark.parametrize(
    ("name", "words", "instead"),
    [
        ("present boost", "3500", "35 psi"),
        ("displacement", "59", "5.9 L"),
        ("trailer weight", "140", "1,400 lb"),
    ],
)
def test_an_implausible_figure_is_doubted_with_what_may_have_been_meant(name: str, words: str, instead: str) -> None:
    heard = understand(VOCABULARY[name], words)
    assert heard.fact is not None
    assert heard.doubt.startswith("That would be ")
    assert instead in suggestions(heard.doubt)
    for offered in suggestions(heard.doubt):
        again = understand(VOCABULARY[name], offered)
        assert again.fact is not None
        assert not again.doubt


def test_about_at_the_edge_of_the_plausible_is_not_doubted() -> None:
    assert understand(VOCABULARY["present boost"], "about 120").doubt == ""
    assert understand(VOCABULARY["present boost"], "130").doubt != ""


def test_a_doubt_without_an_idea_offers_nothing() -> None:
    heard = understand(VOCABULARY["altitude"], "-1,000 ft")
    assert heard.doubt
    assert suggestions("That would be 9 %; 1 to 5 % is what we usually see. Is it right?") == ()


@pytest.mark.parametrize(
    ("name", "words", "read"),
    [
        ("present boost", "fifteen", "one five, fifteen psi"),
        ("present boost", "fifty", "five zero, fifty psi"),
        ("trailer weight", "14,000", "one four, fourteen thousand lb"),
        ("present boost", "35", ""),
        ("present boost", "30 to 40", ""),
    ],
)
def test_figures_that_sound_alike_are_read_back(name: str, words: str, read: str) -> None:
    assert understand(VOCABULARY[name], words).read_back == read


@pytest.mark.parametrize("fact", ["injected volume", "present exhaust temperature", "budget", "inducer limit"])
def test_what_only_a_measurement_tells_stays_unknown_when_he_isnt_sure(fact: str) -> None:
    heard = understand(load(shipped_folder()).vocabulary[fact], "not sure")
    assert heard.not_sure
    assert heard.fact is None
    assert heard.echo == f"{fact}: not sure, left open"


@pytest.mark.parametrize("words", ["not sure", "no idea", "dunno", "I don't know"])
def test_not_sure_is_the_prior_for_a_number_and_open_for_a_choice(words: str) -> None:
    number = understand(VOCABULARY["trailer weight"], words)
    assert number.not_sure
    assert number.fact is not None
    assert number.fact.value == VOCABULARY["trailer weight"].prior
    assert number.fact.origin.source == "not sure"
    choice = understand(VOCABULARY["transmission"], words)
    assert choice.not_sure
    assert choice.fact is None
    assert not choice.again


def test_not_sure_with_a_figure_is_the_figure() -> None:
    assert in_units("present boost", "not sure, about 35") == pytest.approx((33.25, 36.75))


def taken(words: str) -> dict[str, str]:
    return {heard.answer.fact: heard.echo for heard in take_all(OTHERS, words)}


def test_several_facts_in_one_sentence() -> None:
    found = taken("displacement 5.9 litre, the trailer is 14,000 lb, altitude 6,200 feet and present boost 35 psi")
    assert found["displacement"] == "displacement: 5.9 L"
    assert found["trailer weight"] == "trailer weight: 14,000 lb"
    assert found["altitude"] == "altitude: 6,200 ft"
    assert found["present boost"] == "present boost: 35 psi"
    assert len(found) <= 4


@pytest.mark.parametrize(
    "words",
    [
        "a 64",
        "a 64/71 please",
        "I want 35 of them",
        "he has 3 trucks and 2 dogs",
        "call me at 5 about the 72",
        "",
        "14000",
        "no drag here",
    ],
)
def test_nothing_is_taken_from_a_sentence_that_does_not_clearly_say_it(words: str) -> None:
    assert taken(words) == {}


def test_words_that_two_facts_share_are_not_taken() -> None:
    assert "transmission" in taken("it has the automatic box")
    head = fact("head", "choice", 1, choices=(choice("as built", "stock"), choice("ported")), mentioned=("ported",))
    tune = fact("tune", "choice", 2, choices=(choice("as delivered", "stock"), choice("hot")))
    assert take_all([head, tune], "all stock") == []
    assert [heard.echo for heard in take_all([head, tune], "stock but ported")] == ["head: ported"]


@given(st.sampled_from(FACTS), st.text(max_size=60))
def test_whatever_is_said_something_sound_comes_of_it(definition, words: str) -> None:
    heard = understand(definition, words)
    assert (heard.fact is not None) + bool(heard.again) + (heard.not_sure and heard.fact is None) == 1
    assert "\x1b" not in heard.echo + heard.again + heard.doubt
    take_all(OTHERS, words)


def test_an_example_is_itself_understood() -> None:
    for definition in FACTS:
        if definition.kind in ("number", "yes/no"):
            assert understand(definition, example(definition)).fact is not None


def test_a_value_is_shown_in_the_shops_unit() -> None:
    definition = VOCABULARY["trailer weight"]
    heard = understand(definition, "7 tonnes")
    assert heard.fact is not None
    assert value_words(heard.fact.value, definition) == "15,432 lb"  # 7,000 kg / 0.45359237 kg (exact, NIST SP 811)
    assert value_words(frozenset(), VOCABULARY["duties"]) == "none"


def test_stock_injectors_are_nothing_over_stock_and_pulling_alone_is_asked_again() -> None:
    vocabulary = load(shipped_folder()).vocabulary
    heard = understand(vocabulary["injector size"], "all stock")
    assert heard.fact is not None
    assert heard.fact.value == Range(0.0, 0.0)
    assert understand(vocabulary["towing share"], "stock").fact is None
    both = understand(vocabulary["duties"], "towing mostly, plus driving to work")
    assert both.fact is not None
    assert both.fact.value == frozenset({"towing", "daily"})
    pulling = understand(vocabulary["duties"], "pulling")
    assert pulling.fact is None or pulling.doubt


@pytest.mark.parametrize(
    ("words", "facts"),
    [
        (
            "it's a 6.7 with 30 over sticks and I pull 14k",
            {"displacement": "6.7 L", "injector size": "30 %", "trailer weight": "14,000 lb", "duties": "towing"},
        ),
        (
            "auto with a loose converter, four wheel drive",
            {"transmission": "automatic", "converter": "loose", "driven wheels": "four"},
        ),
        ("I want 600 hp and it makes 400 now", {"power goal": "600 hp", "power now": "400 hp"}),
        ("I tow at 65 mph", {"towing speed": "65 mph", "duties": "towing"}),
        ("smokes on hills", {}),
        ("12 valve 5.9", {"displacement": "5.9 L", "valves per cylinder": "two"}),
        ("pull the fifth wheel on weekends, bout 14k", {"trailer weight": "14,000 lb", "duties": "towing"}),
        ("2.6 inducer, smooth bore",
         {"inducer limit": "2.6 in (66 mm)", "class rule": "inducer limit", "groove rule": "forbidden"}),
        ("the two six, our class lets the inducer be 2.6 inches", {"inducer limit": "2.6 in (66 mm)"}),
        ("it has the three disc clutch", {"transmission": "manual"}),
        # what only sounds like another fact: the name of an engine's fuel system, a gauge, a trailer's brakes
        ("I'm lookin for a 64 like my buddy's got", {}),
        ("500ish to the ground", {"power measured at": "wheels"}),
        ("my cousin has one on his dually, tows 14,000 lb", {}),
        ("I want a 72 on my truck, 15 like yours", {}),
        ("5.9 common rail", {"displacement": "5.9 L"}),
        ("she gets hot like 1350, 1400 on the pyro", {"present exhaust temperature": "1,350 to 1,400 °F"}),
        ("the exhaust temperature goes to 1150 degrees", {"present exhaust temperature": "1,150 °F"}),
        ("the pyro goes over 1300 degrees", {"present exhaust temperature": "at least 1,300 °F, 1,300 to 2,200 °F"}),
        ("we're 800 metres up and it smokes", {"altitude": "800 m (2,625 ft)"}),
        ("he turned it up to 45 pounds, and I had 14,000 behind me",
         {"present boost": "45 psi", "trailer weight": "14,000 lb"}),
        ("five nine inline six", {"displacement": "5.9 L", "cylinders": "6"}),
        ("three litre, two point nine eight, four cylinder, common rail", {"displacement": "2.98 L", "cylinders": "4"}),
        ("190 horse now, I'd like 230", {"power now": "190 hp", "power goal": "230 hp"}),
        ("it's a camper, three and a half tonnes", {"vehicle weight": "3.5 t (7,716 lb)"}),
        ("215 pump, five by 18s", {}),
        ("yep, four-wheel electrics, brake controller in the dash", {}),
        ("with water in the tanks", {}),
        ("500ish would be plenty", {}),
        ("whatever came on it, no idea", {}),
        ("as much as she'll make, say 1000", {}),
        ("four inch downpipe, five inch tailpipe", {}),
        ("20 foot bumper pull, 20k miles a year", {}),
        (
            "I got an '04 five-nine with a 48RE, want 500 horse, tow a 12k fifth wheel up in Colorado "
            "at about 7,000 feet",
            {
                "displacement": "5.9 L",
                "power goal": "500 hp",
                "trailer weight": "12,000 lb",
                "altitude": "7,000 ft",
                "duties": "towing",
            },
        ),
        ("2500 crew cab, we tow twelve thousand pounds", {"trailer weight": "12,000 lb", "duties": "towing"}),
        ("it's got a hundred and forty thousand miles on it", {}),
    ],
)
def test_several_facts_in_one_sentence_of_the_shops_callers(words: str, facts: dict[str, str]) -> None:
    vocabulary = load(shipped_folder()).vocabulary
    asked = [definition for definition in vocabulary.values() if definition.source == "asked"]
    assert {heard.answer.fact: heard.echo.split(": ")[1] for heard in take_all(asked, words)} == facts


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("duties", "just sled pulling, nothing on the road, trailered to the track", frozenset({"sled"})),
        ("duties", "trailered to the track", frozenset({"strip"})),
        ("duties", "daily, and I trailer a boat", frozenset({"daily", "towing"})),
        ("lift pump", "mechanical lift pump and a 150 electric", "upgraded"),
        ("lift pump", "the mechanical one", "stock"),
        ("call kind", "yeah hey I'm lookin for a 64 like my buddy's got", "new turbo"),
        ("call kind", "a 64/71", "new turbo"),
        ("call kind", "the 64 blew up", "replacement"),
        ("acceptable loss", "don't care about spool", "late spool"),
        ("transmission", "four speed auto, stock converter, four wheel drive", "automatic"),
        ("oil feed", "dash 4", None),  # a quarter inch by its number of sixteenths (SAE AS4395), and not the stock one
    ],
)
def test_choices_as_callers_say_them(fact: str, words: str, value: object) -> None:
    heard = understand(load(shipped_folder()).vocabulary[fact], words)
    assert (None if heard.doubt and value is None else heard.fact and heard.fact.value) == value


def test_asked_again_the_example_is_the_facts_own() -> None:
    vocabulary = load(shipped_folder()).vocabulary
    assert "for example 90 °F" in understand(vocabulary["summer temperature"], "hot").again
    assert "as an engine speed; for example 3,300 rpm" in understand(vocabulary["rpm limit"], "fast").again
    assert "how many holes" in understand(vocabulary["injector size"], "five by eighteens").again
    assert suggestions(understand(vocabulary["tow rating"], "16.5 or so").doubt)[0] == "16,500 lb"


@pytest.mark.parametrize(
    ("fact", "words", "unit", "low", "high"),
    [
        ("compression ratio", "fourteen five to one", "", 14.5, 14.5),
        ("sled share", "6 percent mostly, it's that one pass", "%", 6, 6),
        ("power goal", "16, 17 hundred", "hp", 1600, 1700),
        ("exhaust size", "four inch downpipe, five inch tailpipe", "in", 4, 4),
        ("exhaust size", "five inch straight pipe, I think a four inch down pipe", "in", 3.8, 4.2),
        ("stock power", "it's an 06 so the 325 horse one, 610 torque", "hp", 325, 325),
        ("working rpm high", "three", "rpm", 3000, 3000),
        ("deadline", "no rush", "days", 60, 400),
        ("altitude", "mile high", "ft", 5280, 5280),
        ("budget", "under 2500", "$", 2500, 2500),
        ("present boost", "under 30", "psi", 5, 30),
        ("towing speed", "80 km an hour", "km/h", 80, 80),
        ("tow rating", "I have the plate here, sixteen thousand five hundred pounds.", "lb", 16_500, 16_500),
        ("vehicle weight", "two point nine ton, metric", "t", 2.9, 2.9),
        ("injected volume", "six hundred cc per thousand strokes", "mm3", 600, 600),
        ("present drive pressure", "fifty-five, when boost's at forty", "psi", 55, 55),
        ("injector size", "fifties", "%", 50, 50),
        ("axle ratio", "373", "", 3.73, 3.73),
        ("inducer limit", "2.6", "in", 2.6, 2.6),
        ("present boost", "pegs the 30 pound gauge", "psi", 30, 150),
        ("vehicle weight", "about 8 thousand with me and the tools", "lb", 7600, 8400),
        ("present drive pressure", "4 bar, boost is 2 and a half", "bar", 4, 4),
        # 275/70R18: 2 x 275 mm x 0.70 / 25.4 + 18 in, by the size designation of ISO 4000-1
        ("tyre diameter", "275/70R18", "in", 33.2, 33.2),
    ],
)
def test_figures_as_this_question_takes_them(fact: str, words: str, unit: str, low: float, high: float) -> None:
    definition = load(shipped_folder()).vocabulary[fact]
    heard = understand(definition, words).fact
    assert heard is not None
    assert isinstance(heard.value, Range)
    ends = [from_si(end, unit, definition.quantity) for end in (heard.value.low, heard.value.high)]
    assert ends == pytest.approx([low, high], rel=1e-6)


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("altitude", "up around seven"),
        ("sled share", "five hooks a year"),
        ("power now", "it was 400 before"),
        ("power goal", "not 500"),
    ],
)
def test_what_could_mean_something_else_is_asked_again(fact: str, words: str) -> None:
    assert understand(load(shipped_folder()).vocabulary[fact], words).fact is None


@pytest.mark.parametrize(
    ("name", "words"),
    [("displacement", "0 litres"), ("displacement", "0"), ("rpm limit", "900,000 rpm")],
)
def test_what_cannot_be_right_and_nothing_like_it_was_meant_is_asked_again(name: str, words: str) -> None:
    heard = understand(load(shipped_folder()).vocabulary[name], words)
    assert heard.fact is None
    assert "can't be right" in heard.again
    assert "what we usually see" in heard.again


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("displacement", "it's an inline six, says 24 valve turbo diesel on it"),
        ("displacement", "not sure, it's an inline six I said"),
        ("stock power", "6000 feet, I live up at six thousand"),
    ],
)
def test_a_figure_of_something_else_is_no_answer(name: str, words: str) -> None:
    assert understand(shops()[name], words).fact is None


def test_a_figure_alone_goes_to_the_only_fact_in_its_unit() -> None:
    heard = understand(shops()["stock power"], "1,200 ft")
    assert [more.answer.fact for more in also_said(shops(), heard, [])] == ["altitude"]


@pytest.mark.parametrize("words", ["hey man so I wanna make 700 horse", "I'd like to make 700 hp for towing"])
def test_power_that_is_wished_for_is_the_goal(words: str) -> None:
    found = {more.answer.fact for more in also_said(shops(), words, [])}
    assert "power goal" in found
    assert "power now" not in found


@pytest.mark.parametrize(
    ("opening", "duty"),
    [
        ("I want a turbo for my tow rig", "towing"),
        ("I need something for towing", "towing"),
        ("looking for a charger for my race truck", "strip"),
        ("want a 64 for my pulling truck", "sled"),
        ("new turbo for my daily driver", "daily"),
    ],
)
def test_what_an_opening_is_for_is_offered_as_the_duty(opening: str, duty: str) -> None:
    heard = understand(shops()["call kind"], opening)
    beside = {one.answer.fact: one.fact.value for one in offers(shops(), heard, {"call kind"}, True) if one.fact}
    assert beside["duties"] == frozenset({duty})
    if duty == "sled":  # one phrase may tell two facts
        assert beside["vehicle kind"] == "pull truck"


@pytest.mark.parametrize(
    ("fact", "words", "others"),
    [
        ("bottom end", "it's all stock inside", {"cylinder head", "camshaft"}),
        ("cylinder head", "the motor is bone stock", {"bottom end", "camshaft"}),
        (
            "call kind",
            "new turbo, everything on it is stock",
            {"cylinder head", "bottom end", "camshaft", "tune", "injection pump"},
        ),
        ("tune", "it's bone stock", set()),  # the tune is
        ("camshaft", "stock camshaft in that engine", set()),
    ],
)
def test_who_says_that_all_of_it_is_stock_says_so_of_each(fact: str, words: str, others: set[str]) -> None:
    heard = understand(shops()[fact], words)
    beside = {one.answer.fact: one.fact.value for one in also_said(shops(), heard, {fact}) if one.fact}
    assert beside == dict.fromkeys(others, "stock")


@pytest.mark.parametrize(
    ("fact", "words", "figure"),
    [
        ("altitude", "1,900 metres when we cross the mountains", "1,900 m"),
        ("towing speed", "fifty-five, I'm not racing anybody", "55 mph"),
        ("injected volume", "a hundred and thirty-five cubic mil per shot", "135 mm3"),
    ],
)
def test_a_figure_with_a_story_after_it_is_offered(fact: str, words: str, figure: str) -> None:
    heard = understand(load(shipped_folder()).vocabulary[fact], words)
    assert figure in heard.echo
    assert heard.doubt.endswith("Is that it?")


def test_the_ends_of_a_range_stay_together_whatever_is_said_after_them() -> None:
    definition = load(shipped_folder()).vocabulary["injector size"]
    heard = understand(definition, "between sixty and eighty over, there's no tag on them")
    assert heard.echo.endswith("60 to 80 %")


@pytest.mark.parametrize(
    ("fact", "words", "doubted"),
    [
        ("oil feed", "it's braided, is that the big one?", True),
        ("oil feed", "it's steel. what would you call that?", True),
        ("transmission", "six speed, is that the auto?", True),
        ("displacement", "it's a 6.7, or is it a 6.6?", True),
        ("oil feed", "stock, is that bad?", False),
        ("tune", "stock, will you need to change that?", False),
        ("present boost", "35, is that a lot?", False),
    ],
)
def test_a_question_behind_an_answer_that_asks_which_one_it_is_leaves_it_in_doubt(fact, words, doubted):
    heard = understand(shops()[fact], words)
    assert heard.fact is not None
    assert bool(heard.doubt) is doubted


def test_a_large_figure_over_stock_may_be_percent_or_horsepower():
    injectors = shops()["injector size"]
    assert suggestions(understand(injectors, "hundred over injectors").doubt) == ("100 %",)
    assert suggestions(understand(injectors, "hundred over").doubt) == ("100 %",)
    assert not understand(injectors, "thirty over").doubt
    assert not understand(injectors, "100 percent over").doubt
    assert "horsepower" in understand(injectors, "horsepower").again
    fuel = sorted((one for one in shops().values() if one.together == "the fuel"), key=lambda one: one.order)
    parts = {one.answer.fact: one for one in apart(fuel, "hot tune, hundred over and a hotter pump").heard}
    assert parts["tune"].doubt == ""
    assert suggestions(parts["injector size"].doubt) == ("100 %",)


@pytest.mark.parametrize("word", ["yes", "no"])
@pytest.mark.parametrize("fact", ["tune", "power measured at", "complaint since", "smoke when"])
def test_a_bare_yes_or_no_is_no_misspelt_choice(fact: str, word: str) -> None:
    heard = understand(shops()[fact], word)
    assert heard.fact is None or heard.doubt
    assert "did you mean" not in heard.again


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("duties", "I want 600 horse, daily driver", {"daily"}),
        ("duties", "daily driver, 550 at the wheels", {"daily"}),
        ("duties", "550 to the tires, daily driver and some weekends at the strip", {"daily", "strip"}),
        ("duties", "three horses in the trailer", {"towing"}),
        ("tune", "about 50 horse", "mild"),
    ],
)
def test_how_much_power_is_spoken_of_tells_of_no_horses_and_no_wheel(fact: str, words: str, value: object) -> None:
    heard = understand(shops()[fact], words)
    assert heard.fact is not None
    assert heard.fact.value == value


@pytest.mark.parametrize(
    ("fact", "words", "echo"),
    [
        ("power goal", "I want 550 out of my 2008", "power goal: 550 hp"),
        ("rpm limit", "it's a 2012 and turns 3200", "rpm limit: 3,200 rpm"),
        ("altitude", "a 2000 foot hill", "altitude: 2,000 ft"),
    ],
)
def test_the_year_of_the_truck_is_no_figure_of_it(fact: str, words: str, echo: str) -> None:
    assert understand(shops()[fact], words).echo == echo


WORDS = re.findall(
    r"\S+",
    "an the to and or about maybe so but no not never only just week day month fortnight ten twelve fifty hundred "
    "thousand five two three half quarter point psi bar pounds degrees rpm hp feet mph ton kg percent inch mm , ? "
    "would be ok fine if when it she I my over under at least most up from before used was is makes now today stock "
    "tune 35 1,400 62 6.7 12k $3,000 3/4 five-fifty a",
)


@given(
    name=st.sampled_from([one.name for one in load(shipped_folder()).vocabulary.values() if one.source == "asked"]),
    said=st.lists(st.sampled_from(WORDS), min_size=1, max_size=12).map(" ".join),
)
def test_whatever_is_said_is_understood_asked_about_or_asked_again(name: str, said: str) -> None:
    """No words bring the hearing down, in whatever order they come."""
    heard = understand(shops()[name], said)
    assert heard.fact is not None or heard.not_sure or heard.again


def test_a_span_of_time_with_a_remark_behind_it_is_read() -> None:
    assert in_units("deadline", "a week to ten days would be ok", shops()) == (7, 10)


def test_a_question_that_holds_nothing_but_small_words_is_a_question() -> None:
    heard = understand(shops()["caller asks"], "how much is it?")
    assert heard.fact is not None
    assert heard.fact.value == frozenset({"price"})
