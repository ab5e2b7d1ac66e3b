"""The supply and the cylinder that a reading names, or what is wrong with the name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.afterwards.gauges_read import labels_of
from planner.model import Supply, Trip
from planner.profile.faults import LISTED, listed_names
from planner.profile.fields import Fields
from planner.text.spelling import same_letters, slip
from planner.text.text_file import one_line, show


@dataclass(frozen=True, slots=True)
class Named:
    """The supply and the cylinder that a reading means."""

    supply: Supply
    label: str | None


def named(trip: Trip, fields: Fields) -> Named | None:
    """The supply and cylinder of a mapping; None where neither is given, or one is wrong and told."""
    supply_name, label = fields.text("supply"), fields.text("cylinder")
    if supply_name is None and label is None:
        return None
    gauged = {name: supply for name, supply in trip.supplies.items() if supply.kind in ("cylinders", "manifold")}
    if supply_name is not None and supply_name not in gauged:
        _unknown_supply(trip, fields, supply_name, gauged)
        return None
    candidates = gauged if supply_name is None else {supply_name: gauged[supply_name]}
    if label is None:
        labels = labels_of(gauged[supply_name or ""])
        return Named(gauged[supply_name or ""], labels[0] if len(labels) == 1 else None)
    found = [Named(supply, whole) for supply in candidates.values() if (whole := _label(supply, label))]
    if not found:
        known = list(dict.fromkeys(one for supply in candidates.values() for one in labels_of(supply)))
        meant = same_letters(label, known)
        where = "the trip" if supply_name is None else f"supply {show(supply_name)}"
        fields.add(
            "cylinder",
            "cylinder_unknown",
            f"cylinder {show(label)}, which {where} does not have",
            f"one of its cylinders: {listed_names(known) or 'none'}",
            "read its label again; one that joined on the way goes into the profile first"
            if meant is None
            else f"write {show(meant)}, or add the cylinder to the profile",
        )
        return None
    if len(found) > 1:
        names = [each.supply.name for each in found[:LISTED]]
        fix = " or ".join(show(f"supply: {name}") for name in names)
        fields.add(
            "cylinder",
            "supply_needed",
            f"cylinder {show(label)}, which {' and '.join(map(one_line, names))} both have",
            "the supply beside the label",
            f"add {fix}",
        )
        return None
    return found[0]


def _unknown_supply(trip: Trip, fields: Fields, name: str, gauged: Mapping[str, Supply]) -> None:
    if name in trip.supplies:
        fields.add(
            "supply",
            "no_gauge",
            f"supply {show(name)}, which has no cylinders with gauges",
            f"one of {listed_names(gauged) or 'none'}",
            "take this reading out",
        )
        return
    meant = slip(name, gauged)
    fix = "check the name" if meant is None else f"write {show(meant)}"
    fields.add("supply", "supply_unknown", f"supply {show(name)}", f"one of {listed_names(gauged) or 'none'}", fix)


def change_to(fields: Fields, known: Named | None) -> str | None:
    """The label that `change_to` names: another cylinder of the same supply."""
    label = fields.text("change_to")
    if label is None or known is None:
        return None
    whole = _label(known.supply, label)
    if whole is None or whole == known.label:
        others = [other for other in labels_of(known.supply) if other != known.label]
        meant = same_letters(label, others)
        found = f"change_to {show(label)}, which is no other cylinder of supply {show(known.supply.name)}"
        fix = "read its label again" if meant is None else f"write {show(meant)}"
        fields.add("change_to", "cylinder_unknown", found, f"one of {listed_names(others) or 'none'}", fix)
        return None
    return whole


def _label(supply: Supply, label: str) -> str | None:
    """The label by which a plan knows what a reading calls a cylinder; any cylinder of a manifold stands for all."""
    labels = labels_of(supply)
    if label in labels:
        return label
    if supply.kind == "manifold" and any(cylinder.label == label for cylinder in supply.cylinders):
        return labels[0]
    return None
