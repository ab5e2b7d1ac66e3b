"""See that the tests take every branch of the arithmetic: `python -m tests.mutation.branches`.

Runs the tests and prints, for each module of `mutants.py`, which lines and branches none of them takes; the exit status
is 0 where there are none. Needs `coverage` (`pip install coverage`), which the gate does not.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.mutation.mutants import MODULES, ROOT, TESTS

DOCTESTS = ("planner/gas",)


def main() -> int:
    """Run the tests and report on the modules."""
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"COVERAGE_FILE": str(Path(folder) / "coverage")}

        def coverage(*words: str) -> int:
            return subprocess.run(
                [sys.executable, "-m", "coverage", *words], cwd=ROOT, env=environment, check=False
            ).returncode

        pytest = ("-m", "pytest", "-q", "-p", "no:cacheprovider", *DOCTESTS, *TESTS)
        ended = coverage("run", "--branch", f"--include={','.join(MODULES)}", *pytest)
        return ended or coverage("report", "-m", "--fail-under=100", "--precision=1")


if __name__ == "__main__":
    sys.exit(main())
