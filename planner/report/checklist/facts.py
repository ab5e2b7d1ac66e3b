"""What holds of a trip, in the words that the conditions of checklist lines use, and the figures they name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from planner import figures
from planner.findings.common import magnet_mark
from planner.flow import devices
from planner.go.regulators import needing_regulators, regulators_on, shares_regulators
from planner.model import ROOM, Cylinder, Device, Supply, Trip
from planner.naming import all_called, listed
from planner.report import vessel
from planner.report.card.settings import set_to
from planner.report.checklist.table import EACH_BACKUP, EACH_FIXED
from planner.report.minutes_table import resuscitator_flow_l_per_min
from planner.results import Plan, SupplyPlan
from planner.trade.catalog import VENTILATOR_FAILS, device_types
from planner.trade.valves import valve_of

COLD_BELOW_DEGC = 10.0
"""Below this a line on the cold is printed (common practice, no source)."""


class Facts(NamedTuple):
    """The words that hold, and the texts behind `{names}` in a line."""

    words: frozenset[str]
    texts: dict[str, str]


def trip_facts(plan: Plan) -> Facts:
    """What holds of a whole plan."""
    return Facts(frozenset(_words(plan)), _texts(plan))


def device_words(used: Iterable[Device]) -> Iterator[str]:
    """Types, outlets and drives of devices at work."""
    for device in used:
        yield device.type
        yield devices.outlet_kind(device)
        if device.drive == "pneumatic":
            yield "pneumatic"
        if _on_battery(device):
            yield "battery"


def devices_used(trip: Trip) -> tuple[Device, ...]:
    """Every device at work on the way, each once, with its settings as used."""
    return tuple(dict.fromkeys(use.device for leg in trip.legs for use in leg.uses if not use.device.measured))


def cylinders(plan: Plan) -> tuple[Cylinder, ...]:
    """Every cylinder on hand, in the order of the supplies."""
    return tuple(item.cylinder for supply in plan.supplies.values() for item in supply.cylinders)


def _words(plan: Plan) -> Iterator[str]:
    trip = plan.trip
    yield trip.setting
    for leg in trip.legs:
        yield from (leg.by or trip.setting, *["magnet"] * leg.magnet, *["no_change"] * leg.no_change)
    yield from device_words(devices_used(trip))
    for supply in plan.supplies.values():
        yield from _supply_words(plan, supply.supply, supply)
    yield from _ventilator_words(trip)
    for device in _on_air(trip):
        yield "blend_air"
        named = device.if_it_fails in trip.devices
        yield "oxygen_alone" if device.without_air != "fallback" else "air_fallback" if named else "air_by_hand"
    holds = {
        "rises": bool(_rising(trip)),
        "device_standby": bool(_device_standby(trip)),
        "two_patients": len(_patients(trip)) > 1,
        "cautions": any(finding.level == "caution" for finding in plan.findings),
        "handover": trip.policy.handover_time_min > 0 and bool(_last_supply(plan)),
    }
    yield from (word for word, on in holds.items() if on)


def _supply_words(plan: Plan, supply: Supply, planned: SupplyPlan) -> Iterator[str]:
    used = any(supply.name in leg.supplies for leg in plan.trip.legs)
    air, held, many = supply.gas == "air", bool(planned.cylinders), len(planned.cylinders) > 1
    valves = [valve_of(item.cylinder) for item in planned.cylinders]
    in_vehicle = supply.fixed and not air and supply.kind != "pipeline"
    known = (
        supply.temperature_degc,
        supply.coldest_degc,
        *(one.cylinder.temperature_degc for one in planned.cylinders),
    )
    holds = {
        "air_cylinders": air and held,
        "air_pin_index": air and "pin_index" in valves,
        "air_to_draw": air and supply.kind == "sizes",
        "air_wall": air and supply.kind == "pipeline" and used,
        "pipeline_used": supply.kind == "pipeline" and used,
        "fixed": in_vehicle,
        EACH_FIXED: in_vehicle,
        EACH_BACKUP: in_vehicle,
        "liquid": supply.liquid is not None,
        "manifold": supply.kind == "manifold",
        "litres": supply.kind == "litres",
        "to_draw": supply.kind == "sizes",
        "cylinders": held,
        order_kind(planned): many,
        "single": _nothing_to_open(planned),
        "regulators": len(needing_regulators(supply)) > 1,
        "shared_regulators": shares_regulators(supply),
        "spare": supply.portable and not air and many and plan.trip.policy.spare_cylinders > 0,
        "cold": any(degc is not None and degc < COLD_BELOW_DEGC for degc in known),
        "unverified": any(item.cylinder.verified is not True for item in planned.cylinders),
    }
    yield from (word for word, on in holds.items() if on)
    yield from valves
    yield from (f"draw_{valve_of(size)}" for size in (supply.sizes if supply.kind == "sizes" else ()))


def _texts(plan: Plan) -> dict[str, str]:
    trip = plan.trip
    standby = tuple(_standby(trip, "conserver_fails", "concentrator_fails"))
    instead = tuple(_standby(trip, VENTILATOR_FAILS))
    without_air = ((device, trip.devices.get(device.if_it_fails or "")) for device in _on_air(trip))
    return {
        "unverified": _unverified(plan),
        "regulators": "; ".join(_regulators(plan)),
        "manifold": _names(plan, lambda supply: supply.kind == "manifold"),
        "carried_manifold": _names(plan, _is_carried_manifold),
        "litres": _names(plan, lambda supply: supply.kind == "litres"),
        "litres_least": ", ".join(
            least_contents(supply) for supply in plan.supplies.values() if supply.supply.kind == "litres"
        ),
        "fixed": _names(plan, lambda supply: supply.fixed),
        "trip_time": figures.hours_up(trip.total_min),
        "battery_least": _battery_least(plan),
        "patients": ", ".join(_patients(trip)),
        "no_change": ", ".join(f"leg {number}" for number, leg in enumerate(trip.legs, start=1) if leg.no_change),
        "handover_time": figures.minutes_set(trip.policy.handover_time_min),
        "last_supply": _last_supply(plan),
        "resuscitator_flow": figures.flow_set(resuscitator_flow_l_per_min(plan)),
        "standby_over": _over(standby),
        "stand_in_over": _over(pair for pair in instead if not _by_hand(pair[1])),
        "air_over": _over((one, other) for one, other in without_air if other and one.without_air == "fallback"),
        "device_over": _over(_device_standby(trip)),
        "rise_over": _over(_rising(trip)),
        "rise_devices": ", ".join(dict.fromkeys(other.name for _, other in _rising(trip))),
        "gets_worse": "a patient" if len(_patients(trip)) > 1 else "the patient",
        "one_regulator": listed(_on_one_regulator(plan), "or") if _on_one_regulator(plan) else "",
        "of_single": _of_single(plan),
        "standby_devices": ", ".join(dict.fromkeys(other.name for _, other in standby)),
        "draw": "; ".join(
            draw_text(plan, supply) for supply in plan.supplies.values() if supply.supply.kind == "sizes"
        ),
    }


def _battery_least(plan: Plan) -> str:
    """What each battery must show before leaving: `maker 150 min`; how long the trip takes where none is told."""
    least = [one for one in plan.battery_checks if one.leg_index is None and one.least_min > 0.0]
    told = [f"{one.device} {figures.minutes_up(one.least_min)}" for one in least]
    return ", ".join(told) or figures.hours_up(plan.trip.total_min)


def least_contents(supply: SupplyPlan) -> str:
    """What a stated amount must read before leaving: what is required, or less where the rest was accepted."""
    required_l, stated_l = supply.need.required_l, supply.supply.stated_l
    least_l = figures.need_l(required_l if stated_l is None else min(required_l, stated_l))
    return vessel.departing(supply) or least_l


def draw_text(plan: Plan, supply: SupplyPlan) -> str:
    """How many full cylinders a supply still wants: `cart: 2 × US-E or 1 × US-M`."""
    counts = " or ".join(f"{full.count} × {full.size}" for full in supply.full_cylinders if full.count is not None)
    mark = magnet_mark(plan.trip, supply.supply.name)
    return f"{supply.supply.name}: {counts or 'no number is enough'}{f', {mark}' if counts and mark else ''}"


def _names(plan: Plan, wanted: Callable[[Supply], bool]) -> str:
    return ", ".join(name for name, supply in plan.supplies.items() if wanted(supply.supply))


def _unverified(plan: Plan) -> str:
    every = cylinders(plan)
    unread = [cylinder.label for cylinder in every if cylinder.verified is not True]
    return "all cylinders" if len(unread) == len(every) else all_called(unread) if unread else ""


def _regulators(plan: Plan) -> Iterator[str]:
    """How many regulators each supply is planned with, and on what they sit at departure."""
    for name, planned in plan.supplies.items():
        needing, many = needing_regulators(planned.supply), planned.supply.regulators
        if len(needing) < 2:
            continue
        if many is None or many >= len(needing):
            yield f"{name}: a regulator on each of {all_called(needing)}"
        else:
            yield f"{name}: {many} regulator{'s' * (many > 1)} on {all_called(regulators_on(planned))}"


def _patients(trip: Trip) -> tuple[str, ...]:
    return tuple(dict.fromkeys(device.patient for device in devices_used(trip) if device.patient))


def _by_hand(device: Device) -> bool:
    return "by_hand" in device_types()[device.type].traits


def _on_battery(device: Device) -> bool:
    return device.drive == "electric" or "battery" in device_types()[device.type].traits


def _ventilator_words(trip: Trip) -> Iterator[str]:
    """How a patient goes on whose ventilator fails: by hand where it names a resuscitator or nothing, or a stand-in."""
    for device in devices_used(trip):
        if device_types()[device.type].fails == VENTILATOR_FAILS:
            other = trip.devices.get(device.if_it_fails or "")
            word = "by_hand" if other is None or _by_hand(other) else "stand_in"
            yield from (word, f"{word}_battery") if _on_battery(device) else (word,)


def _on_air(trip: Trip) -> tuple[Device, ...]:
    """Devices whose air may be lost: from a supply or a compressor."""
    return tuple(device for device in devices_used(trip) if device.air not in (None, ROOM))


def _standby(trip: Trip, *what_ifs: str) -> Iterator[tuple[Device, Device]]:
    """Devices that fail in these what-ifs with what they name to take over then."""
    for device in devices_used(trip):
        other = trip.devices.get(device.if_it_fails or "")
        if device_types()[device.type].fails in what_ifs and other is not None:
            yield device, other


def _device_standby(trip: Trip) -> tuple[tuple[Device, Device], ...]:
    """Devices whose failure no line of their type tells of, with what takes over."""
    return tuple(_standby(trip, "device_fails"))


def _rising(trip: Trip) -> list[tuple[Device, Device]]:
    """Devices with what they may be raised to."""
    return [(one, trip.devices[one.may_rise_to]) for one in devices_used(trip) if one.may_rise_to is not None]


def _on_one_regulator(plan: Plan) -> list[str]:
    """Supplies of oxygen of several cylinders with one regulator for all."""
    return [name for name, one in plan.supplies.items() if order_kind(one) == "one_regulator"]


def order_kind(planned: SupplyPlan) -> str:
    """How oxygen of several cylinders goes on when one fails: the next is opened, or the one regulator is moved.

    `all_open`: those of a manifold are. Empty where there is one cylinder, or none; on a manifold of a vehicle, whose
    backup is gone over to; and on AIR, whose failure has a line of its own: oxygen still flows then.
    """
    manifold = planned.supply.kind == "manifold"
    if planned.supply.gas == "air" or len(planned.cylinders) < 2 or (manifold and planned.supply.fixed):
        return ""
    if manifold:
        return "all_open"
    alone = planned.supply.regulators == 1 and shares_regulators(planned.supply)
    return "one_regulator" if alone else "next_cylinder"


def _nothing_to_open(planned: SupplyPlan) -> bool:
    """Whether oxygen has no cylinder to open when one fails, and no backup to move to."""
    supply = planned.supply
    one = len(planned.cylinders) == 1 or supply.kind in ("litres", "sizes")
    return one and supply.gas != "air" and not (supply.fixed and supply.backup)


def _of_single(plan: Plan) -> str:
    """Which supplies have nothing to open, where another one goes on in its own way; else empty, for there is one."""
    other = {order_kind(one) for one in plan.supplies.values()} - {""}
    single = [name for name, one in plan.supplies.items() if _nothing_to_open(one)]
    return f" of {listed(single, 'or')}" if other and single else ""


def _is_carried_manifold(supply: Supply) -> bool:
    return supply.kind == "manifold" and supply.portable and supply.gas != "air"


def _over(pairs: Iterable[tuple[Device, Device]]) -> str:
    """From what to what: `high_flow to mask at 15 L/min`."""
    return "; ".join(f"{device.name} to {other.name} at {set_to(other)}" for device, other in dict.fromkeys(pairs))


def _last_supply(plan: Plan) -> str:
    """The supplies that carry on where no wall outlet is free on arrival."""
    return ", ".join(dict.fromkeys(whatif.supply for whatif in plan.whatifs if whatif.name == "no_wall_on_arrival"))
