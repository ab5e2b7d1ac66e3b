"""The verbs `catalog` and `schema`: what the planner knows, with sources, as text, and schemas for an editor."""

from __future__ import annotations

from pathlib import Path

from planner import figures
from planner.command.telling import GO, say
from planner.files.output import make_folder, write_text
from planner.new_trip.editor_line import BEGINS
from planner.report.screen import printable, table, wrap
from planner.trade import catalog
from planner.trade.schemas import NAMES, schema_text


def catalog_text() -> str:
    """Cylinder sizes and device types as text, each with its source."""
    return "\n".join([*_sizes(), "", *_devices()]) + "\n"


def _sizes() -> list[str]:
    rows = [
        (
            size.code,
            figures.supply_l(size.contents_l),
            " = ".join(figures.gauge_read(size.filling_gauge_kpa, unit) for unit in ("psi", "bar")),
            figures.temperature(size.filling_degc),
            f"{figures.significant(size.factor_l_per_psi, 3)} L/psi",
            f"{figures.worked(size.water_capacity_l)} L",
            figures.NONE if size.full_mass_kg is None else figures.mass_up(size.full_mass_kg),
        )
        for size in catalog.sizes().values()
    ]
    head = ("Size", "Full", "Filled to", "at", "Factor", "Water", "Mass full")
    listed = table(head, rows, frozenset(range(1, 7)))
    lines = ["CYLINDER SIZES (litres of dry oxygen at 21.1 °C and 101.325 kPa; gauge pressures)", "", *listed, ""]
    lines += ["Connections and sources of the sizes:"]
    for size in catalog.sizes().values():
        lines += wrap(f"{size.connection}. Source: {size.source}.", f"{size.code}: ", "    ")
        if size.recalled:
            lines += wrap(f"{', '.join(size.recalled)}.", "    From memory: ", "    ")
        if size.note:
            lines += wrap(f"{size.note}.", "    ")
    return lines


def _devices() -> list[str]:
    lines = ["DEVICE TYPES (demand in L/min of 100 % oxygen; k = (FiO2 - 0.21) / 0.79)", ""]
    for device in catalog.device_types().values():
        lines += wrap(f"{device.title}", f"{device.name}: ")
        for keys, outlet, formula in zip(device.needs, device.outlets, device.formulas, strict=False):
            settings = ", ".join(keys) or "no settings"
            where = {"high_pressure": "50-psi outlet", "none": "no outlet"}.get(outlet, outlet)
            lines += wrap(f"{settings}: {formula} ({where})", "    ", "      ")
        if device.optional:
            lines += wrap(f"{', '.join(device.optional)}", "    Optional: ", "      ")
        for key, usual in device.usual.items():
            low, high = figures.plain(usual.low), figures.plain(usual.high)
            lines += wrap(f"{key} {low} to {high} {usual.unit} ({usual.source})", "    Usual: ", "      ")
        lines += wrap(f"{device.source}.", "    Source: ", "      ")
    return lines


def write_schemas(folder: Path) -> int:
    """Writes every schema into a folder, each whole or not at all, and says how a file names its own; the exit code."""
    make_folder(folder)
    for name in NAMES:
        write_text(folder / f"{name}.schema.json", schema_text(name))
    say(f"Written: {printable(str(folder))}: {', '.join(f'{name}.schema.json' for name in NAMES)}", err=True)
    path = printable((folder / "profile.schema.json").as_posix())
    say("The first line of a trip profile that lets an editor complete it and mark its faults:")
    say(f"{BEGINS}{path}")
    return GO
