"""The JSON Schemas of the profile language, and the quick check that stands in for the library."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from planner.model import Device, Policy
from planner.new_trip.editor_line import BEGINS
from planner.problems import ProblemsError
from planner.profile.conform import ANNOTATIONS, KEYWORDS, conforms, resolve
from planner.profile.limits import LIMITS
from planner.profile.refusal_words import plain
from planner.text.source import Document, load, loads
from planner.trade import catalog
from planner.trade.policy_table import policy_defaults, policy_rows, policy_sources
from planner.trade.schemas import schema, schema_text

TESTS = Path(__file__).parent
NAMES = ("own_lines", "policy", "profile", "store")
PROFILES = sorted((TESTS / "profiles").rglob("*.yaml"))
FAILURES = {"ventilator_fails", "conserver_fails", "concentrator_fails", "device_fails"}
WHATIFS = {
    *FAILURES, *(f"{name}+cylinder_lost" for name in FAILURES), "longest_times", "deterioration", "battery_ends",
    "air_lost", "settings_rise", "cylinder_lost", "vehicle_supply_lost", "no_wall_on_arrival", "gauge_reads_high",
    "inspired_oxygen_kept",
}  # fmt: skip


def parts(rules: Any) -> Iterator[dict[str, Any]]:
    """Every schema within a schema, itself first."""
    yield rules
    for key in ("items", "propertyNames", "not", "additionalProperties"):
        if isinstance(rules.get(key), dict):
            yield from parts(rules[key])
    for key in ("properties", "$defs"):
        for part in rules.get(key, {}).values():
            yield from parts(part)
    for key in ("oneOf", "anyOf"):
        for part in rules.get(key, []):
            yield from parts(part)


def defined(name: str) -> dict[str, Any]:
    """The parts of the profile's schema by name."""
    found: dict[str, Any] = schema("profile")["$defs"][name]
    return found


@pytest.mark.parametrize("name", NAMES)
def test_schema_is_one_of_draft_2020_12(name: str) -> None:
    rules = json.loads(files("planner.trade.schema").joinpath(f"{name}.schema.json").read_text(encoding="utf-8"))
    assert rules["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(rules)


@pytest.mark.parametrize("name", NAMES)
def test_schema_uses_only_keywords_that_the_quick_check_knows(name: str) -> None:
    for part in parts(schema(name)):
        assert set(part) <= KEYWORDS | ANNOTATIONS


@pytest.mark.parametrize("name", NAMES)
def test_whatever_can_be_refused_has_words_for_it(name: str) -> None:
    root = schema(name)
    judged = [resolve(part, root) for part in parts(root) if {"type", "enum", "const"} & set(part)]
    for part in judged:
        assert part["description"]
        assert part["examples"]
        assert part.get("type") != "object" or "required" not in part or part["title"]


@pytest.mark.parametrize("name", NAMES)
def test_examples_conform_to_their_own_schema(name: str) -> None:
    root = schema(name)
    for part in parts(root):
        for example in part.get("examples", []) if part is not root else []:
            assert conforms(example, part, root), f"{example} of {part['description']}"


@pytest.mark.parametrize("name", ["own_lines", "policy", "store"])
def test_schemas_share_their_parts(name: str) -> None:
    own, profile = schema(name), schema("profile")
    for part, rules in own["$defs"].items():
        if part != "line":
            assert rules == profile["$defs"][part]


def test_a_policy_in_a_profile_may_also_name_a_file() -> None:
    inline = schema("profile")["properties"]["policy"]
    assert set(inline["properties"]) - set(schema("policy")["properties"]) == {"file"}
    assert conforms({"file": "road.yaml", "reserve_time": "40 min"}, inline, schema("profile"))
    assert not conforms({"reserve_tme": "40 min"}, inline, schema("profile"))


def test_every_quantity_has_its_limits_of_its_kind() -> None:
    for name in NAMES:
        root = schema(name)
        for part in parts(root):
            for key, rules in part.get("properties", {}).items():
                kind = resolve(rules, root).get("x-quantity")
                if kind not in (None, "label_contents"):
                    assert LIMITS[key].kind == kind, key


def test_settings_of_devices_are_those_of_the_catalogue() -> None:
    device, use = defined("device")["properties"], defined("use")["properties"]
    assert set(device) - {"type"} == set(catalog.settings())
    assert set(use) - {"use", "for", "supply"} == set(catalog.settings())
    assert device["type"]["enum"] == list(catalog.device_types())
    for key, setting in catalog.settings().items():
        rules = resolve(device[key], schema("profile"))
        if setting.kind == "choice":
            assert rules["enum"] == [choice for choice in setting.choices if choice != "none"]
        elif setting.kind not in ("device", "label", "air"):
            assert rules["x-quantity"] == setting.kind
        assert setting.field in set(Device._fields)


def test_every_key_of_a_policy_is_in_the_model_and_in_the_table() -> None:
    assert set(schema("policy")["properties"]) == {*policy_rows(), "name", "own_lines", "history", "form"}
    assert set(policy_sources()) == set(policy_rows())
    beside = {"name", "own_lines", "history", "form", "overrides", "sources"}
    assert {row.field for row in policy_rows().values()} | beside == set(Policy._fields)


def test_what_ifs_are_those_of_the_policies() -> None:
    rules = schema("policy")["properties"]["must_hold"]["items"]
    assert set(rules["enum"]) == WHATIFS
    assert set(policy_defaults("air").must_hold) <= WHATIFS


def readable(path: Path) -> Document | None:
    """A profile as a tree, None where it is no YAML."""
    try:
        return load(path)
    except ProblemsError:
        return None


def same_answer(value: object, name: str) -> bool:
    """True where the quick check and the library agree, which the caller asserts."""
    rules = schema(name)
    return conforms(value, rules, rules) == Draft202012Validator(dict(rules)).is_valid(value)


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_quick_check_agrees_with_the_library_on_every_profile(path: Path) -> None:
    document = readable(path)
    if document is not None:
        for name in NAMES:
            assert same_answer(plain(document.root), name)


_PLAIN = loads(
    """
profile: 1
trip: t
policy: {file: a.yaml, reserve_factor: 1.5, must_hold: [cylinder_lost]}
supplies:
  a: {cylinders: [{label: A, size: US-E, gauge: 1 psi, outlets: [high_pressure, {flowmeter: 1 L/min}], verified: true}]}
  b: {sizes: [US-E, {size: US-D}], fixed: true}
  c: {store: [{label: 1, size: US-E, gauge: 1 psi}], places: 3, prefer: part_used}
  d: {pipeline: true}
devices:
  v: {type: ventilator, fio2: 0.6, minute_volume: 7 L/min, drive: electric}
legs:
  - {name: l, duration: 1 min, supply: a, devices: [v, {use: v, for: 1 min}], delays: [{reason: r, time: 1 min}]}
"""
).root
_TEXTS = [
    "null", "true", "false", "0", "1", "2", "1.0", "0.2", "0.5", "1.5", '""', '" "', '"x"', '"a\\n"', '"a.b"', '"true"',
    '"US-E"', '"high_pressure"', "[]", "{}", '["US-E"]', '{"flowmeter": "1 L/min"}', '{"x": 1}', '{"size": "US-E"}',
    '["cylinder_lost", "cylinder_lost"]', json.dumps("n" * 61), json.dumps("n" * 201),
]  # fmt: skip
_VALUES = st.sampled_from(_TEXTS).map(json.loads)
_KEYS = st.sampled_from(["x", "fixed", "litres", "pipeline", "cylinders", "gauge", "fio2", "name", "by"])


@st.composite
def _altered(draw: st.DrawFn) -> Any:
    """The profile above with a few values, keys or items put in, out or elsewhere."""
    value = json.loads(json.dumps(plain(_PLAIN)))
    for _ in range(draw(st.integers(1, 3))):
        at = value
        while isinstance(at, dict | list) and at:
            key = draw(st.sampled_from(sorted(at) if isinstance(at, dict) else list(range(len(at)))))
            inner = at[key]
            if not isinstance(inner, dict | list) or not inner or draw(st.booleans()):
                what = draw(st.integers(0, 2))
                if what == 0:
                    del at[key]
                elif what == 1 or isinstance(at, list):
                    at[key] = draw(_VALUES)
                else:
                    at[draw(_KEYS)] = draw(_VALUES)
                break
            at = inner
    return value


@given(_altered())
def test_quick_check_agrees_with_the_library_on_altered_profiles(value: Any) -> None:
    for name in NAMES:
        assert same_answer(value, name)


def test_page_of_the_language_names_every_key() -> None:
    page = files("planner.trade.schema").joinpath("README.md").read_text(encoding="utf-8")
    keys = {key for name in NAMES for part in parts(schema(name)) for key in part.get("properties", {})}
    assert sorted(key for key in keys if not re.search(rf"`{key}[`:]", page)) == []


def called(part: object) -> Iterator[tuple[list[str], dict[str, list[str]]]]:
    """Every list of allowed words of a schema with the other words for them."""
    if isinstance(part, dict):
        if isinstance(part.get("x-called"), dict):
            yield part["enum"], part["x-called"]
        for inner in part.values():
            yield from called(inner)


def test_a_word_of_the_trade_stands_for_one_value_that_is_allowed() -> None:
    found = list(called(schema("profile")))
    assert len(found) == 5  # setting, type and outlet of a device, outlet of a use, by
    for allowed, words in found:
        assert set(words) <= set(allowed)
        plain = ["".join(filter(str.isalnum, word.casefold())) for each in words.values() for word in each]
        assert len(set(plain)) == len(plain)
        assert not set(plain) & {value.replace("_", "") for value in allowed}


# For editors


SHIPPED = sorted([*(TESTS.parent / "profiles").rglob("*.yaml"), *(TESTS.parent / "demo").glob("*.yaml")])


@pytest.mark.parametrize("name", [*NAMES, "readings"])
def test_the_schemas_beside_the_profiles_are_those_that_the_command_writes(name: str) -> None:
    """Where this fails: `transport-oxygen schema --write profiles/schema`."""
    shipped = TESTS.parent / "profiles" / "schema" / f"{name}.schema.json"
    assert shipped.read_text(encoding="utf-8") == schema_text(name)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_file_to_start_from_names_its_schema_and_an_editor_finds_no_fault(path: Path) -> None:
    first = path.read_text(encoding="utf-8").split("\n")[0]
    assert first.startswith(BEGINS)
    named = path.parent / first.removeprefix(BEGINS)
    assert named.is_file()
    assert (
        list(Draft202012Validator(json.loads(named.read_text(encoding="utf-8"))).iter_errors(plain(load(path).root)))
        == []
    )


def test_an_editor_is_told_every_size_and_marks_another() -> None:
    rules = json.loads(schema_text("profile"))
    assert rules["$defs"]["size"]["enum"] == list(catalog.sizes())
    assert "enum" not in schema("profile")["$defs"]["size"]
    told = load(TESTS.parent / "profiles" / "ward-to-scan.yaml").root
    value = plain(told)
    value["supplies"]["trolley"]["cylinders"][0]["size"] = "US-X"
    (fault,) = Draft202012Validator(rules).iter_errors(value)
    assert "US-X" in fault.message


@pytest.mark.parametrize("name", [*NAMES, "readings"])
def test_every_key_has_a_description_for_editors(name: str) -> None:
    rules = json.loads(schema_text(name))
    bare = [
        key
        for part in parts(rules)
        for key, rule in part.get("properties", {}).items()
        if "description" not in resolve(rule, rules)
    ]
    assert bare == []
