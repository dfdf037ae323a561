"""The knowledge as it stood in a git revision, laid out in a temporary folder."""

import io
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class NoRevision(Exception):
    """There is no such state of the knowledge; the message is one line that says how to name one."""


@contextmanager
def state(named: str, folder: Path) -> Iterator[Path]:
    """The folder that is named, or ``folder`` as it stood in the git revision that is named.

    Raises NoRevision.
    """
    if Path(named).is_dir():
        yield Path(named)
        return
    with tempfile.TemporaryDirectory() as temporary:
        yield _laid_out(named, folder, Path(temporary))


def _laid_out(revision: str, folder: Path, into: Path) -> Path:
    if revision.startswith("-"):
        raise NoRevision(f"{revision}: begins with '-'; name a folder or a git revision")
    top = Path(_git(folder, revision, "rev-parse", "--show-toplevel").decode().strip())
    inside = folder.resolve().relative_to(top.resolve()).as_posix()
    packed = _git(top, revision, "archive", "--format=tar", revision, "--", inside)
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(into, filter="data")
    return into / inside


def _git(folder: Path, revision: str, *arguments: str) -> bytes:
    try:
        done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False)
    except OSError:
        raise NoRevision(f"{revision}: is no folder, and git is not installed; name a folder") from None
    if done.returncode:
        raise NoRevision(f"{revision}: is no folder, and no git revision that holds {folder}; name one of these")
    return done.stdout
