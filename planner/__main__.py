"""`python -m planner`: the same as the command `transport-oxygen`."""

from __future__ import annotations

import sys


def run() -> None:
    """Runs the command. Ctrl-C while it is loaded ends it in plain words too."""
    try:
        from planner.command.cli import main

        main()
    except KeyboardInterrupt:
        sys.stderr.write("Stopped. Nothing is half written.\n")
        sys.exit(130)


if __name__ == "__main__":
    run()
