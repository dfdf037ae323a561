"""What is said to a doubt: an answer to it, or to another question, and then the doubt is put again."""

from functools import cache

import pytest

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.hearing import understand
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
    answers, seen = call_of(opening, "yes", "yes")
    assert "= call kind: new turbo" in seen[0]
    assert f"You told me already: {opening}" in seen[0]
    assert "You said friend runs it; is that it?" in seen[1]
    assert set(answers) == {"call kind", "request", "request reason"}
