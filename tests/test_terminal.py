"""A call in a real pseudo-terminal, driven by keys and read back from the screen."""

import os
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect
import pyte
import pytest

from advisor.journal import read

TESTS = Path(__file__).parent
STRAIGHT = {
    "request": "a 72",
    "duties": "daily and towing",
    "displacement": "5.9 litres",
    "present boost": "35 psi",
    "trailer weight": "14,000 lb",
    "transmission": "automatic",
    "road use": "yes",
}


class Window:
    """A terminal window: what the program writes, as the screen would show it."""

    def __init__(self, child: pexpect.spawn, columns: int, rows: int) -> None:
        self.child = child
        self.raw = ""
        self.screen = pyte.Screen(columns, rows)
        self.screen.write_process_input = child.send  # answers the question for the cursor position
        self.stream = pyte.Stream(self.screen)

    @property
    def text(self) -> str:
        return "\n".join(filter(None, (line.rstrip() for line in self.screen.display)))

    def read(self, seconds: float) -> None:
        """Take in what comes within the time."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                piece = self.child.read_nonblocking(65536, timeout=0.05)
            except pexpect.TIMEOUT:
                continue
            except pexpect.EOF:
                return
            self.raw += piece
            self.stream.feed(piece)

    def until(self, wanted: str, seconds: float = 15) -> str:
        """Wait until the screen shows it."""
        end = time.monotonic() + seconds
        while wanted not in self.text:
            if time.monotonic() > end or not (self.child.isalive() or wanted in self.text):
                self.read(0.2)
                assert wanted in self.text, f"{wanted!r} is not on the screen:\n{self.text}"
            self.read(0.05)
        return self.text

    def says(self, line: str, wanted: str) -> str:
        self.child.send(line + "\r")
        return self.until(wanted)

    def ended(self) -> int:
        self.read(0.3)
        self.child.expect(pexpect.EOF, timeout=10)
        self.raw += self.child.before or ""
        self.child.close()
        return self.child.exitstatus if self.child.exitstatus is not None else -self.child.signalstatus


@contextmanager
def window(
    folder: Path, columns: int, *args: str, env: dict[str, str] | None = None, rows: int = 60
) -> Iterator[Window]:
    environment = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(TESTS.parent), **(env or {})}
    child = pexpect.spawn(
        sys.executable,
        [str(TESTS / "terminal_call.py"), str(folder), *args],
        cwd=str(TESTS),
        env=environment,
        dimensions=(rows, columns),
        encoding="utf-8",
        timeout=15,
    )
    try:
        yield Window(child, columns, rows)
    finally:
        child.close(force=True)


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_a_whole_call_in_a_terminal(columns: int, tmp_path: Path) -> None:
    with window(tmp_path, columns) as seen:
        seen.until("request>")
        for fact, words in STRAIGHT.items():
            seen.says(words, f"= {fact}: ")
        seen.until("is that right?>")
        seen.says("yes", "request answer>")
        assert "64 mm wheel" in seen.text
        assert "DANGER" in seen.raw
        seen.says("accepted", "anything else?>")
        seen.child.send("no\r")
        assert seen.ended() == 0
    (journal,) = tmp_path.glob("*.call")
    assert list(read(journal).answers.values()) == [*STRAIGHT.values(), "accepted"]


def test_completion_shows_the_choices_with_what_they_mean(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.send("to")
        seen.until("means towing")
        seen.child.send("\t\r")
        seen.until("= duties: towing")


def test_the_status_line_never_covers_what_is_typed(tmp_path: Path) -> None:
    with window(tmp_path, 60, rows=12) as seen:
        seen.until("request>")
        long = "a 72 please, with a tale that goes on and on past the end of the line"
        seen.child.send(long)
        seen.read(0.5)
        assert (
            long in seen.text.replace("\n", "").replace("  ", " ") or "past the end of the line" in seen.text
        )
        assert "answered" in seen.text


def test_keys_that_would_spoil_the_typing(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.says("daily", "displacement, L>")
        seen.child.send("\x13")  # Ctrl-S
        seen.child.send("\x1b6.2")  # Esc, then a digit: no repeat count
        seen.until("displacement, L> 6.2")
        seen.says("", "= displacement: 6.2 L")
        seen.child.send("\x1b[200~35 psi\nor so\x1b[201~")  # a paste of two lines
        seen.until("present boost, psi> 35 psi or so")
        seen.says("", "= present boost: ")
    (journal,) = tmp_path.glob("*.call")
    assert read(journal).answers["present boost"] == "35 psi or so"


def test_earlier_lines_come_back_by_up_and_by_search(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.send("\x1b[A")
        seen.until("duties> a 72")
        seen.child.send("\x15")  # Ctrl-U
        seen.child.send("\x1272")  # Ctrl-R
        seen.until("reverse-i-search")


def test_ctrl_c_keeps_the_call_and_says_how_to_go_on(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.send("half an ans\x03")
        assert seen.ended() == 130
        assert "advisor call --resume" in seen.raw
    with window(tmp_path, 80, "last") as seen:
        text = seen.until("duties>")
        assert "Going on with call" in text
        assert "1 answer so far" in text


def test_ctrl_d_keeps_the_call(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.send("\x04")
        assert seen.ended() == 0
        assert "advisor call --resume" in seen.raw


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_leaves_the_terminal_in_order(number: signal.Signals, tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.kill(number)
        assert seen.ended() == 128 + number
        assert "advisor call --resume" in seen.raw
        assert (
            seen.raw.rstrip().endswith("\x1b[?2004l") or "\x1b[?2004l" in seen.raw
        )  # bracketed paste is off again
    (journal,) = tmp_path.glob("*.call")
    assert read(journal).answers == {"request": "a 72"}


def test_kill_loses_no_echoed_answer(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "= request: a 72")
        seen.says("daily", "= duties: daily")
        seen.child.kill(signal.SIGKILL)
        seen.child.wait()
    (journal,) = tmp_path.glob("*.call")
    assert list(read(journal).answers.values()) == ["a 72", "daily"]


RICH = "a 72, displacement 5.9 litres, trailer 14,000 lb, altitude 6,200 ft"


@pytest.mark.parametrize("columns", [60, 120])
def test_what_a_rich_sentence_tells_is_read_back_in_one_list_with_one_yes(columns: int, tmp_path: Path) -> None:
    with window(tmp_path, columns) as seen:
        seen.until("request>")
        text = " ".join(seen.says(RICH, "which isn't right>").split())
        assert "1, displacement: 5.9 L; 2, trailer weight: 14,000 lb (one four, fourteen thousand lb); 3," in text
        seen.says("yes", "duties>")
    (journal,) = tmp_path.glob("*.call")
    assert [*read(journal).answers] == ["request", "displacement", "trailer weight", "altitude"]


def test_kill_between_a_list_and_its_yes_loses_nothing_of_it(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says(RICH, "which isn't right>")
        seen.child.kill(signal.SIGKILL)
        seen.child.wait()
    with window(tmp_path, 80, "last") as seen:
        text = " ".join(seen.until("which isn't right>").split())
        assert "1, displacement: 5.9 L; 2, trailer weight: 14,000 lb" in text
        seen.says("all but the trailer", "trailer weight, lb>")
        seen.says("12,000", "= trailer weight: 12,000 lb")
    (journal,) = tmp_path.glob("*.call")
    answers = read(journal).answers
    assert {*answers} == {"request", "displacement", "altitude", "trailer weight"}
    assert answers["trailer weight"] == "12,000"


def test_long_work_shows_that_it_goes_on_and_cleans_up(tmp_path: Path) -> None:
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.child.send("slow\r")
        seen.until("working it out ...")
        seen.until("duties>")
        assert "working it out" not in seen.text


def test_f4_saves_the_call(tmp_path: Path) -> None:
    with window(tmp_path, 120) as seen:
        seen.until("request>")
        seen.says("a 72", "duties>")
        seen.child.send("\x1bOS")
        seen.until("Written: ")
    assert len(list(tmp_path.glob("*.yaml"))) == 1


def test_no_colour(tmp_path: Path) -> None:
    with window(tmp_path, 80, env={"NO_COLOR": "1"}) as seen:
        seen.until("request>")
        seen.says("a 72", "= request: a 72")
        assert not any(f"\x1b[{code}" in seen.raw for code in ("0;3", "0;9", "38;", "31m", "32m", "33m"))
    with window(tmp_path, 80) as seen:
        seen.until("request>")
        seen.says("a 72", "= request: a 72")
        assert "\x1b[0;32m" in seen.raw


def test_a_resize_keeps_what_is_typed(tmp_path: Path) -> None:
    with window(tmp_path, 120) as seen:
        seen.until("request>")
        seen.child.send("a 72 in a")
        seen.until("a 72 in a")
        seen.child.setwinsize(60, 60)
        seen.screen.resize(60, 60)
        seen.says(" box", "= request: a 72 in a box")


@pytest.mark.parametrize(("variable", "value"), [("ADVISOR_PLAIN", "1"), ("TERM", "dumb")])
def test_plain_mode_by_environment(variable: str, value: str, tmp_path: Path) -> None:
    with window(tmp_path, 80, env={variable: value}) as seen:
        seen.until("request>")
        seen.child.send("a 72\r")
        seen.until("duties>")
        assert "\x1b" not in seen.raw


def test_plain_lines_say_once_that_it_takes_long(tmp_path: Path) -> None:
    with window(tmp_path, 80, env={"ADVISOR_PLAIN": "1"}) as seen:
        seen.until("request>")
        seen.child.send("slow\r")
        seen.until("Working it out ...")
        seen.until("duties>")
        assert seen.raw.count("Working it out") == 1
        assert "\x1b" not in seen.raw
