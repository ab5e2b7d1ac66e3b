"""What a schema refuses in a tree, in words of the trade: what stands there, and how to mend it."""

from __future__ import annotations

import re
from typing import Any, Final

from planner.profile.conform import Refusal, Schema
from planner.profile.faults import listed_names
from planner.profile.meant import as_delays, outlet_meant, value_meant
from planner.text.quantity_mends import CURLY
from planner.text.source import Node
from planner.text.text_file import one_line, show

_INTEGER = re.compile(r"-?(?:0|[1-9][0-9]{0,14})", re.ASCII)
_DECIMAL = re.compile(r"-?(?:0|[1-9][0-9]{0,14})\.[0-9]{1,15}", re.ASCII)
_MEANT_TRUE: Final = frozenset({"yes", "on", "y", "true", "1"})
_MEANT_FALSE: Final = frozenset({"no", "off", "n", "false", "0"})


def plain(node: Node) -> Any:
    """The tree as an editor would see it: dict, list, text, whole and decimal numbers, true, false and None."""
    if node.kind == "map":
        return {key.text: plain(value) for key, value in node.pairs}
    if node.kind == "list":
        return [plain(item) for item in node.items]
    text = node.text
    if _INTEGER.fullmatch(text):
        return int(text)
    if _DECIMAL.fullmatch(text):
        return float(text)
    if not node.quoted and text in ("true", "false"):
        return text == "true"
    return None if node.missing else text


def describe(node: Node) -> str:
    """What stands at a node, as a phrase."""
    if node.kind == "map":
        return "a mapping" if node.pairs else "an empty mapping"
    if node.kind == "list":
        return "a list" if node.items else "an empty list"
    return show(node.text) + (" in quotes" if node.quoted else "")


def place_of(path: tuple[str | int, ...]) -> str:
    """The key whose value is wrong, or the item of its list."""
    last = path[-1] if path else ""
    if isinstance(last, int):
        return f"item {last + 1} of {path[-2]}"
    return one_line(last) or ("``" if path else "")


def in_one_line(value: object) -> str:
    """A value in one line, as it would stand in a profile."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {in_one_line(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(in_one_line, value)) + "]"
    return str(value).lower() if isinstance(value, bool) else str(value)


def by_example(rules: Schema) -> str:
    """How to mend what has no other mend: the first example of the schema."""
    return f"write for example `{in_one_line(rules['examples'][0])}`"


def how_to_add(key: str, part: Schema) -> str:
    """How to add a missing key. No figure and no device is put into anybody's mouth."""
    if "enum" in part:
        return f"add `{key}:` with one of {listed_names(map(str, part['enum']))}"
    if "x-quantity" in part:
        return f"add `{key}:` with its value, in a form such as {in_one_line(part['examples'][0])}"
    return f"add for example `{key}: {in_one_line(part['examples'][0])}`"


def written_anew(node: Node, refusal: Refusal) -> str:
    """How to write an outlet or a wait that says it by keys of its own; empty where keys are told one by one."""
    title, keys = refusal.rules.get("title"), node.keys()
    if title == "outlet" and node.kind == "map" and "flowmeter" not in keys:
        words = (text for key, value in node.pairs for text in (key.text, value.text))
        if any(map(outlet_meant, words)):
            return "write the word `high_pressure` alone, without braces or a key"
        return "write `high_pressure`, or `{flowmeter: ...}` with the most that it gives, in a form such as 15 L/min"
    if title == "delay" and len(keys) == 1 and keys[0] not in refusal.rules["properties"]:
        waits = as_delays(keys[0], node.pairs[0][1])
        return "" if waits is None else f"write `{waits[1:-1]}`"
    return ""


def only_meant(node: Node, refusal: Refusal) -> str | None:
    """The one value that can have been meant; None where that cannot be said."""
    rules, text = refusal.rules, node.text.strip(CURLY).strip()
    if node.kind != "scalar" or not text.isprintable():
        return None
    if refusal.path and refusal.path[-1] == "delays":
        return as_delays("wait", node)
    if refusal.path and refusal.path[-1] == "devices" and rules.get("type") == "array":
        return f"[{text}]" if text and not set(text) & set("[]{},:#") else None
    if "enum" in rules:
        return value_meant(text, rules)
    if "const" in rules or rules.get("type") == "boolean":
        yes = rules.get("const", True) is True and text.casefold() in _MEANT_TRUE
        no = "const" not in rules and text.casefold() in _MEANT_FALSE
        return "true" if yes else "false" if no else None
    return outlet_meant(text) if rules.get("title") == "outlet" else None


def how_to_mend(node: Node, refusal: Refusal) -> str:
    """How to mend a value of which nobody can say what was meant."""
    rules = refusal.rules
    if node.missing and "x-quantity" in rules:
        return _as_it_is(refusal)
    if node.kind != "scalar" or node.missing:
        return by_example(rules)
    if "const" in rules:
        key = one_line(str(refusal.path[-1]))
        return f"write `{in_one_line(rules['const'])}`, or leave `{key}` out where it is not so"
    if refusal.keyword == "maxLength":
        return f"write at most {refusal.rule} characters"
    if "enum" in rules:
        fix: str = rules.get("x-fix", "write one of them")
        return fix
    if rules.get("type") == "boolean":
        return "write `true` or `false`"
    if not node.quoted and node.text in ("true", "false"):
        return f'write it in quotes, `"{node.text}"`, if a text is meant'
    return by_example(rules)


def _as_it_is(refusal: Refusal) -> str:
    """How to fill in a quantity that was left blank: no figure is put into anybody's mouth."""
    if refusal.path and refusal.path[-1] == "gauge":
        return "read it with the valve open and gas flowing, and write the number and unit that it shows"
    return f"write its value with its unit, in a form such as {in_one_line(refusal.rules['examples'][0])}"
