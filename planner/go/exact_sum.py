"""Sums of floats that lose nothing, kept as a few floats that do not overlap, so that one value more or less is cheap.

`fsum` of the parts of a sum is the same float as `fsum` of all its values. The method is that of Shewchuk, Adaptive
precision floating-point arithmetic, Discrete and Computational Geometry 18 (1997) 305-363.
"""

from __future__ import annotations

from collections.abc import Iterable

Parts = tuple[float, ...]
"""Floats that do not overlap, the smallest first."""


def added(parts: Parts, values: Iterable[float]) -> Parts:
    """The parts of a sum with more values in it; a value is taken out by adding its negative.

    >>> added((), [1e16, 1.0, -1e16])
    (1.0,)
    """
    kept = list(parts)
    for value in values:
        high = value
        place = 0
        for part in kept:
            large, small = (high, part) if abs(high) >= abs(part) else (part, high)
            high = large + small
            low = small - (high - large)
            if low:
                kept[place] = low
                place += 1
        kept[place:] = [high] if high else []
    return tuple(kept)
