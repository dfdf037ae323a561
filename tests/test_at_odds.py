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
from advisor.knowledge.source import read_yaml
from advisor.knowledge.vocabulary import read_vocabulary
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
    assert main(["replay", "--doubts", str(script)]) == 0
    assert f"{script}:3:23: working rpm high: {WHICH}" in "".join(capsys.readouterr())
    script.write_text(
        script.read_text()
        + "variants:\n  - answers: [altitude: 900 ft]\n    conclude: {must not: [known: duties include sled]}\n"
    )
    assert main(["replay", "--doubts", str(script)]) == 0
    assert "".join(capsys.readouterr()).count(WHICH) == 1  # of the call and its variant
    main(["call", "--answers", str(script)])
    assert f"{script}:3:23: working rpm high: {WHICH}" in capsys.readouterr().err


NUMBER = "kind: number, unit: {}, quantity: {}, ask: Well?, why: It counts."
FACTS = "facts:\n" + "".join(
    f"  - {{fact: {name}, topic: goal, {kind}}}\n"
    for name, kind in {
        "power goal": NUMBER.format("hp", "power"),
        "top speed": NUMBER.format("rpm", "rotation"),
        "idle speed": NUMBER.format("rpm", "rotation"),
        "daily share": NUMBER.format("'%'", "percent"),
        "cold": NUMBER.format("°F", "temperature"),
        "tune": "kind: choice, choices: [{choice: hot}, {choice: mild}], ask: Well?, why: It counts.",
        "air flow needed": "source: computed, kind: number, unit: lb/min, quantity: mass flow",
    }.items()
)
OF_KIND = {
    "rpm": "kind: number, unit: rpm, quantity: rotation",
    "share": "kind: number, unit: '%', quantity: percent",
    "heat": "kind: number, unit: °F, quantity: temperature",
    "yes/no": "kind: yes/no",
}
ONE_WAY = (
    "an answer is held against others in one way at a time; "
    "write one of 'at most', 'at least' and 'adds up with', another in an entry of its own"
)
TOGETHER = (
    "'adds up with' and 'comes to' belong together; "
    "write 'comes to: 110 %' with 'adds up with', 'share: 80 %' with 'at most' or 'at least'"
)


def refused(folder: Path, kind: str, *entries: str, say: str = "Which is right?") -> list[str]:
    """What is told of a last fact of that kind, in line 9 and held against others in line 10 and after, one entry a
    line."""
    last = f"  - {{fact: engine speed, topic: goal, {OF_KIND[kind]}, ask: Well?, why: It counts., held against: [\n"
    last += "".join(f"      {{{entry}, say: '{say}'}},\n" for entry in entries) + "    ]}\n"
    (folder / "facts.yaml").write_text(FACTS + last, "utf-8")
    return [str(fault) for fault in check(folder) if fault.severity == "error" and fault.place.file == "facts.yaml"]


@pytest.mark.parametrize(
    ("kind", "entry", "line"),
    [
        ("rpm", "at most: nothing of the kind",
         "10:7: 'nothing of the kind' is no other number that is asked; name a number that is asked"),
        ("rpm", "at most: top sped", "10:7: 'top sped' is no other number that is asked; did you mean 'top speed'?"),
        ("rpm", "at least: engine speed",
         "10:7: 'engine speed' is no other number that is asked; did you mean 'idle speed'?"),
        ("rpm", "at most: tune", "10:7: 'tune' is no other number that is asked; name a number that is asked"),
        ("rpm", "at most: air flow needed",
         "10:7: 'air flow needed' is no other number that is asked; name a number that is asked"),
        ("rpm", "at most: power goal", "10:7: 'power goal' is a power, 'engine speed' a rotation; "
         "hold it against a fact of the same quantity"),
        ("rpm", "at most: top speed, at least: idle speed", f"10:55: {ONE_WAY}"),
        ("rpm", "share: 80 %", f"10:26: {ONE_WAY}"),
        ("rpm", "at most: top speed, share: eighty", "10:35: 'eighty' is no percentage; write it as '80 %'"),
        ("rpm", "at most: top speed, share: 1000 %", "10:35: '1000 %' is no percentage; write it as '80 %'"),
        ("rpm", "at most: top speed, share: 80", "10:35: '80' is no percentage; write it as '80 %'"),
        ("rpm", "at most: top speed, comes to: 100 %", f"10:38: {TOGETHER}"),
        ("rpm", "adds up with: [top speed], comes to: 110 %",
         "10:7: 'engine speed' is no share, and only shares add up; write 'at most' or 'at least'"),
        ("share", "adds up with: [daily share]", f"10:7: {TOGETHER}"),
        ("share", "adds up with: [daily share], share: 80 %", f"10:44: {TOGETHER}"),
        ("share", "adds up with: [daily share], comes to: 110 %, share: 80 %", f"10:61: {TOGETHER}"),
        ("share", "adds up with: [daily share], comes to: much", "10:47: 'much' is no percentage; write it as '80 %'"),
        ("heat", "at most: cold, share: 80 %", "10:7: a share of a temperature means nothing; leave 'share' out"),
        ("yes/no", "at most: top speed",
         "10:7: 'engine speed' is no number that is asked, and is held against others; leave 'held against' out"),
    ],
)  # fmt: skip
def test_a_slip_in_the_vocabulary_is_told_with_its_place(kind: str, entry: str, line: str, tmp_path: Path) -> None:
    assert refused(tmp_path, kind, entry) == [f"facts.yaml:{line}"]


def test_what_may_be_held_against_what(tmp_path: Path) -> None:
    assert refused(tmp_path, "rpm", "at most: top speed", "at least: idle speed, share: 12.5%") == []
    assert refused(tmp_path, "heat", "at most: cold, share: 100 %") == []
    assert refused(tmp_path, "share", "adds up with: [daily share], comes to: 99.5 %", "at most: daily share") == []
    assert refused(tmp_path, "rpm", "at most: top speed", "at least: nothing", "at most: tune") == [
        "facts.yaml:11:7: 'nothing' is no other number that is asked; name a number that is asked",
        "facts.yaml:12:7: 'tune' is no other number that is asked; name a number that is asked",
    ]


def test_what_is_held_against_others_is_read_as_written(tmp_path: Path) -> None:
    entries = ("at most: top speed", "at least: idle speed, share: 12.5%", "at most: top speed, share: 80 %")
    assert refused(tmp_path, "rpm", *entries) == []
    found = read_vocabulary(read_yaml(tmp_path / "facts.yaml", "facts.yaml"))["engine speed"].held_against
    assert [(one.sign, one.others, one.share, one.say, str(one.place)) for one in found] == [
        (1, ("top speed",), 1.0, "Which is right?", "facts.yaml:10:7"),
        (-1, ("idle speed",), 0.125, "Which is right?", "facts.yaml:11:7"),
        (1, ("top speed",), 0.8, "Which is right?", "facts.yaml:12:7"),
    ]
    assert refused(tmp_path, "share", "adds up with: [daily share], comes to: 110 %") == []
    (one,) = read_vocabulary(read_yaml(tmp_path / "facts.yaml", "facts.yaml"))["engine speed"].held_against
    assert (one.sign, one.others, one.share) == (0, ("daily share",), 1.1)


def test_words_can_only_name_what_is_held_against_each_other(tmp_path: Path) -> None:
    say = "{engine speed}, {top speed}, {idle speed} or {told}?"
    otherwise = "is not among what is held against each other here; write one of {engine speed}, {top speed}"
    assert refused(tmp_path, "rpm", "at most: top speed", say=say) == [
        f"facts.yaml:10:7: '{{idle speed}}' {otherwise}", f"facts.yaml:10:7: '{{told}}' {otherwise}",
    ]  # fmt: skip
    shares = "adds up with: [daily share], comes to: 110 %"
    assert refused(tmp_path, "share", shares, say="{told}: {daily share}, {engine speed}?") == []
    assert refused(tmp_path, "share", shares, say="{power goal}?") == [
        "facts.yaml:10:7: '{power goal}' is not among what is held against each other here; "
        "write one of {engine speed}, {daily share}"
    ]
