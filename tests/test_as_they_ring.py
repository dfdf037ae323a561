"""What callers said in whole calls, and what a salesperson would have written down (common practice, no source)."""

import pytest
from calls import DAILY, call, offers
from test_elsewhere import call_of, shop
from test_righted import answered, call_from

from advisor.hearing import understand
from advisor.hearing.mentions import take_all
from advisor.hearing.request import decode

RINGS = {"call kind": "new turbo", "request": "a 66", "request reason": "a friend runs it", "displacement": "6.7",
         "today's trouble": "nothing"}  # fmt: skip


def told(words: str) -> set[str]:
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    return {one.echo for one in take_all(asked, words)}


@pytest.mark.parametrize(
    "words", ["I've got about twelve hundred to spend", "compounds, but I've only got fifteen hundred", "1200 bucks"]
)
def test_what_he_can_spend_is_no_wheel(words: str) -> None:
    assert decode(words).inducer is None
    assert decode(words).turbine is None


def test_a_hundred_millimetres_are_a_wheel_all_the_same() -> None:
    assert dict(decode("a hundred mil charger").fixes)["compressor inducer"] == "100 mm"


@pytest.mark.parametrize(
    ("words", "echo", "taken_back"),
    [
        ("stock pump, fifty over injectors, er, no sorry, fifteen over", "injector size: 15 %", "injector size: 50 %"),
        ("trailer is eight thousand, no wait, six thousand pounds", "trailer weight: 6,000 lb",
         "trailer weight: 8,000 lb"),
        ("makes 420 now, no, 450, and I want 600", "power now: 450 hp", "power now: 420 hp"),
    ],
)  # fmt: skip
def test_of_a_figure_put_right_in_passing_the_right_one_is_offered(words: str, echo: str, taken_back: str) -> None:
    assert echo in told(words)
    assert taken_back not in told(words)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("displacement six point four, no hang on, six point five is right", "displacement: 6.5 L"),
        ("the trailer is 8,000, no, 9,000", "trailer weight: 9,000 lb"),
    ],
)
def test_at_the_read_back_too(said: str, told: str) -> None:
    tows = {"duties": "towing", "trailer weight": "12,000", "power goal": "450 hp", "power measured at": "crank"}
    _, seen = call_from({**RINGS, **tows}, said)
    assert f"That makes {told}. Take it?" in seen[0]


def test_a_figure_of_something_else_behind_a_no_puts_nothing_right() -> None:
    assert {"displacement: 5.9 L", "valves per cylinder: four"} <= told("it's a 5.9 litre, no, 24 valve")


def test_injectors_by_their_horsepower_are_a_share_of_the_rating() -> None:
    """70 hp of 215 to 400 hp, which hold nine of ten ratings: 17.5 to 32.6 %."""
    assert {"injector size: 18 to 33 %", "tune: mild", "injection pump: stock"} <= told(
        "seventy horse injectors, tow tune, stock pump"
    )
    assert "horsepower, not a percentage" in understand(shop().vocabulary["injector size"], "70 hp sticks").again
    assert not any("injector" in echo for echo in told("I want 70 horse more"))


@pytest.mark.parametrize(
    "words",
    ["ain't nothing wrong with the one on it", "it don't do nothing, it's quiet and it don't smoke", "it's fine",
     "there's nothing wrong with it", "nothing's wrong with it"],
)  # fmt: skip
def test_that_nothing_is_wrong_is_no_trouble_to_cure(words: str) -> None:
    assert understand(shop().vocabulary["today's trouble"], words).echo == "today's trouble: nothing"


@pytest.mark.parametrize("words", ["it's good but runs hot", "it's fine but it smokes", "not bad, just lazy"])
def test_praise_before_a_trouble_leaves_the_trouble(words: str) -> None:
    assert understand(shop().vocabulary["today's trouble"], words).echo == f"today's trouble: {words}"


@pytest.mark.parametrize(
    ("fact", "words", "echo"),
    [
        ("complaint since", "all of a sudden", "suddenly"),
        ("complaint since", "it happened all of a sudden last Tuesday", "suddenly"),
        ("complaint since", "not all at once, bit by bit", "gradually"),
        ("complaint since", "from day one", "always"),
        ("transmission", "it's a standard", "manual"),
        ("tune", "all standard", "stock"),
        ("trailer weight", "there isn't a trailer, it's the motorhome itself", "0 lb"),
        ("trailer weight", "no more than 12,000", "12,000 lb"),
        ("vehicle kind", "it's a van", "van or car"),
        ("vehicle kind", "camper van", "medium truck"),
        ("present turbo", "a vane turbo", "variable vanes"),
        ("power measured at", "factory rating", "crank"),
        ("class rule", "just street", "none"),
        ("intercooler", "ain't got one", "none"),
    ],
)
def test_plain_words_are_taken_as_they_are_meant(fact: str, words: str, echo: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert (heard.echo, heard.doubt) == (f"{fact}: {echo}", "")


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("transmission", "it's stock"),
        ("power measured at", "it's stock"),
        ("intercooler", "I ain't got no trailer"),
        ("present turbo", "it's just a diesel van"),
        ("class rule", "street truck class, stock turbo or two and a half inch I believe"),
    ],
)
def test_words_of_something_else_are_never_taken_without_asking(fact: str, words: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert heard.fact is None or heard.doubt
    assert "none" not in heard.echo


def test_duties_told_in_passing_are_offered_and_grow_by_what_is_said_with_the_yes() -> None:
    assert "duties: sled, towing" in told("hauls cattle every day, and once a year at the fair I hook it to the sled")
    smokes = {"call kind": "complaint", "complaint": "smoke"}
    call_, seen = call_from(smokes, "black, and it hauls cattle", "yes, and the sled", enough=False)
    assert "duties: towing" in offers(seen[0])
    assert answered(call_, "duties") == "duties: sled, towing"


@pytest.mark.parametrize("typed", ["injection pump stock", "injection pump: stock", "injection pump = stock"])
def test_what_is_typed_by_its_name_is_no_answer_to_the_question(typed: str) -> None:
    call_, seen = call_from(RINGS, typed, enough=False)
    assert seen[0].startswith("= injection pump: stock")
    assert {answer.fact for answer in call_.answers} == {*RINGS, "injection pump"}


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("change displacement 6.4", "displacement: 6.4 L"),
        ("change displacement to 6.4", "displacement: 6.4 L"),
        ("change request reason to just a guess", "request reason: just a guess"),
    ],
)
def test_a_change_takes_the_value_that_is_typed_with_it(typed: str, told: str) -> None:
    call_, seen = call_from(RINGS, typed, "yes", enough=False)
    assert f"That makes {told}. Take it?" in seen[0]
    assert answered(call_, told.partition(":")[0]) == told


def test_a_change_without_a_value_asks_for_it() -> None:
    _, seen = call_from(RINGS, "change displacement", enough=False)
    assert "Answered: “6.7”; Enter leaves it so." in seen[0]


def test_the_first_line_tells_what_the_fuel_he_told_of_makes() -> None:
    fuel = {**DAILY, "power goal": "700 hp", "tune": "stock", "injector size": "stock", "injection pump": "stock"}
    assert "the fuel he told of makes about" in call(fuel).verdict_words
    assert "the fuel he told of" not in call({**fuel, "power goal": "300 hp"}).verdict_words
    silent = {fact: words for fact, words in fuel.items() if fact not in ("tune", "injector size", "injection pump")}
    assert "the fuel he told of" not in call(silent).verdict_words


def test_who_does_not_rightly_know_leaves_the_size_to_us() -> None:
    _, seen = call_of("new turbo", "well I don't rightly know, that's why I'm calling")
    assert "= request: not sure" in seen[1]
