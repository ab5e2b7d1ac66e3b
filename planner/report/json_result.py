"""The result of a plan as JSON, format 1: what other programs rely on.

Numbers are unrounded, pressures in psi gauge as indicated, times in minutes from departure; what does not
apply is null. Names and meanings of format 1 stay as they are; a change of either is a new format.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from planner.go.vessel import unit_of
from planner.model import Trip
from planner.problems import Finding
from planner.report.fields import fields, finding_result, psi
from planner.report.whatif_words import whatif_sentence, whatifs_by_weight
from planner.report.words import breaking_delay_sentence, sentence, turn_back_sentence
from planner.results import Checkpoint, HandsOn, Plan, Source, SupplyPlan

FORMAT = 1


def json_line(plan: Plan) -> str:
    """The result as one line of JSON without a line break, in ASCII.

    Raises ValueError where a figure is not finite: such a result must not be handed on.
    """
    return json.dumps(result(plan), allow_nan=False)


def result(plan: Plan) -> dict[str, Any]:
    """The result as plain dictionaries and lists, in the order of the format."""
    return {
        "format": FORMAT,
        "trip": plan.trip.name,
        "setting": plan.trip.setting,
        "verdict": plan.verdict,
        "revision": _revision(plan.trip),
        "supplies": {name: _supply(supply) for name, supply in plan.supplies.items()},
        "checkpoints": [_point(point) for point in plan.checkpoints],
        "between": [_point(each.check, each.number) for each in plan.between],
        "changes": [_change(hands) for hands in plan.changes],
        "batteries": {
            name: {
                **battery._asdict(),
                "checks": [
                    {"min": one.minute, "leg": one.leg or None, "left_min": one.left_min, "least_min": one.least_min}
                    for one in plan.battery_checks
                    if one.device == name
                ],
            }
            for name, battery in plan.batteries.items()
        },
        "whatifs": [
            {
                **fields(
                    whatif,
                    *("name", "supply", "must_hold", "holds", "from_min", "runs_out_min", "runs_out_leg"),
                    *("minutes_to_spare", "last_flow_l_per_min", "ends_min"),
                ),
                "case": fields(whatif, "cylinder", "device", "patient"),
            }
            for whatif in plan.whatifs
        ],
        "breaking_delays": [
            fields(delay, "leg", "supply", "minutes", "into_reserve_min") for delay in plan.breaking_delays
        ],
        "turn_backs": [window._asdict() for window in plan.turn_backs],
        "accepted": [
            fields(decision, "what", "by", "why", "supply", "at_most_l", "not_before_min")
            for decision in plan.trip.accepted
        ],
        "findings": [finding_result(finding) for finding in (*plan.findings, *_said(plan))],
    }


def _point(check: Checkpoint, number: int | None = None) -> dict[str, Any]:
    """A checkpoint; with its `number` in the leg, a reading between two of them, which tells of no minutes left."""
    leak = check.leak
    told = {
        "min": check.minute,
        **fields(check, "leg", "at"),
        "number": number,
        **fields(check, "supply", "cylinder"),
        "gauge_psi": psi(check.gauge_kpa),
        **fields(check, "minutes_left", "cylinder_minutes_left"),
        "least_gauge_psi": psi(check.least_gauge_kpa),
        "leak_gauge_psi": None if leak is None else psi(leak.gauge_kpa),
        "leak_fall_psi_per_min": None if leak is None else psi(leak.fall_kpa_per_min),
        **fields(check, "flow_l_per_min", "litres_left", "amount_kg", "least_amount_kg"),
    }
    for name in ("number",) if number is None else ("at", "minutes_left", "cylinder_minutes_left", "litres_left"):
        del told[name]
    return told


def _change(hands: HandsOn) -> dict[str, Any]:
    """A change on the way as acts in the order in which hands do them; `at_start`: before the leg begins."""
    return {
        "min": hands.minute,
        "leg_number": hands.leg_index + 1,
        "at_start": hands.at_start,
        "from": _source(hands.old),
        "to": _source(hands.new),
        "acts": [
            {"do": act.do, **act.at._asdict(), "devices": list(act.devices), "off": act.off} for act in hands.acts
        ],
        "fed_by": list(hands.fed_by),
        "without_gas": list(hands.bare),
    }


def _source(source: Source | None) -> dict[str, str | None] | None:
    return None if source is None else source._asdict()


def _revision(trip: Trip) -> dict[str, Any] | None:
    """Which revision of a trip that was planned again on the way; minutes count from `from_min` of the first plan."""
    onward = trip.onward
    if onward is None:
        return None
    return {
        "number": onward.revision,
        "replaces": onward.replaces,
        "from_min": onward.from_min,
        "leg": onward.leg_name,
        "to_go_min": onward.to_go_min,
        "as_said": onward.told,
        "carried": [
            {
                **fields(each, "supply", "cylinder"),
                "read_psi": psi(each.read_kpa),
                "read_min": each.read_min,
                "gauge_psi": psi(each.gauge_kpa),
            }
            for each in onward.carried
        ],
        "more_l_per_min": dict(onward.more_l_per_min),
        "not_read": list(onward.unread),
        "labels_in_doubt": [{"supply": name, "read": read, "meant": meant} for name, read, meant in onward.labels],
        "less_than_planned": list(onward.less),
        "perhaps_not_on_board": [{"supply": name, "cylinder": label} for name, label in onward.ashore],
    }


def _said(plan: Plan) -> Iterator[Finding]:
    """What-ifs, breaking delays (the smallest first) and windows for turning back, as sentences for people."""
    for whatif in whatifs_by_weight(plan.whatifs):
        fix = "Nothing to mend." if whatif.holds else "See the finding what_if_fails."
        yield Finding("note", "what_if", whatif_sentence(plan, whatif), fix)
    for delay in plan.breaking_delays:
        yield Finding("note", "breaking_delay", sentence(breaking_delay_sentence(delay)), "Nothing to mend.")
    for window in plan.turn_backs:
        yield Finding("note", "turn_back", sentence(turn_back_sentence(plan, window)), "Nothing to mend.")


def _supply(supply: SupplyPlan) -> dict[str, Any]:
    return {
        **fields(supply.need, "planned_l", "reserve_l"),
        "reserve_layers_l": {layer.key: layer.litres for layer in supply.need.layers},
        "required_l": supply.need.required_l,
        **fields(supply, "usable_l", "usable_without_spare_l", "serving_without_spare_l"),
        "peak_flow_l_per_min": supply.need.peak_flow_l_per_min,
        "full_cylinders": [fields(full, "size", "usable_each_l", "count", "mass_kg") for full in supply.full_cylinders],
        "order": [
            {
                **fields(turn, "cylinder", "from_min", "to_min"),
                "gauge_start_psi": psi(turn.gauge_start_kpa),
                "gauge_end_psi": psi(turn.gauge_end_kpa),
            }
            for turn in supply.order
        ],
        "lasts_min": supply.lasts_min,
        "gas": supply.supply.gas,
        "change_at_psi": {one.cylinder.label: psi(one.change_at_kpa) for one in supply.cylinders},
        "amount_unit": None if supply.supply.liquid is None else unit_of(supply.supply.liquid),
        **fields(supply, "departs_with_kg", "start_at_least_kg"),
        "start_at_least_psi": {one.cylinder.label: psi(one.start_at_least_kpa) for one in supply.cylinders},
    }
