"""The policy of a supply as far as a clinician accepts less of it: a part of the reserve missing, or no spare."""

from __future__ import annotations

from collections.abc import Iterable

from planner.flow.flows import Flow
from planner.go.sizing import layers, with_less_reserve
from planner.model import Accepted, Policy, Trip


def eased(trip: Trip, supply: str, flow: Flow) -> Policy:
    """The policy that holds for one supply: with the layers that it has, less what is accepted for it."""
    mine = [each for each in trip.accepted if each.supply == supply]
    return eased_policy(layers(trip.supplies[supply], trip.policy), mine, flow)


def eased_policy(policy: Policy, decisions: Iterable[Accepted], flow: Flow) -> Policy:
    """The policy with a reserve lower by the litres accepted, and without a spare where accepted."""
    for each in decisions:
        if each.what == "spare":
            policy = policy._replace(spare_cylinders=0)
        elif each.what == "reserve" and each.at_most_l is not None:
            policy = with_less_reserve(policy, flow, each.at_most_l)
    return policy
