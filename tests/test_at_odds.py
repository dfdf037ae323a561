"""Answers held against each other: what can't all be so is asked about; either can be put right, or both stand."""

from collections.abc import Callable
from itertools import permutations
from pathlib import Path

import pytest
from calls import shop
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.at_odds import at_odds, questioned
from advisor.cli import main
from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.hearing import understand
from advisor.inference.engines import agenda
from advisor.journal import Record
from advisor.knowledge import check
from advisor.outcome import Answer, Consultation, Understood

Consult = Callable[[tuple[Answer, ...]], Consultation]
OPENED = {"call kind": "new turbo"}
LIMIT, USED = "rpm limit", "working rpm high"
WHICH = "You told me it's governed at 3,200 rpm; 5,900 rpm is over that. Which is right?"


def shown(turn: Turn) -> str:
    return " ".join(line.strip() for _, line in turn.lines(1000))


def live(**answers: str) -> Call:
    """A call in the demo shop with these answers, as it goes on after a crash."""
    given = OPENED | {name.replace("_", " "): words for name, words in answers.items()}
    return Call(lambda told: consult(told, shop(), agenda("reference"), bands=False), shop(), Record(answers=given))


def told(answers: dict[str, str]) -> list[Understood]:
    return [understand(shop().vocabulary[fact], words) for fact, words in answers.items()]


def asked(answers: dict[str, str]) -> list[str]:
    return [odds.ask for odds in at_odds(told(answers), shop().vocabulary)]


@pytest.mark.parametrize("first", [LIMIT, USED])
def test_a_contradiction_is_asked_about_in_either_order_with_both_answers(first: str) -> None:
    words = {LIMIT: "3,200", USED: "5,900"}
    call = live()
    call.open()
    other = next(fact for fact in words if fact != first)
    assert "Which is right" not in shown(call.hear(f"change {first} = {words[first]}"))
    turn = call.hear(f"change {other} = {words[other]}")
    assert WHICH in shown(turn)
    assert turn.entries == ({"answer": other, "words": words[other]},)  # kept before anybody is asked


@pytest.mark.parametrize(
    ("reply", "fact", "value"),
    [
        ("2,900", USED, "2,900 rpm"),  # only what is used can be that
        ("6,200", LIMIT, "6,200 rpm"),  # only the limit can
        ("the limit is 6,200", LIMIT, "6,200 rpm"),
    ],
)
def test_a_figure_goes_to_the_answer_that_it_puts_right(reply: str, fact: str, value: str) -> None:
    call = live(rpm_limit="3200", working_rpm_high="5900")
    call.open()
    call.hear("summary")
    assert f"{fact}: {value}" in shown(call.hear(reply))
    assert {answer.fact: answer.words for answer in call.answers}[fact] == reply


@pytest.mark.parametrize(
    ("reply", "again"),
    [
        ("the limit is right", USED),
        ("3,200 is right", USED),
        ("5,900", LIMIT),
        ("the limit is wrong", LIMIT),
        ("the first one", USED),
        ("no", USED),
    ],
)
def test_who_says_which_is_right_is_asked_the_other_again(reply: str, again: str) -> None:
    call = live(rpm_limit="3200", working_rpm_high="5900")
    call.open()
    call.hear("summary")
    assert shop().vocabulary[again].ask in shown(call.hear(reply))


def test_a_figure_that_helps_nothing_is_asked_about_again() -> None:
    call = live(rpm_limit="3200", working_rpm_high="5900")
    call.open()
    call.hear("summary")
    said = shown(call.hear("4,500"))
    assert "doesn't go with the other either" in said
    assert WHICH in said
    assert "say that both are" in shown(call.hear("hm"))
    assert "say that both are" in shown(call.hear("yes"))  # to "which?" that settles nothing


@pytest.mark.parametrize("reply", ["both", "they're both right", "not sure", "skip"])
def test_both_may_stand_and_nobody_asks_again_even_after_a_crash(reply: str) -> None:
    call = live(rpm_limit="3200", working_rpm_high="5900")
    call.open()
    call.hear("summary")
    turn = call.hear(reply)
    assert WHICH not in shown(turn)
    assert turn.entries == ({"stands": WHICH},)
    record = Record(answers={answer.fact: answer.words for answer in call.answers})
    record.take(turn.entries[0])
    resumed = Call(call._consult, shop(), record)
    resumed.open()
    assert WHICH not in shown(resumed.hear("summary"))
    assert "5,800 rpm is over that" in shown(resumed.hear("change working rpm high = 5,800"))  # another answer is


def test_several_in_one_breath_are_held_against_what_was_told() -> None:
    call = live(rpm_limit="2,500", displacement="5.9", duties="sled", power_goal="600", cylinders="6")
    call.open()
    turn = call.hear("change working rpm low = 2,600")
    assert "You told me it goes to 2,500 rpm; 2,600 rpm to pull from is above that." in shown(turn)


def test_who_ran_out_of_words_is_told_what_was_left() -> None:
    call = live(rpm_limit="3200", working_rpm_high="5900")
    call.open()
    call.hear("summary")
    assert f"Left as it was told: {WHICH}" in shown(call.finish())


PAIRS = [
    ({"rpm limit": "3,200", "working rpm low": "4,000"}, {"working rpm low": "2,000"}),
    ({"working rpm high": "2,800", "working rpm low": "3,000"}, {"working rpm low": "2,800"}),
    ({"rpm limit": "2,600", "boost wanted by": "2,800"}, {"boost wanted by": "2,600"}),
    ({"working rpm high": "2,600", "boost wanted by": "2,800"}, {"boost wanted by": "1,800"}),
    ({"rpm limit": "2,600", "stall speed": "2,700"}, {"stall speed": "2,500"}),
    ({"stock power": "325 hp", "power goal": "250 hp"}, {"power goal": "300 hp"}),  # at the wheels that may be as much
    ({"power now": "500 hp", "power goal": "380 hp"}, {"power goal": "420 hp"}),
    ({"stock power": "325 hp", "power now": "150 hp"}, {"power now": "170 hp"}),
    ({"present boost": "50 psi", "present drive pressure": "20 psi"}, {"present drive pressure": "30 psi"}),
    ({"trailer weight": "11,000 lb", "tow rating": "1,500 lb"}, {"tow rating": "5,000 lb"}),
    ({"daily share": "70 %", "towing share": "60 %"}, {"towing share": "40 %"}),
    ({"strip share": "70 %", "sled share": "60 %"}, {"sled share": "30 %"}),
]


@pytest.mark.parametrize(("at", "after"), PAIRS)
def test_each_pair_of_the_shop_from_both_sides_and_in_any_order(at: dict[str, str], after: dict[str, str]) -> None:
    for order in permutations(at):
        (ask,) = asked({fact: at[fact] for fact in order})
        for fact in at:
            assert at[fact] in ask
    assert asked(at | after) == []


@pytest.mark.parametrize(
    "answers",
    [
        {"rpm limit": "3,200", "working rpm high": "3,100 to 3,600"},  # may still be under it
        {"rpm limit": "about 3,200", "working rpm high": "3,300"},
        {"rpm limit": "not sure", "working rpm high": "5,900"},  # what nobody is sure of contradicts nothing
        {"daily share": "70", "towing share": "35"},  # rough talk of shares
    ],
)
def test_only_what_certainly_contradicts_is_asked_about(answers: dict[str, str]) -> None:
    assert asked(answers) == []


def test_shares_that_come_to_too_much_are_told_one_by_one() -> None:
    (ask,) = asked({"towing share": "60", "daily share": "70", "sled share": "10"})
    assert "60 % towing, 70 % daily and 10 % sled" in ask
    call = live(daily_share="70", towing_share="60")
    call.open()
    call.hear("summary")
    assert shop().vocabulary["towing share"].ask in shown(call.hear("the towing"))
    assert "towing share: 30 %" in shown(call.hear("30"))


@settings(max_examples=60)
@given(st.permutations(["rpm limit", "working rpm high", "stall speed", "boost wanted by"]), st.randoms())
def test_the_order_of_telling_changes_no_question(names: list[str], chance) -> None:
    rpm = {name: f"{chance.randrange(1_800, 6_000)} rpm" for name in names}
    assert set(asked(rpm)) == set(asked(dict(sorted(rpm.items()))))
    heard = told(rpm)
    doubts = {after.answer.fact: after.doubt for after in questioned(heard, shop().vocabulary)}
    odd = {before.answer.fact for before in heard if before.doubt}  # past what is usual by itself
    for odds in at_odds(heard, shop().vocabulary):
        assert list(odds.facts) == [name for name in names if name in odds.facts]
        assert doubts[odds.facts[-1]] or odds.facts[-1] in odd


def test_a_script_says_it_at_the_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "fast.yaml"
    script.write_text('answers:\n  - rpm limit: "3,200"\n  - working rpm high: "5,900"\n')
    assert main(["replay", str(script)]) == 0
    assert f"{script}:3:23: working rpm high: {WHICH}" in "".join(capsys.readouterr())
    script.write_text(
        script.read_text()
        + "variants:\n  - answers: [altitude: 900 ft]\n    conclude: {must not: [known: duties include sled]}\n"
    )
    assert main(["replay", str(script)]) == 0
    assert "".join(capsys.readouterr()).count(WHICH) == 1  # of the call and its variant
    main(["call", "--answers", str(script)])
    assert f"{script}:3:23: working rpm high: {WHICH}" in capsys.readouterr().err


WRONG = {
    "at most: nothing of the kind": "'nothing of the kind' is no other number that is asked",
    "at most: power goal": "'power goal' is a power, 'engine speed' a rotation",
    "at least: engine speed": "'engine speed' is no other number that is asked",
    "at most: top speed\n        at least: top speed": "an answer is held against others in one way at a time",
    "at most: top speed\n        share: eighty": "'eighty' is no percentage; write it as '80 %'",
    "adds up with: [top speed]": "'adds up with' and 'comes to' belong together",
    "at most: top speed\n        comes to: 100 %": "'adds up with' and 'comes to' belong together",
    "adds up with: [top speed]\n        comes to: 110 %": "'engine speed' is no share, and only shares add up",
}


@pytest.mark.parametrize("written", WRONG)
def test_a_slip_in_the_vocabulary_is_told_with_its_place(written: str, tmp_path: Path) -> None:
    number = "kind: number, unit: {}, quantity: {}, ask: Well?, why: It counts.}}"
    (tmp_path / "facts.yaml").write_text(
        "facts:\n"
        f"  - {{fact: power goal, topic: goal, {number.format('hp', 'power')}\n"
        f"  - {{fact: top speed, topic: goal, {number.format('rpm', 'rotation')}\n"
        "  - fact: engine speed\n    topic: goal\n    kind: number\n    unit: rpm\n    quantity: rotation\n"
        "    ask: Well?\n    why: It counts.\n"
        f"    held against:\n      - {written}\n        say: Which is right, {{engine speed}}?\n"
    )
    lines = [str(fault) for fault in check(tmp_path) if fault.place.file == "facts.yaml"]
    assert any(WRONG[written] in line and int(line.split(":")[1]) >= 12 for line in lines), lines


def test_words_can_only_name_what_is_held_against_each_other(tmp_path: Path) -> None:
    number = "kind: number, unit: rpm, quantity: rotation, ask: Well?, why: It counts"
    (tmp_path / "facts.yaml").write_text(
        f"facts:\n  - {{fact: a, topic: t, {number}}}\n  - {{fact: b, topic: t, {number}}}\n"
        f"  - {{fact: c, topic: t, {number}, held against: [{{at most: a, say: 'Is {{b}} right?'}}]}}\n"
    )
    lines = [str(fault) for fault in check(tmp_path)]
    assert any("'{b}' is not among what is held against each other here; write one of {c}, {a}" in x for x in lines)
