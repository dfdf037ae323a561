"""The journal of a call: every answer is on disk before it is echoed.

One file a call, one JSON object a line. A line is written in one piece, flushed and synced; a line that a
crash tore is cut off before the next one is written, so that it never costs the next answer. The file holds
the caller's own words; what leaves the shop is masked (see ``advisor.dialogue.script``).
"""

import json
import os
import secrets
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from advisor.outcome import Answer, Understood

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FORM = 1
FAR = 1 << 30  # past the end of any journal: Windows locks bytes, and those must stay readable
ENDING = ".call"
MOST_LISTED, LONGEST_TOPIC = 5, 50
Entry = dict[str, Any]


class JournalError(Exception):
    """The journal can't be used; the message is one line that says what to do."""


@dataclass(slots=True)
class Record:
    """What a journal holds: the answers as they stand now, in order, and what became of the call."""

    call: str = ""
    started: str = ""
    knowledge: str = ""
    answers: dict[str, str] = field(default_factory=dict)
    skipped: dict[str, None] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    stood: list[str] = field(default_factory=list)  # questions about answers at odds that were left as told
    offered: dict[str, str] = field(default_factory=dict)  # told beside an answer, and not yet confirmed
    waiting: dict[str, str] = field(default_factory=dict)  # the same, kept until its question comes
    enough: bool = False
    closed: bool = False

    def take(self, entry: Entry) -> None:
        """Add one entry; what a later version of the program wrote and this one doesn't know is passed
        over."""
        match entry:
            case {"form": int(form)} if form > FORM:
                raise JournalError(f"written by a newer version (form {form}); resume with that version")
            case {"call": str(call), "started": str(started), **rest}:
                self.call, self.started, self.knowledge = call, started, str(rest.get("knowledge", ""))
            case {"answer": str(fact), "words": str(words)}:
                self.answers[fact] = words
                self.skipped.pop(fact, None)
            case {"skip": str(fact)}:
                self.skipped[fact] = None
                self.answers.pop(fact, None)
            case {"reopen": str(fact)}:  # asked again
                self.answers.pop(fact, None)
                self.skipped.pop(fact, None)
            case {"note": str(text)}:
                self.notes.append(text)
            case {"stands": str(question)}:
                self.stood.append(question)
            case {"offered": dict(offered), "waiting": dict(waiting)}:
                self.offered, self.waiting = offered, waiting
            case {"enough": bool(enough)}:
                self.enough = enough
            case {"closed": bool(closed)}:
                self.closed = closed


def default_folder() -> Path:
    """Where journals lie when no folder is named: the user's state folder (XDG_STATE_HOME where that is
    set)."""
    from platformdirs import user_state_path

    return user_state_path("advisor", appauthor=False) / "calls"


class Journal:
    """The journal of one call, open for appending. Use as a context manager, or ``close`` it."""

    def __init__(self, path: Path, stream: BinaryIO, record: Record) -> None:
        self.path = path
        self.record = record
        self._stream = stream

    @classmethod
    def start(cls, folder: Path, knowledge: str = "") -> "Journal":
        """A journal for a new call. Raises JournalError when the folder can't be written."""
        now = datetime.now(UTC)
        call = f"{now:%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"
        path = folder / (call + ENDING)
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        except OSError as error:
            raise JournalError(_refused(folder, error)) from error
        journal = cls(path, _locked(handle, path), Record())
        journal.append([{"form": FORM, "call": call, "started": f"{now:%Y-%m-%dT%H:%M:%SZ}", "knowledge": knowledge}])
        _sync_folder(folder)
        return journal

    @classmethod
    def resume(cls, path: Path) -> "Journal":
        """The journal of a call that was broken off. A torn tail is cut. Raises JournalError."""
        try:
            handle = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
        except OSError as error:
            raise JournalError(_refused(path, error)) from error
        stream = _locked(handle, path)
        try:
            kept, record = _read(stream.read(), path)
        except JournalError:
            stream.close()
            raise
        stream.truncate(kept)
        stream.seek(kept)
        return cls(path, stream, record)

    def append(self, entries: Sequence[Entry]) -> None:
        """Write the entries and sync them; when this returns they are on disk. Raises JournalError."""
        if not entries:
            return
        text = "".join(json.dumps(entry, ensure_ascii=False) + "\n" for entry in entries)
        try:
            self._stream.write(text.encode("utf-8", "replace"))
            self._stream.flush()
            os.fsync(self._stream.fileno())
        except OSError as error:
            raise JournalError(_refused(self.path, error)) from error
        for entry in entries:
            self.record.take(entry)

    def close(self) -> None:
        """Release the file."""
        with suppress(OSError):
            self._stream.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def read(path: Path) -> Record:
    """What a journal holds, without touching it. Raises JournalError."""
    try:
        return _read(path.read_bytes(), path)[1]
    except OSError as error:
        raise JournalError(_refused(path, error)) from error


def unfinished(folder: Path) -> list[Record]:
    """The calls that were broken off, the latest first; a journal that can't be read is left out."""
    records = []
    for path in sorted(folder.glob("*" + ENDING), reverse=True):
        with suppress(JournalError):
            record = read(path)
            if record.call and record.answers and not record.closed:
                records.append(record)
    return records


def path_of(folder: Path, call: str) -> Path:
    """The file of a call, named in full or by a beginning that only one unfinished call has; "last" is the
    latest.

    Raises JournalError with the latest calls that there are, each with its time and what it is about.
    """
    calls = {record.call: record for record in unfinished(folder)}
    names = list(calls)
    found = names[:1] if call == "last" else [name for name in names if name == call or name.startswith(call)]
    if len(found) == 1:
        return folder / (found[0] + ENDING)
    if not names:
        raise JournalError(f"no unfinished call in {folder}")
    what = f"several calls begin with {call!r}" if found else f"no unfinished call {call!r}"
    listed = [_told(calls[name]) for name in (found or names)[:MOST_LISTED]]
    more = len(found or names) - len(listed)
    raise JournalError(f"{what}; the latest: {'; '.join(listed)}{f'; and {more} more' if more else ''}")


def _told(record: Record) -> str:
    """A call with its time and how it opened."""
    opened = ", ".join(list(record.answers.values())[:2])
    about = opened if len(opened) <= LONGEST_TOPIC else f"{opened[:LONGEST_TOPIC].rstrip()} ..."
    with suppress(ValueError):
        return f"{record.call} ({datetime.fromisoformat(record.started):%d %b %H:%M} UTC, “{about}”)"
    return f"{record.call} (“{about}”)"


def _read(raw: bytes, path: Path) -> tuple[int, Record]:
    """(length of the sound part, what it holds)."""
    record, kept = Record(), 0
    for number, (end, line) in enumerate(_lines(raw), 1):
        try:
            entry = json.loads(line)
            if not isinstance(entry, dict):
                raise ValueError
        except (ValueError, RecursionError):
            if end == len(raw) or not raw[end:].strip(b"\0\r\n "):
                break  # the torn tail
            raise JournalError(f"{path}:{number}: not a journal line; remove the line to resume") from None
        try:
            record.take(entry)
        except JournalError as error:
            raise JournalError(f"{path}:{number}: {error}") from None
        kept = end
    return kept, record


def _lines(raw: bytes) -> Iterator[tuple[int, bytes]]:
    """(end, line) of each whole line; what follows the last line end is torn and left out."""
    start = 0
    while (end := raw.find(b"\n", start)) >= 0:
        yield end + 1, raw[start:end]
        start = end + 1


def _locked(handle: int, path: Path) -> BinaryIO:
    stream = os.fdopen(handle, "r+b")
    try:
        _lock(handle)
    except OSError as error:
        stream.close()
        raise JournalError(f"{path.stem} is open in another window; go on there or close it first") from error
    return stream


def _lock(handle: int) -> None:
    """Keep other windows out of an open file until it is closed. Raises OSError where one has it."""
    if sys.platform == "win32":
        os.lseek(handle, FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        finally:
            os.lseek(handle, 0, os.SEEK_SET)
    else:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _sync_folder(folder: Path) -> None:
    """Make a new file's name durable, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _refused(path: Path, error: OSError) -> str:
    return f"{path}: {(error.strerror or str(error)).lower()}; name another folder for the journals"


def entries_of(answers: Iterable["Answer"]) -> list[Entry]:
    """Journal entries for answers."""
    return [{"answer": answer.fact, "words": answer.words} for answer in answers]


def told_beside(offered: Iterable["Understood"], waiting: Iterable["Understood"]) -> Entry:
    """The journal entry for what was told beside answers, in place of the one before: on offer, and ``waiting`` for its
    question."""
    now, later = ({one.answer.fact: one.answer.words for one in told} for told in (offered, waiting))
    return {"offered": now, "waiting": later}
