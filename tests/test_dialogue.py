"""The call as a conversation: the machine itself, plain lines, the terminal by pipe, a real
pseudo-terminal."""

import io
from collections.abc import Sequence
from pathlib import Path

import desk
import pytest
import yaml
from calls import offers
from hypothesis import given, settings
from hypothesis import strategies as st
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from advisor.consultation import consult
from advisor.course import infer
from advisor.dialogue import loop
from advisor.dialogue.call import Call
from advisor.dialogue.commands import FORMS, Command, parse, parted, resolve
from advisor.dialogue.masking import masked
from advisor.dialogue.script import as_script, masked_answer
from advisor.dialogue.terminal import Terminal
from advisor.dialogue.turn import Turn
from advisor.hearing import understand
from advisor.inference.engines import agenda
from advisor.inference.facts import same
from advisor.journal import Journal, Record, read
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Consultation
from advisor.replay import differences
from advisor.scripted import parse_script
from advisor.sheet.aloud import SECTIONS

TESTS = Path(__file__).parent
STRAIGHT = ["a 72", "daily and towing", "5.9 litres", "35 psi", "14,000 lb", "automatic", "yes"]


def shown(turn: Turn, width: int = 80) -> str:
    return "\n".join(line for _, line in turn.lines(width))


def answered(call: Call) -> dict[str, str]:
    """What he said, by fact."""
    return {answer.fact: answer.words for answer in call.answers}


def call_with(*lines: str) -> tuple[Call, list[str]]:
    """A call that has heard the lines, and what each brought up."""
    call = Call(desk.consult, desk.KNOWLEDGE)
    seen = [shown(call.open())]
    seen += [shown(call.hear(line)) for line in lines]
    return call, seen


def test_one_question_at_a_time_with_its_words_what_to_listen_for_and_the_reason() -> None:
    _, seen = call_with("a 72")
    assert "Say: “What about the duties?”" in seen[1]
    assert "Listen for: anything on the duties" in seen[1]
    assert "Asked now: The duties decides." in seen[1]
    assert "Choices: daily, towing, strip" in seen[1]
    assert "What about the displacement" not in seen[1]


def test_the_opening_question_waits_for_no_consultation() -> None:
    asked: list[int] = []

    def counted(answers: Sequence[Answer]) -> Consultation:
        asked.append(len(answers))
        return desk.consult(answers)

    call = Call(counted, desk.KNOWLEDGE)
    assert "What about the request?" in shown(call.open())
    assert asked == []
    assert "What about the duties?" in shown(call.hear("a 72"))


def test_a_whole_call_reads_back_and_recommends() -> None:
    call, seen = call_with(*STRAIGHT, "yes")
    read_back, advice = seen[-2], seen[-1]
    assert "Is all of it right?" in read_back
    assert "14,000 lb" in read_back
    assert "altitude" in read_back  # assumed, and said so
    for part in (
        "64 mm wheel",
        "It is a strong turbo.",
        "DANGER",
        "$115",
        "Measure the foot.",
    ):
        assert part in advice
    assert advice.index("DANGER") < advice.index("NOTE")
    assert call.told


def test_the_advice_is_told_as_short_as_is_honest_and_in_full_on_request() -> None:
    call, _ = call_with(*STRAIGHT)
    short = shown(call.hear("yes"))
    full = shown(call.hear("in full"))
    consultation = desk.consult(call.answers)
    assert len(short.splitlines()) < len(full.splitlines())
    for caution in consultation.cautions:
        told = caution.text if caution.severity == "stop" else caution.text.partition(". ")[0]
        assert " ".join(told.split()) in " ".join(short.split())
    for name in SECTIONS:
        assert name in short
        section = shown(call.hear(f"in full {name}")).splitlines()[:-2]
        assert "\n".join(section).strip() in full or "to tell" in section[0]
    assert "total: $115" in shown(call.hear("in full parts"))
    assert "near sea level" in shown(call.hear("in full assumptions"))
    assert "could be: choices, advice" in shown(call.hear("in full everything"))


def test_what_was_understood_is_echoed_with_its_unit() -> None:
    _, seen = call_with("a 72", "daily", "5.9", "2.4 bar")
    assert "= displacement: 5.9 L" in seen[3]
    assert "= present boost: 2.4 bar (34.8 psi)" in seen[4]


def test_words_that_are_not_understood_are_asked_again_with_an_example() -> None:
    call, seen = call_with("a 72", "daily", "quite big")
    assert "for example" in seen[3]
    assert "displacement" not in dict.fromkeys(a.fact for a in call.answers)


@pytest.mark.parametrize(("replies", "kept"), [
    (["yes"], "5.9 L"), (["no"], None), (["no", "59"], "59"), (["no", "no", "6.7"], "6.7"),
    (["6.7"], "6.7"), (["no, it's a 6.7"], "it's a 6.7"), (["what's that got to do with it?", "yes"], "5.9 L"),
])  # fmt: skip
def test_an_odd_value_is_questioned_not_refused(replies: list[str], kept: str | None) -> None:
    call, seen = call_with("a 72", "daily", "59", *replies)
    assert "did you mean 5.9 L?" in seen[3]
    assert answered(call).get("displacement") == kept


def test_a_number_that_sounds_like_another_is_read_back() -> None:
    _, seen = call_with("a 72", "daily", "5.9", "fifteen")
    assert "Read back: one five, fifteen psi" in seen[4]


def test_back_keeps_later_answers_and_enter_leaves_the_answer() -> None:
    call, seen = call_with(*STRAIGHT[:4], "back", "back", "")
    assert "Answered: “5.9 litres”; Enter leaves it so." in seen[6]
    assert [a.words for a in call.answers] == STRAIGHT[:4]
    assert "trailer weight" in seen[7]
    call.hear("back")
    call.hear("40")
    assert answered(call)["present boost"] == "40"


def test_change_says_what_changes_in_the_advice() -> None:
    call, seen = call_with(*STRAIGHT, "change trailer", "8,000 lb")
    assert "The advice was: 64 mm wheel" in seen[-1]
    assert "It is now: 58 mm wheel" in seen[-1]
    told = seen[-1].split("= trailer weight")[1].split("\n\n")[0].splitlines()
    assert len(told) <= 1 + 6, told
    assert answered(call)["trailer weight"] == "8,000 lb"
    assert "The advice stays" in shown(call.hear("change road use = no"))


def test_what_if_is_side_by_side_and_keeps_nothing() -> None:
    call, seen = call_with(*STRAIGHT, "what if trailer weight = 8k")
    assert "as it stands" in seen[-1]
    assert "58 mm wheel" in seen[-1]
    assert "Nothing was kept" in seen[-1]
    assert answered(call)["trailer weight"] == "14,000 lb"


@pytest.mark.parametrize(
    ("said", "comes"),
    [
        ("what if transmission stick", "What if transmission: manual"),
        ("what if duties towing and drag?", "What if duties: strip, towing"),
        ("what if road use yes", "What if road use: yes"),
        ("what if road use isn't so", "Put = before the value: what if road use = isn't so."),
    ],
)
def test_what_if_is_a_command_wherever_it_names_a_fact(said: str, comes: str) -> None:
    call, seen = call_with(*STRAIGHT[:3], said)
    assert comes in " ".join(seen[-1].split())
    assert list(answered(call)) == ["request", "duties", "displacement"]


def test_how_goes_down_to_the_callers_own_words() -> None:
    _, seen = call_with(*STRAIGHT, "how thrust need", "how air flow", "how best", "how nothing of the kind")
    assert "heavy-trailer-needs-gauge" in seen[-4]
    assert 'the caller said "14,000 lb"' in seen[-4]
    assert "52 to 56 lb/min (computed; engine breathes as stock)" in seen[-3]
    assert "64 mm wheel" in seen[-2]
    assert "Nothing here is called" in seen[-1]


def test_why_not_names_the_rule_that_did_it() -> None:
    _, seen = call_with(
        *STRAIGHT, "why not Q-72", "why not Q-58", "why not heavy-trailer", "why not long-call"
    )
    assert "Ruled out by: foot-does-not-fit" in seen[-4]
    assert "7.0 behind the best" in seen[-3]
    assert "-10 points for this one: Because of short-of-air. [short-of-air]" in seen[-3]
    assert "This rule did fire." in seen[-2]
    assert "Because of long-call-say-thanks" in seen[-1]


def test_skip_leaves_a_question_out_and_enough_concludes() -> None:
    call, seen = call_with("skip", "daily", "5.9", "enough", "yes")
    assert "Left out: request" in seen[1]
    assert "Stopped asking" in seen[4]
    assert "Left out: request" in seen[4]
    assert "Recommendation" in seen[5]
    assert [a.fact for a in call.answers] == ["duties", "displacement"]


def test_corrections_are_accepted_at_the_read_back() -> None:
    call, seen = call_with(*STRAIGHT, "no", "change boost", "40 psi")
    assert "change FACT" in seen[-3]
    assert "oes the rest stand as I read it to you?" in " ".join(seen[-1].split())
    assert "40 psi" in seen[-1]
    assert not call.told


def test_closing_questions_come_after_the_recommendation() -> None:
    call, seen = call_with(*STRAIGHT, "yes", "insists", "no")
    assert "request answer" not in "".join(seen[:-3])
    assert "What about the request answer" in seen[-3]
    assert answered(call)["request answer"] == "insists"
    assert "The call is closed." in seen[-1]


def test_words_that_equal_a_command_are_entered_behind_a_quotation_mark() -> None:
    call, _ = call_with('"back')
    assert call.answers == (Answer("request", "back"),)
    assert parse('"why not a 64?"') == "why not a 64?"
    assert parse("“quit”") == "quit"


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("why", Command("why")),
        ("yes but why isn't it the 66 then, the class lets me have 2.6", Command("why not", "a 66")),
        ("why isn't it a 64/71?", Command("why not", "a 64/71")),
        ("why isn't it any better than mine", "why isn't it any better than mine"),
        ("WHY NOT q-72", Command("why not", "q-72")),
        ("what if  altitude = 7,000 ft", Command("what if", "altitude = 7,000 ft")),
        ("what if altitude 7,000 ft", Command("what if", "altitude 7,000 ft")),
        ("what if I don't like it?", "what if I don't like it?"),
        ("?", Command("help")),
        ("save", Command("save")),
        ("how", Command("how")),
        ("How?", Command("how")),
        ("why not", Command("why not")),
        ("more.", Command("more")),
        ("'more", "'more"),
        ("back then it ran well", "back then it ran well"),
        ("enough power to pull", "enough power to pull"),
        ("how high? up to 9,000 feet", "how high? up to 9,000 feet"),
        ("how power goal?", Command("how", "power goal?")),
        ("change of oil every 10k", "change of oil every 10k"),
        ("instead of the 66 I'd take a 64", "instead of the 66 I'd take a 64"),
        ("map sensor is new", "map sensor is new"),
        ("map 66", Command("map", "66")),
        ("save me some money", "save me some money"),
        ("save his-call", Command("save", "his-call")),
    ],
)
def test_commands_are_told_apart_from_the_callers_words(line: str, meant: Command | str) -> None:
    assert parse(line) == meant


@pytest.mark.parametrize(
    ("piece", "meant"),
    [
        ("altitude = 7,000 ft", ("altitude", "7,000 ft")),
        ("altitude 7,000 ft", ("altitude", "7,000 ft")),
        ("Power goal 600 hp", ("Power goal", "600 hp")),
        ("68", ("68", "")),
    ],
)
def test_what_is_tried_may_follow_its_fact_without_a_sign(piece: str, meant: tuple[str, str]) -> None:
    assert tuple(map(str.strip, parted(piece, ("altitude", "power", "power goal")))) == meant


BARE = {form.word: form.example for form in FORMS if form.word not in ("quit", "holds", "save", "sheet")}


@pytest.mark.parametrize("word", BARE)
@pytest.mark.parametrize("before", [(), ("a 72",), STRAIGHT])
def test_the_word_of_a_command_alone_is_never_an_answer(word: str, before: tuple[str, ...]) -> None:
    """Where text is asked, where a choice is, and in the read-back; what needs more says so with an example."""
    call, _ = call_with(*before)
    given = call.answers
    turn = call.hear(word)
    assert call.answers == given
    if BARE[word]:
        assert f"for example {word} " in " ".join(shown(turn).split())
        assert "put a quotation mark before it" in " ".join(shown(turn).split())
        assert turn.prompt is not None


def test_help_says_how_a_word_of_a_command_is_given_as_the_answer() -> None:
    call, _ = call_with()
    assert "put a quotation mark before them: “more" in " ".join(shown(call.hear("?")).split())
    call.hear("“more")
    assert call.answers == (Answer("request", "more"),)


def test_yes_is_no_answer_where_words_are_asked_for() -> None:
    call, _ = call_with("yes")
    assert call.answers == ()
    call.hear("yes, a 72")
    assert [answer.fact for answer in call.answers] == ["request"]


def test_who_opens_with_a_friends_size_is_not_asked_why_that_one() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge, bands=False), knowledge)
    call.open()
    assert "That sounds like new turbo" in shown(call.hear("a buddy runs a 64"))
    assert offers(shown(call.hear("yes"))) == ["request: a buddy runs a 64", "request reason: friend runs it"]
    turn = call.hear("yes")
    assert "request reason: friend runs it" in shown(turn)
    assert turn.prompt is not None
    assert turn.prompt.asked == ("today's trouble",)


@pytest.mark.parametrize(
    "words", ["my buddy has a 95 twelve valve", "my brother made 500 at the wheels", "a neighbour pulls a fifth wheel"]
)
def test_what_a_friend_has_beside_a_size_is_not_offered(words: str) -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge, bands=False), knowledge)
    call.open()
    call.hear("new turbo")
    assert "He also said" not in shown(call.hear(words))


def test_where_nothing_is_advised_nobody_is_asked_how_it_sits_with_him() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge, bands=False), knowledge)
    call.open()
    for line in ("new turbo", "enough", "enough"):
        call.hear(line)
    turn = call.hear("yes")
    assert "Not enough is known to advise" in shown(turn)
    assert "in the way for you" not in shown(turn)
    assert turn.prompt is not None
    assert turn.prompt.asked == ()


def test_who_is_not_understood_is_told_the_ways_past_the_question() -> None:
    call, seen = call_with("a 72", "flying")
    assert "not sure leaves it open, skip passes it over." in seen[-1]
    assert [answer.fact for answer in call.answers] == ["request"]


@pytest.mark.parametrize(
    "words", ["my brother in law runs a 64 on his and I want one for pulling my camper", "want a 66, his thing rips"]
)
def test_what_anothers_truck_does_is_no_trouble_of_his_own(words: str) -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge, bands=False), knowledge)
    call.open()
    seen = [shown(call.hear(line)) for line in (words, "yes", "yes", "yes")]
    assert "He also said today's trouble" not in "".join(seen)
    assert "request" in {answer.fact for answer in call.answers}


def test_names_are_resolved_or_offered() -> None:
    known = ["trailer weight", "vehicle weight", "altitude"]
    assert resolve("Trailer", known) == ["trailer weight"]
    assert resolve("weight", known) == ["trailer weight", "vehicle weight"]
    assert resolve("altitud", known) == ["altitude"]
    assert resolve("turbine", known) == []


def test_several_facts_in_one_sentence_are_taken_when_confirmed() -> None:
    told = "a 72, displacement 5.9 litres, trailer 14,000 lb, altitude 6,200 ft"
    call, seen = call_with(told, "all but the trailer")
    assert offers(seen[1]) == ["displacement: 5.9 L", "trailer weight: 14,000 lb", "altitude: 6,200 ft"]
    assert [a.fact for a in call.answers] == ["request", "displacement", "altitude"]
    assert "What about the trailer weight?" in seen[2]


def test_control_characters_from_a_caller_never_reach_the_screen() -> None:
    _, seen = call_with("a \x1b[2J64\x07 [/bold] {{x}} \u202e<b>")
    assert "\x1b" not in seen[1]
    assert "\u202e" not in seen[1]
    assert "[/bold] {{x}}" in seen[1]


def test_a_saved_call_is_a_script_without_personal_data() -> None:
    call, _ = call_with(
        "my name is Alma Quill, 555-0142, I want a 72", "towing, says Bob", "5.9", "around 35 psi"
    )
    turn = call.hear("save Alma's call")
    ((name, text),) = turn.files
    assert name == "alma-s-call.yaml"
    script = yaml.safe_load(text)
    words = {fact: said for entry in script["answers"] for fact, said in entry.items()}
    assert "Alma Quill" not in text
    assert "555" not in text
    assert "Bob" not in text
    assert words["duties"] == "towing"
    assert words["present boost"] == "around 35 psi"
    assert script["conclude"]["verdict"] == call.consultation.verdict


@pytest.mark.parametrize(
    "words",
    [
        "this is Alma Quill calling",
        "Alma Quill here, I want a 64",
        "it's for Benno's truck",
        "PO Box 0142",
        "Mill Road 12",
        "Mr Quill wants it",
        "ask for Benno",
        "mail alma.q@example.org",
        "ring (0555) 014 2233",
        "+15550142233",
        "call 555-0142",
        "plate is KLM 4821",
        "2ABC345",
        "12 Old Mill Road",
        "my neighbour Benno has one",
        "1FTEX1E84FKD00001",
    ],
)
def test_personal_data_is_masked(words: str) -> None:
    hidden = masked(words)
    assert "(masked)" in hidden
    for secret in (
        "Quill",
        "Benno",
        "alma",
        "0555",
        "5550142233",
        "0142",
        "4821",
        "2ABC345",
        "Mill",
        "1FTEX",
    ):
        assert secret not in hidden


@pytest.mark.parametrize(
    "words",
    ["a 64/71 with a .90 divided T4", "EGT 1300 on the grade", "35 psi at 2,400 rpm", "it's loud", "63/68"],
)
def test_trade_talk_is_not_masked(words: str) -> None:
    assert masked(words) == words


@given(
    st.sampled_from([d for d in desk.FACTS if d.source == "asked" and d.kind != "text"]),
    st.sampled_from(
        [
            "14k",
            "about 35",
            "30 to 40",
            "5.9",
            "yes",
            "no",
            "towing",
            "tow and drag",
            "stick",
            "not sure",
            "somewhere around 6,200 I think",
            "1/3",
            "Bob says 33",
            "33.333333",
        ]
    ),
)
def test_a_masked_answer_means_the_same(definition, words: str) -> None:
    heard, again = understand(definition, words), understand(definition, masked_answer(definition, words))
    assert (heard.fact is None) == (again.fact is None)
    if heard.fact is not None and again.fact is not None:
        assert same(heard.fact.value, again.fact.value)


LINES = st.lists(
    st.sampled_from(
        [
            "a 72",
            "daily",
            "towing",
            "5.9",
            "59",
            "yes",
            "no",
            "35 psi",
            "3500",
            "14k",
            "9,000 lb",
            "automatic",
            "not sure",
            "back",
            "skip",
            "enough",
            "summary",
            "why",
            "how thrust",
            "change trailer weight",
            "change displacement = 6.7",
            "what if altitude = 7,000 ft",
            "why not Q-58",
            "note he is in a hurry",
            "",
            "?",
            "save x",
            "nonsense",
            "a 72 at 6,200 ft with 14,000 lb on the hook",
            "change",
            '"back',
        ]
    ),
    max_size=30,
)


@settings(max_examples=150)
@given(LINES)
def test_any_walk_ends_as_a_fresh_call_with_its_final_answers(lines: list[str]) -> None:
    call, record = Call(desk.consult, desk.KNOWLEDGE), Record()
    turn = call.open()
    for line in lines:
        for entry in turn.entries:
            record.take(entry)
        if turn.prompt is None:
            break
        turn = call.hear(line)
        assert call.consultation.verdict_words == desk.consult(call.answers).verdict_words
    for entry in turn.entries:
        record.take(entry)
    assert dict(record.answers) == answered(call)
    again = Call(desk.consult, desk.KNOWLEDGE, record)
    assert again.answers == call.answers
    assert again.consultation.facts == call.consultation.facts
    assert as_script("x", again.answers, again.consultation, desk.KNOWLEDGE) == as_script(
        "x", call.answers, call.consultation, desk.KNOWLEDGE
    )


# ---------------------------------------------------------------- whoever asks



def test_an_objection_that_brings_other_choices_shows_them() -> None:
    told = {"duties": "daily and towing", "displacement": "5.9", "cylinders": "6", "power goal": "450 hp",
            "power measured at": "crank", "stock power": "325 hp", "trailer weight": "9,000 lb"}  # fmt: skip
    lines = [f"change {fact} = {words}" for fact, words in told.items()]
    *_, advice, price, sound = said_to_the_shop("new turbo", *lines, "enough", "yes", "price", "no")
    cheaper = [line for line in price.splitlines() if line.startswith("  2  ")]
    assert cheaper
    assert cheaper[0] not in advice
    assert "His choices" not in sound


def test_no_choice_is_named_like_a_command() -> None:
    """Who types a choice as it is shown answers the question."""
    names = {choice.name for fact in load(shipped_folder()).vocabulary.values() for choice in fact.choices}
    assert not [name for name in names if isinstance(parse(name), Command)]


def test_change_means_the_fact_that_is_named_not_one_like_it_that_was_answered() -> None:
    lines = "change working rpm low = 1,600", "change working rpm high = 3,000", "change rpm low = 1,400"
    low, high, lower = said_to_the_shop(*lines)
    assert low.startswith("= working rpm low: 1,600 rpm")
    assert high.startswith("= working rpm high: 3,000 rpm")
    assert lower.startswith("= working rpm low: 1,400 rpm")


def scripted(lines: Sequence[str], folder: Path, width: int = 80) -> tuple[int, str, Record]:
    out = io.StringIO()
    with Journal.start(folder) as journal:
        code = loop.run(desk.consult, desk.KNOWLEDGE, loop.Scripted(lines, out, width), journal, folder)
        return code, out.getvalue(), read(journal.path)


def piped(lines: Sequence[str], folder: Path) -> tuple[int, Record]:
    """The same in prompt_toolkit, its keys from a pipe and its screen thrown away; Ctrl-D at the end."""
    with create_pipe_input() as keys, Journal.start(folder) as journal:
        keys.send_text("".join(line + "\r" for line in lines) + "\x04")
        code = loop.run(desk.consult, desk.KNOWLEDGE, Terminal(keys, DummyOutput()), journal, folder)
        return code, read(journal.path)


@pytest.mark.parametrize(
    "lines",
    [
        STRAIGHT,
        [*STRAIGHT, "yes", "accepted", "no"],
        ["a 72", "daily", "59", "yes", "back", "6.7", "3500", "no", "enough"],
        ["note hello", "skip", "towing", "5.9 l", "not sure", "about 14k", "change duties = daily"],
    ],
)
def test_terminal_and_script_give_the_same_answers(lines: list[str], tmp_path: Path) -> None:
    _, _, by_script = scripted(lines, tmp_path / "script")
    code, by_terminal = piped(lines, tmp_path / "terminal")
    assert code == 0
    assert by_terminal.answers == by_script.answers
    assert by_terminal.notes == by_script.notes


def test_at_the_end_of_a_pipe_the_call_concludes_with_what_is_known(tmp_path: Path) -> None:
    code, out, record = scripted(["a 72", "daily", "5.9"], tmp_path)
    assert code == 0
    assert "Recommendation" in out
    assert "64 mm wheel" in out
    assert record.closed
    assert "\x1b" not in out


@pytest.mark.parametrize("width", [60, 80, 120])
def test_plain_lines_keep_to_the_width(width: int, tmp_path: Path) -> None:
    lines = [*STRAIGHT, "summary", "?", "how best", "what if trailer weight = 8k", "yes", "why not Q-72"]
    _, out, _ = scripted(lines, tmp_path, width)
    assert max(map(len, out.splitlines())) <= width


def test_the_answer_is_on_disk_before_it_is_echoed(tmp_path: Path) -> None:
    class Watching(loop.Scripted):
        def show(self, turn: Turn) -> None:
            text = shown(turn)
            if "= duties" in text:
                kept.append(read(journal.path).answers.get("duties", ""))
            super().show(turn)

    kept: list[str] = []
    with Journal.start(tmp_path) as journal:
        loop.run(desk.consult, desk.KNOWLEDGE, Watching(STRAIGHT, io.StringIO()), journal, tmp_path)
    assert kept == [STRAIGHT[1]]


def test_a_file_is_never_written_over(tmp_path: Path) -> None:
    _, out, _ = scripted(["a 72", "save mine", "save mine", "sheet mine"], tmp_path)
    assert "is there already" in " ".join(out.split())  # the path may be long
    assert (tmp_path / "mine.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_full_disk_is_said_and_the_call_goes_on(tmp_path: Path) -> None:
    out = io.StringIO()
    with Journal.start(tmp_path) as journal:
        journal._stream.close()
        journal._stream = open("/dev/full", "r+b", buffering=0)  # noqa: SIM115 - the journal closes it
        code = loop.run(desk.consult, desk.KNOWLEDGE, loop.Scripted(STRAIGHT, out), journal, tmp_path)
    assert code == 0
    assert "Not kept on disk" in out.getvalue()
    assert "Recommendation" in out.getvalue()


def test_what_was_said_of_one_fact_is_not_offered_for_another() -> None:
    call, seen = call_with("a 72", "towing", "5.9", "35", "16,000 lb")
    assert "He also said" not in "".join(seen)
    assert call.hear("back").prompt is not None


def test_a_saved_call_is_read_and_replayed_with_the_same_outcome() -> None:
    """With the shop's own knowledge: what `save` writes holds when it is replayed."""
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    call.open()
    for change in ("duties = towing", "displacement = 5.9 litres", "power goal = about 450 horses"):
        call.hear(f"change {change}")
    ((name, text),) = call.hear("save it").files
    script, faults = parse_script(text.encode(), knowledge, name)
    assert faults == ()
    assert script is not None
    assert call.consultation.verdict == "recommended"
    assert list(differences(script, infer(script.answers, knowledge, agenda()), knowledge)) == []


def test_a_correction_in_the_read_back_is_taken_as_it_is_said() -> None:
    call, seen = call_with(*STRAIGHT, "no, the trailer is 12,000 lb", "yes")
    assert "That makes trailer weight: 12,000 lb. Take it?" in seen[-2]
    assert "= trailer weight: 12,000 lb" in seen[-1]
    assert "oes the rest stand as I read it to you?" in " ".join(seen[-1].split())
    assert answered(call)["trailer weight"].startswith("12,000")


def test_an_offer_never_stands_in_the_way_and_comes_back_with_its_question() -> None:
    said = ("a 72", "towing with the automatic", "5.9 litres", "35 psi", "14,000 lb behind the automatic")
    call, seen = call_with(*said)
    assert "He also said transmission: automatic. Take it?" in seen[2]
    assert "Else he answers: “What about the displacement?”" in seen[2]
    assert "= displacement: 5.9 L" in seen[3]
    assert "He also said" not in "".join(seen[3:5])
    assert "You said automatic; is that it?”" in seen[5]  # now that it is asked
    assert "Else he answers" not in seen[5]
    asked = shown(call.hear("no"))
    assert "What about the transmission?" in asked
    assert "He also said" not in asked
    assert [a.fact for a in call.answers] == [
        "request", "duties", "displacement", "present boost", "trailer weight",
    ]  # fmt: skip


@pytest.mark.parametrize("meanwhile", ["back", "change duties", "skip"])
def test_what_he_volunteered_waits_whatever_comes_between(meanwhile: str) -> None:
    call, seen = call_with("a 72", "towing with the automatic", meanwhile, "", "5.9 litres", "35 psi", "14,000 lb")
    assert "You said automatic; is that it?”" in seen[-1]
    call.hear("yes")
    assert answered(call)["transmission"] == "automatic"


def test_what_waits_is_on_offer_when_its_fact_is_named() -> None:
    call, seen = call_with("a 72", "towing with the automatic", "5.9 litres", "change transmission")
    assert "You said automatic; is that it?”" in seen[-1]
    call.hear("yes")
    assert answered(call)["transmission"] == "automatic"
    told = call_with("a 72", "towing with the automatic", "5.9 litres", "change transmission = manual")[0]
    assert answered(told)["transmission"] == "manual"


def test_a_doubt_outlives_a_change_of_something_else_and_not_a_change_of_its_own() -> None:
    call, seen = call_with("a 72", "towing", "59", "change duties", "daily")
    assert "did you mean 5.9 L?" in seen[3]
    assert "You said 59 L; is that it?" in seen[5]
    assert "did you mean 5.9 L?" in shown(call.hear("yes"))
    call.hear("yes")
    assert answered(call)["displacement"] == "5.9 L"
    call, seen = call_with("a 72", "towing", "59", "change displacement", "6.7")
    assert "5.9" not in "".join(seen[4:])
    assert answered(call)["displacement"] == "6.7"


@pytest.mark.parametrize(("told", "taken"), [
    (("a 72", "towing", "59"), ["displacement: 59 L. Take it?", "did you mean 5.9 L?"]),
    (("a 72", "towing with the automatic", "5.9 litres", "35 psi", "14,000 lb"), ["transmission: automatic. Take it?"]),
])  # fmt: skip
def test_enough_settles_what_waits_for_a_yes_before_the_end(told: tuple[str, ...], taken: list[str]) -> None:
    call, _ = call_with(*told)
    line = "enough"
    for asked in taken:
        assert asked in shown(call.hear(line))
        line = "yes"
    assert "Stopped asking." in shown(call.hear("yes"))
    assert taken[0].partition(":")[0] in answered(call)
    twice, _ = call_with(*told, "enough")
    assert "Stopped asking." in shown(twice.hear("enough"))


def test_who_does_not_know_four_times_in_a_row_is_offered_the_end() -> None:
    _, seen = call_with("a 72", "towing", "not sure", "dunno", "no idea", "no clue, man")
    assert "Type enough to conclude" not in "".join(seen[:-1])
    assert "4 answers in a row were not known. Type enough to conclude with what there is." in seen[-1]


def test_what_nobody_took_up_comes_back_before_the_end() -> None:
    call, seen = call_with("a 72", "towing with the automatic", "5.9 litres", "enough")
    assert "He also said transmission: automatic. Take it?" in seen[-1]
    assert "Is all of it right?" in shown(call.hear("yes"))
    assert "transmission" in {a.fact for a in call.answers}


def test_skip_takes_back_the_answer_that_is_asked_again(tmp_path: Path) -> None:
    call, _ = call_with("a 72", "daily", "5.9 litres")
    told = call.hear("change displacement")
    told = call.hear("skip")
    assert "Taken back: displacement; change displacement brings it back." in shown(told)
    assert [a.fact for a in call.answers] == ["request", "duties"]
    record = Record()
    for entry in ({"answer": "duties", "words": "daily"}, {"answer": "displacement", "words": "5.9"}, *told.entries):
        record.take(entry)
    assert record.answers == {"duties": "daily"}
    call.hear("change displacement = 6.7")
    assert "displacement" in {a.fact for a in call.answers}


def test_an_opening_that_names_a_size_is_the_request_too() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    call.open()
    assert "You told me already: yeah, you're lookin" in shown(
        call.hear("yeah, I'm lookin for a 64")
    )
    call.hear("yes")
    assert {a.fact for a in call.answers} == {"call kind", "request"}


def test_a_remark_is_not_taken_for_the_trouble_unasked() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    call.open()
    assert "That tells the displacement." in shown(call.hear("change today's trouble = it's the 5.9, 359 cubes"))
    assert "He also said displacement: 5.9 L. Take it?" in shown(call.hear("no"))
    call.hear("yes")
    assert [a.fact for a in call.answers] == ["displacement"]
    call.hear("change today's trouble = my 5.9 smokes on the hills")
    assert "today's trouble" in {a.fact for a in call.answers}


def test_what_a_doubted_remark_held_is_not_lost_with_the_right_answer() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    call.open()
    doubt = call.hear("change today's trouble = it's the 5.9, 359 cubes")
    assert doubt.prompt is not None
    assert doubt.prompt.label == "yes, no, or the right one> "
    assert "He also said displacement: 5.9 L. Take it?" in shown(call.hear("smokes on the hills"))
    call.hear("yes")
    assert [a.fact for a in call.answers] == ["today's trouble", "displacement"]


def test_what_answers_another_question_is_offered_for_it() -> None:
    _, seen = call_with("a 72", "it makes 35 psi of boost now", "not sure")
    assert "He also said present boost: 35 psi. Take it?" in seen[2]
    assert "What about the duties?" in seen[3]


def said_to_the_shop(*lines: str) -> list[str]:
    """What each line brings up in a call at the demo shop."""
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    call.open()
    return [shown(call.hear(line), 200) for line in lines]


def test_an_opening_that_wants_a_turbo_keeps_the_trouble_for_its_question() -> None:
    opening = "I want a 64 for towing, mine runs hot on the grades"
    seen = said_to_the_shop(opening, "yes", "yes", "yes")
    assert "= call kind: new turbo" in "".join(seen)
    assert "today's trouble: mine runs hot on the grades" in "".join(seen)


def test_a_correction_of_what_the_call_is_about_is_heard_at_another_question() -> None:
    seen = said_to_the_shop("I have a complaint", "no it's not a complaint really, I just want a new turbo", "yes")
    assert "That makes call kind: new turbo" in seen[1]
    assert "= call kind: new turbo" in seen[2]


def test_a_figure_past_belief_stands_only_when_said_again() -> None:
    seen = said_to_the_shop("new turbo", "change stock power = 6000 hp", "no", "change stock power = 6000 hp")
    assert "did you mean 600 hp?" in seen[1]
    assert "the same again lets it stand" in seen[2]
    assert "= stock power: 6,000 hp" in seen[3]


def test_a_sentence_that_plainly_tells_other_facts_is_not_leant_to_a_choice() -> None:
    knowledge = load(shipped_folder())
    call = Call(lambda answers: consult(answers, knowledge), knowledge)
    for line in ("new turbo", "a 64"):
        call.hear(line)
    said = "16 grand loaded, I live at 6000 feet, 6 percent grades"
    told = shown(call.hear(f"change request reason = {said}"))
    assert "no answer that I can make out" in told
    assert "altitude: 6,000 ft" in offers(told)
    assert "That sounds like" not in told


TOWS = {
    "call kind": "new turbo", "request": "a 64", "duties": "towing", "displacement": "5.9", "power goal": "450 hp",
    "trailer weight": "14,000 lb", "altitude": "not sure",
}  # fmt: skip


def rung_back(**more: str) -> tuple[Call, str]:
    """A call at the demo shop that goes on from some answers, and what it opens with."""
    knowledge = load(shipped_folder())
    record = Record(answers=TOWS | {name.replace("_", " "): words for name, words in more.items()}, call="c1")
    call = Call(lambda answers: consult(answers, knowledge, bands=False), knowledge, record)
    return call, shown(call.open(), 200)


def test_what_stops_it_is_told_again_before_the_call_is_closed() -> None:
    for brakes, stands in (("no", True), ("yes", False)):
        call, _ = rung_back(trailer_brakes=brakes)
        for line in ("enough", "yes"):
            told = call.hear(line)
        while told.prompt is not None and told.prompt.asked:
            told = call.hear("skip")
        assert ("STOP still stands: No working trailer brakes" in shown(told, 200)) is stands


def test_what_he_was_to_find_out_is_told_when_he_rings_back_and_cleared_by_its_name() -> None:
    call, opens = rung_back()
    assert "Going on with call c1: 7 answers so far." in opens
    assert "Still to find out: altitude" in opens
    told = shown(call.hear("the altitude is 6,200 ft"), 200)
    assert "= altitude: 6,200 ft" in told
    _, opens = rung_back(altitude="6,200 ft")
    assert "Still to find out" not in opens


def test_what_he_was_to_find_out_is_told_at_the_end_and_can_still_be_answered_there() -> None:
    call, _ = rung_back()
    for line in ("enough", "yes"):
        told = call.hear(line)
    while told.prompt is not None and told.prompt.asked:
        told = call.hear("skip")
    assert "Still to find out: altitude" in shown(told, 200)
    assert "= altitude: 6,200 ft" in shown(call.hear("altitude 6,200 ft"), 200)
    assert "That makes trailer weight: 12,000 lb. Take it?" in shown(call.hear("oh, the trailer weight is 12,000 lb"))
    assert "= trailer weight: 12,000 lb" in shown(call.hear("yes"), 200)
    assert "That makes power goal: 500 hp. Take it?" in shown(call.hear("and I want 500 hp"), 200)
    assert answered(call)["trailer weight"].startswith("12,000")


def test_nothing_is_said_of_the_flange_before_anybody_asks_for_it() -> None:
    seen = said_to_the_shop("a new turbo")
    assert "flange" not in seen[0]
    assert "Before we talk sizes" in seen[0]


@pytest.mark.parametrize(
    "asked", ["why not twins", "how come not the twins?", "instead two stage", "why not two in series"]
)
def test_who_asks_for_twins_is_told_whether_two_in_series_are_advised_and_why(asked: str) -> None:
    assert parse(asked) == Command("how", "two stage advised")
