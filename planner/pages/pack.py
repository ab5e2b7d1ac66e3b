"""The pack as one PDF: pages laid out, numbered, and written with reportlab.

The same plan, paper and time of issue give the same bytes. The file appears whole or not at all.
"""

from __future__ import annotations

import os
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from planner import figures
from planner.files.output import write_bytes
from planner.package_file import edition
from planner.pages.card.card import card_pages
from planner.pages.checklist import checklist_pages
from planner.pages.drawing import fonts, ink
from planner.pages.drawing.layout import BOTTOM, FRAME_WIDTH, LEFT, MM, WIDTH, Page, Role
from planner.pages.drawing.lines import SMALL
from planner.pages.log import log_pages
from planner.pages.nomogram import SCALE, nomogram_pages
from planner.pages.sheet import sheet_pages
from planner.pages.tags import tag
from planner.report import identity
from planner.report.blocks import Section, Text
from planner.report.card.card import card
from planner.report.chart.chart import charts
from planner.report.chart.nomogram import nomograms
from planner.report.checklist.checklist import checklists
from planner.report.gases import for_paper
from planner.report.log.log import log
from planner.report.old_card import mark
from planner.report.sheet.sheet import sheet
from planner.results import Plan

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

    from planner.pages.form import Form

Paper = Literal["a4", "letter"]
Pages = Literal["crew", "all"]
MOST_ROWS = 300
"""Cylinders and legs that are printed: no crew reads more, and ten times as many take ten times as long (by decision).
"""
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210 * MM, 297 * MM), "letter": (612.0, 792.0)}


class TooLongError(ValueError):
    """Raised for a trip with more cylinders and legs than are printed."""

    def __init__(self, rows: int) -> None:
        super().__init__(f"{rows} cylinders and legs are more than the {MOST_ROWS} that pages are made for")


def write_pack(
    plan: Plan,
    path: str | os.PathLike[str],
    *,
    paper: Paper = "a4",
    issued: datetime,
    fillable: bool = False,
    pages: Pages = "all",
) -> None:
    """Write the pack of a plan to `path`, in one move: nobody ever reads half a file.

    `issued` is the time of issue, printed on every page; `fillable` makes fields of the boxes; `pages` are
    the two sheets that a crew carries, or all. Raises
    UnprintableError where a name holds a character that the font cannot show, and OutputError where the file cannot
    be written.
    """
    data = pack_bytes(plan, paper=paper, issued=issued, fillable=fillable, pages=pages)
    write_bytes(Path(path), data)


def pack_bytes(
    plan: Plan, *, paper: Paper = "a4", issued: datetime, fillable: bool = False, pages: Pages = "all"
) -> bytes:
    """The pack of a plan as the bytes of a PDF; see `write_pack`. Raises TooLongError for more than is printed."""
    found = pack_pages(plan, issued=issued, pages=pages)
    for page in found if fillable else ():
        for name, value in identity.fields(plan.trip).items():
            page.hide(LEFT, BOTTOM, name, value, "which print this is")
    title = f"Oxygen plan, {fonts.clean(plan.trip.reference or plan.trip.name)}"
    attached = identity.attachment(plan.trip) if fillable else None
    return render(found, paper, title, fillable, attached=attached, keywords=mark(identity.identity(plan.trip)))


def pack_pages(plan: Plan, *, issued: datetime, pages: Pages = "all") -> list[Page]:
    """The pages of a plan, each as a list of what is drawn on it. Raises TooLongError for more than is printed."""
    rows = len(plan.trip.legs) + sum(len(supply.cylinders) for supply in plan.supplies.values())
    if rows > MOST_ROWS:
        raise TooLongError(rows)
    plan = for_paper(plan)
    found = _pages(plan, pages, issued)
    for number, page in enumerate(found, start=1):
        foot(page, plan, issued, number, len(found))
    return found


def _pages(plan: Plan, pages: Pages, issued: datetime) -> list[Page]:
    """Two sheets for the crew; in all, also lists by subject, log, nomogram and sheet. A no-go always has its sheet."""
    if pages == "crew" and plan.go:
        return card_pages(card(plan, issued))
    lists, sections = checklists(plan), sheet(plan, issued)
    found = card_pages(card(plan, issued)) + checklist_pages(plan, lists, issued)
    if plan.go:
        found += log_pages(plan, log(plan), charts(plan), issued)
        found += nomogram_pages(plan, nomograms(plan, SCALE), issued)
    if lists.before:
        sections += (Section("Sources of the checklist lines", tuple(Text(source) for source in lists.sources)),)
    return found + sheet_pages(plan, sections, issued)


def foot(page: Page, plan: Plan, issued: datetime, number: int, total: int) -> None:
    """Trip reference, fingerprint, time of issue, version and page: what tells a stale card from a fresh one."""
    card = f"{_revision(plan)} {plan.trip.fingerprint[:12] or 'unknown'}"
    text = f"{card} · issued {figures.date_time(_local(plan, issued))} · {edition()}"
    reference, wide = plan.trip.reference or plan.trip.name, fonts.width(f"page {number} of {total}", "bold", SMALL)
    room = WIDTH - wide - 24 - fonts.width(text, "regular", SMALL)
    if fonts.width(fonts.clean(reference), "bold", SMALL) > room - 8:
        reference = ""  # the head names the trip in full, and the fingerprint tells it
    page.foot(number, total, text, reference)


def _revision(plan: Plan) -> str:
    onward = plan.trip.onward
    return "profile" if onward is None else f"revision {onward.revision}, card"


def _local(plan: Plan, issued: datetime) -> datetime:
    """The time of issue on the clock of the trip, where both know their zone."""
    departs = plan.trip.departs
    if departs is None or departs.tzinfo is None or issued.tzinfo is None:
        return issued
    return issued.astimezone(departs.tzinfo)


def render(
    pages: list[Page],
    paper: Paper,
    title: str,
    fillable: bool = False,
    *,
    attached: bytes | None = None,
    keywords: str = "",
) -> bytes:
    """Draw the pages on paper, the frame at its top, with a field over each box where they are to be fillable.

    `attached` is what a fillable print was planned from; `keywords` stand in the file and on no page.
    """
    from reportlab import rl_config

    before, rl_config.useA85 = rl_config.useA85, 0  # text in place of bytes: a quarter more of them, for nothing
    try:
        return _render(pages, paper, title, fillable, attached, keywords)
    finally:
        rl_config.useA85 = before


def _render(
    pages: list[Page], paper: Paper, title: str, fillable: bool, attached: bytes | None, keywords: str
) -> bytes:
    from reportlab.pdfgen.canvas import Canvas

    wide, high = PAPERS[paper]
    buffer = BytesIO()
    canvas = Canvas(
        buffer,
        pagesize=(wide, high),
        invariant=1,
        pageCompression=1,
        lang="en-GB",
        initialFontName=fonts.register("regular"),  # in place of a font that no file would hold
    )
    canvas.setTitle(title)
    canvas.setAuthor("transport-oxygen")
    canvas.setKeywords(keywords)
    canvas.setSubject("Oxygen for moving a patient: card, checklists, readings and calculation")
    canvas.setCreator(edition())
    canvas.setProducer(edition())
    form = _form(canvas) if fillable else None
    roles: list[list[Role]] = []
    left, top = (wide - FRAME_WIDTH) / 2, high  # what A4 is higher stays free at its foot
    for number, page in enumerate(pages, start=1):
        canvas.saveState()
        canvas.translate(left, top)
        roles.append(ink.draw(canvas, page.items))
        canvas.restoreState()
        if form is not None:
            form.add(page.items, left, top)
        if page.bookmark is not None:
            key = f"page{number}"
            canvas.bookmarkPage(key)
            canvas.addOutlineEntry(page.bookmark, key, level=0)
        canvas.showPage()
    if form is not None:
        if attached is not None:
            form.attach(identity.ATTACHMENT, attached)
        form.close()
    tag(canvas, roles)
    canvas.save()
    return buffer.getvalue()


def _form(canvas: Canvas) -> Form:
    from planner.pages.form import Form  # not every pack is a form

    return Form(canvas)
