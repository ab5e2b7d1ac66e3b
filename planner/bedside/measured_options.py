"""Options of `measured-flow` to readings, and to a place on a trip, with every problem at once."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from planner import figures
from planner.bedside.options import FLOW, RESOLUTION, OptionReader
from planner.cylinders.fall import Readings
from planner.cylinders.measured import Measured
from planner.flow.raised import planned_flows, supplies_that_draw
from planner.model import Cylinder, SupplyGas, Trip
from planner.profile.faults import listed_names
from planner.text import wall_clock
from planner.text.spelling import slip
from planner.text.text_file import show
from planner.text.wall_clock import PresentMoment

CLOCK_DOUBT_MIN = 1.0
"""Two clock times read to the minute are apart by this more or less."""


@dataclass(frozen=True, slots=True)
class MeasuredGiven:
    """The options of `measured-flow` as typed; None or empty where they were not."""

    size: str | None
    contents: str | None
    from_gauge: str | None
    to_gauge: str | None
    minutes: str | None
    from_time: str | None
    to_time: str | None
    from_temperature: str | None
    to_temperature: str | None
    gauge_scale: str | None
    resolution: str | None
    planned_flow: str | None
    change_over_at: str | None
    trip: str | None
    supply: str | None
    legs: tuple[str, ...]
    form: str
    gas: SupplyGas = "oxygen"


@dataclass(frozen=True, slots=True)
class Watched:
    """What was read on the cylinder. `doubt_min` is that of the time, `ended` the clock time of the second reading."""

    cylinder: Cylinder
    readings: Readings
    doubt_min: float
    resolution_kpa: float | None
    ended: wall_clock.ClockTime | None


@dataclass(frozen=True, slots=True)
class OnTrip:
    """Where on a trip the flow was measured; `legs` None means that it holds for all."""

    trip: Trip
    supply: str
    legs: Collection[int] | None


def read_watched(options: OptionReader, given: MeasuredGiven, now: PresentMoment) -> Watched | None:
    """The two readings of one cylinder; None where anything is wrong, which is told."""
    cylinder = options.cylinder(
        {
            "size": given.size,
            "contents": given.contents,
            "gauge": given.from_gauge,
            "temperature": given.from_temperature,
            "gauge_scale": given.gauge_scale,
            "gas": given.gas,
        },
        {"gauge": "--from-gauge", "temperature": "--from-temperature"},
    )
    if given.from_gauge is None:
        options.missing("--from-gauge", "the first reading of the gauge", '"1900 psi"')
    to_gauge = options.quantity("--to-gauge", given.to_gauge, "gauge")
    if given.to_gauge is None:
        options.missing("--to-gauge", "the second reading of the gauge", '"1500 psi"')
    to_degc = options.quantity("--to-temperature", given.to_temperature, "temperature")
    resolution = options.quantity("--resolution", given.resolution, RESOLUTION)
    minutes, doubt_min, ended = _minutes(options, given, now)
    if cylinder is None or to_gauge is None or minutes is None:
        return None
    readings = Readings(
        from_gauge_kpa=cylinder.gauge_kpa,
        to_gauge_kpa=to_gauge,
        minutes=minutes,
        water_capacity_l=cylinder.water_capacity_l,
        from_degc=cylinder.temperature_degc,
        to_degc=to_degc,
        gas=cylinder.counted_as,
    )
    return Watched(cylinder, readings, doubt_min, resolution, ended)


def _minutes(
    options: OptionReader, given: MeasuredGiven, now: PresentMoment
) -> tuple[float | None, float, wall_clock.ClockTime | None]:
    """Minutes between the readings, their doubt, and the clock time of the second reading where it is known."""
    minutes = options.quantity("--minutes", given.minutes, "duration")
    start, end = options.clock("--from-time", given.from_time), options.clock("--to-time", given.to_time)
    timed = [text for text in (given.from_time, given.to_time) if text is not None]
    if given.minutes is not None:
        if timed:
            fix = "take out --minutes, or --from-time and --to-time"
            options.add("--minutes", "two_ways", "--minutes beside a clock time", "one way to give the time", fix)
        return minutes, 0.0, None
    if not timed:
        allowed = "the time between the readings, or the clock times of both"
        options.missing("--minutes", allowed, '"15 min", or --from-time 14:20 --to-time 14:35')
    elif len(timed) == 1:
        other = "--to-time" if given.to_time is None else "--from-time"
        options.missing(other, "the clock times of both readings", "14:35")
    if start is None or end is None:
        return None, 0.0, None
    elapsed = wall_clock.elapsed_min(start, end, now)
    doubt = 0.0 if start.to_the_second and end.to_the_second else CLOCK_DOUBT_MIN
    found = f"from {given.from_time} to {given.to_time}"
    if elapsed is None:
        found += ", about an hour at which the clocks are changed"
        options.add(
            "--to-time", "clocks_changed", found, "times without such a change", 'give --minutes, as in "15 min"'
        )
    elif wall_clock.too_long(elapsed):
        found += f", which is {figures.hours_up(elapsed)}"
        fix = "give the earlier time with --from-time; for so long a watch give --minutes"
        options.add("--to-time", "times_out_of_order", found, "up to 12 h between the readings", fix)
    elif elapsed <= doubt:
        found += ", which may be no time at all"
        options.add(
            "--to-time", "too_short", found, "more than a minute", "watch for longer, or give times with seconds"
        )
    else:
        return elapsed, doubt, end
    return None, 0.0, None


def read_on_trip(options: OptionReader, given: MeasuredGiven, trip: Trip | None) -> OnTrip | None:
    """The supply and the legs that the measured flow is for."""
    if given.trip is None:
        for option, value in (("--supply", given.supply), ("--leg", given.legs)):
            if value:
                options.add(option, "no_trip", f"{option} without --trip", f"{option} beside a trip", "add --trip TRIP")
        return None
    if given.change_over_at is not None:
        fix = "take one of the two out"
        options.add(
            "--change-over-at",
            "two_ways",
            "--change-over-at beside --trip",
            "the change-over of the trip's policy",
            fix,
        )
    if trip is None:
        return None
    names = supplies_that_draw(trip)
    supply = given.supply if given.supply is not None else (names[0] if len(names) == 1 else None)
    if supply is None or supply not in names:
        found = "no --supply" if supply is None else show(supply)
        meant = slip(supply, names) if supply else None
        meant = names[0] if len(names) == 1 else meant
        fix = "write --supply with the one that was measured" if meant is None else f"write --supply {meant}"
        fix = fix if names else "measure where the trip draws from cylinders"
        allowed = f"a supply of cylinders that a leg draws from: {listed_names(names) or 'the trip has none'}"
        options.add("--supply", "supply_unknown", found, allowed, fix)
        return None
    held = trip.supplies[supply].gas
    if given.gas != held:
        found = f"{show(supply)}, which holds {held}, measured as {given.gas}"
        options.add("--supply", "wrong_gas", found, "the gas that the supply holds", f"write --gas {held}")
        return None
    return OnTrip(trip, supply, _legs(options, given, trip, supply))


def _legs(options: OptionReader, given: MeasuredGiven, trip: Trip, supply: str) -> Collection[int] | None:
    """The legs named, by number from 0; None for all."""
    drawing = planned_flows(trip, supply)
    chosen: set[int] = set()
    for text in given.legs:
        found = [leg.leg for leg in drawing if text.strip() in (str(leg.leg + 1), leg.name)]
        if not found:
            allowed = (
                f"a leg that draws from {supply}: {listed_names(f'{leg.leg + 1} ({leg.name})' for leg in drawing)}"
            )
            options.add("--leg", "leg_unknown", show(text), allowed, "write --leg with its number")
        chosen.update(found)
    return chosen if given.legs else None


def tell_too_fast(options: OptionReader, given: MeasuredGiven, measured: Measured) -> None:
    """The problem of a flow that no regulator gives."""
    found = (
        f"{show(given.from_gauge or '')} to {show(given.to_gauge or '')} in "
        f"{figures.minutes_set(measured.readings.minutes)}, "
        f"which would be {figures.flow_up(measured.flow_l_per_min)}"
    )
    fix = "check the time and both gauges with their units"
    options.add("--to-gauge", "flow_impossible", found, f"a flow up to {figures.flow_set(FLOW.high or 0.0)}", fix)


def tell_rise(options: OptionReader, given: MeasuredGiven, measured: Measured) -> None:
    """The problem of a gauge that rises, with what may be the reason."""
    readings, doubt = measured.readings, measured.doubt
    rise = readings.to_gauge_kpa - readings.from_gauge_kpa
    why = "the readings are swapped, another cylinder was read, it was filled, or it was warmed"
    if rise <= doubt.first_reading_kpa + doubt.second_reading_kpa:
        why = f"so little may be reading alone, or {why}"
    fix = "read the gauge again later, and give both readings of one cylinder in the order of time"
    if readings.from_degc is None or readings.to_degc is None:
        fix += "; if it was warmed, give --from-temperature and --to-temperature"
    found = f"{show(given.to_gauge or '')} after {show(given.from_gauge or '')}, a gauge that rises: {why}"
    options.add("--to-gauge", "gauge_rises", found, "a second reading that is not above the first", fix)
