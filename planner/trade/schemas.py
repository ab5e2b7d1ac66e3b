"""The JSON Schemas of the profile language, with the names that stand in tables put in.

What an editor is given says more than what a profile is held against: the sizes of the catalogue, too, since the
program itself has more to say of an unknown size than that it is not in a list.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from typing import Any, Final

from planner.package_file import package_text
from planner.trade.catalog import sizes
from planner.trade.policy_table import acceptable_names, must_hold_names

NAMES: Final = ("profile", "policy", "store", "own_lines", "readings")

_FILLED: Final = {"what_ifs": must_hold_names, "acceptable": acceptable_names}
"""By the word after `x-names` in a schema, the names that are allowed there."""

_FOR_EDITORS: Final = {"sizes": lambda: list(sizes())}
"""By the word after `x-editor`, the names that an editor offers there."""


@cache
def schema(name: str) -> dict[str, Any]:
    """One of the schemas: `profile`, `policy`, `store`, `own_lines` or `readings`. It is not to be changed."""
    return _loaded(name, _fill)


def _loaded(name: str, fill: Callable[[dict[str, Any]], dict[str, Any]]) -> dict[str, Any]:
    """A schema with its names filled in, and the keys that it has from another: those of a policy, in a profile."""
    loaded: dict[str, Any] = json.loads(package_text(f"trade/schema/{name}.schema.json"), object_hook=fill)
    for part in loaded["properties"].values():
        if "x-keys-of" in part:
            part["properties"] |= _loaded(part.pop("x-keys-of"), fill)["properties"]
    return loaded


def _fill(part: dict[str, Any]) -> dict[str, Any]:
    names = part.pop("x-names", None)
    part.pop("x-editor", None)
    return part if names is None else {**part, "enum": list(_FILLED[names]())}


def _fill_for_editors(part: dict[str, Any]) -> dict[str, Any]:
    names = part.pop("x-editor", None)
    return _fill(part) if names is None else {**_fill(part), "enum": list(_FOR_EDITORS[names]())}


def schema_text(name: str) -> str:
    """The same as text, for editors, with the codes of the cylinder sizes."""
    return json.dumps(_loaded(name, _fill_for_editors), indent=2, ensure_ascii=False) + "\n"
