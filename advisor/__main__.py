"""`python -m advisor` is the same as `advisor`."""

import gc
import sys

from advisor.cli import main


def command() -> int:
    """The command that was typed, as all that this process does; returns its exit code."""
    ended = main()
    gc.freeze()  # what is left goes with the process, and isn't gone through once more
    return ended


if __name__ == "__main__":
    sys.exit(command())
