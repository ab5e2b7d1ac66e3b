"""Names placed beside lines, where they cover neither a line nor each other."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from planner.pages.drawing import fonts
from planner.pages.drawing.lines import SMALL

Point = tuple[float, float]
HIGH = 10.5
APART = 3.5
PLACES = 24
CLEAR = 1.5


class Label(NamedTuple):
    """A placed name and its box."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


class Labels:
    """Places names inside a frame (left, top, right, bottom) among lines, the first best first."""

    def __init__(self, frame: tuple[float, float, float, float], lines: Sequence[Sequence[Point]]) -> None:
        self.frame = frame
        self.pieces = [(a, b) for line in lines for a, b in pairwise(line)]
        self.placed: list[Label] = []

    def place(self, text: str, line: Sequence[Point], *, above: bool, from_right: bool = False) -> None:
        """Place a name beside a line, on the side wished for if it can be free there."""
        text = fonts.clean(text)
        wide = fonts.width(text, "bold", SMALL)
        start, end = line[0][0], line[-1][0]
        places = [start + (end - start) * number / PLACES for number in range(PLACES + 1)]
        best, least = None, float("inf")
        for upper in (above, not above):
            for x in reversed(places) if from_right else places:
                label = self._beside(text, wide, line, x, upper)
                cost = self._cost(label)
                if cost < least:
                    best, least = label, cost
                if cost == 0:
                    break
            if least == 0:
                break
        if best is not None:
            self.placed.append(best)

    def _beside(self, text: str, wide: float, line: Sequence[Point], x: float, upper: bool) -> Label:
        left = min(max(x + APART, self.frame[0]), self.frame[2] - wide)
        right = left + wide
        near = (left - CLEAR, left, left + wide / 2, right, right + CLEAR)
        heights = [y for at in near for y in _heights(line, at)] or [line[-1][1]]
        top = min(heights) - APART - HIGH if upper else max(heights) + APART + 2.5
        return Label(text, left, top, left + wide, top + HIGH)

    def _cost(self, label: Label) -> float:
        left, top, right, bottom = self.frame
        cost = sum(_crosses(label, a, b) for a, b in self.pieces)
        cost += 20 * sum(_meet(label, other) for other in self.placed)
        cost += 50 * (label.left < left - 0.01 or label.right > right + 0.01)
        return cost + 50 * (label.top < top or label.bottom > bottom)


def _heights(line: Sequence[Point], x: float) -> list[float]:
    """Heights of a line at x; of a step, both."""
    return [
        y1 + (y2 - y1) * (x - x1) / (x2 - x1) if x2 > x1 else y2
        for (x1, y1), (x2, y2) in pairwise(line)
        if x1 <= x <= x2
    ]


def _meet(one: Label, other: Label) -> bool:
    return (
        one.left < other.right + 4 and other.left < one.right + 4 and one.top < other.bottom and other.top < one.bottom
    )


def _crosses(label: Label, a: Point, b: Point) -> bool:
    """True where the piece from a to b comes as near to the box as `CLEAR`."""
    left, right = max(a[0], label.left - CLEAR), min(b[0], label.right + CLEAR)
    if left > right:
        return False
    heights = [y for x in (left, right) for y in _heights((a, b), x)] if b[0] > a[0] else [a[1], b[1]]
    return min(heights) <= label.bottom + CLEAR and max(heights) >= label.top - CLEAR
