"""Which outlet carries which device.

One outlet carries one device. A flowmeter carries a flow up to its limit, a 50-psi outlet carries a device
driven by 50 psi. Because a flowmeter that carries a large flow also carries a smaller one, pairing the largest
flow with the largest limit, and so on downwards, finds an assignment wherever there is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from planner import figures
from planner.constants import FLOW_NOISE_L_PER_MIN
from planner.model import Outlet, OutletKind


class OutletNeed(NamedTuple):
    """The outlet that one device asks for: its kind, its flow in L/min and the device's name."""

    kind: OutletKind
    flow_l_per_min: float
    device: str = ""


class Asks(NamedTuple):
    """All that a leg asks of a cylinder at once: an outlet for each device, and safety in a magnet room."""

    needs: tuple[OutletNeed, ...] = ()
    magnet: bool = False


@lru_cache(maxsize=4096)
def fits(outlets: tuple[Outlet, ...] | None, magnet_safe: bool, asks: Asks) -> bool:
    """True where a cylinder with such outlets can serve. `outlets` None means: not limited."""
    if asks.magnet and not magnet_safe:
        return False
    return outlets is None or refusal(outlets, asks.needs) is None


CylinderKind = tuple[tuple[Outlet, ...] | None, bool]
"""What decides which legs a cylinder can serve: its outlets, None for not limited, and whether it is magnet-safe."""

Serves = tuple[bool, ...]
"""For each of some cylinders whether it carries what is asked for."""


class Serving:
    """Which of some cylinders carry what a leg asks for. Kept once for many courses: litres do not matter to it.

    `alike`: all carry the same, whatever is asked.

    Each kind of cylinder is asked once for each `Asks`.
    """

    def __init__(self, kinds: Iterable[CylinderKind]) -> None:
        numbers: dict[CylinderKind, int] = {}
        self._kind_of = [numbers.setdefault(kind, len(numbers)) for kind in kinds]
        self._kinds = list(numbers)
        self.alike = len(self._kinds) <= 1
        self._known: dict[Asks, Serves] = {}

    def of(self, asks: Asks) -> Serves:
        """For each cylinder whether it serves."""
        known = self._known.get(asks)
        if known is None:
            able = [fits(*kind, asks) for kind in self._kinds]
            known = self._known[asks] = tuple([able[kind] for kind in self._kind_of])
        return known

    def all_of(self, asks: Asks) -> bool:
        """True where every cylinder serves."""
        return all(self.of(asks))


def refusal(outlets: Sequence[Outlet], needs: Sequence[OutletNeed]) -> str | None:
    """Why the outlets do not carry all the needs at once, as a phrase; None where they do."""
    driven = [need for need in needs if need.kind == "high_pressure"]
    have = sum(outlet.kind == "high_pressure" for outlet in outlets)
    if len(driven) > have:
        names = ", ".join(sorted(need.device for need in driven))
        return f"{names} needs {len(driven)} x 50-psi outlet and it has {have}"
    flows = sorted((need for need in needs if need.kind == "flowmeter"), key=_flow, reverse=True)
    limits = sorted((_limit(outlet) for outlet in outlets if outlet.kind == "flowmeter"), reverse=True)
    if len(flows) > len(limits):
        names = ", ".join(sorted(need.device for need in flows))
        return f"{names} needs {len(flows)} x flowmeter and it has {len(limits)}"
    for need, limit in zip(flows, limits, strict=False):
        if need.flow_l_per_min > limit + FLOW_NOISE_L_PER_MIN:
            return (
                f"{need.device} needs a flowmeter to {figures.flow_up(need.flow_l_per_min)} and it has one to "
                f"{figures.flow_set(limit)}"
            )
    return None


def _flow(need: OutletNeed) -> float:
    return need.flow_l_per_min


def _limit(outlet: Outlet) -> float:
    return float("inf") if outlet.limit_l_per_min is None else outlet.limit_l_per_min
