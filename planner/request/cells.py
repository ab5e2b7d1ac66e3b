"""What the request form asks, as plain data: its parts, their rows and cells, and the words to choose from.

A cell that is empty is asked for and never guessed. The words are those of the trade; what each stands for in a profile
is written beside it. Nothing here draws or reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Final, Literal, NamedTuple

from planner import figures
from planner.model import OwnForm
from planner.profile.own_form import MOST_LEGS
from planner.trade.catalog import sizes

BEGINNING: Final = "request."
"""How the name of each field begins."""

FORM: Final = "1"
"""Value of the hidden field `request.form`: the version of the form."""

LEGS, DEVICES, CYLINDERS = MOST_LEGS, 6, 8
"""Rows."""

SETTINGS: Final = {"inside the hospital": "in_house", "by road": "road", "by air": "air"}
SOURCES: Final = {"cylinders that go along": "cart", "oxygen of the vehicle": "vehicle", "wall outlet": "wall"} | {
    "liquid oxygen vessel": "liquid"
}
PLACES: Final = {"goes with the patient": "cart", "fixed in the vehicle": "vehicle", "AIR, goes along": "air"}
VESSEL_PLACES: Final = {word: place for word, place in PLACES.items() if place != "air"}

CellKind = Literal["write", "tick", "choice"]


class Cell(NamedTuple):
    """One place to fill in. `unit` goes with a bare number; `example` shows the form of an answer."""

    key: str
    title: str
    example: str = ""
    unit: str = ""
    kind: CellKind = "write"
    words: tuple[str, ...] = ()


class DeviceKind(NamedTuple):
    """A device in the words of the form: its type, the profile's key for each cell that it needs or may have."""

    type: str
    needs: Mapping[str, str]
    may_have: Mapping[str, str] = {}
    fixed: tuple[tuple[str, str], ...] = ()


_FLOW: Final = {"flow": "flow"}
_VENTILATOR: Final = {
    "fio2": "fio2",
    "volume": "tidal_volume",
    "rate": "rate",
    "bias": "bias_flow",
    "leak": "leak",
}
_BATTERY: Final = {"battery": "battery"}
_BLEND: Final = {"flow": "flow", "fio2": "fio2", "bias": "bleed"}

DEVICE_KINDS: Final[Mapping[str, DeviceKind]] = {
    "nasal cannula": DeviceKind("nasal_cannula", _FLOW),
    "simple mask": DeviceKind("simple_mask", _FLOW),
    "reservoir mask": DeviceKind("reservoir_mask", _FLOW),
    "air-entrainment mask": DeviceKind("air_entrainment_mask", _FLOW, {"fio2": "fio2"}),
    "tracheostomy mask": DeviceKind("tracheostomy_mask", _FLOW),
    "nebulizer": DeviceKind("nebulizer", _FLOW),
    "manual resuscitator (bag)": DeviceKind("manual_resuscitator", _FLOW),
    "high-flow nasal": DeviceKind("high_flow_nasal", {"flow": "flow", "fio2": "fio2"}),
    "CPAP, oxygen flow is set": DeviceKind("cpap", {"flow": "oxygen_flow"}),
    "CPAP, total flow and FiO2": DeviceKind("cpap", {"flow": "total_flow", "fio2": "fio2"}),
    "ventilator, electric": DeviceKind("ventilator", _VENTILATOR, _BATTERY, (("drive", "electric"),)),
    "ventilator, gas-driven": DeviceKind(
        "ventilator", {**_VENTILATOR, "drive_gas": "drive_gas"}, fixed=(("drive", "pneumatic"),)
    ),
    "blender, air cylinders": DeviceKind("blended_flow", _BLEND, fixed=(("air", "air"),)),
    "blender, air compressor": DeviceKind("blended_flow", _BLEND, fixed=(("air", "compressor"),)),
    "pulse conserver": DeviceKind(
        "pulse_conserver", {"volume": "pulse_volume", "rate": "rate", "fails": "if_it_fails"}
    ),
    "oxygen concentrator": DeviceKind("concentrator", {"fails": "if_it_fails"}, _FLOW | _BATTERY),
}
"""Every device of the form; `fails` may stand with each."""

HEAD: Final = (
    Cell("asks", "Ward or team, and role of who asks", "ward 7, nurse in charge"),
    Cell("reach", "Reach us at", "extension 4711"),
    Cell("from", "From", "ward 7"),
    Cell("to", "To", "scanner"),
    Cell("setting", "How does the patient travel?", kind="choice", words=tuple(SETTINGS)),
    Cell("departs", "Departs", "2026-12-03 14:20"),
    Cell("reference", "Your number for it"),
)

LEG: Final = (
    Cell("name", "From ... to ...", "ward to lift"),
    Cell("minutes", "Minutes", "12", "min"),
    Cell("longest", "At longest", "20", "min"),
    Cell("wait", "Wait, min", "5", "min"),
    Cell("wait_for", "Wait for", "lift"),
    Cell("oxygen", "Oxygen from", kind="choice", words=tuple(SOURCES)),
    Cell("magnet", "Magnet room", kind="tick"),
    Cell("mains", "On mains", kind="tick"),
    Cell("altitude", "Cabin, ft", "6000", "ft"),
)

DEVICE: Final = (
    Cell("type", "Device", kind="choice", words=tuple(DEVICE_KINDS)),
    Cell("flow", "Flow, L/min", "4", "L/min"),
    Cell("fio2", "FiO2, %", "60", "%"),
    Cell("volume", "Breath, mL", "480", "mL"),
    Cell("rate", "Rate /min", "16", "/min"),
    Cell("bias", "Bias, bleed", "2", "L/min"),
    Cell("leak", "Leak, L/min", "0", "L/min"),
    Cell("drive_gas", "Drive gas", "5", "L/min"),
    Cell("battery", "Battery, min", "210", "min"),
    Cell("legs", "In legs", "all"),
    Cell("fails", "If it fails", kind="choice", words=tuple(f"device {row}" for row in range(1, DEVICES + 1))),
)


OUTLETS: Final = ("flowmeter", "high_pressure")
"""The cells of a cylinder that stand for an outlet, as a policy names it."""


def _size_in_words(code: str) -> str:
    return f"{code}, {figures.supply_l(sizes()[code].contents_l)} full"


@cache
def cylinder_cells(unit: str) -> tuple[Cell, ...]:
    """The cells of a cylinder; `unit` is the one of the gauges that the form is printed for."""
    words = tuple(_size_in_words(code) for code in sizes())
    return (
        Cell("label", "Label", "A"),
        Cell("size", "Size", kind="choice", words=words),
        Cell("contents", "or its label says", "680 L at 2015 psi"),
        Cell("gauge", f"Gauge, {unit}", "1900" if unit == "psi" else "140", unit),
        Cell("flowmeter", "Flowmeter 15 L/min", kind="tick"),
        Cell("high_pressure", "50-psi outlet", kind="tick"),
        Cell("magnet", "Magnet safe", kind="tick"),
        Cell("place", "It ...", kind="choice", words=tuple(PLACES)),
    )


LIQUID: Final = (
    Cell("amount", "Left in it, with unit", "12 lb"),
    Cell("loss", "It loses a day", "1.5 lb/day"),
    Cell("keep", "Stays in it", "1 lb"),
    Cell("read_at", "Read at", "2026-12-03 09:00"),
    Cell("flowmeter", "Flowmeter 15 L/min", kind="tick"),
    Cell("high_pressure", "50-psi outlet", kind="tick"),
    Cell("place", "It ...", kind="choice", words=tuple(VESSEL_PLACES)),
)


class FormRow(NamedTuple):
    """One row of the form: the beginning of its fields' names, what it is called, its page and its cells."""

    name: str
    title: str
    page: int
    cells: tuple[Cell, ...]


ALL: Final = OwnForm()
"""What the form offers where a service says nothing."""


def form_rows(unit: str, own: OwnForm = ALL) -> Iterator[FormRow]:
    """Every row of the form in its order, with what a service offers of each choice."""
    yield FormRow("head", "first part", 1, HEAD)
    for number in range(1, LEGS + 1):
        yield FormRow(f"leg.{number}", f"leg {number}", 1, LEG)
    for number in range(1, DEVICES + 1):
        yield FormRow(f"device.{number}", f"device {number}", 2, _own_devices(own))
    for number in range(1, CYLINDERS + 1):
        yield FormRow(f"cylinder.{number}", f"cylinder {number}", 2, _own_cylinders(unit, own))
    yield FormRow("liquid.1", "liquid oxygen", 2, _with_own_outlets(LIQUID, own))


def beforehand(own: OwnForm) -> dict[str, str]:
    """What stands in the cells of a service's blank form: the names of its usual legs, and nothing else."""
    return {f"leg.{number}.name": name for number, name in enumerate(own.legs, start=1)}


def _own_devices(own: OwnForm) -> tuple[Cell, ...]:
    if own.devices is None:
        return DEVICE
    words = tuple(word for type_ in own.devices for word, kind in DEVICE_KINDS.items() if kind.type == type_)
    return tuple(cell._replace(words=words) if cell.key == "type" else cell for cell in DEVICE)


def _own_cylinders(unit: str, own: OwnForm) -> tuple[Cell, ...]:
    found = cylinder_cells(unit)
    if own.sizes is not None:
        words = tuple(_size_in_words(code) for code in own.sizes)
        found = tuple(cell._replace(words=words) if cell.key == "size" else cell for cell in found)
    return _with_own_outlets(found, own)


def _with_own_outlets(found: tuple[Cell, ...], own: OwnForm) -> tuple[Cell, ...]:
    return tuple(cell for cell in found if own.outlets is None or cell.key not in OUTLETS or cell.key in own.outlets)
