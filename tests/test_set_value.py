"""Values of a profile set by their path, as by `--set cart.A.gauge="1900 psi"`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.problems import Problem, ProblemsError
from planner.text.node import Node
from planner.text.source import apply_changes, loads, set_value

REFUSED = Path(__file__).resolve().parent / "refused_changes.txt"


def refused() -> list[tuple[str, str]]:
    """The change and the whole message of each case in refused_changes.txt."""
    cases = re.findall(r"^== (.*)\n(.+)$", REFUSED.read_text(encoding="utf-8"), re.MULTILINE)
    shown = re.compile(r"<U\+([0-9A-F]{4,6})>")
    return [(shown.sub(lambda code: chr(int(code[1], 16)), change), told) for change, told in cases]


def plain(node: Node) -> object:
    """A node as Python would hold it, all scalars as text."""
    if node.kind == "map":
        return {key.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


TRIP = """\
trip: Ward to scanner
policy: policies/road.yaml
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2100 psi}
      - {label: B, size: US-E, gauge: 2050 psi}
  twin:
    cylinders:
      - {label: X, gauge: 1 bar}
      - {label: X, gauge: 2 bar}
  ambulance: {fixed: true}
devices:
  vent: {type: ventilator, rate: 16 /min}
legs:
  - {name: Lift, duration: 5 min, supply: cart, devices: [vent]}
  - {name: Corridor, duration: 7 min, supply: cart, devices: [vent]}
stock:
"""


class TestSetValue:
    @pytest.fixture
    def root(self) -> Node:
        return loads(TRIP, "trip.yaml").root

    @pytest.mark.parametrize(
        ("path", "steps"),
        [
            ("cart.A.gauge", ("supplies", "cart", "cylinders", 0, "gauge")),
            ("cart.B.gauge", ("supplies", "cart", "cylinders", 1, "gauge")),
            ("supplies.cart.B.gauge", ("supplies", "cart", "cylinders", 1, "gauge")),
            ("cart.cylinders[2].gauge", ("supplies", "cart", "cylinders", 1, "gauge")),
            ("cart.cylinders.B.gauge", ("supplies", "cart", "cylinders", 1, "gauge")),
            ("cart.A.temperature", ("supplies", "cart", "cylinders", 0, "temperature")),
            ("cart.coldest", ("supplies", "cart", "coldest")),
            ("cart.A", ("supplies", "cart", "cylinders", 0)),
            ("twin.cylinders[2].gauge", ("supplies", "twin", "cylinders", 1, "gauge")),
            ("devices.vent.rate", ("devices", "vent", "rate")),
            ("legs[2].duration", ("legs", 1, "duration")),
            ("legs.Corridor.duration", ("legs", 1, "duration")),
            ("legs[1].devices[1].for", ("legs", 0, "devices", 0, "for")),
            ("policy.reserve_time", ("policy", "reserve_time")),
            ("stock.limit", ("stock", "limit")),
            ("setting", ("setting",)),
            ("trip", ("trip",)),
        ],
    )
    def test_paths(self, root: Node, path: str, steps: tuple[str | int, ...]) -> None:
        changed = set_value(root, path, " 1900 psi ")
        assert changed.pick(*steps) == Node("scalar", "1900 psi", line=1, column=1, file=f"--set {path}")

    def test_nothing_else_changes(self, root: Node) -> None:
        before = plain(root)
        changed = set_value(root, "cart.A.gauge", "1900 psi")
        assert plain(root) == before
        assert plain(changed) == plain(loads(TRIP.replace("2100 psi", "1900 psi")).root)
        assert changed.pick("legs") is root.pick("legs")

    def test_short_forms_become_long(self, root: Node) -> None:
        changed = set_value(root, "policy.reserve_time", "40 min")
        assert plain(changed.get("policy") or root) == {"file": "policies/road.yaml", "reserve_time": "40 min"}
        changed = set_value(root, "legs[1].devices[1].for", "3 min")
        assert plain(changed.pick("legs", 0, "devices") or root) == [{"use": "vent", "for": "3 min"}]

    def test_a_policy_where_there_was_none(self) -> None:
        changed = set_value(loads("trip: x").root, "policy.reserve_time", "40 min")
        assert plain(changed) == {"trip": "x", "policy": {"reserve_time": "40 min"}}
        assert changed.key("policy") == Node("scalar", "policy", line=1, column=1, file="--set policy.reserve_time")

    def test_a_list_and_quotes(self, root: Node) -> None:
        changed = set_value(root, "policy.must_hold", "[cylinder_lost, ventilator_fails]")
        assert plain(changed.pick("policy", "must_hold") or root) == ["cylinder_lost", "ventilator_fails"]
        assert plain(set_value(root, "trip", '"Bay #3: [x]"').get("trip") or root) == "Bay #3: [x]"

    def test_an_alias_changes_in_one_place_only(self) -> None:
        changed = set_value(loads("devices:\n  a: &x {flow: 1 L/min}\n  b: *x\n").root, "devices.b.flow", "2 L/min")
        assert plain(changed) == {"devices": {"a": {"flow": "1 L/min"}, "b": {"flow": "2 L/min"}}}

    @pytest.mark.parametrize(("change", "told"), refused(), ids=lambda part: ascii(part)[1:-1][:40])
    def test_refused(self, root: Node, change: str, told: str) -> None:
        path, _, value = change.partition(" = ")
        with pytest.raises(ProblemsError) as caught:
            set_value(root, path, value)
        assert str(caught.value) == f"--set {path}:1:1  {told}"

    def test_long_value(self, root: Node) -> None:
        with pytest.raises(ProblemsError) as caught:
            set_value(root, "trip", "x" * 10_001)
        told = "too_long  a value of 10001 letters; allowed: at most 10000. Fix: shorten it."
        assert str(caught.value) == f"--set trip:1:1  {told}"

    def test_several_changes_in_order(self, root: Node) -> None:
        changed = apply_changes(root, ["cart.A.gauge=1900 psi", "cart.B.gauge = 1800 psi", "cart.A.gauge=1850 psi"])
        gauges = [changed.pick("supplies", "cart", "cylinders", place, "gauge") for place in (0, 1)]
        assert [node.text for node in gauges if node is not None] == ["1850 psi", "1800 psi"]
        assert apply_changes(root, []) is root

    def test_every_change_that_cannot_be_made_is_told(self, root: Node) -> None:
        with pytest.raises(ProblemsError) as caught:
            apply_changes(root, ["cart.A.gauge", "=x", "cart.Q.gauge=1 psi", "cart.A.gauge=1900 psi"])
        assert [(problem.file, problem.code) for problem in caught.value.problems] == [
            ("--set =x", "bad_change"),
            ("--set cart.A.gauge", "bad_change"),
            ("--set cart.Q.gauge", "unknown_path"),
        ]
        assert caught.value.problems[1] == Problem(
            "--set cart.A.gauge",
            1,
            1,
            "bad_change",
            "a path without a value",
            'a path, an equals sign and a value, as in cart.A.gauge="1900 psi"',
            "write all three",
        )
