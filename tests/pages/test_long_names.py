"""Names of 60 characters: wrapped, shrunk to 9 pt, then cut with an ellipsis, and given in full on the sheet."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.pages.drawing import fonts
from planner.pages.drawing.lines import ELLIPSIS, SMALL, cut, fit, wrap, wrap_after
from tests.pages.printed import TRIPS, Ink, page_numbers, pages, printed, unbroken

LONG = ["longest", "unbroken"]

texts = st.text(alphabet="abc WMil-1", min_size=0, max_size=70)
rooms = st.floats(min_value=12.0, max_value=300.0)


def names(name: str) -> list[str]:
    """Every name of a trip that somebody chose."""
    made = TRIPS[name]()
    found = [made.trip.name, *(leg.name for leg in made.trip.legs), *made.supplies]
    found += [item.cylinder.label for supply in made.supplies.values() for item in supply.cylinders]
    return found + [use.device.name for leg in made.trip.legs for use in leg.uses]


def cut_pieces(name: str) -> list[Ink]:
    return [ink for page in pages(printed(name)) for ink in page if ink.text.strip().endswith(ELLIPSIS)]


@pytest.mark.parametrize("name", LONG)
def test_the_names_tried_are_60_characters(name: str) -> None:
    assert max(len(each) for each in names(name)) == 60
    assert len(cut_pieces(name)) > 5


@pytest.mark.parametrize("name", LONG)
def test_what_is_cut_stands_in_full_on_the_sheet(name: str) -> None:
    sheet = page_numbers(printed(name), "Calculation sheet")
    assert sheet
    full = "".join(ink.text for number in sheet for ink in pages(printed(name))[number]).replace(" ", "")
    for each in names(name):
        assert each.replace(" ", "") in full


@pytest.mark.parametrize("name", LONG)
def test_the_sheet_itself_cuts_nothing_but_its_head(name: str) -> None:
    for number in page_numbers(printed(name), "Calculation sheet"):
        page = pages(printed(name))[number]
        head, foot = max(ink.top for ink in page) - 25, min(ink.bottom for ink in page) + 15
        assert not [
            ink.text for ink in page if ink.text.strip().endswith(ELLIPSIS) and ink.top < head and ink.bottom > foot
        ]


@pytest.mark.parametrize("name", LONG)
def test_nothing_is_cut_before_it_is_9_pt(name: str) -> None:
    for ink in cut_pieces(name):
        if ink.size < 13:  # a name of two lines is set at its own size, its last line cut
            assert ink.size in (pytest.approx(SMALL, abs=0.01), pytest.approx(10.0, abs=0.01)), ink.text


@pytest.mark.parametrize("name", LONG)
def test_figures_are_never_cut(name: str) -> None:
    assert [ink.text for ink in cut_pieces(name) if ink.text.strip()[:1].isdigit() and "psi" in ink.text] == []


def test_a_long_label_is_wrapped_on_the_card_and_its_number_in_the_log() -> None:
    card = "".join(ink.text.strip() for ink in pages(printed("unbroken"))[0])
    assert card.count(unbroken().supplies[next(iter(unbroken().supplies))].cylinders[0].cylinder.label) >= 1
    assert "…" not in card
    log = page_numbers(printed("unbroken"), "Readings log")
    assert "no. 1" in [ink.text.strip() for ink in pages(printed("unbroken"))[log[0]]]


def test_a_name_shrinks_before_it_is_cut() -> None:
    whole = fonts.width("Ventilated adult", "bold", 13.2)
    assert fit("Ventilated adult", "bold", 13.2, whole) == ("Ventilated adult", 13.2)
    text, size = fit("Ventilated adult", "bold", 13.2, 0.8 * whole)
    assert text == "Ventilated adult"
    assert 0.78 * 13.2 < size < 0.8 * 13.2
    text, size = fit("Ventilated adult", "bold", 13.2, 0.5 * whole)
    assert text.endswith(ELLIPSIS)
    assert size == SMALL


@given(text=texts, room=rooms)
def test_a_fitted_text_fits(text: str, room: float) -> None:
    shown, size = fit(text, "bold", 13.2, room)
    assert size >= SMALL
    assert fonts.width(shown, "bold", size) <= room or shown == ELLIPSIS
    assert text.startswith(shown.removesuffix(ELLIPSIS).rstrip()) or shown == text


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


@given(text=texts, room=rooms, most=st.integers(min_value=1, max_value=3))
def test_no_more_lines_than_allowed(text: str, room: float, most: int) -> None:
    lines = wrap(text, "regular", SMALL, room, most)
    assert len(lines) <= most
    if len(wrap(text, "regular", SMALL, room)) > most:
        assert lines[-1].endswith(ELLIPSIS)


def test_a_cut_text_says_so() -> None:
    assert cut("Intensive care", "regular", SMALL, 40.0).endswith(ELLIPSIS)
    assert cut("Lift", "regular", SMALL, 40.0) == "Lift"


@pytest.mark.parametrize("text", ["Übergabe 3.10 µL", "Пациент", "iiiiWWWW", " "])
def test_widths_are_those_that_the_renderer_uses(text: str) -> None:
    """Our sum of advances against reportlab's own measure."""
    from reportlab.pdfbase import pdfmetrics

    for face in fonts.FILES:
        assert fonts.width(text, face, 9.0) == pytest.approx(
            pdfmetrics.stringWidth(text, fonts.register(face), 9.0), abs=1e-6
        )
