"""What hostile files cost the real command, beside a floor measured in the same run: `python -m tests.fuzz.measure`.

Prints the processor time and peak memory of `check` on each sample of `hostile.py`, of `compare` on each form of
`hostile_forms.py`, and of the verbs in `hostile_commands.py`, the dearest last, and what each said first. Beside the
time stands its ratio to the floor: `check` of a small sound profile, run right before. Names of samples may be given,
to run those alone. The exit code is 1 where one costs more than it may.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Final, NamedTuple

from tests.bench.timing import environment
from tests.fuzz import hostile_forms
from tests.fuzz.hostile import SAMPLES, TRIP, Files, trip
from tests.fuzz.hostile_commands import COMMANDS

ROOT = Path(__file__).resolve().parent.parent.parent
MOST_CPU_S: Final = 2.0
MOST_MB: Final = 200.0
MOST_FLOORS: Final = 8.0
"""2 s, where the floor takes a quarter of a second; a machine with other work slows both down."""


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
    resource.setrlimit(resource.RLIMIT_CPU, (20, 20))
    os.execv(sys.argv[2], sys.argv[2:])
_, status, used = os.wait4(child, 0)
with open(sys.argv[1], "w") as cost:
    print(used.ru_utime + used.ru_stime, used.ru_maxrss, os.waitstatus_to_exitcode(status), file=cost)
"""
"""A small process between the two: a process begins with the peak of the one that it was split from."""


def run(arguments: Iterable[str], folder: Path) -> Cost:
    """Start the command in a folder, and measure that process alone; after 20 s of processor time it is ended."""
    command = [sys.executable, "-m", "planner", *arguments]
    ran = subprocess.run(
        [sys.executable, "-I", "-S", "-c", _HELPER, "cost.txt", *command],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        env={**environment(), "PYTHONPATH": str(ROOT)},
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


def of(name: str, folder: Path) -> Cost:
    """What the command says of one sample of any kind, with the process that reads it if it is a form."""
    if name in SAMPLES:
        return check(name, folder)
    if name in COMMANDS:
        files, arguments = COMMANDS[name]
        lay(files(), folder)
        return run(arguments, folder)
    lay({TRIP: trip().encode(), "form.pdf": hostile_forms.SAMPLES[name]()}, folder)
    return run(["compare", TRIP, "form.pdf"], folder)


def floor(folder: Path) -> Cost:
    """What `check` takes for a small sound profile."""
    lay({TRIP: trip().encode()}, folder)
    return run(["check", TRIP], folder)


def main() -> None:
    """Run the samples and print what they cost."""
    wanted = sys.argv[1:] or [*SAMPLES, *hostile_forms.SAMPLES, *COMMANDS]
    costs: list[tuple[float, Cost, str]] = []
    with tempfile.TemporaryDirectory() as first:
        floor(Path(first))  # compiles what is not compiled yet
        of(next(iter(hostile_forms.SAMPLES)), Path(first))
    for name in wanted:
        with tempfile.TemporaryDirectory() as small, tempfile.TemporaryDirectory() as folder:
            least = floor(Path(small)).cpu_s
            cost = of(name, Path(folder))
            costs.append((cost.cpu_s / least, cost, name))
            print(".", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for floors, cost, name in sorted(costs):
        said = (cost.out + cost.err).splitlines()
        first_line = said[0][:90] if said else ""
        figures = f"{floors:5.1f} floors {cost.cpu_s:6.2f} s {cost.peak_mb:5.0f} MB  exit {cost.code:2}"
        print(f"{figures} {len(said):4} lines  {name:35}  {first_line}")
    sys.exit(
        any(
            floors > MOST_FLOORS or cost.peak_mb > MOST_MB or "Traceback" in cost.err or "fault of the" in cost.err
            for floors, cost, _ in costs
        )
    )


if __name__ == "__main__":
    main()
