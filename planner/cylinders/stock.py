"""What a cylinder holds, what it gives, and what its gauge will show.

    usable = max(0, contents(gauge - allowance, T_read) - contents(change_over_at, T_cold))

T_read is the warmer of the gas temperature at the reading and 21.1 degC, T_cold the coldest of all that is
known and 21.1 degC, so that warmth costs litres and cold earns none. Contents come from the real-gas density of
oxygen, or of air (`planner.gas.contents`). Each cylinder is taken on its own: what is left below change-over in one is
not usable with another.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from planner.constants import KPA_PER_PSI, REFERENCE_TEMPERATURE_DEGC
from planner.flow.outlets import Asks, fits
from planner.gas import contents
from planner.model import Cylinder, Outlet, Policy, SizeAsked, Supply


class Held(NamedTuple):
    """One cylinder, or all cylinders of a manifold taken together, with its litres.

    `allowance_kpa` is what the gauge is taken to read too high; `water_capacity_l` is the sum for a manifold.
    """

    label: str
    gauge_kpa: float
    water_capacity_l: float
    filling_gauge_kpa: float
    read_degc: float
    cold_degc: float
    allowance_kpa: float
    contents_l: float
    residual_l: float
    outlets: tuple[Outlet, ...] | None
    gas: contents.Gas = "oxygen"

    @property
    def usable_l(self) -> float:
        """Litres above change-over, never negative."""
        return max(0.0, self.contents_l - self.residual_l)

    def gauge_after(self, drawn_l: float) -> float:
        """Gauge as indicated after litres are drawn, kPa, at the temperature of the reading."""
        if drawn_l <= 0.0:
            return self.gauge_kpa
        left = max(0.0, self.contents_l - drawn_l)
        return contents.gauge_kpa(left, self.read_degc, self.water_capacity_l, self.gas) + self.allowance_kpa

    def change_at_kpa(self, change_over_kpa: float) -> float:
        """Gauge as indicated at which nothing usable is left, kPa: change-over and the allowance.

        Where it may get cold it is more: what the residual of a cold cylinder shows at the temperature of its reading.
        """
        shown = contents.gauge_kpa(self.residual_l, self.read_degc, self.water_capacity_l, self.gas)
        return max(change_over_kpa, shown) + self.allowance_kpa

    def serves_all(self, asked: Iterable[Asks]) -> bool:
        """True where the outlets carry everything asked; a cylinder still to be drawn can be had magnet-safe."""
        return all(fits(self.outlets, True, asks) for asks in asked)

    def gauge_for(self, usable_l: float, change_over_kpa: float) -> float | None:
        """Gauge as indicated at which so many litres are usable, kPa.

        Never below change-over with the allowance, None above the filling pressure.
        """
        whole = usable_l + self.residual_l
        if whole > contents.contents_l(self.filling_gauge_kpa, self.read_degc, self.water_capacity_l, self.gas):
            return None
        gauge = contents.gauge_kpa(whole, self.read_degc, self.water_capacity_l, self.gas)
        gauge = max(gauge, change_over_kpa) + self.allowance_kpa
        return gauge if gauge <= self.filling_gauge_kpa else None


def read_degc(temperature_degc: float | None) -> float:
    """T_read: the warmer of the gas temperature at the reading and 21.1 degC."""
    if temperature_degc is None:
        return REFERENCE_TEMPERATURE_DEGC
    return max(temperature_degc, REFERENCE_TEMPERATURE_DEGC)


def cold_degc(*temperatures_degc: float | None) -> float:
    """T_cold: the coldest of the temperatures that are known and 21.1 degC."""
    return min([REFERENCE_TEMPERATURE_DEGC, *(t for t in temperatures_degc if t is not None)])


def held(
    cylinder: Cylinder,
    supply: Supply,
    policy: Policy,
    *,
    allowance_kpa: float | None = None,
    gauge_kpa: float | None = None,
) -> Held:
    """What a cylinder of a supply holds and gives by a policy.

    `allowance_kpa` replaces the policy's gauge allowance, `gauge_kpa` the reading.
    """
    temperature = cylinder.temperature_degc if cylinder.temperature_degc is not None else supply.temperature_degc
    gauge = cylinder.gauge_kpa if gauge_kpa is None else gauge_kpa
    allowance = policy.gauge_allowance_kpa if allowance_kpa is None else allowance_kpa
    warm, cold = read_degc(temperature), cold_degc(temperature, supply.coldest_degc)
    capacity, gas = cylinder.water_capacity_l, cylinder.counted_as
    return Held(
        label=cylinder.label,
        gauge_kpa=gauge,
        water_capacity_l=capacity,
        filling_gauge_kpa=cylinder.filling_gauge_kpa,
        read_degc=warm,
        cold_degc=cold,
        allowance_kpa=allowance,
        contents_l=contents.contents_l(max(0.0, gauge - allowance), warm, capacity, gas),
        residual_l=contents.contents_l(policy.change_over_at_kpa, cold, capacity, gas),
        outlets=supply.outlets_of(cylinder),
        gas=gas,
    )


def full(size: SizeAsked, supply: Supply, policy: Policy, *, allowance_kpa: float | None = None) -> Held:
    """What a full cylinder of a size gives on a supply, with the reading that the policy calls full.

    `outlets` is None, not limited, where neither the size nor the supply says: the paper then asks for them.
    """
    sizes = size.water_capacity_l, size.filling_gauge_kpa, size.factor_l_per_psi
    one = Cylinder(size.size, *sizes, gauge_kpa=size.full_gauge_kpa, gas=supply.gas)
    outlets = size.outlets if size.outlets is not None else supply.outlets
    return held(one, supply, policy, allowance_kpa=allowance_kpa)._replace(outlets=outlets)


def hand_usable_l(cylinder: Cylinder, policy: Policy) -> float:
    """The hand method: (gauge - allowance - change-over) in psi x factor in L/psi, never negative."""
    drop_kpa = cylinder.gauge_kpa - policy.gauge_allowance_kpa - policy.change_over_at_kpa
    return max(0.0, drop_kpa / KPA_PER_PSI * cylinder.factor_l_per_psi)
