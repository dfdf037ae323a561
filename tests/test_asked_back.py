"""What a caller asks instead of answering, and what he says of something else, at the questions of the shop."""

import pytest
from calls import shop

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.hearing import understand
from advisor.hearing.together import apart
from advisor.inference.engines import agenda
from advisor.journal import Record

OPENED = {"call kind": "new turbo", "request": "a 64", "request reason": "friend"}


def shown(turn: Turn) -> str:
    return " ".join(line.strip() for _, line in turn.lines(1000))


def live(answers: dict[str, str] = OPENED) -> Call:
    """A call in the demo shop with these answers, as it goes on after a crash."""
    call = Call(lambda told: consult(told, shop(), agenda("reference"), bands=False), shop(), Record(answers=answers))
    call.open()
    return call


def answers(call: Call) -> dict[str, str]:
    return {answer.fact: answer.words for answer in call.answers}


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("safety gear", "are you gonna tell me or not"),
        ("boost leak checked", "what has that got to do with my turbo?"),
        ("exhaust smell", "do you think I should?"),
        ("transmission", "why do you want to know that"),
        ("bottom end", "can you just say what it needs"),
        ("tune", "is stock any good?"),
        ("altitude", "what does 6,000 feet do to it?"),
    ],
)
def test_a_question_back_is_no_answer_and_is_told_why_it_is_asked(fact: str, words: str) -> None:
    call = live()
    told = shown(call.hear(f"change {fact} = {words}"))
    assert fact not in answers(call)
    definition = shop().vocabulary[fact]
    assert definition.why in told or definition.choices
    assert "He asks" in told
    assert definition.ask in told.split("He asks")[1]  # and the question again


@pytest.mark.parametrize(
    "words", ["how much is it?", "what'll that run me?", "how much", "just tell me what three grand gets me"]
)
@pytest.mark.parametrize("fact", ["transmission", "altitude", "exhaust smell"])
def test_a_price_is_promised_with_the_recommendation(fact: str, words: str) -> None:
    call = live()
    call.hear(f"change {fact}")
    told = shown(call.hear(words))
    assert "You get it with the recommendation" in told
    assert shop().vocabulary[fact].ask in told
    assert "Nothing here is called" not in told
    assert fact not in answers(call)


def test_a_price_asked_at_free_text_is_not_kept_as_the_answer() -> None:
    call = live()
    call.hear("change today's trouble")
    assert "You get it with the recommendation" in shown(call.hear("how much is it?"))
    assert "today's trouble" not in answers(call)


def test_a_word_of_the_trade_and_the_way_to_find_out_are_told() -> None:
    foot, valves = shop().vocabulary["manifold foot"], shop().vocabulary["valves per cylinder"]
    assert "T3: the small standard flange" in understand(foot, "what's a T3?").again
    assert valves.check_by in understand(valves, "How would I find that out?").again


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("air filter", "stock, is that bad?", "stock"),
        ("exhaust smell", "no, why?", False),
        ("tune", "is that the little box under the dash? it's stock", "stock"),
        ("bottom end", "how it came", "stock"),
        ("road use", "sure, why not?", True),
    ],
)
def test_an_answer_beside_a_question_is_the_answer(fact: str, words: str, value: object) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert heard.fact is not None
    assert (heard.fact.value, heard.doubt) == (value, "")


@pytest.mark.parametrize(("fact", "words"), [("manifold foot", "T4?"), ("power goal", "how about 500?"),
                                             ("transmission", "automatic, right?")])  # fmt: skip
def test_an_answer_said_as_a_question_waits_for_a_yes(fact: str, words: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert heard.fact is not None
    assert heard.doubt


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("exhaust smell", "the pyro's right at the manifold"),
        ("exhaust brake", "I have thirty percent sticks"),
        ("bottom end", "I've got thirty percent sticks"),
        ("transmission", "no clue man"),
        ("altitude", "three grand is what I got to spend"),
        ("trailer weight", "I paid 12 grand for it"),
        ("objection", "yes"),
        ("objection", "yeah there is"),
    ],
)
def test_what_is_said_of_something_else_is_never_taken_silently(fact: str, words: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert heard.fact is None or heard.doubt


def test_who_has_an_objection_is_asked_which() -> None:
    assert understand(shop().vocabulary["objection"], "yes").again == (
        "Then what is it? One of: price, friend runs it, used turbo, sound, external gate, no gate, refund, too little"
        " power, guarantee."
    )


def test_a_look_is_no_pressure_test() -> None:
    call = live()
    call.hear("change boost leak checked = uh, I looked at the boots")
    assert {one.answer.fact: one.fact and one.fact.value for one in call.consultation.understood}[
        "boost leak checked"
    ] is False


LEANS = "we put air on it and looked for bubbles"


@pytest.mark.parametrize(("reply", "kept"), [("yes", LEANS), ("no", "no"), ("what has that got to do with it?", None)])
def test_a_doubted_yes_is_asked_again_as_yes_or_no(reply: str, kept: str | None) -> None:
    call = live()
    doubt = call.hear(f"change boost leak checked = {LEANS}")
    assert "That sounds like a yes. Ask it again: yes or no?" in shown(doubt)
    assert doubt.prompt is not None
    assert doubt.prompt.label == "yes or no> "
    told = shown(call.hear(reply))
    assert answers(call).get("boost leak checked") == kept
    assert ("yes or no?" in told) is (kept is None)


def test_what_is_said_behind_a_no_is_the_right_answer() -> None:
    call = live()
    assert "That sounds like" in shown(call.hear("change vehicle kind = it's a one-ton dually flatbed"))
    for line in ("no, three quarter ton pickup, 6.7 litre, automatic", "yes", "yes"):
        call.hear(line)
    assert answers(call)["vehicle kind"].startswith("three quarter ton pickup")
    assert answers(call) | OPENED == answers(call)
    assert {"displacement", "transmission"} <= answers(call).keys()


def test_a_denied_figure_that_was_another_questions_goes_there() -> None:
    call = live()
    call.hear("change trailer weight = 60")
    told = shown(call.hear("no no, I mean the altitude"))
    assert shop().vocabulary["altitude"].ask in told
    assert "trailer weight" not in answers(call)
    call.hear("600 ft")
    assert answers(call)["altitude"] == "600 ft"


def test_no_trouble_is_none_to_cure_and_the_figure_beside_it_is_offered() -> None:
    call = live()
    told = shown(call.hear("change today's trouble = nothing, it's fine, I just want nine hundred horse"))
    assert "today's trouble: nothing" in told
    assert "has to cure that first" not in told
    assert "He also said power goal: 900 hp. Take it?" in told
    assert "has to cure that first" in shown(call.hear("change today's trouble = nothing but black smoke"))


def test_a_tractor_is_a_tractor() -> None:
    duties = understand(shop().vocabulary["duties"], "pulling tractor").fact
    assert duties is not None
    assert duties.value == frozenset({"sled"})
    call = live({})
    opened = shown(call.hear("I want a new turbo for my pulling tractor"))
    assert "He also said vehicle kind: tractor. Take it?" in opened


def test_an_engine_that_was_never_opened_up_has_nothing_ported() -> None:
    names = ("bottom end", "head fasteners", "cylinder head")
    found = apart([shop().vocabulary[name] for name in names], "never been opened up")
    assert {heard.answer.fact: heard.fact and heard.fact.value for heard in found.heard} == {
        "bottom end": "stock", "head fasteners": "stock bolts", "cylinder head": "stock",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("reply", "kept"),
    [
        ("the first one", "13,000 lb"),
        ("former", "13,000 lb"),
        ("the latter", "13 t"),
        ("that's the second", "13 t"),
        ("pounds", "13,000 lb"),
        ("tonnes", "13 t"),
        ("metric tons", "13 t"),
        ("fourteen thousand pounds", "fourteen thousand pounds"),
        ("13 t", "13 t"),
    ],
)
def test_of_two_figures_one_is_picked_by_its_place_or_its_unit(reply: str, kept: str) -> None:
    call = live({**OPENED, "duties": "towing"})
    assert "did you mean 13,000 lb or 13 t" in shown(call.hear("change trailer weight = 13"))
    assert "Which: 13,000 lb or 13 t? Say the one that is right." in shown(call.hear("yes"))
    call.hear(reply)
    assert answers(call)["trailer weight"] == kept


def test_words_that_pick_neither_are_asked_again() -> None:
    call = live({**OPENED, "duties": "towing"})
    call.hear("change trailer weight = 13")
    for reply in ("the blue one", "litres", "either"):
        call.hear(reply)
        assert "trailer weight" not in answers(call)


@pytest.mark.parametrize("words", ["Friday", "I need it Saturday", "this Thursday", "by Friday"])
def test_a_weekday_is_within_the_week(words: str) -> None:
    day = 86_400.0
    heard = understand(shop().vocabulary["deadline"], words)
    assert heard.fact is not None
    assert (heard.fact.value.low, heard.fact.value.high) == (2 * day, 7 * day)
    assert heard.doubt
