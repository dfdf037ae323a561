"""Callers' text made safe, and choices picked out of it. The readings are common practice, no source."""

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.hearing.choosing import read_choice, read_several
from advisor.words.not_knowing import is_unsure
from advisor.words.plain_yes_no import read_yes_no
from advisor.words.speech import CAP, Unclear, clean

DUTIES = [
    ("daily", ["daily driving", "commute", "around town", "street"]),
    ("towing", ["tow", "haul", "pull a trailer", "fifth wheel"]),
    ("strip", ["drag", "drag strip", "quarter mile"]),
    ("sled", ["sled pull", "pulling", "truck pull"]),
]
FEET = [("T3", ["tee three"]), ("T4", ["tee four"]), ("T6", ["tee six"]), ("maker's own", ["factory"])]
UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
GATES = [
    ("none", ["no gate", "ungated", "just the housing"]),
    ("internal", ["internal gate"]),
    ("external", ["external gate"]),
]


@pytest.mark.parametrize(
    ("words", "cleaned"),
    [
        ("35 psi", "35 psi"),
        ("  35 \t psi\r\n", "35 psi"),
        ("\x1b[2J\x1b[31m35\x1b[0m psi", "35 psi"),
        ("\x1b]0;title\x0735 psi", "35 psi"),
        ("\x1b]8;;http://example\x1b\\link\x1b]8;;\x1b\\", "link"),
        ("\x1bP1;2|data\x1b\\35", "35"),
        ("\x9b31m35\x9d0;x\x9c", "35"),
        ("a\u202eb\u2066c\u2069d", "abcd"),
        ("3\u200b5\u200d \ufeffpsi", "35 psi"),
        ("35\x00\x07\x08psi", "35psi"),
        ("35\u00a0psi\u2028next", "35 psi next"),
        ("\ud800lone", "lone"),
        ("[/foo] & <b>", "[/foo] & <b>"),
        ("=1+1", "=1+1"),
        (None, ""),
        (b"35 psi\xff", "35 psi\ufffd"),
        (35, "35"),
        ("Zoë 日本 35½", "Zoë 日本 35½"),
        ("o" + "\u0301" * 50, "o" + "\u0301" * 2),
    ],
)
def test_clean(words: object, cleaned: str) -> None:
    assert clean(words) == cleaned


def test_clean_takes_what_cannot_be_turned_to_text() -> None:
    class Hostile:
        def __str__(self) -> str:
            raise RuntimeError("no")

    assert clean(Hostile()) == ""


@given(st.text(st.characters(), max_size=700) | st.binary(max_size=700))
@settings(max_examples=500)
def test_clean_is_printable_capped_and_idempotent(words: str | bytes) -> None:
    once = clean(words)
    assert clean(once) == once
    assert len(once) <= CAP
    assert all(unicodedata.category(character) not in UNSEEN for character in once)


SEQUENCE_PARTS = ["\x1b", "[", "]", "0;", "m", "\x07", "\x9b", "\x9c", "a", "\u202e", "\\", "P", "\n"]


@given(st.lists(st.sampled_from(SEQUENCE_PARTS), max_size=40))
def test_clean_leaves_no_escape_sequence(parts: list[str]) -> None:
    once = clean("".join(parts))
    assert not set(once) & set("\x1b\x07\x9b\x9c\u202e\n")
    assert clean(once) == once


@pytest.mark.parametrize(
    ("words", "duties"),
    [
        ("mostly towing, some strip", {"towing", "strip"}),
        ("I tow a fifth wheel and commute", {"towing", "daily"}),
        ("I pull sleds", {"sled"}),
        ("towing but no sled", {"towing"}),
        ("no towing, just the strip", {"strip"}),
        ("no towing or sled, just daily", {"daily"}),
        ("not just towing, also strip", {"towing", "strip"}),
        ("I don't only tow, I drag race too", {"towing", "strip"}),
        ("used to tow, now just strip", {"strip"}),
        ("drag race it and never tow with it", {"strip"}),
        ("I tow but never drag race", {"towing"}),
        ("without towing: street", {"daily"}),
        ("pull a trailer to the truck pull", {"towing", "sled"}),
        ("everything", {"daily", "towing", "strip", "sled"}),
        ("all of it", {"daily", "towing", "strip", "sled"}),
        ("Daily, Towing, Strip and SLED.", {"daily", "towing", "strip", "sled"}),
        ("no towing and daily driving", None),
        ("no towing", None),
        ("not sled", None),
        ("I don't tow", None),
        ("neither towing nor strip", None),
        ("towing, no towing", None),
        ("a bit of both", None),
        ("towinng", None),
        ("", None),
        ("not sure", None),
    ],
)
def test_read_several(words: str, duties: set[str] | None) -> None:
    if duties is None:
        with pytest.raises(Unclear):
            read_several(words, DUTIES)
    else:
        assert read_several(words, DUTIES) == duties


def test_both_of_two() -> None:
    assert read_several("a bit of both", DUTIES[1:3]) == {"towing", "strip"}
    assert read_several("both", DUTIES[1:3]) == {"towing", "strip"}


@pytest.mark.parametrize(
    ("words", "choices", "choice"),
    [
        ("t4", FEET, "T4"),
        ("T-4", FEET, "T4"),
        ("it's a tee four, I think", FEET, "T4"),
        ("not T4, T3", FEET, "T3"),
        ("T4 not T3", FEET, "T4"),
        ("not sure, T4 maybe", FEET, "T4"),
        ("the maker's own", FEET, "maker's own"),
        ("makers own", FEET, "maker's own"),
        ("no gate", GATES, "none"),
        ("it's ungated", GATES, "none"),
        ("no", GATES, "none"),
        ("just the housing", GATES, "none"),
        ("not just the housing", GATES, None),
        ("not no gate", GATES, None),
        ("it doesn't have one", GATES, "none"),
        ("internal", GATES, "internal"),
        ("T3 or T4", FEET, None),
        ("not T4", FEET, None),
        ("t5", FEET, None),
        ("not internal", GATES, None),
        ("gate", GATES, None),
        ("stock", FEET, "maker's own"),
        ("", FEET, None),
    ],
)
def test_read_choice(words: str, choices: list[tuple[str, list[str]]], choice: str | None) -> None:
    if choice is None:
        with pytest.raises(Unclear):
            read_choice(words, choices)
    else:
        assert read_choice(words, choices) == choice


def test_refused_choices_offer_the_nearest_and_the_rest() -> None:
    with pytest.raises(Unclear, match="did you mean towing") as refusal:
        read_several("toing", DUTIES)
    assert refusal.value.hint == "one of: daily, towing, strip or sled"
    with pytest.raises(Unclear, match="which one is it") as refusal:
        read_choice("T3 or T4", FEET)
    assert "T3 and T4" in refusal.value.message
    with pytest.raises(Unclear) as refusal:
        read_choice("not internal", GATES)
    assert refusal.value.hint == "one of: none, external"


@pytest.mark.parametrize(
    "word", ["no", "not", "never", "don't do", "without", "no more", "isn't", "ain't", "won't be"]
)
@pytest.mark.parametrize("duty", ["towing", "strip", "sled", "daily"])
def test_a_denied_duty_is_never_taken_as_named(word: str, duty: str) -> None:
    for words in (f"{word} {duty}", f"{word} any {duty}", f"well {word} really {duty}"):
        with pytest.raises(Unclear):
            read_several(words, DUTIES)


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        *(
            (word, True)
            for word in [
                "yes",
                "Yeah, sure",
                "yep",
                "I do",
                "it does",
                "no problem",
                "why not",
                "right",
                "uh-huh",
                "y",
                "no doubt",
            ]
        ),
        *(
            (word, False)
            for word in [
                "no",
                "nope",
                "it doesn't",
                "never",
                "of course not",
                "absolutely not",
                "no it's not",
                "not at all",
                "n",
                "not yet",
            ]
        ),
        *(
            (word, None)
            for word in [
                "yes and no",
                "not sure",
                "sometimes",
                "not really",
                "maybe",
                "35",
                "",
                "I'm not wrong",
                "it depends",
            ]
        ),
    ],
)
def test_read_yes_no(words: str, answer: bool | None) -> None:
    if answer is None:
        with pytest.raises(Unclear):
            read_yes_no(words)
    else:
        assert read_yes_no(words) is answer


@pytest.mark.parametrize(
    "words",
    [
        "not sure",
        "I don't know",
        "dunno",
        "no idea",
        "beats me",
        "Haven't a clue!",
        "couldn't tell you off hand",
        "?",
        "I'm not really sure what that is",
        "unknown",
    ],
)
def test_unsure(words: str) -> None:
    assert is_unsure(words)


@pytest.mark.parametrize(
    "words",
    [
        "not sure, about 35",
        "not sure, maybe T4",
        "yes",
        "no",
        "",
        "same as my neighbour's",
        "not sure it's towing",
        "not sure, thirty or so",
    ],
)
def test_not_merely_unsure(words: str) -> None:
    assert not is_unsure(words)


@given(st.text(max_size=200))
@settings(max_examples=300)
def test_any_text_names_choices_or_is_refused(words: str) -> None:
    is_unsure(words)
    readers = (
        lambda: read_choice(words, FEET),
        lambda: read_several(words, DUTIES),
        lambda: read_yes_no(words),
    )
    for reader in readers:
        refusal = None
        try:
            reader()
        except Unclear as unclear:
            refusal = unclear
        assert refusal is None or (refusal.message and refusal.hint and "\n" not in refusal.message)
