"""Random trips planned again on their way, each acted out to its end as it truly goes on.

    python -m tests.onward_with_truth            # 1000 trips, some minutes
    python -m tests.onward_with_truth 200 5000   # with seeds from 5000

A trip is played minute by minute with true cylinders; the crew write readings, leave some out, and plan again with what
they wrote. Then the trip goes on at the rate that is true, and every promise of the new plan is held against it: GO,
how long each supply lasts, the gauges to leave with, the delay that empties a supply, and the last minute to turn back
or to divert. Nothing here is the planner's but the reading of profiles and logs: contents come from the published
density of oxygen (R. Schmidt and W. Wagner, Fluid Phase Equilibria 1985;19:175-200, as computed by CoolProp).

A promise is held where the log can show what is wrong: the leak or rise began before the last reading but one, and both
readings, ten minutes apart or more, carry the label of the one cylinder in use and differ by two divisions more than
planned; or the flow is written down. The doubt that is left is half a division of the last reading. Invented scenario,
fixed seeds:

- one to four legs of 12 to 45 min at 2 to 12 L/min on a cart of E cylinders, one after another or all on one gauge,
  and on a vehicle with M cylinders; some legs with a place to divert to;
- four of ten leak by 1 to 10 L/min while they are in use; two of ten have a flow raised by 1 to 6 L/min, written down
  or not; one of five is late in the leg under way, and says how much of it is left;
- a cylinder is changed at change-over, with or without a word; one reading of thirty carries the label of another; the
  trip is planned again at the last reading or some minutes later;
- a third take place in the cold or the heat, which the profile says.
"""

from __future__ import annotations

import random
import sys
from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from planner.afterwards.onward import Now
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.readings.onward import again
from planner.results import Plan
from planner.text.source import loads
from tests.published.fit_gas import published_density_kg_per_m3

KPA_PER_PSI: Final = 6.894757293168361  # NIST SP 811
AIR_KPA: Final = 101.325
CHANGE_PSI: Final = 500
DIVISION_PSI: Final = 100
FULL_L: Final = {"US-E": (616.0, 2200), "US-M": (3432.0, 2200)}
"""Litres of a cylinder at a gauge: factors 0.28 and 1.56 L/psi, respiratory care textbooks."""
FINE_L: Final = 0.5
"""What interpolating the published density may be off, and the planner's 0.1 % of it."""


@lru_cache(maxsize=8)
def densities(degc: float) -> tuple[list[float], list[float]]:
    """Gauges every 20 psi and the published density of oxygen at each, less that of an empty cylinder."""
    gauges = [20.0 * step for step in range(126)]
    found = [float(published_density_kg_per_m3(psi * KPA_PER_PSI + AIR_KPA, degc)) for psi in gauges]
    return gauges, [each - found[0] for each in found]


def _between(xs: list[float], ys: list[float], x: float) -> float:
    place = min(max(bisect_left(xs, x), 1), len(xs) - 1)
    share = (x - xs[place - 1]) / (xs[place] - xs[place - 1])
    return ys[place - 1] + share * (ys[place] - ys[place - 1])


def litres(size: str, psi: float, degc: float = 21.1) -> float:
    """What a cylinder holds at a gauge."""
    full_l, full_psi = FULL_L[size]
    return full_l * _between(*densities(degc), psi) / _between(*densities(21.1), full_psi)


def gauge(size: str, held_l: float, degc: float) -> float:
    """What the gauge of a cylinder shows, psi."""
    full_l, full_psi = FULL_L[size]
    psi, density = densities(degc)
    return _between(density, psi, held_l / full_l * _between(*densities(21.1), full_psi))


@dataclass
class Tank:
    """One true cylinder, or all of a manifold as one."""

    label: str
    size: str
    held_l: float
    many: int = 1


@dataclass
class Leg:
    """A leg as planned, and how long it truly takes."""

    supply: str
    minutes: int
    flow: float
    divert_min: int | None = None
    late_min: int = 0


@dataclass
class World:
    """A trip as it is, and what was written down of it."""

    legs: list[Leg]
    tanks: dict[str, list[Tank]]
    degc: float
    leak: float
    leak_from: int
    rise: float
    rise_from: int
    faulty: str
    share: float
    entries: list[str] = field(default_factory=list)
    reads: dict[str, list[tuple[int, str, float, bool]]] = field(default_factory=dict)
    """Of each supply: minute, label in use, what it gave in all by then, and whether that very label was written."""
    given: dict[str, float] = field(default_factory=dict)
    written: bool = False
    degc_written: bool = True

    def leg_at(self, minute: int) -> int:
        """The leg under way in the minute that begins then."""
        end = 0
        for number, leg in enumerate(self.legs):
            end += leg.minutes + leg.late_min
            if minute < end:
                return number
        return len(self.legs)

    def above(self, supply: str, minute: float) -> float:
        """The leak and the rise on a supply, L/min."""
        if supply != self.faulty:
            return 0.0
        return self.leak * (minute >= self.leak_from) + self.rise * (minute >= self.rise_from)

    def usable(self, supply: str) -> float:
        """What the cylinders of a supply give until change-over."""
        floor = {size: litres(size, CHANGE_PSI, self.degc) for size in FULL_L}
        return sum(max(0.0, tank.held_l - tank.many * floor[tank.size]) for tank in self.tanks[supply])


def profile(world: World, setting: str, chance: random.Random) -> str:
    """The profile of a trip before departure."""
    lines = ["profile: 1", "trip: Invented", "reference: T-1", f"setting: {setting}", "supplies:"]
    warm = [] if world.degc == 21.1 else [f"    temperature: {world.degc:g} degC", f"    coldest: {world.degc:g} degC"]
    for name, tanks in world.tanks.items():
        lines += [f"  {name}:", *warm]
        lines += ["    fixed: true", "    backup: cart"] if name == "van" else []
        lines += ["    manifold: true"] if tanks[0].many > 1 else []
        lines += ["    outlets: [{flowmeter: 15 L/min}]", "    cylinders:"]
        for tank in tanks:
            psi = chance.randrange(1500, 2151, 50)
            tank.held_l = tank.many * litres(tank.size, psi, world.degc)
            labels = tank.label.split("+")
            lines += [f"      - {{label: {label}, size: {tank.size}, gauge: {psi} psi}}" for label in labels]
    lines += ["devices:", *(f"  m{n}: {{type: simple_mask, flow: {f} L/min}}" for n, f in enumerate(flows(world)))]
    lines.append("legs:")
    for number, leg in enumerate(world.legs, start=1):
        mask = f"m{flows(world).index(f'{leg.flow:g}')}"
        away = "" if leg.divert_min is None else f", divert: {{to: clinic {number}, time: {leg.divert_min} min}}"
        lines.append(
            f"  - {{name: leg {number}, duration: {leg.minutes} min, supply: {leg.supply}, devices: [{mask}]{away}}}"
        )
    return "\n".join(lines) + "\n"


def flows(world: World) -> list[str]:
    """The flows of a trip, each once."""
    return sorted({f"{leg.flow:g}" for leg in world.legs})


def made_world(chance: random.Random) -> World:
    """A trip that goes otherwise than planned."""
    legs = [
        Leg("cart", chance.randrange(12, 46), float(chance.randrange(2, 13)))
        for _ in range(chance.choice((1, 2, 2, 3, 4)))
    ]
    if len(legs) > 1 and chance.random() < 0.5:
        legs[chance.randrange(len(legs))].supply = "van"
    for leg in legs:
        leg.divert_min = chance.randrange(5, 26) if chance.random() < 0.3 else None
    if chance.random() < 0.2:
        legs[chance.randrange(len(legs))].late_min = chance.randrange(5, 26)
    together = chance.random() < 0.2
    count = chance.randrange(2, 5) if together else chance.randrange(2, 6)
    cart = (
        [Tank("+".join(f"E{n}" for n in range(count)), "US-E", 0.0, count)]
        if together
        else [Tank(f"E{n}", "US-E", 0.0) for n in range(count)]
    )
    used = {leg.supply for leg in legs} | {"cart"}
    total = sum(leg.minutes for leg in legs)
    leaks, rises = chance.random() < 0.4, chance.random() < 0.2
    return World(
        legs,
        {"cart": cart}
        | ({"van": [Tank(f"M{n}", "US-M", 0.0) for n in range(chance.choice((1, 2)))]} if "van" in used else {}),
        chance.choice((21.1, 21.1, 21.1, 21.1, -10.0, 35.0)),
        chance.uniform(1.0, 10.0) if leaks else 0.0,
        chance.randrange(total) if leaks else 10_000,
        float(chance.randrange(1, 7)) if rises else 0.0,
        chance.randrange(total) if rises else 10_000,
        chance.choice(sorted({leg.supply for leg in legs})),
        chance.uniform(0.93, 1.0),
        degc_written=chance.random() < 0.6,
    )


def played(world: World, chance: random.Random) -> tuple[int, int, int] | None:
    """Plays a trip until it is planned again: the minute, the leg, the minutes to go in it; None where it is over."""
    total = sum(leg.minutes + leg.late_min for leg in world.legs)
    stop = chance.randrange(min(20, total - 2), total - 1)
    step = chance.choice((6, 10, 12, 15, 20))
    current = dict.fromkeys(world.tanks, 0)
    says = chance.random() < 0.7
    minute, begun = 0, 0
    while True:
        leg = world.leg_at(minute)
        if leg >= len(world.legs):
            return None
        if leg != begun:
            _write(world, chance, minute, begun, current, at="end")
            _write(world, chance, minute, leg, current, at="start")
            begun = leg
        elif minute and minute % step == 0 and chance.random() < 0.85:
            _write(world, chance, minute, leg, current, says=says)
            if minute >= stop:
                break
        minute += 1
        if not _drawn(world, chance, minute, world.legs[leg], current):
            return None
    for _ in range(chance.choice((0, 0, 3, 8))):
        if world.leg_at(minute) != begun:
            break
        now = world.legs[begun]
        world.tanks[now.supply][current[now.supply]].held_l -= now.flow * world.share + world.above(now.supply, minute)
        minute += 1
    if world.leg_at(minute) >= len(world.legs):
        return None
    end = sum(each.minutes + each.late_min for each in world.legs[: world.leg_at(minute) + 1])
    for name, at in current.items():
        tanks = world.tanks[name]
        world.tanks[name] = [*tanks[at:], *tanks[:at]]
    return minute, world.leg_at(minute), end - minute


def _drawn(world: World, chance: random.Random, minute: int, leg: Leg, current: dict[str, int]) -> bool:
    """Draws the minute that ends now, and changes a cylinder that is down to change-over; False where none is left."""
    name = leg.supply
    tank = world.tanks[name][current[name]]
    drawn = leg.flow * world.share + world.above(name, minute - 1)
    tank.held_l -= drawn
    world.given[name] = world.given.get(name, 0.0) + drawn
    if tank.held_l > tank.many * litres(tank.size, CHANGE_PSI, world.degc):
        return True
    current[name] += 1
    if current[name] >= len(world.tanks[name]):
        return False
    if chance.random() < 0.7:
        more = f", change_to: {world.tanks[name][current[name]].label}"
        _line(world, minute, name, tank.label, _shown(world, tank), more)
    return True


def _shown(world: World, tank: Tank) -> float:
    """What the crew read: to the nearest division."""
    return DIVISION_PSI * round(gauge(tank.size, tank.held_l / tank.many, world.degc) / DIVISION_PSI)


def _line(world: World, minute: int, name: str, label: str, psi: float, more: str = "") -> None:
    first = label.split("+", maxsplit=1)[0]
    degc = f", temperature: {world.degc:g} degC" if world.degc_written and world.degc != 21.1 else ""
    world.entries.append(
        f"  - {{time: {minute} min, supply: {name}, cylinder: {first}, gauge: {psi:g} psi{more}{degc}}}"
    )


def _write(
    world: World,
    chance: random.Random,
    minute: int,
    leg: int,
    current: dict[str, int],
    *,
    at: str = "",
    says: bool = True,
) -> None:
    """A reading of the cylinder in use."""
    name = world.legs[leg].supply
    tank = world.tanks[name][current[name]]
    others = [each.label for each in world.tanks[name] if each is not tank]
    label = chance.choice(others) if others and chance.random() < 1 / 30 else tank.label
    more = f", leg: {leg + 1}" if says or at else ""
    more += f", at: {at}" if at else ""
    if name == world.faulty and minute >= world.rise_from and not world.written and chance.random() < 0.6:
        more += f", flow: {world.legs[leg].flow + world.rise:g} L/min"
        world.written = True
    _line(world, minute, name, label, _shown(world, tank), more)
    world.reads.setdefault(name, []).append((minute, tank.label, world.given.get(name, 0.0), label == tank.label))


def shows(world: World, minute: int) -> bool:
    """Whether the log can show what is wrong: by the model's rule, from the last reading but one to the last."""
    began = [
        each for each in (world.leak_from * (world.leak > 0), world.rise_from * (world.rise > 0)) if 0 < each <= minute
    ]
    if not began and (world.leak_from > minute or not world.leak) and (world.rise_from > minute or not world.rise):
        return True
    if not world.leak and world.written:
        return True
    reads = world.reads.get(world.faulty, [])
    if len(reads) < 2 or not all(right for *_, right in reads):
        return False
    size, many = world.tanks[world.faulty][0].size, world.tanks[world.faulty][0].many
    two = 2.0 * DIVISION_PSI * many * FULL_L[size][0] / FULL_L[size][1] * 1.1
    (start, label, first, _), (end, same, second, _) = reads[-2:]
    planned = sum(
        world.legs[world.leg_at(at)].flow
        for at in range(start, end)
        if world.legs[world.leg_at(at)].supply == world.faulty
    )
    planned += world.rise * (end - start) * world.written
    if world.degc != 21.1 and not world.degc_written:
        return False
    return label == same and end - start >= 10 and max(began, default=0) <= start and second - first - planned >= two


@dataclass(frozen=True)
class Acted:
    """What came of a trip: `broken` are the promises that did not hold."""

    kind: str
    broken: tuple[str, ...] = ()


def acted(seed: int) -> Acted:
    """One trip, planned again and acted out."""
    chance = random.Random(f"onward {seed}")  # noqa: S311 - repeatable, not secret
    world = made_world(chance)
    text = profile(world, chance.choice(("in_house", "road")), chance)
    first = plan(parse_trip(text))
    found = played(world, chance)
    if found is None:
        return Acted("over")
    minute, leg, to_go = found
    root = loads("readings: 1\nlog:\n" + "\n".join(world.entries) + "\n", "log.yaml").root
    late = any(each.late_min for each in world.legs[: leg + 1])
    told = late or chance.random() < 0.5
    try:
        trip = again(first, root, "log.yaml", Now(float(minute), leg if told else None, float(to_go) if told else None))
    except ProblemsError as error:
        return Acted(f"refused: {error.problems[0].code}")
    made = plan(trip)
    if not shows(world, minute):
        return Acted("not to be seen")
    return Acted("go" if made.go else "no-go", tuple(Onwards(world, made, minute, leg, to_go).broken()))


@dataclass
class Onwards:
    """The rest of a trip as it truly goes on, held against its new plan."""

    world: World
    made: Plan
    minute: int
    leg: int
    to_go: int

    def rest(self) -> list[tuple[str, float, float]]:
        """Supply, minutes and true rate of what is left."""
        legs = self.world.legs[self.leg :]
        minutes = [float(self.to_go), *(float(leg.minutes) for leg in legs[1:])]
        return [(leg.supply, m, self.rate(leg)) for leg, m in zip(legs, minutes, strict=True)]

    def gone(self) -> list[tuple[str, float, float]]:
        """The same of what lies behind, in the order in which it went."""
        found, left = [], float(self.minute)
        for leg in self.world.legs[: self.leg + 1]:
            minutes = min(left, float(leg.minutes + leg.late_min))
            found.append((leg.supply, minutes, self.rate(leg)))
            left -= minutes
        return found

    def rate(self, leg: Leg) -> float:
        """What is true now of a leg, L/min."""
        return leg.flow * self.world.share + self.world.above(leg.supply, self.minute)

    def doubt_l(self, supply: str) -> float:
        """Half a division of the last reading of the cylinder in use."""
        tank = self.world.tanks[supply][0]
        return tank.many * DIVISION_PSI / 2 * FULL_L[tank.size][0] / FULL_L[tank.size][1] * 1.12 + FINE_L

    def after(self, way: list[tuple[str, float, float]]) -> dict[str, float]:
        """Litres left of each supply after a way."""
        left = {name: self.world.usable(name) for name in self.world.tanks}
        for supply, minutes, rate in way:
            left[supply] -= minutes * rate
        return left

    def until(self, minute: float) -> list[tuple[str, float, float]]:
        """The rest, broken off at a minute of the new plan."""
        found, left = [], minute
        for supply, minutes, rate in self.rest():
            found.append((supply, min(minutes, left), rate))
            left -= min(minutes, left)
        return [each for each in found if each[1] > 0.0]

    def broken(self) -> list[str]:
        """Every promise that does not hold."""
        found = []
        left = self.after(self.rest())
        for name in {supply for supply, *_ in self.rest()}:
            supply = self.made.supplies[name]
            if self.made.go and left[name] < 0.0:
                found.append(f"GO, and {name} lacks {-left[name]:.0f} L")
            if supply.lasts_min is not None:
                true = self.lasts(name)
                if supply.lasts_min > true + self.doubt_l(name) / self.last_rate(name) + 0.1:
                    found.append(f"{name} lasts {true:.1f} min, said {supply.lasts_min:.1f}")
        return [*found, *self.windows(), *self.delays(), *self.gauges()]

    def last_rate(self, name: str) -> float:
        """The rate in the last leg on a supply."""
        return [rate for supply, _, rate in self.rest() if supply == name][-1]

    def lasts(self, name: str) -> float:
        """When a supply ends if its last leg never does, in minutes of the new plan."""
        left, now = self.world.usable(name), 0.0
        on = [place for place, (supply, *_) in enumerate(self.rest()) if supply == name]
        for place, (supply, minutes, rate) in enumerate(self.rest()):
            if supply == name:
                if place == on[-1] or left < minutes * rate:
                    return now + max(0.0, left) / rate
                left -= minutes * rate
            now += minutes
        raise AssertionError(name)

    def windows(self) -> list[str]:
        """The last minute to turn back or to divert: every supply then still has something for its reserve."""
        found = []
        reserve = self.made.trip.policy.reserve_time_min
        handover = self.made.trip.policy.handover_time_min
        for window in self.made.turn_backs:
            way = self.until(window.to_min)
            if window.to is None:
                way = [*way, *reversed(way), *reversed(self.gone())]
            else:
                number = int(window.to.removeprefix("clinic ")) - 1
                leg = self.world.legs[number]
                way += [(leg.supply, window.time_min or 0.0, self.rate(leg)), ("cart", handover, leg.flow)]
            left = self.after(way)
            for name in dict.fromkeys(supply for supply, *_ in way):
                last = [rate for supply, _, rate in way if supply == name][-1]
                least = reserve * min(last, *(leg.flow for leg in self.world.legs if leg.supply == name or window.to))
                if left[name] + self.doubt_l(name) < least:
                    what = "turn back" if window.to is None else "divert"
                    found.append(f"{what} at {window.to_min:.1f}: {name} then has {left[name]:.0f} L, not {least:.0f}")
        return found

    def delays(self) -> list[str]:
        """The delay that empties a supply never comes sooner than said."""
        found = []
        for delay in self.made.breaking_delays:
            way = self.rest()
            supply, minutes, rate = way[delay.leg_index]
            if supply != delay.supply or delay.minutes <= 0.0:
                continue
            way[delay.leg_index] = (supply, minutes + delay.minutes, rate)
            lacking = -self.after(way)[supply] - self.doubt_l(supply)
            if lacking > 0.0:
                found.append(f"a delay of {delay.minutes:.1f} min in leg {delay.leg}: {supply} lacks {lacking:.0f} L")
        return found

    def gauges(self) -> list[str]:
        """Departing with the gauges of the new card, what was planned again is carried."""
        found = []
        floors = {size: litres(size, CHANGE_PSI, self.world.degc) for size in FULL_L}
        need: dict[str, float] = {}
        for supply, minutes, rate in self.rest():
            need[supply] = need.get(supply, 0.0) + minutes * rate
        for name, wanted in need.items():
            have = 0.0
            for one in self.made.supplies[name].cylinders:
                if one.start_at_least_kpa is None:
                    break
                size = "US-M" if name == "van" else "US-E"
                have += max(0.0, litres(size, one.start_at_least_kpa / KPA_PER_PSI, self.world.degc) - floors[size])
            else:
                if have + FINE_L < wanted:
                    found.append(f"leaving {name} with its least gauges: {have:.0f} L for {wanted:.0f}")
        return found


def counted(number: int, first: int = 0) -> tuple[Counter[str], dict[int, tuple[str, ...]]]:
    """How so many trips came out, and those with a promise that did not hold, by seed."""
    kinds: Counter[str] = Counter()
    broken = {}
    for seed in range(first, first + number):
        found = acted(seed)
        kinds[found.kind] += 1
        if found.broken:
            broken[seed] = found.broken
    return kinds, broken


def main(number: int = 1000, first: int = 0) -> None:
    """Print how they came out."""
    kinds, broken = counted(number, first)
    for kind, count in kinds.most_common():
        print(f"{count:5} {kind}")
    for seed, told in broken.items():
        print(seed, "; ".join(told))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
