"""The parts of the cart card as plain data: texts in their final rounding.

`planner.report.card.card` fills them, `planner.pages` draws them.
"""

from __future__ import annotations

from typing import NamedTuple


class SetDevice(NamedTuple):
    """One device: what hands set on it (`SET 50 L/min, FiO2 0.50`), the rest in words, and what it draws.

    `legs` is empty where it is set so in all of its legs; `text` holds them too.
    """

    name: str
    set: str
    text: str
    draws: str
    legs: str = ""


class Balance(NamedTuple):
    """Need against means of one supply, for a no-go."""

    supply: str
    required: str
    have: str
    margin: str
    full: str
