"""The loop of a call: ask, hear, journal, show. The same for a terminal, a pipe and a script."""

import os
import shlex
import signal
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from pathlib import Path
from threading import Thread, Timer
from types import FrameType
from typing import TextIO

from advisor.dialogue.call import Call
from advisor.dialogue.turn import Asker, Consult, Ended, Prompt, Reread, Turn
from advisor.hearing import recalled
from advisor.inference.agenda import FiringError
from advisor.journal import Entry, Journal, JournalError
from advisor.knowledge import Knowledge
from advisor.sheet.layout import Para

FELL_SHORT, INTERRUPTED = 1, 130
LONGEST_LINE = 10_000
PATIENCE = 0.8
"""Seconds after which plain lines say once that something is being worked out."""


def run(
    consult: Consult,
    knowledge: Knowledge,
    asker: Asker,
    journal: Journal | None,
    folder: Path,
    conclude: Consult | None = None,
    reread: Reread | None = None,
    begun_with: Mapping[str, Path] | None = None,
) -> int:
    """Take a call; ``consult``, ``conclude`` and ``reread`` as in ``Call``. Scripts and sheets go to ``folder``; who
    goes on with the call must name the folders that it was ``begun_with``, by option, where these aren't the usual.
    Returns the exit code: 0, also for a call that was left and is kept; 1 when nothing could be advised or the rule
    engine fails; 130 after Ctrl-C; 128 and the signal's number after a signal."""
    with _signals():
        try:
            with asker.working():
                call = Call(consult, knowledge, journal.record if journal else None, conclude, reread)
                turn = call.open()
            ahead = Thread(target=_consult_ahead, args=(call, knowledge))
            while True:
                _record(journal, turn.entries, asker)
                asker.show(turn)
                if ahead.ident is None:  # not before the opening question is on the screen
                    ahead.start()
                for name, content in turn.files:
                    asker.show(Turn((_written(folder / Path(name).expanduser(), content),)))
                if turn.prompt is None:
                    break
                try:
                    line = asker.ask(turn.prompt)
                except EOFError:
                    if asker.at_end == "leave":
                        break
                    with asker.working():
                        turn = call.finish()
                    continue
                with asker.working():
                    turn = call.hear(line)
            code = FELL_SHORT if call.fell_short else 0
        except KeyboardInterrupt:
            code = INTERRUPTED
        except Ended as ended:
            code = 128 + ended.signal_number
        except FiringError as error:
            asker.show(Turn((Para(f"Nothing may be concluded: {error}", "warn"),)))
            code = FELL_SHORT
        with suppress(OSError, KeyboardInterrupt, Ended):  # the window may be gone
            _say_goodbye(journal, asker, begun_with or {})
    return code


def asker(plain: bool = False) -> Asker:
    """Whoever fits where the program runs: the terminal, or plain lines when that was asked for (``plain``,
    or ADVISOR_PLAIN set), when input or output is no terminal, or when the terminal can do no more."""
    able = sys.stdin.isatty() and sys.stdout.isatty()
    unable = os.name == "posix" and os.environ.get("TERM", "dumb") in ("dumb", "unknown")
    if plain or os.environ.get("ADVISOR_PLAIN", "0") not in ("", "0") or not able or unable:
        return Plain(sys.stdin, sys.stdout)
    from advisor.dialogue.terminal import Terminal

    return Terminal()


class Plain:
    """Lines in, lines out: no colour, no cursor movement. Fit for screen readers, pipes and dumb
    terminals."""

    def __init__(self, lines_in: TextIO, lines_out: TextIO, width: int | None = None) -> None:
        self._in, self._out = lines_in, lines_out
        self._typed = lines_in.isatty()
        self._width = width
        self.at_end = "leave" if self._typed else "conclude"
        for stream in (lines_in, lines_out):
            with suppress(AttributeError, ValueError):
                stream.reconfigure(errors="replace")  # type: ignore[attr-defined]

    def show(self, turn: Turn) -> None:
        """Write the lines of a turn."""
        for _, line in turn.lines(self._width or columns()):
            self._out.write(line + "\n")
        self._out.flush()

    def ask(self, prompt: Prompt) -> str:
        """Read one line; what comes from a pipe is repeated, so that the output reads like the call."""
        self._out.write(prompt.label)
        self._out.flush()
        line = self._in.readline(LONGEST_LINE)
        while line and not line.endswith("\n") and (rest := self._in.readline(LONGEST_LINE)):
            if rest.endswith("\n"):
                line += "\n"
        if not line:
            self._out.write("\n")
            raise EOFError
        if not self._typed:
            from advisor.units import clean

            self._out.write(clean(line) + "\n")
        return line.rstrip("\r\n")

    def working(self) -> AbstractContextManager[None]:
        """One line where somebody waits long, nothing in a pipe: a moving sign is noise to a screen reader."""
        return self._patience() if self._typed else nullcontext()

    @contextmanager
    def _patience(self) -> Iterator[None]:
        timer = Timer(PATIENCE, self._waits)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            timer.join()

    def _waits(self) -> None:
        self._out.write("Working it out ...\n")
        self._out.flush()


class Scripted(Plain):
    """Lines from a list, as a script or a test gives them."""

    def __init__(self, script: Sequence[str], lines_out: TextIO, width: int = 80) -> None:
        import io

        super().__init__(io.StringIO("".join(line + "\n" for line in script)), lines_out, width)


def columns() -> int:
    """The width of the terminal, 80 where there is none."""
    import shutil

    return shutil.get_terminal_size((80, 24)).columns


def _consult_ahead(call: Call, knowledge: Knowledge) -> None:
    """Work out what the call starts from, and learn how not knowing is said, while the opening question is read out."""
    with suppress(Exception):  # raised again where the outcome is needed
        _ = call.consultation
        said_before = next(iter(knowledge.vocabulary.values())).heard_of_any
        recalled.rather_not_sure(said_before, "what anybody may say")


def _record(journal: Journal | None, entries: Sequence[Entry], asker_: Asker) -> None:
    """Journal before showing; where the disk refuses, say so and go on: the call matters more."""
    if journal is None:
        return
    try:
        journal.append(entries)
    except JournalError as error:
        asker_.show(Turn((Para(f"Not kept on disk: {error}", "warn"),)))


def _written(path: Path, content: str) -> Para:
    """Write a new file; never over an old one."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(content)
    except FileExistsError:
        return Para(f"{path} is there already; give another name.", "warn")
    except OSError as error:
        return Para(f"{path}: {(error.strerror or str(error)).lower()}; nothing was written.", "warn")
    hint = (
        " Names that nothing points out as names can stay: read it through." if path.suffix == ".yaml" else ""
    )
    return Para(f"Written: {path}.{hint}", "echo")


def _say_goodbye(journal: Journal | None, asker_: Asker, begun_with: Mapping[str, Path]) -> None:
    if journal is None or journal.record.closed:
        return
    if journal.record.answers:
        where = "".join(f" --{option} {shlex.quote(str(folder))}" for option, folder in begun_with.items())
        words = f"The call is kept. Go on with: advisor call --resume {journal.record.call}{where}"
    else:
        words = "Nothing was answered yet."
    asker_.show(Turn((Para(""), Para(words, "echo"))))


@contextmanager
def _signals() -> Iterator[None]:
    """TERM and HUP end the call in order instead of leaving the terminal without echo."""

    def end(number: int, _frame: FrameType | None) -> None:
        raise Ended(number)

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    try:
        before = {getattr(signal, name): signal.signal(getattr(signal, name), end) for name in names}
    except ValueError:  # not in the main thread: whoever runs the thread sees to signals
        yield
        return
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
