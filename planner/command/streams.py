"""The streams of a console that is not all there: closed, unread, or without the characters to print."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator

import click

LOST = "Standard output is closed: what was to be shown there is lost. Give it a file or a screen."


class _Lost(io.RawIOBase):
    """A stream to nowhere that knows whether anything was written to it."""

    def __init__(self) -> None:
        super().__init__()
        self.written = False

    def writable(self) -> bool:
        return True

    def write(self, data: object, /) -> int:
        size = len(memoryview(data))  # type: ignore[arg-type]
        self.written = self.written or size > 0
        return size


@contextlib.contextmanager
def streams_held() -> Iterator[list[str]]:
    """Streams that are closed lead nowhere while the block runs; afterwards the list says what was lost."""
    told: list[str] = []
    outs = [name for name in ("stdout", "stderr") if getattr(sys, name) is None]
    raws = {name: _Lost() for name in outs}
    for name, raw in raws.items():
        with contextlib.suppress(OSError):
            os.open(os.devnull, os.O_WRONLY)  # takes the number of the closed one, so that no file of ours gets it
        setattr(sys, name, io.TextIOWrapper(io.BufferedWriter(raw), encoding="utf-8", errors="replace"))
    _calm()
    try:
        yield told
    finally:
        for name in outs:
            getattr(sys, name).flush()
        if "stdout" in raws and raws["stdout"].written:
            told.append(LOST)


def _calm() -> None:
    """A console that cannot show a character shows `?` for it; printing never fails for that."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            with contextlib.suppress(ValueError, OSError):
                reconfigure(errors="replace")


def drop_output() -> None:
    """Sends what is left in the buffer nowhere, so that the end of the program stays quiet."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def stop_if_stopped(error: BaseException) -> None:
    """Raise `click.Abort` where Ctrl-C is what an error comes from: a library that loads may make another of it."""
    seen: set[BaseException] = set()
    cause: BaseException | None = error
    while cause is not None and cause not in seen:
        if isinstance(cause, KeyboardInterrupt):
            raise click.Abort from error
        seen.add(cause)
        cause = cause.__cause__ or cause.__context__
