"""How sentences name cylinders and list what they name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def called(label: str) -> str:
    """A cylinder in a sentence: its label, `cylinder 1` where that has no letter and would read as a number."""
    return label if any(letter.isalpha() for letter in label) else f"cylinder {label}"


def of_gas(text: str, gas: str) -> str:
    """What a cylinder or its size is called: oxygen as it is, air with `AIR` before it, so that none is taken for it.

    >>> of_gas("US-E", "air"), of_gas("US-E", "oxygen")
    ('AIR US-E', 'US-E')
    """
    return f"AIR {text}" if gas == "air" else text


def all_called(labels: Sequence[str]) -> str:
    """Several cylinders in a sentence: `A, B`, or `cylinders 1, 2` where one of them has no letter."""
    if all(called(label) == label for label in labels):
        return ", ".join(labels)
    return f"cylinder{'s' * (len(labels) > 1)} {', '.join(labels)}"


def listed(texts: Iterable[str], joined: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`; another word may stand before the last."""
    *most, last = texts
    return f"{', '.join(most)} {joined} {last}" if most else last
