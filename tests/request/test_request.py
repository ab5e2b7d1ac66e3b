"""The request form: filled in through two engines, read back as the trip that was meant, sent back with its faults."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Mapping
from functools import cache
from io import BytesIO
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from planner.command.cli import main
from planner.model import Trip
from planner.pages.request import request_bytes
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.request import cells
from planner.request.read import asked_for, read_request, trip_of_request
from tests.request.filling import by_pdfium, by_pypdf

Fill = Callable[[bytes, Mapping[str, str]], bytes]

WARD = {
    "head.asks": "ward 7, nurse in charge",
    "head.reach": "extension 4711",
    "head.from": "Ward 7",
    "head.to": "Scanner (north)",
    "head.setting": "inside the hospital",
    "head.departs": "2026-12-03 14:20",
    "leg.1.name": "Ward to scanner",
    "leg.1.minutes": "7",
    "leg.1.wait": "3",
    "leg.1.wait_for": "lift",
    "leg.1.oxygen": "cylinders that go along",
    "leg.2.name": "In the scanner",
    "leg.2.minutes": "8 min",
    "leg.2.longest": "15",
    "leg.2.magnet": "Yes",
    "leg.2.oxygen": "wall outlet",
    "leg.3.name": "Back",
    "leg.3.minutes": "7",
    "leg.3.oxygen": "cylinders that go along",
    "device.1.type": "nasal cannula",
    "device.1.flow": "4",
    "device.1.legs": "all",
    "device.1.fails": "device 2",
    "device.2.type": "manual resuscitator (bag)",
    "device.2.flow": "15",
    "device.2.legs": "stands by",
    "cylinder.1.label": "A",
    "cylinder.1.gauge": "1500",
    "cylinder.1.flowmeter": "Yes",
    "cylinder.1.contents": "680 L at 2015 psi",
    "cylinder.1.place": "goes with the patient",
}

BY_HAND = """\
profile: 1
trip: Ward 7 to Scanner (north)
setting: in_house
departs: 2026-12-03 14:20
supplies:
  wall: {pipeline: true}
  cart: {cylinders: [{label: A, contents: 680 L at 2015 psi, gauge: 1500 psi, outlets: [{flowmeter: 15 L/min}]}]}
devices:
  nasal_cannula: {type: nasal_cannula, flow: 4 L/min, if_it_fails: manual_resuscitator}
  manual_resuscitator: {type: manual_resuscitator, flow: 15 L/min}
legs:
  - name: Ward to scanner
    duration: 7 min
    delays: [{reason: lift, time: 3 min}]
    supply: cart
    devices: [nasal_cannula]
  - {name: In the scanner, duration: 8 min, longest: 15 min, magnet: true, supply: wall, devices: [nasal_cannula]}
  - {name: Back, duration: 7 min, supply: cart, devices: [nasal_cannula]}
"""
"""The same trip, typed by hand."""


def same(one: Trip, other: Trip) -> bool:
    """True where two trips are alike but for where they were read from."""
    texts = []
    for trip in (one, other):
        bare = trip._replace(file="", fingerprint="", texts=(), changes=())
        texts.append(re.sub(r"Position\(line=[0-9]+, column=[0-9]+\)", "", repr(bare)))
    return texts[0] == texts[1]


@cache
def blank(unit: str) -> bytes:
    return request_bytes(unit)


def put(path: Path, fill: Fill, values: Mapping[str, str], unit: str = "psi") -> Path:
    path.write_bytes(fill(blank(unit), values))
    return path


@pytest.mark.parametrize("fill", [by_pypdf, by_pdfium])
def test_a_form_filled_in_by_a_viewer_is_the_trip_that_was_meant(fill: Fill, tmp_path: Path) -> None:
    form = put(tmp_path / "ward.pdf", fill, WARD)
    assert read_request(form).values == WARD
    assert same(trip_of_request(form), parse_trip(BY_HAND))


AIR = "AIR, goes along"
_KEYS = ("flow", "fio2", "volume", "rate", "bias", "leak", "drive_gas")


def test_each_device_of_the_form_is_one_of_the_profile() -> None:
    """Every word to choose, with what it needs: read without a problem, and of the type that it names."""
    for word, kind in cells.DEVICE_KINDS.items():
        numbers = {
            "flow": "10",
            "fio2": "40",
            "volume": "480",
            "rate": "16",
            "bias": "2",
            "leak": "0",
            "drive_gas": "5",
        }
        values = {**WARD, "device.1.type": word}
        values.pop("device.1.flow")
        values |= {f"device.1.{key}": numbers[key] for key in kind.needs if key in numbers}
        values |= {"cylinder.1.high_pressure": "Yes"}
        air = {
            "label": "L1",
            "gauge": "2000",
            "size": _size("US-E"),
            "high_pressure": "Yes",
            "place": "AIR, goes along",
        }
        values |= {f"cylinder.2.{key}": value for key, value in air.items()}
        request = asked_for("form.pdf", "psi", values)
        assert request.remarks == (), word
        device = next(iter(parse_trip(request.text).devices.values()))
        assert device.type == kind.type, word


def _size(code: str) -> str:
    words = next(cell.words for cell in cells.cylinder_cells("psi") if cell.key == "size")
    return next(word for word in words if word.startswith(f"{code},"))


def test_sizes_name_their_litres() -> None:
    """US-E: factor 0.28 L/psi x 2200 psi = 616 L by hand; the real gas of the same cylinder agrees within 2 %."""
    litres = float(_size("US-E").split(",")[1].split()[0])
    assert litres == pytest.approx(616, rel=0.02)


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize("unit", ["psi", "bar", "kPa", "MPa"])
def test_a_bare_gauge_is_in_the_unit_that_is_printed(unit: str, tmp_path: Path) -> None:
    """1500 psi is 103.4 bar is 10342 kPa is 10.342 MPa (6.894757 kPa a psi)."""
    bare = {"psi": "1500", "bar": "103.42", "kPa": "10342", "MPa": "10.342"}[unit]
    trip = trip_of_request(put(tmp_path / "form.pdf", by_pypdf, {**WARD, "cylinder.1.gauge": bare}, unit))
    gauge_kpa = trip.supplies["cart"].cylinders[0].gauge_kpa
    assert gauge_kpa == pytest.approx(1500 * 6.894757, rel=1e-4)


BREATHES_BY_MAINS = {
    **{name: value for name, value in WARD.items() if not name.startswith(("device", "cylinder", "leg.2"))},
    "leg.1.oxygen": "liquid oxygen vessel",
    "leg.1.mains": "Yes",
    "leg.3.oxygen": "liquid oxygen vessel",
    "device.1.type": "oxygen concentrator",
    "device.1.flow": "2",
    "device.1.battery": "210",
    "device.1.legs": "all",
    "device.1.fails": "device 2",
    "device.2.type": "nasal cannula",
    "device.2.flow": "2",
    "device.2.legs": "stands by",
    "liquid.1.amount": "12 lb",
    "liquid.1.keep": "1 lb",
    "liquid.1.loss": "1.5 lb/day",
    "liquid.1.read_at": "2026-12-03 09:00",
    "liquid.1.flowmeter": "Yes",
    "liquid.1.place": "goes with the patient",
}
BREATHES_BY_MAINS_BY_HAND = """\
profile: 1
trip: Ward 7 to Scanner (north)
setting: in_house
departs: 2026-12-03 14:20
supplies:
  liquid:
    outlets: [{flowmeter: 15 L/min}]
    liquid: {amount: 12 lb, keep: 1 lb, loss: 1.5 lb/day, read_at: 2026-12-03 09:00}
devices:
  concentrator: {type: concentrator, flow: 2 L/min, battery: 3 h 30 min, if_it_fails: nasal_cannula}
  nasal_cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - name: Ward to scanner
    duration: 7 min
    delays: [{reason: lift, time: 3 min}]
    mains: true
    supply: liquid
    devices: [concentrator]
  - {name: Back, duration: 7 min, supply: liquid, devices: [concentrator]}
"""


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize("fill", [by_pypdf, by_pdfium])
def test_a_concentrator_its_battery_and_a_vessel_of_liquid_are_read_as_they_were_meant(
    fill: Fill, tmp_path: Path
) -> None:
    """No cylinder is asked for beside a vessel: what is left in it is what the patient has."""
    form = put(tmp_path / "form.pdf", fill, BREATHES_BY_MAINS)
    assert same(trip_of_request(form), parse_trip(BREATHES_BY_MAINS_BY_HAND))


@pytest.mark.parametrize(
    ("changed", "cell", "said"),
    [
        ({"liquid.1.amount": ""}, "liquid.1.amount", "nothing"),
        ({"liquid.1.loss": ""}, "liquid.1.loss", "nothing"),
        ({"liquid.1.read_at": ""}, "liquid.1.read_at", "nothing"),
        ({"head.departs": ""}, "head.departs", "nothing"),
        ({"liquid.1.flowmeter": ""}, "liquid.1.flowmeter", "nothing"),
        ({"liquid.1.place": ""}, "liquid.1.place", "nothing"),
        ({"liquid.1.amount": "12"}, "liquid.1.amount", "without a unit"),
        ({"liquid.1.loss": "1.5 lb"}, "liquid.1.loss", "1.5 lb"),
        ({"liquid.1.keep": "12 lb"}, "liquid.1.keep", "keep `12 lb`"),
        ({"device.1.fails": ""}, "device.1.fails", "nothing"),
        ({"device.1.battery": "3 hh"}, "device.1.battery", "3 hh"),
        ({"device.2.battery": "60"}, "device.2.battery", "no such setting"),
        ({"leg.1.oxygen": "cylinders that go along"}, "leg.1.oxygen", "supply `cart`"),
    ],
)
def test_what_a_vessel_and_a_concentrator_lack_is_told_at_its_cell(
    changed: Mapping[str, str], cell: str, said: str
) -> None:
    values = {name: text for name, text in {**BREATHES_BY_MAINS, **changed}.items() if text}
    (remark,) = asked_for("form.pdf", "psi", values).remarks
    assert remark.cell == cell
    assert said in remark.problem.found


@pytest.mark.parametrize("loss", ["0 lb/day", "0", "0.0"])
def test_a_vessel_that_loses_nothing_needs_no_times(loss: str) -> None:
    values = {**BREATHES_BY_MAINS, "liquid.1.loss": loss}
    for name in ("head.departs", "liquid.1.read_at"):
        del values[name]
    assert asked_for("form.pdf", "psi", values).remarks == ()


NEEDED = [
    name
    for name in WARD
    if name not in {"head.departs", "leg.1.wait_for", "leg.2.longest", "leg.2.magnet", "device.1.fails"}
]


@pytest.mark.parametrize("name", [name for name in NEEDED if not name.endswith("contents")])
def test_what_is_left_empty_is_asked_for_by_page_and_cell(name: str) -> None:
    """Never guessed: without any one answer there is no trip, and the problem names the page, the row and the cell."""
    values = {key: value for key, value in WARD.items() if key != name}
    if name == "leg.1.wait":
        values["leg.1.wait_for"] = "lift"
    request = asked_for("form.pdf", "psi", values)
    row = next(row for row in cells.form_rows("psi") if name.startswith(f"{row.name}."))
    found = [remark for remark in request.remarks if remark.cell == name]
    assert found, name
    assert f"(page {row.page}, {row.title}: " in found[0].problem.file


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize(
    ("changed", "cell", "said"),
    [
        ({"leg.1.minutes": "7 minuts"}, "leg.1.minutes", "7 minuts"),
        ({"device.1.flow": "4 L/h"}, "device.1.flow", "4 L/h"),
        ({"device.1.volume": "300"}, "device.1.volume", "no such setting"),
        ({"device.1.legs": "1-9"}, "device.1.legs", "1-9"),
        ({"device.1.legs": "first"}, "device.1.legs", "first"),
        ({"cylinder.1.gauge": "1500 spi"}, "cylinder.1.gauge", "1500 spi"),
        ({"cylinder.1.gauge": "1,500"}, "cylinder.1.gauge", "1,500"),
        ({"head.departs": "tomorrow"}, "head.departs", "tomorrow"),
        ({"cylinder.1.label": "AIR 1"}, "cylinder.1.label", "`AIR 1` for a cylinder of oxygen"),
        ({"leg.1.oxygen": "oxygen of the vehicle"}, "cylinder.1.place", "the vehicle's oxygen"),
    ],
)
def test_what_is_wrong_is_told_at_its_cell(changed: Mapping[str, str], cell: str, said: str, tmp_path: Path) -> None:
    request = read_request(put(tmp_path / "form.pdf", by_pdfium, {**WARD, **changed}))
    assert [remark.cell for remark in request.remarks] == [cell]
    assert said in request.remarks[0].problem.found


@pytest.mark.usefixtures("read_here")
def test_a_faulty_form_goes_back_as_it_was_filled_in_with_its_faults_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    values = {**WARD, "leg.1.minutes": "7 minuts", "device.1.volume": "300"}
    form = put(tmp_path / "ward.pdf", by_pypdf, values)
    assert main.main(["plan", str(form), "--return", "--output", str(tmp_path)], standalone_mode=False) == 1
    assert "leg 1: Minutes" in capsys.readouterr().err
    back = tmp_path / "ward-to-mend.pdf"
    assert read_request(back).values == values
    first, second, last = (page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(back))
    assert "Minutes: duration `7 minuts`" in first
    assert "no such setting" in second
    assert "write it in min, s or h" in last
    mended = by_pypdf(back.read_bytes(), {"leg.1.minutes": "7", "device.1.volume": ""})
    form.write_bytes(mended)
    assert same(trip_of_request(form), parse_trip(BY_HAND))
    assert not list(tmp_path.glob("ward.pdf.*"))


@pytest.mark.usefixtures("read_here")
def test_the_profile_is_written_and_is_the_same_trip(tmp_path: Path) -> None:
    form = put(tmp_path / "ward.pdf", by_pypdf, WARD)
    written = tmp_path / "ward.yaml"
    assert main.main(["new", "--from", str(form), "--output", str(written)], standalone_mode=False) == 0
    assert same(parse_trip(written.read_text()), parse_trip(BY_HAND))


@pytest.mark.usefixtures("read_here")
def test_plan_takes_a_form_like_a_profile(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    form = put(tmp_path / "ward.pdf", by_pypdf, {**WARD, "cylinder.1.magnet": "Yes"})
    code = main.main(["plan", str(form), "--output", str(tmp_path / "out"), "--format", "text"], standalone_mode=False)
    assert code in {0, 3}
    assert "Ward 7 to Scanner (north)" in capsys.readouterr().out


def test_a_blank_form_is_written_and_never_over_another_file(tmp_path: Path) -> None:
    path = tmp_path / "blank.pdf"
    assert main.main(["new", "--form", str(path)], standalone_mode=False) == 0
    data = path.read_bytes()
    assert main.main(["new", "--form", str(path)], standalone_mode=False) == 2
    assert path.read_bytes() == data
    assert read_request(path).values == {}


@pytest.mark.parametrize(
    "data", [b"", b"%PDF-1.7\n", b"profile: 1\n", b"%PDF-1.4\n1 0 obj\n<</Type/Catalog>>\nendobj\n"]
)
def test_what_is_no_form_is_told_so(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(data)
    with pytest.raises(ProblemsError) as told:
        read_request(path)
    assert len(told.value.problems) == 1


def random_form(seed: int) -> tuple[dict[str, str], str]:
    """A filled-in form and the same trip typed as a profile: put together apart from the program."""
    chance = random.Random(seed)  # noqa: S311 - for a search, not for secrets
    values = {name: WARD[name] for name in ("head.asks", "head.reach")}
    word, setting = chance.choice(list(cells.SETTINGS.items()))
    values |= {"head.from": "X", "head.to": "Y", "head.setting": word}
    lines = ["profile: 1", "trip: X to Y", f"setting: {setting}", "supplies:", "  cart:", "    cylinders:"]
    for number in range(1, chance.randint(1, cells.CYLINDERS) + 1):
        code, gauge = chance.choice(["US-D", "US-E", "US-M", "UK-CD"]), chance.randrange(500, 2200, 50)
        high = chance.random() < 0.5
        name = f"cylinder.{number}"
        values |= {f"{name}.label": f"C{number}", f"{name}.size": _size(code), f"{name}.gauge": str(gauge)}
        values |= {f"{name}.flowmeter": "Yes", f"{name}.place": "goes with the patient"}
        values |= {f"{name}.high_pressure": "Yes"} if high else {}
        outlets = "[{flowmeter: 15 L/min}, high_pressure]" if high else "[{flowmeter: 15 L/min}]"
        lines.append(f"      - {{label: C{number}, size: {code}, gauge: {gauge} psi, outlets: {outlets}}}")
    legs = chance.randint(1, cells.LEGS)
    flow, share = chance.randint(1, 15), chance.randint(25, 95)
    if chance.random() < 0.5:
        values |= {"device.1.type": "simple mask", "device.1.flow": str(flow)}
        device = f"{{type: simple_mask, flow: {flow} L/min}}"
    else:
        values |= {"device.1.type": "high-flow nasal", "device.1.flow": str(flow), "device.1.fio2": str(share)}
        device = f"{{type: high_flow_nasal, flow: {flow} L/min, fio2: {share} %}}"
    values["device.1.legs"] = chance.choice(["all", f"1-{legs}", ", ".join(str(leg) for leg in range(1, legs + 1))])
    lines += ["devices:", f"  d: {device}", "legs:"]
    for number in range(1, legs + 1):
        minutes, wait = chance.randint(1, 90), chance.choice([0, chance.randint(1, 30)])
        name = f"leg.{number}"
        values |= {f"{name}.name": f"L{number}", f"{name}.minutes": str(minutes)}
        values[f"{name}.oxygen"] = "cylinders that go along"
        delays = ""
        if wait:
            values |= {f"{name}.wait": f"{wait} min", f"{name}.wait_for": "lift"}
            delays = f", delays: [{{reason: lift, time: {wait} min}}]"
        lines.append(f"  - {{name: L{number}, duration: {minutes} min{delays}, supply: cart, devices: [d]}}")
    return values, "\n".join(lines) + "\n"


@pytest.mark.usefixtures("read_here")
@pytest.mark.longer("seed", range(6), range(300))
def test_random_forms_are_the_trips_that_were_meant(seed: int, tmp_path: Path) -> None:
    values, typed = random_form(seed)
    request = read_request(put(tmp_path / "form.pdf", by_pypdf if seed % 2 else by_pdfium, values))
    assert request.remarks == ()
    name = next(iter(parse_trip(request.text).devices))
    meant = re.sub(r"^  d:", f"  {name}:", typed, flags=re.MULTILINE).replace("[d]", f"[{name}]")
    assert same(parse_trip(request.text), parse_trip(meant))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_cell_has_its_box_on_the_paper_and_none_overlaps(paper: str) -> None:
    """The boxes by another library: inside the sheet, apart from each other, each once, with a description."""
    from pypdf import PdfReader

    names = {f"request.{row.name}.{cell.key}" for row in cells.form_rows("psi") for cell in row.cells}
    seen: set[str] = set()
    for page in PdfReader(BytesIO(request_bytes("psi", paper="letter" if paper == "letter" else "a4"))).pages:
        boxes = []
        for reference in page["/Annots"]:  # type: ignore[attr-defined]
            widget = reference.get_object()
            parts: list[str] = []
            node = widget
            while node is not None:
                parts.insert(0, node["/T"])
                node = node["/Parent"].get_object() if "/Parent" in node else None
            name = ".".join(parts)
            if name in names:
                assert name not in seen
                seen.add(name)
                assert widget["/TU"]
                boxes.append([float(value) for value in widget["/Rect"]])
        wide, high = float(page.mediabox.width), float(page.mediabox.height)
        assert all(0 < left < right < wide and 0 < low < top < high for left, low, right, top in boxes)
        for at, one in enumerate(boxes):
            for other in boxes[at + 1 :]:
                apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
                assert apart, (one, other)
    assert seen == names
