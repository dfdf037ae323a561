"""The next question: by its worth, the job and urgent ones first, the same for the same answers, and none when none
can matter.

The value of knowing is held against its definition (expected value of partial perfect information; Strong & Oakley,
Medical Decision Making 34, 2014, 311), worked out by going through every combination of all inputs.
"""

import itertools
import os
import random
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from calls import DAILY, thinned
from invented import hidden
from walks import AFTER_ADVICE, REFERENCE

from advisor import outlook, prospects
from advisor.consultation import consult, questions_of
from advisor.course import infer
from advisor.dialogue.call import Call
from advisor.hearing import understand
from advisor.inference.facts import FactBase, column
from advisor.journal import Record
from advisor.matched import SPEEDS, SWEEP
from advisor.matching.rank import HARD_LIMITS
from advisor.outcome import Answer
from advisor.questions import applies, still_open

SHOP = thinned(20)
TOWING = {
    "call kind": "new turbo",
    "request": "a 64",
    "duties": "towing",
    "power goal": "400 hp",
    "displacement": "5.9 litres",
}


def asked(answers: dict[str, str], knowledge=SHOP) -> list[str]:
    course = infer([Answer(*pair) for pair in answers.items()], knowledge, REFERENCE)
    return [question.fact for question in questions_of(course, knowledge)]


def test_the_same_answers_give_the_same_next_question() -> None:
    first = asked(TOWING)
    prospects._figures.cache_clear()
    assert asked(TOWING) == first
    last, *rest = reversed(TOWING)  # the topic that the call is at may come first; so the last answer stays last
    random.Random(1).shuffle(rest)
    assert asked({name: TOWING[name] for name in (*rest, last)}) == first


def test_hash_seeds_make_no_difference_to_what_is_asked() -> None:
    """By hand over interpreters: asked_in_order.py says how."""
    script = Path(__file__).parent / "benchmarks" / "asked_in_order.py"
    found = [
        subprocess.run(
            [sys.executable, str(script), "5"],
            env={**os.environ, "PYTHONHASHSEED": seed, "LC_ALL": locale},
            capture_output=True,
            check=True,
        ).stdout
        for seed, locale in (("0", "C"), ("4711", "tr_TR.UTF-8"))
    ]
    assert found[0].count(b"\n") >= 10
    assert b"The turbo stands" in found[0]
    assert found[1] == found[0]


def test_urgent_questions_come_first_and_say_why() -> None:
    outcome = consult([Answer(*pair) for pair in TOWING.items()], SHOP, REFERENCE)
    urgent = [question.urgent for question in outcome.questions]
    assert urgent[0]
    assert urgent == sorted(urgent, reverse=True)
    assert {question.fact for question in outcome.questions if question.urgent} >= {"trailer weight", "trailer brakes"}
    assert all(question.reason for question in outcome.questions)


def test_a_replacement_asks_what_it_makes_since_another_figure_is_another_turbo() -> None:
    """Its reason is the replacement's own, not how far there is to go to a goal that nobody has."""
    said = {"call kind": "replacement", "failure": "worn out", "replacement wish": "same power", "duties": "daily",
            "displacement": "5.9 L", "stock power": "305 hp", "tune": "stock", "present turbo": "stock"}  # fmt: skip
    answers = [Answer(*pair) for pair in said.items()]
    open_ = consult(answers, thinned(6), REFERENCE)
    asked_now = open_.questions[0]
    assert asked_now.fact == "power now"
    assert "for more or less than that it would be another turbo" in asked_now.reason
    advised = [consult([*answers, Answer("power now", power)], thinned(6), REFERENCE) for power in ("250 hp", "450 hp")]
    assert advised[0].recommended.code != advised[1].recommended.code
    wants_more = [answer for answer in answers if answer.fact != "replacement wish"]
    more = consult([*wants_more, Answer("replacement wish", "more power")], thinned(6), REFERENCE)
    reasons = {question.fact: question.reason for question in more.questions}
    assert "another turbo" not in reasons.get("power now", "")


def test_the_job_and_the_engine_come_before_the_trailer() -> None:
    answers = {"call kind": "new turbo"}
    order = []
    while "trailer brakes" not in answers:
        fact = asked(answers)[0]
        order.append(fact)
        answers[fact] = {**DAILY, "duties": "towing", "request reason": "just a guess"}.get(fact, "not sure")
    job = ["duties", "displacement", "power goal", "trailer weight"]
    assert sorted(job, key=order.index) == job


def test_without_the_essentials_the_call_opens_with_his_wish_then_asks_for_them() -> None:
    answers: dict[str, str] = {"call kind": "new turbo"}
    while not {"displacement", "power goal", "duties"} <= answers.keys():
        fact = asked(answers)[0]
        answers[fact] = {**DAILY, "request reason": "just a guess"}.get(fact, "nothing")
    assert len(answers) <= 8


CHOOSING = {"power goal", "boost wanted by", "tow rating", "trailer brakes", "displacement", "manifold foot", "budget"}
FIRST_OF = {
    "heat": ["complaint since", "changed with it", "present turbo", "heat when", "gauges"],
    "late spool": ["complaint since", "changed with it", "present turbo", "smoke colour", "boost leak checked"],
    "choking": ["complaint since", "changed with it", "present turbo", "gauges", "boost on top"],
    "surge": ["surge when", "complaint since", "changed with it", "present turbo", "gauges"],
    "low boost": ["complaint since", "changed with it", "present turbo", "gauges", "present boost"],
    "smoke": ["smoke colour", "smoke when", "complaint since", "changed with it", "present turbo"],
    "oil leak": ["complaint since", "changed with it", "present turbo", "oil where", "shaft play"],
    "noise": ["noise kind", "shaft play", "complaint since", "changed with it", "boost leak checked"],
}


def taken(answers: dict[str, str], settling: set[str]) -> list[str]:
    """The questions of a call in which nobody is sure of anything, as far as they settle something of the kinds."""
    said, order = dict(answers), []
    while True:
        found = questions_of(infer([Answer(*pair) for pair in said.items()], SHOP, REFERENCE), SHOP)
        worthy = [question for question in found if question.settles in settling]
        if not worthy:
            return order
        order.append(worthy[0].fact)
        said[worthy[0].fact] = "not sure"


@pytest.mark.parametrize("complaint", FIRST_OF)
def test_a_complaint_is_traced_before_anything_of_a_new_turbo_is_asked(complaint: str) -> None:
    """The order in which an experienced diagnoser asks: common practice, no source."""
    said = {"call kind": "complaint", "complaint": complaint, "duties": "towing"}
    worthy = {"cause", "essential", "first", "choice", "safety", "parts"}
    order = taken(said, worthy)
    assert order[: len(FIRST_OF[complaint])] == FIRST_OF[complaint]
    assert order[-1] == "turbo wanted"
    assert {"boost leak checked", "already checked"} & set(order)
    assert not CHOOSING & set(order)
    wanted = {**said, **dict.fromkeys(order, "not sure"), "turbo wanted": "yes"}
    assert {"displacement", "power goal"} <= set(taken(wanted, {"essential"}))


def test_a_replacement_asks_why_it_failed_and_has_a_turbo_after_a_handful_of_questions() -> None:
    said: dict[str, str] = {"call kind": "replacement"}
    truth = {"duties": "daily", "displacement": "6.7 litre", "power now": "325 hp"}
    order = []
    while True:
        course = infer([Answer(*pair) for pair in said.items()], SHOP, REFERENCE)
        if course.verdict == "recommended":
            break
        order.append(questions_of(course, SHOP)[0].fact)
        said[order[-1]] = truth.get(order[-1], "not sure")
    assert order == ["failure", "replacement wish", "duties", "displacement"]
    assert not {"power goal", "tow rating", "budget", "request"} & set(asked({**said, "duties": "towing, daily"}))
    assert "power goal" in asked({"call kind": "replacement", "replacement wish": "a bit more"})


@pytest.mark.parametrize("change", [{"seconds": 200.0}, {"known": 0.001}])
def test_a_question_that_takes_long_or_that_few_can_answer_waits(change: dict[str, float]) -> None:
    answers = {**TOWING, "trailer weight": "9,000 lb", "trailer brakes": "yes", "tow rating": "14,000 lb"}
    before = asked(answers)
    fact = before[0]
    slower = {**SHOP.vocabulary, fact: replace(SHOP.vocabulary[fact], **change)}
    after = asked(answers, replace(SHOP, vocabulary=slower))
    assert after.index(fact) >= 5


def walked(seed: int) -> tuple[dict[str, str], dict[str, str]]:
    """All that a generated caller knows, and what he was asked until only remarks are left."""
    known, answers = hidden(seed, SHOP), {"call kind": "new turbo"}
    while fact := next((q.fact for q in opened(answers).questions if worth_asking(q)), None):
        answers[fact] = known[fact]
    return known, answers


def opened(answers: dict[str, str], knowledge=SHOP):
    return still_open(infer([Answer(*pair) for pair in answers.items()], knowledge, REFERENCE), knowledge)


def worth_asking(question) -> bool:
    return question.fact not in AFTER_ADVICE and question.settles != "detail"


def test_when_the_turbo_stands_the_call_says_so_and_asks_on_only_when_wanted() -> None:
    known, answers = walked(12)
    assert [name for name in known if name not in answers]  # not every question was worth asking
    last = list(answers)[-1]
    before = {fact: words for fact, words in answers.items() if fact != last}
    call = Call(lambda said: consult(said, SHOP, REFERENCE), SHOP, Record(call="x", answers=answers))
    shown = "\n".join(line for _, line in call.open().lines(80))
    assert "Nothing that is still open is likely to change the advice." in shown
    assert "Is all of it right?" in shown
    details = [q.fact for q in call.consultation.questions if q.settles == "detail" and q.fact not in AFTER_ADVICE]
    assert details
    assert all(name in " ".join(shown.split()) for name in details)
    more = " ".join(" ".join(t for _, t in call.hear("more").lines(300)).split())
    alone, in_one_breath = SHOP.vocabulary[details[0]].ask, f"Choices, {details[0]}:"
    assert (alone in more) != (in_one_breath in more)
    assert opened(answers).stands
    assert not opened(dict(list(before.items())[:7])).stands


def test_what_is_told_once_the_turbo_stands_hangs_on_no_order_of_the_answers() -> None:
    """Though the questions do, since a call stays at its topic."""
    answers = {
        "call kind": "new turbo", "duties": "sled", "displacement": "5.7 L", "power goal": "420 hp",
        "request": "80 mil", "class rule": "single turbo only", "safety gear": "no", "working rpm low": "not sure",
        "working rpm high": "about 2,650 rpm", "intercooler": "stock", "manifold foot": "not sure",
        "manifold entry": "divided", "transmission": "manual",
    }  # fmt: skip
    orders = [answers, {name: answers[name] for name in answers if name != "power goal"} | {"power goal": "420 hp"}]
    assert len({tuple(asked(one)) for one in orders}) == 2
    told = {opened(one).stands for one in orders}
    assert len(told) == 1
    assert "would still settle parts lines or cautions: " in told.pop()


def test_once_the_turbo_stands_other_answers_leave_it_as_it_is() -> None:
    """What is left open, drawn anew many times and answered in full: the same turbo in nearly every call."""
    _, answers = walked(3)
    stood = infer([Answer(*pair) for pair in answers.items()], SHOP, REFERENCE)
    assert still_open(stood, SHOP).stands
    same = []
    for seed in range(100, 124):
        course = infer([Answer(*pair) for pair in completed(answers, hidden(seed, SHOP)).items()], SHOP, REFERENCE)
        same.append(course.best is not None and course.weighed.turbo(course.best) == stood.weighed.turbo(stood.best))
    assert np.mean(same) >= 0.9


def test_a_turbo_further_down_the_list_keeps_the_first_one_from_standing(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nobody held against the first one from the start, its rivals are found all the same."""
    shop = thinned(6)
    every = list(completed({}, hidden(9, SHOP)).items())
    calls = [dict(every[:count]) for count in (24, 34, 44, 54, len(every))]
    usual = [opened(answers, shop).outlook for answers in calls]
    monkeypatch.setattr(outlook, "contenders", lambda course, all_=outlook.contenders: all_(course)[:1])
    monkeypatch.setattr(outlook, "yardsticks", lambda course: iter(()))
    alone = [opened(answers, shop).outlook for answers in calls]
    assert [one.stands for one in alone] == [one.stands for one in usual]
    assert [one.stands for one in alone].count(False) >= 2
    monkeypatch.setattr(outlook, "RIVALS", 0)
    assert [opened(answers, shop).outlook.stands for answers in calls] != [one.stands for one in usual]


@pytest.mark.parametrize("seed", [3, 7, 12, 67])
def test_who_sets_the_yardstick_for_power_is_held_against_the_first_ones(seed: int) -> None:
    """Whoever makes far less than the strongest is out, so that the strongest counts wherever it stands in points, and
    whoever may be the strongest within the limits on another day."""
    known = completed({}, hidden(seed, SHOP))
    course = infer([Answer(*pair) for pair in known.items()], SHOP, REFERENCE)
    weighed, rows = course.weighed, set(outlook.yardsticks(course))
    within = np.min([weighed.columns[name] for name in HARD_LIMITS], axis=0)
    powers = [weighed.columns[f"{duty.name} power"] for duty in course.now.duties]
    assert rows
    assert all(max(power[weighed.kept]) == max(power[[row for row in rows if weighed.kept[row]]]) for power in powers)
    assert all(-outlook.HARDLY <= within[row] < 0.0 for row in rows if not weighed.kept[row])


def test_where_nothing_fits_what_may_bring_one_in_is_asked_and_why_is_said() -> None:
    """What is still open lets one in that is out as he is taken now."""
    shop = thinned(6)
    known = completed({}, hidden(7, shop))
    unsaid = ("working rpm low", "working rpm high")
    answers = {name: words for name, words in known.items() if name not in unsaid}
    fits = [infer([Answer(*pair) for pair in said.items()], shop, REFERENCE).best for said in (answers, known)]
    assert fits[0] is None
    assert fits[1] is not None
    reasons = {question.fact: question.reason for question in opened(answers, shop).questions}
    for name in unsaid:
        assert reasons[name].startswith("Nothing in the shop fits so far; this may bring one in.")


def completed(answers: dict[str, str], known: dict[str, str]) -> dict[str, str]:
    """The answers, and all others that make sense beside them, from one who knows."""
    every, said = dict(answers), FactBase()
    left = sorted((SHOP.vocabulary[name] for name in known if name not in AFTER_ADVICE), key=lambda d: d.order)
    while definition := next((d for d in left if applies(d, said)), None):
        left.remove(definition)
        words = every.setdefault(definition.name, known[definition.name])
        fact = understand(definition, words).fact
        said = said if fact is None else said.with_facts([fact])
    return every


@pytest.mark.parametrize("seed", [0, 4, 6, 12])
def test_callers_drawn_are_judged_as_the_call_itself_would(seed: int) -> None:
    """Points of the first candidates, of one caller in a column of his own, against those of the call with all his
    answers."""
    every = completed({}, hidden(seed, SHOP))
    full = infer([Answer(*pair) for pair in every.items()], SHOP, REFERENCE)
    first = ("call kind", "complaint", "request", "present size", "today's trouble", "duties", "displacement",
             "power goal")  # fmt: skip
    part = infer([Answer(name, every[name]) for name in first if name in every], SHOP, REFERENCE)
    heard = {name: understand(SHOP.vocabulary[name], words).fact for name, words in every.items() if name not in first}
    columns = {
        name: column([fact.value])
        for name, fact in heard.items()
        if fact is not None and SHOP.vocabulary[name].kind != "text"
    }
    rows = full.weighed.order[:8]
    callers = prospects.prospects(part, columns, SHOP)
    found = callers.points(rows, callers.figures(rows, SPEEDS, SWEEP))
    assert found[0] == pytest.approx(full.weighed.points[rows])


def test_what_is_larger_than_he_named_is_out_for_callers_drawn_too() -> None:
    """In a class whose limit nobody told: who is out in the call by that alone is out for a caller drawn."""
    shop = thinned(3)
    said = {**TOWING, "request": "a 62", "duties": "sled", "class rule": "inducer limit", "altitude": "900 ft"}
    full = infer([Answer(*pair) for pair in said.items()], shop, REFERENCE)
    by = full.weighed.out_by
    alone = by["larger-than-he-named-in-a-limited-class"] & (np.sum(list(by.values()), axis=0) == 1)
    rows = [*np.flatnonzero(alone)[:4].tolist(), *full.weighed.order[:2]]
    height = understand(shop.vocabulary["altitude"], said.pop("altitude")).fact
    part = infer([Answer(*pair) for pair in said.items()], shop, REFERENCE)
    callers = prospects.prospects(part, {"altitude": column([height.value])}, shop)
    found = callers.points(rows, callers.figures(rows, SPEEDS, SWEEP))[0]
    assert alone.any()
    assert np.isneginf(found[:-2]).all()
    assert found[-2:] == pytest.approx(full.weighed.points[rows[-2:]])


def test_the_reason_names_what_the_answer_decides() -> None:
    answers = {**TOWING, "trailer weight": "9,000 lb", "trailer brakes": "yes", "tow rating": "14,000 lb"}
    found = opened(answers, thinned(6))
    sizes = {f"{1000.0 * size:.0f}" for size in thinned(6).catalogue.candidates().facts["compressor inducer"]}
    deciding = [q for q in found.questions if q.settles == "choice"]
    assert deciding
    named = [re.search(r"between the (\S+) and the (\S+) wheel", q.reason) for q in deciding]
    assert any(named)
    assert all({one[1], one[2]} <= sizes and one[1] != one[2] for one in named if one)
    assert all(" between " in q.reason for q in deciding if q.fact in found.outlook.effects)
    assert len({q.reason for q in deciding}) > 1


def test_a_word_on_his_fuel_is_worth_what_the_turbo_gives_away_that_is_first_without_it() -> None:
    """As it stays, what his fuel feeds counts once he tells of it, and another turbo may come first by that alone."""
    shop = thinned(6)
    said = {"call kind": "new turbo", "request": "an 80", "duties": "daily and sled", "displacement": "5.6 L",
            "stock power": "245 hp", "power goal": "535 hp", "working rpm low": "2,050 rpm",
            "must stay": "the tune"}  # fmt: skip
    answers = [Answer(*pair) for pair in said.items()]
    course = infer(answers, shop, REFERENCE)
    told = infer([*answers, Answer("injector size", "50 %")], shop, REFERENCE)
    assert told.weighed.turbo(told.best) != course.weighed.turbo(course.best)
    found = still_open(course, shop)
    gap = float(found.outlook.usual.max() - found.outlook.usual[found.outlook.rows.index(course.best)])
    assert gap > 1.0
    for name in ("tune", "injector size", "injection pump"):
        assert found.outlook.worth[name] >= gap
    assert any("what his fuel feeds counts" in question.reason for question in found.questions)


def test_what_decides_nothing_is_asked_for_the_reason_of_its_own() -> None:
    """Not for one of a rule that waits for it: that may presuppose an answer ("The caller named what he wants to stay
    under") or speak of something else."""
    asked_late = opened(TOWING | {"trailer weight": "9,000 lb", "trailer brakes": "yes", "tow rating": "14,000 lb"})
    reasons = {q.fact: q.reason for q in asked_late.questions if q.settles in ("detail", "safety")}
    assert {"objection", "request answer"} <= reasons.keys()
    for fact, reason in reasons.items():
        assert reason.removesuffix(" A grave caution hangs on the answer.") == SHOP.vocabulary[fact].why
    figures = [found[1] for q in asked_late.questions if (found := re.search(r": about \D?([\d.,]+)", q.reason))]
    assert figures
    assert all(len(figure.replace(",", "").strip("0.").replace(".", "")) <= 2 for figure in figures)


def test_the_value_of_knowing_is_that_of_its_definition() -> None:
    """Three inputs with two or three levels, effects that add up: all 12 worlds gone through."""
    chance = np.random.default_rng(3)
    usual = np.array([50.0, 48.0, 45.0])
    effects = {
        name: (np.asarray(weights), chance.normal(0.0, size, (len(weights), 3)))
        for name, weights, size in (("a", (0.3, 0.7), 6.0), ("b", (0.2, 0.5, 0.3), 3.0), ("c", (0.6, 0.4), 0.5))
    }
    worlds = list(itertools.product(*(range(len(weights)) for weights, _ in effects.values())))
    share = {w: np.prod([weights[i] for i, (weights, _) in zip(w, effects.values(), strict=True)]) for w in worlds}
    points = {w: usual + sum(e[i] for i, (_, e) in zip(w, effects.values(), strict=True)) for w in worlds}
    blind = sum(share[w] * points[w] for w in worlds).max()
    found = outlook.worth_of_knowing(usual, effects)
    for at, (name, (weights, effect)) in enumerate(effects.items()):
        knowing = 0.0
        for level in range(len(weights)):
            here = [w for w in worlds if w[at] == level]
            knowing += sum(share[w] * points[w] for w in here).max()
        order = np.argsort(-sum(share[w] * points[w] for w in worlds))
        own = effect - weights @ effect
        apart = [np.sqrt(weights @ (own[:, i] - own[:, order[0]]) ** 2) for i in order[1:]]
        assert found[name] == pytest.approx(knowing - blind + outlook.LEAN * np.mean(apart))
    assert found["a"] > found["c"]


def test_what_changes_nothing_is_worth_nothing() -> None:
    level = (np.array([0.5, 0.5]), np.zeros((2, 3)))
    same = (np.array([0.5, 0.5]), np.array([[4.0] * 3, [-4.0] * 3]))  # moves all alike
    found = outlook.worth_of_knowing(np.array([3.0, 2.0, 1.0]), {"nothing": level, "all alike": same})
    assert found == pytest.approx({"nothing": 0.0, "all alike": 0.0})


def test_what_no_turbo_can_be_matched_to_is_told_and_questions_go_on() -> None:
    """A redline that nobody has, said and held to: no turbo of the shop can be matched at all."""
    said = {
        "call kind": "new turbo", "duties": "daily", "displacement": "6.3 L", "power goal": "605 hp",
        "request": "a 64", "rpm limit": "37000 rpm",
    }  # fmt: skip
    outcome = consult([Answer(name, words) for name, words in said.items()], SHOP, REFERENCE, bands=False)
    assert outcome.verdict == "nothing fits"
    assert outcome.questions
