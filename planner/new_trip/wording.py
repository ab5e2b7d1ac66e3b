"""Values as text of a profile: in one line, plain where that is safe, in quotes where it is not."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from planner.text.node import Node

_PLAIN = re.compile(r"(?:\.{0,2}/|[^\W_]|[-+](?=[0-9]))(?:[\w ./%°+()'-]|:(?=[^\s,]))*(?<! )")
_WORDS: Final = frozenset({"true", "false", "null", "yes", "no", "on", "off"})
"""Words that other readers of YAML take for something else than text."""


def scalar(text: str) -> str:
    """A value that stands for itself: a quantity, a code, `true`.

    >>> scalar("2 L/min"), scalar("a, b")
    ('2 L/min', '"a, b"')
    """
    if _PLAIN.fullmatch(text):
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def free(text: str) -> str:
    """A text that somebody chose, such as the name of a place: never to be taken for a word of YAML.

    >>> free("no"), free("Ward 7: bed 3")
    ('"no"', '"Ward 7: bed 3"')
    """
    return f'"{text}"' if text.casefold() in _WORDS else scalar(text)


def mapping(pairs: Iterable[tuple[str, str]]) -> str:
    """A map in braces of keys and values that are written already: `{use: neb, for: 10 min}`."""
    return "{" + ", ".join(f"{key}: {value}" for key, value in pairs) + "}"


def sequence(items: Iterable[str]) -> str:
    """A list in brackets of values that are written already."""
    return f"[{', '.join(items)}]"


def written(node: Node) -> str:
    """A value of any kind in one line."""
    if node.kind == "map":
        return mapping((free(key.text), written(value)) for key, value in node.pairs)
    if node.kind == "list":
        return sequence(written(item) for item in node.items)
    if node.missing:
        return ""
    return free(node.text) if node.quoted else scalar(node.text)
