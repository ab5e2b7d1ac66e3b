"""More gas never turns a go into a no-go: shipped profiles and those of the demo, each gauge on its way to full."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from pathlib import Path

import pytest

from planner.constants import KPA_PER_PSI
from planner.model import Cylinder, Supply, Trip
from planner.planning import plan
from planner.profile.read import read_trip

ROOT = Path(__file__).parents[1]
PROFILES = sorted(
    path
    for folder in ("profiles", "demo", "tests/profiles/good")
    for path in (ROOT / folder).glob("*.yaml")
    if not path.stem.endswith(".figures")
)


def to_full(cylinder: Cylinder, step_psi: float) -> Iterator[float]:
    """Gauges from the reading to full, kPa."""
    steps = ceil((cylinder.filling_gauge_kpa - cylinder.gauge_kpa) / (step_psi * KPA_PER_PSI))
    for number in range(1, steps + 1):
        yield min(cylinder.filling_gauge_kpa, cylinder.gauge_kpa + number * step_psi * KPA_PER_PSI)


def fuller(trip: Trip, step_psi: float) -> Iterator[tuple[str, list[Trip]]]:
    """For each gauge the trips in which it alone is higher and higher; on a manifold it stands for all cylinders."""
    for name, supply in trip.supplies.items():
        for field in ("cylinders", "store"):
            have: tuple[Cylinder, ...] = getattr(supply, field) or ()
            for place, cylinder in enumerate(have[:1] if supply.kind == "manifold" else have):

                def at(kpa: float, place: int = place, supply: Supply = supply, field: str = field) -> Trip:
                    every = supply.kind == "manifold"
                    cylinders = tuple(
                        each._replace(gauge_kpa=kpa) if every or number == place else each
                        for number, each in enumerate(getattr(supply, field))
                    )
                    changed = supply._replace(**{field: cylinders})  # type: ignore[arg-type]
                    return trip._replace(supplies={**trip.supplies, supply.name: changed})

                yield f"{name}, {cylinder.label}", [at(kpa) for kpa in to_full(cylinder, step_psi)]


@pytest.mark.hazard(12, 13)
@pytest.mark.longer("step_psi", [700], [10])
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_a_gauge_on_its_way_to_full_never_turns_go_into_no_go(path: Path, step_psi: float) -> None:
    trip = read_trip(path)
    now = plan(trip).go
    for which, trips in fuller(trip, step_psi):
        was = now
        for more in trips:
            again = plan(more).go
            assert again or not was, which
            was = again
