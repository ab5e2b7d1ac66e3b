"""What the supplies of a trip must not share or confuse: one cylinder on two of them, air in place of oxygen."""

from __future__ import annotations

from collections.abc import Mapping

from planner.model import Supply
from planner.profile.faults import listed_names
from planner.profile.fields import Fields
from planner.text.source import Node
from planner.text.text_file import show


def tell_listed_twice(root: Fields, supplies: Mapping[str, Supply]) -> None:
    """A problem for each cylinder that two supplies list: it serves once, and a card must tell the two apart.

    Vehicles may each call their own cylinder the same, and supplies may share one list to choose from.
    """
    seen: dict[str, tuple[str, str, Node]] = {}
    for name, value in root.entries("supplies"):
        for key in ("cylinders", "store"):
            there = value.get(key)
            for item in there.items if there is not None and there.kind == "list" else ():
                label = item.get("label")
                if label is None or not label.text.strip():
                    continue
                first = seen.setdefault(label.text.strip(), (name.text, key, label))
                shared = key == first[1] == "store" and (label.line, label.column) == (first[2].line, first[2].column)
                both_fixed = supplies[name.text].fixed and supplies[first[0]].fixed
                if first[0] != name.text and not shared and not both_fixed:
                    root.faults.add(
                        label,
                        "listed_twice",
                        f"cylinder {show(label.text.strip())} on supply {show(name.text)}, "
                        f"which supply {show(first[0])} lists in line {first[2].line}",
                        "each cylinder on one supply",
                        "take it out of one of them, or write the label of the other cylinder",
                    )


def tell_backups(root: Fields, supplies: Mapping[str, Supply]) -> None:
    """A backup carries oxygen on; air is never a backup, and has none: what a blend does without it is a what-if."""
    for name, value in root.entries("supplies"):
        node, supply = value.get("backup"), supplies[name.text]
        other = supplies.get(supply.backup or "")
        if node is None or other is None:
            continue
        if supply.gas == "air":
            found, allowed = f"backup on supply {show(name.text)}, which holds air", "no backup for air"
            fix = "take `backup` out: the plan shows what the blends draw without air (the what-if air_lost)"
            root.faults.add(node, "of_no_use", found, allowed, fix)
        elif other.gas == "air":
            oxygen = listed_names(
                each.name for each in supplies.values() if each.gas == "oxygen" and each is not supply
            )
            found = f"backup {show(node.text.strip())}, which holds air"
            root.faults.add(
                node, "wrong_gas", found, f"a supply of oxygen: {oxygen or 'none yet'}", "name a supply of oxygen"
            )
