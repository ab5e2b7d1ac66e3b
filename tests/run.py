"""Install the planner with its test tools into `.venv`, then check it: `python3 tests/run.py`.

Without arguments: ruff, mypy and the whole suite; with `--long` the same, and random searches go on for long.
With other arguments: pytest alone, with these, for example `python3 tests/run.py tests/published -x`.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "demo"))

from environment import PYTHON, ROOT, SetupError, make_ready, run, step

RUFF = ["-m", "ruff", "check", "."]
MYPY = ["-m", "mypy"]
PYTEST = ["-m", "pytest", "-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder", "--assert=plain"]
"""A file is run by one process, so that what its tests share is made once; in the order of folders and files, for the
longest ones come first so. Assertions are left as they are written: to have each tell what it compared is ten seconds
for every process, and wanted of the few that fail."""
AGAIN = ["-m", "pytest", "--last-failed", "--last-failed-no-failures", "none"]


def main() -> int:
    """Run the checks, all of them even if one fails; 0 where all are green."""
    try:
        make_ready("test")
    except SetupError as error:
        print(f"tests/run.py: {error}", file=sys.stderr)
        return 1
    arguments = sys.argv[1:]
    if arguments not in ([], ["--long"]):
        return run(["-m", "pytest", *arguments])
    codes = all_checks(arguments)
    failed = [name for name, code in codes.items() if code != 0]
    if failed:
        print(f"tests/run.py: not green: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


def all_checks(arguments: list[str]) -> dict[str, int]:
    """The exit code of each check. mypy works while the tests run, and is told after them."""
    step("\n--- ruff ---")
    codes = {"ruff": run(RUFF)}
    with tempfile.TemporaryFile("w+", encoding="utf-8") as told:
        with subprocess.Popen([PYTHON, *MYPY], cwd=ROOT, stdout=told, stderr=subprocess.STDOUT) as mypy:
            step("\n--- pytest ---")
            codes["pytest"] = run(PYTEST + arguments)
            if codes["pytest"] != 0:
                step("\n--- what failed, once more, with what was compared ---")
                run(AGAIN + arguments)
            step("\n--- mypy ---")
            codes["mypy"] = mypy.wait()
        told.seek(0)
        step(told.read().rstrip())
    return codes


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("\nStopped. Start it again to go on.")
