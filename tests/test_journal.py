"""The journal: what was echoed is on disk, whatever happens next."""

import importlib.util
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.journal import (
    Journal,
    JournalError,
    default_folder,
    entries_of,
    path_of,
    read,
    unfinished,
)
from advisor.outcome import Answer


def started(folder: Path, *answers: tuple[str, str]) -> Path:
    with Journal.start(folder, "digest") as journal:
        for fact, words in answers:
            journal.append(entries_of([Answer(fact, words)]))
    return journal.path


def test_answers_come_back_as_they_stand(tmp_path: Path) -> None:
    path = started(tmp_path, ("request", "a 64"), ("duties", "towing"), ("request", "a 62 \u20ac \u2028 x"))
    record = read(path)
    assert list(record.answers.items()) == [("request", "a 62 \u20ac \u2028 x"), ("duties", "towing")]
    assert record.knowledge == "digest"
    assert record.call == path.stem


def test_everything_else_is_kept_too(tmp_path: Path) -> None:
    with Journal.start(tmp_path) as journal:
        journal.append(
            [{"answer": "a", "words": "1"}, {"skip": "b"}, {"note": "in a hurry"}, {"enough": True}]
        )
        journal.append([{"answer": "b", "words": "2"}, {"from a later version": 1}])
    record = read(journal.path)
    assert record.answers == {"a": "1", "b": "2"}
    assert record.skipped == {}
    assert record.notes == ["in a hurry"]
    assert record.enough
    assert not record.closed


def test_a_torn_tail_is_cut_and_never_costs_the_next_answer(tmp_path: Path) -> None:
    path = started(tmp_path, ("request", "a 64"), ("duties", "towing"))
    whole = path.read_bytes()
    last = whole.rstrip(b"\n").rfind(b"\n") + 1
    for cut in range(last, len(whole)):
        path.write_bytes(whole[:cut])
        with Journal.resume(path) as journal:
            assert list(journal.record.answers) == ["request"]
            journal.append(entries_of([Answer("altitude", "6,200 ft")]))
        assert read(path).answers == {"request": "a 64", "altitude": "6,200 ft"}


@pytest.mark.parametrize("tail", [b"\0\0\0\0", b"\xff\xfe", b'{"answer": "x"', b"[1]\n", b"\0\0\0\n\0\0"])
def test_rubbish_at_the_end_is_cut(tail: bytes, tmp_path: Path) -> None:
    path = started(tmp_path, ("request", "a 64"))
    path.write_bytes(path.read_bytes() + tail)
    with Journal.resume(path) as journal:
        journal.append(entries_of([Answer("altitude", "1 m")]))
    assert read(path).answers == {"request": "a 64", "altitude": "1 m"}


def test_a_broken_line_in_the_middle_is_named_and_nothing_is_cut(tmp_path: Path) -> None:
    path = started(tmp_path, ("request", "a 64"), ("duties", "towing"))
    lines = path.read_bytes().splitlines(keepends=True)
    broken = lines[0] + b"{{{\n" + lines[1] + lines[2]
    path.write_bytes(broken)
    with pytest.raises(JournalError, match=r":2: not a journal line; remove the line"):
        Journal.resume(path)
    assert path.read_bytes() == broken


def test_a_newer_form_is_refused(tmp_path: Path) -> None:
    path = started(tmp_path, ("request", "a 64"))
    path.write_text(path.read_text().replace('"form": 1', '"form": 2'))
    with pytest.raises(JournalError, match="newer version"):
        read(path)


def test_one_window_at_a_time(tmp_path: Path) -> None:
    with (
        Journal.start(tmp_path) as journal,
        pytest.raises(JournalError, match="open in another window"),
    ):
        Journal.resume(journal.path)
    Journal.resume(journal.path).close()


def test_on_windows_too_there_is_one_window_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that Python opens are shared there, so a byte past the end is locked (Microsoft C runtime, `_locking`)."""
    held: set[tuple[int, int]] = set()

    def locking(handle: int, mode: int, count: int) -> None:
        place = (os.fstat(handle).st_ino, os.lseek(handle, 0, os.SEEK_CUR))
        if mode != 2 or count != 1 or place in held:
            raise PermissionError(13, "Permission denied")
        held.add(place)

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(LK_NBLCK=2, locking=locking))
    monkeypatch.setitem(sys.modules, "fcntl", None)
    spec = importlib.util.find_spec("advisor.journal")
    assert spec is not None
    assert spec.loader is not None
    there = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, there)
    spec.loader.exec_module(there)
    with there.Journal.start(tmp_path) as journal:
        journal.append(entries_of([Answer("request", "a 64")]))
        with pytest.raises(there.JournalError, match="open in another window"):
            there.Journal.resume(journal.path)
        assert there.read(journal.path).answers == {"request": "a 64"}
    assert journal.path.stat().st_size < 1000


def test_unfinished_calls_are_listed_the_latest_first(tmp_path: Path) -> None:
    first = started(tmp_path, ("request", "a 64"))
    second = started(tmp_path, ("request", "a 62"))
    empty = started(tmp_path)
    (tmp_path / "x.call").write_text("rubbish\nrubbish\n")
    with Journal.start(tmp_path) as closed:
        closed.append([*entries_of([Answer("request", "a 60")]), {"closed": True}])
    listed = [record.call for record in unfinished(tmp_path)]
    assert set(listed) == {first.stem, second.stem}
    assert listed == sorted(listed, reverse=True)
    assert empty.stem not in listed
    assert path_of(tmp_path, "last").stem == listed[0]
    assert path_of(tmp_path, first.stem) == first
    with pytest.raises(JournalError, match="no unfinished call 'nonesuch'; the latest: "):
        path_of(tmp_path, "nonesuch")
    told = rf"{first.stem} \(\d\d \w{{3}} \d\d:\d\d UTC, “a 64”\)"
    with pytest.raises(JournalError, match=told):
        path_of(tmp_path, "nonesuch")
    with pytest.raises(JournalError, match="several calls begin with '2'"):
        path_of(tmp_path, "2")
    with pytest.raises(JournalError, match="no unfinished call in"):
        path_of(tmp_path / "elsewhere", "last")


def test_the_folder_follows_the_state_home_of_the_user(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert sys.platform != "linux" or default_folder() == tmp_path / "advisor" / "calls"


def test_a_folder_that_cannot_be_written_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(JournalError, match="name another folder for the journals"):
        Journal.start(tmp_path / "file" / "calls")


def test_a_journal_is_for_its_owner_only(tmp_path: Path) -> None:
    path = started(tmp_path / "calls", ("request", "a 64"))
    assert os.name != "posix" or path.stat().st_mode & 0o077 == 0


@settings(max_examples=60)
@given(st.lists(st.tuples(st.sampled_from("abc"), st.text(max_size=20)), max_size=6), st.binary(max_size=12))
def test_any_words_survive_any_tail(
    tmp_path_factory: pytest.TempPathFactory, said: list[tuple[str, str]], tail: bytes
) -> None:
    path = started(tmp_path_factory.mktemp("calls"), *said)
    kept = {fact: words.encode("utf-8", "replace").decode() for fact, words in said}
    path.write_bytes(path.read_bytes() + tail.replace(b"\n", b""))
    with Journal.resume(path) as journal:
        assert journal.record.answers == kept


WRITER = """
import sys
from pathlib import Path
from advisor.journal import Journal
path = Path(sys.argv[1])
with Journal.resume(path) as journal:
    for number in range(len(journal.record.answers), 100_000):
        journal.append([{"answer": f"fact {number}", "words": "word " * (number % 40)}])
        print(number, flush=True)
"""


def killed(folder: Path, times: int) -> int:
    """Kill a writer at random moments, each time going on with the same call; the answers on disk at the end."""
    path = started(folder)
    moments = random.Random(7)
    answers: dict[str, str] = {}
    for _ in range(times):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
        )
        assert writer.stdout is not None
        writer.stdout.readline()
        time.sleep(moments.uniform(0, 0.03))
        writer.send_signal(signal.SIGKILL)
        echoed = [line for line in writer.communicate()[0].split(b"\n")[:-1] if line]
        answers = read(path).answers
        if echoed:
            assert f"fact {int(echoed[-1])}" in answers
        assert list(answers) == [f"fact {number}" for number in range(len(answers))]
    return len(answers)


def test_kill_at_random_moments_loses_no_echoed_answer(tmp_path: Path) -> None:
    assert killed(tmp_path, 60) >= 60
