"""How sentences name cylinders and list what they name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_AIR = "AIR"
_OTHER_GAS = re.compile(
    r"(?:(?:medical|compressed|breathing|synthetic)[ _-]*)*"
    r"(?:air(?!.(?:ambulance|medical|rescue))|heliox|helium|nitrogen|nitrous|nitric|no(?=[ _-]*[0-9]+ *ppm)|n2o?|"
    r"carbon(?![ _-]*fib)|co2)(?![a-z])",
    re.IGNORECASE,
)


def called(label: str, gas: str = "oxygen") -> str:
    """A cylinder in a sentence: its label, `cylinder 1` where that has no letter and would read as a number.

    >>> called("A"), called("1"), called("1", "air")
    ('A', 'cylinder 1', 'AIR 1')
    """
    text = labelled(label, gas)
    return text if any(letter.isalpha() for letter in text) else f"cylinder {text}"


def labelled(label: str, gas: str) -> str:
    """The label of a cylinder as printed: of air with AIR before it, unless it says so by itself.

    >>> labelled("L1", "air"), labelled("AIR 2", "air"), labelled("L1+L2", "air"), labelled("A", "oxygen")
    ('AIR L1', 'AIR 2', 'AIR L1+L2', 'A')
    """
    return label if _AIR in label.split() else of_gas(label, gas)


def of_gas(text: str, gas: str) -> str:
    """What a cylinder or its size is called: oxygen as it is, air with `AIR` before it, so that none is taken for it.

    >>> of_gas("US-E", "air"), of_gas("US-E", "oxygen")
    ('AIR US-E', 'US-E')
    """
    return f"{_AIR} {text}" if gas == "air" else text


def gas_of(size: str) -> str:
    """The gas of what `of_gas` has named.

    >>> gas_of("AIR US-E"), gas_of("US-E")
    ('air', 'oxygen')
    """
    return "air" if size.startswith(f"{_AIR} ") else "oxygen"


def all_called(labels: Sequence[str]) -> str:
    """Several cylinders in a sentence: `A, B`, or `cylinders 1, 2` where one of them has no letter."""
    if all(called(label) == label for label in labels):
        return ", ".join(labels)
    return f"cylinder{'s' * (len(labels) > 1)} {', '.join(labels)}"


def listed(texts: Iterable[str], joined: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`; another word may stand before the last."""
    *most, last = texts
    return f"{', '.join(most)} {joined} {last}" if most else last


def of_another_gas(label: str) -> bool:
    """True for a label that begins with the name of a gas other than oxygen: such a cylinder is never counted as it.

    >>> of_another_gas("AIR-2"), of_another_gas("Airway trolley 1"), of_another_gas("air ambulance main")
    (True, False, False)
    >>> [of_another_gas(label) for label in ("NO 800 ppm", "No 2", "carbon dioxide", "carbon fibre 1")]
    [True, False, True, False]
    """
    return _OTHER_GAS.match(label) is not None
