"""What a word that the profile language does not know can have been meant for.

By the words of the trade beside the schema (`x-called` of a key, common practice, no source) first, then by spelling.
A key is proposed only where its device type has it and the value beside it can be a value of it; another size, device
or name is never proposed by likeness: they are a choice of litres, and likeness knows nothing of litres.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any, NamedTuple

from planner.profile.faults import near
from planner.profile.limits import LIMITS
from planner.text import quantities
from planner.text.source import Node
from planner.text.spelling import letters, slip
from planner.trade.catalog import DeviceType, device_types
from planner.trade.schemas import schema


class Given(NamedTuple):
    """The keys that a mapping has, and the device type that it says."""

    names: Set[str] = frozenset()
    kind: DeviceType | None = None


def given_in(node: Node) -> Given:
    """What stands in a mapping already."""
    return Given(frozenset(node.keys()), device_types().get((node.get("type") or Node("scalar")).text.strip()))


def keys_meant(given: Given, key: Node, value: Node, properties: Mapping[str, Any]) -> tuple[str, ...]:
    """The keys of a mapping that an unknown one can have been meant for, at most one by likeness alone."""
    fitting = [name for name in properties if name not in given.names and can_hold(given, name, value)]
    wanted = letters(key.text)
    same = [name for name in fitting if letters(name) == wanted]
    by_trade = [name for name in fitting if wanted in trade_names(properties[name])]
    if same or by_trade:
        return tuple(same or by_trade)
    known_elsewhere = any(wanted in trade_names(rules) for rules in properties.values())
    meant = None if known_elsewhere else near(key.text, fitting)
    return () if meant is None else (meant,)


def trade_names(rules: Mapping[str, Any]) -> set[str]:
    """What the trade calls a key, in letters; the words beside a choice are those of its values."""
    words = rules.get("x-called", ())
    return set() if isinstance(words, Mapping) else set(map(letters, words))


def value_meant(text: str, rules: Mapping[str, Any]) -> str | None:
    """The choice that a text stands for: by its letters, by what the trade calls it, or with one slip of the hand."""
    wanted = letters(text)
    for value in rules["enum"]:
        if letters(str(value)) == wanted:
            return str(value)
    words_of: Mapping[str, list[str]] = rules.get("x-called", {})
    for value, words in words_of.items():
        if wanted in map(letters, words):
            return value
    return slip(text, map(str, rules["enum"]))


def outlet_meant(text: str) -> str | None:
    """`high_pressure` where a text is what the trade calls such an outlet, as `50 psi`."""
    words: list[str] = schema("profile")["$defs"]["device"]["properties"]["outlet"]["x-called"]["high_pressure"]
    return "high_pressure" if letters(text) in map(letters, ("high_pressure", *words)) else None


def can_hold(given: Given, name: str, value: Node) -> bool:
    """True where a key can stand with such a value: the device's type has it, and the unit is one of its kind."""
    if given.kind is not None and name != "type" and name not in given.kind.keys:
        return False
    limit = LIMITS.get(name)
    if limit is None or value.missing:
        return True
    if value.kind != "scalar":
        return False
    try:
        quantities.parse(value.text, limit.kind)
    except quantities.QuantityError as error:
        return bool(error.mends) or error.code not in ("unit_unknown", "unit_not_wanted", "not_a_number")
    return True


def as_delays(key: str, value: Node) -> str | None:
    """A wait of a leg as the list that the language has for it; None where the value is no single time.

    >>> as_delays("wait", Node("scalar", "15 min"))
    '[{reason: wait, time: 15 min}]'
    """
    if value.kind != "scalar" or value.missing:
        return None
    try:
        quantities.parse(value.text, "duration", above=0)
    except quantities.QuantityError:
        return None
    return f"[{{reason: {key}, time: {value.text.strip()}}}]"
