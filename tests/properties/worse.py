"""One thing about a trip made worse: more flow, more time, less gas, a warmer or colder day, a stricter policy."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import strategies as st

from planner.constants import KPA_PER_PSI
from planner.model import Cylinder, Delay, Device, Leg, Supply, Trip, Use

FLOWS = (
    "flow_l_per_min",
    "total_flow_l_per_min",
    "oxygen_flow_l_per_min",
    "minute_volume_l_per_min",
    "tidal_volume_l",
    "rate_per_min",
    "bias_flow_l_per_min",
    "leak_l_per_min",
    "drive_gas_l_per_min",
    "pulse_volume_l",
)


def more_flow(draw: st.DrawFn, trip: Trip) -> Trip:
    """One setting of one device higher, wherever the device is used."""
    name = draw(st.sampled_from(sorted(trip.devices)))
    old = trip.devices[name]
    given = [key for key in Device._fields if key in FLOWS and getattr(old, key) is not None]
    if old.fio2 is not None and old.type != "air_entrainment_mask":
        given.append("fio2")
    if not given:
        return trip
    setting = draw(st.sampled_from(given))
    value = getattr(old, setting)
    higher = value * draw(st.sampled_from([1.0 + 1e-6, 1.1, 2.0])) + (0.0 if value else 0.1)
    new = old._replace(**{setting: min(1.0, higher) if setting == "fio2" else higher})
    return with_device(trip, new)


def with_device(trip: Trip, new: Device) -> Trip:
    """The trip with a device of the same name in its place."""

    def change(use: Use) -> Use:
        return use._replace(device=new) if use.device.name == new.name else use

    return trip._replace(
        devices={**trip.devices, new.name: new},
        legs=tuple(leg._replace(uses=tuple(change(use) for use in leg.uses)) for leg in trip.legs),
    )


def with_leg(trip: Trip, number: int, leg: Leg) -> Trip:
    """The trip with another leg in the place of one."""
    return trip._replace(legs=(*trip.legs[:number], leg, *trip.legs[number + 1 :]))


def more_time(draw: st.DrawFn, trip: Trip) -> Trip:
    """A longer leg, one more delay, a longer longest time, or a device that runs longer."""
    number = draw(st.integers(0, len(trip.legs) - 1))
    leg = trip.legs[number]
    extra = draw(st.sampled_from([1e-6, 0.25, 7.0]))
    match draw(st.sampled_from(["duration", "delay", "longest", "for"])):
        case "duration":
            longest = None if leg.longest_min is None else max(leg.longest_min, leg.duration_min + extra)
            new = leg._replace(duration_min=leg.duration_min + extra, longest_min=longest)
        case "delay":
            new = leg._replace(delays=(*leg.delays, Delay("one more", extra)))
        case "longest":
            new = leg._replace(longest_min=(leg.longest_min or leg.duration_min) + extra)
        case _:
            short = [place for place, use in enumerate(leg.uses) if use.for_min is not None]
            if not short:
                return trip
            place = draw(st.sampled_from(short))
            use = leg.uses[place]
            assert use.for_min is not None
            longer = use._replace(for_min=min(leg.duration_min, use.for_min + extra))
            new = leg._replace(uses=(*leg.uses[:place], longer, *leg.uses[place + 1 :]))
    return with_leg(trip, number, new)


def less_gas(draw: st.DrawFn, trip: Trip) -> Trip:
    """One gauge lower, or a smaller stated amount."""
    supply = trip.supplies[draw(st.sampled_from(sorted(trip.supplies)))]
    share = draw(st.sampled_from([1.0 - 1e-6, 0.9, 0.5, 0.0]))
    if supply.kind == "litres":
        assert supply.stated_l is not None
        return with_supply(trip, supply._replace(stated_l=supply.stated_l * share))
    if not supply.cylinders:
        return trip
    place = draw(st.integers(0, len(supply.cylinders) - 1))
    lower = supply.cylinders[place]._replace(gauge_kpa=supply.cylinders[place].gauge_kpa * share)
    return with_supply(trip, with_cylinder(supply, place, lower))


def with_supply(trip: Trip, supply: Supply) -> Trip:
    """The trip with a supply of the same name in its place."""
    return trip._replace(supplies={**trip.supplies, supply.name: supply})


def with_cylinder(supply: Supply, place: int, cylinder: Cylinder) -> Supply:
    """The supply with another cylinder in the place of one."""
    return supply._replace(cylinders=(*supply.cylinders[:place], cylinder, *supply.cylinders[place + 1 :]))


def further(draw: st.DrawFn, temperature_degc: float | None) -> float:
    """A temperature further from 21.1 degC, on the same side where there is a side."""
    step = draw(st.sampled_from([0.1, 9.0]))
    base = 21.1 if temperature_degc is None else temperature_degc
    up = draw(st.booleans()) if base == 21.1 else base > 21.1
    return base + step if up else base - step


def harder_weather(draw: st.DrawFn, trip: Trip) -> Trip:
    """Warmer gas when it was read, or a colder trip."""
    supply = trip.supplies[draw(st.sampled_from(sorted(trip.supplies)))]
    match draw(st.sampled_from(["coldest", "supply", "cylinder"])):
        case "coldest":
            colder = min(21.1, 21.1 if supply.coldest_degc is None else supply.coldest_degc) - 5.0
            return with_supply(trip, supply._replace(coldest_degc=colder))
        case "supply":
            return with_supply(trip, supply._replace(temperature_degc=further(draw, supply.temperature_degc)))
        case _:
            if not supply.cylinders:
                return trip
            first = supply.cylinders[0]
            known = supply.temperature_degc if first.temperature_degc is None else first.temperature_degc
            harder = first._replace(temperature_degc=further(draw, known))
            return with_supply(trip, with_cylinder(supply, 0, harder))


def stricter_policy(draw: st.DrawFn, trip: Trip) -> Trip:
    """One value of the policy that asks for more."""
    old = trip.policy
    new = draw(
        st.sampled_from(
            [
                old._replace(reserve_factor=old.reserve_factor + 0.25),
                old._replace(reserve_time_min=old.reserve_time_min + 5.0),
                old._replace(spare_cylinders=old.spare_cylinders + 1),
                old._replace(change_over_at_kpa=old.change_over_at_kpa + 50.0 * KPA_PER_PSI),
                old._replace(gauge_allowance_kpa=old.gauge_allowance_kpa + 50.0 * KPA_PER_PSI),
                old._replace(handover_time_min=old.handover_time_min + 5.0),
                old._replace(gauge_scale_kpa=(old.gauge_scale_kpa or 20_000.0) * 1.5),
                old._replace(must_hold=(*old.must_hold, "cylinder_lost", "no_wall_on_arrival")),
            ]
        )
    )
    return trip._replace(policy=new)


CHANGES: dict[str, Callable[[st.DrawFn, Trip], Trip]] = {
    "more flow": more_flow,
    "more time": more_time,
    "less gas": less_gas,
    "harder weather": harder_weather,
    "stricter policy": stricter_policy,
}


@st.composite
def pairs(draw: st.DrawFn, trips: st.SearchStrategy[Trip], change: str) -> tuple[Trip, Trip]:
    """A trip and a worse one."""
    trip = draw(trips)
    return trip, CHANGES[change](draw, trip)
