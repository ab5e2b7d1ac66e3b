"""Until when a plan can be broken off: by going back over the legs done, or by diverting.

Going back at minute t draws once more, from each supply, what it gave until t: over the legs done, in reverse, each on
its own supply, for the time spent in it; those done before a trip was planned again on its way count too. A diversion
draws the flow of its leg for the time it takes, and then the handover time on what carries the patient on: a portable
supply itself, for a vehicle or a wall its backup. Either may be done while every supply, its spare withheld, still
holds reserve_time at its last flow on that way, the higher of the planned and the risen one. A vessel of liquid goes on
losing beyond the longest trip, for which its loss was counted. A battery bears both ways while

    battery_factor x time on battery, there and back, <= battery

of every device, by its planned times; after a diversion it is taken to be on battery for the handover time too. More
time spent never leaves more, so that each choice has one last minute.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from math import fsum, inf
from typing import NamedTuple

from planner import figures
from planner.cylinders.boiling import later_loss_l, loss_l_per_min
from planner.cylinders.course import Underway
from planner.cylinders.depletion import all_serve
from planner.cylinders.onhand import OnHand
from planner.cylinders.ways import carried, planned
from planner.flow.flows import Flow, Segment, final_uses, flows, litres, peak_l_per_min, until
from planner.go.batteries import left_min, minute_spent, planned_min, said
from planner.go.sizing import layers, noise_l, spares, time_reserve, without_largest
from planner.go.whatifs.scenario import with_air_at_hand
from planner.go.worked import Worked
from planner.model import Leg, Supply, Trip, Use, timed
from planner.results import TurnBack

_FINE_MIN = 1e-4


class _Return(NamedTuple):
    """What one supply is asked for: its flow until a minute not before `from_min`, back again or not, then `after`.

    `more_min`: how long all of it goes on beyond the way there and, of a way back, as long again.
    """

    flow: Flow
    back: bool
    after: Flow
    from_min: float
    end_min: float
    more_min: float


class _Last(NamedTuple):
    """The last minute of a choice, `inf` for the end of the trip or leg, None where there is none; and what decides."""

    minute: float | None
    supply: str | None = None
    battery: str | None = None


def turn_backs(trip: Trip, every: Mapping[str, Worked]) -> tuple[TurnBack, ...]:
    """The window for turning back, common to all supplies, and one for each diversion; none where no minute allows it.

    `every`: each supply of the trip.
    """
    found = []
    last = _earliest((*_back(trip, every), *_back_on_battery(trip)), trip.total_min)
    if last.minute is not None:
        found.append(TurnBack(None, None, 0.0, last.minute, None, last.supply, last.battery))
    for index, leg, start, end in timed(trip.legs):
        if leg.divert is not None:
            away_min = leg.divert.time_min
            last = _earliest(
                (*_away(trip, index, start, away_min, every), *_away_on_battery(trip, index, start, away_min)), end
            )
            if last.minute is not None and _holds_a_minute(start, last.minute):
                what = last.supply, last.battery
                found.append(TurnBack(leg.divert.to, leg.name, start, last.minute, away_min, *what))
    return tuple(found)


def _holds_a_minute(from_min: float, to_min: float) -> bool:
    """True where a whole minute lies in a window: without one, what is printed would end before it begins."""
    return figures.steps_up(from_min, 1.0) <= figures.steps_down(to_min, 1.0)


def _earliest(lasts: Iterable[_Last], end_min: float) -> _Last:
    """The first of several, in the order given; without a minute where one bears the choice at none."""
    found, minute = _Last(end_min), end_min
    for last in lasts:
        if last.minute is None:
            return last
        if last.minute < minute:
            found, minute = last, last.minute
    return found


def _back_on_battery(trip: Trip) -> Iterator[_Last]:
    """Each battery of which is said how long it lasts, with the last minute at which it bears the way back."""
    for name, one in said((*trip.legs, *trip.gone)).items():
        out_min = fsum(planned_min(leg, name) for leg in trip.gone)
        left = left_min(trip, one) - out_min
        if name not in said(trip.legs):
            left -= out_min  # at work in the legs gone alone, so that what it has given stands nowhere else
        yield _bearing(trip.legs, name, left, 0.0, times=2.0)


def _away_on_battery(trip: Trip, index: int, start_min: float, time_min: float) -> Iterator[_Last]:
    """Each battery at work in a leg, with the last minute of the leg at which it bears a diversion."""
    leg = trip.legs[index]
    for name, one in said((leg,)).items():
        left = left_min(trip, one) - fsum(planned_min(each, name) for each in trip.legs[:index])
        left -= trip.policy.handover_time_min + (0.0 if leg.mains else time_min)
        yield _bearing((leg,), name, left, start_min)


def _bearing(legs: Sequence[Leg], device: str, left_min: float, start_min: float, times: float = 1.0) -> _Last:
    """The last minute of legs at which so many minutes of a battery are not yet spent."""
    minute = minute_spent(legs, device, left_min, times)
    return _Last(None if left_min < 0.0 else inf if minute is None else start_min + minute, battery=device)


def _back(trip: Trip, every: Mapping[str, Worked]) -> Iterator[_Last]:
    """Each supply that can run out, with the last minute at which it bears the way back."""
    risen = flows(trip.legs, [_risen(trip, leg.uses) for leg in trip.legs])
    done = flows(trip.gone)
    risen_done = flows(trip.gone, [_risen(trip, leg.uses) for leg in trip.gone])
    for name, one in every.items():
        flow, gone = one.flow, done.get(name, ())
        if trip.supplies[name].kind == "pipeline" or not (flow or gone):
            continue
        first, its_risen = (gone[0], risen_done) if gone else (flow[0], risen)
        of_leg = _of_leg(gone or flow, first.leg)
        peak = max(peak_l_per_min(of_leg), peak_l_per_min(_of_leg(its_risen.get(name, ()), first.leg)))
        reserve = time_reserve(first.leg, peak, first.asks, layers(trip.supplies[name], trip.policy))
        from_min = 0.0 if gone else first.start_min
        more_min = trip.policy.reserve_time_min + fsum(leg.total_min for leg in trip.gone)
        minute = _latest(one, _Return(flow, True, (*reversed(gone), reserve), from_min, trip.total_min, more_min))
        if minute is None and from_min > 0.0:
            minute = first.start_min  # before it comes into use nothing is asked of it
        yield _Last(minute, name)


def _away(trip: Trip, index: int, start_min: float, time_min: float, every: Mapping[str, Worked]) -> Iterator[_Last]:
    """Each supply that a diversion from a leg draws on, with the last minute of the leg at which it bears it."""
    leg = trip.legs[index]
    handed = tuple(
        Use(
            with_air_at_hand(trip, use.device, trip.legs[: index + 1]),
            _carried_on(trip, index, use.supply),
            None,
            use.where,
        )
        for use in final_uses(leg)
    )
    waiting = flows((leg._replace(duration_min=1.0, delays=(), uses=handed),))
    risen_way, risen_wait = (
        flows((leg._replace(duration_min=1.0, delays=(), uses=_risen(trip, uses)),)) for uses in (leg.uses, handed)
    )
    for name in dict.fromkeys((*leg.supplies, *waiting)):
        if trip.supplies[name].kind == "pipeline":
            continue
        flow = every[name].flow
        parts = [*_of_leg(flow, index), *waiting.get(name, ())]
        peak = peak_l_per_min((*parts, *risen_way.get(name, ()), *risen_wait.get(name, ())))
        after = []
        if here := _of_leg(flow, index):
            after.append(Segment(0.0, time_min, index, peak_l_per_min(here), here[0].asks))
        after += [s._replace(end_min=s.start_min + trip.policy.handover_time_min) for s in waiting.get(name, ())]
        after.append(time_reserve(index, peak, parts[-1].asks, layers(trip.supplies[name], trip.policy)))
        more_min = time_min + trip.policy.handover_time_min + trip.policy.reserve_time_min
        way = _Return(flow, False, tuple(after), start_min, start_min + leg.total_min, more_min)
        yield _Last(_latest(every[name], way), name)


def _of_leg(flow: Flow, leg: int) -> Flow:
    return tuple(segment for segment in flow if segment.leg == leg)


def _risen(trip: Trip, uses: Sequence[Use]) -> tuple[Use, ...]:
    return tuple(
        use if use.device.may_rise_to is None else use._replace(device=trip.devices[use.device.may_rise_to])
        for use in uses
    )


def _carried_on(trip: Trip, index: int, name: str) -> str:
    """The supply that carries a device on after a diversion.

    A portable one itself; else the backup, the last portable one used so far, or the only one of the trip; where there
    is nothing else the patient waits on the same.
    """
    supply = trip.supplies[name]
    if supply.portable:
        return name
    if supply.backup is not None:
        return supply.backup
    used = [use.supply for leg in reversed((*trip.gone, *trip.legs[: index + 1])) for use in leg.uses]
    portable = [other for other in used if trip.supplies[other].portable and trip.supplies[other].gas == "oxygen"]
    every = [other.name for other in trip.supplies.values() if other.portable and other.gas == "oxygen"]
    return portable[0] if portable else every[0] if len(every) == 1 else name


def _latest(one: Worked, way: _Return) -> float | None:
    """The last minute at which a supply bears a way, `inf` where always; None where not even at `from_min`."""
    stock = one.stock
    if stock is None:
        return None
    leave_out = spares(one.task.supply, one.task.policy)
    if all_serve(stock.serving, way.flow, way.after):
        return _while_it_boils(one.task.supply, without_largest(stock.usable_l, leave_out), way)
    on_plan = Underway([tank.usable_l for tank in stock.tanks], stock.serving, one.task.no_change, way=one.way)
    return _by_search([on_plan, *(_without_spare(one, each) for each in _withheld(stock, leave_out))], way)


def _without_spare(one: Worked, stock: OnHand) -> Underway:
    """A course that is to begin as planned, had the spare been set aside."""
    course = Underway([tank.usable_l for tank in stock.tanks], stock.serving, one.task.no_change)
    planned(course, one.flow)
    return course


def _while_it_boils(supply: Supply, have_l: float, way: _Return) -> float | None:
    """`_by_litres`, less what a vessel loses after its loss was counted."""
    if loss_l_per_min(supply) <= 0.0:
        return _by_litres(have_l, way)

    def bears(minute: float) -> bool:
        lost_l = later_loss_l(supply, (2.0 if way.back else 1.0) * minute + way.more_min)
        by_litres = _by_litres(have_l - lost_l, way)
        return by_litres is not None and by_litres >= minute

    return _by_halving(bears, way)


def _by_litres(have_l: float, way: _Return) -> float | None:
    """Where every cylinder carries all that is asked for, the sum of litres decides."""
    times = 2.0 if way.back else 1.0
    left = have_l - litres(way.after) - times * litres(until(way.flow, way.from_min))
    if left < -noise_l(have_l):
        return None
    for segment in way.flow:
        start = max(segment.start_min, way.from_min)
        wanted = times * segment.flow_l_per_min * max(0.0, segment.end_min - start)
        if wanted > left + noise_l(have_l):
            return min(way.end_min, start + max(0.0, left) / (times * segment.flow_l_per_min))
        left -= wanted
    return inf


def _withheld(stock: OnHand, leave_out: int) -> list[OnHand]:
    """The stock without its spare: of each kind of cylinder the largest is tried, since a smaller may matter more."""
    stocks = [stock]
    for _ in range(min(leave_out, len(stock.each))):
        stocks = [one.without(index) for one in stocks for index in one.largest_of_each_kind()]
    return stocks


def _by_search(courses: Sequence[Underway], way: _Return) -> float | None:
    """Where outlets differ. Until the minute it goes as planned; then nobody foresaw it."""

    def bears(minute: float) -> bool:
        gone = until(way.flow, minute)
        asked = _end_to_end((*(reversed(gone) if way.back else ()), *way.after), minute)
        return all(_lasts(course, way.flow, gone, asked) for course in courses)

    return _by_halving(bears, way)


def _by_halving(bears: Callable[[float], bool], way: _Return) -> float | None:
    """The last minute at which a way is borne, from below, `inf` where always; None where not even at `from_min`."""
    if not bears(way.from_min):
        return None
    if bears(way.end_min):
        return inf
    low, high = way.from_min, way.end_min
    while high - low > _FINE_MIN:
        middle = (low + high) / 2.0
        low, high = (middle, high) if bears(middle) else (low, middle)
    return low


def _end_to_end(segments: Iterable[Segment], minute: float) -> Flow:
    found = []
    for segment in segments:
        end = minute + segment.end_min - segment.start_min
        found.append(segment._replace(start_min=minute, end_min=end))
        minute = end
    return tuple(found)


def _lasts(course: Underway, flow: Flow, gone: Flow, asked: Flow) -> bool:
    course = course.fork()
    course.follow(gone, flow)
    course.mind_no_stretch()
    return carried(course, asked, lambda way: way.follow(asked, ())).out is None
