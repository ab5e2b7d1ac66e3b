"""What hands set stands first and the draw behind it; minutes beside a flow are those of the flow as printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner import figures
from planner.bedside.lasts import lasting
from planner.model import Device, Supply
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.card.settings import SetDevice, setting
from planner.report.minutes_table import minutes_table
from planner.report.whatif_words import whatif_result
from tests.build import CANNULA, VENTILATOR, cylinder, leg, trip

HIGH_FLOW = Device("hfno", "high_flow_nasal", flow_l_per_min=50.0, fio2=0.5)
PROFILES = sorted((Path(__file__).resolve().parents[1] / "profiles").glob("*.yaml"))


@pytest.mark.hazard(26)
@pytest.mark.parametrize(
    ("device", "said"),
    [
        # 50 x (0.50 - 0.21) / 0.79 = 18.354
        (HIGH_FLOW, ("SET 50 L/min, FiO2 0.50", "high flow nasal", "draws 18.4 L/min of oxygen")),
        (CANNULA, ("SET 4 L/min", "nasal cannula", "draws 4 L/min of oxygen")),
        # 10 x (0.60 - 0.21) / 0.79 + 0.5 = 5.4367
        (
            VENTILATOR,
            ("SET minute volume 10 L/min, FiO2 0.60", "ventilator, driving gas 0.5 L/min", "draws 5.5 L/min of oxygen"),
        ),
    ],
)
def test_the_setting_stands_first_and_the_draw_behind_it(device: Device, said: tuple[str, str, str]) -> None:
    assert setting(device) == SetDevice(device.name, *said)


@pytest.mark.parametrize("flow_l_per_min", [1.13, 0.152])
@pytest.mark.hazard(23)
def test_minutes_beside_a_flow_are_those_of_the_flow_that_is_read(flow_l_per_min: float) -> None:
    """1.13 prints as 1.2 L/min: whoever asks how long that lasts must read the same minutes, as for 0.152 and 0.2."""
    made = trip(
        [Supply("cart", "cylinders", cylinders=(cylinder("A", 1900),))],
        leg(10.0, CANNULA._replace(flow_l_per_min=flow_l_per_min)),
    )
    found = plan(made)
    table = minutes_table(found)
    assert table is not None
    row = next(row for row in table.rows if row.what == "planned")
    printed = float(row.flow.removesuffix(" L/min"))
    assert printed > flow_l_per_min
    for gauge, minutes in zip(table.gauges, row.minutes, strict=True):
        asked = lasting(cylinder("A", float(gauge.split()[0])), printed, made.policy)
        assert minutes == figures.minutes_down(asked.minutes)


@pytest.mark.hazard(23)
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_minutes_to_spare_are_those_of_the_flow_beside_them(path: Path) -> None:
    """Litres left by the plan, divided by the number that is printed, and for a vessel by what boils away besides."""
    found = plan(read_trip(path))
    for row in found.whatifs:
        said = re.fullmatch(r"(\d+) min more at ([\d.]+) L/min", whatif_result(found, row))
        if said and row.litres_left is not None and row.last_flow_l_per_min is not None:
            liquid = found.trip.supplies[row.supply].liquid
            # 342 L of gas a pound of liquid (0.45359 kg): 1.5 lb/day are 0.356 L/min.
            lost_l_per_min = 0.0 if liquid is None else liquid.loss_kg_per_day / 0.45359237 * 342.26 / 1440.0
            minutes = row.litres_left / (float(said[2]) + lost_l_per_min)
            assert int(said[1]) == pytest.approx(int(minutes + 1e-9), abs=0 if liquid is None else 1)


def test_minutes_by_hand() -> None:
    # 226 / 1.2 = 188.33; 226 / 1.13 would be 200.
    assert figures.minutes_at(226.0, 1.13) == "188 min"
    assert figures.minutes_at(226.0, 15.0) == "15 min"
    assert figures.flow_as_printed(0.152) == 0.2
