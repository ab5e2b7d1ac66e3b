"""What-ifs as sentences, and short enough for a column: what is supposed to happen, and what then happens."""

from __future__ import annotations

from collections.abc import Iterable

from planner import figures
from planner.flow.devices import is_blend
from planner.report.words import leg_number, leg_text, moment, whatif_title
from planner.results import Plan, WhatIf

FROM_WORST_MINUTE = ("ventilator_fails", "conserver_fails", "concentrator_fails", "vehicle_supply_lost")
"""The what-ifs that begin at the worst minute; the others change the trip from departure."""


def whatif_condition(plan: Plan, whatif: WhatIf) -> str:
    """What is supposed to happen: `Ventilator fails (at the worst minute, 23 min after departure)`."""
    if whatif.name == "vehicle_supply_lost":
        return _vehicle_lost(plan, whatif)
    detail = {
        "longest_times": "delays added",
        "settings_rise": f"from departure, {_rise(plan)}",
        "cylinder_lost": _lost(plan, whatif),
        "no_wall_on_arrival": f"{figures.minutes_up(plan.trip.policy.handover_time_min)} more at the last flow",
        "gauge_reads_high": "every one by 100 psi, or 2.5 % of its scale if more",
        "inspired_oxygen_kept": "on each leg with a cabin altitude",
    }.get(whatif.name)
    return f"{whatif_title(whatif)} ({detail or _worst(plan, whatif)})"


def _rise(plan: Plan) -> str:
    """How far settings rise: to the device that one names for it, else a blend to 100 % oxygen."""
    used = [use.device for leg in plan.trip.legs for use in leg.uses]
    named = any(device.may_rise_to is not None for device in used)
    blends = any(device.may_rise_to is None and is_blend(device) for device in used)
    if not named:
        return "blends at 100 % oxygen"
    return "as far as the trip names" + (", other blends at 100 % oxygen" if blends else "")


def _lost(plan: Plan, whatif: WhatIf) -> str:
    """When a cylinder is lost, and which ones are tried where not all carry the same legs."""
    supply = plan.supplies[whatif.supply].supply
    kinds = {(supply.outlets_of(cylinder), cylinder.magnet_safe) for cylinder in supply.cylinders}
    tried = ", the largest of each kind in turn, as outlets or marks for the magnet differ"
    return "at departure" + (tried if len(kinds) > 1 and supply.kind == "cylinders" else "")


def _worst(plan: Plan, whatif: WhatIf) -> str:
    when = moment(plan, whatif.from_min)
    return f"at the worst minute, {'that is ' if when == 'at departure' else ''}{when}"


def _vehicle_lost(plan: Plan, whatif: WhatIf) -> str:
    lost = whatif.lost_supply or whatif.supply
    if lost == whatif.supply:
        return f"Vehicle supply {lost} lost, and no backup is named"
    return f"Vehicle supply {lost} lost, {whatif.supply} carries on ({_worst(plan, whatif)})"


def whatif_outcome(plan: Plan, whatif: WhatIf) -> str:
    """What then happens: oxygen lasts, with minutes to spare, or RUNS OUT (or nothing fits) at a minute in a leg."""
    if not whatif.holds:
        if whatif.runs_out_min is None:
            return f"does NOT hold on {whatif.supply}"
        return f"{whatif.supply} {'has ' if misfit_ends_it(whatif) else ''}{_ends(plan, whatif, whatif.runs_out_min)}"
    text = f"oxygen on {whatif.supply} lasts to the end"
    if whatif.minutes_to_spare is None:
        return text
    text += f", {figures.minutes_down(whatif.minutes_to_spare)} to spare"
    flow = last_flow_l_per_min(whatif)
    return text if flow is None else f"{text} at {figures.flow_up(flow)}"


def whatif_verdict(plan: Plan, whatif: WhatIf) -> str:
    """Whether it holds, beside a column that names the supply: `holds, 57 min to spare`, or `FAILS: RUNS OUT ...`."""
    if not whatif.holds:
        return "FAILS" if whatif.runs_out_min is None else f"FAILS: {_ends(plan, whatif, whatif.runs_out_min)}"
    spare = whatif.minutes_to_spare
    return "holds" if spare is None else f"holds, {figures.minutes_down(spare)} to spare"


def _ends(plan: Plan, whatif: WhatIf, runs_out_min: float) -> str:
    where = _where(plan, whatif, whatif.runs_out_leg and leg_text(plan, whatif.runs_out_leg))
    text = f"{ending(whatif)} {moment(plan, runs_out_min)}"
    return f"{text}, {where}" if where else text


def misfit_ends_it(whatif: WhatIf) -> bool:
    """True where litres enough are left, and none of them in what fits: by its outlets, or for the magnet room."""
    return not whatif.holds and whatif.short_l == 0.0


def ending(whatif: WhatIf) -> str:
    """What ends a what-if that does not hold: `RUNS OUT`, or `NOTHING LEFT THAT FITS` where oxygen is left."""
    return "NOTHING LEFT THAT FITS" if misfit_ends_it(whatif) else "RUNS OUT"


def _where(plan: Plan, whatif: WhatIf, leg: str | None) -> str:
    """`in leg 3 (Road)`, or the wait for a wall outlet after the last leg; empty where no leg is known."""
    waiting = whatif.runs_out_min is not None and whatif.runs_out_min > plan.trip.total_min
    if whatif.name == "no_wall_on_arrival" and waiting:
        return "while waiting for a wall outlet on arrival"
    return f"in {leg}" if leg else ""


def whatif_case(plan: Plan, whatif: WhatIf) -> str:
    """What is supposed to happen, short enough for a column: `Ventilator fails (worst at 23 min)`."""
    title = whatif_title(whatif) if whatif.lost_supply is None else f"{whatif.lost_supply} lost"
    if whatif.name in FROM_WORST_MINUTE:
        late = figures.steps_down(whatif.from_min, 1.0) > 0
        return f"{title} (worst at {figures.minutes_down(whatif.from_min) if late else 'start'})"
    if whatif.name == "no_wall_on_arrival":
        return f"No wall outlet for {figures.minutes_up(plan.trip.policy.handover_time_min)}"
    return title


def whatif_result(plan: Plan, whatif: WhatIf) -> str:
    """What then happens, short enough for a column: `lasts, 57 min to spare at 15 L/min`."""
    if whatif.holds and whatif.minutes_to_spare is None:
        return "lasts to the end"
    if whatif.holds and whatif.minutes_to_spare is not None:
        flow = last_flow_l_per_min(whatif)
        rate = "" if flow is None else f" at {figures.flow_up(flow)}"
        return f"lasts, {figures.minutes_down(whatif.minutes_to_spare)} to spare{rate}"
    if whatif.runs_out_min is None:
        return "does NOT hold"
    clock = figures.clock_or_none(plan.trip.departs, whatif.runs_out_min)
    number = leg_number(plan, whatif.runs_out_leg)
    where = _where(plan, whatif, f"leg {number}" if number else whatif.runs_out_leg)
    where = where.replace("while waiting for a wall outlet on arrival", "after arrival")
    text = f"{ending(whatif)} at {figures.minutes_down(whatif.runs_out_min)}{f' ({clock})' if clock else ''}"
    return f"{text}, {where}" if where else text


def last_flow_l_per_min(whatif: WhatIf) -> float | None:
    """The last flow of a what-if, L/min: litres left / minutes to spare; None where that cannot be said."""
    if not whatif.litres_left or not whatif.minutes_to_spare or whatif.minutes_to_spare < 0:
        return None
    return whatif.litres_left / whatif.minutes_to_spare


def whatif_sentence(plan: Plan, whatif: WhatIf) -> str:
    """Condition and outcome in one sentence."""
    return f"{whatif_condition(plan, whatif)}: {whatif_outcome(plan, whatif)}."


def whatifs_by_weight(whatifs: Iterable[WhatIf]) -> tuple[WhatIf, ...]:
    """Failing ones first (those that must hold before the others), then those that must hold, then the rest."""
    return tuple(sorted(whatifs, key=lambda whatif: (whatif.holds, not whatif.must_hold)))
