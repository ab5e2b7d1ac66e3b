"""A shift: cylinders to draw, the most out at once, the store against the need. Expected figures are worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.constants import KPA_PER_PSI
from planner.gas.contents import contents_l
from planner.model import Cylinder, SizeAsked, Supply, Trip
from planner.planning import plan
from planner.problems import Finding, ProblemsError
from planner.profile.read import parse_trip
from planner.profile.store import read_store
from planner.report.shift.result import ShiftResult, Unread, numbers, why
from planner.report.shift.shift import shift_sheet
from planner.report.shift.text import shift_summary
from planner.shift.allotment import allotment
from planner.shift.shift import Shift, SizeNeed, default_turnaround_min, over_the_clock, shift, taken_twice
from planner.shift.store import StoreRow, against
from planner.shift.trip import TripNeed, Wanted, size_of, trip_need
from planner.trade.policy_table import policy_defaults
from tests.build import BAG, CANNULA, cylinder, leg, trip

DAY = datetime(2026, 12, 3)
POLICY = policy_defaults("in_house")
FULL_PSI = 2000.0
_names = count(1)


def wanted(size: str, psi: float = FULL_PSI, *, fixed: bool = False, label: str | None = None) -> Wanted:
    """A cylinder that a trip takes, by its gauge."""
    each = cylinder("x", psi, size)
    litres = contents_l(each.gauge_kpa, 21.1, each.water_capacity_l)
    return Wanted("cart", fixed, size, litres, psi >= FULL_PSI, label, label is not None)


def need(
    name: str,
    departs: datetime | None,
    minutes: float,
    *cylinders: Wanted,
    longest: float | None = None,
    road: bool = False,
    go: bool = True,
) -> TripNeed:
    """A trip in few figures."""
    return TripNeed(
        name=name,
        file=f"{name}.yaml",
        reference=None,
        setting="road" if road else "in_house",
        go=go,
        stops=(),
        cautions=0,
        departs=departs,
        total_min=minutes,
        longest_min=minutes if longest is None else longest,
        cylinders=cylinders,
        uncounted=(),
        stated=(),
        full_at_kpa=POLICY.full_at_kpa,
        change_over_at_kpa=POLICY.change_over_at_kpa,
        reading_valid_for_min=720.0,
        fingerprint=f"{next(_names):064x}",
    )


def at(hour: int, minute: int = 0, day: int = 0) -> datetime:
    return DAY + timedelta(days=day, hours=hour, minutes=minute)


def of(made: Shift, size: str | None, *, fixed: bool = False) -> SizeNeed:
    return next(each for each in made.sizes if (each.size, each.fixed) == (size, fixed))


# Three overlapping trips, turnaround 30 min:
#   A  08:00, longest 50 min: out 08:00 to 09:20, 2 US-E
#   B  09:00, 20 min:         out 09:00 to 09:50, 1 US-E and 1 US-D
#   C  09:21, 30 min:         out 09:21 to 10:21, 3 US-E
#   US-E over the clock: 2 from 08:00, 3 from 09:00, 1 after 09:20, 4 from 09:21 to 09:50, 3 after that. To draw: 6.
#   US-D: 1 from 09:00 to 09:50. All sizes: 4 from 09:00, then 5 from 09:21.
THREE = (
    need("C", at(9, 21), 30, *[wanted("US-E")] * 3),
    need("A", at(8), 40, wanted("US-E"), wanted("US-E", 1500), longest=50),
    need("B", at(9), 20, wanted("US-E"), wanted("US-D", 1800)),
)


def test_three_overlapping_trips_by_hand() -> None:
    made = shift(THREE, 30.0)
    assert [(out.need.name, out.leaves_min, out.back_min) for out in made.trips] == [
        ("A", 0.0, 80.0),
        ("B", 60.0, 110.0),
        ("C", 81.0, 141.0),
    ]
    e, d, every = (of(made, size) for size in ("US-E", "US-D", None))
    assert (e.to_draw, e.part_used, e.peak.count, e.peak.trips) == (6, 1, 4, (2, 3))
    assert (e.peak.begins, e.peak.ends) == (3, 2)  # from the departure of C until the return of B
    assert (d.to_draw, d.part_used, d.peak.count, d.peak.trips) == (1, 1, 1, (2,))
    assert (every.to_draw, every.peak.count, every.peak.begins) == (7, 5, 3)


def test_a_cylinder_that_is_back_at_the_very_minute_of_a_departure_still_counts_as_out() -> None:
    # With C at 09:20, the minute at which A comes back: 2 + 1 + 3 = 6. One minute less of turnaround: 1 + 3 = 4.
    c = replace(THREE[0], departs=at(9, 20))
    peak = of(shift((c, *THREE[1:]), 30.0), "US-E").peak
    assert (peak.count, peak.trips) == (6, (1, 2, 3))
    assert of(shift((c, *THREE[1:]), 29.0), "US-E").peak.count == 4


def test_a_longer_turnaround_keeps_more_out() -> None:
    assert of(shift(THREE, 0.0), "US-E").peak.count == 3  # C alone: A is back at 08:50, B at 09:20
    assert of(shift(THREE, 60.0), "US-E").peak.count == 6  # A until 09:50, B until 10:20


def test_of_two_peaks_the_earlier_one_is_told() -> None:
    made = shift([need(name, at(hour), 30, wanted("US-E")) for name, hour in (("A", 8), ("B", 10), ("C", 12))], 0.0)
    peak = of(made, "US-E").peak
    assert (peak.count, peak.begins, peak.ends, peak.trips) == (1, 1, 1, (1,))


def test_the_curve_over_the_clock_by_hand() -> None:
    # All portable: 2 from 08:00, 4 from 09:00, 2 after 09:20, 5 from 09:21, 3 after 09:50, 0 after 10:21.
    steps = over_the_clock(shift(THREE, 30.0).trips, gas="oxygen")
    assert steps == ((0.0, 2), (60.0, 4), (80.0, 2), (81.0, 5), (110.0, 3), (141.0, 0))
    always = need("D", None, 10, wanted("US-D"), wanted("US-M", fixed=True))
    more = over_the_clock(shift((*THREE, always), 30.0).trips, gas="oxygen")
    assert more == tuple((minute, count + 1) for minute, count in steps)


def test_a_trip_without_departs_is_out_all_the_time_and_says_so() -> None:
    made = shift((*THREE, need("D", None, 10, wanted("US-E"))), 30.0)
    assert made.trips[-1].need.name == "D"
    e = of(made, "US-E")
    assert (e.to_draw, e.peak.count, e.peak.trips) == (7, 5, (2, 3, 4))
    notes = shift_sheet(ShiftResult(made, (), None, "", False, ())).notes
    assert "No departs in the profile, counted as out all the time: trip 4." in notes


def test_without_any_departure_everything_is_out_at_once() -> None:
    made = shift([replace(one, departs=None) for one in THREE])
    assert (made.first, [out.need.name for out in made.trips]) == (None, ["A", "B", "C"])
    e = of(made, "US-E")
    assert (e.peak.count, e.peak.begins, e.peak.ends, e.peak.trips) == (6, None, None, (1, 2, 3))


def test_cylinders_fixed_to_vehicles_are_counted_apart() -> None:
    main = wanted("US-M", fixed=True)
    made = shift((need("A", at(8), 30, wanted("US-E"), main), need("B", at(8, 10), 30, main)), 0.0)
    assert (of(made, "US-E").to_draw, of(made, "US-M", fixed=True).peak.count) == (1, 2)
    assert [(each.fixed, each.size) for each in made.sizes] == [(False, "US-E"), (True, "US-M")]


def test_the_default_turnaround_adds_the_way_back_outside_the_hospital() -> None:
    # In the hospital 30 min. By road the longest time of 85 min once more: 30 + 85 = 115 min.
    assert default_turnaround_min(need("A", at(8), 60, longest=85)) == 30.0
    assert default_turnaround_min(need("A", at(8), 60, longest=85, road=True)) == 115.0
    made = shift([need("A", at(8), 60, wanted("US-E"), longest=85, road=True)])
    assert made.trips[0].back_min == 200.0


def test_order_is_by_departure_then_name_then_file() -> None:
    b, a = need("b", at(8), 10), need("a", at(8), 10)
    late, unknown = need("A", at(9), 10), need("A", None, 10)
    again = replace(a, file="z.yaml")
    found = [out.need for out in shift((unknown, again, late, b, a)).trips]
    assert found == [a, again, b, late, unknown]
    assert [out.need for out in shift((a, b, late, again, unknown)).trips] == found


@pytest.mark.parametrize("night", [DAY, datetime(2026, 12, 31)])
def test_a_shift_over_midnight(night: datetime) -> None:
    # 23:50 with 30 min and no turnaround: back at 00:20, together with one that leaves at 00:10.
    late, early = night + timedelta(hours=23, minutes=50), night + timedelta(days=1, minutes=10)
    made = shift((need("B", early, 30, wanted("US-E")), need("A", late, 30, wanted("US-E"))), 0.0)
    assert [(out.need.name, out.leaves_min, out.back_min) for out in made.trips] == [("A", 0, 30), ("B", 20, 50)]
    assert of(made, "US-E").peak.count == 2
    lines = shift_sheet(ShiftResult(made, (), None, "", False, ())).trips
    assert [(line.leaves, line.back) for line in lines] == [("23:50", "00:20 +1d"), ("00:10 +1d", "00:40 +1d")]


def test_departures_in_two_zones_stand_on_one_clock() -> None:
    # 09:00 in Oslo (UTC+1 in winter) is 08:00 UTC: at 08:30 UTC both are out.
    oslo = at(9).replace(tzinfo=ZoneInfo("Europe/Oslo"))
    made = shift((need("B", at(8, 30).replace(tzinfo=UTC), 30, wanted("US-E")), need("A", oslo, 40, wanted("US-E"))), 0)
    assert [(out.need.name, out.leaves_min, out.back_min) for out in made.trips] == [("A", 0, 40), ("B", 30, 60)]
    assert of(made, "US-E").peak.count == 2


def test_elapsed_time_runs_on_when_clocks_go_back() -> None:
    # Oslo, 25 October 2026: at 03:00 clocks go back to 02:00. From 01:30 (+2) to 02:30 (+1) two hours pass, so that
    # a trip of 90 min is back before.
    oslo = ZoneInfo("Europe/Oslo")
    first = datetime(2026, 10, 25, 1, 30, tzinfo=oslo)
    second = datetime(2026, 10, 25, 2, 30, fold=1, tzinfo=oslo)
    made = shift((need("A", first, 90, wanted("US-E")), need("B", second, 30, wanted("US-E"))), 0.0)
    assert [out.leaves_min for out in made.trips] == [0.0, 120.0]
    assert of(made, "US-E").peak.count == 1
    assert [line.back for line in shift_sheet(ShiftResult(made, (), None, "", False, ())).trips] == [
        "02:00 CET",
        "03:00 CET",
    ]


def test_a_departure_without_its_zone_among_others_that_have_one_counts_all_the_time() -> None:
    made = shift((need("A", at(8), 10, wanted("US-E")), need("B", at(20).replace(tzinfo=UTC), 10, wanted("US-E"))), 0.0)
    assert [(out.need.name, out.placed) for out in made.trips] == [("B", "clock"), ("A", "no_zone")]
    assert of(made, "US-E").peak.count == 2
    notes = shift_sheet(ShiftResult(made, (), None, "", False, ())).notes
    assert any("counted as out all the time: trip 2. Give the profile a timezone." in note for note in notes)


def test_return_is_rounded_up_to_the_minute() -> None:
    made = shift([need("A", at(8), 10.2, wanted("US-E"))], 0.0)
    assert shift_sheet(ShiftResult(made, (), None, "", False, ())).trips[0].back == "08:11"


@pytest.mark.parametrize(
    ("found", "text"),
    [([], ""), ([4], "4"), ([1, 2], "1, 2"), ([1, 2, 3], "1 to 3"), ([1, 3, 4, 5, 9, 10], "1, 3 to 5, 9, 10")],
)
def test_numbers_of_trips_run_together(found: list[int], text: str) -> None:
    assert numbers(found) == text


# What one trip takes


def test_a_trip_takes_the_cylinders_that_it_lists_spare_and_part_used_too() -> None:
    cart = Supply(
        "cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("B", 1400), cylinder("C", 1900, "US-D"))
    )
    main = Supply("main", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("M", 2000, "US-M"),))
    made = trip_need(plan(trip([cart, main], leg(10, CANNULA))))
    found = [(each.size, each.fixed, each.full, each.label) for each in made.cylinders]
    assert found == [
        ("US-E", False, True, "A"),
        ("US-E", False, False, "B"),
        ("US-D", False, False, "C"),
        ("US-M", True, True, "M"),
    ]


def test_a_supply_of_sizes_takes_the_full_cylinders_of_the_first_size() -> None:
    # 4 L/min for 120 min: planned 480 L, reserve 240 L, required 720 L. A full US-E gives (2000 - 500) x 0.28 = 420 L,
    # so 2; no wall outlet for 10 min: 40 L more on 480, which 2 hold.
    asked = tuple(
        SizeAsked(size, one.water_capacity_l, one.filling_gauge_kpa, one.factor_l_per_psi, 2000 * KPA_PER_PSI)
        for size, one in (("US-E", cylinder("x", 0)), ("US-M", cylinder("x", 0, "US-M")))
    )
    made = trip_need(plan(trip([Supply("cart", "sizes", sizes=asked)], leg(120, CANNULA))))
    assert [(each.size, each.full, each.label) for each in made.cylinders] == [("US-E", True, None)] * 2
    assert (made.go, made.waits) == (False, True)


def test_sizes_of_which_no_number_will_do_are_told() -> None:
    low = SizeAsked("US-E", 3.86, 15168.0, 0.28, 400 * KPA_PER_PSI)  # full at 400 psi: nothing above 500 psi
    made = trip_need(plan(trip([Supply("cart", "sizes", sizes=(low,))], leg(120, CANNULA))))
    assert (made.cylinders, made.uncounted) == ((), ("cart",))
    found = shift_sheet(ShiftResult(shift([made]), (), None, "", False, ()))
    assert "NOT COUNTED" in found.trips[0].cylinders
    assert found.alarms[0].startswith("Trip 1: the cylinders of cart cannot be counted")


def test_what_is_no_cylinder_of_oxygen_is_not_drawn() -> None:
    supplies = [
        Supply("cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("X", 2000, gas="air"))),
        Supply("wall", "pipeline"),
        Supply("tank", "litres", fixed=True, stated_l=3000.0),
    ]
    made = trip_need(plan(trip(supplies, leg(10, CANNULA))))
    assert [each.label for each in made.cylinders] == ["A"]
    assert made.stated == ("tank",)


def test_the_longest_times_count_with_delays() -> None:
    text = """
profile: 1
trip: With delays
setting: in_house
departs: 2026-12-03 08:00
supplies: {cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}}
devices: {cannula: {type: nasal_cannula, flow: 1 L/min}}
legs:
  - name: one
    duration: 10 min
    longest: 25 min
    delays: [{reason: lift, time: 5 min}]
    supply: cart
    devices: [cannula]
  - {name: two, duration: 12 min, supply: cart, devices: [cannula]}
"""
    made = trip_need(plan(parse_trip(text)))
    assert (made.total_min, made.longest_min) == (27.0, 42.0)  # 10 + 5 + 12, and 25 + 5 + 12


def test_a_no_go_keeps_its_reasons() -> None:
    made = trip_need(plan(trip([Supply("cart", "cylinders", cylinders=(cylinder("A", 600),))], leg(60, BAG))))
    assert (made.go, made.waits) == (False, False)
    assert made.stops
    assert all(stop.message and stop.fix for stop in made.stops)


def test_a_trip_that_lacks_more_than_readings_is_no_go_and_not_waiting() -> None:
    asked = SizeAsked("US-E", 3.86, 15168.0, 0.28, 2000 * KPA_PER_PSI)
    supplies = [Supply("new", "sizes", sizes=(asked,)), Supply("cart", "cylinders", cylinders=(cylinder("A", 600),))]
    made = trip_need(plan(trip(supplies, leg(60, BAG), leg(10, CANNULA, supply="new"))))
    assert "no_readings" in [stop.code for stop in made.stops]
    assert not made.waits


def test_full_is_never_more_than_the_filling_pressure_gives() -> None:
    low = cylinder("A", 1800)._replace(filling_gauge_kpa=1800 * KPA_PER_PSI)
    made = trip_need(plan(trip([Supply("cart", "cylinders", cylinders=(low,))], leg(10, CANNULA))))
    assert [each.full for each in made.cylinders] == [True]


def test_a_cylinder_without_a_size_is_drawn_by_its_label() -> None:
    plain = cylinder("A", 2000)
    assert size_of(plain) == "US-E"
    assert size_of(plain._replace(size=None, label_contents="680 L at 2015 psi")) == "680 L at 2015 psi"
    stamped = plain._replace(size=None, water_capacity_l=4.7, filling_gauge_kpa=20000.0)
    assert size_of(stamped) == "4.7 L water, 200 bar"


# The store


def row(store: list[Cylinder], *needs: TripNeed, size: str = "US-E") -> StoreRow:
    return next(each for each in against(store, shift(needs, 0.0)).rows if each.size == size)


def test_the_store_against_the_need_by_hand() -> None:
    # Wanted: full, full, 1500 psi. In the store: full, 1900, 1600, 450 (below change-over). The 1500 can be had from
    # 1600 or 1900, one full from the full one: 1 short. At 08:00 one full and the 1500 are out: none short.
    store = [cylinder(str(psi), psi) for psi in (2050, 1900, 1600, 450)]
    a = need("A", at(8), 30, wanted("US-E"), wanted("US-E", 1500))
    b = need("B", at(9), 30, wanted("US-E"))
    found = row(store, a, b)
    assert (found.full, found.part_used, found.empty) == (1, 2, 1)
    assert (found.to_draw, found.short, found.at_once, found.short_at_once) == (3, 1, 2, 0)


def test_rounding_noise_makes_no_cylinder_short() -> None:
    noisy = replace(wanted("US-E"), contents_l=wanted("US-E").contents_l * (1.0 + 1e-12))
    assert row([cylinder("A", 2000)], need("A", at(8), 30, noisy)).short == 0


def test_the_store_is_judged_by_the_strictest_policy_of_the_trips() -> None:
    # Change-over at 500 and at 800 psi, full at 1800 and at 2000 psi: 700 psi is empty, 1900 psi is part-used.
    lax = replace(need("A", at(8), 30), full_at_kpa=1800 * KPA_PER_PSI)
    strict = replace(need("B", at(9), 30), change_over_at_kpa=800 * KPA_PER_PSI)
    found = row([cylinder(str(psi), psi) for psi in (700, 1900, 2000)], lax, strict)
    assert (found.full, found.part_used, found.empty) == (1, 1, 1)


def test_a_size_that_the_store_does_not_have_is_short_of_all() -> None:
    found = row([cylinder("A", 2000)], need("A", at(8), 30, wanted("US-D"), wanted("US-D")), size="US-D")
    assert (found.full, found.part_used, found.short) == (0, 0, 2)


def test_a_warm_cylinder_does_not_count_as_full() -> None:
    warm = cylinder("A", 2000)._replace(temperature_degc=45.0)
    found = row([warm], need("A", at(8), 30, wanted("US-E")))
    assert (found.full, found.part_used, found.short) == (0, 1, 1)


def test_another_gas_is_left_out_of_the_store() -> None:
    store = [cylinder("A", 2000, gas="nitrous_oxide"), cylinder("B", 2000)]
    found = against(store, shift([need("A", at(8), 30, wanted("US-E"), wanted("US-E"))]))
    assert (found.other_gas, found.short) == (("A",), 1)


@pytest.mark.hazard(44)
def test_air_never_stands_for_oxygen_in_the_store() -> None:
    """Two E of oxygen are wanted and one of air; the store has one of oxygen and two of air: one of oxygen is short."""
    store = [cylinder("A", 2000, gas="air"), cylinder("B", 2000), cylinder("C", 2000, gas="air")]
    each = cylinder("x", FULL_PSI, gas="air")
    litres = contents_l(each.gauge_kpa, 21.1, each.water_capacity_l, "air")
    air = Wanted("airs", False, "AIR US-E", litres, True, None, False)
    trip = need("A", at(8), 30, wanted("US-E"), wanted("US-E"), air)
    found = against(store, shift([trip]))
    assert found.other_gas == ()
    assert {one.size: (one.full, one.to_draw, one.short) for one in found.rows} == {
        "AIR US-E": (2, 1, 0),
        "US-E": (1, 2, 1),
    }


@pytest.mark.hazard(44)
def test_all_sizes_are_of_one_gas_and_what_lacks_is_told_by_gas() -> None:
    """Two trips at one time, each with 2 US-E and 1 US-D of oxygen and 1 E of air: 6 of oxygen and 2 of air, never 8.

    The store has 3 US-E and 1 US-D of oxygen and 1 E of air: 2 of oxygen lack, and 1 of air.
    """
    store = [*(cylinder(label, 2000) for label in "ABC"), cylinder("D", 2000, "US-D"), cylinder("L", 2000, gas="air")]
    litres = contents_l(store[-1].gauge_kpa, 21.1, store[-1].water_capacity_l, "air")
    air = Wanted("airs", False, "AIR US-E", litres, True, None, False)
    each = (wanted("US-E"), wanted("US-E"), wanted("US-D"), air)
    made = shift([need("A", at(8), 30, *each), need("B", at(8, 10), 30, *each)])
    assert [(row.gas, row.size, row.to_draw, row.peak.count) for row in made.sizes] == [
        ("air", "AIR US-E", 2, 2),
        ("oxygen", "US-D", 2, 2),
        ("oxygen", "US-E", 4, 4),
        ("oxygen", None, 6, 6),
    ]
    more = shift([*(out.need for out in made.trips), need("C", at(12), 30, air)])
    sheet = shift_sheet(ShiftResult(more, (), None, "", False, (), "", None))
    assert sheet.cylinders == "oxygen and AIR cylinders"
    assert [(curve.title, curve.most) for curve in sheet.curves] == [  # each gas for itself: never 8 out at once
        ("Portable cylinders out, over the clock", 6),
        ("Portable AIR cylinders out, over the clock", 2),
    ]
    for allotted in (None, allotment(made, store)):
        result = ShiftResult(made, (), against(store, made), "store", False, (), "", allotted)
        assert "the store is SHORT of 2 cylinders of oxygen and 1 cylinder of AIR" in why(result)
        assert [(row.size, row.lacking) for row in shift_sheet(result).sizes] == [
            ("AIR US-E", "1"),
            ("US-D", "1"),
            ("US-E", "1"),
            ("all sizes", "2"),
        ]


def test_fixed_cylinders_are_not_drawn_from_the_store() -> None:
    found = against([cylinder("A", 2000)], shift([need("A", at(8), 30, wanted("US-M", fixed=True))]))
    assert [(each.size, each.to_draw) for each in found.rows] == [("US-E", 0)]


@pytest.mark.parametrize(
    ("checked", "old"),
    [(at(7), 0), (at(20, day=-1), 0), (at(19, 59, day=-1), 1), (None, 1), (at(7).replace(tzinfo=UTC), 1)],
)
def test_readings_of_the_store_that_are_old_at_the_first_departure(checked: datetime | None, old: int) -> None:
    """Valid for 12 h: at 08:00 a reading from 20:00 the day before still counts, one from 19:59 does not."""
    store = [cylinder("A", 2000, checked=checked)]
    assert against(store, shift([need("A", at(8), 30, wanted("US-E"))])).readings_old == old


def test_the_same_store_cylinder_on_two_trips() -> None:
    # E-01 and E-02 are chosen by A (08:00 to 08:30) and B (08:20 to 08:50), E-03 by A and C (10:00).
    a = need("A", at(8), 30, *(wanted("US-E", label=label) for label in ("E-01", "E-03")))
    b = need("B", at(8, 20), 30, wanted("US-E", label="E-01"))
    c = need("C", at(10), 30, wanted("US-E", label="E-03"))
    c = replace(c, cylinders=(*c.cylinders, wanted("US-E", label="E-09")))
    made = shift((a, b, c), 0.0)
    found = taken_twice(made.trips)
    assert [(each.label, each.trips, each.at_once) for each in found] == [
        ("E-01", (1, 2), True),
        ("E-03", (1, 3), False),
    ]
    text = shift_sheet(ShiftResult(made, (), None, "", False, found))
    assert (text.go, text.why) == (False, "1 cylinder on two trips at once")
    assert text.alarms[0].startswith("Cylinder E-01 (US-E) is on trips 1, 2, which are out at the same")
    assert any(note.startswith("Cylinder E-03 (US-E) is on trips 1, 3, one after") for note in text.notes)


@pytest.mark.hazard(34)
def test_one_label_is_one_cylinder_with_or_without_a_store_however_its_size_is_written() -> None:
    mine = replace(wanted("US-E", label="A"), from_store=False)
    by_contents = replace(mine, size="680 L at 2015 psi")
    made = shift((need("A", at(8), 30, mine), need("B", at(8), 30, by_contents)), 0.0)
    assert [(each.label, each.at_once) for each in taken_twice(made.trips)] == [("A", True)]
    assert not ShiftResult(made, (), None, "", False, taken_twice(made.trips)).go
    main = replace(mine, fixed=True)
    apart = shift((need("A", at(8), 30, main), need("B", at(8), 30, main)), 0.0)
    assert taken_twice(apart.trips) == ()


@pytest.mark.hazard(34)
def test_in_turn_the_second_trip_has_what_the_first_leaves() -> None:
    # A cannula at 4 L/min for 60 min takes 240 L out of E-01; the second trip counts on it as it was, then as it is.
    cart = Supply("cart", "cylinders", cylinders=(cylinder("E-01", 2000), cylinder("E-02", 2000)))
    first = trip_need(plan(trip([cart], leg(60, CANNULA))._replace(departs=at(8))))
    left = {one.label: one.left_l for one in first.cylinders}
    whole = {one.label: one.contents_l for one in first.cylinders}
    assert whole["E-01"] - (left["E-01"] or 0.0) == pytest.approx(240.0, abs=0.01)
    assert left["E-02"] == whole["E-02"]
    made = shift((first, replace(first, departs=at(14))), 0.0)
    found = taken_twice(made.trips)
    assert [(each.label, each.at_once, each.counted_on) for each in found] == [
        ("E-01", False, (2,)),
        ("E-02", False, ()),
    ]
    result = ShiftResult(made, (), None, "", False, found)
    assert (result.go, shift_sheet(result).why) == (False, "1 cylinder counted on again as if not used")
    assert ShiftResult(made, (), None, "", True, found).go  # refilled in between


def test_a_trip_that_chooses_from_a_store_takes_what_was_chosen() -> None:
    shelf = Supply("cart", "cylinders", store=(cylinder("E-01", 2000), cylinder("E-02", 1000)))
    made = trip_need(plan(trip([shelf], leg(30, CANNULA))))
    assert [(each.label, each.from_store) for each in made.cylinders] == [("E-01", True)]


def test_a_choice_that_fails_is_told_and_not_taken_for_nothing() -> None:
    made = trip_need(plan(trip([Supply("cart", "cylinders", store=(cylinder("E-01", 600),))], leg(60, CANNULA))))
    assert (made.cylinders, made.uncounted) == ((), ("cart",))


def test_a_choice_that_fails_for_a_backup_alone_is_told_too() -> None:
    main = Supply("main", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("M", 2000, "US-M"),))
    cart = Supply("cart", "cylinders", store=(cylinder("E-01", 510),))
    made = trip_need(plan(trip([cart, main], leg(60, CANNULA, supply="main"))))
    assert (made.go, made.uncounted) == (False, ("cart",))


def test_a_store_file_is_read_like_the_store_of_a_supply(tmp_path: Path) -> None:
    path = tmp_path / "store.yaml"
    path.write_text("name: Cart room\ncylinders:\n  - {label: A, size: US-E, gauge: 2000 psi}\n", encoding="utf-8")
    store = read_store(path)
    assert (store.name, [(one.label, one.size) for one in store.cylinders]) == ("Cart room", [("A", "US-E")])
    assert store.cylinders[0].gauge_kpa == pytest.approx(2000 * 6.894757293168361, rel=1e-12)
    path.write_text("cylinders:\n  - {label: A, size: E, gauge: 2000}\n", encoding="utf-8")
    with pytest.raises(ProblemsError) as caught:
        read_store(path)
    assert [(each.line, each.column, each.code) for each in caught.value.problems] == [
        (2, 22, "size_without_system"),
        (2, 32, "unit_missing"),
    ]


# All go or not


def test_all_go_needs_every_profile_every_trip_and_the_store() -> None:
    made = shift(THREE, 30.0)
    enough = against([cylinder(str(n), 2000) for n in range(6)] + [cylinder("D", 2000, "US-D")], made)
    few = against([cylinder(str(n), 2000) for n in range(4)] + [cylinder("D", 2000, "US-D")], made)
    assert ShiftResult(made, (), enough, "", False, ()).go
    assert not ShiftResult(made, (), few, "", False, ()).go  # 6 to draw, 4 there
    assert ShiftResult(made, (), few, "", True, ()).go  # 4 out at once, if those that come back are full again
    assert not ShiftResult(made, (Unread("x.yaml", (), "gone"),), None, "", False, ()).go
    stopped = shift((replace(THREE[0], go=False), *THREE[1:]), 30.0)
    assert not ShiftResult(stopped, (), None, "", False, ()).go


def test_the_screen_is_at_most_100_columns_and_cuts_no_cylinder() -> None:
    sizes = ("US-E", "US-D", "US-M", "UK-CD")
    long = need("A very long name of a trip " * 6, at(8), 30, *map(wanted, sizes), go=False)
    stop = Finding("stop", "not_enough", "Something is missing, and that is a long story. " * 5, "Mend it. " * 20)
    made = shift([replace(long, stops=(stop,), stated=("aircraft_1",)), need("B\x1b[31m", at(9), 30)], 30.0)
    text = shift_summary(shift_sheet(ShiftResult(made, (), None, "", False, ())))
    assert max(map(len, text.splitlines())) <= 100
    assert all(f"1 x {size}" in text for size in sizes)
    assert "aircraft_1: stated" in text
    assert "\x1b" not in text


def test_a_profile_given_twice_is_told() -> None:
    made = shift((THREE[0], THREE[0]), 30.0)
    notes = shift_sheet(ShiftResult(made, (), None, "", False, ())).notes
    assert "One and the same profile, given more than once, each time counted: trips 1, 2." in notes


# Properties: the sweep against a look at every minute, the count of cylinders short against every pairing

SIZES = ("US-D", "US-E")
trips_of_a_day = st.lists(
    st.tuples(
        st.none() | st.integers(0, 300),  # departure, minutes after 08:00
        st.integers(1, 120),  # longest time
        st.lists(st.sampled_from(SIZES), max_size=3),
    ),
    max_size=8,
)


@given(trips_of_a_day, st.integers(0, 60))
def test_the_most_out_at_once_equals_a_look_at_every_minute(
    drawn: list[tuple[int | None, int, list[str]]], turnaround: int
) -> None:
    made = shift(
        [
            need(str(number), None if start is None else at(8, start), longest, *map(wanted, sizes))
            for number, (start, longest, sizes) in enumerate(drawn)
        ],
        float(turnaround),
    )
    for size in (*SIZES, None):
        counts = {}
        for minute in range(500):
            counts[minute] = sum(
                1
                for start, longest, sizes in drawn
                for each in sizes
                if size in (None, each) and (start is None or start <= minute <= start + longest + turnaround)
            )
        found = [each for each in made.sizes if each.size == size]
        if not found:
            assert size is None or max(counts.values()) == 0
            continue
        peak = found[0].peak
        assert peak.count == max(counts.values())
        if peak.begins is not None:
            assert made.first is not None
            begins, ends = made.trip(peak.begins).leaves_min, made.trip(peak.ends or 0).back_min
            assert begins is not None
            assert ends is not None
            offset = int((made.first - at(8)).total_seconds() // 60)
            assert {counts[minute + offset] for minute in range(int(begins), int(ends) + 1)} == {peak.count}


gauges = st.lists(st.integers(501, 2200), max_size=5)


def _unpaired(asked: list[int], there: list[int]) -> int:
    """Gauges asked for that no pairing can serve, by trying them all."""
    if not asked:
        return 0
    first, rest = asked[0], asked[1:]
    without = 1 + _unpaired(rest, there)
    return min(
        [without, *(_unpaired(rest, [*there[:n], *there[n + 1 :]]) for n, psi in enumerate(there) if psi >= first)]
    )


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(1, 30), gauges), max_size=3), gauges)
def test_the_store_is_short_by_what_no_pairing_can_serve(
    drawn: list[tuple[int, int, list[int]]], there: list[int]
) -> None:
    drawn = [(start, longest, psi[:2]) for start, longest, psi in drawn]
    needs = [
        need(str(number), at(8, start), longest, *(wanted("US-E", psi) for psi in gauges))
        for number, (start, longest, gauges) in enumerate(drawn)
    ]
    found = against([cylinder(str(number), psi) for number, psi in enumerate(there)], shift(needs, 0.0))
    assert found.short == _unpaired([psi for _, _, gauges in drawn for psi in gauges], there)
    assert found.short_at_once == max(
        _unpaired(
            [psi for start, longest, gauges in drawn if start <= minute <= start + longest for psi in gauges], there
        )
        for minute in range(91)
    )


def test_a_trip_can_be_planned_without_its_file() -> None:
    bare: Trip = trip([Supply("cart", "cylinders", cylinders=(cylinder("A", 2000),))], leg(10, CANNULA))
    assert shift([trip_need(plan(bare))]).trips[0].need.file == ""
