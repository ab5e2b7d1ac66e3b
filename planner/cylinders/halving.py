"""The least of some value that does, by halving: a gauge, a share, a minute."""

from __future__ import annotations

from collections.abc import Callable


def least_by_search(go: Callable[[float], bool], low: float, high: float, *, fine: float) -> float | None:
    """The least value between two for which `go` holds, by halving to within `fine`, from above.

    None where it does not hold at `high`; `go` must not fail above a value at which it holds.
    """
    if not go(high):
        return None
    if go(low):
        return low
    while high - low > fine:
        middle = (low + high) / 2.0
        if go(middle):
            high = middle
        else:
            low = middle
    return high
