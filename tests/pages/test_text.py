"""What the printed pack says, read back from the PDF."""

from __future__ import annotations

import ctypes
import re
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject
from pypdfium2 import raw

from planner import __version__
from planner.pages.drawing.fonts import UnprintableError
from planner.pages.pack import Paper, pack_bytes, write_pack
from planner.planning import plan
from planner.profile.read import parse_trip
from tests import make_plan
from tests.pages.printed import ISSUED, PAPERS, SHORTEST, TRIPS, printed, texts_of


def text_of(data: bytes, page: int | None = None) -> str:
    """The text of one page or of all, white space made single."""
    return " ".join(texts_of(data)) if page is None else texts_of(data)[page]


def test_the_card_leads_with_go_and_the_gauges_to_start_at() -> None:
    text = text_of(printed("example"), 0)
    assert text.startswith("GO ")
    assert "NO-GO" not in text
    assert "A cart, US-E 780 psi 500 psi ends at" in text
    assert "START AT LEAST" in text


def test_the_card_gives_the_change_by_gauge_and_by_time() -> None:
    """8 h at 4.05 L/min of 420 L a cylinder: the first change falls at 103 min, 20:30 + 1 h 43 min = 22:13."""
    text = text_of(printed("longest"), 0)
    assert "103 min 22:13" in text
    assert "308 min 01:38 +1d" in text


@pytest.mark.hazard(26)
def test_the_card_trusts_the_gauge_before_the_plan() -> None:
    assert "START AT LEAST reads change at or after, if sooner" in text_of(printed("example"), 0)
    back = text_of(printed("example"), 1)
    assert "Flow and settings listed below: numbers said; flow seen on the dial" in back
    assert "Settings changed: plan again." in back


@pytest.mark.hazard(5)
def test_a_reading_that_nobody_verified_has_its_own_line() -> None:
    text = text_of(printed("example"), 1)
    assert "Each gauge again (NOT verified): number said, START AT LEAST or above" in text
    verified = SHORTEST.replace("gauge: 2000 psi", "gauge: 2000 psi, verified: true")
    again = text_of(pack_bytes(plan(parse_trip(verified)), issued=ISSUED), 1)
    assert "Gas flowing Each valve: opened SLOWLY" in again
    assert "Each gauge, valve open: number said," in again
    assert "NOT verified" not in again


@pytest.mark.hazard(11)
def test_key_seal_and_spare_regulator_are_lines_before_leaving() -> None:
    text = text_of(printed("example"), 1)
    for line in ("Key, spare washer, spare regulator: in hand", "one washer in it", "Resuscitator and mask, with the"):
        assert line in text
    threaded = SHORTEST.replace("size: US-E", "size: US-M")
    assert "washer" not in text_of(pack_bytes(plan(parse_trip(threaded)), issued=ISSUED), 1)


@pytest.mark.hazard(19)
def test_the_right_gas_is_read_from_label_and_pin_index() -> None:
    """Oxygen's pin index is 2-5: EN ISO 407."""
    text = text_of(printed("example"), 1)
    assert "Label of each cylinder: says OXYGEN" in text
    assert "pins 2-5" in text


@pytest.mark.hazard(28)
def test_the_card_warns_of_fire() -> None:
    text = text_of(printed("example"), 1)
    assert "no oil, grease or tape seen; no flame near" in text
    assert "opened SLOWLY" in text
    assert "shut; no gas into bedding" in text_of(printed("shortest"), 1)


def test_the_card_says_what_to_do_when_something_fails() -> None:
    text = text_of(printed("example"), 0)
    # 57.9 min in the plan made by hand, rounded down
    assert (
        "If it fails oxygen lasts beyond the end BAG by hand at 15 L/min if the ventilator fails 57 min, cart" in text
    )
    assert re.search(r"SHUT its valve, bag, open the next if cylinder or regulator fails \d+ min, cart", text)
    assert re.search(r"MOVE to cart if ambulance fails \d+ min, cart", text)


@pytest.mark.hazard(10)
def test_the_only_cylinder_is_told_as_the_only_one() -> None:
    """Nothing is said of a next one where there is none."""
    text = text_of(printed("shortest"), 0)
    assert (
        "HEAD for the nearest outlet if cylinder or regulator fails: ONLY ONE CYLINDER on cart: no oxygen at once"
        in text
    )
    assert "open the next" not in text


def test_a_mask_that_names_a_resuscitator_has_its_action() -> None:
    bagged = SHORTEST.replace(
        "flow: 2 L/min}", "flow: 2 L/min, if_it_fails: bag}\n  bag: {type: manual_resuscitator, flow: 10 L/min}"
    )
    text = text_of(pack_bytes(plan(parse_trip(bagged)), issued=ISSUED), 0)
    assert re.search(r"SWITCH from cannula to bag at 10 L/min if it fails \d+ min, cart", text)


def test_a_no_go_card_says_why_and_what_mends_it_and_has_no_table_to_travel_by() -> None:
    text = text_of(printed("no_go"), 0)
    assert text.startswith("NO-GO ")
    assert "DO NOT DEPART ON THIS PLAN" in text
    assert "Supply cart has 0 L usable with the spare left out, and 317 L are required." in text
    assert "Mend: Add 2 full US-E cylinders to cart." in text
    assert "When mended: plan again, print a new card, destroy this one." in text
    for travel in ("SHOULD READ", "LEAVE AT", "ACT BELOW", "CHANGE AT"):
        assert travel not in text
    assert not re.search(r"(?<!NO-)\bGO\b", text_of(printed("no_go")))


def test_a_value_changed_by_hand_is_printed() -> None:
    assert 'Changed for this plan: cart.A.gauge="1400 psi"' in text_of(printed("no_go"), 0)


@pytest.mark.hazard(20)
@pytest.mark.parametrize("name", TRIPS)
def test_every_page_tells_a_stale_card_from_a_fresh_one(name: str) -> None:
    made = TRIPS[name]().trip
    for number in range(len(PdfReader(BytesIO(printed(name))).pages)):
        text = text_of(printed(name), number)
        shown = made.reference or made.name
        assert shown[:20] in text  # a longer one may be cut with an ellipsis
        assert f"profile {made.fingerprint[:12]} · issued 3 Dec 2026 13:05 · transport-oxygen {__version__}" in text


@pytest.mark.hazard(20)
def test_one_edit_changes_the_fingerprint_on_paper() -> None:
    edited = parse_trip(SHORTEST.replace("2000 psi", "1990 psi"))
    other = text_of(pack_bytes(plan(edited), issued=ISSUED), 0)
    found = [re.search(r"profile ([0-9a-f]{12}) ", text) for text in (text_of(printed("shortest"), 0), other)]
    assert found[0]
    assert found[1]
    assert found[0][1] != found[1][1]


@pytest.mark.parametrize("name", TRIPS)
def test_long_names_stand_in_full_on_the_sheet(name: str) -> None:
    made = TRIPS[name]()
    text = text_of(printed(name)).replace(" ", "")
    for leg in made.trip.legs:
        assert leg.name.replace(" ", "") in text
    for supply in made.supplies.values():
        assert supply.supply.name.replace(" ", "") in text
        for item in supply.cylinders:
            assert item.cylinder.label.replace(" ", "") in text


def test_a_character_that_the_font_lacks_is_named() -> None:
    made = make_plan.example()
    odd = made._replace(trip=made.trip._replace(name="Ward 三 to scanner"))
    with pytest.raises(UnprintableError, match=re.escape("'三' (U+4E09, CJK UNIFIED IDEOGRAPH-4E09) in 'Ward 三 to")):
        pack_bytes(odd, issued=ISSUED)


@pytest.mark.parametrize(
    "name", ["Пациент в больницу", "Μεταφορά ασθενούς", "Übergabe à l'hôpital, Łódź", "cafe\u0301"]
)
def test_latin_greek_and_cyrillic_are_printed(name: str) -> None:
    made = make_plan.example()
    data = pack_bytes(made._replace(trip=made.trip._replace(name=name)), issued=ISSUED)
    assert (name if name != "cafe\u0301" else "caf\u00e9") in text_of(data, 0)


@pytest.mark.parametrize("name", TRIPS)
@pytest.mark.parametrize("paper", PAPERS)
def test_the_file_says_what_it_is(name: str, paper: Paper) -> None:
    reader = PdfReader(BytesIO(printed(name, paper)))
    assert reader.metadata
    assert reader.metadata.title == f"Oxygen plan, {TRIPS[name]().trip.reference or TRIPS[name]().trip.name}"
    assert reader.metadata.author == "transport-oxygen"
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"  # type: ignore[index]
    order = [
        "Card",
        "Before leaving",
        "Changes, arrival, readings",
        "Checklists",
        "Readings log",
        "Nomogram: gauge, flow, minutes",
        "Calculation sheet",
    ]
    found = [item.title for item in reader.outline]  # type: ignore[union-attr]
    assert found == (["Card", "Calculation sheet"] if not TRIPS[name]().go else order)


@pytest.mark.longer("name", ["longest", "no_go"], list(TRIPS))
@pytest.mark.parametrize("fillable", [False, True])
def test_every_font_of_the_file_is_embedded(name: str, fillable: bool) -> None:
    """Every font in the file, whether a page writes with it or not; a reader without our fonts shows the same page."""
    data = pack_bytes(TRIPS[name](), issued=ISSUED, fillable=fillable)
    reader = PdfReader(BytesIO(data))
    found = [
        thing
        for number in range(1, int(reader.trailer["/Size"]))  # type: ignore[call-overload]
        if isinstance(thing := reader.get_object(number), DictionaryObject) and thing.get("/Type") == "/Font"
    ]
    named = {str(font["/BaseFont"]).lstrip("/").rpartition("+")[2] for font in found}
    assert len(named) >= 3
    assert all(name.startswith("PlanSans") for name in named)
    for font in found:
        held: Any = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font  # type: ignore[index]
        assert "/FontFile2" in held["/FontDescriptor"], font["/BaseFont"]
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            assert font.get_object() in found
    assert b"Helvetica" not in data


def test_the_same_plan_gives_the_same_bytes_and_another_time_others() -> None:
    first, second = (pack_bytes(make_plan.example(), issued=ISSUED) for _ in range(2))
    assert first == second
    assert first != pack_bytes(make_plan.example(), issued=ISSUED + timedelta(minutes=1))


def test_a_pack_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "pack.pdf"
    write_pack(make_plan.example(), path, issued=ISSUED)
    assert path.read_bytes() == printed("example")
    assert [item.name for item in tmp_path.iterdir()] == ["pack.pdf"]


def test_a_pack_that_cannot_be_printed_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "pack.pdf"
    path.write_bytes(b"old")
    made = make_plan.example()
    with pytest.raises(UnprintableError):
        write_pack(made._replace(trip=made.trip._replace(name="三")), path, issued=ISSUED)
    assert path.read_bytes() == b"old"
    assert [item.name for item in tmp_path.iterdir()] == ["pack.pdf"]


def test_every_device_of_the_trip_stands_with_its_flow() -> None:
    """A conserver of 35 mL at 20 a minute draws 0.7 L/min: 0.035 x 20."""
    conserver = SHORTEST.replace(
        "{type: nasal_cannula, flow: 2 L/min}",
        "{type: pulse_conserver, pulse_volume: 35 mL, rate: 20/min, if_it_fails: mask}\n"
        "  mask: {type: simple_mask, flow: 6 L/min}",
    )
    data = pack_bytes(plan(parse_trip(conserver)), issued=ISSUED)
    text = f"{text_of(data, 0)} {text_of(data, 1)}"
    assert "SET 35 mL × 20 /min" in text
    assert "pulse conserver; draws 0.7 L/min of oxygen" in text
    assert "SWITCH from cannula to mask at 6 L/min if it fails" in text


@pytest.mark.parametrize("name", ["example", "no_go"])
@pytest.mark.parametrize("fillable", [False, True])
def test_headings_and_paragraphs_are_tagged_in_reading_order(name: str, fillable: bool) -> None:
    """Read back by another library: roles of each page, and the text that each heading marks."""
    document = pypdfium2.PdfDocument(pack_bytes(TRIPS[name](), issued=ISSUED, fillable=fillable))
    reader = PdfReader(BytesIO(pack_bytes(TRIPS[name](), issued=ISSUED, fillable=fillable)))
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]  # type: ignore[index]
    for number, page in enumerate(document):
        tree = raw.FPDF_StructTree_GetForPage(page.raw)
        (whole,) = (
            raw.FPDF_StructTree_GetChildAtIndex(tree, n) for n in range(raw.FPDF_StructTree_CountChildren(tree))
        )
        roles = {}
        for place in range(raw.FPDF_StructElement_CountChildren(whole)):
            piece = raw.FPDF_StructElement_GetChildAtIndex(whole, place)
            if piece:  # of another page: none
                roles[raw.FPDF_StructElement_GetMarkedContentID(piece)] = _role(piece)
        assert list(roles) == list(range(len(roles))), number
        assert {"H1", "P"} <= set(roles.values()), number
        told: dict[int, str] = {}
        text_page = page.get_textpage()
        for item in page.get_objects([raw.FPDF_PAGEOBJ_TEXT], textpage=text_page):
            marked = raw.FPDFPageObj_GetMarkedContentID(item.raw)
            assert marked in roles, item.extract()
            told[marked] = f"{told.get(marked, '')} {item.extract().strip()}".strip()
        titles = [text for marked, text in told.items() if roles[marked] == "H1"]
        assert len(titles) == 1, number
        if number == 0:
            assert titles == ["GO" if name == "example" else "NO-GO"]
            assert "If it fails" in [text for marked, text in told.items() if roles[marked] == "H2"]
        assert str(reader.pages[number]["/Tabs"]) == "/R"


def _role(piece: Any) -> str:
    buffer = ctypes.create_string_buffer(40)
    raw.FPDF_StructElement_GetType(piece, buffer, 40)
    return bytes(buffer).decode("utf-16-le").split("\0")[0]
