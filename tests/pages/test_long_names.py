"""Names of 60 characters: shrunk towards 9 pt, then wrapped, and never cut on any page."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.pages.drawing import fonts
from planner.pages.drawing.lines import SMALL, fit, wrap, wrap_after
from planner.pages.pack import Paper
from planner.report.log.log import log
from tests.pages.printed import PAPERS, TRIPS, page_numbers, pages, printed

LONG = ["longest", "unbroken"]

texts = st.text(alphabet="abc WMil-1", min_size=0, max_size=70)
rooms = st.floats(min_value=12.0, max_value=300.0)


def names(name: str) -> list[str]:
    """Every name of a trip that somebody chose."""
    made = TRIPS[name]()
    found = [made.trip.name, *(leg.name for leg in made.trip.legs), *made.supplies]
    found += [item.cylinder.label for supply in made.supplies.values() for item in supply.cylinders]
    return found + [use.device.name for leg in made.trip.legs for use in leg.uses]


@pytest.mark.parametrize("name", LONG)
def test_the_names_tried_are_60_characters(name: str) -> None:
    assert max(len(each) for each in names(name)) == 60


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", TRIPS)
def test_nothing_is_cut_on_any_page(name: str, paper: Paper) -> None:
    assert [ink.text for page in pages(printed(name, paper)) for ink in page if "…" in ink.text] == []


@pytest.mark.parametrize("name", LONG)
@pytest.mark.parametrize("title", ["Calculation sheet", "Readings log", "Before leaving"])
def test_names_stand_in_full_where_they_are_used(name: str, title: str) -> None:
    """The sheet names everything; the log every leg, label and supply; the head of each page the trip."""
    made = TRIPS[name]()
    wanted = {
        "Calculation sheet": names(name),
        "Readings log": [
            *(leg.name for leg in made.trip.legs),
            *(row.cylinder for part in log(made) for row in part.rows),
        ],
        "Before leaving": [made.trip.name, *(use.device.name for leg in made.trip.legs for use in leg.uses)],
    }[title]
    found = page_numbers(printed(name), title)
    assert found
    full = "".join(ink.text for number in found for ink in pages(printed(name))[number]).replace(" ", "")
    for each in wanted:
        assert each.replace(" ", "") in full


@pytest.mark.parametrize("name", TRIPS)
def test_no_line_is_longer_than_a_line_can_be_read(name: str) -> None:
    """Some 95 letters at the most: beyond that the eye loses the next line (common practice, no source)."""
    long = [ink.text for page in pages(printed(name)) for ink in page if len(ink.text.strip()) > 103]
    assert long == []


def test_a_name_shrinks_before_it_is_wrapped() -> None:
    whole = fonts.width("Ventilated adult", "bold", 13.2)
    assert fit("Ventilated adult", "bold", 13.2, whole) == 13.2
    assert 0.78 * 13.2 < fit("Ventilated adult", "bold", 13.2, 0.8 * whole) < 0.8 * 13.2
    assert fit("Ventilated adult", "bold", 13.2, 0.5 * whole) == SMALL


@given(text=texts, room=rooms)
def test_a_fitted_text_fits_or_is_as_small_as_it_may_be(text: str, room: float) -> None:
    size = fit(text, "bold", 13.2, room)
    assert SMALL <= size <= 13.2
    assert fonts.width(text, "bold", size) <= room or size == SMALL


@given(text=texts, room=rooms)
def test_wrapping_loses_no_letter_and_no_line_is_too_long(text: str, room: float) -> None:
    lines = wrap(text, "regular", SMALL, room)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(fonts.width(line, "regular", SMALL) <= room + 1e-6 for line in lines)


@given(text=texts, indent=st.floats(min_value=0.0, max_value=100.0))
def test_wrapping_after_a_title_loses_no_letter(text: str, indent: float) -> None:
    lines = wrap_after(indent, text, "regular", SMALL, 120.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert indent + fonts.width(lines[0], "regular", SMALL) <= 120.0 + 1e-6 or lines[0] == ""


@pytest.mark.parametrize("text", ["Übergabe 3.10 µL", "Пациент", "iiiiWWWW", " "])
def test_widths_are_those_that_the_renderer_uses(text: str) -> None:
    """Our sum of advances against reportlab's own measure."""
    from reportlab.pdfbase import pdfmetrics

    for face in fonts.FILES:
        assert fonts.width(text, face, 9.0) == pytest.approx(
            pdfmetrics.stringWidth(text, fonts.register(face), 9.0), abs=1e-6
        )
