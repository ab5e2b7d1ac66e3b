"""What one trip takes out of the store: a plan in few figures, small enough to go from process to process.

A trip that lists cylinders takes these, all of them, its spare too; a supply of `sizes` alone takes the full cylinders
that its plan counts, of the first size that will do. Cylinders `fixed` to a vehicle are marked as such.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from math import fsum, inf
from typing import Final

from planner import figures
from planner.constants import NOISE, REFERENCE_TEMPERATURE_DEGC
from planner.cylinders.stock import full, held
from planner.flow.flows import flows
from planner.flow.outlets import Asks, OutletNeed
from planner.gas import contents
from planner.model import Cylinder, Leg, Outlet, Policy, Setting, SizeAsked, Supply, Trip
from planner.naming import of_gas
from planner.problems import Finding
from planner.results import GO_BY_DECISION, Plan, SupplyPlan
from planner.store.choice import full_gauge_kpa

SAME: Final = 1.0 + NOISE
"""Litres that differ by less than one part in a thousand million are the same."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One cylinder that a trip takes.

    `contents_l` is what the plan takes it to hold, as the gauge reads. `full` tells whether that is a full one. `label`
    is None for one that is still to be drawn; `from_store` marks one that the plan chose from a store. `left_l` is what
    the plan leaves in it, None where that is not known; `least_left_l` at least that, also where this or another
    cylinder of the supply holds more than planned. `asks`: what a cylinder in its place has to serve.
    """

    supply: str
    fixed: bool
    size: str
    contents_l: float
    full: bool
    label: str | None = None
    from_store: bool = False
    left_l: float | None = None
    least_left_l: float = 0.0
    asks: tuple[Asks, ...] = ()


@dataclass(frozen=True, slots=True)
class TripNeed:
    """What a shift needs to know of one plan; small enough to be handed from process to process.

    `longest_min` is the whole trip at its longest times, delays included. `stops` are the findings that make it a
    no-go. `uncounted` names supplies whose cylinders cannot be counted, `stated` those of a stated amount, which are
    no cylinders. Of the policy stands here what a store is judged by.
    """

    name: str
    file: str
    reference: str | None
    setting: Setting
    go: bool
    stops: tuple[Finding, ...]
    cautions: int
    departs: datetime | None
    total_min: float
    longest_min: float
    cylinders: tuple[Wanted, ...]
    uncounted: tuple[str, ...]
    stated: tuple[str, ...]
    full_at_kpa: float
    change_over_at_kpa: float
    reading_valid_for_min: float
    fingerprint: str
    by_decision: bool = False

    @property
    def verdict(self) -> str:
        """The verdict of the plan: `go`, `go-by-decision` or `no-go`."""
        return GO_BY_DECISION if self.by_decision else "go" if self.go else "no-go"

    @property
    def waits(self) -> bool:
        """True where nothing but the readings of cylinders still to be drawn is missing for a go."""
        return not self.go and all(stop.code == "no_readings" for stop in self.stops)


def trip_need(plan: Plan) -> TripNeed:
    """What a shift needs to know of a plan."""
    trip = plan.trip
    wanted = [(name, *_wanted(supply, trip, plan.go)) for name, supply in plan.supplies.items()]
    return TripNeed(
        name=trip.name,
        file=trip.file,
        reference=trip.reference,
        setting=trip.setting,
        go=plan.go,
        stops=tuple(finding for finding in plan.findings if finding.level == "stop"),
        cautions=sum(finding.level == "caution" for finding in plan.findings),
        departs=trip.departs,
        total_min=trip.total_min,
        longest_min=fsum(map(_longest_min, trip.legs)),
        cylinders=tuple(cylinder for _, found, _ in wanted for cylinder in found),
        uncounted=tuple(name for name, _, counted in wanted if not counted),
        stated=tuple(name for name, supply in plan.supplies.items() if supply.supply.kind == "litres"),
        full_at_kpa=trip.policy.full_at_kpa,
        change_over_at_kpa=trip.policy.change_over_at_kpa,
        reading_valid_for_min=trip.policy.reading_valid_for_min,
        fingerprint=trip.fingerprint,
        by_decision=plan.by_decision,
    )


def size_of(cylinder: Cylinder) -> str:
    """What a cylinder is drawn by, AIR first: its size, else its label, else its water capacity and filling."""
    if cylinder.size is not None:
        return of_gas(cylinder.size, cylinder.counted_as)
    if cylinder.label_contents is not None:
        return of_gas(cylinder.label_contents, cylinder.counted_as)
    return of_gas(
        f"{figures.plain(cylinder.water_capacity_l)} L water, "
        f"{figures.plain(cylinder.filling_gauge_kpa / 100.0, 0)} bar",
        cylinder.counted_as,
    )


def as_read_l(cylinder: Cylinder, supply: Supply, policy: Policy) -> float:
    """Contents at the reading, litres, without the gauge allowance; warmth is not counted as gas."""
    return held(cylinder, supply, policy, allowance_kpa=0.0).contents_l


def is_full(cylinder: Cylinder, supply: Supply, policy: Policy) -> bool:
    """True where a cylinder holds what the policy calls full, never more than its filling pressure gives."""
    gauge_kpa = min(full_gauge_kpa(cylinder, policy), cylinder.filling_gauge_kpa)
    full_l = contents.contents_l(gauge_kpa, REFERENCE_TEMPERATURE_DEGC, cylinder.water_capacity_l, cylinder.counted_as)
    return as_read_l(cylinder, supply, policy) * SAME >= full_l


def _wanted(plan: SupplyPlan, trip: Trip, go: bool) -> tuple[tuple[Wanted, ...], bool]:
    """The cylinders of a supply, and whether they could be counted: not where no choice from a store will do."""
    supply = plan.supply
    if supply.kind in ("litres", "pipeline"):
        return (), True
    if plan.cylinders:
        return tuple(_listed(plan, trip)), True
    for count in plan.full_cylinders:
        if count.count is not None:
            size = next(size for size in supply.sizes if size.size == count.size)
            return tuple(_counted(plan, trip, size, count.count)), True
    return (), not plan.need.required_l and (supply.store is None or go)


def _counted(plan: SupplyPlan, trip: Trip, size: SizeAsked, count: int) -> Iterator[Wanted]:
    """Full cylinders still to be drawn: used one after another, each down to change-over."""
    supply = plan.supply
    whole = full(size, supply, trip.policy, allowance_kpa=0.0)
    asks = _asked_by_legs(trip, supply.name) if size.outlets is None else (_carried(size.outlets, magnet=False),)
    to_draw = plan.need.planned_l
    for _ in range(count):
        drawn = min(whole.usable_l, to_draw)
        to_draw -= drawn
        yield Wanted(
            supply.name,
            supply.fixed,
            of_gas(size.size, supply.gas),
            whole.contents_l,
            full=True,
            left_l=whole.contents_l - drawn,
            least_left_l=whole.contents_l - drawn,
            asks=asks,
        )


def _listed(plan: SupplyPlan, trip: Trip) -> Iterator[Wanted]:
    supply, policy = plan.supply, trip.policy
    magnet = any(leg.magnet for leg in trip.legs)
    keeps_order = not any(leg.no_change for leg in trip.legs)
    for cylinder in (item.cylinder for item in plan.cylinders):
        if cylinder.gas == supply.gas:
            left_l = _left_l(plan, cylinder, policy)
            at_change_over = cylinder._replace(gauge_kpa=min(policy.change_over_at_kpa, cylinder.gauge_kpa))
            yield Wanted(
                supply.name,
                supply.fixed,
                size_of(cylinder),
                as_read_l(cylinder, supply, policy),
                is_full(cylinder, supply, policy),
                cylinder.label,
                supply.store is not None,
                left_l,
                left_l if keeps_order else min(left_l, as_read_l(at_change_over, supply, policy)),
                (_carried(supply.outlets_of(cylinder), magnet=magnet and cylinder.magnet_safe),),
            )


def _carried(outlets: tuple[Outlet, ...], *, magnet: bool) -> Asks:
    """All that a cylinder with such outlets can carry at once."""
    limits = [inf if outlet.limit_l_per_min is None else outlet.limit_l_per_min for outlet in outlets]
    return Asks(tuple(OutletNeed(outlet.kind, limit) for outlet, limit in zip(outlets, limits, strict=True)), magnet)


def _asked_by_legs(trip: Trip, supply: str) -> tuple[Asks, ...]:
    """What the legs ask of a supply, and each leg with a device that stands in for one of its own."""
    found = [segment.asks for segment in flows(trip.legs).get(supply, ())]
    for leg in trip.legs:
        for place, use in enumerate(leg.uses):
            for name in (use.device.if_it_fails, use.device.may_rise_to):
                if name is not None and name in trip.devices:
                    instead = use._replace(device=trip.devices[name])
                    altered = leg._replace(uses=(*leg.uses[:place], instead, *leg.uses[place + 1 :]))
                    found += [segment.asks for segment in flows([altered]).get(supply, ())]
    return tuple(dict.fromkeys(found))


def _left_l(plan: SupplyPlan, cylinder: Cylinder, policy: Policy) -> float:
    """What the plan leaves in a cylinder, litres at the gauge that it ends with."""
    gauge_kpa = min((part.gauge_end_kpa for part in plan.order if part.cylinder == cylinder.label), default=None)
    left = cylinder if gauge_kpa is None else cylinder._replace(gauge_kpa=min(gauge_kpa, cylinder.gauge_kpa))
    return as_read_l(left, plan.supply, policy)


def _longest_min(leg: Leg) -> float:
    return leg.total_min + max(0.0, (leg.longest_min or 0.0) - leg.duration_min)
