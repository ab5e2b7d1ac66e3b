"""The JSON result and the CSV tables: names, nulls, units, and that nothing is rounded."""

from __future__ import annotations

import csv
import io
import json
import math

import pytest

from planner.report.json_result import json_line, result
from planner.report.table_csv import tables
from tests.make_plan import example, no_go

SUPPLY = {
    "planned_l",
    "reserve_l",
    "reserve_layers_l",
    "required_l",
    "usable_l",
    "usable_without_spare_l",
    "serving_without_spare_l",
    "change_at_psi",
    "peak_flow_l_per_min",
    "full_cylinders",
    "order",
    "lasts_min",
    "gas",
    "start_at_least_psi",
    "amount_unit",
    "departs_with_kg",
    "start_at_least_kg",
}


def keys(rows: list[dict[str, object]]) -> set[str]:
    found = {frozenset(row) for row in rows}
    assert len(found) == 1
    return set(found.pop())


def test_names_of_format_1() -> None:
    found = json.loads(json_line(example()))
    assert list(found) == [
        "format",
        "trip",
        "setting",
        "verdict",
        "revision",
        "supplies",
        "checkpoints",
        "between",
        "changes",
        "batteries",
        "whatifs",
        "breaking_delays",
        "turn_backs",
        "accepted",
        "findings",
    ]
    assert found["format"] == 1
    assert list(found["supplies"]) == ["wall", "cart", "ambulance"]
    assert all(set(supply) == SUPPLY for supply in found["supplies"].values())
    cart = found["supplies"]["cart"]
    assert keys(cart["full_cylinders"]) == {"size", "usable_each_l", "count", "mass_kg"}
    assert keys(cart["order"]) == {"cylinder", "from_min", "to_min", "gauge_start_psi", "gauge_end_psi"}
    assert keys(found["checkpoints"]) == {
        "min",
        "leg",
        "at",
        "supply",
        "cylinder",
        "gauge_psi",
        "minutes_left",
        "cylinder_minutes_left",
        "least_gauge_psi",
        "leak_gauge_psi",
        "leak_fall_psi_per_min",
        "flow_l_per_min",
        "litres_left",
        "amount_kg",
        "least_amount_kg",
    }
    assert keys(found["whatifs"]) == {
        "name",
        "supply",
        "must_hold",
        "holds",
        "from_min",
        "runs_out_min",
        "runs_out_leg",
        "minutes_to_spare",
        "last_flow_l_per_min",
        "ends_min",
        "case",
    }
    assert keys(found["findings"]) == {"level", "code", "message", "fix", "line", "column"}


def test_verdicts() -> None:
    assert result(example())["verdict"] == "go"
    assert result(no_go())["verdict"] == "no-go"


def test_numbers_are_unrounded_and_pressures_in_psi() -> None:
    found = result(example())
    # 18 + 5 + 25 min at 7.2 x 0.39 / 0.79 + 0.5 L/min, by the ventilator's formula
    assert found["supplies"]["cart"]["planned_l"] == pytest.approx(48 * (7.2 * 0.39 / 0.79 + 0.5), rel=1e-12)
    assert found["checkpoints"][0]["gauge_psi"] == pytest.approx(2100.0, rel=1e-12)
    assert found["supplies"]["cart"]["order"][0]["gauge_start_psi"] == pytest.approx(2100.0, rel=1e-12)


def test_what_does_not_apply_is_null() -> None:
    wall = result(example())["supplies"]["wall"]
    assert wall["usable_l"] is None
    assert wall["lasts_min"] is None
    assert wall["order"] == []


def test_one_line_of_ascii() -> None:
    named = example()._replace(trip=example().trip._replace(name="Übergabe\nzwei"))
    line = json_line(named)
    assert line.isascii()
    assert "\n" not in line
    assert json.loads(line)["trip"] == "Übergabe\nzwei"


def test_a_figure_that_is_not_finite_is_refused() -> None:
    plan = example()
    cart = plan.supplies["cart"]
    bad = plan._replace(supplies={"cart": cart._replace(need=cart.need._replace(planned_l=math.nan))})
    with pytest.raises(ValueError, match="JSON compliant"):
        json_line(bad)


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_tables() -> None:
    found = tables(example())
    assert set(found) == {"supplies", "ledger", "checkpoints", "whatifs"}
    supplies = {row["supply"]: row for row in read(found["supplies"])}
    assert float(supplies["cart"]["planned_l"]) == example().supplies["cart"].need.planned_l
    assert supplies["wall"]["usable_l"] == ""
    ledger = read(found["ledger"])
    assert [row["time_min"] for row in ledger if row["supply"] == "ambulance"] == ["55.0", "10.0"]
    assert len(read(found["checkpoints"])) == len(example().checkpoints)


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@x"])
def test_a_name_is_no_formula_in_a_spreadsheet(name: str) -> None:
    plan = example()
    first = plan.checkpoints[0]._replace(leg=name)
    rows = read(tables(plan._replace(checkpoints=(first,)))["checkpoints"])
    assert rows[0]["leg"] == f"'{name}"
    assert float(rows[0]["min"]) == 0.0
