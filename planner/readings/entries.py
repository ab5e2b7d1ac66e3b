"""A tree of readings to a logbook: names, quantities and times, and what cannot be, each with its place."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal, cast

from planner import figures
from planner.afterwards.gauges_read import cylinders_of
from planner.afterwards.logbook import Closing, Entry, LastGauge, Logbook
from planner.constants import MINUTE_NOISE, NOISE
from planner.cylinders.gauge_doubt import half_division_kpa
from planner.model import Cylinder, Trip
from planner.profile.faults import Faults, listed_names, position
from planner.profile.fields import Fields, read_quantity
from planner.profile.limits import HIGHEST_OVER_FILLING, LIMITS, Limit
from planner.readings.battery import read_battery
from planner.readings.changes import settings_changes
from planner.readings.names import Named, change_to, named
from planner.readings.times import When, read_time
from planner.readings.vessel import read_vessel
from planner.report.identity import identity
from planner.text.source import Node
from planner.text.spelling import slip
from planner.text.text_file import show

_READ_TO: Final = Limit("gauge", "a gauge pressure above 0 and up to 50 bar (725 psi)", high=5000.0, above=0.0)
_METRIC: Final = ("bar", "kPa", "MPa")


class LogReader:
    """Reads one log against the trip that it belongs to."""

    def __init__(self, faults: Faults, trip: Trip) -> None:
        self.faults = faults
        self.trip = trip
        self.read_to_kpa: float | None = None
        self.after_min = 0.0
        self.begun = False
        self.leg = 0

    def log(self, root: Node) -> Logbook:
        """The logbook of a tree that fits the schema."""
        fields = Fields(self.faults, root, "readings file")
        if fields.get("gauge_read_to") is not None:
            node = fields.get("gauge_read_to")
            self.read_to_kpa = None if node is None else read_quantity(self.faults, node, "gauge_read_to", _READ_TO)
        self._check_trip(fields)
        if not fields.given("log") and not fields.given("closed"):
            fields.missing("log", "`log` with readings, or `closed` with the last gauges", "add `log:` with a reading")
        entries = tuple(self._entry(Fields(self.faults, node, "reading")) for node in fields.items("log"))
        closed = fields.get("closed")
        closing = None if closed is None else self._closing(Fields(self.faults, closed, "closing"))
        return Logbook(
            entries=tuple(entry for entry in entries if entry is not None),
            closing=closing,
            trip=fields.text("trip"),
            fingerprint=fields.text("fingerprint"),
            file=self.faults.file,
        )

    def _check_trip(self, fields: Fields) -> None:
        given = fields.text("trip")
        names = [name for name in (self.trip.reference, self.trip.name) if name is not None]
        if given is not None and given not in names:
            fields.add(
                "trip",
                "other_trip",
                f"readings of {show(given)}, held against {show(names[0])}",
                listed_names(show(name) for name in names),
                "give the profile of this trip, or the readings of that one",
            )
        revision, mine = fields.text("revision"), str(identity(self.trip).revision)
        if revision is not None and revision != mine:
            fields.add(
                "revision",
                "other_revision",
                f"readings of revision {show(revision)}, held against revision {mine}",
                f"revision {mine}, with times since the first departure",
                "give the filled-in form of that revision, which holds its plan, or write the readings of all cards "
                "into one log",
            )

    # One entry

    def _entry(self, fields: Fields) -> Entry | None:
        when = read_time(fields, "time", self.trip.departs, self.after_min)
        told = len(self.faults.problems)
        of_battery = fields.given("battery") or fields.given("device")
        battery = read_battery(self.trip, fields) if of_battery else None
        vessel = read_vessel(self.trip, fields) if fields.given("amount") and not of_battery else None
        known = None if of_battery or fields.given("amount") else named(self.trip, fields)
        gauge_kpa, read_to = self._gauge(fields, known)
        flow = fields.quantity("flow")
        goes_on = change_to(fields, known)
        waited = self._waited(fields)
        leg = self._leg(fields)
        changes = settings_changes(self.trip, fields)
        refilled, in_use = fields.flag("refilled") is True, fields.flag("in_use")
        self._check_whole(fields, known)
        if when is None:
            return None
        self._check_order(fields, when)
        if len(self.faults.problems) > told:
            return None
        return Entry(
            minute=when.minute,
            supply=vessel.supply if vessel is not None else None if known is None else known.supply.name,
            amount_kg=None if vessel is None else vessel.amount_kg,
            device=None if battery is None else battery.device,
            battery=None if battery is None else battery.read,
            cylinder=None if known is None else known.label,
            gauge_kpa=gauge_kpa,
            gauge_text=fields.text("gauge") or "",
            read_to_kpa=read_to,
            temperature_degc=fields.quantity("temperature"),
            flow_l_per_min=flow,
            settings=changes,
            leg=leg,
            at=cast(Literal["start", "end"] | None, fields.text("at")),
            in_use=not refilled if in_use is None else in_use,
            refilled=refilled,
            change_to=goes_on,
            wait=fields.text("wait"),
            waited_min=waited or 0.0,
            to_the_minute=when.to_the_minute,
            moment=when.moment,
            note=fields.text("note") or "",
            where=position(fields.node),
        )

    def _check_whole(self, fields: Fields, known: Named | None) -> None:
        """A reading says something, and a gauge or a flow says of what."""
        if any(fields.given(key) for key in ("amount", "battery", "device")):
            return
        if not any(fields.given(key) for key in ("gauge", "flow", "settings", "change_to", "leg", "wait", "waited")):
            fix = "add `gauge:` with what it reads, in a form such as 1150 psi"
            fields.missing("gauge", "a gauge, a flow, settings, a change of cylinder or a leg", fix)
        for key in ("gauge", "change_to"):
            if fields.given(key) and not fields.given("cylinder") and (known is None or known.label is None):
                fields.missing("cylinder", "the label of the cylinder", "add `cylinder:` with its label")
                return
        if fields.flag("refilled") and not fields.given("gauge"):
            fields.missing("gauge", "the gauge after filling", "add `gauge:` with what it has read since")
        if fields.given("flow") and not fields.given("cylinder") and not fields.given("supply"):
            fields.missing("supply", "the supply that gives this flow", "add `supply:` or `cylinder:`")

    def _check_order(self, fields: Fields, when: When) -> None:
        if self.begun and when.minute < self.after_min - MINUTE_NOISE:
            fields.add(
                "time",
                "times_out_of_order",
                f"time {show(fields.text('time') or '')}, {_minutes(when.minute)} after departure, below one at "
                f"{_minutes(self.after_min)}",
                "readings in the order of time",
                "check the time, or move the reading to its place",
            )
            return
        self.after_min, self.begun = when.minute, True

    def _leg(self, fields: Fields) -> int | None:
        text = fields.text("leg")
        if text is None:
            if fields.given("at"):
                fields.missing("leg", "`leg` beside `at`", "add `leg:` with its number or name")
            return None
        names = [leg.name for leg in self.trip.legs]
        numbers = [index for index, name in enumerate(names) if name == text]
        if not numbers and text.isdecimal() and 1 <= int(text) <= len(names):
            numbers = [int(text) - 1]
        if len(numbers) != 1:
            meant = slip(text, names)
            found = f"leg {show(text)}, a name that {len(numbers)} legs have" if numbers else f"leg {show(text)}"
            fix = "write its number" if numbers or meant is None else f"write {show(meant)}, or its number"
            fields.add("leg", "leg_unknown", found, f"1 to {len(names)}: {listed_names(names)}", fix)
            return None
        if numbers[0] < self.leg:
            fields.add(
                "leg",
                "legs_out_of_order",
                f"leg {show(text)} after a reading in leg {self.leg + 1}",
                "legs in the order of the trip",
                "check the leg and the time",
            )
            return None
        self.leg = numbers[0]
        return numbers[0]

    def _waited(self, fields: Fields) -> float | None:
        node = fields.get("waited")
        if (node is None) != (fields.get("wait") is None):
            key = "waited" if node is None else "wait"
            fields.missing(key, "`wait` with its reason and `waited` with how long it took", "write both")
        return None if node is None else read_quantity(self.faults, node, "waited", LIMITS["duration"])

    # Values

    def _gauge(self, fields: Fields, known: Named | None, key: str = "gauge") -> tuple[float | None, float]:
        """The gauge of a mapping, and how closely it was read."""
        node, text = fields.get(key), fields.text(key) or ""
        value = None if node is None else read_quantity(self.faults, node, key, LIMITS["gauge"])
        unit = next((unit for unit in _METRIC if text.endswith(unit)), "psi")
        read_to = self.read_to_kpa or half_division_kpa(unit)
        if value is None or known is None or known.label is None:
            return value, read_to
        cylinders = cylinders_of(known.supply, known.label)
        filling = min(cylinder.filling_gauge_kpa for cylinder in cylinders)
        most = HIGHEST_OVER_FILLING * filling
        if value > most * (1.0 + NOISE):
            fields.add(
                key,
                "gauge_above_filling",
                f"gauge {show(text)} on cylinder {show(known.label)}, where full is "
                f"{figures.gauge_both_nearest(filling)}",
                f"a gauge up to {figures.plain(HIGHEST_OVER_FILLING)} x the filling pressure, "
                f"{figures.gauge_both_down(most)}",
                "check the unit of the gauge and the label of the cylinder",
            )
        _check_scale(fields, key, value, text, cylinders[0])
        return value, read_to

    # The end

    def _closing(self, fields: Fields) -> Closing | None:
        ended = read_time(fields, "ended", self.trip.departs, self.after_min)
        if ended is not None:
            self._check_after(fields, "ended", ended)
        time = read_time(fields, "time", self.trip.departs, self.after_min)
        if time is not None:
            self._check_after(fields, "time", time)
        every = fields.flag("shut_and_bled")
        last = [self._last(Fields(self.faults, node, "last gauge"), every) for node in fields.items("last")]
        known: dict[tuple[str, str], LastGauge] = {}
        for each, node in zip(last, fields.items("last"), strict=True):
            if each is None:
                continue
            if (each.supply, each.cylinder) in known:
                found = f"cylinder {show(each.cylinder)} for the second time"
                self.faults.add(node, "named_twice", found, "one last gauge for each cylinder", "take one out")
            known[each.supply, each.cylinder] = each
        when = time or ended or When(-1.0, None, True)
        return Closing(
            minute=when.minute,
            last=tuple(known.values()),
            ended_min=None if ended is None else ended.minute,
            ran_out=fields.flag("ran_out") is True,
            to_the_minute=when.to_the_minute,
            moment=when.moment,
            where=position(fields.node),
        )

    def _check_after(self, fields: Fields, key: str, when: When) -> None:
        if when.minute < self.after_min - MINUTE_NOISE:
            found = f"{key} {show(fields.text(key) or '')}, before the reading at {_minutes(self.after_min)}"
            fields.add(key, "times_out_of_order", found, "a time not before the last reading", "check both times")
        self.after_min = max(self.after_min, when.minute)

    def _last(self, fields: Fields, every: bool | None) -> LastGauge | None:
        told = len(self.faults.problems)
        known = named(self.trip, fields)
        value, read_to = self._gauge(fields, known)
        if known is None or known.label is None:
            if not fields.given("cylinder"):
                fields.missing("cylinder", "the label of the cylinder", "add `cylinder:` with its label")
            return None
        if value is None or len(self.faults.problems) > told:
            return None
        filled_kpa, _ = self._gauge(fields, known, "refilled_to")
        if filled_kpa is not None:
            _check_filled(fields, value, filled_kpa)
        if len(self.faults.problems) > told:
            return None
        own = fields.flag("shut_and_bled")
        return LastGauge(
            supply=known.supply.name,
            cylinder=known.label,
            gauge_kpa=value,
            gauge_text=fields.text("gauge") or "",
            read_to_kpa=read_to,
            shut_and_bled=bool(every) if own is None else own,
            refilled=fields.flag("refilled") is True and filled_kpa is None,
            refilled_to="" if filled_kpa is None else fields.text("refilled_to") or "",
            temperature_degc=fields.quantity("temperature"),
            where=position(fields.node),
        )


def _check_scale(fields: Fields, key: str, value: float, text: str, cylinder: Cylinder) -> None:
    scale = cylinder.gauge_scale_kpa
    if scale is not None and value > scale * (1.0 + NOISE):
        fields.add(
            key,
            "gauge_above_scale",
            f"gauge {show(text)} on cylinder {show(cylinder.label)}",
            f"a gauge up to the end of its scale, {figures.gauge_both_down(scale)}",
            "check both, a gauge cannot show more than the end of its scale",
        )


def _check_filled(fields: Fields, before_kpa: float, since_kpa: float) -> None:
    """A cylinder that was filled holds more than before, and nothing says that it was not."""
    found = f"refilled_to {show(fields.text('refilled_to') or '')}"
    if fields.flag("refilled") is False:
        both = f"{found} beside `refilled: false`"
        fields.add("refilled_to", "not_refilled", both, "one of them", "take out what is not so")
    elif since_kpa < before_kpa:
        less = f"{found}, below its last gauge {show(fields.text('gauge') or '')}"
        allowed = "a gauge after filling that is not below the one before it"
        fields.add("refilled_to", "filled_to_less", less, allowed, "read the gauge and the label once more")


def with_end(log: Logbook, minute: float) -> Logbook:
    """The same with a closing at this minute where it names none."""
    if log.closing is None or log.closing.minute >= 0.0:
        return log
    return replace(log, closing=replace(log.closing, minute=minute))


def _minutes(minute: float) -> str:
    return figures.minutes_set(minute, 6)
