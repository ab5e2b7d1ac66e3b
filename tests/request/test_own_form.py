"""The request form of a service: its own sizes, devices, outlets and usual legs, and nothing answered beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
import pytest
from pypdf import PdfReader

from planner.command.cli import main
from planner.profile.own_form import MOST_LEGS
from planner.profile.read import parse_trip
from planner.request import cells
from planner.request.read import asked_for, read_request, trip_of_request
from planner.trade.schemas import schema
from tests.request.filling import by_pdfium, by_pypdf
from tests.request.test_request import WARD, Fill, same

OWN = """\
name: Wards
form:
  sizes: [us-e, US-D]
  devices: [nasal_cannula, ventilator, manual_resuscitator]
  outlets: [flowmeter]
  legs: [Ward to lift, Lift, Corridor to the scanner]
"""

DEVICES = ("nasal cannula", "ventilator, electric", "ventilator, gas-driven", "manual resuscitator (bag)")
"""The words of the types above: a ventilator has two."""

FILLED = {
    "head.asks": "ward 7, nurse in charge",
    "head.reach": "extension 4711",
    "head.from": "Ward 7",
    "head.to": "Scanner",
    "head.setting": "inside the hospital",
    "leg.1.minutes": "4",
    "leg.1.oxygen": "cylinders that go along",
    "leg.2.name": "",
    "leg.3.minutes": "6",
    "leg.3.oxygen": "cylinders that go along",
    "leg.4.name": "In the scanner",
    "leg.4.minutes": "20",
    "leg.4.oxygen": "wall outlet",
    "device.1.type": "nasal cannula",
    "device.1.flow": "4",
    "device.1.legs": "1, 3",
    "device.1.fails": "device 3",
    "device.2.type": "nasal cannula",
    "device.2.flow": "6",
    "device.2.legs": "4",
    "device.2.fails": "device 3",
    "device.3.type": "manual resuscitator (bag)",
    "device.3.flow": "15",
    "device.3.legs": "stands by",
    "cylinder.1.label": "A",
    "cylinder.1.gauge": "1500",
    "cylinder.1.flowmeter": "Yes",
    "cylinder.1.contents": "680 L at 2015 psi",
    "cylinder.1.place": "goes with the patient",
}
"""As a ward fills it in whose way has no lift: the name in row 2 is cleared, and row 4 is one of its own."""

BY_HAND = """\
profile: 1
trip: Ward 7 to Scanner
setting: in_house
supplies:
  wall: {pipeline: true}
  cart: {cylinders: [{label: A, contents: 680 L at 2015 psi, gauge: 1500 psi, outlets: [{flowmeter: 15 L/min}]}]}
devices:
  nasal_cannula: {type: nasal_cannula, flow: 4 L/min, if_it_fails: manual_resuscitator}
  nasal_cannula_2: {type: nasal_cannula, flow: 6 L/min, if_it_fails: manual_resuscitator}
  manual_resuscitator: {type: manual_resuscitator, flow: 15 L/min}
legs:
  - {name: Ward to lift, duration: 4 min, supply: cart, devices: [nasal_cannula]}
  - {name: Corridor to the scanner, duration: 6 min, supply: cart, devices: [nasal_cannula]}
  - {name: In the scanner, duration: 20 min, supply: wall, devices: [nasal_cannula_2]}
"""
"""The same trip, typed by hand."""


def own_form(folder: Path, policy: str = OWN) -> bytes:
    """The blank form that the command writes for a policy."""
    (folder / "wards.yaml").write_text(policy)
    asked = ["new", "--form", str(folder / "own.pdf"), "--policy", str(folder / "wards.yaml"), "--force"]
    assert main.main(asked, standalone_mode=False) == 0
    return (folder / "own.pdf").read_bytes()


def fields(form: bytes) -> dict[str, Any]:
    """Every field of a form with a name of the request, by a general library."""
    found = PdfReader(BytesIO(form)).get_fields() or {}
    return {name.removeprefix("request."): field for name, field in found.items() if name.startswith("request.")}


def words(field: Mapping[str, Any]) -> list[str]:
    """What a choice offers, but for the blank."""
    options = [str(each if isinstance(each, str) else each[-1]) for each in field["/_States_"]]
    assert options[0].strip() == ""
    return options[1:]


@pytest.mark.parametrize("fill", [by_pypdf, by_pdfium])
def test_a_form_of_the_service_filled_in_by_a_viewer_is_the_trip_that_was_meant(fill: Fill, tmp_path: Path) -> None:
    path = tmp_path / "ward.pdf"
    path.write_bytes(fill(own_form(tmp_path), FILLED))
    assert read_request(path).remarks == ()
    assert same(trip_of_request(path), parse_trip(BY_HAND))


def test_the_lists_hold_what_the_service_has_and_nothing_is_answered(tmp_path: Path) -> None:
    found = fields(own_form(tmp_path))
    for number in range(1, cells.CYLINDERS + 1):
        # 616 L and 352 L: the factors 0.28 and 0.16 L/psi of the textbooks at 2200 psi
        assert words(found[f"cylinder.{number}.size"]) == ["US-E, 616 L full", "US-D, 352 L full"]
        assert f"cylinder.{number}.high_pressure" not in found
        assert f"cylinder.{number}.flowmeter" in found
    for number in range(1, cells.DEVICES + 1):
        assert words(found[f"device.{number}.type"]) == list(DEVICES)
    (tmp_path / "blank.pdf").write_bytes(own_form(tmp_path))
    assert read_request(tmp_path / "blank.pdf").values == {
        "leg.1.name": "Ward to lift",
        "leg.2.name": "Lift",
        "leg.3.name": "Corridor to the scanner",
    }


def test_the_form_says_what_to_do_with_what_it_lacks(tmp_path: Path) -> None:
    text = "\n".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(own_form(tmp_path)))
    said = " ".join(text.split())
    for each in (
        "clear the name where this trip lacks it",
        "a row that is left empty keeps its number",
        "for another one choose none, and call the coordinator",
        "An outlet that has no box here is not counted on",
        "A size that the list lacks: write what its label says",
    ):
        assert each in said


def test_a_usual_leg_that_nobody_fills_in_is_asked_about(tmp_path: Path) -> None:
    """Neither left out without a word nor planned without its minutes."""
    path = tmp_path / "ward.pdf"
    path.write_bytes(by_pypdf(own_form(tmp_path), {key: value for key, value in FILLED.items() if key != "leg.2.name"}))
    (remark,) = read_request(path).remarks
    assert remark.cell == "leg.2.minutes"
    assert "clear its name" in remark.problem.fix


@pytest.mark.hazard(25)
@pytest.mark.parametrize(
    ("typed", "meant"), [("4", [3]), ("3-4", [2, 3]), ("1-4", [1, 2, 3]), ("1, 4", [1, 3]), ("all", [1, 2, 3])]
)
def test_a_leg_is_named_by_the_number_beside_its_row(typed: str, meant: list[int]) -> None:
    """Rows 1, 3 and 4 are filled in: they are legs 1, 2 and 3 of the trip, and the ward reads 1, 3 and 4."""
    values = {key: value for key, value in FILLED.items() if value and not key.startswith("leg.")}
    for row in (1, 3, 4):
        values |= {f"leg.{row}.name": f"row {row}", f"leg.{row}.minutes": "5"}
        values[f"leg.{row}.oxygen"] = "cylinders that go along"
    values |= {"device.1.legs": "all", "device.2.legs": typed}
    trip = parse_trip(asked_for("form.pdf", "psi", values).text)
    drawn = [[use.device.name for use in leg.uses] for leg in trip.legs]
    assert [number for number, names in enumerate(drawn, start=1) if "nasal_cannula_2" in names] == meant


@pytest.mark.hazard(25)
@pytest.mark.parametrize("typed", ["2", "1-2", "2-4", "3-1", "5"])
def test_a_row_that_is_left_empty_is_no_leg(typed: str) -> None:
    values = {key: value for key, value in FILLED.items() if value}
    values |= {"leg.1.name": "Ward to lift", "leg.3.name": "Corridor", "device.2.legs": typed}
    assert [remark.cell for remark in asked_for("form.pdf", "psi", values).remarks] == ["device.2.legs"]


def test_the_first_row_may_be_the_one_that_is_cleared() -> None:
    values = {key.replace("leg.1.", "leg.5."): value for key, value in WARD.items()}
    assert asked_for("form.pdf", "psi", values).remarks == ()


@pytest.mark.parametrize(
    ("form", "place", "code", "said"),
    [
        ("sizes: [US-E, US-X]", "2:17", "size_unknown", "US-D 352 L"),
        ("sizes: [E]", "2:11", "size_without_system", "US-E (616 L at 2200 psi) or UK-E"),
        ("sizes: [US-E, us-e]", "2:17", "named_twice", "each once"),
        ("devices: [nasal_canula]", "2:13", "not_allowed", "write `nasal_cannula`"),
        ("devices: [fixed_flow]", "2:13", "not_allowed", "pulse_conserver"),
        ("outlets: [high pressure]", "2:13", "not_allowed", "write `high_pressure`"),
        ("outlets: []", "2:12", "not_allowed", "a list of the kinds of outlet"),
        ("legs: [a, b, c, d, e, f, g, h, i]", "2:34", "too_many_legs", "at most 8"),
        (f"legs: [{'n' * 31}]", "2:10", "not_allowed", "at most 30 characters"),
        ("legs: [a]\n  colour: red", "3:3", "key_unknown", "sizes, devices, outlets, legs"),
    ],
)
def test_what_a_form_cannot_offer_is_told_at_its_place(
    form: str, place: str, code: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    policy, target = tmp_path / "wards.yaml", tmp_path / "own.pdf"
    policy.write_text(f"form:\n  {form}\n")
    assert main.main(["new", "--form", str(target), "--policy", str(policy)], standalone_mode=False) == 1
    told = " ".join(capsys.readouterr().err.split())
    assert f"wards.yaml:{place} {code}" in told
    assert said in told
    assert not target.exists()


def test_what_may_be_offered_is_what_the_form_has() -> None:
    offered = schema("policy")["properties"]["form"]["properties"]
    types = list(dict.fromkeys(kind.type for kind in cells.DEVICE_KINDS.values()))
    assert offered["devices"]["items"]["enum"] == types
    assert offered["outlets"]["items"]["enum"] == list(cells.OUTLETS)
    assert set(cells.OUTLETS) < {cell.key for cell in cells.cylinder_cells("psi")}
    assert sum(row.name.startswith("leg.") for row in cells.form_rows("psi")) == MOST_LEGS


def test_a_list_that_the_policy_leaves_out_is_offered_whole(tmp_path: Path) -> None:
    found, usual = fields(own_form(tmp_path, "form: {legs: [Ward to lift]}\n")), fields(own_form(tmp_path, "name: W\n"))
    assert set(found) == set(usual)
    for name in ("cylinder.1.size", "device.1.type"):
        assert words(found[name]) == words(usual[name])


def test_a_policy_that_says_nothing_of_it_leaves_the_form_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "blank.pdf"
    assert main.main(["new", "--form", str(path)], standalone_mode=False) == 0
    assert own_form(tmp_path, "pressure_unit: psi\n") == path.read_bytes()


def test_no_plan_depends_on_it(tmp_path: Path) -> None:
    """The same trip with and without, but for what the policy says of the form; the trip's own list wins."""
    (tmp_path / "wards.yaml").write_text(OWN)
    with_it = parse_trip(f"{BY_HAND}policy: {{file: wards.yaml, form: {{sizes: [UK-E]}}}}\n", "trip.yaml", tmp_path)
    assert with_it.policy.form.sizes == ("UK-E",)
    assert with_it.policy.form.legs == ("Ward to lift", "Lift", "Corridor to the scanner")
    bare = parse_trip(BY_HAND)
    assert with_it.policy._replace(form=bare.policy.form, name=None) == bare.policy
