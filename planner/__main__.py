"""`python -m planner`: the same as the command `transport-oxygen`."""

from __future__ import annotations

import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from sys import UnraisableHookArgs


def run() -> None:
    """Runs the command. Ctrl-C while it is loaded ends it in plain words too."""
    sys.unraisablehook = ctrl_c_once_more
    try:
        from planner.command.cli import main

        main()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped. Nothing is half written.\n")
        sys.exit(130)


def ctrl_c_once_more(ignored: UnraisableHookArgs) -> None:
    """Ctrl-C that came where Python would tell of it and go on, as it does while a lock is let go, comes once more.

    It comes from a thread, which begins when this is over: here it would be lost as well.
    """
    if issubclass(ignored.exc_type, KeyboardInterrupt):
        from _thread import interrupt_main, start_new_thread

        start_new_thread(interrupt_main, ())
    else:
        sys.__unraisablehook__(ignored)


if __name__ == "__main__":
    run()
