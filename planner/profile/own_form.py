"""What the request form of a service offers, as its policy says."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from planner.model import OwnForm
from planner.profile.cylinders import read_size
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.text.source import Node
from planner.text.text_file import show

MOST_LEGS: Final = 8
"""Rows of the form."""


def read_own_form(fields: Fields, before: OwnForm) -> OwnForm:
    """What `form` of a policy says; a list that it leaves out is the one of `before`."""
    node = fields.get("form")
    if node is None:
        return before
    form = Fields(fields.faults, node, "form")
    legs = tuple(item.text.strip() for item in form.items("legs"))
    for item in list(form.items("legs"))[MOST_LEGS : MOST_LEGS + 1]:
        found, allowed = f"{len(legs)} usual legs", f"at most {MOST_LEGS}, the rows of the form"
        form.faults.add(item, "too_many_legs", found, allowed, "take out what is least usual")
    return OwnForm(
        sizes=_once(form, "sizes", _code) or before.sizes,
        devices=_once(form, "devices", _word) or before.devices,
        outlets=_once(form, "outlets", _word) or before.outlets,
        legs=legs or before.legs,
    )


def _once(form: Fields, key: str, value_of: Callable[[Faults, Node], str | None]) -> tuple[str, ...]:
    """The values of a list, each once; a second one is told."""
    found: list[str] = []
    for item in form.items(key):
        value = value_of(form.faults, item)
        if value in found:
            form.faults.add(item, "named_twice", f"{show(item.text)} twice", "each once", "take one out")
        elif value is not None:
            found.append(value)
    return tuple(found)


def _code(faults: Faults, node: Node) -> str | None:
    size = read_size(faults, node)
    return None if size is None else size.code


def _word(_: Faults, node: Node) -> str:
    return node.text.strip()
