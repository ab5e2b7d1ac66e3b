"""The conversation of `new`: the order of questions, the litres shown on the way, and the profile that comes of it."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.new_trip.answers import AnswerError
from planner.new_trip.interview import Interview
from planner.new_trip.usual import built_in, read_usual
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.trade.catalog import device_types
from tests.conversation import BY_ROAD, ROUTINE, held, trip_of

ROOT = Path(__file__).resolve().parents[1]
PROFILES = ROOT / "profiles"


@pytest.mark.hazard(1)
def test_a_leg_left_out_is_said_to_be_left_out() -> None:
    """`no` to the question for its minutes: nothing else would show that twenty minutes are missing."""
    interview = held(["1", "ward, scanner, back", "cannula 4", "", "7", "no"])
    assert "At scanner: left out" in interview.remarks


class TestRoutine:
    def test_twelve_answers_and_few_keys_suffice(self) -> None:
        assert held(ROUTINE).question is None
        assert len([*ROUTINE, ""]) <= 12  # the last one takes the name of the file
        # Ninety keys in two minutes is less than one a second.
        assert sum(len(answer) + 1 for answer in ROUTINE) <= 90

    def test_the_litres_are_those_of_the_readme(self) -> None:
        # (7 + 3 + 8 + 7) min x 4 L/min = 100 L; 30 min x 4 L/min = 120 L are more than half of it.
        supply = plan(trip_of(ROUTINE)).supplies["cart"]
        assert supply.need.planned_l == pytest.approx(100.0)
        assert supply.need.required_l == pytest.approx(220.0)

    def test_the_profile_says_what_was_answered(self) -> None:
        text = held(ROUTINE).text(Path())
        for line in (
            "trip: Ward to scanner and back",
            "setting: in_house",
            "      - {label: A, size: US-E, gauge: 1500 psi}",
            "    outlets: [{flowmeter: 15 L/min}]",
            "    flow: 4 L/min",
            "  - name: Ward to scanner",
            "    duration: 7 min",
            "      - {reason: lift, time: 3 min}",
            "  - name: At scanner",
            "  - name: Back to ward",
        ):
            assert re.search(rf"^{re.escape(line)}( +# .*)?$", text, re.MULTILINE), line
        assert text.startswith("# ")
        assert text.endswith("devices: [cannula]\n")

    def test_questions_come_in_the_order_of_thought(self) -> None:
        interview, asked = Interview(built_in()), []
        for answer in ROUTINE:
            assert interview.question is not None
            asked.append(interview.question.key)
            interview.answer(answer)
        assert asked == ["setting", "route", "device", "device", *["time"] * 3, "cylinders", "outlets", "cylinders"]

    def test_litres_are_shown_as_soon_as_they_are_known(self) -> None:
        after_legs = held(ROUTINE[:7]).remarks
        assert "cart: planned 100 L + reserve 120 L = required 220 L." in after_legs
        # By the hand method a full E gives (2000 - 500) x 0.28 = 420 L, a full D 240 L: one of either does.
        assert "cart: full cylinders that would do, spare counted in: 1 x US-E or 1 x US-D." in after_legs
        after_cylinder = held(ROUTINE[:9]).remarks
        # README: 281 L by the real density of oxygen.
        assert after_cylinder[0] == "cart: required 220 L, COUNTED 281 L (usable): 61 L to spare."
        assert after_cylinder[1].startswith("GO by these figures.")

    def test_a_no_go_is_shown_with_what_mends_it_and_a_cylinder_more_mends_it(self) -> None:
        low = [*ROUTINE[:7], "US-E 600 psi", ""]
        assert any(re.match(r"NO-GO: cart needs 220 L, .* Fix: ", line) for line in held(low).remarks)
        mended = held([*low, "US-E 2000 psi"])
        assert mended.remarks[-1].startswith("GO by these figures.")

    def test_cylinders_not_drawn_yet_are_said_to_be_and_never_judged(self) -> None:
        interview = held([*ROUTINE[:7], ""])
        assert interview.question is None
        assert "sizes: [US-E, US-D]" in interview.text(Path())
        assert interview.remarks[-1].startswith("Not judged yet: ")
        assert plan(parse_trip(interview.text(Path()))).verdict == "no-go"


class TestTakenBack:
    """What was answered stays as what Enter takes, where the same is asked again."""

    def test_an_answer_that_was_taken_back_is_offered_and_enter_takes_it(self) -> None:
        interview = held(ROUTINE[:6])
        interview.back()
        interview.back()
        assert interview.default == "7 + 3 lift"
        interview.answer("")
        assert interview.default == "8"
        interview.answer("9")
        assert interview.answers[-2:] == ("7 + 3 lift", "9")

    @pytest.mark.hazard(34)
    def test_a_cylinder_is_never_offered_a_second_time(self) -> None:
        """A cylinder that was told once is not taken again by Enter at the question for more."""
        interview = held(ROUTINE[:10])
        for _ in range(3):
            interview.back()
        assert interview.default == "US-E 1500 psi"
        interview.answer("US-E 1500 psi, US-E 1400 psi")
        interview.answer("")
        assert interview.default == "no"

    @pytest.mark.hazard(33)
    def test_regulators_are_asked_for_only_where_several_cylinders_need_them(self) -> None:
        """One cylinder needs one; the valve of a UK-CD has its own; of two US-E with one regulator the plan speaks."""
        assert held(ROUTINE).question is None
        assert held([*ROUTINE[:7], "UK-CD 200 bar, UK-CD 200 bar", "", ""]).question is None
        interview = held([*ROUTINE[:7], "US-E 1500 psi, US-E 1400 psi", "", ""])
        assert interview.question is not None
        assert interview.question.key == "regulators"
        assert interview.default == "2"
        for wrong in ("0", "none", "1.5", "one"):
            with pytest.raises(AnswerError, match="a whole number from 1"):
                interview.answer(wrong)
        trip = trip_of([*ROUTINE[:7], "US-E 1500 psi, US-E 1400 psi", "", "", "1"])
        assert trip.supplies["cart"].regulators == 1
        assert any(finding.code == "one_regulator" for finding in plan(trip).findings)

    def test_another_question_in_its_place_has_its_own_default(self) -> None:
        interview = held(ROUTINE[:5])
        for _ in range(4):
            interview.back()
        interview.answer("ward, theatre")
        interview.answer("cannula 4")
        interview.answer("")
        assert interview.question is not None
        assert interview.default is None


class TestMagnetRoom:
    AT = ("1", "ward, MRI, back", "cannula 2", "", "7")

    @pytest.mark.hazard(27)
    def test_a_stay_that_is_called_after_one_is_asked_about(self) -> None:
        interview = held([*self.AT, "40"])
        assert interview.question is not None
        assert interview.question.text == "At MRI: do patient and oxygen enter the magnet room? yes or no"
        assert interview.default is None
        interview.answer("no")
        assert "magnet: false" in held([*self.AT, "40", "no", "7", ""]).text(Path())
        assert "magnet: true" in held([*self.AT, "40", "yes", "7", ""]).text(Path())

    @pytest.mark.parametrize(
        "told", ["40 magnet", "40 in MRI", "40 magnet room", "40 min, in the magnet room", "40 + magnet"]
    )
    def test_it_may_be_said_with_the_time(self, told: str) -> None:
        assert "magnet: true" in held([*self.AT, told, "7", ""]).text(Path())

    def test_the_question_itself_says_how_waits_and_magnet_are_said(self) -> None:
        question = held(self.AT).question
        assert question is not None
        assert "waits with +, as in 7 + 3 lift, or 40 magnet room" in question.text


class TestByVehicle:
    def test_a_ventilator_by_road(self) -> None:
        trip = trip_of(BY_ROAD)
        assert [leg.name for leg in trip.legs] == [
            "Valley hospital to vehicle",
            "Loading",
            "Road to coast hospital",
            "Unloading",
            "Vehicle to coast hospital",
        ]
        assert [leg.no_change for leg in trip.legs] == [False, True, False, True, False]
        assert [leg.supply for leg in trip.legs] == ["cart", "cart", "ambulance", "cart", "cart"]
        assert trip.supplies["ambulance"].fixed
        assert trip.supplies["ambulance"].backup == "cart"
        assert trip.devices["vent"].if_it_fails == "bag"
        assert all(use.device.name != "bag" for leg in trip.legs for use in leg.uses)
        made = plan(trip)
        # (0.45 L x 16/min + 2 L/min) x (0.6 - 0.21) / 0.79 = 4.542 L/min; on foot 15 + 5 + 5 + 15 min, on the road
        # 65 min, and there the nebulizer for 10 min at 6 L/min.
        flow = (0.45 * 16 + 2) * 0.39 / 0.79
        assert made.supplies["cart"].need.planned_l == pytest.approx(40 * flow)
        assert made.supplies["ambulance"].need.planned_l == pytest.approx(65 * flow + 10 * 6)

    @pytest.mark.hazard(16)
    def test_a_flight_needs_its_cabin_altitude(self) -> None:
        start = ["air", "clinic, city", "reservoir 15", "", "load fly unload", "6", "40"]
        interview = held(start)
        assert interview.question is not None
        assert interview.question.key == "cabin_altitude"
        with pytest.raises(AnswerError, match="8000"):
            interview.answer("8000")
        interview.answer("8000 ft")
        trip = trip_of([*start, "8000 ft", "6", "no", "US-E 2000 psi, US-E 2000 psi", "", "", ""])
        assert trip.legs[1].cabin_altitude_m == pytest.approx(2438.4)  # 8000 x 0.3048 m
        assert trip.legs[1].by == "air"

    def test_legs_of_a_flight_with_ambulances(self) -> None:
        kinds = "walk load road unload load fly unload load road unload walk"
        start = ["air", "island, city", "cannula 2", "", kinds]
        times = ["9", "1", "20", "1", "1", "60", "8000 ft", "1", "1", "20", "1", "9"]
        text = held([*start, *times]).text(Path())
        assert re.findall(r"^  - name: (.*)$", text, re.MULTILINE) == [
            "Island to vehicle",
            "Loading",
            "Road to the airfield",
            "Unloading",
            "Loading",
            "Flight to city",
            "Unloading",
            "Loading",
            "Road to city",
            "Unloading",
            "Vehicle to city",
        ]

    def test_a_leg_of_no_minutes_is_left_out(self) -> None:
        answers = [
            *BY_ROAD[:10],
            "10",
            "0",
            "55",
            "0",
            "0",
            "no",
            "10 min in leg 2",
            "US-E 2000 psi, US-E 2000 psi",
            "15",
            "",
            "2",
        ]
        assert [leg.name for leg in trip_of(answers).legs] == ["Valley hospital to vehicle", "Road to coast hospital"]

    def test_a_trip_without_any_leg_is_refused(self) -> None:
        interview = held([*ROUTINE[:4], "0", "0"])
        with pytest.raises(AnswerError, match="a trip without legs"):
            interview.answer("0")

    @pytest.mark.hazard(15)
    def test_the_cart_that_backs_up_a_vehicle_is_asked_for_even_if_no_leg_draws_on_it(self) -> None:
        interview = held(["road", "a, b", "cannula 2", "", "road", "30", "yes"])
        asked = []
        for answer in ("US-E 2000 psi, US-E 2000 psi", "", "", "1", "US-M 2000 psi", "", ""):
            assert interview.question is not None
            asked.append(interview.question.text.partition(":")[0])
            interview.answer(answer)
        assert asked == ["cart"] * 4 + ["ambulance"] * 3
        assert plan(parse_trip(interview.text(Path()))).go

    def test_an_aircraft_with_a_stated_amount(self) -> None:
        start = ["air", "clinic, city", "cannula 2", "", "walk fly walk", "9", "30", "1500 ft", "9", "yes"]
        trip = trip_of([*start, "US-E 2000 psi, US-E 2000 psi", "15", "", "", "1500 L", "15"])
        assert trip.supplies["aircraft"].stated_l == 1500.0
        assert trip.legs[1].supply == "aircraft"

    def test_the_wall_and_the_magnet_room(self) -> None:
        answers = ["1", "ward, magnet, back", "cannula 3", "", "9", "40 magnet", "9 wall", "US-E 2000 psi safe", "", ""]
        trip = trip_of(answers)
        assert trip.legs[1].magnet
        assert trip.supplies["cart"].cylinders[0].magnet_safe
        assert trip.legs[2].supply == "wall"
        assert trip.supplies["wall"].kind == "pipeline"


class TestRefusals:
    """What `plan` would refuse is refused at the question, in the same words."""

    @pytest.mark.parametrize(
        ("before", "text", "told"),
        [
            (7, "E 1500 psi", "write `US-E` or `UK-E`"),
            (7, "US-E 1500 bar", "check the number and its unit"),
            (7, "US-E 2000 psi, A: US-E 1900 psi", "second time"),
            (2, "cannula 400", "a flow from 0 to 300 L/min"),
            (2, "hose 4", "type a name or number of the list"),
            (4, "7, longest 5", "at least the duration"),
            (4, "30000", "14 days"),
            (0, "4", "1 inside the hospital, 2 by road, 3 by air"),
            (1, "x" * 250 + ", y", "200 characters"),
            (1, "", "no answer"),
        ],
    )
    def test_refused_and_asked_again(self, before: int, text: str, told: str) -> None:
        interview = held(ROUTINE[:before])
        asked = interview.question
        with pytest.raises(AnswerError, match=re.escape(told)):
            interview.answer(text)
        assert interview.question is not None
        assert asked is not None
        assert (interview.question.key, interview.question.text) == (asked.key, asked.text)
        for answer in ROUTINE[before:]:
            interview.answer(answer)
        assert interview.text(Path()) == held(ROUTINE).text(Path())

    @pytest.mark.hazard(4)
    def test_a_gauge_in_the_wrong_unit_is_told_at_once(self) -> None:
        # 137 bar is a full UK cylinder; 137 psi is next to nothing.
        remarks = held([*ROUTINE[:7], "US-E 137 psi", ""]).remarks
        assert any(line.startswith("CAUTION: ") and "137 bar" in line for line in remarks)

    def test_an_unusual_setting_is_told_at_once(self) -> None:
        # Cannulas are used to 6 L/min: common practice, therapeutic guidelines tables agree.
        remarks = held(["1", "ward, scanner", "cannula 12", "", "9"]).remarks
        assert any(line.startswith("CAUTION: cannula: flow 12 is outside the usual 0 to 6 L/min") for line in remarks)

    @pytest.mark.hazard(12)
    def test_an_outlet_that_cannot_feed_the_device_is_told_at_once(self) -> None:
        remarks = held(["1", "ward, scanner", "high_flow 50 50 %", "", "9", "US-M 2000 psi", "15 L/min"]).remarks
        assert any(line.startswith("NO-GO: ") for line in remarks)
        assert any("outlet" in line and "A" in line for line in remarks if line.startswith("NO-GO: "))

    @pytest.mark.hazard(6, 7)
    def test_leak_and_driving_gas_are_asked_and_have_no_default(self) -> None:
        start = ["1", "ward, theatre", "gas_vent 450 mL 16/min 60 %"]
        asked = []
        interview = held(start)
        for answer in ("0", "0", "0.5"):
            assert interview.question is not None
            asked.append(interview.question.key)
            assert interview.question.default is None
            interview.answer(answer)
        assert asked == ["bias_flow", "leak", "drive_gas"]

    def test_a_device_that_runs_nowhere_is_not_forgotten(self) -> None:
        interview = held([*ROUTINE[:3], "neb", "", "", "7", "8", "7"])
        assert interview.question is not None
        assert interview.question.key == "part"
        assert interview.question.default == "all"
        for text in ("10 min in leg 4", "10 min", "sometimes", "1 h in leg 1"):
            with pytest.raises(AnswerError):
                interview.answer(text)

    def test_every_device_of_the_list_can_be_settled(self) -> None:
        values = {"flow": "10 L/min", "volume": "450 mL", "rate": "16/min", "fraction": "50 %", "air": "compressor"}
        values["duration"] = "3 h"
        from planner.trade.catalog import settings as known

        for name in built_in():
            interview = held(["1", "ward, theatre", name])
            for _ in range(12):
                assert interview.question is not None
                if interview.question.key == "device":
                    break
                kind = known()[interview.question.key].kind if interview.question.key in known() else ""
                interview.answer("" if interview.question.default else values[kind])
            assert interview.question is not None
            assert interview.question.key == "device", name
            interview.answer("")
            interview.answer("10")
            assert interview.question is not None

    @pytest.mark.hazard(40)
    def test_the_battery_of_what_lives_on_one_is_asked(self) -> None:
        """An answer is due, and nobody who does not know it gets a battery: a concentrator is then a no-go."""
        for device, told in (("concentrator", "stop"), ("vent 450 mL 16/min 60 %", "caution")):
            interview = held(["1", "ward, theatre", device, *(["2", "0"] if told == "caution" else [])])
            assert interview.question is not None
            assert (interview.question.key, interview.question.default) == ("battery", None)
            with pytest.raises(AnswerError):
                interview.answer("long enough")
            for answer in ("0", "", "", "10", "US-E 2000 psi, US-E 2000 psi", "15", "", "2"):
                if interview.question is not None:
                    interview.answer(answer)
            made = plan(parse_trip(interview.text(Path())))
            assert {one.level for one in made.findings if one.code in ("no_battery", "battery_not_said")} == {told}


class TestBack:
    def test_each_answer_can_be_taken_back(self) -> None:
        interview = held(BY_ROAD)
        whole = interview.text(Path())
        for taken in (1, 2, 7, len(BY_ROAD)):
            for _ in range(taken):
                assert interview.back()
            assert interview.question is not None
            for answer in BY_ROAD[-taken:]:
                interview.answer(answer)
            assert interview.text(Path()) == whole

    def test_nothing_is_left_of_an_answer_taken_back(self) -> None:
        interview = held(["1", "ward, scanner, back", "bag"])
        interview.back()
        interview.answer("cannula 4")
        for answer in ROUTINE[3:]:
            interview.answer(answer)
        assert interview.text(Path()) == held(ROUTINE).text(Path())

    def test_there_is_nothing_before_the_first(self) -> None:
        assert not Interview(built_in()).back()


names = st.text(st.characters(blacklist_categories=("Cs", "Cc"), max_codepoint=0x2FFF), min_size=1, max_size=30)


class TestAnyText:
    @given(st.lists(names, min_size=2, max_size=3))
    def test_a_place_of_any_name_survives_or_is_refused(self, found: list[str]) -> None:
        interview = Interview(built_in())
        interview.answer("1")
        try:
            interview.answer(", ".join(found))
        except AnswerError:
            return
        for answer in ("cannula 4", "", *["5"] * 6):
            if interview.question is not None and interview.question.key != "cylinders":
                interview.answer(answer)
        trip = parse_trip(interview.text(Path()))
        assert trip.name == interview.trip_name
        assert all(leg.name for leg in trip.legs)

    @given(st.lists(st.one_of(names, st.sampled_from([*ROUTINE, *BY_ROAD])), max_size=12))
    def test_any_answer_is_taken_or_refused(self, found: list[str]) -> None:
        interview = Interview(built_in())
        for text in found:
            with contextlib.suppress(AnswerError):
                interview.answer(text)
        assert interview.text(Path())


class TestUsualDevices:
    def test_the_built_in_settings_lie_within_the_usual_ranges(self) -> None:
        from planner.text import quantities
        from planner.trade.catalog import settings as known

        for texts in built_in().values():
            kind = device_types()[texts["type"]]
            for key, text in texts.items():
                if key in kind.usual:
                    value = quantities.parse(text, known()[key].kind)
                    assert kind.usual[key].low <= value <= kind.usual[key].high

    def test_a_file_of_the_service(self, tmp_path: Path) -> None:
        path = tmp_path / "devices.yaml"
        path.write_text(
            "devices:\n"
            "  prongs: {type: nasal_cannula, flow: 3 L/min}\n"
            "  vent: {type: ventilator, drive: electric, bias_flow: 2 L/min, leak: 0 L/min, minute_volume: 8 L/min,"
            " fio2: 50 %, if_it_fails: bag}\n"
            "  bag: {type: manual_resuscitator, flow: 12 L/min}\n",
            encoding="utf-8",
        )
        interview = Interview(read_usual(path))
        for answer in ("1", "ward, theatre", "vent", "", "4 h", ""):
            interview.answer(answer)
        text = interview.text(Path())
        assert "    minute_volume: 8 L/min" in text
        assert "    battery: 4 h" in text
        assert "    flow: 12 L/min" in text

    def test_names_of_two_words_and_settings_that_may_rise(self, tmp_path: Path) -> None:
        path = tmp_path / "devices.yaml"
        path.write_text(
            "devices:\n"
            "  nasal prongs: {type: nasal_cannula, flow: 3 L/min, may_rise_to: big mask}\n"
            "  big mask: {type: simple_mask}\n",
            encoding="utf-8",
        )
        interview = Interview(read_usual(path))
        for answer in ("1", "ward, theatre", "nasal prongs 2", "8", "", "10"):
            interview.answer(answer)
        trip = parse_trip(interview.text(Path()))
        assert trip.devices["nasal prongs"].may_rise_to == "big mask"
        assert [use.device.name for use in trip.legs[0].uses] == ["nasal prongs"]
        assert "draws nothing unless nasal prongs has to rise" in interview.text(Path())

    def test_a_trip_profile_will_do(self) -> None:
        assert list(read_usual(PROFILES / "ventilated-by-road.yaml")) == ["vent", "bag"]

    def test_faults_of_the_file_are_told_with_their_place(self, tmp_path: Path) -> None:
        path = tmp_path / "devices.yaml"
        path.write_text(
            "devices:\n  vent: {type: ventilator, fio2: 60}\n  x: {flow: 3 L/min}\nhoses: 2\n", encoding="utf-8"
        )
        with pytest.raises(ProblemsError) as raised:
            read_usual(path)
        told = [(problem.line, problem.column, problem.code) for problem in raised.value.problems]
        assert told == [(2, 34, "unit_missing"), (3, 3, "key_missing"), (4, 1, "key_unknown")]


@pytest.mark.hazard(19)
@pytest.mark.parametrize("label", ["AIR", "air 2", "Medical air"])
def test_a_cylinder_labelled_air_is_never_one_of_oxygen(label: str) -> None:
    answers = ["1", "ward, scanner", "cannula 4", "", "7"]
    interview = held(answers)
    with pytest.raises(AnswerError, match="labelled"):
        interview.answer(f"US-E 1500 psi, {label}: US-E 1900 psi")
    interview.answer("US-E 1500 psi, Airway trolley: US-E 1900 psi")
