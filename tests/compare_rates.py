"""How often `compare` raises a false alarm, and how often it finds a leak or an under-use, on made-up trips.

    python -m tests.compare_rates            # 1000 trips for each line, some minutes
    python -m tests.compare_rates 100

Every trip has a steady flow from E cylinders used one after another, a reading every 15 min and one of both cylinders
at each change, and true cylinders and gauges that differ from what the planner takes, at random from fixed seeds:

- each reading is off by anything up to 50 psi, half a division;
- with `every doubt`: the gauge is off by a straight line within class 2.5 besides, the gas is 11 to 31 degC and warms
  or cools by up to 5 degC from departure to the end, times are off by up to half a minute, the flow by up to 10 %, and
  a cylinder of a catalogue size holds anything from the catalogue's litres to those of the largest label.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.logbook import Closing, Entry, LastGauge, Logbook
from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, KPA_PER_PSI
from planner.cylinders.gauge_doubt import SCALE_OVER_FILLING
from planner.gas import contents
from planner.model import Cylinder, Device, Supply, Trip
from planner.planning import plan
from planner.trade.catalog import find_size
from tests import build

READ_TO_PSI = 50.0
EVERY_MIN = 15.0
CHANGE_AT_PSI = 550.0
MOST_CYLINDERS = 8


@dataclass(frozen=True)
class World:
    """What is true of the trips of one line, whatever the plan says.

    `share` of the planned flow is drawn, and `leak_l_per_min` besides. `labelled`: the cylinders carry labels.
    """

    share: float = 1.0
    leak_l_per_min: float = 0.0
    labelled: bool = True
    every_doubt: bool = False
    flow_l_per_min: float = 6.0
    minutes: float = 90.0


@dataclass(frozen=True)
class Outcome:
    """One trip: whether any stretch, and the whole, was called faster or slower."""

    stretches: int
    faster: int
    slower: int
    whole: str | None

    @property
    def any_faster(self) -> bool:
        """True where any alert says faster."""
        return self.faster > 0 or self.whole == "faster"

    @property
    def any_slower(self) -> bool:
        """True where any alert says slower."""
        return self.slower > 0 or self.whole == "slower"


class _Gauge:
    """One true cylinder with its gauge."""

    def __init__(self, chance: random.Random, cylinder: Cylinder, world: World) -> None:
        self.cylinder = cylinder
        size = find_size("US-E")
        assert size is not None
        most = size.largest_water_capacity_l
        known = cylinder.water_capacity_l
        off = world.every_doubt
        self.capacity_l = known if world.labelled or not off else chance.uniform(known, most)
        self.degc = 21.1 + chance.uniform(-10.0, 10.0) * off
        self.drift = chance.uniform(-5.0, 5.0) * off
        self.ends = [chance.uniform(-1.0, 1.0) * GAUGE_ERROR_OF_FULL_SCALE * off for _ in range(2)]
        self.scale_kpa = SCALE_OVER_FILLING * cylinder.filling_gauge_kpa
        self.left_l = contents.contents_l(cylinder.gauge_kpa, self.degc, self.capacity_l)

    def true_kpa(self, part: float) -> float:
        """The true gauge pressure when a part of the trip is gone."""
        return contents.gauge_kpa(max(0.0, self.left_l), self.degc + self.drift * part, self.capacity_l)

    def read_kpa(self, chance: random.Random, part: float) -> float:
        """What is read: the true pressure, the gauge's own error, and a misreading."""
        true = self.true_kpa(part)
        low, high = self.ends
        shown = true + self.scale_kpa * low + true * (high - low)
        return max(0.0, shown + chance.uniform(-READ_TO_PSI, READ_TO_PSI) * KPA_PER_PSI)


def made_trip(world: World, chance: random.Random) -> Trip:
    """A plan with enough E cylinders, each at its own reading."""
    cylinders = [build.cylinder(f"E{n}", chance.uniform(1800.0, 2100.0)) for n in range(MOST_CYLINDERS)]
    if world.labelled:
        cylinders = [one._replace(label_contents="616 L at 2200 psi") for one in cylinders]
    mask = Device("mask", "simple_mask", flow_l_per_min=world.flow_l_per_min)
    return build.trip([Supply("cart", "cylinders", cylinders=tuple(cylinders))], build.leg(world.minutes, mask))


def made_log(world: World, trip: Trip, chance: random.Random) -> Logbook:
    """What a crew would write down on that trip."""
    gauges = [_Gauge(chance, cylinder, world) for cylinder in trip.supplies["cart"].cylinders]
    flow = world.flow_l_per_min * world.share + world.leak_l_per_min
    if world.every_doubt:
        flow *= chance.uniform(0.9, 1.1)
    entries = [_entry(gauge, 0.0, gauge.read_kpa(chance, 0.0)) for gauge in gauges[:2]]
    minute, current = 0.0, 0
    while minute < world.minutes - 1e-9:
        step = min(1.0, world.minutes - minute)
        gauges[current].left_l -= flow * step
        minute += step
        part = minute / world.minutes
        at = minute + (chance.uniform(-0.5, 0.5) if world.every_doubt else 0.0)
        if minute >= world.minutes:
            break
        if gauges[current].true_kpa(part) < CHANGE_AT_PSI * KPA_PER_PSI:
            entries.append(_entry(gauges[current], at, gauges[current].read_kpa(chance, part)))
            current += 1
            entries.append(_entry(gauges[current], at, gauges[current].read_kpa(chance, part)))
        elif minute % EVERY_MIN < 1e-9:
            entries.append(_entry(gauges[current], at, gauges[current].read_kpa(chance, part)))
    used = {entry.cylinder for entry in entries[2:]} | {gauges[0].cylinder.label, gauges[current].cylinder.label}
    last = tuple(
        LastGauge("cart", gauge.cylinder.label, gauge.read_kpa(chance, 1.0), "", READ_TO_PSI * KPA_PER_PSI, True)
        for gauge in gauges
        if gauge.cylinder.label in used
    )
    return Logbook(tuple(entries), Closing(world.minutes, last))


def _entry(gauge: _Gauge, minute: float, read_kpa: float) -> Entry:
    label = gauge.cylinder.label
    return Entry(minute, supply="cart", cylinder=label, gauge_kpa=read_kpa, read_to_kpa=READ_TO_PSI * KPA_PER_PSI)


def outcome(found: Comparison) -> Outcome:
    """What a comparison said of its trip."""
    verdicts = [stretch.verdict for stretch in found.stretches]
    whole = found.overall[0].verdict if found.overall else None
    return Outcome(len(verdicts), verdicts.count("faster"), verdicts.count("slower"), whole)


def outcomes(world: World, trips: int, seed: int = 1) -> Iterator[Outcome]:
    """The outcome of so many trips of a world."""
    for number in range(trips):
        chance = random.Random(f"{seed} {number} {world}")  # noqa: S311 - repeatable, not secret
        trip = made_trip(world, chance)
        yield outcome(compare(plan(trip), made_log(world, trip, chance)))


def leaks_found(world: World, trips: int, seed: int = 1) -> list[bool]:
    """Whether a leak of the size that should show, by a trip as planned, is found on another trip with it."""
    found = []
    for number in range(trips):
        chance = random.Random(f"{seed} {number} {world}")  # noqa: S311 - repeatable, not secret
        trip = made_trip(world, chance)
        made = plan(trip)
        whole = compare(made, made_log(world, trip, chance)).overall[0]
        leaking = replace(world, leak_l_per_min=whole.leak_that_shows_l_per_min)
        found.append(outcome(compare(made, made_log(leaking, trip, chance))).any_faster)
    return found


def rate(values: list[bool]) -> float:
    """The share that is true, per cent."""
    return 100.0 * sum(values) / len(values)


LINES = {
    "as planned, readings off": World(),
    "as planned, every doubt, labels known": World(every_doubt=True),
    "as planned, every doubt, catalogue sizes": World(every_doubt=True, labelled=False),
    "leak of 1 L/min": World(leak_l_per_min=1.0),
    "leak of 2 L/min": World(leak_l_per_min=2.0),
    "leak of 3 L/min": World(leak_l_per_min=3.0),
    "leak of 3 L/min, every doubt, labels known": World(leak_l_per_min=3.0, every_doubt=True),
    "leak of 4 L/min, every doubt, catalogue sizes": World(leak_l_per_min=4.0, every_doubt=True, labelled=False),
    "leak of 6 L/min, every doubt, catalogue sizes": World(leak_l_per_min=6.0, every_doubt=True, labelled=False),
    "half used": World(share=0.5),
    "half used, every doubt, labels known": World(share=0.5, every_doubt=True),
    "half used, every doubt, catalogue sizes": World(share=0.5, every_doubt=True, labelled=False),
    "nothing used": World(share=0.0, every_doubt=True, labelled=False),
}


def main(trips: int) -> None:
    """Print a line for each world."""
    print(f"{trips} trips each: 90 min at 6 L/min from E cylinders, read every 15 min to within 50 psi")
    print(f"{'':48}{'alerts, % of stretches':>24}{'faster, % of trips':>20}{'slower, % of trips':>20}")
    for name, world in LINES.items():
        found = list(outcomes(world, trips))
        alerts = sum(each.faster + each.slower for each in found)
        share = 100.0 * alerts / sum(each.stretches for each in found)
        faster, slower = rate([each.any_faster for each in found]), rate([each.any_slower for each in found])
        print(f"{name:48}{share:24.2f}{faster:20.2f}{slower:20.2f}", flush=True)
    print("a leak of the size that is said to show:")
    for name, world in list(LINES.items())[:3]:
        print(f"{name.removeprefix('as planned, '):72}{rate(leaks_found(world, trips)):20.2f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
