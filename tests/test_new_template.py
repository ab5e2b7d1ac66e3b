"""Values changed in the text of a profile: every other letter stays."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from planner.new_trip.template import edited, paths_kept, without_decisions
from planner.problems import ProblemsError
from planner.text.node import Node
from planner.text.source import apply_changes, loads

ROOT = Path(__file__).resolve().parents[1]
PROFILES = ROOT / "profiles"


WARD = (PROFILES / "ward-to-scan.yaml").read_text(encoding="utf-8")


def lines_changed(old: str, new: str) -> list[tuple[str, str]]:
    """The lines that differ, of two texts with as many lines."""
    assert len(old.splitlines()) == len(new.splitlines())
    pairs = zip(old.splitlines(), new.splitlines(), strict=True)
    return [(one, other) for one, other in pairs if one != other]


def scalars(node: Node, path: str = "") -> Iterator[tuple[str, Node]]:
    """Every value of a profile that is one, with its path."""
    if node.kind == "map":
        for key, value in node.pairs:
            yield from scalars(value, f"{path}.{key.text}" if path else key.text)
    elif node.kind == "list":
        for place, item in enumerate(node.items, 1):
            yield from scalars(item, f"{path}[{place}]")
    else:
        yield path, node


def some(found: Iterable[tuple[str, Node]], *, every: bool) -> list[tuple[str, Node]]:
    """A value of each name and form, such as the first gauge of a list of cylinders; with `every` all of them."""
    pairs = list(found)
    kinds = {re.sub(r"\[\d+\]", "[]", place): (place, node) for place, node in reversed(pairs)}
    return pairs if every else [*kinds.values()]


@pytest.fixture
def every(pytestconfig: pytest.Config) -> bool:
    return bool(pytestconfig.getoption("long"))


def plain(node: Node) -> object:
    """A node as Python would hold it, all values as text."""
    if node.kind == "map":
        return {key.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


ALL = sorted(
    [*PROFILES.glob("*.yaml"), *(ROOT / "demo").glob("*.yaml"), *(ROOT / "tests/profiles/good").glob("*.yaml")]
)
TRIPS = [path for path in ALL if not path.stem.endswith(".figures")]
FEW = [path for path in TRIPS if path.parent.name != "good"]


class TestTemplate:
    def test_only_the_value_changes(self) -> None:
        new = edited(WARD, ["legs[2].duration=40 min"])
        assert lines_changed(WARD, new) == [("    duration: 8 min", "    duration: 40 min")]

    def test_a_comment_on_the_line_stays(self) -> None:
        text = (PROFILES / "ventilated-by-road.yaml").read_text(encoding="utf-8")
        new = edited(text, ["legs[3].longest=90 min", "reference=T-2"])
        assert lines_changed(text, new) == [
            (
                "reference: T-1001               # the service's own number, never a patient's name",
                "reference: T-2               # the service's own number, never a patient's name",
            ),
            (
                "    longest: 80 min             # in the evening traffic",
                "    longest: 90 min             # in the evening traffic",
            ),
        ]

    @pytest.mark.parametrize(
        ("change", "line"),
        [
            (
                "trolley.A.magnet_safe=true",
                "      - {label: A, size: US-E, gauge: 1500 psi, outlets: [{flowmeter: 15 L/min}], magnet_safe: true}",
            ),
            ("legs[1].devices[1].flow=6 L/min", "    devices: [{use: cannula, flow: 6 L/min}]"),
            ("legs[3].longest=10 min", "    longest: 10 min"),
            ("policy.reserve_time=45 min", "policy: {reserve_time: 45 min}"),
            ("departs=2026-12-03 14:20", "departs: 2026-12-03 14:20"),
            ("trip=Ward: bed 3", 'trip: "Ward: bed 3"'),
            ('trip="no"', 'trip: "no"'),
            (
                "trolley.cylinders=[{label: B, size: US-E, gauge: 2000 psi}]",
                "      [{label: B, size: US-E, gauge: 2000 psi}]",
            ),
            ("devices.cannula={type: simple_mask, flow: 6 L/min}", "    {type: simple_mask, flow: 6 L/min}"),
        ],
    )
    def test_a_value_goes_where_it_belongs(self, change: str, line: str) -> None:
        new = edited(WARD, [change])
        assert line in new.splitlines()
        assert plain(loads(new).root) == plain(apply_changes(loads(WARD).root, [change]))
        assert new.splitlines()[1].startswith("# From the ward to a scan and back")

    @pytest.mark.parametrize("path", FEW, ids=lambda path: path.stem)
    def test_a_value_set_to_itself_changes_no_letter(self, path: Path, every: bool) -> None:
        text = path.read_text(encoding="utf-8")
        for place, node in some(scalars(loads(text).root), every=every):
            assert edited(text, [f"{place}={node.text}"]) == text, place

    @pytest.mark.longer("path", FEW, TRIPS)
    def test_a_value_set_to_another_changes_that_alone(self, path: Path, every: bool) -> None:
        text = path.read_text(encoding="utf-8")
        root = loads(text).root
        for place, _ in some(scalars(root), every=every):
            new = edited(text, [f"{place}=123 min"])
            ((_, line),) = lines_changed(text, new)
            assert "123 min" in line
            assert plain(loads(new).root) == plain(apply_changes(root, [f"{place}=123 min"]))

    @pytest.mark.parametrize("path", FEW, ids=lambda path: path.stem)
    def test_a_key_added_to_any_map_stands_in_it(self, path: Path) -> None:
        text = path.read_text(encoding="utf-8")
        root = loads(text).root
        for place in {place.rpartition(".")[0] for place, _ in scalars(root) if not place.endswith("]")} - {""}:
            new = edited(text, [f"{place}.added=123 min"])
            assert plain(loads(new).root) == plain(apply_changes(root, [f"{place}.added=123 min"]))
            assert {*text.splitlines()} - {*new.splitlines()} <= {line for line in text.splitlines() if "{" in line}

    def test_line_ends_of_windows_stay(self) -> None:
        text = WARD.replace("\n", "\r\n")
        new = edited(text, ["legs[2].longest=20 min", "legs[2].duration=9 min"])
        assert new.count("\n") == new.count("\r\n") == text.count("\n") + 1

    def test_quotes_of_both_kinds_are_replaced_whole(self) -> None:
        text = WARD.replace("trip: Ward to scan and back", "trip: 'it''s # a ward'  # why").replace(
            "name: In the scanner", 'name: "a \\" b"'
        )
        new = edited(text, ["trip=x", "legs[2].name=y"])
        assert "trip: x  # why\n" in new
        assert "- name: y\n" in new

    def test_a_key_without_a_value_gets_one(self) -> None:
        text = WARD.replace("setting: in_house", "reference:   # none yet\nsetting: in_house")
        assert "reference: T-1   # none yet\n" in edited(text, ["reference=T-1"])

    @pytest.mark.parametrize(
        "text",
        [
            WARD.replace("trip: Ward to scan and back", "trip: >\n  folded\n  text"),
            WARD.replace("trip: Ward to scan and back", "trip: Ward to\n  scan and back"),
            WARD.replace("duration: 7 min", "duration: &t 7 min", 1)
            .replace("duration: 8 min", "duration: *t")
            .replace("trip: Ward to scan and back", "trip: &n x"),
        ],
        ids=["folded", "two lines", "anchor"],
    )
    def test_a_place_that_cannot_be_edited_is_refused_and_never_guessed(self, text: str) -> None:
        with pytest.raises(ProblemsError) as raised:
            edited(text, ["trip=y"])
        (problem,) = raised.value.problems
        assert problem.code == "not_in_place"
        assert problem.file == "--set trip"

    def test_a_value_behind_an_alias_is_not_changed_in_two_places(self) -> None:
        text = WARD.replace("duration: 7 min", "duration: &t 7 min", 1).replace("duration: 8 min", "duration: *t")
        with pytest.raises(ProblemsError):
            edited(text, ["legs[2].duration=9 min"])

    def test_every_wrong_change_is_told_at_once(self) -> None:
        with pytest.raises(ProblemsError) as raised:
            edited(WARD, ["legs[9].duration=1 min", "gone.A.gauge=1 psi"])
        assert len(raised.value.problems) == 2

    def test_paths_are_kept_in_reach(self, tmp_path: Path) -> None:
        root = loads((PROFILES / "from-the-store.yaml").read_text(encoding="utf-8")).root
        assert paths_kept(root, PROFILES, PROFILES) == []
        ((change),) = paths_kept(root, PROFILES, tmp_path)
        name, _, path = change.partition("=")
        assert name == "supplies.cart.store"
        assert (tmp_path / path).resolve() == PROFILES / "stores" / "cart-room.yaml"


DECIDED = (
    WARD.rstrip("\n")
    + """
accepted:
  # asked by telephone
  - {what: reserve, supply: trolley, at_most: 30 L, by: attending physician, why: short way}
# the last line is the profile's own
reference: T-7
"""
)


def test_a_decision_is_not_taken_over_to_another_trip() -> None:
    """What a clinician accepted for one trip is left out of the next; every other line stays as it was."""
    left = without_decisions(DECIDED)
    assert "accepted" not in left
    assert "attending physician" not in left
    assert left.rstrip("\n").endswith("# the last line is the profile's own\nreference: T-7")
    assert left.startswith(WARD.rstrip("\n"))
    assert without_decisions(WARD) == WARD
    last = WARD.rstrip("\n") + "\naccepted: [{what: spare, supply: trolley, by: physician,\n  why: short}]\n"
    assert without_decisions(last) == WARD.rstrip("\n") + "\n"


def test_decisions_that_cannot_be_taken_out_alone_are_refused() -> None:
    with pytest.raises(ProblemsError) as raised:
        without_decisions("{profile: 1, trip: x, accepted: [], setting: road}\n")
    assert raised.value.problems[0].code == "not_editable"
