"""The command line where neither fcntl nor termios is and the platform is called win32, with a lock that keeps a byte
as Windows does; run as a program by the tests. What prompt_toolkit does in a Windows console is not tried by this.
"""

import concurrent.futures  # noqa: F401  what looks at the platform while it is imported comes first
import ctypes  # noqa: F401
import multiprocessing  # noqa: F401
import os
import sys
import sysconfig
from types import ModuleType

import numpy as np  # noqa: F401
import prompt_toolkit  # noqa: F401

sysconfig.get_config_vars()
HELD: set[tuple[int, int]] = set()


def locking(handle: int, mode: int, count: int) -> None:
    """Keep a byte of a file; OSError where this process keeps it already."""
    byte = (os.fstat(handle).st_ino, os.lseek(handle, 0, os.SEEK_CUR))
    if byte in HELD:
        raise PermissionError(13, "Permission denied")
    HELD.add(byte)


msvcrt = ModuleType("msvcrt")
msvcrt.LK_NBLCK = 2  # type: ignore[attr-defined]
msvcrt.locking = locking  # type: ignore[attr-defined]
sys.modules |= {"msvcrt": msvcrt, "fcntl": None, "termios": None}  # type: ignore[dict-item]
sys.platform = "win32"

from advisor.cli import main  # noqa: E402

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
