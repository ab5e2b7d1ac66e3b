"""Litres in each cylinder, by the real gas and by the hand method, for the calculation sheet."""

from __future__ import annotations

from planner import figures
from planner.constants import FACTOR_GAUGE_PSI, KPA_PER_PSI, REFERENCE_TEMPERATURE_DEGC
from planner.go.by_gauge import density_kg_per_m3
from planner.model import Cylinder, Policy
from planner.report.blocks import Block, Figure, Section, Text
from planner.results import CylinderPlan, Plan

EQUATION_OF_STATE = "Schmidt and Wagner, Fluid Phase Equilibria 1985;19:175 (equation of state for oxygen)"
EQUATION_OF_AIR = "Lemmon and others, J Phys Chem Ref Data 2000;29:331 (equation of state for air)"
HAND_SOURCE = "respiratory care textbooks: litres = (gauge - change-over) x factor"
FORMULA = "V x (rho(p + 101.325 kPa, T) - rho(101.325 kPa, T)) / rho_ref"
USABLE_RULE = "each cylinder on its own; warmth and cold never count as gas"


def gas_section(plan: Plan) -> Section:
    """Contents, residual, usable litres and the hand method for every cylinder on hand.

    Water capacity and residual stand once for cylinders that share them.
    """
    blocks: list[Block] = []
    shared: dict[tuple[str, ...], str] = {}
    why: dict[str, None] = {}
    for name, supply in plan.supplies.items():
        for item in supply.cylinders:
            blocks += _cylinder(name, item, plan.trip.policy, shared)
            why.update(dict.fromkeys(hand_reasons(item)))
    if not blocks:
        return Section("Litres in each cylinder", ())
    gases = dict.fromkeys(item.cylinder.counted_as for supply in plan.supplies.values() for item in supply.cylinders)
    intro = " ".join(_intro(gas) for gas in gases)
    differs = f"Where the hand method differs it is because {'; and '.join(why)}. The planner's figure is the one used."
    check = "A second person works the hand method again with a pencil, and initials the box."
    return Section("Litres in each cylinder", (Text(intro), *blocks, Text(differs), Text(check)))


def _intro(gas: str) -> str:
    """The formula of contents of a gas, its reference density and its source."""
    reference = figures.worked(density_kg_per_m3(0.0, REFERENCE_TEMPERATURE_DEGC, gas), 4)
    if gas == "air":
        return f"Of AIR rho is the density of dry air, rho_ref = {reference}. Source: {EQUATION_OF_AIR}."
    return (
        f"Contents = {FORMULA}; V water capacity, rho density of oxygen in kg/m3 at an absolute pressure and "
        f"temperature, rho_ref that at 21.1 °C and 101.325 kPa = {reference}. Source: {EQUATION_OF_STATE}."
    )


def _cylinder(supply: str, item: CylinderPlan, policy: Policy, shared: dict[tuple[str, ...], str]) -> list[Block]:
    cylinder, unit = item.cylinder, policy.pressure_unit
    change = policy.change_over_at_kpa
    gauge = max(0.0, cylinder.gauge_kpa - policy.gauge_allowance_kpa)
    shown = figures.gauge_read(cylinder.gauge_kpa, unit)
    if policy.gauge_allowance_kpa:
        shown += f" less the allowance of {figures.gauge_read(policy.gauge_allowance_kpa, unit)}"
    warm, cold = figures.temperature(item.read_degc), figures.temperature(item.cold_degc)
    usable = f"{figures.worked(item.contents_l)} - {figures.worked(item.residual_l)}"
    residual = Figure(
        f"Left in it at change-over, {figures.gauge_read(change, unit)}, {cold}",
        "",
        _numbers(cylinder, change, item.cold_degc),
        f"{figures.worked(item.residual_l)} L",
        policy.sources.get("change_over_at", ""),
    )
    mine = f"{supply} {cylinder.label}"
    capacity = _water_capacity(cylinder)
    like = {
        figure.label: shared.setdefault((figure.label, figure.numbers, figure.result, figure.source), mine)
        for figure in (capacity, residual)
    }
    heading = f"Supply {supply}, cylinder {cylinder.label}"
    for what, figure in (("water capacity", capacity), ("what is left in it", residual)):
        if like[figure.label] != mine:
            heading += f"; {what} {figure.result}, as of {like[figure.label]}"
    contents = Figure(
        f"Contents at {shown}, {warm}",
        "",
        _numbers(cylinder, gauge, item.read_degc),
        f"{figures.worked(item.contents_l)} L",
    )
    return [
        Text(heading, strong=True),
        *(figure for figure in (capacity, contents, residual) if like.get(figure.label, mine) == mine),
        Figure("Usable", "contents - left in it, never below 0", usable, figures.supply_l(item.usable_l), USABLE_RULE),
        _hand(supply, item, policy),
    ]


def _numbers(cylinder: Cylinder, gauge_kpa: float, degc: float) -> str:
    gas = cylinder.counted_as
    full, empty = (
        figures.worked(density_kg_per_m3(gauge_kpa, degc, gas), 3),
        figures.worked(density_kg_per_m3(0.0, degc, gas), 3),
    )
    reference = figures.worked(density_kg_per_m3(0.0, REFERENCE_TEMPERATURE_DEGC, gas), 4)
    return f"{figures.worked(cylinder.water_capacity_l, 4)} x ({full} - {empty}) / {reference}"


def _water_capacity(cylinder: Cylinder) -> Figure:
    """Water capacity and where it is from: the cylinder's own label, the factor of its size, or the catalogue."""
    from planner.trade.catalog import find_size

    result = f"{figures.worked(cylinder.water_capacity_l, 4)} L"
    size = None if cylinder.size is None else find_size(cylinder.size, cylinder.gas)
    if cylinder.label_contents is not None:
        source = "the cylinder's own label"
        return Figure("Water capacity V", "such that contents are as labelled", cylinder.label_contents, result, source)
    if size is None:
        return Figure("Water capacity V", "as given", "", result, "the profile")
    if size.gas == "air":
        return Figure("Water capacity V", f"of the shell of a {size.code}", "", result, size.source)
    if size.known_by == "factor":
        full = cylinder.factor_l_per_psi * FACTOR_GAUGE_PSI
        numbers = f"{figures.plain(cylinder.factor_l_per_psi)} x 2200 = {figures.worked(full, 1)} L"
        rule = "such that contents(2200 psi, 21.1 °C) = K x 2200"
        return Figure("Water capacity V", rule, numbers, result, size.source)
    if size.known_by == "contents":
        full_text = f"{figures.plain(size.contents_l, 1)} L at {figures.plain(size.filling_gauge_kpa, 0)} kPa"
        numbers = f"{full_text} and {figures.temperature(size.filling_degc)}"
        rule = f"such that a full {size.code} holds its contents"
        return Figure("Water capacity V", rule, numbers, result, size.source)
    return Figure("Water capacity V", f"of a {size.code}", "", result, size.source)


def _hand(supply: str, item: CylinderPlan, policy: Policy) -> Figure:
    cylinder = item.cylinder
    gauge, change = cylinder.gauge_kpa / KPA_PER_PSI, policy.change_over_at_kpa / KPA_PER_PSI
    allowance = policy.gauge_allowance_kpa / KPA_PER_PSI
    less = f" - {figures.plain(allowance, 1)}" if allowance else ""
    drop = f"({figures.plain(gauge, 1)}{less} - {figures.plain(change, 1)}) psi"
    return Figure(
        label="By the hand method",
        formula="(gauge - change-over) x factor",
        numbers=f"{drop} x {figures.factor(cylinder.factor_l_per_psi)}",
        result=f"{figures.worked(item.hand_usable_l)} L",
        source=HAND_SOURCE,
        note=hand_difference(item),
        check=f"hand.{supply}.{cylinder.label}",
    )


def hand_difference(item: CylinderPlan) -> str:
    """By how much the hand method differs from the planner's figure."""
    difference = item.hand_usable_l - item.usable_l
    if item.usable_l <= 0.0 and item.hand_usable_l <= 0.0:
        return "Both give nothing usable."
    text = f"The hand method gives {figures.worked(abs(difference))} L {'more' if difference > 0 else 'less'}"
    if item.usable_l > 0.0:
        text += f" ({figures.plain(100.0 * abs(difference) / item.usable_l, 1)} % of the planner's figure)"
    return f"{text}."


def hand_reasons(item: CylinderPlan) -> tuple[str, ...]:
    """Why the hand method differs for a cylinder."""
    gas = item.cylinder.counted_as
    why = [f"{gas} is not an ideal gas, so a psi is not worth the same number of litres at every pressure"]
    if item.read_degc > REFERENCE_TEMPERATURE_DEGC:
        why.append(
            f"the gas was read warm, at {figures.temperature(item.read_degc)}, where less gas shows the same gauge"
        )
    if item.cold_degc < REFERENCE_TEMPERATURE_DEGC:
        why.append(f"at {figures.temperature(item.cold_degc)} more is left behind at the change-over gauge")
    return tuple(why)
