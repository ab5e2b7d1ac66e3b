"""A gauge that falls too fast is told from one that is cold, late, or read a little wrong.

Figures by hand use the factor of the hand method, 0.28 L/psi for a US-E, a handbook value from memory.
"""

from __future__ import annotations

from random import Random

import pytest

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, KPA_PER_PSI
from planner.cylinders.fall import Doubt, Readings
from planner.cylinders.gauge_doubt import gauge_scale_kpa, half_division_kpa
from planner.cylinders.measured import measure
from planner.gas import contents
from planner.model import Cylinder, Device, Supply, Trip
from planner.planning import plan
from planner.results import Checkpoint, LeakGauge, Plan
from planner.trade.policy_table import policy_defaults
from tests.build import cylinder, flowmeter, leg, trip

MANY = 300
MASK = Device("mask", "simple_mask", flow_l_per_min=8.0)
POLICY = policy_defaults("in_house")._replace(
    reserve_factor=1.0, reserve_time_min=0.0, handover_time_min=0.0, spare_cylinders=0, must_hold=()
)


def ward_trip(*minutes: float, gauge_psi: float = 2000.0, **supply: float | None) -> Trip:
    """One E cylinder that gives 8 L/min, over legs of so many minutes."""
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", gauge_psi, outlets=(flowmeter(),)),), **supply)  # type: ignore[arg-type]
    return trip([cart], *(leg(each, MASK) for each in minutes), policy=POLICY)


def at(found: Plan, minute: float) -> Checkpoint:
    """The checkpoint at the end of the leg that ends at a minute."""
    return next(check for check in found.checkpoints if check.minute == minute and check.at == "end")


def limit(found: Plan, minute: float) -> LeakGauge:
    leak = at(found, minute).leak
    assert leak is not None
    return leak


@pytest.mark.hazard(32)
def test_ten_litres_a_minute_too_much_is_below_the_limit_after_18_minutes() -> None:
    # As planned: 18 min x 8 L/min = 144 L = some 514 psi, so about 1490. At 18 L/min: 324 L = 1157 psi, so about 840.
    # Doubts, by hand: half a division of 50 psi twice, not both at their worst, 2 / sqrt(3) x 71 = 82 psi; a minute of
    # 8 L/min, 29 psi; 5 % slope on some 600 psi, 30 psi; heat of 10 degC and 5 degC of change, some 50 psi besides.
    # Together below 250 psi: the limit lies between 1240 and 1490.
    check = at(plan(ward_trip(18.0, 10.0)), 18.0)
    assert check.leak is not None
    assert check.gauge_kpa is not None
    assert 1240 < check.leak.gauge_kpa / KPA_PER_PSI < check.gauge_kpa / KPA_PER_PSI - 100
    assert check.leak.gauge_kpa / KPA_PER_PSI > 840


@pytest.mark.hazard(32)
def test_the_limit_is_where_comparing_finds_more_than_planned() -> None:
    found = plan(ward_trip(18.0, 10.0))
    (held,) = found.supplies["cart"].cylinders
    kpa = limit(found, 18.0).gauge_kpa
    half = half_division_kpa("psi")
    doubt = Doubt(half, half, gauge_scale_kpa(held.cylinder, POLICY), held.cylinder.water_capacity_l, minutes=1.0)
    read = Readings(held.cylinder.gauge_kpa, kpa, 18.0, held.cylinder.water_capacity_l)
    assert measure(read._replace(to_gauge_kpa=kpa - KPA_PER_PSI), doubt).compared_with(8.0) == "above"
    assert measure(read._replace(to_gauge_kpa=kpa + KPA_PER_PSI), doubt).compared_with(8.0) == "agrees"


@pytest.mark.hazard(32)
def test_a_minute_has_one_limit_however_it_is_asked_for() -> None:
    """At the end of a leg and at the start of the next, and in a trip that asks for no other minute before it."""
    found = plan(ward_trip(6.0, 6.0, 6.0, 10.0))
    limits = {(check.minute, check.at): check.leak for check in found.checkpoints}
    for minute in (6.0, 12.0, 18.0):
        assert limits[minute, "end"] is not None
        assert limits[minute, "start"] == limits[minute, "end"]
    assert limits[18.0, "end"] == limit(plan(ward_trip(18.0, 10.0)), 18.0)


@pytest.mark.hazard(32)
def test_ten_minutes_late_is_no_leak() -> None:
    # By hand: 10 min x 8 L/min = 80 L = 286 psi by the factor, in the real gas a little less at this pressure.
    found = plan(ward_trip(10.0, 10.0, 20.0))
    first, later = limit(found, 10.0), limit(found, 20.0)
    lost_psi = 10.0 * first.fall_kpa_per_min / KPA_PER_PSI
    # 281 psi by the gauge, of which the gauge may make 5 % more, and gas 10 degC warmer 3 % more.
    assert 281 < lost_psi < 281 * 1.05 * 1.05
    for late in range(11):
        then = limit(plan(ward_trip(10.0 + late, 30.0 - late)), 10.0 + late)
        assert first.gauge_kpa - late * first.fall_kpa_per_min <= then.gauge_kpa + 1.0
    assert later.gauge_kpa < first.gauge_kpa


@pytest.mark.hazard(32)
def test_a_main_cylinder_that_waited_in_the_cold_has_not_leaked() -> None:
    # 1700 psi at 21.1 degC reads 1499 at -5 degC with nothing lost (real gas; the ideal gas gives 1544).
    main = cylinder("main", 1700.0, "US-M", outlets=(flowmeter(),))
    ambulance = Supply("ambulance", "cylinders", fixed=True, cylinders=(main,), coldest_degc=-5.0)
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0, outlets=(flowmeter(),)),))
    legs = leg(10.0, MASK), leg(30.0, MASK, supply="ambulance")
    found = plan(trip([cart, ambulance], *legs, policy=POLICY))
    taken_up = next(check for check in found.checkpoints if check.supply == "ambulance")
    same_gas = contents.contents_l(1700.0 * KPA_PER_PSI, 21.1, main.water_capacity_l)
    assert contents.gauge_kpa(same_gas, -5.0, main.water_capacity_l) / KPA_PER_PSI == pytest.approx(1499, abs=1)
    assert taken_up.leak is not None
    assert taken_up.leak.gauge_kpa < 1499 * KPA_PER_PSI - half_division_kpa("psi")


@pytest.mark.hazard(32)
def test_no_gauge_within_its_doubts_is_called_a_leak() -> None:
    """A cylinder that gives what the plan says, read by a gauge within its class, by a hurried person, in any cold."""
    random = Random(32)  # noqa: S311
    told = 0
    for _ in range(MANY):
        minutes, coldest = random.uniform(3.0, 50.0), random.choice([None, -10.0, 5.0, 19.0])
        found = plan(ward_trip(minutes, 1.0, gauge_psi=random.uniform(1200.0, 2200.0), coldest_degc=coldest))
        leak = at(found, minutes).leak
        if leak is None:
            continue
        told += 1
        (held,) = found.supplies["cart"].cylinders
        assert _shown_kpa(random, held.cylinder, 8.0 * minutes, coldest) >= leak.gauge_kpa
    assert told > MANY / 3


def _shown_kpa(random: Random, one: Cylinder, drawn_l: float, coldest: float | None) -> float:
    """What the gauge shows, the reading at departure being what it is. Sums apart from the planner's own.

    True pressure = gauge - class error; both reading errors and the change of temperature within the root of their
    squares; a minute late; indoors 21.1 degC give or take 10, or down to the coldest.
    """
    scale = gauge_scale_kpa(one, POLICY)
    at_zero, at_full = (GAUGE_ERROR_OF_FULL_SCALE * random.choice([-1, 0, 1]) for _ in range(2))
    spare = random.choice([(1, 0, 0), (0, 1, 0), (0, 0, 1), (0.6, 0.6, 0.0), (0.5, 0.5, 0.5)])
    first_kpa, second_kpa = (share * random.choice([-1, 1]) * half_division_kpa("psi") for share in spare[:2])
    warm = 21.1 + 10.0 * random.choice([-1, 0, 1])
    cold = warm if coldest is None else warm - random.uniform(0.0, 21.1 - coldest)
    cold = cold - 5.0 * spare[2] if coldest is None else cold

    def true_kpa(shown: float) -> float:
        return shown - scale * at_zero - shown * (at_full - at_zero)

    left = contents.contents_l(true_kpa(one.gauge_kpa + first_kpa), warm, one.water_capacity_l) - drawn_l - 8.0
    true = contents.gauge_kpa(max(0.0, left), cold, one.water_capacity_l)
    return (true + scale * at_zero) / (1.0 - (at_full - at_zero)) + second_kpa


def test_nothing_at_departure_and_nothing_below_the_least_gauge() -> None:
    found = plan(ward_trip(30.0, 10.0, gauge_psi=2000.0))
    assert found.checkpoints[0].leak is None
    for check in found.checkpoints:
        assert check.leak is None or check.least_gauge_kpa is None or check.leak.gauge_kpa > check.least_gauge_kpa
    tight = plan(ward_trip(30.0, 30.0, gauge_psi=2150.0))
    assert at(tight, 30.0).leak is None  # 1290 of 1293 psi are asked for: no doubt is as small as that
