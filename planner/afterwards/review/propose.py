"""What a history proposes for profiles and a policy: times, flows and a reserve, each with the trips that it rests on.

Only more is proposed, but for the reserve: a leg that takes longer, a wait, a flow that is higher. A reserve factor is
proposed from the limit that covers 99 of 100 trips, by setting; below the default only where every setting that was
travelled in has trips enough for it, and no flow has grown. Nothing changes by itself.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from planner import figures
from planner.afterwards.review.history import OTHER, FlowGroup, TimeGroup
from planner.afterwards.review.review import Implied, RatioLimit, ReserveLimit, Review
from planner.trade.policy_table import SETTINGS, policy_defaults

_FLOW_ALONE = re.compile(r"flow (\d+(?:\.\d+)?) L/min")
"""Settings that are one flow from a flowmeter, as the history writes them."""


class TimeProposal(NamedTuple):
    """A leg's `longest` or the time of a wait, whole minutes: the limit times what was planned last.

    `since`: from when on it has grown, if it has.
    """

    group: TimeGroup
    limit: RatioLimit
    planned_min: float
    minutes: int
    since: str | None = None


class FlowProposal(NamedTuple):
    """A flow to plan with, L/min: the median of the trips times what was planned. `since` as above."""

    group: FlowGroup
    limit: RatioLimit
    planned_l_per_min: float
    flow_l_per_min: float
    since: str | None = None


class ReserveProposal(NamedTuple):
    """A reserve factor, None where none is proposed; `default` is that of the program.

    `reserves` are the limits it rests on. `lacking`: settings without a limit. `changed`: less would be proposed, had
    not a flow grown.
    """

    factor: float | None
    default: float
    reserves: tuple[ReserveLimit, ...]
    lacking: tuple[ReserveLimit, ...]
    changed: bool = False

    @property
    def below_default(self) -> bool:
        """True where less oxygen is proposed than the default asks for."""
        return self.factor is not None and self.factor < self.default


class Proposals(NamedTuple):
    """All that is proposed; `implied` are devices that draw more than their plan, for a person to find out why."""

    times: tuple[TimeProposal, ...]
    flows: tuple[FlowProposal, ...]
    implied: tuple[Implied, ...]
    reserve: ReserveProposal

    @property
    def any(self) -> bool:
        """True where something is proposed."""
        return bool(self.times or self.flows or self.implied or self.reserve.factor is not None)


def propose(found: Review) -> Proposals:
    """What a review proposes."""
    return Proposals(
        times=tuple(_times(found)),
        flows=tuple(_flows(found)),
        implied=tuple(one for one in found.implied if one.extra_l_per_min > 0.0),
        reserve=_reserve(found),
    )


def _times(found: Review) -> list[TimeProposal]:
    proposals = []
    since = {one.what: one.since for one in found.changed}
    for row in found.times:
        upper = row.limit.upper
        name = row.group.leg if row.group.wait is None else row.group.wait
        if upper is None or name == OTHER:
            continue
        minutes = figures.steps_up(upper * row.planned_min, 1.0)
        if upper > 1.0 and minutes > row.planned_min:
            proposals.append(TimeProposal(row.group, row.limit, row.planned_min, minutes, since.get(row.group)))
    return proposals


def _flows(found: Review) -> list[FlowProposal]:
    proposals = []
    since = {one.what: one.since for one in found.changed}
    for row in found.flows:
        read = _FLOW_ALONE.fullmatch(row.group.settings or "")
        if read is None or row.limit.median is None:
            continue
        planned = float(read[1])
        flow = figures.flow_as_printed(planned * row.limit.median)
        if row.limit.median > 1.0 and flow > planned:
            grown = since.get(row.group) or since.get(FlowGroup(row.group.kind, row.group.setting))
            proposals.append(FlowProposal(row.group, row.limit, planned, flow, grown))
    return proposals


def _reserve(found: Review) -> ReserveProposal:
    default = max(policy_defaults(setting).reserve_factor for setting in SETTINGS)
    known = tuple(one for one in found.reserves if one.limit.upper is not None)
    lacking = tuple(one for one in found.reserves if one.limit.upper is None)
    uppers = [one.limit.upper for one in known if one.limit.upper is not None]
    factor = max(1.0, figures.ratio_as_printed(max(uppers))) if uppers else None
    grown = any(isinstance(one.what, FlowGroup) for one in found.changed)
    less = factor is not None and factor < default and not lacking
    if factor is not None and factor <= default and not (less and not grown):
        factor = None
    return ReserveProposal(factor, default, known, lacking, less and grown)
