"""Which outlet carries which device, by examples small enough to see through."""

from __future__ import annotations

import pytest

from planner.flow.outlets import Asks, OutletNeed, Serving, fits, refusal
from planner.model import Outlet

HIGH = Outlet("high_pressure")
METER_15 = Outlet("flowmeter", 15.0)
METER_25 = Outlet("flowmeter", 25.0)
OPEN_METER = Outlet("flowmeter")

VENT = OutletNeed("high_pressure", 4.0, "vent")
SUCTION = OutletNeed("high_pressure", 20.0, "suction")
MASK = OutletNeed("flowmeter", 12.0, "mask")
BAG = OutletNeed("flowmeter", 25.0, "bag")
AEROSOL = OutletNeed("flowmeter", 6.0, "aerosol")
CONCENTRATOR = OutletNeed("none", 0.0, "concentrator")


@pytest.mark.parametrize(
    ("have", "wanted", "why"),
    [
        ([], [], None),
        ([], [CONCENTRATOR], None),
        ([METER_15], [MASK], None),
        ([METER_15, METER_25], [BAG, MASK], None),
        ([OPEN_METER], [BAG], None),
        ([METER_15, HIGH], [VENT, MASK], None),
        ([METER_15], [VENT], "vent needs 1 x 50-psi outlet and it has 0"),
        ([HIGH], [VENT, SUCTION], "suction, vent needs 2 x 50-psi outlet and it has 1"),
        ([HIGH], [MASK], "mask needs 1 x flowmeter and it has 0"),
        ([METER_25], [MASK, BAG], "bag, mask needs 2 x flowmeter and it has 1"),
        ([METER_15], [MASK, AEROSOL], "aerosol, mask needs 2 x flowmeter and it has 1"),
        ([METER_15], [BAG], "bag needs a flowmeter to 25 L/min and it has one to 15 L/min"),
        ([METER_15, METER_15], [MASK, BAG], "bag needs a flowmeter to 25 L/min and it has one to 15 L/min"),
        (
            [METER_25, METER_25, METER_15],
            [BAG, BAG, BAG],
            "bag needs a flowmeter to 25 L/min and it has one to 15 L/min",
        ),
    ],
)
@pytest.mark.hazard(12)
def test_why_outlets_do_not_carry_devices(have: list[Outlet], wanted: list[OutletNeed], why: str | None) -> None:
    assert refusal(have, wanted) == why
    assert fits(tuple(have), False, Asks(tuple(wanted))) == (why is None)


def test_a_flowmeter_carries_just_its_limit() -> None:
    assert refusal([METER_15], [OutletNeed("flowmeter", 15.0, "mask")]) is None
    assert refusal([METER_15], [OutletNeed("flowmeter", 15.01, "mask")]) is not None


def test_the_larger_flow_goes_on_the_larger_flowmeter() -> None:
    assert refusal([METER_15, HIGH, METER_25], [MASK, BAG, VENT]) is None
    assert refusal([METER_15, HIGH, METER_15], [MASK, BAG, VENT]) is not None


def test_which_cylinders_carry_what_a_leg_asks_for() -> None:
    serving = Serving([((METER_15,), False), ((HIGH,), False)])
    assert serving.of(Asks((MASK,))) == (True, False)
    assert serving.of(Asks((VENT,))) == (False, True)
    assert not serving.all_of(Asks((MASK,)))
    assert serving.all_of(Asks(()))


@pytest.mark.hazard(27)
def test_a_magnet_room_asks_for_a_cylinder_that_is_safe_in_it() -> None:
    asks = Asks((MASK,), magnet=True)
    assert not fits((METER_15,), False, asks)
    assert fits((METER_15,), True, asks)
    assert not fits((HIGH,), True, asks)


def test_outlets_that_nobody_stated_carry_everything() -> None:
    assert fits(None, False, Asks((VENT, SUCTION, MASK, BAG)))
    assert not fits(None, False, Asks((VENT,), magnet=True))
