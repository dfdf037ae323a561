"""What rests on one weak hint is asked and never taken; what a plain sentence tells is taken for its own question.
The callers are invented, the ways they say it common practice, no source."""

import pytest
from calls import call_of, offers, shop, told

from advisor.hearing import understand

VOCABULARY = shop().vocabulary


def heard(fact: str, words: str) -> str:
    """What is heard at a question, "" for nothing, with a question mark where it waits for a yes."""
    one = understand(VOCABULARY[fact], words)
    return one.echo.partition(": ")[2] + "?" * bool(one.doubt) if not one.again else ""


def asked(fact: str, words: str) -> tuple[str, str]:
    """What a call keeps as the answer to one question, "" for nothing, and what it shows then."""
    answers, shown = call_of("new turbo", f"change {fact}", words)
    return answers.get(fact, ""), shown


# emissions controls

FITTED = (
    "it's a 2014, got the dpf still on it", "the dpf and all the emissions stuff is still on it",
    "got the DPF on it still", "dpf's still there", "all the emissions gear is on it",
    "it's got all its emissions on it",
    "still running the dpf",
    "the egr and dpf are both on it", "I've kept the dpf on it", "emissions are all intact",
    "it's got the whole emissions system on there", "stock emissions", "dpf is still on",
)  # fmt: skip
REMOVED = (
    "took the dpf off", "straight piped", "it's straight piped", "deleted", "no dpf anymore", "dpf's gone",
    "the emissions stuff is all deleted", "somebody gutted the dpf", "dpf is not on it anymore",
    "dpf ain't on it no more", "dpf and egr came off", "the dpf was still on it when I bought it, it's deleted now",
)  # fmt: skip


@pytest.mark.parametrize("words", FITTED)
def test_controls_that_are_on_it_are_heard_as_an_answer_and_beside_one(words: str) -> None:
    assert heard("emissions status", words) == "controls fitted"
    assert told(words)["emissions status"] == "controls fitted"


@pytest.mark.parametrize("words", REMOVED)
def test_controls_that_are_off_are_heard_as_an_answer_and_beside_one(words: str) -> None:
    assert heard("emissions status", words).rstrip("?") == "controls removed"
    assert told(words)["emissions status"] == "controls removed"


@pytest.mark.parametrize("words", ["never had a dpf on it", "it's pre emissions", "didn't come with a dpf"])
def test_a_truck_that_never_had_any_is_no_truck_that_has_them(words: str) -> None:
    assert heard("emissions status", words).rstrip("?") == "built without controls"
    assert told(words)["emissions status"] == "built without controls"


@pytest.mark.parametrize("words", ["there's no dpf on it", "no dpf", "had the dpf on it but took it off"])
def test_no_filter_is_never_taken_for_one(words: str) -> None:
    assert not heard("emissions status", words).startswith("controls fitted")
    assert told(words).get("emissions status") != "controls fitted"


def test_controls_in_an_opening_are_offered_and_tell_nothing_of_his_right_foot() -> None:
    _, shown = call_of("I want a turbo for my truck, it's a 2014, got the DPF on it still", "yes")
    assert "emissions status: controls fitted" in offers(shown)
    kept, shown = asked("daily effort", "got the dpf still on it")
    assert not kept
    assert offers(shown) == ["emissions status: controls fitted"]


@pytest.mark.parametrize(("words", "effort"), [
    ("I get on it", "flat out"), ("yeah I'm on it", "flat out"), ("pretty hard on it", "flat out"),
    ("on it", ""),
])  # fmt: skip
def test_on_it_alone_is_no_heavy_foot(words: str, effort: str) -> None:
    assert heard("daily effort", words).rstrip("?") == effort


@pytest.mark.parametrize("words", [
    "the turbo's still on it", "got the old one on it still", "it's got everything on it",
])  # fmt: skip
def test_what_is_on_it_is_never_taken_for_a_heavy_foot(words: str) -> None:
    assert heard("daily effort", words) != "flat out"


# a leak that was looked for and isn't there


@pytest.mark.parametrize("words", [
    "no boost leak I checked with soapy water and air, found nothing", "no leaks, had it tested",
    "no leaks, pressure tested it, it's tight", "pressure tested it, it's tight", "no leak, the shop put air on it",
    "no leaks anywhere, smoke tested it last week", "there's no leak, we capped it and put 20 pounds in it",
    "not a leak in it, soaped every joint", "no hissing, I put air to it", "had it tested, no leaks",
])  # fmt: skip
def test_no_leak_found_is_a_yes_to_whether_anybody_looked(words: str) -> None:
    assert heard("boost leak checked", words) == "yes"


@pytest.mark.parametrize("words", [
    "no", "no, never", "nope, not yet", "never checked", "no, nobody has", "no boost leaks, I looked at all the boots",
])  # fmt: skip
def test_who_never_put_air_on_it_says_no(words: str) -> None:
    assert heard("boost leak checked", words) == "no"


@pytest.mark.parametrize(("words", "asks"), [
    ("no leaks", "no?"), ("no leaks that I know of", "no?"), ("no leaks I can hear", "no?"), ("yes, no leaks", "no?"),
    ("no, I checked with soapy water, found nothing", "yes?"),
])  # fmt: skip
def test_whether_no_leak_was_looked_for_is_asked(words: str, asks: str) -> None:
    assert heard("boost leak checked", words) == asks


@pytest.mark.parametrize(("fact", "words"), [
    ("exhaust brake", "no exhaust brake"), ("safety gear", "no safety gear"), ("trailer brakes", "no brakes on it"),
])  # fmt: skip
def test_where_it_is_asked_whether_he_has_a_thing_none_of_it_is_a_no(fact: str, words: str) -> None:
    assert heard(fact, words) == "no"


# words of another fact


@pytest.mark.parametrize(("fact", "words", "offered"), [
    ("power measured at", "24 valve it says on the engine", "valves per cylinder: four"),
    ("power measured at", "the engine's a twelve valve", "valves per cylinder: two"),
    ("injection pump", "it's just the factory turbo", "present turbo: stock"),
    ("injection pump", "still got the original turbo", "present turbo: stock"),
    ("present turbo", "some kind of t3 flange", "manifold foot: T3"),
    ("present turbo", "T3", "manifold foot: T3"),
    ("present exhaust temperature", "summer it gets 95", "summer temperature: 95 °F"),
    ("present exhaust temperature", "it's 95 in summer", "summer temperature: 95 °F"),
    ("stock power", "the plug's 2.6", "inducer limit: 2.6 in (66 mm)"),
    ("displacement", "V8", "cylinders: 8"), ("displacement", "inline six", "cylinders: 6"),
])  # fmt: skip
def test_what_plainly_tells_another_fact_answers_nothing_else(fact: str, words: str, offered: str) -> None:
    kept, shown = asked(fact, words)
    assert not kept
    assert [one.partition(" (two point")[0] for one in offers(shown)] == [offered]


@pytest.mark.parametrize(("fact", "words"), [
    ("bottom end", "don't know what cam"), ("head fasteners", "no idea which cam it has"),
    ("replacement wish", "we didn't find the cause, oil feed maybe, I don't know"),
])  # fmt: skip
def test_who_does_not_know_something_else_is_asked_whether_he_knows_this(fact: str, words: str) -> None:
    kept, shown = asked(fact, words)
    assert not kept
    assert "Shall it be left open?" in shown


@pytest.mark.parametrize("words", ["no idea", "don't know", "not sure what it has"])
def test_who_does_not_know_it_is_not_asked_twice(words: str) -> None:
    kept, _ = asked("bottom end", words)
    assert kept == words


@pytest.mark.parametrize("words", [
    "my husband's truck needs a turbo", "my truck needs a turbo", "it needs a turbo", "the van needs another turbo",
    "My turbo's leaking oil out the cold side, do I need a whole new one?", "turbo's leaking oil, do I need a new one?",
])  # fmt: skip
def test_whether_the_old_one_failed_is_asked_where_that_is_open(words: str) -> None:
    answers, shown = call_of(words)
    assert "call kind" not in answers
    assert "Is that it?" in shown


@pytest.mark.parametrize("words", [
    "what's a crank?", "what do you mean, crank or wheels?", "crank or wheels, what do you mean?",
])  # fmt: skip
def test_who_asks_which_is_which_is_told_and_asked_again(words: str) -> None:
    kept, shown = asked("power measured at", words)
    assert not kept
    assert "crank: at the crankshaft" in shown
    assert "Is that at the crank or at the wheels?" in shown


@pytest.mark.parametrize("words", ["do I need those?", "head studs, do I need those?", "studs? do I need those?"])
def test_whether_he_needs_them_is_no_answer_that_he_has_them(words: str) -> None:
    assert not asked("head fasteners", words)[0]


# figures


@pytest.mark.parametrize("words", [
    "lazy below 2,000 and I tow a 30 foot fifth wheel at 12 thousand",
    "I tow a 30 foot fifth wheel at 12 thousand and it's lazy under 2,000",
    "it's dead below 1,800 and I pull a 40 foot gooseneck, 12 thousand",
])  # fmt: skip
def test_an_engine_speed_is_no_trailer(words: str) -> None:
    assert told(words)["trailer weight"] == "12,000 lb"


@pytest.mark.parametrize("words", [
    "quarter mile", "I run the quarter mile", "eighth mile", "eleven flat in the quarter mile",
])  # fmt: skip
def test_the_length_of_the_strip_is_no_height(words: str) -> None:
    assert "altitude" not in told(words)
    assert heard("altitude", words) == ""


@pytest.mark.parametrize("words", [
    "lost ten pounds of boost", "it's lost about 8 psi", "down ten pounds from what it was", "I'm ten pounds short",
    "it dropped 10 psi", "it's down 8 pounds of boost",
])  # fmt: skip
def test_by_how_much_it_fell_is_no_pressure(words: str) -> None:
    assert "present boost" not in told(words)
    assert heard("present boost", words) == ""


@pytest.mark.parametrize("words", [
    "16 pounds used to be 28", "boost is 16, used to be 28", "16 now, used to make 28", "makes 16, it was 28 before",
    "16 psi, down from 28", "only 16 pounds, used to be 28", "boost reads 16, used to read 28",
    "it's down 12 pounds to 16", "it's down from 28 to 16",
])  # fmt: skip
def test_what_it_is_now_is_heard_beside_what_it_was(words: str) -> None:
    assert heard("present boost", words).startswith("16 psi")


@pytest.mark.parametrize(("opening", "offered"), [
    ("it won't build boost, boost is 16, used to be 28", "present boost: 16 psi"),
    ("it runs hot, EGTs 1350, 1400 with the trailer", "present exhaust temperature: 1,350 to 1,400 °F"),
])  # fmt: skip
def test_a_gauge_read_out_in_a_complaint_is_not_asked_again(opening: str, offered: str) -> None:
    _, shown = call_of("complaint", opening, "yes")
    assert offered in [one.partition(" (one")[0] for one in offers(shown)]


@pytest.mark.parametrize(("words", "fact"), [
    ("it's got 140 kilowatts at the wheels", "power now"), ("it's 140 kilowatts at the wheels", "power now"),
    ("140 kilowatts at the wheels is what it has", "power now"), ("makes 140 kilowatts at the wheels", "power now"),
    ("want 140 kilowatts at the wheels", "power goal"), ("I need 140 kilowatts at the wheels", "power goal"),
])  # fmt: skip
def test_what_it_has_at_the_wheels_is_no_wish(words: str, fact: str) -> None:
    assert [one for one in ("power now", "power goal") if one in told(words)] == [fact]


@pytest.mark.parametrize(("words", "fact", "value"), [
    ("it's a V8", "cylinders", "8"), ("an inline six", "cylinders", "6"),
    ("electric brakes on the van", "trailer brakes", "yes"), ("thirty thousand gross", "trailer weight", "30,000 lb"),
])  # fmt: skip
def test_what_is_told_in_passing_is_offered(words: str, fact: str, value: str) -> None:
    assert told(words)[fact] == value


@pytest.mark.parametrize("words", ["no electric brakes on it", "needs electric brakes"])
def test_brakes_that_it_lacks_are_none(words: str) -> None:
    assert told(words).get("trailer brakes") != "yes"
    assert heard("trailer brakes", words) == "no"


@pytest.mark.parametrize("fact", ["trailer weight", "vehicle weight"])
@pytest.mark.parametrize("words", ["thirty thousand gross", "30,000 all up", "about thirty thousand all-up"])
def test_a_weight_of_all_together_is_asked_about(fact: str, words: str) -> None:
    assert heard(fact, words).endswith("?")


@pytest.mark.parametrize("words", ["want compounds", "wanting twins, compounds", "looking for a set of compounds"])
def test_who_wants_two_in_series_wants_a_new_turbo_and_names_it(words: str) -> None:
    answers, shown = call_of(words)
    assert answers["call kind"] == words
    assert f"You told me already: {words}. Is that it?" in shown
