"""The fillable form, read back and filled in with pypdf, and rendered with pypdfium2."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from click.testing import CliRunner
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DictionaryObject
from pypdfium2 import raw

from planner.command.cli import main
from planner.pages.drawing.layout import FormField
from planner.pages.form import name_tree
from planner.pages.pack import PAPERS, Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.results import Plan
from tests.pages.printed import ISSUED, MM, SHORTEST, TRIPS, printed
from tests.pages.test_checklists import ROAD, longest_with_changes

PLANS: dict[str, Callable[[], Plan]] = {**TRIPS, "changes": cache(longest_with_changes)}
every_plan = pytest.mark.longer("name", ["six legs", "no_go", "changes"], list(PLANS))
README = Path(__file__).parents[2] / "planner" / "pages" / "README.md"

KEY, NAME = r"[a-z_]+\d*", r"[^.]+"
NAMES = {
    "Tx": (
        rf"log\.{NAME}\.{NAME}\.\d+\.(gauge|time|flow|refilled_to|initials)",
        rf"log\.between\.\d+\.\d+\.{NAME}\.(gauge|time|flow|initials)",
        r"log\.free\.\d+\.(cylinder|gauge|time|flow|initials)",
        r"card\.(left_at|released_by|accepted_by)",
        rf"pause\.{KEY}\.(first|second)",
        r"(before|arrival|return|draw)\.(time|initials|second\.initials)",
        rf"draw\.{NAME}\.\d+\.gauge",
        rf"sheet\.hand\.{NAME}\.{NAME}\.initials",
        r"plan\.(trip|revision|fingerprint)",
    ),
    "Btn": (
        rf"(before|arrival|return|draw)\.{KEY}",
        rf"change\.\d+\.{KEY}",
        r"log\.free\.\d+\.refilled",
    ),
}
"""The forms of names that the page on names lists, by kind of field."""


@cache
def form(name: str, paper: Paper = "a4") -> bytes:
    """The fillable pack of one of the trips."""
    return pack_bytes(PLANS[name](), paper=paper, issued=ISSUED, fillable=True)


@cache
def read(data: bytes) -> PdfReader:
    """A file of pages, opened once: nobody writes in it."""
    return PdfReader(BytesIO(data))


@cache
def fields(data: bytes) -> dict[str, Any]:
    """Every field that takes a value, by its whole name."""
    found = read(data).get_fields() or {}
    return {name: one for name, one in found.items() if "/FT" in one and one.get("/FT") is not None}


def boxes(data: bytes) -> list[tuple[int, str, DictionaryObject]]:
    """The same without the fields that nobody sees."""
    return [each for each in widgets(data) if not each[1].startswith("plan.")]


@cache
def widgets(data: bytes) -> list[tuple[int, str, DictionaryObject]]:
    """Page, whole name and dictionary of every box of the form."""
    found = []
    for number, page in enumerate(read(data).pages):
        for reference in page.get("/Annots", []):
            widget = reference.get_object()
            if widget.get("/Subtype") == "/Widget":
                parts: list[str] = []
                node: Any = widget
                while node is not None:
                    parts = [str(node["/T"]), *parts] if "/T" in node else parts
                    node = node["/Parent"].get_object() if "/Parent" in node else None
                found.append((number, ".".join(parts), widget))
    return found


def filled(data: bytes, values: dict[str, str]) -> bytes:
    """The form with values written in by pypdf, as another program would."""
    writer = PdfWriter(clone_from=PdfReader(BytesIO(data)))
    for number, page in enumerate(writer.pages):
        here = {name: values[name] for at, name, _ in widgets(data) if at == number and name in values}
        if here:
            writer.update_page_form_field_values(page, here, auto_regenerate=False)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


@lru_cache(maxsize=16)
def picture(data: bytes, page: int) -> Any:
    """A page at 144 dpi with its fields as they would be printed, without the colour of a field on the screen."""
    document = pypdfium2.PdfDocument(data)
    if document.get_formtype():
        document.init_forms()
        raw.FPDF_SetFormFieldHighlightAlpha(document.formenv, 0)
    return document[page].render(scale=2, grayscale=True).to_pil()


@every_plan
def test_every_name_is_of_a_form_that_is_listed(name: str) -> None:
    found = fields(form(name))
    assert found
    for field, one in found.items():
        kind = one["/FT"].removeprefix("/")
        assert any(re.fullmatch(pattern, field) for pattern in NAMES[kind]), field


def test_the_page_of_names_lists_what_readings_are_compared_by() -> None:
    page = README.read_text(encoding="utf-8")
    for start in (
        "log.SUPPLY.CYLINDER.N.gauge",
        "log.between.N.K.SUPPLY.gauge",
        "card.left_at",
        "pause.KEY.first",
        "change.N.KEY",
        "before.KEY",
    ):
        assert f"`{start}`" in page


def test_names_carry_supply_cylinder_and_number_of_the_reading() -> None:
    """Cylinder A of the cart is read before departure and at the end of legs 1 and 2: its third is log.cart.A.3."""
    found = fields(form("example"))
    for name in ("log.cart.A.1.gauge", "log.cart.A.3.gauge", "log.cart.A.3.time", "log.ambulance.main.2.initials"):
        assert found[name]["/FT"] == "/Tx"
    for name in ("before.hands", "arrival.outlet", "return.shut", "change.1.valve"):
        assert found[name]["/FT"] == "/Btn"


def test_the_same_trip_gives_the_same_names_whatever_its_gauges() -> None:
    other = ROAD.replace("2000 psi", "1950 psi")
    names = [set(fields(pack_bytes(plan(parse_trip(text)), issued=ISSUED, fillable=True))) for text in (ROAD, other)]
    assert names[0] == names[1]


@every_plan
def test_no_box_is_lost_and_equal_names_are_one_field(name: str) -> None:
    names = [field for _, field, _ in widgets(form(name))]
    assert set(names) == set(fields(form(name)))
    twice = {field for field in names if names.count(field) > 1}
    assert all(field.startswith(("log.", "return.", "plan.")) for field in twice)
    assert any(not field.startswith("plan.") for field in twice) is PLANS[name]().go


@every_plan
def test_every_page_says_which_print_it_is_and_nobody_sees_it(name: str) -> None:
    trip = PLANS[name]().trip
    pages = len(read(form(name)).pages)
    held = {"plan.trip": trip.reference or trip.name, "plan.revision": "1", "plan.fingerprint": trip.fingerprint}
    found = fields(form(name))
    for field, value in held.items():
        of_field = [(page, widget) for page, each, widget in widgets(form(name)) if each == field]
        assert [page for page, _ in of_field] == list(range(pages))
        assert found[field]["/V"] == value
        assert {int(str(widget["/F"])) for _, widget in of_field} == {2}  # hidden: neither shown nor printed
        assert int(str(found[field]["/Ff"])) == 1  # read only


def test_the_texts_that_a_print_was_made_from_are_attached() -> None:
    """One of more than 1 MB is left out: the reader of forms would not unpack it."""
    (name,) = read(form("shortest")).attachments
    ((data,),) = read(form("shortest")).attachments.values()
    assert name == "planned-from.json"
    assert [text for _, text in json.loads(data)["texts"]] == [text for _, text in PLANS["shortest"]().trip.texts]
    large = parse_trip(f"# {'x' * (999_990 - len(SHORTEST))}\n" + SHORTEST)
    assert not PdfReader(BytesIO(pack_bytes(plan(large), issued=ISSUED, fillable=True))).attachments


def test_a_reading_typed_at_a_change_stands_in_the_log_too() -> None:
    data = filled(form("example"), {"log.cart.A.3.gauge": "1740"})
    shown = [(page, widget) for page, field, widget in widgets(data) if field == "log.cart.A.3.gauge"]
    assert len({page for page, _ in shown}) == 4  # front, second sheet, list of changes, log
    for page, widget in shown:
        assert _ink(data, page, widget) > _ink(form("example"), page, widget)


@pytest.mark.parametrize("name", ["example", "changes", "no_go"])
def test_values_are_read_back(name: str) -> None:
    before = fields(form(name))
    values = {
        field: "/Yes" if one["/FT"] == "/Btn" else f"{number}" for number, (field, one) in enumerate(before.items())
    }
    after = fields(filled(form(name), values))
    assert {field: one.get("/V") for field, one in after.items()} == values


def test_ticks_and_text_show_inside_their_boxes() -> None:
    values = {"before.hands": "/Yes", "log.cart.A.1.gauge": "2080", "before.initials": "ÅØ"}
    data = filled(form("example"), values)
    for page, field, widget in widgets(data):
        if field in values:
            assert _ink(data, page, widget) > _ink(form("example"), page, widget) + 30, field


def _ink(data: bytes, page: int, widget: DictionaryObject) -> int:
    """Number of dark pixels within a box, its border left out."""
    image = picture(data, page)
    left, bottom, right, top = (2 * float(value) for value in widget["/Rect"])  # type: ignore[attr-defined]
    box = (int(left) + 3, int(image.height - top) + 3, int(right) - 3, int(image.height - bottom) - 3)
    return int(sum(image.crop(box).histogram()[:128]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.longer("name", ["six legs"], ["example", "six legs", "no_go"])
def test_an_empty_form_prints_as_the_pages_do(name: str, paper: Paper) -> None:
    plain = pypdfium2.PdfDocument(printed(name, paper))
    for number in range(len(plain)):
        assert picture(form(name, paper), number).tobytes() == picture(printed(name, paper), number).tobytes(), number


@pytest.mark.parametrize("paper", PAPERS)
@every_plan
def test_every_field_lies_over_a_printed_box(name: str, paper: Paper) -> None:
    """Its border is dark at the middle of each side."""
    data = form(name, paper)
    images = {number: picture(data, number) for number in {page for page, _, _ in boxes(data)}}
    for number, field, widget in boxes(data):
        left, bottom, right, top = (2 * float(value) for value in widget["/Rect"])  # type: ignore[attr-defined]
        image = images[number]
        across, up = (left + right) / 2, image.height - (bottom + top) / 2
        for x, y in ((left, up), (right, up), (across, image.height - top), (across, image.height - bottom)):
            around = image.crop((int(x) - 2, int(y) - 2, int(x) + 3, int(y) + 3))
            assert around.getextrema()[0] < 128, f"{field} on page {number + 1}"


@pytest.mark.parametrize("paper", PAPERS)
@every_plan
def test_fields_keep_the_margins_and_the_clip(name: str, paper: Paper) -> None:
    wide, high = PAPERS[paper]
    for _, field, widget in widgets(form(name, paper)):
        left, bottom, right, top = (float(value) for value in widget["/Rect"])  # type: ignore[attr-defined]
        assert left >= 6 * MM, field
        assert right <= wide - 6 * MM, field
        assert bottom >= 6 * MM, field
        assert top <= high - 24 * MM, field


@every_plan
def test_every_field_says_what_it_is_for_and_is_printed(name: str) -> None:
    for field, one in fields(form(name)).items():
        assert one.get("/TU"), field
    assert {int(str(widget["/F"])) for _, _, widget in boxes(form(name))} == {4}  # print, neither hidden nor locked


def test_text_is_typed_in_the_embedded_typeface_of_the_pages() -> None:
    root: Any = read(form("example")).trailer["/Root"]
    acro = root["/AcroForm"]
    assert acro["/NeedAppearances"].value is False
    (font,) = acro["/DR"]["/Font"].values()
    font = font.get_object()
    assert font["/FontDescriptor"]["/FontFile2"].get_data()[:4] == b"\x00\x01\x00\x00"  # a TrueType file
    assert font["/Encoding"] == "/WinAnsiEncoding"
    assert len(font["/Widths"]) == font["/LastChar"] - font["/FirstChar"] + 1
    texts = [one for one in fields(form("example")).values() if one["/FT"] == "/Tx"]
    name = next(iter(acro["/DR"]["/Font"]))
    for _, field, widget in boxes(form("example")):
        source: Any = widget if "/FT" in widget else widget["/Parent"]
        if source["/FT"] == "/Tx":
            size = re.fullmatch(rf"{re.escape(name)} ([\d.]+) Tf 0 g", source["/DA"])
            assert size, field
            assert float(size[1]) >= 9.0
    assert texts


def test_digits_are_as_wide_as_the_file_of_the_typeface_says() -> None:
    from fontTools.ttLib import TTFont

    root: Any = read(form("shortest")).trailer["/Root"]
    (font,) = root["/AcroForm"]["/DR"]["/Font"].values()
    font = font.get_object()
    file = TTFont(BytesIO(font["/FontDescriptor"]["/FontFile2"].get_data()))
    names = file.getBestCmap()
    for letter in "0123456789:psiABCÅé":
        width = 1000 * file["hmtx"][names[ord(letter)]][0] / file["head"].unitsPerEm
        code = letter.encode("cp1252")[0]
        assert font["/Widths"][code - font["/FirstChar"]] == pytest.approx(width, abs=0.51), letter


@every_plan
def test_the_same_plan_gives_the_same_bytes(name: str) -> None:
    assert pack_bytes(PLANS[name](), issued=ISSUED, fillable=True) == form(name)


def test_without_the_option_no_form_is_in_the_file() -> None:
    assert "/AcroForm" not in read(printed("example")).trailer["/Root"]  # type: ignore[operator]
    assert widgets(printed("example")) == []


def test_names_in_other_letters_are_kept() -> None:
    text = SHORTEST.replace("  cart:", "  тележка:").replace("supply: cart", "supply: тележка")
    text = text.replace("label: A", "label: Φιάλη (1)")
    found = fields(pack_bytes(plan(parse_trip(text)), issued=ISSUED, fillable=True))
    assert "log.тележка.Φιάλη (1).1.gauge" in found


def box(name: str, kind: Any = "write") -> FormField:
    return FormField(name, kind, 0.0, 0.0, 20.0, 20.0, "a box")


def test_names_that_would_clash_are_told_apart() -> None:
    """A field cannot hang below another field, nor be a tick and a text."""
    root = name_tree(
        [(box("a.b"), 1), (box("a.b.c"), 2), (box("a.b", "tick"), 3), (box("d"), 4), (box("d"), 5), (box(""), 6)]
    )
    a = root.nodes["a"]
    assert a.nodes["b"].widgets == []
    assert a.nodes["b"].nodes["c"].widgets == [2]
    assert a.nodes["b_"].widgets == [1]
    assert a.nodes["b__"].widgets == [3]
    assert root.nodes["d"].widgets == [4, 5]
    assert root.nodes["_"].widgets == [6]


def test_the_command_writes_a_form(tmp_path: Path) -> None:
    trip = tmp_path / "trip.yaml"
    trip.write_text(ROAD, encoding="utf-8")
    runner = CliRunner()
    for option, wanted in (([], False), (["--fillable"], True)):
        ran = runner.invoke(main, ["plan", str(trip), "--format", "pdf", "--output", str(tmp_path), *option])
        assert ran.exit_code == 0, ran.output
        assert bool(fields((tmp_path / "trip.pdf").read_bytes())) is wanted
