"""The cells of a request form as the text of a profile, each line with the cell that it comes from."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from planner.new_trip.wording import free, scalar
from planner.request import cells
from planner.request.cells import Cell

_BARE: Final = re.compile(r"[0-9.,\s]+")
_ROWS: Final = re.compile(r"([0-9]+)(?:\s*-\s*([0-9]+))?")
STANDS_BY: Final = "stands by"
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

    def empty(self, cell: str, allowed: str, fix: str = "fill it in") -> None:
        """A cell that has to be filled in."""
        self.faults.append(Fault(cell, ("empty", "nothing", allowed, fix)))

    def wrong(self, cell: str, found: str, allowed: str, fix: str) -> None:
        """A cell that says what cannot be."""
        self.faults.append(Fault(cell, ("not_possible", found, allowed, fix)))


class _FilledRow:
    """The values of one row."""

    def __init__(self, values: Mapping[str, str], name: str, asked: tuple[Cell, ...]) -> None:
        self.name = name
        self._asked = {cell.key: cell for cell in asked}
        self._values = {key: values[f"{name}.{key}"] for key in self._asked if f"{name}.{key}" in values}

    def __bool__(self) -> bool:
        return bool(self._values)

    def __contains__(self, key: str) -> bool:
        return key in self._values

    @property
    def number(self) -> int:
        """The number that is printed beside it."""
        return int(self.name.rpartition(".")[2])

    @property
    def filled(self) -> tuple[str, ...]:
        """The cells with something in them."""
        return tuple(self._values)

    def cell(self, key: str) -> str:
        """The whole name of a cell."""
        return f"{self.name}.{key}"

    def text(self, key: str) -> str:
        """What stands in a cell; a bare number with the unit that is printed beside it."""
        text, unit = self._values.get(key, ""), self._asked[key].unit
        return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text

    def ticked(self, key: str) -> bool:
        """True where a box is ticked."""
        return self._values.get(key) == "Yes"

    def chosen(self, key: str, words: Mapping[str, str], made: ProfileDraft) -> str:
        """What a chosen word stands for; empty, with the fault told, where nothing or something else is chosen."""
        text = self._values.get(key, "")
        if text in words:
            return words[text]
        allowed = "one of the words of the list"
        if text:
            made.wrong(self.cell(key), f"`{text}`", allowed, "choose one of them")
        else:
            made.empty(self.cell(key), allowed)
        return ""

    def needed(self, key: str, made: ProfileDraft) -> bool:
        """True where a cell is filled in; told where not."""
        if key in self:
            return True
        cell = self._asked[key]
        made.empty(self.cell(key), f"as in {cell.example}" if cell.example else "words of your own")
        return False


def written(values: Mapping[str, str], unit: str) -> ProfileDraft:
    """The profile of a form's values by cell, with the faults of its cells."""
    made = ProfileDraft()
    head = _FilledRow(values, "head", cells.HEAD)
    legs = _filled(values, "leg", cells.LEGS, cells.LEG)
    devices = _filled(values, "device", cells.DEVICES, cells.DEVICE)
    cylinders = _filled(values, "cylinder", cells.CYLINDERS, cells.cylinder_cells(unit))
    made.add("# From a request form. Read each gauge again before it is used.")
    made.add("profile: 1")
    _head(made, head)
    _supplies(made, legs, cylinders)
    names = _devices(made, devices)
    _legs(made, legs, _uses(made, devices, names, legs))
    return made


def _filled(values: Mapping[str, str], name: str, most: int, asked: tuple[Cell, ...]) -> list[_FilledRow]:
    """The rows with something in them; the first one where none has."""
    found = [_FilledRow(values, f"{name}.{number}", asked) for number in range(1, most + 1)]
    return [row for row in found if row] or found[:1]


def _head(made: ProfileDraft, head: _FilledRow) -> None:
    ends = [head.text(key) for key in ("from", "to") if head.needed(key, made)]
    made.add(f"trip: {free(' to '.join(ends) or 'request')}", head.cell("from"))
    if "reference" in head:
        made.add(f"reference: {free(head.text('reference'))}", head.cell("reference"))
    setting = head.chosen("setting", cells.SETTINGS, made)
    made.add(f"setting: {setting or 'road'}", head.cell("setting"))
    if "departs" in head:
        made.add(f"departs: {scalar(head.text('departs'))}", head.cell("departs"))
    head.needed("asks", made)
    head.needed("reach", made)


def _supplies(made: ProfileDraft, legs: list[_FilledRow], cylinders: list[_FilledRow]) -> None:
    sources = {row.text("oxygen") for row in legs}
    places: dict[str, list[_FilledRow]] = {}
    for row in cylinders:
        place = row.chosen("place", cells.PLACES, made) if row else ""
        places.setdefault(place or "cart", []).append(row)
    made.add("supplies:")
    if "wall outlet" in sources:
        made.add("  wall: {pipeline: true}")
    for name in ("cart", "vehicle", "air"):
        if name not in places and not (name == "vehicle" and "oxygen of the vehicle" in sources):
            continue
        first = places.get(name, cylinders)[0]
        made.add(f"  {name}:", first.cell("label"))
        if name == "vehicle":
            made.add("    fixed: true")
            made.add("    backup: cart")
        if name == "air":
            made.add("    gas: air")
        made.add("    cylinders:", first.cell("label"))
        for row in places.get(name, []):
            _cylinder(made, row)
        if name not in places:
            found = "the vehicle's oxygen in a leg, and no cylinder that is fixed in it"
            fix = "list what is fixed in the vehicle, or ask the coordinator to"
            made.wrong(first.cell("place"), found, "a row for each cylinder of the vehicle", fix)


def _cylinder(made: ProfileDraft, row: _FilledRow) -> None:
    if not row:
        made.empty(row.cell("label"), "a row for each cylinder")
        return
    row.needed("label", made)
    made.add(f"      - label: {free(row.text('label') or '?')}", row.cell("label"))
    if "contents" in row:
        made.add(f"        contents: {scalar(row.text('contents'))}", row.cell("contents"))
    if "size" in row:
        made.add(f"        size: {scalar(row.text('size').split(',')[0])}", row.cell("size"))
    elif "contents" not in row:
        made.empty(row.cell("size"), "a size of the list, or what the cylinder's own label says")
    if row.needed("gauge", made):
        made.add(f"        gauge: {scalar(row.text('gauge'))}", row.cell("gauge"))
    outlets = ["{flowmeter: 15 L/min}"] * row.ticked("flowmeter") + ["high_pressure"] * row.ticked("high_pressure")
    if outlets:
        made.add(f"        outlets: [{', '.join(outlets)}]", row.cell("flowmeter"))
    else:
        made.empty(row.cell("flowmeter"), "a tick for each outlet that its regulator has")
    if row.ticked("magnet"):
        made.add("        magnet_safe: true", row.cell("magnet"))


def _devices(made: ProfileDraft, devices: list[_FilledRow]) -> dict[str, str]:
    """Writes the devices; their names by row (`device 2`)."""
    kinds = {row.name: cells.DEVICE_KINDS.get(row.text("type")) for row in devices}
    names: dict[str, str] = {}
    for row in devices:
        kind = kinds[row.name]
        stem = "device" if kind is None else kind.type
        taken = sum(name.startswith(stem) for name in names.values())
        names[row.name.replace(".", " ")] = stem if not taken else f"{stem}_{'23456789'[taken - 1]}"
    made.add("devices:")
    for row in devices:
        kind = kinds[row.name]
        made.add(f"  {names[row.name.replace('.', ' ')]}:", row.cell("type"))
        if kind is None:
            row.chosen("type", dict.fromkeys(cells.DEVICE_KINDS, ""), made)
            made.add("    type: fixed_flow")
            made.add("    flow: 1 L/min")
            continue
        made.add(f"    type: {kind.type}", row.cell("type"))
        for key, text in kind.fixed:
            made.add(f"    {key}: {text}", row.cell("type"))
        _settings(made, row, kind, names)
    return names


def _settings(made: ProfileDraft, row: _FilledRow, kind: cells.DeviceKind, names: Mapping[str, str]) -> None:
    known = {**kind.needs, **kind.may_have}
    for key, meant in known.items():
        if key == "fails" or (key in kind.needs and not row.needed(key, made)) or key not in row:
            continue
        made.add(f"    {meant}: {scalar(row.text(key))}", row.cell(key))
    for key in row.filled:
        if key not in known and key not in ("type", "legs", "fails"):
            found = f"`{row.text(key)}` for a device that has no such setting ({row.text('type')})"
            made.wrong(row.cell(key), found, "nothing", "take it out, or choose the device that has it")
    if "fails" in row or "fails" in kind.needs:
        name = row.chosen("fails", names, made)
        if name:
            made.add(f"    if_it_fails: {name}", row.cell("fails"))


def _uses(
    made: ProfileDraft, devices: list[_FilledRow], names: Mapping[str, str], legs: list[_FilledRow]
) -> list[list[str]]:
    """The devices of each leg that is filled in."""
    uses: dict[int, list[str]] = {leg.number: [] for leg in legs}
    for row in devices:
        if not row.needed("legs", made):
            continue
        text = row.text("legs").casefold()
        for number in _numbers(made, row, text, list(uses)):
            uses[number].append(names[row.name.replace(".", " ")])
    return list(uses.values())


def _numbers(made: ProfileDraft, row: _FilledRow, text: str, legs: list[int]) -> Iterator[int]:
    """The legs that `all`, `2`, `1-3` or `1, 4` names, by the numbers printed beside them; none for `stands by`.

    A row that is left empty keeps its number: 3 is the third row, be the second one filled in or not.
    """
    if text == STANDS_BY:
        return
    if text == "all":
        yield from legs
        return
    for part in text.split(","):
        match = _ROWS.fullmatch(part.strip())
        first, last = (0, 0) if match is None else (int(match[1]), int(match[2] or match[1]))
        if first > last or first not in legs or last not in legs:
            allowed = f"all, {STANDS_BY}, or numbers of legs that are filled in, as in 1-3 or 1, 4"
            made.wrong(row.cell("legs"), f"`{text}`", allowed, "write the numbers of its legs")
            return
        yield from (number for number in legs if first <= number <= last)


def _legs(made: ProfileDraft, legs: list[_FilledRow], uses: list[list[str]]) -> None:
    made.add("legs:")
    for row, names in zip(legs, uses, strict=True):
        row.needed("name", made)
        made.add(f"  - name: {free(row.text('name') or '?')}", row.cell("name"))
        if row.filled == ("name",):
            made.empty(row.cell("minutes"), "as in 12", _NAME_ALONE)
            continue
        if row.needed("minutes", made):
            made.add(f"    duration: {scalar(row.text('minutes'))}", row.cell("minutes"))
        if "longest" in row:
            made.add(f"    longest: {scalar(row.text('longest'))}", row.cell("longest"))
        if "wait" in row:
            made.add("    delays:", row.cell("wait"))
            made.add(f"      - reason: {free(row.text('wait_for') or 'waiting')}", row.cell("wait_for"))
            made.add(f"        time: {scalar(row.text('wait'))}", row.cell("wait"))
        elif "wait_for" in row:
            made.empty(row.cell("wait"), "the minutes of the wait, as in 5")
        if row.ticked("magnet"):
            made.add("    magnet: true", row.cell("magnet"))
        if "altitude" in row:
            made.add(f"    cabin_altitude: {scalar(row.text('altitude'))}", row.cell("altitude"))
        source = row.chosen("oxygen", cells.SOURCES, made)
        made.add(f"    supply: {source or 'cart'}", row.cell("oxygen"))
        made.add(f"    devices: [{', '.join(names)}]", row.cell("name"))
