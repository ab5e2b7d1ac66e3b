"""The checklists: which lines a plan gets, what the changes say, and how the pages are laid out."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from planner.go.tubes import moves
from planner.model import Device, Leg, Use
from planner.package_file import package_text
from planner.pages.checklist import checklist_pages
from planner.pages.drawing import fonts
from planner.pages.drawing.layout import FormField, Page, TextRun
from planner.pages.pack import Paper, pack_bytes
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.report.checklist.checklist import checklists
from planner.report.checklist.data import Checklists
from planner.report.checklist.facts import trip_facts
from planner.report.checklist.table import COMMON_PRACTICE, lines_of_list, words_of
from planner.results import Plan
from planner.trade.catalog import device_types, rows
from planner.trade.valves import VALVES, valve_of
from tests import make_plan
from tests.pages.printed import ISSUED, MM, PAPERS, SHORTEST, TRIPS, bitmap, pages, printed, texts_of

LISTS = (
    "drawing", "before_departure", "source_change", "cylinder_change", "arrival", "return", "pause",
    "action",
)  # fmt: skip
IN_PLACE_OF_ANOTHER = ("pause", "action")
"""Lists in which lines of one order stand for one another."""
ROAD = """
profile: 1
trip: Ward to hospital
setting: road
departs: 2026-12-03 14:20
supplies:
  wall: {pipeline: true}
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}
      - {label: B, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}
      - {label: C, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}
      - {label: D, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Corridor, duration: 10 min, supply: cart, devices: [mask]}
  - {name: Road, duration: 20 min, supply: cart, devices: [mask]}
"""


def long_name(stem: str) -> str:
    """A name of 60 characters."""
    return (f"{stem} of the northern regional long distance transfer service")[:60].ljust(60, "x")


def longest_with_changes() -> Plan:
    """Twelve legs that change supply each time, eight cylinders, names of 60 characters, own lines of 200."""
    carts = [long_name("Cart"), long_name("Trolley")]
    cylinder = "      - {{label: {}, size: US-E, gauge: 1100 psi, outlets: [high_pressure, {{flowmeter: 15 L/min}}]}}\n"
    text = f"profile: 1\ntrip: {long_name('Trip')}\nsetting: in_house\ndeparts: 2026-12-03 23:30\nsupplies:\n"
    for cart, letters in zip(carts, ("ABCD", "EFGH"), strict=True):
        text += f"  {cart}:\n    cylinders:\n"
        text += "".join(cylinder.format(long_name(f"Cylinder {letter}")) for letter in letters)
    vent = long_name("Ventilator")
    text += f"devices:\n  {vent}: {{type: fixed_flow, flow: 7 L/min, outlet: high_pressure}}\nlegs:\n"
    for number in range(12):
        text += f"  - {{name: {long_name(f'Leg {number}')}, duration: 6 min, supply: {carts[number % 2]}, "
        text += f"devices: [{vent}]}}\n"
    made = plan(parse_trip(text))
    assert made.go
    return made


OWN_PLANS = {
    "changes": longest_with_changes,
    "longest": make_plan.longest,
    "shortest": TRIPS["shortest"],
    "example": make_plan.example,
}
every_plan = pytest.mark.longer(
    ("name", "paper"),
    [*zip(OWN_PLANS, [*PAPERS] * len(OWN_PLANS), strict=False)],
    [(name, paper) for name in OWN_PLANS for paper in PAPERS],
)


@cache
def made(name: str) -> Plan:
    return OWN_PLANS[name]()


@cache
def pack(name: str, paper: Paper = "a4") -> bytes:
    return pack_bytes(made(name), paper=paper, issued=ISSUED)


@cache
def laid_out(name: str) -> list[Page]:
    return checklist_pages(made(name), checklists(made(name)))


def numbers_of_pages(data: bytes) -> list[int]:
    """Which pages of a pack, from 0, are checklists."""
    heads = [next(ink.text for ink in page if ink.text.strip() not in ("GO", "NO-GO")) for page in pages(data)]
    return [number for number, head in enumerate(heads) if head.startswith("Checklists")]


@cache
def text_of(data: bytes) -> str:
    """The text of the checklists of a pack, white space made single."""
    return " ".join(texts_of(data)[number] for number in numbers_of_pages(data))


@cache
def whole_text_of(data: bytes) -> str:
    """The text of a whole pack, white space made single."""
    return " ".join(texts_of(data))


def lines_of(lists: Checklists, title: str) -> list[str]:
    """Ask and answer of every line of a list."""
    found = next(each for each in (*lists.before, *lists.after) if each.title == title)
    return [f"{item.ask}: {item.answer}".removesuffix(": ") for item in found.items]


def keys(text: str, title: str = "Before departure") -> set[str]:
    """Keys of the lines that a profile's plan gets in one list."""
    found = checklists(plan(parse_trip(text)))
    return {item.key for each in (*found.before, *found.after) if each.title == title for item in each.items}


# The table


def known_words() -> set[str]:
    """The words that may stand in a condition: those of the table in checklists.md, and the device types."""
    told = (
        package_text("trade/data/checklists.md").partition("## Words of the conditions")[2].partition("## Sources")[0]
    )
    words = set(
        re.findall(r"`([a-z_]+)`", " ".join(row.split("|")[1] for row in told.splitlines() if row.count("|") > 2))
    )
    return words | {f"{way}_{valve}" for way in ("draw", "to") for valve in VALVES} | set(device_types())


def test_every_line_has_its_place_its_condition_and_its_source() -> None:
    known = known_words()
    assert {row["list"] for row in rows("checklists.csv")} == set(LISTS)
    for name in LISTS:
        found = lines_of_list(name)
        assert len({row.key for row in found}) == len(found), name
        if name not in IN_PLACE_OF_ANOTHER:
            assert len({row.order for row in found}) == len(found), name
        assert [row["order"] for row in rows("checklists.csv") if row["list"] == name] == [
            str(row.order) for row in found
        ], name
        for row in found:
            assert row.source, row
            assert row.ask, row
            assert row.answer, row
            assert set(words_of(row.when)) <= known, row
            assert re.fullmatch(r"[a-z_]+", row.key), row


KEYS = {
    "pause": """
        card_cautions card hands liquid secured vessel wall_first magnet_air magnet label_air label shared yoke_air
        cap_yoke cap_thread cap_selector cap key_yoke key manifold open wall flow unverified gauge contents patients
        chest pulse felt resuscitator oxygen_suction suction settled vessel_contents fixed spare idle battery climb
        cabin crew receiving left_at""",
    "action": """
        ventilator stand_in standby device no_oxygen next_bag next only_bag only vehicle no_air air_fallback
        air_by_hand""",
    "source_change": """
        valve valve_open every_valve contents wall outlet magnet resuscitator move patient settings shut bedding
        secured""",
    "arrival": """
        hands outlet none_free move air_outlet settings gauges contents shut bedding vehicle magnet kit""",
    "return": """
        hands shut last liquid vehicle bleed off tag fault secured magnet clean protection store apart refill parts
        readings""",
}


@pytest.mark.hazard(11, 28, 29)
@pytest.mark.parametrize("name", KEYS)
def test_no_line_is_lost_from_the_table(name: str) -> None:
    """A line goes on purpose, with its name here, or not at all."""
    assert set(KEYS[name].split()) <= {row.key for row in lines_of_list(name)}


def test_every_figure_that_a_line_names_is_known() -> None:
    """The figures of a whole trip, of a change, of a vehicle's supply and of a what-if."""
    beside = {"on", "off", "devices", "fixed_supply", "backup", "gas", "other_gas", "pins"}
    beside |= {"bridge", "ready", "ready_off", "off_supply", "contents", "standby_buys", "raised_buys", "released"}
    outcomes = {f"{name}_fails" for name in ("ventilator", "conserver", "concentrator", "device")}
    outcomes |= {"next_cylinder", "one_regulator", "all_open", "vehicle_supply_lost", "air_lost"}
    outcomes |= {f"{name}_buys" for name in outcomes}
    known = set(trip_facts(make_plan.example()).texts) | beside | outcomes
    for name in LISTS:
        for row in lines_of_list(name):
            assert set(re.findall(r"\{(\w+)\}", row.ask + row.answer)) <= known, row


def test_what_is_not_common_practice_names_where_it_is_from() -> None:
    """Grease: statement P244 of the Globally Harmonized System; pins of oxygen: EN ISO 407."""
    assert "P244" in next(row.source for row in lines_of_list("before_departure") if row.key == "grease")
    assert "EN ISO 407" in next(row.source for row in lines_of_list("cylinder_change") if row.key == "yoke")
    for name in LISTS:
        for row in lines_of_list(name):
            assert row.source == COMMON_PRACTICE or re.search(r"from memory|EN ISO|safety alerts", row.source), row


# Conditions

INTEGRAL = ROAD.replace("US-E, gauge: 2000 psi", "UK-CD, gauge: 200 bar")
THREADED = ROAD.replace("US-E", "US-M")
UNKNOWN = ROAD.replace("size: US-E, gauge: 2000 psi", "water_capacity: 5 L, filling: 200 bar, gauge: 190 bar")
VERIFIED = ROAD.replace("2000 psi,", "2000 psi, verified: true,")
VENT = "type: ventilator, drive: electric, minute_volume: 5 L/min, fio2: 60 %, bias_flow: 0 L/min, leak: 0 L/min"


@pytest.mark.parametrize(
    ("text", "there", "absent"),
    [
        (ROAD, {"yoke", "key", "regulator", "open", "gauge"}, {"thread", "selector", "valve"}),
        (INTEGRAL, {"selector", "open", "gauge"}, {"yoke", "thread", "key", "regulator", "valve", "fitted"}),
        (THREADED, {"thread", "key", "regulator", "fitted"}, {"yoke", "selector", "valve"}),
        (UNKNOWN, {"valve", "key", "regulator"}, {"yoke", "thread", "selector"}),
        (ROAD, {"verified"}, set()),
        (VERIFIED, {"gauge"}, {"verified"}),
        (ROAD, {"spare"}, {"manifold", "contents", "vehicle", "wall", "cold", "aircraft", "magnet", "no_change"}),
        (ROAD.replace("setting: road", "setting: in_house"), set(), {"spare", "air_in_cabin"}),
        (ROAD.replace("20 min,", "20 min, no_change: true,"), {"no_change"}, set()),
        (ROAD.replace("20 min,", "20 min, by: air, cabin_altitude: 5000 ft,"),
         {"aircraft", "climb", "air_in_cabin"}, set()),
        (ROAD.replace("  cart:", "  cart:\n    coldest: -5 degC"), {"cold"}, set()),
        (ROAD.replace("  cart:", "  cart:\n    coldest: 15 degC"), set(), {"cold"}),
        (ROAD.replace("supply: cart, devices: [mask]}\n  - {name: R", "supply: wall, devices: [mask]}\n  - {name: R"),
         {"wall"}, set()),
        (ROAD, {"tubing"}, {"hose", "ventilator", "driven", "battery", "nebulizer", "suction", "patients"}),
        (ROAD.replace("type: simple_mask, flow: 6 L/min", VENT), {"ventilator", "battery", "hose"},
         {"driven", "tubing"}),
        (ROAD.replace("type: simple_mask, flow: 6 L/min", VENT.replace("electric", "pneumatic, drive_gas: 1 L/min")),
         {"ventilator", "driven", "hose"}, {"battery"}),
        (ROAD.replace("magnet", "").replace("10 min,", "10 min, magnet: true,").replace(
            "gauge: 2000 psi,", "gauge: 2000 psi, magnet_safe: true,"), {"magnet", "screened"}, set()),
        (ROAD.replace("mask: {type: simple_mask, flow: 6 L/min}",
                      "mask: {type: simple_mask, flow: 6 L/min, patient: first}\n"
                      "  other: {type: nasal_cannula, flow: 2 L/min, patient: second}")
         .replace("{flowmeter: 15 L/min}", "{flowmeter: 15 L/min}, {flowmeter: 15 L/min}")
         .replace("[mask]", "[mask, other]"), {"patients"}, set()),
        (ROAD.replace("  wall: {pipeline: true}",
                      "  main: {litres: 3000 L, fixed: true, backup: cart, outlets: [{flowmeter: 15 L/min}]}")
         .replace("20 min, supply: cart", "20 min, supply: main"), {"contents", "vehicle", "backup"}, {"manifold"}),
        (ROAD.replace("  cart:", "  cart:\n    manifold: true"), {"manifold"}, set()),
        (ROAD.replace("{type: simple_mask, flow: 6 L/min}",
                      "{type: pulse_conserver, pulse_volume: 35 mL, rate: 20/min, if_it_fails: other}\n"
                      "  other: {type: nasal_cannula, flow: 2 L/min}"), {"conserver", "standby"}, {"concentrator"}),
    ],
)  # fmt: skip
def test_a_line_stands_where_its_condition_holds_and_nowhere_else(text: str, there: set[str], absent: set[str]) -> None:
    found = keys(text)
    assert there <= found
    assert not absent & found


def test_the_valve_is_known_by_size_then_by_words() -> None:
    """US-E has a pin-index yoke, US-M a CGA 540 thread (catalogue); `spindle` holds no pin index."""
    cylinder = make_plan.cylinder("A", 2000)
    assert valve_of(cylinder) == "pin_index"
    assert valve_of(cylinder._replace(size="US-M")) == "threaded"
    assert valve_of(cylinder._replace(size=None, connection="pin index 2-5")) == "pin_index"
    assert valve_of(cylinder._replace(size=None, connection="side spindle")) == "unknown_valve"
    assert valve_of(cylinder._replace(size=None, connection="integral valve, threaded")) == "integral"
    assert valve_of(cylinder._replace(size=None, connection="bull nose 5/8 in BSP")) == "threaded"
    assert valve_of(cylinder._replace(size=None, connection=None)) == "unknown_valve"


@pytest.mark.hazard(11)
def test_valves_with_their_own_regulator_need_no_key_on_the_card() -> None:
    text = " ".join(texts_of(pack_bytes(plan(parse_trip(INTEGRAL)), issued=ISSUED))[1].split())
    assert "Each valve: cap off, flow selector at 0" in text
    for line in ("Key", "washer", "seal", "regulator", "pins"):
        assert line not in text
    assert "Label of each cylinder: says OXYGEN" in text


# Text on paper


@pytest.mark.hazard(5)
def test_the_gauge_is_read_with_the_valve_open_and_gas_flowing() -> None:
    text = text_of(pack("example"))
    assert "Each gauge, valve open, gas flowing START AT LEAST or above, every one" in text
    assert "NOT verified: all cylinders read again, written in the log" in text


@pytest.mark.hazard(11)
def test_key_seal_and_spare_regulator_are_on_the_list() -> None:
    text = text_of(pack("example"))
    assert "Each yoke: pins 2-5, sealing washer one in place, one to spare" in text
    assert "Cylinder key or wheel with the cylinders, one to spare" in text
    assert "Spare regulator with the cylinders, fits these valves" in text


@pytest.mark.hazard(26)
def test_the_list_asks_for_the_flow_to_be_measured_and_the_patient_looked_at() -> None:
    text = text_of(pack("example"))
    assert "Flow at the bedside measured: as planned" in text
    assert "Settings as on the card, else plan again" in text
    assert "Patient breathing, saturation seen" in text
    assert "At this gauge off or at this time, whichever comes first." in text_of(pack("longest"))


@pytest.mark.hazard(28)
def test_fire_is_kept_away_at_every_step() -> None:
    text = text_of(pack("example"))
    for line in (
        "Hands clean; hand rub dried; no oil or grease",
        "Smoking, flames, sparks none near",
        "Valves, regulators, hoses no oil, grease or tape on them",
        "Outlets and tubing no gas into bedding; shut when idle",
        "Each valve opened SLOWLY, outlet facing away",
        "Bed and bedding no tubing left flowing",
        "Store aired, dry, no heat, no oil, no flame",
    ):
        assert line in text


def test_protection_and_hand_hygiene_are_on_the_lists() -> None:
    text = text_of(pack("shortest"))
    assert "Gloves, mask, eyes, apron as local infection control asks" in text
    assert "Hands, gloves cleaned, changed" in text
    assert "Gloves, mask, apron off; hands cleaned" in text


@pytest.mark.hazard(29)
def test_on_return_all_is_shut_bled_tagged_secured_and_stored_in_this_order() -> None:
    lines = lines_of(checklists(made("example")), "On return")
    wanted = (
        "Each valve: shut",
        "Each gauge, before it is bled: written",  # bled, it reads 0
        "Regulators and hoses: bled",
        "Each tag: FULL",
        "Each cylinder: in its rack",
        "Store:",
    )
    places = [next(number for number, line in enumerate(lines) if line.startswith(start)) for start in wanted]
    assert places == sorted(places)


@pytest.mark.hazard(14)
def test_on_arrival_without_an_outlet_the_travel_supply_carries_on() -> None:
    """20 min by road: the default of handover_time (common practice, no source)."""
    lines = lines_of(checklists(made("example")), "On arrival")
    assert "No outlet free: stay on cart (20 min)" in lines


def test_every_source_is_told_on_paper() -> None:
    found = checklists(made("example"))
    text = whole_text_of(pack("example"))
    assert "Sources of the checklist lines" in text
    assert "All other lines: common practice, no source." in text
    named = {item.source for each in (*found.before, *found.after) for item in each.items}
    named |= {item.source for change in found.changes for item in change.items}
    for source in named - {COMMON_PRACTICE}:
        assert source in text


def test_a_no_go_has_no_checklist_to_travel_by() -> None:
    assert numbers_of_pages(printed("no_go")) == []


def test_cylinders_still_to_be_drawn_have_a_list_of_their_own() -> None:
    """12 L/min x 20 min = 240 L, + 360 L for 30 min of reserve time: 600 L. Full E cylinders at 2000 psi give 0.28 x
    1500 = 420 L above 500 psi by the hand method, so two."""
    sizes = SHORTEST.replace("cylinders:\n      - {label: A, size: US-E, gauge: 2000 psi}", "sizes: [US-E]")
    sizes = sizes.replace("nasal_cannula, flow: 2", "reservoir_mask, flow: 12").replace("10 min", "20 min")
    data = pack_bytes(plan(parse_trip(sizes)), issued=ISSUED)
    text = text_of(data)
    assert "Draw cylinders A plan can only be go with readings" in text
    assert "Full cylinders cart: 2 × US-E" in text
    assert "US-E 1 US-E 2 time" in text
    assert "Sealing washers one on each yoke, one to spare" in text
    assert "Before departure" not in text
    assert not re.search(r"(?<!NO-)\bGO\b", text)


# Changes


def test_every_change_of_source_has_its_minute_its_clock_and_both_gauges() -> None:
    """Legs of 12 + 6, 5 and 55 min: changes at 23 and 78 min, 14:20 + 23 min = 14:43 and 15:38."""
    first, second = checklists(made("example")).changes
    assert (first.kind, first.elapsed, first.clock) == ("source", "23 min", "14:43")
    assert (second.kind, second.elapsed, second.clock) == ("source", "78 min", "15:38")
    assert first.old
    assert first.new
    assert (first.old.name, first.old.supply, first.new.name, first.new.supply) == ("A", "cart", "main", "ambulance")
    assert first.new.gauge == "1700 psi"  # untouched so far
    assert first.leg == "before leg 3: Road to coast hospital"
    assert "vent (50-psi outlet)" in [item.ask for item in first.items]
    assert not first.by_gauge


def test_every_change_of_cylinder_has_its_gauge_and_time() -> None:
    """420 L a cylinder at 4.054 L/min: 103.6 min, so minute 103 on paper; 20:30 + 1 h 43 min = 22:13."""
    first = checklists(made("longest")).changes[0]
    assert (first.kind, first.elapsed, first.clock) == ("cylinder", "103 min", "22:13")
    assert first.old
    assert first.new
    assert first.old.gauge == "500 psi"
    assert first.new.gauge == "1990 psi"  # as read before departure
    assert first.by_gauge


def test_changes_are_numbered_in_the_order_of_time() -> None:
    found = checklists(made("changes")).changes
    minutes = [int(change.elapsed.split()[0]) for change in found]
    assert minutes == sorted(minutes)
    assert [change.number for change in found] == list(range(1, len(found) + 1))
    assert sum(change.kind == "source" for change in found) == 11
    planned = sum(len(supply.change_overs) for supply in made("changes").supplies.values())
    assert sum(change.kind == "cylinder" for change in found) == planned
    assert planned > 0


@pytest.mark.parametrize("name", OWN_PLANS)
def test_a_change_writes_its_readings_under_the_names_of_the_log(name: str) -> None:
    for change in checklists(made(name)).changes:
        assert change.blanks
        for blank in change.blanks:
            assert re.fullmatch(r"log\.[^.]+\.[^.]+\.\d+\.(time|gauge|initials)", blank.name), blank


def device(name: str, patient: str | None = None) -> Device:
    return Device(name, "simple_mask", flow_l_per_min=6.0, patient=patient)


def leg(*uses: tuple[str, str]) -> Leg:
    return Leg("leg", 10.0, tuple(Use(device(name), supply) for name, supply in uses))


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ([("m", "cart")], [("m", "cart")], []),
        ([("m", "cart")], [("m", "van")], [("cart", "van", ["m"])]),
        ([("m", "cart")], [("n", "van")], [("cart", "van", ["n"])]),
        ([("m", "cart")], [("m", "cart"), ("n", "van")], [(None, "van", ["n"])]),
        ([("m", "cart"), ("n", "van")], [("m", "cart")], []),
        ([("m", "cart"), ("n", "bed")], [("m", "van"), ("n", "van")], [("cart", "van", ["m"]), ("bed", "van", ["n"])]),
        ([("m", "cart"), ("n", "cart")], [("m", "van"), ("n", "van")], [("cart", "van", ["m", "n"])]),
        ([("m", "cart")], [("m", "van"), ("n", "cart")], [("cart", "van", ["m"])]),
        ([("m", "cart"), ("n", "bed")], [("m", "bed"), ("n", "cart")],
         [("cart", "bed", ["m"]), ("bed", "cart", ["n"])]),
    ],
)  # fmt: skip
def test_what_moves_between_two_legs(
    before: list[tuple[str, str]], after: list[tuple[str, str]], expected: list[tuple[str | None, str, list[str]]]
) -> None:
    found = [(move.old, move.new, [one.name for one in move.moved]) for move in moves(leg(*before), leg(*after))]
    assert found == expected


def test_a_supply_that_others_still_draw_on_is_not_shut() -> None:
    both = ROAD.replace(
        "mask: {type: simple_mask, flow: 6 L/min}",
        "mask: {type: simple_mask, flow: 2 L/min}\n  neb: {type: nebulizer, flow: 2 L/min}",
    )
    both = both.replace("{flowmeter: 15 L/min}", "{flowmeter: 15 L/min}, {flowmeter: 15 L/min}")
    idle = both.replace("10 min, supply: cart", "10 min, supply: wall")
    shared = idle.replace("[mask]}\n  - {name: Road", "[mask, neb]}\n  - {name: Road")
    shared = shared.replace("20 min, supply: cart, devices: [mask]", "20 min, supply: cart, devices: [mask, {NEB}]")
    shared = shared.replace("{NEB}", "{use: neb, supply: wall}")
    for text, shut in ((idle, True), (shared, False)):
        (change,) = checklists(plan(parse_trip(text))).changes
        assert ("shut" in {item.key for item in change.items}) is shut


@pytest.mark.hazard(27)
def test_a_cylinder_not_safe_for_the_magnet_comes_off_outside_the_room() -> None:
    text = ROAD.replace("label: A, size: US-E, gauge: 2000 psi", "label: A, size: US-E, gauge: 1500 psi")
    text = text.replace("20 min,", "20 min, magnet: true,").replace("setting: road", "setting: in_house")
    for letter in "BCD":
        text = text.replace(f"label: {letter},", f"label: {letter}, magnet_safe: true,")
    found = checklists(plan(parse_trip(text))).changes[0]
    assert found.leg == "before leg 2: Road"
    assert found.notes == ("Now, because A cannot serve on.",)
    lines = [f"{item.ask}: {item.answer}" for item in found.items]
    assert lines[0] == "This change: OUTSIDE the magnet room"
    assert lines[-1] == "A: tagged, stays OUTSIDE"


def test_a_change_that_could_not_be_kept_out_of_a_stretch_says_so() -> None:
    """6 L/min x 90 min = 540 L from E cylinders of 420 L usable: no cylinder carries the stretch."""
    text = ROAD.replace("20 min,", "90 min, no_change: true,")
    found = checklists(plan(parse_trip(text))).changes
    assert any("INSIDE a no-change stretch: a pair of hands for this alone." in change.notes for change in found)


# The service's own lines


def own_lines(folder: Path) -> str:
    (folder / "policies").mkdir()
    (folder / "policies" / "service.yaml").write_text("name: Service\nown_lines: lines.yaml\n", encoding="utf-8")
    (folder / "policies" / "lines.yaml").write_text(
        "lines:\n"
        "  - {list: before_departure, text: Radio tried on channel 4, source: service procedure 12}\n"
        "  - {list: return, text: Trolley back to bay 4}\n",
        encoding="utf-8",
    )
    (folder / "trip.yaml").write_text("lines:\n  - {list: before_departure, text: Parents told}\n", encoding="utf-8")
    return ROAD.replace("setting: road", "setting: road\npolicy: {file: policies/service.yaml, own_lines: trip.yaml}")


def test_the_services_own_lines_are_printed_at_the_end_and_marked(tmp_path: Path) -> None:
    trip = parse_trip(own_lines(tmp_path), folder=tmp_path)
    assert "own_lines" in trip.policy.overrides
    found = plan(trip)
    before = checklists(found).before[0].items
    assert [(item.key, item.ask, item.part) for item in before[-2:]] == [
        ("own1", "Radio tried on channel 4", "Service's own"),
        ("own2", "Parents told", "Service's own"),
    ]
    text = text_of(pack_bytes(found, issued=ISSUED))
    assert "Service's own" in text
    assert "Trolley back to bay 4" in text
    sources = whole_text_of(pack_bytes(found, issued=ISSUED))
    # A page may end inside the source: its foot and the next head then stand between.
    assert re.search(rf"Before departure {before[-2].number}: service procedure (page .{{0,200}} )?12\.", sources)
    assert "as the service states." in sources


def test_own_lines_are_part_of_the_fingerprint(tmp_path: Path) -> None:
    text = own_lines(tmp_path)
    first = parse_trip(text, folder=tmp_path).fingerprint
    lines = tmp_path / "policies" / "lines.yaml"
    lines.write_text(lines.read_text(encoding="utf-8").replace("bay 4", "bay 5"), encoding="utf-8")
    assert parse_trip(text, folder=tmp_path).fingerprint != first


def test_a_fault_in_own_lines_is_told_with_its_place(tmp_path: Path) -> None:
    (tmp_path / "trip.yaml").write_text(own_lines(tmp_path), encoding="utf-8")
    (tmp_path / "policies" / "lines.yaml").write_text("lines:\n  - {list: arival, text: Bell rung}\n", encoding="utf-8")
    (tmp_path / "profile.yaml").write_text(
        ROAD.replace("setting: road", "setting: road\npolicy: policies/service.yaml"), encoding="utf-8"
    )
    with pytest.raises(ProblemsError) as caught:
        read_trip(tmp_path / "profile.yaml")
    (problem,) = caught.value.problems
    assert problem.file.endswith("lines.yaml")
    assert (problem.line, problem.column, problem.fix) == (2, 12, "write `arrival`")


def test_long_lines_of_the_service_wrap(tmp_path: Path) -> None:
    text = own_lines(tmp_path)
    long = ("Trolley back to the bay that it came from " * 5)[:200]
    lines = tmp_path / "policies" / "lines.yaml"
    every = "".join(
        f"  - {{list: {name}, text: {long}}}\n"
        for name in ("before_departure", "source_change", "cylinder_change", "arrival", "return")
    )
    lines.write_text(f"lines:\n{every}", encoding="utf-8")
    data = pack_bytes(plan(parse_trip(text, folder=tmp_path)), issued=ISSUED)
    assert text_of(data).count(long.strip()) == 3  # a trip without a change has three lists


# The layout


@every_plan
def test_pages_keep_their_margins_and_the_clip(name: str, paper: Paper) -> None:
    """24 mm at the top for the clip; 6 mm at the sides and the foot (common practice, no source)."""
    for number in numbers_of_pages(pack(name, paper)):
        picture = bitmap(pack(name, paper), number)
        wide, high, edge = picture.width, picture.height, int(6 * MM)
        for strip in (
            (0, 0, wide, int(24 * MM)),
            (0, 0, edge, high),
            (wide - edge, 0, wide, high),
            (0, high - edge, wide, high),
        ):
            assert picture.crop(strip).getextrema()[0] == 255, f"page {number + 1}"


@every_plan
def test_no_text_overlaps_and_none_is_small(name: str, paper: Paper) -> None:
    for number in numbers_of_pages(pack(name, paper)):
        inks = [ink for ink in pages(pack(name, paper))[number] if ink.text.strip()]
        assert min(ink.size for ink in inks) >= 9.0 - 1e-4
        for index, one in enumerate(inks):
            for other in inks[index + 1 :]:
                across = min(one.right, other.right) - max(one.left, other.left)
                up = min(one.top, other.top) - max(one.bottom, other.bottom)
                assert not (across > 0.05 and up > 0.05), f"page {number + 1}: {one.text!r} and {other.text!r}"


@pytest.mark.parametrize("name", OWN_PLANS)
def test_boxes_are_large_enough_for_a_gloved_hand(name: str) -> None:
    """5 mm to tick (the order for these pages), 10 mm to write in; the distance between two ticks is 6 mm or more."""
    for page in laid_out(name):
        fields = [item for item in page.items if isinstance(item, FormField)]
        for item in fields:
            least = 5 * MM if item.kind == "tick" else 10 * MM
            assert item.height >= least - 1e-6, item
            assert item.width >= least - 1e-6, item
        columns: dict[float, list[float]] = {}
        for item in fields:
            if item.kind == "tick":
                columns.setdefault(item.x, []).append(item.y)
        for tops in columns.values():
            assert all(low - high >= 6 * MM for high, low in zip(sorted(tops), sorted(tops)[1:], strict=False))


@pytest.mark.parametrize("name", OWN_PLANS)
def test_boxes_touch_nothing(name: str) -> None:
    """No box meets a text or another box on its page."""
    for page in laid_out(name):
        fields = [item for item in page.items if isinstance(item, FormField)]
        for index, one in enumerate(fields):
            for other in fields[index + 1 :]:
                assert (
                    one.x + one.width < other.x
                    or other.x + other.width < one.x
                    or one.y + one.height < other.y
                    or other.y + other.height < one.y
                ), (one, other)
            for run in (item for item in page.items if isinstance(item, TextRun)):
                right = run.x + fonts.width(run.text, run.face, run.size)
                apart = right < one.x or run.x > one.x + one.width
                assert apart or run.y < one.y or run.y - 0.75 * run.size > one.y + one.height, (one, run)


@pytest.mark.parametrize("name", OWN_PLANS)
def test_wrapped_lines_stand_a_quarter_to_a_third_apart(name: str) -> None:
    """Leading of 25 to 33 % beyond the type size: NASA CR-177605 (1992), from memory."""
    seen = 0
    for page in laid_out(name):
        runs = [item for item in page.items if isinstance(item, TextRun)]
        for one in runs:
            below = [
                run.y - one.y
                for run in runs
                if (run.x, run.size, run.face) == (one.x, one.size, one.face) and 0 < run.y - one.y < 1.4 * one.size
            ]
            for step in below:
                assert 1.25 * one.size - 1e-6 <= step <= 1.33 * one.size, one
                seen += 1
    assert seen or name in ("shortest", "example")


@pytest.mark.parametrize("name", OWN_PLANS)
def test_figures_of_a_change_can_be_read_at_a_glance(name: str) -> None:
    """x-height of 0.10 inch: NASA CR-177605 (1992), from memory."""
    data = pack(name)
    inks = [ink for number in numbers_of_pages(data) for ink in pages(data)[number]]
    for change in checklists(made(name)).changes:
        gauges = [side.gauge for side in (change.new, change.old) if side]
        for figure in (change.elapsed, change.clock, *gauges):
            number = figure.split(" ")[0]
            if number:
                sizes = [ink.size for ink in inks if ink.text.strip() == number]
                assert max(sizes) * fonts.x_height("bold") >= 7.2 - 1e-3, figure


@pytest.mark.parametrize("name", OWN_PLANS)
def test_a_change_is_never_parted_by_the_end_of_a_page(name: str) -> None:
    for change in checklists(made(name)).changes:
        on = {
            number
            for number, page in enumerate(laid_out(name))
            for item in page.items
            if isinstance(item, FormField) and item.name.startswith(f"{change.key}.")
        }
        assert len(on) == 1


def test_a_list_of_a_short_trip_stands_on_one_page() -> None:
    found = laid_out("shortest")
    on = {number for number, page in enumerate(found) for item in page.items
          if isinstance(item, FormField) and item.name.startswith("before.")}  # fmt: skip
    assert on == {0}


@pytest.mark.parametrize("name", ["longest", "changes"])
def test_long_names_of_a_change_stand_in_full(name: str) -> None:
    """Names that differ in their last letters alone are told apart."""
    text = text_of(pack(name)).replace(" ", "")
    for change in checklists(made(name)).changes:
        for side in (change.old, change.new):
            assert side
            assert side.name.replace(" ", "") in text
