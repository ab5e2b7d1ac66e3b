"""What lasts a while only: a patient who gets worse, a device that fails until help is there. Against the simulator.

It goes through the trip again and again, with the change at every quarter of a minute, and none of these may be worse
than the minute that the planner found. At that minute itself both must agree on when oxygen is out.
"""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from planner.model import Device, Trip
from planner.planning import plan
from planner.results import WhatIf
from tests.properties.simulator import Piece, bottles, pieces, quiet_times, simulate, with_devices_changed
from tests.properties.strategies import short_trips

CLOSE_MIN = 1e-6
STEP_MIN = 0.25


@st.composite
def troubled_trips(draw: st.DrawFn, *, mixed: bool) -> Trip:
    """Short trips on which the mask may rise to more, and has a bag behind it."""
    trip = draw(short_trips(mixed=mixed))
    more = Device("more", "fixed_flow", flow_l_per_min=float(draw(st.integers(5, 25))))

    def behind(device: Device) -> Device:
        return device._replace(may_rise_to="more", if_it_fails="bag") if device.name == "mask" else device

    quarters = st.integers(1, 20).map(lambda number: number / 4.0)
    return trip._replace(
        policy=trip.policy._replace(rise_for_min=draw(quarters), help_within_min=draw(st.none() | quarters)),
        devices={name: behind(device) for name, device in {**trip.devices, "more": more}.items()},
        legs=tuple(
            leg._replace(uses=tuple(use._replace(device=behind(use.device)) for use in leg.uses)) for leg in trip.legs
        ),
    )


def altered(trip: Trip, row: WhatIf) -> tuple[list[Piece], float, list[Piece]]:
    """The flow while it lasts, how long that is, and the flow after it."""
    if row.name == "deterioration":
        flow = pieces(with_devices_changed(trip, ["mask"], "may_rise_to"), row.supply)
        return flow, trip.policy.rise_for_min, pieces(trip.legs, row.supply)
    flow = pieces(with_devices_changed(trip, ["mask"], "if_it_fails"), row.supply)
    return flow, trip.policy.help_within_min or inf, []


def out_min(trip: Trip, row: WhatIf, begin_min: float) -> float | None:
    """When oxygen is out if the trouble of a row begins at a minute."""
    flow, lasts_min, again = altered(trip, row)
    return simulate(
        bottles(trip.supplies[row.supply], trip.policy),
        pieces(trip.legs, row.supply),
        quiet_times(trip.legs),
        altered=flow,
        fails_at=begin_min,
        again=again,
        back_at=begin_min + lasts_min,
    ).out_min


def assert_no_minute_is_worse(trip: Trip) -> None:
    for row in plan(trip).whatifs:
        if row.name not in ("deterioration", "device_fails"):
            continue
        event(f"{row.name} {'holds' if row.holds else 'fails'}")
        if row.holds:
            begins = [number * STEP_MIN for number in range(int(trip.total_min / STEP_MIN) + 1)]
            assert [begin for begin in begins if out_min(trip, row, begin) is not None] == []
        else:
            assert out_min(trip, row, row.from_min) == pytest.approx(row.runs_out_min, abs=CLOSE_MIN)


@pytest.mark.hazard(42)
@given(troubled_trips(mixed=False))
def test_a_trouble_that_passes_has_no_worse_minute(trip: Trip) -> None:
    assert_no_minute_is_worse(trip)


@pytest.mark.hazard(42)
@given(troubled_trips(mixed=True))
def test_a_trouble_that_passes_has_no_worse_minute_where_outlets_differ(trip: Trip) -> None:
    assert_no_minute_is_worse(trip)
