"""Has a series of values, one a trip, become larger? A sequential test with a stated rate of false alarms.

Each value is given a conformal p-value: the share of the values so far, itself among them, that are at least as large.
While nothing has changed these are as good as even numbers between 0 and 1, whatever the distribution of the values;
when they grow, small p come often. A bet on small p multiplies the stake of a detector of Shiryaev and Roberts, one
for each of five bets, and the mean of their stakes is the statistic:

    R_e = (1 + R_e before) x e p^(e - 1),   e = 0.1, 0.2, 0.3, 0.5, 0.7;   R = mean of the five R_e

An alarm at R >= A comes on unchanged series no more often than once in A trips on the average. (The mean of the bets,
taken before each step, is weaker: of a growth by 30 % at a log spread of 0.3 it tells 58 in 100 within 60 trips, the
mean of the stakes 97, at A = 1000 after 200 trips.)

How many of 100 simulated services are told of a growth by 30 % within 60 trips (300 each):

    log spread, trips before    A = 1000 (one series)    5000 (five)    10000 (ten)    20000
    0.3, 200                    97                       95             91             86
    0.2, 59                     99                       90             84             76

So no alarm is no proof that nothing has changed: with many series and few trips it comes later.

Sources: A. N. Shiryaev, "On optimum methods in quickest detection problems", Theory Probab Appl 1963;8:22-46; S. W.
Roberts, "A comparison of some control chart procedures", Technometrics 1966;8:411-430; V. Vovk, "Testing randomness
online", Statistical Science 2021;36:595-611, for bets on conformal p-values. From memory, but for the names and years.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from math import exp, log
from typing import Final

ALARM_TRIPS: Final = 1000
"""Mean trips to a false alarm, for each series tested at once. By decision."""

TESTED_TRIPS: Final = 5000
"""Of a longer series the last so many are tested: an older change is no news, and what lies before is no part of the
test. By decision."""

_BATCH: Final = 256


class Detector:
    """The five stakes of one series.

    >>> detector = Detector()
    >>> round(detector.next(1.0), 2), round(detector.next(0.01), 1)
    (0.36, 7.7)
    """

    def __init__(self) -> None:
        self._stakes = (0.0, 0.0, 0.0, 0.0, 0.0)

    def next(self, p: float) -> float:
        """The mean of the stakes after one more p-value, above 0."""
        a, b, c, d, e = self._stakes
        x = log(p)
        a = (1.0 + a) * 0.1 * exp(-0.9 * x)
        b = (1.0 + b) * 0.2 * exp(-0.8 * x)
        c = (1.0 + c) * 0.3 * exp(-0.7 * x)
        d = (1.0 + d) * 0.5 * exp(-0.5 * x)
        e = (1.0 + e) * 0.7 * exp(-0.3 * x)
        self._stakes = a, b, c, d, e
        return (a + b + c + d + e) / 5.0


def p_values(values: Iterable[float]) -> Iterator[float]:
    """The share of the values so far that are at least as large as each, itself among them; above 0, to 1.

    Values are kept sorted in two lists, a long one and what came since: the short one takes the insertions.

    >>> list(p_values([1.0, 2.0, 2.0, 0.5]))
    [1.0, 0.5, 0.6666666666666666, 1.0]
    """
    settled: list[float] = []
    recent: list[float] = []
    for count, value in enumerate(values, 1):
        place = bisect_left(recent, value)
        recent.insert(place, value)
        yield (count - bisect_left(settled, value) - place) / count
        if len(recent) > _BATCH:
            settled += recent
            settled.sort()
            recent.clear()


def first_alarm(values: Iterable[float], threshold: float) -> tuple[int, int] | None:
    """Where a series is told to have grown: the index of the value that told it, and of the first that seems changed.

    `values`: one a trip, in the order in which trips were closed; `inf` for a trip that ran out. `threshold`: A above,
    a number above 1. None where no alarm came. The seeming change is where bets have gained most since.
    """
    detector = Detector()
    gained = 0.0
    begins = 0
    for index, p in enumerate(p_values(values)):
        if detector.next(p) >= threshold:
            return index, begins
        gained += log(0.5) - 0.5 * log(p)  # the bet in the middle, e = 0.5
        if gained <= 0.0:
            gained = 0.0
            begins = index + 1
    return None
