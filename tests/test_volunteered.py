"""What the caller says that nobody asks for, and figures said to another question: kept, offered or answered."""

import io
from collections.abc import Sequence
from pathlib import Path

import pytest
from calls import offers
from hypothesis import given
from hypothesis import strategies as st

from advisor.consultation import consult
from advisor.dialogue import loop
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.hearing import understand
from advisor.hearing.mentions import take_all
from advisor.hearing.volunteered import questions_in, split, topics_of, without_questions, year_in
from advisor.journal import Journal, Record, read
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation
from advisor.sheet.asked import OWED
from advisor.sheet.data import as_data
from advisor.sheet.html import call_sheet
from advisor.sheet.text import written

KNOWLEDGE = load(shipped_folder())
ASKS = KNOWLEDGE.vocabulary["caller asks"]
OPENING = ("new turbo", "a 64", "buddy runs one")
GOAL = {"cylinders": "6", "power goal": "500 hp", "power measured at": "crank", "trailer weight": "16,000 lb"}
TRUCK = ("it lugs", "always", "yes", "towing")


def shown(turn: Turn) -> str:
    return " ".join(" ".join(line for _, line in turn.lines(80)).split())


def quick(answers: Sequence[Answer]) -> Consultation:
    return consult(answers, KNOWLEDGE, bands=False)


def call_with(*lines: str) -> tuple[Call, list[str]]:
    call = Call(quick, KNOWLEDGE)
    seen = [shown(call.open())]
    seen += [shown(call.hear(line)) for line in lines]
    return call, seen


def go_on(call: Call, turn: Turn, told: dict[str, str], until: str) -> Turn:
    """Answer question by question as ``told`` until these words are shown."""
    while until not in shown(turn):
        assert turn.prompt is not None
        assert turn.prompt.asked, shown(turn)
        turn = call.hear(told.get(turn.prompt.asked[0], "skip"))
    return turn


def answers_of(call: Call) -> dict[str, str]:
    return {answer.fact: answer.words for answer in call.answers}


@pytest.mark.parametrize(("words", "year"), [
    ("new turbo, it's an '06", "2006"), ("I've got a 2004 dually", "2004"), ("an oh-six", "2006"),
    ("it's a '97", "1997"), ("an 06 5.9", "2006"), ("1999 model", "1999"), ("it revs to 3200", ""),
    ("a 2000 lb trailer", ""), ("it's a 98", ""), ("from 2000 to 3000", ""), ("up to 2000 rpm", ""),
    ("my neighbour's got a '12 with a 66 on it", ""), ("my buddy drives a 2012 dually", ""), ("the boss has an 06", ""),
    ("the guy at the track has an '08", ""), ("my brother's is a 2004", ""), ("cousin's is an oh six", ""),
    ("my boss has an '08, mine's an '03", "2003"), ("neighbor's got an 06 and I got a '99", "1999"),
    ("my dad bought it new, it's an 06", "2006"), ("my wife drives it, it's an 06", "2006"),
    ("I've got 2000 dollars", ""), ("a 2010-pound axle", ""),
])  # fmt: skip
def test_the_year_of_a_truck_is_told_from_other_figures(words: str, year: str) -> None:
    assert year_in(words) == year


def test_a_year_is_kept_wherever_it_is_said_and_nothing_is_computed_from_it() -> None:
    call, seen = call_with("new turbo, it's an '06")
    assert "= model year: 2006" in seen[-1]
    assert answers_of(call) == {"model year": "2006", "call kind": "new turbo, it's an '06"}
    assert "change model year" not in seen[-1]
    assert "= model year: 2007" in shown(call.hear("change model year = 07"))
    told = [Answer("displacement", "5.9"), Answer("duties", "daily"), Answer("power goal", "330 hp")]
    without, with_year = (consult([*told, *more], KNOWLEDGE) for more in ([], [Answer("model year", "2006")]))
    assert with_year.recommended == without.recommended
    assert with_year.figures == without.figures
    assert "Model year 2006, as he told it" in written(with_year, KNOWLEDGE).split("Recommendation")[0]
    assert "Model year 2006, as he told it" in call_sheet(with_year, KNOWLEDGE).split("His choices")[0]


@pytest.mark.parametrize(("words", "asked"), [
    ("it lugs on hills, does it need a new downpipe?", ["does it need a new downpipe?"]),
    ("how long does it take?", ["how long does it take?"]),
    ("manual. will it hold up? and how long till I get it?", ["will it hold up?", "how long till I get it?"]),
    ("it smokes and will it need a tune too", ["will it need a tune too"]),
    ("what has that got to do with my turbo?", []), ("what's a wastegate?", []), ("T4?", []), ("is that bad?", []),
    ("stock, is that bad?", []), ("what do you mean", []), ("how do I tell?", []), ("why does it smoke so bad?", []),
    ("what turbo should I get?", []), ("which one do you mean?", []),
])  # fmt: skip
def test_his_own_questions_are_told_from_asking_back(words: str, asked: list[str]) -> None:
    assert questions_in(words, ASKS) == asked


@pytest.mark.parametrize(("question", "topic"), [
    ("does it need a new downpipe?", "downpipe"), ("how long does it take to put on?", "time to fit"),
    ("when can you get it here?", "delivery"), ("will it void my warranty?", "maker's warranty"),
    ("is it street legal?", "road law"), ("can I put it in myself?", "fit it himself"),
    ("what'll it do to my mileage?", "fuel use"), ("can you paint it blue?", "something else"),
    ("how long's the truck off the road", "time to fit"), ("how long will I be without it", "time to fit"),
    ("how long is the truck laid up", "time to fit"), ("how long am I walking", "time to fit"),
    ("how many days is it in the shop", "time to fit"), ("how long's she down", "time to fit"),
    ("will it be off the road for long", "time to fit"), ("will I be without it long?", "time to fit"),
    ("does it save any diesel, at what it costs these days?", "fuel use"), ("is it any better on diesel", "fuel use"),
    ("will I save fuel with diesel at five bucks", "fuel use"), ("what will it cost me in fuel", "fuel use"),
    ("what will it do to my fuel bill", "fuel use"), ("what does it cost these days?", "price"),
    ("how long till I have it", "delivery"), ("how long will it last", "life"),
])  # fmt: skip
def test_a_question_is_about_what_the_rules_answer_or_something_else(question: str, topic: str) -> None:
    assert topics_of(ASKS, question) == {topic}


@given(st.lists(st.sampled_from(["will it hold up?", "is it street legal?", "how long does it take?"]), unique=True))
def test_questions_said_one_after_the_other_come_apart_again(questions: list[str]) -> None:
    assert split(" ".join(questions)) == questions
    assert without_questions(" ".join(["it smokes,", *questions]), questions) in ("it smokes", "it smokes,")


@pytest.mark.parametrize(("said", "topics"), [
    ("how long is my truck down, and can you get it here by Friday?", {"time to fit", "delivery"}),
    ("how long does it take and when can you ship", {"time to fit", "delivery"}),
    ("can you get it here by Friday and how long will it take to put in", {"time to fit", "delivery"}),
    ("how long will it last and can you ship Friday", {"life", "delivery"}),
    ("how long till it's here and how long is the job", {"time to fit", "delivery"}),
])  # fmt: skip
def test_two_questions_in_one_sentence_are_both_heard(said: str, topics: set[str]) -> None:
    heard = understand(ASKS, said)
    assert heard.fact is not None
    assert heard.fact.value == topics
    call, _ = call_with("new turbo", f"a friend, {said}")
    assert topics == {topic for one in split(answers_of(call)["caller asks"]) for topic in topics_of(ASKS, one)}


@pytest.mark.parametrize(("words", "asked"), [
    ("does it save any diesel, at what it costs these days?",
     ["does it save any diesel, at what it costs these days?"]),
    ("how long's the truck off the road, I only got the one truck", ["how long's the truck off the road"]),
    ("a buddy runs one, how long am I without the truck and can you ship it by Friday",
     ["how long am I without the truck", "can you ship it by Friday"]),
    ("does it all the time, you know?", []),
])  # fmt: skip
def test_a_question_is_heard_as_far_as_it_reaches(words: str, asked: list[str]) -> None:
    assert questions_in(words, ASKS) == asked


def test_who_asks_and_answers_nothing_is_asked_again_and_not_told_that_he_answers_wrong() -> None:
    call, seen = call_with("my turbo smokes", "yes", "how long's the truck off the road, I only got the one truck")
    assert "how long's the truck off the road?" in answers_of(call)["caller asks"]
    assert "doesn't say which it is" not in seen[-1]


def test_a_question_beside_an_answer_is_answered_or_kept_and_never_lost(tmp_path: Path) -> None:
    journal = Journal.start(tmp_path)
    lines = [*OPENING, "it lugs, will it void my warranty, does it need a new downpipe?", "can you paint it blue?"]
    out = io.StringIO()
    loop.run(quick, KNOWLEDGE, loop.Scripted(lines, out), journal, tmp_path)
    told = " ".join(out.getvalue().split())
    kept = read(next(tmp_path.glob("*.call"))).answers
    assert kept["today's trouble"] == "it lugs"
    assert kept["caller asks"] == "will it void my warranty? does it need a new downpipe? can you paint it blue?"
    assert "Say: I can't speak for whoever built your truck." in told
    assert "“does it need a new downpipe?” Kept; say that you'll come to it." in told
    assert f"{OWED}“does it need a new downpipe?” “can you paint it blue?”" in told
    again = Call(quick, KNOWLEDGE, read(next(tmp_path.glob("*.call"))))
    assert {one.question for one in again.consultation.asked} == set(split(kept["caller asks"]))


def test_what_he_only_asks_is_no_answer_and_his_question_stays_open() -> None:
    call, seen = call_with(*OPENING, "will it void my warranty?")
    assert "today's trouble" not in answers_of(call)
    assert "“What does it do today that you'd like it not to do?”" in seen[-1]
    call, seen = call_with(*OPENING, *TRUCK[:1], "how much is it?")
    assert "caller asks" not in answers_of(call)
    assert "He asks for the price." in seen[-1]


def test_back_passes_over_what_nobody_asked_for() -> None:
    call, _ = call_with("new turbo", "a 64, will it void my warranty?")
    assert "Answered: “a 64”" in shown(call.hear("back"))
    assert "Answered: “new turbo”" in shown(call.hear("back"))


def test_the_answers_stand_in_every_sheet() -> None:
    told = {"duties": "daily", "power goal": "330 hp", "displacement": "5.9", "exhaust size": "3 in",
            "caller asks": "does it need a new downpipe? can you paint it blue?"}  # fmt: skip
    consultation = consult([Answer(fact, words) for fact, words in told.items()], KNOWLEDGE)
    answer = "the outlet of this one joins what you have"
    text, page = written(consultation, KNOWLEDGE), call_sheet(consultation, KNOWLEDGE)
    assert " ".join(text.split()).count(answer) == page.count(answer) == 1
    assert f"{OWED}“can you paint it blue?”" in text
    assert "“can you paint it blue?” <b>no rule answers it</b>" in page
    asked = as_data(consultation, KNOWLEDGE)["asked"]
    assert [bool(one["answers"]) for one in asked] == [True, False]


# figures and facts said to another question


def test_a_figure_said_to_another_question_is_offered_for_what_it_fits() -> None:
    call, seen = call_with(*OPENING, *TRUCK)
    assert "how many litres" in seen[-1]
    assert "He also said rpm limit: 3,200 rpm. Take it?" in shown(call.hear("3200 rpm"))
    call.hear("yes")
    assert answers_of(call)["rpm limit"] == "3200 rpm"


def test_a_figure_that_may_be_several_things_waits_for_the_question_of_each() -> None:
    call, seen = call_with(*OPENING, "it lugs", "always", "3200 rpm", "yes", "towing")
    assert "“3200 rpm” is kept until its question comes: rpm limit, working rpm high." in seen[6]
    turn = go_on(call, call.hear("5.9"), GOAL, "You said 3,200 rpm; is that it?")
    assert turn.prompt is not None
    assert "Where is it governed, or where do you lift? You said 3,200 rpm" in shown(turn)
    call.hear("yes")
    assert [fact for fact, words in answers_of(call).items() if words == "3200 rpm"] == ["rpm limit"]
    assert "Is all of it right?" in shown(go_on(call, call.hear("skip"), {}, "Is all of it right?"))


@pytest.mark.parametrize(("words", "told"), [
    ("I've got about two grand to spend, it lugs on hills", {"budget: $2,000"}),
    ("new turbo, I want to stay under 3 grand", {"budget: $3,000"}),
    ("it lugs, budget's 2500", {"budget: $2,500"}),
    ("trailer's 14k, truck's rated 13", {"trailer weight: 14,000 lb", "tow rating: 13,000 lb"}),
    ("rated to tow 13,000 pounds", {"tow rating: 13,000 lb"}),
    ("it's rated at 305 horse from the factory", {"stock power: 305 hp"}),
    ("190 on the plate, I'd like it livelier", {"stock power: 190 hp"}),
    ("plate says 2,200 rpm", set()),
    ("it's rated 190", set()),
    ("we're at 5-6 thousand feet", {"altitude: 5,000 to 6,000 ft"}),
    ("ploughing mostly, it's a 6.8 litre tractor",
     {"field work: implement", "displacement: 6.8 L", "vehicle kind: tractor"}),
    ("I plow snow off driveways with it", set()),
    ("EGT goes over 1300", {"present exhaust temperature: at least 1,300 °F, 1,300 to 2,200 °F"}),
    ("I spent 2 grand on injectors", set()),
    ("it's a three-quarter ton pickup with the five nine", {"displacement: 5.9 L", "vehicle kind: pickup"}),
])  # fmt: skip
def test_money_and_a_rating_are_heard_in_any_sentence(words: str, told: set[str]) -> None:
    asked = [one for one in KNOWLEDGE.vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert {heard.echo for heard in take_all(asked, words)} == told


def test_a_duty_that_is_added_later_joins_the_others_and_asks_for_the_shares() -> None:
    call, seen = call_with(*OPENING, *TRUCK, "5.9, oh and I drive it to work")
    assert "That makes duties: daily, towing. Take it?" in seen[-1]
    call.hear("yes")
    duties = understand(KNOWLEDGE.vocabulary["duties"], answers_of(call)["duties"])
    assert duties.fact is not None
    assert duties.fact.value == {"daily", "towing"}
    assert {"daily share", "towing share"} <= {question.fact for question in call.consultation.questions}
    assert "Take it?" not in shown(call.hear("6, I drive it to work"))


# the best so far


def test_a_first_answer_that_changes_the_best_says_so_once_somebody_counts_on_it() -> None:
    plain = ("new turbo", "skip", "skip", "always", "yes", "towing", "5.9", "6", "400 hp", "crank")
    call, seen = call_with(*plain)
    assert not any("Best so far is now" in turn for turn in seen)
    best = call.consultation.recommended
    assert best is not None
    first_time = "change altitude = 9,000 ft"
    early = Call(quick, KNOWLEDGE, Record(answers=answers_of(call)))
    assert "Best so far is now" not in shown(early.hear(first_time))
    call.hear("summary")
    turn = shown(call.hear(first_time))
    after = call.consultation.recommended
    assert after is not None
    assert after.code != best.code
    assert f"before it was {best.code}." in turn


def test_who_opens_with_what_it_does_is_not_asked_for_it_again() -> None:
    call, seen = call_with("it barks since we put the bigger turbo on", "yes")
    assert "complaint: surge" in offers(seen[1])
    assert answers_of(call)["complaint"] == "surge"
    assert "is that it?" not in call_with("something is wrong with the turbo you sold me")[1][-1]


def test_a_figure_that_its_words_mark_as_another_facts_is_no_answer() -> None:
    call, _ = call_with(*OPENING, "it lugs", "always", "yes", "towing", "about 14k, truck's rated 13")
    assert "displacement" not in answers_of(call)


def test_what_follows_from_not_knowing_is_said_after_the_question_that_asks_for_it() -> None:
    call, seen = call_with("the old turbo let go", "yes")
    assert "If you don't know why it died" not in " ".join(seen)
    assert "If you don't know why it died" in shown(call.hear("not sure"))


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("14k or so", "14k or so"),
        ("14k or so, how long does it take to put on?", "14k or so"),
        ("14,000 lb, so will it void my warranty?", "14,000 lb"),
    ],
)
def test_an_answer_keeps_its_last_words(said: str, kept: str) -> None:
    call, _ = call_with(*OPENING, f"change trailer weight = {GOAL['trailer weight']}", "change trailer weight")
    call.hear(said)
    assert answers_of(call)["trailer weight"] == kept


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("I want the 68 my buddy has. 6.7 pickup, pulls a 14,000 lb gooseneck",
         ["displacement: 6.7 L", "duties: towing", "trailer weight: 14,000 lb"]),
        ("the same turbo my neighbor runs on his, mine's a 5.9 and I tow 10k",
         ["displacement: 5.9 L", "duties: towing", "trailer weight: 10,000 lb"]),
        ("I want the 66 my buddy has, he makes 700 and tows 12k", []),
        ("the one my cousin bought, he's got a 5.9", []),
    ],
)  # fmt: skip
def test_who_wants_a_friends_size_tells_of_his_own_truck_too(said: str, told: list[str]) -> None:
    vocabulary = load(shipped_folder()).vocabulary
    asked = [one for one in vocabulary.values() if one.source == "asked" and not one.volunteered]
    assert sorted(one.echo for one in take_all(asked, said)) == told


@pytest.mark.parametrize(("said", "taken"), [
    ("that's it", True), ("uh huh", True), ("mm-hm", True), ("spot on", True), ("pretty much", True),
    ("I guess so", True), ("I did say that", True), ("yeah, that's what I said", True), ("I'd say so", True),
    ("not really", False), ("not quite", False), ("yeah no", False), ("nuh-uh", False), ("that ain't it", False),
    ("I never said that", False), ("hm", None), ("that one there", None),
])  # fmt: skip
def test_a_yes_or_a_no_in_common_words_settles_an_offer_and_names_no_part(said: str, taken: bool | None) -> None:
    call, _ = call_with("new turbo with a six point seven litre")
    turn = shown(call.hear(said))
    assert answers_of(call).get("displacement") == ("6.7 litre" if taken else None)
    assert "request" not in answers_of(call)
    assert ("Yes, no, or the part that he means." in turn) is (taken is None)
    assert ("displacement: 6.7 L. Take it?" in turn) is (taken is None)


def test_what_is_said_behind_a_yes_in_common_words_is_heard() -> None:
    call, _ = call_with("new turbo with a six point seven litre")
    assert "trailer weight: 14,000 lb" in shown(call.hear("that's it, and it pulls a 14k trailer"))


@pytest.mark.parametrize("said", ["that's it", "uh huh", "yes"])
def test_a_yes_to_nothing_names_no_part(said: str) -> None:
    call, _ = call_with("new turbo")
    assert "Yes to what?" in shown(call.hear(said))
