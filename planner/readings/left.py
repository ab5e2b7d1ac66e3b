"""When a trip left, where that is not as planned: every minute of its log is counted from then.

What the crew wrote in LEFT AT, or `left_at` of a readings file; else the clock time at which its first leg began. A
plan counts its minutes from departure, so that it is the same plan later or earlier; what boils away from a vessel of
liquid goes on meanwhile.
"""

from __future__ import annotations

from planner.constants import MINUTE_NOISE
from planner.model import Trip
from planner.planning import plan as made
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.profile.liquid import with_litres
from planner.readings.times import read_time
from planner.results import Plan
from planner.text.node import Node

KEY = "left_at"


def as_left(plan: Plan, root: Node, file: str) -> Plan:
    """The plan as the trip left by a tree of readings.

    The plan itself where nothing is said, for a trip planned again on the way, which begins there, and where nobody
    knows when it was to leave: a clock time then tells nothing of its minutes. Raises `ProblemsError` for what is no
    time.
    """
    trip, faults = plan.trip, Faults(file)
    if root.kind != "map" or trip.onward is not None or trip.departs is None:
        return plan
    fields, key = Fields(faults, root, "readings file"), KEY
    if not fields.given(KEY):
        begun = _first_leg_begun(root)
        if begun is None:
            return plan
        fields, key = Fields(faults, begun, "reading"), "time"
    when = read_time(fields, key, trip.departs, 0.0)
    if when is None:
        raise told(faults.problems)
    if when.moment is None or abs(when.minute) <= MINUTE_NOISE:
        return plan
    trip = trip._replace(departs=when.moment, supplies=with_litres(trip.supplies, trip.legs, when.moment))
    return _with_what_was_taken(trip)


def _with_what_was_taken(trip: Trip) -> Plan:
    """The plan with the cylinders that were chosen from a store: those are on board, whatever one would choose now."""
    taken = {
        name: supply._replace(store=None) if supply.cylinders else supply for name, supply in trip.supplies.items()
    }
    again = made(trip._replace(supplies=taken))
    supplies = {
        name: one._replace(supply=one.supply._replace(store=trip.supplies[name].store))
        for name, one in again.supplies.items()
    }
    return again._replace(
        trip=again.trip._replace(supplies={name: one.supply for name, one in supplies.items()}), supplies=supplies
    )


def _first_leg_begun(root: Node) -> Node | None:
    """The entry of a log that says by the clock, with its date or without, when the first leg began."""
    log = root.get("log")
    for entry in () if log is None else log.items:
        leg, at, time = (entry.get(key) for key in ("leg", "at", "time"))
        if leg is not None and at is not None and time is not None and (leg.text, at.text) == ("1", "start"):
            return entry if ":" in time.text else None
    return None
