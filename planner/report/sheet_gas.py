"""Litres in each cylinder, by the real gas and by the hand method, for the calculation sheet."""

from __future__ import annotations

from planner.constants import (
    FACTOR_GAUGE_PSI,
    KPA_PER_PSI,
    REFERENCE_TEMPERATURE_DEGC,
    STANDARD_PRESSURE_KPA,
)
from planner.gas.oxygen import density_kg_per_m3
from planner.model import Cylinder, Policy
from planner.report import figures
from planner.report.blocks import Block, Figure, Section, Text
from planner.results import CylinderPlan, Plan

EQUATION_OF_STATE = "Schmidt and Wagner, Fluid Phase Equilibria 1985;19:175 (equation of state for oxygen)"
HAND_SOURCE = "respiratory care textbooks: litres = (gauge - change-over) x factor"
FORMULA = "V x (rho(p + 101.325 kPa, T) - rho(101.325 kPa, T)) / rho_ref"
USABLE_RULE = "each cylinder on its own; warmth and cold never count as gas"


def gas_section(plan: Plan) -> Section:
    """Contents, residual, usable litres and the hand method for every cylinder on hand."""
    blocks: list[Block] = []
    for name, supply in plan.supplies.items():
        for item in supply.cylinders:
            blocks.append(Text(f"Supply {name}, cylinder {item.cylinder.label}", strong=True))
            blocks += _cylinder(item, plan.trip.policy)
    if blocks:
        blocks.insert(
            0,
            Text(
                "V water capacity, rho density of oxygen in kg/m3 at an absolute pressure and temperature, rho_ref "
                f"that at 21.1 °C and 101.325 kPa = {figures.worked(_rho(0.0, REFERENCE_TEMPERATURE_DEGC), 4)}. "
                f"Source: {EQUATION_OF_STATE}."
            ),
        )
    return Section("Litres in each cylinder", tuple(blocks))


def _rho(gauge_kpa: float, degc: float) -> float:
    return density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, degc)


def _cylinder(item: CylinderPlan, policy: Policy) -> list[Block]:
    cylinder, unit = item.cylinder, policy.pressure_unit
    change = policy.change_over_at_kpa
    gauge = max(0.0, cylinder.gauge_kpa - policy.gauge_allowance_kpa)
    shown = figures.gauge_read(cylinder.gauge_kpa, unit)
    if policy.gauge_allowance_kpa:
        shown += f" less the allowance of {figures.gauge_read(policy.gauge_allowance_kpa, unit)}"
    warm, cold = figures.temperature(item.read_degc), figures.temperature(item.cold_degc)
    usable = f"{figures.worked(item.contents_l)} - {figures.worked(item.residual_l)}"
    return [
        _water_capacity(cylinder),
        Figure(
            f"Contents at {shown}, {warm}",
            FORMULA,
            _numbers(cylinder, gauge, item.read_degc),
            f"{figures.worked(item.contents_l)} L",
        ),
        Figure(
            f"Left in it at change-over, {figures.gauge_read(change, unit)}, {cold}",
            FORMULA,
            _numbers(cylinder, change, item.cold_degc),
            f"{figures.worked(item.residual_l)} L",
            policy.sources.get("change_over_at", ""),
        ),
        Figure("Usable", "contents - left in it, never below 0", usable, figures.supply_l(item.usable_l), USABLE_RULE),
        _hand(item, policy),
        Text(hand_difference(item)),
    ]


def _numbers(cylinder: Cylinder, gauge_kpa: float, degc: float) -> str:
    full, empty = figures.worked(_rho(gauge_kpa, degc), 3), figures.worked(_rho(0.0, degc), 3)
    reference = figures.worked(_rho(0.0, REFERENCE_TEMPERATURE_DEGC), 4)
    return f"{figures.worked(cylinder.water_capacity_l, 4)} x ({full} - {empty}) / {reference}"


def _water_capacity(cylinder: Cylinder) -> Figure:
    """Water capacity and where it is from: the cylinder's own label, the factor of its size, or the catalogue."""
    from planner.catalog import find_size

    result = f"{figures.worked(cylinder.water_capacity_l, 4)} L"
    size = None if cylinder.size is None else find_size(cylinder.size)
    if cylinder.label_contents is not None:
        source = "the cylinder's own label"
        return Figure("Water capacity V", "such that contents are as labelled", cylinder.label_contents, result, source)
    if size is None:
        return Figure("Water capacity V", "as given", "", result, "the profile")
    if size.known_by == "factor":
        full = cylinder.factor_l_per_psi * FACTOR_GAUGE_PSI
        numbers = f"contents(2200 psi, 21.1 °C) = {figures.plain(cylinder.factor_l_per_psi)} x 2200 = {full:.1f} L"
        return Figure("Water capacity V", "contents(2200 psi, 21.1 °C) = K x 2200", numbers, result, size.source)
    if size.known_by == "contents":
        full_text = f"{figures.plain(size.contents_l, 1)} L at {figures.plain(size.filling_gauge_kpa, 0)} kPa"
        numbers = f"{full_text} and {figures.temperature(size.filling_degc)}"
        rule = f"such that a full {size.code} holds its contents"
        return Figure("Water capacity V", rule, numbers, result, size.source)
    return Figure("Water capacity V", f"of a {size.code}", "", result, size.source)


def _hand(item: CylinderPlan, policy: Policy) -> Figure:
    cylinder = item.cylinder
    gauge, change = cylinder.gauge_kpa / KPA_PER_PSI, policy.change_over_at_kpa / KPA_PER_PSI
    allowance = policy.gauge_allowance_kpa / KPA_PER_PSI
    less = f" - {figures.plain(allowance, 1)}" if allowance else ""
    drop = f"({figures.plain(gauge, 1)}{less} - {figures.plain(change, 1)}) psi"
    numbers = f"{drop} x {figures.factor(cylinder.factor_l_per_psi)}"
    result = f"{figures.worked(item.hand_usable_l)} L"
    return Figure("By the hand method", "(gauge - change-over) x factor", numbers, result, HAND_SOURCE)


def hand_difference(item: CylinderPlan) -> str:
    """By how much the hand method differs from the planner's figure, and why."""
    difference = item.hand_usable_l - item.usable_l
    if item.usable_l <= 0.0 and item.hand_usable_l <= 0.0:
        return "Both give nothing usable."
    text = f"The hand method gives {figures.worked(abs(difference))} L {'more' if difference > 0 else 'less'}"
    if item.usable_l > 0.0:
        text += f" ({figures.plain(100.0 * abs(difference) / item.usable_l, 1)} % of the planner's figure)"
    why = ["oxygen is not an ideal gas, so a psi is not worth the same number of litres at every pressure"]
    if item.read_degc > REFERENCE_TEMPERATURE_DEGC:
        why.append(
            f"the gas was read warm, at {figures.temperature(item.read_degc)}, where less gas shows the same gauge"
        )
    if item.cold_degc < REFERENCE_TEMPERATURE_DEGC:
        why.append(f"at {figures.temperature(item.cold_degc)} more is left behind at the change-over gauge")
    return f"{text}, because {'; and '.join(why)}. The planner's figure is the one used."
