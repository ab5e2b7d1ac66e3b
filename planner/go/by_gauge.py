"""What a cylinder on hand would give at another gauge: for tables, nomograms and workings, by the gas as planned."""

from __future__ import annotations

from math import fsum

from planner.constants import STANDARD_PRESSURE_KPA
from planner.gas.contents import EQUATIONS, contents_l
from planner.model import Policy
from planner.results import CylinderPlan, SupplyPlan


def usable_at_l(policy: Policy, supply: SupplyPlan, item: CylinderPlan, gauge_kpa: float) -> float:
    """Litres above change-over at a gauge as indicated, kPa, in a cylinder or in a whole manifold, never negative.

    contents(gauge - allowance, T_read) - contents(change-over, T_cold), of the gas that the supply carries.
    """
    gas = supply.supply.gas
    capacities = [each.cylinder.water_capacity_l for each in supply.cylinders]
    capacity = fsum(capacities) if supply.supply.kind == "manifold" else item.cylinder.water_capacity_l
    read = contents_l(max(0.0, gauge_kpa - policy.gauge_allowance_kpa), item.read_degc, capacity, gas)
    return max(0.0, read - contents_l(policy.change_over_at_kpa, item.cold_degc, capacity, gas))


def density_kg_per_m3(gauge_kpa: float, degc: float, gas: str) -> float:
    """Density of a gas in a cylinder at a gauge pressure, kPa, and a temperature, as a working shows it."""
    return EQUATIONS[gas].density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, degc)
