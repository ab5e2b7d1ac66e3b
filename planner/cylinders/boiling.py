"""What a vessel of liquid oxygen loses after the time for which its loss was counted.

What it gives is reckoned with the loss to the end of the longest trip. Whoever draws on beyond that has less:

    ends = counted to + (ends without - counted to) x flow / (flow + loss)
"""

from __future__ import annotations

from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY
from planner.model import Supply


def loss_l_per_min(supply: Supply) -> float:
    """What boils away of a vessel, as litres of gas a minute; 0 for what is none."""
    return 0.0 if supply.liquid is None else supply.liquid.loss_kg_per_day * GAS_L_PER_KG / MIN_PER_DAY


def later_loss_l(supply: Supply, minute: float) -> float:
    """What boils away of a vessel by an elapsed minute beyond what was counted, litres of gas."""
    return 0.0 if supply.liquid is None else loss_l_per_min(supply) * max(0.0, minute - supply.liquid.lost_to_min)


def ends_min(supply: Supply, minute: float, flow_l_per_min: float, since_min: float = 0.0) -> float:
    """The elapsed minute at which a supply ends that would end at `minute` if it lost nothing beyond what was counted.

    `flow_l_per_min` is what is drawn at the end. What is no vessel ends at `minute`. Until `since_min` loss is counted
    in any case.
    """
    if supply.liquid is None or flow_l_per_min <= 0.0:
        return minute
    counted_to = max(supply.liquid.lost_to_min, since_min)
    if minute <= counted_to:
        return minute
    return counted_to + (minute - counted_to) * flow_l_per_min / (flow_l_per_min + loss_l_per_min(supply))


def lasting_min(supply: Supply, litres: float, flow_l_per_min: float, minute: float) -> float:
    """How long litres of gas that are there at an elapsed minute last at a flow from then on, minutes."""
    minutes = litres / flow_l_per_min
    return minutes if supply.liquid is None else ends_min(supply, minute + minutes, flow_l_per_min, minute) - minute
