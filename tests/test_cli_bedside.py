"""The bedside verbs on the command line: answers, every wrong option at once, exit codes, and one JSON document."""

from __future__ import annotations

import json
import math
import random
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from planner.command.cli import main
from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.trade.catalog import sizes

ROOT = Path(__file__).resolve().parent.parent
E_CYLINDER = ("--size", "US-E")
AT = ("--at", "14:20")
LASTS = ("lasts", *E_CYLINDER, *AT)
MEASURED = ("measured-flow", *E_CYLINDER, "--from-gauge", "1900 psi", "--to-gauge", "1000 psi", "--minutes", "60 min")
TRIP = """\
profile: 1
trip: Ward to scanner
setting: in_house
policy: {must_hold: []}
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: Ward to scanner, duration: 60 min, supply: cart, devices: [cannula]}
  - {name: Scanner to ward, duration: 20 min, supply: cart, devices: [cannula]}
"""


@pytest.fixture
def trip(tmp_path: Path) -> str:
    path = tmp_path / "trip.yaml"
    path.write_text(TRIP, encoding="utf-8")
    return str(path)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


def document(*arguments: str, code: int = 0) -> dict[str, Any]:
    """The one JSON document of a run that puts nothing else on standard output and nothing on standard error."""
    result = run(*arguments, "--format", "json")
    assert (result.exit_code, result.stderr) == (code, "")
    found = json.loads(result.stdout)
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize("form", ["json,text", " Text , JSON ", "text,json,text"])
def test_both_forms_at_once_as_of_a_plan(form: str) -> None:
    """The document alone on standard output, the text on standard error; the same list as `plan` and `compare` take."""
    asked = (*LASTS, "--gauge", "1500 psi", "--flow", "4 L/min", "--at", "14:20")
    both = run(*asked, "--format", form)
    assert both.exit_code == 0
    assert json.loads(both.stdout) == document(*asked)
    assert both.stderr == run(*asked).stdout
    measured = (
        "measured-flow",
        "--size",
        "US-E",
        "--from-gauge",
        "1900 psi",
        "--to-gauge",
        "1500 psi",
        "--minutes",
        "25 min",
    )
    both = run(*measured, "--format", form)
    assert json.loads(both.stdout)["command"] == "measured-flow"
    assert both.stderr == run(*measured).stdout


@pytest.mark.parametrize(
    ("form", "found"), [("text,xml", "`xml`"), (",", "an empty list"), ("pdf,xml", "`pdf`, `xml`")]
)
def test_a_form_that_is_not_known(form: str, found: str) -> None:
    result = run(*LASTS, "--gauge", "1500 psi", "--flow", "4 L/min", "--format", form)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(
        f"--format  not_known  {found}; allowed: text, json or both. Fix: write --format text."
    )


def flat(text: str) -> str:
    """The text without its line breaks."""
    return " ".join(text.split())


# lasts


def test_the_published_worked_example() -> None:
    """E at 2200 psi, 2 L/min, to empty: 308 min (ehow.co.uk, how to calculate oxygen cylinder duration)."""
    found = document(*LASTS, "--gauge", "2200 psi", "--flow", "2 L/min", "--change-over-at", "0 psi")
    assert found["answers"][0]["hand_minutes"] == pytest.approx(308.0, rel=1e-9)
    assert found["minutes"] == pytest.approx(308.0, abs=0.5)


def test_the_answer_on_screen() -> None:
    """By hand (1900 - 500) x 0.28 / 4 = 98 min; the real gas gives 1 % more from 2000 to 500 psi: 99 min, so 15:59."""
    result = run(*LASTS, "--gauge", "1900 psi", "--flow", "4 L/min")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[:2] == [
        "99 min (1 h 39 min) left, until 15:59.",
        "Change the cylinder at 500 psi or at 15:59, whichever comes first.",
    ]
    assert "By hand     (1900 - 500) psi x 0.28 L/psi / 4 L/min = 98 min\n" in result.stdout
    assert "(+1.1 min): litres of a real gas do not fall in step with the gauge" in flat(result.stdout)
    assert max(map(len, result.stdout.splitlines())) <= 100


@pytest.mark.hazard(23)
@pytest.mark.parametrize("gauge", ["501 psi", "777 psi", "1500 psi", "2190 psi"])
@pytest.mark.parametrize("flow", ["0.7 L/min", "3 L/min", "15 L/min"])
def test_minutes_and_clock_are_never_rounded_up(gauge: str, flow: str) -> None:
    asked = (*LASTS, "--gauge", gauge, "--flow", flow)
    minutes = document(*asked)["minutes"]
    first = run(*asked).stdout.splitlines()[0]
    whole = int(first.split()[0])
    assert whole <= minutes < whole + 1
    hour, minute = divmod(14 * 60 + 20 + whole, 60)
    later = r" on \d+ [A-Z][a-z]{2}( \d{4})?" if hour >= 24 else ""
    assert re.search(rf"until {hour % 24:02d}:{minute:02d}{later}\.$", first)


def test_temperatures_are_said_to_cost_minutes() -> None:
    result = run(*LASTS, "--gauge", "1900 psi", "--flow", "4 L/min", "--temperature", "35 degC", "--coldest", "-5 degC")
    assert result.stdout.startswith("87 min (1 h 27 min) left, until 15:47.\n")
    assert "gas at 35 °C holds less at the same gauge and more stays at change-over at -5 °C" in flat(result.stdout)


@pytest.mark.hazard(24)
def test_several_gauges_and_flows_make_a_table_across_midnight() -> None:
    """By hand: 98 and 26 min from 1900 psi, 7 and 1 min from 600 psi."""
    gauges, flows = ("--gauge", "1900 psi", "--gauge", "600 psi"), ("--flow", "4 L/min", "--flow", "15 L/min")
    result = run("lasts", *E_CYLINDER, "--at", "23:20", *gauges, *flows)
    assert result.exit_code == 0
    rows = [line.split() for line in result.stdout.splitlines() if "L/min" in line and "psi  " in line]
    assert [row[:4] + row[-2:] for row in rows] == [
        ["1900", "psi", "4", "L/min", "98", "min"],
        ["1900", "psi", "15", "L/min", "26", "min"],
        ["600", "psi", "4", "L/min", "7", "min"],
        ["600", "psi", "15", "L/min", "1", "min"],
    ]
    assert "00:59 +1d" in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 100
    found = document("lasts", *E_CYLINDER, *gauges, *flows)
    assert found["minutes"] is None
    assert len(found["answers"]) == 4


@pytest.mark.hazard(2)
def test_below_change_over_the_cylinder_is_to_be_changed_now() -> None:
    result = run(*LASTS, "--gauge", "400 psi", "--flow", "2 L/min")
    assert result.exit_code == 0
    assert " ".join(result.stdout.split()).startswith(
        "0 min left: nothing is usable at 400 psi, with 500 psi as change-over. Change the "
    )
    assert document(*LASTS, "--gauge", "400 psi", "--flow", "2 L/min")["minutes"] == 0.0


def test_a_label_wins_over_the_size_and_bar_is_answered_in_bar() -> None:
    """Label 460 L at 230 bar: the hand factor is 2 L/bar. To 20 bar, (120 - 20) x 2 / 4 = 50 min."""
    asked = ("lasts", *AT, "--contents", "460 L at 230 bar", "--gauge", "120 bar", "--flow", "4 L/min")
    result = run(*asked, "--change-over-at", "20 bar")
    assert "(120 - 20) bar x 2 L/bar / 4 L/min = 50 min" in result.stdout
    assert "Change the cylinder at 20 bar or" in result.stdout
    beside = document(
        "lasts", *E_CYLINDER, "--contents", "680 L at 2015 psi", "--gauge", "900 psi", "--flow", "2 L/min"
    )
    assert (beside["size"], beside["label_contents"]) == ("US-E", "680 L at 2015 psi")
    assert beside["factor_l_per_psi"] == pytest.approx(680.0 / 2015.0, rel=1e-9)


@pytest.mark.hazard(4)
def test_a_reading_that_may_be_a_slip_of_unit_is_cautioned() -> None:
    result = run(*LASTS, "--gauge", "137 psi", "--flow", "2 L/min")
    assert result.exit_code == 0
    assert "CAUTION: The cylinder reads 9.4 bar (137 psi)" in result.stdout
    assert "it may have been 137 bar" in flat(result.stdout)
    codes = [found["code"] for found in document(*LASTS, "--gauge", "137 psi", "--flow", "2 L/min")["findings"]]
    assert codes == ["gauge_very_low"]


def test_now_is_the_time_unless_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """1 790 000 000 s after 1970 are 2026-09-21 14:13:20 UTC: 20717 days and 51 200 s."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    found = document("lasts", *E_CYLINDER, "--gauge", "1900 psi", "--flow", "4 L/min")
    assert found["starts"] == "2026-09-21T14:13:20+00:00"
    assert found["answers"][0]["ends"].startswith("2026-09-21T15:52:")


@pytest.mark.hazard(3, 4)
def test_every_wrong_option_is_told_at_once() -> None:
    result = run(
        "lasts", "--size", "D", "--gauge", "1900", "--flow", "0 L/min", "--change-over-at", "3,5 bar", "--temperature",
        "35 C", "--coldest", "-5", "--at", "2pm", "--format", "xml",
    )  # fmt: skip
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == [
        (
            "--size  size_without_system  size `D` without its system; allowed: US-D (352 L at 2200 psi) or UK-D (340 "
            "L at 137 bar). Fix: write `US-D` or `UK-D`, as the cylinder is marked."
        ),
        (
            "--gauge  unit_missing  gauge `1900` without a unit; allowed: a gauge pressure in psi, bar, kPa or MPa, as "
            "in 1900 psi. Fix: write 1900 with its unit: psi, bar, kPa or MPa."
        ),
        (
            "--temperature  unit_unknown  temperature `35 C`; allowed: a temperature in degC or degF, as in 15 degC. "
            "Fix: write 35 degC."
        ),
        (
            "--flow  out_of_range  flow `0 L/min` is out of range; allowed: a flow from 1 mL/min to 300 L/min. Fix: "
            "check the number and its unit."
        ),
        (
            "--change-over-at  not_a_number  change_over_at `3,5 bar` with a comma; allowed: a gauge pressure in psi, "
            "bar, kPa or MPa, as in 1900 psi. Fix: write 3.5 bar."
        ),
        (
            "--coldest  unit_missing  coldest `-5` without a unit; allowed: a temperature in degC or degF, as in 15 "
            "degC. Fix: write -5 with its unit: degC or degF."
        ),
        "--at  not_a_time  `2pm`; allowed: a time of the 24-hour clock, as in 14:20. Fix: write 14:00.",
        "--format  not_known  `xml`; allowed: text, json or both. Fix: write --format text.",
        "lasts: 8 problems, nothing worked out.",
    ]


def test_what_is_missing_is_told_at_once() -> None:
    for verb, options in (
        ("lasts", ("--size", "--gauge", "--flow")),
        ("measured-flow", ("--size", "--from-gauge", "--to-gauge", "--minutes")),
    ):
        result = run(verb)
        assert (result.exit_code, result.stdout) == (2, "")
        *problems, last = result.stderr.splitlines()
        assert [line.split()[:2] for line in problems] == [[option, "option_missing"] for option in options]
        assert all(f"Fix: add {option} " in line for option, line in zip(options, problems, strict=True))
        assert last == f"{verb}: {len(options)} problems, nothing worked out."


def test_a_value_without_quotation_marks_is_explained() -> None:
    result = run("lasts", "--size", "US-E", "--gauge", "1900", "psi", "--flow", "4", "L/min")
    assert result.exit_code == 2
    assert result.stderr.splitlines()[0] == (
        "words  no_option  `psi` `L/min` without an option; allowed: options with their values only. Fix: put a value "
        'with a space in quotation marks, as in "2 L/min", or write it without the space, 2L/min.'
    )
    assert run("lasts", "--size", "US-E", "--gauge", "1900psi", "--flow", "4L/min").exit_code == 0


def test_an_unknown_size_is_mended_in_words_of_the_command_line() -> None:
    result = run("lasts", "--size", "XYZ", "--gauge", "1900 psi", "--flow", "4 L/min")
    assert result.stderr.splitlines()[0] == (
        "--size  size_unknown  size `XYZ`; allowed: a size of the catalogue: "
        + ", ".join(f"{size.code} {math.floor(size.contents_l + 1e-6)} L" for size in sizes().values())
        + ". Fix: read its label: give `--contents` as it stands there, in place of the size, or the size with these "
        "litres."
    )


@pytest.mark.hazard(4)
def test_a_reading_far_above_filling_is_refused() -> None:
    """A quarter above 2200 psi is 2750 psi."""
    result = run(*LASTS, "--gauge", "2751 psi", "--flow", "4 L/min")
    assert result.exit_code == 2
    assert result.stderr.startswith(
        "--gauge  gauge_above_filling  gauge `2751 psi` on cylinder, where full is 2200 psi"
    )
    assert run(*LASTS, "--gauge", "2750 psi", "--flow", "4 L/min").exit_code == 0


# measured-flow


def test_a_measured_flow_by_hand() -> None:
    """(1900 - 1000) x 0.28 / 60 = 4.2 L/min by hand; the real gas gives 2 % more between these gauges."""
    found = document(*MEASURED)
    assert found["hand_flow_l_per_min"] == pytest.approx(4.2, rel=1e-9)
    assert found["flow_l_per_min"] == pytest.approx(4.2 * 1.02, rel=0.005)
    assert found["gauge_can_tell"] is True
    text = run(*MEASURED).stdout
    assert "(1900 - 1000) psi x 0.28 L/psi / 60 min = 4.20 L/min" in text
    assert max(map(len, text.splitlines())) <= 100


def test_every_doubt_stands_on_a_line_with_its_source() -> None:
    text = flat(run(*MEASURED).stdout)
    for part in (
        "within 50 psi: half a division; common practice, no source",
        "2.5 % of 4400 psi (scale assumed): ISO 5171, from memory",
        "21.1 °C within 10 °C: none given; by decision",
        "within 5 °C: not both temperatures given; by decision",
        "3.86 to 4.80 L: factor to largest label; --contents settles it",
        "60 min, as given",
        "A zero error of the gauge is in both readings and cancels; an error of its slope does not",
    ):
        assert part in text
    given = ("--resolution", "20 psi", "--gauge-scale", "3000 psi", "--from-temperature", "20 degC")
    text = flat(run(*MEASURED, *given, "--to-temperature", "18 degC", "--contents", "680 L at 2015 psi").stdout)
    for part in (
        "within 20 psi: as given",
        "2.5 % of 3000 psi: ISO 5171, from memory",
        "settled 20 °C, as given",
        "settled 20 °C to 18 °C, as given",
        "settled 4.66 L by the cylinder's own label",
    ):
        assert part in text


def test_minutes_left_are_those_at_the_end_that_runs_out_first() -> None:
    """The same as `lasts` says for the highest flow at the least that the second reading may mean, 1000 less 50 psi."""
    found = document(*MEASURED)
    highest = found["highest_same_capacity_l_per_min"]
    asked = document("lasts", *E_CYLINDER, "--gauge", "950 psi", "--flow", f"{highest:.9f} L/min")
    assert found["minutes_left"] == pytest.approx(asked["minutes"], rel=1e-8)
    planned = document(*MEASURED, "--planned-flow", "10 L/min")
    assert planned["flow_for_minutes_left_l_per_min"] == 10.0
    assert planned["minutes_left"] == pytest.approx(found["usable_l"] / 10.0, rel=1e-9)


@pytest.mark.longer("trials", [120], [4000])
def test_near_change_over_minutes_left_are_never_more_than_true(trials: int) -> None:
    """Random falls whose truth is known: both gauges are read to the nearest 100 psi, the second near change-over.

    What is true follows from a steady flow and the gas law alone; the label and both temperatures are known.
    """
    chance = random.Random(8)  # noqa: S311 - repeatable, not secret
    capacity = contents.water_capacity_l(680.0, 2015.0 * KPA_PER_PSI, 21.1)
    at_change = contents.contents_l(500.0 * KPA_PER_PSI, 21.1, capacity)
    optimistic = []
    for number in range(trials):
        second = chance.uniform(560.0, 900.0)
        first = second + chance.uniform(250.0, 900.0)
        minutes = chance.randrange(20, 60)
        held_first, held_second = (contents.contents_l(psi * KPA_PER_PSI, 21.1, capacity) for psi in (first, second))
        true = (held_second - at_change) / ((held_first - held_second) / minutes)
        found = document(
            "measured-flow", *E_CYLINDER, "--contents", "680 L at 2015 psi", "--minutes", f"{minutes} min",
            "--from-gauge", f"{100 * round(first / 100)} psi", "--to-gauge", f"{100 * round(second / 100)} psi",
            "--from-temperature", "21.1 degC", "--to-temperature", "21.1 degC",
        )  # fmt: skip
        if found["minutes_left"] is not None and found["minutes_left"] > true:
            optimistic.append((number, found["minutes_left"], true))
    assert optimistic == []


def test_the_gauge_cannot_tell_and_for_how_long_to_watch() -> None:
    asked = (
        "measured-flow", *E_CYLINDER, "--from-gauge", "2000 psi", "--to-gauge", "1900 psi", "--minutes", "15 min",
    )  # fmt: skip
    text = flat(run(*asked, "--planned-flow", "2 L/min").stdout)
    assert text.startswith("THE GAUGE CANNOT TELL: the flow is anything up to ")
    assert "The planned 2 L/min is neither confirmed nor refuted, and stands." in text
    found = document(*asked, "--planned-flow", "2 L/min")
    assert found["gauge_can_tell"] is False
    assert f"the gauge can tell after {int(found['watch_min']) + 1} min from the first reading" in text
    # Watched for so long at 2 L/min, it can: the fall is (minutes x 2) / 0.28 psi by hand for the smallest cylinder.
    later = 2000.0 - (found["watch_min"] + 1.0) * 2.0 / 0.28
    again = ("--to-gauge", f"{later:.0f} psi", "--minutes", f"{found['watch_min'] + 1.0:.0f} min")
    assert document("measured-flow", *E_CYLINDER, "--from-gauge", "2000 psi", *again)["gauge_can_tell"] is True


def test_a_gauge_that_has_not_moved_asks_for_the_planned_flow() -> None:
    asked = ("measured-flow", *E_CYLINDER, "--from-gauge", "1900 psi", "--to-gauge", "1900 psi", "--minutes", "15 min")
    assert "give the planned flow with --planned-flow" in run(*asked).stdout
    assert document(*asked)["watch_min"] is None


@pytest.mark.hazard(22)
def test_slower_than_planned_says_to_look_at_the_patient_first() -> None:
    """By hand 1900 to 1890 psi in 30 min is 0.1 L/min, where 10 L/min would be a fall of 1070 psi."""
    asked = ("--from-gauge", "1900 psi", "--to-gauge", "1890 psi", "--minutes", "30 min", "--planned-flow", "10 L/min")
    text = flat(run("measured-flow", *E_CYLINDER, *asked).stdout)
    assert "SLOWER than the planned 10 L/min" in text
    assert "Look at the patient first: supply shut, hose off" in text
    assert "The planned flow stands." in text
    assert document("measured-flow", *E_CYLINDER, *asked)["compared"] == "below"


def test_faster_than_planned_says_to_look_for_a_leak() -> None:
    text = flat(run(*MEASURED, "--planned-flow", "2 L/min").stdout)
    assert "FASTER than the planned 2 L/min, whatever the gauge was off by. Look for a leak" in text


@pytest.mark.parametrize(
    ("to_gauge", "more", "reason"),
    [
        ("1500 psi", (), "a gauge that rises: the readings are swapped, another cylinder was read"),
        ("1320 psi", (), "a gauge that rises: so little may be reading alone, or the readings are swapped"),
        ("1500 psi", ("--from-temperature", "20 degC"), "if it was warmed, give --from-temperature and --to-temp"),
    ],
)
def test_a_rising_gauge_is_a_problem_with_its_reason(to_gauge: str, more: tuple[str, ...], reason: str) -> None:
    asked = ("--from-gauge", "1300 psi", "--to-gauge", to_gauge, "--minutes", "20 min", *more, "--format", "json")
    result = run("measured-flow", *E_CYLINDER, *asked)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(f"--to-gauge  gauge_rises  `{to_gauge}` after `1300 psi`, ")
    assert reason in result.stderr


@pytest.mark.hazard(4)
def test_a_flow_that_no_regulator_gives_is_a_slip() -> None:
    """15 s for 15 min: (1900 - 1500) x 0.28 / 0.25 = 448 L/min by hand, 2 % more by the real gas."""
    result = run(
        "measured-flow", *E_CYLINDER, "--from-gauge", "1900 psi", "--to-gauge", "1500 psi", "--minutes", "15 s"
    )
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines()[0] == (
        "--to-gauge  flow_impossible  `1900 psi` to `1500 psi` in 0.25 min, which would be 458.3 L/min; allowed: a "
        "flow up to 300 L/min. Fix: check the time and both gauges with their units."
    )


def test_a_gauge_that_rises_because_the_gas_warmed_is_read() -> None:
    """From -20 to 20 degC a full E gains a quarter on its gauge, so that 1320 after 1300 psi means gas was drawn."""
    warmed = ("--from-temperature", "-20 degC", "--to-temperature", "20 degC")
    asked = ("--from-gauge", "1300 psi", "--to-gauge", "1320 psi", "--minutes", "20 min", *warmed)
    assert document("measured-flow", *E_CYLINDER, *asked)["flow_l_per_min"] > 2.0


def test_a_fall_that_cooling_explains_shows_no_flow() -> None:
    cooled = ("--from-temperature", "30 degC", "--to-temperature", "0 degC", "--resolution", "1 psi")
    asked = ("--from-gauge", "2000 psi", "--to-gauge", "1900 psi", "--minutes", "20 min", *cooled)
    text = run("measured-flow", *E_CYLINDER, *asked).stdout
    assert text.startswith("THE GAUGE CANNOT TELL: the fall is no more than the cooling of the gas explains.")


@pytest.mark.hazard(24)
def test_clock_times_across_midnight() -> None:
    """23:40 to 00:40 is 60 min, give or take a minute where no seconds are given."""
    gauges = ("measured-flow", *E_CYLINDER, "--from-gauge", "1900 psi", "--to-gauge", "1000 psi")
    found = document(*gauges, "--from-time", "23:40", "--to-time", "00:40")
    assert found["minutes"] == 60.0
    time = found["doubts"][-1]
    assert time["settled"] is False
    assert time["highest_l_per_min"] == pytest.approx(found["flow_l_per_min"] * 60.0 / 59.0, rel=1e-9)
    seconds = document(*gauges, "--from-time", "23:40:00", "--to-time", "00:40:00")
    assert seconds["doubts"][-1]["settled"] is True


@pytest.mark.parametrize(
    ("times", "line"),
    [
        (
            ("--from-time", "14:20"),
            (
                "--to-time  option_missing  no --to-time; allowed: the clock times of both readings. Fix: add "
                "--to-time 14:35."
            ),
        ),
        (
            ("--from-time", "14:20", "--to-time", "14:05"),
            (
                "--to-time  times_out_of_order  from 14:20 to 14:05, which is 23 h 45 min; allowed: up to 12 h "
                "between the readings. Fix: give the earlier time with --from-time; for so long a watch give --minutes."
            ),
        ),
        (
            ("--from-time", "14:20", "--to-time", "14:21"),
            (
                "--to-time  too_short  from 14:20 to 14:21, which may be no time at all; allowed: more than a minute. "
                "Fix: watch for longer, or give times with seconds."
            ),
        ),
        (
            ("--minutes", "15 min", "--to-time", "14:35"),
            (
                "--minutes  two_ways  --minutes beside a clock time; allowed: one way to give the time. Fix: take out "
                "--minutes, or --from-time and --to-time."
            ),
        ),
        (
            ("--minutes", "15"),
            (
                "--minutes  unit_missing  duration `15` without a unit; allowed: a time in min, s or h, as in 12 min. "
                "Fix: write 15 with its unit: min, s or h."
            ),
        ),
    ],
)
def test_times_that_cannot_be(times: tuple[str, ...], line: str) -> None:
    result = run("measured-flow", *E_CYLINDER, "--from-gauge", "1900 psi", "--to-gauge", "1500 psi", *times)
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [line, "measured-flow: 1 problem, nothing worked out."]


# With a trip


def test_a_measured_flow_above_plan_is_planned_with(trip: str) -> None:
    """Planned (60 + 20) x 2 = 160 L, reserve max(80, 30 x 2) = 80: 240 L; E at 2000 psi gives about 420 L: go.

    At the measured 4.3 L/min: 80 x 4.3 x 1.5 = 515 L: no-go. At the highest, V by the largest label, oxygen may run out
    after 420 / 6.5 = 65 min.
    """
    result = run(*MEASURED, "--trip", trip)
    assert result.exit_code == 3
    found = document(*MEASURED, "--trip", trip, code=3)["replanned"]
    planned, measured, highest = found["plans"]
    assert (found["supply"], found["verdict"]) == ("cart", "no-go")
    assert (planned["verdict"], measured["verdict"], highest["verdict"]) == ("go", "no-go", None)
    assert planned["required_l"] == pytest.approx(240.0, rel=1e-9)
    assert measured["required_l"] == pytest.approx(80.0 * measured["flow_l_per_min"] * 1.5, rel=1e-9)
    assert highest["runs_out_min"] == pytest.approx(highest["usable_l"] / highest["flow_l_per_min"], rel=1e-9)
    text = flat(result.stdout)
    assert "FASTER than the planned 2 L/min" in text
    assert "NO-GO: " in text
    assert f"RUNS OUT at {int(highest['runs_out_min'])} min" in text
    assert "Raised: leg 1 (Ward to scanner) from 2 L/min, leg 2 (Scanner to ward) from 2 L/min." in text
    assert "Fix: " in text


def test_go_with_its_reserve_is_no_go_where_oxygen_may_run_out_at_the_highest_flow(tmp_path: Path) -> None:
    """One leg of 60 min. Measured 1900 to 1500 psi in 25 min: 4.5 L/min by hand, 60 x 4.5 x 1.5 = 405 L of 420: go.

    At the highest flow, 7.5 L/min or more with the label's capacity, 420 L are gone after 56 min.
    """
    short = tmp_path / "short.yaml"
    short.write_text(TRIP[: TRIP.index("  - {name: Scanner")], encoding="utf-8")
    asked = ("--from-gauge", "1900 psi", "--to-gauge", "1500 psi", "--minutes", "25 min", "--trip", str(short))
    found = document("measured-flow", *E_CYLINDER, *asked, code=3)["replanned"]
    assert [row["verdict"] for row in found["plans"]] == ["go", "go", None]
    assert found["plans"][2]["runs_out_min"] < 60.0
    assert found["verdict"] == "no-go"
    text = flat(run("measured-flow", *E_CYLINDER, *asked).stdout)
    assert "NO-GO: " in text
    assert "Fix: " in text
    labelled = ("measured-flow", "--contents", "616 L at 2200 psi", *asked, "--resolution", "10 psi")
    assert run(*labelled).exit_code == 0


def test_a_measured_flow_below_plan_lowers_nothing(trip: str) -> None:
    """By hand 1900 to 1700 psi in 60 min: 0.93 L/min, at most 1.7 with the label's capacity, below the planned 2."""
    fall = ("--from-gauge", "1900 psi", "--to-gauge", "1700 psi", "--minutes", "60 min", "--resolution", "20 psi")
    result = run("measured-flow", *E_CYLINDER, *fall, "--trip", trip)
    assert result.exit_code == 0
    text = flat(result.stdout)
    assert "SLOWER than the planned 2 L/min" in text
    assert "a measured flow never lowers a planned flow by itself" in text
    found = document("measured-flow", *E_CYLINDER, *fall, "--trip", trip)["replanned"]
    assert [row["planned_with"] for row in found["plans"]] == ["planned"]
    assert found["plans"][0]["required_l"] == pytest.approx(240.0, rel=1e-9)


def test_a_gauge_that_cannot_tell_leaves_the_plan_as_it_is(trip: str) -> None:
    fall = ("--from-gauge", "2000 psi", "--to-gauge", "1900 psi", "--minutes", "15 min")
    result = run("measured-flow", *E_CYLINDER, *fall, "--trip", trip)
    assert result.exit_code == 0
    assert "The gauge cannot tell, so no flow is raised and the plan stands as it is." in flat(result.stdout)
    assert "GO: " not in result.stdout


def test_only_the_leg_that_is_named_is_raised(trip: str) -> None:
    """Leg 2 of 20 min: planned 60 x 2 + 20 x flow."""
    found = document(*MEASURED, "--trip", trip, "--leg", "2")["replanned"]
    measured = found["plans"][1]
    assert measured["planned_l"] == pytest.approx(120.0 + 20.0 * measured["flow_l_per_min"], rel=1e-9)
    by_name = document(*MEASURED, "--trip", trip, "--leg", "Scanner to ward")["replanned"]
    assert by_name["plans"] == found["plans"]


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (
            ("--supply", "crat"),
            (
                "--supply  supply_unknown  `crat`; allowed: a supply of cylinders that a leg draws from: cart. Fix: "
                "write --supply cart."
            ),
        ),
        (
            ("--leg", "3"),
            (
                "--leg  leg_unknown  `3`; allowed: a leg that draws from cart: 1 (Ward to scanner), 2 (Scanner to "
                "ward). Fix: write --leg with its number."
            ),
        ),
        (
            ("--change-over-at", "200 psi"),
            (
                "--change-over-at  two_ways  --change-over-at beside --trip; allowed: the change-over of the trip's "
                "policy. Fix: take one of the two out."
            ),
        ),
    ],
)
def test_options_that_do_not_fit_the_trip(trip: str, options: tuple[str, ...], line: str) -> None:
    result = run(*MEASURED, "--trip", trip, *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines()[0] == line


def test_options_of_a_trip_without_one() -> None:
    result = run(*MEASURED, "--supply", "cart", "--leg", "1")
    assert result.exit_code == 2
    assert [line.split()[:2] for line in result.stderr.splitlines()[:2]] == [
        ["--supply", "no_trip"],
        ["--leg", "no_trip"],
    ]


def test_a_trip_with_problems_exits_1_and_with_wrong_options_2(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text(TRIP.replace("duration: 60 min", "duration: 60"), encoding="utf-8")
    result = run(*MEASURED, "--trip", str(bad))
    assert (result.exit_code, result.stdout) == (1, "")
    assert f"{bad}:12:39  unit_missing  " in result.stderr
    both = run(*MEASURED, "--trip", str(bad), "--planned-flow", "2")
    assert both.exit_code == 2
    assert "unit_missing  duration" in both.stderr
    assert "--planned-flow  unit_missing" in both.stderr


# The command


@pytest.mark.parametrize("verb", ["lasts", "measured-flow"])
def test_help_is_a_sentence_with_an_example_that_runs(verb: str) -> None:
    result = run(verb, "--help")
    assert result.exit_code == 0
    assert f"transport-oxygen {verb}" in result.stdout
    assert "Exit codes: 0 an answer" in flat(result.stdout)
    assert verb in run("--help").stdout


def test_the_bedside_question_loads_no_heavy_library() -> None:
    command = [sys.executable, "-X", "importtime", "-m", "planner", *LASTS, "--gauge", "1900 psi", "--flow", "4 L/min"]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    loaded = {line.split("|")[-1].strip().split(".")[0] for line in ran.stderr.splitlines() if "|" in line}
    assert "planner" in loaded
    assert loaded & {"numpy", "pint", "jsonschema", "reportlab", "pypdf"} == set()


@pytest.mark.hazard(44)
def test_lasts_for_air_counts_by_the_density_of_air_and_says_so() -> None:
    """US-E at 2000 psi: some 393 L of air above 500 psi, 72 min at 5.4 L/min, where 424 L of oxygen would be 78."""
    asked = ["lasts", "--size", "US-E", "--gauge", "2000 psi", "--flow", "5.4 L/min", "--format", "text"]
    of_air, of_oxygen = (CliRunner().invoke(main, [*asked, "--gas", gas]).stdout for gas in ("air", "oxygen"))
    assert "AIR US-E" in of_air
    assert "72 min" in of_air
    assert "78 min" in of_oxygen
    assert "AIR" not in of_oxygen
