"""The request form on two pages, blank or as it came back with what is wrong beside its cells.

A viewer fills it in; no program is needed. On a form that comes back each faulty row has its faults in words below it,
and a last page has them in full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from planner.model import OwnForm
from planner.package_file import edition
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import SMALL, leading, wrap
from planner.pages.pack import Paper, render
from planner.request import cells
from planner.request.cells import BEGINNING, Cell, FormRow
from planner.request.read import Remark

TITLE: Final = "Request for oxygen on a transport"
_BOX: Final = 17.0
_SIZE: Final = 9.0
_GAP: Final = 3.0
_REMARK_LINES: Final[Mapping[str, int]] = {"head": 1, "leg": 2, "device": 1, "cylinder": 1, "liquid": 1}
"""Lines below a row for what is wrong in it."""

_WIDTHS: Final[Mapping[str, Mapping[str, float]]] = {
    "leg": {
        "name": 104, "minutes": 42, "longest": 44, "wait": 42, "wait_for": 54, "oxygen": 106, "magnet": 38, "mains": 34,
    },
    "device": {
        "type": 110, "flow": 36, "fio2": 34, "volume": 38, "rate": 34, "bias": 36, "leak": 36, "drive_gas": 34,
        "battery": 42, "legs": 46,
    },
    "cylinder": {
        "label": 38, "size": 88, "contents": 90, "gauge": 50, "flowmeter": 58, "high_pressure": 42, "magnet": 42,
    },
    "liquid": {"amount": 66, "loss": 74, "keep": 52, "read_at": 100, "flowmeter": 58, "high_pressure": 42},
}  # fmt: skip
"""Of each column, points; the last one, which is not named here, takes what is left."""

_INTRODUCTION: Final = (
    "Fill in on a screen, save, and send it to the coordinator. No patient's name on this form. What is left empty is "
    "asked for, never guessed. Read each gauge with the valve open. It is a request: nothing moves before the plan is "
    "a go."
)
_NOTES: Final[Mapping[str, str]] = {
    "leg": "A row for each part of the way, in order: to the lift, loading, on the road, unloading. In `Oxygen from` "
    "stands what the patient breathes from on that part. Tick each magnet room, and `On mains` where the devices "
    "are plugged in.",
    "device": "Settings as they are set now. A ventilator needs FiO2, breath, rate, bias flow and leak (0 for none); a "
    "gas-driven one its driving gas (manual). Battery: all that go along, at these settings. In legs: all, 1-3 or 1, "
    "4, or `stands by` for what takes over when another fails.",
    "cylinder": "A row for each cylinder, with the gauge as you read it and a tick for each outlet of its regulator. "
    "AIR for a blender has rows of its own. A size that the list lacks: write what its label says.",
    "liquid": "One vessel, if there is one: what is left in it with the unit (lb, kg, or litres of liquid), and what "
    "it loses a day standing still, from its manual: 0 for nothing, else say when it was read, and when you depart.",
}
_OWN_NOTES: Final[Mapping[str, str]] = {
    "legs": "A name that stands here already is a usual part of the way: fill in its row, or clear the name where this "
    "trip lacks it; a row that is left empty keeps its number. A name alone is asked about.",
    "devices": "The list holds the devices of this service: for another one choose none, and call the coordinator.",
    "outlets": "An outlet that has no box here is not counted on: tell the coordinator.",
}
"""By the list of a service's own that the form offers."""
_OF_PART: Final = {"leg": "legs", "device": "devices", "cylinder": "outlets"}


def request_bytes(
    unit: str,
    *,
    paper: Paper = "a4",
    values: Mapping[str, str] | None = None,
    remarks: Sequence[Remark] = (),
    own: OwnForm = cells.ALL,
) -> bytes:
    """The form as the bytes of a PDF.

    `unit` is the one that gauges are printed with: psi, bar, kPa or MPa. `values` by cell (`leg.2.minutes`) fill it as
    it was, and `remarks` stand beside their cells. `own` is what the service offers to choose from; without `values`
    the names of its usual legs stand in their rows.
    """
    given = cells.beforehand(own) if values is None else values
    form = _Filled(unit, own, tuple(cells.form_rows(unit, own)), given, remarks)
    pages = [_first(form), _second(form), *_told(remarks)]
    for number, page in enumerate(pages, start=1):
        page.foot(number, len(pages), f"{TITLE} · {edition()}")
    return render(pages, paper, TITLE, fillable=True)


class _Filled(NamedTuple):
    """A form with its rows, what stands in its cells, and what is wrong with that."""

    unit: str
    own: OwnForm
    rows: Sequence[FormRow]
    values: Mapping[str, str]
    remarks: Sequence[Remark]


def _first(form: _Filled) -> Page:
    page = Page(TITLE)
    page.text(LEFT, TOP + 13, TITLE, size=14, face="bold")
    page.across(TOP + 18, 2.0)
    y = page.paragraph(LEFT, TOP + 22, WIDTH, _INTRODUCTION, size=_SIZE)
    page.hide(RIGHT, TOP + 4, f"{BEGINNING}form", cells.FORM, "which form this is")
    page.hide(RIGHT, TOP + 4, f"{BEGINNING}unit", form.unit, "the unit of the gauges")
    y = _head(page, y + 4, form)
    _table(page, y + 6, "The way", "leg", form)
    return page


def _second(form: _Filled) -> Page:
    page = Page(TITLE)
    y = _table(page, TOP + 2, "Devices", "device", form)
    y = _table(page, y + 8, "Cylinders", "cylinder", form)
    _table(page, y + 8, "Liquid oxygen", "liquid", form)
    return page


def _head(page: Page, y: float, form: _Filled) -> float:
    """The first part: who asks, from where to where, how and when; two or three cells a line."""
    row = form.rows[0]
    found = {cell.key: cell for cell in row.cells}
    for keys in (("asks", "reach"), ("from", "to"), ("setting", "departs", "reference")):
        wide = (WIDTH - _GAP * (len(keys) - 1)) / len(keys)
        for place, key in enumerate(keys):
            x = LEFT + place * (wide + _GAP)
            page.text(x, y + 9, _titled(found[key]), size=_SIZE, face="bold", room=wide)
            _cell(page, x, y + 12, wide, row, found[key], form)
        y = _remarks(page, y + 12 + _BOX, row, keys, form)
    return y


def _table(page: Page, y: float, title: str, part: str, form: _Filled) -> float:
    rows = [row for row in form.rows if row.name.startswith(f"{part}.")]
    key = _OF_PART.get(part)
    note = f"{_NOTES[part]} {_OWN_NOTES[key]}" if key and getattr(form.own, key) else _NOTES[part]
    page.text(LEFT, y + 11, title, size=12, face="bold")
    y = page.paragraph(LEFT, y + 15, WIDTH, note, size=_SIZE) + 2
    widths = _columns(rows[0])
    heads = [wrap(_titled(cell), "bold", _SIZE, wide) for cell, wide in zip(rows[0].cells, widths, strict=True)]
    high = max(len(lines) for lines in heads) * leading(_SIZE)
    x = LEFT + 12
    for lines, wide in zip(heads, widths, strict=True):
        for number, line in enumerate(lines):
            page.text(x, y + (number + 0.8) * leading(_SIZE), line, size=_SIZE, face="bold")
        x += wide + _GAP
    y += high + 2
    for number, row in enumerate(rows, start=1):
        page.text(LEFT, y + 12, "123456789"[number - 1], size=11, face="bold")
        x = LEFT + 12
        for cell, wide in zip(row.cells, widths, strict=True):
            _cell(page, x, y, wide, row, cell, form)
            x += wide + _GAP
        y = _remarks(page, y + _BOX, row, [cell.key for cell in row.cells], form)
    return y


def _columns(row: FormRow) -> list[float]:
    of_part = _WIDTHS[row.name.split(".")[0]]
    given = [of_part[cell.key] for cell in row.cells[:-1]]
    return [*given, WIDTH - 12 - sum(given) - _GAP * len(given)]


def _titled(cell: Cell) -> str:
    return f"{cell.title} ({cell.example})" if cell.key == "departs" else cell.title


def _cell(page: Page, x: float, y: float, wide: float, row: FormRow, cell: Cell, form: _Filled) -> None:
    name = f"{BEGINNING}{row.name}.{cell.key}"
    tip = f"{row.title}: {cell.title}" + (f", as in {cell.example}" if cell.example else "")
    value = form.values.get(f"{row.name}.{cell.key}", "")
    if cell.kind == "tick":
        page.tick(x + (wide - 14) / 2, y + 14.5, name, tip, side=14.0, value=value)
    elif cell.kind == "choice":
        page.choose(x, y, wide, _BOX, name, tip, cell.words, value=value)
    else:
        page.write(x, y, wide, _BOX, name, tip, value=value)


def _remarks(page: Page, y: float, row: FormRow, keys: Sequence[str], form: _Filled) -> float:
    """The faults of cells of a row in words below it; the full sentences stand on the last page."""
    titles = {f"{row.name}.{cell.key}": cell.title for cell in row.cells if cell.key in keys}
    here = [remark for remark in form.remarks if remark.cell in titles]
    told_of = [titles[remark.cell] for remark in here]
    told = [f"{title}: {remark.problem.found}" for title, remark in zip(told_of, here, strict=True)]
    most = _REMARK_LINES[row.name.split(".")[0]]
    if told:
        lines = wrap("!  " + ";  ".join(told), "bold", _SIZE, WIDTH - 12)
        if len(lines) > most:
            lines = [f"!  {'; '.join(dict.fromkeys(told_of))}: see the last page"]
        for number, line in enumerate(lines):
            page.text(LEFT + 12, y + (number + 0.85) * leading(_SIZE), line, size=_SIZE, face="bold")
    return y + most * leading(_SIZE) + 2.0


def _told(remarks: Sequence[Remark]) -> list[Page]:
    """Every fault in full."""
    pages: list[Page] = []
    y = BODY_BOTTOM
    for remark in remarks:
        problem = remark.problem
        place = problem.file.partition(" (")[2].removesuffix(")") or "the form"
        text = f"{problem.found}; allowed: {problem.allowed}. Mend: {problem.fix}."
        high = leading(SMALL) * (len(wrap(text, "regular", SMALL, WIDTH - 12)) + 1) + 4
        if y + high > BODY_BOTTOM:
            page = Page(TITLE)
            page.text(LEFT, TOP + 13, "What is to be mended", size=14, face="bold")
            page.across(TOP + 18, 2.0)
            pages.append(page)
            y = TOP + 24
        pages[-1].text(LEFT, y + 0.8 * leading(SMALL), f"{place[:1].upper()}{place[1:]}", face="bold", room=WIDTH)
        y = pages[-1].paragraph(LEFT + 12, y + leading(SMALL), WIDTH - 12, text) + 4
    return pages
