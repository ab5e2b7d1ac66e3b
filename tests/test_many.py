"""Work over several processes: order, what is lost with a process, and what is told meanwhile."""

from __future__ import annotations

import io
import os

import pytest

from planner.files.many import Lost, Progress, cores, processes_worth, spread
from tests import pieces


@pytest.mark.parametrize("jobs", [1, 2, 3])
@pytest.mark.parametrize("count", [0, 1, 2, 50])
def test_results_stand_in_the_order_of_the_items_whatever_the_number_of_processes(jobs: int, count: int) -> None:
    items = [str(number) for number in range(count)]
    assert spread(pieces.double, items, jobs=jobs) == [item + item for item in items]


def test_every_process_takes_part() -> None:
    found = spread(pieces.process, [str(number) for number in range(120)], jobs=2)
    assert len(set(found)) == 2
    assert os.getpid() in found


@pytest.mark.parametrize("jobs", [1, 2])
def test_progress_is_told_up_to_the_end(jobs: int) -> None:
    told: list[tuple[int, int]] = []
    spread(pieces.double, ["x"] * 40, jobs=jobs, tell=lambda done, of: told.append((done, of)))
    assert told[-1] == (40, 40)
    assert [done for done, _ in told] == sorted({done for done, _ in told})


def test_what_is_raised_is_raised_on() -> None:
    for jobs in (1, 2):
        with pytest.raises(ValueError, match="7"):
            spread(pieces.refuse, [str(number) for number in range(20)], jobs=jobs)


def test_a_process_that_dies_costs_only_its_item() -> None:
    # The first batch is handed to the other process; there are as many as its queue takes, so that it gets "fatal".
    items = ["fatal", *map(str, range(30)), "fatal too"]
    found = spread(pieces.fatal, items, jobs=2)
    assert found[0] == Lost("fatal")
    assert found[1:31] == items[1:31]
    assert found[31] in (Lost("fatal too"), "fatal too")


def test_few_items_stay_in_one_process() -> None:
    assert processes_worth(0) == processes_worth(150) == 1
    assert processes_worth(100_000) == cores() >= 1


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_on_a_terminal_is_one_line_and_is_wiped_out() -> None:
    stream, now = Terminal(), [0.0]
    progress = Progress(stream, "Trips planned", lambda: now[0])
    now[0] = 0.1
    progress(10, 1000)
    assert stream.getvalue() == ""  # not due yet
    now[0] = 1.0
    progress(100, 1000)  # 900 are left at 100 a second
    assert stream.getvalue() == "\rTrips planned: 100 of 1000, about 9 s left"
    now[0] = 1.1
    progress(110, 1000)
    now[0] = 9.9
    progress(995, 1000)
    assert stream.getvalue().endswith("\rTrips planned: 995 of 1000, about 1 s left")
    progress.end()
    assert stream.getvalue().split("\r")[-2:] == [" " * len("Trips planned: 995 of 1000, about 1 s left"), ""]


def test_progress_elsewhere_is_a_plain_line_every_five_seconds() -> None:
    stream, now = io.StringIO(), [0.0]
    progress = Progress(stream, "Trips planned", lambda: now[0])
    for second in range(1, 12):
        now[0] = float(second)
        progress(second * 50, 1000)
    progress.end()
    assert stream.getvalue() == (
        "Trips planned: 250 of 1000, about 15 s left\nTrips planned: 500 of 1000, about 10 s left\n"
    )


def test_short_work_says_nothing() -> None:
    for stream in (Terminal(), io.StringIO()):
        progress = Progress(stream, "Trips planned", lambda: 0.0)
        progress(1, 2)
        progress(2, 2)
        progress.end()
        assert stream.getvalue() == ""
