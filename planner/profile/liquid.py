"""A vessel of liquid oxygen: `liquid: {amount: 12 lb, keep: 1 lb, loss: 1.5 lb/day, read_at: 2026-12-03 09:00}`.

What boils away counts from the reading to the end of the longest trip, so that the time of the reading and the
departure must be known unless nothing is lost.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from math import fsum

from planner.gas.liquid import usable_l
from planner.model import Leg, Liquid, Supply
from planner.profile.clock import TripClock, read_moment
from planner.profile.fields import Fields
from planner.text.text_file import show


def read_liquid(fields: Fields, clock: TripClock) -> Liquid | None:
    """The vessel of a supply; None where there is none, or something of it is wrong, which is told."""
    node = fields.get("liquid")
    if node is None:
        return None
    inner = Fields(fields.faults, node, "liquid")
    amount, keep, loss = inner.quantity("amount"), inner.quantity("keep"), inner.quantity("loss")
    read_at = read_moment(inner, "read_at", clock.zone)
    if amount is None or loss is None or (keep is None and inner.given("keep")):
        return None
    if keep is not None and keep >= amount:
        found = f"keep {show(inner.text('keep') or '')} of an amount of {show(inner.text('amount') or '')}"
        inner.add("keep", "out_of_range", found, "less than the amount", "check both weights and their units")
    if loss > 0.0:
        _tell_times(inner, read_at, clock)
    return Liquid(amount, keep or 0.0, loss, inner.text("amount") or "", keep is not None, read_at)


def _tell_times(fields: Fields, read_at: datetime | None, clock: TripClock) -> None:
    """The times that the loss is counted between must be there, and on one kind of clock."""
    if not fields.given("read_at"):
        allowed = "`read_at`, when its amount was read, wherever `loss` is above 0"
        fields.missing("read_at", allowed, "add it, in a form such as `read_at: 2026-12-03 09:00`")
    if clock.departs is None:
        found = "a loss, and no `departs`: nobody can tell how long it boils away"
        fix = "add `departs:` to the trip, with its date and clock time"
        fields.add("loss", "key_missing", found, "`departs` wherever `loss` is above 0", fix)
    elif read_at is not None and (read_at.tzinfo is None) != (clock.departs.tzinfo is None):
        found = f"read_at {show(fields.text('read_at') or '')}, of which one of `departs` and it has an offset"
        fields.add("read_at", "offset_missing", found, "an offset in both, or in neither", "give the trip a `timezone`")
    elif read_at is not None and read_at > clock.departs:
        found = f"read_at {show(fields.text('read_at') or '')}, after the trip departs"
        fields.add("read_at", "out_of_range", found, "a time before `departs`", "check the date and the clock")


def with_litres(supplies: Mapping[str, Supply], legs: tuple[Leg, ...], departs: datetime | None) -> dict[str, Supply]:
    """The supplies with what each vessel of liquid still gives at the end of the longest trip, litres of gas."""
    longest = fsum(leg.total_min + max(0.0, (leg.longest_min or 0.0) - leg.duration_min) for leg in legs)
    return {name: _with_litres(supply, longest, departs) for name, supply in supplies.items()}


def _with_litres(supply: Supply, longest_min: float, departs: datetime | None) -> Supply:
    liquid = supply.liquid
    if liquid is None:
        return supply
    waiting = longest_min
    if liquid.read_at is not None and departs is not None:
        waiting += max(0.0, (departs - liquid.read_at).total_seconds() / 60.0)
    litres = usable_l(liquid.amount_kg, liquid.keep_kg, liquid.loss_kg_per_day, waiting)
    return supply._replace(liquid=liquid._replace(waiting_min=waiting, lost_to_min=longest_min), stated_l=litres)
