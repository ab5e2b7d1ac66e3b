"""Pieces of work for the tests of several processes: a process that starts from nothing finds them by name."""

from __future__ import annotations

import os
import time
from multiprocessing import parent_process


def double(text: str) -> str:
    """The text twice."""
    return text + text


def process(_text: str) -> int:
    """The process that does the work, after a while in which others can take some too."""
    time.sleep(0.02)
    return os.getpid()


def fatal(text: str) -> str:
    """Ends every process but the first one where the text says so."""
    if text.startswith("fatal") and parent_process() is not None:
        os._exit(17)
    return text


def refuse(text: str) -> str:
    """Raises for one text."""
    if text == "7":
        raise ValueError(text)
    return text
