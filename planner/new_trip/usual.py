"""The usual devices of a service, offered to choose from: the built-in list, or a file of the service.

Such a file is a map of `devices` as in a profile; a trip profile will do. A setting that is left out
is asked each time.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from functools import cache
from types import MappingProxyType
from typing import Final, TypeAlias

from planner.package_file import package_text
from planner.problems import Problem, ProblemsError
from planner.profile import structure
from planner.profile.devices import read_devices
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.text.node import Node
from planner.text.source import Document, load, loads
from planner.text.text_file import shown

Settings: TypeAlias = Mapping[str, str]
"""The keys of a device, `type` first, with the texts that stand in a profile."""

UsualDevices: TypeAlias = Mapping[str, Settings]

AROUND: Final = """\
profile: 1
trip: devices
supplies: {wall: {pipeline: true}}
devices: {any: {type: fixed_flow, flow: 1 L/min}}
legs: [{name: leg, duration: 1 min, supply: wall, devices: [any]}]
"""
"""The smallest profile: devices or a policy are put into it, to be read as those of a profile are."""

_ASKED_LATER: Final = "key_missing"


@cache
def built_in() -> UsualDevices:
    """The built-in list, from `planner/trade/data/usual_devices.yaml`."""
    name = "usual_devices.yaml"
    return _read(loads(package_text(f"trade/data/{name}"), name))


def read_usual(path: str | os.PathLike[str]) -> UsualDevices:
    """The devices of a file. Raises `ProblemsError` with every problem but a setting that is left out."""
    return _read(load(path))


def _read(document: Document) -> UsualDevices:
    root = document.root
    faults = Faults(document.file)
    if root.get("profile") is None:
        for key, _ in root.pairs:
            if key.text not in ("devices", "name"):
                fix = "take it out; values of a policy stand in a file of their own"
                found = f"unknown key `{shown(key.text)}` in a list of devices"
                faults.add(key, "key_unknown", found, "devices, name", fix)
    devices = root.get("devices")
    if devices is None:
        example = "add for example `devices: {cannula: {type: nasal_cannula, flow: 2 L/min}}`"
        faults.add(root, _ASKED_LATER, "a list of devices without `devices`", "`devices`, a map by name", example)
        raise ProblemsError(faults.problems)
    problems = [*faults.problems, *_problems(document.file, devices)]
    if problems:
        raise ProblemsError(problems)
    return MappingProxyType({name.text: MappingProxyType(dict(_texts(value))) for name, value in devices.pairs})


def _problems(file: str, devices: Node) -> Iterator[Problem]:
    around = loads(AROUND).root
    pairs = tuple((key, devices if key.text == "devices" else value) for key, value in around.pairs)
    root = Node("map", pairs=pairs, line=1)
    faults = Faults(file)
    root, left = structure.check(faults, root, "profile")
    read_devices(Fields(faults, root, "list of devices"), None)
    structure.tell_left(faults, left)
    yield from (problem for problem in faults.problems if problem.code != _ASKED_LATER)
    for name, device in devices.pairs:
        if device.kind == "map" and device.get("type") is None:
            found, allowed = f"device `{shown(name.text)}` without `type`", "`type`, a device type"
            yield Problem(file, name.line, name.column, _ASKED_LATER, found, allowed, "add its type")


def _texts(device: Node) -> Iterator[tuple[str, str]]:
    """The settings of a device, `type` first."""
    pairs = [(key.text, value.text.strip()) for key, value in device.pairs]
    return iter(sorted(pairs, key=lambda pair: pair[0] != "type"))
