"""What stands on the cart card, as plain data: texts in their final rounding, in order of importance.

The card holds what a crew needs with its hands full: go or no-go, the least gauge to leave with, when to
change, what each gauge should show on the way, and what to do when something fails. Everything else is on
the calculation sheet.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from planner import devices
from planner.model import Device, Leg
from planner.report import figures, words
from planner.report.card_data import Balance, Card, LegBlock, OrderRow, Point, Setting
from planner.report.card_lines import failures, holds
from planner.report.minutes_table import minutes_table
from planner.results import Checkpoint, CylinderPlan, Order, Plan, SupplyPlan, TurnBack


def card(plan: Plan) -> Card:
    """Put a plan on a card."""
    trip = plan.trip
    return Card(
        verdict=words.verdict(plan),
        go=plan.go,
        trip=trip.name,
        reference=trip.reference or "",
        facts=_facts(plan),
        changes=trip.changes,
        reasons=words.reasons(plan),
        cautions=len(words.findings_at(plan, "caution")),
        order=_order(plan),
        order_notes=(
            *(_other(supply) for supply in plan.supplies.values() if not supply.cylinders and supply.ledger),
            *(note for supply in plan.supplies.values() for note in _change_notes(supply)),
        ),
        legs=_legs(plan),
        settings=_settings(plan),
        minutes=minutes_table(plan),
        no_change=_no_change(plan),
        turn_back=_turn_back(plan),
        failures=failures(plan),
        holds=holds(plan),
        balance=tuple(_balance(supply) for supply in plan.supplies.values() if supply.supply.kind != "pipeline"),
    )


def _facts(plan: Plan) -> tuple[str, ...]:
    trip = plan.trip
    facts = [words.SETTINGS[trip.setting] if trip.setting_given else f"{words.SETTINGS[trip.setting]} (assumed)"]
    if trip.departs is not None:
        facts.append(f"departs {figures.date_time(trip.departs)}")
    facts.append(f"{figures.minutes_up(trip.total_min)} in {len(trip.legs)} leg{'s' if len(trip.legs) != 1 else ''}")
    return tuple(facts)


def _size(item: CylinderPlan) -> str:
    return item.cylinder.size or item.cylinder.label_contents or "own label"


def _least(plan: Plan, item: CylinderPlan | None) -> str:
    if item is None or item.least_departure_gauge_kpa is None:
        return figures.NONE
    if item.least_departure_gauge_kpa <= 0:
        return "any"
    return figures.gauge_up(item.least_departure_gauge_kpa, plan.trip.policy.pressure_unit)


def _turns(plan: Plan) -> list[tuple[SupplyPlan, Order | None, CylinderPlan | None]]:
    """The rows of the order: each supply's turns, then its cylinders that no turn needs."""
    rows: list[tuple[SupplyPlan, Order | None, CylinderPlan | None]] = []
    for supply in plan.supplies.values():
        known = {item.cylinder.label: item for item in supply.cylinders}
        rows += [(supply, turn, known.get(turn.cylinder)) for turn in supply.order]
        used = {turn.cylinder for turn in supply.order}
        rows += [(supply, None, item) for item in supply.cylinders if item.cylinder.label not in used]
    return rows


def _number(plan: Plan, check: Checkpoint) -> int | None:
    """The number in the order of the cylinder in use at a checkpoint; the later where it comes round again."""
    found = [
        number
        for number, (supply, turn, _) in enumerate(_turns(plan), start=1)
        if turn is not None
        and (supply.supply.name, turn.cylinder) == (check.supply, check.cylinder)
        and turn.from_min <= check.minute + 1e-6
    ]
    return found[-1] if found else None


def _order(plan: Plan) -> tuple[OrderRow, ...]:
    rows = []
    for number, (supply, turn, item) in enumerate(_turns(plan), start=1):
        if turn is not None:
            rows.append(_order_row(plan, number, supply, turn, item))
        elif item is not None:
            rows.append(_reserve_row(plan, number, supply, item))
    return tuple(rows)


def _reserve_row(plan: Plan, number: int, supply: SupplyPlan, item: CylinderPlan) -> OrderRow:
    unit = plan.trip.policy.pressure_unit
    return OrderRow(
        number=number,
        label=item.cylinder.label,
        supply=supply.supply.name,
        size=_size(item),
        usable=figures.supply_l(item.usable_l),
        least=_least(plan, item),
        starts=figures.gauge_nearest(item.cylinder.gauge_kpa, unit),
        change_gauge=figures.gauge_up(plan.trip.policy.change_over_at_kpa, unit),
        elapsed="",
        clock="",
        then="in reserve" if item.serves else "NOT FIT: see sheet",
    )


def _order_row(plan: Plan, number: int, supply: SupplyPlan, turn: Order, item: CylinderPlan | None) -> OrderRow:
    unit = plan.trip.policy.pressure_unit
    change = next(
        (
            change
            for change in supply.change_overs
            if change.from_cylinder == turn.cylinder and abs(change.minute - turn.to_min) < 1e-6
        ),
        None,
    )
    again = any(other.cylinder == turn.cylinder for other in supply.order[: supply.order.index(turn)])
    gauge = plan.trip.policy.change_over_at_kpa if change is None else change.gauge_kpa
    return OrderRow(
        number=number,
        label=turn.cylinder,
        supply=supply.supply.name,
        size=_size(item) if item else figures.NONE,
        usable=figures.supply_l(item.usable_l) if item else figures.NONE,
        least="" if again else _least(plan, item),
        starts=figures.gauge_nearest(turn.gauge_start_kpa, unit),
        change_gauge=figures.gauge_up(gauge, unit),
        elapsed="" if change is None else figures.minutes_down(change.minute),
        clock="" if change is None else _clock(plan, change.minute),
        then="" if change is not None else _then(turn, unit),
    )


def _then(turn: Order, unit: str) -> str:
    if turn.to_min <= turn.from_min:
        return "in reserve"
    return f"ends at {figures.gauge_nearest(turn.gauge_end_kpa, unit)}"


def _turn_back(plan: Plan) -> str:
    """Until when turning back or diverting still keeps the reserve time."""
    return "; ".join(_window(plan, window) for window in plan.turn_backs) or "no minute keeps the reserve time"


def _window(plan: Plan, window: TurnBack) -> str:
    text = "back" if window.to is None else f"divert to {window.to}"
    if window.from_min > 0:
        text += f" from {_at(plan, window.from_min)}"
    if window.to_min >= plan.trip.total_min:
        return f"{text} at any time" if window.from_min <= 0 else f"{text} on"
    return f"{text} until {_at(plan, window.to_min)}"


def _at(plan: Plan, minute: float) -> str:
    clock = _clock(plan, minute)
    return f"{figures.minutes_down(minute)} ({clock})" if clock else figures.minutes_down(minute)


def _clock(plan: Plan, minute: float) -> str:
    """`14:38`, or `00:12 +1 d` on a later day; empty without a time of departure. The zone is kept."""
    text = figures.clock_or_none(plan.trip.departs, minute)
    time, on, _ = text.partition(" on ")
    if not on or plan.trip.departs is None:
        return text
    return f"{time} +{_days_later(plan.trip.departs, minute)} d"


def _days_later(departs: datetime, minute: float) -> int:
    elapsed = timedelta(minutes=figures.steps_down(minute, 1.0))
    if departs.tzinfo is None:
        moment = departs + elapsed
    else:
        moment = (departs.astimezone(UTC) + elapsed).astimezone(departs.tzinfo)
    return (moment.date() - departs.date()).days


def _change_notes(supply: SupplyPlan) -> list[str]:
    notes = []
    for change in supply.change_overs:
        if change.early:
            notes.append(f"{change.from_cylinder} to {change.to_cylinder} is early, to keep a no-change stretch free.")
        if change.inside_no_change:
            notes.append(
                f"{change.from_cylinder} to {change.to_cylinder} falls INSIDE a no-change stretch: {change.leg}."
            )
    return notes


def _other(supply: SupplyPlan) -> str:
    name, kind = supply.supply.name, supply.supply.kind
    if kind == "pipeline":
        return f"{name}: wall outlet, does not run out; try it first."
    if kind == "litres":
        return (
            f"{name}: {figures.supply_l_or_none(supply.usable_l)} stated, "
            f"{figures.need_l(supply.required_l)} required; read its own gauge."
        )
    counts = ", ".join(
        f"{'no number' if full.count is None else full.count} × {full.size}" for full in supply.full_cylinders
    )
    return f"{name}: cylinders still to be drawn, full: {counts}."


def _balance(supply: SupplyPlan) -> Balance:
    have = supply.serving_without_spare_l
    counts = " or ".join(f"{full.count} × {full.size}" for full in supply.full_cylinders if full.count is not None)
    return Balance(
        supply=supply.supply.name,
        required=figures.need_l(supply.required_l),
        have=figures.supply_l_or_none(have),
        margin="no readings yet" if have is None else words.margin(have, supply.required_l),
        full=counts,
    )


def _legs(plan: Plan) -> tuple[LegBlock, ...]:
    blocks = []
    before: Checkpoint | None = None
    for index, leg in enumerate(plan.trip.legs):
        points = []
        for check in (item for item in plan.checkpoints if item.leg_index == index):
            if check.at == "end" or not _same_reading(before, check):
                points.append(_point(plan, check))
            before = check
        blocks.append(LegBlock(index + 1, leg.name, _source(leg), leg.no_change, tuple(points)))
    return tuple(blocks)


def _same_reading(before: Checkpoint | None, check: Checkpoint) -> bool:
    """True where the end of the last leg already asks for this very reading, at the same flow."""
    return before is not None and (before.supply, before.cylinder, before.minute, before.flow_l_per_min) == (
        check.supply,
        check.cylinder,
        check.minute,
        check.flow_l_per_min,
    )


def _point(plan: Plan, check: Checkpoint) -> Point:
    unit = plan.trip.policy.pressure_unit
    return Point(
        key=f"leg{check.leg_index + 1}.{check.at}.{check.supply}",
        at="leave" if check.at == "start" else "arrive",
        elapsed=figures.minutes_down(check.minute),
        clock=_clock(plan, check.minute),
        cylinder=check.cylinder or check.supply,
        number=_number(plan, check),
        gauge=figures.gauge_nearest_or_none(check.gauge_kpa, unit),
        least=figures.gauge_up_or_none(check.least_gauge_kpa, unit),
    )


OUTLETS = {"flowmeter": "flowmeter", "high_pressure": "50-psi outlet", "none": "no outlet"}


def _source(leg: Leg) -> str:
    """`cart 12.1 L/min: vent on 50-psi outlet, neb on flowmeter (first 10 min)`; the highest flow of the leg."""
    parts: dict[str, list[str]] = {}
    flows: dict[str, float] = {}
    for use in leg.uses:
        text = f"{use.device.name} on {OUTLETS[devices.outlet_kind(use.device)]}"
        if use.for_min is not None:
            text += f" (first {figures.minutes_set(use.for_min)})"
        parts.setdefault(use.supply, []).append(text)
        flows[use.supply] = flows.get(use.supply, 0.0) + devices.demand_l_per_min(use.device)
    return "; ".join(
        f"{supply} {figures.flow_up(flows[supply])}: {', '.join(texts)}" for supply, texts in parts.items()
    )


def _settings(plan: Plan) -> tuple[Setting, ...]:
    found: dict[tuple[str, str, str], list[int]] = {}
    for index, leg in enumerate(plan.trip.legs, start=1):
        for use in leg.uses:
            key = (use.device.name, setting_text(use.device), figures.flow_up(devices.demand_l_per_min(use.device)))
            legs = found.setdefault(key, [])
            if index not in legs:
                legs.append(index)
    several = {name for name, _, _ in found if sum(other == name for other, _, _ in found) > 1}
    return tuple(
        Setting(name, f"{text}; leg {', '.join(map(str, legs))}" if name in several else text, flow)
        for (name, text, flow), legs in found.items()
    )


def setting_text(device: Device) -> str:
    """A device's settings in words: `ventilator, 450 mL × 16 /min, FiO2 0.60, driving gas 0.5 L/min`."""
    parts = [device.type.replace("_", " ")]
    if device.patient:
        parts[0] += f" ({device.patient})"
    if device.tidal_volume_l is not None and device.rate_per_min is not None:
        parts.append(f"{figures.plain(1000 * device.tidal_volume_l, 1)} mL × {figures.plain(device.rate_per_min)} /min")
    if device.pulse_volume_l is not None and device.rate_per_min is not None:
        parts.append(f"{figures.plain(1000 * device.pulse_volume_l, 1)} mL × {figures.plain(device.rate_per_min)} /min")
    for value, title in (
        (device.minute_volume_l_per_min, "minute volume"),
        (device.flow_l_per_min, "flow"),
        (device.total_flow_l_per_min, "total flow"),
        (device.oxygen_flow_l_per_min, "oxygen flow"),
        (device.bias_flow_l_per_min or None, "bias flow"),
        (device.leak_l_per_min or None, "leak"),
        (device.drive_gas_l_per_min or None, "driving gas"),
    ):
        if value is not None:
            parts.append(f"{title} {figures.flow_set(value)}")
    if device.fio2 is not None:
        parts.insert(2 if len(parts) > 1 else 1, f"FiO2 {device.fio2:.2f}")
    return ", ".join(parts)


def _no_change(plan: Plan) -> tuple[str, ...]:
    """Each stretch of neighbouring no-change legs: `leg 2 Loading, 18 min to 23 min (14:38 to 14:43)`."""
    stretches: list[tuple[int, int, float, float]] = []
    minute = 0.0
    for index, leg in enumerate(plan.trip.legs, start=1):
        if leg.no_change:
            if stretches and stretches[-1][1] == index - 1:
                first, _, start, _ = stretches[-1]
                stretches[-1] = (first, index, start, minute + leg.total_min)
            else:
                stretches.append((index, index, minute, minute + leg.total_min))
        minute += leg.total_min
    return tuple(_stretch_text(plan, *stretch) for stretch in stretches)


def _stretch_text(plan: Plan, first: int, last: int, start_min: float, end_min: float) -> str:
    legs = plan.trip.legs[first - 1].name if first == last else f"to leg {last}"
    text = f"leg {first} {legs}, {figures.minutes_down(start_min)} to {figures.minutes_up(end_min)}"
    departs = plan.trip.departs
    if departs is None:
        return text
    return f"{text} ({figures.clock_down(departs, start_min)} to {figures.clock_down(departs, end_min)})"
