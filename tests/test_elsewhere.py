"""What is said to a doubt or an offer: an answer to it, or to another question, and then that is put again."""

from functools import cache

import pytest
from calls import offers

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.hearing.beside import also_said
from advisor.hearing.elsewhere import of_another
from advisor.knowledge import Knowledge, load, shipped_folder

BUDDY = "buddy runs a 64"
DOUBT = "That sounds like new turbo"


@cache
def shop() -> Knowledge:
    return load(shipped_folder())


def call_of(*lines: str) -> tuple[dict[str, str], list[str]]:
    """The answers of a call at the demo shop that has heard the lines, and what each brought up."""
    call = Call(lambda answers: consult(answers, shop(), bands=False), shop())
    call.open()
    seen = ["\n".join(line for _, line in call.hear(line).lines(200)) for line in lines]
    return {answer.fact: answer.words for answer in call.answers}, seen


@pytest.mark.parametrize(
    ("reply", "offered", "fact"),
    [
        ("towing mostly", "duties: towing", "duties"),
        ("towing right now", "duties: towing", "duties"),
        ("it's a 5.9", "displacement: 5.9 L", "displacement"),
        ("brakes yes", "trailer brakes: yes", "trailer brakes"),
        ("the exhaust brake, no", "exhaust brake: no", "exhaust brake"),
        ("1,200 ft", "altitude: 1,200 ft", "altitude"),
    ],
)
def test_a_reply_about_something_else_is_offered_for_that_and_the_doubt_put_again(
    reply: str, offered: str, fact: str
) -> None:
    answers, (doubt, offer, again, _) = call_of(BUDDY, reply, "yes", "yes")
    assert DOUBT in doubt
    assert f"He also said {offered}. Take it?" in offer
    assert DOUBT in again
    assert understand(shop().vocabulary["call kind"], answers["call kind"]).echo == "call kind: new turbo"
    assert fact in answers


def test_who_passes_over_the_offer_speaks_to_the_doubt() -> None:
    answers, seen = call_of(BUDDY, "it's a 5.9", "my turbo has failed")
    assert "= call kind: replacement" in seen[2]
    assert "displacement" not in answers
    for passes in ("no", "skip"):
        answers, seen = call_of(BUDDY, "it's a 5.9", passes, "yes")
        assert DOUBT in seen[2]
        assert "= call kind: new turbo" in seen[3]
        assert "displacement" not in answers


@pytest.mark.parametrize("reply", ["he's happy with his", "his runs great", "blue, I think", "what do you mean?"])
def test_a_reply_that_answers_nothing_leaves_the_doubt(reply: str) -> None:
    answers, seen = call_of(BUDDY, reply, "yes")
    assert DOUBT in seen[1]
    assert answers == {"call kind": BUDDY}


def test_a_clear_correction_is_taken_and_one_that_is_only_leant_to_is_set_beside_what_was_doubted() -> None:
    assert "= call kind: complaint" in call_of(BUDDY, "no, I have a complaint")[1][1]
    assert "= call kind: complaint" in call_of(BUDDY, "mine has a problem")[1][1]
    leant = "mine's a bit of a mystery and a headache lately"
    assert understand(shop().vocabulary["call kind"], leant).doubt.startswith("That sounds like complaint")
    _, seen = call_of(BUDDY, leant, "yes", "the last one")
    assert "Did you mean new turbo or complaint?" in seen[1]
    assert "Which: new turbo or complaint?" in seen[2]
    assert "= call kind: complaint" in seen[3]


def test_a_yes_to_what_is_named_is_no_yes_to_the_doubt() -> None:
    vocabulary = shop().vocabulary
    own = vocabulary["trailer brakes"]
    assert of_another(vocabulary, own, "brakes yes", (), {}) is None
    assert of_another(vocabulary, own, "yes, brakes", (), {}) is None
    told = of_another(vocabulary, own, "exhaust brake yes", (), {})
    assert told is not None
    assert [one.echo for one in told] == ["exhaust brake: yes"]
    assert of_another(vocabulary, own, "exhaust brake yes", ("exhaust brake",), {}) == []


@pytest.mark.parametrize(
    "opening",
    ["a new turbo, buddy runs a 64", "my buddy's got a 64, I want a new turbo",
     "a new turbo for mine, my cousin has a 64 and he loves it"],
)  # fmt: skip
def test_an_opening_that_names_a_new_turbo_is_plain_though_a_buddy_is_named(opening: str) -> None:
    answers, seen = call_of(opening, "yes")
    assert "= call kind: new turbo" in seen[0]
    told = {" I ": " you ", "my ": "your ", "mine": "yours"}
    for his, said in told.items():
        opening = opening.replace(his, said)
    assert offers(seen[0]) == [f"request: {opening}", "request reason: friend runs it"]
    assert set(answers) == {"call kind", "request", "request reason"}


TOWING = ("new turbo", "a 64", "a friend runs it", "nothing really")
TRUCK = (*TOWING, "towing", "a medium truck, 5.9, four valves, manual")
SMOKE = ("complaint", "smokes", "white")


@pytest.mark.parametrize(
    ("lines", "offered"),
    [
        ((*TOWING[:3], "gooseneck, fifteen thousand with the cattle", "yes"), "duties: towing"),
        ((*TOWING[:3], "towing mostly, a fifth wheel, bit of daily", "yes"), "You said daily, towing; is that it?"),
        ((*TOWING[:3], "towing mostly, some daily", "yes"), "You said daily, towing; is that it?"),
        ((*TOWING, "daily", "towing mostly, some daily"), "That makes duties: daily, towing. Take it?"),
        ((*TOWING, "it's a pickup, single wheels"), "He also said vehicle kind: pickup. Take it?"),
        ((*TOWING, "single wheels"), "He also said vehicle kind: pickup. Take it?"),
        ((*TOWING, "sea level"), "He also said altitude: 0 ft. Take it?"),
        ((*TOWING, "we're at sea level here"), "He also said altitude: 0 ft. Take it?"),
    ],
)
def test_what_is_said_to_another_question_is_offered_whole(lines: tuple[str, ...], offered: str) -> None:
    assert offered in call_of(*lines)[1][-1]


@pytest.mark.parametrize(
    ("before", "reply", "fact", "value"),
    [
        (TRUCK, "dually, a pickup", "vehicle kind", "dual rear wheel pickup"),
        (TRUCK, "it's a pickup with single wheels", "vehicle kind", "pickup"),
        (TRUCK, "no, I said a dually", "vehicle kind", "dual rear wheel pickup"),
        (SMOKE, "I said black, black as coal", "smoke colour", "black"),
        (SMOKE, "well I told you it's blue", "smoke colour", "blue"),
    ],
)
def test_who_tells_a_choice_otherwise_is_asked_whether_it_is_so(
    before: tuple[str, ...], reply: str, fact: str, value: str
) -> None:
    answers, seen = call_of(*before, reply, "yes")
    assert f"That makes {fact}: {value}. Take it?" in seen[-2]
    assert understand(shop().vocabulary[fact], answers[fact]).echo == f"{fact}: {value}"
    denied, _ = call_of(*before, reply, "no")
    assert understand(shop().vocabulary[fact], denied[fact]).echo != f"{fact}: {value}"


def test_who_says_again_what_he_told_is_offered_nothing() -> None:
    assert "Take it?" not in call_of(*SMOKE, "I said white")[1][-1]


OFFERED = ["request: a new turbo, buddy runs a 64", "request reason: friend runs it"]


@pytest.mark.parametrize(
    ("reply", "fact"),
    [("towing mostly", "duties"), ("it's a 5.9", "displacement"), ("no, it's for towing mostly", "duties"),
     ("the exhaust brake, no", "exhaust brake")],
)  # fmt: skip
def test_a_reply_about_something_else_is_never_taken_as_the_part_that_is_on_offer(reply: str, fact: str) -> None:
    answers, seen = call_of("a new turbo, buddy runs a 64", reply, "yes")
    assert offers(seen[0]) == OFFERED
    assert offers(seen[1])[0].startswith(fact)
    assert fact in answers
    denied = reply.startswith("no")
    assert (offers(seen[1])[1:] == OFFERED) is not denied
    assert ("Just the way you'd say it" in seen[2]) is denied
    assert answers.get("request") == (None if denied else "a new turbo, buddy runs a 64")


def test_all_that_is_said_in_one_breath_to_an_offer_is_offered_before_it_is_put_again() -> None:
    reply = "it's a 5.9, and I tow twelve thousand pounds"
    answers, seen = call_of("a new turbo, buddy runs a 64", reply, "yes")
    told = ["displacement: 5.9 L", "trailer weight: 12,000 lb", "duties: towing"]
    assert offers(seen[1]) == [*told, *OFFERED]
    assert [*answers][1:] == [echo.partition(":")[0] for echo in (*told, *OFFERED)]
    assert answers["request"] == "a new turbo, buddy runs a 64"


def test_what_names_no_part_leaves_the_offer_and_another_part_is_taken_for_it() -> None:
    answers, seen = call_of("a new turbo, buddy runs a 64", "he's happy with his", "a 66 then")
    assert offers(seen[1]) == OFFERED
    assert answers["request"] == "a 66 then"


def test_further_facts_told_while_another_offer_waits_are_offered_after_it() -> None:
    lines = ("I want a new turbo, a 66 for towing, it's a 5.9", "no, it's a 6.7 and the trailer is 12,000 lb", "yes")
    answers, seen = call_of(*lines)
    assert "displacement: 5.9 L" in offers(seen[0])
    assert answers["displacement"] == "6.7"
    assert {"request", "duties", "trailer weight"} <= {*answers}


OPENS = "a new turbo, buddy runs a 64"


@pytest.mark.parametrize("reply", ["a 66", "no, a 66", "make it a 66"])
def test_a_plain_correction_answers_the_offer(reply: str) -> None:
    answers, seen = call_of(OPENS, reply)
    assert "compressor inducer 66 mm" in seen[1]
    assert "66" in answers["request"]


def test_what_is_said_beside_a_no_with_the_right_figure_is_kept() -> None:
    answers, seen = call_of("new turbo", "a 64 for my 3.0 litre", "no, 2.98, and I tow 14,000 lb")
    assert "displacement: 3 L. Take it?" in seen[1]
    assert answers["displacement"].startswith("2.98")
    assert offers(seen[2]) == ["trailer weight: 14,000 lb", "duties: towing"]


def test_what_tells_another_fact_is_not_taken_for_the_turbo_he_has_in_mind() -> None:
    answers, seen = call_of("new turbo", "towing mostly, some daily")
    assert "That tells the duties. Is it the answer to this question too?" in seen[1]
    assert "request" not in answers
    answers, _ = call_of("new turbo", "something for towing, the bigger the better, whatever you want to sell me")
    assert "request" in answers


def test_a_yes_with_the_answer_behind_it_picks_one_of_two_that_were_asked_about() -> None:
    leant = "mine's a bit of a mystery and a headache lately"
    _, seen = call_of(BUDDY, leant, "yes, I have a complaint")
    assert "Did you mean new turbo or complaint?" in seen[1]
    assert "= call kind: complaint" in seen[2]


REPLACED = "My shaft broke on Tuesday and I want the same thing but bigger"


@pytest.mark.parametrize(
    ("opens", "offered"),
    [
        (REPLACED, {"failure: broken shaft", "replacement wish: more power"}),
        ("it smokes since the tune", {"complaint: smoke", "changed with it: fuel", "complaint since: after a change"}),
        ("it barks since we put the bigger turbo on",
         {"complaint: surge", "changed with it: turbo", "complaint since: after a change"}),
        ("I want a new turbo, it's been slow from new", {"complaint since: always"}),
    ],
)
def test_what_an_opening_says_already_is_offered_where_it_answers_what_is_asked_later(
    opens: str, offered: set[str]
) -> None:
    _, seen = call_of(opens, "yes")
    assert offered <= {echo for turn in seen for echo in offers(turn)}


def test_what_is_only_asked_of_other_callers_is_not_offered() -> None:
    _, seen = call_of("I want a new turbo, the shaft snapped on the last one", *["yes"] * 4)
    assert "failure" not in "".join(seen)


def test_what_is_on_it_now_is_not_the_wish_and_a_neighbours_is_why_he_asks() -> None:
    answers, seen = call_of("I've got a 64 on it and want something that lights quicker", "yes")
    assert "request: " not in "".join(seen)
    assert (answers["present turbo"], answers["present size"]) == ("larger single", "64")
    assert "You told me already" in "".join(call_of("I want a 64, what I have on it is too slow", "yes")[1])
    _, seen = call_of("my neighbour put a 66 on and it flies, I want one", "yes")
    assert "request reason: friend runs it" in offers(seen[1])


def test_a_figure_beside_an_offer_is_told_in_the_unit_in_which_it_can_be() -> None:
    _, seen = call_of("new turbo", "a 64", "skip", "the exhaust goes to 750 degrees on the pass", "yes")
    assert "present exhaust temperature: 750 °C (1,382 °F). Take it?" in seen[3]
    assert "= present exhaust temperature: 750 °C" in seen[4]


def test_a_yes_of_another_question_and_a_figure_behind_it_are_both_offered_before_the_doubt() -> None:
    answers, seen = call_of(BUDDY, "brakes yes, and the trailer's 14k", "yes")
    assert (answers["trailer brakes"], answers["trailer weight"]) == ("yes", "14k")
    assert "call kind" not in answers
    assert DOUBT in seen[2]


def test_who_denies_his_only_duty_at_a_doubt_is_asked_for_his_duties_and_then_what_was_doubted() -> None:
    tune = "change tune = a box, I couldn't swear to it"
    answers, seen = call_of("new turbo", "change duties = strip", tune, "no, I don't go to any drag strip", "towing")
    assert "Is that it?" in seen[2]
    assert "“What does the truck do for a living" in seen[3]
    assert answers["duties"] == "towing"
    assert "tune" not in answers


@pytest.mark.parametrize("said", ["nobody smells anything", "no one smells it"])
def test_what_nobody_does_is_a_no(said: str) -> None:
    heard = understand(shop().vocabulary["exhaust smell"], said)
    assert (heard.echo, heard.doubt) == ("exhaust smell: no", "")
    assert understand(shop().vocabulary["exhaust smell"], "nobody smells it but the wife gets headaches").fact.value


def test_a_guess_at_the_cause_is_offered_and_what_is_told_with_it_kept() -> None:
    cause = "could have been boost, he turned it up to 45 pounds, and I was on a long grade with 14,000 behind me"
    answers, seen = call_of("the old turbo let go", "yes", cause, "yes", "yes", "yes")
    assert "That sounds like burst" in seen[2]
    assert "doesn't know" not in seen[2]
    assert answers["present boost"] == "45 pounds"
    assert answers["trailer weight"] == "14,000"
    assert understand(shop().vocabulary["failure"], "could have been the oil").doubt


PLOUGHS = ("change call kind = new turbo", "change request = a 66", "change request reason = a friend runs it",
           "change vehicle kind = tractor", "change displacement = 6.8")  # fmt: skip


@pytest.mark.parametrize("wish", ["I'd like two twenty", "I'd like 220 or so"])
def test_a_wish_beside_the_rating_on_the_plate_keeps_both(wish: str) -> None:
    goal = "change today's trouble = nothing", "change duties = towing", "change field work = ploughing"
    answers, seen = call_of(*PLOUGHS, *goal, f"one ninety on the plate, {wish}", "yes", "yes")
    assert "That sounds like 220 hp" in seen[-3]
    assert "He also said stock power: 190 hp. Take it?" in seen[-2]
    assert understand(shop().vocabulary["power goal"], answers["power goal"]).echo == "power goal: 220 hp"
    assert answers["stock power"] == "190"


def test_ploughing_told_with_the_trouble_is_kept_beside_it() -> None:
    answers, seen = call_of(*PLOUGHS, "it struggles when I'm ploughing", "yes")
    assert "= today's trouble: it struggles when I'm ploughing" in seen[-2]
    assert "He also said field work: implement. Take it?" in seen[-2]
    assert answers["field work"] == "implement"


SHORT = ("change call kind = new turbo", "change request = a 66", "change duties = daily", "change displacement = 5.9",
         "change power goal = 400 hp", "change power measured at = crank", "enough")  # fmt: skip


@pytest.mark.parametrize(
    ("said", "objection", "told"),
    [
        ("I'll just take a used 62 from my neighbour", "used turbo", "A used turbo can burst through its housing"),
        ("that's too dear for me", "price", "There is one among your choices that costs less"),
    ],
)
def test_what_is_in_his_way_is_heard_at_the_read_back(said: str, objection: str, told: str) -> None:
    answers, seen = call_of(*SHORT, said, "yes")
    assert f"He also said objection: {objection}. Take it?" in seen[-2]
    assert told in seen[-1]
    assert answers["objection"] == said


def test_enough_still_asks_what_nothing_can_be_advised_without_and_said_again_does_not() -> None:
    begin = ("new turbo", "a 66", "skip", "enough")
    _, seen = call_of(*begin, "towing", "5.9", "450 hp")
    assert "Without duties, displacement and power goal nothing can be advised" in seen[3]
    assert "What does the truck do for a living" in seen[3]
    assert "how many litres" in seen[4]
    assert "two valves" not in seen[4]  # what is asked along with it otherwise
    assert "What power would you like" in seen[5]
    assert "Is all of it right?" in seen[6]
    _, seen = call_of(*begin, "enough")
    assert "Left out: request reason, duties, displacement, power goal" in seen[-1]
    assert "Is all of it right?" in seen[-1]


def test_what_is_assumed_is_told_in_a_few_lines_without_rules_names_and_its_reason_on_request() -> None:
    _, seen = call_of(*SHORT, "how vehicle kind")
    told = seen[-2].partition("Assumed, since nobody said")[2].partition("Say:")[0]
    assert "vehicle kind: pickup" in told
    assert len(told.strip().splitlines()) <= 5
    assert not any(rule.name in told for rule in shop().rules)
    assert "Most callers drive one" in seen[-1]


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("a used one, the guy's selling it for half", {"used turbo"}),
        ("second hand is good enough", {"used turbo"}),
        ("a used 62 from my neighbour is cheaper", {"price", "used turbo"}),
        ("my neighbour has the other one and loves it", {"friend runs it"}),
        ("I'm used to it being quiet", {"sound"}),
    ],
)
def test_a_used_turbo_is_told_from_one_that_somebody_runs(said: str, meant: set[str]) -> None:
    heard = understand(shop().vocabulary["objection"], said)
    assert heard.fact is not None
    assert meant <= set(heard.fact.value)
    assert ("used turbo" in heard.fact.value) is ("used turbo" in meant)


def test_what_he_said_of_himself_is_said_back_as_of_him_and_a_charger_has_no_litres() -> None:
    _, seen = call_of("I want a 2.6 charger like the guy who beats me", "yes")
    assert "You told me already: you want a 2.6 charger like the guy who beats you. Is that it?" in seen[0]
    assert "displacement" not in seen[1]


def test_what_a_camper_weighs_may_be_a_trailer_or_the_truck() -> None:
    vocabulary = shop().vocabulary
    told = {words: [one.echo for one in also_said(vocabulary, words, set())] for words in (
        "I've got a camper, about 3500 kilos", "it's a camper, 3500 kilos", "I pull a camper, about 3500 kilos")}
    assert [[echo.partition(":")[0] for echo in echoes if "kg" in echo] for echoes in told.values()] == [
        [], ["vehicle weight"], ["trailer weight"]]


def test_of_a_long_opening_what_names_a_turbo_is_said_back() -> None:
    opening = "Morning. My buddy runs a 64 and I want one of those, it's for my 5.9, tows a 9000 pound camper"
    answers, seen = call_of(opening, "yes", "yes")
    assert "request: your buddy runs a 64 and you want one of those" in offers(seen[1])
    assert answers["request"] == opening
