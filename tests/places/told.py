"""What was put in, and figures told in words: settings, the trip's time, times of the policy, changes, batteries.

What was put in stands nowhere in the JSON result, so the trip as read is the truth of it. Of a device that is set
differently from leg to leg nothing is taken: each of its lines belongs to other legs.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from planner import figures
from planner.flow.devices import demand_l_per_min
from planner.model import Device
from tests.places.printed import Said, Sheet, lines, page_table
from tests.places.truth import JSON, Trip

FRONT, BEFORE, SECOND, LISTS, SHEET = "Card", "Before leaving", "Changes, arrival", "Checklists", "Calculation"
PLACES = {FRONT: "card", BEFORE: "before leaving", SECOND: "second sheet", LISTS: "checklists", SHEET: "sheet"}
SETTINGS = ("Device", "Type", "Settings", "If it fails", "May rise to", "Patient")
NUMBER = r"[0-9.]+"


def told(trip: Trip) -> Iterator[Said]:
    yield from _as_read(trip)
    yield from _settings(trip)
    yield from _times(trip)
    yield from _changes(trip)
    yield from _batteries(trip)
    yield from _minutes(trip)
    yield from _stops(trip)


def text_of(sheets: Iterable[Sheet]) -> str:
    return " ".join(" ".join(line) for sheet in sheets for line in lines(sheet))


def texts(trip: Trip) -> dict[str, str]:
    """All that stands on the screen and on the pages of each title, line by line."""
    pages = {place: text_of(trip.printed.titled(title)) for title, place in PLACES.items()}
    return {"screen": " ".join(trip.printed.screen.split()), **pages}


def set_alike(trip: Trip) -> dict[str, Device]:
    """The devices that are in use with one and the same setting all the way."""
    uses: dict[str, set[Device]] = {}
    for leg in trip.read.legs:
        for use in leg.uses:
            uses.setdefault(use.device.name, set()).add(use.device)
    parted = {use.device.name for leg in trip.read.legs for use in leg.uses if use.for_min is not None}
    return {
        name: found.pop() for name, found in uses.items() if found == {trip.read.devices[name]} and name not in parted
    }


def _as_read(trip: Trip) -> Iterator[Said]:
    place, policy = "profile", trip.read.policy
    for name, device in set_alike(trip).items():
        yield Said("draws", (name,), place, figures.flow_up(demand_l_per_min(device)))
        flows = (device.flow_l_per_min, device.total_flow_l_per_min, device.oxygen_flow_l_per_min)
        for flow in flows:
            if flow is not None and sum(each is not None for each in flows) == 1:
                yield Said("flow set", (name,), place, figures.flow_set(flow))
        if device.minute_volume_l_per_min is not None:
            yield Said("minute volume set", (name,), place, figures.flow_set(device.minute_volume_l_per_min))
        for volume_l in (device.tidal_volume_l, device.pulse_volume_l):
            if volume_l is not None:
                yield Said("breath set", (name,), place, figures.breath_set(volume_l))
        if device.rate_per_min is not None:
            yield Said("rate set", (name,), place, figures.rate_set(device.rate_per_min))
        if device.fio2 is not None:
            yield Said("FiO2 set", (name,), place, figures.fio2_set(device.fio2))
    yield Said("time of the trip", (), place, figures.minutes_up(sum(leg.total_min for leg in trip.read.legs)))
    yield Said("handover time", (), place, figures.minutes_set(policy.handover_time_min))
    yield Said("reserve time", (), place, figures.minutes_set(policy.reserve_time_min))
    yield Said("a reading counts for", (), place, figures.hours_set(policy.reading_valid_for_min))


def _settings(trip: Trip) -> Iterator[Said]:
    """`vent: SET 450 mL × 16 /min, FiO2 0.60` on screen and paper, and the same settings by name on the sheet."""
    pages = texts(trip)
    for name in set_alike(trip):
        head = rf"(?<!\S){re.escape(name)}: SET (.*?) "
        on_paper = head + r".*?draws (.*?) of"
        for place, pattern in (("screen", head + r"\(draws ([^)]*?) of"), (PLACES[BEFORE], on_paper)):
            for settings, draws in re.findall(pattern, pages[place])[:1]:
                yield Said("draws", (name,), place, draws)
                yield from _set(name, place, settings if place == "screen" else _first_line(trip, name))
    titles = {"flow": "flow", "total flow": "flow", "oxygen flow": "flow", "minute volume": "minute volume"}
    titles |= {"tidal volume": "breath", "pulse": "breath", "rate": "rate", "FiO2": "FiO2"}
    by_title = rf"(?:^|, )({'|'.join(titles)}) ({NUMBER}(?: \S+?)?)(?=,|$)"
    for row in page_table(trip.printed.titled(SHEET), SETTINGS, "Type"):
        if row["Device"] in set_alike(trip):
            for title, value in re.findall(by_title, row["Settings"]):
                yield Said(f"{titles[title]} set", (row["Device"],), PLACES[SHEET], value)


def _first_line(trip: Trip, name: str) -> str:
    """What is set on a device, from the line of the second page that its name leads."""
    for sheet in trip.printed.titled(BEFORE):
        for line in lines(sheet):
            if line[0] == f"{name}:" and line[1:2] and line[1].startswith("SET "):
                return line[1].removeprefix("SET ")
    return ""


def _set(name: str, place: str, text: str) -> Iterator[Said]:
    for part in text.split(", "):
        if breath := re.fullmatch(rf"({NUMBER} mL) × ({NUMBER} /min)", part):
            yield Said("breath set", (name,), place, breath[1])
            yield Said("rate set", (name,), place, breath[2])
        elif titled := re.fullmatch(rf"(FiO2|minute volume) ({NUMBER}(?: L/min)?)", part):
            yield Said(f"{titled[1]} set", (name,), place, titled[2])
        elif re.fullmatch(rf"{NUMBER} L/min", part):
            yield Said("flow set", (name,), place, part)


def _times(trip: Trip) -> Iterator[Said]:
    """The time of the whole trip, and times of the policy, wherever a sentence tells them."""
    pages, time = texts(trip), rf"({NUMBER} (?:h|min)(?: \d+ min)?)"
    for place, figure, pattern in (
        ("screen", "time of the trip", rf", {time} planned"),
        ("card", "time of the trip", rf"(?:hospital|by road|by air) · {time}"),
        ("sheet", "time of the trip", rf"The whole trip takes {time}\."),
        ("screen", "handover time", rf"No wall outlet for {time} "),
        ("second sheet", "handover time", rf"No outlet free: stay on [^(]*\({time}\)"),
        ("checklists", "handover time", rf"No outlet free stay on [^(]*\({time}\)"),
        ("sheet", "handover time", rf"No wall outlet on arrival \({time} more at"),
        ("sheet", "handover time", rf"handover_time {time}"),
        ("screen", "reserve time", rf"keeps the reserve time of {time}"),
        ("sheet", "reserve time", rf"keeps the reserve time of {time}"),
        ("sheet", "reserve time", rf"reserve_time {time}"),
        ("card", "a reading counts for", rf"Valid until the first reading is {time}\b"),
        ("sheet", "a reading counts for", rf"reading_valid_for {time}"),
    ):
        for found in re.findall(pattern, pages[place]):
            yield Said(figure, (), place, found)


def _changes(trip: Trip) -> Iterator[Said]:
    """When each change of source or cylinder is made, over its list on both sheets."""
    for number, change in enumerate(trip.printed.document["changes"], start=1):
        yield Said("change", (number,), JSON, figures.minutes_down(change["min"]))
        clock = figures.clock_down(trip.departs, change["min"], narrow=True)
        yield Said("change, clock", (number,), JSON, clock)
    when = r"(\d+ min)(?: ?(\d\d:\d\d(?: [A-Z]{3,4})?(?: \+\d+d)?))?"
    pages = texts(trip)
    for number, elapsed, clock in re.findall(rf"(?<!\S)(\d+)\. {when},? (?:before|in) leg \d+:", pages["second sheet"]):
        yield Said("change", (int(number),), "second sheet", elapsed)
        yield Said("change, clock", (int(number),), "second sheet", clock)
    for number, elapsed, clock in re.findall(rf"Change (\d+) · (?:(?!Change \d).)*? after {when}", pages["checklists"]):
        yield Said("change", (int(number),), "checklists", elapsed)
        yield Said("change, clock", (int(number),), "checklists", clock)


def _batteries(trip: Trip) -> Iterator[Said]:
    """What the batteries last, how long they are needed, and what they must show before leaving."""
    pages = texts(trip)
    for name, battery in trip.printed.document["batteries"].items():
        yield Said("batteries last", (name,), JSON, figures.minutes_down_or_none(battery["have_min"]))
        yield Said("off the mains", (name,), JSON, figures.minutes_up(battery["on_battery_min"]))
        told = re.search(rf"{re.escape(name)}: batteries (.*? min), (\d+ min) off the mains", pages["screen"])
        if told and battery["have_min"] is not None:
            yield Said("batteries last", (name,), "screen", told[1])
            yield Said("off the mains", (name,), "screen", told[2])
        for place in ("before leaving", "checklists"):
            for least in re.findall(rf"Batteries:? [^.;]*?\b{re.escape(name)} (\d+ min)", pages[place]):
                yield Said("least gauge", (0, "battery", name), place, least)


def _minutes(trip: Trip) -> Iterator[Said]:
    """The minutes at a gauge and a flow: the table of the card, and the example of each nomogram where one is there."""
    for sheet in trip.printed.titled(FRONT):
        rows = list(lines(sheet))
        for place, line in enumerate(rows):
            if line[0].startswith("Minutes left to "):
                yield from _table(rows[place + 1 :], "card")
    for sheet in trip.printed.titled("Nomogram"):
        sizes = [line for line in lines(sheet) if not line[0].startswith("Nomogram")]
        for at, line in enumerate(sizes):
            example = [re.fullmatch(r"Example: (.+), (.+): (\d+ min)", piece) for piece in line]
            if any(example):
                names = next((one for one in sizes if len(one) == len(line) and re.match(r"\w+-\w+", one[0])), ())
                for size, found in zip(names, example, strict=False):
                    if found:
                        yield Said("minutes left at", (size, found[1], found[2]), "nomogram", found[3])
                sizes = sizes[at:]


def _table(rows: list[list[str]], place: str) -> Iterator[Said]:
    """The cells of the table of minutes, under their size and flow."""
    sizes, flows = rows[0], rows[1]
    if len(set(zip(sizes, flows, strict=False))) != len(sizes) or len(flows) != len(sizes):
        return
    for row in rows[2:]:
        if len(row) == len(sizes) + 1 and re.fullmatch(r"\S+ (?:psi|bar|kPa|MPa)", row[0]):
            for size, flow, minutes in zip(sizes, flows, row[1:], strict=True):
                yield Said("minutes left at", (size, row[0], flow), place, minutes)


def _stops(trip: Trip) -> Iterator[Said]:
    """Need and means as the sentence of a stop tells them."""
    for found in trip.printed.document["findings"]:
        if stop := re.match(r"(\S+) needs (\S+ L), COUNTED (\S+ L)", found["message"]):
            yield Said("required", (stop[1],), "stop", stop[2])
            yield Said("have", (stop[1],), "stop", stop[3])
