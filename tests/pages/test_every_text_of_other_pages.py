"""Every word of a page that says VOID, a blank request form, the sheet of a shift and a review is asked for here.

The words are counted and must be those that the lines ask for, no more and no fewer: a text that is taken out of a page
is missed, and so is one that comes to it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from io import BytesIO

import pytest
from pypdf import PdfReader

from planner import __version__
from planner.pages.request import request_bytes
from planner.pages.review.review import review_bytes, review_pages
from planner.pages.shift.shift import shift_bytes, shift_pages
from planner.pages.void import void_bytes
from planner.problems import Problem
from planner.report.old_card import OldCard
from planner.report.review.page import ReviewPage, review_page
from planner.report.shift.shift import ShiftSheet
from planner.request.read import Remark
from tests.pages.printed import pages
from tests.pages.test_every_text import on_pages, words
from tests.pages.test_every_text_of_the_folder import plain
from tests.pages.test_review_page import lognormal, with_ratios
from tests.pages.test_shift_page import content


def printed_words(data: bytes) -> Counter[str]:
    """Every word of a PDF."""
    return words(page.extract_text() for page in PdfReader(BytesIO(data)).pages)


@pytest.mark.hazard(43)
def test_every_word_of_a_page_that_says_void() -> None:
    data = void_bytes(
        OldCard("0a1b2c3d4e5f", 3), ["cart is short", "B is empty"], issued=datetime(2026, 12, 3, 14, 0), paper="a4"
    )
    said = (
        "VOID",
        "Card 0a1b2c3d4e5f, revision 3, is not valid any more. Take every copy of it away.",
        "The trip was planned again and there is no card that holds: do not go by an older one. Why:",
        "cart is short",
        "B is empty",
        f"VOID since 3 Dec 2026 14:00 · transport-oxygen {__version__}",
        "page 1 of 1",
    )
    assert printed_words(data) == words(iter(said))


def form_says(pages: int) -> Iterator[str]:
    """A request form that nobody filled in, of so many pages."""
    title = "Request for oxygen on a transport"
    yield f"""
        {title}
        Fill in on a screen, save, and send it to the coordinator. No patient's name on this form. What is left empty is
        asked for, never guessed. Read each gauge with the valve open. It is a request: nothing moves before the plan is
        a go.
        Ward or team, and role of who asks Reach us at From To
        How does the patient travel? Departs (2026-12-03 14:20) Your number for it
        The way
        A row for each part of the way, in order: to the lift, loading, on the road, unloading. In `Oxygen from` stands
        what the patient breathes from on that part. Tick each magnet room, and `On mains` where the devices are plugged
        in.
        From ... to ... Minutes At longest Wait, min Wait for Oxygen from Magnet room On mains Cabin, ft 1 2 3 4 5 6 7 8
        Devices
        Settings as they are set now. A ventilator needs FiO2, breath, rate, bias flow and leak (0 for none); a
        gas-driven one its driving gas (manual). Battery: all that go along, at these settings. In legs: all, 1-3 or 1,
        4, or `stands by` for what takes over when another fails.
        Device Flow, L/min FiO2, % Breath, mL Rate /min Bias, bleed Leak, L/min Drive gas Battery, min In legs
        If it fails 1 2 3 4 5 6
        Cylinders
        A row for each cylinder, with the gauge as you read it and a tick for each outlet of its regulator. AIR for a
        blender has rows of its own. A size that the list lacks: write what its label says.
        Label Size or its label says Gauge, psi Flowmeter 15 L/min 50-psi outlet Magnet safe It ... 1 2 3 4 5 6 7 8
        Liquid oxygen
        One vessel, if there is one: what is left in it with the unit (lb, kg, or litres of liquid), and what it loses a
        day standing still, from its manual: 0 for nothing, else say when it was read, and when you depart.
        Left in it, with unit It loses a day Stays in it Read at Flowmeter 15 L/min 50-psi outlet It ... 1
    """
    for number in range(1, pages + 1):
        yield f"{title} · transport-oxygen {__version__} page {number} of {pages}"


def test_every_word_of_a_blank_request_form() -> None:
    assert printed_words(request_bytes("psi")) == words(form_says(2))


def test_every_word_of_a_request_that_is_sent_back() -> None:
    """What is wrong stands below its row, in short where there is no room for it, and in full on a page of its own."""
    long = " ".join(["a very long value"] * 20)
    remarks = [
        Remark(cell, Problem(f"r.pdf{place}", 1, 1, "code", found, "so many", "write it in digits"))
        for cell, place, found in (
            ("leg.2.minutes", " (leg 2, minutes)", "minutes `ten`"),
            ("device.1.flow", " (device 1, flow)", long),
            ("", "", "no device"),
        )
    ]
    said = (
        "! Minutes: minutes `ten`",
        "! Flow, L/min: see the last page",
        "What is to be mended",
        "Leg 2, minutes minutes `ten`; allowed: so many. Mend: write it in digits.",
        f"Device 1, flow {long}; allowed: so many. Mend: write it in digits.",
        "The form no device; allowed: so many. Mend: write it in digits.",
    )
    assert printed_words(request_bytes("psi", remarks=remarks)) == words(iter((*form_says(3), *said)))


@pytest.mark.hazard(20)
@pytest.mark.parametrize("name", ["shift", "review"])
def test_every_word_at_the_foot_of_other_pages(name: str) -> None:
    """Title, what it was made from, when and by which version: what tells a stale sheet from a fresh one."""
    issued, sheet = datetime(2026, 12, 3, 14, 0), content("smallest")
    found = review_page(with_ratios(lognormal(59)))
    feet = {
        "shift": (shift_bytes(sheet, issued=issued), shift_pages(sheet), f"Shift sheet {sheet.fingerprint} ·"),
        "review": (review_bytes(found, issued=issued), review_pages(found), "What closed trips teach"),
    }
    data, without, begins = feet[name]
    printed = words(text for ink in pages(data) for text in (" ".join(one.text for one in ink),))
    said = (
        f"{begins} issued 3 Dec 2026 14:00 · transport-oxygen {__version__} page {number} of {len(without)}"
        for number in range(1, len(without) + 1)
    )
    assert sheet.fingerprint
    assert plain(printed - on_pages(tuple(without))) == plain(words(said))


def shift_says(sheet: ShiftSheet, pages: int) -> Iterator[str]:
    """All go or not, what is to be settled, cylinders by size, the clock, the trips, and who takes which."""
    for page in range(pages):
        yield from (sheet.verdict, "Shift sheet, continued" if page else "Shift sheet: oxygen cylinders", sheet.span)
    yield "" if sheet.go else sheet.why
    yield " · ".join(sheet.facts)
    yield from to_settle(sheet)
    for group in dict.fromkeys(line.group for line in sheet.sizes):
        yield from (group, "DRAW" if group == "Portable" else "IN USE", "part-used OUT AT ONCE from, until")
        yield "store: full part-used SHORT" if group == "Portable" and sheet.store else ""
    for line in sheet.sizes:
        yield from (line.size, line.draw, line.part_used, line.at_once, line.begins, line.trips)
        yield f"to {line.ends}" if line.ends else ""
        yield from (line.store_full, line.store_part_used, line.lacking)
    for curve in sheet.curves:
        yield from (curve.title, str(curve.most), "0")
        yield from (clock for _, clock in curve.hours)
    yield "no. LEAVES back by Trips by departure, with their cylinders out back"
    for row in sheet.trips:
        yield from (str(row.number), row.leaves, row.back, row.trip, row.reference, row.cylinders, row.verdict)
    yield from sheet.notes
    if sheet.given:
        yield "Who takes which cylinder, trips in turn trip leaves TAKES size holds at least from for drawn"
    yield from sheet.to_do
    for each in sheet.given:
        yield from (str(each.number), each.leaves, each.cylinder, each.size, each.holds, each.comes, each.supply)
    yield from ("For tomorrow" if sheet.tomorrow else "", *sheet.tomorrow)


def to_settle(sheet: ShiftSheet) -> Iterator[str]:
    """What comes before everything else."""
    if sheet.no_go or sheet.unread or sheet.alarms or sheet.waiting:
        yield "Settle first"
    for trip in sheet.no_go:
        yield from (f"NO-GO {trip.number}", trip.trip, f"leaves {trip.leaves}" if trip.leaves else "")
        for number, reason in enumerate(trip.reasons, start=1):
            yield from (f"{number}. {reason.text}", f"Mend: {reason.fix}" if reason.fix else "")
    yield from (f"NOT READ, NOT COUNTED {line}" for line in sheet.unread)
    yield from (f"SETTLE {line}" for line in sheet.alarms)
    if sheet.waiting:
        yield f"NO-GO until read: {sheet.waiting}"
        yield "draw the cylinders, read each gauge with the valve open, and plan again."


@pytest.mark.hazard(34)
@pytest.mark.parametrize("name", ["usual", "smallest"])
def test_every_word_of_the_sheet_of_a_shift(name: str) -> None:
    sheet = content(name)
    pages = shift_pages(sheet)
    wanted, found = plain(words(shift_says(sheet, len(pages)))), plain(on_pages(tuple(pages)))
    assert (dict(wanted - found), dict(found - wanted)) == ({}, {})


def review_says(found: ReviewPage, pages: int) -> Iterator[str]:
    """The share covered, what has changed, what is proposed, a plot of each group, and how to read all that."""
    for page in range(pages):
        yield from ("What closed trips teach, continued" if page else "What closed trips teach", found.span)
    yield from ("Share of trips covered by planned litres and reserve", *found.covered)
    for title, texts in (
        ("What has changed, and what devices draw", found.changed),
        ("Proposed, for a person to weigh and sign", found.proposed),
        ("How to read this page", found.notes),
    ):
        yield title if texts else ""
        yield from (f"– {text}" for text in texts)
    for plot in found.plots:
        yield from (plot.title, plot.note, "" if plot.rows else plot.none)
        for row in plot.rows:
            yield from (row.name, "; ".join((row.facts, *row.notes)), *(text for _, text in plot.marks))
            yield from (plot.beyond if row.beyond else "", "ran out" if row.ran_out else "")
            yield "median" if row.median is not None else ""
            yield "limit" if row.limit is not None else ""


@pytest.mark.hazard(21)
def test_every_word_of_the_page_of_a_review() -> None:
    found = review_page(with_ratios(lognormal(59), lognormal(400), [1.0] * 5))
    pages = review_pages(found)
    wanted, drawn = plain(words(review_says(found, len(pages)))), plain(on_pages(tuple(pages)))
    assert (dict(wanted - drawn), dict(drawn - wanted)) == ({}, {})
