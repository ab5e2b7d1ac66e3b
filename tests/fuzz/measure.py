"""What the hostile files cost the real command: `python -m tests.fuzz.measure`.

Prints the processor time and peak memory of `check` on each sample of `hostile.py`, and of `compare` on each form of
`hostile_forms.py`, the dearest last, and what it said first. Names of samples may be given, to run those alone. The
exit code is 1 where one costs more than it may.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Final, NamedTuple

from tests.fuzz import hostile_forms
from tests.fuzz.hostile import SAMPLES, TRIP, Files, trip

ROOT = Path(__file__).resolve().parent.parent.parent
MOST_CPU_S: Final = 2.0
MOST_MB: Final = 200.0


class Cost(NamedTuple):
    """What one run of the command took, and what it gave."""

    cpu_s: float
    peak_mb: float
    code: int
    out: str
    err: str


_HELPER: Final = """
import os, resource, sys
child = os.fork()
if not child:
    resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
    os.execv(sys.argv[2], sys.argv[2:])
_, status, used = os.wait4(child, 0)
with open(sys.argv[1], "w") as cost:
    print(used.ru_utime + used.ru_stime, used.ru_maxrss, os.waitstatus_to_exitcode(status), file=cost)
"""
"""A small process between the two: a process begins with the peak of the one that it was split from."""


def run(arguments: Iterable[str], folder: Path) -> Cost:
    """Start the command in a folder, and measure that process alone."""
    command = [sys.executable, "-m", "planner", *arguments]
    ran = subprocess.run(
        [sys.executable, "-I", "-S", "-c", _HELPER, "cost.txt", *command],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=True,
    )
    cpu_s, peak, code = (folder / "cost.txt").read_text(encoding="ascii").split()
    per_mb = 2**20 if sys.platform == "darwin" else 2**10
    return Cost(float(cpu_s), float(peak) / per_mb, int(code), ran.stdout, ran.stderr)


def lay(files: Files, folder: Path) -> None:
    """Write the files of a sample into a folder."""
    for name, data in files.items():
        (folder / name).write_bytes(data)


def check(name: str, folder: Path) -> Cost:
    """What `check` says of one sample, laid into a folder."""
    lay(SAMPLES[name](), folder)
    return run(["check", TRIP], folder)


def compare(name: str, folder: Path) -> Cost:
    """What `compare` says of one form, with the process that reads it."""
    lay({TRIP: trip().encode(), "form.pdf": hostile_forms.SAMPLES[name]()}, folder)
    return run(["compare", TRIP, "form.pdf"], folder)


def main() -> None:
    """Run the samples and print what they cost."""
    wanted = sys.argv[1:] or [*SAMPLES, *hostile_forms.SAMPLES]
    costs: list[tuple[Cost, str]] = []
    for name in wanted:
        with tempfile.TemporaryDirectory() as folder:
            costs.append(((check if name in SAMPLES else compare)(name, Path(folder)), name))
            print(".", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for cost, name in sorted(costs):
        said = (cost.out + cost.err).splitlines()
        first = said[0][:90] if said else ""
        figures = f"{cost.cpu_s:6.2f} s {cost.peak_mb:5.0f} MB  exit {cost.code:2} {len(said):4} lines"
        print(f"{figures}  {name:35}  {first}")
    sys.exit(any(cost.cpu_s > MOST_CPU_S or cost.peak_mb > MOST_MB for cost, _ in costs))


if __name__ == "__main__":
    main()
