"""What closing a trip adds to the history: trips whose truth is known come back from `review` as they were.

Litres by hand are factor x fall: 0.28 L/psi for an E cylinder (respiratory care textbooks); the gauges of the random
trips come from the real gas (`planner.gas`, checked in tests/published), the flows and times from the generator.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

import pytest
from click.testing import CliRunner

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.history_file import add, void
from planner.afterwards.history_lines import history_lines, settings_text
from planner.afterwards.logbook import Closing, Entry, LastGauge, Logbook, SettingsChange
from planner.afterwards.review.history import read as read_history
from planner.afterwards.review.review import Review, review
from planner.command.cli import main
from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.model import Device, Listed, Supply, Trip
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.store.journal import ByTrip
from tests import build

DAY = date(2026, 12, 3)
FINE_KPA = 1.0
"""Gauges read to 1 kPa: so little doubt that ratios stand within a hundredth."""

PROFILE = """profile: 1
trip: Bed 7, Mrs Invented
reference: T-99
setting: in_house
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}
devices:
  her mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Bed 7 to scanner, duration: 10 min, by: foot, delays: [{reason: Dr Nobody, time: 3 min}], supply: cart,
     devices: [her mask]}
  - {name: Back, duration: 10 min, supply: cart, devices: [her mask]}
"""
READINGS = """readings: 1
log:
  - {time: 5 min, wait: dr nobody, waited: 5 min}
  - {time: 16 min, cylinder: A, gauge: 1650 psi, leg: 1, at: end}
closed: {ended: 28 min, shut_and_bled: true, last: [{cylinder: A, gauge: 1400 psi}]}
"""


def reviewed(file: Path) -> Review:
    with file.open(encoding="utf-8") as lines:
        return review(read_history([(str(file), lines)]))


def rows(file: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in file.read_text().splitlines()]


def closed_trip(trip: Trip, *entries: Entry, last_psi: float, minute: float, **more: Any) -> Comparison:
    last = LastGauge("cart", "A", last_psi * KPA_PER_PSI, f"{last_psi:g} psi", FINE_KPA, True, 21.1)
    return compare(
        plan(trip), Logbook(entries, Closing(minute, (last,), ended_min=minute, to_the_minute=False, **more))
    )


def mask_trip(*flows: float, minutes: float = 30.0, listed: Listed = Listed()) -> Trip:  # noqa: B008 - frozen
    """Legs on a mask at these flows, on a cylinder whose own label is known."""
    one = build.cylinder("A", 2000)._replace(label_contents="616 L at 2200 psi")
    legs = [
        build.leg(minutes, Device("mask", "simple_mask", flow_l_per_min=flow), name=f"leg {number}")
        for number, flow in enumerate(flows, start=1)
    ]
    made = build.trip([Supply("cart", "cylinders", cylinders=(one,), temperature_degc=21.1)], *legs)
    return made._replace(policy=made.policy._replace(history=listed))


def read(minute: float, psi: float, **more: Any) -> Entry:
    return Entry(minute, "cart", "A", psi * KPA_PER_PSI, f"{psi:g} psi", FINE_KPA, 21.1, to_the_minute=False, **more)


def of_kind(lines: list[dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    return [line for line in lines if line["kind"] == kind]


def test_closings_of_random_trips_come_back_from_review_as_they_were(tmp_path: Path) -> None:
    """Sixty-four trips on one mask: the real share of the flow and the real minutes are drawn, and found again."""
    chance = Random(16)  # noqa: S311 - repeatable, not secret
    file = tmp_path / "history.jsonl"
    shares, times = [], []
    for number in range(64):
        planned_min, flow = chance.uniform(30.0, 40.0), chance.choice((6.0, 8.0))
        share, late = chance.lognormvariate(0.1, 0.15), chance.lognormvariate(0.05, 0.1)
        real_min = planned_min * late
        trip = mask_trip(flow, minutes=planned_min)
        capacity = trip.supplies["cart"].cylinders[0].water_capacity_l
        held = contents.contents_l(2000 * KPA_PER_PSI, 21.1, capacity)

        def gauge_psi(minute: float, held: float = held, used: float = flow * share, v: float = capacity) -> float:
            return contents.gauge_kpa(held - used * minute, 21.1, v) / KPA_PER_PSI

        found = closed_trip(
            trip, read(real_min / 2, gauge_psi(real_min / 2)), last_psi=gauge_psi(real_min), minute=real_min
        )
        add(file, history_lines(found, DAY), ByTrip(f"trip {number}"))
        shares.append(share)
        times.append(late)
    told = reviewed(file)
    assert told.trips == 64
    (mask,) = told.flows
    assert (mask.group.kind, mask.group.setting, mask.limit.trips) == ("simple_mask", "in_house", 64)
    assert mask.limit.median == pytest.approx(median(shares), rel=0.02)
    assert mask.limit.upper == pytest.approx(max(shares), rel=0.15)  # with its doubt
    assert mask.limit.upper is not None
    assert mask.limit.upper >= max(shares)
    (leg,) = told.times
    assert leg.limit.median == pytest.approx(median(times))
    assert leg.limit.upper == pytest.approx(max(times))


def test_one_device_alone_with_the_settings_of_the_plan_carries_its_type_and_the_rest_is_mixed() -> None:
    # 6 L/min for 30 min are 180 L, 643 psi by hand; the second leg at 8 L/min is another device.
    found = closed_trip(mask_trip(6.0, 8.0), read(30.0, 1370.0, leg=0, at="end"), last_psi=600.0, minute=60.0)
    assert [line["type"] for line in of_kind(history_lines(found, DAY), "flow")] == ["simple_mask", "simple_mask"]
    across = closed_trip(mask_trip(6.0, 8.0), read(40.0, 1100.0, leg=1), last_psi=600.0, minute=60.0)
    assert [line["type"] for line in of_kind(history_lines(across, DAY), "flow")] == ["mixed", "simple_mask"]
    change = (SettingsChange("mask", (("flow_l_per_min", 9.0),)),)
    changed = closed_trip(mask_trip(6.0), read(10.0, 1800.0, settings=change), last_psi=1200.0, minute=30.0)
    assert {line["type"] for line in of_kind(history_lines(changed, DAY), "flow")} == {"mixed"}
    flow = closed_trip(mask_trip(6.0), read(10.0, 1800.0, flow_l_per_min=9.0), last_psi=1200.0, minute=30.0)
    assert "mixed" in {line["type"] for line in of_kind(history_lines(flow, DAY), "flow")}


def test_neighbouring_stretches_of_one_device_are_one_line_and_the_doubt_is_that_of_its_ends() -> None:
    found = closed_trip(mask_trip(6.0), *(read(m, 2000 - 21.4 * m) for m in (10.0, 20.0)), last_psi=1358.0, minute=30.0)
    (line,) = of_kind(history_lines(found, DAY), "flow")
    assert (line["min"], line["planned_l"]) == (pytest.approx(30.0), pytest.approx(180.0))
    assert line["used_l"] == pytest.approx(180.0, rel=0.08)  # 642 psi x 0.28 by hand


def test_no_name_and_no_reference_stands_in_a_line_unless_the_policy_lists_it(tmp_path: Path) -> None:
    (tmp_path / "trip.yaml").write_text(PROFILE)
    (tmp_path / "readings.yaml").write_text(READINGS)
    file = tmp_path / "history.jsonl"
    command = ["compare", str(tmp_path / "trip.yaml"), str(tmp_path / "readings.yaml"), "--close", "--history"]
    result = CliRunner().invoke(main, [*command, str(file)])
    assert "HISTORY. 5 lines of trip" in " ".join(result.stdout.split())
    text = file.read_text()
    for word in ("Bed 7", "Mrs", "T-99", "Nobody", "her mask"):
        assert word not in text
    times = of_kind(rows(file), "time")
    # Leg 1: 16 min, 5 of them waiting, 10 planned; leg 2 from 16 to 28; the wait 5 of 3 planned.
    assert [(t.get("leg"), t.get("wait"), t.get("by"), t["planned_min"], t["min"]) for t in times] == [
        ("other", None, "foot", 10.0, 11.0),
        ("other", None, None, 10.0, 12.0),
        (None, "other", None, 3.0, 5.0),
    ]
    listed = PROFILE + "policy: {history: {legs: [Bed 7 to scanner], waits: [dr nobody], devices: [her mask], "
    (tmp_path / "trip.yaml").write_text(listed + "settings: [flow 6 L/min]}}\n")
    CliRunner().invoke(main, [*command, str(tmp_path / "other.jsonl")])
    again = rows(tmp_path / "other.jsonl")
    assert [t.get("leg") or t.get("wait") for t in of_kind(again, "time")] == ["Bed 7 to scanner", "other", "dr nobody"]
    assert [(f["device"], f["settings"]) for f in of_kind(again, "flow")] == [("her mask", "flow 6 L/min")]


def test_the_lists_of_a_policy_are_read_and_held_against_the_schema() -> None:
    trip = parse_trip(PROFILE + "policy: {history: {legs: [Back], waits: [lift]}}\n", "trip.yaml")
    assert trip.policy.history == Listed(legs=("Back",), waits=("lift",))
    assert trip.policy.overrides == ()
    assert settings_text(build.VENTILATOR) == "minute volume 10 L/min, FiO2 0.6"


def test_closing_again_takes_the_place_of_what_stood_there_and_undoing_takes_it_out(tmp_path: Path) -> None:
    file, by = tmp_path / "history.jsonl", ByTrip("T")
    dated = ByTrip("T", departs=datetime(2026, 12, 3, 8))
    first = history_lines(closed_trip(mask_trip(6.0), last_psi=1400.0, minute=30.0), DAY)
    second = history_lines(closed_trip(mask_trip(6.0), last_psi=1300.0, minute=30.0), DAY)
    one = add(file, first, dated)
    assert add(file, first, dated).lines == 0
    before = file.read_bytes()
    two = add(file, second, dated)
    assert two.trip == one.trip
    assert file.read_bytes().startswith(before)  # nothing is ever taken out
    assert reviewed(file).trips == 1
    assert void(file, dated) is not None
    assert rows(file)[-1] == {"history": 1, "trip": one.trip, "kind": "void"}
    assert reviewed(file).trips == 0
    assert void(file, dated) is None
    # Without a departure the very same closing is known again, another one is another trip.
    same = add(file, first, by)
    assert add(file, first, by) == (same.file, same.trip, 0)
    assert add(file, second, by).trip != same.trip


def test_a_line_that_was_cut_short_is_ended_and_nothing_is_lost(tmp_path: Path) -> None:
    file = tmp_path / "history.jsonl"
    lines = history_lines(closed_trip(mask_trip(6.0), last_psi=1400.0, minute=30.0), DAY)
    add(file, lines, ByTrip("one"))
    with file.open("ab") as cut:
        cut.write(b'{"history": 1, "trip": "half')
    add(file, lines, ByTrip("two"))
    assert reviewed(file).trips == 2
    assert file.read_bytes().endswith(b"}\n")


def test_a_closing_that_was_cut_off_before_its_lines_is_made_up_for(tmp_path: Path) -> None:
    file, by = tmp_path / "history.jsonl", ByTrip("one")
    lines = history_lines(closed_trip(mask_trip(6.0), last_psi=1400.0, minute=30.0), DAY)
    known = add(file, lines, by)
    file.unlink()
    journal = file.with_name(file.name + ".journal")
    journal.write_bytes(journal.read_bytes().splitlines(keepends=True)[0])
    assert add(file, lines, by) == known


def test_a_trip_ran_out_where_the_crew_say_so_or_its_cylinders_read_nothing() -> None:
    def said(last_psi: float, **more: Any) -> bool:
        found = closed_trip(mask_trip(6.0), last_psi=last_psi, minute=30.0, **more)
        ran_out: bool = of_kind(history_lines(found, DAY), "trip")[0]["ran_out"]
        return ran_out

    assert said(0.0)
    assert said(900.0, ran_out=True)
    assert not said(900.0)


def test_what_was_not_read_counts_as_planned_and_as_doubt() -> None:
    """Of a store that was read at no known time: from minute 10 on 6 L/min are measured, 60 L before are not."""
    trip = mask_trip(6.0)
    supply = trip.supplies["cart"]
    stored = supply._replace(store=supply.cylinders)
    found = closed_trip(trip._replace(supplies={"cart": stored}), read(10.0, 1786.0), last_psi=1358.0, minute=30.0)
    (line,) = of_kind(history_lines(found, DAY), "trip")
    cart = line["supplies"]["cart"]
    assert cart["used_l"] == pytest.approx(180.0, rel=0.08)
    assert cart["doubt_l"] >= 60.0


def test_history_asks_for_a_closing() -> None:
    result = CliRunner().invoke(main, ["compare", "a.yaml", "b.yaml", "--history", "h.jsonl"])
    assert result.exit_code == 2
    assert "--history without --close" in result.stderr
