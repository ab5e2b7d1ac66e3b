"""A quick yes or no: does a plain value conform to one of the program's own schemas?

Knows the keywords of JSON Schema draft 2020-12 that these schemas use and no others, so that a faultless
profile needs no validation library. Where the answer is no, `planner.profile.structure` asks the library why.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

Schema = Mapping[str, Any]

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
    path: tuple[str | int, ...]
    name: str | None


def conforms(value: object, rules: Schema, root: Schema) -> bool:
    """True where a value of dict, list, str, int, float, bool and None conforms to `rules`, a part of `root`.

    Raises KeyError for a keyword that is not known here.
    """
    for keyword, rule in rules.items():
        if keyword not in ANNOTATIONS:
            of_type, holds = _RULES[keyword]
            if _is(value, of_type) and not holds(value, rule, rules, root):
                return False
    return True


def refusals(value: object, rules: Schema) -> Iterator[Refusal]:
    """What a whole schema refuses in a value, in the order in which it is found; loads a library for it."""
    from jsonschema import Draft202012Validator

    for error in Draft202012Validator(dict(rules)).iter_errors(value):
        named = "propertyNames" in error.absolute_schema_path
        within: Any = error.schema
        name = str(error.instance) if named else None
        yield Refusal(str(error.validator), error.validator_value, within, tuple(error.absolute_path), name)


def resolve(rules: Schema, root: Schema) -> Schema:
    """The schema that `rules` points to, with what stands beside the pointer in front; else `rules` itself."""
    return rules if "$ref" not in rules else {**_target(rules, root), **rules}


def _target(rules: Schema, root: Schema) -> Schema:
    target: Schema = root["$defs"][rules["$ref"].rpartition("/")[2]]
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


def _properties(value: dict[str, object], rule: Schema, _rules: Schema, root: Schema) -> bool:
    return all(conforms(value[key], part, root) for key, part in rule.items() if key in value)


def _additional(value: dict[str, object], rule: Any, rules: Schema, root: Schema) -> bool:
    extra = value.keys() - rules.get("properties", {}).keys()
    return not extra if rule is False else all(conforms(value[key], rule, root) for key in extra)


_RULES: dict[str, tuple[str, Callable[[Any, Any, Schema, Schema], bool]]] = {
    "$ref": ("any", lambda value, rule, rules, root: conforms(value, _target(rules, root), root)),
    "type": (
        "any",
        lambda value, rule, rules, root: any(_is(value, name) for name in ([rule] if isinstance(rule, str) else rule)),
    ),
    "enum": ("any", lambda value, rule, rules, root: any(_same(value, other) for other in rule)),
    "const": ("any", lambda value, rule, rules, root: _same(value, rule)),
    "oneOf": ("any", lambda value, rule, rules, root: sum(conforms(value, part, root) for part in rule) == 1),
    "anyOf": ("any", lambda value, rule, rules, root: any(conforms(value, part, root) for part in rule)),
    "not": ("any", lambda value, rule, rules, root: not conforms(value, rule, root)),
    "properties": ("object", _properties),
    "additionalProperties": ("object", _additional),
    "required": ("object", lambda value, rule, rules, root: all(key in value for key in rule)),
    "propertyNames": ("object", lambda value, rule, rules, root: all(conforms(key, rule, root) for key in value)),
    "minProperties": ("object", lambda value, rule, rules, root: len(value) >= rule),
    "items": ("array", lambda value, rule, rules, root: all(conforms(item, rule, root) for item in value)),
    "minItems": ("array", lambda value, rule, rules, root: len(value) >= rule),
    "maxLength": ("string", lambda value, rule, rules, root: len(value) <= rule),
    "pattern": ("string", lambda value, rule, rules, root: _compiled(rule).search(value) is not None),
    "minimum": ("number", lambda value, rule, rules, root: value >= rule),
    "maximum": ("number", lambda value, rule, rules, root: value <= rule),
}
"""By keyword the type of the values that it judges, and what it asks of them."""

KEYWORDS = frozenset(_RULES)
"""Keywords that are judged."""
