"""`new` at a terminal of its own, for the tests."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def at_a_terminal(
    folder: Path, arguments: Sequence[str], answers: Sequence[str], seconds_before_last: float = 0.0
) -> tuple[str, int]:
    """What `new` says, and its exit code; the last answer is typed so long after its question."""
    import pty

    here, there = pty.openpty()
    started = subprocess.Popen(
        [sys.executable, "-c", _AT_A_TERMINAL, "new", *arguments],
        stdin=there,
        stdout=there,
        stderr=there,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "dumb"},
        start_new_session=True,
    )
    os.close(there)
    said = ""
    for place, answer in enumerate(answers, 1):
        said += _until_prompt(here)
        time.sleep(seconds_before_last if place == len(answers) else 0.0)
        os.write(here, answer.encode())
    said += _rest(here)
    code = started.wait(timeout=20)
    os.close(here)
    return said, code


_AT_A_TERMINAL = """
import fcntl, runpy, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # signals of the keyboard come from here
sys.argv[0] = "planner"
runpy.run_module("planner", run_name="__main__")
"""


def _until_prompt(terminal: int, seconds: float = 20.0) -> str:
    """What is said until the next prompt."""
    said, end = "", time.monotonic() + seconds
    while not said.endswith("> "):
        ready, _, _ = select.select([terminal], [], [], max(0.0, end - time.monotonic()))
        assert ready, said
        said += os.read(terminal, 4096).decode(errors="replace")
    return said


def _rest(terminal: int, seconds: float = 20.0) -> str:
    """What is said up to the end."""
    said, end = "", time.monotonic() + seconds
    try:
        while True:
            ready, _, _ = select.select([terminal], [], [], max(0.0, end - time.monotonic()))
            assert ready, said
            part = os.read(terminal, 4096)
            if not part:
                return said
            said += part.decode(errors="replace")
    except OSError:  # Linux tells the end of a terminal so
        return said
