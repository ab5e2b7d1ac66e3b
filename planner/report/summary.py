"""The summary of a plan for the screen: plain text, as wide as the screen, the verdict first.

It leads with go or no-go and why, then gives need against what is counted, the cylinders in their order, what the
gauges should show, the what-ifs, cautions and counts. No colour carries meaning.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from planner import figures
from planner.findings.common import magnet_mark
from planner.report import whatif_words, words
from planner.report.card.settings import settings
from planner.report.change_gauge import expected_at, expected_gauge, least_at
from planner.report.gases import for_paper
from planner.report.onward import onward_lines
from planner.report.screen import printable, short, table, wrap
from planner.results import Checkpoint, CylinderPlan, Order, Plan, SupplyPlan, WhatIf

IN_TABLE = "what_if_fails"
"""The code of cautions that the table of what-ifs already shows."""
ACCEPTED = "accepted"
"""The code of cautions that the head of a go by decision already tells."""
WHAT_IF_HEAD = ("What if", "(! must hold)", "Supply", "Lasts past the end,\nreserve and spare spent")
SAFE_TOGETHER = " Start at least: all may read so low at once; below one of them, plan again."


def summary(plan: Plan, issued: datetime | None = None) -> str:
    """The summary as text with a line break at its end; by `issued` it knows whether readings are too old by now."""
    plan = for_paper(plan)
    parts = (
        _head(plan, issued),
        _needs(plan),
        _cylinders(plan),
        _checkpoints(plan),
        _whatifs(plan),
        _findings(plan),
        _foot(),
    )
    lines = [line for part in parts if part for line in ("", *part)][1:]
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


def _head(plan: Plan, issued: datetime | None) -> list[str]:
    trip = plan.trip
    setting = words.SETTINGS.get(trip.setting, trip.setting)
    facts = [trip.name]
    if trip.reference:
        facts.append(f"ref {trip.reference}")
    facts.append(setting if trip.setting_given else f"{setting} (assumed, no setting given)")
    facts.append(f"{figures.minutes_up(trip.total_min)} planned")
    if trip.departs:
        facts.append(f"{'departs' if trip.onward is None else 'from'} {figures.date_time(trip.departs)}")
    lines = wrap(words.headline(plan, issued), "", "    ")
    for line in onward_lines(plan):
        lines += wrap(line, "  ")
    lines += _reasons(words.reasons(plan))
    for number, text in enumerate(words.decisions(plan), start=1):
        lines += wrap(words.sentence(text), f"{number:>3}. ")
    lines += wrap(", ".join(facts), "Trip: ")
    for change in trip.changes:
        lines += wrap(change, "Changed for this plan: ")
    for one in settings(plan):
        legs = f", {one.legs}" if one.legs else ""
        lines += wrap(f"{one.name}: {one.set} ({one.draws}){legs}", "  ", "    ")
    for name, battery in plan.batteries.items():
        if battery.have_min is not None and battery.on_battery_min > 0.0:
            have, off_mains = figures.minutes_down(battery.have_min), figures.minutes_up(battery.on_battery_min)
            lines += wrap(f"{name}: batteries {have}, {off_mains} off the mains at the longest", "  ", "    ")
    return lines


def _reasons(reasons: Sequence[words.Reason]) -> list[str]:
    """The reasons by number; neighbours with one and the same fix share its line."""
    lines: list[str] = []
    first = 1
    for number, reason in enumerate(reasons, start=1):
        lines += wrap(words.sentence(reason.text), f"{number:>3}. ")
        if number < len(reasons) and reasons[number].fix == reason.fix:
            continue
        if reason.fix:
            for_all = f" for {first} to {number}" if first < number else ""
            lines += wrap(words.sentence(reason.fix), f"     Fix{for_all}: ", " " * 10)
        first = number + 1
    return lines


def _needs(plan: Plan) -> list[str]:
    rows, aside = [], []
    for name, supply in plan.supplies.items():
        if supply.supply.kind == "pipeline":
            used = (
                f"{figures.need_l(supply.need.planned_l)} planned" if supply.need.planned_l else "not used in the plan"
            )
            aside += wrap(f"{name}: pipeline, {used}; it does not run out and is not credited.", "  ")
            continue
        rows.append(
            (
                name,
                figures.need_l(supply.need.planned_l),
                figures.need_l(supply.need.reserve_l),
                figures.need_l(supply.need.required_l),
                figures.supply_l_or_none(supply.usable_l),
                _spare(supply),
                figures.supply_l_or_none(supply.serving_without_spare_l),
                _margin(supply),
            )
        )
        aside += _aside(name, supply)
    head = ("Supply", "Planned", "+\nreserve", "=\nREQUIRED", "Usable", "-\nspare", "=\nCOUNTED", "Margin")
    listed = table(head, rows, frozenset(range(1, 7)), shrink=(0, 7)) if rows else []
    return [*listed, *aside, *_counts(plan)]


def _spare(supply: SupplyPlan) -> str:
    if supply.supply.fixed:
        return "fixed"
    if supply.usable_l is None or supply.usable_without_spare_l is None:
        return figures.NONE
    return figures.spare_l(supply.usable_l, supply.usable_without_spare_l)


def _aside(name: str, supply: SupplyPlan) -> list[str]:
    have, kept = supply.serving_without_spare_l, supply.usable_without_spare_l
    if supply.supply.kind == "sizes":
        return wrap(f"{name}: still to be drawn, so nothing is credited yet.", "  ")
    if have is not None and kept is not None and have < kept - 0.5:
        return wrap(f"{name}: COUNTED leaves out cylinders whose outlets carry none of its legs.", "  ")
    return []


def _margin(supply: SupplyPlan) -> str:
    have = supply.serving_without_spare_l
    return figures.NONE if have is None else words.margin(have, supply.need.required_l)


def _counts(plan: Plan) -> list[str]:
    texts = []
    for name, supply in plan.supplies.items():
        for full in supply.full_cylinders:
            if full.count == 0:
                continue
            if full.count is None:
                texts.append(f"{short(name, 24)} {full.size}: NONE WOULD DO")
                continue
            more = [] if full.mass_kg is None else [figures.mass_up(full.mass_kg)]
            more += [mark] if (mark := magnet_mark(plan.trip, name)) else []
            told = f" ({', '.join(more)})" if more else ""
            texts.append(f"{short(name, 24)} {full.count} x {full.size}{told}")
    return wrap("; ".join(texts) + ".", "  Full cylinders that would do (with spare): ", "    ") if texts else []


def _cylinders(plan: Plan) -> list[str]:
    unit = plan.trip.policy.pressure_unit
    rows, changes = [], []
    for name, supply in plan.supplies.items():
        held = {item.cylinder.label: item for item in supply.cylinders}
        turns = [(turn.cylinder, turn.gauge_start_kpa, _turn(plan, name, turn)) for turn in supply.order]
        turns += [(item.cylinder.label, item.cylinder.gauge_kpa, _rest(item)) for item in supply.unused]
        for number, (label, gauge_kpa, use) in enumerate(turns, start=1):
            item = held.get(label)
            rows.append(
                (
                    name,
                    f"{number}. {label}",
                    figures.NONE if item is None else _size(item),
                    figures.NONE if item is None else figures.supply_l(item.usable_l),
                    expected_gauge(plan, name, label, gauge_kpa),
                    figures.gauge_to_start(None if item is None else item.start_at_least_kpa, unit),
                    *use,
                )
            )
        for change in supply.change_overs:
            changes += wrap(words.change_sentence(plan, change), "  > ")
    head = ("Supply", "Order", "Size\nor label", "Usable", "Gauge", "Start\nat least", "In use,\nmin", "Then")
    return [*table(head, rows, frozenset({3, 4, 5, 7}), shrink=(0, 1, 2, 6)), *changes] if rows else []


def _turn(plan: Plan, supply: str, turn: Order) -> tuple[str, str]:
    """From when to when a cylinder is in use, and what its gauge then shows."""
    if turn.to_min <= turn.from_min:
        return "not used", figures.NONE
    minutes = f"{figures.steps_down(turn.from_min, 1.0)} to {figures.steps_down(turn.to_min, 1.0)}"
    return minutes, expected_gauge(plan, supply, turn.cylinder, turn.gauge_end_kpa)


def _rest(item: CylinderPlan) -> tuple[str, str]:
    if not item.serves:
        return "left out: its outlets do not fit", figures.NONE
    return "standby" if item.usable_l > 0.0 else "not used", figures.NONE


def _size(item: CylinderPlan) -> str:
    return item.cylinder.label_contents or item.cylinder.size or figures.NONE


def _checkpoints(plan: Plan) -> list[str]:
    """One line a leg and supply: what the gauge should show at its start and at its end."""
    pairs: dict[tuple[int, str], dict[str, Checkpoint]] = {}
    for point in plan.checkpoints:
        pairs.setdefault((point.leg_index, point.supply), {})[point.at] = point
    rows = [_leg_row(plan, pair["start"], pair["end"]) for pair in pairs.values() if len(pair) == 2]
    head = ["Leg", "Ends,\nmin", "Clock", "Source", "Start", "End", "Least", "Left,\nmin"]
    if plan.trip.departs is None:
        for row in (head, *rows):
            del row[2]
    size = len(head)
    if not rows:
        return []
    lines = table(head, rows, frozenset({1, *range(size - 4, size)}), shrink=(0, size - 5))
    still = [str(number) for number, leg in enumerate(plan.trip.legs, start=1) if leg.no_change]
    if all(point.gauge_kpa is None for point in plan.checkpoints):
        return lines
    note = "Gauges at the start and end of each leg; below the least one at its end, act."
    if any(len(supply.cylinders) > 1 and supply.supply.kind != "manifold" for supply in plan.supplies.values()):
        note += SAFE_TOGETHER
    return lines + wrap(f"{note} No change of cylinder in leg {', '.join(still)}." if still else note, "  ")


def _leg_row(plan: Plan, start: Checkpoint, end: Checkpoint) -> list[str]:
    cylinders = " > ".join(dict.fromkeys(label for label in (start.cylinder, end.cylinder) if label))
    return [
        f"{end.leg_index + 1} {end.leg}",
        figures.minutes_down(end.minute),
        figures.clock_down(plan.trip.departs, end.minute, narrow=True),
        f"{end.supply} {cylinders}".strip(),
        expected_at(plan, start),
        expected_at(plan, end),
        least_at(plan, end),
        figures.NONE if end.minutes_left is None else str(figures.steps_down(end.minutes_left, 1.0)),
    ]


def _whatifs(plan: Plan) -> list[str]:
    """What-ifs, the smallest delay that breaks the plan, and of a go until when to turn back or divert."""
    rows = [
        (
            f"{'!' if whatif.must_hold else ' '} {_mark(plan, whatif)}",
            whatif_words.whatif_case(plan, whatif),
            whatif.supply,
            whatif_words.whatif_result(plan, whatif),
        )
        for whatif in whatif_words.whatifs_by_weight(plan.whatifs)
    ]
    lines = table(WHAT_IF_HEAD, rows, shrink=(1, 2, 3)) if rows else []
    enough = [delay for delay in plan.breaking_delays if plan.supplies[delay.supply].runs_out_min is None]
    tightest = min(enough, key=lambda delay: delay.minutes, default=None)
    lines += wrap(words.breaking_delay_sentence(tightest), "  ") if tightest else []
    for sentence in words.choices(plan) if plan.go else ():
        lines += wrap(sentence, "  ")
    return lines


def _mark(plan: Plan, whatif: WhatIf) -> str:
    if whatif_words.only_one(plan, whatif):
        return "note"
    return "ok" if whatif.holds else "FAILS"


def _findings(plan: Plan) -> list[str]:
    lines: list[str] = []
    above = (IN_TABLE, ACCEPTED) if plan.by_decision else (IN_TABLE,)
    shown = [finding for finding in words.findings_at(plan, "caution") if finding.code not in above]
    failing = (row for row in plan.whatifs if not row.holds and not row.must_hold)
    if any(not whatif_words.only_one(plan, row) for row in failing):
        lines += wrap(
            "CAUTION: a what-if that FAILS above without ! does not stop the trip; be ready for it.", "", "  "
        )
    for finding in shown:
        lines += wrap(words.finding_sentence(finding), "", "  ")
    for finding in words.findings_at(plan, "note"):
        lines += wrap(words.sentence(finding.message), "Note: ", "  ")
    return lines


def _foot() -> list[str]:
    return wrap(" ".join(words.PLANNING_AID))
