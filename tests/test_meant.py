"""What openings, asides and free talk are taken for, and what is asked again because it may be anything.

The sentences are of nobody's calls; what they mean is common practice, no source.
"""

import pytest
from calls import offers
from test_elsewhere import call_of, shop
from test_righted import answered, call_from

from advisor.hearing import understand
from advisor.hearing.mentions import take_all
from advisor.hearing.together import apart

OPENED = {"call kind": "new turbo", "request": "a 64"}
REASONED = {**OPENED, "request reason": "a friend runs it"}
COMPLAINS = {"call kind": "complaint"}


@pytest.mark.parametrize(
    "opening",
    [
        "smokes blue since the new turbo",
        "blue smoke ever since the new turbo went on",
        "burns oil since the new charger",
        "blows blue smoke since we hung the bigger charger",
        "my new turbo smokes blue",
        "leaks oil since I bolted the new one on",
        "got oil smoke after the new turbo went on",
        "white smoke after we put the turbo on",
        "runs hot since the new turbo",
        "no power since the new turbo",
    ],
)
def test_what_began_with_a_new_turbo_is_a_complaint(opening: str) -> None:
    heard = understand(shop().vocabulary["call kind"], opening)
    assert heard.fact is not None
    assert heard.fact.value == "complaint"


@pytest.mark.parametrize(
    ("opening", "kind"),
    [
        ("smoked the turbo, need one", "replacement"),
        ("blew the turbo", "replacement"),
        ("I'm after a new turbo for towing", "new turbo"),
        ("need a new turbo", "new turbo"),
        ("I need a new turbo, the old one smokes blue", "new turbo"),
    ],
)
def test_what_asks_for_a_turbo_is_no_complaint(opening: str, kind: str) -> None:
    heard = understand(shop().vocabulary["call kind"], opening)
    assert heard.fact is not None
    assert heard.fact.value == kind


@pytest.mark.parametrize(
    "said",
    [
        "just don't pull like it ought to", "it's a dog", "no power", "it's just not right", "runs like crap",
        "doesn't pull like it used to", "ain't got no power", "it's a dog since the new turbo", "no guts", "lost power",
        "something's wrong with it", "down on power", "it ain't what it was", "gutless", "it just doesn't go",
    ],
)  # fmt: skip
def test_a_complaint_that_may_be_any_is_asked_about(said: str) -> None:
    call, seen = call_from(COMPLAINS, said, enough=False)
    assert answered(call, "complaint") == ""
    assert "what it does, and when" in seen[0] or "what does it do, and when" in seen[0]
    opened, _ = call_from({}, f"{said}, not happy with it", "yes", "yes", enough=False)
    assert answered(opened, "complaint") == ""


@pytest.mark.parametrize(
    ("said", "complaint"),
    [
        ("it's a dog and it smokes black on the hills", "smoke"), ("no power and it gets hot", "heat"),
        ("it's a dog till two grand", "late spool"), ("no power above 2800", "choking"),
        ("no good, it barks", "surge"), ("lost power, only makes 18 pounds", "low boost"),
        ("it's not making the boost it should", "low boost"),
    ],
)  # fmt: skip
def test_a_complaint_that_tells_what_it_does_is_taken(said: str, complaint: str) -> None:
    heard = understand(shop().vocabulary["complaint"], said)
    assert heard.fact is not None
    assert heard.fact.value == frozenset([complaint])


@pytest.mark.parametrize(
    ("said", "reason", "told"),
    [
        ("I figured since I tow 14k at 7,000 feet I'd want a bit more than stock, it's a 6.7", "from the job",
         ["trailer weight: 14,000 lb", "altitude: 7,000 ft", "displacement: 6.7 L", "duties: towing"]),
        ("because I pull 14k and it smokes", "from the job", ["trailer weight: 14,000 lb"]),
        ("I need it to light by 1,700 since it's a manual with 3.42 gears", "from the job",
         ["boost wanted by: 1,700 rpm", "axle ratio: 3.42", "transmission: manual"]),
        ("well I pull a 12k camper and wanted it to light sooner", "from the job", ["trailer weight: 12,000 lb"]),
        ("I tow heavy, 15k, and I don't want the heat, a 64 sounded about right", "just a guess",
         ["trailer weight: 15,000 lb"]),
        ("it was on a buddy's truck and pulled like a train, we're at 5,000 feet here and I tow 12k", "friend runs it",
         ["altitude: 5,000 ft", "trailer weight: 12,000 lb"]),
        ("my buddy runs one on his 5.9 and it lights by 1,600 with a 12k trailer, I've got a 6.7 and pull 14k",
         "friend runs it", ["displacement: 6.7 L", "trailer weight: 14,000 lb"]),
        ("I read that it flows enough for 600 horse, and I pull 14k in the mountains, 7,000 feet", "read about it",
         ["trailer weight: 14,000 lb", "altitude: 7,000 ft"]),
        ("I had one on my last truck, that one had a 5.9, this one's a 6.7 auto", "had one before",
         ["displacement: 6.7 L", "transmission: automatic"]),
        ("the tuner said so, he's got me at 100 over injectors and a P pump", "builder said so",
         ["injector size: 100 %", "injection pump: larger"]),
        ("no reason, I tow 9k", "just a guess", ["trailer weight: 9,000 lb"]),
    ],
)  # fmt: skip
def test_a_rich_reason_is_taken_with_what_it_tells(said: str, reason: str, told: list[str]) -> None:
    call, seen = call_from(OPENED, said, "yes", "yes", enough=False)
    assert answered(call, "request reason") == f"request reason: {reason}"
    listed = {echo for each in seen for echo in offers(each)}
    assert {*told} <= listed
    assert not {"trailer weight: 12,000 lb", "boost wanted by: 1,600 rpm", "displacement: 5.9 L"} & listed - {*told}


@pytest.mark.parametrize(
    ("said", "weight"),
    [
        ("hauling with a 9,000 pound truck", "vehicle weight"), ("I haul in a 9,000 pound truck", "vehicle weight"),
        ("it's an 8,500 lb truck and I tow", "vehicle weight"), ("towing with my 9k truck", "vehicle weight"),
        ("I tow with a 7,000 lb dually", "vehicle weight"), ("hauling hay in a four tonne truck", "vehicle weight"),
        ("we run a 10,000 pound rig, pulling", "vehicle weight"), ("truck is 8,000 pounds", "vehicle weight"),
        ("hauling with a truck that weighs 9,000 pounds", "vehicle weight"),
        ("hauling a 9,000 pound tractor", "trailer weight"), ("pulls a 9,000 pound trailer", "trailer weight"),
        ("towing 9,000 pounds with the truck", "trailer weight"),
        ("I tow a 6,000 pound truck on a trailer", "trailer weight"),
    ],
)  # fmt: skip
def test_the_weight_of_the_truck_is_told_from_that_of_what_it_hauls(said: str, weight: str) -> None:
    weights = {"vehicle weight", "trailer weight"}
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert {one.answer.fact for one in take_all(asked, said)} & weights == {weight}


@pytest.mark.parametrize(
    ("said", "duties"),
    [
        ("towing 14k and daily", "daily, towing"), ("I tow 14k and drive it daily", "daily, towing"),
        ("I tow a 12k fifth wheel and some street", "daily, towing"), ("it tows 10,000 pounds, daily", "daily, towing"),
        ("towing a camper, some daily driving, some strip", "daily, strip, towing"),
        ("I tow 14k, and commute", "daily, towing"), ("daily plus towing a 9k camper", "daily, towing"),
        ("hauls 8k and it's my daily", "daily, towing"), ("drag racing and street", "daily, strip"),
        ("sled pulling and daily", "daily, sled"), ("I tow 14k", "towing"),
    ],
)  # fmt: skip
def test_duties_that_are_told_in_an_aside_are_all_offered(said: str, duties: str) -> None:
    call, seen = call_from(OPENED, f"just a guess, {said}", "yes", "yes", enough=False)
    assert f"duties: {duties}" in {echo for each in seen for echo in offers(each)}
    assert answered(call, "duties") == f"duties: {duties}"


@pytest.mark.parametrize(
    "said",
    [
        "well I don't know, my buddy says it's a big one", "well I don't know, my buddy says...",
        "it's just a truck, you know, I drive it", "I was talking to a guy about it last week",
        "what my neighbor said", "so anyway I bought the thing at an auction", "a 22 foot trailer",
        "completely standard engine", "no, fahrenheit!", "my wife says hi",
    ],
)  # fmt: skip
def test_free_talk_is_no_trouble_and_stands_in_no_summary(said: str) -> None:
    call, seen = call_from(REASONED, "change today's trouble", said, enough=False)
    assert "That tells" in seen[1]
    assert answered(call, "today's trouble") == ""


@pytest.mark.parametrize(
    "said",
    [
        "it lugs", "falls flat", "clutch slips", "can't hold 65 up the hill", "my buddy says it smokes too much", "hot",
        "I want it to sound better", "just want more out of it", "it is just worn", "not enough power",
    ],
)  # fmt: skip
def test_what_reads_as_a_trouble_is_kept_in_his_words(said: str) -> None:
    call, _ = call_from(REASONED, "change today's trouble", said, enough=False)
    assert answered(call, "today's trouble") == f"today's trouble: {said}"


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("well I don't know, my buddy says it's a big one", False), ("it's a big one", False),
        ("the previous owner put it on", False), ("I got it in 2012", False), ("bigger than stock", False),
        ("a 66", True), ("sixty six", True), ("66/71 T4", True), ("tag says 63 and 68", True),
        ("two and a half inch inducer", True),
    ],
)  # fmt: skip
def test_only_what_reads_as_a_size_is_kept_as_one(said: str, kept: bool) -> None:
    call, seen = call_from({**REASONED, "present turbo": "larger single"}, "change present size", said, enough=False)
    assert (answered(call, "present size") != "") is kept
    assert ("That tells no size" in seen[1]) is not kept


@pytest.mark.parametrize(
    ("fact", "first", "unit", "told"),
    [
        ("altitude", "1500", "metres", "altitude: 1,500 m"), ("trailer weight", "12000", "no, kilos", "12,000 kg"),
        ("trailer weight", "4000", "that's kilos", "trailer weight: 4,000 kg"),
        ("trailer weight", "9000", "no, I meant kilos, not pounds", "trailer weight: 9,000 kg"),
    ],
)  # fmt: skip
def test_a_unit_by_itself_puts_the_figure_before_it_right(fact: str, first: str, unit: str, told: str) -> None:
    call, seen = call_from({**REASONED, "duties": "towing"}, f"change {fact}", first, unit, "yes", enough=False)
    assert told in seen[2]
    assert told in answered(call, fact)


@pytest.mark.parametrize(
    ("fact", "first", "unit", "told"),
    [
        ("present exhaust temperature", "700", "no, fahrenheit!", "700 °F"),
        ("present exhaust temperature", "700", "celsius", "700 °C"),
        ("trailer weight", "40", "no, pounds", "40,000 lb"), ("trailer weight", "13", "no, pounds", "13,000 lb"),
        ("summer temperature", "38", "no, celsius", "38 °C"), ("towing speed", "90", "kilometres an hour", "90 km/h"),
    ],
)  # fmt: skip
def test_a_unit_by_itself_settles_a_doubted_figure(fact: str, first: str, unit: str, told: str) -> None:
    call, seen = call_from({**REASONED, "duties": "towing"}, f"change {fact}", first, unit, enough=False)
    assert "did you mean" in seen[1]
    assert told in answered(call, fact)


@pytest.mark.parametrize("said", ["22 foot", "a 22 foot trailer", "a 22 footer", "it's a 22 foot enclosed", "40 foot"])
def test_how_long_a_trailer_is_tells_nothing_of_its_weight(said: str) -> None:
    call, seen = call_from({**REASONED, "duties": "towing"}, "change trailer weight", said, enough=False)
    assert "did you mean" not in seen[1]
    assert not offers(seen[1])
    assert answered(call, "trailer weight") == ""


@pytest.mark.parametrize(
    "said",
    ["completely standard engine", "it's a completely standard engine", "standard engine", "the motor's all stock",
     "nothing done to it", "untouched engine", "all standard", "bone stock motor", "totally original engine",
     "never been opened"],
)  # fmt: skip
def test_an_engine_as_it_was_built_answers_all_that_is_asked_of_it(said: str) -> None:
    inside = ("cylinder head", "head fasteners", "bottom end", "camshaft")
    told = apart([shop().vocabulary[fact] for fact in inside], said).heard
    assert [one.echo for one in told] == [
        "cylinder head: stock", "head fasteners: stock bolts", "bottom end: stock", "camshaft: stock"]  # fmt: skip


@pytest.mark.parametrize(
    "said", ["ported head and fire rings", "fire rings and a ported head", "ported head with o rings"]
)
def test_a_ported_head_with_rings_is_offered_as_ring_sealed(said: str) -> None:
    call, seen = call_from(REASONED, "change cylinder head", said, "yes", enough=False)
    assert "the nearest is ring-sealed" in seen[1]
    assert answered(call, "cylinder head") == "cylinder head: ring-sealed"
    call, seen = call_from(OPENED, f"my builder said so, {said}", "yes", "yes", enough=False)
    assert "cylinder head: ring-sealed" in {echo for each in seen for echo in offers(each)}


@pytest.mark.parametrize(
    "said",
    ["a tractor that ploughs", "it's a tractor, plows all spring", "we plough with it", "plowing and discing all day",
     "runs a generator", "works the fields"],
)  # fmt: skip
def test_work_that_no_duty_covers_is_offered_as_the_nearest_and_told_so(said: str) -> None:
    call, seen = call_from(REASONED, "change duties", said, "yes", enough=False)
    assert "No answer here is that; the nearest is towing" in seen[1]
    assert answered(call, "duties") == "duties: towing"


def test_who_opens_with_a_complaint_of_all_and_one_of_them_is_asked_for_that_one() -> None:
    _, seen = call_of("it's a dog, and it smokes black on hills")
    assert {"complaint: smoke", "smoke colour: black"} <= {*offers(seen[0])}


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        ("trailer brakes", "yeah the gate's stock"),
        ("trailer brakes", "no, the turbo's stock"),
        ("safety gear", "yeah it's the smoothbore gauge"),
        ("trailer brakes", "no the turbo never had a gate"),
        ("trailer brakes", "yeah I had the brakes off last week, no good"),
        ("trailer brakes", "yep, one side works"),
        ("trailer brakes", "yeah kinda"),
    ],
)
def test_a_yes_to_something_else_or_in_part_is_asked_about(fact: str, said: str) -> None:
    assert understand(shop().vocabulary[fact], said).doubt


@pytest.mark.parametrize(
    ("fact", "said", "yes"),
    [
        ("trailer brakes", "yeah the trailer's got brakes", True),
        ("trailer brakes", "yep the controller's in the dash", True),
        ("safety gear", "yeah it's a full blanket", True),
        ("safety gear", "yes all of it, half inch bolts", True),
        ("trailer brakes", "yep good brakes", True),
        ("boost leak checked", "yeah the previous owner did", True),
        ("boost leak checked", "yeah the shop did it", True),
    ],
)
def test_a_yes_to_the_question_stands(fact: str, said: str, yes: bool) -> None:
    heard = understand(shop().vocabulary[fact], said)
    assert heard.fact is not None
    assert (heard.fact.value, heard.doubt) == (yes, "")


@pytest.mark.parametrize("said", ["there's no trailer", "daily only no trailer", "there was no time"])
def test_a_no_of_another_thing_answers_no_yes_or_no(said: str) -> None:
    assert understand(shop().vocabulary["boost leak checked"], said).fact is None


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("I'm stickin with the eighty, I insist, put it on the order", "insists"),
        ("put me down for the 80", "insists"),
        ("stick with the one I asked for", "insists"),
        ("how come not the twins, they make my number and run cooler", "will check"),
    ],
)
def test_who_keeps_his_own_has_not_accepted(said: str, meant: str) -> None:
    heard = understand(shop().vocabulary["request answer"], said)
    assert heard.fact is not None
    assert heard.fact.value == meant


@pytest.mark.parametrize(
    ("said", "feet"),
    [
        ("home's sixty-eight hundred feet, only the pass is eleven thousand", "11,000 ft"),
        ("we live at 400 and hunt at 9200", "9,200 ft"),
        ("home is 1200 meters, the pass 2400 meters", "7,874 ft"),
    ],
)
def test_of_several_heights_the_highest_is_offered(said: str, feet: str) -> None:
    assert feet in understand(shop().vocabulary["altitude"], said).doubt


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("my cousin Ricky runs a sixty-six on his and I want the same one he's got", "new turbo"),
        ("I'd like the same size my uncle has", "new turbo"),
        ("my buddy runs a 64 and mine barks when I lift", "complaint"),
    ],
)
def test_who_wants_what_another_runs_wants_a_new_turbo(said: str, kind: str) -> None:
    heard = understand(shop().vocabulary["call kind"], said)
    assert heard.fact is not None
    assert heard.fact.value == kind
