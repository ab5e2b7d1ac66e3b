"""What was used against what was planned: between readings, over each whole supply, and for the rest of the trip.

Pure: a plan and what the crew wrote down go in, frozen plain data comes out; every number is unrounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise

from planner.afterwards.answers import Answer, answers, in_doubt
from planner.afterwards.batteries import BatteryAnswer, battery_answers
from planner.afterwards.doubtful import state_of
from planner.afterwards.falls import act_excess_l_per_min, expected_of, most_excess_l_per_min
from planner.afterwards.gauged import Gauged
from planner.afterwards.gauges_read import labels_of
from planner.afterwards.in_use import gauged
from planner.afterwards.logbook import LastGauge, Logbook
from planner.afterwards.remarks import remarks
from planner.afterwards.rest import Rest, rests
from planner.afterwards.schedule import (
    latest_bounds,
    real_bounds,
    real_legs,
    written_flows,
)
from planner.afterwards.slips import MOST_SLIPS, slips
from planner.afterwards.stretches import Stretch, drawn_l, overall, stretches_of, watched
from planner.afterwards.vessels import Weighed, amounts, weighed
from planner.cylinders.gauge_doubt import Reading
from planner.flow.flows import Flow, flows
from planner.problems import Finding
from planner.results import Plan


@dataclass(frozen=True, slots=True)
class Lacking:
    """What a trip lacks to be closed: a cylinder's last gauge, or the word that it was shut and bled."""

    supply: str
    cylinder: str
    gauge: bool
    shut_and_bled: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """The comparison of one trip.

    `bounds_min` are the minutes at which legs really began, and the end. `overall` holds the whole of each supply that
    has more than one stretch. `rests` and `answers` say whether what is left of the trip holds; they are empty where it
    is over. `used` names the cylinders used, by supply. `missing` says what is lacking to close the trip, whether
    anybody asked for that or not. `weighed` holds the vessels of liquid that were read, `batteries` the answer for each
    battery of what is left of the trip.
    """

    plan: Plan
    log: Logbook
    bounds_min: tuple[float, ...]
    gauged: Mapping[str, Gauged]
    stretches: tuple[Stretch, ...]
    overall: tuple[Stretch, ...]
    rests: tuple[Rest, ...]
    answers: tuple[Answer, ...]
    used: Mapping[str, tuple[str, ...]]
    missing: tuple[Lacking, ...]
    findings: tuple[Finding, ...]
    weighed: tuple[Weighed, ...] = ()
    batteries: tuple[BatteryAnswer, ...] = ()

    @property
    def now_min(self) -> float:
        """The elapsed minute of the last reading."""
        return self.log.last_min if self.log.closing is None else self.log.closing.minute

    @property
    def told(self) -> tuple[Stretch | Weighed, ...]:
        """Stretches, the whole of each supply, and vessels by weight."""
        return (*self.stretches, *self.overall, *self.weighed)

    @property
    def alerts(self) -> tuple[Stretch | Weighed, ...]:
        """Stretches and wholes that were slower or faster than planned, slower ones first."""
        found = [each for each in self.told if each.verdict in ("faster", "slower")]
        return tuple(sorted(found, key=lambda stretch: stretch.verdict != "slower"))

    @property
    def holds(self) -> bool:
        """True where the rest holds as planned, as logged and as measured above both, or nothing is left of it."""
        return all(rest_.holds for rest_ in self.rests if rest_.basis not in ("at_most", "late"))

    @property
    def batteries_too_low(self) -> tuple[str, ...]:
        """The devices whose battery does not last for what is asked: no rest is a go with one of them."""
        return tuple(each.device for each in self.batteries if each.verdict == "act")

    @property
    def as_planned(self) -> bool:
        """True where nothing asks for anybody to act, or to read again."""
        return self.holds and not self.alerts and all(each.verdict == "holds" for each in self.answers + self.batteries)


def compare(plan: Plan, log: Logbook) -> Comparison:
    """Hold what the crew wrote down against the plan.

    The log is taken as checked against this plan (`planner.readings`); one of an older print is held against the plan
    that it was printed from. Raises nothing for such a log.
    """
    plan = log.printed_from or plan
    trip = plan.trip
    bounds = real_bounds(trip.legs, log)
    legs = real_legs(trip.legs, bounds)
    planned = flows(legs)
    written = written_flows(legs, log.entries) if log.tells_flows else {}
    known = gauged(plan, log)
    stretches: list[Stretch] = []
    wholes: list[Stretch] = []
    for name, whole in known.items():
        found = stretches_of(whole, planned.get(name, ()), written.get(name))
        stretches += found
        over_all = overall(whole, planned.get(name, ()), written.get(name)) if len(found) > 1 else None
        if over_all is not None and all(
            (over_all.from_min, over_all.to_min) != (one.from_min, one.to_min) for one in found
        ):
            wholes.append(over_all)
        if found:
            stretches[-1] = watched(found[-1], whole)
    stretches.sort(key=lambda stretch: (stretch.from_min, stretch.to_min))
    rest_of_trip: tuple[Rest, ...] = ()
    told: tuple[Answer, ...] = ()
    if log.closing is None:
        rest_of_trip, told = _rest_of_trip(plan, log, known, planned)
        told = tuple(_whichever_label(plan, log, known, planned, each, _no_go(rest_of_trip)) for each in told)
    used = {name: _used(plan, whole, planned.get(name, ()), bounds[-1], log) for name, whole in known.items()}
    return Comparison(
        plan=plan,
        log=log,
        bounds_min=tuple(bounds),
        gauged=known,
        stretches=tuple(stretches),
        overall=tuple(wholes),
        rests=rest_of_trip,
        answers=told,
        used=used,
        missing=(*_missing(used, log), *_unread_in_its_place(plan, known, used, log)),
        findings=tuple(remarks(plan, log, known, bounds)),
        weighed=weighed(trip, amounts(trip, log), expected_of(legs, legs, log)),
        batteries=battery_answers(trip, log) if log.closing is None else (),
    )


def _rest_of_trip(
    plan: Plan, log: Logbook, known: Mapping[str, Gauged], planned: Mapping[str, Flow]
) -> tuple[tuple[Rest, ...], tuple[Answer, ...]]:
    """The rest of a trip on every basis, and the answer for each supply."""
    legs = plan.trip.legs
    bounds = real_bounds(legs, log)
    latest = latest_bounds(legs, log, bounds)
    state, falls = state_of(plan, log, known, (bounds, latest), log.last_min)
    falls = {name: each for name, each in falls.items() if each}
    found = rests(
        state,
        {name: act_excess_l_per_min(each) for name, each in falls.items()},
        {name: most_excess_l_per_min(each) for name, each in falls.items()},
    )
    unread = {
        name for name in (*known, *state.amounts) if drawn_l(planned.get(name, ()), 0.0, log.last_min) > 0.0
    } - set(falls)
    return found, answers(found, falls, frozenset(unread))


def _whichever_label(
    plan: Plan, log: Logbook, known: Mapping[str, Gauged], planned: Mapping[str, Flow], answer: Answer, no_go: bool
) -> Answer:
    """The answer, or that it cannot be told where one label may be a slip and decides it, or that the rest is no-go.

    Where more than `MOST_SLIPS` may be slips, none is tried, and nobody can say that the trip holds.
    """
    whole = known.get(answer.supply)
    if whole is None or (answer.verdict == "cannot-tell" and not no_go):
        return answer
    found = [*islice(slips(plan, log, whole), MOST_SLIPS + 1)]
    if len(found) > MOST_SLIPS:
        last = found[-1]
        doubt = in_doubt(answer, last.read, last.meant, last.meant, log.last_min)
        return answer if answer.verdict == "act" else doubt
    for slip in found:
        again = slip.log
        rests_again, others = _rest_of_trip(plan, again, gauged(plan, again), planned)
        other = next((each for each in others if each.supply == answer.supply), answer)
        mine, its = (answer.verdict == "act", no_go), (other.verdict == "act", _no_go(rests_again))
        if mine != its and not (mine[0] and its[0]):
            worse, fails = (answer, slip.read) if mine > its else (other, slip.meant)
            return in_doubt(worse, slip.read, slip.meant, fails, log.last_min)
    return answer


def _no_go(found: Sequence[Rest]) -> bool:
    """True where the rest, as planned or as logged, is no go."""
    return any(not rest.holds for rest in found if rest.basis in ("planned", "written"))


def _used(plan: Plan, whole: Gauged, planned: Flow, end_min: float, log: Logbook) -> tuple[str, ...]:
    """The cylinders that were used: in use while something was drawn by the plan or by the gauge.

    Changes that the plan expects after the last entry of a supply count, unless the last gauge of the cylinder in use
    shows that none was needed.
    """
    end = max(end_min, log.last_min)
    found = [
        turn.label for turn in whole.in_use if drawn_l(planned, max(0.0, turn.from_low), min(end, turn.to_high)) > 0.0
    ]
    for label, readings in whole.readings.items():
        fell = (
            whole.between(label, *two, (two[0].minute, two[1].minute)) for two in pairwise(readings) if _apart(*two)
        )
        if label in whole.unlogged or any(each.lowest_l_per_min > 0.0 for each in fell):
            found.append(label)
    if found and not _still_going(whole, log):
        last = max((e.minute for e in log.entries if e.supply == whole.supply.name), default=0.0)
        order = plan.supplies[whole.supply.name].order
        known = set(labels_of(whole.supply))
        found += [turn.cylinder for turn in order if turn.to_min > turn.from_min > last and turn.cylinder in known]
    return tuple(dict.fromkeys(found))


def _apart(first: Reading, second: Reading) -> bool:
    return second.minute > first.minute and not second.refilled


def _still_going(whole: Gauged, log: Logbook) -> bool:
    """True where the closing has the cylinder in use above change-over: nobody had to change it."""
    current = whole.current
    if current is None or log.closing is None:
        return log.closing is None
    reading = whole.readings.get(current, [])
    least = whole.policy.change_over_at_kpa + whole.policy.gauge_allowance_kpa
    told = (last for last in log.closing.last if last.supply == whole.supply.name and not last.refilled)
    return any(last.cylinder == current for last in told) and (reading[-1].gauge_kpa > least + reading[-1].read_to_kpa)


def _missing(used: Mapping[str, tuple[str, ...]], log: Logbook) -> list[Lacking]:
    """What is lacking for every cylinder used."""
    last: dict[tuple[str, str], LastGauge] = {}
    if log.closing is not None:
        last = {(each.supply, each.cylinder): each for each in log.closing.last}
    found = []
    for supply, labels in used.items():
        for label in labels:
            each = last.get((supply, label))
            if each is None or not each.shut_and_bled:
                found.append(Lacking(supply, label, gauge=each is None, shut_and_bled=True))
    return found


def _unread_in_its_place(
    plan: Plan, known: Mapping[str, Gauged], used: Mapping[str, tuple[str, ...]], log: Logbook
) -> Iterator[Lacking]:
    """The cylinder that the plan has in use first, where the log has others alone and nobody read it.

    One label may stand for the other: then it is this one that is nearly empty, and its store says that it is full. Of
    a store only where none of its readings is of later than the departure: else it may not be the one taken along.
    """
    read = {(entry.supply, entry.cylinder) for entry in log.entries if entry.gauge_kpa is not None and entry.minute > 0}
    read |= {(last.supply, last.cylinder) for last in (() if log.closing is None else log.closing.last)}
    departs = plan.trip.departs
    for name, whole in known.items():
        first = next((turn.cylinder for turn in plan.supplies[name].order if turn.to_min > turn.from_min), None)
        if first is None or whole.supply.kind == "manifold" or not used[name] or first in used[name]:
            continue
        store = whole.supply.store or ()
        as_it_was = departs is not None and all(one.checked is None or one.checked <= departs for one in store)
        if (name, first) not in read and (not store or as_it_was):
            yield Lacking(name, first, gauge=True, shut_and_bled=False)
