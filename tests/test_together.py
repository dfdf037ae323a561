"""Several questions in one breath: what is asked so, and one answer taken apart for all of them.

The answers are invented, those to single questions from tests/data/callers.csv (common practice of the trade, no
source).
"""

import random
from collections import defaultdict

import pytest
from calls import shop, thinned
from test_callers import rows, same
from walks import REFERENCE

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing.together import apart, words_for
from advisor.journal import Record

VOCABULARY = shop().vocabulary
GROUPS: dict[str, list] = defaultdict(list)
for one in sorted(VOCABULARY.values(), key=lambda definition: definition.order):
    if one.together:
        GROUPS[one.together].append(one)


def heard(group: str, words: str) -> dict[str, str]:
    return {h.answer.fact: h.echo.partition(": ")[2] for h in apart(GROUPS[group], words).heard}


TAKEN = [
    ("the trailer", "13k, rated for 14,500, yes", {"trailer weight": "13,000 lb", "tow rating": "14,500 lb",
                                                   "trailer brakes": "yes"}),
    ("the trailer", "12 to 14k, not sure, no brakes", {"trailer weight": "12,000 to 14,000 lb", "trailer brakes": "no",
                                                       "tow rating": "not sure, left open"}),
    ("the trailer", "13k, not sure what it's rated, yes", {"trailer weight": "13,000 lb", "trailer brakes": "yes",
                                                           "tow rating": "not sure, left open"}),
    ("the trailer", "13 thousand and yes it's got brakes", {"trailer weight": "13,000 lb", "trailer brakes": "yes"}),
    ("the goal", "500 at the wheels by 1800", {"power goal": "500 hp", "power measured at": "wheels",
                                               "boost wanted by": "1,800 rpm"}),
    ("the fuel", "all stock bro, can I just have the turbo", {"tune": "stock", "injector size": "0 %",
                                                             "injection pump": "stock", "lift pump": "stock"}),
    ("the goal", "between 500 and 600 at the crank", {"power goal": "500 to 600 hp", "power measured at": "crank"}),
    ("the place", "95 and 3,000 ft", {"altitude": "3,000 ft", "summer temperature": "95 °F"}),
    ("the place", "a hundred and five degrees", {"summer temperature": "105 °F"}),
    ("the hill", "55 mph up 6 percent", {"grade": "6 %", "towing speed": "55 mph"}),
    ("the manifold", "T4 divided", {"manifold foot": "T4", "manifold entry": "divided"}),
    ("the working range", "3,200 down to 1,700", {"working rpm low": "1,700 rpm", "working rpm high": "3,200 rpm"}),
    ("the working range", "1700 to 2800", {"working rpm low": "1,700 rpm", "working rpm high": "2,800 rpm"}),
    ("the engine inside", "all stock", {"cylinder head": "stock", "head fasteners": "stock bolts",
                                        "bottom end": "stock", "camshaft": "stock"}),
    ("the engine inside", "ported head, stock cam", {"cylinder head": "ported", "camshaft": "stock"}),
    ("the engine inside", "studs, the rest is stock", {"cylinder head": "stock", "head fasteners": "studs",
                                                       "bottom end": "stock", "camshaft": "stock"}),
    ("the truck", "05 dually, five nine, 24 valve, six speed automatic",
     {"vehicle kind": "dual rear wheel pickup", "displacement": "5.9 L", "valves per cylinder": "four",
      "transmission": "automatic"}),
]  # fmt: skip


@pytest.mark.parametrize(("group", "words", "wanted"), TAKEN)
def test_an_answer_is_taken_apart(group: str, words: str, wanted: dict[str, str]) -> None:
    assert heard(group, words) == wanted


@pytest.mark.parametrize(
    ("group", "words"),
    [("the trailer", "no idea"), ("the oil lines", "whatever came with it"), ("the air", "stock or so")],
)
def test_what_is_not_plain_is_left_to_be_asked_singly(group: str, words: str) -> None:
    assert heard(group, words) == {}


def test_answers_in_the_order_asked_are_read_as_they_are_singly() -> None:
    """Whatever callers say to single questions, said together in order: what is taken is right, but for some in a
    hundred, where an answer has a comma of its own or two figures with an "and"."""
    said = defaultdict(list)
    for fact, words, wanted in rows():
        if "||" not in wanted and wanted not in ("unsure", "unclear"):
            said[fact].append((words, wanted))
    chance = random.Random(5)
    facts = wrong = taken = 0
    for _ in range(1200):
        group = chance.choice(list(GROUPS.values()))
        asked = sorted(chance.sample(group, chance.randint(2, len(group))), key=lambda d: d.order)
        told = {definition.name: chance.choice(said[definition.name]) for definition in asked}
        for one in apart(asked, ", ".join(words for words, _ in told.values())).heard:
            taken += 1
            wrong += one.fact is None or not same(VOCABULARY[one.answer.fact], one.fact.value, told[one.answer.fact][1])
        facts += len(asked)
    assert taken >= 0.81 * facts
    assert wrong <= 0.025 * facts


def opened(*lines: str) -> tuple[Call, str]:
    """A call with these lines said, and what it shows last."""
    knowledge = thinned(20)
    call = Call(lambda answers: consult(answers, knowledge, REFERENCE, bands=False), knowledge, Record())
    turn = call.open()
    for line in lines:
        turn = call.hear(line)
    return call, " ".join(text for _, text in turn.lines(2000))


TOWING = ("new turbo", "a 64", "a friend runs it", "nothing really", "towing")


def test_the_truck_is_asked_in_one_breath_and_what_is_missing_singly() -> None:
    call, shown = opened(*TOWING)
    truck = [VOCABULARY[name] for name in ("vehicle kind", "displacement", "valves per cylinder", "transmission")]
    assert words_for(truck) in shown
    _, shown = opened(*TOWING, "a pickup, 5.9, four valves, manual")
    for echo in ("vehicle kind: pickup", "displacement: 5.9 L", "valves per cylinder: four", "transmission: manual"):
        assert f"= {echo}" in shown
    call, shown = opened(*TOWING, "a dually, automatic")
    assert VOCABULARY["displacement"].ask in shown
    assert [answer.fact for answer in call.answers][-2:] == ["vehicle kind", "transmission"]


def test_leaving_out_a_breath_leaves_out_all_of_it() -> None:
    goal = (*TOWING, "a pickup, 5.9, four valves, manual", "400, crank")
    call, shown = opened(*goal, "skip")
    assert "Left out: trailer weight, tow rating, trailer brakes" in shown
    assert not {"trailer weight", "tow rating", "trailer brakes"} & {answer.fact for answer in call.answers}
    assert VOCABULARY["trailer weight"].in_short not in opened(*goal, "skip")[1].lower()


def test_one_word_for_all_is_asked_again_singly() -> None:
    """Nobody's "not sure" stands for three questions at once."""
    call, shown = opened(*TOWING, "a pickup, 5.9, four valves, manual", "400, crank", "not sure")
    told = [answer.fact for answer in call.answers if answer.words == "not sure"]
    assert told == ["trailer weight"]
    assert any(VOCABULARY[name].ask in shown for name in ("tow rating", "trailer brakes"))
