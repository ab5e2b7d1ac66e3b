"""Liquid oxygen as gas: litres of oxygen at 21.1 degC and 101.325 kPa from the weight or the volume of the liquid.

1 kg gives 1000 / rho_ref litres, with rho_ref the density of oxygen in that state, so that 1 lb gives 342.0 L.
Textbooks round to 344 L (respiratory care examination questions); the fewer are taken. 1 L of liquid gives 860 L (the
same source; at the boiling point, 1141.2 kg/m3 by Schmidt and Wagner 1985, it would be 860.5):
`planner.constants.KG_PER_LIQUID_L`.
"""

from __future__ import annotations

from typing import Final

from planner.gas.contents import REFERENCE_DENSITY_KG_PER_M3

GAS_L_PER_KG: Final = 1000.0 / REFERENCE_DENSITY_KG_PER_M3["oxygen"]
MIN_PER_DAY: Final = 24.0 * 60.0


def usable_l(amount_kg: float, keep_kg: float, loss_kg_per_day: float, waiting_min: float) -> float:
    """Litres of gas from a vessel: (amount - keep - loss over the time since it was read) / rho_ref, never negative.

    `waiting_min`: minutes from the reading to the end of the longest trip.

    >>> int(usable_l(5 * 0.45359237, 0.0, 0.0, 0.0) / 2.0)  # 5 lb at 2 L/min: 855 min, textbooks 860 by 344 L/lb
    855
    """
    return max(0.0, amount_kg - keep_kg - loss_kg_per_day * waiting_min / MIN_PER_DAY) * GAS_L_PER_KG
