"""CPU time of processes and of calls, and how a measured figure is told beside its floor."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from statistics import median
from time import process_time

ROOT = Path(__file__).resolve().parents[2]


@cache
def environment() -> Mapping[str, str]:
    """Modules are kept compiled in a folder of their own, as in an installed program."""
    compiled = tempfile.mkdtemp(prefix="bench-compiled-")
    own = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": compiled, "PYTHONHASHSEED": "0"}
    return {**os.environ, **own}


def child_ms(arguments: Sequence[str]) -> float:
    """CPU time of Python with these arguments from its start to its end, user and system, milliseconds."""
    child = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=dict(environment()),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    assert child.stderr is not None
    said = child.stderr.read()
    child.stderr.close()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 3):  # a no-go prints its pages too
        raise SystemExit(f"{' '.join(arguments)} ended with {child.returncode}:\n{said.decode(errors='replace')}")
    return (used.ru_utime + used.ru_stime) * 1e3


def side_by_side(commands: Mapping[str, Sequence[str]], runs: int) -> dict[str, list[float]]:
    """CPU times of each command, one after the other in turn, after one run that only warms the disk."""
    times: dict[str, list[float]] = {name: [] for name in commands}
    for run in range(runs + 1):
        for name, arguments in commands.items():
            taken = child_ms(arguments)
            if run:
                times[name].append(taken)
    return times


def call_ms(work: Callable[[], object], runs: int = 7) -> float:
    """Median CPU time of one call, milliseconds, with nothing of an earlier call left to collect."""
    times = []
    for _ in range(runs):
        gc.collect()
        start = process_time()
        work()
        times.append((process_time() - start) * 1e3)
    return median(times)


def told(what: str, times: Sequence[float], floor: Sequence[float] | None = None, goal: float | None = None) -> str:
    """One line: least and median of the times, and their ratios to those of the floor."""
    line = f"  {what:34} least {min(times):7.1f} ms, median {median(times):7.1f} ms"
    if floor is not None:
        line += f"   {min(times) / min(floor):5.2f} and {median(times) / median(floor):5.2f} x floor"
    if goal is not None:
        line += f" (goal {goal:g})"
    return line
