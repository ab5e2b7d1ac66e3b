"""The cells of a request form as the text of a profile, each line with the cell that it comes from."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from planner.naming import of_another_gas
from planner.new_trip.wording import free, scalar
from planner.request import cells
from planner.request.cells import Cell, DeviceKind

_BARE: Final = re.compile(r"[0-9.,\s]+")
_ROWS: Final = re.compile(r"([0-9]+)(?:\s*-\s*([0-9]+))?")
_NOTHING: Final = re.compile(r"0+(?:\.0*)?(?P<unit>[^0-9.,].*)?")
"""A loss of nothing, with or without a unit."""
_FROM_VESSEL: Final = "liquid oxygen vessel"
STANDS_BY: Final = "stands by"
_STAND_IN: Final = DeviceKind("fixed_flow", {}, fixed=(("flow", "1 L/min"),))
"""For a row without a device, which is told."""
_NAME_ALONE: Final = "fill in the row, or clear its name where this trip has no such leg"


class Fault(NamedTuple):
    """What is wrong with a cell: a code, what was found, what is allowed, how to mend it."""

    cell: str
    told: tuple[str, str, str, str]


@dataclass(slots=True)
class ProfileDraft:
    """A profile on its way: its lines, the cell of each (lines count from 1), and the faults of cells."""

    lines: list[str] = field(default_factory=list)
    cells: dict[int, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    @property
    def text(self) -> str:
        """The profile."""
        return "\n".join(self.lines) + "\n"

    def add(self, line: str, cell: str = "") -> None:
        """One more line."""
        self.lines.append(line)
        self.cells[len(self.lines)] = cell


class _FilledRow:
    """The values of one row, and the profile that its lines and faults go into."""

    def __init__(self, made: ProfileDraft, values: Mapping[str, str], name: str, asked: tuple[Cell, ...]) -> None:
        self.made, self.name = made, name
        self._asked = {cell.key: cell for cell in asked}
        self._values = {key: values[f"{name}.{key}"] for key in self._asked if f"{name}.{key}" in values}

    def __bool__(self) -> bool:
        return bool(self._values)

    def __contains__(self, key: str) -> bool:
        return key in self._values

    @property
    def title(self) -> str:
        """What it is called where another row names it: `device 2`."""
        return self.name.replace(".", " ")

    @property
    def number(self) -> int:
        """The number that is printed beside it."""
        return int(self.name.rpartition(".")[2])

    @property
    def filled(self) -> tuple[str, ...]:
        """The cells with something in them."""
        return tuple(self._values)

    def text(self, key: str) -> str:
        """What stands in a cell; a bare number with the unit that is printed beside it."""
        text, unit = self._values.get(key, ""), self._asked[key].unit
        return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text

    def ticked(self, key: str) -> bool:
        """True where a box is ticked."""
        return self._values.get(key) == "Yes"

    def add(self, line: str, key: str) -> None:
        """One more line of the profile, which comes from a cell."""
        self.made.add(line, f"{self.name}.{key}")

    def copy(self, indent: str, meant: Mapping[str, str]) -> None:
        """A line for each of these cells that is filled in; `meant` gives the key of the profile."""
        for key, of_profile in meant.items():
            if key in self:
                self.add(f"{indent}{of_profile}: {scalar(self.text(key))}", key)

    def empty(self, key: str, allowed: str, fix: str = "fill it in") -> None:
        """A cell that has to be filled in."""
        self.made.faults.append(Fault(f"{self.name}.{key}", ("empty", "nothing", allowed, fix)))

    def wrong(self, key: str, found: str, allowed: str, fix: str) -> None:
        """A cell that says what cannot be."""
        self.made.faults.append(Fault(f"{self.name}.{key}", ("not_possible", found, allowed, fix)))

    def chosen(self, key: str, words: Mapping[str, str]) -> str:
        """What a chosen word stands for; empty, with the fault told, where nothing or something else is chosen."""
        text = self._values.get(key, "")
        allowed = "one of the words of the list"
        if text and text not in words:
            self.wrong(key, f"`{text}`", allowed, "choose one of them")
        elif not text:
            self.empty(key, allowed)
        return words.get(text, "")

    def needed(self, key: str) -> bool:
        """True where a cell is filled in; told where not."""
        if key not in self:
            example = self._asked[key].example
            self.empty(key, f"as in {example}" if example else "words of your own")
        return key in self


def written(values: Mapping[str, str], unit: str) -> ProfileDraft:
    """The profile of a form's values by cell, with the faults of its cells."""
    made = ProfileDraft()
    head = _FilledRow(made, values, "head", cells.HEAD)
    legs = _filled(made, values, "leg", cells.LEGS, cells.LEG)
    devices = _filled(made, values, "device", cells.DEVICES, cells.DEVICE)
    cylinders = _filled(made, values, "cylinder", cells.CYLINDERS, cells.cylinder_cells(unit))
    made.add("# From a request form. Read each gauge again before it is used.")
    made.add("profile: 1")
    _head(head)
    vessel = _FilledRow(made, values, "liquid.1", cells.LIQUID)
    _supplies(made, legs, cylinders if cylinders[0] or not vessel else [], vessel)
    if vessel or any(leg.text("oxygen") == _FROM_VESSEL for leg in legs):
        _liquid(vessel, head, backed=bool(cylinders[0]))
    names = _devices(made, devices)
    _legs(made, legs, _uses(devices, names, [leg.number for leg in legs]))
    return made


def _filled(
    made: ProfileDraft, values: Mapping[str, str], name: str, most: int, asked: tuple[Cell, ...]
) -> list[_FilledRow]:
    """The rows with something in them; the first one where none has."""
    found = [_FilledRow(made, values, f"{name}.{number}", asked) for number in range(1, most + 1)]
    return [row for row in found if row] or found[:1]


def _head(head: _FilledRow) -> None:
    ends = [head.text(key) for key in ("from", "to") if head.needed(key)]
    head.add(f"trip: {free(' to '.join(ends) or 'request')}", "from")
    if "reference" in head:
        head.add(f"reference: {free(head.text('reference'))}", "reference")
    head.add(f"setting: {head.chosen('setting', cells.SETTINGS) or 'road'}", "setting")
    head.copy("", {"departs": "departs"})
    head.needed("asks")
    head.needed("reach")


def _supplies(made: ProfileDraft, legs: list[_FilledRow], cylinders: list[_FilledRow], vessel: _FilledRow) -> None:
    sources = {row.text("oxygen") for row in legs}
    places: dict[str, list[_FilledRow]] = {}
    for row in cylinders:
        place = row.chosen("place", cells.PLACES) if row else ""
        places.setdefault(place or "cart", []).append(row)
    made.add("supplies:")
    if "wall outlet" in sources:
        made.add("  wall: {pipeline: true}")
    for name, more in (("cart", ()), ("vehicle", ("fixed: true", "backup: cart")), ("air", ("gas: air",))):
        if name not in places and not (name == "vehicle" and "oxygen of the vehicle" in sources):
            continue
        first = (places.get(name) or cylinders or [vessel])[0]
        first.add(f"  {name}:", "label")
        for line in more:
            made.add(f"    {line}")
        first.add("    cylinders:", "label")
        for row in places.get(name, []):
            _cylinder(row)
        if name not in places:
            found = "the vehicle's oxygen in a leg, and no cylinder that is fixed in it"
            fix = "list what is fixed in the vehicle, or ask the coordinator to"
            first.wrong("place", found, "a row for each cylinder of the vehicle", fix)


def _cylinder(row: _FilledRow) -> None:
    if not row:
        row.empty("label", "a row for each cylinder")
        return
    row.needed("label")
    if of_another_gas(row.text("label")) and cells.PLACES.get(row.text("place")) != "air":
        found, allowed = f"`{row.text('label')}` for a cylinder of oxygen", "the label of one that holds oxygen"
        row.wrong("label", found, allowed, "if it holds air, choose `AIR, goes along` in its row; else write its label")
    row.add(f"      - label: {free(row.text('label') or '?')}", "label")
    row.copy("        ", {"contents": "contents"})
    if "size" in row:
        row.add(f"        size: {scalar(row.text('size').split(',')[0])}", "size")
    elif "contents" not in row:
        row.empty("size", "a size of the list, or what the cylinder's own label says")
    if row.needed("gauge"):
        row.copy("        ", {"gauge": "gauge"})
    _outlets("        ", row)
    if row.ticked("magnet"):
        row.add("        magnet_safe: true", "magnet")


def _outlets(indent: str, row: _FilledRow) -> None:
    outlets = ["{flowmeter: 15 L/min}"] * row.ticked("flowmeter") + ["high_pressure"] * row.ticked("high_pressure")
    if outlets:
        row.add(f"{indent}outlets: [{', '.join(outlets)}]", "flowmeter")
    else:
        row.empty("flowmeter", "a tick for each outlet that its regulator has")


def _liquid(row: _FilledRow, head: _FilledRow, *, backed: bool) -> None:
    """The vessel of liquid oxygen; what it loses counts from its reading, so that the times must be known."""
    row.add("  liquid:", "amount")
    if row.chosen("place", cells.VESSEL_PLACES) == "vehicle":
        row.add("    fixed: true", "place")
        if backed:
            row.add("    backup: cart", "place")
    _outlets("    ", row)
    for key in ("amount", "loss"):
        row.needed(key)
    nothing = _NOTHING.fullmatch(row.text("loss"))
    if "loss" in row and nothing is None:
        row.needed("read_at")
        head.needed("departs")
    row.add("    liquid:", "amount")
    row.copy("      ", {key: key for key in ("amount", "keep", "read_at")})
    if "loss" in row:
        bare = nothing is not None and nothing["unit"] is None
        row.add(f"      loss: {'0 kg/day' if bare else scalar(row.text('loss'))}", "loss")


def _devices(made: ProfileDraft, devices: list[_FilledRow]) -> dict[str, str]:
    """Writes the devices; their names by row (`device 2`)."""
    kinds = [cells.DEVICE_KINDS.get(row.text("type")) for row in devices]
    names: dict[str, str] = {}
    for row, kind in zip(devices, kinds, strict=True):
        stem = "device" if kind is None else kind.type
        taken = sum(name.startswith(stem) for name in names.values())
        names[row.title] = stem if not taken else f"{stem}_{'23456789'[taken - 1]}"
    made.add("devices:")
    for row, told in zip(devices, kinds, strict=True):
        kind = told or _STAND_IN
        row.add(f"  {names[row.title]}:", "type")
        row.add(f"    type: {kind.type}", "type")
        for key, text in kind.fixed:
            row.add(f"    {key}: {text}", "type")
        if told is None:
            row.chosen("type", dict.fromkeys(cells.DEVICE_KINDS, ""))
        else:
            _settings(row, kind, names)
    return names


def _settings(row: _FilledRow, kind: DeviceKind, names: Mapping[str, str]) -> None:
    known = {**kind.needs, **kind.may_have}
    measured = {key: meant for key, meant in known.items() if key != "fails"}
    for key in measured:
        if key in kind.needs:
            row.needed(key)
    row.copy("    ", measured)
    for key in row.filled:
        if key not in known and key not in ("type", "legs", "fails"):
            found = f"`{row.text(key)}` for a device that has no such setting ({row.text('type')})"
            row.wrong(key, found, "nothing", "take it out, or choose the device that has it")
    if "fails" in row or "fails" in kind.needs:
        name = row.chosen("fails", names)
        if name:
            row.add(f"    if_it_fails: {name}", "fails")


def _uses(devices: list[_FilledRow], names: Mapping[str, str], legs: list[int]) -> list[list[str]]:
    """The devices of each leg that is filled in, by the numbers of those legs."""
    uses: dict[int, list[str]] = {leg: [] for leg in legs}
    for row in devices:
        for number in _numbers(row, legs) if row.needed("legs") else ():
            uses[number].append(names[row.title])
    return list(uses.values())


def _numbers(row: _FilledRow, legs: list[int]) -> Iterator[int]:
    """The legs that `all`, `2`, `1-3` or `1, 4` names, by the numbers printed beside them; none for `stands by`.

    A row that is left empty keeps its number: 3 is the third row, be the second one filled in or not.
    """
    text = row.text("legs").casefold()
    if text == "all":
        yield from legs
    for part in text.split(",") if text not in ("all", STANDS_BY) else ():
        match = _ROWS.fullmatch(part.strip())
        first, last = (0, 0) if match is None else (int(match[1]), int(match[2] or match[1]))
        if first > last or first not in legs or last not in legs:
            allowed = f"all, {STANDS_BY}, or numbers of legs that are filled in, as in 1-3 or 1, 4"
            row.wrong("legs", f"`{text}`", allowed, "write the numbers of its legs")
            return
        yield from (number for number in legs if first <= number <= last)


def _legs(made: ProfileDraft, legs: list[_FilledRow], uses: list[list[str]]) -> None:
    made.add("legs:")
    for row, names in zip(legs, uses, strict=True):
        row.needed("name")
        row.add(f"  - name: {free(row.text('name') or '?')}", "name")
        if row.filled == ("name",):
            row.empty("minutes", "as in 12", _NAME_ALONE)
            continue
        row.needed("minutes")
        row.copy("    ", {"minutes": "duration", "longest": "longest"})
        if "wait" in row:
            row.add("    delays:", "wait")
            row.add(f"      - reason: {free(row.text('wait_for') or 'waiting')}", "wait_for")
            row.copy("        ", {"wait": "time"})
        elif "wait_for" in row:
            row.empty("wait", "the minutes of the wait, as in 5")
        for key in ("magnet", "mains"):
            if row.ticked(key):
                row.add(f"    {key}: true", key)
        row.copy("    ", {"altitude": "cabin_altitude"})
        row.add(f"    supply: {row.chosen('oxygen', cells.SOURCES) or 'cart'}", "oxygen")
        row.add(f"    devices: [{', '.join(names)}]", "name")
