"""The policy in force: the column of the setting, then what a policy file says, then what the trip says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Literal, NamedTuple, cast

from planner.model import Listed, OwnForm, OwnLine, OwnLineList, Policy, Setting
from planner.profile.beside import Folder
from planner.profile.faults import Faults, listed_names
from planner.profile.fields import Fields
from planner.profile.own_form import read_own_form
from planner.text.source import Node
from planner.text.text_file import show
from planner.trade.policy_table import policy_defaults, policy_rows

PressureUnit = Literal["psi", "bar", "kPa", "MPa"]


class _Value(NamedTuple):
    value: Any
    source: str
    node: Node
    faults: Faults


def read_policy(fields: Fields, setting: Setting, folder: Folder) -> Policy:
    """The policy of a trip; `folder` is where the path of a policy file starts."""
    defaults = policy_defaults(setting)
    node = fields.get("policy")
    defaults = _in_unit_of_hand(fields, defaults)
    if node is None:
        return defaults
    inline = Fields(fields.faults, node, "policy")
    file = node if node.kind == "scalar" else inline.get("file")
    values: dict[str, _Value] = {}
    own: tuple[OwnLine, ...] = ()
    listed_texts = Listed()
    form = OwnForm()
    name: str | None = None
    if file is not None:
        with folder.opened(fields.faults, file, "policy") as there:
            if there is not None:
                values.update(_read_values(there, there.faults.file))
                own = _own_lines(there, folder.within(file))
                listed_texts = _listed_texts(there, listed_texts)
                form = read_own_form(there, form)
                name = there.text("name") or Path(file.text).stem
    values.update(_read_values(inline, "the trip profile"))
    _check(values, defaults)
    own += _own_lines(inline, folder)
    policy = _merged(defaults, values, inline.text("name") or name)
    policy = policy._replace(history=_listed_texts(inline, listed_texts), form=read_own_form(inline, form))
    return policy._replace(own_lines=own, overrides=(*policy.overrides, "own_lines")) if own else policy


def _listed_texts(fields: Fields, before: Listed) -> Listed:
    """What lines of the history may hold: the lists given here, and those given before."""
    node = fields.get("history")
    if node is None:
        return before
    lists = Fields(fields.faults, node, "history")
    return Listed(
        *((*getattr(before, key), *(item.text.strip() for item in lists.items(key))) for key in Listed._fields)
    )


def _in_unit_of_hand(root: Fields, defaults: Policy) -> Policy:
    """The defaults with the unit in which the first gauge of the trip was typed, where one was."""
    typed = (_typed_unit(text) for text in _gauges(root))
    unit = next((unit for unit in typed if unit is not None), None)
    if unit is None or unit == defaults.pressure_unit:
        return defaults
    source = "the unit in which the first gauge of the trip was typed"
    return defaults._replace(
        pressure_unit=cast(PressureUnit, unit), sources={**defaults.sources, "pressure_unit": source}
    )


def _gauges(root: Fields) -> Iterator[str]:
    """The readings of a profile as typed, in their order, read or not."""
    for _, supply in root.entries("supplies"):
        nodes: list[Node] = [supply]
        nodes += (supply.get("cylinders") or Node("list")).items
        for node in nodes:
            gauge = node.get("gauge")
            if gauge is not None and gauge.kind == "scalar":
                yield gauge.text


def _typed_unit(text: str) -> str | None:
    letters = text.rstrip().casefold()
    for unit in ("psi", "bar", "kPa", "MPa"):
        if letters.endswith((unit.casefold(), f"{unit.casefold()}g")):
            return unit
    return None


def _read_values(fields: Fields, place: str) -> dict[str, _Value]:
    found: dict[str, _Value] = {}
    for key, row in policy_rows().items():
        node = fields.get(key)
        if node is None:
            continue
        value: Any
        if row.unit == "what-ifs":
            value = _names(fields)
        else:
            value = fields.text(key) if row.unit == "name" else fields.quantity(key)
        if value is not None:
            written = listed_names(value) or "none" if row.unit == "what-ifs" else node.text
            source = "the command line" if node.file is not None else place
            value = int(value) if row.unit == "cylinders" else value
            found[key] = _Value(value, f"{source}: {written}", node, fields.faults)
    return found


def _own_lines(fields: Fields, folder: Folder) -> tuple[OwnLine, ...]:
    """The lines of the file that `own_lines` names; `folder` is where its path starts."""
    node = fields.get("own_lines")
    if node is None:
        return ()
    found = []
    with folder.opened(fields.faults, node, "own_lines") as there:
        for item in () if there is None else there.items("lines"):
            line = Fields(fields.faults if there is None else there.faults, item, "own line")
            which, text = line.text("list"), line.text("text")
            if which is not None and text is not None:
                found.append(OwnLine(cast(OwnLineList, which), text, line.text("source") or ""))
    return tuple(found)


def _names(fields: Fields) -> tuple[str, ...]:
    names: list[str] = []
    for item in fields.items("must_hold"):
        if item.text in names:
            fields.faults.add(item, "named_twice", f"{show(item.text)} twice", "each what-if once", "take one out")
        names.append(item.text)
    return tuple(names)


def _check(values: Mapping[str, _Value], defaults: Policy) -> None:
    """Change-over below full, and the allowance within what lies between them."""

    def value(key: str) -> float:
        return float(values[key].value if key in values else getattr(defaults, policy_rows()[key].field))

    given = [key for key in ("gauge_allowance", "change_over_at", "full_at") if key in values]
    if given and value("change_over_at") + value("gauge_allowance") >= value("full_at"):
        last = values[given[0]]
        last.faults.add(
            last.node,
            "nothing_usable",
            f"{given[0]} {show(last.node.text)}, with which a full cylinder is at change-over already",
            "change_over_at and gauge_allowance together below full_at",
            "check the pressures and their units",
        )


def _merged(defaults: Policy, values: Mapping[str, _Value], name: str | None) -> Policy:
    changed = {
        key: found for key, found in values.items() if found.value != getattr(defaults, policy_rows()[key].field)
    }
    return defaults._replace(
        name=name,
        overrides=tuple(changed),
        sources={**defaults.sources, **{key: found.source for key, found in changed.items()}},
        **{policy_rows()[key].field: found.value for key, found in changed.items()},
    )
