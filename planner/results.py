"""What a plan says, as frozen plain data; every number is unrounded.

`planner.planning` fills these classes, `planner.report` puts them into words, tables and JSON. Pressures are
gauge pressures in kPa as indicated, times are elapsed minutes from departure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, NamedTuple

from planner.model import Accepted, Cylinder, Supply, Trip
from planner.problems import Finding

GO_BY_DECISION = "go-by-decision"
"""The verdict where nothing but what a clinician accepts stands against a go."""


class LedgerLine(NamedTuple):
    """What one device draws from one supply in one leg: litres = flow x minutes."""

    leg: str
    device: str
    device_type: str
    flow_l_per_min: float
    minutes: float
    litres: float
    formula: str
    """The demand formula with the numbers put in, for example `(7.2 + 0 + 0) x 0.4937 + 0.5 = 4.054`."""
    patient: str | None = None


class CylinderPlan(NamedTuple):
    """One cylinder on hand: what it holds and gives.

    `usable_l` ignores outlets; `serves` tells whether its outlets carry at least one leg on its supply,
    `unfit` why not, or which leg not. `hand_usable_l` is the hand method, (gauge - change-over) x factor.
    `start_at_least_kpa` is its reading in the one set with which to depart, safe together with those of all others;
    None for a no-go. `go_at_kpa` is, for a no-go, the reading of this cylinder alone that would mend it.
    `change_at_kpa` is the gauge as indicated at which nothing usable is left, higher than change-over in the cold.
    """

    cylinder: Cylinder
    contents_l: float
    residual_l: float
    usable_l: float
    hand_usable_l: float
    read_degc: float
    cold_degc: float
    serves: bool
    unfit: str | None
    start_at_least_kpa: float | None
    go_at_kpa: float | None = None
    change_at_kpa: float | None = None


class Order(NamedTuple):
    """A cylinder in use from one minute to another, with the gauge expected at both."""

    cylinder: str
    from_min: float
    to_min: float
    gauge_start_kpa: float
    gauge_end_kpa: float


class ChangeOver(NamedTuple):
    """A change from one cylinder to the next, at the minute at which hands make it.

    While another source feeds, that is before the leg that needs it, and before a no-change stretch that this leg lies
    in. `leg_index` is the leg in which, or on the start of which, it is made.
    `early` is true where it is made before the cylinder is down to change-over, to keep a no-change
    stretch free; `kept` where the cylinder that comes off would have lasted through that stretch and is kept for a
    later leg. `inside_no_change` where the change could not be kept out of one.
    """

    minute: float
    leg: str
    from_cylinder: str
    to_cylinder: str
    gauge_kpa: float
    early: bool = False
    inside_no_change: bool = False
    reason: str = ""
    leg_index: int = 0
    kept: bool = False


class Source(NamedTuple):
    """What a patient can breathe from: a supply, and the cylinder of it where they are used one after another."""

    supply: str
    cylinder: str | None = None


class Act(NamedTuple):
    """One thing that hands do, finished before the next begins.

    `open`: a valve opened, a contents gauge read, or a wall outlet tried. `move`: devices moved to what is open.
    `release`: devices taken off an outlet that is waited for, without gas until they are moved themselves.
    `bridge`: whoever breathes through the devices is given oxygen from another source that is open, for as long as the
    next act takes. `swap`: the valve of `off` shut, its regulator taken to the next cylinder, and that opened; nothing
    flows from the supply meanwhile. `ready`: the regulator of `off`, no longer needed, put on a cylinder still shut.
    `shut`: a valve shut.
    """

    do: Literal["open", "release", "move", "bridge", "swap", "ready", "shut"]
    at: Source
    devices: tuple[str, ...] = ()
    off: str | None = None


class HandsOn(NamedTuple):
    """One change on the way, of source or of cylinder, as acts in the order in which hands can do them.

    `new` is None where a supply is only shut, `old` where one comes in beside those in use. `at_start` is true where it
    is made on the start of its leg. `change` is the change of cylinder. `fed_by` names what feeds the patients while a
    cylinder is changed on a supply that feeds nobody; `bare` the devices without gas for one act, where there is
    nothing to bridge it with, or until the next change moves them, where their outlet was waited for.
    """

    minute: float
    leg_index: int
    at_start: bool
    old: Source | None
    new: Source | None
    acts: tuple[Act, ...]
    change: ChangeOver | None = None
    fed_by: tuple[str, ...] = ()
    bare: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FullCount:
    """How many full cylinders of one size make the supply go; count None where no number does.

    No named tuple as the others: `count` is a method of those.
    """

    size: str
    usable_each_l: float
    count: int | None
    mass_kg: float | None


class Layer(NamedTuple):
    """One layer of the reserve, litres: the largest counts, and `on_top` of that what stands on top.

    `rule` names its terms (`reserve_factor`, `reserve_time`, `planned`, `peak flow`), whose numbers the sheet puts in;
    `policy_key` is the value of the policy that it rests on, whose source the sheet tells.
    """

    key: str
    title: str
    litres: float
    rule: str
    policy_key: str = ""
    on_top: bool = False


class Need(NamedTuple):
    """Need of one supply, litres, each reserve layer on its own; `planner.go.sizing` works it out."""

    planned_l: float
    layers: tuple[Layer, ...]
    reserve_l: float
    peak_flow_l_per_min: float

    def layer_l(self, key: str) -> float:
        """The litres of one layer; 0 where the need has none of that key."""
        return next((layer.litres for layer in self.layers if layer.key == key), 0.0)

    @property
    def factor_reserve_l(self) -> float:
        """The layer of the reserve factor, litres."""
        return self.layer_l("factor")

    @property
    def time_reserve_l(self) -> float:
        """The layer of the reserve time, litres."""
        return self.layer_l("time")

    @property
    def required_l(self) -> float:
        """Planned and reserve together, litres."""
        return self.planned_l + self.reserve_l


class SupplyPlan(NamedTuple):
    """Need and means of one supply. A pipeline, and cylinders still to be drawn, have no means: `usable_l` is None."""

    supply: Supply
    need: Need
    doubling_l: float
    ledger: tuple[LedgerLine, ...]
    full_cylinders: tuple[FullCount, ...] = ()
    usable_l: float | None = None
    usable_without_spare_l: float | None = None
    serving_without_spare_l: float | None = None
    cylinders: tuple[CylinderPlan, ...] = ()
    order: tuple[Order, ...] = ()
    change_overs: tuple[ChangeOver, ...] = ()
    lasts_min: float | None = None
    runs_out_min: float | None = None
    runs_out_leg: str | None = None
    departs_with_kg: float | None = None
    """What a vessel of liquid should hold at departure; None for what is none."""
    start_at_least_kg: float | None = None
    """The least that a vessel of liquid may hold at departure; None for a no-go, and for what is none."""
    waiting: tuple[str, ...] = ()
    """Labels of the cylinders in the order in which they would be used from the end of the plan on."""
    way: tuple[int, ...] = ()
    """What the planned course chooses wherever it has a choice (`planner.cylinders.course.Underway`)."""

    @property
    def start_kpa(self) -> list[float | None]:
        """The gauges to depart with, one for each cylinder; None throughout for a no-go."""
        return [one.start_at_least_kpa for one in self.cylinders]

    def change_that_ends(self, turn: Order) -> ChangeOver | None:
        """The change with which a turn in `order` ends."""
        turns = [each for each in self.order if each.to_min > each.from_min]
        return next((change for each, change in zip(turns, self.change_overs, strict=False) if each == turn), None)

    def turn_that_begins(self, change: ChangeOver) -> Order | None:
        """The turn in `order` that begins with a change."""
        turns = [each for each in self.order if each.to_min > each.from_min]
        return next((each for each, other in zip(turns[1:], self.change_overs, strict=False) if other == change), None)

    @property
    def unused(self) -> tuple[CylinderPlan, ...]:
        """The cylinders that no turn in `order` needs, in the order in which they would be used."""
        used = {turn.cylinder for turn in self.order}
        place = {label: number for number, label in enumerate(self.waiting)}
        left = [one for one in self.cylinders if one.cylinder.label not in used]
        return tuple(sorted(left, key=lambda one: place.get(one.cylinder.label, len(place))))


class LeakGauge(NamedTuple):
    """Below `gauge_kpa` more has left than the plan and every doubt about the gauge can explain: too fast.

    It belongs to the minute of its checkpoint. Read later, with the same cylinder in use at the same flow, it is lower
    by `fall_kpa_per_min` for each minute (up, so that lateness is never taken for a leak). For paper: gauge down
    (`figures.gauge_down`), fall up.
    """

    gauge_kpa: float
    fall_kpa_per_min: float


class Checkpoint(NamedTuple):
    """What the crew should see at the start or end of a leg.

    Below `least_gauge_kpa` the rest of the trip is not covered. `leak` is the limit above it for a fall that is too
    fast; None at departure and where it would not be above the least gauge.
    """

    minute: float
    leg: str
    leg_index: int
    at: str
    supply: str
    flow_l_per_min: float
    cylinder: str | None = None
    gauge_kpa: float | None = None
    minutes_left: float | None = None
    cylinder_minutes_left: float | None = None
    least_gauge_kpa: float | None = None
    leak: LeakGauge | None = None
    litres_left: float | None = None
    """Usable litres of what can serve there."""
    counted_l_per_min: float = 0.0
    """What minutes left are counted with: the flow, or where nothing is planned the one it may rise to."""
    amount_kg: float | None = None
    """What a vessel of liquid should hold then; None for what is none."""
    least_amount_kg: float | None = None
    """Below this the rest of the trip is not covered."""


class Between(NamedTuple):
    """A reading inside a long leg: a checkpoint, `at` "between", and the number of its cut in the leg, from 1."""

    number: int
    check: Checkpoint


class WhatIf(NamedTuple):
    """One what-if on one supply: it holds with minutes to spare, or oxygen runs out at a minute in a leg."""

    name: str
    supply: str
    must_hold: bool
    holds: bool
    from_min: float
    runs_out_min: float | None
    runs_out_leg: str | None
    minutes_to_spare: float | None
    litres_left: float | None = None
    lost_supply: str | None = None
    """The vehicle's supply that is lost, in `vehicle_supply_lost`."""
    short_l: float | None = None
    """Litres that were missing where it does not hold; 0 where only outlets or order stand in the way."""
    ends_min: float | None = None
    """Elapsed minute at which oxygen would end if the last flow never ended: the one number that ranks all cases."""
    cylinder: str | None = None
    """Label of the cylinder whose loss is the worst, where one is lost."""
    device: str | None = None
    patient: str | None = None
    misfit: str | None = None
    """Where oxygen is left and none of it fits: which outlet is missing, or that it may not go into the magnet room."""
    last_flow_l_per_min: float | None = None
    """What minutes to spare are counted with: litres left / minutes to spare; None where there are none to tell."""


class Battery(NamedTuple):
    """What the batteries of a device last, None where nobody says, and the longest that it is on them, minutes."""

    have_min: float | None
    on_battery_min: float


class BatteryAt(NamedTuple):
    """What the batteries of a device should still last at the end of a leg, and the least with which the rest goes on.

    `left_min` as planned, None where nobody says what they last; `least_min` for the longest rest of the trip, times
    `battery_factor` for what makes its own oxygen. `leg_index` None: before departure.
    """

    device: str
    minute: float
    leg: str
    leg_index: int | None
    left_min: float | None
    least_min: float


class BreakingDelay(NamedTuple):
    """How many more minutes in one leg, at its last flow, would use up one supply; every cylinder counts."""

    leg: str
    leg_index: int
    supply: str
    minutes: float
    into_reserve_min: float | None = None
    """From how many minutes on it takes of the reserve; None where the reserve is not whole even without it."""


class TurnBack(NamedTuple):
    """A window of elapsed minutes in which turning back (`to` None) or diverting still leaves reserve time.

    From any minute of the window, the way back over the legs done, or to `to` (`time_min` and the handover), leaves
    every supply `reserve_time` at its last flow, spare withheld, and no battery beyond battery / `battery_factor`.
    `decided_by` is the supply that ends the window, `by_battery` the device whose battery does; both None where
    everything bears it to the end of the trip, or of the leg.
    """

    to: str | None
    leg: str | None
    from_min: float
    to_min: float
    time_min: float | None = None
    decided_by: str | None = None
    by_battery: str | None = None


class AcceptedStop(NamedTuple):
    """A stop that decisions accept within their limits; `stop` is its sentence."""

    decisions: tuple[Accepted, ...]
    stop: str


class Plan(NamedTuple):
    """The answer, and everything that leads to it: `go`, `no-go`, or `go-by-decision` where a stop is accepted."""

    trip: Trip
    verdict: str
    supplies: Mapping[str, SupplyPlan]
    checkpoints: tuple[Checkpoint, ...]
    whatifs: tuple[WhatIf, ...]
    findings: tuple[Finding, ...] = ()
    breaking_delays: tuple[BreakingDelay, ...] = ()
    """For each leg and supply, the smallest first."""
    turn_backs: tuple[TurnBack, ...] = ()
    """Turning back first, then diversions in the order of legs; none where no minute allows it."""
    accepted: tuple[AcceptedStop, ...] = ()
    """The stops that decisions accept, as found; of a no-go too."""

    changes: tuple[HandsOn, ...] = ()
    """Every change on the way, in the order in which hands do them."""

    between: tuple[Between, ...] = ()
    """Readings inside long legs, supply by supply."""

    batteries: Mapping[str, Battery] = MappingProxyType({})
    """By name of the device, of those that live on a battery."""

    battery_checks: tuple[BatteryAt, ...] = ()
    """Before departure and at the end of each leg, up to the last in which the device is at work."""

    @property
    def start_kpa(self) -> dict[str, list[float | None]]:
        """The gauges to depart with, of the cylinders of each supply."""
        return {name: supply.start_kpa for name, supply in self.supplies.items()}

    @property
    def ways(self) -> dict[str, tuple[int, ...]]:
        """What the planned course of each supply chooses wherever it has a choice."""
        return {name: supply.way for name, supply in self.supplies.items()}

    @property
    def go(self) -> bool:
        """True where the trip may depart: a go, or a go by decision."""
        return self.verdict == "go" or self.by_decision

    @property
    def by_decision(self) -> bool:
        """True where nothing but what a clinician accepts stands against a go."""
        return self.verdict == GO_BY_DECISION
