"""The terminal: line editing, completion and colour by prompt_toolkit."""

import asyncio
import os
import signal
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress

from prompt_toolkit import PromptSession, print_formatted_text
from prompt_toolkit.application import get_app
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.filters import Condition, is_searching
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.history import InMemoryHistory
from prompt_toolkit.input import Input
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.output import ColorDepth, Output
from prompt_toolkit.styles import Style

from advisor.dialogue.commands import FORMS
from advisor.dialogue.turn import Ended, Prompt, Turn
from advisor.units import clean

PATIENCE = 0.4
A_SENTENCE = 3  # words of a pasted line that stands by itself
STYLE = Style.from_dict(
    {
        "head": "bold underline",
        "say": "bold",
        "verdict": "bold",
        "option": "bold",
        "echo": "ansigreen",
        "urgent": "ansiyellow",
        "warn": "ansiyellow",
        "stop": "bold ansired",
        "danger": "ansired",
        "care": "ansiyellow",
        "label": "bold ansiblue",
        "bottom-toolbar": "noreverse",
    }
)


class Terminal:
    """Shows and asks in a terminal. ``input`` and ``output`` are given by tests."""

    at_end = "leave"

    def __init__(self, input: Input | None = None, output: Output | None = None) -> None:
        self._prompt = Prompt("")
        no_colour = bool(os.environ.get("NO_COLOR"))
        self._depth = ColorDepth.DEPTH_1_BIT if no_colour else None
        self._session: PromptSession[str] = PromptSession(
            history=InMemoryHistory(),
            completer=_Words(self),
            complete_while_typing=True,
            key_bindings=_keys(),
            style=STYLE,
            color_depth=self._depth,
            bottom_toolbar=self._status,
            reserve_space_for_menu=5,
            enable_suspend=True,
            input=input,
            output=output,
        )
        self._output = self._session.app.output
        if input is None and _without_echo():
            self._output.erase_down()  # what the killed one left below its line
            self._say(
                "A program that was killed left this terminal without echo; `stty sane` mends it.", "warn"
            )

    @property
    def prompt(self) -> Prompt:
        """What is asked now."""
        return self._prompt

    def show(self, turn: Turn) -> None:
        """Print the lines of a turn in the terminal's width."""
        for style, line in turn.lines(self._columns()):
            self._say(line, style)

    def ask(self, prompt: Prompt) -> str:
        """Edit one line."""
        self._prompt = prompt
        before = {number: signal.getsignal(number) for number in _numbers()}
        try:
            return self._session.prompt(
                FormattedText([("class:label", prompt.label)]), pre_run=_end_on_signals
            )
        finally:
            # the event loop put back the system's way with these signals, not ours
            with suppress(ValueError):
                for number, handler in before.items():
                    signal.signal(number, handler)

    @contextmanager
    def working(self) -> Iterator[None]:
        """A short line while something takes longer than a moment; it goes away by itself."""
        shown = threading.Event()

        def tell() -> None:
            shown.set()
            self._output.write_raw("working it out ...")
            self._output.flush()

        timer = threading.Timer(PATIENCE, tell)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            timer.join()
            if shown.is_set():
                self._output.write_raw("\r")
                self._output.erase_end_of_line()
                self._output.flush()

    def _say(self, line: str, style: str) -> None:
        text = FormattedText([(f"class:{style}" if style else "", line)])
        print_formatted_text(text, style=STYLE, output=self._output, color_depth=self._depth)

    def _columns(self) -> int:
        # one column stays free: some terminals wrap a line that fills the last one
        return self._output.get_size().columns - 1

    def _status(self) -> str:
        room = self._columns()
        status = self._prompt.status
        return status if len(status) <= room else status[: room - 3] + "..."


class _Words(Completer):
    """Completes the choices of the question and, after a command that takes one, names."""

    def __init__(self, terminal: Terminal) -> None:
        self._terminal = terminal

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        """What could stand here."""
        typed = document.text_before_cursor.lstrip()
        prompt = self._terminal.prompt
        lowered = typed.lower()
        for form in sorted(FORMS, key=lambda form: -len(form.word)):
            if form.follows in ("X", "FACT", "FACT = VALUE") and lowered.startswith(form.word + " "):
                begun = typed[len(form.word) + 1 :].lstrip()
                if begun:
                    yield from _completions(begun, ((name, (), "") for name in prompt.names))
                return
        if not typed and not complete_event.completion_requested:
            return
        yield from _completions(typed.rsplit(",", 1)[-1].lstrip(), prompt.choices)
        if typed:
            commands = ((form.word, (), form.does) for form in FORMS)
            yield from _completions(typed, commands)


def _completions(begun: str, words: Iterable[tuple[str, tuple[str, ...], str]]) -> Iterator[Completion]:
    lowered = begun.lower()
    for name, others, means in words:
        if any(word.lower().startswith(lowered) for word in (name, *others)):
            yield Completion(name, start_position=-len(begun), display_meta=means[:60])


def _keys() -> KeyBindings:
    """What the usual keys would spoil: a digit after Esc is a repeat count, Ctrl-S swallows the typing, a
    paste of two lines puts a line end into the answer. F4 saves the call as a script."""
    keys = KeyBindings()

    def type_it(event: KeyPressEvent) -> None:
        event.current_buffer.insert_text(event.data[-1:])

    for digit in "0123456789-":
        keys.add("escape", digit)(type_it)

    @keys.add("c-s", filter=~is_searching)
    def _(event: KeyPressEvent) -> None:
        """Nothing."""

    @keys.add(Keys.BracketedPaste)
    def _(event: KeyPressEvent) -> None:
        event.current_buffer.insert_text(clean(_in_one_line(event.data)))

    @keys.add(Keys.Vt100MouseEvent, eager=True)
    def _(event: KeyPressEvent) -> None:
        """Nothing: no mouse is asked for, so this is a stray escape sequence."""

    @keys.add("f4", filter=Condition(lambda: not get_app().current_buffer.text))
    def _(event: KeyPressEvent) -> None:
        event.current_buffer.text = "save"
        event.current_buffer.validate_and_handle()

    return keys


def _in_one_line(pasted: str) -> str:
    """Pasted lines as one; a comma parts sentences of their own."""
    joined = ""
    for words in filter(None, map(str.split, pasted.splitlines())):
        own = len(words) >= A_SENTENCE and len(joined.rpartition(", ")[2].split()) >= A_SENTENCE
        joined += f"{',' if own else ''}{' ' if joined else ''}{' '.join(words)}"
    return joined


def _numbers() -> list[int]:
    return [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]


def _end_on_signals() -> None:
    """While a line is edited, TERM and HUP end the editing, so that the terminal is put back in order."""
    app = get_app()

    def end(number: int) -> None:
        if app.is_running and not app.is_done:
            app.exit(exception=Ended(number))

    loop = asyncio.get_running_loop()
    for number in _numbers():
        with suppress(NotImplementedError, RuntimeError, ValueError):
            loop.add_signal_handler(number, end, number)


def _without_echo() -> bool:
    """Whether a killed program left the terminal raw."""
    if sys.platform == "win32":
        return False
    import termios

    try:
        local = termios.tcgetattr(sys.stdin.fileno())[3]
    except (termios.error, OSError, ValueError):
        return False
    return not local & termios.ECHO or not local & termios.ICANON
