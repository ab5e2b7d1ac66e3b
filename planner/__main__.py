"""`python -m planner`: the same as the command `transport-oxygen`."""

from __future__ import annotations

import sys

from planner.command.cli import main

if __name__ == "__main__":
    sys.exit(main())
