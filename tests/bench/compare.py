"""How long `compare` takes over a log with one reading a minute: `python -m tests.bench compare`.

For 125, 250 and 500 readings it prints the median of seven comparisons in milliseconds, what one reading costs, and
the ratio to a floor measured in the same run: reading the same file as YAML with places, and the contents of each gauge
at both ends of half a division, once, which any comparison must do. The work is meant to grow in step with the
readings: what one of 500 costs is told as a share of what one of 125 does. No log comes twice, so that nothing is
remembered from one call to the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count

from planner.afterwards.compare import compare
from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.model import Device, Supply
from planner.planning import plan
from planner.readings.read import parse_readings
from planner.results import Plan
from planner.text import source
from tests.bench.timing import call_ms
from tests.build import cylinder, leg, trip

FLOW_L_PER_MIN = 4.0
M60_LITRES_PER_PSI = 0.81
FULL_PSI, CHANGE_PSI = 2000.0, 520.0
HALF_DIVISION_PSI = 50.0
RUNS = 7
UNREAD = "unread"


def made_plan() -> Plan:
    """Ten hours by road on large cylinders."""
    mask = Device("mask", "simple_mask", flow_l_per_min=FLOW_L_PER_MIN)
    cart = Supply("cart", "cylinders", cylinders=tuple(cylinder(label, FULL_PSI, "US-M60") for label in "ABCD"))
    return plan(trip([cart], leg(300.0, mask), leg(300.0, mask, name="next"), setting="road"))


def log_text(readings: int, off_psi: float, more: str = "") -> str:
    """A reading a minute, as a logger writes it; every gauge so much lower than as planned.

    With `unread` in place of more keys, nobody wrote down when a cylinder was changed.
    """
    unread, more = more == UNREAD, more.replace(UNREAD, "")
    rows, gauge, used = ["readings: 1", "log:"], FULL_PSI - off_psi, 0
    for minute in range(readings):
        goes_on = gauge - FLOW_L_PER_MIN / M60_LITRES_PER_PSI < CHANGE_PSI
        change = f", change_to: {'ABCD'[used + 1]}" if goes_on and not unread else ""
        rows.append(f"  - {{time: {minute} min, cylinder: {'ABCD'[used]}, gauge: {gauge:.3f} psi{change}{more}}}")
        gauge = FULL_PSI - off_psi if goes_on else gauge - FLOW_L_PER_MIN / M60_LITRES_PER_PSI
        used += goes_on
    return "\n".join(rows) + "\n"


def gauges_psi(text: str) -> list[float]:
    """The gauges of such a log."""
    return [float(row.split("gauge: ")[1].split(" psi")[0]) for row in text.splitlines() if "gauge: " in row]


def floor(text: str) -> None:
    """What no comparison can leave out."""
    source.loads(text, "log.yaml")
    for psi in gauges_psi(text):
        for end in (psi - HALF_DIVISION_PSI, psi + HALF_DIVISION_PSI):
            contents.contents_l(end * KPA_PER_PSI, 21.1, 1.0)


def each_of(work: Callable[[str], object], texts: Iterator[str]) -> Callable[[], object]:
    """A call that does its work on the next log each time."""
    return lambda: work(next(texts))


def main() -> None:
    """Prints one line for each length and kind of log."""
    print("Comparing a log with a reading a minute, CPU time; the floor reads the file and each gauge, once:")
    made = made_plan()
    off = (0.001 * number for number in count(1))
    for what, more in (
        ("gauges alone", ""),
        ("changes unread", UNREAD),
        ("with flows", ", flow: 4 L/min"),
        ("with settings", ", settings: {mask: {flow: 4 L/min}}"),
    ):
        each: dict[int, float] = {}
        for readings in (125, 250, 500):
            logs = (log_text(readings, next(off), more) for _ in count())
            taken = call_ms(each_of(lambda text: compare(made, parse_readings(text, made)), logs), RUNS)
            least = call_ms(each_of(floor, logs), RUNS)
            each[readings] = taken / readings
            print(
                f"  {readings:4} readings, {what:14} {taken:8.1f} ms, {taken / readings:6.3f} ms a reading, "
                f"{taken / least:5.2f} x floor"
            )
        print(f"       one of 500 costs {each[500] / each[125]:.2f} times what one of 125 does")
