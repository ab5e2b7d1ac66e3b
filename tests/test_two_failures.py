"""Two failures at once: a device and a cylinder. Told as one row, never asked for unless the policy names it."""

from __future__ import annotations

import pytest

from planner.model import Supply
from planner.planning import plan
from planner.results import Plan, WhatIf
from planner.trade.policy_table import policy_defaults
from tests.build import VENTILATOR, cylinder, leg, trip

PAIR = "ventilator_fails+cylinder_lost"


def road(*more: str) -> Plan:
    """Two cylinders of 1500 psi above change-over, some 420 L each by 0.28 L/psi; 40 min behind a ventilator."""
    policy = policy_defaults("in_house")
    policy = policy._replace(must_hold=(*policy.must_hold, *more))
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("B", 2000)))
    return plan(trip([cart], leg(40.0, VENTILATOR), policy=policy))


def row(found: Plan, name: str) -> WhatIf:
    (told,) = (each for each in found.whatifs if each.name == name)
    return told


@pytest.mark.hazard(9, 10)
def test_the_resuscitator_on_what_one_cylinder_leaves() -> None:
    """15 L/min x 40 min = 600 L: both carry it, one is empty after 420 / 15 = 28 min."""
    found = road()
    assert row(found, "ventilator_fails").holds
    pair = row(found, PAIR)
    assert not pair.holds
    assert not pair.must_hold
    assert pair.runs_out_min == pytest.approx(28.0, abs=0.5)  # the real gas holds 1 % more than 420 L
    assert pair.cylinder in ("A", "B")
    assert found.go


@pytest.mark.hazard(9, 10)
def test_a_policy_that_names_the_pair_makes_it_decide() -> None:
    assert not road(PAIR).go
