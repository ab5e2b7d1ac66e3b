"""How long a history takes to be read and reviewed: `python -m tests.bench review`.

For 100,000, 200,000 and 400,000 lines it prints the CPU time and the ratio to a bare loop of `json.loads` over the same
lines, measured in turn, which is meant to stay within 1.7, and for a million lines the memory of a process of its own,
meant to stay within 200 MB. The lines are those of the invented service of demo/, trip after trip under IDs of their
own.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from statistics import median

from planner.afterwards.review.history import read
from planner.afterwards.review.review import review
from tests.bench.timing import ROOT, call_ms

GOAL = 1.7
GOAL_MB = 200


def lines() -> Iterator[str]:
    """Lines of closed trips without end."""
    known = (ROOT / "demo" / "history.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    again = 0
    while True:
        yield from (line.replace('"demo', f'"d{again}-', 1) for line in known)
        again += 1


def bare(path: Path) -> None:
    """The floor."""
    with path.open(encoding="utf-8") as file:
        for line in file:
            json.loads(line)


def reviewed(path: Path) -> None:
    """What the command does with a file, but for the words."""
    with path.open(encoding="utf-8") as file:
        review(read([(path.name, file)]))


def in_turn(path: Path, runs: int) -> tuple[float, float]:
    """Median CPU times of reviewing and of the floor, milliseconds, measured one after the other in turn."""
    pairs = [(call_ms(lambda: reviewed(path), 1), call_ms(lambda: bare(path), 1)) for _ in range(runs)]
    taken, least = zip(*pairs, strict=True)
    return median(taken), median(least)


def main() -> None:
    """Prints one line a length, then the memory."""
    print("Reviewing a history, CPU time; the floor is json.loads of each line:")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "history.jsonl"
        for count in (100_000, 200_000, 400_000):
            path.write_text("".join(islice(lines(), count)), encoding="utf-8")
            taken, least = in_turn(path, 5)
            print(f"  {count:9,} lines {taken:9.0f} ms, {taken / least:5.2f} x floor (goal {GOAL:g})")
        with path.open("w", encoding="utf-8") as file:
            file.writelines(islice(lines(), 1_000_000))
        script = "import sys; from pathlib import Path; from tests.bench.review import peak; peak(Path(sys.argv[1]))"
        told = subprocess.run(
            [sys.executable, "-c", script, str(path)], cwd=ROOT, capture_output=True, text=True, check=True
        )
        print(f"  1,000,000 lines {told.stdout.strip()} MB at the most (goal {GOAL_MB})")


def peak(path: Path) -> None:
    """Prints the most memory that reviewing a file takes, MB; of this process alone, not of the one that began it."""
    reviewed(path)
    status = Path("/proc/self/status").read_text(encoding="ascii")
    most_kb = next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM:"))
    print(f"{int(most_kb) / 1024:.0f}")
