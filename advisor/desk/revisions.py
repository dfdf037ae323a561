"""The knowledge as it stood in a git revision."""

import io
import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_RULE = re.compile(r"^ *- rule: *['\"]?(?P<name>[\w-]+)", re.MULTILINE)


MOST_GONE = 8
"""Rules that are gone and told each by itself."""


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
    from tempfile import TemporaryDirectory  # only for another revision: the check asks for names alone

    with TemporaryDirectory() as temporary:
        yield _laid_out(named, folder, Path(temporary))


def taken_out(folder: Path, loads: bool = True) -> list[str]:
    """A line on each rule that stood in the last git revision and stands nowhere in ``folder``, of very many on the
    first; none where that isn't kept in git. Unless the folder ``loads``, what is to mend there may come of that."""
    try:
        gone = _rules_before(folder)
    except NoRevision:
        return []
    for name in _rules_of(folder):
        gone.pop(name, None)
    on = "compare HEAD tells which calls that changes" if loads else "what is to mend here may come of that"
    lines = [f"{file}: rule '{name}' is gone since the last git revision; {on}" for name, file in gone.items()]
    more = len(lines) - MOST_GONE
    return [*lines[:MOST_GONE], f"and {more} more rules are gone"] if more > 1 else lines


def _rules_of(folder: Path) -> dict[str, str]:
    """The rules of a folder, with the file of each."""
    found: dict[str, str] = {}
    for path in sorted(folder.glob("*.yaml")):
        for named in _RULE.finditer(path.read_text(encoding="utf-8", errors="replace")):
            found[named["name"]] = path.name
    return found


def _rules_before(folder: Path) -> dict[str, str]:
    """The rules of a folder as they stood in the last git revision, with the file of each: git is asked for the lines
    that name them alone. Raises NoRevision."""
    found = _git(folder, "HEAD", "grep", "-I", "-E", "^ *- rule:", "HEAD", "--", ":(glob)*.yaml", fine=(0, 1))
    rules: dict[str, str] = {}
    for line in found.decode(errors="replace").splitlines():
        path, _, written = line.removeprefix("HEAD:").partition(":")
        if named := _RULE.match(written):
            rules[named["name"]] = path
    return rules


def _laid_out(revision: str, folder: Path, into: Path) -> Path:
    if revision.startswith("-"):
        raise NoRevision(f"{revision}: begins with '-'; name a folder or a git revision")
    top = Path(_git(folder, revision, "rev-parse", "--show-toplevel").decode().strip())
    inside = folder.resolve().relative_to(top.resolve()).as_posix()
    packed = _git(top, revision, "archive", "--format=tar", revision, "--", inside, of=folder)
    import tarfile

    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(into, filter="data")
    return into / inside


def _git(
    folder: Path, revision: str, *arguments: str, fine: tuple[int, ...] = (0,), of: Path | None = None
) -> bytes:
    """What git answers in a folder; ``of`` is what is asked of, else that folder. Raises NoRevision."""
    try:
        done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False)
    except OSError:
        raise NoRevision(f"{revision}: is no folder, and git is not installed; name a folder") from None
    if done.returncode not in fine:
        mend = "name a revision that does, or a folder: the one that it was copied from"
        raise NoRevision(f"{revision}: is no folder, and no git revision that holds {of or folder}; {mend}")
    return done.stdout
