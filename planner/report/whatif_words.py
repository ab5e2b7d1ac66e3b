"""What-ifs as sentences, and short enough for a column: what is supposed to happen, and what then happens."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from planner import figures
from planner.go.whatifs.registry import PAIRED, base, kind
from planner.go.whatifs.registry import title as short_title
from planner.naming import called
from planner.report.words import leg_number, leg_text, moment, whatif_title
from planner.results import Plan, WhatIf

ONLY_ONE: Final = "ONLY ONE CYLINDER: if it fails, no oxygen at once"
"""What is said of a supply with one cylinder, in place of a failure at minute 0."""


def whatif_condition(plan: Plan, whatif: WhatIf) -> str:
    """What is supposed to happen: `Ventilator fails (at the worst minute, 23 min after departure)`."""
    if whatif.name == "vehicle_supply_lost":
        return _vehicle_lost(plan, whatif)
    of = kind(base(whatif.name))
    told = [] if of.detail is None else [of.detail(plan.trip, whatif)]
    told += [_worst(plan, whatif)] if of.at_the_worst else []
    if whatif.name.endswith(PAIRED) and whatif.cylinder is not None:
        told.append(f"{called(whatif.cylinder)} lost at departure")
    return f"{whatif_title(whatif)} ({', '.join(told)})"


def _worst(plan: Plan, whatif: WhatIf) -> str:
    when = moment(plan, whatif.from_min)
    return f"at the worst minute, {'that is ' if when == 'at departure' else ''}{when}"


def _vehicle_lost(plan: Plan, whatif: WhatIf) -> str:
    lost = whatif.lost_supply or whatif.supply
    if lost == whatif.supply:
        return f"Vehicle supply {lost} lost, and no backup is named"
    return f"Vehicle supply {lost} lost, {whatif.supply} carries on ({_worst(plan, whatif)})"


def whatif_outcome(plan: Plan, whatif: WhatIf) -> str:
    """What then happens: oxygen lasts so long past the end, or RUNS OUT (or nothing fits) at a minute in a leg."""
    if not whatif.holds:
        if whatif.runs_out_min is None:
            return f"does NOT hold on {whatif.supply}"
        return f"{whatif.supply} {'has ' if misfit_ends_it(whatif) else ''}{_ends(plan, whatif, whatif.runs_out_min)}"
    gas = plan.trip.supplies[whatif.supply].gas
    if whatif.minutes_to_spare is None:
        return f"{gas} on {whatif.supply} lasts to the end"
    return f"{gas} on {whatif.supply} lasts {_past_the_end(whatif, 'past the end')}, reserve and spare spent"


def _past_the_end(whatif: WhatIf, words: str) -> str:
    """`57 min past the end at 15 L/min`."""
    flow = whatif.last_flow_l_per_min
    rate = "" if flow is None else f" at {figures.flow_up(flow)}"
    return f"{to_spare(whatif)} {words}{rate}"


def whatif_verdict(plan: Plan, whatif: WhatIf) -> str:
    """Whether it holds, beside a column with the supply: `holds 57 min past the end`, or `FAILS: RUNS OUT ...`."""
    if not whatif.holds:
        return "FAILS" if whatif.runs_out_min is None else f"FAILS: {_ends(plan, whatif, whatif.runs_out_min)}"
    return "holds" if whatif.minutes_to_spare is None else f"holds {to_spare(whatif)} past the end"


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


def only_one(plan: Plan, whatif: WhatIf) -> bool:
    """True where a supply has one cylinder and nothing asks that it may be lost: a fact, and no failure of the plan."""
    if whatif.name != "cylinder_lost" or whatif.holds or whatif.must_hold:
        return False
    return len(plan.supplies[whatif.supply].cylinders) == 1


def whatif_case(plan: Plan, whatif: WhatIf) -> str:
    """What is supposed to happen, short enough for a column: `Ventilator fails (worst at 23 min)`."""
    title = short_title(plan.trip, whatif)
    if kind(base(whatif.name)).at_the_worst:
        late = figures.steps_down(whatif.from_min, 1.0) > 0
        return f"{title} (worst at {figures.minutes_down(whatif.from_min) if late else 'start'})"
    return title


def whatif_result(plan: Plan, whatif: WhatIf) -> str:
    """What then happens, short enough for a column of how long it lasts past the end: `57 min more at 15 L/min`."""
    if whatif.holds and whatif.minutes_to_spare is None:
        return "to the end"
    if whatif.holds:
        return _past_the_end(whatif, "more")
    if whatif.runs_out_min is None:
        return "does NOT hold"
    if only_one(plan, whatif):
        return ONLY_ONE
    clock = figures.clock_down(plan.trip.departs, whatif.runs_out_min, narrow=True)
    number = leg_number(plan, whatif.runs_out_leg)
    where = _where(plan, whatif, f"leg {number}" if number else whatif.runs_out_leg)
    where = where.replace("while waiting for a wall outlet on arrival", "after arrival")
    text = f"{ending(whatif)} at {figures.minutes_down(whatif.runs_out_min)}{f' ({clock})' if clock else ''}"
    return f"{text}, {where}" if where else text


def to_spare(whatif: WhatIf) -> str:
    """Minutes past the end at the last flow as it is printed; a dash where there are none to tell."""
    flow = whatif.last_flow_l_per_min
    if flow is None or whatif.minutes_to_spare is None:
        return figures.minutes_down_or_none(whatif.minutes_to_spare)
    return figures.minutes_at(whatif.minutes_to_spare * flow, flow)


def whatif_sentence(plan: Plan, whatif: WhatIf) -> str:
    """Condition and outcome in one sentence."""
    return f"{whatif_condition(plan, whatif)}: {whatif_outcome(plan, whatif)}."


def whatifs_by_weight(whatifs: Iterable[WhatIf]) -> tuple[WhatIf, ...]:
    """Failing ones first (those that must hold before the others), then those that must hold, then the rest."""
    return tuple(sorted(whatifs, key=lambda whatif: (whatif.holds, not whatif.must_hold)))
