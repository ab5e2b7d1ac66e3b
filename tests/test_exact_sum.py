"""Sums in parts against `fsum`, which rounds the exact sum once, and against fractions, which are exact."""

from __future__ import annotations

from fractions import Fraction
from math import fsum

from hypothesis import given
from hypothesis import strategies as st

from planner.go.exact_sum import added

litres = st.lists(st.floats(-1e6, 1e6), max_size=30)


@given(litres, litres)
def test_parts_sum_to_what_all_values_sum_to(first: list[float], second: list[float]) -> None:
    parts = added(added((), first), second)
    assert sum(map(Fraction, parts)) == sum(map(Fraction, first + second))
    assert fsum(parts) == fsum(first + second)


@given(litres, st.floats(-1e6, 1e6))
def test_a_value_taken_out_leaves_no_trace(values: list[float], other: float) -> None:
    assert fsum(added(added((), [*values, other]), [-other])) == fsum(values)


def test_nothing_sums_to_nothing() -> None:
    assert added((), []) == ()
    assert added((), [2.5, -2.5]) == ()
