"""What one of the program's own schemas refuses in a plain value.

Knows the keywords of JSON Schema draft 2020-12 that these schemas use and no others: they are few, a faultless profile
is judged in a millisecond, and a faulty one waits for no library. The tests hold every answer against jsonschema.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

Schema: TypeAlias = Mapping[str, Any]
Step: TypeAlias = str | int

ANNOTATIONS = frozenset(
    {"$schema", "$id", "$defs", "title", "description", "examples", "x-called", "x-fix", "x-quantity"}
)
"""Keywords that judge nothing."""

_PYTHON_TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "number": (int, float),
    "integer": (int,),
    "any": (object,),
}


class Refusal(NamedTuple):
    """One thing that a schema refuses: the keyword and its value, the schema that holds it, and the place.

    `name` is the key that is refused where a name was judged and not a value.
    """

    keyword: str
    rule: Any
    rules: Schema
    path: tuple[Step, ...]
    name: str | None


class _Part(NamedTuple):
    """A value within a value, the schema that judges it, and the step to it; `name` where it is a key."""

    value: Any
    rules: Schema
    steps: tuple[Step, ...] = ()
    name: str | None = None


def conforms(value: object, rules: Schema, root: Schema) -> bool:
    """True where a value of dict, list, str, int, float, bool and None conforms to `rules`, a part of `root`.

    Raises KeyError for a keyword that is not known here.
    """
    return next(refusals(value, rules, root), None) is None


def refusals(
    value: object, rules: Schema, root: Schema, path: tuple[Step, ...] = (), name: str | None = None
) -> Iterator[Refusal]:
    """What `rules` refuse in a value, in the order of the schema; raises as `conforms`. `path` leads to the value."""
    for keyword, rule in rules.items():
        if keyword in ANNOTATIONS:
            continue
        if keyword in _WITHIN and rule is not False:
            for part in _WITHIN[keyword](value, rule, rules, root):
                yield from refusals(
                    part.value, part.rules, root, path + part.steps, name if part.name is None else part.name
                )
        else:
            kind, holds = _HOLDS[keyword]
            if _is(value, kind) and not holds(value, rule, rules, root):
                yield Refusal(keyword, rule, rules, path, name)


def resolve(rules: Schema, root: Schema) -> Schema:
    """The schema that `rules` points to, with what stands beside the pointer in front; else `rules` itself."""
    return rules if "$ref" not in rules else {**_target(rules["$ref"], root), **rules}


def _target(pointer: str, root: Schema) -> Schema:
    target: Schema = root["$defs"][pointer.rpartition("/")[2]]
    return target


@lru_cache(maxsize=64)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


def _is(value: object, name: str) -> bool:
    if isinstance(value, bool):
        return name in ("boolean", "any")
    if name == "integer" and isinstance(value, float):
        return value.is_integer()
    return isinstance(value, _PYTHON_TYPES[name])


def _same(value: object, other: object) -> bool:
    return value == other and isinstance(value, bool) == isinstance(other, bool)


def _extra(value: object, rules: Schema) -> list[str]:
    """The keys of a value that its schema does not name."""
    return [key for key in value if key not in rules.get("properties", ())] if isinstance(value, dict) else []


_WITHIN: dict[str, Callable[[Any, Any, Schema, Schema], Iterator[_Part]]] = {
    "$ref": lambda value, rule, rules, root: iter([_Part(value, _target(rule, root))]),
    "properties": lambda value, rule, rules, root: (
        _Part(value[key], part, (key,)) for key, part in rule.items() if isinstance(value, dict) and key in value
    ),
    "additionalProperties": lambda value, rule, rules, root: (
        _Part(value[key], rule, (key,)) for key in _extra(value, rules)
    ),
    "propertyNames": lambda value, rule, rules, root: (
        _Part(key, rule, (), key) for key in (value if isinstance(value, dict) else ())
    ),
    "items": lambda value, rule, rules, root: (
        _Part(item, rule, (place,)) for place, item in enumerate(value if isinstance(value, list) else ())
    ),
}
"""What a keyword has other schemas judge."""

_HOLDS: dict[str, tuple[str, Callable[[Any, Any, Schema, Schema], bool]]] = {
    "type": (
        "any",
        lambda value, rule, rules, root: any(_is(value, name) for name in ([rule] if isinstance(rule, str) else rule)),
    ),
    "enum": ("any", lambda value, rule, rules, root: any(_same(value, other) for other in rule)),
    "const": ("any", lambda value, rule, rules, root: _same(value, rule)),
    "oneOf": ("any", lambda value, rule, rules, root: sum(conforms(value, part, root) for part in rule) == 1),
    "anyOf": ("any", lambda value, rule, rules, root: any(conforms(value, part, root) for part in rule)),
    "not": ("any", lambda value, rule, rules, root: not conforms(value, rule, root)),
    "additionalProperties": ("object", lambda value, rule, rules, root: not _extra(value, rules)),
    "required": ("object", lambda value, rule, rules, root: all(key in value for key in rule)),
    "minProperties": ("object", lambda value, rule, rules, root: len(value) >= rule),
    "minItems": ("array", lambda value, rule, rules, root: len(value) >= rule),
    "maxLength": ("string", lambda value, rule, rules, root: len(value) <= rule),
    "pattern": ("string", lambda value, rule, rules, root: _compiled(rule).search(value) is not None),
    "minimum": ("number", lambda value, rule, rules, root: value >= rule),
    "maximum": ("number", lambda value, rule, rules, root: value <= rule),
}
"""What a keyword asks of values of one type."""

KEYWORDS = frozenset({*_WITHIN, *_HOLDS})
"""Keywords that are judged."""
