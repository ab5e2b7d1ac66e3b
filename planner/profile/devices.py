"""Devices and their settings, and what a leg changes of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final, NamedTuple

from planner.model import COMPRESSOR, ROOM, Device, Supply
from planner.problems import Position
from planner.profile.faults import LISTED, Faults, listed_names, position
from planner.profile.fields import Fields
from planner.profile.limits import LIMITS
from planner.profile.supplies import Names, known, names_under
from planner.text.source import Node
from planner.text.text_file import one_line, show
from planner.trade.catalog import DeviceType, device_types, settings

_REPLACES: Final[Mapping[str, tuple[str, ...]]] = {
    "minute_volume": ("tidal_volume", "rate"),
    "tidal_volume": ("minute_volume",),
    "rate": ("minute_volume",),
    "oxygen_flow": ("total_flow", "fio2"),
    "total_flow": ("oxygen_flow",),
    "fio2": ("oxygen_flow",),
    "rule": ("bias_flow", "leak"),
}
"""What a setting in a `use` puts out of force where the device has it in another form."""

_WHERE_FOUND: Final[Mapping[str, str]] = {
    "drive_gas": "add the gas that drives it: it differs by model and stands in the ventilator's manual",
    "bias_flow": "add the flow between breaths: it stands in the ventilator's manual; `bias_flow: 0 L/min` if none",
    "leak": "add the leak that the ventilator shows, or `leak: 0 L/min` if there is none",
    "bleed": "add what the blender lets go all the time: it stands in its manual (low-flow ones some 3 L/min)",
    "air": "add `air:` with the supply that carries air, `air: compressor` or `air: room`",
    "drive": "add `drive: electric` or `drive: pneumatic` (driven by 50 psi), as the ventilator's manual says",
}
_RELATIONS: Final = ("if_it_fails", "may_rise_to")


@dataclass(slots=True)
class DeviceText:
    """A device on its way: the texts that stand in the profile, the values read from them, by key.

    `sound` is False where something of it was wrong and told, so that what follows from it is not told again.
    """

    name: str
    node: Node
    type: DeviceType | None
    where: Position
    texts: dict[str, str] = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)
    sound: bool = True
    _made: Device | None = None

    def device(self) -> Device:
        """The device with the values read: one object, however many legs it is at work in."""
        if self._made is None:
            named = settings()
            self._made = Device(
                name=self.name,
                type="" if self.type is None else self.type.name,
                where=self.where,
                **{named[key].field: value for key, value in self.values.items()},
            )
        return self._made


class Known(NamedTuple):
    """What a setting may name: the other devices, and the supplies with their gas; None where these are not known."""

    devices: Names
    supplies: Mapping[str, Supply] | None


def read_devices(root: Fields, supplies: Mapping[str, Supply] | None) -> dict[str, DeviceText]:
    """Every device by name, complete, with the devices that stand behind it."""
    names = known_names(root, supplies)
    drafts = {name.text: _read(root.faults, name, value, names) for name, value in root.entries("devices")}
    for relation in _RELATIONS:
        _refuse_circles(root.faults, drafts, relation)
    return drafts


def known_names(root: Fields, supplies: Mapping[str, Supply] | None) -> Known:
    """What the settings of a profile may name."""
    return Known(names_under(root, "devices"), None if names_under(root, "supplies") is None else supplies)


def used(faults: Faults, draft: DeviceText, node: Node, names: Known) -> Device:
    """A device as a leg uses it: `node` is the mapping of a `use`, with what is different in this leg."""
    fields = Fields(faults, node, f"{show(draft.name)} as used here")
    told = len(faults.problems)
    changed = DeviceText(draft.name, node, draft.type, position(node))
    _read_settings(fields, changed, names)
    gone = {old for key in changed.texts for old in _REPLACES.get(key, ()) if old not in changed.texts}
    if changed.texts.get("air") == ROOM:
        gone |= {"without_air"} - changed.texts.keys()
    if changed.texts.get("drive") == "electric" and "drive_gas" not in changed.texts:
        gone |= {"drive_gas", "driven_by"}
    merged = replace(
        changed,
        texts={key: text for key, text in (draft.texts | changed.texts).items() if key not in gone},
        values={key: value for key, value in (draft.values | changed.values).items() if key not in gone},
    )
    if len(faults.problems) == told and draft.sound and draft.type is not None:
        _check_form(fields, merged, draft.type)
    return merged.device()


def _read(faults: Faults, name: Node, node: Node, names: Known) -> DeviceText:
    fields = Fields(faults, node, f"device {show(name.text)}")
    told = len(faults.problems)
    kind = device_types().get(fields.text("type") or "")
    draft = DeviceText(name.text, node, kind, position(name))
    if kind is not None:
        fields.title = f"{kind.title} {show(name.text)}"
    _read_settings(fields, draft, names)
    if kind is not None:
        _check_form(fields, draft, kind)
    draft.sound = kind is not None and len(faults.problems) == told
    return draft


def _read_settings(fields: Fields, draft: DeviceText, names: Known) -> None:
    """Reads every setting of a mapping into a draft, and refuses those that the type does not take."""
    for key, setting in settings().items():
        if not fields.given(key):
            continue
        draft.texts[key] = fields.text(key) or ""
        if draft.type is not None and key not in draft.type.keys:
            fix = f"say it with one of these, or choose a type that has `{key}`"
            fields.add(key, "not_of_this_type", f"{key} on a {draft.type.title}", listed_names(draft.type.keys), fix)
            continue
        if setting.kind == "device":
            value: Any = known(fields, key, names.devices, "device")
            if value == draft.name:
                fields.add(
                    key,
                    "names_itself",
                    f"{key} {show(draft.name)}, which is the device itself",
                    "another device",
                    "name another device",
                )
        elif setting.kind == "air":
            value = _air(fields, names.supplies)
        elif key in LIMITS:
            value = fields.quantity(key)
        else:
            value = fields.text(key)
        if value is not None:
            draft.values[key] = value


def _air(fields: Fields, supplies: Mapping[str, Supply] | None) -> str | None:
    """What the air of a device comes from: a word of its own, or a supply that carries air; else it is told."""
    name = fields.text("air")
    if name is None or name in (COMPRESSOR, ROOM) or supplies is None:
        return name
    carrying = listed_names(f"`{each.name}`" for each in supplies.values() if each.gas == "air")
    allowed = f"compressor, room, or a supply with `gas: air`{f' ({carrying})' if carrying else ''}"
    if name not in supplies:
        fix = "write what its air comes from, or add the supply under `supplies` with `gas: air`"
        fields.add("air", "supply_unknown", f"air {show(name)}, which is no supply of the profile", allowed, fix)
        return None
    if supplies[name].gas != "air":
        fix = f"name the supply that carries air; if {show(name)} does, it says `gas: air`"
        fields.add("air", "wrong_gas", f"air {show(name)}, a supply of oxygen", allowed, fix)
        return None
    return name


def _check_air(fields: Fields, draft: DeviceText) -> None:
    """What a ventilator must say of its air: what it does without, and where the air comes from that drives it."""
    air, from_room = draft.texts.get("air"), draft.texts.get("air", ROOM) == ROOM
    if not from_room and "without_air" not in draft.texts:
        fix = "add `without_air: oxygen` or `without_air: fallback`, as its manual says"
        fields.missing("without_air", "`without_air` beside `air`: what it does when its air is gone", fix)
    if not from_room and "rule" in draft.texts:
        found = f"air {show(air or '')} beside `rule`, which counts no air"
        fix = "take `rule` out and write `bias_flow` and `leak`"
        fields.add("air", "two_ways", found, "`air` with `bias_flow` and `leak`", fix)
    if from_room and "without_air" in draft.texts:
        found, fix = "without_air on a ventilator with room air", "take it out, or write what its air comes from"
        fields.add("without_air", "of_no_use", found, "`without_air` beside `air`", fix)
    if draft.texts.get("driven_by") == "air" and from_room:
        found = "driven_by air, and no air at pressure for it"
        fix = "add `air:` with the supply that carries air, or `air: compressor`"
        fields.add("driven_by", "key_missing", found, "`air` with a supply or compressor", fix)
    if "driven_by" in draft.texts and "drive_gas" not in draft.texts:
        fields.missing("drive_gas", "`drive_gas` wherever `driven_by` stands", _WHERE_FOUND["drive_gas"])


def _check_form(fields: Fields, draft: DeviceText, kind: DeviceType) -> None:
    """Tells what a type needs and is not given, and what is given in two forms."""
    for key in kind.missing(draft.texts):
        _missing(fields, draft, kind, key)
    if "driven_by" in kind.optional:
        _check_air(fields, draft)
    form = kind.nearest(draft.texts)
    for key in kind.unused(draft.texts, form):
        if "rule" in kind.needs[form] and draft.values.get(key) == 0.0:
            continue
        _tell_two_ways(fields, draft, kind, key, kind.needs[form])
    if "entrains" in kind.traits and draft.values.get("fio2") == LIMITS["fio2"].low:
        fields.add(
            "fio2",
            "out_of_range",
            f"fio2 {show(draft.texts['fio2'])} at an {kind.title}",
            "a fraction above 0.21",
            "leave `fio2` out, or write the fraction on the mask",
        )


def _tell_two_ways(fields: Fields, draft: DeviceText, kind: DeviceType, key: str, form: tuple[str, ...]) -> None:
    given = [other for other in form if other in draft.texts]
    apart = [other for other in given if not any(key in way and other in way for way in kind.needs)] or ["rule"]
    others = " and ".join(f"`{other}`" for other in apart)
    uncounted = ", which does not count it" if apart == ["rule"] else ""
    fields.add(
        key,
        "two_ways",
        f"{key} beside {others}{uncounted}",
        f"either `{key}` or {others}",
        f"take out `{key}`, or {others}",
    )


def _missing(fields: Fields, draft: DeviceText, kind: DeviceType, key: str) -> None:
    setting = settings()[key]
    form = kind.needs[kind.nearest(draft.texts)]
    fix = _WHERE_FOUND.get(key, f"add `{key}:` with what is set, in a form such as {setting.example}")
    for way in kind.needs:
        extra = [other for other in way if other not in form]
        if key not in way and "rule" not in extra and extra and key in form:
            fix += f", or {' and '.join(f'`{other}`' for other in extra)} in place of it"
            break
    if key in kind.optional:
        fields.missing(key, f"`{key}` wherever {_condition(kind, key)} stands", fix)
    else:
        fields.missing(key, f"`{key}`, {setting.meaning}", fix)


def _condition(kind: DeviceType, key: str) -> str:
    return " and ".join(f"`{other}: {value}`" for other, value, needed in kind.needed_with if needed == key)


def _refuse_circles(faults: Faults, drafts: Mapping[str, DeviceText], relation: str) -> None:
    """Following one relation from device to device must come to an end. Each circle is told once."""
    done: set[str] = set()
    for start in drafts:
        trail: list[str] = []
        name: str | None = start
        seen: set[str] = set()
        while name is not None and name in drafts and name not in done and name not in seen:
            trail.append(name)
            seen.add(name)
            name = drafts[name].values.get(relation)
        if name is not None and name in seen and len(trail) - trail.index(name) > 1:
            circle = trail[trail.index(name) :]
            way = circle[:LISTED] + ([f"{len(circle) - LISTED} more"] if len(circle) > LISTED else []) + circle[:1]
            node = drafts[circle[-1]].node
            faults.add(
                node.get(relation) or node,
                "circle",
                f"{relation} goes in a circle: {' to '.join(map(one_line, way))}",
                "a device at the end that names no other",
                f"take one `{relation}` out",
            )
        done.update(trail)
