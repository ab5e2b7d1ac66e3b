"""Many pieces of work over several processes, with progress.

The work is one function of one item, at the top level of its module, so that a process which starts from nothing
(`spawn`, the way that every system knows) can find it by name. Results come back in the order of the items, whatever
the number of processes and whoever finishes first.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from math import ceil
from multiprocessing import get_context
from typing import Final, TextIO, TypeVar

Item = TypeVar("Item")
T = TypeVar("T")

MOST_IN_A_BATCH: Final = 8
AHEAD: Final = 2
"""Batches that wait in front of each process, so that none runs dry while this one works on its own."""

MOST_PROCESSES: Final = 60
"""Windows can wait for no more at once."""

WORTH_A_PROCESS: Final = 100
"""Items that keep a process busy for longer than it takes to start, at some milliseconds each. By decision."""

Tell = Callable[[int, int], None]
"""Is told how many of how many are done."""


@dataclass(frozen=True, slots=True)
class Lost:
    """Stands for the result of an item whose process ended before it gave one."""

    item: object


def cores() -> int:
    """Processors that this process may use, 1 at the least."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def processes_worth(count: int, worth_a_process: int = WORTH_A_PROCESS) -> int:
    """How many processes to start for so many items, where nobody says: as many as there are processors to use."""
    return max(1, min(cores(), count // worth_a_process))


def spread(
    work: Callable[[Item], T], items: Sequence[Item], *, jobs: int, tell: Tell = lambda _done, _all: None
) -> list[T | Lost]:
    """The results of `work` for every item, in the order of the items, worked out in `jobs` processes.

    This process is one of them: it begins at once, while the others start. What `work` raises is raised on and ends the
    others, so that `work` must catch what may go wrong with one item. Where another process dies, its items are tried
    again one by one, and one whose process dies again gives `Lost`. Ctrl-C ends it after the batches in hand.
    """
    jobs = min(jobs, len(items), MOST_PROCESSES)
    if jobs <= 1:
        return list(_here(work, items, tell))
    done: dict[int, T | Lost] = {}

    def take(numbers: Sequence[int], results: Sequence[T | Lost]) -> None:
        done.update(zip(numbers, results, strict=True))
        tell(len(done), len(items))

    size = min(MOST_IN_A_BATCH, ceil(len(items) / (4 * jobs)))
    batches = [range(at, min(at + size, len(items))) for at in range(0, len(items), size)]
    with _pool(jobs - 1) as pool:
        _shared(pool, work, items, deque(batches), AHEAD * (jobs - 1), take)
    while left := [index for index in range(len(items)) if index not in done]:
        with _pool(1) as pool:
            _shared(pool, work, items, deque((index,) for index in left), len(left), take)
        if left := [index for index in left if index not in done]:  # one process does them in order: this one ended it
            take(left[:1], [Lost(items[left[0]])])
    return [done[index] for index in range(len(items))]


def _here(work: Callable[[Item], T], items: Sequence[Item], tell: Tell) -> Iterator[T]:
    for number, item in enumerate(items, start=1):
        yield work(item)
        tell(number, len(items))


@contextmanager
def _pool(processes: int) -> Iterator[ProcessPoolExecutor]:
    """Processes that leave Ctrl-C to this one; whatever ends the block early, they stop after the batches in hand."""
    start = get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=start, initializer=_leave_ctrl_c_to_the_parent) as pool:
        try:
            yield pool
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


def _shared(
    pool: ProcessPoolExecutor,
    work: Callable[[Item], T],
    items: Sequence[Item],
    batches: deque[Sequence[int]],
    ahead: int,
    take: Callable[[Sequence[int], Sequence[T]], None],
) -> None:
    """Hands out the results of every batch of numbers of items; those of a process that died are left out.

    At most `ahead` batches are in other hands; while more wait, this process works on one itself.
    """
    handed: dict[Future[list[T]], Sequence[int]] = {}
    while batches or handed:
        try:
            while batches and len(handed) < ahead:
                with _ctrl_c_held():
                    future = pool.submit(_batch, work, [items[index] for index in batches[0]])
                handed[future] = batches.popleft()
        except BrokenProcessPool:
            batches.clear()  # what ended a process must not end this one: the rest is tried apart
        if batches:
            mine = batches.popleft()
            take(mine, _batch(work, [items[index] for index in mine]))
        else:
            wait(handed, return_when=FIRST_COMPLETED)
        for future in [future for future in handed if future.done()]:
            numbers = handed.pop(future)
            with suppress(BrokenProcessPool):
                take(numbers, future.result())


def _batch(work: Callable[[Item], T], items: Sequence[Item]) -> list[T]:
    return [work(item) for item in items]


def _leave_ctrl_c_to_the_parent() -> None:
    """Ctrl-C goes to every process of a terminal; only the parent answers it, by ending the others."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _ctrl_c_held() -> Iterator[None]:
    """Holds Ctrl-C back while processes start, which inherit that; it is delivered afterwards. Nothing on Windows."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Progress:
    """Tells on a stream how far the work is.

    On a terminal one line is written over and over and wiped out at the end; elsewhere a plain line appears every few
    seconds. Work that is done before the first is due says nothing.
    """

    EVERY_S_ON_A_TERMINAL: Final = 0.2
    EVERY_S: Final = 5.0

    def __init__(self, stream: TextIO, what: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream, self._what, self._clock = stream, what, clock
        self._terminal = stream.isatty()
        self._began = self._last = clock()
        self._width = 0

    def __call__(self, done: int, total: int) -> None:
        """So many of so many are done."""
        now = self._clock()
        if now - self._last < (self.EVERY_S_ON_A_TERMINAL if self._terminal else self.EVERY_S) or done >= total:
            return
        self._last = now
        seconds = ceil((now - self._began) / done * (total - done))
        text = f"{self._what}: {done} of {total}, about {seconds} s left"
        if not self._terminal:
            self._stream.write(f"{text}\n")
        else:
            self._stream.write(f"\r{text.ljust(self._width)}")
            self._width = len(text)
        self._stream.flush()

    def end(self) -> None:
        """Wipes the line off a terminal."""
        if self._width:
            self._stream.write(f"\r{' ' * self._width}\r")
            self._stream.flush()


@contextmanager
def shown_progress(what: str, *, wanted: bool) -> Iterator[Tell]:
    """Progress on standard error while the block runs, nothing where it is not wanted."""
    if not wanted:
        yield lambda _done, _all: None
        return
    progress = Progress(sys.stderr, what)
    try:
        yield progress
    finally:
        with suppress(OSError, ValueError):
            progress.end()
