"""A trip planned again on the way: what is left of it, from the last readings on, as a trip of its own.

Legs done are left out and the leg under way is shortened. Gauges are those last read, carried forward to now: drawn
down at what was planned and logged, or measured, whichever is more. Flows are the higher of planned, logged and
measured in the same way (`planner.afterwards.rest`); what is in doubt counts at its least
(`planner.afterwards.doubtful`). What was accepted before departure has lapsed. Minutes of the new
trip count from now.

Where the trip is stands in the log, or is asked for: a leg that should be over by now, and no word of the next, is a
leg of which nobody here can say how much is left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from typing import NamedTuple

from planner import figures
from planner.afterwards.batteries import read_on_the_way
from planner.afterwards.doubtful import least_rest, seen_by
from planner.afterwards.gauged import Gauged
from planner.afterwards.gauges_read import labels_of
from planner.afterwards.logbook import Logbook
from planner.afterwards.schedule import legs_from, part_of, real_bounds, real_legs
from planner.afterwards.slips import MOST_SLIPS, slips
from planner.afterwards.supply_now import not_surely_on_board
from planner.afterwards.vessels import AmountRead
from planner.constants import MINUTE_NOISE
from planner.cylinders.gauge_doubt import Reading
from planner.flow.flows import Flow, flows, litres, until
from planner.go.batteries import batteries
from planner.model import Carried, Cylinder, Device, Leg, Onward, Trip
from planner.moments import later
from planner.problems import Problem, ProblemsError
from planner.results import Plan


class Now(NamedTuple):
    """When and where a trip is planned again.

    `at_min` None: at the last reading. `leg` counts from 0; with `to_go_min`, the minutes left of it, it is None where
    the log is to tell.
    """

    at_min: float | None = None
    leg: int | None = None
    to_go_min: float | None = None


class _Place(NamedTuple):
    """The leg under way or about to begin, when it began, and what is left of it; `told`: as said, not by the log."""

    leg: int
    began_min: float
    to_go_min: float
    told: bool


def onward(plan: Plan, log: Logbook, now: Now, revision: int, replaces: str) -> Trip:
    """The rest of a planned trip as a trip. `replaces` is the number of the card that the new one takes the place of.

    The log is taken as checked against this plan (`planner.readings`). Raises `ProblemsError` where nothing is left,
    or the log does not tell where the trip is.
    """
    at_min = log.last_min if now.at_min is None else now.at_min
    _check(log, at_min)
    place = _place(plan, log, now, at_min)
    legs = plan.trip.legs
    bounds = _bounds(legs, log, place, at_min)
    went = real_legs(legs, bounds)
    if not legs_from(went, at_min):
        raise _problem(log, "trip_over", "the end of the last leg", "a trip with something left of it", "compare it")
    planned, seen = flows(went), seen_by(plan, log, bounds, at_min)
    known, vessels = seen.state.gauged, seen.state.amounts
    _check_labels(plan, log, known.values())
    rest, gone, excess, doubts = least_rest(plan, log, seen, _gone(went, at_min))
    earlier = plan.trip.onward
    return _with_times(_worn(rest, gone, read_on_the_way(plan.trip, log, bounds)), known, plan.trip.departs)._replace(
        onward=Onward(
            revision=revision,
            replaces=replaces,
            from_min=at_min + (0.0 if earlier is None else earlier.from_min),
            leg=place.leg,
            leg_name=legs[place.leg].name,
            to_go_min=place.to_go_min,
            told=place.told,
            gone=(*(() if earlier is None else earlier.gone), *gone),
            carried=tuple(_carried(known, rest)),
            more_l_per_min=tuple((name, more) for name, more in excess.items() if more > 0.0),
            labels=doubts.labels,
            less=doubts.less,
            ashore=tuple(
                (name, label)
                for name, supply in rest.supplies.items()
                for label in not_surely_on_board(plan.trip, supply, log)
            ),
            unread=(*_unread(known, log, planned, at_min), *_unweighed(vessels, planned, at_min)),
        ),
    )


def _check(log: Logbook, at_min: float) -> None:
    if log.closing is not None:
        raise _problem(log, "trip_over", "a trip that is closed", "a log of a trip on its way", "compare it")
    if at_min < log.last_min - MINUTE_NOISE:
        found = f"a time {_minutes(at_min)} after departure, before the last reading at {_minutes(log.last_min)}"
        raise _problem(log, "times_out_of_order", found, "a time not before the last reading", "check --at")


def _place(plan: Plan, log: Logbook, now: Now, at_min: float) -> _Place:
    """Where the trip is now, as the log tells it, or as it was said."""
    legs = plan.trip.legs
    known, began = _last_known(log, len(legs))
    if now.leg is not None and now.to_go_min is not None:
        if now.leg >= len(legs):
            found = f"leg {now.leg + 1} of a trip with {len(legs)}"
            raise _problem(log, "leg_unknown", found, f"a number from 1 to {len(legs)}", "check --leg and the card")
        if now.leg < known:
            found = f"leg {now.leg + 1}, where the log is in leg {known + 1} already"
            raise _problem(log, "legs_out_of_order", found, f"leg {known + 1} or later", "check --leg and the log")
        if now.leg == known:
            return _Place(now.leg, min(began, at_min), now.to_go_min, told=True)
        since = at_min - max(0.0, legs[now.leg].total_min - now.to_go_min)
        return _Place(now.leg, max(min(began, at_min), since), now.to_go_min, told=True)
    if known >= len(legs):
        raise _problem(log, "trip_over", "the end of the last leg", "a trip with something left of it", "compare it")
    left = began + legs[known].total_min - at_min
    if left <= MINUTE_NOISE:
        number = known + 1
        found = (
            f"a log that does not tell how much is left of leg {number} ({legs[known].name}): by the plan it was over "
            f"at {_minutes(began + legs[known].total_min)}, and it is {_minutes(at_min)} after departure"
        )
        raise _problem(
            log,
            "where_unknown",
            found,
            "the leg under way and the minutes to go in it, as said or as logged",
            "say both, `--leg` with its number and `--minutes-to-go` with what is left of it; or log when the leg "
            "under way began, as `leg:` with `at: start`",
        )
    return _Place(known, began, left, told=False)


def _last_known(log: Logbook, legs: int) -> tuple[int, float]:
    """The last leg that the log knows to have begun, and since when at the latest; `legs` where the last one ended."""
    leg, began = 0, 0.0
    for entry in log.entries:
        if entry.leg is None:
            continue
        begun = entry.leg + (entry.at == "end")
        if begun > leg:
            leg, began = begun, max(0.0, entry.minute)
        elif begun == leg and entry.at == "start":
            began = max(0.0, entry.minute)
    return min(leg, legs), began


def _bounds(legs: Sequence[Leg], log: Logbook, place: _Place, at_min: float) -> list[float]:
    """The minutes at which the legs began and will begin, with the leg under way where it is."""
    found = [min(bound, place.began_min) for bound in real_bounds(legs, log)[: place.leg]]
    found += [place.began_min, at_min + place.to_go_min]
    for leg in legs[place.leg + 1 :]:
        found.append(found[-1] + leg.total_min)
    return found


def _gone(went: Sequence[Leg], at_min: float) -> list[Leg]:
    """The legs done and the part of the one under way, as they went."""
    found: list[Leg] = []
    start = 0.0
    for leg in went:
        minutes = min(leg.total_min, at_min - start)
        if minutes > MINUTE_NOISE:
            found.append(part_of(leg, 0.0, minutes)._replace(longest_min=None))
        start += leg.total_min
    return found


def _worn(rest: Trip, gone: tuple[Leg, ...], read: Mapping[str, tuple[float, float]]) -> Trip:
    """The rest with what its batteries have given so far; one that was read begins with what it then had left."""
    used = {name: battery.on_battery_min for name, battery in batteries(rest._replace(legs=gone)).items()}

    def worn(device: Device) -> Device:
        gave = used.get(device.name, device.battery_used_min)
        if device.name not in read:
            return device._replace(battery_used_min=gave)
        left, by_then = read[device.name]
        return device._replace(battery_min=left, battery_used_min=max(0.0, gave - by_then))

    return rest._replace(
        legs=tuple(
            leg._replace(uses=tuple(use._replace(device=worn(use.device)) for use in leg.uses)) for leg in rest.legs
        ),
        devices={name: worn(device) for name, device in rest.devices.items()},
    )


def _with_times(rest: Trip, known: Mapping[str, Gauged], departs: datetime | None) -> Trip:
    """The rest with the clock time at which each cylinder was last read, where that is known."""
    supplies = {}
    for name, supply in rest.supplies.items():
        cylinders = []
        for cylinder in supply.cylinders:
            read = _last_read(known.get(name), cylinder)
            moment = None if read is None or read.minute <= 0.0 or departs is None else later(departs, read.minute)
            cylinders.append(cylinder if moment is None else cylinder._replace(checked=moment))
        supplies[name] = supply._replace(cylinders=tuple(cylinders))
    return rest._replace(supplies=supplies)


def _last_read(whole: Gauged | None, cylinder: Cylinder) -> Reading | None:
    """The last reading of a cylinder, or of the one gauge that it shares."""
    if whole is None:
        return None
    label = next((each for each in labels_of(whole.supply) if cylinder.label in each.split("+")), cylinder.label)
    found = whole.readings.get(cylinder.label) or whole.readings.get(label)
    return found[-1] if found else None


def _carried(known: Mapping[str, Gauged], rest: Trip) -> Iterator[Carried]:
    """Each gauge of the rest with the reading that it comes from."""
    for name, whole in known.items():
        for cylinder in rest.supplies[name].cylinders:
            read = _last_read(whole, cylinder)
            if read is not None:
                yield Carried(name, cylinder.label, read.gauge_kpa, read.minute, cylinder.gauge_kpa)


def _unread(known: Mapping[str, Gauged], log: Logbook, planned: Mapping[str, Flow], at_min: float) -> Iterator[str]:
    """Supplies with gauges that gave oxygen since departure and that nobody read since."""
    for name in known:
        read = any(entry.supply == name and entry.gauge_kpa is not None and entry.minute > 0.0 for entry in log.entries)
        if not read and litres(until(planned.get(name, ()), at_min)) > 0.0:
            yield name


def _unweighed(
    vessels: Mapping[str, Sequence[AmountRead]], planned: Mapping[str, Flow], at_min: float
) -> Iterator[str]:
    """Vessels of liquid that gave oxygen since departure and that nobody read since."""
    for name, readings in vessels.items():
        if readings[-1].minute <= 0.0 and litres(until(planned.get(name, ()), at_min)) > 0.0:
            yield name


def _check_labels(plan: Plan, log: Logbook, known: Iterable[Gauged]) -> None:
    """Raises `ProblemsError` for a log that leaves open too often which cylinder was read."""
    found = [slip for whole in known for slip in islice(slips(plan, log, whole), MOST_SLIPS + 1)]
    if len(found) > MOST_SLIPS:
        told = f"a log in which more than {MOST_SLIPS} readings may carry the label of another cylinder"
        fix = "write each change of cylinder as change_to, or leave out what is in doubt"
        raise _problem(log, "labels_in_doubt", told, "readings that tell which cylinder was in use", fix)


def _problem(log: Logbook, code: str, found: str, allowed: str, fix: str) -> ProblemsError:
    return ProblemsError([Problem(log.file, 0, 0, code, found, allowed, fix)])


def _minutes(minute: float) -> str:
    return figures.minutes_set(minute, 6)
