"""Cylinders and their outlets in short answers.

`US-E 1500 psi, B7: US-E 2000 psi safe` are two, the second with the label B7 and marked safe for a magnet room;
`680 L at 2015 psi reads 1950 psi` is one with the contents of its label; `1500 L` is a stated amount;
`15 L/min, 50 psi` are two outlets.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from planner.new_trip.answers import AnswerError, quantity
from planner.text.text_file import shown

_LABEL = re.compile(r" *([^.:=\[\]]+): +")
_GAUGE_FIRST = re.compile(r"^([0-9.]+ *(?:psi|bar|kPa|MPa)) (\S+)$")
_BETWEEN = re.compile(r" *; *|, +|,(?=[A-Za-z])")
_SAFE = re.compile(r" +(?:magnet[ _]safe|safe)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CylinderAnswer:
    """One cylinder as it was told; `label` None where none was."""

    gauge: str
    size: str | None = None
    contents: str | None = None
    label: str | None = None
    magnet_safe: bool = False


def cylinders(text: str) -> tuple[CylinderAnswer, ...]:
    """Cylinders with their gauges, in the order of use, as the top of this module shows.

    Raises `AnswerError`. Whether the size exists is left to the reader of profiles.
    """
    return tuple(_cylinder(part.strip()) for part in _BETWEEN.split(" ".join(text.split())) if part.strip())


def _cylinder(text: str) -> CylinderAnswer:
    label = _LABEL.match(text)
    rest = text[label.end() :] if label else text
    safe = _SAFE.search(rest)
    rest = rest[: safe.start()] if safe else rest
    contents, reads, gauge = rest.partition(" reads ")
    size: str | None = None
    if not reads:
        size, _, gauge = _GAUGE_FIRST.sub(r"\2 \1", rest).partition(" ")
    if not gauge.strip():
        raise AnswerError(
            f"`{shown(text)}` without a gauge",
            "size and gauge, as in US-E 1500 psi, or label and gauge, as in 680 L at 2015 psi reads 1950 psi",
            "write both, with the unit of the gauge",
        )
    return CylinderAnswer(
        gauge=quantity(gauge, "gauge"),
        size=None if size is None else size.upper(),
        contents=contents if reads else None,
        label=label[1] if label else None,
        magnet_safe=safe is not None,
    )


def litres(text: str) -> str | None:
    """A stated amount, `1500 L`, or None where the answer is none."""
    plain = " ".join(text.split())
    return quantity(plain, "volume") if re.fullmatch(r"[0-9][0-9.]* *(?:L|l)", plain) else None


def outlets(text: str) -> tuple[str, ...]:
    """Outlets of a cylinder as a profile writes them: `15 L/min, 50 psi`. Raises `AnswerError`.

    >>> outlets("15, 50 psi")
    ('{flowmeter: 15 L/min}', 'high_pressure')
    """
    found = []
    for part in re.split(r" *[,+] *", " ".join(text.split())):
        if re.fullmatch(r"50 *psi|(?:4|3\.5|3\.4) *bar|high[_ -]pressure|hp", part, re.IGNORECASE):
            found.append("high_pressure")
            continue
        try:
            found.append(f"{{flowmeter: {quantity(part, 'flow')}}}")
        except AnswerError as error:
            allowed = "flowmeters by the flow that they give at most, and 50 psi for a high-pressure outlet"
            raise AnswerError(f"`{shown(part)}`", allowed, "write for example 15 L/min, 50 psi") from error
    return tuple(found)
