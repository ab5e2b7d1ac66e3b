"""Short answers: what is kept of them, and how a doubtful one is refused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.new_trip.answers import AnswerError, leg, places, quantity
from planner.new_trip.cylinder_answers import cylinders, litres, outlets
from planner.new_trip.device_answers import asked_setting, device_settings
from planner.new_trip.questions import one_setting
from planner.trade.catalog import device_types

ROOT = Path(__file__).resolve().parents[1]
PROFILES = ROOT / "profiles"


@pytest.mark.hazard(7)
def test_zero_is_taken_where_nothing_may_flow_and_refused_where_a_breath_is_asked() -> None:
    ventilator = device_types()["ventilator"]
    assert asked_setting("0", ventilator, "leak") == {"leak": "0 L/min"}
    with pytest.raises(AnswerError) as caught:
        asked_setting("0", ventilator, "minute_volume")
    assert str(caught.value) == (
        "minute_volume `0 L/min`; allowed: a minute volume above 0 and up to 100 L/min. "
        "Fix: write what is set, as in 7.2 L/min."
    )
    assert "Write 0" in one_setting("vent", ventilator, "leak", (), None).help
    assert "Write 0" not in one_setting("vent", ventilator, "minute_volume", (), None).help


@pytest.mark.hazard(4)
class TestShortAnswers:
    @pytest.mark.parametrize(
        ("text", "kind", "kept"),
        [
            ("12", "duration", "12 min"),
            ("12min", "duration", "12 min"),
            ("1 h 20 min", "duration", "1 h 20 min"),
            ("1.5 h", "duration", "1.5 h"),
            ("4", "flow", "4 L/min"),
            ("4 LPM", "flow", "4 LPM"),
            ("16", "rate", "16/min"),
            ("60%", "fraction", "60 %"),
            ("0.6", "fraction", "0.6"),
            ("137 bar", "gauge", "137 bar"),
        ],
    )
    def test_a_quantity_is_kept_with_its_unit(self, text: str, kind: str, kept: str) -> None:
        assert quantity(text, kind) == kept

    @pytest.mark.parametrize(
        ("text", "kind", "fix"),
        [
            ("12 m", "duration", "Fix: write 12 min"),
            ("7:30", "duration", "Fix: write 7 h 30 min"),
            ("7,5", "duration", "Fix: write 7.5"),
            ("4 L", "flow", "Fix: write 4 L/min"),
            ("1500", "gauge", "unit"),
            ("450", "volume", "unit"),
            ("60", "fraction", "Fix: write 60 % or 0.6"),
            ("-3", "flow", "-3"),
            ("", "flow", "nothing"),
        ],
    )
    def test_a_wrong_or_doubtful_unit_is_refused_with_its_mend(self, text: str, kind: str, fix: str) -> None:
        with pytest.raises(AnswerError, match=re.escape(fix)):
            quantity(text, kind)

    def test_a_refusal_reads_as_a_sentence_with_what_is_allowed(self) -> None:
        with pytest.raises(AnswerError) as raised:
            quantity("12 m", "duration")
        assert str(raised.value) == (
            "`12 m`, and m stands for metres; allowed: a time in min, s or h, as in 12 min. Fix: write 12 min."
        )

    @pytest.mark.parametrize(
        ("text", "found"),
        [
            ("ward, scanner, back", ("ward", "scanner", "ward")),
            ("ward to scan and back", ("ward", "scan", "ward")),
            ("emergency department > theatre", ("emergency department", "theatre")),
            ("a -> b -> c", ("a", "b", "c")),
        ],
    )
    def test_places(self, text: str, found: tuple[str, ...]) -> None:
        assert places(text) == found

    @pytest.mark.parametrize("text", ["ward", "ward,,scanner", ", scanner"])
    def test_one_place_is_no_trip(self, text: str) -> None:
        with pytest.raises(AnswerError, match="two or more places"):
            places(text)

    def test_times_of_a_leg(self) -> None:
        found = leg("55 min + 10 loading, bridge 5 min, longest 1 h 20 min, wall")
        assert found.duration == "55 min"
        assert found.delays == (("loading", "10 min"), ("bridge", "5 min"))
        assert found.longest == "1 h 20 min"
        assert (found.wall, found.magnet) == (True, False)
        assert leg("8 wall").wall
        assert leg("40 min magnet").magnet

    @pytest.mark.parametrize("text", ["7 + 3", "7 + lift", "7 lift", "lift", "7,5"])
    def test_a_wait_needs_time_and_reason(self, text: str) -> None:
        with pytest.raises(AnswerError):
            leg(text)

    def test_settings_go_where_their_unit_fits(self) -> None:
        types = device_types()
        assert device_settings("450 mL 16/min 60 %", types["ventilator"]) == {
            "tidal_volume": "450 mL",
            "rate": "16/min",
            "fio2": "60 %",
        }
        assert device_settings("60 L/min 40 %", types["cpap"]) == {"total_flow": "60 L/min", "fio2": "40 %"}
        assert device_settings("15", types["cpap"]) == {"oxygen_flow": "15 L/min"}
        assert device_settings("minute_volume 8, fio2 0.5", types["ventilator"]) == {
            "minute_volume": "8 L/min",
            "fio2": "0.5",
        }

    def test_a_flow_that_could_be_several_is_asked_back(self) -> None:
        with pytest.raises(AnswerError, match="could be minute_volume or bias_flow or leak"):
            device_settings("8 L/min", device_types()["ventilator"])

    @pytest.mark.parametrize("text", ["4 psi", "fio2 50 %", "four", "4 L/min 50 %", "flow"])
    def test_settings_that_a_cannula_has_not(self, text: str) -> None:
        with pytest.raises(AnswerError):
            device_settings(text, device_types()["nasal_cannula"])

    def test_cylinders(self) -> None:
        first, second, third = cylinders("us-e 1500 psi,B7: US-E 2000 psi safe; 680 L at 2015 psi reads 1950 psi")
        assert (first.size, first.gauge, first.label, first.magnet_safe) == ("US-E", "1500 psi", None, False)
        assert (second.size, second.gauge, second.label, second.magnet_safe) == ("US-E", "2000 psi", "B7", True)
        assert (third.size, third.contents, third.gauge) == (None, "680 L at 2015 psi", "1950 psi")
        assert cylinders("1500 psi US-E") == cylinders("US-E 1500 psi")
        assert litres("1500 L") == "1500 L"
        assert litres("US-E 1500 psi") is None

    @pytest.mark.parametrize("text", ["US-E", "US-E 1500", "1500 psi", "680 L at 2015 psi"])
    def test_a_cylinder_needs_its_size_and_gauge(self, text: str) -> None:
        with pytest.raises(AnswerError):
            cylinders(text)

    def test_outlets(self) -> None:
        assert outlets("15 L/min, 25, 50 psi") == ("{flowmeter: 15 L/min}", "{flowmeter: 25 L/min}", "high_pressure")
        with pytest.raises(AnswerError, match="write for example 15 L/min, 50 psi"):
            outlets("two")


@pytest.mark.parametrize(
    ("text", "delays", "longest"),
    [
        ("7 and 15 wait", (("wait", "15 min"),), None),
        ("7 + wait 15 min", (("wait", "15 min"),), None),
        ("7; 3 lift; max 20", (("lift", "3 min"),), "20 min"),
        ("7 plus 3 lift, at most 20", (("lift", "3 min"),), "20 min"),
    ],
)
def test_waits_as_people_say_them(text: str, delays: tuple[tuple[str, str], ...], longest: str | None) -> None:
    found = leg(text)
    assert (found.duration, found.delays, found.longest) == ("7 min", delays, longest)


@pytest.mark.parametrize("text", ["1 h and 20 min", "7 and 15", "7, 15"])
def test_a_second_time_without_a_reason_is_asked_about(text: str) -> None:
    with pytest.raises(AnswerError, match="a wait with its reason"):
        leg(text)
