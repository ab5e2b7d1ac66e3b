"""A line typed at a terminal, and Ctrl-C that ends the wait for it whenever it is pressed.

A program that waits inside a read is woken by a signal that comes while it waits; one that comes a moment before, after
the question was printed and before the read began, only sets a flag that nobody looks at until the next key. So the
wait is for two things at once: the terminal, and a pipe into which the signal itself writes.
"""

from __future__ import annotations

import os
import select
import signal
import sys
from contextlib import ExitStack

import click


def typed(prompt: str) -> str:
    """What is typed after a prompt, without blanks around it. Raises `click.Abort` on Ctrl-C or the end of input."""
    try:
        if os.name == "posix" and at_a_terminal():  # Windows cannot wait for keys and signals together
            click.echo(prompt, nl=False)
            wait_for_line(sys.stdin.fileno())
            prompt = ""
        text: str = click.prompt("", default="", show_default=False, prompt_suffix=prompt)
    except KeyboardInterrupt:
        click.echo()
        raise click.Abort from None
    return text.strip()


def wait_for_line(terminal: int) -> None:
    """Waits until a terminal has a whole line, its end, or a signal came: also one that came just before the wait.

    `terminal` is a file descriptor. The handlers of Python run when this returns, so that Ctrl-C raises
    `KeyboardInterrupt` here. Only the main thread may wait so.
    """
    with ExitStack() as after:
        woken, wake = os.pipe()
        after.callback(os.close, woken)
        after.callback(os.close, wake)
        os.set_blocking(wake, False)
        after.callback(signal.set_wakeup_fd, signal.set_wakeup_fd(wake, warn_on_full_buffer=False))
        select.select([terminal, woken], [], [])


def at_a_terminal() -> bool:
    """True where a person sits at the keyboard, and not a file or a pipe."""
    return sys.stdin.isatty()
