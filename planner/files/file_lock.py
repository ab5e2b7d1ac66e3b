"""A lock on a file that only one process at a time may rewrite.

The lock is held by the operating system on a file of its own beside the other, `.NAME.lock`, and ends with the process
that holds it, however that ends: a lock is never left behind. The lock file itself stays, empty.
Imports nothing of the program but its errors.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from planner import figures
from planner.files.output import OutputError

LONGEST_WAIT_S: Final = 20.0
_PAUSE_S: Final = 0.02


@contextmanager
def locked(path: Path, wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Holds the lock of a file while the block runs; waits at most `wait_s` seconds for others to end.

    Raises `OutputError` where the lock file cannot be made, or others hold the lock for longer.
    """
    beside = path.with_name(f".{path.name}.lock")
    try:
        handle = os.open(beside, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise OutputError(f"{beside}: cannot be made ({reason}). Fix: get leave to write in its folder.") from None
    try:
        _wait(handle, path, wait_s)
        yield
    finally:
        os.close(handle)


def _wait(handle: int, path: Path, wait_s: float) -> None:
    until = time.monotonic() + wait_s
    while not _taken(handle):
        if time.monotonic() >= until:
            raise OutputError(
                f"{path}: another program has been writing it for {figures.plain(wait_s)} s. Fix: let it end, "
                f"then try again; "
                "nothing was changed."
            )
        time.sleep(_PAUSE_S)


if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
