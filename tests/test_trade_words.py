"""Words of the trade that sound like another fact's: taken for what they mean, or for nothing."""

import pytest
from calls import shop
from test_asked_back import answers, live, shown

from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.hearing.mentions import take_all
from advisor.inference.facts import Value

COMPLAINT = {"call kind": "complaint", "complaint": "late spool, surge"}
NEW = {"call kind": "new turbo", "request": "a 64", "request reason": "friend"}
SLED = {**NEW, "duties": "sled"}


def heard(fact: str, words: str) -> Value | None:
    understood = understand(shop().vocabulary[fact], words)
    return None if understood.fact is None or understood.doubt else understood.fact.value


def beside(words: str) -> set[str]:
    """The facts that a sentence is taken to tell, whatever was asked."""
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    return {one.answer.fact for one in take_all(asked, words)}


@pytest.mark.parametrize(
    ("words", "fact", "told"),
    [
        ("a 68 over 74, T4 open, no gate", "injector size", False),
        ("I put a 68 over 74 on it", "injector size", False),
        ("a hot tune, 60 over sticks", "injector size", True),
        ("the injectors are fifty over", "injector size", True),
        ("it just falls on its face at 250 feet", "altitude", False),
        ("I live up at 6,000 feet", "altitude", True),
        ("well a 2.6 of course, that's the class", "displacement", True),  # left to who knows what was asked
        ("the class is a 2.6 inducer", "displacement", False),
        ("it's a 5.9 with the P pump", "displacement", True),
        ("limited class, two six at the wheel, with a bushing they check", "power measured at", False),
        ("450 at the wheels", "power measured at", True),
        ("with a big lift pump", "manifold foot", False),
        ("it's lazy and it barks when I lift", "surge when", True),
        ("it barks", "surge when", False),
    ],
)
def test_what_a_sentence_tells_beside_its_answer(words: str, fact: str, told: bool) -> None:
    assert (fact in beside(words)) is told


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("present turbo", "the 68, a 68 over 74 I think, came with a T4 housing", "larger single"),
        ("changed with it", "the 68, and the tune got turned up", frozenset(("turbo", "fuel"))),
        ("smoke colour", "black, clears up after", "black"),
        ("smoke colour", "it's clear", "clean"),
        ("trailer brakes", "overrun brakes", True),
        ("valves per cylinder", "it's a sixteen valve, twin cam", "four"),
        ("valves per cylinder", "16 valve", None),  # two on an eight, four on a four
        ("valves per cylinder", "thirty two valve", "four"),
        ("valves per cylinder", "twelve valve", "two"),
        ("manifold foot", "the biggest one, T6", "T6"),
        ("manifold foot", "a big lift pump", None),
        ("manifold foot", "huge injectors", None),
        ("tune", "stock bottom with rods", None),
        ("tune", "everything's stock", "stock"),
        ("injector size", "370 marine injectors", None),
        ("working rpm low", "big delivery valves, 4000 springs", None),
        ("request reason", "the class says so", "class rule"),
        ("duties", "just pulls, limited class", frozenset(("sled",))),
        ("power measured at", "two six at the wheel", None),
    ],
)
def test_what_an_answer_means(fact: str, words: str, value: Value | None) -> None:
    assert heard(fact, words) == value


def test_smoke_beside_a_late_turbo_is_a_complaint_of_its_own() -> None:
    told = understand(shop().vocabulary["complaint"], "it's lazy and smoky under 2000 and it barks").fact
    assert told is not None
    assert told.value == {"late spool", "smoke", "surge"}


def test_an_injector_named_by_its_horsepower_is_asked_about() -> None:
    assert "370 % or 370 hp" in understand(shop().vocabulary["injector size"], "370 marine injectors").doubt


def test_what_he_says_again_puts_nothing_else_right() -> None:
    """A "like I said" repeats; what stands behind it belongs to the question."""
    call = live({**NEW, "manifold foot": "T4"})
    call.hear("change injection pump")
    told = shown(call.hear("no, stroker pump like I said, and a big lift pump"))
    assert "T6" not in told
    assert answers(call)["manifold foot"] == "T4"
    assert "lift pump: upgraded. Take it?" in told
    call = live({**COMPLAINT, "smoke colour": "black"})
    call.hear("change smoke when")
    assert "smoke colour" not in shown(call.hear("under 2000 like I said, clears up after"))


def test_the_size_of_what_is_on_it_is_taken_as_it_is_said() -> None:
    call = live({**COMPLAINT, "present turbo": "larger single"})
    call.hear("change present size")
    call.hear("68 over 74, t4 open, no gate, makes about 550 to the tires")
    assert answers(call)["present size"].startswith("68 over 74")


def test_the_inches_of_the_size_asked_for_are_no_litres() -> None:
    call = live({"call kind": "new turbo"})
    call.hear("change request")
    told = shown(call.hear("well a 2.6 of course, that's the class"))
    assert "displacement" not in told
    assert "compressor inducer 2.6 in" in told


def test_springs_and_a_fuel_plate_are_no_working_range() -> None:
    from advisor.hearing.together import apart

    asked = [shop().vocabulary[name] for name in ("working rpm low", "working rpm high")]
    assert apart(asked, "pump's turned up, no plate, big delivery valves, 4000 springs").heard == ()


COMPLETE = {
    **COMPLAINT,
    "surge when": "when I lift",
    "complaint since": "after a change",
    "changed with it": "the tune",
    "present turbo": "larger single",
    "present size": "a 68 over 74",
    "displacement": "5.9 litres",
    "duties": "daily",
}


def concluded() -> Call:
    """A complaint whose diagnosis is told; what the caller thinks of it is asked."""
    call = live(COMPLETE)
    call.hear("enough")
    call.hear("yes")
    assert call.told
    return call


def test_a_turbo_wanted_once_the_diagnosis_is_told_leads_on() -> None:
    call = concluded()
    call.hear("change turbo wanted = yes")
    assert not call.told  # what a turbo can't be proposed without is asked
    open_ = call.consultation.questions
    assert "power goal" in [question.fact for question in open_ if question.settles == "essential"]
    for _ in range(2):  # the first asks still for what nothing can be advised without
        call.hear("enough")
    assert "For a turbo worked out beside it: find out power goal first." in shown(call.hear("yes"))
    call = concluded()
    call.hear("change turbo wanted = yes")
    call.hear("change power goal = 400 hp")
    call.hear("enough")
    assert "if the turbo turns out to be the fault" in shown(call.hear("yes"))


def test_which_one_would_you_put_on_it_is_a_turbo_wanted() -> None:
    told = shown(concluded().hear("no, nothing, but which one would you put on it?"))
    assert "turbo wanted: yes. Take it?" in told
    assert "turbo wanted" in beside("I want a new turbo, don't go looking for faults")
    assert "turbo wanted" not in beside("I don't want to throw parts at it")


@pytest.mark.parametrize(
    ("fact", "said", "figure"),
    [
        ("present boost", "2 bar and half", "2.5 bar"), ("present boost", "two and half bar", "2.5 bar"),
        ("budget", "three n a half k all in", "$3,500"), ("power now", "5 hunnid", "500 hp"),
        ("tyre diameter", "says 37 but they tape out at 36 n a half", "36.5 in"),
        ("strip share", "10... ok 20, honest", "20 %"),
        ("sled share", "six hooks out of sixty times", "10 %"),
        ("summer temperature", "hundred and five in the shade and there ain't no shade", "105 °F"),
        ("power goal", "five hundred and fifty", "550 hp"), ("displacement", "2998 ccm", "2,998 cc"),
        ("rpm limit", "I never let it go over 3200", "3,200 rpm"), ("cylinders", "all in a row", "6"),
    ],
)  # fmt: skip
def test_figures_as_callers_say_them(fact: str, said: str, figure: str) -> None:
    heard = understand(shop().vocabulary[fact], said)
    assert heard.echo.startswith(f"{fact}: {figure}")
    assert not heard.doubt


def test_litres_by_themselves_between_commas_are_the_engine() -> None:
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and not one.volunteered]
    for said, litres in (("I've got a 2008, 6.7, manual", "6.7 L"), ("6.7, tows", "6.7 L"), ("3.5, gears", "")):
        told = {one.answer.fact: one.echo for one in take_all(asked, said)}
        assert told.get("displacement", "displacement: ") == f"displacement: {litres}"


@pytest.mark.parametrize(
    ("question", "topic"),
    [("what's the damage?", "price"), ("will the sheriff bother me?", "road law"), ("does it drink more?", "fuel use"),
     ("does my tailpipe stay?", "downpipe"), ("can you paint it blue?", "something else")],
)  # fmt: skip
def test_a_question_in_other_words_is_about_what_it_is_about(question: str, topic: str) -> None:
    heard = understand(shop().vocabulary["caller asks"], question).fact
    assert heard is not None
    assert heard.value == frozenset([topic])


@pytest.mark.parametrize("said", ["only when I first start it", "only when I frist start it"])
def test_smoke_at_the_first_start_is_smoke_at_idle(said: str) -> None:
    heard = understand(shop().vocabulary["smoke when"], said)
    assert heard.fact is not None
    assert heard.fact.value == "at idle"
