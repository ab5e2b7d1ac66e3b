"""Whether the rest of a trip holds, a verdict for each supply.

- act: as planned, as logged, or at the upper end of a fall that was above both, oxygen runs out before the end;
- holds: it lasts to the end at the largest upper end of all falls, from the least that the cylinders may hold, with as
  much left of the way as the log allows;
- cannot-tell: neither. Read again by the minute at which acting still suffices.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple

from planner.afterwards.falls import Fall
from planner.afterwards.rest import Rest

RestVerdict = Literal["act", "holds", "cannot-tell"]

_HALF: Final = 0.5
"""Of what is left, where it is less than twice the reserve time, this share is kept to act in (by decision)."""


class LabelDoubt(NamedTuple):
    """A reading of cylinder `read` that may be one of `meant`; it does not last if it was `fails`, one of the two."""

    read: str
    meant: str
    fails: str


@dataclass(frozen=True, slots=True)
class Answer:
    """The rest on one supply.

    `lasts_min` is the elapsed minute until which oxygen lasts, as bad as the readings allow: for `act` as planned,
    logged or measured, else at most; None where nothing limits it. `read_again_by_min` only where it cannot be told.
    `unread`: it was drawn on and never read. `which_leg`: it holds, unless the trip is as late as the log allows.
    `label`: whether it lasts hangs on a label that may be a slip.
    `unseen_from_min`: what began after this minute, that of the last reading but one, cannot be seen.
    """

    supply: str
    verdict: RestVerdict
    lasts_min: float | None
    read_again_by_min: float | None = None
    unread: bool = False
    which_leg: bool = False
    unseen_from_min: float | None = None
    label: LabelDoubt | None = None

    @property
    def holds(self) -> bool | None:
        """True or False, None where it cannot be told."""
        return None if self.verdict == "cannot-tell" else self.verdict == "holds"


def answers(rests: Sequence[Rest], falls: Mapping[str, Sequence[Fall]], unread: frozenset[str]) -> tuple[Answer, ...]:
    """The answer for each supply that the rest draws on, or that may lose gas in it; none where nothing is left.

    `falls`: those of each supply with gauges. `unread`: supplies drawn on so far without a reading since departure.
    """
    if not rests:
        return ()
    found = []
    for name, supply in rests[0].plan.supplies.items():
        drawn = any(name in rest.plan.supplies and rest.plan.supplies[name].need.planned_l > 0.0 for rest in rests)
        if drawn and supply.supply.kind != "pipeline":
            found.append(_answer(name, rests, list(falls.get(name, ())), name in unread))
    return tuple(found)


def in_doubt(worse: Answer, read: str, meant: str, fails: str, now_min: float) -> Answer:
    """What can be told where a label may be a slip: nothing before both cylinders are read, as bad as either has it.

    `worse` is the answer where the reading is one of `fails`, which is `read` or `meant`.
    """
    doubt = LabelDoubt(read, meant, fails)
    return replace(worse, verdict="cannot-tell", read_again_by_min=now_min, label=doubt)


def _answer(name: str, rests: Sequence[Rest], falls: list[Fall], unread: bool) -> Answer:
    surely = [rest for rest in rests if rest.basis in ("planned", "written", "measured")]
    perhaps = [rest for rest in rests if rest.basis in ("at_most", "late")]
    seen_to = max((fall.from_min for fall in falls), default=None)
    if any(name in rest.out for rest in surely):
        return Answer(name, "act", _lasts(name, surely), unseen_from_min=seen_to)
    outs = [rest.out[name][0] for rest in perhaps if name in rest.out]
    lasts = _lasts(name, [*surely, *perhaps])
    if not outs and not unread:
        return Answer(name, "holds", lasts, unseen_from_min=seen_to)
    now = rests[0].from_min
    if unread:
        return Answer(name, "cannot-tell", lasts, now, unread=True)
    left = max(0.0, min(outs) - now)
    reserve = rests[0].plan.trip.policy.reserve_time_min
    again = now + max(left - reserve, _HALF * left)
    late_only = all(rest.basis == "late" for rest in perhaps if name in rest.out)
    return Answer(name, "cannot-tell", lasts, again, which_leg=late_only, unseen_from_min=seen_to)


def _lasts(name: str, rests: Sequence[Rest]) -> float | None:
    return min((rest.lasts_min[name] for rest in rests if name in rest.lasts_min), default=None)
