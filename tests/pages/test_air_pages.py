"""Air on paper: told apart from oxygen in words, on every page that a cylinder of it is named on."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from planner.constants import KPA_PER_PSI
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from planner.readings.form import form_tree, read_form
from planner.report.gases import as_written, for_paper
from planner.report.minutes_table import minutes_table
from planner.report.summary import summary
from planner.results import Plan
from tests.pages.printed import ISSUED, texts_of

PROFILE = Path(__file__).parents[1] / "profiles" / "good" / "newborn_on_two_gases.yaml"
LABEL = re.compile(r"(.{0,5})\b(L[12])\b")


@cache
def planned() -> Plan:
    return plan(read_trip(PROFILE))


@cache
def pages() -> tuple[str, ...]:
    """The text of each page of the whole pack, white space made single."""
    return texts_of(pack_bytes(planned(), issued=ISSUED))


@pytest.mark.hazard(44)
def test_no_page_and_no_screen_names_a_cylinder_of_air_without_saying_so() -> None:
    """L1 and L2 hold air: on each page, AIR stands right before the label or before the others of a list of them."""
    named = 0
    for text in (*pages(), " ".join(summary(planned()).split())):
        for before, label in LABEL.findall(text):
            named += 1
            assert before.endswith(("AIR ", "+", "air.")), f"{before}{label} in {text[:60]}"
    assert named > 20


@pytest.mark.hazard(44)
def test_label_and_pins_of_air_are_said_and_never_those_of_oxygen() -> None:
    whole = " ".join(pages())
    assert "Label of each cylinder, said aloud: OXYGEN or AIR" in whole
    assert "pins 2-5 OXYGEN, 1-5 AIR" in whole
    assert "says OXYGEN, size as overleaf" not in whole
    assert "AIR: pin index 1-5" in whole  # the sheet, from the catalogue
    assert "AIR US-E" in pages()[0]


@pytest.mark.hazard(39)
def test_the_front_says_what_a_blend_does_when_a_gas_is_gone() -> None:
    """Its gauges are read on the front: what to do when it is gone stands below them, and nothing points overleaf."""
    front, *_ = pages()
    assert "BAG on other oxygen if OXYGEN of the blend fails: AIR alone flows at once" in front
    # 2 x 425 L of oxygen, 300 L of it in 30 min at 10 L/min: 550 L are 54 min at 10 L/min.
    assert "TELL the clinician if AIR fails: oxygen alone flows 54 min, oxygen" in front
    assert "OVERLEAF" not in front


@pytest.mark.hazard(44)
def test_a_reading_of_air_below_its_least_sends_nobody_for_oxygen() -> None:
    whole = " ".join(pages())
    assert "Below ACT: make for that gas, plan again." in pages()[0]
    assert "On the way: make for more of that gas, plan again." in whole
    assert "make for oxygen" not in whole
    assert "make for more oxygen" not in whole


@pytest.mark.hazard(44)
def test_a_change_of_an_air_cylinder_speaks_of_air() -> None:
    trip = read_trip(PROFILE)
    first, *others = trip.supplies["airs"].cylinders
    airs = trip.supplies["airs"]._replace(cylinders=(first._replace(gauge_kpa=1100 * KPA_PER_PSI), *others))
    made = plan(trip._replace(supplies={**trip.supplies, "airs": airs}))
    text = " ".join(texts_of(pack_bytes(made, issued=ISSUED, pages="all")))
    assert "AIR L2: says AIR" in text
    assert "OFF AIR L1 (airs)" in text
    assert "ON AIR L2 (airs)" in text
    assert "Each yoke: pins 2-5 OXYGEN, 1-5 AIR" in text  # a regulator sits on each: the yokes are looked at before
    assert "the blend gives oxygen alone" in text
    assert "AIR L2: says OXYGEN" not in text


def test_the_table_of_minutes_counts_air_by_its_own_density() -> None:
    """US-E of air at 2000 psi: 393 L usable by CoolProp, at 8.861 L/min 44 min; by the density of oxygen it were 47."""
    table = minutes_table(for_paper(planned()))
    assert table is not None
    (row,) = [row for row in table.rows if row.size.startswith("AIR")]
    assert table.gauges[0] == "2000 psi"
    assert row.minutes[0] == "44 min"
    assert not [row for row in table.rows if row.size.startswith("AIR") and row.what != "planned"]


def test_a_form_brings_back_the_labels_of_the_profile(tmp_path: Path) -> None:
    """What is printed as AIR L1 is read as L1 of airs."""
    assert as_written(planned())["airs", "AIR L1"] == "L1"
    path = tmp_path / "form.pdf"
    path.write_bytes(pack_bytes(planned(), issued=ISSUED, fillable=True))
    from pypdf import PdfWriter

    writer = PdfWriter(clone_from=path)
    names = [name for name in writer.get_fields() or {} if name.startswith("log.airs.") and name.endswith(".gauge")]
    assert names
    for page in writer.pages:
        writer.update_page_form_field_values(page, {names[0]: "1990"}, auto_regenerate=False)
    writer.write(path)
    tree = form_tree(read_form(str(path), planned()))
    (entry,) = (tree.get("log") or tree).items
    label, supply = entry.get("cylinder"), entry.get("supply")
    assert label is not None
    assert supply is not None
    assert (supply.text, label.text) == ("airs", "L1")


@pytest.mark.hazard(39)
def test_before_leaving_the_share_of_oxygen_is_read_and_both_outlets_are_asked_for() -> None:
    whole = " ".join(pages())
    assert "Gas at the patient's end: flow felt; FiO2 read, as set" in whole
    assert "oxygen felt at mask or prongs" not in whole
    assert "Receiving unit: told the time; keeps OXYGEN and AIR free" in whole


@pytest.mark.hazard(44)
def test_a_reading_inside_a_long_leg_names_a_cylinder_of_air_as_such() -> None:
    """50 min on the road: read once on the way, 25 min into it, which is 40 min after departure."""
    made = plan(read_trip(PROFILE.parents[3] / "profiles" / "newborn-on-a-blend.yaml"))
    text = " ".join(texts_of(pack_bytes(made, issued=ISSUED)))
    assert "AIR L1, 40 min, leg 3" in text
    assert "L1 (air)" not in text.replace("AIR L1 (air)", "")
