"""A search for files that break the reader, led by what they make it do: `python -m tests.fuzz --seconds 600 --seed 1`.

Files of the project are changed (`mutate.py`), read, planned and judged (`judge.py`). A case that runs through a step
from one line of the reader to another that no case before took, or that shows two kinds of problem together for the
first time, is kept and changed further. So the search comes to places that several faults at once reach. It is a loop
of its own, for two reasons: the usual fuzzers for Python are built for some versions and systems only, and they change
bytes, of which hardly any are a profile.

Each case has limits: two seconds of processor time without the tracing, and 200 MB above what the program takes
when it starts. Whatever breaks the rules is written to a folder, with the error beside it; the exit code is then 1.
The same seed gives the same cases as long as the program and its files stay the same. Needs Linux or macOS.
"""

from __future__ import annotations

import argparse
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from itertools import combinations_with_replacement
from pathlib import Path
from random import Random
from types import CodeType, FrameType
from typing import Any, Final

from planner.problems import Problem
from tests.fuzz.judge import judge
from tests.fuzz.measure import MOST_CPU_S, MOST_MB
from tests.fuzz.mutate import OWN, POLICY, ROOT, TRIP, Case, mutated, seeds

TRACED_CPU_S: Final = 10 * MOST_CPU_S
WATCHED: Final = ("planner/profile", "planner/readings", "planner/text")

Step = tuple[CodeType, int, int]


class TooLong(BaseException):
    """A case that takes more processor time than it may; no `except Exception` holds it up."""


class Watch:
    """The steps from line to line in the watched modules: those of the last case, and all."""

    def __init__(self) -> None:
        self.all: set[Step] = set()
        self.new: set[Step] = set()
        self.watched: dict[CodeType, bool] = {}

    def call(self, frame: FrameType, _event: str, _argument: Any) -> Any:
        """What is traced: functions of the watched modules, by their own tracer of lines."""
        code = frame.f_code
        if code not in self.watched:
            name = code.co_filename.removeprefix(f"{ROOT}/")
            self.watched[code] = name.startswith(WATCHED)
        if not self.watched[code]:
            return None
        last = 0

        def line(frame: FrameType, event: str, _argument: Any) -> Any:
            nonlocal last
            if event == "line":
                step = (code, last, frame.f_lineno)
                if step not in self.all:
                    self.new.add(step)
                last = frame.f_lineno
            return line

        return line

    def lines(self) -> set[tuple[str, int]]:
        """Every line reached, by file."""
        return {(code.co_filename, line) for code, _, line in self.all}


class Search:
    """One search: what it keeps, and what it found broken.

    `sound` are the cases of `kept`, and of those to begin with, whose trip could be planned: the readers that come
    after the plan are reached from these alone.
    """

    def __init__(self, seed: int, folder: Path, keep: Path) -> None:
        self.random = Random(seed)  # noqa: S311 - to be repeated, not to be secret
        self.folder, self.keep = folder, keep
        self.watch = Watch()
        self.kept: list[Case] = []
        self.sound: list[Case] = []
        self.failures: set[str] = set()
        self.runs = 0
        self.dearest_s = 0.0
        self.couples: set[frozenset[tuple[str, str]]] = set()
        """Kinds of problem, each with its file, that were told together."""

    def run(self, seconds: float) -> None:
        """Change, judge and keep for so many seconds of processor time."""
        began_s = said_s = time.process_time()
        for case in seeds():
            self.take(case, begin=True)
        while (now_s := time.process_time()) - began_s < seconds:
            among = self.sound if self.random.random() < 0.5 else self.kept
            recent = among[-50:] if self.random.random() < 0.5 else among
            self.take(mutated(self.random.choice(recent), self.random, self.kept))
            if now_s - said_s > 30:
                said_s = now_s
                self.say(now_s - began_s)
        self.say(time.process_time() - began_s)

    def take(self, case: Case, *, begin: bool = False) -> None:
        """Judge one case, and keep it if it went where none was before."""
        self.runs += 1
        began_s = time.process_time()
        broken, problems = self.guarded(case, TRACED_CPU_S, traced=True)
        if broken is None and time.process_time() - began_s > MOST_CPU_S / 2:
            began_s = time.process_time()
            broken, problems = self.guarded(case, MOST_CPU_S, traced=False)
            self.dearest_s = max(self.dearest_s, time.process_time() - began_s)
        if broken is not None:
            self.tell(case, broken)
        new, self.watch.new = self.watch.new, set()
        self.watch.all |= new
        told = sorted({(problem.file.rpartition("/")[2][:8], problem.code) for problem in problems})
        couples = {frozenset(couple) for couple in combinations_with_replacement(told, 2)} - self.couples
        self.couples |= couples
        if new or couples:
            self.kept.append(case)
        own = (TRIP, POLICY, OWN)
        if (
            broken is None
            and (new or couples or begin)
            and not any(Path(problem.file).name in own for problem in problems)
        ):
            self.sound.append(case)

    def guarded(self, case: Case, most_s: float, *, traced: bool) -> tuple[str | None, tuple[Problem, ...]]:
        """Judge a case within its time: what it broke, as text, or None, and its problems."""
        signal.setitimer(signal.ITIMER_PROF, most_s)
        if traced:
            sys.settrace(self.watch.call)
        try:
            return None, judge(case, self.folder)
        except (Exception, TooLong):  # noqa: BLE001 - whatever it is, it is what is searched for
            sys.settrace(None)
            return traceback.format_exc(), ()
        finally:
            sys.settrace(None)
            signal.setitimer(signal.ITIMER_PROF, 0)

    def tell(self, case: Case, broken: str) -> None:
        """Write a case that breaks the rules, unless one broke at the same place before."""
        lines = broken.splitlines()
        place = "\n".join(line for line in lines if line.startswith("  File "))
        if place in self.failures:
            return
        self.failures.add(place)
        folder = self.keep / f"{len(self.failures):03}"
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in case.files.items():
            (folder / name).write_bytes(data)
        (folder / "changes.txt").write_text("\n".join(map(repr, case.changes)), encoding="utf-8")
        (folder / "error.txt").write_text(broken, encoding="utf-8", errors="backslashreplace")
        print(f"BROKEN: {lines[-1]!a}", flush=True)

    def say(self, seconds: float) -> None:
        """How far the search is."""
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)
        print(
            f"{seconds:.0f} s: {self.runs} cases, {len(self.kept)} kept, {len(self.watch.lines())} lines and "
            f"{len(self.watch.all)} steps reached, {len(self.couples)} couples of problems, peak {peak_mb:.0f} MB",
            flush=True,
        )

    def report(self) -> None:
        """The lines reached of each module, and the end result."""
        reached = self.watch.lines()
        for path, lines in _all_lines():
            missed = sorted(lines - {line for file, line in reached if file == str(path)})
            part = 100 * (len(lines) - len(missed)) / max(1, len(lines))
            print(f"{path.relative_to(ROOT)}: {part:.1f} % of lines; not: {', '.join(map(str, missed)) or 'none'}")
        print(f"dearest of the cases that were slow when traced: {self.dearest_s:.2f} s")
        print(f"{len(self.failures)} broken, written to {self.keep}")


def _all_lines() -> Iterator[tuple[Path, set[int]]]:
    """The lines of functions of each watched module, as the compiler numbers them."""
    for path in sorted((ROOT / "planner").rglob("*.py")):
        if path.relative_to(ROOT).as_posix().startswith(WATCHED):
            whole = compile(path.read_text(encoding="utf-8"), str(path), "exec")
            yield path, set(_lines_of(whole, inside=False))


def _lines_of(code: CodeType, *, inside: bool) -> Iterator[int]:
    for part in code.co_consts:
        if isinstance(part, CodeType):
            is_function = inside or not _is_class(part)
            if is_function:
                yield from (line for _, _, line in part.co_lines() if line is not None and line != part.co_firstlineno)
            yield from _lines_of(part, inside=is_function)


def _is_class(code: CodeType) -> bool:
    return "__qualname__" in code.co_names and "__module__" in code.co_names


def main() -> None:
    """Read the command line, set the limits, and search."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.fuzz", description="Searches for files that break the reader."
    )
    parser.add_argument("--seconds", type=float, default=600.0, help="processor time to search for (default: 600)")
    parser.add_argument("--seed", type=int, default=1, help="what all choices follow from (default: 1)")
    parser.add_argument("--keep", type=Path, default=ROOT / "output" / "fuzz", help="folder for what breaks the reader")
    given = parser.parse_args()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise TooLong

    signal.signal(signal.SIGPROF, stop)
    for _ in range(2):  # so that everything is loaded before the limit on memory is set
        with tempfile.TemporaryDirectory() as folder:
            for case in seeds()[:20]:
                judge(case, Path(folder))
    if sys.platform == "linux":
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (taken + int(MOST_MB) * 2**20,) * 2)
    with tempfile.TemporaryDirectory() as folder:
        search = Search(given.seed, Path(folder), given.keep)
        search.run(given.seconds)
    search.report()
    sys.exit(bool(search.failures))


if __name__ == "__main__":
    main()
