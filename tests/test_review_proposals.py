"""What a review proposes: the figures by hand, the policy file that `plan` reads, lines that a profile takes."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result

from planner.afterwards.review import history
from planner.afterwards.review.propose import propose
from planner.afterwards.review.review import Review, review
from planner.command.cli import main
from planner.report.review.proposals import policy_text, proposal_texts

PROFILE = """profile: 1
trip: Ward to scanner and back
setting: in_house
{policy}
supplies:
  cart: {{cylinders: [{{label: A, size: US-E, gauge: 2000 psi}}, {{label: B, size: US-E, gauge: 2000 psi}}]}}
devices:
  mask: {{type: simple_mask, {flow}}}
legs:
{leg}
    supply: cart
    devices: [mask]
"""
LEG = "  - name: there\n    duration: 10 min\n"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments), standalone_mode=False)


def rows(
    trips: int,
    *,
    share: float = 1.0,
    most: float = 1.0,
    setting: str = "in_house",
    ran_out: int = 0,
    minutes: float = 12.0,
    start: int = 0,
) -> list[str]:
    """Trips that all used `share` of 6 L/min planned, the supply `most` of 300 L, and took so long for 12 min."""
    lines: list[dict[str, Any]] = []
    for number in range(start, start + trips):
        head = {"history": 1, "trip": f"{setting}{number}"}
        supply = {"planned_l": 300.0, "required_l": 450.0, "used_l": 300.0 * most, "doubt_l": 0.0}
        lines += [
            {**head, "kind": "trip", "closed": "2026-12-03", "setting": setting, "ran_out": number - start < ran_out}
            | {"supplies": {"cart": supply}},
            {**head, "kind": "flow", "type": "simple_mask", "settings": "flow 6 L/min", "device": "other", "label": "A"}
            | {"planned_l": 100.0, "used_l": 100.0 * share, "doubt_l": 5.0, "min": 10.0},
            {**head, "kind": "time", "leg": "there", "by": "foot", "planned_min": 12.0, "min": minutes},
            {**head, "kind": "time", "wait": 'the "old" lift', "planned_min": 5.0, "min": minutes / 2.0},
        ]
    return [json.dumps(line) + "\n" for line in lines]


def reviewed(*parts: list[str]) -> Review:
    return review(history.read([("history.jsonl", [line for part in parts for line in part])]))


def test_more_is_proposed_from_59_trips_on() -> None:
    """59 trips at 7.8 of 6 L/min, and 15.6 of 12 min: 1.3 times; half of it on the lift is 7.8 of 5 min, 1.56 times."""
    found = propose(reviewed(rows(59, share=1.3, minutes=15.6)))
    assert [(one.group.leg, one.minutes) for one in found.times] == [(None, 8), ("there", 16)]  # 7.8 and 15.6, up
    assert [(one.planned_l_per_min, one.flow_l_per_min) for one in found.flows] == [(6.0, 7.8)]
    few = propose(reviewed(rows(58, share=1.3, minutes=15.6)))
    assert (few.times, few.flows, few.any) == ((), (), False)


@pytest.mark.hazard(26)
def test_nothing_shorter_and_no_lower_flow_is_proposed() -> None:
    assert not propose(reviewed(rows(298, share=0.7, most=0.7, minutes=9.0))).any


@pytest.mark.hazard(26)
@pytest.mark.parametrize(
    ("trips", "most", "factor"),
    [(298, 1.2, None), (299, 1.2, 1.2), (298, 1.8, None), (299, 1.8, 1.8), (299, 1.5, None), (299, 0.4, 1.0)],
)
def test_a_reserve_is_proposed_with_299_trips_and_never_below_the_plan(
    trips: int, most: float, factor: float | None
) -> None:
    assert propose(reviewed(rows(trips, most=most))).reserve.factor == factor


@pytest.mark.hazard(26)
def test_every_setting_needs_its_own_trips_before_less_is_proposed() -> None:
    """Ten trips by air among 900 are no ground to carry less by air; a limit above the default is told all the same."""
    easy, air = rows(900, most=1.1), rows(10, most=1.1, setting="air")
    assert propose(reviewed(easy)).reserve.factor == 1.1
    assert propose(reviewed(easy, air)).reserve.factor is None
    assert propose(reviewed(rows(300, most=1.7), air)).reserve.factor == 1.7


@pytest.mark.hazard(26)
def test_trips_that_ran_out_leave_no_limit_and_a_warning() -> None:
    found = reviewed(rows(299, most=1.1, ran_out=1))
    assert propose(found).reserve.factor is None
    assert any("Do not lower the reserve" in text for text in proposal_texts(found))


@pytest.mark.hazard(26)
def test_while_a_flow_has_grown_no_lower_reserve_is_proposed() -> None:
    found = reviewed(rows(300, most=1.1), rows(60, most=1.1, share=1.4, minutes=18.0, start=300))
    assert found.changed
    assert propose(found).reserve.factor is None
    assert any("A flow has CHANGED" in text for text in proposal_texts(found))
    assert any("It has CHANGED since 2026-12-03" in text for text in proposal_texts(found))


@pytest.mark.hazard(26)
def test_a_proposal_below_the_default_says_what_it_means() -> None:
    (text,) = (text for text in proposal_texts(reviewed(rows(299, most=1.2))) if "reserve_factor" in text)
    assert "reserve_factor 1.2 is LESS than the default of 1.5: less oxygen is carried" in text
    assert "one in a hundred may use more" in text


@pytest.mark.hazard(26)
def test_a_factor_of_1_is_said_to_keep_no_reserve() -> None:
    assert any("keeps no reserve at all beyond that by time" in text for text in proposal_texts(reviewed(rows(299))))
    assert not any("keeps no reserve" in text for text in proposal_texts(reviewed(rows(299, most=1.01))))


def test_a_way_of_moving_that_no_profile_knows_stands_in_no_line() -> None:
    """A history of another hand says `on a sledge`: the line for the leg leaves that out."""
    lines = [line.replace('"foot"', '"on a sledge"') for line in rows(59, minutes=20.0)]
    text = policy_text(reviewed(lines)) or ""
    assert '\n# - name: "there"\n#   duration: 12 min\n#   longest: 20 min\n' in text


def test_a_limit_of_95_above_the_default_is_told_before_299_trips() -> None:
    """140 trips all at 1.6 times planned: the 95/95 limit is 1.6."""
    words = " ".join(proposal_texts(reviewed(rows(140, most=1.6))))
    assert "95 of 100 of these trips use at most 1.60 times the litres planned, more than the default factor" in words
    assert "do not lower it" in words


def written(tmp_path: Path, lines: list[str], *more: str) -> tuple[Result, Path]:
    (tmp_path / "history.jsonl").write_text("".join(lines), encoding="utf-8")
    policy = tmp_path / "policy.yaml"
    return run("review", str(tmp_path / "history.jsonl"), "--propose", str(policy), *more), policy


def planned(tmp_path: Path, **parts: str) -> tuple[int, dict[str, Any]]:
    file = tmp_path / "trip.yaml"
    file.write_text(PROFILE.format(**{"policy": "", "flow": "flow: 6 L/min", "leg": LEG.rstrip()} | parts))
    result = run("plan", str(file), "--format", "json")
    return result.return_value, json.loads(result.stdout)


def test_the_policy_that_is_written_is_one_that_plan_reads(tmp_path: Path) -> None:
    result, policy = written(tmp_path, rows(299, share=1.3, most=1.8))
    assert result.return_value == 0
    text = policy.read_text(encoding="utf-8")
    assert text.startswith("# PROPOSED by transport-oxygen")
    assert re.search(r"^# Signed \(name\): _+   Date: _+$", text, re.MULTILINE)
    assert yaml.safe_load(text)["reserve_factor"] == 1.8
    before = text[: text.index("reserve_factor: 1.8")]
    assert "99 of 100 trips use at most 1.80 times the litres planned" in before.replace("\n# ", " ")
    # 60 min x 6 L/min = 360 L; by the factor 0.8 x 360 = 288 L on top, more than 30 min x 6 L/min = 180 L by time.
    long = "  - name: there\n    duration: 60 min"
    code, plan = planned(tmp_path, policy="policy: policy.yaml", leg=long)
    assert code in (0, 3)
    assert plan["supplies"]["cart"]["reserve_l"] == pytest.approx(0.8 * 360.0)
    assert max(len(line) for line in text.splitlines()) <= 100


def test_the_lines_for_profiles_are_ones_that_a_profile_takes(tmp_path: Path) -> None:
    _, policy = written(tmp_path, rows(299, share=1.3, most=1.8, minutes=15.6))
    lines = policy.read_text(encoding="utf-8").split("# LINES FOR PROFILES")[1].splitlines()
    taken = [line[2:] for line in lines if line.startswith("# ")]
    blocks = [block.strip("\n") for block in re.split(r"\n(?=delays:|- name:|type:)", "\n".join(taken))]
    (wait,) = (block for block in blocks if block.startswith("delays:"))
    (leg,) = (block for block in blocks if block.startswith("- name:"))
    (flow,) = (block for block in blocks if block.startswith("type:"))
    assert yaml.safe_load(wait) == {"delays": [{"reason": 'the "old" lift', "time": "8 min"}]}
    assert yaml.safe_load(leg) == [{"name": "there", "by": "foot", "duration": "12 min", "longest": "16 min"}]
    assert flow.splitlines() == ["type: simple_mask", "flow: 7.8 L/min"]
    whole = "\n".join(f"  {line}" for line in leg.splitlines()) + "\n"
    whole += "\n".join(f"    {line}" for line in wait.splitlines())
    code, plan = planned(tmp_path, leg=whole, flow=flow.splitlines()[1])
    assert code in (0, 3)
    assert plan["supplies"]["cart"]["planned_l"] == pytest.approx((12.0 + 8.0) * 7.8)
    assert any(row["name"] == "longest_times" for row in plan["whatifs"])


def test_a_file_that_is_there_is_not_written_over_unless_told(tmp_path: Path) -> None:
    policy = tmp_path / "policy.yaml"
    policy.write_text("name: ours\n")
    (tmp_path / "history.jsonl").write_text("".join(rows(59, minutes=20.0)))
    arguments = ["review", str(tmp_path / "history.jsonl"), "--propose", str(policy)]
    refused = CliRunner().invoke(main, arguments)
    assert (refused.exit_code, policy.read_text()) == (2, "name: ours\n")
    assert "exists already. Fix: give another name, or --force" in refused.stderr
    assert run(*arguments, "--force").return_value == 0
    assert "NOT SIGNED" in policy.read_text()


def test_where_nothing_is_proposed_no_file_is_written(tmp_path: Path) -> None:
    result, policy = written(tmp_path, rows(3))
    assert (result.return_value, policy.exists()) == (0, False)
    assert "Nothing is proposed yet" in result.stderr


def test_a_file_that_cannot_be_written_ends_in_words(tmp_path: Path) -> None:
    (tmp_path / "history.jsonl").write_text("".join(rows(59, minutes=20.0)))
    result = run("review", str(tmp_path / "history.jsonl"), "--propose", str(tmp_path / "none" / "policy.yaml"))
    assert result.return_value == 2
    assert "cannot be written" in result.stderr


def test_names_cannot_leave_their_comment(tmp_path: Path) -> None:
    """A leg that holds line breaks of every kind stays on one line, and the file one that YAML reads."""
    evil = "x\nreserve_factor: 1\u2028must_hold: []\u0085# y"
    lines = [line.replace('"there"', json.dumps(evil)) for line in rows(59, minutes=20.0)]
    _, policy = written(tmp_path, lines)
    assert set(yaml.safe_load(policy.read_text(encoding="utf-8"))) == {"name"}
    assert policy_text(reviewed(lines)) == policy.read_text(encoding="utf-8")
