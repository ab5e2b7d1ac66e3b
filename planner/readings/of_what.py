"""Readings of what is no cylinder: a line for each, and of which of several it is."""

from __future__ import annotations

from collections.abc import Sequence

from planner.profile.faults import listed_names
from planner.profile.fields import Fields
from planner.text.text_file import show


def alone(fields: Fields, key: str, others: Sequence[str], allowed: str) -> None:
    """Tells of every other reading that stands in the same mapping as that of `key`."""
    for other in others:
        if fields.given(other):
            fields.add(other, "two_ways", f"{other} beside {key}", allowed, "write a line of its own for each")


def of_which(fields: Fields, key: str, known: Sequence[str], read: str, kind: str) -> str | None:
    """The name under `key`, or the only one known; None where it is none or not clear, which is told.

    `read`: what was read, as in `battery`. `kind`: what has one, as in `device on a battery`.
    """
    name, names, noun = fields.text(key), listed_names(known), kind.partition(" ")[0]
    if name is None and len(known) > 1:
        fields.missing(key, f"which {noun} it is: {names}", f"add `{key}:` with its name")
        return None
    if name is not None and name not in known:
        found = f"{read} of {show(name)}, which is no {kind}"
        fields.add(key, f"{key}_unknown", found, names, f"name the {noun}: {names}")
        return None
    return name or known[0]
