"""Reading YAML with places: against PyYAML's own reading, and every kind of file that must be refused."""

import os
import pickle
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from advisor.knowledge import KnowledgeError, Place, load
from advisor.knowledge import source as reading
from advisor.knowledge.places import LONGEST, Fault, did_you_mean, listed, nearest
from advisor.knowledge.source import MAX_BYTES, MAX_DEPTH, Document, parse_yaml, read_yaml
from advisor.knowledge.yaml_text import explain

REFUSED = yaml.safe_load((Path(__file__).parent / "broken_rules" / "refused.yaml").read_text("utf-8"))["files"]
LOADERS = {"C": yaml.CBaseLoader, "pure": yaml.BaseLoader}
HARD_SPACES = "\u00a0\u2007\u2009\u202f"  # read as plain ones outside of quotes
WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn"), exclude_characters=HARD_SPACES),
    max_size=20,
)
TREES = st.recursive(
    WORDS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=20,
)


@pytest.fixture(params=LOADERS, autouse=True)
def loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything holds with libyaml and without it."""
    monkeypatch.setattr(reading, "_Loader", LOADERS[request.param])


def parse(text: str | bytes) -> Document:
    return parse_yaml(text.encode() if isinstance(text, str) else text, "a.yaml")


def test_scalars_stay_what_was_written() -> None:
    document = parse("no: yes\nratio: 1:30\ncode: 0150\nsize: 4E1\nweight: 14,000\nnothing: ~\nleft out:\n")
    assert document.data == {
        "no": "yes", "ratio": "1:30", "code": "0150", "size": "4E1", "weight": "14,000", "nothing": "~",
        "left out": "",
    }  # fmt: skip
    assert not document.faults


@given(TREES, st.sampled_from([None, "'", '"', "|", ">"]), st.booleans(), st.sampled_from([10, 40, 1000]))
def test_agrees_with_pyyaml_and_places_every_word(tree: object, style: str | None, flow: bool, width: int) -> None:
    """Whatever PyYAML writes is read back the same, and the place of each word is where that word stands."""
    text = yaml.dump(tree, default_style=style, default_flow_style=flow, width=width, allow_unicode=True)
    document = parse_yaml(text.encode(), "a.yaml")
    if any("tag" in event.__dict__ and event.tag for event in yaml.parse(text)):
        return
    if document.data is None:
        assert document.faults
        return
    assert document.data == yaml.load(text, yaml.BaseLoader)
    lines = text.split("\n")
    for path, event in document.nodes.items():
        if path[-1:] in ((-1,), (-2,)) or not isinstance(event, yaml.ScalarEvent):
            continue
        place = document.place(path)
        assert (place.line, place.column) == (event.start_mark.line + 1, event.start_mark.column + 1)
        for offset, character in enumerate(event.value):
            if not character.isspace() and event.style != '"':
                place = document.place_in(path, offset)
                assert lines[place.line - 1][place.column - 1] == character


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("a: bcd", [(1, 4), (1, 5), (1, 6), (1, 7)]),
        ("a: 'it''s'", [(1, 5), (1, 6), (1, 7), (1, 9), (1, 10)]),
        ('a: "\\u00b0F"', [(1, 5), (1, 11), (1, 12)]),
        ('a: "x\\\n   y"', [(1, 5), (2, 4), (2, 5)]),
        ('a: "x\n\n   y"', [(1, 5), (1, 6), (3, 4), (3, 5)]),
        ("a: x\n  y", [(1, 4), (1, 5), (2, 3), (2, 4)]),
        ("a: |\n  x\n  y", [(2, 3), (2, 4), (3, 3)]),
        ("a: >-\n  x\n  y", [(2, 3), (2, 4), (3, 3), (3, 4)]),
        ("a: '''x'''", [(1, 5), (1, 7), (1, 8)]),
        ("a: |-\n  - x", [(2, 3), (2, 4), (2, 5), (2, 6)]),
        ("a: >+\n  + x\n", [(2, 3), (2, 4), (2, 5)]),
        ("a: |\n\n  x\n", [(2, 1), (3, 3), (3, 4)]),
        ("a: >\n  x\n\n  y\n", [(2, 3), (2, 4), (4, 3), (4, 4)]),
        ("a: x\n\n  y", [(1, 4), (1, 5), (3, 3), (3, 4)]),
        ("a: x\r\n  y", [(1, 4), (1, 5), (2, 3), (2, 4)]),
        ("a: 'x\n\n\n  y'", [(1, 5), (1, 6), (2, 1), (4, 3), (4, 4)]),
        ("a: 'x'' y'", [(1, 5), (1, 6), (1, 7), (1, 9), (1, 10)]),
        ('a: "x\\x41y"', [(1, 5), (1, 6), (1, 10), (1, 11)]),
        ('a: "x\\U0001F600y"', [(1, 5), (1, 6), (1, 16), (1, 17)]),
        ('a: "\\"x\\""', [(1, 5), (1, 7), (1, 8), (1, 9)]),
        ('a: "x\\\r\n  y"', [(1, 5), (2, 3), (2, 4)]),
        ('a: "x\r\n  y"', [(1, 5), (1, 6), (2, 3), (2, 4)]),
        ('a: "x\n  y\\n\\nz"', [(1, 5), (1, 6), (2, 3), (2, 4), (2, 6), (2, 8), (2, 9)]),
        ("a: x y  # z", [(1, 4), (1, 5), (1, 6), (1, 7)]),
        ("a: ''", [(1, 5)]),
        ("a: |\n", [(1, 5)]),
        ("a:", [(1, 3)]),
    ],
)
def test_places_inside_texts(text: str, places: list[tuple[int, int]]) -> None:
    document = parse(text)
    found = [document.place_in(("a",), offset) for offset in range(len(places))]
    assert found == [Place("a.yaml", line, column) for line, column in places]


def test_places_of_keys_and_of_what_is_not_there() -> None:
    document = parse("# first\na:\n  - b: c\n    d: [e, f]\n")
    assert document.place(("a", 0, "d", 1)) == Place("a.yaml", 4, 12)
    assert document.key_place(("a", 0, "d")) == Place("a.yaml", 4, 5)
    assert document.key_place(("a", 0)) == Place("a.yaml", 3, 5)
    assert document.place(("a", 0, "missing", "deep")) == Place("a.yaml", 3, 5)
    assert document.place_in(("a", 0), 3) == Place("a.yaml", 3, 5)
    assert Document("b.yaml").place(("x",)) == Place("b.yaml", 1, 1)


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: repr(case["from"]))
def test_refused(case: dict[str, str]) -> None:
    assert [str(fault) for fault in parse(case["from"]).faults] == [case["told"]]


def test_each_group_that_stands_again_is_told_though_the_first_was_words() -> None:
    told = [str(fault) for fault in parse("a: words\na:\n  b: 1\na:\n  b: 2\n").faults]
    assert [line for line in told if "'a'" in line] == [
        f"a.yaml:{line}:1: 'a' is here a second time (first in line 1, column 1); keep one of the two"
        for line in (2, 4)
    ]
    assert [line.partition(": ")[2] for line in told if "'a'" not in line] == [
        "'b' is here a second time (first in line 3, column 3); keep one of the two"
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"a: caf\xe9\n", "a.yaml:1:7: this is not UTF-8 text (byte 0xE9); save the file as UTF-8"),
        (b"a: b\r\nc: caf\xe9\n", "a.yaml:2:7: this is not UTF-8 text (byte 0xE9); save the file as UTF-8"),
        ("a: b".encode("utf-16-le"), "a.yaml:1:2: a control character (U+0000); delete it and type the text anew"),
        ("a: b".encode("utf-16"), "a.yaml:1:1: is written in UTF-16; save it as UTF-8"),
        ("\ufeffa: b".encode("utf-16-be"), "a.yaml:1:1: is written in UTF-16; save it as UTF-8"),
    ],
)
def test_other_encodings_are_refused(content: bytes, told: str) -> None:
    document = parse(content)
    assert [str(fault) for fault in document.faults] == [told]
    assert document.data is None


@pytest.mark.parametrize("text", ["a: b # c\n", "# a\nb: c\n", "a: 'b #c'\n", 'a: "b #c"\n', "a: b#c\n", "a: #\n"])
def test_comments_are_welcome(text: str) -> None:
    assert not parse(text).faults


def test_a_byte_order_mark_is_passed_over() -> None:
    document = parse(b"\xef\xbb\xbfa: b\n")
    assert document.data == {"a": "b"}
    assert document.place(("a",)) == Place("a.yaml", 1, 4)


@pytest.mark.parametrize("depth", [MAX_DEPTH - 1, MAX_DEPTH, 400, 5_000, 100_000])
def test_depth_is_bounded(depth: int) -> None:
    document = parse("a: " + "[" * depth + "]" * depth)
    assert bool(document.faults) == (depth >= MAX_DEPTH)
    assert all("nested" in fault.what for fault in document.faults)


@pytest.mark.parametrize("size", [MAX_BYTES + 1, 10_000_000])
def test_size_is_bounded(tmp_path: Path, size: int) -> None:
    path = tmp_path / "big.yaml"
    path.write_bytes(b"a" * size)
    assert [str(fault) for fault in read_yaml(path, "big.yaml").faults] == [
        "big.yaml:1:1: is larger than 1 MiB; split it into files by topic"
    ]
    path.write_bytes(b"#" * MAX_BYTES)
    assert read_yaml(path, "big.yaml").faults == []


@pytest.mark.parametrize("line", ["a: b\n", "- a\n", "[]: b\n", "'\n", "#x\n", "a: b #c\n", "- - - a\n"])
def test_long_files_take_no_time_out_of_proportion(line: str) -> None:
    """Tens of thousands of duplicate keys, entries or comments: a cost per line, not per pair of lines."""
    parse(line * (100_000 // len(line)))


def test_what_the_reader_says_of_no_place_stands_at_the_beginning() -> None:
    told = explain(yaml.MarkedYAMLError(problem="depth exceeded"), "a.yaml", "a: b\n")
    assert str(told) == "a.yaml:1:1: nested too deep; write it flatter"


def test_an_alias_bomb_costs_nothing() -> None:
    bomb = "a0: &a0 [x]\n" + "".join(f"a{n + 1}: &a{n + 1} [{', '.join([f'*a{n}'] * 9)}]\n" for n in range(9))
    document = parse(bomb)
    assert document.data is None
    assert len(document.faults) == 1


def test_nothing_is_constructed(tmp_path: Path) -> None:
    document = parse(f"a: !!python/object/apply:pathlib.Path.touch [!!python/object:pathlib.Path {tmp_path}/x]")
    assert document.data is None
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("pipe.yaml", "a.yaml:1:1: is not a file; put a YAML file there"),
        (".", "a.yaml:1:1: is not a file; put a YAML file there"),
        ("loop.yaml", "a.yaml:1:1: is a link to a file that is gone; mend the link, or delete it"),
        ("missing.yaml", "a.yaml:1:1: there is no such file; put it there"),
        (f"{'x' * 300}.yaml", "a.yaml:1:1: can't be read (File name too long); see to its permissions"),
    ],
)
def test_what_is_no_file_is_refused(name: str, told: str, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "loop.yaml").symlink_to(tmp_path / "loop.yaml")
    document = read_yaml(tmp_path / name, "a.yaml")
    assert [str(fault) for fault in document.faults] == [told]
    assert document.place() == Place("a.yaml", 1, 1)


def test_the_folder_must_be_there(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match=r"facts.yaml:1:1: there is no folder '.*nowhere'; name a folder"):
        load(tmp_path / "nowhere")
    (tmp_path / "towing.yaml").write_text("rules: []\n", "utf-8")
    with pytest.raises(KnowledgeError, match=rf"'.*towing.yaml' is a file; name the folder: {tmp_path}"):
        load(tmp_path / "towing.yaml")


def test_a_fault_is_one_line_of_bearable_length() -> None:
    fault = Fault(Place("a.yaml", 1, 1), "first\nsecond " + "x" * (LONGEST - 13), "third\n")
    assert str(fault) == f"a.yaml:1:1: first second {'x' * (LONGEST - 13)}; third"
    longer = Fault(Place("a.yaml", 1, 1), "y" * (LONGEST + 1), "z" * 5_000)
    assert str(longer) == f"a.yaml:1:1: {'y' * (LONGEST - 4)} ...; {'z' * (LONGEST - 4)} ..."
    assert pickle.loads(pickle.dumps(KnowledgeError([fault]))).faults == (fault,)


@pytest.mark.parametrize(
    ("word", "names", "found"),
    [
        ("Tune", ["tune", "tunes"], "tune"),
        ("duties", ["dutiful", "duty"], "duty"),  # the one of many, though another begins more like it
        ("choice", ["choic", "choices"], "choices"),
        ("row rating", ["row weighing", "tow rating"], "tow rating"),
        ("power goal now", ["goal", "power goal", "power now"], "power goal"),
        ("hot", ["hat", "hoe"], "hoe"),  # both one letter off: the one that begins alike for longer
        ("weight", ["boost", "loaded trailer weight now", "the weight of it"], "the weight of it"),
        ("weight", ["lightweight trailers", "overweight load"], None),  # a part of a word is no word
        ("xyz", ["boost"], None),
        ("boost", [], None),
    ],
)
def test_what_may_have_been_meant(word: str, names: list[str], found: str | None) -> None:
    assert nearest(word, names) == nearest(word, names[::-1]) == found
    assert did_you_mean(word, names, "else") == (f"did you mean '{found}'?" if found else "else")


def test_long_lists_are_cut_with_a_count() -> None:
    assert listed([str(number) for number in range(8)]) == "0, 1, 2, 3, 4, 5, 6, 7"
    assert listed([str(number) for number in range(10)]) == "0, 1, 2, 3, 4, 5, 6, 7 and 2 more"
