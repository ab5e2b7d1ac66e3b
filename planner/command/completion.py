"""What the Tab key offers for values: sizes, formats, and the paths of `--set` in the profile on the command line.

Loaded with the options; each answer loads what it needs, and says nothing where a file cannot be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Final

import click

if TYPE_CHECKING:
    from planner.text.node import Node

_Complete = Callable[[click.Context, click.Parameter, str], list[str]]
_PROFILE_OPTIONS: Final = ("trips", "trip", "template")


def sizes(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[str]:
    """Codes of the catalogue, whichever case their beginning is typed in."""
    from planner.trade.catalog import sizes as known

    return [code for code in known() if code.startswith(begun.upper())]


def formats(known: tuple[str, ...]) -> _Complete:
    """One of a few words, or one more behind those with commas."""

    def complete(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[str]:
        before, comma, last = begun.rpartition(",")
        given = before.split(",")
        return [f"{before}{comma}{word}" for word in known if word.startswith(last) and word not in given]

    return complete


def set_paths(context: click.Context, _parameter: click.Parameter, begun: str) -> list[str]:
    """`cart.A.gauge=` and every other path to a value of the profiles that were named before; none behind the `=`."""
    from planner.problems import ProblemsError
    from planner.text.source import load

    found: dict[str, None] = {}
    for path in (*_profiles(context.params), *context.args):
        try:
            root = load(path).root
        except ProblemsError:
            continue
        for key, node in root.pairs:
            inside = node.pairs if key.text == "supplies" else ((key, node),)
            for name, value in inside:
                found |= dict.fromkeys(_paths(value, name.text))
    return [f"{path}=" for path in found if path.startswith(begun)]


def _profiles(given: dict[str, Any]) -> Iterator[str]:
    for name in _PROFILE_OPTIONS:
        value = given.get(name)
        yield from map(str, value if isinstance(value, tuple | list) else [value] if value else [])


def _paths(node: Node, here: str) -> Iterator[str]:
    """The path of every single value: cylinders by their label, other items of lists by their place."""
    if node.kind == "scalar":
        yield here
    for key, value in node.pairs:
        if key.text == "cylinders" and value.kind == "list":
            for item in value.items:
                label = item.get("label")
                if label is not None:
                    yield from _paths(item, f"{here}.{label.text}")
        else:
            yield from _paths(value, f"{here}.{key.text}")
    for place, item in enumerate(node.items, 1):
        yield from _paths(item, f"{here}[{place}]")
