"""Install the planner with its test tools into `.venv`, then check it: `python3 tests/run.py`.

Without arguments: ruff, mypy and the whole suite; with `--long` the same, and random searches go on for long.
With other arguments: pytest alone, with these, for example `python3 tests/run.py tests/published -x`.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "demo"))

from environment import SetupError, make_ready, run, step

CHECKS = {
    "ruff": ["-m", "ruff", "check", "."],
    "mypy": ["-m", "mypy"],
    "pytest": ["-m", "pytest", "-n", "auto", "--dist", "loadgroup"],
}


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
    failed = []
    for name, command in CHECKS.items():
        step(f"\n--- {name} ---")
        if run(command + arguments * (name == "pytest")) != 0:
            failed.append(name)
    if failed:
        print(f"tests/run.py: not green: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("\nStopped. Start it again to go on.")
