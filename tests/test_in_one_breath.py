"""Several facts that a caller tells in one breath, beside an answer or to an offer: none is lost."""

import pytest
from calls import offers
from test_elsewhere import call_of, shop
from test_righted import answered, call_from

from advisor.hearing import listed, understand
from advisor.hearing.mentions import take_all
from advisor.hearing.righted import righted
from advisor.hearing.together import apart

RINGS = {"call kind": "new turbo", "request": "a 64", "request reason": "a friend runs it", "displacement": "6.7"}
TOLD = [  # common practice, no source: what a salesperson writes down from such a sentence
    ("12k on a 6 percent grade", ["trailer weight: 12,000 lb", "grade: 6 %"]),
    ("16k on the highway and I want 500", ["trailer weight: 16,000 lb", "power goal: 500 hp"]),
    ("I pull 15,000 and I want 650 at the wheels by 1,800",
     ["trailer weight: 15,000 lb", "power goal: 650 hp", "boost wanted by: 1,800 rpm", "power measured at: wheels"]),
    ("12,000 lb trailer, 6 percent, 65 mph", ["trailer weight: 12,000 lb", "grade: 6 %", "towing speed: 65 mph"]),
    ("ten thousand pounds, five percent, 6,500 feet",
     ["trailer weight: 10,000 lb", "grade: 5 %", "altitude: 6,500 ft"]),
    ("22 foot toy hauler, nine thousand, and 1,350 on the climb",
     ["present exhaust temperature: 1,350 °F", "duties: towing", "trailer weight: 9,000 lb"]),
    ("35 psi, 1,400 degrees, 55 of drive",
     ["present boost: 35 psi", "present drive pressure: 55 psi", "present exhaust temperature: 1,400 °F"]),
    ("38 pounds and 60 of drive", ["present drive pressure: 60 psi", "present boost: 38 psi"]),
    ("1,300 on the grade and 35 pounds", ["present exhaust temperature: 1,300 °F"]),
    ("truck weighs 7,800 and trailer 13,500", ["vehicle weight: 7,800 lb", "trailer weight: 13,500 lb"]),
    ("it's a manual and I run 35 inch tires", ["tyre diameter: 35 in", "transmission: manual"]),
    ("6.7 with 3.42 gears and a six speed auto", ["axle ratio: 3.42", "transmission: automatic"]),
    ("fifty over and a P pump", ["injector size: 50 %", "injection pump: larger"]),
    ("compression's 17 and she's studded", ["compression ratio: 17", "head fasteners: studs"]),
    ("converter's 1,800 and the tune's hot", ["stall speed: 1,800 rpm", "tune: hot"]),
    ("T4 divided and a 4 inch exhaust", ["exhaust size: 4 in", "manifold entry: divided", "manifold foot: T4"]),
    ("it's 105 in summer here and we're at 4,200 feet", ["summer temperature: 105 °F", "altitude: 4,200 ft"]),
    ("between 5 and 6 thousand feet here, pulls ten to twelve thousand pounds",
     ["altitude: 5,000 to 6,000 ft", "trailer weight: 10,000 to 12,000 lb"]),
    ("makes 420 now and I'd like 600", ["power now: 420 hp", "power goal: 600 hp"]),
]  # fmt: skip


@pytest.mark.parametrize(("said", "echoes"), TOLD)
def test_what_is_told_to_an_offer_is_read_back_with_it_and_takes_one_yes(said: str, echoes: list[str]) -> None:
    call, seen = call_from(RINGS, "it's out of breath when I'm up at 8,000 feet", said, "yes", enough=False)
    assert offers(seen[0]) == ["altitude: 8,000 ft"]
    assert {*echoes} <= {*offers(seen[1])}
    assert all(answered(call, echo.partition(":")[0]).startswith(echo) for echo in echoes)


@pytest.mark.parametrize(
    ("said", "not_told"),
    [("14000", "trailer weight"), ("a 22 foot trailer", "altitude"), ("62 pounds of valve spring", "present boost"),
     ("it's a 5.9 daily", "daily share"), ("60 psi of oil pressure", "present boost"), ("I want a 64", "power goal"),
     ("2,000 on the grade", "trailer weight"), ("about 80 percent", "daily share"), ("15 psi from the lift pump",
     "present boost")],
)  # fmt: skip
def test_a_figure_of_something_else_is_nobodys(said: str, not_told: str) -> None:
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert not_told not in {one.answer.fact for one in take_all(asked, said)}


def test_degrees_of_which_nobody_said_which_are_offered_as_those_that_they_can_be() -> None:
    _, seen = call_of("new turbo", "a 64", "skip", "780 degrees on the climbs and I want 450 at the wheels")
    assert {"present exhaust temperature: 780 °C (1,436 °F)", "power goal: 450 hp"} <= {*offers(seen[3])}


def test_a_figure_said_beside_a_no_is_not_taken_for_the_offer_where_its_words_mark_another_fact() -> None:
    told = "it's out of breath when I'm up at 8,000 feet"
    call, seen = call_from(RINGS, told, "no, 16k on the highway and I want 500", "yes", enough=False)
    assert "trailer weight: 16,000 lb" in offers(seen[1])
    assert answered(call, "altitude") == ""
    assert answered(call, "power goal") == "power goal: 500 hp"


@pytest.mark.parametrize(
    "since",
    ["since I put the 68 on", "ever since the 68 went on", "since we fitted the bigger turbo"],
)  # fmt: skip
def test_what_began_with_a_turbo_that_is_named_began_with_a_change_of_the_turbo(since: str) -> None:
    call, seen = call_from({}, f"it runs hot {since}", *["yes"] * 3, enough=False)
    assert "after a change" in " ".join(shown.partition("Else he answers")[0] for shown in seen)
    assert answered(call, "complaint since") == "complaint since: after a change"
    assert answered(call, "changed with it") == "changed with it: turbo"


def test_what_it_does_since_it_was_fitted_it_does_always() -> None:
    call, _ = call_from({"call kind": "complaint", "complaint": "heat"}, "since it was fitted", enough=False)
    assert answered(call, "complaint since") == "complaint since: always"


def test_the_colour_of_the_smoke_told_in_the_opening_is_offered() -> None:
    call, seen = call_from({}, "it smokes black on the hills", *["yes"] * 3, enough=False)
    assert any("smoke colour: black" in offers(each) for each in seen)
    assert answered(call, "smoke colour") == "smoke colour: black"


def test_a_gauge_at_its_end_tells_boost_and_no_colour_of_smoke() -> None:
    given = {"call kind": "complaint", "complaint": "smoke", "complaint since": "always"}
    call, seen = call_from(given, "pegged, gauge only goes to 35", "yes", enough=False)
    assert "That sounds like blue" not in seen[0]
    assert "present boost: at least 35 psi, 35 to 150 psi. Take it?" in seen[0]
    assert "smoke colour" not in {answer.fact for answer in call.answers}


@pytest.mark.parametrize("said", ["hundred over", "hundred over injectors", "a hundred over sticks"])
def test_injectors_a_hundred_over_are_offered_in_percent(said: str) -> None:
    call, seen = call_from({**RINGS, "duties": "daily"}, "change injector size", said, "yes", enough=False)
    assert "Did you mean 100 %?" in seen[1]
    assert answered(call, "injector size") == "injector size: 100 %"


def test_a_van_does_not_tow() -> None:
    _, seen = call_from(RINGS, "change duties", "a van", enough=False)
    assert "did you mean" not in seen[1]


def test_the_weight_of_a_caravan_is_no_size_of_a_turbo() -> None:
    said = "I've a caravan of two and a half tonnes"
    _, seen = call_from({"call kind": "new turbo"}, said, "yes", enough=False)
    assert "That tells the trailer weight" in seen[0]
    assert "inducer" not in seen[0]
    assert "trailer weight: 2.5 t" in " ".join(seen)


def test_figures_that_are_reeled_off_at_the_gauges_are_kept_for_their_questions() -> None:
    complains = {"call kind": "complaint", "complaint": "low boost", "complaint since": "always",
                 "changed with it": "nothing", "present turbo": "stock"}  # fmt: skip
    call, seen = call_from(complains, "change gauges", "38 and 1400", "boost and pyro", "yes", enough=False)
    assert "Kept until their questions come: present boost: 38 psi; present exhaust temperature: 1,400 °F." in seen[1]
    assert "You said 38 psi; is that it?" in seen[2]
    assert answered(call, "present boost") == "present boost: 38 psi"


def test_figures_that_are_reeled_off_beside_the_gauges_are_offered() -> None:
    said = "boost and pyro, 38 and 1400"
    call, _ = call_from({**RINGS, "duties": "towing"}, "change gauges", said, *["yes"] * 3, enough=False)
    assert answered(call, "present boost") == "present boost: 38 psi"
    assert answered(call, "present exhaust temperature") == "present exhaust temperature: 1,400 °F"


def test_a_pump_that_is_maxed_is_told_before_it_is_asked_for() -> None:
    call, seen = call_from(RINGS, "it's out of breath, P pump maxed", "yes", "yes", enough=False)
    assert answered(call, "injection pump") == "injection pump: larger", seen
    assert answered(call, "tune") == "tune: hot"


FUEL = ("new turbo", "no idea", "laggy", "always", "no", "daily and towing", "6.7 litre", "500 at the wheels")
TRAILER = (*FUEL, "skip")
AT_THE_FUEL = {"injector size", "injection pump", "tune", "lift pump"}


@pytest.mark.parametrize("said", [
    "crew cab pickup, four valve, auto", "it's a 24 valve", "it's a six speed", "I've got three kids and one dog",
    "eight foot bed, standard cab", "it's a four door", "he has two dogs", "forget the towing",
])  # fmt: skip
def test_what_speaks_of_something_else_answers_none_of_several_questions(said: str) -> None:
    answers, seen = call_of(*FUEL, said)
    assert "What tune is on it, are the injectors stock or how much over" in seen[-2]
    assert AT_THE_FUEL.isdisjoint(answers)


def test_what_speaks_of_the_fuel_answers_all_of_it_at_once() -> None:
    answers, _ = call_of(*FUEL, "stock tune, injectors 30 over, stock pump")
    assert answers.keys() >= AT_THE_FUEL - {"lift pump"}


@pytest.mark.parametrize(("said", "offer"), [
    ("forget the towing", "duties: daily"), ("actually scrap the towing, I sold the boat", "duties: daily"),
    ("no more towing", "duties: daily"), ("I don't tow it no more, come to think of it", "duties: daily"),
    ("no wait, four fifty at the wheels", "power goal: 450 hp"), ("actually make that 550", "power goal: 550 hp"),
])  # fmt: skip
def test_a_change_of_mind_at_several_questions_is_offered(said: str, offer: str) -> None:
    assert f"That makes {offer}. Take it?" in call_of(*FUEL, said)[1][-1]


@pytest.mark.parametrize(
    ("said", "asks"),
    [
        ("I pull it six times a year", "trailer brakes: That sounds like a yes. Ask it again: yes or no?"),
        ("about fifteen, rated twenty", "trailer weight: That would be 15 lb; did you mean 15,000 lb or 15 t"),
    ],
)
def test_a_doubt_at_several_questions_says_which_of_them_it_is_of(said: str, asks: str) -> None:
    seen = call_of(*TRAILER, said)[1]
    assert "What does the heaviest trailer weigh loaded, what is the truck rated to tow" in seen[-2]
    assert asks in " ".join(seen[-1].split())


def test_a_doubt_at_one_question_stands_by_itself() -> None:
    assert call_of(*TRAILER, "change displacement", "64 litre")[1][-1].startswith("That would be 64 L; did you mean")


def test_what_leans_to_a_yes_and_tells_other_facts_is_offered_for_these() -> None:
    call, seen = call_from({**RINGS, "duties": "towing", "power goal": "500", "power measured at": "wheels",
                            "cylinders": "6", "today's trouble": "laggy"},
                           "skip", "stock tune, stock injectors, stock pump", enough=False)  # fmt: skip
    assert sorted(offers(seen[1])) == ["injection pump: stock", "injector size: 0 %", "tune: stock"]
    assert "trailer brakes" not in {answer.fact for answer in call.answers}


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("the 64 my buddy runs", "friend runs it"),
        ("one of them 64s like my buddy Dale runs", "friend runs it"),
        ("a 64, my buddy runs one", "friend runs it"),
        ("my builder says a 66", "builder said so"),
        ("a 67/74, I read about it", "read about it"),
        ("the same as I had on my old truck, a 63", "had one before"),
    ],
)
def test_what_put_him_on_to_that_one_is_offered_where_he_says_so_with_it(said: str, reason: str) -> None:
    seen = call_of("new turbo", said, "yes")[1]
    assert f"What put you on to that one? You said {reason}; is that it?" in " ".join(seen[1].split())
    assert f"= request reason: {reason}" in seen[2]
    assert "What does it do today" in seen[2]


@pytest.mark.parametrize("said", ["I want a 66", "a 64 for towing", "something bigger", "maybe a 64, ported, studs"])
def test_what_tells_no_reason_is_asked_for_it(said: str) -> None:
    seen = call_of("new turbo", said)[1]
    assert "put you on to that one? You said" not in " ".join(seen[1].split())


AT_ITS_LIMIT = ["inducer limit: 2.6 in (66 mm)", "class rule: inducer limit"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("two point six class", AT_ITS_LIMIT),
        ("a turbo for the 2.6 inch class", AT_ITS_LIMIT),
        ("no no, the two point six is the class, two point six inch inducer, and yes I pull sleds",
         [*AT_ITS_LIMIT, "duties: sled"]),
    ],
)  # fmt: skip
def test_the_limit_of_his_class_is_offered_where_it_is_told_with_the_request(said: str, told: list[str]) -> None:
    call, seen = call_from({"call kind": "new turbo"}, said, "yes", enough=False)
    assert offers(seen[0]) == told
    assert answered(call, "inducer limit") == "inducer limit: 2.6 in (66 mm)"


def test_the_limit_told_with_the_rule_of_the_class_is_not_asked_again_from_nothing() -> None:
    pulls = {**RINGS, "duties": "sled", "power goal": "900", "power measured at": "wheels"}
    seen = call_from(pulls, "change class rule", "rule says two point six inch max", enough=False)[1]
    assert "What is the inducer limit exactly? You said 2.6 in (66 mm); is that it?" in " ".join(seen[1].split())


@pytest.mark.parametrize("said", ["5.9 max", "a 68 class turbo", "3.73 gears", "a 2.6 litre"])
def test_other_figures_are_no_limit_of_a_class(said: str) -> None:
    seen = call_from({"call kind": "new turbo"}, said, enough=False)[1]
    assert not [one for one in offers(seen[0]) if one.startswith("inducer limit")]


@pytest.mark.parametrize(
    ("said", "also"),
    [
        ("oh and it's at eight thousand feet, sorry, eight thousand pounds I mean", []),
        ("eight thousand pounds, oh sorry, and we're at eight thousand feet", ["altitude: 8,000 ft"]),
    ],
)
def test_a_figure_that_is_taken_back_is_not_offered_for_what_it_was_told_of(said: str, also: list[str]) -> None:
    answers, seen = call_of(*TRAILER, said)
    assert "= trailer weight: 8,000 lb" in seen[-1]
    assert offers(seen[-1]) == also
    assert "altitude" not in answers


COMPLAINS = (
    "look I bought one of them sixty-eights off the internet and now it barks like a dog every time I let off pulling"
    " the horse trailer"
)


def test_the_turbo_he_complains_of_is_the_one_on_it_and_asked_for_by_nobody() -> None:
    _, seen = call_from({}, COMPLAINS, "yes", enough=False)
    told = offers(seen[1])
    assert {"complaint: surge", "surge when: lifting off", "present size: 68 mm", "duties: towing"} <= {*told}
    assert not [one for one in told if one.startswith("request")]


def test_what_is_said_behind_a_yes_answers_the_question_that_is_open() -> None:
    given = {"call kind": "complaint", "complaint": "surge", "surge when": "lifting off"}
    said = "yes and it was the turbo and the hundred horse sticks at the same time"
    _, seen = call_from({**given, "complaint since": "after a change"}, "it's a 5.9 24 valve", said, enough=False)
    assert "changed with it: fuel, turbo" in offers(seen[1])


def test_that_is_right_is_a_yes_with_more_behind_it() -> None:
    said = "that's right, and it's a 5.9. the gauge sees about 1400 in the manifold"
    told = "it's an auto and the injectors are thirty over"
    call, _ = call_from({**RINGS, "today's trouble": "it runs hot"}, told, said, enough=False)
    assert {"injector size", "transmission"} <= {one.fact for one in call.answers}


def test_an_offer_outlives_a_command_once_the_advice_is_told() -> None:
    given = {"call kind": "complaint", "complaint": "surge", "complaint since": "always", "surge when": "lifting off"}
    given |= {"duties": "daily", "displacement": "5.9"}
    call, seen = call_from(given, "yes", "work one out for me", "why not 68")
    assert offers(seen[1]) == offers(seen[2]) == ["turbo wanted: yes"]
    call.hear("yes")
    assert "turbo wanted" in {one.fact for one in call.answers}


@pytest.mark.parametrize(
    "said",
    [
        "I want 450 I guess... no, make it 600, my neighbour has 600",
        "I want 450, no, call it 600",
        "want 450, no wait, 600",
    ],
)
def test_a_wish_put_right_in_the_same_breath_is_the_last_one(said: str) -> None:
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert [one.echo for one in take_all(asked, said)] == ["power goal: 600 hp"]


def test_what_is_not_his_is_not_taken_from_a_list() -> None:
    vocabulary = shop().vocabulary
    told = [understand(vocabulary["power goal"], "450 hp"), understand(vocabulary["power now"], "600 hp")]
    reply = listed.reply(vocabulary, told, "no, 1 is 600, and 2 isn't mine, that's the neighbour's")
    assert reply is not None
    assert ([one.echo for one in reply.right], reply.wrong) == (["power goal: 600 hp"], ("power now",))


@pytest.mark.parametrize(
    "said", ["it's all stock, everything", "stock, everything", "stock, all of it", "it's stock, the whole truck"]
)
def test_all_of_it_is_stock_however_that_is_said(said: str) -> None:
    vocabulary = shop().vocabulary
    heard = apart([vocabulary[name] for name in ("tune", "injector size", "injection pump")], said).heard
    assert [one.echo for one in heard] == ["tune: stock", "injector size: 0 %", "injection pump: stock"]


def test_a_word_for_any_choice_puts_none_right() -> None:
    given = {"call kind": "new turbo", "intercooler": "stock", "smoke colour": "black", "injection pump": "stock"}
    found = righted(shop().vocabulary, "it has no intercooler and does both", given, list(given), "read back")
    assert [one.echo for one in found.facts] == ["intercooler: none"]


def test_thousands_are_no_share() -> None:
    assert understand(shop().vocabulary["strip share"], "two thousand three hundred").fact is None


def test_a_fact_typed_by_its_name_is_taken_at_a_doubt_which_is_put_again() -> None:
    call, seen = call_from({}, "heya I am after the sixty six my cousin runs", "rpm limit 3200", enough=False)
    assert answered(call, "rpm limit") == "rpm limit: 3,200 rpm"
    assert "Is that it?" in seen[0]
    assert seen[1].strip().endswith("Is that it?")


def test_what_he_only_supposes_is_tried_and_not_taken() -> None:
    call, seen = call_from({**RINGS, "power goal": "600"}, "what if I had studs and a competition tune")
    assert "What if head fasteners: studs; tune: competition" in seen[0]
    assert not {"head fasteners", "tune"} & {one.fact for one in call.answers}
    assert not offers(seen[0])


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("450 at the crank", ["power goal: 450 hp", "power measured at: crank"]),
        ("makes 450 at the crank", ["power measured at: crank", "power now: 450 hp"]),
        ("four inch exhaust", ["exhaust size: 4 in"]),
        ("1400 pre turbo", ["present exhaust temperature: 1,400 °F"]),
        ("it's a daily and I pull a camper with it", ["duties: daily, towing"]),
        ("66 mil inducer max", ["class rule: inducer limit", "inducer limit: 66 mm"]),
    ],
)
def test_what_is_told_in_passing_is_offered(said: str, told: list[str]) -> None:
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert sorted(one.echo for one in take_all(asked, said)) == told
