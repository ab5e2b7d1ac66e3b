"""Marks of a scale: figures at round values, and between them marks as fine as they can be told apart."""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

from planner.constants import NOISE
from planner.figures import significant, steps_nearest

CLOSEST_MARKS_PT = 2.7
CLOSEST_FIGURES_PT = 10.6
LOG_FIGURES = (1.0, 2.0, 5.0, 3.0, 4.0, 6.0, 8.0, 7.0, 9.0, 1.5, 2.5, 1.2, 1.8, 1.4, 1.6, 3.5, 4.5, 1.1, 1.3, 1.7, 1.9)
"""What stands beside the marks of a scale of logarithms, in each decade: the first are wanted most."""


class Mark(NamedTuple):
    """A mark at a value: `place` from 0 (foot) to 1 (head) of the scale, `level` 0 the longest, `text` its figure."""

    value: float
    place: float
    level: int
    text: str


class Scale(NamedTuple):
    """A scale from `low` to `high`, `length_pt` long, on which `place` (0 to 1) rises or falls throughout.

    `place` must bend one way. `coarse` is the distance of values that always get a figure; None for logarithms.
    """

    place: Callable[[float], float]
    low: float
    high: float
    length_pt: float
    coarse: float | None = None

    def holds(self, value: float) -> bool:
        """True for a value on the scale, its ends included."""
        return self.low * (1 - NOISE) <= value <= self.high * (1 + NOISE)

    def apart(self, one: float, other: float) -> float:
        """How far two values of the scale stand apart on paper, points."""
        return abs(self.place(one) - self.place(other)) * self.length_pt


def graduate(scale: Scale) -> tuple[Mark, ...]:
    """The marks of a scale in rising order. From one figure to the next they count up in equal round steps."""
    figures = _log_figures(scale) if scale.coarse is None else _even_figures(scale, scale.coarse)
    marks: dict[float, int] = {}
    for space in pairwise(figures):
        step = _finest(scale, space, CLOSEST_MARKS_PT)
        for number in _numbers(scale, space, step):
            marks[_key(number * step)] = 2 if number % 5 else 1
    marks.update((value, 0) for value in figures if scale.holds(value))
    return tuple(
        Mark(value, scale.place(value), level, significant(value, 6) if level == 0 else "")
        for value, level in sorted(marks.items())
    )


def _key(value: float) -> float:
    return float(significant(value, 9))


def _is_multiple(value: float, step: float) -> bool:
    return abs(value / step - steps_nearest(value, step)) < 1e-6


def _numbers(scale: Scale, space: tuple[float, float], step: float) -> range:
    """Which multiples of a step lie within a space and on the scale."""
    first = math.ceil(max(space[0], scale.low) / step - 1e-6)
    last = math.floor(min(space[1], scale.high) / step + 1e-6)
    return range(first, last + 1)


def _steps(least: float, most: float) -> Iterator[float]:
    """Round steps of 1, 2 and 5 between two bounds, rising."""
    power = 10.0 ** math.floor(math.log10(least))
    while power < most:
        yield from (_key(factor * power) for factor in (1, 2, 5) if least <= factor * power < most * (1 - NOISE))
        power *= 10.0


def _finest(scale: Scale, space: tuple[float, float], closest_pt: float) -> float:
    """The finest round step that divides a space, none of its marks closer than so many points."""
    start, end = space
    low, high = max(start, scale.low), min(end, scale.high)
    # Marks closer than this on the whole are closer still at one end of the space.
    least = (high - low) * closest_pt / max(scale.apart(low, high), closest_pt)
    for step in _steps(least, end - start):
        if _is_multiple(start, step) and _is_multiple(end, step):
            numbers = _numbers(scale, space, step)
            # The scale bends one way: its closest marks are its first or its last.
            ends = [(number * step, (number + 1) * step) for number in (numbers[0], numbers[-2])] if numbers[1:] else []
            if ends and min(scale.apart(*end) for end in ends) >= closest_pt:
                return step
    return end - start


def _even_figures(scale: Scale, coarse: float) -> list[float]:
    """Every multiple of `coarse`, its spaces divided evenly; first and last may lie just beyond the scale."""
    found: set[float] = set()
    for number in range(math.floor(scale.low / coarse + NOISE), math.ceil(scale.high / coarse - NOISE)):
        space = (number * coarse, (number + 1) * coarse)
        step = _finest(scale, space, CLOSEST_FIGURES_PT)
        found.update(_key(space[0] + part * step) for part in range(steps_nearest(coarse, step) + 1))
    ordered = sorted(found)
    first = max((value for value in ordered if value <= scale.low * (1 + NOISE)), default=ordered[0])
    last = min((value for value in ordered if value >= scale.high * (1 - NOISE)), default=ordered[-1])
    return [value for value in ordered if first <= value <= last]


def _log_figures(scale: Scale) -> list[float]:
    """The figures wanted most, as many as stand apart; the nearest beyond either end besides."""
    decades = range(math.floor(math.log10(scale.low)) - 1, math.ceil(math.log10(scale.high)) + 1)
    wanted = [_key(digits * 10.0**decade) for digits in LOG_FIGURES for decade in decades]
    chosen = [
        max(value for value in wanted if value <= scale.low * (1 + NOISE)),
        min(value for value in wanted if value >= scale.high * (1 - NOISE)),
    ]
    taken_pt = sorted(scale.place(value) * scale.length_pt for value in chosen if scale.holds(value))
    for value in wanted:
        if scale.holds(value):
            at_pt = scale.place(value) * scale.length_pt
            after = bisect(taken_pt, at_pt)
            beside_pt = taken_pt[max(after - 1, 0) : after + 1]
            if all(abs(at_pt - other_pt) >= CLOSEST_FIGURES_PT for other_pt in beside_pt):
                taken_pt.insert(after, at_pt)
                chosen.append(value)
    return sorted(set(chosen))
