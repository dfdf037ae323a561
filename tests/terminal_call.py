"""A call at the small invented desk in the terminal that this is started in; the screen tests drive it.

Arguments: the folder for journals, and "last" to go on with the latest call.
"""

import sys
import time
from pathlib import Path

import desk

from advisor.dialogue.loop import asker, run
from advisor.journal import Journal, path_of


def slowly(answers):
    """The consultation, held up where the caller mentions a slow one, as a big catalogue would."""
    if answers and answers[-1].words == "slow":
        time.sleep(1.2)
    return desk.consult(answers)


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    found = Journal.resume(path_of(folder, sys.argv[2])) if len(sys.argv) > 2 else Journal.start(folder, "d1")
    with found as journal:
        sys.exit(run(slowly, desk.KNOWLEDGE, asker(), journal, folder))
