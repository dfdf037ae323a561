"""Whatever is done to a knowledge folder, the check answers with placed faults, and quickly."""

import re
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.knowledge import Fault, Knowledge, KnowledgeError, Place, check, load
from advisor.knowledge.conditions import facts_in, walk
from advisor.knowledge.grammar import Misread, parse_condition, parse_sum
from advisor.knowledge.meaning import Reader
from advisor.knowledge.source import read_yaml
from advisor.knowledge.vocabulary import read_vocabulary

BASE = Path(__file__).parent / "knowledge_base"
FACTS = read_vocabulary(read_yaml(BASE / "facts.yaml", "facts.yaml"))
FILES = {name: (BASE / name).read_text("utf-8") for name in ("facts.yaml", "rules.yaml")}
SPICES = (
    " ", "\n", "\t", ":", ": ", "-", "- ", "#", " #", "'", '"', "{", "}", "[", "]", ",", "&a ", "*a", "!x ", "|", ">",
    "%", "@", "?", "\\", "\0", "\u202e", "\ufeff", "\u0085", "\ud7ff", "é", "<", "<=", "=", "(", ")", "* 2", "/ 0",
    "5", "-5", "1e999", ".inf", "nan", "0x10", "14,000 lb", "3 psi", "is", " is not ", "known", "and", "power goal",
    "not known", "duties", "any:", "none:", "null", "~", "yes", "<<: ", "---", "...", "%YAML 1.1\n", "\r", "{{a}}",
)  # fmt: skip
WORDS = ("", *SPICES, *re.findall(r"[\w°%]+|[<>=]+", FILES["rules.yaml"] + FILES["facts.yaml"])[:400])
EDIT = st.tuples(
    st.sampled_from(("insert", "delete", "replace", "repeat", "indent")),
    st.floats(0, 1),
    st.integers(1, 30),
    st.sampled_from(SPICES),
)


def edited(text: str, edits: list[tuple[str, float, int, str]]) -> str:
    for kind, where, length, spice in edits:
        at = int(where * len(text))
        match kind:
            case "insert":
                text = text[:at] + spice + text[at:]
            case "delete":
                text = text[:at] + text[at + length :]
            case "replace":
                text = text[:at] + spice + text[at + length :]
            case "repeat":
                text = text[: at + length] + text[at:]
            case _:
                line = text.rfind("\n", 0, at) + 1
                text = text[:line] + " " * (length % 5) + text[line:]
    return text


def examine(files: dict[str, bytes]) -> tuple[Fault, ...]:
    """The faults of a folder with these files, checked to be what a fault must be."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(BASE / "catalogue", folder / "catalogue")
        for file, content in files.items():
            (folder / file).write_bytes(content)
        faults = check(folder)
        for fault in faults:
            source = files.get(fault.place.file, b"").decode("utf-8", "replace").removeprefix("\ufeff")
            lines = re.split("\r\n|[\n\r\x85\u2028\u2029]", source)
            assert 1 <= fault.place.line <= len(lines)
            assert 1 <= fault.place.column <= len(lines[fault.place.line - 1]) + 1
            assert fault.what
            assert fault.mend
            assert "\n" not in str(fault)
        errors = tuple(fault for fault in faults if fault.severity == "error")
        if errors:
            with pytest.raises(KnowledgeError) as refused:
                load(folder)
            assert refused.value.faults == errors
        else:
            assert isinstance(load(folder), Knowledge)
        return faults


@settings(max_examples=300)
@given(st.sampled_from(sorted(FILES)), st.lists(EDIT, min_size=1, max_size=4))
def test_any_edit_gives_placed_faults_or_sound_knowledge(name: str, edits: list[tuple[str, float, int, str]]) -> None:
    texts = FILES | {name: edited(FILES[name], edits)}
    examine({file: text.encode("utf-8", "surrogatepass") for file, text in texts.items()})


@settings(max_examples=150)
@given(st.sampled_from(sorted(FILES)), st.binary(max_size=200), st.floats(0, 1))
def test_any_bytes_give_placed_faults(name: str, noise: bytes, where: float) -> None:
    files = {file: text.encode() for file, text in FILES.items()}
    at = int(where * len(files[name]))
    files[name] = files[name][:at] + noise + files[name][at:]
    examine(files)


@settings(max_examples=1000)
@given(st.lists(st.sampled_from(WORDS), max_size=9), st.sampled_from(("", " ")))
@example(["power goal", " is not ", "known", "known"], "")
def test_any_line_is_understood_or_refused_inside_itself(words: list[str], between: str) -> None:
    text = between.join(words)
    faults: list[Fault] = []
    condition = Reader(FACTS, faults).condition(text, lambda offset: Place("a.yaml", 1, offset))
    assert (condition is None) == bool(faults)
    assert all(0 <= fault.place.column <= len(text) and fault.what and fault.mend for fault in faults)
    if condition is not None:
        assert facts_in(condition) <= FACTS.keys()
        assert facts_in(condition)
        for node in walk(condition):
            assert node.text in text
            assert node.text == node.text.strip()


@settings(max_examples=500)
@given(st.text(max_size=60))
def test_any_text_is_parsed_or_misread(text: str) -> None:
    for parse in (parse_condition, parse_sum):
        try:
            tree = parse(text)
        except Misread as misread:
            start, end = misread.offset, misread.offset
        else:
            start, end = tree.start, tree.end
        assert 0 <= start <= end <= len(text)


def test_what_is_taken_for_a_key_is_placed_within_its_own_line() -> None:
    line = '    ask: "How much larger are the injectors?"\n'
    assert line in FILES["facts.yaml"]
    faults = examine({"facts.yaml": FILES["facts.yaml"].replace(line, "    ask\n" + line).encode()})
    assert any("'ask'" in fault.what or "ask" in fault.mend for fault in faults)


def test_a_tab_within_a_unit_is_a_fault_and_no_crash() -> None:
    line = '    unit: "%"\n'
    assert line in FILES["facts.yaml"]
    text = FILES["facts.yaml"].replace("quantity: percent", "quantity: temperature")
    faults = examine({"facts.yaml": text.replace(line, '    unit: "\u00b0\\tF"\n').encode()})
    assert any("unit" in f"{fault.what} {fault.mend}" for fault in faults)
