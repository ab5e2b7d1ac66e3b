"""Limits that hold whatever the distribution: order statistics, and the bound of a share.

All are one-sided with 95 % confidence, for trips that are exchangeable: each as likely as another to have come when it
did.

Sources: S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Ann Math Stat 1941;12:91-96; P. N.
Somerville, "Tables for obtaining non-parametric tolerance limits", Ann Math Stat 1958;29:599-601; C. J. Clopper and
E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika
1934;26:404-413.
"""

from __future__ import annotations

from functools import cache
from math import exp, lgamma, log, log1p
from typing import Final

CONFIDENCE: Final = 0.95

_HALVINGS: Final = 60  # a share between 0 and 1, to the last binary digits


def at_most(successes: int, trials: int, share: float) -> float:
    """P(Bin(trials, share) <= successes): probability of at most so many successes, from 0 to 1.

    `share`: probability of one success, between 0 and 1. The terms are added from the largest down, each from the one
    before it, until the rest no longer counts.

    >>> round(at_most(0, 59, 0.05), 4)
    0.0485
    """
    if successes < 0:
        return 0.0
    if successes >= trials or share <= 0.0:
        return 1.0
    if share >= 1.0:
        return 0.0
    if successes > trials * share:
        return 1.0 - at_most(trials - successes - 1, trials, 1.0 - share)
    odds = (1.0 - share) / share
    term = exp(_log_term(successes, trials, share))
    total = term
    for count in range(successes, 0, -1):
        term *= odds * count / (trials - count + 1)
        total += term
        if term <= total * 1e-17:
            break
    return total


def _log_term(successes: int, trials: int, share: float) -> float:
    ways = lgamma(trials + 1) - lgamma(successes + 1) - lgamma(trials - successes + 1)
    return ways + successes * log(share) + (trials - successes) * log1p(-share)


@cache
def rank_from_above(trips: int, covers: float = 0.95) -> int:
    """Such a k that the k-th largest of so many values covers a share of trips with 95 % confidence; 0 where none does.

    The largest k with P(Bin(trips, 1 - covers) <= k - 1) <= 0.05.

    >>> rank_from_above(58), rank_from_above(59), rank_from_above(92), rank_from_above(93)
    (0, 1, 1, 2)
    >>> rank_from_above(298, 0.99), rank_from_above(299, 0.99)
    (0, 1)
    """
    outside = 1.0 - covers
    low, high = 0, trips + 1  # the probability grows with k: low passes, high does not
    while high - low > 1:
        middle = (low + high) // 2
        if at_most(middle - 1, trips, outside) <= 1.0 - CONFIDENCE:
            low = middle
        else:
            high = middle
    return low


@cache
def fewest_trips(covers: float = 0.95) -> int:
    """The fewest trips whose largest value covers a share of trips with 95 % confidence.

    >>> fewest_trips(), fewest_trips(0.99), fewest_trips(0.90)
    (59, 299, 29)
    """
    trips = 1
    while not rank_from_above(trips, covers):
        trips += 1
    return trips


def lower_bound(inside: int, trips: int) -> float:
    """Lower 95 % bound of a share of which `inside` of so many `trips` were seen, by Clopper and Pearson; from 0 to 1.

    >>> round(lower_bound(59, 59), 4)
    0.9505
    >>> lower_bound(0, 59)
    0.0
    """
    if inside <= 0 or trips <= 0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        share = (low + high) / 2.0
        # At the bound so many inside, or more, come in one case of twenty.
        if at_most(trips - inside, trips, 1.0 - share) <= 1.0 - CONFIDENCE:
            low = share
        else:
            high = share
    return low
