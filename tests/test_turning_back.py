"""Until when a trip can be broken off, by hand, and against a trip of its own for the way back.

A stated supply of 400 L and a flow of 4 L/min give 100 min in all. Turning back at minute t draws 2 x 4 t and must
leave 30 min x 4 = 120 L: 8 t <= 280, until minute 35.
"""

from __future__ import annotations

from math import ceil
from random import Random

import pytest

from planner.gas.liquid import GAS_L_PER_KG
from planner.model import Device, Divert, Leg, Liquid, Onward, Supply, Trip, Use
from planner.planning import plan
from planner.report import words
from planner.report.card.second import turn_back
from planner.report.json_result import result
from planner.results import TurnBack
from planner.trade.policy_table import policy_defaults
from tests.build import CANNULA, VENTILATOR, cylinder, flowmeter, leg, trip

LIQUID = Supply("liquid", "litres", stated_l=400.0)
WALL = Supply("wall", "pipeline")


def test_turn_back_until_reserve_time_is_left() -> None:
    found = plan(trip([LIQUID], leg(40.0, CANNULA, supply="liquid")))
    (row,) = found.turn_backs
    assert row.to is None
    assert (row.from_min, row.to_min) == pytest.approx((0.0, 35.0))


def test_cylinders_still_to_be_drawn_have_nothing_to_go_back_on() -> None:
    drop = CANNULA._replace(flow_l_per_min=0.01)
    assert plan(trip([Supply("cart", "sizes")], leg(10.0, drop))).turn_backs == ()


def test_the_window_goes_on_from_leg_to_leg() -> None:
    found = plan(trip([LIQUID], leg(20.0, CANNULA, supply="liquid"), leg(20.0, CANNULA, supply="liquid")))
    (row,) = found.turn_backs
    assert (row.from_min, row.to_min) == pytest.approx((0.0, 35.0))


def test_a_window_may_be_short() -> None:
    # 123.2 L last 30.8 min: 30.8 - t >= t + 30 until minute 0.4. 120 L last 30 min: at departure alone.
    for stated_l, to_min in ((123.2, 0.4), (120.0, 0.0)):
        found = plan(trip([LIQUID._replace(stated_l=stated_l)], leg(10.0, CANNULA, supply="liquid")))
        (row,) = found.turn_backs
        assert (row.from_min, row.to_min) == pytest.approx((0.0, to_min))


def test_turn_back_at_any_time_on_the_wall() -> None:
    found = plan(trip([WALL], leg(40.0, CANNULA, supply="wall")))
    assert found.turn_backs == (TurnBack(None, None, 0.0, 40.0, None, None),)


def test_no_turning_back_where_reserve_time_is_not_there() -> None:
    found = plan(trip([LIQUID._replace(stated_l=100.0)], leg(10.0, CANNULA, supply="liquid")))
    assert found.turn_backs == ()


@pytest.mark.hazard(36)
def test_the_way_back_is_over_every_leg_done_on_its_own_supply() -> None:
    """The trolley gave 172 L on the way to the vehicle and has 161 L left for the same way: nobody turns back there.

    333 L, 43 min at 4 L/min = 172 L. 333 - 8 t >= 120 until minute 26.625, whatever the van holds.
    """
    trolley, van = (
        LIQUID._replace(name="trolley", stated_l=333.0),
        LIQUID._replace(name="van", stated_l=9000.0, fixed=True),
    )
    made = trip([trolley, van], leg(43.0, CANNULA, supply="trolley"), leg(60.0, CANNULA, supply="van"))
    found = plan(made)
    (row,) = found.turn_backs
    assert row.to_min == pytest.approx(26.625)
    assert row.decided_by == "trolley"
    assert "Can turn back until minute 26: trolley then keeps the reserve time of 30 min." in words.choices(found)
    assert turn_back(found) == "Can turn back until minute 26, trolley decides"


@pytest.mark.hazard(36)
def test_the_spare_is_not_for_the_way_back() -> None:
    """Two US-E at 2000 psi, some 424.94 L each (tests/test_judge.py); one is the spare: 424.94 - 8 t >= 120."""
    policy = policy_defaults("road")
    cart = Supply("cart", "cylinders", cylinders=(cylinder("a", 2000), cylinder("b", 2000)))
    (row,) = plan(trip([cart], leg(60.0, CANNULA), setting="road", policy=policy)).turn_backs
    assert row.to_min == pytest.approx((424.94 - 120.0) / 8.0, abs=0.05)


@pytest.mark.hazard(36)
def test_the_reserve_is_at_the_risen_flow_where_it_is_higher() -> None:
    """A mask at 10 L/min may take over: 400 - 8 t >= 300 until minute 12.5."""
    mask = CANNULA._replace(name="mask", flow_l_per_min=10.0)
    made = trip([LIQUID], leg(40.0, CANNULA._replace(may_rise_to="mask"), supply="liquid"))
    (row,) = plan(made._replace(devices={**made.devices, "mask": mask})).turn_backs
    assert row.to_min == pytest.approx(12.5)


@pytest.mark.hazard(36)
def test_the_way_back_needs_outlets_too() -> None:
    """The ventilator draws 5.4367 L/min from a alone, 424.94 L: 10.8734 t + 163.1 <= 424.94 until minute 24.08."""
    cart = Supply("cart", "cylinders", cylinders=(cylinder("a", 2000), cylinder("b", 2000, outlets=(flowmeter(),))))
    (row,) = plan(trip([cart], leg(40.0, VENTILATOR))).turn_backs
    assert row.to_min == pytest.approx(24.08, abs=0.02)


def test_a_diversion_takes_its_time_and_the_handover() -> None:
    first = leg(15.0, CANNULA, supply="liquid", name="to the pass")
    second = leg(60.0, CANNULA, supply="liquid", name="down")._replace(divert=Divert("valley clinic", 20.0))
    found = plan(trip([LIQUID], first, second))
    # 4 t + 4 x (20 + 10 handover) + 120 <= 400 until minute 40; the leg begins at 15.
    assert found.turn_backs[-1] == TurnBack("valley clinic", "down", 15.0, pytest.approx(40.0), 20.0, "liquid")  # type: ignore[arg-type]


@pytest.mark.parametrize(("first_min", "told"), [(15.0, True), (15.3, False)])
def test_a_window_without_a_whole_minute_is_none(first_min: float, told: bool) -> None:
    """4 t + 4 x (20 + 10) + 120 <= 302 until minute 15.5: told from 15 on, from 15.3 it would end before it begins."""
    first = leg(first_min, CANNULA, supply="liquid", name="to the pass")
    second = leg(60.0, CANNULA, supply="liquid", name="down")._replace(divert=Divert("valley clinic", 20.0))
    found = plan(trip([LIQUID._replace(stated_l=302.0)], first, second))
    assert any(row.to == "valley clinic" for row in found.turn_backs) == told
    said = [text for text in words.choices(found) if "valley clinic" in text]
    assert [text.startswith("Can divert") for text in said] == [told]


def test_the_handover_of_a_diversion_is_on_the_backup() -> None:
    """In a van for 30 min: 4 x 10 for the wait and 120 L reserve are asked of the trolley, which holds 150 L: never."""
    van = LIQUID._replace(name="van", stated_l=9000.0, fixed=True, backup="trolley")
    ride = leg(30.0, CANNULA, supply="van")._replace(divert=Divert("clinic", 5.0))
    for stated_l, places in ((159.0, [None]), (160.0, [None, "clinic"])):
        found = plan(trip([LIQUID._replace(name="trolley", stated_l=stated_l), van], ride))
        assert [row.to for row in found.turn_backs] == places
    poor = plan(trip([LIQUID._replace(name="trolley", stated_l=159.0), van], ride))
    assert any(text.startswith("Cannot divert to clinic") for text in words.choices(poor))
    assert "CANNOT divert to clinic" in turn_back(poor)


def test_a_supply_that_cannot_bear_it_ends_the_window_where_it_comes_into_use() -> None:
    small = Supply("small", "litres", stated_l=100.0)
    legs = (leg(10.0, CANNULA, supply="liquid"), leg(10.0, CANNULA, supply="small"))
    (row,) = plan(trip([LIQUID, small], *legs)).turn_backs
    assert (row.to_min, row.decided_by) == (10.0, "small")


def test_a_leg_on_two_supplies_needs_both() -> None:
    """The small one holds 140 L: 140 - 8 t >= 120 until minute 2.5; the other would bear 35."""
    two = leg(40.0, CANNULA, supply="liquid")._replace(
        uses=(Use(CANNULA, "liquid"), Use(CANNULA._replace(name="second"), "small", for_min=5.0)),
    )
    (row,) = plan(trip([LIQUID, Supply("small", "litres", stated_l=140.0)], two)).turn_backs
    assert row.to_min == pytest.approx(2.5)
    assert row.decided_by == "small"


def test_other_programs_are_told_which_supply_decides() -> None:
    found = plan(trip([LIQUID], leg(40.0, CANNULA, supply="liquid")))
    (told,) = result(found)["turn_backs"]
    assert (told["to"], told["to_min"], told["decided_by"]) == (None, pytest.approx(35.0), "liquid")


def way_back(made: Trip, minute: float) -> Trip:
    """Out until a minute and back again, as a trip of legs; worked out from the legs alone."""
    done: list[Leg] = []
    start = 0.0
    for one in made.legs:
        if start < minute:
            spent = min(one.total_min, minute - start)
            done.append(one._replace(duration_min=spent, delays=(), divert=None))
        start += one.total_min
    return made._replace(legs=(*done, *reversed(done)))


@pytest.mark.hazard(36)
@pytest.mark.longer("seed", range(40), range(3000))
def test_turned_back_within_the_window_every_supply_keeps_its_reserve(seed: int) -> None:
    """Planned by a trip of its own, and just beyond the window the supply that decides it does not."""
    random = Random(seed)  # noqa: S311 - no secret
    supplies = [LIQUID._replace(name=name, stated_l=random.uniform(150.0, 900.0)) for name in "abc"]
    legs = [
        leg(random.uniform(3.0, 40.0), CANNULA._replace(flow_l_per_min=random.choice([1.0, 4.0, 9.0])), supply=name)
        for name in random.choices("abc", k=4)
    ]
    made = trip(supplies, *legs)
    first_flow = {one.supply: one.uses[0].device.flow_l_per_min or 0.0 for one in reversed(legs)}

    def kept_l(minute: float, name: str) -> float:
        """What is left above the reserve time at the last flow of the way back; 0 or more is enough."""
        back = way_back(made, minute)
        drawn = plan(back).supplies[name].need.planned_l
        used = any(one.supply == name for one in back.legs)
        return (made.supplies[name].stated_l or 0.0) - drawn - 30.0 * first_flow[name] * used

    names = [name for name in "abc" if name in first_flow]
    windows = plan(made).turn_backs
    if not windows:
        assert any(kept_l(0.001, name) < 0.0 for name in names)
        return
    (row,) = windows
    for minute in (random.uniform(0.001, row.to_min), row.to_min):
        assert all(kept_l(minute, name) >= -1e-6 for name in names)
    if row.decided_by is not None:
        assert kept_l(row.to_min + 0.01, row.decided_by) < 0.0


def diverted(made: Trip, number: int, minute: float) -> Trip:
    """Out until a minute in a leg, away, and the handover on what is carried on foot, as a trip of legs."""
    here = made.legs[number]
    assert here.supply is not None
    name = here.supply if made.supplies[here.supply].portable else made.supplies[here.supply].backup
    assert here.divert is not None
    assert name is not None
    began = sum(one.total_min for one in made.legs[:number])
    out = here._replace(name="out", duration_min=minute - began, divert=None)
    away = here._replace(name="away", duration_min=here.divert.time_min, divert=None)
    wait = leg(made.policy.handover_time_min, here.uses[0].device, supply=name, name="wait")
    return made._replace(legs=(*made.legs[:number], out, away, wait))


@pytest.mark.hazard(36)
@pytest.mark.longer("seed", range(40), range(3000))
def test_diverted_within_the_window_every_supply_keeps_its_reserve(seed: int) -> None:
    """Planned by a trip of its own, and just beyond the window the supply that decides it does not."""
    random = Random(seed)  # noqa: S311 - no secret
    litres = {name: random.uniform(150.0, 900.0) for name in ("bag", "cart", "van")}
    supplies = [LIQUID._replace(name=name, stated_l=litres[name]) for name in ("bag", "cart")]
    van = LIQUID._replace(name="van", stated_l=litres["van"], fixed=True, backup="bag")
    legs = [
        leg(
            random.uniform(3.0, 40.0),
            CANNULA._replace(flow_l_per_min=random.choice([1.0, 4.0, 9.0])),
            supply=name,
            name=f"leg {number}",
        )._replace(divert=random.choice([None, Divert("clinic", random.uniform(5.0, 25.0))]))
        for number, name in enumerate(random.choices(["bag", "cart", "van"], k=4))
    ]
    made = trip([*supplies, van], *legs)

    def kept_l(number: int, minute: float, name: str) -> float:
        """What is left above the reserve time at the last flow; 0 or more is enough. One left alone is not asked."""
        own = diverted(made, number, minute)
        if name not in (own.legs[-2].supply, own.legs[-1].supply):
            return 0.0
        flow = legs[number].uses[0].device.flow_l_per_min or 0.0
        return litres[name] - plan(own).supplies[name].need.planned_l - 30.0 * flow

    windows = {row.leg: row for row in plan(made).turn_backs if row.to is not None}
    start = 0.0
    for number, one in enumerate(legs):
        row = windows.get(one.name)
        if row is not None:
            for minute in (random.uniform(start + 0.001, row.to_min), row.to_min):
                assert all(kept_l(number, minute, name) >= -1e-6 for name in litres)
            if row.decided_by is not None and row.to_min + 0.01 < start + one.total_min:
                assert kept_l(number, row.to_min + 0.01, row.decided_by) < 0.0
        elif one.divert is not None and start < ceil(start) < start + one.total_min:  # no whole minute would do
            assert any(kept_l(number, float(ceil(start)), name) < 0.0 for name in litres)
        start += one.total_min


MAKER = Device("maker", "concentrator", battery_min=120.0, if_it_fails="cannula")
"""Of 120 min 80 are counted on: battery_factor 1.5."""


def on_battery(*legs: Leg, maker: Device = MAKER) -> Trip:
    made = trip([LIQUID], *(one._replace(uses=(Use(maker, "liquid"),)) for one in legs))
    return made._replace(devices={**made.devices, "cannula": CANNULA})


@pytest.mark.hazard(36, 40)
def test_a_battery_must_last_there_and_back_and_mains_is_not_counted() -> None:
    """20 min off the mains, 30 on them: there and back 40 of the 80 that count, so that 20 more can be gone on."""
    made = on_battery(leg(20.0, MAKER), leg(30.0, MAKER)._replace(mains=True), leg(40.0, MAKER))
    found = plan(made)
    assert found.turn_backs == (TurnBack(None, None, 0.0, 70.0, None, None, "maker"),)
    said = words.choices(found)
    assert said == (
        # 20 min of the 80 are gone as the last leg begins, at minute 50.
        "Can go on until minute 110, if the last leg takes that long: the battery of maker then counts as empty.",
        "Can turn back until minute 70: the battery of maker then just lasts for it (1.5 x the time on it).",
    )
    assert turn_back(found) == "Can turn back until minute 70, battery of maker decides"
    assert result(found)["turn_backs"][0]["by_battery"] == "maker"


@pytest.mark.hazard(36, 40)
def test_what_a_battery_gave_before_the_trip_was_planned_again_is_gone_back_over_too() -> None:
    """25 min gone on battery: 25 to go back over, 30 of the 80 left, 15 there and 15 back."""
    gone = leg(25.0, MAKER)._replace(uses=(Use(MAKER, "liquid"),))
    way = Onward(
        revision=1, replaces="", from_min=25.0, leg=0, leg_name="leg", to_go_min=40.0, told=False, gone=(gone,)
    )
    made = on_battery(leg(40.0, MAKER), maker=MAKER._replace(battery_used_min=25.0))._replace(onward=way)
    assert plan(made).turn_backs[0].to_min == pytest.approx(15.0)
    # 45 min gone: there is no way back of 45 min on the 35 that are left.
    gone = gone._replace(duration_min=45.0)
    made = on_battery(leg(40.0, MAKER), maker=MAKER._replace(battery_used_min=45.0))._replace(
        onward=way._replace(gone=(gone,))
    )
    found = plan(made)
    assert found.turn_backs == ()
    assert (
        "Cannot turn back at any minute: a supply would not keep the reserve time of 30 min, or a battery would not "
        "last."
    ) in words.cannot_sentences(found)
    # The device was at work in the leg gone alone: of the 80 min it has given 45, and back it would need 45 more.
    other = trip([LIQUID], leg(5.0, CANNULA, supply="liquid"))._replace(onward=way._replace(gone=(gone,)))
    assert plan(other).turn_backs == ()


@pytest.mark.hazard(36, 40)
def test_a_diversion_on_battery_waits_on_it_too() -> None:
    """80 min that count, 25 away and 10 of handover: 45 min are left to go on."""
    made = on_battery(leg(60.0, MAKER)._replace(divert=Divert("clinic", 25.0)))
    back, away = plan(made).turn_backs
    assert (back.to_min, back.by_battery) == (40.0, "maker")
    assert (away.to, away.to_min, away.by_battery) == ("clinic", 45.0, "maker")
    # On mains the vehicle feeds it on its way, and the handover alone is on battery.
    fed = on_battery(leg(60.0, MAKER)._replace(divert=Divert("clinic", 25.0), mains=True))
    assert plan(fed).turn_backs[1].by_battery is None


def test_a_battery_that_nobody_knows_is_said_to_be_left_out() -> None:
    electric = VENTILATOR._replace(drive="electric", drive_gas_l_per_min=None)
    found = plan(trip([LIQUID._replace(stated_l=9000.0)], leg(20.0, electric, supply="liquid")))
    text = "The battery of vent is not counted in this: nothing says how long it lasts."
    assert text in words.choices(found)


def boiling(stated_l: float) -> Supply:
    """A vessel that loses 1 L of gas a minute, counted to minute 40."""
    liquid = Liquid(10.0, 0.0, 1440.0 / GAS_L_PER_KG, lost_to_min=40.0)
    return LIQUID._replace(stated_l=stated_l, liquid=liquid, fixed=True)


@pytest.mark.hazard(36, 41)
def test_liquid_boils_away_on_the_way_back_too() -> None:
    """8 t + 120 L of 440 would do until minute 40; but back at 2 t, with 30 min of reserve, 2 t + 30 - 40 L are lost.

    8 t + 120 + 2 t - 10 = 440: minute 33.
    """
    (row,) = plan(trip([boiling(440.0)], leg(40.0, CANNULA, supply="liquid"))).turn_backs
    assert row.decided_by == "liquid"
    assert 33.0 - 2e-4 <= row.to_min <= 33.0
    # Away 10 min, 10 of handover, 30 of reserve: 4 t + 200 L, and t + 50 - 40 lost. 320 L do until minute 22.
    away = leg(40.0, CANNULA, supply="liquid")._replace(divert=Divert("clinic", 10.0))
    assert plan(trip([boiling(320.0)], away)).turn_backs[1].to_min == pytest.approx(22.0, abs=2e-4)


@pytest.mark.hazard(41)
def test_minutes_past_the_end_count_what_boils_away_in_them() -> None:
    """440 L at 4 L/min: 160 by minute 40, then 280 at 4 and 1 L/min, 56 min more."""
    found = plan(trip([boiling(440.0)], leg(40.0, CANNULA, supply="liquid")))
    assert found.supplies["liquid"].lasts_min == pytest.approx(96.0)
    assert [check.minutes_left for check in found.checkpoints] == pytest.approx([96.0, 56.0])
    assert [delay.minutes for delay in found.breaking_delays] == pytest.approx([56.0])
    # Of 440 L 160 are planned and max(80, 120) in reserve: 160 above that, 32 min at 4 and 1 L/min.
    assert [delay.into_reserve_min for delay in found.breaking_delays] == pytest.approx([32.0])
    more = Device("more", "simple_mask", flow_l_per_min=9.0)
    made = trip([boiling(440.0)], leg(40.0, CANNULA._replace(may_rise_to="more"), supply="liquid"))
    risen = plan(made._replace(devices={**made.devices, "more": more})).whatifs
    (row,) = [row for row in risen if row.name == "settings_rise"]
    # 360 L at 9 L/min, then 80 L at 9 and 1 L/min.
    assert row.minutes_to_spare == pytest.approx(8.0)
    assert row.ends_min == pytest.approx(48.0)
