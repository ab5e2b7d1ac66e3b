"""What the planner remarks about a trip: stops, cautions and notes, each with what would mend it.

Numbers in these sentences are rounded against the crew: need up, supply and time down (`planner.report.figures`
does the same for tables; here whole litres and minutes suffice).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor

from planner.catalog import device_types, settings
from planner.constants import KPA_PER_BAR, KPA_PER_PSI
from planner.devices import is_blend
from planner.gas.mixing import fio2_at_cabin, inspired_fraction_kept
from planner.judge import Case, carries_duty, covers_need, serving_without_spare_l
from planner.model import Cylinder, Device, Policy, Supply, Trip
from planner.onhand import OXYGEN, OnHand
from planner.outlets import refusal
from planner.problems import Finding, Level, Position
from planner.results import ChangeOver, FullCount, WhatIf
from planner.scenarios import arrival_supply
from planner.sizing import without_largest

_PLAUSIBLE_FULL_OVER = 1.1


def finding(level: Level, code: str, message: str, fix: str, where: Position | None = None) -> Finding:
    """A finding, with its place in the profile where there is one."""
    placed = where if where is not None and where.line > 0 else None
    return Finding(
        level, code, message, fix, placed.line if placed else None, placed.column if placed else None
    )


def gauge_text(gauge_kpa: float, policy: Policy) -> str:
    """A gauge reading in the policy's unit, rounded up to what a gauge shows."""
    per_unit, step = {"psi": (KPA_PER_PSI, 10.0), "bar": (KPA_PER_BAR, 1.0), "kPa": (1.0, 100.0), "MPa": (1000.0, 0.1)}[
        policy.pressure_unit
    ]
    return f"{ceil(round(gauge_kpa / per_unit / step, 6)) * step:g} {policy.pressure_unit}"


def litres_up(litres: float) -> str:
    """Litres of a need, rounded up."""
    return f"{ceil(round(litres, 6))} L"


def litres_down(litres: float) -> str:
    """Litres of a supply, rounded down."""
    return f"{floor(round(litres, 6))} L"


def of_trip(trip: Trip) -> Iterator[Finding]:
    """Remarks that need no litres: the setting, devices, gases, altitude, magnet, policy."""
    if not trip.setting_given:
        yield finding(
            "caution",
            "setting_assumed",
            "No setting is given; the policy for road transport is taken.",
            "Write setting: in_house, road or air.",
        )
    if trip.policy.overrides:
        keys = ", ".join(trip.policy.overrides)
        yield finding(
            "note", "policy_overridden", f"The policy of this trip sets: {keys}.", "Check it against your service's."
        )
    yield from _devices(trip)
    yield from _altitude(trip)
    yield from _magnet(trip)
    for supply in trip.supplies.values():
        yield from _supply(trip, supply)


def _devices(trip: Trip) -> Iterator[Finding]:
    for device in _working(trip):
        kind = device_types()[device.type]
        for key, usual in kind.usual.items():
            value = getattr(device, settings()[key].field)
            if value is not None and not usual.low <= value <= usual.high:
                yield finding(
                    "caution",
                    "unusual_setting",
                    f"{device.name}: {key} {value:g} is outside the usual {usual.low:g} to {usual.high:g} {usual.unit}"
                    f" for a {kind.title}.",
                    "Check the figure and its unit against the order.",
                    device.where,
                )
        if device.type == "ventilator" and device.if_it_fails is None:
            yield finding(
                "caution",
                "no_fallback",
                f"{device.name} names nothing for if_it_fails; a manual resuscitator at 15 L/min is assumed.",
                "Name the device that takes over, with its flow.",
                device.where,
            )


def _working(trip: Trip) -> list[Device]:
    return list(dict.fromkeys(use.device for leg in trip.legs for use in leg.uses))


def _altitude(trip: Trip) -> Iterator[Finding]:
    for leg in trip.legs:
        cabin = leg.cabin_pressure_kpa
        if cabin is None:
            continue
        for device in dict.fromkeys(use.device for use in leg.uses):
            if device.fio2 is not None and (is_blend(device) or device.type == "air_entrainment_mask"):
                wanted = fio2_at_cabin(device.fio2, trip.home_pressure_kpa, cabin)
                if wanted > 1.0:
                    yield finding(
                        "stop",
                        "inspired_oxygen_not_kept",
                        f"{leg.name}: to keep the inspired oxygen of {device.name} at FiO2 {device.fio2:.2f} the cabin "
                        f"would ask for FiO2 {wanted:.2f}, which cannot be given.",
                        "A clinician decides: a lower cabin altitude, other support, or another way to travel.",
                        leg.where,
                    )
                else:
                    yield finding(
                        "note",
                        "inspired_oxygen",
                        f"{leg.name}: to keep the inspired oxygen of {device.name}, FiO2 {device.fio2:.2f} on the "
                        f"ground becomes {ceil(wanted * 100 - 1e-6) / 100:.2f} in the cabin.",
                        "The plan follows the set FiO2; the what-if inspired_oxygen_kept shows the litres.",
                        leg.where,
                    )
            elif device.type != "concentrator":
                kept = inspired_fraction_kept(trip.home_pressure_kpa, cabin)
                yield finding(
                    "caution",
                    "inspired_oxygen_falls",
                    f"{leg.name}: {device.name} is set by flow alone; in the cabin {floor(kept * 100 + 1e-6)} % of the "
                    "home inspired oxygen is left.",
                    "Watch the saturation and have more flow at hand; a clinician decides.",
                    leg.where,
                )


def _magnet(trip: Trip) -> Iterator[Finding]:
    for leg in trip.legs:
        if not leg.magnet:
            continue
        for name in dict.fromkeys(use.supply for use in leg.uses):
            supply = trip.supplies[name]
            if supply.kind in ("cylinders", "manifold"):
                unsafe = [cylinder.label for cylinder in supply.cylinders if not cylinder.magnet_safe]
                safe = len(supply.cylinders) - len(unsafe)
                if not safe:
                    yield finding(
                        "stop",
                        "magnet",
                        f"{leg.name} is a magnet room and no cylinder of {name} is marked magnet_safe.",
                        "Take a cylinder labelled safe for the magnet room and mark it magnet_safe: true.",
                        leg.where,
                    )
                elif unsafe:
                    yield finding(
                        "caution",
                        "magnet_leave_outside",
                        f"{leg.name} is a magnet room: leave {', '.join(unsafe)} of {name} outside.",
                        "Park every cylinder that is not marked magnet_safe before the door.",
                        leg.where,
                    )
            elif supply.portable:
                yield finding(
                    "stop" if supply.kind == "litres" else "caution",
                    "magnet",
                    f"{leg.name} is a magnet room and nothing says that {name} is safe in it.",
                    "Draw a cylinder labelled safe for the magnet room.",
                    leg.where,
                )


def _supply(trip: Trip, supply: Supply) -> Iterator[Finding]:
    used = any(use.supply == supply.name for leg in trip.legs for use in leg.uses)
    if supply.kind == "sizes":
        yield finding(
            "stop",
            "no_readings",
            f"{supply.name} names sizes only; nothing is drawn yet and no gauge is read.",
            "Draw the cylinders counted here, read each gauge with the valve open, and list them under cylinders.",
            supply.where,
        )
    if supply.kind == "litres" and supply.portable and used:
        yield finding(
            "caution",
            "single_supply",
            f"{supply.name} is one portable supply of a stated amount: no spare is counted for it.",
            "Carry a cylinder with a regulator as a spare.",
            supply.where,
        )
    if supply.kind == "litres" and supply.outlets is None and used:
        yield finding(
            "caution",
            "outlets_not_stated",
            f"The outlets of {supply.name} are not stated and could not be checked.",
            "Check that it has an outlet for every device, or write outlets.",
            supply.where,
        )
    if supply.kind == "sizes" and supply.outlets is None and used:
        yield finding(
            "note",
            "outlets_to_be_had",
            f"The counts for {supply.name} take it that each cylinder is drawn with the outlets the devices need.",
            "Check regulators, flowmeters and 50-psi outlets when the cylinders are drawn.",
            supply.where,
        )
    if supply.kind == "manifold" and len({cylinder.gauge_kpa for cylinder in supply.cylinders}) > 1:
        yield finding(
            "caution",
            "manifold_gauges_differ",
            f"The cylinders of the manifold {supply.name} have different readings; the lowest is taken for all.",
            "Open all valves, wait, and read the one gauge.",
            supply.where,
        )
    for cylinder in supply.cylinders:
        yield from _cylinder(trip, supply, cylinder)


def _cylinder(trip: Trip, supply: Supply, cylinder: Cylinder) -> Iterator[Finding]:
    name = f"{supply.name} {cylinder.label}"
    if cylinder.gas != OXYGEN:
        yield finding(
            "stop",
            "wrong_gas",
            f"{name} holds {cylinder.gas}, not oxygen; nothing is counted from it.",
            "Take it off the cart. Check the label and the pin index (oxygen 2-5) of the one you take instead.",
            cylinder.where,
        )
    if cylinder.outlets is None and supply.outlets is None and supply.kind != "manifold":
        yield finding(
            "note",
            "outlets_assumed",
            f"{name}: no outlets are stated; one flowmeter to 15 L/min is taken.",
            "Write outlets where it has others.",
            cylinder.where,
        )
    if cylinder.verified is False:
        yield finding(
            "caution",
            "gauge_not_verified",
            f"{name}: the reading was not taken with the valve open and gas flowing.",
            "Open the valve, let gas flow, and read again before departure.",
            cylinder.where,
        )
    if trip.departs is not None and cylinder.checked is not None:
        checked = cylinder.checked
        if (checked.tzinfo is None) == (trip.departs.tzinfo is None):
            age_min = (trip.departs - checked).total_seconds() / 60.0
            if age_min > trip.policy.reading_valid_for_min:
                yield finding(
                    "caution",
                    "reading_old",
                    f"{name} was read {age_min / 60.0:.0f} h before departure.",
                    f"Read it again: a reading counts for {trip.policy.reading_valid_for_min / 60.0:g} h.",
                    cylinder.where,
                )
            elif age_min < 0.0:
                yield finding(
                    "caution",
                    "reading_in_future",
                    f"{name}: the time of the reading lies after departure.",
                    "Check the date and the clock.",
                    cylinder.where,
                )
    yield from _plausible_gauge(name, cylinder, trip.policy)


def _plausible_gauge(name: str, cylinder: Cylinder, policy: Policy) -> Iterator[Finding]:
    ratio = cylinder.gauge_kpa / cylinder.filling_gauge_kpa
    full = gauge_text(cylinder.filling_gauge_kpa, policy)
    if ratio > _PLAUSIBLE_FULL_OVER:
        yield finding(
            "caution",
            "gauge_above_filling",
            f"{name} is said to read {gauge_text(cylinder.gauge_kpa, policy)}, above its filling pressure of {full}.",
            "Check the gauge, the unit and the size; the reading was counted as written.",
            cylinder.where,
        )
    elif 0.0 < ratio < 0.12:
        bar, psi = cylinder.gauge_kpa / KPA_PER_BAR, cylinder.gauge_kpa / KPA_PER_PSI
        meant = ""
        if psi * KPA_PER_BAR <= _PLAUSIBLE_FULL_OVER * cylinder.filling_gauge_kpa and psi > 20.0:
            meant = f" Written as {psi:.0f} psi, it may have been {psi:.0f} bar."
        yield finding(
            "caution",
            "gauge_very_low",
            f"{name} reads {bar:.0f} bar ({psi:.0f} psi) where a full one reads {full}.{meant}",
            "Check the unit of the reading.",
            cylinder.where,
        )


def of_outlets(supply: Supply, this: Case, stock: OnHand, unfit: Sequence[str | None]) -> Iterator[Finding]:
    """Cylinders whose outlets do not carry some leg."""
    for cylinder, tank, why in zip(supply.cylinders, stock.each, unfit, strict=False):
        if why is not None:
            none = not any(tank.serves(segment.asks) for segment in this.flow)
            what = "is left out" if none else "is left out of that leg"
            yield finding(
                "caution",
                "outlets",
                f"{supply.name} {cylinder.label} {what}: {why}.",
                "Fit the outlet that is missing, or take a cylinder that has it.",
                cylinder.where,
            )


def unfit(this: Case, stock: OnHand, legs: Sequence[str]) -> tuple[str | None, ...]:
    """For each cylinder, the first leg that its outlets do not carry and why; None where they carry all."""
    found: list[str | None] = []
    for tank in stock.each:
        why = None
        for segment in this.flow:
            if not tank.serves(segment.asks):
                reason = refusal(tank.outlets or (), segment.asks.needs) or "it is not marked magnet_safe"
                why = f"{legs[segment.leg]}: {reason}"
                break
        found.append(why)
    return tuple(found)


def of_need(this: Case, stock: OnHand, counts: Sequence[FullCount]) -> Iterator[Finding]:
    """A stop where the required litres are not there."""
    nothing_chosen = this.supply.store is not None and not this.supply.cylinders
    if not this.flow or nothing_chosen or covers_need(this, stock):
        return
    have = serving_without_spare_l(this, stock)
    required = this.needed.required_l
    if have < required:
        text = f"{this.supply.name} needs {litres_up(required)} and {litres_down(have)} can be used"
        spare = sum(tank.usable_l for tank in stock.each) - without_largest(
            stock.usable_l, len(stock.each) and this.policy.spare_cylinders
        )
        if this.supply.portable and spare > 0.0 and this.supply.kind != "litres":
            text += f", the spare of {litres_down(spare)} withheld"
    else:
        text = f"{this.supply.name} has enough litres, but not in cylinders whose outlets carry every leg"
    yield finding("stop", "not_enough", f"{text}.", mend(this, stock, counts), this.supply.where)


def mend(this: Case, stock: OnHand, counts: Sequence[FullCount]) -> str:
    """What would mend a shortage: full cylinders, gauge, litres and minutes, or flow."""
    ways = [
        f"draw {count.count} full {count.size} in all" for count in counts if count.count is not None and count.count
    ]
    have = serving_without_spare_l(this, stock)
    short = this.needed.required_l - have
    if short > 0.0:
        ways.append(f"find {litres_up(short)} more")
        peak = this.needed.peak_flow_l_per_min
        factor = this.policy.reserve_factor if this.needed.factor_reserve_l >= this.needed.time_reserve_l else 1.0
        last = this.flow[-1].flow_l_per_min or peak
        minutes = ceil(short / (factor * last)) if last > 0.0 else 0
        if 0 < minutes < sum(segment.end_min - segment.start_min for segment in this.flow):
            ways.append(f"or be {minutes} min less on it at {last:.3g} L/min")
        if have > 0.0:
            share = floor(100.0 * have / this.needed.required_l)
            ways.append(f"or run at {share} % of the planned flow, if a clinician agrees")
    if not ways:
        ways = ["fit the outlets that the devices need, or take cylinders that have them"]
    return f"{', '.join(ways)}.".capitalize()


def of_backup(trip: Trip, supply: Supply, cases: dict[str, Case], stocks: dict[str, OnHand | None]) -> Iterator[Finding]:
    """A stop where a fixed supply in use has no backup, or one that does not carry the reserve time."""
    used = any(use.supply == supply.name for leg in trip.legs for use in leg.uses)
    if not supply.fixed or supply.kind == "pipeline" or not used:
        return
    if supply.backup is None:
        yield finding(
            "stop",
            "no_backup",
            f"{supply.name} is fixed to the vehicle and nothing carries on when it is lost.",
            "Bring portable cylinders, or name the supply that takes over under backup.",
            supply.where,
        )
        return
    stock = stocks[supply.backup]
    for duty in cases[supply.backup].duties:
        if duty.fixed == supply.name and stock is not None and not carries_duty(duty, stock):
            yield finding(
                "stop",
                "backup_short",
                f"{supply.backup} backs up {supply.name} and must carry {litres_up(duty.need_l)} "
                f"({trip.policy.reserve_time_min:g} min at {duty.busiest.flow_l_per_min:.3g} L/min); "
                f"it has {litres_down(sum(t.usable_l for t in stock.each if t.serves(duty.busiest.asks)))} "
                "in cylinders whose outlets fit.",
                "Add cylinders, gauge or outlets to the backup.",
                supply.where,
            )


def of_what_ifs(trip: Trip, rows: Sequence[WhatIf]) -> Iterator[Finding]:
    """A stop for each must-hold what-if that fails, a caution for each other one."""
    for row in rows:
        if row.holds:
            continue
        supply = trip.supplies[row.supply]
        minute = 0 if row.runs_out_min is None else floor(row.runs_out_min + 1e-9)
        yield finding(
            "stop" if row.must_hold else "caution",
            "what_if_fails",
            f"What if {row.name.replace('_', ' ')}: {row.supply} runs out {minute} min after departure, "
            f"in {row.runs_out_leg}.",
            "Add cylinders or gauge to this supply (see the counts), shorten the trip, or settle another fallback.",
            supply.where,
        )


def of_changes(trip: Trip, supply: Supply, changes: Sequence[ChangeOver]) -> Iterator[Finding]:
    """Changes that fall inside a no-change stretch, and changes brought forward to keep out of one."""
    for change in changes:
        minute = floor(change.minute + 1e-9)
        if change.inside_no_change:
            yield finding(
                "caution",
                "change_in_no_change",
                f"{supply.name}: the change from {change.from_cylinder} to {change.to_cylinder} falls {minute} min "
                f"after departure, inside the no-change stretch at {change.leg}.",
                "Start with a fuller cylinder, or carry one that lasts through the stretch.",
                supply.where,
            )
        elif change.early:
            yield finding(
                "note",
                "early_change",
                f"{supply.name}: change from {change.from_cylinder} to {change.to_cylinder} before {change.leg}, "
                f"{minute} min after departure, so that none falls inside the no-change stretch.",
                f"Keep {change.from_cylinder} for later; it goes last.",
                supply.where,
            )


def of_arrival(trip: Trip) -> Iterator[Finding]:
    """A caution where no supply could bridge a missing wall outlet on arrival."""
    if arrival_supply(trip) is None and trip.policy.handover_time_min > 0.0:
        yield finding(
            "caution",
            "nothing_for_arrival",
            "No portable supply and no backup is there if no wall outlet is free on arrival.",
            "Carry a portable cylinder.",
        )
