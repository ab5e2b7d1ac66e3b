"""Many trips in one run: `python -m tests.bench many --trips 1000`.

Each trip is read, planned, laid out and printed, and its pages are drawn again on a bare canvas with the same strings,
in turn in one process; the ratio is of CPU time. Then the command itself plans all of them in one process and in two,
by the clock, so that nothing else should run meanwhile.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from time import perf_counter, process_time
from typing import TypeVar

from planner.command.cli import COLLECT_EVERY
from planner.pages import pack
from planner.pages.drawing import fonts
from planner.planning import plan
from planner.profile.read import read_trip
from tests.bench import floor
from tests.bench.items import many_trips, pages_of, plain
from tests.bench.timing import ROOT

T = TypeVar("T")
PAGE_GOAL, PROCESSES_GOAL = 1.25, 1.6


class Clock:
    """CPU time by step, milliseconds."""

    def __init__(self) -> None:
        self.ms: dict[str, float] = {}

    def __call__(self, step: str, work: Callable[[], T]) -> T:
        """The result of `work`, its time added to that of the step."""
        start = process_time()
        result = work()
        self.ms[step] = self.ms.get(step, 0.0) + (process_time() - start) * 1e3
        return result


def main(trips: int = 1000) -> None:
    """Prints the time of a page by step, and what a second process is worth."""
    with tempfile.TemporaryDirectory() as name:
        files = [str(path) for path in many_trips(trips, Path(name))]
        _pages(files)
        _processes(files, Path(name))


def _pages(files: list[str]) -> None:
    font_of: dict[str, str] = {face: fonts.register(face) for face in fonts.FILES}
    clock, count = Clock(), 0
    usual = gc.get_threshold()
    gc.set_threshold(COLLECT_EVERY)  # as the command does
    for file in files:
        trip = clock("read", lambda file=file: read_trip(file))  # type: ignore[misc]
        made = clock("plan", lambda trip=trip: plan(trip))  # type: ignore[misc]
        pages = clock("lay out", lambda made=made: pages_of(made))  # type: ignore[misc]
        clock("draw", lambda pages=pages: pack.render(pages, "a4", "trip"))  # type: ignore[misc]
        bare = plain(pages)
        clock("floor", lambda bare=bare: floor.draw(BytesIO(), bare, font_of))  # type: ignore[misc]
        count += len(pages)
    gc.set_threshold(*usual)
    bare_ms = clock.ms.pop("floor")
    whole_ms = sum(clock.ms.values())
    print(f"{len(files)} trips, {count} pages, CPU time a page, one process:")
    print("  " + ", ".join(f"{step} {ms / count:.3f} ms" for step, ms in clock.ms.items()))
    print(f"  whole {whole_ms / count:.3f} ms, bare canvas {bare_ms / count:.3f} ms", end="")
    print(f"   {whole_ms / bare_ms:.2f} x floor (goal {PAGE_GOAL:g})")


def _processes(files: list[str], folder: Path) -> None:
    seconds = {}
    for jobs in (1, 2):
        out = folder / f"out-{jobs}"
        arguments = ["-m", "planner", "plan", *files, "--format", "pdf", "--output", str(out), "--jobs", str(jobs)]
        start = perf_counter()
        subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        seconds[jobs] = perf_counter() - start
        written = len(list(out.iterdir()))
        assert written == len(files), f"{written} of {len(files)} packs were written"
    print(f"The same trips through the command, by the clock, {os.cpu_count()} processors:")
    print(f"  one process {seconds[1]:.1f} s, two {seconds[2]:.1f} s", end="")
    print(f"   {seconds[1] / seconds[2]:.2f} times as fast (goal {PROCESSES_GOAL:g})")
