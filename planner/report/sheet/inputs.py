"""What was put in: legs, devices and cylinders, as they were read, for the calculation sheet."""

from __future__ import annotations

from collections.abc import Callable

from planner import figures
from planner.model import Cylinder, Device, Leg, Outlet, Supply, Use
from planner.report.blocks import AS_ABOVE, Section, Table
from planner.results import Plan

_SETTINGS: tuple[tuple[str, str, Callable[[float], str]], ...] = (
    ("flow_l_per_min", "flow", figures.flow_set),
    ("total_flow_l_per_min", "total flow", figures.flow_set),
    ("oxygen_flow_l_per_min", "oxygen flow", figures.flow_set),
    ("minute_volume_l_per_min", "minute volume", figures.flow_set),
    ("tidal_volume_l", "tidal volume", figures.breath_set),
    ("rate_per_min", "rate", figures.rate_set),
    ("fio2", "FiO2", figures.fio2_set),
    ("bias_flow_l_per_min", "bias flow", figures.flow_set),
    ("leak_l_per_min", "leak", figures.flow_set),
    ("drive_gas_l_per_min", "driving gas", figures.flow_set),
    ("pulse_volume_l", "pulse", figures.breath_set),
)

LONG_CELL = 24
"""A cell longer than this is not told again where the row above holds the same, letters."""

GAS_NOTE = (
    "A litre of oxygen is a litre of dry gas at 21.1 °C (70 °F) and 101.325 kPa; "
    "pressures on cylinders are gauge pressures."
)


def inputs_sections(plan: Plan) -> tuple[Section, ...]:
    """Legs, devices and supplies as read."""
    return (
        Section("Legs", (_legs(plan),)),
        Section("Devices and settings", (_devices(plan),)),
        Section("Supplies as read", tuple(_cylinders(plan))),
    )


def device_text(device: Device) -> str:
    """The settings of a device in words: `tidal volume 450 mL, rate 16 /min, FiO2 0.60, ...`."""
    parts = [] if device.drive is None else [f"{device.drive} drive"]
    for field, title, written in _SETTINGS:
        value: float | None = getattr(device, field)
        if value is not None:
            parts.append(f"{title} {written(value)}")
    if device.rule is not None:
        parts.append("rule: minute volume x FiO2")
    return ", ".join(parts) or "no settings"


def outlets_text(outlets: tuple[Outlet, ...]) -> str:
    """`2 × flowmeter to 15 L/min, 50-psi outlet`."""
    texts = [_outlet(outlet) for outlet in outlets]
    counts = {text: texts.count(text) for text in texts}
    return ", ".join(f"{count} × {text}" if count > 1 else text for text, count in counts.items()) or "none"


def _outlet(outlet: Outlet) -> str:
    if outlet.kind == "high_pressure":
        return "50-psi outlet"
    if outlet.limit_l_per_min is None:
        return outlet.kind
    return f"{outlet.kind} to {figures.flow_set(outlet.limit_l_per_min)}"


def _use(use: Use, leg: Leg) -> str:
    text = use.device.name
    if use.for_min is not None:
        text += f" for {figures.minutes_set(use.for_min)}"
    return text if use.supply == leg.supply else f"{text} on {use.supply}"


def _legs(plan: Plan) -> Table:
    rows = []
    for number, leg in enumerate(plan.trip.legs, start=1):
        extras = [text for text, given in (("no change", leg.no_change), ("magnet room", leg.magnet)) if given]
        if leg.by:
            extras.append(f"by {leg.by}")
        if leg.cabin_altitude_m is not None:
            extras.append(f"cabin at {figures.plain(leg.cabin_altitude_m, 0)} m")
        if leg.cabin_pressure_kpa is not None:
            extras.append(f"cabin pressure {figures.plain(leg.cabin_pressure_kpa, 1)} kPa")
        rows.append(
            (
                str(number),
                leg.name,
                figures.minutes_set(leg.duration_min),
                ", ".join(f"{figures.minutes_set(d.time_min)} {d.reason}" for d in leg.delays) or figures.NONE,
                figures.minutes_set(leg.total_min),
                figures.NONE if leg.longest_min is None else figures.minutes_set(leg.longest_min),
                leg.supply or figures.NONE,
                ", ".join(_use(use, leg) for use in leg.uses),
                ", ".join(extras) or figures.NONE,
            )
        )
    head = ("No.", "Leg", "Duration", "Delays", "Total", "Longest", "Supply", "Devices", "Notes")
    return Table(head, tuple(rows), (0, 2, 4, 5), f"The whole trip takes {figures.minutes_up(plan.trip.total_min)}.")


def _devices(plan: Plan) -> Table:
    rows = tuple(
        (
            device.name,
            device.type.replace("_", " "),
            device_text(device),
            device.if_it_fails or figures.NONE,
            device.may_rise_to or figures.NONE,
            device.patient or figures.NONE,
        )
        for device in plan.trip.devices.values()
    )
    return Table(("Device", "Type", "Settings", "If it fails", "May rise to", "Patient"), rows)


def _cylinders(plan: Plan) -> list[Table]:
    supplies = plan.trip.supplies.values()
    head = ("Supply", "Kind", "Carried", "Backup", "Gas", "Coldest")
    tables = [Table(head, tuple(_supply_row(supply) for supply in supplies), (4, 5), GAS_NOTE)]
    rows = _once([_cylinder_row(supply, item, plan) for supply in supplies for item in supply.cylinders], (6, 7))
    if rows:
        tables.append(
            Table(
                ("Supply", "Cylinder", "Size or label", "Gauge read", "Factor", "Water capacity", "Outlets", "Notes"),
                rows,
                (3, 4, 5),
            )
        )
    return tables


def _once(rows: list[tuple[str, ...]], columns: tuple[int, ...]) -> tuple[tuple[str, ...], ...]:
    """The rows, with what a long cell repeats of the row above told as such."""
    return tuple(
        tuple(
            AS_ABOVE if above and index in columns and len(cell) > LONG_CELL and cell == above[index] else cell
            for index, cell in enumerate(row)
        )
        for above, row in zip([(), *rows], rows, strict=False)
    )


def _supply_row(supply: Supply) -> tuple[str, ...]:
    kind = {"sizes": "still to be drawn", "cylinders": "cylinders, one after another"}.get(supply.kind, supply.kind)
    if supply.stated_l is not None:
        kind += f", {figures.supply_l(supply.stated_l)} stated"
    if supply.liquid is not None:
        kind = (
            f"liquid oxygen, {supply.liquid.text} read, {figures.supply_l(supply.stated_l or 0.0)} of gas left to use"
        )
    temperatures = (supply.temperature_degc, supply.coldest_degc)
    degrees = [figures.NONE if degc is None else figures.temperature(degc) for degc in temperatures]
    carried = "with the patient" if supply.portable else ("with the vehicle" if supply.fixed else "in the wall")
    return (supply.name, kind, carried, supply.backup or figures.NONE, *degrees)


def _cylinder_row(supply: Supply, item: Cylinder, plan: Plan) -> tuple[str, ...]:
    unit = plan.trip.policy.pressure_unit
    notes = []
    if item.temperature_degc is not None:
        notes.append(f"gas at {figures.temperature(item.temperature_degc)} when read")
    if item.verified is not None:
        notes.append("reading verified" if item.verified else "reading NOT verified")
    if item.checked is not None:
        notes.append(f"read {figures.date_time(item.checked)}")
    if item.gas != "oxygen":
        notes.append(f"gas: {item.gas.upper() if item.gas == 'air' else item.gas}")
    if item.magnet_safe:
        notes.append("safe in a magnet room")
    if item.mass_kg is not None:
        notes.append(figures.mass_up(item.mass_kg))
    if item.connection:
        notes.append(item.connection)
    assumed = " (assumed)" if item.outlets is None and supply.outlets is None else ""
    return (
        supply.name,
        item.label,
        item.label_contents or item.size or figures.NONE,
        figures.gauge_read(item.gauge_kpa, unit),
        figures.factor(item.factor_l_per_psi),
        f"{figures.worked(item.water_capacity_l, 3)} L",
        outlets_text(supply.outlets_of(item)) + assumed,
        ", ".join(notes) or figures.NONE,
    )
