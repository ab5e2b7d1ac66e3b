"""How long a start takes: `python -m tests.bench cold`.

`plan` from YAML to a written PDF against `tests/bench/floor.py`, which loads the same libraries and fonts and draws the
same strings and lines; and `--help` against a Python that imports click and ends. CPU time of whole processes, run in
turn.
"""

from __future__ import annotations

import marshal
import tempfile
from pathlib import Path

from planner.planning import plan
from planner.profile.read import read_trip
from tests.bench.items import FONTS, TRIP, pages_of, plain
from tests.bench.timing import side_by_side, told

PLAN_GOAL, HELP_GOAL = 1.3, 1.5


def main(runs: int = 15) -> None:
    """Prints both ratios."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pages = plain(pages_of(plan(read_trip(str(TRIP)))))
        (folder / "items").write_bytes(marshal.dumps(pages))
        commands = {
            "floor": ["tests/bench/floor.py", str(folder / "items"), *FONTS, str(folder / "floor.pdf")],
            "plan": ["-m", "planner", "plan", str(TRIP), "--output", name],
            "click": ["-c", "import click"],
            "help": ["-m", "planner", "--help"],
        }
        times = side_by_side(commands, runs)
    print(f"Cold start, CPU time, {runs} runs in turn, {len(pages)} pages:")
    print(told("floor script", times["floor"]))
    print(told("plan, YAML to written PDF", times["plan"], times["floor"], PLAN_GOAL))
    print(told("python -c 'import click'", times["click"]))
    print(told("--help", times["help"], times["click"], HELP_GOAL))
