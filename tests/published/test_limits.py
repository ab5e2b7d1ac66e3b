"""Limits without an assumed distribution against published tables, and against exact sums of fractions."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from planner.afterwards.review import limits


@pytest.mark.parametrize(
    ("covers", "trips"),
    [
        pytest.param(0.95, 59, id="Wilks 1941: 59 for 95 % of trips with 95 % confidence"),
        pytest.param(0.90, 29, id="Wilks 1941: 29 for 90/95"),
        pytest.param(0.99, 299, id="Wilks 1941: 299 for 99/95"),
    ],
)
def test_fewest_trips_whose_largest_value_covers(covers: float, trips: int) -> None:
    assert limits.fewest_trips(covers) == trips
    assert limits.rank_from_above(trips - 1, covers) == 0
    assert limits.rank_from_above(trips, covers) == 1


# Somerville 1958 and NASA TM-108424 (1993): the fewest values whose k-th largest covers 95 % with 95 % confidence. The
# first two as quoted with the source; the third, from memory of the same table.
@pytest.mark.parametrize(("rank", "trips"), [(1, 59), (2, 93), (3, 124)], ids=lambda value: f"Somerville 1958: {value}")
def test_rank_of_the_limit(rank: int, trips: int) -> None:
    assert limits.rank_from_above(trips - 1) == rank - 1
    assert limits.rank_from_above(trips) == rank


def test_none_of_59_outside_by_clopper_and_pearson() -> None:
    """Clopper and Pearson 1934: 0 of 59 outside gives 95.05 %, one-sided 95 %; half the last printed digit."""
    assert limits.lower_bound(59, 59) == pytest.approx(0.9505, abs=0.00005)


@pytest.mark.parametrize(("successes", "trials"), [(0, 1), (0, 59), (3, 40), (29, 59), (55, 59), (180, 400), (39, 40)])
@pytest.mark.parametrize("share", [Fraction(1, 100), Fraction(1, 20), Fraction(1, 2), Fraction(19, 20)])
def test_binomial_probability_against_exact_fractions(successes: int, trials: int, share: Fraction) -> None:
    exact = sum(comb(trials, k) * share**k * (1 - share) ** (trials - k) for k in range(successes + 1))
    assert limits.at_most(successes, trials, float(share)) == pytest.approx(float(exact), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(("inside", "trips"), [(58, 59), (30, 59), (1, 59), (395, 400), (9_900, 10_000)])
def test_the_bound_of_a_share_is_where_so_many_come_in_one_case_of_twenty(inside: int, trips: int) -> None:
    """The definition of Clopper and Pearson, summed in exact fractions a little above and below the bound."""
    bound = limits.lower_bound(inside, trips)
    for share, more in ((bound * (1 - 1e-6), False), (min(1.0, bound * (1 + 1e-6)), True)):
        p = Fraction(share)
        if trips <= 400:
            tail = sum(comb(trips, k) * p**k * (1 - p) ** (trips - k) for k in range(inside, trips + 1))
        else:
            tail = Fraction(1) - Fraction(limits.at_most(inside - 1, trips, share))
        assert (tail > Fraction(1, 20)) is more
