"""What a caller told before and takes back later: a duty that he denies; what is told of the truck itself."""

import pytest
from calls import offers
from test_elsewhere import TOWING, call_of, shop

from advisor.hearing import understand
from advisor.hearing.retold import given_up


@pytest.mark.parametrize(
    ("reply", "left"),
    [
        ("no trailer at all, just the van, three and a half tonnes", "daily, strip"),
        ("I don't tow", "daily, strip"),
        ("never pull anything", "daily, strip"),
        ("no, we don't have a trailer", "daily, strip"),
        ("no, I don't go to any drag strip, I mean mountain passes", "daily, towing"),
        ("it's never at the track", "daily, towing"),
    ],
)
def test_a_duty_that_he_denies_later_is_offered_to_be_taken_out(reply: str, left: str) -> None:
    before = (*TOWING, "daily, towing and strip")
    for doubt in ((), ("six cylinders",)):
        answers, seen = call_of(*before, *doubt, reply, "yes")
        assert f"duties: {left}" in offers(seen[-2])
        told = {"call kind", "request", "request reason", "today's trouble", "duties"}
        assert set(answers) - {"units", "vehicle weight"} == told
        assert understand(shop().vocabulary["duties"], answers["duties"]).echo == f"duties: {left}"


def test_who_denies_his_only_duty_is_asked_for_it_again() -> None:
    answers, seen = call_of(*TOWING, "towing", "I don't pull any trailer", "daily")
    assert "What does the truck do for a living" in seen[-2]
    assert answers["duties"] == "daily"


@pytest.mark.parametrize("reply", ["I don't pull anything over 10k", "no trailer brakes", "I don't tow heavy"])
def test_what_denies_a_part_of_a_duty_leaves_it(reply: str) -> None:
    _, seen = call_of(*TOWING, "daily and towing", reply)
    assert "That makes duties" not in seen[-1]


def test_what_the_truck_weighs_is_no_trailer() -> None:
    said = "no trailer at all, just the van, three and a half tonnes"
    answers, seen = call_of(*TOWING, "daily and towing", said, "yes")
    assert "vehicle weight: 3.5 t (7,716 lb)" in offers(seen[-2])
    assert answers["vehicle weight"] == "3.5 tonnes"
    assert not {"trailer weight", "trailer brakes", "displacement", "vehicle kind"} & set(answers)


@pytest.mark.parametrize(
    "said",
    ["we drive over the passes in the Alps",
     "it is for holidays, we drive over the passes in the Alps, motorway otherwise",
     "we go over the pass to work", "mountain passes"],
)  # fmt: skip
def test_passes_over_mountains_are_no_drag_strip(said: str) -> None:
    heard = understand(shop().vocabulary["duties"], said)
    assert heard.fact is not None
    assert heard.fact.value == frozenset(["daily"])
    strip = understand(shop().vocabulary["duties"], "a few passes on Friday nights")
    assert strip.fact is not None
    assert strip.fact.value == frozenset(["strip"])


@pytest.mark.parametrize(
    "said", ["no electronic box, common rail, 190 horse now, I'd like 230", "no spacer plate, and 190 horse now"]
)
def test_what_the_truck_lacks_is_no_answer_to_another_question(said: str) -> None:
    leaks = shop().vocabulary["boost leak checked"]
    answers, seen = call_of("complaint", "smokes", "black", "change boost leak checked", said)
    assert "boost leak checked" not in answers
    assert "power now: 190 hp" in offers(seen[-1])
    for plain in ("no", "no, never", "no leaks, as far as I know", "no, the truck makes 190 now"):
        heard = understand(leaks, plain)
        assert heard.fact is None or heard.fact.value is False


def test_a_bare_yes_is_none_of_three_ways() -> None:
    groove = shop().vocabulary["groove rule"]
    assert understand(groove, "yes").again
    allowed = understand(groove, "yes, it's allowed").fact
    assert allowed is not None
    assert allowed.value == "allowed"


@pytest.mark.parametrize("word", ["no", "nope", "none", "nothing", "never"])
def test_a_plain_no_takes_back_no_earlier_answer_that_is_none_itself(word: str) -> None:
    own = shop().vocabulary
    given = {"changed with it": "nothing", "gauges": "none", "already checked": "none"}
    assert given_up(own, word, given) == {}
    assert given_up(own, f"{word}, not that I know", given) == {}
    assert given_up(own, f"{word}, no boost gauge", {"gauges": "boost and pyro"}).keys() == {"gauges"}


@pytest.mark.parametrize(
    ("words", "meant"),
    [("nobody ever put air on it", "no"), ("nobody's ever checked that", "no"), ("nobody tested it", "no"),
     ("well, no one pressure tested it", "no"), ("nobody did till I had it tested last week", "yes")],
)  # fmt: skip
def test_that_nobody_did_it_is_a_no_where_is_asked_whether_anyone_did(words: str, meant: str) -> None:
    heard = understand(shop().vocabulary["boost leak checked"], words)
    assert (heard.echo, heard.doubt) == (f"boost leak checked: {meant}", "")
    assert understand(shop().vocabulary["boost leak checked"], "nobody but the dealer tested it").doubt
