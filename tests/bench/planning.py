"""Planning alone, and how it grows: `python -m tests.bench planning` and `python -m tests.bench growth`.

What-ifs, breaking delays and windows to turn back are in every figure; reading and printing are not.
"""

from __future__ import annotations

from collections.abc import Callable

from planner.model import Delay, Outlet, Trip
from planner.planning import plan
from planner.profile.read import read_trip
from tests.bench.items import TRIP
from tests.bench.timing import call_ms

REPEATS = 200
GOAL_MS = 5.0
SIZES = (10, 100, 1000)


def planning() -> None:
    """Prints the time of one plan, warm."""
    trip = read_trip(str(TRIP))

    def work() -> None:
        for _ in range(REPEATS):
            plan(trip)

    work()
    print("Planning alone, warm, what-ifs included:")
    print(f"  {call_ms(work) / REPEATS:.2f} ms CPU a trip (goal under {GOAL_MS:g})")


def with_legs(trip: Trip, count: int) -> Trip:
    """The legs over and over, each as much shorter as they are more, so that the need stays the same."""
    share = len(trip.legs) / count
    legs = []
    for number in range(count):
        leg = trip.legs[number % len(trip.legs)]
        delays = tuple(Delay(delay.reason, delay.time_min * share) for delay in leg.delays)
        uses = tuple(use._replace(for_min=None if use.for_min is None else use.for_min * share) for use in leg.uses)
        longest_min = None if leg.longest_min is None else leg.longest_min * share
        duration_min = leg.duration_min * share
        changed = {"name": f"{leg.name} {number}", "duration_min": duration_min, "longest_min": longest_min}
        legs.append(leg._replace(**changed, delays=delays, uses=uses))  # type: ignore[arg-type]
    return trip._replace(legs=tuple(legs))


def with_cylinders(trip: Trip, count: int, *, differing: bool = False) -> Trip:
    """So many cylinders on the cart, each with a gauge of its own, and every other without a 50-psi outlet."""
    cart = trip.supplies["cart"]
    cylinders = []
    for number in range(count):
        one = cart.cylinders[number % len(cart.cylinders)]
        outlets = (Outlet("flowmeter", 15.0),) if differing and number % 2 else one.outlets
        gauge_kpa = one.gauge_kpa - number % 97
        cylinders.append(one._replace(label=str(number), gauge_kpa=gauge_kpa, outlets=outlets))
    return trip._replace(supplies={**trip.supplies, "cart": cart._replace(cylinders=tuple(cylinders))})


def growth() -> None:
    """Prints the time of one plan as legs and cylinders grow, and how many times ten of them cost one tenth."""
    trip = read_trip(str(TRIP))
    kinds: dict[str, tuple[Callable[[int], Trip], tuple[int, ...]]] = {
        "legs": (lambda count: with_legs(trip, count), SIZES),
        "cylinders": (lambda count: with_cylinders(trip, count), SIZES),
        "cylinders, outlets differ": (lambda count: with_cylinders(trip, count, differing=True), SIZES[:2]),
    }
    print("Growth, planning alone, CPU time; 10 times as many take so many times as long:")
    for kind, (build, sizes) in kinds.items():
        before_ms = None
        parts = []
        for count in sizes:
            bigger = build(count)
            ms = call_ms(lambda bigger=bigger: plan(bigger), runs=3)  # type: ignore[misc]
            parts.append(f"{count:,}: {ms:.1f} ms" + (f" ({ms / before_ms:.1f} x)" if before_ms else ""))
            before_ms = ms
        print(f"  {kind:26} " + ", ".join(parts))
    both = with_cylinders(with_legs(trip, 20), 16, differing=True)
    print(f"  16 cylinders whose outlets differ, 20 legs: {call_ms(lambda: plan(both), runs=3):.0f} ms (goal: 1,000)")
