"""The lines of the cart card that do not count litres: what to hold before leaving, what to do on failure.

Every line is common practice without a published source; the service's own procedure comes first.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner import devices
from planner.report import figures, words
from planner.report.minutes_table import resuscitator_flow_l_per_min
from planner.results import Plan


@dataclass(frozen=True, slots=True)
class Failure:
    """What has failed, and what to do."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Hold:
    """A line to tick before leaving: do not leave while it is open. `key` is stable."""

    key: str
    text: str


def failures(plan: Plan) -> tuple[Failure, ...]:
    """Actions on failure of ventilator or other device, regulator or cylinder, and vehicle supply."""
    used = {use.device.type for leg in plan.trip.legs for use in leg.uses}
    found = []
    if "ventilator" in used:
        found.append(_ventilator(plan))
    if used & {"pulse_conserver", "concentrator"}:
        found.append(_conserver(plan))
    found.append(
        Failure(
            "Regulator or cylinder",
            "Resuscitator, on room air if need be. Shut that valve; next cylinder or spare regulator."
            f"{_outcomes(plan, 'cylinder_lost')}",
        )
    )
    for supply in plan.supplies.values():
        if supply.supply.fixed:
            backup = supply.supply.backup or "the portable supply"
            found.append(
                Failure(
                    f"Vehicle supply ({supply.supply.name})",
                    f"Go over to {backup}, valve open, gauge read; plan again.{_outcomes(plan, 'vehicle_supply_lost')}",
                )
            )
    return tuple(found)


def _ventilator(plan: Plan) -> Failure:
    flow = figures.flow_set(resuscitator_flow_l_per_min(plan))
    return Failure(
        "Ventilator",
        f"By hand: resuscitator at {flow}, flowmeter; plan again.{_outcomes(plan, 'ventilator_fails')}",
    )


def _conserver(plan: Plan) -> Failure:
    wanted = []
    for use in (use for leg in plan.trip.legs for use in leg.uses):
        standby = plan.trip.devices.get(use.device.if_it_fails or "")
        if use.device.type in ("pulse_conserver", "concentrator") and standby is not None:
            flow = figures.flow_up(devices.demand_l_per_min(standby))
            wanted.append(f"{use.device.name}: go to {standby.name} at {flow}")
    outcomes = _outcomes(plan, "conserver_fails") + _outcomes(plan, "concentrator_fails")
    return Failure("Conserver or concentrator", f"{'; '.join(dict.fromkeys(wanted))}.{outcomes}")


def _outcomes(plan: Plan, name: str) -> str:
    """What the what-if says, `cart 57 min to spare, ambulance RUNS OUT 61 min after departure (15:21)`, or nothing."""
    parts = []
    for whatif in plan.whatifs:
        if whatif.name != name:
            continue
        if whatif.holds and whatif.minutes_to_spare is not None:
            parts.append(f"{whatif.supply} {figures.minutes_down(whatif.minutes_to_spare)} to spare")
        elif whatif.holds:
            parts.append(f"{whatif.supply} lasts")
        elif whatif.runs_out_min is not None:
            parts.append(f"{whatif.supply} RUNS OUT {words.moment(plan, whatif.runs_out_min)}")
        else:
            parts.append(f"{whatif.supply} does NOT last")
    return f" Worst case: {', '.join(parts)}." if parts else ""


def holds(plan: Plan) -> tuple[Hold, ...]:
    """The hold lines that fit the cylinders and devices of the trip."""
    cylinders = [item.cylinder for supply in plan.supplies.values() for item in supply.cylinders]
    yoke = any("pin" in (cylinder.connection or "pin").lower() for cylinder in cylinders)
    lines = [
        Hold("gauge", "Gauge read with valve open and gas flowing"),
        Hold("gas", f"Right gas: label says OXYGEN{', pin index 2-5' if yoke else ''}"),
        Hold("key", "Cylinder key or wheel on the cart"),
        Hold("washer", "Sealing washer in place, one to spare" if yoke else "Seals sound, one to spare"),
        Hold("regulator", "Spare regulator on the cart"),
        Hold("resuscitator", "Resuscitator and mask tried on oxygen"),
        Hold("secured", "Cylinders secured, valves reachable"),
        Hold("flow", "Flow measured at the bedside: as planned"),
        Hold("fire", "Valves opened slowly; no oil, grease or flame"),
        Hold("bedding", "No gas flowing into bedding; shut what is idle"),
    ]
    unread = [cylinder.label for cylinder in cylinders if cylinder.verified is not True]
    if unread:
        names = "all cylinders" if len(unread) == len(cylinders) else ", ".join(unread)
        lines.append(Hold("verified", f"Read again, NOT verified: {names}"))
    return tuple(lines)
